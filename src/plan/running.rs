//! A running order ready to be rendered: the show as it stands in each of its sections.

use super::Path;
use crate::beat::Moment;
use crate::footage::{FootageError, Shelf};
use crate::show::running::Standing;
use crate::show::{RunningOrder, Scope, Show};

/// A running order, and the show as it stands in each section that it comes to. The clock runs on through all of it: a
/// section shows what the show shows that stands so since the start.
#[derive(Debug, Clone)]
pub struct Running {
    order: RunningOrder,
    /// One for each leg.
    stands: Vec<Show>,
}

impl Running {
    /// `stands` gives the show as it stands in a section.
    ///
    /// # Errors
    /// Those of `stands`.
    pub fn of<E>(order: RunningOrder, mut stands: impl FnMut(usize) -> Result<Show, E>) -> Result<Self, E> {
        let stands = order.legs.iter().map(|leg| stands(leg.section)).collect::<Result<_, E>>()?;
        Ok(Self { order, stands })
    }

    pub fn order(&self) -> &RunningOrder {
        &self.order
    }

    /// The show as it stands in each leg.
    pub fn stands(&self) -> &[Show] {
        &self.stands
    }

    /// The output at a moment; `with_past` with the frames that lead up to it.
    ///
    /// # Errors
    /// [`FootageError`] if a clip's footage cannot be shown.
    pub fn path(&self, moment: Moment, with_past: bool, shelf: &mut Shelf) -> Result<Path, FootageError> {
        match self.order.at(moment.beats) {
            Standing::Alone(leg) => {
                let show = &self.stands[leg];
                match with_past {
                    true => Path::of_scope(show, Scope::Global, moment, shelf),
                    false => Path::of_scope_alone(show, Scope::Global, moment, shelf),
                }
            }
            Standing::Coming(leg, _) => {
                let [from, to] = [&self.stands[leg - 1], &self.stands[leg]];
                let share = |moment: &Moment| self.order.share(leg, moment.beats);
                Path::of_fade(&[(from, 1.0)], to, share, moment, with_past, shelf)
            }
        }
    }

    /// Which frames belong together: what is remembered is carried on from one to the next of the same stretch, and
    /// looked back at anew where another begins.
    pub fn stretch(&self, beats: f64) -> usize {
        match self.order.at(beats) {
            Standing::Coming(leg, _) => 2 * leg,
            Standing::Alone(leg) => 2 * leg + 1,
        }
    }
}
