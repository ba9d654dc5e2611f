//! Where everything stands on the sheet, decided before anything is drawn.

use image::RgbaImage;

use super::families::Shape;
use super::grid::{GUTTER, MARGIN, NARROWEST_CELL, ROW_GAP};
use super::{EffectKey, LONGEST_SIDE, Tile, Wall, WallError, Word, families, grid};
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
const CODE_GAP: u32 = 16;
/// From a picture to its caption, in texels.
pub(super) const CAPTION_GAP: u32 = 16;
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

/// Where everything stands on a sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Layout {
    /// Texels across the sheet.
    pub width: u32,
    /// Texels down the sheet.
    pub height: u32,
    /// Title, facts and the key to the chips, with the rule below them.
    pub header: Area,
    /// What is said over each row of families, with the rule above it.
    pub headings: Vec<Area>,
    /// One cell a picture, in the wall's order.
    pub cells: Vec<Cell>,
    /// Cells in one full row, where there are no families.
    pub columns: usize,
    /// Notes under all pictures; none where there are none.
    pub foot: Option<Area>,
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

/// Draws the wall.
pub(super) fn drawn(wall: &Wall) -> Result<RgbaImage, WallError> {
    let (layout, faces, items) = composed(wall)?;
    let mut canvas = Canvas::new(layout.width, layout.height, ink::GROUND);
    for (cell, tile) in layout.cells.iter().zip(&wall.tiles) {
        canvas.outline(cell.picture, ink::KEYLINE);
        canvas.picture(cell.picture, &tile.picture, ink::CHECKER);
    }
    let chip_width = chip_width(&faces, &wall.effects);
    for item in &items {
        draw(&mut canvas, &faces, chip_width, item);
    }
    Ok(canvas.into_picture())
}

/// Decides where everything stands.
pub(super) fn composed(wall: &Wall) -> Result<(Layout, Faces, Vec<Item>), WallError> {
    checked(wall)?;
    let faces = Faces::new()?;
    let chip_width = chip_width(&faces, &wall.effects);
    let least_cell = NARROWEST_CELL.max(chip_width + CHIP_GAP);
    let widest = wall.tiles.iter().map(|tile| tile.picture.width()).max().unwrap_or(1);
    let tallest = wall.tiles.iter().map(|tile| tile.picture.height()).max().unwrap_or(1);
    let too_large = |width: u64, height: u64| WallError::TooLarge {
        width,
        height,
        tiles: wall.tiles.len(),
        tile_width: widest,
        tile_height: tallest,
    };
    let limit = u64::from(LONGEST_SIDE);
    // Before any text is set: an absurd picture is refused at once.
    if u64::from(widest.max(tallest)) > limit {
        return Err(too_large(widest.into(), tallest.into()));
    }
    let shape = (!wall.families.is_empty()).then(|| Shape::of(wall, least_cell));
    let columns = grid::columns(widest, tallest, wall.tiles.len());
    let cell_width = shape.map_or(widest.max(least_cell), Shape::cell);
    let content = match shape {
        Some(shape) => u64::from(shape.content),
        None => {
            let grid_width = columns as u64 * u64::from(cell_width + GUTTER) - u64::from(GUTTER);
            grid_width.max(u64::from(NARROWEST_CONTENT))
        }
    };
    let width = content + 2 * u64::from(MARGIN);
    let rows = wall.tiles.len().div_ceil(columns) as u64;
    let least_height = rows * u64::from(tallest + CAPTION_GAP + ROW_GAP);
    if width > limit || shape.is_none() && least_height > limit {
        return Err(too_large(width, least_height));
    }
    let content = content as u32;

    let code_width = code_width(&faces, wall);
    let longest = wall.tiles.iter().map(|tile| tile.order.len() as u32).max().unwrap_or(0);
    let chips = longest.saturating_mul(chip_width + CHIP_GAP).saturating_sub(CHIP_GAP);
    let mut composer = Composer {
        chip_width,
        code_width,
        beside_chips: code_width.saturating_add(CODE_GAP).saturating_add(chips),
        faces,
        effects: &wall.effects,
        names: names(&wall.effects),
        items: Vec::new(),
    };
    let header_bottom = composer.header(wall, content, cell_width);
    let header = Area { x: MARGIN, y: MARGIN, width: content, height: header_bottom - MARGIN };
    let top = header_bottom + ROW_GAP;
    // As far as it is known: the rows that are still to come count as pictures only.
    let too_long = |height: u64| too_large(width, height.max(if shape.is_none() { least_height } else { 0 }));
    let (cells, headings, bottom) = match shape {
        Some(shape) => {
            let hung = families::hung(&mut composer, wall, shape, top).map_err(too_long)?;
            (hung.cells, hung.headings, hung.bottom)
        }
        None => {
            let mut cells = Vec::with_capacity(wall.tiles.len());
            let mut below = header_bottom;
            for row in wall.tiles.chunks(columns) {
                let (hung, bottom) =
                    composer.row(row, MARGIN, cell_width, below + ROW_GAP, true).map_err(too_long)?;
                cells.extend(hung);
                below = bottom;
            }
            (cells, Vec::new(), below)
        }
    };
    let foot = composer.foot(&wall.notes, bottom + ROW_GAP, content);
    let height = u64::from(foot.map_or(bottom, Area::bottom)) + u64::from(MARGIN);
    if height > limit {
        return Err(too_large(width, height));
    }
    let layout =
        Layout { width: width as u32, height: height as u32, header, headings, cells, columns, foot };
    Ok((layout, composer.faces, composer.items))
}

fn checked(wall: &Wall) -> Result<(), WallError> {
    if wall.tiles.is_empty() {
        return Err(WallError::NoTiles);
    }
    for (tile, number) in wall.tiles.iter().zip(1..) {
        if tile.picture.width() == 0 || tile.picture.height() == 0 {
            return Err(WallError::EmptyPicture { tile: Some(number) });
        }
        if let Some(&place) = tile.order.iter().find(|&&place| place >= wall.effects.len()) {
            let effects = wall.effects.len();
            return Err(WallError::UnknownEffect { tile: number, place: place.saturating_add(1), effects });
        }
    }
    Ok(())
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

fn code_width(faces: &Faces, wall: &Wall) -> u32 {
    let longest = wall.tiles.iter().map(|tile| faces.width(CODE, &tile.code)).fold(0.0, f32::max);
    longest.ceil() as u32
}

/// Sets lines and chips as items to draw.
pub(super) struct Composer<'a> {
    pub(super) chip_width: u32,
    /// The column of codes.
    code_width: u32,
    /// Codes stand beside their chips where a cell has this much room, otherwise over them.
    beside_chips: u32,
    pub(super) faces: Faces,
    pub(super) effects: &'a [EffectKey],
    names: Vec<String>,
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
    fn foot(&mut self, notes: &[String], y: u32, content: u32) -> Option<Area> {
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
