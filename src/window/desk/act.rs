//! What happens when a panel asks for something.

use std::sync::Arc;

use super::Desk;
use crate::base::shown::shown_error;
use crate::edit::{ClipEdit, Edit, Spot, Work};
use crate::files::Document;
use crate::order::{Condition, marks};
use crate::show::name::check_name;
use crate::show::{ClipPlace, Scope, Show};
use crate::window::action::{Action, Dialog, Pin};
use crate::window::lesson_room::LessonAct;
use crate::window::playing::HandAct;
use crate::window::preferences::{Preferences, TEXT_PERCENT, TILE_PERCENT};
use crate::window::shelves::{LibraryAct, Outcome};
use crate::window::showing::{Row, Shown, Tab};
use crate::window::view::clip_on_the_way;

impl Desk {
    /// Does what a panel asks for; where that would lose work, asks first.
    pub fn act(&mut self, action: Action) {
        if action.leaves_the_work() && self.work.is_changed() && self.can_begin(&action) {
            self.view.dialog = Some(Dialog::Losing(Box::new(action)));
        } else {
            self.carry_out(action);
        }
    }

    /// Whether there is anything to ask about: a file that does not open says so at once.
    fn can_begin(&self, action: &Action) -> bool {
        match action {
            Action::Open(path) => Work::open(path, &self.catalogue).is_ok(),
            _ => true,
        }
    }

    fn carry_out(&mut self, action: Action) {
        // What is selected has the settings, not the section any more.
        let selects = matches!(
            action,
            Action::Select(_)
                | Action::SelectToo(_)
                | Action::SelectTo(_)
                | Action::Scope(_)
                | Action::Path(_)
        );
        self.view.section_settings &= !selects;
        match action {
            Action::Edit(Edit::Clip(place, ClipEdit::Footage(footage))) => self.take_footage(place, footage),
            Action::Edit(edit) => self.edit(&edit),
            Action::EndRun => self.work.end_run(),
            Action::Undo => self.step(Work::undo, "Nothing to undo."),
            Action::Redo => self.step(Work::redo, "Nothing to redo."),
            Action::GoTo(steps) => self.go_to(steps),
            Action::Select(spot) => self.select(spot.scope, Some(spot.at)),
            Action::SelectToo(spot) => self.select_too(spot),
            Action::SelectTo(spot) => self.select_to(spot),
            Action::Copy => self.copy(),
            Action::Cut => self.cut(),
            Action::Paste(text) => self.paste(&text),
            Action::Scope(scope) => self.select(scope, None),
            Action::Path(place) => self.take_path(place),
            Action::Show(shown) => self.view.shown = shown,
            Action::Adopt(row) => self.adopt(&row),
            Action::LayWall => self.on_wall.is_asked = true,
            Action::Drag(drag) => self.drag(drag),
            Action::DragCopies(copies) => self.view.drags_copies = copies,
            Action::DragPart(part) => self.drag_part(part),
            Action::Alone(alone) => self.view.alone = alone,
            Action::ShowStructure(shows) => self.prefer(|preferences| preferences.hides_structure = !shows),
            Action::RenameHere(scope) => self.view.renaming = scope,
            Action::ChooseFiles(into) => self.choose_files(into),
            Action::AddFile(into, path) => self.add_file(into, path),
            Action::Play(playing) => self.view.playing = playing,
            Action::Beats(beats) => self.view.beats = beats,
            Action::StepFrames(frames) => self.step_frames(frames),
            Action::Hand(act) => self.hand(&act),
            Action::Lesson(act) => self.lesson(&act),
            Action::Tap => self.take_tap(),
            Action::Loop(beats) => self.set_loop(beats),
            Action::Tab(tab) => self.show_tab(tab),
            Action::WallOfOutput(output) => self.view.wall_of_output = output,
            Action::FlashesOfOrders => self.view.flashes_of_orders = true,
            Action::TryAgain => self.try_again(),
            Action::WallBy(by) => self.view.wall_by = by,
            Action::Judge(basis) => self.view.basis = basis,
            Action::Find(act) => self.find(act),
            Action::Require(condition) => self.require(condition),
            Action::Release(at) => self.release(at),
            Action::Pin(pin) => self.pin(pin),
            Action::Unpin(at) => self.unpin(at),
            Action::RenamePin(at) => self.view.renaming_pin = at,
            Action::NamePin(at, name) => self.name_pin(at, name),
            Action::Ask(dialog) => self.view.dialog = Some(dialog),
            Action::Close => self.close_dialog(),
            Action::Open(path) => self.open(&path),
            Action::TakeFiles(paths) => paths.into_iter().for_each(|path| self.take_file(path)),
            Action::OpenPreset(name) => self.open_preset(&name),
            Action::TakeChain(scope, name) => self.take_chain(scope, &name),
            Action::Section(act) => self.section(act),
            Action::Library(act) => self.library(act),
            Action::Save => self.save(),
            Action::SaveThen(next) => self.save_then(next),
            Action::Replace(path) => self.replace(&path),
            Action::Write(saving, path) => self.write(saving, &path),
            Action::Recover(takes) => self.recover(takes),
            Action::Quit => self.quit(),
            Action::Lose(next) => self.lose_for(*next),
            Action::Theme(theme) => self.prefer(|preferences| preferences.theme = theme),
            Action::TextSize(percent) => self.set_text_size(percent),
            Action::Size(edge, points) => self.view.preferences.sizes.set(edge, points),
            Action::TileSize(percent) => self.set_tile_size(percent),
            Action::KeepSizes => self.keep_preferences(),
            Action::GiveUpExport => self.give_up_export(),
            Action::Blink(blinking) => self.view.blinking = blinking,
            Action::Wipe(share) => self.view.wipe = share.clamp(0.0, 1.0),
            Action::Detail(detail) => self.view.detail = detail,
            Action::Zoom(zoom) => self.view.zoom = zoom,
            Action::Look { zoom, centre } => (self.view.zoom, self.view.centre) = (Some(zoom), centre),
            Action::Fill(fills) => self.view.fills = fills,
            Action::Second(is_open) => self.open_second(is_open),
            Action::Black(black) => self.view.black = black,
            Action::Say(text) => self.view.said = text,
        }
    }

