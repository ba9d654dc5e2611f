//! What is to be recorded of a plan.

use crate::beat::Moment;
use crate::plan::{Slot, Step};

/// Steps to record at a moment.
#[derive(Debug, Clone, Copy)]
pub(super) struct Due<'a> {
    pub(super) steps: &'a [Step],
    /// Where it is given, only these are recorded.
    pub(super) needed: Option<&'a [bool]>,
    pub(super) moment: &'a Moment,
    /// The slots that are kept; others are let go of after their last use.
    pub(super) keep: &'a [Slot],
}
