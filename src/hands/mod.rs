//! Hands on: at most eight controls, what each holds, and where they stand.

mod control;
mod cue;
mod midi;
mod play;

pub use control::{Control, ControlError, ControlKind, Curve, Grip, Hand, Key, MOST_CONTROLS, check};
pub use cue::{Clash, Cue, clashes};
pub use midi::Listener;
pub use play::Hands;
