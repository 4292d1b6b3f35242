//! What a stone will look like over each candidate light: the swatch's measurements read from their files, the
//! candidates from the shop's tapes or as asked, the trials held against the prediction, and pictures.
//!
//! | file | what it does |
//! |---|---|
//! | [`source`] | what was measured on a swatch, read and judged |
//! | [`candidates`] | the lights to judge it over, and how much of each the panel gives |
//! | `coloured` | among them those of RGB and RGBW tapes |
//! | [`trial_light`] | the light that a trial was made over |
//! | [`evidence`] | predicted against seen, trial by trial |
//! | [`record`] | predicted against seen, over all jobs of the book |
//! | [`answer`] | the answer, as programs get it |

pub mod answer;
pub mod candidates;
mod coloured;
pub mod evidence;
pub(crate) mod record;
pub mod source;
pub mod trial_light;

use std::num::NonZero;
use std::path::PathBuf;

use answer::{Answer, BrightnessOnly, Level, MeasuredBy, PanelLight, PracticeAnswer, RoomAnswer, Spread};
use candidates::{Lit, Wanted};
use source::Source;

use super::spectra::Photo;
use crate::fault::Fault;
use crate::ids::{PanelId, ProjectId, SwatchId};
use crate::job::brightness::{self, AtSlab};
use crate::light::contact_sheet::{ContactSheet, Ground, ScaleBar, SheetError};
use crate::light::evidence::{Record, WIDENS_FROM};
use crate::light::look::{self, Candidate, Figure, Look, LookError, Room, Stone};
use crate::light::photometry::{LuxPair, Prominence, luminance_cd_m2, reflected_luminance_cd_m2};
use crate::light::picture::Picture;
use crate::light::practice::{self, CctPractice};
use crate::light::relight::View;
use crate::light::spectrum::Spd;
use crate::light::stone::KnownBeside;
use crate::light::swatch_photo::SwatchPhoto;
use crate::light::thickness::{Basis, Beyond, ThicknessError, bounds};
use crate::light::{illuminants, spectral_plot};
use crate::model::snapshot::Snapshot;
use crate::model::swatch::Swatch;
use crate::ops::reading::Reading;
use crate::units::{DisplayUnits, Lux, Millimetres};

/// What is asked.
#[derive(Clone, Debug)]
pub(crate) struct Asked {
    /// The project.
    pub project: ProjectId,
    /// The swatch.
    pub swatch: SwatchId,
    /// Colour temperatures; those of the shop's tapes where none.
    pub ccts_k: Vec<u32>,
    /// Kinds of light, or lights by name.
    pub lights: Vec<String>,
    /// Files with measured spectra of further lights.
    pub spectra: Vec<PathBuf>,
    /// Files with the measured channels of coloured lights.
    pub channels: Vec<PathBuf>,
    /// The panel whose light is meant; the first over which the stone lies where none.
    pub panel: Option<PanelId>,
    /// What leaves the panel's face, in lux; worked out from the panel where none.
    pub exitance_lx: Option<f64>,
    /// The measurement to predict from; the best where none.
    pub measurement: Option<SwatchId>,
    /// Colours and pictures as an eye sees them that is adapted to each light.
    pub adapted: bool,
    /// Go beyond half or twice the measured thickness.
    pub extrapolate: bool,
    /// Widen and narrow ranges of brightness by how the shop's predictions bore out.
    pub by_record: bool,
}

impl Asked {
    /// A swatch as it was measured, and nothing else.
    pub(crate) fn of(project: &ProjectId, swatch: &SwatchId) -> Asked {
        Asked {
            project: project.clone(),
            swatch: swatch.clone(),
            ccts_k: Vec::new(),
            lights: Vec::new(),
            spectra: Vec::new(),
            channels: Vec::new(),
            panel: None,
            exitance_lx: None,
            measurement: None,
            adapted: false,
            extrapolate: false,
            by_record: false,
        }
    }
}

