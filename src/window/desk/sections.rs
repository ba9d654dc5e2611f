//! Sections on the desk: the show as it stands in one, changes that go to it, the running order played.

use std::collections::HashMap;
use std::sync::Arc;

use super::Desk;
use crate::edit::{ClipEdit, Deed, Edit, SectionEdit, Several, Shows, StructureEdit};
use crate::library::{Kind, LIBRARY};
use crate::order::marks;
use crate::show::called::Called;
use crate::show::chain::Chain;
use crate::show::grip::SectionCall;
use crate::show::running::Standing;
use crate::show::{Mix, Scope, Section, Show};
use crate::window::pictures::Fade;
use crate::window::sections::{InSection, Played, SectionAct, SectionsSeen, entries, usual};
use crate::window::showing::Shown;

/// Beats into a section from which on the one before it is that section itself, from its start.
const BACK_TO_START: f64 = 4.0;

/// The shows that sections make of the work, kept for as long as it is the same, and the running order as it is played.
#[derive(Default)]
pub(super) struct Sections {
    of: Option<Arc<Show>>,
    /// The show in each section with the chains that it has itself, and with those that the section lays.
    own: Vec<Arc<Show>>,
    pub(super) seen: SectionsSeen,
    /// Chains that sections name, once read.
    chains: HashMap<String, Result<Chain, String>>,
    called: Option<Called>,
}

impl Sections {
    /// Reads the chains that sections name afresh.
    pub(super) fn forget_chains(&mut self) {
        if !self.chains.is_empty() {
            self.chains.clear();
            self.of = None;
        }
    }

    pub(super) fn is_played(&self) -> bool {
        self.called.is_some()
    }
}

/// What the audience sees: a show, and what it takes over from.
pub(super) struct OnAir {
    pub(super) show: Arc<Show>,
    pub(super) fade: Option<Fade>,
}

impl Desk {
    /// The sections in the order in which they first come, each with the show as it stands there.
    pub(super) fn stands_in_order(&mut self) -> Vec<(usize, Arc<Show>)> {
        self.see_sections();
        let mut found: Vec<(usize, Arc<Show>)> = Vec::new();
        for InSection { section, .. } in entries(self.work.show()) {
            if found.iter().all(|(known, _)| *known != section) {
                found.push((section, Arc::clone(&self.sections.seen.stands[section])));
            }
        }
        found
    }

    /// Has the show in each of its sections made, where the work has changed.
    pub(super) fn see_sections(&mut self) {
        let show = Arc::clone(self.work.show());
        if !self.sections.of.as_ref().is_some_and(|of| Arc::ptr_eq(of, &show)) {
            self.make_stands(&show);
        }
        self.sections.seen.played = self.played(&show);
    }

    fn make_stands(&mut self, show: &Arc<Show>) {
        let names: Vec<String> =
            show.sections.iter().flat_map(|section| section.chains.values().cloned()).collect();
        for name in names {
            if !self.sections.chains.contains_key(&name) {
                let chain = self.chain_named(&name);
                self.sections.chains.insert(name, chain);
            }
        }
        let Sections { own, seen, chains, .. } = &mut self.sections;
        own.clear();
        seen.stands.clear();
        seen.troubles.clear();
        for (at, section) in show.sections.iter().enumerate() {
            let plain = Section { chains: Default::default(), ..section.clone() };
            let stand = Arc::new(show.standing(&plain));
            let laid = match section.chains.is_empty() {
                true => Ok(Arc::clone(&stand)),
                false => show.in_section(at, |name| chains[name].clone()).map(Arc::new),
            };
            seen.troubles.push(laid.as_ref().err().cloned());
            seen.stands.push(laid.unwrap_or_else(|_| Arc::clone(&stand)));
            own.push(stand);
        }
        self.sections.of = Some(Arc::clone(show));
    }

