//! The first five effects, byte for byte against DESIGN section 3 worked out in 64 bits, and against what
//! others have published or built.

#[allow(dead_code, reason = "each test file uses its own part of it")]
use crate::common::Set::{To, Word};
use crate::common::{Alpha, SIZES, moment, picture, rendered, scattered, used};
use crate::model::{Held, LITTLE, Ties, check_everywhere, mix, on_colours};
use image::{DynamicImage, GrayImage, Luma, RgbaImage, imageops};
use palette::convert::FromColorUnclamped;
use palette::{LinSrgb, Srgb};
use underover::base::colour::{Colour, linear_from_srgb, srgb_from_linear};
use underover::base::frame::{Frame, PixelMode};
use underover::base::picture::Picture;
use underover::beat::Moment;

const COLOURS: [&str; 5] = ["#ff8c33", "#000000", "#ffffff", "#0b0a40", "#80ff01"];
const SHARES: [f64; 6] = [0.0, 0.01, 0.35, 0.5, 0.6, 1.0];

fn channels_of(word: &str, pixels: PixelMode) -> [f64; 3] {
    let colour: Colour = word.parse().unwrap();
    match pixels {
        PixelMode::Encoded8Bit => colour.0.map(|byte| f64::from(byte) / 255.0),
        PixelMode::LinearFloat => colour.0.map(|byte| crate::model::decoded(f64::from(byte) / 255.0)),
    }
}

#[test]
fn tint_mixes_in_the_luminance_times_its_colour() {
    for colour in COLOURS {
        for amount in SHARES {
            let tint = used("tint", &[("colour", Word(colour)), ("amount", To(amount))]);
            check_everywhere(&tint, 0.0, &|before, x, y| {
                let colour = channels_of(colour, before.pixels);
                let tinted = on_colours(|c: [f64; 3]| {
                    let luminance = 0.2126 * c[0] + 0.7152 * c[1] + 0.0722 * c[2];
                    [0, 1, 2].map(|i| mix(c[i], luminance * colour[i], amount))
                });
                tinted(before, x, y)
            });
        }
    }
}

#[test]
fn the_flash_gate_is_open_while_its_turn_is_below_open() {
    // Beat, rate, phase, open, is it open: by hand.
    let gates = [
        (0.0, 1.0, 0.0, 0.5, true),
        (0.25, 1.0, 0.0, 0.5, true),
        (0.5, 1.0, 0.0, 0.5, false),
        (0.75, 2.0, 0.0, 0.5, false),
        (0.75, 2.0, 0.5, 0.5, true),
        (0.0, 1.0, 1.0, 0.5, true),
        (0.3, 1.0, 0.8, 0.5, true),
        (0.3, 1.0, 0.3, 0.5, false),
        (17.3, 0.0, 0.25, 0.5, true),
        (17.3, 0.0, 0.75, 0.5, false),
        (0.03, 8.0, 0.0, 0.25, true),
        (0.04, 8.0, 0.0, 0.25, false),
        (0.99, 1.0, 0.0, 1.0, true),
        (0.0, 1.0, 0.0, 0.0, false),
        (1e6 + 0.1, 1.0, 0.0, 0.5, true),
        (1e6 + 0.6, 1.0, 0.0, 0.5, false),
        (1e6 + 0.1, 8.0, 0.5, 0.5, true),
        (-0.25, 1.0, 0.0, 0.5, false),
    ];
    for (beats, rate, phase, open, is_open) in gates {
        let settings = [("rate", To(rate)), ("phase", To(phase)), ("open", To(open)), ("strength", To(0.6))];
        let gate = used("flash-gate", &settings);
        let model = on_colours(|c| if is_open { c.map(|c| mix(c, 1.0, 0.6)) } else { c });
        check_everywhere(&gate, beats, &model);
    }
}

#[test]
fn an_open_flash_gate_pulls_every_channel_toward_its_colour() {
    for colour in COLOURS {
        for strength in SHARES {
            let gate = used("flash-gate", &[("colour", Word(colour)), ("strength", To(strength))]);
            check_everywhere(&gate, 0.0, &|before, x, y| {
                let colour = channels_of(colour, before.pixels);
                on_colours(|c: [f64; 3]| [0, 1, 2].map(|i| mix(c[i], colour[i], strength)))(before, x, y)
            });
        }
    }
}

