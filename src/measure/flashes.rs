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

use std::ops::Range;
use std::sync::Arc;

use super::findings::FlashReport;
use super::judging::FlashJudge;
use super::light::{Light, Reducer};
use super::viewing::{Counting, Viewing};
use crate::base::frame::Frame;
use crate::base::picture::{Picture, Texels};

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

/// The squares that change from one frame to the next, by their number, under each rule: general, screen, red.
pub type Changed = [Vec<u32>; 3];

/// Makes the light of some rows of squares: what is counted by.
#[derive(Debug)]
pub struct LightPart(Reducer);

impl LightPart {
    /// Of these rows.
    pub fn new(counting: &Counting, rows: Range<usize>) -> Self {
        Self(Reducer::new(counting.frame, counting.viewing.squares(counting.frame), rows))
    }

    /// The light of a picture; none of one of another size. What is transparent lies over black.
    pub fn light_of(&mut self, picture: Arc<dyn Texels>) -> Option<Arc<Light>> {
        self.0.light_of(picture)
    }
}

/// What some rows of squares did in a sequence of pictures: a part of the count that waits for no other.
#[derive(Debug)]
pub struct FlashPart {
    /// The number of the first square.
    first: usize,
    second: usize,
    peak: f32,
    /// The last frame's light.
    shown: Option<Arc<Light>>,
    /// The light of the first second, for the seam of a loop.
    first_second: Vec<Arc<Light>>,
    /// What each square did so far.
    done: Vec<Done>,
    frames: usize,
}

impl FlashPart {
    /// Of these rows.
    pub fn new(counting: &Counting, rows: &Range<usize>) -> Self {
        let wide = counting.viewing.squares(counting.frame).width as usize;
        Self {
            first: rows.start * wide,
            second: counting.second.clamp(1, 240),
            peak: counting.viewing.peak_cd_m2 as f32,
            shown: None,
            first_second: Vec::new(),
            done: Vec::new(),
            frames: 0,
        }
    }

    /// Takes the next frame.
    pub fn take(&mut self, light: &Arc<Light>) -> Changed {
        if self.frames < self.second {
            self.first_second.push(Arc::clone(light));
        }
        self.frames += 1;
        self.step(light)
    }

    /// Takes a frame of the beginning once more, `after` frames behind the last, as a loop comes round to it; one that is
    /// shorter than a second comes round more than once in it.
    pub fn take_again(&mut self, after: usize) -> Changed {
        match self.first_second.get(after % self.frames.max(1)).cloned() {
            Some(light) => self.step(&light),
            None => Changed::default(),
        }
    }

    fn step(&mut self, light: &Arc<Light>) -> Changed {
        let mut changed = Changed::default();
        match self.shown.replace(Arc::clone(light)) {
            None => self.done = light.texels().iter().map(|&rgb| Done::from(rgb)).collect(),
            Some(shown) if Arc::ptr_eq(&shown, light) => {}
            Some(shown) => {
                let squares = self.done.iter_mut().zip(shown.texels()).zip(light.texels());
                for (at, ((done, before), &rgb)) in squares.enumerate() {
                    if *before == rgb {
                        continue;
                    }
                    let (y, peak) = (luminance(rgb), self.peak);
                    let is_changed = [
                        done.general.step(y, general_change),
                        done.screen.step(y, |low, high| screen_change(low * peak, high * peak)),
                        done.red.step(chromaticity(rgb)),
                    ];
                    for (changed, is_changed) in changed.iter_mut().zip(is_changed) {
                        if is_changed {
                            changed.push((self.first + at) as u32);
                        }
                    }
                }
            }
        }
        changed
    }
}

/// Counts flashes in a sequence of pictures, one frame after the other.
#[derive(Debug)]
pub struct FlashCounter {
    counting: Counting,
    light: LightPart,
    part: FlashPart,
    judges: [FlashJudge; 3],
}

