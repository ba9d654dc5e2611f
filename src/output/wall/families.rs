//! Pictures by families: each under what holds for it, its most typical picture large, its others small beside it.

use super::composer::{CAPTION_GAP, Cell, Composer, Item, LONGEST_LINE, NARROWEST_CONTENT, WORDS};
use super::grid::{GUTTER, MARGIN, NARROWEST_CELL, ROW_GAP};
use super::{Group, LONGEST_SIDE, Tile, Wall};
use crate::drawing::{Area, Face, Style, ink};

/// What holds for a family.
const HEADING: Style = Style { face: Face::Words, em: 28.0, leading: 40, colour: ink::BRIGHT };
/// What else is known of it.
const LINE: Style = Style { colour: ink::QUIET, ..WORDS };

/// From a family to the line over the next, in texels.
const FAMILY_GAP: u32 = 56;
/// A picture so many times as wide as high has its others under it, not beside it.
const LONG: u32 = 3;
/// A sheet of narrow families is as wide as two large pictures of 16:9.
const ROOMY: u32 = 1312;
/// An effect in the key takes no more, however wide pictures are, in texels.
const WIDEST_KEY: u32 = 288;
/// What captions take under a large and under a small picture, roughly: good enough to choose columns by.
const LARGE_GUESS: u32 = 190;
const SMALL_GUESS: u32 = 100;
const HEADER_GUESS: u32 = 560;

/// How wide the pictures of families are, and how many stand side by side.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shape {
    large: u32,
    small: u32,
    /// Small pictures beside a large one; none where they stand under it.
    beside: usize,
    /// Texels across all.
    pub(super) content: u32,
}

impl Shape {
    /// The shape that makes a sheet of pleasant proportions.
    pub(super) fn of(wall: &Wall, chips: u32) -> Self {
        let groups = groups(wall);
        let side = |tiles: &mut dyn Iterator<Item = &Tile>| {
            tiles.fold((0, 0), |(width, height), tile| {
                (tile.picture.width().max(width), tile.picture.height().max(height))
            })
        };
        let (large, large_high) = side(&mut groups.iter().filter_map(|(_, tiles)| tiles.first()));
        let (small, small_high) = side(&mut groups.iter().flat_map(|(_, tiles)| tiles.iter().skip(1)));
        let (large, small) = (large.max(NARROWEST_CELL).max(chips), small.max(NARROWEST_CELL).max(chips));
        let most = groups.iter().map(|(_, tiles)| tiles.len().saturating_sub(1)).max().unwrap_or(0);
        let across = |count: u32, cell: u32| (cell.saturating_add(GUTTER)).saturating_mul(count) - GUTTER;
        if most == 0 {
            // Pictures alone stand beside each other, as many in a row as makes the rows alike.
            let rows = groups.len().div_ceil(3);
            let content = across(groups.len().div_ceil(rows.max(1)) as u32, large);
            return Self { large, small, beside: 0, content: content.max(NARROWEST_CONTENT) };
        }
        if large > LONG.saturating_mul(large_high) {
            return Self { large, small, beside: 0, content: large.max(NARROWEST_CONTENT) };
        }
        let content = |columns: usize| (large + GUTTER).saturating_add(across(columns as u32, small));
        let cost = |columns: usize| {
            let row = f64::from(small_high + SMALL_GUESS);
            let high = |(_, tiles): &(&Group, &[Tile])| {
                let others = tiles.len() - 1;
                let rows = others.div_ceil(columns);
                let empty = (rows * columns - others) as f64 * f64::from(small) * row;
                (f64::from(large_high + LARGE_GUESS).max(rows as f64 * row), empty)
            };
            let (high, empty) =
                groups.iter().map(high).fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
            let (across, down) = (f64::from(content(columns)), high + f64::from(HEADER_GUESS));
            (across / down / 0.85).ln().abs() + empty / (across * down)
        };
        let beside = (1..=most.min(64)).min_by(|&a, &b| cost(a).total_cmp(&cost(b))).unwrap_or(1);
        let shape = Self { large, small, beside, content: 0 };
        // Narrow families stand side by side.
        let all: u32 = groups.iter().map(|(_, tiles)| shape.across(tiles.len()).saturating_add(GUTTER)).sum();
        let roomy = (all - GUTTER).min(ROOMY);
        Self { content: content(beside).max(roomy).max(NARROWEST_CONTENT), ..shape }
    }

    /// The column of the key to the chips.
    pub(super) fn cell(self) -> u32 {
        self.small.min(WIDEST_KEY)
    }

    /// How wide a family of so many pictures is.
    fn across(self, tiles: usize) -> u32 {
        // Two rows of small pictures go beside a large one, as a rule.
        let columns = self.beside.min((tiles.saturating_sub(1)).div_ceil(2)) as u32;
        self.large + columns * (self.small + GUTTER)
    }
}

