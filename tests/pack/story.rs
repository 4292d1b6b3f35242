//! One job from its plan to its release, and what a change after that does.

use std::fs;

use serde_json::Value;

use crate::workshop::{Workshop, files};

const MARKER: &str = "NOT RELEASED";

#[test]
fn panels_that_ask_for_the_same_share_a_driver() {
    let shop = Workshop::with_a_bar();
    let plan = shop.json(0, &["plan", "bar", "--why"]);
    // 2 × 1.0 m and 2 × 0.5 m of tape at 14.4 W/m: 28.8 W and 14.4 W; 43.2 W is within 80 % of 60 W, so one
    // driver of 60 W does, which is 72 % of its rating.
    let circuits = plan["circuits"].as_array().unwrap();
    assert_eq!(circuits.len(), 1, "{circuits:#?}");
    assert_eq!(circuits[0]["driver"], "plain-24-60");
    assert!((circuits[0]["load_w"].as_f64().unwrap() - 43.2).abs() < 1e-9);
    assert!((circuits[0]["load_share"].as_f64().unwrap() - 0.72).abs() < 1e-9);
    let leads = circuits[0]["leads"].as_array().unwrap();
    assert_eq!(leads.len(), 2);
    for lead in leads {
        // Static white: 2 conductors, common practice.
        assert_eq!(lead["conductors"].as_array().unwrap().len(), 2);
    }
    // Every other driver and every route is judged with a reason.
    let drivers = plan["weighed"]["drivers_weighed"].as_array().unwrap();
    assert_eq!(drivers.len(), 9);
    assert!(drivers.iter().all(|d| !d["reasons"].as_array().unwrap().is_empty()));
    assert_eq!(plan["weighed"]["routes_weighed"].as_array().unwrap().len(), 6);
    let text = shop.done(&["plan", "bar"]);
    assert!(text.contains("plain-24-60") && text.contains("to buy, without waste:"), "{text}");
}

