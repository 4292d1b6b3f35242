//! Moving the branch to a commit, with index and files, so that a kill at any moment leaves before or after.
//!
//! Order on disk: the new files are laid ready beside the repository and flushed; a note says which move is under
//! way; each file is renamed into place; the index follows, then the branch; the note goes. Whoever takes the
//! lock next reads the note and completes the move, or takes it back where a person has edited one of
//! the files meanwhile. An edited file is never overwritten.

use std::fs::{self, File};
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::failure::at;
use super::name::safe;
use super::partial::blob;
use super::{BookLock, CommitId, Entry, EntryKind, GitError, PathChange, Repo, Snapshot};
use crate::model::kind::WRITING;

/// The note of a move under way.
#[derive(Debug, Serialize, Deserialize)]
struct Moving {
    branch: String,
    from: Option<String>,
    to: String,
    put: bool,
}

impl Repo {
    /// Moves the checked-out branch from one commit to another, with index and files, whether or not it follows from it.
    ///
    /// # Errors
    /// [`GitError::BranchMoved`]; [`GitError::EditedMeanwhile`] where a file that would change was edited; and what git
    /// and the disk say.
    pub fn move_branch(
        &self,
        lock: &BookLock,
        from: Option<CommitId>,
        to: CommitId,
        reason: &str,
    ) -> Result<(), GitError> {
        self.advance(lock, (from, to), true, reason)
    }

    /// The same for a commit of what lies in the folder already: branch and index move, and no file.
    ///
    /// # Errors
    /// As [`Repo::move_branch`].
    pub(crate) fn move_branch_alone(
        &self,
        lock: &BookLock,
        from: Option<CommitId>,
        to: CommitId,
        reason: &str,
    ) -> Result<(), GitError> {
        self.advance(lock, (from, to), false, reason)
    }

    /// With `put`, the files that differ are brought into the folder; without, they lie there already.
    fn advance(
        &self,
        _lock: &BookLock,
        (from, to): (Option<CommitId>, CommitId),
        put: bool,
        reason: &str,
    ) -> Result<(), GitError> {
        let branch = self.branch_ref()?;
        if self.head()? != from {
            return Err(GitError::BranchMoved { branch });
        }
        let changes = self.changes_between(from, to)?;
        if put {
            let here = self.held_of(&changes);
            self.refuse_edited(&here)?;
            self.lay_ready(&here)?;
        }
        let note = Moving { branch, from: from.map(|id| id.to_string()), to: to.to_string(), put };
        self.write_note(&note)?;
        let done = self.carry_out(&note, from, to, &changes, reason);
        if let Err(error) = done {
            // Once the branch has moved the change stands, whatever failed behind it; the next lock tidies up.
            if self.head()? == Some(to) {
                return Ok(());
            }
            // The failure that matters is the first; what cannot be taken back now is when the lock is next taken.
            let _ = self.take_back(from, to, &changes, put);
            return Err(error);
        }
        // The same where only the note cannot be taken out: the next lock sees that the move is done.
        let _ = self.drop_note();
        if put {
            return Ok(());
        }
        self.hold_new(changes.iter().map(|change| change.path.as_str()), (from, to))
    }

    /// The changes whose files lie in the folder: those of the part that this clone holds.
    fn held_of(&self, changes: &[PathChange]) -> Vec<PathChange> {
        let part = self.part();
        let held = |change: &&PathChange| part.as_ref().is_none_or(|part| part.holds(&change.path));
        changes.iter().filter(held).cloned().collect()
    }

    /// True where an interrupted run left a move under way.
    #[must_use]
    pub(crate) fn is_interrupted(&self) -> bool {
        self.note_path().is_ok_and(|path| path.exists())
    }

    /// Completes or takes back the move that an interrupted run noted.
    pub(crate) fn settle_interrupted(&self, _lock: &BookLock) -> Result<(), GitError> {
        self.drop_own_index_lock()?;
        let path = self.note_path()?;
        let text = match fs::read_to_string(&path) {
            Ok(text) => text,
            Err(e) if e.kind() == ErrorKind::NotFound => return Ok(()),
            Err(e) => return Err(at(&path)(e)),
        };
        let Ok(note) = serde_json::from_str::<Moving>(&text) else {
            return self.drop_note(); // written by no version of this program: there is nothing to settle
        };
        let (Ok(to), Ok(from)) = (note.to.parse(), note.from.as_deref().map(str::parse).transpose()) else {
            return self.drop_note();
        };
        self.drop_own_branch_lock(&note)?;
        let head = if self.branch_ref().is_ok_and(|now| now == note.branch) { self.head()? } else { None };
        let changes = self.changes_between(from, to)?;
        if head == Some(to) {
            self.settle_index(&changes)?;
        } else if head == from && self.half_done().is_none() {
            let mut edited = false;
            let here = self.held_of(&changes);
            for change in &here {
                // Files that were not to be brought lay there already; one that no longer does was put back since.
                let old = note.put && self.lies_as(change, change.before)?;
                edited |= !old && !self.lies_as(change, change.after)?;
            }
            if edited {
                return self.take_back(from, to, &changes, note.put);
            }
            if note.put {
                self.lay_ready(&here)?;
            }
            self.carry_out(&note, from, to, &changes, "settle an interrupted run")?;
        }
        self.drop_note()
    }

