//! When a control is meant to be played.

use std::fmt;

/// The beats at which a control is meant to be played.
#[derive(Debug, Clone, PartialEq)]
pub struct Cue {
    /// Beats, each at least 0.
    pub at: Vec<f64>,
    /// The beats after which they come again; once only where there is none.
    pub every: Option<f64>,
    /// How many beats it is held, or moved, from each on; one that is none is over at once.
    pub length: Option<f64>,
}

/// The shortest and the longest that a cue is held, in beats.
pub const LENGTH_BEATS: [f64; 2] = [1.0 / 64.0, 4096.0];
/// Most beats that a cue lists: those of a long night, played along.
pub const MOST_CUED: usize = 4096;

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
}

/// "at beats 0 8 of every 16", "at beat 12, for 2".
impl fmt::Display for Cue {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let at: Vec<String> = self.at.iter().map(f64::to_string).collect();
        write!(f, "at beat{} {}", if at.len() == 1 { "" } else { "s" }, at.join(" "))?;
        self.every.map_or(Ok(()), |every| write!(f, " of every {every}"))?;
        self.length.map_or(Ok(()), |length| write!(f, ", for {length}"))
    }
}
