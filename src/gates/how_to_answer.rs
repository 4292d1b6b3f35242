//! What somebody can do about an approval that is missing or refused: who acts next, and by which command.

use crate::job::case::Case;
use crate::model::roster::{KeyState, Role};
use crate::model::statement::{Subject, Topic, View};

/// The command that brings an approval: the person's own signature, or, for people who all have no key, their written answer
/// where the shop's rules take one.
#[must_use]
pub(crate) fn to_approve(case: &Case<'_>, subject: &Subject, role: Role) -> String {
    let (id, about) = (case.id(), subject.arguments());
    let roster = &case.shop.roster;
    let has_key = |keys: &[crate::model::roster::Key]| keys.iter().any(|key| key.state == KeyState::Active);
    let people = case.people_for(&[role]);
    let keyless = people.iter().all(|p| roster.person(p).is_some_and(|person| !has_key(&person.keys)));
    match people.first() {
        Some(person) if keyless && case.shop.rules.evidence.roles.contains(&role) => {
            format!("underlit evidence {id} {about} --of {person} --how \"letter of …\" --scan FILE")
        }
        _ => format!("underlit sign {id} {about} --as {role}"),
    }
}

/// Who acts on a refusal of a subject, the command that changes what was refused, and what comes after it.
pub(super) fn after_a_refusal(case: &Case<'_>, subject: &Subject, role: Role) -> (Vec<Role>, String, String) {
    let id = case.id();
    let panel = subject.panel.as_ref().map(|panel| format!(" {panel}")).unwrap_or_default();
    let (who, change) = match subject.view {
        View::Rendering => {
            (vec![Role::Rep, Role::Engineer], format!("underlit panel change {id}{panel} --outline FILE"))
        }
        View::Request => (vec![Role::Rep], format!("underlit request remove {id} NAME")),
        View::Release => {
            (vec![Role::Rep, Role::Engineer], format!("underlit reopen {id} STAGE --reason \"…\""))
        }
        View::Waiver if subject.topic == Some(Topic::Sampling) => {
            (vec![Role::Rep], format!("underlit trial waive {id}{panel} --take-back"))
        }
        _ => (vec![Role::Rep], format!("underlit choose {id}{panel}")),
    };
    (who, change, format!("change what was refused, then ask again: {}", to_approve(case, subject, role)))
}
