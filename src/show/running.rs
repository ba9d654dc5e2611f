//! The running order laid out in beats.

use super::Show;
use crate::beat::Beats;

/// What an open section lasts where nobody says otherwise, in beats: eight bars of four.
pub const OPEN_BEATS: f64 = 32.0;

/// The sections in the order in which they come, with where each begins.
#[derive(Debug, Clone, PartialEq)]
pub struct RunningOrder {
    /// At least one.
    pub legs: Vec<Leg>,
}

/// One section of a running order.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leg {
    /// Which section of the show.
    pub section: usize,
    /// The beat at which it begins to come.
    pub from: f64,
    /// The beat at which the next begins to come, or the set ends.
    pub to: f64,
    /// Beats in which it takes over from the one before; 0 for the first, and where the same section goes on.
    pub fade: f64,
    /// Whether it is open: how long it lasts is not in the show.
    pub is_open: bool,
}

/// What shows at a beat of a running order.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Standing {
    /// One section, by its leg.
    Alone(usize),
    /// A section takes over from the leg before it: its leg, and the share of the way that is done, from 0 to below 1.
    Coming(usize, f64),
}

impl Standing {
    /// The leg that plays, or comes.
    pub fn leg(self) -> usize {
        match self {
            Self::Alone(leg) | Self::Coming(leg, _) => leg,
        }
    }
}

impl Show {
    /// The running order in beats from 0 on, where the show has one; an open section lasts `open_beats`.
    pub fn running(&self, open_beats: f64) -> Option<RunningOrder> {
        let legs = self.legs(&self.running_order, Beats::zero(), None, Some(open_beats));
        (!legs.is_empty()).then_some(RunningOrder { legs })
    }

    /// Sections that follow each other from a beat on, the first of them after `before`; an open one lasts `open_beats`, or
    /// without them for good, so that where the next begins is not known.
    pub(super) fn legs(
        &self,
        sections: &[usize],
        start: Beats,
        mut before: Option<usize>,
        open_beats: Option<f64>,
    ) -> Vec<Leg> {
        let mut start = Some(start);
        let beat = |start: &Option<Beats>| start.as_ref().map_or(f64::INFINITY, Beats::to_f64);
        let leg = |&section: &usize| {
            let of = &self.sections[section];
            let lasts = of.beats.or(open_beats);
            let from = beat(&start);
            start = start.take().zip(lasts).map(|(start, beats)| start.plus(&Beats::of_decimal(beats)));
            let comes = before.is_some_and(|before| before != section);
            before = Some(section);
            // An open one may last less long than it takes to come.
            let fade = if comes { of.fade.min(lasts.unwrap_or(of.fade)) } else { 0.0 };
            Leg { section, from, to: beat(&start), fade, is_open: of.beats.is_none() }
        };
        sections.iter().map(leg).collect()
    }
}

impl RunningOrder {
    /// How long the set lasts, in beats.
    pub fn beats(&self) -> f64 {
        self.legs.last().map_or(0.0, |leg| leg.to)
    }

    /// What shows at a beat: the first section before the start, the last one behind the end.
    pub fn at(&self, beats: f64) -> Standing {
        let leg = self.legs.partition_point(|leg| leg.from <= beats).saturating_sub(1);
        let Leg { from, fade, .. } = self.legs[leg];
        let share = (beats - from) / fade;
        if fade > 0.0 && (0.0..1.0).contains(&share) {
            Standing::Coming(leg, share)
        } else {
            Standing::Alone(leg)
        }
    }

    /// The share of its way that a leg has come at a beat, from 0 to 1.
    pub fn share(&self, leg: usize, beats: f64) -> f64 {
        let Leg { from, fade, .. } = self.legs[leg];
        if fade > 0.0 { ((beats - from) / fade).clamp(0.0, 1.0) } else { 1.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn leg(section: usize, [from, to]: [f64; 2], fade: f64) -> Leg {
        Leg { section, from, to, fade, is_open: false }
    }

    #[test]
    fn a_section_begins_to_come_at_its_beat_and_stands_alone_once_it_has_come() {
        let order = RunningOrder { legs: vec![leg(0, [0.0, 4.0], 0.0), leg(1, [4.0, 12.0], 2.0)] };
        assert_eq!(order.beats(), 12.0);
        assert_eq!(order.at(-1.0), Standing::Alone(0));
        assert_eq!(order.at(3.75), Standing::Alone(0));
        assert_eq!(order.at(4.0), Standing::Coming(1, 0.0));
        assert_eq!(order.at(5.0), Standing::Coming(1, 0.5));
        assert_eq!(order.at(6.0), Standing::Alone(1));
        assert_eq!(order.at(99.0), Standing::Alone(1));
        assert_eq!([3.0, 5.0, 7.0].map(|beat| order.share(1, beat)), [0.0, 0.5, 1.0]);
    }
}
