//! Whether what comes in may be taken: each commit of it by the judge of a push, and the book as it would become by the
//! check of every book.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use super::stop::Stop;
use crate::fault::{Fault, Means};
use crate::git::{Bounds, CommitId, LogEntry, NewCommit, PathChange, Remote, Repo, Snapshot, TreeMerge};
use crate::merge::Keep;
use crate::model::kind::Kind;
use crate::model::references;
use crate::model::roster::Roster;
use crate::store::strict_json;
use crate::trust::changed::{self, Changed, Whose};
use crate::trust::incoming::{self, States};
use crate::trust::redraw::Known;
use crate::trust::tree_files::TreeFiles;
use crate::trust::{chain, guard, shop};

/// What is about to become the book.
pub(super) struct Incoming<'i> {
    /// The book as it would be.
    pub(super) after: &'i Snapshot<'i>,
    /// Where this clone stands; none before its first commit.
    pub(super) ours: Option<CommitId>,
    /// Where the remote stands.
    pub(super) theirs: CommitId,
    /// What differs here from the book as it is, hand edits included.
    pub(super) changes: &'i [PathChange],
    /// The merge; `None` where nothing had to be merged because nothing was new here.
    pub(super) merge: Option<&'i TreeMerge<'i>>,
}

/// What the check of an incoming book says, short of refusing it.
pub(super) enum Verdict {
    /// It may come in.
    Good,
    /// It may come in once these files are kept as they were before and asked about, because the merge brought
    /// together what does not fit. Only of a merge.
    Hold(Vec<String>),
    /// It may come in once these files stand as one side has them, and are asked about: only that side was signed by
    /// who may. Only of a merge.
    Stand(Vec<(String, Keep)>),
}

pub(super) struct Judge<'a> {
    /// False for an owner who takes back a roster version of their own, so that the pin is about to change.
    pub(super) pinned: bool,
    /// What the judge said of each commit that came in last.
    pub(super) sorted: guard::Sorted,
    pub(super) states: States,
    repo: &'a Repo,
    local: &'a Path,
    /// True once it was told what may be taken of a refused history: what is judged after that is ours.
    told: bool,
    /// The commits that were found to hold, each with everything behind it.
    clean: BTreeSet<CommitId>,
}

impl<'a> Judge<'a> {
    pub(super) fn new(repo: &'a Repo, local: &'a Path) -> Self {
        Judge {
            pinned: true,
            sorted: guard::Sorted::default(),
            states: States::default(),
            repo,
            local,
            told: false,
            clean: BTreeSet::new(),
        }
    }

    /// Judges the commits that come in, before anything of them is read further.
    ///
    /// # Errors
    /// The reasons why they may not all come in.
    pub(super) fn admit(&mut self, ours: Option<CommitId>, theirs: CommitId) -> Result<(), Vec<Fault>> {
        if self.clean.contains(&theirs) {
            return Ok(());
        }
        // A last state that holds may hide a history that does not: an approval that a merge left out, a move that
        // was made while its gate was shut.
        let ours: Vec<CommitId> = ours.into_iter().collect();
        let inspector = self.repo.inspector(Bounds::after(&ours));
        let sorted = guard::sort_history(&inspector, &ours, theirs)?;
        self.clean.extend(&sorted.clean);
        let refused: Vec<Fault> = sorted.refused.iter().map(|found| found.clone().into_fault()).collect();
        if !self.told {
            self.sorted = sorted;
        }
        if !refused.is_empty() {
            return Err(refused);
        }
        if let (Some(ours), true) = (ours.first(), self.pinned) {
            let repo = self.repo;
            let remote = repo.remote(None).ok();
            if let Ok(Some(fork)) = fork(repo, remote.as_ref(), &mut self.states, *ours, theirs)
                && fork.unsent
            {
                return Err(vec![made_twice(fork.version)]);
            }
        }
        Ok(())
    }

    /// After a refusal: the commits among those that came in which may be taken by themselves, newest first.
    pub(super) fn beginning(&mut self) -> Vec<CommitId> {
        self.told = true;
        let clean = self.sorted.clean.clone();
        // Of two rosters that were made at once this clone cannot know which one stands: it waits before both.
        let fork = self.fork(&clean);
        let repo = self.repo;
        let mut found = Vec::new();
        for id in clean.into_iter().rev() {
            let before_the_fork = fork.is_none_or(|fork| {
                let chain = repo.snapshot(id).map_err(Into::into).and_then(|s| self.states.chain(&s));
                chain.is_ok_and(|chain| chain.newest().version < fork)
            });
            if before_the_fork {
                found.push(id);
            }
        }
        found
    }

