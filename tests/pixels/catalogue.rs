//! The catalogue: effects of a person's own, what is said of wrong ones, and every shader that the program runs.

#[allow(dead_code, reason = "each test file uses its own part of it")]
use std::collections::{BTreeMap, HashSet};
use std::fs;
use std::path::{Path as FilePath, PathBuf};
use std::slice;
use std::sync::Arc;

use crate::common::{Alpha, difference, moment, path, rendered, scattered, used, with_renderer};
use naga::valid::{Capabilities, ValidationFlags, Validator};
use underover::base::frame::PixelMode;
use underover::base::picture::Picture;
use underover::catalogue::{
    Catalogue, Effect, Ending, Reach, Runs, Standing, Thread, Workgroup, Woven, WovenStep, assembled,
    fingerprint_shader, index_map_shader, past_shader, plain_pass, plain_shader, runs_shader, shader_of_each,
    woven_shader,
};
use underover::gpu::{Asked, Want};
use underover::measure::Trait;
use underover::order::{Premises, Proofs, Tree};
use underover::plan::sharing::Sharing;
use underover::show::chain::EffectUse;

/// A folder of this repository.
fn folder(name: &str) -> PathBuf {
    FilePath::new(env!("CARGO_MANIFEST_DIR")).join(name)
}

/// The built-in effects and those of tests/own_effects.
fn with_own_effects() -> Catalogue {
    let mut catalogue = Catalogue::built_in().unwrap();
    catalogue.add_folder(&folder("tests/own_effects")).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(catalogue.problems(), []);
    // own_effects.rs puts their declarations to the test.
    catalogue.settle(|_| Ok(Standing::Confirmed));
    catalogue
}

/// The effect with its whole and other numbers in the order of its file.
fn own(catalogue: &Catalogue, name: &str, numbers: &[f64]) -> EffectUse {
    let mut used = EffectUse::new(Arc::clone(catalogue.effect(name).unwrap()));
    for (place, &number) in numbers.iter().enumerate() {
        used.set_number(place, number).unwrap();
    }
    used
}

/// The picture with each texel's bytes made anew from its place.
fn redrawn(picture: &Picture, texel: impl Fn(u32, u32, &dyn Fn(u32, u32) -> [u8; 4]) -> [u8; 4]) -> Picture {
    let width = picture.frame.width;
    let old = |x: u32, y: u32| {
        let at = ((y * width + x) * 4) as usize;
        [0, 1, 2, 3].map(|channel| picture.rgba[at + channel])
    };
    let places = (0..picture.frame.height).flat_map(|y| (0..width).map(move |x| (x, y)));
    let rgba = places.flat_map(|(x, y)| texel(x, y, &old)).collect();
    Picture { frame: picture.frame, rgba, opaque: picture.opaque }
}

#[test]
fn an_effect_of_ones_own_is_one_file() {
    let catalogue = with_own_effects();
    assert_eq!(catalogue.effects().len(), Catalogue::built_in().unwrap().effects().len() + 3);
    // A third of a byte is never half a byte off a whole one, so that every adapter rounds alike.
    let dim_rows = own(&catalogue, "dim-rows", &[3.0, 1.0 / 3.0]);
    let row_slip = own(&catalogue, "row-slip", &[5.0]);
    for (width, height) in [(7, 5), (12, 8), (1, 1), (160, 90)] {
        let picture = scattered(width, height, Alpha::Full, 1);
        let moment = moment(picture.frame, PixelMode::Encoded8Bit, 0.0);
        let dimmed = redrawn(&picture, |x, y, old| {
            let third = |byte: u8| (f64::from(byte) / 3.0).round() as u8;
            let [r, g, b, a] = old(x, y);
            if y % 3 == 0 { [third(r), third(g), third(b), a] } else { [r, g, b, a] }
        });
        let found = rendered(&picture, slice::from_ref(&dim_rows), moment);
        assert_eq!(difference(&dimmed, &found), None);
        // Sideways past the border and round, also where that is more than once round.
        let slip = |x: i64| (x - 5).rem_euclid(i64::from(width)) as u32;
        let slipped = |from: &Picture| {
            redrawn(from, |x, y, old| if y % 2 == 1 { old(slip(i64::from(x)), y) } else { old(x, y) })
        };
        assert_eq!(
            difference(&slipped(&picture), &rendered(&picture, slice::from_ref(&row_slip), moment)),
            None
        );
        let both = rendered(&picture, &[dim_rows.clone(), row_slip.clone()], moment);
        assert_eq!(difference(&slipped(&dimmed), &both), None);
    }
}

