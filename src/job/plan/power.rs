//! What one panel brings to the job's circuits, and what they come to for it.

use super::PowerPlan;
use super::light::{asked_of_list, gives};
use super::{bend, pieces};
use crate::ids::StockId;
use crate::making::service::cable_slack;
use crate::model::panel::{Panel, Supply};
use crate::model::snapshot::{Drawing, Shop, Snapshot};
use crate::power::circuit_plan::{CircuitGroup, CircuitPlan, Lead, PanelFeed, PlannedCircuit};
use crate::power::driver_choice::Requirement as DriverNeeds;
use crate::power::light_build::{LitFace, work_out};
use crate::power::light_choice::{self, LightRequirement};
use crate::power::lights::Light;
use crate::power::vocabulary::{CodeRegion, Dimming};
use crate::units::{Metres, Volts, trimmed};
use crate::words::LightKind;

/// What a panel asks of its tape.
pub(super) fn asked_of_tape(panel: &Panel) -> Result<LightRequirement, Vec<String>> {
    let (Some(light), Some(volts)) = (&panel.light, panel.voltage_v) else {
        return Err(vec!["light and voltage are not chosen".into()]);
    };
    let asked = asked_of_list(light.kind, Some(Volts(f64::from(volts))), light.cct_k, panel.place);
    Ok(LightRequirement { cri_ra: light.cri_ra(), cct_range_k: light.cct_range_k, ..asked })
}

/// The tape that the record names, or the first of the list that gives the chosen light in that place.
pub(super) fn pick_tape<'a>(shop: &'a Shop, panel: &Panel) -> Result<&'a Light, Vec<String>> {
    let asked = asked_of_tape(panel)?;
    let cct_k = panel.light.as_ref().and_then(|light| light.cct_k);
    let Some(wanted) = &panel.tape else {
        return match light_choice::choose(&shop.lights, &asked) {
            Ok(choice) => mixing(choice.light, cct_k),
            Err(none) => Err(vec![format!("no tape of the shop gives this light; {}", none.remedy())]),
        };
    };
    let tape = shop.lights.get(wanted.as_str()).ok_or_else(|| {
        let known: Vec<&str> = shop.lights.lights.iter().map(|light| light.id.as_str()).collect();
        vec![format!("the shop has no tape {wanted}; it has {}", known.join(", "))]
    })?;
    let against = light_choice::against(tape, &asked);
    if against.is_empty() {
        return mixing(tape, cct_k);
    }
    Err(against.iter().map(|why| format!("tape {wanted}: {why}")).collect())
}

/// The tape, where it gives the white that is chosen: on its list, within its range, or mixed from its channels.
fn mixing(tape: &Light, cct_k: Option<u32>) -> Result<&Light, Vec<String>> {
    match cct_k {
        Some(cct) if gives(tape, cct).is_none() => {
            Err(vec![format!("tape {}: its channels cannot be mixed to {cct} K", tape.id)])
        }
        _ => Ok(tape),
    }
}

