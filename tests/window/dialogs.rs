//! Enter is the way on and Escape the way out of every dialog, whatever has the keyboard.

use std::fs;
use std::path::{Path, PathBuf};

use crate::driving::*;
use egui::accesskit::Role;
use egui::{Key, Modifiers, vec2};
use egui_kittest::Node;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use underover::edit::{Edit, Named, Recovery, Spot};
use underover::show::{ClipPlace, Scope, Show};
use underover::window::{Action, Basis, Dialog, Saving, Tab};

/// Every dialog, with names and texts as long as they come. Whoever adds one is asked here what comes after it.
pub fn every() -> Vec<Dialog> {
    let mut found: Vec<Dialog> = std::iter::successors(Some(Dialog::Open), after).collect();
    let savings = [Saving::Picture, Saving::Wall, Saving::Chain, Saving::BuildSheet, Saving::Report];
    found.extend(savings.map(Dialog::Save));
    let named = [Named::Scope(Scope::Clip(0, 0, 0)), Named::Effect(Spot { scope: PICTURE, at: 1 })];
    found.extend(named.map(Dialog::Rename));
    found
}

fn after(dialog: &Dialog) -> Option<Dialog> {
    let path = PathBuf::from(format!("/harbour/{}.toml", long("file")));
    Some(match dialog {
        Dialog::Open => Dialog::Save(Saving::Work),
        Dialog::Save(_) => Dialog::Losing(Box::new(Action::Quit)),
        Dialog::Losing(_) => Dialog::Report { title: long("title"), text: long("text").repeat(6) },
        Dialog::Report { .. } => Dialog::Add(Spot { scope: PICTURE, at: 1 }),
        Dialog::Add(_) => Dialog::Rename(Named::Show),
        Dialog::Rename(_) => Dialog::Footage(ClipPlace { bundle: 0, level: 0, clip: 0 }),
        Dialog::Footage(_) => Dialog::Dropped(vec![path]),
        Dialog::Dropped(_) => Dialog::AddFile(Scope::Bundle(0)),
        Dialog::AddFile(_) => Dialog::AddFiles(Scope::Level(0, 0), vec![path.clone(), path]),
        Dialog::AddFiles(..) => Dialog::LevelOrders(0),
        Dialog::LevelOrders(_) => Dialog::Condition,
        Dialog::Condition => Dialog::Changed(path),
        Dialog::Changed(_) => Dialog::Recover,
        Dialog::Recover => Dialog::Flashes,
        Dialog::Flashes => Dialog::Keys,
        Dialog::Keys => Dialog::Commands,
        Dialog::Commands => Dialog::Steps,
        Dialog::Steps => return None,
    })
}

/// The way on of a dialog: what a person who presses it presses.
enum WayOn {
    /// The button of this name.
    Button(&'static str),
    /// The entry that is marked.
    Marked,
}

/// What is typed into the line of a dialog before its way on is taken: the file of this name.
fn typed(dialog: &Dialog) -> Option<&'static str> {
    match dialog {
        Dialog::Open => Some("night.toml"),
        Dialog::Save(_) => Some("saved"),
        Dialog::Footage(_) | Dialog::AddFile(_) => Some("quay.png"),
        _ => None,
    }
}

fn way_on(dialog: &Dialog) -> WayOn {
    WayOn::Button(match dialog {
        Dialog::Open => "Open",
        Dialog::Save(_) => "Save",
        Dialog::Losing(_) => "Save as …",
        Dialog::Report { .. } | Dialog::LevelOrders(_) | Dialog::Flashes | Dialog::Keys | Dialog::Steps => {
            "Close"
        }
        Dialog::Add(_) | Dialog::Commands => return WayOn::Marked,
        Dialog::Rename(Named::Show) => "Change it",
        Dialog::Rename(_) => "Rename",
        Dialog::Footage(_) => "Use this file",
        Dialog::Dropped(_) => "Judge the orders on it",
        Dialog::AddFile(_) | Dialog::AddFiles(..) => "Add",
        Dialog::Condition => "Show them",
        Dialog::Changed(_) => "Save under another name …",
        Dialog::Recover => "Open it",
    })
}