/// What was found, and what its pictures are made of.
pub(crate) struct Looked {
    /// The answer.
    pub answer: Answer,
    scene: Option<Scene>,
}

struct Scene {
    title: String,
    source: Source,
    /// The stone as its photos and trials show it, before lux readings moved its level.
    unlevelled: Stone,
    stone: Stone,
    candidates: Vec<Candidate>,
    look: Look,
    view: View,
    notes: Vec<String>,
}

/// A picture to keep.
pub(crate) struct PictureOut {
    /// Its file's name.
    pub name: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// What a panel's face is taken to give where nobody knows it, in lux.
const ASSUMED_LX: f64 = 1000.0;

/// Predicts the look of a swatch's slab.
///
/// # Errors
/// An unknown swatch, nothing measured, files that do not tell a colour, candidates that cannot be.
pub(crate) fn look(reading: &Reading, asked: &Asked) -> Result<Looked, Vec<Fault>> {
    let snapshot = reading.project(&asked.project)?;
    let Some(swatch) = snapshot.swatches.get(&asked.swatch) else {
        let known: Vec<&str> = snapshot.swatches.keys().map(SwatchId::as_str).collect();
        return Err(vec![
            Fault::usage(
                "unknown-record",
                format!("there is no swatch {} in {}", asked.swatch, asked.project),
            )
            .fix(format!("there are: {}", known.join(", "))),
        ]);
    };
    let mut remarks = Vec::new();
    let folder = format!("{}/swatches", reading.book.project(&asked.project)?);
    let source = source::read(reading, &folder, &snapshot, swatch, asked, &mut remarks)?;
    let room = room(&snapshot);
    let usual = practice::cct(swatch.tone, swatch.texture);
    let wanted = Wanted { reading, snapshot: &snapshot, swatch, asked };
    let lit = candidates::gather(&wanted, &mut remarks)?;
    let frame = Frame {
        snapshot: &snapshot,
        swatch,
        asked,
        room,
        least_ratio: reading.shop.rules.least_luminance_ratio,
        units: reading.shop.book.units,
        usual: &usual,
        lit: &lit,
    };
    match source {
        None => Ok(Looked { answer: frame.brightness_only(remarks)?, scene: None }),
        Some(source) => frame.colours(reading, source, remarks),
    }
}

fn room(snapshot: &Snapshot) -> Option<Room> {
    let site = &snapshot.project.site;
    Some(Room { illuminance_lx: site.ambient_lx?, reflectance: site.surround_reflectance? })
}

/// Everything that both kinds of answer share.
struct Frame<'a> {
    snapshot: &'a Snapshot,
    swatch: &'a Swatch,
    asked: &'a Asked,
    room: Option<Room>,
    least_ratio: f64,
    units: DisplayUnits,
    usual: &'a CctPractice,
    lit: &'a [Lit],
}

