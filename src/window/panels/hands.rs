//! The hands: the show's controls, played here, by their keys, or by a MIDI device.

use std::sync::Arc;
use std::time::Duration;

use egui::{Button, Frame as Margins, ScrollArea, Slider, TextEdit, Ui};

use super::automation::value_control;
use crate::catalogue::{Kind, Setting, Value};
use crate::edit::{Edit, Spot, TimeEdit};
use crate::hands::{Hands, Listener};
use crate::midi;
use crate::midi::Port;
use crate::show::Show;
use crate::show::chain::EffectUse;
use crate::show::control::{Control, ControlKind, Curve, Grip, Hand, Key, MOST_CONTROLS};
use crate::window::action::{Action, Tab};
use crate::window::scene::Scene;
use crate::window::theme::palette;
use crate::window::widgets::fields::by_first_button;
use crate::window::widgets::{announce, labels, name, sign_button, tell_hidden};

/// How often a device's port is looked at.
const LISTEN_EVERY: Duration = Duration::from_millis(10);

/// What hands do in the window.
#[derive(Debug, Clone, PartialEq)]
pub enum HandAct {
    /// Presses the control at this place.
    Press(usize),
    /// Lets it up.
    Release(usize),
    /// Moves it to 0..1.
    Turn(usize, f64),
    /// Lets every control go.
    LetGo,
    /// Opens the MIDI port of this name.
    Open(String),
    /// Binds the control at this place to what is touched next on the device.
    Learn(usize),
    /// Gives up learning.
    StopLearning,
}

/// Where the controls stand, and the device that plays them; no part of the work.
#[derive(Default)]
pub struct Playing {
    hands: Hands,
    listener: Listener,
    port: Option<(String, Box<dyn Port>)>,
    learning: Option<usize>,
    /// The show with the hands on it, kept for as long as both are the same.
    applied: Option<(Arc<Show>, Hands, Arc<Show>)>,
}

/// What the panel is told of it.
#[derive(Debug, Clone, Default)]
pub struct HandsSeen {
    /// Where each control stands, 0..1; none where it leaves its settings alone.
    pub positions: Vec<Option<f64>>,
    /// Where a device's control waits to be brought, so that nothing jumps.
    pub awaited: Vec<Option<f64>>,
    /// The port that is open.
    pub port: Option<String>,
    /// The control that is being bound.
    pub learning: Option<usize>,
}

impl Playing {
    /// The show as the hands have it.
    pub fn applied(&mut self, show: &Arc<Show>) -> Arc<Show> {
        if self.hands == Hands::default() {
            return Arc::clone(show);
        }
        if let Some((of, hands, applied)) = &self.applied
            && Arc::ptr_eq(of, show)
            && *hands == self.hands
        {
            return Arc::clone(applied);
        }
        let applied = Arc::new(self.hands.applied(show));
        self.applied = Some((Arc::clone(show), self.hands.clone(), Arc::clone(&applied)));
        applied
    }

    /// What the panel shows.
    pub fn seen(&self, show: &Show) -> HandsSeen {
        HandsSeen {
            positions: show.controls.iter().map(|control| self.hands.position(&control.name)).collect(),
            awaited: show.controls.iter().map(|control| self.hands.awaited(show, control)).collect(),
            port: self.port.as_ref().map(|(name, _)| name.clone()),
            learning: self.learning,
        }
    }

    /// Does what was asked for at a beat; gives why it could not be done.
    pub fn act(&mut self, act: &HandAct, show: &Show, beats: f64) -> Option<String> {
        let control = |at: &usize| show.controls.get(*at);
        match act {
            HandAct::Press(at) => self.hands.press(control(at)?, 1.0, beats),
            HandAct::Release(at) => self.hands.release(control(at)?),
            HandAct::Turn(at, position) => self.hands.turn(control(at)?, *position, beats),
            HandAct::LetGo => self.hands.let_go(),
            HandAct::Learn(at) => {
                self.learning = Some(*at);
                self.listener.learn();
            }
            HandAct::StopLearning => {
                self.learning = None;
                self.listener.stop_learning();
            }
            HandAct::Open(name) => match opened(name) {
                Ok(port) => self.port = Some((name.clone(), port)),
                Err(error) => return Some(error),
            },
        }
        None
    }

