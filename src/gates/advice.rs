//! Warnings: what common practice and the measurements say, beside a verdict. They block nothing.

use super::as_built;
use super::case::Case;
use super::verdict::Warning;
use crate::light::practice::{self, Standing};
use crate::model::id::PanelId;
use crate::model::panel::Panel;
use crate::model::swatch::Swatch;
use crate::shape::ShapeClass;
use crate::words::LightKind;

/// Everything to know that blocks nothing.
#[must_use]
pub fn warnings(case: &Case<'_>) -> Vec<Warning> {
    let mut warnings = Vec::new();
    let job = case.job();
    for (id, panel) in case.panels() {
        if let Some(stone) = case.project.stone_of(panel) {
            colour_temperature(id, panel, stone, &mut warnings);
            face(id, panel, stone, &mut warnings);
            luminance(case, id, panel, stone, &mut warnings);
        }
        lit_edges(case, id, panel, &mut warnings);
        if let Some(Ok(power)) = job.panels.get(id).map(|plan| &plan.power) {
            warnings.extend(power.remarks.iter().map(|message| Warning {
                code: "power",
                message: format!("panel {id}: {message}"),
                source: "worked out from the shop's lists",
            }));
        }
    }
    for built in as_built::compare(case, &job).iter().filter(|b| b.is_far_off()) {
        warnings.push(Warning {
            code: "as-built-power",
            message: built.in_words(),
            source: "common practice, no source",
        });
    }
    warnings
}

fn colour_temperature(id: &PanelId, panel: &Panel, stone: &Swatch, warnings: &mut Vec<Warning>) {
    let Some(cct) = panel.light.as_ref().and_then(|l| l.cct_k) else { return };
    let usual = practice::cct(stone.tone, stone.texture);
    if matches!(usual.standing(f64::from(cct)), Standing::BelowFloor | Standing::Unusual) {
        warnings.push(Warning {
            code: "unusual-cct",
            message: format!("panel {id}: {cct} K under {} is not usual: {}", stone.stone, usual.sentence),
            source: usual.source,
        });
    }
}

fn face(id: &PanelId, panel: &Panel, stone: &Swatch, warnings: &mut Vec<Warning>) {
    let usual = practice::face(stone.slab.thickness_mm);
    if let (Some(chosen), Some(advised)) = (panel.face, usual.face)
        && chosen != advised
    {
        warnings.push(Warning {
            code: "unusual-face",
            message: format!("panel {id}: the {chosen} face is not usual here: {}", usual.sentence),
            source: usual.source,
        });
    }
}

/// Compares what a trial measured through the stone with the light on the surroundings.
fn luminance(case: &Case<'_>, id: &PanelId, panel: &Panel, stone: &Swatch, warnings: &mut Vec<Warning>) {
    let site = &case.project.project.site;
    let (Some(ambient), Some(reflectance)) = (site.ambient_lx, site.surround_reflectance) else { return };
    let around = ambient.0 * reflectance / std::f64::consts::PI;
    let measured = case
        .project
        .trials
        .values()
        .filter(|t| t.swatch == panel.swatch)
        .filter_map(|t| t.through_lx)
        .map(|lx| lx.0 / std::f64::consts::PI)
        .reduce(f64::max);
    let Some(through) = measured else { return };
    let least = case.shop.rules.least_luminance_ratio;
    if around > 0.0 && through / around < least {
        warnings.push(Warning {
            code: "dim",
            message: format!(
                "panel {id}: the best trial of {} gave {:.1} cd/m², {:.1} times its surroundings' {:.1} cd/m²; the shop wants {least} or more. A swatch thinner than the slab flatters.",
                stone.stone, through, through / around, around
            ),
            source: "measured in the trials; luminance of a matt surface is illuminance times reflectance over π",
        });
    }
}

fn lit_edges(case: &Case<'_>, id: &PanelId, panel: &Panel, warnings: &mut Vec<Warning>) {
    let Some(drawing) = case.project.drawing_of(id) else { return };
    let lit = panel.lit_edges.len();
    if lit > 2 && drawing.figures.shape != ShapeClass::Square && drawing.figures.shape != ShapeClass::Circle {
        warnings.push(Warning {
            code: "uneven-light",
            message: format!(
                "panel {id}: {lit} lit edges on a {} light it unevenly; two opposite long edges light it better",
                drawing.figures.shape
            ),
            source: practice::SOURCE,
        });
    }
    if panel.light.as_ref().is_some_and(|l| l.kind == LightKind::Rgbw) {
        warnings.push(Warning {
            code: "deep-colours",
            message: format!("panel {id}: {}", practice::DEEP_COLOURS),
            source: practice::SOURCE,
        });
    }
}