    /// The number of the first roster version that is not the same in all of some commits; none where they agree.
    fn fork(&mut self, commits: &[CommitId]) -> Option<u32> {
        let mut known: BTreeMap<u32, crate::digest::Sha256Digest> = BTreeMap::new();
        let mut fork: Option<u32> = None;
        for id in commits {
            let Ok(state) = self.repo.snapshot(*id) else { continue };
            let Ok(chain) = self.states.chain(&state) else { continue };
            for (roster, digest) in chain.versions() {
                if *known.entry(roster.version).or_insert(*digest) != *digest {
                    fork = Some(fork.map_or(roster.version, |n| n.min(roster.version)));
                }
            }
        }
        fork
    }

    /// Judges the state of a commit as it would become the book after another; after nothing, for a first one. Gives back
    /// what it changes.
    pub(super) fn state(
        &mut self,
        before: Option<CommitId>,
        after: CommitId,
        commits: &[LogEntry],
    ) -> Result<Vec<PathChange>, Stop> {
        let (here, there) = (self.repo.snapshot_of(before)?, self.repo.snapshot(after)?);
        let changes = here.changes(&there, "")?;
        let incoming =
            Incoming { after: &there, ours: before, theirs: after, changes: &changes, merge: None };
        match self.check(&incoming) {
            Ok(_) => Ok(changes),
            Err(reason) => Err(Stop::Refused { reason, commits: commits.to_vec() }),
        }
    }

    /// Judges one commit on another like any that comes in.
    pub(super) fn commit(&mut self, onto: CommitId, made: CommitId) -> Result<(), Stop> {
        self.admit(Some(onto), made).map_err(Stop::refused)?;
        self.state(Some(onto), made, &[]).map(|_| ())
    }

    /// Makes a commit on another that brings whole files, and judges it. No branch moves. `None` where every file lies there
    /// already.
    pub(super) fn commit_files(
        &mut self,
        onto: CommitId,
        files: &BTreeMap<String, Vec<u8>>,
        new: &NewCommit<'_>,
    ) -> Result<Option<CommitId>, Stop> {
        let made = self.repo.commit_files(onto, files, new)?;
        made.map(|made| self.commit(onto, made).map(|()| made)).transpose()
    }

    /// Checks the book as it would become, before the branch moves.
    ///
    /// # Errors
    /// The reasons why it may not come in.
    pub(super) fn check(&mut self, incoming: &Incoming<'_>) -> Result<Verdict, Vec<Fault>> {
        let chain = self.states.chain(incoming.after)?;
        if self.pinned {
            chain::compare_with_pin(self.local, &chain)?;
        }
        let theirs = self.repo.snapshot(incoming.theirs)?;
        if incoming.merge.is_some() {
            let stand = incoming::as_sealed(incoming.after, &chain, &theirs)?;
            if !stand.is_empty() {
                return Ok(Verdict::Stand(stand));
            }
        }
        let shop = self.states.shop(incoming.after)?;
        let changed = Changed {
            book: &TreeFiles::of_changes(incoming.after, incoming.changes)?,
            chain: &chain,
            rules: Some(&shop.rules),
            files: changed::by_path(incoming.changes),
            unsaid: changed::unsaid_on_sheets(incoming.after, incoming.changes)?,
            whose: Whose::Theirs,
        };
        let mut found = changed.faults(&Known::default(), usize::MAX, &|| Ok(()))?;
        let ours: Vec<CommitId> = incoming.ours.into_iter().collect();
        let inspector = self.repo.inspector(Bounds::after(&ours));
        found.extend(guard::beside_records::faults(&inspector, &ours, incoming.theirs)?);
        if incoming.ours.is_none() {
            // Whoever joins with a newer program than the book was made with has a book; `check` says what to renew.
            found.retain(|fault| fault.means != Means::OtherRelease);
        }
        found.dedup();
        if found.is_empty() {
            return Ok(Verdict::Good);
        }
        let Some(merge) = incoming.merge else { return Err(found) };
        self.held(incoming, merge, &theirs, found)
    }

