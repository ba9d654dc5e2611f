//! Nothing in the window leaves its region or lies over its neighbour: what is selected, what is shown, tabs and
//! dialogs, at the sizes of screens from small to large, with the longest names that there can be, in large text, light
//! and dark.

use crate::dialogs;
use crate::driving::*;
use egui::accesskit::{Action as Can, Role};
use egui::{Rect, vec2};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use egui_kittest::{Harness, Node};
use underover::edit::{Edit, Named, Spot, Work};
use underover::files::Document;
use underover::library::Kind;
use underover::show::{Scope, Section, Show};
use underover::window::{
    Action, Basis, Comparing, InSection, LessonAct, LibraryAct, List, On, Pair, Pin, SectionAct, ShowFrom,
    Shown, Tab, ThemeChoice, WallBy, dress,
};

/// Points by which two things may touch, and by which one may stand out of its region.
const TOLERANCE: f32 = 1.5;

/// Room round the contents of a dialog, in points.
const RIM: f32 = 6.0;

/// A thing that is drawn: what it is to those who listen, where it stands, and in which region.
struct Drawn {
    said: String,
    rect: Rect,
    region: Option<String>,
    is_pressed: bool,
    /// Whether it is scrolled: what is further up or down is cut off.
    scrolls: bool,
}

/// Where a thing stands, in points; nowhere where it was not said.
fn rect_of(node: &Node<'_>) -> Rect {
    match node.accesskit_node().bounding_box() {
        Some(_) => node.rect(),
        None => Rect::NOTHING,
    }
}

/// What a dialog is called, as a region of its own.
const DIALOG: &str = "dialog";

/// Everything that is drawn and holds nothing more that is.
fn drawn(root: Node<'_>) -> Vec<Drawn> {
    let mut found = Vec::new();
    let mut open = vec![(root, None::<String>, false)];
    while let Some((node, region, scrolls)) = open.pop() {
        let inner = node.accesskit_node();
        let (role, label) = (inner.role(), inner.label().unwrap_or_default());
        let region = match role {
            Role::Region => Some(label.clone()),
            Role::Dialog | Role::AlertDialog => Some(DIALOG.to_owned()),
            _ => region,
        };
        let is_leaf = !matches!(
            role,
            Role::Region
                | Role::Dialog
                | Role::AlertDialog
                | Role::ScrollView
                | Role::ScrollBar
                | Role::GenericContainer
                | Role::Group
                | Role::Unknown
                | Role::Window
        );
        let rect = rect_of(&node);
        // What is painted by a widget itself is no thing of its own.
        let is_run = matches!(role, Role::TextRun | Role::Splitter | Role::ProgressIndicator);
        if is_leaf && !is_run && rect.is_positive() && rect.is_finite() && region.is_some() {
            let said: String = inner.label().or(inner.value()).unwrap_or_default().chars().take(44).collect();
            let said = format!("{role:?} {said:?}");
            let is_pressed = inner.data().supports_action(Can::Click);
            found.push(Drawn { said, rect, region: region.clone(), is_pressed, scrolls });
        }
        let scrolls = scrolls || role == Role::ScrollView;
        open.extend(node.children().map(|child| (child, region.clone(), scrolls)));
    }
    found
}

