//! The program as people run it: words in, files, text and exit codes out.
//!
//! Every picture here comes from the adapter that is found by default; no
//! session or display is told to the program.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use image::{Frame as GifFrame, Rgba, RgbaImage};
use serde_json::Value as Json;
use tempfile::TempDir;
use underover::base::frame::{Frame, PixelMode};
use underover::beat::Moment;
use underover::catalogue::Catalogue;
use underover::footage::Shelf;
use underover::gpu::{Asked, Gpu, Renderer};
use underover::order::{Classes, Tree};
use underover::output::wall::sized;
use underover::show::chain::EffectUse;
use underover::show::clip::{Fit, FootageName};

const PROGRAM: &str = env!("CARGO_BIN_EXE_underover");

const LINES: &str = "format = \"underover/chain/1\"
name = \"Lines\"

[[effect]]
use = \"edge-find\"

[[effect]]
use = \"tint\"
amount = 1.0

[[effect]]
use = \"channel-offset\"
distance = 0.05
";

const TWINS: &str = "format = \"underover/chain/1\"
name = \"Two tints\"

[[effect]]
use = \"tint\"
colour = \"#0072b2\"

[[effect]]
use = \"edge-find\"

[[effect]]
use = \"tint\"
";

/// A show of one clip whose footage is `footage`.
fn show_on(footage: &str) -> String {
    format!(
        "format = \"underover/show/1\"
name = \"Quay\"
frame = {{ width = 64, height = 36 }}
tempo_bpm = 120.0

[[bundle]]
name = \"picture\"

[[bundle.level]]
name = \"sea\"

[[bundle.level.clip]]
name = \"waves\"
footage = \"{footage}\"

[[bundle.effect]]
use = \"mirror\"

[[bundle.effect]]
use = \"edge-find\"
"
    )
}

/// A folder to run in.
struct Stage(TempDir);

/// What a run left behind.
struct Ran {
    code: i32,
    out: String,
    err: String,
}

impl Stage {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    /// With a chain, `lines.toml`, a show, `quay.toml`, and a picture of many edges, `sea.png`.
    fn set() -> Self {
        let stage = Self::new();
        stage.file("lines.toml", LINES);
        stage.file("quay.toml", show_on("sea.png"));
        busy(64, 36).save(stage.path("sea.png")).unwrap();
        stage
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn file(&self, name: &str, bytes: impl AsRef<[u8]>) {
        let path = self.path(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    }

    fn bytes(&self, name: &str) -> Vec<u8> {
        fs::read(self.path(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
    }

    fn command(&self, args: &[&str]) -> Command {
        let mut command = Command::new(PROGRAM);
        command.args(args).current_dir(self.0.path()).stdin(Stdio::null());
        for variable in ["XDG_RUNTIME_DIR", "DISPLAY", "WAYLAND_DISPLAY"] {
            command.env_remove(variable);
        }
        // Never the person's own folders.
        for variable in ["UNDEROVER_DATA", "UNDEROVER_STATE", "UNDEROVER_CONFIG"] {
            command.env(variable, self.0.path().join(".person").join(variable));
        }
        command
    }

    fn run(&self, args: &[&str]) -> Ran {
        Ran::of(&mut self.command(args))
    }

    /// Runs what has to be done.
    #[track_caller]
    fn does(&self, args: &[&str]) -> Ran {
        let ran = self.run(args);
        assert_eq!(ran.code, 0, "{args:?}\n{}{}", ran.out, ran.err);
        assert!(!ran.err.contains("error"), "{args:?}\n{}", ran.err);
        ran
    }

    /// Runs what has to be refused, in one error that has all of `says`, and without a trace.
    #[track_caller]
    fn refuses(&self, code: i32, args: &[&str], says: &[&str]) {
        let before = self.holds();
        let ran = self.run(args);
        assert_eq!(ran.code, code, "{args:?}\n{}{}", ran.out, ran.err);
        assert_eq!(ran.out, "", "{args:?}");
        assert!(ran.err.starts_with("error: "), "{args:?}\n{}", ran.err);
        assert_eq!(ran.err.matches("error:").count(), 1, "{args:?}\n{}", ran.err);
        for part in says {
            assert!(ran.err.contains(part), "{args:?}: no {part:?} in\n{}", ran.err);
        }
        assert_eq!(self.holds(), before, "{args:?} left something behind");
    }

    /// Every path here, with its length and, of files that are not huge, its bytes.
    fn holds(&self) -> BTreeMap<PathBuf, (u64, Vec<u8>)> {
        let mut found = BTreeMap::new();
        let mut folders = vec![self.0.path().to_owned()];
        while let Some(folder) = folders.pop() {
            for entry in fs::read_dir(folder).unwrap() {
                let path = entry.unwrap().path();
                let length = fs::metadata(&path).unwrap().len();
                if path.is_dir() {
                    folders.push(path.clone());
                    found.insert(path, (0, Vec::new()));
                } else {
                    let bytes = if length < 1 << 20 { fs::read(&path).unwrap() } else { Vec::new() };
                    found.insert(path, (length, bytes));
                }
            }
        }
        // What the program remembers beside what it was asked for.
        found.retain(|path, _| !path.starts_with(self.0.path().join(".person")));
        found
    }

    fn json(&self, args: &[&str]) -> Json {
        let ran = self.does(args);
        serde_json::from_str(&ran.out).unwrap_or_else(|e| panic!("{args:?}: {e}\n{}", ran.out))
    }

    /// The picture that `render` makes.
    #[track_caller]
    fn picture(&self, args: &[&str]) -> RgbaImage {
        let args = [&["render"], args, &["--out", "picture.png"]].concat();
        self.does(&args);
        image::open(self.path("picture.png")).unwrap().into_rgba8()
    }
}

impl Ran {
    fn of(command: &mut Command) -> Self {
        let output = command.output().unwrap();
        Self {
            code: output.status.code().unwrap_or(-1),
            out: String::from_utf8(output.stdout).unwrap(),
            err: String::from_utf8(output.stderr).unwrap(),
        }
    }
}

/// A picture in which neighbouring texels and the two halves differ.
fn busy(width: u32, height: u32) -> RgbaImage {
    RgbaImage::from_fn(width, height, |x, y| {
        let wave = |a: u32, b: u32| ((x * a + y * b + x * y / 7) % 256) as u8;
        Rgba([wave(37, 11), wave(5, 29), wave(17, 3), 255])
    })
}

/// The words of a list under a key.
fn words<'a>(of: &'a Json, key: &str) -> Vec<&'a str> {
    of[key].as_array().unwrap().iter().map(|word| word.as_str().unwrap()).collect()
}

fn names<'a>(list: &'a Json, key: &str) -> Vec<&'a str> {
    list.as_array().unwrap().iter().map(|entry| entry[key].as_str().unwrap()).collect()
}

/// A PNG's first bytes for a picture of this size (W3C PNG, 5.2, 5.3 and 11.2.1).
fn png_start(width: u32, height: u32) -> Vec<u8> {
    let mut chunk = b"IHDR".to_vec();
    chunk.extend(width.to_be_bytes());
    chunk.extend(height.to_be_bytes());
    chunk.extend([8, 6, 0, 0, 0]);
    let mut png = b"\x89PNG\r\n\x1a\n\0\0\0\x0d".to_vec();
    png.extend(&chunk);
    png.extend(crc_32(&chunk).to_be_bytes());
    png
}

/// The checksum of PNG chunks (W3C PNG, annex D).
fn crc_32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0, |crc, &byte| {
        (0..8).fold(crc ^ u32::from(byte), |crc, _| (crc >> 1) ^ (0xedb8_8320 * (crc & 1)))
    })
}

#[test]
fn the_checksum_is_the_one_of_png() {
    // The end chunk is the same in every PNG (W3C PNG, 11.2.5).
    let mut png = std::io::Cursor::new(Vec::new());
    busy(1, 1).write_to(&mut png, image::ImageFormat::Png).unwrap();
    assert!(png.into_inner().ends_with(&crc_32(b"IEND").to_be_bytes()));
}

// Files that are wrong

#[test]
fn a_wrong_file_is_refused_by_every_command_that_reads_it() {
    let chain = |lines: &str| format!("format = \"underover/chain/1\"\nname = \"Wrong\"\n{lines}");
    let tint = |line: &str| chain(&format!("[[effect]]\nuse = \"tint\"\n{line}\n"));
    let quay = show_on("generated:waves");
    let no_level = "format = \"underover/show/1\"\nname = \"Bare\"\n[[bundle]]\nname = \"picture\"\n";
    let twin = "[[bundle]]\nname = \"picture\"\n[[bundle.level]]\nname = \"sea\"\n[[bundle.level.clip]]\nname = \"waves\"\nfootage = \"generated:waves\"\n";
    let cases: &[(Vec<u8>, &[&str])] = &[
        (chain("[[effect]]\nuse = \"tnit\"").into(), &["wrong.toml:4:7: ", "`tnit`", "did you mean `tint`?"]),
        (tint("amuont = 0.5").into(), &["wrong.toml:5:1: ", "`amuont`", "did you mean `amount`?"]),
        (chain("tgas = []").into(), &["wrong.toml:3:1: ", "`tgas`", "did you mean `tags`?"]),
        (tint("amount = 1.5").into(), &["wrong.toml:5:10: ", "1.5", "a number from 0 to 1"]),
        (tint("amount = nan").into(), &["wrong.toml:5:10: ", "nan", "a number from 0 to 1"]),
        (tint("amount = -inf").into(), &["wrong.toml:5:10: ", "-inf", "a number from 0 to 1"]),
        (tint("colour = \"orange\"").into(), &["wrong.toml:5:10: ", "orange", "#ff8c33"]),
        (
            b"format = \"underover/chian/1\"\nname = \"x\"\n".to_vec(),
            &["wrong.toml:1:10: ", "underover/chian/1", "did you mean `underover/chain/1`?"],
        ),
        (b"name = \"x\"\n".to_vec(), &["wrong.toml:1:1: ", "needs `format`", "underover/chain/1"]),
        (b"a quay at night\n".to_vec(), &["wrong.toml:1:3: ", "no TOML"]),
        (b"".to_vec(), &["wrong.toml:1:1: ", "empty", "underover/chain/1"]),
        (b"format = \"\xff\xfe\"".to_vec(), &["wrong.toml:1:11: ", "0xff", "UTF-8"]),
        (png_start(4, 4), &["wrong.toml:1:1: ", "UTF-8"]),
        (no_level.into(), &["wrong.toml:3:1: ", "level"]),
        (
            format!("{quay}\n{twin}").into(),
            &["wrong.toml:23:8: ", "\"picture\" is already there", "its own name"],
        ),
        (quay.replace("width = 64", "width = 0").into(), &["wrong.toml:3:19: ", "width", "from 1 to"]),
        (quay.replace("120.0", "nan").into(), &["wrong.toml:4:13: ", "tempo_bpm", "nan"]),
        (show_on("generated:waevs").into(), &["wrong.toml:14:11: ", "`waevs`", "did you mean `waves`?"]),
    ];
    let stage = Stage::new();
    for (bytes, says) in cases {
        stage.file("wrong.toml", bytes);
        stage.refuses(1, &["check", "wrong.toml"], says);
        stage.refuses(1, &["orders", "wrong.toml", "--out", "wall.png", "--json", "wall.json"], says);
        stage.refuses(1, &["render", "wrong.toml", "--out", "picture.png"], says);
    }
}

