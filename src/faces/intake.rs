//! Answers that come back from a packet, by a code in any reply or in the file that its page saved: held against what the
//! book asks now, and taken in by the very rules of [`crate::ops::sign`]: as their giver's own word where they signed with a
//! passkey that the roster knows, else as evidence.
//!
//! A code says by itself of which version of which item it is. A mistyped one, one of an earlier version, one of another
//! project and one of no item here are told apart, and nothing of them is written.

use crate::digest::Sha256Digest;
use crate::fault::{Fault, Outcome};
use crate::gates::asked;
use crate::ids::{PersonId, ProjectId};
use crate::job::Case;
use crate::model::answer_code::{AnswerCode, CodeError};
use crate::model::roster::Role;
use crate::model::snapshot::Snapshot;
use crate::model::statement::{Decision, Statement, Subject};
use crate::ops::desk::Desk;
use crate::ops::reading::Reading;
use crate::ops::sign::{Heard, Prepared, Saying, Scan, prepare, prepare_by};
use crate::signing::Armour;
use crate::store::write;
use crate::trust::counting::{self, Sealed};

/// One answer to one item.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Answer {
    /// The code, as it was written.
    pub code: String,
    /// What is answered.
    pub decision: Decision,
    /// Why, in their words.
    pub comment: Option<String>,
    /// What must be met, for an approval as noted.
    pub notes: Vec<String>,
    /// The statement that they signed for themselves.
    pub own: Option<Own>,
}

/// What somebody signed with a passkey in a packet's page.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Own {
    /// The statement's bytes, as text.
    pub statement: String,
    /// The signature's armour.
    pub signature: String,
}

/// Answers that came together.
#[derive(Clone, Debug)]
pub struct Reply {
    /// The project that they are about, where somebody says so.
    pub project: Option<ProjectId>,
    /// Whose they are; none for the one person of whom each is asked.
    pub person: Option<PersonId>,
    /// How they came.
    pub how: String,
    /// The scan or message; none where what was heard is written down.
    pub scan: Option<Scan>,
    /// The answers.
    pub answers: Vec<Answer>,
}

/// Answers that are ready to be signed, all of one project.
#[derive(Clone, Debug)]
pub(crate) struct Taken {
    /// The project.
    pub project: ProjectId,
    /// Each answer with the code that it names.
    pub answers: Vec<(AnswerCode, Prepared)>,
}

/// What a code is of, in the book as it is.
#[derive(Clone, Debug)]
enum Found {
    /// The present version of an item.
    Present(Subject, Role),
    /// Another version of it, whose present code is this.
    Earlier(Subject, AnswerCode),
}

/// What is said of a file that is not as it was signed.
pub(super) fn altered(message: impl Into<String>) -> Box<Fault> {
    Box::new(Fault::trust("answer-altered", message).fix(
        "ask for the file again, sent as an attachment, or ask on the telephone and take the answer in by its code; \
         nothing was taken in",
    ))
}

/// Reads a code as somebody wrote it.
///
/// # Errors
/// `code-mistyped`.
pub(crate) fn read_code(text: &str) -> Outcome<AnswerCode> {
    text.parse().map_err(|e: CodeError| {
        let shown: String = text.chars().take(40).flat_map(char::escape_debug).collect();
        Box::new(
            Fault::usage(e.code(), format!("`{shown}`: {e}")).fix(
                "compare it with the packet letter by letter, or ask for it again; nothing was taken in",
            ),
        )
    })
}

/// What a code is of in one project.
fn in_project(case: &Case<'_>, code: AnswerCode) -> Option<Found> {
    let all = asked::subjects(case).into_iter().map(|(subject, role)| {
        let now = asked::code(case, &subject, role);
        (subject, role, now)
    });
    let mut same = all.filter(|(_, _, now)| now.is_of_same_item(&code)).collect::<Vec<_>>();
    same.sort_by_key(|(_, _, now)| *now != code);
    let (subject, role, now) = same.into_iter().next()?;
    Some(if now == code { Found::Present(subject, role) } else { Found::Earlier(subject, now) })
}

