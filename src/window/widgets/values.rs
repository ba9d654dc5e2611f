//! One value of a setting's kind, for what holds or moves it between two.

use egui::Ui;

use super::fields::{NumberField, by_first_button, numbers_of};
use crate::base::colour::Colour;
use crate::catalogue::{Kind, Setting, Value};

/// A small control for one value of a setting's kind.
pub fn value_control(ui: &mut Ui, setting: &Setting, name: &str, value: &mut Value) -> bool {
    if let (Some((unit, range, is_whole)), Some(mut number)) = (numbers_of(&setting.kind), value.as_number())
    {
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
    let Value::Colour(Colour(rgb)) = value else { return false };
    let response = by_first_button(ui, rgb, |ui, rgb| ui.color_edit_button_srgb(rgb));
    done(&response.accessible_name(name))
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

/// Whether a change of it is over.
pub fn done(response: &egui::Response) -> bool {
    response.drag_stopped() || response.lost_focus()
}
