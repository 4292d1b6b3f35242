//! What each reading verb says of the example book, and that none of them leaves a trace.

use std::fs;
use std::process::Command;

use serde_json::{Value, json};
use underlit::store::{BookFolder, schemas};
use underlit::trust::before::Before;
use underlit::trust::check;

use super::book::{CLOCK, Copy, UNDERLIT, files, original};

#[test]
fn it_checks_clean() {
    let copy = Copy::new();
    assert_eq!(copy.said(&["check"]), format!("{} files, nothing wrong\n", files(&original()).len()));
}

#[test]
fn it_says_that_it_is_invented() {
    let book: Value = serde_json::from_slice(&fs::read(original().join("book.json")).unwrap()).unwrap();
    assert!(book["note"].as_str().unwrap().starts_with("Everything in this book is invented"), "{book}");
    for (path, bytes) in files(&original().join("shop")) {
        let list: Value = serde_json::from_slice(&bytes).unwrap();
        assert!(list["note"].as_str().unwrap().starts_with("Invented"), "{path}");
    }
}

#[test]
fn its_schemas_are_the_programs_own() {
    let copies = files(&original().join("schema"));
    let ours =
        schemas::published().iter().map(|(name, text)| (name.clone(), text.as_bytes().to_vec())).collect();
    assert_eq!(copies, ours, "renew them: underlit schemas --into example-repo/schema");
}

#[test]
fn the_board_has_its_three_projects() {
    let board = Copy::new().json(&["board"]);
    let rows = board["projects"].as_array().unwrap();
    for row in rows {
        assert_eq!(row["errors"], json!([]));
        assert_eq!((&row["question_count"], &row["vanished_count"]), (&json!(0), &json!(0)));
        assert_eq!(row["late"], false);
    }
    let short: Vec<Value> = rows
        .iter()
        .map(|r| {
            json!([r["id"], r["stage"], r["days_in_stage"], r["released"], r["holds"], r["rejected_count"]])
        })
        .collect();
    assert_eq!(
        short,
        [
            json!(["bath-niche", "selection", 6, false, true, 1]),
            json!(["ferry-desk", "rendering", 14, false, true, 0]),
            json!(["quay-bar", "released", 12, true, true, 0]),
        ]
    );
    let first =
        |n: usize| json!([rows[n]["waiting_on"][0]["people"], rows[n]["waiting_on"][0]["requirement"]]);
    assert_eq!(first(0), json!([["mara"], "choice-signed"]));
    assert_eq!(first(1), json!([["runa"], "rendering-signed"]));
    assert_eq!(first(2), json!([["bram"], "as-built-recorded"]));
    let released = Copy::new().json(&["board", "--released"]);
    assert_eq!(released["projects"].as_array().unwrap().len(), 1);
    assert_eq!(released["projects"][0]["id"], "quay-bar");
}

/// What was said in a project, as role, decision, kind and standing.
fn signed(status: &Value) -> Vec<String> {
    let mut signed: Vec<String> = status["signoffs"]
        .as_array()
        .unwrap()
        .iter()
        .map(|s| {
            assert_eq!(s["why"], Value::Null, "{s}");
            let kind = if s["evidence"].is_null() { "own" } else { "evidence" };
            let text = |key: &str| s[key].as_str().unwrap();
            format!("{} {} {}: {kind}, {}", text("role"), text("decision"), text("about"), text("standing"))
        })
        .collect();
    signed.sort();
    signed
}

fn missing(status: &Value) -> Vec<Value> {
    status["missing"]
        .as_array()
        .unwrap()
        .iter()
        .map(|m| json!([m["requirement"], m["state"], m["people"]]))
        .collect()
}

#[test]
fn the_bar_front_is_released_on_a_letter_and_an_engineers_signature() {
    let status = Copy::new().json(&["status", "quay-bar"]);
    assert_eq!(status["released"], true);
    assert_eq!(status["broken"], json!([]));
    assert_eq!(missing(&status), [json!(["as-built-recorded", "missing", ["bram"]])]);
    assert_eq!(
        signed(&status),
        [
            "client approved the acknowledgement `no-field-service` for panel front: evidence, fits",
            "client approved the choice for panel front: evidence, fits",
            "engineer approved the acknowledgement `cautions`: own, fits",
            "engineer approved the release of the whole build: own, fits",
        ]
    );
}

