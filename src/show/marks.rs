//! Marks: the numeral that an effect keeps for life, wherever in its chain it stands.

use super::chain::EffectUse;

/// The marks of a chain: what is written on an effect, otherwise its place, from 1. No two are alike.
pub fn of(chain: &[EffectUse]) -> Vec<u32> {
    let mut marks: Vec<Option<u32>> = vec![None; chain.len()];
    let mut take = |at: usize, mark: Option<u32>| {
        if marks[at].is_none() && !marks.contains(&mark) {
            marks[at] = mark;
        }
    };
    chain.iter().enumerate().for_each(|(at, used)| take(at, used.mark));
    (1..).zip(0..chain.len()).for_each(|(mark, at)| take(at, Some(mark)));
    for at in 0..chain.len() {
        if marks[at].is_none() {
            marks[at] = (1..).find(|&mark| !marks.contains(&Some(mark)));
        }
    }
    marks.into_iter().flatten().collect()
}

/// The place of the effect that has a mark.
pub fn place(chain: &[EffectUse], mark: u32) -> Option<usize> {
    of(chain).into_iter().position(|known| known == mark)
}
