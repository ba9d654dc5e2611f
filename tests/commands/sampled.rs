//! Orders drawn at random and effects pinned, as a person asks for them, and a first answer before all is looked at.

use std::fs;
use std::io::{BufRead, BufReader, Read};
use std::process::Stdio;

use serde_json::Value as Json;

use crate::shared::Person;

/// Ten effects of which most pairs show.
const TEN: [&str; 10] = [
    "tint",
    "flash-gate",
    "edge-find",
    "channel-offset",
    "mirror",
    "posterise",
    "blur",
    "hue-turn",
    "mosaic",
    "gain-and-lift",
];

fn chain(effects: &[&str]) -> String {
    let mut text = "format = \"underover/chain/1\"\nname = \"Long\"\n".to_owned();
    for effect in effects {
        text += &format!("\n[[effect]]\nuse = \"{effect}\"\n");
        text += if *effect == "flash-gate" { "strength = 0.35\n" } else { "" };
    }
    text
}

/// Somebody with a chain of ten effects, one of five, and one of eight.
fn somebody() -> Person {
    let person = Person::new();
    for (name, count) in [("ten.toml", 10), ("five.toml", 5), ("eight.toml", 8)] {
        fs::write(person.path(name), chain(&TEN[..count])).unwrap();
    }
    person
}

const SMALL: [&str; 6] = ["--footage", "generated:harbour", "--at", "0.1", "--frame", "32x18"];

fn figures(person: &Person, words: &[&str]) -> Json {
    let words: Vec<&str> =
        [&["orders"], words, &SMALL, &["--json", "-"]].into_iter().flatten().copied().collect();
    serde_json::from_str(&person.right(&words)).unwrap()
}

fn text(person: &Person, words: &[&str]) -> String {
    person.right(&[&["orders"], words, &SMALL].into_iter().flatten().copied().collect::<Vec<_>>())
}

fn sum(list: &Json, key: &str) -> u64 {
    list.as_array().unwrap().iter().map(|one| one[key].as_u64().unwrap()).sum()
}

#[test]
fn a_chain_of_ten_effects_is_sampled_and_every_answer_says_so() {
    let person = somebody();
    let words = ["ten.toml", "--sample", "80", "--seed", "3"];
    let found = figures(&person, &words);
    assert_eq!(found["explored"], "sampled");
    assert_eq!((&found["orders_drawn"], &found["seed"]), (&80.into(), &3.into()));
    assert_eq!(found["orders_total"], 3_628_800);
    assert_eq!(sum(&found["families"], "drawn"), 80);
    assert_eq!(sum(&found["order"], "drawn"), 80);
    assert!(found["families"][0].get("orders").is_none(), "no count of all orders is claimed");
    let facts = found["facts"].as_array().unwrap();
    assert_eq!(facts.len(), 45);
    let errors: Vec<f64> = facts.iter().map(|fact| fact["share_error"].as_f64().unwrap()).collect();
    assert!(errors[0] > 0.005 && errors.iter().all(|error| *error < 0.2), "{errors:?}");
    assert!(found["explained_error"].as_f64().unwrap() > 0.0);
    assert_eq!(found, figures(&person, &words), "one seed draws the same orders");

    let said = text(&person, &["ten.toml", "--sample", "80", "--seed", "3", "--rules"]);
    let opening = said.lines().next().unwrap();
    assert!(opening.contains(" about ") && opening.ends_with(", sampled."), "{opening}");
    assert!(opening.contains(" (\u{b1} "), "{opening}");
    assert!(said.contains("\n3,628,800 orders; sampled: of 80 drawn at random "), "{said}");
    assert!(said.contains("Sampled: 80 of 3,628,800 orders, each as likely as any other (seed 3)"), "{said}");
    assert!(said.contains(" orders drawn, such as "), "{said}");
    assert!(said.contains("Which look you get among the orders drawn"), "{said}");

    let other = text(&person, &["ten.toml", "--sample", "80", "--seed", "4"]);
    assert!(other.contains("(seed 4)") && other != said);
}

#[test]
fn a_sample_of_five_effects_comes_near_to_what_every_order_tells() {
    let person = somebody();
    let all = figures(&person, &["five.toml"]);
    assert_eq!(all["explored"], "in full");
    assert!(all["facts"][0].get("share_error").is_none() && all.get("seed").is_none());
    let sampled = figures(&person, &["five.toml", "--sample", "119"]);
    assert_eq!(sampled["explored"], "sampled");
    for fact in sampled["facts"].as_array().unwrap() {
        let same = |other: &&Json| other["under"] == fact["under"] && other["over"] == fact["over"];
        let exact = all["facts"].as_array().unwrap().iter().find(same).unwrap()["share"].as_f64().unwrap();
        let (share, error) = (fact["share"].as_f64().unwrap(), fact["share_error"].as_f64().unwrap());
        // One seed: the figure stays as it is. Beyond four standard errors once in sixteen thousand.
        assert!((share - exact).abs() <= 4.0 * error + 0.01, "{fact}: of all orders {exact}");
    }
    let (_, out, said) = person.run(&[&["orders", "five.toml", "--sample", "120"], &SMALL[..]].concat());
    assert!(said.contains("--sample 120: 120 orders in all, so every one is looked at"), "{said}");
    assert!(!out.contains("ampled"), "{out}");
}

