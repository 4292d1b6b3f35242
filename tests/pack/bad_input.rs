//! What does not fit or is not there: each says what, where and what to do, with its exit code.

use std::fs;

use serde_json::Value;

use crate::workshop::Workshop;

#[test]
fn what_does_not_fit_says_what_to_do() {
    let shop = Workshop::with_a_bar();
    let says = |code: i32, args: &[&str], parts: &[&str]| {
        let output = shop.run(args);
        let said =
            format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
        assert_eq!(output.status.code(), Some(code), "{args:?}\n{said}");
        for part in parts {
            assert!(said.contains(part), "{args:?}: {part} is not in\n{said}");
        }
    };
    let show = |more: &[&'static str]| [&["plan", "bar", "front", "--show"], more].concat();
    // A run that is longer than the settled cable reaches, and longer than any does.
    says(1, &show(&["--feed-length", "60m"]), &["cable `18-2`: it drops", "it reaches", "--anew"]);
    says(
        1,
        &show(&["--feed-length", "400m", "--anew"]),
        &["no cable of the shop's stock suits", "bring the driver nearer"],
    );
    // Names that the shop does not have.
    says(1, &show(&["--tape", "white-48"]), &["the shop has no tape white-48; it has white-24, white-12"]);
    says(
        1,
        &show(&["--driver", "plain-48"]),
        &["the shop has no driver `plain-48`", "add it to the shop's records"],
    );
    says(1, &show(&["--wire", "8-2"]), &["the shop has no cable `8-2`"]);
    // Values that are none.
    says(2, &show(&["--feed-length", "5"]), &["has no unit"]);
    says(2, &show(&["--driver-at", "cellar"]), &["in-wall-box, remote"]);
    says(2, &show(&["--driver-space", "200mmx80mm"]), &["three sides"]);
    says(3, &["project", "change", "bar", "--mains", "24"], &["/site/mains_v", "at least 80"]);

    // A hole in the shop's data: what is missing, in which file and line; and no owner can seal it.
    let path = shop.book().join("shop/drivers.json");
    let before = fs::read_to_string(&path).unwrap();
    let mut drivers: Value = serde_json::from_str(&before).unwrap();
    drivers["drivers"][0].as_object_mut().unwrap().remove("output_v");
    fs::write(&path, serde_json::to_string_pretty(&drivers).unwrap()).unwrap();
    let hole = ["shop/drivers.json:", "/drivers/0", "\"output_v\" is a required property", "add the field"];
    says(5, &["plan", "bar"], &hole);
    says(3, &["roster", "seal"], &hole);
    fs::write(&path, &before).unwrap();
    // A list without a driver.
    let mut none: Value = serde_json::from_str(&before).unwrap();
    none["drivers"] = Value::Array(Vec::new());
    fs::write(&path, serde_json::to_string_pretty(&none).unwrap()).unwrap();
    says(3, &["roster", "seal"], &["shop/drivers.json", "/drivers"]);
    fs::write(&path, &before).unwrap();
    // A holiday calendar that is not there.
    let path = shop.book().join("shop/calendar.json");
    let days = fs::read_to_string(&path).unwrap();
    fs::write(&path, days.replacen("\"shop_holidays\": \"shop\"", "\"shop_holidays\": \"harbour\"", 1))
        .unwrap();
    says(
        3,
        &["roster", "seal"],
        &["/shop_holidays", "no holiday calendar `harbour`", "write one of shop, parcels"],
    );
    fs::write(&path, days).unwrap();
    shop.done(&["plan", "bar"]);
}
