//! The hands: the show's controls, played here, by their keys, or by a MIDI device.

mod cues;
mod moves;
mod places;

use std::sync::Arc;

use egui::{Button, Frame as Margins, RichText, ScrollArea, Slider, Ui, vec2};

use crate::edit::{Edit, TimeEdit};
use crate::midi;
use crate::show::Show;
use crate::show::control::{
    Control, ControlKind, Hand, MOST_CONTROLS, MOST_PLACES, REACH_MS, USUAL_REACH_MS,
};
use crate::window::action::Action;
use crate::window::playing::HandAct;
use crate::window::scene::Scene;
use crate::window::theme::palette;
use crate::window::widgets::fields::{NumberField, by_first_button};
use crate::window::widgets::parts::{colour_menu, stripe};
use crate::window::widgets::reach::part;
use crate::window::widgets::text::TextField;
use crate::window::widgets::{announce, name, sign_button, whole};

#[cfg(feature = "midi")]
fn port_names() -> Result<Vec<String>, String> {
    midi::names().map_err(|error| error.to_string())
}

#[cfg(not(feature = "midi"))]
fn port_names() -> Result<Vec<String>, String> {
    midi::available()?;
    Ok(Vec::new())
}

/// Draws the panel.
pub fn show(ui: &mut Ui, scene: &mut Scene<'_>) {
    let show = Arc::clone(scene.work.show());
    ui.small("Each control moves the settings that it holds. While this tab is in view, keys play the controls; what they do is seen, not saved.");
    ui.horizontal_wrapped(|ui| {
        let is_full = show.controls.len() >= MOST_CONTROLS;
        let hint = format!("At most {MOST_CONTROLS}: as many as two hands find in the dark");
        if ui.add_enabled(!is_full, Button::new("Add a control")).on_hover_text(hint).clicked() {
            let mut controls = show.controls.clone();
            controls.push(fresh(&controls));
            scene.act(controls_edit(controls));
        }
        let is_touched = scene.hands.positions.iter().any(Option::is_some);
        if ui.add_enabled(is_touched, Button::new("Release all")).clicked() {
            scene.act(Action::Hand(HandAct::LetGo));
        }
        device(ui, scene);
        reach(ui, scene, &show);
    });
    cues::record(ui, scene, &show);
    if let Err(how) = midi::available() {
        ui.small(how);
    }
    if show.controls.is_empty() {
        ui.add_space(8.0);
        ui.label("No control yet. Add one, then choose an effect: under each of its settings, \"control\" says which control plays it.");
    }
    ScrollArea::vertical().id_salt("hands").auto_shrink([false; 2]).show(ui, |ui| {
        places::show(ui, scene, &show);
        for at in 0..show.controls.len() {
            ui.push_id(at, |ui| {
                let palette = palette(ui.ctx());
                // The control that is held lights up, and says so in words below.
                let is_held = scene.hands.positions.get(at).is_some_and(Option::is_some);
                let (fill, rim) =
                    if is_held { (palette.lifted, palette.accent) } else { (palette.panel, palette.panel) };
                let frame = Margins::new().fill(fill).stroke(egui::Stroke::new(2.0, rim));
                let drawn = frame.corner_radius(4.0).inner_margin(8.0).show(ui, |ui| {
                    ui.take_available_width();
                    let called = format!("Control {}", name(&show.controls[at].name));
                    part(ui, scene, &called, |ui, scene| control(ui, scene, &show, at));
                });
                stripe(ui.painter(), drawn.response.rect.shrink2(vec2(2.0, 4.0)), show.controls[at].colour);
            });
            ui.add_space(6.0);
        }
    });
}

/// A control that is not there yet.
fn fresh(controls: &[Control]) -> Control {
    let name = (1..)
        .map(|number| format!("control {number}"))
        .find(|name| controls.iter().all(|control| control.name != *name))
        .unwrap_or_default();
    let left = controls.iter().filter(|control| control.hand == Hand::Left).count();
    let hand = if left * 2 > controls.len() { Hand::Right } else { Hand::Left };
    Control::of(&name, hand, ControlKind::Continuous)
}

fn controls_edit(controls: Vec<Control>) -> Action {
    Action::Edit(Edit::Time(TimeEdit::Controls(controls)))
}

/// How long a hand takes from one control to another: cues that leave it less are told by the map and the check.
fn reach(ui: &mut Ui, scene: &mut Scene<'_>, show: &Show) {
    if show.controls.is_empty() {
        return;
    }
    whole(ui, RichText::new("a hand takes").small());
    let mut ms = show.reach_ms;
    let field = NumberField { decimals: 1, speed: 5.0, ..NumberField::new("A hand takes", "ms", REACH_MS) };
    let is_over = NumberField { default: Some(USUAL_REACH_MS), ..field }.show(ui, &mut ms).is_over;
    if ms != show.reach_ms {
        scene.act(Action::Edit(Edit::Time(TimeEdit::Reach(ms))));
    }
    if is_over {
        scene.act(Action::EndRun);
    }
}

