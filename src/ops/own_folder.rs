//! A folder on somebody's disk that this program fills again and again: a pack, or the pages of a book.
//!
//! The folder may have come from anybody. Nothing is written or removed through a link, and nothing is removed or
//! replaced that this program did not write: a file counts as its own where its bytes are those that the folder's own
//! list states.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use crate::digest::Sha256Digest;
use crate::fault::{Fault, Outcome};
use crate::model::kind::WRITING;
use crate::store::safe_path::{LARGEST_ATTACHMENT, io_fault, read_plain};
use crate::store::write::write_whole;

/// With what a folder is filled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Filling {
    /// The build pack of a job.
    Pack,
    /// The pages of a book.
    Pages,
}

impl Filling {
    fn name(self) -> &'static str {
        match self {
            Filling::Pack => "pack",
            Filling::Pages => "pages",
        }
    }

    fn code(self) -> &'static str {
        match self {
            Filling::Pack => "not-of-the-pack",
            Filling::Pages => "not-of-the-pages",
        }
    }

    fn where_it_is_named(self) -> &'static str {
        match self {
            Filling::Pack => " with --into",
            Filling::Pages => "",
        }
    }
}

/// Such a folder, with the files in it that are its own.
#[derive(Clone, Debug)]
pub(crate) struct OwnFolder {
    folder: PathBuf,
    filling: Filling,
    /// By path, what a file may hold that is its own.
    own: BTreeMap<String, BTreeSet<Sha256Digest>>,
}

impl OwnFolder {
    /// A folder of which nothing is known yet.
    #[must_use]
    pub(crate) fn of(folder: &Path, filling: Filling) -> Self {
        OwnFolder { folder: folder.to_path_buf(), filling, own: BTreeMap::new() }
    }

    /// True for a folder that is not there or is empty; what a killed run was writing does not count and is taken out.
    ///
    /// # Errors
    /// `link-in-the-way`; what the disk says.
    pub(crate) fn is_new(&self) -> Outcome<bool> {
        let name = self.folder.display().to_string();
        let io = |e: std::io::Error| Box::new(io_fault(&name, "read", &e));
        match fs::symlink_metadata(&self.folder) {
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(true),
            Err(e) => return Err(io(e)),
            Ok(meta) if meta.is_symlink() => return Err(Box::new(self.link(&self.folder))),
            Ok(_) => {}
        }
        let mut new = true;
        for entry in fs::read_dir(&self.folder).map_err(io)? {
            let entry = entry.map_err(io)?;
            if entry.file_name().to_string_lossy().starts_with(WRITING) {
                let _ = fs::remove_file(entry.path());
            } else {
                new = false;
            }
        }
        Ok(new)
    }

    /// Why a folder is not filled in which other things lie.
    #[must_use]
    pub(crate) fn foreign(&self, than: &str) -> Box<Fault> {
        let (name, named) = (self.folder.display(), self.filling.where_it_is_named());
        let fault = Fault::usage("folder-not-empty", format!("{name} holds other things than {than}"));
        Box::new(fault.fix(format!("name a new or empty folder{named}")))
    }

    /// Counts a file as its own where it has these bytes.
    pub(crate) fn owns(&mut self, path: &str, digest: Sha256Digest) {
        self.own.entry(path.to_owned()).or_default().insert(digest);
    }

    /// The files that may be its own.
    pub(crate) fn paths(&self) -> impl Iterator<Item = &str> {
        self.own.keys().map(String::as_str)
    }

    /// True where a file lies there with these bytes.
    #[must_use]
    pub(crate) fn has(&self, path: &str, digest: &Sha256Digest) -> bool {
        self.linked(path).is_none() && self.lies_there(path).as_ref() == Some(digest)
    }

    fn lies_there(&self, path: &str) -> Option<Sha256Digest> {
        read_plain(&self.folder, path, LARGEST_ATTACHMENT).ok().map(|bytes| Sha256Digest::of(&bytes))
    }

    /// Asks whether files may be replaced or removed: they are not there, or its own.
    ///
    /// # Errors
    /// `link-in-the-way`; `not-of-the-pack` or `not-of-the-pages` where a file there is not its own.
    pub(crate) fn may_change<'p>(&self, paths: impl Iterator<Item = &'p str>) -> Result<(), Vec<Fault>> {
        let wrong: Vec<Fault> = paths.filter_map(|path| self.in_the_way(path)).collect();
        if wrong.is_empty() { Ok(()) } else { Err(wrong) }
    }

    /// Takes a file out.
    ///
    /// # Errors
    /// What the disk says.
    pub(crate) fn remove(&self, path: &str) -> Outcome<()> {
        let full = self.folder.join(path);
        match fs::remove_file(&full) {
            Err(e) if e.kind() != std::io::ErrorKind::NotFound => {
                Err(Box::new(io_fault(&full.display().to_string(), "remove", &e)))
            }
            _ => {
                // A folder of which nothing is left goes with its last file.
                if let Some(parent) = full.parent().filter(|_| path.contains('/')) {
                    let _ = fs::remove_dir(parent);
                }
                Ok(())
            }
        }
    }

    /// Writes a file whole, and the folders above it.
    ///
    /// # Errors
    /// `link-in-the-way`; what the disk says.
    pub(crate) fn put(&self, path: &str, bytes: &[u8]) -> Outcome<()> {
        let full = self.folder.join(path);
        let io =
            |at: &Path, doing, e: &std::io::Error| Box::new(io_fault(&at.display().to_string(), doing, e));
        if let Some(parent) = full.parent() {
            fs::create_dir_all(parent).map_err(|e| io(parent, "make", &e))?;
        }
        // Asked once more right before: whoever else writes here may have put a link there meanwhile.
        if let Some(fault) = self.linked(path) {
            return Err(Box::new(fault));
        }
        write_whole(&full, bytes).map_err(|e| io(&full, "write", &e))
    }

    /// Why a file of the folder may be neither replaced nor removed; none where it may, or is not there.
    fn in_the_way(&self, path: &str) -> Option<Fault> {
        if let Some(fault) = self.linked(path) {
            return Some(fault);
        }
        let full = self.folder.join(path);
        if fs::symlink_metadata(&full).is_err_and(|e| e.kind() == std::io::ErrorKind::NotFound) {
            return None;
        }
        let own = self.own.get(path);
        if own.is_some_and(|own| self.lies_there(path).is_some_and(|here| own.contains(&here))) {
            return None;
        }
        let message = format!(
            "this file is not as the earlier {} had it, so it is not replaced or removed; nothing was changed",
            self.filling.name()
        );
        let named = self.filling.where_it_is_named();
        let fix =
            format!("move it elsewhere and run the command again, or name a new or empty folder{named}");
        Some(Fault::usage(self.filling.code(), message).in_file(full.display().to_string()).fix(fix))
    }

    /// The link on the way to a file of the folder.
    fn linked(&self, path: &str) -> Option<Fault> {
        let mut full = self.folder.clone();
        std::iter::once("").chain(path.split('/')).find_map(|part| {
            full.push(part);
            fs::symlink_metadata(&full).is_ok_and(|meta| meta.is_symlink()).then(|| self.link(&full))
        })
    }

    fn link(&self, path: &Path) -> Fault {
        let (name, named) = (self.filling.name(), self.filling.where_it_is_named());
        let message = format!("this is a link, and {name} files are never written or removed through one");
        Fault::usage("link-in-the-way", format!("{message}; nothing was changed"))
            .in_file(path.display().to_string())
            .fix(format!("name the folder itself{named}, or remove the link"))
    }
}
