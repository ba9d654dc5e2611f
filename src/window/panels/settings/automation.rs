//! How a setting moves with the beat: chosen, drawn and changed under the setting itself.

use egui::{Color32, Pos2, Rect, Sense, Stroke, Ui, pos2, vec2};

use crate::base::colour::Colour;
use crate::base::shown::{shown, shown_name};
use crate::catalogue::{Kind, Setting, Value};
use crate::edit::{Edit, Spot, TimeEdit};
use crate::show::Target;
use crate::show::automation::{
    Automation, Envelope, FIRED_BEATS, Fired, MOST_LISTED, PART_BEATS, PERIOD_BEATS, PHASE, Pace, Wave,
};
use crate::show::chain::EffectUse;
use crate::window::action::Action;
use crate::window::scene::Scene;
use crate::window::theme::palette;
use crate::window::widgets::fields::{NumberField, is_escape};
use crate::window::widgets::held::held_by;
use crate::window::widgets::sign_button;
use crate::window::widgets::text::TextField;
use crate::window::widgets::values::{far_end, value_control};

/// Beats that the curve is drawn over.
const DRAWN_BEATS: f64 = 8.0;
/// Height of the curve, in points.
const HEIGHT: f32 = 40.0;

/// The shapes, as they are chosen.
const SHAPES: [&str; 8] = ["none", "sine", "triangle", "ramp", "square", "steps", "random hold", "envelope"];

/// Draws what moves a setting, with what changes it.
pub fn editor(ui: &mut Ui, scene: &mut Scene<'_>, spot: Spot, place: usize, used: &EffectUse) {
    let setting = &used.effect.settings[place];
    let target = Target::Setting { scope: spot.scope, at: spot.at, place };
    if matches!(setting.kind, Kind::Choice(_)) {
        ui.horizontal_wrapped(|ui| held_by(ui, scene, target, &setting.label));
        return;
    }
    let now = used.automation(place).cloned();
    let shape = now.as_ref().map_or(0, shape_of);
    let mut chosen = shape;
    ui.horizontal_wrapped(|ui| {
        ui.small("motion");
        let choice = egui::ComboBox::from_id_salt("motion").selected_text(SHAPES[shape]).width(110.0);
        let shown = choice.show_ui(ui, |ui| {
            for (at, text) in SHAPES.iter().enumerate() {
                ui.selectable_value(&mut chosen, at, *text);
            }
        });
        let name = format!("{}: motion with the beat", setting.label);
        let _ = shown.response.accessible_name(name);
        held_by(ui, scene, target, &setting.label);
    });
    let automate = |automation: Option<Automation>| {
        let automation = automation.map(Box::new);
        Action::Edit(Edit::Time(TimeEdit::Automate { spot, setting: place, automation }))
    };
    if chosen != shape {
        let value = used.values().nth(place).cloned().unwrap_or_else(|| setting.default.clone());
        scene.act(automate(begun(chosen, setting, &value, now.as_ref())));
        scene.act(Action::EndRun);
        return;
    }
    let Some(now) = now else { return };
    curve(ui, scene, setting, &now);
    let mut changed = now.clone();
    let is_over = parts(ui, scene, setting, &mut changed);
    if changed != now && changed.check(&setting.kind).is_ok() {
        scene.act(automate(Some(changed)));
    }
    if is_over {
        scene.act(Action::EndRun);
    }
}

fn shape_of(automation: &Automation) -> usize {
    match automation {
        Automation::Wave { wave: Wave::Sine, .. } => 1,
        Automation::Wave { wave: Wave::Triangle, .. } => 2,
        Automation::Wave { wave: Wave::Ramp, .. } => 3,
        Automation::Wave { wave: Wave::Square, .. } => 4,
        Automation::Steps { .. } => 5,
        Automation::Random { .. } => 6,
        Automation::Envelope { .. } => 7,
    }
}

/// An automation of this shape: with the ends and the pace of the one before, otherwise from the value
/// that stands to the far end of its range.
fn begun(shape: usize, setting: &Setting, value: &Value, before: Option<&Automation>) -> Option<Automation> {
    let (mut low, mut high) = (value.clone(), far_end(&setting.kind, value));
    let mut pace = Pace { period_beats: 4.0, phase: 0.0 };
    match before {
        Some(
            Automation::Wave { pace: p, low: l, high: h, .. }
            | Automation::Random { pace: p, low: l, high: h, .. },
        ) => {
            (pace, low, high) = (*p, l.clone(), h.clone());
        }
        Some(Automation::Steps { pace: p, values }) => {
            pace = *p;
            if let [first, .., last] = &values[..] {
                (low, high) = (first.clone(), last.clone());
            }
        }
        Some(Automation::Envelope { low: l, high: h, .. }) => (low, high) = (l.clone(), h.clone()),
        None => {}
    }
    Some(match shape {
        0 => return None,
        1 => Automation::Wave { wave: Wave::Sine, pace, low, high },
        2 => Automation::Wave { wave: Wave::Triangle, pace, low, high },
        3 => Automation::Wave { wave: Wave::Ramp, pace, low, high },
        4 => Automation::Wave { wave: Wave::Square, pace, low, high },
        5 => Automation::Steps { pace, values: vec![low, high] },
        6 => Automation::Random { pace, seed: 1, low, high },
        _ => Automation::Envelope {
            envelope: Envelope {
                attack_beats: 0.0,
                hold_beats: 0.25,
                decay_beats: 1.0,
                fired: Fired::Every { beats: 4.0, offset: 0.0 },
            },
            low,
            high,
        },
    })
}

