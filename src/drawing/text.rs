//! Lines of text: measured, wrapped without loss, and made of outlined glyphs.
//!
//! Text runs from left to right, one character one glyph; a character that
//! neither face has becomes a box, so that it is missed and not overlooked.

use ab_glyph::{Font, FontRef, GlyphId, OutlinedGlyph, PxScale, ScaleFont, point};

use super::kerning::Kerning;
use crate::base::colour::Colour;
use crate::base::shown::shown;

/// A typeface inside the program could not be read.
#[derive(Debug, thiserror::Error, PartialEq, Eq)]
#[error("the built-in typeface {name} could not be read; this program was built wrongly")]
pub struct FaceError {
    /// The typeface.
    pub name: &'static str,
}

/// Which of the two faces of the wall.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Face {
    /// Proportional, for words.
    Words,
    /// All digits alike wide, for numbers.
    Numerals,
}

/// How a line is set.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Style {
    pub(crate) face: Face,
    /// Size of the em square in texels.
    pub(crate) em: f32,
    /// From one baseline to the next, in texels.
    pub(crate) leading: u32,
    pub(crate) colour: Colour,
}

/// A character that stands somewhere on a line.
pub(crate) enum Mark {
    Glyph(OutlinedGlyph),
    /// In place of a character that no face has: left, top, width and height.
    Box(f32, f32, f32, f32),
}

impl Mark {
    fn left(&self) -> f32 {
        match self {
            Self::Glyph(glyph) => glyph.px_bounds().min.x,
            Self::Box(left, ..) => *left,
        }
    }
}

struct Faced {
    font: FontRef<'static>,
    kerning: Kerning,
}

/// The two faces, ready to set lines with.
pub(crate) struct Faces {
    words: Faced,
    numerals: Faced,
}

