//! Which sign-offs count for a subject, and whether they fit the facts as they are now.
//!
//! Which of them stand is decided in [`crate::model::supersession`]. A standing refusal of the present facts beats any
//! number of approvals.

use super::how_to_answer::{after_a_refusal, to_approve};
use super::refusals;
use super::requirement::Requirement;
use super::same_within;
use super::verdict::{Finding, State};
use crate::digest::Sha256Digest;
use crate::job::case::Case;
use crate::job::wording::Wording;
use crate::model::roster::Role;
use crate::model::rules::ApprovalRule;
use crate::model::snapshot::SignOff;
use crate::model::statement::{Decision, Facts, Subject};
use crate::model::supersession::{WordState, says_no, says_yes};
use crate::model::view::changes;

/// Finds, for each approval that the rules ask of a subject, whether it is there and fits.
#[must_use]
pub fn findings(case: &Case<'_>, requirement: &Requirement, subject: &Subject) -> Vec<Finding> {
    let now = &super::facts::of(case, subject);
    let found: Vec<Finding> = case
        .shop
        .rules
        .needed(subject)
        .filter_map(|rule| Some((rule, people_needed(case, rule)?)))
        .map(|(rule, people)| {
            let found = finding(case, requirement, subject, now, rule.role, people);
            Finding { asked: found.asked.or_else(|| Some((subject.clone(), rule.role))), ..found }
        })
        .collect();
    if found.is_empty() {
        let what = format!("the shop's rules name nobody who may approve {subject}");
        return vec![requirement.missing(case, what, &[Role::Owner], "underlit roster seal")];
    }
    found
}

/// The same of a subject that is the whole job's, or each release group's where the job has such.
#[must_use]
pub(super) fn by_group(case: &Case<'_>, requirement: &Requirement, subject: &Subject) -> Vec<Finding> {
    let of_case = |case: &Case<'_>| {
        let subject = Subject { group: case.group.clone(), ..subject.clone() };
        findings(case, requirement, &subject)
    };
    let mut parts = case.parts().peekable();
    if parts.peek().is_none() { of_case(case) } else { parts.flat_map(|part| of_case(&part)).collect() }
}

/// What stands for something that is not so: its waiver. Until that is met, each finding says first what is not so.
#[must_use]
pub(super) fn or_waived(
    case: &Case<'_>,
    requirement: &Requirement,
    waiver: &Subject,
    what_is_not_so: &str,
) -> Vec<Finding> {
    let mut found = findings(case, requirement, waiver);
    for open in found.iter_mut().filter(|finding| finding.state != State::Met) {
        open.what = format!("{what_is_not_so}; {}", open.what);
    }
    found
}

/// How many different people a rule needs on this job: of the approvers, all whom it names or as many as the rule says; none
/// where it names none.
fn people_needed(case: &Case<'_>, rule: &ApprovalRule) -> Option<u32> {
    let named = case.project.project.people.approvers.len().try_into().unwrap_or(u32::MAX);
    match (rule.role, rule.every) {
        (Role::Approver, _) if named == 0 => None,
        (Role::Approver, Some(true)) => Some(named),
        (Role::Approver, _) => Some(rule.people.min(named)),
        _ => Some(rule.people),
    }
}

/// The sign-offs about a subject in a role that count, each with what became of it, in the order of their digests, so
/// that the order in which files were read is no part of a verdict.
fn about<'a>(case: &Case<'a>, subject: &Subject, role: Role) -> Vec<(&'a SignOff, WordState)> {
    let wanted = |s: &&SignOff| s.statement.about == *subject && s.statement.role == role;
    let found = case.project.signoffs.iter().filter(wanted);
    let mut found: Vec<_> = found.filter_map(|s| Some((s, case.word(s)?))).collect();
    found.sort_by_key(|(s, _)| s.digest);
    found
}

/// The sign-offs about a subject in a role that stand, withdrawals left out.
#[must_use]
pub fn standing<'a>(case: &Case<'a>, subject: &Subject, role: Role) -> Vec<&'a SignOff> {
    let stands = |(s, state): (&'a SignOff, WordState)| {
        (state == WordState::Stands && s.statement.decision != Decision::Withdrawn).then_some(s)
    };
    about(case, subject, role).into_iter().filter_map(stands).collect()
}

/// True where a sign-off sealed the facts as they are now, whichever edition of the words it was made in, or an outline
/// that is the same by the shop's rules: what [`super::facts::to_fit`] says, and not worked out again where that is plain.
fn fits(case: &Case<'_>, signoff: &SignOff, now: &Facts) -> bool {
    let statement = &signoff.statement;
    statement.facts == *now
        || (Wording::of(&statement.facts) != Wording::of(now)
            && statement.facts == super::facts::to_fit(case, statement))
        || same_within::holds(case, statement, now)
}

/// The findings about the notes of an approval as noted: they are met as anything else is approved.
fn notes(case: &Case<'_>, requirement: &Requirement, signoff: &SignOff) -> Vec<Finding> {
    let subject = Subject::notes_met(signoff.digest, signoff.statement.about.panel.as_ref());
    findings(case, requirement, &subject)
}

