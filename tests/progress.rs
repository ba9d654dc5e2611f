//! What takes long says what it does and how long that will take, and what takes much says so beforehand.

use std::fs;
use std::io::Read as _;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use tempfile::TempDir;

/// The longest that nothing may be said on a terminal.
const LONGEST: Duration = Duration::from_secs(5);

const HANDS: &str = "preset:all-hands";

/// Runs the program as on a terminal; gives its exit code, the longest silence, how long it took, and all it said
/// on standard error.
fn watched(folder: &TempDir, words: &[&str]) -> (i32, Duration, Duration, String) {
    let began = Instant::now();
    let mut child = command(folder, words)
        .env("UNDEROVER_TERMINAL", "1")
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stderr = child.stderr.take().unwrap();
    let (mut last, mut longest, mut said) = (began, Duration::ZERO, Vec::new());
    let mut bytes = [0; 4096];
    loop {
        let count = stderr.read(&mut bytes).unwrap();
        longest = longest.max(last.elapsed());
        last = Instant::now();
        if count == 0 {
            break;
        }
        said.extend_from_slice(&bytes[..count]);
    }
    let code = child.wait().unwrap().code().unwrap();
    (code, longest, began.elapsed(), String::from_utf8(said).unwrap())
}

fn command(folder: &TempDir, words: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_underover"));
    command.args(words).current_dir(folder.path());
    for variable in ["UNDEROVER_DATA", "UNDEROVER_STATE", "UNDEROVER_CONFIG"] {
        command.env(variable, folder.path().join(variable));
    }
    command
}

/// A show of one clip under two effects, at this frame.
fn show_of(frame: &str) -> String {
    format!(
        "format = \"underover/show/1\"
name = \"Open water\"
frame = {{ {frame} }}
tempo_bpm = 120.0
[[bundle]]
name = \"picture\"
[[bundle.level]]
name = \"sea\"
[[bundle.level.clip]]
name = \"waves\"
footage = \"generated:waves\"
[[global.effect]]
use = \"flash-gate\"
[[global.effect]]
use = \"mirror\"
"
    )
}

#[test]
fn no_command_is_silent_for_long_on_a_terminal_or_leaves_unsaid_what_it_does() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("small.toml"), show_of("width = 320, height = 180")).unwrap();
    let mut all = Duration::ZERO;
    for (words, says) in [
        (
            &["sheet", "preset:night-ferry", "--out", "s.svg"][..],
            &["comparing pairs", "rendering the steps of"][..],
        ),
        (
            &["orders", HANDS, "--frame", "320x180", "--most", "9", "--out", "w.png"],
            &["rendering: ", " pictures, ", " left", "drawing the wall"],
        ),
        (&["flashes", HANDS, "--frame", "320x180", "--over", "4"], &["counting flashes: "]),
        (&["compare", "preset:lamp-lines", "preset:quay-fringes", "--out", "c.png"], &["drawing the sheet"]),
        (&["places", "preset:night-ferry", "--effect", "tint"], &["rendering each place: "]),
        (
            &["report", "preset:lamp-lines", "--frame", "160x90", "--over", "1", "--out", "r.html"],
            &["timing frames: "],
        ),
        (&["check", "--show", "small.toml"], &["counting flashes: ", "timing frames: "]),
        (&["lessons", "sparing-the-signs", "--out", "l.html"], &["examining "]),
    ] {
        let (code, longest, took, said) = watched(&folder, words);
        assert!(code == 0 || words[0] == "check", "{words:?}: {said}");
        assert!(longest < LONGEST, "{words:?} said nothing for {longest:?}: {said:?}");
        // Stretches that nothing names are short.
        for unnamed in ["working, 5 s", "working, 6 s", "working, 7 s"] {
            assert!(!said.contains(unnamed), "{words:?}: {said:?}");
        }
        // What is done sooner than a person grows impatient need not be said.
        if took > LONGEST {
            for part in says {
                assert!(said.contains(part), "{words:?}: {part:?} is not in {said:?}");
            }
            // A line that is written over stays on one line.
            assert!(
                said.split(['\r', '\n']).all(|line| !line.contains("left") || line.chars().count() < 160)
            );
        }
        println!("{words:?}: {took:?}, the longest silence {longest:?}");
        all += took;
    }
    assert!(all > LONGEST, "all of it took {all:?}: nothing here lasts");
}

