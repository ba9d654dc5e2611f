//! Colour differences against a published table, another implementation, and the GPU against the processor.

use palette::color_difference::Ciede2000;
use palette::{FromColor, Lab, Srgb};
use proptest::prelude::*;
use underover::base::frame::{Frame, PixelMode};
use underover::base::picture::Picture;
use underover::gpu::{Gpu, Renderer};
use underover::measure::{Counted, Difference, DifferenceScale, STEPS, ciede2000, lab_from_srgb, lightness};

/// The 34 pairs of table 1 in Sharma, Wu and Dalal (2005), "The CIEDE2000 Color-Difference Formula:
/// Implementation Notes, Supplementary Test Data, and Mathematical Observations", Color Research and
/// Application 30(1); typed in from `data_ciede_2000.csv` in the `palette` repository.
const SHARMA_2005: [([f64; 3], [f64; 3], f64); 34] = [
    ([50.0000, 2.6772, -79.7751], [50.0000, 0.0000, -82.7485], 2.0425),
    ([50.0000, 3.1571, -77.2803], [50.0000, 0.0000, -82.7485], 2.8615),
    ([50.0000, 2.8361, -74.0200], [50.0000, 0.0000, -82.7485], 3.4412),
    ([50.0000, -1.3802, -84.2814], [50.0000, 0.0000, -82.7485], 1.0000),
    ([50.0000, -1.1848, -84.8006], [50.0000, 0.0000, -82.7485], 1.0000),
    ([50.0000, -0.9009, -85.5211], [50.0000, 0.0000, -82.7485], 1.0000),
    ([50.0000, 0.0000, 0.0000], [50.0000, -1.0000, 2.0000], 2.3669),
    ([50.0000, -1.0000, 2.0000], [50.0000, 0.0000, 0.0000], 2.3669),
    ([50.0000, 2.4900, -0.0010], [50.0000, -2.4900, 0.0009], 7.1792),
    ([50.0000, 2.4900, -0.0010], [50.0000, -2.4900, 0.0010], 7.1792),
    ([50.0000, 2.4900, -0.0010], [50.0000, -2.4900, 0.0011], 7.2195),
    ([50.0000, 2.4900, -0.0010], [50.0000, -2.4900, 0.0012], 7.2195),
    ([50.0000, -0.0010, 2.4900], [50.0000, 0.0009, -2.4900], 4.8045),
    ([50.0000, -0.0010, 2.4900], [50.0000, 0.0010, -2.4900], 4.8045),
    ([50.0000, -0.0010, 2.4900], [50.0000, 0.0011, -2.4900], 4.7461),
    ([50.0000, 2.5000, 0.0000], [50.0000, 0.0000, -2.5000], 4.3065),
    ([50.0000, 2.5000, 0.0000], [73.0000, 25.0000, -18.0000], 27.1492),
    ([50.0000, 2.5000, 0.0000], [61.0000, -5.0000, 29.0000], 22.8977),
    ([50.0000, 2.5000, 0.0000], [56.0000, -27.0000, -3.0000], 31.9030),
    ([50.0000, 2.5000, 0.0000], [58.0000, 24.0000, 15.0000], 19.4535),
    ([50.0000, 2.5000, 0.0000], [50.0000, 3.1736, 0.5854], 1.0000),
    ([50.0000, 2.5000, 0.0000], [50.0000, 3.2972, 0.0000], 1.0000),
    ([50.0000, 2.5000, 0.0000], [50.0000, 1.8634, 0.5757], 1.0000),
    ([50.0000, 2.5000, 0.0000], [50.0000, 3.2592, 0.3350], 1.0000),
    ([60.2574, -34.0099, 36.2677], [60.4626, -34.1751, 39.4387], 1.2644),
    ([63.0109, -31.0961, -5.8663], [62.8187, -29.7946, -4.0864], 1.2630),
    ([61.2901, 3.7196, -5.3901], [61.4292, 2.2480, -4.9620], 1.8731),
    ([35.0831, -44.1164, 3.7933], [35.0232, -40.0716, 1.5901], 1.8645),
    ([22.7233, 20.0904, -46.6940], [23.0331, 14.9730, -42.5619], 2.0373),
    ([36.4612, 47.8580, 18.3852], [36.2715, 50.5065, 21.2231], 1.4146),
    ([90.8027, -2.0831, 1.4410], [91.1528, -1.6435, 0.0447], 1.4441),
    ([90.9257, -0.5406, -0.9208], [88.6381, -0.8985, -0.7239], 1.5381),
    ([6.7747, -0.2908, -2.4247], [5.8714, -0.0985, -2.2286], 0.6377),
    ([2.0776, 0.0795, -1.1350], [0.9033, -0.0636, -0.5514], 0.9082),
];

