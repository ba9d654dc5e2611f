//! Sections of a show and their order: read, refused, changed, written back, and looked at.

use std::fs;
use std::path::Path;

use proptest::collection::vec;
use proptest::prelude::*;
use underover::base::coding::{ColourCode, OkabeIto};
use underover::edit::{Edit, Named, SectionEdit, Shows, Spot, StructureEdit, TimeEdit, Work};
use underover::files::{Document, Original, parse, show_text};
use underover::show::{Scope, Section, Show};

use crate::shared::{CATALOGUE, Person};

/// A night in three sections; the comments are a person's own.
const NIGHT: &str = r#"# Friday
format = "underover/show/1"
name = "Night"
frame = { width = 64, height = 36 }
running_order = ["casting off", "open water", "casting off"]   # back at the end

[[bundle]]
name = "picture"
[[bundle.level]]
name = "sea"
[[bundle.level.clip]]
name = "waves"
footage = "generated:waves"
[[bundle.level.clip]]
name = "dusk"
footage = "generated:landfall"
[[bundle.level]]
name = "lamps"
hidden = true
[[bundle.level.clip]]
name = "lamp"
footage = "generated:lamp"

[[bundle]]
name = "signs"
[[bundle.level]]
name = "mark"
[[bundle.level.clip]]
name = "ship mark"
footage = "generated:ship-mark"

[[section]]
name = "casting off"
beats = 32.0
# quay lights only
shows = { "picture/sea" = "dusk", "signs/mark" = "none" }

[[section]]
name = "open water"
fade = 4.0
shows = { "picture/lamps" = "lamp" }
opacity = { "picture/lamps" = 0.4, "signs" = 0.5 }
"#;

fn read(text: &str) -> Result<Show, String> {
    match parse(text, "night.toml", Path::new(""), &CATALOGUE) {
        Ok(Document::Show(show)) => Ok(show),
        Ok(Document::Chain(_)) => panic!("a chain"),
        Err(error) => Err(error.to_string()),
    }
}

fn night() -> Show {
    read(NIGHT).unwrap()
}

fn standing(show: &Show, at: usize) -> Show {
    show.in_section(at, |chain| Err::<Vec<_>, String>(chain.to_owned())).unwrap()
}

fn done(show: &Show, edits: &[Edit]) -> Show {
    edits
        .iter()
        .fold(show.clone(), |show, edit| edit.applied(&show).unwrap_or_else(|e| panic!("{edit:?}: {e}")).0)
}

#[test]
fn a_section_changes_what_it_names_and_leaves_the_rest_as_it_stands() {
    let show = night();
    assert_eq!(show.running_order, [0, 1, 0]);
    let quay = standing(&show, 0);
    assert_eq!(quay.bundles[0].levels[0].showing, 1);
    assert!(quay.bundles[1].levels[0].hidden && quay.bundles[0].levels[1].hidden);
    let water = standing(&show, 1);
    assert_eq!((water.bundles[0].levels[0].showing, water.bundles[0].levels[1].hidden), (0, false));
    assert_eq!(water.bundles[0].levels[1].mix.opacity, 0.4);
    assert_eq!((water.bundles[1].mix.opacity, water.bundles[1].levels[0].mix.opacity), (0.5, 1.0));
    assert!(water.sections.is_empty(), "what stands in a section has none of its own");
}

#[test]
fn an_old_file_without_sections_is_what_it_was() {
    let text = NIGHT.split("[[section]]").next().unwrap().replace("running_order", "# running_order");
    let show = read(&text).unwrap();
    assert!(show.sections.is_empty() && show.running_order.is_empty());
    assert!(show.running(8.0).is_none() && show.unreached_sections().is_empty());
}

#[test]
fn the_running_order_is_laid_out_in_beats_and_a_section_that_goes_on_does_not_fade_into_itself() {
    let mut show = night();
    show.sections[1].beats = Some(0.1);
    show.sections[1].fade = 0.1;
    show.running_order = vec![1, 1, 0, 1, 0];
    let legs = show.running(8.0).unwrap().legs;
    let of: Vec<(usize, f64, f64, f64)> =
        legs.iter().map(|leg| (leg.section, leg.from, leg.to, leg.fade)).collect();
    // 0.1 + 0.1 + 32 + 0.1 + 32 as decimals (arithmetic).
    let expected = [
        (1, 0.0, 0.1, 0.0),
        (1, 0.1, 0.2, 0.0),
        (0, 0.2, 32.2, 0.0),
        (1, 32.2, 32.3, 0.1),
        (0, 32.3, 64.3, 0.0),
    ];
    assert_eq!(of, expected);
    show.sections[1].beats = None;
    show.sections[1].fade = 4.0;
    show.running_order = vec![0, 1];
    let open = show.running(2.0).unwrap().legs[1];
    assert_eq!((open.to, open.fade, open.is_open), (34.0, 2.0, true), "it has come by the time that it ends");
}

