//! `pages`: the book as pages to look at.

use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use jiff::civil::{Date, Time};
use serde_json::{Value, json};

use super::around;
use super::failure::{self, Exit, Outcome};
use super::setting::Setting;
use super::signals::{heard, pause};
use super::value::date;
use crate::faces::pages::folder::Place;
use crate::faces::pages::{self, Outcome as Made};
use crate::fault::{Class, Fault};
use crate::trust::Surroundings;
use crate::words::counted;

/// Make pages of the whole book, for everybody who would rather look than type.
///
/// The front page says what is next and whose it is. Each job and each person has a page; others show what may be built,
/// the calendar, and the load of the shop by week. They are plain files that any host serves or a browser opens from disk.
/// They run no script and fetch nothing. Whoever can open them can read the whole book.
///
/// What did not change is neither judged nor written again, and pages of jobs that are gone are taken out. The same book
/// and day give the same bytes.
///
/// Example: underlit pages harbour-pages
#[derive(Debug, clap::Args)]
pub(crate) struct PagesArgs {
    /// The folder: a new or empty one, or one with earlier pages of this book.
    #[arg(value_name = "DIR")]
    folder: PathBuf,
    /// The day as of which everything is said, like 2027-02-05; by default today.
    #[arg(long, value_name = "DATE", value_parser = date)]
    on: Option<Date>,
    /// Go on, and bring the pages up to date whenever the book in this folder changes or a day begins. Ends cleanly on
    /// Ctrl-C and on SIGTERM.
    #[arg(long, conflicts_with = "on")]
    watch: bool,
    /// With --watch: how often to look, in seconds, 1 to 86400.
    #[arg(long, value_name = "SECONDS", default_value_t = 60, requires = "watch", value_parser = clap::value_parser!(u64).range(1..=86400))]
    every: u64,
}

pub(crate) fn pages(args: &PagesArgs, setting: &Setting<'_>) -> Outcome {
    let mut around = setting.around.clone();
    if let Some(day) = args.on {
        let noon = around.zone.to_ambiguous_timestamp(day.to_datetime(Time::constant(12, 0, 0, 0)));
        around.now = noon.compatible().map_err(|e| {
            vec![
                Fault::usage("date", format!("{day} is out of range: {e}")).fix("give a day of this century"),
            ]
        })?;
    }
    let answer = once(args, setting, &around, false)?;
    if !args.watch || around.dry_run {
        setting.printer.json(&answer);
        return Ok(Exit::Done);
    }
    setting.printer.json_line(&answer);
    let stop = heard()?;
    follow(args, setting, &stop)?;
    Ok(Exit::Done)
}

/// Brings the pages up to date again and again, until it is told to end.
fn follow(args: &PagesArgs, setting: &Setting<'_>, stop: &AtomicBool) -> Result<(), Vec<Fault>> {
    let mut failed = false;
    loop {
        pause(Duration::from_secs(args.every), stop);
        if stop.load(Ordering::Relaxed) || setting.printer.is_closed() {
            return Ok(());
        }
        let around = Surroundings { now: around::now()?, ..setting.around.clone() };
        match once(args, setting, &around, true) {
            Ok(answer) => {
                if answer["written_files"] != json!([]) || answer["removed_files"] != json!([]) {
                    setting.printer.json_line(&answer);
                }
                failed = false;
            }
            // A book that is being edited or merged is read the next time; a folder that is somebody else's is not.
            Err(faults) if faults.iter().all(|f| f.class != Class::Usage) => {
                if !failed {
                    faults.iter().for_each(|fault| setting.printer.remark(failure::in_words(fault)));
                    setting.printer.remark("the pages stay as they are until the book can be read");
                }
                failed = true;
            }
            Err(faults) => return Err(faults),
        }
    }
}

fn once(
    args: &PagesArgs,
    setting: &Setting<'_>,
    around: &Surroundings<'_>,
    again: bool,
) -> Result<Value, Vec<Fault>> {
    let reading = setting.reading()?;
    if !again {
        setting.tell_refused(&reading);
        setting.tell_held(reading.held);
        setting.printer.progress("making the pages …");
    }
    let mut place = Place::find(&args.folder, &reading.shop.book.id)?;
    let made = pages::make(&reading, &mut place, around)?;
    if !again || !made.written.is_empty() || !made.removed.is_empty() {
        say(args, setting, &made, around.today());
    }
    Ok(json!({
        "folder": args.folder,
        "as_of_date": around.today(),
        "project_count": made.jobs,
        "judged_count": made.judged,
        "file_count": made.files,
        "written_files": made.written,
        "written_byte_count": made.bytes,
        "removed_files": made.removed,
        "unreadable_projects": made.unreadable,
        "sync_refused": reading.refused,
    }))
}

fn say(args: &PagesArgs, setting: &Setting<'_>, made: &Made, day: Date) {
    let jobs = counted(made.jobs, "job", "jobs");
    setting.done(format!("made the pages of {jobs} in {}, as of {day}", args.folder.display()));
    let mut line = format!("  {} of {} written", made.written.len(), counted(made.files, "file", "files"));
    if !made.removed.is_empty() {
        line += &format!(", {} taken out", made.removed.len());
    }
    setting.printer.line(line);
    if made.files > 0 {
        setting.printer.line(format!("  begin with {}", args.folder.join("index.html").display()));
    }
    for id in &made.unreadable {
        setting.printer.line(format!("  {id} cannot be read: its page says why"));
    }
}
