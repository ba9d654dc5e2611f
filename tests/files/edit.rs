//! Editing without a window: changes, steps, files, and work found again.

use crate::shared::CATALOGUE;
use std::fs;
use std::path::Path;
use std::sync::LazyLock;

use proptest::prelude::*;
use underover::catalogue::{Catalogue, Value};
use underover::edit::{
    Bring, ClipEdit, Edit, EditError, Form, Named, Put, RecentFiles, Recovery, SectionEdit, Shows, Spot,
    StructureEdit, TimeEdit, Way, Work, followed,
};
use underover::files::{Document, parse, show_text};
use underover::order::{in_order, marks};
use underover::show::automation::{Automation, Pace, Wave};
use underover::show::chain::EffectUse;
use underover::show::clip::{Fit, FootageName, Play};
use underover::show::control::{Curve, Grip};
use underover::show::cue::Cue;
use underover::show::{BlendMode, Clip, ClipPlace, Mix, Scope, Section, Show, Target};

const PICTURE: Scope = Scope::Bundle(0);

static LAMPS: LazyLock<Work> = LazyLock::new(|| Work::preset("harbour-lamps", &CATALOGUE).unwrap().unwrap());

fn catalogue() -> Catalogue {
    CATALOGUE.clone()
}

fn night_ferry() -> Work {
    Work::preset("night-ferry", &catalogue()).unwrap().unwrap()
}

fn names(show: &Show, scope: Scope) -> Vec<&str> {
    show.chain(scope).iter().map(|used| used.effect.name.as_str()).collect()
}

fn spot(scope: Scope, at: usize) -> Spot {
    Spot { scope, at }
}

fn some_clip(name: &str) -> Box<Clip> {
    Box::new(Clip::of(name, FootageName::Generated("lamp".to_owned())))
}

/// One of every kind of change, all of which change the demo show.
fn every_edit() -> Vec<Edit> {
    let tint = EffectUse::new(catalogue().effect("tint").unwrap().clone());
    let mix = Mix { blend: BlendMode::Screen, opacity: 0.25 };
    vec![
        Edit::Add { into: spot(PICTURE, 5), used: Box::new(tint.clone()) },
        Edit::Remove(spot(PICTURE, 0)),
        Edit::Duplicate(spot(PICTURE, 2)),
        Edit::Move { from: spot(PICTURE, 0), into: spot(PICTURE, 3) },
        Edit::Move { from: spot(PICTURE, 4), into: spot(Scope::Global, 0) },
        Edit::Switch { spot: spot(PICTURE, 1), on: false },
        Edit::Set { spot: spot(PICTURE, 2), setting: 0, value: Value::Number(3.5) },
        Edit::Reset(spot(PICTURE, 2)),
        Edit::Order { scope: PICTURE, order: vec![4, 3, 2, 1, 0] },
        Edit::Chain { scope: Scope::Global, chain: vec![tint], name: "mine".to_owned() },
        Edit::Rename { what: Named::Show, name: "Day ferry".to_owned() },
        Edit::Rename { what: Named::Scope(PICTURE), name: "sea".to_owned() },
        Edit::Mix { scope: Scope::Level(0, 1), mix },
        Edit::Clip(ClipPlace::default(), ClipEdit::Show),
        Edit::AddClip { bundle: 0, level: 0, clip: some_clip("lamp") },
        Edit::AddLevel { bundle: 0, clip: some_clip("lamp") },
        Edit::AddBundle { clip: some_clip("picture") },
        Edit::Drop(Scope::Bundle(1)),
        Edit::Drop(Scope::Level(0, 1)),
        Edit::Drop(Scope::Clip(0, 0, 0)),
        Edit::Structure(StructureEdit::Move { what: Scope::Bundle(0), into: Scope::Bundle(2) }),
        Edit::Structure(StructureEdit::Move { what: Scope::Level(0, 0), into: Scope::Level(0, 2) }),
        Edit::Structure(StructureEdit::Move { what: Scope::Level(0, 1), into: Scope::Level(1, 0) }),
        Edit::Structure(StructureEdit::Move { what: Scope::Clip(0, 0, 1), into: Scope::Clip(0, 0, 0) }),
        Edit::Structure(StructureEdit::Move { what: Scope::Clip(0, 0, 0), into: Scope::Clip(1, 0, 1) }),
        Edit::Structure(StructureEdit::Levels { bundle: 0, order: vec![2, 0, 1] }),
        Edit::Structure(StructureEdit::Duplicate(Scope::Bundle(0))),
        Edit::Structure(StructureEdit::Duplicate(Scope::Level(0, 0))),
        Edit::Structure(StructureEdit::Duplicate(Scope::Clip(0, 0, 0))),
        Edit::Structure(StructureEdit::Hide { what: Scope::Bundle(1), hidden: true }),
        Edit::Structure(StructureEdit::Hide { what: Scope::Level(0, 1), hidden: true }),
        Edit::Structure(StructureEdit::Hide { what: Scope::Clip(0, 0, 1), hidden: true }),
        Edit::Structure(StructureEdit::Colour { what: Scope::Level(0, 1), colour: "sky-blue".parse().ok() }),
        Edit::Structure(StructureEdit::Colour { what: Scope::Clip(0, 0, 1), colour: "#010203".parse().ok() }),
        Edit::Section(SectionEdit::Add(Box::new(Section::of("landfall")))),
        Edit::Tempo(140.0),
        Edit::Frame("640x360".parse().unwrap()),
    ]
}