#[test]
fn what_is_wrong_in_a_section_is_told_with_its_place_and_what_would_be_right() {
    let wrong = |from: &str, to: &str, says: &[&str]| {
        assert!(NIGHT.contains(from), "{from}");
        let error = read(&NIGHT.replace(from, to)).unwrap_err();
        for part in says {
            assert!(error.contains(part), "{to}: `{part}` is not in {error}");
        }
        assert!(!error.contains('\n'), "{error}");
    };
    wrong(
        "{ \"picture/lamps\" = \"lamp\" }",
        "{ \"picture/lampz\" = \"lamp\" }",
        &["night.toml:41:11", "no level named `lampz`", "did you mean `lamps`?"],
    );
    wrong(
        "{ \"picture/lamps\" = \"lamp\" }",
        "{ lamps = \"lamp\" }",
        &["BUNDLE/LEVEL", "did you mean `picture/lamps`?"],
    );
    wrong(
        "\"picture/sea\" = \"dusk\"",
        "\"picture/sea\" = \"dsuk\"",
        &["night.toml:36:", "no clip named `dsuk`", "did you mean `dusk`?"],
    );
    wrong("\"signs\" = 0.5", "\"sign\" = 0.5", &["no bundle named `sign`", "did you mean `signs`?"]);
    wrong("\"signs\" = 0.5", "\"signs\" = 1.5", &["a number from 0 to 1"]);
    wrong("beats = 32.0", "beats = 0", &["`beats` is 0", "0.015625 to 65536"]);
    wrong("beats = 32.0", "beats = 2.0\nfade = 4.0", &["`fade` is 4.0", "lasts 2.0 beats", "at most"]);
    wrong(
        "name = \"open water\"",
        "name = \"casting off\"",
        &["a section named \"casting off\" is already there"],
    );
    wrong(
        "\"open water\", \"casting off\"]",
        "\"open waters\"]",
        &["night.toml:5:", "no section named `open waters`", "did you mean `open water`?"],
    );
    wrong("fade = 4.0", "chains = { \"bundle:picture\" = \"amber\" }", &["library:NAME"]);
    wrong("fade = 4.0", "chains = { \"picture\" = \"library:amber\" }", &["`picture`", "bundle:NAME"]);
    wrong(
        "fade = 4.0",
        "running_order = []",
        &["`running_order` is a key of the whole file", "above the first line in brackets"],
    );
    wrong("fade = 4.0", "fades = 4.0", &["unknown key `fades` in a section", "did you mean `fade`?"]);
    let none = NIGHT.split("[[section]]").next().unwrap();
    let error = read(none).unwrap_err();
    assert!(error.contains("the show has no sections"), "{error}");
}

