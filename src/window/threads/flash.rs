//! Flashes of the output, counted on a thread of their own while the window rests.

use std::collections::{HashMap, VecDeque};
use std::sync::Arc;
use std::sync::atomic::Ordering;

use super::worker::{Errand, News, Task, Unfinished, Worker};
use crate::base::place::capital;
use crate::catalogue::Catalogue;
use crate::edit::Edit;
use crate::footage::Shelf;
use crate::gpu::RenderError;
use crate::gpu::{Gpu, Renderer};
use crate::measure::FlashReport;
use crate::readiness::flashing;
use crate::readiness::flashing::{Flashing, Suggestion, Watch};
use crate::show::{Scope, Show};

/// Shows whose flashes stay known after they were changed.
const SHOWS_KNOWN: usize = 6;

enum Question {
    Show(Arc<Show>),
    /// The show with a chain in another order.
    Order(Arc<Show>, (Scope, Vec<usize>)),
    /// What would pass.
    Suggestions(Arc<Show>, Arc<Flashing>),
}

enum Answer {
    Progress(String, usize, usize),
    Found(Box<Flashing>),
    Report(Box<FlashReport>),
    Suggestions(Vec<Suggestion>),
}

/// What an errand is about.
#[derive(Debug, Clone, PartialEq)]
enum About {
    Show,
    Order((Scope, Vec<usize>)),
    Suggestions,
}

/// What is known of a show's flashes.
#[derive(Debug, Clone, Default)]
pub struct Flashes {
    /// Of the show as it is, as far as it was counted: controls come after the show as it stands.
    pub found: Option<Arc<Flashing>>,
    /// What is being counted, frames counted, and frames in all.
    pub progress: Option<(String, usize, usize)>,
    /// Of chains in other orders; why they were not counted where that is so.
    pub orders: HashMap<(Scope, Vec<usize>), Result<FlashReport, String>>,
    /// Changes that pass, once they were looked for; why that failed where it did.
    pub suggestions: Option<Result<Vec<Suggestion>, String>>,
    /// Why nothing is known.
    pub problem: Option<String>,
}

/// Counts the flashes of one show at a time, the latest, on a thread of its own.
pub struct FlashWatcher {
    worker: Worker<Question, Answer>,
    open: Vec<(Errand, About)>,
    show: Option<Arc<Show>>,
    known: Flashes,
    /// What was counted of the last shows, so that a step back is known at once.
    before: VecDeque<(Arc<Show>, Arc<Flashing>)>,
}

impl FlashWatcher {
    /// A watcher on this GPU.
    pub fn new(gpu: Gpu, catalogue: Catalogue, wake: impl Fn() + Send + 'static) -> Self {
        Self::beginning(move || Ok(gpu.sibling()), catalogue, wake)
    }

