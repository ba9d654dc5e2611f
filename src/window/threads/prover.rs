//! What is known of a chain's orders, found on a thread of its own: nothing is waited for.

use std::collections::{HashMap, HashSet};
use std::sync::Arc;
use std::thread;
use std::time::{Duration, Instant};

use super::worker::{Errand, Said, Task, Unfinished, Worker};
use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::explore;
use crate::explore::Orders;
use crate::gpu::{Against, Budget, Finished, Gpu, GpuError, Measure, Renderer, Want};
use crate::measure::Difference;
use crate::order::{Class, Condition, Fact, LookLimits, Proofs, Tree, Verdict, marks};
use crate::plan::{Path, Step, memory};
use crate::show::chain::labels;

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
    /// For each pair that is not proved, how much it differs on this footage at this moment, if it does; those
    /// found so far.
    pub pairs: Vec<(usize, usize, Option<Difference>)>,
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
    /// The size of the pictures that were brought to it.
    pub rendered_at: Frame,
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
    /// The mean CIEDE2000 of its picture from that of the present order, where that was measured of the chain as
    /// it is now.
    pub mean: Option<f64>,
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
        self.path.gives_the_same(path)
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

    /// The look that an order belongs to, where looks are known.
    pub fn look_of(&self, order: &[usize]) -> Option<usize> {
        let normal = self.proofs.classes.normal_form(order);
        let class = self.classes.iter().position(|class| class.order == normal)?;
        self.looks.as_ref().map(|gathered| gathered.of[class])
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

    /// Whether it is known already whether a pair that is not proved differs.
    fn has_looked_at(&self, a: usize, b: usize) -> bool {
        self.pairs.iter().any(|&(x, y, _)| (x, y) == (a, b))
    }

    /// Pairs that are not proved and not looked at yet, and all that are not proved.
    pub fn pairs_left(&self) -> (usize, usize) {
        let open = open_pairs(self).len();
        (open - self.pairs.len().min(open), open)
    }

    /// What is known of a pair.
    pub fn pair(&self, a: usize, b: usize) -> PairMark {
        match self.proofs.verdict(a, b) {
            Verdict::Always(_) => PairMark::Always,
            Verdict::Open(_) => match self.pairs.iter().find(|&&(x, y, _)| (x, y) == (a, b)) {
                Some((.., Some(difference))) => PairMark::Differs(*difference),
                Some((.., None)) => PairMark::Here,
                None => PairMark::Unknown,
            },
        }
    }
}

/// Whether it matters which of two effects comes first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PairMark {
    /// Proved: the picture is the same.
    Always,
    /// Not proved, but the same picture here.
    Here,
    /// Another picture, this far from the present one.
    Differs(Difference),
    /// Not looked at yet.
    Unknown,
}

/// Memory for pictures while looks are gathered, in MiB: the window's own pictures need room too. A large frame takes
/// what it takes at the least.
const LOOKS_MIB: u64 = 256;

/// How long the person has to pause before looks are told apart: a slider being drawn changes the chain often.
const PAUSE: Duration = Duration::from_millis(150);
/// How often it is looked meanwhile whether they are still wanted.
const POLL: Duration = Duration::from_millis(5);

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
        let begin = move || {
            let renderer = begin()?.map(|gpu| {
                let mut renderer = Renderer::new(gpu);
                renderer.give_way();
                renderer
            });
            Ok(renderer)
        };
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
                Said::Part(Answer::Way(done, of)) => self.open[at].way = (done, of),
                Said::Part(answer) => self.take(&path, answer),
                Said::Finished(answer) => {
                    self.open.remove(at);
                    self.take(&path, answer);
                }
                Said::GaveWay => drop(self.open.remove(at)),
                Said::Failed(why) => {
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
            size_of_val(&gathered.of[..]) + size_of_val(&gathered.looks[..]) + facts * size_of::<Fact>()
        });
        let pictures = path.frames().flat_map(|frame| &frame.before).map(|step| match step {
            Step::TakeIn { picture, .. } if seen.insert(Arc::as_ptr(picture)) => picture.rgba.len(),
            step => size_of_val(step),
        });
        classes.len() * order + size_of_val(&sequence[..]) + looks.sum::<usize>() + pictures.sum::<usize>()
    }
}

/// The thread's side.
fn answered(
    renderer: &mut Option<Renderer>,
    question: Question,
    task: &Task<'_, Answer>,
) -> Result<Answer, Unfinished> {
    if let Some(renderer) = renderer {
        renderer.stop_when(task.stop());
    }
    match question {
        Question::Proofs(path, last) => {
            let mut known = proved(renderer.as_mut(), path)?;
            known.looks = last.and_then(|(before, gathered)| carried_over(&before, &gathered, &known));
            Ok(Answer::Proofs(Box::new(known)))
        }
        Question::Pairs(known) => {
            let Some(renderer) = renderer else { return Ok(Answer::Pairs) };
            let all = open_pairs(&known);
            let left = all.iter().copied().filter(|&(a, b)| !known.has_looked_at(a, b)).collect::<Vec<_>>();
            if left.is_empty() {
                return Ok(Answer::Pairs);
            }
            let own: Vec<usize> = (0..known.path.chain.len()).collect();
            let present = renderer.picture(&known.path, &own)?;
            // Orders that first differ at one place have all under it in common.
            for pairs in left.chunk_by(|(a, _), (b, _)| a == b) {
                let done = all.len() - left.len() + left.iter().take_while(|pair| **pair != pairs[0]).count();
                let tell = |more: usize| task.tell_progress(Answer::Way(done + more, all.len()));
                for pair in differing(renderer, &known.path, (&own, &present), pairs, tell)? {
                    task.tell(Answer::Pair(pair));
                }
                if !task.is_wanted() {
                    return Err(Unfinished::GaveWay);
                }
            }
            Ok(Answer::Pairs)
        }
        Question::Looks(known, question) => {
            let until = Instant::now() + PAUSE;
            while Instant::now() < until {
                if !task.is_wanted() {
                    return Err(Unfinished::GaveWay);
                }
                thread::sleep(POLL);
            }
            let Some(renderer) = renderer else { return Err(Unfinished::GaveWay) };
            // Each order is rendered, and then compared.
            let of = 2 * known.classes.len();
            let gathered =
                gathered(renderer, &known, &question, |done| task.tell_progress(Answer::Way(done, of)))?;
            Ok(Answer::Looks(gathered))
        }
    }
}

