//! Into sampling: the day of installation is set, the job's own or that of each of its release groups.
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
    let parts = case.by_install_day();
    let undated = parts.iter().filter(|part| part.project.project.install_date.is_none());
    let missing = undated.map(|part| {
        let (what, option) = match &part.group {
            Some(group) => {
                (format!("release group {group} has no install date"), format!("--group-install {group}="))
            }
            None if parts.len() > 1 => {
                ("panels in no release group have no install date".to_owned(), "--install-date ".to_owned())
            }
            None => ("no install date is set".to_owned(), "--install-date ".to_owned()),
        };
        let command = format!("underlit project change {} {option}YYYY-MM-DD", case.id());
        REQUIREMENT.missing(case, what, &[Role::Rep], command)
    });
    let missing: Vec<Finding> = missing.collect();
    if missing.is_empty() {
        return vec![REQUIREMENT.met(format!("to be installed on {}", case.install_in_words()))];
    }
    missing
}
