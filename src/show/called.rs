//! A running order as it is played: a section comes when its beat has come, or when it is called before.

use super::Show;
use super::running::{Leg, RunningOrder, Standing};
use crate::beat::Beats;

/// What was played of a running order, and what is to come.
#[derive(Debug, Clone, PartialEq)]
pub struct Called {
    order: RunningOrder,
    /// Which entry of the show's running order each leg is.
    places: Vec<usize>,
    /// What each leg takes over from.
    under: Vec<Vec<Share>>,
}

/// A section that shows, and how much of the picture it is: of all that show, 1 together.
pub type Share = (usize, f64);

/// Less than this shows in no byte of a picture.
const UNSEEN: f64 = 1.0 / 512.0;

impl Called {
    /// From an entry of the running order on, which begins at a beat; nothing where there is no such entry.
    ///
    /// An open section lasts until the next is called: that one's beats are infinite until then.
    pub fn from(show: &Show, place: usize, beats: f64) -> Option<Self> {
        let sections = show.running_order.get(place..).filter(|rest| !rest.is_empty())?;
        let legs = show.legs(sections, Beats::of_decimal(beats), None, None);
        let under = [Vec::new()].into_iter().chain(legs.iter().map(|leg| vec![(leg.section, 1.0)]));
        let under = under.take(legs.len()).collect();
        let places = (place..show.running_order.len()).collect();
        Some(Self { order: RunningOrder { legs }, places, under })
    }

    /// Calls an entry of the running order at a beat: it begins to come there, and those after it follow it. Where a section
    /// is still coming, that one stays as far as it has come, and the new one takes over from what is seen then; the same
    /// one, called once more, goes on coming.
    pub fn call(&mut self, show: &Show, place: usize, beats: f64) {
        let Some(sections) = show.running_order.get(place..).filter(|rest| !rest.is_empty()) else { return };
        let now = self.leg(beats);
        let seen = self.seen(beats);
        let (coming, share) = (self.order.legs[now], self.order.share(now, beats));
        let legs = &mut self.order.legs;
        legs.truncate(now + 1);
        self.places.truncate(now + 1);
        self.under.truncate(now + 1);
        legs[now].to = beats;
        let mut new = show.legs(sections, Beats::of_decimal(beats), Some(coming.section), None);
        if new[0].section == coming.section && share < 1.0 {
            // It has so much of its way left, at the same pace.
            new[0].fade = coming.fade * (1.0 - share);
        } else if seen == [(new[0].section, 1.0)] {
            new[0].fade = 0.0;
        }
        let after = new.iter().map(|leg| vec![(leg.section, 1.0)]).take(new.len() - 1);
        self.under.extend([seen].into_iter().chain(after));
        legs.extend(new);
        self.places.extend(place..show.running_order.len());
    }

    /// What a leg takes over from while it comes.
    pub fn under(&self, leg: usize) -> &[Share] {
        &self.under[leg]
    }

    /// What is seen at a beat.
    pub fn seen(&self, beats: f64) -> Vec<Share> {
        let (leg, share) = match self.order.at(beats) {
            Standing::Alone(leg) => (leg, 1.0),
            Standing::Coming(leg, share) => (leg, share),
        };
        let section = self.order.legs[leg].section;
        let mut seen: Vec<Share> = Vec::new();
        let under = self.under[leg].iter().map(|&(section, of)| (section, of * (1.0 - share)));
        for (section, of) in under.chain([(section, share)]).filter(|(_, of)| *of > 0.0) {
            match seen.iter_mut().find(|(known, _)| *known == section) {
                Some((_, known)) => *known += of,
                None => seen.push((section, of)),
            }
        }
        // What nobody sees is rendered for nothing.
        if seen.iter().any(|(_, of)| *of >= UNSEEN) {
            seen.retain(|(_, of)| *of >= UNSEEN);
        }
        let all: f64 = seen.iter().map(|(_, of)| of).sum();
        seen.iter_mut().for_each(|(_, of)| *of /= all);
        seen
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
        // Mid-way, what is seen is what the next takes over from, and goes on from there without a jump.
        let mut called = Called::from(&show, 0, 0.0).unwrap();
        called.call(&show, 1, 8.0);
        assert_eq!(called.seen(9.0), [(0, 0.75), (1, 0.25)]);
        called.call(&show, 2, 9.0);
        assert_eq!(
            (called.under(2), called.seen(9.0)),
            (&[(0, 0.75), (1, 0.25)][..], vec![(0, 0.75), (1, 0.25)])
        );
        // Landfall comes over eight beats: a quarter of it after two.
        assert_eq!(called.seen(11.0), [(0, 0.5625), (1, 0.1875), (2, 0.25)]);
        called.call(&show, 0, 11.0);
        assert_eq!(called.order().at(11.0), Standing::Alone(3), "casting off cuts");
        assert_eq!(called.seen(17.0), [(0, 1.0)]);
        // Called once more while it comes, it goes on coming at its pace, and its own beats begin again.
        let mut called = Called::from(&show, 0, 0.0).unwrap();
        called.call(&show, 2, 8.0);
        called.call(&show, 2, 10.0);
        assert_eq!(called.left(10.0), Some(16.0));
        for (beats, share) in [(10.0, 0.25), (12.0, 0.5), (14.0, 0.75), (16.0, 1.0)] {
            let of = called.seen(beats).into_iter().find(|(section, _)| *section == 2).unwrap().1;
            assert!((of - share).abs() < 1e-12, "{beats}: {of}");
        }
        // Twice at one beat, the first of them was never seen.
        let mut called = Called::from(&show, 0, 0.0).unwrap();
        called.call(&show, 1, 8.0);
        called.call(&show, 2, 8.0);
        assert_eq!(called.under(2), [(0, 1.0)]);
        show.running_order = vec![0];
        let called = Called::from(&show, 0, 64.0).unwrap();
        assert!(!called.is_over(95.9) && called.is_over(96.0));
        assert_eq!(Called::from(&show, 1, 0.0), None);
    }
}
