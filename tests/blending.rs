//! Blend modes, opacity and scopes: how the pictures of a show are laid over each other.
//!
//! The formulas are those of W3C Compositing and Blending Level 1, written here once more in 64 bits;
//! the model itself is held against the `palette` crate and against worked values.

use std::path::PathBuf;
use std::sync::Arc;

use image::RgbaImage;
use palette::blend::{Blend, Compose};
use palette::{Alpha, LinSrgb};
use tempfile::TempDir;

use underover::catalogue::Catalogue;
use underover::chain::{Chain, EffectUse};
use underover::embedded::SHOWS;
use underover::files::{Document, parse};
use underover::footage::{Fit, Picture, Shelf};
use underover::frame::{Frame, Moment, PixelMode};
use underover::gpu::{Gpu, Renderer};
use underover::plan::{After, Path, Step};
use underover::show::{BlendMode, Bundle, Clip, FootageName, Level, Mix, Scope, Show};

/// Odd sides, and texels enough for every pair of the values that a test is made of.
const FRAME: Frame = Frame { width: 67, height: 61 };

// ---- The model.

/// Straight colour and alpha, or premultiplied colour and alpha.
type Rgba = [f64; 4];

/// Hard light of `s` over `b`.
fn hard_light(b: f64, s: f64) -> f64 {
    if s <= 0.5 { b * (2.0 * s) } else { b + (2.0 * s - 1.0) - b * (2.0 * s - 1.0) }
}

/// B(Cb, Cs) of the specification for one channel, chapter 10.
fn blended(mode: BlendMode, b: f64, s: f64) -> f64 {
    match mode {
        BlendMode::Normal | BlendMode::Add => s,
        BlendMode::Multiply => b * s,
        BlendMode::Screen => b + s - b * s,
        BlendMode::Overlay => hard_light(s, b),
        BlendMode::Darken => b.min(s),
        BlendMode::Lighten => b.max(s),
        BlendMode::ColourDodge => match (b, s) {
            (0.0, _) => 0.0,
            (_, 1.0) => 1.0,
            _ => (b / (1.0 - s)).min(1.0),
        },
        BlendMode::ColourBurn => match (b, s) {
            (1.0, _) => 1.0,
            (_, 0.0) => 0.0,
            _ => 1.0 - ((1.0 - b) / s).min(1.0),
        },
        BlendMode::HardLight => hard_light(b, s),
        BlendMode::SoftLight if s <= 0.5 => b - (1.0 - 2.0 * s) * b * (1.0 - b),
        BlendMode::SoftLight => {
            let d = if b <= 0.25 { ((16.0 * b - 12.0) * b + 4.0) * b } else { b.sqrt() };
            b + (2.0 * s - 1.0) * (d - b)
        }
        BlendMode::Difference => (b - s).abs(),
        BlendMode::Exclusion => b + s - 2.0 * b * s,
    }
}

/// The source laid over the backdrop, all premultiplied, before any rounding: chapters 5.1 and 10.1.
/// `Add` is the project's own: the sum of both, its alpha that of source-over.
fn laid(mode: BlendMode, backdrop: Rgba, source: Rgba, opacity: f64) -> Rgba {
    let straight = |c: Rgba, channel: usize| if c[3] == 0.0 { 0.0 } else { c[channel] / c[3] };
    let (ab, a_s) = (backdrop[3], source[3] * opacity);
    let colour = |channel: usize| {
        let (b, s) = (straight(backdrop, channel), straight(source, channel));
        match mode {
            BlendMode::Add => ab * b + a_s * s,
            _ => a_s * ((1.0 - ab) * s + ab * blended(mode, b, s)) + (1.0 - a_s) * ab * b,
        }
    };
    [colour(0), colour(1), colour(2), a_s + ab * (1.0 - a_s)]
}

/// As `encoded-8bit` holds it: no colour past its alpha, each value rounded to a 255th.
fn held(c: Rgba) -> Rgba {
    [0, 1, 2, 3].map(|at| (c[at].clamp(0.0, c[3].min(1.0)) * 255.0 + 0.5).floor() / 255.0)
}

