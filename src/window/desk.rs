//! The desk: the work, the view of it, and what happens when a panel asks for something.

use std::path::{self, Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

use egui::{CentralPanel, Frame as Margins, Panel, Rect, Ui};

use super::panels::flash::{FlashWatcher, Flashes};
use super::panels::hands::{HandsSeen, Playing};
use super::panels::lessons::{LessonAct, LessonRoom};
use super::panels::{bar, hands, lessons, library, picture, ribbon, settings, sheets, swaps, wall};
use super::pictures::Pictures;
use super::preferences::{Preferences, TEXT_PERCENT};
use super::shelves::{LibraryAct, Outcome, Shelves};
use super::threads::export::{Export, Exported, Exports, OnTheWay, file_name};
use super::threads::own_effects::EffectsWatcher;
use super::threads::prover::{Candidate, Known, LookQuestion, Prover};
use super::view::{Action, Dialog, Pair, Row, Saving, Shown, Tab, View, WallBy, clip_on_the_way};
use super::{keys, theme, widgets};
use crate::base::frame::Frame;
use crate::base::place::listed;
use crate::base::shown::{shown, shown_error};
use crate::beat::{Beats, Moment, Tap, Transport};
use crate::catalogue::{Catalogue, Effect};
use crate::edit::{Edit, Form, Pins, RecentFiles, Recovered, Recovery, Spot, TimeEdit, Work};
use crate::files::{Document, Made, Permit, Taken};
use crate::footage::Shelf;
use crate::library::LibraryError;
use crate::order::{Condition, marks};
use crate::output::orders_wall::quoted;
use crate::show::chain::{labels, said};
use crate::show::clip::{Fit, FootageName, Play};
use crate::show::{Clip, Scope, Show};
use crate::trial::troubles;
use crate::{files, plan, show};

/// Changes are kept aside when this long has passed without another.
const KEEP_AFTER: Duration = Duration::from_millis(1500);
/// The largest frame on which a software adapter tells looks apart.
const LOOKED_AT: Frame = Frame { width: 320, height: 180 };
/// Flashes are counted when the work has not changed for this long.
const RESTS_AFTER: Duration = Duration::from_millis(600);
/// How often footage that is being opened is looked at.
const LOOKS_AT_ARRIVALS: Duration = Duration::from_millis(100);
/// Texels that a software adapter is given for one picture; more would make the window slow.
const SOFTWARE_TEXELS: u64 = 640 * 400;

/// What panels are given to draw, and where they put what they ask for.
pub struct Scene<'a> {
    /// The work.
    pub work: &'a Work,
    /// The view.
    pub view: &'a View,
    /// Every effect and source.
    pub catalogue: &'a Catalogue,
    /// Makes pictures.
    pub pictures: &'a mut Pictures,
    /// The show that the large picture and the path show: while a card is dragged, as it would be.
    pub seen: Arc<Show>,
    /// The show without a card being dragged, the clip of the path showing.
    pub seen_at_rest: Arc<Show>,
    /// When, and at what size.
    pub moment: Moment,
    /// What is known of the orders of the chain on the wall, as it is now and at the beat at which it is held:
    /// nothing for as long as only an earlier state of it is known, or time goes on.
    pub known: Option<Arc<Known>>,
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
    /// The export that is on its way.
    pub export: Option<OnTheWay>,
    /// What is known of the library.
    pub shelves: &'a mut Shelves,
    /// What is wrong with effects of the person's own.
    pub effect_troubles: &'a [String],
    acts: Vec<Action>,
}

impl Scene<'_> {
    /// The show as the work has it.
    pub fn show(&self) -> &Show {
        self.work.show()
    }

    /// The address of a scope, as it is shown.
    pub fn address(&self, scope: Scope) -> String {
        shown_of(self.show(), scope)
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
        known.is_same(&moved(effects, from.at, into.at))
    }

    /// The chain in words as it would be if a card were moved to a gap.
    pub fn names_if_moved(&self, from: Spot, into: Spot) -> String {
        match (Edit::Move { from, into }).applied(self.work.show()) {
            Ok((show, _)) => {
                let names = widgets::labels(show.chain(into.scope));
                let same = if self.is_same_if_moved(from, into) { " (same picture)" } else { "" };
                format!("{}: {}{same}", shown_of(&show, into.scope), said(names.iter().map(String::as_str)))
            }
            Err(error) => shown_error(&error.to_string()),
        }
    }

    /// The gap into which the next effect goes: over the one selected, or at the end.
    pub fn spot_to_add(&self) -> Spot {
        let scope = self.view.scope;
        let end = self.show().chain(scope).len();
        Spot { scope, at: self.view.selected.map_or(end, |at| (at + 1).min(end)) }
    }

    /// An order of a chain as it stands, by its effects.
    pub fn row(&self, scope: Scope, order: &[usize]) -> Row {
        Row::of(self.show().chain(scope), scope, order)
    }

    /// The show with a pinned chain in place.
    pub fn pinned(&self, at: usize) -> Option<Arc<Show>> {
        self.pinned.get(at).cloned().flatten()
    }
}

/// The order in which the effects stand once the one at `from` is moved to the gap before `into`.
fn moved(effects: usize, from: usize, into: usize) -> Vec<usize> {
    let mut order: Vec<usize> = (0..effects).collect();
    let one = order.remove(from);
    order.insert(if from < into { into - 1 } else { into }, one);
    order
}

/// A clip of a generated source, named after it.
pub fn generated_clip(source: &str) -> Clip {
    Clip {
        name: source.to_owned(),
        footage: FootageName::Generated(source.to_owned()),
        fit: Fit::default(),
        play: Play::default(),
        chain: Vec::new(),
    }
}

/// Shows made of the work's for the view, kept for as long as both are the same.
#[derive(Default)]
struct Seen {
    of: Option<(Arc<Show>, (usize, usize, usize))>,
    at_rest: Option<Arc<Show>>,
    drag: Option<(Spot, Spot)>,
    dragged: Option<Arc<Show>>,
    pins: Vec<Option<Arc<Show>>>,
}

/// What the window is to do after a pass.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Next {
    /// Pictures are on the way.
    pub is_making: bool,
    /// Time goes on.
    pub is_playing: bool,
    /// Changes wait to be kept aside.
    pub is_keeping: bool,
    /// The window is to close.
    pub is_over: bool,
}

/// Folders for what is remembered between runs; nothing is where there is none.
#[derive(Debug, Clone, Default)]
pub struct Folders {
    /// For work kept aside and recent files.
    pub state: Option<PathBuf>,
    /// For preferences.
    pub config: Option<PathBuf>,
    /// For what a person keeps from show to show.
    pub data: Option<PathBuf>,
}

