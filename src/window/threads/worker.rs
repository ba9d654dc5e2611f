//! Work on a thread of its own: whatever is asked for ends with an answer, be it that there is none.

use std::any::Any;
use std::cell::Cell;
use std::collections::VecDeque;
use std::io;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{self, Receiver, Sender, TryRecvError};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use crate::gpu::{GpuError, RenderError};

/// What has become of an errand.
#[derive(Debug, Clone, PartialEq)]
pub enum News<A> {
    /// Something on the way; more follows.
    Part(A),
    /// The answer.
    Finished(A),
    /// There is no answer, for this reason; asked for again, it is tried anew.
    Failed(String),
    /// It was given up before there was one.
    GaveWay,
}

/// Why an errand has no answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Unfinished {
    /// The reason, in words.
    Failed(String),
    /// Nobody wants it any more.
    GaveWay,
}

impl From<GpuError> for Unfinished {
    fn from(error: GpuError) -> Self {
        match error {
            GpuError::Stopped => Self::GaveWay,
            error => Self::Failed(error.to_string()),
        }
    }
}

impl From<RenderError> for Unfinished {
    fn from(error: RenderError) -> Self {
        match error {
            RenderError::Gpu(error) => error.into(),
            RenderError::Footage(error) => Self::Failed(error.to_string()),
        }
    }
}

/// Something asked for, as the one who asked holds it.
#[derive(Debug, Clone)]
pub struct Errand {
    number: u64,
    stop: Arc<AtomicBool>,
}

impl Errand {
    /// Whether this is what was said about it.
    pub fn is(&self, number: u64) -> bool {
        self.number == number
    }

    /// Nobody wants it any more.
    pub fn give_up(&self) {
        self.stop.store(true, Ordering::Relaxed);
    }
}

/// Something asked for, as the thread holds it.
pub struct Task<'a, A> {
    errand: Errand,
    tell: &'a Sender<(u64, News<A>)>,
    wake: &'a dyn Fn(),
    /// When it was last said how far it has come.
    told: Cell<Option<Instant>>,
}

/// How often it is said how far an errand has come: whoever hears it paints the window anew, which on a processor
/// takes the time that the errand needs.
const EVERY: Duration = Duration::from_millis(200);
/// How often it is looked during a pause whether an errand is still wanted.
const POLL: Duration = Duration::from_millis(5);

impl<A> Task<'_, A> {
    /// Whether somebody still wants it.
    pub fn is_wanted(&self) -> bool {
        !self.errand.stop.load(Ordering::Relaxed)
    }

    /// Waits, as long as it is wanted: for as long as a person has to rest before much is begun.
    ///
    /// # Errors
    /// Nobody wants it any more.
    pub fn pause(&self, lasts: Duration) -> Result<(), Unfinished> {
        let until = Instant::now() + lasts;
        while Instant::now() < until {
            if !self.is_wanted() {
                return Err(Unfinished::GaveWay);
            }
            thread::sleep(POLL);
        }
        Ok(())
    }

    /// Set once nobody wants it any more.
    pub fn stop(&self) -> Arc<AtomicBool> {
        Arc::clone(&self.errand.stop)
    }

    /// Says something on the way to the answer.
    pub fn tell(&self, part: A) {
        self.say(News::Part(part));
    }

    /// Says how far it has come, now and then.
    pub fn tell_progress(&self, part: A) {
        if self.told.get().is_none_or(|told| told.elapsed() >= EVERY) {
            self.told.set(Some(Instant::now()));
            self.tell(part);
        }
    }

    fn say(&self, said: News<A>) {
        // Nobody listens any more once the window is closed.
        let _ = self.tell.send((self.errand.number, said));
        (self.wake)();
    }
}

type Asked<Q> = Receiver<(Errand, Q)>;
type Told<A> = Sender<(u64, News<A>)>;

/// A thread, and the way to it and back.
struct Running<Q, A> {
    ask: Sender<(Errand, Q)>,
    told: Receiver<(u64, News<A>)>,
    thread: JoinHandle<()>,
}

