//! The seven effects beside the first five, byte for byte against their definitions worked out in 64 bits,
//! and against what others have published or built.

#[allow(dead_code, reason = "each test file uses its own part of it")]
use std::f64::consts::TAU;

use crate::common::Set::{To, Word};
use crate::common::{Alpha, SIZES, moment, picture, rendered, scattered, used};
use crate::model::{
    Held, Ties, check_everywhere, check_everywhere_within, decoded, encoded, mix, on_colours, premultiplied,
};
use image::{GrayImage, ImageBuffer, Luma, RgbaImage, imageops};
use underover::base::frame::PixelMode;
use underover::base::picture::Picture;

const SHARES: [f64; 5] = [0.0, 0.01, 0.35, 0.5, 1.0];

/// From one way of holding light to another.
type Transfer = fn(f64) -> f64;

fn image_of(picture: &Picture) -> RgbaImage {
    RgbaImage::from_raw(picture.frame.width, picture.frame.height, picture.rgba.clone()).unwrap()
}

fn in_8_bits(picture: &Picture, name: &str, settings: &[(&str, crate::common::Set)]) -> Picture {
    rendered(picture, &[used(name, settings)], moment(picture.frame, PixelMode::Encoded8Bit, 0.0))
}

#[test]
fn invert_mixes_in_the_complement() {
    for amount in SHARES {
        let invert = used("invert", &[("amount", To(amount))]);
        check_everywhere(&invert, 0.0, &on_colours(|c| c.map(|c| mix(c, 1.0 - c, amount))));
    }
}

#[test]
fn invert_agrees_with_the_image_crate() {
    for (width, height) in SIZES {
        let original = scattered(width, height, Alpha::Full, 5);
        let mut expected = image_of(&original);
        imageops::invert(&mut expected);
        assert_eq!(in_8_bits(&original, "invert", &[]).rgba, *expected.as_raw(), "{width}x{height}");
    }
}

#[test]
fn posterise_rounds_every_channel_down_to_one_of_its_steps() {
    for steps in [2, 3, 4, 5, 16, 17, 51, 64] {
        for amount in [0.0, 0.3, 1.0] {
            let posterise = used("posterise", &[("steps", To(f64::from(steps))), ("amount", To(amount))]);
            check_everywhere(&posterise, 0.0, &|before, x, y| {
                let n = f64::from(steps);
                let (to_encoded, to_working): (Transfer, Transfer) = match before.pixels {
                    PixelMode::Encoded8Bit => (|c| c, |c| c),
                    PixelMode::LinearFloat => (encoded, decoded),
                };
                // A value on the foot of a step, give or take the floats, may belong to either
                // step in linear light; in 8 bits it belongs to the upper one.
                let slack = match before.pixels {
                    PixelMode::Encoded8Bit => [1e-9, 1e-9],
                    PixelMode::LinearFloat => [-0.01, 0.01],
                };
                let choices = [0, 1, 2].map(|channel| {
                    let value = before.straight(x, y)[channel];
                    slack.map(|slack| {
                        let step = (to_encoded(value.clamp(0.0, 1.0)) * n + slack).floor().min(n - 1.0);
                        mix(value, to_working(step.max(0.0) / (n - 1.0)), amount)
                    })
                });
                (0..8)
                    .map(|pick| {
                        let colour = [0, 1, 2].map(|channel| choices[channel][pick >> channel & 1]);
                        premultiplied(colour, before.alpha(x, y), before.pixels)
                    })
                    .collect()
            });
        }
    }
}

#[test]
fn posterise_is_the_discrete_table_of_the_filter_effects_module() {
    // Source: W3C Filter Effects Module Level 1, feComponentTransfer, type "discrete": for n values
    // v0 .. vn-1 and k/n <= C < (k+1)/n the result is vk, and for C = 1 it is vn-1. In whole numbers.
    let codes = picture(256, 1, (0..=255).flat_map(|code| [code, code, code, 255]).collect());
    for steps in 2..=64_u32 {
        let got = in_8_bits(&codes, "posterise", &[("steps", To(f64::from(steps)))]);
        for (code, texel) in (0_u32..).zip(got.rgba.chunks(4)) {
            let k = (code * steps / 255).min(steps - 1);
            let expected = f64::from(k * 255) / f64::from(steps - 1);
            assert!((f64::from(texel[0]) - expected).abs() <= 0.5, "{code} in {steps} steps: {texel:?}");
        }
    }
}

