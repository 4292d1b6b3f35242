//! What must hold for any load: thinner never serves more, splitting never hurts, every watt is fed once, and
//! no grouping takes more drivers than the best one found by trying them all.

use proptest::prelude::*;
use underlit::power::conductor::Conductor;
use underlit::power::division::divide;
use underlit::power::driver_choice::{Requirement, choose};
use underlit::power::drivers::{Driver, Drivers};
use underlit::power::grouping::{Capacity, Grouping, GroupingFault, PanelLoad, group};
use underlit::power::vocabulary::{Dimming, Location, Place, WireTable};
use underlit::power::wire_run::{Leg, Run};
use underlit::units::{Amperes, Metres, Volts, Watts};
use underlit::words::LightKind;

fn tables() -> impl Strategy<Value = WireTable> {
    prop_oneof![Just(WireTable::Awg), Just(WireTable::Class2), Just(WireTable::Class5)]
}

fn legs() -> impl Strategy<Value = Vec<Leg>> {
    let leg = (0.1..30.0_f64, proptest::collection::vec(0.05..5.0_f64, 1..5), 0..4_u32).prop_map(
        |(length, amps, joints)| Leg {
            length_m: Metres(length),
            channel_a: amps.into_iter().map(Amperes).collect(),
            joints,
        },
    );
    proptest::collection::vec(leg, 1..4)
}

fn runs() -> impl Strategy<Value = Run> {
    (prop_oneof![Just(12.0), Just(24.0)], legs(), -20.0..90.0_f64, 0.0..20.0_f64, 0.5..10.0_f64).prop_map(
        |(volts, legs, conductor_c, joint_mohm, largest_drop_pct)| Run {
            tapes: Vec::new(),
            nominal_v: Volts(volts),
            legs,
            conductor_c,
            joint_mohm,
            largest_drop_pct,
        },
    )
}

/// Position of the smallest size in its table; past the end where none is enough.
fn thickness(run: &Run, table: WireTable) -> usize {
    let sizing = run.size(table).expect("the run makes sense");
    sizing.sizes.iter().position(|row| row.within_limit).unwrap_or(sizing.sizes.len())
}

proptest! {
    #[test]
    fn more_load_or_length_never_gives_a_thinner_wire(run in runs(), table in tables(), more in 1.0..3.0_f64) {
        let mut heavier = run.clone();
        heavier.legs.iter_mut().flat_map(|leg| &mut leg.channel_a).for_each(|a| a.0 *= more);
        let mut longer = run.clone();
        longer.legs.iter_mut().for_each(|leg| leg.length_m.0 *= more);
        prop_assert!(thickness(&heavier, table) >= thickness(&run, table));
        prop_assert!(thickness(&longer, table) >= thickness(&run, table));
    }

    #[test]
    fn a_thicker_wire_never_drops_more(run in runs(), table in tables()) {
        let sizing = run.size(table).expect("the run makes sense");
        for pair in sizing.sizes.windows(2) {
            prop_assert!(pair[1].drop_v < pair[0].drop_v);
            prop_assert!(pair[1].longest_m >= pair[0].longest_m);
        }
    }

    #[test]
    fn splitting_a_circuit_never_raises_a_drop(run in runs(), table in tables(), share in 0.0..1.0_f64) {
        let conductor = Conductor::all(table).next().expect("a table has sizes");
        let whole = run.judge(conductor).expect("the run makes sense").drop_v;
        for part in [share.max(0.01), (1.0 - share).max(0.01)] {
            let mut half = run.clone();
            half.legs.iter_mut().flat_map(|leg| &mut leg.channel_a).for_each(|a| a.0 *= part);
            prop_assert!(half.judge(conductor).expect("the run makes sense").drop_v.get() <= whole.get() * (1.0 + 1e-12));
        }
    }

    #[test]
    fn within_the_limit_and_not_longer_than_the_longest_are_the_same(run in runs(), table in tables()) {
        for row in run.size(table).expect("the run makes sense").sizes {
            let length = run.length_m().get();
            prop_assume!((row.longest_m.get() - length).abs() > 1e-6 * length);
            prop_assert_eq!(row.within_limit, length <= row.longest_m.get());
        }
    }
}

