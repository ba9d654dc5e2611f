//! What is claimed of order for every picture: both orders are rendered and every byte compared.

#[allow(dead_code, reason = "each test file uses its own part of it")]
use std::collections::HashSet;
use std::sync::Arc;

use crate::common::Set::{To, Word};
use crate::common::{Alpha, CATALOGUE, SIZES, difference, moment, rendered, scattered, used, with_renderer};
use proptest::prelude::*;
use underover::base::frame::PixelMode;
use underover::beat::{FrameRate, Moment};
use underover::catalogue::{Effect, Kind, Standing, Value};
use underover::explore::proved;
use underover::order::{Premises, Proofs, Verdict};
use underover::plan::Path;
use underover::show::automation::{Automation, Pace};
use underover::show::chain::EffectUse;

/// Open at beat 0.1, so is the flash gate; at 0.6 it is shut.
const OPEN: f64 = 0.1;

/// Every effect at several settings, idle ones and ends of ranges among them.
fn several_of_each() -> Vec<EffectUse> {
    let uses = vec![
        used("tint", &[]),
        used("tint", &[("colour", Word("#0b0a40")), ("amount", To(1.0))]),
        used("tint", &[("amount", To(0.0))]),
        used("flash-gate", &[("strength", To(0.35))]),
        used("flash-gate", &[("colour", Word("#d55e00"))]),
        used("flash-gate", &[("open", To(0.0))]),
        used("edge-find", &[]),
        used("edge-find", &[("gain", To(8.0)), ("amount", To(0.4))]),
        used("channel-offset", &[("distance", To(0.1))]),
        used("channel-offset", &[("distance", To(-0.25)), ("angle", To(45.0))]),
        used("channel-offset", &[("distance", To(0.2)), ("angle", To(90.0))]),
        used("channel-offset", &[("distance", To(0.0))]),
        used("mirror", &[]),
        used("mirror", &[("fold", Word("right-over-left"))]),
        used("mirror", &[("fold", Word("top-over-bottom"))]),
        used("mirror", &[("fold", Word("bottom-over-top"))]),
        used("invert", &[]),
        used("invert", &[("amount", To(0.3))]),
        used("posterise", &[]),
        used("posterise", &[("steps", To(17.0)), ("amount", To(0.6))]),
        used("hue-turn", &[]),
        used("hue-turn", &[("angle", To(45.0))]),
        used("hue-turn", &[("angle", To(-360.0))]),
        used("gain-and-lift", &[]),
        used("gain-and-lift", &[("gain", To(4.0)), ("lift", To(-1.0))]),
        used("blur", &[("radius", To(2.0))]),
        used("blur", &[("radius", To(0.0))]),
        used("mosaic", &[("across", To(3.0))]),
        used("mosaic", &[("across", To(1.0))]),
        used("mosaic", &[]),
        used("wedge-repeat", &[]),
        used("wedge-repeat", &[("wedges", To(2.0))]),
        used("wedge-repeat", &[("wedges", To(5.0)), ("turn", To(-33.3))]),
        used("trails", &[]),
        used("trails", &[("decay", To(0.0))]),
        used("hold", &[]),
        used("hold", &[("every", To(0.0))]),
    ];
    let named: HashSet<&str> = uses.iter().map(|used| used.effect.name.as_str()).collect();
    assert_eq!(named.len(), CATALOGUE.effects().len(), "every effect has its part in the claims");
    uses
}

fn proofs(chain: &[EffectUse], moment: &Moment, opaque: bool) -> Proofs {
    let maps = with_renderer(|renderer| renderer.index_maps(chain, moment)).unwrap_or_else(|e| panic!("{e}"));
    Proofs::of(&Premises { chain, moment, opaque, maps: &maps })
}

fn said(used: &EffectUse) -> String {
    format!("{} {:?}", used.effect.name, used.written_changes())
}

#[test]
fn whatever_is_claimed_to_commute_gives_the_same_bytes_in_both_orders() {
    let uses = several_of_each();
    let mut claimed = HashSet::new();
    for (width, height) in SIZES {
        for alpha in Alpha::ALL {
            let picture = scattered(width, height, alpha, 10);
            for pixels in PixelMode::ALL {
                let moment = moment(picture.frame, pixels, OPEN);
                let proofs = proofs(&uses, &moment, picture.opaque);
                for a in 0..uses.len() {
                    for b in a + 1..uses.len() {
                        let Verdict::Always(because) = proofs.verdict(a, b) else { continue };
                        // Idle effects have a test of their own.
                        if proofs.idle[a].is_some() || proofs.idle[b].is_some() {
                            continue;
                        }
                        claimed.insert((a, b));
                        let [one, other] = [[a, b], [b, a]]
                            .map(|order| rendered(&picture, &order.map(|at| uses[at].clone()), moment));
                        assert_eq!(
                            difference(&one, &other),
                            None,
                            "{} and {} in {}, {alpha:?} alpha: claimed because {because}",
                            said(&uses[a]),
                            said(&uses[b]),
                            pixels.name(),
                        );
                    }
                }
            }
        }
    }
    // Every texel effect with every move that takes all channels alike, at the
    // least; 64 tiles across move nothing on frames this small.
    let claims = |a: &str, b: &str| {
        claimed.iter().filter(|&&(x, y)| uses[x].effect.name == a && uses[y].effect.name == b).count()
    };
    for texel in ["invert", "posterise", "hue-turn", "gain-and-lift"] {
        for (moving, settings) in [("mosaic", 2), ("wedge-repeat", 3)] {
            assert_eq!(claims(texel, moving), 2 * settings, "{texel} and {moving}");
        }
        assert_eq!(claims("mirror", texel), 4 * 2, "{texel} and mirror");
    }
    assert_eq!(claims("tint", "mirror"), 2 * 4);
    assert_eq!(claims("flash-gate", "channel-offset"), 2 * 3);
    assert_eq!(claims("tint", "channel-offset"), 0);
}