#[test]
fn a_file_far_too_large_is_refused_unread() {
    let stage = Stage::set();
    let junk: Vec<u8> = (0..50_u32 << 20).map(|at| (at.wrapping_mul(2_654_435_761) >> 24) as u8).collect();
    stage.file("junk.toml", &junk);
    stage.file("junk.jpg", [b"\xff\xd8\xff", junk.as_slice()].concat());
    drop(junk);
    // No machine reads a tebibyte in the time given here. It takes no room on the disk.
    let mut hollow = Vec::new();
    for (name, start) in
        [("hollow.toml", &b"format"[..]), ("hollow.jpg", b"\xff\xd8\xff"), ("hollow.png", &png_start(4, 4))]
    {
        stage.file(name, start);
        let file = fs::File::options().write(true).open(stage.path(name)).unwrap();
        match file.set_len(1 << 40) {
            Ok(()) => hollow.push(name),
            Err(error) => eprintln!("{name} compared nothing: this disk has no file of a tebibyte ({error})"),
        }
    }
    let start = Instant::now();
    stage.refuses(1, &["check", "junk.toml"], &["`junk.toml` is larger than 4 MiB", "a few kilobytes"]);
    let footage = |name, says: &[&str]| {
        stage.refuses(1, &["render", "lines.toml", "--footage", name, "--out", "a.png"], says);
    };
    footage("junk.toml", &["junk.toml is not a picture", "PNG, JPEG, WebP or GIF"]);
    footage("junk.jpg", &["junk.jpg is damaged or cut short", "export it again"]);
    for name in hollow {
        if name.ends_with("toml") {
            stage.refuses(1, &["orders", name, "--out", "a.png"], &["larger than 4 MiB"]);
        } else {
            footage(name, &[name]);
        }
    }
    assert!(start.elapsed() < Duration::from_secs(60), "{:?}", start.elapsed());
}

#[test]
fn a_path_that_leads_to_no_file_says_where_it_ends() {
    let stage = Stage::set();
    fs::create_dir(stage.path("shows")).unwrap();
    let read = |file, says: &[&str]| {
        stage.refuses(1, &["check", file], says);
        stage.refuses(1, &["render", file, "--out", "picture.png"], says);
    };
    read("line.toml", &["no file `line.toml`", "did you mean `lines.toml`?"]);
    read("show/lines.toml", &["no folder `show`", "did you mean `shows`?"]);
    read("shows", &["`shows` is a folder", "name a chain or show file"]);
    read("lines.toml/a.toml", &["`lines.toml` is a file, not a folder"]);
}

#[test]
fn a_preset_or_source_that_is_not_there_gives_the_nearest() {
    let stage = Stage::set();
    stage.refuses(2, &["check", "preset:lamp-line"], &["`lamp-line`", "did you mean `lamp-lines`?"]);
    stage.refuses(2, &["orders", "preset:unheard-of"], &["`unheard-of`", "`all-hands`", "`night-ferry`"]);
    stage.refuses(
        2,
        &["orders", "lamp-lines"],
        &["no file `lamp-lines`", "did you mean `preset:lamp-lines`?"],
    );
    let footage = |name, says: &[&str]| {
        stage.refuses(2, &["render", "lines.toml", "--footage", name, "--out", "a.png"], says);
    };
    footage("generated:habour", &["`habour`", "did you mean `harbour`?"]);
    footage("harbour", &["no file harbour", "did you mean `generated:harbour`?"]);
}

// Footage that is wrong

#[test]
fn wrong_footage_is_refused_by_render_and_by_check() {
    let stage = Stage::set();
    let whole = stage.bytes("sea.png");
    stage.file("cut.png", &whole[..whole.len() / 2]);
    stage.file("note.png", "no picture at all");
    stage.file("empty.png", "");
    stage.file("poster.png", [png_start(30_000, 30_000), vec![0; 64]].concat());
    stage.file("flat.png", [png_start(0, 9), vec![0; 64]].concat());
    fs::create_dir(stage.path("frames")).unwrap();
    for (footage, says) in [
        ("see.png", &["no file", "see.png", "did you mean `sea.png`?"][..]),
        ("../nowhere/x.png", &["../nowhere/x.png", "no folder", "a relative path starts from"]),
        ("cut.png", &["cut.png is damaged or cut short", "export it again"]),
        ("note.png", &["note.png is not a picture", "PNG, JPEG, WebP or GIF"]),
        ("empty.png", &["empty.png is an empty file"]),
        ("lines.toml", &["lines.toml is not a picture"]),
        ("poster.png", &["poster.png is 30000x30000 texels", "up to 16384x16384"]),
        ("flat.png", &["flat.png", "0x9"]),
        ("frames", &["frames is a folder", "sea-####.png"]),
        ("sea-##.png", &["no file is named like sea-##.png", "each # stands for a digit"]),
    ] {
        let start = Instant::now();
        stage.refuses(1, &["render", "lines.toml", "--footage", footage, "--out", "a.png"], says);
        let wall = ["orders", "lines.toml", "--footage", footage, "--out", "a.png", "--json", "a.json"];
        match footage {
            // There a folder stands for all the footage in it.
            "frames" => stage.refuses(2, &wall, &["frames holds no footage", ".png"]),
            _ => stage.refuses(1, &wall, says),
        };
        stage.file("wrong.toml", show_on(footage));
        let clip = [says, &["clip:picture/sea/waves"]].concat();
        stage.refuses(1, &["check", "wrong.toml"], &[&clip[..], &["wrong.toml"]].concat());
        stage.refuses(1, &["render", "wrong.toml", "--out", "a.png"], says);
        assert!(start.elapsed() < Duration::from_secs(60), "{footage}: {:?}", start.elapsed());
    }
}

// Words that are wrong

#[test]
fn a_frame_that_is_none_is_refused() {
    let stage = Stage::set();
    for frame in ["640", "axb", "640x", "x", "", "-1x5", "1.5x2", "0x9", "9x0"] {
        let given = format!("--frame={frame}");
        let right = if frame.contains('0') && frame.contains('9') { "at least 1" } else { "1280x720" };
        stage.refuses(2, &["render", "lines.toml", &given, "--out", "a.png"], &["--frame", right]);
    }
    let adapters = stage.json(&["adapters", "--json", "-"]);
    let chosen = adapters.as_array().unwrap().iter().find(|a| a["chosen"] == true).unwrap();
    let limit = chosen["largest_side"].as_u64().unwrap();
    let frame = format!("{}x4", limit + 1);
    let says = ["a frame of", &frame, &limit.to_string(), "choose a smaller --frame"];
    stage.refuses(1, &["render", "lines.toml", "--frame", &frame, "--out", "a.png"], &says);
    stage.refuses(1, &["orders", "quay.toml", "--frame", &frame, "--out", "a.png"], &says);
}

#[test]
fn an_order_has_to_name_every_effect_once() {
    let stage = Stage::set();
    stage.file("twins.toml", TWINS);
    let refuses = |file, order, says: &[&str]| {
        let order = format!("--order={order}");
        let says = [&["--order"], says].concat();
        stage.refuses(2, &["render", file, &order, "--out", "a.png"], &says);
    };
    let chain = "1 edge-find, 2 tint, 3 channel-offset";
    refuses("lines.toml", "3,1,tnit", &["no effect `tnit`", "did you mean `tint`?", chain]);
    refuses("lines.toml", "0,1,2", &["no effect `0`", chain]);
    refuses("lines.toml", "1,2,9", &["no effect `9`", chain]);
    refuses("lines.toml", "-1,2,3", &["no effect `-1`"]);
    refuses("lines.toml", "3,1", &["`tint` is missing", "every effect once"]);
    refuses("lines.toml", ",", &["`edge-find`, `tint` and `channel-offset` are missing"]);
    refuses("lines.toml", "1,2,3,1", &["`edge-find` is named twice"]);
    refuses("lines.toml", "tint,2,1,3", &["`tint` is named twice"]);
    refuses("twins.toml", "tint,edge-find,tint", &["`tint` has the marks 1 and 3", "by its mark"]);
    let wanted = "the 3 marks of the effects (1 to 3), each once, the first applied first, such as 213";
    refuses("lines.toml", "32", &["the mark 1 is missing", wanted]);
    refuses("lines.toml", "3215", &["no effect has the mark 5", wanted]);
    refuses("lines.toml", "3211", &["the mark 1 stands twice", wanted]);
    refuses("lines.toml", "3.2.", &["`3.2.` is no row of marks", wanted]);
    refuses("lines.toml", "", &["no row of marks", wanted]);
    refuses("lines.toml", "tnit", &["no effect `tnit`", "did you mean `tint`?", wanted]);
}

#[test]
fn keeping_takes_an_order_that_is_there_and_a_place_for_it() {
    let stage = Stage::set();
    fs::create_dir(stage.path("kept")).unwrap();
    let keep = |code, words: &[&str], says: &[&str]| {
        let outputs = ["--out", "wall.png", "--json", "wall.json"];
        stage.refuses(
            code,
            &[&["orders", "lines.toml", "--frame", "64x36"], &outputs[..], words].concat(),
            says,
        );
    };
    // A rank is no name of an order: the message says what is.
    let wanted = "an order is named by its code: the 3 marks of the effects (1 to 3), each once";
    for (rank, fault) in
        [("0", "no effect has the mark 0"), ("7", "no effect has the mark 7"), ("2", "missing")]
    {
        keep(
            2,
            &["--keep", rank, "--as", "k.toml"],
            &[&format!("--keep {rank}: "), fault, wanted, "such as 213"],
        );
    }
    keep(2, &["--keep", "first", "--as", "k.toml"], &["--keep first: ", wanted]);
    keep(2, &["--keep", "123"], &["--as"]);
    keep(2, &["--as", "k.toml"], &["--keep"]);
    keep(2, &["--keep", "123", "--as", "k.png"], &["--as k.png", "name it k.toml"]);
    keep(2, &["--keep", "123", "--as", "-"], &["--as -", ".toml"]);
    keep(2, &["--keep", "123", "--as", "lines.toml"], &["--as lines.toml", "read here", "another name"]);
    keep(1, &["--keep", "123", "--as", "kept"], &["`kept`", "a folder is there"]);
    keep(1, &["--keep", "123", "--as", "keep/k.toml"], &["no folder `keep`", "make it first"]);
    keep(1, &["--keep", "123", "--as", "sea.png/k.toml"], &["`sea.png` is a file, not a folder"]);
}

