//! Into rendering: the chosen colour temperature and face were tried on that stone, or the waiver is signed.

use crate::gates::approval;
use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::Case;
use crate::job::trials::tried;
use crate::model::stage::Stage;
use crate::model::statement::{Subject, Topic, View};

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "chosen-cct-tried",
    gate: Stage::Rendering,
    since: 1,
    reason: "a wrong colour temperature shows only once the stone is glued down: the chosen one must be seen \
        on the stone first, or its risk signed for",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (id, panel) in case.panels() {
        let Some(cct) = panel.light.as_ref().and_then(|l| l.cct_k) else { continue };
        if case.project.stone_of(panel).is_some_and(|layer| !layer.material.is_stone()) {
            continue;
        }
        if let Some(what) = tried(case, panel, cct) {
            findings.push(REQUIREMENT.met(what));
            continue;
        }
        // Who wants no test panel has signed that nothing was seen at any colour temperature.
        if panel.no_test_panel.as_ref().is_some_and(|without| without.earlier.is_none()) {
            continue;
        }
        let waiver = Subject::topic(View::Waiver, Topic::CctNotTried, Some(id));
        let what = format!(
            "{cct} K was never tried on {} for panel {id}: record a trial at it, or sign its waiver",
            panel.swatch
        );
        findings.extend(approval::or_waived(case, &REQUIREMENT, &waiver, &what));
    }
    findings
}
