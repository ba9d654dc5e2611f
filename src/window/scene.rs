//! What panels are given to draw, and where they put what they ask for.

use std::path::PathBuf;
use std::sync::Arc;

use egui::{Context, Id, Rect, Response};

use crate::base::picture::Picture;
use crate::base::shown::{shown, shown_error};
use crate::beat::Moment;
use crate::catalogue::Catalogue;
use crate::edit::{Edit, Pin, Spot, Work};
use crate::gpu::Wanted;
use crate::measure::Difference;
use crate::order::write_marks;
use crate::show::chain::one_after_another;
use crate::show::{Scope, Show};
use crate::window::action::Action;
use crate::window::lesson_room::LessonRoom;
use crate::window::pictures::Pictures;
use crate::window::playing::HandsSeen;
use crate::window::sections::SectionsSeen;
use crate::window::seeking::FoundList;
use crate::window::shelves::Shelves;
use crate::window::showing::{Comparing, FoundRow, Pair, Preview, Row, Shown, Side, Tried};
use crate::window::threads::apart::{Apart, Two};
use crate::window::threads::export::OnTheWay;
use crate::window::threads::find::Searching;
use crate::window::threads::flash::Flashes;
use crate::window::threads::prover::{Candidate, Known, Matters};
use crate::window::view::View;
use crate::window::widgets;

/// What panels are given to draw, and where they put what they ask for.
pub struct Scene<'a> {
    pub work: &'a Work,
    pub view: &'a View,
    /// Every effect and source.
    pub catalogue: &'a Catalogue,
    /// Makes pictures.
    pub pictures: &'a mut Pictures,
    /// The show that the large picture shows: while something is tried, as it would be.
    pub seen: Arc<Show>,
    /// The show as it stands in the section that is looked at, on its own chains.
    pub stand: Arc<Show>,
    /// The show in each of its sections.
    pub sections: &'a SectionsSeen,
    /// While the running order is played, its picture.
    pub on_air: Option<Wanted>,
    /// The show without a card being dragged, the clip of the path showing.
    pub seen_at_rest: Arc<Show>,
    /// When, and at what size.
    pub moment: Moment,
    /// The same of the large picture, and whether that stands still while time goes on.
    pub large: Moment,
    pub holds_preview: bool,
    /// What is pointed at.
    pub pointed: Option<Pointed>,
    /// The shows of what is compared, where it is kept apart from the work.
    pub sides: [Option<Arc<Show>>; 2],
    /// Measures what is compared.
    pub apart: &'a mut Option<Apart>,
    /// What is known of the orders of the chain on the wall, as it is now and at the beat at which it is held:
    /// nothing for as long as only an earlier state of it is known, or time goes on.
    pub known: Option<Arc<Known>>,
    /// What is known of them on the pieces that the person chose: nothing where they are judged on the clip of the path
    /// alone, or before they are.
    pub judged: Option<Arc<Known>>,
    /// What the wall was laid out from, perhaps an earlier state of the same effects.
    pub laid: Option<Arc<Known>>,
    /// The orders on the wall.
    pub candidates: Arc<Vec<Candidate>>,
    /// Whether the wall is of what is known now, so that its figures hold.
    pub is_laid_now: bool,
    /// Whether more is known than the wall shows: it waits, so that nothing moves under the pointer.
    pub wall_waits: bool,
    /// Whether the wall stays as it is, whatever comes to be known.
    pub wall_is_held: bool,
    /// Where the wall's pictures stand, and whether one has the keyboard: given back by the panel.
    pub wall_seen: WallSeen,
    /// What was found that comes near a wish.
    pub found: Arc<FoundList>,
    /// Whether more was found than is shown.
    pub found_waits: bool,
    /// The picture that it comes near.
    pub found_like: Option<Arc<Picture>>,
    /// How the search stands, while one is on its way.
    pub searching: Option<Searching>,
    /// Why nothing was found.
    pub find_problem: Option<String>,
    /// What has no answer, and why, if anything has none.
    pub unknown: Option<String>,
    /// How much of what leads to proofs is done, and of how much, while they are on their way.
    pub proving: Option<(usize, usize)>,
    /// How much of what leads to looks is done, and of how much, while they are being told apart.
    pub gathering: Option<(usize, usize)>,
    /// Shows of the pins.
    pub pinned: &'a [Option<Arc<Show>>],
    /// Files worked on lately.
    pub recent: &'a [PathBuf],
    /// What was found of work lost.
    pub recovered: Option<String>,
    /// Pictures that were on the way at most since the wall was last whole.
    pub asked: usize,
    /// Whether a panel shows which pairs differ.
    pub wants_pairs: bool,
    /// Where the controls stand.
    pub hands: HandsSeen,
    /// What is known of flashes.
    pub flashes: &'a Flashes,
    /// Whether a panel shows changes that flash less.
    pub wants_suggestions: bool,
    /// Orders on the wall whose flashes are to be counted.
    pub orders_watched: Vec<Vec<usize>>,
    /// The lessons, and what was answered.
    pub lessons: &'a LessonRoom,
    pub export: Option<OnTheWay>,
    /// What is known of the library.
    pub shelves: &'a mut Shelves,
    /// What is wrong with effects of the person's own.
    pub effect_troubles: &'a [String],
    /// The regions that were drawn, and where they stand.
    pub regions: Vec<(&'static str, Rect)>,
    /// Whether the menus are to have the keyboard.
    pub wants_menus: bool,
    /// Whether what is on the clipboard is to be pasted.
    pub wants_paste: bool,
    /// The row of the structure that has the keyboard.
    pub row: Option<Scope>,
    /// The row of the structure that is to have the keyboard now, and in the next pass.
    pub wanted_row: Option<Scope>,
    pub next_row: Option<Scope>,
    /// The parts of the window, as they were drawn.
    pub parts: Vec<Part>,
    /// Which part is to have the keyboard: the next one or the one before.
    pub wants_part: Option<isize>,
    pub(super) acts: Vec<Action>,
}

