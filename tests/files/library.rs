//! The library as people use it: through the program, several programs at once, and programs that are ended half way.

use crate::shared::{CATALOGUE, Person};
use std::collections::HashSet;
use std::fs;
use std::path::Path;
use std::process::{Child, Stdio};
use std::time::{Duration, Instant, SystemTime};

use serde_json::Value as Json;
use underover::files;
use underover::files::Document;
use underover::library::{Kind, Library, State, Wish, copies_in};
use underover::order::MOST_EFFECTS;

const LINES: &str = "format = \"underover/chain/1\"
name = \"Harbour lines\"
about = \"Outlines first.\" # a remark of mine
tags = [\"lines\", \"warm\"]

[[effect]]
use = \"edge-find\"

[[effect]]
use = \"tint\"
colour = \"#ff8c33\"
";

const SHOW: &str = "format = \"underover/show/1\"
name = \"Quay\"
frame = { width = 64, height = 36 }
tempo_bpm = 120.0

[[bundle]]
name = \"picture\"

[[bundle.effect]]
use = \"mirror\"

[[bundle.level]]
name = \"sea\"

[[bundle.level.clip]]
name = \"waves\"
footage = \"generated:waves\"
";

/// A person's folders, and a folder to work in.
/// A person with a chain and a show.
fn person() -> Person {
    let person = Person::new();
    fs::write(person.path("lines.toml"), LINES).unwrap();
    fs::write(person.path("show.toml"), SHOW).unwrap();
    person
}

/// What a person has kept.
trait Keeps {
    fn chains(&self) -> Vec<String>;
    fn library(&self) -> Library;
}

impl Keeps for Person {
    fn chains(&self) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(self.path("data/chains"))
            .into_iter()
            .flatten()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    fn library(&self) -> Library {
        let mut library = Library::new(Some(&self.path("data")), Some(&self.path("state")));
        library.scan(&CATALOGUE);
        library
    }
}

#[test]
fn a_chain_is_kept_listed_found_renamed_duplicated_removed_and_restored() {
    let person = person();
    let said = person.right(&["library", "keep", "lines.toml"]);
    assert!(said.contains("library:harbour-lines"), "{said}");
    let said = person.right(&["library", "list"]);
    assert!(
        said.contains("harbour-lines  Harbour lines; edge-find, tint; tags lines, warm; #ff8c33 (orange)"),
        "{said}"
    );
    assert!(said.contains("Inside the program:") && said.contains("lamp-lines"), "{said}");
    for search in [&["outlines"][..], &["tag:warm", "effect:tint"], &["colour:orange"], &["colour:#ff8830"]] {
        let said = person.right(&[&["library", "find"][..], search].concat());
        assert!(said.contains("harbour-lines"), "{search:?}: {said}");
    }
    let said = person.right(&["library", "find", "colour:green", "tag:warm"]);
    assert!(said.contains("no chain is like that"), "{said}");

    person.right(&["library", "rename", "harbour-lines", "Quay lines"]);
    assert_eq!(person.chains(), ["quay-lines.toml"]);
    let text = fs::read_to_string(person.path("data/chains/quay-lines.toml")).unwrap();
    assert!(text.contains("name = \"Quay lines\""), "{text}");
    person.right(&["library", "duplicate", "quay-lines"]);
    assert_eq!(person.chains(), ["quay-lines-2.toml", "quay-lines.toml"]);
    let said = person.right(&["library", "remove", "quay-lines"]);
    assert!(said.contains("restore quay-lines"), "{said}");
    assert_eq!(person.chains(), ["quay-lines-2.toml"]);
    assert!(person.right(&["library", "list", "--removed"]).contains("chain  quay-lines"));
    person.right(&["library", "restore", "quay-lines"]);
    assert_eq!(person.chains(), ["quay-lines-2.toml", "quay-lines.toml"]);
    assert!(person.right(&["library", "list", "--removed"]).contains("nothing has been removed"));
    assert_eq!(fs::read_to_string(person.path("data/chains/quay-lines.toml")).unwrap(), text);
}

#[test]
fn a_file_that_the_person_wrote_keeps_its_comments_when_it_is_renamed() {
    let person = person();
    fs::create_dir_all(person.path("data/chains")).unwrap();
    fs::write(person.path("data/chains/by-hand.toml"), LINES).unwrap();
    person.right(&["library", "rename", "by-hand", "Other"]);
    let text = fs::read_to_string(person.path("data/chains/other.toml")).unwrap();
    assert_eq!(text, LINES.replace("Harbour lines", "Other"));
}

#[test]
fn what_comes_back_from_the_bin_takes_no_name_from_another() {
    let person = person();
    person.right(&["library", "keep", "lines.toml"]);
    person.right(&["library", "remove", "harbour-lines"]);
    person.right(&["library", "keep", "lines.toml", "--tag", "second"]);
    person.right(&["library", "remove", "harbour-lines"]);
    person.right(&["library", "keep", "lines.toml", "--tag", "third"]);
    // The latest that was removed comes first, and the one that stands there stays.
    let said = person.right(&["library", "restore", "harbour-lines"]);
    assert!(said.contains("harbour-lines-2.toml"), "{said}");
    let text = |name: &str| fs::read_to_string(person.path("data/chains").join(name)).unwrap();
    assert!(text("harbour-lines.toml").contains("third") && text("harbour-lines-2.toml").contains("second"));
    person.right(&["library", "restore", "1"]);
    assert!(text("harbour-lines-3.toml").contains("warm"));
}

#[test]
fn a_broken_file_is_listed_with_its_error_and_hides_nothing() {
    let person = person();
    person.right(&["library", "keep", "lines.toml"]);
    fs::write(person.path("data/chains/broken.toml"), LINES.replace("edge-find", "edge-fnid")).unwrap();
    fs::write(person.path("data/chains/a-show.toml"), SHOW).unwrap();
    fs::write(person.path("data/chains/noise.toml"), [0xff, 0xfe, 0x00]).unwrap();
    let said = person.right(&["library", "list"]);
    assert!(said.contains("broken  broken:") && said.contains("did you mean `edge-find`?"), "{said}");
    assert!(said.contains("a-show  broken:") && said.contains("this is a show"), "{said}");
    assert!(said.contains("noise  broken:") && said.contains("harbour-lines  Harbour lines"), "{said}");
    let json: Json = serde_json::from_str(&person.right(&["library", "list", "--json", "-"])).unwrap();
    let broken = json.as_array().unwrap().iter().filter(|entry| !entry["error"].is_null()).count();
    assert_eq!(broken, 3);
    // Mended, it is read again.
    fs::write(person.path("data/chains/broken.toml"), LINES).unwrap();
    assert!(person.right(&["library", "list"]).contains("broken  Harbour lines"));
}

#[test]
fn wrong_words_are_answered_with_the_nearest_right_ones() {
    let person = person();
    person.right(&["library", "keep", "lines.toml"]);
    for (words, answer) in [
        (&["library", "remove", "harbour-lnes"][..], "did you mean `harbour-lines`?"),
        (&["library", "remove", "lamp-lines"], "is part of the program"),
        (&["library", "find", "efect:tint"], "did you mean `effect`?"),
        (&["library", "find", "colour:ornage"], "did you mean `orange`?"),
        (&["library", "restore", "harbour-lines"], "nothing removed is named `harbour-lines`"),
        (&["library", "keep", "show.toml"], "--scope bundle:picture"),
        (&["library", "rename", "harbour-lines", " "], "at least one letter"),
        (
            &[
                "library",
                "put",
                "harbour-lines",
                "--on",
                "bundle:pictur",
                "--show",
                "show.toml",
                "--out",
                "a.toml",
            ],
            "did you mean `picture`?",
        ),
        (&["render", "library:harbour-lnes", "--out", "a.png"], "did you mean `harbour-lines`?"),
        (&["library", "lst"], "list"),
    ] {
        let (code, said) = person.wrong(words);
        assert!(code == 2 && said.contains(answer), "{words:?}: {code} {said}");
    }
    for command in ["list", "find", "keep", "rename", "duplicate", "remove", "restore", "used-in", "put"] {
        let said = person.right(&["library", command, "--help"]);
        assert!(said.contains("Example") && said.contains("underover library"), "{command}: {said}");
    }
}

#[test]
fn a_chain_of_the_library_stands_wherever_a_chain_file_does() {
    let person = person();
    person.right(&["library", "keep", "lines.toml"]);
    assert!(
        person
            .right(&["check", "library:harbour-lines"])
            .contains("right (chain `Harbour lines`, 2 effects)")
    );
    person.right(&["swaps", "library:harbour-lines", "--frame", "64x36"]);
    person.right(&["render", "library:harbour-lines", "--frame", "64x36", "--out", "a.png"]);
    person.right(&["render", "lines.toml", "--frame", "64x36", "--out", "b.png"]);
    assert_eq!(fs::read(person.path("a.png")).unwrap(), fs::read(person.path("b.png")).unwrap());
}

#[test]
fn a_show_keeps_its_own_copy_and_is_told_of_a_newer_one() {
    let person = person();
    person.right(&["library", "keep", "lines.toml"]);
    let put = ["library", "put", "harbour-lines", "--on", "bundle:picture", "--show", "show.toml"];
    person.right(&[&put[..], &["--way", "over", "--out", "new.toml"]].concat());
    let text = fs::read_to_string(person.path("new.toml")).unwrap();
    assert!(text.contains("[[bundle.taken]]\npreset = \"library:harbour-lines\"\ncontent = \""), "{text}");
    let effects = |text: &str| {
        text.lines().filter_map(|line| line.strip_prefix("use = ")).map(str::to_owned).collect::<Vec<_>>()
    };
    assert_eq!(effects(&text), ["\"mirror\"", "\"edge-find\"", "\"tint\""]);
    let said = person.right(&["check", "new.toml"]);
    assert!(said.contains("bundle:picture took `harbour-lines`: as the library has it\n"), "{said}");

    // The library's changes, the show's does not.
    let kept = person.path("data/chains/harbour-lines.toml");
    fs::write(
        &kept,
        fs::read_to_string(&kept).unwrap().replace("use = \"tint\"", "use = \"tint\"\namount = 0.2"),
    )
    .unwrap();
    assert_eq!(fs::read_to_string(person.path("new.toml")).unwrap(), text);
    assert!(person.right(&["check", "new.toml"]).contains("the library has a newer one"));
    // The show's copy is changed by hand.
    fs::write(person.path("new.toml"), text.replace("use = \"tint\"", "use = \"tint\"\namount = 0.1"))
        .unwrap();
    assert!(person.right(&["check", "new.toml"]).contains("changed here since it was taken"));
    person.right(&["library", "remove", "harbour-lines"]);
    assert!(person.right(&["check", "new.toml"]).contains("no longer has it"));
}

#[test]
fn a_copy_that_an_older_version_noted_is_understood_and_its_note_is_written_back_as_it_was() {
    let person = person();
    person.right(&["library", "keep", "lines.toml"]);
    let put = ["library", "put", "harbour-lines", "--on", "bundle:picture", "--show", "show.toml"];
    person.right(&[&put[..], &["--way", "over", "--out", "new.toml"]].concat());
    let text = fs::read_to_string(person.path("new.toml")).unwrap();
    let note = text.lines().find(|line| line.starts_with("content = ")).unwrap();
    assert_eq!(note.len(), "content = \"\"".len() + 32, "{note}");
    // What the program wrote here while it noted 64 bits.
    let before = "content = \"2e2591ed1c415f6b\"";
    let older = text.replace(note, before);
    fs::write(person.path("older.toml"), &older).unwrap();
    let said = person.right(&["check", "older.toml"]);
    assert!(said.contains("took `harbour-lines`: as the library has it\n"), "{said}");
    let again = ["library", "put", "harbour-lines", "--on", "global", "--show", "older.toml"];
    person.right(&[&again[..], &["--way", "over", "--out", "again.toml"]].concat());
    let again = fs::read_to_string(person.path("again.toml")).unwrap();
    assert!(again.contains(before) && again.contains(note), "{again}");
    fs::write(person.path("older.toml"), older.replace("use = \"tint\"", "use = \"tint\"\namount = 0.1"))
        .unwrap();
    assert!(person.right(&["check", "older.toml"]).contains("changed here since it was taken"));
    let kept = person.path("data/chains/harbour-lines.toml");
    let newer = fs::read_to_string(&kept).unwrap().replace("use = \"tint\"", "use = \"tint\"\namount = 0.2");
    fs::write(&kept, newer).unwrap();
    assert!(person.right(&["check", "older.toml"]).contains("the library has a newer one"));
}

#[test]
fn a_chain_is_put_in_place_of_under_or_over_what_is_there_and_the_file_is_not_lost() {
    let person = person();
    for (way, expected) in [
        ("replace", &["edge-find", "tint"][..]),
        ("under", &["edge-find", "tint", "mirror"]),
        ("over", &["mirror", "edge-find", "tint"]),
    ] {
        let out = format!("{way}.toml");
        person.right(&[
            "library",
            "put",
            "lines.toml",
            "--on",
            "bundle:picture",
            "--show",
            "show.toml",
            "--way",
            way,
            "--out",
            &out,
        ]);
        let Document::Show(show) = files::read(&person.path(&out), &CATALOGUE).unwrap() else {
            panic!("a show")
        };
        let names: Vec<&str> = show.bundles[0].chain.iter().map(|used| used.effect.name.as_str()).collect();
        assert_eq!(names, expected, "{way}");
    }
    assert_eq!(fs::read_to_string(person.path("show.toml")).unwrap(), SHOW);
    let again = ["library", "put", "lines.toml", "--on", "global", "--show", "show.toml", "--out"];
    let (_, said) = person.wrong(&[&again[..], &["over.toml"]].concat());
    assert!(said.contains("is already there and is left as it is"), "{said}");
    // Into the show itself it may go: that is what was asked for.
    person.right(&[&again[..], &["show.toml"]].concat());
    for _ in 1..MOST_EFFECTS / 2 {
        person.right(&[&again[..], &["show.toml", "--way", "over"]].concat());
    }
    let (_, said) = person.wrong(&[&again[..], &["show.toml", "--way", "over"]].concat());
    let most = format!(
        "the chain there has {MOST_EFFECTS} effects and this one 2; a chain takes at most {MOST_EFFECTS}"
    );
    assert!(said.contains(&most), "{said}");
}

#[test]
fn what_has_no_effect_is_not_kept() {
    let person = person();
    fs::write(person.path("empty.toml"), "format = \"underover/chain/1\"\nname = \"Nothing\"\n").unwrap();
    for words in [
        &["library", "keep", "empty.toml"][..],
        &["library", "keep", "show.toml", "--scope", "global"],
        &["orders", "empty.toml", "--keep", "1", "--as", "kept.toml"],
    ] {
        let (code, said) = person.wrong(words);
        assert_eq!(code, 2, "{said}");
        assert!(said.contains("has no effect yet") && said.contains("add one"), "{said}");
    }
    assert!(!person.right(&["library", "list"]).contains("Nothing"));
}

#[test]
fn a_search_says_where_it_can_look() {
    let person = person();
    for words in [&["library", "find", "what:x"][..], &["starters", "list", "name:quay"]] {
        let (code, said) = person.wrong(words);
        assert_eq!(code, 2, "{said}");
        assert!(
            said.contains("a search knows no `") && said.contains("`tag`, `effect` and `colour`"),
            "{said}"
        );
    }
    let said = person.right(&["library", "find", "\"what:x\""]);
    assert!(said.contains("no chain is like that"), "{said}");
}

#[test]
fn the_shows_that_hold_a_copy_are_found() {
    let person = person();
    person.right(&["library", "keep", "lines.toml"]);
    fs::create_dir_all(person.path("shows/old")).unwrap();
    let put = ["library", "put", "harbour-lines", "--on", "global", "--show", "show.toml", "--out"];
    person.right(&[&put[..], &["shows/old/new.toml"]].concat());
    fs::write(person.path("shows/without.toml"), SHOW).unwrap();
    // The same effects without a note are a copy as well.
    let bare =
        SHOW.to_owned() + "\n[[global.effect]]\nuse = \"edge-find\"\n\n[[global.effect]]\nuse = \"tint\"\n";
    fs::write(person.path("shows/bare.toml"), bare).unwrap();
    fs::write(person.path("shows/broken.toml"), "format = 3").unwrap();
    let (code, said, noted) = person.run(&["library", "used-in", "harbour-lines", "shows"]);
    assert_eq!(code, 0);
    assert!(said.contains("new.toml (Quay)\n    global: as the library has it"), "{said}");
    assert!(said.contains("bare.toml (Quay)\n    global: the same, without a note of it"), "{said}");
    assert!(said.contains("2 of 3 shows hold a copy"), "{said}");
    assert!(noted.contains("broken.toml"), "{noted}");
}

#[test]
fn sections_that_lay_a_chain_are_told_with_what_has_them_lay_it_again_and_no_file_is_changed_unasked() {
    let person = person();
    person.right(&["library", "keep", "lines.toml", "--name", "amber"]);
    fs::create_dir(person.path("my shows")).unwrap();
    let night = SHOW.to_owned()
        + "\n[[section]]\nname = \"open water\" # mine\nchains = { \"bundle:picture\" = \"library:amber\" }\n";
    fs::write(person.path("my shows/night.toml"), &night).unwrap();
    let said = person.right(&["library", "used-in", "amber", "my shows"]);
    let place = "night.toml (Quay)\n    section open water, bundle:picture: laid there by its name";
    assert!(said.contains(place) && said.contains("1 of 1 shows hold a copy of amber"), "{said}");
    person.right(&["render", "my shows/night.toml", "--section", "open water", "--out", "amber.png"]);
    let (code, _, told) = person.run(&["library", "rename", "amber", "old gold", "my shows"]);
    assert!(code == 0 && told.contains("the section open water of my shows/night.toml"), "{told}");
    let text = || fs::read_to_string(person.path("my shows/night.toml")).unwrap();
    assert_eq!(text(), night);
    let (code, error) = person.wrong(&["check", "my shows/night.toml"]);
    assert!(code != 0 && error.contains("amber"), "{error}");
    // What it says is what a shell takes.
    let command = told.split("another: underover ").nth(1).unwrap().trim();
    let words = shlex::split(command).unwrap();
    person.right(&words.iter().map(String::as_str).collect::<Vec<_>>());
    assert_eq!(text(), night.replace("library:amber", "library:old-gold"));
    person.right(&["check", "my shows/night.toml"]);
    person.right(&["render", "my shows/night.toml", "--section", "open water", "--out", "gold.png"]);
    assert_eq!(fs::read(person.path("amber.png")).unwrap(), fs::read(person.path("gold.png")).unwrap());
    let (code, _, told) = person.run(&["library", "remove", "old-gold", "my shows", "nowhere"]);
    assert!(told.contains("not looked at: there is no file `nowhere`"), "{told}");
    assert!(code == 0 && told.contains("lays library:old-gold on bundle:picture"), "{told}");
    person.right(&["library", "restore", "old-gold"]);
    person.right(&["check", "my shows/night.toml"]);
    // A chain of the program is laid by the name that it has there.
    fs::write(person.path("my shows/night.toml"), night.replace("library:amber", "preset:lamp-lines"))
        .unwrap();
    let said = person.right(&["library", "used-in", "lamp-lines", "my shows"]);
    assert!(said.contains("section open water, bundle:picture"), "{said}");
}

#[test]
fn programs_that_keep_the_same_name_at_once_lose_nothing() {
    const PROGRAMS: usize = 8;
    let person = person();
    let children: Vec<Child> = (0..PROGRAMS)
        .map(|number| {
            let text = LINES.replace("gain", "").replace("\"warm\"", &format!("\"mine {number}\""));
            fs::write(person.path(&format!("{number}.toml")), text).unwrap();
            let mut command = person.command(&["library", "keep", &format!("{number}.toml")]);
            command.stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap()
        })
        .collect();
    for child in children {
        let mut child = child;
        assert!(child.wait().unwrap().success());
    }
    let library = person.library();
    let own: Vec<_> = library.entries().iter().filter(|entry| entry.file().is_some()).collect();
    assert_eq!(own.len(), PROGRAMS, "{:?}", person.chains());
    let tags: HashSet<String> =
        own.iter().map(|entry| entry.facts.as_ref().unwrap().tags[1].clone()).collect();
    assert_eq!(tags.len(), PROGRAMS);
    assert!(person.chains().iter().all(|name| name.ends_with(".toml")), "{:?}", person.chains());
}

#[test]
fn programs_that_remove_and_restore_at_once_lose_nothing() {
    let person = person();
    for _ in 0..4 {
        person.right(&["library", "keep", "lines.toml"]);
    }
    for round in 0..3 {
        let words: Vec<Vec<String>> = (1..=4)
            .flat_map(|number| {
                let handle =
                    if number == 1 { "harbour-lines".to_owned() } else { format!("harbour-lines-{number}") };
                ["remove", "restore"].map(|work| vec!["library".to_owned(), work.to_owned(), handle.clone()])
            })
            .collect();
        let children: Vec<Child> = words
            .iter()
            .map(|words| {
                let words: Vec<&str> = words.iter().map(String::as_str).collect();
                person.command(&words).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap()
            })
            .collect();
        for mut child in children {
            // One that came too late says so; it is no harm.
            child.wait().unwrap();
        }
        let library = person.library();
        let there =
            library.entries().iter().filter(|entry| entry.file().is_some() && entry.facts.is_ok()).count();
        let removed = library.removed().iter().filter(|one| fs::read(&one.file).unwrap().len() > 100).count();
        assert_eq!(there + removed, 4, "round {round}: {:?}", person.chains());
    }
}

#[test]
#[cfg(unix)]
fn a_program_killed_at_any_moment_of_keeping_leaves_whole_files_alone() {
    let person = person();
    let mut kept = 0;
    let mut wait = Duration::ZERO;
    let started = Instant::now();
    let whole = {
        let began = Instant::now();
        person.right(&["library", "keep", "lines.toml"]);
        began.elapsed()
    };
    for round in 0..40 {
        let mut child = person
            .command(&["library", "keep", "lines.toml"])
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        std::thread::sleep(wait);
        // SIGKILL: nothing can be caught or tidied up.
        let _ = child.kill();
        kept += usize::from(child.wait().unwrap().success());
        // Every moment from the start to the end of a run has its turn.
        wait = whole.mul_f64(f64::from(round % 20) / 16.0);
        let library = person.library();
        for entry in library.entries().iter().filter(|entry| entry.file().is_some()) {
            assert!(entry.facts.is_ok(), "round {round}: {:?}", entry.facts);
        }
    }
    let there = person.chains().iter().filter(|name| name.ends_with(".toml")).count();
    assert!(there > kept, "{there} files of {kept} programs that ended well, and one before them");
    eprintln!("{kept} of 40 programs came to their end, {there} files, {:?}", started.elapsed());
}

#[test]
#[cfg(unix)]
fn a_show_that_is_written_over_when_its_program_is_killed_is_the_old_or_the_new_one() {
    let person = person();
    let put = ["library", "put", "lines.toml", "--on", "global", "--show", "show.toml", "--out", "show.toml"];
    let began = Instant::now();
    person.right(&put);
    let whole = began.elapsed();
    let new = fs::read_to_string(person.path("show.toml")).unwrap();
    for round in 0..30 {
        fs::write(person.path("show.toml"), SHOW).unwrap();
        let mut child = person.command(&put).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
        std::thread::sleep(whole.mul_f64(f64::from(round % 15) / 12.0));
        let _ = child.kill();
        child.wait().unwrap();
        let found = fs::read_to_string(person.path("show.toml")).unwrap();
        assert!(found == SHOW || found == new, "round {round}: {found}");
    }
}

/// Writes a library of so many chains, all of some time ago.
fn large(person: &Person, chains: usize) {
    let folder = person.path("data/chains");
    fs::create_dir_all(&folder).unwrap();
    let old = SystemTime::now() - Duration::from_secs(60);
    for number in 0..chains {
        let text = LINES
            .replace("Harbour lines", &format!("Lines {number}"))
            .replace("#ff8c33", &format!("#{:06x}", number * 8191 % 0x0100_0000));
        let path = folder.join(format!("lines-{number:04}.toml"));
        fs::write(&path, text).unwrap();
        fs::File::options().write(true).open(&path).unwrap().set_modified(old).unwrap();
    }
}

#[test]
fn two_thousand_chains_are_searched_in_a_fraction_of_the_time_once_they_are_known() {
    const CHAINS: usize = 2000;
    let person = person();
    large(&person, CHAINS);
    let catalogue = CATALOGUE.clone();
    let mut library = Library::new(Some(&person.path("data")), Some(&person.path("state")));
    let began = Instant::now();
    library.scan(&catalogue);
    let first = began.elapsed();
    assert_eq!(library.read_last(), CHAINS);
    let wish = Wish::parsed("lines 17 effect:tint tag:warm colour:green").unwrap();
    // The best of several: other programs share the machine, and the library is not to blame for them.
    let again = (0..7)
        .map(|_| {
            let began = Instant::now();
            library.scan(&catalogue);
            assert!(library.found(&wish).count() > 0);
            began.elapsed()
        })
        .min()
        .unwrap();
    assert_eq!(library.read_last(), 0);
    let mut another = Library::new(Some(&person.path("data")), Some(&person.path("state")));
    let began = Instant::now();
    another.scan(&catalogue);
    let from_index = began.elapsed();
    assert_eq!(another.read_last(), 0, "another program knows what the first one read");
    assert_eq!(another.entries(), library.entries());
    eprintln!("first scan {first:?}, again with a search {again:?}, by another program {from_index:?}");
    assert!(again * 3 < first, "{again:?} of {first:?}");

    // One changes, one goes, one comes: one or two files are read.
    let changed = person.path("data/chains/lines-0007.toml");
    fs::write(&changed, LINES).unwrap();
    fs::remove_file(person.path("data/chains/lines-0008.toml")).unwrap();
    library.scan(&catalogue);
    assert_eq!(library.read_last(), 1);
    assert_eq!(library.find(Kind::Chain, "lines-0007").unwrap().name(), "Harbour lines");
    assert!(library.find(Kind::Chain, "lines-0008").is_err());
}

#[test]
fn an_index_that_is_broken_or_of_another_program_is_made_anew() {
    let person = person();
    large(&person, 3);
    let index = person.path("state/library-index.json");
    let list = person.right(&["library", "list"]);
    let good = fs::read_to_string(&index).unwrap();
    for bad in [
        "",
        "{",
        "{\"format\": 3}",
        &good
            .replace("Lines 1", "Never")
            .replace("\"of\": \"", "\"of\": \"x")
            .replace("\"of\":\"", "\"of\":\"x"),
    ] {
        fs::write(&index, bad).unwrap();
        assert_eq!(person.right(&["library", "list"]), list);
        assert!(fs::read_to_string(&index).unwrap().contains("Lines 1"));
    }
}

#[test]
fn what_a_show_took_is_known_by_its_effects_when_the_chain_is_called_something_else() {
    let person = person();
    person.right(&["library", "keep", "lines.toml"]);
    person.right(&[
        "library",
        "put",
        "harbour-lines",
        "--on",
        "global",
        "--show",
        "show.toml",
        "--out",
        "new.toml",
    ]);
    person.right(&["library", "rename", "harbour-lines", "Other lines"]);
    let Document::Show(show) = files::read(&person.path("new.toml"), &CATALOGUE).unwrap() else {
        panic!("a show")
    };
    let copies = copies_in(&show, person.library().entries());
    assert_eq!(copies.len(), 1);
    assert_eq!((copies[0].state, copies[0].is_changed), (State::Same, false));
}

#[test]
fn a_note_of_what_was_taken_is_read_strictly() {
    let person = person();
    let content = "0123456789abcdef0123456789abcdef";
    let note =
        format!("[[bundle.taken]]\npreset = \"library:a\"\ncontent = \"{content}\"\n\n[[bundle.level]]");
    let good = SHOW.replacen("[[bundle.level]]", &note, 1);
    fs::write(person.path("good.toml"), &good).unwrap();
    person.right(&["check", "good.toml"]);
    for (wrong, said) in [
        (good.replace(&format!("content = \"{content}\"\n"), ""), "needs `content`"),
        (good.replace("9abcdef", "9ABCDEF"), "it takes 32 digits"),
        (good.replace("abcdef\"", "abc\""), "it takes 32 digits"),
        (good.replace("preset =", "presets ="), "did you mean `preset`?"),
    ] {
        fs::write(person.path("wrong.toml"), wrong).unwrap();
        let (_, error) = person.wrong(&["check", "wrong.toml"]);
        assert!(error.contains(said), "{error}");
    }
}

#[test]
fn without_a_library_everything_works_on_what_is_in_the_program() {
    let person = person();
    let said = person.right(&["library", "list"]);
    assert!(said.contains("Your library has no chain yet") && said.contains("lamp-lines"), "{said}");
    assert!(!Path::new(&person.path("data")).exists(), "listing makes no folder");
}
