//! A move, judged by the gate as it stood in the state in which the move was made.
//!
//! A signature says who moved a project, and not that the gate was open. Whoever has the state of that moment (a hook
//! has the push, a clone has the history) can ask the gate again. The state must be the one that the move came with:
//! facts that change later put a project on hold and make no move wrong.

use crate::digest::Sha256Digest;
use crate::fault::Fault;
use crate::gates::{Case, evaluate};
use crate::model::id::ProjectId;
use crate::model::moves::Move;
use crate::model::snapshot::{Shop, Snapshot};
use crate::ops::chain::Chain;
use crate::ops::project;
use crate::store::BookFolder;

fn known<'s>(snapshot: &'s Snapshot, id: &ProjectId, step: Sha256Digest) -> Result<&'s Move, Vec<Fault>> {
    snapshot.moves.get(&step).ok_or_else(|| {
        vec![
            Fault::trust("move-unknown", "no move of that name counts in this state")
                .in_file(format!("projects/{id}/moves/{step}.json"))
                .mend("let whoever brought it make the move with `underlit advance`"),
        ]
    })
}

/// Everything that the gate missed when a move was made: nothing for a move that may stand.
///
/// # Errors
/// Everything that keeps the project from being read; `move-unknown` where no valid move of that name is there.
pub fn faults_of(
    book: &BookFolder,
    chain: &Chain,
    shop: &Shop,
    id: &ProjectId,
    step: Sha256Digest,
) -> Result<Vec<Fault>, Vec<Fault>> {
    let snapshot = project::load(book, chain, &shop.rules, id)?;
    let made = known(&snapshot, id, step)?;
    Ok(missed(&snapshot, shop, id, step, made))
}

/// The same for a project that was read, and a move in it that counts.
#[must_use]
pub fn missed(
    snapshot: &Snapshot,
    shop: &Shop,
    id: &ProjectId,
    step: Sha256Digest,
    made: &Move,
) -> Vec<Fault> {
    if made.is_reopen() {
        return Vec::new(); // no gate keeps a step back
    }
    let verdict = evaluate(&Case::new(shop, snapshot), made.to);
    let missing = verdict.missing().map(|finding| {
        Fault::trust(
            "move-past-gate",
            format!("it moves {id} to {} although {} [{}]", verdict.into, finding.what, finding.requirement),
        )
        .in_file(format!("projects/{id}/moves/{step}.json"))
        .mend(format!("get it first ({}), then let `underlit advance {id}` make the move", finding.command))
    });
    missing.collect()
}
