//! The wall of pieces: a column a piece of footage, a row an order, and over them where each pair of effects matters.

use image::RgbaImage;

use super::composer::{
    CHIP, CHIP_GAP, CODE, Composer, FACT, Item, LONGEST_LINE, NAME, SETTINGS, STRIPED, TITLE, WORDS,
    chip_width, draw, names,
};
use super::grid::{GUTTER, MARGIN, ROW_GAP};
use super::{EffectKey, LONGEST_SIDE, Striped, TileGrid, WallError, tile_size};
use crate::base::coding::ColourCode;
use crate::base::colour::Colour;
use crate::base::doing::doing;
use crate::base::frame::Frame;
use crate::drawing::{Area, Canvas, Face, Faces, Style, ink};
use unicode_segmentation::UnicodeSegmentation as _;

/// What the wall of pieces shows.
#[derive(Debug, Clone, Default)]
pub struct PiecesGrid {
    /// The name of the chain or show.
    pub title: String,
    /// The answer: what is read first, one sentence a line.
    pub answer: Vec<String>,
    /// What was counted and on what, one fact a line.
    pub facts: Vec<Striped>,
    /// The chain in the file's order: the key to the chips.
    pub effects: Vec<EffectKey>,
    /// A warning that must be read, such as of flashing light.
    pub caution: Option<String>,
    /// The pieces of footage, at least one.
    pub columns: Vec<Column>,
    /// What the rows of the small heat picture say, and how to read it.
    pub heat_heading: String,
    pub heat_note: String,
    pub heat: Vec<HeatRow>,
    pub sections: Vec<Section>,
}

/// One piece of footage.
#[derive(Debug, Clone, Default)]
pub struct Column {
    /// Its name, shortened in the middle where it is too long.
    pub name: String,
    /// The colour that a person gave it.
    pub colour: Option<ColourCode>,
    /// What else has to be known of it, such as that it is a stand-in.
    pub note: String,
}

/// A pair of effects, and how much hangs on it on each piece.
#[derive(Debug, Clone)]
pub struct HeatRow {
    /// The two, by their places among the effects.
    pub pair: [usize; 2],
    /// Where it matters: "59 % of all, on all 9 pieces".
    pub said: String,
    /// For each column the share, 0 to 1; none where nobody would see it.
    pub shares: Vec<Option<f64>>,
}

/// Orders under one heading.
#[derive(Debug, Clone, Default)]
pub struct Section {
    pub heading: String,
    /// What has to be known of its rows.
    pub note: String,
    pub rows: Vec<Row>,
}

/// One order on every piece.
#[derive(Debug, Clone)]
pub struct Row {
    pub code: String,
    /// The effects, first applied first, by their places.
    pub order: Vec<usize>,
    /// What it stands for, one fact a line; the first is read first.
    pub lines: Vec<String>,
    /// For each column its picture, and what is said under it.
    pub pictures: Vec<(RgbaImage, Option<String>)>,
}

/// The column of codes and words.
const LABEL: u32 = 400;
/// Between pictures of a row; they are closer than those of a wall, so that a row reads as one.
const BETWEEN: u32 = 14;
/// Height of a cell of the heat picture.
const HEAT: u32 = 56;
const HEAT_GAP: u32 = 6;
/// The narrowest column that still holds a name.
const NARROWEST: u32 = 132;
/// From a picture to what is said under it.
const UNDER: u32 = 4;

const ANSWER: Style = Style { face: Face::Words, em: 30.0, leading: 42, colour: ink::BRIGHT };
const HEADING: Style = Style { face: Face::Words, em: 28.0, leading: 38, colour: ink::BRIGHT };
const COLUMN: Style = Style { face: Face::Words, em: 18.0, leading: 24, colour: ink::BRIGHT };
const FIGURE: Style = Style { face: Face::Words, em: 20.0, leading: 26, colour: WHITE };
/// Brighter than other text: half way up the scale, both it and black are just read.
const WHITE: Colour = Colour([0xff; 3]);
/// Full on the scale of shares: sky blue of the published palette; none is the panel's grey.
const FULL: Colour = ink::OKABE_ITO[1];
/// Of shares below this the figure is quiet: they do not count as mattering.
const COUNTS: f64 = crate::order::LEAST_SHARE;

