//! What a clone can lose of its own: the branch that is checked out, and git's index. Neither holds anything that the
//! commits and the folder do not have, so both can be made again.

use super::{CommitId, GitError, Repo, UserGit};

/// A branch that is checked out and has no commit, in a clone in which commits were made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LostBranch {
    /// The branch.
    pub branch: String,
    /// The commit that was checked out last, where the clone's log knows it.
    pub last: Option<CommitId>,
    /// Another branch, which stands there.
    pub elsewhere: Option<String>,
}

impl Repo {
    /// The branch that is checked out, where it is lost. A clone without any commit has lost nothing.
    ///
    /// # Errors
    /// [`GitError::DetachedHead`], [`GitError::Damaged`].
    pub(crate) fn lost_branch(&self) -> Result<Option<LostBranch>, GitError> {
        if self.head()?.is_some() {
            return Ok(None);
        }
        let branch = self.branch()?;
        let log = self.git.reflog("HEAD")?;
        let known = log.iter().map(|entry| entry.id_new()).find(|id| self.git.find_commit(*id).is_ok());
        let mut others = Vec::new();
        for found in self.git.branches(Some(git2::BranchType::Local))? {
            let (other, _) = found?;
            if let (Some(name), Some(at)) = (other.name()?, other.get().target()) {
                others.push((name.to_owned(), at));
            }
        }
        if known.is_none() && others.is_empty() {
            return Ok(None);
        }
        let there = others.iter().find(|(_, at)| known.is_none_or(|known| known == *at));
        let elsewhere = there.map(|(name, _)| name.clone());
        let last = known.or_else(|| there.map(|(_, at)| *at)).map(CommitId);
        Ok(Some(LostBranch { branch, last, elsewhere }))
    }

    /// Refuses to go on where the branch is lost: a commit would begin another book.
    pub(crate) fn refuse_lost(&self) -> Result<(), GitError> {
        match self.lost_branch()? {
            Some(lost) => Err(GitError::BranchLost(lost)),
            None => Ok(()),
        }
    }

    /// Checks the branch out again: another one that stands where this clone was, or this one at its last commit. No
    /// file is touched.
    ///
    /// # Errors
    /// What git says.
    pub(crate) fn find_branch_again(&self, lost: &LostBranch) -> Result<(), GitError> {
        match (&lost.elsewhere, lost.last) {
            (Some(other), _) => self.git.set_head(&format!("refs/heads/{other}"))?,
            (None, Some(last)) => {
                let name = format!("refs/heads/{}", lost.branch);
                self.git.reference(&name, last.0, false, "underlit: found again")?;
            }
            (None, None) => {}
        }
        Ok(())
    }

    /// Makes git's index again from what is committed, in one piece. No file is touched.
    ///
    /// # Errors
    /// What git says, and the disk.
    pub(crate) fn make_index_again(&self, git: &UserGit) -> Result<(), GitError> {
        let index = self.git.path().join("index");
        match std::fs::remove_file(&index) {
            Err(e) if e.kind() != std::io::ErrorKind::NotFound => return Err(super::failure::at(&index)(e)),
            _ => {}
        }
        self.local_config()?.set_bool("core.splitIndex", false)?;
        self.run_git(git, &["read-tree", "HEAD"])
    }
}
