//! Searching: words that match anything, and words that match one thing.

use thiserror::Error;

use super::Entry;
use super::colours::{COLOUR_WORDS, colour_word};
use crate::base::colour::Colour;
use crate::base::place::{did_you_mean, listed};
use crate::measure::{ciede2000, lab_from_srgb};

/// What may stand before a colon.
const KEYS: [&str; 3] = ["tag", "effect", "colour"];
/// How far a colour may be from the one asked for, in CIEDE2000: what still goes by one name (common practice, no
/// source).
const NEAR: f64 = 14.0;

/// What a search is after; all of it has to be met.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Wish {
    /// Parts of words, in lower case, that stand anywhere.
    words: Vec<String>,
    tags: Vec<String>,
    effects: Vec<String>,
    colours: Vec<ColourWish>,
}

#[derive(Debug, Clone, PartialEq)]
enum ColourWish {
    Word(&'static str),
    Near(Colour),
}

/// Why a search was not understood.
#[derive(Debug, Error, PartialEq, Eq)]
pub enum SearchError {
    /// A word before a colon that is none of the known ones.
    #[error("a search knows no `{0}:`{1} (it knows {2}; a plain word, or one in quotes, matches anything)")]
    Key(String, String, String),
    /// A known word before a colon, and nothing behind it.
    #[error("`{0}:` says where to look and not for what; write a word right behind it, such as {1}")]
    Nothing(String, &'static str),
    /// No colour.
    #[error("`{0}` is no colour{1}; write #rrggbb or one of {2}")]
    Colour(String, String, String),
}

impl Wish {
    /// Reads a search: words apart by spaces, `tag:`, `effect:` and `colour:` before a word, quotes around several.
    ///
    /// # Errors
    /// [`SearchError`] with what is allowed.
    pub fn parsed(text: &str) -> Result<Self, SearchError> {
        let mut wish = Self::default();
        for (word, is_quoted) in words_of(text) {
            match word.split_once(':') {
                // A space behind the colon would make two searches of one.
                Some((key @ ("tag" | "effect" | "colour" | "color"), "")) => {
                    let such = match key {
                        "tag" => "tag:warm",
                        "effect" => "effect:tint",
                        _ => "colour:orange",
                    };
                    return Err(SearchError::Nothing(key.to_owned(), such));
                }
                Some(("tag", value)) => wish.tag(value),
                Some(("effect", value)) => wish.effect(value),
                Some(("colour" | "color", value)) => wish.colour(value)?,
                // A time of day or an address is a word; so is what stands in quotes.
                Some((key, _)) if !is_quoted && is_key(key) => {
                    let hint = did_you_mean(key, KEYS);
                    return Err(SearchError::Key(key.to_owned(), hint, listed(KEYS)));
                }
                _ => wish.words.push(word.to_lowercase()),
            }
        }
        Ok(wish)
    }

    /// Asks for a tag, or the beginning of one.
    pub fn tag(&mut self, tag: &str) {
        self.tags.push(tag.to_lowercase());
    }

    /// Asks for an effect, or the beginning of its name.
    pub fn effect(&mut self, effect: &str) {
        self.effects.push(effect.to_lowercase());
    }

    /// Asks for a colour: a word for it, or `#rrggbb` for it and what is near it.
    ///
    /// # Errors
    /// [`SearchError::Colour`].
    pub fn colour(&mut self, written: &str) -> Result<(), SearchError> {
        let word = COLOUR_WORDS.into_iter().find(|word| *word == written.to_lowercase());
        let wish = match (word, written.to_lowercase().parse()) {
            (Some(word), _) => ColourWish::Word(word),
            (None, Ok(colour)) => ColourWish::Near(colour),
            (None, Err(())) => {
                let hint = did_you_mean(written, COLOUR_WORDS);
                return Err(SearchError::Colour(written.to_owned(), hint, listed(COLOUR_WORDS)));
            }
        };
        self.colours.push(wish);
        Ok(())
    }

    /// Whether it asks for nothing, and everything meets it.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }

    /// Whether an entry is what is looked for; a broken one is found by its file's name.
    pub fn meets(&self, entry: &Entry) -> bool {
        let handle = entry.handle.to_lowercase();
        let Ok(facts) = &entry.facts else {
            let plain = self.tags.is_empty() && self.effects.is_empty() && self.colours.is_empty();
            return plain && self.words.iter().all(|word| handle.contains(word) || word == "broken");
        };
        let begins =
            |list: &[String], wish: &String| list.iter().any(|one| one.to_lowercase().starts_with(wish));
        self.words.iter().all(|word| facts.words.contains(word) || handle.contains(word))
            && self.tags.iter().all(|tag| begins(&facts.tags, tag))
            && self.effects.iter().all(|effect| begins(&facts.effects, effect))
            && self.colours.iter().all(|wish| {
                facts
                    .colours
                    .iter()
                    .filter_map(|colour| colour.parse().ok())
                    .any(|colour| wish.is_met_by(colour))
            })
    }
}

impl ColourWish {
    fn is_met_by(&self, colour: Colour) -> bool {
        match self {
            Self::Word(word) => colour_word(colour) == *word,
            Self::Near(wanted) => ciede2000(lab_from_srgb(wanted.0), lab_from_srgb(colour.0)) <= NEAR,
        }
    }
}

/// Whether what stands before a colon is meant to say where to look: letters alone.
fn is_key(text: &str) -> bool {
    !text.is_empty() && text.chars().all(char::is_alphabetic)
}

/// Words apart by spaces, and whether one begins with a quote; quotes hold several together.
fn words_of(text: &str) -> Vec<(String, bool)> {
    let mut words = Vec::new();
    let (mut word, mut is_quoted, mut begins_quoted) = (String::new(), false, false);
    for c in text.chars() {
        match c {
            '"' => {
                begins_quoted |= word.is_empty() && !is_quoted;
                is_quoted = !is_quoted;
            }
            c if c.is_whitespace() && !is_quoted => {
                if !word.is_empty() {
                    words.push((std::mem::take(&mut word), begins_quoted));
                }
                begins_quoted = false;
            }
            c => word.push(c),
        }
    }
    if !word.is_empty() {
        words.push((word, begins_quoted));
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quotes_hold_words_together() {
        let words: Vec<String> =
            words_of("a  tag:\"start here\" b").into_iter().map(|(word, _)| word).collect();
        assert_eq!(words, ["a", "tag:start here", "b"]);
    }

    #[test]
    fn a_key_that_is_none_is_pointed_out_and_a_word_in_quotes_is_a_word() {
        for (words, key) in
            [("what:x", "what"), ("name:lines", "name"), ("tags:", "tags"), ("a what:x b", "what")]
        {
            let error = Wish::parsed(words).unwrap_err().to_string();
            assert!(error.contains(&format!("no `{key}:`")) && error.contains("`effect`"), "{error}");
        }
        for words in ["tag: warm", "effect:", "colour: orange"] {
            let error = Wish::parsed(words).unwrap_err().to_string();
            assert!(error.contains("right behind it"), "{error}");
        }
        assert_eq!(Wish::parsed("\"what:x\"").unwrap().words, ["what:x"]);
        let error = Wish::parsed("efect:tint").unwrap_err().to_string();
        assert!(error.contains("did you mean `effect`?"), "{error}");
        assert_eq!(Wish::parsed("12:30").unwrap().words, ["12:30"]);
        let error = Wish::parsed("colour:ornage").unwrap_err().to_string();
        assert!(error.contains("did you mean `orange`?"), "{error}");
    }
}
