//! What a thread is at: named where the work is done, told by whoever listens to the thread.
//!
//! Where nobody listens, naming it costs next to nothing and does nothing, so that the same functions serve the
//! commands, the window and the tests.

use std::cell::RefCell;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

thread_local! {
    static LISTENS: RefCell<Option<Arc<Board>>> = const { RefCell::new(None) };
}

/// What one thread is at, the innermost last.
#[derive(Debug)]
pub struct Board {
    at: Mutex<Vec<Stretch>>,
    /// Since when the innermost is what the thread is at, and the time that each took before.
    spent: Mutex<(Instant, Vec<(String, Duration)>)>,
}

impl Default for Board {
    fn default() -> Self {
        Self { at: Mutex::default(), spent: Mutex::new((Instant::now(), Vec::new())) }
    }
}

/// One stretch of work that is under way.
#[derive(Debug, Clone)]
pub struct Stretch {
    /// Tells stretches apart.
    id: u64,
    /// What is done, such as "comparing looks".
    pub what: String,
    /// How much there is of it, where that can be counted.
    pub count: Option<Count>,
    /// When it began.
    pub began: Instant,
    /// Whether it has been told.
    pub told: bool,
    /// Whether it stands for what nothing names: it begins anew where a named stretch ends.
    is_between: bool,
    /// Whether it stands in the account of time alone.
    is_untold: bool,
}

/// How far counted work has come.
#[derive(Debug, Clone, Copy)]
pub struct Count {
    /// What is counted, such as "pictures".
    pub unit: &'static str,
    /// How many there are.
    pub total: usize,
    /// How many are done.
    pub done: usize,
    /// How many of them were there before, and took no time.
    pub skipped: usize,
}

impl Stretch {
    /// How long the rest will take, by what has been done.
    pub fn left(&self) -> Option<Duration> {
        let count = self.count?;
        let made = count.done.saturating_sub(count.skipped);
        let left = count.total.saturating_sub(count.done);
        (made > 0).then(|| self.began.elapsed().mul_f64(left as f64 / made as f64))
    }
}

impl Board {
    /// Listens to this thread from now on.
    pub fn of_this_thread() -> Arc<Self> {
        let board = Arc::<Self>::default();
        LISTENS.set(Some(Arc::clone(&board)));
        board
    }

    /// The innermost stretch that is under way, noted as told where `telling`.
    pub fn innermost(&self, telling: bool) -> Option<Stretch> {
        let mut at = self.at();
        let last = at.iter_mut().rev().find(|stretch| !stretch.is_untold)?;
        last.told |= telling;
        Some(last.clone())
    }

    /// How long this thread was at each thing until now, the innermost counting alone; the longest first.
    pub fn spent(&self) -> Vec<(String, Duration)> {
        self.spend(&self.at());
        let mut spent = self.spent.lock().unwrap_or_else(PoisonError::into_inner).1.clone();
        spent.sort_by_key(|&(_, time)| std::cmp::Reverse(time));
        spent
    }

    /// Puts the time since the last change down to what the thread was at.
    fn spend(&self, at: &[Stretch]) {
        let mut spent = self.spent.lock().unwrap_or_else(PoisonError::into_inner);
        let now = Instant::now();
        let took = now.duration_since(std::mem::replace(&mut spent.0, now));
        let what = at.last().map_or("starting", |stretch| &stretch.what);
        match spent.1.iter_mut().find(|(known, _)| known == what) {
            Some((_, known)) => *known += took,
            None => spent.1.push((what.to_owned(), took)),
        }
    }

    fn at(&self) -> MutexGuard<'_, Vec<Stretch>> {
        self.at.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// A stretch of work, until it is dropped.
#[derive(Debug)]
#[must_use = "the stretch ends where this is dropped"]
pub struct Doing {
    board: Option<Arc<Board>>,
    id: u64,
}

/// Names what this thread does from now on, such as "comparing looks".
pub fn doing(what: impl Into<String>) -> Doing {
    Doing::begun(|| what.into(), None)
}

/// The same, where it can be counted: "pictures", and how many.
pub fn doing_counted(what: impl Into<String>, unit: &'static str, total: usize) -> Doing {
    Doing::begun(|| what.into(), Some(Count { unit, total, done: 0, skipped: 0 }))
}

/// Names what this thread does wherever nothing else names it.
pub fn doing_between(what: &str) -> Doing {
    let doing = doing(what);
    doing.change(|own| own.is_between = true);
    doing
}

/// Names it for the account of time alone: nothing is told of it.
pub fn doing_untold(what: &str) -> Doing {
    let doing = doing(what);
    doing.change(|own| own.is_untold = true);
    doing
}

impl Doing {
    fn begun(what: impl FnOnce() -> String, count: Option<Count>) -> Self {
        let board = LISTENS.with_borrow(Clone::clone);
        let mut id = 0;
        if let Some(board) = &board {
            let mut at = board.at();
            board.spend(&at);
            id = at.last().map_or(1, |last| last.id + 1);
            at.push(Stretch {
                id,
                what: what(),
                count,
                began: Instant::now(),
                told: false,
                is_between: false,
                is_untold: false,
            });
        }
        Self { board, id }
    }

