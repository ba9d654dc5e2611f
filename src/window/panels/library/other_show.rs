//! Another show beside the one at hand: its bundles, levels, clips and chains are brought over from here.

use std::sync::Arc;

use egui::{Button, Color32, Frame as Margins, Id, RichText, ScrollArea, Sense, TextStyle, Ui};

use super::clips;
use crate::base::embedded;
use crate::base::folders::typed;
use crate::edit::{Bring, Form, Way};
use crate::library::Kind;
use crate::show::chain::one_after_another;
use crate::show::{Scope, Show};
use crate::window::action::Action;
use crate::window::pictures::{Stage, Urgency};
use crate::window::scene::{Scene, shown_of};
use crate::window::shelves::{LibraryAct, ShowFrom};
use crate::window::theme::{CORNER, palette};
use crate::window::widgets::parts::{stripe_before, striped, striped_name};
use crate::window::widgets::short::short_label;
use crate::window::widgets::stills::STILL;
use crate::window::widgets::text::TextField;
use crate::window::widgets::{labels, name, paint_picture, scrolled, texels};

/// Points that each step deeper into the show is moved to the right.
const STEP: f32 = 16.0;

/// Draws the list: where from, the part chosen and where it goes, and all the parts.
pub fn show(ui: &mut Ui, scene: &mut Scene<'_>) {
    source(ui, scene);
    let Some(other) = scene.shelves.other.clone() else {
        ui.weak("Choose a show: its bundles, levels, clips and chains can be brought into yours. It stays as it is.");
        return;
    };
    ui.strong(name(&other.name));
    match scene.shelves.part.filter(|part| other.scopes().contains(part)) {
        Some(part) => chosen(ui, scene, &other, part),
        None => {
            ui.weak("Choose a part of it to bring over.");
        }
    }
    ui.add_space(4.0);
    let part = scene.shelves.part;
    let area = ScrollArea::vertical().id_salt("parts of another show").auto_shrink([false; 2]);
    scrolled(ui, area, |ui| {
        clips::show(ui, scene, &other);
        ui.add_space(4.0);
        for scope in from_the_top(&other) {
            let depth = match scope {
                Scope::Global | Scope::Bundle(_) => 0.0,
                Scope::Level(..) => 1.0,
                Scope::Clip(..) => 2.0,
            };
            ui.horizontal(|ui| {
                ui.add_space(depth * STEP);
                let address = shown_of(&other, scope);
                picture(ui, scene, &other, scope);
                stripe_before(ui, other.colour(scope), 14.0);
                let spoken = format!("{address} of {}", name(&other.name));
                let address = Button::selectable(part == Some(scope), address).truncate();
                if ui.add(address).accessible_name(spoken).clicked() {
                    scene.act(Action::Library(LibraryAct::Part((part != Some(scope)).then_some(scope))));
                }
                let effects = labels(other.chain(scope));
                if !effects.is_empty() {
                    let effects = one_after_another(effects.iter().map(String::as_str));
                    short_label(ui, &effects, TextStyle::Body, palette(ui.ctx()).quiet);
                }
            });
        }
    });
}

/// What a part of the other show shows now, after its own chain.
fn picture(ui: &mut Ui, scene: &mut Scene<'_>, other: &Arc<Show>, scope: Scope) {
    let (rect, _) = ui.allocate_exact_size(STILL, Sense::hover());
    if !ui.is_rect_visible(rect) {
        return;
    }
    let moment = scene.view.moment(other, scene.moment.beats);
    let stage = Stage::After((0..other.chain(scope).len()).collect());
    let wanted = scene.pictures.wanted(other, scope, moment, &stage);
    let size = texels(ui, rect.size(), moment.frame);
    let place = Id::unique(("part of another show", other.address(scope)));
    let placed = wanted.and_then(|wanted| scene.pictures.place(place, &wanted, size, false, Urgency::Wall));
    ui.painter().rect_filled(rect, 2.0, Color32::BLACK);
    paint_picture(ui, rect, placed);
}

/// Every scope of a show as one would read it: each before what it holds, what lies on top first.
fn from_the_top(show: &Show) -> Vec<Scope> {
    let mut scopes = show.scopes();
    scopes.reverse();
    scopes
}

