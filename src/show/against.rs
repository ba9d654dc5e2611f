//! How a show stands against how it stood before, in words.

use super::chain::labels;
use super::{Scope, Show};

impl Show {
    /// What stands otherwise than in `before`, the same show at another time, in words, one thing each: "picture/sea: waves →
    /// dusk", "signs/mark hidden".
    ///
    /// Bundles, levels and clips are those of `before`; chains may be others.
    pub fn told_against(&self, before: &Self) -> Vec<String> {
        let mut told = Vec::new();
        for (b, bundle) in self.bundles.iter().enumerate() {
            let Some(was) = before.bundles.get(b) else { continue };
            let scope = Scope::Bundle(b);
            told.extend(hidden_said(&bundle.name, [was.hidden, bundle.hidden]));
            told.extend(opacity_said(&bundle.name, [was.mix.opacity, bundle.mix.opacity]));
            self.tell_chain(before, scope, &mut told);
            for (l, level) in bundle.levels.iter().enumerate() {
                let Some(was) = was.levels.get(l) else { continue };
                let name = format!("{}/{}", bundle.name, level.name);
                let shown = |level: &super::Level| {
                    let clip = level.clips.get(level.showing)?;
                    (!level.hidden && !clip.hidden).then(|| clip.name.clone())
                };
                match [shown(was), shown(level)] {
                    [was, now] if was == now => {}
                    [Some(was), Some(now)] => told.push(format!("{name}: {was} → {now}")),
                    [None, Some(now)] => told.push(format!("{name}: {now} comes")),
                    [_, None] => told.push(format!("{name} hidden")),
                }
                told.extend(opacity_said(&name, [was.mix.opacity, level.mix.opacity]));
                self.tell_chain(before, Scope::Level(b, l), &mut told);
                for c in 0..level.clips.len().min(was.clips.len()) {
                    self.tell_chain(before, Scope::Clip(b, l, c), &mut told);
                }
            }
        }
        self.tell_chain(before, Scope::Global, &mut told);
        told
    }

    /// What is otherwise on the chain of a scope.
    fn tell_chain(&self, before: &Self, scope: Scope, told: &mut Vec<String>) {
        let (chain, was) = (self.chain(scope), before.chain(scope));
        if chain == was {
            return;
        }
        let address = self.address(scope);
        let [names, old] = [labels(chain), labels(was)];
        if names != old {
            let names = if names.is_empty() { "no effects".to_owned() } else { names.join(", ") };
            return told.push(format!("{address}: {names}"));
        }
        for ((used, was), name) in chain.iter().zip(was).zip(names) {
            if used.on != was.on {
                told.push(format!("{name} {} on {address}", if used.on { "on" } else { "off" }));
            }
            let values = used.values().zip(was.values()).zip(&used.effect.settings);
            for ((now, was), setting) in values.filter(|((now, was), _)| now != was) {
                let [was, now] = [was, now].map(|value| setting.kind.said(value));
                told.push(format!("{name} {}: {was} → {now} on {address}", setting.label));
            }
        }
    }
}

fn hidden_said(name: &str, hidden: [bool; 2]) -> Option<String> {
    match hidden {
        [false, true] => Some(format!("{name} hidden")),
        [true, false] => Some(format!("{name} comes")),
        _ => None,
    }
}

fn opacity_said(name: &str, [was, now]: [f64; 2]) -> Option<String> {
    let per_cent = |share: f64| (share * 1000.0).round() / 10.0;
    (was != now).then(|| format!("{name} at {} → {} %", per_cent(was), per_cent(now)))
}
