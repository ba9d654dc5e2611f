//! A wish: orders ranked by how near their pictures come to a goal.

use crate::base::picture::Picture;
use crate::base::words::words;
use crate::explore::Exploration;
use crate::gpu::{Against, Budget, GpuError, Measure, Renderer, Want};
use crate::measure::Traits;
use crate::plan::Path;

words! {
    /// What is wished of a picture.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub(super) enum Goal {
        MostChanged = "most-changed",
        LeastChanged = "least-changed",
        Brightest = "brightest",
        Darkest = "darkest",
        MostEdges = "most-edges",
        MostColour = "most-colour",
        Like = "like",
    }
}

impl Goal {
    /// Whether small figures are near the goal.
    fn is_least(self) -> bool {
        matches!(self, Self::LeastChanged | Self::Darkest | Self::Like)
    }

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

/// Digits after the point of a figure, as few and as many as there may be.
const LEAST_DIGITS: usize = 3;
const MOST_DIGITS: usize = 6;

/// Every order's figure and rank.
pub(super) struct Wish {
    pub(super) goal: Goal,
    /// For each class, its figure.
    pub(super) values: Vec<f64>,
    /// The classes, the nearest to the goal first.
    pub(super) order: Vec<usize>,
    /// For each class, its rank.
    ranks: Vec<usize>,
    /// Digits after the point of a figure.
    digits: usize,
}

/// Digits after the point that tell neighbours of ranked figures apart, where they are not equal.
fn digits(ranked: &[f64]) -> usize {
    let tells = |digits: usize| {
        let mut unlike = ranked.windows(2).filter(|pair| pair[0] != pair[1]);
        unlike.all(|pair| format!("{:.digits$}", pair[0]) != format!("{:.digits$}", pair[1]))
    };
    (LEAST_DIGITS..MOST_DIGITS).find(|&digits| tells(digits)).unwrap_or(MOST_DIGITS)
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
            renderer
                .hung(&explored.galleries[0], 0..explored.orders.classes.len())?
                .iter()
                .map(trait_of)
                .collect()
        };
        let mut order: Vec<usize> = (0..values.len()).collect();
        // Equal figures stay in the order of their numbers.
        order.sort_by(|&a, &b| {
            let rising = values[a].total_cmp(&values[b]);
            if goal.is_least() { rising } else { rising.reverse() }
        });
        let mut ranks = vec![0; values.len()];
        order.iter().zip(1..).for_each(|(&class, rank)| ranks[class] = rank);
        let digits = digits(&order.iter().map(|&class| values[class]).collect::<Vec<_>>());
        Ok(Self { goal, values, order, ranks, digits })
    }

    /// 1 for the nearest to the goal.
    pub(super) fn rank(&self, class: usize) -> usize {
        self.ranks[class]
    }

    /// "rank 7, mean luminance 0.431", with as many digits as tell the figures of all ranks apart.
    pub(super) fn rank_said(&self, class: usize) -> String {
        let (rank, figure, value) = (self.rank(class), self.goal.figure(), self.values[class]);
        format!("rank {rank}, {figure} {value:.*}", self.digits)
    }
}
