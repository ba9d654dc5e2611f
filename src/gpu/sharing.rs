//! The programs of an exploration: which runs of effects share one, and whether whole chains are finished in passing.

use std::cell::RefCell;
use std::collections::{BTreeSet, HashMap};
use std::rc::Rc;
use std::sync::Arc;

use super::GpuError;
use super::jobs::Taken;
use super::pipelines::{Known, Program, held_format};
use super::recording::{Dispatch, Recording};
use super::renderer::Renderer;
use super::texture_array::TextureArray;
use crate::base::content::Content;
use crate::base::frame::PixelMode;
use crate::catalogue::{Ending, Runs, run_uniform};
use crate::order::{Job, Round, Tree};
use crate::plan::sharing::{Pace, Sharing, Way};
use crate::plan::{Path, keeps_alpha};
use crate::show::chain::EffectCall;

/// Runs that one program holds at most: a GPU compiles it for as long as each of them alone, but in one go.
const RUNS_A_PROGRAM: usize = 32;

/// Nodes of a tree, at the most, of which it is kept how it was carried out.
const KNOWN_NODES: usize = 4096;

/// Texels stored from which on a processor is better off with programs of their own for full alpha: compiling one takes it as
/// long as what is spared of some four million.
const SPARED_FROM: u64 = 32 << 20;

/// A program, and the runs that it holds.
struct Shared {
    runs: Vec<Vec<usize>>,
    /// None of one effect that has a program already.
    program: Option<Runs>,
    uniform: Vec<u8>,
}

/// The programs of an exploration.
pub(super) struct Programs {
    /// Of what is stored.
    stored: Vec<Shared>,
    /// Of what is finished in passing.
    finished: Vec<Shared>,
}

