//! A thread for each piece of footage: it opens the footage, makes the frames asked for, and then a few more.

use std::path::Path;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::Duration;

use image::RgbaImage;

use super::error::FootageError;
use super::fitting::fitted;
use super::kept::{FrameStore, Key};
use super::picture_file::no_frame;
use super::reel::Reel;
use super::source::FrameSource;
use super::timing::Timing;
use crate::base::ffmpeg::Leash;
use crate::base::picture::Picture;

/// Bytes of fitted pictures that are made ahead of what was asked for, or on the way back to it.
const AHEAD_BYTES: u64 = 64 << 20;
/// Pictures that are made ahead at most.
const MOST_AHEAD: u64 = 8;
/// How often whoever waits for a picture looks whether it is still wanted.
const LOOKS_UP: Duration = Duration::from_millis(50);
/// Largest step between two pictures asked for that counts as playing.
const LARGEST_STRIDE: u64 = 8;

/// One piece of footage and the thread that decodes it; dropped, the thread ends.
#[derive(Debug)]
pub(super) struct Decoder {
    shared: Arc<Shared>,
}

#[derive(Debug)]
struct Shared {
    path: Arc<Path>,
    state: Mutex<State>,
    changed: Condvar,
    kept: Arc<Mutex<FrameStore>>,
    /// Other programs that decode for it.
    leash: Leash,
}

#[derive(Debug, Default)]
struct State {
    /// Known once the footage is open.
    timing: Option<Arc<Timing>>,
    /// Why it could not be opened; for good.
    refused: Option<FootageError>,
    /// What is asked for, one for each size and fit.
    wanted: Vec<Key>,
    /// The picture that could not be made last, and why.
    failed: Option<(Key, FootageError)>,
    closed: bool,
}

impl State {
    /// How many frames there are, as far as is known.
    fn count(&self) -> Option<u64> {
        self.timing.as_ref().and_then(|timing| timing.count())
    }
}

/// Pictures are whole or not there, so that a thread that broke off leaves nothing half done.
pub(super) fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Decoder {
    /// Starts the thread, which opens the footage.
    ///
    /// # Errors
    /// Where the system has no thread to give.
    pub fn start(path: &Path, kept: &Arc<Mutex<FrameStore>>) -> Result<Self, FootageError> {
        let shared = Arc::new(Shared {
            path: path.into(),
            state: Mutex::default(),
            changed: Condvar::new(),
            kept: Arc::clone(kept),
            leash: Leash::default(),
        });
        let own = Arc::clone(&shared);
        thread::Builder::new()
            .name("footage".to_owned())
            .spawn(move || {
                let ending = Ending(&own);
                run(&own);
                drop(ending);
            })
            .map_err(|source| FootageError::unreadable(path, source))?;
        Ok(Self { shared })
    }

    pub fn path(&self) -> &Arc<Path> {
        &self.shared.path
    }

    /// When the frames show; where `wait` is false, nothing while that is not known. Waiting ends, too, once
    /// `is_given_up`.
    pub fn timing(
        &self,
        wait: bool,
        is_given_up: &dyn Fn() -> bool,
    ) -> Result<Option<Arc<Timing>>, FootageError> {
        let mut state = locked(&self.shared.state);
        loop {
            if let Some(refused) = &state.refused {
                return Err(refused.clone());
            }
            if let Some(timing) = &state.timing {
                return Ok(Some(Arc::clone(timing)));
            }
            if !wait {
                return Ok(None);
            }
            if is_given_up() {
                return Err(self.given_up());
            }
            let waited = self.shared.changed.wait_timeout(state, LOOKS_UP);
            state = waited.unwrap_or_else(PoisonError::into_inner).0;
        }
    }

    /// A picture if it is there; else it is asked for, in place of an older wish of the same size and fit.
    pub fn ask(&self, key: &Key) -> Result<Option<Arc<Picture>>, FootageError> {
        let mut state = locked(&self.shared.state);
        if let Some((_, error)) = state.failed.as_ref().filter(|(failed, _)| failed == key) {
            return Err(error.clone());
        }
        if let Some(refused) = &state.refused {
            return Err(refused.clone());
        }
        let found = locked(&self.shared.kept).get(key);
        if found.is_none() && !state.wanted.contains(key) {
            state.wanted.retain(|old| old.fit != key.fit || old.frame != key.frame);
            state.wanted.push(key.clone());
            self.shared.changed.notify_all();
        }
        Ok(found)
    }

    fn given_up(&self) -> FootageError {
        FootageError::GivenUp { path: self.shared.path.to_path_buf() }
    }

    /// Waits for a picture, or until the footage turns out to end before it: then nothing. Waiting ends, too, once
    /// `is_given_up`.
    pub fn wait_for(
        &self,
        key: &Key,
        is_given_up: &dyn Fn() -> bool,
    ) -> Result<Option<Arc<Picture>>, FootageError> {
        // What failed before is tried anew.
        locked(&self.shared.state).failed = None;
        loop {
            if let Some(picture) = self.ask(key)? {
                return Ok(Some(picture));
            }
            let state = locked(&self.shared.state);
            let is_past_end = |state: &State| state.count().is_some_and(|count| key.number >= count);
            if is_past_end(&state) {
                return Ok(None);
            }
            // Woken when the wish is fulfilled, has failed, or cannot be.
            let waits = |state: &mut State| {
                state.wanted.contains(key) && state.refused.is_none() && !is_past_end(state)
            };
            let waited = self.shared.changed.wait_timeout_while(state, LOOKS_UP, waits);
            drop(waited.unwrap_or_else(PoisonError::into_inner));
            if is_given_up() {
                return Err(self.given_up());
            }
        }
    }
}

