//! Work that falls into parts which wait for no other, on all processors.

use std::panic::resume_unwind;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

/// Parts under way at once, at most.
pub fn processors() -> usize {
    thread::available_parallelism().map_or(1, usize::from)
}

/// What is made of each thing, in their order.
pub fn at_once<T: Sync, R: Send>(things: &[T], make: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let next = AtomicUsize::new(0);
    let take = || {
        let mut made = Vec::new();
        while let at = next.fetch_add(1, Ordering::Relaxed)
            && let Some(thing) = things.get(at)
        {
            made.push((at, make(thing)));
        }
        made
    };
    let mut made = thread::scope(|scope| {
        // What the system gives no thread for is done by those that there are.
        let start = |_| thread::Builder::new().spawn_scoped(scope, take).ok();
        let others: Vec<_> = (1..processors().min(things.len())).filter_map(start).collect();
        let mut made = take();
        for other in others {
            made.extend(other.join().unwrap_or_else(|panic| resume_unwind(panic)));
        }
        made
    });
    made.sort_by_key(|&(at, _)| at);
    made.into_iter().map(|(_, made)| made).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_made_comes_in_the_order_of_what_it_is_made_of() {
        let things: Vec<u64> = (0..1000).collect();
        let squares: Vec<u64> = things.iter().map(|thing| thing * thing).collect();
        assert_eq!(at_once(&things, |thing| thing * thing), squares);
        assert_eq!(at_once(&[0_u8; 0], |_| ()), []);
    }
}
