//! Effects of a person's own, through the program: found, limited, tried, and never relied on blindly.

#[allow(dead_code, reason = "each test file uses its own part of it")]
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::Arc;
use std::thread;
use std::time::{Duration, Instant};

use crate::common::{Alpha, difference, moment, path, scattered, with_renderer};
use proptest::prelude::*;
use tempfile::TempDir;
use underover::base::frame::{Frame, PixelMode};
use underover::catalogue::{
    Catalogue, Effect, MOST_IN_A_ROW, MOST_IN_TURN, MOST_NESTED, Standing, read_file,
};
use underover::gpu::{Gpu, Renderer};
use underover::order::{Premises, Proofs, Verdict};
use underover::show::chain::EffectUse;
use underover::trial::{MEMORY_MIB, Outcome, Trials, Tried, tried};

fn own(file: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/own_effects").join(file)
}

/// A folder to work in, with the person's folders inside it.
struct Place(TempDir);

impl Place {
    fn new() -> Self {
        let place = Self(tempfile::tempdir().unwrap());
        fs::create_dir_all(place.path("data/effects")).unwrap();
        place
    }

    fn path(&self, inside: &str) -> PathBuf {
        self.0.path().join(inside)
    }

    /// Puts an effect into the person's folder.
    fn has(&self, name: &str, text: &str) {
        fs::write(self.path("data/effects").join(format!("{name}.wgsl")), text).unwrap();
    }

    fn run(&self, words: &[&str]) -> (i32, String, String) {
        let Output { status, stdout, stderr } = Command::new(env!("CARGO_BIN_EXE_underover"))
            .args(words)
            .current_dir(self.0.path())
            .env("UNDEROVER_DATA", self.path("data"))
            .env("UNDEROVER_STATE", self.path("state"))
            .env("UNDEROVER_CONFIG", self.path("config"))
            .output()
            .unwrap();
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
        (status.code().unwrap(), text(stdout), text(stderr))
    }

    fn does(&self, words: &[&str]) -> (String, String) {
        let (code, out, err) = self.run(words);
        assert_eq!(code, 0, "{words:?}\n{out}\n{err}");
        (out, err)
    }

    fn refuses(&self, words: &[&str], says: &[&str]) -> String {
        let (code, out, err) = self.run(words);
        assert_eq!(code, 1, "{words:?}\n{out}\n{err}");
        for part in says {
            assert!(err.contains(part), "{part:?} is not in {err}");
        }
        err
    }

    fn trials(&self) -> Trials {
        Trials {
            program: Some(env!("CARGO_BIN_EXE_underover").into()),
            state: Some(self.path("state")),
            ..Trials::here(std::env::var("UNDEROVER_ADAPTER").ok())
        }
    }
}

const DARK: &str = r#"//! summary = "Darkens."
//! does = "darkens"
//! reach = "texel"
//! channels = "apart"
//! position = "ignored"
//!
//! [[setting]]
//! name = "depth"
//! label = "Depth"
//! help = "How dark."
//! kind = "number"
//! unit = "share"
//! range = [0.0, 1.0]
//! default = 0.5

struct Settings {
    depth: f32,
}

fn channel(value: f32, index: u32) -> f32 {
    return value * (1.0 - settings.depth);
}
"#;

const CHAIN: &str = "format = \"underover/chain/1\"\nname = \"Dusk\"\n[[effect]]\nuse = \"dark\"\n[[effect]]\nuse = \"mirror\"\n";

/// `DARK`, its function's body replaced.
fn with_body(body: &str) -> String {
    DARK.replace("return value * (1.0 - settings.depth);", body)
}

#[test]
fn the_persons_own_folder_is_always_part_of_the_catalogue_beside_a_folder_named() {
    let place = Place::new();
    place.has("dark", DARK);
    fs::create_dir(place.path("more")).unwrap();
    fs::write(place.path("more/darker.wgsl"), DARK).unwrap();
    let (out, _) = place.does(&["effects", "--effects", "more"]);
    assert!(out.contains("  dark ") && out.contains("  darker "), "{out}");
    fs::write(place.path("dusk.toml"), CHAIN).unwrap();
    let words = ["orders", "dusk.toml", "--frame", "64x36", "--json", "-"];
    let (out, err) = place.does(&words);
    // Confirmed by rendering, so that the proof may rely on it: two orders are one class.
    assert!(err.contains("trying the effect dark"), "{err}");
    assert!(out.contains("\"classes\": 1"), "{out}");
    let (_, err) = place.does(&words);
    assert!(!err.contains("trying"), "what was found is kept: {err}");
    // Another text is another effect.
    place.has("dark", &DARK.replace("1.0 - settings", "0.9 - settings"));
    assert!(place.does(&words).1.contains("trying the effect dark"));
}