fn earlier(project: &ProjectId, code: AnswerCode, subject: &Subject, now: AnswerCode) -> Fault {
    let message = format!(
        "{code} is of an earlier version of {subject} in {project}: what it names has changed since it was sent"
    );
    Fault::data("code-of-earlier-version", message).fix(format!(
        "send the packet of today and ask again: underlit packet {project}; its code there is {now}. Nothing was taken in"
    ))
}

/// The project that a code belongs to.
///
/// # Errors
/// `code-of-earlier-version`, `code-of-other-project`, `code-unknown`.
pub(crate) fn project_of(
    reading: &Reading,
    wanted: Option<&ProjectId>,
    code: AnswerCode,
) -> Result<ProjectId, Vec<Fault>> {
    let others = reading.book.projects()?.into_iter().filter(|id| Some(id) != wanted.as_ref().copied());
    let mut by_earlier = None;
    for id in wanted.cloned().into_iter().chain(others) {
        let snapshot = match reading.project(&id) {
            Ok(snapshot) => snapshot,
            Err(faults) if Some(&id) == wanted => return Err(faults),
            // What is wrong with another project is told by `check`.
            Err(_) => continue,
        };
        match (in_project(&reading.case(&snapshot), code), wanted) {
            (Some(Found::Present(subject, _)), Some(wanted)) if *wanted != id => {
                let message = format!("{code} is of {subject} in {id}, and not of {wanted}");
                return Err(vec![Fault::data("code-of-other-project", message).fix(format!(
                    "take it in there if it is meant so: underlit intake --project {id} --code {code} …"
                ))]);
            }
            (Some(Found::Present(..)), _) => return Ok(id),
            (Some(Found::Earlier(subject, now)), _) => {
                let fault = || earlier(&id, code, &subject, now);
                if Some(&id) == wanted {
                    return Err(vec![fault()]);
                }
                by_earlier.get_or_insert_with(fault);
            }
            (None, _) => {}
        }
    }
    Err(vec![by_earlier.unwrap_or_else(|| {
        let message = format!("{code} is typed right, but no project of this book has such an item");
        Fault::data("code-unknown", message).fix(
            "it is of another shop's book, or of a panel that was taken out; ask which project it is about. Nothing was \
             taken in",
        )
    })])
}

/// Prepares every answer of a reply, all in one project.
///
/// # Errors
/// What [`read_code`], [`project_of`] and [`prepare`] refuse; `several-projects`, `answered-twice`, `taken-already`,
/// `which-person`.
pub(crate) fn take_in(desk: &Desk<'_>, reply: &Reply) -> Result<Taken, Vec<Fault>> {
    if let Some(answer) =
        reply.answers.iter().find(|a| a.decision == Decision::ApprovedAsNoted && a.notes.is_empty())
    {
        return Err(vec![
            Fault::data(
                "note-missing",
                format!("{} is approved as noted, and no note is there", answer.code),
            )
            .fix("ask what must be met; nothing was taken in"),
        ]);
    }
    let mut codes = Vec::new();
    let mut about: Option<(ProjectId, Snapshot)> = None;
    for answer in &reply.answers {
        let code = read_code(&answer.code)?;
        if codes.contains(&code) {
            return Err(vec![
                Fault::data("answered-twice", format!("{code} is answered twice in one reply"))
                    .fix("ask which of the two is meant"),
            ]);
        }
        // The project of the answers before is read once; where a code is not of it, every other is asked.
        let known = about.as_ref().is_some_and(|(_, snapshot)| {
            matches!(in_project(&desk.reading.case(snapshot), code), Some(Found::Present(..)))
        });
        if !known {
            let wanted = about.as_ref().map(|(id, _)| id).or(reply.project.as_ref());
            let id = project_of(&desk.reading, wanted, code)?;
            let snapshot = desk.reading.project(&id)?;
            about = Some((id, snapshot));
        }
        codes.push(code);
    }
    let Some((project, snapshot)) = about else {
        return Err(vec![Fault::data("no-answer", "there is no answer in it").fix("nothing was taken in")]);
    };
    let mut answers = Vec::new();
    for (code, answer) in codes.into_iter().zip(&reply.answers) {
        answers.push((code, one(desk, &snapshot, reply, code, answer)?));
    }
    Ok(Taken { project, answers })
}

