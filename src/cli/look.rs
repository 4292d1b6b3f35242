//! `look`: what a stone will look like over each candidate light, at the slab's thickness.

use std::num::NonZero;
use std::path::PathBuf;

use serde_json::{Value, json};

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use super::wording::range;
use crate::fault::Fault;
use crate::ids::{PanelId, ProjectId, SwatchId};
use crate::stone::look::answer::{Answer, EvidenceRow, PredictionAnswer, Spread, Valued};
use crate::stone::look::{self, Asked};
use crate::store::safe_path::io_fault;
use crate::store::write::{to_bytes, write_whole};
use crate::units::{DisplayUnits, trimmed};

/// Predict what a stone will look like over each candidate light, at the slab's thickness.
///
/// It takes what was measured on the swatch: a spectrum before photos, photos before lux readings, from which
/// brightness is told and colour refused. Photos of one piece over panels of different light tell more than one, so
/// they are brought together; where they contradict each other, it says so and takes the newest. Each candidate shows body and vein, the contrast between them
/// (CIEDE2000), chroma, transmittance, luminance over the panel's own light and its ratio to the room. A figure
/// is a range that holds it in nine of ten cases, wherever photo or thickness leave it open. Where the eye cannot tell
/// lights apart, none comes first. Common practice stands beside the ranking, and the
/// trials are held against what was predicted, each by the light that was measured of its test panel, or a typical
/// white of its CCT where nothing was; their lux readings correct its level, and their photos its colours where
/// these come from photos.
///
/// Of an RGB or RGBW light it shows each white mixed from all channels in flux, as much of it from the white channel as
/// the colour allows, and the deep colours with the white channel out; a colour temperature has no meaning for these,
/// or none that a white has, so they are not ranked (rank 0 in JSON) and are shown as bright as their channels make them.
///
/// Without --cct or --light it judges what the shop's tapes offer. Whites are typical LED whites unless a
/// measured spectrum is given. --into writes the photo re-lit as a contact sheet (PNG), dark to look at and light to
/// print, the spectra (SVG) and the answer (JSON). Where the photo has a scale mark (swatch measure --scale), a bar says
/// how large the stone in it is.
///
/// With --json: {project, swatch, stone, slab_thickness_mm, measured {by, certainty, method, measurements,
/// thicknesses_mm, date}, colour_refused, basis, residual, extrapolated, level {factor, trials, own}, panel_light
/// {source, panel, words}, room {illuminance_lx, reflectance, luminance_cd_m2, least_ratio}, practice {sentence, source},
/// ranked_by, ranking, against_practice, adapted, predictions [{rank, label, kind, light {spectrum, cct_k, duv,
/// duv_within_tolerance, x, y}, bare_lx, offered, transmittance {value, low, high}, luminance_cd_m2 {…}, ratio
/// {…}, prominence, body {lab, srgb, x, y, cct_k}, vein {…}, vein_contrast {…}, chroma {…}, colour_within_de00, practice,
/// could_be_best}], brightness {bare_lx, transmittance {low, high}, luminance_cd_m2 {…}, ratio {…}, prominence},
/// evidence [{trial, date, cct_k, face, rating, seen, predicted_low, predicted_high, transmittance_seen,
/// borne_out, off, level, light, light_by, colour_de00, colour_words, colour_used, remark}], remarks, files}.
///
/// Example: underlit look quay-bar honey --cct 2700,3000,4000 --into looks
#[derive(Debug, clap::Args)]
pub(crate) struct LookArgs {
    /// The project.
    project: ProjectId,
    /// The swatch.
    swatch: SwatchId,
    /// Colour temperatures to judge it at, in kelvin; by default what the shop's tapes offer.
    #[arg(long, value_name = "KELVIN", value_delimiter = ',', value_parser = super::value::kelvin::<u32>)]
    cct: Vec<u32>,
    /// Kinds of light (static-white, warm-dim, tunable-white, rgb, rgbw, rgb-tunable-white), or lights by name such as LED-B3.
    #[arg(long, value_name = "LIGHT", value_delimiter = ',', num_args = 1..)]
    light: Vec<String>,
    /// Files with measured spectra of further lights: wavelength in nm, relative power.
    #[arg(long, value_name = "FILE", num_args = 1..)]
    spectrum: Vec<PathBuf>,
    /// Files with the measured channels of RGB or RGBW lights: wavelength in nm, then columns red, green, blue and,
    /// where there is one, white, on one scale.
    #[arg(long, value_name = "FILE", num_args = 1..)]
    channels: Vec<PathBuf>,
    /// The panel whose light is meant; by default the first over which the stone lies.
    #[arg(long, value_name = "PANEL")]
    panel: Option<PanelId>,
    /// What leaves the panel's face, in lux; by default worked out from the panel.
    #[arg(long, value_name = "LUX", value_parser = super::value::lux::<f64>)]
    exitance: Option<f64>,
    /// The measurement to predict from; by default the best.
    #[arg(long, value_name = "NAME")]
    measurement: Option<SwatchId>,
    /// Show colours as an eye sees them that is adapted to each light (CIECAM16); by default all under one white.
    #[arg(long)]
    adapted: bool,
    /// Go beyond half or twice the measured thickness.
    #[arg(long)]
    extrapolate: bool,
    /// Widen and narrow the ranges of brightness by how this shop's predictions bore out: underlit predictions.
    #[arg(long)]
    by_record: bool,
    /// The folder to write pictures and the answer into.
    #[arg(long, value_name = "DIR")]
    into: Option<PathBuf>,
}

