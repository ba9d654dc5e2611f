//! What is known of a chain's orders, found on a thread of its own: nothing is waited for.

use std::sync::Arc;
use std::sync::mpsc::{self, Receiver, Sender, TryRecvError};
use std::thread;

use crate::exploration;
use crate::gpu::{Budget, Gpu, Renderer, Want};
use crate::order::{Class, Proofs, Tree, Verdict};
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

enum Question {
    Proofs(Arc<Path>),
    Pairs(Box<Known>),
}

enum Answer {
    Proofs(Box<Known>),
    Problem(String),
    Pair(Arc<Path>, (usize, usize, bool)),
}

/// A thread that answers questions about one chain at a time, the latest.
pub struct Prover {
    ask: Option<Sender<Question>>,
    answers: Receiver<Answer>,
    asked: Option<Arc<Path>>,
    asked_pairs: bool,
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
        Self { ask: Some(ask), answers, asked: None, asked_pairs: false, known: None, problem: None }
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
                Answer::Proofs(known) => {
                    self.asked_pairs = false;
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

fn answer(
    mut renderer: Option<Renderer>,
    questions: &Receiver<Question>,
    tell: &Sender<Answer>,
    wake: &dyn Fn(),
) {
    let mut next = questions.recv().ok();
    while let Some(question) = next.take() {
        // Only the latest question still interests anyone.
        let question = questions.try_iter().last().unwrap_or(question);
        match question {
            Question::Proofs(path) => {
                let _ = tell.send(match proved(renderer.as_mut(), path) {
                    Ok(known) => Answer::Proofs(Box::new(known)),
                    Err(problem) => Answer::Problem(problem),
                });
                wake();
            }
            Question::Pairs(known) => {
                for pair in open_pairs(&known) {
                    match questions.try_recv() {
                        Ok(newer) => {
                            next = Some(newer);
                            break;
                        }
                        Err(TryRecvError::Disconnected) => return,
                        Err(TryRecvError::Empty) => {}
                    }
                    let Some(renderer) = &mut renderer else { break };
                    let differs = match differs(renderer, &known.path, pair) {
                        Ok(differs) => differs,
                        Err(problem) => {
                            let _ = tell.send(Answer::Problem(problem));
                            wake();
                            break;
                        }
                    };
                    let _ = tell.send(Answer::Pair(Arc::clone(&known.path), (pair.0, pair.1, differs)));
                    wake();
                }
            }
        }
        if next.is_none() {
            next = questions.recv().ok();
        }
    }
}

fn proved(renderer: Option<&mut Renderer>, path: Arc<Path>) -> Result<Known, String> {
    let frames: Vec<&Path> = path.frames().collect();
    let proofs = exploration::proved(renderer, &frames).map_err(|error| error.to_string())?;
    let classes = proofs.classes.all();
    let sequence = most_unlike_first(&classes);
    Ok(Known { proofs, classes, sequence, path, pairs: Vec::new() })
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