    /// The chain of a name that a section gives, or why there is none.
    fn chain_named(&self, name: &str) -> Result<Chain, String> {
        let document = match name.strip_prefix(LIBRARY) {
            Some(name) => {
                let mut library = self.shelves.fresh();
                library.scan(&self.catalogue);
                let entry = library.find(Kind::Chain, name).map_err(|error| error.to_string())?;
                library.document(entry, &self.catalogue).map_err(|error| error.to_string())?
            }
            None => {
                let name = name.strip_prefix("preset:").unwrap_or(name);
                let work = crate::edit::Work::preset(name, &self.catalogue);
                let work = work.map_err(|error| error.to_string())?;
                let work = work.ok_or_else(|| format!("there is no preset named {name}"))?;
                return Ok(work.show().chain(work.first_scope()).clone());
            }
        };
        match document {
            crate::files::Document::Chain(preset) => Ok(preset.chain),
            crate::files::Document::Show(_) => Err(format!("{name} is a show, and a chain is wanted")),
        }
    }

    /// The show as it stands in the section looked at, on its own chains: what the desk works on.
    pub(super) fn stand(&self) -> Arc<Show> {
        let own = self.view.section.and_then(|at| self.sections.own.get(at.section));
        Arc::clone(own.unwrap_or(self.work.show()))
    }

    /// What the audience sees, hands on it: the section looked at with the chains that it lays, or the running order.
    pub(super) fn on_air(&mut self) -> OnAir {
        let stand = |section: usize| self.sections.seen.stands.get(section).cloned();
        let work = self.work.show();
        let (show, fade) = match &self.sections.called {
            Some(called) => {
                let order = called.order();
                let at = order.at(self.beats);
                let leg = order.legs[at.leg()];
                let fade = match at {
                    Standing::Coming(nth, _) => {
                        let from = called.under(nth).iter();
                        Some((from.filter_map(|&(of, share)| Some((stand(of)?, share))).collect(), leg))
                    }
                    Standing::Alone(_) => None,
                };
                (stand(leg.section), fade)
            }
            None => (self.view.section.and_then(|at| stand(at.section)), None),
        };
        let show = show.unwrap_or_else(|| Arc::clone(work));
        let hands = &mut self.hands;
        let fade = fade.map(|(from, leg): (Vec<_>, _)| Fade {
            from: from.into_iter().map(|(show, share)| (hands.applied(&show), share)).collect(),
            begins: leg.from,
            beats: leg.fade,
        });
        OnAir { show: self.hands.applied(&show), fade }
    }

    /// Whether what the audience sees has chains that the desk does not work on.
    pub(super) fn lays_chains(&self) -> bool {
        let section = self.view.section.and_then(|at| self.work.show().sections.get(at.section));
        section.is_some_and(|section| !section.chains.is_empty())
    }

    /// Does what was asked for with sections.
    pub(super) fn section(&mut self, act: SectionAct) {
        match act {
            SectionAct::Go(at) => self.go_to_section(at),
            SectionAct::Step(way) => self.step_section(way),
            SectionAct::Nth(nth) => match entries(self.work.show()).get(nth) {
                Some(&at) => self.go_to_section(Some(at)),
                None => self.view.said = format!("There is no section {}.", nth + 1),
            },
            SectionAct::Settings(shows) => self.view.section_settings = shows,
            SectionAct::RenameHere(at) => self.view.renaming_section = at,
            SectionAct::Add => self.add_section(),
            SectionAct::Rehearse(plays) => self.rehearse(plays),
            SectionAct::Call(way) => self.call(way),
        }
    }

    fn go_to_section(&mut self, at: Option<InSection>) {
        let show = self.work.show();
        self.view.section = at.filter(|at| at.section < show.sections.len());
        self.view.section_settings &= self.view.section.is_some();
        self.view.alone = None;
        if !matches!(self.view.shown, Shown::Output | Shown::After(_)) {
            self.view.shown = Shown::Output;
        }
        self.follow_clip();
    }

    /// The path is that of the clip that its level shows here.
    fn follow_clip(&mut self) {
        self.see_sections();
        let stand = self.stand();
        let clip = &mut self.view.clip;
        let showing = stand.bundles[clip.bundle].levels[clip.level].showing;
        if clip.clip != showing {
            clip.clip = showing;
            if let Scope::Clip(b, l, _) = self.view.scope {
                self.select(Scope::Clip(b, l, showing), None);
            }
        }
    }

