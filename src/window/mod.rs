//! The window: the path, the picture, the wall of orders, the settings.
//!
//! Panels draw what a [`Scene`] gives them and ask for [`Action`]s; the
//! [`Desk`] does what was asked for. Nothing but [`run`] knows of a display.

mod app;
mod automation;
mod bar;
mod desk;
mod export;
mod fields;
mod flash;
mod hands;
mod keys;
mod lessons;
mod library;
mod offscreen;
mod other_show;
mod own_effects;
mod pace;
mod paint;
mod picture;
mod pictures;
mod play;
mod preferences;
mod prover;
mod ribbon;
mod settings;
mod sheets;
mod shelves;
mod swaps;
mod theme;
mod thumbnails;
mod view;
mod wall;
mod widgets;
mod worker;

pub use app::{WindowError, run};
pub use desk::{Desk, Folders, Next, Scene};
pub use export::{Export, ExportError, Exported, OnTheWay};
pub use flash::Flashes;
pub use hands::{HandAct, HandsSeen, Playing};
pub use keys::KEYS;
pub use lessons::{LessonAct, LessonRoom, Offered};
pub use offscreen::Offscreen;
pub use own_effects::EffectsWatcher;
pub use pictures::Pictures;
pub use preferences::{Preferences, PreferencesError, ThemeChoice};
pub use prover::{Candidate, Gathered, Known, Look, PairMark, Prover};
pub use shelves::{LibraryAct, List, Shelves, Source};
pub use theme::dress;
pub use thumbnails::Thumbnails;
pub use view::{Action, Comparing, Dialog, Pair, Pin, Row, Saving, Shown, Tab, View, WallBy};
