//! What the window takes from files and writes to them, driven as a person drives it; there is no display.

use std::fs;
use std::path::Path;
use std::sync::Arc;

use crate::driving::*;
use egui::{Key, Modifiers, vec2};
use egui_kittest::kittest::Queryable as _;
use underover::base::frame::Frame;
use underover::beat::{Beats, Moment};
use underover::catalogue::{Catalogue, Value};
use underover::edit::{Edit, Form, SectionEdit, Spot, Work};
use underover::explore::Orders;
use underover::files::Document;
use underover::footage::Shelf;
use underover::gpu::{Budget, Gpu, Renderer};
use underover::order::LookLimits;
use underover::output::hanging::{Hanging, MOST_SHOWN, Sizes, Wanted};
use underover::output::orders_wall::{OrdersWall, keeping_said, left_out_said};
use underover::readiness::caution;
use underover::show::automation::{Automation, Pace};
use underover::show::chain::EffectUse;
use underover::show::clip::{Fit, FootageName};
use underover::show::{ClipPlace, Scope, Section};
use underover::window::{
    Action, Desk, Dialog, Folders, Pictures, Prover, Saving, SectionAct, Tab, ThemeChoice, WallBy,
};
use underover::{explore, files, plan};

/// A picture file of one colour.
fn picture_file(folder: &Path, name: &str) -> std::path::PathBuf {
    let path = folder.join(name);
    image::RgbaImage::from_pixel(6, 4, image::Rgba([200, 40, 90, 255])).save(&path).unwrap();
    path
}

fn clip(window: &Window) -> underover::show::Clip {
    show(window).clip(window.state().view().clip).unwrap().clone()
}

#[test]
fn a_picture_dropped_onto_the_window_becomes_a_clip() {
    let folder = tempfile::tempdir().unwrap();
    let path = picture_file(folder.path(), "quay.png");
    let mut window = window(desk(work("night-ferry"), None));
    let ClipPlace { bundle: b, level: l, .. } = window.state().view().clip;
    let before = show(&window).bundles[b].levels[l].clips.len();
    window.state_mut().take_file(path.clone());
    window.run();
    assert_eq!(show(&window).bundles[b].levels[l].clips.len(), before + 1);
    assert!(matches!(clip(&window).footage, FootageName::File { path: found, .. } if found == path));
    key(&mut window, Modifiers::COMMAND, Key::Z);
    assert_eq!(show(&window).bundles[b].levels[l].clips.len(), before);
}

#[test]
fn footage_is_decoded_while_the_window_goes_on_and_orders_wait_for_it() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("quay.png");
    image::RgbaImage::from_fn(2400, 1600, |x, y| image::Rgba([(x * y % 251) as u8, x as u8, y as u8, 255]))
        .save(&path)
        .unwrap();
    let mut window = window(desk(work("night-ferry"), None));
    window.state_mut().take_file(path);
    let started = std::time::Instant::now();
    window.step();
    // Decoding takes longer than a pass may take; nothing is proved of what stands in for it.
    if window.state_mut().pictures().is_loading() {
        assert!(started.elapsed() < std::time::Duration::from_secs(2));
    }
    until(&mut window, "the footage is there", |desk| !desk.pictures().is_loading());
    until(&mut window, "the orders are known", |desk| !desk.is_asking() && desk.known().is_some());
    assert_eq!(window.state_mut().pictures().problem(), None);
}

