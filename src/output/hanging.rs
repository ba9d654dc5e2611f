//! Which orders a wall shows, family by family, and how large; and their pictures.

use super::wall::{TileGrid, sized, tile_size};
use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::explore::{Exploration, Orders};
use crate::gpu::{Budget, GpuError, Renderer, Want};
use crate::order::Family;
use crate::plan::Path;

/// Pictures on a wall where nothing is said.
pub const MOST_SHOWN: usize = 240;

/// The widths of a family's most typical picture and of its others, were they 16:9, in texels.
const LARGE: u64 = 640;
const SMALL: u64 = 288;
/// A picture so many times as wide as high, such as a strip of moments, has its others under it: two side by side.
const LONG: u32 = 3;
const SMALL_LONG: u64 = 300;

/// How large pictures hang.
#[derive(Debug, Clone, Copy)]
pub struct Sizes {
    /// What was rendered: a picture of this is never magnified but by a whole number.
    frame: Frame,
    /// None where all pictures are alike large, as there are no families.
    large: Option<TileGrid>,
    small: TileGrid,
}

/// What a wall is to show.
#[derive(Debug, Clone, Copy)]
pub struct Wanted<'a> {
    /// Pictures at most.
    pub most: usize,
    /// Whether every order is wanted where they fit, and not one of each look.
    pub every: bool,
    /// All classes, the nearest to a goal first, where there is one.
    pub ranked: Option<&'a [usize]>,
}

/// Which classes a wall shows, and how large.
#[derive(Debug, Clone)]
pub struct Hanging {
    pub(super) groups: Vec<Hung>,
    sizes: Sizes,
    /// Whether every class is shown.
    pub(super) shows_every: bool,
}

/// The classes of one family that are shown.
#[derive(Debug, Clone)]
pub(super) struct Hung {
    /// None where they are no family's.
    pub(super) family: Option<usize>,
    /// The one that stands for all first, large.
    pub(super) classes: Vec<usize>,
}

impl Sizes {
    /// The sizes for pictures of `frame`, or for strips of them as large as `whole`, before any order is rendered.
    pub fn of(orders: &Orders, frame: Frame, whole: Frame, most: usize) -> Self {
        let classes = orders.classes.len();
        if classes < 2 {
            return Self { frame, large: None, small: tile_size(whole, classes.min(most)) };
        }
        let is_long = whole.width > whole.height.saturating_mul(LONG);
        let small = if is_long { SMALL_LONG } else { SMALL };
        Self { frame, large: Some(sized(whole, LARGE)), small: sized(whole, small) }
    }

    /// What has to be rendered for a tile: one larger than the frame is magnified from the frame itself.
    fn wanted(self, grid: TileGrid) -> Want {
        let size =
            Frame { width: grid.width.min(self.frame.width), height: grid.height.min(self.frame.height) };
        Want::Tiles { size, most: usize::MAX }
    }

    /// What to render of every one of so many classes in passing: small pictures, where no more of them are kept than a
    /// wall may hold.
    pub fn in_passing(self, classes: usize, most: usize) -> Want {
        if classes <= most { self.wanted(self.small) } else { Want::Figures }
    }
}

impl Hanging {
    /// Chooses what hangs: of every family the class nearest its mean, or nearest to the goal, and one of each look that it
    /// has besides, or every other order.
    pub fn of(explored: &Exploration, sizes: Sizes, wanted: Wanted<'_>) -> Self {
        let classes = explored.orders.classes.len();
        let mut groups = match (&explored.families, sizes.large) {
            (Some(families), Some(_)) => {
                let shows_every = wanted.every && classes <= wanted.most;
                let group = |nth: usize| {
                    let family = &families.list[nth];
                    Hung {
                        family: Some(nth),
                        classes: in_family(explored, family, wanted.ranked, shows_every),
                    }
                };
                (0..families.list.len()).map(group).collect()
            }
            _ => vec![Hung { family: None, classes: flat(explored, wanted) }],
        };
        if let Some(ranked) = wanted.ranked {
            let rank = ranks(ranked);
            groups.sort_by_key(|group| group.classes.first().map_or(usize::MAX, |&class| rank[class]));
        }
        // Where not all fit, what stands for a family goes before what else it has, large families before small ones.
        let orders = |group: &Hung| {
            group
                .family
                .zip(explored.families.as_ref())
                .map_or(0, |(nth, families)| families.list[nth].orders)
        };
        let mut in_turn: Vec<usize> = (0..groups.len()).collect();
        if wanted.ranked.is_none() {
            in_turn.sort_by_key(|&at| std::cmp::Reverse(orders(&groups[at])));
        }
        let mut left = wanted.most;
        let mut kept = vec![0; groups.len()];
        for nth in 0..groups.iter().map(|group| group.classes.len()).max().unwrap_or(0) {
            for &at in in_turn.iter().filter(|&&at| nth < groups[at].classes.len()) {
                kept[at] += usize::from(left > 0);
                left = left.saturating_sub(1);
            }
        }
        groups.iter_mut().zip(kept).for_each(|(group, kept)| group.classes.truncate(kept));
        groups.retain(|group| !group.classes.is_empty());
        let shown: usize = groups.iter().map(|group| group.classes.len()).sum();
        Self { groups, sizes, shows_every: shown == classes }
    }