#[test]
fn a_move_of_ones_own_keeps_every_byte_with_alpha_and_in_both_pixel_modes() {
    let row_slip = own(&with_own_effects(), "row-slip", &[2.0]);
    let picture = scattered(9, 6, Alpha::Mixed, 2);
    for pixels in PixelMode::ALL {
        let moment = moment(picture.frame, pixels, 0.0);
        let still = rendered(&picture, &[], moment);
        let slipped = redrawn(&still, |x, y, old| if y % 2 == 1 { old((x + 7) % 9, y) } else { old(x, y) });
        assert_eq!(difference(&slipped, &rendered(&picture, slice::from_ref(&row_slip), moment)), None);
    }
}

#[test]
fn effects_of_ones_own_are_explored_with_those_built_in() {
    let catalogue = with_own_effects();
    let chain = [
        used("tint", &[]),
        own(&catalogue, "dim-rows", &[]),
        own(&catalogue, "row-slip", &[]),
        used("mirror", &[]),
        own(&catalogue, "dim-rows", &[2.0, 1.0]),
    ];
    let picture = scattered(24, 16, Alpha::Full, 3);
    let moment = moment(picture.frame, PixelMode::Encoded8Bit, 0.0);
    let path = path(&picture, &chain, moment);
    with_renderer(|renderer| {
        let maps = renderer.index_maps(&path.chain, &moment).unwrap();
        let proofs = Proofs::of(&Premises { chain: &path.chain, moment: &moment, opaque: true, maps: &maps });
        let idle: Vec<bool> = proofs.idle.iter().map(Option::is_some).collect();
        assert_eq!(idle, [false, false, false, false, true], "dim-rows that keeps all is idle");
        // Not proved: dim-rows (position matters) with all, and the two moves; a triangle with tint at
        // one corner: the paw, 12 acyclic orientations.
        let classes = proofs.classes.all();
        assert_eq!(classes.len(), 12);
        let tree = Tree::of(&classes, |effect| idle[effect]);
        let want = Want::Tiles { size: picture.frame, most: classes.len() };
        let mut told = Vec::new();
        // Each effect in a pass of its own, then runs of them in one.
        for sharing in [Sharing::Never, Sharing::Always] {
            renderer.share(sharing);
            let (finished, _) =
                renderer.explore(&path, &tree, &Asked { want, ..Asked::default() }, |_| {}).unwrap();
            for (class, finished) in classes.iter().zip(&finished) {
                let alone = renderer.picture(&path, &class.order).unwrap();
                assert_eq!(difference(&alone, finished.picture.as_ref().unwrap()), None, "{:?}", class.order);
            }
            told.push(finished.iter().map(|finished| finished.fingerprint).collect::<Vec<_>>());
        }
        assert_eq!(told[0], told[1]);
        // Sideways moves keep whole rows, so dim-rows commutes with both here; that leaves tint before
        // or after dim-rows, and row-slip before or after mirror.
        assert_eq!(told[0].iter().collect::<HashSet<_>>().len(), 4);
    });
}

/// An effect without fault; each wrong one below differs from it in one thing.
const RIGHT: &str = r#"//! summary = "Darkens."
//! does = "darkens"
//! reach = "texel"
//! channels = "apart"
//! position = "ignored"
//!
//! [[setting]]
//! name = "depth"
//! label = "Depth"
//! help = "How dark."
//! kind = "number"
//! unit = "share"
//! range = [0.0, 1.0]
//! default = 0.5
//!
//! [[idle]]
//! setting = "depth"
//! is = 0.0
//! because = "nothing is darkened"

struct Settings {
    depth: f32,
}

fn channel(value: f32, index: u32) -> f32 {
    return value * (1.0 - settings.depth);
}
"#;