fn renderer() -> Renderer {
    Renderer::new(Gpu::open(None).unwrap())
}

/// Deterministic bytes that look like noise.
fn noise(frame: Frame, seed: u32, opaque: bool) -> Picture {
    let mut state = seed;
    let rgba: Vec<u8> = (0..frame.texels() * 4)
        .map(|at| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            if opaque && at % 4 == 3 { 255 } else { (state >> 24) as u8 }
        })
        .collect();
    Picture { frame, rgba, opaque }
}

#[test]
fn the_processor_gives_every_pair_of_the_published_table() {
    for (nth, &(first, second, published)) in SHARMA_2005.iter().enumerate() {
        for (a, b) in [(first, second), (second, first)] {
            let found = ciede2000(a, b);
            assert!((found - published).abs() <= 1e-4, "pair {}: {found}, published {published}", nth + 1);
        }
    }
}

#[test]
fn the_gpu_gives_every_pair_of_the_published_table() {
    let pairs: Vec<[[f32; 3]; 2]> =
        SHARMA_2005.iter().map(|&(a, b, _)| [a.map(|v| v as f32), b.map(|v| v as f32)]).collect();
    let found = renderer().ciede2000(&pairs).unwrap();
    for (nth, (&(.., published), &found)) in SHARMA_2005.iter().zip(&found).enumerate() {
        assert!(
            (f64::from(found) - published).abs() <= 1e-3,
            "pair {}: {found}, published {published}",
            nth + 1
        );
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    /// `palette` has its own CIEDE2000 and its own white, which differs in the last digits: hence 0.03. The
    /// formula jumps where two hues are opposite (Sharma, Wu, Dalal 2005, on its discontinuities), and there
    /// those digits can put the two on either side: the value a hair beside the colour then counts as well.
    #[test]
    fn random_colours_differ_as_palette_says(a: [u8; 3], b: [u8; 3]) {
        let lab = |[r, g, b]: [u8; 3]| Lab::from_color(Srgb::new(r, g, b).into_format::<f64>());
        let theirs = lab(a).difference(lab(b));
        let ([l, a_axis, b_axis], other) = (lab_from_srgb(a), lab_from_srgb(b));
        let hair = 0.01;
        let beside = [(0.0, 0.0), (hair, 0.0), (-hair, 0.0), (0.0, hair), (0.0, -hair)];
        let ours = beside.map(|(da, db)| ciede2000([l, a_axis + da, b_axis + db], other));
        prop_assert!(ours.iter().any(|ours| (ours - theirs).abs() <= 0.03), "{ours:?}, palette {theirs}");
    }
}

/// The pair that a random run once found on the jump: a hair to either side gives one value or the other.
#[test]
fn opposite_hues_lie_on_either_side_of_a_jump() {
    let ([l, a, b], other) = (lab_from_srgb([13, 43, 142]), lab_from_srgb([176, 220, 70]));
    let mut sides = [-0.01, 0.01].map(|hair| ciede2000([l, a + hair, b], other));
    sides.sort_by(f64::total_cmp);
    // Computed with palette 0.7.7, which has its own white: the value of the one side.
    assert!((sides[0] - 85.38).abs() <= 0.05 && (sides[1] - 94.51).abs() <= 0.05, "{sides:?}");
}

#[test]
fn srgb_colours_have_the_lab_values_that_palette_gives() {
    // Computed with palette 0.7.7: tolerance 0.03, since whites differ in the last digits.
    for (rgb, lab) in [
        ([255, 0, 0], [53.2408, 80.0925, 67.2032]),
        ([0, 255, 0], [87.7347, -86.1827, 83.1793]),
        ([64, 128, 192], [52.2107, 0.0981, -39.4880]),
    ] {
        let found = lab_from_srgb(rgb);
        for (found, known) in found.iter().zip(lab) {
            assert!((found - known).abs() <= 0.03, "{rgb:?}: {found}, known {known}");
        }
    }
    // A grey has no chroma under its own white.
    for grey in [0_u8, 1, 10, 11, 128, 254, 255] {
        let [_, a, b] = lab_from_srgb([grey; 3]);
        assert!(a.hypot(b) < 1e-9, "grey {grey}: {a}, {b}");
    }
}

#[test]
fn the_gpu_counts_pictures_as_the_processor_does() {
    let mut renderer = renderer();
    for (width, height) in [(1, 1), (1, 9), (65, 33), (200, 70)] {
        let frame = Frame { width, height };
        for opaque in [true, false] {
            let a = noise(frame, 1, opaque);
            let mut b = noise(frame, 2, opaque);
            // Half of the texels are the same, so that both branches run.
            let half = b.rgba.len() / 8 * 4;
            b.rgba[..half].copy_from_slice(&a.rgba[..half]);
            let (on_gpu, on_processor) = (renderer.difference(&a, &b).unwrap(), Difference::of(&a, &b));
            assert_eq!(on_gpu.changed_share, on_processor.changed_share, "{frame} {opaque}");
            for (what, gpu, processor, tolerance) in [
                ("mean", on_gpu.mean, on_processor.mean, 1e-3),
                ("max", on_gpu.max, on_processor.max, 2e-3),
                // A texel on the edge of a bin may fall to either side; bins are 5/32 wide.
                ("p95", on_gpu.p95, on_processor.p95, 0.16),
            ] {
                assert!((gpu - processor).abs() <= tolerance, "{frame} {opaque} {what}: {gpu}, {processor}");
            }
            assert!(on_processor.max > 10.0 || frame.texels() < 2);
        }
    }
}

/// The 95th percentile as numpy has it (`numpy.percentile`, its default: between the two nearest ranks).
fn exact_p95(a: &Picture, b: &Picture) -> f64 {
    let lab = |texel: &[u8]| lab_from_srgb([texel[0], texel[1], texel[2]]);
    let each = a.rgba.chunks_exact(4).zip(b.rgba.chunks_exact(4));
    let mut differences: Vec<f64> = each.map(|(a, b)| ciede2000(lab(b), lab(a))).collect();
    differences.sort_by(f64::total_cmp);
    let at = 0.95 * (differences.len() - 1) as f64;
    let [low, high] = [at.floor(), at.ceil()].map(|at| differences[at as usize]);
    low + (high - low) * at.fract()
}

#[test]
fn the_95th_percentile_is_that_of_numpy_within_a_tenth() {
    let mut renderer = renderer();
    let mut assert_within = |a: &Picture, b: &Picture, wanted: f64, what: &str| {
        for (by, found) in
            [("GPU", renderer.difference(a, b).unwrap().p95), ("processor", Difference::of(a, b).p95)]
        {
            assert!((found - wanted).abs() <= 0.1, "{what}, {by}: {found}, wanted {wanted}");
        }
    };
    let frame = Frame { width: 64, height: 36 };
    let of = |frame: Frame, texel: &dyn Fn(u64) -> [u8; 3]| {
        let rgba = (0..frame.texels()).flat_map(|at| {
            let [r, g, b] = texel(at);
            [r, g, b, 255]
        });
        Picture { frame, rgba: rgba.collect(), opaque: true }
    };
    // Computed with scikit-image 0.26.0 (`rgb2lab`, `deltaE_ciede2000`) and numpy 2.4.6 (`percentile`).
    for (from, to, wanted) in [
        ([40, 80, 120], [200, 90, 30], 45.2888),
        ([0, 0, 255], [255, 255, 0], 103.4279),
        ([10, 200, 30], [30, 60, 200], 72.0334),
        ([0, 0, 0], [60, 60, 60], 16.2689),
        ([250, 250, 250], [255, 140, 51], 33.6413),
        ([120, 120, 120], [123, 121, 119], 1.5088),
    ] {
        assert_within(&of(frame, &|_| from), &of(frame, &|_| to), wanted, &format!("{from:?} to {to:?}"));
    }
    for (width, height, wanted) in [(65, 33, 83.6653), (200, 70, 84.8861)] {
        let frame = Frame { width, height };
        assert_within(&noise(frame, 1, true), &noise(frame, 2, true), wanted, "noise");
    }
    // A twentieth of the frame, and one texel more.
    let (square, black) = (Frame { width: 100, height: 100 }, [0; 3]);
    let white_from = |least: u64| move |at: u64| if at < least { [255; 3] } else { [0; 3] };
    assert_within(&of(square, &|_| black), &of(square, &white_from(500)), 5.0, "a twentieth");
    assert_within(&of(square, &|_| black), &of(square, &white_from(501)), 100.0, "more than a twentieth");
    let ramp = Frame { width: 256, height: 4 };
    assert_within(&of(ramp, &|_| black), &of(ramp, &|at| [(at % 256) as u8; 3]), 94.5178, "ramp");
    // Against the percentile worked out here, over pairs of flat colours and over noise that is mixed in.
    let mut state = 7_u32;
    let mut byte = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 24) as u8
    };
    for nth in 0..60 {
        let colours: [[u8; 3]; 3] = std::array::from_fn(|_| std::array::from_fn(|_| byte()));
        let every = u64::from(byte() % 30) + 1;
        let a = of(frame, &|_| colours[0]);
        let b = of(frame, &|at| if at % every == 0 { colours[2] } else { colours[1] });
        assert_within(&a, &b, exact_p95(&a, &b), &format!("pair {nth}: {colours:?}, every {every}"));
        let frame = Frame { width: 20 + nth, height: 9 };
        let (a, mut b) = (noise(frame, nth, true), noise(frame, nth + 1, true));
        for (_, (near, own)) in b.rgba.iter_mut().zip(&a.rgba).enumerate().filter(|(at, _)| at % 4 < 3) {
            *near = (u32::from(*near) * nth / 60 + u32::from(*own) * (60 - nth) / 60).min(255) as u8;
        }
        assert_within(&a, &b, exact_p95(&a, &b), &format!("noise {nth}"));
    }
}

