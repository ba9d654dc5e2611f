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
        Dialog::AddFile(_) => Dialog::LevelOrders(0),
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
        Dialog::Rename(_) => "Rename",
        Dialog::Footage(_) => "Use this file",
        Dialog::Dropped(_) => "Judge the orders on it",
        Dialog::AddFile(_) => "Add",
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

/// A window with a dialog on it.
struct Asked {
    window: Window,
    folder: PathBuf,
}

impl Asked {
    /// Opened while a menu of the desk has the keyboard, as one has that a person came by; its files are in a folder
    /// that is made anew.
    fn new(dialog: &Dialog, folder: &Path) -> Self {
        let _ = fs::remove_dir_all(folder);
        fs::create_dir_all(folder).unwrap();
        let file = |name: &str| folder.join(name);
        image::RgbaImage::from_pixel(6, 4, image::Rgba([200, 40, 90, 255])).save(file("quay.png")).unwrap();
        fs::write(file("night.toml"), "format = \"underover/chain/1\"\n[[effect]]\nuse = \"invert\"\n")
            .unwrap();
        let state = file("state");
        let turned = Edit::Order { scope: PICTURE, order: vec![4, 3, 2, 1, 0] };
        if *dialog == Dialog::Recover {
            let mut lost = work("night-ferry");
            lost.apply(&turned).unwrap();
            Recovery::begin(&state).unwrap().keep(&lost).unwrap();
        }
        let mut window = window_of(desk(work("night-ferry"), Some(&state)), vec2(1024.0, 640.0));
        if *dialog != Dialog::Recover {
            window.get_by_role_and_label(Role::Button, "File").focus();
            window.run_steps(2);
        }
        if matches!(dialog, Dialog::Losing(_)) {
            window.state_mut().act(Action::Edit(turned));
        }
        let dialog = match dialog {
            Dialog::Dropped(_) => Dialog::Dropped(vec![file("quay.png")]),
            other => other.clone(),
        };
        window.state_mut().act(Action::Ask(dialog.clone()));
        window.run_steps(3);
        assert_eq!(window.state().view().dialog.as_ref(), Some(&dialog));
        if let Some(name) = typed(&dialog) {
            window.key_press_modifiers(Modifiers::COMMAND, Key::A);
            window.run_steps(1);
            window.event(egui::Event::Text(file(name).display().to_string()));
            window.run_steps(3);
        }
        Self { window, folder: folder.to_owned() }
    }

    /// What came of it.
    fn outcome(mut self) -> Outcome {
        self.window.run_steps(3);
        let desk = self.window.state();
        let listed = fs::read_dir(&self.folder).unwrap();
        let mut files: Vec<PathBuf> = listed.map(|entry| entry.unwrap().path()).collect();
        files.sort();
        Outcome {
            show: show(&self.window),
            file: desk.work().file().map(Path::to_owned),
            dialog: desk.view().dialog.clone(),
            tab: desk.view().tab,
            conditions: desk.view().conditions.len(),
            basis: desk.view().basis.clone(),
            files,
            is_list_open: egui::Popup::is_any_open(&self.window.ctx),
        }
    }

    fn press(mut self, key: Key) -> Outcome {
        self.window.key_press(key);
        self.window.run_steps(1);
        self.outcome()
    }

    /// Takes the way on with the pointer.
    fn take(mut self, dialog: &Dialog) -> Outcome {
        match way_on(dialog) {
            WayOn::Button(name) => {
                let named = self.window.get_all_by_role_and_label(Role::Button, name);
                named.filter(in_dialog).last().expect(name).click();
            }
            WayOn::Marked => {
                let is_on =
                    |node: &Node<'_>| node.accesskit_node().toggled() == Some(egui::accesskit::Toggled::True);
                let found: Vec<Node<'_>> =
                    self.window.get_all_by_role(Role::Button).filter(is_on).filter(in_dialog).collect();
                assert_eq!(found.len(), 1, "{dialog:?}: what Enter takes is marked");
                found[0].click();
            }
        }
        self.window.run_steps(1);
        self.outcome()
    }
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
    let folder = home.path().join("harbour");
    let asked = |dialog: &Dialog| Asked::new(dialog, &folder);
    // Whatever is saved, one dialog asks; what takes long to write goes on elsewhere.
    let written = |dialog: &Dialog| matches!(dialog, Dialog::Save(saving) if *saving != Saving::Work);
    let mut wrong = Vec::new();
    for dialog in every().into_iter().filter(|dialog| !written(dialog)) {
        let before = asked(&dialog).outcome();
        let [out, on] = [Key::Escape, Key::Enter].map(|key| asked(&dialog).press(key));
        if out != (Outcome { dialog: None, ..before.clone() }) {
            wrong.push(format!("{dialog:?}: Escape did more than close it, or nothing"));
        }
        let taken = asked(&dialog).take(&dialog);
        if on != taken {
            wrong.push(format!("{dialog:?}: Enter did another thing than its way on\n  {on:?}\n  {taken:?}"));
        }
        if on == before || on.is_list_open {
            wrong.push(format!("{dialog:?}: Enter did nothing, or something behind it"));
        }
        // A button that has the keyboard is what Enter presses.
        let mut asked = asked(&dialog);
        let is_way_out = |node: &Node<'_>| {
            let name = node.accesskit_node().label().unwrap_or_default();
            matches!(name.as_str(), "Cancel" | "Not now")
        };
        let way_out =
            asked.window.get_all_by_role(Role::Button).find(is_way_out).map(|button| button.focus());
        if way_out.is_some() {
            asked.window.run_steps(2);
            if asked.press(Key::Enter) != out {
                wrong.push(format!("{dialog:?}: Enter on its way out did not take it"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
