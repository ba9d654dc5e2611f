//! `underover edit control`: what hands play, changed as the window does it.

use clap::{Args, Subcommand};

use super::WrongWords;
use super::edited::{OfShow, colour_named, scope_named};
use crate::base::place::{did_you_mean, listed, shortened};
use crate::catalogue::{Kind, Value};
use crate::edit::{Edit, TimeEdit};
use crate::midi::Binding;
use crate::show::chain::labels;
use crate::show::control::{Control, ControlKind, Curve, Grip, Hand, MOST_PLACES};
use crate::show::cue::Cue;
use crate::show::{Show, Target};

#[derive(Debug, Subcommand)]
pub(super) enum ControlChange {
    /// Adds a control; it moves nothing yet
    #[command(
        after_help = "Example:\n  underover edit control add preset:landfall Lamp --hand left --kind latching --key L --out friday.toml"
    )]
    Add(Add),
    /// Name, hand, kind, key, MIDI, place, cue, colour of a control
    #[command(
        after_help = "Examples:\n  underover edit control set friday.toml Lamp --hand either --at 3,1 --out friday.toml\n  underover edit control set friday.toml Lamp --cue 0,6 --every 16 --length 2 --out friday.toml"
    )]
    Set(Set),
    /// Gives a control hold of a setting, a switch, an opacity, a clip or the section
    #[command(after_help = "\
Examples:
  underover edit control hold friday.toml Lamp --scope bundle:picture --effect tint --setting amount --from 0 --to 1 --out friday.toml
  underover edit control hold friday.toml Lamp --scope bundle:picture --effect mirror --setting on --to on --out friday.toml
  underover edit control hold friday.toml Lamp --scope level:picture/sea --setting opacity --from 0 --to 1 --out friday.toml
  underover edit control hold friday.toml Lamp --scope level:picture/sea --setting showing --to waves --out friday.toml
  underover edit control hold friday.toml Lamp --setting section --to next --out friday.toml")]
    Hold(Hold),
    /// Has a control let go of something
    #[command(
        after_help = "Example:\n  underover edit control release friday.toml Lamp --scope level:picture/sea --setting opacity --out friday.toml"
    )]
    Release(Release),
    /// Takes a control out; what it holds is as the show has it
    #[command(after_help = "Example:\n  underover edit control remove friday.toml Lamp --out friday.toml")]
    Remove(Of),
    /// How long a hand takes from one control to another, in milliseconds
    #[command(after_help = "Example:\n  underover edit control reach friday.toml 300 --out friday.toml")]
    Reach(Reach),
}

#[derive(Debug, Args)]
pub(super) struct Add {
    #[command(flatten)]
    show: OfShow,
    /// Its name
    control: String,
    /// The hand that plays it
    #[arg(long)]
    hand: Hand,
    /// How it answers
    #[arg(long)]
    kind: ControlKind,
    #[command(flatten)]
    says: Says,
}

#[derive(Debug, Args)]
pub(super) struct Set {
    #[command(flatten)]
    show: OfShow,
    /// The control
    control: String,
    /// Another name
    #[arg(long)]
    name: Option<String>,
    /// The hand that plays it
    #[arg(long)]
    hand: Option<Hand>,
    /// How it answers
    #[arg(long)]
    kind: Option<ControlKind>,
    #[command(flatten)]
    says: Says,
}

/// What a control says.
#[derive(Debug, Args)]
struct Says {
    /// The key that plays it, A to Z or 0 to 9, or `none`
    #[arg(long)]
    key: Option<String>,
    /// What plays it: note:CHANNEL:NUMBER, controller:CHANNEL:NUMBER, controller14:CHANNEL:NUMBER, bend:CHANNEL, or `none`
    #[arg(long)]
    midi: Option<String>,
    /// Where it lies on the device, COLUMN,ROW from 1, or `none`
    #[arg(long, value_name = "COLUMN,ROW")]
    at: Option<String>,
    /// The beats at which it is meant to be played, such as 0,6.5, or `none`
    #[arg(long, value_name = "BEATS")]
    cue: Option<String>,
    /// The beats after which those of --cue come again
    #[arg(long, value_name = "BEATS", requires = "cue")]
    every: Option<f64>,
    /// How many beats it is held, or moved, from each on
    #[arg(long, value_name = "BEATS", requires = "cue")]
    length: Option<f64>,
    /// What it is told by: an Okabe-Ito name such as sky-blue, #rrggbb, or `none`
    #[arg(long)]
    colour: Option<String>,
}

#[derive(Debug, Args)]
pub(super) struct Hold {
    #[command(flatten)]
    show: OfShow,
    /// The control
    control: String,
    #[command(flatten)]
    what: What,
    /// The value where the control stands at 0; of words, a button needs none
    #[arg(long, value_name = "VALUE", allow_hyphen_values = true)]
    from: Option<String>,
    /// The value where it stands at 1
    #[arg(long, value_name = "VALUE", allow_hyphen_values = true)]
    to: String,
    /// How it goes from one to the other
    #[arg(long, default_value = "linear")]
    curve: Curve,
}