#[test]
fn a_broken_file_hides_nothing_else_and_a_chain_that_uses_it_says_what_is_wrong_and_where() {
    let place = Place::new();
    place.has("dark", &DARK.replace("settings.depth", "settings.dept"));
    place.has("fine", DARK);
    place.has("tint", DARK);
    let (out, err) = place.does(&["effects"]);
    assert!(out.contains("  fine "), "{out}");
    assert!(err.contains("dark.wgsl:21:") && err.contains("dept"), "{err}");
    assert!(err.contains("tint.wgsl:1:1: an effect named `tint` is already there"), "{err}");
    assert!(err.contains("rename the file"), "{err}");
    fs::write(place.path("dusk.toml"), CHAIN).unwrap();
    place.refuses(
        &["check", "dusk.toml"],
        &["dusk.toml:4:7:", "`dark` cannot be used", "dark.wgsl:21:", "dept"],
    );
    place.does(&["render", "preset:all-hands", "--frame", "32x18", "--out", "p.png"]);
}

#[test]
fn a_new_effect_is_right_as_it_is_and_never_replaces_a_file() {
    let place = Place::new();
    let (out, _) = place.does(&["effects", "new", "night-glow"]);
    assert!(out.contains("night-glow.wgsl"), "{out}");
    let file = place.path("data/effects/night-glow.wgsl");
    let (out, _) = place.does(&["effects", "check", file.to_str().unwrap()]);
    assert!(out.contains("right") && out.contains("`channels = \"apart\"`"), "{out}");
    assert!(out.contains("ms at the defaults"), "{out}");
    place.refuses(&["effects", "new", "night-glow"], &["exists already", "another name"]);
    place.refuses(&["effects", "new", "tint"], &["`tint` is already there"]);
    place.refuses(&["effects", "new", "Night Glow"], &["small letters"]);
    place.does(&["effects", "new", "other", "--folder", "mine"]);
    assert!(place.path("mine/other.wgsl").is_file());
    let chain = CHAIN.replace("dark", "night-glow");
    fs::write(place.path("glow.toml"), chain).unwrap();
    place.does(&["render", "glow.toml", "--frame", "32x18", "--out", "p.png"]);
}

