//! Chains and shows as the text of their files.

use std::path::{self, Path};

use toml::Value;

use super::{CHAIN_FORMAT, SHOW_FORMAT};
use crate::chain::{EffectUse, Preset};
use crate::show::{FootageName, Mix, Show};

/// The text of a chain file, which reads back as an equal preset.
///
/// Settings at their defaults are left out.
pub fn chain_text(preset: &Preset) -> String {
    let mut page = Page::new(CHAIN_FORMAT, &preset.name, &preset.about, &preset.tags);
    page.chain("effect", &preset.chain);
    page.text
}

/// The text of a show file in `folder`, which reads back from there as an equal show.
///
/// What is at its default is left out, save frame, tempo and pixel mode, which
/// a person looks for. Footage inside `folder` is named relative to it; where
/// the show came from another folder, footage outside is named by its full path.
pub fn show_text(show: &Show, folder: &Path) -> String {
    let mut page = Page::new(SHOW_FORMAT, &show.name, &show.about, &show.tags);
    page.line("frame", format_args!("{{ width = {}, height = {} }}", show.frame.width, show.frame.height));
    page.number("tempo_bpm", show.tempo_bpm);
    page.word("pixels", show.pixels.name());
    for bundle in &show.bundles {
        page.header("bundle");
        page.word("name", &bundle.name);
        page.mix(bundle.mix);
        page.chain("bundle.effect", &bundle.chain);
        for level in &bundle.levels {
            page.header("bundle.level");
            page.word("name", &level.name);
            page.mix(level.mix);
            if let Some(clip) = level.clips.get(level.showing).filter(|_| level.showing > 0) {
                page.word("showing", &clip.name);
            }
            page.chain("bundle.level.effect", &level.chain);
            for clip in &level.clips {
                page.header("bundle.level.clip");
                page.word("name", &clip.name);
                page.word("footage", &footage(&clip.footage, folder));
                if clip.fit != Default::default() {
                    page.word("fit", clip.fit.name());
                }
                page.chain("bundle.level.clip.effect", &clip.chain);
            }
        }
    }
    page.chain("global.effect", &show.global);
    page.text
}

fn footage(name: &FootageName, folder: &Path) -> String {
    match name {
        FootageName::File { written, path } if folder.join(written) != *path => {
            match path.strip_prefix(folder) {
                Ok(inside) => inside.display().to_string(),
                Err(_) => path::absolute(path).unwrap_or_else(|_| path.clone()).display().to_string(),
            }
        }
        name => name.to_string(),
    }
}

/// A file's text, growing line by line.
struct Page {
    text: String,
}

impl Page {
    fn new(format: &str, name: &str, about: &str, tags: &[String]) -> Self {
        let mut page = Self { text: String::new() };
        page.word("format", format);
        page.word("name", name);
        if !about.is_empty() {
            page.word("about", about);
        }
        if !tags.is_empty() {
            page.line("tags", Value::from(tags.to_vec()));
        }
        page
    }

    fn line(&mut self, key: &str, value: impl std::fmt::Display) {
        self.text += &format!("{key} = {value}\n");
    }

    fn word(&mut self, key: &str, word: &str) {
        self.line(key, Value::from(word));
    }

    /// The shortest digits that read back as the same number, with the point that makes it a float.
    fn number(&mut self, key: &str, number: f64) {
        self.line(key, format_args!("{number:?}"));
    }

    fn header(&mut self, path: &str) {
        self.text += &format!("\n[[{path}]]\n");
    }

    fn mix(&mut self, mix: Mix) {
        let usual = Mix::default();
        if mix.blend != usual.blend {
            self.word("blend", mix.blend.name());
        }
        if mix.opacity != usual.opacity {
            self.number("opacity", mix.opacity);
        }
    }

    fn chain(&mut self, path: &str, chain: &[EffectUse]) {
        for used in chain {
            self.header(path);
            self.word("use", &used.effect.name);
            if let Some(name) = &used.name {
                self.word("name", name);
            }
            if !used.on {
                self.line("on", false);
            }
            for (setting, value) in used.effect.settings.iter().zip(used.values()) {
                if *value == setting.default {
                    continue;
                }
                match value {
                    crate::catalogue::Value::Number(number) => self.number(&setting.name, *number),
                    value => self.line(&setting.name, setting.kind.written(value)),
                }
            }
        }
    }
}
