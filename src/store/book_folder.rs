//! Finds a book on disk and reads what lies in it.

use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use super::files::BookFiles;
use super::safe_path::{io_fault, lies_there, not_a_name, read_plain, refuse_links, walk_in};
use crate::fault::{Fault, Means, Outcome};
use crate::ids::ProjectId;
use crate::parallel::in_parallel;

/// The folder of a book.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BookFolder {
    root: PathBuf,
}

impl BookFolder {
    /// The book in which a folder lies: the nearest folder upward that holds `book.json`.
    ///
    /// # Errors
    /// `not-a-book`.
    pub fn find(from: &Path) -> Outcome<Self> {
        let from = fs::canonicalize(from).map_err(|e| match e.kind() {
            ErrorKind::NotFound | ErrorKind::NotADirectory => {
                Fault::usage("not-a-book", format!("{} cannot be opened: {e}", from.display()))
                    .fix("name a folder that exists")
            }
            _ => io_fault(&from.display().to_string(), "read", &e),
        })?;
        let mut found = None;
        for folder in from.ancestors() {
            let file = folder.join("book.json");
            match fs::metadata(&file) {
                Ok(meta) if meta.is_file() => {
                    found = Some(folder);
                    break;
                }
                Ok(_) => {}
                Err(e) if matches!(e.kind(), ErrorKind::NotFound | ErrorKind::NotADirectory) => {}
                Err(e) => return Err(Box::new(io_fault(&file.display().to_string(), "read", &e))),
            }
        }
        found
            .map(|root| BookFolder { root: root.to_path_buf() })
            .ok_or_else(|| {
                if ["HEAD", "objects", "refs"].iter().all(|name| from.join(name).exists()) {
                    let message = format!("{} is a bare repository: a book is shared through it, and nobody works in it", from.display());
                    let remedy = format!("make a clone to work in: underlit join {} DIR; `underlit verify` proves the book from here", from.display());
                    return Box::new(Fault::usage("bare-repository", message).fix(remedy));
                }
                Box::new(
                    Fault::usage("not-a-book", format!("{} is not in a book: there is no book.json here or above", from.display()))
                        .fix("go into the book's folder, or name it with --book DIR; `underlit init DIR` makes a new book, `underlit join URL DIR` fetches one"),
                )
            })
    }

    /// A book that is known to lie at a folder.
    #[must_use]
    pub fn at(root: PathBuf) -> Self {
        BookFolder { root }
    }

    /// The folder.
    #[must_use]
    pub(crate) fn root(&self) -> &Path {
        &self.root
    }

    /// As [`BookFiles::walk`], without what lies in some folders.
    pub(crate) fn walk_past(&self, folder: &str, past: &dyn Fn(&str) -> bool) -> (Vec<String>, Vec<Fault>) {
        walk_in(&self.root, folder, past)
    }

    /// What lies among the projects and is none, though it looks like one: a folder that was renamed, or lost its record.
    /// Some projects are known to be there, in order.
    ///
    /// # Errors
    /// What the disk says.
    pub(crate) fn lost_projects(&self, there: &[&ProjectId]) -> Outcome<Vec<Fault>> {
        let mut lost = Vec::new();
        let known = |name: &String| there.binary_search_by(|id| id.as_str().cmp(name)).is_ok();
        for name in self.names("projects")?.into_iter().filter(|name| !known(name)) {
            let path = format!("projects/{name}");
            let record = lies_there(&self.root, &format!("{path}/project.json"))?;
            let named = name.parse::<ProjectId>().is_ok();
            let folder = fs::symlink_metadata(self.root.join(&path)).is_ok_and(|found| found.is_dir());
            if record && !named {
                let fault = Fault::data(
                    "project-name",
                    format!("{name} cannot be the name of a project, so nothing in this folder counts"),
                );
                lost.push(fault.in_file(path).fix("give the folder its name back: the id in its project.json; or bring it back with: git checkout -- projects"));
            } else if named && !folder {
                let fault = Fault::data(
                    "not-a-file",
                    "a project is a folder, and this is a file, a link or a device",
                );
                lost.push(fault.that_means(Means::NotPlain).in_file(&path).fix(
                    "move it out of the book; the project's folder comes back with: git checkout -- projects",
                ));
            } else if named && folder && !record && !self.names(&path)?.is_empty() {
                let fault =
                    Fault::data("project-record", "this folder has no project.json, so nothing in it counts");
                lost.push(fault.in_file(path).fix(format!("bring the record back: git checkout -- projects/{name}/project.json; or move the folder out of the book")));
            }
        }
        Ok(lost)
    }
}

/// A folder is asked as the files in it are.
impl std::ops::Deref for BookFolder {
    type Target = dyn BookFiles;

    fn deref(&self) -> &Self::Target {
        self
    }
}

impl BookFiles for BookFolder {
    fn names(&self, folder: &str) -> Outcome<Vec<String>> {
        refuse_links(&self.root, folder)?;
        let io = |error: std::io::Error| Box::new(io_fault(folder, "read", &error));
        let entries = match fs::read_dir(self.root.join(folder)) {
            Ok(entries) => entries,
            Err(error) if error.kind() == ErrorKind::NotFound => return Ok(Vec::new()),
            Err(error) => return Err(io(error)),
        };
        let mut names = Vec::new();
        for entry in entries {
            let name = entry.map_err(io)?.file_name();
            names.push(name.into_string().map_err(|name| Box::new(not_a_name(folder, &name)))?);
        }
        names.sort();
        Ok(names)
    }

    fn lies_there(&self, path: &str) -> Outcome<bool> {
        lies_there(&self.root, path)
    }

    fn read(&self, path: &str, largest: u64) -> Outcome<Vec<u8>> {
        read_plain(&self.root, path, largest)
    }

    fn walk(&self, folder: &str) -> (Vec<String>, Vec<Fault>) {
        walk_in(&self.root, folder, &|_| false)
    }

    fn projects(&self) -> Outcome<Vec<ProjectId>> {
        let mut named: Vec<ProjectId> =
            self.names("projects")?.into_iter().filter_map(|name| name.parse().ok()).collect();
        named.sort();
        let there = in_parallel(&named, |id| self.lies_there(&format!("projects/{id}/project.json")));
        let mut projects = Vec::with_capacity(named.len());
        for (id, there) in named.into_iter().zip(there) {
            if there? {
                projects.push(id);
            }
        }
        Ok(projects)
    }

    fn on_disk(&self) -> Option<&Path> {
        Some(&self.root)
    }
}
