//! The map as a printed sheet: an SVG drawing of as many A4 pages, one under the other, as it needs.
//!
//! A page is parted like the player: what the left hand plays stands left, what the right one plays stands right, what
//! either plays below both. It is read in black and white; the colours only help. Nothing stands across the edge of two
//! pages.

use std::fmt::Write as _;

use super::device;
use super::map::{Map, MapControl, Moved};
use super::paper::{HAIRLINE, INK, MARGIN, PAGE, QUIET, WIDTH, colour, fitted};
use super::strip;
use crate::drawing::markup::escaped;
use crate::drawing::svg::{Drawing, FACES};
use crate::show::control::{Curve, Hand};

const GUTTER: f64 = 8.0;
const COLUMN: f64 = (WIDTH - 2.0 * MARGIN - GUTTER) / 2.0;
/// Side of a key, and how far words stand right of its left edge.
const KEY: f64 = 13.0;
const INDENT: f64 = 18.0;

/// What the signs mean.
const LEGEND: &str = "One outline: on while pressed. Two: on until pressed again. A slot: stands anywhere. An arrow: fires an envelope.";

/// The sheet of a map, as the text of an SVG file.
pub fn svg(map: &Map) -> String {
    let mut page = Drawing::default();
    let mut y = header(&mut page, map);
    let top = y;
    for (n, hand) in [0.0, 1.0].into_iter().zip([Hand::Left, Hand::Right]) {
        let left = MARGIN + n * (COLUMN + GUTTER);
        title(&mut page, [left, top], COLUMN, hand);
        let mut bottom = top + 9.0;
        let played: Vec<&MapControl> = of_hand(map, hand).collect();
        for control in &played {
            bottom = whole_card(&mut page, [left, bottom], control, hand);
        }
        if played.is_empty() {
            page.text([left, bottom + 2.0], 3.6, &format!("fill=\"{QUIET}\""), "nothing to play");
            bottom += 8.0;
        }
        y = y.max(bottom);
    }
    let either: Vec<&MapControl> = of_hand(map, Hand::Either).collect();
    if !either.is_empty() {
        let top = fitted(y + 6.0, 40.0);
        title(&mut page, [MARGIN, top], WIDTH - 2.0 * MARGIN, Hand::Either);
        let mut bottoms = [top + 9.0; 2];
        for control in either {
            let n = usize::from(bottoms[1] < bottoms[0]);
            let left = MARGIN + n as f64 * (COLUMN + GUTTER);
            bottoms[n] = whole_card(&mut page, [left, bottoms[n]], control, Hand::Either);
        }
        y = bottoms[0].max(bottoms[1]);
    }
    y = device::draw(&mut page, map, y + 7.0);
    y = strip::draw(&mut page, map, y + 7.0);
    y = points(&mut page, "Look at this again", &map.warning, y + 4.0);
    let alone = if map.one_handed.is_empty() && map.control.iter().any(|control| control.cue.is_some()) {
        page.text([MARGIN, fitted(y + 5.0, 6.0)], 3.6, "", "One hand alone can play every cue.");
        fitted(y + 5.0, 6.0) + 5.0
    } else {
        points(&mut page, "With one hand alone", &map.one_handed, y + 2.0)
    };
    let pages = ((alone + 1.0) / PAGE).ceil().max(1.0);
    let height = pages * PAGE;
    for n in 1..=pages as u32 {
        let foot = f64::from(n) * PAGE - 9.0;
        page.text([MARGIN, foot], 2.8, &format!("fill=\"{QUIET}\""), LEGEND);
        if pages > 1.0 {
            let said = format!("{n} of {pages}");
            page.text([WIDTH - MARGIN, foot], 2.8, &format!("fill=\"{QUIET}\" text-anchor=\"end\""), &said);
        }
    }
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{WIDTH}mm\" height=\"{height:.1}mm\" viewBox=\"0 0 {WIDTH} {height:.1}\" font-family=\"{FACES}\" fill=\"{INK}\">\n<title>{}</title>\n<rect width=\"100%\" height=\"100%\" fill=\"#ffffff\"/>\n{}</svg>\n",
        escaped(&map.show),
        page.body
    )
}

fn of_hand(map: &Map, hand: Hand) -> impl Iterator<Item = &MapControl> {
    map.control.iter().filter(move |control| control.hand == hand.name())
}

/// "Left hand", "Either hand".
fn hand_said(hand: Hand) -> &'static str {
    match hand {
        Hand::Left => "Left hand",
        Hand::Right => "Right hand",
        Hand::Either => "Either hand",
    }
}

fn title(page: &mut Drawing, [left, y]: [f64; 2], width: f64, hand: Hand) {
    page.frame([left, y - 5.6], [width, 7.6], 0.0, &format!("fill=\"{}\"", colour(hand)));
    page.text([left + 3.0, y], 4.6, "font-weight=\"700\" fill=\"#ffffff\"", hand_said(hand));
}

fn header(page: &mut Drawing, map: &Map) -> f64 {
    let whole = WIDTH - 2.0 * MARGIN;
    let y = page.wrapped([MARGIN, 24.0], whole, 9.0, "font-weight=\"700\"", &map.show);
    let facts = format!(
        "{} BPM, one beat {:.1} ms, {} frames per second, {} of 8 controls, {} ms from one to another",
        map.tempo_bpm,
        map.beat_ms,
        map.rate,
        map.control.len(),
        map.reach_ms
    );
    let y = page.wrapped([MARGIN, y - 4.0], whole, 3.4, &format!("fill=\"{QUIET}\""), &facts) - 1.0;
    page.line([MARGIN, y], [WIDTH - MARGIN, y], 0.7, INK);
    y + 12.0
}

