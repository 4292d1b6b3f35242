//! Into released: what was ordered before its drawing was approved is known as a risk by whoever the rules name.
//!
//! Judged only where such an order is recorded.

use crate::gates::approval;
use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::Case;
use crate::model::stage::Stage;
use crate::model::statement::{Subject, Topic, View};

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "ordered-ahead-acknowledged",
    gate: Stage::Released,
    since: 1,
    reason: "what is ordered before the drawing is approved may not fit it: whoever pays for it knows that first",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    let ordered = case.project.project.dates.as_ref().is_some_and(|dates| !dates.ordered_ahead.is_empty());
    let subject = Subject::topic(View::Acknowledgement, Topic::OrderedAhead, None);
    let found = || approval::findings(case, &REQUIREMENT, &subject);
    if ordered { found() } else { Vec::new() }
}
