//! Automations in files: a setting's value that is a table.

use toml::Value as Toml;

use super::FileError;
use super::table::{Entry, Table};
use super::value::value;
use crate::catalogue::{Kind, Value};
use crate::show::automation::{
    Automation, Envelope, FIRED_BEATS, Fired, MOST_LISTED, PART_BEATS, PERIOD_BEATS, PHASE, Pace, Wave,
};

/// The keys of every shape that repeats.
const PACED: [&str; 3] = ["shape", "period", "phase"];

/// The automation that a setting's table describes.
pub(super) fn automation(entry: &Entry, kind: &Kind) -> Result<Automation, FileError> {
    let table = entry.table(&format!("the automation of `{}`", entry.key), "a table")?;
    let shape = table.deciding("shape", "shape = \"sine\"")?.choice(&Automation::SHAPES, |name| name)?;
    let keys = |own: &[&'static str]| [&PACED, own].concat();
    match shape {
        "steps" => {
            table.only(&keys(&["values"]))?;
            let pace = pace(&table)?;
            let example = examples(kind);
            let values = table.required("values", &format!("values = {example}"))?;
            let values = values.list(2, MOST_LISTED, &example)?;
            let values = values.iter().map(|entry| value(entry, kind)).collect::<Result<_, _>>()?;
            Ok(Automation::Steps { pace, values })
        }
        "random" => {
            table.only(&keys(&["seed", "low", "high"]))?;
            let seed = table.optional("seed", |seed| seed.whole(0, u32::MAX))?.unwrap_or(0);
            let (pace, [low, high]) = (pace(&table)?, ends(&table, kind)?);
            Ok(Automation::Random { pace, seed, low, high })
        }
        "envelope" => {
            table.only(&[
                "shape", "attack", "hold", "decay", "every", "offset", "at", "control", "low", "high",
            ])?;
            let [low, high] = ends(&table, kind)?;
            Ok(Automation::Envelope { envelope: envelope(&table)?, low, high })
        }
        shape => {
            table.only(&keys(&["low", "high"]))?;
            let wave = Wave::named(shape).unwrap_or(Wave::Sine);
            let (pace, [low, high]) = (pace(&table)?, ends(&table, kind)?);
            Ok(Automation::Wave { wave, pace, low, high })
        }
    }
}

fn pace(table: &Table) -> Result<Pace, FileError> {
    let [shortest, longest] = PERIOD_BEATS;
    let [least, most] = PHASE;
    Ok(Pace {
        period_beats: table.required("period", "period = 4.0")?.number(shortest, longest)?,
        phase: table.optional("phase", |phase| phase.number(least, most))?.unwrap_or(0.0),
    })
}

fn envelope(table: &Table) -> Result<Envelope, FileError> {
    let [shortest, longest] = PART_BEATS;
    let part =
        |key| table.optional(key, |part| part.number(shortest, longest)).map(Option::unwrap_or_default);
    let (attack_beats, hold_beats, decay_beats) = (part("attack")?, part("hold")?, part("decay")?);
    let given: Vec<Entry> = table.entries().filter(|e| matches!(e.key, "every" | "at" | "control")).collect();
    let fired = match given.as_slice() {
        [] => {
            return Err(table.refuse(format!(
                "{} needs what fires it; add `every = 4.0`, `at = [0.0, 3.5]` or `control = \"...\"`",
                table.what
            )));
        }
        [_, second, ..] => {
            return Err(second.refuse("an envelope is fired by one of `every`, `at` and `control`; keep one"));
        }
        [one] if one.key == "every" => {
            let [least, most] = PERIOD_BEATS;
            Fired::Every { beats: one.number(least, most)?, offset: part("offset")? }
        }
        [one] => {
            if let Some(offset) = table.entry("offset") {
                return Err(offset.refuse("`offset` goes with `every`; take it out"));
            }
            if one.key == "control" {
                Fired::By(one.title()?)
            } else {
                let [earliest, latest] = FIRED_BEATS;
                let beats = one.list(1, MOST_LISTED, "[0.0, 3.5]")?;
                Fired::At(beats.iter().map(|beat| beat.number(earliest, latest)).collect::<Result<_, _>>()?)
            }
        }
    };
    Ok(Envelope { attack_beats, hold_beats, decay_beats, fired })
}

/// The values of `low` and `high`.
pub(super) fn ends(table: &Table, kind: &Kind) -> Result<[Value; 2], FileError> {
    let [low, high] = end_examples(kind);
    let end = |key, example| value(&table.required(key, &format!("{key} = {example}"))?, kind);
    Ok([end("low", low)?, end("high", high)?])
}

fn end_examples(kind: &Kind) -> [String; 2] {
    match kind {
        Kind::Number { range: [low, high], .. } => [format!("{low:?}"), format!("{high:?}")],
        Kind::Whole { range: [low, high], .. } => [low.to_string(), high.to_string()],
        Kind::Colour | Kind::Choice(_) => ["\"#000000\"".to_owned(), "\"#ff8c33\"".to_owned()],
    }
}

fn examples(kind: &Kind) -> String {
    format!("[{}]", end_examples(kind).join(", "))
}

/// The automation as the value of a setting's key; where `is_complete`, with what is at its default.
pub(super) fn written(automation: &Automation, kind: &Kind, is_complete: bool) -> String {
    let mut keys = vec![format!("shape = \"{}\"", automation.shape())];
    match automation {
        Automation::Wave { pace, low, high, .. } => {
            write_pace(&mut keys, *pace, is_complete);
            write_ends(&mut keys, kind, low, high);
        }
        Automation::Steps { pace, values } => {
            write_pace(&mut keys, *pace, is_complete);
            let values: Vec<String> = values.iter().map(|value| written_value(kind, value)).collect();
            keys.push(format!("values = [{}]", values.join(", ")));
        }
        Automation::Random { pace, seed, low, high } => {
            write_pace(&mut keys, *pace, is_complete);
            if is_complete || *seed != 0 {
                keys.push(format!("seed = {seed}"));
            }
            write_ends(&mut keys, kind, low, high);
        }
        Automation::Envelope { envelope, low, high } => {
            let Envelope { attack_beats, hold_beats, decay_beats, fired } = envelope;
            let parts = [("attack", attack_beats), ("hold", hold_beats), ("decay", decay_beats)];
            keys.extend(
                parts
                    .iter()
                    .filter(|(_, beats)| is_complete || **beats != 0.0)
                    .map(|(k, b)| format!("{k} = {b:?}")),
            );
            match fired {
                Fired::Every { beats, offset } => {
                    keys.push(format!("every = {beats:?}"));
                    if is_complete || *offset != 0.0 {
                        keys.push(format!("offset = {offset:?}"));
                    }
                }
                Fired::At(beats) => keys.push(format!("at = {beats:?}")),
                Fired::By(control) => keys.push(format!("control = {}", Toml::from(control.as_str()))),
            }
            write_ends(&mut keys, kind, low, high);
        }
    }
    format!("{{ {} }}", keys.join(", "))
}

fn write_pace(keys: &mut Vec<String>, pace: Pace, is_complete: bool) {
    keys.push(format!("period = {:?}", pace.period_beats));
    if is_complete || pace.phase != 0.0 {
        keys.push(format!("phase = {:?}", pace.phase));
    }
}

fn write_ends(keys: &mut Vec<String>, kind: &Kind, low: &Value, high: &Value) {
    keys.extend(
        [("low", low), ("high", high)].map(|(key, end)| format!("{key} = {}", written_value(kind, end))),
    );
}

/// A value with the shortest digits that read back as the same, and the point that makes a number a float.
pub(super) fn written_value(kind: &Kind, value: &Value) -> String {
    match value {
        Value::Number(number) => format!("{number:?}"),
        value => kind.written(value),
    }
}
