//! Commits held against each of their parents, so that nothing which some parent had can go unseen. What a change
//! means, the caller says; [`super::Log`] tells the story of a book, and leaves out what a merge took from one side.
//!
//! Commits that nobody has judged yet are read with bounds, and with what their names and kinds of files could do to a
//! clone. Nothing there is trusted: folders that are equal are never opened, trees are opened only after their size was
//! asked for, a tree that goes too deep is not followed, and the files that a push may change are counted; so time and
//! memory grow with what changed and have an end. Commits that were judged before are read by what they change alone.

use std::cell::{Cell, RefCell};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::differences::{Differences, Uninspected};
use super::hub::Hub;
use super::name::inside;
use super::past::is_cut_off;
use super::raw_commit::{raw, walk};
use super::trees::Trees;
use super::{CommitId, GitError, Moment, Part, PathChange, Person, Repo, Snapshot};
use crate::parallel::in_parallel_with;
use crate::paths::UnsafePath;

/// The largest commit that is opened, in bytes.
const LARGEST_COMMIT: usize = 1 << 20;

/// How many commits of a history are read at once.
const AT_ONCE: usize = 2_048;

/// So few that no other thread is worth while.
const FEW: usize = 64;

/// How many changes are held of commits that were inspected, which a judge asks for several times.
const HELD: usize = 20_000;

/// The most sides that one merge may bring together.
const MOST_PARENTS: usize = 8;

/// How much may come at once.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bounds {
    /// The most commits.
    pub commits: usize,
    /// The most files that one commit may change, over all its parents.
    pub files: usize,
}

impl Default for Bounds {
    /// Far more than people write in a year, and little enough to be held in memory.
    fn default() -> Self {
        Bounds { commits: 100_000, files: 200_000 }
    }
}

impl Bounds {
    /// Of what comes after some commits. A book from its beginning has as many commits as people made in all its years:
    /// whoever fetched it wants it.
    #[must_use]
    pub(crate) fn after(known: &[CommitId]) -> Bounds {
        let whole = Bounds { commits: usize::MAX, ..Bounds::default() };
        if known.is_empty() { whole } else { Bounds::default() }
    }
}

/// Reads commits.
pub struct Inspector<'r> {
    git: &'r git2::Repository,
    trees: Trees<'r>,
    bounds: Bounds,
    files_left: Cell<usize>,
    held: RefCell<BTreeMap<CommitId, Inspected>>,
    may_hold: Cell<usize>,
    /// Of commits that were judged before: the folder or file beneath which their changes are asked for.
    beneath: Option<String>,
    /// The part of the book that is held here: nothing else is inspected.
    part: Option<Arc<Part>>,
    /// Commits that are known to change nothing of it.
    untouched: Arc<BTreeSet<git2::Oid>>,
}

impl std::fmt::Debug for Inspector<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Inspector").field("bounds", &self.bounds).finish_non_exhaustive()
    }
}

/// One commit, inspected.
#[derive(Clone, Debug)]
pub struct Inspected {
    /// The commit.
    pub id: CommitId,
    /// When it was made, by its author's clock.
    pub at: Moment,
    /// Who made it, as it says itself.
    pub author: Person,
    /// The commits before it, without those that a shallow clone lacks.
    pub parents: Vec<CommitId>,
    /// True where the commit has parents that a shallow clone lacks.
    pub cut_off: bool,
    /// What differs from each parent by path, in the order of the parents; from nothing, where there is none.
    pub against: Vec<Vec<PathChange>>,
    /// Names and kinds that this commit brings and no book may have; asked only of commits that nobody has judged.
    pub unsafe_paths: Vec<UnsafePath>,
}

impl Inspected {
    /// The files that are new or other than in every parent: what this commit itself brings.
    pub fn brings(&self) -> impl Iterator<Item = &PathChange> {
        let (first, others) = self.against.split_first().map_or((&[][..], &[][..]), |(f, o)| (&f[..], o));
        first.iter().filter(|change| {
            change.after.is_some()
                && others.iter().all(|other| other.binary_search_by(|c| c.path.cmp(&change.path)).is_ok())
        })
    }
}