#[test]
fn a_picture_differs_from_itself_by_nothing() {
    let mut renderer = renderer();
    let a = noise(Frame { width: 33, height: 17 }, 5, false);
    assert_eq!(renderer.difference(&a, &a.clone()).unwrap(), Difference::default());
}

#[test]
fn what_is_transparent_in_both_pictures_looks_the_same() {
    let frame = Frame { width: 4, height: 1 };
    let texels = |c: u8, a: u8| Picture { frame, rgba: [c, c, c, a].repeat(4), opaque: false };
    let found = renderer().difference(&texels(0, 0), &texels(255, 0)).unwrap();
    assert_eq!((found.changed_share, found.max), (1.0, 0.0));
    // Half-transparent white over black is a mid grey: as far from black as grey 128 is.
    let found = renderer().difference(&texels(0, 255), &texels(255, 128)).unwrap();
    let grey = ciede2000(lab_from_srgb([0; 3]), lab_from_srgb([128; 3]));
    assert!((found.mean - grey).abs() < 2e-3, "{} and {grey}", found.mean);
}

#[test]
fn large_sums_carry_into_the_high_word() {
    // Black against white is 100 apart: 102,400 steps a texel, past 32 bits from 41,944 texels on.
    let frame = Frame { width: 512, height: 512 };
    let flat = |c: u8| Picture { frame, rgba: [c, c, c, 255].repeat(512 * 512), opaque: true };
    let found = renderer().difference(&flat(0), &flat(255)).unwrap();
    assert!((found.mean - 100.0).abs() < 1e-3, "{}", found.mean);
    assert_eq!((found.p95, found.changed_share), (found.max, 1.0));
    assert!(u64::from(STEPS) * 100 * frame.texels() > u64::from(u32::MAX));
}