/// Which device plays.
fn device(ui: &mut Ui, scene: &mut Scene<'_>) {
    if midi::available().is_err() {
        return;
    }
    let text = scene.hands.port.as_deref().map_or_else(|| "no MIDI device".to_owned(), name);
    let choice = egui::ComboBox::from_id_salt("device").selected_text(text).truncate();
    let shown = choice.show_ui(ui, |ui| match port_names() {
        Ok(names) if names.is_empty() => {
            ui.weak("no device is connected");
        }
        Ok(names) => {
            for port in names {
                if ui.selectable_label(scene.hands.port.as_ref() == Some(&port), name(&port)).clicked() {
                    scene.act(Action::Hand(HandAct::Open(port)));
                }
            }
        }
        Err(error) => {
            ui.weak(error);
        }
    });
    let _ = shown.response.accessible_name("MIDI device");
}

fn control(ui: &mut Ui, scene: &mut Scene<'_>, show: &Show, at: usize) {
    let control = &show.controls[at];
    let changed = |change: &dyn Fn(&mut Control)| {
        let mut controls = show.controls.clone();
        change(&mut controls[at]);
        controls_edit(controls)
    };
    let called = name(&control.name);
    ui.horizontal_wrapped(|ui| {
        if let Some(name) = name_entry(ui, control) {
            scene.act(changed(&|control| control.name.clone_from(&name)));
        }
        for hand in Hand::ALL {
            let chosen = control.hand == hand;
            let response = ui.selectable_label(chosen, hand.name());
            announce(&response, &format!("{called}: {} hand", hand.name()), Some(chosen));
            if response.clicked() {
                scene.act(changed(&|control| control.hand = hand));
            }
        }
        let choice = egui::ComboBox::from_id_salt("kind").selected_text(control.kind.name()).width(96.0);
        let shown = choice.show_ui(ui, |ui| {
            for kind in ControlKind::ALL {
                if ui.selectable_label(control.kind == kind, kind.name()).clicked() {
                    scene.act(changed(&|control| {
                        control.kind = kind;
                        if kind == ControlKind::Continuous {
                            control.key = None;
                        }
                    }));
                }
            }
        });
        let _ = shown.response.accessible_name(format!("{called}: how it answers"));
        if control.kind != ControlKind::Continuous {
            key_of(ui, scene, show, at);
        }
        binding(ui, scene, control, at);
        let colour = ui.menu_button("colour", |ui| {
            if let Some(colour) = colour_menu(ui, control.colour) {
                scene.act(changed(&|control| control.colour = colour));
            }
        });
        announce(&colour.response, &format!("Colour of {called}"), None);
        if sign_button(ui, "remove", &format!("Remove {called}"), "Its settings are released").clicked() {
            let mut controls = show.controls.clone();
            controls.remove(at);
            scene.act(controls_edit(controls));
        }
    });
    play(ui, scene, control, at);
    ui.horizontal_wrapped(|ui| {
        cues::of_control(ui, scene, control, at);
        place(ui, scene, show, at);
    });
    moves::holds(ui, scene, show, control);
}

/// Where it lies on the device.
fn place(ui: &mut Ui, scene: &mut Scene<'_>, show: &Show, at: usize) {
    let control = &show.controls[at];
    let called = name(&control.name);
    let set = |place: Option<[u32; 2]>| {
        let mut controls = show.controls.clone();
        controls[at].at = place;
        controls_edit(controls)
    };
    let Some(mut lies) = control.at else {
        let hint = "Where it lies on the device: what lies next to each other one hand plays at once";
        if sign_button(ui, "place", &format!("{called}: give it a place"), hint).clicked() {
            let taken = |place: &[u32; 2]| show.controls.iter().any(|other| other.at == Some(*place));
            let free = (1..=MOST_PLACES).map(|column| [column, 1]).find(|place| !taken(place));
            scene.act(set(free));
        }
        return;
    };
    let mut is_over = false;
    for (word, number) in ["column", "row"].into_iter().zip(&mut lies) {
        whole(ui, RichText::new(word).small());
        let label = format!("{called}: {word}");
        let field = NumberField {
            is_whole: true,
            speed: 0.1,
            ..NumberField::new(&label, "", [1.0, f64::from(MOST_PLACES)])
        };
        let mut to = f64::from(*number);
        is_over |= field.show(ui, &mut to).is_over;
        *number = to as u32;
    }
    if Some(lies) != control.at {
        scene.act(set(Some(lies)));
    }
    if is_over {
        scene.act(Action::EndRun);
    }
    if sign_button(ui, "\u{d7}", &format!("{called}: no place"), "Nobody knows where it lies").clicked() {
        scene.act(set(None));
    }
}