/// The size of the pictures for so many pieces of this frame.
pub fn piece_grid(frame: Frame, pieces: usize) -> TileGrid {
    // So many tiles as have pictures of 480, 384, 320 and 256 texels across.
    let alike = match pieces {
        0..=2 => 12,
        3..=5 => 20,
        6..=8 => 100,
        _ => 200,
    };
    let grid = tile_size(frame, alike);
    let room = (LONGEST_SIDE - 2 * MARGIN - LABEL - GUTTER) / pieces.max(1) as u32 - BETWEEN;
    if grid.width <= room {
        return grid;
    }
    let height = (u64::from(grid.height) * u64::from(room) / u64::from(grid.width)).max(1);
    TileGrid { width: room, height: height as u32, magnified: 1, ..grid }
}

/// Rows of orders that fit on a wall with pictures of this size.
pub fn most_rows(grid: TileGrid) -> usize {
    // The header and the headings take their part.
    const BESIDE: u32 = 3_000;
    ((LONGEST_SIDE - BESIDE) / row_height(grid.height, true)) as usize
}

fn row_height(picture: u32, has_captions: bool) -> u32 {
    let caption = if has_captions { UNDER + SETTINGS.leading } else { 0 };
    (picture + caption).max(CODE.leading + CHIP + 3 * WORDS.leading + 20) + ROW_GAP / 2
}

impl PiecesGrid {
    /// The wall: opaque, sRGB-encoded.
    ///
    /// # Errors
    /// [`WallError`] for no pieces or no rows, for a picture without texels, for an order that names an effect which is
    /// not there, and for a wall longer than [`LONGEST_SIDE`].
    pub fn drawn(&self) -> Result<RgbaImage, WallError> {
        let _doing = doing("drawing the wall");
        let rows = || self.sections.iter().flat_map(|section| &section.rows);
        if self.columns.is_empty() || rows().next().is_none() {
            return Err(WallError::NoTiles);
        }
        for (row, number) in rows().zip(1..) {
            if row.pictures.iter().any(|(picture, _)| picture.width() == 0 || picture.height() == 0) {
                return Err(WallError::EmptyPicture { tile: Some(number) });
            }
            let effects = self.effects.len();
            if let Some(&place) = row.order.iter().find(|&&place| place >= effects) {
                return Err(WallError::UnknownEffect {
                    tile: number,
                    place: place.saturating_add(1),
                    effects,
                });
            }
        }
        let pictures = || rows().flat_map(|row| &row.pictures).map(|(picture, _)| picture);
        let widest = pictures().map(RgbaImage::width).max().unwrap_or(1);
        let tallest = pictures().map(RgbaImage::height).max().unwrap_or(1);
        let column = widest.max(NARROWEST);
        let columns = self.columns.len() as u32;
        let grid = columns * (column + BETWEEN) - BETWEEN;
        let content = (LABEL + GUTTER + grid).max(960);
        let width = content + 2 * MARGIN;
        let too_large = |height: u32| WallError::TooLarge {
            width: u64::from(width),
            height: u64::from(height),
            tiles: rows().count() * self.columns.len(),
            tile_width: widest,
            tile_height: tallest,
        };
        if width > LONGEST_SIDE {
            return Err(too_large(0));
        }
        let faces = Faces::new()?;
        let chip = chip_width(&faces, &self.effects);
        let mut laid = Laying {
            composer: Composer::of_words(faces),
            names: names(&self.effects),
            marks: self.effects.iter().map(|effect| effect.mark).collect(),
            chip,
            left: MARGIN + LABEL + GUTTER,
            column,
            placed: Vec::new(),
        };
        let mut y = self.header(&mut laid, content);
        if !self.heat.is_empty() {
            y = laid.heading(&self.heat_heading, &self.heat_note, y + 18, content);
            y = laid.columns(&self.columns, y + 10);
            for row in &self.heat {
                y = laid.heat(row, y) + HEAT_GAP;
            }
            y += ROW_GAP;
        }
        for section in self.sections.iter().filter(|section| !section.rows.is_empty()) {
            y = laid.heading(&section.heading, &section.note, y + 18, content);
            y = laid.columns(&self.columns, y + 10);
            for row in &section.rows {
                y = laid.row(row, y) + ROW_GAP / 2;
                if y > LONGEST_SIDE {
                    return Err(too_large(y));
                }
            }
            y += ROW_GAP / 2;
        }
        let height = y - ROW_GAP + MARGIN;
        if height > LONGEST_SIDE {
            return Err(too_large(height));
        }
        let mut canvas = Canvas::new(width, height, ink::GROUND);
        for (area, picture) in &laid.placed {
            canvas.outline(*area, ink::KEYLINE);
            canvas.picture(*area, picture, ink::CHECKER);
        }
        for item in &laid.composer.items {
            draw(&mut canvas, &laid.composer.faces, chip, item);
        }
        Ok(canvas.into_picture())
    }