/// What a panel brings to the job's circuits, or everything that stands in the way.
pub(super) fn feed<'a>(
    shop: &'a Shop,
    project: &Snapshot,
    panel: &Panel,
    drawing: &Drawing,
    tape: &'a Light,
) -> Result<PanelFeed<'a>, Vec<String>> {
    let mut missing = Vec::new();
    if panel.face.is_none() {
        missing.push("the face is not chosen".to_owned());
    }
    if panel.feed_length_m.is_none() {
        missing.push("the length of wire from driver to panel is not given: --feed-length".to_owned());
    }
    missing.extend(bend::against_tape(shop.book.units, panel, drawing, tape));
    let (Some(face), Some(feed_m)) = (panel.face, panel.feed_length_m) else { return Err(missing) };
    if !missing.is_empty() {
        return Err(missing);
    }
    let split = pieces::pieces(shop, panel, drawing, Some(tape));
    let edges = pieces::lit_edges_of(panel, drawing, tape, split.as_ref());
    let lit = LitFace { face, area_mm2: drawing.figures.area_mm2 };
    let build = work_out(tape, &edges, lit)
        .map_err(|faults| faults.iter().map(|f| format!("{f}; {}", f.remedy())).collect::<Vec<_>>())?;
    let other_builds = light_choice::lay_with_less_drop(tape, &edges)
        .iter()
        .filter_map(|edges| work_out(tape, edges, lit).ok())
        .collect();
    let slack_m = pieces::long_sides(drawing, split.as_ref())
        .into_iter()
        .map(|long| Metres(panel.mount.map_or(0.0, |mount| cable_slack(mount, long).0) / 1000.0))
        .collect();
    let supply = panel.supply.clone().unwrap_or_else(Supply::taken);
    let asked = DriverNeeds {
        voltage_v: tape.voltage_v,
        kind: tape.kind,
        dimming: dimming(shop, panel)?,
        // What stands at the panel is its tape, which was picked for the panel's place. Driver and control
        // stand where the record says, or where is taken without one; the pack says which.
        place: supply.place,
        location: supply.location,
        mains_v: project.project.site.mains_v,
        class2: supply.class2_wiring.unwrap_or(false),
        region: project.project.site.code_region,
        space_mm: supply.space_mm,
    };
    let name = |id: &Option<StockId>| id.as_ref().map(ToString::to_string);
    Ok(PanelFeed {
        panel: panel.id.to_string(),
        light: tape,
        build,
        other_builds,
        asked,
        driver: name(&panel.driver),
        control: name(&panel.control),
        zone: panel.zone.as_ref().map(ToString::to_string),
        control_place: supply.control_place(),
        controller_m: supply.controller_m,
        feed_m,
        slack_m,
        place: panel.place,
        cable: name(&panel.wire),
    })
}

/// What the job's circuits come to for one of the panels that they feed.
pub(super) fn of_circuits(
    feed: &PanelFeed<'_>,
    circuits: &CircuitPlan,
    shop: &Shop,
    region: Option<CodeRegion>,
) -> Option<PowerPlan> {
    let units = shop.book.units;
    let group = circuits.groups.iter().find(|g| leads(g, &feed.panel).next().is_some())?;
    let (_, worst) = leads(group, &feed.panel).max_by(|(_, a), (_, b)| a.drop_v.0.total_cmp(&b.drop_v.0))?;
    let outputs: Vec<(usize, usize)> =
        leads(group, &feed.panel).map(|(circuit, _)| (circuit.driver, circuit.output)).collect();
    let mut drivers: Vec<usize> = outputs.iter().map(|(driver, _)| *driver).collect();
    drivers.dedup();
    let mut shares_with: Vec<String> = group
        .circuits
        .iter()
        .filter(|c| drivers.contains(&c.driver))
        .flat_map(|c| &c.leads)
        .map(|lead| lead.panel.clone())
        .filter(|panel| *panel != feed.panel)
        .collect();
    shares_with.sort_unstable();
    shares_with.dedup();

    let mut remarks = vec![format!("{}: {}", group.driver, group.class2.in_words(region))];
    if !shares_with.is_empty() {
        remarks.push(format!("shares its driver with panel {}", shares_with.join(", ")));
    }
    if feed.asked.dimming == Dimming::LowVoltage {
        remarks.push("the control system dims; its driver is a plain constant-voltage one (common practice, no source)".into());
    }
    remarks.extend(feed.control.as_deref().and_then(|id| switched(shop, id)));
    if !group.untried.is_empty() {
        remarks.push(format!(
            "the dimmer {} has not been tried with {}: try both together before they are built in",
            group.dimmer.as_deref().unwrap_or_default(),
            group.untried.join(", ")
        ));
    }
    if feed.light.kind == LightKind::WarmDim {
        remarks.push(format!(
            "tape {} grows warmer only with a way of dimming that it is made for: try it with {} and {} before they are \
             built in (common practice, no source)",
            feed.light.id,
            group.dimmer.as_deref().unwrap_or("its dimmer"),
            group.driver
        ));
    }
    let mut protected: Vec<String> = Vec::new();
    for (_, lead) in leads(group, &feed.panel) {
        let said = format!("cable {} to it: {}", lead.cable, lead.protection.in_words(region));
        if !protected.contains(&said) {
            protected.push(said);
        }
    }
    remarks.extend(protected);
    if worst.far_m.0 > 0.0 {
        remarks.push(format!(
            "{} more of cable {} within the panel to the far ends of tapes that are fed at both",
            units.run(worst.far_m),
            worst.cable
        ));
    }
    if feed.build.tapes.iter().any(|tape| tape.rails_ohm.is_none()) {
        remarks.push(format!(
            "the voltage drop along the tape is not included: shop/lights.json states no resistance for {}",
            feed.light.id
        ));
    }
    let mut against: Vec<String> = Vec::new();
    for why in leads(group, &feed.panel).flat_map(|(_, lead)| &lead.against) {
        if !against.contains(why) {
            against.push(why.clone());
        }
    }
    for (edge, dark) in feed.build.dark_mm.iter().filter(|(_, dark)| dark.0 > 0.0) {
        remarks.push(format!(
            "{} of edge {edge} carry no tape: tape can only be cut at its marks",
            units.show(*dark)
        ));
    }
    Some(PowerPlan {
        tape: feed.light.id.clone(),
        build: feed.build.clone(),
        driver: group.driver.clone(),
        drivers: drivers.len(),
        outputs,
        shares_with,
        class2: group.class2.in_words(region),
        dimming: feed.asked.dimming,
        wire: worst.cable.clone(),
        feed_length_m: feed.feed_m,
        slack_m: worst.slack_m,
        drop_v: worst.drop_v,
        tape_drop_v: worst.tape_drop_v,
        drop_pct: worst.drop_pct,
        conductors: feed.light.kind.conductors(),
        remarks,
        against,
    })
}