/// DESIGN section 3: the kernels as they are written there.
fn edges(gain: f64, amount: f64) -> impl Fn(&Held, i64, i64) -> Vec<[f64; 4]> {
    const ACROSS: [[f64; 3]; 3] = [[-1.0, 0.0, 1.0], [-2.0, 0.0, 2.0], [-1.0, 0.0, 1.0]];
    move |before, x, y| {
        let centre = before.straight(x, y);
        let result = [0, 1, 2].map(|channel| {
            let (mut gx, mut gy) = (0.0, 0.0);
            for (row, weights) in ACROSS.iter().enumerate() {
                for (column, weight) in weights.iter().enumerate() {
                    let (a, b) = (column as i64 - 1, row as i64 - 1);
                    gx += weight * before.straight(x + a, y + b)[channel];
                    // Its transpose: the same weight with across and down exchanged.
                    gy += weight * before.straight(x + b, y + a)[channel];
                }
            }
            let edge = (gain / 4.0 * (gx * gx + gy * gy).sqrt()).min(1.0);
            mix(centre[channel], edge, amount)
        });
        vec![crate::model::premultiplied(result, before.alpha(x, y), before.pixels)]
    }
}

#[test]
fn edge_find_is_the_sobel_magnitude_of_each_channel() {
    for (gain, amount) in [(1.0, 1.0), (0.0, 1.0), (8.0, 1.0), (1.5, 0.4), (0.3, 0.99), (8.0, 0.0)] {
        let edge_find = used("edge-find", &[("gain", To(gain)), ("amount", To(amount))]);
        check_everywhere(&edge_find, 0.0, &edges(gain, amount));
    }
}

#[test]
fn channel_offset_takes_red_and_blue_from_opposite_sides() {
    // Distance, angle, and what cosine and sine are there.
    let half = std::f64::consts::FRAC_1_SQRT_2;
    let offsets = [
        (0.01, 0.0, (1.0, 0.0)),
        (0.25, 0.0, (1.0, 0.0)),
        (-0.25, 0.0, (1.0, 0.0)),
        (0.15, 90.0, (0.0, 1.0)),
        (0.25, 45.0, (half, half)),
        (-0.12, 45.0, (half, half)),
        (0.1, -360.0, (1.0, 0.0)),
        (0.2, 360.0, (1.0, 0.0)),
        (0.2, 270.0, (0.0, -1.0)),
        (0.2, -180.0, (-1.0, 0.0)),
        // On 9 and 33 texels exactly half a texel: away from zero.
        (0.5 / 9.0, 0.0, (1.0, 0.0)),
        (-0.5 / 9.0, 90.0, (0.0, 1.0)),
        (0.0, 0.0, (1.0, 0.0)),
    ];
    for (distance, angle, (cos, sin)) in offsets {
        let offset = used("channel-offset", &[("distance", To(distance)), ("angle", To(angle))]);
        check_everywhere(&offset, 0.0, &|before, x, y| {
            let length = distance * f64::from(before.frame.width);
            let (dx, dy) = ((length * cos).round() as i64, (length * sin).round() as i64);
            let red = before.stored(x + dx, y + dy);
            let green = before.stored(x, y);
            let blue = before.stored(x - dx, y - dy);
            vec![[red[0], green[1], blue[2], red[3].max(green[3]).max(blue[3])]]
        });
    }
}

#[test]
fn mirror_keeps_the_named_half_and_reflects_it() {
    for fold in ["left-over-right", "right-over-left", "top-over-bottom", "bottom-over-top"] {
        let mirror = used("mirror", &[("fold", Word(fold))]);
        check_everywhere(&mirror, 0.0, &|before, x, y| {
            let (w, h) = (i64::from(before.frame.width), i64::from(before.frame.height));
            let kept = match fold {
                "left-over-right" => 2 * x < w,
                "right-over-left" => 2 * x >= w - 1,
                "top-over-bottom" => 2 * y < h,
                _ => 2 * y >= h - 1,
            };
            vec![match (kept, fold) {
                (true, _) => before.stored(x, y),
                (false, "left-over-right" | "right-over-left") => before.stored(w - 1 - x, y),
                (false, _) => before.stored(x, h - 1 - y),
            }]
        });
    }
}

// From here on: what others have published or built.

fn image_of(picture: &Picture) -> RgbaImage {
    RgbaImage::from_raw(picture.frame.width, picture.frame.height, picture.rgba.clone()).unwrap()
}

