//! What is done where not all that comes in may be taken: the good part of it is, with everything behind it, and of the
//! rest what people signed to hold something back. It is signed, so it counts wherever it lies: a refusal must reach
//! whoever is about to build, whatever else somebody pushed beside it.

use std::collections::{BTreeMap, BTreeSet};

use super::newest::newest;
use super::stop::{Stop, blames_others};
use super::{Here, Run};
use crate::digest::Sha256Digest;
use crate::fault::Fault;
use crate::git::{Bounds, CommitId, EntryKind, GitError, NewCommit, Repo, Snapshot};
use crate::ids::ProjectId;
use crate::model::kind::Kind;
use crate::model::statement::{Decision, Statement};
use crate::store::files::Listing;
use crate::trust::incoming::{States, largest};
use crate::trust::statements;

/// How many of the commits that may be taken are tried one after the other, newest first, before the search takes longer steps.
const MOST_TRIED: usize = 48;

impl Run<'_> {
    /// Brings the branch to a commit that has both sides in it; where not all that comes in may be taken, to one with its
    /// good beginning, and stops there.
    pub(super) fn bring_in(
        &mut self,
        ours: Option<CommitId>,
        theirs: Option<CommitId>,
    ) -> Result<Option<CommitId>, Stop> {
        let (reason, commits) = match self.bring_together(ours, theirs) {
            Err(Stop::Refused { reason, commits }) if blames_others(&reason) && self.unsealed.is_none() => {
                (reason, commits)
            }
            other => return other,
        };
        let candidates = self.judge.beginning();
        let mut head = ours;
        for candidate in candidates.iter().take(MOST_TRIED) {
            self.try_to_take(&mut head, *candidate)?;
        }
        if head == ours {
            let far_behind = candidates.get(MOST_TRIED..).unwrap_or_default();
            newest(far_behind, |candidate| self.try_to_take(&mut head, candidate))?;
        }
        self.done.after = head;
        if let (Some(at), Some(theirs), false) = (head, theirs, self.here.around.dry_run) {
            // What cannot be heard holds nobody up.
            let Here { repo, lock, around, .. } = self.here;
            let heard = statements(repo, &mut self.judge.states, at, theirs, Which::Refusals);
            if let Ok(Some(Heard { files, message })) = heard {
                let new = NewCommit { message: &message, author: &self.author, at: around.moment() };
                if let Ok(Some(heard)) = self.judge.commit_files(at, &files, &new) {
                    repo.move_branch(lock, head, heard, "sync")?;
                    self.done.after = Some(heard);
                }
            }
        }
        Err(Stop::Refused { reason, commits })
    }

    /// Takes one commit with everything behind it, where it passes; true where it is there then.
    fn try_to_take(&mut self, head: &mut Option<CommitId>, candidate: CommitId) -> Result<bool, Stop> {
        match self.bring_together(*head, Some(candidate)) {
            Ok(taken) => {
                *head = taken;
                Ok(true)
            }
            Err(Stop::Refused { reason, .. }) if blames_others(&reason) => Ok(false),
            Err(
                Stop::Unsettled(_)
                | Stop::Git(
                    GitError::FileAgainstFolder { .. }
                    | GitError::NotAFile { .. }
                    | GitError::BadPath { .. }
                    | GitError::Unrelated { .. },
                ),
            ) => Ok(false),
            Err(stop) => Err(stop),
        }
    }
}

/// Whole files that are taken over from commits which are not.
pub(super) struct Heard {
    /// The files, by path.
    pub(super) files: BTreeMap<String, Vec<u8>>,
    /// What their commit says.
    pub(super) message: String,
}

/// Which statements are taken over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Which {
    /// Those that hold something back: they are heard at once.
    Refusals,
    /// Every one, where the commits are left behind for good.
    All,
}

/// The statements that the commits between two points brought, that are not in the first of them, and that count there
/// as they are signed: whole files by path, with the message for their commit; none where there are none.
///
/// # Errors
/// What keeps the first state from being read.
pub(super) fn statements(
    repo: &Repo,
    states: &mut States,
    head: CommitId,
    theirs: CommitId,
    which: Which,
) -> Result<Option<Heard>, Vec<Fault>> {
    let here = repo.snapshot(head)?;
    let (chain, shop) = (states.chain(&here)?, states.shop(&here)?);
    let inspector = repo.inspector(Bounds::default());
    let mut files = BTreeMap::new();
    let mut said = Vec::new();
    let mut seen = BTreeSet::new();
    for id in inspector.between(&[head], theirs).unwrap_or_default() {
        // What cannot be looked at says nothing.
        let (Ok(commit), Ok(state)) = (inspector.inspect(id), repo.snapshot(id)) else { continue };
        let brought = commit.against.iter().flatten().filter(|change| change.after.is_some());
        for path in brought.map(|change| &change.path) {
            let Some(project) = ProjectId::of_path(path) else { continue };
            // The two files of a statement may come in two commits: each is looked at with what lies beside it then.
            let stem = path.split_once('.').map_or(path.as_str(), |(stem, _)| stem);
            let record = format!("{stem}.json");
            let of_a_word = Kind::of_path(&record) == Some(Kind::SignOff);
            if !of_a_word || seen.contains(&record) || here.entry(&record)?.is_some() {
                continue;
            }
            if here.entry(&format!("projects/{project}/project.json"))?.is_none() {
                continue;
            }
            let Some((statement, found)) = whole(&state, stem) else { continue };
            let holds_back = matches!(
                statement.decision,
                Decision::Rejected | Decision::ReviseAndResubmit | Decision::Withdrawn
            );
            if which == Which::Refusals && !holds_back {
                continue;
            }
            let found = Listing(found);
            if statements::faults(&found, &chain, &shop.rules, &record).is_empty() {
                seen.insert(record);
                said.push(format!("{} ({}): {}", statement.signer, statement.role, statement.decision));
                files.extend(found.0);
            }
        }
    }
    if files.is_empty() {
        return Ok(None);
    }
    let message = format!("Heard from commits that are not taken\n\n{}\n", said.join("\n"));
    Ok(Some(Heard { files, message }))
}

/// A statement with every file that belongs to it, where they all lie there and are plain files of a fitting size.
fn whole(state: &Snapshot<'_>, stem: &str) -> Option<(Statement, BTreeMap<String, Vec<u8>>)> {
    let read = |path: &str| -> Option<Vec<u8>> {
        let entry = state.entry(path).ok()??;
        let fits = state.size(entry).ok()? as u64 <= largest(path);
        (entry.kind == EntryKind::File && fits).then(|| state.bytes(entry).ok())?
    };
    let (record, signature) = (format!("{stem}.json"), format!("{stem}.sig"));
    let bytes = read(&record)?;
    let statement: Statement = serde_json::from_slice(&bytes).ok()?;
    let mut files = BTreeMap::from([(record, bytes)]);
    files.insert(signature.clone(), read(&signature)?);
    if let Some(evidence) = &statement.evidence {
        let folder = stem.rsplit_once('/').map_or("", |(folder, _)| folder);
        let path = format!("{folder}/{}", evidence.scan.file);
        let scan = read(&path).filter(|bytes| Sha256Digest::of(bytes) == evidence.scan.sha256)?;
        files.insert(path, scan);
    }
    Some((statement, files))
}