/// What the error says of a folder with `RIGHT` as `a-right.wgsl`, and of this file.
fn refused(file: &str, content: &[u8]) -> Result<String, String> {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("a-right.wgsl"), RIGHT).unwrap();
    fs::write(folder.path().join(file), content).unwrap();
    let mut catalogue = Catalogue::built_in().unwrap();
    let before = catalogue.effects().len();
    catalogue.add_folder(folder.path()).map_err(|error| error.to_string())?;
    let [problem] = catalogue.problems() else { return Err(format!("problems: {:?}", catalogue.problems())) };
    if catalogue.effects().len() != before + 1 || catalogue.effect("a-right").is_err() {
        return Err("it hides the right file beside it".to_owned());
    }
    let begins = format!("{}", folder.path().join(file).display());
    let said = &problem.reason;
    said.strip_prefix(&begins).map(str::to_owned).ok_or(format!("it does not begin with the file: {said}"))
}

/// (what is replaced in `RIGHT`, by what, the line named, what else the error says)
type Wrong = (&'static str, &'static str, usize, &'static [&'static str]);

/// (what is wrong, the file's name, its bytes, the line named, what else the error says)
type WrongFile = (&'static str, &'static str, Vec<u8>, usize, &'static [&'static str]);

const WRONG_HEADERS: &[Wrong] = &[
    (r#"reach = "texel""#, r#"reach = "texel"#, 3, &["expected `\"`"]),
    (r#"reach = "texel""#, r#"reach = "texels""#, 3, &["`texels`", "`texel`, `move`, `neighbourhood`"]),
    (r#"reach = "texel""#, "reach = \"texel\"\n//! radios = 2", 4, &["`radios`", "`radius`"]),
    (r#"reach = "texel""#, "reach = \"texel\"\n//! radius = 2", 1, &["`radius`", "remove it"]),
    (r#"reach = "texel""#, r#"reach = "neighbourhood""#, 1, &["needs `radius`", "1 or more"]),
    (r#"reach = "texel""#, r#"reach = "move""#, 1, &["position = \"matters\""]),
    (r#"channels = "apart""#, r#"channels = "together""#, 1, &["for moves", "\"apart\" or \"mixed\""]),
    (r#"channels = "apart""#, "", 1, &["lacks `channels`", "\"apart\", \"mixed\""]),
    (r#"position = "ignored""#, "", 1, &["lacks `position`", "\"ignored\" or \"matters\""]),
    (r#"position = "ignored""#, "position = \"ignored\"\n//! opaque = false", 1, &["`opaque`", "sources"]),
    (r#"summary = "Darkens.""#, "", 1, &["missing field `summary`"]),
    (r#"does = "darkens""#, "", 1, &["lacks `does`", "mixes the channels"]),
    (
        r#"reach = "texel""#,
        "reach = \"texel\"\n//! also = [\"Dusk\"]",
        4,
        &["`also`", "\"Dusk\"", "small letters"],
    ),
    (r#"reach = "texel""#, "reach = \"texel\"\n//! also = [\"dusk \"]", 4, &["\"dusk \"", "plain words"]),
    (
        r#"reach = "texel""#,
        "reach = \"texel\"\n//! also = [\"dusk\",\n//! \"dusk\"]",
        5,
        &["\"dusk\" once more"],
    ),
    (r#"reach = "texel""#, "reach = \"texel\"\n//! also = \"dusk\"", 4, &["expected a sequence"]),
    (r#"name = "depth""#, r#"name = "use""#, 7, &["`use`", "chain files"]),
    (r#"name = "depth""#, r#"name = "Depth""#, 1, &["`Depth`", "small letters"]),
    (r#"help = "How dark.""#, r#"halp = "How dark.""#, 10, &["`halp`", "`help`"]),
    (r#"unit = "share""#, "", 7, &["`depth`", "`unit`"]),
    ("range = [0.0, 1.0]", "range = [1.0, 0.0]", 7, &["`depth`", "the smaller first"]),
    ("range = [0.0, 1.0]", "", 7, &["`depth`", "`range` of two numbers"]),
    (r#"kind = "number""#, r#"kind = "choice""#, 7, &["`choices`", "two words or more"]),
    ("default = 0.5", "default = 1.5", 7, &["default of `depth` is 1.5", "a number from 0 to 1 (share)"]),
    ("default = 0.5", "default = \"half\"", 7, &["default of `depth` is \"half\"", "from 0 to 1"]),
    ("default = 0.5", "default = [0.5]", 7, &["default of `depth` is [0.5]", "from 0 to 1"]),
    ("default = 0.5", "", 7, &["missing field `default`"]),
    (r#"setting = "depth""#, r#"setting = "dept""#, 16, &["`dept`", "did you mean `depth`?"]),
    (r#"setting = "depth""#, "", 16, &["either `setting` or `derived`"]),
    (r#"setting = "depth""#, r#"derived = "depth""#, 16, &["`depth`", "does not declare"]),
    (
        "[[idle]]",
        "[[derived]]\n//! name = \"turn\"\n//! kind = \"turn\"\n//! from = { rate = \"dept\", phase = 0.0 }\n//! [[idle]]",
        16,
        &["`turn`", "its rate from `dept`", "did you mean `depth`?"],
    ),
    (
        "[[idle]]",
        "[[derived]]\n//! name = \"turn\"\n//! kind = \"turn\"\n//! from = { rate = 1.0 }\n//! [[idle]]",
        16,
        &["`turn`", "lacks `phase`"],
    ),
    (
        "[[idle]]",
        "[[derived]]\n//! name = \"turn\"\n//! kind = \"turn\"\n//! from = { rat = 1.0, phase = 0.0 }\n//! [[idle]]",
        16,
        &["`rate` and `phase`", "`rat`"],
    ),
    (r#"reach = "texel""#, r#"reach = "past frames""#, 1, &["[memory]", "`fades`, `renewed` or `held`"]),
    (
        "[[idle]]",
        "[memory]\n//! fades = \"depth\"\n//! [[idle]]",
        16,
        &["fades names `depth`", "[[derived]] value of kind \"fade\""],
    ),
    (
        "[[idle]]",
        "[memory]\n//! fades = \"keep\"\n//! held = \"keep\"\n//! [[idle]]",
        16,
        &["one of `fades`, `renewed` and `held`"],
    ),
    (
        "[[idle]]",
        "[[derived]]\n//! name = \"keep\"\n//! kind = \"fade\"\n//! from = { left_a_beat = \"depth\" }\n//! [memory]\n//! held = \"keep\"\n//! [[idle]]",
        20,
        &["held names `keep`", "[[derived]] value of kind \"due\""],
    ),
    (
        "[[idle]]",
        "[[derived]]\n//! name = \"keep\"\n//! kind = \"fade\"\n//! from = { left_a_beat = \"depth\" }\n//! [memory]\n//! fades = \"keep\"\n//! [[idle]]",
        1,
        &["belongs to reach = \"past frames\"", "remove it"],
    ),
    (
        "kind = \"number\"\n//! unit = \"share\"\n//! range = [0.0, 1.0]\n//! default = 0.5",
        "kind = \"whole\"\n//! unit = \"rows\"\n//! range = [0.5, 3.0]\n//! default = 1",
        7,
        &["`depth` is whole", "`range`"],
    ),
];

const WRONG_CODE: &[Wrong] = &[
    ("    depth: f32,", "    none: u32,", 26, &["`depth`"]),
    ("    depth: f32,", "    depth: f32,\n    sheen: f32,", 21, &["`sheen`", "does not declare"]),
    ("    depth: f32,", "    depth: vec3f,", 25, &["`return`"]),
    ("fn channel(", "fn chanel(", 25, &["`fn channel(value: f32, index: u32) -> f32`", "missing"]),
    ("index: u32) -> f32 {", "index: i32) -> f32 {", 25, &["check that function's form"]),
    ("    return value", "    retrn value", 26, &["expected"]),
    ("settings.depth);", "settings.dept);", 26, &["dept"]),
    ("value * (", "values * (", 26, &["values"]),
    (
        "return value * (1.0",
        "return straight(vec2i(0)).r * (1.0",
        25,
        &["`channel` reaches `picture`", "declare"],
    ),
    (
        "return value * (1.0",
        "return textureLoad(picture, vec2i(0), 0, 0).r * (1.0",
        25,
        &["`channel` reaches `picture`"],
    ),
    ("return value * (1.0", "return f32(frame_size().x) * (1.0", 25, &["`channel` reaches `picture`"]),
    ("return value * (1.0", "return f32(layer) * (1.0", 25, &["`channel` reaches `layer`"]),
    ("struct Settings {", "var<private> kept: f32;\nstruct Settings {", 26, &["global `kept`"]),
];

#[test]
fn a_wrong_effect_file_is_refused_with_its_place_and_what_would_be_right() {
    let changed = |(from, to, line, says): &Wrong| {
        assert!(RIGHT.contains(from), "{from}");
        (format!("{from} -> {to}"), "b-wrong.wgsl", RIGHT.replacen(from, to, 1).into_bytes(), *line, *says)
    };
    let mut cases: Vec<_> = WRONG_HEADERS.iter().chain(WRONG_CODE).map(changed).collect();
    let code = RIGHT.split_once("\n\n").map_or("", |(_, code)| code);
    let mut no_utf8 = RIGHT.as_bytes().to_vec();
    no_utf8[RIGHT.find("How dark").unwrap()] = 0xe9;
    let twice = "[[setting]]\n//! name = \"depth\"\n//! label = \"D\"\n//! help = \"D\"\n//! kind = \"colour\"\n//! default = \"#ffffff\"\n//! [[idle]]";
    let unused = RIGHT.replace("    depth: f32", "    none: f32").replace(" * (1.0 - settings.depth)", "");
    let whole = RIGHT.replace("depth: f32", "depth: i32").replace("settings.depth", "f32(settings.depth)");
    let whole_files: [WrongFile; 9] = [
        ("empty", "b-wrong.wgsl", Vec::new(), 1, &["no header", "`//!` lines"]),
        ("no header", "b-wrong.wgsl", code.into(), 1, &["no header", "`//!` lines"]),
        ("not UTF-8", "b-wrong.wgsl", no_utf8, 10, &["UTF-8"]),
        ("a name with capitals", "Dark Rows.wgsl", RIGHT.into(), 1, &["`Dark Rows`", "small letters"]),
        ("two settings of one name", "b-wrong.wgsl", RIGHT.replace("[[idle]]", twice).into(), 1, &["two", "`depth`"]),
        ("a setting that no code reads", "b-wrong.wgsl", unused.into(), 21, &["`depth`", "never reaches", "add it"]),
        ("a member of another type", "b-wrong.wgsl", whole.into(), 21, &["`depth` is i32", "makes it f32"]),
        ("no struct", "b-wrong.wgsl", "//! summary = \"S\"\n//! does = \"d\"\n//! reach = \"texel\"\n//! channels = \"apart\"\n//! position = \"ignored\"\nfn channel(value: f32, index: u32) -> f32 { return value; }\n".into(), 6, &["Settings"]),
        ("all code gone", "b-wrong.wgsl", RIGHT.replace(code, "").into(), 1, &["`fn channel(", "missing"]),
    ];
    for (what, file, content, line, says) in whole_files {
        cases.push((what.to_owned(), file, content, line, says));
    }
    let mut failures = String::new();
    for (what, file, content, line, says) in &cases {
        match refused(file, content) {
            Ok(said) => {
                println!("{what}\n    {said}");
                let missing: Vec<_> = says.iter().filter(|part| !said.contains(**part)).collect();
                if !said.starts_with(&format!(":{line}:")) || !missing.is_empty() {
                    failures +=
                        &format!("{what}\n  said `{said}`\n  not on line {line}, or lacks {missing:?}\n");
                }
            }
            Err(wrong) => failures += &format!("{what}\n  {wrong}\n"),
        }
    }
    assert!(failures.is_empty(), "{failures}");
}

#[test]
fn a_right_file_is_taken_with_either_kind_of_line_end() {
    for text in [RIGHT.to_owned(), RIGHT.replace('\n', "\r\n")] {
        Effect::read("dark", "dark.wgsl", &text).unwrap_or_else(|e| panic!("{e}"));
    }
}

#[test]
fn an_effect_named_like_one_built_in_is_refused_and_so_is_a_folder_that_is_none() {
    let said = refused("tint.wgsl", RIGHT.as_bytes()).unwrap();
    assert!(said.contains("`tint`") && said.contains("shaders/effects/tint.wgsl"), "{said}");
    assert!(said.contains("rename the file"), "{said}");
    let nowhere = tempfile::tempdir().unwrap().path().join("no such folder");
    let error = Catalogue::built_in().unwrap().add_folder(&nowhere).unwrap_err().to_string();
    assert!(error.contains("no such folder") && error.contains("name a folder of .wgsl files"), "{error}");
}

/// Every shader that the program runs, named; each holds the text of the files that it is made of.
fn every_shader(catalogue: &Catalogue) -> Vec<(String, String)> {
    let shared = |file: &str| fs::read_to_string(folder("shaders/shared").join(file)).unwrap();
    let mut all = vec![("what paints the window".to_owned(), shared("paint.wgsl"))];
    for workgroup in [Workgroup::WIDE, Workgroup::SQUARE, Workgroup::LEAN] {
        let width = workgroup.width;
        for pixels in PixelMode::ALL {
            let mode = pixels.name();
            let mut add =
                |name: &str, text: String| all.push((format!("{name}, {mode}, {width} wide"), text));
            for effect in catalogue.effects().iter().chain(catalogue.sources()) {
                add(&effect.origin, assembled(effect, pixels, workgroup));
            }
            for effect in catalogue.effects() {
                let name = format!("{} with settings for each", effect.name);
                add(&name, shader_of_each(effect, false, pixels, workgroup));
                if effect.remembers() {
                    let name = format!("{} over its past with settings for each", effect.name);
                    add(&name, shader_of_each(effect, true, pixels, workgroup));
                }
            }
            for file in ["take_in.wgsl", "fill.wgsl"] {
                add(file, plain_pass(&shared(file), pixels, pixels, workgroup));
            }
            // What is given out is bytes in both modes.
            let give_out = plain_pass(&shared("give_out.wgsl"), pixels, PixelMode::Encoded8Bit, workgroup);
            assert!(give_out.contains("alias Target = texture_storage_2d_array<rgba8unorm, write>;"));
            add("give_out.wgsl", give_out);
            let halved = plain_pass(&shared("halved.wgsl"), pixels, PixelMode::Encoded8Bit, workgroup);
            add("halved.wgsl", halved);
            add(
                "blend.wgsl",
                plain_shader(&[shared("blend.wgsl"), shared("laid.wgsl")].join("\n"), pixels, workgroup),
            );
            for is_given_out in [false, true] {
                add("fingerprint.wgsl", fingerprint_shader(pixels, workgroup, is_given_out));
            }
            add("joined.wgsl", plain_shader(&shared("joined.wgsl"), pixels, workgroup));
            for reading in ["output_texel", "byte_rounded"] {
                for covers in [[0, 0], [4, 4], [1, 3]] {
                    let [across, down] = covers;
                    let own = format!(
                        "fn read_out(c: vec4f) -> vec4f {{ return {reading}(c); }}\nconst ACROSS = {across}u;\nconst DOWN = {down}u;"
                    );
                    add(
                        "shrink.wgsl",
                        plain_shader(&[shared("shrink.wgsl"), own].join("\n"), pixels, workgroup),
                    );
                }
            }
            let colour_difference = shared("ciede2000.wgsl");
            for (reading, bins) in
                [("output_texel", 808), ("output_texel", 1), ("byte_rounded", 808), ("byte_rounded", 1)]
            {
                let read_out = format!("fn read_out(c: vec4f) -> vec4f {{ return {reading}(c); }}");
                let bins = format!("const BINS = {bins}u;");
                let text = [shared("difference.wgsl"), colour_difference.clone(), read_out, bins.clone()];
                let name = format!("difference.wgsl by {reading}, {bins}");
                add(&name, plain_shader(&text.join("\n"), pixels, workgroup));
            }
            for (name, wanted) in
                [("BRIGHTNESS", Trait::Brightness), ("EDGES", Trait::Edges), ("COLOUR", Trait::Colour)]
            {
                let constants = format!("const TRAIT = {name};\nconst STEPS = {}.0;", wanted.steps());
                let text = [shared("traits.wgsl"), colour_difference.clone(), constants].join("\n");
                add(&format!("traits.wgsl, {name}"), plain_shader(&text, pixels, workgroup));
            }
            for file in ["difference_picture.wgsl", "lab_pairs.wgsl", "lightness.wgsl"] {
                let text = [shared(file), colour_difference.clone()].join("\n");
                add(file, plain_shader(&text, pixels, workgroup));
            }
            for (file, parts) in [
                ("lab_sums.wgsl", &["small_lab.wgsl", "ciede2000.wgsl"][..]),
                ("between_means.wgsl", &["means.wgsl"]),
                ("from_means.wgsl", &["means.wgsl", "small_lab.wgsl", "ciede2000.wgsl"]),
            ] {
                let text: Vec<String> = [&[file], parts].concat().into_iter().map(&shared).collect();
                add(file, plain_shader(&text.join("\n"), pixels, workgroup));
            }
        }
        let mut add = |name: String, text: String| all.push((format!("{name}, {width} wide"), text));
        for source in catalogue.sources() {
            let woven = Woven {
                steps: vec![(WovenStep::Effect(Arc::clone(source), None), source.opaque)],
                pictures: Vec::new(),
                layered: Vec::new(),
            };
            add(format!("{}, an area of it", source.name), woven_shader(&woven, workgroup));
        }
        for effect in catalogue.effects() {
            if effect.reach == Reach::Move {
                add(format!("index map of {}", effect.name), index_map_shader(effect, workgroup));
            }
            // Effects that remember run alone, as the first frame of all does and as any other does.
            if effect.remembers() {
                for pixels in PixelMode::ALL {
                    let name = format!("{} over its past in {}", effect.name, pixels.name());
                    add(name, past_shader(effect, pixels, workgroup));
                }
                continue;
            }
            let laid = WovenStep::Lay { mode: 9, backdrop: Thread::Picture(1), source: Thread::Step(0) };
            let [first, last] = [Thread::Picture(0), Thread::Step(1)]
                .map(|from| WovenStep::Effect(Arc::clone(effect), Some(from)));
            for opaque in [false, true] {
                let steps = [&first, &laid, &last].map(|step| (step.clone(), opaque)).to_vec();
                let woven = Woven { steps, pictures: vec![opaque; 2], layered: vec![!opaque, false] };
                add(format!("{}, laid and again, in one pass", effect.name), woven_shader(&woven, workgroup));
            }
            let endings = [(false, Ending::Stored), (true, Ending::Fingerprinted)];
            let others = catalogue.effects().iter().filter(|next| !next.remembers());
            for (next, (opaque, ending)) in others.zip(endings.into_iter().cycle()) {
                let run = vec![Arc::clone(effect), Arc::clone(next)];
                let runs = Runs { runs: vec![run, vec![Arc::clone(effect)]], opaque, ending };
                let name = format!("{}, then {}, or alone, {ending:?}", effect.name, next.name);
                add(name, runs_shader(&runs, PixelMode::Encoded8Bit, workgroup));
            }
            for pixels in PixelMode::ALL {
                let runs = vec![vec![Arc::clone(effect)]];
                let runs = Runs { runs, opaque: false, ending: Ending::Fingerprinted };
                let name = format!("{} fingerprinted in {}", effect.name, pixels.name());
                add(name, runs_shader(&runs, pixels, workgroup));
            }
        }
    }
    all
}

/// An effect for each function that a header can ask for, over each kind of memory.
fn effects_of_every_kind() -> Vec<Effect> {
    let plain = [
        ("texel", "apart", "ignored", "channel(c: f32, index: u32) -> f32", "c"),
        ("texel", "apart", "matters", "channel_at(c: f32, index: u32, at: vec2i) -> f32", "c"),
        ("texel", "mixed", "ignored", "colour(c: vec3f) -> vec3f", "c"),
        ("texel", "mixed", "matters", "colour_at(c: vec3f, at: vec2i) -> vec3f", "c"),
        ("move", "together", "matters", "source(at: vec2i) -> vec2i", "at"),
        ("move", "apart", "matters", "source(at: vec2i, channel: u32) -> vec2i", "at"),
        ("neighbourhood", "mixed", "ignored", "area(at: vec2i) -> vec4f", "straight(at)"),
    ];
    let past = [
        ("apart", "ignored", "channel_over_past(now: f32, past: f32, index: u32) -> f32"),
        ("apart", "matters", "channel_over_past_at(now: f32, past: f32, index: u32, at: vec2i) -> f32"),
        ("mixed", "ignored", "over_past(now: vec4f, past: vec4f) -> vec4f"),
        ("mixed", "matters", "over_past_at(now: vec4f, past: vec4f, at: vec2i) -> vec4f"),
    ];
    let fade = ("fades", "fade", "left_a_beat", "f32");
    let due = |memory| (memory, "due", "every", "u32");
    let mut texts = Vec::new();
    let header = |reach: &str, channels: &str, position: &str| {
        let radius = if reach == "neighbourhood" { "//! radius = 1\n" } else { "" };
        format!(
            "//! summary = \"Changes nothing.\"\n//! does = \"changes nothing\"\n//! reach = \"{reach}\"\n{radius}\
             //! channels = \"{channels}\"\n//! position = \"{position}\"\n"
        )
    };
    for (reach, channels, position, function, gives) in plain {
        let settings = "struct Settings {\n    none: u32,\n}";
        let header = header(reach, channels, position);
        texts.push(format!("{header}\n{settings}\n\nfn {function} {{\n    return {gives};\n}}\n"));
    }
    for (channels, position, function) in past {
        for (memory, kind, from, member) in [fade, due("renewed"), due("held")] {
            let header = header("past frames", channels, position);
            texts.push(format!(
                "{header}//!\n//! [[setting]]\n//! name = \"one\"\n//! label = \"One\"\n//! help = \"One.\"\n\
                 //! kind = \"number\"\n//! unit = \"share\"\n//! range = [0.0, 0.5]\n//! default = 0.5\n//!\n\
                 //! [[derived]]\n//! name = \"left\"\n//! kind = \"{kind}\"\n//! from = {{ {from} = \"one\" }}\n//!\n\
                 //! [memory]\n//! {memory} = \"left\"\n\n\
                 struct Settings {{\n    left: {member},\n}}\n\nfn {function} {{\n    return now;\n}}\n"
            ));
        }
    }
    let read = |(at, text): (usize, &String)| {
        let name = format!("kind-{at}");
        Effect::read(&name, &format!("{name}.wgsl"), text).unwrap_or_else(|e| panic!("{e}\n{text}"))
    };
    texts.iter().enumerate().map(read).collect()
}

/// Every .wgsl file under a folder, by its path.
fn shader_files(folder: &FilePath) -> BTreeMap<PathBuf, String> {
    let paths = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    paths
        .flat_map(|path| match fs::read_to_string(&path) {
            Ok(text) => BTreeMap::from([(path, text)]),
            Err(_) => shader_files(&path),
        })
        .collect()
}

#[test]
fn every_shader_is_valid_in_every_form_that_the_program_runs() {
    let mut catalogue = with_own_effects();
    for effect in effects_of_every_kind() {
        catalogue.add(effect).unwrap();
    }
    let shaders = every_shader(&catalogue);
    let mut failures = String::new();
    for (name, text) in &shaders {
        let module = match naga::front::wgsl::parse_str(text) {
            Ok(module) => module,
            Err(error) => {
                failures += &format!("{name}\n{}\n", error.emit_to_string(text));
                continue;
            }
        };
        // No capabilities: what every adapter can do.
        let checked = Validator::new(ValidationFlags::all(), Capabilities::empty()).validate(&module);
        if let Err(error) = checked {
            failures += &format!("{name}\n{}\n", error.emit_to_string(text));
        }
    }
    let files = shader_files(&folder("shaders"));
    for (path, text) in &files {
        // What stands between two effects of a run is written with their names: its own words are its comment.
        let own = if path.ends_with("after.wgsl") { text.lines().next().unwrap() } else { text };
        if !shaders.iter().any(|(_, shader)| shader.contains(own)) {
            failures += &format!("{}\nno program here is made of it\n", path.display());
        }
    }
    assert!(files.len() > 30, "only {} files under shaders/", files.len());
    eprintln!("{} shaders of {} files", shaders.len(), files.len());
    assert!(failures.is_empty(), "{failures}");
}
