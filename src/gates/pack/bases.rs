//! The stones, and what the pack's figures rest on: measured, stated by a supplier, estimated or computed.

use std::collections::BTreeMap;

use super::data::{BasisData, MeasuredData, StoneData};
use super::milli;
use crate::gates::case::Case;
use crate::gates::cautions::{ACRYLIC_MM_PER_M_K, SWING_K};
use crate::gates::plan::JobPlan;
use crate::making::service::ACRYLIC_KG_M3;
use crate::making::service::USUAL_STONE_KG_M3;
use crate::model::swatch::Swatch;
use crate::power::vocabulary::Basis;
use crate::units::{Millimetres, trimmed};

/// Transmittances measured on a swatch by lux pairs, one for each thickness: the geometric mean where there are
/// several.
pub(super) fn transmittances(stone: &Swatch) -> Vec<(Millimetres, f64)> {
    let mut by_thickness: BTreeMap<i64, Vec<f64>> = BTreeMap::new();
    for measured in &stone.measured {
        if let (Some(bare), Some(through)) = (measured.bare_lx, measured.through_lx)
            && bare.0 > 0.0
            && through.0 > 0.0
        {
            let one = (through.0 / bare.0).min(1.0);
            by_thickness.entry(measured.thickness_mm.micrometres()).or_default().push(one);
        }
    }
    by_thickness
        .into_iter()
        .map(|(um, all)| {
            let mean = (all.iter().map(|t| t.ln()).sum::<f64>() / all.len() as f64).exp();
            (Millimetres(um as f64 / 1000.0), mean)
        })
        .collect()
}

/// The stones that panels use.
pub(super) fn stones(case: &Case<'_>) -> Vec<StoneData> {
    case.project
        .stones_in_use()
        .filter_map(|id| Some((id, case.project.swatches.get(id)?)))
        .map(|(id, stone)| StoneData {
            swatch: id.to_string(),
            stone: stone.stone.clone(),
            material: stone.material.to_string(),
            lot: stone.slab.lot.clone(),
            finish: stone.slab.finish.clone(),
            swatch_thickness_um: stone.thickness_mm.micrometres(),
            slab_thickness_um: stone.slab.thickness_mm.micrometres(),
            density_kg_m3: stone.slab.density_kg_m3.unwrap_or(USUAL_STONE_KG_M3).round() as i64,
            density_stated: stone.slab.density_kg_m3.is_some(),
            measured: stone
                .measured
                .iter()
                .map(|m| MeasuredData {
                    id: m.id.to_string(),
                    date: m.date.to_string(),
                    thickness_um: m.thickness_mm.micrometres(),
                    bare_mlx: m.bare_lx.map(|lx| milli(lx.0)),
                    through_mlx: m.through_lx.map(|lx| milli(lx.0)),
                    spectrum_sha256: m.spectrum.as_ref().map(|a| a.sha256.hex()),
                })
                .collect(),
            panels: case.panels().filter(|(_, p)| p.swatch == *id).map(|(p, _)| p.to_string()).collect(),
        })
        .collect()
}

