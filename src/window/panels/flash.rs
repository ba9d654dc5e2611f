//! The strip under the picture: what of the output flashes, counted while the window rests.

use std::collections::{HashMap, VecDeque};
use std::sync::Arc;
use std::sync::atomic::Ordering;

use egui::{Align2, Color32, Rect, Sense, Stroke, Ui, pos2, vec2};

use super::sheets::close_button;
use crate::base::shown::{shown, shown_error};
use crate::catalogue::Catalogue;
use crate::edit::Edit;
use crate::footage::Shelf;
use crate::gpu::RenderError;
use crate::gpu::{Gpu, Renderer};
use crate::measure::{FlashReport, Limit, MOST_CHANGES};
use crate::readiness::flashing::{Flashing, Suggestion, Watch};
use crate::readiness::{caution, flashing};
use crate::show::{Scope, Show};
use crate::window::action::{Action, Dialog};
use crate::window::scene::Scene;
use crate::window::theme::palette;
use crate::window::threads::worker::{Errand, Said, Task, Unfinished, Worker};
use crate::window::widgets::{announce, font, paint_focus};

/// Shows whose flashes stay known after they were changed.
const SHOWS_KNOWN: usize = 6;
/// How high the strip is, in points.
pub const HEIGHT: f32 = 34.0;
/// Vermillion of Okabe and Ito, beside a sign and words.
const TOO_MANY: Color32 = Color32::from_rgb(0xd5, 0x5e, 0x00);
/// Flashes a second that the strip is high enough for.
const MOST_DRAWN: f32 = 6.0;

enum Question {
    /// The show as it is.
    Show(Arc<Show>),
    /// The show with a chain in another order.
    Order(Arc<Show>, (Scope, Vec<usize>)),
    /// What would pass.
    Suggestions(Arc<Show>, Arc<Flashing>),
}

enum Answer {
    Progress(String, usize, usize),
    Found(Box<Flashing>),
    Report(Box<FlashReport>),
    Suggestions(Vec<Suggestion>),
}

/// What an errand is about.
#[derive(Debug, Clone, PartialEq)]
enum About {
    Show,
    Order((Scope, Vec<usize>)),
    Suggestions,
}

/// What is known of a show's flashes.
#[derive(Debug, Clone, Default)]
pub struct Flashes {
    /// Of the show as it is, as far as it was counted: controls come after the show as it stands.
    pub found: Option<Arc<Flashing>>,
    /// What is being counted, frames counted, and frames in all.
    pub progress: Option<(String, usize, usize)>,
    /// Of chains in other orders; why they were not counted where that is so.
    pub orders: HashMap<(Scope, Vec<usize>), Result<FlashReport, String>>,
    /// Changes that pass, once they were looked for; why that failed where it did.
    pub suggestions: Option<Result<Vec<Suggestion>, String>>,
    /// Why nothing is known.
    pub problem: Option<String>,
}

/// Counts the flashes of one show at a time, the latest, on a thread of its own.
pub struct FlashWatcher {
    worker: Worker<Question, Answer>,
    open: Vec<(Errand, About)>,
    show: Option<Arc<Show>>,
    known: Flashes,
    /// What was counted of the last shows, so that a step back is known at once.
    before: VecDeque<(Arc<Show>, Arc<Flashing>)>,
}

impl FlashWatcher {
    /// A watcher on this GPU.
    pub fn new(gpu: Gpu, catalogue: Catalogue, wake: impl Fn() + Send + 'static) -> Self {
        Self::beginning(move || Ok(gpu.sibling()), catalogue, wake)
    }

