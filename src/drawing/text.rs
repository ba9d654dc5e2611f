//! Lines of text: measured, wrapped without loss, and made of outlined glyphs.
//!
//! Letters are shaped as their font says (OpenType 1.9, `GSUB` and `GPOS`): kerned, joined, with their marks upon them.
//! The two typefaces have Latin, Greek, Cyrillic, Armenian and Georgian, so that all text runs from left to right.
//! What neither has becomes a box, so that it is missed and not overlooked.

use ab_glyph_rasterizer::{Point, Rasterizer, point};
use harfrust::{Direction, GlyphBuffer, ShapeOptions, ShaperData, UnicodeBuffer};
use skrifa::instance::{LocationRef, Size};
use skrifa::outline::{DrawSettings, OutlinePen};
use skrifa::{FontRef, GlyphId, MetadataProvider as _};
use unicode_script::{Script, UnicodeScript as _};
use unicode_segmentation::UnicodeSegmentation as _;

use crate::base::colour::Colour;
use crate::base::shown::shown;

/// The typefaces inside the program: for words, and for numerals.
pub(super) const FONTS: [(&str, &[u8]); 2] =
    [("Ubuntu Light", epaint_default_fonts::UBUNTU_LIGHT), ("Hack", epaint_default_fonts::HACK_REGULAR)];

/// A typeface inside the program could not be read.
#[derive(Debug, thiserror::Error, PartialEq, Eq)]
#[error("the built-in typeface {name} could not be read; this program was built wrongly")]
pub struct FaceError {
    /// The typeface.
    pub name: &'static str,
}

/// Which of the two faces; where it lacks a character, the other one is asked.
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
    Glyph(Outline),
    /// In place of a character that no face has: left, top, width and height.
    Box(f32, f32, f32, f32),
}

impl Mark {
    fn left(&self) -> f32 {
        match self {
            Self::Glyph(glyph) => glyph.low.x.floor(),
            Self::Box(left, ..) => *left,
        }
    }
}

/// The outline of a glyph where it stands, in texels, origin top left.
pub(crate) struct Outline {
    curves: Vec<Curve>,
    low: Point,
    high: Point,
}

enum Curve {
    Line([Point; 2]),
    Quadratic([Point; 3]),
    Cubic([Point; 4]),
}

impl Outline {
    /// Tells `each` texel near it, across and down, and which share of the texel it covers.
    pub(crate) fn draw(&self, mut each: impl FnMut(i64, i64, f32)) {
        let (left, top) = (self.low.x.floor(), self.low.y.floor());
        let side = |low: f32, high: f32| (high.ceil() - low) as usize;
        let mut shares = Rasterizer::new(side(left, self.high.x), side(top, self.high.y));
        let from = |p: &Point| point(p.x - left, p.y - top);
        for curve in &self.curves {
            match curve {
                Curve::Line([a, b]) => shares.draw_line(from(a), from(b)),
                Curve::Quadratic([a, b, c]) => shares.draw_quad(from(a), from(b), from(c)),
                Curve::Cubic([a, b, c, d]) => shares.draw_cubic(from(a), from(b), from(c), from(d)),
            }
        }
        shares.for_each_pixel_2d(|x, y, share| {
            each(left as i64 + i64::from(x), top as i64 + i64::from(y), share);
        });
    }
}

/// Takes an outline down, from where its glyph stands.
struct Pen {
    origin: Point,
    start: Point,
    last: Point,
    outline: Outline,
}

impl Pen {
    fn at(origin: Point) -> Self {
        let (low, high) = (point(f32::MAX, f32::MAX), point(f32::MIN, f32::MIN));
        Self { origin, start: origin, last: origin, outline: Outline { curves: Vec::new(), low, high } }
    }

