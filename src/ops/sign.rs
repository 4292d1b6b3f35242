//! What people say about facts: approve, reject, withdraw, waive, acknowledge, release; by their own
//! signature, or taken in as written evidence.
//!
//! A statement is prepared first, so that the very facts and sentence can be shown; then it is signed.

use std::path::Path;

use super::desk::Desk;
pub use super::hearing::Scan;
pub(crate) use super::hearing::{Heard, Saying};
use super::hearing::{heard, role};
use super::reading::Reading;
use super::record::{PhotoNotes, read_photo};
use crate::digest::Sha256Digest;
use crate::fault::{Class, Fault, Outcome};
use crate::gates::{evaluate, facts, requirements, sentences};
use crate::ids::{PanelId, PersonId, ProjectId};
use crate::job::Case;
use crate::model::attachment::Attachment;
use crate::model::kind::Kind;
use crate::model::roster::Role;
use crate::model::snapshot::{SignOff, Snapshot};
use crate::model::stage::Stage;
use crate::model::statement::{Decision, EDITION, Evidence, Statement, Subject, Topic, View};
use crate::model::supersession::{Coming, WordState, says_no, says_yes};
use crate::signing::Armour;
use crate::store::{Changes, read, write};
use crate::trust::counting::{namespace, signature_in_words};
use crate::trust::redraw;
use crate::trust::surroundings::nonce;

/// The schema of statements, as it stands in them.
const SCHEMA: &str = "../../../schema/sign-off.schema.json";

/// A statement ready to be signed, with what the signer should see first.
#[derive(Clone, Debug)]
pub(crate) struct Prepared {
    /// The statement.
    pub statement: Statement,
    /// The sentence of a waiver or an acknowledgement.
    pub sentence: Option<String>,
    /// What is still missing before a release could count, in words: signed now, it goes stale when that comes.
    pub too_early: Vec<String>,
    /// What to know before signing: of the sheets that it is about.
    pub remarks: Vec<String>,
    scan: Option<(String, Vec<u8>)>,
    /// The signature, where its signer made it already, in a packet's page.
    pub(crate) signed: Option<Armour>,
}

impl Prepared {
    /// How it was signed, in words, where its signer did so already.
    #[must_use]
    pub(crate) fn signed_already(&self) -> Option<String> {
        let armour = self.signed.as_ref()?;
        write::to_bytes(&self.statement).ok().map(|bytes| signature_in_words(armour, &bytes))
    }
}

/// What else is missing before a job could be released, where its release is about to be approved.
fn too_early(case: &Case<'_>, saying: &Saying) -> Vec<String> {
    if saying.subject.view != View::Release || !says_yes(saying.decision) {
        return Vec::new();
    }
    let part = saying.subject.group.as_ref().and_then(|group| case.part(group));
    let verdict = evaluate(part.as_ref().unwrap_or(case), Stage::Released);
    let others = verdict.missing().filter(|f| f.requirement != "release-signed");
    others.map(|f| format!("{} [{}]", f.what, f.requirement)).collect()
}

/// What is meant where no panel is named and only panels have that to be signed: the one panel that has it.
///
/// # Errors
/// `which-panel` where several have it.
fn meant(case: &Case<'_>, subject: &Subject) -> Outcome<Subject> {
    if subject.group.is_some() || subject.view == View::Release || subject.topic == Some(Topic::Cautions) {
        let group = super::reading::group_of(case, subject.group.as_ref())?.and_then(|part| part.group);
        return Ok(Subject { group, ..subject.clone() });
    }
    if subject.panel.is_some() || subject.notes_of.is_some() || !facts::of(case, subject).is_empty() {
        return Ok(subject.clone());
    }
    let of_panel = |id: &PanelId| Subject { panel: Some(id.clone()), ..subject.clone() };
    let having: Vec<&PanelId> =
        case.panels().map(|(id, _)| id).filter(|id| !facts::of(case, &of_panel(id)).is_empty()).collect();
    match having.as_slice() {
        [] => Ok(subject.clone()),
        [one] => Ok(of_panel(one)),
        several => {
            let names: Vec<&str> = several.iter().map(|id| id.as_str()).collect();
            Err(Box::new(
                Fault::usage("which-panel", format!("several panels have {subject} to be signed"))
                    .fix(format!("name one of them: --panel {}", names.join(" or --panel "))),
            ))
        }
    }
}

