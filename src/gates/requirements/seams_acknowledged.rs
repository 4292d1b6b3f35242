//! Into released: where a panel is split, the client has signed that its seams may show.

use crate::gates::approval;
use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::case::Case;
use crate::model::stage::Stage;
use crate::model::statement::{Subject, Topic, View};

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "seams-acknowledged",
    gate: Stage::Released,
    since: 1,
    reason: "a panel larger than the sheet is built in butted pieces, and a seam may show through the stone when lit",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    case.panels()
        .filter(|(_, panel)| !panel.seams.is_empty())
        .flat_map(|(id, _)| {
            let subject = Subject::topic(View::Acknowledgement, Topic::Seams, Some(id));
            approval::findings(case, &REQUIREMENT, &subject)
        })
        .collect()
}
