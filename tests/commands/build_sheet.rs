//! The build sheet, through the program.

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

fn sheet(file: &str, out: &Path) -> Output {
    Command::new(env!("CARGO_BIN_EXE_underover"))
        .env("UNDEROVER_STATE", concat!(env!("CARGO_TARGET_TMPDIR"), "/state"))
        .args(["sheet", file, "--frame", "64x36", "--out"])
        .arg(out)
        .output()
        .unwrap()
}

#[test]
fn text_gives_every_effect_in_order_with_its_settings_and_what_may_be_swapped() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("ferry.txt");
    let output = sheet("preset:night-ferry", &out);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let text = fs::read_to_string(&out).unwrap();
    let at = |words: &str| text.find(words).unwrap_or_else(|| panic!("no {words} in {text}"));
    assert!(at("bundle:picture") < at("1. tint\n       Colour #ffa347"));
    assert!(at("2. flash-gate") < at("3. edge-find") && at("4. channel-offset") < at("5. mirror"));
    assert!(at("May change places freely (proved):") < at("tint / mirror"));
    assert!(at("In this order only:") < at("global"));
    assert!(text.contains("does not show now"), "{text}");
}

#[test]
fn a_drawn_sheet_of_a_chain_is_one_page_of_a4_with_a_picture_after_each_effect() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("sheet.svg");
    let output = sheet("preset:all-hands", &out);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let svg = fs::read_to_string(&out).unwrap();
    assert!(svg.contains("width=\"210mm\" height=\"297mm\""));
    assert_eq!(svg.matches("<image ").count(), 5);
    assert!(!svg.contains("http:") || svg.matches("http:").count() == 1, "only the namespace");
}

/// Forty levels in four bundles, each with an effect, a fader for each bundle, and sections.
fn crowded() -> String {
    let mut text = "format = \"underover/show/1\"\nname = \"Crowded\"\nvenue = \"Harbour hall\"\nframe = { width = 64, height = 36 }\ntempo_bpm = 120.0\n".to_owned();
    for bundle in 0..4 {
        text += &format!("\n[[bundle]]\nname = \"deck {bundle}\"\nblend = \"screen\"\n");
        for level in 0..10 {
            text += &format!(
                "\n[[bundle.level]]\nname = \"berth {level}\"\nopacity = 0.25\n\n[[bundle.level.effect]]\nuse = \"tint\"\n\n[[bundle.level.clip]]\nname = \"a rather long name of a clip {level}\"\nfootage = \"generated:lamp\"\n"
            );
        }
    }
    for bundle in 0..4 {
        text += &format!(
            "\n[[control]]\nname = \"Colour {bundle}\"\nhand = \"left\"\nkind = \"continuous\"\nmidi = {{ channel = 1, controller = {bundle} }}\n\n[[control.grip]]\nscope = \"level:deck {bundle}/berth 0\"\neffect = \"tint\"\nsetting = \"amount\"\nlow = 0.0\nhigh = 1.0\n"
        );
    }
    for section in 0..5 {
        text += &format!(
            "\n[[section]]\nname = \"part {section}\"\nbeats = 16.0\nopacity = {{ \"deck 1\" = 0.{section}5 }}\n"
        );
    }
    text
}

/// The number behind `word` in every tag that begins so.
fn numbers(text: &str, tag: &str, word: &str) -> Vec<f64> {
    let opens = |part: &str| {
        let part = &part[..part.find('>').unwrap_or(part.len())];
        let from = part.find(word)? + word.len();
        part[from..].split('"').next()?.parse().ok()
    };
    text.split(tag).skip(1).filter_map(opens).collect()
}

