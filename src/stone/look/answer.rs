//! The answer of `look`, as programs get it with `--json`. Every field is documented here; names are stable.

use jiff::civil::Date;
use serde::Serialize;

use super::candidates::Lit;
use crate::ids::{PanelId, ProjectId, SwatchId, TrialId};
use crate::light::colour::{encode, times};
use crate::light::figures::duv_within_tolerance;
use crate::light::look::{Appearance, Figure, Prediction, decimals};
use crate::light::practice::Standing;
use crate::light::relight::View;
use crate::units::{Lux, Millimetres};
use crate::words::{Face, LightKind, counted};

/// What a slab will look like over each candidate light.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct Answer {
    /// The project.
    pub project: ProjectId,
    /// The swatch.
    pub swatch: SwatchId,
    /// What the stone is called.
    pub stone: String,
    /// The thickness that everything is predicted for.
    pub slab_thickness_mm: Millimetres,
    /// What the prediction was made from.
    pub measured: MeasuredBy,
    /// Why no colour is predicted; null where it is.
    pub colour_refused: Option<&'static str>,
    /// How the slab's thickness follows from the measured ones, in words.
    pub basis: String,
    /// Root mean square error of the fit in ln T, where three or more thicknesses were fitted.
    pub residual: Option<f64>,
    /// True where the slab lies beyond half or twice what was measured.
    pub extrapolated: bool,
    /// By how much the trials' lux readings moved the prediction; null where no trial has any.
    pub level: Option<Level>,
    /// How much light the panel gives, and who says so.
    pub panel_light: PanelLight,
    /// The room; null where the project does not state its lux and reflectance.
    pub room: Option<RoomAnswer>,
    /// What the trade usually does with such a stone.
    pub practice: PracticeAnswer,
    /// What the candidates are ranked by, in words; null where nothing is ranked.
    pub ranked_by: Option<&'static str>,
    /// The ranking in one sentence, with what it leaves open.
    pub ranking: Option<String>,
    /// The ranking against common practice in one sentence.
    pub against_practice: Option<String>,
    /// True where colours are as an eye sees them that is adapted to each light; else all under one white.
    pub adapted: bool,
    /// The candidates, best first, those that the eye cannot tell from the best as they were asked for; empty where no colour is predicted.
    pub predictions: Vec<PredictionAnswer>,
    /// Brightness alone, where only lux readings are known; else null.
    pub brightness: Option<BrightnessOnly>,
    /// Each trial of this stone: predicted against seen.
    #[serde(rename = "trials")]
    pub evidence: Vec<EvidenceRow>,
    /// What deserves a second look, one sentence each.
    pub remarks: Vec<String>,
}

/// What a prediction was made from.
#[derive(Clone, Debug, Default, Serialize)]
pub(crate) struct MeasuredBy {
    /// `spectrum`, `photo` or `lux-pair`.
    #[serde(rename = "kind")]
    pub by: &'static str,
    /// `measured` or `estimated`.
    pub certainty: &'static str,
    /// How, in words.
    pub method: String,
    /// The measurements used, by name.
    pub measurements: Vec<SwatchId>,
    /// The measured thicknesses, rising.
    pub thicknesses_mm: Vec<Millimetres>,
    /// The day of the newest one.
    pub date: Option<Date>,
}

/// By how much lux readings moved the prediction.
#[derive(Clone, Copy, Debug, Serialize)]
pub(crate) struct Level {
    /// Everything that passes a piece of the swatch's thickness, times this.
    pub factor: f64,
    /// From how many trials.
    #[serde(rename = "trial_count")]
    pub trials: usize,
    /// From how many lux pairs of the swatch itself.
    #[serde(rename = "measurement_count")]
    pub own: usize,
}

impl Level {
    /// Whose readings they are: `2 trials`, `1 trial and 1 measurement`.
    #[must_use]
    pub(crate) fn of_whom(&self) -> String {
        let trials = (self.trials > 0).then(|| counted(self.trials, "trial", "trials"));
        let own = (self.own > 0).then(|| counted(self.own, "measurement", "measurements"));
        trials.into_iter().chain(own).collect::<Vec<_>>().join(" and ")
    }
}

/// How much light the panel gives.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct PanelLight {
    /// `panel` (worked out), `given`, `reading` (of a meter on the test panel) or `assumed`.
    pub source: &'static str,
    /// The panel that it was worked out for.
    pub panel: Option<PanelId>,
    /// In words.
    #[serde(rename = "text")]
    pub words: String,
}

/// The room around the stone.
#[derive(Clone, Copy, Debug, Serialize)]
pub(crate) struct RoomAnswer {
    /// Illuminance on its surfaces.
    pub illuminance_lx: Lux,
    /// How much of it they reflect, 0 to 1.
    pub reflectance: f64,
    /// Their luminance.
    #[serde(rename = "surround_luminance_cd_m2")]
    pub luminance_cd_m2: f64,
    /// How many times as bright as that the shop wants a stone.
    pub least_ratio: f64,
}

