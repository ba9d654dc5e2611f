//! Controls on what is no setting: switches, opacities, the clip that shows, words, the section.

use std::path::Path;

use crate::shared::{CATALOGUE, Person};
use underover::catalogue::Value;
use underover::edit::{Bring, Edit, Named, Put, SectionEdit, Spot, StructureEdit, TimeEdit, Way};
use underover::files::{Document, chain_text, parse, show_text};
use underover::hands::{Division, Hands, Listener, Map, Recorder};
use underover::midi::Scripted;
use underover::show::chain::Preset;
use underover::show::control::{Control, ControlKind, Grip};
use underover::show::grip::SectionCall;
use underover::show::{Scope, Show, Target};

/// A show of two levels, of which one has three clips, with a control on each kind of thing.
const PIER: &str = r##"format = "underover/show/1"
name = "Pier"
tempo_bpm = 120.0
reach_ms = 200.0

[[bundle]]
name = "picture"
[[bundle.effect]]
use = "mirror"
on = false
[[bundle.level]]
name = "sea"
[[bundle.level.clip]]
name = "waves"
footage = "generated:waves"
[[bundle.level.clip]]
name = "harbour"
footage = "generated:harbour"
[[bundle.level.clip]]
name = "ship"
footage = "generated:ship-mark"
[[bundle.level]]
name = "lamps"
opacity = 0.25
[[bundle.level.clip]]
name = "harbour"
footage = "generated:harbour"

[[control]]
name = "Fold"
hand = "left"
kind = "continuous"
midi = { channel = 1, controller = 1 }
[[control.grip]]
scope = "bundle:picture"
effect = "mirror"
setting = "fold"
low = "left-over-right"
high = "bottom-over-top"

[[control]]
name = "Mirror"
hand = "either"
kind = "latching"
key = "M"
at = [1, 2]
[[control.grip]]
scope = "bundle:picture"
effect = "mirror"
setting = "on"
high = true

[[control]]
name = "Lamps"
hand = "right"
kind = "continuous"
midi = { channel = 1, controller = 7 }
[[control.grip]]
scope = "level:picture/lamps"
setting = "opacity"
low = 0.0
high = 1.0
curve = "ease-in"

[[control]]
name = "Harbour"
hand = "right"
kind = "latching"
key = "H"
midi = { channel = 10, note = 36 }
cue = { at = [0.0, 8.0], every = 16.0, length = 2.0 }
[[control.grip]]
scope = "level:picture/sea"
setting = "showing"
high = "harbour"

[[control]]
name = "Ship"
hand = "right"
kind = "latching"
key = "J"
[[control.grip]]
scope = "level:picture/sea"
setting = "showing"
high = "ship"

[[control]]
name = "On"
hand = "left"
kind = "momentary"
key = "N"
[[control.grip]]
setting = "section"
high = "next"

[[control]]
name = "Landfall"
hand = "left"
kind = "momentary"
key = "L"
[[control.grip]]
setting = "section"
high = "landfall"

[[section]]
name = "casting off"
[[section]]
name = "landfall"
shows = { "picture/sea" = "ship" }
[[section]]
name = "next"
"##;

const SEA: Target = Target::Showing([0, 0]);

fn read(text: &str) -> Result<Show, String> {
    match parse(text, "pier.toml", Path::new(""), &CATALOGUE) {
        Ok(Document::Show(show)) => Ok(show),
        Ok(Document::Chain(_)) => unreachable!(),
        Err(error) => Err(error.to_string()),
    }
}

fn pier() -> Show {
    read(PIER).unwrap_or_else(|error| panic!("{error}"))
}

fn control<'a>(show: &'a Show, name: &str) -> &'a Control {
    show.controls.iter().find(|control| control.name == name).unwrap()
}

fn showing(show: &Show) -> &str {
    let level = &show.bundles[0].levels[0];
    &level.clips[level.showing].name
}

fn applied(show: &Show, edit: Edit) -> Show {
    let now = edit.applied(show).unwrap_or_else(|error| panic!("{error}")).0;
    let text = show_text(&now, Path::new(""));
    assert_eq!(read(&text).unwrap_or_else(|e| panic!("{e}\n{text}")), now, "{text}");
    now
}

