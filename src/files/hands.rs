//! Controls in show files, with what each holds of the settings.

use toml::Value as Toml;

use super::FileError;
use super::automation::{ends, written_value};
use super::keys;
use super::keys::{CONTROL, CUE, GRIP};
use super::merge::PLACE;
use super::table::{Entry, Table, shortened};
use crate::base::place::{did_you_mean, listed};
use crate::midi::Binding;
use crate::show::Show;
use crate::show::automation::{FIRED_BEATS, MOST_LISTED, PERIOD_BEATS};
use crate::show::chain::{EffectUse, labels};
use crate::show::control::{Control, ControlKind, Curve, Grip, Hand, check};
use crate::show::cue::Cue;

/// Reads the controls of a show file whose scopes and chains are read already.
pub(super) fn controls(file: &Table, show: &mut Show) -> Result<(), FileError> {
    let Some(entry) = file.entry("control") else { return Ok(()) };
    let tables = entry.tables("a control")?;
    let controls = tables.iter().map(control).collect::<Result<Vec<_>, _>>()?;
    check(&controls).map_err(|error| {
        let table = &tables[error.control];
        table.entry(error.key).map_or_else(|| table.refuse(&error), |entry| entry.refuse(&error))
    })?;
    for (control, table) in controls.iter().zip(&tables) {
        let Some(grips) = table.entry("grip") else { continue };
        for table in grips.tables("a grip")? {
            grip(&table, &control.name, show)?;
        }
    }
    show.controls = controls;
    Ok(())
}

fn control(table: &Table) -> Result<Control, FileError> {
    table.only_of(&CONTROL)?;
    let name = table.name()?.title()?;
    let hand = table.required("hand", "hand = \"left\"")?.choice(&Hand::ALL, Hand::name)?;
    let kind =
        table.required("kind", "kind = \"momentary\"")?.choice(&ControlKind::ALL, ControlKind::name)?;
    let key = table.optional("key", |key| {
        key.as_text().and_then(|text| text.parse().ok()).ok_or_else(|| {
            key.refuse(format!("`key` is {}; it takes one of \"A\" to \"Z\" and \"0\" to \"9\"", key.found()))
        })
    })?;
    let (midi, cue) = (table.optional("midi", midi)?, table.optional("cue", cue)?);
    let colour = table.optional("colour", Entry::colour_code)?;
    Ok(Control { name, hand, kind, key, midi, cue, colour })
}

const MIDI: &str = "a table such as { channel = 1, note = 36 }, { channel = 1, controller = 7 } or { channel = 1, bend = true }";

fn midi(entry: &Entry) -> Result<Binding, FileError> {
    let table = entry.table("a MIDI binding", MIDI)?;
    table.only_of(&keys::MIDI)?;
    let whole = |entry: &Entry, low: u8, high: u8| entry.whole(low.into(), high.into()).map(|n| n as u8);
    let channel = whole(&table.required("channel", "channel = 1")?, 1, 16)?;
    let is_14_bit = match table.entry("bits") {
        None => false,
        Some(bits) if table.entry("controller").is_none() => {
            return Err(bits.refuse("`bits` goes with `controller`; take it out"));
        }
        Some(bits) => match bits.as_number() {
            Some(7.0) => false,
            Some(14.0) => true,
            _ => return Err(bits.refuse(format!("`bits` is {}; it takes 7 or 14", bits.found()))),
        },
    };
    let given: Vec<Entry> =
        table.entries().filter(|e| matches!(e.key, "note" | "controller" | "bend")).collect();
    match given.as_slice() {
        [] => Err(table.refuse(format!("{} needs what is played; it takes {MIDI}", table.what))),
        [_, second, ..] => Err(second.refuse("a control is bound to one thing; keep one of the two")),
        [one] if one.key == "note" => Ok(Binding::Note { channel, note: whole(one, 0, 127)? }),
        [one] if one.key == "controller" => {
            let number = whole(one, 0, if is_14_bit { 31 } else { 119 })?;
            Ok(Binding::Controller { channel, number, is_14_bit })
        }
        [one] if one.truth()? => Ok(Binding::Bend { channel }),
        [one] => Err(one.refuse("`bend` is false; write `bend = true`, or leave it out")),
    }
}

fn cue(entry: &Entry) -> Result<Cue, FileError> {
    let table = entry.table("a cue", "a table such as { at = [0.0, 8.0], every = 16.0 }")?;
    table.only_of(&CUE)?;
    let [earliest, latest] = FIRED_BEATS;
    let [shortest, longest] = PERIOD_BEATS;
    let example = "[0.0, 8.0]";
    let at = table.required("at", &format!("at = {example}"))?.list(1, MOST_LISTED, example)?;
    Ok(Cue {
        at: at.iter().map(|beat| beat.number(earliest, latest)).collect::<Result<_, _>>()?,
        every: table.optional("every", |every| every.number(shortest, longest))?,
    })
}