/// ISO 216: A4 is 210 mm by 297 mm.
#[test]
fn a_crowded_show_takes_as_many_pages_as_it_needs_and_all_of_its_rig_is_there() {
    let folder = tempfile::tempdir().unwrap();
    let show = folder.path().join("crowded.toml");
    fs::write(&show, crowded()).unwrap();
    let [html, svg, text] = ["html", "svg", "txt"].map(|ending| {
        let out = folder.path().join(format!("sheet.{ending}"));
        let output = sheet(show.to_str().unwrap(), &out);
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        fs::read_to_string(&out).unwrap()
    });
    let pages: Vec<&str> = html.split("<svg ").skip(1).collect();
    assert!((4..=12).contains(&pages.len()), "{} pages", pages.len());
    for (at, page) in pages.iter().enumerate() {
        assert!(page.contains("width=\"210mm\" height=\"297mm\""), "{at}");
        assert!(page.contains(&format!("Crowded, page {} of {}", at + 1, pages.len())), "{at}");
        // Nothing is drawn smaller to fit, nothing leaves the page, and every picture can be seen.
        assert!(!page.contains(" scale("), "page {at} is drawn smaller");
        let words = numbers(page, "<text ", " y=\"");
        assert!(words.len() > 5 && words.iter().all(|y| (10.0..293.0).contains(y)), "page {at}: {words:?}");
        assert!(numbers(page, "<image ", " width=\"").iter().all(|width| *width >= 42.0), "page {at}");
    }
    // A picture for each section and for each of the forty effects.
    assert_eq!(html.matches("<image ").count(), 45);
    assert!(svg.contains(&format!("width=\"210mm\" height=\"{}mm\"", 297 * pages.len())));
    for words in [
        "Harbour hall; 120 BPM, 64x36",
        "  bundle:deck 3\n       screen, opacity 100 %\n  level:deck 3/berth 9\n       normal, opacity 25 %\n",
        "       shows a rather long name of a clip 9: generated:lamp\n",
        "  part 3: 16 beats, cuts\n       bundle:deck 1 at 0.35\n",
        "  Colour 2: continuous, left hand\n",
        "level:deck 2/berth 0 tint: amount 0 % to 100 %, linear",
    ] {
        assert!(text.contains(words), "no {words:?} in {text}");
    }
    let at = |words: &str| text.find(words).unwrap_or_else(|| panic!("no {words}"));
    assert!(at("level:deck 3/berth 9") < at("level:deck 0/berth 0"), "as they lie, the topmost first");
}

#[test]
fn a_proof_at_one_beat_gives_no_leave_to_swap_what_moves() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("crossing.txt");
    assert!(sheet("preset:night-crossing", &out).status.success());
    let text = fs::read_to_string(&out).unwrap();
    let bundle = &text[text.find("bundle:picture").unwrap()..text.find("\nglobal").unwrap()];
    assert!(!bundle.contains("May change places freely"), "{bundle}");
    assert!(bundle.contains("tint / channel-offset (the same at this beat, but settings move)"), "{bundle}");
}

const GATED: &str = "\
format = \"underover/chain/1\"
name = \"Gated\"

[[effect]]
use = \"edge-find\"

[[effect]]
use = \"flash-gate\"
rate = 0.5
open = 0.25

[[effect]]
use = \"mirror\"

[[effect]]
use = \"flash-gate\"
name = \"blackout\"
strength = 0.0
";

#[test]
fn a_gate_that_is_shut_at_the_beat_gives_no_leave_to_swap_it_at_every_beat() {
    let folder = tempfile::tempdir().unwrap();
    let (chain, out) = (folder.path().join("gated.toml"), folder.path().join("gated.txt"));
    fs::write(&chain, GATED).unwrap();
    for at in ["0.1", "1.9"] {
        let output = Command::new(env!("CARGO_BIN_EXE_underover"))
            .env("UNDEROVER_STATE", concat!(env!("CARGO_TARGET_TMPDIR"), "/state"))
            .args(["sheet", chain.to_str().unwrap(), "--frame", "64x36", "--at", at, "--out"])
            .arg(&out)
            .output()
            .unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        let text = fs::read_to_string(&out).unwrap();
        let (free, rest) = text.split_once("May change places freely (proved):").unwrap();
        assert!(!free.contains(" / "), "{text}");
        let (free, kept) = rest.split_once("In this order only:").unwrap();
        // What holds with the gate open holds with it shut; what holds with it shut does not the other way round.
        assert!(free.contains("flash-gate / mirror\n"), "at {at}: {text}");
        assert!(free.contains("edge-find / blackout\n"), "its strength is 0 at every beat: {text}");
        assert!(kept.contains("edge-find / flash-gate"), "at {at}: {text}");
        let now = "edge-find / flash-gate (the same now, not at every beat)";
        assert_eq!(kept.contains(now), at == "1.9", "{text}");
    }
}

