//! On what the orders are judged: chosen over the wall, and what is known of single pieces of footage.

use egui::{Align2, ComboBox, Id, Key, Rect, Role, Sense, Ui, WidgetInfo, pos2, vec2};

use super::strip::numbered;
use crate::base::place::capital;
use crate::base::shown::{shown, shown_error};
use crate::explore::Goal;
use crate::explore::matters::{FactWords, Word, percent};
use crate::explore::wish::By;
use crate::order::Fact;
use crate::window::action::Action;
use crate::window::basis::{Basis, On};
use crate::window::keys::Command;
use crate::window::scene::Scene;
use crate::window::showing::{Shown, WallBy};
use crate::window::theme::palette;
use crate::window::threads::prover::{BestOrders, Known, OnPieces, PairOnPieces};
use crate::window::widgets::facts::{paint_words, words_width};
use crate::window::widgets::text::TextField;
use crate::window::widgets::{announce, cut_text, draft, font, keep_draft, name, progress};

/// Beats that orders may be judged over.
const OVER: [f64; 5] = [1.0, 2.0, 4.0, 8.0, 16.0];
/// Height of a line of the heat picture, and the width of its fields.
const LINE: f32 = 18.0;
const FIELD: [f32; 2] = [7.0, 34.0];
/// In less width a field's share is told by its colour, and to those who point at it.
const TOLD: f32 = 30.0;
/// Pairs that are shown, and beside the orders that are best for a wish; the others decide least.
const PAIRS: [usize; 2] = [4, 2];

/// Draws the choice.
pub fn choose(ui: &mut Ui, scene: &mut Scene<'_>) {
    let basis = scene.view.basis.clone();
    ui.horizontal_wrapped(|ui| {
        ui.set_min_height(20.0);
        ui.label("Judged on").on_hover_text("The footage on which orders are compared");
        for on in On::ALL {
            let hint = match on {
                On::Clip => "The clip of the path, at the current beat",
                On::Clips => {
                    "Each clip of this scope in turn: an order that holds on all of them is safe to keep"
                }
                On::Named => "Pictures, films, folders or patterns that you name or drop onto the window",
            };
            let hint = format!("{hint}. Key: {}", Command::Judge.key());
            if ui.selectable_label(basis.on == on, on.name()).on_hover_text(hint).clicked() {
                scene.act(Action::Judge(Basis { on, is_stopped: false, ..basis.clone() }));
            }
        }
        over(ui, scene, &basis);
        wish(ui, scene, &basis);
    });
    if basis.on == On::Named {
        named(ui, scene, &basis);
    }
}

/// Over which beats.
fn over(ui: &mut Ui, scene: &mut Scene<'_>, basis: &Basis) {
    let said = |over: Option<f64>| match over {
        None => "at this beat".to_owned(),
        Some(1.0) => "over 1 beat".to_owned(),
        Some(beats) => format!("over {beats} beats"),
    };
    let choice = ComboBox::from_id_salt("judged over").selected_text(said(basis.over)).width(104.0);
    let choice = choice.show_ui(ui, |ui| {
        for over in [None].into_iter().chain(OVER.map(Some)) {
            if ui.selectable_label(basis.over == over, said(over)).clicked() {
                scene.act(Action::Judge(Basis { over, is_stopped: false, ..basis.clone() }));
            }
        }
    });
    let _ = choice.response.accessible_name("Judged at this beat, or over several");
}

/// For which wish.
fn wish(ui: &mut Ui, scene: &mut Scene<'_>, basis: &Basis) {
    let choice = ComboBox::from_id_salt("judged for").selected_text(wish_said(basis.wish)).width(128.0);
    let choice = choice.show_ui(ui, |ui| {
        let goals = Goal::ALL.into_iter().filter(|goal| *goal != Goal::Like).map(Some);
        for wish in [None].into_iter().chain(goals) {
            if ui.selectable_label(basis.wish == wish, wish_said(wish)).clicked() {
                scene.act(Action::Judge(Basis { wish, is_stopped: false, ..basis.clone() }));
            }
        }
    });
    let _ = choice.response.accessible_name("What the best order is best for");
    if basis.wish.is_some() && basis.on != On::Clip {
        for (by, text, hint) in [
            (By::Mean, "on average", "The best order is the one that is best by the mean of all pieces"),
            (By::Worst, "at worst", "The best order is the one whose worst piece is best"),
        ] {
            if ui.selectable_label(basis.by == by, text).on_hover_text(hint).clicked() {
                scene.act(Action::Judge(Basis { by, is_stopped: false, ..basis.clone() }));
            }
        }
    }
}

/// "best for most edges".
fn wish_said(wish: Option<Goal>) -> String {
    wish.map_or_else(|| "not ranked".to_owned(), |goal| format!("best for {}", goal.name().replace('-', " ")))
}

