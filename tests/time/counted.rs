//! What was counted before is looked up, for as long as nothing has changed that it depends on.

use std::fs::{self, File};
use std::path::PathBuf;
use std::thread::sleep;
use std::time::{Duration, SystemTime};

use serde_json::Value;
use sha2::{Digest as _, Sha256};

use crate::shared::Person;

/// A picture under a gate that is open every second beat: few flashes.
const SHOW: &str = "format = \"underover/show/1\"
name = \"Quay\"
frame = { width = 64, height = 36 }
tempo_bpm = 120.0
rate = 30

[[bundle]]
name = \"picture\"

[[bundle.effect]]
use = \"flash-gate\"

[[bundle.effect]]
use = \"beacon\"

[[bundle.level]]
name = \"sea\"

[[bundle.level.clip]]
name = \"waves\"
footage = \"sea.png\"

[[bundle.level]]
name = \"lamps\"

[[bundle.level.clip]]
name = \"lamps\"
footage = \"seq-##.png\"

[[bundle.level]]
name = \"tower\"

[[bundle.level.clip]]
name = \"lantern\"
footage = \"generated:lantern\"
";

/// An effect of one's own.
const BEACON: &str = "//! summary = \"A beacon.\"
//! does = \"halves the light\"
//! also = [\"beam of a lighthouse\", \"on for a beat and off for a beat\", \"going round\"]
//! reach = \"texel\"
//! channels = \"apart\"
//! position = \"ignored\"
//!
//! [[setting]]
//! name = \"depth\"
//! label = \"Depth\"
//! help = \"How dark it goes.\"
//! kind = \"number\"
//! unit = \"share\"
//! range = [0.0, 1.0]
//! default = 1.0

struct Settings {
    depth: f32,
}

fn channel(c: f32, channel: u32) -> f32 {
    return c * (1.0 - 0.5 * settings.depth);
}
";

/// A generated source of one's own, which a clip names and holds nothing of.
const LANTERN: &str = "//! summary = \"A lantern.\"
//! reach = \"source\"
//! opaque = false

struct Settings {
    none: u32,
}

fn paint(at: vec2i) -> vec4f {
    return vec4f(0.1, 0.1, 0.1, 0.1);
}
";

struct Quay(Person);

impl Quay {
    fn new() -> Self {
        let person = Person::new();
        fs::create_dir_all(person.path("data/effects")).unwrap();
        let quay = Self(person);
        quay.file("show.toml", SHOW.as_bytes());
        quay.file("data/effects/beacon.wgsl", BEACON.as_bytes());
        quay.file("data/effects/lantern.wgsl", LANTERN.as_bytes());
        for (name, shade) in [("sea", 250), ("seq-01", 120), ("seq-02", 200)] {
            quay.picture(name, shade);
        }
        quay
    }

    fn file(&self, name: &str, text: &[u8]) {
        fs::write(self.0.path(name), text).unwrap();
    }

    fn picture(&self, name: &str, shade: u8) {
        let picture = image::RgbaImage::from_pixel(8, 8, image::Rgba([shade, shade, shade, 255]));
        picture.save(self.0.path(&format!("{name}.png"))).unwrap();
    }

    /// The figures, once files are as old as it takes to be known again.
    fn figures(&self, words: &[&str]) -> Value {
        sleep(Duration::from_millis(1100));
        self.figures_at_once(words)
    }

    fn figures_at_once(&self, words: &[&str]) -> Value {
        let all =
            [&["flashes", "show.toml", "--over", "2", "--no-suggestions", "--json", "-"], words].concat();
        let (_, said, wrong) = self.0.run(&all);
        serde_json::from_str(&said).unwrap_or_else(|error| panic!("{error}: {said}{wrong}"))
    }

    /// What is kept, but for what files hold.
    fn kept(&self) -> Vec<PathBuf> {
        let Ok(entries) = fs::read_dir(self.0.path("state/counted")) else { return Vec::new() };
        let mut files: Vec<PathBuf> = entries.map(|entry| entry.unwrap().path()).collect();
        files.retain(|file| fs::read(file).unwrap()[32..].starts_with(b"{"));
        files.sort();
        files
    }

    /// Puts another report in the place of each that is kept: whoever looks it up says so.
    fn mark(&self) {
        for file in self.kept() {
            let mut report: Value = serde_json::from_slice(&fs::read(&file).unwrap()[32..]).unwrap();
            report["findings"][0]["changes"] = 777.into();
            let value = serde_json::to_vec(&report).unwrap();
            fs::write(&file, [&Sha256::digest(&value)[..], &value].concat()).unwrap();
        }
    }
}