    fn step_section(&mut self, way: isize) {
        let all = entries(self.work.show());
        let now = self.view.section.and_then(|at| all.iter().position(|entry| *entry == at));
        let next = match (now, way) {
            (None, 1..) => Some(0),
            (None, _) => None,
            (Some(at), way) => at.checked_add_signed(way),
        };
        match next {
            None => self.go_to_section(None),
            Some(next) if next < all.len() => self.go_to_section(Some(all[next])),
            Some(_) if all.is_empty() => self.view.said = "The show has no sections.".to_owned(),
            Some(_) => self.view.said = "That is the last section.".to_owned(),
        }
    }

    fn add_section(&mut self) {
        let section = Section::as_it_stands("section", &self.stand());
        let count = self.work.show().sections.len();
        self.edit(&Edit::Section(SectionEdit::Add(Box::new(section))));
        if self.work.show().sections.len() > count {
            self.see_sections();
            let at = InSection { section: count, entry: None };
            self.go_to_section(Some(at));
            self.view.section_settings = true;
            self.view.renaming_section = Some(at);
            self.view.said = "A section: it holds what shows now, whatever else changes.".to_owned();
        }
    }

    /// The change that a change of what shows is while a section is looked at: it is the section's.
    pub(super) fn in_section(&self, edit: &Edit) -> Option<Edit> {
        let section = self.view.section?.section;
        let (work, stand) = (self.work.show(), self.stand());
        let edit = match *edit {
            Edit::Clip(place, ClipEdit::Show) => {
                let level = [place.bundle, place.level];
                SectionEdit::Shows { section, level, shows: Shows::Clip(place.clip) }
            }
            Edit::Structure(StructureEdit::Hide { what: Scope::Level(b, l), hidden }) => {
                let level = &work.bundles.get(b)?.levels.get(l)?;
                let shows = match hidden {
                    true => Shows::Nothing,
                    false if level.hidden || level.clips[level.showing].hidden => Shows::Clip(level.showing),
                    false => Shows::AsItStands,
                };
                SectionEdit::Shows { section, level: [b, l], shows }
            }
            Edit::Switch { spot, on } => self.switched(section, spot.scope, &[spot.at], on)?,
            Edit::Several(Several { scope, ref places, deed: Deed::Switch(on) }) => {
                self.switched(section, scope, places, on)?
            }
            Edit::Mix { scope, mix } => {
                let of = |show: &Show| match scope {
                    Scope::Bundle(b) => show.bundles.get(b).map(|bundle| bundle.mix),
                    Scope::Level(b, l) => show.bundles.get(b)?.levels.get(l).map(|level| level.mix),
                    Scope::Global | Scope::Clip(..) => None,
                };
                let (own, here): (Mix, Mix) = (of(work)?, of(&stand)?);
                if mix.blend != here.blend {
                    // How something is blended is the show's; what shows of it here stays.
                    return Some(Edit::Mix { scope, mix: Mix { blend: mix.blend, ..own } });
                }
                SectionEdit::Opacity { section, scope, opacity: Some(mix.opacity) }
            }
            _ => return None,
        };
        Some(Edit::Section(edit))
    }

    /// Effects that are on or off in a section; where it lays another chain on their scope, the show's own are meant.
    fn switched(&self, section: usize, scope: Scope, places: &[usize], on: bool) -> Option<SectionEdit> {
        let show = self.work.show();
        let is_laid_over = show.sections.get(section)?.chains.contains_key(&scope);
        let known = marks(show.chain(scope));
        if is_laid_over || places.iter().any(|place| *place >= known.count()) {
            return None;
        }
        let marks = places.iter().map(|&place| known.of(place)).collect();
        Some(SectionEdit::Effects { section, scope, marks, on: Some(on) })
    }