    /// A point of a font, whose y goes up.
    fn point(&mut self, x: f32, y: f32) -> Point {
        let at = point(self.origin.x + x, self.origin.y - y);
        let Outline { low, high, .. } = &mut self.outline;
        *low = point(low.x.min(at.x), low.y.min(at.y));
        *high = point(high.x.max(at.x), high.y.max(at.y));
        at
    }
}

impl OutlinePen for Pen {
    fn move_to(&mut self, x: f32, y: f32) {
        self.start = self.point(x, y);
        self.last = self.start;
    }

    fn line_to(&mut self, x: f32, y: f32) {
        let to = self.point(x, y);
        self.outline.curves.push(Curve::Line([self.last, to]));
        self.last = to;
    }

    fn quad_to(&mut self, cx: f32, cy: f32, x: f32, y: f32) {
        let (over, to) = (self.point(cx, cy), self.point(x, y));
        self.outline.curves.push(Curve::Quadratic([self.last, over, to]));
        self.last = to;
    }

    fn curve_to(&mut self, ax: f32, ay: f32, bx: f32, by: f32, x: f32, y: f32) {
        let (first, second, to) = (self.point(ax, ay), self.point(bx, by), self.point(x, y));
        self.outline.curves.push(Curve::Cubic([self.last, first, second, to]));
        self.last = to;
    }

    fn close(&mut self) {
        self.outline.curves.push(Curve::Line([self.last, self.start]));
        self.last = self.start;
    }
}

struct Font {
    font: FontRef<'static>,
    shaper: ShaperData,
    units_per_em: f32,
}

impl Font {
    /// Whether it has all of a cluster, composed or with marks to set.
    fn covers(&self, cluster: &str) -> bool {
        let mut characters = cluster.chars();
        match (characters.next(), characters.next()) {
            (Some(only), None) => self.font.charmap().map(only).is_some_and(|id| id != GlyphId::NOTDEF),
            _ => self.shaped(cluster).glyph_infos().iter().all(|info| info.glyph_id != 0),
        }
    }

    /// The glyphs of a text of one script.
    fn shaped(&self, text: &str) -> GlyphBuffer {
        let mut buffer = UnicodeBuffer::new();
        buffer.push_str(text);
        buffer.set_direction(Direction::LeftToRight);
        buffer.guess_segment_properties();
        self.shaper.shaper(&self.font).build().shape(buffer, ShapeOptions::new())
    }

    /// The outline of a glyph, if there is anything to see of it.
    fn outline(&self, id: GlyphId, em: f32, origin: Point) -> Option<Outline> {
        let mut pen = Pen::at(origin);
        let settings = DrawSettings::unhinted(Size::new(em), LocationRef::default());
        self.font.outline_glyphs().get(id)?.draw(settings, &mut pen).ok()?;
        Some(pen.outline).filter(|outline| !outline.curves.is_empty())
    }
}

/// A stretch of a line that is shaped in one go.
struct Run<'a> {
    /// The font; none for what no font has.
    font: Option<usize>,
    script: Option<Script>,
    text: &'a str,
}

/// The faces, ready to set lines with.
pub(crate) struct Faces {
    fonts: Vec<Font>,
}

impl Faces {
    pub(crate) fn new() -> Result<Self, FaceError> {
        let font = |&(name, bytes): &(&'static str, &'static [u8])| {
            let font = FontRef::new(bytes).map_err(|_| FaceError { name })?;
            let units_per_em = font.metrics(Size::unscaled(), LocationRef::default()).units_per_em;
            Ok(Font { shaper: ShaperData::new(&font), units_per_em: f32::from(units_per_em), font })
        };
        Ok(Self { fonts: FONTS.iter().map(font).collect::<Result<_, _>>()? })
    }

