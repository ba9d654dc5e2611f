//! The keys of every file, declared once: readers refuse all others, `underover format` prints them, and a JSON Schema
//! is made of them.

mod declared;
mod schema;

pub(in crate::files) use declared::{
    BUNDLE, CHAIN_CONTROL, CHAIN_GRIP, CLIP, CONTROL, CUE, EFFECT, FRAME, GLOBAL, GRIP, LEVEL, MIDI, NOTE,
    SECTION,
};
pub use declared::{CHAIN, SHOW, STARTER, show_keys};
pub use schema::schema;

use super::FileError;
use super::table::Table;
use crate::base::place::listed;

/// What the value of a key is.
#[derive(Debug, Clone, Copy)]
pub enum Takes {
    /// Text of any length, line ends allowed.
    Text,
    /// One line that can stand on a control.
    Title,
    /// A title that can be part of a scope's address: without `/` and `:`.
    ScopeName,
    /// Just this text.
    Just(&'static str),
    /// Text of this form, as a regular expression and in words.
    Like(&'static str, &'static str),
    /// `true` or `false`.
    Truth,
    /// A number in a closed range, and what it counts.
    Number([f64; 2], &'static str),
    /// A whole number in a closed range.
    Whole([u32; 2], &'static str),
    /// One of a few words.
    Word(fn() -> Vec<&'static str>),
    /// A list of so many values.
    List(&'static Self, [usize; 2]),
    /// A table of these keys.
    Table(&'static Group),
    /// A table of names that fit a regular expression, said in words, each with such a value.
    Named(&'static str, &'static str, &'static Self),
    /// A list of tables, at least so many.
    Tables(&'static Group, usize),
    /// The effects of a chain.
    Chain,
    /// A value of the setting that is spoken of.
    Setting,
    /// One of several.
    Either(&'static [Self]),
}

/// What holds where a key is left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Absent {
    /// It has to be there.
    Refused,
    /// The same as this.
    Is(&'static str),
    /// In words.
    Means(&'static str),
    /// Some tables need it: which, in words.
    Depends(&'static str),
}

/// One key of a table.
#[derive(Debug, Clone, Copy)]
pub struct Key {
    pub name: &'static str,
    pub takes: Takes,
    pub absent: Absent,
    /// One line on what it is for.
    pub about: &'static str,
    /// Whether the program writes it for itself: messages do not offer it.
    pub is_own: bool,
}

/// The keys of one kind of table.
#[derive(Debug)]
pub struct Group {
    /// What such a table is called: "level".
    pub name: &'static str,
    /// One line on what it is.
    pub about: &'static str,
    pub keys: &'static [Key],
    /// Keys of which a table has at most one: "one of speed, loop_beats".
    pub rivals: &'static [&'static [&'static str]],
}

impl Key {
    /// One that has to be there.
    pub const fn needed(name: &'static str, takes: Takes, about: &'static str) -> Self {
        Self { name, takes, absent: Absent::Refused, about, is_own: false }
    }

    /// One that has this value where it is left out.
    pub const fn usual(name: &'static str, takes: Takes, is: &'static str, about: &'static str) -> Self {
        Self { name, takes, absent: Absent::Is(is), about, is_own: false }
    }

    /// One that may be left out, and what that means.
    pub const fn may(name: &'static str, takes: Takes, means: &'static str, about: &'static str) -> Self {
        Self { name, takes, absent: Absent::Means(means), about, is_own: false }
    }

    /// One that some tables need, and which.
    pub const fn some(name: &'static str, takes: Takes, needed: &'static str, about: &'static str) -> Self {
        Self { name, takes, absent: Absent::Depends(needed), about, is_own: false }
    }

    const fn own(self) -> Self {
        Self { is_own: true, ..self }
    }
}

impl Group {
    /// The names of its keys that a person writes.
    pub fn names(&self) -> impl Iterator<Item = &'static str> {
        self.keys.iter().filter(|key| !key.is_own).map(|key| key.name)
    }

    /// Every group that this one leads to, itself first, each once; those that the program writes for itself where asked.
    pub fn all(&'static self, with_own: bool) -> Vec<&'static Self> {
        let mut all = vec![self];
        let mut at = 0;
        while at < all.len() {
            for key in all[at].keys.iter().filter(|key| with_own || !key.is_own) {
                key.takes.add_groups(&mut all);
            }
            at += 1;
        }
        all
    }
}

impl Takes {
    fn add_groups(&self, all: &mut Vec<&'static Group>) {
        match self {
            Self::Table(group) | Self::Tables(group, _)
                if !all.iter().any(|known| std::ptr::eq(*known, *group)) =>
            {
                all.push(group);
            }
            Self::List(one, _) | Self::Named(.., one) => one.add_groups(all),
            Self::Either(several) => several.iter().for_each(|one| one.add_groups(all)),
            Self::Chain => {
                declared::EFFECT_GROUPS.iter().for_each(|group| Self::Table(group).add_groups(all));
            }
            _ => {}
        }
    }

    /// What is allowed, in words.
    pub fn said(&self) -> String {
        let counted = |unit: &str| if unit.is_empty() { String::new() } else { format!(" ({unit})") };
        match self {
            Self::Text => "text".to_owned(),
            Self::Title => "one line of text".to_owned(),
            Self::ScopeName => "one line of text without `/` and `:`".to_owned(),
            Self::Just(text) => format!("\"{text}\""),
            Self::Like(_, said) => (*said).to_owned(),
            Self::Truth => "true or false".to_owned(),
            Self::Number([low, high], unit) => format!("{low} to {high}{}", counted(unit)),
            Self::Whole([low, high], unit) => format!("whole, {low} to {high}{}", counted(unit)),
            Self::Word(words) => format!("one of {}", listed(words())),
            Self::List(one, [least, usize::MAX]) => format!("a list of {least} or more: {}", one.said()),
            Self::List(one, [least, most]) if least == most => format!("a list of {least}: {}", one.said()),
            Self::List(one, [least, most]) => format!("a list of {least} to {most}: {}", one.said()),
            Self::Named(_, name, one) => format!("a table: {name} = {}", one.said()),
            Self::Table(group) => format!("a table: {}", group.name),
            Self::Tables(group, least) => {
                let least = if *least > 0 { "one or more tables" } else { "tables" };
                format!("{least}: {}", group.name)
            }
            Self::Chain => "tables: effect".to_owned(),
            Self::Setting => "a value of the setting".to_owned(),
            Self::Either(several) => several.iter().map(Self::said).collect::<Vec<_>>().join(", or "),
        }
    }
}

/// Keys of a show that stand above its first table, and are easily written below one.
const OF_SHOW: [&str; 7] = ["running_order", "venue", "tempo_bpm", "rate", "pixels", "frame", "reach_ms"];

impl Table<'_, '_> {
    /// Refuses every key but those of a group.
    pub fn only_of(&self, group: &Group) -> Result<(), FileError> {
        let of_show = |key: &str| !group.keys.iter().any(|known| known.name == key) && OF_SHOW.contains(&key);
        if let Some(entry) = self.entries().find(|entry| !self.is_root() && of_show(entry.key)) {
            return Err(entry.refuse_key(format!(
                "`{}` is a key of the whole file, and {} begins above it; put it above the first line in brackets",
                entry.key, self.what
            )));
        }
        let own: Vec<&str> = group.keys.iter().filter(|key| key.is_own).map(|key| key.name).collect();
        self.only_or(&own, &group.names().collect::<Vec<_>>())
    }
}
