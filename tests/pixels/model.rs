//! Effects worked out in 64 bits, texel by texel, and how closely the GPU has to agree.
//!
//! The path of a picture is DESIGN section 2's: taken in (premultiplied, held),
//! one effect, held again, given out (straight, encoded, in bytes).

use half::f16;
use underover::base::frame::{Frame, PixelMode};
use underover::base::picture::Picture;
use underover::beat::Moment;
use underover::show::chain::EffectUse;

use crate::common::{Alpha, SIZES, moment, rendered, scattered};

/// sRGB to linear light (IEC 61966-2-1).
pub fn decoded(c: f64) -> f64 {
    if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
}

/// Linear light to sRGB (IEC 61966-2-1).
pub fn encoded(c: f64) -> f64 {
    if c <= 0.0031308 { c * 12.92 } else { 1.055 * c.powf(1.0 / 2.4) - 0.055 }
}

/// From `a` at 0 to `b` at 1.
pub fn mix(a: f64, b: f64, t: f64) -> f64 {
    a + (b - a) * t
}

/// A picture as it is held between effects: premultiplied, to the last bit.
pub struct Held {
    /// Its size.
    pub frame: Frame,
    /// How it is held.
    pub pixels: PixelMode,
    texels: Vec<[f64; 4]>,
}

impl Held {
    /// A picture of bytes, taken in.
    pub fn taken_in(picture: &Picture, pixels: PixelMode) -> Self {
        let taken = |texel: &[u8]| {
            let [r, g, b, a] = [0, 1, 2, 3].map(|c| f64::from(texel[c]) / 255.0);
            let straight = [r, g, b].map(|c| match pixels {
                PixelMode::Encoded8Bit => c,
                PixelMode::LinearFloat => decoded(c),
            });
            premultiplied(straight, a, pixels).map(|value| held(value, pixels))
        };
        Self { frame: picture.frame, pixels, texels: picture.rgba.chunks(4).map(taken).collect() }
    }

    /// The premultiplied texel; past the border, the border's.
    pub fn stored(&self, x: i64, y: i64) -> [f64; 4] {
        let x = x.clamp(0, i64::from(self.frame.width) - 1) as usize;
        let y = y.clamp(0, i64::from(self.frame.height) - 1) as usize;
        self.texels[y * self.frame.width as usize + x]
    }

    /// The texel's colour without its alpha; black where there is none.
    pub fn straight(&self, x: i64, y: i64) -> [f64; 3] {
        let [r, g, b, a] = self.stored(x, y);
        [r, g, b].map(|c| if a > 0.0 { c / a } else { 0.0 })
    }

    /// The texel's alpha.
    pub fn alpha(&self, x: i64, y: i64) -> f64 {
        self.stored(x, y)[3]
    }
}

/// A straight result as it is held before rounding; 8 bits clamp it.
pub fn premultiplied(straight: [f64; 3], alpha: f64, pixels: PixelMode) -> [f64; 4] {
    let [r, g, b] = straight.map(|c| match pixels {
        PixelMode::Encoded8Bit => c.clamp(0.0, 1.0) * alpha,
        PixelMode::LinearFloat => c * alpha,
    });
    [r, g, b, alpha]
}

/// What is half way between two bytes, or this little below, goes up: on every adapter alike.
pub const LITTLE: f64 = 1.0 / 16384.0;

fn rounded(byte: f64) -> f64 {
    (byte.clamp(0.0, 255.0) + 0.5 + LITTLE).floor().min(255.0)
}

/// A value as a mode holds it.
pub fn held(value: f64, pixels: PixelMode) -> f64 {
    match pixels {
        PixelMode::Encoded8Bit => rounded(value * 255.0) / 255.0,
        PixelMode::LinearFloat => f16::from_f64(value).to_f64(),
    }
}

/// One effect: every result that the texel at x, y may have, premultiplied and
/// before rounding. More than one only where the definition itself stands on an edge.
pub type Effect<'a> = &'a dyn Fn(&Held, i64, i64) -> Vec<[f64; 4]>;

/// An effect on colours alone, for [`check`].
pub fn on_colours(colours: impl Fn([f64; 3]) -> [f64; 3]) -> impl Fn(&Held, i64, i64) -> Vec<[f64; 4]> {
    move |picture, x, y| {
        vec![premultiplied(colours(picture.straight(x, y)), picture.alpha(x, y), picture.pixels)]
    }
}

/// How far, in bytes, the model may stand from where rounding turns when the GPU's byte is the other one.
#[derive(Debug, Clone, Copy)]
pub struct Ties {
    /// In `encoded-8bit`: what 32-bit arithmetic may be wrong by, 255 times.
    pub bytes: f64,
    /// In `linear-float`: one step of a 16-bit float, encoded.
    pub linear_bytes: f64,
}

