//! What matters and the families that it makes, as text and as JSON.

use serde::Serialize;

use super::figures::rounded;
use crate::explore::Exploration;
use crate::order::{Fact, Families, Family, Marks, Question, Share};

/// The opening of `orders`: what decides most of what order does, of how many orders that is, and the families.
pub(super) fn opening(explored: &Exploration) -> String {
    let summary = explored.summary();
    let Some(opening) = explored.opening_said() else { return format!("{summary}\n") };
    let mut text = format!("{opening}\n");
    let questions = explored.questions_said();
    for line in &questions {
        text += &format!("  {line}\n");
    }
    text += &format!("{summary}\n");
    if questions.is_empty() {
        return text;
    }
    text += "Under: applied before. Families, each with the order most like all of it:\n";
    for line in explored.families_said() {
        text += &format!("  {line}\n");
    }
    let of_pieces = explored.pieces_said();
    if of_pieces.is_empty() {
        text += &explored.shares_said().map_or_else(String::new, |line| line + "\n");
        return text;
    }
    text += &format!("{}:\n", explored.mattering_said());
    for line in of_pieces {
        text += &format!("  {line}\n");
    }
    text
}

/// What `--json` gives of it.
#[derive(Debug, Serialize)]
pub(super) struct FamiliesFigures {
    /// Every pair of effects, the largest share first.
    facts: Vec<ShareFigures>,
    /// The splits that make the families, the first asked of all orders.
    questions: Vec<QuestionFigures>,
    families: Vec<FamilyFigures>,
    /// What the questions explain of all that order does, 0 to 1.
    explained: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    explained_error: Option<f64>,
}

/// That an effect is under another, by their marks.
#[derive(Debug, Serialize)]
struct FactFigures {
    under: u32,
    over: u32,
}

#[derive(Debug, Serialize)]
struct ShareFigures {
    #[serde(flatten)]
    fact: FactFigures,
    /// Of all that order does, or does inside the family; shares overlap.
    share: f64,
    /// Its standard error, where orders were drawn at random; not told inside families.
    #[serde(skip_serializing_if = "Option::is_none")]
    share_error: Option<f64>,
    /// Whether the two are proved to commute: what they share is other pairs' doing.
    commutes: bool,
}

#[derive(Debug, Serialize)]
struct QuestionFigures {
    #[serde(flatten)]
    fact: FactFigures,
    /// Where it is asked; everywhere, if empty.
    within: Vec<FactFigures>,
    /// What it takes away of all that order does.
    share: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    share_error: Option<f64>,
    /// What it takes away of what order does where it is asked.
    inside: f64,
    /// What is explained once it is answered.
    explained: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    explained_error: Option<f64>,
    /// The orders in each family then: of those drawn, where orders were drawn.
    orders: Vec<u64>,
    /// Whether it decides next to nothing itself, and is asked for the sake of the next.
    opens: bool,
}

#[derive(Debug, Serialize)]
struct FamilyFigures {
    facts: Vec<FactFigures>,
    /// How many of all orders, or of those drawn.
    #[serde(skip_serializing_if = "Option::is_none")]
    orders: Option<u64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    drawn: Option<u64>,
    /// The code of the order nearest its mean.
    shown: String,
    /// That order's difference from the file's own.
    #[serde(skip_serializing_if = "Option::is_none")]
    mean_de2000: Option<f64>,
    /// What order still does inside it, of all that it does.
    left: f64,
    /// Each pair's share of that.
    inside: Vec<ShareFigures>,
}

impl FamiliesFigures {
    pub(super) fn of(explored: &Exploration) -> Option<Self> {
        let marks = &explored.orders.marks;
        let Families { facts, questions, list, explained, explained_error, .. } =
            explored.families.as_ref()?;
        let is_sampled = explored.orders.tally.sample().is_some();
        let error = |error: f64| is_sampled.then(|| rounded(error));
        let family = |family: &Family| FamilyFigures {
            facts: facts_by_mark(&family.facts, marks),
            orders: (!is_sampled).then_some(family.orders),
            drawn: is_sampled.then_some(family.orders),
            shown: explored.orders.code(family.shown),
            mean_de2000: explored.finished[family.shown]
                .difference
                .map(|difference| rounded(difference.mean)),
            left: rounded(family.left),
            inside: shares_by_mark(&family.inside, marks, false),
        };
        let question = |question: &Question| QuestionFigures {
            fact: by_mark(question.fact, marks),
            within: facts_by_mark(&question.within, marks),
            share: rounded(question.share),
            share_error: error(question.error),
            inside: rounded(question.inside),
            explained: rounded(question.explained),
            explained_error: error(question.explained_error),
            orders: question.orders.clone(),
            opens: question.opens,
        };
        Some(Self {
            facts: shares_by_mark(facts, marks, is_sampled),
            questions: questions.iter().map(question).collect(),
            families: list.iter().map(family).collect(),
            explained: rounded(*explained),
            explained_error: error(*explained_error),
        })
    }
}

fn by_mark(fact: Fact, marks: &Marks) -> FactFigures {
    FactFigures { under: marks.of(fact.before), over: marks.of(fact.after) }
}

fn facts_by_mark(facts: &[Fact], marks: &Marks) -> Vec<FactFigures> {
    facts.iter().map(|&fact| by_mark(fact, marks)).collect()
}

fn shares_by_mark(shares: &[Share], marks: &Marks, is_sampled: bool) -> Vec<ShareFigures> {
    let share = |share: &Share| ShareFigures {
        fact: by_mark(share.fact, marks),
        share: rounded(share.share),
        share_error: is_sampled.then(|| rounded(share.error)),
        commutes: share.commutes,
    };
    shares.iter().map(share).collect()
}
