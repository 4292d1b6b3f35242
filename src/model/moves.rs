//! `moves/<sha256>.json`: a signed step from one stage to the next, or back.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::roster::Role;
use super::stage::Stage;
use super::statement::RosterRef;
use crate::digest::Sha256Digest;
use crate::ids::{BookId, PersonId, ProjectId};

/// One step of a project.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Move {
    /// Path of the schema, for editors.
    #[serde(rename = "$schema")]
    pub schema: String,
    /// The book in which it was made.
    pub book: BookId,
    /// The project in which it was made.
    pub project: ProjectId,
    /// The stage that was left.
    pub from: Stage,
    /// The stage that was reached.
    pub to: Stage,
    /// The digest of the move before, none for the first.
    pub previous: Option<Sha256Digest>,
    /// The other steps back that it answers, where several were made at once and all of them were seen.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub also_previous: Vec<Sha256Digest>,
    /// Why, for a step back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// The requirements that were met, by name.
    pub met: Vec<String>,
    /// The sign-offs that counted, by digest.
    pub signoffs: Vec<Sha256Digest>,
    /// Who made it.
    pub signer: PersonId,
    /// In which role.
    pub role: Role,
    /// Under which roster.
    pub roster: RosterRef,
    /// When it was made; informative only.
    pub time: String,
    /// Random, so that no two moves are the same.
    pub nonce: String,
}

impl Move {
    /// True for a step back.
    #[must_use]
    pub fn is_reopen(&self) -> bool {
        self.to < self.from
    }

    /// True where it names a move as one that it was made after.
    #[must_use]
    pub(crate) fn names(&self, earlier: &Sha256Digest) -> bool {
        self.previous.as_ref() == Some(earlier) || self.also_previous.contains(earlier)
    }

    /// True where the step is one that can be made at all: one stage on, or any number back with a reason.
    #[must_use]
    pub fn is_possible(&self) -> bool {
        if self.is_reopen() {
            self.reason.as_deref().is_some_and(|r| !r.trim().is_empty())
        } else {
            self.from.next() == Some(self.to)
        }
    }
}

/// Where a project stands, as its moves tell it.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// The stage.
    pub stage: Stage,
    /// The last move, none at the start.
    pub last: Option<Sha256Digest>,
    /// The moves that lead here, first to last; of equal ones, made on two machines at once, the one whose
    /// digest comes first.
    pub path: Vec<Sha256Digest>,
    /// The steps back that the next step on has to name, every one: whoever did not see a reason has not answered it.
    pub unanswered: Vec<Sha256Digest>,
    /// Moves that are valid in themselves but lead nowhere: overtaken by a reopen, or hanging in the air.
    pub overtaken: Vec<Sha256Digest>,
}

/// Derives where a project stands from its valid moves.
///
/// Moves that start from the same move are siblings. A step back beats a step on, for a hold always
/// beats a release; of several steps back the farthest decides, and a step on counts only where it names each
/// of them. Equal steps on are one, and whatever follows any of them follows all. Order of the files, clocks and
/// authors play no part.
#[must_use]
pub fn standing(moves: &BTreeMap<Sha256Digest, Move>) -> Standing {
    let mut stage = Stage::Intake;
    let mut path = Vec::new();
    let mut counted: Vec<Sha256Digest> = Vec::new();
    let mut heads: Vec<Option<Sha256Digest>> = vec![None];
    let mut unanswered: Vec<Sha256Digest> = Vec::new();
    loop {
        let following: Vec<(&Sha256Digest, &Move)> = moves
            .iter()
            .filter(|(digest, m)| {
                heads.contains(&m.previous)
                    && m.from == stage
                    && m.is_possible()
                    && !counted.contains(*digest)
            })
            .collect();
        let back: Vec<_> = following.iter().filter(|(_, m)| m.is_reopen()).collect();
        let on = following.iter().filter(|(_, m)| !m.is_reopen() && unanswered.iter().all(|u| m.names(u)));
        let farthest = back.iter().copied().min_by_key(|(d, m)| (m.to, **d));
        let Some((digest, step)) = farthest.or_else(|| on.clone().min_by_key(|(d, _)| **d)) else { break };
        stage = step.to;
        path.push(**digest);
        if back.is_empty() {
            heads = on.map(|(d, _)| Some(**d)).collect();
            unanswered.clear();
        } else {
            heads = back.iter().filter(|(_, m)| m.to == step.to).map(|(d, _)| Some(**d)).collect();
            unanswered.retain(|earlier| !back.iter().any(|(_, m)| m.names(earlier)));
            unanswered.extend(back.iter().map(|(d, _)| **d));
            counted.extend(back.iter().map(|(d, _)| **d));
        }
        counted.extend(heads.iter().flatten().copied());
    }
    let overtaken = moves.keys().filter(|d| !counted.contains(d)).copied().collect();
    Standing { stage, last: path.last().copied(), path, unanswered, overtaken }
}
