//! The files of a book, wherever they lie: the one seam through which records, signatures and attachments are read.
//!
//! A folder on disk is one maker ([`super::BookFolder`]), a tree of the history another (the rooms above introduce it);
//! here are files in memory, and files as they would be over some that lie elsewhere. Whoever judges a book reads it
//! through [`BookFiles`], and so cannot tell them apart.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Debug;
use std::path::Path;

use super::safe_path::{LARGEST_SIGNATURE, not_a_file, too_large};
use crate::fault::{Class, Fault, Outcome};
use crate::ids::{PersonId, ProjectId};
use crate::model::kind::Kind;
use crate::paths::unsafe_paths;
use crate::words;

/// The files of a book, or of a part of it. Paths are the book's own, with `/` between the parts.
pub trait BookFiles: Debug {
    /// The names of the files and folders of one folder of the book, in order; none where it is not there.
    ///
    /// # Errors
    /// What the disk says; `read` where a file lies in the place of the folder.
    fn names(&self, folder: &str) -> Outcome<Vec<String>>;

    /// True where something lies at a path, whatever it is. Where that cannot be told, nothing counts as absent.
    ///
    /// # Errors
    /// What the disk says.
    fn lies_there(&self, path: &str) -> Outcome<bool>;

    /// The bytes of a plain file of at most so many bytes.
    ///
    /// # Errors
    /// `not-a-file`, `too-large`; `read` for what is not there or cannot be read.
    fn read(&self, path: &str, largest: u64) -> Outcome<Vec<u8>>;

    /// Every file at or beneath a folder, in order, and everything about the names and types that is wrong; nothing where
    /// it is not there.
    fn walk(&self, folder: &str) -> (Vec<String>, Vec<Fault>);

    /// The folder on disk, where the book lies in one.
    fn on_disk(&self) -> Option<&Path> {
        None
    }

    /// The signature beside a statement; none where nothing lies there that could be one.
    ///
    /// # Errors
    /// What the disk says of one that is there and cannot be read: it might hold.
    fn signature_beside(&self, statement: &str) -> Outcome<Option<Vec<u8>>> {
        let path = statement.replace(".json", ".sig");
        if !self.lies_there(&path)? {
            return Ok(None);
        }
        match self.read(&path, LARGEST_SIGNATURE) {
            Ok(bytes) => Ok(Some(bytes)),
            Err(fault) if fault.class == Class::Io => Err(fault),
            Err(_) => Ok(None),
        }
    }

    /// Every project, by name.
    ///
    /// # Errors
    /// What the disk says; a name that cannot be a project's is left to `check`.
    fn projects(&self) -> Outcome<Vec<ProjectId>> {
        let mut projects = Vec::new();
        for name in self.names("projects")? {
            if let Ok(id) = name.parse()
                && self.lies_there(&format!("projects/{name}/project.json"))?
            {
                projects.push(id);
            }
        }
        projects.sort();
        Ok(projects)
    }

    /// The folder of a project that must be there.
    ///
    /// # Errors
    /// `unknown-project`, with the nearest names.
    fn project(&self, id: &ProjectId) -> Outcome<String> {
        let path = format!("projects/{id}");
        if self.lies_there(&format!("{path}/project.json"))? {
            return Ok(path);
        }
        let known = self.projects()?;
        let remedy = words::instead_of(
            id.as_str(),
            known.iter().map(ProjectId::as_str),
            "open one: underlit open NAME --title … --client … --site …",
        );
        Err(Box::new(
            Fault::usage("unknown-project", format!("there is no project {id} in this book")).fix(remedy),
        ))
    }

    /// The paths of the files of one kind directly in a folder, in order.
    ///
    /// # Errors
    /// What the disk says.
    fn files_of(&self, folder: &str, kind: Kind) -> Outcome<Vec<String>> {
        let paths = self.names(folder)?.into_iter().map(|name| format!("{folder}/{name}"));
        Ok(paths.filter(|path| Kind::of_path(path) == Some(kind)).collect())
    }

    /// The roster versions that are there, in order of their numbers.
    ///
    /// # Errors
    /// What the disk says.
    fn roster_versions(&self) -> Outcome<Vec<u32>> {
        let files = self.files_of("roster", Kind::Roster)?;
        let number = |file: &String| file.strip_prefix("roster/")?.strip_suffix(".json")?.parse().ok();
        Ok(files.iter().filter_map(number).collect())
    }

