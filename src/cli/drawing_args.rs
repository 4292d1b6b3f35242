//! How a drawing is to be read: the options that every verb which reads one shares.

use std::path::{Path, PathBuf};

use super::printer::Printer;
use crate::fault::Fault;
use crate::ops::outline::read_users_drawing;
use crate::shape::{DrawingUnit, JOIN_MM, Layers, ReadOptions, Reading};
use crate::store::write::write_whole;
use crate::units::Millimetres;

/// How a drawing is to be read.
#[derive(Debug, clap::Args)]
pub(crate) struct DrawingArgs {
    /// The unit in which it is drawn: mm, cm, m, in, ft or px; overrides what the file says.
    #[arg(long, value_name = "UNIT", value_parser = unit)]
    unit: Option<DrawingUnit>,
    /// Ends closer than this are joined, with its unit.
    #[arg(long, value_name = "LENGTH")]
    join: Option<Millimetres>,
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

fn unit(sign: &str) -> Result<DrawingUnit, String> {
    DrawingUnit::of_sign(sign).ok_or_else(|| format!("`{sign}` is none of mm, cm, m, in, ft, px"))
}

impl DrawingArgs {
    /// The options for the reader.
    pub(crate) fn options(&self) -> ReadOptions {
        ReadOptions {
            join_mm: self.join.map_or(JOIN_MM, |j| j.0),
            unit: self.unit,
            layers: Layers {
                outline: self.outline_layer.clone(),
                cutouts: self.cutout_layer.clone(),
                etchings: self.etching_layer.clone(),
                marks: self.mark_layer.clone(),
                stone_joints: self.joint_layer.clone(),
            },
        }
    }

    /// Reads a drawing; where it is refused and a picture was asked for, draws the flaws.
    pub(crate) fn read(&self, file: &Path, printer: &Printer, dry_run: bool) -> Result<Reading, Vec<Fault>> {
        read_users_drawing(file, &self.options()).map_err(|refused| {
            if let (Some(target), Some(picture)) = (&self.picture, &refused.picture) {
                match if dry_run { Ok(()) } else { write_whole(target, picture.as_bytes()) } {
                    Ok(()) if dry_run => printer.remark(format!(
                        "the flaws would be drawn in {} (nothing was written)",
                        target.display()
                    )),
                    Ok(()) => printer.remark(format!("the flaws are drawn in {}", target.display())),
                    Err(error) => printer.remark(format!("the flaws could not be drawn: {error}")),
                }
            }
            refused.faults
        })
    }
}