#[test]
fn pictures_of_unlike_frames_are_refused() {
    let (a, b) =
        (noise(Frame { width: 2, height: 2 }, 1, true), noise(Frame { width: 3, height: 2 }, 1, true));
    let error = renderer().difference(&a, &b).unwrap_err().to_string();
    assert!(error.contains("2x2") && error.contains("3x2"), "{error}");
}

#[test]
fn a_difference_picture_is_black_where_nothing_differs_and_brightest_where_most_does() {
    let frame = Frame { width: 3, height: 1 };
    let a = Picture { frame, rgba: [0, 0, 0, 255].repeat(3), opaque: true };
    let b = Picture {
        frame,
        rgba: [[0, 0, 0, 255], [119, 119, 119, 255], [255, 255, 255, 255]].concat(),
        opaque: true,
    };
    let scale = DifferenceScale::to(100.0);
    let picture = renderer().difference_picture(&a, &b, scale).unwrap();
    let half = scale.colour(ciede2000(lab_from_srgb([0; 3]), lab_from_srgb([119; 3]))).0;
    assert_eq!(picture.rgba[..3], [0, 0, 0]);
    for (found, wanted) in picture.rgba[4..7].iter().zip(half) {
        assert!(found.abs_diff(wanted) <= 1, "{:?} and {half:?}", &picture.rgba[4..7]);
    }
    assert_eq!(picture.rgba[8..11], [255, 255, 255]);
    assert_eq!(PixelMode::default(), PixelMode::Encoded8Bit);
}

