//! Orders compared over a stretch of beats instead of at one moment.

use std::collections::VecDeque;
use std::fmt;

use super::{ChainAt, Exploration, Orders, Part, Rendered, look_frame, proved_at};
use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::beat::Moment;
use crate::gpu::{Against, Asked, Budget, Exploring, Fingerprint, Finished, Gallery, GpuError, Renderer};
use crate::measure::Difference;
use crate::order::{Class, Extent, LookLimits, Tree};
use crate::plan::Path;

/// The most moments that are compared; a longer stretch is sampled evenly.
pub const MOST_MOMENTS: u64 = 96;

/// Moments that a strip shows side by side.
pub const STRIP_MOMENTS: usize = 4;

/// The frames of a stretch of beats: proofs rest on the settings of every one, pictures are rendered of all
/// or of some.
#[derive(Debug)]
pub struct Stretch {
    /// How long it is.
    pub beats: f64,
    /// In the order in which they are played: those compared, and where effects remember, all others
    /// from the first one remembered on. None has a past of its own.
    pub frames: Vec<Path>,
    /// Which of them are compared: places in `frames`, rising.
    pub sampled: Vec<usize>,
    /// Frames of the show in the stretch, whether compared or not.
    pub frames_total: u64,
    /// All of them, behind those that effects remember: when each is on, and whether the picture under the
    /// chain has full alpha there.
    proved_from: Vec<(Moment, bool)>,
    /// Frames before the first one compared that are played for what they leave behind.
    pub warm_up_frames: u64,
    /// Whether effects remember, so that every frame has to be played.
    is_played: bool,
}

impl Stretch {
    /// Plans `beats` from `start` on. All frames are compared, or as many as `a_second` says, and at most
    /// [`MOST_MOMENTS`]; the settings of all are looked at. `planned` gives the path at a moment, with what
    /// leads up to it where the second argument says so.
    ///
    /// # Errors
    /// Those of `planned`.
    pub fn planned<E>(
        start: Moment,
        beats: f64,
        a_second: Option<f64>,
        mut planned: impl FnMut(Moment, bool) -> Result<Path, E>,
    ) -> Result<Self, E> {
        let frames_total = ((beats / start.beats_a_frame()).round() as u64).max(1);
        let seconds = beats * 60.0 / start.tempo_bpm;
        let wanted = a_second.map_or(frames_total, |rate| (seconds * rate).round() as u64);
        let count = wanted.clamp(1, frames_total.min(MOST_MOMENTS));
        let compared: Vec<u64> = (0..count).map(|nth| nth * frames_total / count).collect();
        let last = compared.last().copied().unwrap_or(0);
        let first = planned(start, true)?;
        let warm_up_frames = first.warm_up_frames();
        let is_played = first.remembers();
        let mut frames: Vec<Path> = first.past.to_vec();
        let mut proved_from: Vec<(Moment, bool)> =
            frames.iter().map(|path| (path.moment, path.opaque)).collect();
        let mut sampled = Vec::with_capacity(compared.len());
        for at in 0..frames_total {
            let path = planned(start.after(at), false)?;
            proved_from.push((path.moment, path.opaque));
            let is_compared = compared.get(sampled.len()) == Some(&at);
            if is_compared {
                sampled.push(frames.len());
            }
            // Of the others nothing is kept: their pictures would fill the memory.
            if is_compared || is_played && at <= last {
                frames.push(path);
            }
        }
        Ok(Self { beats, frames, sampled, frames_total, proved_from, warm_up_frames, is_played })
    }

    /// The moments compared.
    pub fn moments(&self) -> impl Iterator<Item = &Moment> {
        self.sampled.iter().map(|&at| &self.frames[at].moment)
    }

    /// The orders that can differ at any frame of the stretch, compared or not; `tell` is told how many
    /// frames of [`proof_frames`](Self::proof_frames) have been looked at.
    ///
    /// # Errors
    /// [`GpuError`] where the frame is too large or the GPU fails.
    pub fn orders(&self, renderer: &mut Renderer, tell: impl FnMut(usize)) -> Result<Orders, GpuError> {
        self.orders_within(renderer, &Extent::default(), tell)
    }

