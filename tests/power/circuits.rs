//! Whole jobs on their drivers: every watt fed once, every limit kept, every conductor named.

use std::collections::BTreeMap;

use proptest::prelude::*;
use underlit::power::circuit_plan::{CircuitPlan, PanelFeed, Shop, Trouble, plan};
use underlit::power::class2::Class2Standing;
use underlit::power::control_choice::ControlFault;
use underlit::power::controls::Controls;
use underlit::power::driver_choice::Requirement;
use underlit::power::drivers::Drivers;
use underlit::power::light_build::{LitEdge, LitFace, work_out};
use underlit::power::lights::Lights;
use underlit::power::nearest;
use underlit::power::protection::Protection;
use underlit::power::tape_drop::Feed;
use underlit::power::vocabulary::{Dimming, Location, Place};
use underlit::power::wire_stock::{LeadEnd, WireStock};
use underlit::units::{Amperes, Metres, Millimetres};
use underlit::words::Face;

use crate::starter::starter;

struct Records {
    lights: Lights,
    drivers: Drivers,
    controls: Controls,
    wire: WireStock,
}

impl Records {
    fn starter() -> Records {
        Records {
            lights: starter("lights"),
            drivers: starter("drivers"),
            controls: starter("controls"),
            wire: starter("wire"),
        }
    }

    fn shop(&self) -> Shop<'_> {
        Shop { drivers: &self.drivers, controls: &self.controls, wire: &self.wire, strict: true }
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
                piece: 0,
            })
            .collect();
        let face = LitFace { face: Face::Diffused, area_mm2: 1e6 };
        PanelFeed {
            zone: None,
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
                region: None,
                space_mm: None,
            },
            driver: None,
            control: None,
            control_place: Place::Dry,
            controller_m: None,
            feed_m: Metres(feed_m),
            other_builds: Vec::new(),
            slack_m: Vec::new(),
            place: Place::Dry,
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
                assert!(lead.against.is_empty());
                // Behind an output that is not listed: a fuse that the load leaves room for, and cable and plug carry.
                let listed = Class2Standing::of_driver(driver).may_be_wired_as_class2();
                match &lead.protection {
                    Protection::ListedOutput => assert!(listed),
                    Protection::Fuse { fuse_a, .. } => {
                        assert!(!listed && !cable.is_for_class2_only());
                        assert!(
                            *fuse_a <= cable.conductor_a && fuse_a.get() <= 10.0,
                            "the plug carries 10 A"
                        );
                        assert!(lead.conductors[0].amps.get() <= 0.8 * fuse_a.get() + 1e-9);
                    }
                    other => panic!("{other}"),
                }
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
    // Along 2 m of tape, fed at one end: I·R/2 in the common of 0.06 Ω and in a channel of 0.16 Ω.
    let along = 1.6 * 0.06 / 2.0 + 0.4 * 0.16 / 2.0;
    assert!((lead.tape_drop_v.get() - along).abs() < 1e-9, "{} is not {along}", lead.tape_drop_v);
    let expected = (3.2 * 6.0 + 2.0 * 5.0) * ohms + (3.2 + 2.0) * 0.01 + along;
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

/// A panel in a rack of two white tapes of 2.5 m, 36 W each.
fn two_tapes(records: &Records, feed_m: f64) -> PanelFeed<'_> {
    records.panel("bar", "white-24", Dimming::Off, &[2500.0, 2500.0], feed_m)
}