#[test]
fn nothing_counted_is_no_difference() {
    assert_eq!(Counted::of_texels(0).difference(), Difference::default());
}

#[test]
fn no_two_colours_are_further_apart_in_lightness_than_their_ciede2000() {
    // Of two greys only lightness is compared: every pair of L* on a grid of 0.125.
    let mut nearest = f64::INFINITY;
    for a in 0..=800_u32 {
        for b in 0..a {
            let [a, b] = [a, b].map(|eighths| f64::from(eighths) / 8.0);
            let apart = ciede2000([a, 0.0, 0.0], [b, 0.0, 0.0]);
            let least = lightness(a) - lightness(b);
            assert!(least <= apart, "{a} and {b}: {least} and {apart}");
            nearest = nearest.min(apart - least);
            assert!(least > 0.7 * apart, "{a} and {b}: a bound so low would show little");
        }
    }
    assert!(nearest < 0.01, "{nearest}");
    // Colours of sRGB all over, among them blues, of which chroma and hue are turned into each other.
    let steps = || (0..=255_u8).step_by(51);
    let colours: Vec<[f64; 3]> = steps()
        .flat_map(|r| steps().flat_map(move |g| steps().map(move |b| lab_from_srgb([r, g, b]))))
        .collect();
    for &a in &colours {
        for &b in &colours {
            let least = (lightness(a[0]) - lightness(b[0])).abs();
            assert!(least <= ciede2000(a, b) + 1e-9, "{a:?} and {b:?}");
        }
    }
}
