//! Into released: no question between two people's edits is open.

use crate::gates::case::{Case, Requirement};
use crate::gates::verdict::Finding;
use crate::model::roster::Role;
use crate::model::stage::Stage;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "no-open-conflict",
    gate: Stage::Released,
    since: 1,
    reason: "while two edits of one field stand against one another, nobody knows what is to be built",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    if case.project.conflicts.is_empty() {
        return vec![REQUIREMENT.met("no question is open")];
    }
    case.project
        .conflicts
        .iter()
        .map(|(path, conflict)| {
            let what = conflict.in_words();
            let id = path.rsplit('/').next().and_then(|f| f.strip_suffix(".json")).unwrap_or(path);
            let command = format!("underlit resolve {} {id} --take 1|2|base", case.id());
            REQUIREMENT.missing(case, what, &[Role::Rep, Role::Designer, Role::Engineer], command)
        })
        .collect()
}