/// A texel of a file as it is held: premultiplied, rounded.
fn taken_in(texel: [u8; 4]) -> Rgba {
    let [r, g, b, a] = texel.map(|byte| f64::from(byte) / 255.0);
    held([r * a, g * a, b * a, a])
}

// ---- Pictures made here.

/// A well stirred number for a place (the finaliser of SplitMix64, public domain).
fn stirred(place: u64) -> u64 {
    let z = place.wrapping_mul(0x9e37_79b9_7f4a_7c15);
    let z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// A picture of stirred values in which the ends, the middle and their neighbours come often.
fn busy(number: u64, opaque: bool) -> Picture {
    const ENDS: [u8; 8] = [0, 1, 63, 64, 127, 128, 254, 255];
    let value = |place: u64| {
        let [kind, byte, end, ..] = stirred(place).to_le_bytes();
        if kind < 96 { ENDS[usize::from(end % 8)] } else { byte }
    };
    let texel = |at: u64| {
        let place = (number << 40) + at * 4;
        let alpha = if opaque { 255 } else { value(place + 3) };
        [value(place), value(place + 1), value(place + 2), alpha]
    };
    picture((0..FRAME.texels()).flat_map(texel).collect())
}

fn picture(rgba: Vec<u8>) -> Picture {
    let opaque = rgba.chunks_exact(4).all(|texel| texel[3] == 255);
    Picture { frame: FRAME, rgba, opaque }
}

fn plain(texel: [u8; 4]) -> Picture {
    picture(texel.repeat(FRAME.texels() as usize))
}

fn texels(picture: &Picture) -> impl Iterator<Item = [u8; 4]> + '_ {
    picture.rgba.chunks_exact(4).map(|t| [t[0], t[1], t[2], t[3]])
}

// ---- Shows made here.

/// A folder of pictures, the catalogue, and a renderer.
struct Bench {
    folder: TempDir,
    catalogue: Catalogue,
    shelf: Shelf,
    renderer: Renderer,
}

impl Bench {
    fn new() -> Self {
        let catalogue = Catalogue::built_in().unwrap();
        Self {
            folder: tempfile::tempdir().unwrap(),
            shelf: Shelf::new(&catalogue),
            catalogue,
            renderer: Renderer::new(Gpu::open(None).unwrap()),
        }
    }

    /// Writes the picture as a PNG and names it as footage.
    fn file(&self, name: &str, picture: &Picture) -> FootageName {
        let path: PathBuf = self.folder.path().join(name).with_extension("png");
        let Frame { width, height } = picture.frame;
        RgbaImage::from_raw(width, height, picture.rgba.clone()).unwrap().save(&path).unwrap();
        FootageName::File { written: name.to_owned(), path }
    }

    fn effect(&self, name: &str, numbers: &[(&str, f64)]) -> EffectUse {
        let mut used = EffectUse::new(self.catalogue.effect(name).unwrap().clone());
        for (setting, number) in numbers {
            let place = used.effect.settings.iter().position(|s| s.name == *setting).unwrap();
            used.set_number(place, *number).unwrap();
        }
        used
    }

    /// All of the first five, the flash softened so that it hides nothing.
    fn five(&self) -> Chain {
        vec![
            self.effect("tint", &[]),
            self.effect("flash-gate", &[("strength", 0.35)]),
            self.effect("edge-find", &[]),
            self.effect("channel-offset", &[("distance", 0.05)]),
            self.effect("mirror", &[]),
        ]
    }

    fn path(&mut self, show: &Show, scope: Scope) -> Path {
        let moment = Moment { frame: show.frame, pixels: show.pixels, beats: 0.1, tempo_bpm: show.tempo_bpm };
        Path::of_scope(show, scope, moment, &mut self.shelf).unwrap()
    }

    /// The show's output, planned from this scope.
    fn output_by(&mut self, show: &Show, scope: Scope) -> Picture {
        let path = self.path(show, scope);
        let order: Vec<usize> = (0..path.chain.len()).collect();
        self.renderer.picture(&path, &order).unwrap()
    }

