//! Into released: what feeds each panel at the site is known, or its waiver is signed: mains voltage, electrical code, and
//! where its driver stands.
//!
//! Judged only where the shop's sealed rules ask it.

use crate::gates::approval;
use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::Case;
use crate::job::supplied::unknown;
use crate::model::rules::Ask;
use crate::model::stage::Stage;
use crate::model::statement::{Subject, Topic, View};

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "electrics-known",
    gate: Stage::Released,
    since: 1,
    reason: "driver, cable and protection are chosen for a voltage, a code and a place: where one of them turns out another, \
        they are changed at the site",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    let mut findings = Vec::new();
    if !case.shop.rules.asks.contains(&Ask::SiteElectrics) {
        return findings;
    }
    for (id, panel) in case.panels() {
        let unknown = unknown(&case.project.project.site, panel);
        if unknown.is_empty() {
            findings.push(REQUIREMENT.met(format!("what feeds panel {id} at the site is known")));
            continue;
        }
        let how = match panel.supply {
            None => format!("underlit plan {} {id} --driver-at … --driver-place …", case.id()),
            Some(_) => {
                format!("underlit project change {} --mains … --code-region … --electrical-code …", case.id())
            }
        };
        let what = format!("panel {id}: not known: {}: {how}, or sign its waiver", unknown.join(", "));
        let waiver = Subject::topic(View::Waiver, Topic::ElectricsUnknown, Some(id));
        findings.extend(approval::or_waived(case, &REQUIREMENT, &waiver, &what));
    }
    findings
}
