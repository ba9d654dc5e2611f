//! What drives the window in tests: a desk without a display, and what a person does to it.
#![allow(dead_code, reason = "each test program drives another part")]

use std::path::Path;
use std::time::{Duration, Instant};

use egui::{Key, Modifiers, Pos2, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use underover::catalogue::Catalogue;
use underover::edit::Work;
use underover::gpu::Gpu;
use underover::show::{Scope, Show};
use underover::window::{Desk, Folders, Pictures, Prover, dress};

pub const PICTURE: Scope = Scope::Bundle(0);

pub fn catalogue() -> Catalogue {
    Catalogue::built_in().unwrap()
}

pub fn work(name: &str) -> Work {
    Work::preset(name, &catalogue()).unwrap().unwrap()
}

/// A desk without a GPU: pictures stay empty, everything else works.
pub fn desk(work: Work, state: Option<&Path>) -> Desk {
    let catalogue = catalogue();
    let pictures = Pictures::none(&catalogue);
    let folders = Folders { state: state.map(Path::to_owned), config: None, data: None };
    Desk::new(work, catalogue, pictures, Prover::new(None, || ()), folders)
}

/// A desk on the GPU found by default.
pub fn desk_with_pictures(work: Work) -> Desk {
    let catalogue = catalogue();
    let gpu = Gpu::open(None).unwrap();
    let prover = Prover::new(Some(gpu.sibling()), || ());
    let pictures = Pictures::on(gpu, wgpu::TextureFormat::Rgba8Unorm, &catalogue);
    Desk::new(work, catalogue, pictures, prover, Folders::default())
}

pub type Window = Harness<'static, Desk>;

pub fn window_of(desk: Desk, size: egui::Vec2) -> Window {
    let mut window =
        Harness::builder().with_size(size).with_max_steps(64).with_context_setup(dress).build_ui_state(
            |ui, desk: &mut Desk| {
                desk.ui(ui);
                desk.after_pass();
            },
            desk,
        );
    window.run();
    window
}

/// The window on a desk, once its orders are known.
pub fn window(desk: Desk) -> Window {
    let mut window = window_of(desk, vec2(1280.0, 800.0));
    until(&mut window, "the orders are known", |desk| desk.known().is_some());
    window
}

pub fn until(window: &mut Window, what: &str, is_so: impl Fn(&mut Desk) -> bool) {
    let started = Instant::now();
    while !is_so(window.state_mut()) {
        assert!(started.elapsed() < Duration::from_secs(180), "waited in vain until {what}");
        let pass = Instant::now();
        window.step();
        // As a window does: what is waited for is made, or thought, between passes.
        let took = pass.elapsed();
        let next = Instant::now() + (took * 3).clamp(Duration::from_millis(2), Duration::from_millis(200));
        while Instant::now() < next && !is_so(window.state_mut()) {
            window.state_mut().make_more();
            std::thread::sleep(Duration::from_millis(1));
        }
    }
    window.step();
}

pub fn show(window: &Window) -> Show {
    (**window.state().work().show()).clone()
}

pub fn names(window: &Window, scope: Scope) -> Vec<String> {
    show(window).chain(scope).iter().map(|used| used.effect.name.clone()).collect()
}

pub fn press(window: &mut Window, label: &str) {
    // As a person does with what has no room at once.
    window.get_by_label(label).scroll_to_me();
    window.run();
    window.get_by_label(label).click();
    window.run();
}

pub fn key(window: &mut Window, modifiers: Modifiers, key: Key) {
    window.key_press_modifiers(modifiers, key);
    window.run();
}

pub fn middle(window: &Window, label: &str) -> Pos2 {
    window.get_by_label(label).rect().center()
}

/// Presses at `from` and moves to `to` in steps.
pub fn carry(window: &mut Window, from: Pos2, to: Pos2) {
    window.hover_at(from);
    window.step();
    window.drag_at(from);
    window.step();
    for part in 1..=8 {
        window.hover_at(from + (to - from) * (part as f32 / 8.0));
        window.step();
    }
}

pub fn drag(window: &mut Window, from: Pos2, to: Pos2) {
    carry(window, from, to);
    window.drop_at(to);
    window.run();
}

/// Types text into what has the keyboard.
pub fn write(window: &mut Window, text: &str) {
    window.event(egui::Event::Text(text.to_owned()));
    window.run();
}

/// The demo on a small frame, so that a software GPU is soon done with it.
pub fn small_demo(frame: &str) -> Work {
    let mut show = (**work("night-ferry").show()).clone();
    show.frame = frame.parse().unwrap();
    Work::new(underover::files::Document::Show(show), None)
}

/// Everything that can be pressed, typed into or moved, and has no name: its role and its place.
pub fn nameless(window: &Window) -> Vec<String> {
    let mut found = Vec::new();
    let mut open = vec![window.root()];
    while let Some(node) = open.pop() {
        let inner = node.accesskit_node();
        let role = inner.role();
        let acts = [egui::accesskit::Action::Click, egui::accesskit::Action::Focus];
        let is_active = acts.iter().any(|&act| inner.data().supports_action(act));
        // What is only read has its text for a name.
        let read = inner.value().filter(|_| role == egui::accesskit::Role::Label);
        let has_name = inner.label().or(read).is_some_and(|label| !label.trim().is_empty());
        // The bar of a scrolling area scrolls nothing that the keyboard does not reach by itself.
        let is_bar = role == egui::accesskit::Role::ScrollBar;
        if is_active && !has_name && !is_bar && role != egui::accesskit::Role::Window {
            found.push(format!("{role:?} at {:?}", node.rect()));
        }
        open.extend(node.children());
    }
    found
}

/// What can be pressed or read, as those who listen to the window are told.
pub fn labels(window: &Window) -> Vec<String> {
    let mut found = Vec::new();
    let mut open = vec![window.root()];
    while let Some(node) = open.pop() {
        found.extend(node.accesskit_node().label());
        found.extend(node.accesskit_node().value());
        open.extend(node.children());
    }
    found
}

pub fn label_with(window: &Window, part: &str) -> Option<String> {
    labels(window).into_iter().find(|label| label.contains(part))
}

/// The longest name that a file may hold.
const LONGEST: usize = 80;

/// A name as long as a file may hold, with an end of its own.
pub fn long(what: &str) -> String {
    let mut name = format!("{what} of the night ferry, ");
    while name.chars().count() < LONGEST {
        name.push_str("harbour lights ");
    }
    name.chars().take(LONGEST - 1).chain(['X']).collect()
}

/// The demo on a frame, with every name as long as there can be.
pub fn long_named(frame: &str) -> Work {
    let mut show = (**work("night-ferry").show()).clone();
    show.frame = frame.parse().unwrap();
    show.name = long("show");
    show.about = long("about").repeat(4);
    for (b, bundle) in show.bundles.iter_mut().enumerate() {
        bundle.name = long(&format!("{b} bundle"));
        for (l, level) in bundle.levels.iter_mut().enumerate() {
            level.name = long(&format!("{l} level"));
            for (c, clip) in level.clips.iter_mut().enumerate() {
                clip.name = long(&format!("{c} clip"));
            }
        }
        for (e, used) in bundle.chain.iter_mut().enumerate() {
            used.name = Some(long(&format!("{e} effect")));
        }
    }
    Work::new(underover::files::Document::Show(show), None)
}
