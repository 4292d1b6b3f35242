//! The way to a state: every commit held against each of its parents. What people said, and the rosters, are only
//! ever added; a commit that edits one or takes it out is a breach, whatever later commits make good.
//!
//! The state alone cannot show this: where a refusal was taken out, the files that are left agree with each other.
//! Order is the order of commits; clocks and names in commits are shown and decide nothing.

use crate::fault::Fault;
use crate::git::{ChangeKind, CommitId, GitError, Moment, Passage, Person};
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
                "commit {} by {} {did} this file, and what people said is never changed or taken out",
                self.commit.short(),
                self.author.name
            ),
        )
        .in_file(&self.path)
        .mend(format!(
            "take it back as it was (git checkout {} -- {}), and ask {} why; whoever hosts the book should let `underlit guard` judge every push",
            self.parent.short(),
            self.path,
            self.author.name
        ))
    }
}

/// What the history shows.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Past {
    /// How many commits were looked at.
    pub commits: usize,
    /// False where a shallow clone lacks the older part, of which nothing is known then.
    pub whole: bool,
    /// Every breach, oldest first.
    pub breaches: Vec<Breach>,
}

impl Past {
    /// Every breach as a fault, oldest first.
    #[must_use]
    pub fn faults(&self) -> Vec<Fault> {
        self.breaches.iter().map(Breach::fault).collect()
    }
}

/// Judges a part of the history, given newest first as [`crate::git::Hub::lineage`] gives it.
///
/// # Errors
/// What git says of a damaged history.
pub fn judge(passages: impl Iterator<Item = Result<Passage, GitError>>) -> Result<Past, GitError> {
    let mut past = Past { whole: true, ..Past::default() };
    let mut last = None;
    for passage in passages {
        let passage = passage?;
        if last != Some(passage.id) {
            past.commits += 1;
            last = Some(passage.id);
        }
        past.whole &= !passage.cut_off;
        let Some(parent) = passage.parent else { continue };
        for change in &passage.changes {
            let what = change.kind();
            if what == ChangeKind::Added || !Kind::of_path(&change.path).is_some_and(Kind::is_add_only) {
                continue;
            }
            past.breaches.push(Breach {
                path: change.path.clone(),
                what,
                commit: passage.id,
                parent,
                author: passage.author.clone(),
                at: passage.at,
            });
        }
    }
    past.breaches.reverse();
    Ok(past)
}
