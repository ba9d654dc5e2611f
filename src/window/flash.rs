//! The strip under the picture: what of the output flashes, counted while the window rests.

use std::collections::HashMap;
use std::sync::Arc;
use std::sync::atomic::Ordering;

use egui::{Align2, Color32, Rect, Sense, Stroke, Ui, pos2, vec2};

use super::desk::Scene;
use super::theme::palette;
use super::view::{Action, Dialog};
use super::widgets::{announce, font, paint_focus};
use super::worker::{Errand, Said, Task, Unfinished, Worker};
use crate::catalogue::Catalogue;
use crate::caution;
use crate::edit::Edit;
use crate::flashing::{self, FlashingError, Suggestion, Watch};
use crate::footage::Shelf;
use crate::gpu::{Gpu, Renderer};
use crate::measure::{FlashReport, Limit, MOST_CHANGES, Viewing};
use crate::show::{Scope, Show};

/// How many beats are counted.
pub const OVER_BEATS: f64 = 8.0;
/// How high the strip is, in points.
pub const HEIGHT: f32 = 34.0;
/// Vermillion of Okabe and Ito, beside a sign and words.
const TOO_MANY: Color32 = Color32::from_rgb(0xd5, 0x5e, 0x00);
/// Flashes a second that the strip is high enough for.
const MOST_DRAWN: f32 = 6.0;

/// What is watched for a show: from beat 0, as it would be played, at the show's own rate.
pub fn watch_of(show: &Show) -> Watch {
    Watch { from_beats: 0.0, over_beats: OVER_BEATS, rate: show.rate, viewing: Viewing::default() }
}

enum Question {
    /// The show as it is.
    Show(Arc<Show>),
    /// The show with a chain in another order.
    Order(Arc<Show>, (Scope, Vec<usize>)),
    /// What would pass.
    Suggestions(Arc<Show>),
}

