//! Into released: every panel's very slab was seen lit, or its waiver is signed.
//!
//! Judged only where the shop's sealed rules ask it.

use crate::gates::approval;
use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::Case;
use crate::job::slab;
use crate::model::rules::Ask;
use crate::model::stage::Stage;
use crate::model::statement::{Subject, Topic, View};

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "slab-seen",
    gate: Stage::Released,
    since: 1,
    reason: "no slab is like the swatch that stood for it: what this one shows in the light is seen before it is cut",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    let mut findings = Vec::new();
    if !case.shop.rules.asks.contains(&Ask::SlabSeen) {
        return findings;
    }
    for (id, panel) in case.panels() {
        if case.project.stone_of(panel).is_some_and(|layer| !layer.material.is_stone()) {
            continue;
        }
        let Some(unseen) = slab::unseen(panel) else {
            let lot = panel.slab.as_ref().map_or("", |slab| slab.lot.as_str());
            findings.push(REQUIREMENT.met(format!("the slab of panel {id}, lot {lot}, was seen lit")));
            continue;
        };
        let what = format!(
            "panel {id}: {unseen}: underlit panel slab {} {id} --lot …, or sign its waiver",
            case.id()
        );
        let waiver = Subject::topic(View::Waiver, Topic::SlabNotSeen, Some(id));
        findings.extend(approval::or_waived(case, &REQUIREMENT, &waiver, &what));
    }
    findings
}
