//! The keys as a JSON Schema (draft 2020-12), for editors that check and complete TOML by one.

use serde_json::{Map, Value as Json, json};

use super::declared::{EFFECT, MOTION};
use super::{Absent, Group, Key, Takes};
use crate::catalogue::{Catalogue, Effect, Kind, Setting};
use crate::show::automation::{Automation, Wave};
use crate::show::name::LONGEST_NAME;

/// The schema of files of a kind, with the effects of this catalogue.
pub fn schema(root: &'static Group, catalogue: &Catalogue) -> Json {
    let mut defs = Map::new();
    let groups = root.all(true);
    for group in groups.iter().skip(1).filter(|group| !is_of_effects(group)) {
        defs.insert(group.name.to_owned(), object(group));
    }
    if groups.iter().any(|group| is_of_effects(group)) {
        let names: Vec<&str> = catalogue.effects().iter().map(|effect| effect.name.as_str()).collect();
        let each = catalogue.effects().iter().map(|effect| {
            json!({
                "if": { "properties": { "use": { "const": effect.name } }, "required": ["use"] },
                "then": { "$ref": format!("#/$defs/effect-{}", effect.name) },
            })
        });
        defs.insert(
            "effect".to_owned(),
            json!({
                "description": EFFECT.about,
                "type": "object",
                "required": ["use"],
                "properties": { "use": { "enum": names } },
                "allOf": each.collect::<Vec<_>>(),
            }),
        );
        for effect in catalogue.effects() {
            defs.insert(format!("effect-{}", effect.name), effect_object(effect));
        }
    }
    let mut schema = object(root);
    schema["$schema"] = json!("https://json-schema.org/draft/2020-12/schema");
    schema["title"] = json!(format!("Underover {}", root.name));
    schema["$defs"] = Json::Object(defs);
    schema
}

fn is_of_effects(group: &Group) -> bool {
    [&EFFECT, &MOTION].iter().any(|one| one.name == group.name)
}

fn object(group: &Group) -> Json {
    let properties: Map<String, Json> =
        group.keys.iter().map(|key| (key.name.to_owned(), property(key))).collect();
    let mut object = json!({
        "description": group.about,
        "type": "object",
        "required": needed(group),
        "properties": properties,
        "additionalProperties": false,
    });
    let apart: Vec<Json> = group.rivals.iter().flat_map(|rivals| not_two_of(rivals)).collect();
    if !apart.is_empty() {
        object["allOf"] = Json::Array(apart);
    }
    object
}

fn needed(group: &Group) -> Vec<&'static str> {
    group.keys.iter().filter(|key| key.absent == Absent::Refused).map(|key| key.name).collect()
}

/// No two of these keys together.
fn not_two_of(keys: &[&str]) -> Vec<Json> {
    let pairs = keys.iter().enumerate().flat_map(|(at, a)| keys[at + 1..].iter().map(move |b| [*a, *b]));
    pairs.map(|pair| json!({ "not": { "required": pair } })).collect()
}

fn property(key: &Key) -> Json {
    let mut schema = taken(&key.takes);
    let about = match key.absent {
        Absent::Means(means) => format!("{} (left out: {means})", key.about),
        Absent::Depends(needed) => format!("{} ({needed})", key.about),
        _ => key.about.to_owned(),
    };
    schema["description"] = json!(about);
    if let Absent::Is(written) = key.absent
        && let Ok(table) = format!("is = {written}").parse::<toml::Table>()
    {
        schema["default"] = json!(table["is"]);
    }
    schema
}

