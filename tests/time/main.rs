//! What moves: the beat, settings, hands, footage, and moving pictures that are written.

mod automation;
mod beat;
mod footage;
mod hands;
mod moving;
