//! A clone that holds a part of a book: some projects with all their history, and everything of the book that is no
//! project. Of the other projects it has names and digests (commits and trees), and no file.
//!
//! Git's own sparse checkout does this. Which projects are held stands in `.git/underlit/part.json`; the list that git reads
//! is made from it. How the files of the others are left at the remote is in `partial`.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::sync::Arc;

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::failure::at;
use super::history::parents;
use super::{CommitId, GitError, Hub, Repo, UserGit};

/// The name of the file in the clone's own folder.
const FILE: &str = "part.json";

/// Where the projects lie.
const PROJECTS: &str = "projects";

/// Git's settings for a folder in which not everything is laid out.
const SPARSE: &str = "core.sparseCheckout";
const CONE: &str = "core.sparseCheckoutCone";

/// Which projects a clone holds.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Part {
    /// The projects' names.
    pub(crate) projects: BTreeSet<String>,
    /// True where it grows by each new project that names whoever works in this clone.
    pub(crate) mine: bool,
    /// The day from which on the history is held and was judged; none where all of it was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) history_from: Option<Date>,
}

/// How much of a book a clone holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub(crate) struct Held {
    /// How many projects are here.
    pub(crate) held_count: usize,
    /// How many the book has.
    pub(crate) project_count: usize,
    /// The day from which on the history was judged; none where all of it was.
    pub(crate) history_from: Option<Date>,
}

impl Held {
    /// In a line for people.
    #[must_use]
    pub(crate) fn in_words(self) -> String {
        let Held { held_count, project_count, history_from } = self;
        let part = format!(
            "this clone holds {held_count} of {project_count} projects; the others were not checked here and are taken as the remote has them"
        );
        history_from.map(|day| format!("{part}; {}", without_the_past(day))).unwrap_or(part)
    }
}

/// What is said of a clone whose history was judged from a day on.
fn without_the_past(day: Date) -> String {
    format!(
        "the history before {day} is not here: signatures from then were checked, the rest is taken on the word of the remote's guard; `underlit part --past` checks it"
    )
}

/// The project in whose folder a path lies, or whose folder it is.
fn project_of(path: &str) -> Option<&str> {
    path.strip_prefix("projects/")?.split('/').next()
}

impl Part {
    /// The part that a clone holds; none for one that holds the whole book. A project that HEAD does not have and that lies
    /// in the folder is held too: it was made here.
    pub(super) fn of(git: &git2::Repository) -> Option<Arc<Part>> {
        let mut part = Part::listed(git)?;
        let committed = projects_at_head(git);
        for name in lying(git.workdir()?) {
            if committed.as_ref().is_none_or(|tree| tree.get_name(&name).is_none()) {
                part.projects.insert(name);
            }
        }
        Some(Arc::new(part))
    }

    fn listed(git: &git2::Repository) -> Option<Part> {
        let bytes = fs::read(git.commondir().join("underlit").join(FILE)).ok()?;
        serde_json::from_slice(&bytes).ok()
    }

    /// True where what lies at a path is held: it is in a project of the part, or in no project.
    pub(crate) fn holds(&self, path: &str) -> bool {
        project_of(path).is_none_or(|name| self.projects.contains(name))
    }

    /// What git reads to know which folders to lay out. `beside` are the book's other folders.
    fn for_git(&self, beside: &BTreeSet<String>) -> String {
        let mut text = "/*\n!/*/\n".to_owned();
        let others = beside.iter().filter(|name| *name != PROJECTS);
        others.for_each(|name| text.push_str(&format!("/{name}/\n")));
        text.push_str("/projects/\n!/projects/*/\n");
        self.projects.iter().for_each(|name| text.push_str(&format!("/projects/{name}/\n")));
        text
    }
}

/// The folders among the projects in a book's folder.
fn lying(root: &Path) -> impl Iterator<Item = String> {
    let entries = fs::read_dir(root.join(PROJECTS)).into_iter().flatten().flatten();
    let folders = entries.filter(|entry| entry.file_type().is_ok_and(|kind| kind.is_dir()));
    folders.filter_map(|entry| entry.file_name().into_string().ok())
}

fn projects_at_head(git: &git2::Repository) -> Option<git2::Tree<'_>> {
    projects_of(git, &git.head().ok()?.peel_to_tree().ok()?)
}

fn projects_of<'r>(git: &'r git2::Repository, tree: &git2::Tree<'r>) -> Option<git2::Tree<'r>> {
    git.find_tree(tree.get_name(PROJECTS)?.id()).ok()
}

fn held(git: &git2::Repository, part: &Part, commit: Option<CommitId>) -> Result<Held, GitError> {
    let all = projects_at(git, commit)?;
    let held_count = part.projects.iter().filter(|name| all.contains(*name)).count();
    Ok(Held { held_count, project_count: all.len(), history_from: part.history_from })
}

fn projects_at(git: &git2::Repository, commit: Option<CommitId>) -> Result<BTreeSet<String>, GitError> {
    let Some(commit) = commit else { return Ok(BTreeSet::new()) };
    let tree = git.find_commit(commit.0)?.tree()?;
    Ok(projects_of(git, &tree).map(|projects| folders_in(&projects)).unwrap_or_default())
}