#[derive(Debug, Args)]
pub(super) struct Release {
    #[command(flatten)]
    show: OfShow,
    /// The control
    control: String,
    #[command(flatten)]
    what: What,
}

/// What a control moves.
#[derive(Debug, Args)]
struct What {
    /// Whose: global, bundle:NAME, level:BUNDLE/LEVEL or clip:BUNDLE/LEVEL/CLIP; without it the show's
    #[arg(long, value_name = "SCOPE")]
    scope: Option<String>,
    /// The effect there, by its name or its place from 1; without it the scope's own
    #[arg(long, value_name = "EFFECT", requires = "scope")]
    effect: Option<String>,
    /// A setting of the effect, or `on`; `opacity` or `showing` of the scope; `section` of the show
    #[arg(long, value_name = "SETTING")]
    setting: String,
}

#[derive(Debug, Args)]
pub(super) struct Of {
    #[command(flatten)]
    show: OfShow,
    /// The control
    control: String,
}

#[derive(Debug, Args)]
pub(super) struct Reach {
    #[command(flatten)]
    show: OfShow,
    /// Milliseconds
    ms: f64,
}

impl ControlChange {
    pub(super) fn show(&self) -> &OfShow {
        match self {
            Self::Add(add) => &add.show,
            Self::Set(set) => &set.show,
            Self::Hold(hold) => &hold.show,
            Self::Release(release) => &release.show,
            Self::Remove(of) => &of.show,
            Self::Reach(reach) => &reach.show,
        }
    }

    pub(super) fn edit(&self, show: &Show) -> Result<Edit, WrongWords> {
        let mut controls = show.controls.clone();
        Ok(Edit::Time(match self {
            Self::Add(add) => {
                let mut control = Control::of(&add.control, add.hand, add.kind);
                add.says.say(&mut control)?;
                controls.push(control);
                TimeEdit::Controls(controls)
            }
            Self::Set(set) => {
                let at = control_named(&set.control, show)?;
                let control = &mut controls[at];
                control.name = set.name.clone().unwrap_or_else(|| control.name.clone());
                control.hand = set.hand.unwrap_or(control.hand);
                control.kind = set.kind.unwrap_or(control.kind);
                set.says.say(control)?;
                if controls == show.controls {
                    return Err(WrongWords(
                        "say what is to be other: --name, --hand, --kind, --key, --midi, --at, --cue or --colour"
                            .to_owned(),
                    ));
                }
                TimeEdit::Controls(controls)
            }
            Self::Remove(of) => {
                controls.remove(control_named(&of.control, show)?);
                TimeEdit::Controls(controls)
            }
            Self::Hold(hold) => {
                let control = &show.controls[control_named(&hold.control, show)?];
                let target = hold.what.target(show)?;
                let kind =
                    show.target_kind(target).ok_or_else(|| WrongWords("it is no longer there".to_owned()))?;
                let high = value("--to", &hold.to, target, &kind)?;
                let low = match &hold.from {
                    Some(from) => value("--from", from, target, &kind)?,
                    None if matches!(kind, Kind::Choice(_)) && control.kind != ControlKind::Continuous => {
                        high.clone()
                    }
                    None if target == Target::Section => high.clone(),
                    None => {
                        return Err(WrongWords(format!("--from: say where it begins; {}", kind.allowed())));
                    }
                };
                let grip = Grip { control: control.name.clone(), low, high, curve: hold.curve };
                TimeEdit::Hold { target, grip: Box::new(grip) }
            }
            Self::Release(release) => {
                let control = &show.controls[control_named(&release.control, show)?].name;
                let target = release.what.target(show)?;
                if !show.grips_on(target).into_iter().any(|grip| grip.control == *control) {
                    let of = show.target_said(target);
                    return Err(WrongWords(format!(
                        "{control} does not hold {of}; `underover hands` says what it does"
                    )));
                }
                TimeEdit::LetGo { target, control: control.clone() }
            }
            Self::Reach(reach) => TimeEdit::Reach(reach.ms),
        }))
    }
}

/// A control, by its name.
fn control_named(name: &str, show: &Show) -> Result<usize, WrongWords> {
    let known = || show.controls.iter().map(|control| control.name.as_str());
    known().position(|known| known == name).ok_or_else(|| {
        let name = shortened(name);
        WrongWords(match show.controls.len() {
            0 => format!("CONTROL {name}: the show has no controls; `underover edit control add` adds one"),
            _ => format!(
                "CONTROL {name}: there is no control of that name{} (the show has {})",
                did_you_mean(&name, known()),
                listed(known())
            ),
        })
    })
}

