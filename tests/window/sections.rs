//! Sections in the window: the strip, what is changed in one, the running order played, driven as a person drives them.

use std::time::Duration;

use crate::driving::*;
use egui::{Key, Modifiers, PointerButton, vec2};
use egui_kittest::kittest::Queryable as _;
use underover::base::frame::Frame;
use underover::catalogue::Value;
use underover::edit::{Edit, SectionEdit, Work};
use underover::files::Document;
use underover::gpu::Gpu;
use underover::show::control::{Control, ControlKind, Grip, Hand};
use underover::show::{Scope, Section, Show, Target};
use underover::window::{Action, HandAct, InSection, Offscreen, SectionAct, Shown};

/// The demo with three sections: two in the running order, of which the first comes again, and one beside it.
fn night() -> Show {
    let mut show = (**work("night-ferry").show()).clone();
    show.frame = "160x90".parse().unwrap();
    let section = |name: &str, beats, fade| Section { beats, fade, ..Section::of(name) };
    let mut quay = section("quay", Some(32.0), 0.0);
    quay.note = "signs off".to_owned();
    quay.shows.insert([1, 0], None);
    let mut crossing = section("crossing", Some(16.0), 4.0);
    crossing.shows.insert([0, 0], Some(0));
    crossing.opacity.insert(Scope::Level(0, 1), 0.5);
    show.sections = vec![quay, crossing, section("encore", None, 0.0)];
    show.running_order = vec![0, 1, 0];
    show
}

fn opened(show: Show) -> Window {
    window(desk(Work::new(Document::Show(show), None), None))
}

fn at(section: usize, entry: impl Into<Option<usize>>) -> Option<InSection> {
    Some(InSection { section, entry: entry.into() })
}

fn undo(window: &mut Window) {
    key(window, Modifiers::COMMAND, Key::Z);
}

fn right_press(window: &mut Window, at: egui::Pos2) {
    window.hover_at(at);
    window.step();
    for pressed in [true, false] {
        let button = PointerButton::Secondary;
        window.event(egui::Event::PointerButton { pos: at, button, pressed, modifiers: Modifiers::NONE });
        window.step();
    }
    window.run();
}

/// The middle of the card that stands so far on in the strip.
fn card(window: &Window, nth: usize) -> egui::Pos2 {
    let mut cards: Vec<egui::Rect> = window
        .get_all_by(|node| node.label().is_some_and(|label| label.starts_with("Section ")))
        .map(|node| node.rect())
        .collect();
    cards.sort_by(|a, b| a.left().total_cmp(&b.left()));
    cards[nth].center()
}

fn click(window: &mut Window, at: egui::Pos2) {
    window.hover_at(at);
    window.step();
    window.drag_at(at);
    window.step();
    window.drop_at(at);
    window.run();
}

#[test]
fn a_show_without_sections_has_one_quiet_way_to_begin_and_the_first_holds_what_shows() {
    let mut window = opened(Show { sections: vec![], running_order: vec![], ..night() });
    assert!(window.state().regions().iter().all(|(name, _)| *name != "sections"));
    press(&mut window, "Add to the structure");
    press(&mut window, "A section of the set");
    assert!(window.state().regions().iter().any(|(name, _)| *name == "sections"));
    let section = show(&window).sections[0].clone();
    assert_eq!(section.shows.len(), 4, "every level: {section:?}");
    assert_eq!(window.state().view().section, at(0, None));
    // Its name is written at once, where it stands.
    key(&mut window, Modifiers::COMMAND, Key::A);
    write(&mut window, "casting off");
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(show(&window).sections[0].name, "casting off");
    // The way there is a key, too, and another shows the show as it stands again.
    key(&mut window, Modifiers::ALT, Key::C);
    key(&mut window, Modifiers::NONE, Key::Escape);
    assert_eq!(show(&window).sections.len(), 2);
    key(&mut window, Modifiers::NONE, Key::U);
    assert_eq!(window.state().view().section, None);
    undo(&mut window);
    undo(&mut window);
    undo(&mut window);
    assert!(show(&window).sections.is_empty());
    assert!(window.state().regions().iter().all(|(name, _)| *name != "sections"));
}

