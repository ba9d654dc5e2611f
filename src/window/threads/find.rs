//! Finding orders and settings that come near a wish, on a thread of its own: nothing is waited for.

use std::path::Path as FilePath;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use super::worker::{Errand, News, Task, Unfinished, Worker};
use crate::base::picture::Picture;
use crate::beat::Moment;
use crate::catalogue::Catalogue;
use crate::explore::Goal;
use crate::explore::find::sizes::{TRIES, shown_alone, sizes};
use crate::explore::find::{Kept, Quest, Seat, Space, Standing};
use crate::footage::Shelf;
use crate::gpu::{Budget, Gpu, Renderer};
use crate::measure::Difference;
use crate::order::LookLimits;
use crate::show::chain::Chain;
use crate::show::clip::FootageName;
use crate::show::{Scope, Show};

/// Memory for pictures meanwhile, in MiB: the window's own pictures need room too.
const MIB: u64 = 256;
/// Answers that are told.
const ANSWERS: usize = 6;
/// How often the best so far are told.
const SO_FAR: Duration = Duration::from_millis(1500);
/// Which of the random streams: the same question has the same answers.
const SEED: u64 = 1;

/// What is looked for, and over what.
#[derive(Debug, Clone)]
pub struct FindQuestion {
    /// The show, the clip of the path showing.
    pub show: Arc<Show>,
    pub scope: Scope,
    /// When, at the size of the frame.
    pub moment: Moment,
    pub space: Space,
    /// The scopes that the chain is tried on, in the order of the space.
    pub scopes: Vec<Scope>,
    pub goal: Goal,
    /// The picture to come near, as it is written.
    pub like: Option<String>,
}

/// An order with its settings that comes near.
#[derive(Debug, Clone)]
pub struct FoundChain {
    /// Where it sits.
    pub scope: Scope,
    /// The effects where they stand in the chain, with the settings that were found.
    pub chain: Chain,
    /// Their places, first applied first.
    pub order: Vec<usize>,
    /// The goal's figure: at the size at which candidates are tried, as long as it is not measured.
    pub figure: f64,
    /// Measured at the frame itself, where the figure is a difference.
    pub difference: Option<Difference>,
    pub is_measured: bool,
}

enum Answer {
    /// The picture to come near, as it lies in the frame.
    Like(Picture),
    /// So many were tried, of so many that are tried at random, and whether finer steps are tried by now.
    Way(u64, u64, bool),
    SoFar(Vec<FoundChain>),
    Found(Vec<FoundChain>),
}

/// A search on its way.
struct Open {
    errand: Errand,
    /// Set once the best so far is enough.
    enough: Arc<AtomicBool>,
    tries: u64,
    of: u64,
    is_finer: bool,
}

/// What of a search is on its way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Searching {
    pub tries: u64,
    /// Of so many that are tried at random; finer steps follow.
    pub of: u64,
    /// Whether finer steps are tried around the best.
    pub is_finer: bool,
    /// Whether the person has asked for the best so far.
    pub is_ending: bool,
}

/// Looks for one thing at a time, and keeps what was found last.
pub struct Finder {
    worker: Worker<(FindQuestion, Arc<AtomicBool>), Answer>,
    open: Option<Open>,
    question: Option<Arc<FindQuestion>>,
    like: Option<Arc<Picture>>,
    answers: Vec<FoundChain>,
    failed: Option<String>,
    /// Counts the lists of answers.
    pub lists: u64,
}