    /// Those of them that are to be looked at.
    ///
    /// # Errors
    /// As [`Self::orders`].
    pub fn orders_within(
        &self,
        renderer: &mut Renderer,
        extent: &Extent,
        tell: impl FnMut(usize),
    ) -> Result<Orders, GpuError> {
        self.orders_where(renderer, extent, |opaque| opaque, tell)
    }

    /// The same where the picture under the chain is taken to have full alpha only where `is_opaque` says so, of what
    /// is known of it.
    pub(super) fn orders_where(
        &self,
        renderer: &mut Renderer,
        extent: &Extent,
        is_opaque: impl Fn(bool) -> bool,
        tell: impl FnMut(usize),
    ) -> Result<Orders, GpuError> {
        let chain = &self.frames[0].chain;
        let frames = self.proved_from.iter().map(|(moment, opaque)| ChainAt {
            chain,
            moment,
            opaque: is_opaque(*opaque),
        });
        Ok(Orders::proved(proved_at(Some(renderer), frames, tell)?, chain, extent))
    }

    /// Frames on whose settings the proofs rest: those of the stretch, and those that effects remember.
    pub fn proof_frames(&self) -> usize {
        self.proved_from.len()
    }

    /// Renders every order at every moment, and gathers them: two orders are the same here where they
    /// are at every moment, and look alike where they do at every moment. `strips` says how many orders
    /// get a strip of pictures, each at most as large as the frame on which looks are told apart.
    ///
    /// # Errors
    /// As [`Renderer::explore`].
    pub fn explored(
        &self,
        orders: Orders,
        renderer: &mut Renderer,
        strips: usize,
        limits: LookLimits,
        budget: Budget,
        progress: impl FnMut(usize),
    ) -> Result<Exploration, GpuError> {
        let looked_at = self.look_frame(&orders, budget);
        self.rendered(orders, renderer, looked_at, strips, budget, progress)?.gathered(
            renderer,
            limits,
            |_| {},
        )
    }

    /// The size at which looks are told apart over the stretch.
    pub fn look_frame(&self, orders: &Orders, budget: Budget) -> Frame {
        let same = self.first_shown_alike();
        let distinct = same.iter().enumerate().filter(|(at, first)| at == *first).count();
        look_frame(self.frames[0].moment.frame, orders.classes.len() * distinct, budget)
    }

    /// The first half of it; looks are to be told apart at the size `looked_at`.
    ///
    /// # Errors
    /// As [`Renderer::explore`].
    pub fn rendered(
        &self,
        orders: Orders,
        renderer: &mut Renderer,
        looked_at: Frame,
        strips: usize,
        budget: Budget,
        progress: impl FnMut(usize),
    ) -> Result<Rendered, GpuError> {
        let frame = self.frames[0].moment.frame;
        let same = self.first_shown_alike();
        let own: Vec<usize> = (0..self.frames[0].chain.len()).collect();
        let asked = Asked {
            against: Some(Against::Order(&own)),
            gallery: Some(looked_at),
            budget,
            ..Asked::default()
        };
        let (moments, galleries) = self.tree_rendered(renderer, &orders.tree(), &asked, &same, progress)?;
        let galleries: Vec<Gallery> = galleries.into_iter().flatten().collect();
        let place = |moment: usize| (0..same[moment]).filter(|&at| same[at] == at).count();
        let strip = self.strip(&moments);
        let over = Over {
            beats: self.beats,
            frames_total: self.frames_total,
            moments: self.moments().copied().collect(),
            hung: strip.iter().map(|&moment| place(moment)).collect(),
            strip,
            differences: moments.iter().map(|finished| differences_of(finished)).collect(),
        };
        let mut finished: Vec<Finished> =
            (0..orders.classes.len()).map(|class| over.finished(&moments, class)).collect();
        let classes: Vec<usize> = (0..finished.len().min(strips)).collect();
        let pictures = over.strips(renderer, &galleries, &classes)?;
        for (finished, picture) in finished.iter_mut().zip(pictures) {
            finished.picture = picture;
        }
        let stands_for = |first: usize| same.iter().filter(|&&at| at == first).count() as u32;
        let firsts = (0..same.len()).filter(|&moment| same[moment] == moment);
        Ok(Rendered {
            orders,
            finished,
            galleries,
            moments: firsts.map(stands_for).collect(),
            rendered_at: frame,
            looked_at,
            over: Some(over),
            pieces: None,
        })
    }

