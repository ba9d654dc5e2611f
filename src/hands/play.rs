//! Where the controls stand, and what they make of a show.

use std::collections::BTreeMap;

use crate::show::Show;
use crate::show::automation::{Automation, Fired};
use crate::show::control::{Control, ControlKind};

/// How often firing is remembered: envelopes that overlap are as high as the highest.
const FIRINGS: usize = 4;
/// A control of a device has reached the stored position when it is this near: one step of seven bits.
const NEAR: f64 = 1.0 / 127.0;

/// Where each control stands; a control that was never touched leaves its settings alone.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Hands {
    touched: BTreeMap<String, Touched>,
}

#[derive(Debug, Clone, Default, PartialEq)]
struct Touched {
    /// Where it stands, 0..1; none while it lets go.
    position: Option<f64>,
    /// The beats at which it was last played, the latest last.
    fired_beats: Vec<f64>,
    /// Where the device's own control stood last.
    device: Option<f64>,
    /// Whether the device's control has been brought to where the control stands, so that it moves it.
    picked_up: bool,
}

impl Touched {
    fn fire(&mut self, beats: f64) {
        self.fired_beats.push(beats);
        let old = self.fired_beats.len().saturating_sub(FIRINGS);
        self.fired_beats.drain(..old);
    }

    fn move_to(&mut self, position: f64, beats: f64) {
        // A continuous control is played when it comes past the middle from below.
        if self.position.unwrap_or(0.0) < 0.5 && position >= 0.5 {
            self.fire(beats);
        }
        self.position = Some(position);
    }
}

impl Hands {
    fn touch(&mut self, control: &Control) -> &mut Touched {
        self.touched.entry(control.name.clone()).or_default()
    }

    /// Presses a control at a beat, with a strength of 0..1: a key's is 1, a note's its velocity.
    /// A continuous control goes to that strength.
    pub fn press(&mut self, control: &Control, strength: f64, beats: f64) {
        let touched = self.touch(control);
        let strength = strength.clamp(0.0, 1.0);
        match control.kind {
            ControlKind::Latching if touched.position.is_some() => touched.position = None,
            ControlKind::Momentary | ControlKind::Latching => {
                touched.position = Some(strength);
                touched.fire(beats);
            }
            ControlKind::Continuous => touched.move_to(strength, beats),
        }
    }

    /// Lets a control up: a momentary one lets its settings go, the others stay as they are.
    pub fn release(&mut self, control: &Control) {
        if control.kind == ControlKind::Momentary {
            self.touch(control).position = None;
        }
    }

    /// Moves a continuous control to 0..1 at a beat, as by a pointer on the screen. Others are pressed from a half on.
    ///
    /// A device's control then has to be brought to the new position before it moves this one again.
    pub fn turn(&mut self, control: &Control, position: f64, beats: f64) {
        let position = position.clamp(0.0, 1.0);
        if control.kind != ControlKind::Continuous {
            return self.switch(control, position, beats);
        }
        let touched = self.touch(control);
        touched.picked_up = false;
        touched.move_to(position, beats);
    }

    /// The same for a control of a device, which stands where it stands: it moves a continuous control from when
    /// it reaches or passes the position of that one in the show, so that no setting jumps.
    pub fn turn_on_device(&mut self, show: &Show, control: &Control, position: f64, beats: f64) {
        let position = position.clamp(0.0, 1.0);
        if control.kind != ControlKind::Continuous {
            return self.switch(control, position, beats);
        }
        let stored = self.position(&control.name).or_else(|| resting(show, control));
        let touched = self.touch(control);
        let before = touched.device.replace(position);
        if !touched.picked_up {
            touched.picked_up = match (stored, before) {
                (None, _) => true,
                (Some(stored), _) if (position - stored).abs() <= NEAR => true,
                (Some(stored), Some(before)) => (before < stored) != (position < stored),
                (Some(_), None) => false,
            };
        }
        if touched.picked_up {
            touched.move_to(position, beats);
        }
    }

    /// A button that is sent as a number: down from a half on, up below (MIDI 1.0: a switch is on from 64 of 127).
    fn switch(&mut self, control: &Control, position: f64, beats: f64) {
        let was_down = self.touch(control).device.replace(position).is_some_and(|before| before >= 0.5);
        match (was_down, position >= 0.5) {
            (false, true) => self.press(control, position, beats),
            (true, false) => self.release(control),
            _ => {}
        }
    }

    /// Where a control stands, 0..1; none where it leaves its settings alone.
    pub fn position(&self, control: &str) -> Option<f64> {
        self.touched.get(control)?.position
    }

    /// Where a continuous control of a device waits to be brought, 0..1, before it moves the control named.
    pub fn awaited(&self, show: &Show, control: &Control) -> Option<f64> {
        let touched = self.touched.get(&control.name)?;
        let waits = control.kind == ControlKind::Continuous && touched.device.is_some() && !touched.picked_up;
        waits.then(|| touched.position.or_else(|| resting(show, control)))?
    }

    /// Lets every control go.
    pub fn let_go(&mut self) {
        self.touched.clear();
    }

    /// The show with every setting that a control holds where that control puts it, and
    /// the envelopes that it fires begun at the beats at which it was played.
    pub fn applied(&self, show: &Show) -> Show {
        let mut show = show.clone();
        if self.touched.is_empty() {
            return show;
        }
        for scope in show.scopes() {
            for used in show.chain_mut(scope) {
                for place in 0..used.effect.settings.len() {
                    if let Some(grip) = used.grip(place)
                        && let Some(position) = self.position(&grip.control)
                    {
                        let value = grip.at(&used.effect.settings[place].kind, position);
                        used.fix(place, value);
                    } else if let Some(fired) = used.automation(place).and_then(|a| self.fired(a)) {
                        // An envelope that the setting takes is one that it takes begun at other beats.
                        used.automate(place, fired).ok();
                    }
                }
            }
        }
        show
    }

    /// An envelope fired by a control that was played, begun at those beats.
    fn fired(&self, automation: &Automation) -> Option<Automation> {
        let mut fired = automation.clone();
        if let Automation::Envelope { envelope, .. } = &mut fired
            && let Fired::By(control) = &envelope.fired
            && let Some(touched) = self.touched.get(control).filter(|touched| !touched.fired_beats.is_empty())
        {
            envelope.fired = Fired::At(touched.fired_beats.clone());
            return Some(fired);
        }
        None
    }
}

/// Where an untouched control would stand, by the first of its settings that tells.
fn resting(show: &Show, control: &Control) -> Option<f64> {
    show.grips(&control.name).find_map(|(scope, at, place)| {
        let used = &show.chain(scope)[at];
        used.grip(place)?.position(used.values().nth(place)?)
    })
}