/// All that may come of a dialog.
#[derive(Debug, Clone, PartialEq)]
struct Outcome {
    show: Show,
    file: Option<PathBuf>,
    dialog: Option<Dialog>,
    tab: Tab,
    conditions: usize,
    basis: Basis,
    files: Vec<PathBuf>,
    is_list_open: bool,
}

/// Where the window is for dialogs of which nothing comes that cannot be taken back, and for each other one.
struct Harbour {
    folder: PathBuf,
    window: Option<Window>,
}

impl Harbour {
    fn file(&self, name: &str) -> PathBuf {
        self.folder.join(name)
    }

    /// A window on the show as it is at first, and files as they are at first.
    fn afresh(&self, is_lost: bool) -> Window {
        let _ = fs::remove_dir_all(&self.folder);
        fs::create_dir_all(&self.folder).unwrap();
        let picture = image::RgbaImage::from_pixel(6, 4, image::Rgba([200, 40, 90, 255]));
        picture.save(self.file("quay.png")).unwrap();
        let chain = "format = \"underover/chain/1\"\n[[effect]]\nuse = \"invert\"\n";
        fs::write(self.file("night.toml"), chain).unwrap();
        let state = self.file("state");
        if is_lost {
            let mut lost = work("night-ferry");
            lost.apply(&turned()).unwrap();
            Recovery::begin(&state).unwrap().keep(&lost).unwrap();
        }
        let mut window = window_of(desk(work("night-ferry"), Some(&state)), vec2(1024.0, 640.0));
        window.state_mut().act(Action::Edit(Edit::Tempo(120.0)));
        window.run_steps(2);
        window
    }

    /// A window with the dialog on it, opened while a menu of the desk has the keyboard, as one has that a person came
    /// by.
    fn ask(&mut self, dialog: &Dialog) -> Window {
        // Of these something comes that no step takes back.
        let is_lost = *dialog == Dialog::Recover;
        let is_for_good = matches!(dialog, Dialog::Open | Dialog::Save(_) | Dialog::Losing(_)) || is_lost;
        let kept = self.window.take().filter(|_| !is_for_good);
        let mut window = kept.unwrap_or_else(|| self.afresh(is_lost));
        let releases = (0..window.state().view().conditions.len()).map(|_| Action::Release(0));
        let back =
            [Action::Close, Action::GoTo(1), Action::Tab(Tab::Orders), Action::Judge(Basis::default())];
        for action in back.into_iter().chain(releases.collect::<Vec<_>>()) {
            window.state_mut().act(action);
        }
        window.run_steps(2);
        window.get_all_by_role_and_label(Role::Button, "File").next().expect("a menu").focus();
        window.run_steps(1);
        window.state_mut().act(Action::Ask(dialog.clone()));
        window.run_steps(2);
        assert_eq!(window.state().view().dialog.as_ref(), Some(dialog));
        if let Some(name) = typed(dialog) {
            window.key_press_modifiers(Modifiers::COMMAND, Key::A);
            window.run_steps(1);
            window.event(egui::Event::Text(self.file(name).display().to_string()));
            window.run_steps(2);
        }
        window
    }

    /// What comes of it.
    fn outcome(&mut self, mut window: Window) -> Outcome {
        window.run_steps(2);
        let outcome = self.seen(&window);
        self.window = Some(window);
        outcome
    }

