//! `intake`: answers that came back from a packet.

use std::path::PathBuf;

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use super::sign::{AnswerArgs, SIGN_THIS, changed_meanwhile, confirm, same, show};
use crate::faces::answer_file;
use crate::faces::intake::{Answer, Reply, take_in};
use crate::fault::Fault;
use crate::ids::{PersonId, ProjectId};
use crate::ops::desk::Desk;
use crate::ops::record::read_users_file;
use crate::ops::sign::{Scan, say_all};

/// Take in an answer that came back from a packet, and sign for its truth: the file that its page saved, or a code.
///
/// The code tells which version of what is answered; one that is mistyped, of an earlier version, of another project or of
/// nothing here is refused, each in its own words, and so is a file that was altered or was taken in before. The answer is
/// kept as evidence, as `underlit evidence` keeps it; signed with a passkey that the roster knows, it is their own sign-off, as
/// `underlit sign` makes it. Without a scan, what was heard is written down and kept in its place.
///
/// Example: underlit intake --code K7F2-9QXM-4T --how "telephone, 3 September"
#[derive(Debug, clap::Args)]
pub(crate) struct IntakeArgs {
    /// The file that the packet's page saved.
    #[arg(required_unless_present = "code", conflicts_with_all = ["code", "scan", "comment", "what"])]
    file: Option<PathBuf>,
    /// The code beside the question that is answered.
    #[arg(long, value_name = "CODE", requires = "how")]
    code: Option<String>,
    /// How it came: mail, message, letter, telephone.
    #[arg(long, value_name = "TEXT")]
    how: Option<String>,
    /// The scan or message, where there is one: .pdf, .png, .jpg, .eml or .txt.
    #[arg(long, value_name = "FILE")]
    scan: Option<PathBuf>,
    /// Whose answer it is; by default of whom it is asked.
    #[arg(long, value_name = "PERSON")]
    of: Option<PersonId>,
    /// The project that it should be about; an answer to another one is then refused.
    #[arg(long, value_name = "PROJECT")]
    project: Option<ProjectId>,
    /// Why, in their words.
    #[arg(long, value_name = "TEXT")]
    comment: Option<String>,
    #[command(flatten)]
    answer: AnswerArgs,
    /// Do not ask: I have read what is signed.
    #[arg(long)]
    yes: bool,
}

/// What came, and in words what a file says of itself.
fn reply(args: &IntakeArgs, desk: &Desk<'_>) -> Result<(Reply, Vec<String>), Vec<Fault>> {
    let project = args.project.clone();
    let person = args.of.clone();
    let Some(path) = &args.file else {
        let answer = Answer {
            code: args.code.clone().unwrap_or_default(),
            decision: args.answer.decision(),
            comment: args.comment.clone(),
            notes: args.answer.as_noted.clone(),
            own: None,
        };
        let how = args.how.clone().unwrap_or_default();
        let scan = args.scan.clone().map(Scan::File);
        return Ok((Reply { project, person, how, scan, answers: vec![answer] }, Vec::new()));
    };
    let (bytes, _) = read_users_file(path)?;
    let in_file = |fault: Box<Fault>| vec![fault.in_file(path.display().to_string())];
    let file = answer_file::read(&bytes, Scan::File(path.clone())).map_err(in_file)?;
    let book = &desk.reading.shop.book.id;
    if file.book != *book {
        let message = format!("it answers a packet of the book {}, and this is {book}", file.book);
        return Err(in_file(Box::new(
            Fault::data("answer-of-other-book", message).fix("nothing was taken in"),
        )));
    }
    if let (Some(wanted), Some(said)) = (&project, &file.reply.project)
        && wanted != said
    {
        let message = format!("it answers a packet of {said}, and not of {wanted}");
        return Err(in_file(Box::new(
            Fault::data("code-of-other-project", message).fix("nothing was taken in"),
        )));
    }
    let signed = match &file.key {
        Some(key) => {
            format!("  unaltered since it was signed in the page, with a key that was made there: {key}")
        }
        None => "  not signed with a key: it stands by its codes".to_owned(),
    };
    let told = vec![format!("Answered by {}", file.by), signed];
    let how = args.how.clone().unwrap_or(file.reply.how);
    Ok((Reply { person, how, ..file.reply }, told))
}

pub(crate) fn intake(args: &IntakeArgs, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let (reply, told) = reply(args, &desk)?;
    let taken = take_in(&desk, &reply)?;
    told.iter().for_each(|line| setting.printer.line(line));
    for (code, one) in &taken.answers {
        let statement = &one.statement;
        let roster = desk.reading.chain.newest();
        let name = roster.name_of(statement.speaker());
        setting.printer.line(format!("{code}: {name} {}", statement.decision.done_to(&statement.about)));
        if let Some(how) = one.signed_already() {
            setting.printer.line(format!("  their own signature, {how}"));
        }
        show(one, setting);
    }
    let all_signed = taken.answers.iter().all(|(_, one)| one.signed_already().is_some());
    let question = if all_signed { "Take this in? [y/N]" } else { SIGN_THIS };
    if confirm(question, args.yes, setting, &desk)? {
        let now = take_in(&desk, &reply)?;
        if !now.answers.iter().zip(&taken.answers).all(|((_, now), (_, before))| same(now, before)) {
            return Err(vec![changed_meanwhile()]);
        }
    }
    let (codes, prepared): (Vec<_>, Vec<_>) = taken.answers.into_iter().unzip();
    let digests = say_all(&desk, &prepared)?;
    let mut told = Vec::new();
    for ((code, one), digest) in codes.iter().zip(&prepared).zip(&digests) {
        let statement = &one.statement;
        let done = statement.decision.done_to(&statement.about);
        let own = one.signed_already().is_some();
        let how = if own { ", signed by themselves" } else { "" };
        setting.done(format!("took in {code}: {done}{how} ({})", digest.short()));
        told.push(json!({
            "sha256": digest,
            "code": code.to_string(),
            "decision": statement.decision,
            "subject": statement.about,
            "role": statement.role,
            "person": statement.speaker(),
            "own": own,
        }));
    }
    setting.printer.json(&json!({ "project": taken.project, "taken_in": told }));
    Ok(Exit::Done)
}