enum Answer {
    Progress(usize, usize),
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
    /// Of the show as it is.
    pub report: Option<Arc<FlashReport>>,
    /// Frames counted, and frames in all, while it is being counted.
    pub progress: Option<(usize, usize)>,
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
        let begin = move || begin().map(Renderer::new);
        let work = move |renderer: &mut Renderer, question, task: &Task<'_, Answer>| {
            answered(renderer, &catalogue, question, task)
        };
        let worker = Worker::new("flashes", wake, begin, work);
        Self { worker, open: Vec::new(), show: None, known: Flashes::default() }
    }

    /// Counts this show's flashes from now on; what belongs to another is given up.
    pub fn watch(&mut self, show: &Arc<Show>) {
        if self.is_about(show) {
            return;
        }
        self.forget();
        self.show = Some(Arc::clone(show));
        self.known.progress = Some((0, watch_of(show).frames(show.tempo_bpm)));
        self.ask(About::Show, Question::Show(Arc::clone(show)));
    }

    /// Gives up what is being counted: the work has changed.
    pub fn forget(&mut self) {
        self.open.drain(..).for_each(|(errand, _)| errand.give_up());
        self.show = None;
        self.known = Flashes::default();
    }

    /// Whether it is about this show.
    pub fn is_about(&self, show: &Arc<Show>) -> bool {
        self.show.as_ref().is_some_and(|known| Arc::ptr_eq(known, show))
    }

    /// Counts the flashes of a chain in another order, too.
    pub fn watch_order(&mut self, scope: Scope, order: &[usize]) {
        let Some(show) = self.show.clone().filter(|_| self.known.report.is_some()) else { return };
        let of = (scope, order.to_vec());
        if !self.known.orders.contains_key(&of) {
            self.ask(About::Order(of.clone()), Question::Order(show, of));
        }
    }

    /// Looks for changes that pass.
    pub fn look_for_suggestions(&mut self) {
        if let Some(show) = self.show.clone().filter(|_| self.known.suggestions.is_none()) {
            self.ask(About::Suggestions, Question::Suggestions(show));
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
                if let Answer::Progress(done, total) = part {
                    self.known.progress = Some((done, total));
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
                        Ok(Answer::Report(report)) => self.known.report = Some(Arc::new(*report)),
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
    let failed = |error: FlashingError| Unfinished::Failed(error.to_string());
    let answer = match question {
        Question::Show(show) => {
            let watch = watch_of(&show);
            let total = watch.frames(show.tempo_bpm);
            let counted = flashing::counted(renderer, &mut shelf, &show, &watch, |done| {
                if done % 12 == 0 {
                    task.tell(Answer::Progress(done, total));
                }
                task.is_wanted()
            });
            Answer::Report(Box::new(counted.map_err(failed)?))
        }
        Question::Order(show, (scope, order)) => {
            let changed = (Edit::Order { scope, order }).applied(&show);
            let (changed, _) = changed.map_err(|error| Unfinished::Failed(error.to_string()))?;
            let watch = watch_of(&show);
            let counted = flashing::counted(renderer, &mut shelf, &changed, &watch, |_| task.is_wanted());
            Answer::Report(Box::new(counted.map_err(failed)?))
        }
        Question::Suggestions(show) => {
            let watch = watch_of(&show);
            let found = flashing::suggestions(renderer, &mut shelf, &show, &watch, |_| task.is_wanted());
            Answer::Suggestions(found.map_err(failed)?)
        }
    };
    // What was given up on its way is counted in part only.
    if task.is_wanted() { Ok(answer) } else { Err(Unfinished::GaveWay) }
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
    if flashes.report.as_ref().is_some_and(|report| !report.passes()) {
        painter.rect_filled(sign, 4.0, TOO_MANY);
        painter.text(sign.center(), Align2::CENTER_CENTER, "!", font(18.0), Color32::WHITE);
    } else if flashes.report.is_some() {
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
    if let Some((done, total)) = flashes.progress {
        let share = done as f32 / total.max(1) as f32;
        let line = Rect::from_center_size(graph.center(), vec2(graph.width(), 4.0));
        painter.rect_filled(line, 2.0, palette.lifted);
        painter.rect_filled(line.with_max_x(line.left() + line.width() * share), 2.0, palette.quiet);
    }
    if let Some(report) = &flashes.report {
        graph_of(&painter, graph, report, scene, &palette);
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
    report: &FlashReport,
    scene: &Scene<'_>,
    palette: &super::theme::Palette,
) {
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
    let now = scene.view.beats / OVER_BEATS;
    if (0.0..1.0).contains(&now) {
        let x = graph.left() + graph.width() * now as f32;
        painter.vline(x, graph.y_range(), Stroke::new(1.0, palette.accent));
    }
}

/// The strip in words.
fn said(flashes: &Flashes) -> String {
    if let Some(problem) = &flashes.problem {
        return format!("Flashes were not counted: {problem}. Press to try again");
    }
    match (&flashes.report, flashes.progress) {
        (Some(report), _) => {
            let worst = report.worst();
            let over = format!("{} in the worst second of beats 0 to {OVER_BEATS}", worst.flashes());
            if report.passes() {
                format!("Flashes: {over}; {} allows 3", worst.limit.source())
            } else {
                format!("Too many {}: {over}; {} allows 3", worst.limit.label(), worst.limit.source())
            }
        }
        (None, Some(_)) => "Counting flashes \u{2026}".to_owned(),
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
    if let Some(report) = &flashes.report {
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
        ui.small(format!("Counted at {} on {} frames.", report.frame, report.frames));
        ui.add_space(6.0);
        if !report.passes() {
            suggestions(ui, scene, &flashes);
        }
    }
    if flashes.problem.is_some() {
        try_again(ui, scene);
        ui.add_space(6.0);
    }
    let uncounted = flashes.orders.values().find_map(|counted| counted.as_ref().err());
    if let Some(why) = uncounted {
        ui.label(format!("Some orders were not counted: {why}"));
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
    ui.add_space(6.0);
    if ui.button("Close").clicked() {
        scene.act(Action::Close);
    }
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
            ui.label(format!("Changes that pass were not found: {why}"));
            try_again(ui, scene);
        }
        Some(Ok(found)) if found.is_empty() => {
            ui.label("No single change of those tried passes: make the flashes slower and weaker at once, or hold them.");
        }
        Some(Ok(found)) => {
            ui.strong("What passes, rendered and counted:");
            for suggestion in found {
                let text = format!("{}: {}", suggestion.kind, suggestion.text);
                if ui.button(text).on_hover_text("Take this change; it can be undone").clicked() {
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
    use crate::edit::Work;

    fn small_show(catalogue: &Catalogue) -> Arc<Show> {
        let mut show = (**Work::preset("night-ferry", catalogue).unwrap().unwrap().show()).clone();
        show.frame = crate::frame::Frame { width: 32, height: 18 };
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
            assert_eq!((known.problem.as_deref(), known.progress), (Some(why), None));
            assert!(said(&known).contains(why));
            watcher.try_again();
        }
        watcher.watch(&show);
        let known = until_still(&mut watcher);
        assert!(known.report.is_some() && known.problem.is_none(), "{:?}", known.problem);
    }

    #[test]
    fn one_order_that_cannot_be_counted_keeps_nothing_counting_and_the_others_are_counted() {
        let catalogue = Catalogue::built_in().unwrap();
        let show = small_show(&catalogue);
        let begin = || Gpu::open(None).map_err(|error| error.to_string());
        let mut watcher = FlashWatcher::beginning(begin, catalogue, || ());
        watcher.watch(&show);
        assert!(until_still(&mut watcher).report.is_some());
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
}
