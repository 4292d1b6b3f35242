//! `sync`: take in hand edits, fetch, merge, check the result, put it in place, push; again where somebody was
//! faster.
//!
//! Each step is found from the state of the repository and not from a memory of the last run, so that a sync
//! can stop anywhere and the next one goes on. What a record may hold and what to say about it comes in
//! through [`Steps`]; the random source, the clock and waiting come in there too.

use std::collections::{BTreeMap, BTreeSet};
use std::time::Duration;

use crate::merge::{Layout, Treatment};

use super::look::FolderScan;
use super::remote::Pushed;
use super::steps::{Heard, Incoming, Progress, Steps, SyncError, SyncOptions, SyncSummary, Verdict};
use super::together::Keep;
use super::user_git::{OnProgress, UserGit};
use super::{
    BookLock, CommitId, GitError, LogEntry, NewCommit, PathChange, Remote, Repo, Snapshot, TreeMerge,
};

impl Repo {
    /// Brings this clone and its remote to the same book.
    ///
    /// # Errors
    /// [`SyncError`]; nothing of this clone's work is lost in any case.
    pub fn sync<S: Steps>(
        &self,
        lock: &BookLock,
        git: &UserGit,
        layout: &Layout,
        options: &SyncOptions,
        steps: &mut S,
    ) -> Result<SyncSummary, SyncError<S::Refusal>> {
        self.refuse_busy()?;
        let remote = match self.remote(options.remote.as_deref()) {
            Err(GitError::NoRemote { name: None }) if options.offline => None,
            found => Some(found?),
        };
        let before = self.head()?;
        let mut summary =
            SyncSummary { remote: remote.clone(), before, after: before, ..SyncSummary::default() };
        let mut round = Round { repo: self, lock, git, layout, options, steps, remote };
        let mut edited = 0;
        loop {
            match round.run(&mut summary) {
                Ok(Pushed::Race) => summary.races += 1,
                Ok(_) => return Ok(summary),
                // An editor saved while the result was put in place: take that in and go on, but not for ever.
                Err(SyncError::Git(GitError::EditedMeanwhile { .. })) if edited < 3 => edited += 1,
                Err(error) => return Err(error),
            }
            if summary.races >= options.attempts.max(1) {
                return Err(GitError::RaceLost { attempts: summary.races }.into());
            }
            round.steps.tell(Progress::Waiting);
            let longest = 50_u64 << summary.races.min(6);
            let length = round.steps.random() % longest;
            round.steps.pause(Duration::from_millis(length));
        }
    }
}

/// What came of waiting for the network, and whether another command had the book meanwhile.
type Away<T> = (Result<T, GitError>, bool);

/// How many of the commits that may be taken are tried one after the other, newest first, before halving.
const MOST_TRIED: usize = 48;

struct Round<'r, S> {
    repo: &'r Repo,
    lock: &'r BookLock,
    git: &'r UserGit,
    layout: &'r Layout,
    options: &'r SyncOptions,
    steps: &'r mut S,
    remote: Option<Remote>,
}

