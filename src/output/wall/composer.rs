//! What stands on a sheet: lines, chips and bars are set as items, and drawn.

use super::grid::{GUTTER, MARGIN};
use super::{EffectKey, LONGEST_SIDE, Striped, Tile, Wall, Word};
use crate::base::coding::ColourCode;
use crate::base::colour::Colour;
use crate::drawing::ink::{BLACK, ChipForm, ChipLook};
use crate::drawing::{Area, Canvas, Face, Faces, Rounded, Style, ink};

pub(super) const TITLE: Style = Style { face: Face::Words, em: 52.0, leading: 64, colour: ink::BRIGHT };
pub(super) const FACT: Style = Style { face: Face::Words, em: 21.0, leading: 31, colour: ink::PLAIN };
pub(super) const NAME: Style = Style { face: Face::Words, em: 21.0, leading: 26, colour: ink::BRIGHT };
pub(super) const SETTINGS: Style = Style { face: Face::Words, em: 17.0, leading: 24, colour: ink::QUIET };
pub(super) const NUMBER: Style = Style { face: Face::Numerals, em: 21.0, leading: 32, colour: ink::BRIGHT };
pub(super) const CODE: Style = Style { face: Face::Numerals, em: 21.0, leading: 26, colour: ink::BRIGHT };
pub(super) const WORDS: Style = Style { face: Face::Words, em: 17.0, leading: 24, colour: ink::PLAIN };
const NOTE: Style = Style { face: Face::Words, em: 17.0, leading: 24, colour: ink::BRIGHT };
const NUMERAL: Style = Style { face: Face::Numerals, em: 16.0, leading: 26, colour: ink::BRIGHT };

/// Side of a chip, in texels; one with a longer numeral is wider.
pub(super) const CHIP: u32 = 26;
/// Between two chips: room for the mark that says which way to read.
pub(super) const CHIP_GAP: u32 = 16;
/// From one row of chips to the next, in texels.
const CHIP_LEADING: u32 = 34;
/// From the column of codes to the chips, in texels.
pub(super) const CODE_GAP: u32 = 16;
/// From a picture to its caption, in texels.
pub(super) const CAPTION_GAP: u32 = 16;
/// The stripe of what a person gave a colour, with its rim, and from it to the name.
const STRIPE: u32 = 8;
const STRIPE_GAP: f32 = 8.0;
pub(super) const STRIPED: u32 = STRIPE + STRIPE_GAP as u32;
/// The header is never narrower, however small the pictures are, in texels.
pub(super) const NARROWEST_CONTENT: u32 = 640;
/// A line of running text is never longer, in texels.
pub(super) const LONGEST_LINE: u32 = 1500;

/// Where one picture and its caption stand.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cell {
    /// The picture; a line one texel wide goes around it.
    pub picture: Area,
    /// Code, chips, words and note; as high as the highest caption of its row.
    pub caption: Area,
    /// The order in words, in the lines in which it is shown.
    pub words: Vec<String>,
    /// The note, in the lines in which it is shown.
    pub note: Vec<String>,
}

/// One thing to draw, with its top left corner.
pub(super) enum Item {
    Line {
        style: Style,
        x: f32,
        y: u32,
        text: String,
    },
    Chip {
        x: u32,
        y: u32,
        mark: u32,
    },
    /// The sign between two chips that says which way to read, in a gap that starts at `x`.
    Onward {
        x: u32,
        y: u32,
    },
    Bar {
        area: Area,
        colour: Colour,
    },
    Warning {
        panel: Area,
    },
}

/// The effects' names; where two are alike, each with its mark.
pub(super) fn names(effects: &[EffectKey]) -> Vec<String> {
    let count = |label: &str| effects.iter().filter(|other| other.label == label).count();
    let name = |effect: &EffectKey| match count(&effect.label) {
        1 => effect.label.clone(),
        _ => format!("{}\u{a0}({})", effect.label, effect.mark),
    };
    effects.iter().map(name).collect()
}

pub(super) fn chip_width(faces: &Faces, effects: &[EffectKey]) -> u32 {
    let largest = effects.iter().map(|effect| effect.mark).max().unwrap_or(1);
    CHIP.max(faces.width(NUMERAL, &largest.to_string()).ceil() as u32 + 10)
}

pub(super) fn code_width(faces: &Faces, wall: &Wall) -> u32 {
    let longest = wall.tiles.iter().map(|tile| faces.width(CODE, &tile.code)).fold(0.0, f32::max);
    longest.ceil() as u32
}

