//! What is known of a chain's orders, found on a thread of its own: nothing is waited for.

mod answers;
mod known;
mod on_pieces;

use std::collections::HashSet;
use std::sync::Arc;

use super::worker::{Errand, News, Worker};
use crate::base::picture::Picture;
use crate::gpu::{Gpu, Renderer};
use crate::measure::Difference;
use crate::order::{Class, Fact};
use crate::plan::{Path, Step};
use answers::answered;
pub(super) use answers::{gathered_of, most_unlike_first};
use known::open_pairs;
pub use known::{
    Candidate, FamilyLeft, Gathered, Known, Look, LookQuestion, Matters, PairMark, StandsFor, swapped,
};
pub use on_pieces::{BestOrders, OnPieces, PairOnPieces, PieceSeen};

/// Bytes of explorations that are kept, so that what is taken back is there at once.
const KEPT_BYTES: usize = 256 << 20;

enum Question {
    /// What is proved of the chain of a path, and what was gathered of it in an earlier state.
    Proofs(Arc<Path>, Option<(Arc<Known>, Arc<Gathered>)>),
    Pairs(Arc<Known>),
    Looks(Arc<Known>, LookQuestion),
}

/// Which question it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Sort {
    Proofs,
    Pairs,
    /// Of the output or not.
    Looks(bool),
}

enum Answer {
    /// So much is done, of so much.
    Way(usize, usize),
    Proofs(Box<Known>),
    Pair((usize, usize, Option<Difference>)),
    Pairs,
    /// Families from a first sample; looks are to come.
    First(Box<Gathered>),
    Looks(Gathered),
}

/// A question on its way.
struct Open {
    sort: Sort,
    path: Arc<Path>,
    errand: Errand,
    /// How far it has come.
    way: (usize, usize),
}

/// What was found out about a path.
struct Kept {
    known: Arc<Known>,
    /// The looks of the picture that leaves the chain, and of the output.
    gathered: [Option<Arc<Gathered>>; 2],
}

/// Answers questions about one chain at a time, the latest, and keeps what it found out about the last few.
pub struct Prover {
    worker: Worker<Question, Answer>,
    open: Vec<Open>,
    /// What of the chain that is asked about has no answer, and why, in a sentence.
    failed: Vec<(Sort, Arc<Path>, String)>,
    /// What is asked about.
    asked: Option<Arc<Path>>,
    /// What is known, of what was asked about last first.
    kept: Vec<Kept>,
    /// Without a GPU nothing can be looked at.
    can_look: bool,
    revisions: u64,
}

impl Prover {
    /// A prover on this GPU; without one it proves what needs none.
    pub fn new(gpu: Option<Gpu>, wake: impl Fn() + Send + 'static) -> Self {
        let can_look = gpu.is_some();
        Self { can_look, ..Self::beginning(move || Ok(gpu.as_ref().map(Gpu::sibling)), wake) }
    }

    /// A prover on the GPU that `begin` gives: asked for on a thread of its own before anything else, and again
    /// after anything has failed.
    pub fn beginning(
        mut begin: impl FnMut() -> Result<Option<Gpu>, String> + Send + 'static,
        wake: impl Fn() + Send + 'static,
    ) -> Self {
        let begin = move || Ok(begin()?.map(Renderer::giving_way));
        Self {
            worker: Worker::new("orders", wake, begin, answered),
            open: Vec::new(),
            failed: Vec::new(),
            asked: None,
            kept: Vec::new(),
            can_look: true,
            revisions: 0,
        }
    }

    /// What is known of this path's chain, asking for it where it is not known yet.
    pub fn known(&mut self, path: &Arc<Path>) -> Option<&Arc<Known>> {
        self.hear();
        if self.asked.as_ref().is_none_or(|asked| !asked.gives_the_same(path)) {
            self.asked = Some(Arc::clone(path));
            self.failed.clear();
            self.open.drain(..).for_each(|open| open.errand.give_up());
            self.take_up(path);
        }
        if self.kept.first().is_none_or(|kept| !kept.known.is_about(path)) {
            let last = self.kept.iter().find_map(|kept| {
                let gathered = kept.gathered.iter().flatten().next()?;
                Some((Arc::clone(&kept.known), Arc::clone(gathered)))
            });
            self.ask(Sort::Proofs, path, || Some(Question::Proofs(Arc::clone(path), last)));
        }
        self.last_known().filter(|known| known.is_about(path))
    }

