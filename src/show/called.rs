//! A running order as it is played: a section comes when its beat has come, or when it is called before.

use super::Show;
use super::running::{Leg, RunningOrder};
use crate::beat::Beats;

/// What was played of a running order, and what is to come.
#[derive(Debug, Clone, PartialEq)]
pub struct Called {
    order: RunningOrder,
    /// Which entry of the show's running order each leg is.
    places: Vec<usize>,
}

impl Called {
    /// From an entry of the running order on, which begins at a beat; nothing where there is no such entry.
    ///
    /// An open section lasts until the next is called: that one's beats are infinite until then.
    pub fn from(show: &Show, place: usize, beats: f64) -> Option<Self> {
        let sections = show.running_order.get(place..).filter(|rest| !rest.is_empty())?;
        let legs = show.legs(sections, Beats::of_decimal(beats), None, None);
        Some(Self { order: RunningOrder { legs }, places: (place..show.running_order.len()).collect() })
    }

    /// Calls an entry of the running order at a beat: it begins to come there, and those after it follow it. Where a section
    /// is still coming, that one counts as having come.
    pub fn call(&mut self, show: &Show, place: usize, beats: f64) {
        let Some(sections) = show.running_order.get(place..).filter(|rest| !rest.is_empty()) else { return };
        let now = self.leg(beats);
        let legs = &mut self.order.legs;
        legs.truncate(now + 1);
        self.places.truncate(now + 1);
        legs[now].to = beats;
        let before = Some(legs[now].section);
        legs.extend(show.legs(sections, Beats::of_decimal(beats), before, None));
        self.places.extend(place..show.running_order.len());
    }

    /// The sections as they were and will be played.
    pub fn order(&self) -> &RunningOrder {
        &self.order
    }

    /// The leg that plays at a beat, or comes.
    pub fn leg(&self, beats: f64) -> usize {
        self.order.at(beats).leg()
    }

    /// The entry of the show's running order that plays at a beat, or comes.
    pub fn place(&self, beats: f64) -> usize {
        self.places[self.leg(beats)]
    }

    /// The leg that comes next.
    pub fn next(&self, beats: f64) -> Option<&Leg> {
        self.order.legs.get(self.leg(beats) + 1)
    }

    /// How many beats are left until the next section begins to come, or the set is over; nothing while the section is open.
    pub fn left(&self, beats: f64) -> Option<f64> {
        let to = self.order.legs[self.leg(beats)].to;
        to.is_finite().then(|| (to - beats).max(0.0))
    }

    /// How many beats a section has lasted.
    pub fn lasted(&self, beats: f64) -> f64 {
        (beats - self.order.legs[self.leg(beats)].from).max(0.0)
    }

    /// Whether the last section's beats are over.
    pub fn is_over(&self, beats: f64) -> bool {
        self.order.beats() <= beats
    }
}

#[cfg(test)]
mod tests {
    use super::super::running::Standing;
    use super::*;
    use crate::base::frame::{Frame, PixelMode};
    use crate::show::{Bundle, Clip, Level, Section};

    fn set() -> Show {
        let section =
            |name: &str, beats: Option<f64>, fade: f64| Section { beats, fade, ..Section::of(name) };
        Show {
            name: String::new(),
            about: String::new(),
            venue: String::new(),
            tags: Vec::new(),
            frame: Frame { width: 16, height: 9 },
            tempo_bpm: 120.0,
            rate: Default::default(),
            pixels: PixelMode::default(),
            bundles: vec![Bundle::of("picture", vec![Level::of("sea", Clip::generated("waves"))])],
            global: Vec::new(),
            controls: Vec::new(),
            taken: Vec::new(),
            is_starter: false,
            sections: vec![
                section("casting off", Some(32.0), 0.0),
                section("open water", None, 4.0),
                section("landfall", Some(16.0), 8.0),
            ],
            running_order: vec![0, 1, 2, 1],
            held: Vec::new(),
            reach_ms: 250.0,
        }
    }

    #[test]
    fn an_open_section_goes_on_until_the_next_is_called_and_what_follows_shifts_with_it() {
        let show = set();
        let mut called = Called::from(&show, 0, 0.0).unwrap();
        assert_eq!((called.left(30.0), called.place(30.0)), (Some(2.0), 0));
        // It begins to come by itself, and stays.
        assert_eq!((called.left(1e6), called.place(1e6), called.lasted(100.0)), (None, 1, 68.0));
        assert!(!called.is_over(1e9));
        called.call(&show, 2, 100.0);
        assert_eq!(called.order().at(104.0), Standing::Coming(2, 0.5));
        assert_eq!((called.left(104.0), called.next(104.0).map(|leg| leg.section)), (Some(12.0), Some(1)));
        assert_eq!(called.order().at(99.0), Standing::Alone(1), "what was played stays");
    }

    #[test]
    fn a_section_is_called_early_or_once_more_and_the_last_one_ends_the_set() {
        let mut show = set();
        let mut called = Called::from(&show, 0, 0.0).unwrap();
        called.call(&show, 1, 8.0);
        assert_eq!(called.order().at(9.0), Standing::Coming(1, 0.25));
        called.call(&show, 0, 20.0);
        assert_eq!((called.place(20.0), called.left(20.0)), (0, Some(32.0)));
        // The same section goes on: nothing takes over from itself.
        called.call(&show, 0, 21.0);
        assert_eq!(called.order().at(21.0), Standing::Alone(3));
        show.running_order = vec![0];
        let called = Called::from(&show, 0, 64.0).unwrap();
        assert!(!called.is_over(95.9) && called.is_over(96.0));
        assert_eq!(Called::from(&show, 1, 0.0), None);
    }
}
