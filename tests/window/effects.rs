//! Effects of a person's own while the window is open: saved files are taken in, wrong ones are told. There is no
//! display.

use std::fs;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use crate::driving::{Window, until, window_of};
use egui::{Key, vec2};
use egui_kittest::kittest::Queryable as _;
use underover::catalogue::{Catalogue, Standing, Value};
use underover::edit::{Edit, Spot, Work};
use underover::files;
use underover::gpu::Gpu;
use underover::show::Scope;
use underover::trial::{OwnEffects, Trials};
use underover::window::{Action, Desk, EffectsWatcher, Folders, Pictures, Prover};

const DARK: &str = r#"//! summary = "Darkens."
//! does = "darkens"
//! reach = "texel"
//! channels = "apart"
//! position = "ignored"
//!
//! [[setting]]
//! name = "depth"
//! label = "Depth"
//! help = "How dark."
//! kind = "number"
//! unit = "share"
//! range = [0.0, 1.0]
//! default = 0.5

struct Settings {
    depth: f32,
}

fn channel(value: f32, index: u32) -> f32 {
    return value * (1.0 - settings.depth);
}
"#;

const CLIP: Scope = Scope::Clip(0, 0, 0);
const AT: Spot = Spot { scope: CLIP, at: 0 };

fn own(folder: &Path) -> OwnEffects {
    let trials = Trials {
        program: Some(env!("CARGO_BIN_EXE_underover").into()),
        state: Some(folder.join("state")),
        ..Trials::here(std::env::var("UNDEROVER_ADAPTER").ok())
    };
    OwnEffects::of(vec![folder.to_owned()], trials).unwrap()
}

fn save(folder: &Path, name: &str, text: &str) {
    fs::write(folder.join(format!("{name}.wgsl")), text).unwrap();
}

/// A window on a chain with `dark`, its effects watched; and how often the watcher woke it.
fn watched(folder: &Path, with_pictures: bool) -> (Window, Arc<AtomicUsize>) {
    save(folder, "dark", DARK);
    let mut own = own(folder);
    let catalogue = own.look().unwrap();
    assert_eq!(catalogue.problems(), []);
    let text = "format = \"underover/chain/1\"\nname = \"Dusk\"\n[[effect]]\nuse = \"dark\"\ndepth = 0.9\n";
    let document = files::parse(text, "dusk.toml", Path::new(""), &catalogue).unwrap();
    let mut work = Work::new(document, None);
    let mut show = (**work.show()).clone();
    show.frame = "64x36".parse().unwrap();
    work = Work::new(files::Document::Show(show), None);
    let (pictures, prover) = if with_pictures {
        let gpu = Gpu::open(std::env::var("UNDEROVER_ADAPTER").ok().as_deref()).unwrap();
        let prover = Prover::new(Some(gpu.sibling()), || ());
        (Pictures::on(gpu, wgpu::TextureFormat::Rgba8Unorm, &catalogue), prover)
    } else {
        (Pictures::none(&catalogue), Prover::new(None, || ()))
    };
    let mut desk = Desk::new(work, catalogue, pictures, prover, Folders::default());
    let woken = Arc::new(AtomicUsize::new(0));
    let counted = Arc::clone(&woken);
    desk.watch_effects(EffectsWatcher::new(own, move || {
        counted.fetch_add(1, Ordering::Relaxed);
    }));
    (window_of(desk, vec2(1280.0, 800.0)), woken)
}

/// What `dark` is in the work.
fn source(desk: &Desk) -> String {
    desk.work().show().chain(CLIP)[0].effect.source.clone()
}

fn depth(desk: &Desk) -> Option<Value> {
    desk.work().show().chain(CLIP)[0].value("depth").cloned()
}

#[test]
fn a_saved_effect_takes_the_place_of_what_it_was_and_the_picture_is_made_anew() {
    let folder = tempfile::tempdir().unwrap();
    let (mut window, _) = watched(folder.path(), true);
    until(&mut window, "the pictures are made", |desk| {
        desk.pictures().missing() == 0 && desk.pictures().rendered() > 0
    });
    let before = window.state_mut().pictures().rendered();
    let saved = Instant::now();
    let other = DARK.replace("1.0 - settings.depth", "1.0 - 0.5 * settings.depth");
    save(folder.path(), "dark", &other);
    until(&mut window, "the file is read again", |desk| source(desk) == other);
    let took = saved.elapsed();
    println!("read again, tried and taken in after {took:?}");
    // Half a second until it is looked at, and a process that tries it: the machine may be shared.
    assert!(took < Duration::from_secs(10), "{took:?}");
    assert!(window.state().view().said.contains("Read again: `dark`"), "{}", window.state().view().said);
    assert_eq!(window.state().work().show().chain(CLIP)[0].effect.standing, Standing::Confirmed);
    assert_eq!(depth(window.state()), Some(Value::Number(0.9)), "settings stay");
    assert!(!window.state().work().is_changed(), "the work is what it was");
    until(&mut window, "the picture is made anew", |desk| {
        desk.pictures().missing() == 0 && desk.pictures().rendered() > before
    });
}

