//! What commands do, where that takes more than a word.

use crate::edit::{Deed, Edit, Named, Several, Spot, StructureEdit};
use crate::order::in_order;
use crate::show::{ClipPlace, Scope};
use crate::window::action::{Action, Dialog, Pin, Saving};
use crate::window::basis::{Basis, On};
use crate::window::scene::Scene;
use crate::window::sections::SectionAct;
use crate::window::seeking::FindAct;
use crate::window::showing::{Comparing, Pair, Shown, Side, WallBy};
use crate::window::threads::prover::StandsFor;
use crate::window::widgets::rows::{next_gap, rows};

/// Does something with sections.
pub(super) fn section(scene: &mut Scene<'_>, act: SectionAct) {
    scene.act(Action::Section(act));
}

/// The order in the large picture, where it is one of the chain on the wall.
pub(super) fn order(scene: &Scene<'_>) -> Option<Vec<usize>> {
    match &scene.view.shown {
        Shown::Order { scope, order } if *scope == scene.view.scope => Some(order.clone()),
        _ => None,
    }
}

/// Does something to every effect that is selected.
pub(super) fn on_selected(scene: &mut Scene<'_>, deed: Deed) {
    let (scope, places) = (scene.view.scope, scene.view.places());
    if !places.is_empty() {
        scene.act(Action::Edit(Edit::Several(Several { scope, places, deed })));
    }
}

/// All on where one is off, otherwise all off.
pub(super) fn switch(scene: &mut Scene<'_>) {
    let chain = scene.stand.chain(scene.view.scope);
    let is_on = |at: usize| chain.get(at).is_some_and(|used| used.on);
    let all_on = scene.view.places().into_iter().all(is_on);
    on_selected(scene, Deed::Switch(!all_on));
}

/// Selects the effect before or after all that are selected, too.
pub(super) fn select_more(scene: &mut Scene<'_>, way: isize) {
    let (scope, places) = (scene.view.scope, scene.view.places());
    let end = if way < 0 { places.first() } else { places.last() };
    let next = end.and_then(|end| end.checked_add_signed(way));
    if let Some(at) = next.filter(|at| *at < scene.show().chain(scope).len()) {
        scene.act(Action::SelectToo(Spot { scope, at }));
    }
}

pub(super) fn select_all(scene: &mut Scene<'_>) {
    let scope = scene.view.scope;
    let last = scene.show().chain(scope).len().saturating_sub(1);
    scene.act(Action::Select(Spot { scope, at: 0 }));
    scene.act(Action::SelectTo(Spot { scope, at: last }));
}

pub(super) fn show_after(scene: &mut Scene<'_>) {
    if let Some(spot) = scene.view.spot() {
        let after = Shown::After(spot);
        let is_shown = scene.view.shown == after;
        scene.act(Action::Show(if is_shown { Shown::Output } else { after }));
    }
}

pub(super) fn rename(scene: &mut Scene<'_>) {
    let scope = scene.view.scope;
    match scene.view.spot() {
        Some(spot) => scene.act(Action::Ask(Dialog::Rename(Named::Effect(spot)))),
        None if scope != Scope::Global => scene.act(Action::Ask(Dialog::Rename(Named::Scope(scope)))),
        None => scene.act(Action::Say("The global scope keeps its name.".to_owned())),
    }
}

/// To another part of the window; a sheet keeps the keyboard.
pub(super) fn part_by(scene: &mut Scene<'_>, way: isize) {
    if scene.view.dialog.is_none() {
        scene.wants_part = Some(way);
    }
}

pub(super) fn ask_where(scene: &mut Scene<'_>, saving: Saving) {
    scene.act(Action::Ask(Dialog::Save(saving)));
}

pub(super) fn text_by(scene: &mut Scene<'_>, percent: i32) {
    scene.act(Action::TextSize(scene.view.preferences.text_percent.saturating_add_signed(percent)));
}

