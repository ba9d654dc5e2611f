//! What files hold, key by key: the readers and the JSON Schema that `underover format` prints agree. The schema is
//! held against files by the `jsonschema` crate, a reference of its own.

use std::path::Path;

use jsonschema::Validator;
use toml::Value;
use underover::base::embedded::{CHAINS, LESSONS, SHOWS, STARTERS};
use underover::files::keys::{CHAIN, Group, SHOW, STARTER, schema};
use underover::files::parse;
use underover::lessons::{LESSON, parse_lesson};
use underover::window::{Edge, PREFERENCES, Preferences};

use crate::shared::{CATALOGUE, Person};

fn validator(group: &'static Group) -> Validator {
    let schema = schema(group, &CATALOGUE);
    jsonschema::meta::validate(&schema).unwrap();
    jsonschema::validator_for(&schema).unwrap()
}

fn read(group: &Group, text: &str) -> Result<(), String> {
    let (name, folder) = ("ferry.toml", Path::new("shows"));
    match group.name {
        "lesson" => parse_lesson(text, name, folder, &CATALOGUE).map(|_| ()),
        _ => parse(text, name, folder, &CATALOGUE).map(|_| ()),
    }
    .map_err(|error| error.to_string())
}

/// A show with sections, written in every way.
const NIGHT: &str = r##"format = "underover/show/1"
name = "Night"
running_order = ["casting off", "open water", "casting off"]

[[bundle]]
name = "picture"
[[bundle.level]]
name = "sea"
[[bundle.level.clip]]
name = "waves"
footage = "generated:waves"
[[bundle.level.clip]]
name = "none"
footage = "generated:harbour"
[[bundle.level.effect]]
use = "tint"

[[control]]
name = "glow"
hand = "left"
kind = "continuous"

[[section]]
name = "casting off"
beats = 32
colour = "sky-blue"
note = "signs off"
fade = 4.0
shows = { "picture/sea" = "clip:none" }
opacity = { "picture/sea" = 0.4, "picture" = 1 }
chains = { "bundle:picture" = "library:amber", "global" = "preset:lamp-lines" }
effects = { "level:picture/sea" = { tint = false } }
controls = { glow = 0.5 }

[[section]]
name = "open water"
colour = "#102030"
[section.shows]
"picture/sea" = "none"
"##;

/// Every file that travels with the program, with what it holds, and a show with sections.
fn presets() -> Vec<(&'static Group, &'static str, &'static str)> {
    let of = |group: &'static Group, all: &'static [(&'static str, &'static str)]| {
        all.iter().map(move |&(name, text)| (group, name, text))
    };
    of(&CHAIN, CHAINS)
        .chain(of(&SHOW, SHOWS))
        .chain(of(&STARTER, STARTERS))
        .chain(of(&LESSON, LESSONS))
        .chain(of(&SHOW, &[("night", NIGHT); 4]))
        .collect()
}

fn json(value: &Value) -> serde_json::Value {
    serde_json::to_value(value).unwrap()
}

#[test]
fn every_file_that_travels_with_the_program_fits_its_schema() {
    let all = presets();
    assert!(all.len() >= 20, "{}", all.len());
    for (group, name, text) in all {
        read(group, text).unwrap_or_else(|error| panic!("{name}: {error}"));
        let value: Value = text.parse::<toml::Table>().unwrap().into();
        let errors: Vec<String> = validator(group)
            .iter_errors(&json(&value))
            .map(|e| format!("{}: {e}", e.instance_path()))
            .collect();
        assert!(errors.is_empty(), "{name}: {}", errors.join("\n"));
    }
}

/// Numbers that follow each other by the constants of Numerical Recipes (from memory), the same on every machine.
struct Lot(u32);

impl Lot {
    fn below(&mut self, count: usize) -> usize {
        self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (self.0 >> 8) as usize % count
    }
}

