//! Cable, drivers and control against published tables and worked examples, each with its source beside it.

use underlit::power::cable_choice::{self, CableAgainst, CableFault, CableNeeds};
use underlit::power::class2::{Class2Standing, limit};
use underlit::power::conductor::Conductor;
use underlit::power::control_choice::{
    ControlFault, ControllerAgainst, ControllerRequirement, DimmedDriver, DimmerAgainst, choose_controller,
    choose_dimmer,
};
use underlit::power::controls::{ControlInput, Controls};
use underlit::power::driver_choice::{DriverFault, Requirement, choose, least_count};
use underlit::power::drivers::Drivers;
use underlit::power::grouping::PanelLoad;
use underlit::power::lights::Lights;
use underlit::power::passed_over::PassedOver;
use underlit::power::shop_fault::PowerShopFault;
use underlit::power::vocabulary::{CommonRail, Dimming, Location, Place, WireTable};
use underlit::power::wire_run::{Leg, Run, WireFault};
use underlit::power::wire_stock::WireStock;
use underlit::units::{Amperes, Metres, Volts, Watts};
use underlit::words::LightKind;

use crate::starter::starter;

fn lights() -> Lights {
    starter("lights")
}

fn drivers() -> Drivers {
    starter("drivers")
}

fn controls() -> Controls {
    starter("controls")
}

fn stock() -> WireStock {
    starter("wire")
}

fn near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "{found} is not {expected} ± {within}");
}

fn plain_drop(table: WireTable, size: &str, conductor_c: f64, amps: f64, length_m: f64) -> f64 {
    let conductor = Conductor::find(table, size).expect("the size is in the table");
    let mut run = Run::plain(Volts(24.0), Amperes(amps), Metres(length_m), table, 3.0);
    run.conductor_c = conductor_c;
    run.judge(conductor).expect("the run makes sense").drop_v.get()
}

fn asked(kind: LightKind, dimming: Dimming) -> Requirement {
    Requirement {
        voltage_v: Volts(24.0),
        kind,
        dimming,
        place: Place::Dry,
        location: Location::Remote,
        mains_v: None,
        class2: false,
        region: None,
        space_mm: None,
    }
}

fn load(panel: &str, tapes: &[f64]) -> PanelLoad {
    PanelLoad { panel: panel.into(), tapes: tapes.iter().map(|w| Watts(*w)).collect() }
}

#[test]
#[allow(clippy::approx_constant, reason = "3.14 is the table's value for 14 AWG")]
fn awg_drops_follow_nec_table_8() {
    // NEC Chapter 9 Table 8, stranded uncoated copper, 75 °C, ohms per 1000 ft. 2·R·I over 1000 ft at 1 A.
    for (size, ohms) in
        [("18 AWG", 7.95), ("16 AWG", 4.99), ("14 AWG", 3.14), ("12 AWG", 1.98), ("10 AWG", 1.24)]
    {
        near(plain_drop(WireTable::Awg, size, 75.0, 1.0, 304.8), 2.0 * ohms, 1e-9);
    }
}

#[test]
fn metric_drops_follow_iec_60228() {
    // IEC 60228 Tables 2 and 3, plain copper, 20 °C, ohms per kilometre.
    let class_2 = [
        ("0.5 mm2", 36.0),
        ("0.75 mm2", 24.5),
        ("1 mm2", 18.1),
        ("1.5 mm2", 12.1),
        ("2.5 mm2", 7.41),
        ("4 mm2", 4.61),
    ];
    let class_5 = [
        ("0.5 mm2", 39.0),
        ("0.75 mm2", 26.0),
        ("1 mm2", 19.5),
        ("1.5 mm2", 13.3),
        ("2.5 mm2", 7.98),
        ("4 mm2", 4.95),
    ];
    for (table, rows) in [(WireTable::Class2, class_2), (WireTable::Class5, class_5)] {
        for (size, ohms) in rows {
            near(plain_drop(table, size, 20.0, 1.0, 1000.0), 2.0 * ohms, 1e-9);
        }
    }
}