pub(super) fn tempo_by(scene: &mut Scene<'_>, bpm: f64) {
    scene.act(Action::Edit(Edit::Tempo((scene.show().tempo_bpm + bpm).clamp(1.0, 999.0))));
}

/// To the next order on the wall, or the previous one.
pub(super) fn order_by(scene: &mut Scene<'_>, way: isize) {
    let shown = order(scene);
    let on_wall = &scene.candidates;
    let at = on_wall.iter().position(|one| shown.as_ref() == Some(&one.order)).unwrap_or(0) as isize;
    let next = (at + way).rem_euclid(on_wall.len().max(1) as isize) as usize;
    if let Some(one) = on_wall.get(next) {
        let (scope, order) = (scene.view.scope, one.order.clone());
        scene.act(Action::Show(Shown::Order { scope, order }));
    }
}

/// Opens the family or the look of the order in the large picture; what is open to its orders is closed again.
pub(super) fn unfold(scene: &mut Scene<'_>) {
    let by = &scene.view.wall_by;
    if matches!(by, WallBy::Look { .. }) {
        return fold(scene);
    }
    let shown = order(scene);
    let on_wall = scene.candidates.first().map(|one| &one.stands_for);
    let opened = match (shown, on_wall) {
        (Some(order), Some(StandsFor::Family(..))) => Some(WallBy::Family(order)),
        (Some(order), Some(StandsFor::Look(..))) => {
            Some(WallBy::Look { order, in_family: matches!(by, WallBy::Family(_)) })
        }
        _ => None,
    };
    scene.act(match opened {
        Some(opened) => Action::WallBy(opened),
        None => Action::Say("Choose a family or a look on the wall first.".to_owned()),
    });
}

/// Closes what is open on the wall.
pub(super) fn fold(scene: &mut Scene<'_>) {
    scene.act(match scene.view.wall_by.closed() {
        Some(closed) => Action::WallBy(closed),
        None => Action::Say("No family and no look is open.".to_owned()),
    });
}

/// Back from what was opened last: the order in the large picture, together with the family that opened with it, or
/// what is open on the wall.
pub(super) fn back(scene: &mut Scene<'_>) {
    if scene.view.fills {
        return scene.act(Action::Fill(false));
    }
    if let (Some(spot), false) = (scene.view.spot(), scene.view.also.is_empty()) {
        return scene.act(Action::Select(spot));
    }
    let is_one =
        order(scene).as_deref().is_some_and(|order| scene.view.wall_by == WallBy::Family(order.to_vec()));
    let is_output = scene.view.shown == Shown::Output;
    if let Some(closed) = scene.view.wall_by.closed().filter(|_| is_one || is_output) {
        scene.act(Action::WallBy(closed));
    }
    scene.act(Action::Show(Shown::Output));
}

/// Families, looks, every order, and round again.
pub(super) fn wall_by_next(scene: &mut Scene<'_>) {
    scene.act(Action::WallBy(match scene.view.wall_by {
        WallBy::Families | WallBy::Family(_) => WallBy::Looks,
        WallBy::Looks | WallBy::Look { .. } => WallBy::Orders,
        WallBy::Orders => WallBy::Families,
    }));
}

pub(super) fn adopt_found(scene: &mut Scene<'_>) {
    if let Shown::Found(row) = scene.view.shown.clone() {
        scene.act(Action::Find(FindAct::Adopt(row)));
    }
}

pub(super) fn judge_by_next(scene: &mut Scene<'_>) {
    let basis = scene.view.basis.clone();
    let at = On::ALL.iter().position(|on| *on == basis.on).unwrap_or(0);
    let on = On::ALL[(at + 1) % On::ALL.len()];
    scene.act(Action::Judge(Basis { on, is_stopped: false, ..basis }));
}

pub(super) fn adopt(scene: &mut Scene<'_>) {
    if let Some(order) = order(scene) {
        scene.act(Action::Adopt(scene.row(scene.view.scope, &order)));
    }
}

