//! What a recording says in words and numbers: settings, frames, and what is known of the orders.

use std::collections::HashMap;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use serde_json::{Value as Json, json};

use super::recorder::stops_of;
use super::{LOOKS_OF, RecordedFrame};
use crate::base::shown::shown;
use crate::catalogue::{Kind, Setting, Value};
use crate::explore::Exploration;
use crate::order::marks;
use crate::output::orders_wall::beat_said;
use crate::show::chain::EffectUse;

pub(super) fn setting_json(used: &EffectUse, place: usize, setting: &Setting) -> Json {
    let members = used.effect.layout.members.iter();
    let at: Vec<u32> =
        members.filter(|(name, ..)| *name == setting.name).map(|(_, offset, _)| *offset).collect();
    let value = used.values().nth(place);
    let mut json = json!({
        "name": setting.name,
        "label": shown(&setting.label),
        "help": shown(&setting.help),
        "at": at,
        "moves": used.automation(place).is_some(),
        "before": "",
        "behind": "",
        "scale": 1,
    });
    let own = match &setting.kind {
        Kind::Number { range, unit } => {
            json["kind"] = json!("number");
            json["range"] = json!(range);
            unit_json(&mut json, unit);
            json!(value.and_then(Value::as_number))
        }
        Kind::Whole { range, unit } => {
            json["kind"] = json!("whole");
            json["range"] = json!(range);
            unit_json(&mut json, unit);
            json!(value.and_then(Value::as_number))
        }
        Kind::Colour => {
            json["kind"] = json!("colour");
            json!(value.map(Value::to_string))
        }
        Kind::Choice(words) => {
            json["kind"] = json!("choice");
            json["words"] = json!(words);
            json!(value.and_then(Value::as_number).map(|place| place as u64))
        }
    };
    json["value"] = own;
    if let Some(stops) = stops_of(used, place) {
        json["stops"] = json!(stops);
    }
    json
}

/// How a number with a unit reads: what stands before and behind it, and what it is multiplied by.
fn unit_json(json: &mut Json, unit: &str) {
    let (before, behind, scale) = match unit.strip_prefix("share") {
        Some(of) => ("", format!(" %{of}"), 100),
        None if unit == "times" => ("x ", String::new(), 1),
        None if unit.is_empty() => ("", String::new(), 1),
        None => ("", format!(" {unit}"), 1),
    };
    json["before"] = json!(before);
    json["behind"] = json!(shown(&behind));
    json["scale"] = json!(scale);
}

/// A frame; programs, pictures and tables by their places among those that all stages share.
pub(super) fn frame_json(
    frame: &RecordedFrame,
    programs: &[usize],
    pictures: &[usize],
    tables: &[usize],
) -> Json {
    let shared = |of: &[Vec<usize>], places: &[usize]| -> Vec<Vec<usize>> {
        of.iter().map(|some| some.iter().map(|&place| places[place]).collect()).collect()
    };
    let after = frame.after.iter().map(|after| {
        json!({
            "kind": after.kind,
            "program": programs[after.program],
            "past": after.past.map(|past| programs[past]),
            "id": after.id,
            "bytes": STANDARD.encode(&after.bytes),
        })
    });
    json!({
        "beat": format!("beat {}", beat_said(frame.beats)),
        "pictures": shared(&frame.pictures, pictures),
        "settings": frame.settings.iter().map(|bytes| STANDARD.encode(bytes)).collect::<Vec<_>>(),
        "tables": shared(&frame.tables, tables),
        "after": after.collect::<Vec<_>>(),
    })
}

/// What is known of the orders, for the script: families by what holds for them, and the look of every order where these
/// are few.
pub(super) fn found(explored: Option<&Exploration>, chain: &[EffectUse]) -> Json {
    let effects = chain.len();
    let dotted = marks(chain).own().contains('.');
    let Some(explored) = explored else {
        return json!({ "families": [], "looks": {}, "dotted": dotted });
    };
    let orders = &explored.orders;
    let classes = &orders.proofs.classes;
    let families = explored.told_families();
    let named = families.map_or(&[][..], |families| &families.list).iter().map(|family| {
        let facts: Vec<[usize; 2]> = family.facts.iter().map(|fact| [fact.before, fact.after]).collect();
        json!({ "name": shown(&explored.plain(&explored.family_named(family))), "facts": facts })
    });
    let mut looks = serde_json::Map::new();
    if effects <= LOOKS_OF && orders.tally.sample().is_none() && orders.tally.pinned().is_empty() {
        let of_form: HashMap<&[usize], usize> =
            orders.classes.iter().enumerate().map(|(at, class)| (&class.order[..], at)).collect();
        for order in every_order(effects) {
            if let Some(&class) = of_form.get(&classes.normal_form(&order)[..]) {
                looks.insert(orders.marks.code(&order), json!(explored.looks.of[class] + 1));
            }
        }
    }
    json!({
        "families": named.collect::<Vec<_>>(),
        "looks": looks,
        "dotted": dotted,
    })
}

/// Every order of so many effects.
fn every_order(effects: usize) -> Vec<Vec<usize>> {
    (0..effects).fold(vec![Vec::new()], |orders, next| {
        let put = |order: Vec<usize>| {
            (0..=order.len()).map(move |at| {
                let mut order = order.clone();
                order.insert(at, next);
                order
            })
        };
        orders.into_iter().flat_map(put).collect()
    })
}
