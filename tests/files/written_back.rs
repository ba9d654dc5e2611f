//! What a person wrote stays as it was when a program writes back: comments, blank lines, the order of keys.

use crate::shared::{CATALOGUE, Person};
use std::fs;
use std::path::Path;

use proptest::collection::vec;
use proptest::prelude::*;
use underover::base::embedded::{CHAINS, SHOWS};
use underover::catalogue::Value;
use underover::edit::{Edit, Named, Spot, Work, WorkError};
use underover::files::{Document, Original, chain_text, parse, show_text};
use underover::show::chain::EffectUse;
use underover::show::{Mix, Scope, Show};

const PICTURE: Scope = Scope::Bundle(0);

/// A show as somebody writes it: keys in an order of their own, defaults written out, whole numbers, what was tried
/// left in as comments, effects under headers at the end.
const HAND: &str = r##"# Friday at the pier.
# Second line of the head.

name = "Pier"           # as on the poster
format = "underover/show/1"
pixels = "encoded-8bit"
tempo_bpm = 174
frame.width = 640
frame.height = 360
# rate = 30

# ---- what lies over everything ----

# a wash, kept low
[[global.effect]]   # the only one
use = "tint"
amount = 0.6 # the default, said on purpose
  colour = "#0072b2"

# ---- the picture ----

[[bundle]]
name = "picture"

  # outlines first
  [[bundle.effect]]
  use = "edge-find"
  gain = 2           # times
  # amount = 0.5

  # then the fold
  [[bundle.effect]]
  fold = "left-over-right"
  use = "mirror"

  # [[bundle.effect]]
  # use = "tint"

  # the shift, last
  [[bundle.effect]]
  use = "channel-offset"
  distance = { period = 8, shape = "sine", low = 0, high = 0.02 }   # breathes

[[bundle.level]]
opacity = 1
name = "sea"
# the swell
[[bundle.level.clip]]
name = "waves"
footage = "generated:waves"

[[control]]
name = "Wash"
hand = "left"
kind = "continuous"
# the tint over everything, by its place
[[control.grip]]
scope = "global"
effect = 1
setting = "amount"
low = 0
high = 1

# the end
"##;

fn original(text: &str) -> Original {
    let document =
        parse(text, "hand.toml", Path::new(""), &CATALOGUE).unwrap_or_else(|e| panic!("{e}\n{text}"));
    Original::new(text, document, Path::new(""), &CATALOGUE)
}

fn show_in(original: &Original) -> Show {
    match original.document() {
        Document::Show(show) => show.clone(),
        Document::Chain(_) => panic!("a chain"),
    }
}

fn spot(scope: Scope, at: usize) -> Spot {
    Spot { scope, at }
}

/// The text with these changes made.
fn changed(text: &str, edits: &[Edit]) -> String {
    let original = original(text);
    let mut show = show_in(&original);
    for edit in edits {
        show = edit.applied(&show).unwrap_or_else(|e| panic!("{edit:?}: {e}")).0;
    }
    let new = original.with(&Document::Show(show.clone()), Path::new("")).unwrap();
    let read = parse(&new, "new.toml", Path::new(""), &CATALOGUE).unwrap_or_else(|e| panic!("{e}\n{new}"));
    assert_eq!(read, Document::Show(show), "{new}");
    new
}

/// The lines that only one of two texts has: with `-` those of the first, with `+` those of the second.
fn differing(old: &str, new: &str) -> Vec<String> {
    let mut rest: Vec<&str> = new.lines().collect();
    let mut lines = Vec::new();
    for line in old.lines() {
        match rest.iter().position(|known| *known == line) {
            Some(at) => drop(rest.remove(at)),
            None => lines.push(format!("-{line}")),
        }
    }
    lines.into_iter().chain(rest.into_iter().map(|line| format!("+{line}"))).collect()
}

/// Checks which lines only one of two texts has, whatever their order.
fn check_differing<const N: usize>(old: &str, new: &str, expected: [&str; N]) {
    let mut found = differing(old, new);
    found.sort();
    let mut expected = expected.map(str::to_owned);
    expected.sort();
    assert_eq!(found, expected, "{new}");
}

fn place(text: &str, of: &str) -> usize {
    text.find(of).unwrap_or_else(|| panic!("no `{of}` in\n{text}"))
}

