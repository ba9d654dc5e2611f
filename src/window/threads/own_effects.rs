//! Effects of a person's own are looked at again and again by a worker: the window rests meanwhile.

use std::path::PathBuf;
use std::thread;
use std::time::Duration;

use super::worker::{News, Task, Unfinished, Worker};
use crate::catalogue::Catalogue;
use crate::trial::OwnEffects;

/// How often the files are looked at: their names and times only, until one has changed.
const EVERY: Duration = Duration::from_millis(400);

/// Looks at the files of effects: an errand ends once one has changed, and the next begins.
pub struct EffectsWatcher {
    worker: Worker<(), Catalogue>,
}

impl EffectsWatcher {
    /// Looks from now on; `wake` is called when something is new.
    pub fn new(mut own: OwnEffects, wake: impl Fn() + Send + 'static) -> Self {
        let look = move |(): &mut (), (), task: &Task<'_, Catalogue>| {
            while task.is_wanted() {
                thread::sleep(EVERY);
                if let Some(catalogue) = own.look() {
                    return Ok(catalogue);
                }
            }
            Err(Unfinished::GaveWay)
        };
        // A trial on its way, which is a process of its own, is not waited for.
        let mut worker = Worker::new("effects", wake, || Ok(()), look).unawaited();
        worker.ask(());
        Self { worker }
    }

    /// The catalogue as it is now, where it has changed; or why nothing is looked at any more.
    pub(crate) fn take(&mut self) -> Option<Result<Catalogue, String>> {
        match self.worker.hear()?.1 {
            News::Part(_) | News::GaveWay => None,
            News::Failed(why) => Some(Err(why)),
            News::Finished(catalogue) => {
                self.worker.ask(());
                Some(Ok(catalogue))
            }
        }
    }
}

/// The folders whose effects are watched: the person's own, and one named.
pub(crate) fn folders(named: Option<PathBuf>) -> Vec<PathBuf> {
    let mut folders: Vec<PathBuf> = crate::catalogue::effects_folder().into_iter().collect();
    folders.extend(named.filter(|named| !folders.contains(named)));
    folders
}
