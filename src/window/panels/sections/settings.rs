//! The settings of the section that is looked at: its name, length, fade and note, and what it changes.

use std::sync::Arc;

use egui::{Id, RichText, ScrollArea, TextStyle, Ui};

use super::{chains, edit, told};
use crate::edit::{SectionEdit, Shows};
use crate::show::control::Control;
use crate::show::section::{FADE_BEATS, SECTION_BEATS};
use crate::show::{Scope, Section, Show};
use crate::window::action::Action;
use crate::window::scene::Scene;
use crate::window::sections::{InSection, SectionAct};
use crate::window::theme::palette;
use crate::window::widgets::fields::NumberField;
use crate::window::widgets::parts::colour_menu;
use crate::window::widgets::reach::part;
use crate::window::widgets::short::short_label;
use crate::window::widgets::text::TextField;
use crate::window::widgets::{name, sign_button};

/// Beats that a section is given whose length is set for the first time.
const FIRST_BEATS: f64 = 32.0;
/// Widths of the fields of name and note at the most.
const NAME: f32 = 220.0;
const NOTE: f32 = 420.0;
/// From which width on what it changes stands beside its fields, in points.
const WIDE: f32 = 540.0;

/// Draws them; gives whether there is a section to draw them of.
pub fn show(ui: &mut Ui, scene: &mut Scene<'_>) -> bool {
    let Some(at) = scene.view.section.filter(|_| scene.view.section_settings) else { return false };
    let show = Arc::clone(scene.work.show());
    let Some(section) = show.sections.get(at.section) else { return false };
    part(ui, scene, "The section", |ui, scene| {
        ScrollArea::vertical().id_salt("section").auto_shrink([false; 2]).show(ui, |ui| {
            let fields = |ui: &mut Ui, scene: &mut Scene<'_>| {
                head(ui, scene, at, section);
                time(ui, scene, at, section);
            };
            if ui.available_width() < WIDE {
                fields(ui, scene);
                return changes(ui, scene, at, &show);
            }
            ui.columns(2, |columns| {
                fields(&mut columns[0], scene);
                changes(&mut columns[1], scene, at, &show);
            });
        });
    });
    true
}

/// Name, colour and note.
fn head(ui: &mut Ui, scene: &mut Scene<'_>, at: InSection, section: &Section) {
    ui.horizontal(|ui| {
        ui.strong("Section");
        let width = (ui.available_width() - 110.0).clamp(60.0, NAME);
        if let Some(name) = entered(ui, "Name of the section", (at, width), &section.name) {
            edit(scene, SectionEdit::Rename { section: at.section, name });
        }
        ui.menu_button("Colour", |ui| {
            if let Some(colour) = colour_menu(ui, section.colour) {
                edit(scene, SectionEdit::Colour { section: at.section, colour });
            }
        });
        if sign_button(ui, "\u{d7}", "Close the section's settings", "The settings of what is selected")
            .clicked()
        {
            scene.act(Action::Section(SectionAct::Settings(false)));
        }
    });
    ui.horizontal(|ui| {
        ui.label("Note");
        let width = (ui.available_width() - 12.0).clamp(60.0, NOTE);
        if let Some(note) = entered(ui, "Note of the section", (at, width), &section.note) {
            edit(scene, SectionEdit::Note { section: at.section, note });
            scene.act(Action::EndRun);
        }
    });
}

/// How long it lasts, and how it comes.
fn time(ui: &mut Ui, scene: &mut Scene<'_>, at: InSection, section: &Section) {
    ui.horizontal_wrapped(|ui| {
        ui.label("Lasts");
        if let Some(before) = section.beats {
            let mut beats = before;
            let field = NumberField::new("Length in beats", "beats", SECTION_BEATS);
            let is_over = NumberField { speed: 0.5, ..field }.show(ui, &mut beats).is_over;
            if beats != before {
                edit(scene, SectionEdit::Beats { section: at.section, beats: Some(beats) });
            }
            if is_over {
                scene.act(Action::EndRun);
            }
        }
        let mut is_open = section.beats.is_none();
        let open = ui.checkbox(&mut is_open, "until the next is called");
        if open.changed() {
            let beats = (!is_open).then_some(FIRST_BEATS.max(section.fade));
            edit(scene, SectionEdit::Beats { section: at.section, beats });
        }
    });
    ui.horizontal_wrapped(|ui| {
        ui.label("Comes in");
        let mut beats = section.fade;
        let most = section.beats.map_or(FADE_BEATS[1], |beats| beats.min(FADE_BEATS[1]));
        let field = NumberField::new("Beats in which it comes", "beats", [FADE_BEATS[0], most]);
        let is_over = NumberField { speed: 0.1, default: Some(0.0), ..field }.show(ui, &mut beats).is_over;
        if beats != section.fade {
            edit(scene, SectionEdit::Fade { section: at.section, beats });
        }
        if is_over {
            scene.act(Action::EndRun);
        }
        ui.weak(if section.fade > 0.0 { "fading over the one before" } else { "0 cuts" });
    });
}

