//! The map of a show's controls: which does what, for which hand, key and MIDI, and when.

use serde::Serialize;

use crate::base::coding::ColourCode;
use crate::catalogue::Kind;
use crate::show::automation::Automation;
use crate::show::chain::labels;
use crate::show::clash::{BAR_BEATS, FINGERS, Free, Play, Playing};
use crate::show::control::{Control, Curve, Hand};
use crate::show::cue::Cue;
use crate::show::running::OPEN_BEATS;
use crate::show::{Scope, Show, Target};

/// The fewest beats that are laid out.
const LEAST_BEATS: f64 = 16.0;

/// The map of a show, in words.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Map {
    /// The show's name.
    pub show: String,
    /// Beats per minute.
    pub tempo_bpm: f64,
    /// How long a beat lasts, in milliseconds.
    pub beat_ms: f64,
    /// How long a hand takes from one control to another, in milliseconds.
    pub reach_ms: f64,
    /// Frames per second, as they are written.
    pub rate: String,
    /// Every control, in the order of the file.
    pub control: Vec<MapControl>,
    /// How many beats the cues are laid out over: the whole running order, or once round all that comes again.
    pub beats: f64,
    /// The sections of the running order, in beats.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub section: Vec<MapSection>,
    /// Controls that lie next to each other on the device.
    pub neighbours: Vec<Neighbours>,
    /// What hands cannot do, and what is missing.
    pub warning: Vec<String>,
    /// What one hand alone cannot do.
    pub one_handed: Vec<String>,
}

/// One control of a map.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MapControl {
    pub name: String,
    /// The colour by which the person tells it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub colour: Option<ColourCode>,
    /// `left`, `right` or `either`.
    pub hand: &'static str,
    /// `momentary`, `latching` or `continuous`.
    pub kind: &'static str,
    /// The key that plays it.
    pub key: Option<String>,
    /// What plays it through MIDI.
    pub midi: Option<String>,
    /// Where it lies on the device: column and row.
    pub at: Option<[u32; 2]>,
    /// When it is meant to be played, in words.
    pub cue: Option<String>,
    /// The beats of its cue, as far as cues are compared.
    pub cue_beats: Vec<f64>,
    /// When it is played, from the first beat to the last that is laid out, and by which hand.
    pub plays: Vec<MapPlay>,
    /// What it moves.
    pub moves: Vec<Moved>,
    /// The settings whose envelopes it fires.
    pub fires: Vec<Address>,
}

/// One time that a control is played.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct MapPlay {
    pub from: f64,
    pub to: f64,
    pub hand: &'static str,
}

/// A section of the running order.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MapSection {
    pub name: String,
    pub from: f64,
    pub to: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub colour: Option<ColourCode>,
}

/// Two controls that lie next to each other.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Neighbours {
    /// Their places among the controls.
    pub controls: [usize; 2],
    /// Whether two hands play them at once, which want room.
    pub meet: bool,
}

/// Something that is moved, by its scope, effect and label.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Address {
    /// The scope's address; none of the section.
    pub scope: Option<String>,
    /// The effect, with its place among its twins; none of what a scope has itself.
    pub effect: Option<String>,
    /// Its key in files.
    pub setting: String,
    /// What moves, without its scope.
    #[serde(skip)]
    pub what: String,
}

impl Address {
    fn of(show: &Show, target: Target) -> Self {
        let scope = target.scope();
        let effect = scope.zip(target.effect()).map(|(scope, at)| labels(show.chain(scope))[at].clone());
        Self {
            scope: scope.map(|scope| show.address(scope)),
            effect,
            setting: target.key(show).to_owned(),
            what: show.target_said(target),
        }
    }

    /// "tint amount on bundle:picture", "opacity of level:picture/sea", "the section".
    pub fn said(&self) -> String {
        match (&self.scope, &self.effect) {
            (None, _) => self.what.clone(),
            (Some(scope), Some(_)) => format!("{} on {scope}", self.what),
            (Some(scope), None) => format!("{} of {scope}", self.what),
        }
    }
}

/// Something that a control moves.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Moved {
    /// Which.
    #[serde(flatten)]
    pub address: Address,
    /// Its value where the control stands at 0.
    pub low: String,
    /// Its value where the control stands at 1.
    pub high: String,
    /// The curve's name.
    pub curve: &'static str,
    #[serde(skip)]
    pub shape: Curve,
    /// Whether it has one value when played, and goes through none.
    #[serde(skip)]
    pub is_word: bool,
}