    fn output(&mut self, show: &Show) -> Picture {
        self.output_by(show, Scope::Global)
    }

    /// One picture laid over another and given out at once, alpha and all.
    fn laid(&mut self, backdrop: &Picture, source: &Picture, mix: Mix) -> Picture {
        let take_in = |picture: &Picture, into| Step::TakeIn { picture: Arc::new(picture.clone()), into };
        let path = Path {
            moment: Moment { frame: FRAME, pixels: PixelMode::Encoded8Bit, beats: 0.0, tempo_bpm: 120.0 },
            before: vec![take_in(backdrop, 0), take_in(source, 1)],
            input: 1,
            opaque: source.opaque,
            chain: Vec::new(),
            after: vec![After::LayOver { backdrop: 0, mix }],
        };
        self.renderer.picture(&path, &[]).unwrap()
    }
}

fn level(name: &str, footage: FootageName, mix: Mix) -> Level {
    let clip = Clip { name: "clip".to_owned(), footage, fit: Fit::Fill, chain: Chain::new() };
    Level { name: name.to_owned(), mix, chain: Chain::new(), clips: vec![clip], showing: 0 }
}

fn bundle(name: &str, levels: Vec<Level>) -> Bundle {
    Bundle { name: name.to_owned(), mix: Mix::default(), chain: Chain::new(), levels }
}

fn show(bundles: Vec<Bundle>) -> Show {
    Show {
        name: "Quay".to_owned(),
        about: String::new(),
        tags: Vec::new(),
        frame: FRAME,
        tempo_bpm: 120.0,
        pixels: PixelMode::Encoded8Bit,
        bundles,
        global: Chain::new(),
    }
}

fn mix(blend: BlendMode, opacity: f64) -> Mix {
    Mix { blend, opacity }
}

fn shipped_shows(catalogue: &Catalogue) -> Vec<Show> {
    let folder = std::path::Path::new("presets/shows");
    let read = |(name, text): &(&str, &str)| match parse(text, name, folder, catalogue).unwrap() {
        Document::Show(show) => Show { frame: Frame { width: 96, height: 54 }, ..show },
        Document::Chain(preset) => panic!("{} is a chain among the shows", preset.name),
    };
    SHOWS.iter().map(read).collect()
}

// ---- The model against references.

/// The mode of the `palette` crate (its own implementation of the specification), where it has one.
fn by_palette(mode: BlendMode, backdrop: Rgba, source: Rgba) -> Option<Rgba> {
    let of = |[r, g, b, a]: Rgba| Alpha { color: LinSrgb::new(r, g, b), alpha: a };
    let (b, s) = (of(backdrop), of(source));
    let result: Alpha<LinSrgb<f64>, f64> = match mode {
        BlendMode::Normal => s.over(b),
        BlendMode::Multiply => s.multiply(b),
        BlendMode::Screen => s.screen(b),
        BlendMode::Overlay => s.overlay(b),
        BlendMode::Darken => s.darken(b),
        BlendMode::Lighten => s.lighten(b),
        BlendMode::ColourDodge => s.dodge(b),
        BlendMode::ColourBurn => s.burn(b),
        BlendMode::HardLight => s.hard_light(b),
        BlendMode::SoftLight => s.soft_light(b),
        BlendMode::Difference => s.difference(b),
        BlendMode::Exclusion => s.exclusion(b),
        // `plus` sums the alpha too; ours keeps it a coverage.
        BlendMode::Add => return None,
    };
    let LinSrgb { red, green, blue, .. } = result.color;
    let a = result.alpha;
    Some([red * a, green * a, blue * a, a])
}

