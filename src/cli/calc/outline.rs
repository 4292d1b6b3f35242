//! `calc outline`: what a drawing measures.

use std::path::PathBuf;

use serde_json::json;

use crate::cli::failure::{Exit, Outcome};
use crate::cli::printer::Printer;
use crate::ops::project::read_outline;
use crate::ops::record::read_users_file;
use crate::shape::figures;
use crate::units::trimmed;

/// Measure an outline: shape, area, perimeter, least rectangle, radii and edges.
///
/// The perimeter is the outer contour's; the area is net of cut-outs.
///
/// Example: underlit calc outline desk.json --json
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// The drawing.
    file: PathBuf,
}

pub(crate) fn run(args: &Args, printer: &Printer) -> Outcome {
    let (bytes, _) = read_users_file(&args.file).map_err(|f| vec![*f])?;
    let name = args.file.display().to_string();
    let outline = read_outline(&name, &bytes).map_err(|f| vec![f])?;
    let figures = figures(&outline);
    printer.line(format!("{}, {} mm²", figures.shape, trimmed(figures.area_mm2, 3)));
    printer.json(&json!({ "shape": figures.shape, "area_mm2": figures.area_mm2 }));
    Ok(Exit::Done)
}
