//! `swatch measure`: the light that passes a swatch, from a spectrum, a lux meter or a photo.

use std::path::PathBuf;

use jiff::civil::Date;
use serde_json::json;

use super::failure::{Exit, Outcome};
use super::photo_args::PhotoArgs;
use super::setting::Setting;
use super::swatch_args::{Named, place};
use crate::fault::Fault;
use crate::ids::SwatchId;
use crate::light::look::decimals;
use crate::light::photometry::LuxPair;
use crate::model::kind::Kind;
use crate::model::swatch::{Certainty, FoundBy, Part, Swatch};
use crate::ops::{Desk, Reading, record};
use crate::stone::measure::{Asked, AskedPhoto, judge};
use crate::store::Changes;
use crate::units::{Millimetres, trimmed};

/// Add a measurement of the light that passes a swatch: two lux readings, a spectrum or a photo.
///
/// Lux readings, on the bare test panel and on the stone over it, tell how bright the stone is, never its
/// colour. A spectrum is CSV (wavelength in nm, then transmittance as a fraction) or IES TM-27-14 XML. A photo
/// shows the stone over the lit panel and the bare panel beside it, or the bare panel in a second photo; both
/// with the same white balance, nothing overexposed, 8 bits in sRGB. A place in it is a rectangle
/// left,top,width,height or corners "x,y x,y x,y", in pixels of the upright picture; --pick finds them. A second photo over a panel of
/// another light, under a name of its own, makes the estimate of the colours better.
///
/// What the camera leaves open narrows with --chart-photo: a chart of 24 colour patches, lit by the panel alone, by the same
/// camera with the same white balance. --values takes the place of a photo: linear values as CSV, with the columns
/// part,red,green,blue, read off a raw picture (underlit guide sums).
///
/// Example: underlit swatch measure quay-bar honey meter --bare-lx 1200 --through-lx 130 --panel-cct 3000
///
/// Example: underlit swatch measure quay-bar honey photo --pick honey.jpg --panel-spectrum panel.csv
///
/// Example: underlit swatch measure quay-bar honey photo --photo honey.jpg --stone 40,60,1200,900
/// --bare 1300,60,200,900 --panel-spectrum panel.csv
#[derive(Debug, clap::Args)]
pub(crate) struct MeasureArgs {
    #[command(flatten)]
    pub(super) named: Named,
    /// A short name for the measurement.
    pub(super) measurement: SwatchId,
    /// How thick the measured piece is; by default the swatch, or what the file's column says.
    #[arg(long, value_name = "LENGTH")]
    pub(super) thickness: Option<Millimetres>,
    /// What was measured: body or vein; by default the body.
    #[arg(long, conflicts_with = "photo")]
    part: Option<Part>,
    /// Lux on the bare test panel.
    #[arg(long, value_name = "LUX", requires = "through_lx", value_parser = super::value::lux::<f64>)]
    bare_lx: Option<f64>,
    /// Lux on the stone over it.
    #[arg(long, value_name = "LUX", requires = "bare_lx", value_parser = super::value::lux::<f64>)]
    through_lx: Option<f64>,
    /// A spectral file: wavelength in nm, transmittance as a fraction.
    #[arg(long, value_name = "FILE", conflicts_with = "photo")]
    spectrum: Option<PathBuf>,
    /// The column of the spectral file, where it has several.
    #[arg(long, value_name = "NAME", requires = "spectrum")]
    column: Option<String>,
    /// Make a page on which stone and bare panel are picked in this photo by finger, mouse or keys. It proposes what it
    /// finds, and gives back the command to run.
    #[arg(long, value_name = "PHOTO", conflicts_with_all = ["photo", "spectrum", "bare_lx", "part"])]
    pub(super) pick: Option<PathBuf>,
    /// With --pick: the page to write; by default PROJECT-SWATCH-MEASUREMENT-pick.html.
    #[arg(long, value_name = "FILE", requires = "pick")]
    pub(super) page: Option<PathBuf>,
    /// A photo of the stone over its lit panel.
    #[arg(long, value_name = "FILE", requires = "stone", requires = "bare")]
    photo: Option<PathBuf>,
    /// Where the stone is in the photo.
    #[arg(long, value_name = "AREA", requires = "photo", allow_hyphen_values = true)]
    stone: Option<String>,
    /// Where the bare lit panel is.
    #[arg(long, value_name = "AREA", requires = "photo", allow_hyphen_values = true)]
    bare: Option<String>,
    /// A second photo, in which the bare panel is.
    #[arg(long, value_name = "FILE", requires = "photo")]
    bare_photo: Option<PathBuf>,
    #[command(flatten)]
    pub(super) photos: PhotoArgs,
    /// How many times longer the stone's photo was exposed than the bare panel's; by default as the camera noted.
    #[arg(long, value_name = "NUMBER", requires = "bare_photo")]
    exposure_ratio: Option<f64>,
    /// A photo of a chart of 24 colour patches lit by the same panel alone, by the same camera: it narrows the ranges.
    #[arg(long, value_name = "FILE", requires = "photo", requires = "chart")]
    chart_photo: Option<PathBuf>,
    /// Where the field of patches is in it: a rectangle, or four corners in order around it.
    #[arg(long, value_name = "AREA", requires = "chart_photo", allow_hyphen_values = true)]
    chart: Option<String>,
    /// Two points in the photo, like the ends of a ruler laid on the stone: "x,y x,y". Pictures then say how large they are.
    #[arg(long, value_name = "POINTS", requires = "photo", requires = "scale_length")]
    scale: Option<String>,
    /// How far apart these points are on the stone.
    #[arg(long, value_name = "LENGTH", requires = "scale")]
    scale_length: Option<Millimetres>,
    /// In place of a photo: linear values of stone, bare panel and, where there is one, a chart, as CSV.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["photo", "spectrum", "pick", "part"])]
    values: Option<PathBuf>,
    /// The colour temperature of the panel it was measured over, in kelvin.
    #[arg(long, value_name = "KELVIN", value_parser = super::value::kelvin::<u32>)]
    pub(super) panel_cct: Option<u32>,
    /// The light of that panel by name, such as LED-B3 or white-4000.
    #[arg(long, value_name = "NAME", conflicts_with = "panel_spectrum")]
    pub(super) panel_light: Option<String>,
    /// The measured spectrum of that panel's light: wavelength in nm, relative power.
    #[arg(long, value_name = "FILE")]
    pub(super) panel_spectrum: Option<PathBuf>,
    /// The day, YYYY-MM-DD; by default today.
    #[arg(long, value_name = "DATE", value_parser = super::value::date)]
    pub(super) date: Option<Date>,
}