    /// How far every order's picture is from another one, as a mean, at every moment that is compared: for each moment,
    /// a figure a class.
    ///
    /// # Errors
    /// As [`Renderer::explore`]; a picture of another size is refused.
    pub fn means_from(
        &self,
        orders: &Orders,
        renderer: &mut Renderer,
        against: Against<'_>,
        budget: Budget,
    ) -> Result<Vec<Vec<f64>>, GpuError> {
        let asked = Asked { against: Some(against), budget, ..Asked::default() };
        let same = self.first_shown_alike();
        let (moments, _) = self.tree_rendered(renderer, &orders.tree(), &asked, &same, |_| {})?;
        let means = |finished: &Vec<Finished>| differences_of(finished).iter().map(|d| d.mean).collect();
        Ok(moments.iter().map(means).collect())
    }

    /// What each effect of the chain does where it stands, over all moments.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn parts(
        &self,
        orders: &Orders,
        renderer: &mut Renderer,
        limits: LookLimits,
        budget: Budget,
    ) -> Result<Vec<Part>, GpuError> {
        let own: Vec<usize> = (0..self.frames[0].chain.len()).collect();
        let without = |effect: usize| own.iter().copied().filter(|&other| other != effect).collect();
        let classes: Vec<Class> = own.iter().map(|&effect| Class { order: without(effect) }).collect();
        let tree = Tree::of(&classes, |effect| orders.proofs.idle[effect].is_some());
        let asked = Asked { against: Some(Against::Order(&own)), budget, ..Asked::default() };
        let same = self.first_shown_alike();
        let (moments, _) = self.tree_rendered(renderer, &tree, &asked, &same, |_| {})?;
        let moments: Vec<Vec<Difference>> = moments.iter().map(|finished| differences_of(finished)).collect();
        let pictures = pictures_said(self.sampled.len() as u64, self.frames_total);
        Ok(own
            .iter()
            .map(|&effect| {
                let of = moments.iter().map(|differences| differences[effect]);
                let name = &orders.labels[effect];
                let unseen = match &orders.proofs.idle[effect] {
                    Some(because) => Some(format!("{name} changes nothing: {because}.")),
                    None if of.clone().any(|difference| !limits.alike(&difference)) => None,
                    None if of.clone().all(|difference| difference.changed_share == 0.0) => {
                        Some(format!("{name} changes nothing in {pictures}."))
                    }
                    None => Some(format!("{name} changes nothing that one sees in {pictures}.")),
                };
                Part { difference: over_moments(of), unseen }
            })
            .collect())
    }

    /// For each moment, the first that shows the same whatever the order; galleries are hung of these alone.
    pub fn first_shown_alike(&self) -> Vec<usize> {
        let path = |moment: usize| &self.frames[self.sampled[moment]];
        let mut first: Vec<usize> = Vec::with_capacity(self.sampled.len());
        for moment in 0..self.sampled.len() {
            let alike = (0..moment).find(|&known| {
                !self.is_played && first[known] == known && path(known).shows_as(path(moment))
            });
            first.push(alike.unwrap_or(moment));
        }
        first
    }

    /// Renders and measures a tree at every moment; gives the finished pictures of each, and a gallery
    /// of each that is the first of its kind.
    fn tree_rendered(
        &self,
        renderer: &mut Renderer,
        tree: &Tree,
        asked: &Asked<'_>,
        same: &[usize],
        mut progress: impl FnMut(usize),
    ) -> Result<Moments, GpuError> {
        if self.is_played {
            let frames: Vec<&Path> = self.frames.iter().collect();
            let found = renderer.explore_frames(&frames, &self.sampled, tree, asked, progress)?;
            return Ok(found.into_iter().unzip());
        }
        let firsts: Vec<usize> = (0..same.len()).filter(|&moment| same[moment] == moment).collect();
        let mut found: Vec<Vec<Finished>> = Vec::with_capacity(firsts.len());
        let (mut galleries, mut underway) = (Vec::new(), VecDeque::new());
        for nth in 0..firsts.len() + Exploring::AHEAD {
            if let Some(&moment) = firsts.get(nth) {
                let path = &self.frames[self.sampled[moment]];
                underway.push_back(renderer.begin_exploring(path, tree, asked)?);
            }
            // The frames behind it are rendered while it comes back.
            if nth >= Exploring::AHEAD
                && let Some(begun) = underway.pop_front()
            {
                let (pictures, gallery) = renderer.finish_exploring(begun)?;
                found.push(pictures);
                galleries.push(gallery);
                progress(tree.leaves.len() * found.len() / firsts.len());
            }
        }
        let of = |moment: &usize| {
            firsts.binary_search(moment).map_or_else(|_| Vec::new(), |nth| found[nth].clone())
        };
        let finished = same.iter().map(of).collect();
        Ok((finished, galleries))
    }

    /// The moments that a strip shows: of each part of the stretch, the one at which the orders differ
    /// most from the first.
    fn strip(&self, moments: &[Vec<Finished>]) -> Vec<usize> {
        let apart = |moment: usize| -> f64 {
            moments[moment].iter().filter_map(|finished| finished.difference).map(|d| d.mean).sum()
        };
        let parts = STRIP_MOMENTS.min(moments.len());
        (0..parts)
            .map(|part| {
                let (from, to) = (part * moments.len() / parts, (part + 1) * moments.len() / parts);
                // The earliest of several.
                (from..to).rev().max_by(|&a, &b| apart(a).total_cmp(&apart(b))).unwrap_or(from)
            })
            .collect()
    }
}

