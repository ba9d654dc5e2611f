//! Where what is meant to be played is more than hands can do.

use std::collections::HashMap;

use super::Show;
use super::control::{Control, ControlKind, Hand};
use super::running::OPEN_BEATS;

/// Beats over which cues that come again and again are compared, where no running order says how long the set is.
pub const HORIZON_BEATS: f64 = 256.0;
/// Beats of a bar (common practice, no source).
pub const BAR_BEATS: f64 = 4.0;
/// Fingers of a hand.
pub const FINGERS: usize = 5;
/// Ways to share out controls for either hand that are followed at a time: enough for six that overlap.
const MOST_WAYS: usize = 64;

/// One time that a control is played.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Play {
    /// The control, by its place.
    pub control: usize,
    /// The beat at which it is pressed, or begins to move.
    pub from: f64,
    /// The beat at which the hand is free again; the same where it is over at once.
    pub to: f64,
    /// The hand that plays it: of a control for either hand, one that is free.
    pub hand: Hand,
}

/// Two controls that one hand is meant to play faster than it gets from one to the other.
#[derive(Debug, Clone, PartialEq)]
pub struct Clash {
    pub hand: Hand,
    /// The control played first, by its place.
    pub first: usize,
    /// The control played after it, by its place.
    pub then: usize,
    /// The beat at which the second is meant to be played, the first time that it happens.
    pub beat: f64,
    /// Beats that the hand has to get there; below 0 it still plays the first.
    pub apart_beats: f64,
    /// Where the first began.
    pub from: f64,
    /// How often it happens.
    pub times: usize,
}

/// Controls of two hands that lie next to each other, or crossed, and are played at once.
#[derive(Debug, Clone, PartialEq)]
pub struct Meeting {
    /// What the left hand plays, by its place.
    pub left: usize,
    /// What the right hand plays, by its place.
    pub right: usize,
    /// The beat at which it first happens.
    pub beat: f64,
    /// Whether the left hand reaches over the right one.
    pub is_crossed: bool,
    pub times: usize,
}

/// More controls for a hand within one bar than it has fingers.
#[derive(Debug, Clone, PartialEq)]
pub struct Crowd {
    pub hand: Hand,
    /// The beat of the first of them.
    pub beat: f64,
    /// The controls, by their places.
    pub controls: Vec<usize>,
}

/// All that is meant to be played, by which hand, and where that is too much.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Playing {
    /// In the order in which it is played.
    pub plays: Vec<Play>,
    /// The beat up to which cues were looked at.
    pub end: f64,
    pub clashes: Vec<Clash>,
    pub meetings: Vec<Meeting>,
    pub crowds: Vec<Crowd>,
}

/// The hands that play.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Free {
    /// Each control is played by its own.
    Both,
    /// One of them plays everything.
    One(Hand),
}

impl Show {
    /// The beat up to which cues are looked at: the end of the running order, where there is one; otherwise
    /// [`HORIZON_BEATS`], or the last cue.
    pub fn cues_end(&self) -> f64 {
        if let Some(running) = self.running(OPEN_BEATS) {
            return running.beats();
        }
        let last = self.controls.iter().filter_map(|control| control.cue.as_ref());
        let last = last.flat_map(|cue| cue.at.iter().map(|at| at + cue.length.unwrap_or(0.0)));
        let bars = (last.fold(0.0, f64::max) / BAR_BEATS).floor() + 1.0;
        (bars * BAR_BEATS).max(HORIZON_BEATS)
    }

    /// What the cues have hands play, and where that is more than they can do.
    ///
    /// A hand plays one control at a time, and takes the show's reach to get to another; what lies next to each other on
    /// the device it plays with two fingers. Controls for either hand are shared out so that the fewest clash.
    pub fn playing(&self, free: Free) -> Playing {
        let end = self.cues_end();
        let mut plays: Vec<Play> =
            self.controls.iter().enumerate().flat_map(|(at, control)| plays_of(at, control, end)).collect();
        plays.sort_by(|a, b| {
            (a.from, a.control).partial_cmp(&(b.from, b.control)).unwrap_or(std::cmp::Ordering::Equal)
        });
        if let Free::One(hand) = free {
            plays.iter_mut().for_each(|play| play.hand = hand);
        }
        let reach = self.reach_ms * self.tempo_bpm / 60_000.0;
        self.share_out(&mut plays, reach);
        let clashes = self.clashes(&plays, reach);
        let meetings = self.meetings(&plays, reach);
        let crowds = crowds(&plays);
        Playing { plays, end, clashes, meetings, crowds }
    }

    /// Whether a hand that plays one is kept from the other for as long as it takes it to get there.
    fn is_apart(&self, a: usize, b: usize) -> bool {
        a != b && !self.controls[a].lies_next_to(&self.controls[b]).unwrap_or(false)
    }