/// Common practice for the stone.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct PracticeAnswer {
    /// The advice.
    pub sentence: String,
    /// Where it comes from: common practice, no source.
    pub source: &'static str,
}

/// A figure with the range that holds it in nine of ten cases, with no more decimals than the range bears.
#[derive(Clone, Copy, Debug, Serialize)]
pub(crate) struct Valued {
    /// The figure.
    pub value: f64,
    /// The lower end of the range.
    pub low: f64,
    /// The upper end of the range.
    pub high: f64,
}

/// The least and the most, where there is no single figure between them.
#[derive(Clone, Copy, Debug, Serialize)]
pub(crate) struct Spread {
    /// None: nothing says which figure between them it is.
    pub value: Option<f64>,
    /// The least.
    pub low: f64,
    /// The most.
    pub high: f64,
}

impl Spread {
    pub(super) fn of([low, high]: [f64; 2], places: i32) -> Spread {
        Spread { value: None, low: rounded(low, places), high: rounded(high, places) }
    }
}

/// Brightness of a stone whose colours nobody can predict.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct BrightnessOnly {
    /// What leaves the panel's face.
    pub bare_lx: f64,
    /// Luminous transmittance at the slab's thickness.
    pub transmittance: Spread,
    /// Luminance of the stone.
    #[serde(rename = "stone_luminance_cd_m2")]
    pub luminance_cd_m2: Spread,
    /// That over the room's; null without a room.
    pub ratio: Option<Spread>,
    /// The least ratio in words (common practice, no source).
    pub prominence: Option<String>,
}

/// One candidate light.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct PredictionAnswer {
    /// Its place in the ranking, from 1; those that the eye cannot tell from the best share place 1; 0 for a coloured
    /// light, which is not ranked.
    pub rank: usize,
    /// Its name.
    pub label: String,
    /// Its kind.
    pub kind: LightKind,
    /// Its light.
    #[serde(rename = "light_figures")]
    pub light: LightAnswer,
    /// What leaves the panel's face with it, in lux.
    pub bare_lx: f64,
    /// True where a tape of the shop gives it; null where nobody can say.
    pub offered: Option<bool>,
    /// Luminous transmittance of the body.
    pub transmittance: Valued,
    /// Luminous transmittance of all that was shown, body and vein on average; the body's where the stone is even.
    #[serde(rename = "whole_transmittance")]
    pub whole: Valued,
    /// Luminance of the body.
    #[serde(rename = "stone_luminance_cd_m2")]
    pub luminance_cd_m2: Valued,
    /// That over the room's; null without a room.
    pub ratio: Option<Valued>,
    /// The least ratio in words (common practice, no source).
    pub prominence: Option<String>,
    /// The body's colour.
    pub body: ColourAnswer,
    /// The vein's colour; null where the stone is even.
    pub vein: Option<ColourAnswer>,
    /// CIEDE2000 between vein and body; null where the stone is even.
    #[serde(rename = "vein_contrast_de00")]
    pub vein_contrast: Option<Valued>,
    /// CIELAB chroma of the body.
    pub chroma: Valued,
    /// CIEDE2000 within which the body's colour lies in nine of ten cases.
    pub colour_within_de00: f64,
    /// To common practice: `preferred`, `unusual`, `below-floor`, `divided` or `no-rule`.
    #[serde(rename = "practice_standing")]
    pub practice: &'static str,
    /// True where it is best, or cannot be told from the best, as found or in more than one case of twenty.
    pub could_be_best: bool,
}

/// A candidate's light.
#[derive(Clone, Copy, Debug, Serialize)]
pub(crate) struct LightAnswer {
    /// Where its spectrum comes from: `typical`, `named` or `measured`.
    pub spectrum: &'static str,
    /// Correlated colour temperature; null where it has no meaning.
    pub cct_k: Option<f64>,
    /// Signed distance from the Planckian locus.
    pub duv: f64,
    /// False where that is further from a good white's than ANSI C78.377 (from memory) allows.
    pub duv_within_tolerance: bool,
    /// CIE 1931 x.
    pub x: f64,
    /// CIE 1931 y.
    pub y: f64,
}

/// The colour of a part of the stone.
#[derive(Clone, Copy, Debug, Serialize)]
pub(crate) struct ColourAnswer {
    /// CIELAB against the candidate's bare panel, at one exposure for all candidates.
    pub lab: [f64; 3],
    /// As 8-bit sRGB, all candidates under one white, or adapted where that was asked.
    pub srgb: [u8; 3],
    /// CIE 1931 x of the light that leaves it.
    pub x: f64,
    /// CIE 1931 y.
    pub y: f64,
    /// Its correlated colour temperature; null where it has no meaning.
    pub cct_k: Option<f64>,
}

