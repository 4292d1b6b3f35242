//! `next`: the first thing to type in the morning.

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::printer::Ink;
use super::setting::Setting;
use crate::ids::PersonId;
use crate::ops::{board, next};
use crate::words::{business_days, counted};

/// What you can do next, over all jobs, the most pressing first, each with its command.
///
/// Example: underlit next --person imke
#[derive(Debug, clap::Args)]
pub(crate) struct NextArgs {
    /// Somebody else's next things.
    #[arg(long, value_name = "PERSON")]
    person: Option<PersonId>,
    /// All of them, however many.
    #[arg(long)]
    all: bool,
}

/// How many are shown where nobody asks for all.
const SHOWN: usize = 10;

pub(crate) fn run(args: &NextArgs, setting: &Setting<'_>) -> Outcome {
    let reading = setting.reading()?;
    setting.tell_refused(&reading);
    setting.tell_held(reading.held);
    let roster = reading.chain.newest();
    let person = match &args.person {
        Some(person) if roster.person(person).is_none() => return Err(vec![roster.unknown(person)]),
        Some(person) => person.clone(),
        None => reading.who_asks(&setting.around)?,
    };
    let rows = board::board(&reading, &setting.around)?;
    let acts = next::acts(&rows, &person, roster);
    let others = rows.iter().filter(|row| {
        row.stage.is_some_and(|stage| stage.next().is_some()) && !acts.iter().any(|act| act.project == row.id)
    });
    let others = others.count();
    let unreadable: Vec<&str> =
        rows.iter().filter(|row| row.stage.is_none()).map(|row| row.id.as_str()).collect();
    setting.printer.json(&json!({
        "person": person, "acts": acts, "other_project_count": others, "unreadable": unreadable, "part": reading.held,
    }));
    let elsewhere = match others {
        0 => String::new(),
        _ => format!("; {} with others: underlit board", counted(others, "job is", "jobs are")),
    };
    if acts.is_empty() {
        setting
            .printer
            .line(format!("nothing waits for {}{elsewhere}", reading.shop.roster.name_of(&person)));
    } else {
        let things = counted(acts.len(), "thing waits", "things wait");
        setting.printer.line_in(
            Ink::Head,
            format!(
                "{things} for {}, the most pressing first{elsewhere}",
                reading.shop.roster.name_of(&person)
            ),
        );
    }
    let shown = if args.all { acts.len() } else { SHOWN };
    for act in acts.iter().take(shown) {
        let time = match (act.late, act.spare_business_days) {
            (true, _) => ", TOO LATE for its install date".to_owned(),
            (false, Some(days)) => format!(", {} to spare", business_days(days)),
            (false, None) => String::new(),
        };
        let held = if act.holds_up { ", ON HOLD" } else { "" };
        let title = act.title.as_deref().unwrap_or_default();
        let ink = if act.late || act.holds_up { Ink::Late } else { Ink::Plain };
        setting.printer.line("");
        setting.printer.line_in(ink, format!("{} — {title}{held}{time}", act.project));
        setting.printer.line(format!("  {}", act.what));
        setting.printer.line(format!("  {}", act.command));
    }
    if acts.len() > shown {
        setting.printer.line("");
        setting.printer.line(format!("{} more: underlit next --all", acts.len() - shown));
    }
    if !unreadable.is_empty() {
        setting.printer.line(format!("cannot be read: {}: underlit check", unreadable.join(", ")));
    }
    Ok(Exit::Done)
}