#[test]
fn an_output_that_cannot_be_written_is_refused_before_any_work() {
    let stage = Stage::set();
    fs::create_dir(stage.path("walls")).unwrap();
    for (option, ending) in [("--out", "png"), ("--json", "json")] {
        let refuses = |code, path: &str, says: &[&str]| {
            stage.refuses(code, &["orders", "lines.toml", "--frame", "64x36", option, path], says);
        };
        refuses(1, &format!("wall/a.{ending}"), &["no folder `wall`", "make it first"]);
        refuses(1, "walls", &["`walls`: a folder is there"]);
        refuses(1, &format!("sea.png/a.{ending}"), &["`sea.png` is a file, not a folder"]);
        refuses(2, "", &[option, "a value is required"]);
        refuses(1, "..", &["`..`: a folder is there"]);
    }
    let render = |code, path: &str, says: &[&str]| {
        stage.refuses(code, &["render", "lines.toml", "--footage", "sea.png", "--out", path], says);
    };
    render(1, "wall/a.png", &["no folder `wall`", "make it first"]);
    render(1, "walls", &["a folder is there"]);
    render(1, "sea.png/a.png", &["`sea.png` is a file, not a folder"]);
    render(2, "a.jpg", &["--out a.jpg", "name it a.png"]);
    render(2, "-", &["--out -", "--beats"]);
    render(2, "sea.png", &["--out sea.png", "read here", "another name"]);
    for read in ["quay.toml", "sea.png"] {
        let words = ["orders", "quay.toml", "--scope", "bundle:picture", "--json", read];
        stage.refuses(2, &words, &[&format!("--json {read}"), "read here", "another name"]);
    }
    let both = ["orders", "lines.toml", "--out", "a", "--json", "a"];
    stage.refuses(2, &both, &["--out and --json both name a"]);
}

#[cfg(unix)]
#[test]
fn a_folder_that_may_not_be_written_in_is_refused_before_any_work() {
    use std::os::unix::fs::PermissionsExt as _;

    let stage = Stage::set();
    stage.file("walls/old.txt", "");
    let allow = |mode| fs::set_permissions(stage.path("walls"), fs::Permissions::from_mode(mode)).unwrap();
    allow(0o555);
    let enforced = fs::write(stage.path("walls/new.txt"), "").is_err();
    if enforced {
        let says = ["cannot write `walls/a.png`", "that you may write in"];
        stage.refuses(1, &["render", "lines.toml", "--out", "walls/a.png"], &says);
    } else {
        eprintln!("compared nothing: this account may write in folders marked read-only");
    }
    allow(0o755);
}

#[test]
fn a_dash_is_standard_output_for_figures_and_films_and_no_file_anywhere() {
    let stage = Stage::new();
    stage.file("chain.toml", LINES);
    stage.file("show.toml", show_on("generated:waves"));
    for words in [
        &["starters", "begin", "festival-night", "--out", "-"][..],
        &["starters", "keep", "show.toml", "--out", "-"],
        &["library", "put", "chain.toml", "--on", "global", "--show", "show.toml", "--out", "-"],
        &["starters", "bring", "show.toml", "--what", "bundle:picture", "--into", "show.toml", "--out", "-"],
        &["orders", "chain.toml", "--keep", "1", "--as", "-"],
        &["orders", "chain.toml", "--out", "-"],
        &["sheet", "chain.toml", "--out", "-"],
        &["report", "chain.toml", "--out", "-"],
        &["lessons", "--out", "-"],
        &["hands", "show.toml", "--out", "-"],
        &["manual", "--out", "-"],
        &["effects", "new", "own", "--folder", "-"],
    ] {
        let ran = stage.run(words);
        assert_eq!(ran.code, 2, "{words:?}: {}", ran.err);
        assert!(ran.err.contains(" -: ") && ran.err.contains("name a"), "{words:?}: {}", ran.err);
        assert!(!stage.path("-").exists(), "{words:?}");
    }
}

#[test]
fn a_scope_that_is_not_there_lists_those_that_are() {
    let stage = Stage::set();
    let refuses = |scope, says: &[&str]| {
        stage.refuses(2, &["render", "quay.toml", "--scope", scope, "--out", "a.png"], says);
    };
    let all = "`clip:picture/sea/waves`, `level:picture/sea`, `bundle:picture` and `global`";
    refuses("everything", &["--scope", "`everything`", all]);
    refuses("picture", &["did you mean `bundle:picture`?", all]);
    refuses("globl", &["did you mean `global`?", all]);
    refuses("bundle:pictures", &["did you mean `picture`?", "it has `picture`"]);
    refuses("level:picture/see", &["did you mean `sea`?", "it has `sea`"]);
    refuses("clip:picture/sea/lamp", &["`lamp`", "it has `waves`"]);
    let chain = ["render", "lines.toml", "--scope", "global", "--out", "a.png"];
    stage.refuses(2, &chain, &["--scope", "lines.toml is a chain", "leave it out"]);
    let footage = ["render", "quay.toml", "--footage", "sea.png", "--out", "a.png"];
    stage.refuses(2, &footage, &["--footage", "quay.toml is a show", "in the file"]);
}

#[test]
fn other_wrong_words_say_what_would_be_right() {
    let stage = Stage::set();
    let render = ["render", "lines.toml", "--out", "a.png"];
    let refuses = |words: &[&str], says: &[&str]| stage.refuses(2, &[&render[..], words].concat(), says);
    refuses(
        &["--adapter", "paddle steamer"],
        &["no GPU adapter is called `paddle steamer`", "this machine has"],
    );
    for beats in ["nan", "inf", "-inf", "soon", "1e10"] {
        refuses(&[&format!("--at={beats}")], &["--at", beats, "a number of beats", "0.1"]);
    }
    refuses(&["--pixels", "8bit"], &["--pixels", "encoded-8bit", "linear-float"]);
    refuses(&["--fit", "cover"], &["--fit", "whole", "stretched"]);
    refuses(&["--footge", "sea.png"], &["--footge", "--footage"]);
    for (option, value) in [("--memory", "0"), ("--memory", "-5"), ("--memory", "lots"), ("--most", "0")] {
        let given = format!("{option}={value}");
        stage.refuses(2, &["orders", "lines.toml", &given], &[option, value, "a whole number from 1 to"]);
    }
    stage.refuses(
        1,
        &["orders", "lines.toml", "--frame", "1280x720", "--memory", "1"],
        &["1 MiB", "--memory"],
    );
    stage.refuses(2, &["ordrs", "lines.toml"], &["ordrs", "orders"]);
    stage.refuses(2, &["orders"], &["name a chain or show file", "underover orders FILE"]);
    stage.refuses(2, &["render", "lines.toml"], &["--out"]);
    stage.refuses(2, &["check"], &["<FILE>"]);
    stage.refuses(2, &["effects", "tnt"], &["`tnt`", "did you mean `tint`?"]);
    stage.refuses(2, &["effects", "harbor"], &["`harbor`", "did you mean `harbour`?"]);
    stage.refuses(
        1,
        &["effects", "--effects", "nowhere"],
        &["cannot read nowhere", "name a folder of .wgsl files"],
    );
}

#[test]
fn a_cause_is_said_once() {
    let stage = Stage::new();
    let ran = stage.run(&["effects", "--effects", "nowhere"]);
    assert_eq!(ran.err.matches("(os error 2)").count(), 1, "{}", ran.err);
}

// Runs that are right

#[test]
fn check_says_which_files_are_right_and_what_is_wrong_with_the_others() {
    let stage = Stage::set();
    stage.file("wrong.toml", "format = 1");
    let all = ["check", "wrong.toml", "lines.toml", "missing.toml", "quay.toml", "preset:all-hands"];
    let ran = stage.run(&all);
    assert_eq!(ran.code, 1);
    assert_eq!(
        ran.out,
        "lines.toml: right (chain `Lines`, 3 effects)\n\
         quay.toml: right (show `Quay`, 1 bundle, 1 level)\n\
         preset:all-hands: right (chain `All hands`, 5 effects)\n"
    );
    let errors: Vec<&str> = ran.err.lines().collect();
    assert_eq!(errors.len(), 2, "{}", ran.err);
    assert!(errors[0].starts_with("error: wrong.toml:1:10: "), "{}", ran.err);
    assert!(errors[1].starts_with("error: there is no file `missing.toml`"), "{}", ran.err);
    let ran = stage.does(&["check", "lines.toml"]);
    assert_eq!((ran.out.lines().count(), ran.err.as_str()), (1, ""));
}

#[test]
fn orders_counts_what_differs_and_what_can() {
    let stage = Stage::set();
    let figures = stage.json(&[
        "orders",
        "preset:all-hands",
        "--footage",
        "sea.png",
        "--frame",
        "64x36",
        "--at",
        "0.1",
        "--json",
        "-",
    ]);
    // 5 effects have 5! orders. The proofs leave 54 that can differ, and on a picture of many edges all do.
    assert_eq!(
        (&figures["orders_total"], &figures["classes"], &figures["distinct"]),
        (&120.into(), &54.into(), &54.into())
    );
    let orders = figures["order"].as_array().unwrap();
    assert_eq!(orders.len(), 54);
    let own = ["tint", "flash-gate", "edge-find", "channel-offset", "mirror"];
    let mut pictures = BTreeMap::new();
    let mut codes = std::collections::BTreeSet::new();
    for (at, order) in orders.iter().enumerate() {
        let names: Vec<&str> =
            order["order"].as_array().unwrap().iter().map(|n| n.as_str().unwrap()).collect();
        let places = order["places"].as_array().unwrap();
        let by_place: Vec<&str> = places.iter().map(|p| own[p.as_u64().unwrap() as usize - 1]).collect();
        assert_eq!(names, by_place);
        let code: String = places.iter().map(ToString::to_string).collect();
        assert_eq!(order["code"], code);
        if at == 0 {
            assert_eq!((names, &figures["own_order"]), (own.to_vec(), &order["code"]));
        }
        let picture = order["picture"].as_str().unwrap();
        assert!(picture.len() == 32 && picture.bytes().all(|b| b.is_ascii_hexdigit()), "{picture}");
        pictures.insert(picture, at);
        assert_eq!(order["same_as"], order["code"]);
        codes.insert(code);
    }
    assert_eq!((pictures.len(), codes.len()), (54, 54));
    let sum: u64 = orders.iter().map(|order| order["orders"].as_u64().unwrap()).sum();
    assert_eq!(sum, 120);
    for (key, value) in
        [("frame", "64x36"), ("footage", "sea.png"), ("pixels", "encoded-8bit"), ("name", "All hands")]
    {
        assert_eq!(figures[key], value);
    }
    assert_eq!(figures["at_beats"], 0.1);
}

