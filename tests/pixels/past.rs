//! Effects that remember: their maths frame by frame, and that scrubbing gives what playing gives.

#[allow(dead_code, reason = "each test file uses its own part of it")]
use std::sync::Arc;

use crate::common::Set::{To, Word};
use crate::common::{Alpha, CATALOGUE, difference, moment, path, scattered, used, with_renderer};
use crate::model::{Held, Ties, agrees, held};
use underover::base::frame::{Frame, PixelMode};
use underover::base::picture::Picture;
use underover::beat::{FrameRate, Moment};
use underover::catalogue::{Catalogue, FADED_EACH_FRAME, Value};
use underover::explore::{Orders, proved};
use underover::files;
use underover::files::Document;
use underover::footage::Shelf;
use underover::gpu::{Against, Asked, Budget, Player, Want};
use underover::order::{Class, Tree, Verdict};
use underover::plan::Path;
use underover::show::automation::{Automation, Pace};
use underover::show::chain::EffectUse;
use underover::show::clip::{Fit, FootageName};
use underover::show::{Scope, Show};

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
            let frame = crate::common::picture(1, 1, vec![0, 0, 0, 255]).frame;
            let last = moment(frame, pixels, 100.0);
            let frames = trails.frames_remembered(&last) as usize;
            assert!(frames > 0);
            let after = |frames_since: usize| {
                let grey = |light: u8| crate::common::picture(1, 1, vec![light, light, light, 255]);
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
            assert!(orders.classes.len() >= 18, "{} classes", orders.classes.len());
            let alone: Vec<Picture> =
                orders.classes.iter().map(|class| renderer.picture(&path, &class.order).unwrap()).collect();
            let want = Want::Tiles { size: many[0].frame, most: 1000 };
            let (finished, _) =
                renderer.explore(&path, &orders.tree(), &Asked { want, ..Asked::default() }, |_| {}).unwrap();
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

#[test]
fn a_hold_beside_effects_that_do_the_same_at_every_frame_makes_no_order_of_its_own() {
    let still = [
        used("tint", &[]),
        used("edge-find", &[]),
        used("posterise", &[]),
        used("channel-offset", &[("distance", To(0.2))]),
        used("mirror", &[]),
    ];
    let many = pictures(12, (9, 6), Alpha::Full);
    let classes = |chain: &[EffectUse]| {
        let path = playing(&many, chain, moment(many[0].frame, PixelMode::Encoded8Bit, 2.0));
        with_renderer(|renderer| Orders::of(renderer, &path)).unwrap().classes.len()
    };
    let alone = classes(&still);
    assert!(alone > 20, "{alone} classes");
    let hold = used("hold", &[("every", To(0.15))]);
    assert_eq!(classes(&[std::slice::from_ref(&hold), &still].concat()), alone);
    // A gate that opens meanwhile is held open or shut: there its place matters.
    let gate = [used("flash-gate", &[("rate", To(8.0))])];
    assert_eq!(classes(&[&[hold][..], &gate].concat()), 2);
}

#[test]
fn chains_of_different_lengths_are_played_side_by_side() {
    // With an effect that remembers in the chain, and another on the way to the output.
    let mut show = demo();
    show.bundles[0].chain = vec![
        used("hold", &[("every", To(0.1))]),
        used("posterise", &[]),
        used("flash-gate", &[("rate", To(8.0)), ("strength", To(0.6))]),
    ];
    show.global.insert(0, used("trails", &[("decay", To(0.01))]));
    let frame = Frame { width: 24, height: 14 };
    let orders = [vec![0, 1, 2], vec![1, 2], vec![2, 0], vec![1], vec![], vec![2, 1]];
    for pixels in PixelMode::ALL {
        let at = Moment::of_frame(frame, pixels, show.tempo_bpm, show.rate, 50);
        let path = Path::of_scope(&show, Scope::Bundle(0), at, &mut Shelf::new(&CATALOGUE)).unwrap();
        assert!(path.after_remembers() && path.warm_up_frames() > 3);
        let classes = orders.clone().map(|order| Class { order });
        let tree = Tree::of(&classes, |_| false);
        let want = Want::Tiles { size: frame, most: 1000 };
        with_renderer(|renderer| {
            let (finished, _) =
                renderer.explore(&path, &tree, &Asked { want, ..Asked::default() }, |_| {}).unwrap();
            for (order, finished) in orders.iter().zip(finished) {
                let alone = renderer.picture(&path, order).unwrap();
                let said = format!("{order:?} in {}", pixels.name());
                assert_same(&alone, finished.picture.as_ref().unwrap(), &said);
            }
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

/// Effects that remember beside such as do not, some of them not the same at every frame.
fn several() -> Vec<EffectUse> {
    vec![
        used("trails", &[("decay", To(0.1))]),
        used("trails", &[("decay", To(0.0))]),
        used("hold", &[("every", To(0.1))]),
        used("hold", &[("every", To(0.0))]),
        used("tint", &[]),
        used("tint", &[("amount", To(0.0))]),
        used("mirror", &[("fold", Word("right-over-left"))]),
        used("channel-offset", &[("distance", To(0.2))]),
        used("flash-gate", &[("rate", To(7.0)), ("strength", To(0.4))]),
        used("flash-gate", &[("rate", To(0.1))]),
        used("edge-find", &[]),
    ]
}

#[test]
fn whatever_is_claimed_to_commute_over_time_gives_the_same_bytes_in_both_orders() {
    let uses = several();
    let mut claimed = 0;
    for alpha in Alpha::ALL {
        let many = pictures(24, (9, 6), alpha);
        for pixels in PixelMode::ALL {
            for a in 0..uses.len() {
                for b in a + 1..uses.len() {
                    if !uses[a].remembers() && !uses[b].remembers() {
                        continue;
                    }
                    let chain = [uses[a].clone(), uses[b].clone()];
                    let path = playing(&many, &chain, moment(many[0].frame, pixels, 6.0));
                    let frames: Vec<&Path> = path.frames().collect();
                    let proofs = with_renderer(|renderer| proved(Some(renderer), &frames)).unwrap();
                    let said = format!(
                        "{} {:?}, {} {:?}, {alpha:?} alpha in {}",
                        uses[a].effect.name,
                        uses[a].written_changes(),
                        uses[b].effect.name,
                        uses[b].written_changes(),
                        pixels.name()
                    );
                    if let Verdict::Always(because) = proofs.verdict(0, 1) {
                        let other = with_renderer(|renderer| renderer.picture(&path, &[1, 0])).unwrap();
                        assert_same(&shown(&path), &other, &format!("{said}: {because}"));
                        claimed += 1;
                    }
                    // Idle is idle at every frame, not at the last alone.
                    for at in [0, 1] {
                        if proofs.idle[at].is_some() {
                            let without =
                                with_renderer(|renderer| renderer.picture(&path, &[1 - at])).unwrap();
                            let both = path.reordered(&[0, 1]);
                            assert_same(&without, &shown(&both), &said);
                        }
                    }
                }
            }
        }
    }
    assert!(claimed > 60, "{claimed} claims");
}

#[test]
fn an_effect_that_was_idle_at_some_frames_only_is_not_idle() {
    // Shut at beat 0.9, open a quarter of a beat before.
    let chain = [used("flash-gate", &[("open", To(0.8))]), used("trails", &[("decay", To(0.3))])];
    let many = pictures(30, (4, 3), Alpha::Full);
    let path = playing(&many, &chain, moment(many[0].frame, PixelMode::Encoded8Bit, 4.9));
    assert!(chain[0].idle_because(&path.moment).is_some());
    assert_eq!(path.idle_because(0), None);
    let orders = with_renderer(|renderer| Orders::of(renderer, &path)).unwrap();
    assert_eq!(orders.classes.len(), 2);
    let [one, other] =
        [[0, 1], [1, 0]].map(|order| with_renderer(|renderer| renderer.picture(&path, &order)).unwrap());
    assert!(difference(&one, &other).is_some());
}

fn demo() -> Show {
    let (_, text) = underover::base::embedded::SHOWS.iter().find(|(name, _)| *name == "night-ferry").unwrap();
    let parsed = files::parse(text, "night-ferry", std::path::Path::new(""), &CATALOGUE).unwrap();
    let Document::Show(show) = parsed else { panic!("the demo is a show") };
    show
}

#[test]
fn a_show_scrubbed_to_a_beat_shows_what_it_shows_when_it_is_played_there() {
    let mut show = demo();
    show.bundles[0].levels[1].chain.push(used("trails", &[("decay", To(0.02))]));
    show.bundles[0].chain.push(used("hold", &[("every", To(0.5))]));
    show.global.insert(0, used("trails", &[("decay", To(0.01))]));
    let frame = Frame { width: 32, height: 18 };
    let mut shelf = Shelf::new(&CATALOGUE);
    for pixels in PixelMode::ALL {
        let at = |number| Moment::of_frame(frame, pixels, show.tempo_bpm, show.rate, number);
        for scope in [Scope::Bundle(0), Scope::Level(0, 1), Scope::Global] {
            let scrubbed = Path::of_scope(&show, scope, at(170), &mut shelf).unwrap();
            assert!(scrubbed.warm_up_frames() < 170, "{} frames", scrubbed.warm_up_frames());
            // From the very first frame on, without a break.
            let alone =
                |number| Path::of_scope_alone(&show, scope, at(number), &mut Shelf::new(&CATALOGUE)).unwrap();
            let played = Path { past: (0..170).map(alone).collect(), ..alone(170) };
            let said = format!("{scope:?} in {}", pixels.name());
            assert_same(&shown(&played), &shown(&scrubbed), &said);
            // Cut short, it is another picture.
            let cut = scrubbed.clone().looking_back(0.1);
            assert!(difference(&shown(&scrubbed), &shown(&cut)).is_some(), "{said}");
            // Another order of the scope's chain, explored.
            let want = Want::Tiles { size: frame, most: 1000 };
            let order: Vec<usize> = (0..scrubbed.chain.len()).rev().collect();
            let tree = Tree::of(&[Class { order: order.clone() }], |_| false);
            with_renderer(|renderer| {
                let (finished, _) =
                    renderer.explore(&scrubbed, &tree, &Asked { want, ..Asked::default() }, |_| {}).unwrap();
                let alone = renderer.picture(&played, &order).unwrap();
                assert_same(&alone, finished[0].picture.as_ref().unwrap(), &format!("{said}, reversed"));
            });
        }
    }
}

#[test]
fn an_effect_of_ones_own_that_remembers_is_one_file_too() {
    let mut catalogue = Catalogue::built_in().unwrap();
    catalogue
        .add_folder(&std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/own_effects"))
        .unwrap();
    let paint = EffectUse::new(Arc::clone(catalogue.effect("light-paint").unwrap()));
    let many = pictures(20, (5, 4), Alpha::Mixed);
    for pixels in PixelMode::ALL {
        // 0.2 beats are 6 frames; beat 3.5 is the third frame after a bar line, frame 102.
        let last = moment(many[0].frame, pixels, 3.5);
        check(
            &paint,
            last,
            &many,
            |moment, now, before| {
                if moment.number % 6 == 0 { now } else { now.max(before.unwrap_or(now)) }
            },
        );
        assert_eq!(paint.frames_remembered(&last), 3);
        let whole = shown(&playing(&many, std::slice::from_ref(&paint), last));
        let short = shown(&playing(&many[16..], std::slice::from_ref(&paint), last));
        assert_same(&whole, &short, "light-paint");
    }
}

#[test]
fn a_fade_that_moves_with_the_beat_is_looked_back_at_as_far_as_it_matters() {
    let mut trails = used("trails", &[]);
    let pace = Pace { period_beats: 1.0, phase: 0.0 };
    // For half a beat long trails, for half a beat none.
    let values = vec![Value::Number(0.5), Value::Number(0.0)];
    trails.automate(0, Automation::Steps { pace, values }).unwrap();
    let footage = FootageName::Generated("harbour".to_owned());
    let frame = Frame { width: 16, height: 9 };
    for pixels in PixelMode::ALL {
        for (chain, number) in [
            (vec![trails.clone()], 310),
            (vec![trails.clone()], 325),
            (vec![trails.clone(), used("posterise", &[]), used("trails", &[("decay", To(0.01))])], 308),
        ] {
            let at = |number| Moment::of_frame(frame, pixels, 120.0, FrameRate::default(), number);
            let shelf = &mut Shelf::new(&CATALOGUE);
            let scrubbed = Path::of_chain(&chain, &footage, Fit::Whole, at(number), shelf).unwrap();
            let played = Path {
                past: (0..number)
                    .map(|number| {
                        Path::of_chain_alone(&chain, &footage, Fit::Whole, at(number), shelf).unwrap()
                    })
                    .collect(),
                ..scrubbed.clone()
            };
            let said = format!("frame {number} in {}, {} effects", pixels.name(), chain.len());
            assert!(chain.len() > 1 || scrubbed.warm_up_frames() < 300, "{said}");
            assert_same(&shown(&played), &shown(&scrubbed), &said);
            // Where no trail is left, as in the second half of a beat, there is nothing to look back at.
            assert_eq!(scrubbed.warm_up_frames() == 0, number == 325, "{said}");
            assert_eq!(scrubbed.idle_because(0).is_some(), number == 325, "{said}");
        }
    }
}

#[test]
fn a_small_budget_plays_the_orders_in_parts_and_changes_no_picture() {
    let chain = [
        used("trails", &[("decay", To(0.02))]),
        used("flash-gate", &[("rate", To(5.0)), ("strength", To(0.3)), ("colour", Word("#d55e00"))]),
        used("flash-gate", &[("rate", To(8.0)), ("strength", To(0.6))]),
        used("hold", &[("every", To(0.1))]),
    ];
    // A picture takes 128 KiB: 8 to a MiB.
    let many = pictures(12, (256, 128), Alpha::Full);
    let path = playing(&many, &chain, moment(many[0].frame, PixelMode::Encoded8Bit, 2.0));
    with_renderer(|renderer| {
        let orders = Orders::of(renderer, &path).unwrap();
        assert_eq!(orders.classes.len(), 24);
        let mut explored = |mib: u64| {
            let own = [0, 1, 2, 3];
            let asked = Asked {
                against: Some(Against::Order(&own)),
                gallery: Some(many[0].frame),
                budget: Budget { mib },
                ..Asked::default()
            };
            let found = renderer.explore(&path, &orders.tree(), &asked, |_| {});
            found.map(|(finished, gallery)| {
                let pictures = renderer.hung(&gallery.unwrap(), 0..24).unwrap();
                let figures =
                    finished.iter().map(|f| (f.fingerprint, f.difference.unwrap())).collect::<Vec<_>>();
                (figures, pictures)
            })
        };
        let whole = explored(1024).unwrap();
        assert_eq!(whole.1.len(), 24);
        for mib in [8, 4, 3] {
            assert!(explored(mib).unwrap() == whole, "{mib} MiB");
        }
        let error = explored(1).unwrap_err().to_string();
        assert!(error.contains("the budget is 1 MiB"), "{error}");
    });
}

/// What stands still from frame to frame is rendered once and taken again: the frames stay those that are
/// rendered alone, for still and moving footage, with and without effects that remember.
#[test]
fn frames_rendered_one_by_one_are_those_rendered_alone() {
    let frame = Frame { width: 48, height: 27 };
    for pixels in [PixelMode::Encoded8Bit, PixelMode::LinearFloat] {
        let mut show = demo();
        show.pixels = pixels;
        for remembers in [false, true] {
            if remembers {
                show.bundles[0].chain.insert(1, used("trails", &[]));
            }
            let order: Vec<usize> = (0..show.global.len()).collect();
            let mut shelf = Shelf::new(&CATALOGUE);
            let mut player = Player::default();
            for number in 90..104 {
                let moment = Moment::of_frame(frame, pixels, show.tempo_bpm, show.rate, number);
                let path = Path::of_scope(&show, Scope::Global, moment, &mut shelf).unwrap();
                let alone = with_renderer(|renderer| renderer.picture(&path, &order)).unwrap();
                let next = match player.has_begun() {
                    true => Path::of_scope_alone(&show, Scope::Global, moment, &mut shelf).unwrap(),
                    false => path,
                };
                let played = with_renderer(|renderer| renderer.play_on(&mut player, &next, &order)).unwrap();
                assert!(played.rgba == alone.rgba, "frame {number}, {}, {remembers}", pixels.name());
            }
        }
    }
}
