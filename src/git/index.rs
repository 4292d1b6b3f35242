//! Git's index, written under a lock file that carries our name, so that one left by a kill is known from one that a
//! running git holds.

use std::fs::{self, File, OpenOptions};
use std::io::{ErrorKind, Write};
use std::path::Path;

use super::advance::flush_folder;
use super::failure::at;
use super::{Entry, GitError, PathChange, Repo};

/// What stands in an index lock of ours.
const LOCK_MARK: &str = "underlit holds this lock\n";

/// How git marks a file that is not to lie in the folder.
const NOT_HELD: u16 = git2::IndexEntryExtendedFlag::SKIP_WORKTREE.bits();

impl Repo {
    /// Brings the index to what `changes` end in, and leaves everything else that is staged alone.
    pub(super) fn settle_index(&self, changes: &[PathChange]) -> Result<(), GitError> {
        let path = self.git.path().join("index");
        let lock = self.git.path().join("index.lock");
        let made = self.clone_local_dir()?.join("index.new");
        // The lock appears with our name in it, never empty, so that a kill leaves nothing nameless.
        let named = self.clone_local_dir()?.join("index.mark");
        fs::write(&named, LOCK_MARK).map_err(at(&named))?;
        let linked = match fs::hard_link(&named, &lock) {
            Err(e) if e.kind() == ErrorKind::Unsupported || e.kind() == ErrorKind::PermissionDenied => {
                let new = OpenOptions::new().write(true).create_new(true).open(&lock);
                new.and_then(|mut file| file.write_all(LOCK_MARK.as_bytes()))
            }
            linked => linked,
        };
        match linked {
            Ok(()) => {}
            Err(e) if e.kind() == ErrorKind::AlreadyExists => {
                return Err(GitError::GitLocked { words: format!("{} exists", lock.display()) });
            }
            Err(e) => return Err(at(&lock)(e)),
        }
        let written = self.write_index(&path, &made, changes);
        let freed = fs::remove_file(&lock).map_err(at(&lock));
        written.and(freed)
    }

    fn write_index(&self, path: &Path, made: &Path, changes: &[PathChange]) -> Result<(), GitError> {
        for leftover in [made.to_owned(), made.with_extension("new.lock")] {
            match fs::remove_file(&leftover) {
                Err(e) if e.kind() != ErrorKind::NotFound => return Err(at(&leftover)(e)),
                _ => {}
            }
        }
        let mut since = None;
        match fs::copy(path, made) {
            Ok(_) => since = path.metadata().and_then(|m| m.modified()).ok(),
            Err(e) if e.kind() == ErrorKind::NotFound => {}
            Err(e) => return Err(at(made)(e)),
        }
        let mut index = git2::Index::open(made)?;
        if since.is_none()
            && let Some(tree) = self.head_snapshot()?.tree()
        {
            index.read_tree(tree)?; // the index was lost: what is committed is what it held
            self.mark_not_held(&mut index)?;
        }
        if let Some(since) = since {
            doubt_fresh_entries(&mut index, since)?;
        }
        for change in changes.iter().filter(|c| c.after.is_none()) {
            match index.remove(Path::new(&change.path), 0) {
                Err(e) if e.code() != git2::ErrorCode::NotFound => return Err(e.into()),
                _ => {}
            }
        }
        self.drop_unnameable(&mut index)?;
        for change in changes {
            if let Some(entry) = change.after {
                index.add(&self.index_entry(&change.path, entry)?)?;
            }
        }
        index.write()?;
        File::open(made).and_then(|file| file.sync_all()).map_err(at(made))?;
        fs::rename(made, path).map_err(at(path))?;
        flush_folder(self.git.path())
    }

    /// Marks what lies outside the part that this clone holds: git takes it for unchanged, whatever lies there.
    fn mark_not_held(&self, index: &mut git2::Index) -> Result<(), GitError> {
        let Some(part) = self.part() else { return Ok(()) };
        let outside = |entry: &git2::IndexEntry| !part.holds(&String::from_utf8_lossy(&entry.path));
        let entries: Vec<git2::IndexEntry> = index.iter().filter(outside).collect();
        entries.into_iter().try_for_each(|mut entry| {
            entry.flags_extended = NOT_HELD;
            Ok(index.add(&entry)?)
        })
    }

