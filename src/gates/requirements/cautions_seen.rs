//! Into released: the cautions of the job are acknowledged by whom the rules name.

use crate::gates::approval;
use crate::gates::facts;
use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::case::Case;
use crate::model::stage::Stage;
use crate::model::statement::{Subject, Topic, View};

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "cautions-seen",
    gate: Stage::Released,
    since: 1,
    reason: "mains, water, heavy stone, heat and glare can hurt somebody; whoever releases a job must have \
        read its cautions",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    let subject = Subject::topic(View::Acknowledgement, Topic::Cautions, None);
    approval::findings(case, &REQUIREMENT, &subject, &facts::of(case, &subject))
}
