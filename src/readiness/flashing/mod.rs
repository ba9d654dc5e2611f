//! What of a show's output flashes, as it stands and under hands, and what would flash less.
//!
//! The output is rendered frame by frame at the show's own frame and counted as [`FlashCounter`] counts, round the seam
//! of the stretch, since a stretch that is looped comes to it. A suggestion is an [`Edit`] that was rendered and
//! counted too, and passes.

mod counting;
mod known;
mod played;
mod suggested;
mod way;

use super::caution;
use crate::beat::{Beats, FrameRate, Moment};
use crate::edit::Spot;
use crate::footage::Shelf;
use crate::gpu::{RenderError, Renderer};
use crate::measure::{FlashReport, MOST_CHANGES, Viewing};
use crate::plan::Running;
use crate::show::chain::{EffectUse, labels};
use crate::show::{Show, Target};

use counting::{Until, count, nothing_counted, ways_together};
use played::{Hand, is_moved};
pub use played::{PRESSES_A_SECOND, Played, THROWS_A_SECOND};
pub use suggested::{Suggestion, suggestions};
use way::Way;

/// How many beats are looked at where nothing else is asked for.
pub const OVER_BEATS: f64 = 16.0;

/// Which frames are looked at, and how.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Watch {
    /// Where the first frame stands, in beats.
    pub from_beats: f64,
    /// How many beats are looked at.
    pub over_beats: f64,
    /// Frames in one second.
    pub rate: FrameRate,
    /// How the picture is looked at.
    pub viewing: Viewing,
}

impl Watch {
    /// What is looked at of a show where nothing else is asked for: [`OVER_BEATS`] from its start on, at its own
    /// rate, on WCAG's screen.
    pub fn of(show: &Show) -> Self {
        Self { from_beats: 0.0, over_beats: OVER_BEATS, rate: show.rate, viewing: Viewing::default() }
    }

    /// Frames looked at, at a tempo: at least one.
    pub fn frames(&self, tempo_bpm: f64) -> usize {
        (self.over_beats * 60.0 / tempo_bpm * self.rate.per_second() - 1e-9).ceil().max(1.0) as usize
    }

    /// Where a frame stands, in beats.
    pub fn beats_at(&self, frame: usize, tempo_bpm: f64) -> f64 {
        Beats::of_decimal(self.from_beats).plus(&Beats::of_frame(frame as u64, self.rate, tempo_bpm)).to_f64()
    }

    fn start(&self, show: &Show) -> Moment {
        let from = Beats::of_decimal(self.from_beats);
        Moment::at_beats(show.frame, show.pixels, show.tempo_bpm, self.rate, &from)
    }
}

/// How far the counting has come.
#[derive(Debug, Clone, Copy)]
pub struct Doing<'a> {
    /// What is being done, in words.
    pub what: &'a str,
    /// Of what there are so many.
    pub unit: &'static str,
    /// Done by now, of all together.
    pub done: usize,
    /// In all, as far as is known by now.
    pub total: usize,
}

/// Something that takes part in flashes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    Effect(Spot),
    /// What a control moves that is no effect: an opacity, or which clip shows.
    Held(Target),
}

impl Part {
    /// "flash-gate on global", "opacity of level:picture/sea".
    pub fn said(self, show: &Show) -> String {
        match self {
            Self::Effect(spot) => {
                format!("{} on {}", labels(show.chain(spot.scope))[spot.at], show.address(spot.scope))
            }
            Self::Held(target) => held_said(show, target),
        }
    }
}

/// Something that a control moves and that is no effect, with the scope that it is of.
fn held_said(show: &Show, target: Target) -> String {
    let of = target.scope().map(|scope| format!(" of {}", show.address(scope)));
    format!("{}{}", show.target_said(target), of.unwrap_or_default())
}

/// What was counted by now.
#[derive(Debug, Clone, Copy)]
pub struct SoFar {
    /// Frames made.
    pub frames: usize,
    /// The most changes within one second of the frames counted by now: what is still to come adds to it and takes
    /// nothing away.
    pub changes: u32,
}

