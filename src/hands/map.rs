//! The map of a show's controls: which does what, for which hand, key and MIDI.

use serde::Serialize;

use crate::base::coding::ColourCode;
use crate::show::automation::{Automation, Fired};
use crate::show::chain::labels;
use crate::show::clash::clashes;
use crate::show::control::{Control, Curve};
use crate::show::cue::Cue;
use crate::show::{Scope, Show};

/// The map of a show, in words.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Map {
    /// The show's name.
    pub show: String,
    /// Beats per minute.
    pub tempo_bpm: f64,
    /// How long a beat lasts, in milliseconds.
    pub beat_ms: f64,
    /// Frames per second, as they are written.
    pub rate: String,
    /// Every control, in the order of the file.
    pub control: Vec<MapControl>,
    /// What hands cannot do, and what is missing.
    pub warning: Vec<String>,
}

/// One control of a map.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MapControl {
    pub name: String,
    /// The colour by which the person tells it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub colour: Option<ColourCode>,
    /// `left` or `right`.
    pub hand: &'static str,
    /// `momentary`, `latching` or `continuous`.
    pub kind: &'static str,
    /// The key that plays it.
    pub key: Option<String>,
    /// What plays it through MIDI.
    pub midi: Option<String>,
    /// When it is meant to be played, in words.
    pub cue: Option<String>,
    /// The beats of its cue below 256.
    pub cue_beats: Vec<f64>,
    /// The settings that it moves.
    pub moves: Vec<Moved>,
    /// The settings whose envelopes it fires.
    pub fires: Vec<Address>,
}

/// A setting by its scope, effect and label.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Address {
    /// The scope's address.
    pub scope: String,
    /// The effect, with its place among its twins.
    pub effect: String,
    /// The setting's key in files.
    pub setting: String,
}

/// A setting that a control moves.
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
}

impl Map {
    /// The map of a show.
    pub fn of(show: &Show) -> Self {
        let beat_ms = 60_000.0 / show.tempo_bpm;
        let control: Vec<MapControl> = show.controls.iter().map(|c| map_control(show, c)).collect();
        let name = |at: usize| &show.controls[at].name;
        let mut warning: Vec<String> = clashes(&show.controls)
            .iter()
            .map(|clash| {
                let apart = match clash.apart_beats {
                    0.0 => "at once".to_owned(),
                    beats => format!("{} beats ({:.0} ms) apart", rounded(beats), beats * beat_ms),
                };
                format!(
                    "the {} hand plays \"{}\" and \"{}\" {apart} at beat {}, within one beat ({beat_ms:.1} ms); {} in 256 beats",
                    clash.hand.name(),
                    name(clash.first),
                    name(clash.then),
                    rounded(clash.beat),
                    if clash.times == 1 { "once".to_owned() } else { format!("{} times", clash.times) },
                )
            })
            .collect();
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
            beat_ms,
            rate: show.rate.to_string(),
            control,
            warning,
        }
    }
}

/// The settings that wait for a control which the show does not have, a sentence each.
pub fn missing_controls(show: &Show) -> Vec<String> {
    let is_there = |name: &str| show.controls.iter().any(|control| control.name == name);
    let gripped = show.scopes().into_iter().flat_map(move |scope| {
        let chain = show.chain(scope);
        (0..chain.len()).flat_map(move |at| {
            (0..chain[at].effect.settings.len()).filter_map(move |place| {
                Some((chain[at].grip(place)?.control.as_str(), address(show, scope, at, place)))
            })
        })
    });
    fired(show)
        .chain(gripped)
        .filter(|(by, _)| !is_there(by))
        .map(|(by, at)| {
            format!(
                "`{}` of {} on {} waits for \"{by}\", a control that the show does not have",
                at.setting, at.effect, at.scope
            )
        })
        .collect()
}

fn map_control(show: &Show, control: &Control) -> MapControl {
    let moves = show.grips(&control.name).filter_map(|(scope, at, place)| {
        let used = &show.chain(scope)[at];
        let grip = used.grip(place)?;
        let kind = &used.effect.settings[place].kind;
        let word = |value| kind.written(value).trim_matches('"').to_owned();
        Some(Moved {
            address: address(show, scope, at, place),
            low: word(&grip.low),
            high: word(&grip.high),
            curve: grip.curve.name(),
            shape: grip.curve,
        })
    });
    MapControl {
        name: control.name.clone(),
        colour: control.colour,
        hand: control.hand.name(),
        kind: control.kind.name(),
        key: control.key.map(|key| key.to_string()),
        midi: control.midi.map(|midi| midi.to_string()),
        cue: control.cue.as_ref().map(Cue::to_string),
        cue_beats: control.cue.iter().flat_map(Cue::horizon).collect(),
        moves: moves.collect(),
        fires: fired(show).filter(|(by, _)| *by == control.name).map(|(_, at)| at).collect(),
    }
}

/// Every setting with an envelope that a control fires, with that control's name.
fn fired(show: &Show) -> impl Iterator<Item = (&str, Address)> {
    show.scopes().into_iter().flat_map(move |scope| {
        let chain = show.chain(scope);
        (0..chain.len()).flat_map(move |at| {
            (0..chain[at].effect.settings.len()).filter_map(move |place| {
                match chain[at].automation(place)? {
                    Automation::Envelope { envelope, .. } => match &envelope.fired {
                        Fired::By(control) => Some((control.as_str(), address(show, scope, at, place))),
                        _ => None,
                    },
                    _ => None,
                }
            })
        })
    })
}

fn address(show: &Show, scope: Scope, at: usize, place: usize) -> Address {
    let chain = show.chain(scope);
    Address {
        scope: show.address(scope),
        effect: labels(chain)[at].clone(),
        setting: chain[at].effect.settings[place].name.clone(),
    }
}

/// To a thousandth, for reading.
pub(super) fn rounded(beats: f64) -> f64 {
    (beats * 1000.0).round() / 1000.0
}