/// W3C Filter Effects Module Level 1, feColorMatrix, type "hueRotate": the three matrices as printed there.
fn hue_rotate(degrees: f64) -> [[f64; 3]; 3] {
    let (sin, cos) = (degrees / 360.0 * TAU).sin_cos();
    let constant = [[0.213, 0.715, 0.072]; 3];
    let with_cos = [[0.787, -0.715, -0.072], [-0.213, 0.285, -0.072], [-0.213, -0.715, 0.928]];
    let with_sin = [[-0.213, -0.715, 0.928], [0.143, 0.140, -0.283], [-0.787, 0.715, 0.072]];
    [0, 1, 2].map(|r| [0, 1, 2].map(|c| constant[r][c] + cos * with_cos[r][c] + sin * with_sin[r][c]))
}

#[test]
fn hue_turn_multiplies_by_the_hue_rotate_matrix() {
    for angle in [0.0, 30.0, 90.0, -90.0, 120.0, 150.0, 180.0, 237.5, -360.0, 360.0] {
        let hue_turn = used("hue-turn", &[("angle", To(angle))]);
        let matrix = hue_rotate(angle);
        let model = on_colours(|c: [f64; 3]| matrix.map(|row| row[0] * c[0] + row[1] * c[1] + row[2] * c[2]));
        check_everywhere(&hue_turn, 0.0, &model);
    }
}

#[test]
fn hue_turn_gives_the_worked_values_of_the_filter_effects_module() {
    // Source: W3C Filter Effects Module Level 1, feColorMatrix: the matrix at 90 degrees (sine alone),
    // at 180 degrees (cosine alone) and none of it at 360, summed by hand; on red, green and blue at
    // 255 and on a grey, clamped.
    let colours = picture(
        4,
        1,
        [[255, 0, 0], [0, 255, 0], [0, 0, 255], [80, 80, 80]]
            .iter()
            .flat_map(|c| [c[0], c[1], c[2], 255])
            .collect(),
    );
    let turned = |angle| {
        let got = in_8_bits(&colours, "hue-turn", &[("angle", To(angle))]);
        got.rgba.chunks(4).map(|t| [t[0], t[1], t[2]]).collect::<Vec<_>>()
    };
    // Columns of .213+(-.213) .715-.715 .072+.928 | .213+.143 .715+.140 .072-.283 | .213-.787 .715+.715 .072+.072.
    // 0.356 * 255 = 90.78, 0.855 * 255 = 218.03, 0.144 * 255 = 36.72.
    assert_eq!(turned(90.0), [[0, 91, 0], [0, 218, 255], [255, 0, 37], [80, 80, 80]]);
    // .213-.787 .715+.715 .072+.072 | .213+.213 .715-.285 .072+.072 | .213+.213 .715+.715 .072-.928.
    // 0.426 * 255 = 108.63, 0.430 * 255 = 109.65.
    assert_eq!(turned(180.0), [[0, 109, 109], [255, 110, 255], [37, 37, 0], [80, 80, 80]]);
    for home in [0.0, 360.0, -360.0] {
        assert_eq!(in_8_bits(&colours, "hue-turn", &[("angle", To(home))]), colours);
    }
}

#[test]
fn gain_and_lift_is_a_straight_line() {
    for (gain, lift) in [(1.0, 0.0), (0.0, 0.25), (4.0, -1.0), (1.8, -0.15), (0.5, 1.0), (2.5, 0.013)] {
        let both = used("gain-and-lift", &[("gain", To(gain)), ("lift", To(lift))]);
        check_everywhere(&both, 0.0, &on_colours(|c| c.map(|c| c * gain + lift)));
    }
}

#[test]
fn gain_and_lift_is_the_linear_transfer_of_the_filter_effects_module() {
    // Source: W3C Filter Effects Module Level 1, feComponentTransfer, type "linear": C' = slope * C + intercept.
    // Worked: 0.8 * 1.5 - 0.2 = 1.0; 0.4 * 1.5 - 0.2 = 0.4; 0.2 * 1.5 - 0.2 = 0.1 (26 in 8 bits); 0 stays black.
    let greys = picture(4, 1, [204, 102, 51, 0].iter().flat_map(|&g| [g, g, g, 255]).collect());
    let got = in_8_bits(&greys, "gain-and-lift", &[("gain", To(1.5)), ("lift", To(-0.2))]);
    assert_eq!(got.rgba.chunks(4).map(|t| t[0]).collect::<Vec<_>>(), [255, 102, 26, 0]);
}

