//! A show checked before it is played, through the program.

use std::fs;
use std::process::{Command, Output};

fn check(words: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_underover"))
        .env("UNDEROVER_STATE", concat!(env!("CARGO_TARGET_TMPDIR"), "/state"))
        .arg("check")
        .args(words)
        .output()
        .unwrap()
}

const SHOW: &str = r##"format = "underover/show/1"
name = "Small"
frame = { width = 32, height = 18 }
tempo_bpm = 120.0

[[bundle]]
name = "picture"
[[bundle.effect]]
use = "tint"
amount = 0.0
[[bundle.level]]
name = "sea"
[[bundle.level.clip]]
name = "waves"
footage = "generated:waves"

[[bundle]]
name = "signs"
[[bundle.level]]
name = "mark"
[[bundle.level.clip]]
name = "ship mark"
footage = "generated:ship-mark"

[[global.effect]]
use = "mirror"
"##;

fn found(show: &str) -> (Output, serde_json::Value) {
    let folder = tempfile::tempdir().unwrap();
    let (file, json) = (folder.path().join("small.toml"), folder.path().join("found.json"));
    fs::write(&file, show).unwrap();
    let output = check(&["--show", file.to_str().unwrap(), "--json", json.to_str().unwrap()]);
    let figures = serde_json::from_slice(&fs::read(&json).unwrap_or_default());
    (output, figures.unwrap_or_default())
}

fn about(figures: &serde_json::Value, about: &str) -> String {
    let findings = figures["finding"].as_array().cloned().unwrap_or_default();
    findings.iter().find(|point| point["about"] == about).map(ToString::to_string).unwrap_or_default()
}

#[test]
fn an_idle_effect_and_effects_over_the_signs_are_told_with_what_to_do() {
    let (output, figures) = found(SHOW);
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    let idle = about(&figures, "idle");
    assert!(idle.contains("bundle:picture") && idle.contains("tint changes nothing"), "{text}");
    let signs = about(&figures, "signs");
    assert!(signs.contains("mirror touches the signs on bundle:signs") && signs.contains("global"), "{text}");
    assert!(text.contains("do: "), "{text}");
}

#[test]
fn what_is_hidden_is_told_by_its_address_with_what_to_do() {
    let (output, figures) = found(&SHOW.replace("name = \"mark\"", "name = \"mark\"\nhidden = true"));
    let told = about(&figures, "hidden");
    assert!(told.contains("level:signs/mark") && told.contains("audience sees nothing"), "{told}");
    assert!(told.contains("underover edit set") && told.contains("look-again"), "{told}");
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(text.contains("hidden   level:signs/mark: It is hidden"), "{text}");
    let (_, figures) = found(SHOW);
    assert!(about(&figures, "hidden").contains("Nothing is hidden."), "{figures}");
}

#[test]
fn missing_footage_fails_the_show_and_the_exit_code_says_so() {
    let (output, figures) = found(&SHOW.replace("generated:waves", "gone.png"));
    assert_eq!(output.status.code(), Some(1));
    let text = String::from_utf8_lossy(&output.stdout);
    assert!(text.contains("Would fail the show") && text.contains("clip:picture/sea/waves"), "{text}");
    assert_eq!(figures["ready"], false);
    assert!(about(&figures, "footage").contains("fails"));
}

#[test]
fn a_stand_in_that_is_left_fails_the_show() {
    let (output, figures) = found(&SHOW.replace("generated:waves", "stand-in:open water"));
    assert_eq!(output.status.code(), Some(1));
    let text = String::from_utf8_lossy(&output.stdout);
    assert!(text.contains("stand-in:open water still stands in for footage"), "{text}");
    assert!(text.contains("Give the clip its footage"), "{text}");
    assert_eq!(figures["ready"], false);
}

#[test]
fn too_many_flashes_fail_the_show() {
    let flashing = SHOW.replace("use = \"mirror\"", "use = \"flash-gate\"\nrate = 8.0");
    let (output, figures) = found(&flashing);
    assert_eq!(output.status.code(), Some(1));
    assert!(about(&figures, "flashes").contains("Too many"), "{figures}");
}

#[test]
fn a_chain_is_refused_before_a_show() {
    let output = check(&["--show", "preset:all-hands"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("name a show"));
}

#[test]
fn plain_check_names_a_control_that_is_not_there() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("small.toml");
    let written = SHOW.replace(
        "use = \"tint\"\namount = 0.0",
        "use = \"tint\"\namount = { shape = \"envelope\", decay = 1.0, control = \"horn\", low = 0.0, high = 1.0 }",
    );
    fs::write(&file, written).unwrap();
    let output = check(&[file.to_str().unwrap()]);
    let text = String::from_utf8_lossy(&output.stdout);
    assert!(text.contains("waits for \"horn\""), "{text}{}", String::from_utf8_lossy(&output.stderr));
}

#[test]
fn controls_that_hardly_show_clips_that_nothing_shows_and_more_controls_than_fingers_are_told() {
    let control = |name: &str, grip: &str| {
        format!(
            "[[control]]\nname = \"{name}\"\nhand = \"left\"\nkind = \"momentary\"\nkey = \"{}\"\ncue = {{ at = [{}.5] }}\n[[control.grip]]\n{grip}\n",
            &name[..1],
            name.len()
        )
    };
    let of = |setting: &str, values: &str| {
        format!("scope = \"bundle:picture\"\neffect = \"tint\"\nsetting = \"{setting}\"\n{values}")
    };
    let clip = "[[bundle.level.clip]]\nname = \"harbour\"\nfootage = \"generated:harbour\"\n[[bundle.level.clip]]\nname = \"lamp\"\nfootage = \"generated:lamp\"\n\n[[bundle]]\nname = \"signs\"";
    let mut show = SHOW
        .replace("tempo_bpm = 120.0", "tempo_bpm = 480.0\nrate = 30")
        .replace("[[bundle]]\nname = \"signs\"", clip);
    // Six controls of one hand within a bar of four beats; the colour of a tint that is at 0 shows nothing.
    for (name, grip) in [
        ("Q", of("colour", "low = \"#000000\"\nhigh = \"#ffffff\"")),
        ("Ww", of("amount", "low = 0.0\nhigh = 1.0")),
        ("Eee", of("on", "high = false")),
        ("Rrrr", "scope = \"level:picture/sea\"\nsetting = \"opacity\"\nlow = 1.0\nhigh = 0.0".to_owned()),
        ("Tt", "scope = \"level:picture/sea\"\nsetting = \"showing\"\nhigh = \"harbour\"".to_owned()),
        ("Zzz", "scope = \"bundle:picture\"\nsetting = \"opacity\"\nlow = 1.0\nhigh = 0.999".to_owned()),
    ] {
        show += &control(name, &grip);
    }
    let (output, figures) = found(&show);
    let text =
        String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr);
    let hardly: Vec<&str> = ["Q", "Ww", "Eee", "Rrrr", "Tt", "Zzz"]
        .into_iter()
        .filter(|name| text.contains(&format!("\"{name}\" hardly shows")))
        .collect();
    // Off in place of 0 is the same picture, and a thousandth less of a level is none that is seen.
    assert_eq!(hardly, ["Q", "Eee", "Zzz"], "{text}");
    assert!(
        text.contains("The left hand has 6 controls within one bar from beat 1.5, and 5 fingers"),
        "{text}"
    );
    let clips = about(&figures, "clips");
    assert!(
        clips.contains("Nothing shows lamp: no section and no control.")
            && clips.contains("level:picture/sea"),
        "{text}"
    );
}