#[test]
fn what_is_not_changed_is_the_same_to_the_byte() {
    let windows = HAND.replace('\n', "\r\n");
    let marked = format!("\u{feff}{HAND}");
    let texts = CHAINS.iter().chain(SHOWS).map(|(_, text)| *text);
    for text in texts.chain([HAND, &windows, &marked]) {
        let original = original(text);
        assert_eq!(original.with(&original.document().clone(), Path::new("")).unwrap(), text);
    }
}

#[test]
fn a_value_that_is_set_changes_its_line_alone() {
    let gain = Edit::Set { spot: spot(PICTURE, 0), setting: 0, value: Value::Number(3.5) };
    check_differing(
        HAND,
        &changed(HAND, &[gain]),
        ["-  gain = 2           # times", "+  gain = 3.5           # times"],
    );
    // A default that is written out stays a line, set to another value or to the default again.
    let amount = Edit::Set { spot: spot(Scope::Global, 0), setting: 1, value: Value::Number(0.25) };
    let low = changed(HAND, &[amount]);
    check_differing(
        HAND,
        &low,
        ["-amount = 0.6 # the default, said on purpose", "+amount = 0.25 # the default, said on purpose"],
    );
    let back = Edit::Set { spot: spot(Scope::Global, 0), setting: 1, value: Value::Number(0.6) };
    assert_eq!(changed(&low, &[back]), HAND);
    // One that the text lacks gets a line where a new file has it, as far in as its neighbours.
    let colour = Edit::Set { spot: spot(PICTURE, 0), setting: 1, value: Value::Number(0.5) };
    check_differing(HAND, &changed(HAND, &[colour]), ["+  amount = 0.5"]);
    // Dotted keys, switches and names.
    check_differing(
        HAND,
        &changed(HAND, &[Edit::Frame("1280x360".parse().unwrap())]),
        ["-frame.width = 640", "+frame.width = 1280"],
    );
    check_differing(
        HAND,
        &changed(HAND, &[Edit::Switch { spot: spot(PICTURE, 1), on: false }]),
        ["+  on = false"],
    );
    let rename = Edit::Rename { what: Named::Scope(PICTURE), name: "harbour".to_owned() };
    check_differing(HAND, &changed(HAND, &[rename]), ["-name = \"picture\"", "+name = \"harbour\""]);
}

#[test]
fn a_movement_is_changed_inside_its_braces_and_let_go_with_its_comment_left() {
    let still = Edit::Set { spot: spot(PICTURE, 2), setting: 0, value: Value::Number(0.01) };
    check_differing(
        HAND,
        &changed(HAND, &[still]),
        [
            "-  distance = { period = 8, shape = \"sine\", low = 0, high = 0.02 }   # breathes",
            "+  distance = 0.01   # breathes",
        ],
    );
}

#[test]
fn an_effect_that_moves_takes_its_comments_along() {
    let new = changed(HAND, &[Edit::Order { scope: PICTURE, order: vec![2, 0, 1] }]);
    check_differing(HAND, &new, ["+  mark = 1", "+  mark = 2", "+  mark = 3"]);
    let places = ["# the shift, last", "# breathes", "# outlines first", "# amount = 0.5", "# then the fold"];
    assert!(places.map(|of| place(&new, of)).is_sorted(), "{new}");
    // What stands between blank lines stays where it stood.
    assert!(place(&new, "# ---- the picture ----") < place(&new, "# the shift, last"), "{new}");
    // To another scope.
    let new = changed(HAND, &[Edit::Move { from: spot(PICTURE, 1), into: spot(Scope::Global, 0) }]);
    check_differing(
        HAND,
        &new,
        [
            "-  [[bundle.effect]]",
            "+  [[global.effect]]",
            "-effect = 1",
            "+effect = 2",
            "+  mark = 2",
            "+mark = 1",
            "+  mark = 3",
        ],
    );
    assert!(place(&new, "# then the fold") < place(&new, "# a wash, kept low"), "{new}");
}