#[test]
fn an_effect_keeps_its_mark_wherever_it_goes_and_a_new_one_gets_the_lowest_that_is_free() {
    let folder = tempfile::tempdir().unwrap();
    let mut work = night_ferry();
    let tint = || Box::new(EffectUse::new(catalogue().effect("tint").unwrap().clone()));
    let own = |work: &Work, scope| marks(work.show().chain(scope)).own();
    assert_eq!(own(&work, PICTURE), "12345");
    let other = work.show().scopes().into_iter().find(|&scope| work.show().chain(scope).is_empty()).unwrap();
    let mut after = |edit: Edit, picture: &str, global: &str| {
        work.apply(&edit).unwrap();
        assert_eq!((&*own(&work, PICTURE), &*own(&work, other)), (picture, global), "{edit:?}");
        // What a file holds is the same, marks and all.
        let path = folder.path().join("ferry.toml");
        fs::write(&path, show_text(work.show(), folder.path())).unwrap();
        assert_eq!(**Work::open(&path, &catalogue()).unwrap().show(), **work.show(), "{edit:?}");
    };
    after(Edit::Move { from: spot(PICTURE, 0), into: spot(PICTURE, 2) }, "21345", "");
    after(Edit::Order { scope: PICTURE, order: vec![4, 0, 1, 2, 3] }, "52134", "");
    after(Edit::Remove(spot(PICTURE, 2)), "5234", "");
    after(Edit::Reset(spot(PICTURE, 0)), "5234", "");
    after(Edit::Duplicate(spot(PICTURE, 0)), "51234", "");
    after(Edit::Add { into: spot(PICTURE, 0), used: tint() }, "651234", "");
    after(Edit::Move { from: spot(PICTURE, 1), into: spot(other, 0) }, "61234", "5");
    after(Edit::Add { into: spot(other, 1), used: tint() }, "61234", "51");
    // Where another has its mark already, it is as good as new.
    after(Edit::Move { from: spot(PICTURE, 1), into: spot(other, 0) }, "6234", "251");
    let chain = |places: &[usize]| {
        let chain = night_ferry().show().chain(PICTURE).clone();
        in_order(&chain, places)
    };
    let put = |way, places: &[usize]| {
        let chain = chain(places);
        Edit::Put(Box::new(Put {
            scope: other,
            chain,
            name: "x".to_owned(),
            taken: None,
            way,
            controls: None,
        }))
    };
    after(put(Way::Over, &[1, 0]), "6234", "25134");
    after(put(Way::Under, &[0]), "6234", "625134");
    after(put(Way::Replace, &[2, 1, 0]), "6234", "321");
    let bring = Bring {
        from: (**night_ferry().show()).clone(),
        what: PICTURE,
        into: None,
        onto: Some((other, Way::Over)),
    };
    after(Edit::Bring(Box::new(bring)), "6234", "32145678");
    work.go_to(0);
    assert_eq!(own(&work, PICTURE), "12345", "a step that is taken back gives the marks back");
}

/// The place in a list of all orders of `count` things, as an order (the factorial number system).
fn nth_order(count: usize, mut nth: usize) -> Vec<usize> {
    let mut left: Vec<usize> = (0..count).collect();
    let mut order = Vec::new();
    while !left.is_empty() {
        let rest: usize = (1..left.len()).product();
        order.push(left.remove(nth / rest % left.len()));
        nth %= rest;
    }
    order
}

