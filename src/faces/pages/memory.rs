//! What a clone remembers of the jobs that it made pages of, so that what did not change is neither judged nor written again.
//!
//! A file for each job in `.git/underlit/pages/`. Each carries a code made with the key in the person's own state folder, as
//! the verdicts of `verify` do: a book that is handed on with its `.git` brings nothing along that counts.

use std::collections::BTreeMap;
use std::fs;
use std::path::PathBuf;

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::digest::Sha256Digest;
use crate::git::Repo;
use crate::ids::ProjectId;
use crate::ops::reading::Reading;
use crate::pages::facts::Card;
use crate::trust::keyed::{code, key_in};
use crate::trust::surroundings::Surroundings;

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

/// What is remembered.
#[derive(Debug)]
pub(super) struct Memory {
    /// Where, and with which key; none where nothing can be.
    kept: Option<(PathBuf, Vec<u8>)>,
}

impl Memory {
    /// That of a book's clone; nothing where there is no clone, or no home folder to keep the key in.
    pub(super) fn of(reading: &Reading, around: &Surroundings<'_>) -> Self {
        let local = Repo::open(reading.book.root()).and_then(|repo| repo.clone_local_dir()).ok();
        let key = around.home.as_ref().and_then(|home| key_in(home, around.dry_run));
        Memory { kept: local.map(|local| local.join("pages")).zip(key) }
    }

    /// A job as it was last time; none where that cannot be told.
    pub(super) fn of_job(&self, id: &ProjectId) -> Option<Made> {
        let (folder, key) = self.kept.as_ref()?;
        let text = fs::read_to_string(folder.join(id.as_str())).ok()?;
        let (said, body) = text.split_once('\n')?;
        // Nobody learns a code from how long this takes who cannot read the key anyway.
        (said == code(key, &format!("{id}\n{body}"))).then(|| serde_json::from_str(body).ok()).flatten()
    }

    /// Remembers a job. It only saves time: a clone that may not be written to forgets.
    pub(super) fn remember(&self, id: &ProjectId, made: &Made) {
        let Some((folder, key)) = &self.kept else { return };
        let Ok(body) = serde_json::to_string(made) else { return };
        let code = code(key, &format!("{id}\n{body}"));
        let _ = fs::create_dir_all(folder);
        // One that is written by halves has no code that fits.
        let _ = fs::write(folder.join(id.as_str()), format!("{code}\n{body}"));
    }

    /// Forgets jobs that are gone.
    pub(super) fn forget_all_but(&self, jobs: &[ProjectId]) {
        let Some((folder, _)) = &self.kept else { return };
        for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
            let name = entry.file_name();
            if !jobs.iter().any(|id| name.to_str() == Some(id.as_str())) {
                let _ = fs::remove_file(entry.path());
            }
        }
    }
}
