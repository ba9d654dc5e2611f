//! A wish: orders ranked by how near their pictures come to a goal.

use crate::exploration::Exploration;
use crate::footage::Picture;
use crate::gpu::{Against, Budget, GpuError, Measure, Renderer, Want};
use crate::measure::Traits;
use crate::plan::Path;

/// What is wished of a picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Goal {
    MostChanged,
    LeastChanged,
    Brightest,
    Darkest,
    MostEdges,
    MostColour,
    Like,
}

impl Goal {
    pub(super) const ALL: [Self; 7] = [
        Self::MostChanged,
        Self::LeastChanged,
        Self::Brightest,
        Self::Darkest,
        Self::MostEdges,
        Self::MostColour,
        Self::Like,
    ];

    /// The word on the command line.
    pub(super) fn name(self) -> &'static str {
        match self {
            Self::MostChanged => "most-changed",
            Self::LeastChanged => "least-changed",
            Self::Brightest => "brightest",
            Self::Darkest => "darkest",
            Self::MostEdges => "most-edges",
            Self::MostColour => "most-colour",
            Self::Like => "like",
        }
    }

    pub(super) fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|goal| goal.name() == name)
    }

    /// Whether small figures are near the goal.
    fn is_least(self) -> bool {
        matches!(self, Self::LeastChanged | Self::Darkest | Self::Like)
    }

    /// What the figure is.
    fn figure(self) -> &'static str {
        match self {
            Self::MostChanged | Self::LeastChanged => "mean CIEDE2000 from the footage",
            Self::Brightest | Self::Darkest => "mean luminance",
            Self::MostEdges => "mean steepness",
            Self::MostColour => "mean chroma",
            Self::Like => "mean CIEDE2000 from the picture wished",
        }
    }
}

/// Every order's figure and rank.
pub(super) struct Wish {
    pub(super) goal: Goal,
    /// For each class, its figure.
    pub(super) values: Vec<f64>,
    /// The classes, the nearest to the goal first.
    pub(super) order: Vec<usize>,
}

impl Wish {
    /// Differences are measured on whole pictures; traits at the size at which looks are told apart.
    pub(super) fn of(
        goal: Goal,
        renderer: &mut Renderer,
        path: &Path,
        explored: &Exploration,
        like: Option<&Picture>,
        budget: Budget,
    ) -> Result<Self, GpuError> {
        let against = match (goal, like) {
            (Goal::MostChanged | Goal::LeastChanged, _) => Some(Against::Order(&[])),
            (Goal::Like, Some(picture)) => Some(Against::Picture(picture)),
            _ => None,
        };
        let values: Vec<f64> = if against.is_some() {
            let measure = Measure { against, gallery: None };
            let tree = explored.orders.tree();
            let (finished, _) =
                renderer.explore_and_measure(path, &tree, Want::Figures, measure, budget, |_| {})?;
            finished.iter().map(|finished| finished.difference.map_or(0.0, |d| d.mean)).collect()
        } else {
            let trait_of = |picture: &Picture| {
                let traits = Traits::of(picture);
                match goal {
                    Goal::MostEdges => traits.edges,
                    Goal::MostColour => traits.colour,
                    _ => traits.brightness,
                }
            };
            renderer.hung(&explored.galleries[0], usize::MAX)?.iter().map(trait_of).collect()
        };
        let mut order: Vec<usize> = (0..values.len()).collect();
        // Equal figures stay in the order of their numbers.
        order.sort_by(|&a, &b| {
            let rising = values[a].total_cmp(&values[b]);
            if goal.is_least() { rising } else { rising.reverse() }
        });
        Ok(Self { goal, values, order })
    }

    /// 1 for the nearest to the goal.
    pub(super) fn rank(&self, class: usize) -> usize {
        self.order.iter().position(|&other| other == class).map_or(0, |at| at + 1)
    }

    /// "mean luminance 0.431".
    pub(super) fn said(&self, class: usize) -> String {
        format!("{} {:.3}", self.goal.figure(), self.values[class])
    }
}
