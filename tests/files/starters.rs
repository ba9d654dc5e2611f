//! Starters: shows without footage, made of shows and made into shows, and parts brought from one show into another.

use crate::shared::{CATALOGUE, Person};
use std::fs;

use image::RgbaImage;
use underover::base::embedded;
use underover::edit::{Bring, Edit, Way, Work};
use underover::files;
use underover::files::{Document, STARTER_FORMAT, show_text};
use underover::footage::Shelf;
use underover::library::starter_of;
use underover::show::clip::{FootageName, StandIn};
use underover::show::{Scope, Show};

/// What a person's files hold.
trait Reads {
    fn show(&self, name: &str) -> Show;
    fn picture(&self, name: &str) -> RgbaImage;
}

impl Reads for Person {
    fn show(&self, name: &str) -> Show {
        show_of(&fs::read_to_string(self.path(name)).unwrap())
    }

    fn picture(&self, name: &str) -> RgbaImage {
        image::open(self.path(name)).unwrap().into_rgba8()
    }
}

fn show_of(text: &str) -> Show {
    match files::parse(text, "a test", std::path::Path::new(""), &CATALOGUE).unwrap() {
        Document::Show(show) => show,
        Document::Chain(_) => panic!("a chain"),
    }
}

fn preset(name: &str) -> Show {
    (**Work::preset(name, &CATALOGUE).unwrap().unwrap().show()).clone()
}

#[test]
fn every_starter_of_the_program_is_clean_says_what_it_is_for_and_has_effects_and_controls() {
    assert_eq!(embedded::STARTERS.len(), 3);
    for (name, text) in embedded::STARTERS {
        let starter = show_of(text);
        assert!(starter.is_starter && starter.about.len() > 100 && !starter.tags.is_empty(), "{name}");
        assert!(starter.controls.len() >= 2 && starter.sections.len() >= 3, "{name}");
        // A page on why it is built so: paragraphs, each on one thing.
        assert!((3..=6).contains(&starter.about.trim().split("\n\n").count()), "{name}");
        assert!(
            starter.controls.iter().all(|control| starter.grips(&control.name).next().is_some()),
            "{name}"
        );
        assert!(starter.scopes().into_iter().filter(|&scope| !starter.chain(scope).is_empty()).count() >= 1);
        assert!(starter.chain(starter.busiest_scope()).len() >= 2, "{name}");
        let again = show_of(&show_text(&starter, std::path::Path::new("")));
        assert_eq!(again, starter, "{name}");
    }
    let of = |handle: &str| show_of(embedded::STARTERS.iter().find(|(name, _)| *name == handle).unwrap().1);
    // Three kinds of night: sections that are called by hand, songs in their order, and both.
    let open = |show: &Show| show.sections.iter().filter(|section| section.beats.is_none()).count();
    let [improvised, rehearsed, signs] = ["festival-night", "rehearsed-set", "mixed-bill"].map(of);
    assert!(improvised.running_order.is_empty() && open(&improvised) == improvised.sections.len());
    assert!(improvised.bundles[0].levels.iter().all(|level| level.clips.len() >= 4), "many clips");
    assert!(rehearsed.running_order.len() > rehearsed.sections.len() && open(&rehearsed) == 1);
    let songs = &rehearsed.bundles[0].levels[0];
    assert!(songs.clips.iter().all(|song| song.chain.iter().any(|used| used.effect.name == "tint")));
    assert!(open(&signs) == 1 && signs.sections.len() == 3 && signs.unreached_sections().is_empty());
    // Effects are on the pictures alone: the sign and the frame above them are spared.
    assert!(signs.global.is_empty() && signs.bundles[1..].iter().all(|bundle| bundle.chain.is_empty()));
}