    /// Title, answer, facts, caution, the key to the chips; returns the row below the rule.
    fn header(&self, laid: &mut Laying<'_>, content: u32) -> u32 {
        let line = content.min(LONGEST_LINE);
        let mut y = laid.composer.paragraph(TITLE, &self.title, MARGIN, MARGIN, content).1 + 8;
        for answer in &self.answer {
            y = laid.composer.paragraph(ANSWER, answer, MARGIN, y, line).1;
        }
        y += 10;
        for fact in &self.facts {
            y = laid.composer.striped(FACT, fact, MARGIN, y, line);
        }
        if let Some(caution) = &self.caution {
            y = laid.composer.caution(caution, y + 20, line);
        }
        y = laid.key(y + 28, content);
        let rule = Area { x: MARGIN, y: y + 24, width: content, height: 1 };
        laid.composer.items.push(Item::Bar { area: rule, colour: ink::KEYLINE });
        rule.bottom()
    }
}

/// A wall while it is laid out.
struct Laying<'a> {
    composer: Composer<'a>,
    names: Vec<String>,
    marks: Vec<u32>,
    /// Width of a chip.
    chip: u32,
    /// Where the first column begins, and how wide each is.
    left: u32,
    column: u32,
    placed: Vec<(Area, &'a RgbaImage)>,
}

impl<'a> Laying<'a> {
    fn x(&self, column: usize) -> u32 {
        self.left + column as u32 * (self.column + BETWEEN)
    }

    fn line(&mut self, style: Style, text: &str, x: f32, y: u32) {
        self.composer.items.push(Item::Line { style, x, y, text: text.to_owned() });
    }

    /// A line of text in the middle of an area.
    fn centred(&mut self, style: Style, text: &str, area: Area) {
        let width = self.composer.faces.width(style, text);
        let x = area.x as f32 + (area.width as f32 - width) / 2.0;
        let y = area.y + (area.height - style.leading.min(area.height)) / 2;
        // Dark on light looks thinner than light on dark, as edges are blended in linear light: it is struck twice.
        let strikes: &[f32] = if style.colour == ink::BLACK { &[-0.3, 0.3] } else { &[0.0] };
        for strike in strikes {
            self.line(style, text, x + strike, y);
        }
    }

    fn heading(&mut self, heading: &str, note: &str, y: u32, content: u32) -> u32 {
        let y = self.composer.paragraph(HEADING, heading, MARGIN, y, content).1;
        self.composer.paragraph(WORDS, note, MARGIN, y, content.min(LONGEST_LINE)).1
    }

    /// The names of the columns; returns the row below them.
    fn columns(&mut self, columns: &[Column], y: u32) -> u32 {
        let has_notes = columns.iter().any(|column| !column.note.is_empty());
        for (at, column) in columns.iter().enumerate() {
            let x = self.x(at);
            let inset = if column.colour.is_some() { STRIPED } else { 0 };
            let room = (self.column - inset) as f32;
            let name = by_its_middle(&self.composer.faces, COLUMN, &column.name, room);
            let name = Striped::of(column.colour, name);
            self.composer.striped(COLUMN, &name, x, y, 2 * self.column);
            let note = by_its_middle(&self.composer.faces, SETTINGS, &column.note, self.column as f32);
            self.line(SETTINGS, &note, x as f32, y + COLUMN.leading);
        }
        y + COLUMN.leading + if has_notes { SETTINGS.leading } else { 0 } + 8
    }