impl SoFar {
    /// "at least 2.5 in one second", "at least 4 in one second, which is too many"; none where nothing flashed yet.
    pub fn at_least(self) -> Option<String> {
        let too_many = if self.changes > MOST_CHANGES { ", which is too many" } else { "" };
        let flashes = f64::from(self.changes) / 2.0;
        (self.changes > 0).then(|| format!("at least {flashes} in one second{too_many}"))
    }
}

/// What was found of a show: as it stands, under hands, and without what flashes.
#[derive(Debug, Clone)]
pub struct Flashing {
    /// Which frames were looked at.
    pub watch: Watch,
    /// The show as it stands, untouched.
    pub own: FlashReport,
    /// With controls played, one for each of [`Played::all`].
    pub played: Vec<(Played, FlashReport)>,
    /// With everything switched off that can flash, where the show as it stands is past a limit: the footage alone.
    pub alone: Option<FlashReport>,
    /// Whether all of it was counted; somebody may have ended it before.
    pub is_whole: bool,
}

impl Flashing {
    /// What is known once a show was counted as it stands, and nothing more.
    pub fn begun(show: &Show, watch: &Watch, own: FlashReport) -> Self {
        let is_whole = own.passes() && Played::all(show, watch).is_empty();
        Self { watch: *watch, own, played: Vec::new(), alone: None, is_whole }
    }

    /// Whether every limit is kept, whatever is played of what was counted.
    pub fn passes(&self) -> bool {
        self.own.passes() && self.played.iter().all(|(_, report)| report.passes())
    }

    /// The report with the most changes of those past a limit, or else of all, and what was played in it: the
    /// show as it stands comes first.
    pub fn worst(&self) -> (Option<&Played>, &FlashReport) {
        let mut worst = (None, &self.own);
        for (played, report) in &self.played {
            let more = |report: &FlashReport| (!report.passes(), report.worst().changes);
            if more(report) > more(worst.1) {
                worst = (Some(played), report);
            }
        }
        worst
    }

    /// Whether the footage is past a limit without any help.
    pub fn is_footage(&self) -> bool {
        self.alone.as_ref().is_some_and(|alone| !alone.passes())
    }

    /// What takes part in the flashes, as the show stands and under hands: what can flash by itself, and what a
    /// control moves with which a limit is passed.
    pub fn taking_part(&self, show: &Show) -> Vec<Part> {
        let failing: Vec<&Played> = self.failing().map(|(played, _)| played).collect();
        let effects = flashing_under(
            show,
            &self.watch,
            self.played.iter().map(|(played, _)| played),
            &failing,
            !self.own.passes(),
        );
        let held = self.held(show).into_iter().map(|(target, _)| Part::Held(target));
        let mut parts: Vec<Part> = effects.into_iter().map(Part::Effect).chain(held).collect();
        parts.dedup();
        parts
    }

    /// What controls move that is no effect, with which more flashes than does untouched, and a limit is passed: opacities,
    /// and which clip shows; each with its control.
    fn held(&self, show: &Show) -> Vec<(Target, String)> {
        let mut held: Vec<(Target, String)> = Vec::new();
        let untouched = self.own.worst().changes;
        let more = self.failing().filter(|(_, report)| report.worst().changes > untouched);
        for control in more.flat_map(|(played, _)| played.controls()) {
            let grips = show.grips(control).filter(|(target, grip)| played::moves_part(show, *target, grip));
            for (target, _) in grips {
                let of = (target, control.to_owned());
                if !held.contains(&of) {
                    held.push(of);
                }
            }
        }
        held.sort();
        held
    }

    /// The ways of playing controls that are past a limit.
    pub fn failing(&self) -> impl Iterator<Item = (&Played, &FlashReport)> {
        self.played.iter().filter(|(_, report)| !report.passes()).map(|(played, report)| (played, report))
    }
}

