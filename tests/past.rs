//! Effects that remember: their maths frame by frame, and that scrubbing gives what playing gives.

#[allow(dead_code, reason = "each test file uses its own part of it")]
mod common;

use common::Set::{To, Word};
use common::model::{Held, Ties, agrees, held};
use common::{Alpha, difference, moment, path, scattered, used, with_renderer};
use underover::catalogue::FADED_EACH_FRAME;
use underover::chain::EffectUse;
use underover::exploration::Orders;
use underover::footage::Picture;
use underover::frame::{Moment, PixelMode};
use underover::gpu::{Budget, Want};
use underover::plan::Path;

/// The chain over pictures that follow each other, the last shown at `last`.
fn playing(pictures: &[Picture], chain: &[EffectUse], last: Moment) -> Path {
    let count = pictures.len() as u64;
    let frame = |(at, picture): (u64, &Picture)| path(picture, chain, last.before(count - 1 - at).unwrap());
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
        let moment = last.before((pictures.len() - 1 - at) as u64).unwrap();
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
                let period = |moment: Moment| (moment.beats / every + 1e-9).floor();
                check(&hold, last, &pictures, |moment, now, before| {
                    let passed = period(moment) != period(moment.before(1).unwrap());
                    if every == 0.0 || passed { now } else { before.unwrap_or(now) }
                });
            }
        }
    }
}

/// The first of these pictures that gives another byte, where a path starts later than it could.
fn assert_same(one: &Picture, other: &Picture, said: &str) {
    assert_eq!(difference(one, other), None, "{said}");
}

#[test]
fn a_trail_is_exactly_as_long_as_it_is_said_to_be() {
    for decay in [0.02, 0.3, 0.95] {
        let trails = used("trails", &[("decay", To(decay))]);
        for pixels in PixelMode::ALL {
            // White once, then black: the longest trail that there is.
            let frame = common::picture(1, 1, vec![0, 0, 0, 255]).frame;
            let last = moment(frame, pixels, 100.0);
            let frames = trails.frames_remembered(&last) as usize;
            assert!(frames > 0);
            let after = |frames_since: usize| {
                let grey = |light: u8| common::picture(1, 1, vec![light, light, light, 255]);
                let mut pictures = vec![grey(0); frames_since + 1];
                pictures[0] = grey(255);
                shown(&playing(&pictures, std::slice::from_ref(&trails), last)).rgba[0]
            };
            assert_eq!(after(frames + 1), 0, "decay {decay} in {}, {frames} frames", pixels.name());
            assert!(after(frames) > 0, "decay {decay} in {}, {frames} frames", pixels.name());
        }
    }
}

#[test]
fn warming_up_as_long_as_is_said_gives_what_playing_from_far_earlier_gives() {
    let chains = [
        vec![used("trails", &[])],
        vec![used("hold", &[("every", To(0.2))])],
        vec![used("trails", &[("decay", To(0.05))]), used("hold", &[("every", To(0.3))])],
        vec![
            used("hold", &[("every", To(0.25))]),
            used("mirror", &[]),
            used("trails", &[("decay", To(0.1))]),
            used("flash-gate", &[("rate", To(4.0)), ("strength", To(0.5))]),
        ],
    ];
    for chain in chains {
        for pixels in PixelMode::ALL {
            for alpha in Alpha::ALL {
                let many = pictures(260, (5, 4), alpha);
                let last = moment(many[0].frame, pixels, 40.0);
                let frames: u64 = chain.iter().map(|used| used.most_frames_remembered(&last)).sum();
                let said = format!("{} effects in {}, {frames} frames", chain.len(), pixels.name());
                assert!(frames < 200, "{said}");
                let from =
                    |frames: u64| shown(&playing(&many[many.len() - 1 - frames as usize..], &chain, last));
                let earlier = shown(&playing(&many, &chain, last));
                assert_same(&earlier, &from(frames), &said);
                assert_same(&earlier, &from(frames + 1), &said);
            }
        }
    }
}

#[test]
fn an_exploration_gives_each_order_the_bytes_that_it_has_alone() {
    let chain = [
        used("tint", &[("amount", To(0.5))]),
        used("trails", &[("decay", To(0.1))]),
        used("hold", &[("every", To(0.1))]),
        used("mirror", &[("fold", Word("top-over-bottom"))]),
        used("flash-gate", &[("rate", To(8.0)), ("strength", To(0.6))]),
    ];
    let many = pictures(40, (9, 6), Alpha::Full);
    for pixels in PixelMode::ALL {
        let path = playing(&many, &chain, moment(many[0].frame, pixels, 2.0));
        with_renderer(|renderer| {
            let orders = Orders::of(renderer, &path).unwrap();
            assert!(orders.classes.len() >= 20, "{} classes", orders.classes.len());
            let alone: Vec<Picture> =
                orders.classes.iter().map(|class| renderer.picture(&path, &class.order).unwrap()).collect();
            let want = Want::Tiles { size: many[0].frame, most: 1000 };
            let finished = renderer.explore(&path, &orders.tree(), want, Budget::default(), |_| {}).unwrap();
            for ((class, alone), finished) in orders.classes.iter().zip(&alone).zip(finished) {
                let said = format!("{:?} in {}", class.order, pixels.name());
                assert_same(alone, finished.picture.as_ref().unwrap(), &said);
            }
            // Every order of a class gives the picture of its class.
            let mut looked_at = 0;
            for order in all_orders(chain.len()).iter().step_by(3) {
                let normal = orders.proofs.classes.normal_form(order);
                let class = orders.classes.iter().position(|class| class.order == normal).unwrap();
                let picture = renderer.picture(&path, order).unwrap();
                assert_same(&picture, &alone[class], &format!("{order:?} as {normal:?}"));
                looked_at += 1;
            }
            assert_eq!(looked_at, 40);
        });
    }
}

/// Every order of 0..n.
fn all_orders(n: usize) -> Vec<Vec<usize>> {
    (0..n).fold(vec![Vec::new()], |orders, new| {
        let put = |order: &Vec<usize>, at: usize| {
            let mut order = order.clone();
            order.insert(at, new);
            order
        };
        orders.iter().flat_map(|order| (0..=order.len()).map(move |at| put(order, at))).collect()
    })
}