impl Frame<'_> {
    fn beyond(&self) -> Beyond {
        if self.asked.extrapolate { Beyond::Allow } else { Beyond::Refuse }
    }

    fn empty(&self, remarks: Vec<String>) -> Answer {
        let first = &self.lit[0];
        Answer {
            project: self.asked.project.clone(),
            swatch: self.swatch.id.clone(),
            stone: self.swatch.stone.clone(),
            slab_thickness_mm: self.swatch.slab.thickness_mm,
            measured: MeasuredBy::default(),
            colour_refused: None,
            basis: String::new(),
            residual: None,
            extrapolated: false,
            level: None,
            panel_light: PanelLight {
                source: first.source,
                panel: first.panel.clone(),
                words: first.words.clone(),
            },
            room: self.room.map(|room| RoomAnswer {
                illuminance_lx: room.illuminance_lx,
                reflectance: room.reflectance,
                luminance_cd_m2: answer::rounded(
                    reflected_luminance_cd_m2(room.illuminance_lx, room.reflectance),
                    2,
                ),
                least_ratio: self.least_ratio,
            }),
            practice: PracticeAnswer { sentence: self.usual.sentence.clone(), source: self.usual.source },
            ranked_by: None,
            ranking: None,
            against_practice: None,
            adapted: self.asked.adapted,
            predictions: Vec::new(),
            brightness: None,
            evidence: Vec::new(),
            remarks,
        }
    }

    /// A stone of which only lux readings are known: how bright, and no colour.
    fn brightness_only(&self, mut remarks: Vec<String>) -> Result<Answer, Vec<Fault>> {
        remarks.extend(evidence::meters(self.swatch, self.snapshot));
        let pairs = brightness::measured(self.swatch, self.snapshot);
        let slab = self.swatch.slab.thickness_mm;
        let bad = |e: ThicknessError| bad_look(e.into());
        // Nobody goes beyond what was measured but by asking for it.
        bounds(&pairs, slab, self.beyond()).map_err(|e| vec![bad(e)])?;
        let at_slab = brightness::at_slab(self.swatch, self.snapshot).unwrap_or(Err(ThicknessError::Nothing));
        let AtSlab { bounds: found, extrapolated, .. } = at_slab.map_err(|e| vec![bad(e)])?;
        let lit = &self.lit[0];
        let luminance =
            [found.low, found.high].map(|t| luminance_cd_m2(Lux(lit.candidate.bare_lx.get() * t)));
        let around = self
            .room
            .map(|r| reflected_luminance_cd_m2(r.illuminance_lx, r.reflectance))
            .filter(|l| *l > 0.0);
        let (basis, residual) = basis_words(found.basis, slab, &pairs, self.units);
        Ok(Answer {
            measured: MeasuredBy {
                by: "lux-pair",
                certainty: "measured",
                method: "two lux readings".into(),
                measurements: self.swatch.measured.iter().map(|m| m.id.clone()).collect(),
                thicknesses_mm: pairs.iter().map(|(d, _)| *d).collect(),
                date: self.swatch.measured.iter().map(|m| m.date).max(),
            },
            colour_refused: Some(LuxPair::NO_COLOUR),
            basis,
            residual,
            extrapolated,
            brightness: Some(BrightnessOnly {
                bare_lx: answer::rounded(lit.candidate.bare_lx.get(), 1),
                transmittance: Spread::of([found.low, found.high], 5),
                luminance_cd_m2: Spread::of(luminance, 2),
                ratio: around.map(|l| Spread::of(luminance.map(|v| v / l), 3)),
                prominence: around.map(|l| Prominence::between(luminance.map(|v| v / l))),
            }),
            evidence: evidence::seen_only(self.snapshot, self.swatch),
            ..self.empty(remarks)
        })
    }

    /// Ranges of brightness as the shop's own readings have them.
    fn by_record(
        &self,
        reading: &Reading,
        look: &mut Look,
        remarks: &mut Vec<String>,
    ) -> Result<(), Vec<Fault>> {
        let found = record::predictions(reading)?;
        match found.record.filter(Record::counts) {
            Some(record) => {
                look.predictions.iter_mut().for_each(|p| p.by_record(&record));
                remarks.push(format!(
                    "ranges of brightness are as {} readings of this shop have them: underlit predictions",
                    record.count
                ));
            }
            None => remarks.push(format!(
                "this shop has {} readings beside predictions, and ranges are changed from {WIDENS_FROM}: they are as \
                 worked out",
                found.all.len()
            )),
        }
        Ok(())
    }

    fn colours(
        &self,
        reading: &Reading,
        source: Source,
        mut remarks: Vec<String>,
    ) -> Result<Looked, Vec<Fault>> {
        let thickness = self.swatch.thickness_mm;
        let plain = source.stone(&[], thickness)?;
        let mut found =
            evidence::gather(reading, self.snapshot, self.swatch, &plain, self.usual, &mut remarks)?;
        let trials = evidence::photos_used(&source, &mut found, self.swatch, &mut remarks);
        let unlevelled = source.stone(&trials, thickness)?;
        let levels =
            evidence::levels(reading, self.snapshot, self.swatch, &unlevelled, &found.lights, &mut remarks)?;
        remarks.extend(evidence::meters(self.swatch, self.snapshot).filter(|_| !source.is_photographed()));
        let stone = unlevelled.levelled(&levels.factors).map_err(|e| vec![bad_look(e.into())])?;
        let candidates: Vec<Candidate> = self.lit.iter().map(|l| l.candidate.clone()).collect();
        let slab = self.swatch.slab.thickness_mm;
        let mut look = look::look(&stone, slab, self.beyond(), &candidates, self.room, self.usual)
            .map_err(|error| vec![bad_look(error)])?;
        if self.asked.by_record {
            self.by_record(reading, &mut look, &mut remarks)?;
        }
        let view = if self.asked.adapted {
            View::Adapted { luminance_cd_m2: look.predictions[0].luminance_cd_m2.value }
        } else {
            View::OneWhite { xyz: illuminants::common_white() }
        };
        let pairs: Vec<(Millimetres, f64)> = stone.thicknesses().into_iter().map(|d| (d, 0.0)).collect();
        let (basis, residual) = basis_words(look.basis, slab, &pairs, self.units);
        let level = levels.at(thickness).map(|factor| Level {
            factor: answer::rounded(factor, 4),
            trials: levels.trials,
            own: levels.own,
        });
        let answer = Answer {
            measured: source.measured_by(look.method, trials.len()),
            basis,
            residual,
            extrapolated: look.extrapolated,
            level,
            ranked_by: Some(look.ranked_by.words()),
            ranking: Some(look.ranking.clone()),
            against_practice: Some(look.against_practice.clone()),
            predictions: look
                .predictions
                .iter()
                .map(|p| answer::prediction(p, &self.lit[p.candidate], view))
                .collect(),
            evidence: found.rows,
            ..self.empty(remarks.clone())
        };
        let title = format!("{} · {}", self.snapshot.project.title, self.swatch.stone);
        let mut notes = remarks;
        notes.extend(source.told_by(&trials));
        notes.extend(evidence::trial_notes(&answer.evidence));
        notes.push(self.lit[0].words.clone());
        if let Some(level) = level {
            notes.push(format!(
                "the lux readings of {} moved the figures of brightness by a factor of {:.2}",
                level.of_whom(),
                level.factor
            ));
        }
        let scene = Scene { title, source, unlevelled, stone, candidates, look, view, notes };
        Ok(Looked { answer, scene: Some(scene) })
    }
}

