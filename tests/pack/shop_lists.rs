//! Flaws in the shop's lists that a schema cannot see, with file, pointer, line and remedy.

use std::fs;

use crate::workshop::Workshop;

#[test]
fn each_list_is_checked_beyond_its_schema() {
    let shop = Workshop::new();
    // List, what is exchanged, pointer and code of the flaw.
    let flaws = [
        (
            "drivers",
            "\"id\": \"plain-24-96\",",
            "\"id\": \"plain-24-60\",",
            "/drivers/1/id",
            "shop-duplicate-id",
        ),
        ("lights", "\"id\": \"white-12\",", "\"id\": \"white-24\",", "/lights/1/id", "shop-duplicate-id"),
        (
            "controls",
            "\"id\": \"colour-wall\",",
            "\"id\": \"tunable-wall\",",
            "/controllers/1/id",
            "shop-duplicate-id",
        ),
        ("wire", "\"id\": \"18-3\",", "\"id\": \"18-2\",", "/cables/1/id", "shop-duplicate-id"),
        (
            "routes",
            "\"sheet_margin_mm\": 10,",
            "\"sheet_margin_mm\": 600,",
            "/routes/0/sheet_margin_mm",
            "route-margin-too-wide",
        ),
        (
            "calendar",
            "\"shop_holidays\": \"",
            "\"shop_holidays\": \"x-",
            "/shop_holidays",
            "calendar-unknown",
        ),
    ];
    for (list, from, to, _, _) in flaws {
        let path = shop.book().join(format!("shop/{list}.json"));
        let text = fs::read_to_string(&path).unwrap();
        assert!(text.contains(from), "{list}: {from}");
        fs::write(&path, text.replacen(from, to, 1)).unwrap();
    }
    // Changed and not yet sealed is a matter of trust, and the weightier of the two.
    let checked = shop.json(5, &["check"]);
    let faults = checked["errors"].as_array().unwrap();
    for (list, _, to, pointer, code) in flaws {
        let file = format!("shop/{list}.json");
        let fault = faults
            .iter()
            .find(|f| f["file"] == file.as_str() && f["code"] == code)
            .unwrap_or_else(|| panic!("{file} {code}: {faults:#?}"));
        assert_eq!(fault["pointer"], pointer);
        assert!(!fault["remedy"].as_str().unwrap().is_empty());
        let line = fault["line"].as_u64().unwrap() as usize;
        let text = fs::read_to_string(shop.book().join(&file)).unwrap();
        assert!(text.lines().nth(line - 1).unwrap().contains(to.trim_end_matches(',')), "{file} line {line}");
    }
}

#[test]
fn an_owner_cannot_seal_a_flawed_list() {
    let shop = Workshop::new();
    let path = shop.book().join("shop/wire.json");
    let text = fs::read_to_string(&path).unwrap();
    fs::write(&path, text.replacen("\"id\": \"18-3\"", "\"id\": \"18-2\"", 1)).unwrap();
    let refused = shop.run(&["roster", "seal"]);
    assert_eq!(refused.status.code(), Some(3), "{}", String::from_utf8_lossy(&refused.stdout));
    assert!(String::from_utf8_lossy(&refused.stderr).contains("/cables/1/id"));
}

#[test]
fn rules_that_nobody_can_meet_are_refused() {
    let shop = Workshop::new();
    let path = shop.book().join("rules.json");
    let text = fs::read_to_string(&path).unwrap();
    let two = text.replacen("\"role\": \"client\", \"people\": 1", "\"role\": \"client\", \"people\": 2", 1);
    assert_ne!(two, text);
    fs::write(&path, two).unwrap();
    let refused = shop.run(&["roster", "seal"]);
    assert_eq!(refused.status.code(), Some(3), "{}", String::from_utf8_lossy(&refused.stdout));
    let said = String::from_utf8_lossy(&refused.stderr).into_owned();
    for part in ["rules.json", "/approvals/0/people", "rules.json:4", "a job has one client", "\"people\": 1"]
    {
        assert!(said.contains(part), "{part} is not in {said}");
    }
    // Two engineers are no such thing.
    let engineers =
        text.replacen("\"role\": \"engineer\", \"people\": 1", "\"role\": \"engineer\", \"people\": 2", 1);
    assert_ne!(engineers, text);
    fs::write(&path, engineers).unwrap();
    shop.done(&["roster", "seal"]);
}