/// Where a run's pictures go.
pub(super) enum Into<'a> {
    Array(&'a Rc<TextureArray>),
    Fingerprints(&'a wgpu::Buffer),
}

impl Renderer {
    /// How the tree is best carried out: with runs of effects in one pass, if any; and whether what is finished is not
    /// stored, which `may_pass` allows.
    pub(super) fn shared(&mut self, path: &Path, tree: &Tree, may_pass: bool) -> (Option<Rc<Tree>>, bool) {
        let effects: Vec<Content> = path.chain.iter().map(|used| used.effect.content).collect();
        let (frame, pixels, by) = (path.moment.frame, path.moment.pixels, (self.sharing, self.mixes()));
        let is_same = |known: &Known| {
            let (of, of_effects, of_frame, of_pixels, passes) = &known.of;
            (*of_frame, *of_pixels, *passes, known.by) == (frame, pixels, may_pass, by)
                && *of_effects == effects
                && of == tree
        };
        if let Some(known) = self.pipelines.known.as_ref().filter(|known| is_same(known)) {
            return known.shared.clone();
        }
        let (fused, passing) = self.best_shared(path, tree, may_pass);
        let shared = (fused.map(Rc::new), passing);
        self.pipelines.known = (tree.nodes.len() <= KNOWN_NODES).then(|| {
            let of = (tree.clone(), effects, frame, pixels, may_pass);
            Known { of, by, shared: shared.clone() }
        });
        shared
    }

    fn best_shared(&mut self, path: &Path, tree: &Tree, may_pass: bool) -> (Option<Tree>, bool) {
        let moment = &path.moment;
        let texels = moment.frame.texels();
        let pace = if self.gpu.is_software() { Pace::SOFTWARE } else { Pace::GPU };
        let may_fuse = moment.pixels == PixelMode::Encoded8Bit;
        let sharing = self.sharing;
        if !(may_fuse || may_pass) || !sharing.can_pay(texels * tree.passes() as u64, pace) {
            return (None, false);
        }
        let at_once = if self.mixes() { RUNS_A_PROGRAM } else { 1 };
        let best = |fused: Option<&Tree>| {
            let ways = [(None, false), (fused, false), (None, may_pass), (fused, may_pass)];
            let best =
                sharing.best(&ways.map(|(fused, passing)| way(tree, fused, passing, texels, at_once)), pace);
            (ways[best].0.is_some(), ways[best].1)
        };
        // As if every run bore it, since to find out takes longer than to count: of orders drawn at random each ends in a
        // run of its own.
        let guessed = may_fuse.then(|| tree.fused(|_, _| true));
        let (is_fused, passing) = best(guessed.as_ref());
        if !is_fused {
            return (None, passing);
        }
        let fused = self.fused(path, tree);
        let (is_fused, passing) = best(Some(&fused));
        (is_fused.then_some(fused), passing)
    }

    /// The tree with every run in one pass that may be.
    fn fused(&mut self, path: &Path, tree: &Tree) -> Tree {
        let (gpu, pipelines) = (&self.gpu, RefCell::new(&mut self.pipelines));
        let known: RefCell<HashMap<Vec<usize>, bool>> = RefCell::default();
        tree.fused(|run, next| {
            let run = [run, next].concat();
            if let Some(&may) = known.borrow().get(&run) {
                return may;
            }
            let effects: Vec<_> = run.iter().map(|&at| Arc::clone(&path.chain[at].effect)).collect();
            let may = pipelines.borrow_mut().may_run(gpu, &effects);
            known.borrow_mut().insert(run, may);
            may
        })
    }

    /// The programs of some rounds; none where effects do not bear what is finished in passing.
    pub(super) fn programs(
        &mut self,
        path: &Path,
        calls: &[EffectCall],
        rounds: &[Round],
    ) -> Option<Programs> {
        let (mut stored, mut finished) = (BTreeSet::new(), BTreeSet::new());
        for round in rounds {
            match round {
                Round::Apply { run, .. } => stored.insert(run.clone()),
                Round::Finish { run, .. } => !run.is_empty() && finished.insert(run.clone()),
            };
        }
        let pixels = path.moment.pixels;
        let opaque = pixels == PixelMode::Encoded8Bit && path.opaque && keeps_alpha(&path.chain);
        let runs_of = |runs: &[Vec<usize>], ending| {
            let run = |run: &Vec<usize>| run.iter().map(|&at| Arc::clone(&calls[at].effect)).collect();
            Runs { runs: runs.iter().map(run).collect(), opaque, ending }
        };
        let at_once = if self.mixes() { RUNS_A_PROGRAM } else { 1 };
        // A processor divides by an alpha of 1 as slowly as by any other.
        let made: usize = rounds.iter().map(pictures_stored).sum();
        let pays = match self.sharing {
            Sharing::WherePays => made as u64 * path.moment.frame.texels() >= SPARED_FROM,
            Sharing::Always => true,
            Sharing::Never => false,
        };
        let is_spared = pays && opaque && self.gpu.is_software();
        let mut shared = |runs: BTreeSet<Vec<usize>>, ending: Ending| -> Option<Vec<Shared>> {
            let runs: Vec<Vec<usize>> = runs.into_iter().collect();
            let mut all = Vec::new();
            for together in runs.chunks(at_once) {
                let program = runs_of(together, ending);
                if together.len() > 1 && self.pipelines.is_right(&self.gpu, Program::Runs(&program), pixels) {
                    all.push((together.to_vec(), Some(program)));
                    continue;
                }
                for run in together {
                    let program = runs_of(std::slice::from_ref(run), ending);
                    let alone = ending == Ending::Stored && run.len() == 1;
                    let mut is_right = || self.pipelines.is_right(&self.gpu, Program::Runs(&program), pixels);
                    // Whether a stored run of several is right was seen when it was fused.
                    if ending != Ending::Stored && !is_right() {
                        return None;
                    }
                    let alone = alone && !(is_spared && is_right());
                    all.push((vec![run.clone()], (!alone).then_some(program)));
                }
            }
            let with_uniform = |(runs, program): (Vec<Vec<usize>>, Option<Runs>)| {
                let uniform = run_uniform(runs.iter().flatten().map(|&at| &calls[at].uniform[..]));
                Shared { runs, program, uniform }
            };
            Some(all.into_iter().map(with_uniform).collect())
        };
        Some(Programs {
            stored: shared(stored, Ending::Stored)?,
            finished: shared(finished, Ending::Fingerprinted)?,
        })
    }

    /// Whether one dispatch takes pictures of several runs; whoever gives way sends small parts.
    pub(super) fn mixes(&self) -> bool {
        self.mixing && !self.gives_way()
    }

    /// One effect of a path's chain over so many pictures in one pass, waited for: for whoever times it.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn pass(&mut self, path: &Path, place: usize, ending: Ending, pictures: u32) -> Result<(), GpuError> {
        let moment = &path.moment;
        let call = path.chain[place].call(moment);
        let runs = Runs { runs: vec![vec![Arc::clone(&call.effect)]], opaque: path.opaque, ending };
        let array = |renderer: &mut Self| renderer.array(moment.frame, pictures, held_format(moment.pixels));
        let read = vec![array(self)];
        let jobs: Vec<Taken> =
            (0..pictures).map(|layer| Taken { layer, into: layer, run: 0, unused: 0 }).collect();
        let uniform = run_uniform([&call.uniform[..]]);
        let mut recording = Recording::new(moment.pixels);
        let (figures, into) = (self.figures(u64::from(pictures) * 16), array(self));
        let dispatch = match ending {
            Ending::Stored => Dispatch::into_array(Program::Runs(&runs), read, &into),
            Ending::Fingerprinted => {
                Dispatch::into_figures(Program::Runs(&runs), read, &figures, moment.frame)
            }
        };
        self.record(&mut recording, dispatch.with(&uniform).for_jobs(&jobs));
        self.send(&mut recording)?;
        self.wait()
    }

    /// Records what some rounds beside each other make of pictures of one depth; gives the number of dispatches.
    pub(super) fn record_runs(
        &mut self,
        recording: &mut Recording,
        programs: &Programs,
        rounds: &[Round],
        calls: &[EffectCall],
        read: &Rc<TextureArray>,
        into: &Into<'_>,
    ) -> usize {
        let mut dispatches = 0;
        let shared = match into {
            Into::Array(_) => &programs.stored,
            Into::Fingerprints(_) => &programs.finished,
        };
        for Shared { runs, program, uniform } in shared {
            let mut jobs: Vec<Taken> = Vec::new();
            for round in rounds {
                let (Round::Apply { run, .. } | Round::Finish { run, .. }) = round;
                let Some(run) = runs.iter().position(|held| held == run) else { continue };
                let mut job = |layer, into| jobs.push(Taken { layer, into, run: run as u32, unused: 0 });
                match round {
                    Round::Apply { jobs, .. } => {
                        jobs.iter().for_each(|one| job(one.from_layer, one.into_layer));
                    }
                    Round::Finish { leaves, .. } => {
                        leaves.iter().for_each(|&(layer, class)| job(layer, class as u32));
                    }
                }
            }
            if jobs.is_empty() {
                continue;
            }
            dispatches += 1;
            let read = vec![Rc::clone(read)];
            match (program, into) {
                (Some(program), Into::Array(into)) => {
                    let dispatch = Dispatch::into_array(Program::Runs(program), read, into);
                    self.record(recording, dispatch.with(uniform).for_jobs(&jobs));
                }
                (Some(program), Into::Fingerprints(figures)) => {
                    let frame = read[0].frame;
                    let dispatch = Dispatch::into_figures(Program::Runs(program), read, figures, frame);
                    self.record(recording, dispatch.with(uniform).for_jobs(&jobs));
                }
                (None, Into::Array(into)) => {
                    let layers = |job: &Taken| Job { from_layer: job.layer, into_layer: job.into };
                    let jobs: Vec<Job> = jobs.iter().map(layers).collect();
                    let program = Program::Effect(&calls[runs[0][0]].effect);
                    let dispatch = Dispatch::into_array(program, read, into);
                    self.record(recording, dispatch.with(uniform).for_jobs(&jobs));
                }
                // Every program of what is finished in passing is one of runs.
                (None, Into::Fingerprints(_)) => {}
            }
        }
        dispatches
    }
}

