//! Into built: every panel was read on the bench and lies within the shop's limits, or whoever the rules name has signed
//! that it leaves the shop outside them.
//!
//! Judged only where the shop's sealed rules set limits.

use crate::gates::approval;
use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::Case;
use crate::job::bench::judge;
use crate::model::roster::Role;
use crate::model::stage::Stage;
use crate::model::statement::{Subject, Topic, View};

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "bench-within-limits",
    gate: Stage::Built,
    since: 1,
    reason: "what is wrong with a light is cheap to mend on the bench and dear behind the stone",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (id, panel) in case.panels() {
        let Some(bench) = judge(case, id) else { continue };
        if !bench.unread.is_empty() {
            let what: Vec<&str> = bench.unread.iter().map(|(what, _)| *what).collect();
            let which = (panel.count() > 1).then_some("--serial …");
            let options = which.into_iter().chain(bench.unread.iter().map(|(_, option)| *option));
            let options: Vec<&str> = options.collect();
            findings.push(REQUIREMENT.missing(
                case,
                format!("panel {id} was not read on the bench: {}", what.join(", ")),
                &[Role::Fabricator],
                format!("underlit built {} {id} {}", case.id(), options.join(" ")),
            ));
        } else if bench.outside.is_empty() {
            findings.push(REQUIREMENT.met(format!("accept: panel {id}, {}", bench.within.join(", "))));
        } else {
            let waiver = Subject::topic(View::Waiver, Topic::OutsideLimits, Some(id));
            let what = format!(
                "outside: panel {id}, {}: mend it and record it again, or sign its waiver",
                bench.outside.join(", ")
            );
            findings.extend(approval::or_waived(case, &REQUIREMENT, &waiver, &what));
        }
    }
    findings
}