/// What it changes: against what comes before, and all that it says, each of which can be taken back.
fn changes(ui: &mut Ui, scene: &mut Scene<'_>, at: InSection, show: &Show) {
    let plain = palette(ui.ctx()).plain;
    if let Some(trouble) = scene.sections.troubles.get(at.section).cloned().flatten() {
        ui.colored_label(palette(ui.ctx()).caution, "Not as its file says:");
        ui.label(name(&trouble));
    }
    let (against, told) = told(scene, show, at);
    ui.add_space(2.0);
    short_label(ui, &format!("Against {against}"), TextStyle::Body, palette(ui.ctx()).bright);
    if told.is_empty() {
        ui.weak("Nothing shows otherwise.");
    }
    for line in told {
        short_label(ui, &line, TextStyle::Body, plain);
    }
    ui.add_space(2.0);
    ui.label(RichText::new("It says").color(palette(ui.ctx()).bright));
    ui.small("Clips, what is hidden, opacities, effects on or off: what you change now, this section keeps.");
    let lay = ui.menu_button("Lay a chain \u{2026}", |ui| {
        for scope in chains::scopes(show, scene.view.scope) {
            ui.menu_button(format!("on {}", scene.address(scope)), |ui| {
                chains::menu(ui, scene, at.section, scope);
            });
        }
    });
    lay.response
        .on_hover_text("A chain of the library in place of a scope's own, whenever this section comes");
    let stands = |(control, at): (&Control, &Option<f64>)| Some((control.name.clone(), Some((*at)?)));
    let positions: Vec<(String, Option<f64>)> =
        show.controls.iter().zip(&scene.hands.positions).filter_map(stands).collect();
    if !positions.is_empty() {
        let keep = ui.button("Keep where the controls stand");
        if keep.on_hover_text("Where the hands have them now, whenever this section comes").clicked() {
            edit(scene, SectionEdit::Controls { section: at.section, positions });
        }
    }
    for (nth, (text, back)) in says(show, at.section).into_iter().enumerate() {
        ui.horizontal(|ui| {
            let hint = "As the show has it";
            let leave = ui.push_id(nth, |ui| sign_button(ui, "\u{d7}", &format!("Leave {text}"), hint)).inner;
            if leave.clicked() {
                edit(scene, back);
            }
            short_label(ui, &text, TextStyle::Body, plain);
        });
    }
}

/// What a section says, in words, each with what takes it back.
fn says(show: &Show, section: usize) -> Vec<(String, SectionEdit)> {
    let of = &show.sections[section];
    let shows = of.shows.keys().map(|&level| SectionEdit::Shows { section, level, shows: Shows::AsItStands });
    let opacity = of.opacity.keys();
    let opacity = opacity.map(|&scope: &Scope| SectionEdit::Opacity { section, scope, opacity: None });
    let chains = of.chains.keys().map(|&scope| SectionEdit::Chain { section, scope, chain: None });
    let effects = of.effects.keys().map(|&(scope, mark)| {
        let marks = vec![mark];
        SectionEdit::Effects { section, scope, marks, on: None }
    });
    let controls = of.controls.keys().map(|name| {
        let positions = vec![(name.clone(), None)];
        SectionEdit::Controls { section, positions }
    });
    let said = of.changes_said(show).into_iter().map(|text| name(&text));
    said.zip(shows.chain(opacity).chain(chains).chain(effects).chain(controls)).collect()
}

/// A field of text that is taken once it is left; gives the text where that is another.
fn entered(ui: &mut Ui, said: &str, (at, width): (InSection, f32), now: &str) -> Option<String> {
    let id = Id::unique((said, at.section));
    let mut text = ui.data(|data| data.get_temp::<String>(id)).unwrap_or_else(|| now.to_owned());
    let field = TextField::new(said, width).id(id.with("field")).show(ui, &mut text);
    if field.has_focus() {
        ui.data_mut(|data| data.insert_temp(id, text));
        return None;
    }
    ui.data_mut(|data| data.remove_temp::<String>(id))?;
    let is_given_up = ui.input(|input| input.key_pressed(egui::Key::Escape));
    let text = text.trim();
    (text != now && !is_given_up).then(|| text.to_owned())
}
