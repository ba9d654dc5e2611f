//! What of a show's output flashes, and what would flash less.
//!
//! The output is rendered frame by frame on a reduced frame and counted by
//! [`FlashCounter`]. A suggestion is an [`Edit`] that was rendered and counted too, and passes.

use std::ops::Range;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc;
use std::thread;

use thiserror::Error;

use crate::beat::{Beats, FrameRate};
use crate::catalogue::{Kind, Value};
use crate::chain::{EffectUse, labels, said};
use crate::edit::{Edit, Spot};
use crate::footage::{FootageError, Picture, Shelf};
use crate::frame::{Frame, Moment};
use crate::gpu::{GpuError, Player, Renderer};
use crate::measure::{FlashCounter, FlashReport, Viewing};
use crate::order::MOST_EFFECTS;
use crate::plan::Path;
use crate::show::{Scope, Show};

/// The largest frame that flashes are looked for on: an area that matters is far larger than its texels.
const LOOKED_AT: Frame = Frame { width: 160, height: 90 };
/// Steps in which a setting is lowered, as shares of what it is.
const WEAKER: [f64; 7] = [0.75, 0.5, 0.35, 0.25, 0.15, 0.1, 0.05];
/// How often a rate is halved.
const SLOWER: [f64; 6] = [0.5, 0.25, 0.125, 0.0625, 0.03125, 0.0];
/// The most other places in its chain that are tried for one effect.
const MOST_PLACES: usize = MOST_EFFECTS - 1;

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
    /// Frames looked at, at a tempo: at least one.
    pub fn frames(&self, tempo_bpm: f64) -> usize {
        (self.over_beats * 60.0 / tempo_bpm * self.rate.per_second() - 1e-9).ceil().max(1.0) as usize
    }

    /// Where a frame stands, in beats.
    pub fn beats_at(&self, frame: usize, tempo_bpm: f64) -> f64 {
        Beats::of_decimal(self.from_beats).plus(&Beats::of_frame(frame as u64, self.rate, tempo_bpm)).to_f64()
    }
}

/// The frame on which a frame's flashes are looked for: of the same shape, at most 160 x 90.
pub fn looked_at(frame: Frame) -> Frame {
    frame.within(LOOKED_AT)
}

/// Counts the flashes of a show's output; `tell` is called with the frames made, and says whether to go
/// on: otherwise what was counted by then is given.
///
/// # Errors
/// [`FlashingError`] where footage or the GPU fails.
pub fn counted(
    renderer: &mut Renderer,
    shelf: &mut Shelf,
    show: &Show,
    watch: &Watch,
    mut tell: impl FnMut(usize) -> bool,
) -> Result<FlashReport, FlashingError> {
    count(renderer, shelf, show, watch, |_, made| !tell(made))
}

/// Counts until a limit is broken, or to the end.
fn passes(
    renderer: &mut Renderer,
    shelf: &mut Shelf,
    show: &Show,
    watch: &Watch,
) -> Result<Option<FlashReport>, FlashingError> {
    let report = count(renderer, shelf, show, watch, |report, _| !report.passes())?;
    Ok(report.passes().then_some(report))
}

/// Frames that are rendered together: one at a time would be mostly waiting, so small are they.
const TOGETHER: usize = 8;
/// Frames that two renderers share out between them at a time, each half as many: what the second has made
/// waits until the first has come so far.
const SHARED: usize = 1200;

