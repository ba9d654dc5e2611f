//! A tempo from taps.

use std::time::Duration;

use super::TEMPO_BPM;

/// A pause longer than this begins a new tempo.
const LONGEST_GAP: Duration = Duration::from_secs(2);
/// Gaps that count: the last bars, so that a tempo that moves is followed.
const GAPS: usize = 8;
/// A gap this far from the middle one was a missed or a doubled tap, as a share of it.
const STRAY: f64 = 0.25;

/// Taps on the beat, and the tempo that they make.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Tap {
    last: Option<Duration>,
    gaps: Vec<f64>,
}

impl Tap {
    /// A tap at a time since any fixed start; the tempo in beats per minute, from the second tap on.
    ///
    /// The tempo is 60 s over the mean of the last eight gaps, less those further than a quarter from
    /// their median, rounded to a hundredth, from 1 to 999. A gap above two seconds starts afresh;
    /// a tap sooner than the fastest tempo has beats is a bounce of the key, and is let pass.
    pub fn tap(&mut self, at: Duration) -> Option<f64> {
        let gap = self.last.map(|last| at.saturating_sub(last));
        match gap {
            Some(gap) if gap.as_secs_f64() < 60.0 / TEMPO_BPM[1] => return self.tempo_bpm(),
            Some(gap) if gap <= LONGEST_GAP => {
                self.gaps.push(gap.as_secs_f64());
                let old = self.gaps.len().saturating_sub(GAPS);
                self.gaps.drain(..old);
            }
            _ => self.gaps.clear(),
        }
        self.last = Some(at);
        self.tempo_bpm()
    }

    /// The tempo of the taps so far, in beats per minute.
    pub fn tempo_bpm(&self) -> Option<f64> {
        let mut sorted = self.gaps.clone();
        sorted.sort_by(f64::total_cmp);
        let middle = *sorted.get(sorted.len() / 2)?;
        let near: Vec<f64> =
            sorted.into_iter().filter(|gap| (gap - middle).abs() <= middle * STRAY).collect();
        let mean = near.iter().sum::<f64>() / near.len() as f64;
        Some(((6000.0 / mean).round() / 100.0).clamp(TEMPO_BPM[0], TEMPO_BPM[1]))
    }
}
