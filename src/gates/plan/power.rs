//! Tape, driver and wire of one panel.

use super::PowerPlan;
use super::pieces;
use crate::model::panel::Panel;
use crate::model::snapshot::{Drawing, Shop};
use crate::power::cable_choice;
use crate::power::driver_choice::{self, Requirement as DriverNeeds};
use crate::power::drivers::Drivers;
use crate::power::grouping::PanelLoad;
use crate::power::light_build::{LitFace, work_out};
use crate::power::light_choice::{self, LightRequirement};
use crate::power::lights::Light;
use crate::power::vocabulary::{Dimming, Location, Place};
use crate::power::wire_run::{Leg, Run};
use crate::power::wire_stock::WireStock;
use crate::units::{Amperes, Volts, Watts, trimmed};

/// The tape that the record names, or the first of the list that gives the chosen light in that place.
pub(super) fn pick_tape<'a>(shop: &'a Shop, panel: &Panel) -> Result<&'a Light, Vec<String>> {
    let (Some(light), Some(volts)) = (&panel.light, panel.voltage_v) else {
        return Err(vec!["light and voltage are not chosen".into()]);
    };
    let asked = LightRequirement {
        kind: light.kind,
        voltage_v: Some(Volts(f64::from(volts))),
        cct_k: light.cct_k,
        cri_ra: None,
        place: panel.place,
    };
    let Some(wanted) = &panel.tape else {
        return match light_choice::choose(&shop.lights, &asked) {
            Ok(choice) => Ok(choice.light),
            Err(none) => Err(vec![format!("no tape of the shop gives this light; {}", none.remedy())]),
        };
    };
    let tape =
        shop.lights.get(wanted.as_str()).ok_or_else(|| vec![format!("the shop has no tape {wanted}")])?;
    let against = light_choice::against(tape, &asked);
    if against.is_empty() {
        return Ok(tape);
    }
    Err(against.iter().map(|why| format!("tape {wanted}: {why}")).collect())
}

/// Works the power of a panel out, or says everything that stands in the way.
pub(super) fn power(
    shop: &Shop,
    panel: &Panel,
    drawing: &Drawing,
    tape: &Light,
) -> Result<PowerPlan, Vec<String>> {
    let mut missing = Vec::new();
    if panel.face.is_none() {
        missing.push("the face is not chosen".to_owned());
    }
    if panel.feed_length_m.is_none() {
        missing.push("the length of wire from driver to panel is not given".to_owned());
    }
    let (Some(face), Some(feed_length_m)) = (panel.face, panel.feed_length_m) else { return Err(missing) };
    let build = work_out(
        tape,
        &pieces::lit_edges(shop, panel, drawing, tape),
        LitFace { face, area_mm2: drawing.figures.area_mm2 },
    )
    .map_err(|faults| faults.iter().map(|f| format!("{f}; {}", f.remedy())).collect::<Vec<_>>())?;

    let dimming = dimming(shop, panel)?;
    let asked = DriverNeeds {
        voltage_v: tape.voltage_v,
        kind: tape.kind,
        dimming,
        // The driver stands in its own dry place unless the shop's list says that it may stand elsewhere.
        place: Place::Dry,
        location: Location::Remote,
        mains_v: None,
        class2: false,
        space_mm: None,
    };
    let drivers = match &panel.driver {
        None => shop.drivers.clone(),
        Some(wanted) => match shop.drivers.get(wanted.as_str()) {
            Some(driver) => Drivers { drivers: vec![driver.clone()], ..shop.drivers.clone() },
            None => return Err(vec![format!("the shop has no driver {wanted}")]),
        },
    };
    let loads = [PanelLoad {
        panel: panel.id.to_string(),
        tapes: build.tapes.iter().map(|t| t.watts).collect::<Vec<Watts>>(),
    }];
    let choice = driver_choice::choose(&drivers, &asked, &loads)
        .map_err(|fault| vec![format!("{fault}; {}", fault.remedy())])?;

    // The worst run: every channel's current of the fullest circuit through one cable.
    let fullest = choice.circuits.iter().map(|c| c.watts.0).fold(0.0, f64::max);
    let share = if build.watts.0 > 0.0 { fullest / build.watts.0 } else { 1.0 };
    let channel_a: Vec<Amperes> =
        build.conductors.iter().filter(|c| !c.common).map(|c| Amperes(c.amps.0 * share)).collect();
    let run = Run {
        nominal_v: tape.voltage_v,
        legs: vec![Leg { length_m: feed_length_m, channel_a, joints: 2 }],
        conductor_c: shop.wire.conductor_c,
        joint_mohm: shop.wire.joint_mohm,
        largest_drop_pct: shop.wire.largest_drop_pct,
    };
    let stock = match &panel.wire {
        None => shop.wire.clone(),
        Some(wanted) => match shop.wire.get(wanted.as_str()) {
            Some(cable) => WireStock { cables: vec![cable.clone()], ..shop.wire.clone() },
            None => return Err(vec![format!("the shop has no wire {wanted}")]),
        },
    };
    let cable = cable_choice::choose(&stock, &run, false)
        .map_err(|fault| vec![format!("{fault}; {}", fault.remedy())])?;
    let wire = cable.cables.first().map_or_else(String::new, |c| c.id.clone());

    let mut remarks = vec![format!("{}: {}", choice.driver.id, choice.class2)];
    if dimming == Dimming::LowVoltage {
        remarks.push("the control system dims; its driver is a plain constant-voltage one (common practice, no source)".into());
    }
    for (edge, dark) in build.dark_mm.iter().filter(|(_, dark)| dark.0 > 0.0) {
        remarks.push(format!(
            "{} mm of edge {edge} stay dark, because the tape ends at a cut mark",
            trimmed(dark.0, 1)
        ));
    }
    Ok(PowerPlan {
        tape: tape.id.clone(),
        driver: choice.driver.id.clone(),
        drivers: choice.count,
        class2: choice.class2.to_string(),
        dimming,
        wire,
        feed_length_m,
        drop_v: cable.size.drop_v,
        drop_pct: cable.size.drop_pct,
        conductors: tape.kind.conductors(),
        remarks,
        build,
    })
}

/// How the panel is dimmed: at its controller, by its dimmer's method, or not at all.
fn dimming(shop: &Shop, panel: &Panel) -> Result<Dimming, Vec<String>> {
    match &panel.control {
        None if panel.light.as_ref().is_some_and(|l| l.kind.changes_colour()) => {
            Err(vec!["a colour-changing light needs its control system first".into()])
        }
        None => Ok(Dimming::Off),
        Some(control) => {
            match (shop.controls.controller(control.as_str()), shop.controls.dimmer(control.as_str())) {
                (Some(_), _) => Ok(Dimming::LowVoltage),
                (None, Some(dimmer)) => Ok(dimmer.method),
                (None, None) => Err(vec![format!("the shop has no control {control}")]),
            }
        }
    }
}
