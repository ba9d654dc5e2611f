//! A spread: a few pictures side by side, each under a heading with lines of its own.

use image::RgbaImage;

use super::composer::{CAPTION_GAP, Composer, FACT, Item, LONGEST_LINE, NAME, TITLE, WORDS, draw};
use super::grid::{GUTTER, MARGIN, NARROWEST_CELL, ROW_GAP};
use super::{LONGEST_SIDE, Striped, WallError, grid};
use crate::base::colour::Colour;
use crate::base::doing::doing;
use crate::drawing::{Area, Canvas, Faces, ink};
use crate::measure::Scale;

/// What a spread shows.
#[derive(Debug, Clone, Default)]
pub struct Spread {
    /// What is compared.
    pub title: String,
    /// Facts about all the pictures, one a line.
    pub facts: Vec<Striped>,
    /// A warning that must be read, such as of flashing light.
    pub caution: Option<String>,
    /// The pictures, in the order in which they are shown.
    pub pictures: Vec<Captioned>,
    /// Pictures in one row; where `None`, as many as suit the sheet.
    pub columns: Option<usize>,
}

/// One picture with its words.
#[derive(Debug, Clone)]
pub struct Captioned {
    /// The picture with straight alpha, sRGB-encoded; shown texel for texel.
    pub picture: RgbaImage,
    /// What it is.
    pub heading: Striped,
    /// What is to be known of it, one fact a line.
    pub lines: Vec<Striped>,
    /// What its colours mean, where they code something.
    pub scale: Option<Scale>,
}

/// Height of a scale's bar, in texels.
const BAR: u32 = 14;

impl Spread {
    /// The sheet: opaque, sRGB-encoded.
    ///
    /// # Errors
    /// [`WallError`] for no pictures, for a picture without texels and for a sheet longer than
    /// [`LONGEST_SIDE`].
    pub fn drawn(&self) -> Result<RgbaImage, WallError> {
        let _doing = doing("drawing the sheet");
        if self.pictures.is_empty() {
            return Err(WallError::NoTiles);
        }
        let sizes = || self.pictures.iter().map(|captioned| captioned.picture.dimensions());
        if sizes().any(|(width, height)| width == 0 || height == 0) {
            return Err(WallError::EmptyPicture { tile: None });
        }
        let (widest, tallest) = sizes().fold((1, 1), |most, size| (most.0.max(size.0), most.1.max(size.1)));
        let columns =
            self.columns.unwrap_or_else(|| grid::columns(widest, tallest, self.pictures.len())).max(1);
        let cell = widest.max(NARROWEST_CELL);
        let content = u64::from(cell + GUTTER) * columns as u64 - u64::from(GUTTER);
        let width = content + u64::from(2 * MARGIN);
        let rows = self.pictures.len().div_ceil(columns) as u64;
        let too_large = |height: u64| WallError::TooLarge {
            width,
            height,
            tiles: self.pictures.len(),
            tile_width: widest,
            tile_height: tallest,
        };
        let least_height = rows * u64::from(tallest.min(LONGEST_SIDE) + ROW_GAP);
        if width.max(least_height).max(u64::from(tallest)) > u64::from(LONGEST_SIDE) {
            return Err(too_large(least_height));
        }

        let mut composer = Composer::of_words(Faces::new()?);
        let mut top = self.header(&mut composer, content as u32);
        let mut areas = Vec::with_capacity(self.pictures.len());
        let mut bars: Vec<(Area, &[Colour])> = Vec::new();
        for row in self.pictures.chunks(columns) {
            let tall = row.iter().map(|captioned| captioned.picture.height()).max().unwrap_or(1);
            if u64::from(top) + u64::from(tall) > u64::from(LONGEST_SIDE) {
                return Err(too_large(u64::from(top) + u64::from(tall)));
            }
            let mut bottom = top;
            for (column, captioned) in row.iter().enumerate() {
                let x = MARGIN + column as u32 * (cell + GUTTER);
                let (width, height) = captioned.picture.dimensions();
                areas.push(Area { x, y: top + tall - height, width, height });
                let mut y = top + tall + CAPTION_GAP;
                if let Some(scale) = &captioned.scale {
                    let bar = Area { x, y, width, height: BAR };
                    bars.push((bar, &scale.colours));
                    y = composer.ticks(bar, &scale.ticks) + 8;
                }
                y = composer.striped(NAME, &captioned.heading, x, y, cell);
                for line in &captioned.lines {
                    y = composer.striped(WORDS, line, x, y, cell);
                }
                bottom = bottom.max(y);
            }
            top = bottom + ROW_GAP;
        }
        let height = u64::from(top - ROW_GAP + MARGIN);
        if height > u64::from(LONGEST_SIDE) {
            return Err(too_large(height));
        }

        let mut canvas = Canvas::new(width as u32, height as u32, ink::GROUND);
        for (area, captioned) in areas.iter().zip(&self.pictures) {
            canvas.outline(*area, ink::KEYLINE);
            canvas.picture(*area, &captioned.picture, ink::CHECKER);
        }
        for (bar, colours) in bars {
            for x in 0..bar.width {
                let place = x as usize * colours.len() / bar.width as usize;
                canvas.area(Area { x: bar.x + x, width: 1, ..bar }, colours[place]);
            }
            canvas.outline(bar, ink::KEYLINE);
        }
        for item in &composer.items {
            draw(&mut canvas, &composer.faces, 0, item);
        }
        Ok(canvas.into_picture())
    }

    /// Title, facts and caution; returns the row of the first pictures.
    fn header(&self, composer: &mut Composer<'_>, content: u32) -> u32 {
        let line = content.min(LONGEST_LINE);
        let mut y = composer.paragraph(TITLE, &self.title, MARGIN, MARGIN, content).1 + 8;
        for fact in &self.facts {
            y = composer.striped(FACT, fact, MARGIN, y, line);
        }
        if let Some(caution) = &self.caution {
            y = composer.caution(caution, y + 20, line);
        }
        let rule = Area { x: MARGIN, y: y + 24, width: content, height: 1 };
        composer.items.push(Item::Bar { area: rule, colour: ink::KEYLINE });
        rule.bottom() + ROW_GAP
    }
}
