//! The library: chains and starters as cards, to be put onto the path, begun from, kept and put away.

mod clips;
mod other_show;
mod used;

use std::sync::Arc;

use egui::{
    Button, CursorIcon, Frame as Margins, Rect, RichText, ScrollArea, Sense, Stroke, StrokeKind, TextStyle,
    Ui, Vec2, pos2, vec2,
};

use crate::base::shown::{shown, shown_error};
use crate::edit::{Edit, SectionEdit, Way};
use crate::library::{COLOUR_WORDS, Copied, Entry, Kind, State, Wish, colour_word};
use crate::window::action::Action;
use crate::window::scene::Scene;
use crate::window::shelves::{LibraryAct, List};
use crate::window::theme::{CORNER, ink, palette};
use crate::window::threads::documents::Held;
use crate::window::widgets::carried::{Carried, carried, preview_of, put};
use crate::window::widgets::hint::hint_beside;
use crate::window::widgets::parts::{stripe_before, striped_name};
use crate::window::widgets::reach::Entries;
use crate::window::widgets::stills::paint_thumbnail;
use crate::window::widgets::text::TextField;
use crate::window::widgets::tiles::{SPACE, Tiles, wheel};
use crate::window::widgets::{announce, cut_text, name, paint_focus, path, scrolled};

/// The least width of a card, in points.
const CARD: f32 = 150.0;
/// Height of the words under a card's picture.
const LINES: f32 = 38.0;
/// Side of a sample of colour.
const SAMPLE: f32 = 9.0;
/// Room for what an entry says of itself, in points; what is longer is scrolled.
const PAGE: f32 = 110.0;
/// Most samples on a card.
const MOST_SAMPLES: usize = 5;

/// The least width of the line to search in.
const LEAST_SEARCH: f32 = 180.0;

/// Draws the panel.
pub fn show(ui: &mut Ui, scene: &mut Scene<'_>) {
    scene.shelves.keep_up(scene.catalogue, scene.recent, ui.ctx());
    head(ui, scene);
    if let Some(why) = scene.shelves.thumbnails.problem().filter(|_| scene.pictures.gpu().is_some()) {
        let text = format!("Not every picture could be made: {why}.");
        ui.horizontal_wrapped(|ui| {
            ui.label(text);
            if ui.button("Try again").clicked() {
                scene.act(Action::TryAgain);
            }
        });
    }
    if let Some(why) = &scene.shelves.problem {
        ui.label(format!("The library was not looked through: {}. It is tried again.", shown_error(why)));
    }
    let list = scene.shelves.list;
    if let Some(kind) = list.kind() {
        keep(ui, scene, kind);
        copies(ui, scene, kind);
        chosen(ui, scene, kind);
    }
    ui.add_space(4.0);
    if list == List::OtherShow {
        other_show::show(ui, scene);
        return;
    }
    if scene.shelves.is_unknown() {
        ui.weak("Looking through the library …");
        return;
    }
    match list.kind() {
        Some(kind) => cards(ui, scene, kind),
        None => removed(ui, scene),
    }
}

/// Which list, and what is searched for in it.
fn head(ui: &mut Ui, scene: &mut Scene<'_>) {
    ui.horizontal_wrapped(|ui| {
        let count = |kind: Kind| scene.shelves.entries().iter().filter(|entry| entry.kind == kind).count();
        let lists = [
            (List::Chains, format!("Chains {}", count(Kind::Chain))),
            (List::Starters, format!("Starters {}", count(Kind::Starter))),
            (List::OtherShow, "Another show".to_owned()),
            (List::Removed, format!("Removed {}", scene.shelves.removed().len())),
        ];
        for (list, text) in lists {
            if ui.selectable_label(scene.shelves.list == list, text).clicked() {
                scene.act(Action::Library(LibraryAct::List(list)));
            }
        }
        if scene.shelves.list.kind().is_none() {
            return;
        }
        let hint = "search: words, tag:, effect:, colour:";
        // Where the line has no room for it, it has the next to itself.
        let left = ui.available_size_before_wrap().x;
        let width = if left < LEAST_SEARCH { ui.max_rect().width() } else { left } - 8.0;
        let field = TextField::new("Search the library", width).hint(hint);
        let field = field.show(ui, &mut scene.shelves.search);
        field.on_hover_text(format!(
            "A plain word is looked for anywhere. tag:warm and effect:tint match the beginning of one; colour:orange or colour:#ff8c33 what is near it. Words for colours: {}.",
            COLOUR_WORDS.join(", ")
        ));
    });
}

