//! What hands can make of a show's flashes: ways in which controls are played, and the show at each frame of them.

use std::borrow::Cow;
use std::fmt;

use super::{Watch, can_flash};
use crate::catalogue::{Kind, Value};
use crate::hands::Hands;
use crate::show::automation::Automation;
use crate::show::chain::EffectUse;
use crate::show::control::{Control, ControlKind, Grip};
use crate::show::{Scope, Show, Target};

/// How often a key is pressed in a second, at the fastest: somewhat faster than a finger taps for long, which is
/// six to seven times a second (from memory, no source).
pub const PRESSES_A_SECOND: f64 = 8.0;
/// How often a continuous control is thrown there and back in a second, at the fastest: a hand shakes five to six
/// times a second (from memory, no source).
pub const THROWS_A_SECOND: f64 = 6.0;

/// One way in which controls are played over the whole stretch.
#[derive(Debug, Clone, PartialEq)]
pub enum Played {
    /// A control stays where it is: 0 is its low end, 1 its high end.
    Held {
        /// Its name.
        control: String,
        /// How it answers.
        kind: ControlKind,
        /// Where it stands, 0 or 1.
        position: f64,
    },
    /// A key is pressed as fast as it can be.
    Pressed {
        /// The control's name.
        control: String,
        /// How it answers.
        kind: ControlKind,
    },
    /// Continuous controls are thrown to and fro, all at once: names, and the end that each goes to first, 0 or 1.
    Thrown(Vec<(String, f64)>),
    /// A control is played at its cues.
    Cued {
        /// Its name.
        control: String,
    },
    /// Several that move what flashes stand at their worst ends at once: names and positions.
    Together(Vec<(String, f64)>),
}

/// As it stands in a sentence behind "with": "\"Strobe\" held down".
impl fmt::Display for Played {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let end = |position: f64| if position < 0.5 { "low end" } else { "high end" };
        match self {
            Self::Held { control, kind: ControlKind::Momentary, .. } => write!(f, "\"{control}\" held down"),
            Self::Held { control, kind: ControlKind::Latching, .. } => write!(f, "\"{control}\" switched on"),
            Self::Held { control, position, .. } => write!(f, "\"{control}\" at its {}", end(*position)),
            Self::Pressed { control, kind: ControlKind::Latching } => {
                write!(f, "\"{control}\" switched on and off by {PRESSES_A_SECOND} presses a second")
            }
            Self::Pressed { control, .. } => {
                write!(f, "\"{control}\" pressed {PRESSES_A_SECOND} times a second")
            }
            Self::Thrown(all) => {
                let each: Vec<String> = all.iter().map(|(control, _)| format!("\"{control}\"")).collect();
                let together = if all.len() > 1 { " together" } else { "" };
                write!(
                    f,
                    "{} thrown to and fro{together} {THROWS_A_SECOND} times a second",
                    each.join(" and ")
                )
            }
            Self::Cued { control } => write!(f, "\"{control}\" played at its cues"),
            Self::Together(all) => {
                let each: Vec<String> = all
                    .iter()
                    .map(|(control, position)| format!("\"{control}\" at its {}", end(*position)))
                    .collect();
                write!(f, "{} at once", each.join(" and "))
            }
        }
    }
}

impl Played {
    /// The controls that are played.
    pub fn controls(&self) -> Vec<&str> {
        match self {
            Self::Held { control, .. } | Self::Pressed { control, .. } | Self::Cued { control } => {
                vec![control]
            }
            Self::Thrown(all) | Self::Together(all) => {
                all.iter().map(|(control, _)| control.as_str()).collect()
            }
        }
    }

