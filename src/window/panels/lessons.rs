//! The lessons: a list, and one lesson at a time, with a question before its answer.

use std::path::Path;
use std::sync::Arc;

use egui::{Align, Button, RichText, ScrollArea, Sense, Ui, vec2};

use crate::base::shown::shown;
use crate::catalogue::Catalogue;
use crate::files::WriteError;
use crate::lessons::{Answers, FOLDER, Lesson, LessonPicture, Lessons, When};
use crate::readiness::caution;
use crate::show::Scope;
use crate::window::action::{Action, Tab};
use crate::window::pictures::{Stage, Urgency};
use crate::window::scene::Scene;
use crate::window::theme::palette;
use crate::window::widgets::{announce, name, paint_focus, paint_picture, path, texels};

/// Narrowest and widest picture, in points.
const WIDTHS: [f32; 2] = [145.0, 240.0];
/// Width of running text, in points: longer lines are hard to read.
const LINE: f32 = 560.0;

/// What a panel asks of the lessons.
#[derive(Debug, Clone, PartialEq)]
pub enum LessonAct {
    /// The list of all.
    List,
    /// Opens one, by its place in the list.
    Open(usize),
    /// So many lessons on, or back where negative.
    Turn(isize),
    /// Makes a choice in the lesson that is open.
    Choose(usize),
    /// Asks the lesson that is open again.
    Again,
    /// Forgets every answer.
    Forget,
    /// Opens the show of the lesson that is open, once changes are safe or given up.
    Try,
}

/// One lesson on offer.
#[derive(Debug, Clone)]
pub struct Offered {
    /// The lesson.
    pub lesson: Arc<Lesson>,
    /// Whether it travels inside the program.
    pub is_built_in: bool,
}

/// The lessons, and what was answered.
#[derive(Debug, Default)]
pub struct LessonRoom {
    read: bool,
    /// Those that can be opened.
    pub offered: Vec<Offered>,
    /// Why others cannot, each with its place.
    pub wrong: Vec<String>,
    /// What was answered.
    pub answers: Answers,
    /// The one that is open, by its place among those on offer.
    pub open: Option<usize>,
    /// Whether a newcomer is shown the way here.
    pub invites: bool,
}

impl LessonRoom {
    /// The room, with what was answered before; lessons are read once they are wanted.
    pub fn new(state: Option<&Path>, is_first_start: bool) -> Self {
        let answers = Answers::read(state);
        Self { invites: is_first_start && answers.is_empty() && state.is_some(), answers, ..Self::default() }
    }

    /// Reads the lessons, those of the program and those of the person's data folder.
    pub fn enter(&mut self, catalogue: &Catalogue, data: Option<&Path>) {
        self.invites = false;
        if std::mem::replace(&mut self.read, true) {
            return;
        }
        let folder = data.map(|data| data.join(FOLDER));
        for found in Lessons::with_folder(catalogue, folder.as_deref()).found {
            match found.lesson {
                Ok(lesson) => {
                    self.offered.push(Offered { lesson: Arc::new(lesson), is_built_in: found.is_built_in });
                }
                Err(error) => self.wrong.push(error.to_string()),
            }
        }
    }

    /// The lesson that is open.
    pub fn lesson(&self) -> Option<&Arc<Lesson>> {
        self.offered.get(self.open?).map(|offered| &offered.lesson)
    }

    /// What was chosen in a lesson, if it still has that choice.
    pub fn chosen(&self, lesson: &Lesson) -> Option<usize> {
        self.answers.chosen(&lesson.name).filter(|&choice| choice < lesson.choices.len())
    }

    /// Does what a panel asks for, but for opening a show.
    pub fn act(&mut self, act: &LessonAct) -> Result<(), WriteError> {
        let open = self.lesson().cloned();
        match (act, open) {
            (LessonAct::List, _) => self.open = None,
            (LessonAct::Open(at), _) => self.open = (*at < self.offered.len()).then_some(*at),
            (LessonAct::Turn(by), _) => self.turn(*by),
            (LessonAct::Choose(choice), Some(lesson)) if *choice < lesson.choices.len() => {
                return self.answers.choose(&lesson.name, *choice);
            }
            (LessonAct::Again, Some(lesson)) => return self.answers.forget(&lesson.name),
            (LessonAct::Forget, _) => return self.answers.forget_all(),
            (LessonAct::Choose(_) | LessonAct::Again | LessonAct::Try, _) => {}
        }
        Ok(())
    }

    fn turn(&mut self, by: isize) {
        let Some(last) = self.offered.len().checked_sub(1) else { return };
        self.open = Some(match self.open {
            Some(open) => open.saturating_add_signed(by).min(last),
            None if by < 0 => last,
            None => 0,
        });
    }
}