#[test]
fn an_effect_that_is_removed_takes_its_comments_away_and_no_others() {
    let new = changed(HAND, &[Edit::Remove(spot(PICTURE, 0))]);
    check_differing(
        HAND,
        &new,
        [
            "+  mark = 2",
            "+  mark = 3",
            "-",
            "-  # outlines first",
            "-  [[bundle.effect]]",
            "-  use = \"edge-find\"",
            "-  gain = 2           # times",
            "-  # amount = 0.5",
        ],
    );
    let new = changed(HAND, &[Edit::Remove(spot(PICTURE, 2))]);
    assert!(!new.contains("the shift") && new.contains("# [[bundle.effect]]"), "{new}");
    assert!(new.ends_with("\n# the end\n"), "{new}");
}

#[test]
fn something_new_stands_where_a_new_file_has_it() {
    let tint = EffectUse::new(CATALOGUE.effect("tint").unwrap().clone());
    let new = changed(HAND, &[Edit::Add { into: spot(PICTURE, 1), used: Box::new(tint) }]);
    let marks = ["+  mark = 2", "+  mark = 3", "+mark = 4"];
    check_differing(HAND, &new, ["+", marks[0], marks[1], "+[[bundle.effect]]", marks[2], "+use = \"tint\""]);
    assert!(place(&new, "gain = 2") < place(&new, "\n[[bundle.effect]]"), "{new}");
    assert!(place(&new, "\n[[bundle.effect]]") < place(&new, "# then the fold"), "{new}");
}

#[test]
fn lists_of_tables_within_a_line_are_changed_there() {
    let text = "format = \"underover/show/1\"\nname = \"x\"\n[[bundle]]\nname = \"a\"\neffect = [\n  { use = \"tint\" }, # one\n  # two\n  { use = \"mirror\", fold = \"top-over-bottom\" },\n]\n[[bundle.level]]\nname = \"l\"\nclip = [{ name = \"c\", footage = \"generated:waves\" }]\n";
    let new = changed(text, &[Edit::Switch { spot: spot(PICTURE, 1), on: false }]);
    assert!(new.contains("# one") && new.contains("# two") && new.contains("effect = ["), "{new}");
    let new = changed(text, &[Edit::Remove(spot(PICTURE, 0))]);
    assert!(!new.contains("tint") && new.contains("mirror"), "{new}");
}

#[test]
fn a_chain_taken_out_of_a_show_keeps_the_comments_of_its_effects() {
    let original = original(HAND);
    let show = show_in(&original);
    let preset = underover::show::chain::Preset {
        name: "Pier lines".to_owned(),
        about: String::new(),
        tags: Vec::new(),
        chain: show.chain(PICTURE).iter().rev().cloned().collect(),
        controls: Vec::new(),
    };
    let text = original.of_scope(PICTURE).unwrap().with(&Document::Chain(preset), Path::new("")).unwrap();
    assert!(text.starts_with("format = \"underover/chain/1\"\nname = \"Pier lines\"\n"), "{text}");
    let places = ["# the shift, last", "# then the fold", "# outlines first", "# times", "# amount = 0.5"];
    assert!(places.map(|of| place(&text, of)).is_sorted(), "{text}");
    assert!(!text.contains("a wash") && !text.contains("----"), "{text}");
}

#[test]
fn work_saved_and_undone_and_saved_again_is_the_file_as_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("pier.toml");
    fs::write(&path, HAND).unwrap();
    let mut work = Work::open(&path, &CATALOGUE).unwrap();
    work.apply(&Edit::Remove(spot(PICTURE, 0))).unwrap();
    work.save().unwrap();
    assert!(!fs::read_to_string(&path).unwrap().contains("outlines first"));
    work.undo();
    work.save().unwrap();
    assert_eq!(fs::read_to_string(&path).unwrap(), HAND);
}

#[test]
fn work_is_not_written_over_what_another_program_wrote_meanwhile() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("pier.toml");
    fs::write(&path, HAND).unwrap();
    let mut work = Work::open(&path, &CATALOGUE).unwrap();
    work.apply(&Edit::Tempo(90.0)).unwrap();
    let theirs = HAND.replace("Pier", "Theirs");
    fs::write(&path, &theirs).unwrap();
    let error = work.save().unwrap_err();
    assert!(matches!(error, WorkError::Changed(_)), "{error}");
    assert!(error.to_string().contains("another program"), "{error}");
    assert_eq!(fs::read_to_string(&path).unwrap(), theirs);
    assert!(work.is_changed());
    work.save_as(&folder.path().join("mine.toml")).unwrap();
    assert_eq!(fs::read_to_string(&path).unwrap(), theirs);
    work.replace(&path).unwrap();
    assert!(fs::read_to_string(&path).unwrap().contains("tempo_bpm = 90.0"));
}

