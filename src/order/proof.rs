//! Proofs of commutation, from what effects declare and from their settings: for every picture, to the byte.

use std::sync::Arc;

use super::Classes;
use crate::base::frame::Frame;
use crate::beat::Moment;
use crate::catalogue::{Channels, Memory, Position, Reach, Standing};
use crate::show::chain::{EffectCall, EffectUse};

/// Where a move takes each channel of each texel from, on one frame size.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct IndexMap {
    /// The frame size.
    pub frame: Frame,
    /// For red, green and blue, row by row: x in the low 16 bits, y in the high ones.
    pub channels: [Vec<u32>; 3],
}

impl IndexMap {
    fn index(&self, packed: u32) -> usize {
        (packed >> 16) as usize * self.frame.width as usize + (packed & 0xffff) as usize
    }

    /// Whether all channels are taken from the same texel everywhere.
    pub fn takes_channels_alike(&self) -> bool {
        self.channels[0] == self.channels[1] && self.channels[1] == self.channels[2]
    }

    /// Whether every texel stays where it is.
    pub fn is_identity(&self) -> bool {
        self.channels.iter().all(|map| map.iter().enumerate().all(|(at, &from)| self.index(from) == at))
    }

    /// Whether doing `self` on channel `a` and `other` on channel `b` gives the same map in both orders.
    fn agrees(&self, a: usize, other: &Self, b: usize) -> bool {
        let (first, second) = (&self.channels[a], &other.channels[b]);
        // After the move m, a texel shows what m takes it from: doing `self` and
        // then `other` looks up `other` first.
        (0..first.len()).all(|at| first[self.index(second[at])] == second[self.index(first[at])])
    }
}

/// What is known about a pair of effects.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Verdict {
    /// Changing places never changes the picture; the reason is a sentence.
    Always(String),
    /// Not proved: it may matter; the reason is a sentence.
    Open(String),
}

/// What the proofs may rely on.
#[derive(Debug)]
pub struct Premises<'a> {
    pub chain: &'a [EffectUse],
    /// When and at what size it runs.
    pub moment: &'a Moment,
    /// Whether the picture under the chain has full alpha everywhere.
    pub opaque: bool,
    /// For each effect that is a move, its index map at this size.
    pub maps: &'a [Option<Arc<IndexMap>>],
}

/// What is proved about a chain.
#[derive(Debug, Clone)]
pub struct Proofs {
    /// For each effect, why it changes nothing, where that is proved.
    pub idle: Vec<Option<String>>,
    verdicts: Vec<Verdict>,
    /// The classes that follow.
    pub classes: Classes,
}

/// Proofs that hold at every one of several frames, which are added one by one.
///
/// Where effects remember, these are all frames on which a picture depends: what is the same at each of
/// them is remembered the same. An effect that remembers is idle only where it is idle at all of them,
/// and changes places with a move only where that moves alike at all of them. One that holds pictures
/// changes places with whatever does the same at all of them.
#[derive(Debug, Default)]
pub struct Proving {
    frames: usize,
    idle: Vec<Option<String>>,
    pairs: Vec<ProvedPair>,
    letter: Vec<usize>,
    /// The moves' index maps of the frame before, and whether each has been the same at every frame.
    maps: Vec<(Option<Arc<IndexMap>>, bool)>,
    opaque: bool,
    /// For each effect, what it does at the first frame, and whether it has done the same at every frame.
    still: Vec<(EffectCall, bool)>,
    /// For each effect, whether it shows pictures of a moment ago just as they were.
    holds: Vec<bool>,
    names: Vec<String>,
}

/// What the frames so far say of a pair.
#[derive(Debug, Clone)]
struct ProvedPair {
    /// Proved at every frame so far, for these reasons; or not, with the reason.
    verdict: Result<Vec<String>, String>,
    /// Proved even where one of both remembers: by what holds of whole frames.
    by_idle: bool,
    /// What the last frame said.
    last: Verdict,
}

