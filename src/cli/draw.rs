//! `draw`: the exact rendering of a panel.

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::fault::Fault;
use crate::ids::{PanelId, ProjectId};
use crate::ops::draw::{self, Drawn};
use crate::store::safe_path::io_fault;
use crate::store::write::write_whole;

/// Draw the exact rendering of a panel, as SVG and PDF, from its outline and its choice.
///
/// What was signed on an earlier revision is stale once the drawing changes. A name that was corrected since is a note,
/// where the sheet was signed, and drawn anew where it was not. --png writes every sheet as a picture too,
/// for a message or a screen: no part of the rendering that is signed.
///
/// Example: underlit draw quay-desk front --png pictures
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// The project.
    project: ProjectId,
    /// The panel.
    panel: PanelId,
    /// Draw anew where the sheet shows a name that was corrected since, although what was signed on it goes stale.
    #[arg(long)]
    names: bool,
    /// Write every sheet as PNG into this folder, outside the book's own files.
    #[arg(long, value_name = "DIR")]
    png: Option<PathBuf>,
    /// With --png: dots an inch, 20 to 600.
    #[arg(long, default_value_t = 200.0, value_name = "DOTS", requires = "png")]
    dots: f64,
}

pub(crate) fn run(args: &Args, setting: &Setting<'_>) -> Outcome {
    if args.png.is_some() && !(20.0..=600.0).contains(&args.dots) {
        return Err(vec![
            Fault::usage("out-of-range", format!("{} dots an inch is not within 20 to 600", args.dots))
                .fix("200 prints well on A4; 96 is enough for a screen"),
        ]);
    }
    let desk = setting.desk()?;
    if let Some(folder) = &args.png {
        refuse_projects_folder(folder, desk.reading.book.root())?;
    }
    let drawn = draw::draw(&desk, &args.project, &args.panel, args.names)?;
    let folder = format!("projects/{}/renderings/{}", args.project, args.panel);
    if drawn.changed {
        setting.done(format!("drew panel {}, revision {}", args.panel, drawn.manifest.revision));
    } else {
        setting.printer.line(format!(
            "the drawing of panel {} is up to date, revision {}",
            args.panel, drawn.manifest.revision
        ));
    }
    let sheets: Vec<String> = drawn.manifest.sheets().map(|s| format!("{folder}/{}", s.file)).collect();
    for sheet in &sheets {
        setting.printer.line(format!("  {sheet}"));
    }
    setting.printer.line(format!("  {folder}/{}", drawn.manifest.pdf.file));
    drawn.remarks.iter().for_each(|r| setting.printer.line(format!("  note: {r}")));
    let pictures = match &args.png {
        None => Vec::new(),
        Some(into) => pictures(args, &drawn, into, setting)?,
    };
    setting.printer.json(&json!({
        "project": args.project,
        "panel": args.panel,
        "revision": drawn.manifest.revision,
        "changed": drawn.changed,
        "sheets": sheets,
        "pdf": format!("{folder}/{}", drawn.manifest.pdf.file),
        "pictures": pictures,
        "remarks": drawn.remarks,
    }));
    Ok(Exit::Done)
}

/// A picture among the records would be a file that no record names.
fn refuse_projects_folder(folder: &Path, root: &Path) -> Result<(), Vec<Fault>> {
    let Ok(root) = root.canonicalize() else { return Ok(()) };
    let start = std::env::current_dir().unwrap_or_default().join(folder);
    let there = start.ancestors().find_map(|f| f.canonicalize().ok()).unwrap_or(start);
    if there.starts_with(root.join("projects")) {
        return Err(vec![
            Fault::usage(
                "inside-the-book",
                format!("{} lies among the book's own records", folder.display()),
            )
            .fix("name a folder outside projects/"),
        ]);
    }
    Ok(())
}

/// Writes every sheet as PNG and gives the files' names.
fn pictures(
    args: &Args,
    drawn: &Drawn,
    into: &Path,
    setting: &Setting<'_>,
) -> Result<Vec<String>, Vec<Fault>> {
    let bytes = draw::pictures(drawn, args.dots)?;
    let count = bytes.len();
    let mut written = Vec::new();
    for (number, bytes) in (1..).zip(bytes) {
        let sheet = if count == 1 { String::new() } else { format!("-sheet-{number}") };
        let file = into.join(format!("{}-{}{sheet}.png", args.project, args.panel));
        if !setting.around.dry_run {
            let io = |e: std::io::Error| vec![io_fault(&into.display().to_string(), "write", &e)];
            fs::create_dir_all(into).map_err(io)?;
            write_whole(&file, &bytes).map_err(io)?;
        }
        setting.done(format!("wrote {}", file.display()));
        written.push(file.display().to_string());
    }
    Ok(written)
}
