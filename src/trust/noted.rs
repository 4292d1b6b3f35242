//! Commits that a clone notes for itself, each in a file of one line, so that the next look begins there and costs what is
//! new since.

use std::fs;
use std::path::Path;

use crate::fault::Outcome;
use crate::git::CommitId;
use crate::store::{safe_path, write};

/// The commit that a clone noted under a name; none where there is none, or where the note cannot be read.
#[must_use]
pub(crate) fn commit(clone_local: &Path, name: &str) -> Option<CommitId> {
    fs::read_to_string(clone_local.join(name)).ok()?.trim().parse().ok()
}

/// Notes a commit, in place of the one before.
///
/// # Errors
/// What the disk says.
pub(crate) fn note(clone_local: &Path, name: &str, id: CommitId) -> Outcome<()> {
    if commit(clone_local, name) == Some(id) {
        return Ok(());
    }
    write::write_whole(&clone_local.join(name), format!("{id}\n").as_bytes())
        .map_err(|e| Box::new(safe_path::io_fault(&format!(".git/underlit/{name}"), "write", &e)))
}
