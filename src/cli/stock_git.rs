//! `stock-git`: what your own git calls to merge records as `sync` does, and the one command that sets it up.

use std::env;
use std::path::PathBuf;

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::fault::Fault;
use crate::model::question::questions;
use crate::ops::questions::About;
use crate::sync::stock_git;

/// Let your own git merge records field by field, so that a plain `git pull` gives what `sync` gives.
#[derive(Debug, clap::Subcommand)]
pub(crate) enum StockGitVerb {
    Setup(SetupArgs),
    Merge(MergeArgs),
    File(FileArgs),
}

/// Teach your own git in this clone, once.
///
/// `git merge`, `git pull` and `git cherry-pick` then merge whole books with underlit, open questions included, and
/// run its checks. Under another strategy (`-s ort`) git merges file by file and stops at a question. The strategy's
/// program, `git-merge-underlit`, is put beside underlit, where git finds it on the PATH.
///
/// Example: underlit stock-git setup
#[derive(Debug, clap::Args)]
pub(crate) struct SetupArgs {
    /// The folder on your PATH for the strategy's program.
    #[arg(long, value_name = "DIR")]
    into: Option<PathBuf>,
}

/// Merge a commit into index and folder: called by git as its merge strategy, not by people.
///
/// Example: underlit stock-git merge -- 1f0c2d9 -- HEAD 9b3d7a1
#[derive(Debug, clap::Args)]
pub(crate) struct MergeArgs {
    /// As git gives them: the common bases, `--`, this side, the other side.
    #[arg(last = true, value_name = "BASE… -- OURS THEIRS")]
    commits: Vec<String>,
}

/// Merge one file: called by git as its merge driver, not by people.
///
/// Example: underlit stock-git file base.json ours.json theirs.json projects/quay-bar/panels/top.json
#[derive(Debug, clap::Args)]
pub(crate) struct FileArgs {
    /// The file as it was.
    base: PathBuf,
    /// The file as it is here; the result takes its place.
    ours: PathBuf,
    /// The file as it comes in.
    theirs: PathBuf,
    /// Its path in the book.
    path: String,
}

pub(crate) fn run(verb: &StockGitVerb, setting: &Setting<'_>) -> Outcome {
    match verb {
        StockGitVerb::Setup(args) => setup(args, setting),
        StockGitVerb::Merge(args) => merge(args, setting),
        StockGitVerb::File(args) => file(args, setting),
    }
}

fn setup(args: &SetupArgs, setting: &Setting<'_>) -> Outcome {
    let me = env::current_exe().map_err(|e| {
        vec![
            Fault::io("read", format!("this program does not know where it lies: {e}"))
                .fix("run it by its path"),
        ]
    })?;
    let path = env::var_os("PATH").unwrap_or_default();
    let path: Vec<PathBuf> = env::split_paths(&path).collect();
    let done = stock_git::set_up(&setting.folder, &setting.around, &me, args.into.as_deref(), &path)?;
    setting.done(format!("git merges this book's records field by field, with {}", done.program.display()));
    if !done.found {
        setting.printer.remark(format!(
            "git does not find {} there: put its folder on your PATH, or name one that is: underlit stock-git setup --into DIR",
            stock_git::PROGRAM
        ));
    }
    setting.printer.json(&json!({ "program": done.program, "on_path": done.found }));
    Ok(Exit::Done)
}

/// The exit code by which a strategy tells git that it has left everything as it was.
const NOT_MERGED: u8 = 2;

fn merge(args: &MergeArgs, setting: &Setting<'_>) -> Outcome {
    let bases: Vec<String> = args.commits.iter().take_while(|word| *word != "--").cloned().collect();
    let mut sides = args.commits.iter().skip(bases.len() + 1);
    let (Some(_), Some(theirs), None) = (sides.next(), sides.next(), sides.next()) else {
        let fault = Fault::usage("usage", "git asks for a merge of one commit into one")
            .fix("merge one branch after the other");
        return Err(vec![fault]);
    };
    match stock_git::merge(&setting.folder, &setting.around, &bases, theirs) {
        Ok(opened) => {
            for question in questions(&opened.into_iter().collect()) {
                let whose = About::of_path(&question.first().path);
                let words = question.in_words();
                setting.printer.remark(format!("question: {words}: underlit resolve {whose}"));
            }
            Ok(Exit::Done)
        }
        Err(faults) => {
            super::failure::report(setting.printer, &faults);
            Ok(Exit::Other(NOT_MERGED))
        }
    }
}

fn file(args: &FileArgs, setting: &Setting<'_>) -> Outcome {
    if setting.around.dry_run {
        setting.done(format!("merged {}", args.path));
        return Ok(Exit::Done);
    }
    let open = stock_git::file(&args.base, &args.ours, &args.theirs, &args.path)?;
    for place in &open {
        setting.printer.remark(format!("both sides changed {} {place}", args.path));
    }
    if open.is_empty() { Ok(Exit::Done) } else { Ok(Exit::Other(1)) }
}
