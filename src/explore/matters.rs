//! What matters, in words: the questions that decide most of what order does, and the families that they make.

use super::over_time::Over;
use super::pieces::OnPieces;
use super::{Exploration, Orders, Rendered};
use crate::base::place::capital;
use crate::order::{Fact, Families, Family, LEAST_SHARE, Marks, Question, Share, grouped, orders_said};

/// From this share on, the questions asked so far are said to decide.
const DECIDED: f64 = 0.8;

/// A share of a sample is told from so many standard errors on.
const BEYOND: f64 = 2.0;

/// Pairs that decide this share of what is left inside a family are told, and no more than so many.
const INSIDE_TOLD: f64 = 0.1;
const INSIDE_MOST: usize = 3;

/// A part of a sentence: an effect is told from words, so that it can be shown by its mark.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Word {
    Text(&'static str),
    /// The effect at this place of the chain.
    Effect(usize),
}

/// Facts, questions and families in words, by the names and marks of a chain's effects.
#[derive(Debug, Clone, Copy)]
pub struct FactWords<'a> {
    /// The effects' names, as people tell them apart.
    pub labels: &'a [String],
    /// The effects' marks.
    pub marks: &'a Marks,
}

impl FactWords<'_> {
    /// An effect as people find it again: "tint (1)".
    pub fn marked(self, place: usize) -> String {
        format!("{} ({})", self.labels[place], self.marks.of(place))
    }

    /// "tint under flash-gate", the effect of the lower mark first, with words for under and for over.
    pub fn fact(self, fact: Fact, [under, over]: [&'static str; 2]) -> [Word; 3] {
        let Fact { before, after } = fact;
        if self.marks.of(before) < self.marks.of(after) {
            [Word::Effect(before), Word::Text(under), Word::Effect(after)]
        } else {
            [Word::Effect(after), Word::Text(over), Word::Effect(before)]
        }
    }

    /// What holds for all orders of a family: "tint under flash-gate, flash-gate over edge-find".
    pub fn facts(self, facts: &[Fact]) -> Vec<Word> {
        let mut said = Vec::new();
        for (nth, &fact) in facts.iter().enumerate() {
            said.extend((nth > 0).then_some(Word::Text(", ")));
            said.extend(self.fact(fact, [" under ", " over "]));
        }
        said
    }

    /// Where it is asked: "where tint is under flash-gate and mirror is over blur"; nothing for everywhere.
    pub fn within(self, facts: &[Fact]) -> Vec<Word> {
        let mut said = Vec::new();
        for (nth, &fact) in facts.iter().enumerate() {
            said.push(Word::Text(if nth == 0 { "where " } else { " and " }));
            said.extend(self.fact(fact, [" is under ", " is over "]));
        }
        said
    }

    /// A question: "where tint is under flash-gate: flash-gate under or over edge-find?".
    pub fn question(self, question: &Question) -> Vec<Word> {
        let mut said = self.within(&question.within);
        if !said.is_empty() {
            said.push(Word::Text(": "));
        }
        said.extend(self.fact(question.fact, [" under or over "; 2]));
        said.push(Word::Text("?"));
        said
    }

    /// The questions with what each of them decides, one a line.
    pub fn questions(self, families: &Families) -> Vec<String> {
        let question = |question: &Question| {
            let remark = remark(families, question).map_or_else(String::new, |remark| format!(" {remark}"));
            let share = percent_within(question.share, question.error);
            format!("{share:>5}  {}{remark}", self.plain(&self.question(question)))
        };
        families.questions.iter().map(question).collect()
    }

    /// What is left undecided inside a family, and the pairs that decide most of it: "left inside, 7 % of all: edge-find (3)
    /// and mirror (5) 41 % (only here)"; nothing where that is too little to tell.
    pub fn inside(self, families: &Families, family: &Family) -> Option<String> {
        if family.left < LEAST_SHARE {
            return None;
        }
        let pair = |share: &Share| {
            let Fact { before, after } = share.fact;
            let alone = families.share_of(before, after).unwrap_or_default();
            // Where there is but one family, here is everywhere.
            let only = if alone < LEAST_SHARE && families.list.len() > 1 { " (only here)" } else { "" };
            format!("{} and {} {}{only}", self.marked(before), self.marked(after), percent(share.share))
        };
        let tells = |share: &&Share| !share.commutes && share.share >= INSIDE_TOLD;
        let told: Vec<String> = family.inside.iter().filter(tells).take(INSIDE_MOST).map(pair).collect();
        let told = if told.is_empty() { "no pair much of it".to_owned() } else { told.join(", ") };
        Some(format!("left inside, {} of all: {told}", percent(family.left)))
    }

    /// How much of what order does hangs on a pair, by itself, with others and where: a sentence; nothing of one that is
    /// proved not to matter.
    pub fn hangs(self, families: &Families, (a, b): (usize, usize)) -> Option<String> {
        families.hangs_on(a, b)?;
        let alone = percent(families.share_of(a, b)?);
        let mut said = format!("Of all that order does here, {alone} hangs on it");
        let questions = &families.questions;
        for (nth, question) in questions.iter().enumerate() {
            if ![(a, b), (b, a)].contains(&(question.fact.before, question.fact.after)) {
                continue;
            }
            let within = self.plain(&self.within(&question.within));
            if let Some(next) = questions.get(nth + 1).filter(|_| question.opens) {
                let [one, other] = [next.fact.before, next.fact.after].map(|place| self.marked(place));
                let together = percent(question.share + next.share);
                said += &format!(" by itself; together with {one} and {other} {together}");
            } else if !within.is_empty() {
                let only = if is_only_within(families, question) { "it matters only " } else { "" };
                let inside = percent(question.inside);
                said += &format!("; {only}{within}, {inside} of what it still does there");
            }
        }
        Some(format!("{said}."))
    }

    /// Words as one line of text, effects with their marks: "tint (1) under flash-gate (2)".
    pub fn plain(self, words: &[Word]) -> String {
        let one = |word: &Word| match word {
            Word::Text(text) => (*text).to_owned(),
            &Word::Effect(place) => self.marked(place),
        };
        words.iter().map(one).collect()
    }
}