fn one(
    desk: &Desk<'_>,
    snapshot: &Snapshot,
    reply: &Reply,
    code: AnswerCode,
    answer: &Answer,
) -> Result<Prepared, Vec<Fault>> {
    let case = desk.reading.case(snapshot);
    let project = &snapshot.project.id;
    let (subject, role) = match in_project(&case, code) {
        Some(Found::Present(subject, role)) => (subject, role),
        Some(Found::Earlier(subject, now)) => return Err(vec![earlier(project, code, &subject, now)]),
        None => return Err(vec![Fault::data("code-unknown", format!("{code} is of nothing in {project}"))]),
    };
    let not_own = match &answer.own {
        None => None,
        Some(own) => match signed_by_them(desk, snapshot, &subject, role, answer, own)? {
            Ok(prepared) => return Ok(prepared),
            Err(why) => Some(why),
        },
    };
    let person = match (&reply.person, case.people_for(&[role]).as_slice()) {
        (Some(person), _) | (None, [person]) => person.clone(),
        (None, several) => {
            let names: Vec<&str> = several.iter().map(PersonId::as_str).collect();
            let fault =
                Fault::usage("which-person", format!("several people may answer {subject} as {role}"));
            return Err(vec![fault.fix(format!("say whose answer it is: --of {}", names.join(" or --of ")))]);
        }
    };
    let name = desk.reading.shop.roster.name_of(&person);
    let note = |subject: &Subject| {
        let mut lines = vec![
            format!("Answer: {}", answer.decision),
            format!("Code: {code}"),
            format!("To: {subject}, project {project}"),
            format!("Of: {name} ({role})"),
            format!("Came by: {}", reply.how),
        ];
        lines.extend(answer.notes.iter().map(|note| format!("Note: {note}")));
        lines.extend(answer.comment.iter().map(|comment| format!("Comment: {comment}")));
        lines.push("Written down by underlit as the answer was taken in.\n".into());
        Scan::Note(lines.join("\n"))
    };
    let scan = reply.scan.clone().unwrap_or_else(|| note(&subject));
    let saying = Saying {
        subject,
        role: Some(role),
        decision: answer.decision,
        comment: answer.comment.clone(),
        notes: answer.notes.clone(),
        evidence: Some(Heard { person, how: format!("{}, answer code {code}", reply.how), scan }),
    };
    let mut prepared = prepare(desk, project, snapshot, &saying)
        .map_err(|fault| not_own.iter().cloned().chain([*fault]).collect::<Vec<Fault>>())?;
    prepared.remarks.extend(not_own.map(|why| {
        format!("{}; it is taken in as evidence ({})", why.message, why.remedy.unwrap_or_default())
    }));
    if let Some(earlier) = snapshot.signoffs.iter().find(|s| is_same(&s.statement, &prepared.statement)) {
        let message = format!(
            "this very answer to {} was taken in already, by {} ({})",
            saying.subject,
            desk.reading.shop.roster.name_of(&earlier.statement.signer),
            earlier.digest.short()
        );
        return Err(vec![taken_already(message, project, earlier.digest)]);
    }
    Ok(prepared)
}

fn taken_already(message: String, project: &ProjectId, digest: Sha256Digest) -> Fault {
    Fault::usage("taken-already", message)
        .in_file(format!("projects/{project}/signoffs/{digest}.json"))
        .fix(format!("nothing is left to do; `underlit status {project}` shows how it stands"))
}

