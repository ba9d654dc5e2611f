//! The lessons: a list, and one lesson at a time, with a question before its answer.

use std::sync::Arc;

use egui::{Align, Button, RichText, ScrollArea, Sense, Ui, vec2};

use crate::base::shown::shown;
use crate::lessons::{Lesson, LessonPicture, When};
use crate::readiness::caution;
use crate::show::Scope;
use crate::window::action::Action;
use crate::window::keys::Command;
use crate::window::lesson_room::LessonAct;
use crate::window::pictures::{Stage, Urgency};
use crate::window::scene::Scene;
use crate::window::theme::palette;
use crate::window::widgets::reach::Entries;
use crate::window::widgets::{announce, name, paint_focus, paint_picture, path, scrolled, texels};

/// Narrowest and widest picture, in points.
const WIDTHS: [f32; 2] = [145.0, 240.0];
/// Width of running text, in points: longer lines are hard to read.
const LINE: f32 = 560.0;

/// Draws the list, or the lesson that is open.
pub fn show(ui: &mut Ui, scene: &mut Scene<'_>) {
    let room = scene.lessons;
    let open = room.open.filter(|&at| at < room.offered.len());
    // Each has a scroll of its own, so that a lesson opens at its top.
    let area = ScrollArea::vertical().id_salt(("lessons", open)).auto_shrink([false; 2]).animated(false);
    scrolled(ui, area, |ui| match open {
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
    let mut entries = Entries::of(ui, "lessons");
    for (at, offered) in room.offered.iter().enumerate() {
        let lesson = &offered.lesson;
        let state = match room.chosen(lesson) {
            None => "",
            Some(choice) if choice == lesson.answer() => "answered",
            Some(_) => "answered, and learnt from",
        };
        // What has no room beside a title stands under it.
        ui.horizontal_wrapped(|ui| {
            let title = format!("{}  {}", at + 1, name(&lesson.title));
            let width = ui.max_rect().width();
            // Words on the right, though there are none, keep the title on the left.
            let button = Button::new(title).right_text("").min_size(vec2(290.0_f32.min(width), 26.0)).wrap();
            let button = ui.add(button.sense(entries.sense(at, Sense::click())));
            entries.drawn(ui, at, &button);
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
    entries.end(ui);
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
    ui.horizontal_wrapped(|ui| {
        if ui.button("All lessons").clicked() {
            scene.act(Action::Lesson(LessonAct::List));
        }
        turn(ui, scene, "Previous lesson", Command::PreviousLesson, at > 0);
        turn(ui, scene, "Next lesson", Command::NextLesson, at + 1 < room.offered.len());
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
    ui.horizontal_wrapped(|ui| {
        if ui.button("Open this show").on_hover_text("You are asked before changes are lost").clicked() {
            scene.act(Action::Lesson(LessonAct::Try));
        }
        if ui.button("Ask me again").clicked() {
            scene.act(Action::Lesson(LessonAct::Again));
        }
    });
    ui.add_space(8.0);
}

fn turn(ui: &mut Ui, scene: &mut Scene<'_>, words: &str, command: Command, can: bool) {
    if ui.add_enabled(can, Button::new(words)).on_hover_text(command.key()).clicked() {
        command.carry_out(scene);
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