#[test]
fn sections_are_gone_through_by_keys_and_what_each_changes_is_told_against_the_one_before() {
    let mut window = opened(night());
    assert!(label_with(&window, "Section encore, until the next, cuts, not in the running order").is_some());
    key(&mut window, Modifiers::NONE, Key::C);
    assert_eq!(window.state().view().section, at(0, 0));
    key(&mut window, Modifiers::NONE, Key::C);
    key(&mut window, Modifiers::NONE, Key::C);
    assert_eq!(window.state().view().section, at(0, 2), "the same section, where it comes again");
    key(&mut window, Modifiers::SHIFT, Key::C);
    assert_eq!(window.state().view().section, at(1, 1));
    // The path follows the clip that shows here, and the structure says what stands here.
    assert_eq!(window.state().view().clip.clip, 0);
    assert!(label_with(&window, "Clip waves").is_some_and(|label| !label.contains("waits")));
    let here = card(&window, 1);
    click(&mut window, here);
    for line in [
        "Against quay",
        "picture/crossing: harbour → waves",
        "signs/mark: ship mark comes",
        "picture/windows at 15 → 50 %",
    ] {
        assert!(label_with(&window, line).is_some(), "no `{line}` in {:?}", labels(&window));
    }
    key(&mut window, Modifiers::COMMAND, Key::Num4);
    assert_eq!(window.state().view().section, at(2, None));
    key(&mut window, Modifiers::NONE, Key::C);
    assert_eq!(window.state().view().said, "That is the last section.");
    key(&mut window, Modifiers::NONE, Key::U);
    assert_eq!((window.state().view().section, window.state().view().clip.clip), (None, 1));
    assert_eq!(nameless(&window), Vec::<String>::new());
}

#[test]
fn what_is_shown_hidden_and_dimmed_in_a_section_is_the_sections_and_the_show_stays() {
    let mut window = opened(night());
    let before = show(&window);
    window.state_mut().act(Action::Section(SectionAct::Go(at(1, 1))));
    window.run();
    press(&mut window, "Hide rigging");
    assert_eq!(show(&window).sections[1].shows.get(&[0, 2]), Some(&None));
    assert_eq!(show(&window).bundles, before.bundles);
    assert!(
        window
            .state()
            .view()
            .said
            .contains("In this section alone: crossing: nothing on level:picture/rigging")
    );
    press(&mut window, "rigging is hidden");
    assert_eq!(show(&window).sections[1].shows.get(&[0, 2]), None);
    press(&mut window, "Show the clip harbour");
    assert_eq!(show(&window).sections[1].shows.get(&[0, 0]), Some(&Some(1)));
    undo(&mut window);
    undo(&mut window);
    undo(&mut window);
    assert_eq!(show(&window), before);
    // As it stands, the same changes are the show's.
    key(&mut window, Modifiers::NONE, Key::U);
    press(&mut window, "Hide rigging");
    assert!(show(&window).bundles[0].levels[2].hidden && show(&window).sections == before.sections);
}

#[test]
fn a_section_is_renamed_coloured_lengthened_noted_taken_out_and_back_in_its_place() {
    let mut window = opened(night());
    let first = card(&window, 0);
    click(&mut window, first);
    press(&mut window, "until the next is called");
    assert_eq!(show(&window).sections[0].beats, None);
    undo(&mut window);
    window.get_by_label("Note of the section").click();
    window.run();
    key(&mut window, Modifiers::COMMAND, Key::A);
    write(&mut window, "lamps first");
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(show(&window).sections[0].note, "lamps first");
    press(&mut window, "Leave level:signs/mark shows nothing");
    assert!(show(&window).sections[0].shows.is_empty());
    undo(&mut window);
    assert_eq!(show(&window).sections[0].shows.len(), 1);
    right_press(&mut window, first);
    press(&mut window, "Let it come once more");
    assert_eq!(show(&window).running_order, [0, 0, 1, 0]);
    undo(&mut window);
    right_press(&mut window, first);
    press(&mut window, "Duplicate");
    assert_eq!(show(&window).sections[1].name, "quay 2");
    undo(&mut window);
    // The last of the strip, beside the running order, is dragged to its front, and the first out of it.
    let [from, to] = [3, 0].map(|nth| card(&window, nth));
    drag(&mut window, from, to - vec2(60.0, 0.0));
    assert_eq!(show(&window).running_order, [2, 0, 1, 0]);
    let [from, to] = [1, 2].map(|nth| card(&window, nth));
    drag(&mut window, from, to + vec2(40.0, 0.0));
    assert_eq!(show(&window).running_order, [2, 1, 0, 0]);
    undo(&mut window);
    undo(&mut window);
    assert_eq!(show(&window).running_order, [0, 1, 0]);
    let encore = card(&window, 3);
    right_press(&mut window, encore);
    press(&mut window, "Remove the section");
    assert_eq!(show(&window).sections.len(), 2);
    // Where it is named, the section looked at goes with it.
    key(&mut window, Modifiers::NONE, Key::U);
    key(&mut window, Modifiers::NONE, Key::C);
    let here = card(&window, 0);
    right_press(&mut window, here);
    press(&mut window, "Remove the section");
    assert_eq!((show(&window).sections.len(), window.state().view().section), (1, None));
    undo(&mut window);
    assert_eq!(show(&window).running_order, [0, 1, 0]);
}

