//! Into released: the engineer has released the whole build, as it is now.

use crate::gates::approval;
use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::case::Case;
use crate::model::panel::Panel;
use crate::model::roster::Role;
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
    let mut found = approval::by_group(case, &REQUIREMENT, &Subject::release());
    if case.parts().next().is_some() {
        let flaw = |(id, panel): (_, &Panel)| match panel.groups.is_empty() {
            true => {
                Some(format!("panel {id} is in no release group, and the job is released group by group"))
            }
            false => Some(format!("panel {id}: {}", panel.miscounted()?)),
        };
        let command = |id| format!("underlit panel change {} {id} --group NAME=COUNT", case.id());
        let missing = |of: (_, &Panel)| {
            Some(REQUIREMENT.missing(case, flaw(of)?, &[Role::Rep, Role::Engineer], command(of.0)))
        };
        found.extend(case.panels().filter_map(missing));
    }
    found
}
