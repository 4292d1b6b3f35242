//! Into released: every rendering that is needed is signed by everybody whom the rules name.

use crate::gates::approval;
use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::case::Case;
use crate::model::stage::Stage;
use crate::model::statement::{Subject, View};

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "rendering-signed",
    gate: Stage::Released,
    since: 1,
    reason: "the client signs what will be cut, and the engineer signs that it can be",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    case.panels()
        .filter(|(id, _)| super::needs_rendering(case, id) && case.project.renderings.contains_key(*id))
        .flat_map(|(id, _)| {
            let subject = Subject::panel(View::Rendering, id);
            approval::findings(case, &REQUIREMENT, &subject)
        })
        .collect()
}
