//! Damaged files of every kind are read or refused, and nothing panics or waits.
//!
//! Each kind is damaged again and again for two seconds, or for as many as `UNDEROVER_DAMAGE_SECS` says;
//! a failing run names the seed that `UNDEROVER_DAMAGE_SEED` takes.

use crate::shared::CATALOGUE;
use std::env;
use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::Arc;
use std::thread;
use std::time::{Duration, Instant};

use image::{DynamicImage, ImageFormat, RgbaImage};
use underover::base::embedded::{CHAINS, EFFECTS, LESSONS, SHOWS, STARTERS};
use underover::base::frame::{Frame, PixelMode};
use underover::beat::Moment;
use underover::catalogue::Effect;
use underover::edit::Recovery;
use underover::files;
use underover::footage::Shelf;
use underover::lessons::parse_lesson;
use underover::library::{Library, kept_thumbnail};
use underover::midi::Parser;
use underover::show::clip::{Fit, FootageName, Play};
use underover::window::Preferences;

/// One reading takes no longer than this, on a machine with other work.
const LONGEST: Duration = Duration::from_secs(120);

/// Numbers that look random: the generator of Knuth's MMIX (from memory).
struct Chance(u64);

impl Chance {
    fn below(&mut self, limit: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) as usize) % limit.max(1)
    }

    /// A copy with a few places cut, repeated, swapped for others or written over.
    fn damaged(&mut self, whole: &[u8], words: &[&str]) -> Vec<u8> {
        let mut bytes = whole.to_vec();
        for _ in 0..=self.below(4) {
            let from = self.below(bytes.len() + 1);
            let to = (from + self.below(24)).min(bytes.len());
            let put: Vec<u8> = match self.below(7) {
                0 => Vec::new(),
                1 => bytes[from..to].repeat(1 + self.below(40)),
                2 => (0..self.below(9)).map(|_| self.below(256) as u8).collect(),
                3 => words[self.below(words.len())].as_bytes().to_vec(),
                // Far too much of one thing.
                4 => words[self.below(words.len())].repeat(self.below(4_000)).into_bytes(),
                5 => {
                    let other = self.below(bytes.len() + 1);
                    bytes[other..(other + self.below(60)).min(bytes.len())].to_vec()
                }
                _ => format!("{}", self.below(1 << 31) as i64 - (1 << 30)).into_bytes(),
            };
            bytes.splice(from..to, put);
            if self.below(12) == 0 {
                bytes.truncate(self.below(bytes.len() + 1));
            }
        }
        bytes
    }
}

/// Damages the files for as long as is set aside, and has each read.
fn damage(kind: &str, files: &[&[u8]], words: &[&str], mut read: impl FnMut(&[u8])) {
    let number = |name: &str| env::var(name).ok().and_then(|text| text.parse::<u64>().ok());
    let lasts = Duration::from_secs(number("UNDEROVER_DAMAGE_SECS").unwrap_or(2));
    let only = number("UNDEROVER_DAMAGE_SEED");
    let began = Instant::now();
    let mut seed = only.unwrap_or(1);
    while began.elapsed() < lasts {
        let mut chance = Chance(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15));
        let whole = files[chance.below(files.len())];
        let bytes = chance.damaged(whole, words);
        let one = Instant::now();
        let outcome = catch_unwind(AssertUnwindSafe(|| read(&bytes)));
        assert!(outcome.is_ok(), "a damaged {kind} made the program panic; UNDEROVER_DAMAGE_SEED={seed}");
        assert!(one.elapsed() < LONGEST, "a damaged {kind} took {:?}; seed {seed}", one.elapsed());
        if only.is_some() {
            break;
        }
        seed += 1;
    }
    println!("{kind}: {seed} damaged files in {:?}", began.elapsed());
}

fn texts(embedded: &[(&'static str, &'static str)]) -> Vec<&'static [u8]> {
    embedded.iter().map(|(_, text)| text.as_bytes()).collect()
}

/// Words that mean something in our files.
const WORDS: [&str; 15] = [
    "format",
    "[[effect]]",
    "[[bundle.level.clip]]",
    "use = ",
    "= nan",
    "= inf",
    "= 1e308",
    "\"",
    "'''",
    "{ ",
    "\u{feff}",
    "#",
    "a.",
    "[",
    "{a=",
];

#[test]
fn damaged_chains_shows_and_starters_are_read_or_refused() {
    for (kind, files) in [("chain", CHAINS), ("show", SHOWS), ("starter", STARTERS)] {
        let name = format!("damaged-{kind}.toml");
        damage(kind, &texts(files), &WORDS, |bytes| {
            let text = String::from_utf8_lossy(bytes);
            if let Err(error) = files::parse(&text, &name, Path::new(""), &CATALOGUE) {
                let message = error.to_string();
                assert!(message.starts_with(&name) && !message.contains('\n'), "{message:?}");
            }
        });
    }
}

#[test]
fn damaged_lessons_are_read_or_refused() {
    damage("lesson", &texts(LESSONS), &WORDS, |bytes| {
        let text = String::from_utf8_lossy(bytes);
        let _ = parse_lesson(&text, "damaged.toml", Path::new(""), &CATALOGUE);
    });
}