#[test]
fn the_model_agrees_with_the_palette_crate_in_every_mode_that_it_has() {
    const VALUES: [f64; 7] = [0.0, 0.1, 0.25, 0.5, 0.6, 0.9, 1.0];
    const ALPHAS: [f64; 4] = [0.0, 0.3, 0.5, 1.0];
    let mut compared = 0;
    for &mode in BlendMode::ALL {
        for (b, s) in VALUES.into_iter().flat_map(|b| VALUES.map(|s| (b, s))) {
            for (ab, a_s) in ALPHAS.into_iter().flat_map(|b| ALPHAS.map(|s| (b, s))) {
                let (backdrop, source) = ([b, s, 0.4, ab], [s, b, 0.7, a_s]);
                let Some(theirs) = by_palette(mode, backdrop, source) else { continue };
                let before = |[r, g, b, a]: Rgba| [r * a, g * a, b * a, a];
                // Straight colours pass through a product and a quotient; where that moves the last
                // bit of a value at which a formula jumps, the two may part. None of these does.
                let ours = laid(mode, before(backdrop), before(source), 1.0);
                for channel in 0..4 {
                    let apart = (ours[channel] - theirs[channel]).abs();
                    assert!(
                        apart < 1e-9,
                        "{mode:?} of {source:?} over {backdrop:?}: {ours:?}, palette {theirs:?}"
                    );
                }
                compared += 1;
            }
        }
    }
    assert_eq!(compared, 12 * 49 * 16);
}

/// Worked values: the opaque ones by `palette` and by `tiny-skia`, which agree; the others by hand
/// from the specification's formulas.
#[test]
fn the_model_and_the_picture_give_the_worked_values() {
    let mut bench = Bench::new();
    let (backdrop, source) = ([0.25, 0.8, 0.5, 1.0], [0.8, 0.25, 0.5, 1.0]);
    let opaque = [
        (BlendMode::Multiply, [0.2, 0.2, 0.25, 1.0]),
        (BlendMode::Screen, [0.85, 0.85, 0.75, 1.0]),
        (BlendMode::Overlay, [0.4, 0.7, 0.5, 1.0]),
        (BlendMode::SoftLight, [0.4, 0.72, 0.5, 1.0]),
    ];
    let half_red = [1.0, 0.0, 0.0, 0.5];
    let half_blue = [0.0, 0.0, 1.0, 0.5];
    let half_grey = [0.5, 0.5, 0.5, 0.5];
    let mut cases: Vec<(BlendMode, Rgba, Rgba, Rgba)> =
        opaque.into_iter().map(|(mode, result)| (mode, backdrop, source, result)).collect();
    // Premultiplied (.25, 0, .5), alpha .75.
    cases.push((BlendMode::Normal, half_red, half_blue, [0.25 / 0.75, 0.0, 0.5 / 0.75, 0.75]));
    // Straight: (.5 * .5 + .5 * .5 * .5 + ...) / .75 = .4166667.
    cases.push((BlendMode::Multiply, half_grey, half_grey, [0.416_666_7, 0.416_666_7, 0.416_666_7, 0.75]));
    for (mode, backdrop, source, wanted) in cases {
        let before = |[r, g, b, a]: Rgba| [r * a, g * a, b * a, a];
        let model = laid(mode, before(backdrop), before(source), 1.0);
        let bytes = |c: Rgba| c.map(|value| (value * 255.0).round() as u8);
        let rendered = bench.laid(&plain(bytes(backdrop)), &plain(bytes(source)), mix(mode, 1.0));
        for (channel, (&goal, model)) in wanted.iter().zip(model).enumerate() {
            let goal_before = if channel < 3 { goal * wanted[3] } else { goal };
            assert!(
                (model - goal_before).abs() < 0.005,
                "{mode:?}: the model gives {model}, not {goal_before}"
            );
            // The values above are no whole bytes: half a byte on the way in, one on the way out.
            let off = (f64::from(rendered.rgba[channel]) - goal * 255.0).abs();
            assert!(
                off <= 1.5,
                "{mode:?}, channel {channel}: {} for {}",
                rendered.rgba[channel],
                goal * 255.0
            );
        }
        assert!(texels(&rendered).all(|texel| texel[..] == rendered.rgba[..4]), "{mode:?} is not even");
    }
}

// ---- The pictures against the model.