/// What the person named, and a field for more.
fn named(ui: &mut Ui, scene: &mut Scene<'_>, basis: &Basis) {
    ui.horizontal_wrapped(|ui| {
        for (at, written) in basis.named.iter().enumerate() {
            let short = name(written);
            let short = short.rsplit(['/', '\\']).find(|part| !part.is_empty()).unwrap_or(&short).to_owned();
            let response = ui.button(format!("{short}  \u{d7}")).on_hover_text(name(written));
            announce(&response, &format!("Leave out: {written}"), None);
            if response.clicked() {
                let mut left = basis.clone();
                left.named.remove(at);
                scene.act(Action::Judge(Basis { is_stopped: false, ..left }));
            }
        }
        let id = Id::unique("footage to judge on");
        let mut text = draft(ui, id, String::new);
        let hint = "file, folder or pattern such as *.mp4";
        let entry = TextField::new("Footage to judge on", 230.0).hint(hint).show(ui, &mut text);
        let is_entered = entry.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
        let is_added = ui.button("Add").clicked() || is_entered;
        if is_added && !text.trim().is_empty() {
            scene.act(Action::Judge(basis.with([text.trim().to_owned()])));
            text.clear();
            entry.request_focus();
        }
        keep_draft(ui, id, text);
    });
    if basis.named.is_empty() {
        ui.label("Drop pictures, films or folders onto the window, or name them above: each order is shown on every one of them.");
    }
}

/// What stands in place of a wall that is not known yet.
pub fn judging(ui: &mut Ui, scene: &mut Scene<'_>) {
    let basis = scene.view.basis.clone();
    if basis.lacks_footage() {
        return;
    }
    ui.horizontal_wrapped(|ui| match scene.gathering {
        _ if basis.is_stopped => {
            ui.label("Stopped.");
            if ui.button("Judge").clicked() {
                scene.act(Action::Judge(Basis { is_stopped: false, ..basis }));
            }
        }
        _ if scene.pictures.gpu().is_none() => {
            ui.label("Orders are judged on a GPU, and there is none.");
        }
        _ if scene.view.playing => {
            ui.weak("The orders are judged once you pause.");
        }
        Some((done, of)) => {
            ui.label(if of == 0 {
                "Opening the footage \u{2026}".to_owned()
            } else {
                format!("Judging: {done} of {of} pictures")
            });
            progress(ui, done as f32 / of.max(1) as f32);
            stop(ui, scene, basis);
        }
        None => {
            ui.weak("Looking at the orders \u{2026}");
        }
    });
}

/// The way to leave it.
fn stop(ui: &mut Ui, scene: &mut Scene<'_>, basis: Basis) {
    if ui.button("Stop").on_hover_text("Leaves it; the rest of the window goes on").clicked() {
        scene.act(Action::Judge(Basis { is_stopped: true, ..basis }));
    }
}

/// Draws what is known of the pieces: what is left out, the best orders, and the heat picture.
pub fn known(ui: &mut Ui, scene: &mut Scene<'_>, laid: &Known, words: FactWords<'_>) {
    let Some(on) = laid.on_pieces.clone() else { return };
    if scene.judged.is_none() {
        judging(ui, scene);
    }
    left_out(ui, scene, &on);
    if let Some(best) = on.best.as_ref().filter(|_| scene.is_laid_now) {
        told_best(ui, scene, best, words);
    }
    if scene.view.wall_by == WallBy::Families && on.pieces.len() > 1 && scene.is_laid_now {
        heat(ui, &on, words);
    }
    for remark in &on.remarks {
        let text = shown(remark).into_owned();
        ui.add(egui::Label::new(egui::RichText::new(&text).small()).truncate()).on_hover_text(text);
    }
}

fn left_out(ui: &mut Ui, scene: &mut Scene<'_>, on: &OnPieces) {
    for said in &on.left_out {
        ui.horizontal_wrapped(|ui| {
            let colour = palette(ui.ctx()).bright;
            let text = format!("Left out: {}", shown_error(said));
            ui.add(egui::Label::new(egui::RichText::new(&text).color(colour)).wrap());
            if ui.small_button("Try again").clicked() {
                scene.act(Action::TryAgain);
            }
        });
    }
}

