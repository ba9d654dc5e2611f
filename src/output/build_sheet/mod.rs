//! The build sheet: pages from which a chain, or a whole show, is rebuilt by hand on any rig.

mod drawn;
mod rig;

use std::collections::HashMap;
use std::collections::hash_map::Entry;
use std::fmt;

use image::RgbaImage;
use thiserror::Error;

use super::report::smaller;
use super::sections::sections;
use crate::base::coding::ColourCode;
use crate::base::doing::{doing, doing_counted};
use crate::base::shown::shown;
use crate::beat::{FrameRate, Moment};
use crate::catalogue::Reach;
use crate::drawing::page::ImageError;
use crate::explore::swaps::{self, Answer};
use crate::explore::{self, ChainAt};
use crate::footage::{FootageError, Shelf};
use crate::gpu::{GpuError, RenderError, Renderer};
use crate::measure::Difference;
use crate::order::{Proofs, Verdict};
use crate::plan::Path;
use crate::show::chain::{EffectUse, labels};
use crate::show::running::OPEN_BEATS;
use crate::show::{Scope, Show};

pub use crate::drawing::svg::DrawnError;

/// Why there is no sheet.
#[derive(Debug, Error)]
pub enum SheetError {
    /// Something could not be rendered.
    #[error(transparent)]
    Render(#[from] RenderError),
    /// A picture could not be put on the sheet.
    #[error(transparent)]
    Picture(#[from] ImageError),
    /// It could not be drawn.
    #[error(transparent)]
    Drawn(#[from] DrawnError),
}

impl From<FootageError> for SheetError {
    fn from(error: FootageError) -> Self {
        Self::Render(error.into())
    }
}

impl From<GpuError> for SheetError {
    fn from(error: GpuError) -> Self {
        Self::Render(error.into())
    }
}

pub use drawn::{html, svg};
pub use rig::Part;

/// Texels across a sheet as a picture: A4 at 200 to the inch.
const TEXELS_ACROSS: u32 = 1654;

/// A sheet that was drawn, as a PNG.
///
/// # Errors
/// [`DrawnError`] where there is no room for it.
pub fn png(drawn: &str) -> Result<Vec<u8>, DrawnError> {
    let _doing = doing("drawing the sheet");
    crate::drawing::svg::png(drawn, TEXELS_ACROSS)
}

/// Beats that the curve of a setting that moves is drawn over.
pub const CURVE_BEATS: f64 = 16.0;
const CURVE_POINTS: u32 = 128;

/// A sheet before it is drawn.
#[derive(Debug, Clone)]
pub struct BuildSheet {
    pub name: String,
    /// Tempo, size and what else holds for all of it.
    pub facts: String,
    /// Bundles and levels with their clips, from the top down.
    pub rig: Vec<Part>,
    /// What changes from section to section, and what each looks like.
    pub sections: Vec<Part>,
    /// What hands play.
    pub controls: Vec<Part>,
    /// The scopes with effects, in the order in which the picture passes through them.
    pub scopes: Vec<ScopeSteps>,
}

/// The chain of one scope, step by step.
#[derive(Debug, Clone)]
pub struct ScopeSteps {
    /// The scope's address, or the footage under a lone chain.
    pub place: String,
    /// The colour by which the person tells the scope.
    pub colour: Option<ColourCode>,
    /// First applied first.
    pub steps: Vec<BuildStep>,
    /// Pairs of it that may change places, and those that must not.
    pub pairs: Vec<PairSaid>,
}

/// One effect.
#[derive(Debug, Clone)]
pub struct BuildStep {
    /// Its name, with its place among its twins.
    pub effect: String,
    /// Every setting with its value and unit, in words.
    pub settings: Vec<String>,
    /// For settings that move with the beat: name, and 0..1 over [`CURVE_BEATS`].
    pub curves: Vec<(String, Vec<f64>)>,
    /// The output when the chain ends here; nothing where the clip is hidden.
    pub picture: Option<RgbaImage>,
}

/// What is known of a pair of effects.
#[derive(Debug, Clone, PartialEq)]
pub struct PairSaid {
    /// "tint / mirror".
    pub pair: String,
    /// `always`, `here` or `differs`.
    pub answer: &'static str,
    /// Whether settings of the two move, so that at another beat the answer may be another.
    pub moves: bool,
    /// Whether it is proved of every beat, as the settings stand, that the two may change places.
    pub is_for_good: bool,
    /// How far apart the two ways are, where they differ.
    pub difference: Option<Difference>,
}

/// What a pair asks of whoever builds the chain.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Asks {
    /// Nothing: the two may change places on any footage.
    Nothing,
    /// Little: on this footage, at this beat, one sees no difference, or hardly any.
    Little,
    /// To keep their order.
    Order,
}

impl Asks {
    /// All, with what stands over pairs of it.
    pub const HEADINGS: [(Self, &'static str); 3] = [
        (Self::Nothing, "May change places freely (proved)"),
        (Self::Little, "Changing places hardly shows here"),
        (Self::Order, "In this order only"),
    ];
}

impl BuildSheet {
    /// The sheet of a show: every scope that has effects, with pictures where it shows, or else from the first of the
    /// sections in which it does. `stands` are the show as it stands in sections, by their names.
    ///
    /// # Errors
    /// [`SheetError`] where footage or the GPU fails.
    pub fn of_show(
        renderer: &mut Renderer,
        shelf: &mut Shelf,
        show: &Show,
        stands: &[(String, Show)],
        moment: Moment,
    ) -> Result<Self, SheetError> {
        let mut scopes = Vec::new();
        for scope in show.scopes().into_iter().filter(|&scope| !show.chain(scope).is_empty()) {
            let place = show.address(scope);
            let _doing = doing(format!("reading what lies under {place}"));
            // Where a section lays another chain on it, that is another scope to build.
            let same = |(_, stands): &&(String, Show)| {
                stands.shows(scope) && stands.chain(scope) == show.chain(scope)
            };
            let steps = match stands.iter().find(same) {
                _ if show.shows(scope) => {
                    ScopeSteps::of(renderer, &Path::of_scope(show, scope, moment, shelf)?, place)?
                }
                Some((section, stands)) => {
                    let path = Path::of_scope(stands, scope, moment, shelf)?;
                    ScopeSteps::of(renderer, &path, format!("{place} (shows in {section})"))?
                }
                None => ScopeSteps::unseen(show.chain(scope), format!("{place} (does not show now)")),
            };
            scopes.push(ScopeSteps { colour: show.colour(scope), ..steps });
        }
        for (section, stands) in stands {
            let is_own = |scope: &Scope| stands.chain(*scope) != show.chain(*scope);
            for scope in stands.scopes().into_iter().filter(is_own) {
                let place = format!("{} in {section}", show.address(scope));
                let steps = if stands.shows(scope) {
                    ScopeSteps::of(renderer, &Path::of_scope(stands, scope, moment, shelf)?, place)?
                } else {
                    ScopeSteps::unseen(stands.chain(scope), format!("{place} (does not show there)"))
                };
                scopes.push(ScopeSteps { colour: show.colour(scope), ..steps });
            }
        }
        let venue = if show.venue.is_empty() { String::new() } else { format!("{}; ", show.venue) };
        let facts = venue + &facts(Some(show.tempo_bpm), &moment, show.rate);
        let order = show.running(OPEN_BEATS);
        let lines = sections(show, order.as_ref()).into_iter().enumerate();
        let mut sections: Vec<Part> =
            lines.map(|(at, section)| Part::of_section(section, show, at)).collect();
        let rendering = doing_counted("rendering the sections", "pictures", sections.len());
        for (at, section) in show.sections.iter().enumerate() {
            rendering.done(at);
            let named = stands.iter().find(|(name, _)| *name == section.name).map(|(_, stands)| stands);
            let Some(stands) = named.or(section.changes_nothing().then_some(show)) else { continue };
            let path = Path::of_scope(stands, Scope::Global, moment, shelf)?;
            let order: Vec<usize> = (0..path.chain.len()).collect();
            sections[at].picture = Some(smaller(&renderer.picture(&path, &order)?)?);
        }
        drop(rendering);
        let [rig, controls] = [rig::levels(show), rig::controls(show)];
        Ok(Self { name: show.name.clone(), facts, rig, sections, controls, scopes })
    }

    /// The sheet of one chain alone.
    pub fn of_chain(name: String, facts: String, steps: ScopeSteps) -> Self {
        let [rig, sections, controls] = [(); 3].map(|()| Vec::new());
        Self { name, facts, rig, sections, controls, scopes: vec![steps] }
    }

    /// The sheet as a file with this ending holds it: `txt` for text, `png` for a picture, `html` for pages to print,
    /// otherwise SVG.
    ///
    /// # Errors
    /// [`SheetError`] where there is no room for the drawing.
    pub fn written(&self, ending: &str) -> Result<Vec<u8>, SheetError> {
        Ok(match ending {
            "txt" => shown(&self.text()).into_owned().into_bytes(),
            "png" => png(&svg(self)?)?,
            "html" => {
                let _doing = doing("drawing the sheet");
                html(self)?.into_bytes()
            }
            _ => {
                let _doing = doing("drawing the sheet");
                svg(self)?.into_bytes()
            }
        })
    }
}

/// The line under a sheet's name: the tempo where there is one, size, pixels, rate and beat.
pub fn facts(tempo_bpm: Option<f64>, moment: &Moment, rate: FrameRate) -> String {
    let tempo = tempo_bpm.map(|tempo| format!("{tempo} BPM, ")).unwrap_or_default();
    let (frame, pixels, beats) = (moment.frame, moment.pixels.name(), moment.beats);
    format!("{tempo}{frame}, {pixels}, {rate} frames a second, pictures at beat {beats}")
}

impl ScopeSteps {
    /// The steps of a path's chain, with pictures and pairs.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn of(renderer: &mut Renderer, path: &Path, place: String) -> Result<Self, GpuError> {
        let mut found = Self::unseen(&path.chain, place);
        let own: Vec<usize> = (0..path.chain.len()).collect();
        let orders: Vec<Vec<usize>> = (1..=own.len()).map(|effects| own[..effects].to_vec()).collect();
        let mut pictures = Vec::with_capacity(orders.len());
        let rendering = format!("rendering the steps of {}", found.place);
        renderer.pictures(path, &orders, &rendering, |_, picture| pictures.push(smaller(&picture)))?;
        for (step, picture) in found.steps.iter_mut().zip(pictures) {
            step.picture = Some(picture?);
        }
        let names = labels(&path.chain);
        let moves = |at: usize| {
            let used = &path.chain[at];
            used.is_automated() || used.grips().next().is_some()
        };
        let swaps = swaps::answered(renderer, path)?;
        let mut beats = EveryBeat { path, proofs: HashMap::new() };
        let mut for_good = Vec::with_capacity(swaps.len());
        for swap in &swaps {
            let pair = [swap.pair.lower, swap.pair.upper];
            for_good.push(swap.answer == Answer::Always && beats.bear_out(renderer, pair)?);
        }
        found.pairs = swaps
            .iter()
            .zip(for_good)
            .map(|(swap, is_for_good)| PairSaid {
                pair: format!("{} / {}", names[swap.pair.lower], names[swap.pair.upper]),
                answer: swap.answer.word(),
                moves: moves(swap.pair.lower) || moves(swap.pair.upper),
                is_for_good,
                difference: match &swap.answer {
                    Answer::Differs(difference) => Some(*difference),
                    Answer::Here | Answer::Always => None,
                },
            })
            .collect();
        Ok(found)
    }

    /// The steps of a chain of which nothing shows.
    pub fn unseen(chain: &[EffectUse], place: String) -> Self {
        let steps = chain.iter().zip(labels(chain)).map(|(used, effect)| step(used, effect)).collect();
        Self { place, colour: None, steps, pairs: Vec::new() }
    }
}

/// Proofs for beats at which others of a chain's effects do something.
struct EveryBeat<'a> {
    path: &'a Path,
    /// By how many steps of a beat after the path's own.
    proofs: HashMap<u32, Proofs>,
}

impl EveryBeat<'_> {
    /// Beats that are looked through for one at which both effects of a pair do something, and steps in each.
    const BEATS: u32 = 32;
    const STEPS: u32 = 32;