/// The work and the view of it.
pub struct Desk {
    catalogue: Catalogue,
    work: Work,
    view: View,
    pictures: Pictures,
    prover: Prover,
    seen: Seen,
    exports: Exports,
    folders: Folders,
    shelves: Shelves,
    recent: RecentFiles,
    recovery: Option<Recovery>,
    recovered: Vec<Recovered>,
    /// The pins, as they are kept with the work.
    pins: Pins,
    /// The show kept aside last, and since when there is a newer one.
    kept: Option<Arc<Show>>,
    changed_at: Option<Instant>,
    /// Beats that the pictures of this pass are of: they move on once all that is urgent is made.
    beats: f64,
    last_time: f64,
    asked: usize,
    wants_pairs: bool,
    is_over: bool,
    /// Where the beat stands, in exact fractions: nothing drifts, however long it is played.
    transport: Transport,
    tap: Tap,
    hands: Playing,
    watcher: Option<FlashWatcher>,
    /// The show that was last seen, and since when: flashes are counted once it rests.
    rests: Option<(Arc<Show>, Instant)>,
    on_wall: OnWall,
    effects_watcher: Option<EffectsWatcher>,
    effect_troubles: Vec<String>,
    /// Footage taken lately that is still being opened.
    arriving: Vec<(FootageName, Play)>,
    lessons: LessonRoom,
}

/// What the wall's panel tells of the wall as it was drawn.
#[derive(Debug, Clone, Copy, Default)]
pub struct WallSeen {
    /// Where its pictures stand.
    pub rect: Option<Rect>,
    /// Whether one of them has the keyboard.
    pub has_focus: bool,
}

/// The orders on the wall. They stay as they are while someone is about to press one.
#[derive(Default)]
struct OnWall {
    laid: Option<Laid>,
    seen: WallSeen,
    /// Whether the person asked for what is known by now.
    is_asked: bool,
}

struct Laid {
    scope: Scope,
    known: Arc<Known>,
    by: WallBy,
    of_output: bool,
    conditions: Vec<Condition>,
    candidates: Arc<Vec<Candidate>>,
}

impl OnWall {
    /// Whether someone may be about to press a picture, or looks at one: then nothing moves.
    fn is_held(&self, view: &View, ctx: &egui::Context) -> bool {
        let pointer = ctx.input(|input| input.pointer.latest_pos());
        let is_under = self.seen.rect.zip(pointer).is_some_and(|(rect, pointer)| rect.contains(pointer));
        let is_open = match &view.shown {
            Shown::Order { scope, .. } => *scope == view.scope,
            Shown::Pair(pair) => pair.scope == view.scope,
            Shown::Output | Shown::After(_) => false,
        };
        let has_menu = self.seen.rect.is_some() && egui::Popup::is_any_open(ctx);
        is_under || is_open || has_menu || self.seen.has_focus
    }