#[test]
fn resistance_follows_temperature() {
    // IEC 60028: 0.00393 per kelvin for annealed copper at 20 °C, so ×1.21615 at 75 °C.
    near(plain_drop(WireTable::Class2, "1.5 mm2", 75.0, 1.0, 1000.0), 24.2 * 1.21615, 1e-9);
    // NEC Chapter 9 Table 8 note 2: R2 = R1·(1 + 0.00323·(T2 − 75)), so ×0.83850 at 25 °C.
    near(plain_drop(WireTable::Awg, "16 AWG", 25.0, 1.0, 304.8), 9.98 * 0.8385, 1e-9);
}

#[test]
fn the_two_tables_agree_where_sizes_meet() {
    // 16 AWG is 1.31 mm² (ASTM B258): scaled by area to the same temperature the two tables lie within a few percent.
    let awg = Conductor::find(WireTable::Awg, "16 AWG").expect("in the table").ohm_per_m_at(20.0) * 1.31;
    let metric =
        Conductor::find(WireTable::Class2, "1.5 mm2").expect("in the table").ohm_per_m_at(20.0) * 1.5;
    near(awg / metric, 1.0, 0.05);
}

#[test]
fn class2_limits_follow_nec_table_11b() {
    // NEC Chapter 9 Table 11(B), from memory: to 20 V 5.0 A; over 20 V to 30 V 100/V A.
    for (volts, amps) in [(12.0, 5.0), (20.0, 5.0), (24.0, 100.0 / 24.0), (30.0, 100.0 / 30.0)] {
        near(limit(Volts(volts)).expect("the voltage has a limit").amps.get(), amps, 1e-12);
    }
    assert_eq!(limit(Volts(31.0)), None);
    assert_eq!(limit(Volts(0.0)), None);
    // A 12 V 75 W driver gives 6.25 A: not within 5.0 A, whatever its name says.
    let standing = Class2Standing::of(Volts(12.0), Amperes(75.0 / 12.0), false);
    assert_eq!(standing, Class2Standing::Exceeds);
    assert_eq!(standing.to_string(), "exceeds the Class 2 limit");
    // 24 V at 4.0 A stays below, and at 4.17 A with the highest output at 24.5 V does not.
    assert_eq!(Class2Standing::of(Volts(24.5), Amperes(4.0), false), Class2Standing::DoesNotExceed);
    assert_eq!(Class2Standing::of(Volts(24.5), Amperes(4.167), false), Class2Standing::Exceeds);
    // Arithmetic alone never says that a driver is Class 2.
    for standing in [Class2Standing::Exceeds, Class2Standing::DoesNotExceed, Class2Standing::NoLimitHeld] {
        assert!(!standing.may_be_wired_as_class2() && !standing.to_string().contains("is Class 2"));
    }
    assert_eq!(Class2Standing::of(Volts(12.0), Amperes(6.25), true), Class2Standing::ListedYetExceeds);
    assert!(!Class2Standing::ListedYetExceeds.may_be_wired_as_class2());
}

#[test]
fn a_load_of_exactly_the_usable_share_is_one_driver() {
    // 0.8 × 96 W is 76.8 W, which binary fractions cannot say exactly. Largest load share: common practice, no source.
    assert_eq!(least_count(Watts(76.8), Watts(96.0), 0.8), Ok(1));
    assert_eq!(least_count(Watts(76.81), Watts(96.0), 0.8), Ok(2));
    assert_eq!(least_count(Watts(86.4), Watts(96.0), 0.8), Ok(2));
    let choice =
        choose(&drivers(), &asked(LightKind::StaticWhite, Dimming::Off), &[load("bar", &[38.4, 38.4])])
            .map(|choice| (choice.driver.id.clone(), choice.count, choice.circuits.len()));
    assert_eq!(choice, Ok(("plain-24-96".into(), 1, 1)));
}