#[test]
fn commands_that_write_a_show_back_keep_what_was_written_by_hand() {
    let person = Person::new();
    let at = |name: &str| person.path(name);
    fs::write(at("pier.toml"), HAND).unwrap();
    fs::write(
        at("chain.toml"),
        "format = \"underover/chain/1\"\nname = \"Lamps\"\n# warm\n[[effect]]\nuse = \"tint\" # lamp\n",
    )
    .unwrap();
    let run = |words: &[&str]| drop(person.right(words));
    let mut put = vec!["library", "put", "chain.toml", "--on", "bundle:picture", "--way", "over"];
    put.extend(["--show", "pier.toml", "--out", "pier.toml"]);
    run(&put);
    let text = fs::read_to_string(at("pier.toml")).unwrap();
    let gone: Vec<String> = differing(HAND, &text).into_iter().filter(|line| line.starts_with('-')).collect();
    assert!(gone.is_empty(), "{gone:?}\n{text}");
    assert!(place(&text, "# the shift, last") < text.rfind("use = \"tint\"\n").unwrap(), "{text}");
    // A bundle of another show.
    run(&[
        "starters",
        "bring",
        "preset:night-ferry",
        "--what",
        "bundle:signs",
        "--into",
        "pier.toml",
        "--out",
        "with-signs.toml",
    ]);
    let text = fs::read_to_string(at("with-signs.toml")).unwrap();
    assert!(text.contains("name = \"signs\"") && text.contains("# ---- the picture ----"), "{text}");
    // A chain kept in the library, and a copy of it.
    run(&["library", "keep", "chain.toml", "--name", "Lamps too"]);
    run(&["library", "duplicate", "lamps-too", "--name", "Lamps three"]);
    for name in ["lamps-too", "lamps-three"] {
        let text = fs::read_to_string(at(&format!("data/chains/{name}.toml"))).unwrap();
        assert!(text.contains("# warm\n[[effect]]\nuse = \"tint\" # lamp\n"), "{text}");
    }
}

/// A text with comments and blank lines put in, and the keys of each table in another order.
fn scribbled(text: &str, seeds: &[u8]) -> String {
    let mut seeds = seeds.iter().copied().cycle();
    let mut next = || seeds.next().unwrap_or(0);
    let mut out = String::new();
    let mut number = 0;
    let mut keys: Vec<String> = Vec::new();
    for line in text.lines().chain(["[end]"]) {
        if line.contains(" = ") && !line.starts_with('[') {
            keys.push(line.to_owned());
            continue;
        }
        if line.is_empty() && next() % 3 == 0 {
            continue;
        }
        while !keys.is_empty() {
            let key = keys.remove(usize::from(next()) % keys.len());
            number += 1;
            match next() % 5 {
                0 => out += &format!("# over {number}.\n{key}\n"),
                1 => out += &format!("{key}   # behind {number}.\n"),
                2 => out += &format!("\n  {key}\n# under {number}.\n"),
                _ => out += &format!("{key}\n"),
            }
        }
        number += 1;
        match next() % 4 {
            0 if line.starts_with("[[") => out += &format!("# header {number}.\n{line} # beside {number}.\n"),
            1 if line.starts_with("[[") => out += &format!("\n# standing {number}.\n\n{line}\n"),
            _ => out += &format!("{line}\n"),
        }
    }
    out.replace("[end]\n", &format!("# end {number}.\n"))
}

