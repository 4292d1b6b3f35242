//! Refusals: which bear on the facts as they are, and which the owners set aside.
//!
//! Any standing refusal of the present facts holds the job, in whatever role it was said, until whoever said it withdraws
//! it or the owners set it aside. Setting aside is a sign-off of its own (view `override`), by as many owners as sign a
//! roster version, that names the refusal by its digest and gives a reason. It lifts the hold; it approves nothing.

use std::collections::BTreeSet;

use super::approval;
use super::facts;
use crate::job::case::Case;
use crate::model::roster::Role;
use crate::model::snapshot::SignOff;
use crate::model::stage::Stage;
use crate::model::statement::{Subject, Topic, View};
use crate::model::supersession::{WordState, says_no, says_yes};

/// The standing refusals of the facts as they are, whether or not the owners set them aside.
#[must_use]
pub(crate) fn of_the_present<'a>(case: &Case<'a>) -> Vec<&'a SignOff> {
    let mut found: Vec<&SignOff> = case.project.signoffs.iter().filter(|s| bears(case, s)).collect();
    found.sort_by_key(|s| s.digest);
    found
}

fn bears(case: &Case<'_>, signoff: &SignOff) -> bool {
    let statement = &signoff.statement;
    says_no(statement.decision)
        && statement.about.view != View::Override
        && case.word(signoff) == Some(WordState::Stands)
        && noted(case, &statement.about).is_none_or(|s| case.word(s) == Some(WordState::Stands))
        && !statement.facts.is_empty()
        && statement.facts == facts::to_fit(case, statement)
}

/// The approval as noted that a subject is about, for the topic notes-met.
fn noted<'a>(case: &Case<'a>, subject: &Subject) -> Option<&'a SignOff> {
    let digest = subject.notes_of?;
    case.project.signoffs.iter().find(|s| s.digest == digest)
}

/// The owners' sign-offs that set a refusal aside; none where it holds.
#[must_use]
pub(crate) fn set_aside<'a>(case: &Case<'a>, refusal: &SignOff) -> Option<Vec<&'a SignOff>> {
    let subject = Subject::override_of(refusal.digest);
    let owners = approval::standing(case, &subject, Role::Owner);
    if owners.iter().any(|s| says_no(s.statement.decision)) {
        return None;
    }
    let now = facts::of_override(refusal);
    let counted: Vec<&SignOff> = owners
        .into_iter()
        .filter(|s| {
            says_yes(s.statement.decision) && s.statement.evidence.is_none() && s.statement.facts == now
        })
        .collect();
    let people: BTreeSet<_> = counted.iter().map(|s| &s.statement.signer).collect();
    (people.len() >= case.shop.roster.threshold as usize && !people.is_empty()).then_some(counted)
}

/// A refusal in words: who, in which role, says no to what, and why.
#[must_use]
pub(crate) fn in_words(case: &Case<'_>, refusal: &SignOff) -> String {
    let said = &refusal.statement;
    let who = case.speaker(refusal);
    format!("{who} ({}) {}{}", said.role, said.decision.done_to(&said.about), comment(refusal))
}

/// The same with the owners who set it aside, and why they did.
#[must_use]
pub(crate) fn overridden_in_words(case: &Case<'_>, refusal: &SignOff, owners: &[&SignOff]) -> String {
    let by: Vec<String> =
        owners.iter().map(|s| format!("{} (owner){}", case.speaker(s), comment(s))).collect();
    format!("{}; overridden by {}", in_words(case, refusal), by.join(" and "))
}

fn comment(signoff: &SignOff) -> String {
    signoff.statement.comment.as_ref().map_or(String::new(), |c| format!(": “{c}”"))
}

/// Every refusal of the present facts that owners set aside, in words.
#[must_use]
pub(crate) fn overridden(case: &Case<'_>) -> Vec<String> {
    let one = |refusal: &SignOff| Some(overridden_in_words(case, refusal, &set_aside(case, refusal)?));
    of_the_present(case).into_iter().filter_map(one).collect()
}

/// The gate that a refusal of a subject keeps shut, by the stage that it leads into.
#[must_use]
pub(crate) fn gate_of(case: &Case<'_>, subject: &Subject) -> Stage {
    match (subject.view, subject.topic) {
        (View::Waiver, Some(Topic::RoomLightUnknown)) => Stage::Sampling,
        (View::Request, _) | (View::Waiver, Some(Topic::Sampling)) => Stage::Selection,
        (View::Choice, _) => Stage::Rendering,
        (
            View::Waiver | View::Acknowledgement,
            Some(Topic::CctNotTried | Topic::Dim | Topic::NoFieldService),
        ) => Stage::Rendering,
        (View::Waiver, Some(Topic::OutsideLimits)) => Stage::Built,
        (View::Acknowledgement, Some(Topic::Accepted)) => Stage::HandedOver,
        (_, Some(Topic::NotesMet)) => match noted(case, subject) {
            Some(s) if s.statement.about.topic != Some(Topic::NotesMet) => gate_of(case, &s.statement.about),
            _ => Stage::Released,
        },
        _ => Stage::Released,
    }
}
