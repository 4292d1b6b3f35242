//! Into rendering: where a panel is closed in for good, the client has signed that it cannot be serviced.

use crate::gates::approval;
use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::case::Case;
use crate::making::mount::Mount;
use crate::model::stage::Stage;
use crate::model::statement::{Subject, Topic, View};

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "no-field-service-acknowledged",
    gate: Stage::Rendering,
    since: 1,
    reason: "every light fails one day, and a fixed panel cannot be reached then without breaking the stone",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    case.panels()
        .filter(|(_, panel)| panel.mount == Some(Mount::Fixed))
        .flat_map(|(id, _)| {
            let subject = Subject::topic(View::Acknowledgement, Topic::NoFieldService, Some(id));
            approval::findings(case, &REQUIREMENT, &subject)
        })
        .collect()
}
