//! Envelopes: up, held, down.

use std::fmt;

use super::{AutomationError, FIRED_BEATS, HAIR, PART_BEATS, PERIOD_BEATS, check_count, check_range};

/// A rise, a hold and a fall, begun by something.
#[derive(Debug, Clone, PartialEq)]
pub struct Envelope {
    /// Beats in which it rises from 0 to 1, straight.
    pub attack_beats: f64,
    /// Beats for which it stays at 1.
    pub hold_beats: f64,
    /// Beats in which it falls from 1 to 0, straight.
    pub decay_beats: f64,
    /// What begins it.
    pub fired: Fired,
}

/// What begins an envelope.
#[derive(Debug, Clone, PartialEq)]
pub enum Fired {
    /// The beat, again and again.
    Every {
        /// Beats from one to the next.
        beats: f64,
        /// The first, in beats after 0.
        offset: f64,
    },
    /// These beats, each once.
    At(Vec<f64>),
    /// The control with this name. A show without hands on it never fires it.
    By(String),
}

/// "every 4 beats", "at beats 0 3.5", "by Kick".
impl fmt::Display for Fired {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Every { beats: 1.0, .. } => f.write_str("every beat"),
            Self::Every { beats, .. } => write!(f, "every {beats} beats"),
            Self::At(beats) => {
                let beats: Vec<String> = beats.iter().map(f64::to_string).collect();
                write!(f, "at beats {}", beats.join(" "))
            }
            Self::By(control) => write!(f, "by {control}"),
        }
    }
}

impl Envelope {
    /// Its height, 0..1, at a beat: the highest of all that were begun, so that it never falls because it is begun again.
    pub fn at(&self, beats: f64) -> f64 {
        match &self.fired {
            Fired::Every { beats: every, offset } => {
                // Since the last was begun; the ones before it began whole repeats earlier. Highest are the last
                // one, which rises, and among those that are held or fall the latest, which is the first past its attack.
                let turns = (beats - offset) / every;
                let last =
                    if (turns - turns.round()).abs() < HAIR { 0.0 } else { (turns - turns.floor()) * every };
                let past_attack = ((self.attack_beats - last) / every).ceil().max(0.0);
                let rising = ((self.attack_beats - last) / every).floor().max(0.0);
                [0.0, rising, past_attack]
                    .map(|repeats| self.height(last + repeats * every))
                    .into_iter()
                    .fold(0.0, f64::max)
            }
            Fired::At(begun) => begun.iter().map(|begun| self.height(beats - begun)).fold(0.0, f64::max),
            Fired::By(_) => 0.0,
        }
    }

    /// Its height this many beats after it was begun; 0 before.
    fn height(&self, since: f64) -> f64 {
        if since < -HAIR {
            return 0.0;
        }
        if since < self.attack_beats {
            return since.max(0.0) / self.attack_beats;
        }
        let falling = since - self.attack_beats - self.hold_beats;
        if falling < 0.0 || (falling == 0.0 && self.decay_beats > 0.0) {
            1.0
        } else if falling < self.decay_beats {
            1.0 - falling / self.decay_beats
        } else {
            0.0
        }
    }

    pub(super) fn check(&self) -> Result<(), AutomationError> {
        check_range("an attack", self.attack_beats, PART_BEATS)?;
        check_range("a hold", self.hold_beats, PART_BEATS)?;
        check_range("a decay", self.decay_beats, PART_BEATS)?;
        if self.attack_beats + self.hold_beats + self.decay_beats <= 0.0 {
            return Err(AutomationError::Empty);
        }
        match &self.fired {
            Fired::Every { beats, offset } => {
                check_range("a repeat", *beats, PERIOD_BEATS)?;
                check_range("an offset", *offset, PART_BEATS)
            }
            Fired::At(beats) => {
                check_count("beats to be fired at", beats.len(), 1)?;
                beats.iter().try_for_each(|beat| check_range("a beat to be fired at", *beat, FIRED_BEATS))
            }
            Fired::By(_) => Ok(()),
        }
    }
}