impl Proving {
    /// Adds a frame; each has the same chain, at its own settings.
    pub fn add(&mut self, premises: &Premises<'_>) {
        let n = premises.chain.len();
        let idle: Vec<_> = (0..n).map(|at| premises.idle(at)).collect();
        let letter: Vec<usize> = (0..n)
            .map(|at| (0..at).find(|&e| premises.chain[e].is_twin(&premises.chain[at])).unwrap_or(at))
            .collect();
        let is_first = self.frames == 0;
        let calls = premises.chain.iter().map(|used| used.call(premises.moment));
        if is_first {
            self.still = calls.map(|call| (call, true)).collect();
            self.holds = (0..n).map(|at| premises.holds(at)).collect();
            self.names = (0..n).map(|at| premises.name(at).to_owned()).collect();
        } else {
            self.still.iter_mut().zip(calls).for_each(|((first, still), now)| *still &= *first == now);
        }
        let same_map = |at: usize| match (&premises.maps[at], self.maps.get(at)) {
            (Some(map), Some((Some(before), _))) => Arc::ptr_eq(map, before) || map == before,
            (None, Some((None, _))) => true,
            _ => false,
        };
        let as_before: Vec<bool> = (0..n).map(|at| !is_first && same_map(at)).collect();
        let is_known = |a: usize, b: usize| {
            let is_move = |at: usize| premises.maps[at].is_some();
            is_move(a) && is_move(b) && as_before[a] && as_before[b] && self.opaque == premises.opaque
        };
        let mut pairs = Vec::with_capacity(n * n);
        for a in 0..n {
            for b in 0..n {
                let by_idle = idle[a].is_some() || idle[b].is_some();
                // Two moves that moved alike one frame ago say what they said there.
                let known =
                    self.pairs.get(a * n + b).filter(|known| is_known(a, b) && !by_idle && !known.by_idle);
                let last = known.map_or_else(|| premises.verdict(a, b, &idle), |known| known.last.clone());
                let verdict = match (self.pairs.get(a * n + b).map(|before| &before.verdict), &last) {
                    (Some(Err(because)), _) => Err(because.clone()),
                    (None, Verdict::Always(because)) => Ok(vec![because.clone()]),
                    (Some(Ok(reasons)), Verdict::Always(because)) => {
                        let mut reasons = reasons.clone();
                        if !reasons.contains(because) {
                            reasons.push(because.clone());
                        }
                        Ok(reasons)
                    }
                    (_, Verdict::Open(because)) => Err(because.clone()),
                };
                pairs.push(ProvedPair { verdict, by_idle, last });
            }
        }
        self.idle = if is_first {
            idle
        } else {
            self.idle.iter().zip(idle).map(|(before, now)| before.as_ref().and(now)).collect()
        };
        let classes: Vec<usize> = if is_first { vec![0; n] } else { self.letter.clone() };
        // Twins are twins at every frame.
        self.letter = (0..n)
            .map(|at| {
                let twin = |e: &usize| classes[*e] == classes[at] && letter[*e] == letter[at];
                (0..at).find(twin).unwrap_or(at)
            })
            .collect();
        self.maps = (0..n)
            .map(|at| {
                let constant = is_first || as_before[at] && self.maps[at].1;
                (premises.maps[at].clone(), constant)
            })
            .collect();
        self.pairs = pairs;
        self.opaque = premises.opaque;
        self.frames += 1;
        self.keep_to_whole_frames(premises);
    }

    /// Whether a further frame's index map of a move can still change anything: not where all that it could
    /// bear out has failed already.
    pub fn asks_for_map(&self, at: usize) -> bool {
        let n = self.letter.len();
        let is_proved = |other: usize| other != at && self.pairs[at * n + other].verdict.is_ok();
        self.frames == 0 || self.idle[at].is_some() || (0..n).any(is_proved)
    }

    /// What was proved of an effect that remembers, frame by frame, holds only where it holds of all
    /// frames alike.
    fn keep_to_whole_frames(&mut self, premises: &Premises<'_>) {
        let n = premises.chain.len();
        for a in 0..n {
            for b in 0..n {
                let remembers = |at: usize| premises.chain[at].remembers();
                if !remembers(a) && !remembers(b) || self.pairs[a * n + b].verdict.is_err() {
                    continue;
                }
                // One that is idle at every frame changes nothing; twins at every frame do the same.
                let is_idle = |at: usize| self.idle[at].is_some();
                if is_idle(a) || is_idle(b) || self.letter[a] == self.letter[b] {
                    continue;
                }
                let move_alike = |at: usize| remembers(at) || self.maps[at].1;
                if !(move_alike(a) && move_alike(b)) || self.pairs[a * n + b].by_idle {
                    self.pairs[a * n + b].verdict = Err(premises.over_time(a, b));
                }
            }
        }
    }

