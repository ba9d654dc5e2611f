//! Where what is meant to be played is more than hands can do.

use super::control::{Control, Hand};

/// Two controls that one hand is meant to play within one beat.
#[derive(Debug, Clone, PartialEq)]
pub struct Clash {
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
