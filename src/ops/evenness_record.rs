//! How even this shop's panels came out, beside what the model says of them: nine points read on the bench.
//!
//! Held against each other are darkest ÷ brightest, for constant extraction and for graded, since no record says which a
//! guide was made with: whichever a shop's guides are nearer to shows. What readings make of a range is
//! [`Record`]'s own matter, as it is for brightness: five may widen it, twenty narrow it.

use super::evenness::{GuideSheet, evenness};
use super::reading::Reading;
use crate::fault::Fault;
use crate::ids::{PanelId, ProjectId};
use crate::job::bench;
use crate::light::evidence::{Borne, NINE_OF_TEN, Record};
use crate::model::snapshot::Drawing;
use crate::parallel::in_parallel;
use crate::shape::Extraction;

/// How far a guide as made lies from the model in nine of ten cases, before readings say otherwise, relative. Common
/// practice, no source.
const MODEL_WITHIN: f64 = 0.10;

/// A panel read on the bench beside the model.
#[derive(Clone, Debug)]
pub(crate) struct Told {
    /// The project.
    pub project: ProjectId,
    /// The panel.
    pub panel: PanelId,
    /// Its serial number.
    pub serial: String,
    /// Darkest ÷ brightest of nine points as read.
    pub read: f64,
    /// The same by the model, for each way of extraction.
    pub predicted: Vec<(Extraction, f64)>,
}

/// All panels of a book that were read, and what they come to.
#[derive(Clone, Debug, Default)]
pub(crate) struct EvennessRecord {
    /// By project, panel and serial number.
    pub all: Vec<Told>,
    /// What was left out, and why.
    pub remarks: Vec<String>,
}

impl EvennessRecord {
    /// What the panels come to for one way of extraction; none of fewer than two.
    pub(crate) fn of(&self, extraction: Extraction) -> Option<Record> {
        let predicted = |told: &Told| told.predicted.iter().find(|(way, _)| *way == extraction).map(|p| p.1);
        let deviation = MODEL_WITHIN / NINE_OF_TEN;
        let borne = |told: &Told| {
            let off = (told.read / predicted(told)?).ln();
            off.is_finite().then_some(Borne { off, deviation, held: off.abs() <= MODEL_WITHIN })
        };
        Record::of(&self.all.iter().filter_map(borne).collect::<Vec<_>>())
    }

    /// The range that the panels give a figure of the model in nine of ten cases; none where they are too few.
    pub(crate) fn range(&self, extraction: Extraction, value: f64) -> Option<[f64; 2]> {
        let record = self.of(extraction).filter(Record::counts)?;
        let [low, high] = record.range(value, [-MODEL_WITHIN, MODEL_WITHIN].map(|off| value * off.exp()));
        Some([low, high.min(1.0)])
    }
}

/// Holds every panel of every job that was read on the bench against the model.
///
/// # Errors
/// A book whose projects cannot be listed.
pub(crate) fn evenness_record(reading: &Reading, sheet: GuideSheet) -> Result<EvennessRecord, Vec<Fault>> {
    let projects = reading.book.projects()?;
    let mut found = EvennessRecord::default();
    for one in in_parallel(&projects, |id| of_project(reading, id, sheet)) {
        found.all.extend(one.all);
        found.remarks.extend(one.remarks);
    }
    Ok(found)
}

fn of_project(reading: &Reading, id: &ProjectId, sheet: GuideSheet) -> EvennessRecord {
    let mut found = EvennessRecord::default();
    let snapshot = match reading.project(id) {
        Ok(snapshot) => snapshot,
        Err(faults) => {
            found.remarks.extend(faults.first().map(|f| format!("{id}: {f}")));
            return found;
        }
    };
    let built = snapshot.as_built.iter().flat_map(|b| &b.panels);
    for (one, read) in built.filter_map(|one| Some((one, bench::evenness(one)?))) {
        let panel = snapshot.panels.get(&one.id);
        let lit: Vec<usize> = panel.iter().flat_map(|p| &p.lit_edges).map(|n| *n as usize).collect();
        let Some(Ok(Drawing { outline, figures, .. })) = snapshot.drawings.get(&one.id) else {
            found.remarks.push(format!("{id} {}: it has no drawing", one.id));
            continue;
        };
        match evenness(outline, figures, &lit, sheet) {
            Ok(model) => {
                let nine = |(way, picture): &(Extraction, crate::shape::LuminancePicture)| {
                    Some((*way, picture.nine_point_uniformity.filter(|v| *v > 0.0)?))
                };
                found.all.push(Told {
                    project: id.clone(),
                    panel: one.id.clone(),
                    serial: one.serial.clone(),
                    read,
                    predicted: model.pictures.iter().filter_map(nine).collect(),
                });
            }
            Err(fault) => found.remarks.push(format!("{id} {}: {fault}", one.id)),
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn built(offs: &[f64]) -> EvennessRecord {
        let told = |(at, off): (usize, &f64)| Told {
            project: "job".parse().expect("a name"),
            panel: "desk".parse().expect("a name"),
            serial: at.to_string(),
            read: 0.6 * off.exp(),
            predicted: vec![(Extraction::Constant, 0.3), (Extraction::Graded, 0.6)],
        };
        EvennessRecord { all: offs.iter().enumerate().map(told).collect(), remarks: Vec::new() }
    }

    #[test]
    fn panels_give_the_model_a_range_from_five_on_and_show_which_guides_they_are() {
        assert_eq!(built(&[0.01, -0.01, 0.02, 0.0]).range(Extraction::Graded, 0.6), None, "too few");
        let few = built(&[0.01, -0.01, 0.02, 0.0, -0.02]);
        let graded = few.range(Extraction::Graded, 0.6).expect("five");
        let model = [0.6 * (-0.1f64).exp(), 0.6 * 0.1f64.exp()];
        assert!((0..2).all(|k| (graded[k] / model[k] - 1.0).abs() < 1e-9), "five do not narrow: {graded:?}");
        let [low, high] = few.range(Extraction::Constant, 0.3).expect("five");
        assert!(low < 0.16 && high > 0.5, "twice as even as constant extraction: {low} {high}");
        let many = built(&[0.01, -0.01, 0.02, -0.02, 0.0].repeat(8));
        let [low, high] = many.range(Extraction::Graded, 0.6).expect("forty");
        assert!(low > model[0] && high < model[1] && low < 0.6 && 0.6 < high, "forty narrow: {low} {high}");
        let uneven = built(&[-0.3, -0.2, -0.25, -0.35, -0.1]);
        let [low, high] = uneven.range(Extraction::Graded, 0.95).expect("five");
        assert!(low < 0.7 && high <= 1.0, "{low} {high}");
        assert!(uneven.of(Extraction::Graded).is_some_and(|r| r.bias < -0.2 && r.held == 1));
    }
}