    /// An index entry that git takes for unchanged only where the file in the folder has these very bytes.
    fn index_entry(&self, path: &str, entry: Entry) -> Result<git2::IndexEntry, GitError> {
        let blank = git2::IndexTime::new(0, 0);
        let mut made = git2::IndexEntry {
            ctime: blank,
            mtime: blank,
            dev: 0,
            ino: 0,
            mode: entry.kind.mode().unsigned_abs(),
            uid: 0,
            gid: 0,
            file_size: 0,
            id: entry.id,
            flags: 0,
            flags_extended: 0,
            path: path.as_bytes().to_vec(),
        };
        if self.part().is_some_and(|part| !part.holds(path)) {
            made.flags_extended = NOT_HELD;
            return Ok(made);
        }
        #[cfg(unix)]
        {
            use std::os::unix::fs::MetadataExt;
            let before = self.on_disk(path).symlink_metadata();
            if let Ok(found) = before
                && self.same_in_folder(path, entry)?
            {
                // Git keeps the low 32 bits of each of these and compares them as such.
                let low = |number: u64| (number & u64::from(u32::MAX)) as u32;
                let time = |seconds: i64, nanos: i64| git2::IndexTime::new(seconds as i32, nanos as u32);
                made.ctime = time(found.ctime(), found.ctime_nsec());
                made.mtime = time(found.mtime(), found.mtime_nsec());
                made.dev = low(found.dev());
                made.ino = low(found.ino());
                made.uid = found.uid();
                made.gid = found.gid();
                made.file_size = low(found.len());
            }
        }
        Ok(made)
    }

    /// Takes out of folder and index what HEAD has under names that are not UTF-8, where it lies as HEAD has it.
    fn drop_unnameable(&self, index: &mut git2::Index) -> Result<(), GitError> {
        #[cfg(unix)]
        {
            use std::os::unix::ffi::OsStrExt;
            let odd: Vec<git2::IndexEntry> =
                index.iter().filter(|entry| std::str::from_utf8(&entry.path).is_err()).collect();
            let head = if odd.is_empty() { None } else { self.head()? };
            let Some(head) = head else { return Ok(()) };
            let tree = self.git.find_commit(head.0)?.tree()?;
            for entry in odd {
                let path = Path::new(std::ffi::OsStr::from_bytes(&entry.path));
                if !tree.get_path(path).is_ok_and(|committed| committed.id() == entry.id) {
                    continue;
                }
                let full = self.root().join(path);
                let plain = full.symlink_metadata().is_ok_and(|found| found.is_file());
                let blob = git2::ObjectType::Blob;
                if plain && git2::Oid::hash_file(blob, &full).is_ok_and(|id| id == entry.id) {
                    fs::remove_file(&full).map_err(at(&full))?;
                }
                index.remove(path, 0)?;
            }
        }
        Ok(())
    }

    pub(super) fn drop_own_index_lock(&self) -> Result<(), GitError> {
        let lock = self.git.path().join("index.lock");
        if fs::read_to_string(&lock).is_ok_and(|text| LOCK_MARK.starts_with(&text) && !text.is_empty()) {
            fs::remove_file(&lock).map_err(at(&lock))?;
        }
        Ok(())
    }
}

/// Git trusts an entry's times only where they are older than the index, and many a git compares whole seconds.
/// Writing the index anew makes it younger, so entries of the old index's own second or later lose their size and
/// will be compared by content.
fn doubt_fresh_entries(index: &mut git2::Index, since: std::time::SystemTime) -> Result<(), GitError> {
    let Ok(age) = since.duration_since(std::time::UNIX_EPOCH) else { return Ok(()) };
    let limit = i64::try_from(age.as_secs()).unwrap_or(i64::MAX);
    let fresh: Vec<git2::IndexEntry> =
        index.iter().filter(|e| e.file_size != 0 && i64::from(e.mtime.seconds()) >= limit).collect();
    for mut entry in fresh {
        entry.file_size = 0;
        index.add(&entry)?;
    }
    Ok(())
}
