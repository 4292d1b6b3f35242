//! Into sampling: the panels are listed, each with its stone and its outline.

use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::case::Case;
use crate::model::roster::Role;
use crate::model::stage::Stage;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "panels-listed",
    gate: Stage::Sampling,
    since: 1,
    reason: "what is tried and chosen is a panel under a stone; without the list nobody knows what is still open",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    if case.project.panels.is_empty() {
        let command = format!("underlit panel add {} NAME --swatch … --size 1200mmx300mm", case.id());
        return vec![REQUIREMENT.missing(case, "no panel is listed", &[Role::Rep, Role::Designer], command)];
    }
    vec![REQUIREMENT.met(format!(
        "{} listed",
        crate::words::counted(case.project.panels.len(), "panel is", "panels are")
    ))]
}
