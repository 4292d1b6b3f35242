//! Into released: every outline rests on a template or a survey of the place, or its waiver is signed.
//!
//! Judged only where the shop's sealed rules ask it.

use crate::gates::approval;
use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::Case;
use crate::model::rules::Ask;
use crate::model::stage::Stage;
use crate::model::statement::{Subject, Topic, View};

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "measured-on-site",
    gate: Stage::Released,
    since: 1,
    reason: "a drawing shows what was meant and a template what is there: stone that does not fit is cut or lost at the place",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    let mut findings = Vec::new();
    if !case.shop.rules.asks.contains(&Ask::MeasuredOnSite) {
        return findings;
    }
    for (id, panel) in case.panels() {
        let basis = panel.basis.as_ref().filter(|basis| basis.kind.is_of_the_place());
        if let Some(basis) = basis {
            findings.push(
                REQUIREMENT
                    .met(format!("panel {id} rests on a {} by {} of {}", basis.kind, basis.by, basis.date)),
            );
            continue;
        }
        let what = format!(
            "panel {id} was not measured at the place: underlit panel basis {} {id} template, or sign its waiver",
            case.id()
        );
        let waiver = Subject::topic(View::Waiver, Topic::NotMeasured, Some(id));
        findings.extend(approval::or_waived(case, &REQUIREMENT, &waiver, &what));
    }
    findings
}
