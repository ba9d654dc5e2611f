//! The window, driven without a display.

#[path = "../common/driving.rs"]
mod driving;

mod desk;
mod effects;
mod families;
mod fields;
mod files;
mod keys;
mod lessons;
mod library;
mod names;
mod orders;
mod snapshots;
mod time;
mod values;
