//! Chains and shows as the text of their files.

use std::path::Path;

use toml::Value;

use super::automation::{written, written_value};
use super::{CHAIN_FORMAT, SHOW_FORMAT, STARTER_FORMAT, beside, hands, sections};
use crate::base::coding::ColourCode;
use crate::beat::FrameRate;
use crate::show::chain::{EffectUse, Preset};
use crate::show::clip::{FootageName, Pace, Play, STANDARD_INPUT};
use crate::show::control::USUAL_REACH_MS;
use crate::show::{Mix, Scope, Show};

/// The text of a chain file, which reads back as an equal preset.
///
/// Settings at their defaults are left out.
pub fn chain_text(preset: &Preset) -> String {
    chain_page(preset, false)
}

pub(super) fn chain_page(preset: &Preset, is_complete: bool) -> String {
    let mut page = Page::new(is_complete, CHAIN_FORMAT, &preset.name, &preset.about, &preset.tags);
    page.chain("effect", &preset.chain);
    page.text += &hands::written_of_chain(preset, is_complete);
    page.text
}

/// The text of a show file in `folder`, which reads back from there as an equal show.
///
/// What is at its default is left out, save frame, tempo and pixel mode, which
/// a person looks for. Footage is named as it was, or relative to `folder` where
/// that leads elsewhere: the show came from another folder.
pub fn show_text(show: &Show, folder: &Path) -> String {
    show_page(show, folder, false)
}

/// The text of a show; where `is_complete`, with what is at its default too.
pub(super) fn show_page(show: &Show, folder: &Path, is_complete: bool) -> String {
    let format = if show.is_starter { STARTER_FORMAT } else { SHOW_FORMAT };
    let mut page = Page::new(is_complete, format, &show.name, &show.about, &show.tags);
    if !show.venue.is_empty() {
        page.word("venue", &show.venue);
    }
    page.line("frame", format_args!("{{ width = {}, height = {} }}", show.frame.width, show.frame.height));
    page.number("tempo_bpm", show.tempo_bpm);
    if is_complete || show.rate != FrameRate::default() {
        page.rate(show.rate);
    }
    page.word("pixels", show.pixels.name());
    if is_complete || show.reach_ms != USUAL_REACH_MS {
        page.number("reach_ms", show.reach_ms);
    }
    if !show.running_order.is_empty() {
        let names = show.running_order.iter().map(|&at| show.sections[at].name.clone());
        page.line("running_order", Value::from(names.collect::<Vec<_>>()));
    }
    for (b, bundle) in show.bundles.iter().enumerate() {
        page.header("bundle");
        page.word("name", &bundle.name);
        page.mix(bundle.mix);
        page.seen(bundle.hidden, bundle.colour);
        page.chain("bundle.effect", &bundle.chain);
        page.taken("bundle.taken", show, Scope::Bundle(b));
        for (l, level) in bundle.levels.iter().enumerate() {
            page.header("bundle.level");
            page.word("name", &level.name);
            page.mix(level.mix);
            page.seen(level.hidden, level.colour);
            if let Some(clip) = level.clips.get(level.showing).filter(|_| is_complete || level.showing > 0) {
                page.word("showing", &clip.name);
            }
            page.chain("bundle.level.effect", &level.chain);
            page.taken("bundle.level.taken", show, Scope::Level(b, l));
            for (c, clip) in level.clips.iter().enumerate() {
                page.header("bundle.level.clip");
                page.word("name", &clip.name);
                page.word("footage", &footage(&clip.footage, folder));
                if is_complete || clip.fit != Default::default() {
                    page.word("fit", clip.fit.name());
                }
                page.play(&clip.play);
                page.seen(clip.hidden, clip.colour);
                page.chain("bundle.level.clip.effect", &clip.chain);
                page.taken("bundle.level.clip.taken", show, Scope::Clip(b, l, c));
            }
        }
    }
    page.chain("global.effect", &show.global);
    page.taken("global.taken", show, Scope::Global);
    page.text += &hands::written(show, is_complete);
    page.text += &sections::written(show, is_complete);
    page.text
}

fn footage(name: &FootageName, folder: &Path) -> String {
    match name {
        FootageName::File { written, .. } if written == STANDARD_INPUT => written.clone(),
        FootageName::File { written, path } if folder.join(written) != *path => {
            beside::from_folder(path, folder).display().to_string()
        }
        name => name.to_string(),
    }
}

/// A file's text, growing line by line.
struct Page {
    text: String,
    /// Whether what is at its default is written too.
    is_complete: bool,
}

impl Page {
    fn new(is_complete: bool, format: &str, name: &str, about: &str, tags: &[String]) -> Self {
        let mut page = Self { text: String::new(), is_complete };
        page.word("format", format);
        page.word("name", name);
        if is_complete || !about.is_empty() {
            page.word("about", about);
        }
        if is_complete || !tags.is_empty() {
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

    /// A whole rate as a number, any other as it is said.
    fn rate(&mut self, rate: FrameRate) {
        match rate.fraction() {
            [frames, 1] => self.line("rate", frames),
            _ => self.word("rate", &rate.to_string()),
        }
    }

    fn header(&mut self, path: &str) {
        self.text += &format!("\n[[{path}]]\n");
    }

    fn mix(&mut self, mix: Mix) {
        let usual = Mix::default();
        if self.is_complete || mix.blend != usual.blend {
            self.word("blend", mix.blend.name());
        }
        if self.is_complete || mix.opacity != usual.opacity {
            self.number("opacity", mix.opacity);
        }
    }

    /// Whether a thing is hidden, and what a person tells it by.
    fn seen(&mut self, hidden: bool, colour: Option<ColourCode>) {
        if self.is_complete || hidden {
            self.line("hidden", hidden);
        }
        if let Some(colour) = colour {
            self.word("colour", &colour.to_string());
        }
    }

    fn play(&mut self, play: &Play) {
        let usual = Play::default();
        match play.pace {
            pace if pace == usual.pace && !self.is_complete => {}
            Pace::Speed(speed) => self.number("speed", speed),
            Pace::LoopBeats(beats) => self.number("loop_beats", beats),
        }
        if self.is_complete || play.in_secs != usual.in_secs {
            self.number("in_secs", play.in_secs);
        }
        if let Some(out_secs) = play.out_secs {
            self.number("out_secs", out_secs);
        }
        if self.is_complete || play.at_end != usual.at_end {
            self.word("at_end", play.at_end.name());
        }
    }

    /// Where the chain on a scope was taken from, and the clip.
    fn taken(&mut self, path: &str, show: &Show, scope: Scope) {
        for taken in show.taken.iter().filter(|taken| taken.scope == scope) {
            self.header(path);
            self.word("preset", &taken.preset);
            if let Some(clip) = &taken.clip {
                self.word("clip", clip);
            }
            self.word("content", &taken.content);
        }
    }

    fn chain(&mut self, path: &str, chain: &[EffectUse]) {
        for used in chain {
            self.header(path);
            self.word("use", &used.effect.name);
            if let Some(name) = &used.name {
                self.word("name", name);
            }
            if let Some(mark) = used.mark {
                self.line("mark", mark);
            }
            if self.is_complete || !used.on {
                self.line("on", used.on);
            }
            for (place, (setting, value)) in used.effect.settings.iter().zip(used.values()).enumerate() {
                if let Some(automation) = used.automation(place) {
                    self.line(&setting.name, written(automation, &setting.kind, self.is_complete));
                } else if self.is_complete || *value != setting.default {
                    self.line(&setting.name, written_value(&setting.kind, value));
                }
            }
        }
    }
}
