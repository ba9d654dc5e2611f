//! Chain and show files: what is read, how it is refused, and how it is written.

use std::fs;
use std::path::Path;
use std::sync::LazyLock;
use std::time::{Duration, Instant};

use proptest::collection::vec;
use proptest::prelude::*;
use underover::base::coding::{ColourCode, OkabeIto};
use underover::base::colour::Colour;
use underover::base::embedded::{CHAINS, SHOWS};
use underover::base::frame::{Frame, PixelMode};
use underover::base::place::listed;
use underover::beat::FrameRate;
use underover::catalogue::{Catalogue, Kind};
use underover::files::{Document, chain_text, parse, read, show_text, write};
use underover::order::marks;
use underover::show::chain::{Chain, EffectUse, Preset};
use underover::show::clip::{AtEnd, Fit, FootageName, Pace, Play, StandIn};
use underover::show::{BlendMode, Bundle, Clip, Level, Mix, Scope, Section, Show, Taken};

const SOURCE: &str = "//! summary = \"Grey.\"\n//! reach = \"source\"\n\nstruct Settings {\n    none: u32,\n}\n\nfn paint(at: vec2i) -> vec4f {\n    return vec4f(0.5, 0.5, 0.5, 1.0);\n}\n";

/// The built-in effects, and one generated source that no later one will be named like.
static CATALOGUE: LazyLock<Catalogue> = LazyLock::new(|| {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("grey-for-tests.wgsl"), SOURCE).unwrap();
    let mut catalogue = Catalogue::built_in().unwrap();
    catalogue.add_folder(folder.path()).unwrap();
    catalogue
});

const CHAIN: &str = "format = \"underover/chain/1\"\nname = \"Lamps\"\n";

/// One table of each kind that a show has.
const SHOW: &str = r#"format = "underover/show/1"
name = "Night ferry"
frame = { width = 640, height = 360 }
[[bundle]]
name = "picture"
[[bundle.effect]]
use = "mirror"
[[bundle.level]]
name = "sea"
[[bundle.level.effect]]
use = "tint"
[[bundle.level.clip]]
name = "waves"
footage = "generated:grey-for-tests"
[[bundle.level.clip.effect]]
use = "edge-find"
[[global.effect]]
use = "flash-gate"
"#;

fn parsed(text: &str) -> Result<Document, String> {
    parse(text, "shows/ferry.toml", Path::new("shows"), &CATALOGUE).map_err(|error| error.to_string())
}

fn show(text: &str) -> Show {
    match parsed(text).unwrap() {
        Document::Show(show) => show,
        Document::Chain(_) => panic!("a chain"),
    }
}

/// Checks that `text` is refused with `place_and_message`, such as `3:1: ...`.
#[track_caller]
fn refused(text: &str, place_and_message: &str) {
    assert_eq!(parsed(text).unwrap_err(), format!("shows/ferry.toml:{place_and_message}"), "{text}");
}

/// Like [`refused`], for a line added to a chain file.
#[track_caller]
fn refused_in_chain(lines: &str, place_and_message: &str) {
    refused(&format!("{CHAIN}{lines}"), place_and_message);
}

/// Like [`refused`], for the show with `old` replaced.
#[track_caller]
fn refused_in_show(old: &str, new: &str, place_and_message: &str) {
    assert_eq!(SHOW.matches(old).count(), 1, "{old}");
    refused(&SHOW.replace(old, new), place_and_message);
}

#[test]
fn a_show_takes_its_defaults_where_the_file_is_silent() {
    let show = show(&SHOW.replace("frame = { width = 640, height = 360 }\n", ""));
    assert_eq!(show.frame, Frame { width: 1280, height: 720 });
    assert_eq!((show.tempo_bpm, show.pixels), (120.0, PixelMode::Encoded8Bit));
    let level = &show.bundles[0].levels[0];
    assert_eq!((level.mix, level.showing, level.clips[0].fit), (Mix::default(), 0, Fit::Whole));
    assert_eq!(show.bundles[0].chain, [EffectUse::new(CATALOGUE.effect("mirror").unwrap().clone())]);
}

#[test]
fn footage_is_a_path_relative_to_the_file() {
    let show = show(&SHOW.replace("generated:grey-for-tests", "frames/sea-####.png"));
    let expected = FootageName::File {
        written: "frames/sea-####.png".to_owned(),
        path: Path::new("shows").join("frames/sea-####.png"),
    };
    assert_eq!(show.bundles[0].levels[0].clips[0].footage, expected);
}

#[test]
fn a_clip_says_how_its_footage_is_played() {
    let with = |lines: &str| SHOW.replace("\"generated:grey-for-tests\"", &format!("\"sea.mp4\"\n{lines}"));
    let played = |lines: &str| show(&with(lines)).bundles[0].levels[0].clips[0].play;
    assert_eq!(played(""), Play::default());
    let expected =
        Play { pace: Pace::LoopBeats(8.0), in_secs: 2.0, out_secs: Some(6.5), at_end: AtEnd::BackAndForth };
    assert_eq!(played("loop_beats = 8\nin_secs = 2\nout_secs = 6.5\nat_end = \"back-and-forth\""), expected);
    assert_eq!(played("speed = 0.5").pace, Pace::Speed(0.5));
    for (lines, words) in [
        ("speed = 1.0\nloop_beats = 4.0", "`loop_beats` stands beside `speed`"),
        ("speed = -1.0", "a number from 0 to 100"),
        ("loop_beats = 0.0", "a number from 0.01 to 10000"),
        ("in_secs = 2.0\nout_secs = 2.0", "a number above `in_secs`, which is 2.0"),
        ("at_end = \"hodl\"", "did you mean `hold`?"),
        ("sped = 2.0", "did you mean `speed`?"),
    ] {
        let error = parsed(&with(lines)).unwrap_err();
        assert!(error.contains(words), "{lines}: {error}");
    }
    let generated = SHOW.replace("\"generated:grey-for-tests\"", "\"generated:grey-for-tests\"\nspeed = 2.0");
    let error = parsed(&generated).unwrap_err();
    assert!(error.contains("runs by the beat and takes no `speed`"), "{error}");
}

