//! The values that a setting may have in a page, where the program works something out from it.

use crate::catalogue::Kind;

/// Rows of a table at most, whatever the settings it is made from.
const MOST_ROWS: f64 = 1600.0;

/// From a range this many times as wide at its end as at its beginning, values double.
const DOUBLING: f64 = 16.0;

/// Values all over the range of a kind, smallest first, with `own` among them: fewer, the more settings stand in one
/// table. Where values tell how often something happens, they halve and double, as rhythms do.
pub(super) fn stops(kind: &Kind, together: usize, own: Option<f64>) -> Vec<f64> {
    let most = (MOST_ROWS.powf(1.0 / together.max(1) as f64) as usize).clamp(8, 64) - 1;
    let mut stops = match kind {
        Kind::Number { range: [low, high], unit }
            if unit.contains("per beat") || *low > 0.0 && high / low >= DOUBLING =>
        {
            let doubling =
                (-6..=6).map(|power| 2_f64.powi(power)).filter(|stop| (*low..=*high).contains(stop));
            let mut stops: Vec<f64> = doubling.take(most.saturating_sub(2)).collect();
            stops.extend([*low, *high]);
            stops
        }
        Kind::Number { range: [low, high], .. } => {
            let steps = (most - 2) as f64;
            (0..=most - 2).map(|step| short(low + (high - low) * step as f64 / steps)).collect()
        }
        Kind::Whole { range: [low, high], .. } => {
            let by = ((high - low) as usize / most + 1).max(1);
            (*low..=*high).step_by(by).map(|stop| stop as f64).collect()
        }
        Kind::Choice(words) => (0..words.len()).map(|place| place as f64).collect(),
        Kind::Colour => Vec::new(),
    };
    stops.extend(own);
    stops.sort_by(f64::total_cmp);
    stops.dedup();
    stops
}

/// A number of at most four digits behind its point.
fn short(number: f64) -> f64 {
    (number * 1e4).round() / 1e4
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stops_lie_in_the_range_with_its_ends_and_what_is_set() {
        let kind = Kind::Number { range: [-0.5, 0.5], unit: "share of width".to_owned() };
        for together in 1..=3 {
            let stops = stops(&kind, together, Some(0.123));
            assert!(
                stops.len() >= 8 && (stops.len() as f64).powi(together as i32) <= MOST_ROWS * 1.5,
                "{}",
                stops.len()
            );
            assert!(stops.contains(&-0.5) && stops.contains(&0.5) && stops.contains(&0.123));
            assert!(stops.windows(2).all(|two| two[0] < two[1]));
        }
    }

    #[test]
    fn rates_halve_and_double() {
        let kind = Kind::Number { range: [0.125, 8.0], unit: "per beat".to_owned() };
        let stops = stops(&kind, 1, Some(3.0));
        assert_eq!(stops, [0.125, 0.25, 0.5, 1.0, 2.0, 3.0, 4.0, 8.0]);
    }
}
