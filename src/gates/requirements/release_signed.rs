//! Into released: the engineer has released the whole build, as it is now.

use crate::gates::approval;
use crate::gates::facts;
use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::case::Case;
use crate::model::stage::Stage;
use crate::model::statement::Subject;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "release-signed",
    gate: Stage::Released,
    since: 1,
    reason: "one person answers for the whole build: the engineer, with a signature over every fact of it",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    let subject = Subject::release();
    approval::findings(case, &REQUIREMENT, &subject, &facts::of(case, &subject))
}