    fn changes_between(&self, from: Option<CommitId>, to: CommitId) -> Result<Vec<PathChange>, GitError> {
        let before = match from {
            Some(from) => self.snapshot(from)?,
            None => Snapshot::new(&self.git, None),
        };
        // What cannot be named in every clone is never brought; where a branch is left that has it, it goes with the rest.
        before.nameable_changes(&self.snapshot(to)?)
    }

    fn carry_out(
        &self,
        note: &Moving,
        from: Option<CommitId>,
        to: CommitId,
        changes: &[PathChange],
        reason: &str,
    ) -> Result<(), GitError> {
        if note.put {
            self.put_files(&self.held_of(changes))?;
        }
        self.settle_index(changes)?;
        let line = reason.lines().next().unwrap_or_default();
        match from {
            Some(from) => self.git.reference_matching(&note.branch, to.0, true, from.0, line)?,
            None => self.git.reference(&note.branch, to.0, false, line)?,
        };
        Ok(())
    }

    /// Puts back what [`Repo::advance`] has brought, file by file, leaving every edited file as it is.
    fn take_back(
        &self,
        from: Option<CommitId>,
        to: CommitId,
        changes: &[PathChange],
        put: bool,
    ) -> Result<(), GitError> {
        if self.head()? == Some(to) {
            return Ok(());
        }
        let back: Vec<PathChange> = changes
            .iter()
            .map(|c| PathChange { path: c.path.clone(), before: c.after, after: c.before })
            .collect();
        if put {
            let mut brought = Vec::new();
            for change in self.held_of(&back).into_iter().filter(|c| c.before != c.after) {
                if self.lies_as(&change, change.before)? {
                    brought.push(change);
                }
            }
            self.lay_ready(&brought)?;
            self.put_files(&brought)?;
        }
        let _ = from;
        self.settle_index(&back)?;
        self.drop_note()
    }

    fn lies_as(&self, change: &PathChange, entry: Option<Entry>) -> Result<bool, GitError> {
        match entry {
            Some(entry) => self.same_in_folder(&change.path, entry),
            None => Ok(!self.lies_there(&change.path)?),
        }
    }

    /// Says no where a file to be changed does not lie as the old commit has it (or already as the new one).
    fn refuse_edited(&self, changes: &[PathChange]) -> Result<(), GitError> {
        let mut paths = Vec::new();
        for change in changes {
            if change.after.is_some_and(|e| matches!(e.kind, EntryKind::Link | EntryKind::Submodule)) {
                return Err(GitError::NotAFile { path: change.path.clone() });
            }
            if !self.lies_as(change, change.before)? && !self.lies_as(change, change.after)? {
                paths.push(change.path.clone());
            }
        }
        if paths.is_empty() { Ok(()) } else { Err(GitError::EditedMeanwhile { paths }) }
    }

    /// Writes the new files, flushed, into a folder of their own, so that a full disk shows before anything moves.
    fn lay_ready(&self, changes: &[PathChange]) -> Result<(), GitError> {
        let dir = self.ready_dir();
        match fs::remove_dir_all(&dir) {
            Ok(()) => {}
            Err(e) if e.kind() == ErrorKind::NotFound => {}
            Err(e) => return Err(at(&dir)(e)),
        }
        fs::create_dir_all(&dir).map_err(at(&dir))?;
        for (nth, change) in changes.iter().enumerate() {
            if let Some(entry) = change.after {
                safe(&change.path)?;
                let ready = dir.join(nth.to_string());
                self.write_entry(&ready, entry)?;
            }
        }
        Ok(())
    }

    fn write_entry(&self, path: &Path, entry: Entry) -> Result<(), GitError> {
        let blob = blob(&self.git, entry.id)?;
        let mut file = File::create(path).map_err(at(path))?;
        file.write_all(blob.content()).and_then(|()| file.sync_all()).map_err(at(path))?;
        #[cfg(unix)]
        if entry.kind == EntryKind::Executable {
            use std::os::unix::fs::PermissionsExt;
            let mode = file.metadata().map_err(at(path))?.permissions().mode() | 0o111;
            fs::set_permissions(path, fs::Permissions::from_mode(mode)).map_err(at(path))?;
        }
        Ok(())
    }

