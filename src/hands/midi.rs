//! From a device's bytes to the controls of a show.

use super::Hands;
use crate::midi::{Binding, Halves, Heard, Learner, Message, Parser, Port};
use crate::show::Show;

/// Hears a MIDI port and plays the controls that are bound to what it hears.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Listener {
    parser: Parser,
    halves: Halves,
    learner: Option<Learner>,
}

impl Listener {
    /// Listens for the next thing touched on the device, instead of playing.
    pub fn learn(&mut self) {
        self.learner = Some(Learner::default());
    }

    /// Gives up learning.
    pub fn stop_learning(&mut self) {
        self.learner = None;
    }

    /// Whether it waits for something to be touched.
    pub fn is_learning(&self) -> bool {
        self.learner.is_some()
    }

    /// Takes in what the port has; plays the controls of `show` at a beat. While learning it plays nothing and
    /// gives back what was touched, and is done learning.
    pub fn listen(
        &mut self,
        port: &mut dyn Port,
        show: &Show,
        hands: &mut Hands,
        beats: f64,
    ) -> Option<Binding> {
        let mut learned = None;
        for byte in port.take() {
            let Some(message) = self.parser.push(byte) else { continue };
            match &mut self.learner {
                Some(learner) => {
                    learned = learner.hear(message);
                    if learned.is_some() {
                        self.learner = None;
                    }
                }
                None => self.play(message, show, hands, beats),
            }
        }
        learned
    }

    fn play(&mut self, message: Message, show: &Show, hands: &mut Hands, beats: f64) {
        self.halves.hear(message);
        for control in &show.controls {
            match control.midi.and_then(|binding| binding.heard(message, &self.halves)) {
                Some(Heard::Press(strength)) => hands.press(show, control, strength, beats),
                Some(Heard::Release) => hands.release(control),
                Some(Heard::Turn(position)) => hands.turn_on_device(show, control, position, beats),
                None => {}
            }
        }
    }
}
