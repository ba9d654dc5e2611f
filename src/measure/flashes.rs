//! Flashing that can harm, counted as published definitions count it.
//!
//! Two documents are followed, side by side:
//! - WCAG 2.2, "general flash and red flash thresholds": within any one second, more than three
//!   flashes over more than a quarter of any 10 degree field of view. A general flash is a pair of
//!   opposing changes of relative luminance by 10 % or more of the maximum, where the darker state is
//!   below 0.80. A red flash is a pair of opposing changes to and from a saturated red,
//!   R/(R+G+B) >= 0.8 in linear light, by more than 0.2 in CIE 1976 u'v'.
//! - ITU-R BT.1702: more than three flashes in any one second over more than a quarter of the screen.
//!   A flash is a pair of opposing changes by 20 cd/m2 or more where the darker state is below
//!   160 cd/m2, and by a Michelson contrast of 1/17 or more above that; a saturated red counts at any
//!   luminance (partly from memory: the Recommendation itself was not at hand).
//!
//! Where the definitions leave a choice, the stricter reading is taken:
//! - Half a flash counts: seven changes are three flashes and a half, which is more than three. A second
//!   holds its first frame and not the frame one second later, so three flashes a second stay three.
//! - A change runs from the extreme reached since the last counted change, so that ripples on the way
//!   hide nothing.
//! - Texels that flash at different moments of one second are added up, so a pattern that travels is
//!   counted though it never flashes as a whole.
//! - Black has no chromaticity; it is given that of white (D65), so that red against black counts.
//! - A pattern finer than 0.1 degree that is balanced, such as white noise or a fine checkerboard, does no harm
//!   by WCAG 2.2: pictures are counted by the mean light of squares of 0.1 degree, or a little less. A fine
//!   pattern that gets lighter and darker as a whole changes that mean, and counts.
//! - A square does not hold both colours of a balanced pattern evenly wherever it lies. Of a checkerboard whose
//!   fields are a share `s` of it wide it sees a change of at most `s * s` of white, so that fields below 0.3 of it
//!   never count; coarser ones may, and so may noise, though finer than 0.1 degree. Larger squares would hold
//!   them evenly, and would pass what WCAG counts.
//! - A loop is counted round its seam: its last frame is followed by its first.
//!
//! It is no certified test, and people with photosensitive epilepsy are at risk below these limits too.

use std::sync::Arc;

use super::findings::{Finding, FlashReport, Limit, MOST_CHANGES, Region};
use super::light::{Light, Reducer, SideBySide, Work};
use super::viewing::Viewing;
use crate::base::frame::Frame;
use crate::base::picture::Picture;

/// The share of a field or screen that may flash.
const AREA_SHARE: f64 = 0.25;
/// Luminance changes are told apart from this much less than the bound on, for 32-bit sums.
const HAIR: f32 = 1e-6;

/// What one texel did so far under one luminance rule.
#[derive(Debug, Clone, Copy)]
struct Swing {
    low: f32,
    high: f32,
    /// The last counted change: 1 up, -1 down, 0 none yet.
    last: i8,
}

impl Swing {
    fn from(luminance: f32) -> Self {
        Self { low: luminance, high: luminance, last: 0 }
    }

    /// Takes the next luminance; gives whether a change is counted there.
    fn step(&mut self, luminance: f32, is_change: impl Fn(f32, f32) -> bool) -> bool {
        self.low = self.low.min(luminance);
        self.high = self.high.max(luminance);
        if self.last <= 0 && luminance > self.low && is_change(self.low, luminance) {
            *self = Self { low: luminance, high: luminance, last: 1 };
            true
        } else if self.last >= 0 && luminance < self.high && is_change(luminance, self.high) {
            *self = Self { low: luminance, high: luminance, last: -1 };
            true
        } else {
            false
        }
    }
}

/// What one texel did so far under the red rule.
#[derive(Debug, Clone, Copy)]
struct RedSwing {
    /// The extreme of the current state.
    here: [f32; 2],
    /// The extreme of the state before; of the red primary at first.
    before: [f32; 2],
    is_red: bool,
}

/// u'v' of the red primary and of D65 white (from the matrix of IEC 61966-2-1).
const RED_UV: [f32; 2] = [0.450_704, 0.522_887];
const WHITE_UV: [f32; 2] = [0.197_830, 0.468_320];
/// How far two states lie apart that make a red change, squared.
const RED_DISTANCE_SQUARED: f32 = 0.2 * 0.2;
/// The share of linear red from which on it is saturated.
const RED_SHARE: f32 = 0.8;

fn apart_squared(a: [f32; 2], b: [f32; 2]) -> f32 {
    let [u, v] = [a[0] - b[0], a[1] - b[1]];
    u * u + v * v
}

impl RedSwing {
    fn from((uv, red): ([f32; 2], bool)) -> Self {
        Self { here: uv, before: if red { WHITE_UV } else { RED_UV }, is_red: red }
    }

