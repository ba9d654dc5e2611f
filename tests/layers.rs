//! The one direction of the source: each room uses only those before it, and few doors lead to the machine.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// The rooms under `src/`, each of which uses only those before it.
const ROOMS: [&str; 22] = [
    "base",
    "beat",
    "catalogue",
    "measure",
    "midi",
    "show",
    "order",
    "drawing",
    "footage",
    "files",
    "edit",
    "hands",
    "plan",
    "gpu",
    "trial",
    "explore",
    "readiness",
    "output",
    "lessons",
    "library",
    "window",
    "commands",
];

/// Rooms that could run where there are no threads, child processes, files or clock: in a browser, for one.
const SEALED: [&str; 11] =
    ["beat", "catalogue", "measure", "show", "order", "drawing", "hands", "plan", "gpu", "explore", "midi"];

/// What leads to the machine, and the files through which it is reached; a folder stands for all in it.
const DOORS: [(&str, &[&str], &[&str]); 4] = [
    ("a child process", &["Command::new("], &["base/ffmpeg.rs", "trial/process.rs"]),
    (
        "a thread",
        &["thread::spawn", "thread::Builder", "thread::scope"],
        &[
            "base/doing.rs",
            "base/ffmpeg.rs",
            "footage/decoder.rs",
            "trial/process.rs",
            "readiness/flashing",
            "window/threads",
            "window/shelves.rs",
            "commands/progress.rs",
        ],
    ),
    (
        "a file",
        &["fs::", "File::open", "File::create", "OpenOptions"],
        &[
            "base",
            "footage",
            "files",
            "edit",
            "trial",
            "lessons",
            "library",
            "output/moving",
            "window/preferences.rs",
            "window/panels/sheets.rs",
            "commands/manual.rs",
            "commands/own_effects.rs",
        ],
    ),
    ("the graphics library", &["wgpu"], &["gpu", "window"]),
];

/// Words that lead to the machine; they stand in none of the sealed rooms.
const MACHINE: [&str; 12] = [
    "std::fs",
    "std::process",
    "std::thread",
    "std::env",
    "std::net",
    "fs::",
    "thread::",
    "env::var",
    "Instant",
    "SystemTime",
    "Command::new",
    "rustix",
];

struct Source {
    /// Under `src/`, with slashes.
    name: String,
    text: String,
}

impl Source {
    fn room(&self) -> Option<&str> {
        self.name.split_once('/').map(|(room, _)| room)
    }

    /// The lines of code, numbered from 1.
    fn code(&self) -> impl Iterator<Item = (usize, &str)> {
        let lines = self.text.lines().enumerate();
        lines.map(|(at, line)| (at + 1, line)).filter(|(_, line)| !line.trim_start().starts_with("//"))
    }
}

fn sources() -> Vec<Source> {
    fn gather(folder: &Path, found: &mut Vec<PathBuf>) {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                gather(&path, found);
            } else if path.extension().is_some_and(|ending| ending == "rs") {
                found.push(path);
            }
        }
    }
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut paths = Vec::new();
    gather(&root, &mut paths);
    let read = |path: PathBuf| {
        let parts = path.strip_prefix(&root).unwrap().iter().map(|part| part.to_str().unwrap());
        Source { name: parts.collect::<Vec<_>>().join("/"), text: fs::read_to_string(&path).unwrap() }
    };
    paths.into_iter().map(read).collect()
}

/// The rooms that the code names, each with its line: `crate::room`, or the first words of what a `use crate::{..}`
/// holds.
fn rooms_named(source: &Source) -> Vec<(usize, String)> {
    let lines = source.text.lines().map(|line| if line.trim_start().starts_with("//") { "" } else { line });
    let code = lines.collect::<Vec<_>>().join("\n");
    let word =
        |rest: &str| rest.chars().take_while(|c| c.is_ascii_lowercase() || *c == '_').collect::<String>();
    let mut named = Vec::new();
    for (at, path) in code.match_indices("crate::") {
        let line = code[..at].matches('\n').count() + 1;
        let rest = &code[at + path.len()..];
        let Some(list) = rest.strip_prefix('{') else {
            named.push((line, word(rest)));
            continue;
        };
        let mut depth = 0;
        let mut begins = true;
        for (at, c) in list.char_indices() {
            match c {
                '{' => depth += 1,
                '}' if depth == 0 => break,
                '}' => depth -= 1,
                ',' if depth == 0 => begins = true,
                c if begins && !c.is_whitespace() => {
                    named.push((line, word(&list[at..])));
                    begins = false;
                }
                _ => {}
            }
        }
    }
    named
}

