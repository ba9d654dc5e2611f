//! The window: the path, the picture, the wall of orders, the settings.
//!
//! Panels draw what a [`Scene`] gives them and ask for [`Action`]s; the
//! [`Desk`] does what was asked for. Nothing but [`run`] knows of a display.

mod action;
mod app;
mod arrangement;
mod basis;
mod desk;
mod keys;
mod lesson_room;
mod offscreen;
mod pace;
mod packs;
mod paint;
mod panels;
mod pictures;
mod playing;
mod preferences;
mod scene;
mod second_window;
mod sections;
mod seeking;
mod shelves;
mod showing;
mod theme;
mod threads;
mod view;
mod widgets;

pub use action::{Action, Dialog, Pin, Saving};
pub use app::{WindowError, run};
pub use arrangement::{Edge, PanelSizes};
pub use basis::{Basis, On};
pub use desk::{Desk, Folders, Next, SecondPicture};
pub use keys::{COMMANDS, Clip, Command, Needs, Reach, Stroke, is_heard_elsewhere};
pub use lesson_room::{LessonAct, LessonRoom, Offered};
pub use offscreen::Offscreen;
pub use pictures::Pictures;
pub use playing::{HandAct, HandsSeen, Playing};
pub use preferences::{PREFERENCES, Preferences, PreferencesError, ThemeChoice};
pub use scene::Scene;
pub use sections::{InSection, Played, SectionAct, SectionsSeen};
pub use seeking::{FindAct, FoundList, FoundSeen, Seeking};
pub use shelves::{LibraryAct, List, Shelves, ShowFrom};
pub use showing::{Comparing, FoundRow, Pair, Preview, Row, Shown, Side, Tab, Tried, WallBy};
pub use theme::dress;
pub use threads::export::{Export, ExportError, Exported, OnTheWay};
pub use threads::find::{FindQuestion, FoundChain, Searching};
pub use threads::flash::Flashes;
pub use threads::own_effects::EffectsWatcher;
pub use threads::prover::{
    Candidate, FamilyLeft, Gathered, Known, Look, Matters, OnPieces, PairMark, Prover, StandsFor,
};
pub use threads::thumbnails::Thumbnails;
pub use view::View;
