//! Finding: planted pictures come out again, and shares of a stream are the whole.

use crate::common::Set::{To, Word};
use crate::common::{CATALOGUE, moment, used, with_renderer};
use underover::base::frame::{Frame, PixelMode};
use underover::base::picture::Picture;
use underover::explore::Goal;
use underover::explore::find::{Found, Kept, Quest, Range, Space, Varied};
use underover::explore::proved;
use underover::footage::Shelf;
use underover::gpu::{Budget, RenderError};
use underover::order::LookLimits;
use underover::plan::Path;
use underover::show::chain::{Chain, EffectUse};
use underover::show::clip::{Fit, FootageName};

const FRAME: Frame = Frame { width: 96, height: 54 };

fn at_harbour(chain: &[EffectUse], frame: Frame) -> Path {
    let footage = FootageName::Generated("harbour".to_owned());
    let moment = moment(frame, PixelMode::Encoded8Bit, 0.1);
    Path::of_chain(chain, &footage, Fit::Whole, moment, &mut Shelf::new(&CATALOGUE)).unwrap()
}

/// The chain that is searched: its settings are far from those that are hidden.
fn searched() -> Chain {
    vec![
        used("tint", &[("amount", To(0.6))]),
        used("flash-gate", &[("strength", To(0.35))]),
        used("edge-find", &[]),
        used("channel-offset", &[]),
        used("mirror", &[]),
    ]
}

/// Its order, an amount, a strength, a gain, another amount, a distance, and which way is folded.
fn space() -> Space {
    let mut space = Space::of(&searched());
    space.order = true;
    for (place, name) in
        [(0, "amount"), (1, "strength"), (2, "gain"), (2, "amount"), (3, "distance"), (4, "fold")]
    {
        let settings = &space.chain()[place].effect.settings;
        let setting = settings.iter().position(|setting| setting.name == name).unwrap();
        let range = Range::whole(&settings[setting].kind);
        space.settings.push(Varied { place, setting, range });
    }
    space
}

/// What is hidden: an order, as places in the searched chain, and its settings.
type Hidden = ([usize; 5], Chain);

fn hidden() -> Hidden {
    let chain = vec![
        used("tint", &[("amount", To(0.83))]),
        used("flash-gate", &[("strength", To(0.23))]),
        used("edge-find", &[("gain", To(2.1)), ("amount", To(0.7))]),
        used("channel-offset", &[("distance", To(0.042))]),
        used("mirror", &[("fold", Word("left-over-right"))]),
    ];
    ([2, 0, 3, 1, 4], chain)
}

/// Outlines of what a strong gate has left: its strength, their gain and their amount make good what each other spoil, and
/// rounding under such a gain hides which way to go.
fn hidden_in_a_valley() -> Hidden {
    let chain = vec![
        used("tint", &[("amount", To(0.448))]),
        used("flash-gate", &[("strength", To(0.704))]),
        used("edge-find", &[("gain", To(7.36)), ("amount", To(0.843))]),
        used("channel-offset", &[("distance", To(0.118))]),
        used("mirror", &[("fold", Word("right-over-left"))]),
    ];
    ([1, 4, 3, 0, 2], chain)
}

fn quest(goal: Goal, seed: u64, like: Option<&Picture>, frames: &[Frame]) -> Quest {
    with_renderer(|renderer| {
        let plan = |_: usize, frame: Frame| -> Result<Path, RenderError> {
            Ok(at_harbour(&searched(), frame).reordered(&[]))
        };
        Quest::planned(renderer, (space(), goal, seed), like, frames, plan).unwrap()
    })
}

fn streamed(quest: &Quest, numbers: impl Iterator<Item = u64>) -> Kept {
    with_renderer(|renderer| {
        let mut kept = Kept::default();
        let numbers: Vec<u64> = numbers.collect();
        let mut judge = quest.judge(renderer, Budget::default()).unwrap();
        numbers
            .chunks(judge.at_once())
            .for_each(|some| judge.try_out(some.iter().copied(), &mut kept).unwrap());
        kept
    })
}

