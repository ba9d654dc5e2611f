//! The beat clock: from frame numbers, a frame rate and a tempo to beats, exactly.
//!
//! Nothing is summed up from frame to frame: a frame number is turned into beats by one multiplication
//! of whole-number fractions, so that the millionth frame is as right as the first.

mod beats;
mod moment;
mod rate;
mod tap;
mod transport;

pub use beats::{Beats, TEMPO_BPM};
pub use moment::Moment;
pub use rate::{FrameRate, RateError};
pub use tap::Tap;
pub use transport::Transport;
