//! Orders judged on several pieces of footage, on a thread of its own: nothing is waited for.

use std::collections::HashSet;
use std::path::Path as FilePath;
use std::slice;
use std::sync::Arc;
use std::time::Duration;

use super::prover::{BestOrders, Known, OnPieces, PairOnPieces, PieceSeen, gathered_of, most_unlike_first};
use super::worker::{Errand, News, Task, Unfinished, Worker};
use crate::beat::Moment;
use crate::catalogue::Catalogue;
use crate::explore::judging::{Judged, Judging};
use crate::explore::over_time::Stretch;
use crate::explore::pieces::Frames;
use crate::explore::wish::{By, Wish};
use crate::explore::{Exploration, Orders};
use crate::footage::{FootageError, MOST_PIECES, Pieces, Shelf, piece_names};
use crate::gpu::{Budget, Gpu, Renderer};
use crate::order::{Extent, LookLimits, Share};
use crate::plan::{Path, memory};
use crate::show::clip::{FootageName, Play, STANDARD_INPUT};
use crate::show::{ClipPlace, InTurn, Scope, Show};
use crate::window::basis::{Basis, On};

/// Memory for pictures meanwhile, in MiB: the window's own pictures need room too. A large frame takes what it takes at
/// the least.
const MIB: u64 = 256;
/// How long the person has to pause first: every piece is rendered anew after a change.
const PAUSE: Duration = Duration::from_millis(300);
/// Answers that are kept, so that what is taken back is there at once.
const KEPT: usize = 6;
/// Revisions of what is known count from here on: the prover's stay below.
const REVISIONS_FROM: u64 = 1 << 63;

/// What is to be judged, on what.
#[derive(Debug, Clone)]
pub struct PiecesQuestion {
    pub basis: Basis,
    /// The show, the clip of the path showing.
    pub show: Arc<Show>,
    pub scope: Scope,
    pub clip: ClipPlace,
    /// When, and at what size.
    pub moment: Moment,
    /// Whether the output is looked at, not the picture as it leaves the chain.
    pub of_output: bool,
    /// The chain's path on the clip.
    pub path: Arc<Path>,
}

impl PiecesQuestion {
    fn is_like(&self, other: &Self) -> bool {
        let places = |asked: &Self| (asked.scope, asked.clip, asked.of_output);
        self.basis.asks_the_same(&other.basis)
            && places(self) == places(other)
            && self.moment == other.moment
            && (Arc::ptr_eq(&self.show, &other.show) || self.show == other.show)
    }
}

enum Answer {
    /// So much is done, of so much.
    Way(usize, usize),
    Judged(Box<Known>),
}

/// Has orders judged on pieces, one question at a time, the latest, and keeps the last few answers.
pub struct PiecesJudge {
    worker: Worker<PiecesQuestion, Answer>,
    open: Option<(PiecesQuestion, Errand, (usize, usize))>,
    kept: Vec<(PiecesQuestion, Arc<Known>)>,
    failed: Option<(PiecesQuestion, String)>,
    revisions: u64,
}

impl PiecesJudge {
    pub fn new(gpu: Gpu, catalogue: Catalogue, wake: impl Fn() + Send + 'static) -> Self {
        let begin = move || Ok(Renderer::giving_way(gpu.sibling()));
        let work = move |renderer: &mut Renderer, question: PiecesQuestion, task: &Task<'_, Answer>| {
            task.pause(PAUSE)?;
            renderer.stop_when(task.stop());
            judged(renderer, &catalogue, &question, task)
        };
        Self {
            worker: Worker::new("pieces", wake, begin, work),
            open: None,
            kept: Vec::new(),
            failed: None,
            revisions: REVISIONS_FROM,
        }
    }

    /// What is known, asking for it where it is not known yet; where the person has stopped it, nothing is asked.
    pub fn known(&mut self, question: PiecesQuestion) -> Option<&Arc<Known>> {
        self.hear();
        if let Some(at) = self.kept.iter().position(|(known, _)| known.is_like(&question)) {
            self.leave();
            let kept = self.kept.remove(at);
            self.kept.insert(0, kept);
            return self.kept.first().map(|(_, known)| known);
        }
        let is_asked = self.open.as_ref().is_some_and(|(asked, ..)| asked.is_like(&question));
        let has_failed = self.failed.as_ref().is_some_and(|(asked, _)| asked.is_like(&question));
        if question.basis.is_stopped || question.basis.lacks_footage() {
            self.leave();
        } else if !is_asked && !has_failed {
            self.leave();
            self.failed = None;
            let errand = self.worker.ask(question.clone());
            self.open = Some((question, errand, (0, 0)));
        }
        None
    }

    /// Gives up what is on its way.
    pub fn leave(&mut self) {
        if let Some((_, errand, _)) = self.open.take() {
            errand.give_up();
        }
    }

    /// How much is done, and of how much, while something is on its way.
    pub fn way(&self) -> Option<(usize, usize)> {
        self.open.as_ref().map(|(.., way)| *way)
    }

    /// Why there is no answer.
    pub fn problem(&self) -> Option<&str> {
        self.failed.as_ref().map(|(_, why)| why.as_str())
    }

    /// Asks anew, of footage as it is now.
    pub fn try_again(&mut self) {
        self.failed = None;
        self.kept.clear();
    }

    fn hear(&mut self) {
        while let Some((number, said)) = self.worker.hear() {
            let Some((question, errand, way)) = &mut self.open else { continue };
            if !errand.is(number) {
                continue;
            }
            match said {
                News::Part(Answer::Way(done, of)) => *way = (done, of),
                News::Part(Answer::Judged(known)) | News::Finished(Answer::Judged(known)) => {
                    self.revisions += 1;
                    let known = Arc::new(Known { revision: self.revisions, ..*known });
                    self.kept.insert(0, (question.clone(), known));
                    self.kept.truncate(KEPT);
                    self.open = None;
                }
                News::Finished(Answer::Way(..)) | News::GaveWay => self.open = None,
                News::Failed(why) => {
                    self.failed = Some((question.clone(), format!("The orders were not judged: {why}")));
                    self.open = None;
                }
            }
        }
    }
}

