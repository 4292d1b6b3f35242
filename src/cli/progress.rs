//! How far long work is, where somebody waits at a terminal: nothing for a second, then a line that takes its own place and
//! is gone at the end.

use std::io::{self, IsTerminal as _};
use std::sync::LazyLock;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::Instant;

use super::printer::beat;
use crate::parallel;

/// Work that takes no longer than this shows nothing; the line changes no more often than that. In milliseconds.
const QUIET: u64 = 1000;
const STEP: u64 = 200;

static BEGAN: LazyLock<Instant> = LazyLock::new(Instant::now);
static LAST: AtomicU64 = AtomicU64::new(0);
static SHOWN: AtomicBool = AtomicBool::new(false);

/// Has the work told from now on, where somebody waits at a terminal.
pub(super) fn watch(json: bool) {
    let dumb = std::env::var_os("TERM").is_some_and(|kind| kind == "dumb");
    if !json && !dumb && io::stderr().is_terminal() {
        LazyLock::force(&BEGAN);
        parallel::watch(told);
    }
}

fn told(done: usize, of: usize) {
    let now = u64::try_from(BEGAN.elapsed().as_millis()).unwrap_or(u64::MAX);
    let last = LAST.load(Ordering::Relaxed);
    if done < of
        && now >= QUIET
        && now >= last + STEP
        && LAST.compare_exchange(last, now, Ordering::Relaxed, Ordering::Relaxed).is_ok()
    {
        SHOWN.store(true, Ordering::Relaxed);
        beat(&format!("  {done} of {of} …"));
    }
}

/// Takes the line away, where there is one.
pub(super) fn erase() {
    if SHOWN.swap(false, Ordering::Relaxed) {
        beat(&" ".repeat(40));
    }
}
