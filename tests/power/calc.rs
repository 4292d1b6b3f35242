//! `calc wire`, `calc driver` and `calc dates` as a person and as a program runs them.

use std::process::{Command, Output};

use serde_json::{Value, json};

use crate::answers;

fn underlit(arguments: &[&str]) -> Output {
    let output = Command::new(env!("CARGO_BIN_EXE_underlit"))
        .env_clear()
        .args(arguments)
        .output()
        .expect("the binary that this test was built with starts");
    answers::hold(arguments, text(&output.stdout));
    output
}

fn text(bytes: &[u8]) -> &str {
    std::str::from_utf8(bytes).expect("underlit writes UTF-8")
}

fn answer(arguments: &[&str]) -> Value {
    let output = underlit(arguments);
    assert_eq!((output.status.code(), text(&output.stderr)), (Some(0), ""), "{arguments:?}");
    serde_json::from_slice(&output.stdout).expect("the answer is JSON")
}

#[test]
fn wire_for_people() {
    let output = underlit(&["calc", "wire", "--volts", "24", "--amps", "4", "--length-m", "10"]);
    assert_eq!((output.status.code(), text(&output.stderr)), (Some(0), ""));
    // 2·10·4·R of NEC Chapter 9 Table 8; the longest is where the drop is 0.72 V; amperes of NEC 240.4(D).
    assert_eq!(
        text(&output.stdout),
        "    18 AWG     2.087 V    8.69 %  above   carries 7 A        reaches 3.45 m (11.32 ft)\n\
        \x20   16 AWG     1.310 V    5.46 %  above   carries 10 A       reaches 5.5 m (18.04 ft)\n\
        \x20   14 AWG     0.824 V    3.43 %  above   carries 15 A       reaches 8.74 m (28.66 ft)\n\
         use 12 AWG     0.520 V    2.17 %  within  carries 20 A       reaches 13.85 m (45.45 ft)\n\
        \x20   10 AWG     0.325 V    1.36 %  within  carries 30 A       reaches 22.12 m (72.58 ft)\n\
        \x20   ampacity by NEC 240.4(D), small copper conductors (seen in a public table); grouping, heat and the local code may ask for less\n"
    );
}

/// The sizes of each table with what they may carry: NEC 240.4(D); flexible cords as published, and IEC 60364-5-52 A1.
const CARRIES: [(&str, &[(&str, f64)]); 3] = [
    ("awg", &[("18 AWG", 7.0), ("16 AWG", 10.0), ("14 AWG", 15.0), ("12 AWG", 20.0), ("10 AWG", 30.0)]),
    (
        "mm2-class-2",
        &[
            ("0.5 mm2", 3.0),
            ("0.75 mm2", 6.0),
            ("1 mm2", 10.0),
            ("1.5 mm2", 14.5),
            ("2.5 mm2", 19.5),
            ("4 mm2", 25.0),
        ],
    ),
    (
        "mm2-class-5",
        &[
            ("0.5 mm2", 3.0),
            ("0.75 mm2", 6.0),
            ("1 mm2", 10.0),
            ("1.5 mm2", 15.0),
            ("2.5 mm2", 20.0),
            ("4 mm2", 25.0),
        ],
    ),
];

#[test]
fn no_size_is_named_that_may_not_carry_the_current() {
    for (table, sizes) in CARRIES {
        let ask = |amps: f64| {
            let amps = amps.to_string();
            answer(&[
                "calc",
                "wire",
                "--volts",
                "24",
                "--amps",
                &amps,
                "--length-m",
                "0.01",
                "--table",
                table,
                "--json",
            ])
        };
        // So short that the drop is nothing: exactly what a size carries names it, a hair more the next.
        for (at, (size, carries)) in sizes.iter().enumerate() {
            assert_eq!(ask(*carries)["use"], *size, "{table} at {carries} A");
            let next = ask(carries + 0.001);
            match sizes.get(at + 1) {
                Some((thicker, _)) => assert_eq!(next["use"], *thicker, "{table} just above {carries} A"),
                None => {
                    assert_eq!(next["use"], Value::Null);
                    assert!(next["why_none"].as_str().is_some_and(|why| why.contains("may carry")), "{next}");
                }
            }
        }
        for row in ask(40.0)["sizes"].as_array().expect("a list") {
            assert_eq!((&row["carries"], &row["within_limit"]), (&json!(false), &json!(true)), "{row}");
            assert!(row["ampacity_basis"].as_str().is_some_and(|basis| basis.len() > 20), "{row}");
        }
    }
}

#[test]
fn wire_for_programs() {
    let wire = answer(&["calc", "wire", "--volts", "24", "--amps", "4", "--length-m", "10", "--json"]);
    assert_eq!(
        (&wire["use"], &wire["conductor_a"], &wire["power_va"]),
        (&json!("12 AWG"), &json!(4), &json!(96.0))
    );
    let far =
        ["calc", "wire", "--volts", "12", "--amps", "5", "--length-m", "90", "--table", "mm2", "--json"];
    let none = answer(&far);
    assert_eq!(none["use"], Value::Null);
    assert_eq!(none["sizes"].as_array().map(Vec::len), Some(6));
    assert!(none["why_none"].as_str().is_some_and(|why| why.contains("stays within 3 %")), "{none}");
}