#[test]
fn sections_follow_what_they_speak_of_wherever_it_is_called_moved_or_taken_out_to() {
    let show = night();
    let mut work = Work::new(Document::Show(show.clone()), None);
    let rename = |scope, name: &str| Edit::Rename { what: Named::Scope(scope), name: name.to_owned() };
    for edit in [
        rename(Scope::Bundle(0), "view"),
        rename(Scope::Level(0, 1), "beacons"),
        rename(Scope::Clip(0, 0, 1), "evening"),
        Edit::Structure(StructureEdit::Move { what: Scope::Level(0, 1), into: Scope::Level(0, 0) }),
        Edit::Structure(StructureEdit::Move { what: Scope::Bundle(1), into: Scope::Bundle(0) }),
        Edit::Section(SectionEdit::Rename { section: 1, name: "crossing".to_owned() }),
        Edit::Section(SectionEdit::Move { from: 0, into: 2 }),
    ] {
        work.apply(&edit).unwrap();
    }
    let text = work.text(Path::new(""));
    for part in [
        "running_order = [\"casting off\", \"crossing\", \"casting off\"]",
        "\"signs/mark\" = \"none\"",
        "\"view/sea\" = \"evening\"",
        "shows = { \"view/beacons\" = \"lamp\" }",
        "signs = 0.5",
        "\"view/beacons\" = 0.4",
    ] {
        assert!(text.contains(part), "no `{part}` in\n{text}");
    }
    let same = |now: &Show, at: usize| {
        let mut now = standing(now, at);
        now.bundles.swap(0, 1);
        now.bundles[0].levels.swap(0, 1);
        (now.bundles[0].levels[0].showing, now.bundles[0].levels[1].hidden, now.bundles[1].levels[0].hidden)
    };
    assert_eq!((same(work.show(), 1), same(work.show(), 0)), ((1, true, true), (0, false, false)));
    // What is gone is spoken of no more, and comes back with what takes it back.
    let before = work.show().clone();
    let dusk = work.show().scope_named("clip:view/sea/evening").unwrap();
    work.apply(&Edit::Drop(dusk)).unwrap();
    assert_eq!(work.show().sections[1].shows.len(), 1);
    work.apply(&Edit::Section(SectionEdit::Remove(0))).unwrap();
    assert_eq!((work.show().sections.len(), &work.show().running_order[..]), (1, &[0, 0][..]));
    assert!(work.undo() && work.undo());
    assert_eq!(*work.show(), before);
    // A copy of a level shows what the level shows.
    let copied = done(&show, &[Edit::Structure(StructureEdit::Duplicate(Scope::Level(0, 0)))]);
    assert_eq!(copied.sections[0].shows.get(&[0, 1]), Some(&Some(1)));
    assert_eq!(copied.sections[1].shows.get(&[0, 2]), Some(&Some(0)), "those above it follow");
    // A clip that goes to another level is shown by the section no more.
    let gone = done(
        &show,
        &[Edit::Structure(StructureEdit::Move { what: Scope::Clip(0, 0, 1), into: Scope::Clip(1, 0, 1) })],
    );
    assert_eq!(gone.sections[0].shows.len(), 1);
}

#[test]
fn a_change_that_no_file_could_hold_is_refused_and_a_drag_is_one_step() {
    let mut work = Work::new(Document::Show(night()), None);
    let refused = |work: &mut Work, edit: SectionEdit, says: &str| {
        let error = work.apply(&Edit::Section(edit)).unwrap_err().to_string();
        assert!(error.contains(says), "{error}");
    };
    refused(&mut work, SectionEdit::Fade { section: 0, beats: 33.0 }, "at most the beats that it lasts");
    refused(
        &mut work,
        SectionEdit::Beats { section: 1, beats: Some(3.0) },
        "takes 4 beats to come and lasts 3",
    );
    refused(&mut work, SectionEdit::Beats { section: 1, beats: Some(f64::NAN) }, "the length is NaN");
    refused(&mut work, SectionEdit::Rename { section: 0, name: "open water".to_owned() }, "is taken");
    refused(&mut work, SectionEdit::Order(vec![0, 2]), "no longer in the show");
    refused(
        &mut work,
        SectionEdit::Shows { section: 0, level: [0, 0], shows: Shows::Clip(2) },
        "no longer in the show",
    );
    let chain = Some("amber".to_owned());
    refused(&mut work, SectionEdit::Chain { section: 0, scope: Scope::Global, chain }, "library:NAME");
    for beats in [1.0, 1.5, 2.0] {
        work.apply(&Edit::Section(SectionEdit::Fade { section: 1, beats })).unwrap();
    }
    assert_eq!(work.history().done().len(), 1);
    assert_eq!(work.history().done()[0].name, "open water comes in 2 beats");
    let whole = Section::as_it_stands("break: part 1/2", work.show());
    assert_eq!(whole.shows.len(), 3);
    assert_eq!(whole.shows[&[0, 1]], None, "a hidden level shows nothing");
    work.apply(&Edit::Section(SectionEdit::Add(Box::new(whole)))).unwrap();
    assert_eq!(work.show().sections[2].name, "break: part 1/2", "a section's name may hold any sign");
    work.apply(&Edit::Section(SectionEdit::Duplicate(2))).unwrap();
    assert_eq!(work.show().sections[3].name, "break: part 1/2 2");
}

