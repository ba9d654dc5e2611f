//! A difference in words, said alike wherever one is named.

use std::fmt;

use super::Difference;

/// Below this mean CIEDE2000 a difference hardly shows: a tenth of what is just visible side by side
/// (common practice, no source).
pub const HARDLY: f64 = 0.1;

/// What is said of a difference below [`HARDLY`].
pub const HARDLY_SHOWS: &str = "hardly shows";

/// From here on a texel's difference is seen where it is looked for; as the limit for looks.
const SEEN: f64 = 2.3;

impl Difference {
    /// Whether the pictures differ, but by so little on the whole that nobody would notice.
    pub fn hardly_shows(&self) -> bool {
        self.changed_share > 0.0 && self.mean < HARDLY
    }

    /// "differs by 3.1", "hardly shows", or "hardly shows: 0.4 % of the frame, by at most 12.0".
    pub fn in_short(&self) -> String {
        match self {
            _ if self.changed_share == 0.0 => "the same picture".to_owned(),
            _ if !self.hardly_shows() => format!("differs by {}", figure_said(self.mean, 1)),
            _ if self.max < SEEN => HARDLY_SHOWS.to_owned(),
            _ => format!("{HARDLY_SHOWS}: {} of the frame, by at most {:.1}", self.share_said(), self.max),
        }
    }

    /// The share of the frame that differs: "98.0 %", "less than 0.1 %".
    fn share_said(&self) -> String {
        let percent = self.changed_share * 100.0;
        if percent > 0.0 && percent < 0.1 { "less than 0.1 %".to_owned() } else { format!("{percent:.1} %") }
    }
}

/// "mean 3.12, 95 % of the frame within 8.40, at most 22.0 (CIEDE2000); 98.0 % of the frame differs".
impl fmt::Display for Difference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let hardly = if self.hardly_shows() { format!("{HARDLY_SHOWS}: ") } else { String::new() };
        write!(
            f,
            "{hardly}mean {}, 95 % of the frame within {}, at most {} (CIEDE2000); {} of the frame differs",
            figure_said(self.mean, 2),
            bound_said(self.p95, 2),
            bound_said(self.max, 1),
            self.share_said()
        )
    }
}

/// A figure with this many digits after the point, so that what is not 0 never reads as 0: "below 0.1".
pub fn figure_said(figure: f64, digits: usize) -> String {
    match figure {
        0.0 => "0".to_owned(),
        _ if figure < HARDLY => format!("below {HARDLY}"),
        _ => format!("{figure:.digits$}"),
    }
}

/// The same of what something is within.
fn bound_said(figure: f64, digits: usize) -> String {
    if figure > 0.0 && figure < HARDLY { HARDLY.to_string() } else { figure_said(figure, digits) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_differs_never_reads_as_nothing() {
        let of = |mean, p95, max, changed_share| Difference { mean, p95, max, changed_share };
        for (difference, in_short, whole) in [
            (
                of(3.123, 8.4, 22.04, 0.98),
                "differs by 3.1",
                "mean 3.12, 95 % of the frame within 8.40, at most 22.0 (CIEDE2000); 98.0 % of the frame differs",
            ),
            (
                of(0.004, 0.0, 0.9, 0.0002),
                "hardly shows",
                "hardly shows: mean below 0.1, 95 % of the frame within 0, at most 0.9 (CIEDE2000); less than 0.1 % of the frame differs",
            ),
            (
                of(0.04, 0.0, 12.0, 0.004),
                "hardly shows: 0.4 % of the frame, by at most 12.0",
                "hardly shows: mean below 0.1, 95 % of the frame within 0, at most 12.0 (CIEDE2000); 0.4 % of the frame differs",
            ),
            (
                of(0.0999, 0.09, 0.05, 1.0),
                "hardly shows",
                "hardly shows: mean below 0.1, 95 % of the frame within 0.1, at most 0.1 (CIEDE2000); 100.0 % of the frame differs",
            ),
            (
                of(0.1, 0.1, 0.1, 1.0),
                "differs by 0.1",
                "mean 0.10, 95 % of the frame within 0.10, at most 0.1 (CIEDE2000); 100.0 % of the frame differs",
            ),
        ] {
            assert_eq!((difference.in_short().as_str(), difference.to_string().as_str()), (in_short, whole));
        }
        assert!(!Difference::default().hardly_shows());
        assert_eq!(Difference::default().in_short(), "the same picture");
    }
}
