//! Lays a tree of the history out in a temporary folder, so that what is judged there is judged by the very code
//! that judges a book on disk. Nothing but plain files under plain names is written.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;

use crate::fault::Fault;
use crate::git::{EntryKind, Snapshot, TreeFile, unsafe_files};
use crate::store::{BookFolder, safe_path};

/// A tree as a folder, gone when this is dropped.
#[derive(Debug)]
pub struct LaidOut {
    folder: tempfile::TempDir,
    /// The book in it.
    pub book: BookFolder,
}

impl LaidOut {
    /// The folder.
    #[must_use]
    pub fn path(&self) -> &std::path::Path {
        self.folder.path()
    }
}

/// The most that is laid out at once, in bytes.
const MOST: u64 = 2 << 30;

/// The most files that a project may have: people make a few hundred.
const MOST_FILES: usize = 20_000;

/// What every judgement needs beside the projects.
pub const SHOP: [&str; 5] = ["book.json", "rules.json", "roster", "shop", "conflicts"];

/// Lays out what lies at or beneath some prefixes; the empty prefix is the whole book.
///
/// # Errors
/// `unsafe-path` for every path among them that is no plain file or that some system cannot tell from another,
/// `too-large`, and what the disk or git says. Nothing is left behind then.
pub fn lay_out(tree: &Snapshot<'_>, prefixes: &BTreeSet<String>) -> Result<LaidOut, Vec<Fault>> {
    let io = |e: std::io::Error| vec![safe_path::scratch_fault(&e)];
    let mut files = Vec::new();
    for prefix in prefixes {
        files.extend(tree.files(prefix)?);
    }
    files.sort_by(|a, b| a.path.cmp(&b.path));
    files.dedup();
    let found: Vec<Fault> = unsafe_files(&files)
        .iter()
        .map(|one| one.fault("let whoever brought it take it out, or rename it to what it is"))
        .collect();
    if !found.is_empty() {
        return Err(found);
    }
    if let Some(fault) = too_many(&files) {
        return Err(vec![fault]);
    }
    let folder = tempfile::tempdir().map_err(io)?;
    let mut room = MOST;
    for file in files {
        let size = tree.size(file.entry)? as u64;
        room = room.saturating_sub(size);
        if file.entry.kind != EntryKind::File || size > safe_path::LARGEST_ATTACHMENT || room == 0 {
            let message =
                format!("the file has {size} bytes; at most {} are read", safe_path::LARGEST_ATTACHMENT);
            return Err(vec![
                Fault::data("too-large", message).in_file(file.path).fix("keep large files outside the book"),
            ]);
        }
        let full = folder.path().join(&file.path);
        if let Some(parent) = full.parent() {
            fs::create_dir_all(parent).map_err(io)?;
        }
        fs::write(full, tree.bytes(file.entry)?).map_err(io)?;
    }
    let book = BookFolder::at(folder.path().to_path_buf());
    Ok(LaidOut { folder, book })
}

/// A project that has more files than one may.
fn too_many(files: &[TreeFile]) -> Option<Fault> {
    let mut of_projects: BTreeMap<&str, usize> = BTreeMap::new();
    for file in files {
        let mut parts = file.path.splitn(3, '/');
        if let (Some("projects"), Some(id)) = (parts.next(), parts.next()) {
            *of_projects.entry(id).or_default() += 1;
        }
    }
    let (id, count) = of_projects.into_iter().find(|(_, count)| *count > MOST_FILES)?;
    let message = format!("this project has {count} files; a project may have {MOST_FILES}");
    Some(Fault::data("too-many-files", message).in_file(format!("projects/{id}")).fix(
        "remove what no record names, in a new commit; a job of that size is opened as several projects",
    ))
}

/// Lays out the shop, the roster and some projects.
///
/// # Errors
/// As [`lay_out`].
pub fn lay_out_projects<'a>(
    tree: &Snapshot<'_>,
    projects: impl Iterator<Item = &'a str>,
) -> Result<LaidOut, Vec<Fault>> {
    let mut prefixes: BTreeSet<String> = SHOP.iter().map(ToString::to_string).collect();
    prefixes.extend(projects.map(|id| format!("projects/{id}")));
    lay_out(tree, &prefixes)
}