/// The statement that somebody signs for themselves about a subject in a packet's page, as the book is now: with a place
/// for all that they add, which the page fills in or leaves out.
#[must_use]
pub(crate) fn blank(
    reading: &Reading,
    case: &Case<'_>,
    subject: &Subject,
    role: Role,
    signer: &PersonId,
) -> Statement {
    let coming = Coming { subject, role, speaker: signer, signer, is_evidence: false };
    let earlier = coming.earlier(&case.project.signoffs, case.words());
    Statement {
        schema: SCHEMA.into(),
        book: reading.shop.book.id.clone(),
        project: case.project.project.id.clone(),
        about: subject.clone(),
        role,
        decision: Decision::Approved,
        comment: Some(String::new()),
        notes: vec![String::new()],
        facts: facts::of(case, subject),
        supersedes: replaced(&coming, &earlier),
        signer: signer.clone(),
        roster: reading.shop.roster_ref(),
        evidence: None,
        edition: Some(EDITION),
        time: String::new(),
        nonce: String::new(),
    }
}

/// The earlier statements that one takes the place of.
fn replaced(coming: &Coming<'_>, earlier: &[(&SignOff, WordState)]) -> Vec<Sha256Digest> {
    earlier.iter().filter(|(s, _)| coming.replaces(&s.statement)).map(|(s, _)| s.digest).collect()
}

/// Prepares a statement about a project's facts as they are now, by the asking person.
///
/// # Errors
/// `which-panel`, `nothing-to-sign`, `nothing-to-withdraw`, `role`, `comment-missing`, `evidence-not-allowed`.
pub(crate) fn prepare(
    desk: &Desk<'_>,
    project: &ProjectId,
    snapshot: &Snapshot,
    saying: &Saying,
) -> Outcome<Prepared> {
    prepare_by(desk, project, snapshot, saying, desk.me()?)
}

/// The same by somebody.
///
/// # Errors
/// As [`prepare`].
pub(crate) fn prepare_by(
    desk: &Desk<'_>,
    project: &ProjectId,
    snapshot: &Snapshot,
    saying: &Saying,
    signer: PersonId,
) -> Outcome<Prepared> {
    let case = desk.reading.case(snapshot);
    let saying = &Saying { subject: meant(&case, &saying.subject)?, ..saying.clone() };
    let role = role(desk, &case, saying, &signer)?;
    let now = facts::of(&case, &saying.subject);
    let sentence = sentences::sentence(&case, &saying.subject);
    if now.is_empty() {
        return Err(Box::new(
            Fault::usage("nothing-to-sign", format!("there is nothing to sign about {}", saying.subject))
                .fix(format!(
                    "`underlit status {project}` names what there is to sign and the command for it"
                )),
        ));
    }
    if says_yes(saying.decision)
        && let Some((question, whose)) = requirements::bearing_on(&case, &saying.subject).next()
    {
        let fault = Fault::new(
            Class::Conflict,
            "open-question",
            format!("a question is open: {}", question.in_words()),
        );
        return Err(Box::new(fault.fix(format!("answer it first: underlit resolve {whose}"))));
    }
    if saying.subject.view == View::Rendering
        && !saying.subject.panel.as_ref().is_some_and(|p| snapshot.renderings.contains_key(p))
    {
        return Err(Box::new(
            Fault::usage("nothing-to-sign", format!("{} is not drawn yet", saying.subject)).fix(format!(
                "draw it first: underlit draw {project} {}",
                saying.subject.panel.as_ref().map_or("PANEL", |p| p.as_str())
            )),
        ));
    }
    let remarks = match says_yes(saying.decision) {
        true => sheets_of(desk, &case, &saying.subject)?,
        false => Vec::new(),
    };
    if (says_no(saying.decision) || saying.subject.view == View::Override)
        && saying.comment.as_deref().is_none_or(|c| c.trim().is_empty())
    {
        return Err(Box::new(
            Fault::usage("comment-missing", "a refusal or an override needs a reason")
                .fix("add --comment \"…\""),
        ));
    }
    let speaker = saying.evidence.as_ref().map_or(&signer, |heard| &heard.person);
    let coming = Coming {
        subject: &saying.subject,
        role,
        speaker,
        signer: &signer,
        is_evidence: saying.evidence.is_some(),
    };
    let earlier = coming.earlier(&snapshot.signoffs, case.words());
    if coming.is_evidence && says_yes(saying.decision) {
        heard(&case, &coming, &earlier)?;
    }
    let supersedes = replaced(&coming, &earlier);
    let taken_back = |(s, state): &&(&SignOff, WordState)| {
        coming.replaces(&s.statement)
            && s.statement.decision != Decision::Withdrawn
            && *state == WordState::Stands
    };
    if saying.decision == Decision::Withdrawn && !earlier.iter().any(|e| taken_back(&e)) {
        return Err(Box::new(
            Fault::usage(
                "nothing-to-withdraw",
                format!("{signer} has no standing sign-off on {} as {role}", saying.subject),
            )
            .fix(format!("`underlit history {project}` lists every sign-off")),
        ));
    }
    let (evidence, scan) = match &saying.evidence {
        None => (None, None),
        Some(Heard { person, how, scan }) => {
            let (attachment, bytes) = match scan {
                Scan::File(file) => scan_of(file)?,
                Scan::Note(text) => kept("txt", text.clone().into_bytes())?,
            };
            let name = attachment.file.to_string();
            (
                Some(Evidence { person: person.clone(), how: how.clone(), scan: attachment }),
                Some((name, bytes)),
            )
        }
    };
    let statement = Statement {
        schema: SCHEMA.into(),
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
        edition: (!says_yes(saying.decision)).then_some(EDITION),
        time: desk.around.stamp_to_sign()?,
        nonce: nonce()?,
    };
    Ok(Prepared { statement, sentence, too_early: too_early(&case, saying), remarks, scan, signed: None })
}

