//! The colours of the wall and the look of each effect's chip.
//!
//! Text and numerals keep a contrast of at least 4.5:1 with what they stand on
//! (WCAG 2.2, success criterion 1.4.3).

use crate::base::coding::OkabeIto;
use crate::base::colour::Colour;

/// What everything stands on: near black and neutral, so that it tints no picture.
pub const GROUND: Colour = Colour([0x12, 0x12, 0x12]);
/// The panel under a caution.
pub const PANEL: Colour = Colour([0x24, 0x24, 0x24]);
/// Numerals on light chips and the sign on a caution.
pub const BLACK: Colour = Colour([0, 0, 0]);
/// Titles, numbers and names.
pub const BRIGHT: Colour = Colour([0xf4, 0xf4, 0xf4]);
/// Running text.
pub const PLAIN: Colour = Colour([0xcf, 0xcf, 0xcf]);
/// Settings and reasons: read second.
pub const QUIET: Colour = Colour([0xa6, 0xa6, 0xa6]);
/// The line around a picture and the rule under the header.
pub const KEYLINE: Colour = Colour([0x3a, 0x3a, 0x3a]);
/// The two fields of the checker that shows through a transparent picture.
pub const CHECKER: [Colour; 2] = [Colour([0x2b, 0x2b, 0x2b]), Colour([0x38, 0x38, 0x38])];
/// The bar and the sign of a caution: yellow of [`OKABE_ITO`], beside a sign and the words.
pub const CAUTION: Colour = OKABE_ITO[3];

/// Every pair of text colour and ground that the wall uses, with its name.
pub const TEXT_ON_GROUND: [(&str, Colour, Colour); 5] = [
    ("bright text", BRIGHT, GROUND),
    ("plain text", PLAIN, GROUND),
    ("quiet text", QUIET, GROUND),
    ("caution text", BRIGHT, PANEL),
    ("caution sign", BLACK, CAUTION),
];

/// The palette of Okabe and Ito, in the order in which it is given out.
pub const OKABE_ITO: [Colour; 8] = {
    let mut all = [BLACK; 8];
    let mut at = 0;
    while at < all.len() {
        all[at] = OkabeIto::ALL[at].colour();
        at += 1;
    }
    all
};

/// The outline of a chip: it changes where the palette starts again.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ChipForm {
    /// A filled square with rounded corners: the first eight effects.
    Square,
    /// A filled disc: the next eight.
    Disc,
    /// A frame with rounded corners, the ground inside it: the eight after those.
    Frame,
}

/// How the chip of one effect looks; the numeral in it is the effect's mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct ChipLook {
    /// The outline.
    pub form: ChipForm,
    /// The colour that codes the effect.
    pub colour: Colour,
    /// What the numeral stands on.
    pub under_numeral: Colour,
    pub numeral: Colour,
}

impl ChipLook {
    /// The look of the effect with this mark, from 1; looks repeat after 24 marks.
    pub fn of(mark: u32) -> Self {
        const FORMS: [ChipForm; 3] = [ChipForm::Square, ChipForm::Disc, ChipForm::Frame];
        let nth = mark.saturating_sub(1) as usize;
        let colour = OKABE_ITO[nth % OKABE_ITO.len()];
        let form = FORMS[nth / OKABE_ITO.len() % FORMS.len()];
        let under_numeral = if form == ChipForm::Frame { GROUND } else { colour };
        let white = Colour([255; 3]);
        let darker = contrast(BLACK, under_numeral) > contrast(white, under_numeral);
        let numeral = if darker { BLACK } else { white };
        Self { form, colour, under_numeral, numeral }
    }

    /// A colour for a thin outline, where the chip itself would sink into the ground
    /// (less than the 3:1 that WCAG 2.2, success criterion 1.4.11, asks of graphics).
    pub(crate) fn rim(self) -> Option<Colour> {
        (contrast(self.colour, GROUND) < 3.0).then_some(QUIET)
    }
}

/// The contrast of two colours, 1..21 (WCAG 2.2, "contrast ratio" and "relative luminance").
pub fn contrast(a: Colour, b: Colour) -> f64 {
    let luminance = |colour: Colour| {
        let [r, g, b] = colour.linear();
        0.2126 * r + 0.7152 * g + 0.0722 * b
    };
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}