/// Whether a report is one that was looked up.
fn is_marked(figures: &Value) -> bool {
    figures.to_string().contains("777") || figures.to_string().contains("388.5")
}

#[test]
fn what_was_counted_is_looked_up_until_any_byte_of_what_it_depends_on_changes() {
    let quay = Quay::new();
    let first = quay.figures(&[]);
    assert_eq!(quay.kept().len(), 1);
    assert_eq!(quay.figures(&[]), first);
    quay.mark();
    assert!(is_marked(&quay.figures_at_once(&[])) && !is_marked(&first));

    // What is no part of the picture is no part of what is counted.
    quay.file("show.toml", SHOW.replace("Quay", "Pier").as_bytes());
    assert!(is_marked(&quay.figures(&[])));
    quay.file("show.toml", SHOW.as_bytes());

    // Files that were written anew and hold the same.
    quay.picture("sea", 250);
    assert!(is_marked(&quay.figures(&[])));

    // Everything else counts anew, each time with what it was before put back behind it.
    let old = SystemTime::now() - Duration::from_secs(3600);
    let age =
        |name: &str| File::options().write(true).open(quay.0.path(name)).unwrap().set_modified(old).unwrap();
    for (what, change, back) in [
        ("a byte of a picture", "sea.png", None),
        ("a byte of a picture of a sequence", "seq-02.png", None),
        ("one picture more", "seq-03.png", None),
        ("an effect", "data/effects/beacon.wgsl", Some(BEACON.replace("0.5 *", "0.4 *"))),
        ("a generated source", "data/effects/lantern.wgsl", Some(LANTERN.replace("0.1);", "0.2);"))),
        ("the show", "show.toml", Some(SHOW.replace("tempo_bpm = 120.0", "tempo_bpm = 121.0"))),
    ] {
        let path = quay.0.path(change);
        let before = fs::read(&path).ok();
        match back {
            Some(text) => quay.file(change, text.as_bytes()),
            None => quay.picture(change.trim_end_matches(".png"), 251),
        }
        if before.is_some() {
            // A time that is put back hides nothing.
            age(change);
        }
        assert!(!is_marked(&quay.figures(&[])), "{what}");
        match before {
            Some(bytes) => fs::write(&path, bytes).unwrap(),
            None => fs::remove_file(&path).unwrap(),
        }
        assert!(is_marked(&quay.figures(&[])), "{what}, taken back");
    }
    for words in [&["--rate", "25"][..], &["--white", "300"], &["--distance", "4"], &["--frame", "32x18"]] {
        assert!(!is_marked(&quay.figures_at_once(words)), "{words:?}");
    }
}

#[test]
fn what_was_written_to_a_moment_ago_is_counted_anew_and_nothing_is_kept_of_it() {
    let quay = Quay::new();
    // However long the program takes to begin.
    let picture = File::options().write(true).open(quay.0.path("sea.png")).unwrap();
    picture.set_modified(SystemTime::now() + Duration::from_secs(60)).unwrap();
    let first = quay.figures_at_once(&[]);
    assert!(quay.kept().is_empty());
    picture.set_modified(SystemTime::now() - Duration::from_secs(60)).unwrap();
    assert_eq!(quay.figures(&[]), first);
    assert_eq!(quay.kept().len(), 1);
}

#[test]
fn a_check_a_report_and_a_count_share_what_was_counted() {
    let quay = Quay::new();
    quay.file("show.toml", SHOW.replace("rate = 30", "rate = 10").as_bytes());
    sleep(Duration::from_millis(1100));
    let run = |words: &[&str]| quay.0.run(words);
    run(&["check", "--show", "show.toml"]);
    assert_eq!(quay.kept().len(), 1);
    quay.mark();
    for words in [
        &["check", "--show", "show.toml", "--json", "-"][..],
        &["flashes", "show.toml", "--json", "-", "--no-suggestions"],
    ] {
        let (_, said, wrong) = run(words);
        assert!(said.contains("388.5") || said.contains("777"), "{words:?}: {said}{wrong}");
    }
    run(&["report", "show.toml", "--out", "report.html", "--frame", "64x36"]);
    assert!(fs::read_to_string(quay.0.path("report.html")).unwrap().contains("388.5"));
}
