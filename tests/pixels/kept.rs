//! What was rendered before is looked up for as long as nothing that it hangs on has changed, and is the same to the byte.

use std::fs;
use std::path::{Path as FilePath, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use tempfile::TempDir;
use underover::base::cache::Caches;
use underover::base::frame::{Frame, PixelMode};
use underover::base::picture::Picture;
use underover::catalogue::Effect;
use underover::gpu::{Against, Asked, Fingerprint, Gpu, Measured, Renderer, Want};
use underover::measure::Difference;
use underover::order::{Class, Classes, Tree};
use underover::plan::Path;
use underover::show::chain::EffectUse;

use crate::common::{Alpha, Set, moment, path, scattered, used};

const FRAME: Frame = Frame { width: 48, height: 27 };

/// One that keeps everything in a folder, and one that keeps nothing.
fn renderers(folder: &FilePath) -> [Renderer; 2] {
    let caches = Caches { worth: Duration::ZERO, ..Caches::in_folder(folder) };
    [Some(caches), None].map(|caches| Renderer::new(Gpu::open(None).unwrap().keeping(caches)))
}

fn chain() -> Vec<EffectUse> {
    let amount = ("amount", Set::To(0.7));
    vec![used("tint", &[amount]), used("mirror", &[]), used("edge-find", &[amount])]
}

fn tree(effects: usize) -> Tree {
    Tree::of(&Classes::new((0..effects).collect(), |_, _| false).all(), |_| false)
}

fn asked<'a>(against: &'a [usize], most: usize) -> Asked<'a> {
    let size = Frame { width: 24, height: 13 };
    let want = if most > 0 { Want::Tiles { size, most } } else { Want::Figures };
    Asked { want, against: Some(Against::Order(against)), gallery: Some(size), ..Asked::default() }
}

fn files(folder: &TempDir) -> Vec<PathBuf> {
    let Ok(entries) = fs::read_dir(folder.path().join("rendered")) else { return Vec::new() };
    entries.map(|entry| entry.unwrap().path()).collect()
}

/// What was found of each class, and the pictures of the gallery.
type Told = (Vec<(Fingerprint, Option<Difference>, Option<Picture>)>, Option<Vec<Picture>>);

/// All of an exploration, read by the renderer that made it.
fn told(renderer: &mut Renderer, (finished, gallery): &Measured) -> Told {
    let hung = gallery.as_ref().map(|gallery| renderer.hung(gallery, 0..finished.len()).unwrap());
    (finished.iter().map(|one| (one.fingerprint, one.difference, one.picture.clone())).collect(), hung)
}

/// Whether an exploration is looked up: told by whether anything is kept of it anew.
fn is_known(folder: &TempDir, renderer: &mut Renderer, path: &Path, tree: &Tree, asked: &Asked<'_>) -> bool {
    let before = files(folder).len();
    renderer.explore(path, tree, asked, |_| {}).unwrap();
    files(folder).len() == before
}

#[test]
fn an_exploration_that_is_looked_up_is_the_same_to_the_byte() {
    let folder = tempfile::tempdir().unwrap();
    let [mut keeping, mut anew] = renderers(folder.path());
    let own = [0, 1, 2];
    for (alpha, pixels) in [(Alpha::Mixed, PixelMode::Encoded8Bit), (Alpha::Full, PixelMode::LinearFloat)] {
        let path = path(&scattered(48, 27, alpha, 3), &chain(), moment(FRAME, pixels, 0.1));
        for most in [0, 4, usize::MAX] {
            let asked = asked(&own, most);
            let rendered = anew.explore(&path, &tree(3), &asked, |_| {}).unwrap();
            assert!(!is_known(&folder, &mut keeping, &path, &tree(3), &asked));
            let mut steps = Vec::new();
            let known = keeping.explore(&path, &tree(3), &asked, |done| steps.push(done)).unwrap();
            assert_eq!(steps, [6]);
            assert_eq!(told(&mut keeping, &known), told(&mut anew, &rendered));
            // A gallery that was hung again is measured as the first one was.
            let apart = |renderer: &mut Renderer, (_, gallery): &Measured| {
                renderer.apart(gallery.as_ref().unwrap(), 0, &[1, 2, 3, 4, 5]).unwrap()
            };
            assert_eq!(apart(&mut keeping, &known), apart(&mut anew, &rendered));
        }
        let others = [vec![0, 2], vec![1, 0, 2], vec![2]];
        let apart = anew.orders_apart(&path, &own, &others, |_| {}).unwrap();
        let before = files(&folder).len();
        for _ in 0..2 {
            assert_eq!(keeping.orders_apart(&path, &own, &others, |_| {}).unwrap(), apart);
            assert_eq!(files(&folder).len(), before + 1);
        }
    }
}