    fn go_to(&mut self, steps: usize) {
        let before = Arc::clone(self.work.show());
        self.work.go_to(steps);
        self.follow(&before);
    }

    /// Looks at another clip, and at the scope on its way that is like the current one.
    fn take_path(&mut self, place: ClipPlace) {
        self.view.clip = place;
        self.view.shown = Shown::Output;
        self.select(place.scope_like(self.view.scope), None);
    }

    fn drag(&mut self, drag: Option<(Spot, Spot)>) {
        match drag {
            Some((from, _)) if !self.view.is_selected(from) => self.select(from.scope, Some(from.at)),
            Some(_) => {}
            None => self.view.drags_copies = false,
        }
        self.view.drag = drag;
    }

    fn drag_part(&mut self, part: Option<(Scope, Scope)>) {
        if let Some((what, _)) = part.filter(|_| self.view.part.is_none()) {
            self.select(what, None);
        }
        self.view.part = part;
    }

    fn hand(&mut self, act: &HandAct) {
        // Nothing is played along to a beat that stands.
        if *act == HandAct::Record(true) {
            self.view.playing = true;
        }
        let looped = self.view.looped.map(f64::from);
        if let Some(problem) = self.hands.act(act, self.work.show(), self.view.beats, looped) {
            self.report("The device was not opened", &problem);
        }
        if *act == HandAct::Record(false) {
            self.view.playing = false;
        }
    }

    fn lesson(&mut self, act: &LessonAct) {
        if *act == LessonAct::Try {
            self.try_lesson();
        } else if let Err(error) = self.lessons.act(act) {
            self.view.said = error.to_string();
        }
    }

    fn show_tab(&mut self, tab: Tab) {
        self.view.tab = tab;
        self.prefer(|preferences| preferences.tab = tab);
    }

    fn try_again(&mut self) {
        self.prover.try_again();
        if let Some(judge) = &mut self.judge {
            judge.try_again();
        }
        self.shelves.thumbnails.try_again();
        if let Some(watcher) = &mut self.watcher {
            watcher.try_again();
        }
    }