/// A piece before it is opened.
struct Piece {
    name: String,
    show: Arc<Show>,
}

/// The pieces of a question; `left_out` takes what is none.
fn pieces_of(
    question: &PiecesQuestion,
    left_out: &mut Vec<String>,
    told: &mut Vec<String>,
) -> Result<Vec<Piece>, Unfinished> {
    let PiecesQuestion { basis, show, scope, clip, .. } = question;
    let pieces: Vec<Piece> = match basis.on {
        On::Clip => {
            let name = show.clip(*clip).map_or_else(String::new, |clip| clip.name.clone());
            vec![Piece { name, show: Arc::clone(show) }]
        }
        On::Clips => {
            let piece = |turn: InTurn| Piece { name: turn.name, show: Arc::new(turn.show) };
            show.clips_in_turn(*scope).into_iter().map(piece).collect()
        }
        On::Named => {
            let written = written(&basis.named, left_out, told);
            let footage: Vec<FootageName> =
                written.iter().map(|written| FootageName::parsed(written, FilePath::new(""))).collect();
            let names = piece_names(&footage);
            let piece = |(footage, name): (FootageName, String)| {
                let mut show = Show::clone(show);
                let clip = &mut show.bundles[clip.bundle].levels[clip.level].clips[clip.clip];
                (clip.footage, clip.play) = (footage, Play::default());
                Piece { name, show: Arc::new(show) }
            };
            footage.into_iter().zip(names).map(piece).collect()
        }
    };
    if pieces.len() > MOST_PIECES {
        let count = pieces.len();
        return Err(Unfinished::Failed(format!(
            "{count} pieces of footage; at most {MOST_PIECES} are looked at together"
        )));
    }
    Ok(pieces)
}

/// What words name: files, those of folders, those that a pattern finds.
fn written(named: &[String], left_out: &mut Vec<String>, told: &mut Vec<String>) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    for word in named {
        match Pieces::named(slice::from_ref(word)) {
            _ if word == STANDARD_INPUT => {
                left_out.push("-: standard input is for commands; name a file".to_owned());
            }
            Ok(None) => all.push(word.clone()),
            Ok(Some(pieces)) => {
                told.extend(pieces.told);
                all.extend(pieces.written);
            }
            Err(error) => left_out.push(error.to_string()),
        }
    }
    let mut seen = HashSet::new();
    all.retain(|written| seen.insert(written.clone()));
    all
}