fn loads() -> impl Strategy<Value = Vec<PanelLoad>> {
    let panel = proptest::collection::vec(1..=70_u32, 1..4);
    proptest::collection::vec(panel, 1..5).prop_map(|panels| {
        let panel = |(number, tapes): (usize, Vec<u32>)| PanelLoad {
            panel: format!("panel-{number}"),
            tapes: tapes.into_iter().map(|w| Watts(f64::from(w))).collect(),
        };
        panels.into_iter().enumerate().map(panel).collect()
    })
}

fn capacities() -> impl Strategy<Value = Capacity> {
    (1..=3_u32, 0.5..=1.0_f64).prop_map(|(outputs, share)| Capacity {
        outputs,
        output_w: Watts(76.8),
        driver_w: Watts((76.8 * f64::from(outputs) * share).max(76.8)),
    })
}

/// Every way to lay the tapes on outputs, tried out: the least drivers and, with those, the least extra outputs.
fn best_of_all(loads: &[PanelLoad], capacity: Capacity) -> (usize, usize) {
    struct Try<'a> {
        tapes: Vec<(usize, f64)>,
        loads: &'a [PanelLoad],
        capacity: Capacity,
        best: (usize, usize),
    }
    impl Try<'_> {
        fn go(&mut self, next: usize, outputs: &mut Vec<Vec<usize>>) {
            let each = self.capacity.outputs as usize;
            if next == self.tapes.len() {
                let extra = (0..self.loads.len())
                    .map(|panel| {
                        let feeding =
                            outputs.iter().filter(|on| on.iter().any(|t| self.tapes[*t].0 == panel));
                        feeding.count() - 1
                    })
                    .sum();
                self.best = self.best.min((outputs.len() / each, extra));
                return;
            }
            for at in 0..outputs.len() + 1 {
                let new = at == outputs.len();
                if new {
                    outputs.extend(std::iter::repeat_n(Vec::new(), each));
                }
                outputs[at].push(next);
                let sum = |on: &[usize]| on.iter().map(|t| self.tapes[*t].1).sum::<f64>();
                let driver = at / each * each;
                let of_driver: f64 = outputs[driver..driver + each].iter().map(|on| sum(on)).sum();
                if sum(&outputs[at]) <= self.capacity.output_w.get() + 1e-6
                    && of_driver <= self.capacity.driver_w.get() + 1e-6
                    && outputs.len() / each <= self.best.0
                {
                    self.go(next + 1, outputs);
                }
                outputs[at].pop();
                if new {
                    outputs.truncate(at);
                }
            }
        }
    }
    let tapes: Vec<(usize, f64)> = loads
        .iter()
        .enumerate()
        .flat_map(|(panel, load)| load.tapes.iter().map(move |w| (panel, w.get())))
        .collect();
    let mut all = Try { best: (tapes.len(), usize::MAX), tapes, loads, capacity };
    all.go(0, &mut Vec::new());
    all.best
}

