//! The wall: every order of the selected chain that can differ, each as a picture.

mod answer;
mod basis;
mod pins;
mod strip;
mod tile;

use std::mem::{Discriminant, discriminant};
use std::sync::Arc;

use egui::{Id, ScrollArea, Sense, Ui, vec2};

use crate::base::place::capital;
use crate::base::shown::shown;
use crate::explore::matters::FactWords;
use crate::explore::words::total_said;
use crate::order::{Condition, Fact, grouped, marks};
use crate::window::action::{Action, Dialog};
use crate::window::keys::Command;
use crate::window::scene::Scene;
use crate::window::showing::WallBy;
use crate::window::theme::palette;
use crate::window::threads::prover::{Known, StandsFor};
use crate::window::widgets::facts::{paint_words, words_width};
use crate::window::widgets::orders::{looking, nothing_yet, trouble};
use crate::window::widgets::reach::Entries;
use crate::window::widgets::short::short_label;
use crate::window::widgets::tiles::{SPACE, size as tile_size, wheel};
use crate::window::widgets::{announce, labels, progress};
pub use pins::pins;
use tile::{Grid, OnWall};

/// Draws the wall.
pub fn show(ui: &mut Ui, scene: &mut Scene<'_>) {
    let scope = scene.view.scope;
    let chain = scene.show().chain(scope).clone();
    if chain.is_empty() {
        return nothing_yet(ui, scene);
    }
    let (names, marks) = (labels(&chain), marks(&chain));
    if chain.len() > 1 {
        basis::choose(ui, scene);
    }
    trouble(ui, scene);
    let Some(known) = scene.laid.clone() else {
        match &scene.unknown {
            Some(_) => {}
            None if scene.view.basis.is_plain() => looking(ui, scene),
            None => basis::judging(ui, scene),
        }
        return;
    };
    answer::show(ui, scene, &known, FactWords { labels: &names, marks: &marks });
    heading(ui, scene, &known, &names);
    if chain.len() < 2 {
        ui.add_space(8.0);
        ui.label("With one effect there is one order. Add another in a gap of the path above, or press A.");
        return;
    }
    basis::known(ui, scene, &known, FactWords { labels: &names, marks: &marks });
    open_heading(ui, scene, &known, FactWords { labels: &names, marks: &marks });
    conditions(ui, scene, &names);
    let candidates = Arc::clone(&scene.candidates);
    if candidates.is_empty() {
        ui.label(match scene.view.wall_by.open() {
            Some(_) => "No order in here is like that. Release a condition, or go back.",
            None => {
                "No order is like that: two of the conditions contradict each other. Release one of them."
            }
        });
        return;
    }
    ui.spacing_mut().item_spacing.y = SPACE;
    // What stands above the pictures may take a line less by now: they stay where they are.
    let id = Id::unique(("top of the wall", which(scene)));
    let top = ui.data(|data| data.get_temp::<f32>(id)).filter(|_| scene.wall_is_held);
    ui.add_space(top.map_or(0.0, |top| top - ui.cursor().top()).max(0.0));
    ui.data_mut(|data| data.insert_temp(id, ui.cursor().top()));
    scene.wall_seen.rect = Some(ui.available_rect_before_wrap());
    let on_wall =
        OnWall { known: &known, candidates: &candidates, words: FactWords { labels: &names, marks: &marks } };
    wheel(ui, scene, ui.available_rect_before_wrap());
    let grid = Grid::of(ui, scene, &on_wall);
    let mut entries = Entries::of(ui, ("wall", which(scene)));
    let columns = grid.columns;
    let rows = candidates.len().div_ceil(columns);
    let area = ScrollArea::vertical().id_salt(("wall", which(scene))).auto_shrink([false; 2]);
    area.show_rows(ui, grid.height(), rows, |ui, range| {
        for row in range {
            ui.horizontal_top(|ui| {
                ui.spacing_mut().item_spacing.x = SPACE;
                let first = row * columns;
                for nth in first..candidates.len().min(first + columns) {
                    tile::show(ui, scene, &on_wall, nth, &grid, &mut entries);
                }
            });
        }
    });
    entries.end(ui);
}

/// Which wall it is, however the chain stands: what is scrolled and held of it is its own.
fn which(scene: &Scene<'_>) -> (Discriminant<WallBy>, Option<String>) {
    let by = &scene.view.wall_by;
    let marks = marks(scene.show().chain(scene.view.scope));
    (discriminant(by), by.open().map(|order| marks.code(order)))
}