impl Hub {
    /// Reads commits of this repository within bounds.
    #[must_use]
    pub fn inspector(&self, bounds: Bounds) -> Inspector<'_> {
        Inspector::new(&self.git, bounds, self.part.clone())
    }

    /// Every commit that is reachable from `tips` and not from `without`, newest first: a commit comes before its
    /// parents. Of what it changes, what lies at or beneath a prefix. Many are read at once, on every processor, and so few
    /// are held in memory.
    ///
    /// # Errors
    /// [`GitError::BadPath`], [`GitError::NoSuchCommit`], [`GitError::Damaged`].
    pub fn newest_first(
        &self,
        tips: &[CommitId],
        without: &[CommitId],
        prefix: &str,
    ) -> Result<impl Iterator<Item = Result<Inspected, GitError>>, GitError> {
        let beneath = inside(prefix)?.to_owned();
        let mut walk = self.git.revwalk()?;
        walk.set_sorting(git2::Sort::TOPOLOGICAL)?;
        let missing = |id: &CommitId| GitError::NoSuchCommit { text: id.to_string() };
        for tip in tips {
            walk.push(tip.0).map_err(|_| missing(tip))?;
        }
        for hidden in without {
            walk.hide(hidden.0).map_err(|_| missing(hidden))?;
        }
        let mut walk = walk.fuse();
        let (path, part) = (self.path(), self.part.clone());
        let some = move || {
            let ids: Vec<_> = walk.by_ref().take(AT_ONCE).collect();
            let one = |hub: &Hub, id: &Result<git2::Oid, git2::Error>| match id {
                Ok(id) => {
                    let reader = hub.inspector(Bounds::default());
                    Ok(Inspector { beneath: Some(beneath.clone()), ..reader }.inspect(CommitId(*id))?)
                }
                Err(error) => {
                    Err(GitError::from(git2::Error::new(error.code(), error.class(), error.message())))
                }
            };
            let read: Vec<_> = if ids.len() < FEW {
                ids.iter().map(|id| one(self, id)).collect()
            } else {
                // A thread reads through a repository of its own.
                in_parallel_with(
                    &ids,
                    || Hub::open(path).map(|hub| Hub { part: part.clone(), ..hub }),
                    |hub, id| one(hub.as_ref().map_err(GitError::clone)?, id),
                )
            };
            Some(read).filter(|read| !read.is_empty())
        };
        Ok(std::iter::from_fn(some).flatten())
    }
}

impl Repo {
    /// Reads commits of this clone within bounds.
    #[must_use]
    pub fn inspector(&self, bounds: Bounds) -> Inspector<'_> {
        let untouched = Arc::clone(&self.untouched.borrow());
        Inspector { untouched, ..Inspector::new(&self.git, bounds, self.part()) }
    }
}

impl<'r> Inspector<'r> {
    fn new(git: &'r git2::Repository, bounds: Bounds, part: Option<Arc<Part>>) -> Self {
        Inspector {
            git,
            trees: Trees::of(git),
            bounds,
            files_left: Cell::new(bounds.files),
            held: RefCell::default(),
            may_hold: Cell::new(HELD),
            beneath: None,
            part,
            untouched: Arc::default(),
        }
    }

    /// Every commit that `new` has and none of `old` has, oldest first.
    ///
    /// # Errors
    /// [`Uninspected::TooMuch`]; [`GitError::NoSuchCommit`], [`GitError::Damaged`].
    pub fn between(&self, old: &[CommitId], new: CommitId) -> Result<Vec<CommitId>, Uninspected> {
        self.is_there(new)?;
        let mut walk = self.git.revwalk()?;
        walk.set_sorting(git2::Sort::TOPOLOGICAL | git2::Sort::REVERSE)?;
        if walk.push(new.0).is_err() {
            return self.between_by_hand(old, new);
        }
        for id in old {
            self.is_there(*id)?;
            if walk.hide(id.0).is_err() {
                return self.between_by_hand(old, new);
            }
        }
        let mut found = Vec::new();
        for id in walk {
            if found.len() == self.bounds.commits {
                return Err(Uninspected::TooMuch(format!("more than {} commits", self.bounds.commits)));
            }
            let Ok(id) = id else { return self.between_by_hand(old, new) };
            found.push(CommitId(id));
        }
        Ok(found)
    }

