//! The map as a printed sheet: an SVG page of A4, taller where it has to be.
//!
//! The page is parted like the player: what the left hand plays stands left, what the right one plays stands
//! right. It is read in black and white; the two colours only help.

use std::fmt::Write as _;

use super::map::{Map, MapControl, Moved};
use crate::drawing::ink::OKABE_ITO;
use crate::drawing::markup::escaped;
use crate::drawing::svg::{Drawing, FACES, lines};
use crate::show::control::{Curve, Hand};

/// All lengths are millimetres.
const WIDTH: f64 = 210.0;
const LEAST_HEIGHT: f64 = 297.0;
const MARGIN: f64 = 15.0;
const GUTTER: f64 = 8.0;
const COLUMN: f64 = (WIDTH - 2.0 * MARGIN - GUTTER) / 2.0;
const INK: &str = "#111111";
const QUIET: &str = "#555555";
const HAIRLINE: &str = "#bbbbbb";
/// Side of a key, and how far words stand right of its left edge.
const KEY: f64 = 13.0;
const INDENT: f64 = 18.0;
/// Beats that the strip shows.
const STRIP_BEATS: f64 = 16.0;
const LANE: f64 = 6.0;

/// What the signs mean.
const LEGEND: &str = "One outline: on while pressed. Two: on until pressed again. A slot: stands anywhere. An arrow: fires an envelope.";

/// The sheet of a map, as the text of an SVG file.
pub fn svg(map: &Map) -> String {
    let mut page = Drawing::default();
    let mut y = header(&mut page, map);
    let top = y;
    for (n, hand) in [0.0, 1.0].into_iter().zip(Hand::ALL) {
        let left = MARGIN + n * (COLUMN + GUTTER);
        let colour = colour(hand);
        page.frame([left, top - 5.6], [COLUMN, 7.6], 0.0, &format!("fill=\"{colour}\""));
        let title = format!("{} hand", if hand == Hand::Left { "Left" } else { "Right" });
        page.text([left + 3.0, top], 4.6, "font-weight=\"700\" fill=\"#ffffff\"", &title);
        let mut bottom = top + 9.0;
        let played: Vec<&MapControl> = map.control.iter().filter(|c| c.hand == hand.name()).collect();
        for control in &played {
            bottom = card(&mut page, [left, bottom], control, &colour) + 5.0;
        }
        if played.is_empty() {
            page.text([left, bottom + 2.0], 3.6, &format!("fill=\"{QUIET}\""), "nothing to play");
            bottom += 8.0;
        }
        y = y.max(bottom);
    }
    y = strip(&mut page, map, y + 9.0);
    y = warnings(&mut page, map, y + 4.0);
    let height = LEAST_HEIGHT.max(y + 2.0 * MARGIN);
    page.text([MARGIN, height - 11.0], 2.8, &format!("fill=\"{QUIET}\""), LEGEND);
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{WIDTH}mm\" height=\"{height:.1}mm\" viewBox=\"0 0 {WIDTH} {height:.1}\" font-family=\"{FACES}\" fill=\"{INK}\">\n<title>{}</title>\n<rect width=\"100%\" height=\"100%\" fill=\"#ffffff\"/>\n{}</svg>\n",
        escaped(&map.show),
        page.body
    )
}

fn colour(hand: Hand) -> String {
    let [left, right] = [OKABE_ITO[4], OKABE_ITO[5]];
    match hand {
        Hand::Left => left,
        Hand::Right => right,
    }
    .to_string()
}

fn header(page: &mut Drawing, map: &Map) -> f64 {
    let whole = WIDTH - 2.0 * MARGIN;
    let y = page.wrapped([MARGIN, 24.0], whole, 9.0, "font-weight=\"700\"", &map.show);
    let facts = format!(
        "{} BPM, one beat {:.1} ms, {} frames per second, {} of 8 controls",
        map.tempo_bpm,
        map.beat_ms,
        map.rate,
        map.control.len()
    );
    page.text([MARGIN, y - 4.0], 3.8, &format!("fill=\"{QUIET}\""), &facts);
    page.line([MARGIN, y], [WIDTH - MARGIN, y], 0.7, INK);
    y + 12.0
}

