//! Decides claims by rendering what they are about.

use thiserror::Error;

use super::{Claim, ClaimKind, Inside, Lesson, LessonPicture};
use crate::base::doing::doing_counted;
use crate::base::frame::{Frame, PixelMode};
use crate::base::picture::Picture;
use crate::beat::Moment;
use crate::explore;
use crate::footage::{FootageError, Shelf};
use crate::gpu::{GpuError, RenderError, Renderer};
use crate::measure::Difference;
use crate::order::Verdict;
use crate::plan::Path;
use crate::readiness::flashing;
use crate::readiness::flashing::Watch;
use crate::show::Scope;

/// Why a lesson does not stand.
#[derive(Debug, Error)]
pub enum LessonError {
    /// A claim that is said to hold does not, or the other way round.
    #[error("{place}: the claim `{claim}` is said {said}, but what is rendered says otherwise: {found}")]
    Refuted {
        /// File, line and column.
        place: String,
        /// The claim's name.
        claim: String,
        /// "to hold" or "not to hold".
        said: &'static str,
        /// What was found.
        found: String,
    },
    /// A picture could not be rendered.
    #[error(transparent)]
    Render(#[from] RenderError),
}

impl From<FootageError> for LessonError {
    fn from(error: FootageError) -> Self {
        Self::Render(error.into())
    }
}

impl From<GpuError> for LessonError {
    fn from(error: GpuError) -> Self {
        Self::Render(error.into())
    }
}

/// What was found of a claim.
#[derive(Debug, Clone, PartialEq)]
pub struct Examined {
    /// Whether it holds.
    pub holds: bool,
    /// What was found, in words.
    pub found: String,
}

/// Renders a lesson's pictures and decides its claims.
#[derive(Debug)]
pub struct Examiner<'a> {
    /// Renders them.
    pub renderer: &'a mut Renderer,
    /// Where footage comes from.
    pub shelf: &'a mut Shelf,
}