/// At most this far apart: both sides round the premultiplied result to 8 bits, the model from 64-bit
/// values and the shader from 32-bit ones, and a value right between two bytes may go either way.
const ALLOWED_BYTES: u8 = 1;

/// Tells how often that happened: rarely, or it is no matter of ties. The opacities of the tests
/// are such that few products lie right between two bytes (of 0.7 many do); of quotients a few do.
fn assert_rarely(off: usize, of: usize, what: &str) {
    assert!(off * 200 <= of, "{what}: {off} of {of} bytes are off by one");
}

#[test]
fn a_picture_laid_over_another_is_the_w3c_result_in_every_mode_alpha_included() {
    let mut bench = Bench::new();
    for (number, (lower_opaque, upper_opaque)) in
        [(false, false), (true, false), (false, true), (true, true)].into_iter().enumerate()
    {
        let (lower, upper) =
            (busy(2 * number as u64, lower_opaque), busy(2 * number as u64 + 1, upper_opaque));
        for &mode in BlendMode::ALL {
            for opacity in [1.0, 0.618, 0.0] {
                let what =
                    format!("{mode:?}, opacity {opacity}, opaque below {lower_opaque}, above {upper_opaque}");
                let rendered = bench.laid(&lower, &upper, mix(mode, opacity));
                let mut off = 0;
                for ((b, s), out) in texels(&lower).zip(texels(&upper)).zip(texels(&rendered)) {
                    let wanted = held(laid(mode, taken_in(b), taken_in(s), opacity));
                    // Premultiplied again, the output gives back the bytes that were held: the error
                    // of a straight byte, half a 255th, times an alpha below 1 is less than half a byte.
                    let alpha = f64::from(out[3]) / 255.0;
                    for channel in 0..4 {
                        let held = if channel < 3 {
                            (f64::from(out[channel]) * alpha).round()
                        } else {
                            alpha * 255.0
                        };
                        let wanted = (wanted[channel] * 255.0).round();
                        let apart = (held - wanted).abs();
                        assert!(
                            apart <= f64::from(ALLOWED_BYTES),
                            "{what}: {s:?} over {b:?} gives {out:?}; held {held}, model {wanted}"
                        );
                        off += usize::from(apart > 0.0);
                    }
                }
                assert_rarely(off, rendered.rgba.len(), &what);
            }
        }
    }
}

#[test]
fn two_levels_of_a_show_give_the_w3c_result_over_black_in_every_mode() {
    let mut bench = Bench::new();
    for (number, opaque) in [false, true].into_iter().enumerate() {
        let (lower, upper) = (busy(20 + number as u64, opaque), busy(30, false));
        let (lower_file, upper_file) = (bench.file("lower", &lower), bench.file("upper", &upper));
        bench.shelf = Shelf::new(&bench.catalogue);
        for (at, &mode) in BlendMode::ALL.iter().enumerate() {
            for (below, above) in [(1.0, 1.0), (0.764, 0.382)] {
                // The lowest level has nothing under it, so its own mode must not matter.
                let any = BlendMode::ALL[(at + 5) % BlendMode::ALL.len()];
                let levels = vec![
                    level("lower", lower_file.clone(), mix(any, below)),
                    level("upper", upper_file.clone(), mix(mode, above)),
                ];
                let rendered = bench.output(&show(vec![bundle("all", levels)]));
                let mut off = 0;
                for ((b, s), out) in texels(&lower).zip(texels(&upper)).zip(texels(&rendered)) {
                    let mut b = taken_in(b);
                    if below < 1.0 {
                        b = held(b.map(|value| value * below));
                    }
                    let both = held(laid(mode, b, taken_in(s), above));
                    let wanted = held(laid(BlendMode::Normal, [0.0, 0.0, 0.0, 1.0], both, 1.0));
                    for channel in 0..4 {
                        let apart = out[channel].abs_diff((wanted[channel] * 255.0).round() as u8);
                        assert!(
                            apart <= ALLOWED_BYTES,
                            "{mode:?}, opacities {below} and {above}: {s:?} over {b:?} gives {out:?}, model {wanted:?}"
                        );
                        off += usize::from(apart > 0);
                    }
                }
                assert_rarely(off, rendered.rgba.len(), &format!("{mode:?}, {below}, {above}"));
            }
        }
    }
}