    /// A watcher on the GPU that `begin` gives: asked for on a thread of its own before anything else, and again
    /// after anything has failed.
    pub fn beginning(
        mut begin: impl FnMut() -> Result<Gpu, String> + Send + 'static,
        catalogue: Catalogue,
        wake: impl Fn() + Send + 'static,
    ) -> Self {
        let begin = move || begin().map(Renderer::giving_way);
        let work = move |renderer: &mut Renderer, question, task: &Task<'_, Answer>| {
            answered(renderer, &catalogue, question, task)
        };
        let worker = Worker::new("flashes", wake, begin, work);
        Self { worker, open: Vec::new(), show: None, known: Flashes::default(), before: VecDeque::new() }
    }

    /// Counts this show's flashes from now on; what belongs to another is given up.
    pub fn watch(&mut self, show: &Arc<Show>) {
        if self.is_about(show) {
            return;
        }
        self.forget();
        self.show = Some(Arc::clone(show));
        if let Some((_, found)) = self.before.iter().find(|(before, _)| before == show) {
            self.known.found = Some(Arc::clone(found));
            return;
        }
        let frames = Watch::of(show).frames(show.tempo_bpm);
        self.known.progress = Some(("Counting flashes".to_owned(), 0, frames));
        self.ask(About::Show, Question::Show(Arc::clone(show)));
    }

    /// Gives up what is being counted: the work has changed.
    pub fn forget(&mut self) {
        self.open.drain(..).for_each(|(errand, _)| errand.give_up());
        let found = self.known.found.take().filter(|found| found.is_whole);
        if let (Some(show), Some(found)) = (self.show.take(), found) {
            self.before.retain(|(before, _)| *before != show);
            self.before.push_front((show, found));
            self.before.truncate(SHOWS_KNOWN);
        }
        self.known = Flashes::default();
    }

    /// Whether it is about this show.
    pub fn is_about(&self, show: &Arc<Show>) -> bool {
        self.show.as_ref().is_some_and(|known| Arc::ptr_eq(known, show))
    }

    /// Counts the flashes of a chain in another order, too.
    pub fn watch_order(&mut self, scope: Scope, order: &[usize]) {
        let Some(show) = self.show.clone().filter(|_| self.known.found.is_some()) else { return };
        let of = (scope, order.to_vec());
        if !self.known.orders.contains_key(&of) {
            self.ask(About::Order(of.clone()), Question::Order(show, of));
        }
    }

    /// Looks for changes that pass.
    pub fn look_for_suggestions(&mut self) {
        let found = self.known.found.clone();
        let found = found.filter(|found| found.is_whole && self.known.suggestions.is_none());
        if let (Some(show), Some(found)) = (self.show.clone(), found) {
            self.ask(About::Suggestions, Question::Suggestions(show, found));
        }
    }

    /// Whether something is being counted.
    pub fn is_counting(&self) -> bool {
        !self.open.is_empty()
    }

    /// Counts anew what could not be counted.
    pub fn try_again(&mut self) {
        if self.known.problem.is_some() {
            self.forget();
        }
        self.known.orders.retain(|_, counted| counted.is_ok());
        self.known.suggestions.take_if(|found| found.is_err());
    }

    /// What is known by now.
    pub fn known(&mut self) -> &Flashes {
        while let Some((number, said)) = self.worker.hear() {
            let Some(at) = self.open.iter().position(|(errand, _)| errand.is(number)) else { continue };
            if let News::Part(part) = said {
                match part {
                    Answer::Progress(what, done, total) => self.known.progress = Some((what, done, total)),
                    Answer::Found(found) => self.known.found = Some(Arc::new(*found)),
                    Answer::Report(_) | Answer::Suggestions(_) => {}
                }
                continue;
            }
            let (_, about) = self.open.remove(at);
            let result = match said {
                News::Finished(answer) => Ok(answer),
                News::Failed(why) => Err(why),
                // Counted no further than to where nobody wanted it: nothing is known.
                News::GaveWay | News::Part(_) => continue,
            };
            match (about, result) {
                (About::Show, result) => {
                    self.known.progress = None;
                    match result {
                        Ok(Answer::Found(found)) => self.known.found = Some(Arc::new(*found)),
                        Ok(_) => {}
                        Err(why) => self.known.problem = Some(why),
                    }
                }
                (About::Order(of), Ok(Answer::Report(report))) => {
                    self.known.orders.insert(of, Ok(*report));
                }
                (About::Order(of), Err(why)) => drop(self.known.orders.insert(of, Err(why))),
                (About::Suggestions, Ok(Answer::Suggestions(found))) => {
                    self.known.suggestions = Some(Ok(found));
                }
                (About::Suggestions, Err(why)) => self.known.suggestions = Some(Err(why)),
                (About::Order(_) | About::Suggestions, Ok(_)) => {}
            }
        }
        &self.known
    }

    fn ask(&mut self, about: About, question: Question) {
        if !self.open.iter().any(|(_, open)| *open == about) {
            let errand = self.worker.ask(question);
            self.open.push((errand, about));
        }
    }
}

/// The thread's side.
fn answered(
    renderer: &mut Renderer,
    catalogue: &Catalogue,
    question: Question,
    task: &Task<'_, Answer>,
) -> Result<Answer, Unfinished> {
    let mut shelf = Shelf::new(catalogue);
    let stop = task.stop();
    shelf.give_up_when(move || stop.load(Ordering::Relaxed));
    let failed = |error: RenderError| Unfinished::Failed(error.to_string());
    let answer = match question {
        Question::Show(show) => {
            let watch = Watch::of(&show);
            let tell = |what: &str, done: usize, total: usize| {
                task.tell_progress(Answer::Progress(capital(what), done, total));
                task.is_wanted()
            };
            let total = watch.frames(show.tempo_bpm);
            let counted = flashing::counted(renderer, &mut shelf, &show, &watch, |now| {
                let by_now = now.at_least().map_or_else(String::new, |at_least| format!(", {at_least}"));
                tell(&format!("counting flashes{by_now}"), now.frames, total)
            });
            let mut found = Flashing::begun(&show, &watch, counted.map_err(failed)?);
            if !found.is_whole && task.is_wanted() {
                task.tell(Answer::Found(Box::new(found.clone())));
                let completed = flashing::completed(renderer, &mut shelf, &show, found, |doing| {
                    tell(doing.what, doing.done, doing.total)
                });
                found = completed.map_err(failed)?;
            }
            Answer::Found(Box::new(found))
        }
        Question::Order(show, (scope, order)) => {
            let changed = (Edit::Order { scope, order }).applied(&show);
            let (changed, _) = changed.map_err(|error| Unfinished::Failed(error.to_string()))?;
            let watch = Watch::of(&show);
            let counted = flashing::counted(renderer, &mut shelf, &changed, &watch, |_| task.is_wanted());
            Answer::Report(Box::new(counted.map_err(failed)?))
        }
        Question::Suggestions(show, found) => {
            let found = flashing::suggestions(renderer, &mut shelf, &show, &found, |_| task.is_wanted());
            Answer::Suggestions(found.map_err(failed)?)
        }
    };
    // What was given up on its way is counted in part only.
    if task.is_wanted() { Ok(answer) } else { Err(Unfinished::GaveWay) }
}

