//! What rendering takes in memory, worked out before it begins.
//!
//! The figures are what is asked for, on the GPU and beside it; a software adapter takes both from the machine's own
//! memory, and less of it, as it never touches the spare layers of a texture array.

use thiserror::Error;

use crate::base::frame::{Frame, PixelMode};
use crate::show::chain::EffectUse;
use crate::show::clip::FootageName;
use crate::show::{ClipPlace, Scope, Show};

/// What rendering may take where nobody says otherwise, in MiB: a show at 8K is within it.
pub const USUAL_MIB: u64 = 4096;
/// From this on it is said beforehand, in MiB.
const MUCH_MIB: u64 = 1024;
/// Bytes of a texel in a finished picture.
const BYTES: u64 = 4;
/// Layers of a texture array at the least (`gpu/texture_array.rs`).
const LAYERS: u64 = 2;
/// Texture arrays that a chain needs at once: what an effect reads, what it makes, and one that waits for its next use.
const OF_CHAIN: u64 = 3;
/// Texture arrays that a show needs at once: the output, a bundle and a level so far, and those of a chain.
const OF_SHOW: u64 = 3 + OF_CHAIN;
/// Texture arrays in which an effect keeps its past; they take turns.
const OF_MEMORY: u64 = 2;
/// Finished pictures beside the GPU: on the way back, as given, and as they are written.
const GIVEN: u64 = 3;
/// Pictures that each piece of footage takes beside the GPU: fitted to the frame, and on the way there.
const OF_FOOTAGE: u64 = 2;

/// Rendering would take more than it may.
#[derive(Debug, Error, PartialEq, Eq)]
#[error(
    "rendering at {frame} takes about {needed_mib} MiB of memory, and {allowed_mib} MiB are allowed; give --memory {needed_mib}, or a --frame of {fits} or smaller"
)]
pub struct TooMuch {
    /// The size asked for.
    pub frame: Frame,
    /// What it takes.
    pub needed_mib: u64,
    /// What it may take.
    pub allowed_mib: u64,
    /// The largest frame of the same shape that keeps to it.
    pub fits: Frame,
}

/// What rendering one output takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Needed {
    frame: Frame,
    bytes: u64,
}

impl Needed {
    pub fn of_chain(chain: &[EffectUse], footage: &FootageName, frame: Frame, pixels: PixelMode) -> Self {
        let pieces = u64::from(is_decoded(footage));
        Self::of(OF_CHAIN + OF_MEMORY * remembering(chain), pieces, frame, pixels)
    }

    /// For the output of a show, as it plays.
    pub fn of_show(show: &Show, frame: Frame, pixels: PixelMode) -> Self {
        let clips = show.scopes().into_iter().filter_map(|scope| match scope {
            Scope::Clip(bundle, level, clip) if show.shows(scope) => {
                show.clip(ClipPlace { bundle, level, clip })
            }
            _ => None,
        });
        let pieces = clips.filter(|clip| is_decoded(&clip.footage)).count();
        let remember: u64 = show.scopes().into_iter().map(|scope| remembering(show.chain(scope))).sum();
        Self::of(OF_SHOW + OF_MEMORY * remember, pieces as u64, frame, pixels)
    }

    /// For two outputs that are laid over each other.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        Self { bytes: self.bytes.saturating_add(other.bytes), ..self }
    }

    fn of(arrays: u64, pieces: u64, frame: Frame, pixels: PixelMode) -> Self {
        let texel =
            LAYERS * (arrays * pixels.bytes_per_texel() + BYTES) + BYTES * (GIVEN + pieces * OF_FOOTAGE);
        Self { frame, bytes: frame.texels().saturating_mul(texel) }
    }

    /// The same where so many finished pictures are kept beside it.
    #[must_use]
    pub fn keeping(self, pictures: usize) -> Self {
        let kept = (pictures as u64).saturating_mul(self.frame.texels()).saturating_mul(BYTES);
        Self { bytes: self.bytes.saturating_add(kept), ..self }
    }

    /// In MiB, rounded up.
    pub fn mib(self) -> u64 {
        self.bytes.div_ceil(1 << 20)
    }

    /// "1.5 GiB", where it is so much that it should be said beforehand.
    pub fn much(self) -> Option<String> {
        (self.mib() >= MUCH_MIB).then(|| format!("{:.1} GiB", self.bytes as f64 / f64::from(1 << 30)))
    }

    /// Whether it may be done within so much.
    ///
    /// # Errors
    /// [`TooMuch`], with what is needed and the frame that would fit.
    pub fn within(self, allowed_mib: u64) -> Result<(), TooMuch> {
        if self.mib() <= allowed_mib {
            return Ok(());
        }
        let fits = fitting(self.frame, self.bytes, allowed_mib << 20);
        Err(TooMuch { frame: self.frame, needed_mib: self.mib(), allowed_mib, fits })
    }
}

/// Texture arrays that stand for the last depth of a chain: its own, and two that the steps behind it alternate between.
pub(crate) fn last_weight(after: usize) -> usize {
    if after == 0 { 1 } else { 3 }
}

/// What the orders of so many effects, with so many steps behind them, take on the GPU at the least, in bytes.
pub(crate) fn least_of_orders(effects: usize, after: usize, frame: Frame, pixels: PixelMode) -> u64 {
    LAYERS * (effects + last_weight(after)) as u64 * frame.texels() * pixels.bytes_per_texel()
}

/// The largest frame of the same shape on which they take no more than allowed: the frame itself, if it does.
pub(crate) fn frame_for_orders(
    effects: usize,
    after: usize,
    frame: Frame,
    pixels: PixelMode,
    allowed_mib: u64,
) -> Frame {
    match least_of_orders(effects, after, frame, pixels) {
        needed if needed <= allowed_mib << 20 => frame,
        needed => fitting(frame, needed, allowed_mib << 20),
    }
}

/// The largest frame of the same shape that takes no more than allowed, where this one takes so much.
pub(crate) fn fitting(frame: Frame, needed: u64, allowed: u64) -> Frame {
    let scale = (allowed as f64 / needed.max(1) as f64).sqrt().min(1.0);
    let side = |texels: u32| ((f64::from(texels) * scale) as u32).max(1);
    // Of a strip one side cannot shrink any further: the other makes up for it.
    let texels = (frame.texels() as f64 * allowed as f64 / needed.max(1) as f64) as u64;
    let beside = |other: u32| u32::try_from(texels / u64::from(other)).unwrap_or(u32::MAX).max(1);
    let width = side(frame.width).min(beside(side(frame.height)));
    Frame { width, height: side(frame.height).min(beside(width)) }
}

fn remembering(chain: &[EffectUse]) -> u64 {
    chain.iter().filter(|used| used.on && used.effect.remembers()).count() as u64
}

/// Whether a piece of footage is a picture beside the GPU before it is one there.
fn is_decoded(footage: &FootageName) -> bool {
    !matches!(footage, FootageName::Generated(_))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_frame_that_is_said_to_fit_fits_and_one_a_little_larger_does_not() {
        for (width, height) in [(16_384, 16_384), (16_384, 1), (7_680, 4_320)] {
            let frame = Frame { width, height };
            let needed = |frame| Needed::of(OF_SHOW, 3, frame, PixelMode::LinearFloat);
            let Err(TooMuch { fits, needed_mib, .. }) = needed(frame).within(1) else { panic!("{frame}") };
            assert_eq!(needed_mib, needed(frame).mib());
            needed(fits).within(1).unwrap();
            let larger = Frame { width: fits.width + fits.width / 16 + 1, height: fits.height + 1 };
            needed(larger).within(1).unwrap_err();
        }
    }
}