/// A card that stands whole on one page. The y of the next.
fn whole_card(page: &mut Drawing, [left, top]: [f64; 2], control: &MapControl, hand: Hand) -> f64 {
    let colour = colour(hand);
    let height = card(&mut Drawing::default(), [left, 0.0], control, &colour);
    let top = fitted(top, height);
    card(page, [left, top], control, &colour) + 5.0
}

/// One control: what plays it, then what it does. The y under it.
fn card(page: &mut Drawing, [left, top]: [f64; 2], control: &MapControl, colour: &str) -> f64 {
    page.stripe([left - 2.8, top], KEY, control.colour);
    key(page, [left, top], control, colour);
    let (x, width) = (left + INDENT, COLUMN - INDENT);
    let quiet = format!("fill=\"{QUIET}\"");
    let mut y = page.wrapped([x, top + 4.2], width, 4.6, "font-weight=\"700\"", &control.name);
    y = page.wrapped([x, y - 1.0], width, 3.2, &quiet, &kind_and_binding(control));
    if control.cue.is_some() {
        y = page.wrapped([x, y], width, 3.2, &quiet, &cue_said(control));
    }
    y = y.max(top + KEY + 1.0) + 5.0;
    for moved in &control.moves {
        y = setting(page, [left, y], moved, colour);
    }
    for fired in &control.fires {
        page.text(
            [left + KEY / 2.0 - 1.0, y + 0.6],
            4.4,
            &format!("font-weight=\"700\" fill=\"{colour}\""),
            "\u{2191}",
        );
        let words = format!("{} \u{2013} fires its envelope", fired.what);
        y = page.wrapped([x, y], width, 3.4, "", &words);
        y = page.wrapped([x, y], width, 2.8, &quiet, fired.scope.as_deref().unwrap_or_default()) + 2.4;
    }
    page.line([left, y], [left + COLUMN, y], 0.2, HAIRLINE);
    y + 1.0
}

/// When it is played; of very many beats, how many.
fn cue_said(control: &MapControl) -> String {
    const MOST: usize = 120;
    match &control.cue {
        Some(cue) if cue.chars().count() <= MOST => cue.clone(),
        Some(_) => format!("at {} beats: see below", control.plays.len()),
        None => String::new(),
    }
}

fn kind_and_binding(control: &MapControl) -> String {
    let at = control.at.map(|[column, row]| format!("column {column}, row {row}"));
    let parts = [Some(control.kind.to_owned()), control.midi.clone(), at];
    parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
}

/// The form of a key says how it answers: one outline is momentary, two are latching, a slot is continuous.
fn key(page: &mut Drawing, [left, top]: [f64; 2], control: &MapControl, colour: &str) {
    let outline = format!("fill=\"none\" stroke=\"{colour}\" stroke-width=\"0.7\"");
    if control.kind == "continuous" {
        let middle = left + KEY / 2.0;
        page.frame([middle - 1.2, top], [2.4, KEY], 1.2, &outline);
        page.frame([middle - 4.0, top + 3.4], [8.0, 3.0], 0.6, &format!("fill=\"{colour}\""));
        return;
    }
    page.frame([left, top], [KEY, KEY], 2.0, &outline);
    if control.kind == "latching" {
        page.frame([left + 1.3, top + 1.3], [KEY - 2.6, KEY - 2.6], 1.2, &outline);
    }
    if let Some(key) = &control.key {
        let style = "font-weight=\"700\" text-anchor=\"middle\"";
        page.text([left + KEY / 2.0, top + KEY / 2.0 + 2.4], 6.6, style, key);
    }
}

fn setting(page: &mut Drawing, [left, y]: [f64; 2], moved: &Moved, colour: &str) -> f64 {
    if !moved.is_word {
        // The curve, as a graph of the control's way across and the setting's way up.
        let [width, height] = [7.0, 4.6];
        let points: Vec<String> = (0..=14)
            .map(|n| {
                let t = f64::from(n) / 14.0;
                let [x, up] = [left + 3.0 + t * width, y + 1.0 - moved.shape.at(t) * height];
                format!("{x:.2},{up:.2}")
            })
            .collect();
        page.line([left + 3.0, y + 1.0], [left + 3.0 + width, y + 1.0], 0.15, HAIRLINE);
        let _ = writeln!(
            page.body,
            "<polyline points=\"{}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"0.5\"/>",
            points.join(" ")
        );
    }
    let (x, width) = (left + INDENT, COLUMN - INDENT);
    let range = if moved.is_word {
        moved.high.clone()
    } else {
        let curve = if moved.shape == Curve::Linear { String::new() } else { format!(", {}", moved.curve) };
        format!("{} to {}{curve}", moved.low, moved.high)
    };
    let words = format!("{} \u{2013} {range}", moved.address.what);
    let y = page.wrapped([x, y], width, 3.4, "", &words);
    let scope = moved.address.scope.as_deref().unwrap_or("the whole show");
    page.wrapped([x, y], width, 2.8, &format!("fill=\"{QUIET}\""), scope) + 2.4
}

/// A list under a heading; nothing where it is empty.
fn points(page: &mut Drawing, heading: &str, points: &[String], top: f64) -> f64 {
    if points.is_empty() {
        return top;
    }
    let width = WIDTH - 2.0 * MARGIN;
    let mut y = fitted(top + 4.0, 18.0);
    page.text([MARGIN, y], 4.6, "font-weight=\"700\"", heading);
    y += 6.5;
    for point in points {
        let height = Drawing::default().wrapped([0.0, 0.0], width - 4.0, 3.4, "", point);
        y = fitted(y, height);
        page.text([MARGIN, y], 4.0, "font-weight=\"700\"", "!");
        y = page.wrapped([MARGIN + 4.0, y], width - 4.0, 3.4, "", point) + 1.0;
    }
    y
}
