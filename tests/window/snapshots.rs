//! Every panel and sheet of the window in both themes, against pictures kept in `tests/snapshots`.
//!
//! They are kept at half size. A panel may be off by a mean CIEDE2000 of 0.8 over the whole window and of
//! 3.0 over any tenth of it across and down: adapters round text and pictures differently, and the bottom
//! line names the adapter. A missing card, a moved panel or another colour is more than that.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::driving::{long_named, work};
use crate::structure::crowded;
use image::codecs::jpeg::JpegEncoder;
use image::imageops::{FilterType, crop_imm, resize};
use image::{DynamicImage, RgbaImage};
use underover::base::frame::Frame;
use underover::base::picture::Picture;
use underover::catalogue::Catalogue;
use underover::edit::{Edit, Named, Spot, Work};
use underover::files::Document;
use underover::gpu::Gpu;
use underover::library::Kind;
use underover::measure::Difference;
use underover::show::{Scope, Show};
use underover::window::{
    Action, Basis, Comparing, Dialog, LessonAct, LibraryAct, List, Offscreen, On, Pair, Pin, ShowFrom, Shown,
    Tab, ThemeChoice, WallBy,
};

const SIZE: Frame = Frame { width: 1280, height: 800 };
/// Mean CIEDE2000 over the whole window, and over its worst part of a tenth by a tenth.
const TOLERANCE: [f64; 2] = [0.8, 3.0];
/// Set to write the pictures anew.
const ACCEPT: &str = "UNDEROVER_ACCEPT_PICTURES";
/// Set to a list of names, apart by commas, to look at those panels alone.
const PANELS: &str = "UNDEROVER_PANELS";
const PICTURE: Scope = Scope::Bundle(0);
const REVERSED: [usize; 5] = [4, 3, 2, 1, 0];

fn pair(way: Comparing) -> Vec<Action> {
    let own = vec![0, 1, 2, 3, 4];
    vec![Action::Show(Shown::Pair(Pair::of(PICTURE, own, REVERSED.to_vec(), way)))]
}

fn lesson(then: Vec<LessonAct>) -> Vec<Action> {
    let acts = [LessonAct::Open(0)].into_iter().chain(then);
    [Action::Tab(Tab::Lessons)].into_iter().chain(acts.map(Action::Lesson)).collect()
}

fn sheet(dialog: Dialog) -> Vec<Action> {
    vec![Action::Ask(dialog)]
}

fn library(list: List, chosen: Option<(Kind, &str)>) -> Vec<Action> {
    let chosen = chosen.map(|(kind, handle)| (kind, handle.to_owned()));
    vec![
        Action::Tab(Tab::Library),
        Action::Library(LibraryAct::List(list)),
        Action::Library(LibraryAct::Choose(chosen)),
    ]
}

/// Every panel and sheet, and what leads there from the window as it opens.
fn panels(desk_chain: &[underover::show::chain::EffectUse]) -> Vec<(&'static str, Vec<Action>)> {
    let reversed = REVERSED.iter().map(|&at| desk_chain[at].clone()).collect();
    let rename = Edit::Rename { what: Named::Show, name: "Last crossing".to_owned() };
    vec![
        ("orders", vec![]),
        ("orders-on-every-clip", vec![Action::Judge(Basis { on: On::Clips, ..Basis::default() })]),
        ("order-shown", vec![Action::Show(Shown::Order { scope: PICTURE, order: REVERSED.to_vec() })]),
        ("after-an-effect", vec![Action::Show(Shown::After(Spot { scope: PICTURE, at: 2 }))]),
        ("swaps", vec![Action::Tab(Tab::Swaps)]),
        ("pins", vec![Action::Pin(Pin::new(PICTURE, reversed)), Action::Tab(Tab::Pins)]),
        ("pair-both", pair(Comparing::Beside)),
        ("pair-wipe", pair(Comparing::Wipe)),
        ("pair-difference", pair(Comparing::Difference)),
        ("scope", vec![Action::Scope(Scope::Level(0, 0))]),
        (
            "dragging",
            vec![Action::Drag(Some((Spot { scope: PICTURE, at: 0 }, Spot { scope: PICTURE, at: 5 })))],
        ),
        ("add", sheet(Dialog::Add(Spot { scope: PICTURE, at: 1 }))),
        ("rename", sheet(Dialog::Rename(Named::Scope(PICTURE)))),
        ("keys", sheet(Dialog::Keys)),
        ("commands", sheet(Dialog::Commands)),
        ("condition", sheet(Dialog::Condition)),
        ("flashes", sheet(Dialog::Flashes)),
        ("hands", vec![Action::Tab(Tab::Hands)]),
        ("library", library(List::Chains, Some((Kind::Chain, "lamp-lines")))),
        (
            "another-show",
            [
                library(List::OtherShow, None),
                [
                    LibraryAct::Look(ShowFrom::Preset("harbour-lamps".to_owned())),
                    LibraryAct::Part(Some(Scope::Bundle(0))),
                ]
                .map(Action::Library)
                .to_vec(),
            ]
            .concat(),
        ),
        ("starters", library(List::Starters, Some((Kind::Starter, "festival-night")))),
        ("lessons", vec![Action::Tab(Tab::Lessons)]),
        ("lesson-question", lesson(vec![])),
        ("lesson-answer", lesson(vec![LessonAct::Choose(0)])),
        ("family", vec![Action::WallBy(WallBy::Family(vec![0, 1, 2, 3, 4]))]),
        ("looks", vec![Action::WallBy(WallBy::Looks)]),
        ("every-order", vec![Action::WallBy(WallBy::Orders)]),
        ("losing", sheet(Dialog::Losing(Box::new(Action::Quit)))),
        (
            "report",
            sheet(Dialog::Report {
                title: "harbour.toml could not be opened".to_owned(),
                text: "harbour.toml:7:9: `gain` is 12; it takes a number from 0 to 8".to_owned(),
            }),
        ),
        ("steps", vec![Action::Edit(rename), Action::Ask(Dialog::Steps)]),
    ]
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/snapshots")
}

