//! The shared repository as its own pre-receive hook sees it: what a push would do, before it is done.
//!
//! Objects of a push lie in quarantine until the hook agrees, so the repository is opened as git tells the hook, and
//! everything here reads them from there. What is not here: whether a push is right; the caller judges that from
//! the trees and commits it gets.

use std::fs;
use std::path::{Path, PathBuf};

use super::error::at;
use super::{CommitId, GitError, LogEntry, PathChange, Person, Snapshot};
use super::{Moment, name};

/// A shared repository.
pub struct Hub {
    pub(crate) git: git2::Repository,
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
        Ok(Hub { git })
    }

    /// The repository at `path`, bare or not.
    ///
    /// # Errors
    /// [`GitError::NoRepository`], [`GitError::OtherOwner`].
    pub fn open(path: &Path) -> Result<Hub, GitError> {
        let git = git2::Repository::open(path).map_err(|e| super::repo::opening(path, e))?;
        Ok(Hub { git })
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
    /// [`GitError::Damaged`] for a line of another shape, [`GitError::NoSuchCommit`] where a new name stands for
    /// something that is no commit.
    pub fn received(&self, lines: &str) -> Result<Vec<Received>, GitError> {
        lines.lines().map(|line| self.line(line)).collect()
    }

    fn line(&self, line: &str) -> Result<Received, GitError> {
        let odd = || GitError::Damaged { words: format!("`{line}` is no line of a push") };
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
            (None, Some(new)) => {
                self.commit(new)?;
                Movement::Begun
            }
            (Some(old), Some(new)) => {
                self.commit(new)?;
                let ahead = old == new || self.git.graph_descendant_of(new.0, old.0)?;
                if ahead { Movement::Advanced } else { Movement::Rewritten }
            }
        };
        Ok(Received { name: name.to_owned(), old, new, movement })
    }

    fn commit(&self, id: CommitId) -> Result<git2::Commit<'_>, GitError> {
        self.git.find_commit(id.0).map_err(|_| GitError::NoSuchCommit { text: id.to_string() })
    }

    /// The tree of a commit; the empty one for none.
    ///
    /// # Errors
    /// [`GitError::NoSuchCommit`].
    pub fn snapshot(&self, commit: Option<CommitId>) -> Result<Snapshot<'_>, GitError> {
        let tree = commit.map(|id| Ok::<_, GitError>(self.commit(id)?.tree()?)).transpose()?;
        Ok(Snapshot::new(&self.git, tree))
    }

    /// Every commit that a push brings, oldest first, merges too, each with what it changes against its first
    /// parent. For a new name, all that no other name has.
    ///
    /// # Errors
    /// [`GitError::BadPath`] for a name in a tree that is not UTF-8, [`GitError::Damaged`].
    pub fn brought(&self, push: &Received) -> Result<Vec<LogEntry>, GitError> {
        let Some(new) = push.new else { return Ok(Vec::new()) };
        let mut walk = self.git.revwalk()?;
        walk.set_sorting(git2::Sort::TOPOLOGICAL | git2::Sort::REVERSE)?;
        walk.push(new.0)?;
        match push.old {
            Some(old) => walk.hide(old.0)?,
            None => {
                for reference in self.git.references()? {
                    // A name for something that is no commit hides none.
                    if let Ok(commit) = reference?.peel_to_commit() {
                        walk.hide(commit.id())?;
                    }
                }
            }
        }
        walk.map(|id| self.entry(id?)).collect()
    }

    fn entry(&self, id: git2::Oid) -> Result<LogEntry, GitError> {
        let commit = self.git.find_commit(id)?;
        let before = match commit.parents().next() {
            Some(parent) => Snapshot::new(&self.git, Some(parent.tree()?)),
            None => Snapshot::new(&self.git, None),
        };
        let changes: Vec<PathChange> = before.changes(&Snapshot::new(&self.git, Some(commit.tree()?)), "")?;
        let author = commit.author();
        Ok(LogEntry {
            id: CommitId(id),
            parents: commit.parent_ids().map(CommitId).collect(),
            at: Moment::of(author.when()),
            author: Person::of(&author),
            message: String::from_utf8_lossy(commit.message_bytes()).into_owned(),
            changes,
        })
    }

    /// Makes `script` the pre-receive hook, and has git itself refuse removed and rewritten branches and objects
    /// that are not sound.
    ///
    /// # Errors
    /// [`GitError::NotEmpty`] where another hook stands there, [`GitError::NotWritable`] and the like.
    pub fn install(&self, script: &str) -> Result<PathBuf, GitError> {
        let hook = self.hook_folder()?.join("pre-receive");
        match fs::read_to_string(&hook) {
            Ok(text) if text != script => return Err(GitError::NotEmpty { path: hook }),
            _ => {}
        }
        let part = hook.with_extension("part");
        fs::write(&part, script).map_err(at(&part))?;
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            fs::set_permissions(&part, fs::Permissions::from_mode(0o755)).map_err(at(&part))?;
        }
        fs::rename(&part, &hook).map_err(at(&hook))?;
        let mut config = self.git.config()?.open_level(git2::ConfigLevel::Local)?;
        for key in ["receive.denyDeletes", "receive.denyNonFastForwards", "receive.fsckObjects"] {
            config.set_bool(key, true)?;
        }
        Ok(hook)
    }

    fn hook_folder(&self) -> Result<PathBuf, GitError> {
        let own = self.git.commondir().join("hooks");
        let folder = match self.git.config()?.get_path("core.hooksPath") {
            Ok(elsewhere) => self.git.path().join(elsewhere),
            Err(_) => own,
        };
        fs::create_dir_all(&folder).map_err(at(&folder))?;
        Ok(folder)
    }
}

