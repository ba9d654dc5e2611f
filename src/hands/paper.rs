//! The paper that maps are printed on: its sizes, its inks, and what stands whole on one page.

use crate::drawing::ink::OKABE_ITO;
use crate::show::control::Hand;

/// All lengths are millimetres: the width and the height of A4.
pub(super) const WIDTH: f64 = 210.0;
pub(super) const PAGE: f64 = 297.0;
pub(super) const MARGIN: f64 = 15.0;
/// What is kept free at the foot of a page.
const FOOT: f64 = 16.0;
pub(super) const INK: &str = "#111111";
pub(super) const QUIET: &str = "#555555";
pub(super) const HAIRLINE: &str = "#bbbbbb";

/// The y from which on something so high stands whole on one page.
pub(super) fn fitted(y: f64, height: f64) -> f64 {
    let page = (y / PAGE).floor();
    if y + height <= (page + 1.0) * PAGE - FOOT { y } else { (page + 1.0) * PAGE + MARGIN + 5.0 }
}

pub(super) fn colour(hand: Hand) -> String {
    let [left, right, either] = [OKABE_ITO[4], OKABE_ITO[5], OKABE_ITO[2]];
    match hand {
        Hand::Left => left,
        Hand::Right => right,
        Hand::Either => either,
    }
    .to_string()
}