#[test]
fn the_running_order_is_played_against_the_clock_called_paused_and_ended() {
    let mut show = night();
    show.running_order = vec![0, 1, 2];
    show.tempo_bpm = 60.0;
    let mut window = opened(show);
    let heard = |window: &Window, part: &str| {
        assert!(label_with(window, part).is_some(), "no `{part}` in {:?}", labels(window));
    };
    key(&mut window, Modifiers::NONE, Key::P);
    assert!(window.state().view().rehearses && window.state().view().playing);
    assert_eq!(window.state().regions().len(), 1, "nothing else is in the way");
    key(&mut window, Modifiers::NONE, Key::Space);
    assert!(!window.state().view().playing);
    window.state_mut().act(Action::Beats(29.25));
    window.run_steps(2);
    for part in ["3 beats left", "Now: quay", "Next: crossing", "beat 29 of 80, 0:29 of 1:20"] {
        heard(&window, part);
    }
    // What belongs to the desk does nothing now.
    key(&mut window, Modifiers::NONE, Key::A);
    assert_eq!(window.state().view().dialog, None);
    // Called early, the next one comes, and so does its end.
    key(&mut window, Modifiers::NONE, Key::ArrowRight);
    heard(&window, "Now: crossing");
    heard(&window, "16 beats left");
    window.state_mut().act(Action::Beats(45.25));
    window.run_steps(2);
    heard(&window, "Now: encore");
    heard(&window, "0 beats so far, until the next is called");
    window.state_mut().act(Action::Beats(48.0));
    window.run_steps(2);
    key(&mut window, Modifiers::NONE, Key::ArrowLeft);
    heard(&window, "Now: crossing");
    window.state_mut().act(Action::Beats(54.0));
    window.run_steps(2);
    key(&mut window, Modifiers::NONE, Key::ArrowLeft);
    heard(&window, "Now: crossing");
    heard(&window, "16 beats left");
    assert_eq!(nameless(&window), Vec::<String>::new());
    key(&mut window, Modifiers::NONE, Key::Escape);
    assert!(!window.state().view().rehearses && !window.state().view().playing);
    assert_eq!(window.state().view().section, at(1, 1), "it stays with what played");
    assert!(window.state().work().history().done().is_empty());
}

#[test]
fn a_control_calls_the_next_section_or_one_by_name_on_the_strip_and_in_the_running_order() {
    let mut show = night();
    show.controls.clear();
    for (name, word) in [("on", 0), ("back", 1), ("encore", 4)] {
        show.controls.push(Control::of(name, Hand::Either, ControlKind::Momentary));
        let value = || Value::Choice(word);
        let grip = Grip { control: name.to_owned(), low: value(), high: value(), curve: Default::default() };
        show.hold(Target::Section, grip).unwrap();
    }
    let mut window = opened(show);
    let play = |window: &mut Window, control: usize| {
        for act in [HandAct::Press(control), HandAct::Release(control)] {
            window.state_mut().act(Action::Hand(act));
            window.run_steps(2);
        }
    };
    let mut called = |control: usize, wanted: Option<InSection>| {
        play(&mut window, control);
        assert_eq!(window.state().view().section, wanted, "{}", window.state().view().said);
    };
    called(0, at(0, 0));
    called(0, at(1, 1));
    called(1, at(0, 0));
    called(2, at(2, None));
    // In the running order, which knows no encore.
    window.state_mut().act(Action::Section(SectionAct::Go(at(0, 0))));
    key(&mut window, Modifiers::NONE, Key::P);
    key(&mut window, Modifiers::NONE, Key::Space);
    play(&mut window, 0);
    assert!(label_with(&window, "Now: crossing").is_some(), "{:?}", labels(&window));
    play(&mut window, 2);
    assert_eq!(window.state().view().said, "encore is not in the running order, which is being played.");
    play(&mut window, 1);
    assert!(label_with(&window, "Now: quay").is_some(), "{:?}", labels(&window));
    assert!(window.state().work().history().done().is_empty());
}

