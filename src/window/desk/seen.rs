//! The shows that are seen, made of the work's and kept for as long as both are the same.

use std::sync::Arc;

use super::Desk;
use crate::edit::Edit;
use crate::order::Condition;
use crate::show::chain::labels;
use crate::show::{ClipPlace, Scope, Show};
use crate::window::action::Pin;
use crate::window::showing::{Pair, Row, Shown};

/// Shows made of the work's for the view, kept for as long as both are the same.
#[derive(Default)]
pub(super) struct Seen {
    of: Option<(Arc<Show>, ClipPlace)>,
    at_rest: Option<Arc<Show>>,
    drag: Option<Edit>,
    dragged: Option<Arc<Show>>,
    /// The show with what was found in place: of which show, what, and it.
    pub(super) found: Option<(Arc<Show>, Row, Arc<Show>)>,
    pub(super) pins: Vec<Option<Arc<Show>>>,
}

impl Desk {
    /// The show with the clip of the path showing.
    pub(super) fn seen_at_rest(&mut self) -> Arc<Show> {
        let (show, clip) = (self.work.show(), self.view.clip);
        let is_known = self.seen.of.as_ref().is_some_and(|(of, at)| Arc::ptr_eq(of, show) && *at == clip);
        if let (true, Some(known)) = (is_known, &self.seen.at_rest) {
            return Arc::clone(known);
        }
        let ClipPlace { bundle: b, level: l, clip: c } = clip;
        let at_rest = if show.bundles[b].levels[l].showing == c {
            Arc::clone(show)
        } else {
            let mut shown = (**show).clone();
            shown.bundles[b].levels[l].showing = c;
            Arc::new(shown)
        };
        self.seen = Seen {
            of: Some((Arc::clone(show), clip)),
            at_rest: Some(Arc::clone(&at_rest)),
            ..Seen::default()
        };
        at_rest
    }

    /// The show as it would be if the card being dragged were dropped.
    pub(super) fn seen_dragged(&mut self, at_rest: &Arc<Show>) -> Arc<Show> {
        let Some((from, into)) = self.view.drag else {
            self.seen.drag = None;
            return self.seen_found(at_rest).unwrap_or_else(|| Arc::clone(at_rest));
        };
        let edit = self.view.carried(from, into);
        if self.seen.drag.as_ref() != Some(&edit) {
            let moved = edit.applied(at_rest);
            self.seen.dragged = Some(moved.map_or_else(|_| Arc::clone(at_rest), |(show, _)| Arc::new(show)));
            self.seen.drag = Some(edit);
        }
        self.seen.dragged.clone().unwrap_or_else(|| Arc::clone(at_rest))
    }

    pub(super) fn see_pins(&mut self) {
        if self.seen.pins.len() == self.view.pins.len() {
            return;
        }
        let show = self.work.show();
        let with = |pin: &Pin| {
            let edit = Edit::Chain { scope: pin.scope, chain: pin.chain.clone(), name: String::new() };
            edit.applied(show).ok().map(|(show, _)| Arc::new(show))
        };
        self.seen.pins = self.view.pins.iter().map(with).collect();
    }

    /// An order in the large picture stays that order of the same effects, however the chain stands by now.
    pub(super) fn keep_shown(&mut self, before: &Arc<Show>) {
        let now = Arc::clone(self.work.show());
        if Arc::ptr_eq(before, &now) {
            return;
        }
        let follow = |scope: Scope, order: &[usize]| followed((before, &now), scope, order);
        let shown = match &self.view.shown {
            Shown::Order { scope, order } => {
                follow(*scope, order).map(|order| Shown::Order { scope: *scope, order })
            }
            Shown::Pair(pair) => follow(pair.scope, &pair.left)
                .zip(follow(pair.scope, &pair.right))
                .map(|(left, right)| Shown::Pair(Pair { left, right, ..pair.clone() })),
            Shown::Output | Shown::After(_) | Shown::Found(_) => return,
        };
        self.view.shown = shown.unwrap_or(Shown::Output);
    }

    /// Conditions follow their effects to other places of the chain, and stay behind with their chain.
    pub(super) fn keep_conditions(&mut self, (show, scope): &(Arc<Show>, Scope)) {
        let now = self.work.show();
        let is_elsewhere = *scope != self.view.scope;
        if is_elsewhere {
            self.view.conditions.clear();
        } else if Arc::ptr_eq(show, now) {
            return;
        }
        // What is open stays open as long as its effects are there.
        let by = self.view.wall_by.clone();
        self.view.wall_by = match by.open().map(|order| followed((show, now), *scope, order)) {
            None => by,
            Some(Some(order)) if !is_elsewhere => by.of(order),
            Some(_) => by.whole(),
        };
        let has_scope = now.scopes().contains(scope);
        let (before, after) =
            (labels(show.chain(*scope)), if has_scope { labels(now.chain(*scope)) } else { Vec::new() });
        let moved = |place: usize| after.iter().position(|label| before.get(place) == Some(label));
        let followed = self.view.conditions.drain(..).filter_map(|condition| {
            Some(match condition {
                Condition::Before { under, over } => {
                    Condition::Before { under: moved(under)?, over: moved(over)? }
                }
                Condition::First(effect) => Condition::First(moved(effect)?),
                Condition::Last(effect) => Condition::Last(moved(effect)?),
            })
        });
        self.view.conditions = followed.collect();
    }

    pub(super) fn seen_show(&self) -> Arc<Show> {
        self.seen.at_rest.clone().unwrap_or_else(|| Arc::clone(self.work.show()))
    }
}

/// An order of the same effects, wherever they stand by now: before and after a change of the show.
fn followed((before, now): (&Show, &Show), scope: Scope, order: &[usize]) -> Option<Vec<usize>> {
    if !before.scopes().contains(&scope) || !now.scopes().contains(&scope) {
        return None;
    }
    let (old, new) = (before.chain(scope), now.chain(scope));
    // A setting that was changed leaves every effect in its place.
    let is_in_place = old.len() == new.len()
        && old.iter().zip(new).all(|(a, b)| a.effect.name == b.effect.name && a.name == b.name);
    match Row::of(old, scope, order).in_chain(new) {
        None if is_in_place => Some(order.to_vec()),
        followed => followed,
    }
}
