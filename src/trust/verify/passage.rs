//! A move, judged by the gate as it stood in the state in which the move was made.
//!
//! A signature says who moved a project, and not that the gate was open. Whoever has the state of that moment (a hook
//! has the push, a clone has the history) can ask the gate again. The state must be the one that the move came with:
//! facts that change later put a project on hold and make no move wrong.
//!
//! The gate is that of this program, held to what was asked when the move was made: what only later programs ask for is
//! told beside, and is no fault ([`crate::gates::editions`]).

use crate::digest::Sha256Digest;
use crate::fault::{Fault, Means};
use crate::gates::editions::asked_since;
use crate::gates::{Finding, State, findings};
use crate::git;
use crate::ids::ProjectId;
use crate::job::Case;
use crate::model::kind::Kind;
use crate::model::moves::Move;
use crate::model::snapshot::Shop;
use crate::store::BookFiles;
use crate::trust::chain::Chain;
use crate::trust::tree_files::TreeFiles;
use crate::trust::{project, statements};

/// What the gates of that moment say of moves.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Passed {
    /// Why a gate was shut, by the file of the move; nothing where every one was open.
    pub missed: Vec<Fault>,
    /// What is not met of that which only later programs ask for, with the move's digest.
    pub since: Vec<(Sha256Digest, String)>,
}

/// Judges the statements that a commit brings to a project, given by their paths, in the commit's own state: each by its
/// signature, and then the moves by their gates, where they are `asked`.
///
/// # Errors
/// Everything that is wrong with a signature, or that keeps the project from being read in that state: nobody can say then
/// that a gate was open.
pub(crate) fn of_statements(
    state: &git::Snapshot<'_>,
    (chain, shop): (&Chain, &Shop),
    id: &ProjectId,
    paths: &[&str],
    asked: bool,
) -> Result<Passed, Vec<Fault>> {
    let moves: Vec<&str> =
        paths.iter().copied().filter(|path| Kind::of_path(path) == Some(Kind::Move)).collect();
    let files = if moves.is_empty() {
        let signatures: Vec<String> = paths.iter().map(|path| path.replace(".json", ".sig")).collect();
        let both = paths.iter().copied().chain(signatures.iter().map(String::as_str));
        TreeFiles::of(state, &both.collect::<Vec<_>>())?
    } else {
        TreeFiles::of(state, &[&format!("projects/{id}")])?
    };
    let asks = || judge(&files, chain, shop, id, &moves);
    // A project in which every move counts, through open gates, says that each is rightly signed.
    let judged = (asked && !moves.is_empty() && moves.len() == paths.len()).then(asks);
    if let Some(Ok(passed)) = &judged
        && passed.missed.is_empty()
    {
        return Ok(passed.clone());
    }
    let wrong = |path: &&str| statements::faults(&files, chain, &shop.rules, path);
    let faults: Vec<Fault> = paths.iter().flat_map(wrong).collect();
    match (faults.is_empty(), asked && !moves.is_empty()) {
        (false, _) => Err(faults),
        (true, false) => Ok(Passed::default()),
        (true, true) => judged.unwrap_or_else(asks),
    }
}

/// Judges some moves of a project, given by their paths, in the state that has them first.
///
/// # Errors
/// Everything that keeps the project from being read in that state.
pub fn judge(
    book: &dyn BookFiles,
    chain: &Chain,
    shop: &Shop,
    id: &ProjectId,
    paths: &[&str],
) -> Result<Passed, Vec<Fault>> {
    let snapshot = project::load(book, chain, &shop.rules, id)?;
    let standing = snapshot.standing();
    let case = Case::new(shop, &snapshot);
    let mut passed = Passed::default();
    for path in paths {
        let Some((digest, step)) = snapshot.moves.iter().find(|(d, _)| path.ends_with(&format!("/{d}.json")))
        else {
            passed.missed.push(unknown(path));
            continue;
        };
        if standing.overtaken.contains(digest) {
            passed.missed.push(
                Fault::trust(
                    "move-leads-nowhere",
                    format!("{id} was not at {} when it was made", step.from),
                )
                .that_means(Means::WrongMove)
                .in_file(*path)
                .fix(
                    "make the move with `underlit advance` or `underlit reopen`, which names the one before",
                ),
            );
            continue;
        }
        passed.through_gate(&case, id, path, *digest, step);
    }
    Ok(passed)
}

fn unknown(path: &str) -> Fault {
    Fault::trust("move-unknown", "this move does not count in the first state that has it")
        .that_means(Means::WrongMove)
        .in_file(path)
        .fix("let whoever added it make the move with `underlit advance`")
}

impl Passed {
    /// Asks the gate of one move.
    fn through_gate(
        &mut self,
        case: &Case<'_>,
        id: &ProjectId,
        path: &str,
        digest: Sha256Digest,
        step: &Move,
    ) {
        if step.is_reopen() {
            return; // no gate keeps a step back
        }
        let words = |finding: &Finding| format!("{} [{}]", finding.what, finding.requirement);
        for finding in &findings(case, step.to) {
            if finding.state == State::Met {
                continue;
            }
            if asked_since(finding, case.shop.book.format) {
                self.since.push((digest, words(finding)));
                continue;
            }
            self.missed.push(
                Fault::trust(
                    "move-past-gate",
                    format!("it moves {id} to {} although {}", step.to, words(finding)),
                )
                .that_means(Means::WrongMove)
                .in_file(path)
                .fix(format!(
                    "get it first ({}), then let `underlit advance {id}` make the move",
                    finding.command
                )),
            );
        }
    }
}
