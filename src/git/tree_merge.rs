//! The merge of two commits' whole trees, in memory.
//!
//! Only what differs is read. Each file is decided by `crate::merge`; what stays open is written as conflict
//! records into the merged tree, so that the merge itself always ends. What spans files is decided here: bundles
//! that hold together, units that fall with their head, and questions that meet questions.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::merge::{Keep, Layout, MergeConflict, Three, Treatment, Who};
use crate::model::conflict::Conflict;

use super::partial::blob;
use super::snapshot::edit_tree;
use super::together::{Leaf, Plan, hold_bundles, hold_units};
use super::tree_questions::{Questions, Work};
use super::tree_walk::walk;
use super::{CommitId, Entry, EntryKind, GitError, Repo, Snapshot};

/// What became of two trees.
pub struct TreeMerge<'repo> {
    /// The merged tree, with its conflict records in it.
    pub after: Snapshot<'repo>,
    /// The questions that this merge opened or made longer, with the path of each one's record.
    pub opened: Vec<(String, Conflict)>,
    /// Add-only files that one side had changed or removed, and that stay as they were.
    pub kept: Vec<String>,
    /// What both sides started from; none where one of them began the book.
    pub base: Option<CommitId>,
}

impl std::fmt::Debug for TreeMerge<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("TreeMerge")
            .field("after", &self.after)
            .field("opened", &self.opened)
            .finish_non_exhaustive()
    }
}

/// How a file that is held is kept. What was not there before cannot be kept as it was: of two new ones that of the same
/// side stands on each machine, with what belongs to it; one that only one side has stays, and is no question.
fn held_as(keep: Keep, three: Three<Option<Entry>>, (ours, theirs): (CommitId, CommitId)) -> Plan {
    match (keep, three.base, three.ours, three.theirs) {
        (Keep::Base, None, Some(_), Some(_)) if ours < theirs => Plan::Ask(Keep::Ours),
        (Keep::Base, None, Some(_), Some(_)) => Plan::Ask(Keep::Theirs),
        (Keep::Base, None, _, _) => Plan::Merge,
        _ => Plan::Ask(keep),
    }
}

