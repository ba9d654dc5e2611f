//! What is known of a chain's orders, found on a thread of its own: nothing is waited for.

use std::collections::VecDeque;
use std::sync::Arc;
use std::sync::mpsc::{self, Receiver, Sender};
use std::thread;

use crate::chain::labels;
use crate::exploration::{self, Orders};
use crate::frame::Frame;
use crate::gpu::{Budget, Gpu, Renderer, Want};
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
        let own = &self.path;
        own.moment == path.moment && own.chain == path.chain && own.opaque == path.opaque
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
        let all = || self.sequence.iter().filter_map(|&class| Some((class, meeting(class)?)));
        let plain = |(class, order)| Candidate { class, order, look: None };
        let Some(gathered) = &self.looks else { return all().map(plain).collect() };
        if let Some(look) = of_look {
            return all().filter(|&(class, _)| gathered.of[class] == look).map(plain).collect();
        }
        if !by_look {
            return all().map(plain).collect();
        }
        let looks = gathered.looks.iter().filter_map(|look| {
            let own = |class: usize| gathered.of[class] == look.number;
            let left = all().filter(|&(class, _)| own(class)).count();
            // The order that stands for the look, or the first other that meets the conditions.
            let standing = meeting(look.class).map(|order| (look.class, order));
            let (class, order) = standing.or_else(|| all().find(|&(class, _)| own(class)))?;
            Some(Candidate { class, order, look: Some((look.clone(), left)) })
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

enum Question {
    Proofs(Arc<Path>),
    Pairs(Box<Known>),
    Looks(Box<Known>, LookQuestion),
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
    answers: Receiver<Answer>,
    asked: Option<Arc<Path>>,
    asked_pairs: bool,
    /// Where looks were asked for last, and for the output or not.
    asked_looks: Option<bool>,
    known: Option<Known>,
    problem: Option<String>,
}

impl Prover {
    /// A prover on this GPU; without one it proves what needs none.
    pub fn new(gpu: Option<Gpu>, wake: impl Fn() + Send + 'static) -> Self {
        let (ask, questions) = mpsc::channel();
        let (tell, answers) = mpsc::channel();
        // Where no thread is to be had, orders stay unknown; the rest works on.
        let _ = thread::Builder::new()
            .name("orders".to_owned())
            .spawn(move || answer(gpu.map(Renderer::new), &questions, &tell, &wake));
        Self {
            ask: Some(ask),
            answers,
            asked: None,
            asked_pairs: false,
            asked_looks: None,
            known: None,
            problem: None,
        }
    }

    /// What is known of this path's chain, asking for it where it is not known yet.
    pub fn known(&mut self, path: &Arc<Path>) -> Option<&Known> {
        self.take_answers();
        let is_known = self.known.as_ref().is_some_and(|known| known.is_about(path));
        let is_asked = self.asked.as_ref().is_some_and(|asked| {
            asked.moment == path.moment && asked.chain == path.chain && asked.opaque == path.opaque
        });
        if !is_known && !is_asked {
            self.asked = Some(Arc::clone(path));
            self.asked_pairs = false;
            self.asked_looks = None;
            self.send(Question::Proofs(Arc::clone(path)));
        }
        self.known.as_ref().filter(|known| known.is_about(path))
    }

    /// What was known last, perhaps of an earlier state of the chain.
    pub fn last_known(&self) -> Option<&Known> {
        self.known.as_ref()
    }

    /// Asks which pairs differ here.
    pub fn look_at_pairs(&mut self) {
        if let Some(known) = self.known.clone().filter(|_| !self.asked_pairs) {
            self.asked_pairs = true;
            self.send(Question::Pairs(Box::new(known)));
        }
    }

    /// Asks for the looks of what is known, once for where the chain is looked at.
    pub fn look_for_looks(&mut self, question: impl FnOnce() -> Option<LookQuestion>, of_output: bool) {
        let Some(known) = self.known.as_ref().filter(|_| self.asked_looks != Some(of_output)) else { return };
        if known.classes.len() < 2 || self.asked.as_ref().is_some_and(|asked| !known.is_about(asked)) {
            return;
        }
        let Some(question) = question() else { return };
        self.asked_looks = Some(of_output);
        self.send(Question::Looks(Box::new(known.clone()), question));
    }

    /// Whether looks are being gathered.
    pub fn is_gathering(&self) -> bool {
        let gathered = self.known.as_ref().and_then(|known| known.looks.as_ref());
        self.problem.is_none()
            && self
                .asked_looks
                .is_some_and(|asked| gathered.is_none_or(|gathered| gathered.of_output != asked))
    }

    /// Whether an answer is on its way.
    pub fn is_asking(&self) -> bool {
        if self.problem.is_some() {
            return false;
        }
        if self.is_gathering() {
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

    fn send(&self, question: Question) {
        if let Some(ask) = &self.ask {
            // The thread ends only with the window.
            let _ = ask.send(question);
        }
    }

    fn take_answers(&mut self) {
        while let Ok(answer) = self.answers.try_recv() {
            match answer {
                Answer::Looks(path, gathered) => {
                    if let Some(known) = self.known.as_mut().filter(|known| known.is_about(&path)) {
                        known.looks = Some(Arc::new(gathered));
                    }
                }
                Answer::Proofs(known) => {
                    self.asked_pairs = false;
                    self.asked_looks = None;
                    self.problem = None;
                    self.known = Some(*known);
                }
                Answer::Problem(problem) => self.problem = Some(problem),
                Answer::Pair(path, pair) => {
                    if let Some(known) = self.known.as_mut().filter(|known| known.is_about(&path)) {
                        known.pairs.push(pair);
                    }
                }
            }
        }
    }
}

impl Drop for Prover {
    fn drop(&mut self) {
        self.ask = None;
    }
}

/// Puts a question behind the others; another chain makes those before it pointless.
fn queue_up(waiting: &mut VecDeque<Question>, question: Question) {
    if matches!(question, Question::Proofs(_)) {
        waiting.clear();
    }
    waiting.push_back(question);
}

fn answer(
    mut renderer: Option<Renderer>,
    questions: &Receiver<Question>,
    tell: &Sender<Answer>,
    wake: &dyn Fn(),
) {
    let mut waiting = VecDeque::new();
    loop {
        if waiting.is_empty() {
            match questions.recv() {
                Ok(question) => waiting.push_back(question),
                Err(_) => return,
            }
        }
        questions.try_iter().for_each(|question| queue_up(&mut waiting, question));
        let Some(question) = waiting.pop_front() else { continue };
        match question {
            Question::Proofs(path) => {
                let _ = tell.send(match proved(renderer.as_mut(), path) {
                    Ok(known) => Answer::Proofs(Box::new(known)),
                    Err(problem) => Answer::Problem(problem),
                });
                wake();
            }
            Question::Looks(known, question) => {
                let Some(renderer) = &mut renderer else { continue };
                let _ = tell.send(match gathered(renderer, &known, &question) {
                    Ok(gathered) => Answer::Looks(Arc::clone(&known.path), gathered),
                    Err(problem) => Answer::Problem(problem),
                });
                wake();
            }
            Question::Pairs(known) => {
                for pair in open_pairs(&known) {
                    questions.try_iter().for_each(|question| queue_up(&mut waiting, question));
                    if waiting.iter().any(|question| matches!(question, Question::Proofs(_))) {
                        break;
                    }
                    let Some(renderer) = &mut renderer else { break };
                    let answer = match differs(renderer, &known.path, pair) {
                        Ok(differs) => Answer::Pair(Arc::clone(&known.path), (pair.0, pair.1, differs)),
                        Err(problem) => Answer::Problem(problem),
                    };
                    let is_broken = matches!(answer, Answer::Problem(_));
                    // Nobody listens any more once the window is closed.
                    if tell.send(answer).is_err() || is_broken {
                        wake();
                        break;
                    }
                    wake();
                }
            }
        }
    }
}

fn proved(renderer: Option<&mut Renderer>, path: Arc<Path>) -> Result<Known, String> {
    let frames: Vec<&Path> = path.frames().collect();
    let proofs = exploration::proved(renderer, &frames).map_err(|error| error.to_string())?;
    let classes = proofs.classes.all();
    let sequence = most_unlike_first(&classes);
    Ok(Known { proofs, classes, sequence, path, pairs: Vec::new(), looks: None })
}

/// Renders every class at the size asked for, and gathers those that look alike.
fn gathered(renderer: &mut Renderer, known: &Known, question: &LookQuestion) -> Result<Gathered, String> {
    let orders = Orders {
        proofs: known.proofs.clone(),
        classes: known.classes.clone(),
        labels: labels(&question.path.chain),
    };
    let explored = orders
        .explored(
            renderer,
            &question.path,
            Want::Figures,
            LookLimits::default(),
            Budget { mib: LOOKS_MIB },
            |_| {},
        )
        .map_err(|error| error.to_string())?;
    // Each further look was the furthest from all before it when it was found: the most different first.
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
            facts: explored.rules.names[number].clone(),
        })
        .collect();
    Ok(Gathered {
        of_output: question.of_output,
        of: explored.looks.of.clone(),
        looks,
        is_complete: explored.looks.complete,
        looked_at: explored.looked_at,
    })
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
fn differs(renderer: &mut Renderer, path: &Path, (a, b): (usize, usize)) -> Result<bool, String> {
    let own: Vec<usize> = (0..path.chain.len()).collect();
    let classes = [Class { order: own.clone() }, Class { order: swapped(&own, a, b) }];
    let idle = |effect: usize| path.idle_because(effect).is_some();
    let tree = Tree::of(&classes, idle);
    let finished = renderer.explore(path, &tree, Want::Figures, Budget::default(), |_| {});
    let finished = finished.map_err(|error| error.to_string())?;
    Ok(finished[0].fingerprint != finished[1].fingerprint)
}

/// An order with two of its places exchanged.
pub fn swapped(order: &[usize], a: usize, b: usize) -> Vec<usize> {
    let mut order = order.to_vec();
    order.swap(a, b);
    order
}
