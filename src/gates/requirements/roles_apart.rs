//! Into released: roles that the shop's rules keep apart were filled by different hands. Asked only where the sealed rules
//! name such roles (`apart`).

use crate::gates::hands;
use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::case::Case;
use crate::model::stage::Stage;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "roles-apart",
    gate: Stage::Released,
    since: 1,
    reason: "the shop's rules require different people with different keys in these roles, so that nobody \
             approves their own work",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    let apart = &case.shop.rules.apart;
    if apart.is_empty() {
        return Vec::new();
    }
    let found = hands::spoken(case, apart);
    if found.is_empty() {
        return vec![REQUIREMENT.met("different people signed in the roles that the rules keep apart")];
    }
    let finding = |hand: &hands::OneHand| {
        let command = format!("underlit project change {} --{} PERSON", case.id(), hand.roles[1]);
        let mut finding = REQUIREMENT.missing(case, hand.in_words(case), &hand.roles[1..], command);
        finding.who.retain(|person| !hand.people.contains(person));
        finding
    };
    found.iter().map(finding).collect()
}
