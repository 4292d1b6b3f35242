//! The same work for many things, on every processor.

use std::num::NonZero;
use std::sync::OnceLock;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::thread;

/// Who is told how much of how much is done; nobody where nobody asked.
static WATCHER: OnceLock<fn(usize, usize)> = OnceLock::new();

/// True while some work is told of: work within work is not told apart.
static BUSY: AtomicBool = AtomicBool::new(false);

/// Has somebody told, from any thread, how much of how much is done. The first who asks is told.
pub(crate) fn watch(told: fn(usize, usize)) {
    let _ = WATCHER.set(told);
}

/// Work on many things, of which is told how far it is until this is dropped.
pub(crate) struct Told {
    told: fn(usize, usize),
    of: usize,
    done: AtomicUsize,
}

impl Told {
    /// Work on so many things; none where nobody is to be told.
    pub(crate) fn of(count: usize) -> Option<Told> {
        let told = *WATCHER.get()?;
        let first = count > 1 && !BUSY.swap(true, Ordering::Relaxed);
        first.then(|| Told { told, of: count, done: AtomicUsize::new(0) })
    }

    /// The same things one after another, each told of when the next is asked for.
    pub(crate) fn each<T>(all: &[T]) -> impl Iterator<Item = &T> {
        let told = Told::of(all.len());
        all.iter()
            .enumerate()
            .inspect(move |(nth, _)| {
                if *nth > 0 {
                    told.iter().for_each(Told::one_more);
                }
            })
            .map(|(_, one)| one)
    }

    /// One more is done.
    fn one_more(&self) {
        (self.told)(self.done.fetch_add(1, Ordering::Relaxed) + 1, self.of);
    }
}

impl Drop for Told {
    fn drop(&mut self) {
        BUSY.store(false, Ordering::Relaxed);
    }
}

/// Does a piece of work for each, on as many threads as there are processors, and gives the answers in the same order.
///
/// # Panics
/// As the work does.
pub(crate) fn in_parallel<T: Sync, R: Send>(all: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    in_parallel_with(all, || (), |(), one| work(one))
}

/// As [`in_parallel`], with something of its own for each thread, which it keeps from one piece to the next.
///
/// # Panics
/// As the work does.
pub(crate) fn in_parallel_with<T: Sync, S, R: Send>(
    all: &[T],
    begin: impl Fn() -> S + Sync,
    work: impl Fn(&mut S, &T) -> R + Sync,
) -> Vec<R> {
    let told = Told::of(all.len());
    let work = |own: &mut S, one: &T| {
        let answer = work(own, one);
        told.iter().for_each(Told::one_more);
        answer
    };
    let hands = thread::available_parallelism().map_or(1, NonZero::get).min(all.len());
    if hands < 2 {
        let mut own = begin();
        return all.iter().map(|one| work(&mut own, one)).collect();
    }
    let next = AtomicUsize::new(0);
    let one_hand = || {
        let (mut own, mut done) = (begin(), Vec::new());
        while let Some((nth, one)) =
            Some(next.fetch_add(1, Ordering::Relaxed)).and_then(|nth| Some((nth, all.get(nth)?)))
        {
            done.push((nth, work(&mut own, one)));
        }
        done
    };
    let mut done: Vec<(usize, R)> = thread::scope(|scope| {
        let begun: Vec<_> = (0..hands).map(|_| scope.spawn(one_hand)).collect();
        let all = begun
            .into_iter()
            .flat_map(|hand| hand.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)));
        all.collect()
    });
    done.sort_unstable_by_key(|(nth, _)| *nth);
    done.into_iter().map(|(_, answer)| answer).collect()
}

#[cfg(test)]
mod tests {
    use super::in_parallel;

    #[test]
    fn answers_come_in_order_and_each_once() {
        for count in [0_usize, 1, 2, 3, 1000] {
            let all: Vec<usize> = (0..count).collect();
            assert_eq!(in_parallel(&all, |n| n * 2), all.iter().map(|n| n * 2).collect::<Vec<_>>());
        }
    }

    #[test]
    #[should_panic(expected = "the work's own")]
    fn a_panic_of_the_work_is_not_lost() {
        in_parallel(&[1, 2, 3], |n| assert!(*n < 3, "the work's own"));
    }
}