#[test]
fn whole_numbers_a_byte_order_mark_and_windows_line_ends_are_accepted() {
    let text = format!("\u{feff}{CHAIN}[[effect]]\nuse = \"edge-find\"\ngain = 2\n").replace('\n', "\r\n");
    let Document::Chain(preset) = parsed(&text).unwrap() else { panic!("a show") };
    assert_eq!(preset.chain[0].written_changes(), ["gain 2"]);
    refused("\u{feff}fromat = 1", "1:1: unknown key `fromat` in the file; did you mean `format`?");
}

#[test]
fn what_is_hidden_and_what_a_thing_is_told_by_are_read_and_refused_in_words() {
    let read = show(&SHOW.replace("name = \"sea\"", "name = \"sea\"\nhidden = true\ncolour = \"sky-blue\""));
    let level = &read.bundles[0].levels[0];
    assert!(level.hidden && !read.bundles[0].hidden);
    // Okabe and Ito, "Color Universal Design" (2008): sky blue is 86, 180, 233.
    assert_eq!(level.colour.unwrap().colour(), Colour([86, 180, 233]));
    refused_in_show(
        "name = \"picture\"",
        "name = \"picture\"\nhidden = 1",
        "6:10: `hidden` is 1; it takes true or false",
    );
    refused_in_show(
        "name = \"picture\"",
        "name = \"picture\"\ncolour = \"skyblue\"",
        "6:10: `colour` is \"skyblue\"; it takes one of `orange`, `sky-blue`, `bluish-green`, `yellow`, `blue`, `vermilion`, `reddish-purple` and `black`, or a colour such as `#ff8c33`; did you mean `sky-blue`?",
    );
    refused_in_show(
        "name = \"waves\"",
        "name = \"waves\"\ncolour = 5",
        "14:10: `colour` is 5; it takes one of `orange`, `sky-blue`, `bluish-green`, `yellow`, `blue`, `vermilion`, `reddish-purple` and `black`, or a colour such as `#ff8c33`",
    );
}

#[test]
fn an_unknown_key_is_refused_in_every_kind_of_table() {
    let show_keys = "`format`, `name`, `about`, `tags`, `venue`, `frame`, `tempo_bpm`, `rate`, `pixels`, `bundle`, `global`, `control`, `reach_ms`, `section` and `running_order`";
    refused_in_show(
        "name = \"Night ferry\"",
        "gian = 1",
        &format!("2:1: unknown key `gian` in a show file (it takes {show_keys})"),
    );
    refused_in_show(
        "height = 360",
        "heigth = 360",
        "3:24: unknown key `heigth` in the frame; did you mean `height`? (it takes `width` and `height`)",
    );
    refused_in_show(
        "name = \"picture\"",
        "opactiy = 1",
        "5:1: unknown key `opactiy` in a bundle; did you mean `opacity`? (it takes `name`, `blend`, `opacity`, `hidden`, `colour`, `effect` and `level`)",
    );
    refused_in_show(
        "use = \"mirror\"",
        "use = \"mirror\"\nfodl = 1",
        "8:1: unknown key `fodl` in an effect of `mirror`; did you mean `fold`? (it takes `fold`)",
    );
    refused_in_show(
        "name = \"sea\"",
        "shwoing = 1",
        "9:1: unknown key `shwoing` in a level; did you mean `showing`? (it takes `name`, `blend`, `opacity`, `hidden`, `colour`, `showing`, `effect` and `clip`)",
    );
    refused_in_show(
        "use = \"tint\"",
        "use = \"tint\"\ncolor = 1",
        "12:1: unknown key `color` in an effect of `tint`; did you mean `colour`? (it takes `colour` and `amount`)",
    );
    refused_in_show(
        "name = \"waves\"",
        "fti = 1",
        "13:1: unknown key `fti` in a clip; did you mean `fit`? (it takes `name`, `footage`, `fit`, `hidden`, `colour`, `effect`, `speed`, `loop_beats`, `in_secs`, `out_secs` and `at_end`)",
    );
    refused_in_show(
        "use = \"edge-find\"",
        "use = \"edge-find\"\ngian = 1",
        "17:1: unknown key `gian` in an effect of `edge-find`; did you mean `gain`? (it takes `gain` and `amount`)",
    );
    refused_in_show(
        "[[global.effect]]",
        "[global]\nlevel = 1\n[[global.effect]]",
        "18:1: unknown key `level` in the global scope (it takes `effect`)",
    );
    refused_in_show(
        "use = \"flash-gate\"",
        "ues = \"flash-gate\"",
        "18:1: unknown key `ues` in an effect; did you mean `use`?",
    );
    refused_in_chain(
        "tempo_bpm = 174",
        "3:1: unknown key `tempo_bpm` in a chain file (it takes `format`, `name`, `about`, `tags`, `effect` and `control`)",
    );
}

#[test]
fn a_missing_key_is_named_where_its_table_opens() {
    refused("name = \"a\"", "1:1: the file needs `format`; add `format = \"underover/chain/1\"`");
    refused_in_chain("[[effect]]\non = false", "3:1: an effect needs `use`; add `use = \"tint\"`");
    refused_in_show("name = \"Night ferry\"\n", "", "1:1: a show file needs `name`; add `name = \"...\"`");
    refused_in_show("name = \"sea\"", "", "8:1: a level needs `name`; add `name = \"...\"`");
    refused_in_show(
        "footage = \"generated:grey-for-tests\"",
        "",
        "12:1: a clip needs `footage`; add `footage = \"generated:waves\"`",
    );
    refused_in_show("height = 360", "", "3:9: the frame needs `height`; add `height = 720`");
    let bare = "format = \"underover/show/1\"\nname = \"a\"\n";
    refused(bare, "1:1: a show file needs at least one bundle; add `[[bundle]]`");
    refused(
        &format!("{bare}[[bundle]]\nname = \"a\""),
        "3:1: a bundle needs at least one level; add `[[bundle.level]]`",
    );
    refused(
        &format!("{bare}[[bundle]]\nname = \"a\"\n[[bundle.level]]\nname = \"b\""),
        "5:1: a level needs at least one clip; add `[[bundle.level.clip]]`",
    );
}