#[test]
fn orders_writes_what_it_is_asked_for_and_nothing_else() {
    let stage = Stage::set();
    let on = ["orders", "lines.toml", "--footage", "sea.png", "--frame", "64x36"];
    let with = |words: &[&str]| stage.does(&[&on[..], words].concat());
    let before = stage.holds().len();

    let listed = with(&[]);
    let first = listed.out.lines().next().unwrap();
    assert!(first.contains(" % of what order does here"), "{first}");
    let counted = "\n6 orders, 6 that can differ, 6 that differ here, ";
    assert!(listed.out.contains(counted), "{}", listed.out);
    // The summary and the orders; a question stands behind its share.
    let numbered = |text: &str| {
        let begins = |line: &&str| line.trim_start().starts_with(|c: char| c.is_ascii_digit());
        text.lines().filter(begins).filter(|line| !line.contains('%')).count()
    };
    assert_eq!(numbered(&listed.out), 7, "{}", listed.out);
    assert!(!listed.out.contains("Which look you get (first match wins)"), "{}", listed.out);
    let ruled = with(&["--rules"]);
    assert!(
        ruled.out.contains("Which look you get (first match wins)") && ruled.out.contains(first),
        "{}",
        ruled.out
    );
    assert!(listed.out.contains("  123  edge-find, then tint, then channel-offset"), "{}", listed.out);
    let keeping = listed
        .out
        .split_once("\nSave one as a chain file by its code: underover orders lines.toml --keep ")
        .unwrap()
        .1;
    let other = keeping.strip_suffix(" --as NAME.toml\n").unwrap();
    assert!(other != "123" && listed.out.contains(&format!("\n  {other}  ")), "{}", listed.out);
    assert_eq!((listed.err.as_str(), stage.holds().len()), ("", before));

    let figures = with(&["--json", "-"]);
    assert_eq!((figures.err.as_str(), stage.holds().len()), ("", before));
    let filed = with(&["--json", "wall.json"]);
    assert_eq!(stage.holds().len(), before + 1);
    assert_eq!(numbered(&filed.out), 1, "{}", filed.out);
    assert_eq!(filed.err, "wrote wall.json (6 orders)\n");
    assert_eq!(String::from_utf8(stage.bytes("wall.json")).unwrap(), figures.out);

    let wall = with(&["--out", "wall.png"]);
    assert_eq!(stage.holds().len(), before + 2);
    let figures: Json = serde_json::from_slice(&stage.bytes("wall.json")).unwrap();
    let (looks, families) = (figures["looks"].as_u64().unwrap(), figures["families"].as_array().unwrap());
    let pictures =
        wall.err.strip_prefix("wrote wall.png (").and_then(|said| said.strip_suffix(" pictures)\n"));
    let pictures: u64 = pictures.unwrap_or_else(|| panic!("{}", wall.err)).parse().unwrap();
    assert!(
        (looks.max(families.len() as u64)..=6).contains(&pictures),
        "{pictures} pictures of {looks} looks"
    );
    let every = with(&["--out", "every.png", "--most", "6"]);
    assert_eq!(every.err, "wrote every.png (6 pictures)\n");
    let sheet = image::open(stage.path("wall.png")).unwrap();
    assert!(sheet.width() > 3 * 64 && sheet.height() > 2 * 36, "{}x{}", sheet.width(), sheet.height());

    let short = with(&["--out", "two.png", "--most", "2"]);
    assert_eq!(short.err, "wrote two.png (2 pictures)\n");
}

#[test]
fn an_order_that_is_kept_renders_as_on_the_wall() {
    let stage = Stage::set();
    let on = ["--footage", "sea.png", "--frame", "64x36", "--at", "0.1"];
    let orders =
        |file, words: &[&str]| stage.json(&[&["orders", file, "--json", "-"], &on[..], words].concat());
    let wall = orders("preset:all-hands", &[]);
    let kept = &wall["order"][29];
    assert_ne!(kept["picture"], wall["order"][0]["picture"]);
    let code = kept["code"].as_str().unwrap();
    orders("preset:all-hands", &["--keep", code, "--as", "mine.toml"]);

    let checked = stage.does(&["check", "mine.toml"]);
    assert_eq!(checked.out, format!("mine.toml: right (chain `All hands {code}`, 5 effects)\n"));
    assert_eq!(orders("mine.toml", &[])["order"][0]["picture"], kept["picture"]);
    let places: Vec<String> = kept["places"].as_array().unwrap().iter().map(ToString::to_string).collect();
    let by_file = stage.picture(&[&["mine.toml"], &on[..]].concat());
    let by_order = stage.picture(&[&["preset:all-hands", "--order", &places.join(",")], &on[..]].concat());
    assert_eq!(by_file, by_order);
    let by_code = stage.picture(&[&["preset:all-hands", "--order", code], &on[..]].concat());
    assert_eq!(by_file, by_code);
}

#[test]
fn any_order_of_a_chain_is_kept_just_as_its_code_says() {
    let stage = Stage::set();
    let on = ["--footage", "sea.png", "--frame", "64x36", "--json", "-"];
    let own = ["tint", "flash-gate", "edge-find", "channel-offset", "mirror"];
    let of = |at: &str| stage.json(&[&["orders", "preset:all-hands", "--at", at], &on[..]].concat());
    // Many orders stand on no wall: another stands for them. Which one does depends on the moment.
    let shown = |figures: &Json| -> Vec<String> {
        figures["order"]
            .as_array()
            .unwrap()
            .iter()
            .map(|order| order["code"].as_str().unwrap().to_owned())
            .collect()
    };
    let (open, shut) = (shown(&of("0.1")), shown(&of("0.6")));
    assert_ne!(open, shut);
    for code in ["54321", "15243", "45312"] {
        assert!(!open.contains(&code.to_owned()) || !shut.contains(&code.to_owned()), "{code}");
        let ran =
            stage.does(&["orders", "preset:all-hands", "--at", "0.6", "--keep", code, "--as", "kept.toml"]);
        let places = code.bytes().map(|mark| usize::from(mark - b'1'));
        let said: Vec<&str> = places.map(|place| own[place]).collect();
        assert_eq!(
            ran.err.lines().next(),
            Some(&*format!("wrote kept.toml ({code}: {})", said.join(", then ")))
        );
        // Only to keep one, nothing is rendered and nothing listed.
        assert_eq!(ran.out, "");
        let kept = stage.json(&["orders", "kept.toml", "--json", "-", "--frame", "16x9"]);
        assert_eq!(words(&kept["order"][0], "order"), said);
        assert_eq!(kept["name"], format!("All hands {code}"));
        fs::remove_file(stage.path("kept.toml")).unwrap();
    }
}

#[test]
fn codes_of_more_than_nine_effects_are_set_apart_by_dots() {
    let stage = Stage::set();
    let effect = |n: u32| format!("[[effect]]\nuse = \"tint\"\namount = 0.{n:02}\n");
    let chain = |places: &[u32]| {
        let head = "format = \"underover/chain/1\"\nname = \"Long\"\n";
        places.iter().fold(head.to_owned(), |text, &place| text + &effect(place))
    };
    stage.file("long.toml", chain(&(1..=12).collect::<Vec<_>>()));
    let places = [2, 1, 12, 3, 4, 5, 6, 7, 8, 9, 10, 11];
    stage.file("turned.toml", chain(&places));
    let on = ["--footage", "sea.png", "--frame", "16x9"];
    let picture = |file, words: &[&str]| stage.picture(&[&[file], words, &on[..]].concat());
    let code = "2.1.12.3.4.5.6.7.8.9.10.11";
    assert_eq!(picture("long.toml", &["--order", code]), picture("turned.toml", &[]));
    let refused = ["render", "long.toml", "--order", "211234567891011", "--out", "a.png"];
    stage.refuses(2, &refused, &["set apart by dots", "the 12 marks", "such as 2.1.3.4"]);
    let figures = stage.json(&[&["orders", "long.toml", "--json", "-"], &on[..]].concat());
    assert_eq!(figures["own_order"], "1.2.3.4.5.6.7.8.9.10.11.12");
}

#[test]
fn an_order_of_a_show_is_kept_as_a_chain() {
    let stage = Stage::set();
    let ran = stage.does(&["orders", "quay.toml", "--keep", "21", "--as", "mine.toml"]);
    assert!(ran.err.contains("wrote mine.toml (21: edge-find, then mirror)"), "{}", ran.err);
    let listed = stage.does(&["orders", "quay.toml"]).out;
    let command = "underover orders quay.toml --scope bundle:picture --keep 21 --as NAME.toml";
    assert!(listed.contains(command), "{listed}");
    let swapped = stage.picture(&["quay.toml", "--scope", "bundle:picture", "--order", "2,1"]);
    let kept = stage.picture(&["mine.toml", "--footage", "sea.png", "--frame", "64x36"]);
    assert_eq!(swapped, kept);
}

#[test]
fn an_order_is_named_by_its_code_by_marks_or_by_names() {
    let stage = Stage::set();
    stage.file("twins.toml", TWINS);
    let on = ["--footage", "sea.png", "--frame", "64x36"];
    let picture = |file, order| stage.picture(&[&[file, "--order", order], &on[..]].concat());
    let own = stage.picture(&[&["lines.toml"], &on[..]].concat());
    assert_eq!(picture("lines.toml", "1,2,3"), own);
    let other = picture("lines.toml", "3,1,2");
    assert_ne!(other, own);
    for order in ["312", "3.1.2", "channel-offset,edge-find,tint", "3, edge-find ,2"] {
        assert_eq!(picture("lines.toml", order), other, "{order}");
    }
    // The same order, written as a file of its own.
    let effects: Vec<&str> = LINES.split("[[effect]]").collect();
    let moved = [effects[0], effects[3], effects[1], effects[2]].join("[[effect]]");
    stage.file("moved.toml", moved);
    assert_eq!(stage.picture(&[&["moved.toml"], &on[..]].concat()), other);
    assert_eq!(picture("twins.toml", "tint 2,edge-find,tint 1"), picture("twins.toml", "3,2,1"));
    assert_ne!(picture("twins.toml", "3,2,1"), picture("twins.toml", "1,2,3"));
}

#[test]
fn a_show_looks_the_same_from_every_scope() {
    let stage = Stage::new();
    let on = ["preset:night-ferry", "--frame", "64x36", "--at", "0.1"];
    let from = |scope| stage.picture(&[&on[..], &["--scope", scope]].concat());
    let whole = from("global");
    assert!(whole.pixels().any(|texel| texel != whole.get_pixel(0, 0)));
    for scope in [
        "bundle:picture",
        "bundle:signs",
        "level:picture/crossing",
        "level:picture/windows",
        "level:picture/rigging",
        "level:signs/mark",
        "clip:picture/crossing/harbour",
        "clip:picture/windows/ferry windows",
        "clip:picture/rigging/lattice",
        "clip:signs/mark/ship mark",
    ] {
        assert_eq!(from(scope), whole, "{scope}");
    }
    // These two are hidden by other clips of their levels, and are brought to show.
    for scope in ["clip:picture/crossing/waves", "clip:picture/windows/lamp"] {
        assert_ne!(from(scope), whole, "{scope}");
    }
    let ran = stage
        .does(&[&["render"], &on[..], &["--scope", "clip:picture/windows/lamp", "--out", "a.png"]].concat());
    assert!(ran.err.contains("shows `ferry windows`; `lamp` is shown here instead"), "{}", ran.err);
    let ran = stage.does(&[&["render"], &on[..], &["--out", "a.png"]].concat());
    assert!(ran.err.contains("scope: bundle:picture"), "{}", ran.err);
}