    /// Uses this port: for tests, which have no device.
    pub fn use_port(&mut self, name: &str, port: Box<dyn Port>) {
        self.port = Some((name.to_owned(), port));
    }

    /// Takes in what the device says; gives the controls with a new binding, once one was learned.
    pub fn listen(&mut self, show: &Show, beats: f64, ctx: &egui::Context) -> Option<Vec<Control>> {
        let (_, port) = self.port.as_mut()?;
        ctx.request_repaint_after(LISTEN_EVERY);
        let learned = self.listener.listen(port.as_mut(), show, &mut self.hands, beats)?;
        let at = self.learning.take()?;
        let mut controls = show.controls.clone();
        controls.get_mut(at)?.midi = Some(learned);
        Some(controls)
    }
}

#[cfg(feature = "midi")]
fn opened(name: &str) -> Result<Box<dyn Port>, String> {
    midi::open(name).map(|port| Box::new(port) as Box<dyn Port>).map_err(|error| error.to_string())
}

#[cfg(not(feature = "midi"))]
fn opened(_: &str) -> Result<Box<dyn Port>, String> {
    midi::available()?;
    Err("there is no MIDI port".to_owned())
}

#[cfg(feature = "midi")]
fn port_names() -> Result<Vec<String>, String> {
    midi::names().map_err(|error| error.to_string())
}

#[cfg(not(feature = "midi"))]
fn port_names() -> Result<Vec<String>, String> {
    midi::available()?;
    Ok(Vec::new())
}