    /// Chips in the order applied, on as many lines as they take; returns the row below them.
    fn chips(&mut self, places: &[usize], x: u32, y: u32, width: u32) -> u32 {
        let (mut at, mut top) = (x, y);
        for (nth, &place) in places.iter().enumerate() {
            if at + self.chip > x + width {
                (at, top) = (x, top + CHIP + 8);
            }
            self.composer.items.push(Item::Chip { x: at, y: top, mark: self.marks[place] });
            at += self.chip;
            if nth + 1 < places.len() {
                self.composer.items.push(Item::Onward { x: at, y: top });
                at += CHIP_GAP;
            }
        }
        top + CHIP
    }

    /// The effects by their chips, in as many columns as there is room for.
    fn key(&mut self, y: u32, content: u32) -> u32 {
        let widths = self.names.iter().map(|name| self.composer.faces.width(NAME, name).ceil() as u32);
        let entry = widths.max().unwrap_or(0).min(LABEL) + self.chip + 12 + 40;
        let across = ((content + 40) / entry).max(1) as usize;
        let mut bottom = y;
        for at in 0..self.names.len() {
            let (column, row) = ((at % across) as u32, (at / across) as u32);
            let (x, y) = (MARGIN + column * entry, y + row * (CHIP + 12));
            self.composer.items.push(Item::Chip { x, y, mark: self.marks[at] });
            let inset = self.chip + 12;
            let text = by_its_middle(&self.composer.faces, NAME, &self.names[at], (entry - inset) as f32);
            self.line(NAME, &text, (x + inset) as f32, y);
            bottom = y + CHIP;
        }
        bottom
    }

    /// One pair: its chips and names, where it matters, and a cell a piece with the figure in it.
    fn heat(&mut self, row: &HeatRow, y: u32) -> u32 {
        let [one, other] = row.pair;
        let marks = [one, other];
        let mut x = MARGIN;
        for &place in &marks {
            self.composer.items.push(Item::Chip { x, y: y + 1, mark: self.marks[place] });
            x += self.chip + 6;
        }
        let text = format!("{} and {}", self.names[one], self.names[other]);
        let room = (LABEL - (x + 6 - MARGIN)) as f32;
        let text = by_its_middle(&self.composer.faces, COLUMN, &text, room);
        self.line(COLUMN, &text, (x + 6) as f32, y + 2);
        let said = by_its_middle(&self.composer.faces, SETTINGS, &row.said, LABEL as f32);
        self.line(SETTINGS, &said, MARGIN as f32, y + HEAT - SETTINGS.leading);
        for (at, share) in row.shares.iter().enumerate() {
            let area = Area { x: self.x(at), y, width: self.column, height: HEAT };
            let (colour, text) = match share {
                Some(share) => (heat_colour(*share), percent(*share)),
                None => (ink::GROUND, "not seen".to_owned()),
            };
            self.composer.items.push(Item::Bar { area, colour });
            let counts = share.is_some_and(|share| share >= COUNTS);
            let dark = ink::contrast(ink::BLACK, colour) > ink::contrast(WHITE, colour);
            let style = match (counts, dark) {
                (true, true) => Style { colour: ink::BLACK, ..FIGURE },
                (true, false) => FIGURE,
                (false, _) => Style { colour: ink::QUIET, ..FIGURE },
            };
            self.centred(style, &text, area);
        }
        y + HEAT
    }