impl Exploration {
    /// The strips of some classes, where orders were compared over a stretch.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn strips(
        &self,
        renderer: &mut Renderer,
        classes: &[usize],
    ) -> Result<Vec<Option<Picture>>, GpuError> {
        let strips = self.over.as_ref().map(|over| over.strips(renderer, &self.galleries, classes));
        strips.unwrap_or_else(|| Ok(Vec::new()))
    }
}

/// The finished pictures of each moment, and the galleries.
type Moments = (Vec<Vec<Finished>>, Vec<Option<Gallery>>);

/// What an exploration over a stretch of beats knows beside one of a moment.
#[derive(Debug)]
pub struct Over {
    /// How long the stretch is.
    pub beats: f64,
    /// Frames in it, whether compared or not.
    pub frames_total: u64,
    /// The moments compared.
    pub moments: Vec<Moment>,
    /// The moments that the strips show: places in `moments`.
    pub strip: Vec<usize>,
    /// For each of those, which gallery holds its pictures.
    pub hung: Vec<usize>,
    /// For each moment and class, the difference from the chain's own order.
    pub differences: Vec<Vec<Difference>>,
}

impl Over {
    /// The same for other classes: for each, the class whose pictures it shares.
    pub(super) fn shared(self, class_of: &[usize]) -> Self {
        let of = |moment: Vec<Difference>| class_of.iter().map(|&class| moment[class]).collect();
        Self { differences: self.differences.into_iter().map(of).collect(), ..self }
    }

    /// What is known of several pieces of footage together, all over the same stretch; none of them hangs in it.
    pub(super) fn of_all(pieces: &[&Self]) -> Option<Self> {
        let first = pieces.first()?;
        let classes = first.differences.first().map_or(0, Vec::len);
        let of = |moment: usize, class: usize| {
            over_moments(pieces.iter().map(|over| over.differences[moment][class]))
        };
        let moments = 0..first.moments.len();
        Some(Self {
            beats: first.beats,
            frames_total: first.frames_total,
            moments: first.moments.clone(),
            strip: Vec::new(),
            hung: Vec::new(),
            differences: moments.map(|at| (0..classes).map(|class| of(at, class)).collect()).collect(),
        })
    }

    /// The moment of the strip at which the orders differ most from the first, and the gallery that holds its pictures;
    /// nothing where no strip hangs.
    pub fn most_telling(&self) -> Option<(&Moment, usize)> {
        let apart = |at: usize| self.differences[at].iter().map(|d| d.mean).sum::<f64>();
        let strip = self.strip.iter().copied().zip(self.hung.iter().copied()).rev();
        strip.max_by(|a, b| apart(a.0).total_cmp(&apart(b.0))).map(|(at, hung)| (&self.moments[at], hung))
    }

    /// At which moment a class is furthest from the chain's own order, and how far; the first of several.
    pub fn worst(&self, class: usize) -> (&Moment, Difference) {
        let mean = |at: usize| self.differences[at][class].mean;
        let at = (0..self.moments.len()).rev().max_by(|&a, &b| mean(a).total_cmp(&mean(b))).unwrap_or(0);
        (&self.moments[at], self.differences[at][class])
    }

