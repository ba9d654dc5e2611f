//! A person's files are sacred: no output takes the place of a file that is read, nor unasked of one that is kept.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use clap::{ArgAction, CommandFactory as _};
use image::{Rgba, RgbaImage};
use tempfile::TempDir;
use underover::commands::CommandLine;

const PROGRAM: &str = env!("CARGO_BIN_EXE_underover");

const CHAIN: &str = "format = \"underover/chain/1\"
name = \"Harbour lines\"

[[effect]]
use = \"edge-find\"

[[effect]]
use = \"tint\"
";

/// A show with a picture that shows, one that does not, and a sequence.
const SHOW: &str = "# Friday, quay 4
format = \"underover/show/1\"
name = \"Quay\"
frame = { width = 64, height = 36 }
tempo_bpm = 120.0

[[bundle]]
name = \"picture\"

[[bundle.effect]]
use = \"mirror\"

[[bundle.effect]]
use = \"edge-find\"

[[bundle.level]]
name = \"sea\"

[[bundle.level.clip]]
name = \"waves\"
footage = \"sea.png\"

[[bundle.level.clip]]
name = \"dusk\"
footage = \"dusk.png\"

[[bundle.level]]
name = \"lamps\"

[[bundle.level.clip]]
name = \"lamps\"
footage = \"seq-##.png\"

[[section]]
name = \"landfall\"
beats = 1.0

[[control]]
name = \"Lamp\"
hand = \"left\"
kind = \"latching\"

[[control.grip]]
scope = \"bundle:picture\"
effect = \"mirror\"
setting = \"on\"
low = false
high = true
";

const OWN_EFFECT: &str = include_str!("../own_effects/dim-rows.wgsl");

/// A command with one of its outputs. `SUBJECT` stands for a show file, which may have any name.
struct Case {
    words: &'static str,
    option: &'static str,
    ending: &'static str,
    /// A file that it reads beside the subject, of the output's ending.
    reads: Option<&'static str>,
}

const fn case(words: &'static str, option: &'static str, ending: &'static str) -> Case {
    Case { words, option, ending, reads: None }
}

const fn reading(case: Case, file: &'static str) -> Case {
    Case { reads: Some(file), ..case }
}

