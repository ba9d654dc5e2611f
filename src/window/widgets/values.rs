//! One value of a kind, for what holds or moves it between two.

use std::time::Duration;

use egui::{PointerButton, Slider, Ui};

use super::colour::colour_button;
use super::fields::{NumberField, by_first_button, is_pressed_twice, numbers_of};
use crate::base::colour::Colour;
use crate::base::shown::shown_name;
use crate::catalogue::{Kind, Value};

/// A small control for one value of a kind; gives whether a run of changes is over.
pub fn value_control(ui: &mut Ui, kind: &Kind, name: &str, value: &mut Value) -> bool {
    if let (Kind::Choice(words), Value::Choice(chosen)) = (kind, &mut *value) {
        let text = shown_name(words.get(*chosen).map_or("", String::as_str));
        let choice = egui::ComboBox::from_id_salt(name).selected_text(text).width(120.0).truncate();
        let shown = choice.show_ui(ui, |ui| {
            let mut is_chosen = false;
            for (at, word) in words.iter().enumerate() {
                is_chosen |= ui.selectable_value(chosen, at, shown_name(word)).clicked();
            }
            is_chosen
        });
        let _ = shown.response.accessible_name(name);
        return shown.inner.unwrap_or(false);
    }
    if let (Some((unit, range, is_whole)), Some(mut number)) = (numbers_of(kind), value.as_number()) {
        let mut field = NumberField { is_whole, ..NumberField::new(name, unit, range) };
        if is_whole {
            field.speed = 0.1;
        }
        let is_over = field.show(ui, &mut number).is_over;
        match value {
            Value::Whole(whole) => *whole = number as i64,
            value => *value = Value::Number(number),
        }
        return is_over;
    }
    let Value::Colour(colour) = value else { return false };
    colour_button(ui, name, colour).1
}

/// A slider that two presses bring back to `default`; gives whether a run of changes is over.
pub fn slider(ui: &mut Ui, number: &mut f64, [low, high]: [f64; 2], is_whole: bool, default: f64) -> bool {
    let response = by_first_button(ui, number, |ui, number| {
        let slider = Slider::new(number, low..=high).show_value(false);
        ui.add(if is_whole { slider.step_by(1.0) } else { slider })
    });
    let pressed = response.id.with("pressed");
    if is_pressed_twice(ui, &response) {
        ui.data_mut(|data| data.remove_temp::<f64>(pressed));
        *number = default;
        return true;
    }
    let delay = ui.options(|options| options.input_options.max_double_click_delay);
    let (now, is_click) =
        ui.input(|input| (input.time, input.pointer.button_clicked(PointerButton::Primary)));
    if is_click && response.contains_pointer() {
        // It may be the first of two presses, which are one step.
        ui.data_mut(|data| data.insert_temp(pressed, now));
        ui.ctx().request_repaint_after(Duration::from_secs_f64(delay));
        return false;
    }
    let waits = ui.data(|data| data.get_temp::<f64>(pressed));
    if waits.is_some_and(|at| now - at > delay) {
        ui.data_mut(|data| data.remove_temp::<f64>(pressed));
        return true;
    }
    response.drag_stopped() || response.lost_focus()
}

/// A value as far from another as its setting takes.
pub fn far_end(kind: &Kind, value: &Value) -> Value {
    match (kind, value) {
        (Kind::Number { range: [low, high], .. }, Value::Number(number)) => {
            Value::Number(if number - low > high - number { *low } else { *high })
        }
        (Kind::Whole { range: [low, high], .. }, Value::Whole(number)) => {
            Value::Whole(if number - low > high - number { *low } else { *high })
        }
        (_, Value::Colour(Colour(rgb))) => Value::Colour(Colour(rgb.map(|byte| 255 - byte))),
        _ => value.clone(),
    }
}
