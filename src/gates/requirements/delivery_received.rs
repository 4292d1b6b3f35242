//! Into handed over: every panel is recorded as sent and as received, and what was damaged is settled.
//!
//! Judged where the shop's sealed rules ask it, and in every job in which something is recorded as sent.

use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::ids::PanelId;
use crate::job::Case;
use crate::model::handover::Consignment;
use crate::model::roster::Role;
use crate::model::rules::Ask;
use crate::model::stage::Stage;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "delivery-received",
    gate: Stage::HandedOver,
    since: 1,
    reason: "whether a panel was whole when it arrived can be told on that day and never again",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    let sent: Vec<&Consignment> = case.project.as_built.iter().flat_map(|b| &b.consignments).collect();
    if sent.is_empty() && !case.shop.rules.asks.contains(&Ask::Delivery) {
        return Vec::new();
    }
    case.panels().map(|(id, _)| judge(case, &sent, id)).collect()
}

/// The newest consignment of a panel tells: what was sent again replaces what was damaged.
fn judge(case: &Case<'_>, sent: &[&Consignment], id: &PanelId) -> Finding {
    let project = case.id();
    let Some(last) = sent.iter().filter(|c| c.panels.contains(id)).max_by_key(|c| (c.sent, &c.id)) else {
        return REQUIREMENT.missing(
            case,
            format!("panel {id} is not recorded as sent"),
            &[Role::Fabricator],
            format!("underlit delivery sent {project} NAME --panel {id}"),
        );
    };
    let Some(received) = last.received else {
        return REQUIREMENT.missing(
            case,
            format!("panel {id} was sent on {} with {} and is not recorded as received", last.sent, last.id),
            &[Role::Installer],
            format!("underlit delivery received {project} {}", last.id),
        );
    };
    match last.damage.iter().find(|d| d.panel == *id && d.settled.is_none()) {
        Some(damage) => REQUIREMENT.missing(
            case,
            format!("panel {id} arrived damaged with {}: {}", last.id, damage.what),
            &[Role::Rep, Role::Fabricator],
            format!("underlit delivery settled {project} {} --panel {id} --how …", last.id),
        ),
        None => REQUIREMENT.met(format!("panel {id} arrived with {} on {received}", last.id)),
    }
}
