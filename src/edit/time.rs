//! Changes to what moves with the beat and what hands hold.

use super::controls::follow;
use super::error::{EditError, check_range};
use super::history::RunKey;
use super::spot::{Spot, has, used_at, used_at_mut};
use crate::beat::FrameRate;
use crate::show::automation::{Automation, FIRED_BEATS, PERIOD_BEATS};
use crate::show::chain::EffectUse;
use crate::show::control::{Control, Grip, REACH_MS};
use crate::show::cue::{Cue, LENGTH_BEATS, MOST_CUED};
use crate::show::name::check_name;
use crate::show::{Scope, Show, Target, control};

/// One change to the time side of a show.
#[derive(Debug, Clone, PartialEq)]
pub enum TimeEdit {
    /// Lets a setting move with the beat; without an automation it keeps its value at beat 0.
    Automate {
        /// The effect.
        spot: Spot,
        /// The setting's place in the effect's declaration.
        setting: usize,
        /// How it moves.
        automation: Option<Box<Automation>>,
    },
    /// Gives a control hold of something; of what only one control holds, in place of the one that held it.
    Hold {
        /// What it moves.
        target: Target,
        /// Between which values, and which control.
        grip: Box<Grip>,
    },
    /// Has a control let go of something.
    LetGo {
        /// What it moves.
        target: Target,
        /// The control's name.
        control: String,
    },
    /// Replaces the controls. As many as before keep what they hold, under their new names; otherwise
    /// what a control held that is gone is let go, and an envelope that it fired stays at rest.
    Controls(Vec<Control>),
    /// Gives controls, by their places, cues, or none.
    Cues(Vec<(usize, Option<Cue>)>),
    /// Says how long a hand takes from one control to another, in milliseconds.
    Reach(f64),
    /// Sets the frame rate.
    Rate(FrameRate),
}

impl TimeEdit {
    /// Changes that follow each other under one key are one step.
    pub(super) fn run_key(&self) -> Option<RunKey> {
        match self {
            Self::Automate { spot, setting, automation: Some(_) } => Some(RunKey::Automate(*spot, *setting)),
            Self::Hold { target, .. } => Some(RunKey::Hold(*target)),
            Self::Reach(_) => Some(RunKey::Reach),
            _ => None,
        }
    }

    /// What the step is called.
    pub(super) fn name(&self, show: &Show) -> Result<String, EditError> {
        let label = |spot: &Spot, setting: &usize| -> Result<String, EditError> {
            let effect = &used_at(show, *spot)?.effect;
            let setting = effect.settings.get(*setting).ok_or(EditError::Gone)?;
            Ok(format!("{}: {}", effect.name, setting.label))
        };
        Ok(match self {
            Self::Automate { spot, setting, automation: Some(automation) } => {
                format!("{} {}", label(spot, setting)?, automation.shape())
            }
            Self::Automate { spot, setting, automation: None } => {
                format!("{}: motion none", label(spot, setting)?)
            }
            Self::Hold { target, grip } => format!("{}: control {}", held_said(show, *target)?, grip.control),
            Self::LetGo { target, control } => {
                format!("{}: without control {control}", held_said(show, *target)?)
            }
            Self::Controls(_) => "Controls".to_owned(),
            Self::Cues(cues) => match &cues[..] {
                [(at, cue)] => {
                    let name = &show.controls.get(*at).ok_or(EditError::Gone)?.name;
                    format!("{} for {name}", if cue.is_some() { "A cue" } else { "No cue" })
                }
                cues => format!("Cues for {} controls", cues.len()),
            },
            Self::Reach(reach) => format!("{reach} ms from one control to another"),
            Self::Rate(rate) => format!("{rate} frames per second"),
        })
    }

    pub(super) fn apply(&self, show: &mut Show) -> Result<(), EditError> {
        let setting_of = |used: &EffectUse, setting: usize| {
            used.effect.settings.get(setting).map(|s| s.name.clone()).ok_or(EditError::Gone)
        };
        match self {
            Self::Automate { spot, setting, automation } => {
                let used = used_at_mut(show, *spot)?;
                let name = setting_of(used, *setting)?;
                match automation {
                    Some(automation) => used
                        .automate(*setting, (**automation).clone())
                        .map_err(|why| EditError::Automation { setting: name, why }),
                    None => {
                        used.stand(*setting);
                        Ok(())
                    }
                }
            }
            Self::Hold { target, grip } => {
                if !show.controls.iter().any(|control| control.name == grip.control) {
                    return Err(EditError::Gone);
                }
                there(show, *target)?;
                let name = target.key(show).to_owned();
                show.hold(*target, (**grip).clone())
                    .map_err(|why| EditError::Automation { setting: name, why })
            }
            Self::LetGo { target, control } => {
                there(show, *target)?;
                show.let_go(*target, control);
                Ok(())
            }
            Self::Controls(controls) => {
                control::check(controls).map_err(|error| EditError::Name(error.to_string()))?;
                controls.iter().filter_map(|control| control.cue.as_ref()).try_for_each(check_cue)?;
                controls.iter().try_for_each(|control| check_name(&control.name))?;
                follow(show, controls);
                show.controls.clone_from(controls);
                Ok(())
            }
            Self::Cues(cues) => {
                for (at, cue) in cues {
                    if let Some(cue) = cue {
                        check_cue(cue)?;
                    }
                    show.controls.get_mut(*at).ok_or(EditError::Gone)?.cue.clone_from(cue);
                }
                Ok(())
            }
            Self::Reach(reach) => {
                check_range("the reach", *reach, REACH_MS)?;
                show.reach_ms = *reach;
                Ok(())
            }
            Self::Rate(rate) => {
                show.rate = *rate;
                Ok(())
            }
        }
    }
}

/// Refuses a cue that no file could hold.
fn check_cue(cue: &Cue) -> Result<(), EditError> {
    if cue.at.is_empty() || cue.at.len() > MOST_CUED {
        return Err(EditError::Name(format!(
            "a cue lists 1 to {MOST_CUED} beats, and this one {}",
            cue.at.len()
        )));
    }
    cue.at.iter().try_for_each(|&beat| check_range("the beat of a cue", beat, FIRED_BEATS))?;
    cue.every.map_or(Ok(()), |every| check_range("the round of a cue", every, PERIOD_BEATS))?;
    cue.length.map_or(Ok(()), |length| check_range("the length of a cue", length, LENGTH_BEATS))
}

/// Something that is moved, as the name of a step has it.
fn held_said(show: &Show, target: Target) -> Result<String, EditError> {
    there(show, target)?;
    Ok(match target {
        Target::Setting { scope, at, place } => {
            let effect = &show.chain(scope)[at].effect;
            format!("{}: {}", effect.name, effect.settings[place].label)
        }
        Target::Switch { .. } | Target::Section => show.target_said(target),
        Target::Opacity(scope) => format!("{}: opacity", show.address(scope)),
        Target::Showing([b, l]) => format!("{}: clip", show.address(Scope::Level(b, l))),
    })
}

/// Refuses something that is no longer in the show.
fn there(show: &Show, target: Target) -> Result<(), EditError> {
    let is_there = target.scope().is_none_or(|scope| has(show, scope))
        && match target {
            Target::Opacity(scope) => matches!(scope, Scope::Bundle(_) | Scope::Level(..)),
            Target::Switch { scope, at } => at < show.chain(scope).len(),
            target => show.target_kind(target).is_some(),
        };
    if is_there { Ok(()) } else { Err(EditError::Gone) }
}