/// A row to keep what is on the desk.
fn keep(ui: &mut Ui, scene: &mut Scene<'_>, kind: Kind) {
    let scope = scene.view.scope;
    let (address, colour) = (scene.address(scope), scene.show().colour(scope));
    let is_empty = kind == Kind::Chain && scene.show().chain(scope).is_empty();
    let (show_name, called) = (scene.show().name.clone(), name(&scene.show().name));
    ui.horizontal_wrapped(|ui| {
        if is_empty {
            ui.weak(format!("{address} has no effects to keep."));
            return;
        }
        let (what, suggested) = match kind {
            Kind::Chain => (
                format!("the chain of {address}"),
                format!("{show_name} {}", last_of(&scene.show().address(scope))),
            ),
            Kind::Starter => (format!("{called} as a starter"), show_name),
        };
        let mut text = scene.shelves.name.clone().unwrap_or(suggested);
        ui.label("Keep").on_hover_text(format!("Keeps {what} in your library."));
        let (colour, ink) = (colour.filter(|_| kind == Kind::Chain), palette(ui.ctx()).bright);
        striped_name(ui, colour, &what, TextStyle::Body, ink);
        ui.label("as");
        let called = format!("Name under which {what} is kept");
        let width = (ui.available_width() - 60.0).clamp(60.0, 220.0);
        let field = TextField::new(&called, width).show(ui, &mut text);
        if field.changed() {
            scene.shelves.name = Some(text.clone());
        }
        let is_entered = field.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter));
        let is_free = kind == Kind::Chain || !scene.shelves.is_keeping();
        let button = ui.add_enabled(is_free, Button::new("Keep")).accessible_name(format!("Keep {what}"));
        if button.clicked() || (is_entered && is_free) {
            scene.act(Action::Library(match kind {
                Kind::Chain => LibraryAct::Keep(scope, text.clone()),
                Kind::Starter => LibraryAct::KeepStarter(text.clone()),
            }));
        }
    });
}

/// The last name of an address: "picture" of "bundle:picture".
fn last_of(address: &str) -> &str {
    address.rsplit([':', '/']).next().unwrap_or(address)
}

/// What this show took from the library and is no longer as it is there.
fn copies(ui: &mut Ui, scene: &mut Scene<'_>, kind: Kind) {
    if kind != Kind::Chain || scene.shelves.is_unknown() {
        return;
    }
    let show = Arc::clone(scene.work.show());
    let copies = scene.shelves.copies(&show);
    for Copied { scope, handle, state, is_changed } in copies.iter() {
        if *state == State::Same && !is_changed {
            continue;
        }
        ui.horizontal_wrapped(|ui| {
            let changed = if *is_changed { ", and it was changed here since it was taken" } else { "" };
            let address = scene.address(*scope);
            let from = name(handle);
            stripe_before(ui, show.colour(*scope), 14.0);
            ui.label(format!("{address} took {from}: {state}{changed}."));
            let button = || Button::new("Update").small();
            if *state == State::NewerThere
                && ui.add(button()).accessible_name(format!("Update {address} from {from}")).clicked()
            {
                put(scene, handle, *scope, Way::Replace, true);
            }
        });
    }
}