fn finding(
    case: &Case<'_>,
    requirement: &Requirement,
    subject: &Subject,
    now: &Facts,
    role: Role,
    people: u32,
) -> Finding {
    let all = about(case, subject, role);
    let stand = standing(case, subject, role);
    let fits = |s: &&&SignOff| fits(case, s, now);
    let command = to_approve(case, subject, role);
    let base =
        |state, what: String| Finding { state, ..requirement.missing(case, what, &[role], command.clone()) };
    let comment = |s: &SignOff| s.statement.comment.as_ref().map_or(String::new(), |c| format!(": “{c}”"));
    let name = |s: &SignOff| case.speaker(s);

    let refused: Vec<_> = stand
        .iter()
        .filter(fits)
        .filter(|s| says_no(s.statement.decision) && refusals::set_aside(case, s).is_none())
        .collect();
    if let Some(first) = refused.first() {
        let what = format!(
            "{} ({role}) {}{}",
            name(first),
            first.statement.decision.done_to(subject),
            comment(first)
        );
        let (who, change, then) = after_a_refusal(case, subject, role);
        return Finding {
            signoffs: refused.iter().map(|s| s.digest).collect(),
            state: State::Rejected,
            why: format!("{}; {then}", requirement.reason),
            ..requirement.missing(case, what, &who, change)
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
            _ => continue,
        };
        if let Some(unmet) = notes.iter().find(|f| f.state != State::Met) {
            unmet_notes.get_or_insert((signoff, unmet.clone()));
            continue;
        }
        counted.push(signoff.digest);
        counted.extend(notes.into_iter().flat_map(|f| f.signoffs));
        if !speakers.contains(&signoff.statement.speaker()) {
            speakers.push(signoff.statement.speaker());
            let is_of_another = signoff.statement.facts != *now;
            let by_engineer =
                is_of_another.then(|| same_within::answered(case, &signoff.statement, now)).flatten();
            let outline = by_engineer.map(|(moved, engineer)| {
                counted.push(engineer.digest);
                format!(", for an outline {} from this one", case.shop.book.units.show(moved))
            });
            let outline = outline.unwrap_or_default();
            names.push(format!("{}{outline}", name(signoff)));
        }
        by_evidence |= signoff.statement.evidence.is_some();
    }
    if speakers.len() >= people as usize {
        let kind = if by_evidence { ", by written evidence" } else { "" };
        let what = format!("{subject} is approved by {} ({role}{kind})", names.join(" and "));
        return Finding { signoffs: counted, roles: vec![role], ..requirement.met(what) };
    }
    // An approval that fits and that the person's own signature sets aside.
    let set_aside =
        all.iter().filter(|(s, _)| fits(&s) && says_yes(s.statement.decision)).find_map(|(s, state)| {
            let (WordState::TakenBack(by) | WordState::Overruled(by)) = state else { return None };
            let by = case.project.signoffs.iter().find(|s| s.digest == *by)?;
            Some((s, by))
        });
    if let Some((_, by)) = set_aside {
        let said = if by.statement.decision == Decision::Withdrawn { "withdrew it" } else { "refused it" };
        let how = if by.statement.evidence.is_none() { " with their own signature" } else { "" };
        let what = format!(
            "{} ({role}) {said}{how}, so an approval of {subject} that does not answer this does not count{}",
            name(by),
            comment(by)
        );
        // Programs of before let it count: their moves stay right.
        let enough_then = speakers.len() + usize::from(by.statement.edition.is_none()) >= people as usize;
        let since = if by.statement.edition.is_none() && enough_then { 2 } else { requirement.since };
        return Finding { since, ..base(State::Missing, what) };
    }
    if let Some((noted, unmet)) = unmet_notes {
        let what = format!(
            "{} ({role}) approved {subject} as noted, and the notes are not yet signed as met ({}): {}",
            name(noted),
            noted.statement.notes.join("; "),
            unmet.what
        );
        return Finding { what, asked: None, ..unmet };
    }
    let mut stale = stand.iter().filter(|s| !fits(s) && says_yes(s.statement.decision));
    let mut nearly = stale.clone().filter_map(|s| Some((s, same_within::distance(case, &s.statement, now)?)));
    if let Some((signoff, moved)) = nearly.next() {
        let what = format!(
            "{} ({role}) approved {subject}, and its outline has moved since by {}, which the shop's rules call the same: \
             the approval counts again once an engineer has approved it as it is now",
            name(signoff),
            case.shop.book.units.show(moved)
        );
        let engineer = Role::Engineer;
        let command = to_approve(case, subject, engineer);
        return Finding {
            state: State::Stale,
            changes: changes(&signoff.statement.facts, now),
            asked: Some((subject.clone(), engineer)),
            ..requirement.missing(case, what, &[engineer], command)
        };
    }
    let stale = stale.next();
    if let Some(stale) = stale {
        let changes = changes(&stale.statement.facts, &super::facts::to_fit(case, &stale.statement));
        let form = match changes.iter().any(|change| change.fact == super::facts::PACK_FORMAT) {
            true => {
                "; this version of underlit computes the build pack in a newer format: sign the release once more"
            }
            false => "",
        };
        let what = format!("{} ({role}) approved {subject}, but it has changed since{form}", name(stale));
        return Finding { changes, ..base(State::Stale, what) };
    }
    let earlier = stand.iter().find(|s| !fits(s)).map_or(String::new(), |s| {
        format!("; {} {}{}", name(s), s.statement.decision.done_to(&"an earlier version"), comment(s))
    });
    let count =
        if people > 1 { format!("{people} people in the role of {role}") } else { format!("the {role}") };
    let so_far = if speakers.is_empty() { String::new() } else { format!(" ({} so far)", speakers.len()) };
    base(State::Missing, format!("{subject} is not yet approved by {count}{so_far}{earlier}"))
}
