//! The wall: one sheet that shows every order of a chain that can differ.
//!
//! Each picture stands over its caption: its order code, the effects as a row of
//! chips in the order applied (left is under, right is over), and the same in
//! words. The header is the key to the chips. Nothing here knows how the
//! pictures were made.

mod composer;
mod families;
mod grid;
mod header;
mod layout;
mod pieces;
mod spread;

use image::RgbaImage;
use thiserror::Error;

use crate::base::coding::ColourCode;
use crate::base::doing::doing;
use crate::drawing::FaceError;

pub use crate::explore::matters::Word;
pub use composer::Cell;
pub use grid::{TileGrid, sized, tile_size};
pub use layout::Layout;
pub use pieces::{Column, HeatRow, PiecesGrid, Row, Section, most_rows, piece_grid};
pub use spread::{Captioned, Spread};

/// The longest side of a sheet, in texels: what graphics cards and picture viewers commonly take
/// (common practice, no source).
pub const LONGEST_SIDE: u32 = 16_384;

/// What a wall shows.
#[derive(Debug, Clone, Default)]
pub struct Wall {
    /// The name of the chain.
    pub title: String,
    /// The first thing to know, in a sentence.
    pub answer: Option<String>,
    /// What decides, with what each question adds.
    pub questions: Vec<Asked>,
    /// What was counted and on which footage, one fact a line.
    pub facts: Vec<Striped>,
    /// The chain in the file's order: the key to the chips.
    pub effects: Vec<EffectKey>,
    /// The pictures, in the order in which they are shown.
    pub tiles: Vec<Tile>,
    /// The families that the pictures make, in turn; none where they stand in one grid.
    pub families: Vec<Group>,
    /// What else has to be known, such as how many orders are not shown.
    pub notes: Vec<String>,
    /// A warning that must be read, such as of flashing light.
    pub caution: Option<String>,
}

/// Words in turn: the names among them that a person gave a colour, each behind its stripe.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Striped(pub Vec<(Option<ColourCode>, String)>);

impl Striped {
    /// Words that begin with the name of what has this colour.
    pub fn of(colour: Option<ColourCode>, words: impl Into<String>) -> Self {
        Self(vec![(colour, words.into())])
    }

    /// These words, and then others.
    pub fn then(mut self, words: impl Into<String>) -> Self {
        self.0.push((None, words.into()));
        self
    }

    /// The words alone.
    pub fn words(&self) -> String {
        self.0.iter().map(|(_, words)| words.as_str()).collect()
    }
}

impl<T: Into<String>> From<T> for Striped {
    fn from(words: T) -> Self {
        Self::of(None, words)
    }
}

/// A question that decides something.
#[derive(Debug, Clone, Default)]
pub struct Asked {
    /// What it takes away of all that order does, 0 to 1; shares add up.
    pub share: f64,
    /// The same in words.
    pub said: String,
    pub question: Vec<Word>,
    /// What has to be known of it beside.
    pub remark: Option<String>,
}

/// Pictures that belong together: the first stands for all of them.
#[derive(Debug, Clone, Default)]
pub struct Group {
    /// What holds for them.
    pub heading: Vec<Word>,
    /// What else is known of them, one fact a line.
    pub lines: Vec<String>,
    /// How many of the wall's tiles are theirs, behind those of the groups before.
    pub tiles: usize,
}

/// One effect in the key.
#[derive(Debug, Clone, Default)]
pub struct EffectKey {
    /// The effect's name.
    pub label: String,
    /// Its mark, the numeral of its chip.
    pub mark: u32,
    /// Its settings in short, or nothing.
    pub settings: String,
    /// Why it changes nothing here, if so.
    pub idle: Option<String>,
}

/// One picture of the wall.
#[derive(Debug, Clone)]
pub struct Tile {
    /// The picture with straight alpha, sRGB-encoded; shown texel for texel.
    pub picture: RgbaImage,
    /// The effects, first applied first, by their places in [`Wall::effects`] from 0.
    pub order: Vec<usize>,
    /// The order's code, which stands under the picture.
    pub code: String,
    /// A line about this picture alone.
    pub note: Option<String>,
}

/// Why a wall was not drawn.
#[derive(Debug, Error, PartialEq, Eq)]
pub enum WallError {
    /// No picture was given.
    #[error("a wall of no pictures; at least 1 is needed")]
    NoTiles,
    /// A picture of no texels.
    #[error("{}holds no pixels; every picture needs at least 1x1", match .tile {
        Some(number) => format!("picture {number} of the wall "),
        None => "a picture for the wall ".to_owned(),
    })]
    EmptyPicture {
        /// The picture's number, where it has one.
        tile: Option<usize>,
    },
    /// An order names an effect that the chain does not have.
    #[error("picture {tile} of the wall names effect {place}, but the chain has {effects}")]
    UnknownEffect {
        /// The picture's number.
        tile: usize,
        /// The effect's place, from 1.
        place: usize,
        /// How many effects there are.
        effects: usize,
    },
    /// The sheet would be too large to write or to look at.
    #[error(
        "the wall would be {width}x{height} pixels, but a side may have at most {LONGEST_SIDE}; \
         show fewer than {tiles} pictures, or smaller ones than {tile_width}x{tile_height}"
    )]
    TooLarge {
        /// Texels across the sheet.
        width: u64,
        /// Texels down the sheet.
        height: u64,
        /// Pictures on it.
        tiles: usize,
        /// Texels across the widest picture.
        tile_width: u32,
        /// Texels down the tallest picture.
        tile_height: u32,
    },
    /// A picture could not be made smaller.
    #[error("a picture could not be brought to the size of the wall's pictures: {reason}")]
    Shrink {
        /// What the resizer said.
        reason: String,
    },
    /// A typeface inside the program could not be read.
    #[error(transparent)]
    Face(#[from] FaceError),
}

impl Wall {
    /// The sheet: opaque, sRGB-encoded.
    ///
    /// # Errors
    /// As [`Wall::layout`].
    pub fn drawn(&self) -> Result<RgbaImage, WallError> {
        let _doing = doing("drawing the wall");
        layout::drawn(self)
    }

    /// Where everything stands on the sheet.
    ///
    /// # Errors
    /// [`WallError`] for no pictures, for a picture without texels, for an order that names an effect
    /// which is not there, and for a sheet longer than [`LONGEST_SIDE`].
    pub fn layout(&self) -> Result<Layout, WallError> {
        layout::composed(self).map(|(layout, _, _)| layout)
    }
}
