//! A name in one line, shortened in its middle where its room ends, with the whole of it on hover: names that begin
//! alike are told apart by how they end.

use std::borrow::Cow;

use egui::{Color32, FontId, Label, Response, RichText, Role, TextStyle, Ui, WidgetInfo};
use unicode_segmentation::UnicodeSegmentation as _;

/// A text, or as much of both its ends as a width has room for.
pub fn short_text<'t>(ui: &Ui, text: &'t str, font: &FontId, width: f32) -> Cow<'t, str> {
    let is_room = |text: &str| {
        let galley = ui.painter().layout_no_wrap(text.to_owned(), font.clone(), Color32::PLACEHOLDER);
        galley.size().x <= width
    };
    if is_room(text) {
        return Cow::Borrowed(text);
    }
    let parts: Vec<&str> = text.graphemes(true).collect();
    let by_ends = |kept: usize| {
        let (head, tail) = (kept.div_ceil(2), kept / 2);
        let [head, tail] = [&parts[..head], &parts[parts.len() - tail..]].map(<[&str]>::concat);
        format!("{}\u{2026}{}", head.trim_end(), tail.trim_start())
    };
    let (mut fits, mut over) = (0, parts.len());
    while over - fits > 1 {
        let kept = (fits + over) / 2;
        if is_room(&by_ends(kept)) { fits = kept } else { over = kept }
    }
    Cow::Owned(by_ends(fits))
}

/// A label in one line that is no wider than its room; where it is shortened, the whole is told to those who point at it.
pub fn short_label(ui: &mut Ui, text: &str, style: TextStyle, colour: Color32) -> Response {
    let font = style.resolve(ui.style());
    // Half a point for what layout rounds up.
    let short = short_text(ui, text, &font, ui.available_size_before_wrap().x - 0.5).into_owned();
    let response = ui.add(Label::new(RichText::new(&short).font(font).color(colour)).extend());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, text));
    if short == text { response } else { response.on_hover_text(text) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn short(text: &str, width: f32) -> String {
        let mut found = String::new();
        let mut output = egui::Context::default().run_ui(egui::RawInput::default(), |ui| {
            found = short_text(ui, text, &FontId::proportional(13.0), width).into_owned();
        });
        // Nothing is painted.
        output.textures_delta.clear();
        found
    }

    #[test]
    fn a_name_keeps_both_its_ends_and_is_as_long_as_its_room() {
        let name = "harbour lights over the quay, first crossing";
        assert_eq!(short(name, 1000.0), name);
        let mut before = 0;
        for width in [40.0, 80.0, 140.0, 220.0] {
            let short = short(name, width);
            let (head, tail) = short.split_once('\u{2026}').expect("it is shortened");
            assert!(name.starts_with(head) && name.ends_with(tail), "{short}");
            assert!(short.len() > before && head.len().abs_diff(tail.len()) < 4, "{short}");
            before = short.len();
        }
        assert_eq!(short(name, 1.0), "\u{2026}");
    }

    #[test]
    fn a_letter_with_its_marks_is_never_parted() {
        // A base letter with two combining marks is one grapheme cluster (UAX #29).
        let name = "a\u{301}\u{323}".repeat(40);
        let short = short(&name, 120.0);
        for part in short.split('\u{2026}') {
            assert!(part.is_empty() || (part.starts_with('a') && part.ends_with('\u{323}')), "{short:?}");
        }
    }
}
