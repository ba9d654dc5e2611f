//! Lessons.

#[path = "../common/shared.rs"]
mod shared;

mod lessons;
