//! A long chain: how soon something is known of it, and how soon all is.

use std::sync::Arc;
use std::time::Instant;

use super::Row;
use crate::base::frame::Frame;
use crate::commands::subject::{SubjectOptions, opened};
use crate::explore;
use crate::explore::Orders;
use crate::gpu::{Budget, Want};
use crate::order::{Extent, LookLimits, Sample};
use crate::plan::Path;
use crate::show::chain::EffectUse;
use crate::show::clip::{Fit, FootageName};

pub(super) const CHAIN: [&str; 8] =
    ["tint", "flash-gate", "edge-find", "channel-offset", "mirror", "posterise", "blur", "hue-turn"];
/// Orders of the first sample.
const FIRST: usize = 200;
/// How often it is timed on a GPU; once where it takes a minute.
const RUNS: usize = 3;

/// Eight effects, each time from a renderer that has compiled nothing: when the first families are known, from a sample,
/// and when all is.
pub(super) fn rows(adapter: Option<&str>, budget: Budget) -> anyhow::Result<[Row; 2]> {
    let is_software = opened(adapter)?.is_software();
    let (width, height, runs) = if is_software { (160, 90, 1) } else { (320, 180, RUNS) };
    let frame = Frame { width, height };
    let (mut walls, mut counts) = ([Vec::new(), Vec::new()], [0; 2]);
    let limits = LookLimits::default();
    for _ in 0..runs {
        let started = Instant::now();
        let options =
            SubjectOptions::built_in("all-hands").anew().on(adapter.map(str::to_owned)).at(0.1, frame);
        let mut subject = options.open(frame)?;
        let chain = CHAIN.iter().map(|name| {
            let mut used = EffectUse::new(Arc::clone(subject.catalogue.effect(name)?));
            if let Some(at) = used.effect.settings.iter().position(|setting| setting.name == "strength") {
                used.set_number(at, 0.35)?;
            }
            Ok(used)
        });
        let chain = chain.collect::<anyhow::Result<Vec<EffectUse>>>()?;
        let footage = FootageName::Generated("harbour".to_owned());
        let path = Path::of_chain(&chain, &footage, Fit::Whole, subject.path.moment, &mut subject.shelf)?;
        let renderer = &mut subject.renderer;
        let orders = Orders::of(renderer, &path)?;
        let sample = Some(Sample { orders: FIRST, seed: 0 });
        let first = Orders::proved(orders.proofs.clone(), &chain, &Extent { sample, ..Extent::default() });
        first.rendered(renderer, &path, Want::Figures, budget, |_| {})?.families(renderer)?;
        walls[0].push(started.elapsed().as_secs_f64() * 1e3);
        counts = [orders.classes.len(), orders.tree().passes()];
        orders.explored(renderer, &path, Want::Figures, limits, budget, |_| {})?;
        explore::parts(renderer, &path, limits)?;
        walls[1].push(started.elapsed().as_secs_f64() * 1e3);
    }
    let row = |what: &str, counts, walls| Row::of(format!("8 effects, {what}"), frame, counts, walls);
    let [first, all] = walls;
    Ok([row("first families", [FIRST, 0], first), row("all", counts, all)])
}
