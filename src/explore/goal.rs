//! What is wished of a picture, and its figure.

use crate::base::picture::Picture;
use crate::base::words::words;
use crate::measure::{Trait, Traits};

words! {
    /// What is wished of a picture.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub enum Goal {
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
    pub fn is_least(self) -> bool {
        matches!(self, Self::LeastChanged | Self::Darkest | Self::Like)
    }

    /// What its figure is.
    pub fn figure(self) -> &'static str {
        match self {
            Self::MostChanged | Self::LeastChanged => "mean CIEDE2000 from the footage",
            Self::Brightest | Self::Darkest => "mean luminance",
            Self::MostEdges => "mean steepness",
            Self::MostColour => "mean chroma",
            Self::Like => "mean CIEDE2000 from the picture wished",
        }
    }

    /// Whether its figure is a difference from another picture.
    pub fn is_difference(self) -> bool {
        matches!(self, Self::MostChanged | Self::LeastChanged | Self::Like)
    }

    /// What is looked at of one picture alone; of a goal that is a difference, how bright it is.
    pub fn wanted(self) -> Trait {
        match self {
            Self::MostEdges => Trait::Edges,
            Self::MostColour => Trait::Colour,
            _ => Trait::Brightness,
        }
    }

    /// Its figure of one picture alone.
    pub fn trait_of(self, picture: &Picture) -> f64 {
        Traits::of(picture).get(self.wanted())
    }
}