fn taken(takes: &Takes) -> Json {
    let named = |group: &Group| json!({ "$ref": format!("#/$defs/{}", group.name) });
    match takes {
        Takes::Text => json!({ "type": "string" }),
        Takes::Title => {
            json!({ "type": "string", "pattern": "\\S", "maxLength": LONGEST_NAME, "not": { "pattern": "[\\x00-\\x1f]" } })
        }
        Takes::ScopeName => {
            json!({ "type": "string", "pattern": "^[^/:]*[^/:\\s][^/:]*$", "maxLength": LONGEST_NAME })
        }
        Takes::Just(text) => json!({ "const": text }),
        Takes::Like(pattern, said) => json!({ "type": "string", "pattern": pattern, "title": said }),
        Takes::Truth => json!({ "type": "boolean" }),
        Takes::Number([low, high], _) => json!({ "type": "number", "minimum": low, "maximum": high }),
        Takes::Whole([low, high], _) => json!({ "type": "integer", "minimum": low, "maximum": high }),
        Takes::Word(words) => json!({ "enum": words() }),
        Takes::List(one, [least, usize::MAX]) => {
            json!({ "type": "array", "items": taken(one), "minItems": least })
        }
        Takes::List(one, [least, most]) => {
            json!({ "type": "array", "items": taken(one), "minItems": least, "maxItems": most })
        }
        Takes::Named(pattern, said, one) => json!({
            "type": "object",
            "title": said,
            "patternProperties": { (*pattern): taken(one) },
            "additionalProperties": false,
        }),
        Takes::Table(group) => named(group),
        Takes::Tables(group, least) => json!({ "type": "array", "items": named(group), "minItems": least }),
        Takes::Setting => json!({ "type": ["number", "string", "boolean"] }),
        Takes::Chain => json!({ "type": "array", "items": { "$ref": "#/$defs/effect" } }),
        Takes::Either(several) => json!({ "anyOf": several.iter().map(taken).collect::<Vec<_>>() }),
    }
}

/// An effect with its settings.
fn effect_object(effect: &Effect) -> Json {
    let mut object = object(&EFFECT);
    object["description"] = json!(effect.summary);
    for setting in &effect.settings {
        object["properties"][&setting.name] = setting_value(setting);
    }
    object
}

/// A setting's value, or what moves it.
fn setting_value(setting: &Setting) -> Json {
    let value = value(&setting.kind);
    let mut schema = match &setting.kind {
        Kind::Choice(_) => value,
        _ => json!({ "anyOf": [value, motion(&value)] }),
    };
    schema["description"] = json!(setting.help);
    schema
}

fn value(kind: &Kind) -> Json {
    match kind {
        Kind::Number { range: [low, high], .. } => {
            json!({ "type": "number", "minimum": low, "maximum": high })
        }
        Kind::Whole { range: [low, high], .. } => {
            json!({ "type": "integer", "minimum": low, "maximum": high })
        }
        Kind::Colour => json!({ "type": "string", "pattern": super::declared::HEX }),
        Kind::Choice(words) => json!({ "enum": words }),
    }
}

/// A table by which a value moves: of each shape the keys that it takes.
fn motion(value: &Json) -> Json {
    let key = |name: &str| {
        let known = MOTION.keys.iter().find(|key| key.name == name);
        match name {
            "low" | "high" => value.clone(),
            "values" => {
                let list = known.map(property).unwrap_or_default();
                json!({ "type": "array", "items": value, "minItems": list["minItems"], "maxItems": list["maxItems"] })
            }
            _ => known.map(property).unwrap_or_default(),
        }
    };
    let shape = |shapes: &[&str], needed: &[&str], may: &[&str]| {
        let mut properties = Map::new();
        properties.insert("shape".to_owned(), json!({ "enum": shapes }));
        for name in needed.iter().chain(may) {
            properties.insert((*name).to_owned(), key(name));
        }
        let required: Vec<&str> = ["shape"].iter().chain(needed).copied().collect();
        json!({
            "type": "object",
            "required": required,
            "properties": properties,
            "additionalProperties": false,
        })
    };
    let waves: Vec<&str> =
        Automation::SHAPES.into_iter().filter(|&shape| Wave::named(shape).is_some()).collect();
    let parts = ["attack", "hold", "decay"];
    // One that takes no time is none.
    let lasts: Vec<Json> = parts
        .iter()
        .map(|part| json!({ "required": [part], "properties": { (*part): { "exclusiveMinimum": 0 } } }))
        .collect();
    let fired = |by: &str, more: &[&str]| {
        let mut one = shape(&["envelope"], &[by, "low", "high"], &[&parts[..], more].concat());
        one["anyOf"] = Json::Array(lasts.clone());
        one
    };
    json!({
        "anyOf": [
            shape(&waves, &["period", "low", "high"], &["phase"]),
            shape(&["steps"], &["period", "values"], &["phase"]),
            shape(&["random"], &["period", "low", "high"], &["phase", "seed"]),
            fired("every", &["offset"]),
            fired("at", &[]),
            fired("control", &[]),
        ]
    })
}
