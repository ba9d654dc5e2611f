//! Nothing in the window leaves its region or lies over its neighbour: what is selected, what is shown, tabs and
//! dialogs, at the sizes of screens from small to large, with the longest names that there can be, in large text, light
//! and dark.

use crate::driving::*;
use egui::accesskit::{Action as Can, Role};
use egui::{Rect, vec2};
use egui_kittest::kittest::NodeT as _;
use egui_kittest::{Harness, Node};
use underover::edit::{Edit, Named, Spot, Work};
use underover::files::Document;
use underover::show::{ClipPlace, Scope};
use underover::window::{Action, Dialog, Pin, Saving, Shown, Tab, ThemeChoice, dress};

/// The longest name that a file may hold.
const LONGEST: usize = 80;
/// Points by which two things may touch, and by which one may stand out of its region.
const TOLERANCE: f32 = 1.5;

/// A thing that is drawn: what it is to those who listen, where it stands, and in which region.
struct Drawn {
    said: String,
    rect: Rect,
    region: Option<String>,
    is_pressed: bool,
}

/// Where a thing stands, in points; nowhere where it was not said.
fn rect_of(node: &Node<'_>) -> Rect {
    match node.accesskit_node().bounding_box() {
        Some(_) => node.rect(),
        None => Rect::NOTHING,
    }
}

/// Everything that is drawn and holds nothing more that is.
fn drawn(root: Node<'_>) -> Vec<Drawn> {
    let mut found = Vec::new();
    let mut open = vec![(root, None::<String>)];
    while let Some((node, region)) = open.pop() {
        let inner = node.accesskit_node();
        let (role, label) = (inner.role(), inner.label().unwrap_or_default());
        let region = if role == Role::Region { Some(label.clone()) } else { region };
        let is_leaf = !matches!(
            role,
            Role::Region
                | Role::ScrollView
                | Role::ScrollBar
                | Role::GenericContainer
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
            found.push(Drawn { said, rect, region: region.clone(), is_pressed });
        }
        open.extend(node.children().map(|child| (child, region.clone())));
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
            let scrolls_down = matches!(*name, "settings" | "beside" | "structure");
            if (is_beside && *name != "path") || (is_below && !scrolls_down) {
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
                if is_over && !is_one && !holds(a, b) && !holds(b, a) {
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

fn long(what: &str) -> String {
    let mut name = format!("{what} of the night ferry, ");
    while name.chars().count() < LONGEST {
        name.push_str("harbour lights ");
    }
    name.chars().take(LONGEST - 1).chain(['X']).collect()
}

/// The demo, with every name as long as there can be.
fn long_named() -> Work {
    let mut show = (**work("night-ferry").show()).clone();
    show.frame = "160x90".parse().unwrap();
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
    Work::new(Document::Show(show), None)
}

fn check(window: &mut Window, what: &str, found: &mut Vec<String>) {
    window.run_steps(3);
    let drawn = drawn(window.root());
    // The bar is asked for less than it holds in a narrow window.
    let is_wide = window.ctx.content_rect().width() > 1200.0;
    let regions = window.state().regions().iter().copied();
    let regions: Vec<_> = regions.filter(|(name, _)| is_wide || *name != "bar").collect();
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
    states
}

fn walk([width, height]: [f32; 2], percent: u32, theme: ThemeChoice, found: &mut Vec<String>) {
    let mut window = window_of(desk(long_named(), None), vec2(width, height));
    window.state_mut().act(Action::Theme(theme));
    window.state_mut().act(Action::TextSize(percent));
    let chain = show(&window).chain(PICTURE).iter().rev().cloned().collect();
    window.state_mut().act(Action::Pin(Pin { scope: PICTURE, chain }));
    until(&mut window, "the orders are known", |desk| desk.known().is_some());
    // Library and lessons ask for more than a narrow column has.
    let is_narrow = width < 1920.0;
    let is_wide_one = |what: &str| ["tab library", "tab lessons"].contains(&what);
    for (what, actions) in states().into_iter().filter(|(what, _)| !(is_narrow && is_wide_one(what))) {
        for action in [Action::Show(Shown::Output), Action::Tab(Tab::Orders)].into_iter().chain(actions) {
            window.state_mut().act(action);
        }
        check(&mut window, &format!("{width}x{height} at {percent} %: {what}"), found);
    }
}

fn assert_none(found: &[String]) {
    assert!(found.is_empty(), "{} faults:\n{}", found.len(), found[..found.len().min(60)].join("\n"));
}

#[test]
fn nothing_leaves_its_region_or_lies_over_another_in_a_small_window() {
    let mut found = Vec::new();
    for percent in [100, 160] {
        walk([1024.0, 640.0], percent, ThemeChoice::Dark, &mut found);
        walk([1280.0, 800.0], percent, ThemeChoice::Light, &mut found);
    }
    assert_none(&found);
}

#[test]
fn nothing_leaves_its_region_or_lies_over_another_in_a_large_window() {
    let mut found = Vec::new();
    for percent in [100, 160] {
        walk([2560.0, 1440.0], percent, ThemeChoice::Light, &mut found);
        walk([3840.0, 2160.0], percent, ThemeChoice::Dark, &mut found);
    }
    assert_none(&found);
}

#[test]
fn no_sheet_leaves_the_window() {
    let spot = Spot { scope: PICTURE, at: 1 };
    let place = ClipPlace { bundle: 0, level: 0, clip: 0 };
    let mut found = Vec::new();
    for (size, percent) in [([1024.0, 640.0], 100), ([1024.0, 640.0], 160), ([1280.0, 800.0], 160)] {
        let mut window = window_of(desk(long_named(), None), size.into());
        window.state_mut().act(Action::TextSize(percent));
        window.state_mut().act(Action::Edit(Edit::Rename { what: Named::Show, name: long("other") }));
        for sheet in [
            Dialog::Open,
            Dialog::Save(Saving::Work),
            Dialog::Losing(Box::new(Action::Quit)),
            Dialog::Report { title: long("title"), text: long("text").repeat(6) },
            Dialog::Add(spot),
            Dialog::Rename(Named::Effect(spot)),
            Dialog::Rename(Named::Scope(Scope::Clip(0, 0, 0))),
            Dialog::Footage(place),
            Dialog::Condition,
            Dialog::Flashes,
            Dialog::Steps,
        ] {
            let what = format!("{sheet:?}").chars().take(40).collect::<String>();
            window.state_mut().act(Action::Ask(sheet));
            window.run_steps(4);
            let room = window.ctx.content_rect().expand(TOLERANCE);
            let mut open: Vec<(Node<'_>, bool)> = vec![(window.root(), false)];
            let mut count = 0;
            while let Some((node, is_in_sheet)) = open.pop() {
                let role = node.accesskit_node().role();
                let is_sheet = matches!(role, Role::Dialog | Role::AlertDialog);
                let rect = rect_of(&node);
                // What is further down in a list is scrolled to.
                let is_beside = rect.left() < room.left() || rect.right() > room.right();
                if rect.is_positive() && rect.is_finite() && (is_sheet || is_in_sheet) {
                    count += 1;
                    if is_beside || (is_sheet && !room.contains_rect(rect)) {
                        let said = node.accesskit_node().label().unwrap_or_default();
                        found.push(format!("{size:?} at {percent} %: {what}: {role:?} {said:?} at {rect}"));
                    }
                }
                open.extend(node.children().map(|child| (child, is_sheet || is_in_sheet)));
            }
            assert!(count > 1, "{what} was not seen");
        }
    }
    assert_none(&found);
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