#[cfg(unix)]
#[test]
fn a_film_that_takes_long_to_open_is_on_its_way_while_the_window_answers() {
    use std::os::unix::fs::PermissionsExt;
    use std::process::Command;
    use std::time::{Duration, Instant};
    const ASIDE: &str = "UNDEROVER_TEST_SLOW_FILMS";
    let has_ffmpeg = Command::new("ffmpeg").arg("-version").output().is_ok();
    let Some(folder) = std::env::var_os(ASIDE) else {
        if !has_ffmpeg {
            eprintln!("ffmpeg is missing here: what goes through it is not tested");
            return;
        }
        // Programs are found on the PATH that a process starts with: this test runs itself anew, on another.
        let folder = tempfile::tempdir().unwrap();
        let film = folder.path().join("quay.mp4");
        let source = ["-v", "error", "-f", "lavfi", "-i", "testsrc=s=64x48:r=10:d=1"];
        assert!(Command::new("ffmpeg").args(source).arg(&film).status().unwrap().success());
        let rest = std::env::var("PATH").unwrap();
        let slow = folder.path().join("ffprobe");
        fs::write(&slow, format!("#!/bin/sh\nsleep 4\nPATH='{rest}' exec ffprobe \"$@\"\n")).unwrap();
        fs::set_permissions(&slow, fs::Permissions::from_mode(0o755)).unwrap();
        let name = "a_film_that_takes_long_to_open_is_on_its_way_while_the_window_answers";
        let again = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", name, "--nocapture"])
            .env("PATH", format!("{}:{rest}", folder.path().display()))
            .env(ASIDE, folder.path())
            .output()
            .unwrap();
        assert!(again.status.success(), "{}", String::from_utf8_lossy(&again.stderr));
        // Nothing that was begun for it is left.
        let found = Command::new("pgrep").args(["-f", "--", &slow.display().to_string()]).output().unwrap();
        assert!(!found.status.success(), "left behind: {}", String::from_utf8_lossy(&found.stdout));
        return;
    };
    let folder = Path::new(&folder);
    let mut window = window(desk(work("night-ferry"), None));
    let at_once = Duration::from_secs(1);
    let taken = |window: &mut Window, name: &str| {
        let begun = Instant::now();
        window.state_mut().take_file(folder.join(name));
        window.step();
        assert!(begun.elapsed() < at_once, "{:?}", begun.elapsed());
        assert_eq!(clip(window).name, name.split_once('.').unwrap().0, "its clip is there");
        assert!(window.state_mut().pictures().is_loading(), "and on its way");
        assert_eq!(window.state().view().dialog, None);
    };
    taken(&mut window, "quay.mp4");
    let begun = Instant::now();
    until(&mut window, "the film is there", |desk| !desk.pictures().is_loading());
    assert!(begun.elapsed() > Duration::from_secs(2), "it took its time: {:?}", begun.elapsed());
    assert_eq!(window.state_mut().pictures().problem(), None);
    // What turns out to be no film is told then.
    fs::write(folder.join("noise.mp4"), "#EXTM3U\n#EXT-X-TARGETDURATION:1\n").unwrap();
    taken(&mut window, "noise.mp4");
    until(&mut window, "it is told", |desk| desk.view().dialog.is_some());
    let Some(Dialog::Report { text, .. }) = &window.state().view().dialog else { panic!("a report") };
    assert!(text.contains("noise.mp4 is a playlist (HLS)") && text.contains("Undo"), "{text}");
    press(&mut window, "Close");
    // The window closes without waiting.
    fs::copy(folder.join("quay.mp4"), folder.join("pier.mp4")).unwrap();
    taken(&mut window, "pier.mp4");
    let begun = Instant::now();
    drop(window);
    assert!(begun.elapsed() < at_once, "{:?}", begun.elapsed());
}

#[test]
fn a_chain_file_dropped_onto_the_window_is_opened() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mine.toml");
    work("lamp-lines").save_as(&path).unwrap();
    let mut window = window(desk(work("night-ferry"), None));
    window.state_mut().take_file(path);
    window.run();
    assert_eq!(window.state().work().form(), Form::Chain);
    assert_eq!(names(&window, window.state().work().first_scope()), ["edge-find", "tint"]);
}