/// A value as a command line has it.
fn value(option: &str, written: &str, target: Target, kind: &Kind) -> Result<Value, WrongWords> {
    let word = match (target, written) {
        (Target::Switch { .. }, "true") => "on",
        (Target::Switch { .. }, "false") => "off",
        (_, word) => word,
    };
    let found = match word.parse::<f64>() {
        Ok(number) if !matches!(kind, Kind::Choice(_)) => kind.number(number),
        _ => kind.word(word),
    };
    found.map_err(|error| WrongWords(format!("{option} {written}: it {error}")))
}

impl What {
    fn target(&self, show: &Show) -> Result<Target, WrongWords> {
        let scope = self.scope.as_ref().map(|scope| scope_named("--scope", scope, show)).transpose()?;
        let effect = match (&self.effect, scope) {
            (Some(effect), Some(scope)) => {
                let labels = labels(show.chain(scope));
                let place = effect.parse::<usize>().ok().and_then(|place| place.checked_sub(1));
                let at =
                    labels.iter().position(|label| label == effect).or(place.filter(|at| *at < labels.len()));
                let known = || labels.iter().map(String::as_str);
                Some(at.ok_or_else(|| {
                    let hint = did_you_mean(&shortened(effect), known());
                    WrongWords(format!(
                        "--effect {effect}: the chain there has no such effect{hint} (it has {})",
                        listed(known())
                    ))
                })?)
            }
            _ => None,
        };
        Target::named(show, scope, effect, &self.setting).ok_or_else(|| {
            let keys = Target::keys(show, scope, effect);
            let hint = did_you_mean(&shortened(&self.setting), keys.iter().copied());
            let also = if effect.is_none() && scope.is_some() {
                "; of an effect, name it with --effect"
            } else {
                ""
            };
            WrongWords(format!(
                "--setting {}: there is no such thing to move{hint} (there is {}{also})",
                self.setting,
                listed(keys.iter().copied())
            ))
        })
    }
}

impl Says {
    fn say(&self, control: &mut Control) -> Result<(), WrongWords> {
        let none = |text: &str| text == "none";
        if let Some(key) = &self.key {
            let wrong = || WrongWords(format!("--key {key}: it takes one of A to Z and 0 to 9, or `none`"));
            control.key = if none(key) { None } else { Some(key.parse().map_err(|()| wrong())?) };
        }
        if let Some(midi) = &self.midi {
            let wrong = || {
                WrongWords(format!(
                    "--midi {midi}: it takes note:CHANNEL:NUMBER, controller:CHANNEL:NUMBER, controller14:CHANNEL:NUMBER, bend:CHANNEL, or `none`; channels are 1 to 16"
                ))
            };
            control.midi = if none(midi) { None } else { Some(binding(midi).ok_or_else(wrong)?) };
        }
        if let Some(at) = &self.at {
            let place = || {
                let (column, row) = at.split_once(',')?;
                let number =
                    |text: &str| text.trim().parse().ok().filter(|place| (1..=MOST_PLACES).contains(place));
                Some([number(column)?, number(row)?])
            };
            let wrong =
                || WrongWords(format!("--at {at}: it takes COLUMN,ROW, each 1 to {MOST_PLACES}, or `none`"));
            control.at = if none(at) { None } else { Some(place().ok_or_else(wrong)?) };
        }
        if let Some(cue) = &self.cue {
            let beats = cue.split([',', ' ']).filter(|beat| !beat.is_empty()).map(str::parse::<f64>);
            let beats = beats.collect::<Result<Vec<f64>, _>>().ok().filter(|beats| !beats.is_empty());
            let wrong = || WrongWords(format!("--cue {cue}: it takes beats such as 0,6.5, or `none`"));
            control.cue = match none(cue) {
                true => None,
                false => Some(Cue { at: beats.ok_or_else(wrong)?, every: self.every, length: self.length }),
            };
        }
        if let Some(colour) = &self.colour {
            control.colour = colour_named(colour)?;
        }
        Ok(())
    }
}

/// What plays a control through MIDI, as a command line has it.
fn binding(text: &str) -> Option<Binding> {
    let mut parts = text.split(':');
    let kind = parts.next()?;
    let numbers: Vec<u8> = parts.map(|part| part.parse().ok()).collect::<Option<_>>()?;
    let (&channel, rest) = numbers.split_first()?;
    if !(1..=16).contains(&channel) {
        return None;
    }
    match (kind, rest) {
        ("note", &[note @ 0..=127]) => Some(Binding::Note { channel, note }),
        ("controller", &[number @ 0..=119]) => {
            Some(Binding::Controller { channel, number, is_14_bit: false })
        }
        ("controller14", &[number @ 0..=31]) => {
            Some(Binding::Controller { channel, number, is_14_bit: true })
        }
        ("bend", []) => Some(Binding::Bend { channel }),
        _ => None,
    }
}