/// Counts frame after frame; `is_enough` is told what was counted, and how many frames are made by then.
fn count(
    renderer: &mut Renderer,
    shelf: &mut Shelf,
    show: &Show,
    watch: &Watch,
    mut is_enough: impl FnMut(&FlashReport, usize) -> bool,
) -> Result<FlashReport, FlashingError> {
    let frames = watch.frames(show.tempo_bpm);
    let second = watch.rate.per_second().ceil() as usize;
    let mut counter = FlashCounter::new(looked_at(show.frame), second, watch.viewing);
    let Some(gpu) = renderer.second_gpu().filter(|_| frames > second && shelf.can_be_doubled(show)) else {
        play(renderer, shelf, show, watch, 0..frames, |picture| {
            counter.take(&picture);
            !is_enough(counter.so_far(), counter.so_far().frames)
        })?;
        return Ok(counter.report());
    };
    let shares = || {
        (0..frames).step_by(SHARED).map(|from| {
            let to = frames.min(from + SHARED);
            (from, from + (to - from).div_ceil(2), to)
        })
    };
    let mut second_shelf = shelf.doubled();
    let ahead = AtomicUsize::new(0);
    thread::scope(|scope| {
        let (tell, told) = mpsc::sync_channel(SHARED / 2);
        let ahead = &ahead;
        scope.spawn(move || {
            let mut renderer = Renderer::new(gpu);
            for (_, from, to) in shares() {
                let made = play(&mut renderer, &mut second_shelf, show, watch, from..to, |picture| {
                    ahead.fetch_add(1, Ordering::Relaxed);
                    // Nobody hears it any more once enough is counted.
                    tell.send(Ok(picture)).is_ok()
                });
                if let Err(error) = made {
                    let _ = tell.send(Err(error));
                    return;
                }
            }
        });
        let mut take = |picture: &Picture, is_ahead: bool| {
            counter.take(picture);
            if is_ahead {
                ahead.fetch_sub(1, Ordering::Relaxed);
            }
            let report = counter.so_far();
            is_enough(report, report.frames + ahead.load(Ordering::Relaxed))
        };
        for (from, middle, to) in shares() {
            let mut is_over = false;
            play(renderer, shelf, show, watch, from..middle, |picture| {
                is_over = take(&picture, false);
                !is_over
            })?;
            for picture in told.iter().take(to - middle) {
                is_over = is_over || take(&picture?, true);
                if is_over {
                    break;
                }
            }
            if is_over {
                break;
            }
        }
        Ok::<_, FlashingError>(())
    })?;
    Ok(counter.report())
}

/// Renders these of the watched frames in turn, for as long as they are taken.
fn play(
    renderer: &mut Renderer,
    shelf: &mut Shelf,
    show: &Show,
    watch: &Watch,
    frames: Range<usize>,
    mut take: impl FnMut(Picture) -> bool,
) -> Result<(), FlashingError> {
    let mut player = Player::default();
    let from = Beats::of_decimal(watch.from_beats);
    let start = Moment::at_beats(looked_at(show.frame), show.pixels, show.tempo_bpm, watch.rate, &from);
    let order: Vec<usize> = (0..show.global.len()).collect();
    let mut frames = frames.peekable();
    while frames.peek().is_some() {
        let mut paths = Vec::with_capacity(TOGETHER);
        for at in frames.by_ref().take(TOGETHER) {
            let moment = start.after(at as u64);
            paths.push(if player.has_begun() || !paths.is_empty() {
                Path::of_scope_alone(show, Scope::Global, moment, shelf)?
            } else {
                Path::of_scope(show, Scope::Global, moment, shelf)?
            });
        }
        for picture in renderer.play_several_on(&mut player, &paths, &order)? {
            if !take(picture) {
                return Ok(());
            }
        }
    }
    Ok(())
}

/// A change after which the output passes.
#[derive(Debug, Clone)]
pub struct Suggestion {
    /// What kind of change it is: "slower", "weaker", "another order", "a smaller area".
    pub kind: &'static str,
    /// What to do, in words.
    pub text: String,
    /// The change.
    pub edit: Edit,
    /// What was counted with it.
    pub report: FlashReport,
}

/// The effects that can flash and are switched on, wherever they are.
pub fn flashing(show: &Show) -> Vec<Spot> {
    let effects = |scope| (0..show.chain(scope).len()).map(move |at| Spot { scope, at });
    let spots = show.scopes().into_iter().flat_map(effects);
    spots
        .filter(|spot| {
            let used = &show.chain(spot.scope)[spot.at];
            used.on && used.effect.flashes
        })
        .collect()
}

