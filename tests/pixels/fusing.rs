//! Runs of effects in one pass give the same bytes as one pass each, and so do pictures that are finished without being
//! stored.

use std::collections::HashSet;

use underover::base::frame::{Frame, PixelMode};
use underover::beat::Moment;
use underover::catalogue::Catalogue;
use underover::footage::Shelf;
use underover::gpu::{Asked, Budget, Fingerprint, Gpu, Renderer, Want};
use underover::order::{Class, Classes, Tree};
use underover::plan::Path;
use underover::plan::sharing::Sharing;
use underover::show::chain::EffectUse;
use underover::show::clip::{Fit, FootageName};

fn fingerprints(
    renderer: &mut Renderer,
    path: &Path,
    tree: &Tree,
    (sharing, mixing): (Sharing, bool),
) -> Vec<Fingerprint> {
    renderer.share(sharing);
    renderer.mix(mixing);
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
            let alone = fingerprints(&mut renderer, &path, &tree, (Sharing::Never, false));
            // Many effects in one dispatch, as on a GPU, at every fifth.
            for mixing in [false, true].into_iter().take(1 + usize::from(start % 5 == 0)) {
                let fused = fingerprints(&mut renderer, &path, &tree, (Sharing::Always, mixing));
                let names = chain.iter().map(|used| &used.effect.name).collect::<Vec<_>>();
                assert_eq!(alone, fused, "{names:?} over {source}, {mixing}");
            }
            let mut distinct = alone.clone();
            distinct.sort_unstable();
            distinct.dedup();
            fewer += usize::from(distinct.len() > 1);
        }
    }
    // Were every picture the same, equality would say nothing.
    assert!(fewer > uses.len(), "only {fewer} explorations gave different pictures");
}

/// The fingerprint of a picture that is stored, and of one that is not, in both pixel modes; a chain that is a part of
/// another is stored, as others go on from it.
#[test]
fn pictures_finished_in_passing_have_the_fingerprints_of_those_that_are_stored() {
    let catalogue = Catalogue::built_in().unwrap();
    let mut renderer = Renderer::new(Gpu::open(None).unwrap());
    let uses = ["tint", "edge-find", "channel-offset", "trails"].map(|name| {
        EffectUse::new(catalogue.effects().iter().find(|effect| effect.name == name).unwrap().clone())
    });
    let mut orders = Classes::new((0..4).collect(), |_, _| false).all();
    orders.push(Class { order: vec![1, 0] });
    let tree = Tree::of(&orders, |_| false);
    for pixels in PixelMode::ALL {
        let footage = FootageName::Generated("ship-mark".to_owned());
        let moment = Moment::at(Frame { width: 67, height: 35 }, pixels, 120.0, 0.0);
        let mut shelf = Shelf::new(&catalogue);
        let path = Path::of_chain(&uses, &footage, Fit::Whole, moment, &mut shelf).unwrap();
        let stored = fingerprints(&mut renderer, &path, &tree, (Sharing::Never, false));
        for way in [(Sharing::Always, false), (Sharing::Always, true), (Sharing::Never, true)] {
            assert_eq!(stored, fingerprints(&mut renderer, &path, &tree, way), "{pixels:?}, {way:?}");
        }
        // Of whole pictures, which are stored whatever is asked.
        let want = Want::Tiles { size: moment.frame, most: usize::MAX };
        let (whole, _) = renderer.explore(&path, &tree, &Asked { want, ..Asked::default() }, |_| {}).unwrap();
        assert_eq!(stored, whole.iter().map(|whole| whole.fingerprint).collect::<Vec<_>>(), "{pixels:?}");
        assert!(stored.iter().collect::<HashSet<_>>().len() > 4, "{pixels:?}: hardly any picture differs");
    }
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