pub(crate) fn look(args: &LookArgs, setting: &Setting<'_>) -> Outcome {
    let reading = setting.reading()?;
    let asked = Asked {
        project: args.project.clone(),
        swatch: args.swatch.clone(),
        ccts_k: args.cct.clone(),
        lights: args.light.clone(),
        spectra: args.spectrum.clone(),
        channels: args.channels.clone(),
        panel: args.panel.clone(),
        exitance_lx: args.exitance,
        measurement: args.measurement.clone(),
        adapted: args.adapted,
        extrapolate: args.extrapolate,
        by_record: args.by_record,
    };
    let looked = look::look(&reading, &asked)?;
    show(&looked.answer, reading.shop.book.units, setting);
    let mut files = Vec::new();
    if let Some(folder) = &args.into {
        setting.printer.progress("drawing …");
        let threads = std::thread::available_parallelism().unwrap_or(NonZero::<usize>::MIN);
        let stem = format!("{}-{}", args.project, args.swatch);
        let mut out: Vec<(String, Vec<u8>)> =
            looked.pictures(&stem, threads)?.into_iter().map(|p| (p.name, p.bytes)).collect();
        out.push((format!("{stem}-look.json"), to_bytes(&looked.answer)?));
        let io = |e: std::io::Error| vec![io_fault(&folder.display().to_string(), "write", &e)];
        if !setting.around.dry_run {
            std::fs::create_dir_all(folder).map_err(io)?;
        }
        for (name, bytes) in out {
            let path = folder.join(&name);
            if !setting.around.dry_run {
                write_whole(&path, &bytes).map_err(io)?;
            }
            setting.done(format!("wrote {}", path.display()));
            files.push(path.display().to_string());
        }
        if !files.iter().any(|f| f.ends_with(".png")) {
            setting
                .printer
                .remark("note: there is no contact sheet: it takes a photo of the swatch over its lit panel");
        }
    }
    if setting.printer.is_json() {
        let bug = |e: serde_json::Error| vec![Fault::data("json", e.to_string())];
        let mut answer = serde_json::to_value(&looked.answer).map_err(bug)?;
        if let Value::Object(fields) = &mut answer {
            fields.insert("files".into(), json!(files));
        }
        setting.printer.json(&answer);
    }
    Ok(Exit::Done)
}