#[test]
fn the_four_folds_are_flips_of_the_image_crate_joined_to_the_original() {
    for (width, height) in SIZES {
        let original = scattered(width, height, Alpha::Full, 2);
        let image = image_of(&original);
        for fold in ["left-over-right", "right-over-left", "top-over-bottom", "bottom-over-top"] {
            let mut expected = match fold {
                "left-over-right" | "right-over-left" => imageops::flip_horizontal(&image),
                _ => imageops::flip_vertical(&image),
            };
            // The half that stays, an odd middle included, is laid over the flipped picture.
            let (half_width, half_height) = (width.div_ceil(2), height.div_ceil(2));
            let (x, y, w, h) = match fold {
                "left-over-right" => (0, 0, half_width, height),
                "right-over-left" => (width - half_width, 0, half_width, height),
                "top-over-bottom" => (0, 0, width, half_height),
                _ => (0, height - half_height, width, half_height),
            };
            let kept = imageops::crop_imm(&image, x, y, w, h).to_image();
            imageops::replace(&mut expected, &kept, i64::from(x), i64::from(y));
            let mirror = used("mirror", &[("fold", Word(fold))]);
            for pixels in PixelMode::ALL {
                let got =
                    rendered(&original, std::slice::from_ref(&mirror), moment(original.frame, pixels, 0.0));
                assert!(got.rgba == *expected.as_raw(), "{fold} of {width}x{height} in {}", pixels.name());
            }
        }
    }
}

fn opaque_grey(image: &GrayImage) -> Picture {
    let rgba = DynamicImage::from(image.clone()).to_rgba8();
    picture(image.width(), image.height(), rgba.into_raw())
}

fn edges_of(image: &GrayImage, gain: f64) -> Vec<u8> {
    let edge_find = used("edge-find", &[("gain", To(gain))]);
    let before = opaque_grey(image);
    let got = rendered(&before, &[edge_find], moment(before.frame, PixelMode::Encoded8Bit, 0.0));
    got.rgba.chunks(4).map(|texel| texel[0]).collect()
}

#[test]
fn edge_find_agrees_with_the_sobel_filters_of_imageproc() {
    // Source: the imageproc crate, `horizontal_sobel` and `vertical_sobel`. Scale:
    // they give the sums of the kernels on bytes; a gain of 1 shows a quarter of their magnitude.
    for (width, height) in SIZES {
        let scattered = scattered(width, height, Alpha::Full, 3);
        let grey =
            GrayImage::from_fn(width, height, |x, y| Luma([scattered.rgba[((y * width + x) * 4) as usize]]));
        let across = imageproc::gradients::horizontal_sobel(&grey);
        let down = imageproc::gradients::vertical_sobel(&grey);
        for gain in [1.0, 0.25, 3.0] {
            let got = edges_of(&grey, gain);
            for (byte, (gx, gy)) in got.into_iter().zip(across.iter().zip(down.iter())) {
                let magnitude = f64::from(*gx).hypot(f64::from(*gy));
                let expected = (gain / 4.0 * magnitude).min(255.0);
                assert!(
                    (f64::from(byte) - expected).abs() <= 0.5 + LITTLE + Ties::OF_TEXELS.bytes,
                    "{byte}, {expected}"
                );
            }
        }
    }
}

#[test]
fn edge_find_gives_the_tabled_answers_of_opencv_and_scikit_image() {
    // Source: REFERENCES, "Edges". A step of 1 gives 4 with the integer kernels (OpenCV): a quarter of it is the step.
    let step = GrayImage::from_fn(6, 5, |x, _| Luma([if x < 3 { 50 } else { 150 }]));
    assert_eq!(edges_of(&step, 1.0)[..6], [0, 0, 100, 100, 0, 0]);
    assert_eq!(edges_of(&step, 0.5)[..6], [0, 0, 50, 50, 0, 0]);
    // The row [0 20 90 40] in every row, repeated borders: Sobel-x [80 360 80 -200].
    let row = GrayImage::from_fn(4, 3, |x, _| Luma([[0, 20, 90, 40][x as usize]]));
    assert_eq!(edges_of(&row, 1.0), [20, 90, 20, 50].repeat(3));
    assert_eq!(edges_of(&row, 2.0), [40, 180, 40, 100].repeat(3));
}

#[test]
fn the_transfer_function_agrees_with_palette_and_with_the_published_figures() {
    // Source: REFERENCES, "sRGB and luminance" (IEC 61966-2-1).
    let published =
        [(10, 0.003_035_269_8), (11, 0.003_346_535_8), (64, 0.051_269_458_4), (128, 0.215_860_500_1)];
    for (code, linear) in published.into_iter().chain([(188, 0.502_886_458_0)]) {
        assert!((linear_from_srgb(f64::from(code) / 255.0) - linear).abs() < 5e-11, "{code}");
    }
    assert!((srgb_from_linear(0.5) - 0.735_357_0).abs() < 5e-8);
    assert!((srgb_from_linear(0.18) - 0.461_356_1).abs() < 5e-8);
    // Source: the palette crate.
    for code in 0..=255_u8 {
        let encoded = f64::from(code) / 255.0;
        let linear = Srgb::new(encoded, 0.0, 0.0).into_linear::<f64>().red;
        assert!((linear_from_srgb(encoded) - linear).abs() < 1e-7, "{code}");
        let back = Srgb::<f64>::from_linear(LinSrgb::new(linear, 0.0, 0.0)).red;
        assert!((srgb_from_linear(linear) - back).abs() < 1e-7, "{code}");
    }
}