    fn require(&mut self, condition: Condition) {
        if !self.view.conditions.contains(&condition) {
            self.view.conditions.push(condition);
        }
    }

    fn release(&mut self, at: usize) {
        if at < self.view.conditions.len() {
            self.view.conditions.remove(at);
        }
    }

    fn pin(&mut self, pin: Pin) {
        self.view.pins.push(pin);
        self.view.said = "Pinned: it stays under Pins, whatever you change.".to_owned();
        self.keep_pins();
    }

    fn unpin(&mut self, at: usize) {
        if at < self.view.pins.len() {
            self.view.pins.remove(at);
            self.view.renaming_pin = None;
            self.seen.pins.clear();
            self.keep_pins();
        }
    }

    fn name_pin(&mut self, at: usize, name: String) {
        if let Err(fault) = check_name(&name)
            && !name.is_empty()
        {
            self.view.said = format!("Not renamed: the name {fault}.");
        } else if let Some(pin) = self.view.pins.get_mut(at) {
            pin.name = name;
            self.keep_pins();
        }
    }

    fn close_dialog(&mut self) {
        self.view.dialog = self.view.back_to.take();
        if self.view.dialog.is_none() {
            self.view.after_saving = None;
        }
    }

    fn give_up_export(&mut self) {
        match self.exports.on_the_way() {
            Some(_) => self.exports.give_up(),
            None => self.view.said = "No export is on its way.".to_owned(),
        }
    }

    /// Does what was asked for although the work on the desk is lost by it.
    fn lose_for(&mut self, next: Action) {
        self.view.dialog = None;
        self.carry_out(next);
    }

    fn set_text_size(&mut self, percent: u32) {
        let [low, high] = TEXT_PERCENT;
        if !(low..=high).contains(&percent) {
            self.view.said = format!("Text takes {low} % to {high} % of its usual size.");
        }
        self.prefer(|preferences| preferences.text_percent = percent.clamp(low, high));
    }

    fn set_tile_size(&mut self, percent: u32) {
        let [low, high] = TILE_PERCENT;
        self.view.preferences.tile_percent = percent.clamp(low, high);
    }

    /// Puts a chain into an order: the one that was pressed, or none.
    pub(super) fn adopt(&mut self, row: &Row) {
        let Row { scope, .. } = *row;
        let show = Arc::clone(self.work.show());
        let order = show.scopes().contains(&scope).then(|| row.in_chain(show.chain(scope))).flatten();
        match order {
            Some(order) => {
                self.edit(&Edit::Order { scope, order });
                self.view.shown = Shown::Output;
            }
            None => {
                self.view.said = "Not adopted: the chain has other effects or settings by now.".to_owned();
            }
        }
    }

    pub(super) fn edit(&mut self, edit: &Edit) {
        if let Some(why) = self.held_by_rehearsal(edit) {
            self.view.said = format!("Not done: {why}.");
            return;
        }
        let of_section = self.in_section(edit);
        let edit = of_section.as_ref().unwrap_or(edit);
        let before = Arc::clone(self.work.show());
        match self.work.apply(edit) {
            Ok(()) => {
                self.view.said.clear();
                if of_section.is_some()
                    && let Some(step) = self.work.history().done().last()
                {
                    self.view.said = format!("In this section alone: {}.", step.name);
                }
                self.follow_scopes(&before);
                self.keep_also(&before);
                self.select_edited(edit);
                if let Some(lands) = edit.lands(self.work.show()) {
                    self.select(lands, None);
                }
            }
            Err(error) => self.view.said = format!("Not done: {error}."),
        }
        self.seen.pins.clear();
    }

    pub(super) fn step(&mut self, take: fn(&mut Work) -> bool, nothing: &str) {
        let before = Arc::clone(self.work.show());
        self.view.said = if take(&mut self.work) { String::new() } else { nothing.to_owned() };
        self.follow(&before);
        self.seen.pins.clear();
    }

