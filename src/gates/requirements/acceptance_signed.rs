//! Into handed over: the client has looked at the finished work, lit, dimmed and for flicker, and signed what is still to
//! be done.
//!
//! Judged where the shop's sealed rules name somebody for it, and in every job in which it is recorded.

use crate::gates::approval;
use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::Case;
use crate::model::roster::Role;
use crate::model::stage::Stage;
use crate::model::statement::{Subject, Topic, View};

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "acceptance-signed",
    gate: Stage::HandedOver,
    since: 1,
    reason: "what was looked at on the last day, and what is still open, settles every later question of what was owed",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    let subject = Subject::topic(View::Acknowledgement, Topic::Accepted, None);
    let asked = case.shop.rules.needed(&subject).next().is_some();
    match case.project.installation.as_ref().and_then(|i| i.acceptance.as_ref()) {
        Some(_) => approval::findings(case, &REQUIREMENT, &subject),
        None if asked => vec![REQUIREMENT.missing(
            case,
            "what was looked at when the work was taken over is not recorded",
            &[Role::Installer, Role::Rep],
            format!("underlit accepted {} --photo FILE --flicker-looked-for …", case.id()),
        )],
        None => Vec::new(),
    }
}
