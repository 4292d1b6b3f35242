//! Into selection and every gate after it: nobody's refusal of the facts as they are stands, in whatever role it was said.
//!
//! A refusal in a role that the rules ask is told by the requirement that asked; see [`crate::gates::findings`].

use crate::gates::refusals;
use crate::gates::requirement::Requirement;
use crate::gates::verdict::{Finding, State};
use crate::job::case::Case;
use crate::model::roster::Role;
use crate::model::snapshot::SignOff;
use crate::model::stage::Stage;
use crate::model::statement::Subject;

/// The requirement.
pub(in crate::gates) const REQUIREMENT: Requirement = Requirement {
    name: "nothing-refused",
    gate: Stage::Selection,
    since: 1,
    reason: "a refusal holds the job, whoever made it, until the same person withdraws it or an owner \
        overrides it with a reason",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    let refused = refusals::of_the_present(case);
    if refused.is_empty() {
        return vec![REQUIREMENT.met("no refusal stands")];
    }
    refused.into_iter().map(|refusal| judge(case, refusal)).collect()
}

fn judge(case: &Case<'_>, refusal: &SignOff) -> Finding {
    let (statement, role) = (&refusal.statement, refusal.statement.role);
    let gate = refusals::gate_of(case, &statement.about);
    if let Some(owners) = refusals::set_aside(case, refusal) {
        let signoffs = owners.iter().map(|s| s.digest).collect();
        let what = refusals::overridden_in_words(case, refusal, &owners);
        return Finding { gate, signoffs, roles: vec![Role::Owner], ..REQUIREMENT.met(what) };
    }
    let said = refusals::in_words(case, refusal);
    let command =
        format!("underlit sign {} {} --as {role} --withdraw", case.id(), statement.about.arguments());
    let overriding = Subject::override_of(refusal.digest).arguments();
    Finding {
        state: State::Rejected,
        gate,
        // A program of before did not hear it: its moves stay right.
        since: if statement.edition.is_some() { REQUIREMENT.since } else { 2 },
        why: format!(
            "{}: underlit sign {} {overriding} --as owner --comment \"…\"",
            REQUIREMENT.reason,
            case.id()
        ),
        who: vec![statement.speaker().clone()],
        signoffs: vec![refusal.digest],
        ..REQUIREMENT.missing(case, said, &[role], command)
    }
}