    /// Where a merge brought together what does not fit, the files are kept as they were and asked about: whichever side
    /// changed them, so that whoever merges comes to the same.
    fn held(
        &self,
        incoming: &Incoming<'_>,
        merge: &TreeMerge<'_>,
        theirs: &Snapshot<'_>,
        found: Vec<Fault>,
    ) -> Result<Verdict, Vec<Fault>> {
        let theirs = theirs.changes(incoming.after, "")?;
        let changed: BTreeSet<&str> =
            incoming.changes.iter().chain(&theirs).map(|change| change.path.as_str()).collect();
        let base = merge.base.map(|base| self.repo.snapshot(base)).transpose()?;
        let asked = |path: &str| merge.opened.iter().any(|(_, open)| open.path == path);
        let is_there = |path: &str| matches!(incoming.after.entry(path), Ok(Some(_)));
        let was_there = |path: &str| {
            base.as_ref().is_some_and(|base| matches!(base.entry(path), Ok(Some(_))))
                || changed.contains(path)
        };
        let held: Vec<Vec<String>> = found
            .iter()
            .map(|fault| match (&fault.file, &fault.other) {
                // It names what a side took out: that stays as it was, and is what is asked about. The record that names
                // it stands, so that nobody's new panel goes with another's old stone.
                (Some(file), Some(other))
                    if may_be_held(file) && may_be_held(other) && !is_there(other) && was_there(other) =>
                {
                    vec![other.clone()]
                }
                // It keeps what it was already; what lies beside it has to as well.
                (Some(file), Some(other))
                    if may_be_held(other)
                        && asked(file)
                        && !asked(other)
                        && changed.contains(other.as_str()) =>
                {
                    vec![other.clone()]
                }
                _ => to_hold(fault, incoming.after, &changed),
            })
            .collect();
        let each_has_some = held.iter().all(|paths| !paths.is_empty());
        let held: Vec<String> = held.into_iter().flatten().collect();
        if each_has_some { Ok(Verdict::Hold(held)) } else { Err(found) }
    }
}

/// The files that changed on some side and that a fault of a merge may come from: its own, and what that names beside it.
fn to_hold(fault: &Fault, after: &Snapshot<'_>, changed: &BTreeSet<&str>) -> Vec<String> {
    let Some((path, kind)) = fault.file.as_deref().and_then(|path| Some((path, Kind::of_path(path)?))) else {
        return Vec::new();
    };
    if !kind.has_schema() || !may_be_held(path) {
        return Vec::new();
    }
    let mut paths = vec![path.to_owned()];
    if fault.means == Means::Attached
        && let Ok(Some(bytes)) = after.file(path)
        && let Ok(value) = strict_json::parse(&bytes)
    {
        paths.extend(references::attached(path, kind, &value).into_iter().map(|named| named.path));
    }
    paths.retain(|path| changed.contains(path.as_str()));
    paths
}

/// True for a file that may be kept as it was and asked about.
fn may_be_held(path: &str) -> bool {
    Kind::of_path(path).is_some_and(|kind| !kind.is_add_only() && kind != Kind::Conflict)
        && path.rsplit('/').nth(1).is_none_or(|folder| folder != shop::CONFLICTS)
}

/// Two versions of one number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Fork {
    /// The number.
    pub(super) version: u32,
    /// True where this clone's was never on the remote.
    pub(super) unsent: bool,
}

/// The first version that this clone's branch and another commit have otherwise.
pub(super) fn fork(
    repo: &Repo,
    remote: Option<&Remote>,
    states: &mut States,
    ours: CommitId,
    theirs: CommitId,
) -> Result<Option<Fork>, Vec<Fault>> {
    let (here, there) = (repo.snapshot(ours)?, repo.snapshot(theirs)?);
    if here.digest_at("roster")? == there.digest_at("roster")? {
        return Ok(None);
    }
    let (mine, other) = (states.chain(&here)?, states.chain(&there)?);
    let differs = |(a, b): (&(Roster, _), &(Roster, _))| (a.1 != b.1).then_some(a.0.version);
    let Some(version) = mine.versions().iter().zip(other.versions()).find_map(differs) else {
        return Ok(None);
    };
    let path = chain::path_of(version);
    let mut unsent = true;
    if let Some(remote) = remote {
        let inspector = repo.inspector(Bounds::default());
        for id in inspector.between(&[theirs], ours).unwrap_or_default() {
            if repo.snapshot(id)?.entry(&path)?.is_some() {
                unsent = !repo.was_on(remote, id);
                break;
            }
        }
    }
    Ok(Some(Fork { version, unsent }))
}

/// What a sync says to whoever made a version at the same time as somebody else: nothing is wrong with what came in.
fn made_twice(version: u32) -> Fault {
    Fault::trust(
        "roster-made-twice",
        format!(
            "roster version {version} was made twice: yours is not sent yet, and another owner's was sent first, so theirs stands; nothing was changed"
        ),
    )
    .that_means(Means::MadeTwice)
    .in_file(chain::path_of(version))
    .fix("take yours back and make it again on top of theirs: underlit roster redo")
}