#[test]
fn most_of_what_is_not_claimed_does_differ() {
    // Were both orders always the same, the other tests here would say nothing.
    let uses = several_of_each();
    let picture = scattered(33, 17, Alpha::Full, 11);
    let moment = moment(picture.frame, PixelMode::Encoded8Bit, OPEN);
    let proofs = proofs(&uses, &moment, true);
    let (mut open, mut differ) = (0, 0);
    for a in 0..uses.len() {
        for b in a + 1..uses.len() {
            // Alone, a frame has nothing to remember.
            let remembers = |at: usize| uses[at].remembers();
            if matches!(proofs.verdict(a, b), Verdict::Open(_)) && !remembers(a) && !remembers(b) {
                let [one, other] = [[a, b], [b, a]]
                    .map(|order| rendered(&picture, &order.map(|at| uses[at].clone()), moment));
                open += 1;
                differ += u32::from(one != other);
            }
        }
    }
    assert!(open > 150 && differ * 10 > open * 9, "{differ} of {open} pairs differ");
}

#[test]
fn an_effect_that_is_claimed_to_change_nothing_changes_no_byte() {
    let uses = several_of_each();
    let mut idle = HashSet::new();
    for beats in [OPEN, 0.6] {
        for (width, height) in SIZES {
            for alpha in Alpha::ALL {
                let picture = scattered(width, height, alpha, 12);
                for pixels in PixelMode::ALL {
                    let moment = moment(picture.frame, pixels, beats);
                    let plain = rendered(&picture, &[], moment);
                    let proofs = proofs(&uses, &moment, picture.opaque);
                    for (used, because) in uses.iter().zip(&proofs.idle) {
                        let Some(because) = because else { continue };
                        let got = rendered(&picture, std::slice::from_ref(used), moment);
                        let place = format!("{} in {}: {because}", said(used), pixels.name());
                        assert_eq!(difference(&plain, &got), None, "{place}");
                        idle.insert(used.effect.name.clone());
                    }
                }
            }
        }
    }
    for name in ["tint", "flash-gate", "channel-offset", "mirror", "hue-turn", "blur", "mosaic"] {
        assert!(idle.contains(name), "{name} is never idle here");
    }
}

#[test]
fn every_effect_keeps_full_alpha_full() {
    let picture = scattered(33, 17, Alpha::Full, 13);
    for used in several_of_each() {
        for pixels in PixelMode::ALL {
            let got = rendered(&picture, std::slice::from_ref(&used), moment(picture.frame, pixels, OPEN));
            assert!(got.opaque, "{} in {}", said(&used), pixels.name());
        }
    }
}

