//! `status`, `board`, `history`: what a person reads on a Monday morning.

use super::failure::{Exit, Outcome, as_json, put_errors, said};
use super::printer::Ink;
use super::setting::Setting;
use super::wording::finding_lines;
use crate::fault::{Class, Fault, Means};
use crate::ids::{GroupId, ProjectId};
use crate::model::stage::Stage;
use crate::ops::board::{self, Row};
use crate::ops::history;
use crate::ops::repair;
use crate::ops::status::{self, Status};
use crate::store::BookFolder;
use crate::trust::about::{self, About};
use crate::trust::vanished;
use crate::words::{business_days, counted};
use serde_json::json;

/// Where a project stands, what is missing, who can give it, and what is stale.
///
/// Example: underlit status quay-bar
#[derive(Debug, clap::Args)]
pub(crate) struct StatusArgs {
    /// The project.
    project: ProjectId,
    /// Only this release group: what is missing before it may be built.
    #[arg(long, value_name = "GROUP")]
    group: Option<GroupId>,
    /// Show what is met as well.
    #[arg(long)]
    all: bool,
}

pub(crate) fn status(args: &StatusArgs, setting: &Setting<'_>) -> Outcome {
    let reading = setting.reading()?;
    if let Some(words) = repair::half_done_in_words(&reading.book, &[]) {
        setting.printer.remark(words);
    }
    setting.tell_refused(&reading);
    let status = status::status(&reading, &args.project, args.group.as_ref(), &setting.around)?;
    setting.tell_held(reading.held);
    if !setting.printer.is_json() {
        show(&status, args.all, setting);
    }
    let mut answer = json!(status);
    answer["sync_refused"] = json!(reading.refused);
    answer["part"] = json!(reading.held);
    setting.printer.json(&answer);
    Ok(Exit::Done)
}

fn show(status: &Status, all: bool, setting: &Setting<'_>) {
    let printer = setting.printer;
    let since =
        status.since.as_deref().and_then(|t| t.get(..10)).map(|d| format!(" since {d}")).unwrap_or_default();
    printer.line_in(Ink::Head, format!("{} — {}", status.id, status.title));
    let hold = if status.holds { "" } else { ", ON HOLD" };
    let built = if status.released && status.stage == Stage::Released { ", may be built" } else { "" };
    let ink = match (hold, built) {
        ("", "") => Ink::Plain,
        ("", _) => Ink::Good,
        _ => Ink::Late,
    };
    printer.line_in(ink, format!("stage     {}{since}{built}{hold}", status.stage));
    if let Some(group) = &status.group {
        printer.line(format!("group     {group}{}", if status.released { ", may be built" } else { "" }));
    }
    for group in &status.groups {
        let ink = if group.released { Ink::Good } else { Ink::Plain };
        printer.line_in(ink, format!("group     {}", group.in_words()));
    }
    if let Some(waits) = status.groups.iter().find(|group| !group.released) {
        printer.line(format!("          see one: underlit status {} --group {}", status.id, waits.id));
    }
    match (&status.dates, &status.no_dates) {
        (Some(dates), _) => {
            let slack = dates.slack_business_days;
            let how = if dates.late {
                format!(
                    "CANNOT BE MET: {} short, {} at the earliest",
                    business_days(slack),
                    dates.earliest_install
                )
            } else {
                format!("{} to spare", business_days(slack))
            };
            let ink = if dates.late { Ink::Late } else { Ink::Plain };
            let group = match (&dates.group, &status.group) {
                (Some(group), None) => format!(" (group {group})"),
                _ => String::new(),
            };
            printer.line_in(ink, format!("install   {}{group}, {how}", dates.install_date));
            if let (Some(what), Some(by)) = (&dates.critical, dates.critical_by) {
                printer.line(format!("next      {what} by {by}"));
            }
        }
        (None, Some(why)) => printer.line(format!("install   {why}")),
        (None, None) => {}
    }
    for loan in &status.loans {
        let ink = if loan.is_overdue() { Ink::Late } else { Ink::Plain };
        printer.line_in(ink, format!("loan      {}", loan.in_words()));
    }
    for (questions, settle) in [
        (&status.questions, format!("underlit resolve {}", status.id)),
        (&status.shop_questions, "underlit resolve --shop".to_owned()),
    ] {
        questions.iter().for_each(|question| printer.line(format!("question  {}", question.text)));
        if !questions.is_empty() {
            printer.line(format!("answer    {settle}"));
        }
    }
    status.vanished.iter().for_each(|gone| printer.line(format!("missing   {}", gone.in_words())));
    if !status.broken.is_empty() {
        printer.line("");
        printer.line_in(Ink::Late, format!("no longer holds, although the project is at {}:", status.stage));
        status.broken.iter().for_each(|f| finding_lines(f, printer));
    }
    if let Some(next) = status.next {
        printer.line("");
        if status.may_advance {
            printer.line(format!("nothing is missing before {next}: underlit advance {}", status.id));
        } else if !status.missing.is_empty() {
            printer.line(format!("missing before {next}:"));
            status.missing.iter().for_each(|f| finding_lines(f, printer));
        }
    }
    if all {
        printer.line("");
        printer.line("met:");
        status.met.iter().for_each(|f| printer.line(format!("  {} [{}]", f.what, f.requirement)));
    }
    if !status.warnings.is_empty() {
        printer.line("");
        for warning in &status.warnings {
            printer.line(format!("note: {} ({})", warning.in_words(), warning.source));
        }
    }
    if !status.signoffs.is_empty() {
        printer.line("");
        printer.line("signed:");
        for s in &status.signoffs {
            printer.line(format!(
                "  {}  {} ({}) {}: {} — {}, {}",
                s.at.get(..10).unwrap_or(&s.at),
                s.who,
                s.role,
                s.decision,
                s.about,
                s.kind,
                s.standing.word().replace('-', " ")
            ));
            if let Some(comment) = &s.comment {
                printer.line(format!("              “{comment}”"));
            }
            if let Some(why) = &s.why {
                printer.line(format!("              {why}"));
            }
        }
    }
    if !status.notes.is_empty() {
        printer.line("");
        printer.line("noted:");
        status.notes.iter().for_each(|note| printer.line(format!("  {}", note.in_words())));
    }
    for void in &status.void {
        printer.line(format!("does not count: {void}"));
    }
}

