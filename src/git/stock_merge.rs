//! A clone whose own git merges as a sync does: its settings, and a merged state in the index and folder of a merge that
//! git has begun and will commit itself. The files are brought by the user's own git, which overwrites nothing that is
//! not committed.

use super::user_git::telling;
use super::{CommitId, GitError, Repo, Snapshot, UserGit};

impl Repo {
    /// Sets up this clone so that stock git merges records as a sync does: as its merge strategy, `git
    /// merge-underlit`, and file by file with `driver` where git picks commits one by one. Git's own guessing of
    /// renames is switched off, since ids do not change.
    ///
    /// # Errors
    /// [`GitError::NotWritable`] and other failures to write the clone's settings.
    pub(crate) fn set_merge_strategy(&self, driver: &str) -> Result<(), GitError> {
        self.set_merge_driver(driver)?;
        let mut config = self.local_config()?;
        config.set_str("pull.twohead", "underlit")?;
        // Git's own way to bring several branches together at once knows no driver, and would mix records by lines.
        config.set_str("pull.octopus", "underlit")?;
        // Git asks for a choice otherwise, and a rebase would tear signed moves from what they were signed on.
        config.set_bool("pull.rebase", false)?;
        Ok(())
    }

    /// Brings a merged state into index and folder, over the commit that is checked out; git makes the commit.
    ///
    /// # Errors
    /// [`GitError::GitFailed`]; index and folder are then as they were.
    pub(crate) fn bring_to_folder(
        &self,
        git: &UserGit,
        ours: CommitId,
        merged: &Snapshot<'_>,
    ) -> Result<(), GitError> {
        let Some(tree) = merged.digest() else { return Ok(()) };
        let ended = git.run(self.root(), &["read-tree", "-m", "-u", &ours.to_string(), &tree])?;
        if ended.ok {
            return Ok(());
        }
        Err(GitError::GitFailed { verb: "read-tree".into(), words: telling(&ended.stderr) })
    }
}
