//! Tables of a TOML text, read key by key, so that every refusal knows its place.

use std::fmt::Display;
use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::FileError;
use crate::base::coding::{ColourCode, OkabeIto};
pub(crate) use crate::base::place::shortened;
use crate::base::place::{Place, did_you_mean, listed, nearest};
use crate::show::name::{NameFault, check_name, check_scope_name};

/// What to do about a file that is not text.
pub(crate) const PLAIN_TEXT: &str = "a chain or show file is plain text, saved as UTF-8";

/// The text of one file, with the name that messages give it.
pub(crate) struct Text<'t> {
    pub file: &'t str,
    pub text: &'t str,
}

impl<'t> Text<'t> {
    /// A refusal at a byte of the text. Control characters are spelled out,
    /// because a message goes to a terminal.
    pub fn refuse(&self, offset: usize, message: impl Display) -> FileError {
        let message = message.to_string().chars().fold(String::new(), |mut clean, c| {
            if c.is_control() {
                clean.extend(c.escape_unicode());
            } else {
                clean.push(c);
            }
            clean
        });
        FileError::Content { place: Place::of_offset(self.file, self.text, offset), message }
    }

    /// The whole text as TOML.
    pub fn root(&self) -> Result<DeTable<'t>, FileError> {
        // TOML forbids these everywhere; said first, because they mean that this never was a text file.
        let is_binary = |c: char| c.is_ascii_control() && !matches!(c, '\t' | '\n' | '\r');
        if let Some((offset, c)) = self.text.char_indices().find(|&(_, c)| is_binary(c)) {
            return Err(
                self.refuse(offset, format!("the byte 0x{:02x} is no text; {PLAIN_TEXT}", u32::from(c)))
            );
        }
        DeTable::parse(self.text).map(Spanned::into_inner).map_err(|error| self.not_toml(&error))
    }

    fn not_toml(&self, error: &toml::de::Error) -> FileError {
        // Only a key of very many parts is reported without its place.
        let deep_key = || {
            let lines = self.text.split_inclusive('\n');
            let before = lines.take_while(|line| line.matches('.').count() < 80);
            let start = before.map(str::len).sum();
            start..start
        };
        let span = error.span().unwrap_or_else(deep_key);
        let at = self.quote(span.clone());
        match error.message() {
            "duplicate key" => self
                .refuse(span.start, format!("`{at}` is already there in this table; keep one of the two")),
            deep if deep.contains("recur") => self.refuse(
                span.start,
                "tables or lists lie too deep inside each other; a show needs no more than four levels of them",
            ),
            message if at.trim().is_empty() => self.refuse(span.start, format!("this is no TOML: {message}")),
            message => self.refuse(span.start, format!("`{at}` is no TOML here: {message}")),
        }
    }

    /// What the file says there, cut to a length that fits a message.
    fn quote(&self, span: Range<usize>) -> String {
        let quoted = self.text.get(span).unwrap_or_default();
        shortened(quoted.lines().next().unwrap_or_default())
    }
}

/// One table of the file.
#[derive(Clone)]
pub(crate) struct Table<'a, 't> {
    text: &'a Text<'t>,
    /// What it is, with its article: "a level".
    pub what: String,
    /// The keys that lead to it, as a header has them: "bundle.level"; nothing for the file itself.
    path: String,
    /// The byte at which it opens.
    at: usize,
    entries: &'a DeTable<'t>,
}

impl<'a, 't> Table<'a, 't> {
    /// The file's outermost table.
    pub fn root(text: &'a Text<'t>, what: &str, entries: &'a DeTable<'t>) -> Self {
        Self { text, what: what.to_owned(), path: String::new(), at: 0, entries }
    }

    /// Whether it is the file itself.
    pub fn is_root(&self) -> bool {
        self.path.is_empty()
    }

    /// Where the table opens.
    pub fn place(&self) -> Place {
        Place::of_offset(self.text.file, self.text.text, self.at)
    }

    /// A refusal at the place where the table opens.
    pub fn refuse(&self, message: impl Display) -> FileError {
        self.text.refuse(self.at, message)
    }

    /// The line that opens a list of tables under `key`, less its brackets: "bundle.level".
    pub fn header(&self, key: &str) -> String {
        if self.path.is_empty() { key.to_owned() } else { format!("{}.{key}", self.path) }
    }

    /// The keys and values, in the order of the file.
    pub fn entries(&self) -> impl Iterator<Item = Entry<'a, 't>> {
        self.entries.iter().map(|(key, value)| Entry {
            text: self.text,
            header: self.header(key.get_ref()),
            key: key.get_ref(),
            key_at: key.span().start,
            value,
        })
    }