#[cfg(test)]
mod tests {
    use std::time::{Duration, Instant};

    use super::*;
    use crate::base::frame::Frame;
    use crate::edit::Work;

    fn small_show(catalogue: &Catalogue) -> Arc<Show> {
        let mut show = (**Work::preset("night-ferry", catalogue).unwrap().unwrap().show()).clone();
        show.frame = Frame { width: 32, height: 18 };
        Arc::new(show)
    }

    fn until_still(watcher: &mut FlashWatcher) -> Flashes {
        let began = Instant::now();
        loop {
            let known = watcher.known().clone();
            if !watcher.is_counting() {
                return known;
            }
            assert!(began.elapsed() < Duration::from_secs(180), "it counts for ever");
            std::thread::sleep(Duration::from_millis(2));
        }
    }

    #[test]
    fn where_flashes_could_not_be_counted_it_is_told_and_trying_again_counts_them() {
        let catalogue = Catalogue::built_in().unwrap();
        let show = small_show(&catalogue);
        let mut tries = 0;
        let begin = move || {
            tries += 1;
            match tries {
                1 => Err("no device is to be had".to_owned()),
                2 => panic!("the driver fell over"),
                _ => Gpu::open(None).map_err(|error| error.to_string()),
            }
        };
        let mut watcher = FlashWatcher::beginning(begin, catalogue, || ());
        for why in ["no device is to be had", "the work broke off: the driver fell over"] {
            watcher.watch(&show);
            assert!(watcher.is_counting());
            let known = until_still(&mut watcher);
            assert_eq!((known.problem.as_deref(), known.progress.is_none()), (Some(why), true));
            watcher.try_again();
        }
        watcher.watch(&show);
        let known = until_still(&mut watcher);
        assert!(known.found.is_some() && known.problem.is_none(), "{:?}", known.problem);
    }

    #[test]
    fn one_order_that_cannot_be_counted_keeps_nothing_counting_and_the_others_are_counted() {
        let catalogue = Catalogue::built_in().unwrap();
        let show = small_show(&catalogue);
        let begin = || Gpu::open(None).map_err(|error| error.to_string());
        let mut watcher = FlashWatcher::beginning(begin, catalogue, || ());
        watcher.watch(&show);
        assert!(until_still(&mut watcher).found.is_some());
        // The second is no order of the chain.
        let scope = Scope::Bundle(0);
        let orders = [vec![4, 3, 2, 1, 0], vec![0, 0, 0, 0, 0], vec![1, 0, 2, 3, 4]];
        orders.iter().for_each(|order| watcher.watch_order(scope, order));
        let known = until_still(&mut watcher);
        let counted = orders.map(|order| known.orders[&(scope, order)].is_ok());
        assert_eq!(counted, [true, false, true]);
        assert!(known.problem.is_none());
        // Asked for again it is not counted again and again.
        watcher.watch_order(scope, &[0, 0, 0, 0, 0]);
        assert!(!watcher.is_counting());
    }

    #[test]
    fn a_step_back_to_a_show_that_was_counted_is_known_at_once() {
        let catalogue = Catalogue::built_in().unwrap();
        let show = small_show(&catalogue);
        let other = Arc::new(Show { tempo_bpm: 120.0, ..(*show).clone() });
        let begin = || Gpu::open(None).map_err(|error| error.to_string());
        let mut watcher = FlashWatcher::beginning(begin, catalogue, || ());
        for show in [&show, &other] {
            watcher.watch(show);
            assert!(until_still(&mut watcher).found.is_some_and(|found| found.is_whole));
        }
        watcher.watch(&Arc::new((*show).clone()));
        assert!(!watcher.is_counting() && watcher.known().found.is_some());
    }
}