    /// Gives what either hand may play to one of them, so that the fewest clash.
    fn share_out(&self, plays: &mut [Play], reach: f64) {
        // What each way has in either hand that may still be in the way, how many clash by now, and where it is from.
        type Way = ([Vec<usize>; 2], usize, usize);
        let mut made: Vec<(usize, Hand)> = vec![(0, Hand::Left)];
        let mut ways: Vec<Way> = vec![([Vec::new(), Vec::new()], 0, 0)];
        for at in 0..plays.len() {
            let play = plays[at];
            let mut next: HashMap<[Vec<usize>; 2], (usize, usize)> = HashMap::new();
            for (held, clashing, from) in &ways {
                let hands: &[Hand] =
                    if play.hand == Hand::Either { &[Hand::Left, Hand::Right] } else { &[play.hand] };
                for &hand in hands {
                    let mut held = held.clone();
                    for side in &mut held {
                        side.retain(|&other| plays[other].to + reach > play.from);
                    }
                    let side = &mut held[usize::from(hand == Hand::Right)];
                    let more =
                        side.iter().filter(|&&o| self.is_apart(plays[o].control, play.control)).count();
                    side.push(at);
                    let clashing = clashing + more;
                    made.push((*from, hand));
                    let way = (clashing, made.len() - 1);
                    next.entry(held).and_modify(|known| *known = (*known).min(way)).or_insert(way);
                }
            }
            ways = next.into_iter().map(|(held, (clashing, from))| (held, clashing, from)).collect();
            ways.sort_by_key(|(_, clashing, from)| (*clashing, *from));
            ways.truncate(MOST_WAYS);
        }
        let Some((.., mut from)) = ways.first().cloned() else { return };
        for play in plays.iter_mut().rev() {
            (from, play.hand) = made[from];
        }
    }

    fn clashes(&self, plays: &[Play], reach: f64) -> Vec<Clash> {
        let mut clashes: Vec<Clash> = Vec::new();
        let mut busy: Vec<Play> = Vec::new();
        for &then in plays {
            // A tie by arithmetic is room enough.
            busy.retain(|first| first.to + reach > then.from + 1e-9);
            for first in busy.iter().filter(|first| first.hand == then.hand) {
                if !self.is_apart(first.control, then.control) {
                    continue;
                }
                let pair = [first.control, then.control];
                let is_known = |clash: &&mut Clash| {
                    let known = [clash.first, clash.then];
                    clash.hand == then.hand && (known == pair || known == [pair[1], pair[0]])
                };
                match clashes.iter_mut().find(is_known) {
                    Some(clash) => clash.times += 1,
                    None => clashes.push(Clash {
                        hand: then.hand,
                        first: first.control,
                        then: then.control,
                        beat: then.from,
                        apart_beats: then.from - first.to,
                        from: first.from,
                        times: 1,
                    }),
                }
            }
            busy.push(then);
        }
        clashes
    }

    fn meetings(&self, plays: &[Play], reach: f64) -> Vec<Meeting> {
        let mut meetings: Vec<Meeting> = Vec::new();
        let mut busy: Vec<Play> = Vec::new();
        for &then in plays {
            busy.retain(|first| first.to + reach > then.from + 1e-9);
            for first in busy.iter().filter(|first| first.hand != then.hand) {
                let (left, right) = if first.hand == Hand::Left {
                    (first.control, then.control)
                } else {
                    (then.control, first.control)
                };
                let [a, b] = [left, right].map(|at| &self.controls[at]);
                let is_crossed = a.at.zip(b.at).is_some_and(|(a, b)| a[0] > b[0]);
                if left == right || !(is_crossed || a.lies_next_to(b) == Some(true)) {
                    continue;
                }
                match meetings.iter_mut().find(|known| (known.left, known.right) == (left, right)) {
                    Some(known) => known.times += 1,
                    None => meetings.push(Meeting { left, right, beat: then.from, is_crossed, times: 1 }),
                }
            }
            busy.push(then);
        }
        meetings
    }
}

/// Each time that a control is meant to be played, before a beat.
fn plays_of(at: usize, control: &Control, end: f64) -> Vec<Play> {
    let Some(cue) = &control.cue else { return Vec::new() };
    let play = |from: f64, to: f64| Play { control: at, from, to, hand: control.hand };
    let beats = cue.beats(end);
    let length = cue.length.unwrap_or(0.0);
    let each = beats.iter().enumerate().flat_map(|(nth, &from)| {
        // It is let go at the latest where it is played again.
        let next = beats.get(nth + 1).copied().unwrap_or(f64::INFINITY);
        let to = (from + length).min(next);
        match control.kind {
            // It stays on by itself, and is pressed again to end.
            ControlKind::Latching if length > 0.0 => vec![play(from, from), play(to, to)],
            _ => vec![play(from, to)],
        }
    });
    each.collect()
}

/// Where a hand has more controls to play in a bar than fingers: once for each hand, at the fullest.
fn crowds(plays: &[Play]) -> Vec<Crowd> {
    let of = |hand: Hand| {
        let own: Vec<&Play> = plays.iter().filter(|play| play.hand == hand).collect();
        let mut most: Option<Crowd> = None;
        for (nth, first) in own.iter().enumerate() {
            let bar = own[nth..].iter().take_while(|play| play.from < first.from + BAR_BEATS);
            let mut controls: Vec<usize> = bar.map(|play| play.control).collect();
            controls.sort_unstable();
            controls.dedup();
            if controls.len() > most.as_ref().map_or(FINGERS, |most| most.controls.len()) {
                most = Some(Crowd { hand, beat: first.from, controls });
            }
        }
        most
    };
    [Hand::Left, Hand::Right].into_iter().filter_map(of).collect()
}