#[test]
fn every_kind_of_thing_is_gripped_in_a_file_and_written_as_it_was_read() {
    let show = pier();
    let held: Vec<String> = show.all_grips().iter().map(|(target, _)| show.target_said(*target)).collect();
    assert_eq!(
        held,
        [
            "the clip that shows",
            "the clip that shows",
            "opacity",
            "mirror on or off",
            "mirror fold",
            "the section",
            "the section"
        ]
    );
    let text = show_text(&show, Path::new(""));
    assert_eq!(read(&text).unwrap_or_else(|e| panic!("{e}\n{text}")), show, "{text}");
    // A section may be called as the word for the one after.
    let named = pier();
    let mut named = named.clone();
    let grip = Grip {
        control: "On".to_owned(),
        low: Value::Choice(4),
        high: Value::Choice(4),
        curve: Default::default(),
    };
    named.hold(Target::Section, grip).unwrap();
    let text = show_text(&named, Path::new(""));
    assert!(text.contains("high = \"section:next\""), "{text}");
    assert_eq!(read(&text).unwrap(), named);
    let map = Map::of(&named);
    let said: Vec<String> = map
        .control
        .iter()
        .flat_map(|one| &one.moves)
        .map(|moved| format!("{}: {}", moved.address.said(), moved.range_said()))
        .collect();
    for line in [
        "mirror fold on bundle:picture: left-over-right to bottom-over-top, linear",
        "mirror on or off on bundle:picture: on",
        "opacity of level:picture/lamps: 0 % to 100 %, ease-in",
        "the clip that shows of level:picture/sea: harbour",
        "the section: section:next",
    ] {
        assert!(said.iter().any(|one| one == line), "no {line:?} in {said:?}");
    }
}

#[test]
fn a_grip_that_names_no_such_thing_is_refused_where_it_stands() {
    let refused = |old: &str, new: &str, told: &str| {
        assert!(PIER.contains(old), "{old}");
        let error = read(&PIER.replacen(old, new, 1)).unwrap_err();
        assert!(error.starts_with("pier.toml:") && error.contains(told), "{new}:\n{error}");
    };
    refused("high = \"harbour\"", "high = \"harbor\"", "did you mean `harbour`?");
    refused(
        "setting = \"showing\"",
        "setting = \"shown\"",
        "of the scope itself `setting` takes `opacity` and `showing`",
    );
    refused("high = true", "high = \"on\"", "it takes true or false");
    refused(
        "setting = \"on\"",
        "setting = \"off\"",
        "`mirror` has no setting `off` (it has `fold` and `on`)",
    );
    refused("high = \"landfall\"", "high = \"landfal\"", "did you mean `landfall`?");
    refused(
        "low = \"left-over-right\"\n",
        "",
        "needs `low`, as a continuous control goes from there to `high`",
    );
    refused("low = 0.0\n", "", "a grip needs `low`");
    refused("high = 1.0\ncurve", "high = 1.5\ncurve", "a number from 0 to 1");
    refused("at = [1, 2]", "at = [0, 2]", "a whole number from 1 to 32");
    refused("reach_ms = 200.0", "reach_ms = -1", "`reach_ms` is -1");
    // One control holds an opacity, and several may choose a clip.
    let twice =
        "[[control.grip]]\nscope = \"level:picture/lamps\"\nsetting = \"opacity\"\nlow = 0.0\nhigh = 1.0\n";
    refused(
        "[[control.grip]]\nsetting = \"section\"\nhigh = \"next\"\n",
        twice,
        "`opacity` is already held by \"Lamps\"",
    );
}