#[test]
fn a_chain_of_the_library_is_laid_on_a_scope_in_a_section_and_taken_away_again() {
    let mut window = opened(night());
    let before = show(&window);
    let chain = |window: &Window| show(window).sections[0].chains.get(&PICTURE).cloned();
    let first = card(&window, 0);
    click(&mut window, first);
    window.state_mut().act(Action::Scope(PICTURE));
    window.state_mut().act(Action::Section(SectionAct::Settings(true)));
    window.run();
    // From the section's settings, for any scope.
    press(&mut window, "Lay a chain \u{2026}");
    press(&mut window, "on bundle:picture");
    until(&mut window, "the library is known", |desk| !desk.shelves().is_unknown());
    window.run();
    press(&mut window, "Lamp lines");
    assert_eq!(chain(&window).as_deref(), Some("preset:lamp-lines"));
    assert!(label_with(&window, "preset:lamp-lines on bundle:picture").is_some(), "{:?}", labels(&window));
    assert_eq!(show(&window).bundles, before.bundles, "the scope keeps its own effects");
    press(&mut window, "Leave preset:lamp-lines on bundle:picture");
    assert_eq!(chain(&window), None);
    undo(&mut window);
    undo(&mut window);
    assert_eq!(show(&window), before);
    // From the strip, for the scope that is selected, and back.
    right_press(&mut window, first);
    press(&mut window, "Lay a chain on bundle:picture");
    press(&mut window, "Lamp lines");
    assert_eq!(chain(&window).as_deref(), Some("preset:lamp-lines"));
    right_press(&mut window, first);
    press(&mut window, "Lay a chain on bundle:picture");
    press(&mut window, "Its own effects again");
    assert_eq!(chain(&window), None);
    // From the library, in the section that is looked at.
    key(&mut window, Modifiers::NONE, Key::Num6);
    press(&mut window, "Chain Lamp lines, in the program: edge-find, tint");
    press(&mut window, "Lay Lamp lines on bundle:picture in the section quay");
    assert_eq!(chain(&window).as_deref(), Some("preset:lamp-lines"));
    undo(&mut window);
    assert_eq!(nameless(&window), Vec::<String>::new());
    // Carried onto the card of another section.
    let lines = middle(&window, "Chain Lamp lines, in the program: edge-find, tint");
    let second = card(&window, 1);
    drag(&mut window, lines, second);
    assert_eq!(show(&window).sections[1].chains.get(&PICTURE).map(String::as_str), Some("preset:lamp-lines"));
    undo(&mut window);
    // As it stands, there is no section to lay it in.
    key(&mut window, Modifiers::NONE, Key::U);
    assert!(label_with(&window, "in the section quay").is_none());
}

#[test]
fn the_second_window_hears_the_keys_of_sections_and_of_controls_and_none_that_changes_the_work() {
    let mut show = night();
    show.controls.clear();
    show.controls.push(Control {
        key: Some("L".parse().unwrap()),
        ..Control::of("horn", Hand::Left, ControlKind::Momentary)
    });
    let mut window = opened(show);
    let heard = |window: &Window, held: Modifiers, key: Key| {
        underover::window::is_heard_elsewhere(
            (held, key),
            window.state().view(),
            window.state().work().show(),
        )
    };
    let (none, shift, alt) = (Modifiers::NONE, Modifiers::SHIFT, Modifiers::ALT);
    for (held, key) in
        [(none, Key::C), (shift, Key::C), (none, Key::U), (none, Key::P), (Modifiers::COMMAND, Key::Num2)]
    {
        assert!(heard(&window, held, key), "{key:?}");
    }
    // A section added, an effect removed, a control played while the desk is in view, and what only looks like a key of sections.
    for (held, key) in [
        (alt, Key::C),
        (none, Key::Delete),
        (none, Key::L),
        (Modifiers::COMMAND, Key::C),
        (none, Key::ArrowRight),
    ] {
        assert!(!heard(&window, held, key), "{key:?}");
    }
    window.state_mut().act(Action::Section(SectionAct::Rehearse(true)));
    window.run_steps(2);
    for key in [Key::ArrowRight, Key::ArrowLeft, Key::L] {
        assert!(heard(&window, none, key), "{key:?}");
    }
    for key in [Key::C, Key::Delete, Key::A] {
        assert!(!heard(&window, none, key), "{key:?}");
    }
}