fn show(answer: &Answer, units: DisplayUnits, setting: &Setting<'_>) {
    let printer = setting.printer;
    let slab = units.show(answer.slab_thickness_mm);
    printer.line(format!("{} · {}, slab of {slab}", answer.swatch, answer.stone));
    printer.line(format!("  stone   {} ({})", answer.measured.method, answer.measured.certainty));
    printer.line(format!("          {}", answer.basis));
    printer.line(format!("  light   {}", answer.panel_light.words));
    match &answer.room {
        Some(room) => printer.line(format!(
            "  room    {} lx, {} % reflected: {} cd/m²; the shop wants the stone {} times as bright or more",
            trimmed(room.illuminance_lx.get(), 0),
            trimmed(room.reflectance * 100.0, 0),
            trimmed(room.luminance_cd_m2, 1),
            trimmed(room.least_ratio, 2)
        )),
        None => printer.line(
            "  room    not known: state it with underlit project change --ambient-lx --surround-reflectance",
        ),
    }
    if let Some(level) = &answer.level {
        printer.line(format!(
            "  level   corrected by {} after {}",
            trimmed(level.factor, 3),
            level.of_whom()
        ));
    }
    printer.line("");
    if let Some(only) = &answer.brightness {
        printer.line(format!(
            "  {} % passes; {} cd/m² over {} lx{}",
            spread(&only.transmittance, 100.0, 2),
            spread(&only.luminance_cd_m2, 1.0, 1),
            trimmed(only.bare_lx, 0),
            only.ratio.as_ref().map_or(String::new(), |r| format!(
                ", {} times the room: {}",
                spread(r, 1.0, 2),
                only.prominence.as_deref().unwrap_or_default()
            ))
        ));
    }
    if let Some(refused) = answer.colour_refused {
        printer.line(format!("  no colour is predicted: {refused}"));
    }
    table(&answer.predictions, setting);
    for sentence in [&answer.ranking, &answer.against_practice].into_iter().flatten() {
        printer.line(format!("  {sentence}."));
    }
    if answer.predictions.is_empty() {
        printer.line(format!("  {} ({})", answer.practice.sentence, answer.practice.source));
    }
    evidence(&answer.evidence, setting);
    for remark in &answer.remarks {
        printer.remark(format!("note: {remark}"));
    }
}

fn table(predictions: &[PredictionAnswer], setting: &Setting<'_>) {
    if predictions.is_empty() {
        return;
    }
    let vein = predictions.iter().any(|p| p.vein.is_some());
    let several = predictions.iter().filter(|p| p.could_be_best).count() > 1;
    let room = predictions.iter().any(|p| p.ratio.is_some());
    let mut head = vec!["", "light", "body"];
    if vein {
        head.extend(["vein", "contrast"]);
    }
    head.push("chroma");
    // Where body and vein differ, how much the whole passes on average stands beside the body's share.
    head.extend(if vein { &["body passes %", "whole passes %"][..] } else { &["passes %"] });
    head.push("cd/m²");
    if room {
        head.push("× room");
    }
    head.extend(["Duv", "practice"]);
    let mut rows: Vec<Vec<String>> = vec![head.into_iter().map(str::to_owned).collect()];
    for p in predictions {
        let rank = match (p.rank, p.could_be_best) {
            (0, _) => "–".into(),
            (_, true) if several => "*".into(),
            (place, _) => place.to_string(),
        };
        let mut row = vec![rank, p.label.clone(), hex(p.body.srgb)];
        if vein {
            row.push(p.vein.map_or("—".into(), |v| hex(v.srgb)));
            row.push(p.vein_contrast.map_or("—".into(), |c| valued(&c, 1.0, 1)));
        }
        row.extend([valued(&p.chroma, 1.0, 0), valued(&p.transmittance, 100.0, 2)]);
        if vein {
            row.push(valued(&p.whole, 100.0, 2));
        }
        row.push(valued(&p.luminance_cd_m2, 1.0, 1));
        if room {
            row.push(p.ratio.map_or("—".into(), |r| valued(&r, 1.0, 2)));
        }
        let far = if p.light.duv_within_tolerance { "" } else { " !" };
        row.push(match p.light.cct_k {
            Some(_) => format!("{:+.4}{far}", p.light.duv),
            None => "no CCT".into(),
        });
        row.push(
            match p.practice {
                _ if p.rank == 0 => "not ranked",
                "preferred" => "usual",
                "below-floor" => "below the usual floor",
                "divided" => "usual for its tone only",
                "unusual" => "not usual",
                _ => "no rule",
            }
            .into(),
        );
        rows.push(row);
    }
    let widths: Vec<usize> =
        (0..rows[0].len()).map(|i| rows.iter().map(|r| r[i].chars().count()).max().unwrap_or(0)).collect();
    for row in &rows {
        let cells: Vec<String> = row.iter().zip(&widths).map(|(cell, w)| format!("{cell:<w$}")).collect();
        setting.printer.line(format!("  {}", cells.join("  ")).trim_end());
    }
    if several {
        setting.printer.line("  * the eye cannot tell these apart by what is ranked");
    }
    if vein {
        setting.printer.line("  cd/m² and × room are the body's; the whole is body and vein on average");
    }
    if predictions.iter().any(|p| p.transmittance.low < p.transmittance.high) {
        setting.printer.line("  a range holds the figure in nine of ten cases");
    }
    if predictions.iter().any(|p| p.rank == 0) {
        setting.printer.line("  no CCT: a colour temperature has no meaning for so coloured a light");
    }
    if predictions.iter().any(|p| p.light.cct_k.is_some() && !p.light.duv_within_tolerance) {
        setting.printer.line("  ! Duv further from a good white's than ANSI C78.377 (from memory) allows");
    }
    setting.printer.line("");
}

