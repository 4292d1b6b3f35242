//! Which sign-offs count for a subject, and whether they fit the facts as they are now.
//!
//! Among statements about one subject in one role, those stand that no later statement of the same signer
//! takes the place of. A person's own signature is never displaced by evidence that somebody else took
//! in. A standing refusal of the present facts beats any number of approvals.

use super::case::{Case, Requirement};
use super::verdict::{Finding, State};
use crate::digest::Sha256Digest;
use crate::model::roster::Role;
use crate::model::snapshot::SignOff;
use crate::model::statement::{Decision, Facts, Subject};
use crate::model::view::changes;

/// Finds, for each approval that the rules ask of a subject, whether it is there and fits.
#[must_use]
pub fn findings(case: &Case<'_>, requirement: &Requirement, subject: &Subject, now: &Facts) -> Vec<Finding> {
    let found: Vec<Finding> = case
        .shop
        .rules
        .needed(subject)
        .map(|rule| finding(case, requirement, subject, now, rule.role, rule.people))
        .collect();
    if found.is_empty() {
        let what = format!("the shop's rules name nobody who may approve {subject}");
        return vec![requirement.missing(case, what, &[Role::Owner], "underlit roster seal")];
    }
    found
}

/// The sign-offs about a subject in a role that stand: valid, by someone who may speak, not taken back.
#[must_use]
pub fn standing<'a>(case: &Case<'a>, subject: &Subject, role: Role) -> Vec<&'a SignOff> {
    let about: Vec<&SignOff> = case
        .project
        .signoffs
        .iter()
        .filter(|s| s.void.is_none() && s.statement.about == *subject && s.statement.role == role)
        .filter(|s| case.may_speak(s.statement.speaker(), role))
        .collect();
    about
        .iter()
        .filter(|s| !about.iter().any(|later| takes_the_place_of(later, s)))
        .filter(|s| s.statement.decision != Decision::Withdrawn)
        .copied()
        .collect()
}

/// True where one statement names another that it may take the place of.
#[must_use]
pub fn takes_the_place_of(later: &SignOff, earlier: &SignOff) -> bool {
    let (new, old) = (&later.statement, &earlier.statement);
    let own_word_over_evidence =
        new.evidence.is_none() && old.evidence.is_some() && new.speaker() == old.speaker();
    later.digest != earlier.digest
        && new.supersedes.contains(&earlier.digest)
        && new.about == old.about
        && (new.signer == old.signer || own_word_over_evidence)
}

/// True where every note of an approval as noted was met: a fresh acknowledgement says so.
fn notes_are_met(case: &Case<'_>, signoff: &SignOff) -> bool {
    let subject = Subject::notes_met(signoff.digest, signoff.statement.about.panel.as_ref());
    let now = super::facts::of(case, &subject);
    let mut rules = case.shop.rules.needed(&subject).peekable();
    rules.peek().is_some()
        && rules.all(|rule| {
            standing(case, &subject, rule.role)
                .iter()
                .any(|s| s.statement.decision == Decision::Approved && s.statement.facts == now)
        })
}

fn finding(
    case: &Case<'_>,
    requirement: &Requirement,
    subject: &Subject,
    now: &Facts,
    role: Role,
    people: u32,
) -> Finding {
    let stand = standing(case, subject, role);
    let fits = |s: &&&SignOff| s.statement.facts == *now;
    let command = format!("underlit sign {} {} --as {role}", case.id(), subject.arguments());
    let base =
        |state, what: String| Finding { state, ..requirement.missing(case, what, &[role], command.clone()) };
    let comment = |s: &SignOff| s.statement.comment.as_ref().map_or(String::new(), |c| format!(": “{c}”"));
    let name = |s: &SignOff| case.shop.roster.name_of(s.statement.speaker());

    let refused: Vec<_> = stand
        .iter()
        .filter(fits)
        .filter(|s| matches!(s.statement.decision, Decision::Rejected | Decision::ReviseAndResubmit))
        .collect();
    if let Some(first) = refused.first() {
        let what = format!(
            "{} ({role}) says {} to {subject}{}",
            name(first),
            first.statement.decision,
            comment(first)
        );
        return Finding {
            signoffs: refused.iter().map(|s| s.digest).collect(),
            ..base(State::Rejected, what)
        };
    }

    let mut counted: Vec<Sha256Digest> = Vec::new();
    let mut speakers = Vec::new();
    let mut by_evidence = false;
    let mut unmet_notes = Vec::new();
    for signoff in stand.iter().filter(fits) {
        match signoff.statement.decision {
            Decision::ApprovedAsNoted if !notes_are_met(case, signoff) => unmet_notes.push(signoff),
            Decision::Approved | Decision::ApprovedAsNoted => {
                counted.push(signoff.digest);
                if !speakers.contains(&signoff.statement.speaker()) {
                    speakers.push(signoff.statement.speaker());
                }
                by_evidence |= signoff.statement.evidence.is_some();
            }
            Decision::ReviseAndResubmit | Decision::Rejected | Decision::Withdrawn => {}
        }
    }
    if speakers.len() >= people as usize {
        let who: Vec<String> = speakers.iter().map(|p| case.shop.roster.name_of(p)).collect();
        let kind = if by_evidence { ", by written evidence that was taken in" } else { "" };
        let what = format!("{subject} is approved by {} ({role}{kind})", who.join(" and "));
        return Finding { signoffs: counted, roles: vec![role], ..requirement.met(what) };
    }
    if let Some(noted) = unmet_notes.first() {
        let notes = Subject::notes_met(noted.digest, subject.panel.as_ref());
        let what = format!(
            "{} ({role}) approved {subject} as noted, and the notes are not yet signed as met: {}",
            name(noted),
            noted.statement.notes.join("; ")
        );
        let roles: Vec<Role> = case.shop.rules.needed(&notes).map(|r| r.role).collect();
        return Finding {
            state: State::Missing,
            ..requirement.missing(
                case,
                what,
                &roles,
                format!("underlit sign {} {}", case.id(), notes.arguments()),
            )
        };
    }
    let stale = stand
        .iter()
        .find(|s| !fits(s) && matches!(s.statement.decision, Decision::Approved | Decision::ApprovedAsNoted));
    if let Some(stale) = stale {
        let what = format!("{} ({role}) approved {subject}, but it has changed since", name(stale));
        return Finding { changes: changes(&stale.statement.facts, now), ..base(State::Stale, what) };
    }
    let earlier = stand.iter().find(|s| !fits(s)).map_or(String::new(), |s| {
        format!("; {} said {} to an earlier version{}", name(s), s.statement.decision, comment(s))
    });
    let count =
        if people > 1 { format!("{people} people in the role of {role}") } else { format!("the {role}") };
    let so_far = if speakers.is_empty() { String::new() } else { format!(" ({} so far)", speakers.len()) };
    base(State::Missing, format!("{subject} is not yet approved by {count}{so_far}{earlier}"))
}
