//! Words as they are shown: what steers how text reads instead of standing in it is written out.

use std::borrow::Cow;
use std::path::Path;

use super::hidden::{hidden, is_hidden};

/// The longest word, and the longest stretch in backquotes, that an error shows whole, in characters.
const LONGEST: usize = 240;
/// The longest name that stands whole on a control, in characters; what files hold is shorter.
const LONGEST_NAME: usize = 96;

/// A text as it is shown: every hidden character is written as TOML would write it (`\u202E`), save line ends and
/// tabs, which a text of several lines has of its own.
pub fn shown(text: &str) -> Cow<'_, str> {
    written_out(text, &['\n', '\t'])
}

/// A name as it is shown: as [`shown`], in one line whatever it holds, and by its ends where it is far too long for a
/// control.
pub fn shown_name(text: &str) -> String {
    by_its_ends(&written_out(text, &[]), LONGEST_NAME).into_owned()
}

/// A path as it is shown: as a name, but so long that one can find the file.
pub fn shown_path(path: &Path) -> String {
    by_its_ends(&written_out(&path.to_string_lossy(), &[]), LONGEST).into_owned()
}

fn written_out<'a>(text: &'a str, kept: &[char]) -> Cow<'a, str> {
    if hidden(text).all(|character| kept.contains(&character)) {
        return Cow::Borrowed(text);
    }
    let mut shown = String::with_capacity(text.len() + 8);
    let mut before = None;
    for character in text.chars() {
        let is_written_out = is_hidden(before.replace(character), character) && !kept.contains(&character);
        match (is_written_out, u32::from(character)) {
            (false, _) => shown.push(character),
            (true, code @ ..=0xffff) => shown += &format!("\\u{code:04X}"),
            (true, code) => shown += &format!("\\U{code:08X}"),
        }
    }
    Cow::Owned(shown)
}

/// An error as it is shown: as [`shown`], and what is far too long for a line, such as a path, by its ends.
pub fn shown_error(text: &str) -> String {
    let mut short = String::new();
    // Names stand in backquotes, so that every second part is one.
    for (nth, part) in text.split('`').enumerate() {
        if nth > 0 {
            short.push('`');
        }
        if nth % 2 == 1 && !part.contains('\n') {
            short += &by_its_ends(part, LONGEST);
        } else {
            let words = part.split_inclusive(char::is_whitespace);
            words.for_each(|word| short += &by_its_ends(word, LONGEST));
        }
    }
    shown(&short).into_owned()
}

fn by_its_ends(text: &str, longest: usize) -> Cow<'_, str> {
    let length = text.chars().count();
    if length <= longest {
        return Cow::Borrowed(text);
    }
    let end = longest / 2;
    let begins: String = text.chars().take(longest - end).collect();
    let ends: String = text.chars().skip(length - end).collect();
    Cow::Owned(format!("{begins}…({} characters more)…{ends}", length - longest))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_turns_the_direction_of_writing_is_written_out() {
        // The controls of UAX 9, table 4, each.
        for control in
            "\u{61c}\u{200e}\u{200f}\u{202a}\u{202b}\u{202c}\u{202d}\u{202e}\u{2066}\u{2067}\u{2068}\u{2069}"
                .chars()
        {
            let name = format!("quay{control}4");
            assert_eq!(shown(&name), format!("quay\\u{:04X}4", u32::from(control)));
        }
        assert_eq!(shown("a\u{1b}[31m\u{7f}\u{85}\u{e0041}"), "a\\u001B[31m\\u007F\\u0085\\U000E0041");
    }

    #[test]
    fn letters_of_every_script_stay_as_they_are() {
        for name in ["Überfahrt", "夜の船", "میناء\u{200c}ها", "👩\u{200d}✈️", "one\n\ttwo"]
        {
            assert!(matches!(shown(name), Cow::Borrowed(same) if same == name), "{name}");
        }
    }

    #[test]
    fn a_name_is_one_line_that_has_room_on_a_control() {
        assert_eq!(shown_name("quay\n4\t\u{3164}\u{2028}"), "quay\\u000A4\\u0009\\u3164\\u2028");
        let long = shown_name(&"night".repeat(900));
        assert!(long.starts_with("night") && long.ends_with("night"), "{long}");
        assert!(long.chars().count() < 140, "{long}");
        assert_eq!(shown_path(Path::new("quay/\u{202e}4")), "quay/\\u202E4");
    }

    #[test]
    fn an_error_shows_a_long_name_by_its_ends() {
        let long = format!("/quay/{}/show.toml", "a b/".repeat(1000));
        for text in [
            format!("there is no file `{long}`; did you mean `quay.toml`?"),
            format!("--out {}: no", long.replace(' ', "")),
        ] {
            let said = shown_error(&text);
            assert!(said.len() < 600 && said.contains("/quay/") && said.contains("show.toml"), "{said}");
        }
        assert_eq!(shown_error("`a` is no `b`"), "`a` is no `b`");
    }
}
