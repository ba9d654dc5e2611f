//! Lessons: a question about a few pictures, an answer that follows from what is rendered.
//!
//! A lesson's pictures are variations of one show. Its claims say what holds of them; every choice rests on a
//! claim, and the right choice is the one whose claim holds. [`Examiner`] renders and decides each claim.

mod answers;
mod claim;
mod examiner;
mod file;
mod keys;
mod shelf;

use std::sync::Arc;

pub use answers::Answers;
pub use claim::{Claim, ClaimKind, Inside};
pub use examiner::{Examined, Examiner, LessonError};
pub use file::{parse_lesson, read_lesson};
pub use keys::LESSON;
pub use shelf::{FOLDER, Found, Lessons};

use crate::base::frame::Frame;
use crate::base::words::words;
use crate::beat::Moment;
use crate::show::{Scope, Show};

/// The largest frame on which a lesson's pictures are rendered: what is claimed is claimed at this size.
pub const LARGEST_FRAME: Frame = Frame { width: 640, height: 360 };

/// A lesson, as a lesson file holds it.
#[derive(Debug, Clone, PartialEq)]
pub struct Lesson {
    /// The file's name without its ending: what a command calls it.
    pub name: String,
    /// What it is about, in a few words.
    pub title: String,
    /// One or two short paragraphs before the question.
    pub about: Vec<String>,
    /// Everything that it shows, each under a name of its own.
    pub pictures: Vec<LessonPicture>,
    /// What is to be predicted.
    pub question: String,
    /// Two to four answers, exactly one of them right.
    pub choices: Vec<Choice>,
    /// What holds of the pictures, and what does not.
    pub claims: Vec<Claim>,
    /// One or two short paragraphs after the answer.
    pub because: Vec<String>,
    /// The one thing to keep.
    pub remember: String,
    /// What to do in the window next.
    pub next: Next,
}

/// One picture of a lesson: the lesson's show, with one change.
#[derive(Debug, Clone, PartialEq)]
pub struct LessonPicture {
    /// What claims call it.
    pub name: String,
    /// What stands under it.
    pub says: String,
    pub shown: When,
    /// The show that it is the output of.
    pub show: Arc<Show>,
    /// The scope whose chain it is about.
    pub scope: Scope,
    /// Where the beat stands.
    pub beats: f64,
}

words! {
    /// When a picture is shown.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub enum When {
        /// With the answer.
        Answer = "answer",
        /// With the question.
        Question = "question",
        /// Only where a choice shows it, or not at all: a claim needs it.
        Never = "never",
    }
}

/// One of the answers.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// The answer, in words.
    pub says: String,
    /// The picture on it, by its place in the lesson.
    pub picture: Option<usize>,
    /// The claim that it rests on, by its place in the lesson.
    pub claim: usize,
}

/// What to do next.
#[derive(Debug, Clone, PartialEq)]
pub struct Next {
    /// What to try, in words.
    pub says: String,
    /// The picture whose show is opened for it, by its place.
    pub picture: usize,
}

impl Lesson {
    /// The place of the right choice: the one whose claim holds.
    pub fn answer(&self) -> usize {
        let holds = |choice: &Choice| self.claims[choice.claim].holds;
        self.choices.iter().position(holds).unwrap_or(0)
    }

    /// The picture's place, by its name.
    pub fn picture(&self, name: &str) -> Option<usize> {
        self.pictures.iter().position(|picture| picture.name == name)
    }

    /// The places of the pictures that are shown then.
    pub fn shown(&self, when: When) -> impl Iterator<Item = usize> + '_ {
        (0..self.pictures.len()).filter(move |&at| self.pictures[at].shown == when)
    }
}

impl LessonPicture {
    /// The moment that it is rendered at.
    pub fn moment(&self) -> Moment {
        Moment::at(self.show.frame.within(LARGEST_FRAME), self.show.pixels, self.show.tempo_bpm, self.beats)
    }

    /// The order of the global chain, through which every output comes.
    pub fn order(&self) -> Vec<usize> {
        (0..self.show.global.len()).collect()
    }
}
