//! What is known of a chain's orders, found on a thread of its own: nothing is waited for.

use std::collections::{HashMap, VecDeque};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::{self, Receiver, Sender};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use crate::chain::labels;
use crate::exploration::{self, Orders};
use crate::frame::Frame;
use crate::gpu::{Budget, Gpu, GpuError, Renderer, Want};
use crate::order::{Class, Condition, Fact, LookLimits, Proofs, Tree, Verdict};
use crate::plan::Path;

/// What is known of the orders of a chain.
#[derive(Debug, Clone)]
pub struct Known {
    /// The path that was asked about.
    pub path: Arc<Path>,
    /// What is proved.
    pub proofs: Proofs,
    /// The orders that can differ, the present one first.
    pub classes: Vec<Class>,
    /// In which sequence they are looked at: the present one, then the most unlike it first.
    pub sequence: Vec<usize>,
    /// For each pair that is not proved, whether it differs on this footage at this moment; those found so far.
    pub pairs: Vec<(usize, usize, bool)>,
    /// The classes gathered into looks, once they are.
    pub looks: Option<Arc<Gathered>>,
    /// Another number whenever classes or looks are others.
    pub revision: u64,
}

/// Order classes gathered into looks: classes that a viewer cannot tell apart.
#[derive(Debug, Clone, PartialEq)]
pub struct Gathered {
    /// Whether the output was looked at, not the picture as it leaves the chain.
    pub of_output: bool,
    /// For each class, its look.
    pub of: Vec<usize>,
    /// Every look: that of the present order, then each time the one furthest from all before it.
    pub looks: Vec<Look>,
    /// Whether they were told apart as the chain is now, not before its last change.
    pub is_of_now: bool,
    /// Whether every order belongs to its look within the limits: false where there are too many looks.
    pub is_complete: bool,
    /// The size at which they were told apart.
    pub looked_at: Frame,
}

/// One look.
#[derive(Debug, Clone, PartialEq)]
pub struct Look {
    /// Its number, as [`Gathered::of`] has it.
    pub number: usize,
    /// The class that stands for it.
    pub class: usize,
    /// How many classes look like this.
    pub classes: usize,
    /// The mean CIEDE2000 of its picture from that of the present order.
    pub mean: f64,
    /// What decides: these facts hold together for this look alone. Empty where no few facts do.
    pub facts: Vec<Fact>,
}

/// What is to be gathered into looks.
#[derive(Debug, Clone)]
pub struct LookQuestion {
    /// The chain's path at the size to look at, ending where it is looked at.
    pub path: Arc<Path>,
    /// Whether it ends at the output.
    pub of_output: bool,
}

/// An order on the wall.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// Its class.
    pub class: usize,
    /// Its places.
    pub order: Vec<usize>,
    /// The look that it stands for, with the number of its classes that are left.
    pub look: Option<(Look, usize)>,
}

impl Known {
    /// Whether it is about the same chain over the same footage at the same moment.
    pub fn is_about(&self, path: &Path) -> bool {
        self.path.is_alike(path)
    }

    /// Whether it is about the same effects in the same order, perhaps with other settings or at another moment.
    pub fn is_like(&self, path: &Path) -> bool {
        let own = &self.path.chain;
        own.len() == path.chain.len()
            && own.iter().zip(&path.chain).all(|(a, b)| a.effect.name == b.effect.name)
    }

    /// Whether putting the chain into this order never changes the picture.
    pub fn is_same(&self, order: &[usize]) -> bool {
        let own: Vec<usize> = (0..order.len()).collect();
        self.proofs.classes.normal_form(order) == self.proofs.classes.normal_form(&own)
    }

    /// The orders for the wall that meet the conditions: one for each look where `by_look` and looks are
    /// known, of one look where `of_look`, otherwise one for each class. The present order's comes first
    /// where it meets them, then the most unlike.
    pub fn candidates(
        &self,
        by_look: bool,
        of_look: Option<usize>,
        conditions: &[Condition],
    ) -> Vec<Candidate> {
        let meeting = |class: usize| self.proofs.classes.order_with(&self.classes[class], conditions);
        let all = self.sequence.iter().filter_map(|&class| Some((class, meeting(class)?)));
        let plain = |(class, order)| Candidate { class, order, look: None };
        let Some(gathered) = &self.looks else { return all.map(plain).collect() };
        if let Some(look) = of_look {
            return all.filter(|&(class, _)| gathered.of[class] == look).map(plain).collect();
        }
        if !by_look {
            return all.map(plain).collect();
        }
        // For each look, the order that stands for it, or the first other that meets the conditions.
        let mut standing: HashMap<usize, (Candidate, usize)> = HashMap::new();
        let representatives: HashMap<usize, &Look> =
            gathered.looks.iter().map(|look| (look.number, look)).collect();
        for (class, order) in all {
            let number = gathered.of[class];
            let is_first_choice = representatives.get(&number).is_some_and(|look| look.class == class);
            let one = Candidate { class, order, look: None };
            match standing.get_mut(&number) {
                Some((known, count)) => {
                    *count += 1;
                    if is_first_choice {
                        *known = one;
                    }
                }
                None => drop(standing.insert(number, (one, 1))),
            }
        }
        let looks = gathered.looks.iter().filter_map(|look| {
            let (one, left) = standing.remove(&look.number)?;
            Some(Candidate { look: Some((look.clone(), left)), ..one })
        });
        looks.collect()
    }

