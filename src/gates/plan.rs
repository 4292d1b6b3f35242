//! Light, power and route of a panel, worked out from its drawing, its choice and the shop's lists.
//!
//! [`propose`] picks from the lists what is not settled; [`plan`] judges what the panel's record settles.
//! Both run the same sums, so that a gate never sees another answer than the engineer did.

use crate::making::route_fit::{self, PanelNeeds};
use crate::making::routes::Routes;
use crate::model::id::{PanelId, StockId};
use crate::model::panel::Panel;
use crate::model::snapshot::{Drawing, Shop, Snapshot};
use crate::model::statement::{Fact, Facts};
use crate::power::cable_choice;
use crate::power::driver_choice::{self, Requirement as DriverNeeds};
use crate::power::drivers::Drivers;
use crate::power::grouping::PanelLoad;
use crate::power::light_build::{LightBuild, LitEdge, LitFace, work_out};
use crate::power::lights::Light;
use crate::power::tape_drop::Feed;
use crate::power::vocabulary::{Dimming, Location};
use crate::power::wire_run::{Leg, Run};
use crate::power::wire_stock::WireStock;
use crate::units::{Amperes, Metres, Millimetres, Volts, Watts, trimmed};
use crate::words::LightKind;

/// What a panel needs, worked out, or everything that stands in the way.
#[derive(Clone, Debug, PartialEq)]
pub struct PanelPlan {
    /// The route that builds it.
    pub route: Result<String, Vec<String>>,
    /// Its light and power.
    pub power: Result<PowerPlan, Vec<String>>,
}

/// The light and power of one panel.
#[derive(Clone, Debug, PartialEq)]
pub struct PowerPlan {
    /// The tape, by its name in the shop's list.
    pub tape: String,
    /// Tape and light.
    pub build: LightBuild,
    /// The driver, by its name in the shop's list.
    pub driver: String,
    /// How many drivers.
    pub drivers: usize,
    /// What may be said of the driver's outputs and Class 2.
    pub class2: String,
    /// How it is dimmed.
    pub dimming: Dimming,
    /// The cable from driver to panel, by its name in the shop's list.
    pub wire: String,
    /// How far it is from driver to panel, one way.
    pub feed_length_m: Metres,
    /// The drop in that cable.
    pub drop_v: Volts,
    /// The same in percent of the voltage.
    pub drop_pct: f64,
    /// How many conductors the panel's lead has.
    pub conductors: usize,
    /// What to know besides.
    pub remarks: Vec<String>,
}

impl PowerPlan {
    /// The plan in a line: `38.4 W at 24 V from 1 × plain-24-60, 2 conductors of 18-2, 1.2 % drop over 4 m`.
    #[must_use]
    pub fn in_words(&self) -> String {
        format!(
            "{} W from {} × {}, {} conductors in {}, {} % drop over {} m",
            trimmed(self.build.watts.0, 1),
            self.drivers,
            self.driver,
            self.conductors,
            self.wire,
            trimmed(self.drop_pct, 2),
            trimmed(self.feed_length_m.0, 1)
        )
    }
}

impl PanelPlan {
    /// The plan as facts that a release seals, in whole milliwatts, millivolts and the names of the lists.
    #[must_use]
    pub fn facts(&self, prefix: &str) -> Facts {
        let mut facts = Facts::new();
        let mut put = |name: &str, fact: Fact| facts.insert(format!("{prefix}.{name}"), fact);
        if let Ok(route) = &self.route {
            put("route", Fact::Text(route.clone()));
        }
        if let Ok(power) = &self.power {
            let milli = |value: f64| Fact::Number((value * 1000.0).round() as i64);
            put("tape", Fact::Text(power.tape.clone()));
            put("tape_length_um", Fact::Number((power.build.tape_m.0 * 1e6).round() as i64));
            put("power_mw", milli(power.build.watts.0));
            put("driver", Fact::Text(power.driver.clone()));
            put("drivers", Fact::Number(power.drivers as i64));
            put("wire", Fact::Text(power.wire.clone()));
            put("drop_mv", milli(power.drop_v.0));
            put("conductors", Fact::Number(power.conductors as i64));
        }
        facts
    }
}

/// Judges what a panel's record settles.
#[must_use]
pub fn plan(shop: &Shop, project: &Snapshot, id: &PanelId, panel: &Panel) -> PanelPlan {
    let mut plan = propose(shop, project, id, panel);
    let unsettled = |name: &str, settled: &Option<StockId>, proposal: &str| {
        settled.is_none().then(|| format!("no {name} is settled; {proposal} would do"))
    };
    if let Ok(route) = &plan.route
        && let Some(open) = unsettled("route", &panel.route, route)
    {
        plan.route = Err(vec![open]);
    }
    if let Ok(power) = &plan.power {
        let open: Vec<String> = [
            unsettled("tape", &panel.tape, &power.tape),
            unsettled("driver", &panel.driver, &power.driver),
            unsettled("wire", &panel.wire, &power.wire),
        ]
        .into_iter()
        .flatten()
        .collect();
        if !open.is_empty() {
            plan.power = Err(open);
        }
    }
    plan
}

/// Works out what a panel needs, picking from the shop's lists whatever its record leaves open.
#[must_use]
pub fn propose(shop: &Shop, project: &Snapshot, id: &PanelId, panel: &Panel) -> PanelPlan {
    let Some(drawing) = project.drawing_of(id) else {
        let why = || vec![format!("the outline of panel {id} cannot be read")];
        return PanelPlan { route: Err(why()), power: Err(why()) };
    };
    let tape = pick_tape(shop, panel);
    PanelPlan {
        route: route(shop, panel, drawing, tape.as_ref().ok().copied()),
        power: tape.and_then(|tape| power(shop, panel, drawing, tape)),
    }
}

