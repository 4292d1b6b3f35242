//! What people say about facts: approve, reject, withdraw, waive, acknowledge, release; by their own
//! signature, or taken in as written evidence.
//!
//! A statement is prepared first, so that the very facts and sentence can be shown; then it is signed.

use std::path::Path;

use super::desk::Desk;
use super::record::read_users_file;
use super::surroundings::nonce;
use super::trust::namespace;
use crate::digest::Sha256Digest;
use crate::fault::{Class, Fault, Outcome};
use crate::gates::{Case, facts, requirements, sentences};
use crate::model::attachment::Attachment;
use crate::model::id::{PersonId, ProjectId};
use crate::model::kind::Kind;
use crate::model::roster::Role;
use crate::model::snapshot::{SignOff, Snapshot};
use crate::model::statement::{Decision, Evidence, Statement, Subject, View};
use crate::store::{Changes, read, write};

/// What somebody wants to say.
#[derive(Clone, Debug)]
pub struct Saying {
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
    /// Whose written answer is taken in, how it came, and the scan of it.
    pub evidence: Option<(PersonId, String, std::path::PathBuf)>,
}

/// A statement ready to be signed, with what the signer should see first.
#[derive(Clone, Debug)]
pub struct Prepared {
    /// The statement.
    pub statement: Statement,
    /// The sentence of a waiver or an acknowledgement.
    pub sentence: Option<String>,
    scan: Option<(String, Vec<u8>)>,
}

/// Prepares a statement about a project's facts as they are now.
///
/// # Errors
/// `nothing-to-sign`, `nothing-to-withdraw`, `role`, `comment-missing`, `evidence-not-allowed`.
pub fn prepare(
    desk: &Desk<'_>,
    project: &ProjectId,
    snapshot: &Snapshot,
    saying: &Saying,
) -> Outcome<Prepared> {
    let case = desk.reading.case(snapshot);
    let signer = desk.me()?;
    let role = role(desk, &case, saying, &signer)?;
    let now = facts::of(&case, &saying.subject);
    let sentence = sentences::sentence(&case, &saying.subject);
    if now.is_empty() {
        return Err(Box::new(
            Fault::usage("nothing-to-sign", format!("there is nothing to say about {}", saying.subject))
                .mend(format!(
                    "`underlit status {project}` names what there is to sign and the command for it"
                )),
        ));
    }
    if saying.subject.view == View::Release
        && saying.decision != Decision::Withdrawn
        && let Some((question, whose)) = snapshot
            .conflicts
            .values()
            .map(|question| (question, project.to_string()))
            .chain(requirements::of_the_shop(&case).map(|(question, _)| (question, "--shop".to_owned())))
            .next()
    {
        let fault = Fault::new(
            Class::Conflict,
            "open-question",
            format!("a question is open: {}", question.in_words()),
        );
        return Err(Box::new(fault.mend(format!("settle it first: underlit resolve {whose}"))));
    }
    if saying.subject.view == View::Rendering
        && !saying.subject.panel.as_ref().is_some_and(|p| snapshot.renderings.contains_key(p))
    {
        return Err(Box::new(
            Fault::usage("nothing-to-sign", format!("{} is not drawn yet", saying.subject)).mend(format!(
                "draw it first: underlit draw {project} {}",
                saying.subject.panel.as_ref().map_or("PANEL", |p| p.as_str())
            )),
        ));
    }
    let says_no = matches!(saying.decision, Decision::Rejected | Decision::ReviseAndResubmit);
    if says_no && saying.comment.as_deref().is_none_or(|c| c.trim().is_empty()) {
        return Err(Box::new(
            Fault::usage("comment-missing", "a refusal says why").mend("add --comment \"…\""),
        ));
    }
    let speaker = saying.evidence.as_ref().map_or(&signer, |(person, _, _)| person);
    let supersedes = earlier(snapshot, &saying.subject, role, speaker, &signer, saying.evidence.is_some());
    if saying.decision == Decision::Withdrawn && supersedes.is_empty() {
        return Err(Box::new(
            Fault::usage(
                "nothing-to-withdraw",
                format!("{signer} has said nothing about {} as {role} that still stands", saying.subject),
            )
            .mend(format!("`underlit history {project}` tells who said what")),
        ));
    }
    let (evidence, scan) = match &saying.evidence {
        None => (None, None),
        Some((person, how, file)) => {
            let (attachment, bytes) = scan_of(file)?;
            let name = attachment.file.to_string();
            (
                Some(Evidence { person: person.clone(), how: how.clone(), scan: attachment }),
                Some((name, bytes)),
            )
        }
    };
    let statement = Statement {
        schema: "../../../schema/sign-off.schema.json".into(),
        book: desk.reading.shop.book.id.clone(),
        project: project.clone(),
        about: saying.subject.clone(),
        role,
        decision: saying.decision,
        comment: saying.comment.clone(),
        notes: saying.notes.clone(),
        facts: now,
        supersedes,
        signer,
        roster: desk.reading.shop.roster_ref(),
        evidence,
        time: desk.around.stamp(),
        nonce: nonce()?,
    };
    Ok(Prepared { statement, sentence, scan })
}

