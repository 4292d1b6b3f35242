//! How the shop's predictions of light bore out: every lux reading of a trial beside what was predicted for it.

use jiff::civil::Date;

use super::evidence::{self, Gathered};
use super::{Asked, source};
use crate::fault::Fault;
use crate::ids::{ProjectId, SwatchId, TrialId};
use crate::light::evidence::{Borne, NINE_OF_TEN, Record};
use crate::light::practice;
use crate::model::snapshot::Snapshot;
use crate::model::swatch::Swatch;
use crate::ops::reading::Reading;
use crate::parallel::in_parallel;

/// One reading beside its prediction.
#[derive(Clone, Debug)]
pub(crate) struct Told {
    /// The project.
    pub project: ProjectId,
    /// The stone.
    pub swatch: SwatchId,
    /// The trial.
    pub trial: TrialId,
    /// Its day.
    pub date: Date,
    /// The predicted transmittance, from and to.
    pub predicted: [f64; 2],
    /// What was read.
    pub seen: f64,
    /// The two held against each other.
    pub borne: Borne,
}

/// All readings of a book, and what they come to.
#[derive(Clone, Debug)]
pub(crate) struct Predictions {
    /// By their day.
    pub all: Vec<Told>,
    /// What they come to; none of fewer than two.
    pub record: Option<Record>,
    /// What was left out, and why.
    pub remarks: Vec<String>,
}

/// Holds every trial of every job against what its swatch's own measurements predict for it, before any trial moved them.
///
/// # Errors
/// A book whose projects cannot be listed.
pub(crate) fn predictions(reading: &Reading) -> Result<Predictions, Vec<Fault>> {
    let projects = reading.book.projects()?;
    let made = in_parallel(&projects, |id| of_project(reading, id));
    let (mut all, mut remarks) = (Vec::new(), Vec::new());
    for (told, left_out) in made {
        all.extend(told);
        remarks.extend(left_out);
    }
    all.sort_by(|a, b| (a.date, &a.project, &a.trial).cmp(&(b.date, &b.project, &b.trial)));
    let record = Record::of(&all.iter().map(|t| t.borne).collect::<Vec<_>>());
    Ok(Predictions { all, record, remarks })
}

fn of_project(reading: &Reading, id: &ProjectId) -> (Vec<Told>, Vec<String>) {
    let (mut all, mut remarks) = (Vec::new(), Vec::new());
    let snapshot = match reading.project(id) {
        Ok(snapshot) => snapshot,
        Err(faults) => {
            remarks.extend(faults.first().map(|f| format!("{id}: {f}")));
            return (all, remarks);
        }
    };
    for swatch in snapshot.swatches.values() {
        let read = |t: &&crate::model::trial::Trial| t.swatch == swatch.id && t.through_lx.is_some();
        if swatch.measured.is_empty() || !snapshot.trials.values().any(|t| read(&t)) {
            continue;
        }
        match of_swatch(reading, &snapshot, swatch) {
            Ok(gathered) => all.extend(told(id, swatch, &gathered)),
            Err(faults) => remarks.extend(faults.first().map(|f| format!("{id} {}: {f}", swatch.id))),
        }
    }
    (all, remarks)
}

fn of_swatch(reading: &Reading, snapshot: &Snapshot, swatch: &Swatch) -> Result<Gathered, Vec<Fault>> {
    let folder = format!("{}/swatches", reading.book.project(&snapshot.project.id)?);
    let asked = Asked::of(&snapshot.project.id, &swatch.id);
    let mut unread = Vec::new();
    let Some(source) = source::read(reading, &folder, snapshot, swatch, &asked, &mut unread)? else {
        return Ok(Gathered::default());
    };
    let stone = source.stone(&[], swatch.thickness_mm)?;
    let usual = practice::cct(swatch.tone, swatch.texture);
    evidence::gather(reading, snapshot, swatch, &stone, &usual, &mut unread)
}

fn told(project: &ProjectId, swatch: &Swatch, gathered: &Gathered) -> Vec<Told> {
    let of = |row: &super::answer::EvidenceRow| {
        let (low, high) = (row.predicted_low?, row.predicted_high?);
        let off = row.level?.ln();
        let deviation = (high / low).ln() / (2.0 * NINE_OF_TEN);
        (off.is_finite() && deviation.is_finite()).then(|| Told {
            project: project.clone(),
            swatch: swatch.id.clone(),
            trial: row.trial.clone(),
            date: row.date,
            predicted: [low, high],
            seen: row.transmittance_seen.unwrap_or(0.0),
            borne: Borne { off, deviation, held: row.borne_out == Some(true) },
        })
    };
    gathered.rows.iter().filter_map(of).collect()
}
