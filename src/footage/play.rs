//! How a clip plays its footage: which moment of the footage falls on which moment of the show.

use super::timing::{GRACE_SECS, Timing};
use crate::beat::Moment;
use crate::show::clip::{AtEnd, Pace, Play};

/// What shows of footage at a moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Due {
    /// The frame with this number, from 0.
    Frame(u64),
    /// Nothing: the clip plays once, and not now.
    Nothing,
    /// The section begins at or past the end of the footage, which lasts so many seconds.
    PastEnd(f64),
    /// How long the footage is must be known first, and is not.
    Unmeasured,
}

/// What shows at `moment` of footage that is played so.
pub(super) fn due(play: &Play, timing: &Timing, moment: &Moment) -> Due {
    if timing.is_still() {
        return Due::Frame(0);
    }
    let start = play.in_secs;
    let end = match (timing.length_secs(), play.out_secs) {
        (Some(length), _) if start >= length => return Due::PastEnd(length),
        (Some(length), Some(out)) => out.min(length),
        (Some(length), None) => length,
        (None, Some(out)) => out,
        (None, None) => f64::INFINITY,
    };
    let at_end = match play.at_end {
        // What cannot be wound back stays at its end.
        AtEnd::Loop | AtEnd::BackAndForth if !timing.winds_back() => AtEnd::Hold,
        at_end => at_end,
    };
    let section = end - start;
    let both_ways = if at_end == AtEnd::BackAndForth { 2.0 * section } else { section };
    let run = GRACE_SECS
        + match play.pace {
            Pace::Speed(speed) => moment.seconds() * speed,
            Pace::LoopBeats(_) if both_ways.is_infinite() => return Due::Unmeasured,
            Pace::LoopBeats(beats) => moment.beats / beats * both_ways,
        };
    let inside = (0.0..section).contains(&run);
    let place = match at_end {
        AtEnd::Once if !inside => return Due::Nothing,
        AtEnd::Hold if run < 0.0 => start + GRACE_SECS,
        // The end itself belongs to what would follow.
        AtEnd::Hold if !inside => end - GRACE_SECS,
        AtEnd::Once | AtEnd::Hold => start + run,
        AtEnd::Loop => start + run.rem_euclid(section),
        AtEnd::BackAndForth => match run.rem_euclid(both_ways) {
            forth if forth < section => start + forth,
            back => end - (back - section),
        },
    };
    Due::Frame(timing.frame_at(place))
}
