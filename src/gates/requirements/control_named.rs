//! Into rendering: a colour-changing light has its control system, and a warm-dim one its dimmer. Common practice, no
//! source: light of one channel may dim at the driver, while a light that changes colour does so at its controller.

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
    reason: "a light that changes colour needs a control system for its channels, and a plain constant-voltage driver before it; a warm-dim light needs its dimmer",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    case.panels()
        .filter_map(|(id, panel)| {
            let kind = panel.light.as_ref()?.kind;
            if !kind.needs_control() {
                return None;
            }
            let controls = &case.shop.controls;
            let option = match kind.takes_controller() {
                true => controls.controllers.iter().find(|c| c.kinds.contains(&kind)).map(|c| &c.id),
                false => controls.dimmers.first().map(|d| &d.id),
            };
            let option = option.map_or("…", String::as_str);
            let command = format!("underlit choose {} {id} --control {option}", case.id());
            let missing = |what: String| {
                Some(REQUIREMENT.missing(case, what, &[Role::Rep, Role::Engineer], command.clone()))
            };
            let Some(control) = &panel.control else {
                let what = if kind.takes_controller() { "control system" } else { "dimmer" };
                return missing(format!("panel {id} has {kind} light and no {what}"));
            };
            if !kind.takes_controller() {
                return match controls.dimmer(control.as_str()) {
                    None => missing(format!(
                        "panel {id} names the control {control}, which is no dimmer of the shop; {kind} light takes one"
                    )),
                    Some(found) => Some(REQUIREMENT.met(format!("panel {id} is dimmed by {}", found.name))),
                };
            }
            match controls.controllers.iter().find(|c| c.id == control.as_str()) {
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
