//! An exploration: every order of one chain that can differ, rendered, told apart, and explained.

pub mod find;
mod first;
mod goal;
pub mod judging;
pub mod matters;
pub mod over_time;
pub mod pieces;
pub mod swaps;
pub mod wish;
pub mod words;

use std::collections::{HashMap, HashSet};
use std::sync::Arc;

use crate::base::doing::{doing, doing_counted};
use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::beat::Moment;
use crate::gpu::{
    Against, Asked, Budget, Fingerprint, Finished, Gallery, GalleryPieces, GalleryPoints, GpuError, Renderer,
    Want,
};
use crate::measure::Difference;
use crate::order::{
    Apart, Class, Extent, Fact, Families, IndexMap, LookLimits, Looks, MOST_LOOKS, Marks, Premises, Proofs,
    Proving, Rules, Tally, Tree, marks,
};
use crate::plan::Path;
use crate::show::chain::{EffectCall, EffectUse, labels, one_after_another};
pub use first::sample_of;
pub use goal::Goal;
use over_time::Over;
use pieces::OnPieces;

/// The orders that can differ, before any is rendered.
#[derive(Debug)]
pub struct Orders {
    /// What is proved of the chain.
    pub proofs: Proofs,
    /// The classes that can differ, that of the chain's own order first.
    pub classes: Vec<Class>,
    /// How many orders each of them stands for: all orders were looked at, or some drawn at random.
    pub tally: Tally,
    /// The effects' names, as people tell them apart.
    pub labels: Vec<String>,
    /// The effects' marks, which order codes are made of.
    pub marks: Marks,
}

/// Orders rendered on footage at a moment, and gathered into looks.
#[derive(Debug)]
pub struct Exploration {
    pub orders: Orders,
    /// For each class, its fingerprint, its difference from the chain's own order, its picture if wanted.
    pub finished: Vec<Finished>,
    /// For each class, the first class with the same picture.
    pub first_alike: Vec<usize>,
    /// Classes that a viewer cannot tell apart.
    pub looks: Looks,
    /// What decides which look an order has.
    pub rules: Rules,
    /// What matters, and the few families that it makes.
    pub families: Option<Families>,
    /// The size at which looks were told apart.
    pub looked_at: Frame,
    /// The size of the pictures that were brought to it.
    pub rendered_at: Frame,
    /// Within what two pictures were one look.
    pub limits: LookLimits,
    /// Every class's picture at that size, on the GPU; over a stretch of beats, at each of its moments
    /// that shows something of its own.
    pub galleries: Vec<Gallery>,
    /// What is known beside, where the orders were compared over a stretch of beats.
    pub over: Option<Over>,
    /// What is known beside, where they were compared on several pieces of footage.
    pub pieces: Option<OnPieces>,
}

/// Orders rendered and measured, not gathered yet.
#[derive(Debug)]
pub struct Rendered {
    orders: Orders,
    finished: Vec<Finished>,
    galleries: Vec<Gallery>,
    /// For each gallery, the moments that it stands for.
    moments: Vec<u32>,
    rendered_at: Frame,
    looked_at: Frame,
    over: Option<Over>,
    pieces: Option<OnPieces>,
}

/// Looks are told apart on pictures of at most this many texels (320x180): enough for a difference
/// that a hall sees (common practice, no source), and few enough to compare every picture with many.
const LOOK_TEXELS: u64 = 320 * 180;

/// All comparisons for the looks of one chain take at most this many texels together.
const LOOK_WORK: u64 = 1 << 30;

impl Orders {
    /// The orders of a path's chain that can differ.
    ///
    /// # Errors
    /// [`GpuError`] where the frame is too large or the GPU fails.
    pub fn of(renderer: &mut Renderer, path: &Path) -> Result<Self, GpuError> {
        Self::within(renderer, path, &Extent::default())
    }

    /// Those of them that are to be looked at.
    ///
    /// # Errors
    /// As [`Self::of`].
    pub fn within(renderer: &mut Renderer, path: &Path, extent: &Extent) -> Result<Self, GpuError> {
        let _doing = doing("proving which orders cannot differ");
        let frames: Vec<&Path> = path.frames().collect();
        Ok(Self::proved(proved(Some(renderer), &frames)?, &path.chain, extent))
    }

