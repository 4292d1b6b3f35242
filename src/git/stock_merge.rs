//! The merge that stock git asks for: as its merge strategy for two whole commits, in the index and folder of a merge
//! that git has begun and will commit itself.
//!
//! The tree is the very one that a sync makes. The files are brought by the user's own git, which overwrites nothing
//! that is not committed.

use crate::merge::{Conflict, Layout};

use super::user_git::telling;
use super::{BookLock, CommitId, GitError, Repo, Steps, SyncError, UserGit};

impl Repo {
    /// Sets up this clone so that stock git merges records as a sync does: as its merge strategy, `git
    /// merge-underlit`, and file by file with `driver` where git picks commits one by one. Git's own guessing of
    /// renames is switched off, since ids do not change.
    ///
    /// # Errors
    /// [`GitError::NotWritable`] and other failures to write the clone's settings.
    pub fn set_merge_strategy(&self, driver: &str) -> Result<(), GitError> {
        self.set_merge_driver(driver)?;
        let mut config = self.local_config()?;
        config.set_str("pull.twohead", "underlit")?;
        // Git's own way to bring several branches together at once knows no driver, and would mix records by lines.
        config.set_str("pull.octopus", "underlit")?;
        // Git asks for a choice otherwise, and a rebase would tear signed moves from what they were signed on.
        config.set_bool("pull.rebase", false)?;
        Ok(())
    }

    /// Merges `theirs` into what is checked out, into index and folder; git makes the commit. `bases` are the ones
    /// that git names: where they are not what both sides started from, git is picking one commit, and its parent is
    /// the base. Gives back the questions that were opened.
    ///
    /// # Errors
    /// [`SyncError`]; index and folder are then as they were.
    pub fn merge_for_stock_git<S: Steps>(
        &self,
        _lock: &BookLock,
        git: &UserGit,
        layout: &Layout,
        bases: &[CommitId],
        theirs: CommitId,
        steps: &mut S,
    ) -> Result<Vec<(String, Conflict)>, SyncError<S::Refusal>> {
        let Some(ours) = self.head()? else {
            return Err(GitError::NoSuchCommit { text: "HEAD".into() }.into());
        };
        let mut shared = self.bases(ours, theirs)?;
        let mut named = bases.to_vec();
        shared.sort();
        named.sort();
        let base = bases.first().copied().filter(|_| named != shared);
        let refused = |reason| SyncError::Incoming { reason, commits: Vec::new() };
        if !shared.is_empty() {
            steps.admit(Some(ours), theirs).map_err(refused)?;
        }
        let commits = self.log_of(&[theirs], &[ours], "")?.collect::<Result<Vec<_>, _>>()?;
        let before = self.snapshot(ours)?;
        let checked = self.merge_checked(layout, &before, base, (ours, theirs), &commits, steps)?;
        if let Some(tree) = checked.merge.after.tree() {
            let (ours, tree) = (ours.to_string(), tree.id().to_string());
            let ended = git.run(self.root(), &["read-tree", "-m", "-u", &ours, &tree])?;
            if !ended.ok {
                let words = telling(&ended.stderr);
                return Err(GitError::GitFailed { verb: "read-tree".into(), words }.into());
            }
        }
        Ok(checked.merge.opened)
    }
}