/// All codes of grey, in a row.
fn codes() -> Picture {
    picture(256, 1, (0..=255).flat_map(|code| [code, code, code, 255]).collect())
}

#[test]
fn every_code_comes_out_of_linear_light_as_it_went_in() {
    let codes = codes();
    for pixels in PixelMode::ALL {
        let got = rendered(&codes, &[], moment(codes.frame, pixels, 0.0));
        assert_eq!(got, codes, "{}", pixels.name());
    }
}

#[test]
fn the_gpu_mixes_linear_light_as_palette_does() {
    // Half of white's light over every code: decoded, mixed and encoded by the palette crate.
    let codes = codes();
    let gate = used("flash-gate", &[("strength", To(0.5))]);
    let got = rendered(&codes, &[gate], moment(codes.frame, PixelMode::LinearFloat, 0.0));
    for (code, texel) in got.rgba.chunks(4).enumerate() {
        let light = Srgb::new(code as f64 / 255.0, 0.0, 0.0).into_linear::<f64>().red;
        let expected = Srgb::<f64>::from_linear(LinSrgb::new((light + 1.0) / 2.0, 0.0, 0.0)).red * 255.0;
        assert!(
            (f64::from(texel[0]) - expected).abs() <= 0.5 + Ties::OF_TEXELS.linear_bytes,
            "{code}: {texel:?}"
        );
    }
    // Source: REFERENCES. Encode 0.5 is 0.7353570, 188 in 8 bits; encode 0.18 is 0.4613561, 118.
    assert_eq!(got.rgba[0], 188);
    let black = picture(1, 1, vec![0, 0, 0, 255]);
    let gate = used("flash-gate", &[("strength", To(0.18))]);
    let got = rendered(&black, &[gate], moment(black.frame, PixelMode::LinearFloat, 0.0));
    assert_eq!(got.rgba, [118, 118, 118, 255]);
}

#[test]
fn the_luminance_of_tint_is_that_of_bt_709() {
    let white = used("tint", &[("colour", Word("#ffffff")), ("amount", To(1.0))]);
    let primaries = picture(3, 1, vec![255, 0, 0, 255, 0, 255, 0, 255, 0, 0, 255, 255]);
    // Source: ITU-R BT.709: 0.2126, 0.7152, 0.0722; of 255: 54.2, 182.4, 18.4.
    let luma = rendered(
        &primaries,
        std::slice::from_ref(&white),
        moment(primaries.frame, PixelMode::Encoded8Bit, 0.0),
    );
    assert_eq!(luma.rgba, [54, 54, 54, 255, 182, 182, 182, 255, 18, 18, 18, 255]);
    // Source: the palette crate's relative luminance of sRGB colours, encoded again by it.
    let colours = scattered(33, 17, Alpha::Full, 4);
    let got = rendered(&colours, &[white], moment(colours.frame, PixelMode::LinearFloat, 0.0));
    for (before, after) in colours.rgba.chunks(4).zip(got.rgba.chunks(4)) {
        let colour = Srgb::new(before[0], before[1], before[2]).into_format::<f64>().into_linear::<f64>();
        let luminance = palette::Xyz::<palette::white_point::D65, f64>::from_color_unclamped(colour).y;
        let expected = Srgb::<f64>::from_linear(LinSrgb::new(luminance, 0.0, 0.0)).red * 255.0;
        // palette derives its weights from the primaries: 0.212639, 0.715169, 0.072192.
        assert!(
            (f64::from(after[0]) - expected).abs() <= 0.5 + Ties::OF_TEXELS.linear_bytes,
            "{before:?}: {after:?}"
        );
    }
}

#[test]
fn grey_codes_cross_the_published_luminances_where_they_should() {
    // Source: REFERENCES: Y >= 0.1 first at 90, Y >= 0.8 first at 232.
    for (luminance, code) in [(0.1, 90), (0.8, 232)] {
        assert!(linear_from_srgb(f64::from(code) / 255.0) >= luminance);
        assert!(linear_from_srgb(f64::from(code - 1) / 255.0) < luminance);
    }
}

#[test]
fn a_beat_at_174_bpm_lasts_345_milliseconds() {
    // 60/174 s (arithmetic).
    let frame = Frame { width: 1, height: 1 };
    let moment = Moment::at(frame, PixelMode::Encoded8Bit, 174.0, 1.0);
    assert!((moment.seconds() * 1000.0 - 344.83).abs() < 0.005);
}