    /// A watcher on the GPU that `begin` gives: asked for on a thread of its own before anything else, and again
    /// after anything has failed.
    pub fn beginning(
        mut begin: impl FnMut() -> Result<Gpu, String> + Send + 'static,
        catalogue: Catalogue,
        wake: impl Fn() + Send + 'static,
    ) -> Self {
        let begin = move || {
            let mut renderer = Renderer::new(begin()?);
            renderer.give_way();
            Ok(renderer)
        };
        let work = move |renderer: &mut Renderer, question, task: &Task<'_, Answer>| {
            answered(renderer, &catalogue, question, task)
        };
        let worker = Worker::new("flashes", wake, begin, work);
        Self { worker, open: Vec::new(), show: None, known: Flashes::default(), before: VecDeque::new() }
    }

    /// Counts this show's flashes from now on; what belongs to another is given up.
    pub fn watch(&mut self, show: &Arc<Show>) {
        if self.is_about(show) {
            return;
        }
        self.forget();
        self.show = Some(Arc::clone(show));
        if let Some((_, found)) = self.before.iter().find(|(before, _)| before == show) {
            self.known.found = Some(Arc::clone(found));
            return;
        }
        let frames = Watch::of(show).frames(show.tempo_bpm);
        self.known.progress = Some(("Counting flashes".to_owned(), 0, frames));
        self.ask(About::Show, Question::Show(Arc::clone(show)));
    }

    /// Gives up what is being counted: the work has changed.
    pub fn forget(&mut self) {
        self.open.drain(..).for_each(|(errand, _)| errand.give_up());
        let found = self.known.found.take().filter(|found| found.is_whole);
        if let (Some(show), Some(found)) = (self.show.take(), found) {
            self.before.retain(|(before, _)| *before != show);
            self.before.push_front((show, found));
            self.before.truncate(SHOWS_KNOWN);
        }
        self.known = Flashes::default();
    }

    /// Whether it is about this show.
    pub fn is_about(&self, show: &Arc<Show>) -> bool {
        self.show.as_ref().is_some_and(|known| Arc::ptr_eq(known, show))
    }

    /// Counts the flashes of a chain in another order, too.
    pub fn watch_order(&mut self, scope: Scope, order: &[usize]) {
        let Some(show) = self.show.clone().filter(|_| self.known.found.is_some()) else { return };
        let of = (scope, order.to_vec());
        if !self.known.orders.contains_key(&of) {
            self.ask(About::Order(of.clone()), Question::Order(show, of));
        }
    }

    /// Looks for changes that pass.
    pub fn look_for_suggestions(&mut self) {
        let found = self.known.found.clone();
        let found = found.filter(|found| found.is_whole && self.known.suggestions.is_none());
        if let (Some(show), Some(found)) = (self.show.clone(), found) {
            self.ask(About::Suggestions, Question::Suggestions(show, found));
        }
    }

    /// Whether something is being counted.
    pub fn is_counting(&self) -> bool {
        !self.open.is_empty()
    }

    /// Counts anew what could not be counted.
    pub fn try_again(&mut self) {
        if self.known.problem.is_some() {
            self.forget();
        }
        self.known.orders.retain(|_, counted| counted.is_ok());
        self.known.suggestions.take_if(|found| found.is_err());
    }

    /// What is known by now.
    pub fn known(&mut self) -> &Flashes {
        while let Some((number, said)) = self.worker.hear() {
            let Some(at) = self.open.iter().position(|(errand, _)| errand.is(number)) else { continue };
            if let Said::Part(part) = said {
                match part {
                    Answer::Progress(what, done, total) => self.known.progress = Some((what, done, total)),
                    Answer::Found(found) => self.known.found = Some(Arc::new(*found)),
                    Answer::Report(_) | Answer::Suggestions(_) => {}
                }
                continue;
            }
            let (_, about) = self.open.remove(at);
            let result = match said {
                Said::Finished(answer) => Ok(answer),
                Said::Failed(why) => Err(why),
                // Counted no further than to where nobody wanted it: nothing is known.
                Said::GaveWay | Said::Part(_) => continue,
            };
            match (about, result) {
                (About::Show, result) => {
                    self.known.progress = None;
                    match result {
                        Ok(Answer::Found(found)) => self.known.found = Some(Arc::new(*found)),
                        Ok(_) => {}
                        Err(why) => self.known.problem = Some(why),
                    }
                }
                (About::Order(of), Ok(Answer::Report(report))) => {
                    self.known.orders.insert(of, Ok(*report));
                }
                (About::Order(of), Err(why)) => drop(self.known.orders.insert(of, Err(why))),
                (About::Suggestions, Ok(Answer::Suggestions(found))) => {
                    self.known.suggestions = Some(Ok(found));
                }
                (About::Suggestions, Err(why)) => self.known.suggestions = Some(Err(why)),
                (About::Order(_) | About::Suggestions, Ok(_)) => {}
            }
        }
        &self.known
    }

    fn ask(&mut self, about: About, question: Question) {
        if !self.open.iter().any(|(_, open)| *open == about) {
            let errand = self.worker.ask(question);
            self.open.push((errand, about));
        }
    }
}