#[test]
fn a_value_of_the_wrong_type_or_range_is_quoted_with_what_is_allowed() {
    let setting = |line: &str| format!("[[effect]]\nuse = \"edge-find\"\n{line}");
    for wrong in
        ["8.5", "-1", "nan", "inf", "-inf", "1e999", "99999999999999999999", "\"1\"", "true", "1979-05-27"]
    {
        refused_in_chain(
            &setting(&format!("gain = {wrong}")),
            &format!("5:8: `gain` is {wrong}; it takes a number from 0 to 8 (times)"),
        );
    }
    refused_in_chain(&setting("gain = [1]"), "5:8: `gain` is a list; it takes a number from 0 to 8 (times)");
    refused_in_chain(&setting("on = 1"), "5:6: `on` is 1; it takes true or false");
    refused_in_chain(
        "[[effect]]\nuse = \"mirror\"\nfold = \"left-over-rihgt\"",
        "5:8: `fold` is \"left-over-rihgt\"; it takes one of `left-over-right`, `right-over-left`, `top-over-bottom` and `bottom-over-top`; did you mean `left-over-right`?",
    );
    refused_in_chain(
        "[[effect]]\nuse = \"tint\"\ncolour = \"orange\"",
        "5:10: `colour` is \"orange\"; it takes a colour such as \"#ff8c33\"",
    );
    refused_in_chain("[[effect]]\nuse = 5", "4:7: `use` is 5; it takes text in quotes");
    refused_in_chain(
        "[effect]\nuse = \"tint\"",
        "3:1: `effect` is a table; it takes a list of tables, each under a line `[[effect]]`",
    );
    refused_in_chain(
        "effect = [5]",
        "3:11: `effect` holds 5; it takes a list of tables, each under a line `[[effect]]`",
    );
    refused_in_chain(
        "tags = \"warm\"",
        "3:8: `tags` is \"warm\"; it takes a list such as [\"lines\", \"warm\"]",
    );
    refused_in_chain(
        "about = \"\\u001b[2J\"",
        "3:9: `about` holds the control character U+001B; it takes plain text",
    );
    refused_in_show(
        "width = 640",
        "width = 0",
        "3:19: `width` is 0; it takes a whole number from 1 to 16384",
    );
    refused_in_show(
        "width = 640",
        "width = 640.5",
        "3:19: `width` is 640.5; it takes a whole number from 1 to 16384",
    );
    refused_in_show(
        "{ width = 640, height = 360 }",
        "\"640x360\"",
        "3:9: `frame` is \"640x360\"; it takes a size such as { width = 1280, height = 720 }",
    );
    refused_in_show(
        "[[bundle]]",
        "tempo_bpm = nan\n[[bundle]]",
        "4:13: `tempo_bpm` is nan; it takes a number from 1 to 999",
    );
    refused_in_show(
        "[[bundle]]",
        "pixels = \"encoded\"\n[[bundle]]",
        "4:10: `pixels` is \"encoded\"; it takes one of `encoded-8bit` and `linear-float`; did you mean `encoded-8bit`?",
    );
    refused_in_show(
        "name = \"sea\"",
        "name = \"sea\"\nopacity = 1.5",
        "10:11: `opacity` is 1.5; it takes a number from 0 to 1",
    );
    let blends = listed(BlendMode::ALL.iter().map(|mode| mode.name()));
    refused_in_show(
        "name = \"sea\"",
        "name = \"sea\"\nblend = \"scren\"",
        &format!("10:9: `blend` is \"scren\"; it takes one of {blends}; did you mean `screen`?"),
    );
    refused_in_show(
        "name = \"waves\"",
        "name = \"waves\"\nfit = \"center\"",
        "14:7: `fit` is \"center\"; it takes one of `whole`, `contained`, `stretched` and `centred`; did you mean `centred`?",
    );
}

#[test]
fn what_a_grip_holds_is_found_however_long_its_names_are() {
    let long = "s".repeat(80);
    let named = SHOW
        .replace("name = \"picture\"", &format!("name = \"{long}\""))
        .replace("name = \"sea\"", &format!("name = \"{long}\""))
        .replace("use = \"tint\"", &format!("use = \"tint\"\nname = \"{long}\""));
    let grip = |scope: &str, effect: &str| {
        format!(
            "{named}\n[[control]]\nname = \"Wash\"\nhand = \"left\"\nkind = \"continuous\"\n[[control.grip]]\nscope = \"{scope}\"\neffect = \"{effect}\"\nsetting = \"amount\"\nlow = 0\nhigh = 1\n"
        )
    };
    let held = show(&grip(&format!("level:{long}/{long}"), &long));
    assert_eq!(
        held.grips("Wash").map(|(target, _)| (target.scope(), target.effect())).collect::<Vec<_>>(),
        [(Some(Scope::Level(0, 0)), Some(0))]
    );
    // What is not there is repeated no longer than a message bears.
    let cut = format!("{}…", "x".repeat(60));
    for (scope, effect, told) in [
        (
            format!("bundle:{}", "x".repeat(5000)),
            &long,
            format!("the show has no bundle named `{cut}` there"),
        ),
        (format!("level:{long}/{long}"), &"x".repeat(5000), format!("the chain there has no effect `{cut}`")),
    ] {
        let error = parsed(&grip(&scope, effect)).unwrap_err();
        assert!(error.contains(&told) && error.len() < 600, "{error}");
    }
}

#[test]
fn names_are_unique_and_fit_a_scope() {
    refused_in_show(
        "name = \"sea\"",
        "name = \"sea/sky\"",
        "9:8: `name` holds `/`, which parts the names of a scope such as level:picture/sea; choose another character",
    );
    refused_in_show(
        "name = \"picture\"",
        "name = \" \"",
        "5:8: `name` is empty; give it at least one letter",
    );
    refused_in_show(
        "name = \"picture\"",
        "name = \"a\\nb\"",
        "5:8: `name` holds a line end or tab; it takes plain text",
    );
    let long = "a".repeat(81);
    refused_in_show(
        "name = \"picture\"",
        &format!("name = \"{long}\""),
        "5:8: `name` has 81 characters; it takes at most 80",
    );
    refused_in_show(
        "[[global.effect]]",
        "[[bundle.level.clip]]\nname = \"waves\"\nfootage = \"a.png\"\n[[global.effect]]",
        "18:8: a clip named \"waves\" is already there; give each its own name",
    );
    refused_in_show(
        "name = \"sea\"",
        "name = \"sea\"\nshowing = \"wave\"",
        "10:11: the level has no clip named `wave`; did you mean `waves`? (it has `waves`)",
    );
}