#[test]
fn a_beat_before_the_start_is_a_beat_like_any_other() {
    let stage = Stage::set();
    let at = |beats: &str| {
        let at = format!("--at={beats}");
        stage.picture(&["preset:all-hands", "--footage", "sea.png", "--frame", "64x36", &at])
    };
    // One flash a beat, open for the first half of it.
    assert_eq!(at("-0.9"), at("0.1"));
    assert_eq!(at("-0.4"), at("0.6"));
    assert_ne!(at("-0.9"), at("-0.4"));
}

#[test]
fn every_preset_is_right_and_renders_and_its_orders_are_told() {
    let stage = Stage::new();
    let presets = |folder| {
        let entries =
            fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("presets").join(folder)).unwrap();
        let stem = |path: PathBuf| path.file_stem().unwrap().to_str().unwrap().to_owned();
        entries.map(|entry| format!("preset:{}", stem(entry.unwrap().path()))).collect::<Vec<_>>()
    };
    let all = [presets("chains"), presets("shows")].concat();
    assert!(all.len() >= 8, "{all:?}");
    for preset in &all {
        stage.does(&["check", preset]);
        let picture = stage.picture(&[preset, "--frame", "64x36", "--at", "0.1"]);
        assert_eq!(picture.dimensions(), (64, 36));
        assert!(picture.pixels().any(|texel| texel != picture.get_pixel(0, 0)), "{preset} is a flat picture");
        let figures = stage.json(&["orders", preset, "--frame", "64x36", "--at", "0.1", "--json", "-"]);
        assert!(figures["distinct"].as_u64() > Some(1), "{preset}: {}", figures["distinct"]);
    }
    let names: Vec<&str> = all.iter().map(|preset| preset.strip_prefix("preset:").unwrap()).collect();
    let ran = stage.run(&["check", "preset:unheard-of"]);
    for name in names {
        assert!(ran.err.contains(&format!("`{name}`")), "{name} is not among the known: {}", ran.err);
    }
}

#[test]
fn footage_of_every_kind_is_placed_in_every_way() {
    let stage = Stage::new();
    // No effect: the picture is the footage.
    stage.file("bare.toml", "format = \"underover/chain/1\"\nname = \"Bare\"\n");
    let sea = busy(40, 40);
    for name in ["sea.png", "sea.webp", "sea.gif", "frames/sea-01.png"] {
        fs::create_dir_all(stage.path("frames")).unwrap();
        sea.save(stage.path(name)).unwrap();
    }
    RgbaImage::from_pixel(40, 40, Rgba([9, 9, 9, 255])).save(stage.path("frames/sea-02.png")).unwrap();
    image::DynamicImage::ImageRgba8(sea.clone()).into_rgb8().save(stage.path("sea.jpg")).unwrap();
    for footage in ["sea.png", "sea.jpg", "sea.webp", "sea.gif", "frames/sea-##.png"] {
        let placed = |fit: &str, frame: &str| {
            stage.picture(&["bare.toml", "--footage", footage, "--fit", fit, "--frame", frame])
        };
        let exact = placed("whole", "40x40");
        for fit in ["contained", "stretched", "centred", "fill", "fit", "stretch", "centre"] {
            assert_eq!(placed(fit, "40x40"), exact, "{footage} {fit}");
        }
        if footage.ends_with("png") || footage.ends_with("webp") {
            assert_eq!(exact, sea, "{footage}");
        }
        let wide: Vec<RgbaImage> =
            ["whole", "contained", "stretched", "centred"].iter().map(|fit| placed(fit, "80x40")).collect();
        // What they were called before is still understood.
        for (old, now) in ["fill", "fit", "stretch", "centre"].iter().zip(&wide) {
            assert!(placed(old, "80x40") == *now, "{footage} {old}");
        }
        let nothing = Rgba([0; 4]);
        for (picture, bars) in wide.iter().zip([false, true, false, true]) {
            assert_eq!(picture.dimensions(), (80, 40));
            assert_eq!(*picture.get_pixel(0, 20) == nothing, bars, "{footage}");
            assert_ne!(*picture.get_pixel(40, 20), nothing, "{footage}");
        }
        // Of its own height, the whole picture stands in the middle either way; cut or drawn out it does not.
        assert_eq!(wide[1], wide[3], "{footage}");
        assert!(wide[0] != wide[2] && wide[1] != wide[0] && wide[1] != wide[2], "{footage}");
    }
    // At 120 beats a minute a beat is half a second; a sequence runs at 25 pictures a second.
    let second =
        stage.picture(&["bare.toml", "--footage", "frames/sea-##.png", "--frame", "4x4", "--at", "0.1"]);
    assert_eq!(*second.get_pixel(0, 0), Rgba([9, 9, 9, 255]));
}

#[test]
fn an_animation_follows_the_beat() {
    let stage = Stage::new();
    stage.file("bare.toml", "format = \"underover/chain/1\"\nname = \"Bare\"\n");
    let mut gif = Vec::new();
    let mut encoder = image::codecs::gif::GifEncoder::new(&mut gif);
    encoder.set_repeat(image::codecs::gif::Repeat::Infinite).unwrap();
    for grey in [0, 255] {
        let flat = RgbaImage::from_pixel(4, 4, Rgba([grey, grey, grey, 255]));
        let tenth = image::Delay::from_numer_denom_ms(100, 1);
        encoder.encode_frame(GifFrame::from_parts(flat, 0, 0, tenth)).unwrap();
    }
    drop(encoder);
    stage.file("lamp.gif", gif);
    let lit = |beats: &str| {
        stage
            .picture(&["bare.toml", "--footage", "lamp.gif", "--frame", "4x4", "--at", beats])
            .get_pixel(0, 0)[0]
    };
    // A beat is half a second: beat 0.1 is in the first tenth, beat 0.3 in the second, beat 0.5 in the first again.
    assert_eq!(["0.1", "0.3", "0.5"].map(lit), [0, 255, 0]);
}

#[test]
fn both_pixel_modes_render_and_differ() {
    let stage = Stage::set();
    let on = ["lines.toml", "--footage", "sea.png", "--frame", "64x36"];
    let own = stage.picture(&on);
    let with = |mode| stage.picture(&[&on[..], &["--pixels", mode]].concat());
    assert_eq!(with("encoded-8bit"), own);
    assert_ne!(with("linear-float"), own);
}

#[test]
fn effects_lists_every_effect_and_every_setting() {
    let stage = Stage::new();
    let list = stage.does(&["effects"]);
    let figures = stage.json(&["effects", "--json", "-"]);
    let shaders: Vec<String> = ["effects", "footage"]
        .iter()
        .flat_map(|folder| {
            let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("shaders").join(folder);
            fs::read_dir(folder)
                .unwrap()
                .map(|e| e.unwrap().path().file_stem().unwrap().to_str().unwrap().to_owned())
        })
        .collect();
    assert!(shaders.len() >= 13);
    let mut known = names(&figures, "name");
    known.sort_unstable();
    let mut expected: Vec<&str> = shaders.iter().map(String::as_str).collect();
    expected.sort_unstable();
    assert_eq!(known, expected);
    for entry in figures.as_array().unwrap() {
        let (name, summary) = (entry["name"].as_str().unwrap(), entry["summary"].as_str().unwrap());
        assert!(list.out.lines().any(|l| l.trim_start().starts_with(name) && l.ends_with(summary)), "{name}");
        let full = stage.does(&["effects", name]).out;
        for setting in entry["settings"].as_array().unwrap() {
            for key in ["name", "help", "unit", "default"] {
                let part = setting[key].as_str().unwrap();
                assert!(full.contains(part), "{name}: no {key} {part:?} in\n{full}");
            }
            if let Some(range) = setting["allowed"].as_array().filter(|_| setting["kind"] == "number") {
                assert!(
                    full.contains(&format!("from {} to {}", range[0], range[1]).replace(".0", "")),
                    "{full}"
                );
            }
        }
    }
    // What people call it leads there too; several are listed, the nearest first.
    assert_eq!(stage.does(&["effects", "strobe"]).out, stage.does(&["effects", "flash-gate"]).out);
    assert_eq!(stage.does(&["effects", "mirror", "tiles"]).out, stage.does(&["effects", "wedge-repeat"]).out);
    let colour = stage.does(&["effects", "colour"]).out;
    assert!(
        colour.contains("Found by `colour`")
            && colour.contains("\n  tint ")
            && colour.contains("\n  hue-turn "),
        "{colour}"
    );
    let tint = stage.does(&["effects", "tint"]).out;
    assert!(tint.contains("a number from 0 to 1 (share), default 0.6"), "{tint}");
    assert!(tint.contains("such as \"#ff8c33\" (sRGB), default"), "{tint}");
    let flash = stage.does(&["effects", "flash-gate"]).out;
    assert!(flash.contains("Caution: ") && !tint.contains("Caution: "), "{flash}");
}

#[test]
fn adapters_marks_the_one_in_use() {
    let stage = Stage::new();
    let ran = stage.does(&["adapters"]);
    assert_eq!(
        ran.out.lines().filter(|l| l.starts_with("-> ") && l.contains("frames up to")).count(),
        1,
        "{}",
        ran.out
    );
    let figures = stage.json(&["adapters", "--json", "-"]);
    let all = figures.as_array().unwrap();
    assert_eq!(all.iter().filter(|adapter| adapter["chosen"] == true).count(), 1);
    let last = all.last().unwrap();
    let called = format!("{} {}", last["name"].as_str().unwrap(), last["backend"].as_str().unwrap());
    let other = stage.json(&["adapters", "--adapter", &called, "--json", "-"]);
    assert_eq!(other.as_array().unwrap().last().unwrap()["chosen"], true, "{other}");
    stage.refuses(2, &["adapters", "--adapter", "paddle steamer"], &["paddle steamer", "this machine has"]);
}

