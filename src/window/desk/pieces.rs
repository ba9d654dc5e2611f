//! What is asked of the orders on pieces of footage that the person chose.

use std::sync::Arc;

use egui::Context;

use super::Desk;
use super::orders::looked_at;
use crate::beat::Moment;
use crate::plan;
use crate::show::{Scope, Show};
use crate::window::showing::Tab;
use crate::window::threads::pieces::{PiecesJudge, PiecesQuestion};
use crate::window::threads::prover::Known;

impl Desk {
    /// Has the orders of a path judged on what the person chose, while the wall shows them; gives what is known. What is
    /// known stays while time goes on, and nothing is asked then.
    pub(super) fn ask_of_pieces(
        &mut self,
        show: &Arc<Show>,
        path: Option<&Arc<plan::Path>>,
        whole: Moment,
        ctx: &Context,
    ) -> Option<Arc<Known>> {
        let view = &self.view;
        let path = path.filter(|path| !view.basis.is_plain() && !view.playing && path.chain.len() > 1);
        let (Some(path), Tab::Orders) = (path, view.tab) else {
            if let Some(judge) = &mut self.judge {
                judge.leave();
            }
            return None;
        };
        if self.judge.is_none() {
            let gpu = self.pictures.gpu()?.sibling();
            let ctx = ctx.clone();
            self.judge = Some(PiecesJudge::new(gpu, self.catalogue.clone(), move || ctx.request_repaint()));
        }
        let of_output = view.wall_of_output || view.scope == Scope::Global;
        let question = PiecesQuestion {
            basis: view.basis.clone(),
            show: Arc::clone(show),
            scope: view.scope,
            clip: view.clip,
            moment: looked_at(&self.pictures, path, whole),
            of_output,
            path: Arc::clone(path),
        };
        self.judge.as_mut()?.known(question).cloned()
    }
}