/// Signs a prepared statement and keeps it in the book.
///
/// # Errors
/// What keeps the key from signing, and what the disk or git says.
pub fn say(desk: &Desk<'_>, prepared: &Prepared) -> Result<Sha256Digest, Vec<Fault>> {
    let statement = &prepared.statement;
    let folder = format!("projects/{}/signoffs", statement.project);
    let purpose = if statement.evidence.is_some() { "evidence" } else { statement.role.word() };
    let mut changes = Changes::new();
    if let Some((name, bytes)) = &prepared.scan {
        let path = format!("{folder}/{name}");
        if !desk.reading.book.root().join(&path).exists() {
            changes.put(path, bytes.clone());
        }
    }
    let digest = seal(desk, &folder, Kind::SignOff, purpose, statement, &mut changes)?;
    desk.save(&changes, &message(desk, statement))?;
    Ok(digest)
}

/// Writes a record as bytes, signs exactly these, and adds both files, named by the digest.
///
/// # Errors
/// What the schema says against it, and what keeps the key from signing.
pub fn seal<T: serde::Serialize>(
    desk: &Desk<'_>,
    folder: &str,
    kind: Kind,
    purpose: &str,
    record: &T,
    changes: &mut Changes,
) -> Result<Sha256Digest, Vec<Fault>> {
    let bytes = write::to_bytes(record)?;
    let digest = Sha256Digest::of(&bytes);
    let path = format!("{folder}/{digest}.json");
    read::check_bytes(&path, kind, &bytes)?;
    if desk.around.dry_run {
        return Ok(digest);
    }
    let armour = desk.sign(&namespace(purpose), &bytes)?;
    changes.put(path, bytes).put(format!("{folder}/{digest}.sig"), armour.as_str().as_bytes().to_vec());
    Ok(digest)
}

fn scan_of(file: &Path) -> Outcome<(Attachment, Vec<u8>)> {
    let (bytes, ending) = read_users_file(file)?;
    let ending = if ending == "jpeg" { "jpg".to_owned() } else { ending };
    if !["pdf", "png", "jpg", "eml", "txt"].contains(&ending.as_str()) {
        return Err(Box::new(
            Fault::usage("evidence-kind", format!("a .{ending} file is no evidence that everybody can open"))
                .in_file(file.display().to_string())
                .mend("give a scan or message as .pdf, .png, .jpg, .eml or .txt"),
        ));
    }
    let sha256 = Sha256Digest::of(&bytes);
    let file =
        format!("{sha256}.{ending}").parse().map_err(|e| Fault::usage("attachment", format!("{e}")))?;
    Ok((Attachment { file, sha256 }, bytes))
}