impl<S: Steps> Round<'_, S> {
    fn run(&mut self, summary: &mut SyncSummary) -> Result<Pushed, SyncError<S::Refusal>> {
        let Some(remote) = self.remote.clone() else {
            let folder_scan = self.begin_scan();
            summary.after = self.take_in_edits(folder_scan, summary)?;
            return Ok(Pushed::UpToDate);
        };
        // Before a first commit here, the book of the remote comes first: a commit of what lies here would begin
        // another book.
        if self.repo.head()?.is_none() {
            self.fetch(&remote, summary)?.0?;
            let theirs = self.repo.last_seen(&remote)?;
            summary.after = self.bring_in(&remote, None, theirs, summary)?;
            if self.options.dry_run && theirs.is_some() {
                return Ok(Pushed::UpToDate);
            }
        }
        // The folder is looked through while the remote answers. Whether it does or not, edits are taken in.
        let folder_scan = self.begin_scan();
        let (fetched, others) = self.fetch(&remote, summary)?;
        let folder_scan = if others { self.begin_scan() } else { folder_scan };
        let ours = self.take_in_edits(folder_scan, summary)?;
        summary.after = ours;
        fetched?;
        let theirs = self.repo.last_seen(&remote)?;
        let head = self.bring_in(&remote, ours, theirs, summary)?;
        summary.after = head;
        if self.options.dry_run {
            return Ok(Pushed::UpToDate);
        }
        if theirs.is_some() {
            self.repo.follow(&remote)?;
        }
        let Some(head) = head.filter(|head| Some(*head) != theirs && !self.options.offline) else {
            return Ok(Pushed::UpToDate);
        };
        self.steps.tell(Progress::Pushing);
        let (repo, git) = (self.repo, self.git);
        let (pushed, _) = self.away(|tell| repo.push(git, &remote, head, tell))?;
        let pushed = pushed?;
        if pushed != Pushed::Race {
            summary.pushed |= pushed == Pushed::Done;
            self.repo.name_branch_of_folder(&remote);
            self.repo.follow(&remote)?;
        }
        Ok(pushed)
    }

    /// Does what waits for the network, while others may have the book. Says too whether somebody had.
    fn away<T>(
        &mut self,
        wait: impl FnOnce(Option<OnProgress<'_>>) -> Result<T, GitError>,
    ) -> Result<Away<T>, SyncError<S::Refusal>> {
        let steps = &mut *self.steps;
        let mut tell = |line: &str| steps.tell(Progress::Git(line));
        let shown = self.git.may_ask;
        let (waited_for, others) =
            self.repo.let_go_while(self.lock, || wait(if shown { Some(&mut tell) } else { None }))?;
        if others {
            self.steps.read_again().map_err(SyncError::HandEdits)?;
        }
        Ok((waited_for, others))
    }

    /// Fetches; what came of it, and whether another command had the book meanwhile.
    fn fetch(
        &mut self,
        remote: &Remote,
        summary: &mut SyncSummary,
    ) -> Result<Away<()>, SyncError<S::Refusal>> {
        if self.options.offline {
            return Ok((Ok(()), false));
        }
        self.steps.tell(Progress::Fetching);
        let (repo, git) = (self.repo, self.git);
        let (fetched, others) = self.away(|tell| repo.fetch(git, remote, tell))?;
        let fetched = match fetched {
            Ok(fetched) => fetched,
            Err(error) => return Ok((Err(error), others)),
        };
        // A remote's branch only ever grows. Where it does not, somebody rewrote it or took it away.
        if let Some(before) = fetched.before {
            let kept = match fetched.after {
                // Where that cannot be told, nothing is said of it.
                Some(after) => after == before || self.repo.descends(after, before).unwrap_or(true),
                None => false,
            };
            if !kept {
                let there: Vec<CommitId> = fetched.after.into_iter().collect();
                // Names that no book may have keep nobody from syncing once they are gone.
                summary.lost.extend(self.repo.log_of(&[before], &there, "")?.flatten());
            }
        }
        Ok((Ok(()), others))
    }

    fn begin_scan(&mut self) -> FolderScan {
        self.steps.tell(Progress::LookingForEdits);
        self.repo.begin_scan((!self.options.dry_run).then_some(self.lock))
    }

    fn take_in_edits(
        &mut self,
        folder_scan: FolderScan,
        summary: &mut SyncSummary,
    ) -> Result<Option<CommitId>, SyncError<S::Refusal>> {
        let head = self.repo.head()?;
        let edits = match self.options.dry_run {
            true => self.repo.changed_since(folder_scan)?,
            false => self.repo.changed_since_swept(self.lock, folder_scan)?,
        };
        if edits.is_empty() {
            return Ok(head);
        }
        let take = self.steps.take_in(&edits).map_err(SyncError::HandEdits)?;
        if take.paths.is_empty() {
            return Ok(head);
        }
        let paths: Vec<&str> = take.paths.iter().map(String::as_str).collect();
        let at = self.steps.now();
        let new = NewCommit { message: &take.message, author: &self.options.author, at };
        let taken = if self.options.dry_run {
            self.repo.unmoved_commit(head, &paths, &new)?
        } else {
            self.repo.commit_paths(self.lock, &paths, &new)?
        };
        if taken.is_some() {
            summary.hand_edits.extend(edits.into_iter().filter(|edit| take.paths.contains(&edit.path)));
        }
        Ok(taken.or(head))
    }

    /// Brings the branch to a commit that has both sides in it; where not all that comes in may be taken, to one with its
    /// good beginning, and stops there.
    fn bring_in(
        &mut self,
        remote: &Remote,
        ours: Option<CommitId>,
        theirs: Option<CommitId>,
        summary: &mut SyncSummary,
    ) -> Result<Option<CommitId>, SyncError<S::Refusal>> {
        let (reason, commits) = match self.bring_together(remote, ours, theirs, summary) {
            Err(SyncError::Incoming { reason, commits }) if self.steps.blames(&reason) => (reason, commits),
            other => return other,
        };
        let candidates = self.steps.beginning();
        let mut head = ours;
        for candidate in candidates.iter().take(MOST_TRIED) {
            self.try_to_take(remote, &mut head, *candidate, summary)?;
        }
        // Far behind: half of what is left, and half again.
        let (mut from, mut to) = (MOST_TRIED.min(candidates.len()), candidates.len());
        while head == ours && from < to {
            let middle = from + (to - from) / 2;
            if self.try_to_take(remote, &mut head, candidates[middle], summary)? {
                to = middle;
            } else {
                from = middle + 1;
            }
        }
        summary.after = head;
        if let (Some(at), Some(theirs), false) = (head, theirs, self.options.dry_run)
            && let Some(Heard { files, message }) = self.steps.heard(at, theirs)
        {
            let new = NewCommit { message: &message, author: &self.options.author, at: self.steps.now() };
            // What cannot be heard holds nobody up.
            if let Ok(Some(heard)) = self.repo.commit_files(at, &files, &new, self.steps) {
                self.repo.advance(self.lock, head, heard, true, "sync")?;
                summary.after = Some(heard);
            }
        }
        Err(SyncError::Incoming { reason, commits })
    }

    /// Takes one commit with everything behind it, where it passes; true where it is there then.
    fn try_to_take(
        &mut self,
        remote: &Remote,
        head: &mut Option<CommitId>,
        candidate: CommitId,
        summary: &mut SyncSummary,
    ) -> Result<bool, SyncError<S::Refusal>> {
        match self.bring_together(remote, *head, Some(candidate), summary) {
            Ok(taken) => {
                *head = taken;
                Ok(true)
            }
            Err(SyncError::Incoming { reason, commits }) if !self.steps.blames(&reason) => {
                Err(SyncError::Incoming { reason, commits })
            }
            Err(
                SyncError::Incoming { .. }
                | SyncError::Unsettled { .. }
                | SyncError::Git(
                    GitError::FileAgainstFolder { .. }
                    | GitError::NotAFile { .. }
                    | GitError::BadPath { .. }
                    | GitError::Unrelated { .. },
                ),
            ) => Ok(false),
            Err(error) => Err(error),
        }
    }

    /// Brings the branch to a commit that has both sides in it.
    fn bring_together(
        &mut self,
        remote: &Remote,
        ours: Option<CommitId>,
        theirs: Option<CommitId>,
        summary: &mut SyncSummary,
    ) -> Result<Option<CommitId>, SyncError<S::Refusal>> {
        let repo = self.repo;
        let Some(theirs) = theirs else { return Ok(ours) };
        let behind = match ours {
            None => true,
            Some(ours) if ours == theirs => return Ok(Some(ours)),
            Some(ours) => match (repo.descends(ours, theirs), repo.descends(theirs, ours)) {
                (Ok(true), _) => return Ok(Some(ours)),
                (Ok(false), Ok(behind)) => behind,
                (Err(error), _) | (_, Err(error)) => {
                    // A commit that the library cannot read is in the way: the judge says whose.
                    let refused = |reason| SyncError::Incoming { reason, commits: Vec::new() };
                    self.steps.admit(Some(ours), theirs).map_err(refused)?;
                    return Err(error.into());
                }
            },
        };
        if let Some(ours) = ours.filter(|_| !behind) {
            self.make_whole(remote, ours, theirs)?;
        }
        let related = match ours {
            Some(ours) => behind || !repo.bases(ours, theirs)?.is_empty(),
            None => true,
        };
        if related {
            self.steps.tell(Progress::Checking);
            let refused = |reason| SyncError::Incoming { reason, commits: Vec::new() };
            self.steps.admit(ours, theirs).map_err(refused)?;
        }
        let without: Vec<CommitId> = ours.into_iter().collect();
        let commits = repo.log_of(&[theirs], &without, "")?.collect::<Result<Vec<_>, _>>()?;
        let before = match ours {
            Some(ours) => repo.snapshot(ours)?,
            None => Snapshot::new(&repo.git, None),
        };
        let head = match ours {
            Some(ours) if !behind => self.merge(&before, ours, theirs, &commits, summary)?,
            _ => {
                let after = repo.snapshot(theirs)?;
                let changes = before.changes(&after, "")?;
                let incoming = Incoming {
                    before: &before,
                    after: &after,
                    ours,
                    theirs,
                    changes: &changes,
                    commits: &commits,
                    merge: None,
                };
                self.steps.tell(Progress::Checking);
                self.steps
                    .check(&incoming)
                    .map_err(|reason| SyncError::Incoming { reason, commits: commits.clone() })?;
                summary.changes.extend(changes);
                theirs
            }
        };
        summary.commits.splice(0..0, commits);
        if !self.options.dry_run {
            self.steps.tell(Progress::Placing);
            repo.advance(self.lock, ours, head, true, "sync")?;
        }
        Ok(Some(head))
    }

    /// Fetches the rest of a history that is cut off, where the merge needs it.
    fn make_whole(
        &mut self,
        remote: &Remote,
        ours: CommitId,
        theirs: CommitId,
    ) -> Result<(), SyncError<S::Refusal>> {
        if self.repo.is_shallow()
            && !self.options.offline
            && self.repo.common_base(self.layout, ours, theirs)?.is_none()
        {
            self.steps.tell(Progress::Fetching);
            let (repo, git) = (self.repo, self.git);
            let (fetched, _) = self.away(|tell| repo.fetch_whole_history(git, remote, tell))?;
            fetched?;
            if repo.head()? != Some(ours) {
                return Err(GitError::BranchMoved { branch: repo.branch()? }.into());
            }
        }
        Ok(())
    }

    fn merge(
        &mut self,
        before: &Snapshot<'_>,
        ours: CommitId,
        theirs: CommitId,
        commits: &[LogEntry],
        summary: &mut SyncSummary,
    ) -> Result<CommitId, SyncError<S::Refusal>> {
        let repo = self.repo;
        let checked = repo.merge_checked(self.layout, before, None, (ours, theirs), commits, self.steps)?;
        let at = self.steps.now();
        let new = NewCommit { message: &checked.message, author: &self.options.author, at };
        let tree = checked.merge.after.tree().map(git2::Tree::id);
        let Some(tree) = tree else { return Ok(theirs) };
        let tree = repo.git.find_tree(tree).map_err(GitError::from)?;
        let id = repo.store_commit(&tree, &[ours, theirs], &new)?;
        summary.merged = true;
        summary.opened.extend(checked.merge.opened.iter().cloned());
        summary.changes.extend(checked.changes);
        Ok(id)
    }
}

