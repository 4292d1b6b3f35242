//! Into selection: a trial is recorded for every stone in use, over a test panel that was received.

use crate::gates::case::{Case, Requirement};
use crate::gates::verdict::Finding;
use crate::model::roster::Role;
use crate::model::stage::Stage;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "trial-recorded",
    gate: Stage::Selection,
    since: 1,
    reason: "the test panel on the real stone decides; what was seen has to be written down while it is remembered",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    case.project
        .stones_in_use()
        .map(|stone| {
            let count = case
                .project
                .trials
                .values()
                .filter(|t| t.swatch == *stone)
                .filter(|t| case.project.requests.get(&t.request).is_some_and(|r| r.received.is_some()))
                .count();
            if count > 0 {
                return REQUIREMENT.met(format!("{} of {stone}", crate::words::counted(count, "trial is recorded", "trials are recorded")));
            }
            let command = format!("underlit trial record {} NAME --swatch {stone} --request … --cct … --face … --seen … --rating 1..5", case.id());
            REQUIREMENT.missing(case, format!("no trial of {stone} over a received test panel is recorded"), &[Role::Rep], command)
        })
        .collect()
}
