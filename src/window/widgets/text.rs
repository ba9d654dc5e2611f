//! The one field in which text is typed: it keeps what is typed as it is, shows a sign where a character is hidden, and
//! says beside itself which those are.

use egui::text::{LayoutJob, TextFormat};
use egui::{
    Event, FontId, Id, ImeEvent, Label, Response, RichText, Stroke, TextBuffer, TextEdit, TextStyle, Ui,
};

use crate::base::hidden::{hidden, hidden_said, is_hidden};
use crate::window::theme::palette;

/// What stands in a field where a character is hidden: one sign for each, so that it can be found and taken out.
const SIGN: char = '◊';

/// A field of one line, or of several.
pub struct TextField<'a> {
    /// What it holds, for those who listen.
    name: &'a str,
    hint: &'a str,
    width: f32,
    id: Option<Id>,
    /// Lines that it has room for; more than one takes line ends, too.
    lines: usize,
}

impl<'a> TextField<'a> {
    /// A field that is so many points wide.
    pub fn new(name: &'a str, width: f32) -> Self {
        Self { name, hint: "", width, id: None, lines: 1 }
    }

    /// What stands in it, in weak letters, while it is empty.
    pub fn hint(self, hint: &'a str) -> Self {
        Self { hint, ..self }
    }

    /// Room for so many lines, in which Enter begins another one.
    pub fn lines(self, lines: usize) -> Self {
        Self { lines, ..self }
    }

    /// What it is known by, where its name is not enough or changes.
    pub fn id(self, id: Id) -> Self {
        Self { id: Some(id), ..self }
    }

    /// Draws it, and under it what its text hides.
    pub fn show(self, ui: &mut Ui, text: &mut String) -> Response {
        // A field is seen as one on any ground, also while it is empty.
        let rim = Stroke::new(1.0, palette(ui.ctx()).quiet.gamma_multiply(0.5));
        let usual = std::mem::replace(&mut ui.visuals_mut().widgets.inactive.bg_stroke, rim);
        let response = self.drawn(ui, text);
        ui.visuals_mut().widgets.inactive.bg_stroke = usual;
        response
    }

    fn drawn(self, ui: &mut Ui, text: &mut String) -> Response {
        let id = self.id.unwrap_or_else(|| ui.make_persistent_id(("text", self.name)));
        let ends_lines = |character: char| self.lines > 1 && matches!(character, '\n' | '\t');
        let hides = |text: &str| hidden(text).any(|character| !ends_lines(character));
        if !hides(text) && !brings(ui, hides) {
            return ui.add(self.field(text, id)).accessible_name(self.name);
        }
        let mut signs = |ui: &Ui, text: &dyn TextBuffer, _: f32| {
            let job = signed(text.as_str(), TextStyle::Body.resolve(ui.style()), ui, ends_lines);
            ui.fonts_mut(|fonts| fonts.layout_job(job))
        };
        let shown = ui.vertical(|ui| {
            ui.set_max_width(self.width.max(180.0));
            let response = ui.add(self.field(text, id).layouter(&mut signs)).accessible_name(self.name);
            let shown: String = text.chars().filter(|&character| !ends_lines(character)).collect();
            if let Some(words) = hidden_said(&shown) {
                ui.add(Label::new(RichText::new(words).small().color(palette(ui.ctx()).bright)).wrap());
            }
            response
        });
        shown.inner
    }

    fn field<'t>(&'t self, text: &'t mut String, id: Id) -> TextEdit<'t> {
        let field = match self.lines {
            1 => TextEdit::singleline(text),
            lines => TextEdit::multiline(text).desired_rows(lines),
        };
        field.id(id).hint_text(self.hint).desired_width(self.width)
    }
}

/// A text with a sign for each hidden character, as many characters as it has.
fn signed(text: &str, font: FontId, ui: &Ui, ends_lines: impl Fn(char) -> bool) -> LayoutJob {
    let palette = palette(ui.ctx());
    let mut job = LayoutJob {
        break_on_newline: ends_lines('\n'),
        keep_trailing_whitespace: true,
        ..LayoutJob::default()
    };
    let mut before = None;
    for character in text.chars() {
        let (sign, colour) = match is_hidden(before.replace(character), character) && !ends_lines(character) {
            true => (SIGN, palette.bright),
            false => (character, palette.plain),
        };
        job.append(sign.encode_utf8(&mut [0; 4]), 0.0, TextFormat::simple(font.clone(), colour));
    }
    job
}

/// Text on its way from the keyboard, the clipboard or an input method.
pub fn brought(event: &Event) -> Option<&str> {
    match event {
        Event::Text(text) | Event::Paste(text) | Event::Ime(ImeEvent::Commit(text)) => Some(text),
        _ => None,
    }
}

/// Whether this pass brings text that hides something, into whichever field has the keyboard.
fn brings(ui: &Ui, hides: impl Fn(&str) -> bool) -> bool {
    ui.input(|input| input.events.iter().any(|event| brought(event).is_some_and(&hides)))
}