#[test]
fn an_output_that_is_not_listed_is_fused_for_cable_and_connectors() {
    let records = Records::starter();
    // 96 W on one tape: only the driver of 300 W carries that at 80 %, and it is not listed Class 2.
    let panels = [records.panel("niche", "rgbw-24", Dimming::LowVoltage, &[5000.0], 2.0)];
    let planned = plan(records.shop(), &panels).expect("it is fused");
    holds(&records, &panels, &planned);
    assert_eq!(planned.groups[0].driver, "plain-24-300");
    let lead = &planned.groups[0].circuits[0].leads[0];
    let cable = records.wire.get(&lead.cable).expect("a cable of the shop");
    assert!(!cable.is_for_class2_only(), "{} is marked for Class 2 only", cable.id);
    // 4 A over 0.8 is exactly 5 A: the fuse of 5 A, and no larger one.
    assert_eq!(lead.protection, Protection::Fuse { id: "fuse-5".into(), fuse_a: Amperes(5.0) });
    assert!(
        planned.bill.iter().any(|line| line.what == "fuse" && line.id == "fuse-5" && line.quantity == 1.0)
    );

    // Without fuses it is refused, and says what would do.
    let mut bare = Records::starter();
    bare.wire.fuses.clear();
    let faults = plan(bare.shop(), &panels).expect_err("nothing protects it");
    let said = faults[0].to_string();
    assert!(said.contains("needs a fuse of 5 to ") && said.contains("`fuses` in shop/wire.json"), "{said}");
    let changes = nearest::changes(bare.shop(), &panels[0]);
    assert!(changes.iter().any(|one| one.contains("a fuse of 5 A")), "{changes:?}");

    // An output that cannot give more than the cable carries needs none: exactly as much is enough, a hair more is not.
    for (limit, limited) in [(12.5, false), (18.0, true), (18.001, false)] {
        let mut records = Records::starter();
        records.wire.cables.retain(|cable| cable.id == "power-12-5");
        let driver =
            records.drivers.drivers.iter_mut().find(|d| d.id == "plain-24-300").expect("it is there");
        driver.output_limit_a = Some(Amperes(limit));
        // The plug at the panel carries 10 A: only without it the cable alone decides.
        records.wire.connectors.retain(|one| limited || limit < 18.0 || !one.at.contains(&LeadEnd::AtPanel));
        if limited {
            records.wire.connectors.clear();
        }
        let panels = [records.panel("niche", "rgbw-24", Dimming::LowVoltage, &[5000.0], 2.0)];
        let planned = plan(records.shop(), &panels).expect("it is protected either way");
        let by = &planned.groups[0].circuits[0].leads[0].protection;
        let expected = if limited { "limited-output" } else { "fuse" };
        assert_eq!(by.code(), expected, "limited to {limit} A");
    }
}

#[test]
fn listed_outputs_go_before_fewer_drivers() {
    let records = Records::starter();
    let panels: Vec<PanelFeed<'_>> =
        (0..3).map(|n| records.panel(&format!("p{n}"), "white-24", Dimming::Off, &[4500.0], 1.5)).collect();
    // 194.4 W: one driver of 300 W, or listed ones.
    let planned = plan(records.shop(), &panels).expect("the starter feeds them");
    holds(&records, &panels, &planned);
    let protections = planned.groups.iter().flat_map(|g| &g.circuits).flat_map(|c| &c.leads);
    assert!(protections.clone().count() > 0);
    for lead in protections {
        assert_eq!(lead.protection, Protection::ListedOutput);
    }
}

#[test]
fn lead_slack_and_tape_are_one_sum() {
    let mut records = Records::starter();
    records.wire.cables.retain(|cable| cable.id == "16-2");
    let mut panel = records.panel("bar", "white-24", Dimming::Off, &[4000.0], 3.0);
    panel.slack_m = vec![Metres(2.0)];
    // 57.6 W, 2.4 A over 3 + 2 m of 16 AWG and two joints of 5 mΩ a conductor; tape of 2 × 0.16 Ω, I·R/2.
    let lead = 2.0 * 2.4 * (5.0 * 4.99 / 304.8 + 0.01);
    let along = 2.4 * 0.16 / 2.0 * 2.0;
    let sum_pct = (lead + along) / 24.0 * 100.0;
    let planned = plan(records.shop(), std::slice::from_ref(&panel));
    assert!(sum_pct > 3.0 && lead / 24.0 < 0.03, "the sum passes the limit and neither part does: {sum_pct}");
    assert!(planned.is_err());
    // Exactly at the limit is within it.
    records.wire.largest_drop_pct = sum_pct;
    let mut panel = records.panel("bar", "white-24", Dimming::Off, &[4000.0], 3.0);
    panel.slack_m = vec![Metres(2.0)];
    let planned = plan(records.shop(), std::slice::from_ref(&panel)).expect("exactly the limit");
    let found = &planned.groups[0].circuits[0].leads[0];
    assert!(
        (found.drop_pct - sum_pct).abs() < 1e-9 && (found.longest_m.get() - 3.0).abs() < 1e-6,
        "{found:?}"
    );
}