/// What it takes to explore a tree as it is fused, if it is, and with what is finished not stored; so many runs share a
/// program.
fn way(tree: &Tree, fused: Option<&Tree>, passing: bool, texels: u64, at_once: usize) -> Way {
    let now = fused.unwrap_or(tree);
    let mut ends = vec![false; now.nodes.len()];
    for &leaf in &now.leaves {
        ends[leaf] = passing && now.nodes[leaf].children.is_empty();
    }
    let mut depths = vec![0; now.nodes.len()];
    let mut runs = [BTreeSet::new(), BTreeSet::new()];
    for (at, node) in now.nodes.iter().enumerate() {
        node.children.iter().for_each(|&child| depths[child] = depths[at] + 1);
        if at > 0 {
            runs[usize::from(ends[at])].insert(&node.run[..]);
        }
    }
    let places = runs.each_ref().map(|runs| runs.iter().copied().zip(0..).collect::<HashMap<_, usize>>());
    let nodes = now.nodes.iter().enumerate().skip(1);
    let dispatches: BTreeSet<_> = nodes
        .map(|(at, node)| (depths[at], ends[at], places[usize::from(ends[at])][&node.run[..]] / at_once))
        .collect();
    let [stored, finished] = runs;
    let compiled =
        stored.iter().filter(|run| run.len() > 1).chain(&finished).map(|run| run.len() as u64).sum();
    let spared = tree.passes() - now.passes() + ends.iter().filter(|&&ends| ends).count();
    let last = usize::from(!passing);
    Way { spared: spared as u64 * texels, compiled, dispatches: (dispatches.len() + last) as u64 }
}

/// Pictures that a round stores.
fn pictures_stored(round: &Round) -> usize {
    match round {
        Round::Apply { jobs, .. } => jobs.len(),
        Round::Finish { .. } => 0,
    }
}

/// Whether two rounds can share a dispatch: they read and write the same arrays, and neither what the other makes.
pub(super) fn are_beside(one: &Round, other: &Round) -> bool {
    match (one, other) {
        (Round::Apply { depth, .. }, Round::Apply { depth: other, .. }) => depth == other,
        (Round::Finish { depth, run, .. }, Round::Finish { depth: other, run: next, .. }) => {
            depth == other && !run.is_empty() && !next.is_empty()
        }
        _ => false,
    }
}
