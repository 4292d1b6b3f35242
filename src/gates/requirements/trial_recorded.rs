//! Into selection: a trial is recorded for every stone in use, over a test panel that was received.

use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::case::Case;
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
        .stones_to_try()
        .map(|stone| {
            let requests = &case.project.requests;
            let count = case
                .project
                .trials
                .values()
                .filter(|t| t.swatch == *stone)
                .filter(|t| requests.get(&t.request).is_some_and(|r| r.received.is_some()))
                .count();
            if count > 0 {
                return REQUIREMENT.met(format!("{} of {stone}", crate::words::counted(count, "trial is recorded", "trials are recorded")));
            }
            let mut over = requests.iter().filter(|(_, r)| r.swatches.contains(stone)).map(|(id, _)| id.as_str());
            let request = over.next().filter(|_| over.next().is_none()).unwrap_or("…");
            let command = format!("underlit trial record {} NAME --swatch {stone} --request {request} --cct … --face … --seen … --rating 1..5", case.id());
            REQUIREMENT.missing(case, format!("no trial of {stone} over a received test panel is recorded"), &[Role::Rep], command)
        })
        .collect()
}
