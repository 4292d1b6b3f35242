//! The gates room: what stands between one stage and the next. Pure.
//!
//! A gate's requirements are derived from the project's own facts; each is one file under
//! [`requirements`] with its name, reason, check and remedy together. [`evaluate`] is the only judge:
//! `status` shows what it says, `advance` moves when it passes. It looks at a snapshot and nothing else:
//! no clock, no commit, no author.
//!
//! | file | what it holds |
//! |---|---|
//! | [`approval`] | which sign-offs count for a subject |
//! | [`asked`] | what people are asked to approve, each with its answer code |
//! | [`hands`] | one person, or one key, in two roles |
//! | [`refusals`] | which refusals hold the job, and which owners set aside |
//! | [`facts`] | the facts of each view, as they are now |
//! | `same_within` | an outline that moved by no more than the shop's rules call the same |
//! | [`standing`] | how a sign-off stands |
//! | [`sentences`] | the very sentences that waivers and acknowledgements seal |
//! | [`editions`] | which of today's requirements a move of before is held to |
//! | [`requirement`] | what a requirement is made of |
//! | [`requirements`] | one requirement per file |
//! | [`advice`] | warnings that block nothing |
//! | `place_advice` | warnings about what a wet place and a stone ask for |
//! | `supply_advice` | warnings about where drivers stand |
//! | [`verdict`] | the answer |
//!
#![doc = include_str!("NOTES.md")]

pub mod advice;
pub mod approval;
pub mod asked;
pub mod editions;
pub mod facts;
pub mod hands;
pub mod how_to_answer;
pub(crate) mod off_panel;
mod place_advice;
pub mod refusals;
pub mod requirement;
pub mod requirements;
pub(crate) mod same_within;
pub mod sentences;
pub mod standing;
mod supply_advice;
pub mod verdict;

pub use verdict::{Finding, State, Verdict, Warning};

use std::collections::BTreeSet;

use crate::digest::Sha256Digest;
use crate::ids::{GroupId, PanelId};
use crate::job::Case;
use crate::model::stage::Stage;

/// Judges every gate up to the one that leads into a stage.
///
/// Earlier gates are judged again each time, so that a fact which changed later is never overlooked.
#[must_use]
pub fn evaluate(case: &Case<'_>, into: Stage) -> Verdict {
    Verdict { into, findings: findings(case, into) }
}

/// What [`evaluate`] finds, for whoever keeps no verdict. What to know besides is in [`advice::warnings`].
#[must_use]
pub fn findings(case: &Case<'_>, into: Stage) -> Vec<Finding> {
    let asked = requirements::ALL.iter().filter(|requirement| requirement.gate <= into);
    let mut found: Vec<Finding> = asked.flat_map(|requirement| (requirement.check)(case)).collect();
    found.retain(|finding| finding.gate <= into);
    told_once(found)
}

/// Leaves out of `nothing-refused` each refusal that the requirement which asked for the word tells already.
fn told_once(mut found: Vec<Finding>) -> Vec<Finding> {
    let by_itself =
        |f: &Finding| f.requirement == requirements::NOTHING_REFUSED && f.state == State::Rejected;
    let refused = found.iter().filter(|f| f.state == State::Rejected && !by_itself(f));
    let told: BTreeSet<Sha256Digest> = refused.flat_map(|f| f.signoffs.iter().copied()).collect();
    found.retain(|f| !by_itself(f) || !f.signoffs.iter().all(|digest| told.contains(digest)));
    found
}

/// True where the project stands at `released` or later and every gate up to `released` holds today. A release group needs
/// no move: it may be built once its own release is signed, while every gate up to there holds for its panels.
///
/// This is what the engineer's list shows, and the only meaning of "may be built".
#[must_use]
pub fn is_released(case: &Case<'_>) -> bool {
    (case.group.is_some() || case.project.standing().stage >= Stage::Released)
        && findings(case, Stage::Released).iter().all(|finding| finding.state == State::Met)
}

/// The release groups of a job that may be built.
#[must_use]
pub(crate) fn released_groups(case: &Case<'_>) -> Vec<GroupId> {
    case.parts().filter(is_released).filter_map(|part| part.group).collect()
}

/// True where a panel may be built: its job is released, or every release group that takes it.
#[must_use]
pub(crate) fn may_be_built(case: &Case<'_>, panel: &PanelId) -> bool {
    let mut takes = case.parts().filter(|part| part.project.panels.contains_key(panel)).peekable();
    is_released(case) || takes.peek().is_some() && takes.all(|part| is_released(&part))
}
