//! What is known of an entry without opening it: enough to list it and to find it.

use serde::{Deserialize, Serialize};

use super::colours::colour_word;
use crate::base::colour::Colour;
use crate::base::content;
use crate::base::content::Content;
use crate::catalogue::Value;
use crate::files;
use crate::files::Document;
use crate::show::chain::{EffectUse, Preset};

/// What an entry holds, in words.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Summary {
    /// What the person calls it.
    pub name: String,
    /// What it is for.
    pub about: String,
    /// Words to find it by.
    pub tags: Vec<String>,
    /// The effects that it uses, each once, in the order in which they come.
    pub effects: Vec<String>,
    /// The colours that its effects are set to, each once, as `#rrggbb`.
    pub colours: Vec<String>,
    /// What stands for what it does to a picture: another name does not change it.
    pub content: String,
    /// The same as versions before wrote it, which older shows hold.
    #[serde(default)]
    content_before: String,
    /// All that a search looks through, in lower case.
    #[serde(skip)]
    pub(super) words: String,
}

impl Summary {
    pub(super) fn of(document: &Document) -> Self {
        let facts = match document {
            Document::Chain(preset) => Self {
                name: preset.name.clone(),
                about: preset.about.clone(),
                tags: preset.tags.clone(),
                effects: effects_of(preset.chain.iter()),
                colours: colours_of(preset.chain.iter()),
                content: Content::of(bare_text(&preset.chain)).to_string(),
                content_before: content::written_before(bare_text(&preset.chain)),
                words: String::new(),
            },
            Document::Show(show) => {
                let used = || show.scopes().into_iter().flat_map(|scope| show.chain(scope));
                Self {
                    name: show.name.clone(),
                    about: show.about.clone(),
                    tags: show.tags.clone(),
                    effects: effects_of(used()),
                    colours: colours_of(used()),
                    content: Content::of(files::show_text(show, std::path::Path::new(""))).to_string(),
                    content_before: String::new(),
                    words: String::new(),
                }
            }
        };
        facts.with_words()
    }

    /// What it says of itself first: a sentence of one line.
    pub fn first_of_about(&self) -> &str {
        let first = self.about.trim().lines().next().unwrap_or_default();
        first.find(". ").map_or(first, |end| &first[..=end])
    }

    /// Whether what a file notes stands for this.
    pub(super) fn is_content(&self, noted: &str) -> bool {
        noted == self.content || noted == self.content_before
    }

    /// With the text that a search looks through, which no index need hold.
    pub(super) fn with_words(mut self) -> Self {
        let colours = self.colours.iter().filter_map(|colour| colour.parse().ok()).map(colour_word);
        let mut words = vec![self.name.as_str(), self.about.as_str()];
        words.extend(self.tags.iter().chain(&self.effects).chain(&self.colours).map(String::as_str));
        colours.for_each(|word| words.push(word));
        let words = words.join("\n").to_lowercase();
        self.words = words;
        self
    }
}

/// What stands for a chain: alike for chains that do the same, whatever they are called.
pub fn content_of_chain(chain: &[EffectUse]) -> String {
    Content::of(bare_text(chain)).to_string()
}

/// Whether what a file notes stands for this chain.
pub(super) fn is_content_of(chain: &[EffectUse], noted: &str) -> bool {
    content::stands_for(noted, bare_text(chain))
}

/// A chain without a name or marks, as a file would hold it.
fn bare_text(chain: &[EffectUse]) -> String {
    let mut chain = chain.to_vec();
    chain.iter_mut().for_each(|used| used.mark = None);
    let bare =
        Preset { name: String::new(), about: String::new(), tags: Vec::new(), chain, controls: Vec::new() };
    files::chain_text(&bare)
}

fn effects_of<'a>(used: impl Iterator<Item = &'a EffectUse>) -> Vec<String> {
    let mut effects: Vec<String> = Vec::new();
    for used in used {
        if !effects.contains(&used.effect.name) {
            effects.push(used.effect.name.clone());
        }
    }
    effects
}

/// The colours of effects that are on.
fn colours_of<'a>(used: impl Iterator<Item = &'a EffectUse>) -> Vec<String> {
    let mut colours: Vec<String> = Vec::new();
    let mut note = |value: &Value| {
        if let Value::Colour(Colour(bytes)) = value {
            let written = Colour(*bytes).to_string();
            if !colours.contains(&written) {
                colours.push(written);
            }
        }
    };
    for used in used.filter(|used| used.on) {
        for (place, value) in used.values().enumerate() {
            match used.automation(place) {
                Some(automation) => automation.ends().into_iter().for_each(&mut note),
                None => note(value),
            }
        }
    }
    colours
}
