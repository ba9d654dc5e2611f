//! Effects that remember: their maths frame by frame, and that scrubbing gives what playing gives.

#[allow(dead_code, reason = "each test file uses its own part of it")]
mod common;

use common::Set::To;
use common::model::{Held, Ties, agrees, held};
use common::{Alpha, moment, path, scattered, used, with_renderer};
use underover::catalogue::FADED_EACH_FRAME;
use underover::chain::EffectUse;
use underover::footage::Picture;
use underover::frame::{Moment, PixelMode};
use underover::plan::Path;

/// The chain over pictures that follow each other, the last shown at `last`.
fn playing(pictures: &[Picture], chain: &[EffectUse], last: Moment) -> Path {
    let count = pictures.len() as u64;
    let frame = |(at, picture): (u64, &Picture)| path(picture, chain, last.frames_before(count - 1 - at));
    let mut frames: Vec<Path> = (0..).zip(pictures).map(frame).collect();
    let own = frames.pop().unwrap();
    Path { past: frames.into(), ..own }
}

fn shown(path: &Path) -> Picture {
    let order: Vec<usize> = (0..path.chain.len()).collect();
    with_renderer(|renderer| renderer.picture(path, &order)).unwrap_or_else(|e| panic!("{e}"))
}

/// Pictures that follow each other.
fn pictures(count: u32, (width, height): (u32, u32), alpha: Alpha) -> Vec<Picture> {
    (0..count).map(|nth| scattered(width, height, alpha, 100 + nth)).collect()
}

/// Plays the pictures frame by frame and compares every byte of every frame with the model, which gives
/// a premultiplied value from the picture's and from what the model itself gave one frame ago.
fn check(
    used: &EffectUse,
    last: Moment,
    pictures: &[Picture],
    model: impl Fn(Moment, f64, Option<f64>) -> f64,
) {
    let width = i64::from(last.frame.width);
    let texels = last.frame.texels() as i64;
    let mut before: Option<Vec<[f64; 4]>> = None;
    for (at, picture) in pictures.iter().enumerate() {
        let moment = last.frames_before((pictures.len() - 1 - at) as u64);
        let now = Held::taken_in(picture, moment.pixels);
        let result: Vec<[f64; 4]> = (0..texels)
            .map(|texel| {
                let now = now.stored(texel % width, texel / width);
                let before = before.as_ref().map(|before| before[texel as usize]);
                [0, 1, 2, 3].map(|c| model(moment, now[c], before.map(|before| before[c])))
            })
            .collect();
        let got = shown(&playing(&pictures[..=at], std::slice::from_ref(used), moment));
        for (texel, (bytes, result)) in got.rgba.chunks(4).zip(&result).enumerate() {
            assert!(
                agrees(bytes, *result, moment.pixels, Ties::OF_TEXELS),
                "{} {:?}, frame {at}, texel {texel} of {} in {}: {bytes:?}, the model {result:?}",
                used.effect.name,
                used.written_changes(),
                moment.frame,
                moment.pixels.name(),
            );
        }
        before = Some(result.iter().map(|texel| texel.map(|value| held(value, moment.pixels))).collect());
    }
}

#[test]
fn a_trail_is_the_brighter_of_the_picture_and_the_last_output_dimmed() {
    for decay in [0.0, 0.02, 0.3, 0.95] {
        let trails = used("trails", &[("decay", To(decay))]);
        for size in [(7, 5), (1, 1), (9, 3)] {
            for alpha in Alpha::ALL {
                for pixels in PixelMode::ALL {
                    let pictures = pictures(6, size, alpha);
                    let last = moment(pictures[0].frame, pixels, 2.0);
                    // 120 beats a minute are 1/30 beat a frame at 60 frames a second.
                    let keep = (decay.powf(last.beats_a_frame()) * 4096.0).round() / 4096.0;
                    check(&trails, last, &pictures, |_, now, before| {
                        let left = before.unwrap_or(now).min(1.0) * keep - FADED_EACH_FRAME;
                        if left > 0.0 { now.max(left) } else { now }
                    });
                }
            }
        }
    }
}

#[test]
fn a_hold_shows_the_first_picture_after_each_multiple_of_its_beats() {
    for every in [0.0, 0.01, 0.1, 0.25] {
        let hold = used("hold", &[("every", To(every))]);
        for alpha in Alpha::ALL {
            for pixels in PixelMode::ALL {
                let pictures = pictures(12, (7, 5), alpha);
                let last = moment(pictures[0].frame, pixels, 1.5);
                check(&hold, last, &pictures, |moment, now, before| {
                    let passed =
                        (moment.beats / every).floor() != (moment.frames_before(1).beats / every).floor();
                    if every == 0.0 || passed { now } else { before.unwrap_or(now) }
                });
            }
        }
    }
}
