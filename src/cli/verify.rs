//! `verify`: the whole book from its fingerprint, and why.

use std::collections::BTreeSet;

use serde_json::{Value, json};

use super::failure::{Exit, Outcome, as_json, in_words, put_errors, said};
use super::setting::Setting;
use crate::digest::Sha256Digest;
use crate::gates::standing::Standing;
use crate::ids::{PanelId, ProjectId};
use crate::model::stage::Stage;
use crate::trust::verify::book::{self, Asked, HeldTo, MovesLine, Report};
use crate::trust::verify::explain::{self, Explained};
use crate::trust::verify::verdict::MoveStanding;
use crate::trust::verify::verdict::{ProjectVerdict, Reason};
use crate::words::counted;

/// Prove a book from its fingerprint: every roster, sign-off and move, the history, and why each job may be built.
///
/// Nothing is written, and nobody is trusted: what counts follows from the fingerprint by signatures. The gate of
/// every move is re-checked as it was when the move was made. Exit code 0: everything holds; 1: it holds, and a job
/// that was released is on hold, or the job that you named may not be built; 5: something does not hold. A bare
/// repository is judged at its newest commit.
///
/// Example: underlit verify quay-bar
#[derive(Debug, clap::Args)]
pub(crate) struct VerifyArgs {
    /// Only this project.
    project: Option<ProjectId>,
    /// The book's fingerprint, as its owner told you; by default what this clone has seen.
    #[arg(long, value_name = "SHA256")]
    fingerprint: Option<Sha256Digest>,
    /// Judge a commit, and not the files on disk.
    #[arg(long, value_name = "COMMIT")]
    at: Option<String>,
    /// Why this sign-off or move counts or not, by its digest or the beginning of it.
    #[arg(long, value_name = "DIGEST", conflicts_with = "project")]
    explain: Option<String>,
    /// Judge everything again, without the cache of earlier verdicts.
    #[arg(long)]
    cold: bool,
}

pub(crate) fn verify(args: &VerifyArgs, setting: &Setting<'_>) -> Outcome {
    let asked = Asked {
        fingerprint: args.fingerprint,
        at: args.at.clone(),
        project: args.project.clone(),
        cold: args.cold,
    };
    if let Some(digest) = &args.explain {
        let explained = explain::explain(&setting.folder, &asked, digest)?;
        return show_explained(&explained, setting);
    }
    let report = book::verify(&setting.folder, &setting.around, &asked)?;
    if setting.printer.is_json() {
        setting.printer.json(&in_json(&report));
    } else {
        show(&report, args.project.is_some(), setting);
    }
    if !report.faults.is_empty() {
        return Err(said(report.faults.clone()));
    }
    if report.history.as_ref().is_some_and(|history| !history.whole) {
        return Ok(Exit::Blocked);
    }
    let blocked = match &args.project {
        Some(_) => report.projects.iter().any(|p| !p.released),
        None => report.projects.iter().any(on_hold),
    };
    Ok(if blocked { Exit::Blocked } else { Exit::Done })
}

fn on_hold(project: &ProjectVerdict) -> bool {
    project.stage >= Stage::Released && !project.holds
}

fn in_json(report: &Report) -> Value {
    let mut answer = json!({
        "book": report.book,
        "holds": report.faults.is_empty(),
        "fingerprint": report.fingerprint,
        "held_to": report.held_to,
        "commit": report.commit,
        "files_on_disk": report.files_on_disk,
        "roster_versions": report.roster,
        "history": report.history,
        "last_fetch": report.heard,
        "projects": report.projects,
        "notes": report.notes,
        "vanished": report.vanished,
        "part": report.held,
    });
    put_errors(&mut answer, report.faults.iter().map(as_json).collect());
    answer
}