impl Drop for Decoder {
    fn drop(&mut self) {
        locked(&self.shared.state).closed = true;
        self.shared.leash.cut();
        self.shared.changed.notify_all();
    }
}

/// Whoever waits is told, even where the thread broke off.
struct Ending<'a>(&'a Shared);

impl Drop for Ending<'_> {
    fn drop(&mut self) {
        let mut state = locked(&self.0.state);
        if !state.closed && state.refused.is_none() {
            let why = "its decoder broke off".to_owned();
            state.refused = Some(FootageError::Damaged { path: self.0.path.to_path_buf(), why });
        }
        self.0.changed.notify_all();
    }
}

/// What the thread does from its start to its end.
fn run(shared: &Shared) {
    let reel = match Reel::open(&shared.path, &shared.leash) {
        Ok((reel, timing)) => {
            locked(&shared.state).timing = Some(Arc::new(timing));
            reel
        }
        Err(error) => {
            locked(&shared.state).refused = Some(error);
            return;
        }
    };
    shared.changed.notify_all();
    let mut head = Head { shared, reel, frames: None, held: None };
    let mut playing = AskedLately::default();
    while let Some((key, is_ahead)) = next_task(shared, &mut playing) {
        let made = head.make(&key, playing.pre_roll(&key, is_ahead));
        let mut state = locked(&shared.state);
        match made {
            Ok(()) => {}
            // What nobody asked for yet is told when it is asked for.
            Err(_) if is_ahead => playing.ahead.clear(),
            Err(error) => state.failed = Some((key.clone(), error)),
        }
        state.wanted.retain(|wanted| *wanted != key);
        drop(state);
        shared.changed.notify_all();
    }
}

/// Waits for what to make next: what is asked for, else what will be; nothing once the footage is closed.
fn next_task(shared: &Shared, playing: &mut AskedLately) -> Option<(Key, bool)> {
    let mut state = locked(&shared.state);
    loop {
        if state.closed {
            return None;
        }
        if let Some(key) = state.wanted.first().cloned() {
            playing.asked(&key, state.count());
            return Some((key, false));
        }
        if let Some(key) = playing.ahead.pop() {
            if locked(&shared.kept).has(&key) {
                continue;
            }
            return Some((key, true));
        }
        state = shared.changed.wait(state).unwrap_or_else(PoisonError::into_inner);
    }
}

/// How pictures have been asked for lately.
#[derive(Default)]
struct AskedLately {
    last: Option<u64>,
    /// How far the last but one was back, where it was a little.
    back: Option<u64>,
    /// What is made ahead, the next at the end.
    ahead: Vec<Key>,
}