/// Every project: stage, days in it, who is waited for, install date.
///
/// Example: underlit board --released
#[derive(Debug, clap::Args)]
pub(crate) struct BoardArgs {
    /// Only what may be built: released, and every approval still fits.
    #[arg(long)]
    released: bool,
}

pub(crate) fn board(args: &BoardArgs, setting: &Setting<'_>) -> Outcome {
    let reading = setting.reading()?;
    setting.tell_refused(&reading);
    setting.tell_held(reading.held);
    let mut rows = board::board(&reading, &setting.around)?;
    let gone = vanished::of(reading.book.root(), &About::Shop)?;
    let of_the_shop = about::in_one_line(&reading.shop.conflicts);
    // A row that the disk would not show is no answer; one whose records are wrong is its project's own affair.
    let io = rows
        .iter()
        .flat_map(|row| &row.faults)
        .filter(|fault| fault.class == Class::Io || fault.means == Means::NotPlain);
    let unread: Vec<Fault> = io.cloned().collect();
    let there: Vec<&ProjectId> = rows.iter().map(|row| &row.id).collect();
    let lost = reading.book.lost_projects(&there)?;
    if args.released {
        // People are told of a project that may be one of these; programs count on the list alone, and on the error.
        rows.retain(|r| {
            r.released
                || !r.groups_released().is_empty()
                || (!setting.printer.is_json() && !r.faults.is_empty())
        });
    }
    let wrong: Vec<Fault> = unread.into_iter().chain(lost).collect();
    let ended = |wrong: Vec<Fault>| if wrong.is_empty() { Ok(Exit::Done) } else { Err(wrong) };
    if setting.printer.is_json() {
        let in_json = |row: &Row| {
            let mut answer = json!(row);
            answer["errors"] = row.faults.iter().map(as_json).collect();
            answer
        };
        let mut answer = json!({
            "projects": rows.iter().map(in_json).collect::<Vec<_>>(),
            "shop_questions": of_the_shop,
            "shop_vanished": gone,
            "sync_refused": reading.refused,
            "part": reading.held,
        });
        put_errors(&mut answer, wrong.iter().map(as_json).collect());
        setting.printer.json(&answer);
        return ended(said(wrong));
    }
    if !of_the_shop.is_empty() {
        let open = counted(of_the_shop.len(), "open question", "open questions");
        setting.printer.line(format!("the shop: {open}: underlit resolve --shop"));
    }
    gone.iter().for_each(|gone| setting.printer.line(format!("the shop: {}", gone.in_words())));
    if rows.is_empty() {
        setting.printer.line(match (args.released, wrong.is_empty()) {
            (true, true) => "nothing is released",
            (true, false) => "no project that can be read is released",
            (false, true) => "no project is open",
            (false, false) => "no project that can be read",
        });
        return ended(wrong);
    }
    let width = rows.iter().map(|r| r.id.as_str().len()).max().unwrap_or(0).max(7);
    let head = format!(
        "{:width$}  {:11} {:>5}  {:10}  {:>6}  waiting on",
        "project", "stage", "days", "install", "spare"
    );
    setting.printer.line_in(Ink::Head, head);
    for row in &rows {
        let ink = match row.stage {
            _ if row.late || !row.holds || !row.faults.is_empty() => Ink::Late,
            Some(Stage::Released) if row.released => Ink::Good,
            _ => Ink::Plain,
        };
        setting.printer.line_in(ink, line_of(row, width));
    }
    for (row, loan) in rows.iter().flat_map(|row| row.loans.iter().map(move |loan| (row, loan))) {
        if loan.is_pressing() {
            let ink = if loan.is_overdue() { Ink::Late } else { Ink::Plain };
            setting.printer.line_in(ink, format!("{}: {}", row.id, loan.in_words()));
        }
    }
    for (row, why) in rows.iter().filter_map(|row| Some((row, row.no_dates.as_ref()?))) {
        setting.printer.line(format!("{}: {why}", row.id));
    }
    ended(wrong)
}

