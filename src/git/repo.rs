//! A book's repository: made, opened, looked up; its branch; what is half done in it; where a clone keeps its
//! own data.
//!
//! A book is always the top folder of a repository with a working folder and a branch checked out.

use std::cell::RefCell;
use std::collections::{BTreeSet, HashMap};
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::merge::MergeConflict;

use super::altered::refuse_altered;
use super::failure::at;
use super::user_git::telling;
use super::{CommitId, GitError, Part, Snapshot, UserGit};

/// The text of a new book's `.gitattributes`: git never changes a byte of any file, and records merge by
/// fields where the merge driver is set up.
const ATTRIBUTES: &str = "* -text\n*.json merge=underlit\n";

/// The repository of a book.
pub struct Repo {
    pub(crate) git: git2::Repository,
    root: PathBuf,
    /// The records of questions that were read, by the digest of their bytes: a sync comes upon each of them again and
    /// again. `None` where the bytes are no such record.
    pub(crate) questions: RefCell<HashMap<git2::Oid, Option<Arc<MergeConflict>>>>,
    /// The part of the book that is held here, once it was asked for.
    pub(super) part: RefCell<Option<Option<Arc<Part>>>>,
    /// Commits that are known to change nothing of that part.
    pub(super) untouched: RefCell<Arc<BTreeSet<git2::Oid>>>,
}

impl std::fmt::Debug for Repo {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Repo").field("root", &self.root).finish_non_exhaustive()
    }
}

/// Has the library read objects as git does. It keeps none at hand that were read: up to 256 MB of a large book, and measured
/// as no help, since what is asked twice is kept by who asks. And it does not work out the name of each object again at
/// each reading, which was half of a walk through a history: git gave them their names as they came in, and each is
/// stored with a checksum. Who may write into a clone's objects may write a whole other history as well; what is proved
/// here rests on signatures.
pub(crate) fn read_as_git_does() {
    git2::opts::enable_caching(false);
    git2::opts::strict_hash_verification(false);
}

impl Repo {
    /// Makes a repository at `path` (made too where it is missing) with the branch `main`, no commit, settings
    /// that keep bytes as they are and writes durable, and a `.gitattributes` file, which is not yet committed.
    /// Files that lie there already stay.
    ///
    /// # Errors
    /// [`GitError::AlreadyRepository`], or what the file system says.
    pub fn create(path: &Path) -> Result<Repo, GitError> {
        if path.join(".git").symlink_metadata().is_ok() {
            return Err(GitError::AlreadyRepository { path: path.to_owned() });
        }
        fs::create_dir_all(path).map_err(at(path))?;
        let mut options = git2::RepositoryInitOptions::new();
        options.no_reinit(true).mkdir(false).external_template(false).initial_head("main");
        let git = git2::Repository::init_opts(path, &options).map_err(|e| opening(path, e))?;
        let root = top_folder(&git, path)?;
        let repo = Repo::over(git, root)?;
        repo.settle_config()?;
        let attributes = repo.root.join(".gitattributes");
        if attributes.symlink_metadata().is_err() {
            fs::write(&attributes, ATTRIBUTES).map_err(at(&attributes))?;
        }
        Ok(repo)
    }

    /// Opens the repository whose top folder is `path`.
    ///
    /// # Errors
    /// [`GitError::NoRepository`], [`GitError::NotTopFolder`], [`GitError::Bare`], [`GitError::OtherOwner`].
    pub fn open(path: &Path) -> Result<Repo, GitError> {
        let (git, root) = Repo::found(path)?;
        let wanted = path.canonicalize().map_err(at(path))?;
        if wanted != root {
            // A book without history may lie within somebody's repository, where nothing is ours to write.
            return Err(GitError::NotTopFolder { path: path.to_owned(), top: root });
        }
        Repo::over(git, root)
    }

