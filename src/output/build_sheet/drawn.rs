//! A build sheet as pages of A4.

use std::fmt::Write as _;

use image::RgbaImage;

use super::{Asks, BuildSheet, BuildStep, CURVE_BEATS, PairSaid, Part, ScopeSteps};
use crate::drawing::markup::escaped;
use crate::drawing::page::{Image, ImageError};
use crate::drawing::svg::{Drawing, FACES};

/// All lengths are millimetres.
const WIDTH: f64 = 210.0;
const HEIGHT: f64 = 297.0;
const MARGIN: f64 = 13.0;
const GUTTER: f64 = 6.0;
const INK: &str = "#111111";
const QUIET: &str = "#555555";
const HAIRLINE: &str = "#bbbbbb";
/// Blue of Okabe and Ito: only the curves.
const CURVE: &str = "#0072b2";

/// Where a page begins, and where what stands on it ends.
const TOP: f64 = 18.0;
const BOTTOM: f64 = HEIGHT - MARGIN - 2.0;
/// Columns of what is set up before any effect.
const PARTS_BESIDE: usize = 3;
/// Pairs that stand in one block.
const PAIRS_IN_BLOCK: usize = 24;

/// How the steps of a scope are set: in how many columns, with pictures how wide.
#[derive(Debug, Clone, Copy)]
struct Setting {
    columns: usize,
    picture: f64,
    /// Whether pictures are put in, or only their room is left: to see what fits.
    draws: bool,
}

impl Setting {
    /// From the largest pictures to the smallest at which a sheet may be one page.
    const ALL: [Self; 7] = [
        Self { columns: 1, picture: 112.0, draws: false },
        Self { columns: 1, picture: 96.0, draws: false },
        Self { columns: 1, picture: 80.0, draws: false },
        Self { columns: 1, picture: 66.0, draws: false },
        Self { columns: 1, picture: 56.0, draws: false },
        Self { columns: 2, picture: 48.0, draws: false },
        Self { columns: 2, picture: 42.0, draws: false },
    ];
    /// Where it takes several pages all the same.
    const SEVERAL: Self = Self { columns: 2, picture: 48.0, draws: false };

    /// The width of a column.
    fn cell(self) -> f64 {
        column(self.columns)
    }
}

/// The width of one of so many columns.
fn column(columns: usize) -> f64 {
    let columns = columns as f64;
    (WIDTH - 2.0 * MARGIN - (columns - 1.0) * GUTTER) / columns
}

/// Pages that are filled block by block: a block that has no room goes onto the next one whole.
struct Pages {
    setting: Setting,
    full: Vec<Drawing>,
    page: Drawing,
    y: f64,
    /// What goes on where a block that continues something comes to stand on a new page.
    continues: Option<String>,
}

impl Pages {
    fn new(setting: Setting) -> Self {
        Self { setting, full: Vec::new(), page: Drawing::default(), y: TOP, continues: None }
    }

    /// Puts in a block, so far under the last one; `draw` draws it from a height on, and gives where it ends.
    fn put(
        &mut self,
        gap: f64,
        draw: impl Fn(&mut Drawing, f64, Setting) -> Result<f64, ImageError>,
    ) -> Result<(), ImageError> {
        let room_only = Setting { draws: false, ..self.setting };
        let tall = draw(&mut Drawing::default(), 0.0, room_only)?;
        if self.y + gap + tall > BOTTOM && self.y > TOP {
            self.full.push(std::mem::take(&mut self.page));
            self.y = TOP;
            if let Some(words) = &self.continues {
                let quiet = format!("fill=\"{QUIET}\"");
                self.y = self.page.wrapped([MARGIN, TOP], WIDTH - 2.0 * MARGIN, 3.2, &quiet, words);
            }
        }
        let top = if self.y > TOP { self.y + gap } else { self.y };
        let mut block = Drawing::default();
        let bottom = draw(&mut block, top, self.setting)?;
        // What is taller than a whole page is drawn smaller.
        let scale = ((BOTTOM - top) / (bottom - top)).min(1.0);
        if scale < 1.0 {
            let at = top * (1.0 - scale);
            let left = WIDTH * (1.0 - scale) / 2.0;
            let words = format!(
                "<g transform=\"translate({left:.2} {at:.2}) scale({scale:.4})\">\n{}</g>\n",
                block.body
            );
            self.page.body += &words;
        } else {
            self.page.body += &block.body;
        }
        self.y = bottom.min(BOTTOM);
        Ok(())
    }