fn evidence(rows: &[EvidenceRow], setting: &Setting<'_>) {
    if rows.is_empty() {
        setting.printer.line("  no trial of this stone yet: the test panel on the real stone decides");
        return;
    }
    setting.printer.line("");
    setting.printer.line("  trials, predicted against seen:");
    for row in rows {
        let light = row.cct_k.map_or("coloured light".to_string(), |k| format!("{k} K"));
        let light = match (&row.light, row.light_by) {
            (Some(own), Some(by)) if by != "typical" => format!("{light} ({own})"),
            _ => light,
        };
        let mut parts = vec![format!(
            "{}  {}  {light}, {} face, rated {} of 5",
            row.date, row.trial, row.face, row.rating
        )];
        if let (Some(low), Some(high)) = (row.predicted_low, row.predicted_high) {
            let predicted = range(low * 100.0, high * 100.0, 2);
            parts.push(match (row.transmittance_seen, row.borne_out, row.off) {
                (Some(seen), Some(true), _) => {
                    format!("predicted {predicted} %, read {} %: confirmed", trimmed(seen * 100.0, 2))
                }
                (Some(seen), _, off) => format!(
                    "predicted {predicted} %, read {} %: {:+.0} % off",
                    trimmed(seen * 100.0, 2),
                    off.unwrap_or(0.0) * 100.0
                ),
                (None, _, _) => format!("predicted {predicted} %, not read"),
            });
        } else if let Some(seen) = row.transmittance_seen {
            parts.push(format!("read {} %", trimmed(seen * 100.0, 2)));
        }
        if let (Some(de), Some(words)) = (row.colour_de00, row.colour_words) {
            let used = if row.colour_used == Some(true) { ", and used from here on" } else { "" };
            parts.push(format!("colour off by ΔE00 {de:.1}, {words}{used}"));
        }
        parts.extend(row.remark.clone());
        setting.printer.line(format!("    {}", parts.join("; ")));
    }
}

fn hex([r, g, b]: [u8; 3]) -> String {
    format!("#{r:02x}{g:02x}{b:02x}")
}

fn spread(s: &Spread, times: f64, most: usize) -> String {
    range(s.low * times, s.high * times, most)
}

fn valued(v: &Valued, times: f64, places: usize) -> String {
    range(v.low * times, v.high * times, places)
}
