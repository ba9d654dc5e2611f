//! Which one chain serves all sections nearly as well as each section's own.

use serde::Serialize;

use super::documents::{Documents, Stand};
use super::figures::rounded;
use super::opened::Opened;
use super::subject::Subject;
use crate::base::coding::ColourCode;
use crate::base::doing::doing_counted;
use crate::explore::Exploration;
use crate::explore::wish::By;
use crate::order::in_order;
use crate::plan::Path;
use crate::show::chain::{Chain, EffectUse};
use crate::show::{Scope, Show};

/// Below this a mean difference is said to be nothing that one sees: it rounds to 0.0.
const NOTHING: f64 = 0.05;
/// Sections that are named one by one where nothing is lost on them.
const MOST_NAMED: usize = 3;

/// A section of the set under the chain that is looked at.
pub(super) struct OfSection {
    pub(super) name: String,
    pub(super) colour: Option<ColourCode>,
    /// The show as it stands there, the show's own chain on the scope.
    pub(super) show: Show,
    /// The chain that the section names for the scope, and what is on it.
    pub(super) own: Option<(String, Chain)>,
}

/// The sections in which a scope shows, and the names of those in which it does not.
pub(super) fn sections_of(show: &Show, scope: Scope, stands: Vec<Stand>) -> (Vec<OfSection>, Vec<String>) {
    let (mut of, mut hidden) = (Vec::new(), Vec::new());
    for Stand { section, name, show: mut stands } in stands {
        if !stands.shows(scope) {
            hidden.push(name);
            continue;
        }
        let named = show.sections[section].chains.get(&scope).cloned();
        let chain = std::mem::replace(stands.chain_mut(scope), show.chain(scope).clone());
        let colour = show.sections[section].colour;
        of.push(OfSection { name, colour, show: stands, own: named.map(|named| (named, chain)) });
    }
    (of, hidden)
}

/// A chain that could be the one for all sections.
struct Candidate {
    /// "order 21534", "library:amber".
    said: String,
    chain: Chain,
    /// How far it is from each section's own, as a mean (CIEDE2000).
    losses: Vec<f64>,
}

/// Which one chain serves all sections.
#[derive(Serialize)]
pub(super) struct KeepOne {
    /// What to keep: an order of the show's own chain by its code, or the name of a chain.
    keep: String,
    /// What it loses against each section's own chain.
    sections: Vec<LossFigures>,
    /// The same of all that were compared.
    compared: Vec<ComparedFigures>,
    #[serde(skip)]
    said: String,
}

#[derive(Serialize)]
struct LossFigures {
    section: String,
    /// The chain that the section names; nothing where it has the show's own.
    #[serde(skip_serializing_if = "Option::is_none")]
    own: Option<String>,
    mean_de2000: f64,
}

#[derive(Serialize)]
struct ComparedFigures {
    chain: String,
    mean_de2000: f64,
    worst_de2000: f64,
}

impl KeepOne {
    pub(super) fn said(&self) -> &str {
        &self.said
    }

    /// Compares the show's own chain, every chain that a section names, and, of sections whose chains are orders of the
    /// show's own, the order that comes nearest to all; nothing where no section names a chain for the scope.
    pub(super) fn of(
        subject: &mut Subject,
        explored: &Exploration,
        sections: &[OfSection],
        by: By,
    ) -> anyhow::Result<Option<Self>> {
        let Opened::Show { show, scope } = &subject.opened else { return Ok(None) };
        let (scope, address) = (*scope, show.address(*scope));
        if sections.iter().all(|section| section.own.is_none()) {
            return Ok(None);
        }
        let own = show.chain(scope).clone();
        let code = |order: &[usize]| explored.orders.marks.code(order);
        let mut candidates: Vec<Candidate> = Vec::new();
        let mut add = |said: String, chain: Chain| {
            if !candidates.iter().any(|known| is_alike(&known.chain, &chain)) {
                candidates.push(Candidate { said, chain, losses: Vec::new() });
            }
        };
        let places: Vec<usize> = (0..own.len()).collect();
        add(format!("order {}, the show's own", code(&places)), own.clone());
        for (name, chain) in sections.iter().filter_map(|section| section.own.as_ref()) {
            add(name.clone(), chain.clone());
        }
        if let Some(class) = nearest(subject, explored, sections, &own, by)? {
            let order = &explored.orders.classes[class].order;
            add(format!("order {}", code(order)), in_order(&own, order));
        }
        let moment = subject.path.moment;
        let comparing = doing_counted("comparing chains", "pictures", candidates.len() * sections.len());
        let mut done = 0;
        for section in sections {
            let picture = |subject: &mut Subject, chain: &Chain| -> anyhow::Result<_> {
                let mut stands = section.show.clone();
                stands.chain_mut(scope).clone_from(chain);
                let path = Path::of_scope(&stands, scope, moment, &mut subject.shelf)?;
                let order: Vec<usize> = (0..path.chain.len()).collect();
                Ok(subject.renderer.picture(&path, &order)?)
            };
            let wanted = section.own.as_ref().map_or(&own, |(_, chain)| chain);
            let target = picture(subject, wanted)?;
            for candidate in &mut candidates {
                comparing.done(done);
                done += 1;
                let loss = match is_alike(&candidate.chain, wanted) {
                    true => 0.0,
                    false => {
                        let shown = picture(subject, &candidate.chain)?;
                        subject.renderer.difference(&target, &shown)?.mean
                    }
                };
                candidate.losses.push(loss);
            }
        }
        drop(comparing);
        Ok(Some(Self::told(&address, candidates, sections, by)))
    }