/// A statement that came signed: the very one that `sign` would have made for its signer, judged by the judge of all
/// statements; or why it is not theirs by the roster.
///
/// # Errors
/// `answer-altered` where the signature does not hold or the statement is another than the answer; `taken-already`; what
/// [`prepare`] refuses.
fn signed_by_them(
    desk: &Desk<'_>,
    snapshot: &Snapshot,
    subject: &Subject,
    role: Role,
    answer: &Answer,
    own: &Own,
) -> Result<Result<Prepared, Fault>, Vec<Fault>> {
    let project = &snapshot.project.id;
    let bytes = own.statement.as_bytes();
    let digest = Sha256Digest::of(bytes);
    let path = format!("projects/{project}/signoffs/{digest}.json");
    let sealed = Sealed { path: &path, bytes, signature: Some(own.signature.as_bytes()) };
    let Reading { chain, shop, .. } = &desk.reading;
    let (statement, void) = counting::sign_off(chain, &shop.rules, project, sealed).map_err(|faults| {
        let why: Vec<&str> = faults.iter().map(|f| f.message.as_str()).collect();
        altered(format!("what was signed with a passkey does not hold: {}", why.join("; ")))
    })?;
    let armour = Armour::parse(own.signature.as_bytes()).map_err(Box::<Fault>::from)?;
    if desk.reading.book.root().join(&path).exists() {
        let message = format!("what {} signed about {subject} was taken in already", statement.signer);
        return Err(vec![taken_already(message, project, digest)]);
    }
    let saying = Saying {
        subject: subject.clone(),
        role: Some(role),
        decision: answer.decision,
        comment: statement.comment.clone(),
        notes: statement.notes.clone(),
        evidence: None,
    };
    let not_it = || {
        *altered(format!(
            "what was signed with a passkey is not the answer beside it to {subject} as it is now"
        ))
    };
    let is_it = statement.book == shop.book.id
        && statement.project == *project
        && statement.about == *subject
        && statement.decision == answer.decision
        && statement.evidence.is_none();
    if !is_it || armour.namespace() != counting::namespace(role.word()).as_str() {
        return Err(vec![not_it()]);
    }
    match void {
        // The page was made under a roster that this clone has not seen.
        Some(void)
            if chain.version(statement.roster.version).is_none_or(|(_, d)| *d != statement.roster.sha256) =>
        {
            return Err(vec![void]);
        }
        Some(void) => return Ok(Err(not_on_the_roster(desk, &statement, &armour, void))),
        None => {}
    }
    let mut prepared = prepare_by(desk, project, snapshot, &saying, statement.signer.clone())?;
    // What its signer adds, and under which roster and after which word it was said, is theirs; all else is the book's.
    let as_here = Statement {
        supersedes: statement.supersedes.clone(),
        roster: statement.roster.clone(),
        time: statement.time.clone(),
        nonce: statement.nonce.clone(),
        ..prepared.statement.clone()
    };
    if as_here != statement || write::to_bytes(&statement)? != bytes {
        return Err(vec![not_it()]);
    }
    prepared.statement = statement;
    prepared.signed = Some(armour);
    Ok(Ok(prepared))
}

/// Why a signature that holds is not somebody's by the roster, and what an owner does about it.
fn not_on_the_roster(desk: &Desk<'_>, statement: &Statement, armour: &Armour, void: Fault) -> Fault {
    let (signer, key) = (&statement.signer, armour.key());
    let Some(site) = key.site() else { return void };
    let known = desk
        .reading
        .chain
        .newest()
        .person(signer)
        .is_some_and(|p| p.active_keys().any(|k| k.public == key.to_string()));
    if known {
        return Fault::trust(
            "passkey-newer",
            format!("{signer} signed on a page from before their passkey for {site} was on the roster"),
        )
        .fix("send the packet of today for their own signature");
    }
    Fault::trust(
        "passkey-not-enrolled",
        format!("the passkey for {site} that signed it is none of {signer}'s on the roster (digits {})", key.digits()),
    )
    .fix(format!(
        "for their own signature an owner has {signer} read the digits out on the telephone, adds the key (underlit roster \
         add-key {signer} FILE.pub --heard \"…\"), and sends the packet of that day"
    ))
}

/// True for the same answer, from the same scan, to the same facts.
fn is_same(a: &Statement, b: &Statement) -> bool {
    let scan = |s: &Statement| s.evidence.as_ref().map(|e| e.scan.sha256);
    scan(a) == scan(b)
        && a.about == b.about
        && a.role == b.role
        && a.decision == b.decision
        && a.facts == b.facts
        && a.comment == b.comment
        && a.notes == b.notes
}