fn show(report: &Report, long: bool, setting: &Setting<'_>) {
    let printer = setting.printer;
    if let (Some(book), Some(fingerprint)) = (&report.book, report.fingerprint) {
        let held = match report.held_to {
            HeldTo::Given => "the fingerprint that you gave",
            HeldTo::Pin => "what this clone has seen before",
            HeldTo::Nothing => {
                "nothing but itself: compare the fingerprint once with the shop's, by telephone"
            }
        };
        printer.line(format!("{book}, fingerprint {fingerprint}"));
        printer.line(format!("held to   {held}"));
        if let Some(last) = report.roster.last() {
            let by = last.signed_by.join(" and ");
            printer.line(format!(
                "roster    {}, each signed by the owners before it; the newest by {by}",
                counted(last.version as usize, "version", "versions")
            ));
        }
    }
    if let Some(held) = report.held {
        printer.line(format!("part      {}", held.in_words()));
    }
    if let Some(history) = &report.history {
        let part = if history.whole { "" } else { "; older commits are not here and unchecked" };
        let found = match history.breaches {
            0 => "no signed record was changed or removed".to_owned(),
            n => format!("{n} times a signed record was changed or removed"),
        };
        printer.line(format!("history   {}{part}: {found}", counted(history.commits, "commit", "commits")));
        if !history.whole {
            printer.remark(
                "what older commits removed or let past is not seen here. Fix: underlit part --past, then verify again",
            );
        }
        if let Some(moves) = &history.moves {
            printer.line(format!("gates     {}", gates_in_words(moves, history.whole)));
            for since in &moves.asked_since {
                printer.line(format!(
                    "  since     {}, move {}: {}; later versions ask for it; the move remains valid",
                    since.project,
                    since.sha256.short(),
                    since.what
                ));
            }
        }
    }
    if let Some(commit) = report.commit.as_deref().and_then(|c| c.get(..10)) {
        let what = if report.files_on_disk { "the files on disk, checked out from" } else { "commit" };
        printer.line(format!("judged    {what} {commit}"));
    }
    if let Some(heard) = &report.heard {
        let ago = match heard.hours_ago {
            0 => "within the last hour".to_owned(),
            h if h < 48 => format!("{h} hours ago"),
            h => format!("{} days ago", h / 24),
        };
        printer.line(format!("fetched   {ago} ({}); what was said since then is not seen here", heard.at));
    }
    report.notes.iter().for_each(|note| printer.line(format!("note      {}", note.message)));
    report.vanished.iter().for_each(|gone| printer.line(format!("missing   {}", gone.in_words())));
    for project in &report.projects {
        let unasked =
            report.history.iter().flat_map(|history| &history.moves).flat_map(|moves| &moves.unasked);
        let unasked = unasked.filter(|one| one.project == project.id).map(|one| one.sha256).collect();
        show_project(project, long || project.released, &unasked, setting);
    }
    if !report.faults.is_empty() {
        printer.line("");
        printer.line("does not hold:");
        report.faults.iter().for_each(|fault| printer.remark(in_words(fault)));
        printer.remark(format!("{} things do not hold.", report.faults.len()));
    }
}

/// What the gates said when each move was made.
fn gates_in_words(moves: &MovesLine, whole: bool) -> String {
    if moves.asked + moves.by_signature == 0 {
        return "no project was ever moved".to_owned();
    }
    let mut said = match (moves.asked, moves.shut + moves.taken_back) {
        (0, _) => "no move could be re-checked".to_owned(),
        (n, 0) => {
            format!(
                "{}, each re-checked against its own state: no gate was shut",
                counted(n, "move", "moves")
            )
        }
        (n, _) => format!("{}, each re-checked against its own state", counted(n, "move", "moves")),
    };
    if moves.shut > 0 {
        said.push_str(&format!(": {} had no right to be made", moves.shut));
    }
    if moves.taken_back > 0 {
        said.push_str(&format!(
            "; {} had no right to be made and {} taken back since",
            moves.taken_back,
            if moves.taken_back == 1 { "was" } else { "were" }
        ));
    }
    if moves.by_signature > 0 {
        said.push_str(&format!(
            "; {} came with the oldest commits that are known here, and only the signature speaks for {}",
            moves.by_signature,
            if moves.by_signature == 1 { "it" } else { "each" }
        ));
        if !whole {
            said.push_str("; that its gate was open is taken on the word of the remote's guard");
        }
    }
    said
}

