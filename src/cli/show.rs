//! `show`: any record of a project or of the shop, in words.

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::ids::ProjectId;
use crate::model::kind::Kind;
use crate::ops::notes;
use crate::ops::show::{self, Shown};

/// Show a record in words: its fields by their names, with their units.
///
/// Without a kind, the records that there are. Kinds: project, swatch, request, trial, panel, outline, rendering, sign-off, move,
/// note, conflict, as-built, installation; with --shop: book, rules, routes, lights, drivers, controls, wire, calendar, roster.
///
/// Example: underlit show quay-bar panel front
#[derive(Debug, clap::Args)]
pub(crate) struct ShowArgs {
    /// The project.
    #[arg(required_unless_present = "shop")]
    project: Option<ProjectId>,
    /// The kind of record.
    #[arg(value_name = "KIND")]
    kind: Option<String>,
    /// Its name; the first digits of a sign-off or move are enough, and none is needed where there is only one.
    #[arg(value_name = "NAME")]
    name: Option<String>,
    /// A record of the shop or the whole book: routes, drivers, rules, roster …
    #[arg(long, value_name = "KIND", conflicts_with_all = ["project", "kind", "name"], num_args = 0..=2)]
    shop: Option<Vec<String>>,
}

pub(crate) fn show(args: &ShowArgs, setting: &Setting<'_>) -> Outcome {
    let reading = setting.reading()?;
    let records = show::records(&reading.book, args.project.as_ref())?;
    let asked = args.shop.as_deref().unwrap_or_default();
    let kind = args.kind.as_deref().or(asked.first().map(String::as_str));
    let name = args.name.as_deref().or(asked.get(1).map(String::as_str));
    let Some(kind) = kind else { return Ok(list(&records, setting)) };
    let record = show::find(records, kind, name)?;
    let units = reading.shop.book.units;
    let (lines, value) = show::lines(&reading.book, &record, units)?;
    setting.printer.line(&record.path);
    let widest = lines.iter().filter(|l| !l.says.is_empty()).map(|l| 2 * l.depth + l.title.chars().count());
    let width = widest.max().unwrap_or(0).min(44);
    for line in &lines {
        let title = format!("{}{}", "  ".repeat(line.depth), line.title);
        setting.printer.line(format!("  {title:width$}  {}", line.says).trim_end());
    }
    let notes = match &args.project {
        Some(id) if record.kind != Kind::Note => {
            // A project that cannot be read as a whole still shows its records.
            let snapshot = reading.project(id).ok();
            snapshot.map(|all| notes::on(&reading, &all, record.kind, &record.name)).unwrap_or_default()
        }
        _ => Vec::new(),
    };
    notes.iter().for_each(|note| setting.printer.line(format!("  noted {}", note.in_words())));
    setting.printer.json(&json!({
        "kind": record.kind.name(), "id": record.name, "file": record.path, "record": value, "notes": notes,
    }));
    Ok(Exit::Done)
}

fn list(records: &[Shown], setting: &Setting<'_>) -> Exit {
    for record in records {
        let short = record.name.get(..12).filter(|_| record.name.len() == 64).unwrap_or(&record.name);
        setting.printer.line(format!("{:12}  {short}", record.kind.name()).trim_end());
    }
    let all = records.iter().map(|r| json!({ "kind": r.kind.name(), "id": r.name, "file": r.path }));
    setting.printer.json(&json!({ "records": all.collect::<Vec<_>>() }));
    Exit::Done
}