/// The thread's side.
fn answered(
    renderer: &mut Renderer,
    catalogue: &Catalogue,
    question: Question,
    task: &Task<'_, Answer>,
) -> Result<Answer, Unfinished> {
    let mut shelf = Shelf::new(catalogue);
    let stop = task.stop();
    shelf.give_up_when(move || stop.load(Ordering::Relaxed));
    let failed = |error: RenderError| Unfinished::Failed(error.to_string());
    let answer = match question {
        Question::Show(show) => {
            let watch = Watch::of(&show);
            let tell = |what: &str, done: usize, total: usize| {
                task.tell_progress(Answer::Progress(raised(what), done, total));
                task.is_wanted()
            };
            let total = watch.frames(show.tempo_bpm);
            let counted = flashing::counted(renderer, &mut shelf, &show, &watch, |now| {
                let by_now = now.at_least().map_or_else(String::new, |at_least| format!(", {at_least}"));
                tell(&format!("counting flashes{by_now}"), now.frames, total)
            });
            let mut found = Flashing::begun(&show, &watch, counted.map_err(failed)?);
            if !found.is_whole && task.is_wanted() {
                task.tell(Answer::Found(Box::new(found.clone())));
                let completed = flashing::completed(renderer, &mut shelf, &show, found, |doing| {
                    tell(doing.what, doing.done, doing.total)
                });
                found = completed.map_err(failed)?;
            }
            Answer::Found(Box::new(found))
        }
        Question::Order(show, (scope, order)) => {
            let changed = (Edit::Order { scope, order }).applied(&show);
            let (changed, _) = changed.map_err(|error| Unfinished::Failed(error.to_string()))?;
            let watch = Watch::of(&show);
            let counted = flashing::counted(renderer, &mut shelf, &changed, &watch, |_| task.is_wanted());
            Answer::Report(Box::new(counted.map_err(failed)?))
        }
        Question::Suggestions(show, found) => {
            let found = flashing::suggestions(renderer, &mut shelf, &show, &found, |_| task.is_wanted());
            Answer::Suggestions(found.map_err(failed)?)
        }
    };
    // What was given up on its way is counted in part only.
    if task.is_wanted() { Ok(answer) } else { Err(Unfinished::GaveWay) }
}