/// What has to be known of a question beside its share: where else it matters, or that it opens the next.
pub fn remark(families: &Families, question: &Question) -> Option<&'static str> {
    if question.opens {
        return Some("It decides little by itself, and opens the next.");
    }
    is_only_within(families, question).then_some("It matters only there.")
}

/// Whether what is asked matters nowhere else.
pub fn is_only_within(families: &Families, question: &Question) -> bool {
    let Some(alone) = families.share_of(question.fact.before, question.fact.after) else { return false };
    let elsewhere = families.questions.iter().filter(|other| other.fact == question.fact).count() > 1;
    alone < LEAST_SHARE && !elsewhere && !question.within.is_empty()
}

impl Rendered {
    /// What its families tell, before looks are told apart: in a sentence, and the questions one a line.
    pub fn families_said(&self, families: &Families) -> (String, Vec<String>) {
        let here = here_said(&self.orders, self.over.as_ref(), self.pieces.as_ref());
        let words = FactWords { labels: &self.orders.labels, marks: &self.orders.marks };
        let is_sampled = self.orders.tally.sample().is_some();
        (decided_said(families, &here, is_sampled), words.questions(families))
    }
}

impl Exploration {
    /// The first thing to know: "Two questions decide 88 % of what order does here, three 92 %."; nothing where there is
    /// no other order, or where not every order was looked at.
    pub fn opening_said(&self) -> Option<String> {
        let families = self.families.as_ref()?;
        if self.orders.labels.len() < 2 {
            return None;
        }
        let (here, every) = (self.here_said(), self.every_order());
        if self.orders.classes.len() == 1 && self.is_proved_alike() {
            return Some(format!(
                "Order changes nothing: {every} gives the same picture, whatever the footage. That is proved."
            ));
        }
        if self.distinct() == 1 {
            return Some(format!("Order changes nothing {here}: {every} shows the same picture."));
        }
        let is_sampled = self.orders.tally.sample().is_some();
        if self.is_unseen() {
            let sampled = if is_sampled { ", sampled" } else { "" };
            return Some(format!(
                "Nobody would see what order does {here}: all pictures are one look{sampled}."
            ));
        }
        Some(decided_said(families, &here, is_sampled))
    }

