//! The clips of another show, all or those of one of its sections, brought into this one: to the levels that are called
//! alike, with levels and bundles of their own where there are none.

use super::bring::Bring;
use super::brought::{clip_address, content_of_clip};
use super::error::EditError;
use super::names::numbered;
use crate::show::clip::FootageName;
use crate::show::{Clip, ClipPlace, Scope, Section, Show, Taken, marks};

/// Clips brought from another show.
#[derive(Debug, Clone, PartialEq)]
pub struct Pack {
    /// The show that they come from; it stays as it is.
    pub from: Show,
    /// The section whose clips are brought, and which comes along; without one every clip is, and no section.
    pub section: Option<usize>,
    /// Footage that is elsewhere here than the show has it.
    pub links: Vec<Link>,
}

/// Where the footage of a clip is here, or what stands in for it.
#[derive(Debug, Clone, PartialEq)]
pub struct Link {
    /// The clip, where it is in the show that it comes from.
    pub clip: ClipPlace,
    pub footage: FootageName,
    /// What there is to be said of that.
    pub note: Option<String>,
}

/// What came of a pack.
#[derive(Debug, Clone, PartialEq)]
pub struct Packed {
    /// The show with the clips.
    pub show: Show,
    /// The clips that were brought, where they are now.
    pub clips: Vec<Scope>,
    /// What had to be changed on the way, in words.
    pub notes: Vec<String>,
}

impl Pack {
    /// The clips that are brought, where they are in the show that they come from.
    pub fn wanted(&self) -> Vec<ClipPlace> {
        let levels = self.from.bundles.iter().enumerate();
        let levels = levels.flat_map(|(b, bundle)| (0..bundle.levels.len()).map(move |l| (b, l)));
        let of = |(bundle, level)| {
            let clips = self.clips_of(bundle, level).into_iter();
            clips.map(move |clip| ClipPlace { bundle, level, clip })
        };
        levels.flat_map(of).collect()
    }

    /// What the step is called.
    pub(super) fn step(&self) -> Result<String, EditError> {
        match self.section {
            None => Ok(format!("Bring the clips of {}", self.from.name)),
            Some(at) => {
                let section = self.from.sections.get(at).ok_or(EditError::Gone)?;
                Ok(format!("Bring the clips of {} of {}", section.name, self.from.name))
            }
        }
    }

    /// Brings the clips. One that was brought from there before, or that the level has with all that lies on it, is not
    /// brought again; where a stand-in waits for its footage, that is linked once it is there.
    ///
    /// # Errors
    /// [`EditError`] where something does not fit; nothing is brought.
    pub fn done(&self, show: &Show) -> Result<Packed, EditError> {
        let mut packed = Packed { show: show.clone(), clips: Vec::new(), notes: Vec::new() };
        // Where each scope that is brought, or stands for one here, is now.
        let mut places: Vec<(Scope, Scope)> = Vec::new();
        for (b, bundle) in self.from.bundles.iter().enumerate() {
            let wanted: Vec<usize> =
                (0..bundle.levels.len()).filter(|&l| !self.clips_of(b, l).is_empty()).collect();
            if wanted.is_empty() {
                continue;
            }
            let Some(into) = packed.show.bundles.iter().position(|known| known.name == bundle.name) else {
                let (from, kept) = self.kept(b, &wanted);
                packed.bring(from, Scope::Bundle(b), None)?;
                let to = packed.show.bundles.len() - 1;
                places.push((Scope::Bundle(b), Scope::Bundle(to)));
                for (new, (l, clips)) in kept.into_iter().enumerate() {
                    self.note_level((&mut packed, &mut places), [b, l], [to, new], &clips);
                }
                continue;
            };
            for l in wanted {
                let clips = self.clips_of(b, l);
                let name = &bundle.levels[l].name;
                let known = packed.show.bundles[into].levels.iter().position(|known| known.name == *name);
                let Some(level) = known else {
                    let (from, _) = self.kept(b, &[l]);
                    packed.bring(from, Scope::Level(b, 0), Some(Scope::Bundle(into)))?;
                    let to = packed.show.bundles[into].levels.len() - 1;
                    self.note_level((&mut packed, &mut places), [b, l], [into, to], &clips);
                    continue;
                };
                places.push((Scope::Level(b, l), Scope::Level(into, level)));
                for c in clips {
                    let from = ClipPlace { bundle: b, level: l, clip: c };
                    let at = match self.is_there(from, &packed.show, [into, level]) {
                        Some(at) => {
                            let here = ClipPlace { bundle: into, level, clip: at };
                            let said = if self.fill(from, &mut packed.show, here) {
                                "has its footage now"
                            } else {
                                "is there already"
                            };
                            packed.notes.push(format!("{} {said}", packed.show.address(here.into())));
                            at
                        }
                        None => {
                            let whole = self.from.clone();
                            packed.bring(whole, from.into(), Some(Scope::Level(into, level)))?;
                            let at = packed.show.bundles[into].levels[level].clips.len() - 1;
                            self.note_clip(&mut packed, from, [into, level, at]);
                            at
                        }
                    };
                    places.push((from.into(), Scope::Clip(into, level, at)));
                }
            }
        }
        if let Some(section) = self.section.and_then(|at| self.from.sections.get(at)) {
            packed.add_section(section, &self.from, &places);
        }
        let mut told: Vec<String> = Vec::new();
        packed.notes.retain(|note| {
            let is_new = !told.contains(note);
            told.push(note.clone());
            is_new
        });
        Ok(packed)
    }