/// While the hands are in view, the keys of controls play them and nothing else.
pub fn keys(ctx: &egui::Context, scene: &mut Scene<'_>) {
    if scene.view.tab != Tab::Hands || scene.view.dialog.is_some() || ctx.text_edit_focused() {
        return;
    }
    let keys: Vec<(usize, egui::Key)> = scene
        .show()
        .controls
        .iter()
        .enumerate()
        .filter_map(|(at, control)| Some((at, egui::Key::from_name(&control.key?.to_string())?)))
        .collect();
    let mut acts = Vec::new();
    ctx.input_mut(|input| {
        let is_plain = !input.modifiers.any();
        input.events.retain(|event| match event {
            egui::Event::Key { key, pressed, repeat, .. } => {
                let Some((at, _)) = keys.iter().find(|(_, known)| is_plain && known == key) else {
                    return true;
                };
                if !repeat {
                    acts.push(if *pressed { HandAct::Press(*at) } else { HandAct::Release(*at) });
                }
                false
            }
            _ => true,
        });
    });
    acts.into_iter().for_each(|act| scene.act(Action::Hand(act)));
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
        if ui.add_enabled(is_touched, Button::new("Let all go")).clicked() {
            scene.act(Action::Hand(HandAct::LetGo));
        }
        device(ui, scene);
    });
    if let Err(how) = midi::available() {
        ui.small(how);
    }
    if show.controls.is_empty() {
        ui.add_space(8.0);
        ui.label("No control yet. Add one, then choose an effect: under each of its settings, \"held by\" gives a control hold of it.");
    }
    ScrollArea::vertical().id_salt("hands").auto_shrink([false; 2]).show(ui, |ui| {
        for at in 0..show.controls.len() {
            ui.push_id(at, |ui| {
                Margins::new().fill(palette(ui.ctx()).panel).corner_radius(4.0).inner_margin(8.0).show(
                    ui,
                    |ui| {
                        ui.take_available_width();
                        control(ui, scene, &show, at);
                    },
                );
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
    Control { name, hand, kind: ControlKind::Continuous, key: None, midi: None, cue: None }
}

fn controls_edit(controls: Vec<Control>) -> Action {
    Action::Edit(Edit::Time(TimeEdit::Controls(controls)))
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
        if control.kind != ControlKind::Continuous
            && let Some(key) = key_choice(ui, control)
        {
            scene.act(changed(&|control| control.key = key));
        }
        binding(ui, scene, control, at);
        if sign_button(ui, "remove", &format!("Remove {called}"), "What it holds is let go").clicked() {
            let mut controls = show.controls.clone();
            controls.remove(at);
            scene.act(controls_edit(controls));
        }
    });
    play(ui, scene, control, at);
    holds(ui, scene, show, &control.name);
}

fn name_entry(ui: &mut Ui, control: &Control) -> Option<String> {
    let id = ui.scope_id().with("name");
    let has_focus = ui.memory(|memory| memory.has_focus(id));
    let held = ui.data(|data| data.get_temp::<String>(id)).filter(|_| has_focus);
    let mut text = held.unwrap_or_else(|| control.name.clone());
    let entry = ui.add(TextEdit::singleline(&mut text).id(id).desired_width(110.0));
    let entry = entry.accessible_name(format!("Name of {}", name(&control.name)));
    ui.data_mut(|data| data.insert_temp(id, text.clone()));
    tell_hidden(ui, &text);
    let text = text.trim().to_owned();
    (entry.lost_focus() && text != control.name && !text.is_empty()).then_some(text)
}

/// Which key plays it; gives the new one, or none, where that was changed.
fn key_choice(ui: &mut Ui, control: &Control) -> Option<Option<Key>> {
    let mut changed = None;
    let text = control.key.map_or_else(|| "no key".to_owned(), |key| format!("key {key}"));
    let choice = egui::ComboBox::from_id_salt("key").selected_text(text).width(64.0);
    let shown = choice.show_ui(ui, |ui| {
        if ui.selectable_label(control.key.is_none(), "no key").clicked() {
            changed = Some(None);
        }
        for letter in ('A'..='Z').chain('0'..='9') {
            let Ok(key) = letter.to_string().parse() else { continue };
            if ui.selectable_label(control.key == Some(key), letter.to_string()).clicked() {
                changed = Some(Some(key));
            }
        }
    });
    let _ = shown.response.accessible_name(format!("{}: key", name(&control.name)));
    changed
}

fn binding(ui: &mut Ui, scene: &mut Scene<'_>, control: &Control, at: usize) {
    match &control.midi {
        Some(binding) => ui.weak(format!("MIDI {binding}")),
        None => ui.weak("no MIDI"),
    };
    if scene.hands.port.is_none() {
        return;
    }
    if scene.hands.learning == Some(at) {
        if ui.button("Touch the device \u{2026}").on_hover_text("Press to give up").clicked() {
            scene.act(Action::Hand(HandAct::StopLearning));
        }
    } else if ui.button("Learn").on_hover_text("Bind it to what you touch next on the device").clicked() {
        scene.act(Action::Hand(HandAct::Learn(at)));
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
            ui.small(format!("{to:.2}"));
            if to != before {
                scene.act(Action::Hand(HandAct::Turn(at, to)));
            }
            if let Some(Some(awaited)) = scene.hands.awaited.get(at) {
                ui.small(format!("bring the device's control to {awaited:.2}"));
            }
        }
        ControlKind::Momentary => {
            let response = ui.button("Hold").on_hover_text("On for as long as it is pressed");
            announce(&response, &format!("Play {}", name(&control.name)), Some(position.is_some()));
            let is_down = response.is_pointer_button_down_on();
            if is_down && position.is_none() {
                scene.act(Action::Hand(HandAct::Press(at)));
            } else if !is_down && position.is_some() && control_is_free(ui, control) {
                scene.act(Action::Hand(HandAct::Release(at)));
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

/// What a control holds, with its range and curve.
fn holds(ui: &mut Ui, scene: &mut Scene<'_>, show: &Show, control: &str) {
    for scope in show.scopes() {
        let chain = show.chain(scope);
        let names = labels(chain);
        for (at, used) in chain.iter().enumerate() {
            for (place, setting) in used.effect.settings.iter().enumerate() {
                let Some(grip) = used.grip(place).filter(|grip| grip.control == control) else { continue };
                let spot = Spot { scope, at };
                ui.push_id((scope, at, place), |ui| {
                    ui.horizontal_wrapped(|ui| {
                        ui.small(format!(
                            "{} \u{b7} {} on {}",
                            names[at],
                            setting.label,
                            scene.address(scope)
                        ));
                        grip_controls(ui, scene, spot, place, setting, grip);
                    });
                });
            }
        }
    }
}

fn grip_controls(
    ui: &mut Ui,
    scene: &mut Scene<'_>,
    spot: Spot,
    place: usize,
    setting: &Setting,
    grip: &Grip,
) {
    let mut now = grip.clone();
    let mut is_over = false;
    for (text, value) in [("from", &mut now.low), ("to", &mut now.high)] {
        ui.push_id(text, |ui| {
            is_over |= value_control(
                ui,
                setting,
                &format!("{} {text}, {}", setting.label, name(&grip.control)),
                value,
            );
        });
    }
    let choice = egui::ComboBox::from_id_salt("curve").selected_text(now.curve.name()).width(84.0);
    let shown = choice.show_ui(ui, |ui| {
        for curve in Curve::ALL {
            is_over |= ui.selectable_value(&mut now.curve, curve, curve.name()).clicked();
        }
    });
    let _ = shown.response.accessible_name(format!("{}: curve, {}", setting.label, name(&grip.control)));
    let hold = |grip: Option<Grip>| {
        Action::Edit(Edit::Time(TimeEdit::Hold { spot, setting: place, grip: grip.map(Box::new) }))
    };
    let said = format!("{}: let go of it", setting.label);
    if sign_button(ui, "\u{d7}", &said, "Let go of this setting").clicked() {
        scene.act(hold(None));
    } else if now != *grip {
        scene.act(hold(Some(now)));
    }
    if is_over {
        scene.act(Action::EndRun);
    }
}

/// Under a setting: which control holds it.
pub fn held_by(ui: &mut Ui, scene: &mut Scene<'_>, spot: Spot, place: usize, used: &EffectUse) {
    let setting = &used.effect.settings[place];
    let controls: Vec<String> = scene.show().controls.iter().map(|control| control.name.clone()).collect();
    if controls.is_empty() || matches!(setting.kind, Kind::Choice(_)) {
        return;
    }
    let now = used.grip(place).map(|grip| grip.control.clone());
    ui.small("held by");
    let text = now.as_deref().map_or_else(|| "no control".to_owned(), name);
    let choice = egui::ComboBox::from_id_salt("held by").selected_text(text).width(100.0).truncate();
    let shown = choice.show_ui(ui, |ui| {
        let hold = |grip: Option<Grip>| {
            Action::Edit(Edit::Time(TimeEdit::Hold { spot, setting: place, grip: grip.map(Box::new) }))
        };
        if ui.selectable_label(now.is_none(), "no control").clicked() {
            scene.act(hold(None));
        }
        for control in controls {
            if ui.selectable_label(now.as_ref() == Some(&control), name(&control)).clicked() {
                let value = used.values().nth(place).cloned().unwrap_or_else(|| setting.default.clone());
                let [low, high] = ends(&setting.kind, &value);
                scene.act(hold(Some(Grip { control, low, high, curve: Curve::Linear })));
            }
        }
    });
    let _ = shown.response.accessible_name(format!("{}: held by", setting.label));
}

/// The whole range of a setting; from its value to its complement for a colour.
fn ends(kind: &Kind, value: &Value) -> [Value; 2] {
    match kind {
        Kind::Number { range: [low, high], .. } => [Value::Number(*low), Value::Number(*high)],
        Kind::Whole { range: [low, high], .. } => [Value::Whole(*low), Value::Whole(*high)],
        Kind::Colour | Kind::Choice(_) => [value.clone(), super::automation::far_end(kind, value)],
    }
}