#[test]
fn what_is_played_switches_shows_and_fades_and_is_as_it_was_once_let_go() {
    let show = pier();
    let mut hands = Hands::default();
    let (mirror, lamps) = (control(&show, "Mirror"), control(&show, "Lamps"));
    // However softly a button is pressed, it gives its own word.
    hands.press(&show, mirror, 0.1, 0.0);
    assert!(hands.applied(&show).chain(Scope::Bundle(0))[0].on);
    hands.press(&show, mirror, 1.0, 1.0);
    assert!(!hands.applied(&show).chain(Scope::Bundle(0))[0].on);
    hands.turn(&show, lamps, 0.5, 0.0);
    // t^2 at a half (arithmetic).
    assert_eq!(hands.applied(&show).bundles[0].levels[1].mix.opacity, 0.25);
    hands.turn(&show, lamps, 1.0, 0.0);
    assert_eq!(hands.applied(&show).bundles[0].levels[1].mix.opacity, 1.0);
    // Four words share the way.
    let fold = control(&show, "Fold");
    for (position, word) in [(0.0, 0), (0.24, 0), (0.3, 1), (0.6, 2), (0.8, 3), (1.0, 3)] {
        hands.turn(&show, fold, position, 0.0);
        let now = hands.applied(&show);
        assert_eq!(now.chain(Scope::Bundle(0))[0].value("fold"), Some(&Value::Choice(word)), "{position}");
    }
    hands.let_go();
    assert_eq!(hands.applied(&show), show);
}

#[test]
fn of_several_that_choose_a_clip_the_last_one_pressed_wins_and_the_others_go_off() {
    let mut show = pier();
    show.bundles[0].levels[0].hidden = true;
    let (harbour, ship) = (control(&show, "Harbour"), control(&show, "Ship"));
    let mut hands = Hands::default();
    for (press, then) in [(harbour, "harbour"), (ship, "ship"), (harbour, "harbour")] {
        hands.press(&show, press, 1.0, 0.0);
        let now = hands.applied(&show);
        assert_eq!((showing(&now), now.bundles[0].levels[0].hidden), (then, false));
    }
    assert_eq!(hands.position("Ship"), None);
    hands.press(&show, harbour, 1.0, 1.0);
    assert_eq!(hands.applied(&show), show, "pressed again, it lets the level go");
    // Momentary ones: the one that is still held shows again.
    show.controls.iter_mut().for_each(|control| control.kind = ControlKind::Momentary);
    let (harbour, ship) = (control(&show, "Harbour"), control(&show, "Ship"));
    hands.press(&show, harbour, 1.0, 2.0);
    hands.press(&show, ship, 1.0, 3.0);
    assert_eq!(showing(&hands.applied(&show)), "ship");
    hands.release(ship);
    assert_eq!(showing(&hands.applied(&show)), "harbour");
}

#[test]
fn a_device_takes_words_and_opacities_over_without_a_jump() {
    let show = pier();
    let mut hands = Hands::default();
    let lamps = control(&show, "Lamps");
    // An opacity of 0.25 by t^2 is half way up (arithmetic).
    hands.turn_on_device(&show, lamps, 0.1, 0.0);
    assert_eq!((hands.position("Lamps"), hands.awaited(&show, lamps)), (None, Some(0.5)));
    hands.turn_on_device(&show, lamps, 0.6, 0.0);
    assert_eq!(hands.position("Lamps"), Some(0.6));
    // The first of four words has the first quarter of the way: anywhere in it nothing jumps.
    let fold = control(&show, "Fold");
    hands.turn_on_device(&show, fold, 0.9, 0.0);
    assert_eq!(hands.position("Fold"), None);
    hands.turn_on_device(&show, fold, 0.2, 0.0);
    assert_eq!(hands.position("Fold"), Some(0.2));
}

/// The steps of a device of seven bits that trembles by one about each of them.
fn trembling(steps: impl Iterator<Item = i32>) -> impl Iterator<Item = f64> {
    steps
        .flat_map(|step| [step, step + 1, step, step - 1, step])
        .map(|step| f64::from(step.clamp(0, 127)) / 127.0)
}

