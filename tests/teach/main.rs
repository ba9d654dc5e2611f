//! Lessons.

mod lessons;