// ---- Scopes.

#[test]
fn a_chain_does_the_same_on_a_clip_on_its_level_alone_and_on_a_bundle_of_that_level() {
    let mut bench = Bench::new();
    for (name, opaque) in [("with alpha", false), ("opaque", true)] {
        let lower = bench.file(&format!("{name} lower"), &busy(40, true));
        let upper = bench.file(&format!("{name} upper"), &busy(41, opaque));
        let plain = show(vec![
            bundle("below", vec![level("lower", lower, Mix::default())]),
            bundle("above", vec![level("upper", upper, Mix::default())]),
        ]);
        let on = |scope: Scope, chain: Chain| {
            let mut show = plain.clone();
            *show.chain_mut(scope) = chain;
            show
        };
        let pictures: Vec<Picture> = [Scope::Clip(1, 0, 0), Scope::Level(1, 0), Scope::Bundle(1)]
            .map(|scope| bench.output(&on(scope, bench.five())))
            .into();
        assert_eq!(pictures[0], pictures[1], "clip and level, {name}");
        assert_eq!(pictures[1], pictures[2], "level and bundle, {name}");
        assert_ne!(pictures[0], bench.output(&plain), "the chain does something, {name}");
        if opaque {
            // An opaque bundle hides what is below it, so the global chain sees nothing else.
            assert_eq!(pictures[2], bench.output(&on(Scope::Global, bench.five())), "bundle and global");
        }
    }
}

#[test]
fn a_show_gives_one_output_from_whichever_scope_it_is_planned() {
    let mut bench = Bench::new();
    let mut shows = shipped_shows(&bench.catalogue);
    shows.push(mixed_show(&bench));
    for mut show in shows {
        for pixels in PixelMode::ALL {
            show.pixels = pixels;
            let output = bench.output(&show);
            assert!(
                texels(&output).any(|texel| texel[..3] != output.rgba[..3]),
                "{} is all one colour",
                show.name
            );
            for scope in show.scopes() {
                if underover::plan::is_showing(&show, scope) {
                    let planned = bench.output_by(&show, scope);
                    assert!(planned == output, "{}, {}: {}", show.name, pixels.name(), show.address(scope));
                }
            }
        }
    }
}

/// Files and generated sources, opacities and modes on levels and bundles, chains on every scope.
fn mixed_show(bench: &Bench) -> Show {
    let tint = || vec![bench.effect("tint", &[("amount", 0.5)])];
    let mut sea = level("sea", bench.file("sea", &busy(50, true)), mix(BlendMode::Screen, 0.8));
    sea.clips[0].chain = bench.five();
    let mut lamp = level("lamp", bench.file("lamp", &busy(51, false)), mix(BlendMode::Overlay, 0.5));
    lamp.chain = tint();
    let fog = level("fog", bench.file("fog", &busy(52, false)), mix(BlendMode::Add, 0.4));
    let waves = FootageName::Generated("waves".to_owned());
    let mut lower = bundle("lower", vec![sea, level("waves", waves, mix(BlendMode::SoftLight, 1.0)), lamp]);
    lower.mix.opacity = 0.9;
    lower.chain = bench.five();
    let mut upper =
        bundle("upper", vec![fog, level("buoy", bench.file("buoy", &busy(53, false)), Mix::default())]);
    upper.mix = mix(BlendMode::HardLight, 0.7);
    upper.chain = tint();
    let mut show = show(vec![lower, upper]);
    show.name = "Mixed".to_owned();
    show.global = vec![bench.effect("mirror", &[])];
    show
}