#[test]
fn a_run_is_never_cut_to_fill_a_driver() {
    // 3 × 50 W is 150 W, less than 2 × 76.8 W, but no two tapes of 50 W share an output of 76.8 W.
    let mut list = drivers();
    list.drivers.retain(|driver| driver.id == "plain-24-96");
    let loads = [load("a", &[50.0]), load("b", &[50.0]), load("c", &[50.0])];
    let choice =
        choose(&list, &asked(LightKind::StaticWhite, Dimming::Off), &loads).expect("the driver suits");
    assert_eq!(least_count(Watts(150.0), Watts(96.0), 0.8), Ok(2));
    assert_eq!(choice.count, 3);
}

#[test]
fn a_wire_run_as_on_the_command_line() {
    // 24 V, 4 A, 10 m one way, NEC Table 8: 18 AWG 2·10·4·7.95/304.8 = 2.0866 V; 12 AWG 0.5197 V = 2.165 %.
    let run = Run::plain(Volts(24.0), Amperes(4.0), Metres(10.0), WireTable::Awg, 3.0);
    let sizing = run.size(WireTable::Awg).expect("the run makes sense");
    near(sizing.sizes[0].drop_v.get(), 2.086_614, 1e-6);
    let smallest = sizing.smallest().expect("12 AWG is enough");
    assert_eq!(smallest.conductor.size(), "12 AWG");
    near(smallest.drop_pct, 2.165_354, 1e-6);
    // The longest run is the one whose drop is the limit: 0.72 V.
    near(smallest.longest_m.get(), 0.72 / (2.0 * 4.0 * 1.98 / 304.8), 1e-9);
    let mut longest = run.clone();
    longest.legs[0].length_m = smallest.longest_m;
    assert!(longest.judge(smallest.conductor).expect("the run makes sense").within_limit);
    longest.legs[0].length_m.0 += 0.001;
    assert!(!longest.judge(smallest.conductor).expect("the run makes sense").within_limit);
}

#[test]
fn joints_take_their_part() {
    // Two joints of 5 mΩ in each of two conductors at 4 A: 2·2·0.005·4 = 0.08 V.
    let mut run = Run::plain(Volts(24.0), Amperes(4.0), Metres(10.0), WireTable::Awg, 3.0);
    run.legs[0].joints = 2;
    run.joint_mohm = 5.0;
    let row =
        run.judge(Conductor::find(WireTable::Awg, "12 AWG").expect("in the table")).expect("it makes sense");
    near(row.legs[0].joints_v.get(), 0.08, 1e-12);
    near(row.drop_v.get(), 8.0 * 10.0 * 1.98 / 304.8 + 0.08, 1e-9);
    run.joint_mohm = 1000.0;
    let row =
        run.judge(Conductor::find(WireTable::Awg, "12 AWG").expect("in the table")).expect("it makes sense");
    assert_eq!(row.longest_m, Metres(0.0), "joints that use up the limit leave no length");
}

#[test]
fn channels_return_through_one_common() {
    // Four channels of 1 A: the common carries 4 A, so the worst channel's loop drops (1 + 4)·R·L.
    let leg = Leg { length_m: Metres(10.0), channel_a: vec![Amperes(1.0); 4], joints: 0 };
    assert_eq!(leg.conductors(), 5);
    let mut run = Run::plain(Volts(24.0), Amperes(1.0), Metres(10.0), WireTable::Awg, 3.0);
    run.legs = vec![leg];
    let row =
        run.judge(Conductor::find(WireTable::Awg, "18 AWG").expect("in the table")).expect("it makes sense");
    near(row.drop_v.get(), 5.0 * 10.0 * 7.95 / 304.8, 1e-9);
}

