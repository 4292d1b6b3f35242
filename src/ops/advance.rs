//! Moves a project on, where the gate lets it; or back, with a reason.

use super::desk::Desk;
use super::sign::seal;
use crate::digest::Sha256Digest;
use crate::fault::{Fault, Outcome};
use crate::gates::{State, Verdict, Warning, advice, evaluate};
use crate::ids::ProjectId;
use crate::model::kind::Kind;
use crate::model::moves::Move;
use crate::model::snapshot::Snapshot;
use crate::model::stage::Stage;
use crate::store::Changes;
use crate::trust::surroundings::nonce;

/// What came of trying to move on.
#[derive(Clone, Debug)]
pub(crate) enum Advanced {
    /// The project moved.
    Moved {
        /// The stage that was left.
        from: Stage,
        /// The stage that was reached.
        to: Stage,
        /// The move's digest.
        digest: Sha256Digest,
        /// What to know besides.
        warnings: Vec<Warning>,
    },
    /// The gate said not yet.
    Blocked {
        /// The stage where it stays.
        at: Stage,
        /// What the gate said.
        verdict: Verdict,
        /// What to know besides.
        warnings: Vec<Warning>,
    },
}

/// Moves a project one stage on, if everything that its gate asks for is met.
///
/// # Errors
/// `last-stage`, `one-stage-at-a-time`, `role`; everything that is wrong with the project.
pub(crate) fn advance(
    desk: &Desk<'_>,
    id: &ProjectId,
    wanted: Option<Stage>,
) -> Result<Advanced, Vec<Fault>> {
    let one = |f: Fault| vec![f];
    let snapshot = desk.reading.project(id)?;
    let at = snapshot.standing().stage;
    let Some(to) = at.next() else {
        return Err(one(Fault::usage("last-stage", format!("{id} is {at}; there is no stage after that"))
            .fix("nothing is left to do")));
    };
    if let Some(wanted) = wanted.filter(|w| *w != to) {
        let message = format!("{id} is at {at}; it can only move to {to} next, not to {wanted}");
        let remedy = if wanted < at {
            format!("go back with: underlit reopen {id} {wanted} --reason …")
        } else {
            format!("underlit advance {id}")
        };
        return Err(one(Fault::usage("one-stage-at-a-time", message).fix(remedy)));
    }
    let case = desk.reading.case(&snapshot);
    let (verdict, warnings) = (evaluate(&case, to), advice::warnings(&case));
    if !verdict.passes() {
        return Ok(Advanced::Blocked { at, verdict, warnings });
    }
    let (signer, role) = desk.my_role_among(&desk.reading.shop.rules.advance, "move a project on")?;
    let mut met: Vec<String> =
        verdict.findings.iter().filter(|f| f.state == State::Met).map(|f| f.requirement.to_owned()).collect();
    met.dedup();
    let step =
        Move { met, signoffs: verdict.signoffs(), role, signer, ..blank(desk, id, &snapshot, at, to)? };
    let message = format!("{id}: from {at} to {to}\n\nEvery requirement is met: {}.\n", step.met.join(", "));
    let digest = commit(desk, id, &step, &message)?;
    Ok(Advanced::Moved { from: at, to, digest, warnings })
}

/// Moves a project back.
///
/// # Errors
/// `not-back`, `reason-missing`, `role`; everything that is wrong with the project.
pub(crate) fn reopen(
    desk: &Desk<'_>,
    id: &ProjectId,
    to: Stage,
    reason: &str,
) -> Result<(Stage, Sha256Digest), Vec<Fault>> {
    let snapshot = desk.reading.project(id)?;
    let from = snapshot.standing().stage;
    if to >= from {
        let fault = Fault::usage("not-back", format!("{id} is at {from}; {to} is not an earlier stage"));
        return Err(vec![fault.fix("name an earlier stage")]);
    }
    if reason.trim().is_empty() {
        return Err(vec![
            Fault::usage("reason-missing", "going back needs a reason").fix("add --reason \"…\""),
        ]);
    }
    let (signer, role) = desk.my_role_among(&desk.reading.shop.rules.reopen, "move a project back")?;
    let step = Move {
        reason: Some(reason.trim().to_owned()),
        role,
        signer,
        ..blank(desk, id, &snapshot, from, to)?
    };
    let message = format!("{id}: back from {from} to {to}\n\n{}\n", reason.trim());
    Ok((from, commit(desk, id, &step, &message)?))
}

fn blank(desk: &Desk<'_>, id: &ProjectId, snapshot: &Snapshot, from: Stage, to: Stage) -> Outcome<Move> {
    let stands = snapshot.standing();
    let also_previous = stands.unanswered.iter().copied().filter(|d| Some(*d) != stands.last).collect();
    Ok(Move {
        schema: "../../../schema/move.schema.json".into(),
        book: desk.reading.shop.book.id.clone(),
        project: id.clone(),
        from,
        to,
        previous: stands.last,
        also_previous,
        reason: None,
        met: Vec::new(),
        signoffs: Vec::new(),
        signer: desk.me()?,
        role: crate::model::roster::Role::Rep,
        roster: desk.reading.shop.roster_ref(),
        time: desk.around.stamp_to_sign()?,
        nonce: nonce()?,
    })
}

fn commit(desk: &Desk<'_>, id: &ProjectId, step: &Move, message: &str) -> Result<Sha256Digest, Vec<Fault>> {
    let mut changes = Changes::new();
    let digest = seal(desk, &format!("projects/{id}/moves"), Kind::Move, "move", step, &mut changes)?;
    desk.save(&changes, message)?;
    Ok(digest)
}