    /// Whether what is proved of a pair at the path's moment holds at every beat, as the settings stand.
    ///
    /// An effect that does nothing for now, such as a gate that is shut, proves nothing of later: the pair is proved
    /// again at a beat at which both do something. Such a proof rests on what the two declare, on settings and on index
    /// maps, which are the same at all beats, but for a move that turns with the beat. What remembers shows a moment ago,
    /// and so is borne out only beside what does the same at every beat.
    fn bear_out(&mut self, renderer: &mut Renderer, pair: [usize; 2]) -> Result<bool, GpuError> {
        let Path { chain, moment, opaque, .. } = self.path;
        let used = pair.map(|at| &chain[at]);
        if used.iter().any(|used| used.is_idle_for_good(moment)) || used[0].is_twin(used[1]) {
            return Ok(true);
        }
        if !used.iter().any(|used| used.turns_with_the_beat()) {
            return Ok(true);
        }
        for (one, other) in [(used[0], used[1]), (used[1], used[0])] {
            if one.remembers() {
                let stands = !other.remembers() && !other.turns_with_the_beat();
                return Ok(stands && one.idle_because(moment).is_none());
            }
            if one.effect.reach == Reach::Move && one.turns_with_the_beat() {
                return Ok(false);
            }
        }
        let later =
            |step: u32| Moment { beats: moment.beats + f64::from(step) / f64::from(Self::STEPS), ..*moment };
        let both = |step: &u32| used.iter().all(|used| used.idle_because(&later(*step)).is_none());
        let Some(step) = (0..Self::BEATS * Self::STEPS).find(both) else { return Ok(false) };
        let proofs = match self.proofs.entry(step) {
            Entry::Occupied(known) => known.into_mut(),
            Entry::Vacant(open) => {
                let (moment, opaque) = (&later(step), *opaque);
                let at = ChainAt { chain, moment, opaque };
                open.insert(explore::proved_at(Some(renderer), [at], |_| {})?)
            }
        };
        Ok(matches!(proofs.verdict(pair[0], pair[1]), Verdict::Always(_)))
    }
}

