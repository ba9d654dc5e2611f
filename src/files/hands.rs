//! Controls in show files, with what each holds of the settings.

use toml::Value as Toml;

use super::FileError;
use super::automation::{ends, written_value};
use super::keys;
use super::keys::{CHAIN_CONTROL, CHAIN_GRIP, CONTROL, CUE, GRIP, Group};
use super::merge::PLACE;
use super::table::{Entry, Table, shortened};
use super::value::value;
use crate::base::place::{did_you_mean, listed};
use crate::catalogue::{Kind, Value};
use crate::midi::Binding;
use crate::show::automation::{FIRED_BEATS, PERIOD_BEATS};
use crate::show::chain::{Chain, EffectUse, Preset, labels};
use crate::show::control::{Control, ControlKind, Curve, Grip, Hand, MOST_PLACES, check};
use crate::show::cue::{Cue, LENGTH_BEATS, MOST_CUED};
use crate::show::{Scope, Show, Target};

/// Reads the controls of a show file whose scopes and chains are read already.
pub(super) fn controls(file: &Table, show: &mut Show) -> Result<(), FileError> {
    controls_in(file, show, &Kinds { control: &CONTROL, grip: &GRIP })
}

/// Reads the controls of a chain file; gives the chain with what they hold of it.
pub(super) fn controls_of_chain(file: &Table, chain: Chain) -> Result<(Chain, Vec<Control>), FileError> {
    let mut show = Show::around(chain, Vec::new());
    controls_in(file, &mut show, &Kinds { control: &CHAIN_CONTROL, grip: &CHAIN_GRIP })?;
    Ok((show.global, show.controls))
}

/// What controls of a kind of file hold, and their grips.
struct Kinds {
    control: &'static Group,
    grip: &'static Group,
}

impl Kinds {
    /// Whether they are those of a chain, whose grips name no scope.
    fn is_of_chain(&self) -> bool {
        std::ptr::eq(self.grip, &CHAIN_GRIP)
    }
}

fn controls_in(file: &Table, show: &mut Show, kinds: &Kinds) -> Result<(), FileError> {
    let Some(entry) = file.entry("control") else { return Ok(()) };
    let tables = entry.tables("a control")?;
    let controls = tables.iter().map(|table| control(table, kinds)).collect::<Result<Vec<_>, _>>()?;
    check(&controls).map_err(|error| {
        let table = &tables[error.control];
        table.entry(error.key).map_or_else(|| table.refuse(&error), |entry| entry.refuse(&error))
    })?;
    for (control, table) in controls.iter().zip(&tables) {
        let Some(grips) = table.entry("grip") else { continue };
        for table in grips.tables("a grip")? {
            grip(&table, control, show, kinds)?;
        }
    }
    show.controls = controls;
    Ok(())
}

fn control(table: &Table, kinds: &Kinds) -> Result<Control, FileError> {
    table.only_of(kinds.control)?;
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
    let at = table.optional("at", |at| {
        let of = at.list(2, 2, "[1, 1]")?;
        Ok([of[0].whole(1, MOST_PLACES)?, of[1].whole(1, MOST_PLACES)?])
    })?;
    Ok(Control { name, hand, kind, key, midi, cue, colour, at })
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
    let at = table.required("at", &format!("at = {example}"))?.list(1, MOST_CUED, example)?;
    let [briefest, most] = LENGTH_BEATS;
    Ok(Cue {
        at: at.iter().map(|beat| beat.number(earliest, latest)).collect::<Result<_, _>>()?,
        every: table.optional("every", |every| every.number(shortest, longest))?,
        length: table.optional("length", |length| length.number(briefest, most))?,
    })
}

fn grip(table: &Table, control: &Control, show: &mut Show, kinds: &Kinds) -> Result<(), FileError> {
    table.only_of(kinds.grip)?;
    let target = target(table, show, kinds)?;
    let entry = table.required("setting", "setting = \"amount\"")?;
    let name = target.key(show);
    if let Some(grip) =
        show.grips_on(target).first().filter(|grip| !target.is_shared() || grip.control == control.name)
    {
        let of =
            target.effect().zip(target.scope()).map(|(at, scope)| show.chain(scope)[at].effect.name.as_str());
        let of = of.map(|of| format!(" of `{of}`")).unwrap_or_default();
        return Err(entry.refuse(format!(
            "`{name}`{of} is already held by \"{}\"; one control holds a setting",
            grip.control
        )));
    }
    let kind = show.target_kind(target).ok_or_else(|| entry.refuse("there is no such thing"))?;
    let end = |entry: &Entry| match target {
        Target::Switch { .. } => entry.truth().map(|on| Value::Choice(usize::from(on))),
        _ => value(entry, &kind),
    };
    let [low, high] = match kind {
        // A button gives one word, and goes through none.
        Kind::Choice(_) => {
            let example = examples(&kind, target);
            let high = end(&table.required("high", &format!("high = {}", example[1]))?)?;
            let low = match table.entry("low") {
                Some(low) => end(&low)?,
                None if control.kind == ControlKind::Continuous && target != Target::Section => {
                    return Err(table.refuse(format!(
                        "{} needs `low`, as a continuous control goes from there to `high`; add `low = {}`",
                        table.what, example[0]
                    )));
                }
                None => high.clone(),
            };
            [low, high]
        }
        _ => ends(table, &kind)?,
    };
    let curve = table.optional("curve", |word| word.choice(&Curve::ALL, Curve::name))?.unwrap_or_default();
    let grip = Grip { control: control.name.clone(), low, high, curve };
    let refused = format!("`{name}`");
    show.hold(target, grip).map_err(|error| entry.refuse(format!("{refused} {error}")))
}