#[test]
fn a_file_above_finished_bundles_is_shown_as_it_is() {
    let mut bench = Bench::new();
    let generated = |name: &str| FootageName::Generated(name.to_owned());
    let top = busy(60, true);
    let file = bench.file("top", &top);
    let mut lower = bundle(
        "lower",
        vec![
            level("harbour", generated("harbour"), Mix::default()),
            level("waves", generated("waves"), mix(BlendMode::Screen, 0.5)),
            level("lamp", generated("lamp"), mix(BlendMode::Screen, 0.5)),
        ],
    );
    lower.chain = bench.five();
    let show = show(vec![lower, bundle("upper", vec![level("top", file, Mix::default())])]);
    for round in 0..3 {
        assert!(bench.output(&show) == top, "round {round}: something else is shown");
    }
}

#[test]
fn a_chain_on_the_picture_leaves_the_signs_clean() {
    let mut bench = Bench::new();
    let mut ferry =
        shipped_shows(&bench.catalogue).into_iter().find(|show| show.name == "Night ferry").unwrap();
    // Wholly there and with nothing over it, so that its opaque texels are its own.
    ferry.global.clear();
    ferry.bundles[1].levels[0].mix = Mix::default();
    let mut clean = ferry.clone();
    clean.bundles[0].chain.clear();
    let mut alone = ferry.clone();
    alone.bundles.remove(0);
    let (with, without) = (bench.output(&ferry), bench.output(&clean));
    let sign = bench.path(&alone, Scope::Bundle(0));
    let sign = bench.renderer.picture(&Path { after: Vec::new(), ..sign }, &[]).unwrap();
    let (mut spared, mut touched) = (0, 0);
    for ((sign, with), without) in texels(&sign).zip(texels(&with)).zip(texels(&without)) {
        if sign[3] == 255 {
            assert_eq!((with, without), (sign, sign), "a texel of the sign has changed");
            spared += 1;
        } else {
            touched += usize::from(with != without);
        }
    }
    assert!(spared > 100, "only {spared} texels of the sign are opaque");
    assert!(touched > 1000, "the chain changed only {touched} texels of the picture");
}

#[test]
fn a_global_chain_touches_everything() {
    let mut bench = Bench::new();
    let mut ferry =
        shipped_shows(&bench.catalogue).into_iter().find(|show| show.name == "Night ferry").unwrap();
    let mut flash = bench.effect("flash-gate", &[("strength", 1.0), ("open", 1.0)]);
    flash.set_word(0, "#0072b2").unwrap();
    ferry.global = vec![flash];
    assert!(texels(&bench.output(&ferry)).all(|texel| texel == [0x00, 0x72, 0xb2, 255]));
}

#[test]
fn a_level_or_a_bundle_of_no_opacity_changes_nothing_in_any_mode() {
    let mut bench = Bench::new();
    let files: Vec<FootageName> =
        (0..3).map(|at| bench.file(&format!("{at}"), &busy(70 + at, at == 0))).collect();
    let visible = level("visible", files[0].clone(), Mix::default());
    let veil = level("veil", files[1].clone(), mix(BlendMode::Normal, 0.5));
    let wanted = bench.output(&show(vec![bundle("all", vec![visible.clone(), veil.clone()])]));
    for &mode in BlendMode::ALL {
        let gone = level("gone", files[2].clone(), mix(mode, 0.0));
        for at in 0..3 {
            let mut levels = vec![visible.clone(), veil.clone()];
            levels.insert(at, gone.clone());
            let output = bench.output(&show(vec![bundle("all", levels)]));
            assert!(output == wanted, "{mode:?} as level {at}");
        }
        let mut hidden = bundle("gone", vec![level("gone", files[2].clone(), Mix::default())]);
        hidden.mix = mix(mode, 0.0);
        let seen = bundle("all", vec![visible.clone(), veil.clone()]);
        for bundles in [vec![hidden.clone(), seen.clone()], vec![seen, hidden]] {
            assert!(bench.output(&show(bundles)) == wanted, "{mode:?} as bundle");
        }
    }
}