#[test]
fn a_missing_session_is_not_reported_but_all_else_is() {
    let stage = Stage::new();
    assert_eq!(stage.does(&["adapters"]).err, "");
    // The Vulkan loader's own tracing stands for whatever a driver has to say.
    let traced = |session: bool| {
        let mut command = stage.command(&["adapters"]);
        command.env("VK_LOADER_DEBUG", "all");
        if session {
            command.env("XDG_RUNTIME_DIR", stage.0.path());
        }
        Ran::of(&mut command)
    };
    if traced(true).err.is_empty() {
        eprintln!("compared nothing: there is no Vulkan loader here that traces");
        return;
    }
    let without = traced(false);
    assert!(without.err.lines().count() > 10, "{}", without.err);
    assert!(!without.err.contains("XDG_RUNTIME_DIR"), "{}", without.err);
}

#[test]
fn without_a_command_the_demo_wall_is_written_and_named() {
    let stage = Stage::new();
    let ran = stage.does(&[]);
    let mut files: Vec<PathBuf> = stage.holds().into_keys().collect();
    files.sort();
    assert_eq!(files, [stage.path("underover-wall.json"), stage.path("underover-wall.png")]);
    for name in ["underover-wall.png", "underover-wall.json"] {
        assert!(ran.err.contains(&format!("wrote {name}")), "{}", ran.err);
    }
    assert!(ran.out.contains("120 orders, 36 that can differ"), "{}", ran.out);
    assert!(ran.out.contains("Two questions decide 86 %"), "{}", ran.out);
    assert!(ran.out.contains("Next"), "{}", ran.out);
    assert!(image::open(stage.path("underover-wall.png")).unwrap().width() > 640);
}

#[cfg(unix)]
#[test]
fn every_command_has_examples_in_its_help_that_work_as_they_stand() {
    let stage = Stage::new();
    busy(96, 54).save(stage.path("sea.png")).unwrap();
    image::DynamicImage::ImageRgba8(busy(96, 54)).into_rgb8().save(stage.path("photo.jpg")).unwrap();
    for name in ["show.toml", "friday.toml"] {
        stage.file(name, show_on("sea.png"));
    }
    stage.file(
        "night.toml",
        show_on("sea.png").replacen("\n[[bundle]]", "\nrunning_order = [\"quay\"]\n\n[[bundle]]", 1)
            + "\n[[section]]\nname = \"quay\"\nbeats = 1.0\n",
    );
    stage.file("shows/saturday.toml", show_on("../sea.png"));
    stage.file("chains/lines.toml", LINES);
    let (_, lesson) =
        underover::base::embedded::LESSONS.iter().find(|(name, _)| name.contains("mirror")).unwrap();
    stage.file("my-lesson.toml", lesson);
    stage.file("glow.wgsl", include_str!("../own_effects/light-paint.wgsl"));
    let help = stage.does(&["--help"]).out;
    let commands: Vec<&str> = help
        .split_once("Commands:\n")
        .unwrap()
        .1
        .lines()
        .take_while(|line| !line.is_empty())
        .map(|line| line.split_whitespace().next().unwrap())
        .filter(|&name| name != "help")
        .collect();
    assert!(commands.len() >= 5, "{commands:?}");
    let mut all = vec![("underover", help.clone())];
    all.extend(commands.iter().map(|name| (*name, stage.does(&[name, "--help"]).out)));
    let folder = Path::new(PROGRAM).parent().unwrap().to_str().unwrap();
    let search = format!("{folder}:{}", std::env::var("PATH").unwrap_or_default());
    for (name, help) in &all {
        let (_, examples) = help.split_once("Examples:\n").unwrap_or_else(|| panic!("{name} has no example"));
        let examples: Vec<&str> =
            examples.lines().take_while(|line| line.starts_with("  ")).map(str::trim).collect();
        assert!(!examples.is_empty(), "{name}: {help}");
        for example in examples {
            // What stands behind three spaces says what the example does.
            let line = example.split("   ").next().unwrap();
            let own =
                if *name == "underover" { "underover ".to_owned() } else { format!("underover {name}") };
            assert!(line.starts_with(&own), "{line}");
            if *name == "bench" {
                // It times for minutes on a software adapter.
                continue;
            }
            // Whether it works does not hang on the size of its pictures, how long it is waited for does.
            let takes_a_frame = help.contains("--frame <") && !line.contains("--frame ");
            let size = if takes_a_frame { " --frame 96x54" } else { "" };
            let line = &line.replacen(&own, &format!("{own}{size}"), 1);
            let mut shell = Command::new("sh");
            shell.args(["-c", line]).env("PATH", &search).current_dir(stage.0.path());
            // What is kept for good is kept here, not in the folders of whoever runs the tests.
            shell.env("UNDEROVER_DATA", stage.path("data")).env("UNDEROVER_STATE", stage.path("state"));
            shell.env("HOME", stage.0.path());
            let ran = Ran::of(&mut shell);
            assert_eq!(ran.code, 0, "{line}\n{}", ran.err);
        }
    }
}

#[test]
fn a_reader_that_goes_away_is_no_failure() {
    let stage = Stage::set();
    for words in [
        &["effects"][..],
        &["check", "lines.toml"],
        &["orders", "lines.toml", "--frame", "64x36"],
        &["--help"],
    ] {
        let mut command = stage.command(words);
        let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        drop(child.stdout.take());
        let output = child.wait_with_output().unwrap();
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success() && !said.contains("panicked"), "{words:?}: {said}");
    }
}

#[test]
fn effects_of_ones_own_are_used_by_name() {
    let stage = Stage::set();
    let shader =
        fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("shaders/effects/tint.wgsl")).unwrap();
    stage.file("own/wash.wgsl", &shader);
    stage.file("wash.toml", "format = \"underover/chain/1\"\nname = \"Wash\"\n[[effect]]\nuse = \"wash\"\n");
    stage.file("tint.toml", "format = \"underover/chain/1\"\nname = \"Tint\"\n[[effect]]\nuse = \"tint\"\n");
    stage.refuses(1, &["check", "wash.toml"], &["wash.toml:4:7: ", "`wash`"]);
    stage.does(&["check", "wash.toml", "--effects", "own"]);
    let on = ["--footage", "sea.png", "--frame", "64x36", "--effects", "own"];
    let picture = |file| stage.picture(&[&[file], &on[..]].concat());
    assert_eq!(picture("wash.toml"), picture("tint.toml"));
    stage.file("own/wash.wgsl", shader.replace("fn ", "fnn "));
    // Told of the file, and of the chain that uses it.
    let ran = stage.run(&["check", "wash.toml", "--effects", "own"]);
    assert_eq!(ran.code, 1, "{}", ran.err);
    assert!(ran.err.starts_with("note: own/wash.wgsl:"), "{}", ran.err);
    assert!(
        ran.err.contains("error: wash.toml:4:7: the effect `wash` cannot be used: own/wash.wgsl:"),
        "{}",
        ran.err
    );
    fs::rename(stage.path("own/wash.wgsl"), stage.path("own/tint.wgsl")).unwrap();
    stage.file("own/tint.wgsl", shader);
    // The program's own stays in use, and what to do is told.
    let ran = stage.does(&["check", "tint.toml", "--effects", "own"]);
    for part in ["own/tint.wgsl", "already there", "rename"] {
        assert!(ran.err.contains(part), "{}", ran.err);
    }
    // Two documents are read by one catalogue.
    let ran = stage.does(&[&["compare", "tint.toml", "lines.toml"], &on[..]].concat());
    assert_eq!(ran.err.matches("own/tint.wgsl").count(), 1, "{}", ran.err);
}

#[test]
fn long_work_tells_how_far_it_has_come() {
    let catalogue = Catalogue::built_in().unwrap();
    let chain: Vec<EffectUse> = ["edge-find", "mirror", "channel-offset", "edge-find", "tint"]
        .map(|name| EffectUse::new(catalogue.effect(name).unwrap().clone()))
        .to_vec();
    let moment = Moment::at(Frame { width: 640, height: 360 }, PixelMode::default(), 120.0, 0.0);
    let waves = FootageName::Generated("waves".to_owned());
    let path =
        underover::plan::Path::of_chain(&chain, &waves, Fit::Whole, moment, &mut Shelf::new(&catalogue))
            .unwrap();
    let classes = Classes::new((0..chain.len()).collect(), |_, _| false).all();
    let mut renderer = Renderer::new(Gpu::open(None).unwrap());
    let mut told = Vec::new();
    let tree = Tree::of(&classes, |_| false);
    renderer.explore(&path, &tree, &Asked::default(), |done| told.push(done)).unwrap();
    assert!(told.is_sorted(), "{told:?}");
    assert_eq!(told.last(), Some(&classes.len()));
    if renderer.gpu().adapter().kind == "software" {
        // 120 orders of 640x360 are more than 50 million texels: seconds of work.
        assert!(told.iter().filter(|&&done| 0 < done && done < classes.len()).count() >= 2, "{told:?}");
    }
}

#[test]
fn orders_gathers_looks_and_the_rules_give_every_order_its_look() {
    let stage = Stage::set();
    let on = [
        "orders",
        "preset:all-hands",
        "--footage",
        "sea.png",
        "--frame",
        "64x36",
        "--at",
        "0.1",
        "--json",
        "-",
    ];
    let figures = stage.json(&on);
    let looks = figures["look"].as_array().unwrap();
    assert_eq!(figures["looks"], looks.len());
    assert!((2..=54).contains(&looks.len()), "{} looks", looks.len());
    assert_eq!((&figures["rule_misses"], &figures["looked_at"]), (&0.into(), &"64x36".into()));
    assert_eq!(looks[0]["code"], figures["own_order"], "the file's own order opens the first look");
    let holds = |order: &Json, fact: &str| {
        let (before, after) = fact.split_once(" before ").unwrap();
        let place = |name: &str| words(order, "order").iter().position(|&effect| effect == name).unwrap();
        place(before) < place(after)
    };
    let rules = figures["rules"].as_array().unwrap();
    for order in figures["order"].as_array().unwrap() {
        let first =
            rules.iter().find(|rule| words(rule, "when").iter().all(|fact| holds(order, fact))).unwrap();
        assert_eq!(first["look"], order["look"], "{order}");
    }
    // The name of a look holds for its orders and for no others.
    for look in looks {
        let name = look["name"].as_str().unwrap();
        if name.contains(" before ") {
            for order in figures["order"].as_array().unwrap() {
                let all = name.split(", ").all(|fact| holds(order, fact));
                assert!(!all || order["look"] == look["look"], "{name}: {order}");
            }
        }
    }
    assert_eq!(figures["order"][0]["mean_de2000"], 0.0);
    assert_eq!(figures["order"][0]["changed_share"], 0.0);
    // Wider limits gather more; limits of nothing keep every picture apart.
    let count = |words: &[&str]| stage.json(&[&on[..], words].concat())["looks"].as_u64().unwrap();
    assert_eq!(count(&["--look-mean", "200", "--look-p95", "200"]), 1);
    assert_eq!(count(&["--look-mean", "0", "--look-p95", "0"]), 54);
    stage.refuses(2, &[&on[..], &["--look-mean", "-1"]].concat(), &["--look-mean", "from 0 to 200"]);
}

