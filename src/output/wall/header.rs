//! What stands over the pictures of a wall: the answer, what decides it, and the key to the chips.

use super::composer::{CHIP, Composer, FACT, Item, LONGEST_LINE, NAME, NUMBER, SETTINGS, TITLE};
use super::grid::{GUTTER, MARGIN};
use super::{Asked, Wall};
use crate::drawing::{Area, Face, Style, ink};

/// The first thing to know: larger than the title, which then stands over it.
const ANSWER: Style = Style { face: Face::Words, em: 44.0, leading: 56, colour: ink::BRIGHT };
/// The same on a sheet narrower than this.
const NARROW_ANSWER: Style = Style { em: 32.0, leading: 42, ..ANSWER };
const WIDE: u32 = 1000;
/// The title where an answer stands under it.
const SUBJECT: Style = Style { face: Face::Words, em: 26.0, leading: 36, colour: ink::QUIET };

const GUIDE: Style = Style { face: Face::Words, em: 19.0, leading: 28, colour: ink::PLAIN };
const WARNING: Style = Style { face: Face::Words, em: 21.0, leading: 30, colour: ink::BRIGHT };

/// The narrowest column of the key, in texels.
const NARROWEST_KEY: u32 = 288;

/// What decides, as a bar: all that order does is as wide as this, in texels.
const WIDEST_BAR: u32 = 220;
const BAR: u32 = 12;

const HOW_TO_READ: &str = "Read a row of chips from left to right: the first effect is under, the last is over. \
     The numeral is the effect's mark; the row of marks is the order's code.";

