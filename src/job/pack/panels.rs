//! Each panel's figures, and how it is served.

use super::circuits::light_of;
use super::data::{
    BendData, ChannelData, EdgeData, EtchingData, ItemData, LuminanceData, PanelData, PowerData, ServiceData,
    SheetData, SizeData, SizesData, StoneData, SupplyData, TapeData,
};
use super::{milli, um};
use crate::ids::PanelId;
use crate::job::brightness;
use crate::job::case::Case;
use crate::job::masses;
use crate::job::plan::{JobPlan, PowerPlan};
use crate::job::plan::{bend, pieces};
use crate::light::photometry::luminance_cd_m2;
use crate::making::service::{self, Served, StonePiece};
use crate::model::panel::{Floor, Panel, Supply};
use crate::model::sizes::SizeOf;
use crate::model::snapshot::Drawing;
use crate::model::swatch::Material;
use crate::shape;
use crate::units::{Kilograms, Lux, Millimetres, Volts};

/// The panels, by name.
pub(super) fn panels(case: &Case<'_>, job: &JobPlan, stones: &[StoneData]) -> Vec<PanelData> {
    case.panels()
        .map(|(id, panel)| {
            let mut data = one(case, job, id, panel);
            data.service = service(&data, stones.iter().find(|s| s.swatch == data.swatch));
            data
        })
        .collect()
}

fn one(case: &Case<'_>, job: &JobPlan, id: &PanelId, panel: &Panel) -> PanelData {
    let plan = job.panels.get(id);
    let drawing = case.project.drawing_of(id);
    let figures = drawing.map(|d| &d.figures);
    let stone = case.project.stone_of(panel);
    let power = plan.and_then(|p| p.power.as_ref().ok());
    let route = plan.and_then(|p| p.route.as_ref().ok()).and_then(|r| case.shop.routes.get(r));
    let weighed = drawing.map(|drawing| {
        let split = masses::split_of(case.shop, panel, drawing);
        let depth = power.map(|p| p.build.depth_mm.0);
        masses::of_panel(case.shop, panel, drawing, stone, split.as_ref(), depth)
    });
    let pieces_kg = weighed.as_ref().map(|w| w.pieces_kg.clone()).unwrap_or_default();
    let stone_kg = weighed.as_ref().and_then(|w| w.stone_kg);
    PanelData {
        id: id.to_string(),
        quantity: panel.quantity.map(i64::from),
        rooms: panel.groups.iter().flat_map(|share| &share.rooms).map(ToString::to_string).collect(),
        sizes: sizes(case, panel, drawing),
        bend: drawing.and_then(|drawing| bent(panel, drawing)),
        floor: panel.floor.as_ref().map(Floor::in_words),
        etching: drawing.and_then(|drawing| etched(panel, drawing)),
        outline_sha256: drawing.map_or_else(String::new, |d| d.digest.hex()),
        shape: figures.map_or_else(String::new, |f| f.shape.to_string()),
        width_um: figures.map_or(0, |f| um(f.width_mm)),
        height_um: figures.map_or(0, |f| um(f.height_mm)),
        long_um: figures.map_or(0, |f| um(f.least_rectangle.long_mm)),
        short_um: figures.map_or(0, |f| um(f.least_rectangle.short_mm)),
        area_mm2: figures.map_or(0, |f| f.area_mm2.round() as i64),
        cut_length_um: figures.map_or(0, |f| um(f.cut_length_mm)),
        cutouts: figures.map_or(0, |f| f.cutouts as i64),
        least_inside_radius_um: figures.and_then(|f| f.least_inside_radius_mm).map(um),
        edges: drawing.map(|d| edges(d, panel)).unwrap_or_default(),
        pieces: pieces::count(panel, drawing) as i64,
        swatch: panel.swatch.to_string(),
        place: panel.place.to_string(),
        light: panel.light.as_ref().map(|l| l.kind.to_string()),
        cct_k: panel.light.as_ref().and_then(|l| l.cct_k).map(i64::from),
        face: panel.face.map(|f| f.to_string()),
        mount: panel.mount.map(|m| m.to_string()),
        opening: panel.opening.as_ref().map(|o| o.in_words()),
        control: panel.control.as_ref().map(ToString::to_string),
        chosen_mv: panel.voltage_v.map(|v| i64::from(v) * 1000),
        supply: supply(panel),
        route: route.map(|r| ItemData { id: r.id.clone(), name: r.name.clone() }),
        sheets: sheets(job, id),
        mass_g: (!pieces_kg.is_empty()).then(|| milli(pieces_kg.iter().sum())),
        piece_mass_g: pieces_kg.iter().map(|kg| milli(*kg)).collect(),
        mass_of_sheets: weighed.as_ref().is_some_and(|w| w.of_sheets),
        stone_mass_g: stone_kg.map(|[_, most]| milli(most)),
        stone_least_mass_g: stone_kg.map(|[least, _]| milli(least)),
        power: power.map(|p| power_data(case, job, id, panel, p)),
        service: None,
    }
}

