//! Finding in the window: what is looked for, what may change, what is found, looked at and adopted.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::driving::*;
use egui::{Key, Modifiers, pos2};
use egui_kittest::kittest::Queryable as _;
use image::RgbaImage;
use underover::catalogue::Value;
use underover::edit::{Edit, Work};
use underover::explore::Goal;
use underover::files::Document;
use underover::footage::Shelf;
use underover::gpu::{Gpu, Renderer};
use underover::plan;
use underover::show::{Scope, Show};
use underover::window::{Action, Desk, Dialog, FindAct, On, Seeking, Shown, Tab};

fn find_window() -> Window {
    let mut window = window(desk_with_pictures(small_demo("96x54")));
    window.state_mut().act(Action::Tab(Tab::Find));
    window.run_steps(3);
    window
}

/// The output of the demo with its effects in another order, as a picture file.
fn hidden_order(folder: &Path, order: &[usize]) -> PathBuf {
    let work = small_demo("96x54");
    let (show, _) = Edit::Order { scope: PICTURE, order: order.to_vec() }.applied(work.show()).unwrap();
    let window = window(desk(Work::new(Document::Show(show.clone()), None), None));
    let moment = window.state().view().moment(&show, window.state().view().beats);
    let path = plan::Path::of_scope(&show, Scope::Global, moment, &mut Shelf::new(&catalogue())).unwrap();
    let own: Vec<usize> = (0..show.global.len()).collect();
    let picture = Renderer::new(Gpu::open(None).unwrap()).picture(&path, &own).unwrap();
    let file = folder.join("wish.png");
    RgbaImage::from_raw(96, 54, picture.rgba).unwrap().save(&file).unwrap();
    file
}

fn is_found(desk: &mut Desk) -> bool {
    !desk.found().answers.is_empty() && !desk.is_searching()
}

/// A file as the system hands it over.
#[derive(Debug)]
struct Dropped(PathBuf);

impl egui::DroppedFile for Dropped {
    fn path(&self) -> &Path {
        &self.0
    }

    fn bytes(&self) -> Result<Vec<u8>, String> {
        std::fs::read(&self.0).map_err(|error| error.to_string())
    }
}

fn drop_files(window: &mut Window, paths: &[&Path]) {
    let files = paths.iter().map(|path| Arc::new(Dropped((*path).to_owned())) as egui::DroppedFileHandle);
    window.input_mut().dropped_files.extend(files);
    window.run();
}

#[test]
fn an_order_that_made_a_picture_is_found_from_it_looked_at_and_adopted_in_one_step() {
    let folder = tempfile::tempdir().unwrap();
    let hidden = [4, 2, 0, 3, 1];
    let wish = hidden_order(folder.path(), &hidden);
    let mut window = find_window();
    assert!(label_with(&window, "Name the picture to come near").is_some(), "{:?}", labels(&window));
    // Dropped over the orders, it is asked what it is for.
    drop_files(&mut window, &[&wish]);
    assert!(matches!(window.state().view().dialog, Some(Dialog::Dropped(_))));
    press(&mut window, "Find what comes near it");
    assert_eq!(window.state().view().tab, Tab::Find);
    let before = show(&window);
    window.get_by_label("Find it").focus();
    window.run_steps(2);
    key(&mut window, Modifiers::NONE, Key::Space);
    assert!(window.state().is_searching());
    until(&mut window, "something is found", is_found);
    window.run_steps(3);
    let found = window.state().found().answers[0].clone();
    // What made it is among all that was tried, and was rendered at this very size.
    assert!(found.found.is_measured && found.found.figure < 1e-6, "{found:?}");
    let (hidden_show, _) = Edit::Order { scope: PICTURE, order: hidden.to_vec() }.applied(&before).unwrap();
    let known = window.state().known().expect("orders are known").proofs.classes.clone();
    assert_eq!(
        known.normal_form(&found.found.order),
        known.normal_form(&hidden),
        "of the class that made it"
    );
    assert_eq!(names_of(&hidden_show).len(), found.row.effects.len());
    let label = label_with(&window, "Answer 1: ").expect("the best answer");
    assert!(label.contains("settings as they are"), "{label}");
    assert!(nameless(&window).is_empty(), "{:?}", nameless(&window));
    // Looked at it changes nothing; Enter adopts it, and one step takes it back.
    press(&mut window, &label);
    assert!(matches!(&window.state().view().shown, Shown::Found(row) if *row == found.row));
    assert_eq!(show(&window), before);
    key(&mut window, Modifiers::NONE, Key::Escape);
    assert_eq!(window.state().view().shown, Shown::Output);
    press(&mut window, "Adopt answer 1");
    let order =
        |show: &Show| show.chain(PICTURE).iter().map(|used| used.effect.name.clone()).collect::<Vec<_>>();
    let expected: Vec<String> = found.row.effects.iter().map(|used| used.effect.name.clone()).collect();
    assert_eq!(order(&show(&window)), expected);
    key(&mut window, Modifiers::COMMAND, Key::Z);
    assert_eq!(show(&window), before, "one step takes it back");
}