/// The looks of an earlier state of the same effects, for as long as those of the present state are
/// not told apart yet: the wall keeps its pictures in their places meanwhile.
fn carried_over(before: &Known, gathered: &Gathered, now: &Known) -> Option<Arc<Gathered>> {
    let (old, new) = (&before.path.chain, &now.path.chain);
    if old.len() != new.len() {
        return None;
    }
    // Where each effect stood before: the one of its mark, otherwise an equal one, otherwise the next of its name.
    let mut stood: Vec<Option<usize>> = vec![None; new.len()];
    let (was_marked, is_marked) = (marks(old), marks(new));
    for strictness in [2, 1, 0] {
        for (at, used) in new.iter().enumerate().filter(|(at, _)| stood[*at].is_none()).collect::<Vec<_>>() {
            let fits = |place: &usize| {
                let other = &old[*place];
                !stood.contains(&Some(*place))
                    && other.effect.name == used.effect.name
                    && (strictness < 2 || was_marked.of(*place) == is_marked.of(at))
                    && (strictness < 1 || other.is_alike(used))
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
            // How far it was from the present order then says nothing of the one now.
            Some(Look { class, facts: facts.collect::<Option<Vec<_>>>()?, mean: None, ..look.clone() })
        })
        .collect();
    let own = *of.first()?;
    if let Some(look) = looks.iter_mut().find(|look| look.number == own) {
        look.class = 0;
    }
    looks.sort_by_key(|look| look.number != own);
    Some(Arc::new(Gathered { of, looks, is_of_now: false, ..gathered.clone() }))
}

fn proved(renderer: Option<&mut Renderer>, path: Arc<Path>) -> Result<Known, GpuError> {
    let frames: Vec<&Path> = path.frames().collect();
    let proofs = explore::proved(renderer, &frames)?;
    let classes = proofs.classes.all();
    let sequence = most_unlike_first(&classes);
    Ok(Known { proofs, classes, sequence, path, pairs: Vec::new(), looks: None, revision: 0 })
}

/// Renders every class at the size asked for, and gathers those that look alike.
fn gathered(
    renderer: &mut Renderer,
    known: &Known,
    question: &LookQuestion,
    mut progress: impl FnMut(usize),
) -> Result<Gathered, GpuError> {
    let orders = Orders {
        proofs: known.proofs.clone(),
        classes: known.classes.clone(),
        labels: labels(&question.path.chain),
        marks: marks(&question.path.chain),
    };
    let path = &*question.path;
    let least =
        memory::least_of_orders(path.chain.len(), path.after.len(), path.moment.frame, path.moment.pixels);
    let budget = Budget { mib: LOOKS_MIB.max(least.div_ceil(1 << 20)) };
    let classes = orders.classes.len();
    let rendered = orders.rendered(renderer, path, Want::Figures, budget, &mut progress)?;
    let explored = rendered.gathered(renderer, LookLimits::default(), |done| progress(classes + done))?;
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
            mean: explored.finished[class].difference.as_ref().map(|difference| difference.mean),
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
        rendered_at: explored.rendered_at,
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

/// How much the picture changes, from the present one, when the two effects of each pair change places, if it does.
fn differing(
    renderer: &mut Renderer,
    path: &Path,
    (own, present): (&[usize], &Picture),
    pairs: &[(usize, usize)],
    tell: impl FnMut(usize),
) -> Result<Vec<(usize, usize, Option<Difference>)>, GpuError> {
    let classes: Vec<Class> = pairs.iter().map(|&(a, b)| Class { order: swapped(own, a, b) }).collect();
    let tree = Tree::of(&classes, |effect| path.idle_because(effect).is_some());
    let measure = Measure { against: Some(Against::Picture(present)), gallery: None };
    let (finished, _) =
        renderer.explore_and_measure(path, &tree, Want::Figures, measure, Budget::default(), tell)?;
    let differs = |finished: &Finished| finished.difference.filter(|found| found.changed_share > 0.0);
    Ok(pairs.iter().zip(&finished).map(|(&(a, b), finished)| (a, b, differs(finished))).collect())
}

/// An order with two of its places exchanged.
pub fn swapped(order: &[usize], a: usize, b: usize) -> Vec<usize> {
    let mut order = order.to_vec();
    order.swap(a, b);
    order
}