#[test]
fn what_is_changed_in_a_section_is_changed_in_its_lines_and_the_comments_stay() {
    let document = parse(NIGHT, "night.toml", Path::new(""), &CATALOGUE).unwrap();
    let original = Original::new(NIGHT, document, Path::new(""), &CATALOGUE);
    let show = done(
        &night(),
        &[
            Edit::Section(SectionEdit::Beats { section: 0, beats: Some(48.0) }),
            Edit::Section(SectionEdit::Shows { section: 0, level: [1, 0], shows: Shows::AsItStands }),
            Edit::Section(SectionEdit::Opacity { section: 1, scope: Scope::Bundle(1), opacity: Some(0.75) }),
            Edit::Section(SectionEdit::Order(vec![0, 1])),
            Edit::Rename { what: Named::Scope(Scope::Bundle(0)), name: "view".to_owned() },
        ],
    );
    let text = original.with(&Document::Show(show.clone()), Path::new("")).unwrap();
    assert_eq!(read(&text).unwrap(), show, "{text}");
    for part in [
        "# Friday\n",
        "running_order = [\"casting off\", \"open water\"]   # back at the end\n",
        "beats = 48.0\n# quay lights only\nshows = { \"view/sea\" = \"dusk\" }\n",
        "\"view/lamps\" = 0.4",
        "= 0.75",
    ] {
        assert!(text.contains(part), "no `{part}` in\n{text}");
    }
    // Sections that a file had none of stand behind all else, and their order above it.
    let bare = NIGHT.split("[[section]]").next().unwrap().replace("running_order", "# running_order");
    let document = parse(&bare, "night.toml", Path::new(""), &CATALOGUE).unwrap();
    let Document::Show(old) = &document else { panic!("a chain") };
    let add = Edit::Section(SectionEdit::Add(Box::new(Section::of("landfall"))));
    let new = done(old, &[add, Edit::Section(SectionEdit::Order(vec![0]))]);
    let original = Original::new(&bare, document, Path::new(""), &CATALOGUE);
    let text = original.with(&Document::Show(new.clone()), Path::new("")).unwrap();
    assert_eq!(read(&text).unwrap(), new, "{text}");
    assert!(text.contains("running_order = [\"landfall\"]\n"), "{text}");
    assert!(text.trim_end().ends_with("[[section]]\nname = \"landfall\""), "{text}");
}