/// A merge that passed the caller's check.
pub(crate) struct CheckedMerge<'repo> {
    pub(crate) merge: TreeMerge<'repo>,
    pub(crate) changes: Vec<PathChange>,
    pub(crate) message: String,
}

impl Repo {
    /// Merges two commits, over a base that is given or the one that they share, and has the result checked, holding
    /// back what does not fit, until it passes.
    pub(crate) fn merge_checked<S: Steps>(
        &self,
        layout: &Layout,
        before: &Snapshot<'_>,
        base: Option<CommitId>,
        (ours, theirs): (CommitId, CommitId),
        commits: &[LogEntry],
        steps: &mut S,
    ) -> Result<CheckedMerge<'_>, SyncError<S::Refusal>> {
        let mut held = BTreeSet::new();
        // What only one side has as it was signed stands as that side has it, whatever else is held.
        let mut stood: BTreeMap<String, Keep> = BTreeMap::new();
        // What is held keeps what it was. Where even that does not fit together, because both sides have moved on or what
        // it was is a merge of histories that cross, one side's stands, on each machine the same; and where that hangs
        // together with what was brought together from both, that side's whole folder, which held by itself.
        let mut keep = Keep::Base;
        let (one, other) =
            if ours < theirs { (Keep::Ours, Keep::Theirs) } else { (Keep::Theirs, Keep::Ours) };
        let mut further = [(one, false), (other, false), (one, true)].into_iter();
        loop {
            steps.tell(Progress::Merging);
            let mut sides: BTreeMap<String, Keep> =
                held.iter().map(|path: &String| (path.clone(), keep)).collect();
            sides.extend(stood.clone());
            let merge = self.merge_holding(layout, base, (ours, theirs), &sides)?;
            let changes = before.changes(&merge.after, "")?;
            let incoming = Incoming {
                before,
                after: &merge.after,
                ours: Some(ours),
                theirs,
                changes: &changes,
                commits,
                merge: Some(&merge),
            };
            steps.tell(Progress::Checking);
            let verdict = steps.check(&incoming);
            match verdict.map_err(|reason| SyncError::Incoming { reason, commits: commits.to_vec() })? {
                Verdict::Hold(paths) if !paths.is_empty() => {
                    let known = held.len();
                    held.extend(paths.iter().cloned());
                    if held.len() == known {
                        let (next, whole) = further.next().ok_or(SyncError::Unsettled { paths })?;
                        keep = next;
                        if whole {
                            held.extend(self.apart_in_units(layout, (ours, theirs), &held)?);
                        }
                    }
                }
                Verdict::Stand(sides) if !sides.is_empty() => {
                    let known = stood.clone();
                    stood.extend(sides.iter().cloned());
                    if stood == known {
                        let paths = sides.into_iter().map(|(path, _)| path).collect();
                        return Err(SyncError::Unsettled { paths });
                    }
                }
                _ => {
                    let message = steps.merge_message(&incoming);
                    return Ok(CheckedMerge { merge, changes, message });
                }
            }
        }
    }

    /// The files in which two sides differ, in the folders that hold together around what is held: records and what is
    /// attached to them, but no statements and no questions, which both sides keep.
    fn apart_in_units(
        &self,
        layout: &Layout,
        (ours, theirs): (CommitId, CommitId),
        held: &BTreeSet<String>,
    ) -> Result<Vec<String>, GitError> {
        let units: BTreeSet<String> =
            held.iter().filter_map(|path| layout.unit_of(path)).map(|(folder, _)| folder).collect();
        let (ours, theirs) = (self.snapshot(ours)?, self.snapshot(theirs)?);
        let mut found = Vec::new();
        for folder in units {
            for change in ours.changes(&theirs, &folder)? {
                let kind = layout.treatment(&change.path);
                if matches!(kind, Treatment::Record(_) | Treatment::Attachment) {
                    found.push(change.path);
                }
            }
        }
        Ok(found)
    }

    /// True where `ancestor` lies behind `commit`.
    pub(crate) fn descends(&self, commit: CommitId, ancestor: CommitId) -> Result<bool, GitError> {
        Ok(self.git.graph_descendant_of(commit.0, ancestor.0)?)
    }
}