#[test]
fn every_starter_of_the_program_is_begun_checked_rendered_and_measured() {
    let person = Person::new();
    for (name, _) in embedded::STARTERS {
        let (show, picture) = (format!("{name}-show.toml"), format!("{name}.png"));
        let said = person.right(&["starters", "begin", name, "--name", "Friday", "--out", &show]);
        assert!(said.contains("wait for footage") && said.contains("clip:"), "{said}");
        assert!(!person.show(&show).is_starter && person.show(&show).name == "Friday");
        assert!(person.right(&["check", &show]).contains("right (show `Friday`"));
        person.right(&["render", &show, "--scope", "global", "--frame", "320x180", "--out", &picture]);
        let rendered = person.picture(&picture);
        let colours: std::collections::HashSet<_> = rendered.pixels().map(|texel| texel.0).collect();
        assert!(colours.len() > 50, "{name}: {} colours", colours.len());
        let json = person.right(&["orders", &show, "--frame", "64x36", "--json", "-"]);
        assert!(json.contains("\"distinct\""), "{json}");
    }
}

#[test]
fn a_starter_keeps_structure_chains_and_controls_and_no_footage() {
    let person = Person::new();
    let show = preset("night-crossing");
    let said = person.right(&["starters", "keep", "preset:night-crossing", "--name", "Crossings"]);
    assert!(said.contains("starters begin crossings"), "{said}");
    let text = fs::read_to_string(person.path("data/starters/crossings.toml")).unwrap();
    assert!(text.starts_with(&format!("format = \"{STARTER_FORMAT}\"")), "{text}");
    assert!(!text.contains("generated:"), "{text}");
    assert!(
        text.contains("footage = \"stand-in:harbour\"")
            && text.contains("footage = \"stand-in-sign:ship mark\""),
        "{text}"
    );
    person.right(&["starters", "begin", "crossings", "--out", "new.toml"]);
    let begun = person.show("new.toml");
    assert_eq!(begun.controls, show.controls);
    assert_eq!(begun.scopes(), show.scopes());
    for scope in show.scopes() {
        assert_eq!(begun.chain(scope), show.chain(scope));
        assert_eq!(begun.address(scope), show.address(scope));
    }
    let said = person.right(&["starters", "list"]);
    assert!(said.contains("crossings  Crossings") && said.contains("festival-night"), "{said}");
    let said = person.right(&["starters", "list", "tag:festival"]);
    assert!(!said.contains("crossings") && said.contains("festival-night"), "{said}");
    let (_, said) = person.wrong(&["starters", "begin", "crossings", "--out", "new.toml"]);
    assert!(said.contains("already there"), "{said}");
    let (_, said) = person.wrong(&["starters", "begin", "festival-nihgt", "--out", "other.toml"]);
    assert!(said.contains("did you mean `festival-night`?"), "{said}");
}

#[test]
fn footage_that_is_gone_keeps_no_show_from_becoming_a_starter() {
    let mut show = preset("harbour-lamps");
    show.bundles[0].levels[0].clips[0].footage =
        FootageName::File { written: "gone.png".to_owned(), path: "gone.png".into() };
    let (starter, notes) = starter_of(&show, &mut Shelf::new(&CATALOGUE));
    assert!(notes.len() == 1 && notes[0].contains("clip:harbour/view/harbour"), "{notes:?}");
    let footage = &starter.bundles[0].levels[0].clips[0].footage;
    assert_eq!(*footage, FootageName::StandIn(StandIn::Picture, "harbour".to_owned()));
}

#[test]
fn a_starter_file_holds_stand_ins_alone_and_a_show_may_hold_them_too() {
    let person = Person::new();
    let good = "format = \"underover/starter/1\"\nname = \"A\"\n\n[[bundle]]\nname = \"b\"\n\n[[bundle.level]]\nname = \"l\"\n\n[[bundle.level.clip]]\nname = \"c\"\nfootage = \"stand-in:the sea\"\n";
    fs::write(person.path("good.toml"), good).unwrap();
    assert!(person.right(&["check", "good.toml"]).contains("right (starter `A`"));
    fs::write(person.path("show.toml"), good.replace("starter/1", "show/1")).unwrap();
    assert!(person.right(&["check", "show.toml"]).contains("right (show `A`"));
    for (wrong, said) in [
        (good.replace("stand-in:the sea", "generated:waves"), "a starter holds no footage"),
        (good.replace("stand-in:the sea", "stand-in:"), "has no label"),
        (good.replace("stand-in:the sea", "stnad-in:the sea"), "did you mean `stand-in:`?"),
        (good.replace("the sea", &"sea ".repeat(40)), "at most 80"),
        (good.replace("starter/1", "starter/2"), "newer version"),
        (good.replace("starter/1", "startre/1"), "did you mean `underover/starter/1`?"),
    ] {
        fs::write(person.path("wrong.toml"), wrong).unwrap();
        let (_, error) = person.wrong(&["check", "wrong.toml"]);
        assert!(error.contains("wrong.toml:") && error.contains(said), "{error}");
    }
}

