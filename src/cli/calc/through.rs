//! `calc through`: what a light becomes behind a stone.

use std::path::{Path, PathBuf};

use serde_json::{Map, Value, json};

use super::white::{Lights, one_or_all, remark_on, rounded};
use crate::cli::failure::{Exit, Outcome};
use crate::cli::printer::Printer;
use crate::fault::{self, Fault};
use crate::light::columns::Read;
use crate::light::slab::USUAL_INDEX;
use crate::light::spectrum::Spd;
use crate::light::spectrum_csv::{self, StoneColumn};
use crate::light::thickness::{Assumed, Basis, Beyond, Measured, bracket};
use crate::light::through::{Through, as_measured, through};
use crate::light::tm27;
use crate::ops::record::read_users_file;
use crate::stone::spectra::bad_measurement;
use crate::units::{Lux, Millimetres, trimmed};

/// Work out what a light becomes behind a stone: transmittance, luminance and colour per thickness.
///
/// A stone is CSV (wavelength in nm, then transmittance as a fraction) or IES TM-27-14 XML. A column may name
/// its thickness, `transmittance_10mm`, and be percent, `transmittance_10mm_pct`; several thicknesses of one
/// stone stand side by side. Another thickness gets a range that holds it in nine of ten cases: wide from one measured
/// thickness, narrower from two or three. It counts the faces of the stone, polished or honed, with air on both sides.
///
/// Example: underlit calc through --stone onyx.csv --light LED-B3 --measured-at 10mm --thickness 20mm
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// Files with a stone's measured transmittance.
    #[arg(long = "stone", value_name = "FILE", required = true, num_args = 1..)]
    stones: Vec<PathBuf>,
    #[command(flatten)]
    lights: Lights,
    /// The thickness to work out; by default the measured ones.
    #[arg(long = "thickness", value_name = "LENGTH", num_args = 1..)]
    thicknesses: Vec<Millimetres>,
    /// The thickness of the measured piece, where its column does not name it.
    #[arg(long, value_name = "LENGTH")]
    measured_at: Option<Millimetres>,
    /// What a lux meter reads on the bare panel, for the luminance.
    #[arg(long, value_name = "LUX", default_value_t = 1000.0, value_parser = super::super::value::lux::<f64>)]
    bare_lx: f64,
    /// The refractive index of the stone.
    #[arg(long, value_name = "INDEX", default_value_t = USUAL_INDEX)]
    index: f64,
    /// The pieces were measured over a lit panel, which sends back some of the light that the stone returns, and not by an
    /// instrument.
    #[arg(long)]
    over_panel: bool,
    /// Go beyond half or twice the measured thickness.
    #[arg(long)]
    extrapolate: bool,
}

/// A stone file, read: its pieces with their thickness, or one piece whose thickness nobody names.
enum Stone {
    Known(Vec<Measured>),
    AsMeasured(Vec<StoneColumn>),
}

