//! Frames of a show or of its running order rendered and counted, several ways of playing side by side.

use std::collections::VecDeque;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::sync::mpsc::{self, Receiver};
use std::thread;

use super::played::{Hand, Played};
use super::{SoFar, Watch};
use crate::base::picture::Picture;
use crate::footage::Shelf;
use crate::gpu::{Player, RenderError, Renderer, Underway, Unmoved};
use crate::measure::{FlashCounter, FlashReport, Light, SideBySide, Work};
use crate::plan::{Path, Running, Step};
use crate::show::{Scope, Show};

/// How long is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Until {
    /// To the end, and round the seam.
    End,
    /// The same, or until any of what is counted is past a limit.
    TooMany,
}

/// A show, and how its controls are played.
#[derive(Debug, Clone, Copy)]
pub(super) struct Way<'a> {
    pub(super) show: &'a Show,
    pub(super) played: Option<&'a Played>,
    /// The running order that is played in place of the show, once.
    pub(super) running: Option<&'a Running>,
}

impl<'a> Way<'a> {
    pub(super) fn of(show: &'a Show, played: Option<&'a Played>) -> Self {
        Self { show, played, running: None }
    }
}

/// Texels that are rendered together: small pictures one at a time would be mostly waiting.
const TEXELS_TOGETHER: u64 = 1 << 20;
/// Frames that are rendered together at most.
const MOST_TOGETHER: u64 = 8;
/// Pictures that may wait to be counted.
const WAITING: usize = 2;
/// Pictures that are known again when they come back, as a flash between two stills does.
const KNOWN: usize = 24;
/// Bytes that the ways which are counted together keep at most.
const WAYS_BYTES: usize = 640 << 20;

/// How many ways of playing a show are counted together: each keeps the light of a second, and what every square
/// has done.
pub(super) fn ways_together(show: &Show, watch: &Watch) -> usize {
    let second = watch.rate.per_second().ceil() as usize;
    let squares = watch.viewing.squares(show.frame).texels() as usize;
    (WAYS_BYTES / (squares * (12 * second + 64))).clamp(1, 32)
}

pub(super) fn counter(show: &Show, watch: &Watch) -> FlashCounter {
    FlashCounter::new(show.frame, watch.rate.per_second().ceil() as usize, watch.viewing)
}

/// A frame on its way to the counter: of which way, a number for all that show alike, and the picture where it is
/// new.
type Next = (usize, u64, Option<Picture>);

/// Counts ways of playing a show of one frame and tempo, a report for each, on a thread beside the one that
/// renders. They go on side by side, so that what they share of a moment is rendered once; `tell` is told how many
/// frames are made of all together, and says whether to go on.
pub(super) fn count(
    renderer: &mut Renderer,
    shelf: &mut Shelf,
    ways: &[Way<'_>],
    watch: &Watch,
    until: Until,
    mut tell: impl FnMut(SoFar) -> bool,
) -> Result<Vec<FlashReport>, RenderError> {
    let mut counters: Vec<FlashCounter> = ways.iter().map(|way| counter(way.show, watch)).collect();
    let is_enough = AtomicBool::new(false);
    let most = AtomicU32::new(0);
    thread::scope(|scope| {
        let (send, receive) = mpsc::sync_channel(WAITING);
        let (is_enough, most) = (&is_enough, &most);
        let counting = scope.spawn(move || {
            take_all(&mut counters, &receive, until, is_enough, most);
            let report = |(mut counter, way): (FlashCounter, &Way<'_>)| {
                let is_whole = counter.so_far().frames == watch.frames(way.show.tempo_bpm);
                if is_whole && way.running.is_none() {
                    counter.close_loop();
                }
                counter.report()
            };
            counters.into_iter().zip(ways).map(report).collect::<Vec<_>>()
        });
        let mut frames = 0;
        let rendered = play(renderer, shelf, ways, watch, |next| {
            frames += 1;
            let is_wanted = send.send(next).is_ok() && !is_enough.load(Ordering::Relaxed);
            is_wanted && tell(SoFar { frames, changes: most.load(Ordering::Relaxed) })
        });
        drop(send);
        let reports = counting.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic));
        rendered.map(|()| reports)
    })
}

/// The counters' side.
fn take_all(
    counters: &mut [FlashCounter],
    receive: &Receiver<Next>,
    until: Until,
    is_enough: &AtomicBool,
    most: &AtomicU32,
) {
    let mut known: VecDeque<(u64, Arc<Light>)> = VecDeque::new();
    let parts = thread::available_parallelism().map_or(1, usize::from);
    let by = SideBySide { parts, run: &on_threads };
    for (way, number, picture) in receive {
        // What makes light of pictures keeps the one before, so that it is the same for all ways.
        let light = picture.and_then(|picture| counters[0].light_of(picture, by));
        if let Some(light) = light {
            known.push_back((number, light));
            if known.len() > KNOWN {
                known.pop_front();
            }
        }
        let Some((_, light)) = known.iter().find(|(known, _)| *known == number) else { continue };
        counters[way].take_light(light, by);
        most.fetch_max(counters[way].so_far().worst().changes, Ordering::Relaxed);
        if until == Until::TooMany && !counters[way].so_far().passes() {
            is_enough.store(true, Ordering::Relaxed);
            return;
        }
    }
}