/// Two sections of plain light: the sky white, then black.
fn light_and_dark() -> Show {
    let mut show = night();
    show.frame = "64x36".parse().unwrap();
    for bundle in &mut show.bundles {
        bundle.chain.clear();
        bundle.levels.iter_mut().for_each(|level| level.chain.clear());
    }
    show.global.clear();
    show.tempo_bpm = 60.0;
    let section = |name: &str, opacity| {
        let mut section = Section { beats: Some(8.0), fade: 4.0, ..Section::of(name) };
        section.opacity = [0, 1].into_iter().map(|b| (Scope::Bundle(b), opacity)).collect();
        section
    };
    show.sections = vec![section("light", 1.0), section("dark", 0.0)];
    show.running_order = vec![0, 1];
    show
}

#[test]
fn the_picture_of_the_running_order_fades_as_far_as_the_beat_has_come() {
    let catalogue = catalogue();
    let work = Work::new(Document::Show(light_and_dark()), None);
    let size = Frame { width: 640, height: 400 };
    let mut window = Offscreen::new(Gpu::open(None).unwrap(), work, catalogue, size).unwrap();
    let at = |window: &mut Offscreen, beats: f64| {
        window.desk().act(Action::Beats(beats));
        assert!(window.settle(Duration::from_secs(120)).unwrap());
        let picture = window.picture().unwrap();
        // The picture stands in the middle above the band; a row of it.
        (240..400).map(|x| picture.get_pixel(x, 150).0).collect::<Vec<_>>()
    };
    let play = |window: &mut Offscreen| {
        window.desk().act(Action::Section(SectionAct::Rehearse(true)));
        window.desk().act(Action::Play(false));
    };
    // The light alone, at the same beats: it lasts until they are over.
    let longer = SectionEdit::Beats { section: 0, beats: Some(32.0) };
    window.desk().act(Action::Edit(Edit::Section(longer)));
    play(&mut window);
    let lit = [9.0, 11.0].map(|beats| at(&mut window, beats));
    window.desk().act(Action::Section(SectionAct::Rehearse(false)));
    window.desk().act(Action::Section(SectionAct::Go(None)));
    window.desk().act(Action::Undo);
    play(&mut window);
    let [fading, nearly, dark] = [9.0, 11.0, 13.0].map(|beats| at(&mut window, beats));
    assert!(dark.iter().all(|pixel| pixel[..3] == [0; 3]), "{:?}", &dark[..4]);
    // W3C Compositing and Blending Level 1, source-over of black at a share of the way: what is left of the light.
    for ((mixed, light), share) in [&fading, &nearly].into_iter().zip(&lit).zip([0.25, 0.75]) {
        // Software adapters filter what they enlarge in eight bits: up to a step for each of its two ways.
        let apart = |(light, mixed): (&[u8; 4], &[u8; 4])| {
            let channel = |nth: usize| (f64::from(light[nth]) * (1.0 - share) - f64::from(mixed[nth])).abs();
            (0..3).map(channel).fold(0.0, f64::max)
        };
        let worst =
            light.iter().zip(mixed).map(apart).enumerate().max_by(|a, b| a.1.total_cmp(&b.1)).unwrap();
        let (at, apart) = worst;
        assert!(apart <= 3.0, "{:?} {:?} at {at}, {share} of the way", light[at], mixed[at]);
    }
    assert!(lit[0].iter().any(|pixel| pixel[..3].iter().any(|value| *value > 100)), "{:?}", &lit[0][..4]);
    // Called back while the dark still comes, the light takes over from what is seen then: nothing jumps.
    assert_eq!(at(&mut window, 9.0), fading);
    window.desk().act(Action::Section(SectionAct::Call(-1)));
    assert_eq!(at(&mut window, 9.0), fading, "the beat at which it is called shows what it showed");
    let again = at(&mut window, 10.0);
    let more = again.iter().zip(&fading).filter(|(now, was)| now[0] > was[0]).count();
    assert!(more > 100, "the light comes again: {:?} {:?}", &again[..4], &fading[..4]);
    // The second window shows it, too, at the show's own size.
    window.desk().act(Action::Second(true));
    assert!(window.settle(Duration::from_secs(120)).unwrap());
    let second = window.desk().second().unwrap();
    assert!(second.texture.is_some() && second.frame == "64x36".parse().unwrap());
    window.desk().act(Action::Section(SectionAct::Rehearse(false)));
    assert!(window.settle(Duration::from_secs(120)).unwrap());
    assert_eq!(window.desk().view().shown, Shown::Output);
}