#[test]
fn a_person_makes_sections_by_commands_and_looks_at_the_show_as_it_stands_in_each() {
    let person = Person::new();
    fs::write(person.path("night.toml"), NIGHT).unwrap();
    let edit = |words: &[&str]| {
        let all = [&["edit"], words, &["--out", "night.toml"]].concat();
        person.right(&all)
    };
    let said = edit(&[
        "section",
        "add",
        "night.toml",
        "landfall",
        "--beats",
        "16",
        "--fade",
        "2",
        "--colour",
        "sky-blue",
        "--note",
        "signs come back",
        "--shows",
        "signs/mark=ship mark",
        "--shows",
        "picture/lamps=none",
        "--opacity",
        "picture=0.5",
        "--chain",
        "bundle:picture=preset:lamp-lines",
    ]);
    assert!(said.contains("Add the section landfall\nlandfall lasts 16 beats\n"), "{said}");
    edit(&["section", "set", "night.toml", "landfall", "--name", "in port", "--beats", "1", "--fade", "0.5"]);
    edit(&["section", "duplicate", "night.toml", "in port"]);
    edit(&["section", "set", "night.toml", "in port 2", "--leave", "picture", "--leave", "bundle:picture"]);
    edit(&["section", "move", "night.toml", "in port 2", "--before", "open water"]);
    edit(&["section", "remove", "night.toml", "casting off"]);
    edit(&["running-order", "night.toml", "open water", "in port", "open water"]);
    let show = read(&fs::read_to_string(person.path("night.toml")).unwrap()).unwrap();
    let names: Vec<&str> = show.sections.iter().map(|section| section.name.as_str()).collect();
    assert_eq!(
        (&names[..], &show.running_order[..]),
        (&["in port 2", "open water", "in port"][..], &[1, 2, 1][..])
    );
    assert_eq!((show.sections[2].beats, show.sections[2].fade), (Some(1.0), 0.5));
    assert!(show.sections[0].opacity.is_empty() && show.sections[0].chains.is_empty());
    // A level that goes takes along what sections say of it, and that is told.
    let (code, _, told) =
        person.run(&["edit", "remove", "night.toml", "level:picture/lamps", "--out", "less.toml"]);
    assert!(code == 0 && told.contains("the section open water says nothing any more"), "{told}");

    // The picture of a section is that of the show set so by hand.
    person.right(&[
        "render",
        "night.toml",
        "--section",
        "in port",
        "--scope",
        "global",
        "--out",
        "port.png",
        "--json",
        "port.json",
    ]);
    person.right(&["edit", "set", "night.toml", "bundle:picture", "--opacity", "0.5", "--out", "hand.toml"]);
    person.right(&[
        "library",
        "put",
        "preset:lamp-lines",
        "--on",
        "bundle:picture",
        "--show",
        "hand.toml",
        "--out",
        "hand.toml",
    ]);
    person.right(&["render", "hand.toml", "--scope", "global", "--out", "hand.png"]);
    person.right(&["render", "night.toml", "--scope", "global", "--out", "stands.png"]);
    let bytes = |name: &str| image::open(person.path(name)).unwrap().into_rgba8().into_raw();
    assert_eq!(bytes("port.png"), bytes("hand.png"));
    assert_ne!(bytes("port.png"), bytes("stands.png"));
    let json = fs::read_to_string(person.path("port.json")).unwrap();
    assert!(
        json.contains("\"section\": \"in port\"") && json.contains("\"name\": \"Night: in port\""),
        "{json}"
    );
    // Any command that renders a show takes it.
    for words in [
        &["orders", "night.toml"][..],
        &["swaps", "night.toml"],
        &["places", "night.toml", "--effect", "tint"],
        &["flashes", "night.toml", "--over", "1", "--no-suggestions"],
        &["compare", "night.toml", "hand.toml"],
        &["sheet", "night.toml", "--out", "sheet.txt"],
        &["report", "night.toml", "--out", "report.html"],
        &["find", "night.toml", "--want", "brightest", "--tries", "4"],
    ] {
        person.right(&[words, &["--section", "in port"]].concat());
    }
    let (code, error) = person.wrong(&["render", "night.toml", "--section", "in prot", "--out", "x.png"]);
    assert!(code == 2 && error.contains("did you mean `in port`?"), "{error}");
    let (code, error) =
        person.wrong(&["render", "preset:lamp-lines", "--section", "in port", "--out", "x.png"]);
    assert!(code == 2 && error.contains("only a show has sections"), "{error}");
    let (code, error) = person.wrong(&[
        "edit",
        "section",
        "set",
        "night.toml",
        "in port",
        "--chain",
        "global=library:ambre",
        "--out",
        "x.toml",
    ]);
    assert!(code == 2 && error.contains("ambre"), "{error}");
}

/// The night with effects on the picture, and a control that holds one of their settings.
fn played() -> String {
    NIGHT
        .replacen(
            "name = \"casting off\"\n",
            "name = \"casting off\"\neffects = { \"bundle:picture\" = { mirror = false, \"tint 2\" = true } }\ncontrols = { glow = 0.25 }\n",
            1,
        )
        .replacen(
            "[[bundle.level]]",
            "[[bundle.effect]]\nuse = \"tint\"\namount = 0.5\n[[bundle.effect]]\nuse = \"mirror\"\n[[bundle.effect]]\nuse = \"tint\"\non = false\n[[bundle.level]]",
            1,
        )
        + "\n[[control]]\nname = \"glow\"\nhand = \"left\"\nkind = \"continuous\"\n[[control.grip]]\nscope = \"bundle:picture\"\neffect = \"tint 1\"\nsetting = \"amount\"\nlow = 0.2\nhigh = 1.0\n"
}