#[test]
fn a_fader_that_trembles_at_the_border_of_two_words_goes_from_one_to_the_next_once() {
    let mut show = pier();
    let fold = control(&show, "Fold").clone();
    let words = |show: &Show, steps: &mut dyn Iterator<Item = f64>| -> Vec<Value> {
        let mut hands = Hands::default();
        let mut seen: Vec<Value> = Vec::new();
        for position in steps {
            hands.turn(show, &fold, position, 0.0);
            let now = hands.applied(show).chain(Scope::Bundle(0))[0].value("fold").unwrap().clone();
            if seen.last() != Some(&now) {
                seen.push(now);
            }
        }
        seen
    };
    let all: Vec<Value> = (0..4).map(Value::Choice).collect();
    let back: Vec<Value> = all.iter().rev().cloned().collect();
    for curve in underover::show::control::Curve::ALL {
        let target = show.grips("Fold").next().unwrap().0;
        let grip = show.grips("Fold").next().unwrap().1.clone();
        show.hold(target, Grip { curve, ..grip }).unwrap();
        assert_eq!(words(&show, &mut trembling(0..=127)), all, "{}", curve.name());
        assert_eq!(words(&show, &mut trembling((0..=127).rev())), back, "{}", curve.name());
    }
    // Many words, each narrower than a step: none is lost, and the ends are reached.
    let clips = &mut show.bundles[0].levels[0].clips;
    let clip = clips[0].clone();
    clips.extend((3..200).map(|n| underover::show::Clip { name: format!("clip {n}"), ..clip.clone() }));
    let ends = [0, 199].map(Value::Choice);
    let grip = Grip {
        control: "Fold".to_owned(),
        low: ends[0].clone(),
        high: ends[1].clone(),
        curve: Default::default(),
    };
    show.hold(SEA, grip).unwrap();
    let mut hands = Hands::default();
    for (position, clip) in [(0.0, 0), (1.0, 199), (0.5, 100), (0.0, 0)] {
        hands.turn(&show, &fold, position, 0.0);
        assert_eq!(hands.applied(&show).bundles[0].levels[0].showing, clip);
    }
    // Nor does it call a section again and again about its middle.
    let call = SectionCall::Next.value();
    let grip = Grip { control: "Fold".to_owned(), low: call.clone(), high: call, curve: Default::default() };
    show.hold(Target::Section, grip).unwrap();
    let mut hands = Hands::default();
    for position in trembling(0..=127).chain(trembling((0..=127).rev())).chain(trembling(0..=127)) {
        hands.turn(&show, &fold, position, 0.0);
    }
    assert_eq!(hands.take_called(), [SectionCall::Next; 2]);
}

#[test]
fn sections_are_called_by_every_press_and_from_a_device() {
    let mut show = pier();
    let mut hands = Hands::default();
    hands.press(&show, control(&show, "On"), 1.0, 0.0);
    hands.press(&show, control(&show, "Landfall"), 1.0, 0.0);
    assert_eq!(hands.take_called(), [SectionCall::Next, SectionCall::Section(1)]);
    assert_eq!(hands.take_called(), []);
    assert_eq!(hands.applied(&show), show, "which section plays is no part of the show");
    let on = show.controls.iter().position(|control| control.name == "On").unwrap();
    show.controls[on].kind = ControlKind::Latching;
    show.controls[on].midi = Some(underover::midi::Binding::Note { channel: 1, note: 40 });
    let (mut port, mut listener) = (Scripted::default(), Listener::default());
    port.send(&[0x90, 40, 1, 0x90, 40, 0, 0x90, 40, 127]);
    listener.listen(&mut port, &show, &mut hands, 4.0);
    assert_eq!(
        hands.take_called(),
        [SectionCall::Next, SectionCall::Next],
        "a latching one calls by both its presses"
    );
}