/// Does each part of some work on a thread of its own, and the first on this one.
fn on_threads(parts: Vec<Work<'_>>) {
    thread::scope(|scope| {
        let mut parts = parts.into_iter();
        let first = parts.next();
        parts.for_each(|part| drop(scope.spawn(part)));
        first.into_iter().for_each(|first| first());
    });
}

/// One way as far as it was played.
struct WayPlayed<'a> {
    hand: Hand<'a>,
    player: Player,
    has_begun: bool,
    /// The stretch of a running order that is played.
    stretch: Option<usize>,
}

/// Renders the watched frames of each way in turn, for as long as they are taken. Frames that show alike are
/// rendered once, where nothing is remembered from frame to frame.
fn play(
    renderer: &mut Renderer,
    shelf: &mut Shelf,
    ways: &[Way<'_>],
    watch: &Watch,
    mut take: impl FnMut(Next) -> bool,
) -> Result<(), RenderError> {
    let Some(show) = ways.first().map(|way| way.show) else { return Ok(()) };
    let start = watch.start(show);
    let together = (TEXELS_TOGETHER / show.frame.texels()).clamp(1, MOST_TOGETHER) as usize;
    let frames = watch.frames(show.tempo_bpm);
    let mut known: VecDeque<(u64, Vec<Step>)> = VecDeque::new();
    let mut numbers = 0..;
    let mut playing: Vec<WayPlayed<'_>> = ways
        .iter()
        .map(|way| WayPlayed {
            hand: Hand::of(way.show, way.played, watch),
            player: Player::default(),
            has_begun: false,
            stretch: None,
        })
        .collect();
    let mut unmoved = Unmoved::default();
    // The frames before are read back and counted while these are rendered.
    let mut underway: Option<Turn> = None;
    let running = ways.iter().find_map(|way| way.running);
    let stretch = |frame: usize| running.map(|running| running.stretch(start.after(frame as u64).beats));
    let mut first = 0;
    while first < frames {
        // What is rendered together remembers together.
        let now = stretch(first);
        let last = (first..(first + together).min(frames)).take_while(|&frame| stretch(frame) == now).last();
        let last = last.unwrap_or(first);
        for (nth, playing) in playing.iter_mut().enumerate() {
            if playing.stretch != now {
                (playing.player, playing.has_begun, playing.stretch) = (Player::default(), false, now);
            }
            // Frames in turn, and the paths of those that are new.
            let mut turn = Vec::new();
            let mut paths = Vec::new();
            let mut order: Vec<usize> = Vec::new();
            for at in first..=last {
                let moment = start.after(at as u64);
                let now = playing.hand.at(at, moment.beats);
                let path = if let Some(running) = ways[nth].running {
                    running.path(moment, !playing.has_begun, shelf)?
                } else if playing.has_begun {
                    Path::of_scope_alone(now, Scope::Global, moment, shelf)?
                } else {
                    Path::of_scope(now, Scope::Global, moment, shelf)?
                };
                order = (0..path.chain.len()).collect();
                let (steps, _) = path.in_order(&order);
                let alike = known.iter().find(|(_, known)| !path.remembers() && *known == steps);
                if let Some(&(number, _)) = alike {
                    turn.push((number, false));
                    continue;
                }
                playing.has_begun = true;
                let number = numbers.next().unwrap_or_default();
                turn.push((number, true));
                known.push_back((number, steps));
                if known.len() > KNOWN {
                    known.pop_front();
                }
                paths.push(path);
            }
            playing.player.trade(&mut unmoved);
            let begun = renderer.begin_several(&mut playing.player, &paths, &order)?;
            playing.player.trade(&mut unmoved);
            if let Some(before) = underway.replace((nth, turn, begun))
                && !taken(renderer, before, &mut take)?
            {
                return Ok(());
            }
        }
        first = last + 1;
    }
    underway.map_or(Ok(true), |last| taken(renderer, last, &mut take)).map(|_| ())
}

/// Frames of one way in turn, the number of each and whether it is new, and the pictures of the new ones.
type Turn = (usize, Vec<(u64, bool)>, Underway);

/// Hands on what was begun; says whether to go on.
fn taken(
    renderer: &mut Renderer,
    (way, turn, underway): Turn,
    take: &mut impl FnMut(Next) -> bool,
) -> Result<bool, RenderError> {
    let mut pictures = renderer.finish(underway)?.into_iter();
    Ok(turn
        .into_iter()
        .all(|(number, is_new)| take((way, number, is_new.then(|| pictures.next()).flatten()))))
}
