//! What is known of an entry without opening it: enough to list it and to find it.

use serde::{Deserialize, Serialize};

use super::colours::colour_word;
use crate::base::colour::Colour;
use crate::base::fnv;
use crate::catalogue::Value;
use crate::files;
use crate::files::Document;
use crate::show::chain::{EffectUse, Preset};

/// What an entry holds, in words.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Facts {
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
    /// The fingerprint of what it does to a picture: another name does not change it.
    pub content: String,
    /// All that a search looks through, in lower case.
    #[serde(skip)]
    pub(super) words: String,
}

impl Facts {
    pub(super) fn of(document: &Document) -> Self {
        let facts = match document {
            Document::Chain(preset) => Self {
                name: preset.name.clone(),
                about: preset.about.clone(),
                tags: preset.tags.clone(),
                effects: effects_of(preset.chain.iter()),
                colours: colours_of(preset.chain.iter()),
                content: content_of_chain(&preset.chain),
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
                    content: fnv::written(&files::show_text(show, std::path::Path::new(""))),
                    words: String::new(),
                }
            }
        };
        facts.with_words()
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

/// The fingerprint of a chain: alike for chains that do the same, whatever they are called.
pub fn content_of_chain(chain: &[EffectUse]) -> String {
    let bare = Preset { name: String::new(), about: String::new(), tags: Vec::new(), chain: chain.to_vec() };
    fnv::written(&files::chain_text(&bare))
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