/// Whether a picture stands somewhere on a sheet, each of its texels `times` as wide and high.
fn stands_on(sheet: &RgbaImage, picture: &RgbaImage, times: u32) -> bool {
    let (width, height) = (picture.width() * times, picture.height() * times);
    let magnified = image::imageops::resize(picture, width, height, image::imageops::FilterType::Nearest);
    let rows = |picture: &RgbaImage| -> Vec<Vec<u8>> {
        picture.chunks_exact(picture.width() as usize * 4).map(<[u8]>::to_vec).collect()
    };
    let (sheet, wanted) = (rows(sheet), rows(&magnified));
    sheet.windows(wanted.len()).any(|rows| {
        let mut places = (0..=rows[0].len() - wanted[0].len()).step_by(4);
        places.any(|x| rows.iter().zip(&wanted).all(|(row, wanted)| row[x..].starts_with(wanted)))
    })
}

#[test]
fn a_wall_that_cannot_hold_every_order_shows_one_picture_for_each_look() {
    let stage = Stage::set();
    let on = ["preset:all-hands", "--footage", "sea.png", "--frame", "64x36", "--at", "0.1"];
    let outputs = ["--out", "wall.png", "--json", "wall.json"];
    let wall = |words: &[&str]| {
        let ran = stage.does(&[&["orders"], &on[..], &outputs, words].concat());
        let sheet = image::open(stage.path("wall.png")).unwrap().into_rgba8();
        let figures: Json = serde_json::from_slice(&stage.bytes("wall.json")).unwrap();
        for output in ["wall.png", "wall.json"] {
            fs::remove_file(stage.path(output)).unwrap();
        }
        (ran, sheet, figures)
    };
    let picture = |code: &str| stage.picture(&[&on[..], &["--order", code]].concat());
    let (_, _, all) = wall(&[]);
    let looks = all["look"].as_array().unwrap().len();
    assert!((3..53).contains(&looks), "{looks} looks");
    let magnified = |width| sized(Frame { width: 64, height: 36 }, width).magnified;
    let (large, small) = (magnified(640), magnified(288));
    let families = all["families"].as_array().unwrap();
    let holds = |code: &str, family: &Json| {
        let at = |mark: &Json| code.find(&mark.to_string());
        family["facts"].as_array().unwrap().iter().all(|fact| at(&fact["under"]) < at(&fact["over"]))
    };
    let listed = all["order"].as_array().unwrap();
    let look_of = |code: &str| &listed.iter().find(|order| order["code"] == code).unwrap()["look"];

    // One place too few for every order: each look once, those that stand for a family large.
    let (ran, sheet, figures) = wall(&["--most", "53"]);
    assert!(ran.out.contains("One picture for each"), "{}", ran.out);
    let said = format!("{looks} looks, of 54 orders that can differ;");
    let in_all = format!("{looks} looks in all, of 54 orders that can differ;");
    assert!(ran.out.contains(&said) || ran.out.contains(&in_all), "{}", ran.out);
    assert!(ran.out.contains("--most 54 shows every order."), "{}", ran.out);
    for family in families {
        assert!(stands_on(&sheet, &picture(family["shown"].as_str().unwrap()), large), "{family}");
    }
    for look in figures["look"].as_array().unwrap() {
        let code = look["code"].as_str().unwrap();
        let family = families.iter().find(|family| holds(code, family)).unwrap();
        let is_large = look_of(family["shown"].as_str().unwrap()) == &look["look"];
        assert!(is_large || stands_on(&sheet, &picture(code), small), "{look}");
    }
    // Two places: the two largest families.
    let (ran, sheet, _) = wall(&["--most", "2"]);
    assert!(ran.err.contains("wrote wall.png (2 pictures)"), "{}", ran.err);
    let said = "looks, one picture each, of 54 orders that can differ; the orders of the other ";
    assert!(ran.out.contains(said), "{}", ran.out);
    let mut largest: Vec<&Json> = families.iter().collect();
    largest.sort_by_key(|family| std::cmp::Reverse(family["orders"].as_u64()));
    for family in &largest[..2] {
        assert!(stands_on(&sheet, &picture(family["shown"].as_str().unwrap()), large), "{family}");
    }
    // A wish: of each family the nearest to it, the best families.
    let (_, sheet, figures) = wall(&["--most", "2", "--want", "brightest"]);
    let ranked = figures["order"].as_array().unwrap();
    let family_of =
        |order: &Json| families.iter().position(|family| holds(order["code"].as_str().unwrap(), family));
    let second = ranked.iter().find(|order| family_of(order) != family_of(&ranked[0])).unwrap();
    for order in [&ranked[0], second] {
        assert!(stands_on(&sheet, &picture(order["code"].as_str().unwrap()), large), "{order}");
    }
    // Over a stretch, as well.
    let over = ["--over", "1", "--rate", "8", "--most", "2"];
    let ran = stage.does(&[&["orders"], &on[..], &["--out", "over.png"], &over].concat());
    assert!(ran.err.contains("wrote over.png (2 pictures)"), "{}", ran.err);
}

#[test]
fn the_figures_of_neighbouring_ranks_are_told_apart() {
    let stage = Stage::set();
    let on =
        ["orders", "preset:all-hands", "--footage", "sea.png", "--frame", "64x36", "--want", "brightest"];
    let figures = stage.json(&[&on[..], &["--json", "-"]].concat());
    let listed = stage.does(&on).out;
    let said: Vec<&str> = listed.lines().filter_map(|line| line.split("mean luminance ").nth(1)).collect();
    let wanted: Vec<f64> =
        figures["order"].as_array().unwrap().iter().map(|order| order["wanted"].as_f64().unwrap()).collect();
    assert_eq!(said.len(), wanted.len());
    let mut unlike = 0;
    for (said, wanted) in said.windows(2).zip(wanted.windows(2)) {
        // Six digits tell as much as adapters agree on.
        if (wanted[0] - wanted[1]).abs() > 1e-6 {
            assert_ne!(said[0], said[1]);
            unlike += 1;
        }
    }
    assert!(unlike > 10, "{unlike}");
    assert!(listed.lines().any(|line| line.contains("(rank 1, ") || line.contains(", rank 1, ")), "{listed}");
}

#[test]
fn a_wish_ranks_the_orders() {
    let stage = Stage::set();
    let on = ["orders", "lines.toml", "--footage", "sea.png", "--frame", "64x36", "--json", "-"];
    for (goal, rising) in [
        ("brightest", false),
        ("darkest", true),
        ("most-edges", false),
        ("most-colour", false),
        ("most-changed", false),
        ("least-changed", true),
    ] {
        let figures = stage.json(&[&on[..], &["--want", goal]].concat());
        let ranked: Vec<(u64, f64)> = figures["order"]
            .as_array()
            .unwrap()
            .iter()
            .map(|order| (order["rank"].as_u64().unwrap(), order["wanted"].as_f64().unwrap()))
            .collect();
        // The list is in the order of the ranks, and the file's own order is named beside it.
        assert_eq!(figures["own_order"], "123");
        assert_eq!(ranked.iter().map(|&(rank, _)| rank).collect::<Vec<_>>(), [1, 2, 3, 4, 5, 6]);
        assert!(
            ranked.windows(2).all(|pair| if rising {
                pair[0].1 <= pair[1].1
            } else {
                pair[0].1 >= pair[1].1
            }),
            "{goal}: {ranked:?}"
        );
        assert!(ranked[0].1 != ranked[5].1, "{goal}");
    }
    // Like one of its own pictures: that order comes first, at no distance.
    let order = stage.json(&on)["order"][3].clone();
    let places: Vec<String> = order["places"].as_array().unwrap().iter().map(ToString::to_string).collect();
    stage
        .picture(&["lines.toml", "--footage", "sea.png", "--frame", "64x36", "--order", &places.join(",")])
        .save(stage.path("wished.png"))
        .unwrap();
    let figures = stage.json(&[&on[..], &["--want", "like", "--like", "wished.png"]].concat());
    let first = &figures["order"][0];
    assert_eq!((&first["code"], &first["rank"], &first["wanted"]), (&order["code"], &1.into(), &0.0.into()));
    stage.refuses(2, &[&on[..], &["--want", "like"]].concat(), &["--like"]);
    stage.refuses(
        2,
        &[&on[..], &["--want", "brightest", "--like", "wished.png"]].concat(),
        &["--like goes with --want like"],
    );
    stage.refuses(2, &[&on[..], &["--want", "nicest"]].concat(), &["most-edges"]);
    stage.refuses(1, &[&on[..], &["--want", "like", "--like", "none.png"]].concat(), &["none.png"]);
}

#[test]
fn swaps_answers_every_pair_with_a_reason() {
    let stage = Stage::set();
    let on = ["swaps", "preset:all-hands", "--footage", "sea.png", "--frame", "64x36"];
    let table = stage.json(&[&on[..], &["--at", "0.1", "--json", "-"]].concat());
    let pairs = table["pair"].as_array().unwrap();
    assert_eq!(pairs.len(), 10);
    let answer = |a: &str, b: &str| {
        let pair = pairs.iter().find(|pair| words(pair, "effects") == [a, b]).unwrap();
        assert!(pair["because"].as_str().unwrap().ends_with('.'), "{pair}");
        assert_eq!(
            pair["answer"] == "differs",
            pair["mean_de2000"].as_f64().is_some_and(|mean| mean > 0.0),
            "{pair}"
        );
        pair["answer"].as_str().unwrap()
    };
    assert_eq!(answer("tint", "mirror"), "always");
    assert_eq!(answer("flash-gate", "channel-offset"), "always");
    assert_eq!(answer("tint", "channel-offset"), "differs");
    // With the gate shut the flash changes nothing, and an effect that changes nothing commutes with all.
    let shut = stage.json(&[&on[..], &["--at", "0.7", "--json", "-"]].concat());
    let flash =
        shut["pair"].as_array().unwrap().iter().filter(|pair| words(pair, "effects").contains(&"flash-gate"));
    assert!(flash.clone().count() == 4 && flash.clone().all(|pair| pair["answer"] == "always"));
    let told = stage.does(&[&on[..], &["--at", "0.1"]].concat()).out;
    assert!(
        told.contains(
            "tint mixes the channels, so it matters whether channel-offset has pulled them apart yet."
        ),
        "{told}"
    );
    // Black everywhere: not proved, but nothing to see.
    RgbaImage::from_pixel(64, 36, Rgba([0, 0, 0, 255])).save(stage.path("dark.png")).unwrap();
    let dark =
        stage.json(&["swaps", "lines.toml", "--footage", "dark.png", "--frame", "64x36", "--json", "-"]);
    assert!(dark["pair"].as_array().unwrap().iter().all(|pair| pair["answer"] != "differs"), "{dark}");
    assert!(dark["pair"].as_array().unwrap().iter().any(|pair| pair["answer"] == "here"), "{dark}");
}