/// Every output of every command.
const CASES: [Case; 60] = [
    case("render SUBJECT", "--out", "png"),
    case("render SUBJECT --out picture.png", "--json", "json"),
    case("orders SUBJECT", "--out", "png"),
    case("orders SUBJECT", "--json", "json"),
    case("orders SUBJECT", "--page", "html"),
    case("orders SUBJECT --keep 21", "--as", "toml"),
    // The show that it reads is the one that it may change.
    case("orders show.toml --keep 21", "--into", "toml"),
    case("find SUBJECT --want brightest --tries 9", "--out", "png"),
    case("find SUBJECT --want brightest --tries 9", "--json", "json"),
    case("find SUBJECT --want brightest --tries 9 --part 1/2", "--json", "json"),
    case("find SUBJECT --want brightest --tries 9 --keep 1", "--as", "toml"),
    case("swaps SUBJECT", "--json", "json"),
    case("places SUBJECT --effect tint", "--out", "png"),
    case("places SUBJECT --effect tint", "--json", "json"),
    case("edit set show.toml bundle:picture --hidden true", "--out", "toml"),
    case("edit move show.toml level:picture/sea --over level:picture/lamps", "--out", "toml"),
    case("edit levels show.toml picture lamps sea", "--out", "toml"),
    case("edit add show.toml dusk.png --into bundle:picture", "--out", "toml"),
    case("edit duplicate show.toml bundle:picture", "--out", "toml"),
    case("edit remove show.toml level:picture/sea", "--out", "toml"),
    case("edit section add show.toml anchorage", "--out", "toml"),
    case("edit section set show.toml landfall --fade 1", "--out", "toml"),
    case("edit section duplicate show.toml landfall", "--out", "toml"),
    case("edit section move show.toml landfall --before end", "--out", "toml"),
    case("edit section remove show.toml landfall", "--out", "toml"),
    case("edit running-order show.toml landfall landfall", "--out", "toml"),
    case("edit control add show.toml Bell --hand left --kind momentary", "--out", "toml"),
    case("edit control set show.toml Lamp --hand right", "--out", "toml"),
    case(
        "edit control hold show.toml Lamp --scope level:picture/sea --setting opacity --from 0 --to 1",
        "--out",
        "toml",
    ),
    case(
        "edit control release show.toml Lamp --scope bundle:picture --effect mirror --setting on",
        "--out",
        "toml",
    ),
    case("edit control remove show.toml Lamp", "--out", "toml"),
    case("edit control reach show.toml 300", "--out", "toml"),
    case("compare SUBJECT --order 2,1", "--out", "png"),
    case("compare SUBJECT --order 2,1", "--json", "json"),
    case("flashes SUBJECT --over 1 --no-suggestions", "--json", "json"),
    case("report SUBJECT", "--out", "html"),
    case("sheet SUBJECT", "--out", "svg"),
    case("sheet SUBJECT", "--out", "png"),
    case("sheet SUBJECT", "--out", "txt"),
    reading(case("effects --effects fx", "--json", "json"), "fx/own.wgsl"),
    case("format show", "--json", "json"),
    reading(case("format show --schema --effects fx", "--json", "json"), "fx/own.wgsl"),
    case("hands SUBJECT", "--out", "svg"),
    case("hands SUBJECT", "--json", "json"),
    reading(case("library list", "--json", "json"), "data/chains/mine.toml"),
    case("library list --removed", "--json", "json"),
    reading(case("library find lines", "--json", "json"), "data/chains/mine.toml"),
    reading(case("library used-in mine shows", "--json", "json"), "shows/friday.toml"),
    reading(case("library put lines.toml --on global --show show.toml", "--out", "toml"), "lines.toml"),
    reading(case("library put mine --on global --show show.toml", "--out", "toml"), "data/chains/mine.toml"),
    reading(case("starters list", "--json", "json"), "data/starters/begin.toml"),
    reading(case("starters used-in show.toml shows", "--json", "json"), "shows/friday.toml"),
    reading(case("starters keep show.toml", "--out", "toml"), "show.toml"),
    reading(case("starters begin starter.toml", "--out", "toml"), "starter.toml"),
    reading(
        case("starters bring show.toml --what bundle:picture --into shows/friday.toml", "--out", "toml"),
        "show.toml",
    ),
    case("lessons", "--out", "html"),
    case("check --show SUBJECT", "--json", "json"),
    case("adapters", "--json", "json"),
    case("bench", "--json", "json"),
    // Its output is a folder of pages.
    case("manual", "--out", ""),
];

/// Options that name nothing that is written; where one does so of another command, with their own command.
const NO_OUTPUTS: [&str; 100] = [
    "control",
    "hand",
    "kind",
    "key",
    "midi",
    "cue",
    "every",
    "length",
    "setting",
    "to",
    "curve",
    "one-handed",
    "reach",
    "without-controls",
    "of-section",
    "scale",
    "open-beats",
    "running-order",
    "sections",
    "as-it-stands",
    "before",
    "chain",
    "fade",
    "leave",
    "note",
    "section",
    "shows",
    "blend",
    "colour",
    "edit add --into",
    "edit move --into",
    "hidden",
    "opacity",
    "showing",
    "under",
    "adapter",
    "adapters",
    "for",
    "gather",
    "part",
    "seed",
    "tried-at",
    "tries",
    "vary",
    "at",
    "beats",
    "by",
    "chain-onto",
    "clips",
    "distance",
    "effect",
    "effects",
    "fit",
    "folder",
    "footage",
    "frame",
    "frames",
    "from",
    "in",
    "starters bring --into",
    "keep",
    "levels",
    "like",
    "look-mean",
    "look-p95",
    "memory",
    "most",
    "name",
    "on",
    "order",
    "over",
    "pixels",
    "rate",
    "runs",
    "page-size",
    "schema",
    "scope",
    "show",
    "tag",
    "want",
    "warm-up",
    "way",
    "what",
    "white",
    "no-fuse",
    "no-suggestions",
    "reveal",
    "check",
    "removed",
    "starter",
    "explain",
    "flashes",
    "rules",
    "replace",
    "help",
    "version",
    "sample",
    "pin",
    "row",
    "list",
];

/// A person's folders and files.
struct Person {
    home: TempDir,
}

