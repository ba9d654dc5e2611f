//! A whole night through the program: twelve sections of forty clips, played, counted, explored and checked.

use std::fs;

use serde_json::Value as Json;

use crate::shared::Person;

const SECTIONS: usize = 12;
const LEVELS: usize = 10;
const CLIPS: [&str; 4] = ["waves", "harbour", "landfall", "lamp"];

/// Ten levels of four clips; each section lasts a beat, comes in half a beat, shows other clips, and sets two opacities.
fn night() -> String {
    let mut text = "format = \"underover/show/1\"\nname = \"Crossing\"\nframe = { width = 64, height = 36 }\ntempo_bpm = 120.0\n".to_owned();
    let names: Vec<String> = (1..=SECTIONS).map(|n| format!("\"part {n}\"")).collect();
    text += &format!("running_order = [{}]\n\n[[bundle]]\nname = \"picture\"\n", names.join(", "));
    text += "\n[[bundle.effect]]\nuse = \"edge-find\"\namount = 0.5\n\n[[bundle.effect]]\nuse = \"tint\"\n";
    for level in 0..LEVELS {
        text += &format!("\n[[bundle.level]]\nname = \"deck {level}\"\nopacity = 0.5\n");
        for (n, clip) in CLIPS.iter().enumerate() {
            text +=
                &format!("\n[[bundle.level.clip]]\nname = \"{clip} {n}\"\nfootage = \"generated:{clip}\"\n");
        }
    }
    for section in 0..SECTIONS {
        text += &format!("\n[[section]]\nname = \"part {}\"\nbeats = 1.0\nfade = 0.5\n", section + 1);
        let shows = (0..LEVELS).map(|level| match (section + level) % 5 {
            4 => format!("\"picture/deck {level}\" = \"none\""),
            clip => format!("\"picture/deck {level}\" = \"{} {clip}\"", CLIPS[clip]),
        });
        text += &format!("shows = {{ {} }}\n", shows.collect::<Vec<_>>().join(", "));
        let (one, other) = (section % LEVELS, (section * 3 + 1) % LEVELS);
        text += &format!("opacity = {{ \"picture/deck {one}\" = 0.25");
        text +=
            &if one == other { " }\n".to_owned() } else { format!(", \"picture/deck {other}\" = 0.75 }}\n") };
    }
    text
}

fn bytes(person: &Person, name: &str) -> Vec<u8> {
    image::open(person.path(name)).unwrap_or_else(|e| panic!("{name}: {e}")).into_rgba8().into_raw()
}

fn json(person: &Person, name: &str) -> Json {
    serde_json::from_str(&fs::read_to_string(person.path(name)).unwrap()).unwrap()
}

