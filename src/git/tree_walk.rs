//! Trees of the history compared, entry by entry. Equal folders are never opened.

use std::collections::BTreeMap;

use super::GitError;
use super::Part;
use super::name::beneath;
use super::tree_bytes::{FOLDER, NoTree, Stored, StoredTree, differing};
use super::{Entry, EntryKind};

/// The most files and folders that one comparison looks at: a book of 100,000 jobs has three millions. A few folders can stand
/// for billions of files.
const MOST_ENTRIES: usize = 4_000_000;

/// The deepest folder that a comparison goes into.
const DEEPEST: usize = 40;

/// Visits every file that is not the same in all `trees`, at or beneath `prefix`.
///
/// # Errors
/// [`GitError::TooManyFiles`], [`GitError::BadPath`], [`GitError::Damaged`].
pub(crate) fn walk<const N: usize>(
    git: &git2::Repository,
    trees: [Option<&git2::Tree<'_>>; N],
    prefix: &str,
    visit: &mut dyn FnMut(String, [Option<Entry>; N]),
) -> Result<(), GitError> {
    Walk::of(git, prefix, None).between(trees, visit)
}

/// What becomes of names that are not UTF-8.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Unnameable {
    Refused,
    PassedOver,
}

/// A comparison of trees.
pub(super) struct Walk<'w> {
    git: &'w git2::Repository,
    prefix: &'w str,
    unnameable: Unnameable,
    part: Option<&'w Part>,
    left: usize,
}

impl<'w> Walk<'w> {
    /// One that goes through everything beneath `prefix`; of a whole book only what is part of it.
    pub(super) fn of(git: &'w git2::Repository, prefix: &'w str, part: Option<&'w Part>) -> Self {
        let part = part.filter(|_| !prefix.starts_with("projects/"));
        Walk { git, prefix, unnameable: Unnameable::Refused, part, left: MOST_ENTRIES }
    }

    /// The same, with another fate for names that are not UTF-8.
    pub(super) fn naming(self, unnameable: Unnameable) -> Self {
        Walk { unnameable, ..self }
    }

    /// Visits every file that is not the same in all of some trees.
    ///
    /// # Errors
    /// As [`walk`].
    pub(super) fn between<const N: usize>(
        &mut self,
        trees: [Option<&git2::Tree<'_>>; N],
        visit: &mut dyn FnMut(String, [Option<Entry>; N]),
    ) -> Result<(), GitError> {
        self.at(trees.map(|tree| tree.map(git2::Tree::id)), "", visit)
    }

    fn at<const N: usize>(
        &mut self,
        trees: [Option<git2::Oid>; N],
        at: &str,
        visit: &mut dyn FnMut(String, [Option<Entry>; N]),
    ) -> Result<(), GitError> {
        if trees.iter().all(|id| *id == trees[0]) {
            return Ok(());
        }
        let odb = self.git.odb()?;
        let mut read: [Option<StoredTree<'_>>; N] = [const { None }; N];
        for (side, id) in trees.iter().enumerate() {
            read[side] = id.map(|id| StoredTree::read(&odb, id)).transpose()?;
        }
        let bytes = read.each_ref().map(|one| one.as_ref().map_or(&[][..], StoredTree::bytes));
        let damaged = |NoTree| GitError::Damaged { words: format!("the folder /{at} is no tree") };
        let differing = differing(bytes).map_err(damaged)?;
        // Where one name is asked for, the thousands beside it are passed over.
        let rest = self.prefix.strip_prefix(at).unwrap_or_default();
        let only = rest.split('/').next().filter(|name| !name.is_empty());
        let mut names: BTreeMap<String, [Option<(git2::Oid, i32)>; N]> = BTreeMap::new();
        for (side, entries) in differing.into_iter().enumerate() {
            for Stored { name, mode, id } in entries {
                if only.is_some_and(|only| only.as_bytes() != name) {
                    continue;
                }
                let name = match std::str::from_utf8(name) {
                    Ok(name) => name,
                    Err(_) if self.unnameable == Unnameable::PassedOver => continue,
                    Err(_) => {
                        let path = format!("{at}{}", String::from_utf8_lossy(name));
                        return Err(GitError::BadPath { path, reason: "is not UTF-8" });
                    }
                };
                let path = format!("{at}{name}");
                if beneath(&path, self.prefix) || beneath(self.prefix, &path) {
                    names.entry(name.to_owned()).or_insert([None; N])[side] = Some((id, mode));
                }
            }
        }
        for (name, found) in names {
            if found.iter().all(|one| *one == found[0]) {
                continue;
            }
            let path = format!("{at}{name}");
            if self.part.is_some_and(|part| !part.holds(&path)) {
                continue;
            }
            let deep = path.bytes().filter(|b| *b == b'/').count() >= DEEPEST;
            self.left = match self.left.checked_sub(1).filter(|_| !deep) {
                Some(left) => left,
                None => return Err(GitError::TooManyFiles { most: MOST_ENTRIES, at: at.to_owned() }),
            };
            let folder =
                |one: Option<(git2::Oid, i32)>| one.filter(|(_, mode)| *mode == FOLDER).map(|(id, _)| id);
            let folders = found.map(folder);
            let files = found.map(|one| {
                let (id, mode) = one.filter(|(_, mode)| *mode != FOLDER)?;
                Some(Entry { kind: EntryKind::of(mode), id })
            });
            if beneath(&path, self.prefix) && files.iter().any(|file| *file != files[0]) {
                visit(path.clone(), files);
            }
            if folders.iter().any(Option::is_some) {
                self.at(folders, &format!("{path}/"), visit)?;
            }
        }
        Ok(())
    }
}
