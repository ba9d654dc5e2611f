//! The files of the library: their names, and the names inside them.

use std::fs;
use std::path::{Path, PathBuf};

use super::{ENDING, LibraryError};
use crate::base::plain;
use crate::files;

/// Longest handle, in characters; with four bytes each it stays a name that every system takes.
const LONGEST_HANDLE: usize = 56;
/// Names that Windows keeps for devices (Microsoft, "Naming Files, Paths, and Namespaces"; from memory).
const DEVICES: [&str; 6] = ["con", "prn", "aux", "nul", "com1", "lpt1"];

/// The files in a folder that may be entries, in alphabetical order; none where it cannot be read.
pub(super) fn files_in(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    let mut files: Vec<PathBuf> = entries
        .filter(|entry| !entry.file_name().to_string_lossy().starts_with('.'))
        .map(|entry| entry.path())
        .filter(|path| path.extension().is_some_and(|ending| ending == ENDING))
        .collect();
    files.sort();
    files
}

/// A name as that of a file: lower case, words joined by hyphens.
pub(super) fn handle(name: &str) -> String {
    let mut handle = String::new();
    for c in name.chars().flat_map(char::to_lowercase) {
        if c.is_alphanumeric() {
            handle.push(c);
        } else if !handle.ends_with('-') {
            handle.push('-');
        }
    }
    let handle: String = handle.trim_matches('-').chars().take(LONGEST_HANDLE).collect();
    match handle.trim_matches('-') {
        "" => "unnamed".to_owned(),
        device if DEVICES.contains(&device) => format!("{device}-chain"),
        plain => plain.to_owned(),
    }
}

/// The name with a number behind it, from 2 on; a number stays within the length of a name and of a handle.
pub(super) fn numbered(name: &str, number: usize) -> String {
    if number < 2 {
        return name.to_owned();
    }
    let short: String = name.chars().take(LONGEST_HANDLE - 8).collect();
    format!("{} {number}", short.trim_end())
}

/// Writes another name into a file; its comments and everything else stay. A file that is broken is left alone.
pub(super) fn call(path: &Path, name: &str) -> Result<(), LibraryError> {
    let Ok(text) = plain::read_text(path, files::LARGEST_FILE_BYTES) else { return Ok(()) };
    let Some(changed) = called(&text, name).filter(|changed| *changed != text) else { return Ok(()) };
    Ok(files::keep(path, changed.as_bytes())?)
}

fn called(text: &str, name: &str) -> Option<String> {
    let table = toml::de::DeTable::parse(text).ok()?;
    let (_, value) = table.get_ref().iter().find(|(key, _)| key.get_ref() == "name")?;
    let span = value.span();
    Some(format!("{}{}{}", text.get(..span.start)?, toml::Value::from(name), text.get(span.end..)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_becomes_a_file_name_that_every_system_takes() {
        for (name, expected) in [
            ("Harbour lamps", "harbour-lamps"),
            ("  Lines / 2: wet!  ", "lines-2-wet"),
            ("Überfahrt", "überfahrt"),
            ("夜の船", "夜の船"),
            ("../../etc", "etc"),
            ("???", "unnamed"),
            ("NUL", "nul-chain"),
        ] {
            assert_eq!(handle(name), expected, "{name}");
        }
        assert!(handle(&"long ".repeat(16)).chars().count() <= LONGEST_HANDLE);
    }

    #[test]
    fn another_name_leaves_comments_alone() {
        let text =
            "format = \"underover/chain/1\" # first\nname = \"Old\" # mine\n\n[[effect]]\nuse = \"tint\"\n";
        assert_eq!(called(text, "New \"one\"").unwrap(), text.replace("\"Old\"", "'New \"one\"'"));
    }
}
