//! `guard`: sets up a shared repository so that it judges what is pushed, and is that judge.

use std::path::PathBuf;
use std::sync::mpsc::RecvTimeoutError;
use std::time::{Duration, Instant};

use clap::Subcommand;
use serde_json::{Value, json};

use super::failure::{Exit, Outcome, as_json, exit_code, put_errors, said};
use super::printer::{Printer, beat, lines_in};
use super::setting::Setting;
use super::wording::wrapped;
use crate::digest::Sha256Digest;
use crate::fault::Fault;
use crate::git::{Bounds, CommitId, Deed, Hub};
use crate::trust::guard::install::{self, FINGERPRINT, SECONDS, TAKEN, USUAL_SECONDS, Wanted};
use crate::trust::guard::{Finding, JudgeOptions, Judgement, judge, references};
use crate::visible::on_one_line;

/// The columns that a line may have. Git puts `remote: ` before it, and nobody tells a hook how wide the pusher's
/// terminal is.
const COLUMNS: usize = 70;

/// How many reasons are named; the pusher fixes these first.
const NAMED: usize = 8;

/// How often a push that takes long to judge is told of it.
const BEAT: Duration = Duration::from_secs(15);

/// The largest that git's lines to a hook may be, in bytes: about ten thousand branches.
const MOST_LINES: u64 = 1 << 20;

/// Judge what is pushed to a shared repository, by the book that it holds already.
#[derive(Debug, Subcommand)]
pub(crate) enum GuardVerb {
    Install(InstallArgs),
    Check(CheckArgs),
    Range(RangeArgs),
}

/// Make a bare repository judge each push before it is taken: a pre-receive hook, and git's own settings.
///
/// May be run again at any time; it says what it changed. A hook of somebody else is left alone.
///
/// Example: underlit guard install /srv/books/harbour.git
#[derive(Debug, clap::Args)]
pub(crate) struct InstallArgs {
    /// The bare repository.
    #[arg(value_name = "REPOSITORY")]
    repository: PathBuf,
    /// The fingerprint of the book, as `underlit init` and `underlit roster show` say it: a first push must bring
    /// this book and no other.
    #[arg(long, value_name = "SHA256")]
    fingerprint: Option<Sha256Digest>,
    /// The book's branch, where it is not `main` and nothing is there yet.
    #[arg(long, value_name = "NAME")]
    branch: Option<String>,
    /// Where underlit lies on the machine that keeps the repository; by default this very program.
    #[arg(long, value_name = "FILE")]
    program: Option<PathBuf>,
    /// How long judging one push may take, in seconds; 300 by default.
    #[arg(long, value_name = "SECONDS", value_parser = clap::value_parser!(u64).range(1..=86_400))]
    seconds: Option<u64>,
}

/// Be the hook: judge the push that git is about to take. Git runs this, with `old new name` on each line of
/// standard input.
///
/// Exit code 0 lets the push in; any other keeps it out: 3 for files that do not pass, 5 for what is signed, 6 where
/// the repository cannot be read, 70 for a bug.
///
/// Example: underlit guard check
#[derive(Debug, clap::Args)]
pub(crate) struct CheckArgs {
    /// Also say on standard output that the push may be taken, for a hook that does not trust an exit code alone.
    #[arg(long)]
    say: bool,
}

/// Judge the commits between two points of a clone, as the hook would: for hosts that run checks and no hooks.
///
/// Exit codes as for `guard check`.
///
/// Example: underlit guard range origin/main HEAD
#[derive(Debug, clap::Args)]
pub(crate) struct RangeArgs {
    /// Where the branch stood: a commit, a branch, or forty zeros before a first push.
    #[arg(value_name = "OLD")]
    old: String,
    /// Where it is to stand.
    #[arg(value_name = "NEW")]
    new: String,
    /// The fingerprint of the book that it must be.
    #[arg(long, value_name = "SHA256")]
    fingerprint: Option<Sha256Digest>,
}

pub(crate) fn run(verb: &GuardVerb, setting: &Setting<'_>) -> Outcome {
    match verb {
        GuardVerb::Install(args) => set_up(args, setting),
        GuardVerb::Check(args) => check(args, setting),
        GuardVerb::Range(args) => range(args, setting),
    }
}

