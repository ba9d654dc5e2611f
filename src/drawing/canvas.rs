//! The sheet as texels: anti-aliased shapes, glyphs and pictures laid over one another.
//!
//! The share of a texel that a shape covers is a share of its light, so edges
//! are blended in linear light. A picture with alpha is laid over as W3C
//! Compositing Level 1 (source-over) says: on encoded values, as everywhere in
//! the default pixel mode.

use std::sync::LazyLock;

use image::{Rgba, RgbaImage};

use super::text::Mark;
use crate::base::colour::{Colour, linear_from_srgb, srgb_from_linear};

/// A rectangle of whole texels, origin top left.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Area {
    /// Left edge.
    pub x: u32,
    /// Top edge.
    pub y: u32,
    /// Texels across.
    pub width: u32,
    /// Texels down.
    pub height: u32,
}

impl Area {
    /// The first column right of it.
    pub fn right(self) -> u32 {
        self.x + self.width
    }

    /// The first row below it.
    pub fn bottom(self) -> u32 {
        self.y + self.height
    }

    /// Whether a texel lies in it.
    pub fn holds(self, x: u32, y: u32) -> bool {
        (self.x..self.right()).contains(&x) && (self.y..self.bottom()).contains(&y)
    }
}

/// Side of one field of the checker under a transparent picture, in texels.
const CHECKER_FIELD: u32 = 8;

static LINEAR: LazyLock<[f64; 256]> =
    LazyLock::new(|| std::array::from_fn(|byte| linear_from_srgb(byte as f64 / 255.0)));

/// A rounded rectangle: centre, half its width and height, and the radius of its corners, in texels.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Rounded {
    pub(crate) centre: (f32, f32),
    pub(crate) half: (f32, f32),
    pub(crate) radius: f32,
}

impl Rounded {
    /// How far outside the edge a point is; negative inside.
    pub(crate) fn distance(self, x: f32, y: f32) -> f32 {
        let qx = (x - self.centre.0).abs() - self.half.0 + self.radius;
        let qy = (y - self.centre.1).abs() - self.half.1 + self.radius;
        qx.max(0.0).hypot(qy.max(0.0)) + qx.max(qy).min(0.0) - self.radius
    }
}

/// An opaque picture that is being drawn; what falls outside it is left out.
pub(crate) struct Canvas(RgbaImage);

impl Canvas {
    pub(crate) fn new(width: u32, height: u32, ground: Colour) -> Self {
        Self(RgbaImage::from_pixel(width, height, opaque(ground)))
    }

    pub(crate) fn into_picture(self) -> RgbaImage {
        self.0
    }

    /// An area in one colour.
    pub(crate) fn area(&mut self, area: Area, colour: Colour) {
        for y in area.y..area.bottom().min(self.0.height()) {
            for x in area.x..area.right().min(self.0.width()) {
                self.0.put_pixel(x, y, opaque(colour));
            }
        }
    }

    /// A line one texel wide around an area, outside it.
    pub(crate) fn outline(&mut self, around: Area, colour: Colour) {
        let Area { x, y, width, height } = around;
        let (left, top) = (x.saturating_sub(1), y.saturating_sub(1));
        for side in [
            Area { x: left, y: top, width: width + 2, height: 1 },
            Area { x: left, y: y + height, width: width + 2, height: 1 },
            Area { x: left, y: top, width: 1, height: height + 2 },
            Area { x: x + width, y: top, width: 1, height: height + 2 },
        ] {
            self.area(side, colour);
        }
    }

    /// A filled shape.
    pub(crate) fn rounded(&mut self, shape: Rounded, colour: Colour) {
        self.shaded(shape.centre, shape.half, colour, |x, y| 0.5 - shape.distance(x, y));
    }

    /// The edge of a shape, `thickness` texels inwards.
    pub(crate) fn ring(&mut self, shape: Rounded, thickness: f32, colour: Colour) {
        self.shaded(shape.centre, shape.half, colour, |x, y| {
            let distance = shape.distance(x, y);
            (0.5 - distance).min(distance + thickness + 0.5)
        });
    }

