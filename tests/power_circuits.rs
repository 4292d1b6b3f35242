//! Whole jobs on their drivers: every watt fed once, every limit kept, every conductor named.

use std::collections::BTreeMap;

use proptest::prelude::*;
use underlit::power::circuit_plan::{CircuitPlan, PanelFeed, Shop, Trouble, plan};
use underlit::power::control_choice::ControlFault;
use underlit::power::controls::Controls;
use underlit::power::driver_choice::Requirement;
use underlit::power::drivers::Drivers;
use underlit::power::light_build::{LitEdge, LitFace, work_out};
use underlit::power::lights::Lights;
use underlit::power::tape_drop::Feed;
use underlit::power::vocabulary::{Dimming, Location, Place};
use underlit::power::wire_stock::WireStock;
use underlit::units::{Metres, Millimetres};
use underlit::words::Face;

struct Records {
    lights: Lights,
    drivers: Drivers,
    controls: Controls,
    wire: WireStock,
}

impl Records {
    fn starter() -> Records {
        fn read<T: serde::de::DeserializeOwned>(text: &str) -> T {
            serde_json::from_str(text).expect("the starter records are read")
        }
        Records {
            lights: read(include_str!("../src/starter/shop/lights.json")),
            drivers: read(include_str!("../src/starter/shop/drivers.json")),
            controls: read(include_str!("../src/starter/shop/controls.json")),
            wire: read(include_str!("../src/starter/shop/wire.json")),
        }
    }

    fn shop(&self) -> Shop<'_> {
        Shop { drivers: &self.drivers, controls: &self.controls, wire: &self.wire }
    }

    fn panel(
        &self,
        name: &str,
        light: &str,
        dimming: Dimming,
        edges_mm: &[f64],
        feed_m: f64,
    ) -> PanelFeed<'_> {
        let light = self.lights.get(light).expect("the starter has the light");
        let edges: Vec<LitEdge> = edges_mm
            .iter()
            .enumerate()
            .map(|(n, length)| LitEdge {
                id: n.to_string(),
                length_mm: Millimetres(*length),
                least_radius_mm: None,
                feed: Feed::OneEnd,
                tapes: 1,
            })
            .collect();
        let face = LitFace { face: Face::Diffused, area_mm2: 1e6 };
        PanelFeed {
            panel: name.into(),
            light,
            build: work_out(light, &edges, face).expect("the edges take tape"),
            asked: Requirement {
                voltage_v: light.voltage_v,
                kind: light.kind,
                dimming,
                place: Place::Dry,
                location: Location::Remote,
                mains_v: None,
                class2: false,
                space_mm: None,
            },
            driver: None,
            control: None,
            control_place: Place::Dry,
            controller_m: None,
            feed_m: Metres(feed_m),
            cable: None,
        }
    }
}

