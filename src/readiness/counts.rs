//! What was counted of shows while a command runs, so that those that play alike are counted once.

use super::cost::Cost;
use super::flashing::{self, Doing, Flashing, Watch};
use crate::footage::Shelf;
use crate::gpu::{RenderError, Renderer};
use crate::show::Show;

/// Flashes and costs that are known, each with the show that they are of.
#[derive(Debug, Default)]
pub struct Counts {
    flashes: Vec<(Show, Watch, Flashing)>,
    costs: Vec<(Show, Cost)>,
}

/// A show without what cannot be seen in its output.
fn as_it_plays(show: &Show) -> Show {
    Show {
        name: String::new(),
        about: String::new(),
        tags: Vec::new(),
        sections: Vec::new(),
        running_order: Vec::new(),
        taken: Vec::new(),
        ..show.clone()
    }
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