fn bad_look(error: LookError) -> Fault {
    let remedy = match error {
        LookError::Thickness(_) => format!("{}: --extrapolate", error.remedy()),
        LookError::NoCandidate => error.remedy(),
    };
    Fault::data(error.code(), error.to_string()).fix(remedy)
}

/// What another thickness takes for granted.
const ASSUMED: &str = "Assumed: index 1.55, polished or honed faces, air between stone and panel";

/// What the slab's figures rest on, in words, with the residual of a fit.
fn basis_words(
    basis: Basis,
    slab: Millimetres,
    measured: &[(Millimetres, f64)],
    units: DisplayUnits,
) -> (String, Option<f64>) {
    let thin: Vec<String> = measured.iter().map(|(d, _)| units.show(*d)).collect();
    let shown = units.show(slab);
    match (basis, measured) {
        (Basis::OneThickness, [(only, _)]) if (only.0 - slab.0).abs() < 0.01 => {
            (format!("measured at the slab's own thickness, {shown}"), None)
        }
        (Basis::OneThickness, _) => (
            format!(
                "measured at {} only, which leaves open how much of the loss is scattering: the range for {shown} is wide. \
                 {ASSUMED}",
                thin.join(", ")
            ),
            None,
        ),
        (Basis::TwoThicknesses, _) => {
            (format!("fitted to {}, absorbing and scattering. {ASSUMED}", thin.join(" and ")), None)
        }
        (Basis::Fit { residual }, _) => (
            format!("fitted to {}, {:.1} % off on average. {ASSUMED}", thin.join(", "), residual * 100.0),
            Some(answer::rounded(residual, 5)),
        ),
    }
}

