//! Into rendering: the shop lists parts for the place where a panel stands, however damp or wet.
//!
//! Judged only where the shop's sealed rules ask what rests on the choice before it; other books have the warning
//! `no-part-for-place` instead, and the plan says it.

use crate::gates::place_advice::unserved;
use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::ids::PanelId;
use crate::job::case::Case;
use crate::model::roster::Role;
use crate::model::rules::Ask;
use crate::model::stage::Stage;
use crate::power::vocabulary::Place;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "place-served",
    gate: Stage::Rendering,
    since: 1,
    reason: "whether there are parts for a damp or wet place is known while the client can still choose otherwise, not when \
        the panel is planned",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    if !case.shop.rules.asks.contains(&Ask::BeforeChoice) {
        return Vec::new();
    }
    let missing = |id: &PanelId, what: String| {
        let what = format!("panel {id}: {what}");
        let command = format!("underlit choose {} {id} --light …", case.id());
        REQUIREMENT.missing(case, what, &[Role::Rep, Role::Owner], command)
    };
    let mut findings = Vec::new();
    for (id, panel) in case.panels() {
        let unserved = unserved(case, panel);
        if unserved.is_empty() && panel.place > Place::Dry {
            findings.push(
                REQUIREMENT.met(format!("the shop lists parts for the {} place of panel {id}", panel.place)),
            );
        }
        findings.extend(unserved.into_iter().map(|what| missing(id, what)));
    }
    findings
}
