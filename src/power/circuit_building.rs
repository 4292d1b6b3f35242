//! How `circuit_plan` puts one group of panels on its drivers, and what the groups come to. Each lead is worked out in
//! `lead_building`.

use std::collections::BTreeMap;

use super::circuit_plan::{BillLine, CircuitGroup, PanelFeed, PlannedCircuit, Shop, Trouble};
use super::class2::Class2Standing;
use super::conductor::Conductor;
use super::control_choice::{
    ControllerRequirement, DimmedDriver, against_controller, against_dimmer_of_each, choose_controller,
    choose_dimmer, untried,
};
use super::controls::{Controller, Controls};
use super::division::divide;
use super::driver_choice::{Attempt, Circuit, DriverFault, ranked};
use super::drivers::{Driver, Drivers};
use super::grouping::{GroupingFault, PanelLoad};
use super::lead_building::{LeadAsked, lead};
use super::passed_over::PassedOver;
use super::protection::{Protection, Source};
use super::vocabulary::{Dimming, Place};
use crate::units::{Amperes, Watts};

/// Puts panels that share drivers on them; `first_driver` is the number of the group's first driver in the job.
///
/// Driver, grouping and cable are one search: the ways to group them are tried from the best on until the shop's cable
/// serves one, first with every output filled as far as it may be, then with lighter ones too.
pub(super) fn plan_group(
    shop: Shop<'_>,
    panels: &[&PanelFeed<'_>],
    first_driver: usize,
) -> Result<CircuitGroup, Trouble> {
    let first = panels[0];
    let (list, settled) = drivers_for(shop, panels)?;
    let loads = loads(panels);
    let ranked_by = |lighter: bool| {
        ranked(&list, &first.asked, &loads, lighter).map_err(|fault| match (&first.driver, fault) {
            (Some(id), DriverFault::NoneFits { passed_over }) => Trouble::SettledDriver {
                id: id.clone(),
                reasons: passed_over.into_iter().flat_map(|(_, reasons)| reasons).collect(),
            },
            (_, fault) => Trouble::Driver(fault),
        })
    };
    let wired = |attempt: &Attempt<'_>| {
        // The list's drivers may be held to what a controller carries: what is said of one is said of the shop's.
        let driver = shop.drivers.get(&attempt.driver.id).unwrap_or(attempt.driver);
        let circuits = attempt.circuits(&loads, first.asked.voltage_v);
        let planned = circuits
            .iter()
            .map(|circuit| plan_circuit(shop, panels, circuit, driver, settled, first_driver))
            .collect::<Result<Vec<_>, Trouble>>()?;
        Ok::<_, Trouble>((planned, dimmers(shop, first, driver, &circuits)?))
    };
    let filled = ranked_by(false)?;
    let mut said: Vec<(usize, PassedOver)> = Vec::new();
    let none = || Trouble::Driver(DriverFault::Load(GroupingFault::NoLoad));
    let best = filled.attempts.first().ok_or_else(none)?;
    let first_try = wired(best).map(|done| (filled.chosen(best, &list, &first.asked, &loads, &said), done));
    let mut found = None;
    if first_try.is_err() {
        let lighter = ranked_by(true)?;
        for attempt in &lighter.attempts {
            match wired(attempt) {
                Ok(done) => {
                    found = Some((lighter.chosen(attempt, &list, &first.asked, &loads, &said), done));
                    break;
                }
                Err(why) => said.push((attempt.index(), PassedOver::Wiring { why: why.to_string() })),
            }
        }
    }
    let (choice, (circuits, dimmers)) = match found {
        Some(found) => found,
        None => first_try?,
    };
    let driver = shop.drivers.get(&choice.driver.id).unwrap_or(choice.driver);
    Ok(CircuitGroup {
        driver: driver.id.clone(),
        drivers: choice.count,
        class2: Class2Standing::of_driver(driver),
        proven_least: choice.proven_least,
        dimmer: dimmers.id,
        dimmers: dimmers.count,
        untried: dimmers.untried,
        circuits,
        passed_over: choice.passed_over.into_iter().map(|(other, why)| (other.id.clone(), why)).collect(),
    })
}

/// The drivers that panels may share, held to what a controller carries where their light has one, and the
/// controller that is settled for them.
fn drivers_for<'a>(
    shop: Shop<'a>,
    panels: &[&PanelFeed<'_>],
) -> Result<(Drivers, Option<&'a Controller>), Trouble> {
    let first = panels[0];
    let settled = match &first.control {
        Some(id) if first.asked.kind.takes_controller() => Some(
            shop.controls
                .controller(id)
                .ok_or_else(|| Trouble::Unknown { what: "control", id: id.clone() })?,
        ),
        _ => None,
    };
    let mut list = match &first.driver {
        None => shop.drivers.clone(),
        Some(id) => {
            let driver =
                shop.drivers.get(id).ok_or_else(|| Trouble::Unknown { what: "driver", id: id.clone() })?;
            Drivers { drivers: vec![driver.clone()], ..shop.drivers.clone() }
        }
    };
    if first.asked.kind.takes_controller() {
        limit_to_controllers(&mut list, shop.controls, settled, panels);
    }
    Ok((list, settled))
}

