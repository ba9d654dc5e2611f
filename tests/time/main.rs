//! What moves: the beat, settings, hands, footage, and moving pictures that are written.

#[path = "../common/shared.rs"]
mod shared;

mod automation;
mod beat;
mod counted;
mod footage;
mod grips;
mod hands;
mod moving;
