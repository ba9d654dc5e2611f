//! Cues by playing along: what was played, rounded, before it is kept.

use super::play::{Deed, Hands};
use crate::base::words::words;
use crate::show::Show;
use crate::show::control::ControlKind;
use crate::show::cue::{Cue, LENGTH_BEATS, MOST_CUED};

/// A continuous control that rests for so many beats has ended its way.
const RESTS_BEATS: f64 = 0.5;

words! {
    /// To what beats are rounded.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub enum Division {
        /// One.
        Beat = "beat",
        /// Half of one.
        Half = "half beat",
        /// A third.
        Third = "third of a beat",
        /// A quarter.
        Quarter = "quarter beat",
        /// Four.
        Bar = "bar",
    }
}

impl Division {
    /// How many go into a beat.
    fn a_beat(self) -> f64 {
        match self {
            Self::Beat => 1.0,
            Self::Half => 2.0,
            Self::Third => 3.0,
            Self::Quarter => 4.0,
            Self::Bar => 0.25,
        }
    }

    /// The nearest multiple.
    pub fn rounded(self, beats: f64) -> f64 {
        (beats * self.a_beat()).round() / self.a_beat()
    }
}

/// What is recorded of the controls of a show.
#[derive(Debug, Clone, PartialEq)]
pub struct Recorder {
    pub division: Division,
    /// Whether it still records.
    is_on: bool,
    /// The beats after which playing comes round, where it does.
    looped: Option<f64>,
    taken: Vec<Taken>,
}

/// One time that a control was played.
#[derive(Debug, Clone, PartialEq)]
struct Taken {
    control: String,
    from: f64,
    /// Where it was let go, or last moved; none while it is held.
    to: Option<f64>,
    is_turned: bool,
}

/// What was recorded of one control, rounded.
#[derive(Debug, Clone, PartialEq)]
pub struct Recorded {
    /// Its place among the show's controls.
    pub control: usize,
    pub cue: Cue,
    /// How often it was played, before rounding brought some together.
    pub times: usize,
}

impl Recorder {
    /// Records from now on; `looped` are the beats after which playing comes round.
    pub fn new(hands: &mut Hands, division: Division, looped: Option<f64>) -> Self {
        hands.listen_to(true);
        Self { division, is_on: true, looped, taken: Vec::new() }
    }

    /// Whether it still records.
    pub fn is_on(&self) -> bool {
        self.is_on
    }

    /// Takes in what was played since the last time; the beat is `beats` by now.
    pub fn take(&mut self, hands: &mut Hands, beats: f64) {
        for (control, deed) in hands.take_deeds() {
            let open = self.taken.iter_mut().rev().find(|taken| taken.control == control);
            match (deed, open) {
                (Deed::Press(from), _) => {
                    self.taken.push(Taken { control, from, to: None, is_turned: false });
                }
                (Deed::Release, Some(taken)) if taken.to.is_none() => taken.to = Some(beats),
                (Deed::Turn(now), Some(taken))
                    if taken.is_turned
                        && taken.to.is_some_and(|to| (to..to + RESTS_BEATS).contains(&now)) =>
                {
                    taken.to = Some(now);
                }
                (Deed::Turn(now), _) => {
                    self.taken.push(Taken { control, from: now, to: Some(now), is_turned: true });
                }
                (Deed::Release, _) => {}
            }
        }
    }

    /// Ends recording; what is still held ends there.
    pub fn stop(&mut self, hands: &mut Hands, beats: f64) {
        self.take(hands, beats);
        hands.listen_to(false);
        self.is_on = false;
        for taken in &mut self.taken {
            taken.to.get_or_insert(beats);
        }
    }

    /// What was recorded, rounded: a cue for each control that was played, in the order of the show.
    ///
    /// How long one was held is that of most of its times; a latching control is pressed, and holds nothing.
    pub fn recorded(&self, show: &Show) -> Vec<Recorded> {
        let of = |(control, one): (usize, &crate::show::control::Control)| {
            let own: Vec<&Taken> = self.taken.iter().filter(|taken| taken.control == one.name).collect();
            let mut at: Vec<f64> = own.iter().map(|taken| self.placed(taken.from)).collect();
            at.sort_by(f64::total_cmp);
            at.dedup();
            at.truncate(MOST_CUED);
            let mut lengths: Vec<f64> =
                own.iter().filter_map(|taken| Some(self.division.rounded(taken.to? - taken.from))).collect();
            lengths.sort_by(f64::total_cmp);
            let [shortest, longest] = LENGTH_BEATS;
            let length = lengths.get(lengths.len() / 2).copied().filter(|length| *length >= shortest);
            let length = length.filter(|_| one.kind != ControlKind::Latching);
            let cue = Cue { at, every: self.looped, length: length.map(|length| length.min(longest)) };
            (!own.is_empty()).then_some(Recorded { control, cue, times: own.len() })
        };
        show.controls.iter().enumerate().filter_map(of).collect()
    }

    /// A beat, rounded, once round.
    fn placed(&self, beats: f64) -> f64 {
        let beats = self.division.rounded(beats).max(0.0);
        self.looped.map_or(beats, |looped| beats.rem_euclid(looped))
    }
}

/// A cue with the beats of another beside its own; none where they do not come round alike.
pub fn joined(known: &Cue, more: &Cue) -> Option<Cue> {
    if known.every != more.every {
        return None;
    }
    let mut at: Vec<f64> = known.at.iter().chain(&more.at).copied().collect();
    at.sort_by(f64::total_cmp);
    at.dedup();
    at.truncate(MOST_CUED);
    Some(Cue { at, every: known.every, length: more.length.or(known.length) })
}