fn step(used: &EffectUse, effect: String) -> BuildStep {
    let mut settings = Vec::new();
    let mut curves = Vec::new();
    match (used.on, used.switch_grip()) {
        (true, None) => {}
        (false, None) => settings.push("switched off".to_owned()),
        (on, Some(grip)) => {
            let on = if on { "on" } else { "off" };
            settings.push(format!("switched {on}, by \"{}\" on or off", grip.control));
        }
    }
    for (place, (setting, value)) in used.effect.settings.iter().zip(used.values()).enumerate() {
        let held =
            used.grip(place).map(|grip| format!(", played by \"{}\"", grip.control)).unwrap_or_default();
        let Some(automation) = used.automation(place) else {
            settings.push(format!("{} {}{held}", setting.label, setting.kind.said(value)));
            continue;
        };
        let moves = automation.in_words(|value| setting.kind.said(value));
        settings.push(format!("{} {moves}{held}", setting.label));
        let at = |n: u32| {
            let beats = CURVE_BEATS * f64::from(n) / f64::from(CURVE_POINTS);
            automation.at(&setting.kind, beats).as_number()
        };
        let numbers: Vec<f64> = (0..CURVE_POINTS).filter_map(at).collect();
        let [low, high] = numbers.iter().fold([f64::MAX, f64::MIN], |[l, h], n| [l.min(*n), h.max(*n)]);
        if high > low {
            let curve = numbers.iter().map(|number| (number - low) / (high - low)).collect();
            curves.push((setting.label.clone(), curve));
        }
    }
    BuildStep { effect, settings, curves, picture: None }
}

