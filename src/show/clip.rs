//! What a clip shows, and how: the footage that it names, how that is placed and played.

use crate::base::words::words;
use std::fmt;
use std::path::{Path, PathBuf};

/// Where pictures come from, as a file names it.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum FootageName {
    /// `generated:NAME`.
    Generated(String),
    /// `stand-in:LABEL`: a card that says what will be there.
    StandIn(StandIn, String),
    /// A picture file or a numbered sequence (`frames/sea-####.png`).
    File {
        /// As the show file writes it.
        written: String,
        /// Resolved against the show file's folder.
        path: PathBuf,
    },
}

words! {
    /// What kind of footage a stand-in stands for.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
    pub enum StandIn {
        /// A picture that fills the frame.
        Picture = "stand-in",
        /// A sign or logo: transparent around it.
        Sign = "stand-in-sign",
        /// A scenic frame: transparent inside it.
        Border = "stand-in-frame",
    }
}

impl fmt::Display for FootageName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Generated(name) => write!(f, "generated:{name}"),
            Self::StandIn(kind, label) => write!(f, "{}:{label}", kind.name()),
            Self::File { written, .. } => f.write_str(written),
        }
    }
}

/// Standard input, as a path: a film in Y4M.
pub const STANDARD_INPUT: &str = "-";

impl FootageName {
    /// What a command line or a file names: `generated:NAME`, `stand-in:LABEL`, `-`, else a path relative to `folder`.
    pub fn parsed(written: &str, folder: &Path) -> Self {
        if let Some((kind, label)) = written.split_once(':')
            && let Some(kind) = StandIn::named(kind)
        {
            return Self::StandIn(kind, label.to_owned());
        }
        match written.strip_prefix("generated:") {
            Some(name) => Self::Generated(name.to_owned()),
            None if written == STANDARD_INPUT => {
                Self::File { written: written.to_owned(), path: written.into() }
            }
            None => Self::File { written: written.to_owned(), path: folder.join(written) },
        }
    }
}

words! {
    /// How footage of another size is placed in the frame.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
    pub enum Fit {
        /// The whole frame is covered, what is over is cut off.
        #[default]
        Whole = "whole" was "fill",
        /// All of it is contained in the frame, the rest is transparent.
        Contained = "contained" was "fit",
        /// Both sides are stretched to the frame's, proportions are lost.
        Stretched = "stretched" was "stretch",
        /// Texel for texel, centred in the frame.
        Centred = "centred" was "centre",
    }
}

/// How a clip plays footage that moves; stills take no notice.
///
/// What shows is worked out from the moment alone, so that scrubbing and playing agree.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Play {
    /// How fast it runs.
    pub pace: Pace,
    /// Where in the footage its section begins, in seconds of the footage, 0 or more.
    pub in_secs: f64,
    /// Where the section ends, after `in_secs`; without it, or past the end, the footage's own end.
    pub out_secs: Option<f64>,
    /// What follows the end of the section.
    pub at_end: AtEnd,
}

impl Play {
    /// Slowest and fastest, as a factor of the footage's own time.
    pub const SPEED: [f64; 2] = [0.0, 100.0];
    /// Shortest and longest loop, in beats.
    pub const LOOP_BEATS: [f64; 2] = [0.01, 10_000.0];
    /// First and last place in footage, in seconds: a day.
    pub const SECS: [f64; 2] = [0.0, 86_400.0];
}

impl Default for Play {
    fn default() -> Self {
        Self { pace: Pace::default(), in_secs: 0.0, out_secs: None, at_end: AtEnd::default() }
    }
}

/// How fast footage runs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Pace {
    /// Its own time, times a factor from 0 (it stands still) up.
    Speed(f64),
    /// Whatever repeats (of `back-and-forth` both ways) lasts so many beats, more than 0.
    LoopBeats(f64),
}

impl Default for Pace {
    fn default() -> Self {
        Self::Speed(1.0)
    }
}

words! {
    /// What follows the end of a clip's section.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
    pub enum AtEnd {
        /// It begins again.
        #[default]
        Loop = "loop",
        /// The last frame stays; before the start, the first.
        Hold = "hold",
        /// Nothing, as before the start.
        Once = "once",
        /// It runs back to its beginning, and forth again; the frame at a turn shows twice as long.
        BackAndForth = "back-and-forth",
    }
}
