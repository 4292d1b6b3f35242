//! Predicted against seen, trial by trial, and what the lux readings of the trials say about the level.

use super::answer::{EvidenceRow, rounded};
use super::source::{Source, TrialPhoto, attached};
use super::trial_light::{self, TrialLight};
use crate::fault::Fault;
use crate::light::colour::lab;
use crate::light::combine::CONTRADICT_FROM;
use crate::light::evidence::{brightness, colour, colour_words};
use crate::light::look::{Candidate, Stone, look};
use crate::light::photometry::LuxPair;
use crate::light::practice::CctPractice;
use crate::light::spectrum::Spd;
use crate::light::swatch_photo::SwatchPhoto;
use crate::light::thickness::{Beyond, Bounds};
use crate::model::snapshot::Snapshot;
use crate::model::swatch::Swatch;
use crate::model::trial::Trial;
use crate::ops::desk::Reading;
use crate::ops::spectra::{self, PictureFile};
use crate::units::Lux;
use crate::words::LightKind;

/// A level further from 1 than this, or its inverse, is no correction but another stone, panel or reading.
const BELIEVED: f64 = 2.0;
/// Luminance at which the predicted and the seen colour are compared, relative to white: brightness is the lux
/// readings' matter.
const COMPARED_AT: f64 = 0.6;

/// What the trials' lux readings say about the level of all that was predicted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LevelFound {
    /// Everything that passes, times this.
    pub factor: f64,
    /// From how many trials.
    pub trials: usize,
}

fn trials_of<'s>(snapshot: &'s Snapshot, swatch: &'s Swatch) -> impl Iterator<Item = &'s Trial> {
    snapshot.trials.values().filter(|t| t.swatch == swatch.id)
}

fn pair(trial: &Trial) -> Option<LuxPair> {
    LuxPair::new(trial.bare_lx?, trial.through_lx?).ok()
}

fn row(trial: &Trial) -> EvidenceRow {
    EvidenceRow {
        trial: trial.id.clone(),
        date: trial.date,
        cct_k: trial.cct_k,
        light: None,
        light_by: None,
        face: trial.face,
        rating: trial.rating,
        seen: trial.seen.clone(),
        predicted_low: None,
        predicted_high: None,
        transmittance_seen: pair(trial).map(|p| rounded(p.transmittance(), 5)),
        borne_out: None,
        off: None,
        level: None,
        colour_de00: None,
        colour_words: None,
        colour_used: None,
        remark: None,
    }
}

/// The trials of a stone whose colours nobody can predict: what was seen, alone.
#[must_use]
pub fn seen_only(snapshot: &Snapshot, swatch: &Swatch) -> Vec<EvidenceRow> {
    trials_of(snapshot, swatch).map(row).collect()
}

/// The trials held against the prediction.
#[derive(Debug, Default)]
pub struct Gathered {
    /// One row for each trial.
    pub rows: Vec<EvidenceRow>,
    /// The photos that may tell the stone's colours as well, each with the place of its row.
    pub photos: Vec<(usize, TrialPhoto)>,
}

/// Holds every trial of a stone against what is predicted for the swatch's own thickness under the trial's light.
///
/// # Errors
/// A trial's photo that is not the one that the record names.
pub fn gather(
    reading: &Reading,
    snapshot: &Snapshot,
    swatch: &Swatch,
    stone: &Stone,
    usual: &CctPractice,
    remarks: &mut Vec<String>,
) -> Result<Gathered, Vec<Fault>> {
    let (mut rows, mut photos) = (Vec::new(), Vec::new());
    let folder = format!("{}/trials", reading.book.project(&snapshot.project.id)?);
    for trial in trials_of(snapshot, swatch) {
        let mut row = row(trial);
        let known = match trial_light::of_trial(reading, &folder, trial) {
            Ok(known) => known,
            Err(fault) => {
                remarks.push(format!("trial {}: its light is not known: {fault}", trial.id));
                None
            }
        };
        let Some(TrialLight { light, by, believed }) = known else {
            row.remark = Some("its light has no known spectrum, so nothing is predicted for it".into());
            rows.push(row);
            continue;
        };
        row.light = Some(light.name.clone());
        row.light_by = Some(by);
        let candidate = Candidate {
            label: light.name.clone(),
            kind: LightKind::StaticWhite,
            light: light.light.clone(),
            bare_lx: trial.bare_lx.unwrap_or(Lux(1000.0)),
            deep: trial.cct_k.is_none(),
        };
        let predicted = match look(stone, swatch.thickness_mm, Beyond::Allow, &[candidate], None, usual) {
            Ok(predicted) => predicted,
            Err(error) => {
                row.remark = Some(error.to_string());
                rows.push(row);
                continue;
            }
        };
        let one = &predicted.predictions[0];
        let expected =
            Bounds { low: one.transmittance.low, high: one.transmittance.high, basis: predicted.basis };
        row.predicted_low = Some(rounded(expected.low, 5));
        row.predicted_high = Some(rounded(expected.high, 5));
        if let Some(pair) = pair(trial) {
            let check = brightness(expected, pair);
            row.borne_out = Some(check.borne_out);
            row.off = Some(rounded(check.off, 4));
            // Within a bracket that thickness leaves open, a reading confirms and corrects nothing.
            let open = expected.high > expected.low * 1.1;
            let level = if open { 1.0 + check.off } else { check.seen / one.transmittance.value };
            row.level = Some(rounded(level, 4)).filter(|l| l.is_finite());
        }
        match seen_colour(reading, &folder, trial, &light.light) {
            Ok(Some((seen, told))) => {
                let [x, y] = [one.body.white.x, one.body.white.y];
                let predicted = compared([x / y, 1.0, (1.0 - x - y) / y], &light.light);
                let difference = colour(predicted, seen);
                row.colour_de00 = Some(rounded(difference, 2));
                row.colour_words = Some(colour_words(difference));
                let trial = trial.id.clone();
                photos.push((rows.len(), TrialPhoto { trial, told, light, believed }));
            }
            Ok(None) => {}
            Err(fault) => remarks.push(format!("trial {}: its photo was left out: {fault}", trial.id)),
        }
        rows.push(row);
    }
    Ok(Gathered { rows, photos })
}