    /// The classes that hang, in turn.
    pub fn shown(&self) -> Vec<usize> {
        self.groups.iter().flat_map(|group| group.classes.iter().copied()).collect()
    }

    /// The size of a group's nth picture.
    pub(super) fn grid(&self, group: &Hung, nth: usize) -> TileGrid {
        self.sizes.large.filter(|_| nth == 0 && group.family.is_some()).unwrap_or(self.sizes.small)
    }

    /// Sees to the pictures of all that hangs: those that were not kept in passing are rendered again.
    ///
    /// # Errors
    /// As [`Renderer::explore`].
    pub fn hang(
        &self,
        explored: &mut Exploration,
        renderer: &mut Renderer,
        path: &Path,
        budget: Budget,
    ) -> Result<(), GpuError> {
        if explored.over.is_some() {
            let shown = self.shown();
            let strips = explored.strips(renderer, &shown)?;
            set(explored, &shown, strips);
            return Ok(());
        }
        if let Some(large) = self.sizes.large {
            let first: Vec<usize> =
                self.groups.iter().filter_map(|group| group.classes.first().copied()).collect();
            let pictures = explored.pictures(renderer, path, self.sizes.wanted(large), &first, budget)?;
            set(explored, &first, pictures);
        }
        let is_missing = |class: &usize| explored.finished[*class].picture.is_none();
        let others: Vec<usize> = self.shown().into_iter().filter(is_missing).collect();
        if !others.is_empty() {
            let want = self.sizes.wanted(self.sizes.small);
            let pictures = explored.pictures(renderer, path, want, &others, budget)?;
            set(explored, &others, pictures);
        }
        Ok(())
    }
}

fn set(explored: &mut Exploration, classes: &[usize], pictures: Vec<Option<Picture>>) {
    for (&class, picture) in classes.iter().zip(pictures) {
        explored.finished[class].picture = picture;
    }
}

/// For each class, how near it comes to the goal: 0 is nearest.
fn ranks(ranked: &[usize]) -> Vec<usize> {
    let mut rank = vec![usize::MAX; ranked.len()];
    ranked.iter().enumerate().for_each(|(nth, &class)| rank[class] = nth);
    rank
}

/// Of a family the class that stands for it, then its others: every one, or one of each look that it has besides.
fn in_family(
    explored: &Exploration,
    family: &Family,
    ranked: Option<&[usize]>,
    shows_every: bool,
) -> Vec<usize> {
    let looks = &explored.looks;
    let rank = ranked.map(ranks);
    let nearest = |of: &mut dyn Iterator<Item = usize>| {
        let rank = rank.as_ref()?;
        of.min_by_key(|&class| rank[class])
    };
    let first = nearest(&mut family.classes.iter().copied()).unwrap_or(family.shown);
    let mut orders = vec![0; looks.representatives.len()];
    for &class in &family.classes {
        orders[looks.of[class]] += explored.orders.orders_in(class);
    }
    let mut others: Vec<usize> = if shows_every {
        family.classes.iter().copied().filter(|&class| class != first).collect()
    } else {
        let stands_for = |look: usize| {
            let mine = || family.classes.iter().copied().filter(move |&class| looks.of[class] == look);
            let representative = looks.representatives[look];
            let known = mine().find(|&class| class == representative);
            nearest(&mut mine()).or(known).or_else(|| mine().next())
        };
        let others = (0..looks.representatives.len()).filter(|&look| look != looks.of[first]);
        others.filter_map(stands_for).collect()
    };
    // The chain's own order, then the looks of most orders; those of a family come by code.
    match &rank {
        Some(rank) => others.sort_by_key(|&class| rank[class]),
        None => others.sort_by_cached_key(|&class| {
            let look = looks.of[class];
            (class != 0, std::cmp::Reverse(orders[look]), look, explored.orders.code(class))
        }),
    }
    others.insert(0, first);
    others
}

/// Where there are no families: all classes where they fit, otherwise one of each look.
fn flat(explored: &Exploration, wanted: Wanted<'_>) -> Vec<usize> {
    let classes = explored.orders.classes.len();
    let in_turn = wanted.ranked.map_or_else(|| (0..classes).collect(), <[usize]>::to_vec);
    if classes <= wanted.most {
        return in_turn;
    }
    if wanted.ranked.is_none() {
        return explored.looks.representatives.clone();
    }
    let mut seen = vec![false; explored.looks.representatives.len()];
    let is_first = |class: &usize| !std::mem::replace(&mut seen[explored.looks.of[*class]], true);
    in_turn.into_iter().filter(is_first).collect()
}