fn route(shop: &Shop, panel: &Panel, drawing: &Drawing, tape: Option<&Light>) -> Result<String, Vec<String>> {
    let Some(light) = &panel.light else { return Err(vec!["the kind of light is not chosen".into()]) };
    let figures = &drawing.figures;
    let inner = if figures.sharp_inside_corners > 0 { Some(0.0) } else { figures.least_inside_radius_mm };
    let needs = PanelNeeds {
        long_mm: Millimetres(figures.least_rectangle.long_mm),
        short_mm: Millimetres(figures.least_rectangle.short_mm),
        curved: figures.curved || figures.curved_cutouts,
        cutouts: figures.cutouts,
        least_inner_radius_mm: inner.map(Millimetres),
        kind: light.kind,
        cri_ra: None,
        depth_mm: tape.map(|t| t.panel_depth_mm),
        lit_edges: panel.lit_edges.len(),
        mount: panel.mount,
    };
    let routes = match &panel.route {
        None => shop.routes.clone(),
        Some(wanted) => match shop.routes.get(wanted.as_str()) {
            Some(route) => Routes { routes: vec![route.clone()], ..shop.routes.clone() },
            None => return Err(vec![format!("the shop has no route {wanted}")]),
        },
    };
    let fits = |width: Millimetres, height: Millimetres| fits_sheet(drawing, panel, width, height);
    let choice = route_fit::choose(&routes, &needs, fits, |_| None);
    match choice.proposed() {
        Some(route) => Ok(route.id.clone()),
        None => Err(choice
            .verdicts
            .iter()
            .map(|v| {
                let reasons: Vec<String> = v.against.iter().map(ToString::to_string).collect();
                format!("{}: {}", v.route.id, reasons.join(", "))
            })
            .collect()),
    }
}

/// The tape that the record names, or the first of the list that gives the chosen light.
fn pick_tape<'a>(shop: &'a Shop, panel: &Panel) -> Result<&'a Light, Vec<String>> {
    let (Some(light), Some(volts)) = (&panel.light, panel.voltage_v) else {
        return Err(vec!["light and voltage are not chosen".into()]);
    };
    let suits = |tape: &Light| -> Result<(), String> {
        if tape.kind != light.kind {
            return Err(format!("tape {} is {}, not {}", tape.id, tape.kind, light.kind));
        }
        if (tape.voltage_v.0 - f64::from(volts)).abs() > 1e-9 {
            return Err(format!("tape {} runs at {}, not {volts} V", tape.id, tape.voltage_v));
        }
        match light.cct_k {
            Some(cct) if light.kind != LightKind::Rgb && !tape.gives_cct(cct) => {
                Err(format!("tape {} does not give {cct} K", tape.id))
            }
            _ => Ok(()),
        }
    };
    if let Some(wanted) = &panel.tape {
        let tape =
            shop.lights.get(wanted.as_str()).ok_or_else(|| vec![format!("the shop has no tape {wanted}")])?;
        return suits(tape).map(|()| tape).map_err(|why| vec![why]);
    }
    let mut reasons = Vec::new();
    for tape in &shop.lights.lights {
        match suits(tape) {
            Ok(()) => return Ok(tape),
            Err(why) => reasons.push(why),
        }
    }
    Err(reasons)
}

fn power(shop: &Shop, panel: &Panel, drawing: &Drawing, tape: &Light) -> Result<PowerPlan, Vec<String>> {
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
        &lit_edges(panel, drawing, tape),
        LitFace { face, area_mm2: drawing.figures.area_mm2 },
    )
    .map_err(|faults| faults.iter().map(|f| format!("{f}; {}", f.remedy())).collect::<Vec<_>>())?;

    let dimming = dimming(shop, panel)?;
    let asked = DriverNeeds {
        voltage_v: tape.voltage_v,
        kind: tape.kind,
        dimming,
        // The driver stands in its own dry place unless the shop's list says that it may stand elsewhere.
        place: crate::power::vocabulary::Place::Dry,
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

/// The lit edges with their tapes: fed at one end where that reaches, else at both, else divided.
fn lit_edges(panel: &Panel, drawing: &Drawing, tape: &Light) -> Vec<LitEdge> {
    drawing
        .figures
        .edges
        .iter()
        .filter(|edge| panel.lit_edges.iter().any(|n| *n as usize == edge.number))
        .map(|edge| {
            let length_m = edge.length_mm / 1000.0;
            let both = tape.largest_run(true).0;
            let (feed, tapes) = if length_m <= tape.largest_run(false).0 {
                (Feed::OneEnd, 1.0)
            } else {
                (Feed::BothEnds, (length_m / both).ceil().max(1.0))
            };
            LitEdge {
                id: edge.number.to_string(),
                length_mm: Millimetres(edge.length_mm),
                least_radius_mm: edge.least_radius_mm.map(Millimetres),
                feed,
                tapes: tapes as u32,
            }
        })
        .collect()
}

/// True where the panel, or each of its pieces, goes on a sheet of this size, turned as it may be.
fn fits_sheet(drawing: &Drawing, _panel: &Panel, width: Millimetres, height: Millimetres) -> bool {
    let outer = &drawing.outline.outer;
    let along = drawing.figures.least_rectangle.long_side_rad;
    (0..360).map(|step| along + f64::from(step) * std::f64::consts::PI / 360.0).any(|angle| {
        let around = crate::shape::around(outer, angle);
        let (short, long) = (width.0.min(height.0), width.0.max(height.0));
        around.short_mm <= short + 1e-6 && around.long_mm <= long + 1e-6
    })
}
