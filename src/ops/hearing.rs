//! What somebody wants to say, and who would hear it: the role in which it counts, and why it would count for nothing.

use std::path::PathBuf;

use super::desk::Desk;
use crate::fault::{Fault, Outcome};
use crate::ids::PersonId;
use crate::job::Case;
use crate::model::roster::Role;
use crate::model::snapshot::SignOff;
use crate::model::statement::{Decision, Subject, View};
use crate::model::supersession::{Coming, WordState, says_yes};

/// What somebody wants to say.
#[derive(Clone, Debug)]
pub(crate) struct Saying {
    /// About what.
    pub subject: Subject,
    /// In which role; none to take the one that the rules ask for and the person has.
    pub role: Option<Role>,
    /// What.
    pub decision: Decision,
    /// Why.
    pub comment: Option<String>,
    /// What must be met, for an approval as noted.
    pub notes: Vec<String>,
    /// The answer that is taken in, where it is no own signature.
    pub evidence: Option<Heard>,
}

/// Somebody's answer that a rep takes in.
#[derive(Clone, Debug)]
pub(crate) struct Heard {
    /// Whose it is.
    pub person: PersonId,
    /// How it came.
    pub how: String,
    /// What it stands on.
    pub scan: Scan,
}

/// What an answer stands on that is taken in.
#[derive(Clone, Debug)]
pub enum Scan {
    /// A scan or message on the user's disk.
    File(PathBuf),
    /// What was heard, written down.
    Note(String),
}

/// Refuses evidence that would count for nothing: the person's own signature says no.
pub(super) fn heard(case: &Case<'_>, coming: &Coming<'_>, earlier: &[(&SignOff, WordState)]) -> Outcome<()> {
    let own_no = |s: &&SignOff| s.statement.evidence.is_none() && !says_yes(s.statement.decision);
    let own_yes = |s: &&SignOff| s.statement.evidence.is_none() && says_yes(s.statement.decision);
    let own = || earlier.iter().map(|(s, _)| *s);
    let Some(no) = own()
        .find(|s| own_no(s) && s.statement.edition.is_some())
        .or_else(|| own().find(own_no).filter(|_| !own().any(|s| own_yes(&s))))
    else {
        return Ok(());
    };
    let name = case.speaker(no);
    let message = format!(
        "{name} {} with their own signature ({}); written evidence cannot answer that, so it would not count",
        no.statement.decision.done_to(&coming.subject),
        no.digest.short()
    );
    Err(Box::new(Fault::usage("own-word-stands", message).fix(format!(
        "ask {name} to sign: underlit sign {} {} --as {}; nothing was written",
        case.id(),
        coming.subject.arguments(),
        coming.role
    ))))
}

/// The role in which the statement speaks. One in which it would count for nothing is refused.
pub(super) fn role(desk: &Desk<'_>, case: &Case<'_>, saying: &Saying, signer: &PersonId) -> Outcome<Role> {
    let rules = &desk.reading.shop.rules;
    let needed: Vec<Role> = match saying.subject.view {
        View::Override => vec![Role::Owner],
        _ => rules.needed(&saying.subject).map(|r| r.role).collect(),
    };
    let speaker = saying.evidence.as_ref().map_or(signer, |heard| &heard.person);
    let what = if saying.evidence.is_some() { "answer on paper about" } else { "sign" };
    // An approval counts only where the rules ask for it. A refusal holds the job in any role, and whatever was said may
    // be withdrawn.
    let mut open = needed.clone();
    if !says_yes(saying.decision) {
        open.extend(Role::ALL.iter().filter(|role| !needed.contains(*role)));
    }
    let has_said = |role: &Role| {
        let coming = Coming { subject: &saying.subject, role: *role, speaker, signer, is_evidence: false };
        !coming.earlier(&case.project.signoffs, case.words()).is_empty()
    };
    let may = |role: &&Role| case.may_speak(speaker, **role);
    let found = match saying.role {
        Some(role) => Some(role).filter(|role| open.contains(role) && may(&role)),
        None if saying.decision == Decision::Withdrawn => {
            open.iter().filter(may).find(|role| has_said(role)).or_else(|| open.iter().find(may)).copied()
        }
        None => open.iter().find(may).copied(),
    };
    let Some(role) = found else {
        return Err(Box::new(no_say(case, saying, speaker, &needed, what)));
    };
    if saying.evidence.is_some() {
        if !rules.evidence.roles.contains(&role) {
            return Err(Box::new(
                Fault::usage(
                    "evidence-not-allowed",
                    format!("the shop's rules want the {role}'s own signature, not written evidence"),
                )
                .fix("let the person sign with a key of their own"),
            ));
        }
        desk.my_role_among(&rules.evidence.taken_by, "take in evidence")?;
    }
    Ok(role)
}

/// Why nobody hears a statement: the person lacks the role, or the role has no say.
fn no_say(case: &Case<'_>, saying: &Saying, speaker: &PersonId, needed: &[Role], what: &str) -> Fault {
    let subject = &saying.subject;
    if needed.is_empty() {
        let message =
            format!("the shop's rules ask nobody about {subject}, so an approval of it would not count");
        return Fault::usage("role", message).fix(
            "no gate requires it; a shop that wants it asked adds a line to `approvals` in rules.json, and an owner \
             seals it: underlit roster seal",
        );
    }
    if let Some(role) = saying.role.filter(|role| case.may_speak(speaker, *role) && !needed.contains(role)) {
        let message = format!(
            "the shop's rules do not ask the {role} about {subject}, so an approval in that role would not count"
        );
        return Fault::usage("role", message).fix(format!(
            "nothing was written; what holds the job in any role is a refusal: underlit sign {} {} --as {role} --reject \
             --comment \"…\"",
            case.id(),
            subject.arguments()
        ));
    }
    let asked: Vec<Role> = saying.role.map_or_else(|| needed.to_vec(), |role| vec![role]);
    let words: Vec<&str> = asked.iter().map(|r| r.word()).collect();
    let who: Vec<String> = case.people_for(&asked).iter().map(ToString::to_string).collect();
    let message = format!(
        "{speaker} cannot {what} {subject}: on this job that takes {} as {}",
        who.join(" or "),
        words.join(" or ")
    );
    Fault::usage("role", message)
        .fix("ask the right person; a rep records an answer on paper with `underlit evidence`")
}