impl Finder {
    pub fn new(gpu: Gpu, catalogue: Catalogue, wake: impl Fn() + Send + 'static) -> Self {
        let begin = move || Ok(Renderer::giving_way(gpu.sibling()));
        let work = move |renderer: &mut Renderer,
                         asked: (FindQuestion, Arc<AtomicBool>),
                         task: &Task<'_, Answer>| {
            renderer.stop_when(task.stop());
            let (question, enough) = asked;
            let goes_on = || task.is_wanted() && !enough.load(Ordering::Relaxed);
            found(renderer, &catalogue, &question, &goes_on, task)
        };
        Self {
            worker: Worker::new("find", wake, begin, work),
            open: None,
            question: None,
            like: None,
            answers: Vec::new(),
            failed: None,
            lists: 0,
        }
    }

    /// Begins a search in place of any other.
    pub fn begin(&mut self, question: FindQuestion) {
        self.leave();
        self.failed = None;
        self.like = None;
        self.answers.clear();
        self.lists += 1;
        self.question = Some(Arc::new(question.clone()));
        let enough: Arc<AtomicBool> = Arc::default();
        let errand = self.worker.ask((question, Arc::clone(&enough)));
        self.open = Some(Open { errand, enough, tries: 0, of: 0, is_finer: false });
    }

    /// Ends the search with the best so far.
    pub fn stop(&mut self) {
        if let Some(open) = &self.open {
            open.enough.store(true, Ordering::Relaxed);
        }
    }

    /// Gives the search up.
    pub fn leave(&mut self) {
        if let Some(open) = self.open.take() {
            open.errand.give_up();
        }
    }

    /// What was asked for last.
    pub fn question(&self) -> Option<&Arc<FindQuestion>> {
        self.question.as_ref()
    }

    /// The picture to come near, as it lies in the frame.
    pub fn like(&self) -> Option<&Arc<Picture>> {
        self.like.as_ref()
    }

    /// What was found, the best first.
    pub fn answers(&self) -> &[FoundChain] {
        &self.answers
    }

    /// How the search stands, while one is on its way.
    pub fn searching(&self) -> Option<Searching> {
        let Open { enough, tries, of, is_finer, .. } = self.open.as_ref()?;
        let is_ending = enough.load(Ordering::Relaxed);
        Some(Searching { tries: *tries, of: *of, is_finer: *is_finer, is_ending })
    }

    /// Why nothing was found.
    pub fn problem(&self) -> Option<&str> {
        self.failed.as_deref()
    }

    /// Takes in what was said since.
    pub fn hear(&mut self) {
        while let Some((number, said)) = self.worker.hear() {
            let Some(open) = self.open.as_mut().filter(|open| open.errand.is(number)) else { continue };
            match said {
                News::Part(Answer::Way(tries, of, is_finer)) => {
                    (open.tries, open.of, open.is_finer) = (tries, of, is_finer);
                }
                News::Part(Answer::Like(picture)) => self.like = Some(Arc::new(picture)),
                News::Part(Answer::SoFar(answers) | Answer::Found(answers)) => self.take(answers),
                News::Finished(answer) => {
                    self.open = None;
                    if let Answer::Found(answers) = answer {
                        self.take(answers);
                    }
                }
                News::GaveWay => self.open = None,
                News::Failed(why) => {
                    self.open = None;
                    self.failed = Some(why);
                }
            }
        }
    }

    fn take(&mut self, answers: Vec<FoundChain>) {
        self.answers = answers;
        self.lists += 1;
    }
}

fn found(
    renderer: &mut Renderer,
    catalogue: &Catalogue,
    question: &FindQuestion,
    goes_on: &dyn Fn() -> bool,
    task: &Task<'_, Answer>,
) -> Result<Answer, Unfinished> {
    let FindQuestion { show, scope: home, moment, space, scopes, goal, like } = question;
    let shelf = &mut Shelf::new(catalogue);
    let like = match like {
        Some(written) => {
            let footage = FootageName::parsed(written, FilePath::new(""));
            let picture = shown_alone(renderer, shelf, &footage, *moment)?;
            task.tell(Answer::Like(picture.clone()));
            Some(picture)
        }
        None => None,
    };
    let planned = space.planned();
    let seats: Vec<Seat> = scopes.iter().map(|&scope| Seat::new(show, *home, scope, &planned)).collect();
    let plan = |scope: usize, frame| {
        let seat = &seats[scope];
        Ok(seat.under(&seat.path(Moment { frame, ..*moment }, shelf)?))
    };
    let of = (space.clone(), *goal, SEED);
    let quest = Quest::planned(renderer, of, like.as_ref(), &sizes(moment.frame, None), plan)?;
    let budget = Budget { mib: MIB };
    let total = quest.space.counted().map_or(TRIES, |all| all.min(TRIES));
    let mut kept = Kept::default();
    let mut tries = 0;
    {
        let mut told = Instant::now();
        let mut judge = quest.judge(renderer, budget)?;
        // Small enough a step for the search to end soon after it is asked to.
        let at_once = (judge.at_once() as u64).clamp(1, 512);
        while tries < total && goes_on() {
            let end = (tries + at_once).min(total);
            judge.try_out(tries..end, &mut kept)?;
            tries = end;
            task.tell_progress(Answer::Way(tries, total, false));
            if told.elapsed() >= SO_FAR {
                told = Instant::now();
                task.tell(Answer::SoFar(so_far(&quest, scopes, &kept)));
            }
        }
    }
    task.tell(Answer::SoFar(so_far(&quest, scopes, &kept)));
    let mut finer = |tried: usize| {
        tries += tried as u64;
        task.tell_progress(Answer::Way(tries, total, true));
        goes_on()
    };
    let candidates = quest.climbed(renderer, &kept, budget, &mut finer)?;
    if !task.is_wanted() {
        return Err(Unfinished::GaveWay);
    }
    let found = quest.found(renderer, &candidates, ANSWERS, LookLimits::default(), budget)?;
    let answer = |found: crate::explore::find::Found| FoundChain {
        scope: scopes[found.scope],
        chain: found.chain,
        order: found.order,
        figure: found.figure,
        difference: found.difference,
        is_measured: true,
    };
    Ok(Answer::Found(found.into_iter().map(answer).collect()))
}

/// The best of the stream so far.
fn so_far(quest: &Quest, scopes: &[Scope], kept: &Kept) -> Vec<FoundChain> {
    let answer = |Standing { score, number }: Standing| {
        let candidate = quest.candidate(number);
        FoundChain {
            scope: scopes[candidate.scope],
            chain: quest.space.settled(&candidate),
            order: candidate.order,
            figure: quest.figure(score),
            difference: None,
            is_measured: false,
        }
    };
    kept.ranked().into_iter().take(ANSWERS).map(answer).collect()
}