#[test]
fn a_night_of_twelve_sections_and_forty_clips_is_played_from_one_into_the_next_with_exact_fades() {
    let person = Person::new();
    fs::write(person.path("night.toml"), night()).unwrap();
    let said = person.right(&[
        "render",
        "night.toml",
        "--running-order",
        "--out",
        "night-####.png",
        "--json",
        "night.json",
    ]);
    // 12 beats at 120 BPM are 6 s: 360 frames of 60 a second (arithmetic).
    assert!(said.contains("360 frames") && said.contains("the running order of Crossing"), "{said}");
    let figures = json(&person, "night.json");
    assert_eq!(figures["running_order"].as_array().unwrap().len(), SECTIONS);
    assert_eq!(figures["running_order"][3]["from_beats"], 3.0);
    // A beat has 30 frames, a fade the first 15 of them.
    for frame in [0, 29, 30, 37, 44, 45, 59, 200, 331, 359] {
        let (section, into) = (frame / 30, frame % 30);
        let beats = format!("{}", f64::from(frame) / 30.0);
        let stands = |section: i32| {
            let name = format!("part {}", section + 1);
            person.right(&[
                "render",
                "night.toml",
                "--section",
                &name,
                "--scope",
                "global",
                "--at",
                &beats,
                "--out",
                "one.png",
            ]);
            bytes(&person, "one.png")
        };
        let found = bytes(&person, &format!("night-{:04}.png", frame + 1));
        let to = stands(section);
        if section == 0 || into >= 15 {
            assert!(found == to, "frame {frame} is not that of its section");
            continue;
        }
        let (from, share) = (stands(section - 1), f64::from(into) / 15.0);
        // W3C Compositing and Blending Level 1: source-over of what is opaque, in 255ths, rounded half up by a hair.
        let mixed = |(&from, &to): (&u8, &u8)| {
            (f64::from(from) * (1.0 - share) + f64::from(to) * share + 0.5 + 1.0 / 16_384.0).floor() as u8
        };
        let expected: Vec<u8> = from.iter().zip(&to).map(mixed).collect();
        assert!(found == expected, "frame {frame} is not the mean of both");
        assert!(into == 0 || found != to && found != from);
    }
    // One moment of it, and what is asked wrongly.
    person.right(&["render", "night.toml", "--running-order", "--at", "1.25", "--out", "one.png"]);
    assert_eq!(
        bytes(&person, "one.png")[..400],
        {
            person.right(&[
                "render",
                "night.toml",
                "--running-order",
                "--beats",
                "1.25..1.3",
                "--out",
                "some-##.png",
            ]);
            bytes(&person, "some-01.png")
        }[..400]
    );
    for (words, says) in [
        (&["--running-order", "--scope", "global"][..], "--scope"),
        (&["--running-order", "--section", "part 1"], "goes through all its sections"),
        (&["--open-beats", "4"], "--open-beats 4"),
    ] {
        let (code, error) = person.wrong(&[&["render", "night.toml", "--out", "x.png"], words].concat());
        assert!(code == 2 && error.contains(says), "{error}");
    }
    fs::write(person.path("pile.toml"), night().replace("running_order", "# running_order")).unwrap();
    let (code, error) = person.wrong(&["render", "pile.toml", "--running-order", "--out", "x.png"]);
    assert!(
        code == 2 && error.contains("underover edit running-order pile.toml") && error.contains("part 12"),
        "{error}"
    );
    fs::write(person.path("open.toml"), night().replacen("beats = 1.0", "", 1)).unwrap();
    let (code, said, told) = person.run(&[
        "render",
        "open.toml",
        "--running-order",
        "--open-beats",
        "2",
        "--beats",
        "1.9..2.1",
        "--out",
        "open-##.png",
        "--json",
        "open.json",
    ]);
    assert!(code == 0 && told.contains("has no length; 2 beats are taken"), "{said}{told}");
    assert_eq!(json(&person, "open.json")["running_order"][1]["from_beats"], 2.0);
}