/// The entry chosen, and what can be done with it.
fn chosen(ui: &mut Ui, scene: &mut Scene<'_>, kind: Kind) {
    let Some((_, handle)) = scene.shelves.chosen.clone().filter(|(known, _)| *known == kind) else {
        ui.weak(match kind {
            Kind::Chain => "Choose a chain, or drag one onto a scope of the path above.",
            Kind::Starter => "Choose a starter to begin the next show from.",
        });
        return;
    };
    let Some(entry) = scene.shelves.entry(kind, &handle).cloned() else { return };
    let palette = palette(ui.ctx());
    Margins::new().fill(palette.panel).corner_radius(f32::from(CORNER)).inner_margin(8.0).show(ui, |ui| {
        ui.take_available_width();
        ui.strong(name(entry.name()));
        match &entry.facts {
            Ok(facts) => {
                let tags = facts.tags.iter().map(|tag| format!("#{tag}")).collect::<Vec<_>>().join("  ");
                let words = [facts.about.trim(), tags.as_str()];
                // What has several paragraphs is a page of its own, read in so much room.
                let gap = if facts.about.trim().contains('\n') { "\n\n" } else { "  " };
                let text =
                    words.iter().filter(|words| !words.is_empty()).copied().collect::<Vec<_>>().join(gap);
                if !text.is_empty() {
                    let area = ScrollArea::vertical().id_salt(("about", &handle)).max_height(PAGE);
                    scrolled(ui, area.auto_shrink([false, true]), |ui| {
                        ui.label(RichText::new(shown(&text)).color(palette.plain).size(12.5));
                    });
                }
            }
            Err(error) => {
                ui.label(RichText::new(shown_error(error)).color(palette.plain).size(12.5));
            }
        }
        ui.add_space(2.0);
        if entry.facts.is_ok() {
            ui.horizontal_wrapped(|ui| match kind {
                Kind::Chain => put_buttons(ui, scene, &entry),
                Kind::Starter => {
                    let said = format!("Begin a show from {}", name(entry.name()));
                    if ui.button("Begin a show from it").accessible_name(said).clicked() {
                        scene.act(Action::Library(LibraryAct::Begin(entry.handle.clone())));
                    }
                    ui.weak("Stand-ins show until each clip has its footage.");
                }
            });
        }
        ui.horizontal_wrapped(|ui| change_buttons(ui, scene, &entry));
        if kind == Kind::Chain {
            used::used_in(ui, &scene.shelves.used_in(&entry));
        }
    });
}

fn put_buttons(ui: &mut Ui, scene: &mut Scene<'_>, entry: &Entry) {
    let scope = scene.view.scope;
    let address = scene.address(scope);
    if !scene.work.takes_effects_on(scope) {
        ui.weak(format!("A chain file has no effects on {address}."));
        return;
    }
    let with_controls = with_controls(ui, scene, entry);
    let name = name(entry.name());
    for (way, text, said) in [
        (Way::Replace, "Replace", format!("Replace the effects on {address} by {name}")),
        (Way::Under, "Put under", format!("Put {name} under the effects on {address}")),
        (Way::Over, "Put over", format!("Put {name} over the effects on {address}")),
    ] {
        let button = ui.button(text).accessible_name(&said);
        hint_beside(scene, &button, said);
        scene.point(&button, |scene| preview_of(ui.ctx(), scene, entry, scope, way));
        if button.clicked() {
            put(scene, &entry.handle, scope, way, with_controls);
        }
    }
    ui.weak("on");
    let quiet = palette(ui.ctx()).quiet;
    striped_name(ui, scene.show().colour(scope), &address, TextStyle::Body, quiet);
    if let Some((section, lay)) = lay_in_section(scene, entry) {
        let said = format!("Lay {name} on {address} in the section {section}");
        let button = ui.button(format!("Lay it in {section}")).accessible_name(&said);
        hint_beside(scene, &button, format!("{said}, in place of its own effects"));
        scene.point(&button, |scene| preview_of(ui.ctx(), scene, entry, scope, Way::Replace));
        if button.clicked() {
            scene.act(lay);
        }
    }
}