#[test]
fn a_sign_spares_what_is_around_it_and_effects_on_pictures_spare_the_sign() {
    let person = Person::new();
    person.right(&["starters", "begin", "mixed-bill", "--out", "with.toml"]);
    let with = person.show("with.toml");
    let mut without = with.clone();
    without.bundles[0].chain.clear();
    fs::write(person.path("without.toml"), show_text(&without, &person.path(""))).unwrap();
    for name in ["with", "without"] {
        let (file, out) = (format!("{name}.toml"), format!("{name}.png"));
        person.right(&["render", &file, "--scope", "global", "--frame", "320x180", "--out", &out]);
    }
    let [a, b] = ["with.png", "without.png"].map(|name| person.picture(name));
    let frame = |x: u32, y: u32| a.get_pixel(x, y) == b.get_pixel(x, y);
    assert!(frame(160, 75) && frame(110, 90) && frame(3, 3), "the sign and the scenic frame");
    assert!(!frame(60, 50), "the picture between them");
}

#[test]
fn opening_a_starter_begins_a_show_that_has_no_file() {
    let person = Person::new();
    fs::write(person.path("start.toml"), embedded::STARTERS[0].1).unwrap();
    let work = Work::open(&person.path("start.toml"), &CATALOGUE).unwrap();
    assert!(work.file().is_none() && !work.show().is_starter && !work.is_changed());
}

#[test]
fn a_bundle_is_brought_with_its_controls_and_what_clashes_is_renamed_and_listed() {
    let person = Person::new();
    person.right(&["starters", "begin", "festival-night", "--out", "a.toml"]);
    person.right(&["starters", "begin", "mixed-bill", "--out", "b.toml"]);
    let said = person.right(&[
        "starters",
        "bring",
        "b.toml",
        "--what",
        "bundle:pictures",
        "--into",
        "a.toml",
        "--out",
        "c.toml",
    ]);
    assert!(
        said.contains("a bundle named `pictures` is already there: the new one is called `pictures 2`"),
        "{said}"
    );
    assert!(said.contains("the control `Outlines` is already there"), "{said}");
    let show = person.show("c.toml");
    assert_eq!(show.bundles.last().unwrap().name, "pictures 2");
    assert_eq!(show.grips("Outlines").count(), 2);
    assert!(person.right(&["check", "c.toml"]).contains("right"));
    assert_eq!(person.show("a.toml").bundles.len(), 1, "the show that it came into is left alone");

    let said = person.right(&[
        "starters",
        "bring",
        "b.toml",
        "--what",
        "level:signs/signs",
        "--in",
        "bundle:pictures",
        "--into",
        "a.toml",
        "--out",
        "d.toml",
    ]);
    assert!(said.contains("wrote d.toml"), "{said}");
    assert_eq!(person.show("d.toml").bundles[0].levels.len(), 3);
    person.right(&[
        "starters",
        "bring",
        "b.toml",
        "--what",
        "bundle:pictures",
        "--chain-onto",
        "global",
        "--way",
        "under",
        "--into",
        "a.toml",
        "--out",
        "e.toml",
    ]);
    let names: Vec<String> =
        person.show("e.toml").global.iter().map(|used| used.effect.name.clone()).collect();
    assert_eq!(names, ["edge-find", "tint", "trails", "gain-and-lift"]);
    let (_, said) = person.wrong(&[
        "starters",
        "bring",
        "b.toml",
        "--what",
        "level:signs/signs",
        "--into",
        "a.toml",
        "--out",
        "f.toml",
    ]);
    assert!(said.contains("a level goes into a bundle"), "{said}");
    let (_, said) = person.wrong(&[
        "starters",
        "bring",
        "b.toml",
        "--what",
        "bundle:sings",
        "--into",
        "a.toml",
        "--out",
        "f.toml",
    ]);
    assert!(said.contains("--what") && said.contains("did you mean `signs`?"), "{said}");
}

