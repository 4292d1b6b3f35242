//! Into rendering: a colour-changing light has its control system. Common practice, no source: static white
//! may dim at the driver, while a light that changes colour does so at its controller.

use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::case::Case;
use crate::model::roster::Role;
use crate::model::stage::Stage;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "control-named",
    gate: Stage::Rendering,
    since: 1,
    reason: "a light that changes colour needs a control system for its channels, and a plain constant-voltage driver before it",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    case.panels()
        .filter_map(|(id, panel)| {
            let kind = panel.light.as_ref()?.kind;
            if !kind.changes_colour() {
                return None;
            }
            let options: Vec<&str> = case
                .shop
                .controls
                .controllers
                .iter()
                .filter(|c| c.kinds.contains(&kind))
                .map(|c| c.id.as_str())
                .collect();
            let command =
                format!("underlit choose {} {id} --control {}", case.id(), options.first().unwrap_or(&"…"));
            let missing = |what: String| {
                Some(REQUIREMENT.missing(case, what, &[Role::Rep, Role::Engineer], command.clone()))
            };
            let Some(control) = &panel.control else {
                return missing(format!("panel {id} has {kind} light and no control system"));
            };
            match case.shop.controls.controllers.iter().find(|c| c.id == control.as_str()) {
                None => missing(format!(
                    "panel {id} names the control {control}, which is no controller of the shop"
                )),
                Some(found) if !found.kinds.contains(&kind) => missing(format!(
                    "panel {id} names the control {control}, which does not run {kind} light"
                )),
                Some(found) => Some(REQUIREMENT.met(format!("panel {id} is controlled by {}", found.name))),
            }
        })
        .collect()
}
