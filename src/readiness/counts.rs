//! What was counted of shows while a command runs, so that those that play alike are counted once.

use super::cost::Cost;
use super::flashing::{self, Doing, Flashing, Watch};
use crate::footage::Shelf;
use crate::gpu::{RenderError, Renderer};
use crate::show::{Show, Target};

/// Flashes and costs that are known, each with the show that they are of.
#[derive(Debug, Default)]
pub struct Counts {
    flashes: Vec<(Show, Watch, Flashing)>,
    costs: Vec<(Show, Cost)>,
}

/// A show without what cannot be seen in its output.
pub(super) fn as_it_plays(show: &Show) -> Show {
    Show {
        name: String::new(),
        about: String::new(),
        venue: String::new(),
        tags: Vec::new(),
        sections: Vec::new(),
        running_order: Vec::new(),
        taken: Vec::new(),
        // Which section a control calls is another picture altogether.
        held: show.held.iter().filter(|(target, _)| *target != Target::Section).cloned().collect(),
        ..show.clone()
    }
}

/// Whether two shows look and are played alike at every frame.
pub fn plays_alike(a: &Show, b: &Show) -> bool {
    as_it_plays(a) == as_it_plays(b)
}

impl Counts {
    /// What flashes in a show, as [`flashing::looked_over`] finds it.
    ///
    /// # Errors
    /// [`RenderError`] where footage or the GPU fails.
    pub fn flashes(
        &mut self,
        renderer: &mut Renderer,
        shelf: &mut Shelf,
        show: &Show,
        watch: &Watch,
        mut tell: impl FnMut(&Doing<'_>),
    ) -> Result<Flashing, RenderError> {
        let plays = as_it_plays(show);
        let is_it = |(known, of, _): &&(Show, Watch, Flashing)| *known == plays && of == watch;
        if let Some((.., found)) = self.flashes.iter().find(is_it) {
            return Ok(found.clone());
        }
        let found = flashing::looked_over(renderer, shelf, show, watch, |doing| {
            tell(doing);
            true
        })?;
        self.flashes.push((plays, *watch, found.clone()));
        Ok(found)
    }

    /// What a frame of a show costs, as [`Cost::of`] measures it.
    ///
    /// # Errors
    /// [`RenderError`] where footage or the GPU fails.
    pub fn cost(
        &mut self,
        renderer: &mut Renderer,
        shelf: &mut Shelf,
        show: &Show,
    ) -> Result<Cost, RenderError> {
        let plays = as_it_plays(show);
        if let Some((_, cost)) = self.costs.iter().find(|(known, _)| *known == plays) {
            return Ok(cost.clone());
        }
        let cost = Cost::of(renderer, shelf, show)?;
        self.costs.push((plays, cost.clone()));
        Ok(cost)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::show::{Bundle, Clip, Level, Scope, Section};

    #[test]
    fn sections_that_differ_in_nothing_that_is_seen_play_alike() {
        let level = Level::of("sea", Clip::generated("waves"));
        let mut show = Show::around(Vec::new(), Vec::new());
        show.bundles = vec![Bundle::of("picture", vec![level])];
        let noted = Section { note: "lamps up".to_owned(), beats: Some(8.0), ..Section::of("quay") };
        let mut dim = Section::of("water");
        dim.opacity.insert(Scope::Bundle(0), 0.5);
        let named = Show { venue: "the pier".to_owned(), sections: vec![noted.clone()], ..show.clone() };
        assert!(plays_alike(&show, &named.standing(&noted)));
        assert!(!plays_alike(&show, &show.standing(&dim)));
        assert!(!plays_alike(&show, &Show { tempo_bpm: 90.0, ..show.clone() }));
    }
}
