//! How a drawing is to be read: the options that every verb which reads one shares.

use std::path::{Path, PathBuf};

use super::printer::Printer;
use crate::fault::Fault;
use crate::ops::outline::read_users_drawing;
use crate::shape::{DrawingUnit, JOIN_MM, Layers, Outline, Point, ReadOptions, Reading};
use crate::store::write::write_whole;
use crate::units::{MM_PER_INCH, Millimetres, trimmed};

/// How a drawing is to be read.
#[derive(Debug, clap::Args)]
pub(crate) struct DrawingArgs {
    /// The unit in which it is drawn: mm, cm, m, in, ft or px; overrides what the file says.
    #[arg(long, value_name = "UNIT", value_parser = unit)]
    unit: Option<DrawingUnit>,
    /// Ends closer than this are joined, with its unit.
    #[arg(long, value_name = "LENGTH")]
    join: Option<Millimetres>,
    /// Make arcs of short lines that stand for curves, no farther from them than this; how far they come out is told.
    #[arg(long, value_name = "LENGTH", num_args = 0..=1, require_equals = true, default_missing_value = "0.1mm")]
    fit: Option<Millimetres>,
    /// The layer of the outline; without any layer named, containment decides.
    #[arg(long, value_name = "LAYER")]
    outline_layer: Option<String>,
    /// The layer of the cut-outs.
    #[arg(long, value_name = "LAYER")]
    cutout_layer: Option<String>,
    /// The layer of what is etched.
    #[arg(long, value_name = "LAYER")]
    etching_layer: Option<String>,
    /// The layer of the marks.
    #[arg(long, value_name = "LAYER")]
    mark_layer: Option<String>,
    /// The layer of the stone's joints.
    #[arg(long, value_name = "LAYER")]
    joint_layer: Option<String>,
    /// Where the drawing is refused, write an SVG picture of the places here.
    #[arg(long, value_name = "FILE")]
    picture: Option<PathBuf>,
}

/// Panels are made from about as small as this, in millimetres, to about as large as this. Common practice, no source:
/// a drawing outside is more likely read in the wrong unit.
const USUAL_SIZES_MM: (f64, f64) = (25.0, 25_000.0);

/// What makes a size doubtful; none where panels have such sizes.
pub(crate) fn doubtful_size(outline: &Outline) -> Option<String> {
    let side = |along: Point| {
        let (low, high) = outline.outer.extent(along);
        high - low
    };
    let (width, height) = (side(Point::new(1.0, 0.0)), side(Point::new(0.0, 1.0)));
    let (small, large) = USUAL_SIZES_MM;
    let long = width.max(height);
    let doubt = if long < small {
        "very small"
    } else if long > large {
        "very large"
    } else {
        return None;
    };
    Some(format!(
        "the outline is {} × {} mm ({} in), {doubt} for a panel: is the unit right?",
        trimmed(width, 3),
        trimmed(height, 3),
        [width, height].map(|side| trimmed(side / MM_PER_INCH, 3)).join(" × ")
    ))
}

fn unit(sign: &str) -> Result<DrawingUnit, String> {
    DrawingUnit::of_sign(sign).ok_or_else(|| format!("`{sign}` is none of mm, cm, m, in, ft, px"))
}

impl DrawingArgs {
    /// The options for the reader.
    pub(crate) fn options(&self) -> ReadOptions {
        ReadOptions {
            join_mm: self.join.map_or(JOIN_MM, |j| j.0),
            unit: self.unit,
            fit_mm: self.fit.map(|f| f.0).filter(|f| *f > 0.0),
            layers: Layers {
                outline: self.outline_layer.clone(),
                cutouts: self.cutout_layer.clone(),
                etchings: self.etching_layer.clone(),
                marks: self.mark_layer.clone(),
                stone_joints: self.joint_layer.clone(),
            },
        }
    }

    /// Reads a panel's drawing: as [`DrawingArgs::read`], and asks for the unit where the size makes it doubtful.
    pub(crate) fn read_for_panel(
        &self,
        file: &Path,
        printer: &Printer,
        dry_run: bool,
    ) -> Result<Reading, Vec<Fault>> {
        let reading = self.read(file, printer, dry_run)?;
        match doubtful_size(&reading.outline) {
            Some(doubt) if self.unit.is_none() && file.extension().is_none_or(|e| e != "json") => {
                Err(vec![Fault::usage("size-doubtful", doubt).in_file(file.display().to_string()).fix(
                    "say in which unit it is drawn: --unit mm, cm, m, in or ft, also where the file has it right",
                )])
            }
            _ => Ok(reading),
        }
    }

    /// Reads a drawing; where it is refused and a picture was asked for, draws the flaws.
    pub(crate) fn read(&self, file: &Path, printer: &Printer, dry_run: bool) -> Result<Reading, Vec<Fault>> {
        read_users_drawing(file, &self.options()).map_err(|refused| {
            if let (Some(target), Some(picture)) = (&self.picture, &refused.picture) {
                match if dry_run { Ok(()) } else { write_whole(target, picture.as_bytes()) } {
                    Ok(()) if dry_run => {
                        printer.remark(format!("dry run: the flaws would be drawn in {}", target.display()))
                    }
                    Ok(()) => printer.remark(format!("the flaws are drawn in {}", target.display())),
                    Err(error) => printer.remark(format!("the flaws could not be drawn: {error}")),
                }
            }
            refused.faults
        })
    }
}