/// The curve over the beats around the current one, which is marked.
fn curve(ui: &mut Ui, scene: &Scene<'_>, setting: &Setting, automation: &Automation) {
    let palette = palette(ui.ctx());
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), HEIGHT), Sense::hover());
    let painter = ui.painter().with_clip_rect(rect);
    painter.rect_filled(rect, 3.0, palette.ground);
    let first = (scene.view.beats / DRAWN_BEATS).floor() * DRAWN_BEATS;
    let beats_at = |x: f32| first + f64::from((x - rect.left()) / rect.width()) * DRAWN_BEATS;
    let x_at = |beats: f64| rect.left() + ((beats - first) / DRAWN_BEATS) as f32 * rect.width();
    for beat in 1..DRAWN_BEATS as u32 {
        let x = x_at(first + f64::from(beat));
        painter.vline(x, rect.y_range(), Stroke::new(0.5, palette.line));
    }
    let columns = rect.width() as usize;
    let mut line: Vec<Pos2> = Vec::with_capacity(columns);
    for column in 0..columns {
        let x = rect.left() + column as f32;
        let value = automation.at(&setting.kind, beats_at(x));
        match (&setting.kind, &value) {
            (_, Value::Colour(Colour([r, g, b]))) => {
                let bar = Rect::from_min_size(pos2(x, rect.top()), vec2(1.5, rect.height()));
                painter.rect_filled(bar, 0.0, Color32::from_rgb(*r, *g, *b));
            }
            (kind, value) => {
                if let Some(share) = share_of(kind, value) {
                    line.push(pos2(x, rect.bottom() - 3.0 - share * (rect.height() - 6.0)));
                }
            }
        }
    }
    painter.line(line, Stroke::new(1.5, palette.plain));
    let now = x_at(scene.view.beats);
    painter.vline(now, rect.y_range(), Stroke::new(1.5, palette.accent));
    let value = automation.at(&setting.kind, scene.view.beats);
    let text = format!(
        "{}, beats {first} to {}; now {}",
        shown(&automation.in_words(|value| setting.kind.said(value))),
        first + DRAWN_BEATS,
        setting.kind.said(&value)
    );
    response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Label, true, &text));
    response.on_hover_text(text);
}

/// Where a number lies in its setting's range, 0 to 1.
fn share_of(kind: &Kind, value: &Value) -> Option<f32> {
    let [low, high] = match kind {
        Kind::Number { range, .. } => *range,
        Kind::Whole { range, .. } => range.map(|end| end as f64),
        Kind::Colour | Kind::Choice(_) => return None,
    };
    Some(((value.as_number()? - low) / (high - low).max(f64::MIN_POSITIVE)) as f32)
}

/// What the shape is made of; gives whether a run of changes is over.
fn parts(ui: &mut Ui, scene: &Scene<'_>, setting: &Setting, automation: &mut Automation) -> bool {
    let mut is_over = false;
    match automation {
        Automation::Wave { pace, low, high, .. } => {
            is_over |= pace_of(ui, setting, pace);
            is_over |= ends(ui, setting, low, high);
        }
        Automation::Random { pace, seed, low, high } => {
            is_over |= pace_of(ui, setting, pace);
            is_over |= ends(ui, setting, low, high);
            ui.horizontal(|ui| {
                ui.small("sequence");
                let name = format!("{}: sequence", setting.label);
                let range = [0.0, f64::from(u32::MAX)];
                let field = NumberField { speed: 0.1, is_whole: true, ..NumberField::new(&name, "", range) };
                let mut number = f64::from(*seed);
                is_over |= field.show(ui, &mut number).is_over;
                *seed = number as u32;
            });
        }
        Automation::Steps { pace, values } => {
            is_over |= pace_of(ui, setting, pace);
            ui.horizontal_wrapped(|ui| {
                for (at, value) in values.iter_mut().enumerate() {
                    // No scope of its own, which would not be wrapped.
                    let name = format!("{}: step {}", setting.label, at + 1);
                    is_over |= value_control(ui, &setting.kind, &name, value);
                }
                let label = &setting.label;
                if values.len() < MOST_LISTED
                    && sign_button(ui, "+", &format!("{label}: one step more"), "One step more").clicked()
                    && let Some(last) = values.last().cloned()
                {
                    values.push(last);
                    is_over = true;
                }
                if values.len() > 2
                    && sign_button(ui, "\u{2212}", &format!("{label}: one step less"), "One step less")
                        .clicked()
                {
                    values.pop();
                    is_over = true;
                }
            });
        }
        Automation::Envelope { envelope, low, high } => {
            is_over |= ends(ui, setting, low, high);
            ui.horizontal_wrapped(|ui| {
                for (text, beats) in [
                    ("attack", &mut envelope.attack_beats),
                    ("hold", &mut envelope.hold_beats),
                    ("decay", &mut envelope.decay_beats),
                ] {
                    is_over |= beats_control(ui, setting, text, beats, PART_BEATS);
                }
            });
            is_over |= fired(ui, scene, setting, &mut envelope.fired);
        }
    }
    is_over
}

