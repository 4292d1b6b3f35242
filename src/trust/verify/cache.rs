//! Verdicts of before, so that judging a book again costs what has changed in it.
//!
//! A verdict is taken from here only for the very same content of the project, under the same roster (which seals rules
//! and shop), by the same build of the program. What is known of the history holds under every later roster: each of
//! its states has its own, and no roster is ever taken out. What is kept is believed only as this person left it
//! ([`Keyed`]). Where a fingerprint is given, nothing is taken from here.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::moves::{AskedSince, Unasked};
use super::place::Place;
use super::verdict::ProjectVerdict;
use crate::git::CommitId;
use crate::ids::ProjectId;
use crate::trust::Surroundings;
use crate::trust::chain::Chain;
use crate::trust::keyed::Keyed;

/// The file beside the clone's pin.
const FILE: &str = "verdicts.json";

/// What was judged before, and what is to be kept for the next time.
#[derive(Debug, Default)]
pub(crate) struct Cache {
    kept: Option<Keyed>,
    known: Body,
    changed: bool,
}

/// A part of the history in which nothing was ever edited or taken out, and every move had a right to be made.
#[derive(Clone, Debug)]
pub(crate) struct KnownPast {
    /// Everything up to this commit.
    pub commit: CommitId,
    /// False where the history was cut off, and nothing is known of what lies before.
    pub whole: bool,
    /// How many commits that is.
    pub commits: usize,
    /// How many moves were asked again.
    pub moves: usize,
    /// Those that only their signatures speak for.
    pub unasked: Vec<Unasked>,
    /// What only later programs ask for.
    pub since: Vec<AskedSince>,
}

impl KnownPast {
    /// Nothing of what lies behind a commit.
    #[must_use]
    pub(crate) fn before(commit: CommitId) -> Self {
        KnownPast { commit, whole: true, commits: 0, moves: 0, unasked: Vec::new(), since: Vec::new() }
    }
}

#[derive(Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Body {
    /// Program and fingerprint: a cache of any other is empty.
    under: String,
    /// The newest roster: what was said of projects under any other is empty. The past has rosters of its own.
    roster: String,
    past: Option<Past>,
    projects: BTreeMap<ProjectId, Known>,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Past {
    commit: String,
    whole: bool,
    commits: usize,
    moves: usize,
    unasked: Vec<Unasked>,
    since: Vec<AskedSince>,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Known {
    content: String,
    verdict: ProjectVerdict,
}

impl Cache {
    /// One that knows nothing and keeps nothing.
    #[must_use]
    pub(crate) fn none() -> Self {
        Cache::default()
    }

    /// What is known of the book of a clone; nothing where there is no clone or no home folder to keep the key in.
    #[must_use]
    pub(crate) fn open(place: &Place, around: &Surroundings<'_>, chain: &Chain) -> Self {
        let Some(kept) = Keyed::of(place.clone_local().as_deref(), around) else {
            return Cache::none();
        };
        let under = format!("{}\n{}", around.build, chain.fingerprint());
        let roster = chain.newest_digest().to_string();
        let mut known = kept
            .read(FILE)
            .filter(|body: &Body| body.under == under)
            .unwrap_or_else(|| Body { under, ..Body::default() });
        if known.roster != roster {
            known.roster = roster;
            known.projects.clear();
        }
        Cache { kept: Some(kept), known, changed: false }
    }

    /// True where what is found now is kept for the next time.
    #[must_use]
    pub(crate) fn is_kept(&self) -> bool {
        self.kept.is_some()
    }

    /// The part of the history that was judged before.
    #[must_use]
    pub(crate) fn past(&self) -> Option<KnownPast> {
        let past = self.known.past.as_ref()?;
        Some(KnownPast {
            commit: past.commit.parse().ok()?,
            whole: past.whole,
            commits: past.commits,
            moves: past.moves,
            unasked: past.unasked.clone(),
            since: past.since.clone(),
        })
    }

    /// Remembers a part of the history that holds.
    pub(crate) fn remember_past(&mut self, past: KnownPast) {
        let new = Some(Past {
            commit: past.commit.to_string(),
            whole: past.whole,
            commits: past.commits,
            moves: past.moves,
            unasked: past.unasked,
            since: past.since,
        });
        self.changed |= self.known.past != new;
        self.known.past = new;
    }

    /// The verdict on a project of just this content.
    #[must_use]
    pub(crate) fn verdict(&self, id: &ProjectId, content: &str) -> Option<ProjectVerdict> {
        let known = self.known.projects.get(id)?;
        (known.content == content).then(|| known.verdict.clone())
    }

    /// Remembers a verdict.
    pub(crate) fn remember(&mut self, id: &ProjectId, content: &str, verdict: &ProjectVerdict) {
        let known = Known { content: content.to_owned(), verdict: verdict.clone() };
        self.known.projects.insert(id.clone(), known);
        self.changed = true;
    }

    /// Keeps it for the next time.
    pub(crate) fn keep(&self) {
        if let Some(kept) = self.kept.as_ref().filter(|_| self.changed) {
            kept.write(FILE, &self.known);
        }
    }
}