    /// The people whose signatures lie beside a roster version.
    ///
    /// # Errors
    /// What the disk says.
    fn roster_signers(&self, version: u32) -> Outcome<Vec<PersonId>> {
        let prefix = format!("roster/{version:04}.");
        let files = self.files_of("roster", Kind::RosterSignature)?;
        let person = |file: &String| file.strip_prefix(prefix.as_str())?.strip_suffix(".sig")?.parse().ok();
        Ok(files.iter().filter_map(person).collect())
    }
}

/// Files by their paths, for whoever knows all of them: a tree, a memory, an overlay.
#[derive(Clone, Debug, Default)]
pub(crate) struct Listing<T>(pub BTreeMap<String, T>);

impl<T> Listing<T> {
    /// Every path at or beneath a folder.
    fn beneath<'l>(&'l self, folder: &'l str) -> impl Iterator<Item = &'l str> {
        let prefix = if folder.is_empty() { String::new() } else { format!("{folder}/") };
        let all = self.0.range(prefix.clone()..).map(|(path, _)| path.as_str());
        all.take_while(move |path| path.starts_with(&prefix))
    }

    /// As [`BookFiles::names`].
    ///
    /// # Errors
    /// `read`, where a file lies in the place of the folder.
    pub(crate) fn names(&self, folder: &str) -> Outcome<Vec<String>> {
        if self.0.contains_key(folder) {
            let fault =
                Fault::data("read", "cannot read: a file lies where a folder belongs").in_file(folder);
            return Err(Box::new(fault.fix("move it out of the book")));
        }
        let skip = if folder.is_empty() { 0 } else { folder.len() + 1 };
        let names: BTreeSet<&str> =
            self.beneath(folder).filter_map(|path| path.get(skip..)?.split('/').next()).collect();
        Ok(names.into_iter().map(str::to_owned).collect())
    }

    /// As [`BookFiles::lies_there`].
    #[must_use]
    pub(crate) fn lies_there(&self, path: &str) -> bool {
        self.0.contains_key(path) || self.beneath(path).next().is_some()
    }

    /// As [`BookFiles::walk`].
    #[must_use]
    pub(crate) fn walk(&self, folder: &str) -> (Vec<String>, Vec<Fault>) {
        let files: Vec<String> = self.beneath(folder).map(str::to_owned).collect();
        let found = unsafe_paths(files.iter().map(String::as_str));
        let faults = found.iter().map(|one| one.fault("rename it with a-z, 0-9 and -, or take it out"));
        (files, faults.collect())
    }

    /// What is known of the file at a path.
    ///
    /// # Errors
    /// `not-a-file` for a folder, `read` where nothing lies there.
    pub(crate) fn get(&self, path: &str) -> Outcome<&T> {
        self.0.get(path).ok_or_else(|| {
            if self.beneath(path).next().is_some() {
                return Box::new(not_a_file(path));
            }
            Box::new(
                Fault::data("read", "cannot read: there is no such file")
                    .in_file(path)
                    .fix("check the name, or take the file from the history: git log --all -- FILE"),
            )
        })
    }
}

/// Files in memory.
pub(crate) type Memory = Listing<Vec<u8>>;

impl BookFiles for Memory {
    fn names(&self, folder: &str) -> Outcome<Vec<String>> {
        self.names(folder)
    }

    fn lies_there(&self, path: &str) -> Outcome<bool> {
        Ok(self.lies_there(path))
    }

    fn read(&self, path: &str, largest: u64) -> Outcome<Vec<u8>> {
        let bytes = self.get(path)?;
        if bytes.len() as u64 > largest {
            return Err(Box::new(too_large(path, bytes.len() as u64, largest)));
        }
        Ok(bytes.clone())
    }

    fn walk(&self, folder: &str) -> (Vec<String>, Vec<Fault>) {
        self.walk(folder)
    }
}

/// Files as they are about to be, by path; none where one is about to go.
pub(crate) type Edits = BTreeMap<String, Option<Vec<u8>>>;

/// A folder of a book with some files as they are about to be, over those that lie there.
#[derive(Debug)]
pub(crate) struct Overlay<'f> {
    under: &'f dyn BookFiles,
    edits: &'f Edits,
    files: Listing<()>,
}

