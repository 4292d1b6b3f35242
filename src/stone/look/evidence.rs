//! Predicted against seen, trial by trial, and what the lux readings of the trials say about the level.

use std::collections::BTreeMap;

use super::answer::{EvidenceRow, rounded};
use super::source::{Source, TrialPhoto, attached, panel_light};
use super::trial_light::{self, TrialLight};
use crate::fault::Fault;
use crate::ids::TrialId;
use crate::job::brightness::{ReadAt, geometric_mean, lux_readings};
use crate::light::colour::lab;
use crate::light::combine::CONTRADICT_FROM;
use crate::light::evidence::{METER_REPEATS, brightness, colour, colour_words, repeats_within};
use crate::light::look::{Candidate, Stone, look};
use crate::light::photometry::LuxPair;
use crate::light::practice::CctPractice;
use crate::light::spectrum::Spd;
use crate::light::stone::Metered;
use crate::light::swatch_photo::SwatchPhoto;
use crate::light::thickness::{Beyond, Bounds, is_one_piece};
use crate::model::snapshot::Snapshot;
use crate::model::swatch::Swatch;
use crate::model::trial::Trial;
use crate::ops::reading::Reading;
use crate::stone::spectra::{self, Beside, PictureFile};
use crate::units::{Lux, Millimetres, trimmed};
use crate::words::{LightKind, counted};

/// Luminance at which the predicted and the seen colour are compared, relative to white: brightness is the lux
/// readings' matter.
const COMPARED_AT: f64 = 0.6;

/// What lux readings say about the level of all that was predicted.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Levels {
    /// For each thickness that a meter was held on: everything that passes, times what.
    pub factors: Vec<Metered>,
    /// How many trials moved it.
    pub trials: usize,
    /// How many lux pairs of the swatch itself did.
    pub own: usize,
}

impl Levels {
    /// The factor at the swatch's own thickness; none where no meter was held on a piece of it.
    #[must_use]
    pub(crate) fn at(&self, thickness: Millimetres) -> Option<f64> {
        let metered = self.factors.iter().find(|m| is_one_piece(m.thickness_mm, thickness));
        metered.map(|metered| metered.factor)
    }
}

/// The colour temperature of the white under which a reading is taken whose light nobody knows, in kelvin.
const COMMON_WHITE_K: u32 = 4000;

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
pub(crate) fn seen_only(snapshot: &Snapshot, swatch: &Swatch) -> Vec<EvidenceRow> {
    trials_of(snapshot, swatch).map(row).collect()
}

/// The trials held against the prediction.
#[derive(Debug, Default)]
pub(crate) struct Gathered {
    /// One row for each trial.
    pub rows: Vec<EvidenceRow>,
    /// The lights of the trials, where they are known.
    pub lights: BTreeMap<TrialId, Spd>,
    /// The photos that may tell the stone's colours as well, each with the place of its row.
    pub photos: Vec<(usize, TrialPhoto)>,
}

/// Holds every trial of a stone against what is predicted for the swatch's own thickness under the trial's light.
///
/// # Errors
/// A trial's photo that is not the one that the record names.
pub(crate) fn gather(
    reading: &Reading,
    snapshot: &Snapshot,
    swatch: &Swatch,
    stone: &Stone,
    usual: &CctPractice,
    remarks: &mut Vec<String>,
) -> Result<Gathered, Vec<Fault>> {
    let (mut rows, mut photos, mut lights) = (Vec::new(), Vec::new(), BTreeMap::new());
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
        lights.insert(trial.id.clone(), light.light.clone());
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
            let told = stone.luminous(swatch.thickness_mm, &light.light).unwrap_or(0.0);
            row.level = Some(rounded(check.seen / told, 4)).filter(|l| l.is_finite());
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
    Ok(Gathered { rows, lights, photos })
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
    let photo =
        spectra::photo(&PictureFile { bytes: &bytes, name: &name }, stone, bare, Beside::default(), light)?;
    let xyz = photo.measured.xyz(photo.measured.clusters.body);
    Ok((xyz[1] > 0.0).then(|| (compared(xyz, light), photo.measured)))
}