    /// How far a line reaches, in texels.
    pub(crate) fn width(&self, style: Style, line: &str) -> f32 {
        self.walked(style, line, |_, _, _, _| {})
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
        self.walked(style, line, |found, x, y, advance| match found {
            Some((font, id)) => {
                let outline = font.outline(id, style.em, point(left + x, baseline - y));
                marks.extend(outline.map(Mark::Glyph));
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
        let font = &self.fonts[order(style.face)[0]].font;
        let metrics = font.metrics(Size::new(style.em), LocationRef::default());
        ((style.leading as f32 + metrics.ascent + metrics.descent) / 2.0).round()
    }

    /// The height of the digits above their baseline, in texels.
    pub(crate) fn digit_height(&self, style: Style) -> f32 {
        let font = &self.fonts[order(style.face)[0]];
        let digit = font.font.charmap().map('1').and_then(|id| font.outline(id, style.em, point(0.0, 0.0)));
        digit.map_or(style.em * 0.7, |digit| -digit.low.y.floor())
    }

    /// The text in lines of at most `width` texels.
    ///
    /// Lines break at spaces; a part that is too long for a line breaks after its hyphens, then at its
    /// no-break spaces, then between any two characters with their marks. Nothing but the spaces at breaks is lost.
    pub(crate) fn wrapped(&self, style: Style, text: &str, width: f32) -> Vec<String> {
        // Ink may reach a little past the advance, on either side.
        let width = width - style.em / 8.0;
        let fits = |line: &str| self.width(style, line) <= width;
        let mut lines = vec![String::new()];
        fill(&mut lines, &text.replace(['\n', '\r', '\t'], " "), 0, &fits);
        lines.retain(|line| !line.is_empty());
        lines
    }

    /// The text cut where the font or the script changes.
    fn runs<'a>(&self, face: Face, text: &'a str) -> Vec<Run<'a>> {
        let mut runs: Vec<Run> = Vec::new();
        let mut from = 0;
        let mut add = |part: &'a str, font: Option<usize>| {
            let script = part.chars().map(|character| character.script());
            let script = script
                .into_iter()
                .find(|s| !matches!(s, Script::Common | Script::Inherited | Script::Unknown));
            let end = from + part.len();
            match runs.last_mut() {
                // What belongs to no script goes with what stands before it.
                Some(run)
                    if font.is_some()
                        && run.font == font
                        && (script.is_none() || run.script.is_none() || run.script == script) =>
                {
                    run.text = &text[from - run.text.len()..end];
                    run.script = run.script.or(script);
                }
                _ => runs.push(Run { font, script, text: part }),
            }
            from = end;
        };
        let font_of = |part: &str| order(face).into_iter().find(|&at| self.fonts[at].covers(part));
        for cluster in text.graphemes(true) {
            match font_of(cluster) {
                Some(font) => add(cluster, Some(font)),
                // No font has the whole of it: what there is of it is shown.
                None => {
                    let characters = cluster.char_indices().map(|(at, c)| &cluster[at..at + c.len_utf8()]);
                    characters.for_each(|character| add(character, font_of(character)));
                }
            }
        }
        runs
    }

