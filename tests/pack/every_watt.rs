//! Property: whatever panels a job has, every tape of every panel that is fed is on exactly one driver output,
//! no output is above what the shop puts on it, and a panel that is not fed says why.

use std::collections::BTreeMap;

use proptest::prelude::*;
use serde_json::json;
use underlit::digest::Sha256Digest;
use underlit::ids::PanelId;
use underlit::job::plan::{JobPlan, propose_job};
use underlit::model::panel::Panel;
use underlit::model::snapshot::{Drawing, Shop, Snapshot};
use underlit::shape::{Outline, figures};

fn starter<T: serde::de::DeserializeOwned>(path: &str) -> T {
    let (_, text) = underlit::store::starter::FILES.iter().find(|(name, _)| *name == path).unwrap();
    serde_json::from_str(text).unwrap()
}

fn sample<T: serde::de::DeserializeOwned>(kind: &str) -> T {
    let path = format!("{}/tests/samples/{kind}/valid/fewest-fields.json", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    // A file of several samples holds one after the other.
    serde_json::Deserializer::from_str(&text).into_iter::<T>().next().unwrap().unwrap()
}

fn shop() -> Shop {
    Shop {
        book: sample("book"),
        roster: sample("roster"),
        roster_digest: Sha256Digest::of(b"roster"),
        named_then: BTreeMap::new(),
        rules: starter("rules.json"),
        routes: starter("shop/routes.json"),
        lights: starter("shop/lights.json"),
        drivers: starter("shop/drivers.json"),
        controls: starter("shop/controls.json"),
        wire: starter("shop/wire.json"),
        calendar: starter("shop/calendar.json"),
        conflicts: BTreeMap::new(),
    }
}

#[derive(Clone, Debug)]
struct Wish {
    width: f64,
    height: f64,
    light: &'static str,
    control: Option<&'static str>,
    edges: Vec<u32>,
    place: &'static str,
    feed_m: f64,
    driver: Option<&'static str>,
}

fn wish() -> impl Strategy<Value = Wish> {
    let lights = prop_oneof![
        Just(("static-white", None)),
        Just(("static-white", Some("reverse-wall"))),
        Just(("static-white", Some("inline-pwm"))),
        Just(("tunable-white", Some("tunable-wall"))),
        Just(("tunable-white", Some("colour-desk"))),
        Just(("rgbw", Some("colour-desk"))),
        Just(("rgb", Some("colour-wall"))),
    ];
    let edges = prop_oneof![Just(vec![1]), Just(vec![1, 3]), Just(vec![1, 2, 3, 4])];
    let driver =
        prop_oneof![4 => Just(None), 1 => Just(Some("plain-24-96")), 1 => Just(Some("plain-24-300"))];
    (120.0..2900.0, 120.0..1400.0, lights, edges, prop_oneof![Just("dry"), Just("wet")], 1.0..25.0, driver)
        .prop_map(|(width, height, (light, control), edges, place, feed_m, driver)| Wish {
            width: f64::floor(width),
            height: f64::floor(height),
            light,
            control,
            edges,
            place,
            feed_m: f64::floor(feed_m * 10.0) / 10.0,
            driver,
        })
}

fn job(wishes: &[Wish]) -> Snapshot {
    let mut project = Snapshot {
        project: sample("project"),
        swatches: BTreeMap::new(),
        requests: BTreeMap::new(),
        trials: BTreeMap::new(),
        panels: BTreeMap::new(),
        drawings: BTreeMap::new(),
        renderings: BTreeMap::new(),
        files: BTreeMap::new(),
        as_built: None,
        installation: None,
        signoffs: Vec::new(),
        void_signoffs: Vec::new(),
        moves: BTreeMap::new(),
        void_moves: Vec::new(),

        notes: BTreeMap::new(),
        conflicts: BTreeMap::new(),
    };
    for (at, wish) in wishes.iter().enumerate() {
        let id: PanelId = format!("p{at}").parse().unwrap();
        let outline = Outline::rectangle(wish.width, wish.height);
        let cct = if wish.light == "rgb" {
            json!({ "kind": "rgb" })
        } else {
            json!({ "kind": wish.light, "cct_k": 3000 })
        };
        let mut record = json!({
            "$schema": "s", "id": id, "title": "Panel", "swatch": "stone",
            "outline": { "file": "o.json", "sha256": Sha256Digest::of(b"o").hex() },
            "place": wish.place, "faces_considered": ["diffused"], "light": cct, "face": "diffused",
            "lit_edges": wish.edges, "voltage_v": 24, "mount": "tray", "feed_length_m": wish.feed_m,
        });
        for (key, value) in [("control", wish.control), ("driver", wish.driver)] {
            if let Some(value) = value {
                record[key] = json!(value);
            }
        }
        let panel: Panel = serde_json::from_value(record).unwrap();
        let measured = figures(&outline);
        project.drawings.insert(
            id.clone(),
            Ok(Drawing {
                digest: Sha256Digest::of(b"o"),
                outline,
                figures: measured,
                nested: None,
                moved: BTreeMap::new(),
            }),
        );
        project.panels.insert(id, panel);
    }
    project
}

fn holds(shop: &Shop, plan: &JobPlan) {
    let mut outputs: Vec<(usize, usize)> = Vec::new();
    for group in &plan.circuits.groups {
        let driver = shop.drivers.get(&group.driver).unwrap();
        for circuit in &group.circuits {
            assert!(!outputs.contains(&(circuit.driver, circuit.output)), "an output is named twice");
            outputs.push((circuit.driver, circuit.output));
            assert!(circuit.output <= driver.outputs as usize);
            let limit = driver.output_rating_w.0 * shop.drivers.largest_load_share;
            assert!(circuit.watts.0 <= limit + 1e-3, "{} W above {limit} W", circuit.watts.0);
            let leads: f64 = circuit.leads.iter().map(|l| l.watts.0).sum();
            assert!((leads - circuit.watts.0).abs() < 1e-6, "the leads are not the load");
        }
    }
    for (id, panel) in &plan.panels {
        let leads: Vec<_> = plan
            .circuits
            .groups
            .iter()
            .flat_map(|g| &g.circuits)
            .flat_map(|c| &c.leads)
            .filter(|l| l.panel == id.as_str())
            .collect();
        match &panel.power {
            Err(why) => {
                assert!(!why.is_empty(), "panel {id} is not fed and does not say why");
                assert!(leads.is_empty(), "panel {id} is not worked out and still on a circuit");
            }
            Ok(power) => {
                let mut tapes: Vec<usize> = leads.iter().flat_map(|l| l.tapes.iter().copied()).collect();
                tapes.sort_unstable();
                let all: Vec<usize> = (0..power.build.tapes.len()).collect();
                assert_eq!(tapes, all, "panel {id}: each tape on exactly one output");
                let watts: f64 = leads.iter().map(|l| l.watts.0).sum();
                assert!((watts - power.build.watts.0).abs() < 1e-6, "panel {id}: {watts} W fed");
                for lead in &leads {
                    // The common carries the sum of the channels; 2, 3, 4, 5 conductors are common practice.
                    let channels: f64 = lead.conductors.iter().filter(|c| !c.common).map(|c| c.amps.0).sum();
                    let common: f64 = lead.conductors.iter().filter(|c| c.common).map(|c| c.amps.0).sum();
                    assert!((channels - common).abs() < 1e-9);
                    assert_eq!(
                        lead.cable, power.wire,
                        "all leads of a panel are of the cable that it settles"
                    );
                }
            }
        }
    }
    let fed: f64 = plan.panels.values().filter_map(|p| p.power.as_ref().ok()).map(|p| p.build.watts.0).sum();
    let on: f64 = plan.circuits.groups.iter().flat_map(|g| &g.circuits).map(|c| c.watts.0).sum();
    assert!((fed - on).abs() < 1e-6);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn every_watt_is_on_exactly_one_output(wishes in prop::collection::vec(wish(), 1..6)) {
        let shop = shop();
        let mut project = job(&wishes);
        let plan = propose_job(&shop, &project);
        holds(&shop, &plan);
        // Settled as proposed, the same circuits come out.
        for (id, worked) in &plan.panels {
            if let (Ok(power), Some(panel)) = (&worked.power, project.panels.get_mut(id)) {
                panel.tape = Some(power.tape.parse().unwrap());
                panel.driver = Some(power.driver.parse().unwrap());
                panel.wire = Some(power.wire.parse().unwrap());
            }
        }
        let again = propose_job(&shop, &project);
        holds(&shop, &again);
        prop_assert_eq!(plan.bill(), again.bill());
    }
}

/// The amounts of a bill by kind and id.
fn amounts(job: &JobPlan) -> BTreeMap<(String, String), f64> {
    let mut all = BTreeMap::new();
    for line in job.bill() {
        *all.entry((line.what.to_owned(), line.id)).or_insert(0.0) += line.quantity;
    }
    all
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    /// The oracle knows no quantities: each panel of which several are alike is a job of its own, bought so many times.
    #[test]
    fn what_is_alike_is_wired_alone_and_bought_as_often(
        wishes in prop::collection::vec((wish(), prop_oneof![Just(1_u32), 2_u32..90]), 1..6),
    ) {
        let shop = shop();
        let only: Vec<Wish> = wishes.iter().map(|(wish, _)| wish.clone()).collect();
        let mut project = job(&only);
        for (panel, (_, count)) in project.panels.values_mut().zip(&wishes) {
            panel.quantity = Some(*count).filter(|count| *count > 1);
        }
        let plan = propose_job(&shop, &project);
        holds(&shop, &plan);
        let part = |keep: &dyn Fn(&PanelId) -> bool| {
            let mut part = project.clone();
            part.panels.retain(|id, _| keep(id));
            part.drawings.retain(|id, _| keep(id));
            part.panels.values_mut().for_each(|panel| panel.quantity = None);
            amounts(&propose_job(&shop, &part))
        };
        let several = |id: &PanelId| project.panels[id].quantity;
        let mut expected = part(&|id| several(id).is_none());
        for (id, panel) in project.panels.iter().filter(|(_, panel)| panel.quantity.is_some()) {
            for (what, amount) in part(&|other| other == id) {
                *expected.entry(what).or_insert(0.0) += amount * f64::from(panel.quantity.unwrap_or(1));
            }
        }
        let found = amounts(&plan);
        prop_assert_eq!(found.keys().collect::<Vec<_>>(), expected.keys().collect::<Vec<_>>());
        for (what, amount) in &expected {
            prop_assert!((found[what] - amount).abs() < 1e-6 * amount.max(1.0), "{:?}: {} of {}", what, found[what], amount);
        }
        for group in &plan.circuits.groups {
            for circuit in &group.circuits {
                let panels: std::collections::BTreeSet<&str> = plan.circuits.groups.iter().flat_map(|g| &g.circuits)
                    .filter(|c| c.driver == circuit.driver).flat_map(|c| &c.leads).map(|l| l.panel.as_str()).collect();
                let alike = panels.iter().any(|id| several(&id.parse().unwrap()).is_some());
                prop_assert!(!alike || panels.len() == 1, "{:?} share driver {}", panels, circuit.driver);
            }
        }
    }
}

#[test]
fn panels_that_one_dimmer_cannot_lead_are_divided() {
    // 2 × 2.2 m of tape at 14.4 W/m is 63.4 W: each panel takes a 96 W driver of its own, and a dimmer of 150 W
    // must not lead two of those, since it sees their ratings.
    let wide = Wish {
        width: 2200.0,
        height: 900.0,
        light: "static-white",
        control: Some("reverse-wall"),
        edges: vec![1, 3],
        place: "dry",
        feed_m: 5.0,
        driver: None,
    };
    let shop = shop();
    let plan = propose_job(&shop, &job(&[wide.clone(), wide]));
    holds(&shop, &plan);
    assert!(plan.panels.values().all(|p| p.power.is_ok()));
    let dimmers: f64 = plan.circuits.bill.iter().filter(|l| l.what == "dimmer").map(|l| l.quantity).sum();
    assert_eq!(dimmers, 2.0);
}
