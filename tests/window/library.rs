//! The library in the window: found, put onto the path, kept, renamed, removed, restored, and begun from.

use std::fs;
use std::path::PathBuf;

use crate::driving::{
    PICTURE, Window, carry, catalogue, key, middle, nameless, names, press, show, until, window_of, work,
    write,
};
use egui::{Key, Modifiers, Pos2, vec2};
use egui_kittest::kittest::Queryable as _;
use tempfile::TempDir;
use underover::base::embedded::CHAINS;
use underover::edit::Edit;
use underover::files;
use underover::files::Document;
use underover::gpu::Gpu;
use underover::library::Kind;
use underover::show::Scope;
use underover::show::clip::FootageName;
use underover::window::{Action, Desk, Folders, LibraryAct, Pictures, Prover, Saving};

const LINES: &str = "format = \"underover/chain/1\"
name = \"Harbour lines\"
about = \"Outlines first.\"
tags = [\"warm\"]

[[effect]]
use = \"edge-find\"

[[effect]]
use = \"tint\"
amount = 0.3
";

struct Person {
    home: TempDir,
}

impl Person {
    fn new() -> Self {
        let home = tempfile::tempdir().unwrap();
        fs::create_dir_all(home.path().join("data/chains")).unwrap();
        fs::write(home.path().join("data/chains/harbour-lines.toml"), LINES).unwrap();
        Self { home }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.home.path().join(name)
    }

    fn chains(&self) -> Vec<String> {
        let entries = fs::read_dir(self.path("data/chains")).unwrap();
        let mut names: Vec<String> =
            entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }

    /// The window on a show of the program, with the library open.
    fn window(&self, preset: &str) -> Window {
        let folders =
            Folders { state: Some(self.path("state")), config: None, data: Some(self.path("data")) };
        let desk = Desk::new(
            work(preset),
            catalogue(),
            Pictures::none(&catalogue()),
            Prover::new(None, || ()),
            folders,
        );
        let mut window = window_of(desk, vec2(1440.0, 900.0));
        key(&mut window, Modifiers::NONE, Key::Num6);
        until(&mut window, "the library is known", |desk| !desk.shelves().is_unknown());
        window
    }
}

const CARD: &str = "Chain Harbour lines, yours: edge-find, tint";

fn known(window: &mut Window, what: &str, handle: &str, is_there: bool) {
    until(window, what, |desk| desk.shelves().entry(Kind::Chain, handle).is_some() == is_there);
}

/// Puts the keyboard into a field, in place of what stands there.
fn fill(window: &mut Window, field: &str, text: &str) {
    window.get_by_label(field).click();
    window.run();
    key(window, Modifiers::COMMAND, Key::A);
    write(window, text);
}

#[test]
fn a_chain_is_put_in_place_of_under_and_over_the_effects_and_each_is_one_step() {
    let person = Person::new();
    let mut window = person.window("harbour-lamps");
    assert_eq!(names(&window, PICTURE), ["edge-find", "tint"]);
    press(&mut window, CARD);
    press(&mut window, "Put Harbour lines over the effects on bundle:harbour");
    assert_eq!(names(&window, PICTURE), ["edge-find", "tint", "edge-find", "tint"]);
    press(&mut window, "Put Harbour lines under the effects on bundle:harbour");
    assert_eq!(names(&window, PICTURE).len(), 6);
    press(&mut window, "Replace the effects on bundle:harbour by Harbour lines");
    assert_eq!(names(&window, PICTURE), ["edge-find", "tint"]);
    assert_eq!(show(&window).taken.len(), 1);
    assert_eq!(show(&window).taken[0].preset, "library:harbour-lines");
    assert_eq!(window.state().work().history().done().len(), 3);
    for _ in 0..3 {
        key(&mut window, Modifiers::COMMAND, Key::Z);
    }
    assert!(show(&window).taken.is_empty());
}

#[test]
fn a_card_is_carried_onto_a_scope_of_the_path() {
    let person = Person::new();
    let mut window = person.window("harbour-lamps");
    assert!(show(&window).global.is_empty());
    let (from, to) = (middle(&window, CARD), middle(&window, "Scope global everything, 0 effects"));
    carry(&mut window, from, to);
    window.drop_at(to);
    window.run();
    assert_eq!(names(&window, Scope::Global), ["edge-find", "tint"]);
    assert_eq!(window.state().view().scope, Scope::Global);
    // Onto effects that are there already it goes under, in place of, or over them: whichever word it is let go on.
    let own = ["invert"];
    for (way, expected) in [
        (0, ["edge-find", "tint", "invert"].as_slice()),
        (1, &["edge-find", "tint"]),
        (2, &["invert", "edge-find", "tint"]),
    ] {
        let mut window = person.window("harbour-lamps");
        let chain = [underover::show::chain::EffectUse::new(catalogue().effect("invert").unwrap().clone())];
        window.state_mut().act(Action::Edit(Edit::Chain {
            scope: Scope::Global,
            chain: chain.into_iter().collect(),
            name: "own".to_owned(),
        }));
        window.run();
        assert_eq!(names(&window, Scope::Global), own);
        let from = middle(&window, CARD);
        let heading = window.get_by_label("Scope global everything, 1 effect").rect();
        carry(&mut window, from, heading.center());
        // Under its heading a section holds its cards.
        let section = egui::Rect::from_min_size(heading.min, vec2(heading.width(), 108.0));
        // Side by side in a wide section, one above the other in a narrow one.
        let share = (way as f32 + 0.5) / 3.0;
        let to = if section.width() >= 180.0 {
            Pos2::new(section.left() + section.width() * share, section.center().y)
        } else {
            Pos2::new(section.center().x, section.top() + section.height() * share)
        };
        window.hover_at(to);
        window.run();
        window.drop_at(to);
        window.run();
        assert_eq!(names(&window, Scope::Global), expected);
    }
    // Let go anywhere else, it goes nowhere.
    let steps = window.state().work().history().done().len();
    carry(&mut window, from, Pos2::new(300.0, 600.0));
    window.drop_at(Pos2::new(300.0, 600.0));
    window.run();
    assert_eq!(window.state().work().history().done().len(), steps);
}

#[test]
fn the_chain_on_the_desk_is_kept_renamed_duplicated_removed_and_restored() {
    let person = Person::new();
    let mut window = person.window("harbour-lamps");
    fill(&mut window, "Name under which the chain of bundle:harbour is kept", "Quay lamps");
    press(&mut window, "Keep the chain of bundle:harbour");
    known(&mut window, "it is kept", "quay-lamps", true);
    assert_eq!(person.chains(), ["harbour-lines.toml", "quay-lamps.toml"]);
    let read = files::read(&person.path("data/chains/quay-lamps.toml"), &catalogue()).unwrap();
    let Document::Chain(kept) = read else { panic!("a chain") };
    assert_eq!(&kept.chain, show(&window).chain(PICTURE));

    fill(&mut window, "Another name for Quay lamps", "Pier lamps");
    press(&mut window, "Rename Quay lamps");
    known(&mut window, "it has its new name", "pier-lamps", true);
    known(&mut window, "the old name is gone", "quay-lamps", false);
    press(&mut window, "Duplicate Pier lamps");
    known(&mut window, "there is a copy", "pier-lamps-2", true);
    press(&mut window, "Remove Pier lamps 2");
    known(&mut window, "the copy is gone", "pier-lamps-2", false);
    assert_eq!(person.chains(), ["harbour-lines.toml", "pier-lamps.toml"]);
    press(&mut window, "Removed 1");
    press(&mut window, "Restore the chain pier-lamps-2, number 1");
    known(&mut window, "the copy is back", "pier-lamps-2", true);
    assert_eq!(person.chains().len(), 3);
}

#[test]
fn a_search_leaves_what_it_finds_and_says_what_it_does_not_understand() {
    let person = Person::new();
    let mut window = person.window("harbour-lamps");
    fill(&mut window, "Search the library", "tag:warm effect:edge outlines");
    assert!(window.query_by_label(CARD).is_some());
    assert!(window.query_by_label_contains("Chain Still water").is_none());
    fill(&mut window, "Search the library", "colour:ornage");
    assert!(window.query_by_label_contains("did you mean `orange`?").is_some());
    fill(&mut window, "Search the library", "no such thing");
    assert!(window.query_by_label("No chain is like that.").is_some());
}

#[test]
fn a_broken_file_is_a_card_with_its_error_and_a_file_of_another_program_comes_by_itself() {
    let person = Person::new();
    fs::write(person.path("data/chains/spoiled.toml"), LINES.replace("edge-find", "edge-fnid")).unwrap();
    let mut window = person.window("harbour-lamps");
    press(&mut window, "Chain spoiled, yours: broken");
    assert!(window.query_by_label_contains("did you mean `edge-find`?").is_some());
    assert!(window.query_by_label_contains("Replace the effects").is_none());
    fs::write(person.path("data/chains/later.toml"), LINES.replace("Harbour lines", "Later")).unwrap();
    known(&mut window, "the other program's file is listed", "later", true);
}

#[test]
fn the_window_says_that_the_library_has_a_newer_one_and_takes_it_when_asked() {
    let person = Person::new();
    let mut window = person.window("harbour-lamps");
    press(&mut window, CARD);
    press(&mut window, "Replace the effects on bundle:harbour by Harbour lines");
    let before = show(&window);
    assert!(window.query_by_label_contains("bundle:harbour took harbour-lines").is_none());
    let newer = LINES.replace("amount = 0.3", "amount = 0.9");
    fs::write(person.path("data/chains/harbour-lines.toml"), newer).unwrap();
    until(&mut window, "the newer one is found", |desk| {
        let show = desk.work().show().clone();
        desk.shelves().copies(&show)[0].state == underover::library::State::NewerThere
    });
    assert_eq!(show(&window), before, "nothing changes by itself");
    assert!(
        window
            .query_by_label_contains("bundle:harbour took harbour-lines: the library has a newer one.")
            .is_some()
    );
    press(&mut window, "Update bundle:harbour from harbour-lines");
    assert_ne!(show(&window), before);
    assert!(window.query_by_label_contains("bundle:harbour took harbour-lines").is_none());
}

#[test]
fn an_entry_says_which_shows_opened_lately_took_it() {
    let person = Person::new();
    let mut window = person.window("harbour-lamps");
    press(&mut window, CARD);
    press(&mut window, "Replace the effects on bundle:harbour by Harbour lines");
    assert!(window.query_by_label_contains("Used in").is_none());
    let file = person.path("friday.toml");
    window.state_mut().act(Action::Write(Saving::Work, file));
    until(&mut window, "the show is looked through", |desk| {
        let entry = desk.shelves().entry(Kind::Chain, "harbour-lines").cloned();
        entry.is_some_and(|entry| !desk.shelves().used_in(&entry).is_empty())
    });
    window.run();
    let told = "Used in friday.toml: bundle:harbour (as the library has it)";
    assert!(window.query_by_label(told).is_some());
    // Another chain is not said to be used there.
    press(&mut window, "Chain Lamp lines, in the program: edge-find, tint");
    assert!(window.query_by_label_contains("Used in").is_none());
}

#[test]
fn a_show_is_begun_from_a_starter_and_unsaved_work_is_asked_about() {
    let person = Person::new();
    let mut window = person.window("harbour-lamps");
    press(&mut window, "Starters 3");
    press(&mut window, "Keep Harbour lamps as a starter");
    assert!(
        window.state_mut().shelves().is_busy() || person.path("data/starters/harbour-lamps.toml").exists()
    );
    until(&mut window, "it is kept", |desk| desk.shelves().entry(Kind::Starter, "harbour-lamps").is_some());
    assert!(person.path("data/starters/harbour-lamps.toml").exists());
    press(&mut window, "Begin a show from Harbour lamps");
    let begun = show(&window);
    assert!(!begun.is_starter && window.state().work().file().is_none());
    assert!(matches!(begun.bundles[0].levels[0].clips[0].footage, FootageName::StandIn(..)));
    // With a change that is in no file it asks first.
    key(&mut window, Modifiers::NONE, Key::Num6);
    press(&mut window, &format!("Chains {}", CHAINS.len() + 1));
    press(&mut window, CARD);
    press(&mut window, "Replace the effects on bundle:harbour by Harbour lines");
    press(&mut window, "Starters 4");
    press(&mut window, "Starter Harbour lamps, yours: edge-find, tint");
    press(&mut window, "Begin a show from Harbour lamps");
    assert_eq!(show(&window).taken.len(), 1);
    press(&mut window, "Discard");
    assert!(show(&window).taken.is_empty());
}

#[test]
fn every_control_of_the_library_has_a_name_and_cards_are_reached_by_the_keyboard() {
    let person = Person::new();
    let mut window = person.window("harbour-lamps");
    assert_eq!(nameless(&window), Vec::<String>::new());
    window.get_by_label(CARD).focus();
    window.run();
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert!(window.query_by_label("Put Harbour lines over the effects on bundle:harbour").is_some());
    assert_eq!(nameless(&window), Vec::<String>::new());
    press(&mut window, "Starters 3");
    assert_eq!(nameless(&window), Vec::<String>::new());
    press(&mut window, "Removed 0");
    assert_eq!(nameless(&window), Vec::<String>::new());
}

#[test]
fn thumbnails_are_made_on_the_gpu_once_and_kept_by_what_they_are_of() {
    let person = Person::new();
    let window_with_pictures = || {
        let gpu = Gpu::open(None).unwrap();
        let folders =
            Folders { state: Some(person.path("state")), config: None, data: Some(person.path("data")) };
        let pictures = Pictures::on(gpu, wgpu::TextureFormat::Rgba8Unorm, &catalogue());
        let desk = Desk::new(work("harbour-lamps"), catalogue(), pictures, Prover::new(None, || ()), folders);
        let mut window = window_of(desk, vec2(1440.0, 900.0));
        key(&mut window, Modifiers::NONE, Key::Num6);
        until(&mut window, "the library is known", |desk| !desk.shelves().is_unknown());
        until(&mut window, "the thumbnails are there", |desk| !desk.shelves().is_busy());
        window
    };
    let kept = || -> Vec<(String, std::time::SystemTime)> {
        let entries = fs::read_dir(person.path("state/thumbnails")).unwrap();
        let mut kept: Vec<_> = entries
            .map(|entry| entry.unwrap())
            .map(|entry| {
                (entry.file_name().into_string().unwrap(), entry.metadata().unwrap().modified().unwrap())
            })
            .collect();
        kept.sort();
        kept
    };
    drop(window_with_pictures());
    let first = kept();
    assert_eq!(first.len(), CHAINS.len() + 1, "the chains of the program and one of the person's");
    let picture = image::open(person.path("state/thumbnails").join(&first[0].0)).unwrap();
    assert_eq!([picture.width(), picture.height()], [160, 90]);
    drop(window_with_pictures());
    assert_eq!(kept(), first, "none is made again");
    // A damaged one and one of a changed chain are made anew; another name changes nothing.
    let changed = LINES.replace("amount = 0.3", "amount = 0.9").replace("Harbour lines", "Other");
    fs::write(person.path("data/chains/harbour-lines.toml"), LINES.replace("Harbour lines", "Other"))
        .unwrap();
    drop(window_with_pictures());
    assert_eq!(kept(), first);
    fs::write(person.path("data/chains/harbour-lines.toml"), changed).unwrap();
    fs::write(person.path("state/thumbnails").join(&first[0].0), "no picture").unwrap();
    drop(window_with_pictures());
    assert_eq!(kept().len(), CHAINS.len() + 2);
}

const OTHER: &str = "format = \"underover/show/1\"
name = \"Friday\"

[[bundle]]
name = \"signs\"
[[bundle.level]]
name = \"mark\"
[[bundle.level.clip]]
name = \"mark\"
footage = \"generated:ship-mark\"

[[bundle]]
name = \"picture\"
[[bundle.effect]]
use = \"mirror\"
[[bundle.level]]
name = \"waves\"
[[bundle.level.clip]]
name = \"waves\"
footage = \"generated:waves\"
";

#[test]
fn parts_of_another_show_are_brought_over_each_in_one_step_and_it_is_told_what_changed() {
    let person = Person::new();
    let file = person.path("friday.toml");
    fs::write(&file, OTHER).unwrap();
    let mut window = person.window("night-ferry");
    press(&mut window, "Another show");
    // A chain is no show, and a file that is not there has no parts: it is told, and nothing changes.
    for (wrong, said) in
        [("data/chains/harbour-lines.toml", "parts are brought from a show"), ("gone.toml", "gone.toml")]
    {
        fill(&mut window, "File of another show", &person.path(wrong).display().to_string());
        press(&mut window, "Look into that file");
        assert!(window.query_all_by_label_contains(said).next().is_some(), "{said}");
        key(&mut window, Modifiers::NONE, Key::Escape);
        assert!(window.state_mut().shelves().other.is_none());
    }
    fill(&mut window, "File of another show", &file.display().to_string());
    press(&mut window, "Look into that file");
    let bundles =
        |window: &Window| show(window).bundles.iter().map(|one| one.name.clone()).collect::<Vec<_>>();
    let before = show(&window);
    let own = bundles(&window);

    press(&mut window, "bundle:signs of Friday");
    press(&mut window, "Bring bundle:signs over all bundles");
    assert_eq!(bundles(&window)[..own.len()], own);
    assert_eq!(bundles(&window).len(), own.len() + 1);
    // Where the name was taken, it is told which was given instead.
    let brought = bundles(&window).pop().unwrap();
    assert_eq!(brought == "signs", !own.contains(&"signs".to_owned()));
    if brought != "signs" {
        assert!(window.state().view().said.contains(&brought), "{}", window.state().view().said);
    }

    press(&mut window, "level:picture/waves of Friday");
    press(&mut window, &format!("Bring level:picture/waves into bundle:{}", own[0]));
    let levels = |window: &Window| {
        show(window).bundles[0].levels.iter().map(|one| one.name.clone()).collect::<Vec<_>>()
    };
    assert_eq!(levels(&window).last().map(String::as_str), Some("waves"));

    press(&mut window, "clip:picture/waves/waves of Friday");
    let level = format!("level:{}/{}", own[0], levels(&window)[0]);
    press(&mut window, &format!("Bring clip:picture/waves/waves into {level}"));
    // The demo has waves there already.
    let brought = show(&window).bundles[0].levels[0].clips.last().map(|clip| clip.name.clone());
    assert_eq!(brought.as_deref(), Some("waves 2"));
    assert!(window.state().view().said.contains("waves 2"), "{}", window.state().view().said);

    let onto = show(&window).address(window.state().view().scope);
    let chain = names(&window, window.state().view().scope);
    press(&mut window, "bundle:picture of Friday");
    press(&mut window, &format!("The chain of bundle:picture over the effects on {onto}"));
    assert_eq!(names(&window, window.state().view().scope), [chain, vec!["mirror".to_owned()]].concat());

    assert_eq!(window.state().work().history().done().len(), 4);
    for _ in 0..4 {
        key(&mut window, Modifiers::COMMAND, Key::Z);
    }
    assert_eq!(show(&window), before);
    assert!(nameless(&window).is_empty());
}

/// A guest's clips: one on a level that the demo has, one that is nowhere; and a section of the first.
const GUEST: &str = "format = \"underover/show/1\"
name = \"Guest\"

[[bundle]]
name = \"picture\"
[[bundle.level]]
name = \"crossing\"
[[bundle.level.clip]]
name = \"dawn\"
footage = \"dawn.png\"
[[bundle.level]]
name = \"quay\"
[[bundle.level.clip]]
name = \"crane\"
footage = \"crane.png\"

[[section]]
name = \"dawn\"
shows = { \"picture/crossing\" = \"dawn\" }
";

#[test]
fn the_clips_of_another_show_are_brought_together_with_their_footage_and_undone_as_one() {
    let person = Person::new();
    let file = person.path("guest.toml");
    fs::write(&file, GUEST).unwrap();
    fs::create_dir_all(person.path("usb/loops")).unwrap();
    image::RgbaImage::new(4, 4).save(person.path("usb/loops/dawn.png")).unwrap();
    let mut window = person.window("night-ferry");
    press(&mut window, "File");
    press(&mut window, "Bring clips of another show \u{2026}");
    fill(&mut window, "File of another show", &file.display().to_string());
    press(&mut window, "Look into that file");
    let before = show(&window);
    let bring = |window: &mut Window| {
        press(window, "Bring these clips of Guest");
        until(window, "the clips have come", |desk| !desk.shelves().packs.is_looking());
        window.run();
    };
    // A folder that is none is told, and nothing comes.
    fill(&mut window, "Folder of their footage", &person.path("nowhere").display().to_string());
    bring(&mut window);
    assert!(window.query_all_by_label_contains("There is no folder").next().is_some());
    key(&mut window, Modifiers::NONE, Key::Escape);
    fill(&mut window, "Folder of their footage", &person.path("usb").display().to_string());
    bring(&mut window);
    let said = window.state().view().said.clone();
    assert!(said.starts_with("2 clips of Guest were brought. A stand-in shows for one."), "{said}");
    assert!(said.contains("there is no ") && said.contains("crane.png"), "{said}");
    let levels = &show(&window).bundles[0].levels;
    let dawn = levels[0].clips.last().unwrap();
    assert_eq!(dawn.name, "dawn");
    let there = FootageName::File { written: "dawn.png".to_owned(), path: person.path("usb/loops/dawn.png") };
    assert_eq!(dawn.footage, there);
    let crane = &levels.last().unwrap().clips[0].footage;
    assert_eq!(crane.to_string(), "stand-in:crane");
    assert_eq!(window.state().work().history().done().last().unwrap().name, "Bring the clips of Guest");
    // Once more brings nothing new; then the section alone comes, with what it shows.
    bring(&mut window);
    assert!(window.state().view().said.starts_with("No clip of Guest is new here."));
    assert_eq!(window.state().work().history().done().len(), 1);
    window.get_by_label("Which of its clips").click();
    window.run();
    press(&mut window, "those of dawn, and the section: 1 clip");
    bring(&mut window);
    assert_eq!(show(&window).sections[0].shows.get(&[0, 0]), Some(&Some(levels[0].clips.len() - 1)));
    // Which shows opened lately have some of them is told where they are from.
    window.state_mut().act(Action::Write(Saving::Work, person.path("night.toml")));
    let other = window.state_mut().shelves().other.clone().unwrap();
    until(&mut window, "the show is looked through", |desk| !desk.shelves().used_in_pack(&other).is_empty());
    window.run();
    let used = window
        .query_all_by_label_contains("Used in night.toml: clip:picture/crossing/dawn (as that show has it)");
    assert_eq!(used.count(), 1);
    assert!(nameless(&window).is_empty());
    for _ in 0..2 {
        key(&mut window, Modifiers::COMMAND, Key::Z);
    }
    assert_eq!(show(&window), before);
}

#[test]
fn sections_of_the_show_follow_a_chain_that_is_called_something_else_and_it_is_undone_as_one() {
    let person = Person::new();
    let mut window = person.window("harbour-lamps");
    let bundle = Scope::Bundle(0);
    let mut section = underover::show::Section::of("open water");
    section.chains.insert(bundle, "library:harbour-lines".to_owned());
    let add = underover::edit::SectionEdit::Add(Box::new(section));
    window.state_mut().act(Action::Edit(Edit::Section(add)));
    window.run();
    let before = show(&window);
    let rename = LibraryAct::Rename(Kind::Chain, "harbour-lines".to_owned(), "Old gold".to_owned());
    window.state_mut().act(Action::Library(rename));
    window.run();
    assert_eq!(show(&window).sections[0].chains[&bundle], "library:old-gold");
    let said = window.state().view().said.clone();
    assert!(
        said.contains("Kept in your library as old-gold. The sections of this show that lay it follow."),
        "{said}"
    );
    key(&mut window, Modifiers::COMMAND, Key::Z);
    assert_eq!(show(&window), before);
}

#[cfg(unix)]
#[test]
fn a_starter_is_kept_on_a_thread_of_its_own_so_that_no_footage_holds_the_window_up() {
    let person = Person::new();
    // A pipe that nobody writes into: whoever opened it here would wait.
    let slow = person.path("slow.y4m");
    assert!(std::process::Command::new("mkfifo").arg(&slow).status().unwrap().success());
    let mut window = person.window("harbour-lamps");
    let footage = FootageName::File { written: slow.display().to_string(), path: slow.clone() };
    let mut changed = show(&window);
    changed.bundles[0].levels[0].clips[0].footage = footage;
    let file = person.path("slow.toml");
    fs::write(&file, files::show_text(&changed, person.home.path())).unwrap();
    window.state_mut().act(Action::Open(file));
    window.run();
    window.state_mut().act(Action::Library(LibraryAct::KeepStarter("Slow".to_owned())));
    // It is on its way on a thread of its own: the act itself has looked at nothing.
    assert!(window.state_mut().shelves().is_keeping());
    assert!(window.state().view().said.contains("Keeping Slow"), "{}", window.state().view().said);
    window.run_steps(3);
    until(&mut window, "it is kept or refused", |desk| !desk.shelves().is_keeping());
    assert!(window.state().view().dialog.is_none(), "{:?}", window.state().view().dialog);
}