fn judged(
    renderer: &mut Renderer,
    catalogue: &Catalogue,
    question: &PiecesQuestion,
    task: &Task<'_, Answer>,
) -> Result<Answer, Unfinished> {
    let (mut left_out, mut told) = (Vec::new(), Vec::new());
    let pieces = pieces_of(question, &mut left_out, &mut told)?;
    let names: Vec<String> = pieces.iter().map(|piece| piece.name.clone()).collect();
    let PiecesQuestion { path, moment, basis, .. } = question;
    let least = memory::least_of_orders(path.chain.len(), path.after.len(), moment.frame, moment.pixels);
    let budget = Budget { mib: MIB.max(least.div_ceil(1 << 20)) };
    let wish = basis.wish.map(|goal| (goal, basis.by));
    let extent = Extent::default();
    let judging = Judging { extent: &extent, limits: LookLimits::default(), budget, wish, like: None };
    let mut seen = Vec::new();
    let frames = |at: usize| {
        if !task.is_wanted() {
            return Err(Unfinished::GaveWay);
        }
        match frames_of(&pieces[at].show, question, &mut Shelf::new(catalogue)) {
            Ok(frames) => {
                seen.push(at);
                Ok(Some(frames))
            }
            Err(error) => {
                left_out.push(format!("{}: {error}", names[at]));
                Ok(None)
            }
        }
    };
    let tell = |done: usize, of: usize| task.tell_progress(Answer::Way(done, of));
    let found = judging.judged::<Unfinished>(renderer, &names, frames, tell)?;
    let Some(Judged { explored, wish }) = found else {
        let why = if left_out.is_empty() { "nothing was named".to_owned() } else { left_out.join("; ") };
        return Err(Unfinished::Failed(format!("no piece of footage can be shown: {why}")));
    };
    let piece = |(nth, at): (usize, usize)| {
        let Piece { name, show } = &pieces[at];
        let over = explored.pieces.as_ref().and_then(|pieces| pieces.list[nth].over.as_ref());
        let telling = over.and_then(|over| over.most_telling()).map(|(moment, _)| moment.beats);
        let beats = telling.unwrap_or(question.moment.beats);
        PieceSeen { name: name.clone(), show: Arc::clone(show), beats }
    };
    let seen: Vec<PieceSeen> = seen.into_iter().enumerate().map(piece).collect();
    told.extend(explored.of_pieces_said());
    let Orders { proofs, classes, tally, .. } = &explored.orders;
    let sequence = wish.as_ref().map_or_else(|| most_unlike_first(classes), |wish| wish.order.clone());
    let on_pieces = OnPieces {
        pairs: pairs(&explored),
        best: wish.map(|wish| best(&explored, &wish)),
        pieces: seen,
        left_out,
        remarks: told,
    };
    Ok(Answer::Judged(Box::new(Known {
        path: Arc::clone(path),
        proofs: proofs.clone(),
        classes: classes.clone(),
        tally: tally.clone(),
        sequence,
        pairs: Vec::new(),
        looks: Some(Arc::new(gathered_of(&explored, question.of_output))),
        on_pieces: Some(Arc::new(on_pieces)),
        revision: 0,
    })))
}

/// The frames of a piece that are compared.
fn frames_of(show: &Show, question: &PiecesQuestion, shelf: &mut Shelf) -> Result<Frames, FootageError> {
    let &PiecesQuestion { scope, moment, of_output, .. } = question;
    let mut path = |moment, with_past| {
        let path = match with_past {
            true => Path::of_scope(show, scope, moment, shelf),
            false => Path::of_scope_alone(show, scope, moment, shelf),
        }?;
        Ok(if of_output { path } else { Path { after: Vec::new(), ..path } })
    };
    match question.basis.over {
        Some(beats) => Stretch::planned(moment, beats, None, path).map(Frames::Stretch),
        None => path(moment, true).map(|path| Frames::Moment(Box::new(path))),
    }
}

/// What each pair has of what order does, piece by piece; those that matter on some piece.
fn pairs(explored: &Exploration) -> Vec<PairOnPieces> {
    let (Some(pieces), Some(families)) = (&explored.pieces, &explored.families) else { return Vec::new() };
    let facts = families.facts.iter().enumerate().filter(|(_, known)| !known.commutes);
    let pair = |(at, known): (usize, &Share)| {
        Some(PairOnPieces {
            fact: known.fact,
            share: known.share,
            shares: (0..pieces.list.len()).map(|piece| pieces.share(at, piece)).collect(),
            place: pieces.where_said(at)?,
            span: pieces.shares_said(at)?,
        })
    };
    facts.filter_map(pair).collect()
}

/// The orders that are best for a wish, in the words of a command.
fn best(explored: &Exploration, wish: &Wish) -> BestOrders {
    let code = |class: usize| explored.orders.code(class);
    let mut classes = [By::Mean, By::Worst].map(|by| wish.best(by)).to_vec();
    classes.dedup();
    let pieces = explored.pieces.as_ref().map_or(0, |pieces| pieces.list.len());
    let (answer, gains) = if pieces > 1 {
        let grounds = format!("{pieces} pieces");
        let mut answer = wish.best_said(code, &grounds);
        answer.push(wish.disagreement_said(code));
        (answer, wish.answer_said(code, &grounds).split_off(1))
    } else {
        let (best, goal) = (classes[0], wish.goal);
        let figure = wish.figure_said(wish.values[best]);
        (vec![format!("Best for {}: {}, {} {figure}.", goal.name(), code(best), goal.figure())], Vec::new())
    };
    let orders = classes.iter().map(|&class| explored.orders.classes[class].order.clone()).collect();
    BestOrders { answer, gains, orders }
}
