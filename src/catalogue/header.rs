//! The header of a shader file: the `//!` lines at its top, read as TOML.

use std::collections::BTreeMap;

use serde::Deserialize;
use toml::Spanned;

use super::memory::Memory;
use super::reach::{Channels, Position, Reach};
use super::setting::{Derived, DerivedKind, Idle, Input, Kind, Setting, Value};
use super::{CatalogueError, Content, Effect, Standing, layout, lexical};
use crate::base::place::{Place, did_you_mean, listed, shortened};

#[derive(Deserialize)]
#[serde(rename_all = "lowercase")]
enum ReachWord {
    Texel,
    Move,
    Neighbourhood,
    #[serde(rename = "past frames")]
    PastFrames,
    Source,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct MemoryTable {
    fades: Option<String>,
    renewed: Option<String>,
    held: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Header {
    summary: String,
    #[serde(default)]
    also: Vec<Spanned<String>>,
    #[serde(default)]
    does: String,
    reach: ReachWord,
    radius: Option<u32>,
    channels: Option<Channels>,
    position: Option<Position>,
    #[serde(default)]
    flashes: bool,
    #[serde(default = "covers_the_frame")]
    opaque: bool,
    #[serde(default)]
    setting: Vec<Spanned<SettingTable>>,
    #[serde(default)]
    derived: Vec<Spanned<DerivedTable>>,
    #[serde(default)]
    idle: Vec<Spanned<IdleTable>>,
    memory: Option<Spanned<MemoryTable>>,
}

fn covers_the_frame() -> bool {
    true
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SettingTable {
    name: String,
    label: String,
    help: String,
    kind: KindWord,
    unit: Option<String>,
    range: Option<[f64; 2]>,
    choices: Option<Vec<String>>,
    default: toml::Value,
}

#[derive(Deserialize, PartialEq)]
#[serde(rename_all = "lowercase")]
enum KindWord {
    Number,
    Whole,
    Colour,
    Choice,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct DerivedTable {
    name: String,
    kind: DerivedWord,
    from: BTreeMap<String, InputValue>,
}

#[derive(Deserialize, Clone, Copy)]
#[serde(rename_all = "lowercase")]
enum DerivedWord {
    Gate,
    Turn,
    Texels,
    Direction,
    Fade,
    Due,
}

#[derive(Deserialize, Clone)]
#[serde(untagged)]
enum InputValue {
    Setting(String),
    Constant(f64),
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct IdleTable {
    setting: Option<String>,
    derived: Option<String>,
    is: f64,
    because: String,
}

/// Keys of a chain file's effect table that are not settings.
const TAKEN_NAMES: [&str; 4] = ["use", "on", "name", "mark"];

/// Reads and checks one shader file.
pub(super) fn read(name: &str, origin: &str, source: &str) -> Result<Effect, CatalogueError> {
    let refuse = |message: String| CatalogueError::Header {
        place: Place { file: origin.to_owned(), line: 1, column: 1 },
        message,
    };
    lexical::check_size(origin, source)?;
    if !is_name(name) {
        return Err(refuse(format!(
            "`{name}` cannot name an effect; name the file in small letters, digits and dashes, such as edge-find.wgsl"
        )));
    }
    let toml_text = header_text(source);
    if toml_text.trim().is_empty() {
        return Err(refuse(
            "the file has no header; open it with `//!` lines that declare summary, reach, channels, position and settings"
                .to_owned(),
        ));
    }
    let refuse_at = |offset: usize, message: String| {
        let mut place = Place::of_offset(origin, &toml_text, offset);
        place.column += "//! ".len();
        CatalogueError::Header { place, message }
    };
    let header: Header = toml::from_str(&toml_text)
        .map_err(|error| refuse_at(error.span().map_or(0, |span| span.start), error.message().to_owned()))?;

    let reach = reach_of(&header).map_err(refuse)?;
    let settings: Vec<Setting> =
        header.setting.iter().map(|table| read_table(table, setting, refuse_at)).collect::<Result<_, _>>()?;
    let derived: Vec<Derived> = header
        .derived
        .iter()
        .map(|table| read_table(table, |table| derive(table, &settings), refuse_at))
        .collect::<Result<_, _>>()?;
    check_names(&settings, &derived).map_err(refuse)?;
    let idle = header
        .idle
        .iter()
        .map(|table| read_table(table, |table| idle(table, &settings, &derived), refuse_at))
        .collect::<Result<_, _>>()?;
    let memory = match &header.memory {
        Some(table) => Some(read_table(table, |table| memory(table, &derived), refuse_at)?),
        None => None,
    };
    let also = also_of(name, &header.also).map_err(|(at, message)| refuse_at(at, message))?;
    let default_channels = if reach == Reach::Source { Some(Channels::Mixed) } else { None };
    let default_position = if reach == Reach::Source { Some(Position::Matters) } else { None };
    let mut effect = Effect {
        name: name.to_owned(),
        summary: header.summary,
        also,
        does: header.does,
        reach,
        channels: header.channels.or(default_channels).ok_or_else(|| {
            refuse(
                "the header lacks `channels`; write \"apart\", \"mixed\" or, for a move, \"together\"".into(),
            )
        })?,
        position: header.position.or(default_position).ok_or_else(|| {
            refuse("the header lacks `position`; write \"ignored\" or \"matters\"".to_owned())
        })?,
        flashes: header.flashes,
        opaque: header.opaque,
        settings,
        derived,
        idle,
        memory,
        source: source.to_owned(),
        origin: origin.to_owned(),
        layout: layout::Layout::default(),
        content: Content::of(source),
        standing: Standing::Untried,
    };
    check_reach(&effect).map_err(refuse)?;
    effect.layout = layout::reflected(&effect)?;
    Ok(effect)
}

/// Reads one table of a list; what is wrong with it is said of the line that it begins on.
fn read_table<T, R>(
    table: &Spanned<T>,
    read: impl FnOnce(&T) -> Result<R, String>,
    refuse_at: impl FnOnce(usize, String) -> CatalogueError,
) -> Result<R, CatalogueError> {
    read(table.get_ref()).map_err(|message| refuse_at(table.span().start, message))
}

/// The TOML of the header, one line for each line of the file, so that places agree.
fn header_text(source: &str) -> String {
    source
        .lines()
        .map_while(|line| line.strip_prefix("//!"))
        .map(|line| line.strip_prefix(' ').unwrap_or(line))
        .fold(String::new(), |text, line| text + line + "\n")
}

fn is_name(name: &str) -> bool {
    name.starts_with(|c: char| c.is_ascii_lowercase())
        && name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-')
}

/// Most words for which an effect is found, beside its name, and most letters of one.
const MOST_ALSO: usize = 16;
const LONGEST_ALSO: usize = 40;

/// What else people call it; else where what is wrong stands, and what would be right.
fn also_of(name: &str, written: &[Spanned<String>]) -> Result<Vec<String>, (usize, String)> {
    let mut all: Vec<String> = Vec::new();
    for one in written {
        let (at, word) = (one.span().start, one.get_ref());
        let is_plain = !word.is_empty()
            && word.len() <= LONGEST_ALSO
            && word.split(' ').all(|part| {
                !part.is_empty() && part.chars().all(|c| c.is_lowercase() || c.is_ascii_digit() || c == '-')
            });
        if !is_plain {
            let word = shortened(word);
            return Err((
                at,
                format!(
                    "`also` holds \"{word}\"; it takes plain words in small letters, such as \"colour wash\", of {LONGEST_ALSO} letters at most"
                ),
            ));
        }
        if word == name || all.contains(word) {
            return Err((at, format!("`also` says \"{word}\" once more than is needed; leave it out")));
        }
        if all.len() == MOST_ALSO {
            return Err((
                at,
                format!("`also` has more than {MOST_ALSO} words; keep those that people look for"),
            ));
        }
        all.push(word.clone());
    }
    Ok(all)
}

fn reach_of(header: &Header) -> Result<Reach, String> {
    match (&header.reach, header.radius) {
        (ReachWord::Neighbourhood, Some(radius)) if radius > 0 => Ok(Reach::Neighbourhood { radius }),
        (ReachWord::Neighbourhood, _) => {
            Err("a neighbourhood needs `radius`, in texels, 1 or more; for less use reach = \"texel\"".into())
        }
        (_, Some(_)) => Err("`radius` belongs to reach = \"neighbourhood\" only; remove it".into()),
        (ReachWord::Texel, None) => Ok(Reach::Texel),
        (ReachWord::Move, None) => Ok(Reach::Move),
        (ReachWord::PastFrames, None) => Ok(Reach::PastFrames),
        (ReachWord::Source, None) => Ok(Reach::Source),
    }
}

fn check_reach(effect: &Effect) -> Result<(), String> {
    match (effect.reach, effect.channels, effect.position) {
        (Reach::Move, Channels::Mixed, _) => {
            Err("a move does no arithmetic on channels; write channels = \"together\" or \"apart\"".into())
        }
        (Reach::Texel | Reach::Neighbourhood { .. } | Reach::PastFrames, Channels::Together, _) => {
            Err("channels = \"together\" is for moves; write \"apart\" or \"mixed\"".into())
        }
        (Reach::Move, _, Position::Ignored) => {
            Err("a move depends on the position; write position = \"matters\"".into())
        }
        _ if effect.reach == Reach::PastFrames && effect.memory.is_none() => Err(
            "reach = \"past frames\" needs a [memory] table that says how long the effect remembers: `fades`, `renewed` or `held`"
                .into(),
        ),
        _ if effect.reach != Reach::PastFrames && effect.memory.is_some() => {
            Err("[memory] belongs to reach = \"past frames\" only; remove it".into())
        }
        _ if effect.does.is_empty() && effect.reach != Reach::Source => Err(
            "the header lacks `does`: what the effect does to the picture, as the end of \"it ...\", such as \"mixes the channels\""
                .into(),
        ),
        _ if !effect.opaque && effect.reach != Reach::Source => {
            Err("`opaque` is for generated sources; an effect keeps the alpha it is given".into())
        }
        _ => Ok(()),
    }
}

fn setting(table: &SettingTable) -> Result<Setting, String> {
    let name = &table.name;
    if TAKEN_NAMES.contains(&name.as_str()) {
        return Err(format!("a setting cannot be named `{name}`: chain files use that word themselves"));
    }
    let unit =
        || table.unit.clone().ok_or_else(|| format!("setting `{name}` needs a `unit`, such as \"share\""));
    let range = || match table.range {
        Some([low, high]) if low < high && low.is_finite() && high.is_finite() => Ok([low, high]),
        _ => Err(format!("setting `{name}` needs a `range` of two numbers, the smaller first")),
    };
    let kind = match table.kind {
        KindWord::Number => Kind::Number { range: range()?, unit: unit()? },
        KindWord::Whole => {
            let [low, high] = range()?;
            if low.fract() != 0.0 || high.fract() != 0.0 {
                return Err(format!("setting `{name}` is whole, and so must be the two ends of its `range`"));
            }
            Kind::Whole { range: [low as i64, high as i64], unit: unit()? }
        }
        KindWord::Colour => Kind::Colour,
        KindWord::Choice => match &table.choices {
            Some(words) if words.len() > 1 => Kind::Choice(words.clone()),
            _ => return Err(format!("setting `{name}` needs `choices`: a list of two words or more")),
        },
    };
    let default: Result<Value, _> = match &table.default {
        toml::Value::Float(number) => kind.number(*number),
        toml::Value::Integer(number) => kind.number(*number as f64),
        toml::Value::String(word) => kind.word(word),
        other => Err(kind.refused(other.to_string(), String::new())),
    };
    Ok(Setting {
        name: name.clone(),
        label: table.label.clone(),
        help: table.help.clone(),
        default: default.map_err(|error| format!("the default of `{name}` {error}"))?,
        kind,
    })
}

fn derive(table: &DerivedTable, settings: &[Setting]) -> Result<Derived, String> {
    let name = &table.name;
    let numbers: Vec<&str> = settings
        .iter()
        .filter(|s| matches!(s.kind, Kind::Number { .. } | Kind::Whole { .. }))
        .map(|s| s.name.as_str())
        .collect();
    let parts: &[&str] = match table.kind {
        DerivedWord::Gate => &["rate", "phase", "open"],
        DerivedWord::Turn => &["rate", "phase"],
        DerivedWord::Texels => &["distance", "angle"],
        DerivedWord::Direction => &["angle"],
        DerivedWord::Fade => &["left_a_beat"],
        DerivedWord::Due => &["every"],
    };
    if let Some(wrong) = table.from.keys().find(|key| !parts.contains(&key.as_str())) {
        return Err(format!(
            "`{name}` is made from {}; `{wrong}` is none of them",
            listed(parts.iter().copied())
        ));
    }
    let input = |part: &str| match table.from.get(part) {
        Some(InputValue::Constant(constant)) if constant.is_finite() => Ok(Input::Constant(*constant)),
        Some(InputValue::Constant(_)) => Err(format!("`{part}` of `{name}` must be a finite number")),
        Some(InputValue::Setting(from)) if numbers.contains(&from.as_str()) => {
            Ok(Input::Setting(from.clone()))
        }
        Some(InputValue::Setting(from)) => Err(format!(
            "`{name}` takes its {part} from `{from}`, which is no number setting of this file{}",
            did_you_mean(from, numbers.iter().copied())
        )),
        None => Err(format!("`{name}` lacks `{part}`: a setting's name or a number")),
    };
    let kind = match table.kind {
        DerivedWord::Gate => {
            DerivedKind::Gate { rate: input("rate")?, phase: input("phase")?, open: input("open")? }
        }
        DerivedWord::Turn => DerivedKind::Turn { rate: input("rate")?, phase: input("phase")? },
        DerivedWord::Texels => DerivedKind::Texels { distance: input("distance")?, angle: input("angle")? },
        DerivedWord::Direction => DerivedKind::Direction { angle: input("angle")? },
        DerivedWord::Fade => DerivedKind::Fade { left_a_beat: input("left_a_beat")? },
        DerivedWord::Due => DerivedKind::Due { every: input("every")? },
    };
    Ok(Derived { name: name.clone(), kind })
}

fn check_names(settings: &[Setting], derived: &[Derived]) -> Result<(), String> {
    let mut seen: Vec<&str> = Vec::new();
    for name in settings.iter().map(|s| &s.name).chain(derived.iter().map(|d| &d.name)) {
        let plain = name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_');
        if !plain || !name.starts_with(|c: char| c.is_ascii_lowercase()) {
            return Err(format!("`{name}` cannot name a setting; use small letters, digits and underscores"));
        }
        if seen.contains(&name.as_str()) {
            return Err(format!("two settings are named `{name}`; each needs a name of its own"));
        }
        seen.push(name);
    }
    Ok(())
}

fn memory(table: &MemoryTable, derived: &[Derived]) -> Result<Memory, String> {
    let (name, key, kind) = match (&table.fades, &table.renewed, &table.held) {
        (Some(name), None, None) => (name, "fades", "fade"),
        (None, Some(name), None) => (name, "renewed", "due"),
        (None, None, Some(name)) => (name, "held", "due"),
        _ => return Err("[memory] has one of `fades`, `renewed` and `held`".to_owned()),
    };
    let fits = |derived: &Derived| match derived.kind {
        DerivedKind::Fade { .. } => kind == "fade",
        DerivedKind::Due { .. } => kind == "due",
        _ => false,
    };
    if derived.iter().any(|derived| &derived.name == name && fits(derived)) {
        let name = name.clone();
        return Ok(match key {
            "fades" => Memory::Fades(name),
            "renewed" => Memory::Renewed(name),
            _ => Memory::Held(name),
        });
    }
    let known = || derived.iter().filter(|derived| fits(derived)).map(|derived| derived.name.as_str());
    Err(format!(
        "[memory] {key} names `{name}`, which is no [[derived]] value of kind \"{kind}\"{}",
        did_you_mean(name, known())
    ))
}

fn idle(table: &IdleTable, settings: &[Setting], derived: &[Derived]) -> Result<Idle, String> {
    let (member, known): (&String, Vec<&str>) = match (&table.setting, &table.derived) {
        (Some(setting), None) => (setting, settings.iter().map(|s| s.name.as_str()).collect()),
        (None, Some(name)) => (name, derived.iter().map(|d| d.name.as_str()).collect()),
        _ => return Err("an [[idle]] entry names either `setting` or `derived`".to_owned()),
    };
    if !known.contains(&member.as_str()) {
        return Err(format!(
            "[[idle]] names `{member}`, which this file does not declare{}",
            did_you_mean(member, known.iter().copied())
        ));
    }
    Ok(Idle { member: member.clone(), is: table.is, because: table.because.clone() })
}
