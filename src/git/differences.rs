//! What differs between two trees that nobody has judged, and what its names and kinds of files could do to a clone.

use std::cell::Cell;
use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet};

use super::tree_bytes::FOLDER;
use super::trees::Trees;
use super::unsafe_files::odd_kind;
use super::{Entry, EntryKind, GitError, Part, PathChange};
use crate::paths::{DEEPEST, LONGEST, UnsafePath, as_the_same, file_name_fault, name_fault, twin_of};

/// A plain file, as a tree writes it.
const PLAIN: i32 = 0o100_644;

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

/// What was found to differ.
pub(super) struct Differences<'d, 'r> {
    trees: &'d Trees<'r>,
    /// How many files may still be found changed, of how many.
    files_left: &'d Cell<usize>,
    most: usize,
    /// The part of the book that is held here: nothing else is compared.
    part: Option<&'d Part>,
    pub(super) changes: Vec<PathChange>,
    pub(super) unsafe_paths: Vec<UnsafePath>,
}

impl<'d, 'r> Differences<'d, 'r> {
    pub(super) fn none_yet(
        trees: &'d Trees<'r>,
        files_left: &'d Cell<usize>,
        most: usize,
        part: Option<&'d Part>,
    ) -> Self {
        Differences { trees, files_left, most, part, changes: Vec::new(), unsafe_paths: Vec::new() }
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
        let (first, last) = alike_at_ends(before, after);
        let between = |tree: Option<&git2::Tree<'_>>| tree.map_or(0..0, |tree| first..tree.len() - last);
        if after.is_some_and(|tree| !in_order(tree)) {
            self.refuse(format!("{at}."), "is a folder whose names are out of order or stand twice");
            return Ok(());
        }
        for entry in between(after).filter_map(|at| after?.get(at)) {
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
                old.as_ref().filter(|o| is_folder(o)).map(|o| self.trees.bounded(o.id())).transpose()?;
            if mode == FOLDER {
                if depth >= DEEPEST {
                    self.refuse(path, &format!("lies deeper than {DEEPEST} folders"));
                    continue;
                }
                let new_tree = self.trees.bounded(entry.id())?;
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
        for entry in between(before).filter_map(|at| before?.get(at)) {
            if after.is_some_and(|tree| named(tree, entry.name_bytes()).is_some()) {
                continue;
            }
            let path = format!("{at}{}", String::from_utf8_lossy(entry.name_bytes()));
            if self.part.is_some_and(|part| !part.holds(&path)) {
                continue;
            }
            if is_folder(&entry) {
                if depth < DEEPEST {
                    let old = self.trees.bounded(entry.id())?;
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

/// How many entries are the same in both at their beginning, and how many at their end. Of a folder of thousands, one commit
/// changes one or two: the others need no look at their names.
fn alike_at_ends(before: Option<&git2::Tree<'_>>, after: Option<&git2::Tree<'_>>) -> (usize, usize) {
    let (Some(one), Some(other)) = (before, after) else { return (0, 0) };
    let least = one.len().min(other.len());
    let alike = |a: usize, b: usize| {
        let entries = one.get(a).zip(other.get(b));
        entries.is_some_and(|(a, b)| {
            a.id() == b.id() && a.filemode_raw() == b.filemode_raw() && a.name_bytes() == b.name_bytes()
        })
    };
    let first = (0..least).take_while(|at| alike(*at, *at)).count();
    let last = (1..=least - first).take_while(|at| alike(one.len() - at, other.len() - at)).count();
    (first, last)
}

/// True where names rise as git writes them. Where they do not, a search by halves can miss one, and two programs
/// can read two files.
fn in_order(tree: &git2::Tree<'_>) -> bool {
    let rises = |one: &git2::TreeEntry<'_>, next: &git2::TreeEntry<'_>| {
        let ends = |entry: &git2::TreeEntry<'_>| if is_folder(entry) { b"/".as_slice() } else { b"" };
        let (a, b) = (one.name_bytes(), next.name_bytes());
        let both = a.len().min(b.len());
        match a[..both].cmp(&b[..both]) {
            Ordering::Equal => a != b && [&a[both..], ends(one)].concat() < [&b[both..], ends(next)].concat(),
            unlike => unlike.is_lt(),
        }
    };
    tree.iter().zip(tree.iter().skip(1)).all(|(one, next)| rises(&one, &next))
}