#[test]
fn a_changed_byte_anywhere_is_rendered_anew() {
    let folder = tempfile::tempdir().unwrap();
    let [mut keeping, _] = renderers(folder.path());
    let own = [0, 1, 2];
    let now = moment(FRAME, PixelMode::Encoded8Bit, 0.1);
    let footage = scattered(48, 27, Alpha::Full, 3);
    let as_it_is = path(&footage, &chain(), now);
    let (tree, asked) = (tree(3), asked(&own, 2));
    assert!(!is_known(&folder, &mut keeping, &as_it_is, &tree, &asked));
    assert!(is_known(&folder, &mut keeping, &as_it_is, &tree, &asked));

    let mut byte = footage.clone();
    byte.rgba[48 * 4 * 13 + 1] ^= 1;
    let mut setting = chain();
    setting[2] = used("edge-find", &[("amount", Set::To(0.700_001))]);
    // The same but for a comment.
    let mut code = chain();
    let text = format!("{}\n// quay\n", code[0].effect.source);
    code[0] = EffectUse::new(Arc::new(Effect::read("tint", "tint.wgsl", &text).unwrap()));
    let mut off = chain();
    off[1].on = false;
    let later = moment(FRAME, PixelMode::Encoded8Bit, 0.2);
    let held = moment(FRAME, PixelMode::LinearFloat, 0.1);
    for (what, path) in [
        ("a byte of the footage", path(&byte, &chain(), now)),
        ("a setting", path(&footage, &setting, now)),
        ("the text of an effect", path(&footage, &code, now)),
        ("an effect that is off", path(&footage, &off, now)),
        ("the moment", path(&footage, &chain(), later)),
        ("how pictures are held", path(&footage, &chain(), held)),
        (
            "the size",
            path(
                &scattered(50, 27, Alpha::Full, 3),
                &chain(),
                moment(Frame { width: 50, ..FRAME }, now.pixels, 0.1),
            ),
        ),
    ] {
        assert!(!is_known(&folder, &mut keeping, &path, &tree, &asked), "{what}");
        assert!(is_known(&folder, &mut keeping, &path, &tree, &asked), "{what}");
    }
    let fewer = Tree::of(&[Class { order: vec![0, 1, 2] }, Class { order: vec![2, 1, 0] }], |_| false);
    let (other, picture) = ([2, 1, 0], scattered(48, 27, Alpha::Full, 9));
    for (what, tree, asked) in [
        ("which orders", &fewer, asked),
        ("what they are compared with", &tree, Asked { against: Some(Against::Order(&other)), ..asked }),
        (
            "a picture that they are compared with",
            &tree,
            Asked { against: Some(Against::Picture(&picture)), ..asked },
        ),
        ("how many pictures", &tree, self::asked(&own, 3)),
        ("the size of the gallery", &tree, Asked { gallery: Some(FRAME), ..asked }),
        ("no gallery", &tree, Asked { gallery: None, ..asked }),
    ] {
        assert!(!is_known(&folder, &mut keeping, &as_it_is, tree, &asked), "{what}");
        assert!(is_known(&folder, &mut keeping, &as_it_is, tree, &asked), "{what}");
    }
    assert!(is_known(&folder, &mut keeping, &as_it_is, &tree, &asked));
}

#[test]
fn what_is_damaged_is_rendered_anew() {
    let folder = tempfile::tempdir().unwrap();
    let [mut keeping, mut anew] = renderers(folder.path());
    let path =
        path(&scattered(48, 27, Alpha::Mixed, 3), &chain(), moment(FRAME, PixelMode::Encoded8Bit, 0.1));
    let own = [0, 1, 2];
    let asked = asked(&own, 4);
    let rendered = anew.explore(&path, &tree(3), &asked, |_| {}).unwrap();
    keeping.explore(&path, &tree(3), &asked, |_| {}).unwrap();
    let [file] = &files(&folder)[..] else { panic!("one file is kept") };
    let whole = fs::read(file).unwrap();
    for damaged in [&whole[..whole.len() / 2], b"", &[&whole[..], b"!"].concat()] {
        fs::write(file, damaged).unwrap();
        let found = keeping.explore(&path, &tree(3), &asked, |_| {}).unwrap();
        assert_eq!(told(&mut keeping, &found), told(&mut anew, &rendered));
        assert_eq!(fs::read(file).unwrap(), whole);
    }
}

/// What is told of a picture for whoever looks for a fault tells pictures apart, and is short.
#[test]
fn pictures_are_told_by_what_stands_for_their_bytes() {
    let picture = scattered(48, 27, Alpha::Mixed, 3);
    let said = |picture: &Picture| format!("{picture:?}");
    let mut other = picture.clone();
    other.rgba[77] ^= 1;
    assert_eq!(said(&picture), said(&picture.clone()));
    assert!(said(&picture) != said(&other) && said(&picture).len() < 80, "{}", said(&picture));
}

#[test]
fn explorations_that_are_under_way_together_are_those_of_one_by_one_kept_or_not() {
    let folder = tempfile::tempdir().unwrap();
    let own = [0, 1, 2];
    let paths: Vec<Path> = (0..5)
        .map(|nth| {
            path(&scattered(48, 27, Alpha::Mixed, nth), &chain(), moment(FRAME, PixelMode::Encoded8Bit, 0.1))
        })
        .collect();
    let asked = asked(&own, 3);
    let [mut keeping, mut anew] = renderers(folder.path());
    let mut alone = |path: &Path| {
        let found = anew.explore(path, &tree(3), &asked, |_| {}).unwrap();
        told(&mut anew, &found)
    };
    let one_by_one: Vec<Told> = paths.iter().map(&mut alone).collect();
    for renderer in [&mut anew, &mut keeping] {
        // The second time those that are kept are looked up.
        for _ in 0..2 {
            let begun: Vec<_> =
                paths.iter().map(|path| renderer.begin_exploring(path, &tree(3), &asked).unwrap()).collect();
            for (begun, wanted) in begun.into_iter().zip(&one_by_one) {
                let found = renderer.finish_exploring(begun).unwrap();
                assert_eq!(told(renderer, &found), *wanted);
            }
        }
    }
    assert_eq!(files(&folder).len(), 5);
}
