//! Fields for what is typed or drawn: read strictly, and refused in words beside them with what was typed.

use std::cell::RefCell;

use egui::{Color32, DragValue, Event, Id, Key, PointerButton, Response, RichText, Ui};

use crate::base::colour::Colour;
use crate::base::hidden::hidden;
use crate::base::shown::shown;
use crate::base::typed_colour::typed_colour;
use crate::catalogue::{Kind, number_said, number_said_in_full};
use crate::window::theme::palette;
use crate::window::widgets::text::{TextField, brought};

/// What became of a field in one pass.
#[derive(Debug, Clone, Copy, Default)]
pub struct Entered {
    /// Whether a run of changes is over.
    pub is_over: bool,
}

/// A text that was refused; it stays in its field.
#[derive(Clone)]
struct Refused {
    text: String,
    why: String,
    /// What the value was: once it is another one, the text is of no use.
    of: String,
}

/// A field for a number.
pub struct NumberField<'a> {
    /// What it sets, for those who listen.
    pub name: &'a str,
    /// The unit, which may be typed behind the number.
    pub unit: &'a str,
    /// The least and the greatest.
    pub range: [f64; 2],
    /// Whether it takes whole numbers only.
    pub is_whole: bool,
    /// How much a point of drawing changes it.
    pub speed: f64,
    /// Digits behind the point at most.
    pub decimals: usize,
    /// What stands before the number.
    pub prefix: &'a str,
    /// Whether it stands with all its digits, so that it is as wide however it runs on.
    pub is_fixed: bool,
    /// Whether it changes by itself: what was refused then stays beside it all the same.
    pub runs: bool,
    /// What two presses bring it back to.
    pub default: Option<f64>,
}

impl<'a> NumberField<'a> {
    /// A field for numbers from `low` to `high`.
    pub fn new(name: &'a str, unit: &'a str, [low, high]: [f64; 2]) -> Self {
        Self {
            name,
            unit,
            range: [low, high],
            is_whole: false,
            speed: (high - low) / 300.0,
            decimals: 4,
            prefix: "",
            is_fixed: false,
            runs: false,
            default: None,
        }
    }

    /// Draws it.
    pub fn show(&self, ui: &mut Ui, value: &mut f64) -> Entered {
        let id = ui.make_persistent_id(("number", self.name));
        let before = *value;
        let of = if self.runs { String::new() } else { before.to_string() };
        if let Some(refused) = refused_in(ui, id, &of) {
            return match correction(ui, id, self.name, refused, |text| self.read(text)) {
                Some(number) => {
                    *value = number;
                    Entered { is_over: true }
                }
                None => Entered::default(),
            };
        }
        if let Some(text) = hidden_on_its_way(ui) {
            // A number hides nothing: what does is shown with its signs, to be put right.
            ui.memory_mut(|memory| memory.request_focus(id.with("again")));
            let why = self.read(&text).err().unwrap_or_default();
            keep(ui, id, Refused { text, why, of });
            return Entered::default();
        }
        let shown: RefCell<String> = RefCell::default();
        let refused: RefCell<Option<Refused>> = RefCell::default();
        let [low, high] = self.range;
        let field = DragValue::new(value)
            .range(low..=high)
            .clamp_existing_to_range(false)
            .speed(self.speed)
            .prefix(self.prefix)
            .update_while_editing(false)
            .custom_formatter(|number, _| {
                let said = if self.is_fixed { number_said_in_full } else { number_said };
                let text = said(number, self.unit, if self.is_whole { 0 } else { self.decimals });
                shown.borrow_mut().clone_from(&text);
                text
            })
            .custom_parser(|text| {
                if text == *shown.borrow() {
                    // Nothing was typed: the number keeps its further digits.
                    return Some(before);
                }
                self.read(text)
                    .map_err(|why| {
                        *refused.borrow_mut() = Some(Refused { text: text.to_owned(), why, of: of.clone() });
                    })
                    .ok()
            });
        let response = ui.add(field).accessible_name(self.name);
        if self.is_whole {
            *value = value.round();
        }
        if is_other_press(ui) {
            *value = before;
        }
        if let Some(refused) = refused.into_inner() {
            *value = before;
            keep(ui, id, refused);
        }
        if let Some(default) = self.default.filter(|_| is_pressed_twice(ui, &response)) {
            // The first press began to type.
            ui.memory_mut(|memory| memory.surrender_focus(response.id));
            *value = default;
            return Entered { is_over: true };
        }
        Entered { is_over: response.drag_stopped() || response.lost_focus() }
    }

