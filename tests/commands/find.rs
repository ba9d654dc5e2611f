//! `find` as people run it: what is asked for in words, shares on several machines, several adapters, answers kept.

use std::fs;
use std::path::PathBuf;
use std::process::{Command, Output, Stdio};

use image::{Rgba, RgbaImage};
use serde_json::Value as Json;
use tempfile::TempDir;

const PROGRAM: &str = env!("CARGO_BIN_EXE_underover");

const CHAIN: &str = "format = \"underover/chain/1\"
name = \"Harbour lamps\"

# The lamps' own colour.
[[effect]]
use = \"tint\"
amount = 0.5

[[effect]]
use = \"edge-find\"

[[effect]]
use = \"mirror\"

[[effect]]
use = \"hold\"
every = 0.0
";

const SHOW: &str = "format = \"underover/show/1\"
name = \"Quay\"
frame = { width = 64, height = 36 }
tempo_bpm = 120.0

[[bundle]]
name = \"picture\"

[[bundle.effect]]
use = \"invert\"
amount = 0.4

[[bundle.level]]
name = \"sea\"

[[bundle.level.clip]]
name = \"waves\"
footage = \"sea.png\"

[[bundle]]
name = \"signs\"

[[bundle.level]]
name = \"mark\"

[[bundle.level.clip]]
name = \"ship mark\"
footage = \"generated:ship-mark\"

[[global.effect]]
use = \"tint\"

[[global.effect]]
use = \"edge-find\"
";

struct Stage(TempDir);

