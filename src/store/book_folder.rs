//! Finds a book on disk and lists what lies in it.

use std::fs;
use std::path::{Path, PathBuf};

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
        let from = fs::canonicalize(from).map_err(|e| {
            Fault::usage("not-a-book", format!("{} cannot be opened: {e}", from.display()))
                .mend("name a folder that exists")
        })?;
        from.ancestors()
            .find(|folder| folder.join("book.json").is_file())
            .map(|root| BookFolder { root: root.to_path_buf() })
            .ok_or_else(|| {
                if ["HEAD", "objects", "refs"].iter().all(|name| from.join(name).exists()) {
                    let message = format!("{} is a bare repository: a book is shared through it, and nobody works in it", from.display());
                    let remedy = format!("make a clone to work in: underlit join {} DIR; `underlit verify` proves the book from here", from.display());
                    return Box::new(Fault::usage("bare-repository", message).mend(remedy));
                }
                Box::new(
                    Fault::usage("not-a-book", format!("{} is not in a book: there is no book.json here or above", from.display()))
                        .mend("go into the book's folder, or name it with --book DIR; `underlit init DIR` makes a new book, `underlit join URL DIR` fetches one"),
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
        let mut projects: Vec<ProjectId> = self
            .names("projects")?
            .iter()
            .filter(|name| self.root.join("projects").join(name).join("project.json").exists())
            .filter_map(|name| name.parse().ok())
            .collect();
        projects.sort();
        Ok(projects)
    }

    /// The folder of a project that must be there.
    ///
    /// # Errors
    /// `unknown-project`, with the nearest names.
    pub fn project(&self, id: &ProjectId) -> Outcome<String> {
        let path = format!("projects/{id}");
        if self.root.join(&path).join("project.json").exists() {
            return Ok(path);
        }
        let known = self.projects()?;
        let remedy = words::instead_of(
            id.as_str(),
            known.iter().map(ProjectId::as_str),
            "open one: underlit open NAME --title … --client … --site …",
        );
        Err(Box::new(
            Fault::usage("unknown-project", format!("there is no project {id} in this book")).mend(remedy),
        ))
    }

    /// The names of the files and folders of one folder of the book, in order; none where it is not there.
    ///
    /// # Errors
    /// What the disk says.
    pub fn names(&self, folder: &str) -> Outcome<Vec<String>> {
        let entries = match fs::read_dir(self.root.join(folder)) {
            Ok(entries) => entries,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
            Err(error) => return Err(Box::new(super::safe_path::io_fault(folder, "read", &error))),
        };
        let mut names: Vec<String> =
            entries.flatten().filter_map(|e| e.file_name().into_string().ok()).collect();
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