/// An edit of a show, if one fits; one that takes nothing away where `keeps` is set.
fn some_edit(show: &Show, [kind, a, b, c]: [u8; 4], keeps: bool) -> Edit {
    let scopes = show.scopes();
    let pick = |n: u8| scopes[usize::from(n) % scopes.len()];
    let within = |n: u8, scope: Scope| spot(scope, usize::from(n) % show.chain(scope).len().max(1));
    let (from, into) = (pick(a), pick(b));
    let value = Value::Number(f64::from(c % 5) / 8.0);
    match kind % if keeps { 9 } else { 14 } {
        0 | 1 => Edit::Move { from: within(c, from), into: within(c / 7, into) },
        2 => Edit::Order { scope: from, order: (0..show.chain(from).len()).rev().collect() },
        3 => Edit::Set { spot: within(b, from), setting: usize::from(c) % 2, value },
        4 => Edit::Rename { what: Named::Scope(from), name: format!("called {c}") },
        5 => Edit::Rename { what: Named::Effect(within(c, from)), name: format!("lamp {b}") },
        6 => Edit::Switch { spot: within(b, from), on: c % 2 == 0 },
        7 => Edit::Tempo(60.0 + f64::from(c)),
        8 => Edit::Mix { scope: from, mix: Mix { opacity: f64::from(c % 4) / 4.0, ..Mix::default() } },
        9 => Edit::Remove(within(b, from)),
        10 => Edit::Duplicate(within(b, from)),
        11 => Edit::Drop(from),
        12 => Edit::Chain { scope: from, chain: show.chain(into).clone(), name: "x".to_owned() },
        _ => {
            let effects = CATALOGUE.effects();
            let used = EffectUse::new(effects[usize::from(c) % effects.len()].clone());
            Edit::Add { into: within(b, from), used: Box::new(used) }
        }
    }
}

fn comments(text: &str) -> Vec<String> {
    let marks = ["over", "behind", "under", "header", "beside", "standing", "end"];
    let found = text.match_indices("# ").map(|(at, _)| &text[at..]);
    let is_one = |text: &&str| {
        let rest = marks.iter().find_map(|mark| text[2..].strip_prefix(mark)?.strip_prefix(' '));
        rest.is_some_and(|rest| rest.starts_with(|c: char| c.is_ascii_digit()))
    };
    let found = found.filter(is_one);
    let mut found: Vec<String> = found.filter_map(|text| Some(text[..=text.find('.')?].to_owned())).collect();
    found.sort();
    found
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(192) })]

    #[test]
    fn a_text_written_back_says_what_a_new_file_would_say(
        which in 0..SHOWS.len() + 1,
        seeds in vec(any::<u8>(), 40),
        steps in vec(any::<[u8; 4]>(), 1..8),
        keeps in any::<bool>(),
    ) {
        let text = SHOWS.get(which).map_or(HAND.to_owned(), |(_, text)| scribbled(text, &seeds));
        let original = original(&text);
        let mut show = show_in(&original);
        for step in steps {
            let edit = some_edit(&show, step, keeps);
            if let Ok((next, _)) = edit.applied(&show) {
                show = next;
            }
        }
        let plain = show_text(&show, Path::new(""));
        let new = original.with(&Document::Show(show), Path::new(""));
        prop_assert!(new.is_ok(), "{}\n-----\n{}", text, plain);
        let new = new.unwrap();
        let read = |text: &str| parse(text, "x.toml", Path::new(""), &CATALOGUE).map_err(|error| error.to_string());
        prop_assert_eq!(read(&new), read(&plain), "{}", new);
        if keeps {
            prop_assert_eq!(comments(&new), comments(&text), "{}\n-----\n{}", text, new);
        }
        // Written back once more it stays.
        let again = self::original(&new);
        prop_assert_eq!(again.with(&again.document().clone(), Path::new("")).unwrap(), new);
    }

    #[test]
    fn a_chain_written_back_says_what_a_new_file_would_say(
        which in 0..CHAINS.len(),
        seeds in vec(any::<u8>(), 40),
        picks in vec(any::<u8>(), 0..7),
    ) {
        let text = scribbled(CHAINS[which].1, &seeds);
        let original = original(&text);
        let Document::Chain(mut preset) = original.document().clone() else { panic!("a show") };
        if !preset.chain.is_empty() {
            preset.chain = picks.iter().map(|n| preset.chain[usize::from(*n) % preset.chain.len()].clone()).collect();
            // No two have one mark.
            preset.chain.iter_mut().for_each(|used| used.mark = None);
        }
        let new = original.with(&Document::Chain(preset.clone()), Path::new(""));
        prop_assert!(new.is_ok(), "{}\n-----\n{}", text, chain_text(&preset));
        let new = new.unwrap();
        prop_assert_eq!(parse(&new, "x.toml", Path::new(""), &CATALOGUE).unwrap(), Document::Chain(preset), "{}", new);
    }
}