/// What a tree can do to a clone that `git fsck --strict` lets pass.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trick {
    /// The path.
    pub path: String,
    /// What is wrong with it, as the end of a sentence that begins with the path.
    pub what: String,
}

/// The longest path that every system can hold below a folder of its own.
const LONGEST: usize = 200;

/// Finds paths that are no plain files, or whose names some system cannot tell apart or cannot hold: links,
/// submodules, executables, twins by case or by Unicode form, device names, trailing dots and spaces, and more.
///
/// `files` is a whole tree, by path in byte order, as [`Snapshot::files`] gives it.
#[must_use]
pub fn tricks(files: &[super::TreeFile]) -> Vec<Trick> {
    use std::collections::BTreeMap;
    use unicode_normalization::UnicodeNormalization;

    let mut found = Vec::new();
    let fold = |name: &str| name.nfkc().flat_map(char::to_lowercase).nfc().collect::<String>();
    let mut seen: BTreeMap<String, &str> = BTreeMap::new();
    for file in files {
        let path = file.path.as_str();
        let mut say = |what: String| found.push(Trick { path: path.to_owned(), what });
        match file.entry.kind {
            super::EntryKind::File => {}
            super::EntryKind::Link => say("is a symbolic link".into()),
            super::EntryKind::Submodule => say("is a repository of its own".into()),
            super::EntryKind::Executable => say("is marked as a program".into()),
        }
        if path.len() > LONGEST {
            say(format!("is longer than {LONGEST} bytes"));
        }
        if let Some(what) = path.split('/').find_map(odd_name) {
            say(what.into());
        }
        // Each folder above counts as a name too: `A/x` and `a/y` are one folder to some systems.
        let ends = path.match_indices('/').map(|(end, _)| end).chain([path.len()]);
        for end in ends {
            let here = &path[..end];
            let first = *seen.entry(fold(here)).or_insert(here);
            if first != here {
                say(format!("is the same name as `{first}` on some systems"));
                break;
            }
        }
    }
    found
}

fn odd_name(part: &str) -> Option<&'static str> {
    let stem = part.split('.').next().unwrap_or(part).trim_end().to_ascii_lowercase();
    let numbered = |port: &str| {
        stem.strip_prefix(port).is_some_and(|n| n.len() == 1 && n != "0" && n.parse::<u8>().is_ok())
    };
    let lower = part.to_ascii_lowercase();
    if name::inside(part).is_err() || lower.starts_with("git~") || lower.starts_with(".git ") {
        Some("has a name that reaches out of its folder")
    } else if ["con", "prn", "aux", "nul"].contains(&stem.as_str()) || numbered("com") || numbered("lpt") {
        Some("has a name that is a device on some systems")
    } else if part.ends_with('.') || part.ends_with(' ') {
        Some("has a name that ends in a dot or a space")
    } else if part.chars().any(|c| c.is_control() || "<>:\"|?*".contains(c)) {
        Some("has a letter in its name that some systems do not allow")
    } else if part.chars().any(|c| matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}')) {
        Some("has a letter in its name that cannot be seen")
    } else {
        None
    }
}
