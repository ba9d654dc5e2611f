//! The shows that are seen, made of the work's and kept for as long as both are the same.

use std::sync::Arc;

use super::Desk;
use super::find::with_row;
use crate::edit::{Edit, followed};
use crate::order::Condition;
use crate::show::chain::labels;
use crate::show::{ClipPlace, Scope, Show};
use crate::window::action::Pin;
use crate::window::showing::{FoundRow, Pair, Row, Shown, Side, Tried};

/// Shows of two that are compared, where they are kept apart from the work.
type Sides = [Option<Arc<Show>>; 2];

/// Shows made of the work's for the view, kept for as long as both are the same.
#[derive(Default)]
pub(super) struct Seen {
    of: Option<(Arc<Show>, ClipPlace, Option<Scope>)>,
    at_rest: Option<Arc<Show>>,
    /// What is tried: on which show, what, and the show as it would be.
    tried: Option<(Arc<Show>, Tried, Arc<Show>)>,
    /// The show with what was found in place: of which show, what, and it.
    pub(super) found: Option<(Arc<Show>, FoundRow, Arc<Show>)>,
    pub(super) pins: Vec<Option<Arc<Show>>>,
    /// What is compared: on which show, what, and the shows of what is kept apart from it.
    sides: Option<(Arc<Show>, Pair, Sides)>,
}

impl Desk {
    /// The show with the clip of the path showing, and nothing else where something is shown alone.
    pub(super) fn seen_at_rest(&mut self) -> Arc<Show> {
        let (show, clip, alone) = (&self.stand(), self.view.clip, self.view.alone);
        let is_same = |(of, at, only): &(Arc<Show>, ClipPlace, Option<Scope>)| {
            Arc::ptr_eq(of, show) && *at == clip && *only == alone
        };
        let is_known = self.seen.of.as_ref().is_some_and(is_same);
        if let (true, Some(known)) = (is_known, &self.seen.at_rest) {
            return Arc::clone(known);
        }
        let ClipPlace { bundle: b, level: l, clip: c } = clip;
        let at_rest = if show.bundles[b].levels[l].showing == c && alone.is_none() {
            Arc::clone(show)
        } else {
            let mut shown = (**show).clone();
            shown.bundles[b].levels[l].showing = c;
            if let Some(alone) = alone {
                show_alone(&mut shown, alone);
            }
            Arc::new(shown)
        };
        self.seen = Seen {
            of: Some((Arc::clone(show), clip, alone)),
            at_rest: Some(Arc::clone(&at_rest)),
            ..Seen::default()
        };
        at_rest
    }

    /// The show as it would be if what is being dragged were dropped, or what is pointed at were taken.
    pub(super) fn seen_tried(&mut self, at_rest: &Arc<Show>) -> Arc<Show> {
        let Some(tried) = self.view.tried() else {
            self.seen.tried = None;
            return self.seen_found(at_rest).unwrap_or_else(|| Arc::clone(at_rest));
        };
        if let Some((_, _, show)) =
            self.seen.tried.as_ref().filter(|(of, known, _)| Arc::ptr_eq(of, at_rest) && *known == tried)
        {
            return Arc::clone(show);
        }
        let show = match &tried {
            Tried::Edit(edit) => {
                edit.applied(at_rest).map_or_else(|_| Arc::clone(at_rest), |(show, _)| Arc::new(show))
            }
            Tried::Show(show) => Arc::clone(show),
        };
        self.seen.tried = Some((Arc::clone(at_rest), tried, Arc::clone(&show)));
        show
    }

    /// The shows of what is compared, where it is kept apart from the work.
    pub(super) fn seen_sides(&mut self, at_rest: &Arc<Show>) -> Sides {
        let Shown::Pair(pair) = &self.view.shown else {
            self.seen.sides = None;
            return [None, None];
        };
        if let Some((_, _, shows)) =
            self.seen.sides.as_ref().filter(|(of, known, _)| Arc::ptr_eq(of, at_rest) && known == pair)
        {
            return shows.clone();
        }
        let shows = pair.sides().map(|side| match side {
            Side::Order { .. } => None,
            Side::Kept { row, .. } => with_row(at_rest, row),
        });
        self.seen.sides = Some((Arc::clone(at_rest), pair.clone(), shows.clone()));
        shows
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
        // The scope has been followed already: by where it was, its chain is found before the change.
        let follow = |scope: Scope, order: &[usize]| {
            order_followed((before, &now), [followed(&now, before, scope)?, scope], order)
        };
        let shown = match &self.view.shown {
            Shown::Order { scope, order } => {
                follow(*scope, order).map(|order| Shown::Order { scope: *scope, order })
            }
            Shown::Pair(pair) => {
                let side = |side: &Side| match side {
                    Side::Order { scope, order } => {
                        follow(*scope, order).map(|order| Side::Order { scope: *scope, order })
                    }
                    kept => Some(kept.clone()),
                };
                let sides = side(&pair.left).zip(side(&pair.right));
                sides.map(|(left, right)| Shown::Pair(Pair { left, right, way: pair.way }))
            }
            Shown::Output | Shown::After(_) | Shown::Found(_) => return,
        };
        self.view.shown = shown.unwrap_or(Shown::Output);
    }