impl Repo {
    /// Merges two commits. `held` names files to keep as they are on one side, as a question about the whole file,
    /// whatever their bytes: for what only a check of the whole book can see.
    ///
    /// The tree is stored; no branch moves and no file changes.
    ///
    /// # Errors
    /// [`GitError::Unrelated`], [`GitError::Shallow`], [`GitError::FileAgainstFolder`], [`GitError::NotAFile`] for a
    /// link that both sides changed, [`GitError::NoSuchCommit`], [`GitError::Damaged`].
    pub fn merge_commits(
        &self,
        layout: &Layout,
        ours: CommitId,
        theirs: CommitId,
        held: &BTreeMap<String, Keep>,
    ) -> Result<TreeMerge<'_>, GitError> {
        self.merge_holding(layout, None, (ours, theirs), held)
    }

    /// As [`Repo::merge_commits`], over a base that is given, for a git that picks one commit of another branch.
    ///
    /// # Errors
    /// As [`Repo::merge_commits`].
    pub(crate) fn merge_holding(
        &self,
        layout: &Layout,
        base: Option<CommitId>,
        (ours, theirs): (CommitId, CommitId),
        held: &BTreeMap<String, Keep>,
    ) -> Result<TreeMerge<'_>, GitError> {
        let bases = self.bases(ours, theirs)?;
        let base = match base {
            Some(base) => Some(base),
            None => self.one_base(layout, bases.clone())?,
        };
        match base {
            Some(base) => self.merge_over(layout, Some(base), bases, (ours, theirs), held),
            None if self.is_shallow() => Err(GitError::Shallow),
            None => Err(GitError::Unrelated { other: theirs.short() }),
        }
    }

    /// The commit that two sides started from. Where their histories cross and there are several, those are merged
    /// first, in an order that both machines find the same, into a commit that no branch names.
    ///
    /// # Errors
    /// As [`Repo::merge_commits`].
    pub fn common_base(
        &self,
        layout: &Layout,
        ours: CommitId,
        theirs: CommitId,
    ) -> Result<Option<CommitId>, GitError> {
        self.one_base(layout, self.bases(ours, theirs)?)
    }

    fn one_base(&self, layout: &Layout, mut bases: Vec<CommitId>) -> Result<Option<CommitId>, GitError> {
        if let [] | [_] = bases[..] {
            return Ok(bases.pop());
        }
        bases.sort_by_key(|id| {
            (self.git.find_commit(id.0).map(|c| c.time().seconds()).unwrap_or_default(), *id)
        });
        let mut bases = bases.into_iter();
        let Some(mut merged) = bases.next() else { return Ok(None) };
        for next in bases {
            let behind = self.bases(merged, next)?;
            let base = self.one_base(layout, behind.clone())?;
            let tree = self.merge_over(layout, base, behind, (merged, next), &BTreeMap::new())?.after;
            let tree = tree.tree().map(git2::Tree::id);
            let tree = match tree {
                Some(id) => self.git.find_tree(id)?,
                None => edit_tree(&self.git, None, &BTreeMap::new())?,
            };
            let (a, b) = (self.git.find_commit(merged.0)?, self.git.find_commit(next.0)?);
            let at = git2::Time::new(a.time().seconds().max(b.time().seconds()), 0);
            let who = git2::Signature::new("underlit", "underlit@localhost", &at)?;
            merged = CommitId(self.git.commit(None, &who, &who, "common base", &tree, &[&a, &b])?);
        }
        Ok(Some(merged))
    }

    /// The newest commits that two commits have behind them: several, where their histories cross.
    ///
    /// # Errors
    /// [`GitError::Damaged`].
    pub(crate) fn bases(&self, ours: CommitId, theirs: CommitId) -> Result<Vec<CommitId>, GitError> {
        match self.git.merge_bases(ours.0, theirs.0) {
            Ok(found) => Ok(found.iter().map(|id| CommitId(*id)).collect()),
            Err(e) if e.code() == git2::ErrorCode::NotFound => Ok(Vec::new()),
            Err(e) => Err(e.into()),
        }
    }

    /// The merge over one base; `bases` are all that both sides share, whose authors set nothing since.
    fn merge_over(
        &self,
        layout: &Layout,
        base: Option<CommitId>,
        bases: Vec<CommitId>,
        (ours, theirs): (CommitId, CommitId),
        held: &BTreeMap<String, Keep>,
    ) -> Result<TreeMerge<'_>, GitError> {
        let base_tree = match base {
            Some(base) => self.snapshot(base)?,
            None => Snapshot::new(&self.git, None),
        };
        let trees = Three { base: base_tree, ours: self.snapshot(ours)?, theirs: self.snapshot(theirs)? };
        let mut leaves = Vec::new();
        walk(&self.git, [trees.base.tree(), trees.ours.tree(), trees.theirs.tree()], "", &mut |path,
                                                                                               [
            b,
            o,
            t,
        ]| {
            leaves.push(Leaf {
                path,
                here: o,
                three: Three { base: b, ours: o, theirs: t },
                decision: Plan::Merge,
            });
        })?;
        leaves.sort_by(|a, b| a.path.cmp(&b.path));
        hold_units(layout, &mut leaves);
        hold_bundles(layout, &trees.base, &mut leaves)?;
        for leaf in &mut leaves {
            if let Some(keep) = held.get(&leaf.path) {
                leaf.decision = held_as(*keep, leaf.three, (ours, theirs));
            }
        }
        let (records, files): (Vec<&Leaf>, Vec<&Leaf>) =
            leaves.iter().partition(|leaf| *layout.treatment(&leaf.path) == Treatment::Conflict);
        let mut work = Work {
            repo: self,
            layout,
            questions: self.read_questions(layout, &records)?,
            tips: (ours, theirs),
            hidden: bases,
            trees: &trees,
            edits: BTreeMap::new(),
            asked: Vec::new(),
            kept: Vec::new(),
        };
        // Question records first: what is decided later may replace them.
        for leaf in records.into_iter().chain(files) {
            work.decide(leaf)?;
        }
        let opened = work.write_questions()?;
        let (edits, kept) = (work.edits, work.kept);
        let tree = edit_tree(&self.git, trees.ours.tree(), &edits)?;
        let after = Snapshot::new(&self.git, Some(tree)).through(self.part());
        Ok(TreeMerge { after, opened, kept, base })
    }

    pub(crate) fn read_conflict(
        &self,
        layout: &Layout,
        path: &str,
        entry: Option<Entry>,
    ) -> Result<Option<Arc<MergeConflict>>, GitError> {
        let Some(entry) = entry.filter(|e| e.kind == EntryKind::File && path.ends_with(".json")) else {
            return Ok(None);
        };
        if let Some(known) = self.questions.borrow().get(&entry.id) {
            return Ok(known.clone());
        }
        let blob = blob(&self.git, entry.id)?;
        let value = layout.read(path, blob.content()).ok();
        let read = value.and_then(|value| MergeConflict::from_value(&value).ok()).map(Arc::new);
        self.questions.borrow_mut().insert(entry.id, read.clone());
        Ok(read)
    }

    /// Which questions each side opened and which it answered.
    fn read_questions(&self, layout: &Layout, records: &[&Leaf]) -> Result<Questions, GitError> {
        let mut found = Questions::default();
        for leaf in records {
            let three = leaf.three;
            for (now, opened, answered) in [
                (three.ours, &mut found.opened.ours, &mut found.answered.ours),
                (three.theirs, &mut found.opened.theirs, &mut found.answered.theirs),
            ] {
                match (three.base, now) {
                    (None, Some(_)) => {
                        if let Some(conflict) = self.read_conflict(layout, &leaf.path, now)? {
                            let place = (conflict.path.clone(), conflict.pointer.clone());
                            opened.entry(place).or_default().push((leaf.path.clone(), conflict));
                        }
                    }
                    (Some(_), None) => {
                        if let Some(conflict) = self.read_conflict(layout, &leaf.path, three.base)? {
                            let place = (conflict.path.clone(), conflict.pointer.clone());
                            answered.insert(place, leaf.path.clone());
                        }
                    }
                    _ => {}
                }
            }
        }
        Ok(found)
    }

    /// Who last set a place on the way from `hidden` to `tip`; who last touched the file where nobody set the
    /// place itself.
    pub(crate) fn who_set(
        &self,
        layout: &Layout,
        tip: CommitId,
        hidden: &[CommitId],
        place: (&str, &str),
    ) -> Result<Option<Who>, GitError> {
        let (path, pointer) = place;
        let mut last = None;
        for commit in self.log_of(&[tip], hidden, path)? {
            let commit = commit?;
            let change = commit.changes.iter().find(|change| change.path == path);
            let value = |entry: Option<Entry>| -> Result<Option<serde_json::Value>, GitError> {
                let Some(entry) = entry else { return Ok(None) };
                let blob = blob(&self.git, entry.id)?;
                let record = layout.read(path, blob.content()).ok();
                Ok(record.and_then(|record| crate::merge::at(&record, pointer).cloned()))
            };
            let set_here = match change {
                Some(change) if !pointer.is_empty() => {
                    !crate::merge::same(value(change.before)?.as_ref(), value(change.after)?.as_ref())
                }
                _ => true,
            };
            let who = Who {
                at: commit.at.to_string(),
                by: commit.author.name,
                email: commit.author.email,
                commit: commit.id.to_string(),
            };
            if set_here {
                return Ok(Some(who));
            }
            last = last.or(Some(who));
        }
        Ok(last)
    }
}
