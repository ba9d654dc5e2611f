//! Flashes over a stretch of beats as a drawing: a bar for each frame against the limit.

use std::fmt::Write as _;

use crate::measure::{FlashReport, MOST_CHANGES};
use crate::readiness::flashing::Watch;

const WIDTH: f64 = 960.0;
const HEIGHT: f64 = 150.0;
const LEFT: f64 = 34.0;
const BOTTOM: f64 = 22.0;
/// Flashes a second that the drawing is high enough for.
const MOST_DRAWN: f64 = 6.0;
/// Vermillion of Okabe and Ito; bars in it also reach over the line of the limit.
const TOO_MANY: &str = "#d55e00";

/// The strip as an SVG element.
pub(super) fn svg(report: &FlashReport, watch: &Watch) -> String {
    let graph = HEIGHT - BOTTOM - 6.0;
    let up = |flashes: f64| 6.0 + graph - flashes.min(MOST_DRAWN) / MOST_DRAWN * graph;
    let across = |frame: usize| LEFT + (WIDTH - LEFT) * frame as f64 / report.frames.max(1) as f64;
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" font-size=\"12\" fill=\"currentColor\" aria-hidden=\"true\">"
    );
    let most = |at: usize| report.per_frame.get(at).and_then(|c| c.iter().copied().max()).unwrap_or(0);
    // Neighbours of one height are one bar.
    let mut from = 0;
    for at in 1..=report.frames {
        if at < report.frames && most(at) == most(from) {
            continue;
        }
        let height = most(from);
        if height > 0 {
            let style = if u32::from(height) > MOST_CHANGES {
                format!("fill=\"{TOO_MANY}\"")
            } else {
                "fill-opacity=\"0.45\"".to_owned()
            };
            let (left, top) = (across(from), up(f64::from(height) / 2.0));
            let _ = write!(
                svg,
                "<rect x=\"{left:.1}\" y=\"{top:.1}\" width=\"{:.1}\" height=\"{:.1}\" {style}/>",
                across(at) - left,
                up(0.0) - top
            );
        }
        from = at;
    }
    for flashes in [0.0, 3.0, 6.0] {
        let _ = write!(
            svg,
            "<text x=\"{}\" y=\"{:.1}\" text-anchor=\"end\">{flashes}</text>",
            LEFT - 8.0,
            up(flashes) + 4.0
        );
    }
    let limit = up(f64::from(MOST_CHANGES) / 2.0);
    let _ = write!(
        svg,
        "<path d=\"M{LEFT} {limit:.1}H{WIDTH}\" stroke=\"currentColor\" stroke-width=\"1.5\" stroke-dasharray=\"6 4\"/>\
         <path d=\"M{LEFT} {:.1}H{WIDTH}\" stroke=\"currentColor\" stroke-opacity=\"0.5\"/>",
        up(0.0)
    );
    let step = (watch.over_beats / 8.0).ceil().max(1.0);
    let mut beat = 0.0;
    while beat < watch.over_beats {
        let x = LEFT + (WIDTH - LEFT) * beat / watch.over_beats;
        let _ = write!(
            svg,
            "<path d=\"M{x:.1} {:.1}v5\" stroke=\"currentColor\"/><text x=\"{:.1}\" y=\"{:.1}\">{}</text>",
            up(0.0),
            x + 3.0,
            HEIGHT - 6.0,
            watch.from_beats + beat
        );
        beat += step;
    }
    svg.push_str("</svg>");
    svg
}
