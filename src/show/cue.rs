//! When controls are meant to be played, and where that is more than hands can do.

use super::control::{Control, Hand};

/// Beats over which cues are laid out to be compared.
const HORIZON_BEATS: f64 = 256.0;

/// The beats at which a control is meant to be played.
#[derive(Debug, Clone, PartialEq)]
pub struct Cue {
    /// Beats, each at least 0.
    pub at: Vec<f64>,
    /// The beats after which they come again; once only where there is none.
    pub every: Option<f64>,
}

impl Cue {
    /// The beats of the cue below `end`, in order.
    pub fn beats(&self, end: f64) -> Vec<f64> {
        let mut beats: Vec<f64> = match self.every {
            None => self.at.clone(),
            Some(every) => {
                let rounds = (end / every).ceil().max(0.0) as u32;
                let round = |round: u32| self.at.iter().map(move |at| at % every + f64::from(round) * every);
                (0..rounds).flat_map(round).collect()
            }
        };
        beats.retain(|&beat| beat < end);
        beats.sort_by(f64::total_cmp);
        beats
    }

    /// The beats of the cue below 256.
    pub fn horizon(&self) -> Vec<f64> {
        self.beats(HORIZON_BEATS)
    }

    /// "at beats 0 8 of every 16", "at beat 12".
    pub fn said(&self) -> String {
        let at: Vec<String> = self.at.iter().map(f64::to_string).collect();
        let at = format!("at beat{} {}", if at.len() == 1 { "" } else { "s" }, at.join(" "));
        match self.every {
            Some(every) => format!("{at} of every {every}"),
            None => at,
        }
    }
}

/// Two controls that one hand is meant to play within one beat.
#[derive(Debug, Clone, PartialEq)]
pub struct Clash {
    /// The hand.
    pub hand: Hand,
    /// The control played first, by its place.
    pub first: usize,
    /// The control played after it, by its place.
    pub then: usize,
    /// The beat of the first time that it happens.
    pub beat: f64,
    /// Beats from the one to the other, below 1.
    pub apart_beats: f64,
    /// How often it happens in the first 256 beats.
    pub times: usize,
}

/// Where one hand is meant to play two controls within one beat.
///
/// A hand plays one control at a time and has a beat to get to another; so three controls
/// within one beat are always too many for two hands. How long a beat is, the tempo says.
pub fn clashes(controls: &[Control]) -> Vec<Clash> {
    let mut clashes: Vec<Clash> = Vec::new();
    for hand in Hand::ALL {
        let mut played: Vec<(f64, usize)> = controls
            .iter()
            .enumerate()
            .filter(|(_, control)| control.hand == hand)
            .flat_map(|(at, control)| {
                let beats = control.cue.iter().flat_map(|cue| cue.horizon());
                beats.map(move |beat| (beat, at))
            })
            .collect();
        played.sort_by(|a, b| a.0.total_cmp(&b.0));
        for (n, &(beat, first)) in played.iter().enumerate() {
            let near = played[n + 1..].iter().take_while(|(then, _)| then - beat < 1.0);
            for &(then_beat, then) in near.filter(|(_, then)| *then != first) {
                let is_pair =
                    |clash: &&mut Clash| [[first, then], [then, first]].contains(&[clash.first, clash.then]);
                match clashes.iter_mut().find(is_pair) {
                    Some(clash) => clash.times += 1,
                    None => clashes.push(Clash {
                        hand,
                        first,
                        then,
                        beat,
                        apart_beats: then_beat - beat,
                        times: 1,
                    }),
                }
            }
        }
    }
    clashes
}
