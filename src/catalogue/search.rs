//! Effects found by what they are called, by what else people call them, and by what they do.

use std::sync::Arc;

use super::{Catalogue, Effect};
use crate::base::place::{did_you_mean, nearest};

/// Those of a list that answer to every word, the nearest first; all of them, as they stand, where there is no word.
pub fn found<'a>(list: &'a [Arc<Effect>], words: &str) -> Vec<&'a Arc<Effect>> {
    let words: Vec<String> = words.to_lowercase().split_whitespace().map(str::to_owned).collect();
    let rank = |effect: &Effect| {
        let whole = words.join(" ");
        if effect.name == whole || effect.also.contains(&whole) {
            return Some(0);
        }
        words.iter().map(|word| rank(effect, word)).sum::<Option<usize>>().map(|rank| rank + 1)
    };
    let mut found: Vec<(usize, &Arc<Effect>)> =
        list.iter().filter_map(|effect| Some((rank(effect)?, effect))).collect();
    if !words.is_empty() {
        found.sort_by_key(|(rank, _)| *rank);
    }
    found.into_iter().map(|(_, effect)| effect).collect()
}

/// How well an effect answers to a word: by its name, by what else it is called, by what it says of itself.
fn rank(effect: &Effect, word: &str) -> Option<usize> {
    let begins_in = |text: &str| {
        text.to_lowercase().split(|c: char| !c.is_alphanumeric()).any(|part| part.starts_with(word))
    };
    if effect.name.contains(word) {
        return Some(0);
    }
    if effect.also.iter().any(|also| begins_in(also)) {
        return Some(1);
    }
    let settings = effect.settings.iter().any(|setting| begins_in(&setting.label));
    (begins_in(&effect.summary) || settings).then_some(2)
}

impl Catalogue {
    /// "; did you mean `flash-gate`?", for what may be a slip of the pen or what else an effect is called.
    pub(super) fn hint(&self, list: &[Arc<Effect>], wrong: &str) -> String {
        meant(list, wrong).map_or_else(String::new, |name| did_you_mean(name, [name]))
    }
}

/// The name that was meant: of what is also called so, else of what is nearest, by its name or by what else it is called.
pub fn meant<'a>(list: &'a [Arc<Effect>], wrong: &str) -> Option<&'a str> {
    let plain = wrong.to_lowercase().replace(['-', '_'], " ");
    let is_called = |effect: &&Arc<Effect>| effect.also.contains(&plain);
    if let Some(effect) = list.iter().find(is_called) {
        return Some(&effect.name);
    }
    let names = list.iter().map(|effect| effect.name.as_str());
    let also = || list.iter().flat_map(|effect| effect.also.iter().map(|word| (word.as_str(), &effect.name)));
    let by_other = || {
        let word = nearest(&plain, also().map(|(word, _)| word))?;
        also().find(|(known, _)| *known == word).map(|(_, name)| name.as_str())
    };
    nearest(wrong, names).or_else(by_other)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all() -> Catalogue {
        Catalogue::built_in().expect("the catalogue")
    }

    #[test]
    fn an_effect_is_found_by_what_people_call_it() {
        let catalogue = all();
        for (words, first) in [
            ("strobe", "flash-gate"),
            ("Pixels", "mosaic"),
            ("mirror tiles", "wedge-repeat"),
            ("freeze", "hold"),
            ("outl", "edge-find"),
            ("edge", "edge-find"),
            ("turn hue", "hue-turn"),
            ("black and white", "tint"),
        ] {
            let found = found(catalogue.effects(), words);
            assert_eq!(found.first().map(|effect| effect.name.as_str()), Some(first), "{words}");
        }
        assert!(found(catalogue.effects(), "strobe paddle").is_empty(), "every word counts");
        assert_eq!(found(catalogue.effects(), " ").len(), catalogue.effects().len());
    }

    #[test]
    fn what_is_no_name_leads_to_the_one_that_was_meant() {
        let catalogue = all();
        for (wrong, name) in [
            ("strobe", "flash-gate"),
            ("tnit", "tint"),
            ("black-and-white", "tint"),
            ("kaleidoscop", "wedge-repeat"),
        ] {
            let error = catalogue.effect(wrong).unwrap_err().to_string();
            assert!(error.contains(&format!("; did you mean `{name}`? (known: ")), "{error}");
        }
        assert!(!catalogue.effect("paddle steamer").unwrap_err().to_string().contains("did you mean"));
    }

    #[test]
    fn every_effect_is_called_otherwise_too_and_no_word_leads_to_two() {
        let catalogue = all();
        let mut words: Vec<&String> = catalogue.effects().iter().flat_map(|effect| &effect.also).collect();
        assert!(catalogue.effects().iter().all(|effect| effect.also.len() >= 3));
        let count = words.len();
        words.sort();
        words.dedup();
        assert_eq!(words.len(), count);
    }
}