#[test]
fn a_resistance_is_free_to_give() {
    // Worked examples (sources not kept): 1 A, 20 m one way, ρ 0.01785, 1.3 mm²: 0.549 V; 10 A, 50 ft, 1.588 Ω/kft: 1.588 V.
    let of = |more: &[&str]| answer(&[&["calc", "wire", "--volts", "24", "--json"], more].concat());
    let drop = |wire: &Value| wire["sizes"][0]["drop_v"].as_f64().expect("a drop");
    let rho = ["--amps", "1", "--length-m", "20", "--resistivity", "0.01785", "--area-mm2", "1.3"];
    assert!((drop(&of(&rho)) - 0.549).abs() < 5e-4);
    let foot = ["--amps", "10", "--length-m", "15.24", "--ohm-per-kft", "1.588"];
    let wire = of(&foot);
    assert!((drop(&wire) - 1.588).abs() < 1e-9);
    // Nobody says what it carries, so it is not named.
    assert_eq!((&wire["use"], &wire["sizes"][0]["carries"]), (&Value::Null, &Value::Null));
    let known = of(&[&foot[..], &["--ampacity-a", "10", "--max-drop-pct", "7"]].concat());
    assert_eq!(known["use"], "as given");
    // Copper at 20 °C brought to 75 °C: 1 + 0.00393 · 55 (IEC 60028).
    let warm = of(&["--amps", "1", "--length-m", "500", "--ohm-per-km", "10", "--conductor-c", "75"]);
    assert!((drop(&warm) - 10.0 * (1.0 + 0.00393 * 55.0)).abs() < 1e-9, "{warm}");
    // The resistivity of copper gives nearly the table's values (ASTM B258 areas).
    let table = of(&["--amps", "1", "--length-m", "500", "--resistivity", "0.017241", "--conductor-c", "75"]);
    assert!((drop(&table) / 26.08 - 1.0).abs() < 0.03, "{table}");
}

#[test]
fn driver_for_programs() {
    let driver =
        answer(&["calc", "driver", "--volts", "24", "--watts", "86.4", "--rating-w", "96", "--json"]);
    assert_eq!(
        driver,
        json!({"drivers": 2, "usable_w": 76.8, "class2": "does not exceed the Class 2 limit",
            "class2_code": "does-not-exceed", "class2_limit_a": 4.166666667, "class2_limit_va": 100.0,
            "driver_rated_a": 4.0, "load_a": 3.6})
    );
    // 75 W at 12 V is 6.25 A, above the 5.0 A of NEC Chapter 9 Table 11(B), from memory.
    let driver = answer(&["calc", "driver", "--volts", "12", "--watts", "60", "--rating-w", "75", "--json"]);
    assert_eq!(
        driver,
        json!({"drivers": 1, "usable_w": 60, "class2": "exceeds the Class 2 limit", "class2_code": "exceeds",
            "class2_limit_a": 5.0, "class2_limit_va": 60.0, "driver_rated_a": 6.25, "load_a": 5})
    );
}

#[test]
fn dates_for_people_and_programs() {
    let ask = ["calc", "dates", "--from", "2027-01-11", "--business-days", "-15", "--holiday", "2026-12-25"];
    // With New Year's Day off as well: counted by hand, and so by NumPy's busday_offset.
    let both = [&ask[..], &["--holiday", "2027-01-01"]].concat();
    let output = underlit(&both);
    assert_eq!((output.status.code(), text(&output.stdout)), (Some(0), "2026-12-17\n"));
    assert_eq!(answer(&[&both[..], &["--json"]].concat()), json!({"date": "2026-12-17"}));
    assert_eq!(answer(&[&ask[..], &["--json"]].concat()), json!({"date": "2026-12-18"}));
}

#[test]
fn what_makes_no_sense_is_wrong_use_and_says_how_to_fix_it() {
    for (arguments, code) in [
        (
            &["calc", "wire", "--volts", "24", "--amps", "-4", "--length-m", "10", "--json"][..],
            "wire-not-positive",
        ),
        (
            &[
                "calc",
                "wire",
                "--volts",
                "24",
                "--amps",
                "4",
                "--length-m",
                "10",
                "--conductor-c",
                "900",
                "--json",
            ],
            "wire-temperature",
        ),
        (
            &["calc", "driver", "--volts", "0", "--watts", "10", "--rating-w", "96", "--json"],
            "driver-not-positive",
        ),
        (
            &[
                "calc",
                "driver",
                "--volts",
                "24",
                "--watts",
                "10",
                "--rating-w",
                "96",
                "--load-share",
                "1.2",
                "--json",
            ],
            "driver-load-share",
        ),
        (&["calc", "dates", "--from", "9999-12-31", "--business-days", "3", "--json"], "dates-too-far"),
        (&["calc", "dates", "--from", "2027-02-30", "--business-days", "3", "--json"], "usage"),
        (
            &["calc", "wire", "--volts", "24", "--amps", "4", "--length-m", "10", "--table", "swg", "--json"],
            "usage",
        ),
    ] {
        let output = underlit(arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        let answer: Value = serde_json::from_slice(&output.stdout).expect("the answer is JSON");
        assert_eq!(answer["error"]["code"], code, "{arguments:?}");
        assert!(answer["error"]["remedy"].as_str().is_some_and(|remedy| !remedy.is_empty()), "{answer}");
    }
}
