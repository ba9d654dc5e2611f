//! How a clip's footage is played: its speed or its beats, its section, and what follows the end.

use egui::Ui;

use crate::edit::{ClipEdit, Edit};
use crate::show::clip::{AtEnd, FootageName, Pace, Play};
use crate::show::{Clip, ClipPlace};
use crate::window::action::Action;
use crate::window::scene::Scene;
use crate::window::widgets::announce;
use crate::window::widgets::fields::NumberField;

/// Beats of a loop that is tied to the beat for the first time: a bar of four.
const FIRST_LOOP_BEATS: f64 = 4.0;
/// Seconds of a section that gets an out point for the first time.
const FIRST_SECTION_SECS: f64 = 4.0;

/// The controls of one clip.
pub fn controls(ui: &mut Ui, scene: &mut Scene<'_>, place: ClipPlace, of: &Clip) {
    if !matches!(of.footage, FootageName::File { .. }) {
        ui.weak("Runs by the beat.");
        return;
    }
    let before = of.play;
    let mut play = before;
    let mut is_done = pace(ui, &mut play);
    is_done |= section(ui, &mut play);
    at_end(ui, &mut play);
    if play != before {
        scene.act(Action::Edit(Edit::Clip(place, ClipEdit::Play(play))));
    }
    if is_done {
        scene.act(Action::EndRun);
    }
}

/// A number to draw or to type; gives whether the person is done with it.
fn number(ui: &mut Ui, name: &str, value: &mut f64, [low, high]: [f64; 2], speed: f64, suffix: &str) -> bool {
    let field = NumberField { speed, decimals: 3, ..NumberField::new(name, suffix.trim(), [low, high]) };
    field.show(ui, value).is_over
}

fn choice(ui: &mut Ui, text: &str, name: &str, hint: &str, is_chosen: bool) -> bool {
    let response = ui.selectable_label(is_chosen, text).on_hover_text(hint);
    announce(&response, name, Some(is_chosen));
    response.clicked() && !is_chosen
}

fn pace(ui: &mut Ui, play: &mut Play) -> bool {
    let row = ui.horizontal_wrapped(|ui| {
        ui.label("runs");
        let is_free = matches!(play.pace, Pace::Speed(_));
        if choice(ui, "free", "Runs free", "In its own time, times a factor", is_free) {
            play.pace = Pace::default();
        }
        let hint = "A whole loop lasts so many beats, whatever the tempo";
        if choice(ui, "by the beat", "Runs by the beat", hint, !is_free) {
            play.pace = Pace::LoopBeats(FIRST_LOOP_BEATS);
        }
        match &mut play.pace {
            Pace::Speed(speed) => number(ui, "Speed", speed, Play::SPEED, 0.01, " times"),
            Pace::LoopBeats(beats) => number(ui, "Beats of a loop", beats, Play::LOOP_BEATS, 0.05, " beats"),
        }
    });
    row.inner
}

fn section(ui: &mut Ui, play: &mut Play) -> bool {
    let row = ui.horizontal_wrapped(|ui| {
        ui.label("from");
        let [first, last] = Play::SECS;
        let latest = play.out_secs.map_or(last, f64::next_down);
        let mut is_done = number(ui, "In point", &mut play.in_secs, [first, latest], 0.05, " s");
        ui.label("to");
        let hint = "As far as the footage goes";
        if choice(ui, "its end", "To its end", hint, play.out_secs.is_none()) {
            play.out_secs = None;
        }
        let hint = "To a second of the footage";
        if choice(ui, "a second", "To an out point", hint, play.out_secs.is_some()) {
            play.out_secs = Some(play.in_secs + FIRST_SECTION_SECS);
        }
        if let Some(out) = &mut play.out_secs {
            is_done |= number(ui, "Out point", out, [play.in_secs.next_up(), last], 0.05, " s");
        }
        is_done
    });
    row.inner
}

fn at_end(ui: &mut Ui, play: &mut Play) {
    ui.horizontal_wrapped(|ui| {
        ui.label("then");
        for way in AtEnd::ALL {
            let name = format!("At the end: {}", way.name());
            if choice(ui, way.name(), &name, at_end_said(way), play.at_end == way) {
                play.at_end = way;
            }
        }
    });
}

/// What follows the end of a section, in words.
fn at_end_said(way: AtEnd) -> &'static str {
    match way {
        AtEnd::Loop => "It begins again",
        AtEnd::Hold => "The last frame stays",
        AtEnd::Once => "Nothing shows after it",
        AtEnd::BackAndForth => "It runs back to its beginning, and forth again",
    }
}
