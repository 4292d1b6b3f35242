//! `advance` and `reopen`: from stage to stage.

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use super::wording::finding_lines;
use crate::ids::ProjectId;
use crate::model::stage::Stage;
use crate::ops::advance::{self, Advanced};
use crate::words::counted;

/// Move a project to its next stage, if everything that the gate asks for is met.
///
/// Where something is missing, all of it is listed with who can give it and how, and the exit code is 1.
///
/// Example: underlit advance quay-bar
#[derive(Debug, clap::Args)]
pub(crate) struct AdvanceArgs {
    /// The project.
    project: ProjectId,
    /// The stage that is meant, to be sure; it must be the next one.
    #[arg(long, value_name = "STAGE")]
    to: Option<Stage>,
}

pub(crate) fn advance(args: &AdvanceArgs, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    match advance::advance(&desk, &args.project, args.to)? {
        Advanced::Moved { from, to, digest, warnings } => {
            setting.done(format!("{} moves from {from} to {to}", args.project));
            if !warnings.is_empty() {
                let notes = counted(warnings.len(), "note", "notes");
                setting.printer.line(format!("  {notes} on it: underlit status {}", args.project));
            }
            setting.printer.json(&json!({
                "project": args.project, "moved": true, "from": from, "to": to, "sha256": digest, "missing": [],
                "warnings": warnings,
            }));
            Ok(Exit::Done)
        }
        Advanced::Blocked { at, verdict, warnings } => {
            let missing: Vec<_> = verdict.missing().collect();
            setting.printer.line(format!(
                "{} stays at {at}: {} before {}",
                args.project,
                match missing.len() {
                    1 => "one thing is missing".to_owned(),
                    n => format!("{n} things are missing"),
                },
                verdict.into
            ));
            for finding in &missing {
                finding_lines(finding, setting.printer);
            }
            setting.printer.json(&json!({
                "project": args.project, "moved": false, "from": at, "to": verdict.into, "sha256": null,
                "missing": missing, "warnings": warnings,
            }));
            Ok(Exit::Blocked)
        }
    }
}

/// Move a project back to an earlier stage, with a reason. A hold beats a release.
///
/// Example: underlit reopen quay-bar selection --reason "the client wants to see 2700 K again"
#[derive(Debug, clap::Args)]
pub(crate) struct ReopenArgs {
    /// The project.
    project: ProjectId,
    /// The stage to go back to.
    stage: Stage,
    /// Why.
    #[arg(long, value_name = "TEXT")]
    reason: String,
}

pub(crate) fn reopen(args: &ReopenArgs, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let (from, digest) = advance::reopen(&desk, &args.project, args.stage, &args.reason)?;
    setting.done(format!("{} goes back from {from} to {}", args.project, args.stage));
    setting.printer.json(&json!({
        "project": args.project, "moved": true, "from": from, "to": args.stage, "sha256": digest, "missing": [],
        "warnings": [],
    }));
    Ok(Exit::Done)
}
