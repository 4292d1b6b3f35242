//! What a clone remembers of the jobs that it made pages of, so that what did not change is neither judged nor written again.
//!
//! A file for each job in `.git/underlit/pages/`, believed only as this person left it ([`Keyed`]).

use std::collections::BTreeMap;
use std::fs;
use std::path::PathBuf;

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::digest::Sha256Digest;
use crate::ids::ProjectId;
use crate::ops::reading::Reading;
use crate::pages::facts::Card;
use crate::trust::keyed::Keyed;
use crate::trust::surroundings::Surroundings;

/// The folder of what is remembered, in the clone's own.
const FOLDER: &str = "pages";

/// A job that a page was made of.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Made {
    /// What the page rests on.
    pub(super) rests_on: String,
    /// The day that it is as of; none where it is the same on every day.
    pub(super) day: Option<Date>,
    /// Its files, by their paths in the pages' folder.
    pub(super) files: BTreeMap<String, Sha256Digest>,
    /// What lists say of it.
    pub(super) card: Card,
}

/// What is remembered; nothing where nothing can be.
#[derive(Debug)]
pub(super) struct Memory(Option<(Keyed, PathBuf)>);

/// The file of a job.
fn file(id: &ProjectId) -> String {
    format!("{FOLDER}/{id}")
}

impl Memory {
    /// That of a book's clone; nothing where there is no clone, or no home folder to keep the key in.
    pub(super) fn of(reading: &Reading, around: &Surroundings<'_>) -> Self {
        let local = reading.clone_local();
        Memory(Keyed::of(local.as_deref(), around).zip(local.map(|local| local.join(FOLDER))))
    }

    /// A job as it was last time; none where that cannot be told.
    pub(super) fn of_job(&self, id: &ProjectId) -> Option<Made> {
        self.0.as_ref()?.0.read(&file(id))
    }

    /// Remembers a job.
    pub(super) fn remember(&self, id: &ProjectId, made: &Made) {
        let Some((keyed, folder)) = &self.0 else { return };
        let _ = fs::create_dir_all(folder);
        keyed.write(&file(id), made);
    }

    /// Forgets jobs that are not among these, which are in order.
    pub(super) fn forget_all_but(&self, jobs: &[ProjectId]) {
        let Some((_, folder)) = &self.0 else { return };
        for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
            let name = entry.file_name();
            let of = |name: &str| jobs.binary_search_by(|id| id.as_str().cmp(name)).is_ok();
            if !name.to_str().is_some_and(of) {
                let _ = fs::remove_file(entry.path());
            }
        }
    }
}