/// One control: what plays it, then what it does. The y under it.
fn card(page: &mut Drawing, [left, top]: [f64; 2], control: &MapControl, colour: &str) -> f64 {
    page.stripe([left - 2.8, top], KEY, control.colour);
    key(page, [left, top], control, colour);
    let (x, width) = (left + INDENT, COLUMN - INDENT);
    let quiet = format!("fill=\"{QUIET}\"");
    let mut y = page.wrapped([x, top + 4.2], width, 4.6, "font-weight=\"700\"", &control.name);
    y = page.wrapped([x, y - 1.0], width, 3.2, &quiet, &kind_and_binding(control));
    if let Some(cue) = &control.cue {
        y = page.wrapped([x, y], width, 3.2, &quiet, cue);
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
        let words = format!("{} {} \u{2013} fires its envelope", fired.effect, fired.setting);
        y = page.wrapped([x, y], width, 3.4, "", &words);
        y = page.wrapped([x, y], width, 2.8, &quiet, &fired.scope) + 2.4;
    }
    page.line([left, y], [left + COLUMN, y], 0.2, HAIRLINE);
    y + 1.0
}

fn kind_and_binding(control: &MapControl) -> String {
    match &control.midi {
        Some(midi) => format!("{}, {midi}", control.kind),
        None => control.kind.to_owned(),
    }
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
    let (x, width) = (left + INDENT, COLUMN - INDENT);
    let curve = if moved.shape == Curve::Linear { String::new() } else { format!(", {}", moved.curve) };
    let words = format!(
        "{} {} \u{2013} {} to {}{curve}",
        moved.address.effect, moved.address.setting, moved.low, moved.high
    );
    let y = page.wrapped([x, y], width, 3.4, "", &words);
    page.wrapped([x, y], width, 2.8, &format!("fill=\"{QUIET}\""), &moved.address.scope) + 2.4
}

/// The first beats with the cues in them, a lane for each control that has one.
fn strip(page: &mut Drawing, map: &Map, top: f64) -> f64 {
    let cued: Vec<&MapControl> = map.control.iter().filter(|c| c.cue.is_some()).collect();
    if cued.is_empty() {
        return top;
    }
    page.text([MARGIN, top], 4.6, "font-weight=\"700\"", "When, beat by beat");
    let left = MARGIN + 42.0;
    let beat = (WIDTH - MARGIN - left) / STRIP_BEATS;
    let (lanes, bottom) = (top + 9.0, top + 9.0 + cued.len() as f64 * LANE);
    for n in 0..=STRIP_BEATS as u32 {
        let x = left + f64::from(n) * beat;
        let is_bar = n.is_multiple_of(4);
        page.line([x, lanes - 1.0], [x, bottom], if is_bar { 0.4 } else { 0.15 }, HAIRLINE);
        if is_bar && f64::from(n) < STRIP_BEATS {
            page.text([x + 0.6, lanes - 2.0], 2.8, &format!("fill=\"{QUIET}\""), &n.to_string());
        }
    }
    for (n, control) in cued.iter().enumerate() {
        let middle = lanes + (n as f64 + 0.5) * LANE;
        let hand = if control.hand == Hand::Left.name() { Hand::Left } else { Hand::Right };
        let name = lines(&control.name, 18).into_iter().next().unwrap_or_default();
        page.text([MARGIN, middle + 1.2], 3.4, "", &name);
        page.line([left, middle], [WIDTH - MARGIN, middle], 0.15, HAIRLINE);
        for at in control.cue_beats.iter().filter(|at| **at < STRIP_BEATS) {
            let colour = format!("fill=\"{}\"", colour(hand));
            page.frame([left + at * beat - 0.2, middle - 1.8], [1.6, 3.6], 0.4, &colour);
        }
    }
    bottom + 4.0
}

fn warnings(page: &mut Drawing, map: &Map, top: f64) -> f64 {
    if map.warning.is_empty() {
        return top;
    }
    let width = WIDTH - 2.0 * MARGIN;
    page.text([MARGIN, top + 4.0], 4.6, "font-weight=\"700\"", "Look at this again");
    let mut y = top + 10.5;
    for warning in &map.warning {
        page.text([MARGIN, y], 4.0, "font-weight=\"700\"", "!");
        y = page.wrapped([MARGIN + 4.0, y], width - 4.0, 3.4, "", warning) + 1.0;
    }
    y
}