fn grip(table: &Table, control: &str, show: &mut Show) -> Result<(), FileError> {
    table.only_of(&GRIP)?;
    let entry = table.required("scope", "scope = \"global\"")?;
    let scope = show.scope_named(&entry.text()?).map_err(|error| entry.refuse(error))?;
    let chain = show.chain_mut(scope);
    let at = effect(&table.required("effect", "effect = \"tint\"")?, chain)?;
    let used = &mut chain[at];
    let entry = table.required("setting", "setting = \"amount\"")?;
    let name = entry.text()?;
    let names = || used.effect.settings.iter().map(|setting| setting.name.as_str());
    let Some(place) = names().position(|known| known == name) else {
        let name = shortened(&name);
        return Err(entry.refuse(format!(
            "`{}` has no setting `{name}`{} (it has {})",
            used.effect.name,
            did_you_mean(&name, names()),
            listed(names())
        )));
    };
    if let Some(grip) = used.grip(place) {
        return Err(entry.refuse(format!(
            "`{name}` of `{}` is already held by \"{}\"; one control holds a setting",
            used.effect.name, grip.control
        )));
    }
    let [low, high] = ends(table, &used.effect.settings[place].kind)?;
    let curve = table.optional("curve", |word| word.choice(&Curve::ALL, Curve::name))?.unwrap_or_default();
    let grip = Grip { control: control.to_owned(), low, high, curve };
    used.hold(place, Some(grip)).map_err(|error| entry.refuse(format!("`{name}` {error}")))
}

/// The place in a chain of the effect named: by its place from 1, its label, or its name where it is the only one.
fn effect(entry: &Entry, chain: &[EffectUse]) -> Result<usize, FileError> {
    let labels = labels(chain);
    if let Some(place) = entry.as_number() {
        return if place.fract() == 0.0 && (1.0..=chain.len() as f64).contains(&place) {
            Ok(place as usize - 1)
        } else {
            let count = chain.len();
            Err(entry.refuse(format!("`effect` is {place}; the chain there has {count}, counted from 1")))
        };
    }
    let name = entry.text()?;
    labels.iter().position(|label| *label == name).ok_or_else(|| {
        let name = shortened(&name);
        let known = || labels.iter().map(String::as_str);
        entry.refuse(format!(
            "the chain there has no effect `{name}`{} (it has {})",
            did_you_mean(&name, known()),
            listed(known())
        ))
    })
}

/// The text of a show's controls; where `is_complete`, with what is at its default, and with the place of each effect.
pub(super) fn written(show: &Show, is_complete: bool) -> String {
    show.controls.iter().map(|control| written_control(show, control, is_complete)).collect()
}

fn written_control(show: &Show, control: &Control, is_complete: bool) -> String {
    let word = |text: &str| Toml::from(text).to_string();
    let mut text = format!(
        "\n[[control]]\nname = {}\nhand = \"{}\"\nkind = \"{}\"\n",
        word(&control.name),
        control.hand.name(),
        control.kind.name()
    );
    if let Some(key) = control.key {
        text += &format!("key = \"{key}\"\n");
    }
    if let Some(midi) = control.midi {
        let played = match midi {
            Binding::Note { channel, note } => format!("channel = {channel}, note = {note}"),
            Binding::Controller { channel, number, is_14_bit } => {
                let bits = match is_14_bit {
                    true => ", bits = 14",
                    false if is_complete => ", bits = 7",
                    false => "",
                };
                format!("channel = {channel}, controller = {number}{bits}")
            }
            Binding::Bend { channel } => format!("channel = {channel}, bend = true"),
        };
        text += &format!("midi = {{ {played} }}\n");
    }
    if let Some(cue) = &control.cue {
        let every = cue.every.map_or(String::new(), |every| format!(", every = {every:?}"));
        text += &format!("cue = {{ at = {:?}{every} }}\n", cue.at);
    }
    if let Some(colour) = control.colour {
        text += &format!("colour = \"{colour}\"\n");
    }
    for (scope, at, place) in show.grips(&control.name) {
        let chain = show.chain(scope);
        let setting = &chain[at].effect.settings[place];
        let Some(grip) = chain[at].grip(place) else { continue };
        text += &format!(
            "\n[[control.grip]]\nscope = {}\neffect = \"{}\"\nsetting = \"{}\"\nlow = {}\nhigh = {}\n",
            word(&show.address(scope)),
            labels(chain)[at],
            setting.name,
            written_value(&setting.kind, &grip.low),
            written_value(&setting.kind, &grip.high),
        );
        if is_complete {
            text += &format!("{PLACE} = {}\n", at + 1);
        }
        if is_complete || grip.curve != Curve::default() {
            text += &format!("curve = \"{}\"\n", grip.curve.name());
        }
    }
    text
}