#[test]
fn every_code_of_a_printed_wall_names_the_same_order_after_ten_adoptions_each_saved_and_read_again() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ferry.toml");
    let mut work = night_ferry();
    let named = |work: &Work, order: &[usize]| -> Vec<String> {
        let names = names(work.show(), PICTURE);
        order.iter().map(|&place| names[place].to_owned()).collect()
    };
    // 5! = 120 orders (arithmetic), by their codes.
    let printed: Vec<(String, Vec<String>)> = (0..120)
        .map(|nth| nth_order(5, nth))
        .map(|order| (marks(work.show().chain(PICTURE)).code(&order), named(&work, &order)))
        .collect();
    let codes: std::collections::BTreeSet<&String> = printed.iter().map(|(code, _)| code).collect();
    assert_eq!(codes.len(), 120);
    for adopted in ["31245", "54321", "21534", "45123", "13524", "52413", "24135", "35142", "41352", "53214"]
    {
        let order = marks(work.show().chain(PICTURE)).order(adopted).unwrap();
        work.apply(&Edit::Order { scope: PICTURE, order }).unwrap();
        fs::write(&path, show_text(work.show(), folder.path())).unwrap();
        work = Work::open(&path, &catalogue()).unwrap();
        assert_eq!(marks(work.show().chain(PICTURE)).own(), adopted);
        for (code, effects) in &printed {
            let order = marks(work.show().chain(PICTURE)).order(code).unwrap();
            assert_eq!(&named(&work, &order), effects, "{code} once {adopted} is adopted");
        }
    }
}

fn any_scope() -> impl Strategy<Value = Scope> {
    prop_oneof![
        Just(Scope::Global),
        (0..4_usize).prop_map(Scope::Bundle),
        (0..3_usize, 0..4_usize).prop_map(|(b, l)| Scope::Level(b, l)),
        (0..3_usize, 0..3_usize, 0..4_usize).prop_map(|(b, l, c)| Scope::Clip(b, l, c)),
    ]
}

