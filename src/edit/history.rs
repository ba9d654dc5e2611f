//! The steps taken, to undo and to redo, without limit.

use std::sync::Arc;

use super::spot::Spot;
use crate::show::{ClipPlace, Scope, Show, Target};

/// What a run of changes changes: those that follow each other under one key are one step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum RunKey {
    /// A setting, by its effect and its place there.
    Set(Spot, usize),
    /// How a setting moves.
    Automate(Spot, usize),
    /// What holds a thing that controls move.
    Hold(Target),
    /// How long a hand takes.
    Reach,
    /// How a bundle or a level is laid.
    Mix(Scope),
    /// How a clip plays.
    Play(ClipPlace),
    Tempo,
    /// What is said of a section, and of which scope.
    Section(usize, OfSection),
}

/// What of a section is dragged or typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum OfSection {
    Name,
    Note,
    Beats,
    Fade,
    Opacity(Scope),
}

/// One step: what it is called, and the show on its other side.
#[derive(Debug, Clone)]
pub struct HistoryStep {
    /// What was done: "Move tint".
    pub name: String,
    /// The show before the step, or after it once it is undone.
    show: Arc<Show>,
    /// Steps of one run that follow each other are one.
    run: Option<RunKey>,
}

/// Steps behind and ahead. Shows are small and effects are shared, so that a step keeps a whole show.
#[derive(Debug, Clone, Default)]
pub struct History {
    done: Vec<HistoryStep>,
    undone: Vec<HistoryStep>,
}

impl History {
    /// Notes that `before` was left by a step; what could be redone is gone.
    pub(super) fn note(&mut self, name: String, before: &Arc<Show>, run: Option<RunKey>) {
        self.undone.clear();
        match self.done.last_mut() {
            Some(last) if run.is_some() && last.run == run => last.name = name,
            _ => self.done.push(HistoryStep { name, show: Arc::clone(before), run }),
        }
    }

    /// Ends a run: the next change is a step of its own.
    pub(super) fn end_run(&mut self) {
        if let Some(last) = self.done.last_mut() {
            last.run = None;
        }
    }

    /// The show before the last step.
    pub(super) fn undo(&mut self, now: &Arc<Show>) -> Option<Arc<Show>> {
        let step = self.done.pop()?;
        self.undone.push(HistoryStep { show: Arc::clone(now), run: None, name: step.name });
        Some(step.show)
    }

    /// The show after the step undone last.
    pub(super) fn redo(&mut self, now: &Arc<Show>) -> Option<Arc<Show>> {
        let step = self.undone.pop()?;
        self.done.push(HistoryStep { show: Arc::clone(now), run: None, name: step.name });
        Some(step.show)
    }

    /// Puts another show in place of each, where `now` gives one.
    pub(super) fn rebind(&mut self, now: &mut impl FnMut(&Arc<Show>) -> Arc<Show>) {
        for step in self.done.iter_mut().chain(&mut self.undone) {
            step.show = now(&step.show);
        }
    }

    /// The steps that can be undone, the latest last.
    pub fn done(&self) -> &[HistoryStep] {
        &self.done
    }

    /// The steps that can be redone, the next one last.
    pub fn undone(&self) -> &[HistoryStep] {
        &self.undone
    }
}