#[test]
fn the_desk_waits_for_its_engineer_whose_signature_is_for_an_earlier_drawing() {
    let status = Copy::new().json(&["status", "ferry-desk"]);
    assert_eq!(
        missing(&status),
        [
            json!(["rendering-signed", "stale", ["runa"]]),
            json!(["cautions-seen", "missing", ["runa"]]),
            json!(["release-signed", "missing", ["runa"]]),
        ]
    );
    let changes = status["missing"][0]["changes"].as_array().unwrap();
    assert!(
        changes.contains(&json!({ "fact": "rendering.height_um", "signed": 700_000, "now": 701_000 })),
        "{changes:?}"
    );
    assert_eq!(
        signed(&status),
        [
            "client approved the choice for panel top: own, fits",
            "client approved the rendering for panel top: own, fits",
            "engineer approved the rendering for panel top: own, stale",
        ]
    );
}

#[test]
fn the_niche_is_sent_back_by_its_client_with_a_waiver_given() {
    let status = Copy::new().json(&["status", "bath-niche"]);
    assert_eq!(missing(&status), [json!(["choice-signed", "rejected", ["mara"]])]);
    assert_eq!(
        signed(&status),
        [
            "client approved the waiver `cct-not-tried` for panel back: own, fits",
            "client revise-and-resubmit the choice for panel back: own, fits",
        ]
    );
    let panel = fs::read_to_string(original().join("projects/bath-niche/panels/back.json")).unwrap();
    let panel: Value = serde_json::from_str(&panel).unwrap();
    assert_eq!((&panel["place"], &panel["light"]["kind"]), (&json!("wet"), &json!("rgbw")));
}

const READING: [&[&str]; 8] = [
    &["check"],
    &["board"],
    &["board", "--released", "--json"],
    &["status", "quay-bar"],
    &["status", "ferry-desk", "--all"],
    &["status", "bath-niche", "--json"],
    &["roster", "show"],
    &["allowed-signers"],
];

#[test]
fn reading_it_writes_nothing_where_it_lies_alone() {
    let copy = Copy::new();
    let before = files(copy.room());
    for args in READING {
        copy.said(args);
    }
    assert_eq!(files(copy.room()), before);
}

#[test]
fn reading_it_writes_nothing_into_a_repository_around_it() {
    let copy = Copy::new();
    let made = Command::new("git").args(["init", "--quiet"]).arg(copy.outer()).status().unwrap();
    assert!(made.success());
    let before = files(copy.room());
    assert!(before.contains_key("outer/.git/HEAD"));
    for args in READING {
        copy.said(args);
    }
    // What needs a book's own history says so, and leaves no trace either.
    for args in [&["history"][..], &["advance", "quay-bar"], &["sync"], &["me", "mara"]] {
        let done = copy.underlit(args);
        let said = String::from_utf8_lossy(&done.stderr).into_owned();
        assert_eq!(done.status.code(), Some(6), "{args:?}: {said}");
        assert!(said.contains("[git-not-top-folder]"), "{args:?}: {said}");
    }
    assert_eq!(files(copy.room()), before);
}

#[test]
fn the_original_is_read_in_place_without_a_trace() {
    let before = files(&original());
    for args in READING {
        let done = Command::new(UNDERLIT)
            .args(args)
            .arg("--book")
            .arg(original())
            .env("UNDERLIT_CLOCK", CLOCK)
            .output();
        assert_eq!(done.unwrap().status.code(), Some(0), "{args:?}");
    }
    assert_eq!(files(&original()), before);
}

#[test]
fn a_changed_byte_is_noticed_wherever_a_signature_or_a_digest_is_for_it() {
    let copy = Copy::new();
    let book = BookFolder::find(&copy.book()).unwrap();
    let good = |what: &str| {
        let faults = check::check(&book, None, &mut Before::default()).faults;
        assert!(faults.is_empty(), "{what}: {faults:?}");
    };
    good("as it lies");
    for (path, bytes) in files(&original()).into_iter().filter(|(p, _)| p != ".gitattributes") {
        // A changed letter in one of these may be an ordinary edit, which makes stale what was signed for it.
        let records = ["project.json", "/swatches/", "/requests/", "/trials/", "manifest.json", "book.json"];
        let edit = records.iter().any(|r| path.ends_with(r) || r.ends_with('/') && path.contains(r))
            || path.contains("/panels/") && !path.ends_with(".outline.json");
        if edit {
            continue;
        }
        let mut bad = bytes.clone();
        let at = bad.len() / 2;
        bad[at] ^= 1;
        fs::write(copy.book().join(&path), &bad).unwrap();
        assert!(
            !check::check(&book, None, &mut Before::default()).faults.is_empty(),
            "{path}: byte {at} of {}",
            bytes.len()
        );
        fs::write(copy.book().join(&path), &bytes).unwrap();
    }
    good("put back");
}
