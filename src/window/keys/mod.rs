//! The commands of the window: one table, from which keys, their dialog, menus and hover texts come.

mod does;
mod entry;
mod table;

use std::cmp::Reverse;

use egui::{Context, Event, Id, Key, KeyboardShortcut, Modifiers};

use super::action::Action;
use super::playing::HandAct;
use super::scene::Scene;
use super::showing::{Shown, Tab};
use super::view::View;
use super::widgets::reach;
use crate::edit::{Edit, TimeEdit};
use crate::show::control::Control;
use crate::show::{Scope, Show};
use does::order;
pub use entry::{Entry, entries};
pub use table::{COMMANDS, Command};

/// What is pressed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stroke {
    /// A key, with what is held meanwhile.
    Key(Modifiers, Key),
    /// A sign, whatever its key is on this keyboard.
    Sign(&'static str),
    /// What the system takes for the clipboard.
    Clip(Clip),
}

/// What is done with the clipboard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Clip {
    Copy,
    Cut,
    Paste,
}

/// How far a key reaches.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reach {
    /// Into dialogs and lines of text.
    Everywhere,
    /// Into dialogs, but not into a line of text, which uses it for itself.
    Dialogs,
    /// Over the desk, while no dialog or list is open, nothing is dragged and no text is written.
    Desk,
    /// Over the desk, while nothing that uses it for itself has the keyboard.
    Free,
    /// The interface does it by itself.
    Itself,
}

/// What there must be for a command to mean something.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Needs {
    /// Nothing more.
    Nothing,
    /// A selected effect.
    Effect,
    /// A scope that can be renamed.
    NamedScope,
    /// A chain with an effect.
    Chain,
    /// A bundle, a level or a clip in hand: its row has the keyboard.
    Row,
    /// Two effects of which one can be first.
    Effects,
    /// An order in the large picture.
    Order,
    /// Two orders in the large picture.
    Pair,
    /// What was found in the large picture.
    Answer,
    Pin,
    /// The second window.
    Second,
    /// The lessons beside the picture.
    Lessons,
    /// Sections.
    Sections,
    /// The running order, being played.
    Rehearsal,
}

impl Needs {
    fn are_met(self, scene: &Scene<'_>) -> bool {
        let view = scene.view;
        match self {
            Self::Nothing => true,
            Self::Effect => view.spot().is_some(),
            Self::NamedScope => view.scope != Scope::Global,
            Self::Chain => !scene.show().chain(view.scope).is_empty(),
            Self::Row => scene.part_in_hand().is_some(),
            Self::Effects => scene.show().chain(view.scope).len() > 1,
            Self::Order => order(scene).is_some(),
            Self::Answer => matches!(view.shown, Shown::Found(_)),
            Self::Pair => matches!(view.shown, Shown::Pair(_)),
            Self::Pin => !view.pins.is_empty(),
            Self::Second => scene.view.second,
            Self::Lessons => view.tab == Tab::Lessons,
            Self::Sections => !scene.show().sections.is_empty(),
            Self::Rehearsal => view.rehearses,
        }
    }
}

/// A key of a command, and what it does.
pub struct Binding {
    /// What is pressed.
    pub stroke: Stroke,
    does: fn(&mut Scene<'_>),
    /// What it does, where several keys of a command do different things.
    alone: Option<&'static str>,
}

/// A command, as it stands in the table.
pub struct Row {
    /// Which one.
    pub command: Command,
    /// What it does, in words.
    pub says: &'static str,
    /// How far its keys reach.
    pub reach: Reach,
    pub needs: Needs,
    /// Its keys; the first is what menus name and press.
    pub keys: &'static [Binding],
}

impl Command {
    fn row(self) -> &'static Row {
        let rows = COMMANDS.iter().flat_map(|(_, rows)| *rows);
        rows.into_iter().find(|row| row.command == self).expect("every command is declared with its row")
    }

    /// Its first key, as menus name it.
    pub fn key(self) -> String {
        self.nth_key(0)
    }

