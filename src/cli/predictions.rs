//! `predictions`: how the shop's predictions of brightness bore out in its trials.

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::light_picture::in_words as in_words_of_evenness;
use super::setting::Setting;
use super::wording::range;
use crate::light::evidence::{NARROWS_FROM, Record, WIDENS_FROM};
use crate::ops::evenness::GuideSheet;
use crate::ops::evenness_record::evenness_record;
use crate::shape::Extraction;
use crate::stone::look::record::{Told, predictions as gathered};
use crate::units::trimmed;

/// Show how this shop's predictions of brightness bore out: every lux reading of a trial beside what was predicted.
///
/// Predicted is what the swatch's own measurements tell, before any trial moved them. Shown are how many readings lay in
/// their range, by how much stones were brighter or darker than predicted on average, and how far readings spread. With
/// `look --by-record` ranges of brightness follow that: from 5 readings on they may widen, from 20 on narrow, and never below
/// what was measured to spread. Panels whose nine points were read on the bench are held against the model of evenness as well.
///
/// Example: underlit predictions
#[derive(Debug, clap::Args)]
pub(crate) struct PredictionsArgs {}

pub(crate) fn predictions(_: &PredictionsArgs, setting: &Setting<'_>) -> Outcome {
    let reading = setting.reading()?;
    let found = gathered(&reading)?;
    let printer = setting.printer;
    for told in &found.all {
        printer.line(in_words(told));
    }
    match &found.record {
        Some(record) => printer.line(summary(record, &found.all)),
        None => printer.line(format!(
            "{} with a prediction to hold it against: record trials with --bare-lx and --through-lx",
            crate::words::counted(found.all.len(), "reading", "readings")
        )),
    }
    let even = evenness_record(&reading, GuideSheet::USUAL)?;
    if !even.all.is_empty() {
        in_words_of_evenness(&even).iter().for_each(|words| printer.line(format!("Evenness, {words}.")));
    }
    for remark in found.remarks.iter().chain(&even.remarks) {
        printer.remark(format!("note: left out: {remark}"));
    }
    let rounded = |v: f64, places: i32| (v * 10f64.powi(places)).round() / 10f64.powi(places);
    let rows: Vec<_> = found
        .all
        .iter()
        .map(|t| {
            json!({
                "project": t.project, "swatch": t.swatch, "trial": t.trial, "date": t.date,
                "predicted_low": t.predicted[0], "predicted_high": t.predicted[1], "transmittance_seen": t.seen,
                "borne_out": t.borne.held, "level_factor": rounded(t.borne.off.exp(), 4),
            })
        })
        .collect();
    let in_json = |record: Option<Record>| {
        record.map(|r| {
            json!({
                "count": r.count, "borne_out_count": r.held, "bias_share": rounded(r.bias, 4),
                "spread_share": rounded(r.spread, 4), "width_factor": rounded(r.width, 3), "counts": r.counts(),
            })
        })
    };
    let panels: Vec<_> = even
        .all
        .iter()
        .map(|told| {
            let by = |way| told.predicted.iter().find(|(w, _)| *w == way).map(|(_, v)| rounded(*v, 4));
            json!({
                "project": told.project, "panel": told.panel, "serial": told.serial, "uniformity_read": rounded(told.read, 4),
                "constant_uniformity": by(Extraction::Constant), "graded_uniformity": by(Extraction::Graded),
            })
        })
        .collect();
    printer.json(&json!({
        "readings": rows, "record": in_json(found.record), "evenness": {
            "panels": panels, "constant_record": in_json(even.of(Extraction::Constant)),
            "graded_record": in_json(even.of(Extraction::Graded)),
        }, "widens_from": WIDENS_FROM, "narrows_from": NARROWS_FROM,
        "remarks": found.remarks.iter().chain(&even.remarks).collect::<Vec<_>>(),
    }));
    Ok(Exit::Done)
}

fn in_words(told: &Told) -> String {
    let predicted = range(told.predicted[0] * 100.0, told.predicted[1] * 100.0, 2);
    let held = if told.borne.held {
        "confirmed".into()
    } else {
        format!("{:+.0} %", told.borne.off.exp_m1() * 100.0)
    };
    format!(
        "{}  {} {} {}: predicted {predicted} %, read {} %: {held}",
        told.date,
        told.project,
        told.swatch,
        told.trial,
        trimmed(told.seen * 100.0, 2)
    )
}

fn summary(record: &Record, all: &[Told]) -> String {
    let side = if record.bias < 0.0 { "darker" } else { "brighter" };
    let days = match (all.first(), all.last()) {
        (Some(first), Some(last)) => format!(", {} to {}", first.date, last.date),
        _ => String::new(),
    };
    let used = if !record.counts() {
        format!("too few to change a range: {WIDENS_FROM} may widen it, {NARROWS_FROM} narrow it")
    } else if record.width > 1.0 {
        format!("ranges would have had to be {:.1} times as wide (look --by-record)", record.width)
    } else if record.count >= NARROWS_FROM {
        format!("ranges could have been {:.1} times as wide (look --by-record)", record.width)
    } else {
        format!("ranges were wide enough; they narrow from {NARROWS_FROM} readings on")
    };
    format!(
        "{} of {} readings in their range{days}. Stones were {:.0} % {side} than predicted on average, and readings spread \
         by {:.0} % about that; {used}.",
        record.held,
        record.count,
        record.bias.abs() * 100.0,
        record.spread * 100.0
    )
}
