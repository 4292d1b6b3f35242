//! How bright a panel's stone will be: the transmittances that were measured, brought to the slab's thickness,
//! over the panel's own light, against the room.
//!
//! Brightness only; what the stone looks like takes its files and is `ops::look`'s matter.

use super::case::Case;
use super::plan::light::{PanelOutput, output};
use crate::ids::PanelId;
use crate::light::photometry::{LuxPair, luminance_cd_m2, reflected_luminance_cd_m2};
use crate::light::thickness::{Beyond, Bounds, Law, TRUSTED_RATIO, ThicknessError, bounds_by, is_one_piece};
use crate::model::panel::Panel;
use crate::model::snapshot::Snapshot;
use crate::model::swatch::{FoundBy, Part, Swatch, Transmittance};
use crate::model::trial::Trial;
use crate::units::{Lux, Millimetres, trimmed};

/// A lux pair further than this from what a spectrum or photo of the same thickness tells, or its inverse, is no
/// correction of it but another stone, panel or reading. Common practice, no source.
const BELIEVED: f64 = 2.0;

/// Where a lux pair was read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum ReadAt<'a> {
    /// In a measurement of the swatch.
    Swatch(&'a Transmittance),
    /// In a trial.
    Trial(&'a Trial),
}

impl ReadAt<'_> {
    /// In words: `trial warm`, `the meter of measurement over-first`.
    #[must_use]
    pub(crate) fn in_words(self) -> String {
        match self {
            ReadAt::Trial(trial) => format!("trial {}", trial.id),
            ReadAt::Swatch(m) => format!("the meter of measurement {}", m.id),
        }
    }
}

/// A lux pair over the body of a stone, under white light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct LuxReading<'a> {
    /// Where it was read.
    pub at: ReadAt<'a>,
    /// How thick the piece is.
    pub thickness_mm: Millimetres,
    /// The two readings.
    pub pair: LuxPair,
    /// Its transmittance over what spectra and photos of that thickness tell, where it lies too far from that to be
    /// used; none where it is used.
    pub too_far: Option<f64>,
}

/// One thickness of a stone, and what is known of its body there.
#[derive(Clone, Debug, PartialEq)]
struct AtThickness<'a> {
    thickness_mm: Millimetres,
    /// What spectra and photos tell, as recorded.
    told: Vec<f64>,
    readings: Vec<LuxReading<'a>>,
}

impl AtThickness<'_> {
    /// What meters read decides; else what spectra and photos tell.
    fn transmittance(&self) -> f64 {
        let used = self.readings.iter().filter(|r| r.too_far.is_none());
        let read: Vec<f64> = used.map(|r| r.pair.transmittance()).collect();
        geometric_mean(if read.is_empty() { &self.told } else { &read })
    }
}

/// The geometric mean; 0 where one of them is, and where there is none.
#[must_use]
pub(crate) fn geometric_mean(all: &[f64]) -> f64 {
    let logs: f64 = all.iter().map(|t| t.ln()).sum();
    if all.is_empty() { 0.0 } else { (logs / all.len() as f64).exp() }
}

fn by_thickness<'a>(swatch: &'a Swatch, project: &'a Snapshot) -> Vec<AtThickness<'a>> {
    let mut all: Vec<AtThickness<'a>> = Vec::new();
    let mut place = |thickness: Millimetres| {
        let known = all.iter().position(|at| is_one_piece(at.thickness_mm, thickness));
        let at = known.unwrap_or(all.len());
        if known.is_none() {
            all.push(AtThickness { thickness_mm: thickness, told: Vec::new(), readings: Vec::new() });
        }
        at
    };
    let pair = |bare: Option<Lux>, through: Option<Lux>| LuxPair::new(bare?, through?).ok();
    let mut told = Vec::new();
    let mut read = Vec::new();
    for m in swatch.measured.iter().filter(|m| m.of_part() == Part::Body) {
        if let Some(pair) = pair(m.bare_lx, m.through_lx) {
            read.push((place(m.thickness_mm), ReadAt::Swatch(m), m.thickness_mm, pair));
        }
        if let Some(found) = m.found.as_ref().filter(|found| found.by != FoundBy::LuxPair) {
            told.push((place(m.thickness_mm), found.luminous));
        }
    }
    // Under a coloured light as much passes as the stone lets through of that colour: no word on a white.
    for t in project.trials.values().filter(|t| t.swatch == swatch.id && t.cct_k.is_some()) {
        if let Some(pair) = pair(t.bare_lx, t.through_lx) {
            read.push((place(swatch.thickness_mm), ReadAt::Trial(t), swatch.thickness_mm, pair));
        }
    }
    for (at, luminous) in told {
        all[at].told.push(luminous);
    }
    for (place, at, thickness_mm, pair) in read {
        let told = geometric_mean(&all[place].told);
        let off = pair.transmittance() / told;
        // Exactly twice or half is still believed, whatever the last binary digit of the mean.
        let far = off.ln().abs() > BELIEVED.ln() + 1e-9;
        let too_far = (told > 0.0 && far).then_some(off);
        all[place].readings.push(LuxReading { at, thickness_mm, pair, too_far });
    }
    all.sort_by(|a, b| a.thickness_mm.0.total_cmp(&b.thickness_mm.0));
    all
}

/// Every lux pair over a stone's body: the swatch's own, and those of its trials under white light.
#[must_use]
pub(crate) fn lux_readings<'a>(swatch: &'a Swatch, project: &'a Snapshot) -> Vec<LuxReading<'a>> {
    by_thickness(swatch, project).into_iter().flat_map(|at| at.readings).collect()
}

