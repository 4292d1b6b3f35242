//! `changes`: what changed since it was signed, and who must sign again.

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::gates::facts::parts_changed;
use crate::ids::ProjectId;
use crate::ops::changes::{self, ChangeSheet, StaleSignOff};

/// The change sheet: every sign-off that no longer fits, each fact from what to what, and who must sign again.
///
/// What was built is compared with the plan as well. The exit code is 1 where a gate waits for a new
/// signature.
///
/// Example: underlit changes quay-bar
#[derive(Debug, clap::Args)]
pub(crate) struct ChangesArgs {
    /// The project.
    project: ProjectId,
}

pub(crate) fn changes(args: &ChangesArgs, setting: &Setting<'_>) -> Outcome {
    let reading = setting.reading()?;
    let sheet = changes::sheet(&reading, &args.project)?;
    show(&sheet, setting);
    setting.printer.json(&sheet);
    let waiting = sheet.stale.iter().any(|s| s.asked_for);
    Ok(if waiting { Exit::Blocked } else { Exit::Done })
}

fn show(sheet: &ChangeSheet, setting: &Setting<'_>) {
    let printer = setting.printer;
    let built = if sheet.released { "may be built as it is" } else { "may not be built as it is" };
    printer
        .line(format!("CHANGE SHEET  {} — {}, stage {}, {built}", sheet.project, sheet.title, sheet.stage));
    if sheet.stale.is_empty() {
        printer.line("every approval that was given fits the job as it is");
    }
    sheet.stale.iter().for_each(|s| stale(s, setting));
    if !sheet.as_built.is_empty() {
        printer.line("");
        printer.line("as built");
        for line in &sheet.as_built {
            let mark = if line.far_off { "LOOK INTO" } else { "fits" };
            printer.line(format!("  {mark:9}  {}", line.sentence));
        }
    }
    if let Some(differs) = &sheet.differs {
        printer.line(format!("  differs    {differs}"));
    }
}

fn stale(s: &StaleSignOff, setting: &Setting<'_>) {
    let printer = setting.printer;
    let day = s.at.get(..10).unwrap_or(&s.at);
    printer.line("");
    printer.line(format!(
        "{}: {} by {} ({}) on {day}, {}",
        s.about,
        s.decision,
        s.who,
        s.role,
        s.sha256.get(..12).unwrap_or_default()
    ));
    // The digests of the pack tell nothing where the figures in it stand beside them.
    let figures = s.changes.iter().any(|c| !c.is_of_pack());
    let shown: Vec<(String, String, String)> =
        s.changes.iter().filter(|c| !figures || !c.is_of_pack()).map(|c| c.columns()).collect();
    let width = |pick: fn(&(String, String, String)) -> &String, least: usize| {
        shown.iter().map(|row| pick(row).chars().count()).max().unwrap_or(0).max(least).min(48)
    };
    let (fact, old) = (width(|r| &r.0, 4), width(|r| &r.1, 6));
    printer.line(format!("    {:fact$}  {:old$}  now", "fact", "signed"));
    for (name, signed, now) in &shown {
        printer.line(format!("    {name:fact$}  {signed:old$}  {now}"));
    }
    let parts = parts_changed(&s.changes);
    if !parts.is_empty() {
        printer.line(format!("    parts of the build pack that change with it: {}", parts.join(", ")));
    }
    if s.asked_for {
        printer.line(format!("    must sign again: {} ({})", s.sign_again.join(" or "), s.role));
        printer.line(format!("    how: {}", s.command));
    } else {
        printer.line("    nobody need sign it again: no gate up to the next one waits for it");
    }
}
