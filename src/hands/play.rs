//! Where the controls stand, and what they make of a show.

use std::collections::BTreeMap;

use crate::catalogue::{Kind, Value};
use crate::show::automation::{Automation, Fired};
use crate::show::control::{Control, ControlKind, Grip};
use crate::show::grip::SectionCall;
use crate::show::{Show, Target};

/// How often firing is remembered: envelopes that overlap are as high as the highest.
const FIRINGS: usize = 4;
/// A control of a device has reached the stored position when it is this near: one step of seven bits.
const NEAR: f64 = 1.0 / 127.0;

/// How far a continuous control has to come past a border, as a share of its way, before what lies behind it counts: two
/// steps of seven bits, so that one that trembles does not flicker.
const BORDER: f64 = 2.0 / 127.0;

/// Where each control stands; a control that was never touched leaves its settings alone.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Hands {
    touched: BTreeMap<String, Touched>,
    /// How often anything was played.
    turns: u64,
    /// The sections that were called and not taken up yet, the first first.
    called: Vec<SectionCall>,
    /// What was done since somebody asked last, where somebody does: by whom, and what.
    deeds: Option<Vec<(String, Deed)>>,
}

/// One thing that a hand did.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Deed {
    /// Pressed a button at a beat.
    Press(f64),
    Release,
    /// Moved a continuous control at a beat.
    Turn(f64),
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
    /// When it was last played, counted in all that was.
    turn: u64,
    /// Whether it came past the middle, and not well below it since.
    is_over: bool,
    /// The word that each thing of words has by where it stands, once it was moved.
    words: BTreeMap<Target, usize>,
}

impl Touched {
    fn fire(&mut self, beats: f64) {
        self.fired_beats.push(beats);
        let old = self.fired_beats.len().saturating_sub(FIRINGS);
        self.fired_beats.drain(..old);
    }

    /// Gives whether it was played by that.
    fn move_to(&mut self, position: f64, beats: f64) -> bool {
        // A continuous control is played when it comes past the middle from below.
        let was_over = self.is_over && self.position.is_some();
        self.is_over = position >= if was_over { 0.5 - BORDER } else { 0.5 };
        let is_played = !was_over && self.is_over;
        if is_played {
            self.fire(beats);
        }
        self.position = Some(position);
        is_played
    }

    /// The word that something has where the control stands: the one that it has had, until the control is well past its
    /// border.
    fn word(&self, target: Target, kind: &Kind, grip: &Grip, position: f64) -> Value {
        let now = grip.at(kind, position);
        let (&Value::Choice(low), &Value::Choice(high)) = (&grip.low, &grip.high) else { return now };
        let known = self.words.get(&target).filter(|&word| (low.min(high)..=low.max(high)).contains(word));
        let known = known.map(|&word| Value::Choice(word));
        let is_near = |word: &Value| {
            grip.positions(word).is_some_and(|[from, to]| {
                let border = BORDER.min((to - from) / 4.0);
                (from - border..=to + border).contains(&position)
            })
        };
        known.filter(is_near).unwrap_or(now)
    }

    /// Notes which words the things have by now that a control moves.
    fn settle(&mut self, show: &Show, control: &Control) {
        let Some(position) = self.position else { return };
        for (target, grip) in show.grips(&control.name) {
            let Some(kind @ Kind::Choice(_)) = show.target_kind(target) else { continue };
            if let Value::Choice(word) = self.word(target, &kind, grip, position) {
                self.words.insert(target, word);
            }
        }
    }
}

impl Hands {
    fn touch(&mut self, control: &Control) -> &mut Touched {
        let touched = self.touched.entry(control.name.clone()).or_default();
        self.turns += 1;
        touched.turn = self.turns;
        touched
    }

    /// Presses a control of a show at a beat, with a strength of 0..1: a key's is 1, a note's its velocity.
    /// A continuous control goes to that strength. Every press calls the section that the control calls.
    ///
    /// A latching control that goes on has those that choose among the same clips go off.
    pub fn press(&mut self, show: &Show, control: &Control, strength: f64, beats: f64) {
        let strength = strength.clamp(0.0, 1.0);
        if control.kind == ControlKind::Continuous {
            return self.move_to(show, control, strength, beats);
        }
        self.note(control, Deed::Press(beats));
        self.call(show, control);
        let touched = self.touch(control);
        if control.kind == ControlKind::Latching && touched.position.is_some() {
            touched.position = None;
            return;
        }
        touched.position = Some(strength);
        touched.fire(beats);
        if control.kind == ControlKind::Latching {
            let shared: Vec<Target> = show
                .grips(&control.name)
                .map(|(target, _)| target)
                .filter(|target| target.is_shared())
                .collect();
            let rivals = show.controls.iter().filter(|other| {
                let holds = |(target, _): (Target, _)| target != Target::Section && shared.contains(&target);
                other.kind == ControlKind::Latching
                    && other.name != control.name
                    && show.grips(&other.name).any(holds)
            });
            for rival in rivals {
                if let Some(touched) = self.touched.get_mut(&rival.name) {
                    touched.position = None;
                }
            }
        }
    }

    /// Calls the section that a control calls, if it does.
    fn call(&mut self, show: &Show, control: &Control) {
        let calls = show.grips(&control.name).filter(|(target, _)| *target == Target::Section);
        self.called.extend(calls.filter_map(|(_, grip)| SectionCall::of(&grip.high)));
    }

    /// The sections that were called since the last time, the first first.
    pub fn take_called(&mut self) -> Vec<SectionCall> {
        std::mem::take(&mut self.called)
    }

