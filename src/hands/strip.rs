//! When controls are played, beat by beat, over all that is laid out.

use super::map::{Map, MapControl, MapPlay};
use super::paper::{HAIRLINE, INK, MARGIN, QUIET, WIDTH, colour, fitted};
use crate::drawing::svg::{Drawing, lines};
use crate::show::clash::BAR_BEATS;
use crate::show::control::Hand;

/// How high a lane is, in millimetres, and how high what stands above the lanes of a row.
const LANE: f64 = 5.4;
const ABOVE: f64 = 9.0;
const GAP: f64 = 6.0;
/// Where lanes begin, after their names.
const LEFT: f64 = MARGIN + 36.0;
/// The least width of a press.
const PRESS: f64 = 1.2;

/// Draws the rows; the y under them. Nothing where there is no cue.
pub(super) fn draw(page: &mut Drawing, map: &Map, top: f64) -> f64 {
    if map.control.iter().all(|control| control.plays.is_empty()) {
        return top;
    }
    let a_row = match map.beats {
        beats if beats <= 16.0 => 16.0,
        beats if beats <= 128.0 => 32.0,
        _ => 64.0,
    };
    let rows = (map.beats / a_row).ceil() as usize;
    let mut y = top;
    for nth in 0..rows {
        let from = nth as f64 * a_row;
        let row = Row { map, from, to: (from + a_row).min(map.beats), beat: (WIDTH - MARGIN - LEFT) / a_row };
        let height = row.height() + if nth == 0 { 6.0 } else { 0.0 };
        y = fitted(y, height);
        if nth == 0 {
            let said = match map.section.is_empty() {
                true => "When, beat by beat",
                false => "When, beat by beat of the running order",
            };
            page.text([MARGIN, y], 4.6, "font-weight=\"700\"", said);
            y += 6.0;
        }
        y = row.draw(page, y);
    }
    y
}

/// So many beats of the strip.
struct Row<'a> {
    map: &'a Map,
    from: f64,
    to: f64,
    /// How wide a beat is.
    beat: f64,
}

impl Row<'_> {
    fn plays<'c>(&self, control: &'c MapControl) -> Vec<&'c MapPlay> {
        let is_in = |play: &&MapPlay| play.from < self.to && (play.to > self.from || play.from >= self.from);
        control.plays.iter().filter(is_in).collect()
    }

    /// The controls that are played in it.
    fn lanes(&self) -> Vec<&MapControl> {
        self.map.control.iter().filter(|control| !self.plays(control).is_empty()).collect()
    }

    fn height(&self) -> f64 {
        ABOVE + self.lanes().len().max(1) as f64 * LANE + GAP
    }

    fn x(&self, beat: f64) -> f64 {
        LEFT + (beat.clamp(self.from, self.to) - self.from) * self.beat
    }

    fn draw(&self, page: &mut Drawing, top: f64) -> f64 {
        let quiet = format!("fill=\"{QUIET}\"");
        for section in self.map.section.iter().filter(|one| one.from < self.to && one.to > self.from) {
            let [left, right] = [section.from, section.to].map(|beat| self.x(beat));
            page.line([left, top + 1.0], [right, top + 1.0], 0.5, INK);
            page.line([left, top - 0.4], [left, top + 2.4], 0.5, INK);
            if let Some(colour) = section.colour {
                let style = format!("fill=\"{}\" stroke=\"#808080\" stroke-width=\"0.1\"", colour.colour());
                page.frame([left + 0.8, top - 2.6], [1.6, 2.6], 0.3, &style);
            }
            let across = ((right - left - 3.0) / 1.6) as usize;
            if let (Some(line), true) = (lines(&section.name, across).first(), across > 1) {
                page.text([left + 3.0, top - 0.2], 2.8, "", line);
            }
        }
        let lanes = self.lanes();
        let (first, bottom) = (top + ABOVE - 2.0, top + ABOVE - 2.0 + lanes.len().max(1) as f64 * LANE);
        // Numbers stand where they have room.
        let bars = if self.beat * BAR_BEATS > 8.0 { BAR_BEATS } else { BAR_BEATS * 2.0 };
        let beats = (self.from as u32..=self.to.ceil() as u32).map(f64::from).filter(|at| *at <= self.to);
        for at in beats {
            let is_bar = at % BAR_BEATS == 0.0;
            if !is_bar && self.beat < 3.0 {
                continue;
            }
            page.line(
                [self.x(at), first - 1.0],
                [self.x(at), bottom],
                if is_bar { 0.35 } else { 0.12 },
                HAIRLINE,
            );
            if at % bars == 0.0 && at < self.to {
                page.text([self.x(at) + 0.5, first - 1.4], 2.6, &quiet, &at.to_string());
            }
        }
        if lanes.is_empty() {
            page.text([MARGIN, first + 3.2], 3.0, &quiet, "nothing to play");
        }
        for (nth, control) in lanes.into_iter().enumerate() {
            let middle = first + (nth as f64 + 0.5) * LANE;
            let name = lines(&control.name, 19).into_iter().next().unwrap_or_default();
            page.text([MARGIN, middle + 1.1], 3.2, "", &name);
            page.line([LEFT, middle], [self.x(self.to), middle], 0.12, HAIRLINE);
            for play in self.plays(control) {
                let hand = Hand::named(play.hand).unwrap_or(Hand::Either);
                let style = format!("fill=\"{}\"", colour(hand));
                let [left, right] = [play.from, play.to].map(|beat| self.x(beat));
                page.frame([left, middle - 1.7], [(right - left).max(PRESS), 3.4], 0.4, &style);
            }
        }
        bottom + GAP
    }
}