#[test]
fn unknown_effects_and_footage_get_the_nearest_name() {
    let effects = listed(CATALOGUE.effects().iter().map(|effect| effect.name.as_str()));
    let sources = listed(CATALOGUE.sources().iter().map(|source| source.name.as_str()));
    refused_in_chain(
        "[[effect]]\nuse = \"tnit\"",
        &format!("4:7: there is no effect named `tnit`; did you mean `tint`? (known: {effects})"),
    );
    refused_in_show(
        "generated:grey-for-tests",
        "generated:grey-for-test",
        &format!(
            "14:11: there is no generated source named `grey-for-test`; did you mean `grey-for-tests`? (known: {sources})"
        ),
    );
    refused_in_show(
        "generated:grey-for-tests",
        "generate:waves",
        "14:11: `footage` opens with `generate:`; did you mean `generated:`?",
    );
    refused_in_show(
        "generated:grey-for-tests",
        "",
        "14:11: `footage` names nothing; it takes a picture's path, such as \"sea.png\", or \"generated:NAME\"",
    );
}

#[test]
fn a_mark_is_kept_where_it_is_not_the_place_and_no_two_effects_of_a_chain_have_one() {
    let effects = |marks: &[&str]| -> String {
        marks.iter().map(|mark| format!("[[effect]]\nuse = \"tint\"\n{mark}")).collect()
    };
    let chain = |marks: &[&str]| match parsed(&format!("{CHAIN}{}", effects(marks))).unwrap() {
        Document::Chain(preset) => preset,
        Document::Show(show) => panic!("{}", show.name),
    };
    let turned = chain(&["mark = 3\n", "", "mark = 1\n"]);
    assert_eq!(marks(&turned.chain).own(), "321");
    assert_eq!(marks(&turned.chain).order("123"), Ok(vec![2, 1, 0]));
    let text = chain_text(&turned);
    let written: Vec<&str> = text.lines().filter(|line| line.starts_with("mark")).collect();
    assert_eq!(written, ["mark = 3", "mark = 1"]);
    assert_eq!(parsed(&text), Ok(Document::Chain(turned)));
    // Said where it need not be, it is the same chain.
    assert_eq!(chain(&["mark = 1\n", "mark = 2\n"]), chain(&["", ""]));
    assert_eq!(marks(&chain(&["mark = 12\n", ""]).chain).own(), "12.2");

    let refused = |marks: &[&str], message: &str| refused_in_chain(&effects(marks), message);
    refused(
        &["mark = 2\n", ""],
        "5:8: `mark` is 2, and so is that of effect 2, `tint`, its place; each effect of a chain has its own, such as 1",
    );
    refused(
        &["mark = 7\n", "", "mark = 7\n"],
        "10:8: `mark` is 7, and so is that of effect 1, `tint`; each effect of a chain has its own, such as 1",
    );
    refused(&["mark = 0\n"], "5:8: `mark` is 0; it takes a whole number from 1 to 99");
    refused(&["mark = \"a\"\n"], "5:8: `mark` is \"a\"; it takes a whole number from 1 to 99");
}

#[test]
fn a_chain_past_the_longest_is_refused_at_the_first_effect_too_many() {
    let effects = |n: usize| "[[effect]]\nuse = \"tint\"\n".repeat(n);
    assert!(parsed(&format!("{CHAIN}{}", effects(64))).is_ok());
    refused_in_chain(&effects(65), "131:1: this is effect 65 of its chain; a chain takes at most 64");
}

#[test]
fn what_footage_of_another_size_does_is_read_by_the_word_that_it_had_before_and_written_by_its_own() {
    for (old, now) in
        [("fill", Fit::Whole), ("fit", Fit::Contained), ("stretch", Fit::Stretched), ("centre", Fit::Centred)]
    {
        let fit =
            |word: &str| SHOW.replace("name = \"waves\"", &format!("name = \"waves\"\nfit = \"{word}\""));
        let read = show(&fit(old));
        assert_eq!(read.bundles[0].levels[0].clips[0].fit, now, "{old}");
        assert_eq!(read, show(&fit(now.name())));
        let written = show_text(&read, Path::new(""));
        assert_eq!(written.contains(&format!("fit = \"{}\"", now.name())), now != Fit::Whole, "{written}");
        assert!(!written.contains(&format!("\"{old}\"")), "{written}");
    }
}

#[test]
fn the_format_line_decides() {
    let takes = "it takes `underover/chain/1`, `underover/show/1` or `underover/starter/1`";
    let newer = "was written by a newer version of Underover; this one reads `underover/chain/1`, `underover/show/1` and `underover/starter/1`";
    refused("format = \"underover/chain/2\"\nsparkle = 1", &format!("1:10: `underover/chain/2` {newer}"));
    refused("format = \"underover/show/17\"", &format!("1:10: `underover/show/17` {newer}"));
    refused(
        "format = \"underover/chian/1\"",
        &format!("1:10: `format` is \"underover/chian/1\"; {takes}; did you mean `underover/chain/1`?"),
    );
    refused(
        "format = \"underover/chain/0\"",
        &format!("1:10: `format` is \"underover/chain/0\"; {takes}; did you mean `underover/chain/1`?"),
    );
    refused("format = 1", &format!("1:10: `format` is 1; {takes}"));
}

