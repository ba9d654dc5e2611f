//! One way in which a show is played while its flashes are counted.

use super::played::Played;
use crate::plan::Running;
use crate::show::Show;

/// A show, and how its controls are played.
#[derive(Debug, Clone, Copy)]
pub(super) struct Way<'a> {
    pub(super) show: &'a Show,
    pub(super) played: Option<&'a Played>,
    /// The running order that is played in place of the show, once.
    pub(super) running: Option<&'a Running>,
}

impl<'a> Way<'a> {
    pub(super) fn of(show: &'a Show, played: Option<&'a Played>) -> Self {
        Self { show, played, running: None }
    }
}