    /// The number that a text means.
    fn read(&self, text: &str) -> Result<f64, String> {
        read_number(text, self.unit, self.range, self.is_whole)
    }
}

/// The number that a text means: digits with a point or a fraction such as `1/3`, the unit behind it if need be. A share
/// is taken as it is written, `0.5`, or as per cent: with the sign, or where it is far too large for a share.
pub fn read_number(text: &str, unit: &str, [low, high]: [f64; 2], is_whole: bool) -> Result<f64, String> {
    let typed = text.trim();
    let kind = if is_whole { "a whole number" } else { "a number" };
    let of_share = unit.strip_prefix("share");
    let is_share = of_share.is_some();
    let range = match unit {
        "" => format!("{low} to {high}"),
        _ if is_share => [low, high].map(|end| number_said(end, unit, 6)).join(" to "),
        _ => format!("{low} to {high} ({unit})"),
    };
    let refused = |hint: &str| format!("`{typed}`: it takes {kind} from {range}{hint}");
    let plain = typed.replace('\u{2212}', "-");
    let plain = match plain.strip_suffix(unit) {
        Some(number) if !unit.is_empty() && !number.is_empty() => number.trim_end(),
        _ => plain.as_str(),
    };
    let plain = match (of_share, unit) {
        (Some(of), _) if !of.is_empty() => plain.strip_suffix(of).unwrap_or(plain),
        (None, "times") => plain.trim_start_matches(['x', '\u{d7}']).trim_start(),
        _ => plain,
    };
    let (digits, factor) = match plain.strip_suffix('%') {
        Some(digits) if is_share => (digits.trim_end(), 0.01),
        Some(_) => return Err(refused("; per cent go with shares")),
        None => (plain, 1.0),
    };
    let plain_number = |digits: &str| {
        let is_plain = digits.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | '-' | '+' | 'e' | 'E'));
        digits.parse::<f64>().ok().filter(|number| is_plain && number.is_finite())
    };
    let number = match digits.split_once('/') {
        None => plain_number(digits),
        Some((above, below)) => match (plain_number(above.trim_end()), plain_number(below.trim_start())) {
            (Some(_), Some(0.0)) => return Err(refused("; nothing is divided by 0")),
            (Some(above), Some(below)) => Some(above / below),
            _ => None,
        },
    };
    let Some(number) = number else {
        let hint = if digits.contains(',') { "; the point is `.`" } else { "" };
        return Err(refused(hint));
    };
    // A hundredth of a whole number is the number nearest to it that can be written.
    let number = if factor == 1.0 { number } else { number / 100.0 };
    let is_meant = |number: f64| (low..=high).contains(&number) && !(is_whole && number.fract() != 0.0);
    match number {
        number if is_meant(number) => Ok(number),
        number if is_share && factor == 1.0 && is_meant(number / 100.0) => match number.abs() {
            // So near to 1 it may be either.
            ..2.0 => Err(refused(&format!("; did you mean {number}%?"))),
            _ => Ok(number / 100.0),
        },
        _ => Err(refused("")),
    }
}