#[test]
fn what_controls_hold_follows_what_is_moved_renamed_copied_and_removed() {
    let show = pier();
    let clips = |show: &Show| -> Vec<String> {
        let of = |(target, grip): (Target, &Grip)| {
            Some(show.target_kind(target)?.said(&grip.high)).filter(|_| matches!(target, Target::Showing(_)))
        };
        show.all_grips().into_iter().filter_map(of).collect()
    };
    let sections = |show: &Show| -> Vec<String> {
        let kind = show.target_kind(Target::Section).unwrap();
        show.grips_on(Target::Section).into_iter().map(|grip| kind.said(&grip.high)).collect()
    };
    // The level goes up, and its first clip to the end.
    let moved = applied(&show, Edit::Structure(StructureEdit::Levels { bundle: 0, order: vec![1, 0] }));
    assert_eq!(
        (clips(&moved), moved.grips_on(Target::Opacity(Scope::Level(0, 0))).len()),
        (vec!["harbour".to_owned(), "ship".to_owned()], 1)
    );
    let what = Scope::Clip(0, 0, 1);
    let turned = applied(&show, Edit::Structure(StructureEdit::Move { what, into: Scope::Clip(0, 0, 3) }));
    assert_eq!(clips(&turned), ["harbour", "ship"]);
    assert_eq!(show.bundles[0].levels[0].clips[1].name, "harbour");
    assert_eq!(turned.bundles[0].levels[0].clips[2].name, "harbour");
    let renamed = applied(&show, Edit::Rename { what: Named::Scope(what), name: "quay".to_owned() });
    assert_eq!(clips(&renamed), ["quay", "ship"]);
    // A clip that is gone is let go, and one that goes to another level.
    assert_eq!(clips(&applied(&show, Edit::Drop(what))), ["ship"]);
    let gone = Edit::Structure(StructureEdit::Move { what, into: Scope::Clip(0, 1, 0) });
    assert_eq!(clips(&applied(&show, gone)), ["ship"]);
    // A copy is played by the same controls.
    let copy = applied(&show, Edit::Structure(StructureEdit::Duplicate(Scope::Level(0, 0))));
    assert_eq!(clips(&copy), ["harbour", "ship", "harbour", "ship"]);
    let bundle = applied(&show, Edit::Structure(StructureEdit::Duplicate(Scope::Bundle(0))));
    assert_eq!(bundle.grips("Lamps").count(), 2);
    assert_eq!(bundle.grips("Mirror").count(), 2);
    // Sections.
    let section = |edit| Edit::Section(edit);
    assert_eq!(sections(&show), ["landfall", "next"]);
    assert_eq!(
        sections(&applied(&show, section(SectionEdit::Move { from: 1, into: 0 }))),
        ["landfall", "next"]
    );
    let called = section(SectionEdit::Rename { section: 1, name: "pier".to_owned() });
    assert_eq!(sections(&applied(&show, called)), ["pier", "next"]);
    assert_eq!(sections(&applied(&show, section(SectionEdit::Remove(0)))), ["landfall", "next"]);
    assert_eq!(sections(&applied(&show, section(SectionEdit::Remove(1)))), ["next"]);
    // Controls.
    let mut controls = show.controls.clone();
    controls[3].name = "Quay".to_owned();
    let named = applied(&show, Edit::Time(TimeEdit::Controls(controls.clone())));
    assert_eq!(named.grips("Quay").count(), 1);
    controls.remove(3);
    assert_eq!(clips(&applied(&show, Edit::Time(TimeEdit::Controls(controls)))), ["ship"]);
    let let_go = TimeEdit::LetGo { target: SEA, control: "Ship".to_owned() };
    assert_eq!(clips(&applied(&show, Edit::Time(let_go))), ["harbour"]);
    // An effect takes its switch along.
    let from = Spot { scope: Scope::Bundle(0), at: 0 };
    let carried = applied(&show, Edit::Move { from, into: Spot { scope: Scope::Global, at: 0 } });
    assert_eq!(carried.grips("Mirror").next().unwrap().0, Target::Switch { scope: Scope::Global, at: 0 });
    assert_eq!(applied(&show, Edit::Remove(from)).grips("Mirror").count(), 0);
    assert_eq!(
        applied(&show, Edit::Reset(from)).grips("Mirror").count(),
        1,
        "whether it is on is no setting"
    );
}

#[test]
fn what_is_brought_from_another_show_brings_its_controls_and_a_chain_that_is_put_lets_go_of_those_that_are_missing()
 {
    let show = pier();
    let mut into = pier();
    into.controls.clear();
    into.held.clear();
    for scope in into.scopes() {
        into.chain_mut(scope).clear();
    }
    let bring =
        Bring { from: show.clone(), what: Scope::Level(0, 0), into: Some(Scope::Bundle(0)), onto: None };
    let now = applied(&into, Edit::Bring(Box::new(bring)));
    let held: Vec<Target> = now.all_grips().into_iter().map(|(target, _)| target).collect();
    assert_eq!(held, [Target::Showing([0, 2]); 2]);
    assert_eq!(now.controls.len(), 2);
    assert_eq!(now.controls[0].cue, show.controls[3].cue);
    let put = Put {
        scope: Scope::Bundle(0),
        chain: show.chain(Scope::Bundle(0)).clone(),
        name: "folds".to_owned(),
        taken: None,
        way: Way::Replace,
        controls: None,
    };
    let bare = applied(&into, Edit::Put(Box::new(put.clone())));
    assert_eq!(bare.all_grips().len(), 0, "nothing plays what no control of this show holds");
    let with = applied(&into, Edit::Put(Box::new(Put { controls: Some(show.controls.clone()), ..put })));
    assert_eq!(with.controls.iter().map(|one| one.name.as_str()).collect::<Vec<_>>(), ["Mirror", "Fold"]);
    assert_eq!(with.all_grips().len(), 2);
}