    /// The value of a key, if the table has it.
    pub fn entry(&self, key: &str) -> Option<Entry<'a, 't>> {
        self.entries().find(|entry| entry.key == key)
    }

    /// The value of a key that has to be there; `example` is a line that would be right.
    pub fn required(&self, key: &str, example: &str) -> Result<Entry<'a, 't>, FileError> {
        self.entry(key).ok_or_else(|| self.refuse(format!("{} needs `{key}`; add `{example}`", self.what)))
    }

    /// Like [`Self::required`], for the key that says which others there can be:
    /// as none of them is known yet, a key that looks like it is taken for it.
    pub fn deciding(&self, key: &str, example: &str) -> Result<Entry<'a, 't>, FileError> {
        self.required(key, example).map_err(|missing| {
            let near = self.entries().find(|entry| nearest(&shortened(entry.key), [key]).is_some());
            near.map_or(missing, |entry| {
                let message = format!("unknown key `{}` in {}; did you mean `{key}`?", entry.key, self.what);
                self.text.refuse(entry.key_at, message)
            })
        })
    }

    /// Refuses every key but these, the first in the file first.
    pub fn only(&self, known: &[&str]) -> Result<(), FileError> {
        self.only_or(&[], known)
    }

    /// Refuses every key but these; a message lists the `known` ones alone.
    pub fn only_or(&self, unlisted: &[&str], known: &[&str]) -> Result<(), FileError> {
        let all = || unlisted.iter().chain(known).copied();
        match self.entries().find(|entry| !all().any(|key| key == entry.key)) {
            None => Ok(()),
            Some(entry) => {
                let key = shortened(entry.key);
                let hint = did_you_mean(&key, all());
                let takes = listed(known.iter().copied());
                let message = format!("unknown key `{key}` in {}{hint} (it takes {takes})", self.what);
                Err(self.text.refuse(entry.key_at, message))
            }
        }
    }

    /// The value of `name`, which has to be there.
    pub fn name(&self) -> Result<Entry<'a, 't>, FileError> {
        self.required("name", "name = \"...\"")
    }

    /// What `read` makes of a key's value, if the table has the key.
    pub fn optional<T>(
        &self,
        key: &str,
        read: impl FnOnce(&Entry<'a, 't>) -> Result<T, FileError>,
    ) -> Result<Option<T>, FileError> {
        self.entry(key).as_ref().map(read).transpose()
    }
}

/// One key with its value.
#[derive(Clone)]
pub(crate) struct Entry<'a, 't> {
    text: &'a Text<'t>,
    header: String,
    pub key: &'a str,
    key_at: usize,
    value: &'a Spanned<DeValue<'t>>,
}

impl<'a, 't> Entry<'a, 't> {
    /// A refusal at the value.
    pub fn refuse(&self, message: impl Display) -> FileError {
        self.text.refuse(self.value.span().start, message)
    }

    /// A refusal at the key.
    pub fn refuse_key(&self, message: impl Display) -> FileError {
        self.text.refuse(self.key_at, message)
    }

    /// The refusal of a value that is none of the allowed ones; `hint` is "; did you mean ...?" or nothing.
    fn wrong(&self, allowed: impl Display, hint: String) -> FileError {
        self.refuse(format!("`{}` is {}; it takes {allowed}{hint}", self.key, self.found()))
    }

    /// The value as the file has it.
    pub fn found(&self) -> String {
        match self.value.get_ref() {
            DeValue::Array(_) => "a list".to_owned(),
            DeValue::Table(_) => "a table".to_owned(),
            _ => self.text.quote(self.value.span()),
        }
    }

