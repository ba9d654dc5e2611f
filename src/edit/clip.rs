//! Changes to one clip: its footage, where it lies in the frame, how it plays, whether it shows.

use super::error::{EditError, check_range};
use super::history::RunKey;
use super::spot::{address_of, clip_of, level_of};
use crate::show::clip::{Fit, FootageName, Pace, Play};
use crate::show::{ClipPlace, Show};

/// One change to a clip.
#[derive(Debug, Clone, PartialEq)]
pub enum ClipEdit {
    /// Gives it other footage.
    Footage(FootageName),
    /// Places its footage another way in the frame.
    Fit(Fit),
    /// Plays its footage another way; generated footage runs by the beat and takes none.
    Play(Play),
    /// Lets it show on its level; it is hidden no more.
    Show,
}

impl ClipEdit {
    /// Changes that follow each other under one key are one step.
    pub(super) fn run_key(&self, place: ClipPlace) -> Option<RunKey> {
        matches!(self, Self::Play(_)).then_some(RunKey::Play(place))
    }

    /// What the step is called.
    pub(super) fn name(&self, show: &Show, place: ClipPlace) -> Result<String, EditError> {
        let address = address_of(show, place)?;
        Ok(match self {
            Self::Footage(footage) => format!("Footage {footage} for {address}"),
            Self::Fit(fit) => format!("Size in frame of {address}: {}", fit.name()),
            Self::Play(_) => format!("Play {}", show.clip(place).ok_or(EditError::Gone)?.name),
            Self::Show => format!("Show {address}"),
        })
    }

    pub(super) fn apply(&self, show: &mut Show, place: ClipPlace) -> Result<(), EditError> {
        let clip = clip_of(show, place)?;
        match self {
            Self::Footage(footage) => {
                clip.footage = footage.clone();
                // What is not played from a file takes no word of how it is played.
                if !matches!(footage, FootageName::File { .. }) {
                    clip.play = Play::default();
                }
            }
            Self::Fit(fit) => clip.fit = *fit,
            Self::Play(play) => {
                check_play(play)?;
                if !matches!(clip.footage, FootageName::File { .. }) {
                    return Err(EditError::Gone);
                }
                clip.play = *play;
            }
            Self::Show => {
                clip.hidden = false;
                level_of(show, place.bundle, place.level)?.showing = place.clip;
            }
        }
        Ok(())
    }
}

/// Refuses what a show file could not hold.
fn check_play(play: &Play) -> Result<(), EditError> {
    match play.pace {
        Pace::Speed(speed) => check_range("the speed", speed, Play::SPEED)?,
        Pace::LoopBeats(beats) => check_range("the loop", beats, Play::LOOP_BEATS)?,
    }
    check_range("the in point", play.in_secs, Play::SECS)?;
    let [_, longest] = Play::SECS;
    match play.out_secs {
        // The out point lies after the in point.
        Some(out) if out <= play.in_secs => {
            check_range("the out point", out, [play.in_secs.next_up(), longest])
        }
        Some(out) => check_range("the out point", out, Play::SECS),
        None => Ok(()),
    }
}
