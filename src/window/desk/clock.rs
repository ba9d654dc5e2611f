//! Time goes on.

use std::time::Duration;

use egui::Ui;

use super::Desk;
use crate::beat::Beats;
use crate::edit::Edit;

impl Desk {
    pub(super) fn move_time(&mut self, ui: &Ui) {
        let time = ui.input(|input| input.time);
        let seconds = (time - self.last_time).clamp(0.0, 0.5);
        self.last_time = time;
        let show = self.work.show();
        self.transport.set_tempo(show.tempo_bpm);
        self.transport.set_rate(show.rate);
        if self.view.beats != self.transport.beats().to_f64() {
            self.transport.go_to(Beats::of_decimal(self.view.beats));
            // Before the start nothing is played, but it can be looked at.
            if self.view.beats >= 0.0 || self.view.playing {
                self.view.beats = self.transport.beats().to_f64();
            }
        }
        if self.view.playing {
            self.transport.play();
            self.transport.advance(Duration::from_secs_f64(seconds));
            self.view.beats = self.transport.beats().to_f64();
            // On a slow GPU a picture takes several slices: the next moment waits for it.
            if !self.pictures.is_busy() && self.pictures.missing() == 0 {
                self.beats = self.view.beats;
            }
        } else {
            self.transport.stop();
            self.beats = self.view.beats;
        }
    }

    pub(super) fn step_frames(&mut self, frames: i64) {
        self.view.playing = false;
        self.transport.step(frames);
        self.view.beats = self.transport.beats().to_f64();
    }

    pub(super) fn set_loop(&mut self, beats: Option<u32>) {
        self.view.looped = beats;
        self.transport.set_loop(beats);
        self.view.beats = self.transport.beats().to_f64();
    }

    pub(super) fn take_tap(&mut self) {
        if let Some(tempo_bpm) = self.tap.tap(Duration::from_secs_f64(self.last_time.max(0.0))) {
            self.edit(&Edit::Tempo(tempo_bpm));
            self.view.said = format!("Tapped: {tempo_bpm} BPM.");
        } else {
            self.view.said = "Tapped: go on with the beat, the tempo follows.".to_owned();
        }
    }
}
