//! Whether the squares that change within one second are too many, rule by rule.

use super::findings::{Finding, FlashReport, Limit, MOST_CHANGES, Region};
use super::viewing::{Counting, Viewing};
use crate::base::frame::Frame;

/// The share of a field or screen that may flash.
const AREA_SHARE: f64 = 0.25;

/// Changes of all texels under one limit within the last second.
#[derive(Debug)]
struct Window {
    /// One set of texels for each frame of the second, the oldest overwritten next.
    frames: Vec<Vec<u32>>,
    counts: Vec<u8>,
}

impl Window {
    fn new(second: usize, texels: usize) -> Self {
        Self { frames: vec![Vec::new(); second], counts: vec![0; texels] }
    }

    /// Lets go of the frame that is a second old, and gives its set to fill anew; says whether anything went.
    fn next(&mut self, frame: usize) -> (&mut Vec<u32>, &mut [u8], bool) {
        let slot = frame % self.frames.len();
        let set = &mut self.frames[slot];
        for &texel in set.iter() {
            self.counts[texel as usize] -= 1;
        }
        let let_go = !set.is_empty();
        set.clear();
        (set, &mut self.counts, let_go)
    }
}

/// One limit, and how it is kept.
#[derive(Debug)]
struct Kept {
    finding: Finding,
    /// Changes of the frame judged last.
    last: u8,
    per_frame: Vec<u8>,
    /// Reused for sums over fields.
    sums: Vec<u32>,
}

/// Judges the changes under one rule, frame by frame: the two limits of red count the same changes over other areas.
#[derive(Debug)]
pub struct FlashJudge {
    squares: Frame,
    viewing: Viewing,
    window: Window,
    limits: Vec<Kept>,
    frames: usize,
    is_loop: bool,
}

impl FlashJudge {
    /// One for each rule, in the order of [`Changed`](super::Changed).
    pub fn all(counting: &Counting) -> [Self; 3] {
        let rules: [&[Limit]; 3] =
            [&[Limit::General], &[Limit::ScreenGeneral], &[Limit::Red, Limit::ScreenRed]];
        let squares = counting.viewing.squares(counting.frame);
        rules.map(|limits| Self {
            squares,
            viewing: counting.viewing,
            window: Window::new(counting.second.clamp(1, 240), squares.texels() as usize),
            limits: limits.iter().map(|&limit| Kept::of(limit)).collect(),
            frames: 0,
            is_loop: false,
        })
    }

    /// Takes the squares that change in the next frame, in parts.
    pub fn take<'a>(&mut self, changed: impl IntoIterator<Item = &'a [u32]>) {
        let frame = self.frames;
        self.frames += 1;
        self.limits.iter_mut().for_each(|limit| limit.per_frame.push(0));
        self.step(changed, frame, frame);
    }

    /// Takes those of a frame of the beginning, once more, `after` frames behind the last.
    pub fn take_again<'a>(&mut self, after: usize, changed: impl IntoIterator<Item = &'a [u32]>) {
        if self.frames > 0 {
            self.is_loop = true;
            self.step(changed, self.frames + after, after % self.frames);
        }
    }

    /// Frames taken by now.
    pub fn frames(&self) -> usize {
        self.frames
    }

    /// Whether it was counted round the seam of a loop.
    pub(super) fn is_loop(&self) -> bool {
        self.is_loop
    }

    /// The most changes within one second of the frames taken by now.
    pub fn changes(&self) -> u32 {
        self.limits.iter().map(|limit| limit.finding.changes).max().unwrap_or(0)
    }

    /// What all of them found of one sequence.
    pub fn report(judges: [Self; 3], counting: &Counting) -> FlashReport {
        let [frames, second] = [judges[0].frames, judges[0].window.frames.len()];
        let is_loop = judges[0].is_loop;
        let mut found: Vec<Kept> = judges.into_iter().flat_map(|judge| judge.limits).collect();
        let mut per_frame = vec![[0; 4]; frames];
        let findings = Limit::ALL.map(|limit| {
            let at = found.iter().position(|kept| kept.finding.limit == limit);
            let kept = at.map_or_else(|| Kept::of(limit), |at| found.swap_remove(at));
            let place = Limit::ALL.iter().position(|&other| other == limit).unwrap_or(0);
            per_frame.iter_mut().zip(&kept.per_frame).for_each(|(all, &changes)| all[place] = changes);
            kept.with_failing()
        });
        let squares = counting.viewing.squares(counting.frame);
        let (frame, viewing) = (counting.frame, counting.viewing);
        FlashReport { frames, second, frame, squares, is_loop, viewing, findings, per_frame }
    }

    /// Takes in what changes `frame` frames after the first, told as the sequence's frame `told`.
    fn step<'a>(&mut self, changed: impl IntoIterator<Item = &'a [u32]>, frame: usize, told: usize) {
        // What a second ago was counted goes, so the same changes may be too many no longer.
        let (set, counts, let_go) = self.window.next(frame);
        let mut is_as_before = !let_go;
        for changed in changed {
            is_as_before &= changed.is_empty();
            changed.iter().for_each(|&at| counts[at as usize] += 1);
            set.extend(changed);
        }
        for limit in &mut self.limits {
            if !is_as_before {
                limit.judge(told, &self.window.counts, self.squares, self.viewing);
            }
            if let Some(known) = limit.per_frame.get_mut(told) {
                *known = (*known).max(limit.last);
            }
        }
    }
}

