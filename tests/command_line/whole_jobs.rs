//! Jobs of other makes than a desk, by the commands that people type, as far as they go.

use std::fmt::Write as _;

use serde_json::json;

use crate::stages;
use crate::workshop::{Desk, Place};

/// Eighty-four vanities of three typicals on four floors, 21 a floor: 14 of the first, 6 of the second and one of the
/// third.
fn vanities() -> String {
    let mut text = String::from("mark,room,level,size,position\n");
    for floor in 3..=6 {
        for door in 1..=21 {
            let (mark, size) = match door {
                1..=14 => ("V1", "900x450mm"),
                15..=20 => ("V2", "1200x450mm"),
                _ => ("V3", "1500x450mm"),
            };
            let _ = writeln!(text, "{mark},{floor}{door:02},{floor},{size},level");
        }
    }
    text
}

fn whole_panel(book: &Desk, panel: &str) {
    book.run(&format!(
        "choose quay-desk {panel} --light static-white --cct 4000 --face diffused --edges 1,3 --volts 24 --mount tray"
    ))
    .done();
    book.run_as("imke", &format!("sign quay-desk choice --panel {panel} --yes")).done();
}

#[test]
fn eighty_four_vanities_are_released_floor_by_floor() {
    let place = Place::new();
    let book = place.copy(stages::selection(), "mara");
    book.run("panel remove quay-desk front").done();
    let file = place.file("vanities.csv", vanities());
    let made = book.run(&format!("panel import quay-desk {file} --json")).code(0).json();
    let of = |id: &str| {
        let found = made["panels"].as_array().into_iter().flatten().find(|panel| panel["id"] == id);
        found.map(|panel| (panel["quantity"].clone(), panel["groups"].clone())).unwrap_or_default()
    };
    let levels = json!(["level-3", "level-4", "level-5", "level-6"]);
    assert_eq!(of("v1"), (json!(56), levels.clone()));
    assert_eq!(of("v3"), (json!(4), levels));
    // One choice for each typical, whichever floor it is on; none needs a drawing, for all are plain rectangles.
    for panel in ["v1", "v2", "v3"] {
        whole_panel(&book, panel);
    }
    book.run("advance quay-desk --to rendering").done();
    for panel in ["v1", "v2", "v3"] {
        book.run(&format!("plan quay-desk {panel} --feed-length 3m")).done();
    }

    // Level 3 is released; level 5 waits.
    book.run_as("tom", "sign quay-desk release --as engineer --yes")
        .fails(2, "which-group")
        .says(&["--group level-3 or --group level-4"]);
    for what in ["acknowledgement --topic cautions", "release"] {
        book.run_as("tom", &format!("sign quay-desk {what} --group level-3 --as engineer --yes")).done();
    }
    book.run("status quay-desk").done().says(&[
        "level-3: 3 kinds of panel, 21 to build; may be built",
        "level-5: 3 kinds of panel, 21 to build; 2 things are missing",
        "underlit status quay-desk --group level-4",
    ]);
    let one = book.run("status quay-desk --group level-3 --json").done().json();
    assert_eq!((&one["group"], &one["released"]), (&json!("level-3"), &json!(true)), "{one:#}");
    let board = book.run("board --released --json").done().json();
    let groups: Vec<bool> = board["projects"][0]["groups"]
        .as_array()
        .into_iter()
        .flatten()
        .map(|group| group["released"] == true)
        .collect();
    assert_eq!(groups, [true, false, false, false], "{board:#}");
    book.run("board --released").done().says(&["may be built: level-3 (of 4 groups)"]);
    book.run("verify").done().says(&["level-3 may be built"]);
    book.run("advance quay-desk").code(1).says(&["release of group level-5"]);

    // The pack of a floor: its own panels, rooms and circuits; that of another says that it is not released.
    book.run("pack quay-desk --into all").fails(2, "which-group");
    let into = place.path("level-3");
    let pack =
        book.run(&format!("pack quay-desk --group level-3 --into {} --json", into.display())).done().json();
    assert_eq!(pack["released"], true, "{pack:#}");
    let record = std::fs::read_to_string(into.join("pack.json")).expect("the pack has its record");
    let data: serde_json::Value = serde_json::from_str(&record).expect("a pack's record is JSON");
    let data = &data["data"];
    assert_eq!(data["group"], "level-3");
    let panels: Vec<(i64, usize)> = data["panels"]
        .as_array()
        .into_iter()
        .flatten()
        .map(|p| (p["quantity"].as_i64().unwrap_or(1), p["rooms"].as_array().map_or(0, Vec::len)))
        .collect();
    assert_eq!(panels, [(14, 14), (6, 6), (1, 1)]);
    assert_eq!(data["panels"][0]["rooms"][0], "301");
    book.run("pack quay-desk --group level-3 --prove")
        .code(0)
        .says(&["are the ones that the release sealed"]);
    book.run("pack quay-desk --group level-5 --prove").code(1);
    let pages = place.path("pages");
    book.run(&format!("pages {}", pages.display())).done();
    let listed = std::fs::read_to_string(pages.join("released.html")).expect("the pages have a list");
    assert!(
        listed.contains("release group level-3") && !listed.contains("release group level-5"),
        "{listed}"
    );

    // Another vanity on level 5 is no matter of level 3.
    book.run("panel change quay-desk v3 --group level-3,level-4,level-5=2,level-6 --quantity 5").done();
    book.run("pack quay-desk --group level-3 --prove").code(0);
    // The other floors are released too, and so is the job.
    for level in ["level-4", "level-5", "level-6"] {
        for what in ["acknowledgement --topic cautions", "release"] {
            book.run_as("tom", &format!("sign quay-desk {what} --group {level} --as engineer --yes")).done();
        }
    }
    book.run("advance quay-desk --to released").done();

    // Each of several alike is built by its serial number.
    for serial in ["Q-1", "Q-2"] {
        book.run(&format!("built quay-desk v3 --serial {serial} --watts 20 --volts 24")).done();
    }
    book.run("status quay-desk").done().says(&["panel v3: 2 of 5 alike are recorded as built"]);
    book.sound();
}
