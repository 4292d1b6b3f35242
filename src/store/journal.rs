//! What a set of changes is about to do, noted before its first file is touched, so that a kill half way can be
//! taken back.
//!
//! The note lies in the folder where the old files are kept. It goes when the changes stand. Whoever opens the book
//! next and finds it puts the old files back, unless the changes had become a commit, and leaves alone what a person
//! has edited since.

use std::fs;
use std::io::ErrorKind;
use std::path::Path;

use serde::{Deserialize, Serialize};

use super::safe_path::io_fault;
use super::write::{sync_folder, write_whole};
use crate::digest::Sha256Digest;
use crate::fault::Outcome;

/// The note's name in the folder of old files.
const NOTE: &str = "note.json";

/// One file of a set of changes.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Line {
    /// The path in the book.
    pub(super) path: String,
    /// The digest of what was there before; none where nothing was.
    pub(super) before: Option<Sha256Digest>,
    /// The digest of what is to be there; none where it is taken out.
    pub(super) after: Option<Sha256Digest>,
}

/// Notes what is about to be done.
pub(super) fn note(spare: &Path, lines: &[Line]) -> std::io::Result<()> {
    let bytes = serde_json::to_vec(lines).map_err(std::io::Error::other)?;
    write_whole(&spare.join(NOTE), &bytes)
}

/// Takes the note out: the changes stand, or were taken back.
pub(super) fn done(spare: &Path) {
    if fs::remove_file(spare.join(NOTE)).is_ok() {
        let _ = sync_folder(&spare.join(NOTE));
    }
}

/// What [`settle`] found to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Settled {
    /// No run was interrupted.
    Nothing,
    /// An interrupted run had done all it wanted.
    Stood,
    /// An interrupted run was taken back.
    TakenBack,
}

/// True where an interrupted run left a note.
#[must_use]
pub(crate) fn is_interrupted(spare: &Path) -> bool {
    spare.join(NOTE).exists()
}

/// Takes back what an interrupted run left half done in the book at `root`. `committed` tells the bytes of a path in
/// the newest commit: where all of the changes stand there, they stand.
///
/// # Errors
/// What the disk said of a file that cannot be put back; it is tried again the next time.
pub(crate) fn settle(
    root: &Path,
    spare: &Path,
    committed: impl Fn(&str) -> Outcome<Option<Vec<u8>>>,
) -> Outcome<Settled> {
    let lines: Vec<Line> = match fs::read(spare.join(NOTE)) {
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(Settled::Nothing),
        Err(error) => return Err(Box::new(io_fault(".git/underlit/before/note.json", "read", &error))),
        Ok(bytes) => match serde_json::from_slice(&bytes) {
            Ok(lines) => lines,
            // Written by another version of this program: nothing here knows what it meant.
            Err(_) => {
                done(spare);
                return Ok(Settled::Nothing);
            }
        },
    };
    let digest = |bytes: Option<Vec<u8>>| bytes.map(|bytes| Sha256Digest::of(&bytes));
    let mut stands = true;
    for line in &lines {
        stands &= digest(committed(&line.path)?) == line.after;
    }
    if !stands {
        for (nth, line) in lines.iter().enumerate().rev() {
            let full = root.join(&line.path);
            let now = match fs::read(&full) {
                Ok(bytes) => Some(Sha256Digest::of(&bytes)),
                Err(error) if error.kind() == ErrorKind::NotFound => None,
                Err(error) => return Err(Box::new(io_fault(&line.path, "read", &error))),
            };
            if now != line.after || line.before == line.after {
                continue; // not yet touched, or edited by a person since
            }
            let kept = spare.join(nth.to_string());
            let put_back = match line.before {
                Some(_) => fs::rename(&kept, &full).and_then(|()| sync_folder(&full)),
                None => fs::remove_file(&full).and_then(|()| sync_folder(&full)),
            };
            put_back.map_err(|e| Box::new(io_fault(&line.path, "write", &e)))?;
            if line.before.is_none() {
                let folders = full.ancestors().skip(1).take_while(|folder| *folder != root);
                // A folder that holds something else is not ours to take out.
                let _ = folders.map(fs::remove_dir).take_while(Result::is_ok).count();
            }
        }
    }
    done(spare);
    // What is left of the old files is only room on the disk.
    let _ = fs::remove_dir_all(spare);
    Ok(if stands { Settled::Stood } else { Settled::TakenBack })
}
