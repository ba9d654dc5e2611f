//! Footage: where the pictures under all effects come from.

/// How footage of another size is placed in the frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Fit {
    /// As large as covers the frame, the rest cut off.
    #[default]
    Fill,
    /// As large as fits in the frame, the rest transparent.
    Fit,
    /// Both sides to the frame's, proportions lost.
    Stretch,
    /// Texel for texel in the middle.
    Centre,
}

impl Fit {
    /// Every way, the default first.
    pub const ALL: [Self; 4] = [Self::Fill, Self::Fit, Self::Stretch, Self::Centre];

    /// The word used in files and on the command line.
    pub fn name(self) -> &'static str {
        match self {
            Self::Fill => "fill",
            Self::Fit => "fit",
            Self::Stretch => "stretch",
            Self::Centre => "centre",
        }
    }

    /// The way with this name.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|fit| fit.name() == name)
    }
}