#[test]
fn a_chain_is_explored_over_every_section_and_one_is_named_that_serves_all() {
    let person = Person::new();
    let chain = |name: &str, effects: &[&str]| {
        let effects: String =
            effects.iter().map(|effect| format!("\n[[effect]]\nuse = {effect}\n")).collect();
        let text = format!("format = \"underover/chain/1\"\nname = \"{name}\"\n{effects}");
        fs::write(person.path(&format!("{name}.toml")), text).unwrap();
        person.right(&["library", "keep", &format!("{name}.toml")]);
    };
    let edge = "\"edge-find\"\namount = 0.5";
    // The other way round, and another chain.
    chain("amber", &["\"tint\"", edge]);
    chain("blue", &["\"tint\"\ncolour = \"#0072b2\""]);
    let named = night()
        .replace(
            "name = \"part 3\"\n",
            "name = \"part 3\"\nchains = { \"bundle:picture\" = \"library:amber\" }\n",
        )
        .replace(
            "name = \"part 7\"\n",
            "name = \"part 7\"\nchains = { \"bundle:picture\" = \"library:blue\" }\n",
        );
    fs::write(person.path("night.toml"), named).unwrap();
    person.right(&["check", "night.toml"]);
    let said = person.right(&[
        "orders",
        "night.toml",
        "--sections",
        "--memory",
        "256",
        "--json",
        "orders.json",
        "--out",
        "wall.png",
    ]);
    let figures = json(&person, "orders.json");
    let pieces: Vec<&str> =
        figures["pieces"].as_array().unwrap().iter().map(|p| p["name"].as_str().unwrap()).collect();
    assert_eq!((pieces.len(), pieces[0], pieces[11]), (12, "part 1", "part 12"));
    let kept = &figures["keep_one"];
    assert_eq!(kept["keep"], "order 12, the show's own", "ten of twelve sections have it: {kept}");
    let loss = |part: usize| kept["sections"][part - 1]["mean_de2000"].as_f64().unwrap();
    assert_eq!((loss(1), loss(12)), (0.0, 0.0));
    assert_eq!(kept["sections"][2]["own"], "library:amber");
    assert!(loss(3) > 0.0 && loss(7) > loss(3), "{kept}");
    let line = said.lines().find(|line| line.starts_with("Keep one on bundle:picture")).unwrap();
    assert!(
        line.contains(&format!("loses dE {:.1} on part 7", loss(7)))
            && line.contains("nothing on the other 10 (mean CIEDE2000)"),
        "{line}"
    );
    // What it loses is what a comparison of the two pictures says.
    person.right(&[
        "library",
        "put",
        "blue",
        "--on",
        "bundle:picture",
        "--show",
        "night.toml",
        "--out",
        "all-blue.toml",
    ]);
    fs::write(person.path("plain.toml"), night()).unwrap();
    person.right(&["compare", "plain.toml", "all-blue.toml", "--section", "part 7", "--json", "apart.json"]);
    let apart = json(&person, "apart.json").to_string();
    assert!(apart.contains(&format!("\"mean_de2000\":{}", loss(7))), "{} is not in {apart}", loss(7));
    let (code, error) = person.wrong(&["orders", "preset:lamp-lines", "--sections"]);
    assert!(code == 2 && error.contains("only a show has sections"), "{error}");
    let (code, error) = person.wrong(&["orders", "preset:harbour-lamps", "--sections"]);
    assert!(code == 2 && error.contains("has no sections"), "{error}");
    // A clip shows in some sections alone, and which it does not show in is told.
    let clip = ["orders", "night.toml", "--sections", "--scope", "clip:picture/deck 0/waves 0"];
    let (code, _, told) = person.run(&clip);
    assert!(code == 0 && told.contains("does not show in `part 2`, `part 3`"), "{told}");
}

/// Two sections of a quarter of a beat, light and dark, in turn: eight cuts a second at 120 BPM.
fn cutting() -> String {
    let order = ["\"light\", \"dark\""; 12].join(", ");
    format!(
        r##"format = "underover/show/1"
name = "Cuts"
frame = {{ width = 64, height = 36 }}
tempo_bpm = 120.0
running_order = [{order}]

[[bundle]]
name = "picture"
[[bundle.level]]
name = "sky"
[[bundle.level.clip]]
name = "lamp"
footage = "white.png"
[[bundle.level.clip]]
name = "spare"
footage = "white.png"

[[section]]
name = "light"
beats = 0.25
shows = {{ "picture/sky" = "lamp" }}

[[section]]
name = "dark"
beats = 0.25
shows = {{ "picture/sky" = "none" }}

[[section]]
name = "encore"
opacity = {{ "picture" = 0.5 }}
"##
    )
}

