//! Where in a text something stands, and which known name comes nearest to a wrong one.

use std::fmt;

/// A place in a file: line and column count from 1, the column in characters.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// The file as the person named it.
    pub file: String,
    /// Line, from 1.
    pub line: usize,
    /// Column, from 1, in characters.
    pub column: usize,
}

impl Place {
    /// The place of byte `offset` of `text`, which is the content of `file`.
    pub fn of_offset(file: &str, text: &str, offset: usize) -> Self {
        let mut end = offset.min(text.len());
        while !text.is_char_boundary(end) {
            end -= 1;
        }
        let before = &text[..end];
        let line_start = before.rfind('\n').map_or(0, |newline| newline + 1);
        Self {
            file: file.to_owned(),
            line: before.matches('\n').count() + 1,
            column: before[line_start..].chars().count() + 1,
        }
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}:{}", self.file, self.line, self.column)
    }
}

/// The known name nearest to `wrong`, if one is near enough to be what was meant.
pub fn nearest<'a>(wrong: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let wrong = wrong.to_lowercase();
    known
        .into_iter()
        .map(|name| (strsim::damerau_levenshtein(&wrong, &name.to_lowercase()), name))
        .filter(|&(distance, name)| {
            distance <= 1 + name.chars().count() / 4 || (wrong.len() > 2 && name.starts_with(&wrong))
        })
        .min_by_key(|&(distance, _)| distance)
        .map(|(_, name)| name)
}

/// "; did you mean `x`?", or nothing where no known name is near.
pub fn did_you_mean<'a>(wrong: &str, known: impl IntoIterator<Item = &'a str>) -> String {
    nearest(wrong, known).map_or(String::new(), |name| format!("; did you mean `{name}`?"))
}

/// Names as a sentence part: `a`, `b` and `c`.
pub fn listed<'a>(names: impl IntoIterator<Item = &'a str>) -> String {
    let quoted: Vec<String> = names.into_iter().map(|name| format!("`{name}`")).collect();
    match quoted.as_slice() {
        [] => "none".to_owned(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

/// Words as a sentence begins: their first letter raised.
pub fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// Most characters of what a person wrote that a message repeats.
const LONGEST_QUOTE: usize = 60;

/// A word that a person wrote, short enough for a message.
pub fn shortened(word: &str) -> String {
    if word.chars().count() <= LONGEST_QUOTE {
        return word.to_owned();
    }
    word.chars().take(LONGEST_QUOTE).chain(['…']).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_offset_is_found_past_wide_characters() {
        let place = Place::of_offset("a.toml", "é\nüü x", "é\nüü ".len());
        assert_eq!(place.to_string(), "a.toml:2:4");
    }

    #[test]
    fn only_a_near_name_is_suggested() {
        let known = ["tint", "mirror", "edge-find"];
        assert_eq!(nearest("tnit", known), Some("tint"));
        assert_eq!(nearest("Edge_find", known), Some("edge-find"));
        assert_eq!(nearest("edge", known), Some("edge-find"));
        assert_eq!(nearest("zoom", known), None);
    }
}
