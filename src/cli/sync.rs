//! `sync` and `resolve`: exchange with the other clones, and answers to open questions.

use serde_json::{Value, json};

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use super::wording::visible;
use crate::fault::Fault;
use crate::git::{Progress, SyncSummary};
use crate::model::id::ProjectId;
use crate::ops::resolve::{self, Answer};
use crate::ops::sync::{self, Asked};

/// Bring this clone and its remote to the same book: check, commit, fetch, merge, check again, push.
///
/// Works with any git remote, through your own git. A field that both sides changed keeps what it was, and
/// becomes an open question; nothing is lost and nobody is stuck.
///
/// Example: underlit sync
#[derive(Debug, clap::Args)]
pub(crate) struct SyncArgs {
    /// The remote, by name.
    #[arg(long, value_name = "NAME")]
    remote: Option<String>,
    /// Leave the network alone: take in hand edits and what was fetched before.
    #[arg(long)]
    offline: bool,
}

pub(crate) fn sync(args: &SyncArgs, setting: &Setting<'_>) -> Outcome {
    let asked = Asked { remote: args.remote.clone(), offline: args.offline };
    let mut tell = |progress: Progress<'_>| {
        let text = match progress {
            Progress::LookingForEdits => "looking for edits",
            Progress::Fetching => "fetching",
            Progress::Merging => "merging",
            Progress::Checking => "checking what came in",
            Progress::Placing => "putting it in place",
            Progress::Pushing => "pushing",
            Progress::Waiting => "somebody was faster; trying again",
            Progress::Git(_) => return,
        };
        setting.printer.progress(text);
    };
    let summary = sync::sync(&setting.folder, &setting.around, &asked, &mut tell)?;
    show(&summary, setting);
    Ok(Exit::Done)
}

fn show(summary: &SyncSummary, setting: &Setting<'_>) {
    let printer = setting.printer;
    let remote = summary
        .remote
        .as_ref()
        .map_or_else(|| "no remote".to_owned(), |r| format!("{}/{}", r.name, r.branch));
    if !summary.hand_edits.is_empty() {
        printer.line(format!("took in {} edits made by hand", summary.hand_edits.len()));
    }
    for commit in &summary.commits {
        let first = commit.message.lines().next().unwrap_or_default();
        printer.line(visible(&format!("  came in: {} — {first}", commit.author.name)));
    }
    if let Some(newest) = summary.lost.first() {
        let many = summary.lost.len();
        let commits = if many == 1 { "1 commit".to_owned() } else { format!("{many} commits") };
        printer.remark(format!(
            "the remote was rewritten: it had lost {commits}, the newest by {} ({}). This clone has them{}. \
             Git does not tell who did it: ask whoever keeps the remote, and guard it with `underlit guard install`.",
            visible(&newest.author.name),
            newest.id.short(),
            if summary.pushed { ", and has sent them back" } else { " still" },
        ));
    }
    for (path, conflict) in &summary.opened {
        printer.line(format!("  question: {} {} — {path}", conflict.path, conflict.pointer));
    }
    let state = match (summary.commits.is_empty(), summary.pushed) {
        (true, false) => "nothing new on either side",
        (false, false) => "up to date",
        (true, true) => "sent",
        (false, true) => "brought together and sent",
    };
    setting.done(format!("{remote}: {state}"));
    printer.json(&json!({
        "remote": remote,
        "hand_edits": summary.hand_edits.iter().map(|e| &e.path).collect::<Vec<_>>(),
        "came_in": summary.commits.iter().map(|c| json!({
            "commit": c.id.to_string(), "who": c.author.name, "what": c.message.lines().next(),
        })).collect::<Vec<_>>(),
        "changed": summary.changes.iter().map(|c| &c.path).collect::<Vec<_>>(),
        "questions": summary.opened.iter().map(|(path, _)| path).collect::<Vec<_>>(),
        "merged": summary.merged,
        "pushed": summary.pushed,
        "races": summary.races,
        "lost_by_remote": summary.lost.iter().map(|c| json!({
            "commit": c.id.to_string(), "who": c.author.name, "what": c.message.lines().next(),
        })).collect::<Vec<_>>(),
    }));
}

/// Show the open questions of a project, or answer one.
///
/// Example: underlit resolve quay-bar 3f2a --take 2
#[derive(Debug, clap::Args)]
pub(crate) struct ResolveArgs {
    /// The project.
    project: ProjectId,
    /// The question, by the beginning of its name.
    question: Option<String>,
    /// Take one of the edits by its number, or `base` for what it was before.
    #[arg(long, value_name = "NUMBER|base", requires = "question")]
    take: Option<String>,
    /// Take something else, as JSON.
    #[arg(long, value_name = "JSON", requires = "question", conflicts_with = "take")]
    value: Option<String>,
}

pub(crate) fn resolve(args: &ResolveArgs, setting: &Setting<'_>) -> Outcome {
    let Some(question) = &args.question else {
        let reading = setting.reading()?;
        let open = resolve::open_questions(&reading, &args.project)?;
        for (name, conflict) in &open {
            setting.printer.line(format!("{name}\n  {} {}", conflict.path, conflict.pointer));
            if let Some(base) = &conflict.base {
                setting.printer.line(format!("  base  {base}"));
            }
            for (number, side) in conflict.sides.iter().enumerate() {
                setting.printer.line(format!("  {}     {}", number + 1, side.in_words()));
            }
        }
        if open.is_empty() {
            setting.printer.line("no question is open");
        }
        setting.printer.json(&json!({ "questions": open.iter().map(|(n, c)| json!({ "id": n, "question": c })).collect::<Vec<_>>() }));
        return Ok(Exit::Done);
    };
    let answer = match (args.take.as_deref(), args.value.as_deref()) {
        (Some("base"), _) => Answer::Base,
        (Some(number), _) => Answer::Side(number.parse().map_err(|_| {
            vec![
                Fault::usage("usage", format!("`{number}` is neither a number nor base"))
                    .mend("--take 1, --take 2 or --take base"),
            ]
        })?),
        (None, Some(text)) => Answer::Value(serde_json::from_str::<Value>(text).map_err(|e| {
            vec![
                Fault::usage("usage", format!("--value is no JSON: {e}"))
                    .mend("quote text twice: --value '\"diffused\"'"),
            ]
        })?),
        (None, None) => {
            return Err(vec![
                Fault::usage("missing-argument", "an answer says what to take")
                    .mend("add --take 1, --take 2, --take base or --value JSON"),
            ]);
        }
    };
    let desk = setting.desk()?;
    let conflict = resolve::resolve(&desk, &args.project, question, &answer)?;
    setting.done(format!("settled {} {}", conflict.path, conflict.pointer));
    setting.printer.json(&json!({ "settled": conflict }));
    Ok(Exit::Done)
}
