//! A search for orders and settings that come near a wish, and what was found.

use std::sync::Arc;

use egui::Context;

use super::Desk;
use crate::beat::Moment;
use crate::show::chain::EffectUse;
use crate::show::{Scope, Show};
use crate::window::seeking::{FindAct, FoundList, FoundSeen};
use crate::window::showing::{FoundRow, Shown, Tab};
use crate::window::threads::find::{FindQuestion, Finder, FoundChain};

/// What the desk keeps of a search.
#[derive(Default)]
pub(super) struct Search {
    finder: Option<Finder>,
    list: Arc<FoundList>,
    /// The show that the answers stand in.
    of: Option<Arc<Show>>,
    /// Whether more was found than is shown.
    pub(super) waits: bool,
}

impl Search {
    pub(super) fn list(&self) -> &Arc<FoundList> {
        &self.list
    }

    pub(super) fn finder(&self) -> Option<&Finder> {
        self.finder.as_ref()
    }
}

impl Desk {
    /// Takes in what was found, unless someone is about to press what is shown.
    pub(super) fn take_found(&mut self, show: &Arc<Show>, ctx: &Context) {
        let is_open = self.view.tab == Tab::Find;
        if is_open && self.search.finder.is_none() {
            let Some(gpu) = self.pictures.gpu() else { return };
            let wake = ctx.clone();
            let finder = Finder::new(gpu.sibling(), self.catalogue.clone(), move || wake.request_repaint());
            self.search.finder = Some(finder);
        }
        let is_held = is_open && !self.on_wall.is_asked && self.on_wall.is_pointed_at(ctx);
        let Search { finder: Some(finder), list, of, waits } = &mut self.search else { return };
        finder.hear();
        let is_new = list.number != finder.lists;
        // A list that has come to be empty is a search begun anew.
        *waits = is_new && is_held && !list.answers.is_empty() && !finder.answers().is_empty();
        let is_of_show = of.as_ref().is_some_and(|of| Arc::ptr_eq(of, show));
        if *waits || !is_new && is_of_show {
            return;
        }
        *of = Some(Arc::clone(show));
        let question = if is_new { finder.question().cloned() } else { list.question.clone() };
        let found = if is_new {
            finder.answers().to_vec()
        } else {
            list.answers.iter().map(|seen| seen.found.clone()).collect()
        };
        let number = if is_new { finder.lists } else { list.number };
        let of_scope = question.as_ref().map(|question| question.scope);
        let seen = |found: FoundChain| {
            let row = FoundRow { of: of_scope?, scope: found.scope, effects: found.arranged() };
            Some(FoundSeen { show: with_row(show, &row), found, row })
        };
        let answers = found.into_iter().filter_map(seen).collect();
        *list = Arc::new(FoundList { number, answers, question });
    }

    /// What was found, as it is shown.
    pub fn found(&self) -> &FoundList {
        &self.search.list
    }

    /// Whether a search is on its way.
    pub fn is_searching(&self) -> bool {
        self.search.finder().is_some_and(|finder| finder.searching().is_some())
    }

    pub(super) fn find(&mut self, act: FindAct) {
        match act {
            FindAct::Change(seeking) => self.view.seeking = seeking,
            FindAct::Begin => self.begin_search(),
            FindAct::Stop => {
                if let Some(finder) = &mut self.search.finder {
                    finder.stop();
                }
            }
            FindAct::Adopt(row) => self.adopt_found(&row),
        }
    }

    fn begin_search(&mut self) {
        let show = self.seen_show();
        let scope = self.view.scope;
        let seeking = &self.view.seeking;
        let (space, scopes) = match seeking.space(&show, scope) {
            Ok(found) => found,
            Err(why) => {
                self.view.said = why.to_owned();
                return;
            }
        };
        let moment = Moment { frame: show.frame, ..self.view.moment(&show, self.beats) };
        let like = seeking.picture_wished().map(str::to_owned);
        let question = FindQuestion { goal: seeking.goal, show, scope, moment, space, scopes, like };
        if let Some(finder) = &mut self.search.finder {
            finder.begin(question);
        }
    }

    /// Puts what was found into the show, in one step.
    fn adopt_found(&mut self, row: &FoundRow) {
        let FoundRow { of, scope, effects } = row;
        let show = self.work.show();
        let names = |chain: &[EffectUse]| {
            let mut names: Vec<String> = chain.iter().map(|used| used.effect.name.clone()).collect();
            names.sort();
            names
        };
        let is_there = |scope: &Scope| show.scopes().contains(scope);
        if !is_there(of) || !is_there(scope) || names(show.chain(*of)) != names(effects) {
            self.view.said = "Not adopted: the chain has other effects by now. Find again.".to_owned();
            return;
        }
        let (scope, before) = (*scope, Arc::clone(show));
        self.edit(&row.put_in_place("that was found"));
        if scope != self.view.scope && !Arc::ptr_eq(&before, self.work.show()) {
            self.select(scope, None);
        }
        self.view.shown = Shown::Output;
    }

    /// The show as the large picture has it: with what was found, while that is looked at.
    pub(super) fn seen_found(&mut self, at_rest: &Arc<Show>) -> Option<Arc<Show>> {
        let Shown::Found(row) = &self.view.shown else { return None };
        let known = self.seen.found.as_ref();
        if let Some((_, _, show)) = known.filter(|(of, known, _)| Arc::ptr_eq(of, at_rest) && known == row) {
            return Some(Arc::clone(show));
        }
        let Some(show) = with_row(at_rest, row) else {
            self.view.shown = Shown::Output;
            return None;
        };
        self.seen.found = Some((Arc::clone(at_rest), row.clone(), Arc::clone(&show)));
        Some(show)
    }
}

/// The show with what was found in place.
pub(super) fn with_row(show: &Show, row: &FoundRow) -> Option<Arc<Show>> {
    row.put_in_place("").applied(show).ok().map(|(show, _)| Arc::new(show))
}
