//! Effects of a person's own, put to the test before anything relies on them.
//!
//! [`tried`] renders small pictures and looks whether an effect does what its header declares. As a shader may
//! run away, and a software adapter cannot be stopped while it works, [`Trials`] has that done by a process of its
//! own, which is ended when it takes too long or too much memory. What was found is kept by the effect's whole text and the adapter.

mod own;
mod probes;
mod process;
mod run;

use serde::{Deserialize, Serialize};

pub use own::{OwnEffects, troubles};
pub use process::{MEMORY_MIB, Task, Trials, work_off};
pub use run::tried;

/// A picture of the demo's size that takes longer than this is told, in milliseconds.
pub const SLOW_MS: f64 = 1000.0;
/// An effect of which a picture takes longer than this is not used, in milliseconds.
pub const TOO_SLOW_MS: f64 = 60_000.0;

/// What a trial has found of one effect.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Tried {
    /// Claims that held, as the header has them.
    pub confirmed: Vec<String>,
    /// Claims that did not: file, line, what was claimed and what was seen.
    pub refuted: Vec<String>,
    /// Pictures rendered.
    pub pictures: usize,
    /// Milliseconds that a picture of 1280x720 takes at the defaults, and at the settings that cost the most of
    /// those tried.
    pub cost_ms: [f64; 2],
    /// The adapter that it was tried on.
    pub adapter: String,
}

/// How a trial ended.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// It ran to its end.
    Tried(Tried),
    /// It was stopped, or brought the process down: the effect must not be used.
    Stopped(String),
    /// It could not be tried; nothing is known.
    Untried(String),
}
