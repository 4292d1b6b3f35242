//! `sign` and `evidence`: what people say about facts.

use std::path::PathBuf;

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::printer::ask;
use super::setting::Setting;
use crate::digest::Sha256Digest;
use crate::fault::Fault;
use crate::ids::{GroupId, PanelId, PersonId, ProjectId, RequestId};
use crate::model::roster::Role;
use crate::model::statement::{Decision, Subject, Topic, View};
use crate::model::view::fact_in_words;
use crate::ops::desk::Desk;
use crate::ops::sign::{Heard, Prepared, Saying, Scan, prepare, say};
use crate::words::counted;

/// Approve, reject, waive, acknowledge or release, with your own signature over the exact facts.
///
/// The facts and the sentence are shown first. At a terminal you are asked to confirm; elsewhere add `--yes`.
///
/// A refusal in any role holds the job until its signer withdraws it, or as many owners as sign a roster version
/// override it with a reason: `sign PROJECT override --refusal DIGEST --as owner --comment …`.
///
/// Example: underlit sign quay-desk rendering --panel front --as client
#[derive(Debug, clap::Args)]
pub(crate) struct SignArgs {
    #[command(flatten)]
    subject: SubjectArgs,
    #[command(flatten)]
    answer: AnswerArgs,
}

/// The answer: an approval, unless it says otherwise. The four boxes of a sheet, and taking back.
#[derive(Debug, clap::Args)]
pub(super) struct AnswerArgs {
    /// Revise and resubmit: it must be changed and shown again. Needs a comment.
    #[arg(long, group = "what")]
    revise: bool,
    /// Reject it. Needs a comment.
    #[arg(long, group = "what")]
    reject: bool,
    /// Approve it as noted: with each of these notes to be met.
    #[arg(long, value_name = "NOTE", group = "what")]
    pub(super) as_noted: Vec<String>,
    /// Withdraw an earlier sign-off.
    #[arg(long, group = "what")]
    withdraw: bool,
}

impl AnswerArgs {
    pub(super) fn decision(&self) -> Decision {
        match (self.revise, self.reject, !self.as_noted.is_empty(), self.withdraw) {
            (true, ..) => Decision::ReviseAndResubmit,
            (_, true, ..) => Decision::Rejected,
            (_, _, true, _) => Decision::ApprovedAsNoted,
            (_, _, _, true) => Decision::Withdrawn,
            _ => Decision::Approved,
        }
    }
}

/// What is signed, in which role.
#[derive(Debug, clap::Args)]
struct SubjectArgs {
    /// The project.
    project: ProjectId,
    /// request, choice, rendering, waiver, acknowledgement, release or override.
    view: View,
    /// The panel; by default the only one that has it to be signed.
    #[arg(long)]
    panel: Option<PanelId>,
    /// The test-panel request.
    #[arg(long)]
    request: Option<RequestId>,
    /// cct-not-tried, sampling, dim, not-measured, slab-not-seen, room-light-unknown, electrics-unknown, outside-limits, no-field-service, seams, uneven-light, ordered-ahead, accepted, cautions or notes-met.
    #[arg(long)]
    topic: Option<Topic>,
    /// The approval as noted whose notes are met, by its digest.
    #[arg(long, value_name = "DIGEST")]
    notes_of: Option<Sha256Digest>,
    /// The refusal that owners override, by its digest.
    #[arg(long, value_name = "DIGEST")]
    refusal: Option<Sha256Digest>,
    /// The release group, for a release or the cautions of a job that is released group by group; by default the only one.
    #[arg(long, value_name = "GROUP")]
    group: Option<GroupId>,
    /// In which role; by default the one that the rules ask for and the signer has.
    #[arg(long = "as", value_name = "ROLE")]
    role: Option<Role>,
    /// Why, in your words.
    #[arg(long, value_name = "TEXT")]
    comment: Option<String>,
    /// Do not ask: I have read what is signed.
    #[arg(long)]
    yes: bool,
}

impl SubjectArgs {
    fn subject(&self) -> Subject {
        Subject {
            view: self.view,
            panel: self.panel.clone(),
            request: self.request.clone(),
            topic: self.topic,
            notes_of: self.notes_of,
            refusal: self.refusal,
            group: self.group.clone(),
        }
    }
}

/// Record somebody's written answer as evidence, and sign for its truth.
///
/// It is kept with its scan and always shown as evidence, never as the person's own signature. The shop's
/// rules say for which roles it counts.
///
/// Example: underlit evidence quay-desk choice --panel front --of imke --how "letter of 3 September" --scan letter.pdf
#[derive(Debug, clap::Args)]
pub(crate) struct EvidenceArgs {
    #[command(flatten)]
    subject: SubjectArgs,
    /// Whose answer it is.
    #[arg(long, value_name = "PERSON")]
    of: PersonId,
    /// How it came.
    #[arg(long, value_name = "TEXT")]
    how: String,
    /// The scan or message: .pdf, .png, .jpg, .eml or .txt.
    #[arg(long, value_name = "FILE")]
    scan: PathBuf,
    #[command(flatten)]
    answer: AnswerArgs,
}

pub(crate) fn sign(args: &SignArgs, setting: &Setting<'_>) -> Outcome {
    speak(&args.subject, &args.answer, None, setting)
}