    /// Why a pair commutes where one of both shows the picture that came at its last due frame, byte for
    /// byte, and the other makes the same picture of the same picture at every frame.
    ///
    /// With d(t) the last due frame at t and x the pictures that come, f after the hold gives f(x at d(t)),
    /// and the hold after f gives what f made of x at d(t): one picture, where f is one function at t and
    /// at d(t). When frames are due depends on the hold's own settings alone, never on a picture, so that
    /// those may move. What f reads (one texel, its neighbours, where it stands) does not matter; that it
    /// does, frame by frame, what its uniform says and nothing else, is why it must be confirmed.
    fn held_and_standing(&self, a: usize, b: usize) -> Option<String> {
        let (holds, other) = if self.holds[a] { (a, b) } else { (b, a) };
        let (call, is_still) = &self.still[other];
        let stands = *is_still && call.effect.memory.is_none() && call.effect.is_trusted();
        (self.holds[holds] && stands).then(|| {
            format!(
                "{} shows pictures of a moment ago just as they were, and {} does the same at every frame.",
                self.names[holds], self.names[other]
            )
        })
    }

    /// What is proved of all frames that were added.
    pub fn proofs(self) -> Proofs {
        let n = self.letter.len();
        let held: Vec<Option<String>> =
            (0..n * n).map(|pair| self.held_and_standing(pair / n, pair % n)).collect();
        let verdict = |(pair, held): (ProvedPair, Option<String>)| match (pair.verdict, held) {
            (Ok(reasons), _) => Verdict::Always(reasons.join(" At other moments ")),
            (Err(_), Some(because)) => Verdict::Always(because),
            (Err(because), None) => Verdict::Open(because),
        };
        let verdicts: Vec<Verdict> = self.pairs.into_iter().zip(held).map(verdict).collect();
        let classes = Classes::new(self.letter, |a, b| matches!(verdicts[a * n + b], Verdict::Always(_)));
        Proofs { idle: self.idle, verdicts, classes }
    }
}

impl Proofs {
    /// Proves what can be proved of every pair of a chain.
    pub fn of(premises: &Premises<'_>) -> Self {
        let mut proving = Proving::default();
        proving.add(premises);
        proving.proofs()
    }

    /// What is proved on every one of these pieces of footage, of one chain at the same frames; nothing of none.
    pub fn on_all(pieces: &[&Self]) -> Option<Self> {
        let first = *pieces.first()?;
        let n = first.idle.len();
        let idle = |at: usize| {
            let all = pieces.iter().all(|piece| piece.idle[at].is_some());
            first.idle[at].clone().filter(|_| all)
        };
        // An open one is open with the reason of the first piece on which it is.
        let verdict = |at: usize| {
            let verdicts = || pieces.iter().map(|piece| &piece.verdicts[at]);
            verdicts().find(|verdict| matches!(verdict, Verdict::Open(_))).or_else(|| verdicts().next())
        };
        let verdicts: Vec<Verdict> = (0..n * n).filter_map(|at| verdict(at).cloned()).collect();
        let letter = first.classes.letters().to_vec();
        let classes = Classes::new(letter, |a, b| pieces.iter().all(|piece| piece.classes.commute(a, b)));
        Some(Self { idle: (0..n).map(idle).collect(), verdicts, classes })
    }

    /// What is known about the effects at two places.
    pub fn verdict(&self, a: usize, b: usize) -> &Verdict {
        &self.verdicts[a * self.idle.len() + b]
    }
}

