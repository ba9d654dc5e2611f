//! What a show says of itself, and what all of it is rendered by.

use super::error::EditError;
use crate::base::frame::{Frame, LARGEST_SIDE, PixelMode};
use crate::beat::FrameRate;
use crate::show::Show;
use crate::show::name::check_name;

/// What a show says of itself, its size, rate and pixel mode: changed as one step.
#[derive(Debug, Clone, PartialEq)]
pub struct About {
    pub name: String,
    pub about: String,
    pub tags: Vec<String>,
    pub venue: String,
    pub frame: Frame,
    pub rate: FrameRate,
    pub pixels: PixelMode,
}

impl About {
    /// That of a show as it is.
    pub fn of(show: &Show) -> Self {
        Self {
            name: show.name.clone(),
            about: show.about.clone(),
            tags: show.tags.clone(),
            venue: show.venue.clone(),
            frame: show.frame,
            rate: show.rate,
            pixels: show.pixels,
        }
    }

    /// What the step is called: by what it changes.
    pub(super) fn step(&self, show: &Show) -> String {
        let before = Self::of(show);
        let changed: Vec<String> = [
            (self.name != before.name).then(|| format!("Rename to {}", self.name)),
            (self.about != before.about).then(|| "About the show".to_owned()),
            (self.tags != before.tags).then(|| "Tags".to_owned()),
            (self.venue != before.venue).then(|| format!("Venue {}", self.venue)),
            (self.frame != before.frame).then(|| format!("Frame {}", self.frame)),
            (self.rate != before.rate).then(|| format!("{} frames per second", self.rate)),
            (self.pixels != before.pixels).then(|| format!("Pixels {}", self.pixels.name())),
        ]
        .into_iter()
        .flatten()
        .collect();
        if changed.is_empty() { "About the show".to_owned() } else { changed.join(", ") }
    }

    pub(super) fn apply(&self, show: &mut Show) -> Result<(), EditError> {
        check_name(&self.name)?;
        for tag in &self.tags {
            check_name(tag).map_err(|fault| EditError::Name(format!("the tag `{tag}` {fault}")))?;
        }
        if !self.venue.is_empty() {
            check_name(&self.venue).map_err(|fault| EditError::Name(format!("the venue {fault}")))?;
        }
        for (what, side) in [("the width", self.frame.width), ("the height", self.frame.height)] {
            super::error::check_range(what, f64::from(side), [1.0, f64::from(LARGEST_SIDE)])?;
        }
        let Self { name, about, tags, venue, frame, rate, pixels } = self.clone();
        (show.name, show.about, show.tags, show.venue) = (name, about, tags, venue);
        (show.frame, show.rate, show.pixels) = (frame, rate, pixels);
        Ok(())
    }
}
