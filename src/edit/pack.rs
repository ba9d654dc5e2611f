//! The clips of another show, all or those of one of its sections, brought into this one: to the levels that are called
//! alike, with levels and bundles of their own where there are none.

use super::bring::Bring;
use super::error::EditError;
use super::names::numbered;
use crate::show::{Scope, Section, Show, marks};

/// Clips brought from another show.
#[derive(Debug, Clone, PartialEq)]
pub struct Pack {
    /// The show that they come from; it stays as it is.
    pub from: Show,
    /// The section whose clips are brought, and which comes along; without one every clip is, and no section.
    pub section: Option<usize>,
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
    /// Brings the clips. One that the level has already, with all that lies on it, is not brought again.
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
                    packed.note_level(&mut places, [b, l], [to, new], &clips);
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
                    packed.note_level(&mut places, [b, l], [into, to], &clips);
                    continue;
                };
                places.push((Scope::Level(b, l), Scope::Level(into, level)));
                for c in clips {
                    let clip = &bundle.levels[l].clips[c];
                    let there =
                        packed.show.bundles[into].levels[level].clips.iter().position(|known| known == clip);
                    let to = match there {
                        Some(at) => {
                            packed
                                .notes
                                .push(format!("clip:{}/{name}/{} is there already", bundle.name, clip.name));
                            Scope::Clip(into, level, at)
                        }
                        None => {
                            packed.bring(
                                self.from.clone(),
                                Scope::Clip(b, l, c),
                                Some(Scope::Level(into, level)),
                            )?;
                            let at = packed.show.bundles[into].levels[level].clips.len() - 1;
                            packed.clips.push(Scope::Clip(into, level, at));
                            Scope::Clip(into, level, at)
                        }
                    };
                    places.push((Scope::Clip(b, l, c), to));
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
        // Notes of where chains came from speak of places that are others now.
        from.taken.retain(|taken| matches!(taken.scope, Scope::Global));
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

    /// Notes a level that was brought with these of its clips.
    fn note_level(
        &mut self,
        places: &mut Vec<(Scope, Scope)>,
        [b, l]: [usize; 2],
        [into, level]: [usize; 2],
        clips: &[usize],
    ) {
        places.push((Scope::Level(b, l), Scope::Level(into, level)));
        for (at, &c) in clips.iter().enumerate() {
            self.clips.push(Scope::Clip(into, level, at));
            places.push((Scope::Clip(b, l, c), Scope::Clip(into, level, at)));
        }
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