fn holds(grouping: &Grouping, loads: &[PanelLoad], capacity: Capacity) -> Result<(), TestCaseError> {
    let wanted: Vec<(usize, usize)> =
        loads.iter().enumerate().flat_map(|(p, load)| (0..load.tapes.len()).map(move |t| (p, t))).collect();
    let placed: Vec<(usize, usize)> = grouping.placements.iter().map(|p| (p.panel, p.tape)).collect();
    prop_assert_eq!(placed, wanted, "every tape is on exactly one output");
    for driver in 0..grouping.drivers {
        let on_driver = grouping.placements.iter().filter(|p| p.driver == driver);
        let watts = |p: &underlit::power::grouping::Placement| loads[p.panel].tapes[p.tape].get();
        let total: f64 = on_driver.clone().map(watts).sum();
        prop_assert!(total > 0.0 && total <= capacity.driver_w.get() + 1e-3);
        for output in 0..capacity.outputs as usize {
            let on_output: f64 = on_driver.clone().filter(|p| p.output == output).map(watts).sum();
            prop_assert!(on_output <= capacity.output_w.get() + 1e-3);
        }
    }
    prop_assert!(
        grouping
            .placements
            .iter()
            .all(|p| p.driver < grouping.drivers && p.output < capacity.outputs as usize)
    );
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn grouping_takes_as_few_as_trying_them_all(loads in loads(), capacity in capacities()) {
        prop_assume!(loads.iter().map(|load| load.tapes.len()).sum::<usize>() <= 7);
        let grouping = group(&loads, capacity).expect("every tape is below an output's watts");
        holds(&grouping, &loads, capacity)?;
        prop_assert!(grouping.proven_least);
        prop_assert_eq!((grouping.drivers, grouping.extra_outputs), best_of_all(&loads, capacity));
    }

}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    #[test]
    fn every_watt_of_many_panels_is_on_exactly_one_output(
        panels in proptest::collection::vec(proptest::collection::vec(0.1..76.8_f64, 1..6), 1..30),
        capacity in capacities(),
    ) {
        let loads: Vec<PanelLoad> = panels
            .into_iter()
            .enumerate()
            .map(|(n, tapes)| PanelLoad { panel: n.to_string(), tapes: tapes.into_iter().map(Watts).collect() })
            .collect();
        let grouping = group(&loads, capacity).expect("every tape is below an output's watts");
        holds(&grouping, &loads, capacity)?;
        prop_assert_eq!(&grouping, &group(&loads, capacity).expect("as before"), "the same loads give the same grouping");
    }
}

fn shops_drivers(models: &[(f64, u32, f64)]) -> Drivers {
    let (_, text) = underlit::store::starter::FILES
        .iter()
        .find(|(name, _)| *name == "shop/drivers.json")
        .expect("the starter has drivers");
    let starter: Drivers = serde_json::from_str(text).expect("the starter's drivers are a list");
    let plain = starter.get("plain-24-60").expect("the starter has it").clone();
    let drivers = models
        .iter()
        .enumerate()
        .map(|(n, (output, outputs, least))| Driver {
            id: format!("model-{n}"),
            output_rating_w: Watts(*output),
            outputs: *outputs,
            rating_w: Watts(output * f64::from(*outputs)),
            least_load_w: Watts(*least),
            // All alike: what is listed goes before what is not.
            listed_class2: false,
            ..plain.clone()
        })
        .collect();
    Drivers { largest_load_share: 1.0, drivers, ..starter }
}

fn plain_24() -> Requirement {
    Requirement {
        voltage_v: Volts(24.0),
        kind: LightKind::StaticWhite,
        dimming: Dimming::Off,
        place: Place::Dry,
        location: Location::Remote,
        mains_v: None,
        class2: false,
        region: None,
        space_mm: None,
    }
}

fn lot(loads: &[PanelLoad], panels: &[usize]) -> Vec<PanelLoad> {
    panels.iter().map(|panel| loads[*panel].clone()).collect()
}

/// Drivers, extra outputs and rating of a division, lot by lot; every panel must be in exactly one.
fn cost_of(drivers: &Drivers, loads: &[PanelLoad], lots: &[Vec<usize>]) -> (usize, usize, f64) {
    let mut panels: Vec<usize> = lots.iter().flatten().copied().collect();
    panels.sort_unstable();
    assert_eq!(panels, (0..loads.len()).collect::<Vec<_>>(), "each panel is in one lot");
    lots.iter().fold((0, 0, 0.0), |(count, extra, rating), panels| {
        let own = lot(loads, panels);
        let choice = choose(drivers, &plain_24(), &own).expect("a model serves the lot");
        let circuits: usize = (0..own.len())
            .map(|panel| {
                choice.circuits.iter().filter(|c| c.tapes.iter().any(|(p, _)| *p == panel)).count() - 1
            })
            .sum();
        (count + choice.count, extra + circuits, rating + choice.driver.rating_w.0 * choice.count as f64)
    })
}