    /// Why a change is not made while the running order is played, if it is not.
    pub(super) fn held_by_rehearsal(&self, edit: &Edit) -> Option<&'static str> {
        let is_kept = matches!(edit, Edit::Tempo(_) | Edit::Time(_));
        (self.sections.is_played() && !is_kept).then_some("the running order is being played")
    }

    fn rehearse(&mut self, plays: bool) {
        if !plays {
            self.view.playing = false;
            let now = self.sections.seen.played.take().map(|played| played.now);
            self.sections.called = None;
            self.view.rehearses = false;
            return self.go_to_section(now.or(self.view.section));
        }
        if self.work.show().running_order.is_empty() {
            let all: Vec<usize> = (0..self.work.show().sections.len()).collect();
            if all.is_empty() {
                self.view.said = "The show has no sections to play.".to_owned();
                return;
            }
            self.edit(&Edit::Section(SectionEdit::Order(all)));
        }
        let show = Arc::clone(self.work.show());
        let entry = self.view.section.and_then(|at| at.entry).unwrap_or(0);
        let begins = usual(&show).and_then(|order| order.legs.get(entry).map(|leg| leg.from)).unwrap_or(0.0);
        self.sections.called = Called::from(&show, entry, begins);
        self.view.rehearses = self.sections.called.is_some();
        self.view.alone = None;
        self.view.dialog = None;
        self.view.shown = Shown::Output;
        self.set_loop(None);
        (self.view.beats, self.beats) = (begins, begins);
        self.view.playing = true;
    }

    /// Calls the next section, or the one before: the section that plays from its start, once it has played for a bar.
    fn call(&mut self, way: isize) {
        let (show, beats) = (Arc::clone(self.work.show()), self.view.beats);
        let Some(called) = &mut self.sections.called else { return };
        let place = called.place(beats);
        let to = match way {
            1.. => place + 1,
            _ if called.lasted(beats) >= BACK_TO_START => place,
            _ => place.saturating_sub(1),
        };
        if to < show.running_order.len() {
            called.call(&show, to, beats);
            let name = &show.sections[show.running_order[to]].name;
            self.view.said = format!("Called: {name}.");
        } else {
            self.view.said = "That is the last section of the running order.".to_owned();
        }
    }

    /// Goes where a control calls: through the running order while that is played, else through the strip.
    pub(super) fn called_by_hand(&mut self, call: SectionCall) {
        let is_played = self.sections.is_played();
        match call {
            SectionCall::Next if is_played => self.call(1),
            SectionCall::Previous if is_played => self.call(-1),
            SectionCall::Next => self.step_section(1),
            SectionCall::Previous => self.step_section(-1),
            SectionCall::Section(section) if is_played => self.call_section(section),
            SectionCall::Section(section) => {
                let of = |at: &InSection| at.section == section;
                let at = entries(self.work.show()).into_iter().find(of);
                self.go_to_section(at);
            }
        }
    }

    /// Calls a section while the running order is played: where it comes next in it, or else where it came first.
    fn call_section(&mut self, section: usize) {
        let (show, beats) = (Arc::clone(self.work.show()), self.view.beats);
        let (Some(called), Some(of)) = (&mut self.sections.called, show.sections.get(section)) else {
            return;
        };
        let now = called.place(beats);
        let is_it = |place: &usize| show.running_order[*place] == section;
        let next = (now + 1..show.running_order.len()).find(is_it);
        self.view.said = match next.or_else(|| (0..show.running_order.len()).find(is_it)) {
            Some(to) => {
                called.call(&show, to, beats);
                format!("Called: {}.", of.name)
            }
            None => format!("{} is not in the running order, which is being played.", of.name),
        };
    }

    /// Where the running order stands; it holds at its end.
    fn played(&mut self, show: &Show) -> Option<Played> {
        let beats = self.view.beats;
        let called = self.sections.called.as_ref()?;
        let order = called.order();
        let is_there = order.legs.iter().all(|leg| leg.section < show.sections.len())
            && called.place(beats) < show.running_order.len();
        if !is_there {
            // The running order was taken from under it.
            self.sections.called = None;
            self.view.rehearses = false;
            return None;
        }
        let leg = called.leg(beats);
        let entry = |place: usize| {
            show.running_order.get(place).map(|&section| InSection { section, entry: Some(place) })
        };
        let place = called.place(beats);
        let is_over = called.is_over(beats);
        self.view.playing &= !is_over;
        Some(Played {
            now: entry(place)?,
            left: called.left(beats),
            lasted: called.lasted(beats),
            share: order.share(leg, beats),
            next: entry(place + 1),
            set: [beats, usual(show).map_or(0.0, |order| order.beats())],
            is_over,
        })
    }
}