#[test]
fn a_job_is_packed_released_proven_and_changed() {
    let shop = Workshop::with_a_bar();

    // Before the release: the marker is on every page, and nothing is proven.
    let first = shop.json(0, &["pack", "bar", "--into", "../first"]);
    assert_eq!(first["released"], false);
    let pages = shop.pages("first/pack.pdf");
    assert!(pages.len() >= 6, "{} pages", pages.len());
    for (at, page) in pages.iter().enumerate() {
        assert!(page.contains(MARKER), "page {} does not say so:\n{page}", at + 1);
    }
    for chapter in [
        "Circuit diagram",
        "Wire and driver schedule",
        "Bill of materials",
        "Stones",
        "Dates",
        "Sign-offs",
        "Cautions",
        "Service card: panel front",
        "What is measured and what is estimated",
    ] {
        assert!(pages.iter().any(|p| p.contains(chapter)), "no page has {chapter}");
    }
    let proof = shop.json(1, &["pack", "bar", "--prove"]);
    assert_eq!(proof["proven"], false);
    assert_eq!(proof["sealed_sha256"], Value::Null);

    shop.release();
    let shop = shop.on("2026-11-03T09:00:00Z");
    let made = shop.json(0, &["pack", "bar", "--into", "../released"]);
    assert_eq!(made["released"], true);
    assert_eq!(made["sha256"], first["sha256"], "signing changes no data");
    for page in shop.pages("released/pack.pdf") {
        assert!(!page.contains(MARKER), "{page}");
    }
    let released = shop.pages("released/pack.pdf").join("\n");
    assert!(released.contains("Tom Reed (engineer)"), "{released}");
    assert!(released.contains("own signature"));

    // Made another day, in another folder and over an earlier pack: the same bytes.
    let shop = shop.on("2026-12-24T18:00:00Z");
    shop.done(&["pack", "bar", "--into", "../again"]);
    shop.done(&["pack", "bar", "--into", "../first"]);
    let expected = files(&shop.room().join("released"));
    for folder in ["again", "first"] {
        let other = files(&shop.room().join(folder));
        let names = |all: &[(String, Vec<u8>)]| all.iter().map(|(n, _)| n.clone()).collect::<Vec<_>>();
        assert_eq!(names(&expected), names(&other));
        for ((name, a), (_, b)) in expected.iter().zip(&other) {
            assert!(a == b, "{name} differs in {folder}");
        }
    }
    let sums = std::process::Command::new("sha256sum")
        .args(["--check", "--strict", "--quiet", "SHA256SUMS"])
        .current_dir(shop.room().join("released"))
        .status()
        .unwrap();
    assert!(sums.success());

    // The released pack proves itself; one that was tampered with does not.
    let proof = shop.json(0, &["pack", "bar", "--prove", "--against", "../released/pack.json"]);
    assert_eq!(proof["proven"], true);
    assert_eq!(proof["sealed_sha256"], made["sha256"]);
    let record = fs::read_to_string(shop.room().join("released/pack.json")).unwrap();
    assert!(record.contains("\"power_mw\": 28800"));
    fs::write(
        shop.room().join("forged.json"),
        record.replacen("\"power_mw\": 28800", "\"power_mw\": 28000", 1),
    )
    .unwrap();
    let forged = shop.json(1, &["pack", "bar", "--prove", "--against", "../forged.json"]);
    assert_eq!(forged["pack"]["states_its_own"], false);
    assert_eq!(forged["pack"]["changes"].as_array().unwrap().len(), 1);
    assert!(forged["pack"]["changes"][0]["fact"].as_str().unwrap().ends_with("power_mw"));
    let said = shop.exits(3, &["pack", "bar", "--prove", "--against", "../released/bill.json"]);
    assert!(said.is_empty());

    // A sealed fact changes: the change sheet says what, from what to what, and who signs again.
    shop.done(&["plan", "bar", "front", "--feed-length", "9m"]);
    let proof = shop.json(1, &["pack", "bar", "--prove"]);
    assert_eq!(proof["proven"], false);
    let facts: Vec<&str> =
        proof["changes"].as_array().unwrap().iter().map(|c| c["fact"].as_str().unwrap()).collect();
    assert!(facts.contains(&"pack.sha256") && facts.contains(&"panels.front.feed_length_m"), "{facts:?}");
    let sheet = shop.json(1, &["changes", "bar"]);
    assert_eq!(sheet["released"], false);
    let stale = sheet["stale"].as_array().unwrap();
    assert_eq!(stale.len(), 1, "the choice does not hang on the wire: {stale:#?}");
    assert_eq!(stale[0]["about"], "the release of the whole build");
    assert_eq!(stale[0]["sign_again"][0], "Tom Reed");
    assert_eq!(stale[0]["asked_for"], true);
    let text = shop.exits(1, &["changes", "bar"]);
    assert!(
        text.contains("panels front feed length") && text.contains("5 m") && text.contains("9 m"),
        "{text}"
    );
    assert!(text.contains("must sign again: Tom Reed (engineer)"), "{text}");
    shop.done(&["pack", "bar", "--into", "../after"]);
    assert!(shop.pages("after/pack.pdf").iter().all(|p| p.contains(MARKER)));

    // Signed again it is proven again, and what is built is held against the plan.
    shop.signs("tom", &["release"]);
    assert_eq!(shop.json(0, &["pack", "bar", "--prove"])["proven"], true);
    assert_eq!(shop.json(0, &["changes", "bar"])["stale"].as_array().unwrap().len(), 0);
    // 10 % is common practice, no source: 28.8 W and 14.4 W are worked out.
    shop.done(&["built", "bar", "front", "--serial", "B1", "--watts", "31.6", "--volts", "24"]);
    shop.done(&["built", "bar", "return", "--serial", "B2", "--watts", "12.9", "--volts", "24"]);
    let said = shop.done(&["built", "bar", "return", "--serial", "B2", "--watts", "12.9", "--volts", "24"]);
    assert!(said.contains("LOOK INTO THIS"), "{said}");
    let built = shop.json(0, &["changes", "bar"]);
    assert_eq!(built["as_built"][0]["far_off"], false, "+9.7 %");
    assert_eq!(built["as_built"][1]["far_off"], true, "−10.4 %");
    let status = shop.json(0, &["status", "bar"]);
    let warnings = status["warnings"].as_array().unwrap();
    assert!(warnings.iter().any(|w| w["code"] == "as-built-power"), "{warnings:#?}");
}

