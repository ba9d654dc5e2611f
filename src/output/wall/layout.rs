//! Where everything stands on the sheet, decided before anything is drawn.

use image::RgbaImage;

use super::grid::{GUTTER, MARGIN, NARROWEST_CELL, ROW_GAP};
use super::{EffectKey, LONGEST_SIDE, Tile, Wall, WallError, grid};
use crate::base::colour::Colour;
use crate::drawing::ink::{BLACK, ChipForm, ChipLook};
use crate::drawing::{Area, Canvas, Face, Faces, Rounded, Style, ink};

pub(super) const TITLE: Style = Style { face: Face::Words, em: 52.0, leading: 64, colour: ink::BRIGHT };
pub(super) const FACT: Style = Style { face: Face::Words, em: 21.0, leading: 31, colour: ink::PLAIN };
pub(super) const NAME: Style = Style { face: Face::Words, em: 21.0, leading: 26, colour: ink::BRIGHT };
pub(super) const SETTINGS: Style = Style { face: Face::Words, em: 17.0, leading: 24, colour: ink::QUIET };
const GUIDE: Style = Style { face: Face::Words, em: 19.0, leading: 28, colour: ink::PLAIN };
const WARNING: Style = Style { face: Face::Words, em: 21.0, leading: 30, colour: ink::BRIGHT };
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
const NARROWEST_CONTENT: u32 = 640;
/// The narrowest column of the key, in texels.
const NARROWEST_KEY: u32 = 288;
/// A line of running text is never longer, in texels.
pub(super) const LONGEST_LINE: u32 = 1500;

const HOW_TO_READ: &str = "Read a row of chips from left to right: the first effect is under, the last is over. \
     The numeral is the effect's mark; the row of marks is the order's code.";

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
    /// One cell a picture, in the wall's order.
    pub cells: Vec<Cell>,
    /// Cells in one full row.
    pub columns: usize,
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
    let widest = wall.tiles.iter().map(|tile| tile.picture.width()).max().unwrap_or(1);
    let tallest = wall.tiles.iter().map(|tile| tile.picture.height()).max().unwrap_or(1);
    let columns = grid::columns(widest, tallest, wall.tiles.len());
    let chip_width = chip_width(&faces, &wall.effects);
    let cell_width = u64::from(widest.max(NARROWEST_CELL).max(chip_width + CHIP_GAP));
    // Codes stand beside their chips where all chips of the longest fit there, otherwise over them.
    let code_width = code_width(&faces, wall);
    let longest = wall.tiles.iter().map(|tile| tile.order.len() as u64).max().unwrap_or(0);
    let all_chips = longest * u64::from(chip_width + CHIP_GAP);
    let beside_chips = u64::from(code_width + CODE_GAP) + all_chips.saturating_sub(u64::from(CHIP_GAP));
    let code_width = (beside_chips <= cell_width).then_some(code_width);
    let grid_width = columns as u64 * (cell_width + u64::from(GUTTER)) - u64::from(GUTTER);
    let content = grid_width.max(u64::from(NARROWEST_CONTENT));
    let width = content + 2 * u64::from(MARGIN);
    let too_large = |height: u64| WallError::TooLarge {
        width,
        height,
        tiles: wall.tiles.len(),
        tile_width: widest,
        tile_height: tallest,
    };
    let rows = wall.tiles.len().div_ceil(columns) as u64;
    // Before any text is set: an absurd wall is refused at once, with the height of its pictures.
    let least_height = rows * u64::from(tallest.min(LONGEST_SIDE) + CAPTION_GAP + ROW_GAP);
    let limit = u64::from(LONGEST_SIDE);
    if width > limit || u64::from(tallest) > limit || least_height > limit {
        return Err(too_large(least_height.max(u64::from(tallest))));
    }
    let (cell_width, content) = (cell_width as u32, content as u32);

    let mut composer = Composer {
        chip_width,
        code_width,
        faces,
        effects: &wall.effects,
        names: names(&wall.effects),
        items: Vec::new(),
    };
    let header_bottom = composer.header(wall, content, cell_width);
    let header = Area { x: MARGIN, y: MARGIN, width: content, height: header_bottom - MARGIN };

    let mut cells = Vec::with_capacity(wall.tiles.len());
    let mut top = u64::from(header_bottom + ROW_GAP);
    for row in wall.tiles.chunks(columns) {
        let picture_height = row.iter().map(|tile| tile.picture.height()).max().unwrap_or(1);
        if top + u64::from(picture_height) > limit {
            // As far as it is known: the rows that are still to come count as pictures only.
            return Err(too_large((top + u64::from(picture_height)).max(least_height)));
        }
        let picture_top = top as u32;
        let caption_top = picture_top + picture_height + CAPTION_GAP;
        let mut caption_height = 0;
        let first = cells.len();
        for (column, tile) in row.iter().enumerate() {
            let x = MARGIN + column as u32 * (cell_width + GUTTER);
            let (picture_width, tile_height) = tile.picture.dimensions();
            // Lower pictures of a row of mixed sizes stand on its common ground line.
            let y = picture_top + picture_height - tile_height;
            let picture = Area { x, y, width: picture_width, height: tile_height };
            let caption = Area { x, y: caption_top, width: cell_width, height: 0 };
            let cell = composer.caption(tile, picture, caption);
            caption_height = caption_height.max(cell.caption.height);
            cells.push(cell);
        }
        for cell in &mut cells[first..] {
            cell.caption.height = caption_height;
        }
        top = u64::from(caption_top + caption_height + ROW_GAP);
    }
    let height = top - u64::from(ROW_GAP) + u64::from(MARGIN);
    if height > limit {
        return Err(too_large(height));
    }
    let layout = Layout { width: width as u32, height: height as u32, header, cells, columns };
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
    chip_width: u32,
    /// The column of codes beside the chips; none where they stand over them.
    code_width: Option<u32>,
    pub(super) faces: Faces,
    effects: &'a [EffectKey],
    names: Vec<String>,
    pub(super) items: Vec<Item>,
}