    /// Every way in which the controls of a show are counted:
    /// - each at its high end for good, a continuous one at its low end too;
    /// - each momentary and latching one pressed [`PRESSES_A_SECOND`] times a second, down half of the time;
    /// - each continuous one thrown between its ends [`THROWS_A_SECOND`] times a second, through all that lies
    ///   between, and where there are several, all of them at once;
    /// - each with cues in the stretch at those, as [`Hand`] plays them;
    /// - where several move settings of what flashes, all of these at once, each at the end that flashes more.
    ///
    /// What changes no setting of anything that shows is left out.
    pub fn all(show: &Show, watch: &Watch) -> Vec<Self> {
        let mut all = Vec::new();
        let mut thrown = Vec::new();
        let mut seen = vec![show.clone()];
        for control in show.controls.iter().filter(|control| moves(show, &control.name)) {
            let (name, kind) = (control.name.clone(), control.kind);
            let at = |position: f64| {
                let mut hands = Hands::default();
                put(&mut hands, show, control, position, watch.from_beats);
                hands.applied(show)
            };
            let ends: &[f64] = if kind == ControlKind::Continuous { &[1.0, 0.0] } else { &[1.0] };
            for &position in ends {
                let held = at(position);
                if !seen.contains(&held) {
                    seen.push(held);
                    all.push(Self::Held { control: name.clone(), kind, position });
                }
            }
            if kind != ControlKind::Continuous {
                all.push(Self::Pressed { control: name.clone(), kind });
            } else if [0.5, 1.0].map(at).iter().any(|other| *other != at(0.0)) {
                let first = worst_end(show, control).unwrap_or(1.0);
                all.push(Self::Thrown(vec![(name.clone(), first)]));
                thrown.push((name.clone(), first));
            }
            let end = watch.from_beats + watch.over_beats;
            let is_played =
                |cue: &crate::show::cue::Cue| cue.beats(end).iter().any(|&beat| beat >= watch.from_beats);
            if control.cue.as_ref().is_some_and(is_played) {
                all.push(Self::Cued { control: name });
            }
        }
        all.extend((thrown.len() > 1).then_some(Self::Thrown(thrown)));
        all.extend(together(show));
        all
    }
}

/// Whether a control holds or fires a setting of an effect that is on and shows, or may be brought to, or moves something
/// else of the picture.
fn moves(show: &Show, control: &str) -> bool {
    let mut grips = show.grips(control);
    shown(show).any(|(_, used)| is_moved(used, control))
        || grips.any(|(target, grip)| moves_part(show, target, grip))
}

/// Whether a grip moves something of the picture that is no effect: an opacity, or which clip shows.
pub(super) fn moves_part(show: &Show, target: Target, grip: &Grip) -> bool {
    match target {
        Target::Opacity(scope) => {
            may_show(show, scope)
                && (grip.low != grip.high || show.target_value(target).as_ref() != Some(&grip.high))
        }
        Target::Showing([b, _]) => may_show(show, Scope::Bundle(b)),
        _ => false,
    }
}

/// Whether a control holds or fires a setting of an effect, or switches it.
pub(super) fn is_moved(used: &EffectUse, control: &str) -> bool {
    used.controls().any(|by| by == control)
}

pub(super) fn fires(used: &EffectUse, place: usize, control: &str) -> bool {
    used.automation(place).and_then(Automation::fired_by) == Some(control)
}

/// Whether a scope's picture reaches the output, or does once a control shows it.
fn may_show(show: &Show, scope: Scope) -> bool {
    let is_called = |[b, l]: [usize; 2], clip: Option<usize>| {
        !show.is_hidden(Scope::Bundle(b))
            && show.grips_on(Target::Showing([b, l])).into_iter().any(|grip| {
                let ends = [&grip.low, &grip.high].map(|end| end.as_number().unwrap_or(0.0) as usize);
                clip.is_none_or(|clip| (ends[0].min(ends[1])..=ends[0].max(ends[1])).contains(&clip))
            })
    };
    show.shows(scope)
        || match scope {
            Scope::Global | Scope::Bundle(_) => false,
            Scope::Level(b, l) => is_called([b, l], None),
            Scope::Clip(b, l, c) => is_called([b, l], Some(c)),
        }
}

