//! Into selection: a test panel for every stone in use has arrived.

use crate::gates::case::{Case, Requirement};
use crate::gates::verdict::Finding;
use crate::model::roster::Role;
use crate::model::stage::Stage;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "test-panel-received",
    gate: Stage::Selection,
    reason: "a stone can only be tried over a test panel that is there",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    case.project
        .stones_in_use()
        .filter_map(|stone| {
            let requests: Vec<_> =
                case.project.requests.values().filter(|r| r.swatches.contains(stone)).collect();
            if let Some(there) = requests.iter().find(|r| r.received.is_some()) {
                return Some(REQUIREMENT.met(format!("test panel {} for {stone} was received", there.id)));
            }
            let latest = requests.last()?;
            let (what, roles, verb) = match latest.sent {
                Some(date) => (
                    format!(
                        "test panel {} for {stone} was sent on {date} and has not been received",
                        latest.id
                    ),
                    Role::Rep,
                    "received",
                ),
                None => (
                    format!(
                        "test panel {} for {stone} was asked for on {} and has not been sent",
                        latest.id, latest.asked
                    ),
                    Role::Fabricator,
                    "sent",
                ),
            };
            let command = format!("underlit request {verb} {} {}", case.id(), latest.id);
            Some(REQUIREMENT.missing(case, what, &[roles], command))
        })
        .collect()
}