    /// Stays with the effect that was selected, wherever a step has taken it.
    pub(super) fn follow(&mut self, before: &Show) {
        let (scope, selected) = (self.view.scope, self.view.selected);
        self.follow_scopes(before);
        let Some(at) = selected.filter(|_| before.scopes().contains(&scope)) else { return };
        let Some(used) = before.chain(scope).get(at) else { return };
        let show = Arc::clone(self.work.show());
        let mark = marks(before.chain(scope)).of(at);
        let place = |scope: Scope| {
            let (chain, marks) = (show.chain(scope), marks(show.chain(scope)));
            let is_it = |&at: &usize| chain[at].is_alike(used);
            let marked = (0..chain.len()).find(|at| marks.of(*at) == mark && is_it(at));
            Some((scope, marked.or_else(|| (0..chain.len()).find(is_it))?))
        };
        let is_there = |scope: &Scope| show.scopes().contains(scope);
        let own = Some(self.view.scope).filter(is_there).and_then(place);
        if let Some((scope, at)) = own.or_else(|| show.scopes().into_iter().find_map(place)) {
            self.select(scope, Some(at));
        }
    }

    pub(super) fn select(&mut self, scope: Scope, at: Option<usize>) {
        if !self.view.path().contains(&scope) {
            self.view.clip = clip_on_the_way(self.work.show(), scope);
        }
        if scope != self.view.scope && !matches!(self.view.shown, Shown::Output | Shown::After(_)) {
            self.view.shown = Shown::Output;
        }
        self.view.scope = scope;
        self.view.selected = at;
        self.view.also.clear();
    }

    pub(super) fn prefer(&mut self, change: impl FnOnce(&mut Preferences)) {
        let before = self.view.preferences;
        change(&mut self.view.preferences);
        if before != self.view.preferences {
            self.keep_preferences();
        }
    }

    fn keep_preferences(&mut self) {
        if let Some(folder) = &self.folders.config
            && let Err(error) = self.view.preferences.keep(folder)
        {
            self.view.said = error.to_string();
        }
    }

    pub(super) fn report(&mut self, title: &str, text: &str) {
        self.view.back_to = None;
        let (title, text) = (shown_error(title), shown_error(text));
        self.view.dialog = Some(Dialog::Report { title, text });
    }

    pub(super) fn take_chain(&mut self, scope: Scope, name: &str) {
        match Work::preset(name, &self.catalogue) {
            Ok(Some(work)) => {
                let chain = work.show().chain(work.first_scope()).clone();
                self.edit(&Edit::Chain { scope, chain, name: name.to_owned() });
            }
            Ok(None) => self.view.said = format!("There is no preset named {name}."),
            Err(error) => self.report("This chain was not taken", &error.to_string()),
        }
    }

    pub(super) fn library(&mut self, act: LibraryAct) {
        if act == LibraryAct::ChooseFolder {
            return self.choose_folder();
        }
        let outcome = self.shelves.act(act, &self.work, &self.catalogue);
        self.sections.forget_chains();
        self.take_outcome(outcome);
    }

    /// Does what comes of something done with the library.
    pub(super) fn take_outcome(&mut self, outcome: Outcome) {
        match outcome {
            Outcome::Shown => {}
            Outcome::Done(text) => self.view.said = text,
            Outcome::Edit(edit, said) => {
                self.edit(&edit);
                if self.view.said.is_empty() {
                    self.view.said = said;
                }
            }
            Outcome::Begin(work) => {
                self.take_up(*work);
                self.view.said = "A show begun from a starter: it has no file yet.".to_owned();
            }
            Outcome::Refused(why) => self.report("The library is as it was", &why),
        }
    }

    /// Puts the show of the lesson that is open on the desk, held at its beat; it is in no file yet.
    pub(super) fn try_lesson(&mut self) {
        let Some(lesson) = self.lessons.lesson() else { return };
        let picture = lesson.pictures[lesson.next.picture].clone();
        self.take_up(Work::new(Document::Show((*picture.show).clone()), None));
        self.select(picture.scope, Some(0));
        self.view.beats = picture.beats;
        self.view.follow(self.work.show());
    }
}
