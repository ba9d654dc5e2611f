//! The caution that is owed wherever flashing is made.

use crate::show::Show;
use crate::show::automation::Automation;
use crate::show::chain::EffectUse;

/// The usual caution. It claims nothing about a particular show.
pub const CAUTION: &str = "Caution: this makes flashing light, which can cause seizures in people with photosensitive epilepsy. \
Nothing here certifies it as safe. Warn the audience, keep a blackout control within reach, and follow local rules and licensed practice.";

/// What counting flashes is not.
pub const NO_CERTIFICATE: &str = "\
This is no certified test: it counts what the published definitions say, on the rendered picture, and a \
projector's brightness, haze and the room change what reaches the eye. People with photosensitive \
epilepsy are at risk below these limits too. Follow local rules, the venue's practice and licensed \
advice, warn the audience, and keep a blackout control within reach.";

/// The caution, if an effect that is switched on, or that a control may switch on, can flash, or is made to by a setting
/// that jumps with the beat.
pub fn of_chain(chain: &[EffectUse]) -> Option<&'static str> {
    let may_be_on = |used: &EffectUse| used.on || used.switch_grip().is_some();
    chain.iter().any(|used| may_be_on(used) && (used.effect.flashes || jumps(used))).then_some(CAUTION)
}

/// Whether a setting jumps with the beat.
pub(crate) fn jumps(used: &EffectUse) -> bool {
    (0..used.effect.settings.len()).filter_map(|place| used.automation(place)).any(Automation::jumps)
}

/// The caution, if an effect on any scope can flash.
pub fn of_show(show: &Show) -> Option<&'static str> {
    show.scopes().into_iter().find_map(|scope| of_chain(show.chain(scope)))
}