/// A field for a colour as it is typed: digits or a name; gives the new colour where another one was typed.
pub fn colour_field(ui: &mut Ui, name: &str, colour: Colour) -> Option<Colour> {
    let id = ui.make_persistent_id(("colour", name));
    let now = colour.to_string();
    let read = |text: &str| {
        let right = "it takes # and six digits, such as #ff8c33, or a name: of CSS, such as teal, or of Okabe and Ito, \
                     such as vermilion";
        typed_colour(text).ok_or_else(|| format!("`{}`: {right}", text.trim()))
    };
    if let Some(refused) = refused_in(ui, id, &now) {
        return correction(ui, id, name, refused, read).filter(|entered| *entered != colour);
    }
    let field = id.with("text");
    // Kept from pass to pass for as long as it has the keyboard, and in the one in which it loses it.
    let kept = ui.data(|data| data.get_temp::<String>(field));
    let mut text = kept.unwrap_or_else(|| now.clone());
    let response = TextField::new(name, 74.0).id(field).show(ui, &mut text);
    let has_focus = response.has_focus();
    ui.data_mut(|data| {
        data.remove::<String>(field);
        if has_focus {
            data.insert_temp(field, text.clone());
        }
    });
    if !response.lost_focus() || is_escape(ui) {
        return None;
    }
    match read(&text) {
        Ok(entered) => Some(entered).filter(|entered| *entered != colour),
        Err(why) => {
            keep(ui, id, Refused { text, why, of: now });
            None
        }
    }
}

/// Whether something was pressed twice in short order, with the first button.
pub fn is_pressed_twice(ui: &Ui, response: &Response) -> bool {
    response.contains_pointer()
        && ui.input(|input| input.pointer.button_double_clicked(PointerButton::Primary))
}

/// Whether Escape was pressed, which takes the keyboard away from a field before anything is drawn; other keys may have
/// been made of it since.
pub fn is_escape(ui: &Ui) -> bool {
    let is_it = |event: &Event| matches!(event, Event::Key { key: Key::Escape, pressed: true, .. });
    ui.input(|input| input.raw.events.iter().any(is_it))
}

/// Takes text that hides something away from the field that is drawn next, where that one has the keyboard.
fn hidden_on_its_way(ui: &Ui) -> Option<String> {
    let id = ui.next_auto_id();
    if !ui.memory(|memory| memory.has_focus(id)) {
        return None;
    }
    let hides = |event: &Event| brought(event).is_some_and(|text| hidden(text).next().is_some());
    let at = ui.input(|input| input.events.iter().position(hides))?;
    ui.input_mut(|input| brought(&input.events.remove(at)).map(str::to_owned))
}

/// The refused text of a field, for as long as its value is what it was.
fn refused_in(ui: &Ui, id: Id, now: &str) -> Option<Refused> {
    ui.data(|data| data.get_temp::<Refused>(id)).filter(|refused| refused.of == now)
}

/// Keeps a refused text; who ended it with Enter goes on typing.
fn keep(ui: &Ui, id: Id, refused: Refused) {
    ui.ctx().request_repaint();
    ui.data_mut(|data| data.insert_temp(id, refused));
    if ui.input(|input| input.key_pressed(Key::Enter)) {
        ui.memory_mut(|memory| memory.request_focus(id.with("again")));
    }
}

/// The room that a refused text and its reason take, in points.
const CORRECTION: f32 = 180.0;

/// A refused text, to be put right: why it was refused stands beside it.
fn correction<T>(
    ui: &mut Ui,
    id: Id,
    name: &str,
    mut refused: Refused,
    read: impl Fn(&str) -> Result<T, String>,
) -> Option<T> {
    // In a row that breaks into lines, a line with room for it.
    if ui.available_size_before_wrap().x < CORRECTION {
        ui.end_row();
    }
    let field = TextField::new(name, 74.0).id(id.with("again"));
    let response = field.show(ui, &mut refused.text);
    ui.small(
        RichText::new(shown(&format!("{}. Esc gives the old value back.", refused.why)))
            .color(palette(ui.ctx()).bright),
    );
    if response.lost_focus() {
        // What is drawn in this pass is over.
        ui.ctx().request_repaint();
        let is_given_up = refused.text.trim().is_empty() || is_escape(ui);
        if is_given_up {
            ui.data_mut(|data| data.remove::<Refused>(id));
            return None;
        }
        match read(&refused.text) {
            Ok(value) => {
                ui.data_mut(|data| data.remove::<Refused>(id));
                return Some(value);
            }
            Err(why) => keep(ui, id, Refused { why, ..refused }),
        }
    } else if response.changed() {
        ui.data_mut(|data| data.insert_temp(id, refused));
    }
    None
}

