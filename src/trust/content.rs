//! What the files of a project hold, as one digest: equal where every file is.
//!
//! A clone remembers the digest with what the file system said of the files ([`Keyed::numbers`]), as git's own index does:
//! files that are as they were are not read again. What is kept is believed only as this person left it ([`Keyed`]), and may
//! be taken away at any time.

use std::collections::BTreeMap;
use std::path::Path;

use crate::digest::Sha256Digest;
use crate::fault::Fault;
use crate::ids::ProjectId;
use crate::parallel::in_parallel;
use crate::store::{BookFiles as _, BookFolder, safe_path};
use crate::trust::keyed::Keyed;
use crate::trust::surroundings::Surroundings;

/// The file beside the clone's pin.
const FILE: &str = "contents";

/// The digests of the projects that lie in a folder.
#[derive(Debug, Default)]
pub(crate) struct Contents {
    keyed: Option<Keyed>,
    kept: BTreeMap<ProjectId, (u64, Sha256Digest)>,
    changed: bool,
}

impl Contents {
    /// What a clone remembers; nothing where there is no clone or no home folder to keep the key in.
    #[must_use]
    pub(crate) fn open(clone_local: Option<&Path>, around: &Surroundings<'_>) -> Self {
        let Some(keyed) = Keyed::of(clone_local, around) else { return Self::default() };
        let kept = keyed.read(FILE).unwrap_or_default();
        Contents { keyed: Some(keyed), kept, changed: false }
    }

    /// The digest of each of all the projects, and the faults of files that cannot be read, which are in the digest as well.
    pub(crate) fn of(
        &mut self,
        book: &BookFolder,
        projects: &[ProjectId],
    ) -> Vec<(Sha256Digest, Vec<Fault>)> {
        let numbers = self.keyed.as_ref().map(|keyed| keyed.numbers(book, projects));
        let numbers = numbers.unwrap_or_else(|| vec![None; projects.len()]);
        let numbered: Vec<(&ProjectId, Option<u64>)> = projects.iter().zip(numbers).collect();
        let looked = in_parallel(&numbered, |(id, number)| {
            let known = self.kept.get(*id).filter(|(then, _)| Some(*then) == *number);
            let read = || lines_of(book, &format!("projects/{id}"));
            (*number, known.map_or_else(read, |(_, digest)| (*digest, Vec::new())))
        });
        let before = std::mem::take(&mut self.kept);
        for (id, (number, (digest, unread))) in projects.iter().zip(&looked) {
            if let Some(number) = number.filter(|_| unread.is_empty()) {
                self.kept.insert(id.clone(), (number, *digest));
            }
        }
        self.changed = self.kept != before;
        looked.into_iter().map(|(_, found)| found).collect()
    }

    /// Keeps them for the next time.
    pub(crate) fn keep(&self) {
        if let Some(keyed) = self.keyed.as_ref().filter(|_| self.changed) {
            keyed.write(FILE, &self.kept);
        }
    }
}

/// The digest of every file in a folder, by path, and the faults of those that cannot be read.
fn lines_of(book: &BookFolder, folder: &str) -> (Sha256Digest, Vec<Fault>) {
    let (paths, faults) = book.walk(folder);
    let mut lines: String = faults.iter().map(|fault| format!("{fault}\n")).collect();
    let mut unread = Vec::new();
    for path in paths {
        match book.read(&path, safe_path::LARGEST_ATTACHMENT) {
            Ok(bytes) => lines.push_str(&format!("{} {path}\n", Sha256Digest::of(&bytes))),
            Err(fault) => {
                lines.push_str(&format!("{fault} {path}\n"));
                unread.push(*fault);
            }
        }
    }
    (Sha256Digest::of(lines.as_bytes()), unread)
}