    /// Lays the wall out for this path: from what is known of it now, unless it is held. Gives whether more is
    /// known than it shows.
    fn lay(
        &mut self,
        path: Option<&plan::Path>,
        known: Option<&Arc<Known>>,
        view: &View,
        is_held: bool,
    ) -> bool {
        let is_of =
            |laid: &Laid| laid.scope == view.scope && path.is_some_and(|path| laid.known.is_like(path));
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
        let of_look = match &view.wall_by {
            WallBy::Look(order) => known.look_of(order),
            WallBy::Looks | WallBy::Orders => None,
        };
        let by_look = view.wall_by == WallBy::Looks;
        let candidates = known.candidates(by_look, of_look, &view.conditions);
        if let Some(laid) = before.filter(|_| is_held) {
            let orders = |all: &[Candidate]| all.iter().map(|one| one.order.clone()).collect::<Vec<_>>();
            if orders(&laid.candidates) != orders(&candidates) {
                return true;
            }
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

impl Desk {
    /// A desk with work on it.
    pub fn new(
        work: Work,
        catalogue: Catalogue,
        pictures: Pictures,
        prover: Prover,
        folders: Folders,
    ) -> Self {
        let (preferences, broken) = Preferences::read(folders.config.as_deref());
        let view = View { preferences, tab: preferences.tab, ..first_view(&work, &pictures) };
        let transport = Transport::new(work.show().rate, work.show().tempo_bpm);
        let mut desk = Self {
            recent: RecentFiles::read(folders.state.as_deref()),
            beats: view.beats,
            kept: Some(Arc::clone(work.show())),
            catalogue,
            work,
            view,
            pictures,
            prover,
            seen: Seen::default(),
            exports: Exports::default(),
            shelves: Shelves::in_folders(folders.data.clone(), folders.state.clone()),
            folders,
            recovery: None,
            recovered: Vec::new(),
            pins: Pins::default(),
            changed_at: None,
            last_time: 0.0,
            asked: 0,
            wants_pairs: false,
            is_over: false,
            transport,
            tap: Tap::default(),
            hands: Playing::default(),
            watcher: None,
            rests: None,
            on_wall: OnWall::default(),
            effects_watcher: None,
            effect_troubles: Vec::new(),
            arriving: Vec::new(),
            lessons: LessonRoom::default(),
        };
        desk.effect_troubles = troubles(&desk.catalogue);
        if let Some(broken) = broken {
            desk.view.said = broken.to_string();
        }
        let is_first_start = desk.recent.files().is_empty() && desk.work.file().is_none();
        desk.lessons = LessonRoom::new(desk.folders.state.as_deref(), is_first_start);
        let work = desk.work.clone();
        desk.take_pins(&work);
        desk.look_for_lost_work();
        if let Some(file) = desk.work.file().map(Path::to_owned) {
            desk.recent.note(&file);
        }
        desk
    }

    fn look_for_lost_work(&mut self) {
        let Some(folder) = self.folders.state.clone() else { return };
        for found in Recovery::found(&folder, &self.catalogue) {
            match found {
                Ok(found) => self.recovered.push(found),
                Err(error) => self.view.said = error.to_string(),
            }
        }
        match Recovery::begin(&folder) {
            Ok(recovery) => self.recovery = Some(recovery),
            Err(error) => self.view.said = error.to_string(),
        }
        if !self.recovered.is_empty() {
            self.view.dialog = Some(Dialog::Recover);
        }
    }

    /// The work.
    pub fn work(&self) -> &Work {
        &self.work
    }

    /// The view.
    pub fn view(&self) -> &View {
        &self.view
    }

    /// The hands on the show.
    pub fn hands(&mut self) -> &mut Playing {
        &mut self.hands
    }

    /// What is known of the library.
    pub fn shelves(&mut self) -> &mut Shelves {
        &mut self.shelves
    }

    /// Takes effects from the watcher from now on, as their files are saved.
    pub fn watch_effects(&mut self, watcher: EffectsWatcher) {
        self.effects_watcher = Some(watcher);
    }

    /// What is wrong with effects of the person's own: file, line and reason.
    pub fn effect_troubles(&self) -> &[String] {
        &self.effect_troubles
    }

    /// Every effect and source, as they are now.
    pub fn catalogue(&self) -> &Catalogue {
        &self.catalogue
    }

    /// Effects whose files have changed take the place of what they were, everywhere at once.
    fn take_effects(&mut self) {
        let Some(catalogue) = self.effects_watcher.as_mut().and_then(EffectsWatcher::take) else { return };
        let is_kept = self.kept.as_ref().is_some_and(|kept| Arc::ptr_eq(kept, self.work.show()));
        let mut told = self.work.rebind(&catalogue);
        if is_kept {
            self.kept = Some(Arc::clone(self.work.show()));
        }
        for pin in &mut self.view.pins {
            if let Some(chain) = show::rebound(&pin.chain, &catalogue, &mut Vec::new()) {
                pin.chain = chain;
            }
        }
        for found in &mut self.recovered {
            found.work.rebind(&catalogue);
        }
        self.pictures.take_catalogue(&catalogue);
        self.shelves.thumbnails.forget();
        self.seen = Seen::default();
        self.watcher = None;
        self.rests = None;
        self.effect_troubles = troubles(&catalogue);
        let is_same = |known: &Arc<Effect>| self.catalogue.own().any(|before| before.is_same(known));
        let changed: Vec<&str> =
            catalogue.own().filter(|known| !is_same(known)).map(|known| known.name.as_str()).collect();
        if !changed.is_empty() {
            told.insert(0, format!("Read again: {}", listed(changed)));
        }
        if !told.is_empty() {
            self.view.said = format!("{}.", told.join("; "));
        }
        self.catalogue = catalogue;
    }

    /// What makes the pictures.
    pub fn pictures(&mut self) -> &mut Pictures {
        &mut self.pictures
    }

    /// Why orders are not known, if something stands in the way.
    pub fn orders_problem(&self) -> Option<&str> {
        self.prover.problem()
    }

    /// What is known of the orders on the wall.
    pub fn known(&self) -> Option<&Known> {
        self.prover.last_known().map(Arc::as_ref)
    }

    /// Whether an answer about orders is on its way.
    pub fn is_asking(&self) -> bool {
        self.prover.is_asking()
            || self.shelves.is_busy()
            || self.watcher.as_ref().is_some_and(|watcher| self.is_waiting_for(watcher))
    }

    /// The orders on the wall, in the order in which they stand there.
    pub fn on_wall(&self) -> Vec<Candidate> {
        self.on_wall.laid.as_ref().map(|laid| laid.candidates.to_vec()).unwrap_or_default()
    }

    /// Draws one pass, and does what was asked for in it.
    pub fn ui(&mut self, ui: &mut Ui) {
        self.take_effects();
        self.pictures.begin_pass();
        self.move_time(ui);
        self.dress(ui.ctx());
        self.take_exports(ui.ctx());
        self.see_arrivals(ui.ctx());
        self.shelves.take_in(ui.ctx());
        if let Some(outcome) = self.shelves.keep_starters(ui.ctx()) {
            self.take_outcome(outcome);
        }
        let at_rest = self.seen_at_rest();
        if let Some(controls) = self.hands.listen(self.work.show(), self.view.beats, ui.ctx()) {
            self.edit(&Edit::Time(TimeEdit::Controls(controls)));
        }
        let at_rest = self.hands.applied(&at_rest);
        let hands_seen = self.hands.seen(self.work.show());
        let seen = self.seen_dragged(&at_rest);
        self.see_pins();
        let moment = self.view.moment(&at_rest, self.beats);
        // Orders are proved for the frame of the show, at the beat at which it is held.
        let whole = Moment { frame: at_rest.frame, ..moment };
        // Nothing is proved or measured of what only stands in for footage on its way.
        let is_stand_in = self.pictures.stands_in(&at_rest, self.view.scope, whole);
        let path = self.pictures.path(&at_rest, self.view.scope, whole).filter(|_| !is_stand_in);
        let playing = self.view.playing;
        let nothing = Flashes::default();
        if self.view.tab == Tab::Lessons {
            self.lessons.enter(&self.catalogue, self.folders.data.as_deref());
        }
        let Self { work, view, catalogue, pictures, prover, recent, watcher, lessons, shelves, .. } = self;
        // While time goes on, nothing is asked about: the wall keeps the orders of the moment at which it was held.
        let is_known = match &path {
            Some(path) if !playing => prover.known(path).is_some(),
            _ => false,
        };
        if is_known && view.tab == Tab::Orders {
            let of_output = view.wall_of_output;
            let is_software = pictures.gpu().is_some_and(|gpu| gpu.adapter().kind == "software");
            let most = if is_software { LOOKED_AT } else { whole.frame };
            let moment = Moment { frame: whole.frame.within(most), ..whole };
            let question = || {
                if pictures.stands_in(&at_rest, view.scope, moment) {
                    return None;
                }
                let path = pictures.path(&at_rest, view.scope, moment)?;
                let path = if of_output {
                    path
                } else {
                    Arc::new(plan::Path { after: Vec::new(), ..(*path).clone() })
                };
                Some(LookQuestion { path, of_output })
            };
            prover.look_for_looks(question, of_output);
        }
        if self.wants_pairs && is_known {
            prover.look_at_pairs();
        }
        let unknown = prover.problem().filter(|_| !playing).map(str::to_owned);
        let (proving, gathering) =
            if playing { (None, None) } else { (prover.proving(), prover.gathering()) };
        let known = prover.last_known().filter(|_| is_known).cloned();
        // What was known of the same effects stays on the wall until the answer is there.
        let wall_is_held = self.on_wall.is_held(view, ui.ctx());
        let wall_waits = self.on_wall.lay(path.as_deref(), known.as_ref(), view, wall_is_held);
        let laid = self.on_wall.laid.as_ref();
        let candidates = laid.map(|laid| Arc::clone(&laid.candidates)).unwrap_or_default();
        let laid = laid.map(|laid| Arc::clone(&laid.known));
        let is_laid_now =
            laid.as_ref().zip(known.as_ref()).is_some_and(|(laid, known)| laid.is_about(&known.path));
        let mut scene = Scene {
            work,
            view,
            catalogue,
            pictures,
            seen,
            seen_at_rest: Arc::clone(&at_rest),
            moment,
            known,
            laid,
            candidates,
            is_laid_now,
            wall_waits,
            wall_is_held,
            wall_seen: WallSeen::default(),
            unknown,
            proving,
            gathering,
            pinned: &self.seen.pins,
            recent: recent.files(),
            recovered: self.recovered.first().map(|found| describe(&found.work)),
            asked: self.asked,
            wants_pairs: false,
            hands: hands_seen,
            // Never those of another show beside this one's picture.
            flashes: match watcher {
                Some(watcher) if watcher.is_about(&at_rest) => watcher.known(),
                _ => &nothing,
            },
            wants_suggestions: false,
            orders_watched: Vec::new(),
            lessons,
            export: self.exports.on_the_way(),
            shelves,
            effect_troubles: &self.effect_troubles,
            acts: Vec::new(),
        };
        keys::act(ui.ctx(), &mut scene);
        panels(ui, &mut scene);
        sheets::show(ui.ctx(), &mut scene);
        let Scene { acts, wants_pairs, wants_suggestions, orders_watched, wall_seen, .. } = scene;
        self.on_wall.seen = wall_seen;
        let scope = self.view.scope;
        if let Some(watcher) = &mut self.watcher {
            if wants_suggestions {
                watcher.look_for_suggestions();
            }
            orders_watched.iter().for_each(|order| watcher.watch_order(scope, order));
        }
        let before = (Arc::clone(self.work.show()), self.view.scope);
        self.wants_pairs = wants_pairs;
        let has_acted = !acts.is_empty();
        for action in acts {
            self.act(action);
        }
        if has_acted {
            self.keep_conditions(&before);
            self.keep_shown(&before.0);
            self.view.follow(self.work.show());
            ui.ctx().request_repaint();
        }
        self.take_drops(ui);
        // Last, as answers about orders have been taken in by now.
        self.watch_flashes(ui, &at_rest);
    }

    /// Has flashes counted once the work has rested for a while and all pictures are there.
    fn watch_flashes(&mut self, ui: &Ui, show: &Arc<Show>) {
        if self.watcher.is_none() {
            let Some(gpu) = self.pictures.gpu() else { return };
            let ctx = ui.ctx().clone();
            let wake = move || ctx.request_repaint();
            self.watcher = Some(FlashWatcher::new(gpu.sibling(), self.catalogue.clone(), wake));
        }
        let since = match &self.rests {
            Some((rests, since)) if Arc::ptr_eq(rests, show) => *since,
            _ => {
                let now = Instant::now();
                self.rests = Some((Arc::clone(show), now));
                now
            }
        };
        let is_busy = self.view.playing
            || self.view.drag.is_some()
            || self.pictures.missing() > 0
            || self.pictures.is_loading()
            || self.prover.is_asking();
        let Some(watcher) = &mut self.watcher else { return };
        if watcher.is_about(show) {
            return;
        }
        watcher.forget();
        if is_busy {
            return;
        }
        match RESTS_AFTER.checked_sub(since.elapsed()) {
            Some(left) if !left.is_zero() => ui.ctx().request_repaint_after(left),
            _ => watcher.watch(show),
        }
    }

    /// Whether the flashes of the work are still to be counted.
    fn is_waiting_for(&self, watcher: &FlashWatcher) -> bool {
        let show = self.rests.as_ref().map(|(show, _)| show);
        !self.view.playing && (watcher.is_counting() || show.is_some_and(|show| !watcher.is_about(show)))
    }

    /// Theme and size of text, as the person set them.
    fn dress(&self, ctx: &egui::Context) {
        let preferences = &self.view.preferences;
        ctx.set_theme(preferences.theme.preference());
        let zoom = preferences.zoom(ctx.viewport_rect().size() * ctx.zoom_factor());
        if (zoom - ctx.zoom_factor()).abs() > 0.001 {
            ctx.set_zoom_factor(zoom);
        }
    }

    fn prefer(&mut self, change: impl FnOnce(&mut Preferences)) {
        let before = self.view.preferences;
        change(&mut self.view.preferences);
        if before == self.view.preferences {
            return;
        }
        if let Some(folder) = &self.folders.config
            && let Err(error) = self.view.preferences.keep(folder)
        {
            self.view.said = error.to_string();
        }
    }

    fn take_exports(&mut self, ctx: &egui::Context) {
        let Some(Exported { saving, path, result }) =
            self.exports.go_on(self.pictures.gpu(), &self.catalogue, ctx)
        else {
            return;
        };
        match result {
            Ok(()) => {
                self.view.typed.retain(|(known, _)| *known != Dialog::Save(saving));
                self.view.said = format!("Saved {} as {}.", saving.label(), path.display());
            }
            Err(error) if error.is_given_up() => {
                self.view.said = format!("Given up: {} was not written.", file_name(&path));
            }
            Err(error) => {
                self.keep_typed(Dialog::Save(saving), &path);
                self.report(&format!("{} was not written", file_name(&path)), &error.to_string());
                self.view.back_to = Some(Dialog::Save(saving));
            }
        }
    }

    /// Whether an export is on its way.
    pub fn is_exporting(&self) -> bool {
        self.exports.on_the_way().is_some()
    }

    /// An order in the large picture stays that order of the same effects, however the chain stands by now.
    fn keep_shown(&mut self, before: &Arc<Show>) {
        let now = Arc::clone(self.work.show());
        if Arc::ptr_eq(before, &now) {
            return;
        }
        let follow = |scope: Scope, order: &[usize]| {
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
        };
        let shown = match &self.view.shown {
            Shown::Order { scope, order } => {
                follow(*scope, order).map(|order| Shown::Order { scope: *scope, order })
            }
            Shown::Pair(pair) => follow(pair.scope, &pair.left)
                .zip(follow(pair.scope, &pair.right))
                .map(|(left, right)| Shown::Pair(Pair { left, right, ..pair.clone() })),
            Shown::Output | Shown::After(_) => return,
        };
        self.view.shown = shown.unwrap_or(Shown::Output);
    }

    /// Conditions follow their effects to other places of the chain, and stay behind with their chain.
    fn keep_conditions(&mut self, (show, scope): &(Arc<Show>, Scope)) {
        let now = self.work.show();
        if *scope != self.view.scope {
            self.view.conditions.clear();
        } else if Arc::ptr_eq(show, now) {
            return;
        }
        if matches!(self.view.wall_by, WallBy::Look(_)) {
            self.view.wall_by = WallBy::Looks;
        }
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

    /// Makes pictures and keeps changes aside; to be called after every pass.
    pub fn after_pass(&mut self) -> Next {
        let missing = self.make_more();
        self.asked = if missing == 0 { 0 } else { self.asked.max(missing) };
        self.keep_aside();
        Next {
            is_making: missing > 0,
            is_playing: self.view.playing,
            is_keeping: self.changed_at.is_some(),
            is_over: self.is_over,
        }
    }

    /// Has more of what the last pass asked for made; gives how many pictures are still missing.
    pub fn make_more(&mut self) -> usize {
        if let Err(error) = self.pictures.make() {
            self.view.said = error.to_string();
            return 0;
        }
        self.pictures.missing() + usize::from(self.pictures.is_loading())
    }

    /// Keeps changes aside once the person has paused.
    pub fn keep_aside(&mut self) {
        let is_kept = self.kept.as_ref().is_some_and(|kept| Arc::ptr_eq(kept, self.work.show()));
        if is_kept {
            self.changed_at = None;
            return;
        }
        let since = *self.changed_at.get_or_insert_with(Instant::now);
        if since.elapsed() < KEEP_AFTER {
            return;
        }
        self.changed_at = None;
        self.kept = Some(Arc::clone(self.work.show()));
        let Some(recovery) = &self.recovery else { return };
        if !self.work.is_changed() {
            recovery.clear();
        } else if let Err(error) = recovery.keep_with(&self.work, &self.pins) {
            self.view.said = error.to_string();
        }
    }

    /// Takes up the pins that were kept with a work.
    fn take_pins(&mut self, work: &Work) {
        let Some(state) = &self.folders.state else { return };
        self.pins = Pins::kept(state, work, &self.catalogue);
        self.view.pins = self.pins.pins.clone();
        self.seen.pins.clear();
        if self.pins.waiting() > 0 {
            self.view.said = format!(
                "{} of its pins wait: their scope, or an effect of theirs, is not there.",
                self.pins.waiting()
            );
        }
    }

    /// Keeps the pins with the work: for the next start, and beside work that is in no file yet.
    fn keep_pins(&mut self) {
        self.pins.pins = self.view.pins.clone();
        let Some(state) = &self.folders.state else { return };
        if let Err(error) = self.pins.keep(state, &self.work) {
            self.view.said = error.to_string();
        }
        if self.work.is_changed() {
            self.kept = None;
        }
    }

    /// Whether changes wait to be kept aside.
    pub fn is_keeping(&self) -> bool {
        self.changed_at.is_some()
    }

    fn move_time(&mut self, ui: &Ui) {
        let time = ui.input(|input| input.time);
        let seconds = (time - self.last_time).clamp(0.0, 0.5);
        self.last_time = time;
        let show = self.work.show();
        self.transport.set_tempo(show.tempo_bpm);
        self.transport.set_rate(show.rate);
        if self.view.beats != self.transport.beats().to_f64() {
            self.transport.go_to(Beats::of_decimal(self.view.beats));
            // Before the start nothing is played, but it can be looked at.
            if self.view.beats >= 0.0 || self.view.playing {
                self.view.beats = self.transport.beats().to_f64();
            }
        }
        if self.view.playing {
            self.transport.play();
            self.transport.advance(Duration::from_secs_f64(seconds));
            self.view.beats = self.transport.beats().to_f64();
            // On a slow GPU a picture takes several slices: the next moment waits for it.
            if !self.pictures.is_busy() && self.pictures.missing() == 0 {
                self.beats = self.view.beats;
            }
        } else {
            self.transport.stop();
            self.beats = self.view.beats;
        }
    }

    /// The show with the clip of the path showing.
    fn seen_at_rest(&mut self) -> Arc<Show> {
        let (show, clip) = (self.work.show(), self.view.clip);
        let is_known = self.seen.of.as_ref().is_some_and(|(of, at)| Arc::ptr_eq(of, show) && *at == clip);
        if let (true, Some(known)) = (is_known, &self.seen.at_rest) {
            return Arc::clone(known);
        }
        let (b, l, c) = clip;
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
    fn seen_dragged(&mut self, at_rest: &Arc<Show>) -> Arc<Show> {
        let Some((from, into)) = self.view.drag else {
            self.seen.drag = None;
            return Arc::clone(at_rest);
        };
        if self.seen.drag != Some((from, into)) {
            self.seen.drag = Some((from, into));
            let moved = Edit::Move { from, into }.applied(at_rest);
            self.seen.dragged = Some(moved.map_or_else(|_| Arc::clone(at_rest), |(show, _)| Arc::new(show)));
        }
        self.seen.dragged.clone().unwrap_or_else(|| Arc::clone(at_rest))
    }

    fn see_pins(&mut self) {
        if self.seen.pins.len() == self.view.pins.len() {
            return;
        }
        let show = self.work.show();
        let with = |pin: &super::view::Pin| {
            let edit = Edit::Chain { scope: pin.scope, chain: pin.chain.clone(), name: String::new() };
            edit.applied(show).ok().map(|(show, _)| Arc::new(show))
        };
        self.seen.pins = self.view.pins.iter().map(with).collect();
    }

    /// Does what a panel asks for.
    pub fn act(&mut self, action: Action) {
        match action {
            Action::Edit(Edit::Footage { bundle, level, clip, footage }) => {
                self.take_footage((bundle, level, clip), footage);
            }
            Action::Edit(edit) => self.edit(&edit),
            Action::EndRun => self.work.end_run(),
            Action::Undo => self.step(Work::undo, "Nothing to undo."),
            Action::Redo => self.step(Work::redo, "Nothing to redo."),
            Action::GoTo(steps) => {
                let before = Arc::clone(self.work.show());
                self.work.go_to(steps);
                self.follow(&before);
            }
            Action::Select(spot) => self.select(spot.scope, Some(spot.at)),
            Action::Scope(scope) => self.select(scope, None),
            Action::Path(b, l, c) => {
                self.view.clip = (b, l, c);
                self.view.shown = Shown::Output;
                let kind = match self.view.scope {
                    Scope::Global => Scope::Global,
                    Scope::Bundle(_) => Scope::Bundle(b),
                    Scope::Level(..) => Scope::Level(b, l),
                    Scope::Clip(..) => Scope::Clip(b, l, c),
                };
                self.select(kind, None);
            }
            Action::Show(shown) => self.view.shown = shown,
            Action::Adopt(row) => self.adopt(&row),
            Action::LayWall => self.on_wall.is_asked = true,
            Action::Drag(drag) => {
                if let Some((from, _)) = drag {
                    self.select(from.scope, Some(from.at));
                }
                self.view.drag = drag;
            }
            Action::Play(playing) => self.view.playing = playing,
            Action::Beats(beats) => self.view.beats = beats,
            Action::StepFrames(frames) => {
                self.view.playing = false;
                self.transport.step(frames);
                self.view.beats = self.transport.beats().to_f64();
            }
            Action::Hand(act) => {
                if let Some(problem) = self.hands.act(&act, self.work.show(), self.view.beats) {
                    self.report("The device was not opened", &problem);
                }
            }
            Action::Lesson(LessonAct::Try) => {
                if self.may_lose(&Action::Lesson(LessonAct::Try)) {
                    self.try_lesson();
                }
            }
            Action::Lesson(act) => {
                if let Err(error) = self.lessons.act(&act) {
                    self.view.said = error.to_string();
                }
            }
            Action::Tap => {
                if let Some(tempo_bpm) = self.tap.tap(Duration::from_secs_f64(self.last_time.max(0.0))) {
                    self.edit(&Edit::Tempo(tempo_bpm));
                    self.view.said = format!("Tapped: {tempo_bpm} BPM.");
                }
            }
            Action::Loop(beats) => {
                self.view.looped = beats;
                self.transport.set_loop(beats);
                self.view.beats = self.transport.beats().to_f64();
            }
            Action::Tab(tab) => {
                self.view.tab = tab;
                self.prefer(|preferences| preferences.tab = tab);
            }
            Action::WallOfOutput(output) => self.view.wall_of_output = output,
            Action::FlashesOfOrders => self.view.flashes_of_orders = true,
            Action::TryAgain => {
                self.prover.try_again();
                self.shelves.thumbnails.try_again();
                if let Some(watcher) = &mut self.watcher {
                    watcher.try_again();
                }
            }
            Action::WallBy(by) => self.view.wall_by = by,
            Action::Require(condition) => {
                if !self.view.conditions.contains(&condition) {
                    self.view.conditions.push(condition);
                }
            }
            Action::Release(at) => {
                if at < self.view.conditions.len() {
                    self.view.conditions.remove(at);
                }
            }
            Action::Pin(pin) => {
                self.view.pins.push(pin);
                self.view.said = "Pinned: it stays under Pins, whatever you change.".to_owned();
                self.keep_pins();
            }
            Action::Unpin(at) => {
                if at < self.view.pins.len() {
                    self.view.pins.remove(at);
                    self.seen.pins.clear();
                    self.keep_pins();
                }
            }
            Action::Ask(dialog) => self.view.dialog = Some(dialog),
            Action::Close => {
                self.view.dialog = self.view.back_to.take();
                if self.view.dialog.is_none() {
                    self.view.after_saving = None;
                }
            }
            Action::Open(path) => self.open(path),
            Action::OpenPreset(name) => self.open_preset(name),
            Action::TakeChain(scope, name) => self.take_chain(scope, &name),
            Action::Library(act) => {
                let begins = matches!(act, LibraryAct::Begin(_));
                if !begins || self.may_lose(&Action::Library(act.clone())) {
                    self.library(act);
                }
            }
            Action::Save => self.save(),
            Action::SaveThen(next) => {
                self.view.dialog = None;
                self.view.after_saving = Some(next);
                self.save();
            }
            Action::Replace(path) => {
                self.view.dialog = None;
                let replaced = self.work.replace(&path).map_err(|error| error.to_string());
                self.written(Saving::Work, &path, replaced);
            }
            Action::Write(saving, path) => {
                self.view.dialog = None;
                self.write(saving, &path);
            }
            Action::Recover(takes) => self.recover(takes),
            Action::Quit => {
                if self.may_lose(&Action::Quit) {
                    self.quit();
                }
            }
            Action::Lose(next) => {
                self.view.dialog = None;
                match *next {
                    Action::Quit => self.quit(),
                    Action::Open(path) => self.open_now(&path),
                    Action::OpenPreset(name) => self.open_preset_now(&name),
                    Action::Library(act) => self.library(act),
                    Action::Lesson(LessonAct::Try) => self.try_lesson(),
                    other => self.act(other),
                }
            }
            Action::Theme(theme) => self.prefer(|preferences| preferences.theme = theme),
            Action::TextSize(percent) => {
                let [low, high] = TEXT_PERCENT;
                if !(low..=high).contains(&percent) {
                    self.view.said = format!("Text takes {low} % to {high} % of its usual size.");
                }
                self.prefer(|preferences| preferences.text_percent = percent.clamp(low, high));
            }
            Action::GiveUpExport => self.exports.give_up(),
            Action::Blink(blinking) => self.view.blinking = blinking,
            Action::Wipe(share) => self.view.wipe = share.clamp(0.0, 1.0),
            Action::Detail(detail) => self.view.detail = detail,
            Action::Zoom(zoom) => self.view.zoom = zoom,
            Action::Say(text) => self.view.said = text,
        }
    }

    /// Puts a chain into an order: the one that was pressed, or none.
    fn adopt(&mut self, row: &Row) {
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

    fn edit(&mut self, edit: &Edit) {
        match self.work.apply(edit) {
            Ok(()) => {
                self.view.said.clear();
                if let Edit::Move { into, from } = edit {
                    let sinks = from.scope == into.scope && from.at < into.at;
                    self.select(into.scope, Some(into.at - usize::from(sinks)));
                }
            }
            Err(error) => self.view.said = format!("Not done: {error}."),
        }
        self.seen.pins.clear();
    }

    fn step(&mut self, take: fn(&mut Work) -> bool, nothing: &str) {
        let before = Arc::clone(self.work.show());
        self.view.said = if take(&mut self.work) { String::new() } else { nothing.to_owned() };
        self.follow(&before);
        self.seen.pins.clear();
    }

    /// Stays with the effect that was selected, wherever a step has taken it.
    fn follow(&mut self, before: &Show) {
        let View { scope, selected: Some(at), .. } = self.view else { return };
        if !before.scopes().contains(&scope) {
            return;
        }
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
        let own = Some(scope).filter(is_there).and_then(place);
        if let Some((scope, at)) = own.or_else(|| show.scopes().into_iter().find_map(place)) {
            self.select(scope, Some(at));
        }
    }

    fn select(&mut self, scope: Scope, at: Option<usize>) {
        if !self.view.path().contains(&scope) {
            self.view.clip = clip_on_the_way(self.work.show(), scope);
        }
        if scope != self.view.scope && !matches!(self.view.shown, Shown::Output | Shown::After(_)) {
            self.view.shown = Shown::Output;
        }
        self.view.scope = scope;
        self.view.selected = at;
    }

    /// Whether the present work may be left; otherwise asks.
    fn may_lose(&mut self, next: &Action) -> bool {
        if !self.work.is_changed() {
            return true;
        }
        self.view.dialog = Some(Dialog::Losing(Box::new(next.clone())));
        false
    }

    /// Opens a file; one that does not open says so before anything is asked of the work on the desk.
    fn open(&mut self, path: PathBuf) {
        let is_typed = self.view.dialog.take() == Some(Dialog::Open);
        match Work::open(&path, &self.catalogue) {
            Ok(work) if self.may_lose(&Action::Open(path.clone())) => {
                self.recent.note(&path);
                self.take_up(work);
            }
            Ok(_) => {}
            Err(error) => {
                self.report("This file was not opened", &error.to_string());
                if is_typed {
                    self.keep_typed(Dialog::Open, &path);
                    self.view.back_to = Some(Dialog::Open);
                }
            }
        }
    }

    fn open_now(&mut self, path: &Path) {
        match Work::open(path, &self.catalogue) {
            Ok(work) => {
                self.recent.note(path);
                self.take_up(work);
            }
            Err(error) => self.report("This file was not opened", &error.to_string()),
        }
    }

    /// Keeps a path that was typed for the sheet that it was typed into.
    fn keep_typed(&mut self, dialog: Dialog, path: &Path) {
        self.view.typed.retain(|(known, _)| *known != dialog);
        self.view.typed.push((dialog, path.to_owned()));
    }

    fn open_preset(&mut self, name: String) {
        if self.may_lose(&Action::OpenPreset(name.clone())) {
            self.open_preset_now(&name);
        }
    }

    fn open_preset_now(&mut self, name: &str) {
        match Work::preset(name, &self.catalogue) {
            Ok(Some(work)) => self.take_up(work),
            Ok(None) => self.view.said = format!("There is no preset named {name}."),
            Err(error) => self.report("This preset was not opened", &error.to_string()),
        }
    }

    /// Puts the show of the lesson that is open on the desk, held at its beat; it is in no file yet.
    fn try_lesson(&mut self) {
        let Some(lesson) = self.lessons.lesson() else { return };
        let picture = lesson.pictures[lesson.next.picture].clone();
        self.take_up(Work::new(Document::Show((*picture.show).clone()), None));
        self.select(picture.scope, Some(0));
        self.view.beats = picture.beats;
        self.view.follow(self.work.show());
    }

    /// The lessons, and what was answered.
    pub fn lessons(&self) -> &LessonRoom {
        &self.lessons
    }

    /// Puts other work on the desk.
    fn take_up(&mut self, work: Work) {
        let View { preferences, tab, .. } = self.view;
        self.view = View { preferences, tab, ..first_view(&work, &self.pictures) };
        self.take_pins(&work);
        self.beats = self.view.beats;
        self.seen = Seen::default();
        self.kept = (!work.is_changed()).then(|| Arc::clone(work.show()));
        self.changed_at = None;
        self.work = work;
        self.pictures.forget_footage(&self.catalogue);
        if let (Some(recovery), false) = (&self.recovery, self.work.is_changed()) {
            recovery.clear();
        }
    }

    fn report(&mut self, title: &str, text: &str) {
        self.view.back_to = None;
        let (title, text) = (shown_error(title), shown_error(text));
        self.view.dialog = Some(Dialog::Report { title, text });
    }

    fn take_chain(&mut self, scope: Scope, name: &str) {
        match Work::preset(name, &self.catalogue) {
            Ok(Some(work)) => {
                let chain = work.show().chain(work.first_scope()).clone();
                self.edit(&Edit::Chain { scope, chain, name: name.to_owned() });
            }
            Ok(None) => self.view.said = format!("There is no preset named {name}."),
            Err(error) => self.report("This chain was not taken", &error.to_string()),
        }
    }

    fn library(&mut self, act: LibraryAct) {
        let outcome = self.shelves.act(act, &self.work, &self.catalogue);
        self.take_outcome(outcome);
    }

    /// Does what comes of something done with the library.
    fn take_outcome(&mut self, outcome: Outcome) {
        match outcome {
            Outcome::Shown => {}
            Outcome::Said(text) => self.view.said = text,
            Outcome::Edit(edit, said) => {
                let steps = self.work.history().done().len();
                self.edit(&edit);
                if self.work.history().done().len() > steps && !said.is_empty() {
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

    fn save(&mut self) {
        match self.work.file().map(Path::to_owned) {
            Some(file) => self.write(Saving::Work, &file),
            None => self.view.dialog = Some(Dialog::Save(Saving::Work)),
        }
    }

    /// The files that the work is made from, beside its own: footage, and effects of the person's own.
    fn made_from(&self) -> Vec<PathBuf> {
        let footage = files::footage_files(self.work.show()).map(Path::to_owned);
        let effects = self.catalogue.effects().iter().chain(self.catalogue.sources());
        footage.chain(effects.map(|effect| PathBuf::from(&effect.origin))).collect()
    }

    fn write(&mut self, saving: Saving, path: &Path) {
        let mut made_from = self.made_from();
        // The work may take the place of its own file, which nothing else may.
        made_from.extend(self.work.file().filter(|_| saving != Saving::Work).map(Path::to_owned));
        // What else is there the person was asked about.
        let permit = Permit::new(Made::Document, true).reading(made_from.clone());
        let refused = |why: &Taken| format!("{}: {why}", path.display());
        let written = match saving {
            Saving::Work if self.work.is_changed_on_disk(path) => {
                self.view.dialog = Some(Dialog::Changed(path.to_owned()));
                return;
            }
            Saving::Work => match permit.check_read(path) {
                Ok(()) => self.work.save_as(path).map_err(|error| error.to_string()),
                Err(why) => Err(refused(&why)),
            },
            Saving::Chain => {
                let folderless = self.work.as_preset(self.view.scope);
                if folderless.chain.is_empty() {
                    let why = LibraryError::Empty(self.work.show().address(self.view.scope)).to_string();
                    return self.report("Nothing was saved", &why);
                }
                let text = self.work.chain_text(self.view.scope, &folderless);
                files::write_permitted(path, text.as_bytes(), permit).map_err(|error| error.to_string())
            }
            Saving::Picture | Saving::Wall | Saving::Sheet | Saving::Report => {
                return self.export(saving, path, made_from);
            }
        };
        self.written(saving, path, written);
    }

    /// Says what became of something that was to be written.
    fn written(&mut self, saving: Saving, path: &Path, written: Result<(), String>) {
        match written {
            Ok(()) => {
                self.view.typed.retain(|(known, _)| *known != Dialog::Save(saving));
                self.view.said = format!("Saved {} as {}.", saving.label(), path.display());
                if saving == Saving::Work {
                    self.recent.note(path);
                    self.kept = Some(Arc::clone(self.work.show()));
                    if let Some(recovery) = &self.recovery {
                        recovery.clear();
                    }
                    // They belong to the file by now.
                    self.keep_pins();
                    if let Some(next) = self.view.after_saving.take() {
                        self.act(*next);
                    }
                }
            }
            Err(error) => {
                let sheet = Dialog::Save(saving);
                self.keep_typed(sheet.clone(), path);
                self.report("Nothing was saved", &error);
                self.view.back_to = Some(sheet);
            }
        }
    }

    /// Begins to write what takes long, at the show's own frame.
    fn export(&mut self, saving: Saving, path: &Path, made_from: Vec<PathBuf>) {
        let show = self.seen_show();
        let moment = Moment { frame: show.frame, ..self.view.moment(&show, self.beats) };
        let (scope, order) = match (&self.view.shown, saving) {
            (_, Saving::Wall | Saving::Sheet | Saving::Report) => (self.view.scope, Vec::new()),
            (Shown::Order { scope, order }, _) => (*scope, order.clone()),
            _ => (Scope::Global, (0..show.global.len()).collect()),
        };
        let path = path.to_owned();
        let words = self.words(scope);
        let export = Export { saving, show, scope, moment, order, words, made_from, path };
        if let Err(error) = export.check() {
            return self.report(&format!("{} was not written", file_name(&export.path)), &error.to_string());
        }
        self.view.said = format!("Exporting {} …", saving.label());
        self.exports.ask(export);
    }

    /// The words of a command line that name a scope's chain, where the work's file holds it as it is.
    fn words(&self, scope: Scope) -> Option<String> {
        let file = self.work.file().filter(|_| !self.work.is_changed())?;
        let file = path::absolute(file).unwrap_or_else(|_| file.to_owned());
        let address = self.work.show().address(scope);
        let scope = if self.work.form() == Form::Show { vec!["--scope", &address] } else { Vec::new() };
        Some(quoted([file.to_str()?].into_iter().chain(scope)))
    }

    fn seen_show(&self) -> Arc<Show> {
        self.seen.at_rest.clone().unwrap_or_else(|| Arc::clone(self.work.show()))
    }

    fn recover(&mut self, takes: bool) {
        if self.recovered.is_empty() {
            return;
        }
        let found = self.recovered.remove(0);
        self.view.dialog = (!self.recovered.is_empty()).then_some(Dialog::Recover);
        if takes {
            self.take_up(found.work.clone());
            if !found.pins.is_empty() {
                self.view.pins = found.pins.pins.clone();
                self.pins = found.pins.clone();
                self.seen.pins.clear();
                self.keep_pins();
            }
            // Kept in this program's own place before the old one is cleared away.
            if let Some(recovery) = &self.recovery
                && let Err(error) = recovery.keep_with(&self.work, &self.pins)
            {
                self.view.said = error.to_string();
                return;
            }
            self.kept = Some(Arc::clone(self.work.show()));
        }
        found.clear();
    }

    fn quit(&mut self) {
        if let Some(recovery) = &self.recovery {
            recovery.clear();
        }
        self.is_over = true;
    }

    /// Saves the work under a name.
    pub fn save_as(&mut self, path: &Path) {
        self.act(Action::Write(Saving::Work, path.to_owned()));
    }

    /// Asks to close the window.
    pub fn ask_to_quit(&mut self) {
        self.act(Action::Quit);
    }

    /// Takes what was dropped onto the window: shows and chains are opened, pictures become clips.
    fn take_drops(&mut self, ui: &Ui) {
        let dropped = ui.input(|input| input.raw.dropped_files.clone());
        for file in dropped {
            self.take_file(file.path().to_owned());
        }
    }

    /// Takes one file: a show or chain is opened, a picture becomes a clip of the path's level.
    pub fn take_file(&mut self, path: PathBuf) {
        if path.extension().is_some_and(|ending| ending == "toml") {
            return self.open(path);
        }
        let footage = FootageName::File { written: path.display().to_string(), path: path.clone() };
        if let Some(Dialog::Footage(bundle, level, clip)) = self.view.dialog {
            return self.take_footage((bundle, level, clip), footage);
        }
        if !self.is_taken(&footage, &Play::default()) {
            return;
        }
        let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let (bundle, level, _) = self.view.clip;
        let clip =
            Box::new(Clip { name, footage, fit: Fit::default(), play: Play::default(), chain: Vec::new() });
        self.edit(&Edit::AddClip { bundle, level, clip });
        let clip = self.work.show().bundles[bundle].levels[level].showing;
        self.act(Action::Path(bundle, level, clip));
    }

    /// Gives a clip other footage.
    fn take_footage(&mut self, (bundle, level, clip): (usize, usize, usize), footage: FootageName) {
        let sheet = Dialog::Footage(bundle, level, clip);
        let is_asked = self.view.dialog.as_ref() == Some(&sheet);
        let play = self.work.show().bundles[bundle].levels[level].clips[clip].play;
        if !self.is_taken(&footage, &play) {
            if is_asked {
                if let FootageName::File { path, .. } = &footage {
                    self.keep_typed(sheet.clone(), path);
                }
                self.view.back_to = Some(sheet);
            }
            return;
        }
        self.view.typed.retain(|(known, _)| *known != sheet);
        if is_asked {
            self.view.dialog = None;
        }
        self.edit(&Edit::Footage { bundle, level, clip, footage });
    }
}

impl Desk {
    /// Whether footage can be taken, as far as a glance tells, and in words why not; a film is on its way from here on:
    /// its decoder opens it, and the window waits for none.
    fn is_taken(&mut self, footage: &FootageName, play: &Play) -> bool {
        if let Err(error) = Shelf::new(&self.catalogue).glance(footage) {
            self.report("This file was not taken as footage", &error.to_string());
            return false;
        }
        self.arriving.push((footage.clone(), *play));
        true
    }

    /// Says of footage taken lately what is wrong with it, once that is known.
    fn see_arrivals(&mut self, ctx: &egui::Context) {
        let mut refused = Vec::new();
        let pictures = &mut self.pictures;
        self.arriving.retain(|(footage, play)| match pictures.opened(footage, play) {
            None => true,
            Some(Ok(())) => false,
            Some(Err(error)) => {
                refused.push(error.to_string());
                false
            }
        });
        if !self.arriving.is_empty() {
            ctx.request_repaint_after(LOOKS_AT_ARRIVALS);
        }
        if !refused.is_empty() {
            let text = refused.join("\n") + "\n\nIts clip shows nothing; Undo takes it back.";
            self.report("This file cannot be shown as footage", &text);
        }
    }
}

/// The address of a scope, as panels show it.
pub fn shown_of(show: &Show, scope: Scope) -> String {
    shown(&show.address(scope)).into_owned()
}

/// The view of work just opened; a software adapter is given fewer texels.
fn first_view(work: &Work, pictures: &Pictures) -> View {
    let show = work.show();
    let mut view = View::of(show, work.first_scope());
    if pictures.gpu().is_some_and(crate::gpu::Gpu::is_software) {
        while view.detail < 4 && show.frame.texels() / u64::from(view.detail * view.detail) > SOFTWARE_TEXELS
        {
            view.detail *= 2;
        }
    }
    view
}

fn describe(work: &Work) -> String {
    match work.file() {
        Some(file) => format!("{}, of {}", widgets::name(&work.show().name), widgets::path(file)),
        None => format!("{}, which was in no file", widgets::name(&work.show().name)),
    }
}

/// Every panel in its place.
fn panels(ui: &mut Ui, scene: &mut Scene<'_>) {
    let palette = theme::palette(ui.ctx());
    let plain = |horizontal: i8, vertical: i8| {
        Margins::new().fill(palette.panel).inner_margin(egui::Margin::symmetric(horizontal, vertical))
    };
    Panel::top("bar").exact_size(36.0).frame(plain(8, 2)).show(ui, |ui| bar::top(ui, scene));
    Panel::top("path")
        .exact_size(132.0)
        .frame(plain(8, 6).fill(palette.ground))
        .show(ui, |ui| ribbon::show(ui, scene));
    Panel::bottom("said").exact_size(24.0).frame(plain(8, 2)).show(ui, |ui| bar::bottom(ui, scene));
    if !scene.effect_troubles.is_empty() {
        Panel::bottom("effect troubles").frame(plain(8, 4)).show(ui, |ui| bar::effect_troubles(ui, scene));
    }
    let width = ui.available_width();
    // In a window of another size the panels take their shares of it again.
    let of_size = |name: &str| egui::Id::unique((name, (width / 200.0).round() as i32));
    Panel::right(of_size("settings"))
        .default_size((width * 0.21).clamp(220.0, 300.0))
        .size_range(200.0..=420.0)
        .frame(plain(12, 10))
        .show(ui, |ui| settings::show(ui, scene));
    let width = ui.available_width();
    Panel::right(of_size("beside"))
        .default_size(width * 0.53)
        // The picture keeps room for its controls, however small the window is made.
        .size_range(200.0..=(width - 340.0).max(210.0))
        .frame(plain(10, 6).fill(palette.ground))
        .show(ui, |ui| beside(ui, scene));
    CentralPanel::no_frame().frame(plain(10, 6).fill(palette.ground)).show(ui, |ui| picture::show(ui, scene));
}

/// The wall, the swap table or the pins.
fn beside(ui: &mut Ui, scene: &mut Scene<'_>) {
    // A panel is as wide as what it held last: while orders are looked at, that is little.
    ui.take_available_width();
    ui.horizontal(|ui| {
        let pins = format!("Pins {}", scene.view.pins.len());
        for (tab, text, key) in [
            (Tab::Orders, "Orders", "1"),
            (Tab::Swaps, "Swaps", "2"),
            (Tab::Pins, &pins, "3"),
            (Tab::Hands, "Hands", "4"),
            (Tab::Lessons, "Lessons", "5"),
            (Tab::Library, "Library", "6"),
        ] {
            if ui.selectable_label(scene.view.tab == tab, text).on_hover_text(key).clicked() {
                scene.act(Action::Tab(tab));
            }
        }
        ui.weak(scene.address(scene.view.scope));
    });
    match scene.view.tab {
        Tab::Orders => wall::show(ui, scene),
        Tab::Swaps => swaps::show(ui, scene),
        Tab::Pins => wall::pins(ui, scene),
        Tab::Hands => hands::show(ui, scene),
        Tab::Library => library::show(ui, scene),
        Tab::Lessons => lessons::show(ui, scene),
    }
}
