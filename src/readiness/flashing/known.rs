//! What was counted before, in this run or another: of a show that plays alike, on footage that holds the same, by the same
//! build of the program on the same adapter and driver.

use super::Watch;
use super::way::Way;
use crate::base::cache::{BUILD, Cache};
use crate::files::footage_files;
use crate::footage::{Contents, Shelf};
use crate::gpu::Renderer;
use crate::measure::FlashReport;
use crate::readiness::counts::as_it_plays;
use crate::show::Show;

/// Reports of ways that are counted together.
pub(super) struct Known {
    cache: Cache,
    /// What all keys begin with: what is no way of playing.
    whatever: String,
    footage: Contents,
}

impl Known {
    /// None where nothing is kept, or the footage is none that is known by what it holds.
    pub(super) fn of(renderer: &Renderer, shelf: &Shelf, ways: &[Way<'_>], watch: &Watch) -> Option<Self> {
        let cache = &renderer.gpu().kept()?.counted;
        let stands = ways.iter().filter_map(|way| way.running).flat_map(|running| running.stands());
        let shows: Vec<&Show> = ways.iter().map(|way| way.show).chain(stands).collect();
        let footage = Contents::of(shows.into_iter().flat_map(footage_files), shelf.begun(), cache)?;
        let adapter = renderer.gpu().adapter();
        // A clip names a generated source, and holds none of its text.
        let (said, sources) = (footage.said(), shelf.sources());
        let whatever = format!("flashes, {BUILD}\n{adapter:?}\n{watch:?}\n{said}\n{sources:?}\n");
        Some(Self { cache: cache.clone(), whatever, footage })
    }

    fn key(&self, way: &Way<'_>) -> String {
        // All of the values are in it: what a show gets in addition is no less part of it.
        let running = way.running.map(|running| (running.order(), running.stands()));
        format!("{}{:?}\n{:?}\n{running:?}", self.whatever, as_it_plays(way.show), way.played)
    }

    /// What was counted of a way to its end.
    pub(super) fn report(&self, way: &Way<'_>) -> Option<FlashReport> {
        serde_json::from_slice(&self.cache.get(&self.key(way))?).ok()
    }

    /// Keeps what was counted of ways to their ends, if their footage is what it was.
    pub(super) fn keep<'a>(self, counted: impl Iterator<Item = (&'a Way<'a>, &'a FlashReport)>) {
        if !self.footage.still_stand() {
            return;
        }
        for (way, report) in counted {
            if let Ok(text) = serde_json::to_vec(report) {
                self.cache.put(&self.key(way), &text);
            }
        }
    }
}
