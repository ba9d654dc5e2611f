//! Frames of a show or of its running order rendered and counted, several ways of playing side by side.

use std::collections::VecDeque;
use std::ops::Range;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::sync::mpsc::{self, Receiver, SyncSender};
use std::thread;

use super::known::Known;
use super::played::Hand;
use super::way::Way;
use super::{SoFar, Watch};
use crate::base::doing::doing_untold;
use crate::footage::Shelf;
use crate::gpu::{Player, RenderError, Renderer, Returned, Underway, Unmoved};
use crate::measure::{Counting, FlashJudge, FlashPart, FlashReport, Light, LightPart, MOST_CHANGES};
use crate::plan::{Path, Step};
use crate::show::{Scope, Show};

/// How long is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Until {
    /// To the end, and round the seam.
    End,
    /// The same, or until any of what is counted is past a limit.
    TooMany,
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

/// How the pictures of a show are counted.
pub(super) fn counting_of(show: &Show, watch: &Watch) -> Counting {
    Counting { frame: show.frame, second: watch.rate.per_second().ceil() as usize, viewing: watch.viewing }
}

/// What was found where nothing was counted.
pub(super) fn nothing_counted(show: &Show, watch: &Watch) -> FlashReport {
    let counting = counting_of(show, watch);
    FlashJudge::report(FlashJudge::all(&counting), &counting)
}

/// A frame on its way to be counted, of which way.
#[derive(Debug, Clone)]
enum Next {
    /// A number for all that show alike, and the picture where it is new.
    Frame(usize, u64, Option<Arc<Returned>>),
    /// One of the first second, once more.
    Again(usize, usize),
}