/// Starts a thread that answers what comes in; how large its stack is to be, where that matters.
type Start<Q, A> = Box<dyn Fn(thread::Builder, Asked<Q>, Told<A>) -> io::Result<JoinHandle<()>>>;

/// A thread that does one errand after the other, each of which ends with news that is no [`News::Part`]:
/// also where the thread cannot be started, what it needs is not to be had, or its work breaks off. The next
/// errand is begun afresh then.
pub struct Worker<Q, A> {
    name: &'static str,
    start: Start<Q, A>,
    running: Option<Running<Q, A>>,
    /// Asked for and not answered yet.
    open: Vec<Errand>,
    /// What the thread could not say itself.
    unsaid: VecDeque<(u64, News<A>)>,
    next: u64,
    /// Whether its end is waited for once nobody needs it.
    is_awaited: bool,
    #[cfg(test)]
    stack: Option<usize>,
}

impl<Q: Send + 'static, A: Send + 'static> Worker<Q, A> {
    /// A worker whose thread is started with the first errand. On it, `begin` makes what the work needs, before
    /// the first errand and again after one that failed; `work` does an errand; `wake` is called whenever
    /// something is said.
    pub fn new<S: 'static>(
        name: &'static str,
        wake: impl Fn() + Send + 'static,
        begin: impl FnMut() -> Result<S, String> + Send + 'static,
        work: impl FnMut(&mut S, Q, &Task<'_, A>) -> Result<A, Unfinished> + Send + 'static,
    ) -> Self {
        // Kept here too, as a thread that is refused loses what it was given.
        let hands = Arc::new(Mutex::new((wake, begin, work)));
        let start = move |builder: thread::Builder, asked: Asked<Q>, tell: Told<A>| {
            let hands = Arc::clone(&hands);
            builder.spawn(move || {
                let mut hands = hands.lock().unwrap_or_else(PoisonError::into_inner);
                let (wake, begin, work) = &mut *hands;
                let mut state = None;
                for (errand, question) in asked {
                    let task = Task { errand, tell: &tell, wake, told: Cell::new(None) };
                    let said = done(&mut state, begin, work, question, &task);
                    task.say(said);
                }
                let _ = catch_unwind(AssertUnwindSafe(|| drop(state)));
            })
        };
        Self {
            name,
            start: Box::new(start),
            running: None,
            open: Vec::new(),
            unsaid: VecDeque::new(),
            next: 0,
            is_awaited: true,
            #[cfg(test)]
            stack: None,
        }
    }

    /// A worker that touches no GPU, and whose end nobody needs to wait for.
    pub fn unawaited(mut self) -> Self {
        self.is_awaited = false;
        self
    }

    /// Asks for something, behind all that was asked for before.
    pub fn ask(&mut self, question: Q) -> Errand {
        self.next += 1;
        let errand = Errand { number: self.next, stop: Arc::default() };
        self.take_leave_of_the_dead();
        self.open.push(errand.clone());
        let asked = match self.started() {
            Ok(running) => running
                .ask
                .send((errand.clone(), question))
                .map_err(|_| format!("its thread ({}) has ended", self.name)),
            Err(error) => Err(format!("the system gives it no thread ({error})")),
        };
        if let Err(why) = asked {
            self.unsaid.push_back((errand.number, News::Failed(why)));
        }
        errand
    }

    /// The next thing said, with the number of the errand that it is about.
    pub fn hear(&mut self) -> Option<(u64, News<A>)> {
        let (number, said) = self.heard()?;
        if !matches!(said, News::Part(_)) {
            self.open.retain(|errand| errand.number != number);
        }
        Some((number, said))
    }

    fn heard(&mut self) -> Option<(u64, News<A>)> {
        if let Some(running) = &self.running {
            match running.told.try_recv() {
                Ok(said) => return Some(said),
                Err(TryRecvError::Empty) => {}
                Err(TryRecvError::Disconnected) => self.take_leave_of_the_dead(),
            }
        }
        self.unsaid.pop_front()
    }

