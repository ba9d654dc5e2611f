//! What is asked of the prover: the orders of what is shown, their looks and their pairs.

use std::sync::Arc;

use super::Desk;
use crate::base::frame::Frame;
use crate::beat::Moment;
use crate::gpu::Gpu;
use crate::plan::{self, memory};
use crate::show::Show;
use crate::window::pictures::Pictures;
use crate::window::showing::Tab;
use crate::window::threads::prover::LookQuestion;

/// Memory in which looks are told apart on the show's own frame, in MiB; a larger frame is shrunk to what fits.
const LOOKS_MOST_MIB: u64 = 1024;
/// The largest frame on which a software adapter tells them apart; one picture of a larger keeps the window waiting.
const SOFTWARE_LOOKS: Frame = Frame { width: 1920, height: 1080 };

impl Desk {
    /// Asks about the orders of a path, and of them what the open tab shows; gives whether they are known. While time
    /// goes on, nothing is asked about: the wall keeps the orders of the moment at which it was held.
    pub(super) fn ask_of_orders(
        &mut self,
        show: &Arc<Show>,
        path: Option<&Arc<plan::Path>>,
        whole: Moment,
    ) -> bool {
        let Self { view, pictures, prover, .. } = self;
        let Some(path) = path.filter(|path| !view.playing && prover.known(path).is_some()) else {
            return false;
        };
        // The table shows pairs before it shows how much hangs on them.
        if view.tab == Tab::Swaps && self.wants_pairs {
            prover.look_at_pairs();
        }
        // What the wall shows of several pieces is judged by itself.
        let is_of_wall = view.tab == Tab::Orders && view.basis.is_plain();
        if is_of_wall || view.tab == Tab::Swaps {
            let of_output = view.wall_of_output;
            let question = || {
                let moment = looked_at(pictures, path, whole);
                if pictures.stands_in(show, view.scope, moment) {
                    return None;
                }
                let path = pictures.path(show, view.scope, moment)?;
                let path = if of_output {
                    path
                } else {
                    Arc::new(plan::Path { after: Vec::new(), ..(*path).clone() })
                };
                Some(LookQuestion { path, of_output })
            };
            prover.look_for_looks(question, of_output);
        }
        if self.wants_pairs {
            prover.look_at_pairs();
        }
        true
    }
}

/// The moment at the size at which orders of a path are looked at: as a command does, as edges and blur of a smaller frame
/// would be others.
pub(super) fn looked_at(pictures: &Pictures, path: &plan::Path, whole: Moment) -> Moment {
    let (effects, after) = (path.chain.len(), path.after.len());
    let is_software = pictures.gpu().is_some_and(Gpu::is_software);
    let frame = if is_software { whole.frame.within(SOFTWARE_LOOKS) } else { whole.frame };
    let frame = memory::frame_for_orders(effects, after, frame, whole.pixels, LOOKS_MOST_MIB);
    Moment { frame, ..whole }
}
