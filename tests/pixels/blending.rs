//! How pictures are laid over one another, and which scope touches what.
//!
//! The reference is W3C Compositing and Blending Level 1, written down again below in 64 bits.
//! Texels of the tests' own come in as PNG files, so that the whole path from file to output is run.

#[allow(dead_code, reason = "each test file uses its own part of it")]
use std::path::Path as FilePath;
use std::sync::Arc;

use crate::common::difference;
use crate::model::{LITTLE, decoded, encoded};
use image::RgbaImage;
use palette::LinSrgba;
use palette::blend::{Blend, Compose};
use tempfile::TempDir;
use underover::base::embedded::CHAINS;
use underover::base::frame::{Frame, PixelMode};
use underover::base::picture::Picture;
use underover::beat::{FrameRate, Moment};
use underover::catalogue::{Catalogue, Effect, Kind};
use underover::edit::{Edit, StructureEdit};
use underover::files::{Document, parse};
use underover::footage::Shelf;
use underover::gpu::{ADAPTER_VARIABLE, Asked, Gpu, Renderer, Want};
use underover::order::{Classes, Tree};
use underover::plan::{Path, Step};
use underover::show::chain::{Chain, EffectUse};
use underover::show::clip::{Fit, FootageName};
use underover::show::{BlendMode, Bundle, Clip, Level, Mix, Scope, Show};

// The reference model.

/// Premultiplied red, green, blue, then alpha, all from 0 to 1.
type Texel = [f64; 4];