#[test]
fn a_text_that_is_no_toml_is_refused_in_one_line() {
    let opening =
        "a chain opens with `format = \"underover/chain/1\"`, a show with `format = \"underover/show/1\"`";
    refused("", &format!("1:1: the file is empty; {opening}"));
    refused(" \n\n", &format!("1:1: the file is empty; {opening}"));
    refused("# later\n", &format!("1:1: the file holds nothing but comments; {opening}"));
    refused("the night ferry\n", "1:5: this is no TOML: key with no value, expected `=`");
    refused(
        "a = 1\nb = loud\n",
        "2:5: `loud` is no TOML here: string values must be quoted, expected literal string",
    );
    refused("a = \"loud\n", "1:10: this is no TOML: invalid basic string, expected `\"`");
    refused(
        "MZ\u{0}\u{1}",
        "1:3: the byte 0x00 is no text; a chain or show file is plain text, saved as UTF-8",
    );
    let deep =
        "tables or lists lie too deep inside each other; a show needs no more than four levels of them";
    refused(&format!("a = {}", "[".repeat(100_000)), &format!("1:85: {deep}"));
    refused(&format!("a = {}", "{a=".repeat(100_000)), &format!("1:245: {deep}"));
    refused(&format!("a = 1\nb{} = 1", ".b".repeat(100_000)), &format!("2:1: {deep}"));
}

/// The examples of invalid repetition in TOML 1.0.0 (<https://toml.io/en/v1.0.0>,
/// sections Keys, Table, Array of Tables), word for word.
#[test]
fn what_toml_calls_a_repeated_key_is_refused_at_the_second() {
    let twice = |key: &str| format!("`{key}` is already there in this table; keep one of the two");
    refused("name = \"Tom\"\nname = \"Pradyun\"", &format!("2:1: {}", twice("name")));
    refused(
        "spelling = \"favorite\"\n\"spelling\" = \"favourite\"",
        &format!("2:1: {}", twice("\"spelling\"")),
    );
    refused("[fruit]\napple = \"red\"\n\n[fruit]\norange = \"orange\"", &format!("4:2: {}", twice("fruit")));
    refused(
        "[fruit]\napple = \"red\"\n\n[fruit.apple]\ntexture = \"smooth\"",
        &format!("4:8: {}", twice("apple")),
    );
    refused("fruits = []\n\n[[fruits]]", &format!("3:3: {}", twice("fruits")));
    refused(
        "fruit.apple = 1\nfruit.apple.smooth = true",
        "2:7: `apple` is no TOML here: cannot extend value of type integer with a dotted key",
    );
}

#[test]
fn a_message_never_repeats_a_megabyte_or_a_terminal_code() {
    let error = parsed(&format!("{CHAIN}{} = 1", "b".repeat(1 << 20))).unwrap_err();
    assert!(error.len() < 300 && error.contains("bbb…` in a chain file"), "{error}");
    let error = parsed(&format!("{CHAIN}\"\\u001b[2J\" = 1")).unwrap_err();
    assert!(error.contains("unknown key `\\u{1b}[2J`"), "{error}");
}

#[test]
fn a_path_that_leads_to_no_file_says_where_it_ends() {
    let folder = tempfile::tempdir().unwrap();
    let at = |path: &str| folder.path().join(path);
    let message = |path: &str| read(&at(path), &CATALOGUE).unwrap_err().to_string();
    let shown = |path: &str| format!("`{}`", at(path).display());
    assert_eq!(message(""), format!("{} is a folder; name a chain or show file", shown("")));
    fs::write(at("ferry.toml"), CHAIN).unwrap();
    fs::create_dir(at("shows")).unwrap();

    assert!(read(&at("ferry.toml"), &CATALOGUE).is_ok());
    assert_eq!(
        message("fery.toml"),
        format!("there is no file {}; did you mean `ferry.toml`?", shown("fery.toml"))
    );
    assert_eq!(message("quay.toml"), format!("there is no file {}", shown("quay.toml")));
    assert_eq!(
        message("show/old/ferry.toml"),
        format!(
            "there is no file {}, because there is no folder {}; did you mean `shows`?",
            shown("show/old/ferry.toml"),
            shown("show")
        )
    );
    assert_eq!(
        message("ferry.toml/a.toml"),
        format!(
            "there is no file {}, because {} is a file, not a folder",
            shown("ferry.toml/a.toml"),
            shown("ferry.toml")
        )
    );
    assert_eq!(
        message(""),
        format!(
            "{} is a folder; name a chain or show file in it, such as {}",
            shown(""),
            shown("ferry.toml")
        )
    );
}

#[test]
fn junk_is_refused_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("junk.toml");
    fs::File::create(&path).unwrap().set_len(50 << 20).unwrap();
    let start = Instant::now();
    let too_large = |path: &Path| {
        format!("`{}` is larger than 4 MiB; a chain or show file is text of a few kilobytes", path.display())
    };
    assert_eq!(read(&path, &CATALOGUE).unwrap_err().to_string(), too_large(&path));
    if cfg!(target_os = "linux") {
        let endless = Path::new("/dev/zero");
        assert_eq!(
            read(endless, &CATALOGUE).unwrap_err().to_string(),
            "`/dev/zero`: this is a device, no plain file; put a plain file in its place, or take it away"
        );
    }
    fs::write(&path, b"name = \"caf\xe9\"").unwrap();
    assert_eq!(
        read(&path, &CATALOGUE).unwrap_err().to_string(),
        format!(
            "{}:1:12: the byte 0xe9 is no UTF-8; a chain or show file is plain text, saved as UTF-8",
            path.display()
        )
    );
    assert!(start.elapsed() < Duration::from_secs(2));
}

#[test]
fn a_chain_reads_like_one_written_by_hand() {
    let mut lines = EffectUse::new(CATALOGUE.effect("edge-find").unwrap().clone());
    lines.set_number(0, 1.5).unwrap();
    let mut tint = EffectUse::new(CATALOGUE.effect("tint").unwrap().clone());
    tint.set_word(0, "#0072b2").unwrap();
    tint.on = false;
    let preset = Preset {
        name: "The \"Harbour\" lamps".to_owned(),
        about: "Outlines first.".to_owned(),
        tags: vec!["lines".to_owned(), "cold".to_owned()],
        chain: vec![lines, tint],
        controls: Vec::new(),
    };
    let text = chain_text(&preset);
    assert_eq!(
        text,
        "format = \"underover/chain/1\"\nname = 'The \"Harbour\" lamps'\nabout = \"Outlines first.\"\ntags = [\"lines\", \"cold\"]\n\n\
         [[effect]]\nuse = \"edge-find\"\ngain = 1.5\n\n[[effect]]\nuse = \"tint\"\non = false\ncolour = \"#0072b2\"\n"
    );
    let data = toml::toml! {
        format = "underover/chain/1"
        name = "The \"Harbour\" lamps"
        about = "Outlines first."
        tags = ["lines", "cold"]
        [[effect]]
        use = "edge-find"
        gain = 1.5
        [[effect]]
        use = "tint"
        on = false
        colour = "#0072b2"
    };
    assert_eq!(toml::from_str::<toml::Table>(&text).unwrap(), data);
}

