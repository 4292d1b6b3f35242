//! Into released: the cautions of the job are acknowledged by whom the rules name.

use crate::gates::approval;
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
    approval::by_group(case, &REQUIREMENT, &Subject::topic(View::Acknowledgement, Topic::Cautions, None))
}