    /// How things stand.
    fn seen(&self, window: &Window) -> Outcome {
        let desk = window.state();
        let listed = fs::read_dir(&self.folder).unwrap();
        let mut files: Vec<PathBuf> = listed.map(|entry| entry.unwrap().path()).collect();
        files.sort();
        Outcome {
            show: show(window),
            file: desk.work().file().map(Path::to_owned),
            dialog: desk.view().dialog.clone(),
            tab: desk.view().tab,
            conditions: desk.view().conditions.len(),
            basis: desk.view().basis.clone(),
            files,
            is_list_open: egui::Popup::is_any_open(&window.ctx),
        }
    }

    /// How things stand before a key is pressed, and after it.
    fn press(&mut self, dialog: &Dialog, key: Key) -> [Outcome; 2] {
        let mut window = self.ask(dialog);
        let before = self.seen(&window);
        window.key_press(key);
        window.run_steps(1);
        [before, self.outcome(window)]
    }

    /// Takes the way on with the pointer.
    fn take(&mut self, dialog: &Dialog) -> Outcome {
        let mut window = self.ask(dialog);
        match way_on(dialog) {
            WayOn::Button(name) => {
                let mut named = window.get_all_by_role_and_label(Role::Button, name);
                named.rfind(in_dialog).expect(name).click();
            }
            WayOn::Marked => {
                let is_on =
                    |node: &Node<'_>| node.accesskit_node().toggled() == Some(egui::accesskit::Toggled::True);
                let found: Vec<Node<'_>> =
                    window.get_all_by_role(Role::Button).filter(is_on).filter(in_dialog).collect();
                assert_eq!(found.len(), 1, "{dialog:?}: what Enter takes is marked");
                found[0].click();
            }
        }
        window.run_steps(1);
        self.outcome(window)
    }

    /// Enter while the way out has the keyboard; nothing where it has no button of its own.
    fn enter_on_the_way_out(&mut self, dialog: &Dialog) -> Option<Outcome> {
        let mut window = self.ask(dialog);
        let is_way_out = |node: &Node<'_>| {
            let name = node.accesskit_node().label().unwrap_or_default();
            matches!(name.as_str(), "Cancel" | "Not now")
        };
        window.get_all_by_role(Role::Button).find(is_way_out)?.focus();
        window.run_steps(2);
        window.key_press(Key::Enter);
        window.run_steps(1);
        Some(self.outcome(window))
    }
}

fn turned() -> Edit {
    Edit::Order { scope: PICTURE, order: vec![4, 3, 2, 1, 0] }
}

/// Whether a thing is on a dialog.
fn in_dialog(node: &Node<'_>) -> bool {
    let mut above = node.accesskit_node().parent();
    while let Some(node) = above {
        if matches!(node.role(), Role::Dialog | Role::AlertDialog) {
            return true;
        }
        above = node.parent();
    }
    false
}

#[test]
fn enter_takes_the_way_on_of_every_dialog_and_escape_the_way_out() {
    let home = tempfile::tempdir().unwrap();
    let mut harbour = Harbour { folder: home.path().join("harbour"), window: None };
    // Whatever is saved, one dialog asks; what takes long to write goes on elsewhere.
    let written = |dialog: &Dialog| matches!(dialog, Dialog::Save(saving) if *saving != Saving::Work);
    let mut wrong = Vec::new();
    for dialog in every().into_iter().filter(|dialog| !written(dialog)) {
        let [[before, out], [_, on]] = [Key::Escape, Key::Enter].map(|key| harbour.press(&dialog, key));
        let taken = harbour.take(&dialog);
        if out != (Outcome { dialog: None, ..before.clone() }) {
            wrong.push(format!("{dialog:?}: Escape did more than close it, or nothing"));
        }
        if on != taken {
            wrong.push(format!("{dialog:?}: Enter did another thing than its way on\n  {on:?}\n  {taken:?}"));
        }
        if on == before || on.is_list_open {
            wrong.push(format!("{dialog:?}: Enter did nothing, or something behind it"));
        }
        if harbour.enter_on_the_way_out(&dialog).is_some_and(|taken| taken != out) {
            wrong.push(format!("{dialog:?}: Enter on its way out did not take it"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