#[test]
fn damaged_effects_are_read_or_refused() {
    let words = [
        "//! [[setting]]\n",
        "loop {",
        "array<f32, 99999999>",
        "settings.",
        "fn ",
        "//! ",
        "/*",
        "@",
        "((",
        "0x",
        "+1.0",
        "-",
        "!",
        ".x",
        "[0]",
        "abs(",
        "{",
        "if true {",
        "else if true {}",
        "array<",
        "ptr<function,",
        "vec3(1.0,",
        "&&true",
        "let a = a;",
        "const a = array(a,a);",
        "switch 1 { default: {",
        "@size(4)",
    ];
    // A stack that is too small brings the test program down: this is half of what a thread usually has.
    let reading = move || {
        damage("effect", &texts(EFFECTS), &words, |bytes| {
            let _ = Effect::read("damaged", "damaged.wgsl", &String::from_utf8_lossy(bytes));
        });
    };
    let thread = thread::Builder::new().stack_size(1 << 20).spawn(reading).unwrap();
    thread.join().unwrap();
}

#[test]
fn damaged_files_of_the_persons_own_folders_hide_nothing_and_break_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let place = |name: &str| folder.path().join(name);
    Preferences::default().keep(folder.path()).unwrap();
    let preferences = fs::read(place("preferences.toml")).unwrap();
    damage("preferences file", &[&preferences], &WORDS, |bytes| {
        fs::write(place("preferences.toml"), bytes).unwrap();
        let _ = Preferences::read(Some(folder.path()));
    });
    damage("work kept aside", &texts(SHOWS), &WORDS, |bytes| {
        fs::write(place("work-1.toml"), bytes).unwrap();
        assert_eq!(Recovery::found(folder.path(), &CATALOGUE).len(), 1);
    });

    let (data, state) = (place("data"), place("state"));
    fs::create_dir_all(data.join("chains")).unwrap();
    fs::write(data.join("chains/mine.toml"), CHAINS[0].1).unwrap();
    let scanned = || {
        let mut library = Library::new(Some(&data), Some(&state));
        library.scan(&CATALOGUE);
        library.entries().len()
    };
    let whole = scanned();
    let index = fs::read(state.join("library-index.json")).unwrap();
    damage("library index", &[&index], &["{", "[", "null", "1e999", "\"chains\"", ":"], |bytes| {
        fs::write(state.join("library-index.json"), bytes).unwrap();
        assert_eq!(scanned(), whole);
    });
    damage("chain in the library", &texts(CHAINS), &WORDS, |bytes| {
        fs::write(data.join("chains/mine.toml"), bytes).unwrap();
        assert_eq!(scanned(), whole);
    });
}

/// A picture in a form of file.
fn written(format: ImageFormat) -> Vec<u8> {
    let picture = RgbaImage::from_fn(9, 7, |x, y| image::Rgba([x as u8 * 20, y as u8 * 30, 90, 255]));
    let mut bytes = std::io::Cursor::new(Vec::new());
    let picture = DynamicImage::ImageRgba8(picture);
    let picture = if format == ImageFormat::Jpeg { picture.to_rgb8().into() } else { picture };
    picture.write_to(&mut bytes, format).unwrap();
    bytes.into_inner()
}

#[test]
fn damaged_footage_is_shown_or_refused() {
    let folder = tempfile::tempdir().unwrap();
    let y4m =
        [&b"YUV4MPEG2 W4 H2 F25:1 Ip A1:1 C420jpeg\n"[..], b"FRAME\n", &[90; 12], b"FRAME\n", &[30; 12]]
            .concat();
    let kinds = [
        ("png", written(ImageFormat::Png)),
        ("jpg", written(ImageFormat::Jpeg)),
        ("gif", written(ImageFormat::Gif)),
        ("webp", written(ImageFormat::WebP)),
        ("y4m", y4m),
    ];
    let moment = Moment::at(Frame { width: 8, height: 8 }, PixelMode::default(), 120.0, 0.3);
    for (ending, bytes) in &kinds {
        let path = folder.path().join(format!("sea.{ending}"));
        damage(&format!("{ending} file"), &[bytes], &["\0\0\0", "FRAME\n", "W99999", "\u{ff}"], |bytes| {
            fs::write(&path, bytes).unwrap();
            let footage = FootageName::File { written: "sea".to_owned(), path: path.clone() };
            let mut shelf = Shelf::new(&CATALOGUE);
            let _ = shelf.shown(&footage, Fit::default(), &Play::default(), &moment);
        });
    }
    let state = folder.path().join("state");
    fs::create_dir_all(state.join("thumbnails")).unwrap();
    damage("thumbnail", &[&kinds[0].1], &["IDAT"], |bytes| {
        fs::write(state.join("thumbnails/a.png"), bytes).unwrap();
        let _ = kept_thumbnail(&state, "a");
    });
}

#[test]
fn no_bytes_from_a_midi_device_stop_its_parser() {
    let bytes = [0x90, 60, 64, 0xb0, 1, 127, 0xf0, 1, 2, 0xf7, 0xe0, 0, 64, 0xf8, 0xb1, 33, 5];
    let mut parser = Parser::default();
    let heard = Arc::new(std::sync::atomic::AtomicUsize::new(0));
    damage("MIDI stream", &[&bytes], &["\u{90}"], |bytes| {
        let messages = bytes.iter().filter_map(|&byte| parser.push(byte)).count();
        heard.fetch_add(messages, std::sync::atomic::Ordering::Relaxed);
    });
    assert!(heard.load(std::sync::atomic::Ordering::Relaxed) > 0);
}
