//! What `underover orders --json` gives.

use serde::Serialize;

use super::families::FamiliesFigures;
use super::figures::{DifferenceFigures, SubjectFigures, rounded};
use super::found::{Found, in_turn};
use super::keep_one::KeepOne;
use super::order_flashes::FlashFigures;
use super::pieces::{OrderOnPiece, PiecesFigures, order_on_pieces};
use super::subject::Subject;
use crate::explore::Part;
use crate::order::Rule;

/// What `--json` gives.
#[derive(Serialize)]
pub(super) struct Figures<'a> {
    #[serde(flatten)]
    of: SubjectFigures<'a>,
    /// `in full`, or `sampled` where orders were drawn at random.
    explored: &'static str,
    /// How many orders were drawn, each as likely as any other, and the seed: the same draws the same orders.
    #[serde(skip_serializing_if = "Option::is_none")]
    orders_drawn: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    seed: Option<u64>,
    /// Marks of the effects that stay in their places in every order.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pinned: Vec<u32>,
    #[serde(flatten)]
    over: Option<OverFigures>,
    orders_total: serde_json::Value,
    /// The code of the file's own order, against which the others are measured.
    own_order: String,
    classes: usize,
    distinct: usize,
    looks: usize,
    /// Whether every order is within the limits of its look.
    looks_complete: bool,
    #[serde(flatten)]
    families: Option<FamiliesFigures>,
    /// The size at which looks are told apart.
    looked_at: String,
    look: Vec<LookFigures>,
    rules: Vec<RuleFigures>,
    /// Orders to which the rules give another look than their own.
    rule_misses: usize,
    #[serde(skip_serializing_if = "Option::is_none")]
    want: Option<&'a str>,
    /// What `rank` goes by: the mean of several pieces or moments, or the worst of them.
    #[serde(skip_serializing_if = "Option::is_none")]
    by: Option<&'a str>,
    #[serde(flatten)]
    pieces: Option<PiecesFigures>,
    /// Which one chain serves all sections.
    #[serde(skip_serializing_if = "Option::is_none")]
    keep_one: Option<&'a KeepOne>,
    effects: Vec<EffectFigures>,
    order: Vec<OrderFigures>,
}

/// What was compared where it is not one moment.
#[derive(Serialize)]
struct OverFigures {
    over_beats: f64,
    /// Frames whose pictures were compared.
    frames: usize,
    /// Frames of the stretch: the settings of every one bear out `classes` and `idle_because`.
    frames_total: u64,
    /// Whether pictures, and with them all else, are of some frames only.
    pictures_sampled: bool,
    /// The moments that the wall shows side by side.
    strip_beats: Vec<f64>,
}

/// Where an order is furthest from the file's own.
#[derive(Serialize)]
struct WorstFigures {
    worst_beat: f64,
    worst_mean_de2000: f64,
    worst_p95_de2000: f64,
    worst_changed_share: f64,
}

#[derive(Serialize)]
struct LookFigures {
    look: usize,
    name: String,
    /// The order that stands for it.
    code: String,
    orders: usize,
}

#[derive(Serialize)]
struct RuleFigures {
    /// All of these hold; the first rule that holds counts.
    when: Vec<String>,
    look: usize,
    /// The order that stands for the look.
    code: String,
    orders: usize,
}

#[derive(Serialize)]
struct EffectFigures {
    place: usize,
    /// What stands for it in order codes.
    mark: u32,
    effect: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    idle_because: Option<String>,
    /// Why nothing of it is seen where it stands in the file's own order.
    #[serde(skip_serializing_if = "Option::is_none")]
    unseen_because: Option<String>,
    /// Against the file's own order without it.
    #[serde(flatten)]
    difference: DifferenceFigures,
}

#[derive(Serialize)]
struct OrderFigures {
    code: String,
    order: Vec<String>,
    places: Vec<usize>,
    /// Orders proved to give this picture; absent where orders were drawn:
    #[serde(skip_serializing_if = "Option::is_none")]
    orders: Option<u64>,
    /// how many of those drawn are proved to give it.
    #[serde(skip_serializing_if = "Option::is_none")]
    drawn: Option<u64>,
    picture: String,
    /// The code of the first order with the same picture here; its own, where it is the first.
    same_as: String,
    look: usize,
    /// Against the file's own order.
    #[serde(flatten)]
    difference: Option<DifferenceFigures>,
    #[serde(flatten)]
    worst: Option<WorstFigures>,
    /// How near it comes to the goal: 1 is nearest.
    #[serde(skip_serializing_if = "Option::is_none")]
    rank: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    wanted: Option<f64>,
    /// Of several pieces or moments, the figure furthest from the goal, and where.
    #[serde(skip_serializing_if = "Option::is_none")]
    wanted_at_worst: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    worst_on: Option<String>,
    #[serde(flatten)]
    flashes: Option<FlashFigures>,
    /// The piece on which it flashes most, where there are several.
    #[serde(skip_serializing_if = "Option::is_none")]
    flashes_worst_on: Option<String>,
    /// The same on each piece of footage, where there are several.
    #[serde(skip_serializing_if = "Option::is_none")]
    on_pieces: Option<Vec<OrderOnPiece>>,
}

