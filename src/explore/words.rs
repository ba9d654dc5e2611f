//! What an exploration found, in words.

use super::Exploration;
use crate::order::{Explored, LONGEST_IN_FULL, Rule, grouped, orders_said};

impl Exploration {
    /// "120 orders, 54 that can differ, 54 that differ here, 12 looks".
    pub fn summary(&self) -> String {
        let total = match self.orders.proofs.classes.orders_total() {
            Some(1) => {
                return format!("{}: with fewer than two effects there is no other", orders_said(1));
            }
            Some(total) => orders_said(total),
            None => "more than 10^38 orders".to_owned(),
        };
        let can = grouped(self.orders.classes.len() as u128);
        let here = grouped(self.distinct() as u128);
        let looks = match self.looks.representatives.len() {
            1 => "1 look".to_owned(),
            many if self.looks.complete => format!("{many} looks"),
            many => format!("more than {many} looks"),
        };
        let stretch = self.over.as_ref().map_or_else(String::new, |over| format!(" {over}"));
        let place = match (&self.over, &self.pieces) {
            (Some(over), _) if over.is_sampled() => " in those pictures".to_owned(),
            (_, Some(pieces)) => format!(" on {pieces}"),
            (None, None) => " here".to_owned(),
            (Some(_), None) => String::new(),
        };
        match self.orders.proofs.classes.explored() {
            Explored::InFull => {
                format!("{total}, {can} that can differ{stretch}, {here} that differ{place}, {looks}")
            }
            Explored::SingleMoves => format!(
                "{total}; of those one move away from the file's own, {can} can differ{stretch}, {here} differ{place}, {looks}"
            ),
        }
    }

    /// "Which look you get (first match wins)", and in which pictures, where not every frame's was looked at.
    pub fn deciding_said(&self) -> String {
        match &self.over {
            Some(over) if over.is_sampled() => {
                format!("Which look you get in {} (first match wins)", over.pictures_said())
            }
            _ => "Which look you get (first match wins)".to_owned(),
        }
    }

    /// How looks were told apart, in a sentence: on pictures of which size, within what.
    pub fn looks_said(&self) -> String {
        let (from, at) = (self.rendered_at, self.looked_at);
        let pictures = if from == at {
            format!("pictures of {at}")
        } else {
            format!("pictures of {from} shrunk to {at}")
        };
        format!(
            "Two orders are one look below a mean of {} and a 95th percentile of {} (CIEDE2000), on {pictures}.",
            self.limits.mean, self.limits.p95
        )
    }

    /// A look's name, made of what decides it: "mirror before channel-offset".
    pub fn look_name(&self, look: usize) -> String {
        if self.looks.representatives.len() == 1 {
            return "every order".to_owned();
        }
        let facts = &self.rules.names[look];
        if facts.is_empty() {
            // No few facts hold for it alone: its representative stands for it.
            return self.orders.order_said(self.looks.representatives[look]);
        }
        facts.iter().map(|&fact| self.orders.fact_said(fact)).collect::<Vec<_>>().join(", ")
    }

    /// Which look an order has, one rule a line, of which the first that holds counts.
    pub fn rules_said(&self) -> Vec<String> {
        let total = self.orders.classes.len();
        let rule = |(at, rule): (usize, &Rule)| {
            let facts: Vec<String> = rule.when.iter().map(|&fact| self.orders.fact_said(fact)).collect();
            let when = match (at, facts.is_empty()) {
                (0, true) => "every order".to_owned(),
                (_, true) => "otherwise".to_owned(),
                (_, false) => facts.join(" and "),
            };
            let shown = self.orders.code(self.looks.representatives[rule.look]);
            format!("{when}: look {}, such as {shown} ({} of {total})", rule.look + 1, rule.classes)
        };
        let mut lines: Vec<String> = self.rules.list.iter().enumerate().map(rule).collect();
        if self.rules.misses > 0 {
            lines.push(format!(
                "These rules give {} of {} another look than their own.",
                self.rules.misses,
                orders_said(total as u128)
            ));
        }
        lines
    }

    /// Orders of the longest chain explored in full, in words, where this one is longer.
    pub fn limit_said(&self) -> Option<String> {
        (self.orders.proofs.classes.explored() == Explored::SingleMoves).then(|| {
            format!(
                "All orders are explored up to {LONGEST_IN_FULL} effects; this chain has {}, so its own order and every single move are shown.",
                self.orders.labels.len()
            )
        })
    }
}