    fn told(address: &str, mut candidates: Vec<Candidate>, sections: &[OfSection], by: By) -> Self {
        let figure = |candidate: &Candidate| match by {
            By::Mean => mean(&candidate.losses),
            By::Worst => worst(&candidate.losses),
        };
        candidates.sort_by(|a, b| figure(a).total_cmp(&figure(b)));
        let best = &candidates[0];
        let loses = |candidate: &Candidate| {
            let mut losses: Vec<(&str, f64)> = sections
                .iter()
                .map(|section| section.name.as_str())
                .zip(candidate.losses.iter().copied())
                .collect();
            losses.sort_by(|a, b| b.1.total_cmp(&a.1));
            let some: Vec<String> = losses
                .iter()
                .filter(|(_, loss)| *loss >= NOTHING)
                .map(|(name, loss)| format!("dE {loss:.1} on {name}"))
                .collect();
            let none: Vec<&str> =
                losses.iter().filter(|(_, loss)| *loss < NOTHING).map(|(name, _)| *name).collect();
            let some = in_words(&some);
            match (some.is_empty(), none.len()) {
                (true, _) => "loses nothing that one sees".to_owned(),
                (false, 0) => format!("loses {some}"),
                (false, count) if count > MOST_NAMED => format!("loses {some}; nothing on the other {count}"),
                (false, _) => format!("loses {some}; nothing on {}", in_words(&none)),
            }
        };
        let mut said = format!(
            "Keep one on {address}: {}. Against each section's own chain it {} (mean CIEDE2000).\n",
            best.said,
            loses(best)
        );
        for other in &candidates[1..] {
            said += &format!("  {} {}\n", other.said, loses(other));
        }
        let losses = sections.iter().zip(&best.losses).map(|(section, &loss)| LossFigures {
            section: section.name.clone(),
            own: section.own.as_ref().map(|(name, _)| name.clone()),
            mean_de2000: rounded(loss),
        });
        let compared = candidates.iter().map(|candidate| ComparedFigures {
            chain: candidate.said.clone(),
            mean_de2000: rounded(mean(&candidate.losses)),
            worst_de2000: rounded(worst(&candidate.losses)),
        });
        Self { keep: best.said.clone(), sections: losses.collect(), compared: compared.collect(), said }
    }
}

/// "a", "a and b", "a, b and c".
fn in_words(parts: &[impl AsRef<str>]) -> String {
    let parts: Vec<&str> = parts.iter().map(AsRef::as_ref).collect();
    match parts.split_last() {
        None => String::new(),
        Some((last, [])) => (*last).to_owned(),
        Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
    }
}

fn mean(losses: &[f64]) -> f64 {
    losses.iter().sum::<f64>() / losses.len().max(1) as f64
}

fn worst(losses: &[f64]) -> f64 {
    losses.iter().copied().fold(0.0, f64::max)
}

fn is_alike(one: &[EffectUse], other: &[EffectUse]) -> bool {
    one.len() == other.len() && one.iter().zip(other).all(|(one, other)| one.is_twin(other))
}

/// A chain as an order of another, by places of that; nothing where it holds other effects, or others' settings.
fn as_order(chain: &[EffectUse], of: &[EffectUse]) -> Option<Vec<usize>> {
    let mut order: Vec<usize> = Vec::new();
    for used in chain {
        order.push((0..of.len()).find(|at| !order.contains(at) && of[*at].is_twin(used))?);
    }
    (order.len() == of.len()).then_some(order)
}

/// The class of orders that is nearest to what the sections have, by the pictures by which looks are told apart; of the
/// sections whose chains are orders of the show's own.
fn nearest(
    subject: &mut Subject,
    explored: &Exploration,
    sections: &[OfSection],
    own: &[EffectUse],
    by: By,
) -> anyhow::Result<Option<usize>> {
    let Some(pieces) = &explored.pieces else { return Ok(None) };
    let classes = &explored.orders.classes;
    let proved = &explored.orders.proofs.classes;
    let others: Vec<usize> = (0..classes.len()).collect();
    let mut losses: Vec<Vec<f64>> = vec![Vec::new(); classes.len()];
    for (section, piece) in sections.iter().zip(&pieces.list) {
        let order = match &section.own {
            Some((_, chain)) => as_order(chain, own),
            None => Some((0..own.len()).collect()),
        };
        let Some(form) = order.map(|order| proved.normal_form(&order)) else { continue };
        let Some(target) = classes.iter().position(|class| proved.normal_form(&class.order) == form) else {
            continue;
        };
        let Some(gallery) = explored.galleries.get(piece.galleries.start) else { continue };
        let apart = subject.renderer.apart(gallery, target, &others)?;
        losses.iter_mut().zip(apart).for_each(|(losses, apart)| losses.push(apart.mean));
    }
    let figure = |class: &usize| match by {
        By::Mean => mean(&losses[*class]),
        By::Worst => worst(&losses[*class]),
    };
    Ok(others.iter().copied().min_by(|a, b| figure(a).total_cmp(&figure(b))))
}

/// The sections of the show that is looked at, and the names of those in which its scope does not show.
pub(super) fn opened(
    subject: &Subject,
    documents: &Documents,
) -> anyhow::Result<Option<(Vec<OfSection>, Vec<String>)>> {
    let Opened::Show { show, scope } = &subject.opened else { return Ok(None) };
    Ok(Some(sections_of(show, *scope, documents.all_stands(show)?)))
}