#[test]
fn a_clips_footage_is_changed_in_its_place_and_undo_brings_it_back() {
    let folder = tempfile::tempdir().unwrap();
    let path = picture_file(folder.path(), "quay.png");
    let mut window = window(desk(work("night-ferry"), None));
    let before = clip(&window);
    // A generated source, from the list.
    key(&mut window, Modifiers::NONE, Key::T);
    let other = window.state().work().show().bundles[1].levels[0].clips[0].footage.to_string();
    let other = other.strip_prefix("generated:").unwrap().to_owned();
    press(&mut window, &other);
    assert_eq!(clip(&window).footage, FootageName::Generated(other));
    assert_eq!(window.state().view().dialog, None);
    // A file that is dropped while the sheet is open.
    key(&mut window, Modifiers::NONE, Key::T);
    window.state_mut().take_file(path.clone());
    window.run();
    assert!(matches!(&clip(&window).footage, FootageName::File { path: found, .. } if *found == path));
    assert_eq!(clip(&window).name, before.name, "the clip stays the same one");
    // A path that is typed; one that is not there changes nothing.
    key(&mut window, Modifiers::NONE, Key::T);
    assert!(matches!(window.state().view().dialog, Some(Dialog::Footage(..))));
    key(&mut window, Modifiers::COMMAND, Key::A);
    write(&mut window, &folder.path().join("nothing.png").display().to_string());
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert!(matches!(window.state().view().dialog, Some(Dialog::Report { .. })));
    press(&mut window, "Close");
    assert_eq!(window.state().work().history().done().len(), 2);
    assert!(matches!(window.state().view().dialog, Some(Dialog::Footage(..))), "to be put right");
    press(&mut window, "Cancel");
    assert_eq!(window.state().view().dialog, None);
    // How it is placed.
    let scope = Scope::from(window.state().view().clip);
    window.state_mut().act(Action::Scope(scope));
    window.run();
    press(&mut window, "stretched");
    assert_eq!(clip(&window).fit, Fit::Stretched);
    for _ in 0..3 {
        press(&mut window, "Undo");
    }
    assert_eq!(clip(&window), before);
}

#[test]
fn the_footage_under_a_lone_chain_is_no_change_of_its_file() {
    let mut window = window(desk(work("lamp-lines"), None));
    key(&mut window, Modifiers::NONE, Key::T);
    press(&mut window, "waves");
    assert_eq!(clip(&window).footage, FootageName::Generated("waves".to_owned()));
    assert!(!window.state().work().is_changed());
}

#[test]
fn an_effect_is_called_something_else_and_its_file_keeps_it() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mine.toml");
    let mut window = window(desk(work("night-ferry"), None));
    press(&mut window, "Effect 5 mirror");
    key(&mut window, Modifiers::NONE, Key::F2);
    key(&mut window, Modifiers::COMMAND, Key::A);
    write(&mut window, "folded quay");
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert!(window.query_by_label("Effect 5 folded quay").is_some(), "the card says it");
    assert_eq!(names(&window, PICTURE)[4], "mirror", "the effect is what it was");
    window.state_mut().save_as(&path);
    window.run();
    let read = Work::open(&path, &Catalogue::built_in().unwrap()).unwrap();
    assert_eq!(read.show().chain(PICTURE)[4].name.as_deref(), Some("folded quay"));
    // The name of another effect is taken; nothing gives its own name back.
    for (text, label) in [("edge-find", "Effect 5 folded quay"), (" ", "Effect 5 mirror")] {
        key(&mut window, Modifiers::NONE, Key::F2);
        key(&mut window, Modifiers::COMMAND, Key::A);
        write(&mut window, text);
        key(&mut window, Modifiers::NONE, Key::Enter);
        assert!(window.query_by_label(label).is_some(), "after `{text}`");
    }
}

#[test]
fn names_of_effects_in_files_are_refused_where_they_cannot_stand_on_a_card() {
    let catalogue = Catalogue::built_in().unwrap();
    let read = |name: &str| {
        let text = format!(
            "format = \"underover/chain/1\"\nname = \"x\"\n[[effect]]\nuse = \"tint\"\nname = {name}\n"
        );
        files::parse(&text, "x.toml", Path::new(""), &catalogue)
    };
    for (name, why) in [
        ("\"\"", "is empty"),
        ("\"  \"", "is empty"),
        (&format!("\"{}\"", "a".repeat(81)), "at most 80"),
        ("\"a\\tb\"", "line end or tab"),
        ("\"a\\u0007b\"", "U+0007"),
        ("3", "text in quotes"),
    ] {
        let error = read(name).unwrap_err().to_string();
        assert!(error.contains("x.toml:5:") && error.contains(why), "{name}: {error}");
    }
    let Ok(Document::Chain(preset)) = read("\"warm\"") else { panic!("it reads") };
    assert_eq!(preset.chain[0].name.as_deref(), Some("warm"));
    assert!(files::chain_text(&preset).contains("name = \"warm\""));
}

