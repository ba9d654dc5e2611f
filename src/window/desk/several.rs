//! Several effects: selected together, copied, cut and pasted as the text of a chain.

use std::path::Path;
use std::sync::Arc;

use super::Desk;
use crate::base::place::shortened;
use crate::base::shown::shown;
use crate::edit::{Deed, Edit, Paste, Several, Spot};
use crate::files::{self, Document};
use crate::order::{marks, write_marks};
use crate::show::chain::{Chain, Preset, labels, one_after_another};
use crate::show::{Scope, Show};
use crate::window::view::View;

/// The longest text that is read as a chain, in bytes: far longer than one of the most effects is.
const LONGEST_CHAIN: usize = 1 << 20;

/// What was copied last: its text, and the effects themselves, which know what plays them.
#[derive(Default)]
pub(super) struct Copied {
    text: String,
    chain: Chain,
    /// Whether the clipboard is to have it.
    is_new: bool,
}

impl Copied {
    /// The text that the clipboard is to have, once.
    pub(super) fn take(&mut self) -> Option<String> {
        std::mem::take(&mut self.is_new).then(|| self.text.clone())
    }
}

impl Desk {
    pub(super) fn select_too(&mut self, spot: Spot) {
        let View { scope, selected, .. } = self.view;
        let Some(first) = selected.filter(|_| scope == spot.scope) else {
            return self.select(spot.scope, Some(spot.at));
        };
        let also = &mut self.view.also;
        if first == spot.at {
            // The first of those that are left takes its place.
            if !also.is_empty() {
                self.view.selected = Some(also.remove(0));
            }
        } else if let Some(known) = also.iter().position(|at| *at == spot.at) {
            also.remove(known);
        } else {
            also.push(spot.at);
        }
    }

    pub(super) fn select_to(&mut self, spot: Spot) {
        let View { scope, selected, .. } = self.view;
        let Some(first) = selected.filter(|_| scope == spot.scope) else {
            return self.select(spot.scope, Some(spot.at));
        };
        let all = first.min(spot.at)..=first.max(spot.at);
        self.view.also = all.filter(|at| *at != first).collect();
    }

    /// Effects selected beside the first stay so wherever a change has taken them.
    pub(super) fn keep_also(&mut self, before: &Show) {
        let (show, scope) = (Arc::clone(self.work.show()), self.view.scope);
        if self.view.also.is_empty() || !show.scopes().contains(&scope) || !before.scopes().contains(&scope) {
            return;
        }
        let (old, new) = (marks(before.chain(scope)), marks(show.chain(scope)));
        let known = before.chain(scope).len();
        self.view.also.retain(|at| *at < known);
        self.view.also = self.view.also.iter().filter_map(|&at| new.place(old.of(at))).collect();
    }

    /// What was moved, copied or pasted is selected.
    pub(super) fn select_edited(&mut self, edit: &Edit) {
        let (scope, first, count) = match edit {
            Edit::Move { into, from } => {
                let sinks = from.scope == into.scope && from.at < into.at;
                (into.scope, into.at - usize::from(sinks), 1)
            }
            Edit::Carry(carry) => (carry.into.scope, carry.lands(), carry.places.len()),
            Edit::Paste(paste) => (paste.into.scope, paste.into.at, paste.chain.len()),
            Edit::Several(Several { scope, places, deed: Deed::Duplicate }) => {
                (*scope, places.last().map_or(0, |last| last + 1), places.len())
            }
            Edit::Several(Several { scope, places, deed: Deed::Remove | Deed::Cut }) => {
                let effects = self.work.show().chain(*scope).len();
                let left = places.first().map_or(0, |first| first.saturating_sub(1));
                return self.select(*scope, (effects > 0).then_some(left.min(effects.saturating_sub(1))));
            }
            _ => return,
        };
        self.select(scope, Some(first));
        self.view.also = (first + 1..first + count).collect();
    }

    pub(super) fn copy(&mut self) {
        let (scope, places) = (self.view.scope, self.view.places());
        if places.is_empty() {
            self.view.said = "Nothing copied: choose an effect on the path first.".to_owned();
            return;
        }
        let show = Arc::clone(self.work.show());
        let names = labels(show.chain(scope));
        let mut whole = show.chain(scope).clone();
        write_marks(&mut whole);
        let chain: Chain = places.iter().filter_map(|&at| whole.get(at).cloned()).collect();
        let preset = Preset {
            name: show.name.clone(),
            about: String::new(),
            tags: Vec::new(),
            chain: chain.clone(),
            controls: Vec::new(),
        };
        let text = self.work.chain_text(scope, &preset);
        let names = places.iter().filter_map(|&at| names.get(at)).map(String::as_str);
        self.view.said = format!("Copied: {}.", shown(&one_after_another(names)));
        self.copied = Copied { text, chain, is_new: true };
    }

    pub(super) fn cut(&mut self) {
        self.copy();
        let (scope, places) = (self.view.scope, self.view.places());
        if !places.is_empty() {
            let said = std::mem::take(&mut self.view.said).replacen("Copied", "Cut", 1);
            self.edit(&Edit::Several(Several { scope, places, deed: Deed::Cut }));
            self.view.said = said;
        }
    }

    pub(super) fn paste(&mut self, text: &str) {
        let scope = self.view.scope;
        if !self.work.takes_effects_on(scope) {
            self.view.said = "Not pasted: a chain alone has effects on its clip only.".to_owned();
            return;
        }
        match self.read_chain(text) {
            Ok(chain) => {
                let into = self.spot_over(scope);
                self.edit(&Edit::Paste(Box::new(Paste { into, chain })));
            }
            Err(NotPasted::NoChain(why)) => self.view.said = format!("Not pasted: {why}"),
            Err(NotPasted::Wrong(error)) => self.report("This chain was not pasted", &error),
        }
    }

    /// The gap over all that is selected on the scope, or the end of its chain.
    fn spot_over(&self, scope: Scope) -> Spot {
        let end = self.work.show().chain(scope).len();
        Spot { scope, at: self.view.places().last().map_or(end, |last| (last + 1).min(end)) }
    }

    /// The effects that a text of the clipboard holds.
    fn read_chain(&self, text: &str) -> Result<Chain, NotPasted> {
        if !self.copied.chain.is_empty() && text.trim() == self.copied.text.trim() {
            return Ok(self.copied.chain.clone());
        }
        let no_chain = |why: String| Err(NotPasted::NoChain(why));
        if text.len() > LONGEST_CHAIN || !text.contains("underover/") {
            let found = text.trim().lines().next().unwrap_or_default();
            return no_chain(format!(
                "`{}` is no chain of effects; copy effects of a path, or the text of a chain file.",
                shown(&shortened(found))
            ));
        }
        match files::parse(text, "the clipboard", Path::new(""), &self.catalogue) {
            Ok(Document::Chain(preset)) if preset.chain.is_empty() => {
                no_chain("the chain on the clipboard has no effects.".to_owned())
            }
            Ok(Document::Chain(Preset { mut chain, .. })) => {
                write_marks(&mut chain);
                Ok(chain)
            }
            Ok(Document::Show(_)) => {
                no_chain("the clipboard holds a whole show; save it as a file and open that.".to_owned())
            }
            Err(error) => Err(NotPasted::Wrong(error.to_string())),
        }
    }
}

/// Why nothing was pasted.
enum NotPasted {
    /// The text is something else.
    NoChain(String),
    /// It is meant as a chain, and has a fault.
    Wrong(String),
}