/// A part of the window that the keyboard goes to at once; within it Tab goes on.
#[derive(Debug, Clone, Copy)]
pub struct Part {
    /// Its head, which has the keyboard first.
    pub id: Id,
    /// Where it stands.
    pub rect: Rect,
}

impl Scene<'_> {
    /// The show as the work has it.
    pub fn show(&self) -> &Show {
        self.work.show()
    }

    /// What is known now of the orders on the wall.
    pub fn known_of_wall(&self) -> Option<&Arc<Known>> {
        if self.view.basis.is_plain() { self.known.as_ref() } else { self.judged.as_ref() }
    }

    /// What matters, as long as it is of the chain as it is, where the wall looks at it.
    pub fn matters<'a>(&self, known: &'a Known) -> Option<&'a Matters> {
        let gathered = known.looks.as_ref()?;
        let is_of_place = gathered.of_output == self.view.wall_of_output || self.view.scope == Scope::Global;
        let is_now = match &known.on_pieces {
            Some(_) => self.judged.as_ref().is_some_and(|now| now.revision == known.revision),
            None => self.known.as_ref().is_some_and(|now| now.is_about(&known.path)),
        };
        gathered.matters.as_ref().filter(|matters| matters.is_of_now && is_of_place && is_now)
    }

    /// The address of a scope, as it is shown.
    pub fn address(&self, scope: Scope) -> String {
        shown_of(self.show(), scope)
    }

    /// What stands for the section that is looked at, in front of what is said of the picture.
    pub fn section_said(&self) -> Option<String> {
        let section = self.view.section.and_then(|at| self.show().sections.get(at.section))?;
        Some(widgets::name(&section.name))
    }

    /// Asks for something; it is done once the pass is drawn.
    pub fn act(&mut self, action: Action) {
        self.acts.push(action);
    }

    /// Whether it is proved that the picture stays the same if a card is moved to a gap.
    pub fn is_same_if_moved(&self, from: Spot, into: Spot) -> bool {
        let is_here = from.scope == self.view.scope && from.scope == into.scope;
        let Some(known) = self.known.as_ref().filter(|_| is_here) else { return false };
        let effects = known.path.chain.len();
        if from.at >= effects || into.at > effects {
            return false;
        }
        match self.view.carried(from, into) {
            Edit::Move { .. } => known.is_same(&moved(effects, &[from.at], into.at)),
            Edit::Carry(carry) if !carry.copies => known.is_same(&moved(effects, &carry.places, into.at)),
            _ => false,
        }
    }

    /// The chain in words as it would be if a card were moved to a gap.
    pub fn names_if_moved(&self, from: Spot, into: Spot) -> String {
        match self.view.carried(from, into).applied(self.work.show()) {
            Ok((show, _)) => {
                let names = widgets::labels(show.chain(into.scope));
                let same = if self.is_same_if_moved(from, into) { " (same picture)" } else { "" };
                format!(
                    "{}: {}{same}",
                    shown_of(&show, into.scope),
                    one_after_another(names.iter().map(String::as_str))
                )
            }
            Err(error) => shown_error(&error.to_string()),
        }
    }

    /// Whether an effect is on as hands have it.
    pub fn is_on(&self, Spot { scope, at }: Spot) -> bool {
        let seen = self.seen_at_rest.scopes().contains(&scope).then(|| self.seen_at_rest.chain(scope));
        seen.unwrap_or(self.show().chain(scope)).get(at).is_some_and(|used| used.on)
    }

    /// A scope's chain in words: the effects that are on.
    pub fn said_chain(&self, scope: Scope) -> String {
        let chain = self.stand.chain(scope);
        let labels = widgets::labels(chain);
        let is_on = |at: &usize| self.is_on(Spot { scope, at: *at });
        let on = (0..chain.len()).filter(is_on).map(|at| labels[at].as_str());
        let hidden = if self.stand.lies_hidden(scope) { " (hidden)" } else { "" };
        format!("{}{hidden}: {}", self.address(scope), one_after_another(on))
    }

    /// The bundle, level or clip whose row has the keyboard; while a dialog has it, the one selected.
    pub fn part_in_hand(&self) -> Option<Scope> {
        let scope = self.view.scope;
        let is_in_hand = self.row == Some(scope) || self.view.dialog.is_some();
        (is_in_hand && self.view.selected.is_none() && scope != Scope::Global).then_some(scope)
    }

    /// What is tried, and what would be, in words; nothing while nothing is.
    pub fn tried_said(&self) -> Option<[String; 2]> {
        let said = |tried: &str, said: String| Some([tried.to_owned(), said]);
        if let Some((from, into)) = self.view.drag {
            return said("If dropped here:", self.names_if_moved(from, into));
        }
        let show = self.work.show();
        if let Some(dragged) = self.view.dragged() {
            return said(
                "If dropped here:",
                match dragged.applied(show) {
                    Ok((moved, _)) if moved == **show => "as it was".to_owned(),
                    Ok((_, step)) => step,
                    Err(error) => shown_error(&error.to_string()),
                },
            );
        }
        let preview = self.view.preview.as_ref()?;
        if let Tried::Edit(edit) = &preview.tried
            && let Err(error) = edit.applied(show)
        {
            return said("Preview:", shown_error(&error.to_string()));
        }
        let still = if self.holds_preview { " (still: it may flash)" } else { "" };
        said("Preview:", shown(&format!("{}{still}", preview.said)).into_owned())
    }

    /// Has what would be tried for as long as something has the pointer, or the keyboard.
    pub fn point(&mut self, response: &Response, preview: impl FnOnce(&mut Self) -> Option<Preview>) {
        let by = match (response.hovered(), response.has_focus()) {
            (true, _) => By::Pointer,
            (false, true) => By::Keyboard,
            (false, false) => return,
        };
        if self.pointed.as_ref().is_none_or(|pointed| pointed.by < by) {
            self.pointed = Some(Pointed { id: response.id, preview: preview(self), by });
        }
    }

    /// Has what would be tried for as long as the keys have chosen it in a list.
    pub fn choose(&mut self, id: Id, preview: impl FnOnce(&mut Self) -> Option<Preview>) {
        if self.pointed.is_none() {
            self.pointed = Some(Pointed { id, preview: preview(self), by: By::Keyboard });
        }
    }

    /// Has what would be tried for as long as something is carried over a place that takes it.
    pub fn carry_over(&mut self, preview: Preview) {
        let id = Id::unique("carried");
        self.pointed = Some(Pointed { id, preview: Some(preview), by: By::Carried });
    }

    /// The gap into which the next effect goes: over the one selected, or at the end.
    pub fn spot_to_add(&self) -> Spot {
        let scope = self.view.scope;
        let end = self.show().chain(scope).len();
        Spot { scope, at: self.view.places().last().map_or(end, |at| (at + 1).min(end)) }
    }

    /// An order of a chain as it stands, by its effects.
    pub fn row(&self, scope: Scope, order: &[usize]) -> Row {
        Row::of(self.show().chain(scope), scope, order)
    }

    /// Compares what is in the large picture with something else; the one on the left stays where two are compared.
    pub fn compare(&mut self, right: Side) {
        let (left, way) = match self.view.shown.clone() {
            Shown::Order { scope, order } => (Side::Order { scope, order }, Comparing::Beside),
            Shown::Found(row) => (Side::Kept { row, name: "found".to_owned() }, Comparing::Beside),
            Shown::Pair(pair) => (pair.left, pair.way),
            Shown::Output | Shown::After(_) => (Side::current(self.show(), right.scope()), Comparing::Beside),
        };
        self.act(if left == right {
            Action::Say("That is in the large picture itself: choose another one.".to_owned())
        } else {
            Action::Show(Shown::Pair(Pair { left, right, way }))
        });
    }

    /// A pin as one of two that are compared.
    pub fn side_of(&self, pin: &Pin) -> Side {
        let mut chain = pin.chain.clone();
        write_marks(&mut chain);
        Side::Kept { row: FoundRow::on(pin.scope, chain), name: pin.called() }
    }

    /// What adopts one of two that are compared.
    pub fn adopts(&self, side: &Side) -> Action {
        match side {
            Side::Order { .. } => Action::Adopt(side.row(self.show())),
            Side::Kept { row, name } => Action::Edit(row.put_in_place(name)),
        }
    }

    /// How far two pictures are apart; nothing while it is being measured.
    pub fn apart(&mut self, two: &Two, ctx: &Context) -> Option<Result<Difference, String>> {
        let gpu = self.pictures.gpu()?;
        let ctx = ctx.clone();
        self.apart.get_or_insert_with(|| Apart::new(gpu.sibling(), move || ctx.request_repaint())).of(two)
    }

    /// The show with a pinned chain in place.
    pub fn pinned(&self, at: usize) -> Option<Arc<Show>> {
        self.pinned.get(at).cloned().flatten()
    }
}