impl Kept {
    fn of(limit: Limit) -> Self {
        let finding =
            Finding { limit, changes: 0, frame: 0, area_share: 0.0, place: None, failing: Vec::new() };
        Self { finding, last: 0, per_frame: Vec::new(), sums: Vec::new() }
    }

    /// Judges the second that ends now, told as this frame of the sequence.
    fn judge(&mut self, frame: usize, counts: &[u8], size: Frame, viewing: Viewing) {
        let Self { finding, last, sums, .. } = self;
        let field = match finding.limit {
            Limit::General | Limit::Red => viewing.field(size),
            Limit::ScreenGeneral | Limit::ScreenRed => size,
        };
        // A texel gains or loses at most one change a frame, and so does the whole.
        let mut changes = last.saturating_add(1);
        let mut share = 0.0;
        while changes > 0 {
            share = largest_share(sums, counts, changes, size, field);
            if share > AREA_SHARE {
                break;
            }
            changes -= 1;
        }
        *last = changes;
        let more = u32::from(changes);
        if more > finding.changes || (more == finding.changes && more > 0 && share > finding.area_share) {
            if more > finding.changes {
                finding.frame = frame;
            }
            finding.changes = more;
            finding.area_share = share;
            finding.place = place_of(counts, changes, size);
        }
    }

    /// What was found, with the frames at which too many changes lie in the second that ends there.
    fn with_failing(self) -> Finding {
        let mut finding = self.finding;
        for (frame, &changes) in self.per_frame.iter().enumerate() {
            if u32::from(changes) <= MOST_CHANGES {
                continue;
            }
            match finding.failing.last_mut() {
                Some(range) if *range.end() + 1 == frame => *range = *range.start()..=frame,
                _ => finding.failing.push(frame..=frame),
            }
        }
        finding
    }
}

/// The largest share of any field whose texels have at least so many changes.
fn largest_share(sums: &mut Vec<u32>, counts: &[u8], changes: u8, frame: Frame, field: Frame) -> f64 {
    let total = counts.iter().filter(|&&count| count >= changes).count();
    let texels = field.texels() as f64;
    let bound = total as f64 / texels;
    if bound <= AREA_SHARE || field == frame {
        return bound;
    }
    // Sums over all rectangles from the top left corner, one row and column of zeros before them.
    let (width, height) = (frame.width as usize, frame.height as usize);
    let stride = width + 1;
    sums.clear();
    sums.resize(stride * (height + 1), 0);
    for (y, row) in counts.chunks_exact(width).enumerate() {
        let mut along = 0;
        for (x, &count) in row.iter().enumerate() {
            along += u32::from(count >= changes);
            sums[(y + 1) * stride + x + 1] = sums[y * stride + x + 1] + along;
        }
    }
    let (across, down) = (field.width as usize, field.height as usize);
    let mut most = 0;
    for y in 0..=height - down {
        let (top, bottom) = (y * stride, (y + down) * stride);
        for x in 0..=width - across {
            let inside =
                sums[bottom + x + across] + sums[top + x] - sums[bottom + x] - sums[top + x + across];
            most = most.max(inside);
        }
    }
    f64::from(most) / texels
}

/// The rectangle around the texels with at least so many changes.
fn place_of(counts: &[u8], changes: u8, frame: Frame) -> Option<Region> {
    let width = frame.width as usize;
    let at = counts.iter().enumerate().filter(|&(_, &count)| count >= changes).map(|(at, _)| at);
    let mut around: Option<[usize; 4]> = None;
    for at in at {
        let (x, y) = (at % width, at / width);
        let [left, top, right, bottom] = around.unwrap_or([x, y, x, y]);
        around = Some([left.min(x), top.min(y), right.max(x), bottom.max(y)]);
    }
    let [left, top, right, bottom] = around?;
    let (w, h) = (f64::from(frame.width), f64::from(frame.height));
    Some(Region {
        left: left as f64 / w,
        top: top as f64 / h,
        width: (right + 1 - left) as f64 / w,
        height: (bottom + 1 - top) as f64 / h,
    })
}
