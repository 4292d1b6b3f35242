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

/// Once a choice goes on to be drawn, its client is asked about it no more.
fn nothing_of_the_choice_is_asked(book: &Desk, client: &str) {
    let all = book.run(&format!("next --person {client} --all --json")).done().json();
    let of_choice =
        ["sign quay-desk choice", "cct-not-tried", "sampling", "dim", "no-field-service", "uneven-light"];
    for act in all["acts"].as_array().into_iter().flatten() {
        let command = act["command"].as_str().unwrap_or_default();
        assert!(!of_choice.iter().any(|word| command.contains(word)), "{command}");
    }
}

/// In the example book too: whose client's answers about a choice came after the drawing was begun, came too late.
#[test]
fn in_the_example_book_nothing_was_asked_too_late() {
    let example = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("example-repo");
    let text = |path: &std::path::Path| {
        let text = std::fs::read_to_string(path).expect("a record can be read");
        serde_json::from_str::<serde_json::Value>(&text).expect("a record is JSON")
    };
    let all = |folder: std::path::PathBuf| {
        let files =
            std::fs::read_dir(folder).expect("the folder is there").map(|file| file.expect("listed").path());
        files
            .filter(|file| file.extension().is_some_and(|e| e == "json"))
            .map(|file| text(&file))
            .collect::<Vec<_>>()
    };
    let mut looked_at = 0;
    for job in ["quay-bar", "ferry-desk", "bath-niche"] {
        let at = example.join("projects").join(job);
        let drawn_from = all(at.join("moves"))
            .iter()
            .filter(|step| step["to"] == "rendering")
            .filter_map(|step| step["time"].as_str().map(str::to_owned))
            .max();
        for said in all(at.join("signoffs")) {
            let about = &said["about"];
            let of_choice = ["cct-not-tried", "sampling", "dim", "no-field-service", "uneven-light"];
            let of_topic = of_choice.iter().any(|topic| about["topic"] == *topic);
            if let (true, Some(drawn_from)) = (of_topic || about["view"] == "choice", &drawn_from) {
                looked_at += 1;
                assert!(
                    said["time"].as_str().is_some_and(|time| time <= drawn_from.as_str()),
                    "{job}: {said:#}"
                );
            }
        }
    }
    assert!(looked_at >= 3, "{looked_at}");
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
    nothing_of_the_choice_is_asked(&book, "imke");
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

/// An island of 2400 × 900 mm with an undermount sink of 500 × 400 mm whose corners are rounded, as the clear opening.
fn island() -> String {
    let line = |x: f64, y: f64| json!({ "kind": "line", "to_mm": [x, y] });
    let arc = |x: f64, y: f64| json!({ "kind": "arc", "to_mm": [x, y], "bulge": 0.414_213_562_373_095_1 });
    json!({
        "outer": {
            "start_mm": [0, 0],
            "segments": [line(2400.0, 0.0), line(2400.0, 900.0), line(0.0, 900.0), line(0.0, 0.0)]
        },
        "cutouts": [{
            "start_mm": [1340, 250],
            "segments": [
                line(1760.0, 250.0), arc(1800.0, 290.0), line(1800.0, 610.0), arc(1760.0, 650.0),
                line(1340.0, 650.0), arc(1300.0, 610.0), line(1300.0, 290.0), arc(1340.0, 250.0)
            ]
        }]
    })
    .to_string()
}

#[test]
fn an_island_with_four_lit_edges_and_a_sink_is_sized_from_its_opening() {
    let place = Place::new();
    let book = place.copy(stages::selection(), "mara");
    book.run("panel remove quay-desk front").done();
    let drawing = place.file("island.json", island());
    book.run(&format!(
        "panel add quay-desk island --swatch alba --outline {drawing} --position level --place wet"
    ))
    .done();
    book.run("choose quay-desk island --light static-white --cct 4000 --face diffused --edges 1,2,3,4 --volts 24 --mount removable-stone")
        .done();
    let figures =
        "--stone-over 20mm --clearance 2mm --lit-border 12mm --plain-border 6mm --cutout-border 6mm";
    // What does not fit is refused with its place, and nothing is kept.
    book.unchanged(|book| {
        book.run("panel sizes quay-desk island --outline-is clear-opening").fails(2, "missing-argument");
        let wide = figures
            .replace("cutout-border 6mm", "cutout-border 199mm")
            .replace("lit-border 12mm", "lit-border 199mm");
        book.run(&format!("panel sizes quay-desk island --outline-is clear-opening {wide}"))
            .fails(3, "outline-cannot-inset")
            .says(&["too large for the shape"]);
        book.run("panel sizes quay-desk island --outline-is clear-opening --fit bar").fails(2, "unknown-fit");
    });
    // 2400 mm of acrylic grow by 0.07 × 2.4 × 40 mm with heat and 2 × 2.4 mm with water: 11.52 mm, so 6 mm on each side.
    book.run(&format!("panel sizes quay-desk island --outline-is clear-opening {figures}")).done().says(&[
        "stone edge     2440 × 940 mm",
        "clear opening  2400 × 900 mm, as drawn",
        "finished panel 2384 × 884 mm",
        "light guide    2360 × 860 mm",
        "grows and shrinks by 11",
    ]);
    book.run("status quay-desk").done().never_says(&["free across it"]);
    book.run("panel sizes quay-desk island --outline-is clear-opening --movement 0mm").done();
    book.run("status quay-desk").done().says(&["it may grow by", "4 mm free across it"]);
    book.run("panel sizes quay-desk island --outline-is clear-opening").done();

    // Every layer has its own file for the cutter, and the guide's hole is larger than the sink by its border.
    let cut = place.path("cut");
    let files = book.run(&format!("cut quay-desk island --into {} --json", cut.display())).code(0).json();
    let names: Vec<String> = files["files"]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(|name| name.as_str()?.rsplit('/').next()?.strip_suffix(".dxf").map(str::to_owned))
        .collect();
    assert_eq!(
        names,
        [
            "quay-desk-island",
            "quay-desk-island-stone-edge",
            "quay-desk-island-clear-opening",
            "quay-desk-island-finished-panel"
        ]
    );
    let measured = |name: &str| {
        let file = cut.join(format!("{name}.dxf"));
        book.run(&format!("calc outline {} --json", file.display())).done().json()
    };
    let rounded = |width: f64, height: f64, radius: f64| {
        width * height - (4.0 - std::f64::consts::PI) * radius * radius
    };
    for (name, outer, hole) in [
        ("quay-desk-island", 2360.0 * 860.0, rounded(512.0, 412.0, 46.0)),
        ("quay-desk-island-stone-edge", 2440.0 * 940.0, rounded(500.0, 400.0, 40.0)),
    ] {
        let area = measured(name)["area_mm2"].as_f64().unwrap_or_default();
        assert!((area - (outer - hole)).abs() < 1.0, "{name}: {area} for {}", outer - hole);
    }

    book.run_as("imke", "sign quay-desk choice --panel island --yes").done();
    // Four lit edges on an oblong are the client's to know before anything is drawn.
    book.run("advance quay-desk --to rendering").code(1).says(&["uneven-light"]);
    book.run_as("imke", "sign quay-desk acknowledgement --topic uneven-light --panel island --yes").done();
    book.run("advance quay-desk --to rendering").done();
    nothing_of_the_choice_is_asked(&book, "imke");
    book.run("plan quay-desk island --feed-length 4m").done();
    book.run("draw quay-desk island").done();
    book.run_as("imke", "sign quay-desk rendering --panel island --yes").done();
    book.run_as("tom", "sign quay-desk rendering --panel island --as engineer --yes").done();
    // The sheet goes out of date with the sizes.
    let sizes = "panel sizes quay-desk island --outline-is clear-opening --clearance 3mm";
    book.run(sizes).done().says(&["now stale"]);
    book.run("status quay-desk").done().says(&["panel sizes clearance: 2 mm was signed, now 3 mm"]);
    book.run("panel sizes quay-desk island --outline-is clear-opening --clearance 2mm").done();
    for (who, what) in [("tom", "acknowledgement --topic cautions"), ("tom", "release")] {
        book.run_as(who, &format!("sign quay-desk {what} --yes")).done();
    }
    book.run("advance quay-desk --to released").done();
    let pack = place.path("pack");
    book.run(&format!("pack quay-desk --into {}", pack.display())).done();
    let record = std::fs::read_to_string(pack.join("pack.json")).expect("the pack has its record");
    let record: serde_json::Value = serde_json::from_str(&record).expect("a pack's record is JSON");
    let panel = &record["data"]["panels"][0];
    assert_eq!(panel["width_um"], 2_360_000, "the guide is what is built");
    assert_eq!(panel["sizes"]["each"][0]["width_um"], 2_440_000);
    // The stone's mass is that of the stone, at the most 2750 kg/m³ and 20 mm.
    let stone_g = panel["stone_mass_g"].as_f64().unwrap_or_default();
    let expected = (2440.0 * 940.0 - rounded(500.0, 400.0, 40.0)) * 20.0 * 2750.0 * 1e-6;
    assert!((stone_g - expected).abs() < 2.0, "{stone_g} g for {expected} g");
    if let Some(kept) = std::env::var_os("UNDERLIT_KEEP_PACKS") {
        crate::workshop::copy_folder(&pack, &std::path::Path::new(&kept).join("island"));
    }
    book.sound();
}
