//! Files of a tree that could harm some clone: kinds that no book holds, and paths that `paths` judges.

use super::{EntryKind, TreeFile};
use crate::paths::{REPOSITORY, UnsafePath, unsafe_paths};

/// What is wrong with an entry that is no plain file.
pub(crate) fn odd_kind(kind: EntryKind) -> Option<&'static str> {
    match kind {
        EntryKind::File => None,
        EntryKind::Link => Some("is a symbolic link"),
        EntryKind::Submodule => Some(REPOSITORY),
        EntryKind::Executable => Some("is marked as a program"),
    }
}

/// Finds the entries that are no plain files in a whole tree, by path in byte order, as [`super::Snapshot::files`] gives it.
#[must_use]
pub fn unsafe_files(files: &[TreeFile]) -> Vec<UnsafePath> {
    let odd = |file: &TreeFile| Some(UnsafePath::new(&file.path, odd_kind(file.entry.kind)?));
    let mut found: Vec<UnsafePath> = files.iter().filter_map(odd).collect();
    found.extend(unsafe_paths(files.iter().map(|file| file.path.as_str())));
    found.sort_by(|a, b| a.path.cmp(&b.path));
    found
}