impl Hub {
    /// As [`Repo::held`], at a commit.
    ///
    /// # Errors
    /// What git says.
    pub(crate) fn held(&self, commit: Option<CommitId>) -> Result<Option<Held>, GitError> {
        self.part.as_ref().map(|part| held(&self.git, part, commit)).transpose()
    }
}

impl Repo {
    /// The part of the book that this clone holds; none where it holds the whole.
    pub(crate) fn part(&self) -> Option<Arc<Part>> {
        let part = self.part.borrow_mut().get_or_insert_with(|| Part::of(&self.git)).clone();
        if part.is_some() {
            // A merge puts into its folders what the other side has, whether or not the files are here.
            git2::opts::strict_object_creation(false);
        }
        part
    }

    /// How many projects this clone holds, and how many the book has; none where it holds the whole book.
    ///
    /// # Errors
    /// What git says.
    pub(crate) fn held(&self) -> Result<Option<Held>, GitError> {
        self.part().map(|part| held(&self.git, &part, self.head()?)).transpose()
    }

    /// The names of all projects of a commit, held or not.
    ///
    /// # Errors
    /// What git says.
    pub(crate) fn projects_at(&self, commit: Option<CommitId>) -> Result<BTreeSet<String>, GitError> {
        projects_at(&self.git, commit)
    }

    /// The names of the projects, held or not, that are not the same in two commits.
    ///
    /// # Errors
    /// What git says.
    pub(crate) fn projects_changed(
        &self,
        before: Option<CommitId>,
        after: CommitId,
    ) -> Result<BTreeSet<String>, GitError> {
        let of = |id: CommitId| -> Result<_, GitError> {
            Ok(projects_of(&self.git, &self.git.find_commit(id.0)?.tree()?))
        };
        let (old, Some(new)) = (before.map(of).transpose()?.flatten(), of(after)?) else {
            return Ok(BTreeSet::new());
        };
        let was = |name: &str| old.as_ref().and_then(|tree| tree.get_name(name).map(|entry| entry.id()));
        let now = |name: &str| new.get_name(name).map(|entry| entry.id());
        Ok(folders_in(&new).into_iter().filter(|name| was(name) != now(name)).collect())
    }

    /// From here on reads through another part than the one that is noted.
    pub(crate) fn look_through(&self, part: Option<Part>) {
        *self.part.borrow_mut() = Some(part.map(Arc::new));
        *self.untouched.borrow_mut() = Arc::default();
    }

    /// Which part is noted as held, and which projects git lays out; none for a clone of the whole book.
    pub(crate) fn noted_part(&self) -> Option<(Part, BTreeSet<String>)> {
        let list = self.git.path().join("info").join("sparse-checkout");
        let list = fs::read_to_string(list).unwrap_or_default();
        let names = list.lines().filter_map(|line| line.strip_prefix("/projects/")?.strip_suffix('/'));
        let laid_out = names.filter(|name| !name.is_empty()).map(ToOwned::to_owned).collect();
        Some((Part::listed(&self.git)?, laid_out))
    }

    /// Makes folder and index follow a part, by git's own checkout, which leaves every edited file; `None` is the whole book.
    /// [`Repo::note_part`] comes after it: where a kill comes between, git lays out another part than is noted.
    ///
    /// # Errors
    /// What git and the disk say.
    pub(crate) fn lay_out(
        &self,
        user: &UserGit,
        part: Option<&Part>,
        commit: CommitId,
    ) -> Result<(), GitError> {
        self.list_for_git(user, part, commit)?;
        // Git takes no file out whose times it does not know; where one is edited, it says so here and leaves it.
        let _ = self.run_git(user, &["update-index", "-q", "--refresh"]);
        self.run_git(user, &["read-tree", "-m", "-u", "HEAD"])
    }

    /// Tells git which folders to lay out, from the next checkout on.
    ///
    /// # Errors
    /// What the disk says.
    pub(crate) fn list_for_git(
        &self,
        user: &UserGit,
        part: Option<&Part>,
        commit: CommitId,
    ) -> Result<(), GitError> {
        let tree = self.git.find_commit(commit.0)?.tree()?;
        let text = part.map_or_else(|| "/*\n".to_owned(), |part| part.for_git(&folders_in(&tree)));
        write(&self.git.path().join("info").join("sparse-checkout"), &text)?;
        let cone = if part.is_some() { "true" } else { "false" };
        // An index with whole folders in it is one that the library cannot read.
        for (key, value) in [(SPARSE, "true"), (CONE, cone), ("index.sparse", "false")] {
            self.set_for_git(user, key, value)?;
        }
        Ok(())
    }

    /// Sets what git reads of this folder, in each of the two places in which its own sparse checkout may have set it.
    fn set_for_git(&self, user: &UserGit, key: &str, value: &str) -> Result<(), GitError> {
        ["--local", "--worktree"]
            .into_iter()
            .try_for_each(|at| self.run_git(user, &["config", at, key, value]))
    }