    /// One order: its code, chips and words, then its picture on each piece.
    fn row(&mut self, row: &'a Row, y: u32) -> u32 {
        let mut bottom = self.composer.paragraph(CODE, &row.code, MARGIN, y, LABEL).1;
        bottom = self.chips(&row.order, MARGIN, bottom + 4, LABEL) + 8;
        for (at, line) in row.lines.iter().enumerate() {
            let style = if at == 0 { Style { colour: ink::BRIGHT, ..WORDS } } else { WORDS };
            bottom = self.composer.paragraph(style, line, MARGIN, bottom, LABEL).1;
        }
        for (at, (picture, said)) in row.pictures.iter().enumerate() {
            let (width, height) = picture.dimensions();
            let area = Area { x: self.x(at), y, width, height };
            self.placed.push((area, picture));
            let mut below = area.bottom();
            if let Some(said) = said {
                let text = by_its_middle(&self.composer.faces, SETTINGS, said, self.column as f32);
                self.line(SETTINGS, &text, area.x as f32, below + UNDER);
                below += UNDER + SETTINGS.leading;
            }
            bottom = bottom.max(below);
        }
        bottom
    }
}

/// "59 %"; what is little and not nothing as "< 1 %".
fn percent(share: f64) -> String {
    match share * 100.0 {
        small if small > 0.0 && small < 0.5 => "< 1 %".to_owned(),
        share => format!("{share:.0} %"),
    }
}

/// From the panel's grey to full, in light as it is seen: encoded values.
fn heat_colour(share: f64) -> Colour {
    let (Colour(none), Colour(full)) = (ink::PANEL, FULL);
    let share = share.clamp(0.0, 1.0);
    Colour(std::array::from_fn(|c| {
        let (none, full) = (f64::from(none[c]), f64::from(full[c]));
        (none + (full - none) * share).round() as u8
    }))
}

/// A text in one line of at most `width` texels; where it is longer its middle is left out, as what tells names apart
/// stands at both ends.
fn by_its_middle(faces: &Faces, style: Style, text: &str, width: f32) -> String {
    if faces.width(style, text) <= width {
        return text.to_owned();
    }
    let letters: Vec<&str> = text.graphemes(true).collect();
    let cut = |kept: usize| {
        let head = kept.div_ceil(2);
        format!("{}…{}", letters[..head].concat(), letters[letters.len() - (kept - head)..].concat())
    };
    // The longest that fits.
    let (mut fits, mut too_long) = (0, letters.len());
    while too_long - fits > 1 {
        let middle = (fits + too_long) / 2;
        if faces.width(style, &cut(middle)) <= width { fits = middle } else { too_long = middle }
    }
    cut(fits)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_name_keeps_both_its_ends_and_fits() {
        let faces = Faces::new().unwrap();
        let name = "2027-03-14 harbour wall, night crossing, take 17, graded (final).mov";
        let short = by_its_middle(&faces, COLUMN, name, 200.0);
        assert!(short.starts_with("2027") && short.ends_with(".mov") && short.contains('…'), "{short}");
        assert!(faces.width(COLUMN, &short) <= 200.0 && faces.width(COLUMN, &short) > 170.0, "{short}");
        assert_eq!(by_its_middle(&faces, COLUMN, "quay.mp4", 200.0), "quay.mp4");
        assert_eq!(by_its_middle(&faces, COLUMN, "e\u{301}e\u{301}", 1.0), "…");
    }

    #[test]
    fn figures_can_be_read_on_every_share() {
        // WCAG 2.2, success criterion 1.4.3: 4.5:1.
        for share in 0..=100 {
            let colour = heat_colour(f64::from(share) / 100.0);
            let best = ink::contrast(ink::BLACK, colour).max(ink::contrast(WHITE, colour));
            assert!(best >= 4.5, "{share} %: {best}");
        }
    }

    #[test]
    fn pictures_of_as_many_pieces_as_there_may_be_stand_side_by_side() {
        for (width, height) in [(1920, 1080), (64, 36), (1080, 1920), (7, 5), (4096, 16)] {
            for pieces in [1, 2, 5, 12, 40, 64] {
                let grid = piece_grid(Frame { width, height }, pieces);
                let across =
                    pieces as u32 * (grid.width.max(NARROWEST) + BETWEEN) + LABEL + 2 * MARGIN + GUTTER;
                assert!(across <= LONGEST_SIDE && grid.width > 0 && grid.height > 0, "{pieces}: {grid:?}");
            }
        }
    }
}