    /// Whether frames of the stretch were left out of the pictures; they never are of the proofs.
    pub fn is_sampled(&self) -> bool {
        self.moments.len() as u64 != self.frames_total
    }

    /// The strips of some classes.
    fn strips(
        &self,
        renderer: &mut Renderer,
        galleries: &[Gallery],
        classes: &[usize],
    ) -> Result<Vec<Option<Picture>>, GpuError> {
        let hung = self
            .hung
            .iter()
            .map(|&at| renderer.hung(&galleries[at], classes.iter().copied()))
            .collect::<Result<Vec<_>, _>>()?;
        let strip = |nth: usize| side_by_side(hung.iter().filter_map(|pictures| pictures.get(nth)));
        Ok((0..classes.len()).map(|nth| Some(strip(nth))).collect())
    }

    /// "the pictures of 4 of 120 frames", or "the pictures of all 120 frames".
    pub fn pictures_said(&self) -> String {
        pictures_said(self.moments.len() as u64, self.frames_total)
    }

    fn finished(&self, moments: &[Vec<Finished>], class: usize) -> Finished {
        let fingerprints = moments.iter().map(|finished| finished[class].fingerprint);
        Finished {
            fingerprint: Fingerprint::of_all(fingerprints),
            difference: Some(over_moments(self.differences.iter().map(|differences| differences[class]))),
            picture: None,
        }
    }
}

/// "over 4 beats (proved from all 120 frames; pictures of 4 of them)".
impl fmt::Display for Over {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let beats = if self.beats == 1.0 { "1 beat".to_owned() } else { format!("{} beats", self.beats) };
        let total = self.frames_total;
        match (self.is_sampled(), total) {
            (true, _) => {
                let pictures = self.moments.len();
                write!(f, "over {beats} (proved from all {total} frames; pictures of {pictures} of them)")
            }
            (false, 1) => write!(f, "over {beats} (its only frame)"),
            (false, _) => write!(f, "over {beats} (all {total} frames)"),
        }
    }
}

fn pictures_said(count: u64, total: u64) -> String {
    match total {
        1 => "the picture of the only frame".to_owned(),
        _ if count == total => format!("the pictures of all {total} frames"),
        _ => format!("the pictures of {count} of {total} frames"),
    }
}

fn differences_of(finished: &[Finished]) -> Vec<Difference> {
    finished.iter().map(|finished| finished.difference.unwrap_or_default()).collect()
}

/// The mean of means and of shares, the largest of the rest.
pub(super) fn over_moments(differences: impl Iterator<Item = Difference> + Clone) -> Difference {
    let count = differences.clone().count().max(1) as f64;
    Difference {
        mean: differences.clone().map(|d| d.mean).sum::<f64>() / count,
        p95: differences.clone().map(|d| d.p95).fold(0.0, f64::max),
        max: differences.clone().map(|d| d.max).fold(0.0, f64::max),
        changed_share: differences.map(|d| d.changed_share).sum::<f64>() / count,
    }
}

/// Texels between two pictures of a strip, and at its ends.
const STRIP_GAP: usize = 2;

/// Pictures of one size in a row, time running to the right.
fn side_by_side<'a>(pictures: impl Iterator<Item = &'a Picture>) -> Picture {
    let pictures: Vec<&Picture> = pictures.collect();
    let size = pictures.first().map_or(Frame { width: 1, height: 1 }, |picture| picture.frame);
    let row = size.width as usize * 4;
    let mut rgba = Vec::new();
    for y in 0..size.height as usize {
        for (at, picture) in pictures.iter().enumerate() {
            if at > 0 {
                rgba.extend(std::iter::repeat_n([0, 0, 0, 0], STRIP_GAP).flatten());
            }
            rgba.extend(&picture.rgba[y * row..(y + 1) * row]);
        }
    }
    let width = size.width as usize * pictures.len() + STRIP_GAP * pictures.len().saturating_sub(1);
    Picture { frame: Frame { width: width as u32, height: size.height }, rgba, opaque: pictures.len() == 1 }
}

/// The size of a strip of pictures of this frame.
pub fn strip_frame(frame: Frame, moments: usize) -> Frame {
    let count = moments.clamp(1, STRIP_MOMENTS) as u32;
    Frame { width: frame.width * count + STRIP_GAP as u32 * (count - 1), height: frame.height }
}
