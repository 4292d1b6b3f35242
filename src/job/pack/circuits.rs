//! Drivers, outputs and leads of the job, and what to buy.

use std::collections::BTreeMap;

use super::data::{
    BillData, BreakerData, CableData, CircuitData, ConductorData, ControlData, DriverData, ItemData,
    JointData, LeadData, ProtectionData, ToControlData,
};
use super::{milli, um};
use crate::job::case::Case;
use crate::job::plan::JobPlan;
use crate::power::circuit_plan::{CircuitGroup, Lead, PlannedCircuit};
use crate::power::class2::Class2Standing;
use crate::power::lights::Light;
use crate::power::protection::Protection;
use crate::power::vocabulary::{CommonRail, Dimming};

/// The drivers, by their numbers.
pub(super) fn drivers(case: &Case<'_>, job: &JobPlan) -> Vec<DriverData> {
    let mut loads: BTreeMap<usize, (&str, f64)> = BTreeMap::new();
    for group in &job.circuits.groups {
        for circuit in &group.circuits {
            loads.entry(circuit.driver).or_insert((&group.driver, 0.0)).1 += circuit.watts.0;
        }
    }
    loads
        .into_iter()
        .filter_map(|(number, (id, load))| {
            let driver = case.shop.drivers.get(id)?;
            let standing = Class2Standing::of_driver(driver);
            Some(DriverData {
                number: number as i64,
                model: ItemData { id: driver.id.clone(), name: driver.name.clone() },
                output_mv: milli(driver.output_v.0),
                rating_mw: milli(driver.rating_w.0),
                outputs: i64::from(driver.outputs),
                output_rating_mw: milli(driver.output_rating_w.0),
                class2: standing.code().to_owned(),
                wired_as_class2: standing.may_be_wired_as_class2(),
                load_mw: milli(load),
                mains_least_v: driver.mains_least_v.0.round() as i64,
                mains_most_v: driver.mains_most_v.0.round() as i64,
                mains_ma: milli(driver.mains_a.0),
                inrush_ma: driver.inrush.as_ref().map(|inrush| milli(inrush.peak_a.0)),
                inrush_half_us: driver.inrush.as_ref().map(|inrush| inrush.half_us.round() as i64),
                breakers: driver
                    .breakers
                    .iter()
                    .map(|one| BreakerData { breaker: one.breaker.clone(), most: i64::from(one.most) })
                    .collect(),
                place: driver.place.to_string(),
                case_um: [driver.length_mm, driver.width_mm, driver.height_mm].map(|mm| um(mm.0)),
                lead_business_days: i64::from(driver.lead_business_days),
            })
        })
        .collect()
}

/// The outputs in use, with their leads numbered through the job.
pub(super) fn circuits(case: &Case<'_>, job: &JobPlan) -> Vec<CircuitData> {
    let (mut runs, mut controllers, mut dimmers) = (0, 0, 0);
    let mut all = Vec::new();
    for group in &job.circuits.groups {
        for (at, circuit) in group.circuits.iter().enumerate() {
            // A dimmer before the drivers leads all of the group's; after them each output has its own.
            let own = group.dimmers >= group.circuits.len();
            let label = match (&circuit.controller, &group.dimmer) {
                (Some(_), _) => {
                    controllers += 1;
                    format!("C{controllers}")
                }
                (None, Some(_)) => {
                    dimmers += usize::from(at == 0 || own);
                    format!("D{dimmers}")
                }
                (None, None) => String::new(),
            };
            let light = circuit.leads.first().and_then(|lead| light_of(case, job, &lead.panel));
            let leads = circuit
                .leads
                .iter()
                .map(|one| {
                    runs += 1;
                    LeadData {
                        joints: joints(case, job, runs - 1),
                        ..lead(case, one, light_of(case, job, &one.panel), runs)
                    }
                })
                .collect();
            all.push(CircuitData {
                driver: circuit.driver as i64,
                output: circuit.output as i64,
                zone: circuit.leads.first().and_then(|lead| zone_of(case, &lead.panel)),
                load_mw: milli(circuit.watts.0),
                current_ma: milli(circuit.amps.0),
                share_permille: milli(circuit.share),
                largest_share_permille: milli(case.shop.drivers.largest_load_share),
                common_positive: light.is_none_or(|l| l.common_rail == CommonRail::Positive),
                control: control(case, group, circuit, label),
                to_control: to_control(case, circuit),
                leads,
            });
        }
    }
    all
}