/// CIELAB of a colour against a bare light, at the luminance at which colours are compared.
fn compared(xyz: [f64; 3], light: &Spd) -> [f64; 3] {
    let white = light.at_unit_flux().xyz();
    lab(xyz.map(|v| v * COMPARED_AT / xyz[1]), white)
}

/// The body's colour in a trial's photo, and all that it told; none where the photo has no places told.
fn seen_colour(
    reading: &Reading,
    folder: &str,
    trial: &Trial,
    light: &Spd,
) -> crate::fault::Outcome<Option<([f64; 3], SwatchPhoto)>> {
    let (Some(attachment), Some(stone), Some(bare)) = (&trial.photo, &trial.photo_stone, &trial.photo_bare)
    else {
        return Ok(None);
    };
    let (bytes, name) = attached(reading, folder, attachment)?;
    let photo = spectra::photo(&PictureFile { bytes: &bytes, name: &name }, stone, bare, None, light)?;
    let xyz = photo.measured.xyz(photo.measured.clusters.body);
    Ok((xyz[1] > 0.0).then(|| (compared(xyz, light), photo.measured)))
}

/// The level that the trials' lux readings agree on; none where no trial has any, or where they contradict the
/// prediction too much to be a correction of it.
#[must_use]
pub fn level(rows: &[EvidenceRow], remarks: &mut Vec<String>) -> Option<LevelFound> {
    let mut logs = Vec::new();
    for row in rows {
        let Some(level) = row.level else { continue };
        if (1.0 / BELIEVED..=BELIEVED).contains(&level) {
            logs.push(level.ln());
        } else {
            remarks.push(format!(
                "trial {} read {level:.2} times what was predicted, too far off to correct by: check its \
                 readings, its panel and that it was this stone",
                row.trial
            ));
        }
    }
    let trials = logs.len();
    let factor = (logs.iter().sum::<f64>() / trials.max(1) as f64).exp();
    (trials > 0).then_some(LevelFound { factor, trials })
}

/// The photos of the trials that the stone's colours are told from as well: those that do not contradict the
/// swatch's own. Each row says whether its photo is used.
#[must_use]
pub fn photos_used(
    source: &Source,
    gathered: &mut Gathered,
    swatch: &Swatch,
    remarks: &mut Vec<String>,
) -> Vec<TrialPhoto> {
    let mut used = Vec::new();
    for (at, photo) in std::mem::take(&mut gathered.photos) {
        let row = &mut gathered.rows[at];
        let contradicted = source.contradicted_by(&photo, swatch.thickness_mm);
        let fits = source.is_photographed() && contradicted.is_some_and(|by| by < CONTRADICT_FROM);
        row.colour_used = Some(fits);
        if fits {
            used.push(photo);
        } else if source.is_photographed() {
            remarks.push(format!(
                "the photo of trial {} contradicts the swatch's own{}, so it changes nothing: check its light and its \
                 places",
                row.trial,
                contradicted.map_or_else(String::new, |by| format!(" by ΔE00 {by:.0}"))
            ));
        }
    }
    used
}