    fn done(mut self) -> Vec<Drawing> {
        self.full.push(self.page);
        self.full
    }
}

/// The pages of a sheet, each the text of an SVG file of one page of A4.
struct Drawn {
    name: String,
    pages: Vec<Drawing>,
}

impl Drawn {
    /// One page, with the largest pictures that fit there; where none does, as many as it takes, with pictures that
    /// can be seen.
    fn of(sheet: &BuildSheet) -> Result<Self, ImageError> {
        let mut chosen = Setting::SEVERAL;
        for setting in Setting::ALL {
            if filled(sheet, setting)?.len() == 1 {
                chosen = setting;
                break;
            }
        }
        let mut pages = filled(sheet, Setting { draws: true, ..chosen })?;
        let count = pages.len();
        for (at, page) in pages.iter_mut().enumerate().filter(|_| count > 1) {
            let words = format!("{}, page {} of {count}", sheet.name, at + 1);
            page.text([MARGIN, HEIGHT - 7.0], 2.8, &format!("fill=\"{QUIET}\""), &words);
        }
        Ok(Self { name: sheet.name.clone(), pages })
    }

    /// Pages `pages` of it one below the other, as one drawing.
    fn svg(&self, pages: std::ops::Range<usize>) -> String {
        let tall = HEIGHT * pages.len() as f64;
        let mut body = String::new();
        for (at, page) in self.pages[pages].iter().enumerate() {
            let top = HEIGHT * at as f64;
            let _ = write!(body, "<g transform=\"translate(0 {top})\">\n{}</g>\n", page.body);
            if at > 0 {
                let _ = writeln!(
                    body,
                    "<line x1=\"0\" y1=\"{top}\" x2=\"{WIDTH}\" y2=\"{top}\" stroke=\"{HAIRLINE}\" stroke-width=\"0.3\"/>"
                );
            }
        }
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{WIDTH}mm\" height=\"{tall}mm\" viewBox=\"0 0 {WIDTH} {tall}\" font-family=\"{FACES}\" fill=\"{INK}\">\n<title>{}</title>\n<rect width=\"100%\" height=\"100%\" fill=\"#ffffff\"/>\n{body}</svg>\n",
            escaped(&self.name)
        )
    }
}

/// The sheet, as the text of an SVG file: its pages of A4, one below the other.
///
/// # Errors
/// [`ImageError`] for a picture that cannot be encoded.
pub fn svg(sheet: &BuildSheet) -> Result<String, ImageError> {
    let drawn = Drawn::of(sheet)?;
    Ok(drawn.svg(0..drawn.pages.len()))
}

/// The sheet as a page for a browser, which prints it as one page of A4 after the other.
///
/// # Errors
/// [`ImageError`] for a picture that cannot be encoded.
pub fn html(sheet: &BuildSheet) -> Result<String, ImageError> {
    let drawn = Drawn::of(sheet)?;
    let pages: String = (0..drawn.pages.len()).map(|at| drawn.svg(at..at + 1)).collect();
    Ok(format!(
        "<!doctype html>\n<html lang=\"en\">\n<meta charset=\"utf-8\">\n<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; style-src 'unsafe-inline'\">\n<title>{}</title>\n<style>@page {{ size: A4; margin: 0 }} body {{ margin: 0; background: #888888 }} svg {{ display: block; width: 210mm; height: 297mm; margin: 0 auto 4mm }} @media print {{ body {{ background: none }} svg {{ margin: 0; break-after: page }} svg:last-of-type {{ break-after: auto }} }}</style>\n{pages}</html>\n",
        escaped(&sheet.name)
    ))
}

