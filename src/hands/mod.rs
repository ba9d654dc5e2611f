//! Hands on: at most eight controls, what each holds, and where they stand.

mod device;
mod map;
mod midi;
mod paper;
mod play;
mod recorder;
mod sheet;
mod strip;

pub use map::{
    Address, Map, MapControl, MapPlay, MapSection, Moved, Neighbours, missing_controls, neighbours,
};
pub use midi::Listener;
pub use play::Hands;
pub use recorder::{Division, Recorded, Recorder, joined};
pub use sheet::svg;
