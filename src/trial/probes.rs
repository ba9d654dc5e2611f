//! What is rendered to test a declaration, and what the pictures say of it: data only, no GPU.

use crate::base::colour::Colour;
use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::beat::Moment;
use crate::catalogue::{Channels, Effect, Kind, Position, Reach, Value};
use crate::show::chain::EffectUse;

/// Whole numbers without a pattern: SplitMix64 (Steele, Lea and Flood 2014; constants from memory).
pub(super) struct Draws(u64);

impl Draws {
    pub(super) fn of(seed: u64) -> Self {
        Self(seed)
    }

    pub(super) fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// From 0 to 1, 1 left out.
    fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub(super) fn below(&mut self, end: u32) -> u32 {
        (self.next() % u64::from(end.max(1))) as u32
    }
}

/// A picture of unrelated texels, black and white among them; with full alpha, or with all kinds of it.
pub(super) fn scattered(frame: Frame, opaque: bool, draws: &mut Draws) -> Picture {
    let mut rgba = Vec::with_capacity(frame.texels() as usize * 4);
    for _ in 0..frame.texels() {
        let [r, g, b, a, ..] = draws.next().to_le_bytes();
        let alpha = match (opaque, a) {
            (true, _) | (_, 192..) => 255,
            (_, 0..32) => 0,
            (_, between) => between,
        };
        let pure = |byte: u8| match byte {
            0..12 => 0,
            244.. => 255,
            between => between,
        };
        rgba.extend([pure(r), pure(g), pure(b), alpha]);
    }
    Picture { frame, rgba, opaque }
}

/// Settings at which an effect is tried: its defaults, the ends of all ranges, then draws of every value.
pub(super) fn settings(effect: &std::sync::Arc<Effect>, most: usize, draws: &mut Draws) -> Vec<EffectUse> {
    let at = |value: &mut dyn FnMut(&Kind) -> Value| {
        let mut used = EffectUse::new(std::sync::Arc::clone(effect));
        for place in 0..effect.settings.len() {
            used.fix(place, value(&effect.settings[place].kind));
        }
        used
    };
    let mut all = vec![EffectUse::new(std::sync::Arc::clone(effect))];
    if !effect.settings.is_empty() {
        all.extend([at(&mut highest), at(&mut lowest)]);
        all.extend((0..most).map(|_| at(&mut |kind| drawn(kind, draws))));
    }
    all
}

pub(super) fn highest(kind: &Kind) -> Value {
    match kind {
        Kind::Number { range: [_, high], .. } => Value::Number(*high),
        Kind::Whole { range: [_, high], .. } => Value::Whole(*high),
        Kind::Colour => Value::Colour(Colour([255, 255, 255])),
        Kind::Choice(words) => Value::Choice(words.len().saturating_sub(1)),
    }
}

fn lowest(kind: &Kind) -> Value {
    match kind {
        Kind::Number { range: [low, _], .. } => Value::Number(*low),
        Kind::Whole { range: [low, _], .. } => Value::Whole(*low),
        Kind::Colour => Value::Colour(Colour([0, 0, 0])),
        Kind::Choice(_) => Value::Choice(0),
    }
}

fn drawn(kind: &Kind, draws: &mut Draws) -> Value {
    match kind {
        Kind::Number { range: [low, high], .. } => Value::Number(low + (high - low) * draws.share()),
        Kind::Whole { range: [low, high], .. } => {
            let among = (high - low).unsigned_abs().saturating_add(1);
            Value::Whole(low.saturating_add_unsigned(draws.next() % among))
        }
        Kind::Colour => {
            let [r, g, b, ..] = draws.next().to_le_bytes();
            Value::Colour(Colour([r, g, b]))
        }
        Kind::Choice(words) => Value::Choice(draws.below(words.len() as u32) as usize),
    }
}

/// How far a result may look, in texels; `None` where it may look anywhere.
pub(super) fn radius(effect: &Effect) -> Option<u32> {
    match effect.reach {
        Reach::Texel | Reach::PastFrames => Some(0),
        Reach::Neighbourhood { radius } => Some(radius),
        Reach::Move | Reach::Source => None,
    }
}

/// The frame on which an effect is tried: larger than it reaches, as far as that is small.
pub(super) fn frame(effect: &Effect) -> Frame {
    let radius = radius(effect).unwrap_or(0).min(40);
    Frame { width: 33 + 3 * radius, height: 17 + 3 * radius }
}

/// A copy with one byte changed by much.
pub(super) fn flipped(picture: &Picture, at: (u32, u32), channel: usize) -> Picture {
    let mut changed = picture.clone();
    let byte = &mut changed.rgba[index(picture.frame, at) + channel];
    *byte ^= 0x80;
    changed
}

/// A copy moved by whole texels, with what leaves on one side on the other.
pub(super) fn rolled(picture: &Picture, by: (u32, u32)) -> Picture {
    let frame = picture.frame;
    let mut moved = picture.clone();
    for y in 0..frame.height {
        for x in 0..frame.width {
            let from = index(frame, (x, y));
            let into = index(frame, ((x + by.0) % frame.width, (y + by.1) % frame.height));
            moved.rgba[into..into + 4].copy_from_slice(&picture.rgba[from..from + 4]);
        }
    }
    moved
}

fn index(frame: Frame, (x, y): (u32, u32)) -> usize {
    (y as usize * frame.width as usize + x as usize) * 4
}

pub(super) fn texel(picture: &Picture, at: (u32, u32)) -> [u8; 4] {
    let at = index(picture.frame, at);
    [0, 1, 2, 3].map(|channel| picture.rgba[at + channel])
}

fn places(frame: Frame) -> impl Iterator<Item = (u32, u32)> {
    (0..frame.height).flat_map(move |y| (0..frame.width).map(move |x| (x, y)))
}