impl Moved {
    /// "0 to 4, linear", "storm".
    pub fn range_said(&self) -> String {
        if self.is_word {
            self.high.clone()
        } else {
            format!("{} to {}, {}", self.low, self.high, self.curve)
        }
    }
}

impl Map {
    /// The map of a show.
    pub fn of(show: &Show) -> Self {
        let playing = show.playing(Free::Both);
        let beats = laid_out(show, &playing);
        let control: Vec<MapControl> =
            (0..show.controls.len()).map(|at| map_control(show, at, &playing, beats)).collect();
        let section = show.running(OPEN_BEATS).map_or_else(Vec::new, |running| {
            let of = |leg: &crate::show::running::Leg| {
                let section = &show.sections[leg.section];
                MapSection { name: section.name.clone(), from: leg.from, to: leg.to, colour: section.colour }
            };
            running.legs.iter().map(of).collect()
        });
        let mut warning = warnings(show, &playing);
        for control in &control {
            if control.moves.is_empty() && control.fires.is_empty() {
                warning.push(format!("\"{}\" moves nothing", control.name));
            }
            if control.key.is_none() && control.midi.is_none() {
                warning.push(format!("\"{}\" has no key and no MIDI", control.name));
            }
        }
        warning.extend(missing_controls(show));
        Self {
            show: show.name.clone(),
            tempo_bpm: show.tempo_bpm,
            beat_ms: 60_000.0 / show.tempo_bpm,
            reach_ms: show.reach_ms,
            rate: show.rate.to_string(),
            control,
            beats,
            section,
            neighbours: neighbours_in(show, &playing),
            warning,
            one_handed: warnings(show, &show.playing(Free::One(Hand::Right)))
                .into_iter()
                .map(|said| said.replacen("the right hand", "one hand", 1))
                .collect(),
        }
    }
}

/// How many beats are laid out: all of the running order; otherwise all cues, and what comes again once round.
fn laid_out(show: &Show, playing: &Playing) -> f64 {
    if !show.running_order.is_empty() {
        return playing.end;
    }
    let cues = show.controls.iter().filter_map(|control| control.cue.as_ref());
    let ends = cues.map(|cue| match cue.every {
        Some(every) => every,
        None => cue.at.iter().copied().fold(0.0, f64::max) + cue.length.unwrap_or(1.0 / 64.0),
    });
    let bars = (ends.fold(LEAST_BEATS, f64::max) / BAR_BEATS).ceil();
    (bars * BAR_BEATS).min(playing.end)
}

/// Which controls of a show lie next to each other on its device.
pub fn neighbours(show: &Show) -> Vec<Neighbours> {
    if show.controls.iter().filter(|control| control.at.is_some()).count() < 2 {
        return Vec::new();
    }
    neighbours_in(show, &show.playing(Free::Both))
}

fn neighbours_in(show: &Show, playing: &Playing) -> Vec<Neighbours> {
    let controls = &show.controls;
    let pairs = (0..controls.len()).flat_map(|a| (a + 1..controls.len()).map(move |b| [a, b]));
    let near = pairs.filter(|&[a, b]| controls[a].lies_next_to(&controls[b]) == Some(true));
    let meet = |[a, b]: [usize; 2]| {
        playing.meetings.iter().any(|one| [[a, b], [b, a]].contains(&[one.left, one.right]))
    };
    near.map(|controls| Neighbours { controls, meet: meet(controls) }).collect()
}