fn set_up(args: &InstallArgs, setting: &Setting<'_>) -> Outcome {
    let program = match &args.program {
        Some(program) => program.clone(),
        None => std::env::current_exe().map_err(|e| {
            vec![
                Fault::io("no-program", format!("underlit cannot find itself: {e}"))
                    .fix("name it with --program"),
            ]
        })?,
    };
    let wanted = Wanted {
        repository: args.repository.clone(),
        program: program.clone(),
        fingerprint: args.fingerprint,
        branch: args.branch.clone(),
        seconds: args.seconds,
    };
    let done = install::install(&wanted, setting.around.dry_run)?;
    let printer = setting.printer;
    let shown = args.repository.display();
    if done.deeds.is_empty() {
        printer.line(format!("{shown} is guarded already; nothing was changed"));
    } else {
        setting.done(format!("{shown} is guarded: pushes to {} are judged", done.branch));
    }
    for deed in &done.deeds {
        printer.line(match deed {
            Deed::Hook { path, renewed: false } => format!("  hook     {}", path.display()),
            Deed::Hook { path, renewed: true } => format!("  hook     {} (renewed)", path.display()),
            Deed::Setting { key, value } => format!("  setting  {key} = {value}"),
            Deed::Head { branch } => format!("  HEAD     {branch}"),
        });
    }
    if let Some(fingerprint) = done.holds {
        printer.line(format!("  holds    the book {fingerprint}"));
    } else if args.fingerprint.is_none() {
        printer.remark(
            "The first push decides which book this repository holds. To say it beforehand, run this again with \
             --fingerprint.",
        );
    }
    let deeds = done.deeds.iter().map(|deed| match deed {
        Deed::Hook { path, renewed } => {
            json!({ "what": "hook", "name": path, "set_to": null, "renewed": renewed })
        }
        Deed::Setting { key, value } => {
            json!({ "what": "setting", "name": key, "set_to": value, "renewed": false })
        }
        Deed::Head { branch } => {
            json!({ "what": "head", "name": "HEAD", "set_to": branch, "renewed": false })
        }
    });
    printer.json(&json!({
        "repository": args.repository, "branch": done.branch, "program": program,
        "fingerprint": done.holds, "did": deeds.collect::<Vec<_>>(),
    }));
    Ok(Exit::Done)
}

fn check(args: &CheckArgs, setting: &Setting<'_>) -> Outcome {
    let hub = Hub::of_hook()?;
    let lines = lines_in(MOST_LINES).map_err(|e| {
        vec![
            Fault::io("push-unread", format!("what git hands over cannot be read: {e}"))
                .fix("push fewer branches at once"),
        ]
    })?;
    let fingerprint = match hub.setting(FINGERPRINT) {
        None => None,
        Some(text) => Some(text.parse::<Sha256Digest>().map_err(|_| {
            vec![
                Fault::data(
                    "fingerprint-setting",
                    format!("this repository's {FINGERPRINT} is no fingerprint"),
                )
                .fix("let whoever keeps it run: underlit guard install REPOSITORY --fingerprint SHA256"),
            ]
        })?),
    };
    let seconds = hub.setting(SECONDS).and_then(|text| text.parse().ok()).unwrap_or(USUAL_SECONDS);
    let started = Instant::now();
    let late = || started.elapsed() > Duration::from_secs(seconds);
    let options = JudgeOptions { fingerprint, late: &late };
    let judgement = still_at_it(|| references::judge_push(&hub, &lines, Bounds::default(), options));
    if args.say && judgement.is_good() {
        setting.printer.line(TAKEN);
    }
    answer(&judgement, setting.printer)
}

fn range(args: &RangeArgs, setting: &Setting<'_>) -> Outcome {
    let hub = Hub::open(&setting.folder)?;
    let zeros = args.old.len() == 40 && args.old.bytes().all(|b| b == b'0');
    if hub.is_shallow() && (zeros || hub.resolve(&args.old).is_err()) {
        return Err(vec![
            Fault::io("git-shallow", "the history of this clone is cut off, and cannot be judged")
                .fix("fetch all of it: git fetch --unshallow; most hosts have a setting for it"),
        ]);
    }
    let old: Option<CommitId> = if zeros { None } else { Some(hub.resolve(&args.old)?) };
    let new = hub.resolve(&args.new)?;
    let inspector = hub.inspector(Bounds::default());
    let follows = old.map(|old| inspector.follows(new, old)).transpose()?;
    let judgement = if follows == Some(false) {
        let fault = references::rewritten(&inspector, old, new);
        Judgement { findings: vec![fault.into()], ..Judgement::default() }
    } else {
        judge(&inspector, old, new, JudgeOptions { fingerprint: args.fingerprint, late: &|| false })
    };
    answer(&judgement, setting.printer)
}

/// Does long work, and lets whoever pushes know now and then that it is being done: a silent remote is given up.
fn still_at_it<T>(work: impl FnOnce() -> T) -> T {
    std::thread::scope(|scope| {
        let (done, wait) = std::sync::mpsc::channel::<()>();
        scope.spawn(move || {
            let mut seconds = 0;
            while wait.recv_timeout(BEAT) == Err(RecvTimeoutError::Timeout) {
                seconds += BEAT.as_secs();
                beat(&format!("underlit guard: still checking ({seconds} s)"));
            }
        });
        let worked = work();
        drop(done);
        worked
    })
}