#[test]
fn footage_of_another_folder_is_still_found_when_a_bundle_is_brought() {
    let person = Person::new();
    fs::create_dir_all(person.path("there")).unwrap();
    RgbaImage::from_pixel(8, 8, image::Rgba([200, 90, 20, 255])).save(person.path("there/sea.png")).unwrap();
    let text = "format = \"underover/show/1\"\nname = \"There\"\n\n[[bundle]]\nname = \"sea\"\n\n[[bundle.level]]\nname = \"l\"\n\n[[bundle.level.clip]]\nname = \"c\"\nfootage = \"sea.png\"\n";
    fs::write(person.path("there/show.toml"), text).unwrap();
    person.right(&["starters", "begin", "festival-night", "--out", "here.toml"]);
    person.right(&[
        "starters",
        "bring",
        "there/show.toml",
        "--what",
        "bundle:sea",
        "--into",
        "here.toml",
        "--out",
        "new.toml",
    ]);
    assert!(person.right(&["check", "new.toml"]).contains("right"));
}

#[test]
fn footage_that_is_brought_is_named_relative_to_the_new_file() {
    let person = Person::new();
    for folder in ["shows/night", "mat/harbour", "new"] {
        fs::create_dir_all(person.path(folder)).unwrap();
    }
    let picture = RgbaImage::from_pixel(8, 8, image::Rgba([200, 90, 20, 255]));
    for name in ["mat/sea.png", "mat/harbour/q-1.png", "mat/harbour/q-2.png", "shows/own.png"] {
        picture.save(person.path(name)).unwrap();
    }
    let clips = ["../../mat/sea.png", "../../mat/harbour/q-#.png", "../own.png"];
    let clips = clips.into_iter().enumerate().map(|(at, footage)| {
        format!("[[bundle.level.clip]]\nname = \"clip {at}\"\nfootage = \"{footage}\"\n")
    });
    let text = format!(
        "format = \"underover/show/1\"\nname = \"There\"\n\n[[bundle]]\nname = \"sea\"\n\n[[bundle.level]]\nname = \"l\"\n\n{}",
        clips.collect::<Vec<_>>().join("\n")
    );
    fs::write(person.path("shows/night/show.toml"), text).unwrap();
    person.right(&["starters", "begin", "festival-night", "--out", "here.toml"]);
    let bring = |from: &str, out: &str| {
        person.right(&[
            "starters",
            "bring",
            from,
            "--what",
            "bundle:sea",
            "--into",
            "here.toml",
            "--out",
            out,
        ]);
        assert!(person.right(&["check", out]).contains("right"), "{out}");
        let text = fs::read_to_string(person.path(out)).unwrap();
        let lines = text.lines().filter_map(|line| line.strip_prefix("footage = "));
        lines
            .filter(|line| line.contains(".png"))
            .map(|line| line.trim_matches('"').to_owned())
            .collect::<Vec<_>>()
    };
    let here = ["mat/sea.png", "mat/harbour/q-#.png", "shows/own.png"];
    assert_eq!(bring("shows/night/show.toml", "both.toml"), here);
    assert_eq!(bring("shows/night/../night/show.toml", "both-2.toml"), here);
    let absolute = person.path("shows/night/show.toml");
    assert_eq!(bring(absolute.to_str().unwrap(), "both-3.toml"), here);
    assert_eq!(bring("shows/night/show.toml", "new/both.toml"), here.map(|path| format!("../{path}")));
    // A step up from a linked folder leads out of where the link points.
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink("shows/night", person.path("linked")).unwrap();
        assert_eq!(bring("linked/show.toml", "both-4.toml"), here);
        assert_eq!(
            bring("shows/night/show.toml", "linked/both.toml"),
            ["../../mat/sea.png", "../../mat/harbour/q-#.png", "../own.png"]
        );
    }
    // The whole of it can be carried elsewhere.
    let moved = tempfile::tempdir().unwrap();
    for name in ["both.toml", "mat/sea.png", "mat/harbour/q-1.png", "mat/harbour/q-2.png", "shows/own.png"] {
        let to = moved.path().join(name);
        fs::create_dir_all(to.parent().unwrap()).unwrap();
        fs::copy(person.path(name), to).unwrap();
    }
    assert!(person.right(&["check", moved.path().join("both.toml").to_str().unwrap()]).contains("right"));
}

