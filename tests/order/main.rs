//! What order does: proofs, classes, figures, flashes, and the wall.

#[path = "../common/mod.rs"]
mod common;

mod commuting;
mod families;
mod find;
mod flashes;
mod measure;
mod orders;
mod over_time;
mod pieces;
mod sampled;
mod wall;