/// The control zone of a panel; none where it names none.
fn zone_of(case: &Case<'_>, panel: &str) -> Option<String> {
    let (_, panel) = case.panels().find(|(id, _)| id.as_str() == panel)?;
    panel.zone.as_ref().map(ToString::to_string)
}

/// The tape of a panel, as it was worked out.
pub(super) fn light_of<'a>(case: &Case<'a>, job: &JobPlan, panel: &str) -> Option<&'a Light> {
    let lead_tape = job.panels.iter().find(|(id, _)| id.as_str() == panel);
    let worked = lead_tape.and_then(|(_, plan)| plan.power.as_ref().ok()).map(|p| p.tape.as_str());
    let recorded = case.panels().find(|(id, _)| id.as_str() == panel).and_then(|(_, p)| p.tape.as_ref());
    case.shop.lights.get(worked.or(recorded.map(|t| t.as_str()))?)
}

fn control(
    case: &Case<'_>,
    group: &CircuitGroup,
    circuit: &PlannedCircuit,
    label: String,
) -> Option<ControlData> {
    if let Some(controller) = circuit.controller.as_ref().and_then(|id| case.shop.controls.controller(id)) {
        let inputs: Vec<&str> = controller.inputs.iter().map(|i| i.word()).collect();
        return Some(ControlData {
            label,
            model: ItemData { id: controller.id.clone(), name: controller.name.clone() },
            what: "controller".into(),
            at: "after-driver".into(),
            how: inputs.join(", "),
            lowest_permille: controller.lowest_pct.map(|pct| (pct * 10.0).round() as i64),
            pwm_hz: controller.pwm_hz.map(|hz| hz.round() as i64),
            standard: known(controller.lowest_pct, controller.pwm_hz).and_then(|()| {
                let all: Vec<&str> = controller.inputs.iter().filter_map(|i| i.standard()).collect();
                (!all.is_empty()).then(|| all.join("; "))
            }),
            place: controller.place.to_string(),
            channel_ma: Some(milli(controller.channel_a.0)),
            total_ma: Some(milli(controller.total_a.0)),
            untried: Vec::new(),
        });
    }
    let dimmer = group.dimmer.as_ref().and_then(|id| case.shop.controls.dimmer(id))?;
    let at = match dimmer.method {
        Dimming::LowVoltage => "after-driver",
        Dimming::ForwardPhase | Dimming::ReversePhase => "mains-side",
        Dimming::Off | Dimming::ZeroToTen | Dimming::Dali => "control-pair",
    };
    Some(ControlData {
        label,
        model: ItemData { id: dimmer.id.clone(), name: dimmer.name.clone() },
        what: "dimmer".into(),
        at: at.into(),
        how: dimmer.method.to_string(),
        lowest_permille: dimmer.lowest_pct.map(|pct| (pct * 10.0).round() as i64),
        pwm_hz: dimmer.pwm_hz.map(|hz| hz.round() as i64),
        standard: known(dimmer.lowest_pct, dimmer.pwm_hz)
            .and_then(|()| dimmer.method.standard().map(str::to_owned)),
        place: dimmer.place.to_string(),
        channel_ma: None,
        total_ma: None,
        untried: group.untried.clone(),
    })
}

/// Whether the shop's list says how low or how fast a control dims: lists of before did not, and their packs stay the same.
fn known(lowest_pct: Option<f64>, pwm_hz: Option<f64>) -> Option<()> {
    lowest_pct.or(pwm_hz).map(|_| ())
}

fn lead(case: &Case<'_>, lead: &Lead, light: Option<&Light>, run: usize) -> LeadData {
    let mut channels = light.into_iter().flat_map(|l| &l.channels);
    let conductors = lead
        .conductors
        .iter()
        .map(|c| ConductorData {
            mark: c.mark.clone(),
            carries: if c.common {
                "common".into()
            } else {
                channels.next().map_or_else(String::new, |channel| channel.name.clone())
            },
            current_ma: milli(c.amps.0),
        })
        .collect();
    LeadData {
        run: format!("W{run}"),
        panel: lead.panel.clone(),
        tapes: lead.tapes.iter().map(|t| *t as i64 + 1).collect(),
        power_mw: milli(lead.watts.0),
        conductors,
        cable: cable_data(case, &lead.cable),
        piece: lead.piece as i64,
        length_um: um(lead.feed_m.0 * 1000.0),
        slack_um: um(lead.slack_m.0 * 1000.0),
        far_um: um(lead.far_m.0 * 1000.0),
        protection: protection(case, &lead.protection),
        drop_mv: milli(lead.drop_v.0),
        tape_drop_mv: milli(lead.tape_drop_v.0),
        drop_permyriad: (lead.drop_pct * 100.0).round() as i64,
        largest_drop_permyriad: (case.shop.wire.largest_drop_pct * 100.0).round() as i64,
        longest_um: um(lead.longest_m.0 * 1000.0),
        joints: Vec::new(),
    }
}

