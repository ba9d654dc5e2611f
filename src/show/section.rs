//! Sections: stretches of the set in which certain clips show together.

use std::collections::BTreeMap;

use super::chain::{Chain, labels};
use super::grip::SectionCall;
use super::{Scope, Show, Target, marks};
use crate::base::coding::ColourCode;

/// How long a section lasts at the least and at the most, in beats.
pub const SECTION_BEATS: [f64; 2] = [1.0 / 64.0, 65_536.0];
/// How long a section takes to come at the least and at the most, in beats.
pub const FADE_BEATS: [f64; 2] = [0.0, 4096.0];

/// A stretch of the set: what it changes of the show as it stands, and for how long.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Section {
    /// Unique in the show.
    pub name: String,
    /// What a person tells it by.
    pub colour: Option<ColourCode>,
    /// What to keep in mind.
    pub note: String,
    /// How many beats it lasts; without them until the next is called.
    pub beats: Option<f64>,
    /// Beats in which it takes over from the section before; 0 cuts.
    pub fade: f64,
    /// Which clip levels show, by the places of bundle and level; none where a level shows nothing. Levels that are not
    /// named stay as they are.
    pub shows: BTreeMap<[usize; 2], Option<usize>>,
    /// Opacities of bundles and levels.
    pub opacity: BTreeMap<Scope, f64>,
    /// Chains that lie on scopes in place of their own: `library:NAME` or `preset:NAME`.
    pub chains: BTreeMap<Scope, String>,
    /// Whether effects are on, by their scopes and marks; the others stay as they are. What it says of an effect of a scope
    /// on which it lays another chain has no meaning while that lies there.
    pub effects: BTreeMap<(Scope, u32), bool>,
    /// Where controls stand, 0 to 1, by their names: until a hand plays them.
    pub controls: BTreeMap<String, f64>,
}

impl Section {
    /// One that changes nothing.
    pub fn of(name: &str) -> Self {
        Self { name: name.to_owned(), ..Self::default() }
    }

    /// One that holds what every level shows now, and every opacity, so that it stays so whatever else changes.
    pub fn as_it_stands(name: &str, show: &Show) -> Self {
        let mut section = Self::of(name);
        for (b, bundle) in show.bundles.iter().enumerate() {
            section.opacity.insert(Scope::Bundle(b), bundle.mix.opacity);
            for (l, level) in bundle.levels.iter().enumerate() {
                let is_seen = !level.hidden && !level.clips[level.showing].hidden;
                section.shows.insert([b, l], is_seen.then_some(level.showing));
                section.opacity.insert(Scope::Level(b, l), level.mix.opacity);
            }
        }
        section
    }

    /// Whether it leaves the show as it stands.
    pub fn changes_nothing(&self) -> bool {
        self.speaks_of() == 0
    }

    /// What it says of scopes, by where these are now; what it says of one that is gone is let go, as is a clip that
    /// went to another level.
    pub fn follow(&mut self, now: impl Fn(Scope) -> Option<Scope>) {
        let clip_now = |[b, l]: [usize; 2], clip: usize, level: [usize; 2]| match now(Scope::Clip(b, l, clip))
        {
            Some(Scope::Clip(b, l, clip)) if [b, l] == level => Some(Some(clip)),
            _ => None,
        };
        let shows = std::mem::take(&mut self.shows);
        self.shows = shows
            .into_iter()
            .filter_map(|(level, clip)| {
                let Some(Scope::Level(b, l)) = now(Scope::Level(level[0], level[1])) else { return None };
                let clip = clip.map_or(Some(None), |clip| clip_now(level, clip, [b, l]))?;
                Some(([b, l], clip))
            })
            .collect();
        let moved = |scope: Scope| now(scope);
        self.opacity = std::mem::take(&mut self.opacity)
            .into_iter()
            .filter_map(|(scope, opacity)| Some((moved(scope)?, opacity)))
            .collect();
        self.chains = std::mem::take(&mut self.chains)
            .into_iter()
            .filter_map(|(scope, chain)| Some((moved(scope)?, chain)))
            .collect();
        self.effects = std::mem::take(&mut self.effects)
            .into_iter()
            .filter_map(|((scope, mark), on)| Some(((moved(scope)?, mark), on)))
            .collect();
    }

    /// Says of a copy what it says of what was copied; `copy` gives where something of that stands in the copy.
    pub fn say_of_copy(&mut self, copy: impl Fn(Scope) -> Option<Scope>) {
        let shows: Vec<_> = self.shows.iter().map(|(&level, &clip)| (level, clip)).collect();
        for ([b, l], clip) in shows {
            if let Some(Scope::Level(b, l)) = copy(Scope::Level(b, l)) {
                self.shows.insert([b, l], clip);
            }
        }
        let opacity: Vec<_> = self.opacity.iter().map(|(&scope, &opacity)| (scope, opacity)).collect();
        self.opacity.extend(opacity.into_iter().filter_map(|(scope, opacity)| Some((copy(scope)?, opacity))));
        let chains: Vec<_> = self.chains.iter().map(|(&scope, chain)| (scope, chain.clone())).collect();
        self.chains.extend(chains.into_iter().filter_map(|(scope, chain)| Some((copy(scope)?, chain))));
        let effects: Vec<_> = self.effects.iter().map(|(&of, &on)| (of, on)).collect();
        let copies = effects.into_iter().filter_map(|((scope, mark), on)| Some(((copy(scope)?, mark), on)));
        self.effects.extend(copies);
    }

