//! What is kept beside the work without being asked for: changes kept aside, pins, work found again.

use std::sync::Arc;
use std::time::{Duration, Instant};

use super::Desk;
use crate::edit::{Pins, Recovery, Work};
use crate::window::action::Dialog;
use crate::window::widgets;

/// Changes are kept aside when this long has passed without another.
pub(super) const KEEP_AFTER: Duration = Duration::from_millis(1500);

pub(super) fn describe(work: &Work) -> String {
    match work.file() {
        Some(file) => format!("{}, of {}", widgets::name(&work.show().name), widgets::path(file)),
        None => format!("{}, which was in no file", widgets::name(&work.show().name)),
    }
}

impl Desk {
    pub(super) fn look_for_lost_work(&mut self) {
        let Some(folder) = self.folders.state.clone() else { return };
        for found in Recovery::found(&folder, &self.catalogue) {
            match found {
                Ok(found) => self.recovered.push(found),
                Err(error) => self.view.said = error.to_string(),
            }
        }
        match Recovery::begin(&folder) {
            Ok(recovery) => self.recovery = Some(recovery),
            Err(error) => self.view.said = error.to_string(),
        }
        if !self.recovered.is_empty() {
            self.view.dialog = Some(Dialog::Recover);
        }
    }

    /// Keeps changes aside once the person has paused.
    pub fn keep_aside(&mut self) {
        let is_kept = self.kept.as_ref().is_some_and(|kept| Arc::ptr_eq(kept, self.work.show()));
        if is_kept {
            self.changed_at = None;
            return;
        }
        let since = *self.changed_at.get_or_insert_with(Instant::now);
        if since.elapsed() < KEEP_AFTER {
            return;
        }
        self.changed_at = None;
        self.kept = Some(Arc::clone(self.work.show()));
        let Some(recovery) = &self.recovery else { return };
        if !self.work.is_changed() {
            recovery.clear();
        } else if let Err(error) = recovery.keep_with(&self.work, &self.pins) {
            self.view.said = error.to_string();
        }
    }

    /// Takes up the pins that were kept with a work.
    pub(super) fn take_pins(&mut self, work: &Work) {
        let Some(state) = &self.folders.state else { return };
        self.pins = Pins::kept(state, work, &self.catalogue);
        self.view.pins = self.pins.pins.clone();
        self.seen.pins.clear();
        if self.pins.waiting() > 0 {
            self.view.said = format!(
                "{} of its pins wait: their scope, or an effect of theirs, is not there.",
                self.pins.waiting()
            );
        }
    }

    /// Keeps the pins with the work: for the next start, and beside work that is in no file yet.
    pub(super) fn keep_pins(&mut self) {
        self.pins.pins = self.view.pins.clone();
        let Some(state) = &self.folders.state else { return };
        if let Err(error) = self.pins.keep(state, &self.work) {
            self.view.said = error.to_string();
        }
        if self.work.is_changed() {
            self.kept = None;
        }
    }

    /// Whether changes wait to be kept aside.
    pub fn is_keeping(&self) -> bool {
        self.changed_at.is_some()
    }

    pub(super) fn recover(&mut self, takes: bool) {
        if self.recovered.is_empty() {
            return;
        }
        let found = self.recovered.remove(0);
        self.view.dialog = (!self.recovered.is_empty()).then_some(Dialog::Recover);
        if takes {
            self.take_up(found.work.clone());
            if !found.pins.is_empty() {
                self.view.pins = found.pins.pins.clone();
                self.pins = found.pins.clone();
                self.seen.pins.clear();
                self.keep_pins();
            }
            // Kept in this program's own place before the old one is cleared away.
            if let Some(recovery) = &self.recovery
                && let Err(error) = recovery.keep_with(&self.work, &self.pins)
            {
                self.view.said = error.to_string();
                return;
            }
            self.kept = Some(Arc::clone(self.work.show()));
        }
        found.clear();
    }
}