    fn put_files(&self, changes: &[PathChange]) -> Result<(), GitError> {
        let ready = self.ready_dir();
        // Removals first: a folder may have to make room for a file of its name, or the other way round.
        for change in changes.iter().filter(|c| c.after.is_none()) {
            if !self.lies_as(change, None)? {
                self.refuse_edited(std::slice::from_ref(change))?;
                let full = self.on_disk(&change.path);
                fs::remove_file(&full).map_err(at(&full))?;
            }
            self.drop_empty_folders(&change.path)?;
        }
        for (nth, change) in changes.iter().enumerate() {
            let Some(entry) = change.after else { continue };
            if self.lies_as(change, change.after)? {
                continue;
            }
            self.refuse_edited(std::slice::from_ref(change))?;
            let full = self.on_disk(&change.path);
            let folder = full.parent().unwrap_or(self.root());
            self.make_folders(&change.path)?;
            match fs::rename(ready.join(nth.to_string()), &full) {
                Ok(()) => {}
                Err(e) if e.kind() == ErrorKind::CrossesDevices => {
                    let beside = folder.join(format!("{WRITING}{nth}"));
                    self.write_entry(&beside, entry)?;
                    fs::rename(&beside, &full).map_err(at(&full))?;
                }
                Err(e) => return Err(at(&full)(e)),
            }
            flush_folder(folder)?;
        }
        match fs::remove_dir_all(&ready) {
            Err(e) if e.kind() != ErrorKind::NotFound => Err(at(&ready)(e)),
            _ => Ok(()),
        }
    }

    /// Makes the folders above `path`, refusing to go through a symbolic link.
    fn make_folders(&self, path: &str) -> Result<(), GitError> {
        let mut upto = self.root().to_owned();
        let mut names: Vec<&str> = path.split('/').collect();
        names.pop();
        for name in names {
            upto.push(name);
            match upto.symlink_metadata() {
                Ok(found) if found.is_dir() => {}
                Ok(_) => return Err(GitError::NotAFile { path: path.to_owned() }),
                Err(_) => fs::create_dir(&upto).map_err(at(&upto))?,
            }
        }
        Ok(())
    }

    fn drop_empty_folders(&self, path: &str) -> Result<(), GitError> {
        let full = self.on_disk(path);
        let mut folder = full.parent();
        while let Some(dir) = folder {
            if dir == self.root() || fs::remove_dir(dir).is_err() {
                if dir.is_dir() {
                    flush_folder(dir)?;
                }
                break;
            }
            folder = dir.parent();
        }
        Ok(())
    }

    fn note_path(&self) -> Result<PathBuf, GitError> {
        Ok(self.clone_local_dir()?.join("moving.json"))
    }

    fn ready_dir(&self) -> PathBuf {
        self.git.commondir().join("underlit").join("incoming")
    }

    fn write_note(&self, note: &Moving) -> Result<(), GitError> {
        let path = self.note_path()?;
        let part = path.with_extension("part");
        let text = serde_json::to_string(note).map_err(|e| GitError::Damaged { words: e.to_string() })?;
        let mut file = File::create(&part).map_err(at(&part))?;
        file.write_all(text.as_bytes()).and_then(|()| file.sync_all()).map_err(at(&part))?;
        fs::rename(&part, &path).map_err(at(&path))?;
        flush_folder(&self.clone_local_dir()?)
    }

    fn drop_note(&self) -> Result<(), GitError> {
        let path = self.note_path()?;
        match fs::remove_file(&path) {
            Err(e) if e.kind() != ErrorKind::NotFound => Err(at(&path)(e)),
            _ => flush_folder(&self.clone_local_dir()?),
        }
    }

    /// Removes the lock of the branch that a kill left, known by what it was about to say.
    fn drop_own_branch_lock(&self, note: &Moving) -> Result<(), GitError> {
        for name in [note.branch.as_str(), "HEAD"] {
            let lock = self.git.commondir().join(format!("{name}.lock"));
            if fs::read_to_string(&lock).is_ok_and(|text| note.to.starts_with(text.trim())) {
                fs::remove_file(&lock).map_err(at(&lock))?;
            }
        }
        Ok(())
    }
}

/// Makes a rename in `folder` outlive a power cut.
pub(super) fn flush_folder(folder: &Path) -> Result<(), GitError> {
    if cfg!(unix) {
        File::open(folder).and_then(|dir| dir.sync_all()).map_err(at(folder))?;
    }
    Ok(())
}