    /// Whether what is done is noted, for [`Self::take_deeds`].
    pub(super) fn listen_to(&mut self, listens: bool) {
        self.deeds = listens.then(Vec::new);
    }

    /// What was done since the last time, the first first.
    pub(super) fn take_deeds(&mut self) -> Vec<(String, Deed)> {
        self.deeds.as_mut().map(std::mem::take).unwrap_or_default()
    }

    fn note(&mut self, control: &Control, deed: Deed) {
        if let Some(deeds) = &mut self.deeds {
            deeds.push((control.name.clone(), deed));
        }
    }

    fn move_to(&mut self, show: &Show, control: &Control, position: f64, beats: f64) {
        self.note(control, Deed::Turn(beats));
        let touched = self.touch(control);
        let is_played = touched.move_to(position, beats);
        touched.settle(show, control);
        if is_played {
            self.call(show, control);
        }
    }

    /// Lets a control up: a momentary one lets its settings go, the others stay as they are.
    pub fn release(&mut self, control: &Control) {
        self.note(control, Deed::Release);
        if control.kind == ControlKind::Momentary {
            self.touch(control).position = None;
        }
    }

    /// Moves a continuous control to 0..1 at a beat, as by a pointer on the screen. Others are pressed from a half on.
    ///
    /// A device's control then has to be brought to the new position before it moves this one again.
    pub fn turn(&mut self, show: &Show, control: &Control, position: f64, beats: f64) {
        let position = position.clamp(0.0, 1.0);
        if control.kind != ControlKind::Continuous {
            return self.switch(show, control, position, beats);
        }
        self.touch(control).picked_up = false;
        self.move_to(show, control, position, beats);
    }

    /// The same for a control of a device, which stands where it stands: it moves a continuous control from when
    /// it reaches or passes the position of that one in the show, so that no setting jumps.
    pub fn turn_on_device(&mut self, show: &Show, control: &Control, position: f64, beats: f64) {
        let position = position.clamp(0.0, 1.0);
        if control.kind != ControlKind::Continuous {
            return self.switch(show, control, position, beats);
        }
        let stored = self.position(&control.name).map(|at| [at; 2]).or_else(|| resting(show, control));
        let touched = self.touched.entry(control.name.clone()).or_default();
        let before = touched.device.replace(position);
        if !touched.picked_up {
            touched.picked_up = match (stored, before) {
                (None, _) => true,
                (Some([from, to]), _) if (from - NEAR..=to + NEAR).contains(&position) => true,
                (Some([from, _]), Some(before)) => (before < from) != (position < from),
                (Some(_), None) => false,
            };
        }
        if touched.picked_up {
            self.move_to(show, control, position, beats);
        }
    }

    /// A button that is sent as a number: down from a half on, up below (MIDI 1.0: a switch is on from 64 of 127).
    fn switch(&mut self, show: &Show, control: &Control, position: f64, beats: f64) {
        let touched = self.touched.entry(control.name.clone()).or_default();
        let was_down = touched.device.replace(position).is_some_and(|before| before >= 0.5);
        match (was_down, position >= 0.5) {
            (false, true) => self.press(show, control, position, beats),
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
        let stands =
            || touched.position.or_else(|| resting(show, control).map(|[from, to]| f64::midpoint(from, to)));
        waits.then(stands)?
    }

    /// Lets every control go.
    pub fn let_go(&mut self) {
        *self = Self { deeds: self.deeds.take(), ..Self::default() };
    }

    /// The show with everything that a control holds where that control puts it, and the envelopes that it fires begun
    /// at the beats at which it was played. Which section plays is no part of that: [`Self::take_called`] says it.
    pub fn applied(&self, show: &Show) -> Show {
        let mut show = show.clone();
        if self.touched.is_empty() {
            return show;
        }
        for target in show.targets() {
            if let Some(value) = self.value(&show, target) {
                show.put_target(target, &value);
            } else if let Target::Setting { scope, at, place } = target {
                let used = &mut show.chain_mut(scope)[at];
                if let Some(fired) = used.automation(place).and_then(|a| self.fired(a)) {
                    // An envelope that the setting takes is one that it takes begun at other beats.
                    used.automate(place, fired).ok();
                }
            }
        }
        show
    }

    /// The value that the controls give something; none where none that holds it is touched. Where several are, the one
    /// that was played last wins.
    fn value(&self, show: &Show, target: Target) -> Option<Value> {
        if target == Target::Section {
            return None;
        }
        let held = show.grips_on(target).into_iter().filter_map(|grip| {
            let touched = self.touched.get(&grip.control)?;
            Some((touched.turn, touched, touched.position?, grip))
        });
        let (_, touched, position, grip) = held.max_by_key(|(turn, ..)| *turn)?;
        let kind = show.target_kind(target)?;
        let control = show.controls.iter().find(|control| control.name == grip.control);
        let is_turned = control.is_some_and(|control| control.kind == ControlKind::Continuous);
        match kind {
            // However softly a button is pressed, it gives its own word, and none of those between.
            Kind::Choice(_) if !is_turned => Some(grip.at(&kind, 1.0)),
            Kind::Choice(_) => Some(touched.word(target, &kind, grip, position)),
            _ => Some(grip.at(&kind, position)),
        }
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

/// From where to where an untouched control would stand, by the first thing that tells of those that it moves.
fn resting(show: &Show, control: &Control) -> Option<[f64; 2]> {
    show.grips(&control.name).find_map(|(target, grip)| grip.positions(&show.target_value(target)?))
}