/// What to know of the sheets that somebody is about to approve.
///
/// # Errors
/// Why one of them may not be approved.
fn sheets_of(desk: &Desk<'_>, case: &Case<'_>, subject: &Subject) -> Outcome<Vec<String>> {
    let whole = subject.view == View::Release;
    let of_panel = |id: &PanelId| redraw::before_signing(&desk.reading.book, case, id, whole, desk.around);
    match (subject.view, &subject.panel) {
        (View::Rendering, Some(id)) => of_panel(id),
        (View::Release, _) => {
            let mut told = Vec::new();
            let of_group = |id: &PanelId| {
                let panel = case.project.panels.get(id);
                subject.group.as_ref().is_none_or(|group| panel.is_some_and(|p| p.count_in(group).is_some()))
            };
            for id in case.project.renderings.keys().filter(|id| of_group(id)) {
                told.extend(of_panel(id)?);
            }
            Ok(told)
        }
        _ => Ok(Vec::new()),
    }
}

/// Signs a prepared statement and keeps it in the book.
///
/// # Errors
/// What keeps the key from signing, and what the disk or git says.
pub(crate) fn say(desk: &Desk<'_>, prepared: &Prepared) -> Result<Sha256Digest, Vec<Fault>> {
    let mut changes = Changes::new();
    let digest = put(desk, prepared, &mut changes)?;
    desk.save(&changes, &message(desk, prepared))?;
    Ok(digest)
}

/// Signs several prepared statements about different things and keeps them, all or none.
///
/// # Errors
/// As [`say`].
pub(crate) fn say_all(desk: &Desk<'_>, prepared: &[Prepared]) -> Result<Vec<Sha256Digest>, Vec<Fault>> {
    let mut changes = Changes::new();
    let mut digests = Vec::new();
    for one in prepared {
        digests.push(put(desk, one, &mut changes)?);
    }
    let messages: Vec<String> = prepared.iter().map(|one| message(desk, one)).collect();
    desk.save(&changes, &messages.join("\n"))?;
    Ok(digests)
}