#[test]
fn what_is_played_along_becomes_cues_rounded_to_the_beat() {
    let show = pier();
    let mut hands = Hands::default();
    let [mirror, lamps, harbour] = ["Mirror", "Lamps", "Harbour"].map(|name| control(&show, name));
    let mut recorder = Recorder::new(&mut hands, Division::Beat, None);
    for beat in [0.1, 3.9, 8.05] {
        hands.press(&show, mirror, 1.0, beat);
        recorder.take(&mut hands, beat);
        hands.release(mirror);
        recorder.take(&mut hands, beat + 0.2);
    }
    // A fader that goes on from one pass to the next is moved once, for as long.
    for step in 0..=20 {
        let beat = 4.0 + f64::from(step) * 0.1;
        hands.turn(&show, lamps, f64::from(step) / 20.0, beat);
        recorder.take(&mut hands, beat);
    }
    hands.turn(&show, lamps, 0.0, 12.0);
    recorder.stop(&mut hands, 13.0);
    hands.press(&show, harbour, 1.0, 14.0);
    recorder.take(&mut hands, 14.0);
    let told = |recorder: &Recorder| -> Vec<String> {
        let of = |one: &underover::hands::Recorded| {
            format!("{} {} x{}", show.controls[one.control].name, one.cue, one.times)
        };
        recorder.recorded(&show).iter().map(of).collect()
    };
    assert_eq!(told(&recorder), ["Mirror at beats 0 4 8 x3", "Lamps at beats 4 12, for 2 x2"]);
    recorder.division = Division::Bar;
    assert_eq!(told(&recorder), ["Mirror at beats 0 4 8 x3", "Lamps at beats 4 12, for 4 x2"]);
    // Round a loop the beats come once, and again.
    let mut recorder = Recorder::new(&mut hands, Division::Half, Some(4.0));
    for beat in [1.4, 3.9, 5.45] {
        hands.press(&show, harbour, 1.0, beat);
    }
    recorder.stop(&mut hands, 8.0);
    assert_eq!(told(&recorder), ["Harbour at beats 0 1.5 of every 4 x3"]);
    let cues = recorder.recorded(&show).into_iter().map(|one| (one.control, Some(one.cue))).collect();
    let now = applied(&show, Edit::Time(TimeEdit::Cues(cues)));
    assert_eq!(control(&now, "Harbour").cue.as_ref().unwrap().to_string(), "at beats 0 1.5 of every 4");
}