/// The luminous transmittances of a stone's body that were measured, by thickness: the geometric mean of the lux pairs
/// at that thickness, or of what spectra and photos tell where no meter was held there. Gates, build pack and
/// prediction all begin here.
#[must_use]
pub(crate) fn measured(swatch: &Swatch, project: &Snapshot) -> Vec<(Millimetres, f64)> {
    by_thickness(swatch, project).iter().map(|at| (at.thickness_mm, at.transmittance())).collect()
}

/// The luminous transmittance at the slab's thickness.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct AtSlab {
    /// What it lies between.
    pub bounds: Bounds,
    /// True where the slab lies beyond half or twice what was measured.
    pub extrapolated: bool,
    /// How many thicknesses were measured.
    pub thicknesses: usize,
}

/// The luminous transmittance of a stone at its slab's thickness; none where nothing was measured.
///
/// # Errors
/// Where the measurements contradict each other.
pub(crate) fn at_slab(swatch: &Swatch, project: &Snapshot) -> Option<Result<AtSlab, ThicknessError>> {
    at_slab_by(Law::Present, swatch, project)
}

fn at_slab_by(law: Law, swatch: &Swatch, project: &Snapshot) -> Option<Result<AtSlab, ThicknessError>> {
    let pairs = measured(swatch, project);
    let (thinnest, thickest) = (pairs.first()?.0.0, pairs.last()?.0.0);
    let slab = swatch.slab.thickness_mm;
    let extrapolated = slab.0 < thinnest * TRUSTED_RATIO.0 || slab.0 > thickest * TRUSTED_RATIO.1;
    Some(bounds_by(law, &pairs, slab, Beyond::Allow).map(|bounds| AtSlab {
        bounds,
        extrapolated,
        thicknesses: pairs.len(),
    }))
}

/// How bright a panel's stone will be.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Brightness {
    /// The transmittance that it rests on.
    pub stone: AtSlab,
    /// The panel's own light.
    pub panel: PanelOutput,
    /// The stone's luminance, from and to, in cd/m².
    pub luminance_cd_m2: [f64; 2],
    /// The luminance of the room's surfaces, in cd/m²; above 0.
    pub room_cd_m2: f64,
}

impl Brightness {
    /// The stone's luminance over the room's, from and to.
    #[must_use]
    pub(crate) fn ratio(&self) -> [f64; 2] {
        self.luminance_cd_m2.map(|l| l / self.room_cd_m2)
    }
}

/// A stone that falls short of the brightness that the shop wants beside its surroundings.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Dim {
    /// How bright it will be.
    pub found: Brightness,
    /// The least ratio that the shop wants.
    pub least: f64,
}

impl Dim {
    /// True where it is dim even at the bright end of what the measurements leave open; else it may be.
    #[must_use]
    pub(crate) fn is_certain(&self) -> bool {
        self.found.ratio()[1] < self.least
    }

    /// The ratio in words, rounded down to a tenth, below 1 to a twentieth and below 0.2 to a hundredth, so that a signature over it stands
    /// until it changes by what an eye could tell.
    #[must_use]
    pub(crate) fn ratio_in_words(&self) -> String {
        let down = |ratio: f64| {
            let steps = match ratio {
                ..0.2 => 100.0,
                ..1.0 => 20.0,
                _ => 10.0,
            };
            // A ratio that the sums leave a hair below a step counts as that step.
            trimmed((ratio * steps + 1e-6).floor() / steps, 2)
        };
        let [low, high] = self.found.ratio().map(down);
        if low == high { low } else { format!("{low} to {high}") }
    }
}

/// A panel whose stone falls short of what the shop wants, or may, by the dark end of what the measurements leave
/// open, by a law of thickness; none where it is bright enough, and where that cannot be told.
#[must_use]
pub(crate) fn dim(case: &Case<'_>, id: &PanelId, panel: &Panel, law: Law) -> Option<Dim> {
    let found = by_law(law, case, id, panel, case.project.stone_of(panel)?)?;
    let least = case.shop.rules.least_luminance_ratio;
    (found.ratio()[0] < least).then_some(Dim { found, least })
}

/// How bright a panel's stone will be with its chosen light; none where the choice, the measurements or the
/// room are not known, or do not fit together.
#[must_use]
pub(crate) fn of_panel(case: &Case<'_>, id: &PanelId, panel: &Panel, stone: &Swatch) -> Option<Brightness> {
    by_law(Law::Present, case, id, panel, stone)
}

fn by_law(law: Law, case: &Case<'_>, id: &PanelId, panel: &Panel, stone: &Swatch) -> Option<Brightness> {
    let site = &case.project.project.site;
    let room_cd_m2 = reflected_luminance_cd_m2(site.ambient_lx?, site.surround_reflectance?);
    let light = panel.light.as_ref()?;
    let drawing = case.project.drawing_of(id)?;
    let panel = output(case.shop, panel, drawing, light.kind, light.cct_k).ok()?;
    let stone = at_slab_by(law, stone, case.project)?.ok()?;
    let luminance_cd_m2 =
        [stone.bounds.low, stone.bounds.high].map(|t| luminance_cd_m2(Lux(panel.exitance_lx.0 * t)));
    (room_cd_m2 > 0.0).then_some(Brightness { stone, panel, luminance_cd_m2, room_cd_m2 })
}