impl Stage {
    fn set() -> Self {
        let stage = Self(tempfile::tempdir().unwrap());
        fs::write(stage.path("lamps.toml"), CHAIN).unwrap();
        fs::write(stage.path("quay.toml"), SHOW).unwrap();
        let sea =
            |x: u32, y: u32| Rgba([(x * 37 + y * 11) as u8, (x * 5 + y * 29) as u8, (x * y) as u8, 255]);
        RgbaImage::from_fn(64, 36, sea).save(stage.path("sea.png")).unwrap();
        RgbaImage::from_fn(40, 40, sea).save(stage.path("square.png")).unwrap();
        stage
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn ran(&self, words: &str) -> Output {
        let mut command = Command::new(PROGRAM);
        command.args(words.split_whitespace()).current_dir(self.0.path()).stdin(Stdio::null());
        for variable in ["UNDEROVER_DATA", "UNDEROVER_STATE", "UNDEROVER_CONFIG"] {
            command.env(variable, self.path(".person").join(variable));
        }
        command.output().unwrap()
    }

    /// What it says on standard error.
    #[track_caller]
    fn does(&self, words: &str) -> String {
        let done = self.ran(words);
        let said = String::from_utf8(done.stderr).unwrap();
        assert_eq!(done.status.code(), Some(0), "{words}: {said}");
        said
    }

    #[track_caller]
    fn refuses(&self, code: i32, words: &str, says: &[&str]) {
        let done = self.ran(words);
        let said = String::from_utf8(done.stderr).unwrap();
        assert_eq!(done.status.code(), Some(code), "{words}: {said}");
        assert!(said.matches("error: ").count() == 1 && !said.contains("panicked"), "{words}: {said}");
        for part in says {
            assert!(said.contains(part), "{words}: no {part:?} in {said}");
        }
    }

    fn json(&self, name: &str) -> Json {
        serde_json::from_slice(&fs::read(self.path(name)).unwrap()).unwrap()
    }
}

const ON_SEA: &str = "find lamps.toml --footage sea.png --frame 64x36 --tried-at 32x18";

#[test]
fn what_cannot_be_tried_is_refused_with_what_can() {
    let stage = Stage::set();
    let refuses = |vary: &str, says: &[&str]| {
        stage.refuses(2, &format!("{ON_SEA} --want brightest --vary {vary}"), &[&["--vary"], says].concat());
    };
    refuses(
        "tint.amuont",
        &["tint has no setting `amuont`; did you mean `amount`?", "`colour`, `amount` and `on`"],
    );
    refuses("tnit.amount", &["no effect `tnit`; did you mean `tint`?"]);
    refuses("tint", &["which setting of it?", "`tint.SETTING`"]);
    refuses("ordre", &["did you mean `order`?", "`scope`"]);
    refuses("edge-find.gain=0..9", &["`gain` is 9; it takes a number from 0 to 8 (times)"]);
    refuses("edge-find.gain=3..1", &["the lower first, such as gain=0..8"]);
    refuses("edge-find.gain=3", &["the lower first"]);
    refuses("tint.colour=0..1", &["which have no range"]);
    refuses("tint.on=0..1", &["leave the range out"]);
    refuses("tint.amount,tint.amount=0..1", &["named twice"]);
    refuses("hold.every", &["decides which frames hold takes its picture from"]);
    refuses("order,", &["a word is missing"]);
    refuses("scope", &["only a show has scopes"]);
    fs::write(stage.path("none.toml"), "format = \"underover/chain/1\"\nname = \"None\"\n").unwrap();
    stage.refuses(
        2,
        "find none.toml --want brightest",
        &["nothing is left to try, as the chain has no effect"],
    );
    fs::write(
        stage.path("one.toml"),
        "format = \"underover/chain/1\"\nname = \"One\"\n[[effect]]\nuse = \"mirror\"\n",
    )
    .unwrap();
    stage.refuses(2, "find one.toml --want brightest", &["nothing is left to try", "--vary all"]);
}

#[test]
fn rows_of_the_bench_are_listed_and_others_refused() {
    let stage = Stage::set();
    let listed = String::from_utf8(stage.ran("bench --list").stdout).unwrap();
    assert!(listed.lines().any(|row| row == "find"), "{listed}");
    stage.refuses(2, "bench --row fnid", &["fnid", "find"]);
}

#[test]
fn a_wish_has_to_be_one() {
    let stage = Stage::set();
    stage.refuses(2, ON_SEA, &["nothing says what to look for", "--like", "--want"]);
    stage.refuses(2, &format!("{ON_SEA} --want like"), &["--like F"]);
    stage.refuses(2, &format!("{ON_SEA} --want darkest --like sea.png"), &["give one of them"]);
    stage.refuses(1, &format!("{ON_SEA} --like nothing.png"), &["nothing.png"]);
    stage.refuses(2, &format!("{ON_SEA} --want darkest --for 3weeks"), &["30s, 5min or 2h"]);
    stage.refuses(2, &format!("{ON_SEA} --want darkest --part 4/3 --json p.json"), &["a share such as 3/8"]);
    stage.refuses(
        2,
        "find lamps.toml --footage sea.png --frame 64x36 --tried-at 65x36 --want darkest",
        &["at most as large"],
    );
    let said = stage.does(&format!("{ON_SEA} --like square.png --tries 20 --json -"));
    assert!(
        said.contains("square.png is 40x40, and the frame 64x36")
            && said.contains("above and below is cut off"),
        "{said}"
    );
}

#[test]
fn an_answer_that_is_kept_renders_to_the_picture_whose_figure_was_told() {
    let stage = Stage::set();
    let wish = "render lamps.toml --order 2134 --footage sea.png --frame 64x36 --out wish.png";
    stage.does(wish);
    let words = "--like wish.png --vary order,on,tint.amount,mirror.fold --tries 300";
    stage.does(&format!("{ON_SEA} {words} --json found.json --out found.png --keep 1 --as kept.toml"));
    let found = stage.json("found.json");
    let best = &found["found"][0];
    // The picture's own order, or one proved to give the same: edge-find is under tint.
    let order = best["order"].as_str().unwrap();
    assert!(order.find('2') < order.find('1'), "{best}");
    assert!(best["mean_de2000"].as_f64().unwrap() < 1.0, "{best}");
    assert_eq!(best["settings"]["tint.on"], true);
    assert!(found["tries"].as_u64().unwrap() > found["tries_of_stream"].as_u64().unwrap());
    let kept = fs::read_to_string(stage.path("kept.toml")).unwrap();
    assert!(kept.contains("# The lamps' own colour."), "{kept}");
    stage.does("compare kept.toml lamps.toml --footage sea.png --frame 64x36 --json pair.json");
    stage.does("render kept.toml --footage sea.png --frame 64x36 --out kept.png");
    let [kept, wished] =
        ["kept.png", "wish.png"].map(|name| image::open(stage.path(name)).unwrap().into_rgba8());
    let apart = |a: &RgbaImage, b: &RgbaImage| -> u32 {
        a.as_raw().iter().zip(b.as_raw()).map(|(a, b)| u32::from(a.abs_diff(*b))).sum()
    };
    assert!(apart(&kept, &wished) < kept.as_raw().len() as u32 * 2);
    assert!(image::open(stage.path("found.png")).unwrap().width() > 64);
    // The same words give the same answers.
    stage.does(&format!("{ON_SEA} {words} --json again.json"));
    assert_eq!(stage.json("again.json"), found);
    stage.refuses(
        1,
        &format!("{ON_SEA} {words} --keep 24 --as other.toml"),
        &["--keep 24: ", "nothing is saved"],
    );
    assert!(!stage.path("other.toml").exists());
}

#[test]
fn shares_of_many_machines_joined_give_what_one_machine_gives_and_foreign_ones_are_refused() {
    let stage = Stage::set();
    let words = format!("{ON_SEA} --want most-edges --vary order,main");
    stage.does(&format!("{words} --tries 200 --json whole.json"));
    for share in 1..=3 {
        stage.does(&format!("{words} --tries 200 --part {share}/3 --json part-{share}.json"));
    }
    // With the very words that the parts were made with.
    stage.does(&format!(
        "{words} --tries 200 --gather part-3.json part-1.json part-2.json --json joined.json"
    ));
    assert_eq!(stage.json("joined.json"), stage.json("whole.json"));
    // One that is missing is said.
    let said = stage.does(&format!("{words} --gather part-3.json part-1.json --json some.json"));
    assert!(
        said.contains("of 3 shares `2` is missing") || said.contains("of 3 shares 2 is missing"),
        "{said}"
    );
    assert_eq!(stage.json("some.json")["parts_missing"], serde_json::json!([2]));
    let refuses = |words: &str, says: &[&str]| stage.refuses(2, words, says);
    refuses(&format!("{words} --seed 2 --gather part-1.json"), &["part-1.json", "another --seed (1)"]);
    refuses(&format!("{ON_SEA} --want darkest --gather part-1.json"), &["another goal (most-edges)"]);
    refuses(&format!("{ON_SEA} --want most-edges --vary order --gather part-1.json"), &["another --vary"]);
    refuses(
        &format!("{words} --at 0.5 --footage square.png --gather part-1.json")
            .replace("--footage sea.png ", ""),
        &["other footage"],
    );
    refuses(
        &format!("{words} --tries 300 --gather part-1.json"),
        &["--gather part-1.json", "it is a share of 200 tries, not of 300 tries"],
    );
    refuses(&format!("{words} --for 9s --gather part-1.json"), &["not of a stream that ends with its time"]);
    refuses(&format!("{words} --gather part-1.json part-1.json"), &["share 1 is in part-1.json already"]);
    stage.does(&format!("{words} --tries 100 --part 2/3 --json short.json"));
    refuses(&format!("{words} --gather part-1.json short.json"), &["these are two searches"]);
    fs::write(stage.path("lamps.toml"), CHAIN.replace("amount = 0.5", "amount = 0.6")).unwrap();
    refuses(&format!("{words} --gather part-1.json"), &["another chain, or the same at other settings"]);
    // What is no part, and what is broken.
    stage.refuses(1, &format!("{words} --gather whole.json"), &["whole.json: this is no part of a search"]);
    fs::write(stage.path("torn.json"), "{\"format\": \"underover/find-part/1\",").unwrap();
    stage.refuses(1, &format!("{words} --gather torn.json"), &["torn.json:1:", "this is no JSON"]);
    let part = fs::read_to_string(stage.path("part-1.json")).unwrap();
    fs::write(stage.path("odd.json"), part.replace("\"part\": 1", "\"part\": 9")).unwrap();
    stage.refuses(1, &format!("{words} --gather odd.json"), &["odd.json: share 9/3"]);
    // A part may be hours of work: nothing takes its place unasked.
    stage.refuses(2, &format!("{words} --tries 9 --part 1/3 --json part-2.json"), &["--replace"]);
}

#[test]
fn several_adapters_share_the_stream_and_the_answer_is_the_same() {
    let stage = Stage::set();
    let words = format!("{ON_SEA} --want most-colour --tries 600 --vary order,main");
    stage.does(&format!("{words} --json one.json"));
    let adapter = stage.json("one.json")["adapter"].as_str().unwrap().split(' ').next().unwrap().to_owned();
    stage.does(&format!("{words} --adapters {adapter},{adapter} --json two.json"));
    stage.does(&format!("{words} --adapters all --json all.json"));
    assert_eq!(stage.json("two.json"), stage.json("one.json"));
    assert_eq!(stage.json("all.json"), stage.json("one.json"));
    stage.refuses(2, &format!("{words} --adapters nonesuch"), &["--adapters", "nonesuch"]);
}

#[test]
fn a_chain_is_tried_on_every_scope_over_what_is_there() {
    let stage = Stage::set();
    // What is wished is the chain of the whole output on the bundle of pictures, over what stands there.
    let moved = SHOW.replace("[[global.effect]]", "[[bundle.effect]]");
    let (head, signs) = moved.split_once("[[bundle]]\nname = \"signs\"").unwrap();
    let (signs, chain) = signs.split_at(signs.find("[[bundle.effect]]").unwrap());
    let moved = format!("{head}{chain}\n[[bundle]]\nname = \"signs\"{signs}");
    fs::write(stage.path("moved.toml"), moved).unwrap();
    stage.does("render moved.toml --out wish.png");
    stage.does(
        "find quay.toml --scope global --like wish.png --vary scope,order,tint.amount --tries 200 --json found.json --keep 1 --as f.toml",
    );
    let found = stage.json("found.json");
    let best = &found["found"][0];
    assert_eq!(best["scope"], "bundle:picture", "{found}");
    assert!(best["mean_de2000"].as_f64().unwrap() < 0.5, "{best}");
    let kept = fs::read_to_string(stage.path("f.toml")).unwrap();
    assert!(kept.contains("tint") && kept.contains("edge-find") && !kept.contains("invert"), "{kept}");
}

#[cfg(unix)]
#[test]
fn asked_to_stop_it_tells_and_writes_what_it_has() {
    use std::io::Read as _;
    let stage = Stage::set();
    let mut command = Command::new(PROGRAM);
    let words = "find lamps.toml --footage sea.png --frame 64x36 --want brightest --for 1h --json found.json";
    command.args(words.split(' ')).current_dir(stage.0.path()).stdin(Stdio::null()).stderr(Stdio::piped());
    command.env("UNDEROVER_DATA", stage.path("data")).env("UNDEROVER_STATE", stage.path("state"));
    // On a terminal it says at once what it is at.
    command.env("UNDEROVER_TERMINAL", "1");
    let mut child = command.spawn().unwrap();
    let mut stderr = child.stderr.take().unwrap();
    let (mut said, mut bytes) = (String::new(), [0; 256]);
    while !said.contains("searching: ") {
        let count = stderr.read(&mut bytes).unwrap();
        assert!(count > 0, "it ended before it was asked: {said}");
        said += &String::from_utf8_lossy(&bytes[..count]);
    }
    let process = rustix::process::Pid::from_child(&child);
    rustix::process::kill_process(process, rustix::process::Signal::INT).unwrap();
    stderr.read_to_string(&mut said).unwrap();
    assert_eq!(child.wait().unwrap().code(), Some(1), "{said}");
    assert!(said.contains("error: interrupted after ") && said.contains("is kept"), "{said}");
    assert!(!stage.json("found.json")["found"].as_array().unwrap().is_empty());
}