/// Pictures of a size that are made ahead.
fn most_ahead(key: &Key) -> u64 {
    (AHEAD_BYTES / (key.frame.texels() * 4).max(1)).clamp(1, MOST_AHEAD)
}

impl AskedLately {
    fn asked(&mut self, key: &Key, count: Option<u64>) {
        let last = self.last.replace(key.number);
        let stride =
            last.and_then(|last| key.number.checked_sub(last)).filter(|&step| step <= LARGEST_STRIDE);
        self.back = last.and_then(|last| last.checked_sub(key.number)).filter(|&step| step <= LARGEST_STRIDE);
        self.ahead.clear();
        // Two fits of one frame are asked for in turn: a step of 0 goes on as one of 1.
        let Some(stride) = stride.map(|step| step.max(1)) else { return };
        let coming = (1..=most_ahead(key)).map(|n| key.number + n * stride);
        let there = coming.filter(|&number| count.is_some_and(|count| number < count));
        self.ahead = there.map(|number| Key { number, ..key.clone() }).collect();
        self.ahead.reverse();
    }

    /// How many pictures before `key` are made on the way to it, as they will be asked for next.
    fn pre_roll(&self, key: &Key, is_ahead: bool) -> u64 {
        if is_ahead || self.back.is_none_or(|back| back == 0) { 0 } else { most_ahead(key).min(key.number) }
    }
}

/// The footage and where in it the decoder stands.
struct Head<'a> {
    shared: &'a Shared,
    reel: Reel,
    /// The number of the frame that comes next, and what it comes from.
    frames: Option<(u64, Box<dyn FrameSource>)>,
    /// The frame decoded last: it may be wanted in another fit, or be the last one of a pipe.
    held: Option<(u64, RgbaImage)>,
}

impl Head<'_> {
    /// Makes a picture, and the `pre_roll` before it; where the footage ends before it, its end is noted.
    fn make(&mut self, key: &Key, pre_roll: u64) -> Result<(), FootageError> {
        let first = key.number - pre_roll;
        if let Some((_, picture)) = self.held.as_ref().filter(|(number, _)| *number == key.number) {
            let picture = picture.clone();
            return self.keep(key, picture);
        }
        let stays = self
            .frames
            .as_ref()
            .is_some_and(|(next, _)| *next <= key.number && key.number - next <= self.reel.far());
        if !stays {
            if self.reel.is_used_up() {
                return Err(FootageError::NotWoundBack { path: key.path.to_path_buf() });
            }
            // The old one is ended first: two would take twice the memory.
            self.frames = None;
            self.held = None;
            self.frames = Some(self.reel.frames_from(&self.shared.path, first)?);
        }
        loop {
            let Some((next, source)) = &mut self.frames else { return Ok(()) };
            let number = *next;
            if number > key.number {
                return Ok(());
            }
            let picture = match source.next() {
                Ok(Some(picture)) => picture,
                Ok(None) => return self.ended(number),
                Err(error) => {
                    self.frames = None;
                    return Err(error);
                }
            };
            *next += 1;
            if number >= first {
                // Nothing comes after a still: it need not be held.
                let is_still = number == 0 && locked(&self.shared.state).count() == Some(1);
                self.held = (!is_still).then(|| (number, picture.clone()));
                self.keep(&Key { number, ..key.clone() }, picture)?;
            } else {
                self.held = Some((number, picture));
            }
        }
    }

    fn keep(&self, key: &Key, picture: RgbaImage) -> Result<(), FootageError> {
        let picture = fitted(picture, key.fit, key.frame).map_err(|why| FootageError::Unfitted {
            path: key.path.to_path_buf(),
            frame: key.frame,
            why,
        })?;
        locked(&self.shared.kept).insert(key.clone(), picture);
        Ok(())
    }

    /// The footage has `count` frames and no more.
    fn ended(&mut self, count: u64) -> Result<(), FootageError> {
        if count == 0 {
            return Err(no_frame(&self.shared.path));
        }
        if let Some(timing) = &mut locked(&self.shared.state).timing {
            Arc::make_mut(timing).cut(count);
        }
        Ok(())
    }
}