    /// How long it lasts and how it comes, in words: "64 beats, comes in 4".
    pub fn time_said(&self) -> String {
        let lasts = self.beats.map_or("until the next".to_owned(), |beats| format!("{beats} beats"));
        let comes = if self.fade > 0.0 { format!("comes in {}", self.fade) } else { "cuts".to_owned() };
        format!("{lasts}, {comes}")
    }

    /// What it changes, in words, one thing each.
    pub fn changes_said(&self, show: &Show) -> Vec<String> {
        let shows = self.shows.iter().map(|(&[b, l], &clip)| {
            let level = &show.bundles[b].levels[l];
            let clip = clip.map_or("nothing", |clip| level.clips[clip].name.as_str());
            format!("{} shows {clip}", show.address(Scope::Level(b, l)))
        });
        let opacity =
            self.opacity.iter().map(|(&scope, opacity)| format!("{} at {opacity}", show.address(scope)));
        let chains = self.chains.iter().map(|(&scope, chain)| format!("{chain} on {}", show.address(scope)));
        let effects = self.effects.iter().map(|(&(scope, mark), &on)| {
            let label = effect_label(show, scope, mark).unwrap_or_else(|| format!("effect {mark}"));
            format!("{label} {} on {}", if on { "on" } else { "off" }, show.address(scope))
        });
        let controls = self.controls.iter().map(|(name, position)| format!("control {name} at {position}"));
        shows.chain(opacity).chain(chains).chain(effects).chain(controls).collect()
    }

    /// Everything of the show that it speaks of.
    pub fn speaks_of(&self) -> usize {
        self.shows.len() + self.opacity.len() + self.chains.len() + self.effects.len() + self.controls.len()
    }
}

/// What the effect of a mark is called in its chain.
pub fn effect_label(show: &Show, scope: Scope, mark: u32) -> Option<String> {
    let chain = show.chain(scope);
    Some(labels(chain).swap_remove(marks::place(chain, mark)?))
}

impl Show {
    /// The section of this name.
    pub fn section_named(&self, name: &str) -> Option<usize> {
        self.sections.iter().position(|section| section.name == name)
    }

    /// The show as it stands in one of its sections: a show of its own, without sections. `chain` gives the chains that
    /// the section names.
    ///
    /// A level that the section lets show a clip is hidden no longer; what its bundle is, stays.
    ///
    /// # Errors
    /// Those of `chain`.
    ///
    /// # Panics
    /// If the show has no such section.
    pub fn in_section<E>(
        &self,
        at: usize,
        mut chain: impl FnMut(&str) -> Result<Chain, E>,
    ) -> Result<Self, E> {
        let section = &self.sections[at];
        let mut show = self.standing(section);
        for (&scope, name) in &section.chains {
            *show.chain_mut(scope) = chain(name)?;
            show.taken.retain(|taken| taken.scope != scope || taken.clip.is_some());
        }
        Ok(show)
    }

    /// The show as it stands in a section, on the chains that its scopes have themselves.
    pub fn standing(&self, section: &Section) -> Self {
        let mut show = Self { sections: Vec::new(), running_order: Vec::new(), ..self.clone() };
        show.held.retain(|(target, _)| *target != Target::Section);
        for (&[b, l], &clip) in &section.shows {
            let level = &mut show.bundles[b].levels[l];
            level.hidden = clip.is_none();
            if let Some(clip) = clip {
                (level.showing, level.clips[clip].hidden) = (clip, false);
            }
        }
        for (&scope, &opacity) in &section.opacity {
            match scope {
                Scope::Bundle(b) => show.bundles[b].mix.opacity = opacity,
                Scope::Level(b, l) => show.bundles[b].levels[l].mix.opacity = opacity,
                Scope::Global | Scope::Clip(..) => {}
            }
        }
        for (&(scope, mark), &on) in &section.effects {
            if let Some(at) = marks::place(show.chain(scope), mark) {
                show.chain_mut(scope)[at].on = on;
            }
        }
        for (control, &position) in &section.controls {
            show.stand_control(control, position);
        }
        show
    }

    /// The sections that neither the running order comes to nor a control calls; none where there is no running order,
    /// as then hands call them all.
    pub fn unreached_sections(&self) -> Vec<usize> {
        let called = |at: usize| {
            let calls = self.grips_on(Target::Section).into_iter();
            calls.filter_map(|grip| SectionCall::of(&grip.high)).any(|call| call == SectionCall::Section(at))
        };
        match self.running_order.is_empty() {
            true => Vec::new(),
            false => (0..self.sections.len())
                .filter(|at| !self.running_order.contains(at) && !called(*at))
                .collect(),
        }
    }
}