    /// Conditions follow their effects to other places of the chain, and stay behind with their chain.
    pub(super) fn keep_conditions(&mut self, (show, scope): &(Arc<Show>, Scope)) {
        let now = self.work.show();
        let scope_now = followed(show, now, *scope);
        let is_elsewhere = scope_now != Some(self.view.scope);
        if is_elsewhere {
            self.view.conditions.clear();
        } else if Arc::ptr_eq(show, now) {
            return;
        }
        // What is open stays open as long as its effects are there.
        let by = self.view.wall_by.clone();
        let follow = |order: &[usize]| order_followed((show, now), [*scope, scope_now?], order);
        self.view.wall_by = match by.open().map(follow) {
            None => by,
            Some(Some(order)) if !is_elsewhere => by.of(order),
            Some(_) => by.whole(),
        };
        let before = labels(show.chain(*scope));
        let after = scope_now.map(|scope| labels(now.chain(scope))).unwrap_or_default();
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

    /// Stays with the scopes that are looked at, wherever a change has taken them.
    pub(super) fn follow_scopes(&mut self, before: &Show) {
        let now = Arc::clone(self.work.show());
        let view = &mut self.view;
        let there = |scope: Scope| followed(before, &now, scope);
        if let Some(Scope::Clip(bundle, level, clip)) = there(view.clip.into()) {
            view.clip = ClipPlace { bundle, level, clip };
        }
        view.scope = there(view.scope).unwrap_or(view.scope);
        view.alone = view.alone.and_then(there);
        view.section = view.section.and_then(|at| at.followed(before, &now));
        view.renaming_section = view.renaming_section.and_then(|at| at.followed(before, &now));
        view.section_settings &= view.section.is_some();
        view.renaming = view.renaming.and_then(there);
        for pin in &mut view.pins {
            pin.scope = there(pin.scope).unwrap_or(pin.scope);
        }
        let shown = match &mut view.shown {
            Shown::Output => return,
            Shown::After(spot) => &mut spot.scope,
            Shown::Order { scope, .. } => scope,
            Shown::Pair(pair) => {
                for side in [&mut pair.left, &mut pair.right] {
                    match side {
                        Side::Order { scope, .. } => *scope = there(*scope).unwrap_or(*scope),
                        Side::Kept { row, .. } => {
                            row.of = there(row.of).unwrap_or(row.of);
                            row.scope = there(row.scope).unwrap_or(row.scope);
                        }
                    }
                }
                return;
            }
            Shown::Found(row) => {
                row.of = there(row.of).unwrap_or(row.of);
                &mut row.scope
            }
        };
        *shown = there(*shown).unwrap_or(*shown);
    }

    pub(super) fn seen_show(&self) -> Arc<Show> {
        self.seen.at_rest.clone().unwrap_or_else(|| Arc::clone(self.work.show()))
    }
}

/// Keeps everything else than one thing out of the picture.
fn show_alone(show: &mut Show, alone: Scope) {
    let (bundle, level) = match alone {
        Scope::Global => return,
        Scope::Bundle(b) => (b, None),
        Scope::Level(b, l) | Scope::Clip(b, l, _) => (b, Some(l)),
    };
    for (b, one) in show.bundles.iter_mut().enumerate() {
        one.hidden = b != bundle;
        for (l, inside) in one.levels.iter_mut().enumerate() {
            inside.hidden |= b == bundle && level.is_some_and(|level| l != level);
        }
    }
    show.bring_out(alone);
}

/// An order of the same effects, wherever they stand by now: before and after a change of the show.
fn order_followed(
    (before, now): (&Show, &Show),
    [scope, scope_now]: [Scope; 2],
    order: &[usize],
) -> Option<Vec<usize>> {
    if !before.scopes().contains(&scope) || !now.scopes().contains(&scope_now) {
        return None;
    }
    let (old, new) = (before.chain(scope), now.chain(scope_now));
    // A setting that was changed leaves every effect in its place.
    let is_in_place = old.len() == new.len()
        && old.iter().zip(new).all(|(a, b)| a.effect.name == b.effect.name && a.name == b.name);
    match Row::of(old, scope, order).in_chain(new) {
        None if is_in_place => Some(order.to_vec()),
        followed => followed,
    }
}