    fn step(&mut self, (uv, red): ([f32; 2], bool)) -> bool {
        let is_far = apart_squared(uv, self.here) > RED_DISTANCE_SQUARED;
        if is_far && (self.is_red || red) {
            *self = Self { here: uv, before: self.here, is_red: !self.is_red };
            return true;
        }
        // A saturated red state is one of saturated colours only.
        if (!self.is_red || red) && apart_squared(uv, self.before) > apart_squared(self.here, self.before) {
            self.here = uv;
        }
        false
    }
}

/// What one square did so far.
#[derive(Debug, Clone, Copy)]
struct Done {
    general: Swing,
    screen: Swing,
    red: RedSwing,
}

impl Done {
    fn from(rgb: [f32; 3]) -> Self {
        let swing = Swing::from(luminance(rgb));
        Self { general: swing, screen: swing, red: RedSwing::from(chromaticity(rgb)) }
    }
}

/// Takes in what some squares show now, the first of them square `first`; leaves which change under each rule.
fn take_part(
    done: &mut [Done],
    before: &[[f32; 3]],
    now: &[[f32; 3]],
    peak: f32,
    first: usize,
    changed: &mut [Vec<u32>; 3],
) {
    for (at, ((done, before), &rgb)) in done.iter_mut().zip(before).zip(now).enumerate() {
        if *before == rgb {
            continue;
        }
        let y = luminance(rgb);
        let is_changed = [
            done.general.step(y, general_change),
            done.screen.step(y, |low, high| screen_change(low * peak, high * peak)),
            done.red.step(chromaticity(rgb)),
        ];
        for (changed, is_changed) in changed.iter_mut().zip(is_changed) {
            if is_changed {
                changed.push((first + at) as u32);
            }
        }
    }
}

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

/// Counts flashes in a sequence of pictures, one frame after the other.
#[derive(Debug)]
pub struct FlashCounter {
    reducer: Reducer,
    /// The last frame's light.
    shown: Option<Arc<Light>>,
    /// The light of the first second, for the seam of a loop.
    first_second: Vec<Arc<Light>>,
    /// What each square did so far.
    done: Vec<Done>,
    /// General, screen, red: the two red limits count the same changes over other areas.
    windows: [Window; 3],
    report: FlashReport,
    /// Changes of the frame judged last, by limit.
    last: [u8; 4],
    /// Reused for sums over fields.
    sums: [Vec<u32>; 4],
}

impl FlashCounter {
    /// A counter for pictures of this size, `second` frames to the second.
    ///
    /// `second` is the number of frames of which the first and the last are less than a second apart:
    /// 60 at 60 frames a second, 30 at 30000/1001. It is at least 1 and at most 240.
    pub fn new(frame: Frame, second: usize, viewing: Viewing) -> Self {
        let second = second.clamp(1, 240);
        let squares = viewing.squares(frame);
        let report = FlashReport {
            frames: 0,
            second,
            frame,
            squares,
            is_loop: false,
            viewing,
            findings: Limit::ALL.map(|limit| Finding {
                limit,
                changes: 0,
                frame: 0,
                area_share: 0.0,
                place: None,
                failing: Vec::new(),
            }),
            per_frame: Vec::new(),
        };
        Self {
            reducer: Reducer::new(frame, squares),
            shown: None,
            first_second: Vec::new(),
            done: Vec::new(),
            windows: [(); 3].map(|()| Window::new(second, squares.texels() as usize)),
            report,
            last: [0; 4],
            sums: Default::default(),
        }
    }

    /// The light of a picture on the squares that are counted; none of a picture of another size. What is
    /// transparent lies over black.
    pub fn light_of(&mut self, picture: Picture, by: SideBySide<'_>) -> Option<Arc<Light>> {
        self.reducer.light_of(picture, by)
    }

    /// Takes the next frame, sRGB-encoded; what is transparent lies over black.
    ///
    /// A picture of another size is no part of the sequence and is left out.
    pub fn take(&mut self, picture: &Picture) {
        if let Some(light) = self.light_of(picture.clone(), SideBySide::ALONE) {
            self.take_light(&light, SideBySide::ALONE);
        }
    }

    /// Takes the next frame by its light, as [`light_of`](Self::light_of) gives it.
    pub fn take_light(&mut self, light: &Arc<Light>, by: SideBySide<'_>) {
        let frame = self.report.frames;
        if frame < self.report.second {
            self.first_second.push(Arc::clone(light));
        }
        self.report.frames += 1;
        self.report.per_frame.push([0; 4]);
        self.step(light, frame, frame, by);
    }

    /// Ends the sequence as a loop: its first second follows once more behind its last frame.
    pub fn close_loop(&mut self) {
        let frames = self.report.frames;
        let again = std::mem::take(&mut self.first_second);
        if again.is_empty() || self.report.is_loop {
            return;
        }
        self.report.is_loop = true;
        for after in 0..self.report.second {
            // A loop that is shorter than a second comes round more than once in it.
            let at = after % frames;
            self.step(&again[at], frames + after, at, SideBySide::ALONE);
        }
    }

    /// What was found up to now, without [`Finding::failing`].
    pub fn so_far(&self) -> &FlashReport {
        &self.report
    }