#[test]
fn a_wrong_file_leaves_the_last_right_one_in_use_and_is_told_until_it_is_right() {
    let folder = tempfile::tempdir().unwrap();
    let (mut window, _) = watched(folder.path(), false);
    save(folder.path(), "dark", &DARK.replace("settings.depth", "settings.dept"));
    until(&mut window, "it is told", |desk| !desk.effect_troubles().is_empty());
    let told = window.state().effect_troubles()[0].clone();
    for part in ["dark.wgsl:21:", "dept", "its last version that was right stays in use"] {
        assert!(told.contains(part), "{part:?} is not in {told}");
    }
    window.step();
    assert!(window.query_by_label(&told).is_some(), "it stands in the window");
    assert_eq!(source(window.state()), DARK);
    // Nor does a claim that does not hold pass in silence, but the effect is used.
    let lie = DARK.replace(
        "default = 0.5",
        "default = 0.5\n//! [[idle]]\n//! setting = \"depth\"\n//! is = 0.5\n//! because = \"it says so\"",
    );
    save(folder.path(), "dark", &lie);
    until(&mut window, "the lie is read", |desk| source(desk) == lie);
    assert!(
        window.state().effect_troubles()[0].contains("dark.wgsl:15:1: the header claims"),
        "{:?}",
        window.state().effect_troubles()
    );
    let other = DARK.replace("Darkens.", "Makes it dark.");
    save(folder.path(), "dark", &other);
    until(&mut window, "it is right again", |desk| desk.effect_troubles().is_empty());
    assert_eq!(source(window.state()), other);
    assert!(window.query_by_label(&told).is_none());
}

#[test]
fn settings_are_kept_by_name_and_come_back_with_their_effect_and_steps_can_be_undone() {
    let folder = tempfile::tempdir().unwrap();
    let (mut window, _) = watched(folder.path(), false);
    let edit = Edit::Set { spot: AT, setting: 0, value: Value::Number(0.8) };
    window.state_mut().act(Action::Edit(edit));
    let lower = DARK.replace("range = [0.0, 1.0]", "range = [0.0, 0.6]");
    save(folder.path(), "dark", &lower);
    until(&mut window, "the range is lower", |desk| source(desk) == lower);
    assert_eq!(depth(window.state()), Some(Value::Number(0.6)));
    let said = window.state().view().said.clone();
    assert!(said.contains("dark: `depth` went from 0.8 to 0.6"), "{said}");
    let renamed = lower.replace("depth", "gloom");
    save(folder.path(), "dark", &renamed);
    until(&mut window, "the setting is gone", |desk| source(desk) == renamed);
    let said = window.state().view().said.clone();
    assert!(said.contains("`depth` is gone; its value is kept aside"), "{said}");
    save(folder.path(), "dark", DARK);
    until(&mut window, "the setting is back", |desk| source(desk) == DARK);
    assert_eq!(depth(window.state()), Some(Value::Number(0.6)));
    window.state_mut().act(Action::Undo);
    assert_eq!(source(window.state()), DARK, "an earlier step has the effect as it is now");
}

#[test]
fn a_new_file_can_be_added_and_one_that_is_gone_stays_where_it_is_used() {
    let folder = tempfile::tempdir().unwrap();
    let (mut window, woken) = watched(folder.path(), false);
    save(folder.path(), "glow", DARK);
    let has = |desk: &Desk, name: &str| desk.catalogue().effect(name).is_ok();
    until(&mut window, "there is a new effect", |desk| has(desk, "glow"));
    window.key_press(Key::A);
    window.run();
    assert!(window.query_by_label("Add glow").is_some(), "the menu has it");
    fs::remove_file(folder.path().join("dark.wgsl")).unwrap();
    until(&mut window, "the file is gone", |desk| !has(desk, "dark"));
    assert_eq!(source(window.state()), DARK);
    // Nothing wakes the window while nothing changes.
    let before = woken.load(Ordering::Relaxed);
    std::thread::sleep(Duration::from_millis(1500));
    assert_eq!(woken.load(Ordering::Relaxed), before);
    assert!(Catalogue::built_in().unwrap().effect("glow").is_err());
}
