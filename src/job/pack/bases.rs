//! The stones, and what the pack's figures rest on: measured, stated by a supplier, estimated or computed.

use std::collections::BTreeMap;

use super::data::{MeasuredData, MeasuredFrom, StoneData};
use super::notes::{Assumption, Basis};
use super::{milli, um};
use crate::job::brightness::{self, ReadAt};
use crate::job::case::Case;
use crate::job::masses::{self, ACRYLIC_MM_PER_M_K, SWING_K};
use crate::job::plan::JobPlan;
use crate::making::service::ACRYLIC_KG_M3;
use crate::model::swatch::Swatch;
use crate::power::vocabulary::{self, Location, Place};

/// The stones that panels use.
pub(super) fn stones(case: &Case<'_>) -> Vec<StoneData> {
    case.project
        .stones_in_use()
        .filter_map(|id| Some((id, case.project.swatches.get(id)?)))
        .map(|(id, stone)| (id, stone, masses::density(case.shop, stone)))
        .map(|(id, stone, density)| StoneData {
            swatch: id.to_string(),
            stone: stone.stone.clone(),
            material: stone.material.to_string(),
            lot: stone.slab.lot.clone(),
            finish: stone.slab.finish.clone(),
            swatch_thickness_um: stone.thickness_mm.micrometres(),
            slab_thickness_um: stone.slab.thickness_mm.micrometres(),
            density_kg_m3: density.most.round() as i64,
            density_least_kg_m3: density.least.round() as i64,
            density_from: density.from,
            measured: measured(case, stone),
            panels: case.panels().filter(|(_, p)| p.swatch == *id).map(|(p, _)| p.to_string()).collect(),
        })
        .collect()
}

/// What was measured on a swatch, and the lux pairs of its trials that brightness rests on.
fn measured(case: &Case<'_>, stone: &Swatch) -> Vec<MeasuredData> {
    let own = stone.measured.iter().map(|m| MeasuredData {
        from: MeasuredFrom::Swatch,
        id: m.id.to_string(),
        date: m.date.to_string(),
        thickness_um: m.thickness_mm.micrometres(),
        bare_mlx: m.bare_lx.map(|lx| milli(lx.0)),
        through_mlx: m.through_lx.map(|lx| milli(lx.0)),
        spectrum_sha256: m.spectrum.as_ref().map(|a| a.sha256.hex()),
        photo_sha256: m.photo.as_ref().map(|p| p.picture.sha256.hex()),
        chart_sha256: m.photo.as_ref().and_then(|p| p.chart_picture.as_ref()).map(|a| a.sha256.hex()),
        values_sha256: m.values.as_ref().map(|a| a.sha256.hex()),
    });
    let readings = brightness::lux_readings(stone, case.project);
    let tried = readings.into_iter().filter_map(|reading| match reading.at {
        ReadAt::Trial(trial) if reading.too_far.is_none() => Some(MeasuredData {
            from: MeasuredFrom::Trial,
            id: trial.id.to_string(),
            date: trial.date.to_string(),
            thickness_um: reading.thickness_mm.micrometres(),
            bare_mlx: Some(milli(reading.pair.bare().0)),
            through_mlx: Some(milli(reading.pair.through().0)),
            spectrum_sha256: None,
            photo_sha256: None,
            chart_sha256: None,
            values_sha256: None,
        }),
        _ => None,
    });
    own.chain(tried).collect()
}

/// What each kind of figure rests on, for this job.
pub(super) fn bases(case: &Case<'_>, job: &JobPlan) -> Vec<Basis> {
    let mut all = vec![Basis::Outline, Basis::TapeLength];
    let mut tapes: Vec<(&str, vocabulary::Basis)> = job
        .panels
        .values()
        .filter_map(|plan| plan.power.as_ref().ok())
        .map(|power| (power.tape.as_str(), power.build.basis))
        .collect();
    tapes.sort_unstable_by_key(|(id, _)| *id);
    tapes.dedup();
    all.extend(tapes.into_iter().map(|(tape, basis)| Basis::Tape { tape: tape.to_owned(), basis }));
    all.push(Basis::Drivers);
    all.push(Basis::Conductors {
        conductor_mc: milli(case.shop.wire.conductor_c),
        joint_uohm: milli(case.shop.wire.joint_mohm),
    });
    all.extend([Basis::CableCurrent, Basis::TapeDrop]);
    for stone in case.project.stones_in_use().filter_map(|id| case.project.swatches.get(id)) {
        let thicknesses = brightness::measured(stone, case.project).len() as i64;
        all.push(Basis::LightThrough { stone: stone.stone.clone(), thicknesses });
        let density = masses::density(case.shop, stone);
        all.push(Basis::StoneMass {
            stone: stone.stone.clone(),
            least_kg_m3: density.least.round() as i64,
            most_kg_m3: density.most.round() as i64,
            from: density.from,
        });
    }
    all.push(Basis::PanelMass { density_kg_m3: ACRYLIC_KG_M3.round() as i64 });
    all.push(Basis::Movement { um_per_m_k: um(ACRYLIC_MM_PER_M_K), swing_k: SWING_K.round() as i64 });
    if job.materials.sheets.values().any(|sheets| !sheets.is_empty()) {
        all.push(Basis::Sheets);
    }
    all
}

/// What the sums take for granted; whoever builds or installs looks whether it is so.
pub(super) fn assumptions(case: &Case<'_>) -> Vec<Assumption> {
    let mut all = Vec::new();
    let mut places: BTreeMap<(Location, Place), Vec<String>> = BTreeMap::new();
    let mut taken = Vec::new();
    for (id, panel) in case.panels() {
        match &panel.supply {
            Some(supply) => places.entry((supply.location, supply.place)).or_default().push(id.to_string()),
            None => taken.push(id.to_string()),
        }
    }
    for ((location, place), panels) in places {
        all.push(Assumption::DriverPlace { panels, location, place });
    }
    if !taken.is_empty() {
        all.push(Assumption::DriverPlaceTaken { panels: taken });
    }
    if case.project.project.site.mains_v.is_none() {
        all.push(Assumption::MainsNotRecorded);
    }
    all.extend([
        Assumption::ControlBesideDriver,
        Assumption::AllChannelsFull,
        Assumption::JointsOfLeads,
        Assumption::LengthsOneWay,
        Assumption::LoadShare { permille: milli(case.shop.drivers.largest_load_share) },
        Assumption::LargestDrop { permyriad: (case.shop.wire.largest_drop_pct * 100.0).round() as i64 },
    ]);
    all
}