pub(crate) fn run(args: &Args, printer: &Printer) -> Outcome {
    if !(args.bare_lx.is_finite() && args.bare_lx > 0.0) {
        let fault = Fault::usage("bare-lx", format!("a reading of {} lx is not above 0", args.bare_lx));
        return Err(vec![fault.fix("give what the meter shows on the bare panel, above 0")]);
    }
    if !(1.3..=2.0).contains(&args.index) {
        let fault = Fault::usage("index", format!("an index of {} is not that of a stone", args.index));
        return Err(vec![fault.fix("give one from 1.3 to 2; most stones lie between 1.45 and 1.65")]);
    }
    let mut faults = Vec::new();
    let lights = args.lights.read(printer).unwrap_or_else(|wrong| {
        faults.extend(wrong);
        Vec::new()
    });
    let mut stones = Vec::new();
    for file in &args.stones {
        match read(file, args.measured_at, printer) {
            Ok(stone) => stones.push((file.display().to_string(), stone)),
            Err(fault) => faults.push(*fault),
        }
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let mut answers = Vec::new();
    let mut lines = Vec::new();
    for (file, stone) in &stones {
        for (name, light) in &lights {
            match rows(args, stone, light) {
                Ok(rows) => {
                    lines.push(format!("{file} over {name}, bare panel {} lx:", trimmed(args.bare_lx, 1)));
                    lines.extend(rows.iter().map(in_words));
                    answers.push(answer(args, file, name, &rows));
                }
                Err(fault) => faults.push(fault.in_file(file.clone())),
            }
        }
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    for line in lines {
        printer.line(line);
    }
    if !args.thicknesses.is_empty() {
        printer.line(format!(
            "A range holds the slab in nine of ten cases. Assumed: index {}, polished or honed faces, {}.",
            trimmed(args.index, 2),
            if args.over_panel { "over a panel, with air between" } else { "air on both sides" }
        ));
    }
    printer.json(&one_or_all(answers, "stones"));
    Ok(Exit::Done)
}

fn read(file: &Path, measured_at: Option<Millimetres>, printer: &Printer) -> fault::Outcome<Stone> {
    let (bytes, _) = read_users_file(file)?;
    let shown = file.display().to_string();
    let read = if tm27::looks_like_xml(&bytes) {
        tm27::stone(&bytes).map(|read| Read {
            value: vec![StoneColumn { name: shown.clone(), thickness_mm: None, stone: read.value }],
            remarks: read.remarks,
        })
    } else {
        spectrum_csv::stones(&bytes)
    };
    let read = read.map_err(|error| bad_measurement(&error, &shown))?;
    remark_on(&read.remarks, &shown, printer);
    let mut columns = read.value;
    if let ([only], Some(_)) = (columns.as_mut_slice(), measured_at) {
        only.thickness_mm = only.thickness_mm.or(measured_at);
    }
    let known: Vec<Measured> = columns
        .iter()
        .filter_map(|c| Some(Measured { thickness_mm: c.thickness_mm?, stone: c.stone.clone() }))
        .collect();
    if known.len() == columns.len() {
        return Ok(Stone::Known(known));
    }
    if known.is_empty() {
        return Ok(Stone::AsMeasured(columns));
    }
    let mixed = Fault::data("thickness-unknown", "some columns name their thickness and some do not");
    Err(Box::new(mixed.in_file(shown).fix("name every column like transmittance_10mm")))
}

struct Row {
    seen: Through,
    basis: Option<Basis>,
    extrapolated: bool,
}

fn rows(args: &Args, stone: &Stone, light: &Spd) -> fault::Outcome<Vec<Row>> {
    let bare = Lux(args.bare_lx);
    let plain = |seen| Row { seen, basis: None, extrapolated: false };
    match stone {
        Stone::AsMeasured(columns) if args.thicknesses.is_empty() => {
            Ok(columns.iter().map(|c| plain(as_measured(light, &c.stone, None, bare))).collect())
        }
        Stone::AsMeasured(_) => {
            let unknown =
                Fault::usage("thickness-unknown", "the thickness of the measured piece is not known");
            let remedy = "give it with --measured-at, or in the column's name, transmittance_10mm";
            Err(Box::new(unknown.fix(remedy)))
        }
        Stone::Known(pieces) if args.thicknesses.is_empty() => Ok(pieces
            .iter()
            .map(|p| plain(as_measured(light, &p.stone, Some(p.thickness_mm), bare)))
            .collect()),
        Stone::Known(pieces) => {
            let beyond = if args.extrapolate { Beyond::Allow } else { Beyond::Refuse };
            let assumed = Assumed { index: args.index, over_panel: args.over_panel };
            args.thicknesses
                .iter()
                .map(|wanted| {
                    let bracket = bracket(pieces, *wanted, beyond, assumed)
                        .map_err(|error| Fault::data(error.code(), error.to_string()).fix(error.remedy()))?;
                    Ok(Row {
                        seen: through(light, &bracket, bare),
                        basis: Some(bracket.basis),
                        extrapolated: bracket.extrapolated,
                    })
                })
                .collect()
        }
    }
}

/// How well a row is founded, in words, and the residual of a fit.
fn founded(row: &Row) -> (&'static str, Option<f64>) {
    match row.basis {
        None => ("as measured", None),
        Some(Basis::OneThickness) => ("range from one thickness", None),
        Some(Basis::TwoThicknesses) => ("range from two thicknesses", None),
        Some(Basis::Fit { residual }) => ("range from three thicknesses or more", Some(residual)),
    }
}

fn in_words(row: &Row) -> String {
    let seen = &row.seen;
    let thickness = seen.thickness_mm.map_or("the piece".to_string(), |d| d.to_string());
    let percent = |t: f64| trimmed(t * 100.0, 2);
    let (low, high) = (percent(seen.t_low), percent(seen.t_high));
    let share = if low == high { low } else { format!("{low}–{high}") };
    let light = match seen.white {
        None => "no light is left".to_string(),
        Some(white) => {
            let cct = white.cct_k.map_or("no CCT".into(), |k| format!("{k:.0} K"));
            format!("{cct}, x {:.4}, y {:.4}", white.x, white.y)
        }
    };
    let (basis, residual) = founded(row);
    let residual = residual.map_or(String::new(), |r| format!(", residual {:.1} %", r * 100.0));
    let far = if row.extrapolated { ", extrapolated" } else { "" };
    format!(
        "  {thickness}: {share} %, {} cd/m², {light} ({basis}{residual}{far})",
        trimmed(seen.luminance_cd_m2, 2)
    )
}

fn answer(args: &Args, file: &str, light: &str, rows: &[Row]) -> Map<String, Value> {
    let rows: Vec<Value> = rows
        .iter()
        .map(|row| {
            let seen = &row.seen;
            let (_, residual) = founded(row);
            json!({
                "thickness_mm": seen.thickness_mm,
                "t_low": rounded(seen.t_low, 6),
                "t_high": rounded(seen.t_high, 6),
                "luminance_cd_m2": rounded(seen.luminance_cd_m2, 4),
                "luminance_low_cd_m2": rounded(seen.luminance_low_cd_m2, 4),
                "luminance_high_cd_m2": rounded(seen.luminance_high_cd_m2, 4),
                "x": seen.white.map(|w| rounded(w.x, 6)),
                "y": seen.white.map(|w| rounded(w.y, 6)),
                "cct_k": seen.white.and_then(|w| w.cct_k).map(|k| rounded(k, 1)),
                "duv": seen.white.map(|w| rounded(w.duv, 6)),
                "colour_open_de00": rounded(seen.colour_open_de00, 3),
                "basis": match row.basis {
                    None => "as-measured",
                    Some(Basis::OneThickness) => "one-thickness",
                    Some(Basis::TwoThicknesses) => "two-thicknesses",
                    Some(Basis::Fit { .. }) => "fit",
                },
                "residual": residual.map(|r| rounded(r, 6)),
                "extrapolated": row.extrapolated,
            })
        })
        .collect();
    let mut answer = Map::new();
    answer.insert("stone".into(), json!(file));
    answer.insert("light".into(), json!(light));
    answer.insert("bare_lx".into(), json!(args.bare_lx));
    answer.insert("index".into(), json!(args.index));
    answer.insert("over_panel".into(), json!(args.over_panel));
    answer.insert("thicknesses".into(), Value::from(rows));
    answer
}