    /// Opens the repository that holds `path`, looking upward. [`Repo::root`] is its top folder.
    ///
    /// # Errors
    /// As [`Repo::open`], without [`GitError::NotTopFolder`].
    pub fn discover(path: &Path) -> Result<Repo, GitError> {
        let (git, root) = Repo::found(path)?;
        Repo::over(git, root)
    }

    /// The book in a repository that is open already, with whatever store of objects it was given: for trials of
    /// thousands of merges, of which nothing is to reach a disk.
    ///
    /// # Errors
    /// [`GitError::Bare`].
    pub fn of(git: git2::Repository) -> Result<Repo, GitError> {
        let root = top_folder(&git, git.path())?;
        Ok(Repo {
            git,
            root,
            questions: RefCell::default(),
            part: RefCell::default(),
            untouched: RefCell::default(),
        })
    }

    /// The repository that holds a folder, with its top folder; nothing is written.
    fn found(path: &Path) -> Result<(git2::Repository, PathBuf), GitError> {
        let git = git2::Repository::discover(path).map_err(|e| opening(path, e))?;
        let root = top_folder(&git, path)?;
        Ok((git, root))
    }

    fn over(git: git2::Repository, root: PathBuf) -> Result<Repo, GitError> {
        refuse_altered(&git)?;
        let repo = Repo {
            git,
            root,
            questions: RefCell::default(),
            part: RefCell::default(),
            untouched: RefCell::default(),
        };
        repo.write_durably()?;
        Ok(repo)
    }

    /// The top folder of the book, as an absolute path without symbolic links.
    #[must_use]
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// The folder for data that belongs to this clone alone and never to history: pinned fingerprint,
    /// high-water marks, lock. It is made where it is missing.
    ///
    /// # Errors
    /// [`GitError::NotWritable`] and other failures of the file system.
    pub(crate) fn clone_local_dir(&self) -> Result<PathBuf, GitError> {
        let dir = self.git.commondir().join("underlit");
        fs::create_dir_all(&dir).map_err(at(&dir))?;
        Ok(dir)
    }

    /// The folder in which git keeps this clone's history: `.git`.
    #[must_use]
    pub(crate) fn git_folder(&self) -> &Path {
        self.git.commondir()
    }

    /// Runs the user's own git in this clone.
    ///
    /// # Errors
    /// [`GitError::GitFailed`] with its words, [`GitError::NoGitProgram`].
    pub(crate) fn run_git(&self, git: &UserGit, args: &[&str]) -> Result<(), GitError> {
        let ended = git.run(self.root(), args)?;
        if ended.ok {
            return Ok(());
        }
        let verb = args.first().copied().unwrap_or_default().to_owned();
        Err(GitError::GitFailed { verb, words: telling(&ended.stderr) })
    }

    /// The branch that is checked out, such as `main`, even before its first commit.
    ///
    /// # Errors
    /// [`GitError::DetachedHead`].
    pub fn branch(&self) -> Result<String, GitError> {
        let full = self.branch_ref()?;
        Ok(full.strip_prefix("refs/heads/").unwrap_or(&full).to_owned())
    }

    /// The branch with its full name, such as `refs/heads/main`.
    pub(crate) fn branch_ref(&self) -> Result<String, GitError> {
        let head = self.git.find_reference("HEAD")?;
        match head.symbolic_target()? {
            Some(name) if name.starts_with("refs/heads/") => Ok(name.to_owned()),
            _ => Err(GitError::DetachedHead),
        }
    }

    /// The commit that is checked out; `None` before the first commit.
    ///
    /// # Errors
    /// [`GitError::Damaged`] where HEAD cannot be read.
    pub fn head(&self) -> Result<Option<CommitId>, GitError> {
        match self.git.refname_to_id("HEAD") {
            Ok(id) => Ok(Some(CommitId(id))),
            Err(e) if e.code() == git2::ErrorCode::NotFound => Ok(None),
            Err(e) => Err(e.into()),
        }
    }