/// As it is kept: at half size, in JPEG.
fn kept(picture: &RgbaImage) -> Vec<u8> {
    let half = resize(picture, picture.width() / 2, picture.height() / 2, FilterType::Triangle);
    let mut bytes = Vec::new();
    let rgb = DynamicImage::ImageRgba8(half).into_rgb8();
    JpegEncoder::new_with_quality(&mut bytes, 88).encode_image(&rgb).expect("a JPEG");
    bytes
}

fn picture(image: &RgbaImage) -> Picture {
    let frame = Frame { width: image.width(), height: image.height() };
    Picture { frame, rgba: image.as_raw().clone(), opaque: true }
}

/// How far two pictures are apart: in all, and in the worst part.
fn apart(a: &RgbaImage, b: &RgbaImage) -> [f64; 2] {
    let mean = |a: &RgbaImage, b: &RgbaImage| Difference::of(&picture(a), &picture(b)).mean;
    let (width, height) = (a.width() / 10, a.height() / 10);
    let part =
        |image: &RgbaImage, x: u32, y: u32| crop_imm(image, x * width, y * height, width, height).to_image();
    let parts = (0..10).flat_map(|y| (0..10).map(move |x| (x, y)));
    let worst = parts.map(|(x, y)| mean(&part(a, x, y), &part(b, x, y))).fold(0.0, f64::max);
    [mean(a, b), worst]
}

/// Keeps a picture under its name, or says how it is another than the one that is kept; it lies in full size where
/// those lie that are compared.
fn looked_at(name: &str, picture: &RgbaImage) -> Option<String> {
    let now = kept(picture);
    let file = folder().join(format!("{name}.jpg"));
    if std::env::var_os(ACCEPT).is_some() {
        fs::create_dir_all(folder()).expect("a folder");
        fs::write(&file, &now).expect("a file");
        return None;
    }
    let seen = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("{name}.jpg"));
    fs::write(&seen, &now).expect("a file");
    picture.save(seen.with_extension("png")).expect("a file");
    let read = |bytes: &[u8]| image::load_from_memory(bytes).expect("a picture").into_rgba8();
    let Ok(before) = fs::read(&file) else { return Some(format!("{} is missing", file.display())) };
    let [mean, worst] = apart(&read(&before), &read(&now));
    (mean > TOLERANCE[0] || worst > TOLERANCE[1]).then(|| {
        format!(
            "{name} is off by a mean CIEDE2000 of {mean:.2} ({worst:.2} in the worst part): look at {} beside {}",
            seen.display(),
            file.display()
        )
    })
}

/// Whether a picture of this name is asked for.
fn is_asked(name: &str) -> bool {
    let asked = std::env::var(PANELS).unwrap_or_default();
    asked.is_empty() || asked.split(',').any(|one| one == name)
}

fn window() -> Offscreen {
    let catalogue = Catalogue::built_in().expect("the effects");
    // On a small frame: at the show's own a software adapter counts flashes for minutes after every change.
    let demo = Work::preset("night-ferry", &catalogue).expect("a show").expect("the demo");
    let show = Show { frame: Frame { width: 320, height: 180 }, ..Show::clone(demo.show()) };
    let work = Work::new(Document::Show(show), None);
    opened(work, SIZE)
}

