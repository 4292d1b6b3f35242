//! What a person changed in the book's folder since the last commit, by command or in an editor.

use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use super::UserGit;
use super::failure::reading;
use super::look::FolderScan;
use super::name::{beneath, inside, safe};
use super::{BookLock, ChangeKind, Entry, EntryKind, GitError, Repo};
use crate::model::kind::is_being_written;

/// An index of more bytes is that of a book with thousands of files.
const LARGE_INDEX: u64 = 200_000;

/// A file whose bytes in the folder differ from HEAD.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct HandEdit {
    /// The path inside the book; a folder with a repository of its own ends in `/`.
    pub path: String,
    /// What happened to it since HEAD.
    pub kind: ChangeKind,
}

impl Repo {
    /// True where no file at or beneath `prefix` differs from HEAD and none is new there. Ignored files do not
    /// count.
    ///
    /// # Errors
    /// As [`Repo::changed_paths`].
    pub fn is_clean(&self, prefix: &str) -> Result<bool, GitError> {
        Ok(self.changed_paths(prefix)?.is_empty())
    }

    /// Every file at or beneath `prefix` that differs from HEAD, new files included and ignored ones not, by
    /// path in byte order. The empty prefix is the whole book. Files that are just being written, or that a kill
    /// left half written, do not count either.
    ///
    /// # Errors
    /// [`GitError::BadPath`] for a name that is not UTF-8, [`GitError::Unmerged`], [`GitError::Damaged`].
    pub fn changed_paths(&self, prefix: &str) -> Result<Vec<HandEdit>, GitError> {
        let folder_scan = inside(prefix)?.is_empty().then(|| self.begin_scan(None));
        Ok(self.scan(prefix, folder_scan)?.0)
    }

    /// Begins to look for edits on threads of its own. With the lock, what is seen is kept for the next look.
    #[must_use]
    pub fn begin_scan(&self, lock: Option<&BookLock>) -> FolderScan {
        let clone_local = self.git.commondir().join("underlit");
        FolderScan::begin(self.root().to_owned(), clone_local, lock.is_some())
    }

    /// What a look at the whole book found.
    ///
    /// # Errors
    /// As [`Repo::changed_paths`].
    pub fn changed_since(&self, folder_scan: FolderScan) -> Result<Vec<HandEdit>, GitError> {
        Ok(self.scan("", Some(folder_scan))?.0)
    }

    /// As [`Repo::changed_paths`] of the whole book, and takes out what a killed run left half written. What another
    /// program is still writing stays.
    ///
    /// # Errors
    /// As [`Repo::changed_paths`]; a leftover that cannot be taken out is none.
    pub fn changed_paths_swept(&self, lock: &BookLock) -> Result<Vec<HandEdit>, GitError> {
        self.changed_since_swept(lock, self.begin_scan(Some(lock)))
    }

    /// As [`Repo::changed_paths_swept`], with a look that is under way.
    ///
    /// # Errors
    /// As [`Repo::changed_paths`].
    pub fn changed_since_swept(
        &self,
        _lock: &BookLock,
        folder_scan: FolderScan,
    ) -> Result<Vec<HandEdit>, GitError> {
        let (edits, leftovers) = self.scan("", Some(folder_scan))?;
        let own = self.clone_local_dir()?;
        let names = fs::read_dir(&own).into_iter().flatten().flatten().map(|entry| entry.path());
        let own = names.filter(|path| path.to_str().is_some_and(is_being_written));
        for path in leftovers.iter().map(|path| self.on_disk(path)).chain(own) {
            drop_leftover(&path);
        }
        Ok(edits)
    }