#[test]
fn runs_that_make_no_sense_are_refused() {
    let good = Run::plain(Volts(24.0), Amperes(4.0), Metres(10.0), WireTable::Awg, 3.0);
    type Spoil = fn(&mut Run);
    let spoiled: [(&str, Spoil); 8] = [
        ("wire-not-positive", |r| r.nominal_v.0 = 0.0),
        ("wire-not-positive", |r| r.legs[0].length_m.0 = -1.0),
        ("wire-not-positive", |r| r.legs[0].channel_a[0].0 = f64::NAN),
        ("wire-not-positive", |r| r.largest_drop_pct = 0.0),
        ("wire-not-positive", |r| r.joint_mohm = -1.0),
        ("wire-empty-run", |r| r.legs.clear()),
        ("wire-empty-run", |r| r.legs[0].channel_a.clear()),
        ("wire-temperature", |r| r.conductor_c = 300.0),
    ];
    for (code, spoil) in spoiled {
        let mut run = good.clone();
        spoil(&mut run);
        assert_eq!(run.size(WireTable::Awg).map_err(|f| f.code()), Err(code));
    }
}

#[test]
fn the_stock_gives_the_smallest_cable_that_suits_in_every_way() {
    let run = Run::plain(Volts(24.0), Amperes(4.0), Metres(5.0), WireTable::Awg, 3.0);
    let stock = stock();
    // 2·5·4·7.95/304.8 is 4.35 % in 18 AWG, 2·5·4·4.99/304.8 is 2.73 % in 16 AWG.
    let choice = cable_choice::choose(&stock, &run, &CableNeeds::marking(true)).expect("the stock has it");
    assert_eq!((choice.cables[0].id.as_str(), choice.size.conductor.size()), ("16-2", "16 AWG"));
    assert!(choice.passed_over.iter().all(|(_, reasons)| matches!(reasons[..], [CableAgainst::Drop { .. }])));
    // A short run would do in 18 AWG by its drop, but the supplier allows it 5 A only.
    let short = Run::plain(Volts(24.0), Amperes(7.0), Metres(0.5), WireTable::Awg, 3.0);
    let choice = cable_choice::choose(&stock, &short, &CableNeeds::marking(false)).expect("the stock has it");
    assert_eq!(choice.size.conductor.size(), "16 AWG");
    assert_eq!(
        choice.passed_over,
        [(
            "18 AWG".to_owned(),
            vec![CableAgainst::Current { conductor_a: Amperes(7.0), allowed_a: Amperes(5.0) }]
        )]
    );
    // Far too long: the answer says how far the thickest reaches.
    let long = Run::plain(Volts(24.0), Amperes(4.0), Metres(60.0), WireTable::Awg, 3.0);
    let fault =
        cable_choice::choose(&stock, &long, &CableNeeds::marking(false)).expect_err("nothing reaches 60 m");
    assert_eq!(fault.code(), "wire-none-fits");
    assert!(
        fault.to_string().contains(
            "nearest is 10 AWG: it drops 8.14 % with the tape, the limit is 3 %; it reaches 22.12 m (72.58 ft)"
        ),
        "{fault}"
    );
    let senseless = Run::plain(Volts(0.0), Amperes(4.0), Metres(60.0), WireTable::Awg, 3.0);
    assert!(matches!(
        cable_choice::choose(&stock, &senseless, &CableNeeds::marking(false)),
        Err(CableFault::Run(WireFault::NotPositive { .. }))
    ));
}

#[test]
fn every_other_driver_is_passed_over_with_its_reason() {
    let mut ask = asked(LightKind::StaticWhite, Dimming::ReversePhase);
    ask.location = Location::InWallBox;
    ask.mains_v = Some(Volts(120.0));
    ask.class2 = true;
    let list = drivers();
    let choice = choose(&list, &ask, &[load("bar", &[36.0])]).expect("a driver suits");
    assert_eq!(choice.driver.id, "phase-24-60");
    assert_eq!(choice.class2, Class2Standing::Listed);
    assert_eq!(choice.passed_over.len() + 1, list.drivers.len());
    assert!(choice.passed_over.iter().all(|(_, reasons)| !reasons.is_empty()));
    let against = |id: &str| -> Vec<&str> {
        let found = choice.passed_over.iter().find(|(driver, _)| driver.id == id);
        found.map(|(_, reasons)| reasons.iter().map(PassedOver::code).collect()).unwrap_or_default()
    };
    assert_eq!(against("plain-24-60"), ["dimming"]);
    assert_eq!(against("phase-24-96"), ["more-rating"]);
    assert_eq!(against("plain-24-300"), ["dimming", "location", "class2"]);
    assert_eq!(against("plain-12-60"), ["voltage", "dimming", "class2"]);
}