/// What the lux readings say about the level of a stone whose colours are `told`: which of them count, gates and build
/// pack judge alike.
///
/// # Errors
/// An unknown light; measurements that contradict each other.
pub(crate) fn levels(
    reading: &Reading,
    snapshot: &Snapshot,
    swatch: &Swatch,
    told: &Stone,
    lights: &BTreeMap<TrialId, Spd>,
    remarks: &mut Vec<String>,
) -> Result<Levels, Vec<Fault>> {
    let folder = format!("{}/swatches", reading.book.project(&snapshot.project.id)?);
    let common = spectra::white(COMMON_WHITE_K)?.light;
    let mut levels = Levels::default();
    let mut all: Vec<(Millimetres, Vec<f64>)> = Vec::new();
    for read in lux_readings(swatch, snapshot) {
        if let Some(off) = read.too_far {
            remarks.push(format!(
                "{} read {off:.2} times what was predicted, too far off to correct by: check its readings, its panel \
                 and that it was this stone",
                read.at.in_words()
            ));
            continue;
        }
        let own = match read.at {
            ReadAt::Trial(trial) => lights.get(&trial.id).cloned(),
            ReadAt::Swatch(m) => panel_light(reading, &folder, m).ok().map(|known| known.light),
        };
        let predicted = told
            .luminous(read.thickness_mm, own.as_ref().unwrap_or(&common))
            .map_err(|e| vec![Fault::data(e.code(), e.to_string()).fix(e.remedy())])?;
        let level = read.pair.transmittance() / predicted;
        if !level.ln().is_finite() {
            continue;
        }
        match read.at {
            ReadAt::Trial(_) => levels.trials += 1,
            ReadAt::Swatch(_) => levels.own += 1,
        }
        match all.iter_mut().find(|(d, _)| is_one_piece(*d, read.thickness_mm)) {
            Some((_, of_piece)) => of_piece.push(level),
            None => all.push((read.thickness_mm, vec![level])),
        }
    }
    let metered = |(thickness_mm, of_piece): (Millimetres, Vec<f64>)| Metered {
        thickness_mm,
        factor: geometric_mean(&of_piece),
        readings: of_piece.len(),
    };
    levels.factors = all.into_iter().map(metered).collect();
    Ok(levels)
}

/// How surely the meters know how much passes, where their readings are the figure: by the thickness that was read least often;
/// none where no reading is used. Gates and pack show the figure alone, since it is sealed.
#[must_use]
pub(crate) fn meters(swatch: &Swatch, snapshot: &Snapshot) -> Option<String> {
    let used = lux_readings(swatch, snapshot).into_iter().filter(|read| read.too_far.is_none());
    let mut counts: Vec<(Millimetres, usize)> = Vec::new();
    for read in used {
        match counts.iter_mut().find(|(d, _)| is_one_piece(*d, read.thickness_mm)) {
            Some((_, count)) => *count += 1,
            None => counts.push((read.thickness_mm, 1)),
        }
    }
    let least = counts.into_iter().map(|(_, count)| count).min()?;
    let within = repeats_within(least);
    Some(format!(
        "a lux meter held by hand repeats within {} % (common practice, no source): by {} brightness is within {} % of its \
         figure in nine of ten cases, beside what thickness leaves open",
        trimmed(METER_REPEATS * 100.0, 0),
        counted(least, "reading", "readings"),
        trimmed(within * 100.0, 1)
    ))
}

/// The photos of the trials that the stone's colours are told from as well: those that do not contradict the
/// swatch's own. Each row says whether its photo is used.
#[must_use]
pub(crate) fn photos_used(
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

/// For each light on which trials rest, the trials that do, for the sheet's reader.
pub(super) fn trial_notes(rows: &[EvidenceRow]) -> Vec<String> {
    let mut by_light: Vec<(&str, Vec<&str>)> = Vec::new();
    for row in rows {
        let light = row.light.as_deref().unwrap_or("a light of no known spectrum");
        match by_light.iter_mut().find(|(known, _)| *known == light) {
            Some((_, trials)) => trials.push(row.trial.as_str()),
            None => by_light.push((light, vec![row.trial.as_str()])),
        }
    }
    let all: Vec<String> =
        by_light.into_iter().map(|(light, trials)| format!("{}: {light}", trials.join(" and "))).collect();
    if all.is_empty() { Vec::new() } else { vec![format!("light of the trials: {}", all.join("; "))] }
}
