//! Cards that stand in for footage: calm pictures with a label, on which effects show what they do.

use image::{Rgba, RgbaImage};

use crate::base::colour::Colour;
use crate::base::content::fnv_1a;
use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::drawing::{Area, Canvas, Face, FaceError, Faces, Rounded, Style, ink};
use crate::show::clip::StandIn;

/// Above and below the horizon; which pair is told by the label, so that neighbours differ. The label says the rest.
const GROUNDS: [[Colour; 2]; 5] = [
    [Colour([0x2e, 0x42, 0x58]), Colour([0x1d, 0x2b, 0x3b])],
    [Colour([0x35, 0x4a, 0x40]), Colour([0x22, 0x31, 0x2b])],
    [Colour([0x55, 0x42, 0x38]), Colour([0x39, 0x2b, 0x25])],
    [Colour([0x48, 0x3c, 0x56]), Colour([0x2f, 0x27, 0x3a])],
    [Colour([0x4a, 0x4a, 0x48]), Colour([0x31, 0x31, 0x30])],
];
/// The disc in a corner, which shows whether a picture has been turned over.
const DISC: Colour = Colour([0xd9, 0xc9, 0x9a]);
/// Where the horizon lies, as a share of the height.
const HORIZON: f32 = 0.64;
/// The part of the frame that a sign takes, across and down.
const SIGN: [f32; 2] = [0.56, 0.34];
/// How thick a scenic frame is, as a share of the height.
const BORDER: f32 = 0.16;

/// The card of a stand-in at a frame's size: the same bytes wherever it is drawn.
///
/// # Errors
/// [`FaceError`] where the faces inside the program cannot be read.
pub fn card(kind: StandIn, label: &str, frame: Frame) -> Result<Picture, FaceError> {
    let faces = Faces::new()?;
    let (width, height) = (frame.width as f32, frame.height as f32);
    let [above, below] = GROUNDS[(fnv_1a(label.as_bytes()) % GROUNDS.len() as u64) as usize];
    let mut canvas = Canvas::new(frame.width, frame.height, above);
    let line = (height / 160.0).max(1.0);
    let words = match kind {
        StandIn::Picture => {
            let y = (height * HORIZON) as u32;
            canvas.area(Area { x: 0, y, width: frame.width, height: frame.height - y }, below);
            let radius = height * 0.09;
            let centre = (width * 0.16, height * 0.24);
            canvas.rounded(Rounded { centre, half: (radius, radius), radius }, DISC);
            let half = (width / 2.0 - 4.0 * line, height / 2.0 - 4.0 * line);
            let edge = Rounded { centre: (width / 2.0, height / 2.0), half, radius: 3.0 * line };
            canvas.ring(edge, line, ink::QUIET);
            (width / 2.0, height * 0.5, width * 0.8, height / 8.0)
        }
        StandIn::Sign => {
            let sign = sign(frame);
            canvas.rounded(sign, below);
            canvas.ring(sign, 2.0 * line, DISC);
            (width / 2.0, height / 2.0, width * SIGN[0] * 0.86, height / 10.0)
        }
        StandIn::Border => {
            canvas.area(Area { x: 0, y: 0, width: frame.width, height: frame.height }, below);
            let hole = hole(frame);
            canvas.ring(Rounded { half: (hole.half.0 + line, hole.half.1 + line), ..hole }, line, DISC);
            (width / 2.0, height * BORDER / 2.0, width * 0.8, height * BORDER * 0.45)
        }
    };
    written(&mut canvas, &faces, label, words);
    let mut picture = canvas.into_picture();
    match kind {
        StandIn::Picture => {}
        StandIn::Sign => cut(&mut picture, sign(frame), false),
        StandIn::Border => cut(&mut picture, hole(frame), true),
    }
    Ok(Picture { frame, rgba: picture.into_raw(), opaque: kind == StandIn::Picture })
}

fn sign(frame: Frame) -> Rounded {
    let (width, height) = (frame.width as f32, frame.height as f32);
    let half = (width * SIGN[0] / 2.0, height * SIGN[1] / 2.0);
    Rounded { centre: (width / 2.0, height / 2.0), half, radius: height * 0.04 }
}

fn hole(frame: Frame) -> Rounded {
    let (width, height) = (frame.width as f32, frame.height as f32);
    let thick = height * BORDER;
    let half = ((width / 2.0 - thick).max(0.0), (height / 2.0 - thick).max(0.0));
    Rounded { centre: (width / 2.0, height / 2.0), half, radius: thick * 0.3 }
}

/// Makes a picture transparent inside or outside a shape: whole texels, so that every adapter sees the same alpha.
fn cut(picture: &mut RgbaImage, shape: Rounded, is_inside: bool) {
    for (x, y, texel) in picture.enumerate_pixels_mut() {
        if (shape.distance(x as f32 + 0.5, y as f32 + 0.5) <= 0.0) == is_inside {
            *texel = Rgba([0; 4]);
        }
    }
}

/// Writes the label around a middle, in lines that are as large as they can be.
fn written(
    canvas: &mut Canvas,
    faces: &Faces,
    label: &str,
    (middle, centre, room, largest): (f32, f32, f32, f32),
) {
    let style =
        |em: f32| Style { face: Face::Words, em, leading: (em * 1.25).ceil() as u32, colour: ink::BRIGHT };
    let mut em = largest;
    let mut lines = faces.wrapped(style(em), label, room);
    while lines.len() > 2 && em > largest / 3.0 {
        em *= 0.8;
        lines = faces.wrapped(style(em), label, room);
    }
    // Smaller than this a letter is a smudge, and the picture is looked at for its colours alone.
    if em < 3.0 {
        return;
    }
    let style = style(em);
    let top = centre - (style.leading * lines.len() as u32) as f32 / 2.0;
    for (at, line) in lines.iter().enumerate() {
        let left = (middle - faces.width(style, line) / 2.0).round();
        let baseline = (top + (style.leading * at as u32) as f32).round() + faces.baseline(style);
        canvas.marks(&faces.set(style, line, left, baseline), style.colour);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn texel(picture: &Picture, x: u32, y: u32) -> [u8; 4] {
        let at = ((y * picture.frame.width + x) * 4) as usize;
        picture.rgba[at..at + 4].try_into().unwrap()
    }

    #[test]
    fn a_card_says_its_label_and_the_kinds_differ_in_what_they_cover() {
        let frame = Frame { width: 320, height: 180 };
        let whole = card(StandIn::Picture, "harbour", frame).unwrap();
        assert!(whole.opaque && whole.rgba.chunks(4).all(|texel| texel[3] == 255));
        assert_ne!(whole, card(StandIn::Picture, "quay", frame).unwrap());
        let sign = card(StandIn::Sign, "harbour", frame).unwrap();
        assert_eq!([texel(&sign, 2, 2)[3], texel(&sign, 160, 60)[3]], [0, 255]);
        let border = card(StandIn::Border, "harbour", frame).unwrap();
        assert_eq!([texel(&border, 2, 2)[3], texel(&border, 160, 90)[3]], [255, 0]);
    }

    #[test]
    fn a_card_of_any_size_and_label_is_drawn() {
        for (width, height) in [(1, 1), (1, 400), (400, 1), (7, 5), (1920, 1080)] {
            for kind in StandIn::ALL {
                for label in ["a", "夜の船", &"long ".repeat(16)] {
                    let frame = Frame { width, height };
                    let picture = card(kind, label, frame).unwrap();
                    assert_eq!(picture.rgba.len(), (width * height * 4) as usize);
                }
            }
        }
    }
}