/// What lays a chain on the selected scope in the section that is looked at, and that section's name.
fn lay_in_section(scene: &Scene<'_>, entry: &Entry) -> Option<(String, Action)> {
    let section = scene.view.section?.section;
    let of = scene.work.show().sections.get(section)?;
    let lay = SectionEdit::Chain { section, scope: scene.view.scope, chain: Some(entry.named()) };
    Some((name(&of.name), Action::Edit(Edit::Section(lay))))
}

/// Whether the controls come along that a chain was kept with; offered where it has any.
fn with_controls(ui: &mut Ui, scene: &mut Scene<'_>, entry: &Entry) -> bool {
    let Some(Held::Chain(preset)) = scene.shelves.documents.of(entry, scene.catalogue, ui.ctx()) else {
        return true;
    };
    if preset.controls.is_empty() {
        return true;
    }
    let names: Vec<String> = preset.controls.iter().map(|control| name(&control.name)).collect();
    let id = ui.scope_id().with("with its controls");
    let mut is_with = ui.data(|data| data.get_temp::<bool>(id)).unwrap_or(true);
    ui.checkbox(&mut is_with, format!("with its controls: {}", names.join(", ")))
        .on_hover_text("What they hold of the chain, and over which range, comes along");
    ui.data_mut(|data| data.insert_temp(id, is_with));
    is_with
}

fn change_buttons(ui: &mut Ui, scene: &mut Scene<'_>, entry: &Entry) {
    let (kind, handle) = (entry.kind, entry.handle.clone());
    let (own, name) = (entry.name().to_owned(), name(entry.name()));
    if entry.facts.is_ok() && ui.button("Duplicate").accessible_name(format!("Duplicate {name}")).clicked() {
        scene.act(Action::Library(LibraryAct::Duplicate(kind, handle.clone())));
    }
    let Some(file) = entry.file() else {
        ui.weak("Part of the program: duplicate it to change the copy.");
        return;
    };
    let button = ui.button("Remove").accessible_name(format!("Remove {name}"));
    if button.on_hover_text(path(file)).clicked() {
        scene.act(Action::Library(LibraryAct::Remove(kind, handle.clone())));
    }
    let mut new_name = scene.shelves.new_name.clone().unwrap_or_else(|| own.clone());
    let called = format!("Another name for {name}");
    let width = (ui.available_width() - 80.0).clamp(60.0, 170.0);
    let field = TextField::new(&called, width).show(ui, &mut new_name);
    if field.changed() {
        scene.shelves.new_name = Some(new_name.clone());
    }
    let is_entered = field.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter));
    let button =
        ui.add_enabled(new_name != own, Button::new("Rename")).accessible_name(format!("Rename {name}"));
    if (button.clicked() || is_entered) && new_name != own {
        scene.act(Action::Library(LibraryAct::Rename(kind, handle, new_name)));
    }
}

/// The entries that are searched for, as cards.
fn cards(ui: &mut Ui, scene: &mut Scene<'_>, kind: Kind) {
    let wish = match Wish::parsed(&scene.shelves.search) {
        Ok(wish) => wish,
        Err(error) => {
            ui.label(shown_error(&error.to_string()));
            return;
        }
    };
    let entries = Arc::clone(scene.shelves.entries());
    let found: Vec<&Entry> = entries.iter().filter(|entry| entry.kind == kind && wish.meets(entry)).collect();
    if found.is_empty() {
        ui.label(format!("No {} is like that.", kind.name()));
        return;
    }
    wheel(ui, scene, ui.available_rect_before_wrap());
    let cards = Tiles { count: found.len(), aspect: 16.0 / 9.0, around: LINES, least: CARD };
    let (columns, width) = cards.stand(ui.available_size(), scene.view.preferences.tile_percent);
    let size = vec2(width, (width * 9.0 / 16.0).round());
    let rows = found.len().div_ceil(columns);
    let mut entries = Entries::of(ui, ("library", kind.name()));
    ui.spacing_mut().item_spacing.y = SPACE;
    let area = ScrollArea::vertical().id_salt(("library", kind.name())).auto_shrink([false; 2]);
    area.show_rows(ui, size.y + LINES, rows, |ui, range| {
        for row in range {
            ui.horizontal_top(|ui| {
                ui.spacing_mut().item_spacing.x = SPACE;
                for (nth, entry) in found.iter().enumerate().skip(row * columns).take(columns) {
                    card(ui, scene, entry, size, (nth, &mut entries));
                }
            });
        }
    });
    entries.end(ui);
}