    /// Tells `each` what stands where (a glyph of a font or nothing, its start, how far above the baseline, its
    /// advance); returns the whole advance.
    fn walked<'a>(
        &'a self,
        style: Style,
        line: &str,
        mut each: impl FnMut(Option<(&'a Font, GlyphId)>, f32, f32, f32),
    ) -> f32 {
        let mut x = 0.0;
        for run in self.runs(style.face, &shown(line)) {
            let Some(font) = run.font.map(|at| &self.fonts[at]) else {
                let advance = style.em * 0.62;
                each(None, x, 0.0, advance);
                x += advance;
                continue;
            };
            let texels = |units: i32| units as f32 * style.em / font.units_per_em;
            let shaped = font.shaped(run.text);
            for (info, at) in shaped.glyph_infos().iter().zip(shaped.glyph_positions()) {
                let glyph = Some((font, GlyphId::new(info.glyph_id)));
                let advance = texels(at.x_advance);
                each(glyph, x + texels(at.x_offset), texels(at.y_offset), advance);
                x += advance;
            }
        }
        x
    }
}

/// The fonts, by their place in [`FONTS`], in the order in which a face asks them.
fn order(face: Face) -> [usize; 2] {
    match face {
        Face::Words => [0, 1],
        Face::Numerals => [1, 0],
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
        _ => (text.graphemes(true).collect(), ""),
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Glyph and advance in units of the font, as HarfBuzz 15.0.0 gives them for the same font files (uharfbuzz
    /// 0.57.0, left to right, no language): kerned, joined, and with marks composed.
    #[test]
    fn glyphs_are_those_of_harfbuzz_and_stand_where_it_puts_them() {
        let faces = Faces::new().unwrap();
        let style = |face, em| Style { face, em, leading: 0, colour: Colour([0; 3]) };
        for (face, em, text, expected) in [
            (Face::Words, 1000.0, "AVTo", &[(36, 591.0), (57, 652.0), (55, 504.0), (82, 582.0)][..]),
            (Face::Words, 1000.0, "r,P,", &[(85, 330.0), (15, 246.0), (51, 514.0), (15, 246.0)]),
            (Face::Words, 1000.0, "cafe\u{301}", &[(70, 460.0), (68, 509.0), (73, 376.0), (196, 548.0)]),
            (Face::Words, 1000.0, "fi ffl", &[(428, 613.0), (3, 228.0), (432, 1007.0)]),
            (Face::Words, 1000.0, "Ταξ", &[(941, 514.0), (947, 598.0), (960, 459.0)]),
            (Face::Words, 1000.0, "Ноч", &[(732, 692.0), (765, 582.0), (774, 518.0)]),
            (Face::Numerals, 2048.0, "312", &[(558, 1233.0), (556, 1233.0), (557, 1233.0)]),
            // What the own face lacks comes from the other one.
            (Face::Words, 2048.0, "Հայ", &[(449, 1233.0), (472, 1233.0), (492, 1233.0)]),
            (Face::Words, 2048.0, "ქარ", &[(532, 1233.0), (511, 1233.0), (527, 1233.0)]),
        ] {
            let mut found = Vec::new();
            let mut starts = Vec::new();
            let width = faces.walked(style(face, em), text, |glyph, x, y, advance| {
                starts.push(x);
                assert_eq!(y, 0.0, "{text}");
                found.push((glyph.map_or(0, |(_, id)| id.to_u32()), advance));
            });
            assert_eq!(found, expected, "{text}");
            let mut x = 0.0;
            for (&(_, advance), start) in expected.iter().zip(starts) {
                assert_eq!(start, x, "{text}");
                x += advance;
            }
            assert_eq!(width, x, "{text}");
        }
    }

    #[test]
    fn what_a_cluster_has_is_shown_where_no_face_has_the_whole_of_it() {
        let faces = Faces::new().unwrap();
        let style = Style { face: Face::Words, em: 40.0, leading: 50, colour: Colour([0; 3]) };
        let boxes = |text: &str| {
            let marks = faces.set(style, text, 0.0, 40.0);
            let boxes = marks.iter().filter(|mark| matches!(mark, Mark::Box(..))).count();
            (marks.len() - boxes, boxes)
        };
        // Neither face has a circumflex to set; x with one is no character of its own, e with an acute is.
        assert_eq!(boxes("e\u{301}"), (1, 0));
        assert_eq!(boxes("x\u{302}"), (1, 1));
        assert_eq!(boxes("\u{6d77}\u{302}"), (0, 2));
        assert_eq!(boxes("quay \u{1f6a2}"), (4, 1));
        // A line breaks between letters, not between a letter and its mark.
        let lines = faces.wrapped(style, &"e\u{301}".repeat(12), 80.0);
        assert!(lines.len() > 1 && lines.iter().all(|line| line.starts_with('e')), "{lines:?}");
        assert_eq!(lines.concat(), "e\u{301}".repeat(12));
    }
}