/// Words with their first letter raised.
fn raised(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// Draws the strip: flashes in the second that ends at each moment, against the limit of three.
pub fn strip(ui: &mut Ui, scene: &mut Scene<'_>) {
    let palette = palette(ui.ctx());
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), HEIGHT), Sense::click());
    let painter = ui.painter().with_clip_rect(rect);
    painter.rect_filled(rect, 4.0, palette.raised);
    let flashes = scene.flashes.clone();
    let text = said(&flashes);
    announce(&response, &format!("Flashes. {text}"), None);
    let sign = Rect::from_min_size(rect.min, vec2(26.0, rect.height()));
    let found = flashes.found.as_deref();
    if found.is_some_and(|found| !found.passes()) {
        painter.rect_filled(sign, 4.0, TOO_MANY);
        painter.text(sign.center(), Align2::CENTER_CENTER, "!", font(18.0), Color32::WHITE);
    } else if found.is_some_and(|found| found.is_whole) {
        painter.text(sign.center(), Align2::CENTER_CENTER, "ok", font(12.0), palette.plain);
    }
    let graph = Rect::from_min_max(
        pos2(rect.left() + rect.width() * 0.56, rect.top() + 4.0),
        rect.right_bottom() - vec2(8.0, 4.0),
    );
    // Two lines are what the strip has room for; all of it is told to those who point at it.
    let mut job = egui::text::LayoutJob::simple(
        text.clone(),
        font(11.0),
        palette.plain,
        graph.left() - sign.right() - 16.0,
    );
    job.wrap.max_rows = 2;
    let words = painter.layout_job(job);
    painter.galley(pos2(sign.right() + 6.0, rect.center().y - words.size().y / 2.0), words, palette.plain);
    if let Some(found) = found {
        graph_of(&painter, graph, found, scene, &palette);
    }
    if let Some((_, done, total)) = flashes.progress {
        let share = done as f32 / total.max(1) as f32;
        let line = Rect::from_center_size(graph.center_top(), vec2(graph.width(), 4.0));
        painter.rect_filled(line, 2.0, palette.lifted);
        painter.rect_filled(line.with_max_x(line.left() + line.width() * share), 2.0, palette.quiet);
    }
    paint_focus(ui, &response, rect);
    if response
        .on_hover_text(format!("{text}\nPress for what is counted, and what would flash less (key: H)"))
        .clicked()
    {
        let again = flashes.problem.is_some();
        scene.act(if again { Action::TryAgain } else { Action::Ask(Dialog::Flashes) });
    }
}

fn graph_of(
    painter: &egui::Painter,
    graph: Rect,
    found: &Flashing,
    scene: &Scene<'_>,
    palette: &crate::window::theme::Palette,
) {
    // What is drawn is what the words are about: as it stands, or with the control that is worst.
    let (_, report) = found.worst();
    let count = report.per_frame.len().max(1) as f32;
    let height = |changes: u8| (f32::from(changes) / 2.0).min(MOST_DRAWN) / MOST_DRAWN * graph.height();
    for (at, changes) in report.per_frame.iter().enumerate() {
        let most = changes.iter().copied().max().unwrap_or(0);
        if most == 0 {
            continue;
        }
        let left = graph.left() + graph.width() * at as f32 / count;
        let right = graph.left() + graph.width() * (at + 1) as f32 / count;
        let bar = Rect::from_min_max(pos2(left, graph.bottom() - height(most)), pos2(right, graph.bottom()));
        let too_many = u32::from(most) > MOST_CHANGES;
        painter.rect_filled(bar, 0.0, if too_many { TOO_MANY } else { palette.quiet });
    }
    // The limit: bars that reach over it are too many, whatever their colour.
    let limit = graph.bottom() - height(MOST_CHANGES as u8);
    painter.hline(graph.x_range(), limit, Stroke::new(1.0, palette.bright));
    painter.text(
        pos2(graph.right(), limit - 1.0),
        Align2::RIGHT_BOTTOM,
        "3 a second",
        font(9.0),
        palette.plain,
    );
    let now = scene.view.beats / found.watch.over_beats;
    if (0.0..1.0).contains(&now) {
        let x = graph.left() + graph.width() * now as f32;
        painter.vline(x, graph.y_range(), Stroke::new(1.0, palette.accent));
    }
}

/// The strip in words.
fn said(flashes: &Flashes) -> String {
    if let Some(problem) = &flashes.problem {
        return format!("Flashes were not counted: {}. Press to try again", shown_error(problem));
    }
    match (&flashes.found, &flashes.progress) {
        (Some(found), progress) => {
            let (played, report) = found.worst();
            let worst = report.worst();
            let over =
                format!("{} in the worst second of beats 0 to {}", worst.flashes(), found.watch.over_beats);
            let allows = format!("{} allows 3", worst.limit.source());
            let with = played.map(|played| format!(" with {}", played.said())).unwrap_or_default();
            let mut text = if !found.passes() {
                format!("Too many {}{with}: {over}; {allows}", worst.limit.label())
            } else if !found.is_whole {
                format!("Flashes as it stands: {over}; {allows}")
            } else if found.played.is_empty() {
                format!("Flashes: {over}; {allows}")
            } else {
                format!("Flashes, with every control played at its worst, too: {over}; {allows}")
            };
            if let Some(alone) = &found.alone {
                text += &format!(". The footage alone: {}", alone.worst().flashes());
            }
            if let Some((what, ..)) = progress.as_ref().filter(|_| !found.is_whole) {
                text += &format!(". {what} \u{2026}");
            }
            shown(&text).into_owned()
        }
        (None, Some((what, ..))) => format!("{what} \u{2026}"),
        (None, None) => "Flashes are counted when the window rests".to_owned(),
    }
}

