//! The pairs of a chain as a triangle: what each is, as large as what hangs on it, to be pressed; and as a list.

use std::fmt::Write as _;

use super::Recorded;
use crate::drawing::markup::escaped;
use crate::explore::Exploration;
use crate::explore::matters::{FactWords, percent_within};
use crate::explore::swaps::{Answer, Swap};
use crate::order::marks;

/// Half the side of a field, in which marks are drawn, and of the least mark: its form can still be told.
const HALF: f64 = 50.0;
const LEAST: f64 = 9.0;
/// A mark without room for its sign is told by its form.
const LEAST_WITH_SIGN: f64 = 20.0;

/// A pair as it is told.
#[derive(Debug, Clone)]
pub(super) struct PairTold {
    lower: usize,
    upper: usize,
    form: Form,
    /// How much of what order does hangs on it, 0 to 1; nothing where that is not known or can be nothing.
    hangs: Option<f64>,
    /// What it decides by itself.
    alone: Option<String>,
    /// All that is known of it, in sentences.
    said: String,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Form {
    Always,
    Here,
    Differs,
    HardlyShows,
}

/// What is told of each pair; its share where orders were explored.
pub(super) fn pairs_told(swaps: &[Swap], explored: Option<&Exploration>) -> Vec<PairTold> {
    let families = explored.and_then(Exploration::told_families);
    let told = swaps.iter().map(|swap| {
        let (lower, upper) = (swap.pair.lower, swap.pair.upper);
        let (form, answer) = match &swap.answer {
            Answer::Always => (Form::Always, "Always the same picture".to_owned()),
            Answer::Here => (Form::Here, "The same picture here, though it need not be".to_owned()),
            Answer::Differs(difference) if difference.hardly_shows() => {
                (Form::HardlyShows, format!("Another picture, but it {}", difference.in_short()))
            }
            Answer::Differs(difference) => {
                (Form::Differs, format!("Another picture, {}", difference.in_short()))
            }
        };
        let mut said = format!("{answer}: {}.", swap.because.trim_end_matches('.'));
        let words = explored
            .map(|explored| FactWords { labels: &explored.orders.labels, marks: &explored.orders.marks });
        let hangs = families.and_then(|families| words?.hangs(families, (lower, upper)));
        hangs.iter().for_each(|hangs| said += &format!(" {hangs}"));
        let is_pair = |before, after| [(lower, upper), (upper, lower)].contains(&(before, after));
        let alone = families.and_then(|families| {
            let mut shares = families.facts.iter().filter(|share| !share.commutes);
            shares.find(|share| is_pair(share.fact.before, share.fact.after))
        });
        PairTold {
            lower,
            upper,
            form,
            hangs: families.and_then(|families| families.hangs_on(lower, upper)),
            alone: alone.map(|share| percent_within(share.share, share.error)),
            said,
        }
    });
    told.collect()
}

impl PairTold {
    /// A ring with =, a half disc, a square with a sign, empty where it hardly shows: told apart without colour, and as
    /// large as its share by its area.
    fn mark(&self) -> String {
        let (radius, most) = match self.hangs {
            Some(hangs) => ((46.0 * hangs.clamp(0.0, 1.0).sqrt()).max(LEAST), 46.0),
            None => (36.0, 36.0),
        };
        let (sign, shape) = match self.form {
            Form::Always => ("=", format!("<circle r=\"{radius:.1}\"/>")),
            Form::Here => {
                let half = format!(
                    "<path class=\"full\" d=\"M-{radius:.1} 0A{radius:.1} {radius:.1} 0 0 0 {radius:.1} 0Z\"/>"
                );
                ("\u{2248}", format!("<circle r=\"{radius:.1}\"/>{half}"))
            }
            Form::Differs | Form::HardlyShows => {
                let (half, full) =
                    (radius * 0.95, if self.form == Form::Differs { " class=\"full\"" } else { "" });
                let (at, side) = (-half, 2.0 * half);
                (
                    "\u{2260}",
                    format!(
                        "<rect{full} x=\"{at:.1}\" y=\"{at:.1}\" width=\"{side:.1}\" height=\"{side:.1}\" rx=\"3\"/>"
                    ),
                )
            }
        };
        let sign = if radius >= LEAST_WITH_SIGN.min(most) {
            format!("<text y=\"{:.1}\" font-size=\"{:.1}\">{sign}</text>", radius * 0.3, radius)
        } else {
            String::new()
        };
        let side = 2.0 * HALF;
        format!("<svg viewBox=\"-{HALF} -{HALF} {side} {side}\" aria-hidden=\"true\">{shape}{sign}</svg>")
    }
}

/// The triangle and the list beneath it; nothing of a chain whose pairs are not known. `of` stands behind every id.
pub(super) fn triangle(recorded: &Recorded, of: &str) -> String {
    if recorded.pairs.is_empty() {
        return String::new();
    }
    let marks = marks(&recorded.chain);
    let effects = recorded.chain.len();
    let named = |place: usize| {
        let mark = marks.of(place);
        format!("<span class=\"chip mark-{mark}\">{mark}</span> {}", escaped(&recorded.labels[place]))
    };
    let mut fields = String::new();
    for upper in 0..effects {
        for pair in recorded.pairs.iter().filter(|pair| pair.upper == upper) {
            let _ = write!(
                fields,
                "<button type=\"button\" style=\"grid-area: {} / {}\" data-pair=\"{} {upper}\" data-said=\"{}\">{}</button>",
                upper + 1,
                pair.lower + 1,
                pair.lower,
                escaped(&pair.said),
                pair.mark()
            );
        }
        let _ = writeln!(
            fields,
            "<span aria-hidden=\"true\" style=\"grid-area: {} / {} / auto / -1\">{}</span>",
            upper + 1,
            upper + 1,
            named(upper)
        );
    }
    let mut listed: Vec<&PairTold> = recorded.pairs.iter().collect();
    listed.sort_by(|a, b| b.hangs.unwrap_or(-1.0).total_cmp(&a.hangs.unwrap_or(-1.0)));
    let mut list = String::new();
    for pair in listed {
        let answer = match (&pair.alone, pair.form) {
            (_, Form::Always) => "always the same".to_owned(),
            (_, Form::Here) => "the same here".to_owned(),
            (Some(alone), _) => format!("decides {alone} by itself"),
            (None, Form::HardlyShows) => "hardly shows".to_owned(),
            (None, Form::Differs) => "differs".to_owned(),
        };
        let _ = writeln!(list, "<li>{} and {}: {answer}</li>", named(pair.lower), named(pair.upper));
    }
    format!(
        "<details class=\"of-pairs\" open><summary>Pair by pair</summary>\n\
         <div class=\"when-live\"><p class=\"quiet\">A press turns a pair round. A square differs (empty: hardly), a ring is \
         always the same, a half disc the same here; the larger, the more of all that order does here hangs on it.</p>\n\
         <div class=\"triangle\" id=\"pairs{of}\" role=\"group\" aria-label=\"Pairs: arrow keys go from one to the next\" \
         style=\"--fields: {}\">\n{fields}</div>\n<p class=\"quiet pair-said\" id=\"pair-said{of}\" aria-hidden=\"true\"></p></div>\n\
         <ul class=\"pairs when-still\">\n{list}</ul></details>\n",
        effects - 1
    )
}