/// Values that would be right at both ends.
fn examples(kind: &Kind, target: Target) -> [String; 2] {
    match (kind, target) {
        (_, Target::Switch { .. }) => ["false".to_owned(), "true".to_owned()],
        (Kind::Choice(words), _) => {
            [words.first(), words.last()].map(|word| format!("\"{}\"", word.map_or("", String::as_str)))
        }
        _ => ["0.0".to_owned(), "1.0".to_owned()],
    }
}

/// What a grip moves: a setting or the switch of an effect, what a scope has itself, or the section.
fn target(table: &Table, show: &Show, kinds: &Kinds) -> Result<Target, FileError> {
    let setting = table.entry("setting");
    let key = setting.as_ref().and_then(Entry::as_text).unwrap_or_default();
    let is_own = |scope: Option<Scope>| {
        table.entry("effect").is_none() && Target::named(show, scope, None, key).is_some()
    };
    let scope = if kinds.is_of_chain() {
        Scope::Global
    } else if table.entry("scope").is_none() && is_own(None) {
        return Ok(Target::Section);
    } else {
        let entry = table.required("scope", "scope = \"global\"")?;
        show.scope_named(&entry.text()?).map_err(|error| entry.refuse(error))?
    };
    if let Some(own) = Target::named(show, Some(scope), None, key).filter(|_| is_own(Some(scope))) {
        return Ok(own);
    }
    let chain = show.chain(scope);
    let own = Target::keys(show, Some(scope), None);
    let Some(of) = table.entry("effect") else {
        let also = match own.as_slice() {
            [] => String::new(),
            own => format!("; of the scope itself `setting` takes {}", listed(own.iter().copied())),
        };
        return Err(table.refuse(format!("{} needs `effect`; add `effect = \"tint\"`{also}", table.what)));
    };
    let at = effect(&of, chain)?;
    let entry = table.required("setting", "setting = \"amount\"")?;
    let name = entry.text()?;
    Target::named(show, Some(scope), Some(at), &name).ok_or_else(|| {
        let name = shortened(&name);
        let names = Target::keys(show, Some(scope), Some(at));
        entry.refuse(format!(
            "`{}` has no setting `{name}`{} (it has {})",
            chain[at].effect.name,
            did_you_mean(&name, names.iter().copied()),
            listed(names.iter().copied())
        ))
    })
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
    show.controls.iter().map(|control| written_control(show, control, is_complete, false)).collect()
}

/// The text of a chain's controls.
pub(super) fn written_of_chain(preset: &Preset, is_complete: bool) -> String {
    if preset.controls.is_empty() {
        return String::new();
    }
    let show = Show::around(preset.chain.clone(), preset.controls.clone());
    show.controls.iter().map(|control| written_control(&show, control, is_complete, true)).collect()
}

fn written_control(show: &Show, control: &Control, is_complete: bool, is_of_chain: bool) -> String {
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
        let length = cue.length.map_or(String::new(), |length| format!(", length = {length:?}"));
        text += &format!("cue = {{ at = {:?}{every}{length} }}\n", cue.at);
    }
    if let Some([column, row]) = control.at {
        text += &format!("at = [{column}, {row}]\n");
    }
    if let Some(colour) = control.colour {
        text += &format!("colour = \"{colour}\"\n");
    }
    for (target, grip) in show.grips(&control.name) {
        let Some(kind) = show.target_kind(target) else { continue };
        text += "\n[[control.grip]]\n";
        if let Some(scope) = target.scope() {
            if !is_of_chain {
                text += &format!("scope = {}\n", word(&show.address(scope)));
            }
            if let Some(at) = target.effect() {
                text += &format!("effect = {}\n", word(&labels(show.chain(scope))[at]));
            }
        }
        text += &format!("setting = \"{}\"\n", target.key(show));
        let end = |value: &Value| match (target, value) {
            (Target::Switch { .. }, Value::Choice(on)) => (*on == 1).to_string(),
            (_, Value::Choice(_)) => word(&kind.said(value)),
            (_, value) => written_value(&kind, value),
        };
        let is_word = matches!(kind, Kind::Choice(_));
        let is_button = control.kind != ControlKind::Continuous || target == Target::Section;
        if !(is_word && is_button && grip.low == grip.high) {
            text += &format!("low = {}\n", end(&grip.low));
        }
        text += &format!("high = {}\n", end(&grip.high));
        if let Some(at) = target.effect().filter(|_| is_complete) {
            text += &format!("{PLACE} = {}\n", at + 1);
        }
        if is_complete || grip.curve != Curve::default() {
            text += &format!("curve = \"{}\"\n", grip.curve.name());
        }
    }
    text
}
