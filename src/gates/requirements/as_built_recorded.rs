//! Into built: every panel is recorded as it left the bench.

use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::case::Case;
use crate::model::roster::Role;
use crate::model::stage::Stage;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "as-built-recorded",
    gate: Stage::Built,
    since: 1,
    reason: "when a light fails, the serial number and the measured watts tell what is behind the stone",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    case.panels()
        .map(|(id, _)| {
            let built = case.project.as_built.as_ref().and_then(|b| b.panels.iter().find(|p| p.id == *id));
            match built {
                Some(panel) => REQUIREMENT
                    .met(format!("panel {id} left the bench as {}, {}", panel.serial, panel.measured_w)),
                None => REQUIREMENT.missing(
                    case,
                    format!("panel {id} has no as-built record"),
                    &[Role::Fabricator],
                    format!("underlit built {} {id} --serial … --watts … --volts …", case.id()),
                ),
            }
        })
        .collect()
}
