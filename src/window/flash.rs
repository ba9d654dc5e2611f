//! The strip under the picture: what of the output flashes, counted while the window rests.

use std::collections::HashMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{self, Receiver, Sender};
use std::thread::{self, JoinHandle};

use egui::{Align2, Color32, Rect, Sense, Stroke, Ui, pos2, vec2};

use super::desk::Scene;
use super::theme::palette;
use super::view::{Action, Dialog};
use super::widgets::{announce, font, paint_focus};
use crate::catalogue::Catalogue;
use crate::caution;
use crate::edit::Edit;
use crate::flashing::{self, Suggestion, Watch};
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
    Order(Arc<Show>, Scope, Vec<usize>),
    /// What would pass.
    Suggestions(Arc<Show>),
}

enum Answer {
    Progress(usize, usize),
    Report(FlashReport),
    Order((Scope, Vec<usize>), FlashReport),
    Suggestions(Vec<Suggestion>),
    Problem(String),
}

/// What is known of a show's flashes.
#[derive(Debug, Clone, Default)]
pub struct Flashes {
    /// Of the show as it is.
    pub report: Option<Arc<FlashReport>>,
    /// Frames counted, and frames in all, while it is being counted.
    pub progress: Option<(usize, usize)>,
    /// Of chains in other orders.
    pub orders: HashMap<(Scope, Vec<usize>), FlashReport>,
    /// Changes that pass, once they were looked for.
    pub suggestions: Option<Vec<Suggestion>>,
    /// Why nothing is known.
    pub problem: Option<String>,
}

/// A thread that counts the flashes of one show at a time, the latest.
pub struct FlashWatcher {
    ask: Option<Sender<(u64, Question)>>,
    thread: Option<JoinHandle<()>>,
    answers: Receiver<(u64, Answer)>,
    /// Which show is meant; the thread gives up what belongs to an earlier one.
    latest: Arc<AtomicU64>,
    show: Option<Arc<Show>>,
    asked_orders: Vec<(Scope, Vec<usize>)>,
    asked_suggestions: bool,
    known: Flashes,
}

impl FlashWatcher {
    /// A watcher on this GPU.
    pub fn new(gpu: Gpu, catalogue: Catalogue, wake: impl Fn() + Send + 'static) -> Self {
        let (ask, questions) = mpsc::channel();
        let (tell, answers) = mpsc::channel();
        let latest = Arc::new(AtomicU64::new(0));
        let seen = Arc::clone(&latest);
        // Where no thread is to be had, the strip stays empty; the rest works on.
        let thread = thread::Builder::new().name("flashes".to_owned()).spawn(move || {
            let mut renderer = Renderer::new(gpu);
            answer(&mut renderer, &catalogue, &questions, &tell, &seen, &wake);
        });
        Self {
            ask: Some(ask),
            thread: thread.ok(),
            answers,
            latest,
            show: None,
            asked_orders: Vec::new(),
            asked_suggestions: false,
            known: Flashes::default(),
        }
    }

    /// Counts this show's flashes from now on; what belongs to another is given up.
    pub fn watch(&mut self, show: &Arc<Show>) {
        if self.show.as_ref().is_some_and(|known| Arc::ptr_eq(known, show)) {
            return;
        }
        self.forget();
        self.show = Some(Arc::clone(show));
        self.known.progress = Some((0, watch_of(show).frames(show.tempo_bpm)));
        self.send(Question::Show(Arc::clone(show)));
    }

    /// Gives up what is being counted: the work has changed.
    pub fn forget(&mut self) {
        self.latest.fetch_add(1, Ordering::Relaxed);
        self.show = None;
        self.asked_orders.clear();
        self.asked_suggestions = false;
        self.known = Flashes::default();
    }

    /// Whether it is about this show.
    pub fn is_about(&self, show: &Arc<Show>) -> bool {
        self.show.as_ref().is_some_and(|known| Arc::ptr_eq(known, show))
    }

    /// Counts the flashes of a chain in another order, too.
    pub fn watch_order(&mut self, scope: Scope, order: &[usize]) {
        let Some(show) = self.show.clone().filter(|_| self.known.report.is_some()) else { return };
        if !self.asked_orders.iter().any(|(known, asked)| *known == scope && asked == order) {
            self.asked_orders.push((scope, order.to_vec()));
            self.send(Question::Order(show, scope, order.to_vec()));
        }
    }