    /// What a thread that has ended left open is answered in its place.
    fn take_leave_of_the_dead(&mut self) {
        let Some(running) = self.running.take_if(|running| running.thread.is_finished()) else { return };
        self.unsaid.extend(running.told.try_iter());
        let why = format!("its thread ({}) has ended", self.name);
        for errand in &self.open {
            let is_answered =
                |(number, said): &(u64, News<A>)| errand.is(*number) && !matches!(said, News::Part(_));
            if !self.unsaid.iter().any(is_answered) {
                self.unsaid.push_back((errand.number, News::Failed(why.clone())));
            }
        }
        let _ = running.thread.join();
    }

    fn started(&mut self) -> io::Result<&Running<Q, A>> {
        if self.running.is_none() {
            let (ask, asked) = mpsc::channel();
            let (tell, told) = mpsc::channel();
            let builder = thread::Builder::new().name(self.name.to_owned());
            #[cfg(test)]
            let builder = match self.stack {
                Some(bytes) => builder.stack_size(bytes),
                None => builder,
            };
            let thread = (self.start)(builder, asked, tell)?;
            self.running = Some(Running { ask, told, thread });
        }
        self.running.as_ref().ok_or_else(|| io::Error::other("it was not kept"))
    }
}

impl<Q, A> Drop for Worker<Q, A> {
    fn drop(&mut self) {
        self.open.iter().for_each(Errand::give_up);
        if let Some(Running { ask, thread, .. }) = self.running.take() {
            drop(ask);
            // The program must not end while a thread is at work on the GPU: drivers do not bear that.
            if self.is_awaited || thread.is_finished() {
                let _ = thread.join();
            }
        }
    }
}