fn beats_control(ui: &mut Ui, setting: &Setting, text: &str, beats: &mut f64, [low, high]: [f64; 2]) -> bool {
    ui.small(text);
    let name = format!("{}: {text} in beats", setting.label);
    let field = NumberField { speed: 0.05, decimals: 3, ..NumberField::new(&name, "beats", [low, high]) };
    field.show(ui, beats).is_over
}

fn pace_of(ui: &mut Ui, setting: &Setting, pace: &mut Pace) -> bool {
    let mut is_over = false;
    ui.horizontal_wrapped(|ui| {
        is_over |= beats_control(ui, setting, "period", &mut pace.period_beats, PERIOD_BEATS);
        ui.small("phase");
        let name = format!("{}: phase in periods", setting.label);
        let field = NumberField { speed: 0.01, decimals: 3, ..NumberField::new(&name, "", PHASE) };
        is_over |= field.show(ui, &mut pace.phase).is_over;
    });
    is_over
}

fn ends(ui: &mut Ui, setting: &Setting, low: &mut Value, high: &mut Value) -> bool {
    let mut is_over = false;
    ui.horizontal_wrapped(|ui| {
        for (text, value) in [("from", low), ("to", high)] {
            ui.small(text);
            is_over |= value_control(ui, &setting.kind, &format!("{}: {text}", setting.label), value);
        }
    });
    is_over
}

/// What begins an envelope.
fn fired(ui: &mut Ui, scene: &Scene<'_>, setting: &Setting, fired: &mut Fired) -> bool {
    let mut is_over = false;
    let controls: Vec<String> = scene.show().controls.iter().map(|control| control.name.clone()).collect();
    ui.horizontal_wrapped(|ui| {
        ui.small("fired");
        let choice = egui::ComboBox::from_id_salt("fired")
            .selected_text(shown_name(&fired.to_string()))
            .width(110.0)
            .truncate();
        let shown = choice.show_ui(ui, |ui| {
            if ui.selectable_label(matches!(fired, Fired::Every { .. }), "by the beat").clicked() {
                *fired = Fired::Every { beats: 4.0, offset: 0.0 };
                is_over = true;
            }
            if ui.selectable_label(matches!(fired, Fired::At(_)), "at listed beats").clicked() {
                *fired = Fired::At(vec![0.0]);
                is_over = true;
            }
            for name in &controls {
                let by = Fired::By(name.clone());
                if ui.selectable_label(*fired == by, format!("by {}", shown_name(name))).clicked() {
                    *fired = by;
                    is_over = true;
                }
            }
        });
        let _ = shown.response.accessible_name(format!("{}: what fires the envelope", setting.label));
        if let Fired::Every { beats, offset } = fired {
            is_over |= beats_control(ui, setting, "every", beats, PERIOD_BEATS);
            is_over |= beats_control(ui, setting, "after", offset, PART_BEATS);
        }
        if let Fired::At(beats) = fired {
            is_over |= listed_beats(ui, setting, beats);
        }
    });
    is_over
}

/// The beats at which an envelope is fired, to be typed one after the other; a text that is no such list
/// changes nothing.
fn listed_beats(ui: &mut Ui, setting: &Setting, beats: &mut Vec<f64>) -> bool {
    let id = ui.make_persistent_id("listed beats");
    let written = || beats.iter().map(f64::to_string).collect::<Vec<_>>().join(" ");
    let mut text = ui.data(|data| data.get_temp::<String>(id)).unwrap_or_else(written);
    let called = format!("{}: beats, parted by spaces", setting.label);
    let field = TextField::new(&called, 120.0).show(ui, &mut text);
    let [first, last] = FIRED_BEATS;
    let found = text.split([' ', ',']).filter(|word| !word.is_empty()).map(str::parse::<f64>);
    let found: Option<Vec<f64>> = found.map(Result::ok).collect();
    let is_list = |found: &Vec<f64>| {
        (1..=MOST_LISTED).contains(&found.len()) && found.iter().all(|beat| (first..=last).contains(beat))
    };
    let found = found.filter(is_list);
    let is_right = found.is_some();
    match found {
        Some(found) if field.changed() => *beats = found,
        Some(_) => {}
        None => {
            ui.small(format!("1 to {MOST_LISTED} beats from {first} to {last}, such as 0 3.5 6"));
        }
    }
    // A text that is no such list stays, with what would be right beside it, until it is one or is given up.
    let is_given_up = field.lost_focus() && is_escape(ui);
    if is_given_up || (field.lost_focus() && is_right) {
        ui.data_mut(|data| data.remove_temp::<String>(id));
    } else if field.changed() {
        ui.data_mut(|data| data.insert_temp(id, text));
    }
    field.lost_focus()
}