/// What leaves its region, and what lies over something else, in words.
fn faults(drawn: &[Drawn], regions: &[(&str, Rect)]) -> Vec<String> {
    let mut faults = Vec::new();
    for (name, region) in regions {
        let of = |one: &&Drawn| one.region.as_deref() == Some(*name);
        let own: Vec<&Drawn> = drawn.iter().filter(of).collect();
        let whole = region.expand(TOLERANCE);
        for one in &own {
            // The path is scrolled to the side; elsewhere only what is further down is.
            let is_beside = one.rect.left() < whole.left() || one.rect.right() > whole.right();
            let is_below = one.rect.top() < whole.top() || one.rect.bottom() > whole.bottom();
            let scrolls_down = matches!(*name, "settings" | "beside" | "structure") || one.scrolls;
            if (is_beside && !matches!(*name, "path" | "sections")) || (is_below && !scrolls_down) {
                faults.push(format!("{} at {} leaves {name} {region}", one.said, one.rect));
            }
        }
        for (nth, a) in own.iter().enumerate() {
            for b in &own[nth + 1..] {
                let both = a.rect.intersect(b.rect);
                let is_over = both.width() > TOLERANCE && both.height() > TOLERANCE;
                // A card holds its switch: one that can be pressed may hold another whole.
                let holds = |outer: &Drawn, inner: &Drawn| {
                    outer.is_pressed && outer.rect.expand(TOLERANCE).contains_rect(inner.rect)
                };
                // A text that breaks into lines takes all of the room beside its first word, and a list's label holds it.
                let breaks = |one: &Drawn| one.said.starts_with("Label") && one.rect.height() > 30.0;
                let called = |one: &Drawn| one.said.split_once(' ').map(|(_, name)| name.to_owned());
                let is_one = breaks(a) || breaks(b) || called(a) == called(b);
                // Where one of two is cut off, they do not meet.
                if is_over && a.scrolls == b.scrolls && !is_one && !holds(a, b) && !holds(b, a) {
                    faults.push(format!(
                        "in {name}: {} at {} lies over {} at {}",
                        a.said, a.rect, b.said, b.rect
                    ));
                }
            }
        }
    }
    faults
}

fn check(window: &mut Window, what: &str, found: &mut Vec<String>) {
    window.run_steps(3);
    let drawn = drawn(window.root());
    let regions = window.state().regions().to_vec();
    assert!(regions.len() >= 5, "{what}: {regions:?}");
    assert!(drawn.len() > 30, "{what}: only {} things are drawn", drawn.len());
    found.extend(faults(&drawn, &regions).into_iter().map(|fault| format!("{what}: {fault}")));
}

/// Every tab, what can be selected, and what the picture can show.
fn states() -> Vec<(String, Vec<Action>)> {
    let order = vec![4, 3, 2, 1, 0];
    let shown = |shown| vec![Action::Show(shown)];
    let mut states: Vec<(String, Vec<Action>)> =
        Tab::ALL.into_iter().map(|tab| (format!("tab {}", tab.name()), vec![Action::Tab(tab)])).collect();
    states.push(("an order".to_owned(), shown(Shown::Order { scope: PICTURE, order })));
    states.push(("after an effect".to_owned(), shown(Shown::After(Spot { scope: PICTURE, at: 2 }))));
    for at in 0..5 {
        states.push((format!("effect {at}"), vec![Action::Select(Spot { scope: PICTURE, at })]));
    }
    for scope in [Scope::Global, Scope::Bundle(0), Scope::Level(0, 0), Scope::Clip(0, 0, 0)] {
        states.push((format!("{scope:?}"), vec![Action::Scope(scope)]));
    }
    for by in [WallBy::Looks, WallBy::Orders, WallBy::Family(vec![0, 1, 2, 3, 4])] {
        states.push((format!("wall by {by:?}"), vec![Action::WallBy(by)]));
    }
    for on in On::ALL {
        states.push((format!("judged on {on:?}"), vec![Action::Judge(Basis { on, ..Basis::default() })]));
    }
    let pair = |way| Shown::Pair(Pair::of(PICTURE, vec![0, 1, 2, 3, 4], vec![4, 3, 2, 1, 0], way));
    states.extend(Comparing::ALL.map(|way| (format!("a pair, {way:?}"), shown(pair(way)))));
    let library = |acts: Vec<LibraryAct>| {
        [Action::Tab(Tab::Library)].into_iter().chain(acts.into_iter().map(Action::Library)).collect()
    };
    let choose = |kind, handle: &str| LibraryAct::Choose(Some((kind, handle.to_owned())));
    let other = LibraryAct::Look(ShowFrom::Preset("night-crossing".to_owned()));
    let lists = [
        ("chains", vec![LibraryAct::List(List::Chains), choose(Kind::Chain, "lamp-lines")]),
        ("starters", vec![LibraryAct::List(List::Starters), choose(Kind::Starter, "festival-night")]),
        (
            "another show",
            vec![LibraryAct::List(List::OtherShow), other, LibraryAct::Part(Some(Scope::Bundle(0)))],
        ),
    ];
    states.extend(lists.map(|(list, acts)| (list.to_owned(), library(acts))));
    for (what, answer) in [("a question", None), ("an answer", Some(LessonAct::Choose(0)))] {
        let acts = [Some(LessonAct::Open(0)), answer].into_iter().flatten().map(Action::Lesson);
        states.push((what.to_owned(), [Action::Tab(Tab::Lessons)].into_iter().chain(acts).collect()));
    }
    states
}

