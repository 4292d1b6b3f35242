//! Writes files so that a reader sees the old one or the new one and never a half: a temporary file beside
//! the target, fsync, rename, fsync of the folder.
//!
//! A [`Changes`] is a set of files that belong together. If one cannot be written, those already written
//! are put back, so that a failed command leaves nothing behind.

use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};

use serde::Serialize;

use super::journal::{self, Line};
use super::safe_path::{io_fault, refuse_links};
use crate::digest::Sha256Digest;
use crate::fault::{Fault, Outcome};
use crate::model::kind::WRITING;
use crate::paths::{UnsafePath, path_fault};
use crate::secrets;

/// A record as the bytes of its file: two spaces of indent, the type's own order of keys, a final newline.
///
/// # Errors
/// `record-unwritable`, where a value has no JSON form (a number that is not finite).
pub fn to_bytes<T: Serialize>(record: &T) -> Outcome<Vec<u8>> {
    let mut bytes = serde_json::to_vec_pretty(record)
        .map_err(|e| Fault::data("record-unwritable", format!("the record has no JSON form: {e}")))?;
    bytes.push(b'\n');
    Ok(bytes)
}

/// Files to be written or taken out together, by their paths in the book.
#[derive(Clone, Debug, Default)]
pub struct Changes {
    files: Vec<(String, Option<Vec<u8>>)>,
}

impl Changes {
    /// No change yet.
    #[must_use]
    pub(crate) fn new() -> Self {
        Self::default()
    }

    /// Adds a file with its new bytes.
    pub(crate) fn put(&mut self, path: impl Into<String>, bytes: Vec<u8>) -> &mut Self {
        self.files.push((path.into(), Some(bytes)));
        self
    }

    /// Adds a file to be taken out.
    pub(crate) fn remove(&mut self, path: impl Into<String>) -> &mut Self {
        self.files.push((path.into(), None));
        self
    }

    /// The paths, in the order in which they were added.
    #[must_use]
    pub(crate) fn paths(&self) -> Vec<String> {
        self.files.iter().map(|(path, _)| path.clone()).collect()
    }

    /// The files with their new bytes; none for one that is taken out.
    pub(crate) fn files(&self) -> impl Iterator<Item = (&str, Option<&[u8]>)> {
        self.files.iter().map(|(path, bytes)| (path.as_str(), bytes.as_deref()))
    }

    /// True where there is nothing to write.
    #[must_use]
    pub(crate) fn is_empty(&self) -> bool {
        self.files.is_empty()
    }

    /// Writes everything, or nothing.
    ///
    /// Old files are kept in `spare`, a folder on the same disk that belongs to this alone, until the changes
    /// stand: putting a kept file back takes no room, so it works on a full disk as well.
    ///
    /// # Errors
    /// `unsafe-path` for a path that could harm a clone, `private-key`; what the disk said of the first file that could not be
    /// written; the others are put back.
    pub(crate) fn apply(&self, root: &Path, spare: Option<&Path>) -> Outcome<Applied> {
        if let Some(spare) = spare {
            // What a run that was killed left there; where it cannot be made, old files are put back by writing them.
            let _ = fs::remove_dir_all(spare);
            let _ = fs::create_dir_all(spare);
        }
        for (path, bytes) in &self.files {
            if bytes.as_deref().is_some_and(secrets::holds_private_key) {
                return Err(Box::new(secrets::fault(path)));
            }
            if let Some(what) = path_fault(path) {
                let remedy = "give the project, panel or file a plain name; nothing was written";
                return Err(Box::new(UnsafePath::new(path, what).fault(remedy)));
            }
        }
        let mut applied = Applied {
            root: root.to_path_buf(),
            spare: spare.map(Path::to_path_buf),
            before: Vec::new(),
            folders: Vec::new(),
        };
        if let Some(spare) = &applied.spare {
            self.note(root, spare)?;
        }
        for (path, bytes) in &self.files {
            if let Err(fault) = applied.one(path, bytes.as_deref()) {
                applied.undo();
                return Err(fault);
            }
        }
        Ok(applied)
    }

    /// Notes what is about to be done and keeps the old files, so that a kill half way can be taken back.
    fn note(&self, root: &Path, spare: &Path) -> Outcome<()> {
        let mut lines = Vec::new();
        for (nth, (path, bytes)) in self.files.iter().enumerate() {
            refuse_links(root, path)?;
            let full = root.join(path);
            let before = match fs::read(&full) {
                Ok(old) => Some(Sha256Digest::of(&old)),
                Err(error) if error.kind() == std::io::ErrorKind::NotFound => None,
                Err(error) => return Err(Box::new(io_fault(path, "read", &error))),
            };
            let kept = spare.join(nth.to_string());
            if before.is_some() && fs::hard_link(&full, &kept).is_err() {
                // A disk without hard links: a copy does, while there is room.
                fs::copy(&full, &kept).map_err(|e| Box::new(io_fault(path, "write", &e)))?;
            }
            let after = bytes.as_ref().map(|bytes| Sha256Digest::of(bytes));
            lines.push(Line { path: path.clone(), before, after });
        }
        let noted = journal::note(spare, &lines);
        noted.map_err(|e| Box::new(io_fault(".git/underlit/before/note.json", "write", &e)))
    }
}

