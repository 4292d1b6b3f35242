//! `import`: a shop's running jobs, in one step. What is taken from a spreadsheet is said here for every verb that does.

use std::path::PathBuf;

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::fault::Fault;
use crate::ids::PersonId;
use crate::model::kind::Kind;
use crate::ops::import::Spreadsheet;
use crate::ops::import::jobs::{self, Field, How};
use crate::words::counted;

/// Open a project for each running job in a shop's spreadsheet: a workbook (.xlsx) or a CSV file with a row for each.
///
/// People are named as the roster has them. Every job starts at the first stage: what was agreed before is said again by those
/// who may. Nothing is made where a row does not fit.
///
/// Example: underlit import running.csv --rep mara --column title=Project --column install="Due date"
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    #[command(flatten)]
    table: TableArgs,
    /// A column that is headed otherwise: job, title, client, rep, designer, engineer, fabricator, installer, site, address,
    /// install or note.
    #[arg(long, value_name = "WHAT=HEADING", value_parser = column::<Field>)]
    column: Vec<(Field, String)>,
    /// Who looks after jobs whose row names nobody; by default you.
    #[arg(long, value_name = "PERSON")]
    rep: Option<PersonId>,
}

/// A table in a file.
#[derive(Debug, clap::Args)]
pub(super) struct TableArgs {
    /// The table: a workbook (.xlsx), or CSV.
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// The sheet of a workbook; by default the first that is not hidden.
    #[arg(long, value_name = "NAME")]
    sheet: Option<String>,
}

impl TableArgs {
    /// What is in the file.
    pub(super) fn read(&self) -> Result<Spreadsheet, Vec<Fault>> {
        let name = self.file.display().to_string();
        let bytes = std::fs::read(&self.file).map_err(|e| {
            vec![
                Fault::usage("schedule", format!("it cannot be read: {e}"))
                    .in_file(&name)
                    .fix("name a file of this folder, or its whole path"),
            ]
        })?;
        Ok(Spreadsheet { name, bytes, sheet: self.sheet.clone() })
    }
}

/// A column that is headed otherwise than usual.
pub(super) fn column<T: std::str::FromStr<Err: ToString>>(text: &str) -> Result<(T, String), String> {
    let (field, heading) = text.split_once('=').ok_or("write it like note=\"Remarks\"")?;
    let field = field.trim().parse::<T>().map_err(|e| e.to_string())?;
    Ok((field, heading.trim().to_owned()))
}

/// Says which columns say nothing to us, and which sheets were not looked at.
pub(super) fn tell_unread(columns: &[String], sheets: &[String], setting: &Setting<'_>) {
    for (what, names) in [("columns", columns), ("sheets", sheets)] {
        if !names.is_empty() {
            setting.printer.remark(format!("note: {what} not read: {}", names.join(", ")));
        }
    }
}

pub(crate) fn run(args: &Args, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let given = args.table.read()?;
    let rep = match &args.rep {
        Some(rep) if desk.reading.chain.newest().person(rep).is_none() => {
            return Err(vec![desk.reading.chain.newest().unknown(rep)]);
        }
        Some(rep) => rep.clone(),
        None => desk.me()?,
    };
    let how = How { columns: args.column.clone(), rep, today: setting.around.today() };
    let found = jobs::read(&given, &desk, &how)?;
    jobs::save(&desk, &found)?;
    setting.done(format!("opened {}", counted(found.projects.len(), "project", "projects")));
    for project in &found.projects {
        let day = project.install_date.map_or_else(String::new, |day| format!(", to be installed on {day}"));
        let client = desk.reading.shop.roster.name_of(&project.people.client);
        setting.printer.line(format!("  {:16} {}, for {client}{day}", project.id, project.title));
    }
    tell_unread(&found.unread, &found.others, setting);
    setting.printer.line("  next: underlit board");
    setting.printer.json(&json!({
        "columns_not_read": found.unread,
        "sheets_not_read": found.others,
        "projects": found.projects.iter().map(|project| json!({
            "kind": Kind::Project.name(),
            "id": project.id,
            "title": project.title,
            "client": project.people.client,
            "rep": project.people.rep,
            "install_date": project.install_date,
        })).collect::<Vec<_>>(),
    }));
    Ok(Exit::Done)
}
