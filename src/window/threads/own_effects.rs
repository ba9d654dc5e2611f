//! Effects of a person's own are looked at again and again, on a thread of its own: the window rests meanwhile.

use std::path::PathBuf;
use std::sync::mpsc::{self, Receiver, RecvTimeoutError, Sender};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use crate::catalogue::Catalogue;
use crate::trial::OwnEffects;

/// How often the files are looked at: their names and times only, until one has changed.
const EVERY: Duration = Duration::from_millis(400);

/// A thread that looks at the files of effects.
pub struct EffectsWatcher {
    stop: Option<Sender<()>>,
    news: Receiver<Catalogue>,
    thread: Option<JoinHandle<()>>,
}

impl EffectsWatcher {
    /// Looks from now on; `wake` is called when something is new.
    pub fn new(mut own: OwnEffects, wake: impl Fn() + Send + 'static) -> Self {
        let (stop, stopped) = mpsc::channel::<()>();
        let (tell, news) = mpsc::channel();
        // Where no thread is to be had, the effects stay as they are.
        let thread = thread::Builder::new().name("effects".to_owned()).spawn(move || {
            while stopped.recv_timeout(EVERY) == Err(RecvTimeoutError::Timeout) {
                if let Some(catalogue) = own.look() {
                    if tell.send(catalogue).is_err() {
                        break;
                    }
                    wake();
                }
            }
        });
        Self { stop: Some(stop), news, thread: thread.ok() }
    }

    /// The catalogue as it is now, where it has changed.
    pub(crate) fn take(&mut self) -> Option<Catalogue> {
        self.news.try_iter().last()
    }
}

impl Drop for EffectsWatcher {
    fn drop(&mut self) {
        drop(self.stop.take());
        // A trial on its way is not waited for.
        if let Some(thread) = self.thread.take().filter(JoinHandle::is_finished) {
            let _ = thread.join();
        }
    }
}

/// The folders whose effects are watched: the person's own, and one named.
pub(crate) fn folders(named: Option<PathBuf>) -> Vec<PathBuf> {
    let mut folders: Vec<PathBuf> = crate::catalogue::effects_folder().into_iter().collect();
    folders.extend(named.filter(|named| !folders.contains(named)));
    folders
}