/// One trial: predicted against seen.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct EvidenceRow {
    /// The trial.
    pub trial: TrialId,
    /// Its day.
    pub date: Date,
    /// Its colour temperature; null for a coloured light.
    pub cct_k: Option<u32>,
    /// The light that it was taken to be, in words; null where nobody can say.
    pub light: Option<String>,
    /// What that rests on: `spectrum`, `named`, `figures` of a meter, `tape`, or `typical` for its CCT.
    pub light_by: Option<&'static str>,
    /// The face.
    pub face: Face,
    /// How well it pleased, 1 to 5.
    pub rating: u32,
    /// What was seen, in words.
    pub seen: String,
    /// The least predicted transmittance of the swatch, before any trial moved it.
    pub predicted_low: Option<f64>,
    /// The most.
    pub predicted_high: Option<f64>,
    /// The transmittance that the lux readings gave.
    pub transmittance_seen: Option<f64>,
    /// True where that lies within what was predicted, give or take a meter's repeatability.
    pub borne_out: Option<bool>,
    /// How far outside, relative: −0.2 is a fifth darker.
    #[serde(rename = "off_share")]
    pub off: Option<f64>,
    /// What the readings make of the prediction's level, as a factor.
    #[serde(rename = "level_factor")]
    pub level: Option<f64>,
    /// CIEDE2000 between the predicted and the photographed colour of the body.
    pub colour_de00: Option<f64>,
    /// That in words (common practice, no source).
    pub colour_words: Option<&'static str>,
    /// True where its photo took part in the prediction of the colours; null where it has none that could.
    pub colour_used: Option<bool>,
    /// Why nothing is predicted for it.
    pub remark: Option<String>,
}

/// A number with at most `places` decimals, and no negative zero.
pub(super) fn rounded(value: f64, places: i32) -> f64 {
    let scale = 10f64.powi(places);
    (value * scale).round() / scale + 0.0
}

fn valued(figure: Figure, most: i32) -> Valued {
    let places = decimals(figure.low, figure.high, most.unsigned_abs() as usize) as i32;
    Valued {
        value: rounded(figure.value, places),
        low: rounded(figure.low, places),
        high: rounded(figure.high, places),
    }
}

fn colour(seen: &Appearance, light_xy: [f64; 2], view: View) -> ColourAnswer {
    let [x, y] = [seen.white.x, seen.white.y];
    // Y of a CIELAB lightness, against a bare panel of Y = 1 (CIE 15:2018).
    let f = (seen.lab[0] + 16.0) / 116.0;
    let cube = f.powi(3);
    let level = if cube > 216.0 / 24_389.0 { cube } else { seen.lab[0] * 27.0 / 24_389.0 };
    let xyz = |[x, y]: [f64; 2], level: f64| [x / y * level, level, (1.0 - x - y) / y * level];
    let screen = view.to_screen(xyz(light_xy, 1.0));
    let srgb = times(screen, xyz([x, y], level.max(0.0))).map(|v| (encode(v) * 255.0).round() as u8);
    ColourAnswer {
        lab: seen.lab.map(|v| rounded(v, 2)),
        srgb,
        x: rounded(x, 5),
        y: rounded(y, 5),
        cct_k: seen.white.cct_k.map(|k| rounded(k, 0)),
    }
}

/// One candidate's prediction, for the answer.
pub(super) fn prediction(p: &Prediction, lit: &Lit, view: View) -> PredictionAnswer {
    let light = &p.light;
    let seen = |a: &Appearance| colour(a, [light.x, light.y], view);
    PredictionAnswer {
        rank: p.place,
        label: p.label.clone(),
        kind: p.kind,
        light: LightAnswer {
            spectrum: lit.spectrum,
            cct_k: light.cct_k.map(|k| rounded(k, 1)),
            duv: rounded(light.duv, 6),
            duv_within_tolerance: light.cct_k.is_some_and(|k| duv_within_tolerance(k, light.duv)),
            x: rounded(light.x, 6),
            y: rounded(light.y, 6),
        },
        bare_lx: rounded(lit.candidate.bare_lx.get(), 1),
        offered: lit.offered,
        transmittance: valued(p.transmittance, 6),
        whole: valued(p.whole, 6),
        luminance_cd_m2: valued(p.luminance_cd_m2, 3),
        ratio: p.ratio.map(|r| valued(r, 4)),
        prominence: p.prominence.clone(),
        body: seen(&p.body),
        vein: p.vein.as_ref().map(seen),
        vein_contrast: p.vein_contrast.map(|c| valued(c, 3)),
        chroma: valued(p.chroma, 2),
        colour_within_de00: rounded(p.colour_within_de00, 1),
        practice: match p.standing {
            Standing::Preferred => "preferred",
            Standing::Unusual => "unusual",
            Standing::BelowFloor => "below-floor",
            Standing::Divided => "divided",
            Standing::NoRule => "no-rule",
        },
        could_be_best: p.could_be_best,
    }
}
