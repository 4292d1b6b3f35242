//! The shared repository as its own pre-receive hook sees it: what a push would do, before it is done.
//!
//! Objects of a push lie in quarantine until the hook agrees, so the repository is opened as git tells the hook, and
//! everything here reads them from there. What is not here: whether a push is right; the caller judges that from
//! what an [`Inspector`](super::Inspector) reads. How a hook is set up is in `hub_setup`.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::altered::refuse_altered;
use super::{CommitId, GitError, Part, Snapshot};

/// A shared repository.
pub struct Hub {
    pub(crate) git: git2::Repository,
    /// The part of the book that is held here, where it is a clone that holds one.
    pub(super) part: Option<Arc<Part>>,
}

impl std::fmt::Debug for Hub {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Hub").field("path", &self.git.path()).finish_non_exhaustive()
    }
}

/// What a push does to a name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Movement {
    /// The name is new.
    Begun,
    /// The new commit has the old one behind it.
    Advanced,
    /// The new commit leaves out something that was there.
    Rewritten,
    /// The name is taken away.
    Removed,
}

/// One line of a push: a name, and the commits that it moves between.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Received {
    /// The full name, such as `refs/heads/main`.
    pub name: String,
    /// Where it stood.
    pub old: Option<CommitId>,
    /// Where it would stand.
    pub new: Option<CommitId>,
    /// What that means.
    pub movement: Movement,
}

impl Hub {
    /// The repository whose hook this process is, with the objects of the push that is under way.
    ///
    /// # Errors
    /// [`GitError::NoRepository`] where git did not start this process.
    pub fn of_hook() -> Result<Hub, GitError> {
        let here = Path::new(".");
        let git = git2::Repository::open_from_env().map_err(|e| super::repo::opening(here, e))?;
        Hub::over(git)
    }

    /// The repository at `path`, bare or not.
    ///
    /// # Errors
    /// [`GitError::NoRepository`], [`GitError::OtherOwner`].
    pub fn open(path: &Path) -> Result<Hub, GitError> {
        let git = git2::Repository::open(path).map_err(|e| super::repo::opening(path, e))?;
        Hub::over(git)
    }

    /// The repository that holds `path`, bare or not, looking upward.
    ///
    /// # Errors
    /// As [`Hub::open`].
    pub(crate) fn discover(path: &Path) -> Result<Hub, GitError> {
        let git = git2::Repository::discover(path).map_err(|e| super::repo::opening(path, e))?;
        Hub::over(git)
    }

    fn over(git: git2::Repository) -> Result<Hub, GitError> {
        refuse_altered(&git)?;
        let part = Part::of(&git);
        Ok(Hub { git, part })
    }

    /// The folder whose files are the book's; none for a bare repository.
    #[must_use]
    pub(crate) fn work_folder(&self) -> Option<PathBuf> {
        self.git.workdir().and_then(|dir| dir.canonicalize().ok())
    }

    /// Where data of this clone alone may lie. Nothing is made.
    #[must_use]
    pub(crate) fn clone_local(&self) -> PathBuf {
        self.git.commondir().join("underlit")
    }