#[test]
fn dates_are_counted_back_and_forward_and_written_for_calendar_programs() {
    let shop = Workshop::with_a_bar();
    let dates = shop.json(0, &["dates", "bar", "--routes", "--ics", "../bar.ics"]);
    let routes = dates["routes"].as_array().unwrap();
    assert_eq!(routes.len(), 3);
    assert_eq!(routes.iter().filter(|r| r["taken"] == true).count(), 1);
    let taken = routes.iter().find(|r| r["taken"] == true).unwrap();
    let step = |name: &str| {
        let steps = taken["milestones"].as_array().unwrap();
        steps.iter().find(|m| m["milestone"] == name).unwrap().clone()
    };
    assert_eq!(step("stones-tried")["reached"], true);
    // Back from Monday 2027-03-15 with 2 business days in reserve: Thursday 2027-03-11 (NumPy
    // busday_offset("2027-03-15", -2)); no holiday of the starter calendar lies between.
    assert_eq!(step("arrived")["latest"], "2027-03-11");
    let ics = fs::read_to_string(shop.room().join("bar.ics")).unwrap();
    let uids = |text: &str| -> Vec<String> {
        text.replace("\r\n ", "").lines().filter(|l| l.starts_with("UID:")).map(str::to_owned).collect()
    };
    let before = uids(&ics);
    let mut unique = before.clone();
    unique.sort();
    unique.dedup();
    assert_eq!(unique.len(), before.len());
    assert!(ics.contains("DTSTART;VALUE=DATE:20270315"), "{ics}");
    // The date moves, the identifiers stay.
    shop.done(&["project", "change", "bar", "--install-date", "2027-03-22"]);
    shop.done(&["dates", "bar", "--ics", "../moved.ics"]);
    let moved = fs::read_to_string(shop.room().join("moved.ics")).unwrap();
    let mut after = uids(&moved);
    after.sort();
    assert_eq!(after, unique);
    assert!(moved.contains("DTSTART;VALUE=DATE:20270322"));
    // Too late is an answer.
    shop.done(&["project", "change", "bar", "--install-date", "2026-11-20"]);
    let text = shop.done(&["dates", "bar"]);
    assert!(text.contains("CANNOT BE MET"), "{text}");
}

#[test]
fn a_folder_with_other_things_is_left_alone() {
    let shop = Workshop::with_a_bar();
    fs::create_dir(shop.room().join("mine")).unwrap();
    fs::write(shop.room().join("mine/letter.txt"), "keep me").unwrap();
    let refused = shop.run(&["pack", "bar", "--into", "../mine"]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&refused.stderr).contains("new or empty folder"));
    assert_eq!(files(&shop.room().join("mine")).len(), 1);
}

#[test]
fn what_a_shop_list_changed_is_named_by_part_and_list() {
    let shop = Workshop::with_a_bar();
    shop.release();
    assert_eq!(shop.json(0, &["pack", "bar", "--prove"])["proven"], true);
    // Another joint resistance: the circuits and what they rest on are others, the stones are not.
    let path = shop.book().join("shop/wire.json");
    let text = fs::read_to_string(&path).unwrap();
    assert!(text.contains("\"joint_mohm\": 5,"));
    fs::write(&path, text.replacen("\"joint_mohm\": 5,", "\"joint_mohm\": 6,", 1)).unwrap();
    shop.done(&["roster", "seal"]);
    let proof = shop.json(1, &["pack", "bar", "--prove"]);
    let names = |field: &str| -> Vec<String> {
        let list = proof[field].as_array().unwrap();
        list.iter().map(|v| v.as_str().or(v["file"].as_str()).unwrap().to_owned()).collect()
    };
    assert_eq!(names("parts"), ["bases", "circuits", "panels.front", "panels.return"]);
    assert_eq!(names("lists"), ["shop/wire.json"]);
    assert_ne!(proof["lists"][0]["sha256_then"], proof["lists"][0]["sha256_now"]);
    let text = shop.exits(1, &["pack", "bar", "--prove"]);
    assert!(text.contains("parts of the data that changed: bases, circuits, panels.front"), "{text}");
    assert!(text.contains("shop/wire.json is not what it was when the job was released"), "{text}");
    // A list that bears on nothing of the job: said, and still proven.
    let drop = fs::read_to_string(&path).unwrap().replacen("\"joint_mohm\": 6,", "\"joint_mohm\": 5,", 1);
    fs::write(&path, drop).unwrap();
    let calendar = shop.book().join("shop/calendar.json");
    let days = fs::read_to_string(&calendar).unwrap();
    fs::write(&calendar, days.replacen("Harbour day", "Harbour Day", 1)).unwrap();
    shop.done(&["roster", "seal"]);
    let proof = shop.json(0, &["pack", "bar", "--prove"]);
    assert_eq!(proof["parts"].as_array().unwrap().len(), 0);
    assert_eq!(proof["lists"][0]["file"], "shop/calendar.json");
    assert_eq!(proof["lists"].as_array().unwrap().len(), 1);
}

