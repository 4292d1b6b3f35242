//! `check` and `schemas`: what is wrong with a book, and the schemas that say so.

use std::collections::BTreeSet;
use std::path::PathBuf;

use serde_json::json;

use super::answers;
use super::failure::{Exit, Outcome, as_json, put_errors, said};
use super::printer::ask;
use super::setting::{Setting, write_into};
use crate::git::Repo;
use crate::ids::ProjectId;
use crate::model::conflict::Conflict;
use crate::model::question::questions;
use crate::ops::desk::settle_before_looking;
use crate::ops::questions::About;
use crate::ops::repair::{self, Offer};
use crate::paths::{REPOSITORY, UnsafePath};
use crate::store::{BookFolder, schemas};
use crate::trust::before::Before;
use crate::trust::check;
use crate::trust::refused::told_whose;
use std::collections::BTreeMap;

/// Say everything that is wrong with a book, all of it at once: file, place, line, reason and remedy.
///
/// Example: underlit check quay-bar
#[derive(Debug, clap::Args)]
pub(crate) struct CheckArgs {
    /// Only this project.
    project: Option<ProjectId>,
    /// Show what an interrupted git or editor left and how it can be put right; with a name, do that. Nothing is
    /// done that was not asked for, and what is replaced is set aside first.
    #[arg(long, value_name = "NAME", num_args = 0..=1, default_missing_value = "", conflicts_with = "project")]
    repair: Option<String>,
}

pub(crate) fn check(args: &CheckArgs, setting: &Setting<'_>) -> Outcome {
    match args.repair.as_deref() {
        None => {}
        Some("") => return show_offers(setting),
        Some(name) => return do_repair(name, setting),
    }
    let book = BookFolder::find(&setting.folder)?;
    if let Some(id) = &args.project {
        book.project(id)?;
    }
    if !setting.around.dry_run {
        settle_before_looking(&book);
    }
    let unsettled = repair::unsettled(&book);
    if let Some(words) = repair::half_done_in_words(&book, unsettled.as_deref().unwrap_or_default()) {
        setting.printer.remark(words);
    }
    let mut before = Before::open(&book, &setting.around);
    let mut checked = check::check(&book, args.project.as_ref(), &mut before);
    before.keep(&setting.around);
    for folder in &checked.repositories {
        let fault = UnsafePath::new(folder, REPOSITORY).fault("");
        setting.printer.remark(format!(
            "note: {folder}: {}. Fix: {}",
            fault.message,
            fault.remedy.unwrap_or_default()
        ));
    }
    if let Some(words) = left_alone_in_words(&checked.left_alone) {
        setting.printer.remark(words);
    }
    checked.notes.iter().for_each(|note| setting.printer.remark(format!("note: {}", note.message)));
    checked.faults.extend(repair::clone_faults(&book, unsettled.err()));
    checked.faults = told_whose(book.root(), checked.faults);
    if checked.faults.is_empty() {
        setting.printer.line(format!("{} files, nothing wrong", checked.files));
        setting.tell_held(Repo::open(book.root()).ok().and_then(|repo| repo.held().ok()?));
        let of = |whose: &About| -> BTreeMap<String, Conflict> {
            let own = checked.questions.iter().filter(|(path, _)| About::of_path(path) == *whose);
            own.map(|(path, conflict)| (path.clone(), conflict.clone())).collect()
        };
        let mut whose: Vec<About> = checked.questions.keys().map(|path| About::of_path(path)).collect();
        whose.dedup();
        for whose in whose {
            for question in questions(&of(&whose)) {
                let words = question.in_words();
                setting.printer.line(format!("open question: {words}: underlit resolve {whose}"));
            }
        }
    }
    if setting.printer.is_json() {
        let question =
            |(file, record): (&String, &Conflict)| json!({ "file": file, "text": record.in_words() });
        let mut answer = json!({
            "file_count": checked.files,
            "questions": checked.questions.iter().map(question).collect::<Vec<_>>(),
            "left_alone": checked.left_alone,
            "notes": checked.notes,
        });
        put_errors(&mut answer, checked.faults.iter().map(as_json).collect());
        setting.printer.json(&answer);
        checked.faults = said(checked.faults);
    }
    if checked.faults.is_empty() { Ok(Exit::Done) } else { Err(checked.faults) }
}

/// The most files that are told by name.
const TOLD: usize = 5;

/// What lies in the book's folder and is no file of the book, in one line.
fn left_alone_in_words(left: &BTreeSet<String>) -> Option<String> {
    let first: Vec<&str> = left.iter().take(TOLD).map(String::as_str).collect();
    let more = match left.len().saturating_sub(TOLD) {
        0 => String::new(),
        n => format!(" and {n} more"),
    };
    (!left.is_empty()).then(|| {
        format!(
            "left alone: {}{more}. No record names it, so it is not committed and no other clone gets it; keep \
             it elsewhere",
            first.join(", ")
        )
    })
}

/// Lists what can be put right; at a terminal, asks about each.
fn show_offers(setting: &Setting<'_>) -> Outcome {
    let printer = setting.printer;
    let offers = repair::offers(&setting.folder)?;
    if offers.is_empty() {
        printer.line("nothing that underlit can repair");
    }
    for offer in &offers {
        printer.line(format!("{}\n  {}\n  offered: {}", offer.name, offer.what, offer.how));
        let yes = if printer.is_json() || setting.around.dry_run {
            false
        } else {
            ask("do it? [y/N]").is_some_and(|answer| ["y", "yes"].contains(&answer.to_lowercase().as_str()))
        };
        if yes {
            do_repair(&offer.name, setting)?;
        } else {
            printer.line(format!("  to do it: underlit check --repair '{}'", offer.name));
        }
    }
    let json = |offer: &Offer| json!({ "name": offer.name, "what": offer.what, "how": offer.how });
    printer.json(&json!({ "offers": offers.iter().map(json).collect::<Vec<_>>() }));
    Ok(Exit::Done)
}

fn do_repair(name: &str, setting: &Setting<'_>) -> Outcome {
    let (offer, aside) = repair::repair(&setting.folder, &setting.around, name)?;
    setting.done(format!("repaired: {}", offer.what));
    if let Some(aside) = &aside {
        setting.printer.line(format!("  set aside: {}", aside.display()));
    }
    setting.printer.json(&json!({ "repaired": offer.name, "set_aside": aside }));
    Ok(Exit::Done)
}

/// Write out the JSON Schemas of the records, for editors and other validators; with --answers, those of what each verb answers
/// with --json.
///
/// Example: underlit schemas --into schema
#[derive(Debug, clap::Args)]
pub(crate) struct SchemasArgs {
    /// Those of the answers for programs instead, a file for each verb.
    #[arg(long)]
    answers: bool,
    /// The folder to write them into.
    #[arg(long, value_name = "DIR")]
    into: PathBuf,
}

pub(crate) fn schemas(args: &SchemasArgs, setting: &Setting<'_>) -> Outcome {
    let files = if args.answers { answers::published() } else { schemas::published().to_vec() };
    write_into(&args.into, &files, setting)?;
    setting.done(format!("wrote {} schemas into {}", files.len(), args.into.display()));
    Ok(Exit::Done)
}
