//! A show with its clips in turn: what a chain lies on while another clip shows.

use super::{Clip, ClipPlace, Scope, Show};
use crate::show::clip::FootageName;

/// The show with one of its clips showing.
#[derive(Debug, Clone, PartialEq)]
pub struct InTurn {
    /// What to call it: the clip's name, with its level's where several levels have clips to choose from.
    pub name: String,
    /// The clip; none where every clip that can be chosen stands as it did.
    pub clip: Option<ClipPlace>,
    pub show: Show,
}

impl Show {
    /// The show with each clip of a scope in turn: brought to show on its level, with all else as it is; on the scope of
    /// a clip, where the chain belongs to that clip alone, each clip of its level stands in for its footage. Hidden clips are passed over. Once as the
    /// show stands, where no level has a clip to choose.
    pub fn clips_in_turn(&self, scope: Scope) -> Vec<InTurn> {
        if let Scope::Clip(bundle, level, own) = scope {
            let clips = &self.bundles[bundle].levels[level].clips;
            let stands_in = |at: usize| {
                let mut show = self.clone();
                let from = &clips[at];
                let on = &mut show.bundles[bundle].levels[level];
                on.showing = own;
                let into = &mut on.clips[own];
                (into.footage, into.fit, into.play) = (from.footage.clone(), from.fit, from.play);
                let clip = Some(ClipPlace { bundle, level, clip: at });
                InTurn { name: from.name.clone(), clip, show }
            };
            return (0..clips.len()).filter(|&at| at == own || !clips[at].hidden).map(stands_in).collect();
        }
        let levels = (0..self.bundles.len())
            .flat_map(|b| (0..self.bundles[b].levels.len()).map(move |l| (b, l)))
            .filter(|&(b, l)| match scope {
                Scope::Global => !self.lies_hidden(Scope::Level(b, l)),
                Scope::Bundle(bundle) => b == bundle && !self.is_hidden(Scope::Level(b, l)),
                Scope::Level(bundle, level) | Scope::Clip(bundle, level, _) => (b, l) == (bundle, level),
            });
        let is_taken = |clip: &Clip| !clip.hidden;
        let chosen: Vec<(usize, usize)> = levels
            .filter(|&(b, l)| {
                self.bundles[b].levels[l].clips.iter().filter(|clip| is_taken(clip)).count() > 1
            })
            .collect();
        let as_it_stands =
            || InTurn { name: "as the show stands".to_owned(), clip: None, show: self.clone() };
        let mut turns = if chosen.len() == 1 { Vec::new() } else { vec![as_it_stands()] };
        for &(bundle, level) in &chosen {
            let of = &self.bundles[bundle].levels[level];
            for (clip, named) in of.clips.iter().enumerate().filter(|(_, clip)| is_taken(clip)) {
                // As the show stands is one turn, not one for each level.
                if chosen.len() > 1 && clip == of.showing {
                    continue;
                }
                let mut show = self.clone();
                show.bundles[bundle].levels[level].showing = clip;
                let name = match chosen.len() {
                    1 => named.name.clone(),
                    _ => format!("{}/{}", of.name, named.name),
                };
                turns.push(InTurn { name, clip: Some(ClipPlace { bundle, level, clip }), show });
            }
        }
        turns
    }
}

impl InTurn {
    /// What its clip shows, if it is about one.
    pub fn footage<'a>(&self, of: &'a Show) -> Option<&'a FootageName> {
        Some(&of.clip(self.clip?)?.footage)
    }
}