    /// Notes which part this clone holds; `None` for the whole book.
    ///
    /// # Errors
    /// What the disk says.
    pub(crate) fn note_part(&self, user: &UserGit, part: Option<&Part>) -> Result<(), GitError> {
        let file = self.clone_local_dir()?.join(FILE);
        *self.part.borrow_mut() = None;
        *self.untouched.borrow_mut() = Arc::default();
        if let Some(part) = part {
            let text = serde_json::to_string_pretty(part);
            return write(&file, &(text.map_err(|e| GitError::Damaged { words: e.to_string() })? + "\n"));
        }
        for path in [file, self.git.path().join("info").join("sparse-checkout")] {
            match fs::remove_file(&path) {
                Err(e) if e.kind() != std::io::ErrorKind::NotFound => return Err(at(&path)(e)),
                _ => {}
            }
        }
        for key in [SPARSE, CONE] {
            self.set_for_git(user, key, "false")?;
        }
        Ok(())
    }

    /// A project that was made here is held from its first commit on.
    pub(super) fn hold_new<'p>(
        &self,
        paths: impl Iterator<Item = &'p str>,
        (before, head): (Option<CommitId>, CommitId),
    ) -> Result<(), GitError> {
        let Some(mut part) = Part::listed(&self.git) else { return Ok(()) };
        let count = part.projects.len();
        let known = self.projects_at(before)?;
        let new = paths.filter_map(project_of).filter(|name| !known.contains(*name));
        part.projects.extend(new.map(ToOwned::to_owned));
        if part.projects.len() == count {
            return Ok(());
        }
        let user = UserGit::new(false);
        self.list_for_git(&user, Some(&part), head)?;
        self.note_part(&user, Some(&part))
    }

    /// Refuses to go on where git lays out other folders than the part that was noted, or a project that is not held lies
    /// in the folder: what is not there would count as taken out.
    ///
    /// # Errors
    /// [`GitError::Sparse`], [`GitError::NotHeld`].
    pub(super) fn refuse_other_part(&self) -> Result<(), GitError> {
        let sparse = self.git.config()?.get_bool(SPARSE).unwrap_or(false);
        let Some((part, laid_out)) = self.noted_part().filter(|_| sparse) else {
            let noted = self.git.commondir().join("underlit").join(FILE).exists();
            return if sparse || noted { Err(GitError::Sparse) } else { Ok(()) };
        };
        if laid_out != part.projects {
            return Err(GitError::Sparse);
        }
        let committed = projects_at_head(&self.git);
        let is_stray = |name: &String| {
            let known = committed.as_ref().is_some_and(|tree| tree.get_name(name).is_some());
            known && !part.projects.contains(name)
        };
        lying(self.root()).find(is_stray).map_or(Ok(()), |name| Err(GitError::NotHeld { name }))
    }

    /// What commits that are not sent yet change in projects that are not held here, and so were not judged; one path for
    /// each project.
    ///
    /// # Errors
    /// What git says.
    pub(crate) fn own_outside(
        &self,
        without: &[CommitId],
        tip: CommitId,
    ) -> Result<Vec<(CommitId, String)>, GitError> {
        let Some(part) = self.part() else { return Ok(Vec::new()) };
        let mut walk = self.git.revwalk()?;
        walk.push(tip.0)?;
        without.iter().try_for_each(|id| walk.hide(id.0))?;
        let mut found = Vec::new();
        for id in walk {
            let commit = self.git.find_commit(id?)?;
            let Some(after) = projects_of(&self.git, &commit.tree()?) else { continue };
            let mut befores = Vec::new();
            for parent in parents(&commit) {
                befores.push(projects_of(&self.git, &parent?.tree()?));
            }
            let in_before = |before: &Option<git2::Tree<'_>>, name: &str| {
                before.as_ref().and_then(|tree| tree.get_name(name).map(|entry| entry.id()))
            };
            let before_any = befores.iter().flatten().flat_map(folders_in);
            let names: BTreeSet<String> = folders_in(&after).into_iter().chain(before_any).collect();
            for name in names.into_iter().filter(|name| !part.projects.contains(name)) {
                let now = after.get_name(&name).map(|entry| entry.id());
                if befores.iter().all(|before| in_before(before, &name) != now) {
                    found.push((CommitId(commit.id()), name));
                }
            }
        }
        Ok(found)
    }
}

fn write(path: &Path, text: &str) -> Result<(), GitError> {
    let folder = path.parent().unwrap_or(path);
    fs::create_dir_all(folder).map_err(at(folder))?;
    let beside = path.with_extension("part");
    fs::write(&beside, text).and_then(|()| fs::rename(&beside, path)).map_err(at(path))
}

fn folders_in(tree: &git2::Tree<'_>) -> BTreeSet<String> {
    let folders = tree.iter().filter(|entry| entry.kind() == Some(git2::ObjectType::Tree));
    folders.filter_map(|entry| String::from_utf8(entry.name_bytes().to_vec()).ok()).collect()
}
