//! What the show says of itself, and what all of it is rendered by.

use egui::{ComboBox, Grid, Id, RichText, ScrollArea, Ui};

use super::{is_enter_free, main_response};
use crate::base::frame::{Frame, PixelMode};
use crate::base::shown::shown_error;
use crate::beat::FrameRate;
use crate::edit::{About, Edit, Form};
use crate::show::Show;
use crate::show::name::check_name;
use crate::window::action::Action;
use crate::window::scene::Scene;
use crate::window::theme::palette;
use crate::window::widgets::text::TextField;
use crate::window::widgets::{draft, keep_draft, scrolled};

/// Width of a field, and of one for a few digits, in points.
const WIDE: f32 = 400.0;
const NARROW: f32 = 120.0;
/// Lines of the text about the show that are seen at once.
const LINES: usize = 4;

/// What is typed, as it is typed.
struct Typed {
    name: String,
    about: String,
    tags: String,
    venue: String,
    frame: String,
    rate: String,
    pixels: String,
}

impl Typed {
    fn of(show: &Show) -> Self {
        Self {
            name: show.name.clone(),
            about: show.about.clone(),
            tags: show.tags.join(", "),
            venue: show.venue.clone(),
            frame: show.frame.to_string(),
            rate: show.rate.to_string(),
            pixels: show.pixels.name().to_owned(),
        }
    }

    /// What it means, or the first thing that is wrong.
    fn read(&self) -> Result<About, String> {
        let name = self.name.trim().to_owned();
        check_name(&name).map_err(|fault| format!("the name {fault}"))?;
        let tags = self.tags.split(',').map(str::trim).filter(|tag| !tag.is_empty());
        let tags: Vec<String> = tags.map(str::to_owned).collect();
        let frame: Frame = self.frame.trim().parse().map_err(|error| format!("the size: {error}"))?;
        let rate: FrameRate = self.rate.trim().parse().map_err(|error| format!("the rate: {error}"))?;
        let pixels = PixelMode::ALL.into_iter().find(|mode| mode.name() == self.pixels);
        let (about, venue) = (self.about.clone(), self.venue.trim().to_owned());
        Ok(About { name, about, tags, venue, frame, rate, pixels: pixels.unwrap_or_default() })
    }
}

pub(super) fn show(ui: &mut Ui, scene: &mut Scene<'_>) {
    let is_show = scene.work.form() == Form::Show;
    let of = scene.work.show().clone();
    let now = Typed::of(&of);
    let id = |what: &str| Id::unique(("about the show", what));
    ui.heading(if is_show { "About this show" } else { "About this chain" });
    ui.add_space(4.0);
    let mut in_lines = false;
    let line = |ui: &mut Ui, label: &str, width: f32, hint: &str, now: String| {
        let id = id(label);
        let mut text = draft(ui, id, || now);
        ui.label(label);
        let field = TextField::new(label, width).hint(hint).id(id.with("field")).show(ui, &mut text);
        keep_draft(ui, id, text.clone());
        ui.end_row();
        (text, field)
    };
    // In a low window the ways out of the dialog keep their room.
    let most = (ui.ctx().content_rect().height() - 160.0).max(80.0);
    let mut typed = Typed::of(&of);
    scrolled(ui, ScrollArea::vertical().max_height(most), |ui| {
        Grid::new("about the show").num_columns(2).spacing([10.0, 6.0]).show(ui, |ui| {
            let wide = WIDE.min((ui.ctx().content_rect().width() - 220.0).max(120.0));
            let field;
            (typed.name, field) = line(ui, "Name", wide, "", now.name);
            if ui.memory(|memory| memory.focused().is_none()) {
                field.request_focus();
            }
            ui.label("About");
            let about = id("About");
            typed.about = draft(ui, about, || now.about);
            let lines = TextField::new("About", wide).hint("what it is for, and why it is built so");
            let lines = lines.lines(LINES).id(about.with("field")).show(ui, &mut typed.about);
            in_lines = lines.has_focus();
            keep_draft(ui, about, typed.about.clone());
            ui.end_row();
            (typed.tags, _) = line(ui, "Tags", wide, "words to find it by, with commas between", now.tags);
            if !is_show {
                return;
            }
            (typed.venue, _) = line(ui, "Venue", wide, "where it plays", now.venue);
            (typed.frame, _) = line(ui, "Size", NARROW, "1280x720", now.frame);
            (typed.rate, _) = line(ui, "Frames a second", NARROW, "60, or 30000/1001", now.rate);
            ui.label("Pixels");
            let pixels = id("Pixels");
            typed.pixels = draft(ui, pixels, || now.pixels);
            let list = ComboBox::from_id_salt("pixels").selected_text(&typed.pixels).width(160.0);
            let list = list.show_ui(ui, |ui| {
                for mode in PixelMode::ALL {
                    ui.selectable_value(&mut typed.pixels, mode.name().to_owned(), said(mode));
                }
            });
            let _ = list.response.accessible_name("Pixels");
            keep_draft(ui, pixels, typed.pixels.clone());
            ui.end_row();
        });
    });
    let read = typed.read();
    if let Err(why) = &read {
        ui.label(RichText::new(shown_error(why)).small().color(palette(ui.ctx()).bright));
    } else if read.as_ref().is_ok_and(|about| about.frame != of.frame || about.pixels != of.pixels) {
        ui.small("Every picture is made anew: another size or another pixel mode is another picture.");
    }
    ui.add_space(6.0);
    ui.horizontal(|ui| {
        let button = ui.add_enabled_ui(read.is_ok(), |ui| main_response(ui, "Change it")).inner;
        // In the lines of the text Enter begins another one.
        let is_entered = is_enter_free(ui) && !in_lines;
        if let (true, Ok(about)) = (button.clicked() || is_entered, read) {
            scene.act(Action::Close);
            if about != About::of(&of) {
                scene.act(Action::Edit(Edit::About(Box::new(about))));
            }
        }
        if ui.button("Cancel").clicked() {
            scene.act(Action::Close);
        }
    });
}

fn said(mode: PixelMode) -> &'static str {
    match mode {
        PixelMode::Encoded8Bit => "encoded-8bit: as on a live rig",
        PixelMode::LinearFloat => "linear-float: finer, and slower",
    }
}