    /// What is known of a pair.
    pub fn pair(&self, a: usize, b: usize) -> PairMark {
        match self.proofs.verdict(a, b) {
            Verdict::Always(_) => PairMark::Always,
            Verdict::Open(_) => match self.pairs.iter().find(|&&(x, y, _)| (x, y) == (a, b)) {
                Some((.., true)) => PairMark::Differs,
                Some((.., false)) => PairMark::Here,
                None => PairMark::Unknown,
            },
        }
    }
}

/// Whether it matters which of two effects comes first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PairMark {
    /// Proved: the picture is the same.
    Always,
    /// Not proved, but the same picture here.
    Here,
    /// Another picture.
    Differs,
    /// Not looked at yet.
    Unknown,
}

/// Memory for pictures while looks are gathered, in MiB: the window's own pictures need room too.
const LOOKS_MIB: u64 = 256;

/// How long the person has to pause before looks are told apart: a slider being drawn changes the chain often.
const PAUSE: Duration = Duration::from_millis(150);

enum Question {
    Proofs(Arc<Path>),
    Pairs(Box<Known>, Arc<AtomicBool>),
    Looks(Box<Known>, LookQuestion, Arc<Errand>),
}

/// Looks on their way: how far they have come, and whether anyone still wants them.
#[derive(Debug, Default)]
struct Errand {
    done: AtomicUsize,
    stop: Arc<AtomicBool>,
}

enum Answer {
    Proofs(Box<Known>),
    Problem(String),
    Pair(Arc<Path>, (usize, usize, bool)),
    Looks(Arc<Path>, Gathered),
}

/// A thread that answers questions about one chain at a time, the latest.
pub struct Prover {
    ask: Option<Sender<Question>>,
    thread: Option<JoinHandle<()>>,
    answers: Receiver<Answer>,
    asked: Option<Arc<Path>>,
    asked_pairs: bool,
    /// Where looks were asked for last, and for the output or not.
    asked_looks: Option<bool>,
    errand: Arc<Errand>,
    stop_pairs: Arc<AtomicBool>,
    /// Without a GPU nothing can be looked at.
    can_look: bool,
    known: Option<Arc<Known>>,
    revisions: u64,
    problem: Option<String>,
}

impl Prover {
    /// A prover on this GPU; without one it proves what needs none.
    pub fn new(gpu: Option<Gpu>, wake: impl Fn() + Send + 'static) -> Self {
        let (ask, questions) = mpsc::channel();
        let (tell, answers) = mpsc::channel();
        let can_look = gpu.is_some();
        // Where no thread is to be had, orders stay unknown; the rest works on.
        let thread = thread::Builder::new().name("orders".to_owned()).spawn(move || {
            let renderer = gpu.map(|gpu| {
                let mut renderer = Renderer::new(gpu);
                renderer.give_way();
                renderer
            });
            Answering { renderer, questions, tell, wake, last: None }.answer();
        });
        Self {
            ask: Some(ask),
            thread: thread.ok(),
            answers,
            asked: None,
            asked_pairs: false,
            asked_looks: None,
            errand: Arc::default(),
            stop_pairs: Arc::default(),
            can_look,
            known: None,
            revisions: 0,
            problem: None,
        }
    }

    /// What is known of this path's chain, asking for it where it is not known yet.
    pub fn known(&mut self, path: &Arc<Path>) -> Option<&Arc<Known>> {
        self.take_answers();
        let is_known = self.known.as_ref().is_some_and(|known| known.is_about(path));
        let is_asked = self.asked.as_ref().is_some_and(|asked| asked.is_alike(path));
        if !is_known && !is_asked {
            self.asked = Some(Arc::clone(path));
            self.asked_pairs = false;
            self.asked_looks = None;
            self.stop();
            self.send(Question::Proofs(Arc::clone(path)));
        }
        self.known.as_ref().filter(|known| known.is_about(path))
    }