    pub fn nth_key(self, nth: usize) -> String {
        self.row().keys.get(nth).map(|binding| binding.stroke.to_string()).unwrap_or_default()
    }

    /// Does what its first key does.
    pub fn carry_out(self, scene: &mut Scene<'_>) {
        self.carry_out_nth(0, scene);
    }

    /// Does what this key of it does.
    pub fn carry_out_nth(self, nth: usize, scene: &mut Scene<'_>) {
        let row = self.row();
        if row.needs.are_met(scene)
            && let Some(binding) = row.keys.get(nth)
        {
            (binding.does)(scene);
        }
    }
}

/// The key of a tab.
pub fn key_of(tab: Tab) -> String {
    let nth = Tab::ALL.iter().position(|known| *known == tab);
    nth.map(|nth| Command::Tabs.nth_key(nth)).unwrap_or_default()
}

impl Row {
    /// Whether its keys mean something while the running order is played: the desk is out of sight then.
    fn goes_on_in_rehearsal(&self) -> bool {
        use Command::*;
        let is_of_set = self.needs == Needs::Rehearsal || self.needs == Needs::Second;
        let more = [Play, Tap, Tempo, Second, Keys, KeysBySign, Commands, Theme, LargerText, SmallerText];
        is_of_set
            || more.contains(&self.command)
            || [UsualText, Quit, InDialog, NextControl].contains(&self.command)
    }

    /// Its keys, as the dialog of keys names them: what is held stands once before keys that follow each other.
    pub fn keys(&self) -> String {
        let mut text = String::new();
        let mut held = None;
        for binding in self.keys {
            let (with, key) = binding.stroke.parts();
            match &held {
                Some(before) if *before == with && text.ends_with(&key) => continue,
                Some(before) if *before == with => text += &format!(" {key}"),
                Some(_) => text += &format!(", {with}{key}"),
                None => text += &format!("{with}{key}"),
            }
            held = Some(with);
        }
        text
    }
}

impl Stroke {
    /// What is held, and what is pressed.
    fn parts(self) -> (String, String) {
        let (held, key) = match self {
            Self::Sign(sign) => return (String::new(), sign.to_owned()),
            Self::Clip(Clip::Copy) => return ("Ctrl ".to_owned(), "C".to_owned()),
            Self::Clip(Clip::Cut) => return ("Ctrl ".to_owned(), "X".to_owned()),
            Self::Clip(Clip::Paste) => return ("Ctrl ".to_owned(), "V".to_owned()),
            Self::Key(held, key) => (held, key),
        };
        let words = [(held.command, "Ctrl "), (held.alt, "Alt "), (held.shift, "Shift ")];
        let words = words.into_iter().filter_map(|(is_held, word)| is_held.then_some(word)).collect();
        let key = match key {
            Key::ArrowLeft => "←",
            Key::ArrowRight => "→",
            Key::ArrowUp => "↑",
            Key::ArrowDown => "↓",
            Key::PageUp => "Page ↑",
            Key::PageDown => "Page ↓",
            Key::Comma => ",",
            Key::Period => ".",
            Key::OpenBracket => "[",
            Key::CloseBracket => "]",
            Key::Plus | Key::Equals => "+",
            Key::Minus => "−",
            Key::Escape => "Esc",
            key => key.name(),
        };
        (words, key.to_owned())
    }

    /// How much is held: what holds more is asked first, as what holds less would match it too.
    fn held(self) -> usize {
        match self {
            Self::Sign(_) | Self::Clip(_) => 0,
            Self::Key(held, _) => {
                [held.command, held.alt, held.shift].into_iter().filter(|held| *held).count()
            }
        }
    }

    fn is_pressed(self, ctx: &Context) -> bool {
        ctx.input_mut(|input| match self {
            Self::Key(held, key) => input.consume_shortcut(&KeyboardShortcut::new(held, key)),
            Self::Sign(sign) => {
                input.events.iter().any(|event| matches!(event, Event::Text(text) if text == sign))
            }
            Self::Clip(Clip::Copy) => input.events.contains(&Event::Copy),
            Self::Clip(Clip::Cut) => input.events.contains(&Event::Cut),
            // What comes with it is taken in where the event is.
            Self::Clip(Clip::Paste) => false,
        })
    }
}