/// The mark of an order on the wall: whether its flashes are too many, in a corner of its picture.
pub fn mark(ui: &Ui, picture: Rect, counted: Option<&Result<FlashReport, String>>) {
    let palette = palette(ui.ctx());
    let (text, ground, colour) = match counted {
        None => ("\u{2026}".to_owned(), palette.panel, palette.quiet),
        Some(Err(_)) => ("not counted".to_owned(), palette.panel, palette.plain),
        Some(Ok(report)) if report.passes() => {
            (format!("ok {}", report.worst().flashes()), palette.panel, palette.plain)
        }
        Some(Ok(report)) => {
            (format!("! {} {}", report.worst().flashes(), kind(report)), TOO_MANY, Color32::WHITE)
        }
    };
    let galley = ui.painter().layout_no_wrap(text, font(10.0), colour);
    let size = galley.size() + vec2(8.0, 4.0);
    let rect = Rect::from_min_size(picture.left_bottom() + vec2(4.0, -size.y - 4.0), size);
    ui.painter().rect_filled(rect, 3.0, ground);
    ui.painter().galley(rect.min + vec2(4.0, 2.0), galley, colour);
}

/// "red" or "flashes": which limit is broken most.
fn kind(report: &FlashReport) -> &'static str {
    match report.worst().limit {
        Limit::Red | Limit::ScreenRed => "red",
        Limit::General | Limit::ScreenGeneral => "flashes",
    }
}

/// The sheet: every limit, what would pass, and what this is not.
pub fn sheet(ui: &mut Ui, scene: &mut Scene<'_>) {
    ui.heading("Flashes");
    ui.label(said(scene.flashes));
    ui.add_space(4.0);
    let flashes = scene.flashes.clone();
    if let Some(found) = &flashes.found {
        let report = &found.own;
        egui::Grid::new("limits").num_columns(4).spacing([14.0, 4.0]).show(ui, |ui| {
            for finding in &report.findings {
                ui.strong(if finding.passes() { "ok" } else { "! too many" });
                ui.label(finding.limit.source());
                ui.label(finding.limit.label());
                ui.weak(format!(
                    "{} in one second over more than {}",
                    finding.flashes(),
                    finding.limit.area()
                ));
                ui.end_row();
            }
        });
        for (played, report) in found.failing() {
            let worst = report.worst();
            ui.label(format!(
                "! too many with {}: {} in one second by {}",
                shown(&played.said()),
                worst.counted(),
                worst.limit.source()
            ));
        }
        if !found.played.is_empty() {
            let count = found.played.len();
            ui.small(format!("The table is of the show as it stands; {count} ways of playing its controls were counted, too."));
        }
        ui.small(format!(
            "Rendered at {}, counted on {} squares over {} frames, round the seam of a loop.",
            report.frame, report.squares, report.frames
        ));
        ui.add_space(6.0);
        if found.is_footage() {
            ui.label("The footage alone is past a limit: take other footage, play it slower, or lay something darker over it.");
        } else if !found.passes() && found.is_whole {
            suggestions(ui, scene, &flashes);
        }
    }
    if flashes.problem.is_some() {
        try_again(ui, scene);
        ui.add_space(6.0);
    }
    let uncounted = flashes.orders.values().find_map(|counted| counted.as_ref().err());
    if let Some(why) = uncounted {
        ui.label(format!("Some orders were not counted: {}", shown_error(why)));
        try_again(ui, scene);
    }
    if scene.view.flashes_of_orders {
        ui.weak("Every order on the wall carries its flashes in the worst second.");
    } else if ui
        .button("Count every order on the wall, too")
        .on_hover_text("An order can flash more than another: a tint over a flash can make it red")
        .clicked()
    {
        scene.act(Action::FlashesOfOrders);
    }
    ui.add_space(6.0);
    ui.small(caution::NO_CERTIFICATE);
    close_button(ui, scene);
}