/// Draws the list, or the lesson that is open.
pub fn show(ui: &mut Ui, scene: &mut Scene<'_>) {
    let room = scene.lessons;
    let open = room.open.filter(|&at| at < room.offered.len());
    // Each has a scroll of its own, so that a lesson opens at its top.
    let area = ScrollArea::vertical().id_salt(("lessons", open)).auto_shrink([false; 2]).animated(false);
    area.show(ui, |ui| match open {
        Some(at) => one(ui, scene, at),
        None => list(ui, scene),
    });
}

fn list(ui: &mut Ui, scene: &mut Scene<'_>) {
    let room = scene.lessons;
    ui.add_space(6.0);
    text(
        ui,
        "Each shows a few pictures and asks what will come out. Guess, then look: a wrong guess teaches more than a right one.",
    );
    ui.add_space(6.0);
    for (at, offered) in room.offered.iter().enumerate() {
        let lesson = &offered.lesson;
        let state = match room.chosen(lesson) {
            None => "",
            Some(choice) if choice == lesson.answer() => "answered",
            Some(_) => "answered, and learnt from",
        };
        ui.horizontal(|ui| {
            let title = format!("{}  {}", at + 1, name(&lesson.title));
            // Words on the right, though there are none, keep the title on the left.
            let button = ui.add(Button::new(title).right_text("").min_size(vec2(290.0, 26.0)));
            announce(&button, &format!("Lesson {}: {}", at + 1, lesson.title), None);
            if button.clicked() {
                scene.act(Action::Lesson(LessonAct::Open(at)));
            }
            if !offered.is_built_in {
                ui.weak("your own folder");
            }
            ui.weak(state);
        });
    }
    for wrong in &room.wrong {
        ui.add_space(4.0);
        text(ui, &format!("Not read: {wrong}"));
    }
    ui.add_space(10.0);
    let kept = match room.answers.file() {
        Some(file) => {
            format!("What you answered is kept in {} on this machine, and nowhere else.", path(file))
        }
        None => "What you answered is forgotten when the window closes.".to_owned(),
    };
    ui.add(egui::Label::new(RichText::new(kept).weak().small()).wrap());
    if !room.answers.is_empty() && ui.button("Forget my answers").clicked() {
        scene.act(Action::Lesson(LessonAct::Forget));
    }
}

fn one(ui: &mut Ui, scene: &mut Scene<'_>, at: usize) {
    let room = scene.lessons;
    let lesson = Arc::clone(&room.offered[at].lesson);
    let chosen = room.chosen(&lesson);
    ui.horizontal(|ui| {
        if ui.button("All lessons").clicked() {
            scene.act(Action::Lesson(LessonAct::List));
        }
        turn(ui, scene, "Previous lesson", "Shift N", at > 0, -1);
        turn(ui, scene, "Next lesson", "N", at + 1 < room.offered.len(), 1);
        ui.weak(format!("{} of {}", at + 1, room.offered.len()));
    });
    ui.add_space(6.0);
    ui.heading(name(&lesson.title));
    for paragraph in &lesson.about {
        text(ui, paragraph);
    }
    flash_caution(ui, &lesson);
    if !room.offered[at].is_built_in {
        let check = format!(
            "From your own folder. `underover lessons {} --check` says whether its claims hold.",
            name(&lesson.name)
        );
        ui.add(egui::Label::new(RichText::new(check).weak().small()).wrap());
    }
    pictures(ui, scene, &lesson, lesson.shown(When::Question).collect());
    ui.add_space(4.0);
    ui.add(egui::Label::new(RichText::new(shown(&lesson.question)).strong().size(15.0)).wrap());
    ui.add_space(2.0);
    for (place, choice) in lesson.choices.iter().enumerate() {
        match chosen {
            // A guess can be made once; afterwards the choices are words.
            Some(chosen) => {
                let says = shown(&choice.says);
                let words = match (place == lesson.answer(), place == chosen) {
                    (true, _) => RichText::new(format!("{says}   (so it is)")).strong(),
                    (false, true) => RichText::new(format!("{says}   (your guess)")),
                    (false, false) => RichText::new(&*says).weak(),
                };
                ui.add(egui::Label::new(words).wrap());
            }
            None => {
                let button = Button::new(shown(&choice.says)).min_size(vec2(0.0, 26.0)).wrap();
                if ui.add(button).clicked() {
                    scene.act(Action::Lesson(LessonAct::Choose(place)));
                }
            }
        }
        if let Some(picture) = choice.picture {
            pictures(ui, scene, &lesson, vec![picture]);
        }
    }
    ui.add_space(8.0);
    // Where an answer has just opened, it is brought into view.
    let seen = ui.scope_id().with((lesson.name.as_str(), "seen"));
    let was_shown = ui.data_mut(|data| {
        let was_shown = data.get_temp::<bool>(seen);
        data.insert_temp(seen, chosen.is_some());
        was_shown
    });
    let Some(chosen) = chosen else {
        ui.weak("Choose one to see what comes out.");
        return;
    };
    let right = chosen == lesson.answer();
    let opening = ui.strong(if right { "You saw it coming." } else { "Many expect that. Look:" });
    if was_shown == Some(false) {
        opening.scroll_to_me(Some(Align::Min));
    }
    pictures(ui, scene, &lesson, lesson.shown(When::Answer).collect());
    for paragraph in &lesson.because {
        text(ui, paragraph);
    }
    ui.add_space(4.0);
    ui.strong("To remember");
    text(ui, &lesson.remember);
    ui.add_space(4.0);
    ui.strong("To try");
    text(ui, &lesson.next.says);
    ui.horizontal(|ui| {
        if ui.button("Open this show").on_hover_text("You are asked before changes are lost").clicked() {
            scene.act(Action::Lesson(LessonAct::Try));
        }
        if ui.button("Ask me again").clicked() {
            scene.act(Action::Lesson(LessonAct::Again));
        }
    });
    ui.add_space(8.0);
}