#[test]
fn cuts_that_flash_are_found_along_the_running_order_where_no_section_flashes_by_itself() {
    let person = Person::new();
    image::RgbaImage::from_pixel(64, 36, image::Rgba([255; 4])).save(person.path("white.png")).unwrap();
    fs::write(person.path("cuts.toml"), cutting()).unwrap();
    let (code, said, error) = person.run(&["flashes", "cuts.toml", "--over", "2", "--json", "cuts.json"]);
    assert_eq!(code, 1, "{said}{error}");
    assert!(
        error.contains("along the running order, in ") && error.contains("too many general flashes"),
        "{error}"
    );
    for part in ["Cuts: light: beats 0 to 2", "Cuts: encore: beats", "along the running order, beats 0 to 6"]
    {
        assert!(said.contains(part), "no `{part}` in\n{said}");
    }
    let figures = json(&person, "cuts.json");
    assert_eq!(figures["passes"], false);
    assert!(
        figures["sections"].as_array().unwrap().iter().all(|section| section["passes"] == true),
        "{figures}"
    );
    assert_eq!(figures["running_order"]["passes"], false);
    let section = figures["running_order"]["limits"][0]["section"].as_str().unwrap();
    assert!(section == "light" || section == "dark", "{section}");
    // One section alone passes, and slow cuts do.
    person.right(&["flashes", "cuts.toml", "--section", "light", "--over", "2"]);
    fs::write(person.path("slow.toml"), cutting().replace("beats = 0.25", "beats = 2.0")).unwrap();
    person.right(&["flashes", "slow.toml", "--over", "2"]);

    let (code, said, error) = person.run(&["check", "--show", "cuts.toml", "--json", "check.json"]);
    assert!(code == 1 && error.contains("would fail the show"), "{error}");
    for part in [
        "section encore: The running order never comes to it, and no control calls it.",
        "clip:picture/sky/spare: No section and no control shows this clip.",
        "along the running order",
    ] {
        assert!(said.contains(part), "no `{part}` in\n{said}");
    }
    assert!(!said.contains("clip:picture/sky/lamp"), "{said}");
    let (_, said, _) = person.run(&["check", "--show", "slow.toml"]);
    assert!(said.contains("Along the running order: ") && !said.contains("Would fail"), "{said}");
    fs::write(
        person.path("lost.toml"),
        cutting().replace("opacity = { \"picture\" = 0.5 }", "chains = { global = \"library:lost\" }"),
    )
    .unwrap();
    let (code, error) = person.wrong(&["check", "lost.toml"]);
    assert!(code != 0 && error.contains("section encore, global") && error.contains("lost"), "{error}");
}

#[test]
fn the_sheet_and_the_report_tell_every_section_with_what_it_changes_and_the_chains_that_it_lays() {
    let person = Person::new();
    image::RgbaImage::from_pixel(64, 36, image::Rgba([255; 4])).save(person.path("white.png")).unwrap();
    let show = cutting().replacen(
        "shows =",
        "note = \"lamps up\"\nchains = { global = \"preset:lamp-lines\" }\nshows =",
        1,
    );
    fs::write(person.path("cuts.toml"), show).unwrap();
    person.right(&["sheet", "cuts.toml", "--out", "sheet.txt"]);
    let sheet = fs::read_to_string(person.path("sheet.txt")).unwrap();
    for part in [
        "light: 0.25 beats, cuts, at beat 0, 0.5, 1,",
        "level:picture/sky shows lamp",
        "preset:lamp-lines on global",
        "lamps up",
        "level:picture/sky shows nothing",
        "encore: until the next, cuts\n",
        "bundle:picture at 0.5",
        "\nglobal in light\n  1. edge-find",
    ] {
        assert!(sheet.contains(part), "no `{part}` in\n{sheet}");
    }
    person.right(&["sheet", "cuts.toml", "--out", "sheet.svg"]);
    let drawn = fs::read_to_string(person.path("sheet.svg")).unwrap();
    assert!(
        drawn.contains("Sections of the set") && drawn.contains("shows nothing"),
        "the page has them, too"
    );
    person.right(&["report", "cuts.toml", "--over", "1", "--out", "report.html"]);
    let page = fs::read_to_string(person.path("report.html")).unwrap();
    for part in [
        "Sections of the set",
        "encore: until the next, cuts",
        "preset:lamp-lines on global",
        "within every limit counted",
    ] {
        assert!(page.contains(part), "no `{part}`");
    }
    // A show without sections has none.
    person.right(&["sheet", "preset:harbour-lamps", "--out", "plain.txt"]);
    assert!(!fs::read_to_string(person.path("plain.txt")).unwrap().contains("Sections"));
}