#[test]
fn controls_beyond_eight_and_keys_that_are_taken_are_let_go_and_said() {
    let from = preset("night-crossing");
    let mut into = preset("night-crossing");
    for (number, control) in into.controls.iter_mut().enumerate() {
        control.name = format!("Own {number}");
    }
    let scopes = into.scopes();
    for scope in scopes {
        for used in into.chain_mut(scope) {
            for place in 0..used.effect.settings.len() {
                used.hold(place, None).unwrap();
            }
        }
    }
    let bring = Bring { from: from.clone(), what: Scope::Bundle(0), into: None, onto: None };
    let (show, notes) = bring.done(&into).unwrap();
    assert_eq!(show.controls.len(), 8);
    let said = notes.join("\n");
    assert!(
        said.contains("comes without its key") && said.contains("comes without its MIDI binding"),
        "{said}"
    );
    assert!(said.contains("there is no room for the control"), "{said}");
    underover::show::control::check(&show.controls).unwrap();
    // What is written reads back as the same show: no hold is left without its control.
    assert_eq!(show_of(&show_text(&show, std::path::Path::new(""))), show);
}

#[test]
fn bringing_and_putting_are_steps_that_are_undone() {
    let catalogue = CATALOGUE.clone();
    let mut work = Work::preset("harbour-lamps", &catalogue).unwrap().unwrap();
    let before = work.show().clone();
    let from = preset("night-ferry");
    for bring in [
        Bring { from: from.clone(), what: Scope::Bundle(0), into: None, onto: None },
        Bring {
            from: from.clone(),
            what: Scope::Bundle(0),
            into: None,
            onto: Some((Scope::Global, Way::Over)),
        },
    ] {
        work.apply(&Edit::Bring(Box::new(bring))).unwrap();
        assert_ne!(*work.show(), before);
        assert!(work.history().done().last().unwrap().name.starts_with("Bring"));
        assert!(work.undo());
        assert_eq!(*work.show(), before);
    }
}

/// A guest's clips: waves on a level that the night has too, with a tint of their own; a quay on a level of its own; and a
/// phase of them.
fn guest() -> &'static str {
    r##"format = "underover/show/1"
name = "Guest"
tempo_bpm = 120.0

[[bundle]]
name = "picture"
[[bundle.level]]
name = "sea"
[[bundle.level.clip]]
name = "waves"
footage = "waves.png"
[[bundle.level.clip.effect]]
use = "tint"
amount = 0.5
[[bundle.level.clip]]
name = "lost"
footage = "gone/lost.png"
[[bundle.level]]
name = "quay"
[[bundle.level.clip]]
name = "crane"
footage = "old place/crane.png"

[[section]]
name = "landfall"
beats = 16.0
shows = { "picture/sea" = "waves" }
opacity = { "picture/sea" = 0.5, "picture/quay" = 0.25 }
effects = { "clip:picture/sea/waves" = { tint = false } }
"##
}