/// ISO 216: A4 is 210 mm by 297 mm; at 200 texels to the inch of 25.4 mm, 1654 by 2339.
#[test]
fn a_sheet_as_a_picture_is_the_drawn_page_with_its_words_and_pictures() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("sheet.png");
    let output = sheet("preset:all-hands", &out);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let page = image::open(&out).unwrap().into_rgb8();
    assert_eq!(page.dimensions(), (1654, 2339));
    let share = |is_so: fn(&image::Rgb<u8>) -> bool| {
        page.pixels().filter(|texel| is_so(texel)).count() as f64 / page.len() as f64 * 3.0
    };
    // White paper, ink in the heading, and pictures that have colours.
    assert!(share(|texel| texel.0 == [255; 3]) > 0.5);
    let heading = image::imageops::crop_imm(&page, 100, 90, 700, 90).to_image();
    assert!(heading.pixels().filter(|texel| texel.0[0] < 90).count() > 300, "no words");
    assert!(share(|texel| texel.0[0].abs_diff(texel.0[2]) > 30) > 0.005, "no pictures");
}

#[test]
fn another_ending_is_refused() {
    let output = sheet("preset:all-hands", Path::new("sheet.docx"));
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("not as .docx"));
}

/// A tint and outlines so faint that it hardly shows which comes first.
const FAINT: &str = "\
format = \"underover/chain/1\"
name = \"Faint\"
[[effect]]
use = \"tint\"
amount = 0.02
[[effect]]
use = \"edge-find\"
amount = 0.02
[[effect]]
use = \"mirror\"
[[effect]]
use = \"channel-offset\"
distance = 0.1
";

#[test]
fn nobody_is_asked_to_keep_an_order_that_hardly_shows() {
    let folder = tempfile::tempdir().unwrap();
    let (chain, out) = (folder.path().join("faint.toml"), folder.path().join("faint.txt"));
    fs::write(&chain, FAINT).unwrap();
    let output = sheet(chain.to_str().unwrap(), &out);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let text = fs::read_to_string(&out).unwrap();
    let at = |words: &str| text.find(words).unwrap_or_else(|| panic!("no {words} in {text}"));
    let (hardly, keep) = (at("Changing places hardly shows here:"), at("In this order only:"));
    let faint = at("tint / edge-find (hardly shows");
    assert!(hardly < faint && faint < keep, "{text}");
    assert!(keep < at("mirror / channel-offset (differs by "), "{text}");
    assert!(!text.contains("differs by 0.0") && !text.contains("differs by less"), "{text}");
}

const COLOURED: &str = "\
format = \"underover/show/1\"
name = \"Coloured\"
frame = { width = 32, height = 18 }
tempo_bpm = 120.0

[[control]]
name = \"horn\"
hand = \"left\"
kind = \"latching\"
key = \"H\"
colour = \"#0a0b0c\"

[[bundle]]
name = \"picture\"
colour = \"orange\"
[[bundle.effect]]
use = \"invert\"
[[bundle.effect]]
use = \"mirror\"
[[bundle.level]]
name = \"sea\"
[[bundle.level.clip]]
name = \"waves\"
footage = \"generated:waves\"
";

/// Orange of Okabe and Ito is #e69f00 (Okabe and Ito 2008); the other is written in the file.
#[test]
fn what_a_person_gave_a_colour_has_a_stripe_beside_its_name_on_sheets_maps_and_reports() {
    let folder = tempfile::tempdir().unwrap();
    let show = folder.path().join("coloured.toml");
    fs::write(&show, COLOURED).unwrap();
    let written = |words: &[&str], name: &str| {
        let out = folder.path().join(name);
        let mut program = Command::new(env!("CARGO_BIN_EXE_underover"));
        program.env("UNDEROVER_STATE", concat!(env!("CARGO_TARGET_TMPDIR"), "/state"));
        let output = program.args(words).arg(&show).arg("--out").arg(&out).output().unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        (fs::read_to_string(&out).unwrap(), String::from_utf8_lossy(&output.stdout).into_owned())
    };
    let (sheet, _) = written(&["sheet"], "sheet.svg");
    let stripe = sheet.find("fill=\"#e69f00\"").expect("a stripe");
    assert!(sheet[stripe..].find("bundle:picture").is_some_and(|apart| apart < 300), "{sheet}");
    let (text, _) = written(&["sheet"], "sheet.txt");
    assert!(text.contains("\nbundle:picture, orange\n"), "{text}");
    let (map, said) = written(&["hands"], "map.svg");
    assert!(map.contains("fill=\"#0a0b0c\""), "{map}");
    assert!(said.contains("horn (latching, #0a0b0c)"), "{said}");
    let (page, _) = written(&["report"], "report.html");
    assert!(page.contains("style=\"background:#e69f00\"></span>bundle:picture"), "{page}");
    // What has none has none.
    fs::write(&show, COLOURED.replace("colour = \"orange\"\n", "")).unwrap();
    assert!(!written(&["sheet", "--replace"], "sheet.svg").0.contains("#e69f00"));
}