    /// The questions with what each of them decides, one a line, the one that decides most first.
    pub fn questions_said(&self) -> Vec<String> {
        let Some(families) = self.told_families() else { return Vec::new() };
        self.words().questions(families)
    }

    /// A question in words.
    pub fn question_said(&self, question: &Question) -> Vec<Word> {
        self.words().question(question)
    }

    /// What has to be known of a question beside its share: where else it matters, or that it opens the next.
    pub fn remark_said(&self, question: &Question) -> Option<&'static str> {
        remark(self.families.as_ref()?, question)
    }

    /// What holds for all orders of a family: "tint under flash-gate, flash-gate over edge-find".
    pub fn family_named(&self, family: &Family) -> Vec<Word> {
        self.words().facts(&family.facts)
    }

    /// The families as a small tree, one line each, indented by two spaces a step.
    pub fn families_said(&self) -> Vec<String> {
        let Some(families) = self.told_families() else { return Vec::new() };
        let mut lines = Vec::new();
        let mut above: &[Fact] = &[];
        for family in &families.list {
            let shared = above.iter().zip(&family.facts).take_while(|(a, b)| a == b).count();
            for depth in shared..family.facts.len() {
                let fact = self.plain(&self.words().fact(family.facts[depth], [" under ", " over "]));
                let orders = match depth + 1 == family.facts.len() {
                    true => format!(": {}", self.family_said(family)),
                    false => String::new(),
                };
                lines.push(format!("{}{fact}{orders}", "  ".repeat(depth)));
            }
            let inside = self.inside_said(family);
            lines.extend(inside.map(|said| format!("{}{said}", "  ".repeat(family.facts.len()))));
            above = &family.facts;
        }
        lines
    }

    /// How large a family is: "20 orders of 120, 17 %; 4 looks, the file's own order among them."; `own` is what the chain's
    /// own order is called.
    pub fn family_counted(&self, family: &Family, own: &str) -> String {
        let mut looks: Vec<usize> = family.classes.iter().map(|&class| self.looks.of[class]).collect();
        looks.sort_unstable();
        looks.dedup();
        let looks = if looks.len() == 1 { "1 look".to_owned() } else { format!("{} looks", looks.len()) };
        let orders = self.counted_said(family.orders);
        if family.facts.is_empty() {
            return format!("{orders}, {looks}.");
        }
        let drawn = self.orders.tally.sample().map(|sample| sample.orders as u128);
        let all = drawn.or(self.orders.tally.orders_total()).unwrap_or(1);
        let own = match family.classes.contains(&0) {
            true if family.orders == 1 => format!(", {own}"),
            true => format!(", {own} among them"),
            false => String::new(),
        };
        let share = percent(family.orders as f64 / all as f64);
        format!("{orders} of {}, {share}; {looks}{own}.", grouped(all))
    }

    /// What is left undecided inside a family, and the pairs that decide most of it.
    pub fn inside_said(&self, family: &Family) -> Option<String> {
        self.words().inside(self.families.as_ref()?, family)
    }

    /// What each pair decides by itself, the most first.
    pub fn shares_said(&self) -> Option<String> {
        let families = self.told_families()?;
        let mine = families.facts.iter().filter(|share| !share.commutes);
        let is_sampled = self.orders.tally.sample().is_some();
        let is_told = |share: &&Share| share.share >= LEAST_SHARE && share.share >= BEYOND * share.error;
        let (told, rest): (Vec<_>, Vec<_>) = mine.partition(is_told);
        if told.is_empty() {
            return None;
        }
        let pair = |share: &&Share| {
            let Fact { before, after } = share.fact;
            let share = percent_within(share.share, share.error);
            format!("{} and {} {share}", self.marked(before), self.marked(after))
        };
        let mut said: Vec<String> = told.iter().map(pair).collect();
        if !rest.is_empty() {
            let chance = if is_sampled { ", or too little to tell from chance" } else { "" };
            said.push(format!("every other pair less than {}{chance}", percent(LEAST_SHARE)));
        }
        let sampled = if is_sampled { "sampled; " } else { "" };
        Some(format!("Each pair by itself ({sampled}shares overlap): {}.", said.join(", ")))
    }

    /// "60 orders, such as 12345, the file's own among them"; "1 order: 12345, the file's own".
    fn family_said(&self, family: &Family) -> String {
        let orders = self.counted_said(family.orders);
        let code = self.orders.code(family.shown);
        match (family.orders, family.classes.contains(&0)) {
            (1, true) => format!("{orders}: {code}, the file's own"),
            (1, false) => format!("{orders}: {code}"),
            (_, true) => format!("{orders}, such as {code}, the file's own among them"),
            (_, false) => format!("{orders}, such as {code}"),
        }
    }

    /// The families, where there is something to tell of them.
    pub fn told_families(&self) -> Option<&Families> {
        self.families.as_ref().filter(|families| !families.questions.is_empty() && !self.is_unseen())
    }

    /// Whether a viewer could not tell any two orders apart.
    fn is_unseen(&self) -> bool {
        self.looks.representatives.len() == 1 && self.looks.complete
    }

    /// "40 orders"; of a sample "40 orders drawn".
    fn counted_said(&self, orders: u64) -> String {
        let drawn = if self.orders.tally.sample().is_some() { " drawn" } else { "" };
        format!("{}{drawn}", orders_said(orders.into()))
    }

    /// "every order", or every one of those looked at.
    pub(super) fn every_order(&self) -> String {
        let kept = self.orders.kept_said().map_or_else(String::new, |kept| format!(" that keeps {kept}"));
        match self.orders.tally.sample() {
            Some(sample) if !self.is_proved_alike() => {
                format!("every one of {} drawn{kept}", orders_said(sample.orders as u128))
            }
            _ => format!("every order{kept}"),
        }
    }

    /// Whether it is all orders of which one picture is proved, not only those drawn.
    fn is_proved_alike(&self) -> bool {
        let (classes, effects) = (&self.orders.proofs.classes, self.orders.labels.len());
        let commutes = |a: usize| (a + 1..effects).all(|b| classes.commute(a, b));
        self.orders.tally.sample().is_none() || (0..effects).all(commutes)
    }

    fn here_said(&self) -> String {
        here_said(&self.orders, self.over.as_ref(), self.pieces.as_ref())
    }

    /// An effect as people find it again: "tint (1)".
    pub(super) fn marked(&self, place: usize) -> String {
        self.words().marked(place)
    }

    /// Words as one line of text, effects with their marks: "tint (1) under flash-gate (2)".
    pub fn plain(&self, words: &[Word]) -> String {
        self.words().plain(words)
    }

    fn words(&self) -> FactWords<'_> {
        FactWords { labels: &self.orders.labels, marks: &self.orders.marks }
    }
}

