//! On what orders are judged: which footage, over how long, and for which wish.

use crate::base::words::words;
use crate::explore::Goal;
use crate::explore::wish::By;

words! {
    /// On which footage orders are judged.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    pub enum On {
        /// The clip of the path.
        #[default]
        Clip = "this clip",
        /// Every clip of the scope in turn.
        Clips = "every clip",
        /// Footage that the person names, in place of the clip's own.
        Named = "other footage",
    }
}

/// On what orders are judged.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Basis {
    pub on: On,
    /// Files, folders and patterns that the person named, as they were written.
    pub named: Vec<String>,
    /// Over so many beats; otherwise at the moment at which the beat is held.
    pub over: Option<f64>,
    /// What the best order is best for.
    pub wish: Option<Goal>,
    pub by: By,
    /// Whether the person has stopped it.
    pub is_stopped: bool,
}

impl Basis {
    /// Whether it is the clip of the path at one moment, and no more: what the wall shows anyway.
    pub fn is_plain(&self) -> bool {
        self.on == On::Clip && self.over.is_none() && self.wish.is_none()
    }

    /// Whether nothing is named yet to judge on.
    pub fn lacks_footage(&self) -> bool {
        self.on == On::Named && self.named.is_empty()
    }

    /// Whether the same is asked for.
    pub fn asks_the_same(&self, other: &Self) -> bool {
        let named = |basis: &Self| (basis.on == On::Named).then(|| basis.named.clone());
        (self.on, self.over, self.wish, self.by) == (other.on, other.over, other.wish, other.by)
            && named(self) == named(other)
    }

    /// With more footage named, which is judged on from now on.
    pub fn with(&self, more: impl IntoIterator<Item = String>) -> Self {
        let mut basis = Self { on: On::Named, is_stopped: false, ..self.clone() };
        for one in more {
            if !basis.named.contains(&one) {
                basis.named.push(one);
            }
        }
        basis
    }
}