    /// The orders of a chain of which this is proved.
    pub fn proved(proofs: Proofs, chain: &[EffectUse], extent: &Extent) -> Self {
        let marks = marks(chain);
        let (classes, tally) = proofs.classes.looked_at(&extent.clone().by_mark(&marks));
        Self { proofs, classes, tally, labels: labels(chain), marks }
    }

    /// How many orders a class stands for: of all orders, or of those drawn.
    pub fn orders_in(&self, class: usize) -> u64 {
        self.tally.orders_in(&self.proofs.classes, &self.classes, class)
    }

    /// The tree of partial chains; effects that are proved idle cost no pass.
    pub fn tree(&self) -> Tree {
        Tree::of(&self.classes, |effect| self.proofs.idle[effect].is_some())
    }

    /// Renders and measures every class, and gathers them; `progress` as in [`Renderer::explore`].
    ///
    /// # Errors
    /// As [`Renderer::explore`].
    pub fn explored(
        self,
        renderer: &mut Renderer,
        path: &Path,
        want: Want,
        limits: LookLimits,
        budget: Budget,
        progress: impl FnMut(usize),
    ) -> Result<Exploration, GpuError> {
        self.rendered(renderer, path, want, budget, progress)?.gathered(renderer, limits, |_| {})
    }

    /// The first half of it.
    ///
    /// # Errors
    /// As [`Renderer::explore`].
    pub fn rendered(
        self,
        renderer: &mut Renderer,
        path: &Path,
        want: Want,
        budget: Budget,
        progress: impl FnMut(usize),
    ) -> Result<Rendered, GpuError> {
        let looked_at = look_frame(path.moment.frame, self.classes.len(), budget);
        self.rendered_for(renderer, path, looked_at, want, budget, progress)
    }

    /// The same, where looks are to be told apart at the size `looked_at`.
    fn rendered_for(
        self,
        renderer: &mut Renderer,
        path: &Path,
        looked_at: Frame,
        want: Want,
        budget: Budget,
        progress: impl FnMut(usize),
    ) -> Result<Rendered, GpuError> {
        let own: Vec<usize> = (0..path.chain.len()).collect();
        let asked = Asked { want, against: Some(Against::Order(&own)), gallery: Some(looked_at), budget };
        let (finished, gallery) = renderer.explore(path, &self.tree(), &asked, progress)?;
        let gallery = gallery.ok_or(GpuError::Defect("no gallery came back, though it was asked for"))?;
        Ok(Rendered {
            orders: self,
            finished,
            galleries: vec![gallery],
            moments: vec![1],
            rendered_at: path.moment.frame,
            looked_at,
            over: None,
            pieces: None,
        })
    }

    /// A class's order code: "21534".
    pub fn code(&self, class: usize) -> String {
        self.marks.code(&self.classes[class].order)
    }

    /// A class's order in words: "edge-find, then tint".
    pub fn order_said(&self, class: usize) -> String {
        one_after_another(self.classes[class].order.iter().map(|&place| self.labels[place].as_str()))
    }

    /// "tint before edge-find".
    pub fn fact_said(&self, fact: Fact) -> String {
        format!("{} before {}", self.labels[fact.before], self.labels[fact.after])
    }
}