    /// What was known last, perhaps of an earlier state of the chain.
    pub fn last_known(&self) -> Option<&Arc<Known>> {
        self.kept.first().map(|kept| &kept.known)
    }

    /// What is known of what is asked about.
    fn present(&self) -> Option<&Kept> {
        let asked = self.asked.as_ref()?;
        self.kept.first().filter(|kept| kept.known.is_about(asked))
    }

    /// Asks which pairs differ here.
    pub fn look_at_pairs(&mut self) {
        let Some(known) = self.present().map(|kept| Arc::clone(&kept.known)) else { return };
        if self.can_look && known.pairs.len() < open_pairs(&known).len() {
            let path = Arc::clone(&known.path);
            self.ask(Sort::Pairs, &path, || Some(Question::Pairs(known)));
        }
    }

    /// Has the looks shown of where the chain is looked at, asking for them where they are not known.
    pub fn look_for_looks(&mut self, question: impl FnOnce() -> Option<LookQuestion>, of_output: bool) {
        let Some(kept) = self.present() else { return };
        let known = Arc::clone(&kept.known);
        if !self.can_look || known.classes.len() < 2 {
            return;
        }
        if let Some(gathered) = &kept.gathered[usize::from(of_output)] {
            if !known.looks.as_ref().is_some_and(|shown| Arc::ptr_eq(shown, gathered)) {
                let gathered = Arc::clone(gathered);
                self.change(&known.path, |known| known.looks = Some(gathered));
            }
            return;
        }
        let path = Arc::clone(&known.path);
        // Looks of elsewhere are not waited for.
        self.give_up(|open| open.sort == Sort::Looks(!of_output));
        self.ask(Sort::Looks(of_output), &path, || Some(Question::Looks(known, question()?)));
    }

    /// How much of what is on its way to looks is done, and of how much; `None` while none are told apart.
    pub fn gathering(&self) -> Option<(usize, usize)> {
        self.open.iter().find(|open| matches!(open.sort, Sort::Looks(_))).map(|open| open.way)
    }

    /// How much of what is on its way is done, and of how much, before anything else: the proofs.
    pub fn proving(&self) -> Option<(usize, usize)> {
        self.open.iter().find(|open| open.sort == Sort::Proofs).map(|open| open.way)
    }

    /// Whether an answer is on its way.
    pub fn is_asking(&self) -> bool {
        !self.open.is_empty()
    }

    /// Why something has no answer.
    pub fn problem(&self) -> Option<&str> {
        self.failed.first().map(|(.., why)| why.as_str())
    }

    /// Asks anew for what had no answer.
    pub fn try_again(&mut self) {
        self.failed.clear();
    }

    fn ask(&mut self, sort: Sort, path: &Arc<Path>, question: impl FnOnce() -> Option<Question>) {
        let is_of_this = |of: Sort, about: &Path| of == sort && about.gives_the_same(path);
        if self.open.iter().any(|open| is_of_this(open.sort, &open.path))
            || self.failed.iter().any(|(of, about, _)| is_of_this(*of, about))
        {
            return;
        }
        let Some(question) = question() else { return };
        let errand = self.worker.ask(question);
        self.open.push(Open { sort, path: Arc::clone(path), errand, way: (0, 0) });
    }

    fn give_up(&mut self, which: impl Fn(&Open) -> bool) {
        self.open.retain(|open| {
            let is_given_up = which(open);
            if is_given_up {
                open.errand.give_up();
            }
            !is_given_up
        });
    }