fn found(quest: &Quest, kept: &Kept) -> Vec<Found> {
    with_renderer(|renderer| {
        let budget = Budget::default();
        let candidates = quest.climbed(renderer, kept, budget, &mut |_| true).unwrap();
        quest.found(renderer, &candidates, 6, LookLimits::default(), budget).unwrap()
    })
}

#[test]
fn an_order_and_settings_that_made_a_picture_are_found_from_the_picture() {
    for (order, chain) in [hidden(), hidden_in_a_valley()] {
        let path = at_harbour(&chain, FRAME);
        let (like, classes) = with_renderer(|renderer| {
            let like = renderer.picture(&path, &order).unwrap();
            (like, proved(Some(renderer), &[&path]).unwrap().classes)
        });
        let quest = quest(Goal::Like, 1, Some(&like), &[FRAME]);
        let found = found(&quest, &streamed(&quest, 0..3000));
        let best = &found[0];
        assert_eq!(classes.normal_form(&best.order), classes.normal_form(&order), "{:?}", best.order);
        assert!(best.figure < 1.0, "{}", best.figure);
        assert_eq!(best.chain[4].value("fold"), chain[4].value("fold"));
        // The answers are of looks of their own, and come by their figures.
        assert!(found.len() > 1 && found.windows(2).all(|pair| pair[0].figure <= pair[1].figure));
        // What is told is what the chain gives.
        let again = at_harbour(&best.chain, FRAME);
        let picture = with_renderer(|renderer| renderer.picture(&again, &best.order)).unwrap();
        assert!(picture.rgba == best.picture.rgba);
    }
}

#[test]
fn shares_of_a_stream_joined_in_any_order_are_the_stream() {
    let quest = quest(Goal::MostEdges, 5, None, &[Frame { width: 48, height: 27 }, FRAME]);
    let whole = streamed(&quest, 0..400);
    let mut joined = Kept::default();
    for share in [2, 0, 1] {
        joined.join(streamed(&quest, (0..400).filter(|number| number % 3 == share)));
    }
    assert_eq!(joined.ranked(), whole.ranked());
    let told = |kept: &Kept| -> Vec<(Vec<usize>, Chain, f64)> {
        found(&quest, kept).into_iter().map(|found| (found.order, found.chain, found.figure)).collect()
    };
    let (alone, together) = (told(&whole), told(&joined));
    assert!(!alone.is_empty() && alone == together);
    // The goal is gone for: edges are steeper than in the chain as it stands, which is the first candidate.
    let own = with_renderer(|renderer| {
        renderer.picture(&at_harbour(&searched(), FRAME), &[0, 1, 2, 3, 4]).unwrap()
    });
    assert!(alone[0].2 > Goal::MostEdges.trait_of(&own));
}

#[test]
fn a_candidate_depends_on_seed_and_number_alone_and_the_first_is_the_chain_as_it_stands() {
    let (space, moment) = (space(), moment(FRAME, PixelMode::Encoded8Bit, 0.1));
    assert_eq!(space.arranged(&space.candidate(3, 0, &moment)), searched());
    for number in [1, 2, 999, 1 << 40] {
        let one = space.candidate(3, number, &moment);
        assert_eq!(one, space.candidate(3, number, &moment));
        assert_ne!(one, space.candidate(4, number, &moment));
        assert_ne!(one, space.candidate(3, number + 1, &moment));
    }
    // Orders alone are gone through, each once.
    let mut orders = Space::of(&searched());
    orders.order = true;
    assert_eq!(orders.counted(), Some(120));
    let mut all: Vec<Vec<usize>> =
        (0..120).map(|number| orders.candidate(1, number, &moment).order).collect();
    all.sort();
    all.dedup();
    assert_eq!(all.len(), 120);
}