fn loads(panels: &[&PanelFeed<'_>]) -> Vec<PanelLoad> {
    panels
        .iter()
        .map(|panel| PanelLoad {
            panel: panel.panel.clone(),
            tapes: panel.build.tapes.iter().map(|tape| tape.watts).collect(),
        })
        .collect()
}

/// Panels that could share drivers, divided into lots that are each fed by one model. Panels that one dimmer leads
/// before their drivers stay together: in two lots they would no longer dim as one.
pub(super) fn lots<'p, 'f>(shop: Shop<'_>, panels: &[&'p PanelFeed<'f>]) -> Vec<Vec<&'p PanelFeed<'f>>> {
    let first = panels[0];
    let alone = first.asked.kind.takes_controller()
        || matches!(first.asked.dimming, Dimming::Off | Dimming::LowVoltage);
    match drivers_for(shop, panels) {
        Ok((list, _)) if first.driver.is_none() && alone => divide(&list, &first.asked, &loads(panels))
            .into_iter()
            .map(|lot| lot.into_iter().map(|panel| panels[panel]).collect())
            .collect(),
        _ => vec![panels.to_vec()],
    }
}

/// Holds each driver's outputs to what the best controller for these panels carries, so that no circuit is
/// made that none could run.
fn limit_to_controllers(
    list: &mut Drivers,
    controls: &Controls,
    settled: Option<&Controller>,
    panels: &[&PanelFeed<'_>],
) {
    let worst_share = panels
        .iter()
        .flat_map(|panel| &panel.build.tapes)
        .map(|tape| {
            let amps = tape.channel_a.iter().map(|a| a.get());
            amps.clone().fold(0.0, f64::max) / amps.sum::<f64>()
        })
        .fold(0.0, f64::max);
    let carries = |c: &Controller| {
        c.total_a.get().min(c.channel_a.get() / worst_share) * panels[0].asked.voltage_v.get()
    };
    let suits = |c: &&Controller| against_controller(c, &controller_asked(panels[0], &[])).is_empty();
    let most = match settled {
        Some(controller) => Some(carries(controller)),
        None => controls.controllers.iter().filter(suits).map(carries).reduce(f64::max),
    };
    if let Some(most) = most.filter(|watts| watts.is_finite() && *watts > 0.0) {
        for driver in &mut list.drivers {
            driver.output_rating_w = Watts(driver.output_rating_w.get().min(most / list.largest_load_share));
        }
    }
}

fn controller_asked(panel: &PanelFeed<'_>, channel_a: &[f64]) -> ControllerRequirement {
    ControllerRequirement {
        kind: panel.asked.kind,
        voltage_v: panel.asked.voltage_v,
        common_rail: panel.light.common_rail,
        channel_a: channel_a.iter().map(|a| Amperes(*a)).collect(),
        place: panel.control_place,
        input: None,
    }
}

fn plan_circuit(
    shop: Shop<'_>,
    panels: &[&PanelFeed<'_>],
    circuit: &Circuit,
    driver: &Driver,
    settled: Option<&Controller>,
    first_driver: usize,
) -> Result<PlannedCircuit, Trouble> {
    let first = panels[0];
    let channels = first.light.channels.len();
    // Each piece of a split panel has a lead of its own.
    let mut by_piece: BTreeMap<(usize, usize), Vec<usize>> = BTreeMap::new();
    for &(panel, tape) in &circuit.tapes {
        by_piece.entry((panel, panels[panel].build.tapes[tape].piece)).or_default().push(tape);
    }
    let amps_of = |tapes: &[usize], panel: &PanelFeed<'_>| -> Vec<f64> {
        (0..channels)
            .map(|c| {
                tapes.iter().filter_map(|t| panel.build.tapes[*t].channel_a.get(c)).map(|a| a.get()).sum()
            })
            .collect()
    };
    let mut circuit_a = vec![0.0; channels];
    for (&(panel, _), tapes) in &by_piece {
        for (sum, amps) in circuit_a.iter_mut().zip(amps_of(tapes, panels[panel])) {
            *sum += amps;
        }
    }
    let controller = if first.asked.kind.takes_controller() {
        let asked = controller_asked(first, &circuit_a);
        Some(match settled {
            Some(controller) => {
                let reasons = against_controller(controller, &asked);
                if !reasons.is_empty() {
                    let reasons = reasons.iter().map(ToString::to_string).collect();
                    return Err(Trouble::SettledControl { id: controller.id.clone(), reasons });
                }
                controller.id.clone()
            }
            None => choose_controller(shop.controls, &asked).map_err(Trouble::Control)?.controller.id.clone(),
        })
    } else {
        None
    };
    let asked = LeadAsked {
        circuit_a: Amperes(circuit_a.iter().sum()),
        controlled: controller.is_some(),
        source: Source::of_driver(driver),
        size: None,
    };
    let leads = |asked: LeadAsked| {
        by_piece
            .iter()
            .map(|(&(panel, piece), tapes)| {
                let panel = panels[panel];
                lead(shop, panel, piece, tapes, &amps_of(tapes, panel), asked)
            })
            .collect::<Result<Vec<_>, Trouble>>()
    };
    let mut planned = leads(asked)?;
    // One cable leads to a controller that stands apart, whatever its leads take: all are in the thickest size of them.
    let size = |id: &String| {
        let cable = shop.wire.get(id)?;
        Conductor::find(cable.table, &cable.size)
    };
    let sizes: Vec<Conductor> = planned.iter().filter_map(|l| size(l.controller_cable.as_ref()?)).collect();
    if let Some(first) = sizes.first()
        && sizes.iter().any(|other| other != first)
    {
        let ohms = |c: &Conductor| c.ohm_per_m_at(shop.wire.conductor_c);
        let thickest = sizes.iter().copied().min_by(|a, b| ohms(a).total_cmp(&ohms(b)));
        planned = leads(LeadAsked { size: thickest, ..asked })?;
    }
    Ok(PlannedCircuit {
        driver: first_driver + circuit.driver - 1,
        output: circuit.output,
        watts: circuit.watts,
        amps: circuit.amps,
        share: circuit.watts.get() / driver.output_rating_w.get(),
        controller,
        leads: planned,
    })
}

/// The dimmers of a group of static white panels.
#[derive(Default)]
struct Dimmers {
    id: Option<String>,
    count: usize,
    untried: Vec<String>,
}

fn dimmers(
    shop: Shop<'_>,
    first: &PanelFeed<'_>,
    driver: &Driver,
    circuits: &[Circuit],
) -> Result<Dimmers, Trouble> {
    let method = first.asked.dimming;
    if first.asked.kind.takes_controller() || method == Dimming::Off {
        return Ok(Dimmers::default());
    }
    // On the mains or control side one dimmer leads all drivers, from a dry wall; after them each output has its own.
    let (behind, place) = if method.is_low_voltage_side() {
        let each =
            circuits.iter().map(|circuit| vec![DimmedDriver { driver, load: circuit.watts }]).collect();
        (each, first.control_place)
    } else {
        let mut load_of: BTreeMap<usize, f64> = BTreeMap::new();
        for circuit in circuits {
            *load_of.entry(circuit.driver).or_default() += circuit.watts.get();
        }
        let all = load_of.values().map(|load| DimmedDriver { driver, load: Watts(*load) }).collect();
        (vec![all], Place::Dry)
    };
    let behind: Vec<Vec<DimmedDriver<'_>>> = behind;
    let (dimmer, untried) = match &first.control {
        None => {
            let choice = choose_dimmer(shop.controls, method, &behind, place).map_err(Trouble::Control)?;
            (choice.dimmer, choice.untried)
        }
        Some(id) => {
            let unknown = || Trouble::Unknown { what: "control", id: id.clone() };
            let dimmer = shop.controls.dimmer(id).ok_or_else(unknown)?;
            let reasons = against_dimmer_of_each(dimmer, method, &behind, place);
            if !reasons.is_empty() {
                let reasons = reasons.iter().map(ToString::to_string).collect();
                return Err(Trouble::SettledControl { id: id.clone(), reasons });
            }
            (dimmer, untried(dimmer, &behind))
        }
    };
    Ok(Dimmers { id: Some(dimmer.id.clone()), count: behind.len(), untried })
}

/// What all groups come to, by kind and id.
pub(super) fn bill(panels: &[PanelFeed<'_>], groups: &[CircuitGroup]) -> Vec<BillLine> {
    let mut sums: BTreeMap<(usize, String), f64> = BTreeMap::new();
    let mut add =
        |kind: usize, id: &str, quantity: f64| *sums.entry((kind, id.to_owned())).or_default() += quantity;
    for panel in panels {
        add(0, &panel.light.id, panel.build.tape_m.get());
    }
    for group in groups {
        add(1, &group.driver, group.drivers as f64);
        if let Some(dimmer) = &group.dimmer {
            add(3, dimmer, group.dimmers as f64);
        }
        for circuit in &group.circuits {
            if let Some(controller) = &circuit.controller {
                add(2, controller, 1.0);
            }
            // One cable leads to the controller, however many leads go on from there.
            if let Some((lead, cable)) =
                circuit.leads.iter().find_map(|lead| Some((lead, lead.controller_cable.as_ref()?)))
            {
                add(4, cable, lead.controller_m.get());
                if let Some(fuse) = lead.controller_protection.as_ref().and_then(Protection::fuse) {
                    add(5, fuse, 1.0);
                }
            }
            for lead in &circuit.leads {
                add(4, &lead.cable, lead.feed_m.get() + lead.far_m.get());
                if let Some(fuse) = lead.protection.fuse() {
                    add(5, fuse, 1.0);
                }
            }
        }
    }
    const KINDS: [(&str, &str); 6] = [
        ("tape", "m"),
        ("driver", "pieces"),
        ("controller", "pieces"),
        ("dimmer", "pieces"),
        ("cable", "m"),
        ("fuse", "pieces"),
    ];
    sums.into_iter()
        .map(|((kind, id), quantity)| BillLine { what: KINDS[kind].0, id, quantity, unit: KINDS[kind].1 })
        .collect()
}
