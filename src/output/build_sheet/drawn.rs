//! A build sheet as one page of A4.

use std::fmt::Write as _;

use super::{Asks, BuildSheet, BuildStep, CURVE_BEATS, PairSaid, ScopeSteps};
use crate::drawing::markup::escaped;
use crate::drawing::page::{Image, ImageError};
use crate::drawing::svg::{Drawing, FACES};
use crate::output::sections::SectionLines;

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

/// How the steps of a scope are set: in how many columns, with pictures how wide.
#[derive(Debug, Clone, Copy)]
struct Setting {
    columns: usize,
    picture: f64,
    /// Whether pictures are put in, or only their room is left: to see what fits.
    draws: bool,
}

impl Setting {
    /// From the largest pictures to the smallest.
    const ALL: [Self; 8] = [
        Self { columns: 1, picture: 112.0, draws: false },
        Self { columns: 1, picture: 96.0, draws: false },
        Self { columns: 1, picture: 80.0, draws: false },
        Self { columns: 1, picture: 66.0, draws: false },
        Self { columns: 1, picture: 56.0, draws: false },
        Self { columns: 2, picture: 48.0, draws: false },
        Self { columns: 2, picture: 42.0, draws: false },
        Self { columns: 2, picture: 36.0, draws: false },
    ];

    /// The width of a column.
    fn cell(self) -> f64 {
        let columns = self.columns as f64;
        (WIDTH - 2.0 * MARGIN - (columns - 1.0) * GUTTER) / columns
    }
}

/// The sheet, as the text of an SVG file of one A4 page: with the largest pictures that fit there; what is too long for
/// it all the same is drawn smaller.
///
/// # Errors
/// [`ImageError`] for a picture that cannot be encoded.
pub fn svg(sheet: &BuildSheet) -> Result<String, ImageError> {
    let mut chosen = Setting::ALL[0];
    for setting in Setting::ALL {
        chosen = setting;
        if page(sheet, setting)?.1 + 2.0 <= HEIGHT - MARGIN {
            break;
        }
    }
    let (page, y) = page(sheet, Setting { draws: true, ..chosen })?;
    // What is taller than the page is drawn smaller, so that it stays one page.
    Ok(drawn(sheet, &page, ((HEIGHT - MARGIN) / (y + 2.0)).min(1.0)))
}

/// The page so set, and where it ends.
fn page(sheet: &BuildSheet, setting: Setting) -> Result<(Drawing, f64), ImageError> {
    let mut page = Drawing::default();
    let quiet = format!("fill=\"{QUIET}\"");
    let whole = WIDTH - 2.0 * MARGIN;
    let mut y = page.wrapped([MARGIN, 20.0], whole, 7.5, "font-weight=\"700\"", &sheet.name);
    y = page.wrapped([MARGIN, y - 3.0], whole, 3.2, &quiet, &sheet.facts);
    y = page.wrapped(
        [MARGIN, y],
        whole,
        3.2,
        &quiet,
        "Build each scope in the order of its numbers: 1 is applied first and is under all others. Each picture is the output when the chain ends there.",
    );
    if !sheet.sections.is_empty() {
        y = sections(&mut page, y + 2.0, &sheet.sections);
    }
    for scope in &sheet.scopes {
        y = steps(&mut page, y + 2.0, scope, setting)?;
    }
    Ok((page, y))
}

fn drawn(sheet: &BuildSheet, page: &Drawing, scale: f64) -> String {
    let left = WIDTH * (1.0 - scale) / 2.0;
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{WIDTH}mm\" height=\"{HEIGHT}mm\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" font-family=\"{FACES}\" fill=\"{INK}\">\n<title>{}</title>\n<rect width=\"100%\" height=\"100%\" fill=\"#ffffff\"/>\n<g transform=\"translate({left:.2} 0) scale({scale:.4})\">\n{}</g>\n</svg>\n",
        escaped(&sheet.name),
        page.body
    )
}

