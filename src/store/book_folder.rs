//! Finds a book on disk and lists what lies in it.

use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use super::safe_path::{io_fault, lies_there, not_a_name, refuse_links};
use crate::fault::{Fault, Outcome};
use crate::model::id::{PersonId, ProjectId};
use crate::model::kind::Kind;
use crate::words;

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
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// Every project, by name.
    ///
    /// # Errors
    /// What the disk says; a name that cannot be a project's is left to `check`.
    pub fn projects(&self) -> Outcome<Vec<ProjectId>> {
        let mut projects = Vec::new();
        for name in self.names("projects")? {
            if let Ok(id) = name.parse()
                && lies_there(&self.root, &format!("projects/{name}/project.json"))?
            {
                projects.push(id);
            }
        }
        projects.sort();
        Ok(projects)
    }

    /// What lies among the projects and is none, though it looks like one: a folder that was renamed, or lost its record.
    ///
    /// # Errors
    /// What the disk says.
    pub fn lost_projects(&self) -> Outcome<Vec<Fault>> {
        let mut lost = Vec::new();
        for name in self.names("projects")? {
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
                lost.push(fault.in_file(&path).fix(
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

    /// The folder of a project that must be there.
    ///
    /// # Errors
    /// `unknown-project`, with the nearest names.
    pub fn project(&self, id: &ProjectId) -> Outcome<String> {
        let path = format!("projects/{id}");
        if lies_there(&self.root, &format!("{path}/project.json"))? {
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

    /// The names of the files and folders of one folder of the book, in order; none where it is not there.
    ///
    /// # Errors
    /// What the disk says.
    pub fn names(&self, folder: &str) -> Outcome<Vec<String>> {
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

    /// The paths of the files of one kind directly in a folder, in order.
    ///
    /// # Errors
    /// What the disk says.
    pub fn files_of(&self, folder: &str, kind: Kind) -> Outcome<Vec<String>> {
        let paths = self.names(folder)?.into_iter().map(|name| format!("{folder}/{name}"));
        Ok(paths.filter(|path| Kind::of_path(path) == Some(kind)).collect())
    }

    /// The roster versions that are there, in order of their numbers.
    ///
    /// # Errors
    /// What the disk says.
    pub fn roster_versions(&self) -> Outcome<Vec<u32>> {
        let files = self.files_of("roster", Kind::Roster)?;
        Ok(files
            .iter()
            .filter_map(|f| f.strip_prefix("roster/")?.strip_suffix(".json")?.parse().ok())
            .collect())
    }

    /// The people whose signatures lie beside a roster version.
    ///
    /// # Errors
    /// What the disk says.
    pub fn roster_signers(&self, version: u32) -> Outcome<Vec<PersonId>> {
        let prefix = format!("roster/{version:04}.");
        let files = self.files_of("roster", Kind::RosterSignature)?;
        Ok(files
            .iter()
            .filter_map(|f| f.strip_prefix(prefix.as_str())?.strip_suffix(".sig")?.parse().ok())
            .collect())
    }
}
