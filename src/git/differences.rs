//! What differs between two trees that nobody has judged, and what its names and kinds of files could do to a clone.

use std::cell::Cell;
use std::collections::{BTreeMap, BTreeSet};

use super::unsafe_files::odd_kind;
use super::{Entry, EntryKind, GitError, Part, PathChange};
use crate::paths::{DEEPEST, LONGEST, UnsafePath, as_the_same, file_name_fault, name_fault, twin_of};

/// A folder, as a tree writes it.
const FOLDER: i32 = 0o040_000;

/// A plain file, as a tree writes it.
const PLAIN: i32 = 0o100_644;

/// The largest tree that is opened, in bytes: about 200 000 files in one folder.
const LARGEST_TREE: usize = 8 << 20;

/// How many unsafe paths are kept of one commit; one is enough to refuse it.
const MOST_UNSAFE: usize = 40;

/// Why something cannot be inspected.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Uninspected {
    /// More came than is looked at in one go; the words say what.
    TooMuch(String),
    /// Git could not read it.
    Git(GitError),
}

impl From<GitError> for Uninspected {
    fn from(error: GitError) -> Self {
        Uninspected::Git(error)
    }
}

impl From<git2::Error> for Uninspected {
    fn from(error: git2::Error) -> Self {
        Uninspected::Git(error.into())
    }
}

impl From<Uninspected> for GitError {
    fn from(why: Uninspected) -> Self {
        match why {
            Uninspected::Git(error) => error,
            Uninspected::TooMuch(words) => GitError::Damaged { words },
        }
    }
}

/// A tree, if it is of a size that people make.
pub(super) fn bounded_tree(git: &git2::Repository, id: git2::Oid) -> Result<git2::Tree<'_>, Uninspected> {
    let (size, _) = git.odb()?.read_header(id)?;
    if size > LARGEST_TREE {
        return Err(Uninspected::TooMuch(format!("a folder of {size} bytes of names")));
    }
    Ok(git.find_tree(id)?)
}

/// What was found to differ.
pub(super) struct Differences<'r> {
    git: &'r git2::Repository,
    /// How many files may still be found changed, of how many.
    files_left: &'r Cell<usize>,
    most: usize,
    /// The part of the book that is held here: nothing else is compared.
    part: Option<&'r Part>,
    pub(super) changes: Vec<PathChange>,
    pub(super) unsafe_paths: Vec<UnsafePath>,
}

impl<'r> Differences<'r> {
    pub(super) fn none_yet(
        git: &'r git2::Repository,
        files_left: &'r Cell<usize>,
        most: usize,
        part: Option<&'r Part>,
    ) -> Self {
        Differences { git, files_left, most, part, changes: Vec::new(), unsafe_paths: Vec::new() }
    }

    fn refuse(&mut self, path: String, what: &str) {
        if self.unsafe_paths.len() < MOST_UNSAFE {
            self.unsafe_paths.push(UnsafePath { path, what: what.to_owned() });
        }
    }

