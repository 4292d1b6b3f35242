//! `check` and `schemas`: what is wrong with a book, and the schemas that say so.

use std::fs;
use std::path::PathBuf;

use serde_json::{Value, json};

use super::failure::{Exit, Outcome, as_json};
use super::setting::Setting;
use crate::model::id::ProjectId;
use crate::ops::check;
use crate::store::{BookFolder, safe_path, schemas};

/// Say everything that is wrong with a book, all of it at once: file, place, line, reason and remedy.
///
/// Example: underlit check quay-bar
#[derive(Debug, clap::Args)]
pub(crate) struct CheckArgs {
    /// Only this project.
    project: Option<ProjectId>,
}

pub(crate) fn check(args: &CheckArgs, setting: &Setting<'_>) -> Outcome {
    let book = BookFolder::find(&setting.folder).map_err(|f| vec![*f])?;
    if let Some(id) = &args.project {
        book.project(id).map_err(|f| vec![*f])?;
    }
    let checked = check::check(&book, args.project.as_ref());
    if checked.faults.is_empty() {
        setting.printer.line(format!("{} files, nothing wrong", checked.files));
        setting.printer.json(&json!({ "files": checked.files, "faults": [] }));
        return Ok(Exit::Done);
    }
    if setting.printer.is_json() {
        let faults: Vec<Value> = checked.faults.iter().map(as_json).collect();
        setting.printer.json(&json!({ "files": checked.files, "faults": faults, "error": faults.first() }));
        return Err(checked
            .faults
            .into_iter()
            .map(|f| crate::fault::Fault { code: super::SAID, ..f })
            .collect());
    }
    Err(checked.faults)
}

/// Write out the JSON Schemas, for editors and other validators.
///
/// Example: underlit schemas --into schema
#[derive(Debug, clap::Args)]
pub(crate) struct SchemasArgs {
    /// The folder to write them into.
    #[arg(long, value_name = "DIR")]
    into: PathBuf,
}

pub(crate) fn schemas(args: &SchemasArgs, setting: &Setting<'_>) -> Outcome {
    let io = |e: std::io::Error| vec![safe_path::io_fault(&args.into.display().to_string(), "write", &e)];
    if !setting.around.dry_run {
        fs::create_dir_all(&args.into).map_err(io)?;
        for (name, text) in schemas::FILES {
            crate::store::write::write_whole(&args.into.join(name), text.as_bytes()).map_err(io)?;
        }
    }
    setting.done(format!("wrote {} schemas into {}", schemas::FILES.len(), args.into.display()));
    setting.printer.json(&json!({ "schemas": schemas::FILES.iter().map(|(n, _)| n).collect::<Vec<_>>() }));
    Ok(Exit::Done)
}
