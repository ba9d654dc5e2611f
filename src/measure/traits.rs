//! What one picture is like by itself: how bright, how full of edges, how colourful.

use super::{lab_from_srgb, over_black};
use crate::base::colour::linear_from_srgb;
use crate::base::picture::Picture;

/// Means over a picture, as laid over opaque black.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Traits {
    /// Relative luminance, 0 to 1 (ITU-R BT.709 weights on linear light).
    pub brightness: f64,
    /// Steepness of relative lightness L*/100 by the Sobel operator, 1 for a full step; border texels
    /// are repeated.
    pub edges: f64,
    /// Chroma C*ab: 0 for greys, above 100 for the strongest colours.
    pub colour: f64,
}

/// Which of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Trait {
    Brightness,
    Edges,
    Colour,
}

impl Trait {
    /// Steps in one unit of it, where it is summed as whole numbers: the sum does not depend on who adds first.
    pub fn steps(self) -> u32 {
        match self {
            Self::Brightness | Self::Edges => 1 << 16,
            Self::Colour => 1 << 10,
        }
    }
}

impl Traits {
    /// One of them.
    pub fn get(&self, wanted: Trait) -> f64 {
        match wanted {
            Trait::Brightness => self.brightness,
            Trait::Edges => self.edges,
            Trait::Colour => self.colour,
        }
    }

    /// The traits of a picture.
    pub fn of(picture: &Picture) -> Self {
        let (width, height) = (picture.frame.width as usize, picture.frame.height as usize);
        let shown: Vec<[u8; 3]> =
            picture.rgba.chunks_exact(4).map(|t| over_black([t[0], t[1], t[2], t[3]])).collect();
        let lab: Vec<[f64; 3]> = shown.iter().map(|&rgb| lab_from_srgb(rgb)).collect();
        let luminance = |&[r, g, b]: &[u8; 3]| {
            let light = |byte: u8| linear_from_srgb(f64::from(byte) / 255.0);
            0.2126 * light(r) + 0.7152 * light(g) + 0.0722 * light(b)
        };
        let at = |x: usize, y: usize, dx: i64, dy: i64| {
            let near = |place: usize, step: i64, most: usize| {
                (place as i64 + step).clamp(0, most as i64 - 1) as usize
            };
            lab[near(y, dy, height) * width + near(x, dx, width)][0] / 100.0
        };
        let steepness = |x: usize, y: usize| {
            let slope = |flip: bool| {
                let tap = |along: i64, across: i64| {
                    if flip { at(x, y, across, along) } else { at(x, y, along, across) }
                };
                let side = |along: i64| tap(along, -1) + 2.0 * tap(along, 0) + tap(along, 1);
                (side(1) - side(-1)) / 4.0
            };
            slope(false).hypot(slope(true))
        };
        let edges: f64 =
            (0..height).flat_map(|y| (0..width).map(move |x| (x, y))).map(|(x, y)| steepness(x, y)).sum();
        let texels = shown.len().max(1) as f64;
        Self {
            brightness: shown.iter().map(luminance).sum::<f64>() / texels,
            edges: edges / texels,
            colour: lab.iter().map(|[_, a, b]| a.hypot(*b)).sum::<f64>() / texels,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::Frame;

    fn picture(width: u32, texels: &[[u8; 3]]) -> Picture {
        let frame = Frame { width, height: texels.len() as u32 / width };
        let rgba = texels.iter().flat_map(|&[r, g, b]| [r, g, b, 255]).collect();
        Picture { frame, rgba, opaque: true }
    }

    #[test]
    fn white_is_bright_red_is_colourful_and_a_step_has_edges() {
        let white = Traits::of(&picture(2, &[[255; 3]; 4]));
        assert!((white.brightness - 1.0).abs() < 1e-9 && white.edges == 0.0 && white.colour < 1e-9);
        // Luminance of the red primary is its weight (BT.709); its chroma is that of its L*a*b*.
        let red = Traits::of(&picture(2, &[[255, 0, 0]; 4]));
        assert!((red.brightness - 0.2126).abs() < 1e-9);
        assert!((red.colour - 80.0925_f64.hypot(67.2032)).abs() < 0.05, "{}", red.colour);
        // A step from black to white between two columns: both have a full slope, as each sees the other.
        let step = Traits::of(&picture(4, &[[0; 3], [0; 3], [255; 3], [255; 3]]));
        assert!((step.edges - 0.5).abs() < 1e-9, "{}", step.edges);
    }
}