#[test]
fn labels_are_unique_whatever_effects_are_called() {
    let catalogue = Catalogue::built_in().unwrap();
    let tint = || EffectUse::new(catalogue.effect("tint").unwrap().clone());
    let mut named = tint();
    named.name = Some("tint 2".to_owned());
    let labels = underover::show::chain::labels(&[named, tint(), tint()]);
    assert_eq!(labels, ["tint 2", "tint 1", "tint 3"]);
}

#[test]
fn theme_text_size_and_tab_are_remembered() {
    let config = tempfile::tempdir().unwrap();
    let open = || {
        let catalogue = Catalogue::built_in().unwrap();
        let pictures = Pictures::none(&catalogue);
        let folders = Folders { state: None, config: Some(config.path().to_owned()), data: None };
        let desk = Desk::new(work("night-ferry"), catalogue, pictures, Prover::new(None, || ()), folders);
        window_of(desk, vec2(1900.0, 1200.0))
    };
    let mut window = open();
    assert_eq!(window.ctx.theme(), egui::Theme::Dark);
    key(&mut window, Modifiers::NONE, Key::F9);
    assert_eq!(window.ctx.theme(), egui::Theme::Light);
    for _ in 0..3 {
        key(&mut window, Modifiers::COMMAND, Key::Plus);
    }
    key(&mut window, Modifiers::NONE, Key::Num2);
    window.run();
    assert!((window.ctx.zoom_factor() - 1.3).abs() < 0.01, "{}", window.ctx.zoom_factor());
    drop(window);
    let mut window = open();
    window.run();
    let preferences = window.state().view().preferences;
    assert_eq!((preferences.theme, preferences.text_percent), (ThemeChoice::Light, 130));
    assert_eq!(window.state().view().tab, Tab::Swaps);
    assert_eq!(window.ctx.theme(), egui::Theme::Light);
    for _ in 0..30 {
        key(&mut window, Modifiers::COMMAND, Key::Minus);
    }
    assert_eq!(window.state().view().preferences.text_percent, 80);
    key(&mut window, Modifiers::COMMAND, Key::Num0);
    assert_eq!(window.state().view().preferences.text_percent, 100);
    drop(window);
    // A broken file is said, and stops nothing.
    fs::write(config.path().join("preferences.toml"), "theme = [").unwrap();
    let window = open();
    assert_eq!(window.state().view().preferences.theme, ThemeChoice::Dark);
    assert!(window.state().view().said.contains("preferences.toml"), "{}", window.state().view().said);
}

#[test]
fn picture_wall_and_chain_are_exported_while_the_window_goes_on() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = window(desk_with_pictures(small_demo("160x90")));
    until(&mut window, "looks are told apart", |desk| {
        assert_eq!(desk.orders_problem(), None);
        desk.known().is_some_and(|known| known.looks.as_ref().is_some_and(|looks| looks.is_of_now))
    });
    let at = |name: &str| folder.path().join(name);
    for (saving, name) in [(Saving::Picture, "p.png"), (Saving::Wall, "w.png"), (Saving::Chain, "c.toml")] {
        window.state_mut().act(Action::Write(saving, at(name)));
    }
    // Nothing was waited for: the exports are on their way, and the window takes a change meanwhile.
    assert!(!at("p.png").exists());
    window.step();
    assert!(window.state().is_exporting());
    key(&mut window, Modifiers::NONE, Key::ArrowRight);
    assert_eq!(window.state().view().spot(), Some(Spot { scope: PICTURE, at: 1 }));
    until(&mut window, "all is written", |desk| !desk.is_exporting());
    assert!(window.state().view().said.contains("w.png"), "{}", window.state().view().said);
    let picture = image::open(at("p.png")).unwrap();
    assert_eq!((picture.width(), picture.height()), (160, 90));
    assert!(image::open(at("w.png")).unwrap().height() > 500);
    let catalogue = Catalogue::built_in().unwrap();
    let Document::Chain(chain) = files::read(&at("c.toml"), &catalogue).unwrap() else { panic!("a chain") };
    assert_eq!(chain.chain.len(), 5);
}

