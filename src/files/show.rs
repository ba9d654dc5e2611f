//! Reading show files.

use std::collections::HashSet;
use std::path::Path;

use super::FileError;
use super::chain::chain;
use super::hands::controls;
use super::keys::{BUNDLE, CLIP, FRAME, GLOBAL, LEVEL, SHOW};
use super::sections::{sections, standing};
use super::table::{Entry, Table, shortened};
use super::taken::{tables, taken};
use crate::base::frame::{Frame, LARGEST_SIDE, PixelMode};
use crate::base::place::{did_you_mean, listed, nearest};
use crate::beat::{FrameRate, TEMPO_BPM};
use crate::catalogue::Catalogue;
use crate::show::chain::Chain;
use crate::show::clip::{AtEnd, Fit, FootageName, Pace, Play, StandIn};
use crate::show::control::{REACH_MS, USUAL_REACH_MS};
use crate::show::name::{NameFault, check_name};
use crate::show::{BlendMode, Bundle, Clip, Level, Mix, Show};

/// What a clip says of how it is played.
const PLAY_KEYS: [&str; 5] = ["speed", "loop_beats", "in_secs", "out_secs", "at_end"];
/// What a file gets that names no frame.
const USUAL_FRAME: Frame = Frame { width: 1280, height: 720 };
/// What a file gets that names no tempo, in beats per minute.
const USUAL_TEMPO_BPM: f64 = 120.0;
/// What generated footage opens with.
const GENERATED: &str = "generated";

/// What reading a show needs beside its text.
pub(crate) struct Reader<'a> {
    pub catalogue: &'a Catalogue,
    /// What the paths of footage are relative to.
    pub folder: &'a Path,
}