    /// What was found.
    pub fn report(mut self) -> FlashReport {
        for (at, finding) in self.report.findings.iter_mut().enumerate() {
            for (frame, changes) in self.report.per_frame.iter().enumerate() {
                if u32::from(changes[at]) <= MOST_CHANGES {
                    continue;
                }
                match finding.failing.last_mut() {
                    Some(range) if *range.end() + 1 == frame => *range = *range.start()..=frame,
                    _ => finding.failing.push(frame..=frame),
                }
            }
        }
        self.report
    }

    /// Takes in what is shown `frame` frames after the first, told as the sequence's frame `told`.
    fn step(&mut self, light: &Arc<Light>, frame: usize, told: usize, by: SideBySide<'_>) {
        let mut sets = self.windows.each_mut().map(|window| window.next(frame));
        // What a second ago was counted goes, so the same changes may be too many no longer.
        let mut is_as_before = sets.iter().all(|(_, _, let_go)| !let_go);
        match self.shown.replace(Arc::clone(light)) {
            None => self.done = light.texels().iter().map(|&rgb| Done::from(rgb)).collect(),
            Some(shown) if Arc::ptr_eq(&shown, light) => {}
            Some(shown) => {
                let peak = self.report.viewing.peak_cd_m2 as f32;
                let part = self.done.len().div_ceil(by.parts).max(1);
                let mut changed: Vec<[Vec<u32>; 3]> =
                    self.done.chunks(part).map(|_| Default::default()).collect();
                let now = light.texels().chunks(part);
                let parts =
                    self.done.chunks_mut(part).zip(shown.texels().chunks(part)).zip(now).zip(&mut changed);
                let works = parts.enumerate().map(|(nth, (((done, before), now), changed))| -> Work<'_> {
                    Box::new(move || take_part(done, before, now, peak, nth * part, changed))
                });
                (by.run)(works.collect());
                for changed in changed {
                    for ((set, counts, _), changed) in sets.iter_mut().zip(changed) {
                        is_as_before &= changed.is_empty();
                        changed.iter().for_each(|&at| counts[at as usize] += 1);
                        set.extend(changed);
                    }
                }
            }
        }
        if !is_as_before {
            self.judge(told, by);
        }
        let known = &mut self.report.per_frame[told];
        for (known, now) in known.iter_mut().zip(self.last) {
            *known = (*known).max(now);
        }
    }

    /// Judges the second that ends now, told as this frame of the sequence: each limit by itself.
    fn judge(&mut self, frame: usize, by: SideBySide<'_>) {
        let report = &mut self.report;
        let (size, viewing) = (report.squares, report.viewing);
        let windows = &self.windows;
        let limits = report.findings.iter_mut().zip(&mut self.last).zip(&mut self.sums);
        let works = limits.map(|((finding, last), sums)| -> Work<'_> {
            let counts = match finding.limit {
                Limit::General => &windows[0].counts,
                Limit::ScreenGeneral => &windows[1].counts,
                Limit::Red | Limit::ScreenRed => &windows[2].counts,
            };
            let field = match finding.limit {
                Limit::General | Limit::Red => viewing.field(size),
                Limit::ScreenGeneral | Limit::ScreenRed => size,
            };
            Box::new(move || {
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
                if more > finding.changes
                    || (more == finding.changes && more > 0 && share > finding.area_share)
                {
                    if more > finding.changes {
                        finding.frame = frame;
                    }
                    finding.changes = more;
                    finding.area_share = share;
                    finding.place = place_of(counts, changes, size);
                }
            })
        });
        (by.run)(works.collect());
    }
}

/// A change of relative luminance that WCAG 2.2 counts.
fn general_change(low: f32, high: f32) -> bool {
    high - low >= 0.1 - HAIR && low < 0.8
}

/// A change of luminance, in cd/m2, that ITU-R BT.1702 counts.
fn screen_change(low: f32, high: f32) -> bool {
    if low < 160.0 { high - low >= 20.0 - HAIR * 200.0 } else { (high - low) / (high + low) >= 1.0 / 17.0 }
}

/// Relative luminance of linear light (ITU-R BT.709; WCAG 2.2).
fn luminance([r, g, b]: [f32; 3]) -> f32 {
    0.2126 * r + 0.7152 * g + 0.0722 * b
}

/// u'v' (CIE 1976) of linear sRGB light, and whether it is a saturated red.
fn chromaticity([r, g, b]: [f32; 3]) -> ([f32; 2], bool) {
    let sum = r + g + b;
    if sum <= 0.0 {
        return (WHITE_UV, false);
    }
    let x = 0.412_390_8 * r + 0.357_584_3 * g + 0.180_480_8 * b;
    let y = 0.212_639 * r + 0.715_168_7 * g + 0.072_192_3 * b;
    let z = 0.019_330_8 * r + 0.119_194_8 * g + 0.950_532_2 * b;
    let whole = x + 15.0 * y + 3.0 * z;
    ([4.0 * x / whole, 9.0 * y / whole], r >= RED_SHARE * sum)
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
