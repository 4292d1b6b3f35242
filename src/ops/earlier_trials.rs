//! Trials of earlier jobs that show a panel's stone and light, so that no test panel need be made again.

use super::reading::Reading;
use crate::digest::Sha256Digest;
use crate::fault::Fault;
use crate::gates::Warning;
use crate::ids::ProjectId;
use crate::job::trials::{differs, shows};
use crate::model::earlier_trial::EarlierTrial;
use crate::model::panel::Panel;
use crate::model::snapshot::Snapshot;
use crate::model::swatch::Swatch;
use crate::model::trial::Trial;
use crate::parallel::in_parallel;
use crate::store::{BookFiles, strict_json};

/// The trials of other jobs of the book that show a panel's stone, of the same lot and thickness, over the light and face
/// that are chosen so far: the newest first.
///
/// # Errors
/// What the disk says. A job whose records cannot be read has none to offer.
pub(crate) fn proposals(
    reading: &Reading,
    here: &Snapshot,
    panel: &Panel,
    stone: &Swatch,
) -> Result<Vec<EarlierTrial>, Vec<Fault>> {
    let mut others = reading.book.projects()?;
    others.retain(|id| *id != here.project.id);
    let found = in_parallel(&others, |id| of_job(reading, id, stone).unwrap_or_default());
    let within = reading.shop.rules.tried_within_k;
    let mut all: Vec<EarlierTrial> =
        found.into_iter().flatten().filter(|e| shows(e, panel, within)).collect();
    all.sort_by(|a, b| (b.date, &a.project, &a.trial).cmp(&(a.date, &b.project, &b.trial)));
    Ok(all)
}

fn of_job(reading: &Reading, id: &ProjectId, stone: &Swatch) -> Option<Vec<EarlierTrial>> {
    let job = reading.project(id).ok()?;
    let trials = job.trials.values().filter_map(|trial| as_cited(reading, &job, trial));
    Some(trials.filter(|earlier| differs(earlier, stone).is_none()).collect())
}

/// A trial as another job cites it; none for a coloured light, a stone of unknown lot, or a test panel that never came.
fn as_cited(reading: &Reading, job: &Snapshot, trial: &Trial) -> Option<EarlierTrial> {
    let stone = job.swatches.get(&trial.swatch)?;
    let request = job.requests.get(&trial.request).filter(|r| r.received.is_some())?;
    let path = format!("projects/{}/trials/{}.json", job.project.id, trial.id);
    let bytes = reading.book.read(&path, strict_json::LARGEST).ok()?;
    Some(EarlierTrial {
        project: job.project.id.clone(),
        trial: trial.id.clone(),
        sha256: Sha256Digest::of(&bytes),
        date: trial.date,
        stone: stone.stone.clone(),
        lot: stone.slab.lot.clone()?,
        slab_mm: stone.slab.thickness_mm,
        light: request.light,
        cct_k: trial.cct_k?,
        face: trial.face,
    })
}

/// What to know of the earlier trials that a job cites: each that is no longer in the book as it was cited.
#[must_use]
pub(crate) fn no_longer_there(reading: &Reading, here: &Snapshot) -> Vec<Warning> {
    let mut warnings = Vec::new();
    for (id, panel) in &here.panels {
        let Some(cited) = panel.no_test_panel.as_ref().and_then(|without| without.earlier.as_ref()) else {
            continue;
        };
        // What a clone of a part does not hold was not looked at there, and is not said to be gone.
        if reading.held.is_some() && !reading.book.root().join(format!("projects/{}", cited.project)).exists()
        {
            continue;
        }
        let found = reading.project(&cited.project).ok().and_then(|job| {
            let trial = job.trials.get(&cited.trial)?;
            as_cited(reading, &job, trial)
        });
        if found.as_ref() != Some(cited) {
            warnings.push(Warning {
                code: "earlier-trial-changed",
                panels: vec![id.clone()],
                message: format!(
                    "trial {} of {} is no longer in the book as it was cited; look at it, and cite again: underlit trial \
                     cite {} {id}",
                    cited.trial, cited.project, here.project.id
                ),
                source: "the records of that job",
            });
        }
    }
    warnings
}
