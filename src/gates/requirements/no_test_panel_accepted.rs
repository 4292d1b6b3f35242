//! Into selection: where no test panel is made for a panel, the client has signed that: a trial of an earlier job shows the
//! stone, or the client wants none.
//!
//! Judged only for panels that are recorded so. What an earlier trial showed must still be of this stone and lot.

use crate::gates::approval;
use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::Case;
use crate::job::trials::differs;
use crate::model::roster::Role;
use crate::model::stage::Stage;
use crate::model::statement::{Subject, Topic, View};

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "no-test-panel-accepted",
    gate: Stage::Selection,
    since: 1,
    reason: "without a test panel the stone is built in by what an earlier trial showed, or unseen: whoever pays for it \
        signs that first",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (id, panel) in case.panels() {
        let Some(without) = &panel.no_test_panel else { continue };
        let stone = case.project.stone_of(panel);
        let other = without.earlier.as_ref().zip(stone).and_then(|(earlier, stone)| differs(earlier, stone));
        if let Some(other) = other {
            let what = format!("the earlier trial that stands for panel {id} is of another stone: {other}");
            let command = format!("underlit trial cite {} {id}", case.id());
            findings.push(REQUIREMENT.missing(case, what, &[Role::Rep], command));
            continue;
        }
        let subject = Subject::topic(View::Waiver, Topic::Sampling, Some(id));
        findings.extend(approval::findings(case, &REQUIREMENT, &subject));
    }
    findings
}
