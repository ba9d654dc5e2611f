//! What is watched for: flashes of work that rests, effects whose files change.

use std::sync::Arc;
use std::time::{Duration, Instant};

use egui::Ui;

use super::Desk;
use super::find::Search;
use super::seen::Seen;
use crate::base::place::listed;
use crate::catalogue::Effect;
use crate::show;
use crate::show::Show;
use crate::trial::troubles;
use crate::window::threads::flash::FlashWatcher;
use crate::window::threads::own_effects::EffectsWatcher;

/// Flashes are counted when the work has not changed for this long.
pub(super) const RESTS_AFTER: Duration = Duration::from_millis(600);

impl Desk {
    /// Has flashes counted once the work has rested for a while and all pictures are there.
    pub(super) fn watch_flashes(&mut self, ui: &Ui, show: &Arc<Show>) {
        if self.watcher.is_none() {
            let Some(gpu) = self.pictures.gpu() else { return };
            let ctx = ui.ctx().clone();
            let wake = move || ctx.request_repaint();
            self.watcher = Some(FlashWatcher::new(gpu.sibling(), self.catalogue.clone(), wake));
        }
        let since = match &self.rests {
            Some((rests, since)) if Arc::ptr_eq(rests, show) => *since,
            _ => {
                let now = Instant::now();
                self.rests = Some((Arc::clone(show), now));
                now
            }
        };
        let is_busy = self.view.playing
            || self.view.drag.is_some()
            || self.pictures.missing() > 0
            || self.pictures.is_loading()
            || self.prover.is_asking();
        let Some(watcher) = &mut self.watcher else { return };
        if watcher.is_about(show) {
            return;
        }
        watcher.forget();
        if is_busy {
            return;
        }
        match RESTS_AFTER.checked_sub(since.elapsed()) {
            Some(left) if !left.is_zero() => ui.ctx().request_repaint_after(left),
            _ => watcher.watch(show),
        }
    }

    /// Whether the flashes of the work are still to be counted.
    pub(super) fn is_waiting_for(&self, watcher: &FlashWatcher) -> bool {
        let show = self.rests.as_ref().map(|(show, _)| show);
        !self.view.playing && (watcher.is_counting() || show.is_some_and(|show| !watcher.is_about(show)))
    }

    /// Effects whose files have changed take the place of what they were, everywhere at once.
    pub(super) fn take_effects(&mut self) {
        let catalogue = match self.effects_watcher.as_mut().and_then(EffectsWatcher::take) {
            Some(Ok(catalogue)) => catalogue,
            Some(Err(why)) => {
                let more = "what is saved now is taken when the window is opened again";
                return self
                    .effect_troubles
                    .push(format!("effects of your own are not looked at any more ({why}); {more}"));
            }
            None => return,
        };
        let is_kept = self.kept.as_ref().is_some_and(|kept| Arc::ptr_eq(kept, self.work.show()));
        let mut told = self.work.rebind(&catalogue);
        if is_kept {
            self.kept = Some(Arc::clone(self.work.show()));
        }
        for pin in &mut self.view.pins {
            if let Some(chain) = show::rebound(&pin.chain, &catalogue, &mut Vec::new()) {
                pin.chain = chain;
            }
        }
        for found in &mut self.recovered {
            found.work.rebind(&catalogue);
        }
        self.pictures.take_catalogue(&catalogue);
        self.shelves.thumbnails.forget();
        self.shelves.documents.forget();
        self.seen = Seen::default();
        self.sections.forget_chains();
        self.watcher = None;
        self.judge = None;
        self.search = Search::default();
        self.rests = None;
        self.effect_troubles = troubles(&catalogue);
        let is_same = |known: &Arc<Effect>| self.catalogue.own().any(|before| before.is_same(known));
        let changed: Vec<&str> =
            catalogue.own().filter(|known| !is_same(known)).map(|known| known.name.as_str()).collect();
        if !changed.is_empty() {
            told.insert(0, format!("Read again: {}", listed(changed)));
        }
        if !told.is_empty() {
            self.view.said = format!("{}.", told.join("; "));
        }
        self.catalogue = catalogue;
    }

    /// Takes effects from the watcher from now on, as their files are saved.
    pub fn watch_effects(&mut self, watcher: EffectsWatcher) {
        self.effects_watcher = Some(watcher);
    }

    /// What is wrong with effects of the person's own: file, line and reason.
    pub fn effect_troubles(&self) -> &[String] {
        &self.effect_troubles
    }
}
