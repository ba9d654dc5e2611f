//! Where controls lie on the device, drawn on the map.

use super::map::{Map, MapControl};
use super::paper::{HAIRLINE, INK, MARGIN, QUIET, WIDTH, colour, fitted};
use crate::drawing::svg::{Drawing, lines};
use crate::show::control::Hand;

/// The widest side of a place, in millimetres, and how much of it a control takes.
const PLACE: f64 = 17.0;
const TAKEN: f64 = 0.82;
/// How high the drawing is at most.
const HIGHEST: f64 = 190.0;

/// Draws the grid; the y under it. Nothing where nobody knows where anything lies.
pub(super) fn draw(page: &mut Drawing, map: &Map, top: f64) -> f64 {
    let lies = |control: &'_ MapControl| control.at;
    let places: Vec<[u32; 2]> = map.control.iter().filter_map(lies).collect();
    let least = |n: usize| places.iter().map(|at| at[n]).min();
    let most = |n: usize| places.iter().map(|at| at[n]).max();
    let (Some(first), Some(last)) = (least(0).zip(least(1)), most(0).zip(most(1))) else { return top };
    let [columns, rows] = [last.0 - first.0 + 1, last.1 - first.1 + 1].map(f64::from);
    let side = PLACE.min((WIDTH - 2.0 * MARGIN - 8.0) / columns).min(HIGHEST / rows);
    let mut y = fitted(top, rows * side + 22.0);
    page.text([MARGIN, y], 4.6, "font-weight=\"700\"", "Where it lies");
    y += 8.0;
    let left = MARGIN + 8.0;
    let corner = |[column, row]: [u32; 2]| {
        [left + f64::from(column - first.0) * side, y + f64::from(row - first.1) * side]
    };
    let quiet = format!("fill=\"{QUIET}\" text-anchor=\"middle\"");
    for column in first.0..=last.0 {
        page.text([corner([column, first.1])[0] + side / 2.0, y - 1.6], 2.8, &quiet, &column.to_string());
    }
    for row in first.1..=last.1 {
        page.text([left - 4.0, corner([first.0, row])[1] + side / 2.0 + 1.0], 2.8, &quiet, &row.to_string());
        for column in first.0..=last.0 {
            let style = format!("fill=\"none\" stroke=\"{HAIRLINE}\" stroke-width=\"0.2\"");
            page.frame(corner([column, row]), [side, side], 0.0, &style);
        }
    }
    for near in &map.neighbours {
        let [a, b] = near.controls.map(|at| map.control[at].at.map(corner).unwrap_or_default());
        let middle = |[x, y]: [f64; 2]| [x + side / 2.0, y + side / 2.0];
        let (width, ink) = if near.meet { (1.4, colour(Hand::Right)) } else { (0.5, INK.to_owned()) };
        page.line(middle(a), middle(b), width, &ink);
    }
    for control in &map.control {
        let Some(at) = control.at else { continue };
        let hand = Hand::named(control.hand).unwrap_or(Hand::Either);
        let [x, y] = corner(at);
        let edge = side * (1.0 - TAKEN) / 2.0;
        let style = format!("fill=\"#ffffff\" stroke=\"{}\" stroke-width=\"0.7\"", colour(hand));
        page.frame([x + edge, y + edge], [side * TAKEN; 2], 1.6, &style);
        let size = (side / 6.0).min(2.8);
        let across = (side * TAKEN / (size * 0.6)) as usize;
        let style = "text-anchor=\"middle\"";
        for (nth, line) in lines(&control.name, across).into_iter().take(2).enumerate() {
            let down = edge + size * 1.4 + nth as f64 * size * 1.2;
            page.text([x + side / 2.0, y + down], size, style, &line);
        }
        let letter = control.key.clone().unwrap_or_default();
        let said = [hand.name(), letter.as_str()].join(" ");
        page.text([x + side / 2.0, y + side - edge - size * 0.6], size, style, said.trim());
    }
    let bottom = y + rows * side;
    let meet = map.neighbours.iter().any(|near| near.meet);
    let said = match (map.neighbours.is_empty(), meet) {
        (true, _) => "No two lie next to each other: one hand plays them one after the other.",
        (false, false) => "A line joins what lies next to each other: one hand plays both at once.",
        (false, true) => {
            "A line joins what lies next to each other: one hand plays both at once; a thick one, where two hands meet."
        }
    };
    page.wrapped([left, bottom + 4.5], WIDTH - 2.0 * MARGIN - 8.0, 2.8, &format!("fill=\"{QUIET}\""), said)
        + 2.0
}
