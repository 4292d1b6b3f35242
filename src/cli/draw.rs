//! `draw`: the exact rendering of a panel.

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::model::id::{PanelId, ProjectId};
use crate::ops::draw;

/// Draw the exact rendering of a panel, as SVG and PDF, from its outline and its choice.
///
/// What was signed on an earlier revision is stale once the drawing changes.
///
/// Example: underlit draw quay-desk front
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// The project.
    project: ProjectId,
    /// The panel.
    panel: PanelId,
}

pub(crate) fn run(args: &Args, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let drawn = draw::draw(&desk, &args.project, &args.panel)?;
    let folder = format!("projects/{}/renderings/{}", args.project, args.panel);
    if drawn.changed {
        setting.done(format!("drew panel {}, revision {}", args.panel, drawn.manifest.revision));
    } else {
        setting.printer.line(format!(
            "the drawing of panel {} is up to date, revision {}",
            args.panel, drawn.manifest.revision
        ));
    }
    setting.printer.line(format!("  {folder}/{} and {}", drawn.manifest.sheet.file, drawn.manifest.pdf.file));
    drawn.remarks.iter().for_each(|r| setting.printer.line(format!("  note: {r}")));
    setting.printer.json(&json!({
        "panel": args.panel,
        "revision": drawn.manifest.revision,
        "changed": drawn.changed,
        "sheet": format!("{folder}/{}", drawn.manifest.sheet.file),
        "pdf": format!("{folder}/{}", drawn.manifest.pdf.file),
        "remarks": drawn.remarks,
    }));
    Ok(Exit::Done)
}