impl Rendered {
    /// Gathers the orders into looks, and finds what decides: two orders look alike where they do in every gallery.
    /// `tell` is told how many of the classes are gathered.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn gathered(
        self,
        renderer: &mut Renderer,
        limits: LookLimits,
        mut tell: impl FnMut(usize),
    ) -> Result<Exploration, GpuError> {
        let Self { orders, finished, galleries, moments, rendered_at, looked_at, over, mut pieces } = self;
        let now = doing_counted("comparing looks", "orders", finished.len());
        let mut first: HashMap<Fingerprint, usize> = HashMap::new();
        let first_alike =
            finished.iter().enumerate().map(|(at, f)| *first.entry(f.fingerprint).or_insert(at)).collect();
        let keys: Vec<Fingerprint> = finished.iter().map(|finished| finished.fingerprint).collect();
        let apart = InGalleries { renderer, galleries: &galleries };
        let looks = Looks::gathered(&keys, limits, apart, |done| {
            now.done(done);
            tell(done);
        })?;
        let all: Vec<&[usize]> = orders.classes.iter().map(|class| &class.order[..]).collect();
        let pairs: Vec<(usize, usize)> = (0..orders.labels.len())
            .flat_map(|a| (a + 1..orders.labels.len()).map(move |b| (a, b)))
            .filter(|&(a, b)| !orders.proofs.classes.commute(a, b))
            .collect();
        now.now("finding what decides");
        let rules = Rules::of(&all, &looks.of, &pairs);
        now.now("finding what matters");
        let pictures: Vec<(&Gallery, u32)> = galleries.iter().zip(moments).collect();
        let (classes, list, marks) = (&orders.proofs.classes, &orders.classes, &orders.marks);
        let tally = &orders.tally;
        let families = match &mut pieces {
            None => {
                let mut points = GalleryPoints::of(renderer, pictures);
                Families::grown(classes, list, tally, marks, &mut points)?
            }
            Some(pieces) => {
                let of_pieces = pieces.list.iter().map(|piece| pictures[piece.galleries.clone()].to_vec());
                let mut points = GalleryPieces::of(renderer, of_pieces.collect());
                let grown = Families::grown_on(classes, list, tally, marks, &mut points)?;
                grown.map(|(families, shares)| {
                    let of_pieces = pieces.list.iter_mut().zip(shares);
                    of_pieces.for_each(|(piece, shares)| piece.shares = Some(shares));
                    families
                })
            }
        };
        Ok(Exploration {
            orders,
            finished,
            first_alike,
            looks,
            rules,
            families,
            looked_at,
            rendered_at,
            limits,
            galleries,
            over,
            pieces,
        })
    }

    /// The families alone, before looks are told apart, which takes far longer.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn families(&self, renderer: &mut Renderer) -> Result<Option<Families>, GpuError> {
        let _finding = doing("finding what matters");
        let pictures = self.galleries.iter().zip(self.moments.iter().copied()).collect();
        let Orders { proofs, classes, tally, marks, .. } = &self.orders;
        let mut points = GalleryPoints::of(renderer, pictures);
        Families::grown(&proofs.classes, classes, tally, marks, &mut points)
    }

    /// The orders that were rendered.
    pub fn orders(&self) -> &Orders {
        &self.orders
    }

    /// How many galleries hang: one for each moment that shows something of its own.
    pub fn galleries(&self) -> usize {
        self.galleries.len()
    }

    /// The pictures of every order in one of them, at the size at which looks are told apart.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn hung(&self, renderer: &mut Renderer, gallery: usize) -> Result<Vec<Picture>, GpuError> {
        renderer.hung(&self.galleries[gallery], 0..self.orders.classes.len())
    }
}

/// Measures classes by their pictures in all galleries: what is furthest in any of them counts.
struct InGalleries<'a> {
    renderer: &'a mut Renderer,
    galleries: &'a [Gallery],
}

impl Apart for InGalleries<'_> {
    type Error = GpuError;

    fn means(
        &mut self,
        reference: usize,
        others: &[usize],
        bounds: &[f64],
    ) -> Result<Vec<Option<f64>>, GpuError> {
        let mut furthest = vec![Some(0.0_f64); others.len()];
        // Far enough apart in one gallery is far enough. A GPU counts all sooner than it says what need not be counted.
        let is_slow = self.renderer.gpu().is_software();
        if is_slow && bounds.iter().any(|bound| bound.is_finite()) {
            self.renderer.learn_lightness(self.galleries)?;
            for gallery in self.galleries {
                let least = self.renderer.at_least_apart(gallery, reference, others)?;
                for ((furthest, least), bound) in furthest.iter_mut().zip(least).zip(bounds) {
                    furthest.take_if(|_| least >= *bound);
                }
            }
        }
        // What is apart in the first is not looked at in the others, which are waited for together.
        let all = self.galleries.len();
        let (first, rest) = self.galleries.split_at(if is_slow { all.min(1) } else { all });
        for galleries in [first, rest] {
            let open: Vec<usize> = (0..others.len()).filter(|&at| furthest[at].is_some()).collect();
            let classes: Vec<usize> = open.iter().map(|&at| others[at]).collect();
            let bounds: Vec<f64> = open.iter().map(|&at| bounds[at]).collect();
            for means in self.renderer.means_apart_in(galleries, reference, &classes, &bounds)? {
                for (&at, mean) in open.iter().zip(means) {
                    furthest[at] = furthest[at].zip(mean).map(|(one, other)| one.max(other));
                }
            }
        }
        Ok(furthest)
    }

    fn differences(&mut self, reference: usize, others: &[usize]) -> Result<Vec<Difference>, GpuError> {
        let mut furthest = vec![Difference::default(); others.len()];
        for apart in self.renderer.apart_in(self.galleries, reference, others)? {
            for (furthest, apart) in furthest.iter_mut().zip(&apart) {
                *furthest = furthest.furthest(apart);
            }
        }
        Ok(furthest)
    }
}