#[test]
fn a_section_switches_effects_and_stands_controls_and_both_follow_what_they_speak_of() {
    let show = read(&played()).unwrap();
    let at = show.section_named("casting off").unwrap();
    let states = |show: &Show, at: usize| {
        let stands = standing(show, at);
        let chain = stands.chain(Scope::Bundle(0)).clone();
        (
            chain.iter().map(|used| used.on).collect::<Vec<_>>(),
            chain[0].value("amount").and_then(|v| v.as_number()),
        )
    };
    // A control at a quarter of the way from 0.2 to 1: 0.4 (arithmetic).
    let (on, amount) = states(&show, at);
    assert_eq!(on, [true, false, true]);
    assert!((amount.unwrap() - 0.4).abs() < 1e-12);
    assert_eq!(states(&show, 1 - at).0, [true, true, false], "the other section says nothing of them");
    let said = show.sections[at].changes_said(&show).join("; ");
    assert!(
        said.contains("mirror off on bundle:picture; tint 2 on on bundle:picture; control glow at 0.25"),
        "{said}"
    );
    let told = standing(&show, at).told_against(&show).join("; ");
    assert!(told.contains("mirror off on bundle:picture") && told.contains("50 % → 40 %"), "{told}");
    // Saving and opening loses nothing, whatever its effects and controls are called by then.
    let mut work = Work::new(Document::Show(show.clone()), None);
    let spot = |scope, at| Spot { scope, at };
    let picture = Scope::Bundle(0);
    for edit in [
        Edit::Rename { what: Named::Effect(spot(picture, 1)), name: "halves".to_owned() },
        Edit::Order { scope: picture, order: vec![1, 2, 0] },
        Edit::Rename { what: Named::Scope(picture), name: "view".to_owned() },
        Edit::Section(SectionEdit::Duplicate(at)),
    ] {
        work.apply(&edit).unwrap();
        let text = work.text(Path::new(""));
        assert_eq!(read(&text).unwrap(), **work.show(), "{text}");
    }
    let text = work.text(Path::new(""));
    assert!(text.contains("halves = false") && text.contains("glow = 0.25"), "{text}");
    // One that goes to another scope is spoken of there; one that is removed no more.
    work.apply(&Edit::Move { from: spot(picture, 0), into: spot(Scope::Global, 0) }).unwrap();
    let marks_on_global = |show: &Show| -> Vec<bool> {
        show.sections[at]
            .effects
            .iter()
            .filter(|((scope, _), _)| *scope == Scope::Global)
            .map(|(_, &on)| on)
            .collect()
    };
    assert_eq!(marks_on_global(work.show()), [false]);
    assert!(!standing(work.show(), at).global[0].on);
    work.apply(&Edit::Remove(spot(Scope::Global, 0))).unwrap();
    assert_eq!(work.show().sections[at].effects.len(), 1);
    let mut controls = work.show().controls.clone();
    controls[0].name = "lamp".to_owned();
    work.apply(&Edit::Time(TimeEdit::Controls(controls))).unwrap();
    assert_eq!(work.show().sections[at].controls.get("lamp"), Some(&0.25));
    assert_eq!(read(&work.text(Path::new(""))).unwrap(), **work.show());
    work.apply(&Edit::Time(TimeEdit::Controls(Vec::new()))).unwrap();
    assert!(work.show().sections[at].controls.is_empty());
    for _ in 0..8 {
        assert!(work.undo());
    }
    assert_eq!(**work.show(), show);
    for (found, wrong, says) in [
        ("mirror = false", "miror = false", "did you mean `mirror`?"),
        ("glow = 0.25", "glow = 1.25", "1.25"),
        ("glow = 0.25", "grow = 0.25", "did you mean `glow`?"),
        ("mirror = false", "mirror = 0", "it takes true or false"),
    ] {
        let error = read(&played().replacen(found, wrong, 1)).unwrap_err();
        assert!(error.contains(says) && error.contains("night.toml:"), "{error}");
    }
}

