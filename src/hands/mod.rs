//! Hands on: at most eight controls, what each holds, and where they stand.

mod map;
mod midi;
mod play;
mod sheet;

pub use map::{Address, Map, MapControl, Moved, missing_controls};
pub use midi::Listener;
pub use play::Hands;
pub use sheet::svg;
