//! `calc photo`: what a photo of a stone over its lit panel tells, without any book.

use std::path::PathBuf;

use serde_json::{Map, Value, json};

use super::white::{Lights, one_or_all, rounded};
use crate::cli::failure::{Exit, Outcome};
use crate::cli::printer::Printer;
use crate::cli::wording::range;
use crate::fault::{self, Fault};
use crate::light::chart::Chart;
use crate::light::look::{Candidate, Figure, Look, Stone, decimals, look};
use crate::light::practice;
use crate::light::spectrum::Spd;
use crate::light::swatch_photo::WhiteSet;
use crate::light::thickness::Beyond;
use crate::ops::record::read_users_file;
use crate::stone::measure::impossible;
use crate::stone::spectra::{self, Beside, PictureFile};
use crate::units::{Lux, Millimetres, trimmed};
use crate::words::{LightKind, Texture, Tone};

/// Work out what a photo of a stone over its lit panel tells: how much of each light passes the piece and its colour, each
/// with the range that holds it in nine of ten cases.
///
/// The photo shows the stone over the lit panel and the bare panel beside it. Several photos of the same arrangement are
/// judged one by one. A photo of a chart of 24 colour patches, lit by the same panel alone, narrows the ranges. In place of
/// photos, --values takes tables of linear values.
///
/// Example: underlit calc photo --photo honey.jpg --stone 40,60,1200,900 --bare 1300,60,200,900
/// --panel-light LED-B3 --light LED-B1 LED-B5
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// Photos of a stone over its lit panel.
    #[arg(long = "photo", value_name = "FILE", required_unless_present = "values", num_args = 1.., requires = "stone",
        requires = "bare")]
    photos: Vec<PathBuf>,
    /// Where the stone is in each.
    #[arg(long, value_name = "AREA", requires = "photos", allow_hyphen_values = true)]
    stone: Option<String>,
    /// Where the bare lit panel is.
    #[arg(long, value_name = "AREA", requires = "photos", allow_hyphen_values = true)]
    bare: Option<String>,
    /// A photo of a chart of 24 colour patches lit by the same panel alone, by the same camera.
    #[arg(long, value_name = "FILE", requires = "photos", requires = "chart")]
    chart_photo: Option<PathBuf>,
    /// Where the field of patches is in it: a rectangle, or four corners in order around it.
    #[arg(long, value_name = "AREA", requires = "chart_photo", allow_hyphen_values = true)]
    chart: Option<String>,
    /// In place of photos: linear values as CSV with the columns part,red,green,blue.
    #[arg(long, value_name = "FILE", conflicts_with = "photos", num_args = 1..)]
    values: Vec<PathBuf>,
    /// The light of that panel by name, such as LED-B3 or white-4000.
    #[arg(long, value_name = "NAME")]
    panel_light: String,
    #[command(flatten)]
    lights: Lights,
}

pub(crate) fn run(args: &Args, printer: &Printer) -> Outcome {
    let lights = args.lights.read(printer)?;
    let panel = spectra::named(&args.panel_light)?;
    let chart = match (&args.chart_photo, &args.chart) {
        (Some(file), Some(place)) => {
            let (bytes, _) = read_users_file(file)?;
            let file = PictureFile { bytes: &bytes, name: &file.display().to_string() };
            Some(spectra::chart(&file, place, &panel.light)?)
        }
        _ => None,
    };
    let (mut answers, mut faults) = (Vec::new(), Vec::new());
    for file in args.photos.iter().chain(&args.values) {
        let shown = file.display().to_string();
        match told(args, file, chart, &panel.light, &lights) {
            Ok((look, white, remarks)) => {
                printer.line(format!("{shown}, over {}:", args.panel_light));
                look.predictions.iter().for_each(|p| {
                    printer.line(format!(
                        "  {}: {} % passes{}, chroma {}, colour within ΔE00 {}",
                        p.label,
                        range(100.0 * p.transmittance.low, 100.0 * p.transmittance.high, 2),
                        match p.vein {
                            None => String::new(),
                            Some(_) => format!(
                                " the body and {} % all that is shown, on average",
                                range(100.0 * p.whole.low, 100.0 * p.whole.high, 2)
                            ),
                        },
                        range(p.chroma.low, p.chroma.high, 0),
                        trimmed(p.colour_within_de00, 1)
                    ));
                });
                remarks.iter().for_each(|r| printer.remark(format!("note: {shown}: {r}")));
                answers.push(answer(&shown, &look, white));
            }
            Err(fault) => faults.push(*fault),
        }
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    printer.line("A range holds its figure in nine of ten cases.");
    printer.json(&one_or_all(answers, "photos"));
    Ok(Exit::Done)
}

/// What one photo tells, where its camera set its white, and what deserves a second look.
fn told(
    args: &Args,
    file: &std::path::Path,
    chart: Option<Chart>,
    panel: &Spd,
    lights: &[(String, Spd)],
) -> fault::Outcome<(Look, WhiteSet, Vec<String>)> {
    let (bytes, _) = read_users_file(file)?;
    let shown = &file.display().to_string();
    let told = match (&args.stone, &args.bare) {
        (Some(stone), Some(bare)) => {
            let beside = Beside { chart, ..Beside::default() };
            spectra::photo(&PictureFile { bytes: &bytes, name: shown }, stone, bare, beside, panel)?.measured
        }
        _ => spectra::values(&bytes, shown, panel)?,
    };
    // As thick as it is: any figure does.
    let thickness = Millimetres(10.0);
    let stone = Stone::photographed(&told, panel, thickness).ok_or_else(|| impossible(shown))?;
    let candidates: Vec<Candidate> = lights
        .iter()
        .map(|(name, light)| Candidate {
            label: name.clone(),
            kind: LightKind::StaticWhite,
            light: light.clone(),
            bare_lx: Lux(1000.0),
            deep: false,
        })
        .collect();
    let practice = practice::cct(Tone::White, Texture::Plain);
    let look = look(&stone, thickness, Beyond::Refuse, &candidates, None, &practice)
        .map_err(|e| Box::new(Fault::data(e.code(), e.to_string()).fix(e.remedy())))?;
    Ok((look, told.white, told.remarks))
}

fn answer(file: &str, look: &Look, white: WhiteSet) -> Map<String, Value> {
    let figure = |figure: Figure, most: usize| {
        let places = decimals(figure.low, figure.high, most) as i32;
        let [value, low, high] = [figure.value, figure.low, figure.high].map(|v| rounded(v, places));
        json!({"value": value, "low": low, "high": high})
    };
    let mut predictions: Vec<_> = look.predictions.iter().collect();
    predictions.sort_by_key(|p| p.candidate);
    let rows: Vec<Value> = predictions
        .iter()
        .map(|p| {
            json!({
                "light": p.label,
                "transmittance": figure(p.transmittance, 6),
                "whole_transmittance": figure(p.whole, 6),
                "chroma": figure(p.chroma, 2),
                "x": rounded(p.body.white.x, 5),
                "y": rounded(p.body.white.y, 5),
                "colour_within_de00": rounded(p.colour_within_de00, 1),
            })
        })
        .collect();
    let mut answer = Map::new();
    answer.insert("photo".into(), json!(file));
    answer.insert(
        "white_set".into(),
        json!(match white {
            WhiteSet::Daylight => "daylight",
            WhiteSet::Panel => "panel",
            WhiteSet::Elsewhere => "elsewhere",
        }),
    );
    answer.insert("lights".into(), Value::from(rows));
    answer
}
