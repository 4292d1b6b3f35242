//! Every move of the history asked again: whether its gate was open in the state that has it first.
//!
//! Each state is judged by its own roster, rules and shop, as whoever made the move saw them; its roster has to be one
//! that today's follows from. What came with the first commit of a history, or lies where a shallow clone ends, has no
//! state of its own, and only its signature speaks for it. Where a history has several beginnings, each is asked like
//! any commit, or a second one that somebody merges in would be a way past every gate; where a shallow clone ends, the
//! remote alone can tell.

use serde::{Deserialize, Serialize};

use super::passage::{self, Passed};
use super::past::{Brought, Past};
use crate::digest::Sha256Digest;
use crate::fault::Fault;
use crate::git::{CommitId, Hub, Person};
use crate::ids::ProjectId;
use crate::model::moves::{Move, standing};
use crate::model::snapshot::Snapshot;
use crate::parallel::in_parallel_with;
use crate::trust::chain::{Chain, Pin};
use crate::trust::incoming::States;

/// What only later programs ask of a move that was made before them: no word against the move.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AskedSince {
    /// The project.
    pub project: ProjectId,
    /// The move.
    pub sha256: Sha256Digest,
    /// What is not met of what is asked now.
    pub what: String,
}

/// A move that has no state of its own here, so that only its signature speaks for it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Unasked {
    /// The project.
    pub project: ProjectId,
    /// The move.
    pub sha256: Sha256Digest,
}

/// A commit that brings a move which had no right to be made there.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Shut {
    /// The project.
    pub project: ProjectId,
    /// The commit.
    pub commit: CommitId,
    /// Who made the commit, as it says itself.
    pub author: Person,
    /// The moves.
    pub moves: Vec<Sha256Digest>,
    /// Why, each with the file of the move, or with that which keeps the state from being read.
    pub faults: Vec<Fault>,
}

/// What asking again came to.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Asked {
    /// How many moves were asked again.
    pub moves: usize,
    /// Those that have no state of their own, so that only their signatures speak for them.
    pub unasked: Vec<Unasked>,
    /// What only later programs ask for.
    pub since: Vec<AskedSince>,
    /// The moves that had no right to be made.
    pub shut: Vec<Shut>,
}

/// Asks every move of a part of the history again. `newest` is the roster of the judged state.
///
/// # Errors
/// What git and the disk say.
pub(crate) fn ask(hub: &Hub, newest: &Chain, past: &Past) -> Result<Asked, Vec<Fault>> {
    let mut asked = Asked::default();
    let (begun, later): (Vec<&Brought>, Vec<&Brought>) =
        past.brought.iter().partition(|at| at.cut_off || at.begins && past.beginnings <= 1);
    asked.unasked = begun.iter().flat_map(|brought| brought.unasked()).collect();
    asked.moves = later.iter().map(|brought| brought.moves.len()).sum();
    let path = hub.path();
    let judged = in_parallel_with(
        &later,
        || (Hub::open(path), States::default()),
        |(hub, states), brought| {
            let hub = hub.as_ref().map_err(|error| Vec::<Fault>::from(error.clone()))?;
            of_commit(hub, states, newest, brought)
        },
    );
    for (brought, judged) in later.into_iter().zip(judged) {
        match judged {
            Ok(passed) => {
                let since = passed.since.into_iter().map(|(sha256, what)| AskedSince {
                    project: brought.project.clone(),
                    sha256,
                    what,
                });
                asked.since.extend(since);
                asked.shut.extend((!passed.missed.is_empty()).then(|| shut(brought, passed.missed)));
            }
            Err(faults) => asked.shut.push(shut(brought, faults)),
        }
    }
    Ok(asked)
}

impl Brought {
    fn unasked(&self) -> impl Iterator<Item = Unasked> {
        let digests = self.moves.iter().filter_map(|path| digest_of(path));
        digests.map(|sha256| Unasked { project: self.project.clone(), sha256 })
    }
}

/// A commit with what speaks against its moves.
pub(super) fn shut(brought: &Brought, faults: Vec<Fault>) -> Shut {
    let named = |path: &&String| faults.iter().any(|f| f.file.as_ref() == Some(*path));
    let every_fault_names_one =
        faults.iter().all(|f| f.file.as_ref().is_some_and(|file| brought.moves.contains(file)));
    let of: Vec<&String> =
        brought.moves.iter().filter(|path| !every_fault_names_one || named(path)).collect();
    Shut {
        moves: of.into_iter().filter_map(|path| digest_of(path)).collect(),
        project: brought.project.clone(),
        commit: brought.commit,
        author: brought.author.clone(),
        faults,
    }
}

/// The digest that a move's file is named by.
pub(in crate::trust) fn digest_of(path: &str) -> Option<Sha256Digest> {
    path.rsplit('/').next()?.strip_suffix(".json")?.parse().ok()
}

/// What the gates say of the moves that a commit brings; where the state cannot be read, why.
///
/// # Errors
/// Everything that keeps the state from being judged: nobody can say then that a gate was open.
pub(crate) fn of_commit(
    hub: &Hub,
    states: &mut States,
    newest: &Chain,
    brought: &Brought,
) -> Result<Passed, Vec<Fault>> {
    let state = hub.snapshot(Some(brought.commit))?;
    let chain = states.chain(&state)?;
    Pin::of(&chain).holds(newest)?;
    let shop = states.shop(&state)?;
    let id = &brought.project;
    let paths: Vec<&str> = brought.moves.iter().map(String::as_str).collect();
    passage::of_statements(&state, (&chain, &shop), id, &paths, true)
}

impl Shut {
    /// Its faults, each with the commit and with the way to fix it: history forgets nothing, and a step back answers.
    #[must_use]
    pub(crate) fn into_faults(self) -> Vec<Fault> {
        let (commit, by, id) = (self.commit.short(), self.author.name, self.project);
        let placed = |fault: Fault| {
            let message = format!("{} (commit {commit} by {by})", fault.message);
            Fault { message, ..fault }.fix(format!(
                "take the move back with `underlit reopen {id} STAGE --reason …`, get what was missing, and advance again; ask {by} why"
            ))
        };
        self.faults.into_iter().map(placed).collect()
    }

    /// True where every move of it was taken back since, leads nowhere, or counts for nothing.
    #[must_use]
    pub(crate) fn is_answered(&self, now: &Snapshot) -> bool {
        let path = standing(&now.moves).path;
        self.moves.iter().all(|digest| answered(now, &path, *digest))
    }
}

/// True where a move was taken back since, leads nowhere, or counts for nothing.
pub(in crate::trust) fn is_answered(now: &Snapshot, digest: Sha256Digest) -> bool {
    answered(now, &standing(&now.moves).path, digest)
}

fn answered(now: &Snapshot, path: &[Sha256Digest], digest: Sha256Digest) -> bool {
    let Some(made) = now.moves.get(&digest) else {
        return now.void_moves.iter().any(|(void, _)| *void == digest);
    };
    let Some(at) = path.iter().position(|d| *d == digest) else { return true };
    let behind = |step: &Move| step.is_reopen() && step.to <= made.from;
    path[at + 1..].iter().filter_map(|d| now.moves.get(d)).any(behind)
}
