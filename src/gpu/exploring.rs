//! Explorations under way: while the figures of one are on their way back, the next is rendered.

use super::GpuError;
use super::explore::{Against, Asked, Found, Measured, NO_FRAME, Outcome};
use super::kept::Began;
use super::readback::WordsUnderway;
use super::renderer::Renderer;
use crate::base::frame::Frame;
use crate::measure::Difference;
use crate::order::{Class, Tree};
use crate::plan::Path;

/// An exploration that is under way on the GPU.
#[derive(Debug)]
pub struct Exploring(Stage);

#[derive(Debug)]
enum Stage {
    Done(Measured),
    Underway(Box<ExploringOne>),
}

#[derive(Debug)]
struct ExploringOne {
    found: Found,
    outcome: Outcome,
    words: WordsUnderway,
    /// How many classes, at what size.
    of: (usize, Frame),
    /// What it is kept by.
    key: Option<String>,
    began: Began,
}

impl Exploring {
    /// Explorations that are worth having under way beside the one that is waited for: while one is on its way, the next
    /// is rendered.
    pub const AHEAD: usize = 2;
}

impl Renderer {
    /// Begins to render every class of a tree at a path's own moment, as [`explore`](Self::explore) does, and goes on while
    /// the GPU is at it. Of what effects remember, or where this lets others go first, nothing is under way behind it.
    ///
    /// # Errors
    /// As `explore`.
    pub fn begin_exploring(
        &mut self,
        path: &Path,
        tree: &Tree,
        asked: &Asked<'_>,
    ) -> Result<Exploring, GpuError> {
        if self.gives_way() || path.frames().count() > 1 {
            return Ok(Exploring(Stage::Done(self.explore(path, tree, asked, |_| {})?)));
        }
        let key = self.key_of_exploration(&[path], &[0], tree, asked);
        if let Some(key) = &key
            && let Some(known) = self.explored_before(key)?.and_then(|mut known| known.pop())
        {
            return Ok(Exploring(Stage::Done(known)));
        }
        let began = self.begins();
        let (mut found, recording) = self.founds(&[path], &[0], tree.leaves.len(), asked)?;
        let mut found = found.pop().ok_or(NO_FRAME)?;
        let (outcome, words) = self.begin_at_once((path, recording), tree, asked, &mut found, |_| {})?;
        let of = (tree.leaves.len(), path.moment.frame);
        Ok(Exploring(Stage::Underway(Box::new(ExploringOne { found, outcome, words, of, key, began }))))
    }

    /// What was begun, once it is done; what was begun behind it goes on.
    ///
    /// # Errors
    /// As [`explore`](Self::explore).
    pub fn finish_exploring(&mut self, exploring: Exploring) -> Result<Measured, GpuError> {
        let underway = match exploring.0 {
            Stage::Done(measured) => return Ok(measured),
            Stage::Underway(underway) => underway,
        };
        let ExploringOne { mut found, outcome, words, of: (classes, frame), key, began } = *underway;
        found.take(outcome, self.finish_figures(words, classes, frame)?.into_iter().enumerate());
        let measured = found.measured()?;
        if let Some(key) = key.filter(|_| self.is_worth_keeping(began)) {
            self.keep_exploration(&key, std::slice::from_ref(&measured))?;
        }
        Ok(measured)
    }

    /// How far other orders of a path are from one; `tell` is told how many are on their way. No picture is read back.
    ///
    /// # Errors
    /// [`GpuError`] where the frame is too large or the GPU fails.
    pub fn orders_apart(
        &mut self,
        path: &Path,
        own: &[usize],
        others: &[Vec<usize>],
        tell: impl FnMut(usize),
    ) -> Result<Vec<Difference>, GpuError> {
        let classes: Vec<Class> = others.iter().map(|order| Class { order: order.clone() }).collect();
        // What is idle now changes nothing, unless it goes on remembering.
        let is_idle = |effect: usize| !path.chain[effect].remembers() && path.idle_because(effect).is_some();
        let tree = Tree::of(&classes, is_idle);
        let asked = Asked { against: Some(Against::Order(own)), ..Asked::default() };
        let (finished, _) = self.explore(path, &tree, &asked, tell)?;
        Ok(finished.into_iter().map(|finished| finished.difference.unwrap_or_default()).collect())
    }
}
