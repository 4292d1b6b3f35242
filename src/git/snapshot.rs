//! One tree of the history, to read from: its files, and how it differs from another.
//!
//! Equal folders are never opened, so that a comparison costs what has changed and not what is there.

use std::cell::RefCell;
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

use super::GitError;
use super::Part;
use super::name::inside;
use super::partial::{blob, size};
use super::tree_bytes::{FOLDER, Stored, StoredTree};
use super::tree_walk::{Unnameable, Walk};
use super::unsafe_files::odd_kind;
use crate::paths::UnsafePath;

/// What an entry of a tree is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum EntryKind {
    /// A plain file.
    File,
    /// A file with the executable bit.
    Executable,
    /// A symbolic link.
    Link,
    /// A commit of another repository.
    Submodule,
}

impl EntryKind {
    pub(crate) fn of(mode: i32) -> Self {
        match mode & 0o170_000 {
            0o120_000 => EntryKind::Link,
            0o160_000 => EntryKind::Submodule,
            _ if mode & 0o111 != 0 => EntryKind::Executable,
            _ => EntryKind::File,
        }
    }

    pub(crate) fn mode(self) -> i32 {
        match self {
            EntryKind::File => 0o100_644,
            EntryKind::Executable => 0o100_755,
            EntryKind::Link => 0o120_000,
            EntryKind::Submodule => 0o160_000,
        }
    }
}

/// A file as a tree holds it. Two entries are equal where kind and bytes are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Entry {
    /// What it is.
    pub kind: EntryKind,
    pub(crate) id: git2::Oid,
}

/// A path of a tree with its entry.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TreeFile {
    /// The path inside the book, with `/` between names.
    pub path: String,
    /// What lies there.
    pub entry: Entry,
}

/// How a path differs between two trees.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PathChange {
    /// The path inside the book.
    pub path: String,
    /// What was there.
    pub before: Option<Entry>,
    /// What is there now.
    pub after: Option<Entry>,
}

impl PathChange {
    /// Added, edited or removed.
    #[must_use]
    pub fn kind(&self) -> ChangeKind {
        match (self.before, self.after) {
            (None, _) => ChangeKind::Added,
            (Some(_), None) => ChangeKind::Removed,
            (Some(_), Some(_)) => ChangeKind::Edited,
        }
    }
}

/// What happened to a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum ChangeKind {
    /// It was not there before.
    Added,
    /// Its bytes or its kind changed.
    Edited,
    /// It is gone.
    Removed,
}

/// The entries of one folder, by their names.
type Folder = HashMap<Vec<u8>, Entry>;

/// One tree of the history.
pub struct Snapshot<'repo> {
    git: &'repo git2::Repository,
    tree: Option<git2::Tree<'repo>>,
    /// The part of the book that is held here: of what lies outside it, nothing is listed unless it is asked for by name.
    part: Option<Arc<Part>>,
    /// The large folder that was asked for last, so that asking for each of its thousands of files reads it once.
    last: RefCell<Option<(String, Folder)>>,
}

impl std::fmt::Debug for Snapshot<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Snapshot")
            .field("tree", &self.tree.as_ref().map(git2::Tree::id))
            .finish_non_exhaustive()
    }
}

impl<'repo> Snapshot<'repo> {
    pub(crate) fn new(git: &'repo git2::Repository, tree: Option<git2::Tree<'repo>>) -> Self {
        Snapshot { git, tree, part: None, last: RefCell::new(None) }
    }

    /// The same, of which only a part is listed.
    pub(super) fn through(self, part: Option<Arc<Part>>) -> Self {
        Snapshot { part, ..self }
    }

    /// The digest of the tree, which is the same for two trees exactly where every file is. `None` for the
    /// empty tree before a first commit.
    #[must_use]
    pub fn digest(&self) -> Option<String> {
        self.tree.as_ref().map(|tree| tree.id().to_string())
    }

    /// The digest of what lies at `path`, file or folder; `None` where nothing does. It is the same for two folders
    /// exactly where every file is.
    ///
    /// # Errors
    /// [`GitError::BadPath`], [`GitError::Damaged`].
    pub(crate) fn digest_at(&self, path: &str) -> Result<Option<String>, GitError> {
        let path = inside(path)?;
        let Some(tree) = self.tree.as_ref().filter(|_| !path.is_empty()) else { return Ok(self.digest()) };
        Ok(self.reach(tree, path)?.map(|(id, _)| id.to_string()))
    }

    /// What lies at a path, with its mode.
    fn reach(&self, tree: &git2::Tree<'_>, path: &str) -> Result<Option<(git2::Oid, i32)>, GitError> {
        let odb = self.git.odb()?;
        let mut here = (tree.id(), FOLDER);
        for name in path.split('/') {
            if here.1 != FOLDER {
                return Ok(None);
            }
            match StoredTree::read(&odb, here.0)?.find(name)? {
                Some(found) => here = (found.id, found.mode),
                None => return Ok(None),
            }
        }
        Ok(Some(here))
    }