impl std::fmt::Display for Stroke {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let (held, key) = self.parts();
        write!(f, "{held}{key}")
    }
}

/// Whether a key that is pressed in the second window means there what it means in the first: it calls a section, or plays
/// a control of the show while the running order is played. Nothing of the desk is changed from there.
pub fn is_heard_elsewhere((held, key): (Modifiers, Key), view: &View, show: &Show) -> bool {
    if view.dialog.is_some() {
        return false;
    }
    let plays = |control: &Control| {
        control.key.and_then(|own| Key::from_name(&own.to_string())).is_some_and(|own| own == key)
    };
    if view.rehearses && !held.any() && show.controls.iter().any(plays) {
        return true;
    }
    let is_it = |binding: &Binding| match binding.stroke {
        Stroke::Key(with, known) => known == key && held.matches_exact(with),
        _ => false,
    };
    let of_set = |row: &&Row| match row.needs {
        Needs::Rehearsal => view.rehearses,
        Needs::Sections => !view.rehearses && !show.sections.is_empty(),
        _ => false,
    };
    COMMANDS.iter().flat_map(|(_, rows)| *rows).filter(of_set).any(|row| row.keys.iter().any(is_it))
}

/// Turns the keys pressed in this pass into actions.
pub fn act(ctx: &Context, scene: &mut Scene<'_>) {
    controls(ctx, scene);
    let is_text = ctx.text_edit_focused();
    let is_desk = scene.view.dialog.is_none()
        && !is_text
        && scene.view.dragged().is_none()
        && scene.view.renaming.is_none()
        && scene.view.renaming_pin.is_none()
        && scene.view.renaming_section.is_none()
        && !egui::Popup::is_any_open(ctx);
    one_a_pass(ctx, is_desk && scene.view.tab != Tab::Hands);
    if !ctx.input(|input| input.events.iter().any(is_stroke)) {
        return;
    }
    let focused = ctx.memory(|memory| memory.focused());
    // A row of the structure takes the keys of its own alone.
    let is_free = is_desk && (scene.row.is_some() || focused.is_none_or(|id| reach::is_head(ctx, id)));
    let reaches = |reach| match reach {
        Reach::Everywhere => true,
        Reach::Dialogs => !is_text,
        Reach::Desk => is_desk,
        Reach::Free => is_free,
        Reach::Itself => false,
    };
    if is_desk {
        let pasted = |event: &Event| match event {
            Event::Paste(text) => Some(text.clone()),
            _ => None,
        };
        let pasted = ctx.input(|input| input.events.iter().find_map(pasted));
        pasted.into_iter().for_each(|text| scene.act(Action::Paste(text)));
    }
    let rows = COMMANDS.iter().flat_map(|(_, rows)| *rows).filter(|row| reaches(row.reach));
    let rows =
        rows.filter(|row| row.needs.are_met(scene) && (!scene.view.rehearses || row.goes_on_in_rehearsal()));
    // A row of the structure that has the keyboard is asked before all others.
    let of_row = |row: &'static Row| {
        row.keys.iter().map(move |binding| (!matches!(row.needs, Needs::Row | Needs::Rehearsal), binding))
    };
    let mut bindings: Vec<(bool, &Binding)> = rows.flat_map(of_row).collect();
    bindings.sort_by_key(|(is_elsewhere, binding)| (Reverse(binding.stroke.held()), *is_elsewhere));
    for (_, binding) in bindings {
        if binding.stroke.is_pressed(ctx) {
            (binding.does)(scene);
        }
    }
}

fn is_stroke(event: &Event) -> bool {
    matches!(event, Event::Key { .. } | Event::Text(_) | Event::Copy | Event::Cut | Event::Paste(_))
}

/// Keys that wait at most: whoever presses more at once does not know any more what the first did.
const MOST_WAITING: usize = 32;

