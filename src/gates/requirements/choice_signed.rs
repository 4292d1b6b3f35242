//! Into rendering: the client has signed the choice for every panel.

use crate::gates::approval;
use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::case::Case;
use crate::model::stage::Stage;
use crate::model::statement::{Subject, View};

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "choice-signed",
    gate: Stage::Rendering,
    since: 1,
    reason: "stone, light and mount are the client's to choose, and everything drawn from here on depends on \
        that choice",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    case.panels()
        .flat_map(|(id, _)| {
            let subject = Subject::panel(View::Choice, id);
            approval::findings(case, &REQUIREMENT, &subject)
        })
        .collect()
}