#[test]
fn no_driver_that_fits_says_what_the_nearest_lacks() {
    let mut ask = asked(LightKind::Rgbw, Dimming::LowVoltage);
    ask.place = Place::Wet;
    ask.class2 = true;
    let list = drivers();
    let fault = choose(&list, &ask, &[load("niche", &[80.0])])
        .expect_err("one tape is above every wet Class 2 output");
    assert_eq!(fault.code(), "driver-none-fits");
    assert!(
        fault.remedy().contains(
            "`plain-24-96-sealed`: one tape of panel `niche` takes 80 W; its output may carry 76.8 W"
        ),
        "{}",
        fault.remedy()
    );
    // Colour-changing light dims at its control system: common practice, no source.
    let fault = choose(&list, &asked(LightKind::Rgb, Dimming::ForwardPhase), &[load("a", &[10.0])]);
    assert!(matches!(fault, Err(DriverFault::ColourDimmedAtDriver { .. })));
    let fault =
        choose(&list, &asked(LightKind::StaticWhite, Dimming::Off), &[]).expect_err("nothing to feed");
    assert_eq!(fault.code(), "grouping-no-load");
    let fault = choose(&list, &asked(LightKind::StaticWhite, Dimming::Off), &[load("a", &[f64::NAN])]);
    assert_eq!(fault.map_err(|f| f.code()).err(), Some("grouping-load-not-positive"));
}

#[test]
fn a_driver_below_its_least_load_is_passed_over() {
    let mut list = drivers();
    list.drivers.retain(|driver| driver.id == "phase-24-96");
    let fault = choose(&list, &asked(LightKind::StaticWhite, Dimming::ReversePhase), &[load("a", &[5.0])])
        .expect_err("5 W is below 9.6 W");
    assert!(fault.remedy().contains("5 W, below its least load of 9.6 W"), "{}", fault.remedy());
}

fn circuit(kind: LightKind, channel_a: &[f64]) -> ControllerRequirement {
    ControllerRequirement {
        kind,
        voltage_v: Volts(24.0),
        common_rail: CommonRail::Positive,
        channel_a: channel_a.iter().map(|a| Amperes(*a)).collect(),
        place: Place::Dry,
        input: None,
    }
}

#[test]
fn a_controller_has_channels_and_amperes_enough() {
    let controls = controls();
    let choice =
        choose_controller(&controls, &circuit(LightKind::Rgbw, &[1.0, 1.0, 1.0, 1.0])).expect("one suits");
    assert_eq!(choice.controller.id, "colour-wall");
    assert_eq!(
        choice.passed_over[0].1,
        [ControllerAgainst::Kind(LightKind::Rgbw), ControllerAgainst::Channels { has: 2, needed: 4 }]
    );
    let strong = choose_controller(&controls, &circuit(LightKind::Rgb, &[5.0, 5.0, 5.0])).expect("one suits");
    assert_eq!(strong.controller.id, "colour-desk");
    assert_eq!(strong.passed_over[1].1.len(), 2, "channel and total current both stand against it");
    let mut wall = circuit(LightKind::Rgb, &[5.0, 5.0, 5.0]);
    wall.input = Some(ControlInput::WallPanel);
    let fault = choose_controller(&controls, &wall).expect_err("none has a wall panel and the amperes");
    assert!(
        fault.remedy().contains("nearest is `colour-desk`: it cannot be reached by wall-panel"),
        "{}",
        fault.remedy()
    );
    assert_eq!(
        choose_controller(&controls, &circuit(LightKind::StaticWhite, &[1.0])),
        Err(ControlFault::NoControllerNeeded)
    );
}