impl Person {
    fn new() -> Self {
        let person = Self { home: tempfile::tempdir().unwrap() };
        for folder in ["data/chains", "data/starters", "data/lessons", "data/effects", "state", "fx", "shows"]
        {
            fs::create_dir_all(person.path(folder)).unwrap();
        }
        person.file("show.toml", SHOW);
        person.file("shows/friday.toml", SHOW.replace("sea.png", "../sea.png").replace("seq-", "../seq-"));
        person.file("lines.toml", CHAIN);
        person.file("starter.toml", STARTER);
        person.file("data/chains/mine.toml", CHAIN);
        person.file("data/starters/begin.toml", STARTER);
        person.file("fx/own.wgsl", OWN_EFFECT);
        for (name, shade) in [("sea", 40), ("dusk", 80), ("seq-01", 120), ("seq-02", 160), ("wish", 200)] {
            let picture = RgbaImage::from_fn(64, 36, |x, y| Rgba([shade, x as u8 * 3, y as u8 * 5, 255]));
            picture.save(person.path(&format!("{name}.png"))).unwrap();
        }
        person
    }

    fn path(&self, name: &str) -> PathBuf {
        self.home.path().join(name)
    }

    fn file(&self, name: &str, text: impl AsRef<[u8]>) {
        fs::write(self.path(name), text).unwrap();
    }

    fn command(&self, words: &[&str]) -> Command {
        let mut command = Command::new(PROGRAM);
        command.args(words).current_dir(self.home.path()).stdin(Stdio::null());
        for (variable, folder) in
            [("UNDEROVER_DATA", "data"), ("UNDEROVER_STATE", "state"), ("UNDEROVER_CONFIG", "config")]
        {
            command.env(variable, self.path(folder));
        }
        command
    }

    fn ran(&self, words: &[&str]) -> Output {
        self.command(words).output().unwrap()
    }

    fn right(&self, words: &[&str]) {
        let done = self.ran(words);
        assert!(done.status.success(), "{words:?}: {}", String::from_utf8_lossy(&done.stderr));
    }

    /// Refused with these parts in the error, and every file is as it was.
    fn refused(&self, words: &[&str], says: &[&str]) -> String {
        self.refused_by(&mut self.command(words), says)
    }

    fn refused_by(&self, command: &mut Command, says: &[&str]) -> String {
        let before = self.holds();
        let done = command.output().unwrap();
        let said = String::from_utf8_lossy(&done.stderr).into_owned();
        assert_eq!(done.status.code(), Some(2), "{command:?}: {said}");
        for part in says {
            assert!(said.contains(part), "{command:?} does not say `{part}`: {said}");
        }
        assert!(self.holds() == before, "{command:?} changed a file: {said}");
        said
    }

    /// Every file but those in which the program remembers what it has read.
    fn holds(&self) -> BTreeMap<PathBuf, Vec<u8>> {
        fn gather(folder: &Path, into: &mut BTreeMap<PathBuf, Vec<u8>>) {
            for entry in fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()) {
                if entry.is_symlink() && entry.is_dir() {
                    continue;
                } else if entry.is_dir() {
                    gather(&entry, into);
                } else {
                    into.insert(entry.clone(), fs::read(&entry).unwrap());
                }
            }
        }
        let mut holds = BTreeMap::new();
        gather(self.home.path(), &mut holds);
        holds.retain(|path, _| !path.starts_with(self.path("state")));
        holds
    }
}

const STARTER: &str = "format = \"underover/starter/1\"
name = \"Quays\"
frame = { width = 64, height = 36 }
tempo_bpm = 120.0

[[bundle]]
name = \"picture\"

[[bundle.level]]
name = \"sea\"

[[bundle.level.clip]]
name = \"waves\"
footage = \"stand-in:open water\"
";

/// Every command by its words, with its options that take a value or switch something.
fn options(of: &clap::Command, words: &str, into: &mut Vec<(String, String)>) {
    for arg in
        of.get_arguments().filter(|arg| !matches!(arg.get_action(), ArgAction::Help | ArgAction::Version))
    {
        into.extend(arg.get_long().map(|long| (words.trim().to_owned(), long.to_owned())));
    }
    for command in of.get_subcommands().filter(|command| !command.is_hide_set()) {
        options(command, &format!("{words} {}", command.get_name()), into);
    }
}