fn place(room: &str) -> Option<usize> {
    ROOMS.iter().position(|known| *known == room)
}

#[test]
fn rooms_are_seen_in_every_form_of_a_path() {
    let text = "use crate::gpu::Gpu;\n// crate::window\nuse crate::{\n    order::{Fact, Tree},\n    base,\n};\nlet x = crate::plan::of();";
    let named = rooms_named(&Source { name: "a/b.rs".to_owned(), text: text.to_owned() });
    let named: Vec<(usize, &str)> = named.iter().map(|(line, room)| (*line, room.as_str())).collect();
    assert_eq!(named, [(1, "gpu"), (3, "order"), (3, "base"), (7, "plan")]);
}

#[test]
fn every_room_uses_only_the_rooms_before_it() {
    let mut faults = Vec::new();
    let mut used = 0;
    for source in sources() {
        let Some(own) = source.room() else { continue };
        let own_place = place(own).unwrap_or_else(|| panic!("src/{own}/ is no room that ROOMS knows"));
        for (line, room) in rooms_named(&source) {
            let Some(at) = place(&room) else { continue };
            used += 1;
            if at > own_place {
                faults.push(format!("src/{}:{line}: {own} uses {room}", source.name));
            }
        }
    }
    assert!(used > 500, "only {used} uses were seen: the test no longer reads the source rightly");
    assert!(faults.is_empty(), "a room uses one that stands after it:\n{}", faults.join("\n"));
}

#[test]
fn the_rooms_are_those_of_the_library_and_its_first_lines_name_them_in_this_order() {
    let text = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("src/lib.rs")).unwrap();
    let declared: BTreeSet<&str> =
        text.lines().filter_map(|line| line.strip_prefix("pub mod ")?.strip_suffix(';')).collect();
    assert_eq!(declared, BTreeSet::from(ROOMS), "src/lib.rs declares other rooms");
    let said = text.lines().filter_map(|line| line.strip_prefix("//! ")).collect::<Vec<_>>().join(" ");
    assert!(said.contains(&ROOMS.join(", ")), "the first lines of src/lib.rs name the rooms otherwise");
}

#[test]
fn rooms_without_a_machine_reach_for_none() {
    let mut faults = Vec::new();
    for source in sources().iter().filter(|source| source.room().is_some_and(|own| SEALED.contains(&own))) {
        for (line, code) in source.code() {
            faults.extend(MACHINE.iter().filter(|word| stands_alone(code, word)).map(|word| {
                format!("src/{}:{line}: {word}; go through src/base/: {}", source.name, code.trim())
            }));
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn the_machine_is_reached_through_few_doors() {
    let sources = sources();
    for (what, words, doors) in DOORS {
        let leads = |source: &&Source| {
            source.code().any(|(_, code)| words.iter().any(|word| stands_alone(code, word)))
        };
        let is_door = |source: &&Source, door: &str| {
            source.name == door || source.name.strip_prefix(door).is_some_and(|rest| rest.starts_with('/'))
        };
        let reached: Vec<&Source> = sources.iter().filter(leads).collect();
        for source in &reached {
            let is_one = doors.iter().any(|door| is_door(source, door));
            assert!(is_one, "src/{} reaches for {what}; the doors are {doors:?}", source.name);
        }
        for door in doors {
            assert!(
                reached.iter().any(|source| is_door(source, door)),
                "src/{door} is no door to {what} any more"
            );
        }
    }
}

/// Whether a line has the word, and not as the end of another.
fn stands_alone(code: &str, word: &str) -> bool {
    code.match_indices(word)
        .any(|(at, _)| !code[..at].ends_with(|before: char| before.is_alphanumeric() || before == '_'))
}