/// The first place at which two pictures differ.
pub(super) fn first_difference(one: &Picture, other: &Picture) -> Option<(u32, u32)> {
    places(one.frame).find(|&at| texel(one, at) != texel(other, at))
}

/// A claim that does not hold: which of the header's, and what was seen.
pub(super) struct Lie {
    pub(super) claim: Claim,
    pub(super) seen: String,
}

/// What a header claims that rendering can refute.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Claim {
    Reach,
    Channels,
    Position,
    Alpha,
    Opaque,
    Idle(usize),
}

impl Claim {
    /// All that an effect makes.
    pub(super) fn all(effect: &Effect) -> Vec<Self> {
        if effect.reach == Reach::Source {
            return if effect.opaque { vec![Self::Opaque] } else { Vec::new() };
        }
        let mut all = vec![Self::Reach, Self::Alpha];
        if effect.channels == Channels::Apart && effect.reach != Reach::Move {
            all.push(Self::Channels);
        }
        if effect.position == Position::Ignored {
            all.push(Self::Position);
        }
        all.extend((0..effect.idle.len()).map(Self::Idle));
        all
    }

    /// The line of the header that makes it, from 1, and the claim in words.
    pub(super) fn of(self, effect: &Effect) -> (usize, String) {
        let line = |key: &str, nth: usize| {
            let header = effect.source.lines().enumerate().take_while(|(_, line)| line.starts_with("//!"));
            let found = header.filter(|(_, line)| line[3..].trim_start().starts_with(key)).nth(nth);
            found.map_or((1, String::new()), |(at, line)| (at + 1, line[3..].trim().to_owned()))
        };
        let as_written = |key: &str| {
            let (at, text) = line(key, 0);
            // A comment behind the value is the person's own business.
            (at, format!("`{}`", text.split(" #").next().unwrap_or("").trim()))
        };
        match self {
            Self::Reach if matches!(effect.reach, Reach::Neighbourhood { .. }) => as_written("radius"),
            Self::Reach => as_written("reach"),
            Self::Channels => as_written("channels"),
            Self::Position => as_written("position"),
            Self::Alpha => (line("reach", 0).0, "that full alpha stays full".to_owned()),
            Self::Opaque => (line("opaque", 0).0, "`opaque = true`".to_owned()),
            Self::Idle(nth) => {
                let idle = &effect.idle[nth];
                (
                    line("[[idle]]", nth).0,
                    format!("that nothing changes where `{}` is {}", idle.member, idle.is),
                )
            }
        }
    }
}

/// What a changed byte changed that it must not: further away than the effect reaches, or another channel.
pub(super) fn spread(
    effect: &Effect,
    (at, channel): ((u32, u32), usize),
    before: &Picture,
    after: &Picture,
) -> Option<Lie> {
    let radius = radius(effect)?;
    for (x, y) in places(before.frame) {
        let (old, new) = (texel(before, (x, y)), texel(after, (x, y)));
        if old == new {
            continue;
        }
        let away = x.abs_diff(at.0).max(y.abs_diff(at.1));
        let changed =
            format!("changing {} of the texel at {},{}", ["red", "green", "blue"][channel], at.0, at.1);
        if away > radius {
            return Some(Lie {
                claim: Claim::Reach,
                seen: format!("{changed} changed the one at {x},{y}, {away} away, from {old:?} to {new:?}"),
            });
        }
        let other = (0..3).find(|&other| other != channel && old[other] != new[other]);
        if let Some(other) = other.filter(|_| effect.channels == Channels::Apart) {
            return Some(Lie {
                claim: Claim::Channels,
                seen: format!(
                    "{changed} changed {} of the one at {x},{y} from {} to {}",
                    ["red", "green", "blue"][other],
                    old[other],
                    new[other]
                ),
            });
        }
    }
    None
}

/// Where a picture moved as a whole does not give the result moved as a whole, edges aside.
pub(super) fn moved(effect: &Effect, by: (u32, u32), result: &Picture, of_moved: &Picture) -> Option<Lie> {
    let edge = radius(effect)?;
    let frame = result.frame;
    let (width, height) = (frame.width.checked_sub(by.0 + edge)?, frame.height.checked_sub(by.1 + edge)?);
    let inner = (edge..height).flat_map(|y| (edge..width).map(move |x| (x, y)));
    let wrong = inner.map(|at| (at, (at.0 + by.0, at.1 + by.1))).find(|&(from, into)| {
        into.0 + edge < frame.width
            && into.1 + edge < frame.height
            && texel(result, from) != texel(of_moved, into)
    });
    let (from, into) = wrong?;
    Some(Lie {
        claim: Claim::Position,
        seen: format!(
            "the texel at {},{} became {:?}, and the same one with the same around it at {},{} became {:?}",
            from.0,
            from.1,
            texel(result, from),
            into.0,
            into.1,
            texel(of_moved, into)
        ),
    })
}

/// A texel that lost its full alpha.
pub(super) fn holes(claim: Claim, result: &Picture) -> Option<Lie> {
    let (x, y) = places(result.frame).find(|&at| texel(result, at)[3] != 255)?;
    let alpha = texel(result, (x, y))[3];
    Some(Lie { claim, seen: format!("the texel at {x},{y} has the alpha {alpha} of 255") })
}

/// "at 33x17, beat 0.37, gain 1.5, in encoded-8bit": where a picture was taken.
pub(super) fn taken_at(used: &EffectUse, moment: &Moment) -> String {
    let settings = used.written_changes();
    let settings = if settings.is_empty() { "the defaults".to_owned() } else { settings.join(", ") };
    format!("at {settings}, beat {}, {}, {}", moment.beats, moment.frame, moment.pixels.name())
}