#[test]
fn a_show_keeps_its_layout_and_its_data() {
    let text = show_text(&show(SHOW), Path::new("shows"));
    let data = toml::from_str::<toml::Table>(&text).unwrap();
    let mut original = toml::from_str::<toml::Table>(SHOW).unwrap();
    original.insert("tempo_bpm".to_owned(), 120.0.into());
    original.insert("pixels".to_owned(), "encoded-8bit".into());
    assert_eq!(data, original);
    let headers = |text: &str| -> Vec<String> {
        text.lines().filter(|line| line.starts_with("[[")).map(str::to_owned).collect()
    };
    assert_eq!(headers(&text), headers(SHOW));
}

#[test]
fn a_show_saved_elsewhere_still_finds_its_footage() {
    let folder = std::env::temp_dir();
    let text = SHOW.replace("generated:grey-for-tests", "shows/sea.png");
    let Document::Show(show) = parse(&text, "a.toml", &folder, &CATALOGUE).unwrap() else {
        panic!("a chain")
    };
    let path = |folder: &Path| {
        let Document::Show(again) = parse(&show_text(&show, folder), "b.toml", folder, &CATALOGUE).unwrap()
        else {
            panic!("a chain")
        };
        match again.bundles[0].levels[0].clips[0].footage.clone() {
            FootageName::File { path, .. } => path,
            other => panic!("{other}"),
        }
    };
    for elsewhere in [&folder.join("shows"), &folder.join("starters/old"), &folder] {
        // As the system would walk it, had it all of these folders.
        let mut walked = std::path::PathBuf::new();
        for step in path(elsewhere).components() {
            match step {
                std::path::Component::ParentDir => assert!(walked.pop()),
                step => walked.push(step),
            }
        }
        assert_eq!(walked, folder.join("shows/sea.png"));
    }
}