/// Every way to give each panel one model, tried out, each model's panels packed by trying all.
fn best_division(drivers: &Drivers, loads: &[PanelLoad]) -> Option<(usize, usize, f64)> {
    let models = drivers.drivers.len();
    (0..models.pow(loads.len() as u32))
        .filter_map(|code| {
            let model_of = |panel: usize| code / models.pow(panel as u32) % models;
            let mut sum = (0, 0, 0.0);
            for (n, driver) in drivers.drivers.iter().enumerate() {
                let panels: Vec<usize> = (0..loads.len()).filter(|panel| model_of(*panel) == n).collect();
                if panels.is_empty() {
                    continue;
                }
                let own = lot(loads, &panels);
                if own.iter().flat_map(|load| &load.tapes).any(|w| *w > driver.output_rating_w) {
                    return None;
                }
                let capacity = Capacity {
                    outputs: driver.outputs,
                    output_w: driver.output_rating_w,
                    driver_w: driver.rating_w,
                };
                let (count, extra) = best_of_all(&own, capacity);
                sum = (sum.0 + count, sum.1 + extra, sum.2 + driver.rating_w.0 * count as f64);
            }
            Some(sum)
        })
        .min_by(|a, b| (a.0, a.1).cmp(&(b.0, b.1)).then(a.2.total_cmp(&b.2)))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_division_among_models_takes_no_more_than_trying_them_all(
        loads in loads(),
        models in proptest::collection::vec((20.0..100.0_f64, 1..=2_u32), 2..4),
    ) {
        prop_assume!(loads.iter().map(|load| load.tapes.len()).sum::<usize>() <= 6);
        let models: Vec<(f64, u32, f64)> = models.into_iter().map(|(w, n)| (w.floor(), n, 0.0)).collect();
        let drivers = shops_drivers(&models);
        let lots = divide(&drivers, &plain_24(), &loads);
        match best_division(&drivers, &loads) {
            None => prop_assert_eq!(lots.len(), 1, "what nothing feeds stays together, for the choice to say why"),
            Some(best) => {
                let cost = cost_of(&drivers, &loads, &lots);
                prop_assert_eq!((cost.0, cost.1), (best.0, best.1));
                prop_assert!((cost.2 - best.2).abs() < 1e-6, "{cost:?} is not {best:?}");
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 8, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_division_of_many_panels_is_never_worse_than_one_model(
        panels in proptest::collection::vec(proptest::collection::vec(1.0..60.0_f64, 1..3), 7..11),
    ) {
        let loads: Vec<PanelLoad> = panels
            .into_iter()
            .enumerate()
            .map(|(n, tapes)| PanelLoad { panel: n.to_string(), tapes: tapes.into_iter().map(Watts).collect() })
            .collect();
        let drivers = shops_drivers(&[(60.0, 1, 0.0), (96.0, 1, 0.0), (150.0, 2, 0.0)]);
        let lots = divide(&drivers, &plain_24(), &loads);
        let one = cost_of(&drivers, &loads, &[(0..loads.len()).collect()]);
        let cost = cost_of(&drivers, &loads, &lots);
        prop_assert!((cost.0, cost.1) <= (one.0, one.1), "{cost:?} is above {one:?}");
        prop_assert!((cost.0, cost.1) < (one.0, one.1) || cost.2 <= one.2 + 1e-6, "{cost:?} is above {one:?}");
    }
}

#[test]
fn a_smaller_model_takes_what_it_can() {
    let loads: Vec<PanelLoad> = [90.0, 90.0, 40.0]
        .iter()
        .enumerate()
        .map(|(n, w)| PanelLoad { panel: n.to_string(), tapes: vec![Watts(*w)] })
        .collect();
    // One model takes 3 × 96 W; the last panel does with 60 W.
    let drivers = shops_drivers(&[(60.0, 1, 0.0), (96.0, 1, 0.0)]);
    let lots = divide(&drivers, &plain_24(), &loads);
    assert_eq!(lots, [vec![0, 1], vec![2]]);
    assert_eq!(cost_of(&drivers, &loads, &lots), (3, 0, 252.0));
}

#[test]
fn panels_that_no_one_model_serves_are_divided_and_not_refused() {
    // The large driver does not start below 50 W, the small one carries 24 W.
    let drivers = shops_drivers(&[(76.0, 1, 50.0), (24.0, 1, 0.0)]);
    for many in [1, 4] {
        let loads: Vec<PanelLoad> = [70.0, 10.0]
            .iter()
            .cycle()
            .take(2 * many)
            .enumerate()
            .map(|(n, w)| PanelLoad { panel: n.to_string(), tapes: vec![Watts(*w)] })
            .collect();
        assert!(choose(&drivers, &plain_24(), &loads).is_err(), "no one model serves them");
        let lots = divide(&drivers, &plain_24(), &loads);
        let (heavy, light): (Vec<usize>, Vec<usize>) = (0..loads.len()).partition(|panel| panel % 2 == 0);
        assert_eq!(lots, [heavy, light]);
        // Two panels of 10 W share a driver of 24 W.
        assert_eq!(cost_of(&drivers, &loads, &lots).0, many + many.div_ceil(2));
    }
}

#[test]
fn best_fit_alone_would_take_one_driver_too_many_here() {
    // Best fit by falling load: 44+8+6, 24+24+8, 22+21+17, and the last 6 goes nowhere but on a fourth.
    let loads: Vec<PanelLoad> = [44.0, 24.0, 24.0, 22.0, 21.0, 17.0, 8.0, 8.0, 6.0, 6.0]
        .iter()
        .enumerate()
        .map(|(n, w)| PanelLoad { panel: n.to_string(), tapes: vec![Watts(*w)] })
        .collect();
    let capacity = Capacity { outputs: 1, output_w: Watts(60.0), driver_w: Watts(60.0) };
    let grouping = group(&loads, capacity).expect("every tape is below 60 W");
    // 180 W in all: 44+8+8, 24+24+6+6, 22+21+17.
    assert_eq!((grouping.drivers, grouping.proven_least), (3, true));
}

#[test]
fn loads_that_cannot_be_grouped_are_refused() {
    let capacity = Capacity { outputs: 1, output_w: Watts(60.0), driver_w: Watts(60.0) };
    let one = |watts| [PanelLoad { panel: "a".into(), tapes: vec![Watts(watts)] }];
    assert_eq!(group(&[], capacity), Err(GroupingFault::NoLoad));
    for watts in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(group(&one(watts), capacity), Err(GroupingFault::NotPositive { panel: "a".into() }));
    }
    assert!(matches!(group(&one(60.1), capacity), Err(GroupingFault::TapeAboveOutput { .. })));
    assert!(group(&one(60.0), capacity).is_ok());
}

#[test]
fn many_small_roundings_do_not_add_up_to_an_overload() {
    // 20 × 1.000 49 W is 20.0098 W. Rounded to the milliwatt each, they would pass for 20 W.
    let loads: Vec<PanelLoad> =
        (0..20).map(|n| PanelLoad { panel: n.to_string(), tapes: vec![Watts(1.000_49)] }).collect();
    let capacity = |watts| Capacity { outputs: 1, output_w: Watts(watts), driver_w: Watts(watts) };
    assert_eq!(group(&loads, capacity(20.0)).map(|g| g.drivers), Ok(2));
    assert_eq!(group(&loads, capacity(20.0098)).map(|g| g.drivers), Ok(1), "exactly the usable watts fit");
}