fn names_of(show: &Show) -> Vec<String> {
    show.chain(PICTURE).iter().map(|used| used.effect.name.clone()).collect()
}

#[test]
fn settings_that_are_ticked_change_with_the_order_and_a_stop_keeps_the_best_so_far() {
    let mut window = find_window();
    window
        .state_mut()
        .act(Action::Find(FindAct::Change(Seeking { goal: Goal::Brightest, ..Seeking::default() })));
    window.run_steps(2);
    let before = show(&window);
    for label in ["Amount of tint may change", "flash-gate may be on or off"] {
        press(&mut window, label);
    }
    let seeking = window.state().view().seeking.clone();
    assert_eq!((seeking.switches.len(), seeking.settings.len()), (1, 1), "{seeking:?}");
    window.get_by_label("Find it").click();
    window.run_steps(2);
    until(&mut window, "there is something to stop", |desk| {
        !desk.is_searching() || !desk.found().answers.is_empty()
    });
    if window.query_by_label("Stop").is_some() {
        window.get_by_label("Stop").click();
        window.run_steps(2);
    }
    until(&mut window, "the best so far is measured", is_found);
    window.run_steps(3);
    let found = window.state().found().answers.clone();
    assert!(found.iter().all(|one| one.found.is_measured));
    // Best first, and no darker than the show is: as it stands it is a candidate too.
    assert!(found.windows(2).all(|pair| pair[0].found.figure >= pair[1].found.figure), "{found:?}");
    let chain = before.chain(PICTURE);
    for one in &found {
        for (now, then) in chain.iter().zip(&one.found.chain) {
            let is_tint = now.effect.name == "tint";
            assert!(is_tint || now.values().eq(then.values()), "only what was ticked changes: {one:?}");
            assert!(now.effect.name == "flash-gate" || now.on == then.on);
        }
    }
}

#[test]
fn a_wish_that_cannot_be_shown_is_said_and_nothing_is_searched() {
    let mut window = find_window();
    window.get_by_label("Picture to come near").focus();
    window.run_steps(2);
    write(&mut window, "nowhere.png");
    key(&mut window, Modifiers::NONE, Key::Enter);
    until(&mut window, "it is said", |desk| !desk.is_searching());
    window.run_steps(3);
    let said = label_with(&window, "Nothing was found: ").unwrap_or_else(|| panic!("{:?}", labels(&window)));
    assert!(said.contains("nowhere.png"), "{said}");
}

#[test]
fn what_is_dropped_over_the_orders_is_asked_about_and_elsewhere_becomes_a_clip() {
    let folder = tempfile::tempdir().unwrap();
    let files: Vec<PathBuf> = ["quay.png", "pier.png"].iter().map(|name| folder.path().join(name)).collect();
    for file in &files {
        RgbaImage::from_pixel(6, 4, image::Rgba([200, 40, 90, 255])).save(file).unwrap();
    }
    let mut window = window(desk(work("night-ferry"), None));
    let before = show(&window);
    drop_files(&mut window, &[&files[0], &files[1]]);
    // Two are no picture to come near.
    assert!(window.query_by_label("Find what comes near it").is_none());
    press(&mut window, "Judge the orders on it");
    let basis = window.state().view().basis.clone();
    assert_eq!((basis.on, basis.named.len()), (On::Named, 2));
    assert_eq!(show(&window), before, "the show stays as it is");
    // Where the system says where the pointer is, it is over the orders.
    let over_orders = middle(&window, "Orders");
    window.hover_at(over_orders);
    window.run_steps(2);
    drop_files(&mut window, &[folder.path()]);
    assert!(matches!(window.state().view().dialog, Some(Dialog::Dropped(_))));
    assert!(window.query_by_label("Add it as a clip").is_none(), "a folder is no clip");
    key(&mut window, Modifiers::NONE, Key::Escape);
    assert_eq!(window.state().view().dialog, None);
    window.hover_at(over_orders);
    window.run_steps(2);
    drop_files(&mut window, &[&files[0]]);
    press(&mut window, "Add it as a clip");
    let clips =
        |show: &Show| show.bundles.iter().flat_map(|b| &b.levels).map(|l| l.clips.len()).sum::<usize>();
    assert_eq!(clips(&show(&window)), clips(&before) + 1);
    // Over the path nobody means the orders.
    window.hover_at(pos2(400.0, 80.0));
    window.run_steps(2);
    drop_files(&mut window, &[&files[1]]);
    assert_eq!(window.state().view().dialog, None);
    assert_eq!(clips(&show(&window)), clips(&before) + 2);
}