#[test]
fn places_tries_an_effect_on_every_scope_and_says_which_bundles_stay_clean() {
    let stage = Stage::set();
    let on = ["places", "preset:night-ferry", "--frame", "128x72", "--at", "0.1"];
    let tried = stage.json(&[&on[..], &["--effect", "invert", "--json", "-"]].concat());
    let places = tried["place"].as_array().unwrap();
    let place =
        |name: &str| places.iter().find(|place| place["place"] == name).unwrap_or_else(|| panic!("{name}"));
    assert_eq!(place("bundle:picture")["touches"], "touches picture; signs stays clean");
    assert_eq!(place("global")["touches"], "touches everything");
    assert!(
        place("global")["changed_share"].as_f64().unwrap()
            > place("bundle:signs")["changed_share"].as_f64().unwrap()
    );
    assert!(places.iter().all(|place| place["is_now"] == false));
    // An effect that the show uses once is moved, and its own place is marked.
    let moved = stage.json(&[&on[..], &["--effect", "edge-find", "--json", "-"]].concat());
    let now: Vec<&str> = moved["place"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|p| p["is_now"] == true)
        .map(|p| p["place"].as_str().unwrap())
        .collect();
    assert_eq!(now, ["bundle:picture"]);
    let levels = stage.json(&[&on[..], &["--levels", "picture", "--json", "-"]].concat());
    assert_eq!(levels["place"].as_array().unwrap().len(), 6, "three levels have six orders");
    assert_eq!(levels["place"][0]["changed_share"], 0.0);
    // A colour that a person gave stands beside the name of the place.
    stage.does(&[
        "edit",
        "set",
        "preset:night-ferry",
        "bundle:signs",
        "--colour",
        "#12ab34",
        "--out",
        "coloured.toml",
    ]);
    let drawn = stage.does(&[
        "places",
        "coloured.toml",
        "--frame",
        "128x72",
        "--effect",
        "invert",
        "--out",
        "places.png",
    ]);
    assert!(drawn.err.contains("wrote places.png"), "{}", drawn.err);
    let sheet = image::open(stage.path("places.png")).unwrap().into_rgba8();
    assert!(sheet.width() > 512);
    assert!(sheet.pixels().filter(|pixel| pixel.0 == [0x12, 0xab, 0x34, 255]).count() > 60);
    stage.refuses(2, &[&on[..], &["--effect", "invrt"]].concat(), &["did you mean `invert`"]);
    stage.refuses(2, &[&on[..], &["--levels", "pictre"]].concat(), &["picture"]);
    stage.refuses(2, &[&on[..], &["--effect", "invert", "--from", "global"]].concat(), &["--from", "global"]);
    stage.refuses(2, &["places", "lines.toml", "--effect", "tint"], &["is a chain"]);
    stage.refuses(2, &on, &["--effect"]);
}

#[test]
fn edit_changes_the_structure_of_a_show_and_keeps_its_comments() {
    let stage = Stage::set();
    let written = |stage: &Stage, name: &str| String::from_utf8(stage.bytes(name)).unwrap();
    let show = show_on("sea.png").replace("name = \"sea\"", "name = \"sea\"   # the lowest");
    stage.file("quay.toml", &show);
    let does = |words: &str| {
        let words: Vec<&str> = words.split(' ').collect();
        stage.does(&[&["edit"], &words[..], &["--out", "quay.toml"]].concat()).out
    };
    let out = does("add quay.toml generated:lamp --into bundle:picture --name lamps");
    assert_eq!(out, "Add the level lamps\nwrote quay.toml\n");
    does("add quay.toml sea.png --into level:picture/lamps");
    does("add quay.toml stand-in:mark --into global --name signs");
    let out = does("set quay.toml level:picture/lamps --opacity 0.5 --blend screen --colour sky-blue");
    assert_eq!(out, "Lay level:picture/lamps\nColour level:picture/lamps sky-blue\nwrote quay.toml\n");
    does("move quay.toml level:picture/lamps --under level:picture/sea");
    does("set quay.toml bundle:signs --hidden true");
    does("set quay.toml level:picture/lamps --showing lamps --name lanterns");
    does("duplicate quay.toml bundle:signs");
    let text = written(&stage, "quay.toml");
    assert!(text.contains("name = \"sea\"   # the lowest"), "{text}");
    let lines = |part: &str| text.lines().filter(|line| line.contains(part)).count();
    assert_eq!(
        (lines("hidden = true"), lines("colour = \"sky-blue\""), lines("opacity = 0.5")),
        (2, 1, 1),
        "{text}"
    );
    assert!(text.find("\"lanterns\"") < text.find("\"sea\""), "{text}");
    does("levels quay.toml picture sea lanterns");
    let text = written(&stage, "quay.toml");
    assert!(text.find("\"lanterns\"") > text.find("\"sea\""), "{text}");
    does("remove quay.toml bundle:signs");
    does("set quay.toml level:picture/lanterns --colour none");
    assert!(!written(&stage, "quay.toml").contains("sky-blue"));
    stage.does(&["check", "quay.toml"]);
    // It never replaces what it does not edit.
    let before = stage.bytes("lines.toml");
    stage.refuses(
        2,
        &["edit", "remove", "quay.toml", "level:picture/sea", "--out", "lines.toml"],
        &["--replace"],
    );
    assert_eq!(stage.bytes("lines.toml"), before);
    let refused: [(&str, &[&str]); 11] = [
        ("set quay.toml level:picture/sea", &["say what is to be set"]),
        ("set quay.toml global --hidden true", &["a bundle, a level or a clip"]),
        ("set quay.toml level:picture/see --hidden true", &["no level named `see`", "did you mean `sea`?"]),
        ("set quay.toml level:picture/sea --opacity 1.5", &["the opacity is 1.5", "0 to 1"]),
        ("set quay.toml level:picture/sea --colour skyblue", &["sky-blue", "#ff8c33", "none"]),
        ("set quay.toml clip:picture/sea/waves --opacity 0.5", &["bundle or a level"]),
        ("set quay.toml level:picture/sea --showing wave", &["did you mean `waves`?"]),
        (
            "move quay.toml clip:picture/sea/waves --into level:picture/lanterns",
            &["level:picture/sea", "without a clip"],
        ),
        ("move quay.toml level:picture/sea --into global", &["a level into a bundle"]),
        ("levels quay.toml picture sea", &["each of the 2 levels once"]),
        ("add quay.toml nothing.png --into global", &["nothing.png"]),
    ];
    for (words, says) in refused {
        let words: Vec<&str> = words.split(' ').collect();
        stage.refuses(2, &[&["edit"], &words[..], &["--out", "new.toml"]].concat(), says);
    }
    stage.refuses(
        2,
        &["edit", "remove", "lines.toml", "global", "--out", "new.toml"],
        &["lines.toml is a chain"],
    );
    assert!(!stage.path("new.toml").exists());
}

#[test]
fn compare_sets_two_files_or_two_orders_beside_each_other() {
    let stage = Stage::set();
    let on = ["--footage", "sea.png", "--frame", "64x36", "--json", "-"];
    let of = |words: &[&str]| stage.json(&[&["compare"], words, &on[..]].concat());
    let same = of(&["lines.toml", "lines.toml"]);
    assert_eq!((&same["same_bytes"], &same["max_de2000"]), (&true.into(), &0.0.into()));
    let orders = of(&["lines.toml", "--order", "2,1,3"]);
    assert_eq!(orders["same_bytes"], false);
    assert!(orders["mean_de2000"].as_f64().unwrap() > 0.0);
    assert_eq!((&orders["a"]["code"], &orders["b"]["code"]), (&"123".into(), &"213".into()));
    let twice = of(&["lines.toml", "--order", "213", "--order", "2,1,3"]);
    assert_eq!(twice["same_bytes"], true);
    let files = of(&["lines.toml", "preset:quay-fringes"]);
    assert_eq!(files["same_bytes"], false);
    let ran = stage.does(&[
        "compare",
        "lines.toml",
        "--order",
        "2,1,3",
        "--footage",
        "sea.png",
        "--out",
        "pair.png",
    ]);
    assert!(ran.err.contains("wrote pair.png"), "{}", ran.err);
    assert!(image::open(stage.path("pair.png")).unwrap().width() > 900);
    stage.refuses(2, &["compare", "lines.toml"], &["compare what with what"]);
    stage.refuses(2, &["compare", "lines.toml", "--order", "2,1"], &["missing"]);
    stage.refuses(2, &["compare", "lines.toml", "--order", "21"], &["the mark 3 is missing", "such as 213"]);
    stage.refuses(
        2,
        &["compare", "lines.toml", "quay.toml", "--footage", "sea.png"],
        &["quay.toml is a show"],
    );
}

#[test]
fn what_is_covered_is_named_with_what_covers_it() {
    let stage = Stage::set();
    stage.file("covered.toml", "format = \"underover/chain/1\"\nname = \"Covered\"\n\n[[effect]]\nuse = \"tint\"\n\n[[effect]]\nuse = \"flash-gate\"\n\n[[effect]]\nuse = \"channel-offset\"\ndistance = 0.0\n");
    let on = ["--footage", "sea.png", "--frame", "64x36", "--at", "0.1"];
    let told =
        stage.does(&[&["render", "covered.toml", "--explain", "--out", "c.png"], &on[..]].concat()).out;
    assert!(told.contains("tint changes nothing here: no effect under flash-gate shows."), "{told}");
    assert!(told.contains("channel-offset changes nothing here."), "{told}");
    assert!(told.contains("flash-gate: mean "), "{told}");
    let figures = stage.json(&[&["orders", "covered.toml", "--json", "-"], &on[..]].concat());
    assert!(
        figures["effects"][0]["unseen_because"]
            .as_str()
            .unwrap()
            .contains("no effect under flash-gate shows"),
        "{figures}"
    );
    assert!(figures["effects"][1].get("unseen_because").is_none());
}

#[cfg(target_os = "linux")]
#[test]
fn without_any_adapter_the_package_to_install_is_named() {
    let stage = Stage::set();
    let mut command = stage.command(&["render", "lines.toml", "--footage", "sea.png", "--out", "p.png"]);
    // Loaders that are told of no driver find none.
    for variable in ["VK_DRIVER_FILES", "VK_ICD_FILENAMES", "__EGL_VENDOR_LIBRARY_FILENAMES"] {
        command.env(variable, "/none");
    }
    let ran = Ran::of(&mut command);
    if ran.code == 0 {
        eprintln!("compared nothing: an adapter was found without its loader");
        return;
    }
    assert_eq!((ran.code, ran.out.as_str()), (1, ""));
    assert!(ran.err.starts_with("error: no GPU adapter was found"), "{}", ran.err);
    assert!(ran.err.contains("apt-get install mesa-vulkan-drivers"), "{}", ran.err);
    assert!(!stage.path("p.png").exists());
}