impl Composer<'_> {
    /// Answer and questions, facts, caution, key and guide; returns the row below the rule.
    pub(super) fn header(&mut self, wall: &Wall, content: u32, cell_width: u32) -> u32 {
        let line = content.min(LONGEST_LINE);
        let mut y = match &wall.answer {
            Some(answer) => {
                let below = self.paragraph(SUBJECT, &wall.title, MARGIN, MARGIN, content).1;
                let style = if content < WIDE { NARROW_ANSWER } else { ANSWER };
                self.paragraph(style, answer, MARGIN, below + 4, content).1 + 14
            }
            None => self.paragraph(TITLE, &wall.title, MARGIN, MARGIN, content).1,
        };
        let mut before = 0.0;
        for asked in &wall.questions {
            y = self.asked(asked, before, y, content);
            before += asked.share;
        }
        if !wall.title.is_empty() {
            y += 8;
        }
        let style = if wall.answer.is_some() { SETTINGS } else { FACT };
        for fact in &wall.facts {
            y = self.striped(style, fact, MARGIN, y, line);
        }
        if let Some(caution) = &wall.caution {
            y = self.caution(caution, y + 20, line);
        }
        y = self.key(y + 32, content, cell_width);
        y = self.guide(y, content);
        let rule = Area { x: MARGIN, y: y + 32, width: content, height: 1 };
        self.items.push(Item::Bar { area: rule, colour: ink::KEYLINE });
        rule.bottom()
    }

    /// One question behind its share: what was explained before it, and what it adds; returns the row below.
    fn asked(&mut self, asked: &Asked, before: f64, y: u32, content: u32) -> u32 {
        let widest = WIDEST_BAR.min(content / 4);
        let across = |share: f64| (share.clamp(0.0, 1.0) * f64::from(widest)).round() as u32;
        let line = FACT.leading.max(CHIP + 8);
        let top = y + (line - BAR) / 2;
        let (from, to) = (across(before), across(before + asked.share));
        let part = |from: u32, to: u32| Area { x: MARGIN + from, y: top, width: to - from, height: BAR };
        self.items.push(Item::Bar { area: part(0, widest), colour: ink::PANEL });
        self.items.push(Item::Bar { area: part(0, from), colour: ink::KEYLINE });
        // What is not nothing is seen.
        let seen = if asked.share > 0.0 { (to - from).max(2).min(widest - from.min(widest - 2)) } else { 0 };
        self.items.push(Item::Bar { area: part(from, from + seen), colour: ink::PLAIN });
        let number = MARGIN + widest + 16;
        self.paragraph(NUMBER, &asked.said, number, y + (line - NUMBER.leading) / 2, content);
        let x = number
            + self.faces.width(NUMBER, "100 %").max(self.faces.width(NUMBER, &asked.said)).ceil() as u32
            + 20;
        let width = (MARGIN + content).saturating_sub(x);
        let mut below = self.sentence(FACT, &asked.question, x, y, width);
        if let Some(remark) = &asked.remark {
            below = self.paragraph(SETTINGS, remark, x, below, width).1;
        }
        below + 8
    }

    /// A panel that must be read; returns the row below it.
    pub(super) fn caution(&mut self, caution: &str, y: u32, width: u32) -> u32 {
        const INSET: u32 = 64;
        let (_, bottom) = self.paragraph(WARNING, caution, MARGIN + INSET, y + 14, width - INSET - 24);
        let text_width = self.faces.wrapped(WARNING, caution, (width - INSET - 24) as f32);
        let reach = text_width.iter().map(|line| self.faces.width(WARNING, line).ceil() as u32).max();
        let panel_width = (INSET + reach.unwrap_or(0) + 24).min(width);
        let panel = Area { x: MARGIN, y, width: panel_width, height: (bottom + 14 - y).max(58) };
        // Behind the words.
        let behind =
            self.items.iter().position(|item| matches!(item, Item::Line { y: top, .. } if *top >= y));
        self.items.insert(behind.unwrap_or(self.items.len()), Item::Warning { panel });
        panel.bottom()
    }
    /// The key to the chips, on the columns of the pictures where they are wide enough.
    fn key(&mut self, y: u32, content: u32, cell_width: u32) -> u32 {
        if self.effects.is_empty() {
            return self.paragraph(NAME, "The chain holds no effect.", MARGIN, y, content).1;
        }
        let pitch = cell_width + GUTTER;
        let column = if cell_width >= 2 * NARROWEST_KEY + GUTTER {
            pitch / 2 - GUTTER
        } else {
            NARROWEST_KEY.div_ceil(pitch).max(1) * pitch - GUTTER
        };
        let column = column.min(content);
        let fitting = ((content + GUTTER) / (column + GUTTER)).max(1) as usize;
        let rows = self.effects.len().div_ceil(fitting);
        let columns = self.effects.len().div_ceil(rows);
        let mut top = y;
        for row in 0..rows {
            let mut bottom = top;
            for place in (row * columns..self.effects.len()).take(columns) {
                let x = MARGIN + (place - row * columns) as u32 * (column + GUTTER);
                bottom = bottom.max(self.key_entry(place, x, top, column));
            }
            top = bottom + 20;
        }
        top - 20
    }

    fn key_entry(&mut self, place: usize, x: u32, y: u32, width: u32) -> u32 {
        self.items.push(Item::Chip { x, y, mark: self.effects[place].mark });
        let inset = self.chip_width + 12;
        let (x, width) = (x + inset, width - inset);
        let effect = &self.effects[place];
        let mut bottom = self.paragraph(NAME, &effect.label, x, y, width).1.max(y + CHIP);
        bottom = self.paragraph(SETTINGS, &effect.settings, x, bottom + 2, width).1;
        if let Some(why) = &effect.idle {
            bottom = self.paragraph(SETTINGS, &format!("changes nothing here: {why}"), x, bottom, width).1;
        }
        bottom
    }

    /// How a row of chips is read, shown on the file's own order.
    fn guide(&mut self, y: u32, content: u32) -> u32 {
        if self.effects.len() < 2 {
            return y;
        }
        let y = y + 28;
        let word_gap = 12;
        let word = |composer: &mut Self, text: &str, x: u32, y: u32| {
            composer.paragraph(GUIDE, text, x, y - 1, content);
            x + composer.faces.width(GUIDE, text).ceil() as u32
        };
        let order: Vec<usize> = (0..self.effects.len()).collect();
        let under = word(self, "under", MARGIN, y) + word_gap;
        let over_width = self.faces.width(GUIDE, "over").ceil() as u32 + word_gap;
        let room = MARGIN + content - under - over_width;
        let (bottom, end) = self.chips(&order, under, y, room);
        let end = word(self, "over", end + word_gap, bottom - CHIP);
        let beside = end + 28;
        let sentence_width = (MARGIN + content).saturating_sub(beside);
        if bottom == y + CHIP && self.faces.width(GUIDE, HOW_TO_READ) <= sentence_width as f32 {
            self.paragraph(GUIDE, HOW_TO_READ, beside, y - 1, sentence_width);
            return bottom;
        }
        self.paragraph(GUIDE, HOW_TO_READ, MARGIN, bottom + 10, content.min(LONGEST_LINE)).1
    }
}