/// How a panel is bent; none in a record of before it was asked how it is formed.
fn bent(panel: &Panel, drawing: &Drawing) -> Option<BendData> {
    let bent = panel.bent.as_ref()?;
    let found = shape::bend(bend::across_mm(bent, drawing).0, bent.radius_mm.0);
    Some(BendData {
        formed: bent.formed?.to_string(),
        axis: bent.axis.to_string(),
        radius_um: um(bent.radius_mm.0),
        turn_mdeg: milli(found.turn_deg),
        chord_um: um(found.chord_mm),
        rise_um: um(found.rise_mm),
        face: bent.face.map(|face| face.to_string()),
    })
}

/// What is etched; none in a record of before it was asked how deep.
fn etched(panel: &Panel, drawing: &Drawing) -> Option<EtchingData> {
    Some(EtchingData {
        words: panel.etching.clone()?,
        depth_um: um(panel.etching_depth_mm?.0),
        length_um: um(drawing.figures.etch_length_mm),
    })
}

/// The sizes of a panel, from the stone in.
fn sizes(case: &Case<'_>, panel: &Panel, drawing: Option<&Drawing>) -> Option<SizesData> {
    let (sizes, drawing) = (panel.sizes.as_ref()?, drawing?);
    let split = masses::split_of(case.shop, panel, drawing);
    let each = SizeOf::ALL.iter().map(|size| {
        let figures = drawing.figures_of(*size);
        SizeData {
            id: size.to_string(),
            width_um: um(figures.width_mm),
            height_um: um(figures.height_mm),
            area_mm2: figures.area_mm2.round() as i64,
        }
    });
    Some(SizesData {
        outline_is: sizes.outline_is.to_string(),
        each: each.collect(),
        room_um: um(sizes.room_mm()),
        movement_um: um(masses::movement_mm(panel, drawing, split.as_ref())),
    })
}

fn edges(drawing: &Drawing, panel: &Panel) -> Vec<EdgeData> {
    let edges = drawing.figures.edges.iter();
    edges
        .map(|e| EdgeData {
            number: e.number as i64,
            kind: e.kind.to_string(),
            length_um: um(e.length_mm),
            least_radius_um: e.least_radius_mm.map(um),
            lit: panel.lit_edges.iter().any(|n| *n as usize == e.number),
        })
        .collect()
}

fn power_data(case: &Case<'_>, job: &JobPlan, id: &PanelId, panel: &Panel, plan: &PowerPlan) -> PowerData {
    let build = &plan.build;
    let light = light_of(case, job, id.as_str());
    let tapes = build
        .tapes
        .iter()
        .enumerate()
        .map(|(at, tape)| TapeData {
            number: at as i64 + 1,
            edge: tape.edge.clone(),
            length_um: um(tape.length_m.0 * 1000.0),
            fed_ends: i64::from(tape.feed.ends()),
            power_mw: milli(tape.watts.0),
            drop_mv: along_tape(job, id, at).map(|v| milli(v.0)),
            dark_um: build.dark_mm.iter().find(|(edge, _)| *edge == tape.edge).map_or(0, |(_, mm)| um(mm.0)),
        })
        .collect();
    PowerData {
        tape: ItemData { id: plan.tape.clone(), name: light.map_or_else(String::new, |l| l.name.clone()) },
        basis: build.basis.to_string(),
        voltage_mv: light.map_or(0, |l| milli(l.voltage_v.0)),
        cut_interval_um: light.map_or(0, |l| um(l.cut_interval_mm.0)),
        cri_tenths: light.and_then(|l| l.cri_ra).map(|ra| (ra * 10.0).round() as i64),
        tapes,
        tape_um: um(build.tape_m.0 * 1000.0),
        channels: build
            .channels
            .iter()
            .map(|c| ChannelData {
                name: c.name.clone(),
                mark: c.mark.clone(),
                power_mw: milli(c.watts.0),
                current_ma: milli(c.amps.0),
                lumens: c.lumens.round() as i64,
                exitance_lm_m2: c.exitance_lx.0.round() as i64,
            })
            .collect(),
        power_mw: milli(build.watts.0),
        exitance_lm_m2: build.exitance_lx.0.round() as i64,
        luminance: luminance(case, panel, build.exitance_lx),
        depth_um: um(build.depth_mm.0),
        conductors: plan.conductors as i64,
        feed_um: um(plan.feed_length_m.0 * 1000.0),
        slack_um: um(plan.slack_m.0 * 1000.0),
        drop_mv: milli(plan.drop_v.0),
        tape_drop_mv: milli(plan.tape_drop_v.0),
    }
}

