//! Into handed over: the owner has a service card.

use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::case::Case;
use crate::model::roster::Role;
use crate::model::stage::Stage;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "service-card-left",
    gate: Stage::HandedOver,
    since: 1,
    reason: "when the light fails years later, somebody must know how to reach it, or that it cannot be reached",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    let card = case.project.installation.as_ref().and_then(|i| i.service_card.as_ref());
    match card {
        Some(card) => vec![REQUIREMENT.met(format!("the service card is kept at {}", card.kept_at))],
        None => vec![REQUIREMENT.missing(
            case,
            "no service card was left with the owner",
            &[Role::Installer],
            format!("underlit installed {} --card-kept-at … --card-access … --card-contact …", case.id()),
        )],
    }
}