#[test]
fn every_option_of_every_command_is_known_to_write_a_file_or_to_write_none() {
    let mut all = Vec::new();
    options(&CommandLine::command(), "", &mut all);
    assert!(all.len() > 100, "the walk finds the options: {}", all.len());
    let mut unknown = Vec::new();
    for (command, option) in &all {
        let is_case = CASES.iter().any(|case| {
            case.words.split(' ').collect::<Vec<_>>().join(" ").starts_with(command.as_str())
                && case.option.strip_prefix("--") == Some(option)
        });
        let is_none = [option.clone(), format!("{command} --{option}")]
            .iter()
            .any(|named| NO_OUTPUTS.contains(&named.as_str()));
        if is_case == is_none {
            unknown.push(format!("{command} --{option}"));
        }
        if is_case {
            let takes_replace = all.iter().any(|(other, long)| other == command && long == "replace");
            assert!(takes_replace, "`{command}` writes a file and lacks --replace");
        }
    }
    assert!(
        unknown.is_empty(),
        "an output goes into CASES here, anything else into NO_OUTPUTS: {unknown:#?}"
    );
}

#[test]
fn no_output_of_any_command_replaces_a_file_that_underover_keeps() {
    let person = Person::new();
    person.right(&["library", "list"]);
    let odd = |ending: &str| format!("kept.{ending}");
    for case in CASES.iter().filter(|case| !case.ending.is_empty()) {
        let words = case.words.replace("SUBJECT", "show.toml");
        let words: Vec<&str> = words.split(' ').collect();
        let run = |victim: &str| {
            let words = [&words[..], &[case.option, victim]].concat();
            let said = person.refused(&words, &[case.option, victim]);
            // What a command has read by then is refused as that, however it is kept.
            let is_kept =
                said.contains("is already there and is left as it is") && said.contains("--replace");
            assert!(is_kept || said.contains("read here and would be lost"), "{words:?}: {said}");
        };
        // By what is in it, whatever it is called.
        person.file(&odd(case.ending), format!("\u{feff}# mine\n{CHAIN}"));
        run(&odd(case.ending));
        fs::remove_file(person.path(&odd(case.ending))).unwrap();
        if case.ending == "json" {
            for victim in [
                "data/chains/mine.toml",
                "data/starters/begin.toml",
                "fx/own.wgsl",
                "state/library-index.json",
            ] {
                run(victim);
            }
        }
    }
}

#[test]
fn no_output_of_any_command_replaces_a_file_that_it_reads_even_when_told_to() {
    let person = Person::new();
    for case in CASES.iter().filter(|case| !case.ending.is_empty()) {
        let subject = format!("subject.{}", case.ending);
        let victim = match case.reads {
            Some(file) => file,
            None if case.words.contains("SUBJECT") => &subject,
            None => continue,
        };
        person.file(&subject, SHOW);
        let words = case.words.replace("SUBJECT", &subject);
        let words: Vec<&str> = words.split(' ').collect();
        person.refused(
            &[&words[..], &[case.option, victim, "--replace"]].concat(),
            &[case.option, victim, "read here and would be lost"],
        );
        fs::remove_file(person.path(&subject)).unwrap();
    }
}

#[test]
fn an_order_is_put_back_into_its_show_with_its_comments_and_nothing_else_changes() {
    let person = Person::new();
    let show = SHOW.replace(
        "[[bundle.effect]]\nuse = \"mirror\"",
        "# folded for the narrow wall\n[[bundle.effect]]\nuse = \"mirror\"",
    );
    person.file("show.toml", &show);
    let keep = ["orders", "show.toml", "--scope", "bundle:picture", "--keep", "21", "--into"];
    person.right(&[&keep[..], &["show.toml"]].concat());
    let text = fs::read_to_string(person.path("show.toml")).unwrap();
    let at = |part: &str| text.find(part).unwrap_or_else(|| panic!("no {part:?} in\n{text}"));
    assert!(text.starts_with("# Friday, quay 4\n"), "{text}");
    assert!(
        at("use = \"edge-find\"") < at("# folded for the narrow wall\n[[bundle.effect]]\nuse = \"mirror\""),
        "{text}"
    );
    // Its marks go along, so that the order has the code that it was kept by; taken back, the file is what it was.
    let figures = person.ran(&["orders", "show.toml", "--frame", "16x9", "--json", "-"]);
    assert!(String::from_utf8_lossy(&figures.stdout).contains("\"own_order\": \"21\""), "{text}");
    person.right(&["orders", "show.toml", "--keep", "12", "--into", "show.toml"]);
    assert_eq!(fs::read_to_string(person.path("show.toml")).unwrap(), show);
    // A new file takes the show along; one that is kept there stays.
    person.right(&[&keep[..], &["other.toml"]].concat());
    assert!(fs::read_to_string(person.path("other.toml")).unwrap().contains("name = \"Quay\""));
    person.refused(&[&keep[..], &["lines.toml"]].concat(), &["--into lines.toml", "--replace"]);
    person.refused(&[&keep[..], &["show.png"]].concat(), &["--into show.png", "show.toml"]);
    person.refused(
        &["orders", "lines.toml", "--keep", "21", "--into", "lines.toml"],
        &["--into", "is a chain", "--as"],
    );
    person.refused(&["orders", "show.toml", "--keep", "22", "--into", "show.toml"], &["--keep 22"]);
    person.refused(&["orders", "show.toml", "--into", "show.toml"], &["--keep"]);
    person.refused(&["orders", "show.toml", "--keep", "21"], &["--as", "--into"]);
}