    /// The clips of a level that are brought, by their places.
    fn clips_of(&self, b: usize, l: usize) -> Vec<usize> {
        match self.section.and_then(|at| self.from.sections.get(at)) {
            None => (0..self.from.bundles[b].levels[l].clips.len()).collect(),
            Some(section) => section.shows.get(&[b, l]).copied().flatten().into_iter().collect(),
        }
    }

    /// The clip of a level here that is one of the other show already.
    fn is_there(&self, from: ClipPlace, show: &Show, [b, l]: [usize; 2]) -> Option<usize> {
        let clip = self.from.clip(from)?;
        let (content, address) = (content_of_clip(clip), clip_address(&self.from, from));
        let is_noted = |taken: &Taken| {
            taken.preset == self.from.name
                && taken.clip.as_deref() == Some(&address)
                && taken.content == content
        };
        let noted = show.taken.iter().filter(|taken| is_noted(taken)).find_map(|taken| match taken.scope {
            Scope::Clip(on, of, at) if [on, of] == [b, l] => Some(at),
            _ => None,
        });
        let linked = Clip { footage: self.footage(from).clone(), ..clip.clone() };
        let is_alike = |known: &Clip| {
            let footage = match (&known.footage, &linked.footage) {
                (FootageName::File { path: a, .. }, FootageName::File { path: b, .. }) => a == b,
                (a, b) => a == b,
            };
            footage && *known == Clip { footage: known.footage.clone(), ..linked.clone() }
        };
        noted.or_else(|| show.bundles[b].levels[l].clips.iter().position(is_alike))
    }

    /// The footage of a clip, where it is here.
    fn footage(&self, from: ClipPlace) -> &FootageName {
        let link = self.links.iter().find(|link| link.clip == from).map(|link| &link.footage);
        let clip = || &self.from.bundles[from.bundle].levels[from.level].clips[from.clip].footage;
        link.unwrap_or_else(clip)
    }

    /// Gives a clip here its footage where a stand-in waits for it; whether one did.
    fn fill(&self, from: ClipPlace, show: &mut Show, here: ClipPlace) -> bool {
        let (Some(clip), footage) = (self.from.clip(from), self.footage(from)) else { return false };
        let there = &mut show.bundles[here.bundle].levels[here.level].clips[here.clip];
        let waits = matches!(there.footage, FootageName::StandIn(..));
        if !waits || matches!(footage, FootageName::StandIn(..)) {
            return false;
        }
        there.footage = footage.clone();
        (there.fit, there.play) = (clip.fit, clip.play);
        true
    }

    /// Links a clip that was brought to its footage here, and notes it.
    fn note_clip(&self, packed: &mut Packed, from: ClipPlace, [b, l, c]: [usize; 3]) {
        let to = Scope::Clip(b, l, c);
        if let Some(link) = self.links.iter().find(|link| link.clip == from) {
            let clip = &mut packed.show.bundles[b].levels[l].clips[c];
            clip.footage = link.footage.clone();
            if matches!(link.footage, FootageName::StandIn(..)) {
                (clip.fit, clip.play) = Default::default();
            }
            let said = link.note.iter().map(|note| format!("{}: {note}", packed.show.address(to)));
            packed.notes.extend(said);
        }
        packed.clips.push(to);
    }