/// B(Cb, Cs) of W3C Compositing and Blending Level 1, section "Separable blend modes"; `add` is none of them.
fn blended(mode: BlendMode, b: f64, s: f64) -> f64 {
    let multiply = |b: f64, s: f64| b * s;
    let screen = |b: f64, s: f64| 1.0 - (1.0 - b) * (1.0 - s);
    let hard_light = |b: f64, s: f64| if s <= 0.5 { multiply(b, 2.0 * s) } else { screen(b, 2.0 * s - 1.0) };
    match mode {
        BlendMode::Normal | BlendMode::Add => s,
        BlendMode::Multiply => multiply(b, s),
        BlendMode::Screen => screen(b, s),
        BlendMode::Overlay => hard_light(s, b),
        BlendMode::Darken => b.min(s),
        BlendMode::Lighten => b.max(s),
        BlendMode::ColourDodge if b == 0.0 => 0.0,
        BlendMode::ColourDodge if s == 1.0 => 1.0,
        BlendMode::ColourDodge => (b / (1.0 - s)).min(1.0),
        BlendMode::ColourBurn if b == 1.0 => 1.0,
        BlendMode::ColourBurn if s == 0.0 => 0.0,
        BlendMode::ColourBurn => 1.0 - ((1.0 - b) / s).min(1.0),
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

fn straight(texel: Texel, channel: usize) -> f64 {
    if texel[3] == 0.0 { 0.0 } else { texel[channel] / texel[3] }
}

/// One texel over another. Source: the same specification, "Blending" (mixing, then source-over). For
/// `add` the specification of this project: colours are summed, the alpha is that of source-over, and
/// where colours are held within their alpha the sum is as well.
fn laid(mix: Mix, backdrop: Texel, source: Texel) -> Texel {
    let source = source.map(|value| value * mix.opacity);
    let (ab, a_s) = (backdrop[3], source[3]);
    let ao = a_s + ab * (1.0 - a_s);
    let colour = |channel: usize| {
        if mix.blend == BlendMode::Add {
            return source[channel] + backdrop[channel];
        }
        let (cb, cs) = (straight(backdrop, channel), straight(source, channel));
        let mixed = (1.0 - ab) * cs + ab * blended(mix.blend, cb, cs);
        a_s * mixed + (1.0 - a_s) * ab * cb
    };
    [colour(0), colour(1), colour(2), ao]
}

/// What `encoded-8bit` holds: every colour within its alpha, in 255ths.
fn held_8bit(texel: Texel) -> Texel {
    let a = texel[3].clamp(0.0, 1.0);
    texel.map(|value| (value.clamp(0.0, a) * 255.0 + 0.5 + LITTLE).floor() / 255.0)
}

/// What `linear-float` holds: 16-bit floats.
fn held_float(texel: Texel) -> Texel {
    texel.map(|value| f64::from(half::f16::from_f64(value)))
}

/// The model of one pixel mode.
#[derive(Clone, Copy)]
struct Model {
    pixels: PixelMode,
}

impl Model {
    fn held(self, texel: Texel) -> Texel {
        match self.pixels {
            PixelMode::Encoded8Bit => held_8bit(texel),
            PixelMode::LinearFloat => held_float(texel),
        }
    }

    /// A file's texel (straight alpha) as the show takes it in.
    fn taken_in(self, rgba: [u8; 4]) -> Texel {
        let [r, g, b, a] = rgba.map(|byte| f64::from(byte) / 255.0);
        let colour = |c: f64| match self.pixels {
            PixelMode::Encoded8Bit => c * a,
            PixelMode::LinearFloat => decoded(c) * a,
        };
        self.held([colour(r), colour(g), colour(b), a])
    }

    fn laid(self, mix: Mix, backdrop: Texel, source: Texel) -> Texel {
        self.held(laid(mix, backdrop, source))
    }

    /// The output bytes of a texel that is laid over black: its premultiplied colour, alpha 255.
    fn output(self, texel: Texel) -> [u8; 4] {
        let over_black = self.laid(Mix::default(), [0.0, 0.0, 0.0, 1.0], texel);
        over_black.map(|value| {
            let shown = match self.pixels {
                PixelMode::Encoded8Bit => value,
                PixelMode::LinearFloat => encoded(value.clamp(0.0, 1.0)),
            };
            (shown.clamp(0.0, 1.0) * 255.0 + 0.5 + LITTLE).floor() as u8
        })
    }
}

// Shows of the tests' own.

const FRAME: Frame = Frame { width: 66, height: 43 };

fn moment(pixels: PixelMode) -> Moment {
    Moment::at(FRAME, pixels, 120.0, 0.1)
}

fn mix(blend: BlendMode, opacity: f64) -> Mix {
    Mix { blend, opacity }
}

fn clip(footage: &FootageName) -> Clip {
    Clip::of("clip", footage.clone())
}

fn level(footage: &FootageName, mix: Mix) -> Level {
    Level { mix, ..Level::of("level", clip(footage)) }
}

fn bundle(levels: Vec<Level>) -> Bundle {
    Bundle::of("bundle", levels)
}

fn show(bundles: Vec<Bundle>) -> Show {
    Show {
        name: "test".to_owned(),
        about: String::new(),
        tags: Vec::new(),
        venue: String::new(),
        frame: FRAME,
        tempo_bpm: 120.0,
        rate: FrameRate::default(),
        pixels: PixelMode::Encoded8Bit,
        bundles,
        global: Vec::new(),
        controls: Vec::new(),
        held: Vec::new(),
        reach_ms: 250.0,
        sections: Vec::new(),
        running_order: Vec::new(),
        taken: Vec::new(),
        is_starter: false,
    }
}

fn generated(name: &str) -> FootageName {
    FootageName::Generated(name.to_owned())
}

/// A renderer with all that a show needs.
struct Stage {
    catalogue: Catalogue,
    renderer: Renderer,
    folder: TempDir,
}

impl Stage {
    /// On the adapter found by default or named in the environment.
    fn new() -> Self {
        let named = std::env::var(ADAPTER_VARIABLE).ok();
        Self {
            catalogue: Catalogue::built_in().unwrap(),
            renderer: Renderer::new(Gpu::open(named.as_deref()).unwrap()),
            folder: tempfile::tempdir().unwrap(),
        }
    }

    /// Writes texels (straight alpha, as many as the frame has) to a PNG and names it as footage.
    fn footage(&self, name: &str, texels: &[[u8; 4]]) -> FootageName {
        let image = RgbaImage::from_raw(FRAME.width, FRAME.height, texels.concat()).unwrap();
        let file = format!("{name}.png");
        image.save(self.folder.path().join(&file)).unwrap();
        FootageName::parsed(&file, self.folder.path())
    }

    fn effect(&self, name: &str, numbers: &[(&str, f64)]) -> EffectUse {
        let mut used = EffectUse::new(self.catalogue.effect(name).unwrap().clone());
        for &(setting, number) in numbers {
            let place = used.effect.settings.iter().position(|known| known.name == setting).unwrap();
            used.set_number(place, number).unwrap();
        }
        used
    }

    /// Every chain that travels with the program, by name.
    fn chains(&self) -> Vec<(String, Chain)> {
        let chain = |(name, text): &(&str, &str)| match parse(
            text,
            name,
            FilePath::new("presets/chains"),
            &self.catalogue,
        )
        .unwrap()
        {
            Document::Chain(preset) => (preset.name, preset.chain),
            Document::Show(show) => panic!("{} is a show", show.name),
        };
        CHAINS.iter().map(chain).collect()
    }

    /// The show's output, planned from one of its scopes.
    fn seen_from(&mut self, show: &Show, scope: Scope, pixels: PixelMode) -> Picture {
        let mut shelf = Shelf::new(&self.catalogue);
        let path = Path::of_scope(show, scope, moment(pixels), &mut shelf).unwrap();
        let order: Vec<usize> = (0..path.chain.len()).collect();
        self.renderer.picture(&path, &order).unwrap()
    }

    fn output(&mut self, show: &Show) -> Picture {
        self.seen_from(show, Scope::Global, PixelMode::Encoded8Bit)
    }

    /// Footage under a chain, without a show: straight alpha comes out, nothing is laid over black.
    fn chained(&mut self, chain: &[EffectUse], footage: &FootageName, pixels: PixelMode) -> Picture {
        let mut shelf = Shelf::new(&self.catalogue);
        let path = Path::of_chain(chain, footage, Fit::Whole, moment(pixels), &mut shelf).unwrap();
        let order: Vec<usize> = (0..chain.len()).collect();
        self.renderer.picture(&path, &order).unwrap()
    }
}

fn texels(picture: &Picture) -> impl Iterator<Item = [u8; 4]> + '_ {
    picture.rgba.chunks_exact(4).map(|texel| [texel[0], texel[1], texel[2], texel[3]])
}

/// Fails with the first texel at which two pictures differ.
fn assert_same(found: &Picture, expected: &Picture, at: &str) {
    if let Some(difference) = difference(found, expected) {
        panic!("{at}: {difference}");
    }
}

/// Two pictures, texel by texel, in which every pair of channel values that is special to a blend mode
/// (the ends, either side of a quarter and of a half, near the ends, between) meets every pair of
/// alphas: 0, 1 and between.
fn meetings() -> (Vec<[u8; 4]>, Vec<[u8; 4]>) {
    const VALUES: [u8; 11] = [0, 1, 38, 63, 64, 102, 127, 128, 200, 254, 255];
    const ALPHAS: [u8; 8] = [0, 1, 20, 77, 128, 200, 254, 255];
    let pairs: Vec<(u8, u8)> = VALUES.iter().flat_map(|&b| VALUES.map(|s| (b, s))).collect();
    let mut both = Vec::new();
    for three in pairs.chunks(3) {
        let at = |channel: usize| three[channel % three.len()];
        for ab in ALPHAS {
            for a_s in ALPHAS {
                both.push(([at(0).0, at(1).0, at(2).0, ab], [at(0).1, at(1).1, at(2).1, a_s]));
            }
        }
    }
    let count = FRAME.texels() as usize;
    assert!(both.len() <= count, "{} texels are needed", both.len());
    let filled = both.iter().cycle().take(count);
    filled.copied().unzip()
}

/// An opaque picture with hard edges and all values in it.
fn opaque_texels() -> Vec<[u8; 4]> {
    let texel = |at: u32| {
        let (x, y) = (at % FRAME.width, at / FRAME.width);
        let block = if (x / 7 + y / 5) % 2 == 0 { 60 } else { 200 };
        [(x * 255 / (FRAME.width - 1)) as u8, (y * 255 / (FRAME.height - 1)) as u8, block, 255]
    };
    (0..FRAME.width * FRAME.height).map(texel).collect()
}

// The model itself.

/// Source: worked values "Compositing" in the project's list of references, there computed with two
/// independent packages.
#[test]
fn the_model_gives_the_worked_values() {
    let opaque = |c: [f64; 3]| [c[0], c[1], c[2], 1.0];
    let (cs, cb) = (opaque([0.8, 0.25, 0.5]), opaque([0.25, 0.8, 0.5]));
    for (mode, worked) in [
        (BlendMode::Multiply, [0.2, 0.2, 0.25]),
        (BlendMode::Screen, [0.85, 0.85, 0.75]),
        (BlendMode::Overlay, [0.4, 0.7, 0.5]),
        (BlendMode::SoftLight, [0.4, 0.72, 0.5]),
    ] {
        let found = laid(mix(mode, 1.0), cb, cs);
        for (found, worked) in found.iter().zip(opaque(worked)) {
            // The last is given to two digits: sqrt enters it.
            assert!((found - worked).abs() < 0.005, "{}: {found} {worked}", mode.name());
        }
    }
    let found = laid(Mix::default(), [0.5, 0.0, 0.0, 0.5], [0.0, 0.0, 0.5, 0.5]);
    assert_eq!(found, [0.25, 0.0, 0.5, 0.75]);
    let half = [0.25, 0.25, 0.25, 0.5];
    let found = laid(mix(BlendMode::Multiply, 1.0), half, half);
    assert!((straight(found, 0) - 0.416_666_7).abs() < 1e-7 && found[3] == 0.75, "{found:?}");
}

/// Source: the `palette` crate's own implementation of the same specification. `add` is its `plus`
/// where both pictures are opaque; elsewhere the two give different alphas on purpose.
#[test]
fn the_model_agrees_with_palette() {
    type Straight = LinSrgba<f64>;
    let steps = [0.0, 0.1, 0.2, 0.25, 0.4, 0.5, 0.6, 0.75, 0.9, 1.0];
    for mode in BlendMode::ALL {
        let theirs = |s: Straight, b: Straight| match mode {
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
            BlendMode::Add => s.plus(b),
        };
        let alphas: &[f64] = if mode == BlendMode::Add { &[1.0] } else { &[0.0, 0.25, 0.5, 1.0] };
        for (&ab, &a_s) in alphas.iter().flat_map(|ab| alphas.iter().map(move |a_s| (ab, a_s))) {
            for (&cb, &cs) in steps.iter().flat_map(|cb| steps.iter().map(move |cs| (cb, cs))) {
                let expected = theirs(Straight::new(cs, cs, cs, a_s), Straight::new(cb, cb, cb, ab));
                let found = laid(
                    mix(mode, 1.0),
                    [cb * ab, cb * ab, cb * ab, ab],
                    [cs * a_s, cs * a_s, cs * a_s, a_s],
                );
                let at = format!("{}: Cb {cb} at {ab}, Cs {cs} at {a_s}", mode.name());
                assert!((found[3] - expected.alpha).abs() < 1e-12, "{at}: alpha {found:?}");
                let premultiplied = expected.red * expected.alpha;
                assert!((found[0] - premultiplied).abs() < 1e-12, "{at}: {} {premultiplied}", found[0]);
            }
        }
    }
}

// Blend modes.

/// How often the output is off the model, and by how much at most.
#[derive(Debug, Default)]
struct Off {
    texels: usize,
    of: usize,
    largest: u8,
}

impl Off {
    fn of(found: &Picture, expected: &[[u8; 4]], at: &str, most: u8) -> Self {
        let mut off = Self::default();
        for (nth, (found, expected)) in texels(found).zip(expected).enumerate() {
            let apart = (0..4).map(|channel| found[channel].abs_diff(expected[channel])).max().unwrap();
            assert!(apart <= most, "{at}, texel {nth}: found {found:?}, the model says {expected:?}");
            off.texels += usize::from(apart > 0);
            off.of += 1;
            off.largest = off.largest.max(apart);
        }
        assert_eq!(off.of, expected.len(), "{at}");
        off
    }
}

/// Two levels in a show, laid over black, so that what comes out is the premultiplied result itself.
///
/// Source: W3C Compositing and Blending Level 1, as written in the model. The model holds its
/// intermediates as the show does, premultiplied in 8 bits. What is left is one byte: the shader reckons
/// in 32 bits, and a result that lies on the border between two bytes may fall on either side. That is
/// rare, which is checked as well, for a formula that is slightly wrong is a byte off nearly everywhere.
#[test]
fn every_blend_mode_gives_what_the_specification_says() {
    let mut stage = Stage::new();
    let model = Model { pixels: PixelMode::Encoded8Bit };
    let (backdrop, source) = meetings();
    let (below, above) = (stage.footage("backdrop", &backdrop), stage.footage("source", &source));
    for mode in BlendMode::ALL {
        for opacity in [1.0, 0.6, 0.07] {
            let mix = mix(mode, opacity);
            let at = format!("{} at opacity {opacity}", mode.name());
            let found =
                stage.output(&show(vec![bundle(vec![level(&below, Mix::default()), level(&above, mix)])]));
            let both = backdrop.iter().zip(&source);
            let expected: Vec<[u8; 4]> = both
                .map(|(&b, &s)| model.output(model.laid(mix, model.taken_in(b), model.taken_in(s))))
                .collect();
            let off = Off::of(&found, &expected, &at, 1);
            eprintln!("{at}: {off:?}");
            assert!(off.texels * 50 <= off.of, "{at}: a byte off at {} of {} texels", off.texels, off.of);
        }
    }
}

/// The same in linear light and 16-bit floats.
///
/// Source: as above, with the transfer function of IEC 61966-2-1. An adapter's `pow` is off in the last
/// bits and adapters round to 16-bit floats in ways of their own, so each number held may be one step of
/// a 16-bit float (1 in 1024) from the model's. The bound is what such steps make of the result, by the
/// formula itself (a burn by a dark colour is steep), and one byte for the steps of what is laid last.
#[test]
fn every_blend_mode_gives_what_the_specification_says_in_linear_light() {
    const STEPS: [f64; 3] = [1.0 - 1.0 / 1024.0, 1.0, 1.0 + 1.0 / 1024.0];
    let mut stage = Stage::new();
    let model = Model { pixels: PixelMode::LinearFloat };
    let (backdrop, source) = meetings();
    let (below, above) = (stage.footage("backdrop", &backdrop), stage.footage("source", &source));
    for mode in BlendMode::ALL {
        for opacity in [1.0, 0.6] {
            let mix = mix(mode, opacity);
            let show = show(vec![bundle(vec![level(&below, Mix::default()), level(&above, mix)])]);
            let found = stage.seen_from(&show, Scope::Global, PixelMode::LinearFloat);
            let mut wide = 0;
            for ((found, &b), &s) in texels(&found).zip(&backdrop).zip(&source) {
                let (low, high) = extremes(STEPS, |[cb, ab, cs, a_s]| {
                    let stepped = |texel: Texel, c: f64, a: f64| {
                        [texel[0] * c, texel[1] * c, texel[2] * c, (texel[3] * a).min(1.0)]
                    };
                    let b = stepped(model.taken_in(b), cb, ab);
                    model.output(model.laid(mix, b, stepped(model.taken_in(s), cs, a_s)))
                });
                for channel in 0..4 {
                    assert!(
                        found[channel] >= low[channel].saturating_sub(1)
                            && found[channel] <= high[channel].saturating_add(1),
                        "{} at opacity {opacity}: {b:?} under {s:?}: {found:?}, the model says {low:?} to {high:?}",
                        mode.name(),
                    );
                    wide += usize::from(high[channel] - low[channel] > 2);
                }
            }
            eprintln!("{} at opacity {opacity} in linear light: {wide} wide bounds", mode.name());
            // Wide bounds everywhere would let anything pass.
            assert!(wide * 10 <= found.rgba.len(), "{}: {wide} wide bounds", mode.name());
        }
    }
}

/// The smallest and the largest of each byte over every choice of four of the steps.
fn extremes(steps: [f64; 3], of: impl Fn([f64; 4]) -> [u8; 4]) -> ([u8; 4], [u8; 4]) {
    let (mut low, mut high) = ([255; 4], [0; 4]);
    for choice in 0..81 {
        let bytes = of([1, 3, 9, 27].map(|digit| steps[choice / digit % 3]));
        for channel in 0..4 {
            low[channel] = bytes[channel].min(low[channel]);
            high[channel] = bytes[channel].max(high[channel]);
        }
    }
    (low, high)
}

/// Laid by a path of the test's own and not over black: the alpha and the straight colour come out.
///
/// Source: W3C Compositing and Blending Level 1. The alpha may be a byte off for the reason given above.
/// The straight colour is compared after it is multiplied with its alpha again: one byte for the result,
/// half a byte for the rounding of the straight colour.
#[test]
fn every_blend_mode_gives_the_alpha_of_source_over_and_a_straight_colour() {
    let mut stage = Stage::new();
    let model = Model { pixels: PixelMode::Encoded8Bit };
    let (backdrop, source) = meetings();
    let picture =
        |texels: &[[u8; 4]]| Arc::new(Picture { frame: FRAME, rgba: texels.concat(), opaque: false });
    for mode in BlendMode::ALL {
        let mix = mix(mode, 0.8);
        let path = Path {
            moment: moment(PixelMode::Encoded8Bit),
            before: vec![
                Step::TakeIn { picture: picture(&backdrop), into: 0 },
                Step::TakeIn { picture: picture(&source), into: 1 },
                Step::Lay { backdrop: 0, source: 1, mix, into: 2 },
            ],
            input: 2,
            opaque: false,
            chain: Vec::new(),
            after: Vec::new(),
            past: Arc::default(),
        };
        let found = stage.renderer.picture(&path, &[]).unwrap();
        for ((found, &b), &s) in texels(&found).zip(&backdrop).zip(&source) {
            let expected = model.laid(mix, model.taken_in(b), model.taken_in(s)).map(|value| value * 255.0);
            let at = format!("{}: {b:?} under {s:?}: {found:?}, premultiplied {expected:?}", mode.name());
            let alpha = f64::from(found[3]);
            assert!((alpha - expected[3]).abs() <= 1.0, "{at}");
            for channel in 0..3 {
                let premultiplied = f64::from(found[channel]) * alpha / 255.0;
                assert!((premultiplied - expected[channel]).abs() <= 1.5, "{at}");
            }
        }
    }
}

/// Source: worked values "Compositing" in the project's list of references. Cs and Cb are rounded to
/// bytes on the way in, half a byte each, and the result once more; no slope is above 2.
#[test]
fn the_worked_values_come_out_of_a_show() {
    let mut stage = Stage::new();
    let of = |texel: [f64; 4]| vec![texel.map(|c| (c * 255.0).round() as u8); FRAME.texels() as usize];
    let (below, above) =
        (stage.footage("cb", &of([0.25, 0.8, 0.5, 1.0])), stage.footage("cs", &of([0.8, 0.25, 0.5, 1.0])));
    let red = stage.footage("red", &of([1.0, 0.0, 0.0, 0.5]));
    let blue = stage.footage("blue", &of([0.0, 0.0, 1.0, 0.5]));
    for (below, above, mode, worked) in [
        (&below, &above, BlendMode::Multiply, [0.2, 0.2, 0.25]),
        (&below, &above, BlendMode::Screen, [0.85, 0.85, 0.75]),
        (&below, &above, BlendMode::Overlay, [0.4, 0.7, 0.5]),
        (&below, &above, BlendMode::SoftLight, [0.4, 0.72, 0.5]),
        (&red, &blue, BlendMode::Normal, [0.25, 0.0, 0.5]),
    ] {
        let levels = vec![level(below, Mix::default()), level(above, mix(mode, 1.0))];
        let picture = stage.output(&show(vec![bundle(levels)]));
        let found = texels(&picture).next().unwrap();
        for (found, worked) in found.iter().zip(worked) {
            assert!((f64::from(*found) - worked * 255.0).abs() <= 1.5, "{}: {found} {worked}", mode.name());
        }
    }
}

#[test]
fn opacity_0_changes_nothing_in_any_mode() {
    let mut stage = Stage::new();
    let (backdrop, source) = meetings();
    let (below, above) = (stage.footage("backdrop", &backdrop), stage.footage("source", &source));
    let bottom = || level(&below, Mix::default());
    let without = stage.output(&show(vec![bundle(vec![bottom()])]));
    for mode in BlendMode::ALL {
        let with = |opacity| vec![bundle(vec![bottom(), level(&above, mix(mode, opacity))])];
        assert_same(&stage.output(&show(with(0.0))), &without, &format!("{} on a level", mode.name()));
        let half_there = stage.output(&show(with(0.5)));
        assert!(difference(&half_there, &without).is_some(), "{} at opacity 0.5", mode.name());
        let mut over = bundle(vec![level(&above, Mix::default())]);
        over.mix = mix(mode, 0.0);
        let bundles = vec![bundle(vec![bottom()]), over];
        assert_same(&stage.output(&show(bundles)), &without, &format!("{} on a bundle", mode.name()));
    }
    // A lone level that is not there leaves an empty stage, which is black.
    let nothing = stage.output(&show(vec![bundle(vec![level(&above, mix(BlendMode::Normal, 0.0))])]));
    assert!(texels(&nothing).all(|texel| texel == [0, 0, 0, 255]));
}

/// Source: W3C Compositing and Blending Level 1: with no backdrop (alpha 0) Cr = Cs.
#[test]
fn over_nothing_every_mode_shows_the_source_alone() {
    let mut stage = Stage::new();
    let (_, source) = meetings();
    let above = stage.footage("source", &source);
    let clear = stage.footage("clear", &vec![[90, 200, 30, 0]; source.len()]);
    let alone = stage.output(&show(vec![bundle(vec![level(&above, Mix::default())])]));
    for mode in BlendMode::ALL {
        let levels = vec![level(&clear, Mix::default()), level(&above, mix(mode, 1.0))];
        let found = stage.output(&show(vec![bundle(levels)]));
        assert_same(&found, &alone, &format!("{} over a clear level", mode.name()));
        let lone = vec![level(&above, mix(mode, 1.0))];
        let found = stage.output(&show(vec![bundle(lone)]));
        assert_same(&found, &alone, &format!("{} on the lowest level", mode.name()));
    }
}

// Stacks.

/// Two bundles of two levels of files each, and a third: what is taken in late must not be lost to what
/// is let go early. Source: the model, laid up in the order of DESIGN: levels into their bundle, bundles
/// into the global picture. A byte for each of the layings.
#[test]
fn every_picture_of_a_large_stack_arrives_and_the_order_of_bundles_matters() {
    let mut stage = Stage::new();
    let model = Model { pixels: PixelMode::Encoded8Bit };
    let (backdrop, source) = meetings();
    let turned = |texels: &[[u8; 4]], by: usize| {
        let mut texels = texels.to_vec();
        texels.rotate_left(by);
        texels
    };
    let pictures = [
        backdrop.clone(),
        source.clone(),
        turned(&backdrop, 101),
        turned(&source, 211),
        turned(&source, 333),
    ];
    let footage: Vec<FootageName> = pictures
        .iter()
        .enumerate()
        .map(|(nth, texels)| stage.footage(&format!("picture-{nth}"), texels))
        .collect();
    let mixes = [
        Mix::default(),
        mix(BlendMode::Multiply, 0.9),
        mix(BlendMode::Normal, 0.7),
        mix(BlendMode::Screen, 0.5),
        mix(BlendMode::Exclusion, 0.4),
    ];
    let contents: [&[usize]; 3] = [&[0, 1], &[2, 3], &[4]];
    let bundle_mixes = [Mix::default(), mix(BlendMode::HardLight, 0.8), mix(BlendMode::Normal, 0.6)];
    let mut outputs = Vec::new();
    for order in [[0, 1, 2], [1, 0, 2], [2, 1, 0], [0, 2, 1]] {
        let bundles = order
            .iter()
            .map(|&b| Bundle {
                mix: bundle_mixes[b],
                ..bundle(contents[b].iter().map(|&l| level(&footage[l], mixes[l])).collect())
            })
            .collect();
        let found = stage.output(&show(bundles));
        let expected: Vec<[u8; 4]> = (0..FRAME.texels() as usize)
            .map(|at| {
                let mut all = [0.0; 4];
                for &b in &order {
                    let mut inside = [0.0; 4];
                    for &l in contents[b] {
                        inside = model.laid(mixes[l], inside, model.taken_in(pictures[l][at]));
                    }
                    all = model.laid(bundle_mixes[b], all, inside);
                }
                model.output(all)
            })
            .collect();
        let off = Off::of(&found, &expected, &format!("bundles {order:?}"), 3);
        eprintln!("bundles {order:?}: {off:?}");
        assert!(off.texels * 20 <= off.of, "bundles {order:?}: {off:?}");
        outputs.push(found);
    }
    for (nth, one) in outputs.iter().enumerate() {
        for other in &outputs[..nth] {
            assert!(difference(one, other).is_some(), "two orders of bundles look the same");
        }
    }
}

// Opaque in, opaque out.

/// Every effect at its defaults, with each setting at each of its ends, and with all at one end.
fn at_the_ends(effect: &Arc<Effect>) -> Vec<EffectUse> {
    let set = |used: &mut EffectUse, place: usize, high: bool| match &effect.settings[place].kind {
        Kind::Number { range, .. } => used.set_number(place, range[usize::from(high)]).unwrap(),
        Kind::Whole { range, .. } => used.set_number(place, range[usize::from(high)] as f64).unwrap(),
        Kind::Colour => used.set_word(place, if high { "#ff00ff" } else { "#000000" }).unwrap(),
        Kind::Choice(words) => {
            let word = if high { words.last() } else { words.first() };
            used.set_word(place, word.unwrap()).unwrap();
        }
    };
    let mut uses = vec![EffectUse::new(effect.clone())];
    for high in [false, true] {
        let mut all = EffectUse::new(effect.clone());
        for place in 0..effect.settings.len() {
            let mut one = EffectUse::new(effect.clone());
            set(&mut one, place, high);
            uses.push(one);
            set(&mut all, place, high);
        }
        uses.push(all);
    }
    uses
}

#[test]
fn opaque_in_gives_opaque_out_for_every_effect() {
    let mut stage = Stage::new();
    let footage = stage.footage("opaque", &opaque_texels());
    let (see_through, _) = meetings();
    let see_through = stage.footage("see-through", &see_through);
    let effects = stage.catalogue.effects().to_vec();
    for pixels in PixelMode::ALL {
        for used in effects.iter().flat_map(at_the_ends) {
            let chain = [used];
            let picture = stage.chained(&chain, &footage, pixels);
            let at =
                format!("{} {:?} in {}", chain[0].effect.name, chain[0].written_changes(), pixels.name());
            assert!(texels(&picture).all(|texel| texel[3] == 255) && picture.opaque, "{at}");
            // The same effect over a picture with alpha leaves some: the check can fail.
            assert!(!stage.chained(&chain, &see_through, pixels).opaque, "{at}");
        }
    }
}

#[test]
fn an_opaque_picture_below_or_a_covering_one_above_gives_an_opaque_picture() {
    let mut stage = Stage::new();
    let (backdrop, source) = meetings();
    let opaque = opaque_texels();
    let picture =
        |texels: &[[u8; 4]], opaque| Arc::new(Picture { frame: FRAME, rgba: texels.concat(), opaque });
    for pixels in PixelMode::ALL {
        for mode in BlendMode::ALL {
            for (below, above, opacity, is_opaque) in [
                (&opaque, &source, 1.0, true),
                (&opaque, &source, 0.37, true),
                (&backdrop, &opaque, 1.0, true),
                (&backdrop, &opaque, 0.37, false),
            ] {
                let path = Path {
                    moment: moment(pixels),
                    before: vec![
                        Step::TakeIn { picture: picture(below, false), into: 0 },
                        Step::TakeIn { picture: picture(above, false), into: 1 },
                        Step::Lay { backdrop: 0, source: 1, mix: mix(mode, opacity), into: 2 },
                    ],
                    input: 2,
                    opaque: is_opaque,
                    chain: Vec::new(),
                    after: Vec::new(),
                    past: Arc::default(),
                };
                let found = stage.renderer.picture(&path, &[]).unwrap();
                assert_eq!(found.opaque, is_opaque, "{} at {opacity} in {}", mode.name(), pixels.name());
            }
        }
    }
}

// Scopes.

#[test]
fn a_chain_gives_the_same_on_a_clip_on_its_lone_level_and_on_its_lone_bundle() {
    let mut stage = Stage::new();
    let (_, source) = meetings();
    let file = stage.footage("source", &source);
    for (name, chain) in stage.chains() {
        for footage in [generated("harbour"), generated("ship-mark"), file.clone()] {
            for opacity in [1.0, 0.6] {
                let lone = show(vec![bundle(vec![level(&footage, mix(BlendMode::Normal, opacity))])]);
                let plain = stage.output(&lone);
                let [clip, level, bundle] =
                    [Scope::Clip(0, 0, 0), Scope::Level(0, 0), Scope::Bundle(0)].map(|scope| {
                        let mut show = lone.clone();
                        *show.chain_mut(scope) = chain.clone();
                        stage.output(&show)
                    });
                let at = format!("{name} on {footage} at opacity {opacity}");
                assert!(difference(&clip, &plain).is_some(), "{at}: nothing happened");
                assert_same(&clip, &level, &format!("{at}: clip and level"));
                // A level's opacity lies between its chain and the bundle's, and a chain may not let it pass.
                if opacity == 1.0 {
                    assert_same(&level, &bundle, &format!("{at}: level and bundle"));
                }
            }
        }
    }
}

#[test]
fn a_chain_on_a_level_spares_the_level_below_and_a_chain_on_the_bundle_does_not() {
    let mut stage = Stage::new();
    let opaque = stage.footage("opaque", &opaque_texels());
    let half: Vec<[u8; 4]> = (0..FRAME.texels())
        .map(|at| if at % u64::from(FRAME.width) < 20 { [200, 40, 90, 255] } else { [0; 4] })
        .collect();
    let above = stage.footage("half", &half);
    let plain = show(vec![bundle(vec![level(&opaque, Mix::default()), level(&above, Mix::default())])]);
    let tint = stage.effect("tint", &[("amount", 1.0)]);
    let [none, on_level, on_bundle] = [None, Some(Scope::Level(0, 1)), Some(Scope::Bundle(0))].map(|scope| {
        let mut show = plain.clone();
        if let Some(scope) = scope {
            show.chain_mut(scope).push(tint.clone());
        }
        stage.output(&show)
    });
    for (((none, on_level), on_bundle), above) in
        texels(&none).zip(texels(&on_level)).zip(texels(&on_bundle)).zip(&half)
    {
        if above[3] == 255 {
            assert_ne!(on_level, none);
            assert_eq!(on_level, on_bundle);
        } else {
            assert_eq!(on_level, none);
            assert_ne!(on_bundle, none);
        }
    }
}

#[test]
fn what_is_hidden_is_as_good_as_not_there() {
    let mut stage = Stage::new();
    let tint = stage.effect("tint", &[("amount", 0.8)]);
    let plain = || level(&generated("harbour"), Mix::default());
    let lamp =
        || Level { chain: vec![tint.clone()], ..level(&generated("lamp"), mix(BlendMode::Screen, 0.7)) };
    let whole = || {
        show(vec![
            bundle(vec![plain(), lamp()]),
            bundle(vec![level(&generated("ship-mark"), Mix::default())]),
        ])
    };
    let mut seen = Vec::new();
    for scope in
        [Scope::Bundle(0), Scope::Bundle(1), Scope::Level(0, 0), Scope::Level(0, 1), Scope::Clip(0, 1, 0)]
    {
        let hide = StructureEdit::Hide { what: scope, hidden: true };
        let (hidden, _) = Edit::Structure(hide).applied(&whole()).unwrap();
        let mut without = whole();
        match scope {
            Scope::Bundle(b) => drop(without.bundles.remove(b)),
            Scope::Level(b, l) | Scope::Clip(b, l, _) => drop(without.bundles[b].levels.remove(l)),
            Scope::Global => {}
        }
        let found = stage.output(&hidden);
        assert!(found == stage.output(&without), "{scope:?}");
        for from in hidden.scopes().into_iter().filter(|&from| hidden.shows(from)) {
            let seen = stage.seen_from(&hidden, from, PixelMode::Encoded8Bit);
            assert!(seen == found, "{scope:?} hidden, seen from {from:?}");
        }
        assert!(!hidden.shows(scope));
        seen.push(found);
    }
    assert!(!seen.contains(&stage.output(&whole())), "each of them shows where it is not hidden");
}

/// The signs bundle of the demo shows: a mark over the picture, spared by the picture's chain.
#[test]
fn a_chain_on_the_picture_leaves_the_signs_clean() {
    let mut stage = Stage::new();
    // The mark by itself, with its alpha, tells where it is opaque.
    let mark = stage.chained(&[], &generated("ship-mark"), PixelMode::Encoded8Bit);
    let signs = || bundle(vec![level(&generated("ship-mark"), Mix::default())]);
    let picture = |chain: &Chain| Bundle {
        chain: chain.clone(),
        ..bundle(vec![level(&generated("harbour"), Mix::default())])
    };
    let without = stage.output(&show(vec![picture(&Vec::new()), signs()]));
    for (name, chain) in stage.chains() {
        let with = stage.output(&show(vec![picture(&chain), signs()]));
        let (mut sign, mut touched) = (0, 0);
        for ((with, without), mark) in texels(&with).zip(texels(&without)).zip(texels(&mark)) {
            if mark[3] == 255 {
                assert_eq!(with, without, "{name} reached the sign");
                assert_eq!(with, mark, "{name}: the sign is not its own colour");
                sign += 1;
            } else {
                touched += usize::from(with != without);
            }
        }
        assert!(sign > 50 && touched > 200, "{name}: {sign} texels of sign, {touched} touched");
        // With the signs inside the chain's bundle they are touched: sparing is the bundle's doing.
        let mut one = picture(&chain);
        one.levels.push(level(&generated("ship-mark"), Mix::default()));
        let inside = stage.output(&show(vec![one]));
        let mut on_sign = texels(&inside).zip(texels(&mark)).filter(|(_, mark)| mark[3] == 255);
        assert!(on_sign.any(|(inside, mark)| inside != mark), "{name} spares the sign inside its bundle");
    }
}

#[test]
fn a_global_chain_acts_on_the_finished_picture_of_all_bundles() {
    let mut stage = Stage::new();
    let mark = stage.chained(&[], &generated("ship-mark"), PixelMode::Encoded8Bit);
    let mut all = show(vec![
        bundle(vec![level(&generated("harbour"), Mix::default())]),
        bundle(vec![level(&generated("ship-mark"), Mix::default())]),
    ]);
    let finished = stage.output(&all);
    let footage = stage.footage("finished", &texels(&finished).collect::<Vec<_>>());
    for (name, chain) in stage.chains() {
        all.global = chain.clone();
        let found = stage.output(&all);
        let expected = stage.chained(&chain, &footage, PixelMode::Encoded8Bit);
        assert_same(&found, &expected, &name);
        let mut on_sign = texels(&found).zip(texels(&mark)).filter(|(_, mark)| mark[3] == 255);
        assert!(on_sign.any(|(found, mark)| found != mark), "{name} spares the sign");
    }
    // An open gate at full strength hides everything.
    all.global = vec![stage.effect("flash-gate", &[])];
    assert!(texels(&stage.output(&all)).all(|texel| texel == [255; 4]));
    // An empty stage is black, and the global chain acts on that too.
    let clear = stage.footage("clear", &vec![[9, 9, 9, 0]; FRAME.texels() as usize]);
    let mut empty = show(vec![bundle(vec![level(&clear, Mix::default())])]);
    assert!(texels(&stage.output(&empty)).all(|texel| texel == [0, 0, 0, 255]));
    empty.global = all.global;
    assert!(texels(&stage.output(&empty)).all(|texel| texel == [255; 4]));
}

/// A show in which every scope has a chain, alphas are mixed and no bundle covers the frame by itself.
fn busy_show(stage: &Stage) -> Show {
    let (backdrop, source) = meetings();
    let (below, above) = (stage.footage("below", &backdrop), stage.footage("above", &source));
    let edge = stage.effect("edge-find", &[("gain", 2.0), ("amount", 0.7)]);
    let tint = stage.effect("tint", &[("amount", 0.5)]);
    let flash = stage.effect("flash-gate", &[("strength", 0.4)]);
    let offset = stage.effect("channel-offset", &[("distance", 0.05)]);
    let mirror = stage.effect("mirror", &[]);
    let mut busy = show(vec![
        bundle(vec![
            level(&below, mix(BlendMode::Normal, 0.9)),
            level(&generated("ship-mark"), mix(BlendMode::Screen, 0.8)),
            level(&generated("lamp"), mix(BlendMode::SoftLight, 0.7)),
        ]),
        bundle(vec![level(&above, mix(BlendMode::Normal, 0.6)), level(&below, mix(BlendMode::Overlay, 1.0))]),
        bundle(vec![level(&generated("ship-mark"), Mix::default())]),
    ]);
    busy.bundles[1].mix = mix(BlendMode::Difference, 0.5);
    busy.bundles[2].mix = mix(BlendMode::Add, 0.9);
    busy.bundles[0].levels[1].clips[0].chain = vec![tint.clone(), edge.clone()];
    busy.bundles[0].levels[1].chain = vec![offset.clone(), tint.clone(), flash.clone()];
    busy.bundles[0].levels[2].chain = vec![mirror.clone()];
    busy.bundles[0].chain = vec![edge, mirror, offset.clone()];
    busy.bundles[1].levels[0].clips[0].chain = vec![flash.clone(), offset.clone()];
    busy.bundles[1].chain = vec![tint.clone(), flash];
    busy.bundles[2].levels[0].chain = vec![offset];
    busy.global = vec![tint];
    busy
}

/// A path ends at the show's output whichever scope it is planned from: there are four ways to plan
/// it, and one picture.
#[test]
fn a_show_looks_the_same_planned_from_every_scope() {
    let mut stage = Stage::new();
    let busy = busy_show(&stage);
    let scopes = busy.scopes();
    for pixels in PixelMode::ALL {
        let whole = stage.seen_from(&busy, Scope::Global, pixels);
        assert!(whole.opaque, "the output is never transparent");
        for &scope in scopes.iter().filter(|&&scope| busy.shows(scope)) {
            let seen = stage.seen_from(&busy, scope, pixels);
            assert_same(&seen, &whole, &format!("{} in {}", busy.address(scope), pixels.name()));
        }
    }
}

/// Exploring renders many orders at once through the same steps: each must be what rendering that
/// order alone gives, with levels and bundles below and above it.
#[test]
fn exploring_the_chain_of_a_scope_gives_what_each_order_alone_gives() {
    let mut stage = Stage::new();
    let busy = busy_show(&stage);
    let mut several = 0;
    for scope in busy.scopes() {
        let mut shelf = Shelf::new(&stage.catalogue);
        let path = Path::of_scope(&busy, scope, moment(PixelMode::Encoded8Bit), &mut shelf).unwrap();
        if path.chain.len() < 2 {
            continue;
        }
        let orders = Classes::new((0..path.chain.len()).collect(), |_, _| false).all();
        let tree = Tree::of(&orders, |_| false);
        let want = Want::Tiles { size: FRAME, most: orders.len() };
        let (explored, _) =
            stage.renderer.explore(&path, &tree, &Asked { want, ..Asked::default() }, |_| {}).unwrap();
        let mut distinct = Vec::new();
        for (order, explored) in orders.iter().zip(explored) {
            let alone = stage.renderer.picture(&path, &order.order).unwrap();
            let explored = explored.picture.unwrap();
            assert_same(&explored, &alone, &format!("{} in order {:?}", busy.address(scope), order.order));
            if !distinct.contains(&explored) {
                distinct.push(explored);
            }
        }
        several += usize::from(distinct.len() > 1);
    }
    assert!(several >= 3, "only {several} scopes gave different pictures");
}

/// A clip that is hidden has no say, whatever its chain.
#[test]
fn a_hidden_clip_changes_nothing() {
    let mut stage = Stage::new();
    let mut plain = show(vec![bundle(vec![level(&generated("harbour"), Mix::default())])]);
    let without = stage.output(&plain);
    let mut hidden = clip(&generated("ship-mark"));
    hidden.chain = vec![stage.effect("flash-gate", &[])];
    plain.bundles[0].levels[0].clips.push(hidden);
    assert_same(&stage.output(&plain), &without, "with a hidden clip");
    plain.bundles[0].levels[0].showing = 1;
    assert!(difference(&stage.output(&plain), &without).is_some(), "the other clip is not seen");
}