    pub(crate) fn tree(&self) -> Option<&git2::Tree<'repo>> {
        self.tree.as_ref()
    }

    /// The entry at `path`, where a file lies there.
    ///
    /// # Errors
    /// [`GitError::BadPath`], [`GitError::Damaged`].
    pub(crate) fn entry(&self, path: &str) -> Result<Option<Entry>, GitError> {
        let path = inside(path)?;
        let Some(tree) = &self.tree else { return Ok(None) };
        if path.is_empty() {
            return Ok(None);
        }
        let Some((folder, name)) = path.rsplit_once('/') else {
            let found = self.reach(tree, path)?.filter(|(_, mode)| *mode != FOLDER);
            return Ok(found.map(|(id, mode)| Entry { kind: EntryKind::of(mode), id }));
        };
        let mut last = self.last.borrow_mut();
        if let Some((_, files)) = last.as_ref().filter(|(known, _)| known == folder) {
            return Ok(files.get(name.as_bytes()).copied());
        }
        let Some((id, FOLDER)) = self.reach(tree, folder)? else { return Ok(None) };
        let odb = self.git.odb()?;
        let beside = StoredTree::read(&odb, id)?;
        let beside = beside.entries()?;
        if beside.len() > LARGE {
            let named = |entry: &Stored<'_>| Some((entry.name.to_vec(), entry.file()?));
            *last = Some((folder.to_owned(), beside.iter().filter_map(named).collect()));
        }
        let found = beside.iter().find(|entry| entry.name == name.as_bytes());
        Ok(found.and_then(Stored::file))
    }

    /// The bytes of the file at `path`; `None` where no file lies there. A symbolic link's bytes are its target.
    ///
    /// # Errors
    /// [`GitError::BadPath`], [`GitError::Damaged`].
    pub fn file(&self, path: &str) -> Result<Option<Vec<u8>>, GitError> {
        match self.entry(path)? {
            Some(entry) if entry.kind != EntryKind::Submodule => self.bytes(entry).map(Some),
            _ => Ok(None),
        }
    }

    /// The bytes of an entry of any tree of this repository.
    ///
    /// # Errors
    /// [`GitError::Damaged`].
    pub(crate) fn bytes(&self, entry: Entry) -> Result<Vec<u8>, GitError> {
        Ok(blob(self.git, entry.id)?.content().to_vec())
    }

    /// What some judge says of the bytes of an entry, which are not copied for it.
    ///
    /// # Errors
    /// [`GitError::Damaged`].
    pub(crate) fn ask<T>(&self, entry: Entry, judge: impl FnOnce(&[u8]) -> T) -> Result<T, GitError> {
        Ok(judge(blob(self.git, entry.id)?.content()))
    }

    /// The size of an entry in bytes, read without its content.
    ///
    /// # Errors
    /// [`GitError::Damaged`].
    pub(crate) fn size(&self, entry: Entry) -> Result<usize, GitError> {
        size(self.git, entry.id)
    }

    /// The folders directly in one, with the digest of each: the same for two folders exactly where every file is.
    ///
    /// # Errors
    /// [`GitError::BadPath`] for a name that is not UTF-8, [`GitError::Damaged`].
    pub(crate) fn folders(&self, path: &str) -> Result<Vec<(String, String)>, GitError> {
        let path = inside(path)?;
        let Some(tree) = &self.tree else { return Ok(Vec::new()) };
        let Some((id, FOLDER)) = self.reach(tree, path)? else { return Ok(Vec::new()) };
        let odb = self.git.odb()?;
        let found = StoredTree::read(&odb, id)?;
        let mut folders = Vec::new();
        for entry in found.entries()?.iter().filter(|entry| entry.mode == FOLDER) {
            let name = std::str::from_utf8(entry.name).map_err(|_| GitError::BadPath {
                path: String::from_utf8_lossy(entry.name).into_owned(),
                reason: "is not UTF-8",
            })?;
            if self.part.as_ref().is_none_or(|part| part.holds(&format!("{path}/{name}"))) {
                folders.push((name.to_owned(), entry.id.to_string()));
            }
        }
        Ok(folders)
    }

    /// Every file at or beneath `prefix`, by path in byte order.
    ///
    /// # Errors
    /// [`GitError::BadPath`] for a name that is not UTF-8, [`GitError::Damaged`].
    pub fn files(&self, prefix: &str) -> Result<Vec<TreeFile>, GitError> {
        Ok(after(Snapshot::new(self.git, None).changes(self, prefix)?))
    }

    /// The entries at or beneath `prefix` that are no plain files, by path in byte order, but for those that are the same in
    /// another tree. Nothing is held of the plain ones.
    ///
    /// # Errors
    /// As [`Snapshot::changes`].
    pub(crate) fn odd_files(
        &self,
        known: Option<&Snapshot<'_>>,
        prefix: &str,
    ) -> Result<Vec<UnsafePath>, GitError> {
        let mut odd = Vec::new();
        let (part, prefix) = (self.part.as_deref(), inside(prefix)?);
        let trees = [known.and_then(|known| known.tree.as_ref()), self.tree.as_ref()];
        Walk::of(self.git, prefix, part).between(trees, &mut |path, [_, after]| {
            let kind = after.and_then(|entry| odd_kind(entry.kind));
            odd.extend(kind.map(|why| UnsafePath::new(&path, why)));
        })?;
        odd.sort_by(|a, b| a.path.cmp(&b.path));
        Ok(odd)
    }

    /// How `after` differs from this tree at or beneath `prefix`, by path in byte order.
    ///
    /// # Errors
    /// [`GitError::BadPath`] for a name that is not UTF-8, [`GitError::Damaged`].
    pub fn changes(&self, after: &Snapshot<'_>, prefix: &str) -> Result<Vec<PathChange>, GitError> {
        self.differs(after, prefix, Unnameable::Refused, self.part.as_deref().or(after.part.as_deref()))
    }

    /// The same of the whole book, held here or not, without names that are not UTF-8, which no book may have.
    ///
    /// # Errors
    /// [`GitError::Damaged`].
    pub(crate) fn nameable_changes(&self, after: &Snapshot<'_>) -> Result<Vec<PathChange>, GitError> {
        self.differs(after, "", Unnameable::PassedOver, None)
    }

    fn differs(
        &self,
        after: &Snapshot<'_>,
        prefix: &str,
        unnameable: Unnameable,
        part: Option<&Part>,
    ) -> Result<Vec<PathChange>, GitError> {
        let prefix = inside(prefix)?;
        let mut found = Vec::new();
        let trees = [self.tree.as_ref(), after.tree.as_ref()];
        let mut walk = Walk::of(self.git, prefix, part).naming(unnameable);
        walk.between(trees, &mut |path, [before, after]| found.push(PathChange { path, before, after }))?;
        found.sort_by(|a, b| a.path.cmp(&b.path));
        Ok(found)
    }
}