fn line_of(row: &Row, width: usize) -> String {
    if let Some(first) = row.faults.first() {
        return format!("{:width$}  cannot be read: {first}", row.id);
    }
    let stage = row.stage.map_or_else(String::new, |s| s.to_string());
    let days = row.days_in_stage.map_or_else(String::new, |d| d.to_string());
    let install = row.install_date.map_or_else(|| "—".into(), |d| d.to_string());
    let spare = match (row.late, row.slack_business_days) {
        (true, Some(days)) => format!("{days} LATE"),
        (true, None) => "LATE".into(),
        (false, Some(days)) => days.to_string(),
        (false, None) if row.no_dates.is_some() => "?".into(),
        (false, None) => "—".into(),
    };
    let mut waiting: Vec<String> = Vec::new();
    if row.released && row.holds {
        waiting.push(
            match row.stage {
                Some(Stage::HandedOver) => "done",
                Some(Stage::Built) => "built",
                _ => "may be built",
            }
            .into(),
        );
    }
    let groups = row.groups_released();
    if !groups.is_empty() {
        waiting.push(format!("may be built: {} (of {} groups)", groups.join(", "), row.groups.len()));
    }
    if !row.holds {
        waiting.push("ON HOLD".into());
    }
    if row.rejected > 0 {
        waiting.push(format!("{} refused", row.rejected));
    }
    if row.questions > 0 {
        waiting.push(counted(row.questions, "open question", "open questions"));
    }
    if row.vanished > 0 {
        let gone = counted(row.vanished, "question", "questions");
        waiting.push(format!("{gone} removed without an answer"));
    }
    if let Some(first) = row.waiting_on.first() {
        let more = if row.waiting_on.len() > 1 {
            format!(" (+{})", row.waiting_on.len() - 1)
        } else {
            String::new()
        };
        waiting.push(format!("{}: {}{more}", first.who(), first.requirement));
    } else if row.stage.is_some_and(|stage| stage.next().is_some()) && row.holds {
        waiting.push(format!("nothing is missing: underlit advance {}", row.id));
    }
    format!("{:width$}  {stage:11} {days:>5}  {install:10}  {spare:>6}  {}", row.id, waiting.join("; "))
}

/// The story of a project, or of the whole book, in trade words.
///
/// Example: underlit history quay-bar
#[derive(Debug, clap::Args)]
pub(crate) struct HistoryArgs {
    /// The project; the whole book where none is named.
    project: Option<ProjectId>,
    /// Show what stands behind each line as well: reasons, comments, files.
    #[arg(long)]
    long: bool,
}

pub(crate) fn history(args: &HistoryArgs, setting: &Setting<'_>) -> Outcome {
    let book = BookFolder::find(&setting.folder)?;
    let (chapters, from) = history::history(&book, args.project.as_ref())?;
    if let Some(day) = from {
        setting.printer.line(format!(
            "the history here begins on {day}; what was done before is fetched by underlit part --past"
        ));
    }
    for chapter in &chapters {
        let day = chapter.at.get(..16).unwrap_or(&chapter.at).replace('T', " ");
        setting.printer.line(format!("{day}  {:20}  {}", chapter.who, chapter.what));
        if args.long {
            chapter
                .more
                .lines()
                .filter(|l| !l.is_empty())
                .for_each(|l| setting.printer.line(format!("{:40}{l}", "")));
            chapter.files.iter().for_each(|f| setting.printer.line(format!("{:40}{f}", "")));
        }
    }
    setting.printer.json(&json!({ "chapters": chapters, "history_from": from }));
    Ok(Exit::Done)
}
