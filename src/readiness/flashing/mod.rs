//! What of a show's output flashes, as it stands and under hands, and what would flash less.
//!
//! The output is rendered frame by frame at the show's own frame and counted by [`FlashCounter`], round the seam
//! of the stretch, since a stretch that is looped comes to it. A suggestion is an [`Edit`] that was rendered and
//! counted too, and passes.

mod played;
mod suggested;

use std::collections::VecDeque;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{self, Receiver};
use std::thread;

use thiserror::Error;

use super::caution;
use crate::base::picture::Picture;
use crate::beat::{Beats, FrameRate, Moment};
use crate::edit::Spot;
use crate::footage::{FootageError, Shelf};
use crate::gpu::{GpuError, Player, Renderer};
use crate::measure::{FlashCounter, FlashReport, Light, Viewing};
use crate::plan;
use crate::plan::Path;
use crate::show::chain::EffectUse;
use crate::show::{Scope, Show};

use played::{Hand, is_moved};
pub use played::{PRESSES_A_SECOND, Played};
pub use suggested::{Suggestion, suggestions};

/// How many beats are looked at where nothing else is asked for.
pub const OVER_BEATS: f64 = 16.0;

/// Why flashes could not be counted.
#[derive(Debug, Error)]
pub enum FlashingError {
    /// The footage cannot be shown.
    #[error(transparent)]
    Footage(#[from] FootageError),
    /// The GPU fails.
    #[error(transparent)]
    Gpu(#[from] GpuError),
}

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
    pub fn taking_part(&self, show: &Show) -> Vec<Spot> {
        let failing: Vec<&Played> = self.failing().map(|(played, _)| played).collect();
        flashing_under(
            show,
            &self.watch,
            self.played.iter().map(|(played, _)| played),
            &failing,
            !self.own.passes(),
        )
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
/// [`FlashingError`] where footage or the GPU fails.
pub fn looked_over(
    renderer: &mut Renderer,
    shelf: &mut Shelf,
    show: &Show,
    watch: &Watch,
    mut tell: impl FnMut(&Doing<'_>) -> bool,
) -> Result<Flashing, FlashingError> {
    let frames = watch.frames(show.tempo_bpm);
    let total = frames * (1 + Played::all(show, watch).len());
    let mut goes_on = true;
    let own = counted(renderer, shelf, show, watch, |done| {
        goes_on = tell(&Doing { what: "counting flashes", unit: "frames", done, total });
        goes_on
    })?;
    let found = Flashing::begun(show, watch, own);
    if goes_on {
        completed(renderer, shelf, show, found, tell)
    } else {
        Ok(Flashing { is_whole: false, ..found })
    }
}

/// Goes on where a show was counted as it stands: as [`looked_over`], which does both.
///
/// # Errors
/// As `looked_over`.
pub fn completed(
    renderer: &mut Renderer,
    shelf: &mut Shelf,
    show: &Show,
    mut found: Flashing,
    mut tell: impl FnMut(&Doing<'_>) -> bool,
) -> Result<Flashing, FlashingError> {
    let watch = found.watch;
    let frames = watch.frames(show.tempo_bpm);
    let bare = if found.own.passes() { None } else { without_flashing(show) };
    if !found.own.passes() && bare.is_none() {
        found.alone = Some(found.own.clone());
    }
    let mut ways: Vec<(&Show, Option<Played>, String)> = Vec::new();
    ways.extend(bare.as_ref().map(|bare| (bare, None, "counting flashes of the footage alone".to_owned())));
    for played in Played::all(show, &watch) {
        let what = format!("counting flashes with {}", played.said());
        ways.push((show, Some(played), what));
    }
    let total = frames * (1 + ways.len());
    for (nth, (shown, played, what)) in ways.into_iter().enumerate() {
        let mut goes_on = true;
        let before = frames * (1 + nth);
        let report = count(renderer, shelf, shown, played.as_ref(), &watch, Until::End, |made| {
            goes_on = tell(&Doing { what: &what, unit: "frames", done: before + made, total });
            goes_on
        })?;
        if !goes_on {
            return Ok(found);
        }
        match played {
            Some(played) => found.played.push((played, report)),
            None => found.alone = Some(report),
        }
    }
    found.is_whole = true;
    Ok(found)
}

/// Counts the flashes of a show's output as it stands; `tell` is called with the frames made, and says whether
/// to go on: otherwise what was counted by then is given.
///
/// # Errors
/// [`FlashingError`] where footage or the GPU fails.
pub fn counted(
    renderer: &mut Renderer,
    shelf: &mut Shelf,
    show: &Show,
    watch: &Watch,
    tell: impl FnMut(usize) -> bool,
) -> Result<FlashReport, FlashingError> {
    count(renderer, shelf, show, None, watch, Until::End, tell)
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
    let scopes = show.scopes().into_iter().filter(|&scope| plan::is_showing(show, scope));
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
            for scope in now.scopes().into_iter().filter(|&scope| plan::is_showing(now, scope)) {
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

/// How long is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Until {
    /// To the end, and round the seam.
    End,
    /// The same, or until a limit is passed.
    TooMany,
}

/// Texels that are rendered together: small pictures one at a time would be mostly waiting.
const TEXELS_TOGETHER: u64 = 1 << 20;
/// Frames that are rendered together at most.
const MOST_TOGETHER: u64 = 8;
/// Pictures that may wait to be counted.
const WAITING: usize = 2;
/// Pictures that are known again when they come back, as a flash between two stills does.
const KNOWN: usize = 4;

/// A frame on its way to the counter: a number for all that show alike, and the picture where it is new.
type Next = (u64, Option<Picture>);

/// Counts frame after frame, on a thread beside the one that renders; `tell` is told how many frames are made,
/// and says whether to go on.
fn count(
    renderer: &mut Renderer,
    shelf: &mut Shelf,
    show: &Show,
    played: Option<&Played>,
    watch: &Watch,
    until: Until,
    mut tell: impl FnMut(usize) -> bool,
) -> Result<FlashReport, FlashingError> {
    let frames = watch.frames(show.tempo_bpm);
    let second = watch.rate.per_second().ceil() as usize;
    let mut counter = FlashCounter::new(show.frame, second, watch.viewing);
    let is_enough = AtomicBool::new(false);
    thread::scope(|scope| {
        let (send, receive) = mpsc::sync_channel(WAITING);
        let is_enough = &is_enough;
        let counting = scope.spawn(move || {
            take_all(&mut counter, &receive, until, is_enough);
            if counter.so_far().frames == frames {
                counter.close_loop();
            }
            counter.report()
        });
        let mut made = 0;
        let hand = Hand::of(show, played, watch);
        let rendered = play(renderer, shelf, show, hand, watch, |next| {
            made += 1;
            send.send(next).is_ok() && !is_enough.load(Ordering::Relaxed) && tell(made)
        });
        drop(send);
        let report =
            counting.join().map_err(|_| GpuError::Refused("the counting of flashes broke off".to_owned()))?;
        rendered.map(|()| report)
    })
}

/// Counts what comes, until nothing more does or it is enough.
fn take_all(counter: &mut FlashCounter, receive: &Receiver<Next>, until: Until, is_enough: &AtomicBool) {
    let mut known: VecDeque<(u64, Arc<Light>)> = VecDeque::new();
    for (number, picture) in receive {
        if let Some(light) = picture.and_then(|picture| counter.light_of(&picture)) {
            known.push_back((number, light));
            if known.len() > KNOWN {
                known.pop_front();
            }
        }
        let Some((_, light)) = known.iter().find(|(known, _)| *known == number) else { continue };
        counter.take_light(light);
        if until == Until::TooMany && !counter.so_far().passes() {
            is_enough.store(true, Ordering::Relaxed);
            return;
        }
    }
}

/// Renders the watched frames in turn, for as long as they are taken. Frames that show alike are rendered once,
/// where nothing is remembered from frame to frame.
fn play(
    renderer: &mut Renderer,
    shelf: &mut Shelf,
    show: &Show,
    mut hand: Hand<'_>,
    watch: &Watch,
    mut take: impl FnMut(Next) -> bool,
) -> Result<(), FlashingError> {
    let mut player = Player::default();
    let start = watch.start(show);
    let order: Vec<usize> = (0..show.global.len()).collect();
    let together = (TEXELS_TOGETHER / show.frame.texels()).clamp(1, MOST_TOGETHER) as usize;
    let frames = watch.frames(show.tempo_bpm);
    let mut known: VecDeque<(u64, Path)> = VecDeque::new();
    let mut numbers = 0..;
    let mut at = 0;
    while at < frames {
        // Frames in turn, and the paths of those that are new.
        let mut turn = Vec::new();
        let mut paths = Vec::new();
        while at < frames && paths.len() < together {
            let moment = start.after(at as u64);
            let now = hand.at(at, moment.beats);
            let has_begun = player.has_begun() || !paths.is_empty();
            let path = if has_begun {
                Path::of_scope_alone(now, Scope::Global, moment, shelf)?
            } else {
                Path::of_scope(now, Scope::Global, moment, shelf)?
            };
            at += 1;
            let alike = known.iter().find(|(_, known)| !path.remembers() && known.shows_as(&path));
            if let Some(&(number, _)) = alike {
                turn.push((number, false));
                continue;
            }
            let number = numbers.next().unwrap_or_default();
            turn.push((number, true));
            known.push_back((number, Path { past: Arc::default(), ..path.clone() }));
            if known.len() > KNOWN {
                known.pop_front();
            }
            paths.push(path);
        }
        let mut pictures = renderer.play_several_on(&mut player, &paths, &order)?.into_iter();
        for (number, is_new) in turn {
            let picture = if is_new { pictures.next() } else { None };
            if !take((number, picture)) {
                return Ok(());
            }
        }
    }
    Ok(())
}
