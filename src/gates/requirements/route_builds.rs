//! Into released: one of the shop's routes can build every panel, whole or in its pieces.

use crate::gates::case::{Case, Requirement};
use crate::gates::verdict::Finding;
use crate::model::roster::Role;
use crate::model::stage::Stage;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "route-builds",
    gate: Stage::Released,
    since: 1,
    reason: "a panel is larger than no sheet and asks for no light that the shop's route cannot make",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    case.job()
        .panels
        .iter()
        .map(|(id, plan)| match &plan.route {
            Ok(route) => REQUIREMENT.met(format!("panel {id} is built by route {route}")),
            Err(reasons) => REQUIREMENT.missing(
                case,
                format!("no route is settled for panel {id}: {}", reasons.join("; ")),
                &[Role::Engineer],
                format!("underlit plan {} {id}", case.id()),
            ),
        })
        .collect()
}
