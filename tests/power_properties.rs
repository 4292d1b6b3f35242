//! What must hold for any load: thinner never serves more, splitting never hurts, every watt is fed once, and
//! no grouping takes more drivers than the best one found by trying them all.

use proptest::prelude::*;
use underlit::power::conductor::Conductor;
use underlit::power::grouping::{Capacity, Grouping, GroupingFault, PanelLoad, group};
use underlit::power::vocabulary::WireTable;
use underlit::power::wire_run::{Leg, Run};
use underlit::units::{Amperes, Metres, Volts, Watts};

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