/// The pages so set.
fn filled(sheet: &BuildSheet, setting: Setting) -> Result<Vec<Drawing>, ImageError> {
    let mut pages = Pages::new(setting);
    let quiet = format!("fill=\"{QUIET}\"");
    let whole = WIDTH - 2.0 * MARGIN;
    pages.put(0.0, |page, top, _| {
        let y = page.wrapped([MARGIN, top + 2.0], whole, 7.5, "font-weight=\"700\"", &sheet.name);
        let y = page.wrapped([MARGIN, y - 3.0], whole, 3.2, &quiet, &sheet.facts);
        Ok(page.wrapped([MARGIN, y], whole, 3.2, &quiet, HOW_TO_BUILD))
    })?;
    for (title, list) in [
        ("Bundles, levels and clips, the topmost first", &sheet.rig),
        ("Sections of the set", &sheet.sections),
        ("What hands play", &sheet.controls),
    ] {
        parts(&mut pages, title, list)?;
    }
    for scope in &sheet.scopes {
        steps(&mut pages, scope)?;
    }
    Ok(pages.done())
}

/// What is said under the name.
const HOW_TO_BUILD: &str = "Build each scope in the order of its numbers: 1 is applied first and is under all others. Each picture is the output when the chain ends there.";

/// What is set up before any effect, side by side under a title.
fn parts(pages: &mut Pages, title: &str, parts: &[Part]) -> Result<(), ImageError> {
    pages.continues = None;
    for (row, side_by_side) in parts.chunks(PARTS_BESIDE).enumerate() {
        let gap = if row == 0 { 2.0 } else { 0.5 };
        pages.put(gap, |page, top, setting| {
            let mut y = top;
            if row == 0 {
                page.line([MARGIN, top], [WIDTH - MARGIN, top], 0.5, INK);
                page.text([MARGIN, top + 5.2], 4.2, "font-weight=\"700\"", title);
                y += 8.0;
            }
            let width = column(PARTS_BESIDE);
            let mut bottom = y;
            for (place, part) in side_by_side.iter().enumerate() {
                let left = MARGIN + place as f64 * (width + GUTTER);
                bottom = bottom.max(self::part(page, [left, y], width, part, setting)?);
            }
            Ok(bottom)
        })?;
        pages.continues = Some(format!("{title}, continued"));
    }
    Ok(())
}

fn part(
    page: &mut Drawing,
    [left, top]: [f64; 2],
    width: f64,
    part: &Part,
    setting: Setting,
) -> Result<f64, ImageError> {
    let mut y = top;
    if let Some(picture) = &part.picture {
        y = picture_at(page, [left, y], width, (picture, &part.heading), setting)? + 1.0;
    }
    page.stripe([left - 2.4, y + 0.2], 3.0, part.colour);
    y = page.wrapped([left, y + 2.4], width, 2.9, "font-weight=\"700\"", &part.heading);
    for line in &part.lines {
        y = page.wrapped([left, y - 0.4], width, 2.7, "", line);
    }
    Ok(y)
}

/// A picture so wide, and where it ends.
fn picture_at(
    page: &mut Drawing,
    [left, top]: [f64; 2],
    width: f64,
    (picture, called): (&RgbaImage, &str),
    setting: Setting,
) -> Result<f64, ImageError> {
    let height = width * f64::from(picture.height()) / f64::from(picture.width().max(1));
    if setting.draws {
        // At 225 to the inch.
        let texels = ((width / 25.4 * 225.0) as u32).clamp(1, picture.width().max(1));
        let tall = (texels * picture.height() / picture.width().max(1)).max(1);
        let image = Image::of(&image::imageops::thumbnail(picture, texels, tall), called)?;
        // A white picture has an edge, too.
        let _ = writeln!(
            page.body,
            "<image x=\"{left:.2}\" y=\"{top:.2}\" width=\"{width:.2}\" height=\"{height:.2}\" href=\"{}\"/>\n<rect x=\"{left:.2}\" y=\"{top:.2}\" width=\"{width:.2}\" height=\"{height:.2}\" fill=\"none\" stroke=\"{HAIRLINE}\" stroke-width=\"0.15\"/>",
            image.uri()
        );
    }
    Ok(top + height)
}

