//! How differences are written, in words and as JSON.

use clap::Args;
use serde::Serialize;

use super::subject::Subject;
use crate::measure::Difference;
use crate::order::LookLimits;

/// What a command worked on, as JSON gives it.
#[derive(Debug, Serialize)]
pub(super) struct SubjectFigures<'a> {
    name: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    section: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    scope: Option<&'a str>,
    footage: &'a str,
    frame: String,
    /// What that does to the pictures, where it is not the show's own.
    #[serde(skip_serializing_if = "Option::is_none")]
    frame_note: Option<&'a str>,
    pixels: &'static str,
    at_beats: f64,
    /// Frames before it that effects look back at.
    #[serde(skip_serializing_if = "is_none")]
    warm_up_frames: u64,
    adapter: String,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde passes a reference")]
fn is_none(frames: &u64) -> bool {
    *frames == 0
}

impl<'a> From<&'a Subject> for SubjectFigures<'a> {
    fn from(subject: &'a Subject) -> Self {
        let moment = &subject.path.moment;
        Self {
            name: &subject.name,
            section: subject.section.as_deref(),
            scope: subject.scope(),
            footage: &subject.footage,
            frame: moment.frame.to_string(),
            frame_note: subject.frame_note.as_deref(),
            pixels: moment.pixels.name(),
            at_beats: moment.beats,
            warm_up_frames: subject.path.warm_up_frames(),
            adapter: subject.renderer.gpu().adapter().to_string(),
        }
    }
}

/// A figure to four places.
pub(super) fn rounded(figure: f64) -> f64 {
    (figure * 1e4).round() / 1e4
}

/// A difference as JSON gives it.
#[derive(Debug, Clone, Copy, Serialize)]
pub(super) struct DifferenceFigures {
    mean_de2000: f64,
    p95_de2000: f64,
    max_de2000: f64,
    /// Texels whose bytes differ, of all.
    changed_share: f64,
}

impl From<&Difference> for DifferenceFigures {
    fn from(difference: &Difference) -> Self {
        Self {
            mean_de2000: rounded(difference.mean),
            p95_de2000: rounded(difference.p95),
            max_de2000: rounded(difference.max),
            changed_share: rounded(difference.changed_share),
        }
    }
}

/// When two pictures count as one look.
#[derive(Debug, Args)]
pub(super) struct LookOptions {
    /// Pictures are one look below this mean difference (CIEDE2000), and below --look-p95
    #[arg(long, value_name = "DE", default_value_t = LookLimits::default().mean, value_parser = difference, allow_negative_numbers = true)]
    look_mean: f64,
    /// Pictures are one look below this 95th percentile of the difference, and below --look-mean
    #[arg(long, value_name = "DE", default_value_t = LookLimits::default().p95, value_parser = difference, allow_negative_numbers = true)]
    look_p95: f64,
}

impl Default for LookOptions {
    fn default() -> Self {
        let LookLimits { mean, p95 } = LookLimits::default();
        Self { look_mean: mean, look_p95: p95 }
    }
}

impl LookOptions {
    pub(super) fn limits(&self) -> LookLimits {
        LookLimits { mean: self.look_mean, p95: self.look_p95 }
    }
}

fn difference(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(difference) if (0.0..=200.0).contains(&difference) => Ok(difference),
        _ => Err("a difference from 0 to 200 is wanted, such as 2.3".to_owned()),
    }
}
