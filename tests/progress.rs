//! What takes long says what it does and how long that will take, and what takes much says so beforehand.

use std::fs;
use std::io::Read as _;
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use tempfile::TempDir;

/// The longest that nothing may be said on a terminal, and that nothing but "working" may be.
const LONGEST: Duration = Duration::from_secs(3);

const HANDS: &str = "preset:all-hands";

/// How often the program tells what it is at on a terminal, and how often the pace of the machine is looked at.
const PACE: Duration = Duration::from_millis(200);

/// A thread that does what the one that tells progress does: it asks to be woken at that pace, and notes how late it
/// is. A machine that wakes no thread in time would let nobody tell anything: that much is no silence of the program's.
struct Machine {
    ends: Arc<AtomicBool>,
    late: JoinHandle<Vec<(Instant, Duration)>>,
}

impl Machine {
    fn watched() -> Self {
        let ends = Arc::new(AtomicBool::new(false));
        let ended = Arc::clone(&ends);
        let late = std::thread::spawn(move || {
            let mut late = Vec::new();
            while !ended.load(Ordering::Relaxed) {
                let asked = Instant::now();
                std::thread::sleep(PACE);
                late.push((asked, asked.elapsed().saturating_sub(PACE)));
            }
            late
        });
        Self { ends, late }
    }

    /// The longest stretch of each list, each less what the machine was late in it.
    fn longest<const N: usize>(self, all: [&[(Instant, Instant)]; N]) -> [Duration; N] {
        self.ends.store(true, Ordering::Relaxed);
        let late = self.late.join().unwrap();
        let own = |&(from, to): &(Instant, Instant)| {
            let within = late.iter().filter(|(asked, late)| *asked < to && *asked + PACE + *late > from);
            (to - from).saturating_sub(within.map(|(_, late)| *late).sum())
        };
        all.map(|stretches| stretches.iter().map(own).max().unwrap_or_default())
    }
}

/// What was seen of a run: its exit code, the longest silence, the longest that nothing but "working" was said, how
/// long it took, and all it said on standard error.
struct Seen {
    code: i32,
    silence: Duration,
    unnamed: Duration,
    took: Duration,
    said: String,
}

/// Runs the program as on a terminal.
fn watched(folder: &TempDir, words: &[&str]) -> Seen {
    let machine = Machine::watched();
    let began = Instant::now();
    let mut child = command(folder, words)
        .env("UNDEROVER_TERMINAL", "1")
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stderr = child.stderr.take().unwrap();
    let (mut last, mut silences, mut said) = (began, Vec::new(), Vec::new());
    // Stretches in which nothing is named, from the last word of something else to the next.
    let (mut named, mut unnamed) = (None, Vec::new());
    let mut bytes = [0; 4096];
    loop {
        let count = stderr.read(&mut bytes).unwrap();
        let now = Instant::now();
        silences.push((last, now));
        last = now;
        if count == 0 {
            break;
        }
        let is_unnamed = String::from_utf8_lossy(&bytes[..count]).trim().starts_with("working");
        match (is_unnamed, named) {
            (true, None) => named = Some(now),
            (true, Some(_)) => {}
            (false, since) => {
                unnamed.extend(since.map(|since| (since, now)));
                named = None;
            }
        }
        said.extend_from_slice(&bytes[..count]);
    }
    unnamed.extend(named.map(|since| (since, last)));
    let code = child.wait().unwrap().code().unwrap();
    let [silence, unnamed] = machine.longest([&silences, &unnamed]);
    Seen { code, silence, unnamed, took: began.elapsed(), said: String::from_utf8(said).unwrap() }
}

/// What stands in the last line of a terminal, on which a carriage return goes back to its beginning.
fn last_line(said: &str) -> String {
    let mut line: Vec<char> = Vec::new();
    for written in said.rsplit('\n').next().unwrap_or_default().split('\r') {
        let written: Vec<char> = written.chars().collect();
        let over = written.len().min(line.len());
        line.splice(..over, written);
    }
    line.into_iter().collect()
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
    for (words, says) in [
        (
            &["sheet", "preset:night-ferry", "--out", "s.svg"][..],
            &["comparing pairs", "rendering the steps of"][..],
        ),
        (
            &["orders", HANDS, "--frame", "640x360", "--most", "9", "--out", "w.png"],
            &["rendering: ", " pictures, ", " left", "drawing the wall"],
        ),
        (&["flashes", HANDS, "--frame", "320x180", "--over", "4"], &["counting flashes: "]),
        (&["compare", "preset:lamp-lines", "preset:quay-fringes", "--out", "c.png"], &["drawing the sheet"]),
        (
            &["places", "preset:night-ferry", "--effect", "tint", "--out", "p.png"],
            &["rendering each place: ", "drawing the sheet"],
        ),
        (
            &["report", "preset:lamp-lines", "--frame", "160x90", "--over", "1", "--out", "r.html"],
            &["timing frames: "],
        ),
        (&["check", "--show", "small.toml"], &["counting flashes: ", "timing frames: "]),
        (&["lessons", "sparing-the-signs", "--out", "l.html"], &["examining "]),
    ] {
        let Seen { code, silence, unnamed, took, said } = watched(&folder, words);
        assert!(code == 0 || words[0] == "check", "{words:?}: {said}");
        assert!(silence < LONGEST, "{words:?} said nothing for {silence:?}: {said:?}");
        assert!(unnamed < LONGEST, "{words:?} said \"working\" for {unnamed:?}: {said:?}");
        // No line that is written over still stands at the end.
        let stands = last_line(&said);
        assert!(stands.trim().is_empty(), "{words:?} left {stands:?} standing");
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
        println!("{words:?}: {took:?}, the longest silence {silence:?}, unnamed {unnamed:?}");
    }
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
