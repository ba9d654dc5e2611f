//! The desk: the work, the view of it, and what happens when a panel asks for something.

mod act;
mod arrange;
mod clock;
mod find;
mod kept;
mod on_wall;
mod open;
mod orders;
mod pieces;
mod pointed;
mod save;
mod second;
mod sections;
mod seen;
mod several;
mod watch;

use std::path::{self, Path, PathBuf};
use std::sync::Arc;
use std::time::Instant;

use egui::{Rect, Ui};

use super::action::Action;
use super::keys;
use super::lesson_room::LessonRoom;
use super::panels::dialogs;
use super::pictures::Pictures;
use super::playing::Playing;
use super::preferences::Preferences;
use super::scene::{Scene, WallSeen};
use super::shelves::Shelves;
use super::showing::{Shown, Tab};
use super::threads::apart::Apart;
use super::threads::export::Exports;
use super::threads::file_dialog::FileDialog;
use super::threads::find::Finder;
use super::threads::flash::{FlashWatcher, Flashes};
use super::threads::own_effects::EffectsWatcher;
use super::threads::pieces::PiecesJudge;
use super::threads::prover::{Candidate, Known, Prover};
use super::widgets::reach;
use super::widgets::rows::{row_id, rows};
use crate::window::view::View;
use find::Search;
use kept::describe;
use on_wall::OnWall;
use open::first_view;
use pointed::Pointing;
pub use second::SecondPicture;
use sections::Sections;
use seen::Seen;
use several::Copied;

use crate::beat::{Moment, Tap, Transport};
use crate::catalogue::Catalogue;
use crate::edit::{Edit, Form, Pins, RecentFiles, Recovered, Recovery, TimeEdit, Work};
use crate::output::orders_wall::quoted;
use crate::show::clip::{FootageName, Play};
use crate::show::{Scope, Show};
use crate::trial::troubles;

