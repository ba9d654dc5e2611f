//! What the thread finds out about a chain's orders.

use std::collections::HashMap;
use std::sync::Arc;
use std::time::Duration;

use super::known::{Gathered, Known, Look, LookQuestion, Matters, open_pairs, swapped};
use super::{Answer, Question};
use crate::base::picture::Picture;
use crate::explore;
use crate::explore::words::total_said;
use crate::explore::{Exploration, Orders};
use crate::gpu::{Against, Asked, Budget, Finished, GpuError, Renderer, Want};
use crate::measure::Difference;
use crate::order::{Class, Extent, Fact, LONGEST_IN_FULL, LookLimits, Sample, Tree, marks};
use crate::plan::{Path, memory};
use crate::show::chain::labels;
use crate::window::threads::worker::{Task, Unfinished};

/// Memory for pictures while looks are gathered, in MiB: the window's own pictures need room too. A large frame takes
/// what it takes at the least.
const LOOKS_MIB: u64 = 256;

/// Orders of a chain that is not explored in full: as many as take about so many seconds, and no fewer than this.
const DRAWN_SECS: u64 = 30;
const LEAST_DRAWN: usize = 100;

/// How long the person has to pause before looks are told apart: a slider being drawn changes the chain often.
const PAUSE: Duration = Duration::from_millis(150);

/// The thread's side.
pub(super) fn answered(
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
            task.pause(PAUSE)?;
            let Some(renderer) = renderer else { return Err(Unfinished::GaveWay) };
            if let Some(first) = first(renderer, &known, &question)? {
                task.tell(Answer::First(Box::new(first)));
            }
            // Each order is rendered, and then compared.
            let of = 2 * known.classes.len();
            let gathered =
                gathered(renderer, &known, &question, |done| task.tell_progress(Answer::Way(done, of)))?;
            Ok(Answer::Looks(gathered))
        }
    }
}

/// The looks of an earlier state of the same effects, for as long as those of the current state are
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
            Some(Look { class, facts: facts.collect::<Option<Vec<_>>>()?, ..look.clone() })
        })
        .collect();
    let own = *of.first()?;
    if let Some(look) = looks.iter_mut().find(|look| look.number == own) {
        look.class = 0;
    }
    looks.sort_by_key(|look| look.number != own);
    let matters = gathered.matters.as_ref().and_then(|matters| {
        let is_of_now = matters.is_of_now && gives_the_same_for_all(&before.path, &now.path, &stood);
        carried_matters(matters, &was, stands, is_of_now)
    });
    // How far they were from the current order then says nothing of the one now.
    let means = vec![None; was.len()];
    Some(Arc::new(Gathered { of, looks, matters, means, is_of_now: false, ..gathered.clone() }))
}

/// Families of an earlier state: their facts hold as before, whatever became of the settings.
fn carried_matters(
    matters: &Matters,
    was: &[usize],
    stands: impl Fn(usize) -> Option<usize>,
    is_of_now: bool,
) -> Option<Matters> {
    let moved = |fact: &mut Fact| {
        *fact = Fact { before: stands(fact.before)?, after: stands(fact.after)? };
        Some(())
    };
    let Some(mut families) = matters.families.clone() else {
        return Some(Matters { of: vec![0; was.len()], is_of_now, ..matters.clone() });
    };
    let of: Vec<usize> = was.iter().map(|&class| matters.of[class]).collect();
    for (nth, family) in families.list.iter_mut().enumerate() {
        family.classes = (0..was.len()).filter(|&class| of[class] == nth).collect();
        let shown = was.iter().position(|&class| class == family.shown);
        family.shown = shown.or(family.classes.first().copied())?;
        family.facts.iter_mut().try_for_each(moved)?;
        family.inside.iter_mut().map(|share| &mut share.fact).try_for_each(moved)?;
    }
    families.facts.iter_mut().map(|share| &mut share.fact).try_for_each(moved)?;
    for question in &mut families.questions {
        moved(&mut question.fact)?;
        question.within.iter_mut().try_for_each(moved)?;
    }
    Some(Matters { opening: matters.opening.clone(), families: Some(families), of, is_of_now })
}