    /// The same where the library cannot walk, because it cannot read a commit on the way.
    fn between_by_hand(&self, old: &[CommitId], new: CommitId) -> Result<Vec<CommitId>, Uninspected> {
        let mut behind = BTreeSet::new();
        for id in old {
            behind.extend(walk(self.git, *id, &behind, self.bounds.commits)?);
        }
        let found = walk(self.git, new, &behind, self.bounds.commits)?;
        if found.len() >= self.bounds.commits {
            return Err(Uninspected::TooMuch(format!("more than {} commits", self.bounds.commits)));
        }
        Ok(found)
    }

    /// True for a commit without one before it, or whose parents a shallow clone lacks.
    #[must_use]
    pub(crate) fn is_beginning(&self, id: CommitId) -> bool {
        self.git.find_commit(id.0).is_ok_and(|commit| commit.parent_count() == 0)
    }

    /// True where `new` has `old` behind it, or is it.
    ///
    /// # Errors
    /// [`GitError::Damaged`].
    pub(crate) fn follows(&self, new: CommitId, old: CommitId) -> Result<bool, GitError> {
        Ok(new == old || self.git.graph_descendant_of(new.0, old.0)?)
    }

    /// The tree of a commit; the empty one for none.
    ///
    /// # Errors
    /// [`GitError::NoSuchCommit`].
    pub(crate) fn snapshot(&self, commit: Option<CommitId>) -> Result<Snapshot<'r>, Uninspected> {
        let tree = commit.map(|id| self.tree(self.commit(id)?.tree_id())).transpose()?;
        Ok(Snapshot::new(self.git, tree).through(self.part.clone()))
    }

    /// What one commit changes.
    ///
    /// # Errors
    /// [`Uninspected`].
    pub fn inspect(&self, id: CommitId) -> Result<Inspected, Uninspected> {
        if let Some(found) = self.held.borrow().get(&id) {
            return Ok(found.clone());
        }
        let found = self.inspect_anew(id)?;
        let size = 1 + found.against.iter().map(Vec::len).sum::<usize>();
        if let Some(left) = self.may_hold.get().checked_sub(size).filter(|_| self.beneath.is_none()) {
            self.may_hold.set(left);
            self.held.borrow_mut().insert(id, found.clone());
        }
        Ok(found)
    }

    fn inspect_anew(&self, id: CommitId) -> Result<Inspected, Uninspected> {
        self.files_left.set(self.bounds.files);
        let commit = self.commit(id)?;
        if commit.parent_count() > MOST_PARENTS && self.beneath.is_none() {
            return Err(Uninspected::TooMuch(format!("a merge of {} sides", commit.parent_count())));
        }
        let (at, author) = (Moment::of(commit.author().when()), Person::of(&commit.author()));
        let parents: Vec<CommitId> = commit.parent_ids().map(CommitId).collect();
        let cut_off = is_cut_off(self.git, &commit);
        if cut_off {
            // Everything lies there that was made before.
            self.files_left.set(usize::MAX);
        } else if self.untouched.contains(&id.0) {
            let against = vec![Vec::new(); parents.len().max(1)];
            return Ok(Inspected { id, at, author, parents, cut_off, against, unsafe_paths: Vec::new() });
        }
        let before = |id: &CommitId| Ok::<_, Uninspected>(Some(self.tree(self.commit(*id)?.tree_id())?));
        let mut befores = parents.iter().map(before).collect::<Result<Vec<_>, _>>()?;
        if befores.is_empty() {
            befores.push(None);
        }
        let after = Some(self.tree(commit.tree_id())?);
        let mut unsafe_paths: Vec<UnsafePath> = Vec::new();
        let mut against = Vec::new();
        for (number, before) in befores.into_iter().enumerate() {
            let (changes, found) = self.differences(before, after.clone())?;
            against.push(changes);
            // What one parent has already was judged with it.
            if number == 0 {
                unsafe_paths = found;
            } else {
                unsafe_paths.retain(|one| found.contains(one));
            }
        }
        Ok(Inspected { id, at, author, parents, cut_off, against, unsafe_paths })
    }

    fn differences(
        &self,
        before: Option<git2::Tree<'r>>,
        after: Option<git2::Tree<'r>>,
    ) -> Result<(Vec<PathChange>, Vec<UnsafePath>), Uninspected> {
        if let Some(prefix) = &self.beneath {
            let before = Snapshot::new(self.git, before).through(self.part.clone());
            let after = Snapshot::new(self.git, after);
            return Ok((before.changes(&after, prefix)?, Vec::new()));
        }
        let part = self.part.as_deref();
        let mut found = Differences::none_yet(&self.trees, &self.files_left, self.bounds.files, part);
        found.compare(before.as_ref(), after.as_ref(), "", 1)?;
        found.changes.sort_by(|a, b| a.path.cmp(&b.path));
        Ok((found.changes, found.unsafe_paths))
    }

    /// What differs between two states of which every commit between them was inspected.
    ///
    /// # Errors
    /// [`Uninspected`].
    pub(crate) fn changes(
        &self,
        old: Option<CommitId>,
        new: CommitId,
    ) -> Result<Vec<PathChange>, Uninspected> {
        self.files_left.set(usize::MAX);
        let (before, after) = (self.snapshot(old)?, self.snapshot(Some(new))?);
        Ok(self.differences(before.tree().cloned(), after.tree().cloned())?.0)
    }

    /// Who made a commit, as it says itself.
    ///
    /// # Errors
    /// [`GitError::NoSuchCommit`].
    pub(crate) fn author(&self, id: CommitId) -> Result<Person, Uninspected> {
        Ok(Person::of(&self.commit(id)?.author()))
    }

    /// The author of a commit that the library cannot read, as its own line says it; none for one that it can.
    #[must_use]
    pub(crate) fn unreadable(&self, id: CommitId) -> Option<String> {
        match self.git.find_commit(id.0) {
            Ok(_) => None,
            Err(_) => raw(self.git, id).ok().map(|commit| commit.author),
        }
    }

    /// The commits before one.
    ///
    /// # Errors
    /// [`GitError::NoSuchCommit`].
    pub(crate) fn parents(&self, id: CommitId) -> Result<Vec<CommitId>, Uninspected> {
        Ok(self.commit(id)?.parent_ids().map(CommitId).collect())
    }

    /// That a commit is here, whether or not the library can read it.
    fn is_there(&self, id: CommitId) -> Result<(), Uninspected> {
        match self.commit(id) {
            Ok(_) => Ok(()),
            Err(error) if self.unreadable(id).is_none() => Err(error),
            Err(_) => Ok(()),
        }
    }

    fn commit(&self, id: CommitId) -> Result<git2::Commit<'r>, Uninspected> {
        let missing = |_| GitError::NoSuchCommit { text: id.to_string() };
        if self.beneath.is_none() {
            let (size, _) = self.git.odb()?.read_header(id.0).map_err(missing)?;
            if size > LARGEST_COMMIT {
                return Err(Uninspected::TooMuch(format!("a commit of {size} bytes")));
            }
        }
        Ok(self.git.find_commit(id.0).map_err(missing)?)
    }

    fn tree(&self, id: git2::Oid) -> Result<git2::Tree<'r>, Uninspected> {
        if self.beneath.is_none() { self.trees.bounded(id) } else { Ok(self.git.find_tree(id)?) }
    }
}