impl Composer<'_> {
    /// A composer for sheets without chips.
    pub(super) fn of_words(faces: Faces) -> Self {
        Self { chip_width: 0, code_width: None, faces, effects: &[], names: Vec::new(), items: Vec::new() }
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
    fn chips(&mut self, order: &[usize], x: u32, y: u32, width: u32) -> (u32, u32) {
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

    /// Title, facts, caution, key and guide; returns the row below the rule.
    fn header(&mut self, wall: &Wall, content: u32, cell_width: u32) -> u32 {
        let line = content.min(LONGEST_LINE);
        let mut y = MARGIN;
        y = self.paragraph(TITLE, &wall.title, MARGIN, y, content).1;
        if !wall.title.is_empty() {
            y += 8;
        }
        for text in wall.facts.iter().chain(&wall.notes) {
            y = self.paragraph(FACT, text, MARGIN, y, line).1;
        }
        if let Some(caution) = &wall.caution {
            y = self.caution(caution, y + 20, line);
        }
        y = self.key(y + 32, content, cell_width);
        y = self.guide(y, content);
        let rule = Area { x: MARGIN, y: y + 32, width: content, height: 1 };
        self.items.push(Item::Bar { area: rule, colour: ink::KEYLINE });
        rule.bottom()
    }

    /// A panel that must be read; returns the row below it.
    pub(super) fn caution(&mut self, caution: &str, y: u32, width: u32) -> u32 {
        const INSET: u32 = 64;
        let (_, bottom) = self.paragraph(WARNING, caution, MARGIN + INSET, y + 14, width - INSET - 24);
        let text_width = self.faces.wrapped(WARNING, caution, (width - INSET - 24) as f32);
        let reach = text_width.iter().map(|line| self.faces.width(WARNING, line).ceil() as u32).max();
        let panel_width = (INSET + reach.unwrap_or(0) + 24).min(width);
        let panel = Area { x: MARGIN, y, width: panel_width, height: (bottom + 14 - y).max(58) };
        // Behind the words.
        let behind =
            self.items.iter().position(|item| matches!(item, Item::Line { y: top, .. } if *top >= y));
        self.items.insert(behind.unwrap_or(self.items.len()), Item::Warning { panel });
        panel.bottom()
    }

    /// The key to the chips, on the columns of the pictures where they are wide enough.
    fn key(&mut self, y: u32, content: u32, cell_width: u32) -> u32 {
        if self.effects.is_empty() {
            return self.paragraph(NAME, "The chain holds no effect.", MARGIN, y, content).1;
        }
        let pitch = cell_width + GUTTER;
        let column = if cell_width >= 2 * NARROWEST_KEY + GUTTER {
            pitch / 2 - GUTTER
        } else {
            NARROWEST_KEY.div_ceil(pitch).max(1) * pitch - GUTTER
        };
        let column = column.min(content);
        let fitting = ((content + GUTTER) / (column + GUTTER)).max(1) as usize;
        let rows = self.effects.len().div_ceil(fitting);
        let columns = self.effects.len().div_ceil(rows);
        let mut top = y;
        for row in 0..rows {
            let mut bottom = top;
            for place in (row * columns..self.effects.len()).take(columns) {
                let x = MARGIN + (place - row * columns) as u32 * (column + GUTTER);
                bottom = bottom.max(self.key_entry(place, x, top, column));
            }
            top = bottom + 20;
        }
        top - 20
    }

    fn key_entry(&mut self, place: usize, x: u32, y: u32, width: u32) -> u32 {
        self.items.push(Item::Chip { x, y, mark: self.effects[place].mark });
        let inset = self.chip_width + 12;
        let (x, width) = (x + inset, width - inset);
        let effect = &self.effects[place];
        let mut bottom = self.paragraph(NAME, &effect.label, x, y, width).1.max(y + CHIP);
        bottom = self.paragraph(SETTINGS, &effect.settings, x, bottom + 2, width).1;
        if let Some(why) = &effect.idle {
            bottom = self.paragraph(SETTINGS, &format!("changes nothing here: {why}"), x, bottom, width).1;
        }
        bottom
    }

    /// How a row of chips is read, shown on the file's own order.
    fn guide(&mut self, y: u32, content: u32) -> u32 {
        if self.effects.len() < 2 {
            return y;
        }
        let y = y + 28;
        let word_gap = 12;
        let word = |composer: &mut Self, text: &str, x: u32, y: u32| {
            composer.paragraph(GUIDE, text, x, y - 1, content);
            x + composer.faces.width(GUIDE, text).ceil() as u32
        };
        let order: Vec<usize> = (0..self.effects.len()).collect();
        let under = word(self, "under", MARGIN, y) + word_gap;
        let over_width = self.faces.width(GUIDE, "over").ceil() as u32 + word_gap;
        let room = MARGIN + content - under - over_width;
        let (bottom, end) = self.chips(&order, under, y, room);
        let end = word(self, "over", end + word_gap, bottom - CHIP);
        let beside = end + 28;
        let sentence_width = (MARGIN + content).saturating_sub(beside);
        if bottom == y + CHIP && self.faces.width(GUIDE, HOW_TO_READ) <= sentence_width as f32 {
            self.paragraph(GUIDE, HOW_TO_READ, beside, y - 1, sentence_width);
            return bottom;
        }
        self.paragraph(GUIDE, HOW_TO_READ, MARGIN, bottom + 10, content.min(LONGEST_LINE)).1
    }

    /// Code, chips, words and note of one picture.
    fn caption(&mut self, tile: &Tile, picture: Area, at: Area) -> Cell {
        let (_, under_code) = self.paragraph(CODE, &tile.code, at.x, at.y, at.width);
        let (left, top) = match self.code_width {
            Some(width) => (width + CODE_GAP, at.y),
            None => (0, under_code + 4),
        };
        let (mut y, _) = self.chips(&tile.order, at.x + left, top, at.width - left);
        let words: Vec<&str> = tile.order.iter().map(|&place| self.names[place].as_str()).collect();
        let words = if words.is_empty() {
            "no effect: the footage as it is".to_owned()
        } else {
            words.join(", then\u{a0}")
        };
        let (words, bottom) = self.paragraph(WORDS, &words, at.x, y + 10, at.width);
        y = bottom;
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
