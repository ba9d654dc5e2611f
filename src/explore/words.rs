//! What an exploration found, in words.

use super::{Exploration, Orders};
use crate::order::{Rule, grouped, orders_said};

impl Exploration {
    /// "120 orders, 54 that can differ, 54 that differ here, 12 looks".
    pub fn summary(&self) -> String {
        let total = match self.orders.tally.orders_total() {
            Some(1) if self.orders.labels.len() < 2 => {
                return format!("{}: with fewer than two effects there is no other", orders_said(1));
            }
            total => total_said(total),
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
        let kept = self.orders.kept_said().map_or_else(String::new, |kept| format!(" that keep {kept}"));
        match self.orders.tally.sample() {
            None => {
                format!("{total}{kept}, {can} that can differ{stretch}, {here} that differ{place}, {looks}")
            }
            Some(sample) => format!(
                "{total}{kept}; sampled: of {} drawn at random {can} can differ{stretch}, {here} differ{place}, {looks}",
                grouped(sample.orders as u128)
            ),
        }
    }

    /// "Which look you get (first match wins)", and in which pictures, where not every frame's was looked at.
    pub fn deciding_said(&self) -> String {
        let among = self.orders.tally.sample().map_or("", |_| " among the orders drawn");
        match &self.over {
            Some(over) if over.is_sampled() => {
                format!("Which look you get{among} in {} (first match wins)", over.pictures_said())
            }
            _ => format!("Which look you get{among} (first match wins)"),
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
}

impl Orders {
    /// What has to be known of figures from orders drawn at random, where these were: "Sampled: 1,000 of 3,628,800 orders,
    /// each as likely as any other (seed 0); ± is one standard error."
    pub fn sampled_said(&self) -> Option<String> {
        let sample = self.tally.sample()?;
        let (drawn, total) = (grouped(sample.orders as u128), total_said(self.tally.orders_total()));
        let seed = sample.seed;
        Some(format!(
            "Sampled: {drawn} of {total}, each as likely as any other (seed {seed}); ± is one standard error."
        ))
    }

    /// What is pinned: "tint (1) and mirror (5) in their places".
    pub fn kept_said(&self) -> Option<String> {
        let marked = |&place: &usize| format!("{} ({})", self.labels[place], self.marks.of(place));
        match self.tally.pinned() {
            [] => None,
            [one] => Some(format!("{} in its place", marked(one))),
            few if few.len() <= MOST_NAMED => {
                let names: Vec<String> = few.iter().map(marked).collect();
                let (last, others) = names.split_last()?;
                Some(format!("{} and {last} in their places", others.join(", ")))
            }
            many => Some(format!("{} effects in their places", many.len())),
        }
    }
}

/// Effects that are named one by one.
const MOST_NAMED: usize = 4;

/// "3,628,800 orders", of as many as can be counted.
pub fn total_said(total: Option<u128>) -> String {
    total.map_or_else(|| "more than 10^38 orders".to_owned(), orders_said)
}