/// Whether another button of the pointer than the first is at work: it changes nothing.
pub fn is_other_press(ui: &Ui) -> bool {
    ui.input(|input| {
        let pointer = &input.pointer;
        let is_first =
            pointer.button_down(PointerButton::Primary) || pointer.button_released(PointerButton::Primary);
        let others =
            [PointerButton::Secondary, PointerButton::Middle, PointerButton::Extra1, PointerButton::Extra2];
        !is_first && others.into_iter().any(|one| pointer.button_down(one) || pointer.button_released(one))
    })
}

/// Adds what changes a value; another button than the first changes nothing.
pub fn by_first_button<T: Clone>(
    ui: &mut Ui,
    value: &mut T,
    add: impl FnOnce(&mut Ui, &mut T) -> Response,
) -> Response {
    let before = value.clone();
    let response = add(ui, value);
    if is_other_press(ui) {
        *value = before;
    }
    response
}

/// What a setting of this kind takes, for its field: unit, range, and whether it is whole.
pub fn numbers_of(kind: &Kind) -> Option<(&str, [f64; 2], bool)> {
    match kind {
        Kind::Number { range, unit } => Some((unit, *range, false)),
        Kind::Whole { range, unit } => Some((unit, range.map(|end| end as f64), true)),
        Kind::Colour | Kind::Choice(_) => None,
    }
}

/// A colour as egui has it.
pub fn painted(Colour([r, g, b]): Colour) -> Color32 {
    Color32::from_rgb(r, g, b)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_read_strictly_and_refused_in_words() {
        let share = |text| read_number(text, "share", [0.0, 1.0], false);
        for (text, number) in [
            ("0.5", 0.5),
            (" .25 ", 0.25),
            ("50%", 0.5),
            ("7 %", 0.07),
            ("0.5 share", 0.5),
            ("100%", 1.0),
            ("1e-1", 0.1),
            ("1/4", 0.25),
            (" 3 / 4 share", 0.75),
            ("1/2 %", 0.005),
            ("50", 0.5),
            ("1", 1.0),
            ("1 %", 0.01),
        ] {
            assert_eq!(share(text), Ok(number), "{text}");
        }
        assert_eq!(read_number("\u{2212}45 degrees", "degrees", [-360.0, 360.0], false), Ok(-45.0));
        assert_eq!(read_number("1 % of width", "share of width", [-0.25, 0.25], false), Ok(0.01));
        for text in ["x 3", "\u{d7}3", "3", "3 times"] {
            assert_eq!(read_number(text, "times", [0.0, 8.0], false), Ok(3.0), "{text}");
        }
        assert_eq!(
            share("1.5").unwrap_err(),
            "`1.5`: it takes a number from 0 % to 100 %; did you mean 1.5%?"
        );
        assert_eq!(share("500").unwrap_err(), "`500`: it takes a number from 0 % to 100 %");
        assert_eq!(share("0,5").unwrap_err(), "`0,5`: it takes a number from 0 % to 100 %; the point is `.`");
        assert_eq!(read_number("-1/3", "degrees", [-1.0, 1.0], false), Ok(-1.0 / 3.0));
        assert_eq!(read_number("8/2", "frames", [1.0, 9.0], true), Ok(4.0));
        assert!(share("1/0").unwrap_err().ends_with("; nothing is divided by 0"));
        for text in [
            "1/", "/2", "1/2/3", "3/2", "", "abc", "100.5", "-0.1", "150%", "0.5x", "nan", "inf", "1 000",
            "%", "0x1",
        ] {
            assert!(share(text).is_err(), "{text}");
        }
        assert!(
            read_number("50%", "times", [0.0, 8.0], false).unwrap_err().contains("per cent go with shares")
        );
        assert!(
            read_number("2.5", "frames", [1.0, 9.0], true)
                .unwrap_err()
                .contains("a whole number from 1 to 9")
        );
    }
}
