//! Runs of effects in one pass give the same bytes as one pass each.

use underover::base::frame::{Frame, PixelMode};
use underover::beat::Moment;
use underover::catalogue::Catalogue;
use underover::footage::Shelf;
use underover::gpu::{Asked, Budget, Fingerprint, Gpu, Renderer};
use underover::order::{Classes, Tree};
use underover::plan::Path;
use underover::show::chain::EffectUse;
use underover::show::clip::{Fit, FootageName};

fn fingerprints(renderer: &mut Renderer, path: &Path, tree: &Tree, fuse_from: u64) -> Vec<Fingerprint> {
    renderer.fuse_from(fuse_from);
    let (finished, _) = renderer.explore(path, tree, &Asked::default(), |_| {}).unwrap();
    finished.into_iter().map(|finished| finished.fingerprint).collect()
}

/// Every order of all built-in effects, four at a time, at settings away from their defaults, over a
/// picture with alpha and one without.
#[test]
fn every_order_of_any_four_effects_is_the_same_fused_and_not() {
    let catalogue = Catalogue::built_in().unwrap();
    let mut renderer = Renderer::new(Gpu::open(None).unwrap());
    let uses: Vec<EffectUse> = catalogue
        .effects()
        .iter()
        .map(|effect| {
            let mut used = EffectUse::new(effect.clone());
            for (at, setting) in effect.settings.iter().enumerate() {
                if setting.name == "amount" || setting.name == "strength" {
                    used.set_number(at, 0.7).unwrap();
                }
            }
            used
        })
        .collect();
    let tree = Tree::of(&Classes::new((0..4).collect(), |_, _| false).all(), |_| false);
    let mut fewer = 0;
    for start in 0..uses.len() {
        let chain: Vec<EffectUse> =
            (0..4).map(|at| uses[(start + at * (1 + start % 2)) % uses.len()].clone()).collect();
        for source in ["harbour", "ship-mark"] {
            let frame = Frame { width: 63, height: 37 };
            let moment = Moment::at(frame, PixelMode::Encoded8Bit, 120.0, 0.1);
            let mut shelf = Shelf::new(&catalogue);
            let footage = FootageName::Generated(source.to_owned());
            let path = Path::of_chain(&chain, &footage, Fit::Whole, moment, &mut shelf).unwrap();
            let alone = fingerprints(&mut renderer, &path, &tree, u64::MAX);
            let fused = fingerprints(&mut renderer, &path, &tree, 0);
            assert_eq!(
                alone,
                fused,
                "{:?} over {source}",
                chain.iter().map(|u| &u.effect.name).collect::<Vec<_>>()
            );
            let mut distinct = alone.clone();
            distinct.sort_unstable();
            distinct.dedup();
            fewer += usize::from(distinct.len() > 1);
        }
    }
    // Were every picture the same, equality would say nothing.
    assert!(fewer > uses.len(), "only {fewer} explorations gave different pictures");
}

/// Texture arrays are cleared before their first use, which takes longer than to fill them.
#[test]
fn moments_explored_one_after_another_make_their_texture_arrays_once() {
    let catalogue = Catalogue::built_in().unwrap();
    let mut renderer = Renderer::new(Gpu::open(None).unwrap());
    let uses: Vec<EffectUse> =
        catalogue.effects().iter().take(4).map(|effect| EffectUse::new(effect.clone())).collect();
    let tree = Tree::of(&Classes::new((0..4).collect(), |_, _| false).all(), |_| false);
    let footage = FootageName::Generated("waves".to_owned());
    let frame = Frame { width: 128, height: 96 };
    let mut shelf = Shelf::new(&catalogue);
    let mut galleries = Vec::new();
    let mut made = Vec::new();
    for beats in [0.1, 0.2, 0.3, 0.4] {
        let moment = Moment::at(frame, PixelMode::Encoded8Bit, 120.0, beats);
        let path = Path::of_chain(&uses, &footage, Fit::Whole, moment, &mut shelf).unwrap();
        // So little that what 64 partial chains take together is hardly within it.
        let budget = Budget { mib: 3 };
        let gallery = Some(Frame { width: 32, height: 24 });
        let asked = Asked { gallery, budget, ..Asked::default() };
        let before = renderer.arrays_made();
        galleries.push(renderer.explore(&path, &tree, &asked, |_| {}).unwrap().1);
        made.push(renderer.arrays_made() - before);
    }
    assert!(made[0] > 1, "{made:?}");
    assert_eq!(made[2..], [1, 1], "the gallery alone, which is kept: {made:?}");
}
