//! When controls are meant to be played: recorded by playing along, seen before it is kept.

use egui::{RichText, Ui};

use crate::edit::{Edit, TimeEdit};
use crate::hands::{Division, Recorded, joined};
use crate::show::Show;
use crate::show::control::Control;
use crate::show::cue::Cue;
use crate::window::action::Action;
use crate::window::playing::HandAct;
use crate::window::scene::Scene;
use crate::window::widgets::{name, sign_button, whole};

/// Beats that are told of a cue at most; of more, how many.
const TOLD: usize = 12;

/// Draws what records cues, and what was recorded.
pub(super) fn record(ui: &mut Ui, scene: &mut Scene<'_>, show: &Show) {
    if show.controls.is_empty() {
        return;
    }
    let recorded = scene.hands.recorded.clone();
    let is_on = recorded.as_ref().is_some_and(|(_, is_on)| *is_on);
    ui.horizontal_wrapped(|ui| {
        let (text, hint) = if is_on {
            ("Stop recording", "What was played is shown before it is kept")
        } else {
            ("Record cues", "Play along: what you press becomes the cues, rounded to the beat")
        };
        if ui.button(text).on_hover_text(hint).clicked() {
            scene.act(Action::Hand(HandAct::Record(!is_on)));
        }
        whole(ui, RichText::new("rounded to the").small());
        let now = scene.hands.division.unwrap_or(Division::Beat);
        let choice = egui::ComboBox::from_id_salt("division").selected_text(now.name()).width(110.0);
        let shown = choice.show_ui(ui, |ui| {
            for division in Division::ALL {
                if ui.selectable_label(division == now, division.name()).clicked() {
                    scene.act(Action::Hand(HandAct::Round(division)));
                }
            }
        });
        let _ = shown.response.accessible_name("Cues are rounded to");
    });
    let Some((recorded, _)) = recorded else { return };
    if recorded.is_empty() {
        let said = if is_on { "Recording: nothing played yet." } else { "Nothing was played." };
        ui.horizontal_wrapped(|ui| {
            ui.small(said);
            if !is_on && ui.button("Close").clicked() {
                scene.act(Action::Hand(HandAct::Forget));
            }
        });
        return;
    }
    for one in &recorded {
        if let Some(control) = show.controls.get(one.control) {
            let times = if one.times == 1 { "once".to_owned() } else { format!("{} times", one.times) };
            ui.small(format!("{}: played {times}, {}", name(&control.name), told(&one.cue)));
        }
    }
    if is_on {
        return;
    }
    ui.horizontal_wrapped(|ui| {
        let keep =
            ui.button("Keep as the cues").on_hover_text("In place of the cues that these controls have");
        if keep.clicked() {
            let cues = recorded.iter().map(|one| (one.control, Some(one.cue.clone())));
            kept(scene, cues.collect());
        }
        let with = with_known(show, &recorded);
        if !with.is_empty()
            && ui
                .button("Add to the cues")
                .on_hover_text("Beside the cues that these controls have")
                .clicked()
        {
            kept(scene, with);
        }
        if ui.button("Discard").clicked() {
            scene.act(Action::Hand(HandAct::Forget));
        }
    });
}

fn kept(scene: &mut Scene<'_>, cues: Vec<(usize, Option<Cue>)>) {
    scene.act(Action::Edit(Edit::Time(TimeEdit::Cues(cues))));
    scene.act(Action::Hand(HandAct::Forget));
}

/// What was recorded, joined to what each control has already; nothing where none has any, or they come round otherwise.
fn with_known(show: &Show, recorded: &[Recorded]) -> Vec<(usize, Option<Cue>)> {
    let known = |one: &Recorded| show.controls.get(one.control).and_then(|control| control.cue.as_ref());
    if !recorded.iter().any(|one| known(one).is_some()) {
        return Vec::new();
    }
    let join = |one: &Recorded| match known(one) {
        Some(cue) => joined(cue, &one.cue).map(|cue| (one.control, Some(cue))),
        None => Some((one.control, Some(one.cue.clone()))),
    };
    recorded.iter().map(join).collect::<Option<_>>().unwrap_or_default()
}

/// A cue in words, of very many beats how many.
fn told(cue: &Cue) -> String {
    if cue.at.len() <= TOLD {
        return cue.to_string();
    }
    let first = Cue { at: cue.at[..TOLD].to_vec(), ..cue.clone() };
    format!("{first}, and at {} more", cue.at.len() - TOLD)
}

/// The cue of one control.
pub(super) fn of_control(ui: &mut Ui, scene: &mut Scene<'_>, control: &Control, at: usize) {
    let Some(cue) = &control.cue else {
        whole(ui, RichText::new("no cue").small());
        return;
    };
    ui.small(told(cue));
    let called = format!("{}: no cue", name(&control.name));
    if sign_button(ui, "no cue", &called, "It is played when you like").clicked() {
        scene.act(Action::Edit(Edit::Time(TimeEdit::Cues(vec![(at, None)]))));
    }
}