impl Reader<'_> {
    /// The content of a show file.
    pub fn show(&self, file: &Table) -> Result<Show, FileError> {
        file.only_of(&SHOW)?;
        let [slowest, fastest] = TEMPO_BPM;
        let mut show = Show {
            name: file.name()?.title()?,
            about: file.optional("about", Entry::text)?.unwrap_or_default(),
            tags: file.optional("tags", Entry::titles)?.unwrap_or_default(),
            venue: file.optional("venue", Entry::title)?.unwrap_or_default(),
            frame: file.optional("frame", frame)?.unwrap_or(USUAL_FRAME),
            tempo_bpm: file
                .optional("tempo_bpm", |tempo| tempo.number(slowest, fastest))?
                .unwrap_or(USUAL_TEMPO_BPM),
            rate: file.optional("rate", rate)?.unwrap_or_default(),
            pixels: file
                .optional("pixels", |word| word.choice(&PixelMode::ALL, PixelMode::name))?
                .unwrap_or_default(),
            bundles: named(file, "bundle", |table| self.bundle(table))?,
            global: self.global(file)?,
            controls: Vec::new(),
            held: Vec::new(),
            reach_ms: file
                .optional("reach_ms", |reach| reach.number(REACH_MS[0], REACH_MS[1]))?
                .unwrap_or(USUAL_REACH_MS),
            sections: Vec::new(),
            running_order: Vec::new(),
            taken: Vec::new(),
            is_starter: false,
        };
        sections(file, &mut show)?;
        controls(file, &mut show)?;
        standing(file, &mut show)?;
        taken(file, &mut show)?;
        Ok(show)
    }

    /// The content of a starter file: that of a show file, with stand-ins for all footage.
    pub fn starter(&self, file: &Table) -> Result<Show, FileError> {
        let show = self.show(file)?;
        for bundle in tables(file, "bundle")? {
            for level in tables(&bundle, "level")? {
                for clip in tables(&level, "clip")? {
                    let Some(entry) = clip.entry("footage") else { continue };
                    if entry.as_text().and_then(stand_in).is_none() {
                        return Err(entry.refuse(
                            "a starter holds no footage; write `stand-in:LABEL`, or make it a show with `format = \"underover/show/1\"`",
                        ));
                    }
                }
            }
        }
        Ok(Show { is_starter: true, ..show })
    }

    fn bundle(&self, table: &Table) -> Result<Bundle, FileError> {
        table.only_of(&BUNDLE)?;
        Ok(Bundle {
            name: table.name()?.scope_name()?,
            mix: mix(table)?,
            hidden: hidden(table)?,
            colour: table.optional("colour", Entry::colour_code)?,
            chain: chain(table, self.catalogue)?,
            levels: named(table, "level", |table| self.level(table))?,
        })
    }

    fn level(&self, table: &Table) -> Result<Level, FileError> {
        table.only_of(&LEVEL)?;
        let (name, mix) = (table.name()?.scope_name()?, mix(table)?);
        let chain = chain(table, self.catalogue)?;
        let clips = named(table, "clip", |table| self.clip(table))?;
        Ok(Level {
            name,
            mix,
            hidden: hidden(table)?,
            colour: table.optional("colour", Entry::colour_code)?,
            chain,
            showing: table.optional("showing", |entry| showing(entry, &clips))?.unwrap_or(0),
            clips,
        })
    }

    fn clip(&self, table: &Table) -> Result<Clip, FileError> {
        table.only_of(&CLIP)?;
        let name = table.name()?.scope_name()?;
        let footage = self.footage(&table.required("footage", "footage = \"generated:waves\"")?)?;
        Ok(Clip {
            name,
            play: play(table, &footage)?,
            footage,
            fit: table.optional("fit", fit)?.unwrap_or_default(),
            hidden: hidden(table)?,
            colour: table.optional("colour", Entry::colour_code)?,
            chain: chain(table, self.catalogue)?,
        })
    }

    fn footage(&self, entry: &Entry) -> Result<FootageName, FileError> {
        let written = entry.text()?;
        if written.trim().is_empty() || written.contains(char::is_control) {
            return Err(entry.refuse(
                "`footage` names nothing; it takes a picture's path, such as \"sea.png\", or \"generated:NAME\"",
            ));
        }
        match written.split_once(':') {
            Some((GENERATED, name)) => match self.catalogue.source(&shortened(name)) {
                Ok(source) => Ok(FootageName::Generated(source.name.clone())),
                Err(error) => Err(entry.refuse(error)),
            },
            Some((kind, label)) if StandIn::named(kind).is_some() => stand_in(&written).ok_or_else(|| {
                entry.refuse(match check_name(label) {
                    Err(fault @ NameFault::Long(_)) => format!("the label {fault}"),
                    _ => format!("`{kind}:` has no label; write what will be there, such as \"{kind}:sea\""),
                })
            }),
            Some((almost, _)) if nearest(&shortened(almost), openings()).is_some() => {
                let almost = shortened(almost);
                let near = nearest(&almost, openings()).unwrap_or(GENERATED);
                Err(entry.refuse(format!("`footage` opens with `{almost}:`; did you mean `{near}:`?")))
            }
            _ => Ok(FootageName::parsed(&written, self.folder)),
        }
    }

    fn global(&self, file: &Table) -> Result<Chain, FileError> {
        let Some(global) = file.entry("global") else {
            return Ok(Vec::new());
        };
        let global = global.table("the global scope", "effects, each under a line `[[global.effect]]`")?;
        global.only_of(&GLOBAL)?;
        chain(&global, self.catalogue)
    }
}

/// Reads a list of at least one table, no two of one name.
fn named<T>(
    table: &Table,
    key: &str,
    read: impl Fn(&Table) -> Result<T, FileError>,
) -> Result<Vec<T>, FileError> {
    let tables = match table.entry(key) {
        Some(entry) => entry.tables(&format!("a {key}"))?,
        None => Vec::new(),
    };
    if tables.is_empty() {
        return Err(table.refuse(format!(
            "{} needs at least one {key}; add `[[{}]]`",
            table.what,
            table.header(key)
        )));
    }
    let mut names = HashSet::new();
    tables
        .iter()
        .map(|table| {
            let thing = read(table)?;
            let name = table.name()?;
            if !names.insert(name.title()?) {
                return Err(name.refuse(format!(
                    "a {key} named {} is already there; give each its own name",
                    name.found()
                )));
            }
            Ok(thing)
        })
        .collect()
}

/// What footage that is no file opens with.
fn openings() -> impl Iterator<Item = &'static str> {
    [GENERATED].into_iter().chain(StandIn::ALL.map(StandIn::name))
}