/// The families of a wall, each with its tiles.
fn groups(wall: &Wall) -> Vec<(&Group, &[Tile])> {
    let mut rest = &wall.tiles[..];
    let mut groups = Vec::with_capacity(wall.families.len());
    for group in &wall.families {
        let (mine, others) = rest.split_at(group.tiles.min(rest.len()));
        groups.push((group, mine));
        rest = others;
    }
    groups
}

/// Where the families stand, from a row on.
pub(super) struct Hung {
    pub(super) cells: Vec<Cell>,
    pub(super) headings: Vec<Area>,
    /// The first row below all.
    pub(super) bottom: u32,
}

/// Hangs the families of a wall from the row `top` on; how far it came, where the sheet would be too long.
pub(super) fn hung(composer: &mut Composer<'_>, wall: &Wall, shape: Shape, top: u32) -> Result<Hung, u64> {
    let mut hung = Hung { cells: Vec::with_capacity(wall.tiles.len()), headings: Vec::new(), bottom: top };
    let groups = groups(wall);
    let mut at = 0;
    while at < groups.len() {
        // Families that are narrow share a row.
        let mut row = vec![(MARGIN, groups[at])];
        let mut right = MARGIN + shape.across(groups[at].1.len());
        while let Some(&next) = groups.get(at + row.len()) {
            let width = shape.across(next.1.len());
            if shape.beside == 0 && row[0].1.1.len() > 1 || right + GUTTER + width > MARGIN + shape.content {
                break;
            }
            row.push((right + GUTTER, next));
            right += GUTTER + width;
        }
        if at > 0 {
            hung.bottom += FAMILY_GAP;
        }
        hung.row(composer, shape, &row, at > 0)?;
        at += row.len();
    }
    Ok(hung)
}

impl Hung {
    /// Families side by side, from the row below all on.
    fn row(
        &mut self,
        composer: &mut Composer<'_>,
        shape: Shape,
        row: &[(u32, (&Group, &[Tile]))],
        is_ruled: bool,
    ) -> Result<(), u64> {
        let start = self.bottom;
        let mut top = start;
        if is_ruled {
            let rule = Area { x: MARGIN, y: start, width: shape.content, height: 1 };
            composer.items.push(Item::Bar { area: rule, colour: ink::KEYLINE });
            top += 28;
        }
        let mut below = top;
        for &(x, (group, tiles)) in row {
            let end = if row.len() == 1 { MARGIN + shape.content } else { x + shape.across(tiles.len()) };
            let width = end - x;
            let mut y = composer.sentence(HEADING, &group.heading, x, top, width);
            for line in &group.lines {
                y = composer.paragraph(LINE, line, x, y, width.min(LONGEST_LINE)).1;
            }
            below = below.max(y);
        }
        if below > start {
            self.headings.push(Area { x: MARGIN, y: start, width: shape.content, height: below - start });
            below += CAPTION_GAP;
        }
        for &(x, (_, tiles)) in row {
            let Some((first, others)) = tiles.split_first() else { continue };
            let (cells, large_bottom) =
                composer.row(std::slice::from_ref(first), x, shape.large, below, true)?;
            self.cells.extend(cells);
            let mut rest = others;
            // Beside the large picture as long as that is high, then below it.
            let mut y = if shape.beside > 0 { below } else { large_bottom + ROW_GAP };
            let mut bottom = large_bottom;
            let beside = shape.beside.min(others.len().div_ceil(2)).max(1);
            while !rest.is_empty() {
                let is_beside = shape.beside > 0 && (y < large_bottom || rest.len() <= beside);
                let left = if is_beside { x + shape.large + GUTTER } else { x };
                let end = if row.len() == 1 { MARGIN + shape.content } else { x + shape.across(tiles.len()) };
                let columns = ((end + GUTTER - left) / (shape.small + GUTTER)).max(1) as usize;
                let columns = if is_beside { columns.min(beside) } else { columns };
                let (line, later) = rest.split_at(columns.min(rest.len()));
                let (cells, below_line) = composer.row(line, left, shape.small, y, false)?;
                self.cells.extend(cells);
                bottom = bottom.max(below_line);
                y = below_line + ROW_GAP;
                rest = later;
                if y < large_bottom + ROW_GAP && y >= large_bottom && rest.len() > beside {
                    y = large_bottom + ROW_GAP;
                }
            }
            self.bottom = self.bottom.max(bottom);
        }
        if u64::from(self.bottom) > u64::from(LONGEST_SIDE) {
            return Err(u64::from(self.bottom));
        }
        Ok(())
    }
}