/// The ways to every value, by keys and places.
fn ways(value: &Value, way: &mut Vec<String>, all: &mut Vec<Vec<String>>) {
    all.push(way.clone());
    let inner: Vec<(String, &Value)> = match value {
        Value::Table(table) => table.iter().map(|(key, value)| (key.clone(), value)).collect(),
        Value::Array(list) => list.iter().enumerate().map(|(at, value)| (at.to_string(), value)).collect(),
        _ => Vec::new(),
    };
    for (step, value) in inner {
        way.push(step);
        ways(value, way, all);
        way.pop();
    }
}

fn at<'v>(value: &'v mut Value, way: &[String]) -> &'v mut Value {
    way.iter().fold(value, |value, step| match value {
        Value::Array(list) => &mut list[step.parse::<usize>().unwrap()],
        value => &mut value[step.as_str()],
    })
}

/// Does something wrong to a file; nothing where that place has nothing to damage so.
fn damaged(file: &Value, way: &[String], kind: usize) -> Option<Value> {
    let mut file = file.clone();
    let key = way.last().map(String::as_str).unwrap_or_default();
    let place = at(&mut file, way);
    match (kind, &place) {
        // A key that is none.
        (0, Value::Table(_)) => {
            place.as_table_mut().unwrap().insert("tidal-range".to_owned(), Value::Integer(3));
        }
        // A key that has to be there is not.
        (1, Value::Table(table)) => {
            let needed =
                ["name", "use", "format", "footage", "shape", "hand", "kind", "width", "title", "says"];
            let gone = needed.into_iter().find(|key| table.contains_key(*key))?;
            place.as_table_mut().unwrap().remove(gone);
        }
        // A value of another type.
        (2, Value::Float(_) | Value::Integer(_)) => *place = Value::Array(Vec::new()),
        (2, Value::String(_)) => *place = Value::Boolean(true),
        (2, Value::Boolean(_)) => *place = Value::String("yes".to_owned()),
        (2, Value::Table(_)) if !way.is_empty() => *place = Value::Integer(3),
        (2, Value::Array(_)) => *place = Value::Boolean(false),
        // A number far outside.
        (3, Value::Float(_) | Value::Integer(_)) => *place = Value::Float(-1e12),
        // A word that is none of those allowed.
        (4, Value::String(_))
            if ["format", "use", "blend", "pixels", "hand", "kind", "shape", "fold", "at_end", "curve"]
                .contains(&key) =>
        {
            *place = Value::String("tidal".to_owned());
        }
        // A list without anything.
        (5, Value::Array(_)) if ["bundle", "level", "clip", "picture", "claim", "choice"].contains(&key) => {
            *place = Value::Array(Vec::new());
        }
        _ => return None,
    }
    Some(file)
}

/// Whether what is allowed there hangs on another place of the file, which a schema does not look at.
fn hangs_on_another(way: &[String]) -> bool {
    let others =
        ["grip", "claim", "order", "showing", "running_order", "shows", "chains", "effects", "controls"];
    way.iter().any(|step| others.contains(&step.as_str()))
        || way.iter().any(|step| step == "section") && way.last().is_some_and(|step| step == "opacity")
}

#[test]
fn the_readers_and_the_schemas_agree_on_what_is_damaged() {
    let files: Vec<(&Group, &str, Value, Validator)> = presets()
        .into_iter()
        .map(|(group, name, text)| {
            (group, name, text.parse::<toml::Table>().unwrap().into(), validator(group))
        })
        .collect();
    let mut lot = Lot(1);
    let (mut tried, mut refused) = (0, [0; 6]);
    while tried < 600 {
        let (group, name, file, validator) = &files[lot.below(files.len())];
        let mut all = Vec::new();
        ways(file, &mut Vec::new(), &mut all);
        let way = &all[lot.below(all.len())];
        let kind = lot.below(6);
        if hangs_on_another(way) {
            continue;
        }
        let Some(damaged) = damaged(file, way, kind) else { continue };
        tried += 1;
        let reader = read(group, &toml::to_string(&damaged).unwrap());
        let fits = validator.is_valid(&json(&damaged));
        assert_eq!(reader.is_ok(), fits, "{name}, {}, damage {kind}: {reader:?}", way.join("."));
        refused[kind] += usize::from(!fits);
    }
    assert!(refused.iter().sum::<usize>() >= 500, "{refused:?}");
    assert!(refused.iter().all(|&count| count > 2), "each kind of damage is met: {refused:?}");
}