fn cable_data(case: &Case<'_>, id: &str) -> CableData {
    let cable = case.shop.wire.get(id);
    CableData {
        item: ItemData { id: id.to_owned(), name: cable.map_or_else(String::new, |c| c.name.clone()) },
        size: cable.map_or_else(String::new, |c| c.size.clone()),
        conductors: cable.map_or(0, |c| i64::from(c.conductors)),
        conductor_ma: cable.map_or(0, |c| milli(c.conductor_a.0)),
        class2_type: cable.and_then(|c| c.class2_type.clone()),
    }
}

/// The one cable from an output to its controller, however many leads go on from there.
fn to_control(case: &Case<'_>, circuit: &PlannedCircuit) -> Option<ToControlData> {
    let (lead, cable) =
        circuit.leads.iter().find_map(|lead| Some((lead, lead.controller_cable.as_ref()?)))?;
    Some(ToControlData {
        cable: cable_data(case, cable),
        length_um: um(lead.controller_m.0 * 1000.0),
        protection: protection(case, lead.controller_protection.as_ref().unwrap_or(&Protection::Nothing)),
    })
}

fn protection(case: &Case<'_>, by: &Protection) -> ProtectionData {
    let item = |id: &str| {
        let name = case.shop.wire.fuse(id).map_or_else(String::new, |fuse| fuse.name.clone());
        ItemData { id: id.to_owned(), name }
    };
    ProtectionData {
        by: by.code().to_owned(),
        fuse: by.fuse().map(item),
        limit_ma: by.amps().map(|amps| milli(amps.0)),
    }
}

/// What joins a lead, by its place among all leads of the job.
fn joints(case: &Case<'_>, job: &JobPlan, lead: usize) -> Vec<JointData> {
    let joints = job.materials.joints.get(lead).into_iter().flatten();
    joints
        .map(|joint| JointData {
            at: joint.at.to_string(),
            conductors: joint.conductors as i64,
            connector: joint
                .connector
                .as_ref()
                .ok()
                .and_then(|id| case.shop.wire.connector(id))
                .map(|c| ItemData { id: c.id.clone(), name: c.name.clone() }),
        })
        .collect()
}

/// What to buy: by kind and id, sheets panel by panel.
pub(super) fn bill(case: &Case<'_>, job: &JobPlan) -> Vec<BillData> {
    let shop = case.shop;
    let shared = job.circuits.bill.iter().cloned().chain(job.materials.connectors());
    let line = |what: &str, item: ItemData, quantity: f64, unit: &str, panel: Option<String>| BillData {
        what: what.to_owned(),
        item,
        quantity_thousandths: milli(quantity),
        unit: unit.to_owned(),
        panel,
    };
    let mut bill: Vec<BillData> = shared
        .map(|one| {
            let id = one.id.as_str();
            let name = match one.what {
                "tape" => shop.lights.get(id).map(|x| &x.name),
                "driver" => shop.drivers.get(id).map(|x| &x.name),
                "controller" => shop.controls.controller(id).map(|x| &x.name),
                "dimmer" => shop.controls.dimmer(id).map(|x| &x.name),
                "connector" => shop.wire.connector(id).map(|x| &x.name),
                "fuse" => shop.wire.fuse(id).map(|x| &x.name),
                _ => shop.wire.get(id).map(|x| &x.name),
            };
            let item = ItemData { id: one.id.clone(), name: name.cloned().unwrap_or_default() };
            line(one.what, item, one.quantity, one.unit, None)
        })
        .collect();
    for (panel, sheets) in &job.materials.sheets {
        bill.extend(sheets.iter().map(|sheet| {
            let item = ItemData { id: sheet.id.clone(), name: sheet.name.clone() };
            line(sheet.what.word(), item, sheet.area_m2(), "m2", Some(panel.to_string()))
        }));
    }
    bill
}
