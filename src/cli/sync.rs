//! `sync` and `resolve`: exchange with the other clones, and answers to open questions.

use serde_json::{Value, json};

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use super::wording::visible;
use crate::fault::Fault;
use std::collections::BTreeSet;

use crate::git::Progress;
use crate::model::id::ProjectId;
use crate::ops::resolve::{self, Answer};
use crate::ops::sync::{self, Asked, Synced};
use crate::words::counted;

/// Bring this clone and its remote to the same book: check, commit, fetch, merge, check again, push.
///
/// Works with any git remote, through your own git. A field that both sides changed keeps what it was, and
/// becomes an open question; nothing is lost and nobody is stuck. Lines with a star concern you.
///
/// Exit code 4 says that the sync is done, and that it opened or brought in questions between edits.
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
    let synced = sync::sync(&setting.folder, &setting.around, &asked, &mut tell)?;
    show(&synced, setting);
    Ok(if synced.questions.is_empty() { Exit::Done } else { Exit::OpenQuestion })
}

fn show(synced: &Synced, setting: &Setting<'_>) {
    let printer = setting.printer;
    let summary = &synced.summary;
    let remote = summary
        .remote
        .as_ref()
        .map_or_else(|| "no remote".to_owned(), |r| format!("{}/{}", r.name, r.branch));
    if !summary.hand_edits.is_empty() {
        let edits = counted(summary.hand_edits.len(), "edit", "edits");
        printer.line(format!("took in {edits} made by hand"));
    }
    for commit in &summary.commits {
        let first = commit.message.lines().next().unwrap_or_default();
        printer.line(visible(&format!("  came in: {} — {first}", commit.author.name)));
    }
    if let Some(newest) = summary.lost.first() {
        let many = summary.lost.len();
        let commits = counted(many, "commit", "commits");
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
    for news in &synced.news {
        let mark = if news.concerns(synced.me.as_ref()) { "*" } else { " " };
        printer.line(format!("{mark} {}", news.in_words(synced.me.as_ref())));
    }
    let state = match (summary.commits.is_empty(), summary.pushed) {
        (true, false) => "nothing new on either side",
        (false, false) => "up to date",
        (true, true) => "sent",
        (false, true) => "brought together and sent",
    };
    setting.done(format!("{remote}: {state}"));
    let projects: BTreeSet<ProjectId> =
        synced.questions.iter().filter_map(|path| ProjectId::of_path(path)).collect();
    if !synced.questions.is_empty() {
        let are = counted(synced.questions.len(), "question is", "questions are");
        let how: Vec<String> = projects.iter().map(|id| format!("underlit resolve {id}")).collect();
        setting.printer.line(format!("nothing is lost; {are} open: {}", how.join(", ")));
    }
    printer.json(&json!({
        "remote": remote,
        "hand_edits": summary.hand_edits.iter().map(|e| &e.path).collect::<Vec<_>>(),
        "came_in": summary.commits.iter().map(|c| json!({
            "commit": c.id.to_string(), "who": c.author.name, "what": c.message.lines().next(),
        })).collect::<Vec<_>>(),
        "changed": summary.changes.iter().map(|c| &c.path).collect::<Vec<_>>(),
        "questions": synced.questions,
        "news": synced.news.iter().map(|news| json!({
            "event": news.event, "project": news.project, "text": news.text,
            "for_you": news.concerns(synced.me.as_ref()),
        })).collect::<Vec<_>>(),
        "merged": summary.merged,
        "pushed": summary.pushed,
        "races": summary.races,
        "lost_by_remote": summary.lost.iter().map(|c| json!({
            "commit": c.id.to_string(), "who": c.author.name, "what": c.message.lines().next(),
        })).collect::<Vec<_>>(),
    }));
}

/// Show the open questions of a project, or answer one or all of them.
///
/// Example: underlit resolve quay-bar 3f2a --take 2
#[derive(Debug, clap::Args)]
pub(crate) struct ResolveArgs {
    /// The project.
    project: ProjectId,
    /// The question, by the beginning of its name.
    question: Option<String>,
    /// Answer every open question in the same way.
    #[arg(long, conflicts_with_all = ["question", "value"], requires = "take")]
    all: bool,
    /// Take one of the edits by its number; `ours` for your own, `theirs` for the other's, `base` for what it was
    /// before.
    #[arg(long, value_name = "NUMBER|ours|theirs|base")]
    take: Option<String>,
    /// Take something else, as JSON.
    #[arg(long, value_name = "JSON", requires = "question", conflicts_with = "take")]
    value: Option<String>,
}

pub(crate) fn resolve(args: &ResolveArgs, setting: &Setting<'_>) -> Outcome {
    if args.question.is_none() && !args.all {
        if args.take.is_some() {
            let fault = Fault::usage("missing-argument", "an answer names its question");
            return Err(vec![fault.mend("add the beginning of its name, or --all")]);
        }
        let reading = setting.reading()?;
        let open = resolve::open_questions(&reading, &args.project)?;
        for (name, conflict) in &open {
            setting.printer.line(format!(
                "{name}\n  {}\n  {} {}",
                conflict.place(),
                conflict.path,
                conflict.pointer
            ));
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
    }
    let answer = match (args.take.as_deref(), args.value.as_deref()) {
        (Some("base"), _) => Answer::Base,
        (Some("ours"), _) => Answer::Mine,
        (Some("theirs"), _) => Answer::Others,
        (Some(number), _) => Answer::Side(number.parse().map_err(|_| {
            vec![
                Fault::usage("usage", format!("`{number}` is neither a number nor ours, theirs or base"))
                    .mend("--take 1, --take 2, --take ours, --take theirs or --take base"),
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
    let Some(question) = &args.question else {
        let open = resolve::open_questions(&desk.reading, &args.project)?;
        let mut settled = Vec::new();
        for (name, _) in &open {
            let conflict = resolve::resolve(&desk, &args.project, name, &answer)?;
            setting.done(format!("settled {} {}", conflict.path, conflict.pointer));
            settled.push(conflict);
        }
        if open.is_empty() {
            setting.printer.line("no question is open");
        }
        setting.printer.json(&json!({ "settled": settled }));
        return Ok(Exit::Done);
    };
    let conflict = resolve::resolve(&desk, &args.project, question, &answer)?;
    setting.done(format!("settled {} {}", conflict.path, conflict.pointer));
    setting.printer.json(&json!({ "settled": conflict }));
    Ok(Exit::Done)
}
