//! Editing: changes to a show as values, the work they change, and the steps that can be undone.
//!
//! Nothing here knows of a window: a panel gives an [`Edit`], the [`Work`] takes it.

mod about;
mod bring;
mod brought;
mod change;
mod clip;
mod controls;
mod error;
mod follow;
mod history;
mod names;
mod pack;
mod pins;
mod put;
mod recent;
mod recovery;
mod sections;
mod several;
mod spot;
mod structure;
mod time;
mod work;

pub use about::About;
pub use bring::Bring;
pub use brought::{clip_address, content_of_clip};
pub use change::{Edit, Named};
pub use clip::ClipEdit;
pub use error::EditError;
pub use follow::followed;
pub use history::{History, HistoryStep};
pub use pack::{Link, Pack, Packed};
pub use pins::{Pin, Pins};
pub use put::{Put, Way};
pub use recent::RecentFiles;
pub use recovery::{Recovered, Recovery, RecoveryError};
pub use sections::{SectionEdit, Shows};
pub use several::{Carry, Deed, Paste, Several};
pub use spot::Spot;
pub use structure::{StructureEdit, level_orders};
pub use time::TimeEdit;
pub use work::{Form, Work, WorkError};
