//! Playing: play and pause, where the beat stands, tempo, tap and loop.

use egui::{Button, ComboBox, Rect, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};

use super::announce;
use super::fields::NumberField;
use crate::beat::TEMPO_BPM;
use crate::edit::Edit;
use crate::window::action::Action;
use crate::window::keys::Command;
use crate::window::scene::Scene;
use crate::window::theme::palette;

/// The last beat that can be typed, and before the start the first: days at any tempo.
const LAST_BEAT: f64 = 1e6;
/// How many beats the dots stand for.
const BAR: usize = 4;
/// What is played round and round, as it is chosen.
const LOOPS: [(&str, Option<u32>); 5] =
    [("off", None), ("1", Some(1)), ("4", Some(4)), ("8", Some(8)), ("16", Some(16))];

/// Widths that the controls take, in points: with the dots beside them, and with the dots on the button that plays.
pub const WIDTHS: [f32; 2] = [414.0, 350.0];

/// Draws the controls, side by side, where the room is narrow in less of it.
pub fn controls(ui: &mut Ui, scene: &mut Scene<'_>, is_narrow: bool) {
    let playing = scene.view.playing;
    let play =
        Button::new(if playing { "Pause" } else { "Play" }).min_size(vec2(52.0, 0.0)).selected(playing);
    let play = ui.add(play).on_hover_text(Command::Play.key());
    if play.clicked() {
        scene.act(Action::Play(!playing));
    }
    let now = scene.view.beats.rem_euclid(BAR as f64) as usize % BAR;
    if is_narrow {
        let under = play.rect.shrink2(vec2(10.0, 0.0)).with_min_y(play.rect.bottom() - 5.0);
        paint_dots(ui, under, [2.0, 1.5], now);
    } else {
        dots(ui, now);
    }
    let mut beats = scene.view.beats;
    let field = NumberField::new("Beat", "", [-LAST_BEAT, LAST_BEAT]);
    let prefix = "beat ";
    NumberField { speed: 0.01, decimals: 2, prefix, is_fixed: true, runs: true, default: Some(0.0), ..field }
        .show(ui, &mut beats);
    if beats != scene.view.beats {
        scene.act(Action::Beats(beats));
    }
    tempo(ui, scene);
    let tap = ui.button("Tap");
    if tap.on_hover_text(format!("On the beat; several make the tempo ({})", Command::Tap.key())).clicked() {
        scene.act(Action::Tap);
    }
    looped(ui, scene);
}

/// Four dots, of which the one of the current beat is filled; the first is the largest.
fn dots(ui: &mut Ui, now: usize) {
    let (rect, response) = ui.allocate_exact_size(vec2(58.0, 18.0), Sense::hover());
    paint_dots(ui, rect.shrink2(vec2(8.0, 0.0)), [5.5, 4.0], now);
    let said = format!("beat {} of {BAR}", now + 1);
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Label, true, &said));
    response.on_hover_text(said);
}

/// The dots, from one end of a place to the other, by the radius of the first and of the others.
fn paint_dots(ui: &Ui, rect: Rect, [first, other]: [f32; 2], now: usize) {
    let palette = palette(ui.ctx());
    for dot in 0..BAR {
        let share = dot as f32 / (BAR - 1) as f32;
        let at = pos2(rect.left() + rect.width() * share, rect.center().y);
        let radius = if dot == 0 { first } else { other };
        if dot == now {
            ui.painter().circle_filled(at, radius, palette.accent);
        } else {
            ui.painter().circle_stroke(at, radius - 0.5, Stroke::new(1.0, palette.quiet));
        }
    }
}

fn tempo(ui: &mut Ui, scene: &mut Scene<'_>) {
    let before = scene.show().tempo_bpm;
    let mut tempo = before;
    let field = NumberField { speed: 0.1, ..NumberField::new("Tempo in BPM", "BPM", TEMPO_BPM) };
    let is_over = field.show(ui, &mut tempo).is_over;
    if tempo != before {
        scene.act(Action::Edit(Edit::Tempo(tempo)));
    }
    if is_over {
        scene.act(Action::EndRun);
    }
}

fn looped(ui: &mut Ui, scene: &mut Scene<'_>) {
    let now = LOOPS.iter().find(|(_, beats)| *beats == scene.view.looped).map_or("off", |(text, _)| text);
    let choice = ComboBox::from_id_salt("loop").selected_text(format!("loop {now}")).width(72.0);
    let shown = choice.show_ui(ui, |ui| {
        for (text, beats) in LOOPS {
            let plays = match beats {
                None => "Plays on and on".to_owned(),
                Some(1) => "Plays this beat round and round".to_owned(),
                Some(beats) => format!("Plays {beats} beats round and round, from this one on"),
            };
            let chosen = scene.view.looped == beats;
            let response = ui.selectable_label(chosen, text).on_hover_text(plays);
            announce(&response, &format!("Loop: {text}"), Some(chosen));
            if response.clicked() {
                scene.act(Action::Loop(beats));
            }
        }
    });
    let shown = shown.response.on_hover_text(Command::Loop.key());
    announce(&shown, &format!("Loop, now {now}"), None);
}