#[test]
fn footage_is_read_whether_it_shows_or_not_and_through_links_of_both_kinds() {
    let person = Person::new();
    std::os::unix::fs::symlink("sea.png", person.path("soft.png")).unwrap();
    fs::hard_link(person.path("sea.png"), person.path("hard.png")).unwrap();
    fs::hard_link(person.path("seq-02.png"), person.path("second.png")).unwrap();
    std::os::unix::fs::symlink(".", person.path("round")).unwrap();
    for victim in [
        "sea.png",
        "dusk.png",
        "soft.png",
        "hard.png",
        "./shows/../sea.png",
        "round/sea.png",
        "seq-02.png",
        "second.png",
    ] {
        person
            .refused(&["render", "show.toml", "--out", victim, "--replace"], &["--out", victim, "read here"]);
    }
    // One more picture would make the sequence another.
    person.refused(&["render", "show.toml", "--out", "seq-03.png"], &["seq-##.png", "read here"]);
    let numbered = ["render", "show.toml", "--frames", "2", "--replace", "--out"];
    for pattern in ["seq-##.png", "seq-0#.png", "round/seq-##.png"] {
        person.refused(&[&numbered[..], &[pattern]].concat(), &["seq-##.png", "read here"]);
    }
    // The tenth would be one of the sequence.
    let ten = ["render", "show.toml", "--frames", "10", "--out", "seq-#.png"];
    person.refused(&ten, &["seq-10.png", "seq-##.png", "read here"]);
    let wish = ["orders", "lines.toml", "--frame", "64x36", "--want", "like", "--like", "wish.png", "--out"];
    person.refused(&[&wish[..], &["wish.png"]].concat(), &["--out", "wish.png", "read here"]);
}

#[test]
fn what_stands_on_standard_input_or_output_is_a_file_like_any_other() {
    let person = Person::new();
    person.right(&["render", "lines.toml", "--frame", "64x36", "--frames", "2", "--out", "film.y4m"]);
    let film = || Stdio::from(fs::File::open(person.path("film.y4m")).unwrap());
    let words =
        ["render", "lines.toml", "--frame", "64x36", "--footage", "-", "--frames", "1", "--out", "film.y4m"];
    person.refused_by(person.command(&words).stdin(film()), &["film.y4m", "read here"]);
    // What is appended to a show makes it another.
    let end = || Stdio::from(fs::File::options().append(true).open(person.path("show.toml")).unwrap());
    for words in
        [&["swaps", "show.toml", "--json", "-"][..], &["render", "show.toml", "--frames", "1", "--out", "-"]]
    {
        let before = person.holds();
        let done = person.command(words).stdout(end()).output().unwrap();
        let said = String::from_utf8_lossy(&done.stderr);
        assert_eq!(done.status.code(), Some(2), "{said}");
        assert!(said.contains("read here"), "{said}");
        assert!(person.holds() == before);
    }
}