pub(super) fn figures<'a>(subject: &'a Subject, found: &'a Found) -> Figures<'a> {
    let explored = &found.explored;
    let orders = &explored.orders;
    let sample = orders.tally.sample();
    let total = orders.tally.orders_total();
    let look = |(look, &representative): (usize, &usize)| LookFigures {
        look: look + 1,
        name: explored.look_name(look),
        code: orders.code(representative),
        orders: explored.looks.orders_of(look),
    };
    let rule = |rule: &Rule| RuleFigures {
        when: rule.when.iter().map(|&fact| orders.fact_said(fact)).collect(),
        look: rule.look + 1,
        code: orders.code(explored.looks.representatives[rule.look]),
        orders: rule.classes,
    };
    let effect = |(at, part): (usize, &Part)| EffectFigures {
        place: at + 1,
        mark: orders.marks.of(at),
        effect: orders.labels[at].clone(),
        idle_because: orders.proofs.idle[at].clone(),
        unseen_because: part.unseen.clone(),
        difference: (&part.difference).into(),
    };
    let several = || found.wish.as_ref().filter(|wish| wish.is_of_several());
    let order = |at: usize| OrderFigures {
        code: orders.code(at),
        order: orders.classes[at].order.iter().map(|&place| orders.labels[place].clone()).collect(),
        places: orders.classes[at].order.iter().map(|place| place + 1).collect(),
        orders: sample.is_none().then(|| orders.orders_in(at)),
        drawn: sample.map(|_| orders.orders_in(at)),
        picture: explored.finished[at].fingerprint.to_string(),
        same_as: orders.code(explored.first_alike[at]),
        look: explored.looks.of[at] + 1,
        difference: explored.finished[at].difference.as_ref().map(Into::into),
        worst: explored.over.as_ref().map(|over| {
            let (moment, worst) = over.worst(at);
            WorstFigures {
                worst_beat: rounded(moment.beats),
                worst_mean_de2000: rounded(worst.mean),
                worst_p95_de2000: rounded(worst.p95),
                worst_changed_share: rounded(worst.changed_share),
            }
        }),
        rank: found.wish.as_ref().map(|wish| wish.rank(at)),
        wanted: found.wish.as_ref().map(|wish| wish.values[at]),
        wanted_at_worst: several().map(|wish| wish.worst[at].0),
        worst_on: several().map(|wish| wish.worst_ground(at).to_owned()),
        on_pieces: order_on_pieces(explored, found.wish.as_ref(), &found.flashes, at),
        flashes: FlashFigures::of(found.flashes.of(at)),
        flashes_worst_on: found.flashes.worst_on(at).map(str::to_owned),
    };
    Figures {
        of: subject.into(),
        explored: if sample.is_some() { "sampled" } else { "in full" },
        orders_drawn: sample.map(|sample| sample.orders),
        seed: sample.map(|sample| sample.seed),
        pinned: orders.tally.pinned().iter().map(|&place| orders.marks.of(place)).collect(),
        over: explored.over.as_ref().map(|over| OverFigures {
            over_beats: over.beats,
            frames: over.moments.len(),
            frames_total: over.frames_total,
            pictures_sampled: over.is_sampled(),
            strip_beats: over.strip.iter().map(|&at| rounded(over.moments[at].beats)).collect(),
        }),
        orders_total: match total.map(u64::try_from) {
            Some(Ok(total)) => total.into(),
            // Past 64 bits a JSON number would lose digits.
            Some(Err(_)) => total.map_or_else(String::new, |t| t.to_string()).into(),
            None => serde_json::Value::Null,
        },
        own_order: orders.marks.own(),
        classes: orders.classes.len(),
        distinct: explored.distinct(),
        looks: explored.looks.representatives.len(),
        looks_complete: explored.looks.complete,
        families: FamiliesFigures::of(explored),
        looked_at: explored.looked_at.to_string(),
        look: explored.looks.representatives.iter().enumerate().map(look).collect(),
        rules: explored.rules.list.iter().map(rule).collect(),
        rule_misses: explored.rules.misses,
        want: found.wish.as_ref().map(|wish| wish.goal.name()),
        by: several().map(|wish| wish.by.name()),
        pieces: found
            .pieces
            .as_ref()
            .and_then(|pieces| PiecesFigures::of(explored, pieces, found.wish.as_ref(), &found.flashes)),
        keep_one: found.keep_one.as_ref(),
        effects: found.parts.iter().enumerate().map(effect).collect(),
        order: in_turn(explored, found.wish.as_ref()).into_iter().map(order).collect(),
    }
}