/// A change of the night by numbers that were drawn: of a section for the most part, else of what sections speak of.
fn drawn(show: &Show, (kind, a, b, share): (u8, usize, usize, f64)) -> Edit {
    let section = a % show.sections.len().max(1);
    let scopes = show.scopes();
    let scope = scopes[b % scopes.len()];
    if scope == Scope::Global && matches!(kind, 16 | 18 | 19) {
        return Edit::Tempo(100.0 + share);
    }
    let bundle = b % show.bundles.len();
    let levels = show.bundles[bundle].levels.len();
    let level = [bundle, a % levels];
    let clips = show.bundles[bundle].levels[level[1]].clips.len();
    let mixed = if b % 3 == 0 { Scope::Bundle(bundle) } else { Scope::Level(bundle, level[1]) };
    let names = ["none", "tint 2", "quay \"seven\"", "lamps \u{e9}t\u{e9}", "'#=", "casting off"];
    let name = names[b % names.len()].to_owned();
    let chain = show.chain(scope).len();
    Edit::Section(match kind {
        0 => SectionEdit::Add(Box::new(Section::as_it_stands(&name, show))),
        1 => SectionEdit::Duplicate(section),
        2 if b % 4 == 0 => SectionEdit::Remove(section),
        2 | 3 => SectionEdit::Move { from: section, into: b % (show.sections.len() + 1) },
        4 => SectionEdit::Rename { section, name },
        5 => {
            let colour = (b % 3 > 0).then(|| ColourCode::Named(OkabeIto::ALL[a % OkabeIto::ALL.len()]));
            SectionEdit::Colour { section, colour }
        }
        6 => SectionEdit::Note { section, note: format!("{name}\n{share}") },
        7 => SectionEdit::Beats { section, beats: (b % 3 > 0).then_some(1.0 + share * 100.0) },
        8 => SectionEdit::Fade { section, beats: share * 4.0 },
        9 => {
            let shows = [Shows::AsItStands, Shows::Nothing, Shows::Clip(b % clips)][a % 3];
            SectionEdit::Shows { section, level, shows }
        }
        10 => SectionEdit::Opacity { section, scope: mixed, opacity: (a % 4 > 0).then_some(share) },
        11 => {
            let chain = (a % 3 > 0).then(|| format!("library:{name}"));
            SectionEdit::Chain { section, scope, chain }
        }
        12 | 13 => {
            let marks = (1..=chain as u32).filter(|mark| (a >> mark) % 2 == 0).collect();
            SectionEdit::Effects { section, scope, marks, on: [None, Some(true), Some(false)][b % 3] }
        }
        14 => {
            let position = (b % 4 > 0).then_some(share);
            let of = |control: &underover::show::control::Control| (control.name.clone(), position);
            SectionEdit::Controls { section, positions: show.controls.iter().map(of).collect() }
        }
        15 => SectionEdit::Order((0..b % 7).map(|nth| (a + nth * 5) % show.sections.len().max(1)).collect()),
        16 => return Edit::Rename { what: Named::Scope(scope), name: name.replace('/', " ") },
        17 => {
            let (what, into) = (Scope::Level(bundle, level[1]), Scope::Level(a % show.bundles.len(), 0));
            return Edit::Structure(StructureEdit::Move { what, into });
        }
        18 => return Edit::Structure(StructureEdit::Duplicate(scope)),
        19 => return Edit::Drop(scope),
        20 => {
            let spot = |scope, at| Spot { scope, at };
            return Edit::Move {
                from: spot(scope, a % chain.max(1)),
                into: spot(scopes[a % scopes.len()], 0),
            };
        }
        _ => return Edit::Order { scope, order: (0..chain).rev().collect() },
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn whatever_is_done_to_a_show_with_sections_saving_and_opening_loses_nothing(
        drawn_edits in vec((0u8..22, 0usize..64, 0usize..64, 0.0f64..1.0), 1..24),
    ) {
        let text = played();
        let document = parse(&text, "night.toml", Path::new(""), &CATALOGUE).unwrap();
        let original = Original::new(&text, document, Path::new(""), &CATALOGUE);
        let mut work = Work::new(original.document().clone(), None);
        let mut taken = 0;
        for numbers in drawn_edits {
            let edit = drawn(work.show(), numbers);
            // What does not fit is refused, and leaves the show as it was.
            let before = work.show().clone();
            match work.apply(&edit) {
                Ok(()) => taken += 1,
                Err(_) => prop_assert_eq!(work.show(), &before),
            }
        }
        let show = work.show();
        let plain = show_text(show, Path::new(""));
        prop_assert_eq!(&read(&plain).map_err(TestCaseError::fail)?, &**show, "{}", plain);
        match original.with(&Document::Show((**show).clone()), Path::new("")) {
            Ok(text) => prop_assert_eq!(&read(&text).map_err(TestCaseError::fail)?, &**show, "{}", text),
            Err(error) => prop_assert!(error.to_string().contains("night.toml") || taken > 0, "{error}"),
        }
        for at in 0..show.sections.len() {
            let stands = show.in_section(at, |_| Ok::<_, String>(Vec::new())).unwrap();
            prop_assert_eq!(stands.bundles.len(), show.bundles.len());
            stands.told_against(show);
        }
    }
}
