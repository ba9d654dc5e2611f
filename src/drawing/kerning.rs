//! Pair kerning out of a font's `GPOS` table, which the glyph library does not read.
//!
//! Source: OpenType 1.9, "GPOS - Glyph Positioning Table" (ISO/IEC 14496-22),
//! lookup type 2 (pair adjustment) and type 9 (extension) under feature `kern`.

/// The pair adjustments of one font; none where the font has none or they cannot be read.
pub(crate) struct Kerning {
    bytes: &'static [u8],
    units_per_em: f32,
    /// Lookups in order, each a list of where its pair subtables start.
    lookups: Vec<Vec<usize>>,
}

impl Kerning {
    pub(crate) fn of(bytes: &'static [u8]) -> Self {
        let mut kerning = Self { bytes, units_per_em: 1000.0, lookups: Vec::new() };
        if let Some((units_per_em, lookups)) = kerning.read() {
            kerning.units_per_em = units_per_em;
            kerning.lookups = lookups;
        }
        kerning
    }

    /// How much further apart two neighbouring glyphs stand, in em; mostly 0 or negative.
    pub(crate) fn between(&self, left: u16, right: u16) -> f32 {
        let units: i32 = self
            .lookups
            .iter()
            .filter_map(|subtables| subtables.iter().find_map(|&subtable| self.pair(subtable, left, right)))
            .map(i32::from)
            .sum();
        units as f32 / self.units_per_em
    }

    fn u16(&self, at: usize) -> Option<u16> {
        Some(u16::from_be_bytes(self.bytes.get(at..at + 2)?.try_into().ok()?))
    }

    fn word(&self, at: usize) -> Option<usize> {
        self.u16(at).map(usize::from)
    }

    fn long(&self, at: usize) -> Option<usize> {
        Some(u32::from_be_bytes(self.bytes.get(at..at + 4)?.try_into().ok()?) as usize)
    }

    fn table(&self, tag: &[u8; 4]) -> Option<usize> {
        let records = (0..self.word(4)?).map(|n| 12 + 16 * n);
        let mut found = records.filter(|&record| self.bytes.get(record..record + 4) == Some(tag));
        self.long(found.next()? + 8)
    }

    fn read(&self) -> Option<(f32, Vec<Vec<usize>>)> {
        let units_per_em = self.u16(self.table(b"head")? + 18)?;
        let gpos = self.table(b"GPOS")?;
        let features = gpos + self.word(gpos + 6)?;
        let list = gpos + self.word(gpos + 8)?;
        let mut wanted = Vec::new();
        for record in (0..self.word(features)?).map(|n| features + 2 + 6 * n) {
            if self.bytes.get(record..record + 4)? == b"kern" {
                let feature = features + self.word(record + 4)?;
                for n in 0..self.word(feature + 2)? {
                    wanted.push(self.word(feature + 4 + 2 * n)?);
                }
            }
        }
        wanted.sort_unstable();
        wanted.dedup();
        let mut lookups = Vec::new();
        for index in wanted {
            let lookup = list + self.word(list + 2 + 2 * index)?;
            let kind = self.word(lookup)?;
            let mut subtables = Vec::new();
            for n in 0..self.word(lookup + 4)? {
                let subtable = lookup + self.word(lookup + 6 + 2 * n)?;
                match kind {
                    2 => subtables.push(subtable),
                    9 if self.word(subtable + 2)? == 2 => subtables.push(subtable + self.long(subtable + 4)?),
                    _ => {}
                }
            }
            lookups.push(subtables);
        }
        Some((f32::from(units_per_em), lookups))
    }

    /// The change of the left glyph's advance, if this subtable covers the pair.
    fn pair(&self, subtable: usize, left: u16, right: u16) -> Option<i16> {
        let covered = self.covered(subtable + self.word(subtable + 2)?, left)?;
        let (first, second) = (self.u16(subtable + 4)?, self.u16(subtable + 6)?);
        // One word a bit; the advance is bit 2, after both placements.
        let (first_size, second_size) = (2 * first.count_ones() as usize, 2 * second.count_ones() as usize);
        let advance = 2 * (first & 0b11).count_ones() as usize;
        let value =
            |at: usize| if first & 0b100 == 0 { Some(0) } else { Some(self.u16(at + advance)? as i16) };
        if self.word(subtable)? == 1 {
            let set = subtable + self.word(subtable + 10 + 2 * covered)?;
            let size = 2 + first_size + second_size;
            let mut pairs = (0..self.word(set)?).map(|n| set + 2 + size * n);
            let pair = pairs.find(|&pair| self.u16(pair) == Some(right))?;
            return value(pair + 2);
        }
        let left_class = self.class(subtable + self.word(subtable + 8)?, left)?;
        let right_class = self.class(subtable + self.word(subtable + 10)?, right)?;
        let right_classes = self.word(subtable + 14)?;
        value(subtable + 16 + (left_class * right_classes + right_class) * (first_size + second_size))
    }

    /// The place of a glyph in a coverage table.
    fn covered(&self, table: usize, glyph: u16) -> Option<usize> {
        let count = self.word(table + 2)?;
        if self.word(table)? == 1 {
            return (0..count).find(|&n| self.u16(table + 4 + 2 * n) == Some(glyph));
        }
        self.range(table + 4, count, glyph)
            .and_then(|(start, index)| Some(self.word(index)? + usize::from(glyph) - start))
    }

    /// The class of a glyph in a class table, 0 where it has none.
    fn class(&self, table: usize, glyph: u16) -> Option<usize> {
        if self.word(table)? == 1 {
            let (start, count) = (self.word(table + 2)?, self.word(table + 4)?);
            let n = usize::from(glyph).checked_sub(start).filter(|&n| n < count);
            return n.map_or(Some(0), |n| self.word(table + 6 + 2 * n));
        }
        let found = self.range(table + 4, self.word(table + 2)?, glyph);
        found.map_or(Some(0), |(_, class)| self.word(class))
    }

    /// The start of the range that holds a glyph, and where the word that belongs to it stands.
    fn range(&self, ranges: usize, count: usize, glyph: u16) -> Option<(usize, usize)> {
        (0..count).map(|n| ranges + 6 * n).find_map(|range| {
            let (start, end) = (self.u16(range)?, self.u16(range + 2)?);
            (start..=end).contains(&glyph).then_some((usize::from(start), range + 4))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ab_glyph::{Font, FontRef};

    /// Values read with fontTools 4.68 out of the same font file (`GPOS`, feature `kern`, 1000 units an em).
    #[test]
    fn pairs_are_kerned_as_the_font_says() {
        let bytes = epaint_default_fonts::UBUNTU_LIGHT;
        let font = FontRef::try_from_slice(bytes).unwrap();
        let kerning = Kerning::of(bytes);
        let between = |left, right| {
            let units = kerning.between(font.glyph_id(left).0, font.glyph_id(right).0) * 1000.0;
            units.round() as i32
        };
        let expected =
            [(('T', 'o'), -44), (('A', 'V'), -50), (('r', ','), -44), (('P', ','), -78), (('n', 'n'), 0)];
        for ((left, right), units) in expected {
            assert_eq!(between(left, right), units, "{left}{right}");
        }
    }

    #[test]
    fn a_broken_font_has_no_kerning() {
        for end in (0..4096).step_by(7) {
            let kerning = Kerning::of(&epaint_default_fonts::UBUNTU_LIGHT[..end]);
            assert_eq!(kerning.between(55, 82), 0.0);
        }
    }
}