/// A Gaussian of which the standard deviation is half the radius, over a square window cut off at the
/// radius; premultiplied, borders repeated.
fn gaussian(radius: i64) -> impl Fn(&Held, i64, i64) -> Vec<[f64; 4]> {
    let bell = move |d: i64| {
        let deviations = d as f64 / (radius as f64 / 2.0).max(1e-9);
        (-0.5 * deviations * deviations).exp()
    };
    move |before, x, y| {
        let (mut sum, mut total) = ([0.0; 4], 0.0);
        for dy in -radius..=radius {
            for dx in -radius..=radius {
                let weight = bell(dx) * bell(dy);
                let texel = before.stored(x + dx, y + dy);
                sum = [0, 1, 2, 3].map(|c| sum[c] + weight * texel[c]);
                total += weight;
            }
        }
        vec![sum.map(|c| c / total)]
    }
}

#[test]
fn blur_is_a_gaussian_mean_of_premultiplied_texels() {
    for radius in [0, 1, 2, 5, 16] {
        let blur = used("blur", &[("radius", To(radius as f64))]);
        check_everywhere_within(Ties::OF_SUMS, &blur, 0.0, &gaussian(radius));
    }
}

#[test]
fn blur_agrees_with_the_gaussian_of_imageproc() {
    // Source: the imageproc crate, `gaussian_blur_f32`, on floats so that it rounds nothing between its
    // two passes. Its kernel ends at twice the standard deviation rounded up, which is our radius. It
    // repeats the border as we do; only the interior is compared, where borders play no part.
    let (width, height) = (48_u32, 40_u32);
    let scattered = scattered(width, height, Alpha::Full, 6);
    let grey =
        GrayImage::from_fn(width, height, |x, y| Luma([scattered.rgba[((y * width + x) * 4) as usize]]));
    let original = picture(width, height, grey.pixels().flat_map(|g| [g[0], g[0], g[0], 255]).collect());
    let floats = ImageBuffer::from_fn(width, height, |x, y| Luma([f32::from(grey.get_pixel(x, y)[0])]));
    for radius in [1_u32, 4, 9, 16] {
        let expected = imageproc::filter::gaussian_blur_f32(&floats, radius as f32 / 2.0);
        let got = in_8_bits(&original, "blur", &[("radius", To(f64::from(radius)))]);
        for y in radius..height - radius {
            for x in radius..width - radius {
                let byte = got.rgba[((y * width + x) * 4) as usize];
                let expected = expected.get_pixel(x, y)[0];
                assert!(
                    (f32::from(byte) - expected).abs() <= 0.501,
                    "{x},{y}, radius {radius}: {byte}, {expected}"
                );
            }
        }
    }
}

#[test]
fn blur_leaves_an_even_picture_alone() {
    let even = picture(9, 7, [90, 200, 30, 255].repeat(63));
    for pixels in PixelMode::ALL {
        for radius in [1.0, 7.0, 16.0] {
            let got =
                rendered(&even, &[used("blur", &[("radius", To(radius))])], moment(even.frame, pixels, 0.0));
            assert_eq!(got, even, "radius {radius} in {}", pixels.name());
        }
    }
}

/// The texel in the middle of the tile that holds `at`, found by listing the tile's texels.
fn middle_of_tile(at: i64, across: i64, width: i64, size: i64) -> i64 {
    let tile = |t: i64| t * across / width;
    let texels: Vec<i64> = (0..size).filter(|&t| tile(t) == tile(at)).collect();
    texels[(texels.len() - 1) / 2]
}

#[test]
fn mosaic_shows_the_middle_texel_of_each_tile() {
    for across in [1, 2, 3, 5, 8, 20, 33, 320] {
        let mosaic = used("mosaic", &[("across", To(across as f64))]);
        check_everywhere(&mosaic, 0.0, &|before, x, y| {
            let (w, h) = (i64::from(before.frame.width), i64::from(before.frame.height));
            vec![before.stored(middle_of_tile(x, across, w, w), middle_of_tile(y, across, w, h))]
        });
    }
}