/// One entry: its picture, its name, its effects and its colours.
fn card(
    ui: &mut Ui,
    scene: &mut Scene<'_>,
    entry: &Entry,
    size: Vec2,
    (nth, entries): (usize, &mut Entries),
) {
    let palette = palette(ui.ctx());
    let sense = if entry.kind == Kind::Chain { Sense::click_and_drag() } else { Sense::click() };
    let sense = entries.sense(nth, sense);
    let (rect, response) = ui.allocate_exact_size(size + vec2(0.0, LINES), sense);
    entries.drawn(ui, nth, &response);
    let this = (entry.kind, entry.handle.clone());
    let is_chosen = scene.shelves.chosen.as_ref() == Some(&this);
    let place = if entry.file().is_some() { "yours" } else { "in the program" };
    let effects = match &entry.facts {
        Ok(facts) => facts.effects.join(", "),
        Err(_) => "broken".to_owned(),
    };
    announce(
        &response,
        &format!("{} {}, {place}: {effects}", said_kind(entry.kind), entry.name()),
        Some(is_chosen),
    );
    let picture = Rect::from_min_size(rect.min, size);
    let made = scene.shelves.thumbnails.of(entry, scene.catalogue, scene.pictures.gpu(), ui.ctx());
    paint_thumbnail(ui, picture, made);
    let stroke = if is_chosen { Stroke::new(2.0, palette.accent) } else { Stroke::new(1.0, palette.line) };
    ui.painter().rect_stroke(picture, 2.0, stroke, StrokeKind::Outside);
    paint_focus(ui, &response, picture);

    let colours: Vec<&String> =
        entry.facts.iter().flat_map(|facts| facts.colours.iter()).take(MOST_SAMPLES).collect();
    let samples = colours.len() as f32 * (SAMPLE + 3.0);
    let top = picture.bottom() + 4.0;
    let name = cut_text(ui, entry.name(), 13.0, palette.bright, size.x - samples - 4.0);
    ui.painter().galley(pos2(rect.left(), top), name, palette.bright);
    for (at, written) in colours.iter().enumerate() {
        let Ok(colour) = written.parse() else { continue };
        let corner = pos2(rect.right() - samples + at as f32 * (SAMPLE + 3.0) + 3.0, top + 4.0);
        let sample = Rect::from_min_size(corner, Vec2::splat(SAMPLE));
        ui.painter().rect(sample, 2.0, ink(colour), Stroke::new(1.0, palette.quiet), StrokeKind::Inside);
    }
    let line = if entry.file().is_some() { format!("yours: {effects}") } else { effects.clone() };
    let line = cut_text(ui, &line, 11.5, palette.quiet, size.x);
    ui.painter().galley(pos2(rect.left(), top + 17.0), line, palette.quiet);

    let scope = scene.view.scope;
    scene.point(&response, |scene| preview_of(ui.ctx(), scene, entry, scope, Way::Replace));
    if response.clicked() {
        scene.act(Action::Library(LibraryAct::Choose((!is_chosen).then_some(this))));
    }
    response.context_menu(|ui| card_menu(ui, scene, entry));
    if entry.kind == Kind::Chain && entry.facts.is_ok() {
        response
            .dnd_set_drag_payload(Carried { handle: entry.handle.clone(), name: entry.name().to_owned() });
    }
    if response.dragged() {
        carried(ui, entry.name());
        return;
    }
    let hint = hint(entry, place);
    let cursor = if entry.kind == Kind::Chain { CursorIcon::Grab } else { CursorIcon::PointingHand };
    hint_beside(scene, &response.on_hover_cursor(cursor), hint);
}

