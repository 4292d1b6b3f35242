//! Which records a clone found sound, from one command to the next.
//!
//! What is kept is believed only as this person left it ([`Keyed`]) and as this build of the program found it, and may be
//! taken away at any time.

use std::path::Path;

use serde::{Deserialize, Serialize};

use super::keyed::Keyed;
use super::surroundings::Surroundings;
use crate::digest::Sha256Digest;
use crate::git::Repo;
use crate::store::{BookFolder, sound};

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

impl Drop for Remembered {
    fn drop(&mut self) {
        if let Some(mut records) = sound::end() {
            records.truncate(MOST);
            self.keyed.write(FILE, &Kept { build: std::mem::take(&mut self.build), records });
        }
    }
}
