//! The story of a book: its commits, newest first, with what each changed.

use super::name::inside;
use super::partial::blob;
use super::past::is_cut_off;
use super::{CommitId, GitError, Moment, PathChange, Person, Repo, Snapshot};

/// One commit, with what it changed at or beneath the prefix that was asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LogEntry {
    /// The commit.
    pub id: CommitId,
    /// The commits before it: none for a first one, two for a merge.
    pub parents: Vec<CommitId>,
    /// When it was made, by its author's clock.
    pub at: Moment,
    /// Who made it.
    pub author: Person,
    /// What it says; bytes that are not UTF-8 are replaced.
    pub message: String,
    /// What it changed against its first parent. A merge is listed only where it differs from every parent.
    pub changes: Vec<PathChange>,
    /// True where the history here begins with it: its changes are then everything that lies there, whoever made it.
    pub cut_off: bool,
}

/// The commits that touch a prefix, newest first. A commit comes before its parents.
pub struct Log<'repo> {
    repo: &'repo Repo,
    walk: Option<git2::Revwalk<'repo>>,
    prefix: String,
}

impl std::fmt::Debug for Log<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Log").field("prefix", &self.prefix).finish_non_exhaustive()
    }
}

impl Iterator for Log<'_> {
    type Item = Result<LogEntry, GitError>;

    fn next(&mut self) -> Option<Self::Item> {
        loop {
            let id = match self.walk.as_mut()?.next()? {
                Ok(id) => id,
                Err(e) => return Some(Err(e.into())),
            };
            match self.repo.log_entry(id, &self.prefix) {
                Ok(Some(entry)) => return Some(Ok(entry)),
                Ok(None) => {}
                Err(e) => return Some(Err(e)),
            }
        }
    }
}

impl Repo {
    /// The commits that `tip` has and `before` has not, newest first.
    ///
    /// # Errors
    /// [`GitError::Damaged`].
    pub(crate) fn log_between(&self, before: CommitId, tip: CommitId) -> Result<Vec<LogEntry>, GitError> {
        self.log_of(&[tip], &[before], "")?.collect()
    }

    /// The commits from HEAD backward that change something at or beneath `prefix`; the empty prefix is the
    /// whole book.
    ///
    /// # Errors
    /// [`GitError::BadPath`], [`GitError::Damaged`].
    pub fn log(&self, prefix: &str) -> Result<Log<'_>, GitError> {
        let tips: Vec<CommitId> = self.head()?.into_iter().collect();
        self.log_of(&tips, &[], prefix)
    }

    /// The commits reachable from `tips` and not from `without` that change something at or beneath `prefix`.
    ///
    /// # Errors
    /// [`GitError::BadPath`], [`GitError::NoSuchCommit`], [`GitError::Damaged`].
    pub fn log_of(&self, tips: &[CommitId], without: &[CommitId], prefix: &str) -> Result<Log<'_>, GitError> {
        let prefix = inside(prefix)?.to_owned();
        let mut walk = self.git.revwalk()?;
        walk.set_sorting(git2::Sort::TOPOLOGICAL | git2::Sort::TIME)?;
        for tip in tips {
            walk.push(tip.0).map_err(|_| GitError::NoSuchCommit { text: tip.to_string() })?;
        }
        for hidden in without {
            walk.hide(hidden.0).map_err(|_| GitError::NoSuchCommit { text: hidden.to_string() })?;
        }
        Ok(Log { repo: self, walk: (!tips.is_empty()).then_some(walk), prefix })
    }

    fn log_entry(&self, id: git2::Oid, prefix: &str) -> Result<Option<LogEntry>, GitError> {
        let commit = self.git.find_commit(id)?;
        let after = Snapshot::new(&self.git, Some(commit.tree()?)).through(self.part());
        let mut changes = None;
        let cut_off = is_cut_off(&self.git, &commit);
        if commit.parent_count() == 0 || cut_off {
            changes = Some(Snapshot::new(&self.git, None).changes(&after, prefix)?);
        } else {
            for parent in parents(&commit) {
                let before = Snapshot::new(&self.git, Some(parent?.tree()?));
                let against = before.changes(&after, prefix)?;
                if against.is_empty() {
                    return Ok(None);
                }
                changes = changes.or(Some(against));
            }
        }
        let changes = changes.unwrap_or_default();
        if changes.is_empty() {
            return Ok(None);
        }
        Ok(Some(LogEntry {
            id: CommitId(id),
            parents: commit.parent_ids().map(CommitId).collect(),
            at: Moment::of(commit.author().when()),
            author: Person::of(&commit.author()),
            message: String::from_utf8_lossy(commit.message_bytes()).into_owned(),
            changes,
            cut_off,
        }))
    }

    /// When the newest commit was made, by its maker's clock; none before the first.
    ///
    /// # Errors
    /// [`GitError::Damaged`].
    pub(crate) fn newest_at(&self) -> Result<Option<Moment>, GitError> {
        let Some(head) = self.head()? else { return Ok(None) };
        Ok(Some(Moment::of(self.git.find_commit(head.0)?.author().when())))
    }
}

