//! What a sync is asked for, what it asks of its caller on the way, and what it tells in the end.

use std::collections::BTreeMap;
use std::time::Duration;

use crate::merge::Conflict;

use super::together::Keep;
use super::{
    CommitId, GitError, HandEdit, LogEntry, Moment, PathChange, Person, Remote, Snapshot, TreeMerge,
};

/// What a sync is to do.
#[derive(Clone, Debug)]
pub struct SyncOptions {
    /// The remote by name; the one that the branch follows where not given.
    pub remote: Option<String>,
    /// Show what would happen: fetches, but changes no file, no branch and nothing on the remote.
    pub dry_run: bool,
    /// Leave the network alone: takes in hand edits, and merges what was fetched before.
    pub offline: bool,
    /// How many times to try when others push first; at least 1.
    pub attempts: u32,
    /// Whose commits these are.
    pub author: Person,
}

/// What a sync is about to do, for a line on a terminal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Progress<'p> {
    /// Looking for edits made by hand.
    LookingForEdits,
    /// Asking the remote.
    Fetching,
    /// Merging what came in.
    Merging,
    /// Checking the result.
    Checking,
    /// Putting the result in place.
    Placing,
    /// Sending.
    Pushing,
    /// Somebody was faster; waiting before the next try.
    Waiting,
    /// A line of git's own progress.
    Git(&'p str),
}

/// Which hand edits to take in, and what their commit says.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct TakeIn {
    /// The files.
    pub paths: Vec<String>,
    /// The commit's message.
    pub message: String,
}

/// Whole files that are taken over from commits which are not.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Heard {
    /// The files, by path.
    pub files: BTreeMap<String, Vec<u8>>,
    /// What their commit says.
    pub message: String,
}

/// What is about to become the book.
#[derive(Debug)]
pub struct Incoming<'i> {
    /// The book as it is, hand edits included.
    pub before: &'i Snapshot<'i>,
    /// The book as it would be.
    pub after: &'i Snapshot<'i>,
    /// Where this clone stands; none before its first commit.
    pub ours: Option<CommitId>,
    /// Where the remote stands.
    pub theirs: CommitId,
    /// What differs between the two.
    pub changes: &'i [PathChange],
    /// The commits that come in, newest first.
    pub commits: &'i [LogEntry],
    /// The merge; `None` where nothing had to be merged because nothing was new here.
    pub merge: Option<&'i TreeMerge<'i>>,
}

/// What the check of an incoming book says, short of refusing it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// It may come in.
    Good,
    /// It may come in once these files are kept as they were before and asked about, because the merge brought
    /// together what does not fit. Counts only for a merge.
    Hold(Vec<String>),
    /// It may come in once these files stand as one side has them, and are asked about: only that side was signed by
    /// who may. Counts only for a merge.
    Stand(Vec<(String, Keep)>),
}

/// What a sync asks of its caller on the way.
pub trait Steps {
    /// Why the caller refuses.
    type Refusal;

    /// Reads again what it judges by: another command had the book while the network was waited for.
    ///
    /// # Errors
    /// The reasons why it cannot be read; the sync then stops.
    fn read_again(&mut self) -> Result<(), Self::Refusal> {
        Ok(())
    }

    /// Checks edits made by hand and says which to take in.
    ///
    /// # Errors
    /// The reasons why they may not be taken in; the sync then stops with nothing changed.
    fn take_in(&mut self, edits: &[HandEdit]) -> Result<TakeIn, Self::Refusal>;

    /// Judges the commits that come in, before anything of them is read further.
    ///
    /// # Errors
    /// The reasons why they may not all come in.
    fn admit(&mut self, ours: Option<CommitId>, theirs: CommitId) -> Result<(), Self::Refusal> {
        let _ = (ours, theirs);
        Ok(())
    }

    /// After a refusal: the commits among those that came in which may be taken by themselves, newest first.
    fn beginning(&mut self) -> Vec<CommitId> {
        Vec::new()
    }

    /// After the beginning was taken: what has to be heard of the rest.
    fn heard(&mut self, head: CommitId, theirs: CommitId) -> Option<Heard> {
        let _ = (head, theirs);
        None
    }

    /// True where a refusal is about what was checked, and false where this machine could not check it.
    fn blames(&self, reason: &Self::Refusal) -> bool {
        let _ = reason;
        true
    }

    /// Checks the book as it would become, before the branch moves.
    ///
    /// # Errors
    /// The reasons why it may not come in; the sync then stops and the book stays as it is.
    fn check(&mut self, incoming: &Incoming<'_>) -> Result<Verdict, Self::Refusal>;

    /// What the commit of a merge says.
    fn merge_message(&mut self, incoming: &Incoming<'_>) -> String;

    /// The time for commits.
    fn now(&mut self) -> Moment;

    /// A random number, of which every bit counts.
    fn random(&mut self) -> u64;

    /// Waits.
    fn pause(&mut self, length: Duration);

    /// Receives what is about to happen.
    fn tell(&mut self, progress: Progress<'_>) {
        let _ = progress;
    }
}

/// Why a sync stopped.
#[derive(Debug)]
pub enum SyncError<R> {
    /// Git or the network.
    Git(GitError),
    /// The hand edits may not be taken in.
    HandEdits(R),
    /// What came in may not become the book. The book stays as it is.
    Incoming {
        /// Why.
        reason: R,
        /// The commits that came in, newest first, with who made them.
        commits: Vec<LogEntry>,
    },
    /// The check kept asking to hold files that are held already.
    Unsettled {
        /// The files.
        paths: Vec<String>,
    },
}

impl<R> From<GitError> for SyncError<R> {
    fn from(error: GitError) -> Self {
        SyncError::Git(error)
    }
}

/// What a sync did.
#[derive(Clone, Debug, Default)]
pub struct SyncSummary {
    /// The remote's name and branch; `None` where the book has no remote and the sync was offline.
    pub remote: Option<Remote>,
    /// The hand edits that were taken in.
    pub hand_edits: Vec<HandEdit>,
    /// HEAD before anything.
    pub before: Option<CommitId>,
    /// HEAD after all; in a dry run, what it would be.
    pub after: Option<CommitId>,
    /// The commits that came in, newest first.
    pub commits: Vec<LogEntry>,
    /// What they changed in the book.
    pub changes: Vec<PathChange>,
    /// True where both sides had something new.
    pub merged: bool,
    /// The questions that a merge opened, with the path of each one's record.
    pub opened: Vec<(String, Conflict)>,
    /// True where something was sent.
    pub pushed: bool,
    /// How often somebody else was faster.
    pub races: u32,
    /// What the remote had when it was last seen and no longer has, newest first. This clone still has it.
    pub lost: Vec<LogEntry>,
}
