//! Where the show's controls stand, and the device that plays them.

use std::sync::Arc;
use std::time::Duration;

use crate::hands::{Division, Hands, Listener, Recorded, Recorder};
use crate::midi;
use crate::midi::Port;
use crate::show::Show;
use crate::show::control::Control;
use crate::show::grip::SectionCall;

/// How often a device's port is looked at.
const LISTEN_EVERY: Duration = Duration::from_millis(10);

/// What hands do in the window.
#[derive(Debug, Clone, PartialEq)]
pub enum HandAct {
    /// Presses the control at this place.
    Press(usize),
    /// Lets it up.
    Release(usize),
    /// Moves it to 0..1.
    Turn(usize, f64),
    /// Lets every control go.
    LetGo,
    /// Opens the MIDI port of this name.
    Open(String),
    /// Binds the control at this place to what is touched next on the device.
    Learn(usize),
    /// Binds the control at this place to the key that is pressed next.
    LearnKey(usize),
    /// Gives up learning.
    StopLearning,
    /// Records what is played from now on, or no longer; what was is shown before it is kept.
    Record(bool),
    /// Rounds what is recorded to this.
    Round(Division),
    /// Lets go what was recorded.
    Forget,
}

/// Where the controls stand, and the device that plays them; no part of the work.
#[derive(Default)]
pub struct Playing {
    hands: Hands,
    listener: Listener,
    port: Option<(String, Box<dyn Port>)>,
    learning: Option<usize>,
    learning_key: Option<usize>,
    division: Option<Division>,
    recorder: Option<Recorder>,
    /// The hands as they were last applied, and the shows with them on, the latest last.
    applied: (Hands, Vec<Applied>),
}

/// A show, and the same with hands on it.
type Applied = (Arc<Show>, Arc<Show>);

/// Shows that are seen at once at the most: as the desk has it, as the audience does, and those that this takes over from,
/// which are more where sections are called while others still come.
const SEEN_AT_ONCE: usize = 32;

/// What the panel is told of it.
#[derive(Debug, Clone, Default)]
pub struct HandsSeen {
    /// Where each control stands, 0..1; none where it leaves its settings alone.
    pub positions: Vec<Option<f64>>,
    /// Where a device's control waits to be brought, so that nothing jumps.
    pub awaited: Vec<Option<f64>>,
    /// The port that is open.
    pub port: Option<String>,
    /// The control that is being bound.
    pub learning: Option<usize>,
    /// The control that is being given a key.
    pub learning_key: Option<usize>,
    /// To what cues are rounded that are recorded.
    pub division: Option<Division>,
    /// What is recorded, and whether that goes on.
    pub recorded: Option<(Vec<Recorded>, bool)>,
}

impl Playing {
    /// The show as the hands have it.
    pub fn applied(&mut self, show: &Arc<Show>) -> Arc<Show> {
        if self.hands == Hands::default() {
            return Arc::clone(show);
        }
        let (hands, shows) = &mut self.applied;
        if *hands != self.hands {
            hands.clone_from(&self.hands);
            shows.clear();
        }
        if let Some((_, applied)) = shows.iter().find(|(of, _)| Arc::ptr_eq(of, show)) {
            return Arc::clone(applied);
        }
        let applied = Arc::new(self.hands.applied(show));
        shows.push((Arc::clone(show), Arc::clone(&applied)));
        let old = shows.len().saturating_sub(SEEN_AT_ONCE);
        shows.drain(..old);
        applied
    }

    /// What the panel shows.
    pub fn seen(&self, show: &Show) -> HandsSeen {
        HandsSeen {
            positions: show.controls.iter().map(|control| self.hands.position(&control.name)).collect(),
            awaited: show.controls.iter().map(|control| self.hands.awaited(show, control)).collect(),
            port: self.port.as_ref().map(|(name, _)| name.clone()),
            learning: self.learning,
            learning_key: self.learning_key.filter(|at| *at < show.controls.len()),
            division: self.division,
            recorded: self.recorder.as_ref().map(|recorder| (recorder.recorded(show), recorder.is_on())),
        }
    }

    /// The sections that controls called since the last time, the first first.
    pub fn take_called(&mut self) -> Vec<SectionCall> {
        self.hands.take_called()
    }

    /// Takes what was played into what is recorded.
    pub fn take_played(&mut self, beats: f64) {
        if let Some(recorder) = self.recorder.as_mut().filter(|recorder| recorder.is_on()) {
            recorder.take(&mut self.hands, beats);
        }
    }

    /// Does what was asked for at a beat; gives why it could not be done. `looped` are the beats after which playing comes
    /// round.
    pub fn act(&mut self, act: &HandAct, show: &Show, beats: f64, looped: Option<f64>) -> Option<String> {
        let control = |at: &usize| show.controls.get(*at);
        match act {
            HandAct::Press(at) => self.hands.press(show, control(at)?, 1.0, beats),
            HandAct::Release(at) => self.hands.release(control(at)?),
            HandAct::Turn(at, position) => self.hands.turn(show, control(at)?, *position, beats),
            HandAct::LetGo => self.hands.let_go(),
            HandAct::LearnKey(at) => self.learning_key = Some(*at),
            HandAct::Learn(at) => {
                self.learning = Some(*at);
                self.listener.learn();
            }
            HandAct::StopLearning => {
                self.learning_key = None;
                self.learning = None;
                self.listener.stop_learning();
            }
            HandAct::Record(true) => {
                let division = self.division.unwrap_or(Division::Beat);
                self.recorder = Some(Recorder::new(&mut self.hands, division, looped));
            }
            HandAct::Record(false) => {
                if let Some(recorder) = &mut self.recorder {
                    recorder.stop(&mut self.hands, beats);
                }
            }
            HandAct::Round(division) => {
                self.division = Some(*division);
                if let Some(recorder) = &mut self.recorder {
                    recorder.division = *division;
                }
            }
            HandAct::Forget => {
                if let Some(mut recorder) = self.recorder.take() {
                    recorder.stop(&mut self.hands, beats);
                }
            }
            HandAct::Open(name) => match opened(name) {
                Ok(port) => self.port = Some((name.clone(), port)),
                Err(error) => return Some(error),
            },
        }
        None
    }

    /// Uses this port: for tests, which have no device.
    pub fn use_port(&mut self, name: &str, port: Box<dyn Port>) {
        self.port = Some((name.to_owned(), port));
    }

    /// Takes in what the device says; gives the controls with a new binding, once one was learned.
    pub fn listen(&mut self, show: &Show, beats: f64, ctx: &egui::Context) -> Option<Vec<Control>> {
        let (_, port) = self.port.as_mut()?;
        ctx.request_repaint_after(LISTEN_EVERY);
        let learned = self.listener.listen(port.as_mut(), show, &mut self.hands, beats)?;
        let at = self.learning.take()?;
        let mut controls = show.controls.clone();
        controls.get_mut(at)?.midi = Some(learned);
        Some(controls)
    }
}

#[cfg(feature = "midi")]
fn opened(name: &str) -> Result<Box<dyn Port>, String> {
    midi::open(name).map(|port| Box::new(port) as Box<dyn Port>).map_err(|error| error.to_string())
}

#[cfg(not(feature = "midi"))]
fn opened(_: &str) -> Result<Box<dyn Port>, String> {
    midi::available()?;
    Err("there is no MIDI port".to_owned())
}
