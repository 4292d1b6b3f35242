//! Into released: every cable is protected and marked for its output, and lead, slack and tape drop no more than the shop
//! wants, in one sum.
//!
//! A plan that is made today is held to this before it is settled; this asks it of what was settled before.

use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::case::Case;
use crate::model::roster::Role;
use crate::model::stage::Stage;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "wiring-protected",
    gate: Stage::Released,
    since: 2,
    reason: "a cable that can carry more current than it is rated for is a fire risk behind the stone",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    let worked = case.job().panels.iter().filter_map(|(id, plan)| Some((id, plan.power.as_ref().ok()?)));
    worked
        .map(|(id, power)| match power.against.is_empty() {
            true => {
                REQUIREMENT.met(format!("the wiring of panel {id} is protected, marked and within its drop"))
            }
            false => REQUIREMENT.missing(
                case,
                format!("the wiring of panel {id} does not hold: {}", power.against.join("; ")),
                &[Role::Engineer],
                format!("underlit plan {} {id} --anew", case.id()),
            ),
        })
        .collect()
}