/// The files that changes lead to.
fn after(changes: Vec<PathChange>) -> Vec<TreeFile> {
    changes.into_iter().filter_map(|c| c.after.map(|entry| TreeFile { path: c.path, entry })).collect()
}

/// Of smaller folders nothing is kept: reading them again costs as little.
const LARGE: usize = 64;

/// Writes the tree that `base` becomes when each path of `edits` gets its entry or loses it. Folders that
/// end up empty are dropped.
pub(crate) fn edit_tree<'repo>(
    git: &'repo git2::Repository,
    base: Option<&git2::Tree<'_>>,
    edits: &BTreeMap<String, Option<Entry>>,
) -> Result<git2::Tree<'repo>, GitError> {
    let relative: Vec<(&str, Option<Entry>)> =
        edits.iter().map(|(path, entry)| (path.as_str(), *entry)).collect();
    let id = match edit_folder(git, base, &relative)? {
        Some(id) => id,
        None => git.treebuilder(None)?.write()?,
    };
    Ok(git.find_tree(id)?)
}

fn edit_folder(
    git: &git2::Repository,
    base: Option<&git2::Tree<'_>>,
    edits: &[(&str, Option<Entry>)],
) -> Result<Option<git2::Oid>, GitError> {
    let mut builder = git.treebuilder(base)?;
    let mut folders: BTreeMap<&str, Vec<(&str, Option<Entry>)>> = BTreeMap::new();
    let mut files: Vec<(&str, Entry)> = Vec::new();
    for (path, entry) in edits {
        match path.split_once('/') {
            Some((folder, rest)) => folders.entry(folder).or_default().push((rest, *entry)),
            None => match entry {
                Some(entry) => files.push((path, *entry)),
                None => {
                    let is_file =
                        builder.get(*path)?.is_some_and(|e| e.kind() != Some(git2::ObjectType::Tree));
                    if is_file {
                        builder.remove(*path)?;
                    }
                }
            },
        }
    }
    for (name, inner) in folders {
        let old = match builder.get(name)? {
            Some(entry) if entry.kind() == Some(git2::ObjectType::Tree) => Some(git.find_tree(entry.id())?),
            Some(_) if inner.iter().all(|(_, entry)| entry.is_none()) => continue,
            // A file of that name is still there: it was not among what is removed.
            Some(_) => return Err(GitError::FileAgainstFolder { path: name.into() }),
            _ => None,
        };
        match edit_folder(git, old.as_ref(), &inner)? {
            Some(id) => {
                builder.insert(name, id, 0o040_000)?;
            }
            None if builder.get(name)?.is_some() => builder.remove(name)?,
            None => {}
        }
    }
    for (name, entry) in files {
        if builder.get(name)?.is_some_and(|e| e.kind() == Some(git2::ObjectType::Tree)) {
            return Err(GitError::FileAgainstFolder { path: name.into() });
        }
        builder.insert(name, entry.id, entry.kind.mode())?;
    }
    if builder.is_empty() { Ok(None) } else { Ok(Some(builder.write()?)) }
}