/// What a camera may see of a control whose list says how fast it switches.
fn switched(shop: &Shop, id: &str) -> Option<String> {
    let controls = &shop.controls;
    let (lowest_pct, pwm_hz) = match (controls.controller(id), controls.dimmer(id)) {
        (Some(controller), _) => (controller.lowest_pct, controller.pwm_hz),
        (None, Some(dimmer)) => (dimmer.lowest_pct, dimmer.pwm_hz),
        (None, None) => return None,
    };
    let hz = trimmed(pwm_hz?, 0);
    let low = lowest_pct.map_or_else(String::new, |pct| format!(", down to {} %", trimmed(pct, 1)));
    Some(format!(
        "{id} switches the light at {hz} Hz{low}: a camera may show bands that no eye sees; film it at the lowest level \
         before it is closed in (common practice, no source)"
    ))
}

/// The leads of one panel on a group's circuits.
fn leads<'g>(group: &'g CircuitGroup, panel: &str) -> impl Iterator<Item = (&'g PlannedCircuit, &'g Lead)> {
    let panel = panel.to_owned();
    group
        .circuits
        .iter()
        .flat_map(|circuit| circuit.leads.iter().map(move |lead| (circuit, lead)))
        .filter(move |(_, lead)| lead.panel == panel)
}

/// How the panel is dimmed: at its controller, by its dimmer's method, or not at all.
fn dimming(shop: &Shop, panel: &Panel) -> Result<Dimming, Vec<String>> {
    let kind = panel.light.as_ref().map(|light| light.kind);
    match &panel.control {
        None if kind.is_some_and(LightKind::takes_controller) => {
            Err(vec!["a colour-changing light needs its control system first".into()])
        }
        None if kind.is_some_and(LightKind::needs_control) => {
            Err(vec!["a warm-dim light needs its dimmer first: undimmed it never grows warmer".into()])
        }
        None => Ok(Dimming::Off),
        Some(control) => {
            match (shop.controls.controller(control.as_str()), shop.controls.dimmer(control.as_str())) {
                (Some(_), None) if kind.is_some_and(|kind| !kind.takes_controller()) => {
                    let takes = if kind == Some(LightKind::WarmDim) {
                        "warm-dim takes a dimmer"
                    } else {
                        "static white takes a dimmer or none"
                    };
                    Err(vec![format!("{control} controls light that changes colour; {takes}")])
                }
                (Some(_), _) => Ok(Dimming::LowVoltage),
                (None, Some(dimmer)) => Ok(dimmer.method),
                (None, None) => Err(vec![format!("the shop has no control {control}")]),
            }
        }
    }
}
