//! Into built: every panel is recorded as it left the bench.

use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::case::Case;
use crate::model::handover::BuiltPanel;
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
        .map(|(id, panel)| {
            let built: Vec<&BuiltPanel> =
                case.project.as_built.iter().flat_map(|b| &b.panels).filter(|p| p.id == *id).collect();
            let missing = |what: String| {
                let command = format!("underlit built {} {id} --serial … --watts … --volts …", case.id());
                REQUIREMENT.missing(case, what, &[Role::Fabricator], command)
            };
            match (panel.count(), built.as_slice()) {
                (_, []) => missing(format!("panel {id} has no as-built record")),
                (1, [built, ..]) => REQUIREMENT
                    .met(format!("panel {id} left the bench as {}, {}", built.serial, built.measured_w)),
                (all, some) if some.len() < all => missing(format!(
                    "panel {id}: {} of {all} alike are recorded as built, each by its serial number",
                    some.len()
                )),
                (all, _) => REQUIREMENT.met(format!("all {all} of panel {id} left the bench")),
            }
        })
        .collect()
}