/// Sets lines and chips as items to draw.
pub(super) struct Composer<'a> {
    pub(super) chip_width: u32,
    /// The column of codes.
    pub(super) code_width: u32,
    /// Codes stand beside their chips where a cell has this much room, otherwise over them.
    pub(super) beside_chips: u32,
    pub(super) faces: Faces,
    pub(super) effects: &'a [EffectKey],
    pub(super) names: Vec<String>,
    pub(super) items: Vec<Item>,
}

impl Composer<'_> {
    /// A composer for sheets without chips.
    pub(super) fn of_words(faces: Faces) -> Self {
        Self {
            chip_width: 0,
            code_width: 0,
            beside_chips: 0,
            faces,
            effects: &[],
            names: Vec::new(),
            items: Vec::new(),
        }
    }

    /// What stands under a scale, each tick by its place and within the bar; returns the row below.
    pub(super) fn ticks(&mut self, bar: Area, ticks: &[(f32, String)]) -> u32 {
        let top = bar.bottom() + 6;
        for (share, text) in ticks {
            let width = self.faces.width(SETTINGS, text);
            let middle = bar.x as f32 + share * bar.width as f32;
            let x =
                (middle - width / 2.0).clamp(bar.x as f32, (bar.right() as f32 - width).max(bar.x as f32));
            self.items.push(Item::Line { style: SETTINGS, x, y: top, text: text.clone() });
        }
        top + SETTINGS.leading
    }

    /// Sets a paragraph; returns its lines and the row below it.
    pub(super) fn paragraph(
        &mut self,
        style: Style,
        text: &str,
        x: u32,
        y: u32,
        width: u32,
    ) -> (Vec<String>, u32) {
        let lines = self.faces.wrapped(style, text, width as f32);
        let mut top = y;
        for line in &lines {
            self.items.push(Item::Line { style, x: x as f32, y: top, text: line.clone() });
            top += style.leading;
        }
        (lines, top)
    }

    /// Chips in the order applied, on as few lines as hold them, filled alike; returns the row below
    /// them and where the last line ends.
    pub(super) fn chips(&mut self, order: &[usize], x: u32, y: u32, width: u32) -> (u32, u32) {
        let pitch = self.chip_width + CHIP_GAP;
        // A line that goes on ends with a mark, so that it holds less than a line alone.
        let alone = (width + CHIP_GAP) / pitch;
        let lines = if order.len() <= alone as usize {
            1
        } else {
            order.len().div_ceil((width / pitch).max(1) as usize)
        };
        let per_line = order.len().div_ceil(lines).max(1);
        let (mut end, mut top) = (x, y);
        for (row, line) in order.chunks(per_line).enumerate() {
            top = y + row as u32 * CHIP_LEADING;
            end = x;
            for (column, &place) in line.iter().enumerate() {
                self.items.push(Item::Chip { x: end, y: top, mark: self.effects[place].mark });
                end += self.chip_width;
                if row * per_line + column + 1 < order.len() {
                    self.items.push(Item::Onward { x: end, y: top });
                    end += CHIP_GAP;
                }
            }
        }
        (top + CHIP, end)
    }

    /// Pictures side by side on one ground line, each over its caption; returns the row below all. How far down it
    /// would reach, where that is too far.
    pub(super) fn row(
        &mut self,
        tiles: &[Tile],
        x: u32,
        cell_width: u32,
        top: u32,
        has_words: bool,
    ) -> Result<(Vec<Cell>, u32), u64> {
        let picture_height = tiles.iter().map(|tile| tile.picture.height()).max().unwrap_or(1);
        let bottom = u64::from(top) + u64::from(picture_height);
        if bottom > u64::from(LONGEST_SIDE) {
            return Err(bottom);
        }
        let caption_top = top + picture_height + CAPTION_GAP;
        let mut cells = Vec::with_capacity(tiles.len());
        let mut caption_height = 0;
        for (column, tile) in tiles.iter().enumerate() {
            let x = x + column as u32 * (cell_width + GUTTER);
            let (width, height) = tile.picture.dimensions();
            // Lower pictures of a row of mixed sizes stand on its common ground line.
            let picture = Area { x, y: top + picture_height - height, width, height };
            let caption = Area { x, y: caption_top, width: cell_width, height: 0 };
            let cell = self.caption(tile, picture, caption, has_words);
            caption_height = caption_height.max(cell.caption.height);
            cells.push(cell);
        }
        cells.iter_mut().for_each(|cell| cell.caption.height = caption_height);
        Ok((cells, caption_top + caption_height))
    }

    /// What else has to be known, under a rule; none where there is nothing.
    pub(super) fn foot(&mut self, notes: &[String], y: u32, content: u32) -> Option<Area> {
        if notes.is_empty() {
            return None;
        }
        let rule = Area { x: MARGIN, y, width: content, height: 1 };
        self.items.push(Item::Bar { area: rule, colour: ink::KEYLINE });
        let mut bottom = y + 24;
        for note in notes {
            bottom = self.paragraph(WORDS, note, MARGIN, bottom, content.min(LONGEST_LINE)).1 + 4;
        }
        Some(Area { height: bottom - y, ..rule })
    }

    /// Words and effects as they follow each other, each effect as its chip and its name; returns the row below.
    pub(super) fn sentence(&mut self, style: Style, words: &[Word], x: u32, y: u32, width: u32) -> u32 {
        if words.is_empty() {
            return y;
        }
        let (line, space) = (style.leading.max(CHIP + 8), style.em * 0.26);
        let (text_drop, chip_drop) = ((line - style.leading) / 2, (line - CHIP) / 2);
        // Ink may reach a little past the advance.
        let right = (x + width) as f32 - style.em / 8.0;
        let (mut at, mut top, mut is_apart) = (x as f32, y, false);
        let effects = self.effects;
        for word in words {
            let text = match *word {
                Word::Text(text) => text,
                Word::Effect(place) => {
                    let label = effects[place].label.clone();
                    let chip = self.chip_width as f32 + 8.0;
                    let first = label.split(' ').next().map_or(0.0, |first| self.faces.width(style, first));
                    // A chip is no letter: it takes a little more room than a space.
                    at += if is_apart && at > x as f32 { space + 4.0 } else { 0.0 };
                    if at > x as f32 && at + chip + first > right {
                        (at, top) = (x as f32, top + line);
                    }
                    self.items.push(Item::Chip {
                        x: at as u32,
                        y: top + chip_drop,
                        mark: effects[place].mark,
                    });
                    at = at.floor() + chip;
                    (at, top) =
                        self.run(style, &label, (x as f32, right), (at, top), (line, text_drop), false);
                    is_apart = false;
                    continue;
                }
            };
            (at, top) = self.run(style, text, (x as f32, right), (at, top), (line, text_drop), is_apart);
            is_apart = text.ends_with(' ');
        }
        top + line
    }

    /// Words, names among them behind their stripes; returns the row below.
    pub(super) fn striped(&mut self, style: Style, words: &Striped, x: u32, y: u32, width: u32) -> u32 {
        if words.0.iter().all(|(stripe, _)| stripe.is_none()) {
            return self.paragraph(style, &words.words(), x, y, width).1;
        }
        let (space, right) = (style.em * 0.26, (x + width) as f32 - style.em / 8.0);
        let (mut at, mut top, mut is_apart) = (x as f32, y, false);
        for (stripe, text) in &words.0 {
            if let Some(colour) = stripe.map(ColourCode::colour) {
                let first = text.split(' ').next().map_or(0.0, |first| self.faces.width(style, first));
                at += if is_apart && at > x as f32 { space } else { 0.0 };
                if at > x as f32 && at + STRIPE as f32 + STRIPE_GAP + first > right {
                    (at, top) = (x as f32, top + style.leading);
                }
                // In a rim, so that a colour like the ground's is seen.
                let rim = Area { x: at as u32, y: top + 4, width: STRIPE, height: style.leading - 8 };
                let area = Area { x: rim.x + 1, y: rim.y + 1, width: rim.width - 2, height: rim.height - 2 };
                self.items.push(Item::Bar { area: rim, colour: ink::QUIET });
                self.items.push(Item::Bar { area, colour });
                at = at.floor() + STRIPE as f32 + STRIPE_GAP;
                is_apart = false;
            }
            let edges = (x as f32, right);
            (at, top) = self.run(style, text, edges, (at, top), (style.leading, 0), is_apart);
            is_apart = text.ends_with(' ');
        }
        top + style.leading
    }

    /// Text that goes on where other text ended; returns where it ends.
    fn run(
        &mut self,
        style: Style,
        text: &str,
        (left, right): (f32, f32),
        (mut at, mut top): (f32, u32),
        (line, drop): (u32, u32),
        is_apart: bool,
    ) -> (f32, u32) {
        let space = style.em * 0.26;
        let mut gap = is_apart || text.starts_with(' ');
        for word in text.split(' ').filter(|word| !word.is_empty()) {
            let width = self.faces.width(style, word);
            if gap && at > left {
                at += space;
            }
            if at > left && at + width > right {
                (at, top) = (left, top + line);
            }
            gap = true;
            // A word that no line holds goes on the next ones.
            let parts = self.faces.wrapped(style, word, right - left);
            for (nth, part) in parts.into_iter().enumerate() {
                if nth > 0 {
                    (at, top) = (left, top + line);
                }
                let end = at + self.faces.width(style, &part);
                self.items.push(Item::Line { style, x: at, y: top + drop, text: part });
                at = end;
            }
        }
        (at, top)
    }

    /// Code, chips, words and note of one picture.
    fn caption(&mut self, tile: &Tile, picture: Area, at: Area, has_words: bool) -> Cell {
        let (_, under_code) = self.paragraph(CODE, &tile.code, at.x, at.y, at.width);
        let (left, top) = match self.beside_chips <= at.width {
            true => (self.code_width + CODE_GAP, at.y),
            false => (0, under_code + 4),
        };
        let (mut y, _) = self.chips(&tile.order, at.x + left, top, at.width - left);
        let words: Vec<&str> = tile.order.iter().map(|&place| self.names[place].as_str()).collect();
        let words = match () {
            () if !has_words => String::new(),
            () if words.is_empty() => "no effect: the footage as it is".to_owned(),
            () => words.join(", then\u{a0}"),
        };
        let (words, bottom) = self.paragraph(WORDS, &words, at.x, y + 10, at.width);
        if has_words {
            y = bottom;
        }
        let mut note_lines = Vec::new();
        if let Some(note) = &tile.note {
            let top = y + 6;
            let (lines, bottom) = self.paragraph(NOTE, note, at.x + 14, top, at.width - 14);
            if !lines.is_empty() {
                let bar = Area { x: at.x, y: top + 3, width: 3, height: bottom - top - 5 };
                self.items.push(Item::Bar { area: bar, colour: ink::BRIGHT });
                y = bottom;
            }
            note_lines = lines;
        }
        Cell { picture, caption: Area { height: y - at.y, ..at }, words, note: note_lines }
    }
}