#[test]
fn the_clips_of_another_show_come_to_the_levels_called_alike_with_their_footage_found_in_a_folder() {
    let person = Person::new();
    for folder in ["guest", "here"] {
        fs::create_dir(person.path(folder)).unwrap();
    }
    let paint =
        |name: &str| RgbaImage::from_pixel(4, 4, image::Rgba([255; 4])).save(person.path(name)).unwrap();
    paint("guest/waves.png");
    paint("here/waves.png");
    paint("here/crane.png");
    fs::write(person.path("guest/guest.toml"), guest()).unwrap();
    let night = guest()
        .split("[[bundle.level]]\nname = \"quay\"")
        .next()
        .unwrap()
        .replace("Guest", "Night")
        .replace("amount = 0.5", "amount = 0.75")
        .replace("waves.png", "own.png")
        .replace("[[bundle.level.clip]]\nname = \"lost\"\nfootage = \"gone/lost.png\"\n", "");
    paint("own.png");
    fs::write(person.path("night.toml"), night).unwrap();
    let bring = |more: &[&str]| {
        let words = ["starters", "bring", "guest/guest.toml", "--what", "clips", "--into", "night.toml"];
        person.right(&[&words[..], more].concat())
    };
    let said = bring(&["--footage", "here", "--out", "all.toml"]);
    for part in [
        "  clip:picture/sea/waves 2\n",
        "  clip:picture/quay/crane\n",
        "a clip named `waves` is already there: the new one is called `waves 2`",
        "clip:picture/sea/lost: there is no ",
        "a stand-in shows",
    ] {
        assert!(said.contains(part), "no `{part}` in\n{said}");
    }
    let all = person.show("all.toml");
    let levels: Vec<&str> = all.bundles[0].levels.iter().map(|level| level.name.as_str()).collect();
    assert_eq!(levels, ["sea", "quay"]);
    let written = |clip: usize| all.bundles[0].levels[0].clips[clip].footage.to_string();
    assert_eq!((written(1).as_str(), written(2).as_str()), ("here/waves.png", "stand-in:lost"));
    assert_eq!(all.bundles[0].levels[1].clips[0].footage.to_string(), "here/crane.png");
    assert!(all.sections.is_empty());
    person.right(&["render", "all.toml", "--out", "all.png"]);
    // Brought once more, what is there already stays alone.
    let again =
        ["starters", "bring", "all.toml", "--what", "clips", "--into", "all.toml", "--out", "again.toml"];
    assert!(person.right(&again).contains("clip:picture/quay/crane is there already"));
    assert_eq!(person.show("again.toml"), all);

    // A phase: the clips that it shows, and itself, as far as it speaks of what is here.
    let said = bring(&["--of-section", "landfall", "--out", "phase.toml"]);
    assert!(
        said.contains("the section landfall: one thing that it says speaks of what is not here"),
        "{said}"
    );
    let phase = person.show("phase.toml");
    assert_eq!((phase.bundles[0].levels.len(), phase.bundles[0].levels[0].clips.len()), (1, 2));
    assert_eq!(phase.bundles[0].levels[0].clips[1].footage.to_string(), "guest/waves.png");
    let stands = phase.in_section(0, |_| Err::<Vec<_>, ()>(())).unwrap();
    let level = &stands.bundles[0].levels[0];
    assert_eq!((level.showing, level.mix.opacity, level.clips[1].chain[0].on), (1, 0.5, false));
    for (words, says) in [
        (&["--what", "clips", "--of-section", "landfal"][..], "did you mean `landfall`?"),
        (&["--what", "bundle:picture", "--footage", "here"], "--footage goes with --what clips"),
        (&["--what", "clips", "--of-section", "landfall", "--in", "bundle:picture"], "cannot be used with"),
    ] {
        let all =
            [&["starters", "bring", "guest/guest.toml", "--into", "night.toml", "--out", "x.toml"], words]
                .concat();
        let (code, error) = person.wrong(&all);
        assert!(code == 2 && error.contains(says), "{error}");
    }
}