#[test]
fn a_far_end_has_its_own_conductor() {
    let mut records = Records::starter();
    records.wire.cables.retain(|cable| cable.id == "14-2");
    let mut panel = records.panel("bar", "white-24", Dimming::Off, &[4000.0], 1.0);
    let light = records.lights.get("white-24").expect("the starter has it");
    let edge = LitEdge {
        id: "0".into(),
        length_mm: Millimetres(4000.0),
        least_radius_mm: None,
        feed: Feed::BothEnds,
        tapes: 1,
        piece: 0,
    };
    panel.build =
        work_out(light, &[edge], LitFace { face: Face::Diffused, area_mm2: 1e6 }).expect("it takes tape");
    let planned = plan(records.shop(), &[panel]).expect("the starter feeds it");
    let lead = &planned.groups[0].circuits[0].leads[0];
    assert_eq!(lead.far_m, Metres(4.0));
    assert!(planned.bill.iter().any(|line| line.what == "cable" && (line.quantity - 5.0).abs() < 1e-9));
    // A ladder of 4000 short pieces of tape, each giving its share away, with the cable beside it: Kirchhoff's laws.
    let (amps, rail, cable) = (2.4, 0.16, 4.0 * 314.0 / 30_480.0);
    let steps = 4000;
    let along = |near: f64| {
        let (mut worst, mut drop, mut left) = (0.0_f64, 0.0, near);
        for _ in 0..steps {
            drop += left * rail / f64::from(steps);
            left -= amps / f64::from(steps);
            worst = worst.max(drop);
        }
        (worst, drop)
    };
    let (mut low, mut high) = (0.0, amps);
    for _ in 0..60 {
        let near = (low + high) / 2.0;
        // What reaches the far end through the tape has to be what reaches it through the cable.
        if along(near).1 > (amps - near) * cable { high = near } else { low = near }
    }
    let expected = 2.0 * along(low).0;
    assert!((lead.tape_drop_v.get() - expected).abs() < 2e-4, "{} is not {expected}", lead.tape_drop_v);
    assert!(
        lead.tape_drop_v.get() > 2.0 * amps * rail / 8.0,
        "more than with a far feed that resists nothing"
    );
}

#[test]
fn each_piece_has_a_lead_of_its_own() {
    let records = Records::starter();
    let mut panel = two_tapes(&records, 1.0);
    panel.build.tapes[0].piece = 1;
    panel.build.tapes[1].piece = 2;
    panel.slack_m = vec![Metres(0.5), Metres(0.0)];
    let planned = plan(records.shop(), &[panel]).expect("the starter feeds it");
    let leads: Vec<_> = planned.groups[0].circuits.iter().flat_map(|c| &c.leads).collect();
    let found: Vec<(usize, &[usize], Metres)> =
        leads.iter().map(|l| (l.piece, l.tapes.as_slice(), l.slack_m)).collect();
    assert_eq!(found, [(1, &[0][..], Metres(0.5)), (2, &[1][..], Metres(0.0))]);
}

#[test]
fn another_driver_is_found_where_the_fewest_fail_on_cable() {
    let mut records = Records::starter();
    records.wire.cables.retain(|cable| cable.id == "18-2");
    // 72 W by one lead of 18 AWG reaches 3.2 m; by two leads of 36 W it reaches twice as far.
    let panels = [two_tapes(&records, 5.0)];
    let planned = plan(records.shop(), &panels).expect("two outputs do");
    holds(&records, &panels, &planned);
    let circuits: usize = planned.groups.iter().map(|group| group.circuits.len()).sum();
    assert_eq!(circuits, 2);
    let near = plan(records.shop(), &[two_tapes(&records, 2.0)]).expect("one output does");
    assert_eq!(near.groups[0].circuits.len(), 1);
    // Beyond what any grouping reaches, the nearest that works is said, and it works.
    let far = two_tapes(&records, 30.0);
    assert!(plan(records.shop(), std::slice::from_ref(&far)).is_err());
    let changes = nearest::changes(records.shop(), &far);
    let shorter =
        changes.iter().find(|one| one.contains("of wire to the panel")).expect("a shorter way works");
    let metres: f64 = shorter.split(' ').nth(5).and_then(|m| m.parse().ok()).expect("it says how far");
    let works = |feed_m| plan(records.shop(), &[PanelFeed { feed_m: Metres(feed_m), ..far.clone() }]).is_ok();
    assert!(works(metres) && !works(metres + 0.1), "{shorter}");
    assert!(changes.iter().any(|one| one.contains("AWG")), "a thicker cable works too: {changes:?}");
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