/// Counts a show as it stands, with each of its controls played, and where it is past a limit the footage
/// alone. `tell` is told how far it has come, and says whether to go on: otherwise what was counted by then
/// is given, and said not to be whole.
///
/// # Errors
/// [`RenderError`] where footage or the GPU fails.
pub fn looked_over(
    renderer: &mut Renderer,
    shelf: &mut Shelf,
    show: &Show,
    watch: &Watch,
    tell: impl FnMut(&Doing<'_>) -> bool,
) -> Result<Flashing, RenderError> {
    look_over(renderer, shelf, show, watch, None, tell)
}

/// Goes on where a show was counted as it stands: as [`looked_over`], which does both.
///
/// # Errors
/// As `looked_over`.
pub fn completed(
    renderer: &mut Renderer,
    shelf: &mut Shelf,
    show: &Show,
    found: Flashing,
    tell: impl FnMut(&Doing<'_>) -> bool,
) -> Result<Flashing, RenderError> {
    let watch = found.watch;
    look_over(renderer, shelf, show, &watch, Some(found), tell)
}

fn look_over(
    renderer: &mut Renderer,
    shelf: &mut Shelf,
    show: &Show,
    watch: &Watch,
    begun: Option<Flashing>,
    mut tell: impl FnMut(&Doing<'_>) -> bool,
) -> Result<Flashing, RenderError> {
    let frames = watch.frames(show.tempo_bpm);
    let played = Played::all(show, watch);
    let mut ways: Vec<Way<'_>> = played.iter().map(|played| Way::of(show, Some(played))).collect();
    let has_begun = begun.is_some();
    if !has_begun {
        ways.insert(0, Way::of(show, None));
    }
    let mut total = frames * (usize::from(has_begun) + ways.len());
    let mut done = if has_begun { frames } else { 0 };
    let mut found = begun;
    let together = ways_together(show, watch);
    let mut goes_on = true;
    for ways in ways.chunks(together) {
        let what = counting(ways);
        let reports = count(renderer, shelf, ways, watch, Until::End, |made| {
            goes_on = tell(&Doing { what: &what, unit: "frames", done: done + made.frames, total });
            goes_on
        })?;
        for (way, report) in ways.iter().zip(reports) {
            match (&mut found, way.played) {
                (Some(found), Some(played)) if goes_on => found.played.push((played.clone(), report)),
                (Some(_), _) => {}
                (None, _) => found = Some(Flashing::begun(show, watch, report)),
            }
        }
        if !goes_on {
            break;
        }
        done += frames * ways.len();
    }
    // The show as it stands is the first of the ways where it was not counted before.
    let mut found = found.unwrap_or_else(|| Flashing::begun(show, watch, nothing_counted(show, watch)));
    if goes_on && !found.own.passes() {
        match without_flashing(show) {
            None => found.alone = Some(found.own.clone()),
            Some(bare) => {
                total += frames;
                let what = "counting flashes of the footage alone";
                let way = Way::of(&bare, None);
                let mut alone = count(renderer, shelf, &[way], watch, Until::End, |made| {
                    goes_on = tell(&Doing { what, unit: "frames", done: done + made.frames, total });
                    goes_on
                })?;
                found.alone = alone.pop().filter(|_| goes_on);
            }
        }
    }
    found.is_whole = goes_on;
    Ok(found)
}

/// What is being counted, in words.
fn counting(ways: &[Way<'_>]) -> String {
    match ways {
        [Way { played: Some(played), .. }] => format!("counting flashes with {played}"),
        [Way { played: None, .. }, ..] => "counting flashes".to_owned(),
        _ => "counting flashes with controls played".to_owned(),
    }
}

/// Counts the flashes of a show's output as it stands; `tell` is told what was counted by now, and says whether
/// to go on: otherwise what was counted by then is given.
///
/// # Errors
/// [`RenderError`] where footage or the GPU fails.
pub fn counted(
    renderer: &mut Renderer,
    shelf: &mut Shelf,
    show: &Show,
    watch: &Watch,
    tell: impl FnMut(SoFar) -> bool,
) -> Result<FlashReport, RenderError> {
    let mut reports = count(renderer, shelf, &[Way::of(show, None)], watch, Until::End, tell)?;
    Ok(reports.pop().unwrap_or_else(|| nothing_counted(show, watch)))
}

/// Counts the flashes of a running order from its first beat to its last, untouched and once: cuts and fades are
/// flashes too where they follow each other fast. Of `watch` the rate and the viewing count; `tell` as for [`counted`].
///
/// # Errors
/// [`RenderError`] where footage or the GPU fails.
pub fn counted_along(
    renderer: &mut Renderer,
    shelf: &mut Shelf,
    running: &Running,
    watch: &Watch,
    tell: impl FnMut(SoFar) -> bool,
) -> Result<Option<(Watch, FlashReport)>, RenderError> {
    let Some(show) = running.stands().first() else { return Ok(None) };
    let watch = Watch { from_beats: 0.0, over_beats: running.order().beats(), ..*watch };
    let way = Way { show, played: None, running: Some(running) };
    let mut reports = count(renderer, shelf, &[way], &watch, Until::End, tell)?;
    Ok(reports.pop().map(|report| (watch, report)))
}

/// Whether an effect can flash by itself: it is made to, or a setting of it jumps with the beat.
pub(crate) fn can_flash(used: &EffectUse) -> bool {
    used.effect.flashes || caution::jumps(used)
}

/// The effects that can flash, reach the output and change a picture at a frame that is looked at: those that
/// are switched off, or at a strength of 0 throughout, have no part in it.
pub fn flashing(show: &Show, watch: &Watch) -> Vec<Spot> {
    changing(show, watch, can_flash)
}

fn changing(show: &Show, watch: &Watch, is_meant: impl Fn(&EffectUse) -> bool) -> Vec<Spot> {
    let start = watch.start(show);
    let moments: Vec<Moment> =
        (0..watch.frames(show.tempo_bpm)).map(|frame| start.after(frame as u64)).collect();
    let scopes = show.scopes().into_iter().filter(|&scope| show.shows(scope));
    let spots = scopes.flat_map(|scope| (0..show.chain(scope).len()).map(move |at| Spot { scope, at }));
    spots
        .filter(|spot| {
            let used = &show.chain(spot.scope)[spot.at];
            used.on && is_meant(used) && moments.iter().any(|moment| used.idle_because(moment).is_none())
        })
        .collect()
}

/// The same of a show as hands make it. `failing` are the ways of playing that are past a limit: where nothing in
/// the show flashes by itself, it is the hand that makes what it moves flash.
fn flashing_under<'a>(
    show: &Show,
    watch: &Watch,
    ways: impl IntoIterator<Item = &'a Played>,
    failing: &[&Played],
    is_too_much_untouched: bool,
) -> Vec<Spot> {
    let mut spots = flashing(show, watch);
    if spots.is_empty() && is_too_much_untouched {
        spots = changing(show, watch, EffectUse::is_automated);
    }
    let start = watch.start(show);
    for played in ways {
        let controls = if failing.contains(&played) { played.controls() } else { Vec::new() };
        let takes_part =
            |used: &EffectUse| can_flash(used) || controls.iter().any(|control| is_moved(used, control));
        let mut hand = Hand::of(show, Some(played), watch);
        for frame in 0..watch.frames(show.tempo_bpm) {
            let moment = start.after(frame as u64);
            let now = hand.at(frame, moment.beats);
            for scope in now.scopes().into_iter().filter(|&scope| now.shows(scope)) {
                for (at, used) in now.chain(scope).iter().enumerate() {
                    let spot = Spot { scope, at };
                    if used.on
                        && takes_part(used)
                        && !spots.contains(&spot)
                        && used.idle_because(&moment).is_none()
                    {
                        spots.push(spot);
                    }
                }
            }
        }
    }
    spots
}

/// The show with every effect switched off that can flash, or where there is none, that moves: even a smooth
/// movement flashes where it is fast. None where there is no such effect either.
fn without_flashing(show: &Show) -> Option<Show> {
    without(show, can_flash).or_else(|| without(show, EffectUse::is_automated))
}

fn without(show: &Show, is_meant: impl Fn(&EffectUse) -> bool) -> Option<Show> {
    let mut bare = show.clone();
    let mut is_changed = false;
    for scope in show.scopes() {
        for used in bare.chain_mut(scope) {
            let goes = used.on && is_meant(used);
            used.on &= !goes;
            is_changed |= goes;
        }
    }
    is_changed.then_some(bare)
}