/// Which show.
fn source(ui: &mut Ui, scene: &mut Scene<'_>) {
    ui.horizontal_wrapped(|ui| {
        ui.menu_button("Choose a show", |ui| {
            ui.set_min_width(200.0);
            let mut choices: Vec<(&str, String, ShowFrom)> = Vec::new();
            for file in scene.recent {
                let text = name(&file.file_name().unwrap_or_default().to_string_lossy());
                choices.push(("opened lately", text, ShowFrom::File(file.clone())));
            }
            for entry in scene.shelves.entries().iter().filter(|entry| entry.kind == Kind::Starter) {
                choices.push(("starters", name(entry.name()), ShowFrom::Starter(entry.handle.clone())));
            }
            for (preset, _) in embedded::SHOWS {
                choices.push((
                    "in the program",
                    (*preset).to_owned(),
                    ShowFrom::Preset((*preset).to_owned()),
                ));
            }
            let mut heading = "";
            for (what, text, source) in choices {
                if what != heading {
                    ui.weak(what);
                    heading = what;
                }
                if ui.button(text).clicked() {
                    scene.act(Action::Library(LibraryAct::Look(source)));
                    ui.close();
                }
            }
        });
        ui.label("or a file");
        let width = (ui.available_width() - 76.0).clamp(80.0, 260.0);
        let field = TextField::new("File of another show", width).hint("friday.toml, with its folder");
        let field = field.show(ui, &mut scene.shelves.other_file);
        let is_entered = field.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter));
        let can_look = !scene.shelves.other_file.trim().is_empty();
        let button = ui.add_enabled(can_look, Button::new("Look")).accessible_name("Look into that file");
        if can_look && (button.clicked() || is_entered) {
            let file = typed(&scene.shelves.other_file);
            scene.act(Action::Library(LibraryAct::Look(ShowFrom::File(file))));
        }
    });
}

/// What can be done with the part chosen.
fn chosen(ui: &mut Ui, scene: &mut Scene<'_>, other: &Show, part: Scope) {
    let fill = palette(ui.ctx()).panel;
    Margins::new().fill(fill).corner_radius(f32::from(CORNER)).inner_margin(8.0).show(ui, |ui| {
        ui.take_available_width();
        let address = shown_of(other, part);
        striped(ui, other.colour(part), |ui| ui.strong(&address));
        if scene.work.form() == Form::Show {
            whole(ui, scene, other, part, &address);
        }
        let chain = other.chain(part);
        let onto = scene.view.scope;
        if !chain.is_empty() && scene.work.takes_effects_on(onto) {
            let there = scene.address(onto);
            ui.horizontal_wrapped(|ui| {
                ui.label("its chain");
                for (way, text, word) in [
                    (Way::Replace, "Replace", "in place of the effects on"),
                    (Way::Under, "Put under", "under the effects on"),
                    (Way::Over, "Put over", "over the effects on"),
                ] {
                    let said = format!("The chain of {address} {word} {there}");
                    if ui.button(text).accessible_name(&said).on_hover_text(said).clicked() {
                        bring(scene, other, part, None, Some((onto, way)));
                    }
                }
                ui.weak("on");
                let quiet = palette(ui.ctx()).quiet;
                striped_name(ui, scene.show().colour(onto), &there, TextStyle::Body, quiet);
            });
        }
        ui.label(
            RichText::new(
                "A name that is taken gets a number, and the controls that its effects need come along.",
            )
            .small()
            .weak(),
        );
    });
}

/// The whole part: a bundle over all others, a level into a bundle, a clip into a level.
fn whole(ui: &mut Ui, scene: &mut Scene<'_>, other: &Show, part: Scope, address: &str) {
    let fits = |scope: &Scope| {
        matches!((part, scope), (Scope::Level(..), Scope::Bundle(_)) | (Scope::Clip(..), Scope::Level(..)))
    };
    let places: Vec<(Scope, String)> = from_the_top(scene.show())
        .into_iter()
        .filter(fits)
        .map(|scope| (scope, scene.address(scope)))
        .collect();
    ui.horizontal_wrapped(|ui| match part {
        Scope::Global => {
            ui.weak("What lies over everything comes as its chain.");
        }
        Scope::Bundle(_) => {
            let said = format!("Bring {address} over all bundles");
            if ui.button("Bring it over all bundles").accessible_name(said).clicked() {
                bring(scene, other, part, None, None);
            }
        }
        Scope::Level(..) | Scope::Clip(..) => {
            ui.label("Bring it into");
            for (place, there) in places {
                let said = format!("Bring {address} into {there}");
                let colour = scene.show().colour(place);
                if striped(ui, colour, |ui| ui.button(&there).accessible_name(said)).clicked() {
                    bring(scene, other, part, Some(place), None);
                }
            }
        }
    });
}

fn bring(scene: &mut Scene<'_>, from: &Show, what: Scope, into: Option<Scope>, onto: Option<(Scope, Way)>) {
    let bring = Bring { from: from.clone(), what, into, onto };
    scene.act(Action::Library(LibraryAct::Bring(Box::new(bring))));
}