    fn scan(
        &self,
        prefix: &str,
        folder_scan: Option<FolderScan>,
    ) -> Result<(Vec<HandEdit>, Vec<String>), GitError> {
        let prefix = inside(prefix)?;
        let head = self.head_snapshot()?;
        let (mut edits, mut leftovers) = (Vec::new(), Vec::new());
        let candidates = match folder_scan {
            Some(folder_scan) => self.candidates_seen(&head, folder_scan)?,
            None => self.candidates_beneath(prefix)?,
        };
        let here = |path: &str| beneath(path.trim_end_matches('/'), prefix);
        let unmerged = candidates.iter().filter(|(path, unmerged)| *unmerged && here(path));
        let mut unmerged: Vec<String> = unmerged.map(|(path, _)| path.clone()).collect();
        if !unmerged.is_empty() {
            unmerged.sort();
            return Err(GitError::Unmerged { paths: unmerged });
        }
        for (path, _) in candidates.iter().filter(|(path, _)| here(path)) {
            if is_being_written(path) {
                leftovers.push(path.to_owned());
                continue;
            }
            if path.ends_with('/') {
                edits.push(HandEdit { path: path.to_owned(), kind: ChangeKind::Added });
                continue;
            }
            let before = head.entry(path)?;
            let kind = match (before, self.lies_there(path)?) {
                (None, true) => ChangeKind::Added,
                (Some(_), false) => ChangeKind::Removed,
                (Some(entry), true) if self.same_in_folder(path, entry)? => continue,
                (Some(_), true) => ChangeKind::Edited,
                (None, false) => continue,
            };
            edits.push(HandEdit { path: path.to_owned(), kind });
        }
        edits.sort();
        Ok((edits, leftovers))
    }

    /// The paths at or beneath `prefix` that may differ from HEAD, each with whether a merge left it open. In a large
    /// book the user's git is asked, which looks on several threads and knows more than git2 does of what cannot have
    /// changed; where it does not answer, git2 does.
    pub(super) fn candidates_beneath(&self, prefix: &str) -> Result<Vec<(String, bool)>, GitError> {
        let large = self.git.path().join("index").metadata().is_ok_and(|index| index.len() > LARGE_INDEX);
        let by_git = if large { self.candidates_by_git(prefix) } else { None };
        let mut found = match by_git {
            Some(found) => found,
            None => self.candidates_at(Some(prefix).filter(|prefix| !prefix.is_empty()))?,
        };
        // What is not held does not lie here, and was not taken out.
        let part = self.part();
        found.retain(|(path, open)| *open || part.as_ref().is_none_or(|part| part.holds(path)));
        Ok(found)
    }

