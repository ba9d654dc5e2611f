//! Names that steer how text reads, in the window: every panel, sheet, menu and hover shows them written out.

use std::fs;
use std::path::Path;

use crate::driving::{Window, catalogue, desk, key, press, until, window_of, write};
use egui::accesskit::Role;
use egui::epaint::Shape;
use egui::{Event, Key, Modifiers, Pos2, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use tempfile::TempDir;
use underover::base::hidden::hidden;
use underover::edit::{Edit, Named, Spot, Work};
use underover::library::Kind;
use underover::order::Condition;
use underover::show::{ClipPlace, Scope};
use underover::window::{
    Action, Comparing, Desk, Dialog, Folders, LibraryAct, List, Pair, Pictures, Pin, Prover, Saving,
    ShowFrom, Shown, Tab, dress,
};

/// What a name may hold besides letters: a turn of direction and its end (UAX 9), a soft hyphen, a filler without ink
/// and a space without width (UTS 39).
const NAME: &str = "evening \u{202e}lmot.png\u{2066} \u{ad}\u{3164}\u{200b}";

/// Where the effects of the show are, and one of its clips.
const BUNDLE: Scope = Scope::Bundle(0);

fn show(folder: &Path) -> String {
    let png = folder.join(format!("{NAME}.png"));
    format!(
        "format = \"underover/show/1\"
name = \"{NAME}\"
about = \"About {NAME}\\nand more\"
frame = {{ width = 64, height = 36 }}
tempo_bpm = 120.0

[[control]]
name = \"{NAME}\"
hand = \"left\"
kind = \"continuous\"
[[control.grip]]
scope = \"bundle:{NAME}\"
effect = \"{NAME} 1\"
setting = \"amount\"
low = 0.0
high = 1.0

[[control]]
name = \"kick {NAME}\"
hand = \"right\"
kind = \"momentary\"
key = \"K\"

[[control]]
name = \"latch {NAME}\"
hand = \"right\"
kind = \"latching\"

[[bundle]]
name = \"{NAME}\"

[[bundle.effect]]
use = \"tint\"
name = \"{NAME} 1\"

[[bundle.effect]]
use = \"edge-find\"
name = \"{NAME} 2\"
gain = {{ shape = \"envelope\", decay = 2.0, control = \"kick {NAME}\", low = 0.0, high = 8.0 }}

[[bundle.effect]]
use = \"flash-gate\"
name = \"{NAME} 3\"

[[bundle.effect]]
use = \"mirror\"
name = \"{NAME} 4\"
on = false

[[bundle.level]]
name = \"{NAME}\"

[[bundle.level.clip]]
name = \"{NAME}\"
footage = '{}'

[[bundle.level.clip]]
name = \"gone {NAME}\"
footage = 'gone {NAME}.png'

[[bundle.level]]
name = \"over {NAME}\"

[[bundle.level.clip]]
name = \"{NAME}\"
footage = \"generated:waves\"

[[bundle]]
name = \"over {NAME}\"

[[bundle.level]]
name = \"{NAME}\"

[[bundle.level.clip]]
name = \"{NAME}\"
footage = \"generated:waves\"
",
        png.display()
    )
}

fn lesson() -> String {
    let text = fs::read_to_string("presets/lessons/06-sparing-the-signs.toml").unwrap();
    let mut steered = String::new();
    for line in text.lines() {
        let begins = ["title = ", "question = ", "remember = ", "says = "];
        let line = match begins.iter().find(|begin| line.starts_with(**begin)) {
            Some(begin) => format!("{begin}\"{NAME} {}", &line[begin.len() + 1..]),
            None => line.replace("    \"", &format!("    \"{NAME} ")),
        };
        steered += &line;
        steered.push('\n');
    }
    steered
}

struct Home {
    folder: TempDir,
}

impl Home {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path();
        for part in ["data/chains", "data/starters", "data/lessons", "data/effects", "state"] {
            fs::create_dir_all(path.join(part)).unwrap();
        }
        image::RgbaImage::from_pixel(64, 36, image::Rgba([90, 140, 200, 255]))
            .save(path.join(format!("{NAME}.png")))
            .unwrap();
        fs::write(path.join(format!("{NAME}.toml")), show(path)).unwrap();
        let chain = format!(
            "format = \"underover/chain/1\"\nname = \"{NAME}\"\nabout = \"{NAME}\"\ntags = [\"{NAME}\"]\n
[[effect]]\nuse = \"tint\"\nname = \"{NAME}\"\n"
        );
        fs::write(path.join(format!("data/chains/{NAME}.toml")), &chain).unwrap();
        fs::write(path.join(format!("data/chains/broken {NAME}.toml")), format!("format = \"{NAME}\"\n"))
            .unwrap();
        let starter = show(path).replace("underover/show/1", "underover/starter/1");
        fs::write(path.join(format!("data/starters/{NAME}.toml")), starter).unwrap();
        fs::write(path.join(format!("data/lessons/{NAME}.toml")), lesson()).unwrap();
        fs::write(path.join(format!("data/lessons/broken {NAME}.toml")), "format = 1\n").unwrap();
        Self { folder }
    }

    fn path(&self, name: &str) -> std::path::PathBuf {
        self.folder.path().join(name)
    }

    fn window(&self) -> Window {
        let work = Work::open(&self.path(&format!("{NAME}.toml")), &catalogue()).unwrap();
        let folders =
            Folders { state: Some(self.path("state")), config: None, data: Some(self.path("data")) };
        let desk =
            Desk::new(work, catalogue(), Pictures::none(&catalogue()), Prover::new(None, || ()), folders);
        let builder = Harness::builder().with_size(vec2(1700.0, 1500.0)).with_max_steps(64);
        let builder = builder.with_context_setup(dress);
        let mut window = builder.build_ui_state(
            |ui, desk: &mut Desk| {
                desk.ui(ui);
                desk.after_pass();
            },
            desk,
        );
        window.run();
        // Hovers come at once, so that a test need not wait for each.
        window.ctx.all_styles_mut(|style| {
            style.interaction.tooltip_delay = 0.0;
            style.interaction.tooltip_grace_time = 0.0;
        });
        until(&mut window, "the orders are known", |desk| desk.known().is_some());
        window
    }
}

/// What is written in the window, as listeners hear it and as it is painted, apart from what listeners edit: fields
/// hold a text as it is, and paint a sign for each hidden character.
fn written(window: &Window) -> Vec<String> {
    let mut said = Vec::new();
    let mut open = vec![window.root()];
    while let Some(node) = open.pop() {
        let inner = node.accesskit_node();
        let data = inner.data();
        let is_field = matches!(inner.role(), Role::TextInput | Role::MultilineTextInput);
        if inner.role() != Role::TextRun {
            let texts = [data.label(), data.description(), data.placeholder(), data.tooltip()];
            said.extend(texts.into_iter().flatten().map(str::to_owned));
        }
        if !is_field && inner.role() != Role::TextRun {
            said.extend(data.value().map(str::to_owned));
        }
        open.extend(node.children());
    }
    for clipped in &window.output().shapes {
        painted(&clipped.shape, &mut said);
    }
    said
}

fn painted(shape: &Shape, said: &mut Vec<String>) {
    match shape {
        Shape::Vec(shapes) => shapes.iter().for_each(|shape| painted(shape, said)),
        Shape::Text(text) => said.push(text.galley.job.text.clone()),
        _ => {}
    }
}

/// Nothing hidden is shown raw.
fn check_plain(window: &Window, place: &str) -> Vec<String> {
    let written = written(window);
    for text in &written {
        let raw = hidden(text).find(|&character| !"\n\t".contains(character));
        assert!(raw.is_none(), "{place}: U+{:04X} in {text:?}", u32::from(raw.unwrap()));
    }
    written
}

/// Nothing hidden is shown raw, and the name is there.
fn check(window: &Window, place: &str) {
    let written = check_plain(window, place);
    assert!(written.iter().any(|text| text.contains("\\u202E")), "{place}: the name is nowhere");
}

/// What was pointed at before: its place and its name.
type Pointed = Vec<(Pos2, Option<String>)>;

/// Points at everything that was not pointed at before, and looks at what is said of it; gives how many hovers came.
fn check_hovers(window: &mut Window, pointed: &mut Pointed, place: &str) -> usize {
    check(window, place);
    let mut places: Vec<Pos2> = Vec::new();
    let mut open = vec![window.root()];
    while let Some(node) = open.pop() {
        open.extend(node.children());
        let inner = node.accesskit_node();
        let role = inner.role();
        if inner.bounding_box().is_none() {
            continue;
        }
        let at = node.rect().center();
        if !matches!(role, Role::Window | Role::GenericContainer | Role::TextRun | Role::ScrollBar)
            && !places.iter().any(|known| known.distance(at) < 2.0)
        {
            let this = (at, inner.label());
            if pointed.contains(&this) {
                continue;
            }
            pointed.push(this);
            places.push(at);
        }
    }
    let mut hovers = 0;
    let before = written(window).len();
    for at in places {
        window.hover_at(at);
        window.run_steps(3);
        check(window, &format!("{place}, at {at:?}"));
        hovers += usize::from(written(window).len() > before);
    }
    window.remove_cursor();
    window.run_steps(2);
    hovers
}

fn act(window: &mut Window, action: Action) {
    window.state_mut().act(action);
    window.run_steps(3);
}

#[test]
fn a_name_that_steers_is_written_out_in_every_tab_and_in_what_hovers_over_it() {
    let home = Home::new();
    let mut window = home.window();
    let mut pointed = Pointed::new();
    let pin = Pin::new(BUNDLE, window.state().work().show().chain(BUNDLE).clone());
    act(&mut window, Action::Pin(pin));
    for scope in window.state().work().show().scopes() {
        act(&mut window, Action::Scope(scope));
        check(&window, &format!("the settings of {scope:?}"));
    }
    for at in 0..4 {
        act(&mut window, Action::Select(Spot { scope: BUNDLE, at }));
        check(&window, &format!("effect {at}"));
    }
    act(&mut window, Action::Select(Spot { scope: BUNDLE, at: 1 }));
    let mut hovers = 0;
    for tab in Tab::ALL {
        act(&mut window, Action::Tab(tab));
        if tab == Tab::Library {
            until(&mut window, "the library is known", |desk| !desk.shelves().is_unknown());
        }
        hovers += check_hovers(&mut window, &mut pointed, &format!("{tab:?}"));
    }
    assert!(hovers > 20, "{hovers} hovers came");
    for list in [List::Chains, List::Starters, List::OtherShow, List::Removed] {
        act(&mut window, Action::Tab(Tab::Library));
        act(&mut window, Action::Library(LibraryAct::List(list)));
        for handle in [NAME.to_owned(), format!("broken {NAME}")] {
            if let Some(kind) = list.kind() {
                act(&mut window, Action::Library(LibraryAct::Choose(Some((kind, handle)))));
                check(&window, &format!("{list:?} chosen"));
            }
        }
        let other = ShowFrom::File(home.path(&format!("{NAME}.toml")));
        act(&mut window, Action::Library(LibraryAct::Look(other)));
        for part in [None, Some(BUNDLE), Some(Scope::Level(0, 0)), Some(Scope::Clip(0, 0, 0))] {
            act(&mut window, Action::Library(LibraryAct::Part(part)));
            check(&window, &format!("{list:?}, {part:?} of another show"));
        }
        check_hovers(&mut window, &mut pointed, &format!("{list:?}"));
    }
    // A chain taken and changed at its place, and one put away.
    let put = LibraryAct::Put {
        handle: NAME.to_owned(),
        scope: Scope::Global,
        way: underover::edit::Way::Replace,
        with_controls: true,
    };
    act(&mut window, Action::Library(put));
    act(&mut window, Action::Library(LibraryAct::List(List::Chains)));
    check(&window, "a chain taken");
    act(&mut window, Action::Library(LibraryAct::Remove(Kind::Chain, NAME.to_owned())));
    act(&mut window, Action::Library(LibraryAct::List(List::Removed)));
    until(&mut window, "it was removed", |desk| !desk.shelves().removed().is_empty());
    check_hovers(&mut window, &mut pointed, "what was removed");
}

#[test]
fn a_name_that_steers_is_written_out_in_every_sheet_and_menu() {
    let home = Home::new();
    let mut window = home.window();
    let mut pointed = Pointed::new();
    let spot = Spot { scope: BUNDLE, at: 1 };
    act(&mut window, Action::Select(spot));
    act(&mut window, Action::Edit(Edit::Rename { what: Named::Effect(spot), name: format!("{NAME} 9") }));
    act(&mut window, Action::Edit(Edit::Remove(Spot { scope: BUNDLE, at: 3 })));
    check_hovers(&mut window, &mut pointed, "after two steps");
    let saving =
        [Saving::Work, Saving::Picture, Saving::Wall, Saving::Chain, Saving::BuildSheet, Saving::Report];
    let file = home.path(&format!("{NAME}.toml"));
    let mut dialogs = vec![
        Dialog::Open,
        Dialog::Losing(Box::new(Action::Quit)),
        Dialog::Add(spot),
        Dialog::Rename(Named::Show),
        Dialog::Rename(Named::Scope(Scope::Clip(0, 0, 0))),
        Dialog::Rename(Named::Effect(spot)),
        Dialog::Footage(ClipPlace { bundle: 0, level: 0, clip: 1 }),
        Dialog::Condition,
        Dialog::Changed(file.clone()),
        Dialog::Flashes,
        Dialog::Steps,
    ];
    dialogs.extend(saving.map(Dialog::Save));
    for dialog in dialogs {
        act(&mut window, Action::Ask(dialog.clone()));
        check(&window, &format!("{dialog:?}"));
        act(&mut window, Action::Close);
    }
    act(&mut window, Action::Require(Condition::First(0)));
    check(&window, "a condition");
    let (left, right) = (vec![0, 1, 2], vec![1, 0, 2]);
    for way in Comparing::ALL {
        let pair = Pair::of(BUNDLE, left.clone(), right.clone(), way);
        act(&mut window, Action::Show(Shown::Pair(pair)));
        check(&window, &format!("{way:?}"));
    }
    for shown in [Shown::Order { scope: BUNDLE, order: right }, Shown::After(spot), Shown::Output] {
        act(&mut window, Action::Show(shown.clone()));
        check(&window, &format!("{shown:?}"));
    }
    act(&mut window, Action::Drag(Some((spot, Spot { scope: BUNDLE, at: 0 }))));
    check(&window, "a card carried");
    act(&mut window, Action::Drag(None));
    for menu in ["File", "Edit", "View"] {
        press(&mut window, menu);
        check(&window, menu);
        if menu == "File" {
            window.get_by_label_contains("Open recent").hover();
            window.run_steps(4);
            check(&window, "recent files");
        }
        key(&mut window, Modifiers::NONE, Key::Escape);
    }
    window.get_by_label_contains(": choose a clip").click();
    window.run_steps(4);
    check(&window, "the menu of clips");
    window.query_all_by_label_contains("Remove").last().unwrap().hover();
    window.run_steps(4);
    check(&window, "what can be removed");
    key(&mut window, Modifiers::NONE, Key::Escape);
    for card in ["Effect 1 ", "Order 1"] {
        window.query_all_by_label_contains(card).next().unwrap().click_secondary();
        window.run_steps(4);
        check(&window, &format!("the menu of {card}"));
        key(&mut window, Modifiers::NONE, Key::Escape);
    }
    // Words of the bottom line, and reports.
    act(&mut window, Action::Save);
    check(&window, "saved");
    act(&mut window, Action::Open(home.path(&format!("gone {NAME}.toml"))));
    check(&window, "a report");
    act(&mut window, Action::Close);
    act(&mut window, Action::Say(NAME.to_owned()));
    check(&window, "what was said");
}

#[test]
fn lost_work_with_a_name_that_steers_is_offered_with_it_written_out() {
    let home = Home::new();
    let work = Work::open(&home.path(&format!("{NAME}.toml")), &catalogue()).unwrap();
    let mut changed = work.clone();
    changed.apply(&Edit::Tempo(97.0)).unwrap();
    let lost = underover::edit::Recovery::begin(&home.path("state")).unwrap();
    lost.keep(&changed).unwrap();
    drop(lost);
    let window = home.window();
    assert_eq!(window.state().view().dialog, Some(Dialog::Recover));
    check(&window, "lost work");
}

#[test]
fn a_lesson_of_ones_own_shows_what_steers_written_out() {
    let home = Home::new();
    let mut window = home.window();
    let mut pointed = Pointed::new();
    act(&mut window, Action::Tab(Tab::Lessons));
    check_hovers(&mut window, &mut pointed, "the list of lessons");
    let at = window.state().lessons().offered.iter().position(|one| !one.is_built_in).unwrap();
    act(&mut window, Action::Lesson(underover::window::LessonAct::Open(at)));
    check(&window, "a lesson");
    act(&mut window, Action::Lesson(underover::window::LessonAct::Choose(0)));
    check(&window, "a lesson answered");
}

#[test]
fn a_field_keeps_what_steers_and_says_beside_itself_what_it_holds() {
    let home = Home::new();
    let mut window = home.window();
    act(&mut window, Action::Ask(Dialog::Rename(Named::Show)));
    let field = window.get_all_by_label("Name").last().unwrap().accesskit_node().value();
    assert_eq!(field.as_deref(), Some(NAME), "what is edited is the name itself");
    let says = "holds 5 hidden characters: U+202E, right-to-left override; U+2066, left-to-right isolate; U+00AD, soft hyphen; U+3164, Hangul filler; and 1 more";
    assert_eq!(window.query_all_by_label(says).count(), 2, "its text has it, too: {:?}", written(&window));
    assert!(written(&window).contains(&"evening ◊lmot.png◊ ◊◊◊".to_owned()), "a sign stands for each");
    key(&mut window, Modifiers::COMMAND, Key::A);
    write(&mut window, "evening tide");
    assert_eq!(window.query_all_by_label_contains("hidden character").count(), 1);
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(window.state().work().show().name, "evening tide");
    for tab in [Tab::Hands, Tab::Library] {
        act(&mut window, Action::Tab(tab));
        until(&mut window, "the library is known", |desk| {
            tab != Tab::Library || !desk.shelves().is_unknown()
        });
        if tab == Tab::Library {
            act(&mut window, Action::Library(LibraryAct::Choose(Some((Kind::Chain, NAME.to_owned())))));
        }
        assert!(window.query_all_by_label_contains("hidden character").next().is_some(), "{tab:?}");
    }
}

/// Every field in which something can be typed: what it is and its name.
fn fields(window: &Window) -> Vec<(Role, String)> {
    let mut found = Vec::new();
    let mut open = vec![window.root()];
    while let Some(node) = open.pop() {
        open.extend(node.children());
        let inner = node.accesskit_node();
        let is_one = matches!(inner.role(), Role::TextInput | Role::MultilineTextInput | Role::SpinButton);
        let name = inner.label().unwrap_or_default();
        if is_one && !inner.is_disabled() && !found.contains(&(inner.role(), name.clone())) {
            found.push((inner.role(), name));
        }
    }
    found
}

/// Pastes a turn of direction into every field that `open` shows and that is not among those `tried`.
fn paste_everywhere(window: &mut Window, tried: &mut Vec<(Role, String)>, open: impl Fn(&mut Window)) {
    let pasted = "ab\u{202e}cd";
    open(window);
    let new: Vec<_> = fields(window).into_iter().filter(|field| !tried.contains(field)).collect();
    for (role, name) in &new {
        open(window);
        let here = window.query_all_by_label(name).find(|node| node.accesskit_node().role() == *role);
        let here = here.unwrap_or_else(|| panic!("{name} is gone"));
        here.scroll_to_me();
        here.focus();
        window.run_steps(3);
        key(window, Modifiers::COMMAND, Key::A);
        window.event(Event::Paste(pasted.to_owned()));
        for _ in 0..3 {
            window.step();
            check_plain(window, name);
        }
        let said = written(window);
        let note = "holds a hidden character: U+202E, right-to-left override";
        assert!(said.iter().any(|text| text == note), "{name} ({role:?}) says nothing: {said:?}");
        assert!(said.iter().any(|text| text.contains("ab◊cd")), "{name} ({role:?}) shows no sign");
        key(window, Modifiers::COMMAND, Key::A);
        key(window, Modifiers::NONE, Key::Backspace);
        key(window, Modifiers::NONE, Key::Escape);
        assert!(!written(window).iter().any(|text| text == note), "{name} ({role:?}) still says it");
    }
    tried.extend(new);
}

#[test]
fn whatever_field_a_turn_of_direction_is_pasted_into_says_so_and_shows_a_sign() {
    let text = include_str!("../../presets/shows/night-crossing.toml");
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("listed.toml");
    fs::write(&file, text.replace("control = \"Horn\", low", "at = [0.0, 3.5], low")).unwrap();
    let crossing = Work::open(&file, &catalogue()).unwrap();
    let mut window = window_of(desk(crossing, None), vec2(1700.0, 1500.0));
    let spot = Spot { scope: BUNDLE, at: 0 };
    let clip = ClipPlace { bundle: 0, level: 0, clip: 0 };
    let mut tried = Vec::new();
    for sheet in [
        Dialog::Open,
        Dialog::Save(Saving::Work),
        Dialog::Add(spot),
        Dialog::Rename(Named::Show),
        Dialog::Footage(clip),
    ] {
        paste_everywhere(&mut window, &mut tried, |window| act(window, Action::Ask(sheet.clone())));
        act(&mut window, Action::Close);
    }
    for tab in Tab::ALL {
        paste_everywhere(&mut window, &mut tried, |window| act(window, Action::Tab(tab)));
    }
    act(&mut window, Action::Tab(Tab::Library));
    let list = Action::Library(LibraryAct::List(List::OtherShow));
    paste_everywhere(&mut window, &mut tried, |window| act(window, list.clone()));
    let global = Spot { scope: Scope::Global, at: 0 };
    for spot in [0, 1, 2].map(|at| Spot { scope: BUNDLE, at }).into_iter().chain([global]) {
        paste_everywhere(&mut window, &mut tried, |window| act(window, Action::Select(spot)));
    }
    for field in [
        "Search effects",
        "Search the library",
        "Name",
        "Path of the file",
        "File of another show",
        "Picture to come near",
        "Beat",
        "Colour as #rrggbb",
        "Gain: to",
        "Amount: beats, parted by spaces",
        "Name of Horn",
    ] {
        assert!(tried.iter().any(|(_, name)| name == field), "{field} was not tried: {tried:?}");
    }
}
