//! What the parts of a panel weigh and how far they move: stone by its material, the sheets that are there, piece by
//! piece.
//!
//! Computed, not weighed. Where a density is not known well the range is kept, and a lift is planned for its heavy end.

use serde::Serialize;

use super::plan::pieces;
use crate::making::service::ACRYLIC_KG_M3;
use crate::model::panel::Panel;
use crate::model::sizes::SizeOf;
use crate::model::snapshot::{Drawing, Shop};
use crate::model::swatch::{Material, Swatch};
use crate::power::vocabulary::Place;
use crate::shape::SplitOption;

/// How much acrylic grows, in millimetres per metre and kelvin. Handbook value, from memory.
pub(crate) const ACRYLIC_MM_PER_M_K: f64 = 0.07;

/// The swing of temperature for which room is left, in kelvin. Common practice, no source.
pub(crate) const SWING_K: f64 = 40.0;

/// How much acrylic grows from a dry room to a damp or wet place, in millimetres per metre, by the water that it takes
/// up. Handbook value, from memory.
pub(crate) const ACRYLIC_MOIST_MM_PER_M: f64 = 2.0;

/// Where a density comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum DensityFrom {
    /// The slab's own record.
    Slab,
    /// The shop's record of the material, in `shop/routes.json`.
    Shop,
    /// A handbook, from memory.
    Handbook,
}

/// A density with its range, kilograms per cubic metre.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Density {
    /// The least that it may be.
    pub least: f64,
    /// The most that it may be.
    pub most: f64,
    /// Where it comes from.
    pub from: DensityFrom,
}

/// Densities by material, kilograms per cubic metre, from handbooks by memory: gypsum 2320, calcite 2710, quartz 2650,
/// rocks with their pores and other minerals; films of plastic; prints on acrylic or on glass. What is only called alabaster is gypsum or calcite, and so spans both.
fn handbook(material: Material) -> [f64; 2] {
    match material {
        Material::GypsumAlabaster => [2250.0, 2350.0],
        Material::CalciteAlabaster | Material::Onyx => [2650.0, 2750.0],
        Material::Alabaster => [2250.0, 2750.0],
        Material::Marble => [2600.0, 2850.0],
        Material::Quartzite => [2600.0, 2700.0],
        Material::Travertine => [2200.0, 2700.0],
        Material::Agate => [2550.0, 2650.0],
        Material::Quartz => [2600.0, 2700.0],
        Material::Film => [1150.0, 1450.0],
        Material::Print => [1150.0, 2600.0],
        Material::Other => [2200.0, 2900.0],
    }
}

/// The density of a stone: its slab's own, the shop's for the material, or a handbook's.
#[must_use]
pub fn density(shop: &Shop, stone: &Swatch) -> Density {
    if let Some(own) = stone.slab.density_kg_m3 {
        return Density { least: own, most: own, from: DensityFrom::Slab };
    }
    let word = stone.material.word();
    match shop.routes.stone_densities.iter().find(|one| one.material == word) {
        Some(one) => Density { least: one.least_kg_m3, most: one.most_kg_m3, from: DensityFrom::Shop },
        None => {
            let [least, most] = handbook(stone.material);
            Density { least, most, from: DensityFrom::Handbook }
        }
    }
}

/// The masses of one panel, kilograms.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Masses {
    /// The stone over it: at the least and at the most; none where its swatch is not there, or is no stone.
    pub stone_kg: Option<[f64; 2]>,
    /// Each piece of the panel, in order, with its sheets and its frame; one where it is whole, none where neither its
    /// sheets nor its depth are known.
    pub pieces_kg: Vec<f64>,
    /// True where they are those of the sheets that the route lists; false as if solid acrylic.
    pub of_sheets: bool,
}

/// The areas of a panel's pieces in mm² with the length of their borders in mm.
fn pieces_of(drawing: &Drawing, split: Option<&SplitOption>) -> Vec<(f64, f64)> {
    match split {
        None => vec![(drawing.figures.area_mm2, drawing.outline.outer.length())],
        Some(split) => split.pieces.iter().map(|p| (p.area_mm2, p.outline.outer.length())).collect(),
    }
}

/// What a panel and the stone over it weigh; `depth_mm` is its depth where its route lists no sheets.
#[must_use]
pub(crate) fn of_panel(
    shop: &Shop,
    panel: &Panel,
    drawing: &Drawing,
    stone: Option<&Swatch>,
    split: Option<&SplitOption>,
    depth_mm: Option<f64>,
) -> Masses {
    let route = panel.route.as_ref().and_then(|r| shop.routes.get(r.as_str()));
    let layers: Vec<_> =
        route.zip(panel.face).map(|(route, face)| route.layers_for(face).collect()).unwrap_or_default();
    let kg_per_m2 = if layers.is_empty() {
        depth_mm.map(|depth| depth / 1000.0 * ACRYLIC_KG_M3)
    } else {
        let one = |layer: &&crate::making::routes::Layer| {
            layer.thickness_mm.0 / 1000.0 * layer.density_kg_m3.unwrap_or(ACRYLIC_KG_M3)
        };
        Some(layers.iter().map(one).sum())
    };
    let frame = route.and_then(|r| r.frame_kg_per_m).unwrap_or(0.0);
    let pieces = kg_per_m2.map(|sheets| {
        let one = |(area, border): (f64, f64)| area / 1e6 * sheets + border / 1000.0 * frame;
        pieces_of(drawing, split).into_iter().map(one).collect()
    });
    let stone_kg = stone.filter(|stone| stone.material.is_stone()).map(|stone| {
        let density = density(shop, stone);
        let of = |kg_m3: f64| {
            drawing.figures_of(SizeOf::StoneEdge).stone_mass_kg(stone.slab.thickness_mm.0, kg_m3)
        };
        [of(density.least), of(density.most)]
    });
    Masses { stone_kg, pieces_kg: pieces.unwrap_or_default(), of_sheets: !layers.is_empty() }
}

/// How far the longest piece of a panel grows and shrinks, millimetres: with heat, and with water where it is not dry.
#[must_use]
pub(crate) fn movement_mm(panel: &Panel, drawing: &Drawing, split: Option<&SplitOption>) -> f64 {
    let longest = pieces::long_sides(drawing, split).into_iter().map(|mm| mm.0).fold(0.0, f64::max);
    let moist = if panel.place > Place::Dry { ACRYLIC_MOIST_MM_PER_M } else { 0.0 };
    longest / 1000.0 * (ACRYLIC_MM_PER_M_K * SWING_K + moist)
}

/// The pieces of a split panel as its record settles them; none where it is whole.
#[must_use]
pub fn split_of(shop: &Shop, panel: &Panel, drawing: &Drawing) -> Option<SplitOption> {
    let tape = panel.tape.as_ref().and_then(|t| shop.lights.get(t.as_str()));
    pieces::pieces(shop, panel, drawing, tape)
}
