//! The same work for many things, on every processor.

use std::num::NonZero;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

/// Does a piece of work for each, on as many threads as there are processors, and gives the answers in the same order.
///
/// # Panics
/// As the work does.
pub(crate) fn in_parallel<T: Sync, R: Send>(all: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let hands = thread::available_parallelism().map_or(1, NonZero::get).min(all.len());
    if hands < 2 {
        return all.iter().map(work).collect();
    }
    let next = AtomicUsize::new(0);
    let one_hand = || {
        let mut done = Vec::new();
        while let Some((nth, one)) =
            Some(next.fetch_add(1, Ordering::Relaxed)).and_then(|nth| Some((nth, all.get(nth)?)))
        {
            done.push((nth, work(one)));
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