impl FlashCounter {
    /// A counter for pictures of this size; `second` as in [`Counting`].
    pub fn new(frame: Frame, second: usize, viewing: Viewing) -> Self {
        let counting = Counting { frame, second, viewing };
        let rows = 0..viewing.squares(frame).height as usize;
        Self {
            counting,
            part: FlashPart::new(&counting, &rows),
            light: LightPart::new(&counting, rows),
            judges: FlashJudge::all(&counting),
        }
    }

    /// Takes the next frame, sRGB-encoded; what is transparent lies over black.
    ///
    /// A picture of another size is no part of the sequence and is left out.
    pub fn take(&mut self, picture: &Picture) {
        if let Some(light) = self.light.light_of(Arc::new(picture.clone())) {
            let changed = self.part.take(&light);
            self.judges.iter_mut().zip(&changed).for_each(|(judge, changed)| judge.take([&changed[..]]));
        }
    }

    /// Ends the sequence as a loop: its first second follows once more behind its last frame.
    pub fn close_loop(&mut self) {
        if self.judges[0].is_loop() {
            return;
        }
        for after in 0..self.part.second {
            let changed = self.part.take_again(after);
            let judges = self.judges.iter_mut().zip(&changed);
            judges.for_each(|(judge, changed)| judge.take_again(after, [&changed[..]]));
        }
    }

    /// What was found.
    pub fn report(self) -> FlashReport {
        FlashJudge::report(self.judges, &self.counting)
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_followed_in_parts_is_what_is_followed_as_a_whole() {
        let frame = Frame { width: 90, height: 70 };
        let counting = Counting { frame, second: 12, viewing: Viewing::default() };
        // Fields of some colours that come and go, each at its own pace, and rows that stay.
        let colours = [[0, 0, 0], [255, 255, 255], [255, 0, 0], [40, 60, 200], [128, 128, 128]];
        let texel = |number: usize, at: usize| {
            let (x, y) = (at % 90 / 15, at / 90 / 10);
            let pace = 1 + (x * 7 + y * 3) % 6;
            let [r, g, b] = colours[if y == 3 { 1 } else { (number / pace + x) % colours.len() }];
            [r, g, b, 255]
        };
        let pictures: Vec<Picture> = (0..40)
            .map(|number| {
                let rgba = (0..90 * 70).flat_map(|at| texel(number, at)).collect();
                Picture { frame, rgba, opaque: true }
            })
            .collect();
        let mut counter = FlashCounter::new(frame, 12, Viewing::default());
        pictures.iter().for_each(|picture| counter.take(picture));
        counter.close_loop();
        let whole = counter.report();
        assert!(whole.findings.iter().all(|finding| finding.changes > 2), "{:?}", whole.findings);
        for wanted in [1, 2, 3, 16, 1000] {
            let rows = counting.parts(wanted);
            let mut parts: Vec<(LightPart, FlashPart)> = rows
                .into_iter()
                .map(|rows| (LightPart::new(&counting, rows.clone()), FlashPart::new(&counting, &rows)))
                .collect();
            let mut judges = FlashJudge::all(&counting);
            for picture in &pictures {
                let picture: Arc<dyn Texels> = Arc::new(picture.clone());
                let take = |(light, part): &mut (LightPart, FlashPart)| {
                    part.take(&light.light_of(Arc::clone(&picture)).unwrap())
                };
                let changed: Vec<Changed> = parts.iter_mut().map(take).collect();
                for (rule, judge) in judges.iter_mut().enumerate() {
                    judge.take(changed.iter().map(|changed| &changed[rule][..]));
                }
            }
            for after in 0..12 {
                let changed: Vec<Changed> =
                    parts.iter_mut().map(|(_, part)| part.take_again(after)).collect();
                for (rule, judge) in judges.iter_mut().enumerate() {
                    judge.take_again(after, changed.iter().map(|changed| &changed[rule][..]));
                }
            }
            assert_eq!(FlashJudge::report(judges, &counting), whole, "in {wanted} parts");
        }
    }
}
