//! What matters, in words: the questions that decide most of what order does, and the families that they make.

use super::Exploration;
use crate::order::{Fact, Families, Family, LEAST_SHARE, Question};

/// From this share on, the questions asked so far are said to decide.
const DECIDED: f64 = 0.8;

impl Exploration {
    /// The first thing to know: "Two questions decide 88 % of what order does here, three 92 %."; nothing where there is
    /// no other order, or where not every order was looked at.
    pub fn opening_said(&self) -> Option<String> {
        let families = self.families.as_ref()?;
        if self.orders.labels.len() < 2 {
            return None;
        }
        let here = self.here_said();
        if self.orders.classes.len() == 1 {
            return Some("Order changes nothing: every order gives the same picture, whatever the footage. That is proved.".to_owned());
        }
        if self.distinct() == 1 {
            return Some(format!("Order changes nothing {here}: every order shows the same picture."));
        }
        if self.is_unseen() {
            return Some(format!("Nobody would see what order does {here}: all pictures are one look."));
        }
        let questions = &families.questions;
        let Some(last) = questions.last() else {
            return Some(format!(
                "No single question decides much of what order does {here}: none as much as {}.",
                percent(LEAST_SHARE)
            ));
        };
        let enough = questions.iter().position(|question| question.explained >= DECIDED);
        let enough = enough.unwrap_or(questions.len() - 1);
        let said = &questions[enough];
        let (verb, only) =
            (if enough == 0 { "question decides" } else { "questions decide" }, said.explained < 0.5);
        let only = if only { "only " } else { "" };
        let more = match questions.len() - 1 {
            all if all > enough => format!(", {} {}", number(all + 1), percent(last.explained)),
            _ => String::new(),
        };
        let count = capital(&number(enough + 1));
        Some(format!("{count} {verb} {only}{} of what order does {here}{more}.", percent(said.explained)))
    }

    /// The questions with what each of them decides, one a line, the one that decides most first.
    pub fn questions_said(&self) -> Vec<String> {
        let Some(families) = self.told_families() else { return Vec::new() };
        let question = |question: &Question| {
            let Fact { before, after } = question.fact;
            let only = families.share_of(before, after).is_some_and(|alone| alone < LEAST_SHARE);
            let only = if only && !question.within.is_empty() { " It matters only there." } else { "" };
            let asked = format!("{} under or over {}?", self.marked(before), self.marked(after));
            let within = match &question.within[..] {
                [] => String::new(),
                within => format!("where {}: ", self.facts_said(within)),
            };
            format!("{:>5}  {within}{asked}{only}", percent(question.share))
        };
        families.questions.iter().map(question).collect()
    }

    /// The families as a small tree, one line each, indented by two spaces a step.
    pub fn families_said(&self) -> Vec<String> {
        let Some(families) = self.told_families() else { return Vec::new() };
        let mut lines = Vec::new();
        let mut above: &[Fact] = &[];
        for family in &families.list {
            let shared = above.iter().zip(&family.facts).take_while(|(a, b)| a == b).count();
            for depth in shared..family.facts.len() {
                let fact = self.fact_marked(family.facts[depth], "");
                let orders = match depth + 1 == family.facts.len() {
                    true => format!(": {}", self.family_said(family)),
                    false => String::new(),
                };
                lines.push(format!("{}{fact}{orders}", "  ".repeat(depth)));
            }
            above = &family.facts;
        }
        lines
    }

    /// What each pair decides by itself, the most first.
    pub fn shares_said(&self) -> Option<String> {
        let families = self.told_families()?;
        let mine = families.facts.iter().filter(|share| !share.commutes);
        let (told, rest): (Vec<_>, Vec<_>) = mine.partition(|share| share.share >= LEAST_SHARE);
        if told.is_empty() {
            return None;
        }
        let pair = |share: &&crate::order::Share| {
            let Fact { before, after } = share.fact;
            format!("{} and {} {}", self.marked(before), self.marked(after), percent(share.share))
        };
        let mut said: Vec<String> = told.iter().map(pair).collect();
        if !rest.is_empty() {
            said.push(format!("every other pair less than {}", percent(LEAST_SHARE)));
        }
        Some(format!("Each pair by itself (shares overlap): {}.", said.join(", ")))
    }

    /// "60 orders, such as 12345".
    fn family_said(&self, family: &Family) -> String {
        let orders =
            if family.orders == 1 { "1 order".to_owned() } else { format!("{} orders", family.orders) };
        let own = if family.classes.contains(&0) { ", the file's own among them" } else { "" };
        format!("{orders}, such as {}{own}", self.orders.code(family.shown))
    }

    /// The families, where there is something to tell of them.
    fn told_families(&self) -> Option<&Families> {
        self.families.as_ref().filter(|families| !families.questions.is_empty() && !self.is_unseen())
    }

    /// Whether a viewer could not tell any two orders apart.
    fn is_unseen(&self) -> bool {
        self.looks.representatives.len() == 1 && self.looks.complete
    }

    /// "here", or in which pictures, where not every frame's was looked at.
    fn here_said(&self) -> String {
        let pieces = self.pieces.as_ref().map(|pieces| format!("on {}", pieces.said()));
        match (&self.over, pieces) {
            (Some(over), None) if over.is_sampled() => format!("in {}", over.pictures_said()),
            (Some(over), Some(pieces)) if over.is_sampled() => {
                format!("{pieces}, in {} of each", over.pictures_said())
            }
            (_, Some(pieces)) => pieces,
            (_, None) => "here".to_owned(),
        }
    }

    /// An effect as people find it again: "tint (1)".
    pub(super) fn marked(&self, place: usize) -> String {
        format!("{} ({})", self.orders.labels[place], self.orders.marks.of(place))
    }

    /// "tint (1) under flash-gate (2)", the effect of the lower mark first; `is` stands before "under".
    fn fact_marked(&self, fact: Fact, is: &str) -> String {
        let Fact { before, after } = fact;
        if self.orders.marks.of(before) < self.orders.marks.of(after) {
            format!("{} {is}under {}", self.marked(before), self.marked(after))
        } else {
            format!("{} {is}over {}", self.marked(after), self.marked(before))
        }
    }

    fn facts_said(&self, facts: &[Fact]) -> String {
        facts.iter().map(|&fact| self.fact_marked(fact, "is ")).collect::<Vec<_>>().join(" and ")
    }
}

/// "88 %"; what is less than half a per cent, and not nothing, as "below 1 %".
pub(super) fn percent(share: f64) -> String {
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

fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
