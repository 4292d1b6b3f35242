//! Which records a clone found sound, from one command to the next.
//!
//! What is kept is believed only as this person left it ([`Keyed`]) and as this build of the program found it, and may be
//! taken away at any time.

use std::path::Path;

use serde::{Deserialize, Serialize};

use super::keyed::Keyed;
use super::surroundings::Surroundings;
use super::tree_files::SHOP;
use crate::digest::Sha256Digest;
use crate::git::{GitError, Repo, Snapshot};
use crate::model::kind::Kind;
use crate::store::{BookFolder, sound, strict_json};

/// The file beside the clone's pin.
const FILE: &str = "sound";

/// How many are kept: those of some eighty jobs, which are read in less time than one schema takes.
const MOST: usize = 2048;

/// What the records of a clone are held to until it is dropped.
#[derive(Debug)]
pub(crate) struct Remembered {
    keyed: Keyed,
    build: String,
}

#[derive(Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Kept {
    /// The build of the program, which has its schemas inside.
    build: String,
    records: Vec<Sha256Digest>,
}

impl Remembered {
    /// Recalls what is known in the clone that a folder lies in; nothing where there is no clone, or no home folder to keep
    /// the key in.
    #[must_use]
    pub(crate) fn begin(folder: &Path, around: &Surroundings<'_>) -> Option<Remembered> {
        let book = BookFolder::find(folder).ok()?;
        let local = Repo::open(book.root()).and_then(|repo| repo.clone_local_dir()).ok();
        let keyed = Keyed::of(local.as_deref(), around)?;
        let kept = keyed.read(FILE).filter(|kept: &Kept| kept.build == around.build).unwrap_or_default();
        sound::begin(kept.records);
        Some(Remembered { keyed, build: around.build.clone() })
    }
}

/// The roster and the shop of a state are taken for sound until it is dropped.
#[derive(Debug)]
pub(crate) struct Vouched;

impl Vouched {
    /// Those of the state that a guarded repository holds: they were held to their schemas when they came, and owners
    /// signed them. Making their schemas ready takes longer than judging a small push.
    ///
    /// # Errors
    /// What git says.
    pub(crate) fn by(state: &Snapshot<'_>) -> Result<Vouched, GitError> {
        let mut known = Vec::new();
        for path in SHOP {
            for file in state.files(path)? {
                let Some(kind) = Kind::of_path(&file.path).filter(|kind| kind.has_schema()) else { continue };
                if state.size(file.entry)? as u64 <= strict_json::LARGEST {
                    known.push(state.ask(file.entry, |bytes| sound::digest(kind, bytes))?);
                }
            }
        }
        sound::begin(known);
        Ok(Vouched)
    }
}

impl Drop for Vouched {
    fn drop(&mut self) {
        sound::end();
    }
}

impl Drop for Remembered {
    fn drop(&mut self) {
        if let Some(mut records) = sound::end() {
            records.truncate(MOST);
            self.keyed.write(FILE, &Kept { build: std::mem::take(&mut self.build), records });
        }
    }
}