/// The role in which the statement speaks.
fn role(desk: &Desk<'_>, case: &Case<'_>, saying: &Saying, signer: &PersonId) -> Outcome<Role> {
    let rules = &desk.reading.shop.rules;
    let asked: Vec<Role> = match saying.role {
        Some(role) => vec![role],
        None => rules.needed(&saying.subject).map(|r| r.role).collect(),
    };
    let (speaker, what) = match &saying.evidence {
        Some((person, _, _)) => (person, "speak by evidence"),
        None => (signer, "say that"),
    };
    let found = asked.iter().copied().find(|r| case.may_speak(speaker, *r));
    let Some(role) = found else {
        let words: Vec<&str> = asked.iter().map(|r| r.word()).collect();
        let who: Vec<String> = case.people_for(&asked).iter().map(ToString::to_string).collect();
        let message = if words.is_empty() {
            format!("the shop's rules ask nobody about {}", saying.subject)
        } else {
            format!(
                "{speaker} may not {what} about {}: on this job that is for {} as {}",
                saying.subject,
                who.join(" or "),
                words.join(" or ")
            )
        };
        let remedy = if words.is_empty() {
            "nothing hangs on it here; a shop that wants it asked adds a line to `approvals` in rules.json, and an owner \
             seals it: underlit roster seal"
        } else {
            "ask the right person; where somebody answered on paper, a rep takes it in with `underlit evidence`"
        };
        return Err(Box::new(Fault::usage("role", message).mend(remedy)));
    };
    if saying.evidence.is_some() {
        if !rules.evidence.roles.contains(&role) {
            return Err(Box::new(
                Fault::usage(
                    "evidence-not-allowed",
                    format!("the shop's rules want the {role}'s own signature, not written evidence"),
                )
                .mend("let the person sign with a key of their own"),
            ));
        }
        desk.my_role_among(&rules.evidence.taken_by, "take in evidence")?;
    }
    Ok(role)
}

/// The standing statements of one speaker about a subject that a new one takes the place of.
fn earlier(
    snapshot: &Snapshot,
    subject: &Subject,
    role: Role,
    speaker: &PersonId,
    signer: &PersonId,
    by_evidence: bool,
) -> Vec<Sha256Digest> {
    let same = |s: &&SignOff| {
        let statement = &s.statement;
        s.void.is_none()
            && statement.about == *subject
            && statement.role == role
            && statement.speaker() == speaker
            && (statement.signer == *signer || (!by_evidence && statement.evidence.is_some()))
    };
    let mine: Vec<&SignOff> = snapshot.signoffs.iter().filter(same).collect();
    mine.iter()
        .filter(|s| !mine.iter().any(|later| later.statement.supersedes.contains(&s.digest)))
        .filter(|s| s.statement.decision != Decision::Withdrawn)
        .map(|s| s.digest)
        .collect()
}

fn message(desk: &Desk<'_>, statement: &Statement) -> String {
    let roster = desk.reading.chain.newest();
    let deed = match (statement.about.view, statement.decision) {
        (View::Release, Decision::Approved) => "releases the whole build".to_owned(),
        (View::Waiver | View::Acknowledgement, Decision::Approved) => format!("signs {}", statement.about),
        (_, Decision::Approved) => format!("approves {}", statement.about),
        (_, Decision::ApprovedAsNoted) => format!("approves {} as noted", statement.about),
        (_, Decision::ReviseAndResubmit) => format!("wants {} revised and resubmitted", statement.about),
        (_, Decision::Rejected) => format!("rejects {}", statement.about),
        (_, Decision::Withdrawn) => format!("withdraws what was said about {}", statement.about),
    };
    // The commit's author is the signer; only another person's answer has to be named.
    let first = match &statement.evidence {
        None => format!("{}: {deed}, as {}", statement.project, statement.role),
        Some(e) => format!(
            "{}: takes in as evidence ({}) that {} ({}) {deed}",
            statement.project,
            e.how,
            roster.name_of(&e.person),
            statement.role
        ),
    };
    match &statement.comment {
        Some(comment) => format!("{first}\n\n{comment}\n"),
        None => format!("{first}\n"),
    }
}