/// A change of any kind, of which no word need fit the show that it meets.
fn any_edit() -> impl Strategy<Value = Edit> {
    let spot = || (any_scope(), 0..8_usize).prop_map(|(scope, at)| Spot { scope, at });
    let place = || {
        (0..3_usize, 0..3_usize, 0..4_usize).prop_map(|(bundle, level, clip)| ClipPlace {
            bundle,
            level,
            clip,
        })
    };
    let number = || prop_oneof![Just(f64::NAN), Just(-1.0), Just(f64::INFINITY), 0.0..300.0_f64];
    let value = || {
        prop_oneof![
            number().prop_map(Value::Number),
            any::<i64>().prop_map(Value::Whole),
            (0..9_usize).prop_map(Value::Choice),
        ]
    };
    let name = || prop::sample::select(&["", " ", "sea", "a/b", "x\ny", "waves"][..]).prop_map(str::to_owned);
    let used = || {
        prop::sample::select(&["tint", "mirror", "edge-find", "trails"][..])
            .prop_map(|name| EffectUse::new(catalogue().effect(name).unwrap().clone()))
    };
    let chain = move || prop::collection::vec(used(), 0..5);
    let way = || prop::sample::select(&Way::ALL[..]);
    let mix = number().prop_map(|opacity| Mix { blend: BlendMode::Screen, opacity });
    let named =
        prop_oneof![Just(Named::Show), any_scope().prop_map(Named::Scope), spot().prop_map(Named::Effect)];
    let of_chains = prop_oneof![
        (spot(), used()).prop_map(|(into, used)| Edit::Add { into, used: Box::new(used) }),
        spot().prop_map(Edit::Remove),
        spot().prop_map(Edit::Duplicate),
        (spot(), spot()).prop_map(|(from, into)| Edit::Move { from, into }),
        (spot(), any::<bool>()).prop_map(|(spot, on)| Edit::Switch { spot, on }),
        (spot(), 0..6_usize, value()).prop_map(|(spot, setting, value)| Edit::Set { spot, setting, value }),
        spot().prop_map(Edit::Reset),
        (any_scope(), prop::collection::vec(0..6_usize, 0..6))
            .prop_map(|(scope, order)| Edit::Order { scope, order }),
        (any_scope(), chain(), name()).prop_map(|(scope, chain, name)| Edit::Chain { scope, chain, name }),
        (any_scope(), chain(), name(), way()).prop_map(|(scope, chain, name, way)| {
            Edit::Put(Box::new(Put { scope, chain, name, taken: None, way, controls: None }))
        }),
        (any_scope(), prop::option::of(any_scope()), prop::option::of((any_scope(), way()))).prop_map(
            |(what, into, onto)| {
                let from = (**LAMPS.show()).clone();
                Edit::Bring(Box::new(Bring { from, what, into, onto }))
            }
        ),
    ];
    let of_clips = prop_oneof![
        Just(ClipEdit::Show),
        Just(ClipEdit::Footage(FootageName::Generated("lamp".to_owned()))),
        Just(ClipEdit::Footage(FootageName::File {
            written: "sea.gif".to_owned(),
            path: "/sea/sea.gif".into()
        })),
        prop::sample::select(&Fit::ALL[..]).prop_map(ClipEdit::Fit),
        (number(), prop::option::of(number())).prop_map(|(in_secs, out_secs)| ClipEdit::Play(Play {
            in_secs,
            out_secs,
            ..Play::default()
        })),
    ];
    let target = || {
        prop_oneof![
            (spot(), 0..6_usize).prop_map(|(Spot { scope, at }, place)| Target::Setting { scope, at, place }),
            spot().prop_map(|Spot { scope, at }| Target::Switch { scope, at }),
            any_scope().prop_map(Target::Opacity),
            (0..3_usize, 0..3_usize).prop_map(|(b, l)| Target::Showing([b, l])),
            Just(Target::Section),
        ]
    };
    let of_time = prop_oneof![
        (spot(), 0..6_usize, prop::option::of((value(), value()))).prop_map(|(spot, setting, ends)| {
            let pace = Pace { period_beats: 4.0, phase: 0.0 };
            let moving = |(low, high)| Box::new(Automation::Wave { wave: Wave::Sine, pace, low, high });
            TimeEdit::Automate { spot, setting, automation: ends.map(moving) }
        }),
        (target(), prop::sample::select(&["Outlines", "Horn", "Wake"][..]), value(), value()).prop_map(
            |(target, control, low, high)| {
                let grip = Grip { control: control.to_owned(), low, high, curve: Curve::Linear };
                TimeEdit::Hold { target, grip: Box::new(grip) }
            }
        ),
        (target(), (0..5_usize).prop_map(Value::Choice)).prop_map(|(target, word)| {
            let grip =
                Grip { control: "Horn".to_owned(), low: word.clone(), high: word, curve: Curve::Linear };
            TimeEdit::Hold { target, grip: Box::new(grip) }
        }),
        target().prop_map(|target| TimeEdit::LetGo { target, control: "Horn".to_owned() }),
        (0..6_usize, number(), prop::option::of(number())).prop_map(|(at, beat, length)| {
            TimeEdit::Cues(vec![(at, Some(Cue { at: vec![beat], every: None, length }))])
        }),
        number().prop_map(TimeEdit::Reach),
    ];
    let of_structure = prop_oneof![
        5 => (any_scope(), any_scope()).prop_map(|(what, into)| StructureEdit::Move { what, into }),
        1 => (0..3_usize, prop::collection::vec(0..4_usize, 0..4))
            .prop_map(|(bundle, order)| StructureEdit::Levels { bundle, order }),
        1 => any_scope().prop_map(StructureEdit::Duplicate),
        1 => (any_scope(), any::<bool>()).prop_map(|(what, hidden)| StructureEdit::Hide { what, hidden }),
        1 => (any_scope(), prop::sample::select(&["", "blue", "#123456"][..]))
            .prop_map(|(what, colour)| StructureEdit::Colour { what, colour: colour.parse().ok() }),
    ];
    let shows =
        || prop_oneof![Just(Shows::AsItStands), Just(Shows::Nothing), (0..4_usize).prop_map(Shows::Clip)];
    let at = || 0..3_usize;
    let of_sections = prop_oneof![
        4 => (name(), any::<bool>()).prop_map(|(name, whole)| {
            let ferry = night_ferry();
            let section = if whole { Section::as_it_stands(&name, ferry.show()) } else { Section::of(&name) };
            SectionEdit::Add(Box::new(section))
        }),
        1 => at().prop_map(SectionEdit::Duplicate),
        1 => at().prop_map(SectionEdit::Remove),
        1 => (at(), at()).prop_map(|(from, into)| SectionEdit::Move { from, into }),
        1 => (at(), name()).prop_map(|(section, name)| SectionEdit::Rename { section, name }),
        1 => (at(), prop::option::of(number())).prop_map(|(section, beats)| SectionEdit::Beats { section, beats }),
        1 => (at(), number()).prop_map(|(section, beats)| SectionEdit::Fade { section, beats }),
        4 => (at(), at(), at(), shows())
            .prop_map(|(section, b, l, shows)| SectionEdit::Shows { section, level: [b, l], shows }),
        2 => (at(), any_scope(), prop::option::of(number()))
            .prop_map(|(section, scope, opacity)| SectionEdit::Opacity { section, scope, opacity }),
        2 => (at(), any_scope(), prop::option::of(prop::sample::select(&["preset:lamp-lines", "library:amber", "amber"][..])))
            .prop_map(|(section, scope, chain)| SectionEdit::Chain { section, scope, chain: chain.map(str::to_owned) }),
        2 => prop::collection::vec(at(), 0..4).prop_map(SectionEdit::Order),
    ];
    prop_oneof![
        8 => of_sections.prop_map(Edit::Section),
        11 => of_chains,
        2 => (named, name()).prop_map(|(what, name)| Edit::Rename { what, name }),
        1 => (any_scope(), mix).prop_map(|(scope, mix)| Edit::Mix { scope, mix }),
        5 => (place(), of_clips).prop_map(|(place, edit)| Edit::Clip(place, edit)),
        1 => place().prop_map(|at| Edit::AddClip { bundle: at.bundle, level: at.level, clip: some_clip("lamp") }),
        1 => place().prop_map(|at| Edit::AddLevel { bundle: at.bundle, clip: some_clip("lamp") }),
        1 => Just(Edit::AddBundle { clip: some_clip("lamp") }),
        4 => any_scope().prop_map(Edit::Drop),
        6 => of_structure.prop_map(Edit::Structure),
        1 => number().prop_map(Edit::Tempo),
        4 => of_time.prop_map(Edit::Time),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_change_of_what_is_no_longer_there_is_refused_and_what_is_taken_can_be_written_and_read(
        edits in prop::collection::vec(any_edit(), 1..25),
    ) {
        let catalogue = catalogue();
        let mut work = Work::preset("night-crossing", &catalogue).unwrap().unwrap();
        for edit in &edits {
            let before = work.show().clone();
            if work.apply(edit).is_err() {
                prop_assert_eq!(work.show(), &before, "refused, and yet changed: {:?}", edit);
            }
        }
        let written = show_text(work.show(), Path::new("/sea"));
        let read = parse(&written, "show.toml", Path::new("/sea"), &catalogue);
        let read = read.map_err(|error| TestCaseError::fail(format!("{error}\n{written}")))?;
        prop_assert_eq!(read, Document::Show((**work.show()).clone()), "{}", written);
    }
}

#[test]
fn every_change_is_undone_and_redone_to_the_same_show() {
    let mut work = night_ferry();
    let mut shows = vec![work.show().clone()];
    for edit in every_edit() {
        let before = work.show().clone();
        // Some changes take away what a later one needs; each starts from the demo.
        work.go_to(0);
        work.apply(&edit).unwrap_or_else(|e| panic!("{edit:?}: {e}"));
        assert_ne!(**work.show(), *shows[0], "{edit:?} changes nothing");
        let after = work.show().clone();
        assert!(work.is_changed());
        assert!(work.undo());
        assert_eq!(*work.show(), shows[0], "{edit:?}");
        assert!(!work.is_changed(), "undone, the work is what the file holds");
        assert!(work.redo());
        assert_eq!(*work.show(), after, "{edit:?}");
        drop(before);
    }
    shows.clear();
}

#[test]
fn every_changed_show_is_written_and_read_back_equal() {
    let catalogue = catalogue();
    for edit in every_edit() {
        let mut work = night_ferry();
        work.apply(&edit).unwrap();
        let text = work.text(Path::new(""));
        let again = parse(&text, "again.toml", Path::new(""), &catalogue)
            .unwrap_or_else(|e| panic!("{edit:?}: {e}\n{text}"));
        assert_eq!(again, Document::Show((**work.show()).clone()), "{edit:?}");
    }
}

#[test]
fn a_thousand_steps_are_all_undone() {
    let mut work = night_ferry();
    let first = work.show().clone();
    for n in 0..1000 {
        work.apply(&Edit::Rename { what: Named::Show, name: format!("ferry {n}") }).unwrap();
    }
    assert_eq!(work.history().done().len(), 1000);
    while work.undo() {}
    assert_eq!(*work.show(), first);
    assert_eq!(work.history().undone().len(), 1000);
    work.go_to(500);
    assert_eq!(work.show().name, "ferry 499");
}

#[test]
fn a_drag_of_one_slider_is_one_step_and_the_next_drag_another() {
    let mut work = night_ferry();
    let gain = |value| Edit::Set { spot: spot(PICTURE, 2), setting: 0, value: Value::Number(value) };
    for value in [2.5, 3.0, 3.5] {
        work.apply(&gain(value)).unwrap();
    }
    assert_eq!(work.history().done().len(), 1);
    assert_eq!(work.history().done()[0].name, "edge-find: Gain x 3.5");
    work.end_run();
    work.apply(&gain(4.0)).unwrap();
    assert_eq!(work.history().done().len(), 2);
    work.undo();
    assert_eq!(work.show().chain(PICTURE)[2].value("gain"), Some(&Value::Number(3.5)));
    work.undo();
    assert_eq!(work.show().chain(PICTURE)[2].value("gain"), Some(&Value::Number(5.0)));
}

#[test]
fn a_new_step_after_undoing_forgets_what_was_undone() {
    let mut work = night_ferry();
    work.apply(&Edit::Remove(spot(PICTURE, 0))).unwrap();
    work.undo();
    work.apply(&Edit::Tempo(90.0)).unwrap();
    assert!(!work.redo());
}

#[test]
fn a_change_that_changes_nothing_is_no_step() {
    let mut work = night_ferry();
    work.apply(&Edit::Order { scope: PICTURE, order: vec![0, 1, 2, 3, 4] }).unwrap();
    work.apply(&Edit::Move { from: spot(PICTURE, 2), into: spot(PICTURE, 3) }).unwrap();
    work.apply(&Edit::Tempo(174.0)).unwrap();
    assert!(work.history().done().is_empty());
}

#[test]
fn a_move_lands_in_the_gap_named_whichever_way_it_goes() {
    for (from, into, wanted) in [
        (0, 3, ["flash-gate", "edge-find", "tint", "channel-offset", "mirror"]),
        (4, 1, ["tint", "mirror", "flash-gate", "edge-find", "channel-offset"]),
        (0, 5, ["flash-gate", "edge-find", "channel-offset", "mirror", "tint"]),
    ] {
        let mut work = night_ferry();
        work.apply(&Edit::Move { from: spot(PICTURE, from), into: spot(PICTURE, into) }).unwrap();
        assert_eq!(names(work.show(), PICTURE), wanted);
    }
}

#[test]
fn wrong_changes_are_refused_and_leave_the_work_alone() {
    let mut work = night_ferry();
    let before = work.show().clone();
    let refused = [
        (Edit::Remove(spot(PICTURE, 5)), "no longer in the show"),
        (Edit::Remove(spot(Scope::Bundle(9), 0)), "no longer in the show"),
        (Edit::Move { from: spot(PICTURE, 0), into: spot(PICTURE, 9) }, "no longer in the show"),
        (Edit::Order { scope: PICTURE, order: vec![0, 0, 1, 2, 3] }, "each of the 5 effects once"),
        (
            Edit::Set { spot: spot(PICTURE, 2), setting: 0, value: Value::Number(99.0) },
            "`Gain` is 99; it takes a number from 0 to 8",
        ),
        (Edit::Set { spot: spot(PICTURE, 2), setting: 0, value: Value::Number(f64::NAN) }, "is NaN"),
        (Edit::Rename { what: Named::Show, name: " ".to_owned() }, "at least one letter"),
        (Edit::Rename { what: Named::Scope(PICTURE), name: "a/b".to_owned() }, "`/`"),
        (Edit::Rename { what: Named::Scope(PICTURE), name: "signs".to_owned() }, "taken"),
        (Edit::Rename { what: Named::Scope(PICTURE), name: "x".repeat(81) }, "at most 80"),
        (Edit::Drop(Scope::Level(1, 0)), "only level"),
        (
            Edit::Structure(StructureEdit::Move { what: Scope::Level(1, 0), into: Scope::Level(0, 0) }),
            "bundle:signs would be left without a level; add another there first, or move the whole of it",
        ),
        (
            Edit::Structure(StructureEdit::Move { what: Scope::Level(0, 0), into: Scope::Bundle(0) }),
            "a level into a bundle",
        ),
        (
            Edit::Structure(StructureEdit::Move { what: Scope::Level(0, 0), into: Scope::Level(0, 4) }),
            "no longer in the show",
        ),
        (Edit::Structure(StructureEdit::Duplicate(Scope::Global)), "no longer in the show"),
        (
            Edit::Structure(StructureEdit::Levels { bundle: 0, order: vec![0, 1, 1] }),
            "each of the 3 levels once",
        ),
        (Edit::Drop(Scope::Global), "no longer in the show"),
        (Edit::Tempo(0.0), "from 1 to 999"),
    ];
    for (edit, part) in refused {
        let error = work.apply(&edit).unwrap_err().to_string();
        assert!(error.contains(part), "{edit:?}: {error}");
        assert_eq!(*work.show(), before);
        assert!(work.history().done().is_empty());
    }
}

/// A show in which much is called alike, with a note on a level, and grips on several scopes.
fn a_crowded_show() -> Work {
    let mut work = Work::preset("night-crossing", &catalogue()).unwrap().unwrap();
    let tint = EffectUse::new(catalogue().effect("tint").unwrap().clone());
    let mut edits = vec![
        Edit::AddLevel { bundle: 1, clip: some_clip("windows") },
        Edit::AddClip { bundle: 1, level: 1, clip: some_clip("harbour") },
        Edit::AddBundle { clip: some_clip("windows") },
        Edit::AddLevel { bundle: 2, clip: some_clip("crossing") },
    ];
    for scope in [Scope::Level(0, 1), Scope::Level(2, 0), Scope::Clip(1, 1, 0)] {
        edits.push(Edit::Put(Box::new(Put {
            scope,
            chain: vec![tint.clone()],
            name: "x".to_owned(),
            taken: Some((format!("library:{}", edits.len()), "0123456789abcdef".to_owned())),
            way: Way::Over,
            controls: None,
        })));
    }
    edits.iter().for_each(|edit| work.apply(edit).unwrap());
    work
}

fn any_rearrangement() -> impl Strategy<Value = Edit> {
    let name = prop::sample::select(&["sea", "windows", "crossing", "harbour", "lamp"][..]);
    prop_oneof![
        6 => (any_scope(), any_scope())
            .prop_map(|(what, into)| Edit::Structure(StructureEdit::Move { what, into })),
        1 => Just(Edit::Structure(StructureEdit::Levels { bundle: 0, order: vec![1, 0] })),
        1 => any_scope().prop_map(|what| Edit::Structure(StructureEdit::Duplicate(what))),
        2 => (any_scope(), name)
            .prop_map(|(scope, name)| Edit::Rename { what: Named::Scope(scope), name: name.to_owned() }),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn what_lies_on_a_scope_goes_with_it_wherever_that_is_moved_and_whatever_it_is_called(
        edits in prop::collection::vec(any_rearrangement(), 1..25),
    ) {
        let mut work = a_crowded_show();
        for edit in &edits {
            let before = work.show().clone();
            if work.apply(edit).is_err() {
                continue;
            }
            let now = work.show().clone();
            let is_duplicate = matches!(edit, Edit::Structure(StructureEdit::Duplicate(_)));
            let mut taken = 0;
            for scope in before.scopes() {
                let there = followed(&before, &now, scope);
                prop_assert!(there.is_some(), "{:?} of {:?} is lost by {:?}", scope, before.address(scope), edit);
                let there = there.unwrap_or(scope);
                // Settings, what moves them and what holds them lie in the chain.
                prop_assert_eq!(before.chain(scope), now.chain(there));
                prop_assert_eq!(before.colour(scope), now.colour(there));
                let notes = |show: &Show, scope: Scope| -> Vec<String> {
                    let of = show.taken.iter().filter(|taken| taken.scope == scope);
                    of.map(|taken| taken.preset.clone()).collect()
                };
                taken += notes(&before, scope).len();
                prop_assert_eq!(notes(&before, scope), notes(&now, there), "{:?}", edit);
                prop_assert_eq!(followed(&now, &before, there), Some(scope), "back again from {:?}", edit);
            }
            prop_assert_eq!(taken, before.taken.len());
            prop_assert!(is_duplicate || now.taken.len() == taken);
            for control in &before.controls {
                let grips = |show: &Show| show.grips(&control.name).count();
                prop_assert!(is_duplicate || grips(&before) == grips(&now));
            }
            if let Edit::Structure(edit) = edit
                && let Some(lands) = edit.lands()
            {
                prop_assert!(now.scopes().contains(&lands));
            }
            let written = show_text(&now, Path::new("/sea"));
            let read = parse(&written, "show.toml", Path::new("/sea"), &CATALOGUE);
            prop_assert_eq!(read.unwrap(), Document::Show((*now).clone()), "{}", written);
        }
        work.go_to(0);
        let first = Work::preset("night-crossing", &CATALOGUE).unwrap().unwrap();
        prop_assert_eq!(work.show(), first.show());
    }
}

#[test]
fn a_clip_that_shows_goes_on_showing_on_the_level_to_which_it_is_moved() {
    let mut work = night_ferry();
    let showing = |work: &Work, b: usize, l: usize| {
        let level = &work.show().bundles[b].levels[l];
        level.clips[level.showing].name.clone()
    };
    let carry = |what, into| Edit::Structure(StructureEdit::Move { what, into });
    work.apply(&carry(Scope::Clip(0, 0, 1), Scope::Clip(0, 1, 0))).unwrap();
    assert_eq!((showing(&work, 0, 0), showing(&work, 0, 1)), ("waves".to_owned(), "harbour".to_owned()));
    work.undo();
    work.apply(&carry(Scope::Clip(0, 0, 0), Scope::Clip(0, 1, 0))).unwrap();
    assert_eq!(showing(&work, 0, 1), "ferry windows", "one that waits goes on waiting");
    work.undo();
    work.apply(&carry(Scope::Clip(0, 0, 1), Scope::Clip(0, 0, 0))).unwrap();
    assert_eq!(showing(&work, 0, 0), "harbour");
}

#[test]
fn showing_a_hidden_clip_hides_it_no_longer() {
    let mut work = night_ferry();
    let hide = |hidden| Edit::Structure(StructureEdit::Hide { what: Scope::Clip(0, 0, 0), hidden });
    work.apply(&hide(true)).unwrap();
    work.apply(&Edit::Clip(ClipPlace::default(), ClipEdit::Show)).unwrap();
    assert!(work.show().shows(Scope::Clip(0, 0, 0)));
    assert_eq!(work.history().done().last().unwrap().name, "Show clip:picture/crossing/waves");
}

#[test]
fn a_full_chain_takes_no_more() {
    let mut work = night_ferry();
    while work.show().chain(PICTURE).len() < 64 {
        work.apply(&Edit::Duplicate(spot(PICTURE, 0))).unwrap();
    }
    assert_eq!(work.apply(&Edit::Duplicate(spot(PICTURE, 0))), Err(EditError::Full));
}

#[test]
fn removing_a_clip_keeps_the_one_that_shows() {
    let mut work = night_ferry();
    let showing = |work: &Work| {
        let level = &work.show().bundles[0].levels[0];
        level.clips[level.showing].name.clone()
    };
    assert_eq!(showing(&work), "harbour");
    work.apply(&Edit::Drop(Scope::Clip(0, 0, 0))).unwrap();
    assert_eq!(showing(&work), "harbour");
    work.undo();
    work.apply(&Edit::Drop(Scope::Clip(0, 0, 1))).unwrap();
    assert_eq!(showing(&work), "waves");
}

#[test]
fn work_is_saved_and_opened_again() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mine.toml");
    let mut work = night_ferry();
    assert!(work.save().unwrap_err().to_string().contains("no file yet"));
    work.apply(&Edit::Tempo(90.0)).unwrap();
    work.save_as(&path).unwrap();
    assert!(!work.is_changed());
    work.apply(&Edit::Tempo(91.0)).unwrap();
    assert!(work.is_changed());
    work.save().unwrap();
    let again = Work::open(&path, &catalogue()).unwrap();
    assert_eq!(again.show(), work.show());
    assert!(!again.is_changed());
}

#[test]
fn a_chain_stays_a_chain_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("lamp.toml");
    let mut work = Work::preset("lamp-lines", &catalogue()).unwrap().unwrap();
    assert_eq!(work.form(), Form::Chain);
    let scope = work.first_scope();
    assert!(work.takes_effects_on(scope) && !work.takes_effects_on(Scope::Global));
    work.apply(&Edit::Order { scope, order: vec![1, 0] }).unwrap();
    work.save_as(&path).unwrap();
    let again = Work::open(&path, &catalogue()).unwrap();
    assert_eq!(names(again.show(), again.first_scope()), ["tint", "edge-find"]);
    assert!(fs::read_to_string(&path).unwrap().starts_with("format = \"underover/chain/1\""));
}