pub(crate) fn evidence(args: &EvidenceArgs, setting: &Setting<'_>) -> Outcome {
    let scan = Scan::File(args.scan.clone());
    let heard = Heard { person: args.of.clone(), how: args.how.clone(), scan };
    speak(&args.subject, &args.answer, Some(heard), setting)
}

fn speak(args: &SubjectArgs, answer: &AnswerArgs, evidence: Option<Heard>, setting: &Setting<'_>) -> Outcome {
    let saying = &Saying {
        subject: args.subject(),
        role: args.role,
        decision: answer.decision(),
        comment: args.comment.clone(),
        notes: answer.as_noted.clone(),
        evidence,
    };
    let desk = setting.desk()?;
    let snapshot = desk.reading.project(&args.project)?;
    let prepared = prepare(&desk, &args.project, &snapshot, saying)?;
    show(&prepared, setting);
    let asked = confirm(SIGN_THIS, args.yes, setting, &desk)?;
    if asked {
        // What was read is what is signed: a file that an editor saved meanwhile would make it another thing.
        let snapshot = desk.reading.project(&args.project)?;
        let now = prepare(&desk, &args.project, &snapshot, saying)?;
        if !same(&now, &prepared) {
            return Err(vec![changed_meanwhile()]);
        }
    }
    let digest = say(&desk, &prepared)?;
    let statement = &prepared.statement;
    setting.done(match &statement.evidence {
        None => {
            format!("{} {} as {}: {}", statement.signer, statement.decision, statement.role, statement.about)
        }
        Some(evidence) => {
            let roster = desk.reading.chain.newest();
            let name = |id: &PersonId| roster.person(id).map_or_else(|| id.to_string(), |p| p.name.clone());
            format!(
                "recorded the written answer of {} as {}: {} {}; {} signed that this is the answer",
                name(&evidence.person),
                statement.role,
                statement.decision,
                statement.about,
                name(&statement.signer)
            )
        }
    });
    setting.printer.line(format!("  signed as {}", digest.short()));
    setting.printer.json(&json!({
        "project": args.project,
        "sha256": digest,
        "decision": statement.decision,
        "subject": statement.about,
        "role": statement.role,
        "signer": statement.signer,
        "sentence": prepared.sentence,
        "too_early": prepared.too_early,
        "remarks": prepared.remarks,
    }));
    Ok(Exit::Done)
}

/// True where two preparations are about the same: what was read is what is signed.
pub(super) fn same(a: &Prepared, b: &Prepared) -> bool {
    a.sentence == b.sentence
        && a.statement.facts == b.statement.facts
        && a.statement.supersedes == b.statement.supersedes
}

/// What somebody is told whose book changed while they read.
pub(super) fn changed_meanwhile() -> Fault {
    Fault::io("changed-meanwhile", "what you read changed before you answered; nothing was signed")
        .fix("run the command again and look at what is there now")
}

/// Shows what will be signed: the sentence, or every fact in the trade's words; files by digest are counted.
pub(super) fn show(prepared: &Prepared, setting: &Setting<'_>) {
    const SHOWN: usize = 40;
    let statement = &prepared.statement;
    let printer = setting.printer;
    if !prepared.too_early.is_empty() {
        printer.line("Not ready to be released. This is still missing, and a release signed now goes stale when it comes:");
        prepared.too_early.iter().for_each(|what| printer.line(format!("  {what}")));
    }
    prepared.remarks.iter().for_each(|remark| printer.remark(format!("note: {remark}")));
    if let Some(sentence) = &prepared.sentence {
        printer.line(format!("The sentence that is signed:\n  “{sentence}”"));
        return;
    }
    printer.line(format!("What is signed of {}:", statement.about));
    let (files, facts): (Vec<_>, Vec<_>) =
        statement.facts.iter().partition(|(name, _)| name.ends_with("sha256"));
    let lines: Vec<(String, String)> = facts.iter().map(|(name, fact)| fact_in_words(name, fact)).collect();
    let width = lines.iter().take(SHOWN).map(|(name, _)| name.chars().count()).max().unwrap_or(0);
    lines.iter().take(SHOWN).for_each(|(name, says)| printer.line(format!("  {name:width$}  {says}")));
    let more = lines.len().saturating_sub(SHOWN);
    let more = if more > 0 {
        format!("{} and ", counted(more, "more figure", "more figures"))
    } else {
        String::new()
    };
    if !more.is_empty() || !files.is_empty() {
        printer.line(format!(
            "  … {more}{} by digest; the statement has them all",
            counted(files.len(), "file", "files")
        ));
    }
}

/// What somebody is asked who is about to sign.
pub(super) const SIGN_THIS: &str = "Sign this? [y/N]";

/// True where somebody was asked, and said yes.
pub(super) fn confirm(
    question: &'static str,
    yes: bool,
    setting: &Setting<'_>,
    desk: &Desk<'_>,
) -> Result<bool, Vec<Fault>> {
    if yes || setting.around.dry_run {
        return Ok(false);
    }
    match desk.wait_for(|| ask(question))? {
        Some(answer) if matches!(answer.to_lowercase().as_str(), "y" | "yes") => Ok(true),
        Some(_) => {
            Err(vec![Fault::usage("not-signed", "nothing was signed").fix("say it again when you are sure")])
        }
        None => Err(vec![
            Fault::usage("not-confirmed", "nobody is at a terminal to confirm what is signed")
                .fix("read it with --dry-run, then add --yes"),
        ]),
    }
}
