//! Renderings that were drawn again and found the same, so that each is drawn again once.
//!
//! What is remembered is a code over everything that the judgement rests on, made with the key that lies in the person's
//! own state folder (see [`crate::trust::verify`]): a book that is handed on with its `.git` brings nothing along that
//! counts.

use std::collections::BTreeSet;
use std::fs;
use std::path::PathBuf;

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

/// What is known of renderings, and how many more may be drawn again.
#[derive(Debug)]
pub struct Known {
    kept: Option<(Keyed, PathBuf)>,
    codes: BTreeSet<String>,
    changed: bool,
    left: usize,
    /// How many were not drawn again, because there were too many at once.
    pub passed_over: usize,
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
        Known { kept: None, codes: BTreeSet::new(), changed: false, left, passed_over: 0 }
    }

    /// The same, for whoever draws all that is not known again.
    #[must_use]
    pub(crate) fn without_end(self) -> Self {
        Known { left: usize::MAX, ..self }
    }

    /// What is known in a clone; nothing where there is no clone, or no home folder to keep the key in.
    #[must_use]
    pub(crate) fn open(book: &dyn BookFiles, around: &Surroundings<'_>) -> Self {
        let Some(Ok(local)) = book.on_disk().map(|root| Repo::open(root)?.clone_local_dir()) else {
            return Known::default();
        };
        let Some(keyed) = Keyed::of(Some(&local), around) else { return Known::default() };
        let file = local.join(FILE);
        let codes = fs::read_to_string(&file).unwrap_or_default().lines().map(str::to_owned).collect();
        Known { kept: Some((keyed, file)), codes, ..Known::default() }
    }

    pub(super) fn has(&self, judged: &Sha256Digest) -> bool {
        self.kept.as_ref().is_some_and(|(keyed, _)| self.codes.contains(&keyed.code(&[&judged.hex()])))
    }

    pub(super) fn remember(&mut self, judged: Sha256Digest) {
        if let Some((keyed, _)) = &self.kept {
            self.codes.insert(keyed.code(&[&judged.hex()]));
            self.changed = true;
        }
    }

    /// True where one more may be drawn again.
    pub(super) fn may_draw(&mut self) -> bool {
        match self.left.checked_sub(1) {
            Some(left) => {
                self.left = left;
                true
            }
            None => {
                self.passed_over += 1;
                false
            }
        }
    }

    /// Keeps it for the next time.
    pub(crate) fn keep(&self, around: &Surroundings<'_>) {
        let Some((_, file)) = self.kept.as_ref().filter(|_| self.changed && !around.dry_run) else { return };
        let skip = self.codes.len().saturating_sub(KEPT);
        let text: String = self.codes.iter().skip(skip).map(|code| format!("{code}\n")).collect();
        // It only saves time: a clone that may not be written to is judged all the same.
        let _ = write::write_whole(file, text.as_bytes());
    }
}
