//! Into sampling: the day of installation is set.
//!
//! Whether it can still be met depends on today, and a verdict may not; `status` and `board` show that
//! beside it.

use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::case::Case;
use crate::model::roster::Role;
use crate::model::stage::Stage;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "install-date-set",
    gate: Stage::Sampling,
    since: 1,
    reason: "every date of the job, from the test panel on, is counted back from the day of installation",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    match case.project.project.install_date {
        Some(date) => vec![REQUIREMENT.met(format!("to be installed on {date}"))],
        None => {
            let command = format!("underlit project change {} --install-date YYYY-MM-DD", case.id());
            vec![REQUIREMENT.missing(case, "no install date is set", &[Role::Rep], command)]
        }
    }
}