/// Which orders are best for the wish, each with the way to look at it.
fn told_best(ui: &mut Ui, scene: &mut Scene<'_>, best: &BestOrders, words: FactWords<'_>) {
    for line in &best.answer {
        ui.label(shown(line).into_owned());
    }
    ui.horizontal_wrapped(|ui| {
        for order in &best.orders {
            let code = words.marks.code(order);
            let scope = scene.view.scope;
            let is_shown =
                matches!(&scene.view.shown, Shown::Order { scope: s, order: o } if *s == scope && o == order);
            let hint = "In the large picture; Enter adopts it";
            if ui.selectable_label(is_shown, format!("Show {code}")).on_hover_text(hint).clicked() {
                scene.act(Action::Show(Shown::Order { scope, order: order.clone() }));
            }
        }
    });
    if !best.gains.is_empty() {
        egui::CollapsingHeader::new("What each piece would gain from an order of its own").show(ui, |ui| {
            for line in &best.gains {
                ui.small(shown(line).into_owned());
            }
        });
    }
}

/// What each pair has of what order does, a field a piece: the stronger the colour, the more.
fn heat(ui: &mut Ui, on: &OnPieces, words: FactWords<'_>) {
    if on.pairs.is_empty() {
        return;
    }
    let colour = palette(ui.ctx());
    let pairs = &on.pairs[..on.pairs.len().min(PAIRS[usize::from(on.best.is_some())])];
    let width = ui.available_width();
    let names: Vec<Vec<Word>> = pairs.iter().map(|pair| pair_words(words, pair.fact)).collect();
    let widest = names.iter().map(|said| words_width(ui, words, said)).fold(0.0, f32::max);
    let left = widest.min(width * 0.42) + 8.0;
    // The words on the right take the rest.
    let field = ((width * 0.66 - left) / on.pieces.len() as f32).clamp(FIELD[0], FIELD[1]);
    let fields = |rect: Rect, nth: usize| {
        Rect::from_min_size(pos2(rect.left() + left + nth as f32 * field, rect.top()), vec2(field, LINE))
            .shrink(1.0)
    };
    ui.scope(|ui| {
        ui.spacing_mut().item_spacing.y = 0.0;
        let (rect, _) = ui.allocate_exact_size(vec2(width, LINE), Sense::hover());
        let middle = rect.center().y;
        ui.painter().text(
            pos2(rect.left(), middle),
            Align2::LEFT_CENTER,
            "What matters on each piece, in %",
            font(11.0),
            colour.quiet,
        );
        let every = if field >= 12.0 { 1 } else { 5 };
        for nth in (0..on.pieces.len()).filter(|nth| (nth + 1) % every == 0 || *nth == 0) {
            let at = fields(rect, nth).center();
            ui.painter().text(at, Align2::CENTER_CENTER, (nth + 1).to_string(), font(10.0), colour.quiet);
        }
        for (pair, said) in pairs.iter().zip(&names) {
            let (rect, response) = ui.allocate_exact_size(vec2(width, LINE), Sense::hover());
            let middle = rect.left_center();
            paint_words(ui, middle, left - 8.0, colour.plain, words, said);
            for (nth, share) in pair.shares.iter().enumerate() {
                let at = fields(rect, nth);
                ui.painter().rect_filled(at, 2.0, colour.lifted);
                let Some(share) = *share else { continue };
                let strength = share.clamp(0.0, 1.0).sqrt() as f32;
                ui.painter().rect_filled(at, 2.0, colour.accent.gamma_multiply(strength));
                if field >= TOLD {
                    let ink = if strength > 0.6 { colour.on_accent } else { colour.bright };
                    let text = format!("{:.0}", share * 100.0);
                    ui.painter().text(at.center(), Align2::CENTER_CENTER, text, font(10.5), ink);
                }
            }
            let from = rect.left() + left + on.pieces.len() as f32 * field + 8.0;
            let text = format!("matters {}", pair.place);
            let galley = cut_text(ui, &text, 11.5, colour.plain, rect.right() - from);
            ui.painter().galley(pos2(from, middle.y - galley.size().y / 2.0), galley, colour.plain);
            let told = told(on, pair, &words.plain(said));
            response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &told[0]));
            response.on_hover_text(told.join("\n"));
        }
    });
}

/// "tint and flash-gate".
fn pair_words(words: FactWords<'_>, fact: Fact) -> Vec<Word> {
    words.fact(fact, [" and "; 2]).to_vec()
}

/// A pair in words, then each piece.
fn told(on: &OnPieces, pair: &PairOnPieces, named: &str) -> Vec<String> {
    let all = percent(pair.share);
    let first =
        format!("{} matters {}: {all} of what order does, {} there", capital(named), pair.place, pair.span);
    let piece = |(nth, share): (usize, &Option<f64>)| {
        let share = share.map_or_else(|| "nobody sees what order does".to_owned(), percent);
        shown(&format!("{}: {share}", numbered(nth, &on.pieces[nth]))).into_owned()
    };
    let first = shown(&first).into_owned();
    [first].into_iter().chain(pair.shares.iter().enumerate().map(piece)).collect()
}