/// What each kind of figure rests on, for this job.
pub(super) fn bases(case: &Case<'_>, job: &JobPlan) -> Vec<BasisData> {
    let line = |figure: &str, basis: &str, from: String| BasisData {
        figure: figure.into(),
        basis: basis.into(),
        from,
    };
    let mut all = vec![
        line(
            "outline, lengths, area",
            "computed",
            "from the outline's own lines, arcs and splines; the drawing sheet governs".into(),
        ),
        line(
            "tape length",
            "computed",
            "lit edges along the outline, cut down to the tape's cut interval".into(),
        ),
    ];
    let mut tapes: Vec<(&str, Basis)> = job
        .panels
        .values()
        .filter_map(|plan| plan.power.as_ref().ok())
        .map(|power| (power.tape.as_str(), power.build.basis))
        .collect();
    tapes.sort_unstable_by_key(|(id, _)| *id);
    tapes.dedup();
    for (tape, basis) in tapes {
        let from = match basis {
            Basis::Measured => "the shop measured its own builds",
            Basis::Supplier => "the supplier states them",
            Basis::Estimated => "estimated: measure a build, and set its basis in shop/lights.json",
        };
        all.push(line(&format!("watts, lumens and face share of tape {tape}"), basis.word(), from.into()));
    }
    all.push(line(
        "driver ratings, mains current, Class 2 listing",
        "supplier",
        "as the shop recorded them in shop/drivers.json; a listing is never a sum".into(),
    ));
    all.push(line("resistance of conductors", "computed", format!("largest by table: NEC Chapter 9 Table 8 (AWG) or IEC 60228 (mm²), copper, at {} °C; {} mΩ for each joint", trimmed(case.shop.wire.conductor_c, 0), trimmed(case.shop.wire.joint_mohm, 1))));
    all.push(line(
        "largest current of a cable",
        "supplier",
        "as the shop recorded it in shop/wire.json; grouping and heat by the local code".into(),
    ));
    all.push(line(
        "drop along the tape",
        "computed",
        "evenly loaded: I·R/2 fed at one end, I·R/8 fed at both".into(),
    ));
    for stone in case.project.stones_in_use().filter_map(|id| case.project.swatches.get(id)) {
        let (basis, from) = match transmittances(stone).len() {
            0 => ("not known", "no light through the swatch was measured: underlit swatch measure".to_owned()),
            1 => ("estimated", "between absorbing (Beer–Lambert) and scattering (Kubelka–Munk, K → 0), from one thickness measured".to_owned()),
            n => ("estimated", format!("between two laws fitted to {n} thicknesses measured")),
        };
        all.push(line(&format!("light through {}", stone.stone), basis, from));
        let (basis, from) = match stone.slab.density_kg_m3 {
            Some(density) => ("supplier", format!("{} kg/m³, as recorded for the slab", trimmed(density, 0))),
            None => (
                "estimated",
                format!(
                    "{} kg/m³, a handbook value from memory: weigh a piece",
                    trimmed(USUAL_STONE_KG_M3, 0)
                ),
            ),
        };
        all.push(line(&format!("mass of {}", stone.stone), basis, from));
    }
    all.push(line(
        "mass of panels",
        "estimated",
        format!(
            "as if solid acrylic of {} kg/m³ (ISO 1183 gives about that; from memory)",
            trimmed(ACRYLIC_KG_M3, 0)
        ),
    ));
    all.push(line("movement of acrylic", "estimated", format!("{ACRYLIC_MM_PER_M_K} mm per m and K (handbook value, from memory) over {} K (common practice, no source)", trimmed(SWING_K, 0))));
    all
}

/// What the sums take for granted; whoever builds or installs looks whether it is so.
pub(super) fn assumptions(case: &Case<'_>) -> Vec<String> {
    let wettest = case.panels().map(|(_, p)| p.place).max().map_or("dry", |p| p.word());
    vec![
        format!("Drivers, controllers and dimmers stand in a dry place with air and access; only the panels and their leads stand where it is {wettest}."),
        "A controller or an in-line dimmer stands beside its driver: the length of each lead is counted from there to the panel.".into(),
        "Every watt is counted at full: all channels on together.".into(),
        "Each lead has two joints in every conductor: one at the driver or control, one at the panel.".into(),
        "The lengths of leads are one way, as the engineer gave them; the bill counts no waste and no slack.".into(),
        format!("A driver output is loaded to at most {} % of its rating.", trimmed(case.shop.drivers.largest_load_share * 100.0, 0)),
        format!("The drop from driver to panel is planned to at most {} % of the nominal voltage, as a design target of the shop.", trimmed(case.shop.wire.largest_drop_pct, 1)),
    ]
}