/// The parents of a commit, with what says why one cannot be read: the library's own list ends there without a word.
pub(super) fn parents<'r>(
    commit: &git2::Commit<'r>,
) -> impl Iterator<Item = Result<git2::Commit<'r>, git2::Error>> {
    (0..commit.parent_count()).map(|at| commit.parent(at))
}

/// The commit that last made a file so, as somebody asked for it.
#[derive(Clone, Debug)]
pub struct Turned {
    /// The commit.
    pub commit: LogEntry,
    /// The file's bytes before it; `None` where it was not there.
    pub before: Option<Vec<u8>>,
    /// The file's bytes in it.
    pub after: Option<Vec<u8>>,
}

impl Repo {
    /// The newest commit behind HEAD in which a file is so and before which it was not; `claimed` is looked at first, and
    /// believed only where the history has it and it is true of it. None where the file was so when the history here
    /// begins: nobody can tell who made it so.
    ///
    /// # Errors
    /// As [`Repo::log`].
    pub(crate) fn who_turned(
        &self,
        path: &str,
        claimed: Option<CommitId>,
        is: &dyn Fn(Option<&[u8]>) -> bool,
    ) -> Result<Option<Turned>, GitError> {
        Ok(self.turned(path, claimed, is)?.filter(|turned| !turned.commit.cut_off))
    }

    /// The bytes of a file when it was last so; none where the history here shows no such time.
    ///
    /// # Errors
    /// As [`Repo::log`].
    pub(crate) fn when_it_was(
        &self,
        path: &str,
        is: &dyn Fn(Option<&[u8]>) -> bool,
    ) -> Result<Option<Vec<u8>>, GitError> {
        Ok(self.turned(path, None, is)?.and_then(|turned| turned.after))
    }

    fn turned(
        &self,
        path: &str,
        claimed: Option<CommitId>,
        is: &dyn Fn(Option<&[u8]>) -> bool,
    ) -> Result<Option<Turned>, GitError> {
        let Some(head) = self.head()? else { return Ok(None) };
        let turned = |commit: LogEntry| -> Result<Option<Turned>, GitError> {
            let Some(change) = commit.changes.iter().find(|change| change.path == path) else {
                return Ok(None);
            };
            let bytes = |entry: Option<super::Entry>| -> Result<Option<Vec<u8>>, GitError> {
                entry.map(|e| Ok(blob(&self.git, e.id)?.content().to_vec())).transpose()
            };
            let (before, after) = (bytes(change.before)?, bytes(change.after)?);
            let so = is(after.as_deref()) && !is(before.as_deref());
            Ok(so.then_some(Turned { commit, before, after }))
        };
        if let Some(claimed) = claimed
            && (claimed == head || self.git.graph_descendant_of(head.0, claimed.0).unwrap_or(false))
            && let Some(commit) = self.log_entry(claimed.0, path)?
            && let Some(found) = turned(commit)?
        {
            return Ok(Some(found));
        }
        for commit in self.log(path)? {
            if let Some(found) = turned(commit?)? {
                return Ok(Some(found));
            }
        }
        Ok(None)
    }
}
