//! Trees of the history compared, entry by entry. Equal folders are never opened.

use std::collections::BTreeMap;

use super::GitError;
use super::Part;
use super::name::beneath;
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
    Walk::of(git, prefix, None).at(trees, "", visit)
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

    /// Visits every file beneath a folder that is not the same in all of its trees.
    ///
    /// # Errors
    /// As [`walk`].
    pub(super) fn at<const N: usize>(
        &mut self,
        trees: [Option<&git2::Tree<'_>>; N],
        at: &str,
        visit: &mut dyn FnMut(String, [Option<Entry>; N]),
    ) -> Result<(), GitError> {
        let ids = trees.map(|tree| tree.map(git2::Tree::id));
        if ids.iter().all(|id| *id == ids[0]) {
            return Ok(());
        }
        let (first, last) = alike_at_ends(trees);
        let mut names: BTreeMap<String, [Option<(git2::Oid, i32)>; N]> = BTreeMap::new();
        for (side, tree) in trees.iter().enumerate() {
            let between = tree.map_or(0..0, |tree| first..tree.len() - last);
            for entry in between.filter_map(|at| tree.as_ref()?.get(at)) {
                let name = match std::str::from_utf8(entry.name_bytes()) {
                    Ok(name) => name,
                    Err(_) if self.unnameable == Unnameable::PassedOver => continue,
                    Err(_) => {
                        let path = format!("{at}{}", String::from_utf8_lossy(entry.name_bytes()));
                        return Err(GitError::BadPath { path, reason: "is not UTF-8" });
                    }
                };
                let path = format!("{at}{name}");
                if beneath(&path, self.prefix) || beneath(self.prefix, &path) {
                    names.entry(name.to_owned()).or_insert([None; N])[side] =
                        Some((entry.id(), entry.filemode()));
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
            let is_folder = |one: &Option<(git2::Oid, i32)>| one.is_some_and(|(_, mode)| mode == 0o040_000);
            let files = found.map(|one| match one {
                Some((id, mode)) if mode != 0o040_000 => Some(Entry { kind: EntryKind::of(mode), id }),
                _ => None,
            });
            if beneath(&path, self.prefix) && files.iter().any(|file| *file != files[0]) {
                visit(path.clone(), files);
            }
            if found.iter().any(is_folder) {
                let mut folders: [Option<git2::Tree<'_>>; N] = [const { None }; N];
                for (side, one) in found.iter().enumerate() {
                    if let Some((id, 0o040_000)) = one {
                        folders[side] = Some(self.git.find_tree(*id)?);
                    }
                }
                self.at(folders.each_ref().map(Option::as_ref), &format!("{path}/"), visit)?;
            }
        }
        Ok(())
    }
}

/// How many entries are the same in all trees at their beginning, and how many at their end. Of a folder of thousands, one
/// commit changes one or two: the others need no look at their names.
fn alike_at_ends<const N: usize>(trees: [Option<&git2::Tree<'_>>; N]) -> (usize, usize) {
    let counts = trees.map(|tree| tree.map_or(0, git2::Tree::len));
    let least = counts.into_iter().min().unwrap_or(0);
    let alike = |places: [usize; N]| {
        let mut entries = trees.iter().zip(places).map(|(tree, at)| tree.as_ref()?.get(at));
        let Some(Some(one)) = entries.next() else { return false };
        entries.flatten().all(|other| {
            other.id() == one.id()
                && other.filemode() == one.filemode()
                && other.name_bytes() == one.name_bytes()
        })
    };
    let first = (0..least).take_while(|at| alike([*at; N])).count();
    let last = (0..least - first).take_while(|at| alike(counts.map(|count| count - 1 - at))).count();
    (first, last)
}