/// Changes that were written, and what was there before them.
#[derive(Debug)]
pub(crate) struct Applied {
    root: PathBuf,
    spare: Option<PathBuf>,
    before: Vec<(String, Option<Vec<u8>>)>,
    folders: Vec<PathBuf>,
}

impl Applied {
    fn one(&mut self, path: &str, bytes: Option<&[u8]>) -> Outcome<()> {
        refuse_links(&self.root, path)?;
        let full = self.root.join(path);
        let before = match fs::read(&full) {
            Ok(old) => Some(old),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => None,
            Err(error) => return Err(Box::new(io_fault(path, "read", &error))),
        };
        let result = match bytes {
            Some(bytes) => self.make_folders(&full).and_then(|()| write_whole(&full, bytes)),
            None => fs::remove_file(&full).and_then(|()| sync_folder(&full)),
        };
        self.before.push((path.to_owned(), before));
        result.map_err(|e| Box::new(io_fault(path, "write", &e)))
    }

    /// Where the old file of the nth change is kept.
    fn kept(&self, nth: usize) -> Option<PathBuf> {
        self.spare.as_ref().map(|folder| folder.join(nth.to_string()))
    }

    fn make_folders(&mut self, full: &Path) -> std::io::Result<()> {
        let Some(parent) = full.parent() else { return Ok(()) };
        let mut missing: Vec<PathBuf> =
            parent.ancestors().take_while(|a| !a.exists()).map(Path::to_path_buf).collect();
        missing.reverse();
        for folder in missing {
            fs::create_dir(&folder)?;
            sync_folder(&folder)?;
            self.folders.push(folder);
        }
        Ok(())
    }

    /// Puts everything back as it was; for a step after the writing that failed.
    pub(crate) fn undo(self) {
        for (nth, (path, before)) in self.before.iter().enumerate().rev() {
            let full = self.root.join(path);
            // Putting back is the last resort: where the disk refuses that too, the first fault is the one to show.
            let _ = match before {
                Some(bytes) => {
                    let kept = self.kept(nth).map(|kept| fs::rename(kept, &full));
                    if matches!(kept, Some(Ok(()))) { Ok(()) } else { write_whole(&full, bytes) }
                }
                None => fs::remove_file(&full),
            };
        }
        for folder in self.folders.iter().rev() {
            let _ = fs::remove_dir(folder);
        }
    }
}

impl Drop for Applied {
    fn drop(&mut self) {
        if let Some(spare) = &self.spare {
            journal::done(spare);
            let _ = fs::remove_dir_all(spare);
        }
    }
}

/// Writes one file whole: temporary file, fsync, rename, fsync of the folder.
///
/// # Errors
/// Whatever the disk says; the old file is then still there.
pub(crate) fn write_whole(full: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let folder = folder_of(full);
    let mut file = tempfile::Builder::new().prefix(WRITING).tempfile_in(folder)?;
    // Held while it is being written, so that whoever sweeps up knows it from one that a kill left. Where the disk
    // knows no locks, nothing is lost but that knowledge.
    let _ = file.as_file().try_lock();
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        file.as_file().set_permissions(fs::Permissions::from_mode(0o644))?;
    }
    file.write_all(bytes)?;
    file.as_file().sync_all()?;
    file.persist(full).map_err(|e| e.error)?;
    sync_folder(full)
}

/// The folder that a file lies in: the present one for a bare name.
fn folder_of(full: &Path) -> &Path {
    full.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

#[cfg(unix)]
pub(super) fn sync_folder(full: &Path) -> std::io::Result<()> {
    fs::File::open(folder_of(full))?.sync_all()
}

#[cfg(not(unix))]
pub(super) fn sync_folder(_full: &Path) -> std::io::Result<()> {
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_or_nothing() {
        let folder = tempfile::tempdir().expect("a temporary folder");
        fs::write(folder.path().join("a"), "old").expect("written");
        fs::create_dir(folder.path().join("blocked")).expect("made");
        let mut changes = Changes::new();
        changes.put("a", b"new".to_vec()).put("deep/er/b", b"b".to_vec()).put("blocked", b"x".to_vec());
        assert!(changes.apply(folder.path(), None).is_err());
        assert_eq!(fs::read_to_string(folder.path().join("a")).expect("read"), "old");
        assert!(!folder.path().join("deep").exists());

        let mut changes = Changes::new();
        changes.put("a", b"new".to_vec()).put("deep/er/b", b"b".to_vec());
        let applied = changes.apply(folder.path(), None).expect("written");
        assert_eq!(fs::read_to_string(folder.path().join("deep/er/b")).expect("read"), "b");
        applied.undo();
        assert_eq!(fs::read_to_string(folder.path().join("a")).expect("read"), "old");
        assert!(!folder.path().join("deep").exists());
    }
}
