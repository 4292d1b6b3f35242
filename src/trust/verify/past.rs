//! The way to a state: every commit held against each of its parents. What people said, and the rosters, are only
//! ever added; a commit that edits one or takes it out is a breach, whatever later commits make good.
//!
//! The state alone cannot show this: where a refusal was taken out, the files that are left agree with each other.
//! Order is the order of commits; clocks and names in commits are shown and decide nothing.

use std::collections::{BTreeMap, BTreeSet};

use crate::fault::Fault;
use crate::git::{ChangeKind, CommitId, GitError, Inspected, Moment, PathChange, Person};
use crate::ids::ProjectId;
use crate::model::kind::Kind;

/// One file of a kind that is only ever added, edited or taken out by a commit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Breach {
    /// The file.
    pub path: String,
    /// Edited or removed.
    pub what: ChangeKind,
    /// The commit that did it.
    pub commit: CommitId,
    /// The commit before it that still had the file as it was.
    pub parent: CommitId,
    /// Who made the commit, as it says itself.
    pub author: Person,
    /// When, as it says itself.
    pub at: Moment,
}

impl Breach {
    /// The breach as a fault: file, commit, who, and how to get the file back.
    #[must_use]
    pub fn fault(&self) -> Fault {
        let did = if self.what == ChangeKind::Removed { "takes out" } else { "edits" };
        Fault::trust(
            "add-only-history",
            format!(
                "commit {} by {} {did} this file, and signed records are never changed or removed",
                self.commit.short(),
                self.author.name
            ),
        )
        .in_file(&self.path)
        .fix(format!(
            "take it back as it was (git checkout {} -- {}), and ask {} why; whoever hosts the book should let `underlit guard` judge every push",
            self.parent.short(),
            self.path,
            self.author.name
        ))
    }
}

/// The moves of one project that a commit has and none of its parents has.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Brought {
    /// The commit.
    pub commit: CommitId,
    /// Who made the commit, as it says itself.
    pub author: Person,
    /// The project.
    pub project: ProjectId,
    /// The files of the moves.
    pub moves: Vec<String>,
    /// True where what was there before is not known: at a beginning of the history, and where it is cut off here.
    pub begins: bool,
    /// True where the history here is cut off.
    pub cut_off: bool,
}

/// What the history shows.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Past {
    /// How many commits were looked at.
    pub commits: usize,
    /// False where a shallow clone lacks the older part, of which nothing is known then.
    pub whole: bool,
    /// How many commits have none before them.
    pub beginnings: usize,
    /// Every breach, oldest first.
    pub breaches: Vec<Breach>,
    /// The moves, by the commit that brought them, oldest first.
    pub brought: Vec<Brought>,
}

impl Past {
    /// Every breach as a fault, oldest first.
    #[must_use]
    pub(crate) fn faults(&self) -> Vec<Fault> {
        self.breaches.iter().map(Breach::fault).collect()
    }
}

/// Judges a part of the history, given newest first as [`crate::git::Hub::newest_first`] gives it.
///
/// # Errors
/// What git says of a damaged history.
pub fn judge(commits: impl Iterator<Item = Result<Inspected, GitError>>) -> Result<Past, GitError> {
    let mut past = Past { whole: true, ..Past::default() };
    for commit in commits {
        past.take(&commit?);
    }
    past.breaches.reverse();
    past.brought.reverse();
    Ok(past)
}

impl Past {
    /// Takes in one commit, held against each of its parents.
    fn take(&mut self, commit: &Inspected) {
        self.commits += 1;
        self.whole &= !commit.cut_off;
        self.beginnings += usize::from(commit.parents.is_empty());
        for (parent, changes) in commit.parents.iter().zip(&commit.against) {
            for change in changes {
                let what = change.kind();
                if what == ChangeKind::Added || !Kind::of_path(&change.path).is_some_and(Kind::is_add_only) {
                    continue;
                }
                self.breaches.push(Breach {
                    path: change.path.clone(),
                    what,
                    commit: commit.id,
                    parent: *parent,
                    author: commit.author.clone(),
                    at: commit.at,
                });
            }
        }
        let added = commit.against.iter().map(|changes| added_moves(changes));
        let moves = added.reduce(|moves, others| &moves & &others).unwrap_or_default();
        let mut by_project: BTreeMap<ProjectId, Vec<String>> = BTreeMap::new();
        for path in moves {
            if let Some(project) = ProjectId::of_path(path) {
                by_project.entry(project).or_default().push(path.to_owned());
            }
        }
        let begins = commit.parents.is_empty() || commit.cut_off;
        self.brought.extend(by_project.into_iter().map(|(project, moves)| Brought {
            commit: commit.id,
            author: commit.author.clone(),
            project,
            moves,
            begins,
            cut_off: commit.cut_off,
        }));
    }
}

fn added_moves(changes: &[PathChange]) -> BTreeSet<&str> {
    let added = changes.iter().filter(|change| change.kind() == ChangeKind::Added);
    added.map(|c| c.path.as_str()).filter(|path| Kind::of_path(path) == Some(Kind::Move)).collect()
}