#[test]
fn a_chain_is_kept_with_the_controls_that_play_it_and_what_they_hold() {
    let show = pier();
    let scope = Scope::Bundle(0);
    let controls = show.controls_of(scope);
    assert_eq!(controls.iter().map(|one| one.name.as_str()).collect::<Vec<_>>(), ["Fold", "Mirror"]);
    let chain = show.chain(scope).clone();
    let preset = Preset { name: "Folds".to_owned(), about: String::new(), tags: Vec::new(), chain, controls };
    let text = chain_text(&preset);
    let read =
        parse(&text, "folds.toml", Path::new(""), &CATALOGUE).unwrap_or_else(|e| panic!("{e}\n{text}"));
    assert_eq!(read, Document::Chain(preset), "{text}");
    assert!(!text.contains("scope"), "a chain is in no show: {text}");
    // Of a chain only its own can be held.
    for (old, new, told) in [
        ("effect = \"mirror\"\nsetting = \"on\"", "setting = \"section\"", "needs `effect`"),
        (
            "effect = \"mirror\"\nsetting = \"on\"",
            "scope = \"global\"\neffect = \"mirror\"\nsetting = \"on\"",
            "unknown key `scope`",
        ),
    ] {
        let error = parse(&text.replacen(old, new, 1), "folds.toml", Path::new(""), &CATALOGUE).unwrap_err();
        assert!(error.to_string().contains(told), "{error}");
    }
    // Through the program: kept from one show, put onto another, which has a control on that key.
    let person = Person::new();
    std::fs::write(person.path("pier.toml"), PIER).unwrap();
    let other = PIER
        .replace("name = \"Mirror\"", "name = \"Gate\"")
        .replace("use = \"mirror\"\non = false", "use = \"mirror\"\nfold = \"top-over-bottom\"");
    std::fs::write(person.path("other.toml"), other).unwrap();
    person.right(&["library", "keep", "pier.toml", "--scope", "bundle:picture", "--name", "Folds"]);
    let put = |more: &[&str], out: &str| {
        let words = ["library", "put", "folds", "--on", "global", "--show", "other.toml", "--out", out];
        person.run(&[&words[..], more].concat())
    };
    let (code, said, notes) = put(&[], "with.toml");
    assert_eq!(code, 0, "{said}{notes}");
    assert!(
        notes.contains("the control `Fold` is already there")
            && notes.contains("the control `Mirror` comes without its key"),
        "{notes}"
    );
    let with = read_file(&person, "with.toml");
    assert_eq!(with.grips("Fold").count(), 2);
    assert_eq!(with.grips("Mirror").next().unwrap().0, Target::Switch { scope: Scope::Global, at: 0 });
    put(&["--without-controls"], "without.toml");
    assert_eq!(read_file(&person, "without.toml").all_grips().len(), show.all_grips().len());
    // And changed by commands.
    let edit = |words: &[&str]| {
        let (code, said, error) = person.run(&[&["edit", "control"], words].concat());
        (code, format!("{said}{error}"))
    };
    for words in [
        &[
            "add",
            "pier.toml",
            "Bow",
            "--hand",
            "either",
            "--kind",
            "momentary",
            "--key",
            "B",
            "--at",
            "4,1",
            "--out",
            "one.toml",
        ][..],
        &[
            "hold",
            "one.toml",
            "Bow",
            "--scope",
            "level:picture/sea",
            "--setting",
            "showing",
            "--to",
            "waves",
            "--out",
            "one.toml",
        ],
        &[
            "hold",
            "one.toml",
            "Lamps",
            "--scope",
            "bundle:picture",
            "--setting",
            "opacity",
            "--from",
            "0.5",
            "--to",
            "1",
            "--curve",
            "s-curve",
            "--out",
            "one.toml",
        ],
        &[
            "set",
            "one.toml",
            "Bow",
            "--cue",
            "0,6.5",
            "--every",
            "16",
            "--length",
            "2",
            "--midi",
            "note:10:40",
            "--out",
            "one.toml",
        ],
        &[
            "release",
            "one.toml",
            "Ship",
            "--scope",
            "level:picture/sea",
            "--setting",
            "showing",
            "--out",
            "one.toml",
        ],
        &["reach", "one.toml", "300", "--out", "one.toml"],
    ] {
        let (code, said) = edit(words);
        assert_eq!(code, 0, "{words:?}: {said}");
    }
    let one = read_file(&person, "one.toml");
    let bow = control(&one, "Bow");
    assert_eq!(
        (bow.cue.as_ref().unwrap().to_string().as_str(), bow.at, one.reach_ms),
        ("at beats 0 6.5 of every 16, for 2", Some([4, 1]), 300.0)
    );
    assert_eq!((one.grips("Bow").count(), one.grips("Lamps").count(), one.grips("Ship").count()), (1, 2, 0));
    let (code, told) =
        edit(&["hold", "pier.toml", "Bow", "--setting", "section", "--to", "next", "--out", "two.toml"]);
    assert!(code == 2 && told.contains("there is no control of that name"), "{told}");
    let (code, told) = edit(&[
        "hold",
        "pier.toml",
        "On",
        "--scope",
        "level:picture/sea",
        "--setting",
        "showing",
        "--to",
        "harbor",
        "--out",
        "two.toml",
    ]);
    assert!(code == 2 && told.contains("did you mean `harbour`?"), "{told}");
}

fn read_file(person: &Person, name: &str) -> Show {
    read(&std::fs::read_to_string(person.path(name)).unwrap()).unwrap_or_else(|error| panic!("{error}"))
}