/// Whether two paths show the same pictures, each for the same effects in the same order: only which order is the
/// current one may be another. `stood` gives where each effect stood before.
fn gives_the_same_for_all(before: &Path, now: &Path, stood: &[usize]) -> bool {
    let (was_marked, is_marked) = (marks(&before.chain), marks(&now.chain));
    let mut effects = now.chain.iter().zip(stood).enumerate();
    effects.all(|(at, (used, &place))| {
        before.chain[place].is_alike(used) && was_marked.of(place) == is_marked.of(at)
    }) && now.past.is_empty()
        && Path { chain: before.chain.clone(), ..now.clone() }.gives_the_same(before)
}

fn proved(mut renderer: Option<&mut Renderer>, path: Arc<Path>) -> Result<Known, GpuError> {
    let frames: Vec<&Path> = path.frames().collect();
    let proofs = explore::proved(renderer.as_deref_mut(), &frames)?;
    // Of a long chain no more orders are drawn than are looked at in good time.
    let (least, most) = (LEAST_DRAWN, Sample::default().orders);
    let sample = renderer.filter(|_| path.chain.len() > LONGEST_IN_FULL).map(|renderer| {
        let work = DRAWN_SECS * renderer.texels_a_second();
        let orders = explore::sample_of(work, path.chain.len(), path.moment.frame.texels(), least, most);
        Sample { orders, ..Sample::default() }
    });
    let extent = Extent { sample, ..Extent::default() };
    let Orders { proofs, classes, tally, .. } = Orders::proved(proofs, &path.chain, &extent);
    let sequence = most_unlike_first(&classes);
    Ok(Known {
        proofs,
        classes,
        tally,
        sequence,
        path,
        pairs: Vec::new(),
        looks: None,
        on_pieces: None,
        revision: 0,
    })
}

/// What a first sample tells, where all orders take long: families with the classes of all orders, as their facts are known
/// of every order whether drawn or not; what decides is sampled, and the words say so.
fn first(
    renderer: &mut Renderer,
    known: &Known,
    question: &LookQuestion,
) -> Result<Option<Gathered>, GpuError> {
    let path = &*question.path;
    let orders = orders_of(known, path);
    let Some(extent) = orders.first_sample(renderer, path.moment.frame.texels()) else { return Ok(None) };
    let places: HashMap<&[usize], usize> =
        known.classes.iter().enumerate().map(|(at, class)| (&class.order[..], at)).collect();
    let sample = Orders::proved(known.proofs.clone(), &path.chain, &extent);
    let drawn = sample.tally.sample().map_or(0, |sample| sample.orders);
    let rendered = sample.rendered(renderer, path, Want::Figures, budget(path), |_| {})?;
    let Some(mut families) = rendered.families(renderer)? else { return Ok(None) };
    let (said, _) = rendered.families_said(&families);
    let opening = format!(
        "{said} From {drawn} of {}; {} looked at now.",
        total_said(known.tally.orders_total()),
        if known.tally.sample().is_some() { "more are being" } else { "every order is being" }
    );
    let mut of = vec![0; known.classes.len()];
    for (nth, family) in families.list.iter_mut().enumerate() {
        let shown = rendered.orders().classes.get(family.shown);
        let Some(&shown) = shown.and_then(|class| places.get(&class.order[..])) else { return Ok(None) };
        let is_of_it =
            |class: &usize| family.facts.iter().all(|fact| fact.holds(&known.classes[*class].order));
        family.classes = (0..known.classes.len()).filter(is_of_it).collect();
        family.classes.iter().for_each(|&class| of[class] = nth);
        family.shown = shown;
        family.orders = family.classes.iter().map(|&class| orders.orders_in(class)).sum();
    }
    let families = (!families.questions.is_empty()).then_some(families);
    Ok(Some(Gathered {
        of_output: question.of_output,
        of: vec![0; known.classes.len()],
        looks: Vec::new(),
        is_of_now: true,
        is_first: true,
        is_complete: false,
        looked_at: path.moment.frame,
        rendered_at: path.moment.frame,
        matters: Some(Matters { opening, families, of, is_of_now: true }),
        means: vec![None; known.classes.len()],
    }))
}