impl Examiner<'_> {
    /// Renders one picture.
    ///
    /// # Errors
    /// [`LessonError`] where footage or the GPU fails.
    pub fn picture(&mut self, picture: &LessonPicture) -> Result<Picture, LessonError> {
        self.in_mode(picture, picture.show.pixels)
    }

    /// Decides every claim of a lesson, in its order.
    ///
    /// # Errors
    /// [`LessonError::Refuted`] with the first claim that is not as the lesson says, or where footage or the GPU
    /// fails.
    pub fn examine(&mut self, lesson: &Lesson) -> Result<Vec<Examined>, LessonError> {
        let examining = doing_counted(format!("examining {}", lesson.name), "claims", lesson.claims.len());
        let mut all = Vec::with_capacity(lesson.claims.len());
        for claim in &lesson.claims {
            examining.done(all.len());
            let examined = self.claim(lesson, claim)?;
            if examined.holds != claim.holds {
                return Err(LessonError::Refuted {
                    place: claim.place.clone(),
                    claim: claim.name.clone(),
                    said: if claim.holds { "to hold" } else { "not to hold" },
                    found: examined.found,
                });
            }
            all.push(examined);
        }
        Ok(all)
    }

    /// Decides one claim of a lesson, whatever the lesson says of it.
    ///
    /// # Errors
    /// [`LessonError`] where footage or the GPU fails.
    pub fn claim(&mut self, lesson: &Lesson, claim: &Claim) -> Result<Examined, LessonError> {
        let pictures = &lesson.pictures;
        Ok(match &claim.kind {
            ClaimKind::Same { of, inside } => {
                let found = self.pair(of.map(|at| &pictures[at]), *inside, None)?;
                Examined { holds: found.is_same, found: found.said }
            }
            ClaimKind::Differs { of, least, inside } => {
                let found = self.pair(of.map(|at| &pictures[at]), *inside, None)?;
                Examined { holds: found.mean >= *least, found: found.said }
            }
            ClaimKind::Always { of, effects } => self.always(&pictures[*of], *effects)?,
            ClaimKind::Only8Bit { of, least } => {
                let pair = of.map(|at| &pictures[at]);
                let bytes = self.pair(pair, None, Some(PixelMode::Encoded8Bit))?;
                let floats = self.pair(pair, None, Some(PixelMode::LinearFloat))?;
                Examined {
                    holds: bytes.mean >= *least && floats.is_same,
                    found: format!(
                        "in {}, {}; in {}, {}",
                        PixelMode::Encoded8Bit.name(),
                        bytes.said,
                        PixelMode::LinearFloat.name(),
                        floats.said
                    ),
                }
            }
            ClaimKind::Passes { of, over_beats } => self.passes(&pictures[*of], *over_beats)?,
        })
    }

    fn in_mode(&mut self, picture: &LessonPicture, pixels: PixelMode) -> Result<Picture, LessonError> {
        let moment = Moment { pixels, ..picture.moment() };
        let path = Path::of_scope(&picture.show, Scope::Global, moment, self.shelf)?;
        Ok(self.renderer.picture(&path, &picture.order())?)
    }

    fn pair(
        &mut self,
        [a, b]: [&LessonPicture; 2],
        inside: Option<Inside>,
        pixels: Option<PixelMode>,
    ) -> Result<Pair, LessonError> {
        let mut first = self.in_mode(a, pixels.unwrap_or(a.show.pixels))?;
        let mut second = self.in_mode(b, pixels.unwrap_or(b.show.pixels))?;
        let mut share = 1.0;
        if let Some(inside) = inside {
            let covered = match inside {
                Inside::Scope(scope) => self.covered(a, scope)?,
                Inside::Rectangle(shares) => rectangle(first.frame, shares),
            };
            let count = covered.iter().filter(|&&covered| covered).count();
            share = count as f64 / covered.len().max(1) as f64;
            blacken(&mut first, &covered);
            blacken(&mut second, &covered);
        }
        let difference = self.renderer.difference(&first, &second)?;
        let is_same = share > 0.0 && first.rgba == second.rgba;
        let inside = inside.map(|inside| match inside {
            Inside::Scope(scope) => a.show.address(scope),
            Inside::Rectangle(_) => "that part of the frame".to_owned(),
        });
        Ok(Pair::of(difference, is_same, share, inside))
    }

    /// Where a scope's own picture is opaque as it leaves its chain.
    fn covered(&mut self, picture: &LessonPicture, scope: Scope) -> Result<Vec<bool>, LessonError> {
        let path = Path::of_scope(&picture.show, scope, picture.moment(), self.shelf)?;
        let order: Vec<usize> = (0..path.chain.len()).collect();
        let own = self.renderer.picture(&Path { after: Vec::new(), ..path }, &order)?;
        Ok(own.rgba.chunks_exact(4).map(|texel| texel[3] == 255).collect())
    }

    fn always(&mut self, picture: &LessonPicture, [a, b]: [usize; 2]) -> Result<Examined, LessonError> {
        let path = Path::of_scope(&picture.show, picture.scope, picture.moment(), self.shelf)?;
        let frames: Vec<_> = path.frames().collect();
        let proofs = explore::proved(Some(self.renderer), &frames)?;
        Ok(match proofs.verdict(a, b) {
            Verdict::Always(because) => {
                Examined { holds: true, found: format!("proved for every picture: {because}") }
            }
            Verdict::Open(because) => Examined { holds: false, found: format!("not proved: {because}") },
        })
    }

    fn passes(&mut self, picture: &LessonPicture, over_beats: f64) -> Result<Examined, LessonError> {
        let watch = Watch { over_beats, ..Watch::of(&picture.show) };
        let counting = doing_counted("counting flashes", "frames", watch.frames(picture.show.tempo_bpm));
        let found = flashing::looked_over(self.renderer, self.shelf, &picture.show, &watch, |told| {
            counting.done(told.done);
            true
        })?;
        drop(counting);
        let (played, report) = found.worst();
        let with = played.map(|played| format!(" with {played}")).unwrap_or_default();
        let limits = if found.passes() { "within every limit counted" } else { "past a limit" };
        Ok(Examined {
            holds: found.passes(),
            found: format!("{} in the worst second{with}: {limits}", report.worst().counted_as_flashes()),
        })
    }
}

/// Two pictures, compared.
struct Pair {
    is_same: bool,
    mean: f64,
    said: String,
}

impl Pair {
    fn of(difference: Difference, is_same: bool, share: f64, inside: Option<String>) -> Self {
        let mean = if share > 0.0 { difference.mean / share } else { 0.0 };
        let there = inside.map_or(String::new(), |scope| {
            if share > 0.0 {
                format!(" inside {scope}")
            } else {
                format!(", but {scope} covers no pixel whole, so nothing is compared")
            }
        });
        let said = if is_same {
            format!("the same bytes{there}")
        } else {
            format!("a mean difference of {mean:.1} CIEDE2000{there}")
        };
        Self { is_same, mean, said }
    }
}

/// The texels whose middles lie in a rectangle.
fn rectangle(frame: Frame, [left, top, width, height]: [f64; 4]) -> Vec<bool> {
    let lies = |at: u32, side: u32, from: f64, length: f64| {
        let middle = (f64::from(at) + 0.5) / f64::from(side);
        (from..from + length).contains(&middle)
    };
    let row = |y: u32| {
        let is_in = lies(y, frame.height, top, height);
        (0..frame.width).map(move |x| is_in && lies(x, frame.width, left, width))
    };
    (0..frame.height).flat_map(row).collect()
}

fn blacken(picture: &mut Picture, kept: &[bool]) {
    for (texel, kept) in picture.rgba.chunks_exact_mut(4).zip(kept) {
        if !kept {
            texel.copy_from_slice(&[0, 0, 0, 255]);
        }
    }
}
