//! One hand in two roles: one person, or one key under two names, that speaks as client and as engineer on one job.
//!
//! It is told beside every verdict. An owner's rules may forbid it: `apart` in rules.json names roles that one hand may not
//! fill on one job, and the gate into `released` then waits for somebody else's approval.

use std::collections::BTreeSet;

use super::verdict::Warning;
use crate::ids::PersonId;
use crate::job::case::Case;
use crate::model::roster::Role;
use crate::model::snapshot::SignOff;
use crate::model::supersession::{WordState, says_yes};

/// A hand that fills two roles of a job.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct OneHand {
    /// The roles, the earlier one of [`Role::ALL`] first.
    pub roles: [Role; 2],
    /// Who speaks in the first, and who in the second.
    pub people: [PersonId; 2],
}

impl OneHand {
    /// It in a sentence.
    #[must_use]
    pub(crate) fn in_words(&self, case: &Case<'_>) -> String {
        let [one, two] = &self.people;
        let name = |person| case.shop.roster.name_of(person);
        let [first, second] = self.roles;
        if one == two {
            return format!("{} signs both as {first} and as {second} on this job", name(one));
        }
        format!("{} ({first}) and {} ({second}) hold the same key", name(one), name(two))
    }
}

/// True where two people are one, or share a key.
fn is_one_hand(case: &Case<'_>, one: &PersonId, two: &PersonId) -> bool {
    let keys = |id| case.shop.roster.person(id).into_iter().flat_map(|p| &p.keys).map(|k| &k.public);
    one == two || keys(one).any(|key| keys(two).any(|other| other == key))
}

/// Whoever's hand gave the standing approvals in a role: the speaker, and whoever took an answer in.
fn hands_in(case: &Case<'_>, role: Role) -> BTreeSet<PersonId> {
    let approves = |s: &&SignOff| {
        s.statement.role == role && says_yes(s.statement.decision) && case.word(s) == Some(WordState::Stands)
    };
    let given = case.project.signoffs.iter().filter(approves);
    given.flat_map(|s| [s.statement.speaker().clone(), s.statement.signer.clone()]).collect()
}

/// The roles, two by two, that one hand has spoken in on this job.
#[must_use]
pub(crate) fn spoken(case: &Case<'_>, roles: &[Role]) -> Vec<OneHand> {
    pairs(case, roles, |role| hands_in(case, role))
}

fn pairs(case: &Case<'_>, roles: &[Role], people: impl Fn(Role) -> BTreeSet<PersonId>) -> Vec<OneHand> {
    let wanted: Vec<Role> = Role::ALL.iter().filter(|role| roles.contains(role)).copied().collect();
    let mut found = BTreeSet::new();
    for (n, first) in wanted.iter().enumerate() {
        for second in &wanted[n + 1..] {
            for one in people(*first) {
                let others = people(*second).into_iter().filter(|two| is_one_hand(case, &one, two));
                found.extend(
                    others.map(|two| OneHand { roles: [*first, *second], people: [one.clone(), two] }),
                );
            }
        }
    }
    found.into_iter().collect()
}

/// What to know: whoever has spoken as client and as engineer, or whoever the job names as both.
#[must_use]
pub(crate) fn warnings(case: &Case<'_>) -> Vec<Warning> {
    let people = &case.project.project.people;
    let named = |role: Role| match role {
        Role::Client => BTreeSet::from([people.client.clone()]),
        Role::Engineer => match &people.engineer {
            Some(engineer) => BTreeSet::from([engineer.clone()]),
            None => case.people_for(&[role]).into_iter().collect(),
        },
        _ => BTreeSet::new(),
    };
    let roles = [Role::Client, Role::Engineer];
    let mut found = pairs(case, &roles, named);
    found.extend(spoken(case, &roles));
    found.sort();
    found.dedup();
    let warning = |hand: OneHand| Warning {
        code: "one-hand",
        panels: Vec::new(),
        message: format!("{}: the two approvals are not independent", hand.in_words(case)),
        source: "separation of duties; common practice, no source",
    };
    found.into_iter().map(warning).collect()
}