    /// The commit that `text` names: its digits, a branch, a full reference, `HEAD~2`; never a tag by its short name.
    ///
    /// # Errors
    /// [`GitError::NoSuchCommit`].
    pub(crate) fn resolve(&self, text: &str) -> Result<CommitId, GitError> {
        super::name::commit_of(&self.git, text)
    }

    /// The tree of a commit, to read from.
    ///
    /// # Errors
    /// [`GitError::NoSuchCommit`].
    pub fn snapshot(&self, commit: CommitId) -> Result<Snapshot<'_>, GitError> {
        let tree = match self.git.find_commit(commit.0) {
            Ok(found) => found.tree()?,
            Err(_) => {
                let tree = super::raw_commit::raw(&self.git, commit)?.tree;
                let tree = tree.ok_or_else(|| GitError::NoSuchCommit { text: commit.to_string() })?;
                self.git.find_tree(tree)?
            }
        };
        Ok(Snapshot::new(&self.git, Some(tree)).through(self.part()))
    }

    /// The tree of a commit; the empty one for none.
    ///
    /// # Errors
    /// [`GitError::NoSuchCommit`].
    pub fn snapshot_of(&self, commit: Option<CommitId>) -> Result<Snapshot<'_>, GitError> {
        commit.map_or_else(|| Ok(Snapshot::new(&self.git, None)), |id| self.snapshot(id))
    }

    /// The tree of HEAD; an empty one before the first commit.
    ///
    /// # Errors
    /// [`GitError::Damaged`].
    pub fn head_snapshot(&self) -> Result<Snapshot<'_>, GitError> {
        self.snapshot_of(self.head()?)
    }

    /// True where the clone holds only the newest part of the history.
    #[must_use]
    pub fn is_shallow(&self) -> bool {
        self.git.is_shallow()
    }

    /// The name and address that git would put on a commit here, from the user's own settings.
    #[must_use]
    pub(crate) fn configured_person(&self) -> Option<super::Person> {
        let config = self.git.config().ok()?;
        let name = config.get_string("user.name").ok()?;
        let email = config.get_string("user.email").ok()?;
        super::Person::new(&name, &email).ok()
    }

    /// Sets up the merge driver for stock git in this clone: `command` is what git runs, with `%O %A %B %P` for
    /// base, ours, theirs and the path. Git's own guessing of renames is switched off, since ids do not change.
    ///
    /// # Errors
    /// [`GitError::NotWritable`] and other failures to write the clone's settings.
    pub fn set_merge_driver(&self, command: &str) -> Result<(), GitError> {
        let mut config = self.local_config()?;
        config.set_str("merge.underlit.name", "underlit: records merge field by field")?;
        config.set_str("merge.underlit.driver", command)?;
        config.set_bool("merge.renames", false)?;
        config.set_bool("merge.directoryRenames", false)?;
        Ok(())
    }

    /// Refuses to go on where a commit would do harm: detached HEAD, or another git operation half done.
    ///
    /// # Errors
    /// [`GitError::DetachedHead`], [`GitError::Busy`], [`GitError::Unmerged`].
    pub(crate) fn refuse_half_done(&self) -> Result<(), GitError> {
        self.refuse_busy()?;
        let paths = self.unmerged()?;
        if paths.is_empty() { Ok(()) } else { Err(GitError::Unmerged { paths }) }
    }

    /// The files that git could not settle and has left to be settled by hand, as after a `git stash pop`; in order.
    ///
    /// # Errors
    /// [`GitError::Damaged`] and the like.
    pub(crate) fn unmerged(&self) -> Result<Vec<String>, GitError> {
        let mut index = self.git.index()?;
        index.read(false)?;
        if !index.has_conflicts() {
            return Ok(Vec::new());
        }
        let mut paths: Vec<String> = index
            .conflicts()?
            .flatten()
            .filter_map(|c| c.our.or(c.their).or(c.ancestor))
            .map(|entry| String::from_utf8_lossy(&entry.path).into_owned())
            .collect();
        paths.sort();
        paths.dedup();
        Ok(paths)
    }

    /// As [`Repo::refuse_half_done`], without reading the index, which in a large book takes longer than asking a
    /// remote: for whoever looks for edits next, which finds what is unmerged.
    ///
    /// # Errors
    /// As [`Repo::refuse_half_done`], and [`GitError::Sparse`].
    pub fn refuse_busy(&self) -> Result<(), GitError> {
        self.refuse_operation()?;
        self.refuse_other_part()
    }

    /// As [`Repo::refuse_busy`], for whoever is about to lay out another part of the book.
    ///
    /// # Errors
    /// As [`Repo::refuse_half_done`].
    pub(crate) fn refuse_operation(&self) -> Result<(), GitError> {
        if let Some(operation) = self.half_done() {
            return Err(GitError::Busy { operation });
        }
        self.branch_ref()?;
        self.refuse_lost()
    }

    /// The git operation that is half done, by the name of its command.
    #[must_use]
    pub(crate) fn half_done(&self) -> Option<&'static str> {
        use git2::RepositoryState as State;
        match self.git.state() {
            State::Clean => None,
            State::Merge => Some("merge"),
            State::Revert | State::RevertSequence => Some("revert"),
            State::CherryPick | State::CherryPickSequence => Some("cherry-pick"),
            State::Bisect => Some("bisect"),
            State::Rebase | State::RebaseInteractive | State::RebaseMerge => Some("rebase"),
            State::ApplyMailbox | State::ApplyMailboxOrRebase => Some("am"),
        }
    }

    pub(crate) fn local_config(&self) -> Result<git2::Config, GitError> {
        Ok(self.git.config()?.open_level(git2::ConfigLevel::Local)?)
    }

    /// Writes the settings that every clone of a book needs, where they are not yet there.
    pub(crate) fn settle_config(&self) -> Result<(), GitError> {
        let mut config = self.local_config()?;
        for (key, value) in [("core.fsync", "all"), ("core.autocrlf", "false")] {
            if config.get_string(key).ok().as_deref() != Some(value) {
                config.set_str(key, value)?;
            }
        }
        Ok(())
    }

    /// Makes git2 flush what it writes, and take no heed of the right to run a file. The switch for the first is a
    /// setting that stock git has retired and warns about, so both stand in a file that only this program reads.
    fn write_durably(&self) -> Result<(), GitError> {
        let Ok(dir) = self.clone_local_dir() else {
            return Ok(()); // a book that cannot be written needs no flushing
        };
        let file = dir.join("durable.gitconfig");
        // A book holds plain files only: the right to run one, which a camera's disk gives to every photo, is no edit.
        let text = "[core]\n\tfsyncObjectFiles = true\n\tfilemode = false\n";
        if fs::read_to_string(&file).ok().as_deref() != Some(text) && fs::write(&file, text).is_err() {
            return Ok(());
        }
        let mut config = self.git.config()?;
        config.add_file(&file, git2::ConfigLevel::App, true)?;
        self.git.set_config(&config)?;
        Ok(())
    }
}

fn top_folder(git: &git2::Repository, asked: &Path) -> Result<PathBuf, GitError> {
    let top = git.workdir().ok_or_else(|| GitError::Bare { path: asked.to_owned() })?;
    top.canonicalize().map_err(at(top))
}

pub(super) fn opening(path: &Path, error: git2::Error) -> GitError {
    match error.code() {
        git2::ErrorCode::NotFound => GitError::NoRepository { path: path.to_owned() },
        git2::ErrorCode::Owner => GitError::OtherOwner { path: owned_folder(path) },
        _ => error.into(),
    }
}

/// The folder that `safe.directory` has to name: the top one with `.git` in it.
fn owned_folder(path: &Path) -> PathBuf {
    let start = path.canonicalize().unwrap_or_else(|_| path.to_owned());
    let top = start.ancestors().find(|dir| dir.join(".git").symlink_metadata().is_ok());
    top.unwrap_or(&start).to_owned()
}