/// A window of so many pixels with text of so many per cent: what is larger leaves fewer points.
fn window_with_text(size: [f32; 2], percent: u32, theme: ThemeChoice) -> Window {
    let mut window = window_of(desk(long_named("160x90"), None), size.into());
    resize(&mut window, size, percent, theme);
    window
}

fn resize(window: &mut Window, size: [f32; 2], percent: u32, theme: ThemeChoice) {
    window.state_mut().act(Action::Theme(theme));
    window.state_mut().act(Action::TextSize(percent));
    for _ in 0..4 {
        window.run_steps(2);
        let zoom = window.ctx.zoom_factor();
        window.set_size(egui::Vec2::from(size) / zoom);
    }
    window.run_steps(2);
    let pixels = window.ctx.content_rect().size() * window.ctx.zoom_factor();
    assert!((pixels - egui::Vec2::from(size)).length() < 4.0, "{pixels}");
}

/// Walks through one window that is made another size and given other text.
fn walk(window: &mut Window, [width, height]: [f32; 2], percent: u32, found: &mut Vec<String>) {
    for (what, actions) in states() {
        let back = [
            Action::Show(Shown::Output),
            Action::Tab(Tab::Orders),
            Action::WallBy(WallBy::Families),
            Action::Judge(Basis::default()),
            Action::Scope(PICTURE),
        ];
        for action in back.into_iter().chain(actions) {
            window.state_mut().act(action);
        }
        check(window, &format!("{width}x{height} at {percent} %: {what}"), found);
    }
}

fn assert_none(found: &[String]) {
    assert!(found.is_empty(), "{} faults:\n{}", found.len(), found[..found.len().min(60)].join("\n"));
}

/// Sizes of windows, and in which theme each is looked at with text of the usual size; in the other one it is large.
const SIZES: [([f32; 2], [ThemeChoice; 2]); 5] = [
    ([1024.0, 640.0], [ThemeChoice::Dark, ThemeChoice::Light]),
    ([1280.0, 800.0], [ThemeChoice::Light, ThemeChoice::Dark]),
    ([1920.0, 1080.0], [ThemeChoice::Dark, ThemeChoice::Light]),
    ([2560.0, 1440.0], [ThemeChoice::Light, ThemeChoice::Dark]),
    ([3840.0, 2160.0], [ThemeChoice::Dark, ThemeChoice::Light]),
];
/// The largest text that is looked at, in per cent.
const LARGE: u32 = 160;

fn walk_all(sizes: &[([f32; 2], [ThemeChoice; 2])]) {
    let mut found = Vec::new();
    let mut window = window_of(desk(long_named("160x90"), None), sizes[0].0.into());
    let chain = show(&window).chain(PICTURE).iter().rev().cloned().collect();
    window.state_mut().act(Action::Pin(Pin::new(PICTURE, chain)));
    until(&mut window, "the orders are known", |desk| desk.known().is_some());
    for &(size, themes) in sizes {
        for (percent, theme) in [100, LARGE].into_iter().zip(themes) {
            resize(&mut window, size, percent, theme);
            walk(&mut window, size, percent, &mut found);
        }
    }
    assert_none(&found);
}