#[test]
fn nothing_but_gone_levels_is_black() {
    let mut bench = Bench::new();
    let file = bench.file("gone", &busy(80, true));
    let output =
        bench.output(&show(vec![bundle("all", vec![level("gone", file, mix(BlendMode::Normal, 0.0))])]));
    assert!(texels(&output).all(|texel| texel == [0, 0, 0, 255]));
}

/// Proofs rely on it: what the plan calls opaque has full alpha, and no effect takes it away.
#[test]
fn what_goes_in_opaque_comes_out_opaque() {
    let mut bench = Bench::new();
    let (solid, airy) = (busy(90, true), busy(91, false));
    for &mode in BlendMode::ALL {
        for opacity in [1.0, 0.5] {
            let over_solid = bench.laid(&solid, &airy, mix(mode, opacity));
            assert!(over_solid.opaque, "{mode:?} at {opacity} over an opaque picture");
        }
        assert!(bench.laid(&airy, &solid, mix(mode, 1.0)).opaque, "{mode:?}, an opaque picture above");
        // The claim would be empty if everything came out opaque.
        assert!(!bench.laid(&airy, &airy, mix(mode, 1.0)).opaque, "{mode:?}");
    }
    let mut shows = shipped_shows(&bench.catalogue);
    shows.push(mixed_show(&bench));
    let (mut opaque, mut with_alpha) = (0, 0);
    for show in &shows {
        for scope in show.scopes() {
            let mut path = bench.path(show, scope);
            path.after.clear();
            // Every effect there is, each on this input.
            path.chain =
                bench.catalogue.effects().iter().map(|effect| EffectUse::new(effect.clone())).collect();
            if !path.opaque {
                with_alpha += 1;
                continue;
            }
            opaque += 1;
            for order in std::iter::once(vec![]).chain((0..path.chain.len()).map(|at| vec![at])) {
                let picture = bench.renderer.picture(&path, &order).unwrap();
                assert!(picture.opaque, "{} at {}, order {order:?}", show.name, show.address(scope));
            }
        }
    }
    assert!(opaque > 8 && with_alpha > 2, "{opaque} opaque scopes, {with_alpha} with alpha");
}

#[test]
fn the_later_bundle_lies_over_the_earlier_one() {
    let mut bench = Bench::new();
    let left = |texel: [u8; 4]| {
        let at = |x| if x < FRAME.width / 2 { texel } else { [0; 4] };
        picture((0..FRAME.height).flat_map(|_| (0..FRAME.width).flat_map(at)).collect())
    };
    let blue = bench.file("blue", &plain([0x00, 0x72, 0xb2, 255]));
    let orange = bench.file("orange", &left([0xe6, 0x9f, 0x00, 255]));
    let one = |name: &str, file: &FootageName| bundle(name, vec![level(name, file.clone(), Mix::default())]);
    let over = bench.output(&show(vec![one("blue", &blue), one("orange", &orange)]));
    let under = bench.output(&show(vec![one("orange", &orange), one("blue", &blue)]));
    let last = FRAME.width as usize - 1;
    assert_eq!(texels(&over).next(), Some([0xe6, 0x9f, 0x00, 255]));
    assert_eq!(texels(&over).nth(last), Some([0x00, 0x72, 0xb2, 255]));
    assert!(texels(&under).all(|texel| texel == [0x00, 0x72, 0xb2, 255]), "the first bundle lies on top");
}

#[test]
fn a_clip_that_is_not_showing_changes_nothing() {
    let mut bench = Bench::new();
    let (shown, hidden) = (bench.file("shown", &busy(100, true)), bench.file("hidden", &busy(101, true)));
    let mut two = level("two", shown.clone(), Mix::default());
    two.clips.push(Clip { name: "other".to_owned(), footage: hidden, fit: Fit::Fill, chain: bench.five() });
    let both = bench.output(&show(vec![bundle("all", vec![two.clone()])]));
    let alone = bench.output(&show(vec![bundle("all", vec![level("one", shown, Mix::default())])]));
    assert!(both == alone);
    two.showing = 1;
    assert!(bench.output(&show(vec![bundle("all", vec![two])])) != alone, "the other clip never shows");
}