/// What is known of a chain's orders, for its path at the size to look at.
fn orders_of(known: &Known, path: &Path) -> Orders {
    Orders {
        proofs: known.proofs.clone(),
        classes: known.classes.clone(),
        tally: known.tally.clone(),
        labels: labels(&path.chain),
        marks: marks(&path.chain),
    }
}

fn budget(path: &Path) -> Budget {
    let least =
        memory::least_of_orders(path.chain.len(), path.after.len(), path.moment.frame, path.moment.pixels);
    Budget { mib: LOOKS_MIB.max(least.div_ceil(1 << 20)) }
}

/// Renders every class at the size asked for, and gathers those that look alike.
fn gathered(
    renderer: &mut Renderer,
    known: &Known,
    question: &LookQuestion,
    mut progress: impl FnMut(usize),
) -> Result<Gathered, GpuError> {
    let path = &*question.path;
    let orders = orders_of(known, path);
    let classes = orders.classes.len();
    let rendered = orders.rendered(renderer, path, Want::Figures, budget(path), &mut progress)?;
    let explored = rendered.gathered(renderer, LookLimits::default(), |done| progress(classes + done))?;
    Ok(gathered_of(&explored, question.of_output))
}

/// What an exploration gathered, as the wall shows it.
pub fn gathered_of(explored: &Exploration, of_output: bool) -> Gathered {
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
            facts: told(&explored.rules.names[number]),
        })
        .collect();
    Gathered {
        of_output,
        of: explored.looks.of.clone(),
        looks,
        is_of_now: true,
        is_first: false,
        is_complete: explored.looks.complete,
        looked_at: explored.looked_at,
        rendered_at: explored.rendered_at,
        matters: matters(explored),
        means: explored.finished.iter().map(|finished| Some(finished.difference?.mean)).collect(),
    }
}

/// What matters, as the wall opens with it.
fn matters(explored: &Exploration) -> Option<Matters> {
    let families = explored.told_families().cloned();
    let mut of = vec![0; explored.orders.classes.len()];
    for (nth, family) in families.iter().flat_map(|families| families.list.iter().enumerate()) {
        family.classes.iter().for_each(|&class| of[class] = nth);
    }
    Some(Matters { opening: explored.opening_said()?, families, of, is_of_now: true })
}

/// What decides, that which the current order does otherwise first: it is what a person would change.
fn told(facts: &[Fact]) -> Vec<Fact> {
    let mut facts = facts.to_vec();
    facts.sort_by_key(|fact| fact.before < fact.after);
    facts
}

/// The first class, then the others by how many of their pairs stand the other way round.
pub fn most_unlike_first(classes: &[Class]) -> Vec<usize> {
    let turned = |class: &Class| {
        let order = &class.order;
        let later = |at: usize| order[at + 1..].iter().filter(|&&place| place < order[at]).count();
        (0..order.len()).map(later).sum::<usize>()
    };
    let mut others: Vec<(usize, usize)> = classes.iter().map(turned).zip(0..).skip(1).collect();
    others.sort_by_key(|&(turned, at)| (std::cmp::Reverse(turned), at));
    (0..classes.len().min(1)).chain(others.into_iter().map(|(_, at)| at)).collect()
}

/// How much the picture changes, from the current one, when the two effects of each pair change places, if it does.
fn differing(
    renderer: &mut Renderer,
    path: &Path,
    (own, present): (&[usize], &Picture),
    pairs: &[(usize, usize)],
    tell: impl FnMut(usize),
) -> Result<Vec<(usize, usize, Option<Difference>)>, GpuError> {
    let classes: Vec<Class> = pairs.iter().map(|&(a, b)| Class { order: swapped(own, a, b) }).collect();
    let tree = Tree::of(&classes, |effect| path.idle_because(effect).is_some());
    let asked = Asked { against: Some(Against::Picture(present)), ..Asked::default() };
    let (finished, _) = renderer.explore(path, &tree, &asked, tell)?;
    let differs = |finished: &Finished| finished.difference.filter(|found| found.changed_share > 0.0);
    Ok(pairs.iter().zip(&finished).map(|(&(a, b), finished)| (a, b, differs(finished))).collect())
}
