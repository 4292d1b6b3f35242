//! Into released: one of the shop's routes can build every panel, whole or in its pieces.

use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::ids::PanelId;
use crate::job::case::Case;
use crate::job::plan::route;
use crate::model::roster::Role;
use crate::model::stage::Stage;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "route-builds",
    gate: Stage::Released,
    since: 1,
    reason: "every panel must fit a sheet, whole or in pieces, and use a light that the shop makes",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    case.job()
        .panels
        .iter()
        .map(|(id, plan)| match &plan.route {
            Ok(route) => REQUIREMENT.met(format!("panel {id} is built by route {route}")),
            Err(reasons) => {
                // What does not fit a sheet whole is split; planning it again would not help.
                let verb = if too_large(case, id) { "split" } else { "plan" };
                REQUIREMENT.missing(
                    case,
                    format!("no build method is chosen for panel {id}: {}", reasons.join("; ")),
                    &[Role::Engineer],
                    format!("underlit {verb} {} {id}", case.id()),
                )
            }
        })
        .collect()
}

fn too_large(case: &Case<'_>, id: &PanelId) -> bool {
    let project = case.project;
    let (Some(panel), Some(drawing)) = (project.panels.get(id), project.drawing_of(id)) else { return false };
    let tape = panel.tape.as_ref().and_then(|t| case.shop.lights.get(t.as_str()));
    !route::need_a_split(case.shop, panel, drawing, tape).is_empty()
}