pub(super) fn compare(scene: &mut Scene<'_>) {
    if let Some(right) = order(scene) {
        let left = (0..right.len()).collect();
        let pair = Pair::of(scene.view.scope, left, right, Comparing::Beside);
        scene.act(Action::Show(Shown::Pair(pair)));
    }
}

pub(super) fn pin(scene: &mut Scene<'_>) {
    if let Some(order) = order(scene) {
        let scope = scene.view.scope;
        let chain = in_order(scene.show().chain(scope), &order);
        scene.act(Action::Pin(Pin::new(scope, chain)));
    }
}

/// Compares what is in the large picture with the newest pin; again, with the one pinned before.
pub(super) fn compare_pin(scene: &mut Scene<'_>) {
    let pins: Vec<Side> = scene.view.pins.iter().rev().map(|pin| scene.side_of(pin)).collect();
    let now = match &scene.view.shown {
        Shown::Pair(pair) => pins.iter().position(|side| *side == pair.right),
        _ => None,
    };
    let next = now.map_or(0, |now| (now + 1) % pins.len().max(1));
    if let Some(side) = pins.into_iter().nth(next) {
        scene.compare(side);
    }
}

pub(super) fn adopt_pin(scene: &mut Scene<'_>) {
    if let Some(pin) = scene.view.pins.last() {
        let name = "pinned".to_owned();
        scene.act(Action::Edit(Edit::Chain { scope: pin.scope, chain: pin.chain.clone(), name }));
    }
}

pub(super) fn next_way(scene: &mut Scene<'_>) {
    if let Shown::Pair(pair) = scene.view.shown.clone() {
        let at = Comparing::ALL.iter().position(|way| *way == pair.way).unwrap_or(0);
        let way = Comparing::ALL[(at + 1) % Comparing::ALL.len()];
        scene.act(Action::Show(Shown::Pair(Pair { way, ..pair })));
    }
}

pub(super) fn blink(scene: &mut Scene<'_>) {
    if let Shown::Pair(pair) = scene.view.shown.clone() {
        scene.act(Action::Show(Shown::Pair(Pair { way: Comparing::Blink, ..pair })));
        scene.act(Action::Blink(!scene.view.blinking));
    }
}

pub(super) fn adopt_other(scene: &mut Scene<'_>) {
    if let Shown::Pair(pair) = scene.view.shown.clone() {
        scene.act(scene.adopts(&pair.right));
        scene.act(Action::Show(Shown::Output));
    }
}

pub(super) fn scope_by(scene: &mut Scene<'_>, way: isize) {
    let path = scene.view.path();
    let at = path.iter().position(|scope| *scope == scene.view.scope).unwrap_or(0);
    if let Some(scope) = at.checked_add_signed(way).and_then(|next| path.get(next)) {
        scene.act(Action::Scope(*scope));
    }
}

/// To the row over or under the one in hand.
pub(super) fn row_by(scene: &mut Scene<'_>, is_up: bool) {
    let rows = rows(scene.show());
    let at = rows.iter().position(|row| Some(*row) == scene.part_in_hand());
    let next = at.and_then(|at| if is_up { at.checked_sub(1) } else { Some(at + 1) });
    if let Some(&row) = next.and_then(|next| rows.get(next)) {
        scene.act(Action::Scope(row));
        scene.next_row = Some(row);
    }
}

pub(super) fn move_row(scene: &mut Scene<'_>, is_up: bool) {
    let Some(what) = scene.part_in_hand() else { return };
    match next_gap(scene.show(), what, is_up) {
        Some(into) => {
            let edit = StructureEdit::Move { what, into };
            scene.next_row = edit.lands();
            scene.act(Action::Edit(Edit::Structure(edit)));
        }
        None => scene.act(Action::Say("It stands at the end of its own.".to_owned())),
    }
}

pub(super) fn edit_row(scene: &mut Scene<'_>, edit: fn(Scope) -> Edit) {
    if let Some(what) = scene.part_in_hand() {
        scene.act(Action::Edit(edit(what)));
    }
}

