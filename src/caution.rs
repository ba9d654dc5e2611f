//! The caution that is owed wherever flashing is made.

use crate::chain::EffectUse;
use crate::show::Show;

/// The usual caution. It claims nothing about a particular show.
pub const CAUTION: &str = "Caution: this makes flashing light, which can cause seizures in people with photosensitive epilepsy. \
Nothing here certifies it as safe. Warn the audience, keep a blackout control within reach, and follow local rules and licensed practice.";

/// The caution, if an effect that is switched on can flash.
pub fn of_chain(chain: &[EffectUse]) -> Option<&'static str> {
    chain.iter().any(|used| used.on && used.effect.flashes).then_some(CAUTION)
}

/// The caution, if an effect on any scope can flash.
pub fn of_show(show: &Show) -> Option<&'static str> {
    show.scopes().into_iter().find_map(|scope| of_chain(show.chain(scope)))
}
