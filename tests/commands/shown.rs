//! Names that would steer how text reads: shown with what steers written out, wherever they are shown.

use std::fs;
use std::process::{Command, Output, Stdio};

use tempfile::TempDir;
use underover::base::hidden::hidden;

const PROGRAM: &str = env!("CARGO_BIN_EXE_underover");

/// A name that reads as `evening gnp.toml` where its control is obeyed (UTR 36, section 2.5), and that ends a terminal's
/// line and colours the next.
const NAME: &str = "evening \u{202e}lmot.png\u{2066} \u{1b}[31m\u{200f}";

/// A name in a file, where control characters of other kinds are refused.
const IN_FILE: &str = "evening \u{202e}lmot.png\u{2066} \u{200f}\u{61c}";
/// The same as it is written there.
const WRITTEN: &str = "evening \\u202elmot.png\\u2066 \\u200f\\u061c";

fn show() -> String {
    format!(
        "format = \"underover/show/1\"
name = \"{WRITTEN}\"
frame = {{ width = 64, height = 36 }}
tempo_bpm = 120.0

[[bundle]]
name = \"{WRITTEN}\"

[[bundle.effect]]
use = \"mirror\"
name = \"{WRITTEN}\"

[[bundle.effect]]
use = \"edge-find\"

[[bundle.level]]
name = \"sea\"

[[bundle.level.clip]]
name = \"waves\"
footage = \"generated:waves\"
"
    )
}

fn run(folder: &TempDir, words: &[&str]) -> Output {
    let mut command = Command::new(PROGRAM);
    for variable in ["UNDEROVER_DATA", "UNDEROVER_STATE", "UNDEROVER_CONFIG"] {
        command.env(variable, folder.path().join(variable));
    }
    command.args(words).current_dir(folder.path()).stdin(Stdio::null()).output().unwrap()
}

fn is_plain(text: &str) -> bool {
    hidden(text).all(|character| "\n\t".contains(character))
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

#[test]
fn a_name_that_steers_is_written_out_in_every_message() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("show.toml"), show()).unwrap();
    for words in [
        &["check", "show.toml"][..],
        &["hands", "show.toml"],
        &["swaps", "show.toml"],
        &["orders", "show.toml", "--out", "wall.png"],
        &["render", "show.toml", "--scope", "bundle:nowhere", "--out", "p.png"],
        &["check", NAME],
        &["render", "show.toml", "--at", NAME, "--out", "p.png"],
        &["render", "show.toml", "--out", NAME],
        &[NAME],
    ] {
        let done = run(&folder, words);
        let said = text(&done.stdout) + &text(&done.stderr);
        assert!(is_plain(&said), "{words:?}: {said:?}");
        assert!(said.contains("\\u202E"), "{words:?} names it: {said}");
    }
    fs::write(folder.path().join(format!("{IN_FILE}.toml")), "format = 1\n").unwrap();
    let done = run(&folder, &["check", &format!("{IN_FILE}.toml")]);
    assert!(is_plain(&text(&done.stderr)) && text(&done.stderr).contains("\\u202Elmot"));
}

#[test]
fn a_name_that_steers_is_written_out_on_every_page() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("show.toml"), show()).unwrap();
    for words in [
        &["hands", "show.toml", "--out", "page.svg"][..],
        &["sheet", "show.toml", "--out", "page.svg"],
        &["sheet", "show.toml", "--out", "page.txt"],
        &["report", "show.toml", "--over", "1", "--out", "page.html"],
    ] {
        let page = folder.path().join(words.last().unwrap());
        let done = run(&folder, words);
        assert!(done.status.success(), "{words:?}: {}", text(&done.stderr));
        let page = fs::read_to_string(page).unwrap();
        assert!(is_plain(&page), "{words:?}");
        assert!(page.contains("\\u202E"), "{words:?} names it");
    }
}

#[test]
fn figures_hold_names_as_they_are() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("show.toml"), show()).unwrap();
    let done = run(&folder, &["swaps", "show.toml", "--json", "-"]);
    let figures: serde_json::Value = serde_json::from_slice(&done.stdout).unwrap();
    assert_eq!(figures["name"], IN_FILE);
}

#[test]
fn a_path_of_thousands_of_characters_is_shown_by_its_ends() {
    let folder = tempfile::tempdir().unwrap();
    let long = format!("/quay/{}/show.toml", "night/".repeat(900));
    for words in [
        &["check", &long][..],
        &["render", &long, "--out", "p.png"],
        &["render", "preset:lamp-lines", "--footage", &long, "--out", "p.png"],
        &["render", "preset:lamp-lines", "--out", &long],
        &["adapters", "--json", &long],
        &["render", "preset:lamp-lines", "--at", &long, "--out", "p.png"],
        &["library", "find", &long],
        &[&long],
    ] {
        let said = text(&run(&folder, words).stderr);
        assert!(said.len() < 1500, "{words:?} says {} bytes: {said}", said.len());
    }
}
