//! One change of the book, one commit: exactly the named paths, with an author and a time from the caller.

use std::collections::{BTreeMap, BTreeSet};

use super::name::inside;
use super::snapshot::edit_tree;
use super::{BookLock, CommitId, Entry, GitError, Moment, Person, Repo, Snapshot};

/// What a commit says about itself. Author and committer are one.
#[derive(Clone, Debug)]
pub struct NewCommit<'a> {
    /// The first line says what was done, in trade words.
    pub message: &'a str,
    /// Who did it.
    pub author: &'a Person,
    /// When.
    pub at: Moment,
}

impl Repo {
    /// Commits what now lies at `paths` (files, or folders with all that changed beneath them), additions,
    /// edits and removals, and nothing else, even where more is staged. `None` where that changes nothing.
    ///
    /// Interrupted anywhere, the branch is either before or after, and the next [`Repo::lock`] settles the index.
    ///
    /// # Errors
    /// [`GitError::Busy`], [`GitError::DetachedHead`], [`GitError::BadPath`], [`GitError::NotAFile`] for a
    /// symbolic link or the like, [`GitError::NotWritable`], [`GitError::DiskFull`], [`GitError::GitLocked`].
    pub fn commit_paths(
        &self,
        lock: &BookLock,
        paths: &[&str],
        new: &NewCommit<'_>,
    ) -> Result<Option<CommitId>, GitError> {
        self.refuse_half_done()?;
        let head = self.head()?;
        let Some(commit) = self.unmoved_commit(head, paths, new)? else { return Ok(None) };
        self.move_branch_alone(lock, head, commit, new.message)?;
        Ok(Some(commit))
    }

    /// As [`Repo::commit_paths`], but the commit is only stored: no branch names it.
    ///
    /// # Errors
    /// As [`Repo::commit_paths`].
    pub fn unmoved_commit(
        &self,
        head: Option<CommitId>,
        paths: &[&str],
        new: &NewCommit<'_>,
    ) -> Result<Option<CommitId>, GitError> {
        let base = match head {
            Some(head) => self.snapshot(head)?,
            None => self.head_snapshot()?,
        };
        let mut edits: BTreeMap<String, Option<Entry>> = BTreeMap::new();
        for path in self.files_of(paths)? {
            let now = self.take_in(&path)?;
            if now != base.entry(&path)? {
                edits.insert(path, now);
            }
        }
        if edits.is_empty() {
            return Ok(None);
        }
        let tree = edit_tree(&self.git, base.tree(), &edits)?;
        if base.tree().is_some_and(|old| old.id() == tree.id()) {
            return Ok(None);
        }
        let state = Snapshot::new(&self.git, Some(tree));
        self.store_commit(&state, &head.into_iter().collect::<Vec<_>>(), new).map(Some)
    }

    /// Stores a state as a commit that no branch names yet.
    ///
    /// # Errors
    /// [`GitError::NotWritable`], [`GitError::DiskFull`], [`GitError::Damaged`].
    pub fn store_commit(
        &self,
        state: &Snapshot<'_>,
        parents: &[CommitId],
        new: &NewCommit<'_>,
    ) -> Result<CommitId, GitError> {
        let who = new.author.signature(new.at)?;
        let tree = match state.tree() {
            Some(tree) => tree.clone(),
            None => edit_tree(&self.git, None, &BTreeMap::new())?,
        };
        let parents = parents.iter().map(|id| self.git.find_commit(id.0)).collect::<Result<Vec<_>, _>>()?;
        let parents: Vec<&git2::Commit<'_>> = parents.iter().collect();
        Ok(CommitId(self.git.commit(None, &who, &who, new.message, &tree, &parents)?))
    }

    /// The files that `paths` stand for: a folder stands for what changed beneath it.
    fn files_of(&self, paths: &[&str]) -> Result<BTreeSet<String>, GitError> {
        let mut files = BTreeSet::new();
        for path in paths {
            let path = inside(path)?;
            let is_folder =
                path.is_empty() || self.on_disk(path).symlink_metadata().is_ok_and(|m| m.is_dir());
            let was_file = !path.is_empty() && self.head_snapshot()?.entry(path)?.is_some();
            if was_file || !is_folder {
                files.insert(path.to_owned());
            }
            if is_folder || !was_file {
                for edit in self.changed_paths(path)? {
                    if edit.path.ends_with('/') {
                        return Err(GitError::NotAFile { path: edit.path });
                    }
                    files.insert(edit.path);
                }
            }
        }
        Ok(files)
    }
}