#[test]
fn a_write_that_cannot_be_done_says_why_and_leaves_no_trace() {
    let folder = tempfile::tempdir().unwrap();
    let at = |path: &str| folder.path().join(path);
    let message = |path: &str| write(&at(path), b"new").unwrap_err().to_string();
    let shown = |path: &str| format!("`{}`", at(path).display());
    fs::write(at("kept.png"), "old").unwrap();
    fs::write(at("locked.png"), "old").unwrap();
    let mut locked = fs::metadata(at("locked.png")).unwrap().permissions();
    locked.set_readonly(true);
    fs::set_permissions(at("locked.png"), locked).unwrap();
    fs::create_dir(at("wall")).unwrap();

    assert_eq!(
        message("wall"),
        format!(
            "cannot write {}: a folder is there; name a file in it, or choose another name",
            shown("wall")
        )
    );
    assert_eq!(
        message("walls/a/b.png"),
        format!(
            "cannot write {}: there is no folder {}; make it first, or choose another",
            shown("walls/a/b.png"),
            shown("walls")
        )
    );
    assert_eq!(
        message("kept.png/b.png"),
        format!(
            "cannot write {}: {} is a file, not a folder; choose another folder",
            shown("kept.png/b.png"),
            shown("kept.png")
        )
    );
    assert_eq!(
        message("locked.png"),
        format!(
            "cannot write {}: the file there is read-only; choose another name, or make it writable",
            shown("locked.png")
        )
    );
    assert_eq!(
        write(Path::new(""), b"").unwrap_err().to_string(),
        "`` names no file; add a name, such as `wall.png`"
    );
    // The temporary file is written before the name turns out too long for the system.
    let long = message(&"n".repeat(300));
    assert!(long.ends_with("; choose a folder with room that you may write in"), "{long}");

    let mut left: Vec<String> = fs::read_dir(folder.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    left.sort();
    assert_eq!(left, ["kept.png", "locked.png", "wall"]);
    assert_eq!(fs::read(at("locked.png")).unwrap(), b"old");
}

#[cfg(unix)]
#[test]
fn a_replaced_file_keeps_its_permissions_its_link_and_its_kind() {
    use std::os::unix::fs::{FileTypeExt, PermissionsExt, symlink};

    let folder = tempfile::tempdir().unwrap();
    let at = |path: &str| folder.path().join(path);
    let mode = |path: &str| fs::metadata(at(path)).unwrap().permissions().mode() & 0o777;
    fs::write(at("plain"), "").unwrap();
    write(&at("new"), b"new").unwrap();
    assert_eq!(mode("new"), mode("plain"));

    fs::set_permissions(at("plain"), fs::Permissions::from_mode(0o640)).unwrap();
    symlink("plain", at("link")).unwrap();
    write(&at("link"), b"through the link").unwrap();
    assert!(fs::symlink_metadata(at("link")).unwrap().is_symlink());
    assert_eq!(fs::read(at("plain")).unwrap(), b"through the link");
    assert_eq!(mode("plain"), 0o640);

    let made = std::process::Command::new("mkfifo").arg(at("pipe")).status();
    if made.is_ok_and(|status| status.success()) {
        let path = at("pipe");
        let reader = std::thread::spawn(move || fs::read(path).unwrap());
        write(&at("pipe"), b"into the pipe").unwrap();
        assert_eq!(reader.join().unwrap(), b"into the pipe");
        assert!(fs::metadata(at("pipe")).unwrap().file_type().is_fifo());
    }
}

fn title() -> impl Strategy<Value = String> {
    "[a-zA-Z0-9é港\"'\\\\#\\[\\]=. -]{1,20}"
        .prop_filter("a name has a letter", |name| !name.trim().is_empty())
}

fn about() -> impl Strategy<Value = String> {
    any::<String>().prop_map(|text| {
        text.chars().filter(|&c| !c.is_control() || matches!(c, '\n' | '\r' | '\t')).collect()
    })
}

fn effect_use() -> impl Strategy<Value = EffectUse> {
    let effects = CATALOGUE.effects();
    (0..effects.len(), any::<bool>(), vec(proptest::option::of(0.0..=1.0_f64), 8)).prop_map(
        |(at, on, shares)| {
            let mut used = EffectUse::new(effects[at].clone());
            used.on = on;
            for (place, share) in shares.iter().enumerate().take(used.effect.settings.len()) {
                let (Some(share), kind) = (share, used.effect.settings[place].kind.clone()) else { continue };
                match kind {
                    Kind::Number { range: [low, high], .. } => {
                        used.set_number(place, (low + share * (high - low)).clamp(low, high))
                    }
                    Kind::Whole { range: [low, high], .. } => {
                        used.set_number(place, (low as f64 + share * (high - low) as f64).round())
                    }
                    Kind::Colour => used.set_word(place, &format!("#{:06x}", (share * 16_777_215.0) as u32)),
                    Kind::Choice(words) => {
                        used.set_word(place, &words[(share * (words.len() - 1) as f64) as usize])
                    }
                }
                .unwrap();
            }
            used
        },
    )
}

fn chain() -> impl Strategy<Value = Chain> {
    vec(effect_use(), 0..4)
}

fn preset() -> impl Strategy<Value = Preset> {
    (title(), about(), vec(title(), 0..3), chain()).prop_map(|(name, about, tags, chain)| Preset {
        name,
        about,
        tags,
        chain,
        controls: Vec::new(),
    })
}

fn mix() -> impl Strategy<Value = Mix> {
    (0..BlendMode::ALL.len(), 0.0..=1.0_f64)
        .prop_map(|(blend, opacity)| Mix { blend: BlendMode::ALL[blend], opacity })
}

fn colour() -> impl Strategy<Value = Option<ColourCode>> {
    let named = (0..OkabeIto::ALL.len()).prop_map(|at| Some(ColourCode::Named(OkabeIto::ALL[at])));
    prop_oneof![Just(None), named, any::<[u8; 3]>().prop_map(|bytes| Some(ColourCode::Free(Colour(bytes))))]
}

fn clip() -> impl Strategy<Value = Clip> {
    let footage = prop_oneof![
        Just(FootageName::Generated("grey-for-tests".to_owned())),
        (0..StandIn::ALL.len(), title())
            .prop_map(|(kind, label)| FootageName::StandIn(StandIn::ALL[kind], label)),
        "[a-z '\"#/]{0,8}[a-z]\\.png"
            .prop_map(|written| FootageName::File { path: Path::new("shows").join(&written), written }),
    ];
    (title(), footage, 0..Fit::ALL.len(), play(), chain(), any::<bool>(), colour()).prop_map(
        |(name, footage, fit, play, chain, hidden, colour)| Clip {
            name,
            fit: Fit::ALL[fit],
            // Footage that is no file has no play settings.
            play: if matches!(footage, FootageName::File { .. }) { play } else { Play::default() },
            hidden,
            colour,
            footage,
            chain,
        },
    )
}

fn play() -> impl Strategy<Value = Play> {
    let pace = prop_oneof![(0.0..100.0).prop_map(Pace::Speed), (0.01..10_000.0).prop_map(Pace::LoopBeats)];
    let section = (0.0..10.0, proptest::option::of(10.5..20.0));
    (pace, section, 0..AtEnd::ALL.len()).prop_map(|(pace, (in_secs, out_secs), at_end)| Play {
        pace,
        in_secs,
        out_secs,
        at_end: AtEnd::ALL[at_end],
    })
}

fn level() -> impl Strategy<Value = Level> {
    let showing = any::<proptest::sample::Index>();
    (title(), mix(), chain(), vec(clip(), 1..3), showing, any::<bool>(), colour()).prop_map(
        |(name, mix, chain, mut clips, showing, hidden, colour)| {
            (0..).zip(&mut clips).for_each(|(n, clip)| clip.name += &format!(" {n}"));
            Level { name, mix, chain, showing: showing.index(clips.len()), hidden, colour, clips }
        },
    )
}

fn bundle() -> impl Strategy<Value = Bundle> {
    (title(), mix(), chain(), vec(level(), 1..3), any::<bool>(), colour()).prop_map(
        |(name, mix, chain, mut levels, hidden, colour)| {
            (0..).zip(&mut levels).for_each(|(n, level)| level.name += &format!(" {n}"));
            Bundle { name, mix, hidden, colour, chain, levels }
        },
    )
}

/// What is drawn of a section before its show is known.
#[derive(Debug)]
struct Drawn {
    name: String,
    note: String,
    colour: Option<ColourCode>,
    beats: Option<f64>,
    fade: f64,
    levels: Vec<(proptest::sample::Index, Option<proptest::sample::Index>)>,
    opacity: Vec<(proptest::sample::Index, f64)>,
    chains: Vec<(proptest::sample::Index, String)>,
}

impl Drawn {
    fn of(self, n: usize, bundles: &[Bundle]) -> Section {
        let mut section = Section::of(&format!("{} {n}", self.name));
        let levels: Vec<[usize; 2]> =
            (0..bundles.len()).flat_map(|b| (0..bundles[b].levels.len()).map(move |l| [b, l])).collect();
        (section.note, section.colour, section.beats) = (self.note, self.colour, self.beats);
        section.fade = self.beats.map_or(100.0, |beats| beats.min(4096.0)) * self.fade;
        for (level, clip) in self.levels {
            let [b, l] = levels[level.index(levels.len())];
            let clips = bundles[b].levels[l].clips.len();
            section.shows.insert([b, l], clip.map(|clip| clip.index(clips)));
        }
        let scopes: Vec<Scope> = (0..bundles.len())
            .map(Scope::Bundle)
            .chain(levels.iter().map(|&[b, l]| Scope::Level(b, l)))
            .collect();
        section
            .opacity
            .extend(self.opacity.into_iter().map(|(at, share)| (scopes[at.index(scopes.len())], share)));
        let more = [Scope::Global, Scope::Clip(0, 0, 0)];
        let scopes: Vec<Scope> = scopes.into_iter().chain(more).collect();
        section
            .chains
            .extend(self.chains.into_iter().map(|(at, name)| (scopes[at.index(scopes.len())], name)));
        section
    }
}

fn section() -> impl Strategy<Value = Drawn> {
    let index = any::<proptest::sample::Index>;
    let time = (proptest::option::of(0.1..10_000.0), 0.0..=1.0_f64);
    let levels = vec((index(), proptest::option::of(index())), 0..4);
    let opacity = vec((index(), 0.0..=1.0_f64), 0..4);
    let chains = vec((index(), "(library|preset):[a-z '\"-]{0,9}[a-z]"), 0..3);
    (title(), about(), colour(), time, levels, opacity, chains).prop_map(
        |(name, note, colour, (beats, fade), levels, opacity, chains)| {
            let name = name.chars().take(70).collect::<String>();
            Drawn { name, note, colour, beats, fade, levels, opacity, chains }
        },
    )
}

fn rate() -> impl Strategy<Value = FrameRate> {
    let whole_or_broadcast = prop_oneof![
        Just("60"),
        Just("24"),
        Just("30000/1001"),
        Just("59.94"),
        Just("12.5"),
        Just("17/3"),
        Just("23.976")
    ];
    let any = (1..=1_000_000_u32, 1..=239_u32, 0..1_000_000_u32)
        .prop_map(|(parts, whole, more)| FrameRate::new(whole * parts + more % parts, parts).unwrap());
    prop_oneof![whole_or_broadcast.prop_map(|rate| rate.parse().unwrap()), any]
}

fn any_show() -> impl Strategy<Value = Show> {
    let frame = (1..=16_384_u32, 1..=16_384_u32).prop_map(|(width, height)| Frame { width, height });
    let head =
        (title(), about(), vec(title(), 0..3), frame, 1.0..=999.0_f64, rate(), 0..PixelMode::ALL.len());
    let notes = vec((0..3_usize, "[a-z]{1,8}:[a-z -]{1,9}[a-z]", "[0-9a-f]{16}"), 0..3);
    let order = vec(any::<proptest::sample::Index>(), 0..6);
    (head, vec(bundle(), 1..3), chain(), notes, any::<bool>(), vec(section(), 0..4), order).prop_map(
        |(head, mut bundles, global, mut notes, on_global, sections, order)| {
            let (name, about, tags, frame, tempo_bpm, rate, pixels) = head;
            // In the order in which a file lists them.
            notes.sort_by_key(|(scope, ..)| *scope);
            let scopes = [Scope::Bundle(0), Scope::Level(0, 0), Scope::Clip(0, 0, 0)];
            let note = |(scope, preset, content): (usize, String, String)| Taken {
                scope: scopes[scope],
                clip: (scope == 2 && content.starts_with('0')).then(|| "picture/sea/waves".to_owned()),
                preset,
                content,
            };
            let mut taken: Vec<Taken> = notes.into_iter().map(note).collect();
            taken.extend(on_global.then(|| Taken {
                scope: Scope::Global,
                preset: "library:a".to_owned(),
                clip: None,
                content: "0123456789abcdef".to_owned(),
            }));
            (0..).zip(&mut bundles).for_each(|(n, bundle)| bundle.name += &format!(" {n}"));
            let sections: Vec<Section> =
                sections.into_iter().enumerate().map(|(n, drawn)| drawn.of(n, &bundles)).collect();
            let running_order = match sections.len() {
                0 => Vec::new(),
                count => order.iter().map(|index| index.index(count)).collect(),
            };
            Show {
                name,
                about,
                venue: tags.last().cloned().unwrap_or_default(),
                tags,
                frame,
                tempo_bpm,
                rate,
                pixels: PixelMode::ALL[pixels],
                bundles,
                global,
                controls: Vec::new(),
                held: Vec::new(),
                reach_ms: 250.0,
                sections,
                running_order,
                taken,
                is_starter: false,
            }
        },
    )
}

fn preset_text() -> impl Strategy<Value = String> {
    let texts: Vec<String> = CHAINS.iter().chain(SHOWS).map(|(_, text)| (*text).to_owned()).collect();
    proptest::sample::select(texts)
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(128) })]

    #[test]
    fn a_chain_survives_writing_and_reading(preset in preset()) {
        let text = chain_text(&preset);
        let data: toml::Table = toml::from_str(&text).unwrap();
        prop_assert_eq!(data["name"].as_str(), Some(preset.name.as_str()));
        let uses = data.get("effect").and_then(|list| list.as_array()).into_iter().flatten();
        let uses: Vec<&str> = uses.filter_map(|effect| effect["use"].as_str()).collect();
        let names: Vec<&str> = preset.chain.iter().map(|used| used.effect.name.as_str()).collect();
        prop_assert_eq!(uses, names);
        prop_assert_eq!(parsed(&text), Ok(Document::Chain(preset)), "{}", text);
    }

    #[test]
    fn a_show_survives_writing_and_reading(show in any_show()) {
        let text = show_text(&show, Path::new("shows"));
        let data: toml::Table = toml::from_str(&text).unwrap();
        prop_assert_eq!(data["tempo_bpm"].as_float(), Some(show.tempo_bpm));
        prop_assert_eq!(data["bundle"].as_array().map(Vec::len), Some(show.bundles.len()));
        prop_assert_eq!(parsed(&text), Ok(Document::Show(show)), "{}", text);
    }

    #[test]
    fn any_bytes_are_read_or_refused(bytes in vec(any::<u8>(), 0..300)) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("any.toml");
        fs::write(&path, bytes).unwrap();
        let _ = read(&path, &CATALOGUE);
    }

    #[test]
    fn a_damaged_preset_is_read_or_refused_in_one_line(
        text in preset_text(),
        cut in any::<proptest::sample::Index>(),
        length in 0..40_usize,
        put in prop_oneof!["\\PC{0,8}", "[\\[\\]{}\"'=.,#\n0-9a-z-]{0,12}"],
    ) {
        let chars: Vec<char> = text.chars().collect();
        let cut = cut.index(chars.len());
        let damaged: String =
            chars[..cut].iter().copied().chain(put.chars()).chain(chars.iter().skip(cut + length).copied()).collect();
        if let Err(message) = parsed(&damaged) {
            prop_assert!(!message.contains('\n') && message.starts_with("shows/ferry.toml:"), "{}", message);
        }
    }
}