#[test]
fn a_file_that_underover_did_not_make_or_that_was_changed_since_stays_unless_it_is_told_to_go() {
    let person = Person::new();
    let mine = ["render", "show.toml", "--frames", "1", "--out"];
    let page = ["orders", "show.toml", "--at", "0.1", "--page", "page.html"];
    let sheet = ["sheet", "show.toml", "--out", "sheet.svg"];
    for (name, command) in [
        ("still.png", &["render", "show.toml", "--out", "still.png"][..]),
        ("README", &["render", "show.toml", "--out", "README"]),
        ("film.y4m", &[&mine[..], &["film.y4m"]].concat()),
        ("film.apng", &[&mine[..], &["film.apng"]].concat()),
        ("map.svg", &["hands", "show.toml", "--out", "map.svg"]),
        ("figures.json", &["adapters", "--json", "figures.json"]),
        ("figures", &["adapters", "--json", "figures"]),
        ("page.html", &page),
        ("sheet.svg", &sheet),
    ] {
        // The work of somebody else, of whatever kind it looks.
        for theirs in
            [&b"{ \"my\": 1 }"[..], b"<p>My page</p>", b"YUV4MPEG2 W2 H2\n", b"\x89PNG\r\n\x1a\nmine"]
        {
            person.file(name, theirs);
            person.refused(command, &[name, "does not know as made by itself is already there", "--replace"]);
            assert_eq!(fs::read(person.path(name)).unwrap(), theirs, "{name}");
        }
        person.right(&[command, &["--replace"]].concat());
        person.right(command);
        // What was made, and drawn on since.
        let mut drawn_on = fs::read(person.path(name)).unwrap();
        drawn_on.extend(b"and a note of mine");
        person.file(name, &drawn_on);
        person.refused(command, &[name, "is already there"]);
        assert_eq!(fs::read(person.path(name)).unwrap(), drawn_on, "{name}");
        fs::remove_file(person.path(name)).unwrap();
        person.right(command);
        // Another's in its place, as old as it was.
        fs::rename(person.path(name), person.path("elsewhere")).unwrap();
        person.file(name, "theirs");
        person.refused(command, &[name, "is already there"]);
        fs::remove_file(person.path("elsewhere")).unwrap();
    }
    // Numbered pictures are known by their note, and not one of them is written over without it.
    person.file("f-0002.png", "theirs");
    let numbered = ["render", "show.toml", "--frames", "3", "--out", "f-####.png"];
    let refused = person.ran(&numbered);
    let said = String::from_utf8_lossy(&refused.stderr);
    assert!(!refused.status.success() && said.contains("f-0002.png` is there already"), "{said}");
    assert_eq!(fs::read(person.path("f-0002.png")).unwrap(), b"theirs");
    person.right(&[&numbered[..], &["--replace"]].concat());
}

#[test]
fn what_was_made_yesterday_is_made_again_and_what_is_kept_goes_when_it_is_told_to() {
    let person = Person::new();
    for _ in 0..2 {
        person.right(&["orders", "show.toml", "--out", "wall.png", "--json", "wall.json"]);
        person.right(&["hands", "show.toml", "--out", "map.svg", "--json", "figures"]);
        person.right(&["render", "show.toml", "--frames", "1", "--out", "film.y4m"]);
        person.right(&["manual", "--out", "man1"]);
    }
    // An empty file loses nothing.
    person.file("begun.png", "");
    person.right(&["render", "show.toml", "--out", "begun.png"]);

    let kept = ["orders", "lines.toml", "--frame", "64x36", "--keep", "21", "--as", "kept.toml"];
    person.right(&kept);
    person.refused(&kept, &["--as kept.toml", "a chain is already there and is left as it is"]);
    person.right(&[&kept[..], &["--replace"]].concat());
    person.file("man1/underover.1", SHOW);
    person.refused(&["manual", "--out", "man1"], &["underover.1", "a show is already there"]);
    person.right(&["manual", "--out", "man1", "--replace"]);
    // A show whose text is broken for now is a show still.
    person.file("kept.json", SHOW.replace("name = \"Quay\"", "name = \"Quay"));
    person.refused(&["adapters", "--json", "kept.json"], &["a show is already there"]);
    // The very show that is edited is what is asked for.
    person.right(&[
        "library",
        "put",
        "lines.toml",
        "--on",
        "global",
        "--show",
        "show.toml",
        "--out",
        "show.toml",
    ]);
    assert!(fs::read_to_string(person.path("show.toml")).unwrap().contains("lines.toml"));
}