/// "120 orders, 54 of them can differ, 12 looks", and how far their pictures have come.
fn heading(ui: &mut Ui, scene: &mut Scene<'_>, laid: &Known, names: &[String]) {
    ui.horizontal_wrapped(|ui| {
        ui.set_min_height(20.0);
        match scene.known_of_wall().cloned() {
            Some(known) => {
                ui.strong(counted(&known));
            }
            None if scene.view.playing => {
                ui.weak("Orders as of the last pause")
                    .on_hover_text("They are looked at again once you pause");
            }
            None if scene.unknown.is_none() => looking(ui, scene),
            None => {}
        }
        ways(ui, scene, laid);
        // It never takes a line of its own, which would move the pictures.
        let missing = scene.pictures.missing();
        if missing > 0 && ui.available_size_before_wrap().x > 80.0 {
            progress(ui, 1.0 - missing as f32 / scene.asked.max(missing) as f32);
            if ui.available_size_before_wrap().x > 100.0 {
                ui.weak(format!("{missing} on the way"));
            }
        }
    });
    // Another line here would move the pictures: it waits with them.
    let Some(known) = scene.known_of_wall().filter(|_| !scene.wall_waits) else { return };
    let idle: Vec<String> = (0..names.len())
        .filter_map(|at| {
            known.proofs.idle[at]
                .as_ref()
                .map(|why| shown(&format!("{} changes nothing now: {why}", names[at])).into_owned())
        })
        .collect();
    if !idle.is_empty() {
        ui.small(format!("{}.", idle.join("; ")));
    }
}

/// What the wall may show a picture of.
fn ways(ui: &mut Ui, scene: &mut Scene<'_>, laid: &Known) {
    let Some(gathered) = laid.looks.as_ref().filter(|_| laid.classes.len() > 1) else { return };
    let key = Command::WallBy.key();
    if let Some(families) = laid.families() {
        let text = format!("{} families", families.list.len());
        let hint = format!(
            "Orders that share the few facts which decide most of what order does, one picture for each family. Key: {key}"
        );
        way(ui, scene, WallBy::Families, text, hint);
    }
    let is_now = gathered.is_of_now && !gathered.is_first && scene.is_laid_now;
    let count = gathered.looks.len();
    let text = match (count, gathered.is_complete) {
        _ if !is_now => "looks".to_owned(),
        (1, _) => "1 look".to_owned(),
        (_, true) => format!("{count} looks"),
        (_, false) => format!("more than {count} looks"),
    };
    // Edges and blur of another frame are other pictures, which may make other looks.
    let otherwise = gathered.rendered_at.instead_of(scene.seen_at_rest.frame);
    let on = otherwise.as_ref().map_or_else(|| format!("on {}", gathered.looked_at), Clone::clone);
    let is_output = gathered.of_output || scene.view.scope == crate::show::Scope::Global;
    let stage =
        if is_output { "final output" } else { "after this chain: a command looks at the final output" };
    let hint = format!(
        "Orders that a viewer cannot tell apart stand behind one picture (below a mean CIEDE2000 of 1, {on}, {stage}). Key: {key}"
    );
    way(ui, scene, WallBy::Looks, text, hint);
    if let Some(otherwise) = otherwise.filter(|_| is_now) {
        ui.weak(format!("told apart at {}", gathered.rendered_at)).on_hover_text(otherwise);
    }
    let hint = format!("One picture for each order that can differ. Key: {key}");
    way(ui, scene, WallBy::Orders, "every order".to_owned(), hint);
}

/// One of them; chosen too while something of it is open.
fn way(ui: &mut Ui, scene: &mut Scene<'_>, by: WallBy, text: String, hint: String) {
    let now = scene.view.wall_by.clone().whole();
    // As long as no family is known, each look has a picture.
    let is_shown = match (&scene.candidates.first().map(|one| &one.stands_for), &scene.view.wall_by) {
        (Some(StandsFor::Look(..)), WallBy::Families) => by == WallBy::Looks,
        _ => by == now,
    };
    if ui.selectable_label(is_shown, text).on_hover_text(hint).clicked() {
        scene.act(Action::WallBy(by));
    }
}