    pub(super) fn compare(
        &mut self,
        before: Option<&git2::Tree<'_>>,
        after: Option<&git2::Tree<'_>>,
        at: &str,
        depth: usize,
    ) -> Result<(), Uninspected> {
        let mut new_names = Vec::new();
        if after.is_some_and(|tree| !in_order(tree)) {
            self.refuse(format!("{at}."), "is a folder whose names are out of order or stand twice");
            return Ok(());
        }
        for entry in after.iter().flat_map(|tree| tree.iter()) {
            let old = before.and_then(|tree| named(tree, entry.name_bytes()));
            if old.as_ref().is_some_and(|o| o.id() == entry.id() && o.filemode_raw() == entry.filemode_raw())
            {
                continue;
            }
            let Ok(name) = std::str::from_utf8(entry.name_bytes()) else {
                let path = format!("{at}{}", String::from_utf8_lossy(entry.name_bytes()));
                self.refuse(path, "has a name that is not Unicode text");
                continue;
            };
            let path = format!("{at}{name}");
            if self.part.is_some_and(|part| !part.holds(&path)) {
                continue;
            }
            if old.is_none() {
                new_names.push(name.to_owned());
                let fault = if is_folder(&entry) { name_fault(name) } else { file_name_fault(name) };
                if let Some(what) = fault {
                    self.refuse(path.clone(), what);
                }
            }
            if path.len() > LONGEST {
                self.refuse(path, &format!("is longer than {LONGEST} bytes"));
                continue;
            }
            let mode = entry.filemode_raw();
            let old_tree =
                old.as_ref().filter(|o| is_folder(o)).map(|o| bounded_tree(self.git, o.id())).transpose()?;
            if mode == FOLDER {
                if depth >= DEEPEST {
                    self.refuse(path, &format!("lies deeper than {DEEPEST} folders"));
                    continue;
                }
                let new_tree = bounded_tree(self.git, entry.id())?;
                if let Some(old) = old.as_ref().filter(|o| !is_folder(o)) {
                    self.change(path.clone(), Some(file(old)), None)?;
                }
                let below = format!("{path}/");
                self.compare(old_tree.as_ref(), Some(&new_tree), &below, depth + 1)?;
                continue;
            }
            let now = file(&entry);
            if let Some(what) = odd_kind(now.kind) {
                self.refuse(path.clone(), what);
            } else if mode != PLAIN {
                self.refuse(path.clone(), "has a mode that git itself does not write");
            }
            let was = old.as_ref().filter(|o| !is_folder(o)).map(file);
            self.change(path.clone(), was, Some(now))?;
            if let Some(old) = old_tree {
                self.compare(Some(&old), None, &format!("{path}/"), depth + 1)?;
            }
        }
        for entry in before.iter().flat_map(|tree| tree.iter()) {
            if after.is_some_and(|tree| named(tree, entry.name_bytes()).is_some()) {
                continue;
            }
            let path = format!("{at}{}", String::from_utf8_lossy(entry.name_bytes()));
            if self.part.is_some_and(|part| !part.holds(&path)) {
                continue;
            }
            if is_folder(&entry) {
                if depth < DEEPEST {
                    let old = bounded_tree(self.git, entry.id())?;
                    self.compare(Some(&old), None, &format!("{path}/"), depth + 1)?;
                }
            } else {
                self.change(path, Some(file(&entry)), None)?;
            }
        }
        if let Some(after) = after {
            self.twins(after, at, &new_names);
        }
        Ok(())
    }

    fn change(
        &mut self,
        path: String,
        before: Option<Entry>,
        after: Option<Entry>,
    ) -> Result<(), Uninspected> {
        let Some(left) = self.files_left.get().checked_sub(1) else {
            return Err(Uninspected::TooMuch(format!("a commit that changes more than {} files", self.most)));
        };
        self.files_left.set(left);
        self.changes.push(PathChange { path, before, after });
        Ok(())
    }

    /// Finds new names that some system cannot tell from another name of the same folder, and names that stand twice.
    fn twins(&mut self, tree: &git2::Tree<'_>, at: &str, new_names: &[String]) {
        if new_names.is_empty() {
            return;
        }
        let new: BTreeSet<&str> = new_names.iter().map(String::as_str).collect();
        let mut wanted: BTreeMap<String, &str> = BTreeMap::new();
        for name in new_names {
            if let Some(first) = wanted.insert(as_the_same(name), name) {
                self.refuse(format!("{at}{name}"), &twin_of(&format!("{at}{first}")));
            }
        }
        for entry in tree.iter() {
            let Ok(name) = std::str::from_utf8(entry.name_bytes()) else { continue };
            if let Some(twin) = wanted.get(&as_the_same(name)).filter(|twin| **twin != name) {
                // Of two new names the pair was named above.
                if !new.contains(name) {
                    self.refuse(format!("{at}{twin}"), &twin_of(&format!("{at}{name}")));
                }
            }
        }
    }
}

fn is_folder(entry: &git2::TreeEntry<'_>) -> bool {
    entry.filemode_raw() == FOLDER
}

fn file(entry: &git2::TreeEntry<'_>) -> Entry {
    Entry { kind: EntryKind::of(entry.filemode_raw()), id: entry.id() }
}

/// The entry of that name; names that are no Unicode text are looked for one by one.
fn named<'t>(tree: &'t git2::Tree<'_>, name: &[u8]) -> Option<git2::TreeEntry<'t>> {
    match std::str::from_utf8(name) {
        Ok(name) => tree.get_name(name),
        Err(_) => tree.iter().find(|entry| entry.name_bytes() == name),
    }
}

/// True where names rise as git writes them. Where they do not, a search by halves can miss one, and two programs
/// can read two files.
fn in_order(tree: &git2::Tree<'_>) -> bool {
    let key = |entry: &git2::TreeEntry<'_>| {
        let end: &[u8] = if is_folder(entry) { b"/" } else { b"" };
        (entry.name_bytes().to_vec(), [entry.name_bytes(), end].concat())
    };
    let keys: Vec<_> = tree.iter().map(|entry| key(&entry)).collect();
    keys.windows(2).all(|pair| pair[0].1 < pair[1].1 && pair[0].0 != pair[1].0)
}
