//! `calc wire`, `calc driver` and `calc dates` as a person and as a program runs them.

use std::process::{Command, Output};

use serde_json::{Value, json};

fn underlit(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_underlit"))
        .env_clear()
        .args(arguments)
        .output()
        .expect("the binary that this test was built with starts")
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
    // 2·10·4·R of NEC Chapter 9 Table 8; the longest is where the drop is 0.72 V.
    assert_eq!(
        text(&output.stdout),
        "    18 AWG     2.087 V    8.69 %  above   reaches 3.5 m\n\
        \x20   16 AWG     1.310 V    5.46 %  above   reaches 5.5 m\n\
        \x20   14 AWG     0.824 V    3.43 %  above   reaches 8.7 m\n\
         use 12 AWG     0.520 V    2.17 %  within  reaches 13.9 m\n\
        \x20   10 AWG     0.325 V    1.36 %  within  reaches 22.1 m\n"
    );
}

#[test]
fn wire_for_programs() {
    let wire = answer(&["calc", "wire", "--volts", "24", "--amps", "4", "--length-m", "10", "--json"]);
    assert_eq!(wire["use"], "12 AWG");
    let keys: Vec<&String> = wire["sizes"][0].as_object().expect("a size is an object").keys().collect();
    assert_eq!(keys, ["size", "drop_v", "drop_pct", "within_limit", "longest_m"]);
    let none = answer(&[
        "calc",
        "wire",
        "--volts",
        "12",
        "--amps",
        "5",
        "--length-m",
        "90",
        "--table",
        "mm2",
        "--json",
    ]);
    assert_eq!(none["use"], Value::Null);
    assert_eq!(none["sizes"].as_array().map(Vec::len), Some(6));
}

#[test]
fn a_wire_too_thin_for_its_current_is_remarked() {
    let output = underlit(&["calc", "wire", "--volts", "24", "--amps", "12", "--length-m", "0.5"]);
    assert_eq!(output.status.code(), Some(0));
    // NEC 240.4(D), from memory: 18 AWG is protected to 7 A.
    assert!(
        text(&output.stderr).starts_with("12 A is above the 7 A to which 18 AWG"),
        "{}",
        text(&output.stderr)
    );
}

#[test]
fn driver_for_programs() {
    let driver =
        answer(&["calc", "driver", "--volts", "24", "--watts", "86.4", "--rating-w", "96", "--json"]);
    assert_eq!(
        driver,
        json!({"drivers": 2, "usable_w": 76.8, "class2": "does not exceed the Class 2 limit", "amps": 3.6})
    );
    // 75 W at 12 V is 6.25 A, above the 5.0 A of NEC Chapter 9 Table 11(B), from memory.
    let driver = answer(&["calc", "driver", "--volts", "12", "--watts", "60", "--rating-w", "75", "--json"]);
    assert_eq!(
        driver,
        json!({"drivers": 1, "usable_w": 60, "class2": "exceeds the Class 2 limit", "amps": 5})
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
fn what_makes_no_sense_is_wrong_use_and_says_how_to_mend_it() {
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