    /// As [`Repo::candidates_beneath`], at or beneath any of `places`; everywhere where there is none.
    pub(super) fn candidates_at<'p>(
        &self,
        places: impl IntoIterator<Item = &'p str>,
    ) -> Result<Vec<(String, bool)>, GitError> {
        let mut options = git2::StatusOptions::new();
        options
            .show(git2::StatusShow::IndexAndWorkdir)
            .include_untracked(true)
            .recurse_untracked_dirs(true)
            .include_ignored(false)
            .include_unreadable(true)
            .exclude_submodules(false)
            .renames_head_to_index(false)
            .renames_index_to_workdir(false)
            .disable_pathspec_match(true);
        for place in places {
            options.pathspec(place);
        }
        let statuses = self.git.statuses(Some(&mut options))?;
        let mut found = Vec::new();
        for status in statuses.iter() {
            let bytes = status.path_bytes();
            let path = std::str::from_utf8(bytes).map_err(|_| GitError::BadPath {
                path: String::from_utf8_lossy(bytes).into_owned(),
                reason: "is not UTF-8",
            })?;
            found.push((path.to_owned(), status.status().contains(git2::Status::CONFLICTED)));
        }
        Ok(found)
    }

    /// As `git status` lists them; `None` where it fails or a name is not UTF-8, and git2 has the better words.
    fn candidates_by_git(&self, prefix: &str) -> Option<Vec<(String, bool)>> {
        let mut git = UserGit::new(false);
        // No lock of git's own: one that a kill left would stand in everybody's way.
        git.environment = [("GIT_OPTIONAL_LOCKS", "0"), ("GIT_LITERAL_PATHSPECS", "1")]
            .map(|(key, value)| (key.to_owned(), value.to_owned()))
            .to_vec();
        let mut args = vec![
            "status",
            "--porcelain=v1",
            "-z",
            "--no-renames",
            "--untracked-files=all",
            "--ignore-submodules=none",
        ];
        if !prefix.is_empty() {
            args.extend(["--", prefix]);
        }
        let ended = git.run(self.root(), &args).ok().filter(|ended| ended.ok)?;
        let lines = ended.stdout.split_terminator('\0').map(|line| {
            let (state, path) = (line.get(..2)?, line.get(3..)?);
            let open = ["DD", "AU", "UD", "UA", "DU", "AA", "UU"].contains(&state);
            (!path.contains(char::REPLACEMENT_CHARACTER)).then(|| (path.to_owned(), open))
        });
        lines.collect()
    }

    /// Where `path` of the book lies on disk.
    pub(crate) fn on_disk(&self, path: &str) -> PathBuf {
        self.root().join(path)
    }

    /// True where something that is not a folder lies at `path`.
    pub(crate) fn lies_there(&self, path: &str) -> Result<bool, GitError> {
        let full = self.on_disk(path);
        match full.symlink_metadata() {
            Ok(found) => Ok(!found.is_dir()),
            Err(e) if matches!(e.kind(), ErrorKind::NotFound | ErrorKind::NotADirectory) => Ok(false),
            Err(e) => Err(reading(&full)(e)),
        }
    }

    /// True where the file in the folder is the same in bytes and kind as `entry`; the right to run it is no matter.
    pub(crate) fn same_in_folder(&self, path: &str, entry: Entry) -> Result<bool, GitError> {
        let full = self.on_disk(path);
        let found = match full.symlink_metadata() {
            Ok(found) => found,
            Err(e) if matches!(e.kind(), ErrorKind::NotFound | ErrorKind::NotADirectory) => return Ok(false),
            Err(e) => return Err(reading(&full)(e)),
        };
        match entry.kind {
            EntryKind::File | EntryKind::Executable if found.is_file() => {
                let size = super::partial::size(&self.git, entry.id)?;
                if u64::try_from(size).is_ok_and(|size| size != found.len()) {
                    return Ok(false);
                }
                let bytes = fs::read(&full).map_err(reading(&full))?;
                Ok(git2::Oid::hash_object(git2::ObjectType::Blob, &bytes)? == entry.id)
            }
            EntryKind::Link if found.is_symlink() => {
                let target = fs::read_link(&full).map_err(reading(&full))?;
                let bytes = target.as_os_str().as_encoded_bytes();
                Ok(git2::Oid::hash_object(git2::ObjectType::Blob, bytes)? == entry.id)
            }
            EntryKind::Submodule => Ok(found.is_dir()),
            _ => Ok(false),
        }
    }

    /// Reads a plain file of the folder into the object store, byte for byte, whatever the user's settings for
    /// line ends. `None` where no file lies there.
    pub(crate) fn take_in(&self, path: &str) -> Result<Option<Entry>, GitError> {
        let path = safe(path)?;
        let mut upto = self.root().to_owned();
        let names: Vec<&str> = path.split('/').collect();
        for (nth, name) in names.iter().enumerate() {
            upto.push(name);
            let last = nth + 1 == names.len();
            match upto.symlink_metadata() {
                Ok(found) if last && found.is_file() => {
                    let bytes = fs::read(&upto).map_err(reading(&upto))?;
                    return Ok(Some(Entry { kind: EntryKind::File, id: self.git.blob(&bytes)? }));
                }
                Ok(found) if !last && found.is_dir() => {}
                Ok(found) if (last && found.is_dir()) || (!last && found.is_file()) => return Ok(None), // a folder where a file was, or the reverse
                Ok(_) => return Err(GitError::NotAFile { path: path.into() }),
                Err(e) if e.kind() == ErrorKind::NotFound => return Ok(None),
                Err(e) => return Err(reading(&upto)(e)),
            }
        }
        Err(GitError::NotAFile { path: path.into() })
    }
}

/// Takes out a file that was being written, unless somebody is still at it: whoever writes one holds its lock.
pub(crate) fn drop_leftover(path: &Path) -> bool {
    let plain = path.symlink_metadata().is_ok_and(|found| found.is_file());
    let idle = || fs::File::open(path).is_ok_and(|file| file.try_lock().is_ok());
    plain && idle() && fs::remove_file(path).is_ok()
}