/// "here", or in which pictures, where not every frame's was looked at; and what is pinned.
fn here_said(orders: &Orders, over: Option<&Over>, pieces: Option<&OnPieces>) -> String {
    let pieces = pieces.map(|pieces| format!("on {pieces}"));
    let place = match (over, pieces) {
        (Some(over), None) if over.is_sampled() => format!("in {}", over.pictures_said()),
        (Some(over), Some(pieces)) if over.is_sampled() => {
            format!("{pieces}, in {} of each", over.pictures_said())
        }
        (_, Some(pieces)) => pieces,
        (_, None) => "here".to_owned(),
    };
    orders.kept_said().map_or(place.clone(), |kept| format!("{place} with {kept}"))
}

/// "Two questions decide 88 % of what order does here, three 92 %."; of a sample with a standard error, and the word.
fn decided_said(families: &Families, here: &str, is_sampled: bool) -> String {
    let questions = &families.questions;
    let sampled = if is_sampled { ", sampled" } else { "" };
    let Some(last) = questions.last() else {
        return match is_sampled {
            true => format!("No single question is seen to decide much of what order does {here}{sampled}."),
            false => format!(
                "No single question decides much of what order does {here}: none as much as {}, none after another as much as {}.",
                percent(LEAST_SHARE),
                percent(2.0 * LEAST_SHARE)
            ),
        };
    };
    let enough = questions.iter().position(|question| question.explained >= DECIDED);
    let enough = enough.unwrap_or(questions.len() - 1);
    let (said, asked) = (&questions[enough], &questions[..=enough]);
    let only = if said.explained < 0.5 { "only " } else { "" };
    let share = match is_sampled {
        true => format!("about {} (± {})", percent(said.explained), whole_percent(said.explained_error)),
        false => percent(said.explained),
    };
    let decided = format!("{only}{share} of what order does {here}");
    if asked.iter().any(|question| question.opens) {
        return format!("{}{sampled}.", together_said(families, asked, &decided));
    }
    let verb = if enough == 0 { "question decides" } else { "questions decide" };
    let more = match questions.len() - 1 {
        all if all > enough => format!(", {} {}", number(all + 1), percent(last.explained)),
        _ => String::new(),
    };
    let count = capital(&number(enough + 1));
    format!("{count} {verb} {decided}{more}{sampled}.")
}