    /// What was known last, perhaps of an earlier state of the chain.
    pub fn last_known(&self) -> Option<&Arc<Known>> {
        self.known.as_ref()
    }

    /// Asks which pairs differ here.
    pub fn look_at_pairs(&mut self) {
        let asks = self.can_look && !self.asked_pairs;
        if let Some(known) = self.known.as_deref().cloned().filter(|_| asks) {
            self.asked_pairs = true;
            self.stop_pairs = Arc::default();
            self.send(Question::Pairs(Box::new(known), Arc::clone(&self.stop_pairs)));
        }
    }

    /// Asks for the looks of what is known, once for where the chain is looked at.
    pub fn look_for_looks(&mut self, question: impl FnOnce() -> Option<LookQuestion>, of_output: bool) {
        let asks = self.can_look && self.asked_looks != Some(of_output);
        let Some(known) = self.known.clone().filter(|_| asks) else { return };
        if known.classes.len() < 2 || self.asked.as_ref().is_some_and(|asked| !known.is_about(asked)) {
            return;
        }
        let Some(question) = question() else { return };
        self.asked_looks = Some(of_output);
        self.errand.stop.store(true, Ordering::Relaxed);
        self.errand = Arc::default();
        self.send(Question::Looks(Box::new((*known).clone()), question, Arc::clone(&self.errand)));
    }

    /// How many classes have come so far on the way to looks; `None` while none are being told apart.
    pub fn gathering(&self) -> Option<usize> {
        let looks = self.known.as_ref().and_then(|known| known.looks.as_ref());
        let is_asked = self
            .asked_looks
            .is_some_and(|asked| looks.is_none_or(|looks| looks.of_output != asked || !looks.is_of_now));
        (is_asked && self.problem.is_none()).then(|| self.errand.done.load(Ordering::Relaxed))
    }

    /// Whether an answer is on its way.
    pub fn is_asking(&self) -> bool {
        if self.problem.is_some() {
            return false;
        }
        if self.gathering().is_some() {
            return true;
        }
        match (&self.asked, &self.known) {
            (Some(asked), Some(known)) if known.is_about(asked) => {
                self.asked_pairs && known.pairs.len() < open_pairs(known).len()
            }
            (asked, _) => asked.is_some(),
        }
    }

    /// Why there is no answer.
    pub fn problem(&self) -> Option<&str> {
        self.problem.as_deref()
    }

    fn stop(&self) {
        self.errand.stop.store(true, Ordering::Relaxed);
        self.stop_pairs.store(true, Ordering::Relaxed);
    }

    fn send(&self, question: Question) {
        if let Some(ask) = &self.ask {
            // The thread ends only with the window.
            let _ = ask.send(question);
        }
    }

    fn take_answers(&mut self) {
        while let Ok(answer) = self.answers.try_recv() {
            self.revisions += 1;
            let revision = self.revisions;
            let about = |path: &Path, known: &mut Option<Arc<Known>>, change: &dyn Fn(&mut Known)| {
                if let Some(known) = known.as_mut().filter(|known| known.is_about(path)) {
                    change(Arc::make_mut(known));
                }
            };
            match answer {
                Answer::Looks(path, gathered) => {
                    let gathered = Arc::new(gathered);
                    about(&path, &mut self.known, &|known| {
                        known.looks = Some(Arc::clone(&gathered));
                        known.revision = revision;
                    });
                }
                Answer::Proofs(known) => {
                    self.asked_pairs = false;
                    self.asked_looks = None;
                    self.problem = None;
                    self.known = Some(Arc::new(Known { revision, ..*known }));
                }
                Answer::Problem(problem) => self.problem = Some(problem),
                Answer::Pair(path, pair) => about(&path, &mut self.known, &|known| known.pairs.push(pair)),
            }
        }
    }
}

