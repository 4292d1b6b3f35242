//! How bright a panel's stone will be: the transmittances that were measured, brought to the slab's thickness,
//! over the panel's own light, against the room.
//!
//! Brightness only; what the stone looks like takes its files and is `ops::look`'s matter.

use super::case::Case;
use super::plan::light::{PanelOutput, output};
use crate::light::photometry::{LuxPair, luminance_cd_m2, reflected_luminance_cd_m2};
use crate::light::thickness::{Beyond, Bounds, TRUSTED_RATIO, ThicknessError, bounds};
use crate::model::id::PanelId;
use crate::model::panel::Panel;
use crate::model::snapshot::Snapshot;
use crate::model::swatch::{Part, Swatch};
use crate::units::{Lux, Millimetres, trimmed};

/// Thicknesses closer than this are one piece measured twice.
const SAME_THICKNESS_MM: f64 = 0.05;

/// The luminous transmittances of a stone's body that were measured, by thickness, each the geometric mean of
/// all readings at that thickness: the swatch's own measurements and the lux pairs of its trials.
#[must_use]
pub fn measured(swatch: &Swatch, project: &Snapshot) -> Vec<(Millimetres, f64)> {
    let pair = |bare: Option<Lux>, through: Option<Lux>| {
        LuxPair::new(bare?, through?).ok().map(LuxPair::transmittance)
    };
    let own = swatch.measured.iter().filter(|m| m.of_part() == Part::Body).filter_map(|m| {
        let luminous = pair(m.bare_lx, m.through_lx).or_else(|| m.found.as_ref().map(|f| f.luminous))?;
        Some((m.thickness_mm, luminous))
    });
    let tried = project
        .trials
        .values()
        .filter(|t| t.swatch == swatch.id)
        .filter_map(|t| Some((swatch.thickness_mm, pair(t.bare_lx, t.through_lx)?)));
    let mut by_thickness: Vec<(f64, Vec<f64>)> = Vec::new();
    for (thickness, luminous) in own.chain(tried) {
        match by_thickness.iter_mut().find(|(d, _)| (d - thickness.0).abs() < SAME_THICKNESS_MM) {
            Some((_, all)) => all.push(luminous),
            None => by_thickness.push((thickness.0, vec![luminous])),
        }
    }
    by_thickness.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mean = |all: &[f64]| {
        let logs: f64 = all.iter().map(|t| t.max(1e-9).ln()).sum();
        (logs / all.len() as f64).exp()
    };
    by_thickness.into_iter().map(|(d, all)| (Millimetres(d), mean(&all))).collect()
}

/// The luminous transmittance at the slab's thickness.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AtSlab {
    /// What it lies between.
    pub bounds: Bounds,
    /// True where the slab lies beyond half or twice what was measured.
    pub extrapolated: bool,
}

/// The luminous transmittance of a stone at its slab's thickness; none where nothing was measured.
///
/// # Errors
/// Where the measurements contradict each other.
pub fn at_slab(swatch: &Swatch, project: &Snapshot) -> Option<Result<AtSlab, ThicknessError>> {
    let pairs = measured(swatch, project);
    let (thinnest, thickest) = (pairs.first()?.0.0, pairs.last()?.0.0);
    let slab = swatch.slab.thickness_mm;
    let extrapolated = slab.0 < thinnest * TRUSTED_RATIO.0 || slab.0 > thickest * TRUSTED_RATIO.1;
    Some(bounds(&pairs, slab, Beyond::Allow).map(|bounds| AtSlab { bounds, extrapolated }))
}

/// How bright a panel's stone will be.
#[derive(Clone, Debug, PartialEq)]
pub struct Brightness {
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
    pub fn ratio(&self) -> [f64; 2] {
        self.luminance_cd_m2.map(|l| l / self.room_cd_m2)
    }
}

/// A stone that falls short of the brightness that the shop wants beside its surroundings.
#[derive(Clone, Debug, PartialEq)]
pub struct Dim {
    /// How bright it will be.
    pub found: Brightness,
    /// The least ratio that the shop wants.
    pub least: f64,
}

impl Dim {
    /// True where it is dim even at the bright end of what the measurements leave open; else it may be.
    #[must_use]
    pub fn is_certain(&self) -> bool {
        self.found.ratio()[1] < self.least
    }

    /// The ratio in words, rounded down to a tenth, below 1 to a twentieth and below 0.2 to a hundredth, so that a signature over it stands
    /// until it changes by what an eye could tell.
    #[must_use]
    pub fn ratio_in_words(&self) -> String {
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
/// open; none where it is bright enough, and where that cannot be told.
#[must_use]
pub fn dim(case: &Case<'_>, id: &PanelId, panel: &Panel) -> Option<Dim> {
    let found = of_panel(case, id, panel, case.project.stone_of(panel)?)?;
    let least = case.shop.rules.least_luminance_ratio;
    (found.ratio()[0] < least).then_some(Dim { found, least })
}

/// How bright a panel's stone will be with its chosen light; none where the choice, the measurements or the
/// room are not known, or do not fit together.
#[must_use]
pub fn of_panel(case: &Case<'_>, id: &PanelId, panel: &Panel, stone: &Swatch) -> Option<Brightness> {
    let site = &case.project.project.site;
    let room_cd_m2 = reflected_luminance_cd_m2(site.ambient_lx?, site.surround_reflectance?);
    let light = panel.light.as_ref()?;
    let drawing = case.project.drawing_of(id)?;
    let panel = output(case.shop, panel, drawing, light.kind, light.cct_k).ok()?;
    let stone = at_slab(stone, case.project)?.ok()?;
    let luminance_cd_m2 =
        [stone.bounds.low, stone.bounds.high].map(|t| luminance_cd_m2(Lux(panel.exitance_lx.0 * t)));
    (room_cd_m2 > 0.0).then_some(Brightness { stone, panel, luminance_cd_m2, room_cd_m2 })
}
