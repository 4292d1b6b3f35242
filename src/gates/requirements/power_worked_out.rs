//! Into released: tape, driver, wire and conductors of every panel are worked out and hold.

use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::case::Case;
use crate::model::roster::Role;
use crate::model::stage::Stage;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "power-worked-out",
    gate: Stage::Released,
    since: 1,
    reason: "the power of a panel must be known before it is built",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    case.job()
        .panels
        .iter()
        .map(|(id, plan)| match &plan.power {
            Ok(power) => {
                REQUIREMENT.met(format!("panel {id} takes {}", power.in_words(case.shop.book.units)))
            }
            Err(reasons) => REQUIREMENT.missing(
                case,
                format!("the power of panel {id} is not worked out: {}", reasons.join("; ")),
                &[Role::Engineer],
                match case.project.panels.get(id).is_some_and(|panel| panel.supply.is_none()) {
                    true => format!(
                        "underlit plan {} {id} --feed-length … --driver-at in-wall-box|remote --driver-place dry|damp|wet",
                        case.id()
                    ),
                    false => format!("underlit plan {} {id} --feed-length …", case.id()),
                },
            ),
        })
        .collect()
}