fn try_again(ui: &mut Ui, scene: &mut Scene<'_>) {
    if ui.button("Try again").clicked() {
        scene.act(Action::TryAgain);
    }
}

fn suggestions(ui: &mut Ui, scene: &mut Scene<'_>, flashes: &Flashes) {
    match &flashes.suggestions {
        None => {
            scene.wants_suggestions = true;
            ui.weak("Looking for changes that pass \u{2026}");
        }
        Some(Err(why)) => {
            ui.label(format!("Changes that pass were not found: {}", shown_error(why)));
            try_again(ui, scene);
        }
        Some(Ok(found)) if found.is_empty() => {
            ui.label("No single change of those tried passes: make the flashes slower and weaker at once, or hold them.");
        }
        Some(Ok(found)) => {
            ui.strong("What passes, rendered and counted, with the controls played that were too many:");
            for suggestion in found {
                let text = format!("{}: {}", suggestion.kind, suggestion.text);
                if ui.button(shown(&text)).on_hover_text("Take this change; it can be undone").clicked() {
                    scene.act(Action::Edit(suggestion.edit.clone()));
                    scene.act(Action::Close);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use std::time::{Duration, Instant};

    use super::*;
    use crate::base::frame::Frame;
    use crate::base::picture::Picture;
    use crate::beat::FrameRate;
    use crate::edit::Work;
    use crate::measure::{FlashCounter, Viewing};
    use crate::readiness::flashing::Played;
    use crate::show::control::ControlKind;

    fn small_show(catalogue: &Catalogue) -> Arc<Show> {
        let mut show = (**Work::preset("night-ferry", catalogue).unwrap().unwrap().show()).clone();
        show.frame = Frame { width: 32, height: 18 };
        Arc::new(show)
    }

    fn until_still(watcher: &mut FlashWatcher) -> Flashes {
        let began = Instant::now();
        loop {
            let known = watcher.known().clone();
            if !watcher.is_counting() {
                return known;
            }
            assert!(began.elapsed() < Duration::from_secs(180), "it counts for ever");
            std::thread::sleep(Duration::from_millis(2));
        }
    }

    #[test]
    fn where_flashes_could_not_be_counted_it_is_told_and_trying_again_counts_them() {
        let catalogue = Catalogue::built_in().unwrap();
        let show = small_show(&catalogue);
        let mut tries = 0;
        let begin = move || {
            tries += 1;
            match tries {
                1 => Err("no device is to be had".to_owned()),
                2 => panic!("the driver fell over"),
                _ => Gpu::open(None).map_err(|error| error.to_string()),
            }
        };
        let mut watcher = FlashWatcher::beginning(begin, catalogue, || ());
        for why in ["no device is to be had", "the work broke off: the driver fell over"] {
            watcher.watch(&show);
            assert!(watcher.is_counting());
            let known = until_still(&mut watcher);
            assert_eq!((known.problem.as_deref(), known.progress.is_none()), (Some(why), true));
            assert!(said(&known).contains(why));
            watcher.try_again();
        }
        watcher.watch(&show);
        let known = until_still(&mut watcher);
        assert!(known.found.is_some() && known.problem.is_none(), "{:?}", known.problem);
    }

    #[test]
    fn one_order_that_cannot_be_counted_keeps_nothing_counting_and_the_others_are_counted() {
        let catalogue = Catalogue::built_in().unwrap();
        let show = small_show(&catalogue);
        let begin = || Gpu::open(None).map_err(|error| error.to_string());
        let mut watcher = FlashWatcher::beginning(begin, catalogue, || ());
        watcher.watch(&show);
        assert!(until_still(&mut watcher).found.is_some());
        // The second is no order of the chain.
        let scope = Scope::Bundle(0);
        let orders = [vec![4, 3, 2, 1, 0], vec![0, 0, 0, 0, 0], vec![1, 0, 2, 3, 4]];
        orders.iter().for_each(|order| watcher.watch_order(scope, order));
        let known = until_still(&mut watcher);
        let counted = orders.map(|order| known.orders[&(scope, order)].is_ok());
        assert_eq!(counted, [true, false, true]);
        assert!(known.problem.is_none());
        // Asked for again it is not counted again and again.
        watcher.watch_order(scope, &[0, 0, 0, 0, 0]);
        assert!(!watcher.is_counting());
    }

    /// What is counted of a second of black and white by turns.
    fn report(flashes: usize) -> FlashReport {
        let frame = Frame { width: 8, height: 6 };
        let mut counter = FlashCounter::new(frame, 60, Viewing::default());
        for at in 0..60 {
            let byte = if at * flashes * 2 / 60 % 2 == 1 { 255 } else { 0 };
            counter.take(&Picture { frame, rgba: [byte, byte, byte, 255].repeat(48), opaque: true });
        }
        counter.report()
    }

    fn known(own: usize, held: Option<usize>, is_whole: bool) -> Flashes {
        let watch = Watch {
            from_beats: 0.0,
            over_beats: 16.0,
            rate: FrameRate::default(),
            viewing: Viewing::default(),
        };
        let strobe =
            Played::Held { control: "Strobe".to_owned(), kind: ControlKind::Momentary, position: 1.0 };
        let played = held.map(|held| (strobe, report(held))).into_iter().collect();
        let found = Flashing { watch, own: report(own), played, alone: None, is_whole };
        Flashes { found: Some(Arc::new(found)), ..Flashes::default() }
    }

    #[test]
    fn the_strip_says_what_it_counted_and_names_the_control_that_is_too_many() {
        let text = said(&known(2, None, true));
        assert_eq!(text, "Flashes: 1.5 in the worst second of beats 0 to 16; WCAG 2.2 allows 3");
        let text = said(&known(2, Some(10), true));
        assert!(text.starts_with("Too many general flashes with \"Strobe\" held down: 9.5 in"), "{text}");
        let text = said(&known(2, Some(2), true));
        assert!(text.starts_with("Flashes, with every control played at its worst, too: 1.5"), "{text}");
    }

    #[test]
    fn the_strip_says_on_the_way_what_was_found_at_least() {
        let by_now = |changes| flashing::SoFar { frames: 9, changes }.at_least();
        assert_eq!(by_now(0), None);
        assert_eq!(by_now(5).as_deref(), Some("at least 2.5 in one second"));
        let what = format!("Counting flashes, {}", by_now(8).unwrap());
        let known = Flashes { progress: Some((what, 9, 60)), ..Flashes::default() };
        assert_eq!(said(&known), "Counting flashes, at least 4 in one second, which is too many \u{2026}");
    }

    #[test]
    fn the_strip_claims_nothing_of_controls_that_are_still_to_be_counted() {
        let mut known = known(2, None, false);
        known.progress = Some(("Counting flashes with \"Strobe\" held down".to_owned(), 3, 9));
        let text = said(&known);
        assert!(text.starts_with("Flashes as it stands: 1.5"), "{text}");
        assert!(text.ends_with("Counting flashes with \"Strobe\" held down \u{2026}"), "{text}");
    }

    #[test]
    fn a_step_back_to_a_show_that_was_counted_is_known_at_once() {
        let catalogue = Catalogue::built_in().unwrap();
        let show = small_show(&catalogue);
        let other = Arc::new(Show { tempo_bpm: 120.0, ..(*show).clone() });
        let begin = || Gpu::open(None).map_err(|error| error.to_string());
        let mut watcher = FlashWatcher::beginning(begin, catalogue, || ());
        for show in [&show, &other] {
            watcher.watch(show);
            assert!(until_still(&mut watcher).found.is_some_and(|found| found.is_whole));
        }
        watcher.watch(&Arc::new((*show).clone()));
        assert!(!watcher.is_counting() && watcher.known().found.is_some());
    }
}