#[test]
fn work_that_takes_too_much_memory_is_refused_at_once_with_what_it_needs_and_what_fits() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("vast.toml"), show_of("width = 16384, height = 16384")).unwrap();
    for words in [
        &["render", "vast.toml", "--out", "p.png"][..],
        &["render", "vast.toml", "--out", "p-##.png", "--frames", "2"],
        &["orders", "vast.toml"],
        &["swaps", "vast.toml"],
        &["places", "vast.toml", "--effect", "mirror"],
        &["compare", "vast.toml", "--order", "2,1"],
        &["flashes", "vast.toml"],
        &["sheet", "vast.toml", "--out", "s.svg"],
        &["report", "vast.toml", "--out", "r.html"],
        &["check", "--show", "vast.toml"],
    ] {
        let began = Instant::now();
        let output = command(&folder, words).output().unwrap();
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(1), "{words:?}: {said}");
        for part in [
            "16384x16384 takes about ",
            " MiB of memory, and 4096 MiB are allowed",
            "--memory ",
            "--frame of ",
        ] {
            assert!(said.contains(part), "{words:?}: {part:?} is not in {said}");
        }
        assert!(began.elapsed() < Duration::from_secs(20), "{words:?}: {:?}", began.elapsed());
    }
    // A file is right or wrong whatever its frame takes.
    assert!(command(&folder, &["check", "vast.toml"]).output().unwrap().status.success());
}

/// The most memory that the program took, in bytes, as Linux tells it.
#[cfg(target_os = "linux")]
fn most_memory(folder: &TempDir, words: &[&str]) -> u64 {
    let mut child = command(folder, words).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
    let status = format!("/proc/{}/status", child.id());
    let mut most = 0;
    while child.try_wait().unwrap().is_none() {
        let text = fs::read_to_string(&status).unwrap_or_default();
        let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        let kib =
            line.and_then(|line| line.split_whitespace().next()).and_then(|kib| kib.parse::<u64>().ok());
        most = most.max(kib.unwrap_or_default() << 10);
        std::thread::sleep(Duration::from_millis(5));
    }
    assert!(child.wait().unwrap().success(), "{words:?}");
    most
}

#[cfg(target_os = "linux")]
#[test]
fn what_is_said_of_memory_is_what_a_software_adapter_takes() {
    use underover::gpu::Gpu;
    // A GPU has memory of its own, of which the system tells nothing.
    let adapter = std::env::var("UNDEROVER_ADAPTER").ok();
    if Gpu::open(adapter.as_deref()).unwrap().adapter().kind != "software" {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let of = |more: &[&str], size: &str| {
        let words = [&["render"], more, &["--out", "p.png", "--frame", size]].concat();
        most_memory(&folder, &words)
    };
    for more in [
        &["preset:lamp-lines"][..],
        &["preset:lamp-lines", "--pixels", "linear-float"],
        &["preset:night-ferry"],
    ] {
        let took = of(more, "2560x1440").saturating_sub(of(more, "16x9"));
        // Refused with what it needs.
        let words =
            [&["render"], more, &["--out", "p.png", "--frame", "2560x1440", "--memory", "1"]].concat();
        let said = String::from_utf8(command(&folder, &words).output().unwrap().stderr).unwrap();
        let needed = said.split("takes about ").nth(1).and_then(|rest| rest.split(' ').next());
        let needed: u64 = needed.and_then(|mib| mib.parse().ok()).unwrap_or_else(|| panic!("{said}"));
        println!("{more:?}: {} MiB of {needed}", took >> 20);
        // The spare layer of each sheet is asked for and never touched.
        let share = took as f64 / (needed << 20) as f64;
        assert!((0.4..=1.0).contains(&share), "{more:?}: {} MiB of {needed}", took >> 20);
    }
}