    /// The text between quotes, if the value is one.
    pub fn as_text(&self) -> Option<&'a str> {
        self.value.get_ref().as_str()
    }

    /// The number, if the value is one; an integer too large for 64 bits is infinite.
    pub fn as_number(&self) -> Option<f64> {
        match self.value.get_ref() {
            DeValue::Integer(integer) => Some(
                i64::from_str_radix(integer.as_str(), integer.radix())
                    .map_or(f64::INFINITY, |whole| whole as f64),
            ),
            DeValue::Float(float) => float.as_str().parse().ok(),
            _ => None,
        }
    }

    /// Whether the value is a table.
    pub fn is_table(&self) -> bool {
        self.value.get_ref().is_table()
    }

    /// The values of a list of `least` to `most`; `example` is one that would be right.
    pub fn list(&self, least: usize, most: usize, example: &str) -> Result<Vec<Self>, FileError> {
        let Some(list) = self.value.get_ref().as_array() else {
            return Err(self.wrong(format!("a list such as {example}"), String::new()));
        };
        if !(least..=most).contains(&list.len()) {
            return Err(self.refuse(format!(
                "`{}` lists {}; it takes {least} to {most}, such as {example}",
                self.key,
                list.len()
            )));
        }
        Ok(list.iter().map(|value| Self { value, ..self.clone() }).collect())
    }

    /// A text of any length, line ends allowed.
    pub fn text(&self) -> Result<String, FileError> {
        let text = self.as_text().ok_or_else(|| self.wrong("text in quotes", String::new()))?;
        match text.chars().find(|c| c.is_control() && !matches!(c, '\n' | '\r' | '\t')) {
            Some(c) => Err(self.holds(&format!("the control character U+{:04X}", u32::from(c)))),
            None => Ok(text.to_owned()),
        }
    }

    /// A text of one line that can stand on a control.
    pub fn title(&self) -> Result<String, FileError> {
        self.named(check_name)
    }

    /// A title that can be part of a scope's address.
    pub fn scope_name(&self) -> Result<String, FileError> {
        self.named(check_scope_name)
    }

    fn named(&self, check: impl Fn(&str) -> Result<(), NameFault>) -> Result<String, FileError> {
        let name = self.text()?;
        check(&name).map_err(|fault| self.refuse(format!("`{}` {fault}", self.key)))?;
        Ok(name)
    }

    fn holds(&self, what: &str) -> FileError {
        self.refuse(format!("`{}` holds {what}; it takes plain text", self.key))
    }

    /// Titles in a list.
    pub fn titles(&self) -> Result<Vec<String>, FileError> {
        let Some(list) = self.value.get_ref().as_array() else {
            return Err(self.wrong("a list such as [\"lines\", \"warm\"]", String::new()));
        };
        list.iter().map(|value| Entry { value, ..self.clone() }.title()).collect()
    }

    /// `true` or `false`.
    pub fn truth(&self) -> Result<bool, FileError> {
        self.value.get_ref().as_bool().ok_or_else(|| self.wrong("true or false", String::new()))
    }

    /// A number from `low` to `high`.
    pub fn number(&self, low: f64, high: f64) -> Result<f64, FileError> {
        self.as_number()
            .filter(|number| (low..=high).contains(number))
            .ok_or_else(|| self.wrong(format!("a number from {low} to {high}"), String::new()))
    }

    /// A whole number from `low` to `high`.
    pub fn whole(&self, low: u32, high: u32) -> Result<u32, FileError> {
        self.as_number()
            .filter(|number| number.fract() == 0.0 && (f64::from(low)..=f64::from(high)).contains(number))
            .map(|number| number as u32)
            .ok_or_else(|| self.wrong(format!("a whole number from {low} to {high}"), String::new()))
    }

    /// One of `all`, each known by its name.
    pub fn choice<T: Copy>(&self, all: &[T], name: fn(T) -> &'static str) -> Result<T, FileError> {
        let names = || all.iter().map(|&known| name(known));
        let found = self.as_text().unwrap_or_default();
        all.iter().copied().find(|&known| name(known) == found).ok_or_else(|| {
            self.wrong(format!("one of {}", listed(names())), did_you_mean(&shortened(found), names()))
        })
    }

    /// A colour to tell a thing by.
    pub fn colour_code(&self) -> Result<ColourCode, FileError> {
        let written = self.as_text().unwrap_or_default();
        written.parse().map_err(|()| {
            let hint = did_you_mean(&shortened(written), OkabeIto::ALL.map(OkabeIto::name));
            self.wrong(ColourCode::allowed(), hint)
        })
    }

    /// A table, which is then called `what`; `example` is one that would be right.
    pub fn table(&self, what: &str, example: &str) -> Result<Table<'a, 't>, FileError> {
        self.table_in(self.value, what).ok_or_else(|| self.wrong(example, String::new()))
    }

    /// A list of tables, each of which is then called `what`.
    pub fn tables(&self, what: &str) -> Result<Vec<Table<'a, 't>>, FileError> {
        let header = format!("a list of tables, each under a line `[[{}]]`", shortened(&self.header));
        let Some(list) = self.value.get_ref().as_array() else {
            return Err(self.wrong(header, String::new()));
        };
        list.iter()
            .map(|value| {
                let element = Entry { value, ..self.clone() };
                self.table_in(value, what).ok_or_else(|| {
                    element.refuse(format!("`{}` holds {}; it takes {header}", self.key, element.found()))
                })
            })
            .collect()
    }

    fn table_in(&self, value: &'a Spanned<DeValue<'t>>, what: &str) -> Option<Table<'a, 't>> {
        Some(Table {
            text: self.text,
            what: what.to_owned(),
            path: self.header.clone(),
            at: value.span().start,
            entries: value.get_ref().as_table()?,
        })
    }
}