/// A chain at a frame, as far as proofs look at it: what is under it does not matter, but for its alpha.
#[derive(Debug, Clone, Copy)]
pub struct ChainAt<'a> {
    pub chain: &'a [EffectUse],
    /// The frame.
    pub moment: &'a Moment,
    /// Whether the picture under the chain has full alpha everywhere.
    pub opaque: bool,
}

impl<'a> ChainAt<'a> {
    /// The chain of a path, at its frame.
    pub fn of(path: &'a Path) -> Self {
        Self { chain: &path.chain, moment: &path.moment, opaque: path.opaque }
    }

    /// All that proofs take from a frame, but for the moves' index maps, which follow from it.
    fn settings(&self) -> Vec<u8> {
        let mut settings = vec![u8::from(self.opaque)];
        for used in self.chain {
            settings.extend(used.call(self.moment).uniform);
            settings.extend(used.idle_because(self.moment).unwrap_or_default().into_bytes());
            settings.push(u8::MAX);
        }
        settings
    }
}

/// What is proved of a chain for every one of these frames of its path; without a renderer, what can be
/// proved without the moves' index maps.
///
/// # Errors
/// [`GpuError`] where the frame is too large or the GPU fails.
pub fn proved(renderer: Option<&mut Renderer>, frames: &[&Path]) -> Result<Proofs, GpuError> {
    proved_at(renderer, frames.iter().map(|path| ChainAt::of(path)), |_| {})
}

/// What is proved of a chain for every one of these frames; `tell` is told how many have been taken in.
///
/// # Errors
/// As [`proved`].
pub fn proved_at<'a>(
    mut renderer: Option<&mut Renderer>,
    frames: impl IntoIterator<Item = ChainAt<'a>>,
    mut tell: impl FnMut(usize),
) -> Result<Proofs, GpuError> {
    let mut proving = Proving::default();
    // A frame at settings that were there before says nothing new.
    let mut known: HashSet<Vec<u8>> = HashSet::new();
    // A move at the settings of the frame before moves as it did there.
    let mut before: Vec<(EffectCall, Option<Arc<IndexMap>>)> = Vec::new();
    for (at, frame) in frames.into_iter().enumerate() {
        tell(at);
        let ChainAt { chain, moment, opaque } = frame;
        if !known.insert(frame.settings()) {
            continue;
        }
        let maps = match &mut renderer {
            Some(renderer) => {
                let known = before.iter().map(|(call, map)| (call, map.as_ref()));
                renderer.index_maps_knowing(chain, moment, known, |place| proving.asks_for_map(place))?
            }
            None => vec![None; chain.len()],
        };
        proving.add(&Premises { chain, moment, opaque, maps: &maps });
        before = chain.iter().map(|used| used.call(moment)).zip(maps).collect();
    }
    Ok(proving.proofs())
}

/// The largest size for looks that keeps the frame's shape, [`LOOK_TEXELS`], [`LOOK_WORK`] and a quarter
/// of the budget.
pub(crate) fn look_frame(frame: Frame, classes: usize, budget: Budget) -> Frame {
    look_frame_of(frame, classes, 1, budget)
}

/// The same for each of several pieces of footage, which share the budget; each may take as long as one alone.
fn look_frame_of(frame: Frame, classes: usize, pieces: usize, budget: Budget) -> Frame {
    let classes = classes.max(1) as u64;
    let affordable = (budget.mib << 20) / 4 / (classes * 4 * pieces.max(1) as u64);
    let bearable = LOOK_WORK / (classes * MOST_LOOKS as u64);
    let most = LOOK_TEXELS.min(affordable).min(bearable).max(1) as f64;
    let scale = (most / frame.texels() as f64).sqrt().min(1.0);
    let side = |texels: u32| ((f64::from(texels) * scale) as u32).max(1);
    Frame { width: side(frame.width), height: side(frame.height) }
}

impl Exploration {
    /// How many pictures differ here.
    pub fn distinct(&self) -> usize {
        self.first_alike.iter().enumerate().filter(|(at, first)| at == *first).count()
    }