/// Says what the judge says. Everything for people goes to standard error, which git hands on to the pusher.
fn answer(judgement: &Judgement, printer: &Printer) -> Outcome {
    let faults: Vec<Fault> = judgement.findings.iter().map(|f| f.fault.clone()).collect();
    if printer.is_json() {
        let mut answer = json!({
            "taken": judgement.is_good(),
            "commit_count": judgement.commits,
            "fingerprint": judgement.begun,
        });
        put_errors(&mut answer, judgement.findings.iter().map(finding_json).collect());
        printer.json(&answer);
    } else {
        words(judgement).iter().for_each(|line| printer.remark(line));
    }
    if faults.is_empty() {
        return Ok(Exit::Done);
    }
    debug_assert_ne!(exit_code(&faults), 0);
    Err(said(faults))
}

fn finding_json(finding: &Finding) -> Value {
    let mut value = as_json(&finding.fault);
    if let Some(place) = &finding.commit {
        value["commit"] = place.commit.to_string().into();
        value["who"] = json!(place.by);
    }
    value
}

fn words(judgement: &Judgement) -> Vec<String> {
    let mut lines = Vec::new();
    if let Some(fingerprint) = judgement.begun.filter(|_| judgement.is_good()) {
        lines.push("underlit guard: the first push. This repository holds this book from now on:".to_owned());
        lines.push(format!("  {fingerprint}"));
        return lines;
    }
    if judgement.is_good() {
        return lines;
    }
    lines.push("underlit guard: this push is not taken, and nothing was changed.".to_owned());
    let mut last = None;
    for finding in judgement.findings.iter().take(NAMED) {
        let place = (finding.fault.file.clone(), finding.commit.clone());
        if last.as_ref() != Some(&place) {
            let at = finding.fault.file.as_deref().map(|file| clipped(&shortened(&on_one_line(file))));
            let by = finding.commit.as_ref().map(|c| format!("commit {} by {}", c.commit.short(), c.by));
            let head = match (at, by) {
                (Some(at), Some(by)) => format!("- {at}, {by}"),
                (Some(at), None) => format!("- {at}"),
                (None, Some(by)) => format!("- {by}"),
                (None, None) => String::new(),
            };
            if !head.is_empty() {
                lines.extend(wrapped(&head, COLUMNS, "  "));
            }
            last = Some(place);
        }
        let mut text = String::from("  ");
        if let Some(line) = finding.fault.line {
            text.push_str(&format!("line {line}"));
            match finding.fault.pointer.as_deref().filter(|p| !p.is_empty()) {
                Some(pointer) => text.push_str(&format!(" {}: ", on_one_line(pointer))),
                None => text.push_str(": "),
            }
        }
        text.push_str(&shortened(&finding.fault.message));
        text.push_str(&format!(" [{}]", finding.fault.code));
        lines.extend(wrapped(&text, COLUMNS, "    "));
        if let Some(remedy) = &finding.fault.remedy {
            lines.extend(wrapped(&format!("  Fix: {remedy}"), COLUMNS, "    "));
        }
    }
    let more = judgement.findings.len().saturating_sub(NAMED);
    if more > 0 {
        lines.push(format!("  … and {more} more"));
    }
    if judgement.findings.iter().any(|f| f.commit.is_some()) {
        let text = "A later commit cannot fix what is named with a commit. Take those commits back and keep your \
                    files with: git reset --soft origin/main; fix what is named; then: underlit sync";
        lines.extend(wrapped(text, COLUMNS, ""));
    }
    lines
}

/// A path that fits on a line; of a longer one both ends.
fn clipped(path: &str) -> String {
    let letters: Vec<char> = path.chars().collect();
    if letters.len() <= COLUMNS - 4 {
        return path.to_owned();
    }
    let end = 20;
    let start: String = letters[..COLUMNS - 5 - end].iter().collect();
    let rest: String = letters[letters.len() - end..].iter().collect();
    format!("{start}…{rest}")
}

/// A text in which the digests that name files are cut to what a person compares.
fn shortened(text: &str) -> String {
    let mut out = String::new();
    let mut run = String::new();
    for letter in text.chars().chain(['\n']) {
        if letter.is_ascii_digit() || ('a'..='f').contains(&letter) {
            run.push(letter);
            continue;
        }
        if run.len() == 64 {
            out.push_str(&run[..10]);
            out.push('…');
        } else {
            out.push_str(&run);
        }
        run.clear();
        out.push(letter);
    }
    out.pop();
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digests_are_cut_and_words_are_not() {
        let digest = "0123456789abcdef".repeat(4);
        assert_eq!(shortened(&format!("moves/{digest}.json")), "moves/0123456789….json");
        assert_eq!(shortened("a faded deed"), "a faded deed");
        assert_eq!(shortened(&format!("{digest}0")), format!("{digest}0"));
        assert_eq!(clipped("short"), "short");
        assert_eq!(clipped(&"x".repeat(300)).chars().count(), COLUMNS - 4);
    }
}