impl Drop for Prover {
    fn drop(&mut self) {
        self.stop();
        self.ask = None;
        // The program must not end while a thread is at work on the GPU: drivers do not bear that.
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// Puts a question behind the others; another chain makes those before it pointless.
fn queue_up(waiting: &mut VecDeque<Question>, question: Question) {
    if matches!(question, Question::Proofs(_)) {
        waiting.clear();
    }
    waiting.push_back(question);
}

/// The thread's side.
struct Answering<W> {
    renderer: Option<Renderer>,
    questions: Receiver<Question>,
    tell: Sender<Answer>,
    wake: W,
    /// What was gathered last.
    last: Option<(Known, Gathered)>,
}

impl<W: Fn()> Answering<W> {
    fn answer(mut self) {
        let mut waiting = VecDeque::new();
        loop {
            if waiting.is_empty() {
                match self.questions.recv() {
                    Ok(question) => waiting.push_back(question),
                    Err(_) => return,
                }
            }
            self.questions.try_iter().for_each(|question| queue_up(&mut waiting, question));
            match waiting.pop_front() {
                Some(Question::Proofs(path)) => {
                    let proved = proved(self.renderer.as_mut(), path);
                    let answer = match proved {
                        Ok(mut known) => {
                            known.looks = self.last.as_ref().and_then(|last| carried_over(last, &known));
                            Answer::Proofs(Box::new(known))
                        }
                        Err(problem) => Answer::Problem(problem),
                    };
                    self.say(answer);
                }
                Some(Question::Looks(known, question, errand)) => {
                    if let Ok(newer) = self.questions.recv_timeout(PAUSE) {
                        waiting.push_front(Question::Looks(known, question, errand));
                        queue_up(&mut waiting, newer);
                    } else {
                        self.gather(*known, &question, &errand);
                    }
                }
                Some(Question::Pairs(known, stop)) => self.look_at_pairs(&known, &stop),
                None => {}
            }
        }
    }

    /// Nobody listens any more once the window is closed.
    fn say(&self, answer: Answer) {
        let _ = self.tell.send(answer);
        (self.wake)();
    }

    fn gather(&mut self, known: Known, question: &LookQuestion, errand: &Errand) {
        let Some(renderer) = &mut self.renderer else { return };
        renderer.stop_when(Arc::clone(&errand.stop));
        let wake = &self.wake;
        let progress = |done| {
            errand.done.store(done, Ordering::Relaxed);
            wake();
        };
        match gathered(renderer, &known, question, progress) {
            Ok(gathered) => {
                self.last = Some((known.clone(), gathered.clone()));
                self.say(Answer::Looks(known.path, gathered));
            }
            Err(GpuError::Stopped) => {}
            Err(problem) => self.say(Answer::Problem(problem.to_string())),
        }
    }

    fn look_at_pairs(&mut self, known: &Known, stop: &Arc<AtomicBool>) {
        let Some(renderer) = &mut self.renderer else { return };
        renderer.stop_when(Arc::clone(stop));
        for pair in open_pairs(known) {
            let answer = match differs(renderer, &known.path, pair) {
                Ok(differs) => Answer::Pair(Arc::clone(&known.path), (pair.0, pair.1, differs)),
                Err(GpuError::Stopped) => return,
                Err(problem) => Answer::Problem(problem.to_string()),
            };
            let is_broken = matches!(answer, Answer::Problem(_));
            let is_heard = self.tell.send(answer).is_ok();
            (self.wake)();
            if is_broken || !is_heard || stop.load(Ordering::Relaxed) {
                return;
            }
        }
    }
}

/// The looks of an earlier state of the same effects, for as long as those of the present state are
/// not told apart yet: the wall keeps its pictures in their places meanwhile.
fn carried_over((before, gathered): &(Known, Gathered), now: &Known) -> Option<Arc<Gathered>> {
    let (old, new) = (&before.path.chain, &now.path.chain);
    if old.len() != new.len() {
        return None;
    }
    // Where each effect stood before: an equal one, otherwise the next of its name.
    let mut stood: Vec<Option<usize>> = vec![None; new.len()];
    for is_strict in [true, false] {
        for (at, used) in new.iter().enumerate().filter(|(at, _)| stood[*at].is_none()).collect::<Vec<_>>() {
            let fits = |place: &usize| {
                let other = &old[*place];
                !stood.contains(&Some(*place))
                    && if is_strict { other == used } else { other.effect.name == used.effect.name }
            };
            // At its own place, if it is there still.
            stood[at] = std::iter::once(at).chain(0..old.len()).find(fits);
        }
    }
    let stood = stood.into_iter().collect::<Option<Vec<usize>>>()?;
    let places: HashMap<&[usize], usize> =
        before.classes.iter().enumerate().map(|(at, class)| (&class.order[..], at)).collect();
    let was = |class: &Class| {
        let order: Vec<usize> = class.order.iter().map(|&place| stood[place]).collect();
        places.get(&before.proofs.classes.normal_form(&order)[..]).copied()
    };
    let was = now.classes.iter().map(was).collect::<Option<Vec<usize>>>()?;
    let of: Vec<usize> = was.iter().map(|&class| gathered.of[class]).collect();
    let stands = |place: usize| stood.iter().position(|&before| before == place);
    let mut looks: Vec<Look> = gathered
        .looks
        .iter()
        .filter_map(|look| {
            let class = was.iter().position(|&class| class == look.class);
            let class = class.or_else(|| of.iter().position(|&number| number == look.number))?;
            let facts = look
                .facts
                .iter()
                .map(|fact| Some(Fact { before: stands(fact.before)?, after: stands(fact.after)? }));
            Some(Look { class, facts: facts.collect::<Option<Vec<_>>>()?, ..look.clone() })
        })
        .collect();
    let own = *of.first()?;
    if let Some(look) = looks.iter_mut().find(|look| look.number == own) {
        look.class = 0;
    }
    looks.sort_by_key(|look| look.number != own);
    Some(Arc::new(Gathered { of, looks, is_of_now: false, ..gathered.clone() }))
}

fn proved(renderer: Option<&mut Renderer>, path: Arc<Path>) -> Result<Known, String> {
    let frames: Vec<&Path> = path.frames().collect();
    let proofs = exploration::proved(renderer, &frames).map_err(|error| error.to_string())?;
    let classes = proofs.classes.all();
    let sequence = most_unlike_first(&classes);
    Ok(Known { proofs, classes, sequence, path, pairs: Vec::new(), looks: None, revision: 0 })
}

/// Renders every class at the size asked for, and gathers those that look alike.
fn gathered(
    renderer: &mut Renderer,
    known: &Known,
    question: &LookQuestion,
    progress: impl FnMut(usize),
) -> Result<Gathered, GpuError> {
    let orders = Orders {
        proofs: known.proofs.clone(),
        classes: known.classes.clone(),
        labels: labels(&question.path.chain),
    };
    let (limits, budget) = (LookLimits::default(), Budget { mib: LOOKS_MIB });
    let explored = orders.explored(renderer, &question.path, Want::Figures, limits, budget, progress)?;
    // Each look was, when it was found, the one furthest from all before it: the first rows of the wall
    // show how much order can do, not one far look many times over.
    let looks: Vec<Look> = explored
        .looks
        .representatives
        .iter()
        .enumerate()
        .map(|(number, &class)| Look {
            number,
            class,
            classes: explored.looks.of.iter().filter(|&&of| of == number).count(),
            mean: explored.finished[class].difference.as_ref().map_or(0.0, |difference| difference.mean),
            facts: told(&explored.rules.names[number]),
        })
        .collect();
    Ok(Gathered {
        of_output: question.of_output,
        of: explored.looks.of.clone(),
        looks,
        is_of_now: true,
        is_complete: explored.looks.complete,
        looked_at: explored.looked_at,
    })
}

/// What decides, that which the present order does otherwise first: it is what a person would change.
fn told(facts: &[Fact]) -> Vec<Fact> {
    let mut facts = facts.to_vec();
    facts.sort_by_key(|fact| fact.before < fact.after);
    facts
}

/// The first class, then the others by how many of their pairs stand the other way round.
fn most_unlike_first(classes: &[Class]) -> Vec<usize> {
    let turned = |class: &Class| {
        let order = &class.order;
        let later = |at: usize| order[at + 1..].iter().filter(|&&place| place < order[at]).count();
        (0..order.len()).map(later).sum::<usize>()
    };
    let mut others: Vec<(usize, usize)> = classes.iter().map(turned).zip(0..).skip(1).collect();
    others.sort_by_key(|&(turned, at)| (std::cmp::Reverse(turned), at));
    (0..classes.len().min(1)).chain(others.into_iter().map(|(_, at)| at)).collect()
}

fn open_pairs(known: &Known) -> Vec<(usize, usize)> {
    let effects = known.path.chain.len();
    let pairs = (0..effects).flat_map(|a| (a + 1..effects).map(move |b| (a, b)));
    pairs.filter(|&(a, b)| matches!(known.proofs.verdict(a, b), Verdict::Open(_))).collect()
}

/// Whether the picture changes when two effects change places.
fn differs(renderer: &mut Renderer, path: &Path, (a, b): (usize, usize)) -> Result<bool, GpuError> {
    let own: Vec<usize> = (0..path.chain.len()).collect();
    let classes = [Class { order: own.clone() }, Class { order: swapped(&own, a, b) }];
    let idle = |effect: usize| path.idle_because(effect).is_some();
    let tree = Tree::of(&classes, idle);
    let finished = renderer.explore(path, &tree, Want::Figures, Budget::default(), |_| {})?;
    Ok(finished[0].fingerprint != finished[1].fingerprint)
}

/// An order with two of its places exchanged.
pub fn swapped(order: &[usize], a: usize, b: usize) -> Vec<usize> {
    let mut order = order.to_vec();
    order.swap(a, b);
    order
}
