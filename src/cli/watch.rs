//! `watch`: follows a book at its remote and tells what happens, to people, programs, or a command.

use std::io::Write as _;
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::Duration;

use serde_json::{Value, json};

use super::around;
use super::failure::{self, Exit, Outcome};
use super::setting::Setting;
use super::signals::{heard, pause};
use crate::fault::{Class, Fault};
use crate::ops::news::Event;
use crate::ops::watch::{Item, Watch};
use crate::trust::Surroundings;
use crate::visible::{escaped_json, visible};

/// Follow the book at its remote and tell what happens, each thing once: released, rejected, stale, overdue, and more.
///
/// With --json each event is one JSON object on a line of its own; with --run a command is started for each, with the
/// object on its standard input and UNDERLIT_EVENT, UNDERLIT_PROJECT and UNDERLIT_TEXT in its environment; a command
/// that fails is tried again. What was told is remembered in this clone, also over restarts. The working folder is
/// left alone. While the remote is gone the pauses grow to 15 minutes. Ends cleanly on Ctrl-C and on SIGTERM.
///
/// Example: underlit watch --every 30 --only released,rejected
#[derive(Debug, clap::Args)]
pub(crate) struct WatchArgs {
    /// How often to look, in seconds, 1 to 86400.
    #[arg(long, value_name = "SECONDS", default_value_t = 60, value_parser = clap::value_parser!(u64).range(1..=86400))]
    every: u64,
    /// Look once and end.
    #[arg(long)]
    once: bool,
    /// At the very first look, tell what stands already.
    #[arg(long)]
    all: bool,
    /// Only these events, with commas between: opened, moved, reopened, released, on-hold, approved, rejected,
    /// withdrawn, stale, question, overdue, waiting, unreadable, arrived, refused.
    #[arg(long, value_name = "EVENTS", value_delimiter = ',')]
    only: Vec<Event>,
    /// Start this for each event, with `sh -c`.
    #[arg(long, value_name = "COMMAND")]
    run: Option<String>,
    /// The remote, by name.
    #[arg(long, value_name = "NAME")]
    remote: Option<String>,
}

/// The longest pause while the remote is gone, in seconds.
const LONGEST_PAUSE: u64 = 900;

pub(crate) fn watch(args: &WatchArgs, setting: &Setting<'_>) -> Outcome {
    if setting.around.dry_run {
        setting.done("followed the book");
        return Ok(Exit::Done);
    }
    let stop = heard()?;
    let mut watch = Watch::begin(&setting.folder, args.remote.as_deref())?;
    let mut failures = 0_u32;
    while !stop.load(Ordering::Relaxed) {
        let ended = round(&mut watch, args, setting, &stop);
        match ended {
            Ok(()) if failures > 0 => {
                setting.printer.remark("the remote is back");
                failures = 0;
            }
            Ok(()) => {}
            // A fetch that dies with us is no failure.
            Err(_) if stop.load(Ordering::Relaxed) => break,
            Err(faults) if args.once => return Err(faults),
            Err(faults) => {
                // Only the network passes by itself.
                if faults.iter().any(|f| f.class != Class::Io) {
                    return Err(faults);
                }
                if failures == 0 {
                    faults.iter().for_each(|f| setting.printer.remark(failure::in_words(f)));
                    setting.printer.remark("trying again, with longer pauses");
                }
                failures = failures.saturating_add(1);
            }
        }
        if args.once || setting.printer.is_closed() {
            break;
        }
        pause(pause_after(args.every, failures), &stop);
    }
    Ok(Exit::Done)
}

/// How long to wait: the usual time, twice as long after each failure, up to a limit, and spread, so that many who
/// wait for one remote do not come back at one moment.
fn pause_after(every: u64, failures: u32) -> Duration {
    let grown = every.saturating_mul(1_u64 << failures.min(20)).min(LONGEST_PAUSE.max(every));
    let mut byte = [0_u8; 1];
    let _ = getrandom::fill(&mut byte);
    let spread = if failures == 0 { 0.0 } else { f64::from(byte[0]) / 255.0 * 0.2 };
    Duration::from_secs(grown).mul_f64(1.0 - spread)
}

fn round(
    watch: &mut Watch,
    args: &WatchArgs,
    setting: &Setting<'_>,
    stop: &AtomicBool,
) -> Result<(), Vec<Fault>> {
    let (errand, git) = (watch.errand(), setting.around.git.clone());
    let fetching = thread::spawn(move || errand.run(&git));
    while !fetching.is_finished() {
        if stop.load(Ordering::Relaxed) {
            return Ok(()); // whatever it fetches still counts the next time
        }
        thread::sleep(Duration::from_millis(20));
    }
    if let Ok(Err(fault)) = fetching.join() {
        return Err(vec![*fault]);
    }
    let around = Surroundings { now: around::now()?, ..setting.around.clone() };
    // A second look finds nothing more to tell, and moves on.
    for _ in 0..2 {
        let items = watch.look(&around, args.all)?;
        for item in &items {
            if stop.load(Ordering::Relaxed) {
                return Ok(());
            }
            let wanted = args.only.is_empty() || args.only.contains(&item.news.event);
            if !wanted || tell(item, args, setting, &around) {
                watch.told(item)?;
            }
        }
        if items.is_empty() {
            break;
        }
    }
    Ok(())
}

/// Tells one thing; false where the command that should hear it failed.
fn tell(item: &Item, args: &WatchArgs, setting: &Setting<'_>, around: &Surroundings<'_>) -> bool {
    let news = &item.news;
    let event = json!({
        "event": news.event, "project": news.project, "title": news.title, "text": news.text,
        "people": news.people, "at": around.stamp(),
    });
    let Some(command) = &args.run else {
        setting.printer.json_line(&event);
        setting.printer.line(news.in_words(None));
        return !setting.printer.is_closed();
    };
    match start(command, news.event, &event) {
        Ok(true) => true,
        Ok(false) => {
            setting.printer.remark(format!("the command failed for: {}", news.in_words(None)));
            false
        }
        Err(e) => {
            setting.printer.remark(format!("the command could not be started: {e}"));
            false
        }
    }
}

fn start(command: &str, event: Event, object: &Value) -> std::io::Result<bool> {
    // Whoever writes the command puts these into mails and terminals.
    let text = |key: &str| visible(object[key].as_str().unwrap_or_default());
    let mut child = Command::new("sh")
        .args(["-c", command])
        .env("UNDERLIT_EVENT", event.word())
        .env("UNDERLIT_PROJECT", text("project"))
        .env("UNDERLIT_TEXT", text("text"))
        .stdin(Stdio::piped())
        .spawn()?;
    if let Some(mut pipe) = child.stdin.take() {
        // Whoever reads no input is none the worse.
        let _ = writeln!(pipe, "{}", escaped_json(&object.to_string()));
    }
    Ok(child.wait()?.success())
}