fn steps(pages: &mut Pages, scope: &ScopeSteps) -> Result<(), ImageError> {
    pages.continues = None;
    for (row, side_by_side) in scope.steps.chunks(pages.setting.columns).enumerate() {
        pages.put(if row == 0 { 4.0 } else { 2.5 }, |page, top, setting| {
            let mut y = top;
            if row == 0 {
                page.line([MARGIN, top], [WIDTH - MARGIN, top], 0.5, INK);
                page.stripe([MARGIN - 2.8, top + 1.4], 5.0, scope.colour);
                page.text([MARGIN, top + 5.2], 4.2, "font-weight=\"700\"", &scope.place);
                y += 8.0;
            }
            let mut bottom = y;
            for (place, found) in side_by_side.iter().enumerate() {
                let left = MARGIN + place as f64 * (setting.cell() + GUTTER);
                let number = row * setting.columns + place + 1;
                bottom = bottom.max(step(page, [left, y], number, found, setting)?);
            }
            Ok(bottom)
        })?;
        pages.continues = Some(format!("{}, continued", scope.place));
    }
    pairs(pages, &scope.pairs)
}

fn step(
    page: &mut Drawing,
    [left, top]: [f64; 2],
    number: usize,
    step: &BuildStep,
    setting: Setting,
) -> Result<f64, ImageError> {
    let mut bottom = top;
    let mut words = left;
    if let Some(picture) = &step.picture {
        let width = setting.picture;
        bottom = picture_at(page, [left, top], width, (picture, &step.effect), setting)?;
        words += width + 3.0;
    }
    let width = left + setting.cell() - words;
    let mut y = page.wrapped(
        [words, top + 3.0],
        width,
        3.8,
        "font-weight=\"700\"",
        &format!("{number}. {}", step.effect),
    );
    for setting in &step.settings {
        y = page.wrapped([words, y - 0.4], width, 2.8, "", setting);
    }
    for (name, curve) in &step.curves {
        let (from, high) = (words + 25.0, 4.0);
        let across = (width - 26.0).max(4.0) / curve.len().saturating_sub(1).max(1) as f64;
        let label = format!("{name}, {CURVE_BEATS} beats");
        page.text([words, y + 2.6], 2.3, &format!("fill=\"{QUIET}\""), &label);
        let points: Vec<String> = curve
            .iter()
            .enumerate()
            .map(|(at, up)| format!("{:.2},{:.2}", from + at as f64 * across, y + high - up * high))
            .collect();
        let _ = writeln!(
            page.body,
            "<polyline points=\"{}\" fill=\"none\" stroke=\"{CURVE}\" stroke-width=\"0.35\"/>",
            points.join(" ")
        );
        y += high + 2.5;
    }
    Ok(bottom.max(y - 2.5))
}

/// What may be swapped, where it hardly shows, and what must not be swapped, beside each other.
fn pairs(pages: &mut Pages, pairs: &[PairSaid]) -> Result<(), ImageError> {
    let columns = Asks::HEADINGS.map(|(asks, heading)| {
        let sign = match asks {
            Asks::Nothing => "=",
            Asks::Little => "\u{2248}",
            Asks::Order => "\u{2260}",
        };
        let chosen: Vec<&PairSaid> = pairs.iter().filter(|pair| pair.asks() == asks).collect();
        (format!("{sign}  {heading}"), chosen)
    });
    let most = columns.iter().map(|(_, chosen)| chosen.len()).max().unwrap_or(0);
    for from in (0..most).step_by(PAIRS_IN_BLOCK) {
        pages.put(if from == 0 { 2.5 } else { 0.0 }, |page, top, _| {
            if from == 0 {
                page.line([MARGIN, top - 1.0], [WIDTH - MARGIN, top - 1.0], 0.15, HAIRLINE);
            }
            let width = column(columns.len());
            let mut bottom = top;
            for (place, (heading, chosen)) in columns.iter().enumerate() {
                let left = MARGIN + place as f64 * (width + GUTTER);
                let mut y = top;
                if from == 0 {
                    y = page.wrapped([left, top + 3.0], width, 3.0, "font-weight=\"700\"", heading);
                    if chosen.is_empty() {
                        page.text([left + 4.0, y], 2.7, &format!("fill=\"{QUIET}\""), "no pair");
                        y += 3.7;
                    }
                }
                for pair in chosen.iter().skip(from).take(PAIRS_IN_BLOCK) {
                    y = page.wrapped([left + 4.0, y], width - 4.0, 2.7, "", &pair.to_string());
                }
                bottom = bottom.max(y);
            }
            Ok(bottom)
        })?;
    }
    Ok(())
}