    /// A stroke through the points, with round ends.
    pub(crate) fn stroke(&mut self, points: &[(f32, f32)], thickness: f32, colour: Colour) {
        let Some(&first) = points.first() else { return };
        let (mut low, mut high) = (first, first);
        for &(x, y) in points {
            low = (low.0.min(x), low.1.min(y));
            high = (high.0.max(x), high.1.max(y));
        }
        let centre = ((low.0 + high.0) / 2.0, (low.1 + high.1) / 2.0);
        let half = ((high.0 - low.0 + thickness) / 2.0, (high.1 - low.1 + thickness) / 2.0);
        self.shaded(centre, half, colour, |x, y| {
            let nearest = points.windows(2).map(|ends| to_segment((x, y), ends[0], ends[1]));
            0.5 + thickness / 2.0 - nearest.fold(f32::INFINITY, f32::min)
        });
    }

    /// The glyphs of a line.
    pub(crate) fn marks(&mut self, marks: &[Mark], colour: Colour) {
        for mark in marks {
            match mark {
                Mark::Glyph(glyph) => {
                    glyph.draw(|x, y, share| self.blend(x, y, colour, share));
                }
                &Mark::Box(left, top, width, height) => {
                    let half = (width / 2.0, height / 2.0);
                    let centre = (left + half.0, top + half.1);
                    self.ring(Rounded { centre, half, radius: 0.0 }, 1.2, colour);
                }
            }
        }
    }

    /// A picture with its top left texel at `area`'s, over a checker of these colours where it is
    /// transparent; opaque texels are copied.
    pub(crate) fn picture(&mut self, area: Area, picture: &RgbaImage, checker: [Colour; 2]) {
        for (x, y, &Rgba([r, g, b, a])) in picture.enumerate_pixels() {
            let Colour(under) = checker[((x / CHECKER_FIELD + y / CHECKER_FIELD) % 2) as usize];
            let alpha = u32::from(a);
            let over = |over: u8, under: u8| {
                ((u32::from(over) * alpha + u32::from(under) * (255 - alpha) + 127) / 255) as u8
            };
            let texel = [over(r, under[0]), over(g, under[1]), over(b, under[2])];
            if area.x + x < self.0.width() && area.y + y < self.0.height() {
                self.0.put_pixel(area.x + x, area.y + y, opaque(Colour(texel)));
            }
        }
    }

    /// Every texel near a box, by the coverage at its centre.
    fn shaded(
        &mut self,
        centre: (f32, f32),
        half: (f32, f32),
        colour: Colour,
        coverage: impl Fn(f32, f32) -> f32,
    ) {
        let reach = |centre: f32, half: f32| {
            ((centre - half).floor() as i64 - 1)..=((centre + half).ceil() as i64 + 1)
        };
        for y in reach(centre.1, half.1) {
            for x in reach(centre.0, half.0) {
                self.blend(x, y, colour, coverage(x as f32 + 0.5, y as f32 + 0.5));
            }
        }
    }

    fn blend(&mut self, x: i64, y: i64, Colour(colour): Colour, share: f32) {
        let (Ok(x), Ok(y)) = (u32::try_from(x), u32::try_from(y)) else { return };
        if share <= 0.0 || x >= self.0.width() || y >= self.0.height() {
            return;
        }
        let share = f64::from(share.min(1.0));
        let texel = self.0.get_pixel_mut(x, y);
        for (under, over) in texel.0.iter_mut().zip(colour) {
            let (from, to) = (LINEAR[usize::from(*under)], LINEAR[usize::from(over)]);
            *under = (srgb_from_linear(from + (to - from) * share) * 255.0).round() as u8;
        }
    }
}

fn opaque(Colour([r, g, b]): Colour) -> Rgba<u8> {
    Rgba([r, g, b, 255])
}

fn to_segment(point: (f32, f32), from: (f32, f32), to: (f32, f32)) -> f32 {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let (px, py) = (point.0 - from.0, point.1 - from.1);
    let along = ((px * dx + py * dy) / (dx * dx + dy * dy).max(1e-6)).clamp(0.0, 1.0);
    (px - along * dx).hypot(py - along * dy)
}
