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
    (
        "a child process",
        &["Command::new("],
        &["base/ffmpeg.rs", "trial/process.rs", "commands/bench/whole.rs"],
    ),
    (
        "a thread",
        &["thread::spawn", "thread::Builder", "thread::scope"],
        &[
            "base/at_once.rs",
            "base/doing.rs",
            "base/ffmpeg.rs",
            "footage/decoder.rs",
            "trial/process.rs",
            "readiness/flashing",
            "output/moving/line.rs",
            "window/threads/worker.rs",
            "commands/progress.rs",
            "commands/find/stream.rs",
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
            "window/panels/dialogs/files.rs",
            "commands/bench/whole.rs",
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

/// The panel that a file is of, or a part of; none where it is of none.
fn panel(file: &str) -> Option<&str> {
    let panel = file.strip_prefix("window/panels/")?.split('/').next()?;
    Some(panel.strip_suffix(".rs").unwrap_or(panel)).filter(|panel| *panel != "mod")
}

#[test]
fn no_panel_names_another() {
    let sources = sources();
    let panels: BTreeSet<&str> = sources.iter().filter_map(|source| panel(&source.name)).collect();
    assert!(panels.len() > 8, "only {panels:?} were seen: the test no longer reads the source rightly");
    let mut faults = Vec::new();
    for source in &sources {
        let Some(own) = panel(&source.name) else { continue };
        // From a panel's own folder, one `super` leads to the panel and two to all of them.
        let is_part = source.name.matches('/').count() > 2 && !source.name.ends_with("/mod.rs");
        let above = if is_part { "super::super::" } else { "super::" };
        for (line, code) in source.code() {
            let is_named = |path: String| stands_alone(code, &path);
            let all = is_named("panels::".to_owned()) || is_named(format!("{above}{{"));
            let others = panels.iter().filter(|other| **other != own);
            let named = others.filter(|other| {
                is_named(format!("{above}{other}::"))
                    || is_named(format!("{above}{other};"))
                    || is_named(format!("{other}::show("))
            });
            faults.extend(named.map(|other| format!("src/{}:{line}: {own} names {other}", source.name)));
            if all {
                faults.push(format!("src/{}:{line}: {}", source.name, code.trim()));
            }
        }
    }
    assert!(
        faults.is_empty(),
        "what two panels share stands in window/widgets/ or scene.rs:\n{}",
        faults.join("\n")
    );
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

/// One file as the program's modules name it.
struct Module<'a> {
    source: &'a Source,
    /// Its path in the program: `["gpu", "screen", "queue"]`.
    path: Vec<String>,
    /// Whether it stands for its folder; what it holds itself may be used by all in there.
    is_folder: bool,
}

fn modules(sources: &[Source]) -> Vec<Module<'_>> {
    let folders: BTreeSet<&str> =
        sources.iter().filter_map(|s| s.name.rsplit_once('/')).map(|(folder, _)| folder).collect();
    let module = |source| {
        let Source { name, .. }: &Source = source;
        let stem = name.trim_end_matches(".rs");
        let stem = stem.strip_suffix("/mod").unwrap_or(stem);
        let path: Vec<String> = stem.split('/').map(str::to_owned).collect();
        Module { source, path, is_folder: name.ends_with("/mod.rs") || folders.contains(stem) }
    };
    sources.iter().map(module).collect()
}

/// Every path after one of these words, each with its line: of `use a::{b::C, d}` both `a::b::C` and `a::d`.
fn paths_after(source: &Source, words: &[&str]) -> Vec<(usize, Vec<String>)> {
    /// The paths of one tree of names; gives what follows it.
    fn tree<'t>(text: &'t str, stem: &[String], found: &mut Vec<Vec<String>>) -> &'t str {
        let text = text.trim_start();
        if let Some(mut rest) = text.strip_prefix('{') {
            loop {
                rest = rest.trim_start();
                match rest.chars().next() {
                    Some('}') | None => return rest.get(1..).unwrap_or_default(),
                    Some(',') => rest = &rest[1..],
                    Some(c) if c.is_alphanumeric() || c == '_' || c == '{' => rest = tree(rest, stem, found),
                    Some(c) => rest = &rest[c.len_utf8()..],
                }
            }
        }
        let end = text.find(|c: char| !c.is_alphanumeric() && c != '_').unwrap_or(text.len());
        let (name, rest) = text.split_at(end);
        let stem: Vec<String> = stem.iter().cloned().chain([name.to_owned()]).collect();
        match rest.strip_prefix("::") {
            Some(more) if more.starts_with(|c: char| c.is_alphanumeric() || c == '_' || c == '{') => {
                tree(more, &stem, found)
            }
            _ => {
                found.push(stem);
                rest
            }
        }
    }
    let lines = source.text.lines().map(|line| if line.trim_start().starts_with("//") { "" } else { line });
    let code = lines.collect::<Vec<_>>().join("\n");
    let mut all = Vec::new();
    for word in words {
        for (at, _) in code.match_indices(word) {
            let before = code[..at].chars().next_back();
            if before.is_some_and(|c| c.is_alphanumeric() || matches!(c, '_' | ':')) {
                continue;
            }
            let mut found = Vec::new();
            tree(code[at..].trim_start_matches("use "), &[], &mut found);
            let line = code[..at].matches('\n').count() + 1;
            all.extend(found.into_iter().map(|path| (line, path)));
        }
    }
    all
}