/// Does one errand; what the work needs is let go where it failed, as it may be what is broken.
fn done<S, Q, A>(
    state: &mut Option<S>,
    begin: &mut impl FnMut() -> Result<S, String>,
    work: &mut impl FnMut(&mut S, Q, &Task<'_, A>) -> Result<A, Unfinished>,
    question: Q,
    task: &Task<'_, A>,
) -> News<A> {
    if !task.is_wanted() {
        return News::GaveWay;
    }
    let outcome = catch_unwind(AssertUnwindSafe(|| {
        let state = match state {
            Some(state) => state,
            None => state.insert(begin().map_err(Unfinished::Failed)?),
        };
        work(state, question, task)
    }));
    let why = match outcome {
        Ok(Ok(answer)) => return News::Finished(answer),
        Ok(Err(Unfinished::GaveWay)) => return News::GaveWay,
        Ok(Err(Unfinished::Failed(why))) => why,
        Err(panic) => format!("the work broke off: {}", words_of(&*panic)),
    };
    let _ = catch_unwind(AssertUnwindSafe(|| drop(state.take())));
    News::Failed(why)
}

fn words_of(panic: &(dyn Any + Send)) -> String {
    let text = panic.downcast_ref::<String>().map(String::as_str);
    text.or_else(|| panic.downcast_ref::<&str>().copied()).unwrap_or("without a word").to_owned()
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::AtomicUsize;

    use super::*;

    /// Everything said until nothing is open any more.
    fn all_said<Q: Send + 'static, A: Send + 'static>(worker: &mut Worker<Q, A>) -> Vec<(u64, News<A>)> {
        let began = Instant::now();
        let mut said = Vec::new();
        while !worker.open.is_empty() {
            assert!(began.elapsed() < Duration::from_secs(20), "an errand was never answered");
            match worker.hear() {
                Some(one) => said.push(one),
                None => thread::sleep(Duration::from_millis(1)),
            }
        }
        said
    }

    /// Halves even numbers, refuses odd ones, and breaks off at 13.
    fn halving(begun: &Arc<AtomicUsize>) -> Worker<u32, u32> {
        let begun = Arc::clone(begun);
        let begin = move || {
            begun.fetch_add(1, Ordering::Relaxed);
            Ok(())
        };
        Worker::new(
            "halving",
            || (),
            begin,
            |(), number, task| {
                assert_ne!(number, 13, "thirteen");
                task.tell(number);
                match number % 2 {
                    0 => Ok(number / 2),
                    _ => Err(Unfinished::Failed(format!("{number} is odd"))),
                }
            },
        )
    }

    #[test]
    fn every_errand_ends_with_an_answer_and_the_next_is_begun_afresh_after_a_failure() {
        let begun = Arc::default();
        let mut worker = halving(&begun);
        for number in [4, 7, 13, 8, 10] {
            worker.ask(number);
        }
        let ends: Vec<_> =
            all_said(&mut worker).into_iter().filter(|(_, said)| !matches!(said, News::Part(_))).collect();
        assert_eq!(ends[0], (1, News::Finished(2)));
        assert_eq!(ends[1], (2, News::Failed("7 is odd".to_owned())));
        let (3, News::Failed(why)) = &ends[2] else { panic!("{:?}", ends[2]) };
        assert!(why.starts_with("the work broke off:") && why.contains("thirteen"), "{why}");
        assert_eq!(ends[3..], [(4, News::Finished(4)), (5, News::Finished(5))]);
        assert_eq!(begun.load(Ordering::Relaxed), 3, "at first, after 7 and after 13");
    }

    #[test]
    fn what_the_work_needs_and_cannot_have_is_told_and_tried_anew() {
        let mut tries = 0;
        let begin = move || {
            tries += 1;
            match tries {
                1 => Err("there is no device".to_owned()),
                2 => panic!("the driver fell over"),
                _ => Ok(tries),
            }
        };
        let mut worker: Worker<(), i32> = Worker::new("trying", || (), begin, |tries, (), _| Ok(*tries));
        for _ in 0..3 {
            worker.ask(());
        }
        let said = all_said(&mut worker);
        assert_eq!(said[0], (1, News::Failed("there is no device".to_owned())));
        assert_eq!(said[1], (2, News::Failed("the work broke off: the driver fell over".to_owned())));
        assert_eq!(said[2], (3, News::Finished(3)));
    }

    #[test]
    fn a_thread_that_is_refused_is_told_and_asked_for_again() {
        let mut worker = halving(&Arc::default());
        // More than any address space holds.
        worker.stack = Some(1 << 62);
        worker.ask(2);
        let said = all_said(&mut worker);
        assert!(
            matches!(&said[..], [(1, News::Failed(why))] if why.contains("gives it no thread")),
            "{said:?}"
        );
        worker.stack = None;
        worker.ask(2);
        assert_eq!(all_said(&mut worker).last(), Some(&(2, News::Finished(1))));
    }

    #[test]
    fn how_far_work_has_come_wakes_the_window_now_and_then_only() {
        let woken = Arc::new(AtomicUsize::new(0));
        let wakes = Arc::clone(&woken);
        let wake = move || {
            wakes.fetch_add(1, Ordering::Relaxed);
        };
        let mut worker: Worker<(), u32> = Worker::new(
            "telling",
            wake,
            || Ok(()),
            |(), (), task| {
                let began = Instant::now();
                let mut steps = 0;
                while began.elapsed() < EVERY * 3 {
                    steps += 1;
                    task.tell_progress(steps);
                    thread::sleep(Duration::from_millis(1));
                }
                Ok(steps)
            },
        );
        worker.ask(());
        let said = all_said(&mut worker);
        // At 0, 200 and 400 ms, and the answer; a machine that is held up says it less often.
        assert!((2..=4).contains(&said.len()), "{said:?}");
        assert_eq!(woken.load(Ordering::Relaxed), said.len());
    }

    #[test]
    fn what_is_given_up_gives_way_before_it_is_begun_and_on_its_way() {
        let (go, gate) = mpsc::channel::<()>();
        let mut worker: Worker<u32, u32> = Worker::new(
            "waiting",
            || (),
            || Ok(()),
            move |(), number, task| {
                if number == 0 {
                    let _ = gate.recv();
                    return if task.is_wanted() { Ok(0) } else { Err(Unfinished::GaveWay) };
                }
                Ok(number)
            },
        );
        let errands: Vec<Errand> = (0..3).map(|number| worker.ask(number)).collect();
        errands[0].give_up();
        errands[1].give_up();
        go.send(()).unwrap();
        assert_eq!(all_said(&mut worker), [(1, News::GaveWay), (2, News::GaveWay), (3, News::Finished(2))]);
        assert!(errands[2].is(3));
    }
}