/// What is open on the wall, and the way back.
fn open_heading(ui: &mut Ui, scene: &mut Scene<'_>, laid: &Known, words: FactWords<'_>) {
    let by = scene.view.wall_by.clone();
    let (Some(closed), Some(order)) = (by.closed(), by.open()) else { return };
    let family = laid.family_of(order).zip(laid.families()).map(|(nth, families)| &families.list[nth]);
    let is_now = laid.looks.as_ref().is_some_and(|gathered| gathered.is_of_now && scene.is_laid_now);
    ui.horizontal_wrapped(|ui| {
        let back = match closed {
            WallBy::Families => "Back to all families",
            WallBy::Family(_) => "Back to its family",
            _ => "Back to all looks",
        };
        if ui.button(back).on_hover_text(Command::Fold.key()).clicked() {
            scene.act(Action::WallBy(closed.clone()));
        }
        if let (WallBy::Family(_), Some(family)) = (&by, family) {
            for &fact in &family.facts {
                let said = words.facts(&[fact]);
                let width = words_width(ui, words, &said);
                let (rect, response) = ui.allocate_exact_size(vec2(width + 6.0, 20.0), Sense::hover());
                let colour = palette(ui.ctx()).bright;
                paint_words(ui, rect.left_center(), width, colour, words, &said);
                let said = shown(&words.plain(&said)).into_owned();
                response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Label, true, &said));
            }
        } else {
            let look = laid.looks.as_ref().zip(laid.look_of(order)).filter(|_| is_now);
            let look = look.and_then(|(gathered, look)| gathered.looks.iter().find(|one| one.number == look));
            let facts = look.map(|look| facts_said(&look.facts, words.labels)).unwrap_or_default();
            let text = match (&by, family) {
                (WallBy::Family(_), _) => "Families are not known now.".to_owned(),
                (WallBy::Look { in_family: true, .. }, Some(_)) => {
                    format!("The orders of this family that look like this one. {facts}")
                }
                _ => format!("The orders that look like this one. {facts}"),
            };
            short_label(ui, &text, egui::TextStyle::Body, palette(ui.ctx()).plain);
        }
    });
    if let (WallBy::Family(_), Some((family, families))) = (&by, family.zip(laid.families())) {
        let text = match scene.matters(laid) {
            None => answer::finding(scene),
            Some(_) => match words.inside(families, family) {
                Some(inside) => capital(&format!("{inside}.")),
                None => "Inside it order does hardly anything more.".to_owned(),
            },
        };
        let text = shown(&text).into_owned();
        short_label(ui, &text, egui::TextStyle::Small, palette(ui.ctx()).quiet);
    }
}

/// "120 orders, 54 can differ".
fn counted(known: &Known) -> String {
    let (classes, total) = (grouped(known.classes.len() as u128), total_said(known.tally.orders_total()));
    match known.tally.sample() {
        None => format!("{total}, {classes} can differ"),
        Some(sample) => {
            format!("{total}; sampled: of {} drawn {classes} can differ", grouped(sample.orders as u128))
        }
    }
}

/// The conditions that orders on the wall meet, each with a way to give it up.
fn conditions(ui: &mut Ui, scene: &mut Scene<'_>, names: &[String]) {
    ui.horizontal_wrapped(|ui| {
        for (at, condition) in scene.view.conditions.clone().into_iter().enumerate() {
            let text = condition_said(condition, names);
            let response =
                ui.button(format!("{text}  \u{d7}")).on_hover_text("Show orders that are not so, too");
            announce(&response, &format!("Release: {text}"), None);
            if response.clicked() {
                scene.act(Action::Release(at));
            }
        }
        let text = if scene.view.conditions.is_empty() { "Only orders with …" } else { "and with …" };
        if ui
            .button(text)
            .on_hover_text(format!(
                "Show only orders in which an effect is first, last, or before another. Key: {}",
                Command::Only.key()
            ))
            .clicked()
        {
            scene.act(Action::Ask(Dialog::Condition));
        }
        if scene.view.scope != crate::show::Scope::Global {
            for (output, text, hint) in [
                (
                    false,
                    "after this chain",
                    "The picture as it leaves this chain, before others are laid over it",
                ),
                (true, "final output", "The picture that the audience sees"),
            ] {
                let chosen = scene.view.wall_of_output == output;
                if ui.selectable_label(chosen, text).on_hover_text(hint).clicked() {
                    scene.act(Action::WallOfOutput(output));
                }
            }
        }
        tile_size(ui, scene);
    });
}

/// "tint before edge-find", "mirror last".
pub fn condition_said(condition: Condition, names: &[String]) -> String {
    let name = |place: usize| names.get(place).map_or("", String::as_str);
    match condition {
        Condition::Before { under, over } => format!("{} before {}", name(under), name(over)),
        Condition::First(effect) => format!("{} first", name(effect)),
        Condition::Last(effect) => format!("{} last", name(effect)),
    }
}

/// "tint before edge-find, mirror before channel-offset".
pub fn facts_said(facts: &[Fact], names: &[String]) -> String {
    let said = facts
        .iter()
        .map(|fact| condition_said(Condition::Before { under: fact.before, over: fact.after }, names));
    said.collect::<Vec<_>>().join(", ")
}