/// The file that a path leads to, through what folders hand on; none where that is a folder's own, or no file of ours.
fn led_to(modules: &[Module<'_>], from: &Module<'_>, path: &[String], depth: usize) -> Option<usize> {
    let mut at: Vec<String> = from.path.clone();
    let mut names = path.iter().peekable();
    match names.peek().map(|name| name.as_str()) {
        Some("crate") => {
            names.next();
            at.clear();
        }
        Some("self") => drop(names.next()),
        _ => {
            while names.next_if(|name| *name == "super").is_some() {
                at.pop();
            }
        }
    }
    let known = |path: &[String]| modules.iter().position(|module| module.path == path);
    while let Some(name) = names.peek() {
        at.push((*name).clone());
        if known(&at).is_none() {
            at.pop();
            break;
        }
        names.next();
    }
    let found = known(&at)?;
    if !modules[found].is_folder {
        return Some(found);
    }
    let name = names.next()?;
    let handed_on = paths_after(modules[found].source, &["use "]).into_iter();
    let hands_it = |path: &Vec<String>| path.last() == Some(name) && path.len() > 1;
    let handed = handed_on.map(|(_, path)| path).find(hands_it)?;
    if depth == 0 { None } else { led_to(modules, &modules[found], &handed, depth - 1) }
}

#[test]
fn a_path_is_followed_to_its_file_through_what_a_folder_hands_on() {
    let source = |name: &str, text: &str| Source { name: name.to_owned(), text: text.to_owned() };
    let sources = [
        source("a/mod.rs", "mod b;\npub mod c;\npub use b::{B, x};\npub struct Own;"),
        source("a/b.rs", "use super::{c::C, Own};\n// use super::d\nuse crate::a::c;"),
        source("a/c.rs", "use super::B;\nlet x = super::b::x();"),
    ];
    let modules = modules(&sources);
    let seen = |at: usize| -> Vec<(usize, Option<usize>)> {
        let paths = paths_after(modules[at].source, &["crate::", "super::"]);
        paths.into_iter().map(|(line, path)| (line, led_to(&modules, &modules[at], &path, 3))).collect()
    };
    assert_eq!(seen(1), [(3, Some(2)), (1, Some(2)), (1, None)]);
    assert_eq!(seen(2), [(1, Some(1)), (2, Some(1))]);
}

#[test]
fn a_file_is_no_longer_than_one_reads_at_once() {
    const MOST_LINES: usize = 600;
    for source in sources() {
        let lines = source.text.lines().count();
        assert!(
            lines <= MOST_LINES,
            "src/{}: {lines} lines; at most {MOST_LINES}: part it by job",
            source.name
        );
    }
}

#[test]
fn no_two_files_of_a_room_use_each_other_in_a_circle() {
    let sources = sources();
    let modules = modules(&sources);
    // By file, the files of its room that it uses, with the line that names them.
    let uses: Vec<Vec<(usize, usize)>> = modules
        .iter()
        .enumerate()
        .map(|(own, module)| {
            let is_asked = !module.is_folder;
            let paths = paths_after(module.source, &["crate::", "super::"]).into_iter().filter(|_| is_asked);
            let led = paths.filter_map(|(line, path)| Some((led_to(&modules, module, &path, 3)?, line)));
            led.filter(|(to, _)| *to != own && modules[*to].source.room() == module.source.room()).collect()
        })
        .collect();
    assert!(
        uses.iter().flatten().count() > 300,
        "few uses were seen: the test no longer reads the source rightly"
    );
    let reaches = |from: usize, to: usize| {
        let mut seen = BTreeSet::from([from]);
        let mut ahead = vec![from];
        while let Some(at) = ahead.pop() {
            ahead.extend(uses[at].iter().map(|(next, _)| *next).filter(|next| seen.insert(*next)));
        }
        seen.contains(&to)
    };
    let name = |at: usize| &modules[at].source.name;
    let mut knots = BTreeSet::new();
    for (own, used) in uses.iter().enumerate() {
        for &(other, line) in used.iter().filter(|(other, _)| reaches(*other, own)) {
            knots.insert(format!("src/{}:{line} uses {}", name(own), name(other)));
        }
    }
    let knots: Vec<String> = knots.into_iter().collect();
    assert!(knots.is_empty(), "files use each other in a circle:\n{}", knots.join("\n"));
}

/// Whether a line has the word, and not as the end of another.
fn stands_alone(code: &str, word: &str) -> bool {
    code.match_indices(word)
        .any(|(at, _)| !code[..at].ends_with(|before: char| before.is_alphanumeric() || before == '_'))
}