/// Counts ways of playing a show of one frame and tempo, a report for each; those that were counted before are looked up.
/// Where it is ended early, what was counted by then is given. `tell` is told how many frames are made of all together, and
/// says whether to go on.
pub(super) fn count(
    renderer: &mut Renderer,
    shelf: &mut Shelf,
    ways: &[Way<'_>],
    watch: &Watch,
    until: Until,
    mut tell: impl FnMut(SoFar) -> bool,
) -> Result<Vec<FlashReport>, RenderError> {
    let known = Known::of(renderer, shelf, ways, watch);
    let mut reports: Vec<Option<FlashReport>> =
        ways.iter().map(|way| known.as_ref().and_then(|known| known.report(way))).collect();
    let left: Vec<usize> = (0..ways.len()).filter(|&at| reports[at].is_none()).collect();
    let of = |way: &Way<'_>| watch.frames(way.show.tempo_bpm);
    let (frames, changes) =
        ways.iter().zip(&reports).fold((0, 0), |(frames, changes), (way, report)| match report {
            Some(report) => (frames + of(way), changes.max(report.worst().changes)),
            None => (frames, changes),
        });
    if left.is_empty() {
        tell(SoFar { frames, changes });
    } else {
        let anew: Vec<Way<'_>> = left.iter().map(|&at| ways[at]).collect();
        let told =
            |now: SoFar| tell(SoFar { frames: frames + now.frames, changes: changes.max(now.changes) });
        let (found, is_whole) = count_anew(renderer, shelf, &anew, watch, until, told)?;
        if let Some(known) = known.filter(|_| is_whole) {
            known.keep(anew.iter().zip(&found));
        }
        left.into_iter().zip(found).for_each(|(at, report)| reports[at] = Some(report));
    }
    Ok(reports.into_iter().flatten().collect())
}

/// Counts on threads beside the one that renders: each makes and follows the light of some rows of squares, and further ones
/// judge all of them, rule by rule. Ways go on side by side, so that what they share of a moment is rendered once. Says,
/// too, whether every way was counted to its end.
fn count_anew(
    renderer: &mut Renderer,
    shelf: &mut Shelf,
    ways: &[Way<'_>],
    watch: &Watch,
    until: Until,
    mut tell: impl FnMut(SoFar) -> bool,
) -> Result<(Vec<FlashReport>, bool), RenderError> {
    let Some(show) = ways.first().map(|way| way.show) else { return Ok((Vec::new(), true)) };
    let counting = counting_of(show, watch);
    let is_enough = AtomicBool::new(false);
    let most = AtomicU32::new(0);
    thread::scope(|scope| {
        let (is_enough, most) = (&is_enough, &most);
        let mut in_parts = Vec::new();
        let mut changed: [Vec<Receiver<Change>>; 3] = Default::default();
        for rows in counting.parts(thread::available_parallelism().map_or(1, usize::from)) {
            let (send, receive) = mpsc::sync_channel(WAITING);
            let mut tell = Vec::with_capacity(changed.len());
            for changed in &mut changed {
                let (send, receive) = mpsc::sync_channel(WAITING);
                tell.push(send);
                changed.push(receive);
            }
            scope.spawn(move || follow(&counting, &rows, ways.len(), &receive, &tell));
            in_parts.push(send);
        }
        let mut judges: [Vec<FlashJudge>; 3] = Default::default();
        for _ in ways {
            judges.iter_mut().zip(FlashJudge::all(&counting)).for_each(|(all, one)| all.push(one));
        }
        let judging = judges.into_iter().zip(changed).map(|(judges, changed)| {
            scope.spawn(move || judge_all(judges, &changed, until, is_enough, most))
        });
        let judging: Vec<_> = judging.collect();
        let send = |next: &Next| in_parts.iter().all(|part| part.send(next.clone()).is_ok());
        let mut frames = 0;
        let mut is_whole = true;
        let rendered = play(renderer, shelf, ways, watch, |(way, number, picture)| {
            frames += 1;
            let is_wanted =
                send(&Next::Frame(way, number, picture.map(Arc::new))) && !is_enough.load(Ordering::Relaxed);
            is_whole = is_wanted && tell(SoFar { frames, changes: most.load(Ordering::Relaxed) });
            is_whole
        });
        let comes_round = |(_, way): &(usize, &Way<'_>)| way.running.is_none();
        for (way, _) in ways.iter().enumerate().filter(comes_round).filter(|_| rendered.is_ok() && is_whole) {
            // Where it is enough, nobody takes them.
            let _ = (0..counting.second).all(|after| send(&Next::Again(way, after)));
        }
        drop(in_parts);
        let mut judged = judging
            .into_iter()
            .map(|judging| judging.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)))
            .map(Vec::into_iter);
        let mut next = || judged.next().unwrap_or_default();
        let [general, screen, red] = [next(), next(), next()];
        let reports = general.zip(screen).zip(red);
        let is_whole = is_whole && !is_enough.load(Ordering::Relaxed);
        rendered.map(|()| {
            let report = |((general, screen), red)| FlashJudge::report([general, screen, red], &counting);
            (reports.map(report).collect(), is_whole)
        })
    })
}

/// The squares of some rows that change in a frame of a way, under one rule, and how many frames behind the last it is
/// where it came round once more.
type Change = (usize, Option<usize>, Vec<u32>);

/// Follows some rows of squares through all that comes.
fn follow(
    counting: &Counting,
    rows: &Range<usize>,
    ways: usize,
    receive: &Receiver<Next>,
    tell: &[SyncSender<Change>],
) {
    let mut known: VecDeque<(u64, Arc<Light>)> = VecDeque::new();
    let mut lights = LightPart::new(counting, rows.clone());
    let mut parts: Vec<FlashPart> = (0..ways).map(|_| FlashPart::new(counting, rows)).collect();
    for next in receive {
        let (way, again, changed) = match next {
            Next::Frame(way, number, picture) => {
                if let Some(light) = picture.and_then(|picture| lights.light_of(picture)) {
                    known.push_back((number, light));
                    if known.len() > KNOWN {
                        known.pop_front();
                    }
                }
                let Some((_, light)) = known.iter().find(|(known, _)| *known == number) else { continue };
                (way, None, parts[way].take(light))
            }
            Next::Again(way, after) => (way, Some(after), parts[way].take_again(after)),
        };
        for (tell, changed) in tell.iter().zip(changed) {
            if tell.send((way, again, changed)).is_err() {
                return;
            }
        }
    }
}

/// Judges what all parts of the picture tell under one rule, way by way as it comes.
fn judge_all(
    mut judges: Vec<FlashJudge>,
    changed: &[Receiver<Change>],
    until: Until,
    is_enough: &AtomicBool,
    most: &AtomicU32,
) -> Vec<FlashJudge> {
    while let Some(parts) = changed.iter().map(|part| part.recv().ok()).collect::<Option<Vec<Change>>>() {
        let Some(&(way, again, _)) = parts.first() else { break };
        let judge = &mut judges[way];
        let changed = parts.iter().map(|(.., changed)| &changed[..]);
        match again {
            None => judge.take(changed),
            Some(after) => judge.take_again(after, changed),
        }
        most.fetch_max(judge.changes(), Ordering::Relaxed);
        if until == Until::TooMany && judge.changes() > MOST_CHANGES {
            is_enough.store(true, Ordering::Relaxed);
            break;
        }
    }
    judges
}

/// A frame that was played: of which way, a number for all that show alike, and the picture where it is new.
type Shown = (usize, u64, Option<Returned>);

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
    mut take: impl FnMut(Shown) -> bool,
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
    // Frames before are read back and counted while these are rendered.
    let mut underway: VecDeque<Turn> = VecDeque::new();
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
            underway.push_back((nth, turn, begun));
            if underway.len() > Underway::AHEAD
                && let Some(before) = underway.pop_front()
                && !taken(renderer, before, &mut take)?
            {
                return Ok(());
            }
        }
        first = last + 1;
    }
    for turn in underway {
        if !taken(renderer, turn, &mut take)? {
            break;
        }
    }
    Ok(())
}

/// Frames of one way in turn, the number of each and whether it is new, and the pictures of the new ones.
type Turn = (usize, Vec<(u64, bool)>, Underway);

/// Hands on what was begun; says whether to go on.
fn taken(
    renderer: &mut Renderer,
    (way, turn, underway): Turn,
    take: &mut impl FnMut(Shown) -> bool,
) -> Result<bool, RenderError> {
    let waiting = doing_untold("waiting for the GPU");
    let mut pictures = renderer.finish(underway)?.into_iter();
    waiting.now("waiting for frames to be counted");
    Ok(turn
        .into_iter()
        .all(|(number, is_new)| take((way, number, is_new.then(|| pictures.next()).flatten()))))
}