/// The effects that are on, or may be switched on, and whose pictures reach the output, or may.
fn shown(show: &Show) -> impl Iterator<Item = (Scope, &EffectUse)> {
    let scopes = show.scopes().into_iter().filter(|&scope| may_show(show, scope));
    let effects = scopes.flat_map(|scope| show.chain(scope).iter().map(move |used| (scope, used)));
    effects.filter(|(_, used)| used.on || used.switch_grip().is_some())
}

/// All controls that move settings of what flashes, each at its worst end; none where there are not several.
fn together(show: &Show) -> Option<Played> {
    let ends =
        show.controls.iter().filter_map(|control| Some((control.name.clone(), worst_end(show, control)?)));
    let ends: Vec<_> = ends.collect();
    (ends.len() > 1).then_some(Played::Together(ends))
}

/// The end of a control, 0 or 1, at which what flashes does so more; none where it moves nothing of that.
fn worst_end(show: &Show, control: &Control) -> Option<f64> {
    let mut worst = [0.0; 2];
    let mut is_meant = false;
    for (scope, used) in shown(show).filter(|(_, used)| can_flash(used)) {
        if used
            .switch_grip()
            .is_some_and(|grip| grip.control == control.name && grip.high == Value::Choice(1))
        {
            is_meant = true;
            worst[1] += 1.0;
        }
        for (target, grip) in show.grips(&control.name) {
            // More of what flashes is seen where it is laid on thicker, and thinner what lies over it.
            let ends = [&grip.low, &grip.high].map(|end| end.as_number().unwrap_or(0.0));
            match target {
                Target::Opacity(over) if lies_in(scope, over) => {
                    is_meant = true;
                    worst[0] += ends[0];
                    worst[1] += ends[1];
                }
                Target::Opacity(over) if lies_over(over, scope) => {
                    is_meant = true;
                    worst[0] += 1.0 - ends[0];
                    worst[1] += 1.0 - ends[1];
                }
                Target::Showing([b, l]) if matches!(scope, Scope::Clip(of, on, c) if [of, on] == [b, l] && grip.high == Value::Choice(c)) =>
                {
                    is_meant = true;
                    worst[1] += 1.0;
                }
                _ => {}
            }
        }
        for (place, setting) in used.effect.settings.iter().enumerate() {
            let Some(grip) = used.grip(place).filter(|grip| grip.control == control.name) else {
                continue;
            };
            is_meant = true;
            // More of what is counted per beat, and of what fades the effect out, flashes more.
            let fades_out = used.effect.idle.iter().any(|idle| idle.member == setting.name && idle.is == 0.0);
            let Kind::Number { range: [low, high], unit } = &setting.kind else { continue };
            if fades_out || unit == "per beat" {
                for (worst, position) in worst.iter_mut().zip([0.0, 1.0]) {
                    let value = grip.at(&setting.kind, position).as_number().unwrap_or(*low);
                    *worst += (value - low) / (high - low);
                }
            }
        }
    }
    is_meant.then_some(if worst[0] > worst[1] { 0.0 } else { 1.0 })
}

/// Whether a scope is another, or lies in it.
fn lies_in(scope: Scope, outer: Scope) -> bool {
    match (outer, scope) {
        (Scope::Bundle(a), Scope::Bundle(b) | Scope::Level(b, _) | Scope::Clip(b, ..)) => a == b,
        (Scope::Level(a, l), Scope::Level(b, m) | Scope::Clip(b, m, _)) => (a, l) == (b, m),
        _ => false,
    }
}

/// Whether a bundle or a level lies over a scope.
fn lies_over(over: Scope, scope: Scope) -> bool {
    match (over, scope) {
        (Scope::Bundle(a) | Scope::Level(a, _), Scope::Bundle(b)) => a > b,
        (Scope::Bundle(a), Scope::Level(b, _) | Scope::Clip(b, ..)) => a > b,
        (Scope::Level(a, l), Scope::Level(b, m) | Scope::Clip(b, m, _)) => (a, l) > (b, m),
        _ => false,
    }
}