/// `unasked` are the moves that only their signatures speak for.
fn show_project(
    project: &ProjectVerdict,
    long: bool,
    unasked: &BTreeSet<Sha256Digest>,
    setting: &Setting<'_>,
) {
    let printer = setting.printer;
    let may = match (project.released, on_hold(project)) {
        (true, _) => "may be built, because",
        (false, true) => "ON HOLD, because",
        (false, false) if project.holds => "may not be built yet",
        (false, false) => "may not be built yet, and no longer holds what is behind it",
    };
    printer.line("");
    printer.line(format!("{} — {}: {}, {may}", project.id, project.title, project.stage));
    for group in &project.groups_released {
        printer.line(format!("  group     {group} may be built"));
    }
    project.notes.iter().for_each(|note| printer.line(format!("  note      {}", note.message)));
    if !project.sheets_apart.is_empty() {
        let panels: Vec<&str> = project.sheets_apart.iter().map(PanelId::as_str).collect();
        printer.line(format!(
            "  note      the sheets of {} were drawn by another underlit, so they cannot be drawn again and compared; what was signed of them stands",
            panels.join(", ")
        ));
    }
    project.one_hand.iter().for_each(|what| printer.line(format!("  note      {what}")));
    project.broken.iter().for_each(|r| printer.line(format!("  not met   {} [{}]", r.what, r.requirement)));
    if !long {
        return;
    }
    for reason in &project.met {
        printer.line(format!("  met       {} [{}]", reason.what, reason.requirement));
        signed_lines(project, reason, setting);
    }
    for step in project.moves.iter().filter(|m| m.standing == MoveStanding::OnTheWay) {
        let word = if unasked.contains(&step.sha256) { "; by its signature alone" } else { "" };
        printer.line(format!(
            "  moved     from {} to {} by {} ({}), under roster version {}{word}",
            step.from, step.to, step.who, step.role, step.roster_version
        ));
    }
    for said in project.signoffs.iter().filter(|s| s.standing != Standing::Fits) {
        let why = said.why.as_deref().unwrap_or_default();
        let what = format!("{} ({}) {}", said.who, said.role, said.decision.done_to(&said.about));
        printer.line(format!("  beside    {what}: {}, {why}", said.standing.word().replace('-', " ")));
    }
    project.void.iter().for_each(|void| printer.line(format!("  void      {void}")));
}

fn signed_lines(project: &ProjectVerdict, reason: &Reason, setting: &Setting<'_>) {
    for digest in &reason.signoffs {
        let Some(said) = project.signoffs.iter().find(|s| s.sha256 == *digest) else { continue };
        let kind = match &said.evidence {
            None => format!("signed as {} by {}", said.role, said.who),
            Some(how) => format!(
                "evidence ({how}) as {} of {}, taken in and signed by {}",
                said.role, said.who, said.signer
            ),
        };
        setting.printer.line(format!(
            "              {kind}, under roster version {}: {}",
            said.roster_version,
            digest.short()
        ));
    }
}

fn show_explained(explained: &Explained, setting: &Setting<'_>) -> Outcome {
    let printer = setting.printer;
    let mut answer = json!(explained);
    put_errors(&mut answer, explained.faults.iter().map(as_json).collect());
    printer.json(&answer);
    let verdict = if explained.counts { "counts" } else { "does not count" };
    printer.line(format!("{} {verdict}", explained.file));
    for step in &explained.steps {
        printer.line(format!(
            "  {}  {:12} {}",
            if step.holds { "yes" } else { "NO " },
            step.about,
            step.found
        ));
    }
    if !explained.check_yourself.is_empty() {
        printer.line("");
        printer.line("with stock tools, from the book's folder:");
        explained.check_yourself.iter().for_each(|c| printer.line(format!("  {c}")));
    }
    if explained.faults.is_empty() {
        return Ok(if explained.counts { Exit::Done } else { Exit::Blocked });
    }
    if !printer.is_json() {
        explained.faults.iter().for_each(|fault| printer.remark(in_words(fault)));
    }
    Err(said(explained.faults.clone()))
}
