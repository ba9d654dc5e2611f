//! An order of a chain as a command line names it.

use super::WrongWords;
use crate::base::place::{did_you_mean, listed, shortened};
use crate::order::{Marks, marks};
use crate::show::chain::{EffectUse, labels};

/// Reads an order of a chain, each effect once: its code (21534), or marks or names set apart by commas.
pub(super) fn order_named(
    option: &str,
    written: &str,
    chain: &[EffectUse],
) -> Result<Vec<usize>, WrongWords> {
    let (labels, marks) = (labels(chain), marks(chain));
    let wrong = |message: String| WrongWords(format!("{option} {}: {message}", shortened(written)));
    let words = || written.split(',').map(str::trim).filter(|word| !word.is_empty());
    let is_code = |word: &str| word.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.');
    if !written.contains(',') && is_code(written.trim()) && !labels.iter().any(|label| label == written) {
        return marks.order(written).map_err(|error| wrong(error.to_string()));
    }
    let mut order = Vec::with_capacity(chain.len());
    for word in words() {
        let place = effect_named(word, chain).map_err(|what| {
            wrong(if written.contains(',') { what } else { format!("{what}; {}", marks.wanted()) })
        })?;
        if order.contains(&place) {
            return Err(wrong(format!("`{}` is named twice; each effect is applied once", labels[place])));
        }
        order.push(place);
    }
    let missing: Vec<&str> =
        (0..chain.len()).filter(|place| !order.contains(place)).map(|place| labels[place].as_str()).collect();
    if missing.is_empty() {
        return Ok(order);
    }
    let verb = if missing.len() == 1 { "is" } else { "are" };
    Err(wrong(format!("{} {verb} missing; an order names every effect once", listed(missing))))
}

/// The place of the effect that a word names: what it is called, its own name where only one has it, or its mark.
///
/// # Errors
/// Why it names none.
pub(super) fn effect_named(word: &str, chain: &[EffectUse]) -> Result<usize, String> {
    let (labels, marks) = (labels(chain), marks(chain));
    let by_mark = || word.parse().ok().and_then(|mark| marks.place(mark));
    let by_name = labels.iter().position(|label| label == word).or_else(|| only_named(word, chain));
    by_name.or_else(by_mark).ok_or_else(|| not_in_chain(word, chain, &labels, &marks))
}

/// The one effect whose own name this is, whatever the person calls it.
fn only_named(word: &str, chain: &[EffectUse]) -> Option<usize> {
    let mut named = (0..chain.len()).filter(|&at| chain[at].effect.name == word);
    named.next().filter(|_| named.next().is_none())
}

/// Why a word names no effect of the chain.
fn not_in_chain(word: &str, chain: &[EffectUse], labels: &[String], marks: &Marks) -> String {
    let mark = |at: usize| marks.of(at).to_string();
    let twins: Vec<String> = (0..chain.len()).filter(|&at| chain[at].effect.name == word).map(mark).collect();
    if !twins.is_empty() {
        return format!("`{word}` has the marks {}; name it by its mark", twins.join(" and "));
    }
    let word = shortened(word);
    if chain.is_empty() {
        return format!("there is no `{word}`: the chain has no effect; leave it out");
    }
    let known: Vec<String> = (0..chain.len()).map(|at| format!("{} {}", mark(at), labels[at])).collect();
    format!(
        "the chain has no effect `{word}`{} (it has {})",
        did_you_mean(&word, labels.iter().map(String::as_str)),
        known.join(", ")
    )
}