fn name_entry(ui: &mut Ui, control: &Control) -> Option<String> {
    let id = ui.scope_id().with("name");
    let has_focus = ui.memory(|memory| memory.has_focus(id));
    let held = ui.data(|data| data.get_temp::<String>(id)).filter(|_| has_focus);
    let mut text = held.unwrap_or_else(|| control.name.clone());
    let called = format!("Name of {}", name(&control.name));
    let entry = TextField::new(&called, 110.0).id(id).show(ui, &mut text);
    ui.data_mut(|data| data.insert_temp(id, text.clone()));
    let text = text.trim().to_owned();
    (entry.lost_focus() && text != control.name && !text.is_empty()).then_some(text)
}

/// Which key plays it, learned by pressing it.
fn key_of(ui: &mut Ui, scene: &mut Scene<'_>, show: &Show, at: usize) {
    let control = &show.controls[at];
    let called = name(&control.name);
    let said = control.key.map_or_else(|| "no key".to_owned(), |key| format!("key {key}"));
    whole(ui, RichText::new(said).weak());
    if scene.hands.learning_key == Some(at) {
        let response =
            ui.button("Press a key \u{2026}").on_hover_text("A to Z or 0 to 9; press here to give up");
        announce(&response, &format!("{called}: waits for a key"), Some(true));
        if response.clicked() {
            scene.act(Action::Hand(HandAct::StopLearning));
        }
        return;
    }
    let response = ui.button("Learn a key").on_hover_text("Bind it to the key that you press next");
    announce(&response, &format!("{called}: learn a key"), None);
    if response.clicked() {
        scene.act(Action::Hand(HandAct::LearnKey(at)));
    }
    if control.key.is_some()
        && sign_button(ui, "no key", &format!("{called}: no key"), "It is played without a key").clicked()
    {
        let mut controls = show.controls.clone();
        controls[at].key = None;
        scene.act(controls_edit(controls));
    }
}

fn binding(ui: &mut Ui, scene: &mut Scene<'_>, control: &Control, at: usize) {
    match &control.midi {
        Some(binding) => whole(ui, RichText::new(format!("MIDI {binding}")).weak()),
        None => whole(ui, RichText::new("no MIDI").weak()),
    }
    if scene.hands.port.is_none() {
        return;
    }
    if scene.hands.learning == Some(at) {
        if ui.button("Touch the device \u{2026}").on_hover_text("Press to give up").clicked() {
            scene.act(Action::Hand(HandAct::StopLearning));
        }
    } else {
        let response = ui.button("Learn MIDI").on_hover_text("Bind it to what you touch next on the device");
        announce(&response, &format!("{}: learn MIDI", name(&control.name)), None);
        if response.clicked() {
            scene.act(Action::Hand(HandAct::Learn(at)));
        }
    }
}

/// The control itself, to be played with the pointer.
fn play(ui: &mut Ui, scene: &mut Scene<'_>, control: &Control, at: usize) {
    let position = scene.hands.positions.get(at).copied().flatten();
    ui.horizontal(|ui| match control.kind {
        ControlKind::Continuous => {
            let mut to = position.unwrap_or(0.0);
            let before = to;
            by_first_button(ui, &mut to, |ui, to| {
                let response = ui.add(Slider::new(to, 0.0..=1.0).show_value(false));
                response.accessible_name(format!("Play {}", name(&control.name)))
            });
            ui.small(match position {
                Some(_) => format!("at {:.0} %", to * 100.0),
                None => "not touched".to_owned(),
            });
            if to != before {
                scene.act(Action::Hand(HandAct::Turn(at, to)));
            }
            if let Some(Some(awaited)) = scene.hands.awaited.get(at) {
                ui.small(format!("bring the device's control to {:.0} %", awaited * 100.0));
            }
        }
        ControlKind::Momentary => {
            let response = ui.button("Press").on_hover_text("On for as long as it is pressed");
            announce(&response, &format!("Play {}", name(&control.name)), Some(position.is_some()));
            let is_down = response.is_pointer_button_down_on();
            if is_down && position.is_none() {
                scene.act(Action::Hand(HandAct::Press(at)));
            } else if !is_down && position.is_some() && control_is_free(ui, control) {
                scene.act(Action::Hand(HandAct::Release(at)));
            }
            if position.is_some() {
                ui.small("on");
            }
        }
        ControlKind::Latching => {
            let response =
                ui.selectable_label(position.is_some(), if position.is_some() { "on" } else { "off" });
            announce(&response, &format!("Play {}", name(&control.name)), Some(position.is_some()));
            if response.clicked() {
                scene.act(Action::Hand(HandAct::Press(at)));
            }
        }
    });
}

/// Whether neither its key nor a device may be holding a control down.
fn control_is_free(ui: &Ui, control: &Control) -> bool {
    let key = control.key.and_then(|key| egui::Key::from_name(&key.to_string()));
    let is_down = key.is_some_and(|key| ui.input(|input| input.key_down(key)));
    !is_down && control.midi.is_none()
}