/// A stand-in, if that is what is written, and its label can stand on a card.
fn stand_in(written: &str) -> Option<FootageName> {
    let (kind, label) = written.split_once(':')?;
    StandIn::named(kind)
        .filter(|_| check_name(label).is_ok())
        .map(|kind| FootageName::StandIn(kind, label.to_owned()))
}

fn frame(entry: &Entry) -> Result<Frame, FileError> {
    let table = entry.table("the frame", "a size such as { width = 1280, height = 720 }")?;
    table.only_of(&FRAME)?;
    let side = |key, example| table.required(key, example)?.whole(1, LARGEST_SIDE);
    Ok(Frame { width: side("width", "width = 1280")?, height: side("height", "height = 720")? })
}

fn rate(entry: &Entry) -> Result<FrameRate, FileError> {
    let written = match (entry.as_number(), entry.as_text()) {
        (Some(number), _) => number.to_string(),
        (_, Some(text)) => shortened(text),
        _ => entry.found(),
    };
    written.parse().map_err(|error| entry.refuse(format!("`rate`: {error}")))
}

fn mix(table: &Table) -> Result<Mix, FileError> {
    let usual = Mix::default();
    Ok(Mix {
        blend: table
            .optional("blend", |word| word.choice(&BlendMode::ALL, BlendMode::name))?
            .unwrap_or(usual.blend),
        opacity: table.optional("opacity", |number| number.number(0.0, 1.0))?.unwrap_or(usual.opacity),
    })
}

fn hidden(table: &Table) -> Result<bool, FileError> {
    Ok(table.optional("hidden", Entry::truth)?.unwrap_or(false))
}

/// How a clip's footage is played.
fn play(table: &Table, footage: &FootageName) -> Result<Play, FileError> {
    if !matches!(footage, FootageName::File { .. })
        && let Some((key, entry)) = PLAY_KEYS.iter().find_map(|key| Some((key, table.entry(key)?)))
    {
        let what = match footage {
            FootageName::StandIn(..) => "a stand-in stands still and",
            _ => "generated footage runs by the beat and",
        };
        return Err(entry.refuse(format!("{what} takes no `{key}`; leave it out")));
    }
    let within = |entry: &Entry, [low, high]: [f64; 2]| entry.number(low, high);
    let speed = table.optional("speed", |entry| within(entry, Play::SPEED))?;
    let loop_beats = table.optional("loop_beats", |entry| within(entry, Play::LOOP_BEATS))?;
    let pace = match (speed, loop_beats, table.entry("loop_beats")) {
        (Some(_), Some(_), Some(entry)) => {
            return Err(entry.refuse("`loop_beats` stands beside `speed`; a clip takes one of the two"));
        }
        (_, Some(beats), _) => Pace::LoopBeats(beats),
        (Some(speed), ..) => Pace::Speed(speed),
        _ => Pace::default(),
    };
    let in_secs = table.optional("in_secs", |entry| within(entry, Play::SECS))?.unwrap_or_default();
    let out_secs = table.optional("out_secs", |entry| {
        let out = within(entry, Play::SECS)?;
        if out > in_secs {
            return Ok(out);
        }
        Err(entry.refuse(format!(
            "`out_secs` is {out:?}; it takes a number above `in_secs`, which is {in_secs:?}"
        )))
    })?;
    let at_end = table.optional("at_end", |word| word.choice(&AtEnd::ALL, AtEnd::name))?.unwrap_or_default();
    Ok(Play { pace, in_secs, out_secs, at_end })
}

/// How footage of another size is placed, by its word or by what that was before.
fn fit(word: &Entry) -> Result<Fit, FileError> {
    let known = word.as_text().and_then(Fit::named);
    known.map_or_else(|| word.choice(&Fit::ALL, Fit::name), Ok)
}

fn showing(entry: &Entry, clips: &[Clip]) -> Result<usize, FileError> {
    let name = entry.text()?;
    let known = || clips.iter().map(|clip| clip.name.as_str());
    known().position(|clip| clip == name).ok_or_else(|| {
        let name = shortened(&name);
        entry.refuse(format!(
            "the level has no clip named `{name}`{} (it has {})",
            did_you_mean(&name, known()),
            listed(known())
        ))
    })
}