/// Changes of the flashing effects after which the output passes: for each effect and each kind of
/// change, the least that does. `tell` is called with each change that is tried, and says whether to go
/// on.
///
/// # Errors
/// [`FlashingError`] where footage or the GPU fails.
pub fn suggestions(
    renderer: &mut Renderer,
    shelf: &mut Shelf,
    show: &Show,
    watch: &Watch,
    mut tell: impl FnMut(&str) -> bool,
) -> Result<Vec<Suggestion>, FlashingError> {
    let mut found = Vec::new();
    for spot in flashing(show) {
        for (kind, candidates) in candidates(show, spot) {
            for (text, edit) in candidates {
                let Ok((changed, _)) = edit.applied(show) else { continue };
                if !tell(&text) {
                    return Ok(found);
                }
                if let Some(report) = passes(renderer, shelf, &changed, watch)? {
                    found.push(Suggestion { kind, text, edit, report });
                    break;
                }
            }
        }
    }
    Ok(found)
}

/// Changes worth trying, the least first in each kind.
fn candidates(show: &Show, spot: Spot) -> Vec<(&'static str, Vec<(String, Edit)>)> {
    let used = &show.chain(spot.scope)[spot.at];
    let label = &labels(show.chain(spot.scope))[spot.at];
    let address = show.address(spot.scope);
    let lowered = |shares: &[f64], is_meant: &dyn Fn(usize) -> bool| -> Vec<(String, Edit)> {
        let settings = (0..used.effect.settings.len()).filter(|&at| is_meant(at));
        let each = settings.flat_map(|at| shares.iter().map(move |share| (at, *share)));
        each.filter_map(|(at, share)| lowered(show, used, spot, at, share)).collect()
    };
    let unit_is = |at: usize, wanted: &str| matches!(&used.effect.settings[at].kind, Kind::Number { unit, .. } if unit == wanted);
    let fades_out = |at: usize| {
        let name = &used.effect.settings[at].name;
        used.effect.idle.iter().any(|idle| idle.member == *name && idle.is == 0.0)
    };
    let effects = show.chain(spot.scope).len();
    // Over everything first: what lies over a flash can tame it.
    let gaps = (0..=effects).filter(|&gap| gap != spot.at && gap != spot.at + 1).take(MOST_PLACES);
    let orders = gaps.map(|at| {
        let edit = Edit::Move { from: spot, into: Spot { at, ..spot } };
        let chain = edit.applied(show).map(|(show, _)| labels(show.chain(spot.scope))).unwrap_or_default();
        (format!("on {address}: {}", said(chain.iter().map(String::as_str))), edit)
    });
    let smaller = within(show, spot.scope).into_iter().map(|scope| {
        let edit = Edit::Move { from: spot, into: Spot { scope, at: show.chain(scope).len() } };
        (format!("{label} on {} instead of {address}", show.address(scope)), edit)
    });
    vec![
        ("slower", lowered(&SLOWER, &|at| unit_is(at, "per beat"))),
        ("weaker", lowered(&WEAKER, &|at| fades_out(at) && !unit_is(at, "per beat"))),
        ("another order", orders.collect()),
        ("a smaller area", smaller.collect()),
    ]
}

/// A number setting brought down to a share of what it is.
fn lowered(show: &Show, used: &EffectUse, spot: Spot, at: usize, share: f64) -> Option<(String, Edit)> {
    let setting = &used.effect.settings[at];
    let set = used.value(&setting.name)?;
    let Value::Number(now) = *set else { return None };
    let value = setting.kind.number(now * share).ok().filter(|value| value != set)?;
    let label = &labels(show.chain(spot.scope))[spot.at];
    let text = format!(
        "{label} on {}: {} {} instead of {}",
        show.address(spot.scope),
        setting.label,
        setting.kind.written(&value),
        setting.kind.written(set),
    );
    Some((text, Edit::Set { spot, setting: at, value }))
}

/// The scopes directly inside a scope, those that show.
fn within(show: &Show, scope: Scope) -> Vec<Scope> {
    match scope {
        Scope::Global => (0..show.bundles.len()).map(Scope::Bundle).collect(),
        Scope::Bundle(b) => (0..show.bundles[b].levels.len()).map(|l| Scope::Level(b, l)).collect(),
        Scope::Level(..) | Scope::Clip(..) => Vec::new(),
    }
}
