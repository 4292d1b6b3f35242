//! Every commit held against each of its parents, so that nothing which some parent had can go unseen.
//!
//! [`super::Log`] tells the story of a book and leaves out what a merge took from one side. Here nothing is left
//! out: a merge comes once for each parent, whatever it differs in. What a difference means, the caller says.

use super::{CommitId, GitError, Hub, Moment, PathChange, Person, Snapshot};

/// One commit against one of its parents.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Passage {
    /// The commit.
    pub id: CommitId,
    /// The parent; none for a first commit, and for one whose parents a shallow clone lacks.
    pub parent: Option<CommitId>,
    /// When it was made, by its author's clock.
    pub at: Moment,
    /// Who made it, as it says itself.
    pub author: Person,
    /// What it changed against that parent at or beneath the prefix, by path.
    pub changes: Vec<PathChange>,
    /// True where the commit has parents that a shallow clone lacks.
    pub cut_off: bool,
}

/// The passages of a part of the history, newest first: a commit comes before its parents.
pub struct Lineage<'repo> {
    git: &'repo git2::Repository,
    walk: git2::Revwalk<'repo>,
    prefix: String,
    waiting: Vec<Passage>,
}

impl std::fmt::Debug for Lineage<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Lineage").field("prefix", &self.prefix).finish_non_exhaustive()
    }
}

impl<'repo> Lineage<'repo> {
    fn new(
        git: &'repo git2::Repository,
        tips: &[CommitId],
        without: &[CommitId],
        prefix: &str,
    ) -> Result<Self, GitError> {
        let prefix = super::name::inside(prefix)?.to_owned();
        let mut walk = git.revwalk()?;
        walk.set_sorting(git2::Sort::TOPOLOGICAL)?;
        let missing = |id: &CommitId| GitError::NoSuchCommit { text: id.to_string() };
        for tip in tips {
            walk.push(tip.0).map_err(|_| missing(tip))?;
        }
        for hidden in without {
            walk.hide(hidden.0).map_err(|_| missing(hidden))?;
        }
        Ok(Lineage { git, walk, prefix, waiting: Vec::new() })
    }

    fn of(&self, id: git2::Oid) -> Result<Vec<Passage>, GitError> {
        let commit = self.git.find_commit(id)?;
        let after = Snapshot::new(self.git, Some(commit.tree()?));
        let author = commit.author();
        let passage = |parent: Option<git2::Oid>, changes, cut_off| Passage {
            id: CommitId(id),
            parent: parent.map(CommitId),
            at: Moment::of(author.when()),
            author: Person::of(&author),
            changes,
            cut_off,
        };
        let mut all = Vec::new();
        let mut cut_off = false;
        for parent in commit.parent_ids() {
            match self.git.find_commit(parent) {
                Ok(before) => {
                    let before = Snapshot::new(self.git, Some(before.tree()?));
                    all.push(passage(Some(parent), before.changes(&after, &self.prefix)?, false));
                }
                Err(_) if self.git.is_shallow() => cut_off = true,
                Err(error) => return Err(error.into()),
            }
        }
        if all.is_empty() {
            // A shallow clone's oldest commits show no parents, whether or not they have some.
            cut_off |= self.git.is_shallow();
            let nothing = Snapshot::new(self.git, None);
            all.push(passage(None, nothing.changes(&after, &self.prefix)?, cut_off));
        } else if cut_off {
            all.iter_mut().for_each(|p| p.cut_off = true);
        }
        all.reverse();
        Ok(all)
    }
}

impl Iterator for Lineage<'_> {
    type Item = Result<Passage, GitError>;

    fn next(&mut self) -> Option<Self::Item> {
        if let Some(passage) = self.waiting.pop() {
            return Some(Ok(passage));
        }
        match self.walk.next()?.map_err(GitError::from).and_then(|id| self.of(id)) {
            Ok(all) => self.waiting = all,
            Err(error) => return Some(Err(error)),
        }
        self.waiting.pop().map(Ok)
    }
}

impl Hub {
    /// Every commit that is reachable from `tips` and not from `without`, against each of its parents.
    ///
    /// # Errors
    /// [`GitError::BadPath`], [`GitError::NoSuchCommit`], [`GitError::Damaged`].
    pub fn lineage(
        &self,
        tips: &[CommitId],
        without: &[CommitId],
        prefix: &str,
    ) -> Result<Lineage<'_>, GitError> {
        Lineage::new(&self.git, tips, without, prefix)
    }
}
