//! Which orders of a chain a command looks at.

use clap::Args;

use super::named_order::effect_named;
use super::output::whole;
use super::{WrongWords, note};
use crate::base::place::{listed, shortened};
use crate::explore::Orders;
use crate::explore::words::total_said;
use crate::gpu::GpuError;
use crate::order::{Extent, LONGEST_IN_FULL, Sample, Tally, grouped};
use crate::show::chain::{EffectUse, labels};

/// Orders that are drawn at the least, and at the most.
const LEAST_DRAWN: usize = 20;
const MOST_DRAWN: usize = 20_000;

/// Which orders are looked at.
#[derive(Debug, Default, Args)]
pub(super) struct ExtentOptions {
    /// Look at N orders drawn at random, each as likely as any other: shares then have a standard error. Without it every
    /// order of up to 8 effects is looked at, and 1000 drawn ones of more
    #[arg(long, value_name = "N", value_parser = |text: &str| whole(text, LEAST_DRAWN, MOST_DRAWN))]
    sample: Option<usize>,
    /// Which orders are drawn: the same seed draws the same ones, and a small sample is the beginning of a larger one
    /// [default: 0]
    #[arg(long, value_name = "S")]
    seed: Option<u64>,
    /// Pin these effects and vary the others (marks or names, set apart by commas): each pinned effect keeps its place in the
    /// chain, the first stays the first, the third the third, and the others take the places left in every order. Every
    /// order is looked at where up to 8 effects vary
    #[arg(long, value_name = "EFFECTS")]
    pin: Option<String>,
}

impl ExtentOptions {
    /// Which orders of this chain are meant.
    pub(super) fn of(&self, chain: &[EffectUse]) -> Result<Extent, WrongWords> {
        let pinned = self.pinned(chain)?;
        let varying = chain.len() - pinned.len();
        if let Some(seed) = self.seed.filter(|_| self.sample.is_none() && varying <= LONGEST_IN_FULL) {
            return Err(WrongWords(format!(
                "--seed {seed}: no order is drawn at random, as every order of up to {LONGEST_IN_FULL} effects is looked at; add --sample N, or leave it out"
            )));
        }
        let is_drawn = self.sample.is_some() || varying > LONGEST_IN_FULL;
        let default = Sample::default();
        let sample = is_drawn.then(|| Sample {
            orders: self.sample.unwrap_or(default.orders),
            seed: self.seed.unwrap_or(default.seed),
        });
        Ok(Extent { pinned, sample, ..Extent::default() })
    }

    /// Says so where there are no more orders than should have been drawn.
    pub(super) fn tell(&self, tally: &Tally) {
        if let (Some(wanted), None) = (self.sample, tally.sample()) {
            note(&format!(
                "note: --sample {wanted}: {} in all, so every one is looked at",
                total_said(tally.orders_total())
            ));
        }
    }

    fn pinned(&self, chain: &[EffectUse]) -> Result<Vec<usize>, WrongWords> {
        let Some(written) = &self.pin else { return Ok(Vec::new()) };
        let wrong = |message: String| WrongWords(format!("--pin {}: {message}", shortened(written)));
        let labels = labels(chain);
        let mut pinned = Vec::new();
        for word in written.split(',').map(str::trim) {
            if word.is_empty() {
                return Err(wrong(
                    "marks or names of effects are wanted, set apart by commas, such as 1,2".to_owned(),
                ));
            }
            let place = effect_named(word, chain).map_err(wrong)?;
            if pinned.contains(&place) {
                return Err(wrong(format!("`{}` is named twice", labels[place])));
            }
            pinned.push(place);
        }
        let left: Vec<&str> =
            (0..chain.len()).filter(|at| !pinned.contains(at)).map(|at| &labels[at][..]).collect();
        match left.len() {
            0 => Err(wrong(
                "every effect is pinned, so there is no other order; leave at least two to vary".to_owned(),
            )),
            1 => Err(wrong(format!(
                "only {} is left to vary, so there is no other order; leave at least two to vary",
                listed(left)
            ))),
            _ => Ok(pinned),
        }
    }
}

/// What a first sample tells, for standard error.
pub(super) fn first_said(
    tally: &Tally,
    (decided, questions): (String, Vec<String>),
    goes_on: &str,
) -> String {
    let drawn = tally.sample().map_or(0, |sample| sample.orders);
    let total = total_said(tally.orders_total());
    let mut said = format!("From a sample of {} of {total}: {}", grouped(drawn as u128), lowered(&decided));
    for question in questions {
        said += &format!("\n  {question}");
    }
    format!("{said}\nNow {goes_on} looked at; Ctrl-C keeps to the sample.")
}

/// "every order is", of those that are looked at after a first sample.
pub(super) fn going_on(orders: &Orders) -> &'static str {
    if orders.tally.sample().is_some() { "the whole sample is" } else { "every order is" }
}

/// Whether it was asked to stop before all was looked at.
pub(super) fn is_stopped(error: &anyhow::Error) -> bool {
    matches!(error.downcast_ref(), Some(GpuError::Stopped))
}

/// A sentence as it goes on after a colon.
fn lowered(sentence: &str) -> String {
    let mut letters = sentence.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}