#[test]
fn which_shows_hold_clips_of_another_is_told_and_a_stand_in_gets_its_footage_once_it_is_there() {
    let person = Person::new();
    for folder in ["guest", "here", "here/other", "here/gone", "shows"] {
        fs::create_dir(person.path(folder)).unwrap();
    }
    let paint =
        |name: &str| RgbaImage::from_pixel(4, 4, image::Rgba([255; 4])).save(person.path(name)).unwrap();
    // In folders inside the one that is named, called in other letters.
    paint("here/other/Waves.PNG");
    paint("here/crane.png");
    fs::write(person.path("guest/guest.toml"), guest()).unwrap();
    let plain = "format = \"underover/show/1\"\nname = \"Night\"\ntempo_bpm = 120.0\n\n[[bundle]]\nname = \"picture\"\n[[bundle.level]]\nname = \"sea\"\n[[bundle.level.clip]]\nname = \"own\"\nfootage = \"generated:waves\"\n";
    fs::write(person.path("shows/plain.toml"), plain).unwrap();
    let bring = |into: &str, out: &str| {
        let words = ["starters", "bring", "guest/guest.toml", "--what", "clips", "--footage", "here"];
        person.right(&[&words[..], &["--into", into, "--out", out]].concat())
    };
    bring("shows/plain.toml", "shows/night.toml");
    let used = || person.right(&["starters", "used-in", "guest/guest.toml", "shows", "guest"]);
    let said = used();
    for part in [
        "shows/night.toml (Night)\n",
        "    clip:picture/sea/waves: as that show has it\n",
        "    clip:picture/sea/lost: as that show has it, a stand-in shows\n",
        "    clip:picture/quay/crane: as that show has it\n",
        "1 of 3 shows hold clips of Guest",
    ] {
        assert!(said.contains(part), "no `{part}` in\n{said}");
    }
    // What was missing comes: of two that are called so, the one whose folder is called alike.
    paint("here/gone/lost.png");
    paint("here/other/lost.png");
    let said = bring("shows/night.toml", "shows/night.toml");
    for part in ["clip:picture/sea/lost has its footage now", "clip:picture/quay/crane is there already"] {
        assert!(said.contains(part), "no `{part}` in\n{said}");
    }
    let night = person.show("shows/night.toml");
    let written = |clip: usize| night.bundles[0].levels[0].clips[clip].footage.to_string();
    assert_eq!([written(1), written(2)], ["../here/other/Waves.PNG", "../here/gone/lost.png"]);
    assert_eq!(night.bundles[0].levels[0].clips.len(), 3, "none has come twice");
    person.right(&["check", "shows/night.toml"]);
    // The guest plays one otherwise and leaves another out; one is called and played otherwise here.
    let other =
        guest().replace("amount = 0.5", "amount = 0.9").replace("name = \"crane\"", "name = \"gantry\"");
    fs::write(person.path("guest/guest.toml"), other).unwrap();
    let text = fs::read_to_string(person.path("shows/night.toml")).unwrap();
    let text = text.replace("name = \"lost\"", "name = \"found\"\nspeed = 0.5");
    fs::write(person.path("shows/night.toml"), text).unwrap();
    // What is the same without a note is one of them, too.
    let noteless = plain.replace("generated:waves", "../here/gone/lost.png");
    fs::write(person.path("shows/copied.toml"), noteless).unwrap();
    let said = used();
    for part in [
        "    clip:picture/sea/waves: that show has another one by now\n",
        "    clip:picture/sea/found: picture/sea/lost: as that show has it, changed here since\n",
        "    clip:picture/quay/crane: that show no longer has it\n",
        "shows/copied.toml (Night)\n    clip:picture/sea/own: the same, without a note of it\n",
        "2 of 4 shows hold clips of Guest",
    ] {
        assert!(said.contains(part), "no `{part}` in\n{said}");
    }
    // Where there are sections, none of them looks otherwise for what was brought.
    let sections = "\n[[section]]\nname = \"quay\"\nshows = { \"picture/sea\" = \"own\" }\n";
    fs::write(person.path("set.toml"), plain.to_owned() + sections).unwrap();
    assert!(bring("set.toml", "set.toml").contains("level:picture/quay is hidden until"));
    let set = person.show("set.toml");
    assert_eq!(set.bundles[0].levels.iter().map(|level| level.hidden).collect::<Vec<_>>(), [false, true]);
    person.right(&["starters", "used-in", "guest/guest.toml", "shows", "--json", "used.json"]);
    let figures: serde_json::Value =
        serde_json::from_str(&fs::read_to_string(person.path("used.json")).unwrap()).unwrap();
    assert_eq!(figures[1]["place"][0]["state"], "that show has another one by now");
    let words = ["starters", "bring", "guest/guest.toml", "--what", "clips", "--into", "shows/plain.toml"];
    let (code, error) = person.wrong(&[&words[..], &["--out", "x.toml", "--footage", "nowhere"]].concat());
    assert!(code == 2 && error.contains("--footage: there is no folder nowhere"), "{error}");
}