#[test]
fn a_chain_is_tried_on_other_scopes_within_ranges_and_adopting_moves_it_there_in_one_step() {
    let mut window = find_window();
    window.state_mut().act(Action::Find(FindAct::Change(Seeking {
        goal: Goal::Darkest,
        order: false,
        ..Seeking::default()
    })));
    window.run_steps(2);
    assert!(label_with(&window, "Tick something that may change").is_some(), "{:?}", labels(&window));
    press(&mut window, "The scope that the chain sits on may change");
    press(&mut window, "Amount of tint may change");
    assert!(window.state().view().seeking.scope);
    // From what to what: the fields stand beside what is ticked, and are kept to what the setting allows.
    for (end, typed) in [("to", "0.3"), ("from", "0.1")] {
        window.get_all_by_label(&format!("Amount of tint is tried {end}")).last().unwrap().focus();
        window.run_steps(2);
        key(&mut window, Modifiers::COMMAND, Key::A);
        write(&mut window, typed);
        key(&mut window, Modifiers::NONE, Key::Enter);
    }
    let seeking = window.state().view().seeking.clone();
    assert_eq!(seeking.ranges.values().collect::<Vec<_>>(), [&[0.1, 0.3]], "{seeking:?}");
    assert!(nameless(&window).is_empty(), "{:?}", nameless(&window));
    let before = show(&window);
    let (space, scopes) = seeking.space(&before, PICTURE).unwrap();
    assert!(scopes.len() > 1 && space.scopes == scopes.len() && scopes[space.home] == PICTURE);
    window.get_by_label("Find it").click();
    window.run_steps(2);
    until(&mut window, "there is something to stop", |desk| {
        !desk.is_searching() || !desk.found().answers.is_empty()
    });
    if window.query_by_label("Stop").is_some() {
        window.get_by_label("Stop").click();
    }
    until(&mut window, "the best so far is measured", is_found);
    window.run_steps(3);
    let found = window.state().found().answers.clone();
    let chain = before.chain(PICTURE);
    for one in &found {
        let tint = one.found.chain.iter().find(|used| used.effect.name == "tint").unwrap();
        let Some(&Value::Number(amount)) = tint.value("amount") else { panic!("{tint:?}") };
        assert!((0.1..=0.3).contains(&amount), "{amount}");
        assert!(scopes.contains(&one.row.scope) && one.row.of == PICTURE);
    }
    // One that sits elsewhere is put over what stands there, and nothing is left where it was; one step takes it back.
    let elsewhere =
        found.iter().position(|one| one.row.scope != PICTURE).expect("an answer on another scope");
    let onto = found[elsewhere].row.scope;
    let label = label_with(&window, &format!("Answer {}: ", elsewhere + 1)).unwrap();
    assert!(label.contains(&format!("on {}", before.address(onto))), "{label}");
    press(&mut window, &format!("Adopt answer {}", elsewhere + 1));
    let after = show(&window);
    assert!(after.chain(PICTURE).is_empty());
    assert_eq!(after.chain(onto).len(), before.chain(onto).len() + chain.len());
    assert_eq!(window.state().view().scope, onto);
    key(&mut window, Modifiers::COMMAND, Key::Z);
    assert_eq!(show(&window), before);
}
