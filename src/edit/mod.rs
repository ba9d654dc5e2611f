//! Editing: changes to a show as values, the work they change, and the steps that can be undone.
//!
//! Nothing here knows of a window: a panel gives an [`Edit`], the [`Work`] takes it.

mod bring;
mod change;
mod history;
mod pins;
mod put;
mod recent;
mod recovery;
mod time;
mod work;

pub use bring::Bring;
pub(crate) use change::usable_name;
pub use change::{Edit, EditError, Named, Spot};
pub use history::{History, Step};
pub use pins::{Pin, Pins};
pub use put::{Put, Way};
pub use recent::RecentFiles;
pub use recovery::{Recovered, Recovery, RecoveryError};
pub use time::TimeEdit;
pub use work::{Form, Work, WorkError};