impl Faces {
    pub(crate) fn new() -> Result<Self, FaceError> {
        let face = |name, bytes: &'static [u8]| {
            FontRef::try_from_slice(bytes)
                .map(|font| Faced { font, kerning: Kerning::of(bytes) })
                .map_err(|_| FaceError { name })
        };
        Ok(Self {
            words: face("Ubuntu Light", epaint_default_fonts::UBUNTU_LIGHT)?,
            numerals: face("Hack", epaint_default_fonts::HACK_REGULAR)?,
        })
    }

    /// How far a line reaches, in texels.
    pub(crate) fn width(&self, style: Style, line: &str) -> f32 {
        self.walked(style, line, |_, _, _| {})
    }

    /// The glyphs of a line whose ink starts at `left` or a little right of it, and that stands on
    /// `baseline`.
    pub(crate) fn set(&self, style: Style, line: &str, left: f32, baseline: f32) -> Vec<Mark> {
        // A letter such as j reaches left of where it starts; the line makes room for it.
        let reach = self.marks(style, line, left, baseline).iter().map(Mark::left).fold(left, f32::min);
        self.marks(style, line, left + (left - reach), baseline)
    }

    fn marks(&self, style: Style, line: &str, left: f32, baseline: f32) -> Vec<Mark> {
        let mut marks = Vec::new();
        self.walked(style, line, |found, x, advance| match found {
            Some((font, id)) => {
                let glyph = id.with_scale_and_position(px_scale(font, style.em), point(left + x, baseline));
                marks.extend(font.outline_glyph(glyph).map(Mark::Glyph));
            }
            None => {
                let (inset, height) = (style.em * 0.06, style.em * 0.7);
                marks.push(Mark::Box(left + x + inset, baseline - height, advance - 2.0 * inset, height));
            }
        });
        marks
    }

    /// From the top of a line to its baseline, in whole texels so that lines are equally sharp.
    pub(crate) fn baseline(&self, style: Style) -> f32 {
        let font = &self.faced(style.face).font;
        let scaled = font.as_scaled(px_scale(font, style.em));
        ((style.leading as f32 + scaled.ascent() + scaled.descent()) / 2.0).round()
    }

    /// The height of the digits above their baseline, in texels.
    pub(crate) fn digit_height(&self, style: Style) -> f32 {
        let font = &self.faced(style.face).font;
        let glyph = font.glyph_id('1').with_scale(px_scale(font, style.em));
        font.outline_glyph(glyph).map_or(style.em * 0.7, |digit| -digit.px_bounds().min.y)
    }

    /// The text in lines of at most `width` texels.
    ///
    /// Lines break at spaces; a part that is too long for a line breaks after its hyphens, then at its
    /// no-break spaces, then between any two characters. Nothing but the spaces at breaks is lost.
    pub(crate) fn wrapped(&self, style: Style, text: &str, width: f32) -> Vec<String> {
        // Ink may reach a little past the advance, on either side.
        let width = width - style.em / 8.0;
        let fits = |line: &str| self.width(style, line) <= width;
        let mut lines = vec![String::new()];
        fill(&mut lines, &text.replace(['\n', '\r', '\t'], " "), 0, &fits);
        lines.retain(|line| !line.is_empty());
        lines
    }

    fn faced(&self, face: Face) -> &Faced {
        match face {
            Face::Words => &self.words,
            Face::Numerals => &self.numerals,
        }
    }

    /// Tells `each` what stands where (a glyph of a font or nothing, its start, its advance);
    /// returns the whole advance.
    fn walked<'a>(
        &'a self,
        style: Style,
        line: &str,
        mut each: impl FnMut(Option<(&'a FontRef<'static>, GlyphId)>, f32, f32),
    ) -> f32 {
        let own = self.faced(style.face);
        let other = if style.face == Face::Words { &self.numerals } else { &self.words };
        let mut x = 0.0;
        let mut before: Option<GlyphId> = None;
        for character in shown(line).chars() {
            let found = [own, other].into_iter().find_map(|faced| {
                let id = faced.font.glyph_id(character);
                (id.0 != 0).then_some((faced, id))
            });
            let Some((faced, id)) = found else {
                let advance = style.em * 0.62;
                each(None, x, advance);
                x += advance;
                before = None;
                continue;
            };
            let is_own = std::ptr::eq(faced, own);
            if let (true, Some(previous)) = (is_own, before) {
                x += own.kerning.between(previous.0, id.0) * style.em;
            }
            let advance = faced.font.as_scaled(px_scale(&faced.font, style.em)).h_advance(id);
            each(Some((&faced.font, id)), x, advance);
            x += advance;
            before = is_own.then_some(id);
        }
        x
    }
}

/// Fills lines with the parts of `text`; `level` says what parts it: spaces, hyphens, no-break
/// spaces, then characters.
fn fill(lines: &mut Vec<String>, text: &str, level: usize, fits: &impl Fn(&str) -> bool) {
    const NO_BREAK_SPACE: char = '\u{a0}';
    let (parts, glue): (Vec<&str>, &str) = match level {
        0 => (text.split(' ').filter(|part| !part.is_empty()).collect(), " "),
        1 => (text.split_inclusive('-').collect(), ""),
        2 => (text.split(NO_BREAK_SPACE).collect(), "\u{a0}"),
        _ => (text.split_inclusive(|_| true).collect(), ""),
    };
    for (index, part) in parts.into_iter().enumerate() {
        let Some(line) = lines.last_mut() else { return };
        // The first part of a part that was parted further only follows what is on the line.
        let glue = if index == 0 && level > 0 || line.is_empty() { "" } else { glue };
        let joined = format!("{line}{glue}{part}");
        if fits(&joined) {
            *line = joined;
        } else if level > 2 || fits(part) {
            // A single character that is wider than a line still gets one.
            if line.is_empty() {
                part.clone_into(line);
            } else {
                lines.push(part.to_owned());
            }
        } else {
            if !line.is_empty() {
                lines.push(String::new());
            }
            fill(lines, part, level + 1, fits);
        }
    }
}

/// The scale that makes one em this many texels; the library counts from ascent to descent.
fn px_scale(font: &FontRef<'static>, em: f32) -> PxScale {
    let units = font.units_per_em().unwrap_or(1000.0);
    PxScale::from(em * font.height_unscaled() / units)
}