    /// Notes a level that was brought with these of its clips.
    fn note_level(
        &self,
        (packed, places): (&mut Packed, &mut Vec<(Scope, Scope)>),
        [b, l]: [usize; 2],
        [into, level]: [usize; 2],
        clips: &[usize],
    ) {
        places.push((Scope::Level(b, l), Scope::Level(into, level)));
        // No section knows of it: shown, it would lie over all of them.
        if !packed.show.sections.is_empty() {
            packed.show.bundles[into].levels[level].hidden = true;
            let address = packed.show.address(Scope::Level(into, level));
            packed.notes.push(format!("{address} is hidden until a section shows it, or you do"));
        }
        for (at, &clip) in clips.iter().enumerate() {
            let from = ClipPlace { bundle: b, level: l, clip };
            self.note_clip(packed, from, [into, level, at]);
            places.push((from.into(), Scope::Clip(into, level, at)));
        }
    }

    /// The other show with nothing in a bundle but these levels, and in them the clips that are brought; and which those are.
    fn kept(&self, b: usize, levels: &[usize]) -> (Show, Vec<(usize, Vec<usize>)>) {
        let mut from = Show { sections: Vec::new(), running_order: Vec::new(), ..self.from.clone() };
        let of = &self.from.bundles[b].levels;
        let kept: Vec<(usize, Vec<usize>)> = levels.iter().map(|&l| (l, self.clips_of(b, l))).collect();
        from.bundles[b].levels = kept
            .iter()
            .map(|(l, clips)| {
                let mut level = of[*l].clone();
                level.clips = clips.iter().map(|&c| of[*l].clips[c].clone()).collect();
                level.showing = clips.iter().position(|&c| c == of[*l].showing).unwrap_or(0);
                level
            })
            .collect();
        // Notes of where chains and clips came from follow these to their places.
        let now = |scope: Scope| {
            let level = |l: usize| kept.iter().position(|(level, _)| *level == l);
            match scope {
                Scope::Level(of, l) if of == b => Some(Scope::Level(b, level(l)?)),
                Scope::Clip(of, l, c) if of == b => {
                    let at = level(l)?;
                    Some(Scope::Clip(b, at, kept[at].1.iter().position(|clip| *clip == c)?))
                }
                other => Some(other),
            }
        };
        from.taken.retain_mut(|taken| match now(taken.scope) {
            Some(scope) => {
                taken.scope = scope;
                true
            }
            None => false,
        });
        (from, kept)
    }
}

impl Packed {
    fn bring(&mut self, from: Show, what: Scope, into: Option<Scope>) -> Result<(), EditError> {
        let (show, notes) = Bring { from, what, into, onto: None }.done(&self.show)?;
        self.show = show;
        self.notes.extend(notes);
        Ok(())
    }

    /// Adds the section, as far as what it speaks of is here.
    fn add_section(&mut self, of: &Section, from: &Show, places: &[(Scope, Scope)]) {
        let now = |scope: Scope| {
            let is_global = (scope == Scope::Global).then_some(Scope::Global);
            places.iter().find(|(was, _)| *was == scope).map(|(_, now)| *now).or(is_global)
        };
        let mut section = of.clone();
        section.follow(now);
        // Marks are those of chains that came along; what lies on a scope that was here already is another chain.
        let show = &self.show;
        section.effects.retain(|&(scope, mark), _| {
            let was = places.iter().find(|(_, now)| *now == scope).map(|(was, _)| *was);
            let named = |show: &Show, scope: Scope| {
                let chain = show.chain(scope);
                marks::place(chain, mark).map(|at| chain[at].effect.name.clone())
            };
            was.is_some_and(|was| named(from, was).is_some() && named(from, was) == named(show, scope))
        });
        section.controls.retain(|name, _| show.controls.iter().any(|control| control.name == *name));
        let left = of.speaks_of() - section.speaks_of();
        if left > 0 {
            let them =
                if left == 1 { "one thing that it says speaks" } else { "some of what it says speaks" };
            self.notes.push(format!("the section {}: {them} of what is not here, and was left out", of.name));
        }
        section.name = numbered(&of.name, self.show.sections.iter().map(|known| known.name.as_str()));
        if section.name != of.name {
            self.notes.push(format!(
                "a section named `{}` is already there: the new one is called `{}`",
                of.name, section.name
            ));
        }
        self.show.sections.push(section);
    }
}
