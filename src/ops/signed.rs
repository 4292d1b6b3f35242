//! What a person has signed so far that counts, over all projects: for the owners, who say what of it they keep when a
//! key is put away or a role ends.

use super::desk::Desk;
use crate::digest::Sha256Digest;
use crate::fault::Fault;
use crate::ids::{PersonId, ProjectId};
use crate::model::roster::Role;
use crate::model::rules::Rules;
use crate::model::snapshot::Snapshot;

/// One sign-off or move.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Signed {
    /// Its digest.
    pub digest: Sha256Digest,
    /// Its file in the book.
    pub path: String,
    /// Whose key signed it.
    pub signer: PersonId,
    /// What it says, in a few words.
    pub what: String,
}

/// Everything that a person's keys signed so far and that counts.
///
/// # Errors
/// Everything that keeps a project from being read.
pub(crate) fn by(desk: &Desk<'_>, person: &PersonId) -> Result<Vec<Signed>, Vec<Fault>> {
    all(desk, |_, _, signer, _| signer == person)
}

/// Everything that was said in the person's name, and counts, in a role that they would no longer have: what they
/// signed, what they took in as evidence where the rules would no longer let them, and what was taken in for them.
///
/// # Errors
/// As [`by`].
pub(crate) fn in_roles_lost(
    desk: &Desk<'_>,
    person: &PersonId,
    left: &[Role],
    rules: &Rules,
) -> Result<Vec<Signed>, Vec<Fault>> {
    let takes_in = left.iter().any(|r| rules.evidence.taken_by.contains(r));
    let entry = desk.reading.chain.newest().person(person);
    let kept: Vec<Sha256Digest> = entry
        .into_iter()
        .flat_map(|p| p.kept.iter().chain(p.keys.iter().flat_map(|k| &k.kept)).copied())
        .collect();
    let lost = all(desk, |speaker, role, signer, evidence| {
        let own = signer == person && if evidence { !takes_in } else { !left.contains(&role) };
        own || (evidence && speaker == person && !left.contains(&role))
    })?;
    Ok(lost.into_iter().filter(|s| !kept.contains(&s.digest)).collect())
}

/// What of it the book held at a commit.
///
/// # Errors
/// What git says of a commit that is not there.
pub(crate) fn as_of(desk: &Desk<'_>, commit: &str, signed: Vec<Signed>) -> Result<Vec<Signed>, Vec<Fault>> {
    let tree = desk.repo.snapshot(desk.repo.resolve(commit)?)?;
    let mut held = Vec::new();
    for one in signed {
        if tree.entry(&one.path)?.is_some() {
            held.push(one);
        }
    }
    Ok(held)
}

/// Speaker, role, signer, and whether it was taken in as evidence.
fn all(
    desk: &Desk<'_>,
    wanted: impl Fn(&PersonId, Role, &PersonId, bool) -> bool,
) -> Result<Vec<Signed>, Vec<Fault>> {
    let mut found = Vec::new();
    for id in desk.reading.book.projects()? {
        let snapshot = desk.reading.project(&id)?;
        found.extend(of_project(&id, &snapshot, &wanted));
    }
    Ok(found)
}

fn of_project(
    id: &ProjectId,
    snapshot: &Snapshot,
    wanted: &impl Fn(&PersonId, Role, &PersonId, bool) -> bool,
) -> Vec<Signed> {
    let mut found = Vec::new();
    for signoff in snapshot.signoffs.iter().filter(|s| s.void.is_none()) {
        let s = &signoff.statement;
        if wanted(s.speaker(), s.role, &s.signer, s.evidence.is_some()) {
            found.push(Signed {
                digest: signoff.digest,
                path: format!("projects/{id}/signoffs/{}.json", signoff.digest),
                signer: s.signer.clone(),
                what: format!("{id}: {} {}", s.decision, s.about),
            });
        }
    }
    for (digest, step) in &snapshot.moves {
        if wanted(&step.signer, step.role, &step.signer, false) {
            found.push(Signed {
                digest: *digest,
                path: format!("projects/{id}/moves/{digest}.json"),
                signer: step.signer.clone(),
                what: format!("{id}: from {} to {}", step.from, step.to),
            });
        }
    }
    found
}