/// A window of this size on work, at rest.
fn opened(work: Work, size: Frame) -> Offscreen {
    let catalogue = Catalogue::built_in().expect("the effects");
    let gpu = Gpu::open(None).expect("an adapter");
    let mut window = Offscreen::new(gpu, work, catalogue, size).expect("a window");
    assert!(window.settle(Duration::from_secs(300)).expect("a GPU"), "the window never came to rest");
    window
}

const THEMES: [(&str, ThemeChoice); 2] = [("dark", ThemeChoice::Dark), ("light", ThemeChoice::Light)];

/// The window at rest as it stands now, in both themes; gives what is wrong.
fn both_themes(window: &mut Offscreen, name: &str) -> Vec<String> {
    let mut one = |(theme, choice)| {
        window.desk().act(Action::Theme(choice));
        let is_at_rest = window.settle(Duration::from_secs(300)).expect("a GPU");
        assert!(is_at_rest, "{name} in the {theme} theme never came to rest");
        looked_at(&format!("{name}-{theme}"), &window.picture().expect("a picture"))
    };
    THEMES.into_iter().filter_map(&mut one).collect()
}

#[test]
fn every_panel_looks_as_it_did_in_both_themes() {
    let mut window = window();
    let chain = window.desk().work().show().chain(PICTURE).clone();
    let mut wrong = Vec::new();
    for (name, actions) in panels(&chain).into_iter().filter(|(name, _)| is_asked(name)) {
        for action in actions {
            window.desk().act(action);
        }
        wrong.extend(both_themes(&mut window, name));
        // Back to how the window opens.
        let steps = [Action::Close, Action::Drag(None), Action::GoTo(0), Action::Show(Shown::Output)];
        let view = [
            Action::Tab(Tab::Orders),
            Action::WallBy(WallBy::Families),
            Action::Judge(Basis::default()),
            Action::Unpin(0),
            Action::Scope(PICTURE),
        ];
        for action in steps.into_iter().chain(view) {
            window.desk().act(action);
        }
    }
    assert!(
        wrong.is_empty(),
        "{}\nif this is how it should look, {ACCEPT}=1 cargo test --test window snapshots:: keeps it",
        wrong.join("\n")
    );
}

#[test]
fn the_whole_window_looks_as_it_did_at_three_sizes_with_usual_names_and_the_longest() {
    let small = |work: &Work, frame: &str| {
        let show = Show { frame: frame.parse().expect("a frame"), ..Show::clone(work.show()) };
        Work::new(Document::Show(show), None)
    };
    let sizes = [[1024, 640], [1280, 800], [2560, 1440]];
    let windows: [(&str, Work, &[[u32; 2]]); 3] = [
        ("window", small(&work("landfall"), "320x180"), &sizes),
        ("long-names", long_named("320x180"), &sizes),
        ("forty-levels", small(&crowded(), "160x90"), &sizes[..1]),
    ];
    let mut wrong = Vec::new();
    for (called, work, sizes) in windows {
        let named = |[width, height]: [u32; 2]| format!("{called}-{width}x{height}");
        let mut asked = sizes.iter().filter(|&&size| is_asked(&named(size))).peekable();
        let Some(&&[width, height]) = asked.peek() else { continue };
        let mut window = opened(work, Frame { width, height });
        for &size in asked {
            window.resize(Frame { width: size[0], height: size[1] }).expect("room for the window");
            wrong.extend(both_themes(&mut window, &named(size)));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn a_window_is_painted_pass_after_pass() {
    let catalogue = Catalogue::built_in().expect("the effects");
    let work = Work::preset("lamp-lines", &catalogue).expect("a show").expect("a preset");
    let size = Frame { width: 640, height: 400 };
    let mut window =
        Offscreen::new(Gpu::open(None).expect("an adapter"), work, catalogue, size).expect("a window");
    for _ in 0..3 {
        window.step(0.1, Vec::new());
    }
    let picture = window.picture().expect("a picture");
    let first = picture.get_pixel(0, 0);
    assert!(picture.pixels().any(|pixel| pixel != first), "nothing was painted");
}

#[test]
fn the_comparison_notices_a_missing_card_and_another_colour() {
    let plain = RgbaImage::from_pixel(640, 400, image::Rgba([26, 26, 26, 255]));
    let mut card = plain.clone();
    for y in 100..130 {
        for x in 300..344 {
            card.put_pixel(x, y, image::Rgba([200, 120, 40, 255]));
        }
    }
    assert_eq!(apart(&plain, &plain), [0.0, 0.0]);
    assert!(apart(&plain, &card)[1] > TOLERANCE[1], "{:?}", apart(&plain, &card));
    let tinted = RgbaImage::from_pixel(640, 400, image::Rgba([26, 26, 32, 255]));
    assert!(apart(&plain, &tinted)[0] > TOLERANCE[0], "{:?}", apart(&plain, &tinted));
}
