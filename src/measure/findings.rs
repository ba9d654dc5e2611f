//! The limits of flashing, and what was found under each.

use std::ops::RangeInclusive;

use serde::{Deserialize, Serialize};

use super::viewing::Viewing;
use crate::base::frame::Frame;

/// Changes within one second that are three flashes; more are too many.
pub const MOST_CHANGES: u32 = 6;

/// A limit that a sequence may break.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Limit {
    /// WCAG 2.2, general flash.
    General,
    /// WCAG 2.2, red flash.
    Red,
    /// ITU-R BT.1702, luminance.
    ScreenGeneral,
    /// ITU-R BT.1702, saturated red.
    ScreenRed,
}

impl Limit {
    /// Every limit, in the order of [`FlashReport::findings`].
    pub const ALL: [Self; 4] = [Self::General, Self::Red, Self::ScreenGeneral, Self::ScreenRed];

    /// What is counted, for people.
    pub fn label(self) -> &'static str {
        match self {
            Self::General | Self::ScreenGeneral => "general flashes",
            Self::Red | Self::ScreenRed => "red flashes",
        }
    }

    /// The document that sets it.
    pub fn source(self) -> &'static str {
        match self {
            Self::General | Self::Red => "WCAG 2.2",
            Self::ScreenGeneral | Self::ScreenRed => "ITU-R BT.1702",
        }
    }

    /// The area that it looks at.
    pub fn area(self) -> &'static str {
        match self {
            Self::General | Self::Red => "a quarter of a 10 degree field",
            Self::ScreenGeneral | Self::ScreenRed => "a quarter of the screen",
        }
    }
}

/// A rectangle of the picture, in shares of its sides.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Region {
    /// Of the left edge.
    pub left: f64,
    /// Of the top edge.
    pub top: f64,
    pub width: f64,
    pub height: f64,
}

/// What was found for one limit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Finding {
    pub limit: Limit,
    /// The most changes within one second over more than the area allowed; two are a flash.
    pub changes: u32,
    /// The last frame of the first second that holds them.
    pub frame: usize,
    /// The largest share of a field (or of the screen) with that many, in that second.
    pub area_share: f64,
    /// Where they are: the texels with that many.
    pub place: Option<Region>,
    /// Frames at which more than three flashes lie in the second that ends there.
    pub failing: Vec<RangeInclusive<usize>>,
}

impl Finding {
    /// Flashes in the worst second: halves count.
    pub fn flashes(&self) -> f64 {
        f64::from(self.changes) / 2.0
    }

    /// The same in words, with what is counted: "1 general flash", "2.5 red flashes".
    pub fn counted(&self) -> String {
        self.in_words(self.limit.label())
    }

    /// The same in words, where any kind of flash is meant: "1 flash", "2.5 flashes".
    pub fn counted_as_flashes(&self) -> String {
        self.in_words("flashes")
    }

    fn in_words(&self, flashes: &str) -> String {
        let what = if self.changes == 2 { flashes.trim_end_matches("es") } else { flashes };
        format!("{} {what}", self.flashes())
    }

    /// Whether it stays within the limit.
    pub fn passes(&self) -> bool {
        self.changes <= MOST_CHANGES
    }
}

/// What was found in a sequence.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FlashReport {
    /// Frames looked at; those of the first second count once more behind the seam of a loop.
    pub frames: usize,
    /// Frames in one second: the window that is counted in.
    pub second: usize,
    /// Size of the pictures looked at.
    pub frame: Frame,
    /// The squares that they were counted by.
    pub squares: Frame,
    /// Whether it was counted round the seam of a loop.
    pub is_loop: bool,
    /// How they are looked at.
    pub viewing: Viewing,
    /// One for each of [`Limit::ALL`].
    pub findings: [Finding; 4],
    /// For each frame and limit, the changes in the second that ends there, as [`Finding::changes`].
    pub per_frame: Vec<[u8; 4]>,
}

impl FlashReport {
    /// Whether every limit is kept.
    pub fn passes(&self) -> bool {
        self.findings.iter().all(Finding::passes)
    }

    /// The finding with the most changes.
    pub fn worst(&self) -> &Finding {
        let [first, rest @ ..] = &self.findings;
        rest.iter().fold(first, |worst, next| if next.changes > worst.changes { next } else { worst })
    }
}