/// Brings a control to a position, 0..1.
fn put(hands: &mut Hands, show: &Show, control: &Control, position: f64, beats: f64) {
    match control.kind {
        ControlKind::Continuous => hands.turn(show, control, position, beats),
        ControlKind::Momentary | ControlKind::Latching => hands.press(show, control, position, beats),
    }
}

/// One thing that a hand does: at a frame, with a control of the show by its place.
#[derive(Debug, Clone, Copy)]
enum Move {
    To(f64),
    Press,
    Release,
}

/// A hand that plays along a stretch, and the show as it makes it.
///
/// At a cue a momentary control is pressed, and let up after its length, or else half a beat or half way to its next cue; a
/// latching one is pressed, and once more after its length; a continuous one goes to its high end, within its length or
/// at once, at the next cue to its low end, and so on.
#[derive(Debug)]
pub(super) struct Hand<'a> {
    show: &'a Show,
    /// Frame, control and what is done, in order.
    moves: Vec<(usize, usize, Move)>,
    done: usize,
    hands: Hands,
    now: Cow<'a, Show>,
}

impl<'a> Hand<'a> {
    pub(super) fn of(show: &'a Show, played: Option<&Played>, watch: &Watch) -> Self {
        let place = |name: &str| show.controls.iter().position(|control| control.name == name);
        let mut moves = Vec::new();
        match played {
            None => {}
            Some(Played::Held { control, position, .. }) => {
                moves.extend(place(control).map(|at| (0, at, Move::To(*position))));
            }
            Some(Played::Together(all)) => {
                let each = all.iter().filter_map(|(name, position)| Some((place(name)?, *position)));
                moves.extend(each.map(|(at, position)| (0, at, Move::To(position))));
            }
            Some(Played::Pressed { control, .. }) => {
                let frames = watch.frames(show.tempo_bpm);
                // A press and its letting up each need a frame to be seen.
                let every = (watch.rate.per_second() / PRESSES_A_SECOND).max(2.0);
                let at_frame = |half: usize| (half as f64 * every / 2.0).round() as usize;
                let halves = (0..).take_while(|&half| at_frame(half) < frames);
                let one = |half: usize| if half.is_multiple_of(2) { Move::Press } else { Move::Release };
                moves.extend(
                    place(control)
                        .into_iter()
                        .flat_map(|at| halves.clone().map(move |half| (at_frame(half), at, one(half)))),
                );
            }
            Some(Played::Thrown(all)) => {
                let each: Vec<(usize, f64)> =
                    all.iter().filter_map(|(name, first)| Some((place(name)?, *first))).collect();
                for (frame, way) in thrown(watch, show.tempo_bpm).enumerate() {
                    let to = |first: f64| if first < 0.5 { 1.0 - way } else { way };
                    moves.extend(each.iter().map(|&(at, first)| (frame, at, Move::To(to(first)))));
                }
            }
            Some(Played::Cued { control }) => {
                if let Some(at) = place(control) {
                    moves = cued(show, at, watch);
                }
            }
        }
        moves.sort_by_key(|&(frame, ..)| frame);
        Self { show, moves, done: 0, hands: Hands::default(), now: Cow::Borrowed(show) }
    }

    /// The show at a frame of the stretch; frames are asked for in turn.
    pub(super) fn at(&mut self, frame: usize, beats: f64) -> &Show {
        let before = self.done;
        while let Some(&(_, at, what)) = self.moves.get(self.done).filter(|&&(due, ..)| due <= frame) {
            let control = &self.show.controls[at];
            match what {
                Move::To(position) => put(&mut self.hands, self.show, control, position, beats),
                Move::Press => self.hands.press(self.show, control, 1.0, beats),
                Move::Release => self.hands.release(control),
            }
            self.done += 1;
        }
        if self.done > before {
            self.now = Cow::Owned(self.hands.applied(self.show));
        }
        &self.now
    }
}