#[test]
fn pinned_effects_keep_their_places_and_the_rest_is_explored_in_full() {
    let person = somebody();
    let found = figures(&person, &["ten.toml", "--pin", "1,blur,3,10,5"]);
    assert_eq!(found["explored"], "in full");
    assert_eq!(
        (&found["orders_total"], &found["pinned"]),
        (&120.into(), &serde_json::json!([1, 3, 5, 7, 10]))
    );
    assert_eq!(sum(&found["order"], "orders"), 120);
    assert_eq!(sum(&found["families"], "orders"), 120);
    for order in found["order"].as_array().unwrap() {
        let marks: Vec<&str> = order["code"].as_str().unwrap().split('.').collect();
        for mark in [1, 3, 5, 7, 10] {
            assert_eq!(marks[mark - 1], mark.to_string(), "{marks:?}");
        }
    }
    let said = text(&person, &["five.toml", "--pin", "1,2"]);
    assert!(said.contains("\n6 orders that keep tint (1) and flash-gate (2) in their places, "), "{said}");
    assert!(said.contains("with tint (1) and flash-gate (2) in their places"), "{said}");
    // Nine are left to vary.
    let said = text(&person, &["ten.toml", "--pin", "4", "--sample", "30"]);
    assert!(
        said.contains("\n362,880 orders that keep channel-offset (4) in its place; sampled: of 30 drawn"),
        "{said}"
    );
}

#[test]
fn what_cannot_be_pinned_or_drawn_is_told_with_what_would_be_right() {
    let person = somebody();
    for (words, said) in [
        (&["--pin", "9"][..], "--pin 9: the chain has no effect `9` (it has 1 tint, 2 flash-gate, "),
        (&["--pin", "1,tint"], "--pin 1,tint: `tint` is named twice"),
        (
            &["--pin", "1,,2"],
            "--pin 1,,2: marks or names of effects are wanted, set apart by commas, such as 1,2",
        ),
        (&["--pin", ""], "marks or names of effects are wanted"),
        (
            &["--pin", "1,2,3,4,5"],
            "every effect is pinned, so there is no other order; leave at least two to vary",
        ),
        (
            &["--pin", "1,2,3,4"],
            "only `mirror` is left to vary, so there is no other order; leave at least two",
        ),
        (
            &["--seed", "4"],
            "--seed 4: no order is drawn at random, as every order of up to 8 effects is looked at; add --sample N",
        ),
        (&["--sample", "3"], "a whole number from 20 to 20000 is wanted"),
        (&["--sample", "many"], "a whole number from 20 to 20000 is wanted"),
    ] {
        let (code, out, err) = person.run(&[&["orders", "five.toml"], words].concat());
        assert_eq!((code, out.as_str()), (2, ""), "{words:?}: {err}");
        assert!(err.contains(said), "{words:?}: {err}");
    }
}

#[test]
fn several_pieces_of_footage_and_moments_are_sampled_alike() {
    let person = somebody();
    let words = ["orders", "ten.toml", "--at", "0.1", "--frame", "24x14", "--sample", "25"];
    let pieces = person.right(&[&words[..], &["--footage", "generated:waves", "generated:harbour"]].concat());
    assert!(pieces.contains("sampled: of 25 drawn") && pieces.contains("on these 2 pieces, "), "{pieces}");
    assert!(pieces.contains("each by itself (sampled; "), "{pieces}");
    let over =
        person.right(&[&words[..], &["--footage", "generated:waves", "--over", "1", "--rate", "6"]].concat());
    assert!(over.contains("sampled: of 25 drawn") && over.contains("over 1 beat"), "{over}");
}

#[cfg(unix)]
#[test]
fn ctrl_c_keeps_to_what_the_first_sample_tells() {
    let person = somebody();
    let words = ["orders", "eight.toml", "--footage", "generated:harbour", "--at", "0.1", "--frame", "64x36"];
    let mut command = person.command(&words);
    let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let mut said = String::new();
    let mut lines = BufReader::new(child.stderr.take().unwrap());
    // A GPU needs no first sample for this.
    let mut is_first = false;
    while !is_first && lines.read_line(&mut said).unwrap() > 0 {
        is_first = said.lines().last().is_some_and(|line| line.starts_with("Now every order is looked at"));
    }
    if is_first {
        assert!(said.contains("From a sample of 200 of 40,320 orders: "), "{said}");
        assert!(said.contains(" (\u{b1} "), "{said}");
        let process = rustix::process::Pid::from_child(&child);
        let _ = rustix::process::kill_process(process, rustix::process::Signal::INT);
    }
    lines.read_to_string(&mut said).unwrap();
    let ended = child.wait_with_output().unwrap();
    let out = String::from_utf8(ended.stdout).unwrap();
    match ended.status.code() {
        // All was looked at before it was asked to stop.
        Some(0) => assert!(out.contains("\n40,320 orders, ") && !out.contains("ampled"), "{out}"),
        code => {
            assert!(is_first && code == Some(1), "{code:?} {said}");
            assert!(out.contains("\n40,320 orders; sampled: of 200 drawn at random "), "{out}");
            assert!(out.contains("such as ") && out.contains(", sampled."), "{out}");
            assert!(said.contains("error: interrupted before all of it was looked at"), "{said}");
        }
    }
}
