//! What runs until it is told to end hears Ctrl-C and SIGTERM here, and waits here.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use signal_hook::consts::{SIGINT, SIGTERM};
use signal_hook::flag;

use crate::fault::Fault;

/// What turns true at the first Ctrl-C or SIGTERM.
pub(super) fn heard() -> Result<Arc<AtomicBool>, Vec<Fault>> {
    let stop = Arc::new(AtomicBool::new(false));
    for signal in [SIGINT, SIGTERM] {
        // A second one ends at once, should the first not be heard.
        let heard = flag::register_conditional_default(signal, Arc::clone(&stop))
            .and_then(|_| flag::register(signal, Arc::clone(&stop)));
        heard.map_err(|e| {
            vec![Fault::io("signals", format!("signals cannot be heard: {e}")).fix("run it without watch")]
        })?;
    }
    Ok(stop)
}

/// Waits, and no longer once it is told to end.
pub(super) fn pause(length: Duration, stop: &AtomicBool) {
    let until = Instant::now() + length;
    while !stop.load(Ordering::Relaxed) {
        let left = until.saturating_duration_since(Instant::now());
        if left.is_zero() {
            return;
        }
        thread::sleep(left.min(Duration::from_millis(100)));
    }
}