/// Draws one item.
pub(super) fn draw(canvas: &mut Canvas, faces: &Faces, chip_width: u32, item: &Item) {
    match item {
        Item::Line { style, x, y, text } => {
            let baseline = *y as f32 + faces.baseline(*style);
            canvas.marks(&faces.set(*style, text, *x, baseline), style.colour);
        }
        &Item::Chip { x, y, mark } => draw_chip(canvas, faces, chip_width, (x, y), mark),
        &Item::Onward { x, y } => {
            let (middle, across) = (y as f32 + CHIP as f32 / 2.0, x as f32 + CHIP_GAP as f32 / 2.0);
            let (half, rise) = (2.25, 4.5);
            let points =
                [(across - half, middle - rise), (across + half, middle), (across - half, middle + rise)];
            canvas.stroke(&points, 1.8, ink::QUIET);
        }
        &Item::Bar { area, colour } => canvas.area(area, colour),
        &Item::Warning { panel } => draw_warning(canvas, faces, panel),
    }
}

fn draw_chip(canvas: &mut Canvas, faces: &Faces, width: u32, (x, y): (u32, u32), mark: u32) {
    let look = ChipLook::of(mark);
    let half = (width as f32 / 2.0, CHIP as f32 / 2.0);
    let centre = (x as f32 + half.0, y as f32 + half.1);
    let radius = if look.form == ChipForm::Disc { half.1 } else { 6.0 };
    let shape = Rounded { centre, half, radius };
    if look.form == ChipForm::Frame {
        canvas.ring(shape, 2.5, look.rim().unwrap_or(look.colour));
    } else {
        canvas.rounded(shape, look.colour);
        if let Some(rim) = look.rim() {
            canvas.ring(shape, 1.5, rim);
        }
    }
    centred(canvas, faces, Style { colour: look.numeral, ..NUMERAL }, &mark.to_string(), centre);
}

