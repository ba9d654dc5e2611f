//! The stream of candidates, on one GPU or on several.

use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::thread;

use super::super::WrongWords;
use super::super::progress::Progress;
use super::share::{Patience, STREAMS_SHARE, Share, Streamed};
use crate::explore::find::{Judge, Kept, Quest};
use crate::gpu::{Budget, Gpu, GpuError, Renderer};

/// What stands for all GPUs of the best kind.
const ALL: &str = "all";

/// The GPUs that `--adapters` names; none where it is left out.
pub(super) fn adapters_named(names: &[String]) -> anyhow::Result<Vec<Gpu>> {
    let worded = |error: GpuError| match error {
        GpuError::NoSuchAdapter { .. } => WrongWords(format!("--adapters: {error}")).into(),
        error => anyhow::Error::from(error),
    };
    if let [all] = names
        && all == ALL
    {
        return Gpu::open_all().map_err(worded);
    }
    names.iter().map(|name| Gpu::open(Some(name)).map_err(worded)).collect()
}

/// Tries a share of the stream; several GPUs take turns, and what is kept does not depend on which tried what.
pub(super) fn streamed(
    quest: &Quest,
    share: Share,
    own: &mut Renderer,
    gpus: Vec<Gpu>,
    budget: Budget,
    patience: &Patience<'_>,
) -> Result<Streamed, GpuError> {
    let (next, tried, is_over) = (AtomicU64::new(0), AtomicU64::new(0), AtomicBool::new(false));
    let count = share.count();
    // One after another takes the next candidates until there are no more.
    let work = |judge: &mut Judge<'_>, kept: &mut Kept, tell: &mut dyn FnMut(u64)| -> Result<(), GpuError> {
        let at_once = judge.at_once() as u64;
        while !is_over.load(Ordering::Relaxed) {
            let first = next.fetch_add(at_once, Ordering::Relaxed);
            if first >= count {
                break;
            }
            let end = (first + at_once).min(count);
            let done = judge.try_out((first..end).map(|nth| share.number(nth)), kept);
            if done.is_err() {
                is_over.store(true, Ordering::Relaxed);
                return done;
            }
            tell(tried.fetch_add(end - first, Ordering::Relaxed) + end - first);
        }
        Ok(())
    };
    let mut progress = match patience.lasts {
        Some(lasts) => {
            Progress::named("searching", "seconds", lasts.mul_f64(STREAMS_SHARE).as_secs() as usize)
        }
        None => Progress::named("searching", "tries", usize::try_from(count).unwrap_or(usize::MAX)),
    };
    let mut tell = |tried: u64| {
        match patience.lasts {
            Some(_) => progress.tell(patience.began.elapsed().as_secs() as usize),
            None => progress.tell(usize::try_from(tried).unwrap_or(usize::MAX)),
        }
        if !patience.lasts(STREAMS_SHARE) {
            is_over.store(true, Ordering::Relaxed);
        }
    };
    let mut kept = Kept::default();
    let mut gpus = gpus.into_iter();
    let first = gpus.next();
    thread::scope(|scope| -> Result<(), GpuError> {
        let others: Vec<_> = gpus
            .map(|gpu| {
                scope.spawn(|| -> Result<Kept, GpuError> {
                    let mut kept = Kept::default();
                    let mut renderer = Renderer::new(gpu);
                    work(&mut quest.judge(&mut renderer, budget)?, &mut kept, &mut |_| {})?;
                    Ok(kept)
                })
            })
            .collect();
        let mut lent;
        let renderer = match first {
            Some(gpu) => {
                lent = Renderer::new(gpu);
                &mut lent
            }
            None => own,
        };
        let done = quest.judge(renderer, budget).and_then(|mut judge| work(&mut judge, &mut kept, &mut tell));
        if done.is_err() {
            is_over.store(true, Ordering::Relaxed);
        }
        for other in others {
            let other = other.join().unwrap_or(Err(GpuError::Defect("a thread of the search broke off")));
            kept.join(other?);
        }
        done
    })?;
    let wanted = patience.lasts.is_none().then_some(count);
    Ok(Streamed { kept, tries: tried.into_inner(), wanted })
}