#[test]
fn nothing_leaves_its_region_or_lies_over_another_in_a_small_window() {
    walk_all(&SIZES[..2]);
}

#[test]
fn nothing_leaves_its_region_or_lies_over_another_in_a_large_window() {
    walk_all(&SIZES[2..]);
}

/// The long named show with sections whose names, notes and lengths are as long as there can be.
fn sectioned() -> Work {
    let show = (**long_named("160x90").show()).clone();
    let section = |nth: usize| Section {
        note: long(&format!("{nth} note")),
        beats: (nth != 2).then_some(65_535.5),
        fade: 4095.5,
        ..Section::as_it_stands(&long(&format!("{nth} section")), &show)
    };
    let sections = (0..12).map(section).collect();
    let show = Show { sections, running_order: (0..9).collect(), ..show };
    Work::new(Document::Show(show), None)
}

#[test]
fn the_strip_of_sections_their_settings_and_the_running_order_keep_to_their_room() {
    let mut found = Vec::new();
    let mut window = window_of(desk(sectioned(), None), SIZES[0].0.into());
    for (size, themes) in [SIZES[0], SIZES[1], SIZES[3]] {
        for (percent, theme) in [100, LARGE].into_iter().zip(themes) {
            resize(&mut window, size, percent, theme);
            let go =
                |section| Action::Section(SectionAct::Go(Some(InSection { section, entry: Some(section) })));
            let states = [
                ("as it stands", vec![Action::Section(SectionAct::Go(None))]),
                ("a section", vec![go(2)]),
                ("its settings", vec![go(8), Action::Section(SectionAct::Settings(true))]),
            ];
            for (what, actions) in states {
                actions.into_iter().for_each(|action| window.state_mut().act(action));
                check(&mut window, &format!("{size:?} at {percent} %: {what}"), &mut found);
            }
            for section in [0, 2] {
                window.state_mut().act(go(section));
                window.state_mut().act(Action::Section(SectionAct::Rehearse(true)));
                window.state_mut().act(Action::Play(false));
                window.run_steps(3);
                let (drawn, regions) = (drawn(window.root()), window.state().regions().to_vec());
                assert_eq!(regions.len(), 1, "{regions:?}");
                let faults = faults(&drawn, &regions);
                found.extend(faults.into_iter().map(|fault| format!("{size:?} at {percent} %: {fault}")));
                window.state_mut().act(Action::Section(SectionAct::Rehearse(false)));
                window.state_mut().act(Action::Beats(0.0));
            }
        }
    }
    assert_none(&found);
}

#[test]
fn no_dialog_leaves_the_window_and_nothing_in_it_lies_over_another() {
    let mut found = Vec::new();
    for &(size, themes) in &SIZES[..4] {
        for (percent, theme) in [100, LARGE].into_iter().zip(themes) {
            let mut window = window_with_text(size, percent, theme);
            window.state_mut().act(Action::Edit(Edit::Rename { what: Named::Show, name: long("other") }));
            for dialog in dialogs::every() {
                let what = format!("{dialog:?}").chars().take(40).collect::<String>();
                window.state_mut().act(Action::Ask(dialog));
                window.run_steps(4);
                let at = format!("{size:?} at {percent} %: {what}");
                let drawn = drawn(window.root());
                let on_it = drawn.iter().filter(|one| one.region.as_deref() == Some(DIALOG)).count();
                assert!(on_it > 1, "{at} was not seen");
                // Nothing on it leaves the window, less the rim that a dialog has.
                let room = window.ctx.content_rect().shrink(RIM);
                let faults = faults(&drawn, &[(DIALOG, room)]).into_iter();
                found.extend(faults.map(|fault| format!("{at}: {fault}")));
            }
        }
    }
    assert_none(&found);
}

