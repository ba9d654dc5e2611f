//! Colours by which a person tells things apart: of a palette that most eyes tell apart, or of their own choice.

use std::fmt;
use std::str::FromStr;

use serde::{Serialize, Serializer};

use super::colour::Colour;
use super::place::listed;
use super::words::words;

words! {
    /// The palette of Okabe and Ito, "Color Universal Design" (2002, revised 2008), under its own names; black last,
    /// because it is the hardest to see on a dark ground.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
    pub enum OkabeIto {
        /// Orange.
        Orange = "orange",
        /// Sky blue.
        SkyBlue = "sky-blue",
        /// Bluish green.
        BluishGreen = "bluish-green",
        /// Yellow.
        Yellow = "yellow",
        /// Blue.
        Blue = "blue",
        /// Vermilion.
        Vermilion = "vermilion",
        /// Reddish purple.
        ReddishPurple = "reddish-purple",
        /// Black.
        Black = "black",
    }
}

impl OkabeIto {
    /// Its sRGB bytes.
    pub const fn colour(self) -> Colour {
        Colour(match self {
            Self::Orange => [0xe6, 0x9f, 0x00],
            Self::SkyBlue => [0x56, 0xb4, 0xe9],
            Self::BluishGreen => [0x00, 0x9e, 0x73],
            Self::Yellow => [0xf0, 0xe4, 0x42],
            Self::Blue => [0x00, 0x72, 0xb2],
            Self::Vermilion => [0xd5, 0x5e, 0x00],
            Self::ReddishPurple => [0xcc, 0x79, 0xa7],
            Self::Black => [0x00, 0x00, 0x00],
        })
    }
}

/// The colour that a person gave a thing, as it was written: a name of [`OkabeIto`], or `#rrggbb`. It never stands
/// alone: the thing's name is beside it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ColourCode {
    Named(OkabeIto),
    Free(Colour),
}

impl ColourCode {
    /// What is one, in words.
    pub fn allowed() -> String {
        format!("one of {}, or a colour such as `#ff8c33`", listed(OkabeIto::ALL.map(OkabeIto::name)))
    }

    pub fn colour(self) -> Colour {
        match self {
            Self::Named(named) => named.colour(),
            Self::Free(colour) => colour,
        }
    }
}

impl Serialize for ColourCode {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl fmt::Display for ColourCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Named(named) => f.write_str(named.name()),
            Self::Free(colour) => colour.fmt(f),
        }
    }
}

impl FromStr for ColourCode {
    type Err = ();

    fn from_str(text: &str) -> Result<Self, ()> {
        OkabeIto::named(text).map(Self::Named).map_or_else(|| text.parse().map(Self::Free), Ok)
    }
}
