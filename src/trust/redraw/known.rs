//! Renderings that were drawn again and found the same, so that each is drawn again once.
//!
//! What is remembered is a code over everything that the judgement rests on, made with the key that lies in the person's
//! own state folder (see [`crate::trust::verify`]): a book that is handed on with its `.git` brings nothing along that
//! counts.

use std::collections::BTreeSet;
use std::fs;
use std::path::PathBuf;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};

use super::MOST;
use crate::digest::Sha256Digest;
use crate::git::Repo;
use crate::store::{BookFiles, write};
use crate::trust::Surroundings;
use crate::trust::keyed::Keyed;

/// The file beside the clone's pin.
const FILE: &str = "drawings";

/// The most that is remembered; what is more begins anew.
const KEPT: usize = 200_000;

/// What is known of renderings, and how many more may be drawn again. Threads share it.
#[derive(Debug)]
pub struct Known {
    kept: Option<(Keyed, PathBuf)>,
    codes: Mutex<Codes>,
    left: AtomicUsize,
    passed_over: AtomicUsize,
}

#[derive(Debug, Default)]
struct Codes {
    all: BTreeSet<String>,
    changed: bool,
}

impl Default for Known {
    fn default() -> Self {
        Known::upto(MOST)
    }
}

impl Known {
    /// Nothing is known, and so many may be drawn again.
    #[must_use]
    pub(crate) fn upto(left: usize) -> Self {
        let (left, passed_over) = (AtomicUsize::new(left), AtomicUsize::new(0));
        Known { kept: None, codes: Mutex::default(), left, passed_over }
    }

    /// The same, for whoever draws all that is not known again.
    #[must_use]
    pub(crate) fn without_end(self) -> Self {
        Known { left: AtomicUsize::new(usize::MAX), ..self }
    }

    /// What is known in a clone; nothing where there is no clone, or no home folder to keep the key in.
    #[must_use]
    pub(crate) fn open(book: &dyn BookFiles, around: &Surroundings<'_>) -> Self {
        let Some(Ok(local)) = book.on_disk().map(|root| Repo::open(root)?.clone_local_dir()) else {
            return Known::default();
        };
        let Some(keyed) = Keyed::of(Some(&local), around) else { return Known::default() };
        let file = local.join(FILE);
        let all = fs::read_to_string(&file).unwrap_or_default().lines().map(str::to_owned).collect();
        let codes = Mutex::new(Codes { all, changed: false });
        Known { kept: Some((keyed, file)), codes, ..Known::default() }
    }

    /// A thread that panicked left it whole: each change of it is one call.
    fn codes(&self) -> MutexGuard<'_, Codes> {
        self.codes.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub(super) fn has(&self, judged: &Sha256Digest) -> bool {
        let code = self.kept.as_ref().map(|(keyed, _)| keyed.code(&[&judged.hex()]));
        code.is_some_and(|code| self.codes().all.contains(&code))
    }

    pub(super) fn remember(&self, judged: Sha256Digest) {
        if let Some((keyed, _)) = &self.kept {
            let code = keyed.code(&[&judged.hex()]);
            let mut codes = self.codes();
            codes.all.insert(code);
            codes.changed = true;
        }
    }

    /// True where one more may be drawn again.
    pub(super) fn may_draw(&self) -> bool {
        let one_less = |left: usize| left.checked_sub(1);
        let may = self.left.fetch_update(Ordering::Relaxed, Ordering::Relaxed, one_less).is_ok();
        if !may {
            self.passed_over.fetch_add(1, Ordering::Relaxed);
        }
        may
    }

    /// How many were not drawn again, because there were too many at once.
    pub(crate) fn passed_over(&self) -> usize {
        self.passed_over.load(Ordering::Relaxed)
    }

    /// Keeps it for the next time.
    pub(crate) fn keep(&self, around: &Surroundings<'_>) {
        let codes = self.codes();
        let Some((_, file)) = self.kept.as_ref().filter(|_| codes.changed && !around.dry_run) else { return };
        let skip = codes.all.len().saturating_sub(KEPT);
        let text: String = codes.all.iter().skip(skip).map(|code| format!("{code}\n")).collect();
        // It only saves time: a clone that may not be written to is judged all the same.
        let _ = write::write_whole(file, text.as_bytes());
    }
}