/// The sections of the set, in three columns.
fn sections(page: &mut Drawing, top: f64, sections: &[SectionLines]) -> f64 {
    page.line([MARGIN, top], [WIDTH - MARGIN, top], 0.5, INK);
    page.text([MARGIN, top + 5.2], 4.2, "font-weight=\"700\"", "Sections of the set");
    let column_width = (WIDTH - 2.0 * MARGIN - 2.0 * GUTTER) / 3.0;
    let mut y = top + 8.0;
    for row in sections.chunks(3) {
        let mut bottom = y;
        for (column, section) in row.iter().enumerate() {
            let left = MARGIN + column as f64 * (column_width + GUTTER);
            let mut y =
                page.wrapped([left, y + 2.4], column_width, 2.9, "font-weight=\"700\"", &section.heading);
            for line in &section.lines {
                y = page.wrapped([left, y - 0.4], column_width, 2.7, "", line);
            }
            bottom = bottom.max(y);
        }
        y = bottom + 0.5;
    }
    y
}

fn steps(page: &mut Drawing, top: f64, scope: &ScopeSteps, setting: Setting) -> Result<f64, ImageError> {
    page.line([MARGIN, top], [WIDTH - MARGIN, top], 0.5, INK);
    page.stripe([MARGIN - 2.8, top + 1.4], 5.0, scope.colour);
    page.text([MARGIN, top + 5.2], 4.2, "font-weight=\"700\"", &scope.place);
    let mut y = top + 8.0;
    for (row, side_by_side) in scope.steps.chunks(setting.columns).enumerate() {
        let mut bottom = y;
        for (column, found) in side_by_side.iter().enumerate() {
            let left = MARGIN + column as f64 * (setting.cell() + GUTTER);
            let number = row * setting.columns + column + 1;
            bottom = bottom.max(step(page, [left, y], number, found, setting)?);
        }
        y = bottom + 2.5;
    }
    Ok(pairs(page, y, &scope.pairs))
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
        let height = width * f64::from(picture.height()) / f64::from(picture.width().max(1));
        if setting.draws {
            // At 225 to the inch.
            let texels = ((width / 25.4 * 225.0) as u32).clamp(1, picture.width().max(1));
            let tall = (texels * picture.height() / picture.width().max(1)).max(1);
            let image = Image::of(&image::imageops::thumbnail(picture, texels, tall), &step.effect)?;
            // A white picture has an edge, too.
            let _ = writeln!(
                page.body,
                "<image x=\"{left:.2}\" y=\"{top:.2}\" width=\"{width}\" height=\"{height:.2}\" href=\"{}\"/>\n<rect x=\"{left:.2}\" y=\"{top:.2}\" width=\"{width}\" height=\"{height:.2}\" fill=\"none\" stroke=\"{HAIRLINE}\" stroke-width=\"0.15\"/>",
                image.uri()
            );
        }
        bottom += height;
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
fn pairs(page: &mut Drawing, top: f64, pairs: &[PairSaid]) -> f64 {
    if pairs.is_empty() {
        return top;
    }
    let mut bottom = top;
    let column_width = (WIDTH - 2.0 * MARGIN - 2.0 * GUTTER) / 3.0;
    for (column, (asks, heading)) in Asks::HEADINGS.into_iter().enumerate() {
        let sign = match asks {
            Asks::Nothing => "=",
            Asks::Little => "\u{2248}",
            Asks::Order => "\u{2260}",
        };
        let left = MARGIN + column as f64 * (column_width + GUTTER);
        let heading = format!("{sign}  {heading}");
        let mut y = page.wrapped([left, top + 3.0], column_width, 3.0, "font-weight=\"700\"", &heading);
        let chosen: Vec<&PairSaid> = pairs.iter().filter(|pair| pair.asks() == asks).collect();
        for pair in &chosen {
            y = page.wrapped([left + 4.0, y], column_width - 4.0, 2.7, "", &pair.to_string());
        }
        if chosen.is_empty() {
            page.text([left + 4.0, y], 2.7, &format!("fill=\"{QUIET}\""), "no pair");
            y += 3.7;
        }
        bottom = bottom.max(y);
    }
    page.line([MARGIN, top - 1.0], [WIDTH - MARGIN, top - 1.0], 0.15, HAIRLINE);
    bottom
}
