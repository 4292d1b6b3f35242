//! Which sign-offs count for a subject, and whether they fit the facts as they are now.
//!
//! Among statements about one subject in one role, those stand that no later statement of the same signer
//! takes the place of. A person's own signature is never displaced by evidence that somebody else took
//! in. A standing refusal of the present facts beats any number of approvals.

use super::case::{Case, Requirement};
use super::verdict::{Finding, State};
use super::wording::Wording;
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
        .filter(|s| case.has_spoken(s, role))
        .collect();
    let mut stand: Vec<&SignOff> = about
        .iter()
        .filter(|s| !about.iter().any(|later| takes_the_place_of(later, s)))
        .filter(|s| s.statement.decision != Decision::Withdrawn)
        .copied()
        .collect();
    // In the order of their digests, so that the order in which files were read is no part of a verdict.
    stand.sort_by_key(|s| s.digest);
    stand
}

/// True where one statement names another that it may take the place of: about the same subject, in the same
/// role, the word of the same person. Whoever signed one may replace it, but for evidence over the person's own
/// signature; and a person's own signature may replace evidence that anybody took in.
#[must_use]
pub fn takes_the_place_of(later: &SignOff, earlier: &SignOff) -> bool {
    let (new, old) = (&later.statement, &earlier.statement);
    let may = match (&new.evidence, &old.evidence) {
        (None, None) => new.signer == old.signer,
        (None, Some(_)) => true,
        (Some(_), None) => false,
        (Some(_), Some(_)) => new.signer == old.signer,
    };
    may && later.digest != earlier.digest
        && new.supersedes.contains(&earlier.digest)
        && new.about == old.about
        && new.role == old.role
        && new.speaker() == old.speaker()
}

/// True where a sign-off sealed the facts as they are now, whichever edition of the words it was made in.
fn fits(case: &Case<'_>, signoff: &SignOff, now: &Facts) -> bool {
    let statement = &signoff.statement;
    statement.facts == *now
        || (Wording::of(&statement.facts) != Wording::of(now)
            && statement.facts == super::facts::to_fit(case, statement))
}

/// The findings about the notes of an approval as noted: they are met as anything else is approved.
fn notes(case: &Case<'_>, requirement: &Requirement, signoff: &SignOff) -> Vec<Finding> {
    let subject = Subject::notes_met(signoff.digest, signoff.statement.about.panel.as_ref());
    findings(case, requirement, &subject, &super::facts::of(case, &subject))
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
    let fits = |s: &&&SignOff| fits(case, s, now);
    let command = format!("underlit sign {} {} --as {role}", case.id(), subject.arguments());
    let base =
        |state, what: String| Finding { state, ..requirement.missing(case, what, &[role], command.clone()) };
    let comment = |s: &SignOff| s.statement.comment.as_ref().map_or(String::new(), |c| format!(": “{c}”"));
    let name = |s: &SignOff| case.speaker(s);

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
    let mut names = Vec::new();
    let mut by_evidence = false;
    let mut unmet_notes = None;
    for signoff in stand.iter().filter(fits) {
        let notes = match signoff.statement.decision {
            Decision::Approved => Vec::new(),
            Decision::ApprovedAsNoted => notes(case, requirement, signoff),
            Decision::ReviseAndResubmit | Decision::Rejected | Decision::Withdrawn => continue,
        };
        if let Some(unmet) = notes.iter().find(|f| f.state != State::Met) {
            unmet_notes.get_or_insert((signoff, unmet.clone()));
            continue;
        }
        counted.push(signoff.digest);
        counted.extend(notes.into_iter().flat_map(|f| f.signoffs));
        if !speakers.contains(&signoff.statement.speaker()) {
            speakers.push(signoff.statement.speaker());
            names.push(name(signoff));
        }
        by_evidence |= signoff.statement.evidence.is_some();
    }
    if speakers.len() >= people as usize {
        let kind = if by_evidence { ", by written evidence that was taken in" } else { "" };
        let what = format!("{subject} is approved by {} ({role}{kind})", names.join(" and "));
        return Finding { signoffs: counted, roles: vec![role], ..requirement.met(what) };
    }
    if let Some((noted, unmet)) = unmet_notes {
        let what = format!(
            "{} ({role}) approved {subject} as noted, and the notes are not yet signed as met ({}): {}",
            name(noted),
            noted.statement.notes.join("; "),
            unmet.what
        );
        return Finding { what, ..unmet };
    }
    let stale = stand
        .iter()
        .find(|s| !fits(s) && matches!(s.statement.decision, Decision::Approved | Decision::ApprovedAsNoted));
    if let Some(stale) = stale {
        let what = format!("{} ({role}) approved {subject}, but it has changed since", name(stale));
        return Finding {
            changes: changes(&stale.statement.facts, &super::facts::to_fit(case, &stale.statement)),
            ..base(State::Stale, what)
        };
    }
    let earlier = stand.iter().find(|s| !fits(s)).map_or(String::new(), |s| {
        format!("; {} said {} to an earlier version{}", name(s), s.statement.decision, comment(s))
    });
    let count =
        if people > 1 { format!("{people} people in the role of {role}") } else { format!("the {role}") };
    let so_far = if speakers.is_empty() { String::new() } else { format!(" ({} so far)", speakers.len()) };
    base(State::Missing, format!("{subject} is not yet approved by {count}{so_far}{earlier}"))
}