/// (a body, the line named, what the error says); none where it is right.
type Body = (&'static str, Option<(usize, &'static [&'static str])>);

const BODIES: &[Body] = &[
    ("var v = value; for (var i = 0; i < 16; i++) { v *= 0.9; } return v;", None),
    ("var v = value; for (var i = 16; i > 0; i -= 2) { v *= 0.9; } return v;", None),
    ("var v = value; for (var i = 3u; i >= 1u; i--) { v *= 0.9; } return v;", None),
    ("var v = value; for (var i = 0; i < 16 && v > 0.1; i++) { v *= 0.9; } return v;", None),
    ("var v = value; var i = 0; while i < 9 { v *= 0.9; i = i + 1; } return v;", None),
    ("var v = value; var i = 0; loop { if i >= 9 { break; } v *= 0.9; i += 1; } return v;", None),
    ("var v = value; var i = 0; loop { v *= 0.9; continuing { i++; break if i > 8; } } return v;", None),
    (
        "var v = value; let n = i32(settings.depth * 12.0); for (var i = -n; i <= n; i++) { v *= 0.9; } return v;",
        None,
    ),
    ("var v = value; for (var i = 0; i < min(i32(value * 999.0), 32); i++) { v *= 0.9; } return v;", None),
    (
        "var v = value; for (var y = 0; y < 100; y++) { for (var x = 0; x < 100; x++) { v *= 0.99; } } return v;",
        None,
    ),
    (
        "loop { } return value;",
        Some((21, &["nothing here shows that this loop ends", "for (var i = 0; i < 16; i++)"])),
    ),
    ("var v = value; while v > 0.0 { v *= 0.5; } return v;", Some((21, &["nothing here shows"]))),
    (
        "var v = value; for (var i = 0; i < i32(value * 9.0); i++) { v *= 0.9; } return v;",
        Some((21, &["nothing here shows"])),
    ),
    (
        "var v = value; for (var i = 0; i < 9; i--) { v *= 0.9; } return v;",
        Some((21, &["nothing here shows"])),
    ),
    ("var v = value; for (var i = 0; i < 9; i++) { i -= 1; } return v;", Some((21, &["nothing here shows"]))),
    (
        "var v = value; for (var i = 3u; i >= 0u; i--) { v *= 0.9; } return v;",
        Some((21, &["nothing here shows"])),
    ),
    (
        "var v = value; for (var f = 0.0; f < 9.0; f += 0.1) { v *= 0.9; } return v;",
        Some((21, &["a whole number"])),
    ),
    (
        "var v = value; var i = 0; while i < 9 { if v > 0.5 { continue; } i++; } return v;",
        Some((21, &["nothing here shows"])),
    ),
    (
        "var v = value; for (var i = 0; i < 99999; i++) { v *= 0.9; } return v;",
        Some((21, &["100000 turns", "16384"])),
    ),
    (
        "var v = value; for (var y = 0; y < 999; y++) { for (var x = 0; x < 999; x++) { v *= 0.99; } } return v;",
        Some((20, &["turns of its loops", "16384"])),
    ),
    (
        "var kept = array<f32, 4000>(); kept[index] = value; return kept[0];",
        Some((21, &["16000 bytes", "4096"])),
    ),
];

#[test]
fn loops_without_a_bound_that_can_be_seen_and_large_arrays_are_refused_where_they_stand() {
    let mut failures = String::new();
    for (body, wrong) in BODIES {
        match (Effect::read("dark", "dark.wgsl", &with_body(body)), wrong) {
            (Ok(_), None) => {}
            (Ok(_), Some(_)) => failures += &format!("taken: {body}\n"),
            (Err(error), None) => failures += &format!("refused: {body}\n  {error}\n"),
            (Err(error), Some((line, says))) => {
                let said = error.to_string();
                let begins = format!("dark.wgsl:{line}:");
                if !said.starts_with(&begins) || says.iter().any(|part| !said.contains(part)) {
                    failures += &format!("{body}\n  {said}\n");
                }
            }
        }
    }
    assert!(failures.is_empty(), "{failures}");
}

/// Files that are right but for being too deep or growing too much: what they are, the line, and what is said.
fn too_much() -> Vec<(&'static str, String, usize, &'static str)> {
    let nested = |open: &str, inside: &str, close: &str, times: usize| {
        format!("{}{inside}{}", open.repeat(times), close.repeat(times))
    };
    let in_body = |expression: String| with_body(&format!("return {expression};"));
    let before = |text: &str| DARK.replace("fn channel", &format!("{text}fn channel"));
    // Each function calls the one before it once, or twice.
    let calling = |count: usize, body: &str| {
        let step = |at: usize| {
            format!(
                "fn step_{at}(v: f32) -> f32 {{ return {}; }}\n",
                body.replace("BEFORE", &format!("step_{}", at - 1))
            )
        };
        let steps: String = (1..count).map(step).collect();
        before(&format!("fn step_0(v: f32) -> f32 {{ return v; }}\n{steps}"))
            .replace("return value * (1.0", &format!("return step_{}(value) * (1.0", count - 1))
    };
    let doubling = |declared: &dyn Fn(usize) -> String| {
        before(&(0..30).map(|at| declared(at) + "\n").collect::<String>())
    };
    let signs = "signs in one expression";
    let deep = "deep inside each other";
    let turn = "that each use the next";
    let large = "written out in place of its name";
    vec![
        ("a sum of 16,000 terms", in_body(format!("value{}", "+1.".repeat(16_000))), 21, signs),
        ("a product of 16,000", in_body(format!("value{}", "*1.".repeat(16_000))), 21, signs),
        ("a chain of comparisons", in_body(format!("f32(value{})", "==1.".repeat(9_000))), 21, signs),
        ("a chain of swizzles", in_body(format!("vec2f(value){}.x", ".xy".repeat(16_000))), 21, signs),
        ("a chain of indices", in_body(format!("value{}", "[0]".repeat(16_000))), 21, signs),
        ("a chain of calls of results", in_body(format!("value{}", "()".repeat(16_000))), 21, signs),
        ("a sum hidden by comments", in_body(format!("value{}", "+/*)*/1.".repeat(7_000))), 21, signs),
        (
            "a sum with its comments on lines",
            in_body(format!("value{}", "+//;\n1.".repeat(7_000))),
            277,
            signs,
        ),
        ("a sum in a constant", before(&format!("const K = 1.{};\n", "+1.".repeat(16_000))), 20, signs),
        ("200 brackets", in_body(nested("(", "value", ")", 200)), 21, deep),
        ("20,000 brackets", in_body(nested("(", "value", ")", 20_000)), 21, deep),
        ("brackets never closed", in_body("(".repeat(40_000)), 21, deep),
        ("200 calls inside each other", in_body(nested("abs(", "value", ")", 200)), 21, deep),
        ("calls and signs by turns", in_body(nested("-abs(-", "value", ")", 40)), 21, deep),
        ("200 indices inside each other", in_body(nested("a[", "0", "]", 200)), 21, deep),
        ("minus 200 times", in_body(format!("{}value", "- ".repeat(200))), 21, deep),
        (
            "not 20,000 times",
            with_body(&format!("if {}true {{}} return value;", "!".repeat(20_000))),
            21,
            deep,
        ),
        ("200 blocks", with_body(&nested("{", "", "}", 200)), 21, deep),
        ("200 ifs", with_body(&nested("if value > 0.5 {", "", "}", 200)), 21, deep),
        ("200 loops", with_body(&nested("for (var i = 0; i < 2; i++) {", "", "}", 200)), 21, deep),
        ("200 switches", with_body(&nested("switch 1 { default: {", "", "}}", 200)), 21, deep),
        (
            "2,000 else-ifs",
            with_body(&format!(
                "if value < 0.0 {{}} {}return value;",
                "else if value < 1.0 {} ".repeat(2_000)
            )),
            21,
            deep,
        ),
        (
            "200 array types",
            with_body(&format!("var a: {}; return value;", nested("array<", "f32", ",1>", 200))),
            21,
            deep,
        ),
        (
            "200 pointer types",
            with_body(&format!("let a: {} = 1; return value;", nested("ptr<function, ", "f32", ">", 200))),
            21,
            deep,
        ),
        ("300 functions in turn", calling(300, "BEFORE(v)"), 0, turn),
        (
            "300 constants in turn",
            before(&(1..300).fold("const K0 = 1;\n".to_owned(), |text, at| {
                text + &format!("const K{at} = K{};\n", at - 1)
            })),
            0,
            turn,
        ),
        (
            "300 types in turn",
            before(&(1..300).fold("alias T0 = f32;\n".to_owned(), |text, at| {
                text + &format!("alias T{at} = T{};\n", at - 1)
            })),
            0,
            turn,
        ),
        ("calls that double 30 deep", calling(30, "BEFORE(v) + BEFORE(v * 0.5)"), 0, large),
        (
            "calls that double, hidden by a variable of their name",
            calling(30, "BEFORE(v) + BEFORE(v * 0.5)").replace("return step", "let step_1 = v; return step"),
            0,
            large,
        ),
        (
            "constants that double",
            doubling(&|at| {
                if at == 0 {
                    "const K0 = array(1, 2);".to_owned()
                } else {
                    format!("const K{at} = array(K{}, K{});", at - 1, at - 1)
                }
            }),
            0,
            large,
        ),
        (
            "constants in a function that double",
            with_body(&(1..30).fold("const K0 = array(1, 2);".to_owned(), |text, at| {
                text + &format!("const K{at} = array(K{}, K{});", at - 1, at - 1)
            })),
            0,
            large,
        ),
        (
            "constants that double, each with one of its name in a block",
            with_body(&(1..30).fold("const K0 = array(1, 2);".to_owned(), |text, at| {
                text + &format!("{{ const K{} = 1; }} const K{at} = array(K{}, K{});", at - 1, at - 1, at - 1)
            })),
            0,
            large,
        ),
        (
            "structs that double",
            doubling(&|at| {
                if at == 0 {
                    "struct S0 { a: f32, b: f32 }".to_owned()
                } else {
                    format!("struct S{at} {{ a: S{}, b: S{} }}", at - 1, at - 1)
                }
            }),
            0,
            large,
        ),
        (
            "a function named as a type",
            before("fn f32(v: u32) -> i32 { return 1; }\n"),
            20,
            "`f32` is the name of a type",
        ),
        (
            "a function that calls itself",
            DARK.replace("return value", "return channel(value, index) * value"),
            20,
            "uses itself",
        ),
        (
            "functions that call each other",
            before("fn f_0(v: f32) -> f32 { return f_1(v); }\nfn f_1(v: f32) -> f32 { return f_0(v); }\n"),
            21,
            "uses itself",
        ),
        ("a name of 50,000 letters", in_body("a".repeat(50_000)), 21, "no definition in scope"),
        ("more than 64 KiB", format!("{DARK}//{}", "x".repeat(70_000)), 1, "larger than 64 KiB"),
        (
            "a header of more than 64 KiB",
            format!("//! {}\n{DARK}", "a.".repeat(40_000)),
            1,
            "larger than 64 KiB",
        ),
    ]
}

#[test]
fn what_goes_too_deep_or_grows_too_much_is_refused_in_words_where_it_does() {
    let mut failures = String::new();
    // Where functions grow from one to the next, the first that is too much may be any.
    let is_at = |said: &str, line: usize| match line {
        0 => said.starts_with("dark.wgsl:"),
        line => said.starts_with(&format!("dark.wgsl:{line}:")),
    };
    for (what, text, line, says) in too_much() {
        // Where a stack of this size is not enough, the whole test program falls over.
        let reading =
            move || Effect::read("dark", "dark.wgsl", &text).map(|_| ()).map_err(|error| error.to_string());
        match thread::Builder::new().stack_size(512 << 10).spawn(reading).unwrap().join().unwrap() {
            Ok(()) => failures += &format!("taken: {what}\n"),
            Err(said) if is_at(&said, line) && said.contains(says) => {
                assert!(said.len() < 500, "{said}");
            }
            Err(said) => failures += &format!("{what}:\n  {said}\n"),
        }
    }
    assert!(failures.is_empty(), "{failures}");
}

/// The deepest and largest that is taken of each kind.
fn just_enough() -> Vec<(&'static str, String)> {
    let nested = |open: &str, inside: &str, close: &str, times: usize| {
        format!("{}{inside}{}", open.repeat(times), close.repeat(times))
    };
    let in_body = |expression: String| with_body(&format!("return {expression};"));
    let (deep, row, turn) = (MOST_NESTED - 1, MOST_IN_A_ROW - 8, MOST_IN_TURN - 2);
    let step = |at: usize| format!("fn step_{at}(v: f32) -> f32 {{ return step_{}(v) + 1.0; }}\n", at - 1);
    let steps: String = (1..turn).map(step).collect();
    let alias = |at: usize| format!("alias T{at} = T{};\n", at - 1);
    let aliases: String = (1..turn).map(alias).collect();
    vec![
        ("sum", in_body(format!("value{}", "+1.".repeat(row)))),
        ("sum of products", in_body(format!("value{}", "+value*0.5".repeat(row / 2)))),
        ("comparisons", in_body(format!("f32(value>1.{})", "&&value>1.".repeat(row / 2 - 4)))),
        ("swizzles", in_body(format!("vec2f(value){}.x", ".xy".repeat(row - 4)))),
        ("brackets", in_body(nested("(", "value", ")", deep))),
        ("calls inside each other", in_body(nested("abs(", "value", ")", deep))),
        ("sums inside each other", in_body(nested("1.+abs(1.-", "value", ")", deep - 2))),
        ("minus", in_body(format!("{}value", "- ".repeat(deep - 1)))),
        ("blocks", with_body(&format!("{} return value;", nested("{", "", "}", deep)))),
        ("ifs", with_body(&format!("{} return value;", nested("if value > 0.5 {", "", "}", deep)))),
        (
            "loops",
            with_body(&format!("{} return value;", nested("for (var i = 0; i < 1; i++) {", "", "}", 9))),
        ),
        (
            "switches",
            with_body(&format!("{} return value;", nested("switch 1 { default: {", "", "}}", deep / 2))),
        ),
        (
            "else-ifs",
            with_body(&format!(
                "if value < 0.0 {{}} {}return value;",
                "else if value < 1.0 {} ".repeat(deep - 2)
            )),
        ),
        ("arrays", with_body(&format!("var a: {}; return value;", nested("array<", "f32", ",1>", 15)))),
        (
            "functions in turn",
            DARK.replace(
                "fn channel",
                &format!("fn step_0(v: f32) -> f32 {{ return v; }}\n{steps}fn channel"),
            )
            .replace("value *", &format!("step_{}(value) *", turn - 1)),
        ),
        (
            "types in turn",
            DARK.replace("fn channel", &format!("alias T0 = f32;\n{aliases}fn channel"))
                .replace("return value", &format!("let x: T{} = 1.0; return x * value", turn - 1)),
        ),
        (
            "a long text",
            with_body(&format!("var v = value;\n{}return v;", "v = v * 0.5 + 0.1;\n".repeat(1_500))),
        ),
    ]
}

#[test]
fn the_deepest_that_is_taken_is_read_and_rendered_on_half_a_usual_stack() {
    let work = || {
        let mut renderer =
            Renderer::new(Gpu::open(std::env::var("UNDEROVER_ADAPTER").ok().as_deref()).unwrap());
        for (what, text) in just_enough() {
            let effect =
                Effect::read("dark", "dark.wgsl", &text).unwrap_or_else(|error| panic!("{what}: {error}"));
            let used = EffectUse::new(Arc::new(effect));
            for pixels in PixelMode::ALL {
                let frame = Frame { width: 16, height: 9 };
                let path = path(
                    &scattered(16, 9, Alpha::Full, 3),
                    std::slice::from_ref(&used),
                    moment(frame, pixels, 0.0),
                );
                renderer.picture(&path, &[0]).unwrap_or_else(|error| panic!("{what}: {error}"));
            }
        }
    };
    // Threads usually have 2 MiB.
    thread::Builder::new().stack_size(1 << 20).spawn(work).unwrap().join().unwrap();
}

#[test]
fn nothing_in_the_persons_folders_stops_a_command_that_has_nothing_to_do_with_it() {
    let place = Place::new();
    for (nth, (_, text, ..)) in too_much().into_iter().enumerate() {
        place.has(&format!("much-{nth}"), &text);
    }
    // Tables inside each other, by dots and by brackets.
    for folder in ["chains", "starters", "lessons"] {
        fs::create_dir_all(place.path("data").join(folder)).unwrap();
        for (name, text) in [
            ("dots", format!("{}a = 1\n", "a.".repeat(100_000))),
            ("table", format!("[{}a]\n", "a.".repeat(100_000))),
            ("lists", format!("a = {}", "[".repeat(100_000))),
            ("tables", format!("a = {}", "{a=".repeat(100_000))),
        ] {
            fs::write(place.path("data").join(folder).join(name).with_extension("toml"), text).unwrap();
        }
    }
    unrelated_commands_run(&place);
}

/// Commands that look into the person's folders say what is wrong there, and do their work.
fn unrelated_commands_run(place: &Place) {
    let began = Instant::now();
    for words in [
        &["library", "list"][..],
        &["starters", "list"],
        &["effects"],
        &["lessons"],
        &["check", "preset:night-ferry"],
        &["hands", "preset:night-crossing"],
    ] {
        place.does(words);
    }
    assert!(began.elapsed() < Duration::from_secs(60), "{:?}", began.elapsed());
}

#[cfg(unix)]
#[test]
fn only_plain_files_are_read_in_the_persons_folders() {
    use std::os::unix::fs::symlink;
    let place = Place::new();
    let kinds = [("pipe", "a named pipe"), ("zero", "a device"), ("folder", "a folder")];
    for (folder, ending) in
        [("effects", "wgsl"), ("chains", "toml"), ("starters", "toml"), ("lessons", "toml")]
    {
        let at = |name: &str| place.path("data").join(folder).join(name).with_extension(ending);
        fs::create_dir_all(place.path("data").join(folder)).unwrap();
        assert!(Command::new("mkfifo").arg(at("pipe")).status().unwrap().success());
        symlink("/dev/zero", at("zero")).unwrap();
        symlink(at("circle"), at("circle")).unwrap();
        fs::create_dir(at("folder")).unwrap();
        // Larger than memory, and no byte of it on the disk.
        fs::File::create(at("huge")).unwrap().set_len(1 << 40).unwrap();
    }
    for name in ["library-index.json", "recent.txt", "lessons.txt"] {
        fs::create_dir_all(place.path("state")).unwrap();
        assert!(Command::new("mkfifo").arg(place.path("state").join(name)).status().unwrap().success());
    }
    unrelated_commands_run(&place);
    let (_, err) = place.does(&["effects"]);
    for (name, kind) in kinds {
        assert!(err.contains(&format!("effects/{name}.wgsl:1:1: this is {kind}, no plain file")), "{err}");
    }
    assert!(err.contains("effects/huge.wgsl:1:1: the file is larger than 64 KiB"), "{err}");
    for (command, folder) in [("library", "chains"), ("starters", "starters")] {
        let (out, err) = place.does(&[command, "list"]);
        let said = out + &err;
        for (name, kind) in &kinds[..2] {
            assert!(
                said.contains(&format!("{folder}/{name}.toml`: this is {kind}, no plain file")),
                "{said}"
            );
        }
        assert!(said.contains("huge.toml` is larger than 4 MiB"), "{said}");
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_trial_takes_no_more_memory_than_it_is_given() {
    let place = Place::new();
    let effect = Arc::new(Effect::read("dark", "dark.wgsl", DARK).unwrap());
    let outcome = |memory_mib| {
        let trials = Trials { memory_mib, state: None, ..place.trials() };
        trials.outcomes(std::slice::from_ref(&effect), &mut |_| ()).remove(0)
    };
    // Less than any driver takes; as it is usually, it is far more than a trial takes.
    assert!(!matches!(outcome(16), Outcome::Tried(_)), "{:?}", outcome(16));
    assert!(matches!(outcome(MEMORY_MIB), Outcome::Tried(_)), "{:?}", outcome(MEMORY_MIB));
}

fn outcome(effect: &Effect) -> Tried {
    match with_renderer(|renderer| tried(renderer, &Arc::new(effect.clone()))).unwrap() {
        Outcome::Tried(tried) => tried,
        other => panic!("{}: {other:?}", effect.name),
    }
}

#[test]
fn every_effect_that_comes_with_the_program_does_what_it_declares() {
    let catalogue = Catalogue::built_in().unwrap();
    let mut claims = 0;
    for effect in catalogue.effects().iter().chain(catalogue.sources()) {
        let tried = outcome(effect);
        assert_eq!(tried.refuted, Vec::<String>::new(), "{}", effect.name);
        claims += tried.confirmed.len();
    }
    assert!(claims > 50, "only {claims} claims were put to the test");
}

/// (the file, the line of the claim, the claim, what was seen)
const LIES: &[(&str, usize, &str, &str)] = &[
    ("looks-further", 4, "`radius = 1`", "3 away"),
    ("looks-further-at-its-most", 4, "`radius = 4`", "5 away"),
    ("mixes-channels", 5, "`channels = \"apart\"`", "changed red"),
    ("knows-its-place", 6, "`position = \"ignored\"`", "the same one with the same around it"),
    ("lets-through", 3, "full alpha stays full", "the alpha 128 of 255"),
    ("never-idle", 16, "nothing changes where `amount` is 0", "went from"),
    ("idle-but-for-the-brightest", 16, "nothing changes where `amount` is 0", "went from"),
    ("idle-where-it-cannot-be", 16, "nothing changes where `amount` is 7", "no settings were met"),
    ("idle-move", 16, "nothing changes where `steps` is 0", "went from"),
    ("holed", 1, "`opaque = true`", "the alpha 0 of 255"),
];

#[test]
fn every_effect_that_lies_is_caught_with_the_line_and_what_was_seen() {
    for (name, line, claim, seen) in LIES {
        let effect = read_file(&own("lies").join(format!("{name}.wgsl"))).unwrap_or_else(|e| panic!("{e}"));
        let refuted = outcome(&effect).refuted;
        assert_eq!(refuted.len(), 1, "{name}: {refuted:#?}");
        let place = format!("{name}.wgsl:{line}:1: ");
        for part in [place.as_str(), claim, seen] {
            assert!(refuted[0].contains(part), "{part:?} is not in {}", refuted[0]);
        }
        println!("{}", refuted[0]);
    }
    let files = fs::read_dir(own("lies")).unwrap().count();
    assert_eq!(files, LIES.len(), "each file is looked at");
}

#[test]
fn nothing_is_proved_from_a_declaration_that_is_refuted_or_not_yet_tried() {
    let mut never_idle = read_file(&own("lies/never-idle.wgsl")).unwrap();
    let mirror = EffectUse::new(Arc::clone(crate::common::CATALOGUE.effect("mirror").unwrap()));
    let picture = scattered(16, 9, Alpha::Full, 1);
    let moment = moment(picture.frame, PixelMode::Encoded8Bit, 0.0);
    let refuted = Standing::Refuted(vec!["seen".to_owned()].into());
    for (standing, is_trusted) in [(Standing::Untried, false), (refuted, false), (Standing::Confirmed, true)]
    {
        never_idle.standing = standing;
        let mut used = EffectUse::new(Arc::new(never_idle.clone()));
        used.set_number(0, 0.0).unwrap();
        let chain = [used, mirror.clone()];
        let proofs = with_renderer(|renderer| {
            let maps = renderer.index_maps(&chain, &moment).unwrap();
            let premises = Premises { chain: &chain, moment: &moment, opaque: true, maps: &maps };
            Proofs::of(&premises)
        });
        assert_eq!(proofs.idle[0].is_some(), is_trusted);
        assert_eq!(
            matches!(proofs.verdict(0, 1), Verdict::Always(_)),
            is_trusted,
            "{:?}",
            proofs.verdict(0, 1)
        );
        // What is called idle is left out; what is not trusted is rendered, and changes the picture.
        let [with, without] = [vec![0], vec![]].map(|order| {
            with_renderer(|renderer| renderer.picture(&path(&picture, &chain, moment), &order).unwrap())
        });
        assert_eq!(difference(&with, &without).is_none(), is_trusted);
    }
}

#[test]
fn a_refuted_declaration_is_told_by_every_command_and_the_order_is_rendered() {
    let place = Place::new();
    let text = fs::read_to_string(own("lies/never-idle.wgsl")).unwrap();
    place.has("dark", &text);
    fs::write(place.path("dusk.toml"), CHAIN.replace("use = \"dark\"", "use = \"dark\"\namount = 0.0"))
        .unwrap();
    let (out, err) = place.does(&["orders", "dusk.toml", "--frame", "64x36", "--json", "-"]);
    assert!(err.contains("dark.wgsl:16:1: the header claims that nothing changes"), "{err}");
    assert!(out.contains("\"classes\": 2"), "{out}");
    let file = place.path("data/effects/dark.wgsl");
    place.refuses(&["effects", "check", file.to_str().unwrap()], &["dark.wgsl:16:1:", "went from"]);
}

/// As many turns as are allowed, each of them slow enough for the fastest machine: what only a clock can find.
fn heavy() -> String {
    let work = "v = sin(v * 3.1 + f32(i)) * cos(v) + pow(abs(v), 0.3);".repeat(40);
    with_body(&format!("var v = value; for (var i = 0; i < 16000; i++) {{ {work} }} return v;"))
}

#[test]
fn an_effect_that_takes_too_long_is_stopped_in_its_own_process_and_not_used() {
    let place = Place::new();
    let effect = Arc::new(Effect::read("heavy", "heavy.wgsl", &heavy()).unwrap());
    let fine = Arc::new(Effect::read("fine", "fine.wgsl", DARK).unwrap());
    let began = Instant::now();
    let trials = Trials { limit: Duration::from_secs(3), ..place.trials() };
    let outcomes = trials.outcomes(&[effect, fine], &mut |_| ());
    let Outcome::Stopped(reason) = &outcomes[0] else { panic!("{outcomes:?}") };
    assert!(reason.starts_with("heavy.wgsl:1:1: "), "{reason}");
    assert!(reason.contains("was stopped after") || reason.contains("would take about"), "{reason}");
    assert!(matches!(&outcomes[1], Outcome::Tried(tried) if tried.refuted.is_empty()), "{outcomes:?}");
    assert!(began.elapsed() < Duration::from_secs(60));
    println!("{reason} ({:?})", began.elapsed());
}

#[cfg(unix)]
#[test]
fn a_trial_that_hangs_or_falls_over_takes_nothing_down_with_it() {
    use std::os::unix::fs::PermissionsExt as _;
    let place = Place::new();
    let effect = Arc::new(Effect::read("dark", "dark.wgsl", DARK).unwrap());
    for (script, says) in [
        ("sleep 60", "was stopped after 1 s"),
        ("kill -SEGV $$", "brought the graphics driver down, or took more than 2048 MiB of memory"),
    ] {
        let program = place.path("program");
        fs::write(&program, format!("#!/bin/sh\n{script}\n")).unwrap();
        fs::set_permissions(&program, fs::Permissions::from_mode(0o755)).unwrap();
        let limit = Duration::from_secs(1);
        let trials = Trials { program: Some(program), state: None, limit, ..place.trials() };
        let outcomes = trials.outcomes(std::slice::from_ref(&effect), &mut |_| ());
        assert!(matches!(&outcomes[0], Outcome::Stopped(reason) if reason.contains(says)), "{outcomes:?}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn no_text_whatever_makes_the_reader_panic(text in "\\PC{0,400}", in_header in any::<bool>()) {
        let text = if in_header { text.lines().map(|line| format!("//! {line}\n")).collect() } else { text };
        let _ = Effect::read("dark", "dark.wgsl", &text);
    }

    #[test]
    fn no_changed_file_makes_the_reader_panic_or_wait(
        which in 0..3_usize,
        changes in prop::collection::vec((any::<prop::sample::Index>(), 0..6_u8, "[ -~\\n]{0,6}"), 1..6),
    ) {
        let files = [DARK.to_owned(), with_body(BODIES[7].0), fs::read_to_string(own("light-paint.wgsl")).unwrap()];
        let mut text = files[which].clone();
        for (at, cut, put) in changes {
            let mut start = at.index(text.len().max(1)).min(text.len());
            while !text.is_char_boundary(start) { start -= 1; }
            let end = (start + usize::from(cut)).min(text.len());
            if text.is_char_boundary(end) { text.replace_range(start..end, &put); }
        }
        let began = Instant::now();
        let _ = Effect::read("dark", "dark.wgsl", &text);
        prop_assert!(began.elapsed() < Duration::from_secs(5));
    }
}