/// Texels that a software adapter is given for one picture; more would make the window slow.
const SOFTWARE_TEXELS: u64 = 640 * 400;

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
    sections: Sections,
    regions: Vec<(&'static str, Rect)>,
    second: Option<SecondPicture>,
    exports: Exports,
    file_dialog: FileDialog,
    /// The row of the structure that is to have the keyboard.
    wanted_row: Option<Scope>,
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
    judge: Option<PiecesJudge>,
    search: Search,
    /// The show that was last seen, and since when: flashes are counted once it rests.
    rests: Option<(Arc<Show>, Instant)>,
    on_wall: OnWall,
    pointing: Pointing,
    apart: Option<Apart>,
    effects_watcher: Option<EffectsWatcher>,
    effect_troubles: Vec<String>,
    /// Footage taken lately that is still being opened.
    arriving: Vec<(FootageName, Play)>,
    lessons: LessonRoom,
    copied: Copied,
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
            sections: Sections::default(),
            regions: Vec::new(),
            second: None,
            exports: Exports::default(),
            file_dialog: FileDialog::default(),
            wanted_row: None,
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
            judge: None,
            search: Search::default(),
            rests: None,
            on_wall: OnWall::default(),
            pointing: Pointing::default(),
            apart: None,
            effects_watcher: None,
            effect_troubles: Vec::new(),
            arriving: Vec::new(),
            lessons: LessonRoom::default(),
            copied: Copied::default(),
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

    pub fn work(&self) -> &Work {
        &self.work
    }

    pub fn view(&self) -> &View {
        &self.view
    }

    /// The regions of the last pass, by name, and where they stand.
    pub fn regions(&self) -> &[(&'static str, Rect)] {
        &self.regions
    }

    /// The hands on the show.
    pub fn hands(&mut self) -> &mut Playing {
        &mut self.hands
    }

    /// What is known of the library.
    pub fn shelves(&mut self) -> &mut Shelves {
        &mut self.shelves
    }

    /// Every effect and source, as they are now.
    pub fn catalogue(&self) -> &Catalogue {
        &self.catalogue
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

    /// What the wall was laid out from.
    pub fn laid(&self) -> Option<&Known> {
        self.on_wall.laid.as_ref().map(|laid| &*laid.known)
    }

    /// Whether an answer about orders is on its way.
    pub fn is_asking(&self) -> bool {
        self.prover.is_asking()
            || self.shelves.is_busy()
            || self.search.finder().is_some_and(|finder| finder.searching().is_some())
            || self.judge.as_ref().is_some_and(|judge| judge.way().is_some())
            || self.watcher.as_ref().is_some_and(|watcher| self.is_waiting_for(watcher))
    }

    /// How far it has come to tell looks apart, and of how much; nothing while none are told apart.
    pub fn gathering(&self) -> Option<(usize, usize)> {
        self.prover.gathering()
    }

    /// The orders on the wall, in the order in which they stand there.
    pub fn on_wall(&self) -> Vec<Candidate> {
        self.on_wall.laid.as_ref().map(|laid| laid.candidates.to_vec()).unwrap_or_default()
    }

    /// Draws one pass, and does what was asked for in it.
    pub fn ui(&mut self, ui: &mut Ui) {
        self.take_in(ui);
        self.see_sections();
        let at_rest = self.seen_at_rest();
        if let Some(controls) = self.hands.listen(self.work.show(), self.view.beats, ui.ctx()) {
            self.edit(&Edit::Time(TimeEdit::Controls(controls)));
        }
        for call in self.hands.take_called() {
            self.called_by_hand(call);
        }
        self.hands.take_played(self.view.beats);
        let at_rest = self.hands.applied(&at_rest);
        let hands_seen = self.hands.seen(self.work.show());
        let seen = self.seen_tried(&at_rest);
        self.see_pins();
        let sides = self.seen_sides(&at_rest);
        let on_air = self.on_air();
        self.see_second(&on_air);
        let moment = self.view.moment(&at_rest, self.beats);
        // The picture is the audience's, also where a section lays chains of its own.
        let is_plain = Arc::ptr_eq(&seen, &at_rest) && self.view.shown == Shown::Output;
        let lays = is_plain && self.view.alone.is_none() && self.lays_chains();
        let [seen, watched] = match lays {
            true => [&on_air.show, &on_air.show].map(Arc::clone),
            false => [seen, Arc::clone(&at_rest)],
        };
        let air = self.sections.is_played().then(|| {
            let moment = self.view.moment(&on_air.show, self.beats);
            self.pictures.output(&on_air.show, on_air.fade.as_ref(), moment)
        });
        let stand = self.stand();
        let (large, holds_preview) = (self.large_moment(&seen, moment), self.holds_preview(&seen));
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
        let is_known = self.ask_of_orders(&at_rest, path.as_ref(), whole);
        self.take_found(&at_rest, ui.ctx());
        let judged = self.ask_of_pieces(&at_rest, path.as_ref(), whole, ui.ctx());
        let Self { work, view, catalogue, pictures, prover, recent, watcher, lessons, shelves, .. } = self;
        let judge = self.judge.as_ref().filter(|_| !view.basis.is_plain());
        let judge_problem = judge.and_then(PiecesJudge::problem);
        let unknown = prover.problem().or(judge_problem).filter(|_| !playing).map(str::to_owned);
        let (proving, gathering) =
            if playing { (None, None) } else { (prover.proving(), prover.gathering()) };
        let gathering = judge.map_or(gathering, |judge| judge.way().filter(|_| !playing));
        let known = prover.last_known().filter(|_| is_known).cloned();
        // What was known of the same effects stays on the wall until the answer is there.
        let wall_is_held = self.on_wall.is_held(view, ui.ctx());
        let wall_waits = {
            let of_wall = if view.basis.is_plain() { &known } else { &judged };
            self.on_wall.lay(path.as_deref(), of_wall.as_ref(), view, wall_is_held)
        };
        let laid = self.on_wall.laid.as_ref();
        let candidates = laid.map(|laid| Arc::clone(&laid.candidates)).unwrap_or_default();
        let laid = laid.map(|laid| Arc::clone(&laid.known));
        let is_laid_now = match &judged {
            Some(judged) => laid.as_ref().is_some_and(|laid| laid.revision == judged.revision),
            None => laid.as_ref().zip(known.as_ref()).is_some_and(|(laid, known)| laid.is_about(&known.path)),
        };
        let mut scene = Scene {
            work,
            view,
            catalogue,
            pictures,
            seen,
            stand,
            sections: &self.sections.seen,
            on_air: air.flatten(),
            seen_at_rest: Arc::clone(&at_rest),
            moment,
            large,
            holds_preview,
            pointed: None,
            sides,
            apart: &mut self.apart,
            known,
            judged,
            laid,
            candidates,
            is_laid_now,
            wall_waits,
            wall_is_held,
            wall_seen: WallSeen::default(),
            found: Arc::clone(self.search.list()),
            found_waits: self.search.waits,
            found_like: self.search.finder().and_then(Finder::like).cloned(),
            searching: self.search.finder().and_then(Finder::searching),
            find_problem: self.search.finder().and_then(Finder::problem).map(str::to_owned),
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
                Some(watcher) if watcher.is_about(&watched) => watcher.known(),
                _ => &nothing,
            },
            wants_suggestions: false,
            orders_watched: Vec::new(),
            lessons,
            export: self.exports.on_the_way(),
            shelves,
            effect_troubles: &self.effect_troubles,
            regions: Vec::new(),
            wants_menus: false,
            wants_paste: false,
            row: rows(work.show())
                .into_iter()
                .find(|&scope| ui.memory(|memory| memory.has_focus(row_id(scope)))),
            wanted_row: self.wanted_row.take(),
            next_row: None,
            parts: Vec::new(),
            wants_part: None,
            acts: Vec::new(),
        };
        keys::act(ui.ctx(), &mut scene);
        arrange::panels(ui, &mut scene);
        dialogs::show(ui.ctx(), &mut scene);
        if let Some(way) = scene.wants_part {
            reach::go(ui.ctx(), &scene.parts, way);
        }
        reach::ring(ui.ctx(), &scene.parts);
        if scene.wants_paste {
            ui.ctx().send_viewport_cmd(egui::ViewportCommand::RequestPaste);
        }
        let Scene { acts, regions, wants_pairs, wants_suggestions, .. } = scene;
        let Scene { orders_watched, wall_seen, next_row, pointed, .. } = scene;
        self.regions = regions;
        self.wanted_row = next_row;
        self.on_wall.seen = wall_seen;
        self.wants_pairs = wants_pairs;
        if let Some(watcher) = &mut self.watcher {
            if wants_suggestions {
                watcher.look_for_suggestions();
            }
            orders_watched.iter().for_each(|order| watcher.watch_order(self.view.scope, order));
        }
        let has_acted = !acts.is_empty();
        self.do_all(acts, ui.ctx());
        self.take_pointed(pointed, has_acted, ui.ctx());
        if let Some(text) = self.copied.take() {
            ui.ctx().copy_text(text);
        }
        self.take_drops(ui);
        // Last, as answers about orders have been taken in by now.
        self.watch_flashes(ui, &watched);
    }

    /// Takes in what has come since the last pass.
    fn take_in(&mut self, ui: &Ui) {
        self.take_effects();
        self.pictures.begin_pass();
        self.move_time(ui);
        self.dress(ui.ctx());
        self.take_exports(ui.ctx());
        self.take_chosen(ui.ctx());
        self.see_arrivals(ui.ctx());
        self.shelves.take_in(ui.ctx());
        if let Some(outcome) = self.shelves.keep_starters(ui.ctx()) {
            self.take_outcome(outcome);
        }
        if let Some(outcome) = self.shelves.bring_clips(&self.work, ui.ctx()) {
            self.take_outcome(outcome);
        }
        // What was asked for between two passes may have taken away what is looked at.
        self.view.follow(self.work.show());
    }

    /// Does what the panels of this pass asked for.
    fn do_all(&mut self, acts: Vec<Action>, ctx: &egui::Context) {
        if acts.is_empty() {
            return;
        }
        let before = (Arc::clone(self.work.show()), self.view.scope);
        for action in acts {
            self.act(action);
        }
        self.keep_conditions(&before);
        self.keep_shown(&before.0);
        self.view.follow(self.work.show());
        ctx.request_repaint();
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

    /// The lessons, and what was answered.
    pub fn lessons(&self) -> &LessonRoom {
        &self.lessons
    }

    /// The words of a command line that name a scope's chain, where the work's file holds it as it is.
    fn words(&self, scope: Scope) -> Option<String> {
        let file = self.work.file().filter(|_| !self.work.is_changed())?;
        let file = path::absolute(file).unwrap_or_else(|_| file.to_owned());
        let address = self.work.show().address(scope);
        let scope = if self.work.form() == Form::Show { vec!["--scope", &address] } else { Vec::new() };
        Some(quoted([file.to_str()?].into_iter().chain(scope)))
    }
}