/// What hands cannot do, a sentence each.
fn warnings(show: &Show, playing: &Playing) -> Vec<String> {
    let beat_ms = 60_000.0 / show.tempo_bpm;
    let name = |at: usize| &show.controls[at].name;
    let often = |times: usize| {
        let times = if times == 1 { "once".to_owned() } else { format!("{times} times") };
        format!("{times} in {} beats", rounded(playing.end))
    };
    let clashes = playing.clashes.iter().map(|clash| {
        let (hand, first, then) = (clash.hand.name(), name(clash.first), name(clash.then));
        let (beat, times) = (rounded(clash.beat), often(clash.times));
        if clash.apart_beats == 0.0 && clash.from == clash.beat {
            return format!("the {hand} hand plays \"{first}\" and \"{then}\" at once at beat {beat}; {times}");
        }
        if clash.apart_beats < 0.0 {
            return format!(
                "the {hand} hand still holds \"{first}\" from beat {} to {} when \"{then}\" comes at beat {beat}; {times}",
                rounded(clash.from),
                rounded(clash.beat - clash.apart_beats)
            );
        }
        format!(
            "the {hand} hand has {:.0} ms ({} beats) from \"{first}\" to \"{then}\" at beat {beat}, and takes {} ms; {times}",
            clash.apart_beats * beat_ms,
            rounded(clash.apart_beats),
            rounded(show.reach_ms),
        )
    });
    let meetings = playing.meetings.iter().map(|meeting| {
        let (left, right) = (name(meeting.left), name(meeting.right));
        let (beat, times) = (rounded(meeting.beat), often(meeting.times));
        match meeting.is_crossed {
            true => format!(
                "the left hand reaches over the right one for \"{left}\" and \"{right}\" at beat {beat}; {times}"
            ),
            false => format!(
                "\"{left}\" and \"{right}\" lie next to each other, and two hands play them at once at beat {beat}: two hands want room between; {times}"
            ),
        }
    });
    let crowds = playing.crowds.iter().map(|crowd| {
        let names: Vec<String> = crowd.controls.iter().map(|&at| format!("\"{}\"", name(at))).collect();
        format!(
            "the {} hand has {} controls within one bar from beat {}, and {FINGERS} fingers: {}",
            crowd.hand.name(),
            crowd.controls.len(),
            rounded(crowd.beat),
            names.join(", ")
        )
    });
    clashes.chain(meetings).chain(crowds).collect()
}

/// The settings that wait for a control which the show does not have, a sentence each.
pub fn missing_controls(show: &Show) -> Vec<String> {
    let is_there = |name: &str| show.controls.iter().any(|control| control.name == name);
    let held = show.all_grips().into_iter().map(|(target, grip)| (grip.control.as_str(), target));
    fired(show)
        .chain(held)
        .filter(|(by, _)| !is_there(by))
        .map(|(by, target)| {
            let at = Address::of(show, target);
            let of = match (&at.effect, &at.scope) {
                (Some(effect), Some(scope)) => format!("`{}` of {effect} on {scope}", at.setting),
                _ => at.said(),
            };
            format!("{of} waits for \"{by}\", a control that the show does not have")
        })
        .collect()
}

fn map_control(show: &Show, at: usize, playing: &Playing, beats: f64) -> MapControl {
    let control: &Control = &show.controls[at];
    let moves = show.grips(&control.name).filter_map(|(target, grip)| {
        let kind = show.target_kind(target)?;
        let word = |value| kind.said(value);
        Some(Moved {
            address: Address::of(show, target),
            low: word(&grip.low),
            high: word(&grip.high),
            curve: grip.curve.name(),
            shape: grip.curve,
            is_word: matches!(kind, Kind::Choice(_)) && grip.low == grip.high,
        })
    });
    let own = playing.plays.iter().filter(|play| play.control == at && play.from < beats);
    let play = |play: &Play| MapPlay { from: play.from, to: play.to, hand: play.hand.name() };
    MapControl {
        name: control.name.clone(),
        colour: control.colour,
        hand: control.hand.name(),
        kind: control.kind.name(),
        key: control.key.map(|key| key.to_string()),
        midi: control.midi.map(|midi| midi.to_string()),
        at: control.at,
        cue: control.cue.as_ref().map(Cue::to_string),
        cue_beats: control.cue.iter().flat_map(|cue| cue.beats(playing.end)).collect(),
        plays: own.map(play).collect(),
        moves: moves.collect(),
        fires: fired(show)
            .filter(|(by, _)| *by == control.name)
            .map(|(_, target)| Address::of(show, target))
            .collect(),
    }
}

/// Every setting with an envelope that a control fires, with that control's name.
fn fired(show: &Show) -> impl Iterator<Item = (&str, Target)> {
    show.scopes().into_iter().flat_map(move |scope: Scope| {
        let chain = show.chain(scope);
        (0..chain.len()).flat_map(move |at| {
            (0..chain[at].effect.settings.len()).filter_map(move |place| {
                let by = chain[at].automation(place).and_then(Automation::fired_by)?;
                Some((by, Target::Setting { scope, at, place }))
            })
        })
    })
}

/// To a thousandth, for reading.
pub(super) fn rounded(beats: f64) -> f64 {
    (beats * 1000.0).round() / 1000.0
}
