//! A tree of the history, read like any other book: each file where it lies in git, one at a time. Nothing but plain
//! files under plain names, of a size and number that people make, is ever read.

use std::collections::{BTreeMap, BTreeSet};

use crate::fault::{Fault, Outcome};
use crate::git::{Entry, EntryKind, GitError, PathChange, Snapshot, TreeFile, unsafe_files};
use crate::ids::ProjectId;
use crate::model::kind::Kind;
use crate::store::files::{BookFiles, Listing};
use crate::store::{Memory, safe_path};

/// What every judgement needs beside the projects.
pub const SHOP: [&str; 5] = ["book.json", "rules.json", "roster", "shop", "conflicts"];

/// The most files that a project may have: people make a few hundred.
const MOST_FILES: usize = 20_000;

/// A part of a tree.
#[derive(Debug)]
pub struct TreeFiles<'t, 'r> {
    tree: &'t Snapshot<'r>,
    files: Listing<Entry>,
}

impl<'t, 'r> TreeFiles<'t, 'r> {
    /// What lies at or beneath some paths of a tree; the empty path is the whole book.
    ///
    /// # Errors
    /// `unsafe-path` for every path among them that is no plain file or that some system cannot tell from another,
    /// `too-large`, `too-many-files`, and what git says.
    pub fn of(tree: &'t Snapshot<'r>, paths: &[&str]) -> Result<Self, Vec<Fault>> {
        let mut files: Vec<TreeFile> = Vec::new();
        for path in paths {
            files.extend(tree.files(path)?);
        }
        files.sort_by(|a, b| a.path.cmp(&b.path));
        files.dedup();
        let found: Vec<Fault> = unsafe_files(&files)
            .iter()
            .map(|one| one.fault("let whoever brought it take it out, or give it its right name"))
            .collect();
        if !found.is_empty() {
            return Err(found);
        }
        if let Some(fault) = too_many(&files) {
            return Err(vec![fault]);
        }
        for file in &files {
            let size = tree.size(file.entry)? as u64;
            if size > safe_path::LARGEST_ATTACHMENT || file.entry.kind != EntryKind::File {
                return Err(vec![safe_path::too_large(&file.path, size, safe_path::LARGEST_ATTACHMENT)]);
            }
        }
        let files = files.into_iter().map(|file| (file.path, file.entry));
        Ok(TreeFiles { tree, files: Listing(files.collect()) })
    }

    /// What some changes are judged by: the whole folder of each project in which something changed, and of the rest of
    /// the book what lies beside it.
    ///
    /// # Errors
    /// As [`TreeFiles::of`].
    pub(crate) fn of_changes(tree: &'t Snapshot<'r>, changes: &[PathChange]) -> Result<Self, Vec<Fault>> {
        let known = changes.iter().filter(|change| Kind::of_path(&change.path).is_some());
        let place = |change: &PathChange| match ProjectId::of_path(&change.path) {
            Some(id) => format!("projects/{id}"),
            None => change.path.split('/').next().unwrap_or_default().to_owned(),
        };
        let places: BTreeSet<String> = known.map(place).collect();
        Self::of(tree, &places.iter().map(String::as_str).collect::<Vec<_>>())
    }

    /// The same files in memory, for whoever lets the tree go.
    ///
    /// # Errors
    /// What git says.
    pub(crate) fn into_memory(self) -> Outcome<Memory> {
        let bytes = self.files.0.into_iter().map(|(path, entry)| Ok((path, self.tree.bytes(entry)?)));
        Ok(Listing(bytes.collect::<Result<BTreeMap<_, _>, GitError>>()?))
    }
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

impl BookFiles for TreeFiles<'_, '_> {
    fn names(&self, folder: &str) -> Outcome<Vec<String>> {
        self.files.names(folder)
    }

    fn lies_there(&self, path: &str) -> Outcome<bool> {
        Ok(self.files.lies_there(path))
    }

    fn read(&self, path: &str, largest: u64) -> Outcome<Vec<u8>> {
        let entry = *self.files.get(path)?;
        let size = self.tree.size(entry)? as u64;
        if size > largest {
            return Err(Box::new(safe_path::too_large(path, size, largest)));
        }
        Ok(self.tree.bytes(entry)?)
    }

    fn walk(&self, folder: &str) -> (Vec<String>, Vec<Fault>) {
        self.files.walk(folder)
    }
}