#[test]
fn mosaic_of_whole_tiles_is_a_nearest_resize_of_the_image_crate() {
    // Source: the image crate. Tiles of 3x3 texels: `resize` with the nearest filter takes the texel in
    // the middle of each, and back up repeats it.
    let original = scattered(33, 18, Alpha::Full, 7);
    let small = imageops::resize(&image_of(&original), 11, 6, imageops::FilterType::Nearest);
    let expected = imageops::resize(&small, 33, 18, imageops::FilterType::Nearest);
    assert_eq!(in_8_bits(&original, "mosaic", &[("across", To(11.0))]).rgba, *expected.as_raw());
}

/// How far, in texels, a source may be from where 64 bits see it: arcs and lengths are whole numbers of
/// 1/32768 degree and 1/65536 texel; the shortening before the turns is right to 2.4e-5 of the distance
/// from the centre, and the arcs of the turns to 2e-4 degree.
const TURNED_WRONG: f64 = 0.01;

fn wedge_sources(before: &Held, x: i64, y: i64, wedges: f64, turn: f64) -> Vec<[f64; 4]> {
    let (w, h) = (f64::from(before.frame.width), f64::from(before.frame.height));
    let (dx, dy) = (x as f64 + 0.5 - w / 2.0, y as f64 + 0.5 - h / 2.0);
    let turn = turn / 360.0 * TAU;
    let wedge = TAU / wedges;
    let within = (dy.atan2(dx) - turn).rem_euclid(wedge);
    let arc = within.min(wedge - within) + turn;
    let distance = dx.hypot(dy);
    let (sx, sy) = (distance * arc.cos() + w / 2.0, distance * arc.sin() + h / 2.0);
    // Past the border the picture comes back, as in a mirror.
    let bounced = |v: f64, size: f64| {
        let v = v.rem_euclid(2.0 * size);
        (v.min(2.0 * size - v)).clamp(0.0, size - 1e-9).floor() as i64
    };
    let near = [-TURNED_WRONG, TURNED_WRONG];
    near.iter()
        .flat_map(|ex| near.map(|ey| before.stored(bounced(sx + ex, w), bounced(sy + ey, h))))
        .collect()
}

#[test]
fn wedge_repeat_takes_every_texel_from_the_slice_and_its_mirror_image() {
    for wedges in [2.0, 3.0, 5.0, 6.0, 24.0] {
        for turn in [0.0, 45.0, 90.0, -17.3, 211.9, 360.0, -360.0] {
            let repeat = used("wedge-repeat", &[("wedges", To(wedges)), ("turn", To(turn))]);
            check_everywhere(&repeat, 0.0, &|b, x, y| wedge_sources(b, x, y, wedges, turn));
        }
    }
}

#[test]
fn two_wedges_are_two_mirrors() {
    // The slice of two wedges is a quarter of the picture: at no turn the one at the bottom right.
    for (width, height) in SIZES.into_iter().chain([(640, 360)]) {
        let original = scattered(width, height, Alpha::Mixed, 8);
        let moment = moment(original.frame, PixelMode::Encoded8Bit, 0.0);
        for (turn, folds) in [
            (0.0, ["right-over-left", "bottom-over-top"]),
            (90.0, ["left-over-right", "bottom-over-top"]),
            (180.0, ["left-over-right", "top-over-bottom"]),
            (-90.0, ["right-over-left", "top-over-bottom"]),
        ] {
            let repeat = used("wedge-repeat", &[("wedges", To(2.0)), ("turn", To(turn))]);
            let mirrors = folds.map(|fold| used("mirror", &[("fold", Word(fold))]));
            let (got, expected) =
                (rendered(&original, &[repeat], moment), rendered(&original, &mirrors, moment));
            assert_eq!(crate::common::difference(&got, &expected), None, "{width}x{height}, turn {turn}");
        }
    }
}

#[test]
fn four_wedges_of_a_square_survive_a_quarter_turn_of_the_image_crate() {
    let original = scattered(32, 32, Alpha::Full, 9);
    let got = image_of(&in_8_bits(&original, "wedge-repeat", &[("wedges", To(4.0))]));
    for turned in [imageops::rotate90(&got), imageops::flip_horizontal(&got), imageops::rotate180(&got)] {
        assert!(turned == got);
    }
}
