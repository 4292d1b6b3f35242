//! Into handed over: the installation is recorded.

use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::case::Case;
use crate::model::roster::Role;
use crate::model::stage::Stage;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "installation-recorded",
    gate: Stage::HandedOver,
    since: 1,
    reason: "who connected it, to which code, and where the drivers sit, is forgotten unless it is written down",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    match &case.project.installation {
        Some(record) => vec![REQUIREMENT.met(format!(
            "installed on {}; mains side by {} to {}",
            record.date, record.electrician, record.electrical_code
        ))],
        None => vec![REQUIREMENT.missing(
            case,
            "the installation is not recorded",
            &[Role::Installer],
            format!("underlit installed {} --electrician … --code … --driver-access …", case.id()),
        )],
    }
}
