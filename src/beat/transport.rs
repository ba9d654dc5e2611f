//! Playing, stopping and stepping.

use std::time::Duration;

use super::{Beats, FrameRate, Moment};
use crate::base::frame::{Frame, PixelMode};

const NANOS_A_SECOND: u128 = 1_000_000_000;

/// Where a show is being played, counted in whole frames from an anchor.
///
/// Time that passes is turned into frames by whole-number arithmetic on all the time since play began, so that
/// nothing is lost however finely the calls of [`Self::advance`] cut it up.
#[derive(Debug, Clone, PartialEq)]
pub struct Transport {
    rate: FrameRate,
    tempo_bpm: f64,
    /// The beat at which counting began.
    anchor: Beats,
    /// Frames since the anchor.
    frames: u64,
    /// Frames since the anchor at which play began, and the time played since; none while stopped.
    playing: Option<(u64, Duration)>,
    /// First beat and length of the loop.
    looped: Option<(Beats, Beats)>,
}

impl Transport {
    /// Stopped at the start.
    pub fn new(rate: FrameRate, tempo_bpm: f64) -> Self {
        Self { rate, tempo_bpm, anchor: Beats::zero(), frames: 0, playing: None, looped: None }
    }

    /// Begins to play from where it stands.
    pub fn play(&mut self) {
        if self.playing.is_none() {
            self.playing = Some((self.frames, Duration::ZERO));
        }
    }

    /// Stops where it stands.
    pub fn stop(&mut self) {
        self.playing = None;
    }

    /// Whether it plays.
    pub fn is_playing(&self) -> bool {
        self.playing.is_some()
    }

    /// Lets time pass; how many frames went by, none while stopped.
    pub fn advance(&mut self, passed: Duration) -> u64 {
        let Some((from, played)) = &mut self.playing else { return 0 };
        *played = played.saturating_add(passed);
        let [frames, seconds] = self.rate.fraction().map(u128::from);
        let gone = played.as_nanos() * frames / (seconds * NANOS_A_SECOND);
        let now = from.saturating_add(u64::try_from(gone).unwrap_or(u64::MAX));
        let new = now - self.frames;
        self.frames = now;
        new
    }

    /// Stops, and goes this many frames on, or back where negative; never before the start.
    pub fn step(&mut self, frames: i64) {
        self.stop();
        if frames >= 0 || self.frames >= frames.unsigned_abs() {
            self.frames = self.frames.saturating_add_signed(frames);
            return;
        }
        let beats = self.anchor.minus(&Beats::of_frame(
            frames.unsigned_abs() - self.frames,
            self.rate,
            self.tempo_bpm,
        ));
        self.frames = 0;
        self.anchor = beats.max(Beats::zero());
    }

    /// Goes to a beat, which becomes the place that frames are counted from; plays on if it played.
    pub fn go_to(&mut self, beats: Beats) {
        self.anchor = beats.max(Beats::zero());
        self.frames = 0;
        if let Some(playing) = &mut self.playing {
            *playing = (0, Duration::ZERO);
        }
    }

    /// Plays the next `beats` beats round and round, from the whole beat that it is in; none plays on.
    pub fn set_loop(&mut self, beats: Option<u32>) {
        let now = self.beats();
        self.go_to(now.clone());
        let length = |beats: u32| Beats::whole(i64::from(beats.max(1)));
        self.looped = beats.map(|beats| (now.floor(), length(beats)));
    }

    /// First beat and length of the loop, in beats.
    pub fn looped(&self) -> Option<(&Beats, &Beats)> {
        self.looped.as_ref().map(|(first, length)| (first, length))
    }

    /// Changes the tempo from here on: the beat does not jump.
    ///
    /// The beat is kept to a billionth, so that many changes do not make an ever longer fraction.
    pub fn set_tempo(&mut self, tempo_bpm: f64) {
        if tempo_bpm != self.tempo_bpm {
            self.go_to(self.beats().shortened());
            self.tempo_bpm = tempo_bpm;
        }
    }

    /// Changes the frame rate from here on: the beat does not jump.
    pub fn set_rate(&mut self, rate: FrameRate) {
        if rate != self.rate {
            self.go_to(self.beats().shortened());
            self.rate = rate;
        }
    }

    /// The beat that it stands at.
    pub fn beats(&self) -> Beats {
        let beats = self.anchor.plus(&Beats::of_frame(self.frames, self.rate, self.tempo_bpm));
        match &self.looped {
            Some((first, length)) => first.plus(&beats.minus(first).turned(length)),
            None => beats,
        }
    }

    /// The moment that it stands at.
    pub fn moment(&self, frame: Frame, pixels: PixelMode) -> Moment {
        Moment::at_beats(frame, pixels, self.tempo_bpm, self.rate, &self.beats())
    }
}