#[test]
fn what_can_be_done_with_an_effect_is_seen_at_once_in_a_small_window() {
    let mut found = Vec::new();
    for (percent, named) in
        [(100, work("night-ferry")), (100, long_named("160x90")), (120, work("night-ferry"))]
    {
        let mut window = window_of(desk(named, None), vec2(1024.0, 640.0));
        window.state_mut().act(Action::TextSize(percent));
        window.run_steps(3);
        window.set_size(vec2(1024.0, 640.0) / window.ctx.zoom_factor());
        window.run_steps(2);
        for at in 0..5 {
            window.state_mut().act(Action::Select(Spot { scope: PICTURE, at }));
            window.run_steps(2);
            let settings = window.state().regions().iter().find(|(name, _)| *name == "settings").unwrap().1;
            for name in ["Switch off", "Rename", "Reset", "Remove"] {
                let buttons = window.get_all_by_role_and_label(Role::Button, name);
                let rects: Vec<Rect> = buttons.map(|button| button.rect()).collect();
                if !rects.iter().any(|rect| settings.contains_rect(*rect)) {
                    found.push(format!("{percent} %, effect {at}: {name} at {rects:?} is cut by {settings}"));
                }
            }
        }
    }
    assert_none(&found);
}

#[test]
fn no_menu_leaves_the_window() {
    let mut found = Vec::new();
    for &(size, themes) in &SIZES[..2] {
        for (percent, theme) in [100, LARGE].into_iter().zip(themes) {
            let mut window = window_with_text(size, percent, theme);
            for menu in ["File", "Edit", "View", "Beat", "Add to the structure"] {
                let before: Vec<Rect> = drawn_anywhere(window.root());
                window.get_by_role_and_label(Role::Button, menu).click();
                window.run_steps(4);
                let room = window.ctx.content_rect().expand(TOLERANCE);
                let now: Vec<Rect> =
                    drawn_anywhere(window.root()).into_iter().filter(|rect| !before.contains(rect)).collect();
                assert!(now.len() > 2, "{menu} did not open: {now:?}");
                let out = now.iter().filter(|rect| !room.contains_rect(**rect));
                found.extend(out.map(|rect| format!("{size:?} at {percent} %: {menu}: {rect}")));
                window.key_press(egui::Key::Escape);
                window.run_steps(4);
            }
        }
    }
    assert_none(&found);
}

/// Where anything that can be pressed stands.
fn drawn_anywhere(root: Node<'_>) -> Vec<Rect> {
    let mut found = Vec::new();
    let mut open = vec![root];
    while let Some(node) = open.pop() {
        let rect = rect_of(&node);
        if node.accesskit_node().data().supports_action(Can::Click) && rect.is_positive() && rect.is_finite()
        {
            found.push(rect);
        }
        open.extend(node.children());
    }
    found
}

/// A region with faults planted: one button over another, and one out of its region.
#[test]
fn a_thing_over_another_or_out_of_its_region_is_found() {
    let region = Rect::from_min_size(egui::pos2(10.0, 10.0), vec2(200.0, 100.0));
    let build = |buttons: [[f32; 2]; 2]| {
        let harness =
            Harness::builder().with_size(vec2(400.0, 200.0)).with_context_setup(dress).build_ui(move |ui| {
                let builder = egui::UiBuilder::new().max_rect(region);
                let builder = builder.accessibility_role(Role::Region).accessibility_label("planted");
                let mut inside = ui.new_child(builder);
                for (nth, [x, y]) in buttons.into_iter().enumerate() {
                    let at = Rect::from_min_size(region.min + vec2(x, y), vec2(60.0, 24.0));
                    inside.put(at, egui::Button::new(["Port", "Starboard"][nth]));
                }
            });
        faults(&drawn(harness.root()), &[("planted", region)])
    };
    assert_eq!(build([[0.0, 0.0], [70.0, 0.0]]), Vec::<String>::new());
    let over = build([[0.0, 0.0], [40.0, 10.0]]);
    assert!(over.len() == 1 && over[0].contains("lies over"), "{over:?}");
    let out = build([[0.0, 0.0], [170.0, 50.0]]);
    assert!(out.len() == 1 && out[0].contains("leaves planted"), "{out:?}");
}