fn turn(ui: &mut Ui, scene: &mut Scene<'_>, words: &str, key: &str, can: bool, by: isize) {
    if ui.add_enabled(can, Button::new(words)).on_hover_text(key).clicked() {
        scene.act(Action::Lesson(LessonAct::Turn(by)));
    }
}

fn text(ui: &mut Ui, words: &str) {
    ui.scope(|ui| {
        ui.set_max_width(LINE.min(ui.available_width()));
        ui.add(egui::Label::new(shown(words)).wrap());
    });
    ui.add_space(3.0);
}

/// The usual caution, where the lesson's shows can flash.
fn flash_caution(ui: &mut Ui, lesson: &Lesson) {
    if let Some(caution) = lesson.pictures.iter().find_map(|picture| caution::of_show(&picture.show)) {
        ui.scope(|ui| {
            ui.set_max_width(LINE.min(ui.available_width()));
            ui.add(egui::Label::new(RichText::new(caution).small().weak()).wrap());
        });
    }
}

/// Pictures in rows, as many in each as the panel has room for; every one is a still.
fn pictures(ui: &mut Ui, scene: &mut Scene<'_>, lesson: &Lesson, places: Vec<usize>) {
    if places.is_empty() {
        return;
    }
    ui.add_space(4.0);
    let gap = 8.0;
    let room = ui.available_width() - 12.0;
    let [narrowest, widest] = WIDTHS;
    let most = (((room + gap) / (narrowest + gap)).floor() as usize).max(1);
    // Full rows: four pictures stand two and two.
    let rows = places.len().div_ceil(most);
    let across = places.len().div_ceil(rows);
    let width = ((room - gap * (across - 1) as f32) / across as f32).min(widest).max(60.0);
    for row in places.chunks(across) {
        ui.horizontal_top(|ui| {
            ui.spacing_mut().item_spacing.x = gap;
            for &place in row {
                ui.vertical(|ui| {
                    ui.set_max_width(width);
                    picture(ui, scene, &lesson.pictures[place], width, (lesson.name.as_str(), place));
                });
            }
        });
        ui.add_space(4.0);
    }
}

fn picture(ui: &mut Ui, scene: &mut Scene<'_>, picture: &LessonPicture, width: f32, place: (&str, usize)) {
    let moment = picture.moment();
    let size = vec2(width, width * moment.frame.height as f32 / moment.frame.width as f32);
    let (rect, response) = ui.allocate_exact_size(size, Sense::focusable_noninteractive());
    announce(&response, &picture.says, None);
    let stage = Stage::Output(picture.order());
    let wanted = scene.pictures.wanted(&picture.show, Scope::Global, moment, &stage);
    let placed = wanted.and_then(|wanted| {
        let size = texels(ui, size, moment.frame);
        scene.pictures.place(ui.scope_id().with(("lesson", place)), &wanted, size, false, Urgency::Wall)
    });
    paint_picture(ui, rect, placed);
    paint_focus(ui, &response, rect);
    ui.add(
        egui::Label::new(RichText::new(shown(&picture.says)).small().color(palette(ui.ctx()).plain)).wrap(),
    );
}

/// The one quiet line for who opens the window for the first time.
pub fn invitation(ui: &mut Ui, scene: &mut Scene<'_>) {
    if !scene.lessons.invites || scene.view.tab == Tab::Lessons {
        return;
    }
    ui.separator();
    let words = RichText::new("New to the order of effects? A few short lessons").weak();
    if ui.add(Button::new(words).frame(false)).on_hover_text("5").clicked() {
        scene.act(Action::Tab(Tab::Lessons));
    }
}
