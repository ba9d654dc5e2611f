//! The dialog of keys: every command with its keys, in as many columns as fit.

use egui::{FontId, Id, Label, Layout, Rect, RichText, ScrollArea, Ui, UiBuilder, pos2, vec2};

use super::close_button;
use crate::window::keys::{COMMANDS, Command};
use crate::window::scene::Scene;
use crate::window::theme::palette;
use crate::window::widgets::text::TextField;
use crate::window::widgets::{draft, font, keep_draft, scrolled};

/// The least width of a column, and the space between two.
const COLUMN: f32 = 224.0;
const SPACE: f32 = 14.0;
/// Width of the keys in a column.
const KEYS: f32 = 82.0;
/// Sizes of letters, the first that lets every command fit.
const SIZES: [f32; 4] = [12.0, 11.0, 10.0, 9.0];
/// What stands above and below the columns.
const BESIDE: f32 = 128.0;

/// A line of the dialog.
enum Line {
    Group(&'static str),
    Command(String, &'static str),
}

/// Draws the dialog.
pub(super) fn show(ui: &mut Ui, scene: &mut Scene<'_>) {
    let id = Id::unique("search keys");
    let mut search = draft(ui, id, String::new);
    ui.horizontal(|ui| {
        ui.heading("Keys");
        let field = TextField::new("Search keys", 220.0).hint("search").show(ui, &mut search);
        if ui.memory(|memory| memory.focused().is_none()) {
            field.request_focus();
        }
        ui.weak(format!("{} does any of these by its words", Command::Commands.key()));
    });
    keep_draft(ui, id, search.clone());
    let words: Vec<String> = search.to_lowercase().split_whitespace().map(str::to_owned).collect();
    let lines = lines(&words);
    if lines.is_empty() {
        ui.label("No command has these words.");
    }
    let room = ui.ctx().content_rect();
    let width = room.width() - 56.0;
    let most = room.height() - BESIDE;
    let columns = ((width + SPACE) / (COLUMN + SPACE)).floor().max(1.0);
    let column = (width + SPACE) / columns - SPACE;
    let laid = SIZES.map(|size| Laid::of(ui, &lines, size, column, columns as usize));
    let fits = laid.iter().position(|laid| laid.height <= most).unwrap_or(SIZES.len() - 1);
    let laid = &laid[fits];
    scrolled(ui, ScrollArea::vertical().max_height(most), |ui| {
        let (rect, _) = ui.allocate_exact_size(vec2(width, laid.height), egui::Sense::hover());
        for (line, &(nth, top, height)) in lines.iter().zip(&laid.places) {
            let at = rect.min + vec2(nth as f32 * (column + SPACE), top);
            draw(ui, line, Rect::from_min_size(at, vec2(column, height)), SIZES[fits]);
        }
    });
    close_button(ui, scene);
}

/// The commands that have these words, each group under its name.
fn lines(words: &[String]) -> Vec<Line> {
    let mut lines = Vec::new();
    for (group, rows) in COMMANDS {
        let has = |text: &str| words.iter().all(|word| text.to_lowercase().contains(word));
        let mut found = rows
            .iter()
            .map(|row| (row.keys(), row.says))
            .filter(|(keys, says)| has(&format!("{keys} {says} {group}")))
            .peekable();
        if found.peek().is_some() {
            lines.push(Line::Group(group));
        }
        lines.extend(found.map(|(keys, says)| Line::Command(keys, says)));
    }
    lines
}

/// Where every line stands: its column, how far down, and how high.
struct Laid {
    places: Vec<(usize, f32, f32)>,
    height: f32,
}

impl Laid {
    /// Lays lines out in letters of this size, in columns that are as even as can be.
    fn of(ui: &Ui, lines: &[Line], size: f32, column: f32, columns: usize) -> Self {
        let colour = palette(ui.ctx()).plain;
        let tall = |text: &str, font: FontId, width: f32| {
            ui.painter().layout(text.to_owned(), font, colour, width).size().y
        };
        let heights: Vec<f32> = lines
            .iter()
            .map(|line| match line {
                Line::Group(name) => tall(name, font(size + 1.0), column) + 5.0,
                Line::Command(keys, says) => {
                    let says = tall(says, font(size), column - KEYS);
                    tall(keys, font(size), KEYS - 6.0).max(says) + 2.0
                }
            })
            .collect();
        let mut height = (heights.iter().sum::<f32>() / columns as f32).ceil();
        loop {
            if let Some(places) = placed(lines, &heights, height, columns) {
                return Self { places, height };
            }
            height += 4.0;
        }
    }
}

/// The places of lines in columns of this height, where they have room; the name of a group stands over its first line.
fn placed(lines: &[Line], heights: &[f32], most: f32, columns: usize) -> Option<Vec<(usize, f32, f32)>> {
    let (mut column, mut top) = (0, 0.0);
    let mut places = Vec::new();
    for (at, (line, &height)) in lines.iter().zip(heights).enumerate() {
        let with = match line {
            Line::Group(_) => height + heights.get(at + 1).copied().unwrap_or_default(),
            Line::Command(..) => height,
        };
        if top + with > most && top > 0.0 {
            (column, top) = (column + 1, 0.0);
        }
        if column == columns {
            return None;
        }
        places.push((column, top, height));
        top += height;
    }
    Some(places)
}

fn draw(ui: &mut Ui, line: &Line, rect: Rect, size: f32) {
    let palette = palette(ui.ctx());
    let mut put = |rect: Rect, text: RichText| {
        let place = UiBuilder::new().max_rect(rect).layout(Layout::top_down(egui::Align::LEFT));
        ui.scope_builder(place, |ui| ui.add(Label::new(text).wrap()));
    };
    match line {
        Line::Group(name) => {
            let rect = rect.with_min_y(rect.top() + 3.0);
            put(rect, RichText::new(*name).size(size + 1.0).color(palette.bright).strong());
        }
        Line::Command(keys, says) => {
            let middle = rect.left() + KEYS;
            put(rect.with_max_x(middle - 6.0), RichText::new(keys).size(size).color(palette.accent));
            let rect = Rect::from_min_max(pos2(middle, rect.top()), rect.max);
            put(rect, RichText::new(*says).size(size).color(palette.plain));
        }
    }
}
