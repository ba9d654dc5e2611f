//! The orders on the wall.

use std::sync::Arc;

use crate::order::Condition;
use crate::plan;
use crate::show::Scope;
use crate::window::scene::WallSeen;
use crate::window::showing::{Shown, WallBy};
use crate::window::threads::prover::{Candidate, Known, StandsFor};
use crate::window::view::View;

/// The orders on the wall. They stay as they are while someone is about to press one.
#[derive(Default)]
pub(super) struct OnWall {
    pub(super) laid: Option<Laid>,
    pub(super) seen: WallSeen,
    /// Whether the person asked for what is known by now.
    pub(super) is_asked: bool,
}

pub(super) struct Laid {
    pub(super) scope: Scope,
    pub(super) known: Arc<Known>,
    pub(super) by: WallBy,
    pub(super) of_output: bool,
    pub(super) conditions: Vec<Condition>,
    pub(super) candidates: Arc<Vec<Candidate>>,
}

impl OnWall {
    /// Whether someone may be about to press a picture, or looks at one: then nothing moves.
    pub(super) fn is_held(&self, view: &View, ctx: &egui::Context) -> bool {
        let is_open = match &view.shown {
            Shown::Order { scope, .. } => *scope == view.scope,
            Shown::Pair(pair) => pair.sides().iter().any(|side| side.scope() == view.scope),
            Shown::Output | Shown::After(_) | Shown::Found(_) => false,
        };
        is_open || self.is_pointed_at(ctx)
    }

    /// Whether the pointer, the keyboard or a menu is on one of its pictures.
    pub(super) fn is_pointed_at(&self, ctx: &egui::Context) -> bool {
        let pointer = ctx.input(|input| input.pointer.latest_pos());
        let is_under = self.seen.rect.zip(pointer).is_some_and(|(rect, pointer)| rect.contains(pointer));
        let has_menu = self.seen.rect.is_some() && egui::Popup::is_any_open(ctx);
        is_under || has_menu || self.seen.has_focus
    }

    /// Lays the wall out for this path: from what is known of it now, unless it is held. Gives whether more is
    /// known than it shows.
    pub(super) fn lay(
        &mut self,
        path: Option<&plan::Path>,
        known: Option<&Arc<Known>>,
        view: &View,
        is_held: bool,
    ) -> bool {
        let is_of = |laid: &Laid| {
            laid.scope == view.scope
                && laid.known.on_pieces.is_none() == view.basis.is_plain()
                && path.is_some_and(|path| laid.known.is_like(path))
        };
        self.laid.take_if(|laid| !is_of(laid));
        let Some(known) = known.or(self.laid.as_ref().map(|laid| &laid.known)).cloned() else { return false };
        let is_asked = std::mem::take(&mut self.is_asked);
        let is_as_asked = |laid: &Laid| {
            laid.by == view.wall_by
                && laid.of_output == view.wall_of_output
                && laid.conditions == view.conditions
        };
        let before = self.laid.as_ref().filter(|laid| !is_asked && is_as_asked(laid));
        if before.is_some_and(|laid| laid.known.revision == known.revision) {
            // Pairs that were looked at since move nothing.
            if let Some(laid) = &mut self.laid {
                laid.known = known;
            }
            return false;
        }
        let candidates = known.candidates(&view.wall_by, &view.conditions);
        let moves = |laid: &Laid| {
            !stands_alike(&laid.candidates, &candidates)
                || lines_above(&laid.known, &laid.by) != lines_above(&known, &laid.by)
        };
        if before.is_some_and(|laid| is_held && moves(laid)) {
            return true;
        }
        self.laid = Some(Laid {
            scope: view.scope,
            known,
            by: view.wall_by.clone(),
            of_output: view.wall_of_output,
            conditions: view.conditions.clone(),
            candidates: Arc::new(candidates),
        });
        false
    }
}

/// Whether two walls have the same pictures in the same places.
fn stands_alike(a: &[Candidate], b: &[Candidate]) -> bool {
    let family = |one: &Candidate| matches!(one.stands_for, StandsFor::Family(..));
    let is_like = |(a, b): (&Candidate, &Candidate)| a.order == b.order && family(a) == family(b);
    a.len() == b.len() && a.iter().zip(b).all(is_like)
}

/// What stands above the pictures: whether what matters does, and how many questions.
fn lines_above(known: &Known, by: &WallBy) -> Option<usize> {
    let matters = known.looks.as_ref()?.matters.as_ref()?;
    let families = matters.families.as_ref().filter(|_| *by == WallBy::Families);
    Some(families.map_or(0, |families| families.questions.len()))
}