#[test]
fn an_exported_wall_is_that_of_its_own_moment_and_of_all_that_is_remembered_then() {
    let folder = tempfile::tempdir().unwrap();
    let catalogue = catalogue();
    let used = |name: &str| EffectUse::new(Arc::clone(catalogue.effect(name).unwrap()));
    let mut show = (**work("night-ferry").show()).clone();
    show.frame = Frame { width: 48, height: 27 };
    let mut offset = used("channel-offset");
    let pace = Pace { period_beats: 0.2, phase: 0.0 };
    let values = vec![Value::Number(0.1), Value::Number(-0.1)];
    offset.automate(0, Automation::Steps { pace, values }).unwrap();
    // The trails keep what the gate let through before it shut, and what was moved otherwise.
    show.bundles[0].chain = vec![offset, used("trails"), used("flash-gate")];
    let mut window = window(desk_with_pictures(Work::new(Document::Show(show.clone()), None)));
    let path = folder.path().join("w.png");
    // What is known of the orders is still of the beat before.
    window.state_mut().act(Action::Beats(4.9));
    window.step();
    window.state_mut().act(Action::Write(Saving::Wall, path.clone()));
    until(&mut window, "it is written", |_| path.exists());
    let moment =
        Moment::at_beats(show.frame, show.pixels, show.tempo_bpm, show.rate, &Beats::of_decimal(4.9));
    let mut shelf = Shelf::new(&catalogue);
    let planned = plan::Path::of_scope(&show, PICTURE, moment, &mut shelf).unwrap();
    assert!(planned.chain[2].idle_because(&moment).is_some());
    let mut renderer = Renderer::new(Gpu::open(None).unwrap());
    let orders = Orders::of(&mut renderer, &planned).unwrap();
    let (classes, limits, budget) = (orders.classes.len(), LookLimits::default(), Budget::default());
    assert!(classes > 2 && orders.proofs.idle[2].is_none(), "{classes} classes");
    let sizes = Sizes::of(&orders, show.frame, show.frame, MOST_SHOWN);
    let want = sizes.in_passing(classes, MOST_SHOWN);
    let mut explored = orders.explored(&mut renderer, &planned, want, limits, budget, |_| {}).unwrap();
    let parts = explore::parts(&mut renderer, &planned, limits).unwrap();
    let wanted = Wanted { most: MOST_SHOWN, every: false, ranked: None };
    let hanging = Hanging::of(&explored, sizes, wanted);
    hanging.hang(&mut explored, &mut renderer, &planned, budget).unwrap();
    let shown = hanging.shown();
    let expected = OrdersWall {
        title: &show.name,
        source: show.address(PICTURE).into(),
        frame_note: None,
        path: &planned,
        explored: &explored,
        parts: &parts,
        hanging: &hanging,
        own: "the current order",
        caution: caution::of_show(&show),
    };
    let check = |words: Option<&str>, said: &str| {
        let keeping = keeping_said(&explored, &shown, words).unwrap();
        assert_eq!(keeping, said);
        let notes = left_out_said(&explored, &shown).into_iter().chain([keeping]);
        let expected = expected.composed(|_| Vec::new(), notes.collect()).unwrap();
        assert_eq!(expected.tiles.len(), shown.len());
        assert!(expected.answer.is_some() && !expected.families.is_empty());
        let written = image::open(&path).unwrap().into_rgba8();
        assert!(written == expected.drawn().unwrap(), "another wall was written than with: {said}");
        fs::remove_file(&path).unwrap();
    };
    check(None, "To save one as a chain file by its code, save this first; then the wall says the command.");
    // Once a file holds it, the command that keeps an order is on the wall, and is right.
    let file = folder.path().join("the quay.toml");
    window.state_mut().act(Action::Write(Saving::Work, file.clone()));
    window.step();
    assert_eq!(window.state().work().file(), Some(&*file));
    window.state_mut().act(Action::Write(Saving::Wall, path.clone()));
    until(&mut window, "it is written once more", |_| path.exists());
    let words = format!("'{}' --scope bundle:picture", file.display());
    let code = explored.orders.code(shown.iter().copied().find(|&class| class != 0).unwrap());
    let command = format!("underover orders {words} --keep {code} --as NAME.toml");
    check(Some(&words), &format!("Save one as a chain file by its code: {command}"));
}