/// The drop along one tape of a panel, as its lead feeds it.
fn along_tape(job: &JobPlan, id: &PanelId, tape: usize) -> Option<Volts> {
    let leads = job.circuits.groups.iter().flat_map(|g| &g.circuits).flat_map(|c| &c.leads);
    let mut of_panel = leads.filter(|lead| lead.panel == id.as_str());
    of_panel.find_map(|lead| {
        let at = lead.tapes.iter().position(|t| *t == tape)?;
        lead.tapes_v.get(at).copied()
    })?
}

/// The luminance of the stone at its slab's thickness, between the bounds that its measurements allow.
fn luminance(case: &Case<'_>, panel: &Panel, exitance: Lux) -> Option<LuminanceData> {
    let stone = case.project.stone_of(panel)?;
    let found = brightness::at_slab(stone, case.project)?.ok()?;
    let through = |t: f64| milli(luminance_cd_m2(Lux(exitance.0 * t)));
    Some(LuminanceData {
        low_mcd_m2: through(found.bounds.low),
        high_mcd_m2: through(found.bounds.high),
        thicknesses: found.thicknesses as i64,
    })
}

/// Where driver and control stand, recorded or taken.
fn supply(panel: &Panel) -> SupplyData {
    let supply = panel.supply.clone().unwrap_or_else(Supply::taken);
    SupplyData {
        recorded: panel.supply.is_some(),
        location: supply.location.to_string(),
        place: supply.place.to_string(),
        space_um: supply.space_mm.map(|sides| sides.map(|mm| um(mm.0))),
        class2_wiring: supply.class2_wiring.unwrap_or(false),
        control_place: supply.control_place().to_string(),
    }
}

fn sheets(job: &JobPlan, id: &PanelId) -> Vec<SheetData> {
    let sheets = job.materials.sheets.get(id).into_iter().flatten();
    sheets
        .map(|sheet| SheetData {
            what: sheet.what.to_string(),
            item: ItemData { id: sheet.id.clone(), name: sheet.name.clone() },
            thickness_um: um(sheet.thickness_mm.0),
            area_mm2: sheet.area_mm2.round() as i64,
        })
        .collect()
}

/// The panel as it is served years later, by its data alone; none while its mount or power is open.
pub(super) fn served(panel: &PanelData, stone: Option<&StoneData>) -> Option<Served> {
    let mm = |um: i64| Millimetres(um as f64 / 1000.0);
    let area_mm2 = panel.area_mm2 as f64;
    let of_stone = panel.sizes.as_ref().and_then(|sizes| sizes.each.first());
    let stone_mm2 = of_stone.map_or(area_mm2, |size| size.area_mm2 as f64);
    Some(Served {
        panel: panel.id.clone(),
        mount: panel.mount.as_ref()?.parse().ok()?,
        long_mm: mm(panel.long_um),
        short_mm: mm(panel.short_um),
        area_mm2,
        depth_mm: mm(panel.power.as_ref()?.depth_um),
        pieces_kg: panel.piece_mass_g.iter().map(|g| Kilograms(*g as f64 / 1000.0)).collect(),
        stones: stone
            .filter(|s| s.material.parse::<Material>().is_ok_and(Material::is_stone))
            .map(|s| StonePiece {
                name: s.stone.clone(),
                area_mm2: stone_mm2,
                thickness_mm: mm(s.slab_thickness_um),
                density_kg_m3: Some(s.density_kg_m3 as f64),
            })
            .into_iter()
            .collect(),
    })
}

fn service(panel: &PanelData, stone: Option<&StoneData>) -> Option<ServiceData> {
    let needs = service::needs(&served(panel, stone)?);
    Some(ServiceData {
        access: needs.access.code().to_owned(),
        clearance_um: um(needs.clearance_mm.0),
        cable_slack_um: um(needs.cable_slack_mm.0),
        heaviest_g: milli(needs.heaviest_kg.0),
        lift: needs.lift.code(),
    })
}