impl<'f> Overlay<'f> {
    /// One folder of a book as it would be. What lies there and is no file (a link, a device) is left out of it.
    #[must_use]
    pub(crate) fn of(under: &'f dyn BookFiles, folder: &str, edits: &'f Edits) -> Self {
        let (there, _) = under.walk(folder);
        let mut files: BTreeMap<String, ()> = there.into_iter().map(|path| (path, ())).collect();
        for (path, bytes) in edits {
            match bytes {
                Some(_) => files.insert(path.clone(), ()),
                None => files.remove(path),
            };
        }
        Overlay { under, edits, files: Listing(files) }
    }
}

impl BookFiles for Overlay<'_> {
    fn names(&self, folder: &str) -> Outcome<Vec<String>> {
        self.files.names(folder)
    }

    fn lies_there(&self, path: &str) -> Outcome<bool> {
        Ok(self.files.lies_there(path))
    }

    fn read(&self, path: &str, largest: u64) -> Outcome<Vec<u8>> {
        self.files.get(path)?;
        match self.edits.get(path) {
            Some(Some(bytes)) if bytes.len() as u64 > largest => {
                Err(Box::new(too_large(path, bytes.len() as u64, largest)))
            }
            Some(Some(bytes)) => Ok(bytes.clone()),
            _ => self.under.read(path, largest),
        }
    }

    fn walk(&self, folder: &str) -> (Vec<String>, Vec<Fault>) {
        self.files.walk(folder)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn memory(files: &[(&str, &str)]) -> Memory {
        let bytes = files.iter().map(|(path, text)| ((*path).to_owned(), text.as_bytes().to_vec()));
        Listing(bytes.collect())
    }

    /// Everything that a reader can ask of some files.
    fn told(files: &dyn BookFiles, folders: &[&str], paths: &[&str]) -> Vec<String> {
        let mut all = Vec::new();
        for folder in folders {
            all.push(format!("{folder}: {:?} {:?}", files.names(folder), files.walk(folder)));
        }
        for path in paths {
            let bytes = files.read(path, 4).map_err(|fault| fault.code);
            all.push(format!("{path}: {:?} {bytes:?}", files.lies_there(path)));
        }
        all
    }

    #[test]
    fn memory_and_overlay_answer_as_a_folder_does() {
        let files =
            [("projects/a/project.json", "{}"), ("projects/a-b/x.json", "long text"), ("book.json", "1")];
        let kept = memory(&files);
        let place = tempfile::tempdir().expect("a folder");
        for (path, text) in files {
            let full = place.path().join(path);
            std::fs::create_dir_all(full.parent().expect("a parent")).expect("made");
            std::fs::write(full, text).expect("written");
        }
        let folder = super::super::BookFolder::at(place.path().to_path_buf());
        let folders = ["", "projects", "projects/a", "projects/a-b", "projects/none", "roster"];
        let paths = ["book.json", "projects", "projects/a", "projects/a-b/x.json", "projects/a/none.json"];
        assert_eq!(told(&kept, &folders, &paths), told(&folder, &folders, &paths));
        let nothing = Edits::new();
        assert_eq!(
            told(&Overlay::of(&folder, "", &nothing), &folders, &paths),
            told(&kept, &folders, &paths)
        );
        assert_eq!(
            folder.names("book.json").map_err(|f| f.code),
            kept.names("book.json").map_err(|f| f.code)
        );
        // A file that goes takes its empty folder along; one that comes brings its own.
        let edits = Edits::from([
            ("projects/a/project.json".to_owned(), None),
            ("projects/c/project.json".to_owned(), Some(b"new".to_vec())),
            ("book.json".to_owned(), Some(b"2".to_vec())),
        ]);
        let would_be = Overlay::of(&folder, "", &edits);
        assert_eq!(would_be.names("projects").expect("names"), ["a-b", "c"]);
        assert!(!would_be.lies_there("projects/a").expect("told"));
        assert_eq!(would_be.read("projects/a/project.json", 4).map_err(|f| f.code), Err("read"));
        assert_eq!(would_be.read("book.json", 4).expect("read"), b"2");
        assert_eq!(would_be.read("projects/c/project.json", 2).map_err(|f| f.code), Err("too-large"));
        assert_eq!(told(&memory(&[]), &[""], &["x"]), [": Ok([]) ([], [])", "x: Ok(false) Err(\"read\")"]);
    }
}