impl Premises<'_> {
    fn name(&self, at: usize) -> &str {
        &self.chain[at].effect.name
    }

    /// Whether it shows pictures of a moment ago just as they were: where it takes one, it gives it as it
    /// is, and otherwise its last output.
    fn holds(&self, at: usize) -> bool {
        let used = &self.chain[at];
        let effect = &used.effect;
        let is_held = used.on && matches!(effect.memory, Some(Memory::Held(_)));
        is_held && effect.is_trusted() && effect.layout.gives_first
    }

    /// Whether the picture has full alpha between all effects too.
    fn is_opaque(&self) -> bool {
        self.opaque && self.chain.iter().all(|used| used.effect.is_trusted())
    }

    fn idle(&self, at: usize) -> Option<String> {
        self.chain[at].idle_because(self.moment).or_else(|| {
            if !self.chain[at].effect.is_trusted() {
                return None;
            }
            let map = self.maps[at].as_ref()?;
            map.is_identity().then(|| "it moves no pixel at this frame size".to_owned())
        })
    }

    fn verdict(&self, a: usize, b: usize, idle: &[Option<String>]) -> Verdict {
        let (name_a, name_b) = (self.name(a), self.name(b));
        for (at, name) in [(a, name_a), (b, name_b)] {
            if let Some(because) = &idle[at] {
                return Verdict::Always(format!("{name} changes nothing here: {because}."));
            }
        }
        if self.chain[a].is_twin(&self.chain[b]) {
            return Verdict::Always(format!("both are {name_a} with the same settings."));
        }
        let [first, second] = [a, b].map(|at| &self.chain[at].effect);
        for effect in [first, second] {
            let because = match &effect.standing {
                Standing::Shipped | Standing::Confirmed => continue,
                Standing::Untried => "is not yet confirmed by rendering",
                Standing::Refuted(_) => "is not what rendering shows",
            };
            return Verdict::Open(format!(
                "what {} declares {because}, so nothing is taken from it.",
                effect.name
            ));
        }
        match (first.reach, second.reach) {
            (Reach::Texel | Reach::PastFrames, Reach::Move) => self.texel_and_move(a, b),
            (Reach::Move, Reach::Texel | Reach::PastFrames) => self.texel_and_move(b, a),
            (Reach::Move, Reach::Move) => self.two_moves(a, b),
            _ => self.open(a, b),
        }
    }

    fn texel_and_move(&self, texel: usize, moving: usize) -> Verdict {
        let (effect, Some(map)) = (&self.chain[texel].effect, &self.maps[moving]) else {
            return self.open(texel, moving);
        };
        let (colours, moves) = (self.name(texel), self.name(moving));
        if effect.position == Position::Matters {
            return self.open(texel, moving);
        }
        if map.takes_channels_alike() {
            return Verdict::Always(format!(
                "{colours} treats every pixel alike wherever it is, and {moves} only moves whole pixels."
            ));
        }
        if effect.channels == Channels::Apart && self.is_opaque() {
            return Verdict::Always(format!(
                "{colours} makes each channel from that channel alone, and {moves} only moves channels."
            ));
        }
        if effect.channels == Channels::Apart {
            return Verdict::Open(format!(
                "{moves} moves each channel its own way over a picture with alpha, and {colours} acts on colours without their alpha."
            ));
        }
        Verdict::Open(format!(
            "{colours} {}, so it matters whether {moves} has pulled them apart yet.",
            effect.does
        ))
    }

    fn two_moves(&self, a: usize, b: usize) -> Verdict {
        let (Some(first), Some(second)) = (&self.maps[a], &self.maps[b]) else {
            return self.open(a, b);
        };
        // With alpha, a result takes the largest alpha of all that was moved into
        // it, so that every pair of channels has to agree.
        let equal = (0..3)
            .all(|c| (0..3).filter(|&d| c == d || !self.is_opaque()).all(|d| first.agrees(c, second, d)));
        if equal {
            return Verdict::Always(format!(
                "doing {} and {} in either order takes every pixel from the same place.",
                self.name(a),
                self.name(b)
            ));
        }
        self.open(a, b)
    }

    fn over_time(&self, a: usize, b: usize) -> String {
        let (remembers, other) = if self.chain[a].remembers() { (a, b) } else { (b, a) };
        format!(
            "{} remembers, and {} does not do the same at every frame that it remembers.",
            self.name(remembers),
            self.name(other)
        )
    }

    fn open(&self, a: usize, b: usize) -> Verdict {
        let [first, second] = [a, b].map(|at| &self.chain[at].effect);
        Verdict::Open(format!(
            "{} {}, {} {}: each sees what the other has left.",
            first.name, first.does, second.name, second.does
        ))
    }
}