pub(super) fn hide_row(scene: &mut Scene<'_>) {
    if let Some(what) = scene.part_in_hand() {
        let hidden = !scene.show().is_hidden(what);
        scene.act(Action::Edit(Edit::Structure(StructureEdit::Hide { what, hidden })));
    }
}

/// Sizes that the keys give to tiles, in per cent.
const TILE_STEPS: [u32; 9] = [50, 65, 80, 100, 125, 155, 200, 250, 300];

/// The next size of tiles, larger or smaller.
pub(super) fn tiles_by(scene: &mut Scene<'_>, is_larger: bool) {
    let now = scene.view.preferences.tile_percent;
    let next = match is_larger {
        true => TILE_STEPS.into_iter().find(|&step| step > now),
        false => TILE_STEPS.into_iter().rfind(|&step| step < now),
    };
    tiles_of(scene, next.unwrap_or(now));
}

pub(super) fn tiles_of(scene: &mut Scene<'_>, percent: u32) {
    scene.act(Action::TileSize(percent));
    scene.act(Action::KeepSizes);
    scene.act(Action::Say(format!("Tiles at {percent} % of their usual size.")));
}

pub(super) fn show_alone(scene: &mut Scene<'_>) {
    let scope = scene.view.scope;
    scene.act(Action::Alone((scene.view.alone != Some(scope)).then_some(scope)));
}

/// To the path of another clip, through all of them from the bottom up.
pub(super) fn clip_by(scene: &mut Scene<'_>, way: isize) {
    let clips: Vec<ClipPlace> = scene
        .show()
        .scopes()
        .into_iter()
        .filter_map(|scope| match scope {
            Scope::Clip(bundle, level, clip) => Some(ClipPlace { bundle, level, clip }),
            _ => None,
        })
        .collect();
    let now = clips.iter().position(|clip| *clip == scene.view.clip).unwrap_or(0) as isize;
    if let Some(&place) = usize::try_from(now + way).ok().and_then(|next| clips.get(next)) {
        scene.act(Action::Path(place));
    }
}

/// The effects of the path, in the direction in which the picture flows.
fn spots(scene: &Scene<'_>) -> Vec<Spot> {
    let path = scene.view.path().into_iter().filter(|&scope| scene.work.takes_effects_on(scope));
    path.flat_map(|scope| (0..scene.show().chain(scope).len()).map(move |at| Spot { scope, at })).collect()
}

pub(super) fn select_by(scene: &mut Scene<'_>, way: isize) {
    let spots = spots(scene);
    let now = scene.view.spot().and_then(|spot| spots.iter().position(|known| *known == spot));
    let next = match now {
        Some(now) => (now as isize + way).clamp(0, spots.len() as isize - 1) as usize,
        None => 0,
    };
    if let Some(spot) = spots.get(next) {
        scene.act(Action::Select(*spot));
    }
}

/// Moves an effect by one place, or over the border into the next scope.
pub(super) fn move_by(scene: &mut Scene<'_>, way: isize) {
    let Some(from) = scene.view.spot() else { return };
    let path = scene.view.path();
    let effects = scene.show().chain(from.scope).len();
    let at = path.iter().position(|scope| *scope == from.scope).unwrap_or(0);
    let (into, lands) = if way < 0 && from.at > 0 {
        let spot = Spot { at: from.at - 1, ..from };
        (spot, spot)
    } else if way > 0 && from.at + 1 < effects {
        (Spot { at: from.at + 2, ..from }, Spot { at: from.at + 1, ..from })
    } else {
        let next = at.checked_add_signed(way).and_then(|next| path.get(next));
        let Some(&scope) = next.filter(|&&scope| scene.work.takes_effects_on(scope)) else { return };
        let end = if way < 0 { scene.show().chain(scope).len() } else { 0 };
        (Spot { scope, at: end }, Spot { scope, at: end })
    };
    scene.act(Action::Edit(Edit::Move { from, into }));
    scene.act(Action::Select(lands));
}