    /// The tree of a commit; the empty one for none.
    ///
    /// # Errors
    /// [`GitError::NoSuchCommit`].
    pub(crate) fn snapshot(&self, commit: Option<CommitId>) -> Result<Snapshot<'_>, GitError> {
        let tree = match commit {
            Some(id) => {
                let found = self.git.find_commit(id.0);
                Some(found.map_err(|_| GitError::NoSuchCommit { text: id.to_string() })?.tree()?)
            }
            None => None,
        };
        Ok(Snapshot::new(&self.git, tree).through(self.part.clone()))
    }

    /// True where `commit` is `earlier` or has it behind it; false too where `earlier` is not here.
    #[must_use]
    pub(crate) fn has_behind(&self, commit: CommitId, earlier: CommitId) -> bool {
        commit == earlier || self.git.graph_descendant_of(commit.0, earlier.0).unwrap_or(false)
    }

    /// When this clone last heard from another repository, by this machine's clock: at its last fetch, or when it was
    /// cloned. None where it never did.
    #[must_use]
    pub(crate) fn heard_at(&self) -> Option<std::time::SystemTime> {
        let at = |path: PathBuf| fs::metadata(path).and_then(|m| m.modified()).ok();
        let remotes = self.git.remotes().ok()?;
        let first = |name: &str| at(self.git.commondir().join(format!("logs/refs/remotes/{name}/HEAD")));
        let cloned = remotes.iter().flatten().flatten().filter_map(first).max();
        at(self.git.commondir().join("FETCH_HEAD")).into_iter().chain(cloned).max()
    }

    /// The branch that the repository is about, such as `main`: the one that its HEAD names.
    ///
    /// # Errors
    /// [`GitError::DetachedHead`].
    pub fn branch(&self) -> Result<String, GitError> {
        let head = self.git.find_reference("HEAD")?;
        let target = head.symbolic_target()?.and_then(|name| name.strip_prefix("refs/heads/"));
        target.map(ToOwned::to_owned).ok_or(GitError::DetachedHead)
    }

    /// Reads what git hands to a pre-receive hook: `old new name` on each line.
    ///
    /// # Errors
    /// [`GitError::Damaged`] for a line of another shape.
    pub fn received(&self, lines: &str) -> Result<Vec<Received>, GitError> {
        lines.lines().map(|line| self.line(line)).collect()
    }

    fn line(&self, line: &str) -> Result<Received, GitError> {
        let odd = || GitError::Damaged { words: format!("`{line}` is not a line of a push") };
        let mut words = line.splitn(3, ' ');
        let (Some(old), Some(new), Some(name)) = (words.next(), words.next(), words.next()) else {
            return Err(odd());
        };
        let id = |text: &str| -> Result<Option<CommitId>, GitError> {
            let id: CommitId = text.parse().map_err(|_| odd())?;
            Ok(Some(id).filter(|id| !id.0.is_zero()))
        };
        let (old, new) = (id(old)?, id(new)?);
        let movement = match (old, new) {
            (_, None) => Movement::Removed,
            (None, Some(_)) => Movement::Begun,
            (Some(old), Some(new)) => {
                let ahead = old == new || self.git.graph_descendant_of(new.0, old.0).unwrap_or(false);
                if ahead { Movement::Advanced } else { Movement::Rewritten }
            }
        };
        Ok(Received { name: name.to_owned(), old, new, movement })
    }

    /// The commit that a new name stands for, through the note that an annotated tag is.
    ///
    /// # Errors
    /// [`GitError::NoSuchCommit`] where it stands for something that is no commit.
    pub(crate) fn commit_of(&self, id: CommitId) -> Result<CommitId, GitError> {
        let missing = |_| GitError::NoSuchCommit { text: id.to_string() };
        let object = self.git.find_object(id.0, None).map_err(missing)?;
        object.peel_to_commit().map(|commit| CommitId(commit.id())).map_err(missing)
    }

    /// The branches that are there, by full name, in order.
    ///
    /// # Errors
    /// [`GitError::Damaged`].
    pub(crate) fn branches(&self) -> Result<Vec<String>, GitError> {
        let mut names = Vec::new();
        for reference in self.git.references_glob("refs/heads/*")? {
            names.push(String::from_utf8_lossy(reference?.name_bytes()).into_owned());
        }
        names.sort();
        Ok(names)
    }

    /// Where a name stands; `None` where it is not there or names no commit.
    ///
    /// # Errors
    /// [`GitError::Damaged`].
    pub(crate) fn stands_at(&self, name: &str) -> Result<Option<CommitId>, GitError> {
        match self.git.find_reference(name) {
            Ok(reference) => Ok(reference.peel_to_commit().ok().map(|c| CommitId(c.id()))),
            Err(e) if e.code() == git2::ErrorCode::NotFound => Ok(None),
            Err(e) => Err(e.into()),
        }
    }

    /// The commit that a text names, as [`super::Repo::resolve`].
    ///
    /// # Errors
    /// [`GitError::NoSuchCommit`].
    pub fn resolve(&self, text: &str) -> Result<CommitId, GitError> {
        super::name::commit_of(&self.git, text)
    }

    /// What a commit says, and how many commits come right before it.
    ///
    /// # Errors
    /// [`GitError::Damaged`].
    pub(crate) fn message_and_parents(&self, id: CommitId) -> Result<(String, usize), GitError> {
        let commit = self.git.find_commit(id.0)?;
        Ok((String::from_utf8_lossy(commit.message_bytes()).into_owned(), commit.parent_count()))
    }

    /// True where the history here is cut off.
    #[must_use]
    pub(crate) fn is_shallow(&self) -> bool {
        self.git.is_shallow()
    }

    /// A setting of this repository.
    #[must_use]
    pub(crate) fn setting(&self, key: &str) -> Option<String> {
        self.git.config().ok()?.get_string(key).ok()
    }
}