fn draw_warning(canvas: &mut Canvas, faces: &Faces, panel: Area) {
    canvas.area(panel, ink::PANEL);
    canvas.area(Area { width: 4, ..panel }, ink::CAUTION);
    let (cx, cy) = (panel.x as f32 + 34.0, panel.y as f32 + 29.0);
    let shape = Rounded { centre: (cx, cy), half: (14.0, 14.0), radius: 14.0 };
    canvas.rounded(shape, ink::CAUTION);
    let style = Style { em: 20.0, colour: BLACK, ..NUMERAL };
    centred(canvas, faces, style, "!", (cx, cy));
}

/// Numerals with their middle at a point.
///
/// Dark on light looks thinner than light on dark of the same outline, because edges are blended in
/// linear light; dark numerals are struck twice, a little apart, to look alike.
fn centred(canvas: &mut Canvas, faces: &Faces, style: Style, text: &str, (x, y): (f32, f32)) {
    let left = x - faces.width(style, text) / 2.0;
    let baseline = (y + faces.digit_height(style) / 2.0).round();
    let strikes: &[f32] = if style.colour == BLACK { &[-0.3, 0.3] } else { &[0.0] };
    for strike in strikes {
        canvas.marks(&faces.set(style, text, left + strike, baseline), style.colour);
    }
}