/// How far a hand that throws a control to and fro has brought it from where it began, 0..1, frame by frame: it
/// stands at each end at a frame, and goes evenly between.
fn thrown(watch: &Watch, tempo_bpm: f64) -> impl Iterator<Item = f64> {
    let one_way = (watch.rate.per_second() / THROWS_A_SECOND / 2.0).max(1.0);
    let end = move |nth: usize| (nth as f64 * one_way).round() as usize;
    let mut nth = 0;
    (0..watch.frames(tempo_bpm)).map(move |frame| {
        if frame >= end(nth + 1) {
            nth += 1;
        }
        let share = (frame - end(nth)) as f64 / (end(nth + 1) - end(nth)) as f64;
        if nth.is_multiple_of(2) { share } else { 1.0 - share }
    })
}

/// What a hand does with a control at its cues.
fn cued(show: &Show, at: usize, watch: &Watch) -> Vec<(usize, usize, Move)> {
    let control = &show.controls[at];
    let beats =
        control.cue.as_ref().map(|cue| cue.beats(watch.from_beats + watch.over_beats)).unwrap_or_default();
    let beats: Vec<f64> = beats.into_iter().filter(|&beat| beat >= watch.from_beats).collect();
    let frame_at = |beat: f64| {
        let seconds = (beat - watch.from_beats) * 60.0 / show.tempo_bpm;
        (seconds * watch.rate.per_second() - 1e-6).ceil().max(0.0) as usize
    };
    let length = control.cue.as_ref().and_then(|cue| cue.length);
    let mut moves = Vec::new();
    for (nth, &beat) in beats.iter().enumerate() {
        let frame = frame_at(beat);
        let next = beats.get(nth + 1).map(|next| next - beat);
        // The frame by which it is over: one later at the least, so that it is seen.
        let over = |length: f64| frame_at(beat + next.map_or(length, |next| next.min(length))).max(frame + 1);
        match control.kind {
            ControlKind::Latching => {
                moves.push((frame, at, Move::Press));
                moves.extend(length.map(|length| (over(length), at, Move::Press)));
            }
            ControlKind::Continuous => {
                let [from, to] = if nth.is_multiple_of(2) { [0.0, 1.0] } else { [1.0, 0.0] };
                let last = length.map_or(frame, over);
                moves.extend((frame..=last).map(|now| {
                    let share =
                        if last == frame { 1.0 } else { (now - frame) as f64 / (last - frame) as f64 };
                    (now, at, Move::To(from + (to - from) * share))
                }));
            }
            ControlKind::Momentary => {
                let held = length.map_or_else(|| over(next.unwrap_or(1.0).min(1.0) / 2.0), over);
                moves.push((frame, at, Move::Press));
                moves.push((held, at, Move::Release));
            }
        }
    }
    moves
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::Viewing;

    #[test]
    fn a_control_that_is_thrown_stands_at_each_end_at_a_frame_and_goes_through_what_lies_between() {
        let ways = |rate: &str| {
            let viewing = Viewing::default();
            let watch = Watch { from_beats: 0.0, over_beats: 4.0, rate: rate.parse().unwrap(), viewing };
            thrown(&watch, 120.0).collect::<Vec<f64>>()
        };
        // 60 frames a second: five one way at six there and back a second (arithmetic).
        let wanted = [0.0, 0.2, 0.4, 0.6, 0.8, 1.0, 0.8, 0.6, 0.4, 0.2, 0.0];
        assert!(ways("60").iter().zip(wanted).all(|(is, wanted)| (is - wanted).abs() < 1e-12));
        for rate in ["10", "24", "25", "30", "50", "60", "240"] {
            let ways = ways(rate);
            let ends = ways.iter().filter(|way| **way == 0.0 || **way == 1.0).count();
            // Two seconds: twelve ends in each, or one at every frame where there are fewer.
            assert!((23..=25).contains(&ends) || ends == ways.len(), "{rate}: {ends}");
        }
    }
}