#[test]
fn a_dimmer_suits_its_drivers() {
    let (controls, drivers) = (controls(), drivers());
    let driver = drivers.get("phase-24-60").expect("the starter has it");
    let one = DimmedDriver { driver, load: Watts(36.0) };
    let choice =
        choose_dimmer(&controls, Dimming::ReversePhase, &[vec![one, one]], Place::Dry).expect("one suits");
    assert_eq!((choice.dimmer.id.as_str(), choice.untried.len()), ("reverse-wall", 0));
    let choice =
        choose_dimmer(&controls, Dimming::ForwardPhase, &[vec![one]], Place::Dry).expect("one suits");
    assert_eq!(choice.untried, ["phase-24-60"], "the record says that the two were not tried together");
    // Three of 60 W are 180 W on the mains side, above the 150 W of the dimmer.
    let fault =
        choose_dimmer(&controls, Dimming::ReversePhase, &[vec![one; 3]], Place::Dry).expect_err("too much");
    assert!(fault.remedy().contains("180 W is above its largest load of 150 W"), "{}", fault.remedy());
    let plain =
        DimmedDriver { driver: drivers.get("plain-24-60").expect("the starter has it"), load: Watts(36.0) };
    let against = underlit::power::control_choice::against_dimmer(
        &controls.dimmers[0],
        Dimming::ReversePhase,
        &[plain],
        Place::Wet,
    );
    assert!(matches!(against[..], [DimmerAgainst::Driver { .. }, DimmerAgainst::Place(Place::Dry)]));
}

#[test]
fn holes_in_the_shops_records_are_found_with_their_place() {
    let mut lights = lights();
    lights.lights[1].id = lights.lights[0].id.clone();
    lights.lights[2].cct_range_k = None;
    lights.lights[3].channels.pop();
    lights.lights[0].largest_run_both_ends_m = Some(Metres(1.0));
    let found: Vec<_> = lights.faults().iter().map(|f| (f.code(), f.pointer().to_owned())).collect();
    let expected = [
        ("shop-duplicate-id", "/lights/1/id"),
        ("light-both-ends-shorter", "/lights/0/largest_run_both_ends_m"),
        ("light-no-cct", "/lights/2/cct_range_k"),
        ("light-channel-count", "/lights/3/channels"),
    ];
    assert_eq!(found, expected.map(|(code, pointer)| (code, pointer.to_owned())));
    let mut drivers = drivers();
    drivers.drivers[0].highest_output_v = Volts(23.0);
    drivers.drivers[1].output_rating_w = Watts(200.0);
    drivers.drivers[2].mains_most_v = Volts(90.0);
    let codes: Vec<_> = drivers.faults().iter().map(PowerShopFault::code).collect();
    assert_eq!(codes, ["driver-highest-below-nominal", "driver-output-above-driver", "driver-mains-range"]);
    let mut controls = controls();
    controls.controllers[0].kinds.push(LightKind::Rgb);
    controls.dimmers[0].least_load_w = Watts(1000.0);
    let codes: Vec<_> = controls.faults().iter().map(PowerShopFault::code).collect();
    assert_eq!(codes, ["controller-too-few-channels", "dimmer-load-range"]);
    let mut stock = stock();
    stock.cables[0].size = "17 AWG".into();
    assert_eq!(stock.faults()[0].remedy(), "write one of 18 AWG, 16 AWG, 14 AWG, 12 AWG, 10 AWG");
}

#[test]
fn the_starter_drivers_say_of_class2_what_their_figures_allow() {
    for driver in &drivers().drivers {
        let standing = Class2Standing::of_driver(driver);
        assert_ne!(standing, Class2Standing::ListedYetExceeds, "{}", driver.id);
    }
}