/// Every tape of every panel on exactly one output, and no limit passed.
fn holds(records: &Records, panels: &[PanelFeed<'_>], plan: &CircuitPlan) {
    let mut fed: BTreeMap<(&str, usize), usize> = BTreeMap::new();
    let mut outputs: BTreeMap<(usize, usize), usize> = BTreeMap::new();
    for group in &plan.groups {
        let driver = records.drivers.get(&group.driver).expect("a driver of the shop");
        for circuit in &group.circuits {
            *outputs.entry((circuit.driver, circuit.output)).or_default() += 1;
            assert!(circuit.output <= driver.outputs as usize);
            assert!(circuit.share <= records.drivers.largest_load_share + 1e-6, "{}", circuit.share);
            let of_leads: f64 = circuit.leads.iter().map(|lead| lead.watts.get()).sum();
            assert!((of_leads - circuit.watts.get()).abs() < 1e-6);
            let amps: f64 = circuit.leads.iter().map(|lead| lead.conductors[0].amps.get()).sum();
            assert!((amps - circuit.amps.get()).abs() < 1e-6, "the commons carry the circuit's current");
            for lead in &circuit.leads {
                let panel = panels.iter().find(|p| p.panel == lead.panel).expect("a panel of the job");
                assert_eq!(lead.conductors.len(), panel.light.kind.conductors());
                let channels: f64 = lead.conductors[1..].iter().map(|c| c.amps.get()).sum();
                assert!((channels - lead.conductors[0].amps.get()).abs() < 1e-9);
                let cable = records.wire.get(&lead.cable).expect("a cable of the shop");
                assert!(cable.conductors as usize >= lead.conductors.len());
                assert!(lead.conductors.iter().all(|c| c.amps <= cable.conductor_a));
                assert!(lead.drop_pct <= records.wire.largest_drop_pct + 1e-9);
                for tape in &lead.tapes {
                    *fed.entry((lead.panel.as_str(), *tape)).or_default() += 1;
                }
            }
        }
    }
    let wanted: Vec<(&str, usize)> =
        panels.iter().flat_map(|p| (0..p.build.tapes.len()).map(|t| (p.panel.as_str(), t))).collect();
    assert_eq!(fed.len(), wanted.len());
    assert!(wanted.iter().all(|tape| fed.get(tape) == Some(&1)), "{fed:?}");
    assert!(outputs.values().all(|circuits| *circuits == 1), "an output is used by one circuit only");
    let drivers: usize = plan.groups.iter().map(|group| group.drivers).sum();
    assert_eq!(
        outputs.keys().map(|(driver, _)| *driver).max(),
        Some(drivers),
        "drivers are numbered through the job"
    );
}

#[test]
fn panels_that_ask_for_the_same_share_a_driver() {
    let records = Records::starter();
    let panels = [
        records.panel("front", "white-24", Dimming::Off, &[2300.0], 4.0),
        records.panel("end", "white-24", Dimming::Off, &[1000.0], 6.0),
        records.panel("niche", "rgbw-24", Dimming::LowVoltage, &[900.0], 5.0),
    ];
    let plan = plan(records.shop(), &panels).expect("the starter feeds them");
    holds(&records, &panels, &plan);
    // 33.12 W + 14.4 W are 47.52 W: 48 W is what 0.8 of 60 W leaves.
    let white = &plan.groups[0];
    assert_eq!((white.driver.as_str(), white.drivers, white.circuits.len()), ("plain-24-60", 1, 1));
    assert_eq!(white.circuits[0].leads.len(), 2);
    assert_eq!((white.dimmer.as_deref(), white.dimmers), (None, 0));
    let colour = &plan.groups[1];
    assert_eq!(colour.circuits[0].controller.as_deref(), Some("colour-wall"));
    assert_eq!(colour.circuits[0].driver, 2);
    let marks: Vec<&str> = colour.circuits[0].leads[0].conductors.iter().map(|c| c.mark.as_str()).collect();
    assert_eq!(marks, ["+", "R", "G", "B", "W"]);
    let bill: Vec<(&str, &str, f64, &str)> =
        plan.bill.iter().map(|l| (l.what, l.id.as_str(), l.quantity, l.unit)).collect();
    assert_eq!(
        bill,
        [
            ("tape", "rgbw-24", 0.9, "m"),
            ("tape", "white-24", 3.3, "m"),
            ("driver", "plain-24-60", 2.0, "pieces"),
            ("controller", "colour-wall", 1.0, "pieces"),
            ("cable", "18-2", 10.0, "m"),
            ("cable", "18-5", 5.0, "m"),
        ]
    );
}

#[test]
fn a_controller_away_from_its_driver_adds_a_leg() {
    let records = Records::starter();
    let near = [records.panel("niche", "rgbw-24", Dimming::LowVoltage, &[2000.0], 5.0)];
    let mut far = near.clone();
    far[0].controller_m = Some(Metres(6.0));
    let near = plan(records.shop(), &near).expect("the starter feeds it");
    let planned = plan(records.shop(), &far).expect("the starter feeds it");
    holds(&records, &far, &planned);
    let (near, lead) = (&near.groups[0].circuits[0].leads[0], &planned.groups[0].circuits[0].leads[0]);
    assert_eq!((near.controller_cable.as_deref(), near.controller_m), (None, Metres(0.0)));
    assert_eq!(lead.controller_m, Metres(6.0));
    let to_controller = records.wire.get(lead.controller_cable.as_deref().expect("a leg to the controller"));
    assert_eq!(to_controller.map(|cable| cable.conductors), Some(2));
    // 38.4 W at 24 V: 1.6 A in all, 0.4 A a channel. Both legs in 16 AWG of 4.99 Ω/kft with two joints of 5 mΩ a leg.
    let ohms = 4.99 / 304.8;
    let expected = (3.2 * 6.0 + 2.0 * 5.0) * ohms + (3.2 + 2.0) * 0.01;
    let size = records.wire.get(&lead.cable).map(|cable| cable.size.clone());
    assert_eq!(size.as_deref(), Some("16 AWG"));
    assert!((lead.drop_v.get() - expected).abs() < 1e-9, "{} is not {expected}", lead.drop_v);
}

#[test]
fn dimmers_stand_where_their_method_puts_them() {
    let records = Records::starter();
    let mains = [
        records.panel("a", "white-24", Dimming::ReversePhase, &[3000.0], 3.0),
        records.panel("b", "white-24", Dimming::ReversePhase, &[3000.0], 3.0),
    ];
    let planned = plan(records.shop(), &mains).expect("the starter feeds them");
    holds(&records, &mains, &planned);
    let group = &planned.groups[0];
    assert_eq!((group.driver.as_str(), group.drivers), ("phase-24-60", 2));
    assert_eq!((group.dimmer.as_deref(), group.dimmers), (Some("reverse-wall"), 1));
    let after: Vec<PanelFeed<'_>> = ["a", "b", "c"]
        .iter()
        .map(|name| records.panel(name, "white-24", Dimming::LowVoltage, &[4000.0], 3.0))
        .collect();
    let mut shop = records.shop();
    let mut drivers = records.drivers.clone();
    drivers.drivers.retain(|driver| driver.rating_w.get() < 100.0);
    shop.drivers = &drivers;
    let planned = plan(shop, &after).expect("the starter feeds them");
    let group = &planned.groups[0];
    assert_eq!((group.drivers, group.dimmers), (3, 3), "one in-line dimmer on each output");
    assert_eq!(group.untried, ["plain-24-96"]);
}

#[test]
fn no_circuit_is_made_that_no_controller_carries() {
    // Six panels of 38.4 W, 1.6 A each: one driver of 300 W would carry them all, a controller of 3.5 A only two.
    let mut records = Records::starter();
    records.controls.controllers.retain(|c| c.id == "colour-wall");
    records.controls.controllers[0].total_a.0 = 3.5;
    let panels: Vec<PanelFeed<'_>> = (0..6)
        .map(|n| records.panel(&format!("p{n}"), "rgbw-24", Dimming::LowVoltage, &[2000.0], 2.0))
        .collect();
    let planned = plan(records.shop(), &panels).expect("circuits are kept to what the controller carries");
    holds(&records, &panels, &planned);
    let circuits: Vec<_> = planned.groups.iter().flat_map(|group| &group.circuits).collect();
    assert!(circuits.iter().all(|circuit| circuit.amps.get() <= 3.5));
    assert_eq!(circuits.len(), 3, "two panels of 1.6 A a controller");
    // One driver with two outputs and one with one are smaller together than two with two.
    let drivers: usize = planned.groups.iter().map(|group| group.drivers).sum();
    assert_eq!((planned.groups.len(), drivers), (2, 2));
}

#[test]
fn what_stands_in_the_way_is_said_for_every_group() {
    let records = Records::starter();
    let mut unknown = records.panel("a", "white-24", Dimming::Off, &[1000.0], 3.0);
    unknown.driver = Some("plain-48".into());
    let far = records.panel("b", "rgb-24", Dimming::LowVoltage, &[4000.0], 90.0);
    let mut two = records.panel("c", "rgbw-24", Dimming::LowVoltage, &[1000.0], 3.0);
    two.control = Some("tunable-wall".into());
    let dimmed = records.panel("d", "white-24", Dimming::Dali, &[1000.0], 3.0);
    let faults = plan(records.shop(), &[unknown, far, two, dimmed]).expect_err("none can be fed");
    let found: Vec<(&str, &str)> = faults.iter().map(|f| (f.panels[0].as_str(), f.code())).collect();
    assert_eq!(
        found,
        [
            ("a", "circuit-unknown-item"),
            ("b", "wire-none-fits"),
            ("c", "control-does-not-suit"),
            ("d", "dimmer-none-fits"),
        ]
    );
    assert_eq!(faults[0].to_string(), "a: the shop has no driver `plain-48`");
    assert!(faults[2].to_string().contains("it does not run rgbw"), "{}", faults[2]);
    assert!(matches!(&faults[3].trouble, Trouble::Control(ControlFault::NoDimmer { .. })));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    #[test]
    fn every_watt_of_every_panel_is_on_exactly_one_driver_output(
        jobs in proptest::collection::vec(
            (0..4_usize, proptest::collection::vec(100.0..4800.0_f64, 1..4), 0.5..4.0_f64), 1..9),
    ) {
        let records = Records::starter();
        let panels: Vec<PanelFeed<'_>> = jobs
            .iter()
            .enumerate()
            .map(|(n, (light, edges, feed))| {
                let (light, dimming) = [
                    ("white-24", Dimming::Off),
                    ("tunable-24", Dimming::LowVoltage),
                    ("rgb-24", Dimming::LowVoltage),
                    ("rgbw-24", Dimming::LowVoltage),
                ][*light];
                records.panel(&format!("p{n}"), light, dimming, edges, *feed)
            })
            .collect();
        match plan(records.shop(), &panels) {
            Ok(planned) => holds(&records, &panels, &planned),
            Err(faults) => prop_assert!(faults.iter().all(|f| f.code() == "wire-none-fits"), "{:?}", faults),
        }
    }
}
