//! The report: everything that is known of a chain or a show, on one page for those who were not there.

mod strip;
mod writing;

use image::RgbaImage;
use thiserror::Error;

use super::sections::SectionLines;
use crate::base::at_once::at_once;
use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::beat::Moment;
use crate::drawing::page::ImageError;
use crate::explore;
use crate::explore::swaps::Swap;
use crate::explore::{Exploration, Orders, Part, swaps};
use crate::footage::Shelf;
use crate::gpu::{Budget, GpuError, RenderError, Renderer, Want};
use crate::order::LookLimits;
use crate::output::page;
use crate::output::page::{PAGE_BYTES, Recorded};
use crate::plan::Path;
use crate::readiness::cost::Cost;
use crate::readiness::flashing::{Doing, Flashing, Suggestion, Watch};
use crate::readiness::{Counts, caution, flashing};
use crate::show::{Scope, Show};

pub use writing::{html, html_of_orders};

/// Pictures on the page are at most this wide, in texels; those of looks, of which there are many beside each other, this.
const WIDEST: u32 = 640;
const WIDEST_OF_LOOKS: u32 = 400;

/// Bytes of whole pictures that an exploration brings for a chapter; those of further orders are rendered again.
const KEPT_BYTES: u64 = 256 << 20;

/// Why there is no report.
#[derive(Debug, Error)]
pub enum ReportError {
    /// Something could not be rendered.
    #[error(transparent)]
    Render(#[from] RenderError),
    /// A picture could not be put on the page.
    #[error(transparent)]
    Picture(#[from] ImageError),
}

impl From<GpuError> for ReportError {
    fn from(error: GpuError) -> Self {
        Self::Render(error.into())
    }
}

/// What a report is of.
#[derive(Debug, Clone)]
pub struct About {
    pub name: String,
    /// What its file says of it.
    pub about: String,
    /// Whether it is a chain: its tempo is then the usual one, not its own.
    pub is_chain: bool,
}

/// One chain of the report, explored.
#[derive(Debug)]
pub struct Chapter {
    /// The scope's address, or the footage under a lone chain.
    pub place: String,
    /// The chain's settings that differ from their defaults, in words, by place.
    pub settings: Vec<String>,
    /// Where the beat stood.
    pub beats: f64,
    /// Its orders.
    pub explored: Exploration,
    /// What each effect does where it stands.
    pub parts: Vec<Part>,
    /// A picture of each family: of the order that is most like all of it.
    pub families: Vec<RgbaImage>,
    /// A picture of each look.
    pub looks: Vec<RgbaImage>,
    /// The output without the chain, then after each of its effects.
    pub stages: Vec<RgbaImage>,
    /// Which pairs may change places.
    pub swaps: Vec<Swap>,
}

/// A report before it is written.
#[derive(Debug)]
pub struct Report {
    /// What it is of.
    pub about: About,
    /// The show, or the chain as a show of one clip.
    pub show: Show,
    /// Its chains with an order, the one asked for first.
    pub chapters: Vec<Chapter>,
    /// What was counted of flashes, as the show stands and under hands.
    pub flashes: Flashing,
    /// Changes after which too many flashes are few enough.
    pub suggestions: Vec<Suggestion>,
    /// What a frame costs.
    pub cost: Cost,
    /// The caution, where something can flash.
    pub caution: Option<&'static str>,
    /// The chain of the first chapter, as the page runs it.
    pub live: Option<Recorded>,
    /// The show as it stands in each of its sections.
    pub sections: Vec<SectionPart>,
}

/// What is told of a section.
#[derive(Debug)]
pub struct SectionPart {
    /// Its name, and when it comes.
    pub lines: SectionLines,
    /// Its output.
    pub picture: RgbaImage,
    /// What was counted of flashes, as the show stands in it and under hands.
    pub flashes: Flashing,
}

impl SectionPart {
    /// Renders a section at a moment, and counts its flashes; `show` is as it stands there.
    ///
    /// # Errors
    /// [`ReportError`] where footage or the GPU fails.
    pub fn of(
        renderer: &mut Renderer,
        shelf: &mut Shelf,
        (lines, show): (SectionLines, &Show),
        moment: Moment,
        (counting, counts): (&Counting, &mut Counts),
        tell: impl FnMut(&Doing<'_>),
    ) -> Result<Self, ReportError> {
        let path = Path::of_scope(show, Scope::Global, moment, shelf).map_err(RenderError::from)?;
        let order: Vec<usize> = (0..path.chain.len()).collect();
        let picture = smaller(&renderer.picture(&path, &order)?)?;
        let whole = Show { frame: counting.frame, ..show.clone() };
        let flashes = counts.flashes(renderer, shelf, &whole, &counting.watch, tell)?;
        Ok(Self { lines, picture, flashes })
    }
}

impl Chapter {
    /// Every picture of it.
    pub(super) fn pictures(&self) -> impl Iterator<Item = &RgbaImage> {
        self.families.iter().chain(&self.looks).chain(&self.stages)
    }

    /// Explores a path's chain; `tell` is called with the orders done and all of them.
    ///
    /// # Errors
    /// [`ReportError`] where the GPU fails.
    pub fn of(
        renderer: &mut Renderer,
        path: &Path,
        place: String,
        mut tell: impl FnMut(usize, usize),
    ) -> Result<Self, ReportError> {
        let orders = Orders::of(renderer, path)?;
        let all = orders.classes.len();
        let limits = LookLimits::default();
        let want = Self::wants(path);
        let explored =
            orders.explored(renderer, path, want, limits, Budget::default(), |done| tell(done, all))?;
        let parts = explore::parts(renderer, path, limits)?;
        Self::of_explored(renderer, path, place, explored, parts)
    }

    /// What an exploration brings of each picture, so that few are rendered again.
    pub fn wants(path: &Path) -> Want {
        let size = path.moment.frame;
        Want::Tiles { size, most: (KEPT_BYTES / (size.texels() * 4)) as usize }
    }

    /// The same of a path that is explored, and of which is known what each effect does; pictures that came whole
    /// ([`wants`](Self::wants)) are not rendered again.
    ///
    /// # Errors
    /// [`ReportError`] where the GPU fails.
    pub fn of_explored(
        renderer: &mut Renderer,
        path: &Path,
        place: String,
        mut explored: Exploration,
        parts: Vec<Part>,
    ) -> Result<Self, ReportError> {
        let told = explored.told_families();
        let families = told.map_or(&[][..], |families| &families.list).iter().map(|family| family.shown);
        let of_class = |class: usize| explored.orders.classes[class].order.clone();
        let whole = |class: usize| {
            // Over a stretch they are of several moments.
            let picture = explored.finished[class].picture.as_ref().filter(|_| explored.over.is_none());
            picture.filter(|picture| picture.frame == path.moment.frame)
        };
        // Each with the picture that is there already.
        let shown = |class: usize, widest: u32| (of_class(class), widest, whole(class));
        let mut wanted: Vec<(Vec<usize>, u32, Option<&Picture>)> =
            families.map(|class| shown(class, WIDEST)).collect();
        let of_families = wanted.len();
        let looks = explored.looks.representatives.iter();
        wanted.extend(looks.map(|&class| shown(class, WIDEST_OF_LOOKS)));
        let of_looks = wanted.len() - of_families;
        wanted.extend((0..path.chain.len()).map(|effects| ((0..effects).collect(), WIDEST, None)));
        // The first class is that of the file's own order.
        wanted.push(shown(0, WIDEST));
        let mut pictures = at_once(&wanted, |(_, widest, whole)| whole.map(|whole| at_most(whole, *widest)));
        let missing: Vec<usize> = (0..wanted.len()).filter(|&at| pictures[at].is_none()).collect();
        let orders: Vec<Vec<usize>> = missing.iter().map(|&at| wanted[at].0.clone()).collect();
        renderer.pictures(path, &orders, "rendering families, looks and steps", |nth, picture| {
            pictures[missing[nth]] = Some(at_most(&picture, wanted[missing[nth]].1));
        })?;
        let mut pictures = pictures.into_iter().flatten();
        let mut next = |count: usize| pictures.by_ref().take(count).collect::<Result<Vec<_>, _>>();
        let (families, looks, stages) = (next(of_families)?, next(of_looks)?, next(usize::MAX)?);
        explored.finished.iter_mut().for_each(|finished| finished.picture = None);
        let swaps = swaps::answered_knowing(renderer, path, &explored.orders.proofs)?;
        Ok(Self {
            place,
            settings: path.chain.iter().map(|used| used.written_changes().join(", ")).collect(),
            beats: path.moment.beats,
            explored,
            parts,
            families,
            looks,
            stages,
            swaps,
        })
    }
}

/// How the flashes of a report are counted.
#[derive(Debug, Clone)]
pub struct Counting {
    /// Over which stretch, and which controls are played.
    pub watch: Watch,
    /// At which frame, whatever that of the pictures.
    pub frame: Frame,
}

impl Report {
    /// The report of a show at a moment, `first` of its scopes before the others. `tell` is called with the share
    /// that is done, 0 to 1.
    ///
    /// # Errors
    /// [`ReportError`] where footage or the GPU fails.
    pub fn of_show(
        renderer: &mut Renderer,
        shelf: &mut Shelf,
        show: &Show,
        first: Scope,
        moment: Moment,
        counts: &mut Counts,
        tell: impl Fn(f32),
    ) -> Result<Self, ReportError> {
        let mut scopes = with_order(show);
        scopes.sort_by_key(|&scope| scope != first);
        let (mut chapters, mut live) = (Vec::new(), None);
        for (nth, &scope) in scopes.iter().enumerate() {
            let path = Path::of_scope(show, scope, moment, shelf).map_err(RenderError::from)?;
            let share = |done: usize, all: usize| {
                tell((nth as f32 + done as f32 / all.max(1) as f32) / (scopes.len() + 1) as f32);
            };
            let chapter = Chapter::of(renderer, &path, show.address(scope), share)?;
            if nth == 0 {
                let about = page::About {
                    name: &show.name,
                    about: &show.about,
                    plays_within: PAGE_BYTES,
                    explored: Some(&chapter.explored),
                    swaps: &chapter.swaps,
                };
                live = Some(Recorded::of(renderer, &path, &about, |moment| {
                    Ok(Path::of_scope_alone(show, scope, moment, shelf)?)
                })?);
            }
            chapters.push(chapter);
        }
        let about = About { name: show.name.clone(), about: show.about.clone(), is_chain: false };
        let counted = |doing: &Doing<'_>| {
            let share = doing.done as f32 / doing.total.max(1) as f32;
            tell((scopes.len() as f32 + share) / (scopes.len() + 1) as f32);
        };
        let counting = Counting { watch: Watch::of(show), frame: show.frame };
        let report =
            Self::gathered(renderer, shelf, about, show.clone(), chapters, (&counting, counts), counted)?;
        Ok(Self { live, ..report })
    }

    /// Counts flashes and cost of the whole, and gathers them with what is known of the chains; `tell` is told how far
    /// that has come.
    ///
    /// # Errors
    /// [`ReportError`] where footage or the GPU fails.
    pub fn gathered(
        renderer: &mut Renderer,
        shelf: &mut Shelf,
        about: About,
        show: Show,
        chapters: Vec<Chapter>,
        (counting, counts): (&Counting, &mut Counts),
        mut tell: impl FnMut(&Doing<'_>),
    ) -> Result<Self, ReportError> {
        let whole = Show { frame: counting.frame, ..show.clone() };
        let flashes = counts.flashes(renderer, shelf, &whole, &counting.watch, &mut tell)?;
        let suggestions = flashing::suggestions(renderer, shelf, &whole, &flashes, |doing| {
            tell(doing);
            true
        })?;
        let cost = Cost::of(renderer, shelf, &show)?;
        let caution = caution::of_show(&show);
        let sections = Vec::new();
        Ok(Self { about, show, chapters, flashes, suggestions, cost, caution, live: None, sections })
    }
}

/// The scopes of a show with an order: those that show and have two effects or more switched on.
pub fn with_order(show: &Show) -> Vec<Scope> {
    let is_wanted =
        |scope: &Scope| show.shows(*scope) && show.chain(*scope).iter().filter(|used| used.on).count() > 1;
    show.scopes().into_iter().filter(is_wanted).collect()
}

/// A rendered picture at the size of the page.
pub(crate) fn smaller(picture: &Picture) -> Result<RgbaImage, GpuError> {
    at_most(picture, WIDEST)
}

fn at_most(picture: &Picture, widest: u32) -> Result<RgbaImage, GpuError> {
    let frame = picture.frame;
    let whole = RgbaImage::from_raw(frame.width, frame.height, picture.rgba.clone())
        .ok_or_else(|| GpuError::Refused(format!("too few bytes came back for {frame}")))?;
    if frame.width <= widest {
        return Ok(whole);
    }
    let height = (u64::from(frame.height) * u64::from(widest) / u64::from(frame.width)).max(1) as u32;
    Ok(image::imageops::thumbnail(&whole, widest, height))
}