#[test]
fn each_shape_takes_the_same_keys_of_a_reader_as_of_the_schema() {
    let validator = validator(&CHAIN);
    let shapes = ["sine", "triangle", "ramp", "square", "steps", "random", "envelope"];
    let whole = |shape: &str| match shape {
        "steps" => "period = 4.0, values = [0.0, 1.0]",
        "envelope" => "every = 4.0, decay = 0.5, low = 0.0, high = 1.0",
        _ => "period = 4.0, low = 0.0, high = 1.0",
    };
    let more = [
        "phase = 0.5",
        "seed = 3",
        "attack = 1.0",
        "hold = 1.0",
        "decay = 1.0",
        "offset = 1.0",
        "at = [0.0]",
        "control = \"lamp\"",
        "values = [0.0, 1.0]",
        "low = 0.0",
        "period = 2.0",
        "tidal = 1",
        "every = 2.0",
    ];
    let mut taken = 0;
    for shape in shapes {
        for more in [""].into_iter().chain(more) {
            let (whole, comma) = (whole(shape), if more.is_empty() { "" } else { ", " });
            if !more.is_empty() && whole.contains(more.split(' ').next().unwrap()) {
                continue;
            }
            let text = format!(
                "format = \"underover/chain/1\"\nname = \"Lamps\"\n[[effect]]\nuse = \"tint\"\namount = {{ shape = \"{shape}\", {whole}{comma}{more} }}\n"
            );
            let value: Value = text.parse::<toml::Table>().unwrap().into();
            let reader = read(&CHAIN, &text);
            assert_eq!(reader.is_ok(), validator.is_valid(&json(&value)), "{text}: {reader:?}");
            taken += usize::from(reader.is_ok());
        }
    }
    assert!(taken > 15, "{taken}");
}

#[test]
fn a_person_reads_every_key_and_has_a_schema_written() {
    let person = Person::new();
    for kind in ["show", "chain", "starter", "lesson", "preferences"] {
        let (code, text, error) = person.run(&["format", kind]);
        assert_eq!((code, error.as_str()), (0, ""), "{kind}");
        assert!(text.starts_with(&format!("A {kind} file.")), "{text}");
        assert!(text.contains("left out: "), "{text}");
        let (code, said, error) =
            person.run(&["format", kind, "--schema", "--json", &format!("{kind}.json")]);
        assert_eq!(code, 0, "{said}{error}");
        let written = std::fs::read_to_string(person.path(&format!("{kind}.json"))).unwrap();
        let schema: serde_json::Value = serde_json::from_str(&written).unwrap();
        assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema");
        let printed = person.run(&["format", kind, "--schema"]).1;
        assert_eq!(serde_json::from_str::<serde_json::Value>(&printed).unwrap(), schema);
    }
    let (_, text, _) = person.run(&["format", "show"]);
    for key in ["tempo_bpm", "loop_beats", "opacity", "hidden", "colour", "grip", "envelope"] {
        assert!(text.contains(key), "{key} is in no line of\n{text}");
    }
    assert!(!text.contains("taken"), "what the program writes for itself is not offered:\n{text}");
    let (code, _, error) = person.run(&["format", "shwo"]);
    assert_eq!(code, 2);
    assert!(error.contains("show"), "{error}");
}