/// What is pointed at in a pass: the large picture shows what it would make.
#[derive(Debug, Clone)]
pub struct Pointed {
    /// Which thing.
    pub id: Id,
    /// What it would make; nothing where that is not known yet, or is in the large picture already.
    pub preview: Option<Preview>,
    pub by: By,
}

/// By what something is pointed at; the last is asked first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum By {
    Keyboard,
    Pointer,
    /// Something is carried over a place that takes it.
    Carried,
}

impl By {
    /// Whether it is shown at once: whoever carries something has chosen it.
    pub fn is_carried(self) -> bool {
        self == Self::Carried
    }
}

/// What the wall's panel tells of the wall as it was drawn.
#[derive(Debug, Clone, Copy, Default)]
pub struct WallSeen {
    /// Where its pictures stand.
    pub rect: Option<Rect>,
    /// Whether one of them has the keyboard.
    pub has_focus: bool,
}

/// The order in which the effects stand once those at `from`, rising, are moved to the gap before `into`.
pub(super) fn moved(effects: usize, from: &[usize], into: usize) -> Vec<usize> {
    let mut order: Vec<usize> = (0..effects).filter(|at| !from.contains(at)).collect();
    let under = from.iter().filter(|&&at| at < into).count();
    let at = (into - under).min(order.len());
    order.splice(at..at, from.iter().copied());
    order
}

/// The address of a scope, as panels show it.
pub fn shown_of(show: &Show, scope: Scope) -> String {
    shown(&show.address(scope)).into_owned()
}
