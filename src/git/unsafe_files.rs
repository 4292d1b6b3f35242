//! Files of a tree that could harm some clone: kinds that no book holds, and paths that `paths` judges.

use super::{EntryKind, TreeFile};
use crate::paths::{UnsafePath, unsafe_paths};

/// What is wrong with an entry that is no plain file.
pub(crate) fn odd_kind(kind: EntryKind) -> Option<&'static str> {
    match kind {
        EntryKind::File => None,
        EntryKind::Link => Some("is a symbolic link"),
        EntryKind::Submodule => Some("is a repository of its own"),
        EntryKind::Executable => Some("is marked as a program"),
    }
}

/// Finds such files in a whole tree, by path in byte order, as [`super::Snapshot::files`] gives it.
#[must_use]
pub fn unsafe_files(files: &[TreeFile]) -> Vec<UnsafePath> {
    let odd = files.iter().filter_map(|f| Some(UnsafePath::new(&f.path, odd_kind(f.entry.kind)?)));
    let mut found: Vec<UnsafePath> = odd.collect();
    found.extend(unsafe_paths(files.iter().map(|file| file.path.as_str())));
    found.sort_by(|a, b| a.path.cmp(&b.path));
    found
}
