//! Changes to what moves with the beat and what hands hold.

use super::error::EditError;
use super::history::RunKey;
use super::spot::{Spot, used_at, used_at_mut};
use crate::beat::FrameRate;
use crate::show::automation::{Automation, Fired};
use crate::show::chain::EffectUse;
use crate::show::control::{Control, Grip};
use crate::show::{Show, control};

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
    /// Gives a control hold of a setting, or takes the hold away.
    Hold {
        /// The effect.
        spot: Spot,
        /// The setting's place in the effect's declaration.
        setting: usize,
        /// What it holds, and which control.
        grip: Option<Box<Grip>>,
    },
    /// Replaces the controls. As many as before keep what they hold, under their new names; otherwise
    /// what a control held that is gone is let go, and an envelope that it fired stays at rest.
    Controls(Vec<Control>),
    /// Sets the frame rate.
    Rate(FrameRate),
}

impl TimeEdit {
    /// Changes that follow each other under one key are one step.
    pub(super) fn run_key(&self) -> Option<RunKey> {
        match self {
            Self::Automate { spot, setting, automation: Some(_) } => Some(RunKey::Automate(*spot, *setting)),
            Self::Hold { spot, setting, grip: Some(_) } => Some(RunKey::Hold(*spot, *setting)),
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
            Self::Hold { spot, setting, grip: Some(grip) } => {
                format!("{}: control {}", label(spot, setting)?, grip.control)
            }
            Self::Hold { spot, setting, grip: None } => format!("{}: control none", label(spot, setting)?),
            Self::Controls(_) => "Controls".to_owned(),
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
            Self::Hold { spot, setting, grip } => {
                if let Some(grip) = grip
                    && !show.controls.iter().any(|control| control.name == grip.control)
                {
                    return Err(EditError::Gone);
                }
                let used = used_at_mut(show, *spot)?;
                let name = setting_of(used, *setting)?;
                used.hold(*setting, grip.as_deref().cloned())
                    .map_err(|why| EditError::Automation { setting: name, why })
            }
            Self::Controls(controls) => {
                control::check(controls).map_err(|error| EditError::Name(error.to_string()))?;
                follow(show, controls);
                show.controls.clone_from(controls);
                Ok(())
            }
            Self::Rate(rate) => {
                show.rate = *rate;
                Ok(())
            }
        }
    }
}

/// Lets grips and envelopes follow the new list of controls.
fn follow(show: &mut Show, controls: &[Control]) {
    let before = std::mem::take(&mut show.controls);
    let now = |name: &str| -> Option<String> {
        if before.len() == controls.len() {
            let at = before.iter().position(|control| control.name == name)?;
            return Some(controls[at].name.clone());
        }
        controls.iter().find(|control| control.name == name).map(|control| control.name.clone())
    };
    let was_there = |name: &str| before.iter().any(|control| control.name == name);
    for scope in show.scopes() {
        for used in show.chain_mut(scope) {
            for place in 0..used.effect.settings.len() {
                if let Some(grip) = used.grip(place).cloned() {
                    let grip = now(&grip.control).map(|control| Grip { control, ..grip });
                    // What the setting took, it takes under another name.
                    used.hold(place, grip).ok();
                }
                let Some(Automation::Envelope { mut envelope, low, high }) = used.automation(place).cloned()
                else {
                    continue;
                };
                let Fired::By(control) = &envelope.fired else { continue };
                if !was_there(control) {
                    continue;
                }
                match now(control) {
                    Some(control) => {
                        envelope.fired = Fired::By(control);
                        used.automate(place, Automation::Envelope { envelope, low, high }).ok();
                    }
                    None => used.stand(place),
                }
            }
        }
    }
}