impl Scene {
    fn sheet<'s>(
        &'s self,
        photo: &'s Photo,
        told: &'s SwatchPhoto,
        photographed: &'s Spd,
        known: Option<&'s KnownBeside>,
    ) -> ContactSheet<'s> {
        ContactSheet {
            title: &self.title,
            picture: &photo.picture,
            stone: &photo.stone,
            photo: told,
            photographed,
            known,
            candidates: &self.candidates,
            look: &self.look,
            view: self.view,
            pixels_per_mm: photo.pixels_per_mm,
            ground: Ground::Dark,
        }
    }
}

fn bad_sheet(e: SheetError) -> Vec<Fault> {
    vec![Fault::data(e.code(), e.to_string()).fix(e.remedy())]
}

/// The stone over one candidate light.
#[derive(Clone, Debug)]
pub(crate) struct Relit {
    /// The swatch as photographed, re-lit.
    pub picture: Picture,
    /// How large the stone is in it; none where the photo has no scale.
    pub bar: Option<ScaleBar>,
    /// Luminance of the slab in cd/m², least and most.
    pub luminance_cd_m2: [f64; 2],
    /// That over the room's; none without a room.
    pub ratio: Option<[f64; 2]>,
}

impl Looked {
    /// The stone alone over each candidate, in the order in which they were asked for; none where there is no photo.
    ///
    /// # Errors
    /// What cannot be drawn.
    pub(crate) fn relit(&self, widest: usize, threads: NonZero<usize>) -> Result<Vec<Relit>, Vec<Fault>> {
        let Some(scene) = &self.scene else { return Ok(Vec::new()) };
        let Some((photo, light, thickness)) = scene.source.photo() else { return Ok(Vec::new()) };
        let known = scene.unlevelled.known_beside(&photo.measured, light, thickness);
        let sheet = scene.sheet(photo, &photo.measured, light, known.as_ref());
        let (pictures, bar) = sheet.alone(widest, threads).map_err(bad_sheet)?;
        let one = |(at, picture): (usize, Picture)| {
            let found = scene.look.predictions.iter().find(|p| p.candidate == at)?;
            let range = |figure: Figure| [figure.low, figure.high];
            Some(Relit {
                picture,
                bar,
                luminance_cd_m2: range(found.luminance_cd_m2),
                ratio: found.ratio.map(range),
            })
        };
        Ok(pictures.into_iter().enumerate().filter_map(one).collect())
    }

    /// The pictures: a spectral plot, and a contact sheet where there is a photo to show, dark to look at and light to print.
    ///
    /// # Errors
    /// What cannot be drawn.
    pub(crate) fn pictures(
        &self,
        stem: &str,
        threads: NonZero<usize>,
    ) -> Result<Vec<PictureOut>, Vec<Fault>> {
        let Some(scene) = &self.scene else { return Ok(Vec::new()) };
        let mut out = Vec::new();
        if let Some((photo, light, thickness)) = scene.source.photo() {
            let mut measured = photo.measured.clone();
            // The notes hold the photo's own remarks as well.
            measured.remarks.clone_from(&scene.notes);
            let known = scene.unlevelled.known_beside(&photo.measured, light, thickness);
            let sheet = scene.sheet(photo, &measured, light, known.as_ref());
            for (name, ground) in [("sheet", Ground::Dark), ("sheet-print", Ground::Paper)] {
                let bytes = ContactSheet { ground, ..sheet }.png(threads).map_err(bad_sheet)?;
                out.push(PictureOut { name: format!("{stem}-{name}.png"), bytes });
            }
        }
        let svg = spectral_plot::svg(&scene.title, &scene.stone, &scene.candidates);
        out.push(PictureOut { name: format!("{stem}-spectra.svg"), bytes: svg.into_bytes() });
        Ok(out)
    }
}