    /// Looks for changes that pass.
    pub fn look_for_suggestions(&mut self) {
        if let Some(show) = self.show.clone().filter(|_| !self.asked_suggestions) {
            self.asked_suggestions = true;
            self.send(Question::Suggestions(show));
        }
    }

    /// Whether something is being counted.
    pub fn is_counting(&self) -> bool {
        self.known.progress.is_some()
            || self.known.orders.len() < self.asked_orders.len()
            || (self.asked_suggestions && self.known.suggestions.is_none() && self.known.problem.is_none())
    }

    /// What is known by now.
    pub fn known(&mut self) -> &Flashes {
        let latest = self.latest.load(Ordering::Relaxed);
        while let Ok((about, answer)) = self.answers.try_recv() {
            if about != latest {
                continue;
            }
            match answer {
                Answer::Progress(done, total) => self.known.progress = Some((done, total)),
                Answer::Report(report) => {
                    self.known.progress = None;
                    self.known.report = Some(Arc::new(report));
                }
                Answer::Order(order, report) => {
                    self.known.orders.insert(order, report);
                }
                Answer::Suggestions(found) => self.known.suggestions = Some(found),
                Answer::Problem(problem) => {
                    self.known.progress = None;
                    self.known.problem = Some(problem);
                }
            }
        }
        &self.known
    }

    fn send(&self, question: Question) {
        if let Some(ask) = &self.ask {
            // The thread ends only with the window.
            let _ = ask.send((self.latest.load(Ordering::Relaxed), question));
        }
    }
}

impl Drop for FlashWatcher {
    fn drop(&mut self) {
        self.latest.fetch_add(1, Ordering::Relaxed);
        self.ask = None;
        // The program must not end while a thread is at work on the GPU: drivers do not bear that.
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

fn answer(
    renderer: &mut Renderer,
    catalogue: &Catalogue,
    questions: &Receiver<(u64, Question)>,
    tell: &Sender<(u64, Answer)>,
    latest: &AtomicU64,
    wake: &dyn Fn(),
) {
    while let Ok((about, question)) = questions.recv() {
        let is_wanted = || latest.load(Ordering::Relaxed) == about;
        if !is_wanted() {
            continue;
        }
        let say = |answer| {
            let _ = tell.send((about, answer));
            wake();
        };
        let mut shelf = Shelf::new(catalogue);
        match question {
            Question::Show(show) => {
                let watch = watch_of(&show);
                let total = watch.frames(show.tempo_bpm);
                let counted = flashing::counted(renderer, &mut shelf, &show, &watch, |done| {
                    if done % 12 == 0 {
                        say(Answer::Progress(done, total));
                    }
                    is_wanted()
                });
                match counted {
                    Ok(report) => say(Answer::Report(report)),
                    Err(error) => say(Answer::Problem(error.to_string())),
                }
            }
            Question::Order(show, scope, order) => {
                let edit = Edit::Order { scope, order: order.clone() };
                let Ok((changed, _)) = edit.applied(&show) else { continue };
                let watch = watch_of(&show);
                match flashing::counted(renderer, &mut shelf, &changed, &watch, |_| is_wanted()) {
                    Ok(report) => say(Answer::Order((scope, order), report)),
                    Err(error) => say(Answer::Problem(error.to_string())),
                }
            }
            Question::Suggestions(show) => {
                let watch = watch_of(&show);
                match flashing::suggestions(renderer, &mut shelf, &show, &watch, |_| is_wanted()) {
                    Ok(found) => say(Answer::Suggestions(found)),
                    Err(error) => say(Answer::Problem(error.to_string())),
                }
            }
        }
    }
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
        scene.act(Action::Ask(Dialog::Flashes));
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
        return format!("Flashes were not counted: {problem}");
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
pub fn mark(ui: &Ui, picture: Rect, report: Option<&FlashReport>) {
    let palette = palette(ui.ctx());
    let (text, ground, colour) = match report {
        None => ("\u{2026}".to_owned(), palette.panel, palette.quiet),
        Some(report) if report.passes() => {
            (format!("ok {}", report.worst().flashes()), palette.panel, palette.plain)
        }
        Some(report) => {
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

fn suggestions(ui: &mut Ui, scene: &mut Scene<'_>, flashes: &Flashes) {
    match &flashes.suggestions {
        None => {
            scene.wants_suggestions = true;
            ui.weak("Looking for changes that pass \u{2026}");
        }
        Some(found) if found.is_empty() => {
            ui.label("No single change of those tried passes: make the flashes slower and weaker at once, or hold them.");
        }
        Some(found) => {
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