/// One effect with settings anywhere in their ranges, the ends as likely as the rest.
fn any_use() -> impl Strategy<Value = EffectUse> {
    (0..CATALOGUE.effects().len(), prop::collection::vec(-0.2..1.2_f64, 8)).prop_map(|(effect, shares)| {
        let mut used = EffectUse::new(Arc::clone(&CATALOGUE.effects()[effect]));
        for (place, share) in (0..used.effect.settings.len()).zip(shares) {
            let share = share.clamp(0.0, 1.0);
            let set = match used.effect.settings[place].kind.clone() {
                Kind::Number { range: [low, high], .. } => used.set_number(place, low + (high - low) * share),
                Kind::Whole { range: [low, high], .. } => {
                    used.set_number(place, (low as f64 + (high - low) as f64 * share).round())
                }
                Kind::Colour => {
                    used.set_word(place, &format!("#{:06x}", (share * f64::from(0xff_ffff)) as u32))
                }
                Kind::Choice(words) => {
                    used.set_word(place, &words[((words.len() as f64 * share) as usize).min(words.len() - 1)])
                }
            };
            set.unwrap();
        }
        used
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_pair_at_any_settings_breaks_its_claim(
        uses in [any_use(), any_use()],
        (width, height) in (1..40_u32, 1..24_u32),
        alpha in prop::sample::select(&Alpha::ALL[..]),
        pixels in prop::sample::select(&PixelMode::ALL[..]),
        (beats, nth) in (0.0..1e6_f64, 0..1000_u32),
    ) {
        let picture = scattered(width, height, alpha, nth);
        let moment = moment(picture.frame, pixels, beats);
        let proofs = proofs(&uses, &moment, picture.opaque);
        if let Verdict::Always(because) = proofs.verdict(0, 1) {
            let [a, b] = uses;
            let one = rendered(&picture, &[a.clone(), b.clone()], moment);
            let other = rendered(&picture, &[b.clone(), a.clone()], moment);
            prop_assert_eq!(difference(&one, &other), None, "{} and {}: {}", said(&a), said(&b), because);
        }
    }

    #[test]
    fn what_does_the_same_at_every_frame_changes_places_with_what_holds_its_pictures(
        used_beside in any_use(),
        every in prop::sample::select(&[0.0, 0.05, 0.1, 0.17, 0.5][..]),
        moves in prop::sample::select(&[None, Some(0.25), Some(0.1)][..]),
        (width, height) in (1..12_u32, 1..9_u32),
        alpha in prop::sample::select(&Alpha::ALL[..]),
        pixels in prop::sample::select(&PixelMode::ALL[..]),
        start in 0..200_u64,
    ) {
        let mut hold = used("hold", &[("every", To(every))]);
        if let Some(other) = moves {
            // When a picture is due may itself move with the beat.
            let pace = Pace { period_beats: 0.3, phase: 0.0 };
            let values = vec![Value::Number(every), Value::Number(other)];
            hold.automate(0, Automation::Steps { pace, values }).unwrap();
        }
        let chain = [hold, used_beside];
        let frames: Vec<Path> = (0..16)
            .map(|nth| {
                let picture = scattered(width, height, alpha, nth);
                let at = Moment::of_frame(picture.frame, pixels, 120.0, FrameRate::default(), start + u64::from(nth));
                crate::common::path(&picture, &chain, at)
            })
            .collect();
        let all: Vec<&Path> = frames.iter().collect();
        let proofs = with_renderer(|renderer| proved(Some(renderer), &all)).unwrap();
        let call = |path: &Path| chain[1].call(&path.moment);
        let is_still = !chain[1].remembers() && frames.iter().all(|path| call(path) == call(&frames[0]));
        let verdict = proofs.verdict(0, 1);
        prop_assert!(!is_still || matches!(verdict, Verdict::Always(_)), "{}: {verdict:?}", said(&chain[1]));
        if let Verdict::Always(because) = verdict {
            for last in [4, 9, 15] {
                let path = Path { past: frames[..last].into(), ..frames[last].clone() };
                let [one, other] = [[0, 1], [1, 0]]
                    .map(|order| with_renderer(|renderer| renderer.picture(&path, &order)).unwrap());
                prop_assert_eq!(difference(&one, &other), None, "frame {}, {}: {}", last, said(&chain[1]), because);
            }
        }
    }
}

/// Inverts what it holds: it does more than hold.
const HELD_AND_TURNED: &str = "\
//! summary = \"Holds the picture, turned over.\"
//! does = \"shows the picture of a moment ago, turned over\"
//! reach = \"past frames\"
//! channels = \"apart\"
//! position = \"ignored\"
//!
//! [[setting]]
//! name = \"every\"
//! label = \"Every\"
//! help = \"Beats from one new picture to the next.\"
//! kind = \"number\"
//! unit = \"beats\"
//! range = [0.0, 16.0]
//! default = 0.1
//!
//! [[derived]]
//! name = \"is_due\"
//! kind = \"due\"
//! from = { every = \"every\" }
//!
//! [memory]
//! held = \"is_due\"

struct Settings {
    is_due: u32,
}

fn channel_over_past(now: f32, past: f32, index: u32) -> f32 {
    return 1.0 - now;
}
";

#[test]
fn what_holds_pictures_but_not_as_they_were_is_not_taken_for_a_hold() {
    let read = Effect::read("held-and-turned", "held-and-turned.wgsl", HELD_AND_TURNED).unwrap();
    let turned = EffectUse::new(Arc::new(Effect { standing: Standing::Confirmed, ..read }));
    let chain = [turned, used("gain-and-lift", &[("gain", To(0.5))])];
    let frames: Vec<Path> = (0..8)
        .map(|nth| {
            let picture = scattered(7, 5, Alpha::Full, nth);
            let number = 30 + u64::from(nth);
            let rate = FrameRate::default();
            crate::common::path(
                &picture,
                &chain,
                Moment::of_frame(picture.frame, PixelMode::Encoded8Bit, 120.0, rate, number),
            )
        })
        .collect();
    let all: Vec<&Path> = frames.iter().collect();
    let proofs = with_renderer(|renderer| proved(Some(renderer), &all)).unwrap();
    assert!(matches!(proofs.verdict(0, 1), Verdict::Open(_)));
    let path = Path { past: frames[..7].into(), ..frames[7].clone() };
    let [one, other] =
        [[0, 1], [1, 0]].map(|order| with_renderer(|renderer| renderer.picture(&path, &order)).unwrap());
    assert!(difference(&one, &other).is_some());
}