pub(super) fn measure(args: &MeasureArgs, desk: &Desk<'_>, setting: &Setting<'_>) -> Outcome {
    let (folder, path) = place(&args.named, &desk.reading)?;
    let read = [args.bare_lx.is_some(), args.spectrum.is_some(), args.photo.is_some(), args.values.is_some()];
    if !read.contains(&true) {
        return Err(vec![
            Fault::usage(
                "missing-argument",
                "a measurement is a pair of lux readings, a spectrum or a photo",
            )
            .fix("add --bare-lx … --through-lx …, --spectrum FILE, or --pick PHOTO"),
        ]);
    }
    let swatch = unmeasured(args, &desk.reading, &path)?;
    let mut changes = Changes::new();
    let date = setting.around.happened(args.date)?;
    let judged = judge(&swatch, &args.measurement, date, &asked(args), &folder, &mut changes)
        .map_err(|fault| vec![*fault])?;
    for remark in &judged.remarks {
        setting.printer.remark(format!("note: {remark}"));
    }
    let measurement = judged.measurement;
    record::change(
        desk,
        &path,
        Kind::Swatch,
        changes,
        |s: &Swatch| format!("{}: measures the light through swatch {}\n", args.named.project, s.id),
        |s| {
            s.measured.push(measurement.clone());
            Ok(())
        },
    )?;
    setting.done(format!("measured {}, {}", swatch.id, measurement.thickness_mm));
    if let Some(found) = &measurement.found {
        let how = match found.certainty {
            Certainty::Measured => "measured",
            Certainty::Estimated if measurement.values.is_some() => "estimated from the values",
            Certainty::Estimated => "estimated from the photo",
        };
        let percent = |t: f64, places| trimmed(t * 100.0, places);
        let passes = match judged.luminous_range {
            None => format!("{} %", percent(found.luminous, 2)),
            Some([low, high]) => {
                let places = decimals(low * 100.0, high * 100.0, 2);
                let [low, high] = [low, high].map(|t| percent(t, places));
                format!("{} % ({low}–{high} in nine of ten cases)", percent(found.luminous, places))
            }
        };
        setting.printer.line(format!("  {passes} of the light passes under {} ({how})", found.under));
        match found.vein_share {
            Some(share) => setting.printer.line(format!(
                "  body and vein told apart; vein {} % of the stone",
                trimmed(share * 100.0, 0)
            )),
            None if found.by == FoundBy::LuxPair => {
                setting.printer.line(format!("  {}", LuxPair::NO_COLOUR));
            }
            None => {}
        }
    }
    setting.printer.line(format!("  look at it: underlit look {} {}", args.named.project, swatch.id));
    setting.printer.json(&json!({
        "project": args.named.project, "kind": Kind::Swatch.name(), "id": swatch.id, "file": path,
        "measurement": measurement, "remarks": judged.remarks, "pick": null,
    }));
    Ok(Exit::Done)
}

/// The swatch, where it has no measurement of that name yet.
pub(super) fn unmeasured(args: &MeasureArgs, reading: &Reading, path: &str) -> Result<Swatch, Vec<Fault>> {
    let swatch: Swatch = record::existing(reading, path, Kind::Swatch)?;
    if swatch.measured.iter().any(|m| m.id == args.measurement) {
        return Err(vec![
            Fault::usage(
                "already-there",
                format!("swatch {} has a measurement {} already", swatch.id, args.measurement),
            )
            .fix("choose another name"),
        ]);
    }
    Ok(swatch)
}

fn asked(args: &MeasureArgs) -> Asked {
    Asked {
        thickness_mm: args.thickness,
        part: args.part,
        lux: args.bare_lx.zip(args.through_lx),
        spectrum: args.spectrum.clone(),
        column: args.column.clone(),
        photo: match (&args.photo, &args.stone, &args.bare) {
            (Some(file), Some(stone), Some(bare)) => Some(AskedPhoto {
                file: file.clone(),
                stone: stone.clone(),
                bare: bare.clone(),
                second: args.bare_photo.clone(),
                exposure_ratio: args.exposure_ratio,
                scale: args.scale.clone().zip(args.scale_length),
                chart: args.chart_photo.clone().zip(args.chart.clone()),
                notes: args.photos.notes(),
            }),
            _ => None,
        },
        values: args.values.clone(),
        panel_cct_k: args.panel_cct,
        panel_light: args.panel_light.clone(),
        panel_spectrum: args.panel_spectrum.clone(),
    }
}
