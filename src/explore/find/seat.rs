//! Where in a show a chain is tried: on its own scope, or on others over what stands there.

use crate::beat::Moment;
use crate::footage::{FootageError, Shelf};
use crate::order::MOST_EFFECTS;
use crate::plan::Path;
use crate::show::chain::{Chain, EffectUse};
use crate::show::{Scope, Show};

/// A show with a chain on one of the scopes that it is tried on, and nowhere else.
#[derive(Debug)]
pub struct Seat {
    show: Show,
    scope: Scope,
    /// Effects that stand there under it.
    under: usize,
}

/// The scopes that a show's chain may sit on: its own, and with every other one all whose pictures are in the output and
/// whose chains have room.
pub fn scopes(show: &Show, home: Scope, every: bool) -> Vec<Scope> {
    let own = show.chain(home).len();
    let is_tried = |&scope: &Scope| {
        scope == home || every && show.shows(scope) && show.chain(scope).len() + own <= MOST_EFFECTS
    };
    show.scopes().into_iter().filter(is_tried).collect()
}

impl Seat {
    /// A chain, which stands on `home`, on a scope.
    pub fn new(show: &Show, home: Scope, scope: Scope, chain: &[EffectUse]) -> Self {
        let mut show = show.clone();
        show.chain_mut(home).clear();
        let there: &mut Chain = show.chain_mut(scope);
        let under = there.len();
        there.extend(chain.iter().cloned());
        Self { show, scope, under }
    }

    /// The path of its scope, whose own chain is what stands there under the one that is tried.
    ///
    /// # Errors
    /// [`FootageError`] where footage cannot be shown.
    pub fn path(&self, moment: Moment, shelf: &mut Shelf) -> Result<Path, FootageError> {
        Path::of_scope(&self.show, self.scope, moment, shelf)
    }

    /// The same without the chain itself.
    pub fn under(&self, path: &Path) -> Path {
        path.reordered(&(0..self.under).collect::<Vec<_>>())
    }
}
