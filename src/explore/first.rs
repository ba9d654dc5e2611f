//! A first answer from a sample, where looking at all orders takes long.

use super::Orders;
use crate::gpu::Renderer;
use crate::order::{Extent, Sample};

/// Orders of a first sample: as many as take about so many seconds, so long as they tell something.
const SECS: u64 = 3;
const LEAST: usize = 60;
const MOST: usize = 200;

/// A first sample is looked at where all orders take longer than this, and are so many times as many.
const LONG_SECS: u64 = 4;
const MANY: usize = 4;

impl Orders {
    /// The sample from which a first answer comes, where looking at these orders takes long; `texels` are those of one
    /// picture, on all pieces and moments together.
    pub fn first_sample(&self, renderer: &Renderer, texels: u64) -> Option<Extent> {
        let a_second = renderer.texels_a_second();
        let orders = sample_of(SECS * a_second, self.labels.len(), texels, LEAST, MOST);
        let work = self.tree().passes() as u64 * texels;
        let is_worth_it = work > LONG_SECS * a_second && self.classes.len() >= MANY * orders;
        let seed = self.tally.sample().unwrap_or_default().seed;
        is_worth_it.then(|| Extent {
            pinned: self.tally.pinned().to_vec(),
            sample: Some(Sample { orders, seed }),
            ..Extent::default()
        })
    }
}

/// How many orders of so many effects `work` texels make, from `least` to `most`.
pub fn sample_of(work: u64, effects: usize, texels: u64, least: usize, most: usize) -> usize {
    let each = (texels * effects as u64).max(1);
    usize::try_from(work / each).unwrap_or(most).clamp(least, most)
}