#[test]
fn a_save_that_fails_keeps_the_work_changed() {
    let mut work = night_ferry();
    work.apply(&Edit::Tempo(90.0)).unwrap();
    let error = work.save_as(Path::new("/no/such/folder/mine.toml")).unwrap_err().to_string();
    assert!(error.contains("there is no folder"), "{error}");
    assert!(work.is_changed() && work.file().is_none());
}

#[test]
fn work_is_found_again_after_a_crash_and_only_then() {
    let folder = tempfile::tempdir().unwrap();
    let mut work = night_ferry();
    work.save_as(&folder.path().join("mine.toml")).unwrap();
    work.apply(&Edit::Order { scope: PICTURE, order: vec![4, 3, 2, 1, 0] }).unwrap();
    let state = folder.path().join("state");
    let recovery = Recovery::begin(&state).unwrap();
    recovery.keep(&work).unwrap();
    // While the program runs, nothing is lost yet.
    assert!(Recovery::found(&state, &catalogue()).is_empty());
    // A program that crashes clears nothing away; its lock opens.
    drop(recovery);
    let found: Vec<_> = Recovery::found(&state, &catalogue()).into_iter().map(Result::unwrap).collect();
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].work.show(), work.show());
    assert_eq!(found[0].work.file(), work.file());
    assert!(found[0].work.is_changed());
    // The next program takes another place, so that the lost work stays until it is taken up.
    let next = Recovery::begin(&state).unwrap();
    next.keep(&night_ferry()).unwrap();
    assert_eq!(Recovery::found(&state, &catalogue()).len(), 1);
    found[0].clear();
    assert!(Recovery::found(&state, &catalogue()).is_empty());
    next.clear();
    drop(next);
    assert!(Recovery::found(&state, &catalogue()).is_empty());
}

#[test]
fn a_damaged_text_kept_aside_is_reported_with_its_place() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("work-1.toml"), "format = \"underover/show/1\"\nname = 3\n").unwrap();
    let found = Recovery::found(folder.path(), &catalogue());
    let error = found[0].as_ref().unwrap_err().to_string();
    assert!(error.contains("work-1.toml:2:"), "{error}");
}

#[test]
fn recent_files_are_remembered_latest_first_and_once_each() {
    let folder = tempfile::tempdir().unwrap();
    let mut recent = RecentFiles::read(Some(folder.path()));
    for name in ["a", "b", "a"] {
        recent.note(&folder.path().join(name));
    }
    let again = RecentFiles::read(Some(folder.path()));
    assert_eq!(again.files(), [folder.path().join("a"), folder.path().join("b")]);
    for n in 0..50 {
        recent.note(&folder.path().join(n.to_string()));
    }
    assert_eq!(RecentFiles::read(Some(folder.path())).files().len(), 12);
}
