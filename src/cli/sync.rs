//! `sync`: exchange with the other clones.

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use std::collections::BTreeSet;

use crate::git::LogEntry;
use crate::ids::ProjectId;
use crate::ops::news::{Event, News};
use crate::sync::{self, Asked, MadeAgain, Progress, Synced};
use crate::words::counted;

/// Bring this clone and its remote to the same book: check, commit, fetch, merge, check again, push.
///
/// Works with any git remote, through your own git. A field that both sides changed keeps what it was, and
/// becomes an open question; nothing is lost and nobody is stuck. Lines with a star concern you.
///
/// A remote that says nothing for 60 seconds is given up, at a terminal after 10 minutes; the environment variable
/// UNDERLIT_SILENCE sets other seconds, 0 for no end. Other commands can work on the book meanwhile.
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
    /// Remove from your branch what does not pass, and, as an owner, off the remote's branch as well. Everything else
    /// is kept and made again; what is taken out stays in this clone under refs/underlit/set-aside/.
    #[arg(long, conflicts_with = "offline")]
    drop_refused: bool,
}

pub(crate) fn sync(args: &SyncArgs, setting: &Setting<'_>) -> Outcome {
    let asked = Asked { remote: args.remote.clone(), offline: args.offline, drop_refused: args.drop_refused };
    let mut tell = |progress: Progress<'_>| {
        let text = match progress {
            Progress::LookingForEdits => "looking for edits",
            Progress::Fetching => "fetching",
            Progress::Merging => "merging",
            Progress::Checking => "checking what came in",
            Progress::Placing => "putting it in place",
            Progress::Pushing => "pushing",
            Progress::Waiting => "the remote changed; retrying",
            Progress::Git(_) => return,
        };
        setting.printer.progress(text);
    };
    setting.remember();
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
        printer.line(format!("  came in: {} — {first}", commit.author.name));
    }
    for made in &synced.made_again {
        let out = counted(made.left_out.len(), "commit", "commits");
        let named: Vec<String> = made.left_out.iter().take(5).map(|id| id.short()).collect();
        printer.line(format!(
            "removed {out} that {} not pass: {}",
            if made.left_out.len() == 1 { "does" } else { "do" },
            named.join(", ")
        ));
        if made.kept > 0 {
            printer.line(format!("  made again: {}", counted(made.kept, "commit", "commits")));
        }
        if !made.old.is_empty() {
            printer.line(format!("  what was there stays in this clone: git log {}", made.old));
        }
    }
    if let Some(newest) = synced.gone.first() {
        let commits = counted(synced.gone.len(), "commit", "commits");
        printer.line(format!(
            "the remote no longer holds {commits} that this clone never took, the newest by {} ({}); nothing of that was sent back",
            newest.author.name,
            newest.id.short(),
        ));
    }
    if let Some(newest) = summary.lost.first() {
        let many = summary.lost.len();
        let commits = counted(many, "commit", "commits");
        printer.remark(format!(
            "the remote was rewritten: it had lost {commits}, the newest by {} ({}). This clone has them{}. \
             Git does not tell who did it: ask whoever keeps the remote, and guard it with `underlit guard install`.",
            newest.author.name,
            newest.id.short(),
            if summary.pushed { ", and has sent them back" } else { " still" },
        ));
    }
    // Among the news of many projects at once there is no room for them.
    if !synced.news.iter().any(|news| news.event == Event::Question) {
        for text in synced.questions.values() {
            printer.line(format!("  question: {text}"));
        }
    }
    for gone in &synced.vanished {
        printer.line(format!("  missing: {}", gone.in_words()));
    }
    for news in &synced.news {
        let mark = if news.concerns(synced.me.as_ref()) { "*" } else { " " };
        printer.line(format!("{mark} {}", news.in_words(synced.me.as_ref())));
    }
    if !synced.came_into_part.is_empty() {
        let names: Vec<&str> = synced.came_into_part.iter().map(String::as_str).collect();
        printer.line(format!("* now in this clone, since they name you: {}", names.join(", ")));
    }
    let state = match (summary.commits.is_empty(), summary.pushed) {
        // What came into projects that this clone does not hold is not told one by one.
        (true, false) if summary.before == summary.after => "nothing new on either side",
        (true, false) => "up to date",
        (false, false) => "up to date",
        (true, true) => "sent",
        (false, true) => "merged and sent",
    };
    setting.done(format!("{remote}: {state}"));
    let whose: BTreeSet<String> = synced
        .questions
        .keys()
        .map(|path| ProjectId::of_path(path).map_or_else(|| "--shop".to_owned(), |id| id.to_string()))
        .collect();
    if !synced.questions.is_empty() {
        let are = counted(synced.questions.len(), "question is", "questions are");
        let how: Vec<String> = whose.iter().map(|whose| format!("underlit resolve {whose}")).collect();
        setting.printer.line(format!("nothing is lost; {are} open: {}", how.join(", ")));
    }
    let in_a_line = |c: &LogEntry| json!({ "commit": c.id.to_string(), "who": c.author.name, "what": c.message.lines().next() });
    let news = |news: &News| {
        let mut answer = json!(news);
        answer["for_you"] = news.concerns(synced.me.as_ref()).into();
        answer
    };
    let again = |made: &MadeAgain| {
        let left_out: Vec<String> = made.left_out.iter().map(ToString::to_string).collect();
        json!({ "left_out": left_out, "kept_count": made.kept, "old": made.old })
    };
    let question = |(file, text): (&String, &String)| json!({ "file": file, "text": text });
    printer.json(&json!({
        "remote": summary.remote.as_ref().map(|_| remote),
        "hand_edits": summary.hand_edits.iter().map(|e| &e.path).collect::<Vec<_>>(),
        "came_in": summary.commits.iter().map(in_a_line).collect::<Vec<_>>(),
        "changed_files": summary.changes.iter().map(|c| &c.path).collect::<Vec<_>>(),
        "questions": synced.questions.iter().map(question).collect::<Vec<_>>(),
        "vanished": synced.vanished,
        "news": synced.news.iter().map(news).collect::<Vec<_>>(),
        "made_again": synced.made_again.iter().map(again).collect::<Vec<_>>(),
        "gone_from_remote": synced.gone.iter().map(|c| c.id.to_string()).collect::<Vec<_>>(),
        "merged": summary.merged,
        "came_into_part": synced.came_into_part,
        "pushed": summary.pushed,
        "races": summary.races,
        "lost_by_remote": summary.lost.iter().map(in_a_line).collect::<Vec<_>>(),
    }));
}
