//! Where the book lies that is to be judged: a folder, or a commit of any repository, bare or not.

use std::path::{Path, PathBuf};

use crate::fault::Fault;
use crate::git::{CommitId, GitError, Held, Hub};
use crate::ids::ProjectId;
use crate::parallel::{in_parallel, in_parallel_with};
use crate::store::{BookFiles, BookFolder, Memory};
use crate::trust::content::Contents;
use crate::trust::tree_files::{SHOP, TreeFiles};

/// A book to be judged.
#[derive(Debug)]
pub(crate) struct Place {
    /// The repository, where there is one whose top folder the book is.
    pub hub: Option<Hub>,
    /// The commit that is judged, or that the folder was checked out from.
    pub commit: Option<CommitId>,
    files: Files,
}

#[derive(Debug)]
enum Files {
    /// The files as they lie on disk.
    Folder(BookFolder),
    /// The files of the commit, of which roster and shop are at hand.
    Tree(Memory),
}

impl Place {
    /// Finds the book: at a commit where one is named or the repository is bare, else the folder's files.
    ///
    /// # Errors
    /// `not-a-book`, and what git says.
    pub(crate) fn find(from: &Path, at: Option<&str>) -> Result<Place, Vec<Fault>> {
        let hub = Hub::discover(from);
        let bare = hub.as_ref().is_ok_and(|hub| hub.work_folder().is_none());
        if let Err(altered @ GitError::AlteredHistory { .. }) = hub {
            return Err(altered.into());
        }
        if at.is_none() && !bare {
            let book = BookFolder::find(from)?;
            let top = book.root().canonicalize().ok();
            let hub = hub.ok().filter(|hub| hub.work_folder() == top);
            let commit = hub.as_ref().and_then(|hub| hub.resolve("HEAD").ok());
            return Ok(Place { hub, commit, files: Files::Folder(book) });
        }
        let hub = hub?;
        let commit = hub.resolve(at.unwrap_or("HEAD"))?;
        let tree = hub.snapshot(Some(commit))?;
        if tree.entry("book.json")?.is_none() {
            let message = format!("commit {} holds no book: there is no book.json", commit.short());
            return Err(vec![
                Fault::usage("not-a-book", message).fix("name a commit of a book's own repository"),
            ]);
        }
        let files = Files::Tree(TreeFiles::of(&tree, &SHOP)?.into_memory()?);
        drop(tree);
        Ok(Place { hub: Some(hub), commit: Some(commit), files })
    }

    /// The book with its roster and its shop; its projects are there only where it is a folder.
    #[must_use]
    pub(crate) fn book(&self) -> &dyn BookFiles {
        match &self.files {
            Files::Folder(book) => book,
            Files::Tree(memory) => memory,
        }
    }

    /// True where a commit is judged, and not what lies on disk.
    #[must_use]
    pub(crate) fn is_commit(&self) -> bool {
        matches!(self.files, Files::Tree(_))
    }

    /// Where data of this clone alone lie.
    #[must_use]
    pub(crate) fn clone_local(&self) -> Option<PathBuf> {
        self.hub.as_ref().map(Hub::clone_local)
    }

    /// How much of the book the clone holds; none where it holds the whole.
    ///
    /// # Errors
    /// What git says.
    pub(crate) fn held(&self) -> Result<Option<Held>, GitError> {
        self.hub.as_ref().map_or(Ok(None), |hub| hub.held(self.commit))
    }

    /// Every project with what its content is known by: equal where every file of it is. Where that is not asked of a
    /// folder, its files are not read.
    ///
    /// # Errors
    /// What the disk or git says.
    pub(crate) fn projects(
        &self,
        contents: Option<&mut Contents>,
    ) -> Result<Vec<(ProjectId, String)>, Vec<Fault>> {
        let mut all = Vec::new();
        match &self.files {
            Files::Folder(book) => {
                let names = book.names("projects")?;
                let ids: Vec<ProjectId> = names.iter().filter_map(|name| name.parse().ok()).collect();
                let Some(contents) = contents else {
                    return Ok(ids.into_iter().map(|id| (id, String::new())).collect());
                };
                let found = contents.of(book, &ids);
                for (id, (content, unread)) in ids.into_iter().zip(found) {
                    if !unread.is_empty() {
                        return Err(unread);
                    }
                    all.push((id, format!("files {content}")));
                }
            }
            Files::Tree(_) => {
                let Some(hub) = &self.hub else { return Ok(all) };
                let tree = hub.snapshot(self.commit)?;
                for (name, digest) in tree.folders("projects")? {
                    if let Ok(id) = name.parse::<ProjectId>() {
                        all.push((id, format!("tree {digest}")));
                    }
                }
            }
        }
        Ok(all)
    }

    /// Hands the files of each of some projects to a judgement, on every processor.
    pub(crate) fn with_projects<T: Send>(
        &self,
        ids: &[&ProjectId],
        judge: impl Fn(&dyn BookFiles, &ProjectId) -> T + Sync,
    ) -> Vec<Result<T, Vec<Fault>>> {
        match (&self.files, &self.hub) {
            (Files::Folder(book), _) => in_parallel(ids, |id| Ok(judge(book, id))),
            (Files::Tree(memory), None) => in_parallel(ids, |id| Ok(judge(memory, id))),
            (Files::Tree(_), Some(hub)) => {
                let (path, commit) = (hub.path(), self.commit);
                in_parallel_with(
                    ids,
                    || Hub::open(path),
                    |hub, id| {
                        let hub = hub.as_ref().map_err(|e| Vec::from(e.clone()))?;
                        let tree = hub.snapshot(commit)?;
                        Ok(judge(&TreeFiles::of(&tree, &[&format!("projects/{id}")])?, id))
                    },
                )
            }
        }
    }

    /// Hands the files of one project to a judgement.
    ///
    /// # Errors
    /// As [`TreeFiles::of`], and whatever the judgement says.
    pub(crate) fn with_project<T>(
        &self,
        id: &ProjectId,
        judge: impl FnOnce(&dyn BookFiles) -> Result<T, Vec<Fault>>,
    ) -> Result<T, Vec<Fault>> {
        match (&self.files, &self.hub) {
            (Files::Folder(book), _) => judge(book),
            (Files::Tree(memory), None) => judge(memory),
            (Files::Tree(_), Some(hub)) => {
                let tree = hub.snapshot(self.commit)?;
                judge(&TreeFiles::of(&tree, &[&format!("projects/{id}")])?)
            }
        }
    }
}
