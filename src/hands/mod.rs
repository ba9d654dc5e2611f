//! Hands on: at most eight controls, what each holds, and where they stand.

mod control;
mod cue;
mod map;
mod midi;
mod play;
mod sheet;

pub use control::{Control, ControlError, ControlKind, Curve, Grip, Hand, Key, MOST_CONTROLS, check};
pub use cue::{Clash, Cue, clashes};
pub use map::{Address, Map, MapControl, Moved, missing_controls};
pub use midi::Listener;
pub use play::Hands;
pub use sheet::svg;