    fn hear(&mut self) {
        while let Some((number, said)) = self.worker.hear() {
            let Some(at) = self.open.iter().position(|open| open.errand.is(number)) else { continue };
            let path = Arc::clone(&self.open[at].path);
            match said {
                News::Part(Answer::Way(done, of)) => self.open[at].way = (done, of),
                News::Part(answer) => self.take(&path, answer),
                News::Finished(answer) => {
                    self.open.remove(at);
                    self.take(&path, answer);
                }
                News::GaveWay => drop(self.open.remove(at)),
                News::Failed(why) => {
                    let open = self.open.remove(at);
                    let what = match open.sort {
                        Sort::Proofs => "The orders were not looked at",
                        Sort::Pairs => "Which pairs differ was not found out",
                        Sort::Looks(_) => "Looks were not told apart",
                    };
                    self.failed.push((open.sort, path, format!("{what}: {why}")));
                }
            }
        }
    }

    fn take(&mut self, path: &Path, answer: Answer) {
        match answer {
            Answer::Proofs(known) => {
                self.revisions += 1;
                let known = Arc::new(Known { revision: self.revisions, ..*known });
                self.kept.insert(0, Kept { known, gathered: [None, None] });
                self.let_go();
            }
            Answer::Looks(gathered) => {
                let (of_output, gathered) = (gathered.of_output, Arc::new(gathered));
                if let Some(kept) = self.kept.iter_mut().find(|kept| kept.known.is_about(path)) {
                    kept.gathered[usize::from(of_output)] = Some(Arc::clone(&gathered));
                }
                self.change(path, |known| known.looks = Some(gathered));
            }
            Answer::First(first) => self.change(path, |known| known.looks = Some(Arc::new(*first))),
            Answer::Pair(pair) => {
                if let Some(kept) = self.kept.iter_mut().find(|kept| kept.known.is_about(path)) {
                    Arc::make_mut(&mut kept.known).pairs.push(pair);
                }
            }
            Answer::Way(..) | Answer::Pairs => {}
        }
    }

    /// Changes what is known of a path so that the wall is another.
    fn change(&mut self, path: &Path, change: impl FnOnce(&mut Known)) {
        let Some(kept) = self.kept.iter_mut().find(|kept| kept.known.is_about(path)) else { return };
        self.revisions += 1;
        let known = Arc::make_mut(&mut kept.known);
        known.revision = self.revisions;
        change(known);
    }

    /// Puts what is known of a path before the others; nothing is asked for a second time.
    fn take_up(&mut self, path: &Path) {
        if let Some(at) = self.kept.iter().position(|kept| kept.known.is_about(path)) {
            let kept = self.kept.remove(at);
            self.kept.insert(0, kept);
        }
    }

    /// Lets go of what was asked about longest ago, past the room there is.
    fn let_go(&mut self) {
        let mut seen = HashSet::new();
        let mut held = 0;
        let mut room = 0;
        for kept in &self.kept {
            held += kept.bytes(&mut seen);
            if room > 0 && held > KEPT_BYTES {
                break;
            }
            room += 1;
        }
        self.kept.truncate(room);
    }
}

impl Kept {
    /// Bytes that it holds beside those of pictures seen before.
    fn bytes(&self, seen: &mut HashSet<*const Picture>) -> usize {
        let Known { path, classes, sequence, .. } = &*self.known;
        let order = size_of::<Class>() + path.chain.len() * size_of::<usize>();
        let looks = self.gathered.iter().flatten().map(|gathered| {
            let facts: usize = gathered.looks.iter().map(|look| look.facts.len()).sum();
            let families =
                gathered.matters.iter().map(|matters| 2 * size_of_val(&matters.of[..])).sum::<usize>();
            let means = size_of_val(&gathered.means[..]);
            let looks = size_of_val(&gathered.of[..]) + size_of_val(&gathered.looks[..]);
            looks + facts * size_of::<Fact>() + families + means
        });
        let pictures = path.frames().flat_map(|frame| &frame.before).map(|step| match step {
            Step::TakeIn { picture, .. } if seen.insert(Arc::as_ptr(picture)) => picture.rgba.len(),
            step => size_of_val(step),
        });
        classes.len() * order + size_of_val(&sequence[..]) + looks.sum::<usize>() + pictures.sum::<usize>()
    }
}