/// Where a pass takes long several keys come in one: each has a pass of its own, so that it does what it does to what
/// the one before has made. Of a key that is held down no more comes than is seen.
fn one_a_pass(ctx: &Context, is_desk: bool) {
    let id = Id::unique("keys that wait for their pass");
    let is_press = |event: &Event| matches!(event, Event::Key { pressed: true, .. });
    let is_repeated = |event: &Event| matches!(event, Event::Key { repeat: true, .. });
    let mut strokes: Vec<Event> = ctx.data_mut(|data| data.remove_temp(id)).unwrap_or_default();
    let presses = ctx.input(|input| input.events.iter().filter(|event| is_press(event)).count());
    if strokes.is_empty() && (presses < 2 || !is_desk) {
        return;
    }
    let later = ctx.input_mut(|input| {
        strokes.extend(input.events.extract_if(.., |event| is_stroke(event)));
        let mut count = 0;
        let second = strokes.iter().position(|event| {
            count += usize::from(is_press(event));
            count > 1
        });
        let later = strokes.split_off(second.filter(|_| is_desk).unwrap_or(strokes.len()));
        input.events.append(&mut strokes);
        later
    });
    let later: Vec<Event> =
        later.into_iter().filter(|event| !is_repeated(event)).take(MOST_WAITING).collect();
    if !later.is_empty() {
        ctx.data_mut(|data| data.insert_temp(id, later));
        ctx.request_repaint();
    }
}

/// While the hands are in view, the keys of controls play them and nothing else.
fn controls(ctx: &Context, scene: &mut Scene<'_>) {
    let is_played = scene.view.tab == Tab::Hands || scene.view.rehearses;
    if !is_played || scene.view.dialog.is_some() || ctx.text_edit_focused() {
        return;
    }
    if let Some(at) = scene.hands.learning_key {
        return learn(ctx, scene, at);
    }
    let keys: Vec<(usize, Key)> = scene
        .show()
        .controls
        .iter()
        .enumerate()
        .filter_map(|(at, control)| Some((at, Key::from_name(&control.key?.to_string())?)))
        .collect();
    let mut acts = Vec::new();
    ctx.input_mut(|input| {
        let is_plain = !input.modifiers.any();
        input.events.retain(|event| match event {
            Event::Key { key, pressed, repeat, .. } => {
                let Some((at, _)) = keys.iter().find(|(_, known)| is_plain && known == key) else {
                    return true;
                };
                if !repeat {
                    acts.push(if *pressed { HandAct::Press(*at) } else { HandAct::Release(*at) });
                }
                false
            }
            _ => true,
        });
    });
    acts.into_iter().for_each(|act| scene.act(Action::Hand(act)));
}

/// Gives a control the key that is pressed, and that key to nothing else; Escape gives it up.
fn learn(ctx: &Context, scene: &mut Scene<'_>, at: usize) {
    let pressed = ctx.input_mut(|input| {
        let mut found = None;
        input.events.retain(|event| {
            let Event::Key { key, pressed, .. } = event else { return !matches!(event, Event::Text(_)) };
            if *pressed {
                found = found.or(Some(*key));
            }
            false
        });
        found
    });
    let Some(pressed) = pressed else { return };
    if pressed == Key::Escape {
        return scene.act(Action::Hand(HandAct::StopLearning));
    }
    let Ok(key) = pressed.name().parse() else {
        let why = format!("{} plays no control: press one of A to Z or 0 to 9, or Esc.", pressed.name());
        return scene.act(Action::Say(why));
    };
    let mut controls = scene.show().controls.clone();
    if let Some(other) = controls.iter().position(|other| other.key == Some(key)).filter(|other| *other != at)
    {
        let why = format!("The key {key} plays {} already: press another one, or Esc.", controls[other].name);
        return scene.act(Action::Say(why));
    }
    if let Some(control) = controls.get_mut(at) {
        control.key = Some(key);
        scene.act(Action::Edit(Edit::Time(TimeEdit::Controls(controls))));
        scene.act(Action::Hand(HandAct::StopLearning));
    }
}