/// "Two questions together decide 100 % of what order does here, neither as much as 2 % alone": of questions of which
/// one shows only with another.
fn together_said(families: &Families, asked: &[Question], decided: &str) -> String {
    let mut facts: Vec<Fact> = asked.iter().map(|question| question.fact).collect();
    facts.sort_by_key(|fact| (fact.before, fact.after));
    facts.dedup();
    let alone = |fact: &&Fact| families.share_of(fact.before, fact.after);
    let faint = facts.iter().filter(|fact| alone(fact).is_some_and(|share| share < LEAST_SHARE)).count();
    let least = percent(LEAST_SHARE);
    let alone = match faint {
        0 => String::new(),
        2 if facts.len() == 2 => format!(", neither as much as {least} alone"),
        all if all == facts.len() => format!(", none as much as {least} alone"),
        some => format!(", {} of them less than {least} alone", number(some)),
    };
    format!("{} questions together decide {decided}{alone}", capital(&number(facts.len())))
}

/// A standard error in whole per cents, at least one: "3".
fn whole_percent(error: f64) -> String {
    format!("{:.0}", (error * 100.0).max(1.0))
}

/// "52 %"; of a sample "52 % ± 3".
pub fn percent_within(share: f64, error: f64) -> String {
    if error > 0.0 { format!("{} ± {}", percent(share), whole_percent(error)) } else { percent(share) }
}

/// "88 %"; what is less than half a per cent, and not nothing, as "below 1 %".
pub fn percent(share: f64) -> String {
    match share * 100.0 {
        small if small > 0.0 && small < 0.5 => "below 1 %".to_owned(),
        share => format!("{share:.0} %"),
    }
}

/// A small number in words.
pub(super) fn number(count: usize) -> String {
    let words = ["no", "one", "two", "three", "four", "five", "six"];
    words.get(count).map_or_else(|| count.to_string(), |&word| word.to_owned())
}