/// Signs a prepared statement and adds its files.
fn put(desk: &Desk<'_>, prepared: &Prepared, changes: &mut Changes) -> Result<Sha256Digest, Vec<Fault>> {
    let statement = &prepared.statement;
    let folder = format!("projects/{}/signoffs", statement.project);
    let purpose = if statement.evidence.is_some() { "evidence" } else { statement.role.word() };
    if let Some((name, bytes)) = &prepared.scan {
        let path = format!("{folder}/{name}");
        if !desk.reading.book.root().join(&path).exists() {
            changes.put(path, bytes.clone());
        }
    }
    match &prepared.signed {
        Some(armour) => Ok(keep(&folder, Kind::SignOff, statement, changes, |_| Ok(Some(armour.clone())))?),
        None => seal(desk, &folder, Kind::SignOff, purpose, statement, changes),
    }
}

/// Writes a record as bytes, signs exactly these, and adds both files, named by the digest.
///
/// # Errors
/// What the schema says against it, and what keeps the key from signing.
pub(crate) fn seal<T: serde::Serialize>(
    desk: &Desk<'_>,
    folder: &str,
    kind: Kind,
    purpose: &str,
    record: &T,
    changes: &mut Changes,
) -> Result<Sha256Digest, Vec<Fault>> {
    keep(folder, kind, record, changes, |bytes| {
        (!desk.around.dry_run).then(|| desk.sign(&namespace(purpose), bytes)).transpose()
    })
}

/// Adds a record and its signature, named by the record's digest; nothing where it is not signed.
fn keep<T: serde::Serialize>(
    folder: &str,
    kind: Kind,
    record: &T,
    changes: &mut Changes,
    sign: impl FnOnce(&[u8]) -> Outcome<Option<Armour>>,
) -> Result<Sha256Digest, Vec<Fault>> {
    let bytes = write::to_bytes(record)?;
    let digest = Sha256Digest::of(&bytes);
    let path = format!("{folder}/{digest}.json");
    read::check_bytes(&path, kind, &bytes)?;
    if let Some(armour) = sign(&bytes)? {
        changes.put(path, bytes).put(format!("{folder}/{digest}.sig"), armour.as_str().as_bytes().to_vec());
    }
    Ok(digest)
}

fn scan_of(file: &Path) -> Outcome<(Attachment, Vec<u8>)> {
    let (bytes, ending) = read_photo(file, PhotoNotes::Removed)?;
    let ending = if ending == "jpeg" { "jpg".to_owned() } else { ending };
    if !["pdf", "png", "jpg", "eml", "txt"].contains(&ending.as_str()) {
        return Err(Box::new(
            Fault::usage("evidence-kind", format!("not everybody can open a .{ending} file"))
                .in_file(file.display().to_string())
                .fix("give a scan or message as .pdf, .png, .jpg, .eml or .txt"),
        ));
    }
    kept(&ending, bytes)
}

/// Evidence as it lies beside its statement: named by its digest.
fn kept(ending: &str, bytes: Vec<u8>) -> Outcome<(Attachment, Vec<u8>)> {
    let sha256 = Sha256Digest::of(&bytes);
    let file =
        format!("{sha256}.{ending}").parse().map_err(|e| Fault::usage("attachment", format!("{e}")))?;
    Ok((Attachment { file, sha256 }, bytes))
}

fn message(desk: &Desk<'_>, prepared: &Prepared) -> String {
    let statement = &prepared.statement;
    let roster = desk.reading.chain.newest();
    let deed = match (statement.about.view, statement.decision) {
        (View::Release, Decision::Approved) => match &statement.about.group {
            Some(group) => format!("releases group {group}"),
            None => "releases the whole build".to_owned(),
        },
        (View::Waiver | View::Acknowledgement, Decision::Approved) => format!("signs {}", statement.about),
        (View::Override, Decision::Approved) => format!("signs {}", statement.about),
        (_, Decision::Approved) => format!("approves {}", statement.about),
        (_, Decision::ApprovedAsNoted) => format!("approves {} as noted", statement.about),
        (_, Decision::ReviseAndResubmit) => format!("wants {} revised and resubmitted", statement.about),
        (_, Decision::Rejected) => format!("rejects {}", statement.about),
        (_, Decision::Withdrawn) => format!("withdraws what was said about {}", statement.about),
    };
    // The commit's author is the signer; only another person's answer has to be named.
    let first = match &statement.evidence {
        None if prepared.signed.is_some() => format!(
            "{}: takes in what {} signed: {deed}, as {}",
            statement.project,
            roster.name_of(&statement.signer),
            statement.role
        ),
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