    /// Renders some classes again, for their pictures: where too many can differ to keep one of each.
    ///
    /// # Errors
    /// As [`Renderer::explore`].
    pub fn pictures(
        &self,
        renderer: &mut Renderer,
        path: &Path,
        want: Want,
        classes: &[usize],
        budget: Budget,
    ) -> Result<Vec<Option<Picture>>, GpuError> {
        let tree = self.orders.tree().part(classes);
        let (finished, _) =
            renderer.explore(path, &tree, &Asked { want, budget, ..Asked::default() }, |_| {})?;
        Ok(finished.into_iter().map(|finished| finished.picture).collect())
    }
}

/// What an effect does where it stands in the chain's own order.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// The output's difference from the output without it.
    pub difference: Difference,
    /// Why it changes nothing that one sees, where it does not: a sentence.
    pub unseen: Option<String>,
}

/// What each effect of a chain does where it stands: the output with and without it.
///
/// # Errors
/// [`GpuError`] where the GPU fails.
pub fn parts(renderer: &mut Renderer, path: &Path, limits: LookLimits) -> Result<Vec<Part>, GpuError> {
    let labels = labels(&path.chain);
    let own: Vec<usize> = (0..path.chain.len()).collect();
    let each = doing_counted("leaving out each effect in turn", "effects", own.len());
    let without = |effect: usize| own.iter().copied().filter(|&other| other != effect).collect();
    let is_at_work = |&effect: &usize| path.idle_because(effect).is_none();
    let others: Vec<Vec<usize>> = own.iter().copied().filter(is_at_work).map(without).collect();
    let mut differences = renderer.orders_apart(path, &own, &others, |at| each.done(at))?.into_iter();
    let mut covering = Covering { from: vec![None; own.len()], whole: None };
    let mut parts = Vec::with_capacity(own.len());
    for &effect in &own {
        if let Some(because) = path.idle_because(effect) {
            let unseen = Some(format!("{} changes nothing: {because}.", labels[effect]));
            parts.push(Part { difference: Difference::default(), unseen });
            continue;
        }
        let difference = differences.next().unwrap_or_default();
        let unseen = if limits.alike(&difference) {
            let name = &labels[effect];
            let nothing =
                if difference.changed_share == 0.0 { "nothing here" } else { "nothing that one sees here" };
            let cover = covering.over(renderer, path, effect)?;
            Some(match cover {
                Some(cover) => {
                    format!("{name} changes {nothing}: no effect under {} shows.", labels[cover])
                }
                None => format!("{name} changes {nothing}."),
            })
        } else {
            None
        };
        parts.push(Part { difference, unseen });
    }
    Ok(parts)
}

/// Which effects cover all that is under them, found out when first asked.
struct Covering {
    from: Vec<Option<bool>>,
    whole: Option<Picture>,
}

impl Covering {
    /// The first effect over `effect` from which on the output is the same with nothing under it.
    fn over(
        &mut self,
        renderer: &mut Renderer,
        path: &Path,
        effect: usize,
    ) -> Result<Option<usize>, GpuError> {
        for cover in effect + 1..path.chain.len() {
            if path.idle_because(cover).is_some() {
                continue;
            }
            let covers = match self.from[cover] {
                Some(known) => known,
                None => {
                    let rest: Vec<usize> = (cover..path.chain.len()).collect();
                    let own: Vec<usize> = (0..path.chain.len()).collect();
                    let whole = match &self.whole {
                        Some(known) => known,
                        None => self.whole.insert(renderer.picture(path, &own)?),
                    };
                    let covers = renderer.picture(path, &rest)?.rgba == whole.rgba;
                    self.from[cover] = Some(covers);
                    covers
                }
            };
            if covers {
                return Ok(Some(cover));
            }
        }
        Ok(None)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn looks_are_told_apart_on_a_frame_of_the_same_shape_within_the_budget() {
        let hd = Frame { width: 1920, height: 1080 };
        let frame = |frame, classes, mib| look_frame(frame, classes, Budget { mib });
        assert_eq!(frame(hd, 54, 1024), Frame { width: 320, height: 180 });
        assert_eq!(frame(Frame { width: 7, height: 5 }, 54, 1024), Frame { width: 7, height: 5 });
        let small = frame(hd, 40_320, 64);
        assert!(small.texels() * 40_320 * 4 <= 16 << 20, "{small}");
        assert_eq!(frame(Frame { width: 1, height: 9 }, 40_320, 1), Frame { width: 1, height: 3 });
    }
}
