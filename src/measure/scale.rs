//! The scale of a difference picture: black where nothing differs, lighter and warmer the more it does.

use crate::base::colour::Colour;

/// A scale ends no lower than this, in CIEDE2000, so that a difference nobody sees stays dark.
pub const LOWEST_SCALE: f64 = 5.0;

/// A bar that says what colours mean.
#[derive(Debug, Clone)]
pub struct Scale {
    /// Colours from the left end to the right end, at least one.
    pub colours: Vec<Colour>,
    /// What stands under the bar, and at which share of its length.
    pub ticks: Vec<(f32, String)>,
}

/// From no difference to `most`: colours whose lightness rises evenly, so that it reads without hue.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DifferenceScale {
    /// Where the scale ends, in CIEDE2000.
    pub most: f64,
}

/// Black, then blue, vermilion, yellow (Okabe-Ito, in rising lightness), then white.
const STOPS: [[f64; 3]; 5] =
    [[0.0, 0.0, 0.0], [0.0, 114.0, 178.0], [213.0, 94.0, 0.0], [240.0, 228.0, 66.0], [255.0, 255.0, 255.0]];

impl DifferenceScale {
    /// The scale for a pair whose most different texel differs by `largest`.
    pub fn to(largest: f64) -> Self {
        Self { most: largest.max(LOWEST_SCALE).ceil() }
    }

    pub fn colour(self, difference: f64) -> Colour {
        let along = (difference / self.most).clamp(0.0, 1.0) * (STOPS.len() - 1) as f64;
        let stop = (along as usize).min(STOPS.len() - 2);
        let share = along - stop as f64;
        Colour(std::array::from_fn(|c| {
            (STOPS[stop][c] + (STOPS[stop + 1][c] - STOPS[stop][c]) * share).round() as u8
        }))
    }

    /// The bar that says what the colours mean.
    pub fn bar(self) -> Scale {
        let colours = (0..256).map(|at| self.colour(self.most * f64::from(at) / 255.0)).collect();
        let tick = |share: f64| {
            let figure = self.most * share;
            let written = if figure.fract() == 0.0 { format!("{figure:.0}") } else { format!("{figure:.1}") };
            (share as f32, written)
        };
        let mut ticks: Vec<(f32, String)> = [0.0, 0.25, 0.5, 0.75, 1.0].map(tick).to_vec();
        if let Some((_, last)) = ticks.last_mut() {
            *last += " CIEDE2000";
        }
        Scale { colours, ticks }
    }
}