impl Ties {
    /// For effects of a few operations. 8 bits: a 32-bit float is good to 6e-8
    /// of its value, which is 1.5e-5 of a byte for each operation (measured on
    /// llvmpipe: 3e-6 is enough). Linear: where a decoded value lies near a tie
    /// of 16-bit floats, the held value is one step off, 2^-10 of it at most, and
    /// the encoding takes 1/2.4 of that: 0.10 of a byte (measured: 0.085).
    pub const OF_TEXELS: Self = Self { bytes: 1e-5, linear_bytes: 0.1 };

    /// For sums over up to 33x33 texels, each of which adds a rounding (measured on llvmpipe: 1e-5 is enough).
    pub const OF_SUMS: Self = Self { bytes: 1e-4, linear_bytes: 0.1 };
}

/// [`check`] of an effect of few operations on every size of [`SIZES`], with and without alpha, in both pixel modes.
pub fn check_everywhere(used: &EffectUse, beats: f64, effect: Effect) {
    check_everywhere_within(Ties::OF_TEXELS, used, beats, effect);
}

/// [`check_everywhere`] for an effect that is less exact.
pub fn check_everywhere_within(ties: Ties, used: &EffectUse, beats: f64, effect: Effect) {
    for (width, height) in SIZES {
        for alpha in Alpha::ALL {
            let scattered = scattered(width, height, alpha, 1);
            for pixels in PixelMode::ALL {
                check(used, &scattered, moment(scattered.frame, pixels, beats), effect, ties);
            }
        }
    }
}

/// Renders one effect over a picture and compares every byte with the model.
pub fn check(used: &EffectUse, picture: &Picture, moment: Moment, effect: Effect, ties: Ties) {
    let before = Held::taken_in(picture, moment.pixels);
    let got = rendered(picture, std::slice::from_ref(used), moment);
    let width = picture.frame.width as usize;
    for (at, bytes) in got.rgba.chunks(4).enumerate() {
        let (x, y) = ((at % width) as i64, (at / width) as i64);
        let results = effect(&before, x, y);
        assert!(
            results.iter().any(|&result| agrees(bytes, result, moment.pixels, ties)),
            "{} {:?} at {x},{y} of {} in {} at beat {}: the GPU gives {bytes:?}, the model {:?} (bytes before rounding) from {:?}",
            used.effect.name,
            used.written_changes(),
            picture.frame,
            moment.pixels.name(),
            moment.beats,
            results.iter().map(|&result| given_out(result, moment.pixels)).collect::<Vec<_>>(),
            &picture.rgba[at * 4..at * 4 + 4],
        );
    }
}

/// The output bytes, unrounded, of a result whose held values are rounded.
fn given_out(result: [f64; 4], pixels: PixelMode) -> [f64; 4] {
    let [r, g, b, a] = result.map(|value| held(value, pixels));
    let [r, g, b] = [r, g, b].map(|c| byte_of(c, a, pixels));
    [r, g, b, a * 255.0]
}

fn byte_of(premultiplied: f64, alpha: f64, pixels: PixelMode) -> f64 {
    let straight = if alpha > 0.0 { premultiplied / alpha } else { 0.0 };
    let shown = match pixels {
        PixelMode::Encoded8Bit => straight,
        PixelMode::LinearFloat => encoded(straight.clamp(0.0, 1.0)),
    };
    shown * 255.0
}

/// Whether the bytes given out may come of this result.
pub fn agrees(bytes: &[u8], result: [f64; 4], pixels: PixelMode, ties: Ties) -> bool {
    let near = |byte: u8, value: f64, window: f64| {
        (rounded(value - window)..=rounded(value + window)).contains(&f64::from(byte))
    };
    match pixels {
        PixelMode::LinearFloat => {
            bytes.iter().zip(given_out(result, pixels)).all(|(&byte, v)| near(byte, v, ties.linear_bytes))
        }
        // Two roundings: any byte that may be held, and of it any that may be given out.
        PixelMode::Encoded8Bit => {
            let held = result.map(|v| [rounded(v * 255.0 - ties.bytes), rounded(v * 255.0 + ties.bytes)]);
            let shown = |c: usize, alpha: f64| {
                held[c].iter().any(|&colour| near(bytes[c], byte_of(colour, alpha, pixels), ties.bytes))
            };
            held[3]
                .iter()
                .any(|&alpha| f64::from(bytes[3]) == alpha && (0..3).all(|channel| shown(channel, alpha)))
        }
    }
}