/// The schemas that editors find beside the presets.
#[test]
fn every_preset_opens_with_the_line_that_leads_an_editor_to_a_schema_that_is_there_and_fits_it() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("presets");
    let mut found = 0;
    for (folder, group) in
        [("shows", &SHOW), ("chains", &CHAIN), ("starters", &STARTER), ("lessons", &LESSON)]
    {
        let own = root.join(format!("schemas/{}.schema.json", group.name));
        let written: serde_json::Value =
            serde_json::from_str(&std::fs::read_to_string(&own).unwrap()).unwrap();
        let how = format!(
            "write it anew: underover format {0} --schema --json presets/schemas/{0}.schema.json --replace",
            group.name
        );
        assert!(written == schema(group, &CATALOGUE), "{}: {how}", own.display());
        let validator = jsonschema::validator_for(&written).unwrap();
        for file in std::fs::read_dir(root.join(folder)).unwrap() {
            let file = file.unwrap().path();
            let text = std::fs::read_to_string(&file).unwrap();
            // The line that language servers for TOML know: `#:schema`, and a path from the file itself.
            let line = text.lines().next().unwrap();
            let place =
                line.strip_prefix("#:schema ").unwrap_or_else(|| panic!("{}: {line}", file.display()));
            assert_eq!(
                file.parent().unwrap().join(place).canonicalize().unwrap(),
                own.canonicalize().unwrap()
            );
            let value: Value = text.parse::<toml::Table>().unwrap().into();
            assert!(validator.is_valid(&json(&value)), "{}", file.display());
            found += 1;
        }
    }
    assert!(found >= 20, "{found}");
    // What a person saves of one has no schema beside it, and does not say so.
    for (name, text) in SHOWS.iter().chain(CHAINS).chain(STARTERS).chain(LESSONS) {
        assert!(text.starts_with("format = "), "{name}");
    }
}

#[test]
fn the_preferences_that_the_window_keeps_fit_their_schema() {
    let folder = tempfile::tempdir().unwrap();
    let mut kept = Preferences { text_percent: 140, hides_structure: true, ..Preferences::default() };
    kept.sizes.set(Edge::Beside, Some(512));
    for preferences in [kept, Preferences::default()] {
        preferences.keep(folder.path()).unwrap();
        let text = std::fs::read_to_string(folder.path().join("preferences.toml")).unwrap();
        let value: Value = text.parse::<toml::Table>().unwrap().into();
        assert!(validator(&PREFERENCES).is_valid(&json(&value)), "{text}");
    }
    for wrong in ["theme = \"blue\"", "text_percent = 4000", "structure = 1", "beside_points = 0"] {
        let value: Value = wrong.parse::<toml::Table>().unwrap().into();
        assert!(!validator(&PREFERENCES).is_valid(&json(&value)), "{wrong}");
        std::fs::write(folder.path().join("preferences.toml"), wrong).unwrap();
        assert!(Preferences::read(Some(folder.path())).1.is_some(), "{wrong}");
    }
}

/// The words of a line of a shell, of which those in quotes are one.
fn words(line: &str) -> Vec<String> {
    let parts = line.split('"').enumerate();
    parts
        .flat_map(|(nth, part)| match nth % 2 {
            0 => part.split_whitespace().map(str::to_owned).collect::<Vec<_>>(),
            _ => vec![part.to_owned()],
        })
        .collect()
}

#[test]
fn the_page_on_a_show_file_from_nothing_does_what_it_says_line_by_line() {
    let page = include_str!("../../presets/a-show-file-from-nothing.md");
    let person = Person::new();
    let (mut typed, mut given) = (0, 0);
    for block in page.split("```").skip(1).step_by(2) {
        let (kind, text) = block.split_once('\n').unwrap();
        if kind == "toml" {
            let file = person.path("quay.toml");
            let before = std::fs::read_to_string(&file).unwrap_or_default();
            std::fs::write(file, format!("{before}\n{text}")).unwrap();
            typed += 1;
            continue;
        }
        assert_eq!(kind, "sh");
        for line in text.lines() {
            let words = words(line);
            let words: Vec<&str> = words.iter().map(String::as_str).collect();
            assert_eq!(words[0], "underover");
            person.right(&words[1..]);
            given += 1;
        }
    }
    assert!(typed >= 5 && given >= 8, "{typed} {given}");
    for name in ["quay.png", "orders.json", "water.png", "between.png", "quay.txt"] {
        assert!(person.path(name).exists(), "{name}");
    }
    let sheet = std::fs::read_to_string(person.path("quay.txt")).unwrap();
    assert!(
        sheet.contains("edge-find off on bundle:picture") && sheet.contains("control glow at 0.75"),
        "{sheet}"
    );
}