impl PairSaid {
    /// What it asks of whoever builds the chain.
    pub fn asks(&self) -> Asks {
        match (self.answer, &self.difference) {
            // What holds at one beat need not hold where the settings move.
            _ if self.moves => Asks::Order,
            ("always", _) if self.is_for_good => Asks::Nothing,
            ("always", _) => Asks::Order,
            ("here", _) => Asks::Little,
            (_, Some(difference)) if difference.hardly_shows() => Asks::Little,
            _ => Asks::Order,
        }
    }
}

/// "tint / mirror", with what is to be known of it.
impl fmt::Display for PairSaid {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let known = match (self.answer, &self.difference) {
            ("always", _) if !self.moves && self.is_for_good => return f.write_str(&self.pair),
            ("always", _) if !self.moves => {
                return write!(f, "{} (the same now, not at every beat)", self.pair);
            }
            ("always", _) => "the same".to_owned(),
            ("here", _) if !self.moves => "the same on this footage only".to_owned(),
            (_, None) => "the same on this footage".to_owned(),
            (_, Some(difference)) => difference.in_short(),
        };
        // A difference at this beat is reason enough to keep the order.
        let is_certain = self.difference.is_some_and(|difference| !difference.hardly_shows());
        let but = if self.moves && !is_certain { " at this beat, but settings move" } else { "" };
        write!(f, "{} ({known}{but})", self.pair)
    }
}

impl BuildSheet {
    /// The sheet as plain text.
    pub fn text(&self) -> String {
        let mut text = format!("{}\n{}\n", self.name, self.facts);
        for (title, parts) in [
            ("Bundles, levels and clips, the topmost first", &self.rig),
            ("Sections of the set, and what each changes", &self.sections),
            ("What hands play", &self.controls),
        ] {
            if parts.is_empty() {
                continue;
            }
            text += &format!("\n{title}:\n");
            for part in parts {
                let colour = part.colour.map_or_else(String::new, |colour| format!(", {colour}"));
                text += &format!("  {}{colour}\n", part.heading);
                for line in &part.lines {
                    text += &format!("       {line}\n");
                }
            }
        }
        if self.rig.len() + self.sections.len() + self.controls.len() > 0 {
            text += "\n";
        }
        text += "Build from the top: the first effect is under all others of its scope.\n";
        for scope in &self.scopes {
            let colour = scope.colour.map_or_else(String::new, |colour| format!(", {colour}"));
            text += &format!("\n{}{colour}\n", scope.place);
            for (number, step) in (1..).zip(&scope.steps) {
                text += &format!("  {number}. {}\n", step.effect);
                for setting in &step.settings {
                    text += &format!("       {setting}\n");
                }
            }
            for (asks, heading) in Asks::HEADINGS {
                let pairs: Vec<String> =
                    scope.pairs.iter().filter(|pair| pair.asks() == asks).map(PairSaid::to_string).collect();
                if !pairs.is_empty() {
                    text += &format!("  {heading}:\n");
                    for pair in pairs {
                        text += &format!("       {pair}\n");
                    }
                }
            }
        }
        text
    }
}