/// All that can be done with an entry, under its name.
fn card_menu(ui: &mut Ui, scene: &mut Scene<'_>, entry: &Entry) {
    let (kind, handle) = (entry.kind, entry.handle.clone());
    ui.set_min_width(190.0);
    ui.strong(format!("{} {}", said_kind(kind), name(entry.name())));
    ui.separator();
    let mut acts: Vec<(String, Action)> = Vec::new();
    if entry.facts.is_ok() {
        match kind {
            Kind::Chain => {
                let scope = scene.view.scope;
                let address = scene.address(scope);
                let put = |way| {
                    let handle = handle.clone();
                    Action::Library(LibraryAct::Put { handle, scope, way, with_controls: true })
                };
                acts.push((format!("Put on {address}"), put(Way::Replace)));
                acts.push((format!("Put under the effects on {address}"), put(Way::Under)));
                acts.push((format!("Put over the effects on {address}"), put(Way::Over)));
                if let Some((section, lay)) = lay_in_section(scene, entry) {
                    acts.push((format!("Lay on {address} in the section {section}"), lay));
                }
            }
            Kind::Starter => {
                acts.push(("Begin a show".to_owned(), Action::Library(LibraryAct::Begin(handle.clone()))));
            }
        }
        let duplicate = LibraryAct::Duplicate(kind, handle.clone());
        acts.push(("Duplicate".to_owned(), Action::Library(duplicate)));
    }
    if entry.file().is_some() {
        acts.push(("Remove".to_owned(), Action::Library(LibraryAct::Remove(kind, handle))));
    }
    for (text, act) in acts {
        if ui.button(text).clicked() {
            scene.act(act);
            ui.close();
        }
    }
}

fn said_kind(kind: Kind) -> &'static str {
    match kind {
        Kind::Chain => "Chain",
        Kind::Starter => "Starter",
    }
}

fn hint(entry: &Entry, place: &str) -> String {
    let mut lines = vec![format!("{} ({place})", name(entry.name()))];
    match &entry.facts {
        Ok(facts) => {
            lines.push(shown(&facts.effects.join(", ")).into_owned());
            let named = |written: &String| match written.parse() {
                Ok(colour) => format!("{} {written}", colour_word(colour)),
                Err(()) => written.clone(),
            };
            if !facts.colours.is_empty() {
                lines.push(facts.colours.iter().map(named).collect::<Vec<_>>().join(", "));
            }
        }
        Err(error) => lines.push(shown_error(error)),
    }
    lines.join("\n")
}

/// What was removed, each with a way back.
fn removed(ui: &mut Ui, scene: &mut Scene<'_>) {
    let removed = Arc::clone(scene.shelves.removed());
    if removed.is_empty() {
        ui.weak("Nothing has been removed. What you remove waits here; it is never deleted.");
        return;
    }
    ScrollArea::vertical().id_salt("removed").auto_shrink([false; 2]).show(ui, |ui| {
        for one in removed.iter() {
            ui.horizontal(|ui| {
                let handle = name(&one.handle);
                let said = format!("Restore the {} {handle}, number {}", one.kind.name(), one.number);
                if ui.button("Restore").accessible_name(said).clicked() {
                    scene.act(Action::Library(LibraryAct::Restore(one.number)));
                }
                ui.label(handle);
                ui.weak(one.kind.name());
            });
        }
    });
}