    fn change(&self, change: impl FnOnce(&mut Stretch)) {
        if let Some(board) = &self.board
            && let Some(own) = board.at().iter_mut().find(|stretch| stretch.id == self.id)
        {
            change(own);
        }
    }

    fn spend(&self) {
        if let Some(board) = &self.board {
            board.spend(&board.at());
        }
    }

    /// So many are done.
    pub fn done(&self, done: usize) {
        self.change(|own| {
            if let Some(count) = &mut own.count {
                count.done = done.min(count.total);
            }
        });
    }

    /// Goes on to something else, which cannot be counted.
    pub fn now(&self, what: impl Into<String>) {
        self.spend();
        self.change(|own| {
            own.what = what.into();
            own.count = None;
            own.began = Instant::now();
        });
    }

    /// One of those that are done was there before.
    pub fn skip(&self) {
        self.change(|own| {
            if let Some(count) = &mut own.count {
                count.skipped += 1;
            }
        });
    }

    /// Whether it has been told, and how it stands.
    pub fn stands(&self) -> Option<Stretch> {
        let board = self.board.as_ref()?;
        board.at().iter().find(|stretch| stretch.id == self.id).cloned()
    }
}

impl Drop for Doing {
    fn drop(&mut self) {
        if let Some(board) = &self.board {
            let mut at = board.at();
            board.spend(&at);
            at.retain(|stretch| stretch.id != self.id);
            if let Some(last) = at.last_mut().filter(|last| last.is_between) {
                last.began = Instant::now();
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_innermost_stretch_is_told_and_the_outer_one_again_when_it_ends() {
        let board = Board::of_this_thread();
        let outer = doing_counted("rendering", "pictures", 4);
        outer.done(1);
        {
            let inner = doing("comparing looks");
            assert_eq!(board.innermost(false).unwrap().what, "comparing looks");
            inner.now("drawing the wall");
            assert_eq!(board.innermost(true).unwrap().what, "drawing the wall");
            assert!(inner.stands().unwrap().told && !outer.stands().unwrap().told);
        }
        let told = board.innermost(false).unwrap();
        assert_eq!((told.what.as_str(), told.count.unwrap().done), ("rendering", 1));
        assert!(told.left().is_some());
        drop(outer);
        assert!(board.innermost(false).is_none());
    }

    #[test]
    fn what_nothing_names_began_where_the_last_named_stretch_ended() {
        let board = Board::of_this_thread();
        let _between = doing_between("working");
        let named = doing("drawing the wall");
        let ended = Instant::now();
        drop(named);
        let told = board.innermost(false).unwrap();
        assert_eq!(told.what, "working");
        assert!(told.began >= ended, "time that was named is not told as unnamed");
    }

    #[test]
    fn time_is_put_down_to_the_innermost_and_what_is_untold_counts_too() {
        let board = Board::of_this_thread();
        let outer = doing("rendering");
        std::thread::sleep(Duration::from_millis(20));
        {
            let _inner = doing_untold("waiting for the GPU");
            assert_eq!(board.innermost(false).unwrap().what, "rendering", "it is not told");
            std::thread::sleep(Duration::from_millis(60));
        }
        drop(outer);
        let spent = board.spent();
        let of = |what: &str| spent.iter().find(|(known, _)| known == what).unwrap().1.as_millis();
        // Sleeping takes at least as long as it is asked to.
        assert!(of("waiting for the GPU") >= 60 && of("rendering") >= 20, "{spent:?}");
        let whole: Duration = spent.iter().map(|(_, time)| *time).sum();
        assert!(whole >= Duration::from_millis(80) && spent.is_sorted_by(|a, b| a.1 >= b.1));
    }

    #[test]
    fn where_nobody_listens_nothing_is_kept() {
        std::thread::spawn(|| {
            let alone = doing_counted("rendering", "pictures", 4);
            alone.done(2);
            assert!(alone.stands().is_none());
        })
        .join()
        .unwrap();
    }
}