#[test]
fn the_build_sheet_and_the_report_are_exported_from_the_file_menu() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let mut window = window(desk_with_pictures(small_demo("64x36")));
    let mut section = Section::of("landfall");
    section.shows.insert([1, 0], None);
    window.state_mut().act(Action::Edit(Edit::Section(SectionEdit::Add(Box::new(section)))));
    // What is told of sections is told whichever is looked at.
    window.state_mut().act(Action::Section(SectionAct::Nth(0)));
    window.run();
    for (entry, saving) in
        [("Export the build sheet …", Saving::BuildSheet), ("Export the report …", Saving::Report)]
    {
        press(&mut window, "File");
        press(&mut window, entry);
        assert_eq!(window.state().view().dialog, Some(Dialog::Save(saving)));
        key(&mut window, Modifiers::NONE, Key::Escape);
    }
    for (saving, name) in [
        (Saving::BuildSheet, "s.svg"),
        (Saving::BuildSheet, "s.txt"),
        (Saving::BuildSheet, "s.png"),
        (Saving::Report, "r.html"),
    ] {
        window.state_mut().act(Action::Write(saving, at(name)));
    }
    until(&mut window, "all is written", |desk| desk.view().said.contains("r.html"));
    assert!(fs::read_to_string(at("s.svg")).unwrap().starts_with("<svg"));
    let sheet = fs::read_to_string(at("s.txt")).unwrap();
    for part in ["bundle:picture", "landfall: until the next, cuts", "level:signs/mark shows nothing"] {
        assert!(sheet.contains(part), "{part}");
    }
    assert!(image::open(at("s.png")).unwrap().height() > 500);
    let page = fs::read_to_string(at("r.html")).unwrap();
    for part in [
        "Every look",
        "What matters",
        "Step by step",
        "Flashing",
        "What a frame costs",
        "Sections of the set",
        "level:signs/mark shows nothing",
    ] {
        assert!(page.contains(part), "{part}");
    }
}

#[test]
fn an_export_is_given_up_and_leaves_no_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("wall.png");
    let mut window = window(desk_with_pictures(small_demo("1280x720")));
    window.state_mut().act(Action::Write(Saving::Wall, path.clone()));
    window.step();
    press(&mut window, "Give up");
    until(&mut window, "it has ended", |desk| !desk.is_exporting());
    assert!(window.state().view().said.starts_with("Given up"), "{}", window.state().view().said);
    assert!(!path.exists());
}

#[test]
fn an_export_that_cannot_be_written_is_reported() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = window(desk_with_pictures(small_demo("64x36")));
    window.state_mut().act(Action::Write(Saving::Picture, folder.path().join("no/such/p.png")));
    until(&mut window, "it has ended", |desk| matches!(desk.view().dialog, Some(Dialog::Report { .. })));
}

#[test]
fn a_sheet_of_another_ending_is_refused_with_those_that_it_may_have() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("sheet.pdf");
    let mut window = window(desk_with_pictures(small_demo("64x36")));
    window.state_mut().act(Action::Write(Saving::BuildSheet, path.clone()));
    until(&mut window, "it has ended", |desk| matches!(desk.view().dialog, Some(Dialog::Report { .. })));
    let Some(Dialog::Report { text, .. }) = &window.state().view().dialog else { panic!("a report") };
    assert!(text.contains(".svg, .html, .png or .txt") && text.contains("sheet.svg"), "{text}");
    assert!(!path.exists());
}