#[test]
fn an_install_date_that_cannot_be_counted_is_said_everywhere() {
    let shop = Workshop::with_a_bar();
    // The starter's holidays are known to the end of 2031.
    let said = shop.done(&["project", "change", "bar", "--install-date", "2032-05-04"]);
    assert!(said.contains("complete from 2026-01-01 to 2031-12-31"), "{said}");
    let refused = shop.run(&["dates", "bar"]);
    assert_eq!(refused.status.code(), Some(3));
    let said = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert!(
        said.contains("shop/calendar.json")
            && said.contains("move `complete_from` or `complete_to`, and let an owner seal it"),
        "{said}"
    );
    let board = shop.done(&["board"]);
    assert!(board.contains("bar: the holiday calendar `shop` is complete"), "{board}");
    assert!(shop.done(&["status", "bar"]).contains("complete from 2026-01-01 to 2031-12-31"));
    let pack = shop.json(0, &["pack", "bar", "--into", "../far"]);
    assert!(pack["left_out"].to_string().contains("dates.ics"), "{pack}");
    // A day that is past is past, also where the chain back from it leaves the list.
    let said = shop.done(&["project", "change", "bar", "--install-date", "2026-01-12"]);
    assert!(said.contains("is past (today is 2026-11-02)"), "{said}");
    let dates = shop.json(0, &["dates", "bar"]);
    let fault = dates["routes"][0]["no_dates"].as_str().unwrap();
    assert!(fault.contains("is past") && fault.contains("agree a new install date"), "{fault}");
    assert!(shop.done(&["board"]).contains("LATE"));
}

/// The years after the starter's calendars: what is released stays as it is, what is new says what is needed, and the next
/// year's holidays, sealed, bring the dates back.
#[test]
fn after_the_last_year_of_the_calendars_the_shop_writes_the_next_one() {
    let shop = Workshop::with_a_bar();
    shop.release();
    shop.done(&["pack", "bar", "--into", "../then"]);
    let shop = shop.on("2032-02-02T09:00:00Z");
    shop.done(&["pack", "bar", "--into", "../later"]);
    assert_eq!(files(&shop.room().join("then")), files(&shop.room().join("later")), "the released pack");
    let open = [
        "open",
        "next",
        "--title",
        "Next",
        "--client",
        "imke",
        "--site",
        "Quay",
        "--install-date",
        "2032-06-01",
    ];
    let said = shop.done(&open);
    assert!(said.contains("2032-02-02 is needed") && said.contains("underlit roster seal"), "{said}");
    assert_eq!(shop.run(&["dates", "next"]).status.code(), Some(3));

    let path = shop.book().join("shop/calendar.json");
    let mut calendar: Value = serde_json::from_str(&fs::read_to_string(&path).unwrap()).unwrap();
    for list in calendar["holiday_calendars"].as_array_mut().unwrap() {
        list["complete_to"] = "2032-12-31".into();
        // A Monday on which nobody works: Monday 2032-05-31.
        let holiday = serde_json::json!({ "date": "2032-05-31", "name": "Harbour day" });
        list["holidays"].as_array_mut().unwrap().push(holiday);
    }
    fs::write(&path, serde_json::to_string_pretty(&calendar).unwrap() + "\n").unwrap();
    let unsealed = shop.run(&["dates", "next"]);
    assert_eq!(unsealed.status.code(), Some(5), "the calendar counts once an owner has sealed it");
    assert!(String::from_utf8_lossy(&unsealed.stderr).contains("underlit roster seal"));
    shop.done(&["roster", "seal"]);
    let dates = shop.json(0, &["dates", "next"]);
    let steps = dates["routes"][0]["milestones"].as_array().unwrap().clone();
    let arrived = steps.iter().find(|m| m["milestone"] == "arrived").unwrap();
    // Two business days before Tuesday 2032-06-01, the Monday off: Thursday 2032-05-27
    // (NumPy busday_offset("2032-06-01", -2, holidays=["2032-05-31"])).
    assert_eq!(arrived["latest"], "2032-05-27");
}
