//! Controls that come along, are renamed, or go: what they hold follows them.

use std::collections::HashSet;

use crate::show::control::{Control, Grip, check};
use crate::show::{Scope, Show, Target};

/// Effects that are new to a show: whose chain, from which place to which.
pub(super) type New = (Scope, usize, usize);

/// Brings the controls that new effects, and new things that are none, are held by; a hold that finds none is let go.
/// In words what had to be changed on the way.
pub(super) fn fit(
    show: &mut Show,
    from: &[Control],
    effects: &[New],
    mut held: Vec<(Target, Grip)>,
    notes: &mut Vec<String>,
) {
    let mut needed: Vec<String> = Vec::new();
    for &(scope, from, to) in effects {
        for used in &show.chain(scope)[from..to] {
            needed.extend(used.controls().map(str::to_owned));
        }
    }
    needed.extend(held.iter().map(|(_, grip)| grip.control.clone()));
    let mut known = HashSet::new();
    needed.retain(|name| known.insert(name.clone()));
    for name in needed {
        if show.controls.iter().any(|known| known.name == name) {
            notes.push(format!("the control `{name}` is already there: it now moves what was brought, too"));
            continue;
        }
        match from.iter().find(|known| known.name == name) {
            Some(control) if add(show, control, notes) => continue,
            Some(_) => {
                notes.push(format!("there is no room for the control `{name}`: its settings are let go"));
            }
            None => {}
        }
        for &(scope, from, to) in effects {
            let new = &mut show.chain_mut(scope)[from..to];
            new.iter_mut().for_each(|used| used.keep_grips(|held| held != name));
        }
        held.retain(|(_, grip)| grip.control != name);
    }
    show.held.extend(held);
    show.sort_held();
}

/// Adds a control, without its key, its MIDI binding or its place where another has it; whether there was room.
fn add(show: &mut Show, control: &Control, notes: &mut Vec<String>) -> bool {
    let mut control = control.clone();
    let name = control.name.clone();
    loop {
        let mut controls = show.controls.clone();
        controls.push(control.clone());
        let Err(error) = check(&controls) else {
            show.controls = controls;
            return true;
        };
        let without = match error.key {
            "key" if control.key.take().is_some() => "its key",
            "midi" if control.midi.take().is_some() => "its MIDI binding",
            "at" if control.at.take().is_some() => "its place",
            _ => return false,
        };
        notes.push(format!("{error}: the control `{name}` comes without {without}"));
    }
}

/// Lets grips and envelopes follow the new list of controls: as many as before keep what they hold, under their new names.
pub(super) fn follow(show: &mut Show, controls: &[Control]) {
    let before = std::mem::take(&mut show.controls);
    let now = |name: &str| -> Option<String> {
        let Some(was) = before.iter().position(|control| control.name == name) else {
            // What waits for a control that the show lacks goes on waiting.
            return Some(name.to_owned());
        };
        if before.len() == controls.len() {
            return Some(controls[was].name.clone());
        }
        controls.iter().find(|control| control.name == name).map(|control| control.name.clone())
    };
    for section in &mut show.sections {
        let positions = std::mem::take(&mut section.controls);
        section.controls =
            positions.into_iter().filter_map(|(name, position)| Some((now(&name)?, position))).collect();
    }
    for scope in show.scopes() {
        show.chain_mut(scope).iter_mut().for_each(|used| used.follow_controls(now));
    }
    show.held.retain_mut(|(_, grip)| match now(&grip.control) {
        Some(control) => {
            grip.control = control;
            true
        }
        None => false,
    });
    show.sort_held();
}
