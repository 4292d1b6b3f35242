//! A project as it would be: laid out in a temporary folder with changes in it, so that it is judged by the very code
//! that judges a book, before anything is written.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use super::chain::Chain;
use super::check;
use crate::fault::{Fault, Outcome};
use crate::model::id::ProjectId;
use crate::model::rules::Rules;
use crate::store::{BookFolder, safe_path};

/// Files as they are about to be, over those that lie there; none where one is about to go.
pub type Overlay = BTreeMap<String, Option<Vec<u8>>>;

/// A project in a temporary folder, gone when this is dropped.
#[derive(Debug)]
pub struct WouldBe<'b> {
    folder: tempfile::TempDir,
    id: &'b ProjectId,
    chain: &'b Chain,
    rules: &'b Rules,
    /// What is wrong already, which no change is blamed for.
    before: Vec<Fault>,
}

impl<'b> WouldBe<'b> {
    /// Lays a project out as it is.
    ///
    /// # Errors
    /// What the disk says.
    pub fn of(book: &BookFolder, id: &'b ProjectId, chain: &'b Chain, rules: &'b Rules) -> Outcome<Self> {
        let io = |e: std::io::Error| Box::new(safe_path::io_fault("a temporary folder", "write", &e));
        let folder = tempfile::tempdir().map_err(io)?;
        let prefix = format!("projects/{id}");
        // Links and devices are no files of a book; `check` tells of them.
        let (files, _) = safe_path::walk(&book.root().join(&prefix));
        for file in files {
            let path = format!("{prefix}/{file}");
            put(
                folder.path(),
                &path,
                &safe_path::read_plain(book.root(), &path, safe_path::LARGEST_ATTACHMENT)?,
            )
            .map_err(io)?;
        }
        let mut laid = WouldBe { folder, id, chain, rules, before: Vec::new() };
        laid.before = laid.judged();
        Ok(laid)
    }

    fn judged(&self) -> Vec<Fault> {
        let book = BookFolder::at(self.folder.path().to_path_buf());
        if !self.folder.path().join(format!("projects/{}", self.id)).exists() {
            return Vec::new();
        }
        check::project(&book, self.id, self.chain, self.rules)
    }

    /// What would be wrong with changes in it that is not wrong without them.
    ///
    /// # Errors
    /// What the disk says.
    pub fn faults(&self, changes: &Overlay) -> Outcome<Vec<Fault>> {
        let root = self.folder.path();
        let io = |e: std::io::Error| Box::new(safe_path::io_fault("a temporary folder", "write", &e));
        let mut undo: Vec<(&String, Option<Vec<u8>>)> = Vec::new();
        for (path, bytes) in changes {
            undo.push((path, fs::read(root.join(path)).ok()));
            set(root, path, bytes.as_deref()).map_err(io)?;
        }
        let sweep = format!("projects/{}", self.id);
        if changes.get(&format!("{sweep}/project.json")).is_some_and(Option::is_none) {
            remove_empty(&root.join(&sweep));
        }
        let mut found = self.judged();
        for (path, bytes) in undo {
            set(root, path, bytes.as_deref()).map_err(io)?;
        }
        let alike = |a: &Fault, b: &Fault| (a.code, &a.file, &a.message) == (b.code, &b.file, &b.message);
        found.retain(|fault| !self.before.iter().any(|known| alike(known, fault)));
        Ok(found)
    }
}

fn set(root: &Path, path: &str, bytes: Option<&[u8]>) -> std::io::Result<()> {
    match bytes {
        Some(bytes) => put(root, path, bytes),
        None => match fs::remove_file(root.join(path)) {
            Err(e) if e.kind() != std::io::ErrorKind::NotFound => Err(e),
            _ => Ok(()),
        },
    }
}

fn put(root: &Path, path: &str, bytes: &[u8]) -> std::io::Result<()> {
    let full = root.join(path);
    if let Some(parent) = full.parent() {
        fs::create_dir_all(parent)?;
    }
    fs::write(full, bytes)
}

/// Takes out folders that hold nothing, at or beneath one.
pub fn remove_empty(folder: &Path) {
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        if entry.path().is_dir() {
            remove_empty(&entry.path());
        }
    }
    // One that holds something stays.
    let _ = fs::remove_dir(folder);
}