#[test]
fn nothing_that_the_window_writes_takes_the_place_of_what_the_show_is_made_from() {
    let folder = tempfile::tempdir().unwrap();
    let (footage, file) = (picture_file(folder.path(), "quay.png"), folder.path().join("show.toml"));
    let linked = folder.path().join("linked.png");
    fs::hard_link(&footage, &linked).unwrap();
    let mut window = window(desk_with_pictures(small_demo("64x36")));
    window.state_mut().take_file(footage.clone());
    window.run();
    // What is added is selected, and has no chain to write yet.
    window.state_mut().act(Action::Scope(PICTURE));
    window.state_mut().save_as(&file);
    window.run();
    let before = [&footage, &file].map(|path| fs::read(path).unwrap());
    for (saving, path) in [
        (Saving::Picture, &footage),
        (Saving::Wall, &linked),
        (Saving::Work, &footage),
        (Saving::Chain, &footage),
        (Saving::Chain, &file),
        (Saving::Report, &file),
        (Saving::Picture, &file),
    ] {
        window.state_mut().act(Action::Write(saving, path.clone()));
        window.run();
        assert!(!window.state().is_exporting(), "it is refused before any work");
        let Some(Dialog::Report { text, .. }) = &window.state().view().dialog else {
            panic!("{saving:?}: a report")
        };
        assert!(text.contains("read here") || text.contains("this is written as"), "{saving:?}: {text}");
        window.state_mut().act(Action::Close);
        window.run();
        assert_eq!([&footage, &file].map(|path| fs::read(path).unwrap()), before, "{saving:?}");
    }
    // The show itself is saved again wherever it is kept, and another picture is replaced as the dialog asks.
    window.state_mut().act(Action::Save);
    window.run();
    assert!(window.state().view().dialog.is_none(), "{:?}", window.state().view().dialog);
    let yesterday = picture_file(folder.path(), "yesterday.png");
    let old = fs::read(&yesterday).unwrap();
    window.state_mut().act(Action::Write(Saving::Picture, yesterday.clone()));
    until(&mut window, "another picture is there", |_| fs::read(&yesterday).unwrap() != old);
}

#[test]
fn without_a_gpu_an_export_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = window(desk(work("night-ferry"), None));
    window.state_mut().act(Action::Write(Saving::Picture, folder.path().join("p.png")));
    until(&mut window, "it has ended", |desk| matches!(desk.view().dialog, Some(Dialog::Report { .. })));
}

#[test]
fn a_look_is_opened_and_adopted() {
    let mut window = window(desk_with_pictures(small_demo("160x90")));
    until(&mut window, "looks are told apart", |desk| {
        assert_eq!(desk.orders_problem(), None);
        desk.known().is_some_and(|known| known.looks.is_some())
    });
    let looks = window.state().known().unwrap().looks.clone().unwrap();
    assert!(looks.looks.len() > 1 && looks.looks.len() < 54, "{} looks", looks.looks.len());
    assert_eq!(looks.looks[0].class, 0, "the current order's comes first");
    let means: Vec<f64> = looks.looks[1..].iter().filter_map(|look| looks.means[look.class]).collect();
    assert_eq!(means.len(), looks.looks.len() - 1, "each is measured");
    // Each further one is the one furthest from all before it, so that the first rows show how much order can do.
    assert!(means.iter().all(|mean| *mean <= means[0]), "the most different first: {means:?}");
    assert_eq!(looks.looks.iter().map(|look| look.classes).sum::<usize>(), 54);
    let many = looks.looks[1..].iter().find(|look| look.classes > 1).expect("a look of several orders");
    let one = window.state().known().unwrap().classes[many.class].order.clone();
    let by = WallBy::Look { order: one, in_family: false };
    window.state_mut().act(Action::WallBy(by.clone()));
    window.run();
    assert!(window.query_by_label("Back to all looks").is_some());
    let candidates = window.state().known().unwrap().candidates(&by, &[]);
    assert_eq!(candidates.len(), many.classes);
    let wanted: Vec<String> = {
        let before = show(&window);
        candidates[0].order.iter().map(|&at| before.chain(PICTURE)[at].effect.name.clone()).collect()
    };
    let code: String = candidates[0].order.iter().map(|at| (at + 1).to_string()).collect();
    let label = format!("Order {code}: {}", wanted.join(", then "));
    press(&mut window, &label);
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(names(&window, PICTURE), wanted);
    // Until looks are told apart again, the wall keeps those it had.
    until(&mut window, "the new order's proofs are there", |desk| {
        desk.known().is_some_and(|known| known.path.chain[0].effect.name == wanted[0])
    });
    let carried = window.state().known().unwrap().looks.clone().expect("looks stay on the wall");
    assert_eq!(carried.looks.len(), looks.looks.len());
    assert_eq!(carried.looks[0].number, if carried.is_of_now { 0 } else { many.number });
    assert_eq!(carried.looks[0].class, 0);
    until(&mut window, "looks are told apart again", |desk| {
        desk.known().is_some_and(|known| known.looks.as_ref().is_some_and(|looks| looks.is_of_now))
    });
}
