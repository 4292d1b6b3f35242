//! Sheets and pictures from the command line: every sheet in the manifest, PNG beside, how even the light would be.

use std::fs;

use crate::stages;
use crate::workshop::Place;

const PNG: &[u8] = b"\x89PNG\r\n\x1a\n";

#[test]
fn every_sheet_is_named_in_the_manifest_and_comes_as_png() {
    let place = Place::new();
    let book = place.copy(stages::chosen(), "mara");
    // More edges than the first sheet's table holds.
    let corner = |i: u32| {
        let turn = f64::from(i) * std::f64::consts::TAU / 60.0;
        let share = if i.is_multiple_of(2) { 1.0 } else { 0.8 };
        format!("[{:.3}, {:.3}]", 900.0 * share * turn.cos(), 600.0 * share * turn.sin())
    };
    let lines: Vec<String> =
        (1..=60).map(|i| format!(r#"{{"kind": "line", "to_mm": {}}}"#, corner(i % 60))).collect();
    let ring = format!(r#"{{"outer": {{"start_mm": {}, "segments": [{}]}}}}"#, corner(0), lines.join(", "));
    let ring = place.file("ring.json", ring);
    book.run(&format!("panel change quay-desk front --outline {ring}")).done();
    let out = place.path("pictures").display().to_string();
    let drawn = book.run(&format!("draw quay-desk front --png {out} --dots 60 --json")).done().json();
    let folder = "projects/quay-desk/renderings/front";
    let sheets: Vec<&str> = drawn["sheets"].as_array().unwrap().iter().map(|s| s.as_str().unwrap()).collect();
    assert_eq!(sheets, [format!("{folder}/sheet.svg"), format!("{folder}/sheet-2.svg")]);
    let manifest: serde_json::Value =
        serde_json::from_str(&book.text(&format!("{folder}/manifest.json"))).unwrap();
    assert_eq!(manifest["further_sheets"][0]["file"], "sheet-2.svg");
    let names = ["quay-desk-front-sheet-1.png", "quay-desk-front-sheet-2.png"];
    let first: Vec<Vec<u8>> =
        names.iter().map(|n| fs::read(place.path("pictures").join(n)).unwrap()).collect();
    assert!(first.iter().all(|bytes| bytes.starts_with(PNG)));
    assert_eq!(fs::read_dir(place.path("pictures")).unwrap().count(), 2);
    book.run("draw quay-desk front --dry-run --png elsewhere").done().says(&["dry run: "]);
    assert!(!book.path("elsewhere").exists());
    // Drawn again from what lies in the book, which stays as it is: the very same pictures.
    book.unchanged(|b| {
        b.run(&format!("draw quay-desk front --png {out} --dots 60"))
            .done()
            .says(&["is up to date, revision 1"]);
    });
    for (name, bytes) in names.iter().zip(&first) {
        assert_eq!(fs::read(place.path("pictures").join(name)).unwrap(), *bytes, "{name}");
    }
    book.unchanged(|b| {
        b.run("draw quay-desk front --png projects/quay-desk/pictures").fails(2, "inside-the-book");
        b.run(&format!("draw quay-desk front --png {out} --dots 5000")).fails(2, "out-of-range");
    });
    // A sheet that nobody drew is taken out, in a new revision.
    book.write(&format!("{folder}/sheet-3.svg"), "<svg/>");
    book.git("add .");
    book.git("commit -qm slipped");
    book.run("draw quay-desk front").done().says(&["revision 2"]);
    assert!(!book.path(&format!("{folder}/sheet-3.svg")).exists());
    book.sound();
}

#[test]
fn seams_drawn_by_hand_are_judged_like_proposed_ones() {
    let place = Place::new();
    let book = place.copy(stages::chosen(), "mara");
    book.run("panel change quay-desk front --size 2600mmx500mm").done();
    let route = book.run("split quay-desk front --json").done().json();
    let route = route["routes"][0]["route"].as_str().unwrap().to_owned();
    let split = |seams: &str| format!("split quay-desk front --route {route} {seams}");
    book.unchanged(|b| {
        b.run(&split("--seam 1250mm,0mm")).code(2);
        b.run(&split("--seam 1250mm,0mm:1250mm,300mm"))
            .fails(3, "outline-cannot-split")
            .says(&["no straight cut"]);
        b.run(&split("--seam 20mm,0mm:20mm,500mm --seam 1300mm,0mm:1300mm,500mm"))
            .fails(3, "outline-cannot-split")
            .says(&["sliver"]);
    });
    // An end that is a hair off the border is moved onto it.
    book.run(&split("--seam 1251mm,0.4mm:1249mm,500mm")).done();
    let panel: serde_json::Value =
        serde_json::from_str(&book.text("projects/quay-desk/panels/front.json")).unwrap();
    let end = |name: &str, at: usize| panel["seams"][0][name][at].as_f64().unwrap();
    assert!((end("to_mm", 0) - 1249.0).abs() < 1e-6 && (end("to_mm", 1) - 500.0).abs() < 1e-6, "{panel}");
    assert!(end("from_mm", 1).abs() < 1e-6, "{panel}");
    // It is cut in these two pieces.
    let out = place.path("cut").display().to_string();
    let files = book.run(&format!("cut quay-desk front --into {out} --json")).code(0).json();
    assert_eq!(files["files"].as_array().unwrap().len(), 4, "{files}");
}

#[test]
fn the_cutter_sees_joints_and_marks_and_cuts_neither() {
    let place = Place::new();
    let book = place.copy(stages::chosen(), "mara");
    let drawing = place.path("bar.dxf").display().to_string();
    let line = |layer: &str, (x0, y0): (i32, i32), (x1, y1): (i32, i32)| {
        format!("0\nLINE\n8\n{layer}\n10\n{x0}\n20\n{y0}\n11\n{x1}\n21\n{y1}\n")
    };
    let corners = [(0, 0), (2000, 0), (2000, 400), (0, 400), (0, 0)];
    let border: String = corners.windows(2).map(|c| line("PANEL", c[0], c[1])).collect();
    let words = "0\nTEXT\n8\nMARKS\n10\n1900\n20\n200\n40\n10\n1\nfront\n";
    let all = border + &line("STONE", (850, -5), (850, 405)) + words;
    fs::write(
        &drawing,
        format!("0\nSECTION\n2\nHEADER\n9\n$INSUNITS\n70\n4\n0\nENDSEC\n0\nSECTION\n2\nENTITIES\n{all}0\nENDSEC\n0\nEOF\n"),
    )
    .unwrap();
    let layers = "--outline-layer PANEL --joint-layer STONE --mark-layer MARKS";
    book.run(&format!("panel change quay-desk front --outline {drawing} {layers}")).done();
    let cut = |into: &str| {
        let out = place.path(into);
        book.run(&format!("cut quay-desk front --into {}", out.display())).code(0);
        let mut files: Vec<_> = fs::read_dir(out).unwrap().map(|e| e.unwrap().path()).collect();
        files.sort();
        files
            .into_iter()
            .filter(|f| f.extension().is_some_and(|e| e == "dxf"))
            .map(|f| {
                let read = underlit::shape::ReadOptions {
                    layers: underlit::shape::Layers {
                        outline: Some("OUTLINE".into()),
                        marks: Some("MARKS".into()),
                        stone_joints: Some("JOINTS".into()),
                        ..underlit::shape::Layers::default()
                    },
                    ..underlit::shape::ReadOptions::default()
                };
                let bytes = fs::read(f).unwrap();
                underlit::shape::read(underlit::shape::Format::Dxf, &bytes, &read).unwrap().outline
            })
            .collect::<Vec<_>>()
    };
    let [whole] = &cut("whole")[..] else { panic!("one piece") };
    let joint = whole.stone_joints[0];
    assert_eq!((joint.from.x, joint.to.x, whole.marks.len()), (850.0, 850.0, 1));
    assert!(
        joint.from.y.abs() < 1e-6 && (joint.to.y - 400.0).abs() < 1e-6,
        "cut off at the border: {joint:?}"
    );
    // In pieces: the joint and the mark go with the piece that they lie on.
    let route = book.run("split quay-desk front --json").done().json();
    let route = route["routes"][0]["route"].as_str().unwrap().to_owned();
    book.run(&format!("split quay-desk front --route {route} --seam 1200mm,0mm:1200mm,400mm")).done();
    let pieces = cut("pieces");
    let told: Vec<(usize, usize)> = pieces.iter().map(|p| (p.stone_joints.len(), p.marks.len())).collect();
    assert!(told == [(1, 0), (0, 1)] || told == [(0, 1), (1, 0)], "{told:?}");
}

#[test]
fn how_even_the_light_of_a_panel_would_be() {
    let place = Place::new();
    let book = place.copy(stages::chosen(), "mara");
    let (svg, png) = (place.path("even.svg"), place.path("even.png"));
    book.unchanged(|b| {
        let told = b
            .run(&format!("panel evenness quay-desk front --picture {} --json", png.display()))
            .done()
            .json();
        assert_eq!(told["panel"], "front");
        assert!(told["evenness"]["constant"]["nine_point_uniformity"].is_number(), "{told}");
        b.run(&format!("panel evenness quay-desk front --edges 1,2,3 --picture {}", svg.display()))
            .done()
            .says(&["do not promise its figures", "Light one or two opposite edges"]);
        b.run("panel evenness quay-desk front --edges 99").fails(2, "lit-edges").says(&["no edge 99"]);
        b.run("panel evenness quay-desk front --extracted-share 1").fails(2, "lit-edges");
        b.run("panel evenness quay-desk front --picture even.gif").fails(2, "picture-format");
        b.run("panel evenness quay-desk nothing").fails(2, "unknown-panel");
    });
    assert!(fs::read(png).unwrap().starts_with(PNG));
    assert!(fs::read_to_string(svg).unwrap().contains("quay-desk / front"));
}

/// A drawing as SVG, four metres square, in so large a unit.
fn svg_of(unit: &str, content: &str) -> String {
    format!(
        r#"<svg xmlns="http://www.w3.org/2000/svg" width="4000{unit}" height="4000{unit}" viewBox="0 0 4000 4000">{content}</svg>"#
    )
}

#[test]
fn what_a_drawing_leaves_in_doubt_is_asked_and_what_is_ignored_is_said() {
    let place = Place::new();
    let book = place.copy(stages::chosen(), "mara");
    let arch = r#"<path d="M500,500 C1000,2900 2500,2900 3000,500 Z"/><text x="5" y="5">No <tspan>1926</tspan></text>"#;
    let sound = place.file("arch.svg", svg_of("mm", arch));
    let read = book.run(&format!("calc outline {sound} --sheet 1300mmx3000mm --json")).code(0);
    let read = read.says(&["ignored text \"No 1926\"", "convert the text to outlines"]).json();
    let size = [&read["width_mm"], &read["height_mm"]].map(|v| v.as_f64().expect("a number"));
    assert_eq!((size, &read["fit"]["fits"]), ([2500.0, 1800.0], &false.into()));
    // A drawing in the wrong unit is asked about, and taken where the unit is said.
    let tiny = place.file("tiny.svg", svg_of("mm", arch).replace("4000mm", "4mm"));
    book.unchanged(|b| {
        b.run(&format!("panel change quay-desk front --outline {tiny}"))
            .fails(2, "size-doubtful")
            .says(&["2.5 × 1.8 mm", "--unit mm"]);
    });
    book.run(&format!("panel change quay-desk front --outline {tiny} --unit mm"))
        .code(0)
        .says(&["2500 × 1800 mm"]);
    // Units, gaps and layers: each refusal names the option that settles it.
    let unitless =
        place.file("unitless.svg", svg_of("mm", arch).replace(r#" width="4000mm" height="4000mm""#, ""));
    let open = r#"<path d="M0,0 L900,0 L900,400"/><path d="M0,0.3 L0,400 L900,400"/>"#;
    let open = place.file("open.svg", svg_of("mm", open));
    book.unchanged(|b| {
        b.run(&format!("calc outline {unitless}")).code(3).says(&["--unit mm"]);
        b.run(&format!("calc outline {open}")).code(3).says(&["0.3000 mm apart", "--join 0.301mm"]);
        b.run(&format!("calc outline {open} --join 0.301mm")).done();
        b.run(&format!("calc outline {sound} --outline-layer Stone")).code(3).says(&["--outline-layer NAME"]);
    });
    // A curve in short lines: arcs, with how far they are off.
    let points: Vec<String> = (0..200)
        .map(|i| {
            let turn = f64::from(i) * std::f64::consts::TAU / 200.0;
            format!("{:.4},{:.4}", 1000.0 + 800.0 * turn.cos(), 1000.0 + 500.0 * turn.sin())
        })
        .collect();
    let oval = place.file("oval.svg", svg_of("mm", &format!(r#"<polygon points="{}"/>"#, points.join(" "))));
    book.unchanged(|b| {
        b.run(&format!("calc outline {oval}")).code(0).says(&["200 short lines stand for curves", "--fit"]);
        b.run(&format!("calc outline {oval} --fit=0.2mm"))
            .code(0)
            .says(&["200 short lines became", "mm from what was drawn"]);
        b.run(&format!("calc outline {oval} --fit=0.0001mm"))
            .code(0)
            .says(&["nothing was changed", "--fit=0.0004mm"]);
    });
}

#[test]
fn thin_webs_bends_and_seams_of_rings_are_told() {
    let place = Place::new();
    let book = place.copy(stages::chosen(), "mara");
    let sink = r#"<rect width="1200" height="500"/><circle cx="300" cy="250" r="248.8"/>"#;
    let sink = place.file("sink.svg", svg_of("mm", sink));
    book.run(&format!("panel change quay-desk front --outline {sink}"))
        .done()
        .says(&["only 1.2 mm of material between cut-out 1 and the outline", "common practice"]);
    book.run("panel change quay-desk front --size 900mmx400mm --bent 600mm --formed heat --etching Ferry --position level --veins -45 --up-edge 3")
        .done()
        .says(&["this panel needs an exact rendering"]);
    let panel: serde_json::Value =
        serde_json::from_str(&book.text("projects/quay-desk/panels/front.json")).unwrap();
    assert_eq!((&panel["vein_deg"], &panel["bent"]["axis"]), (&135.into(), &"upright".into()));
    book.run("draw quay-desk front").done();
    let sheet = book.text("projects/quay-desk/renderings/front/sheet.svg");
    for text in
        ["Top view, from the stone", "Voltage", "run at 135°", "to a radius of 600 mm", "Ferry", "edge 3"]
    {
        assert!(sheet.contains(text), "`{text}` is not on the sheet");
    }
    assert!(!sheet.contains("For approval"));
    book.unchanged(|b| {
        b.run("panel change quay-desk front --lead-edge 5").fails(2, "unknown-edge");
    });
    // About the origin, so that seams have negative places; a ring's seams end at its hole.
    let ring = r#"{"outer": {"segments": [{"kind": "circle", "centre_mm": [0, 0], "radius_mm": 900}]}, "cutouts": [{"segments": [{"kind": "circle", "centre_mm": [0, 0], "radius_mm": 600}]}]}"#;
    let ring = place.file("ring.json", ring);
    book.run(&format!("panel change quay-desk front --outline {ring} --without bent,etching,up-edge")).done();
    let seams = "--seam=-900mm,0mm:-600mm,0mm --seam=600mm,0mm:900mm,0mm";
    let routes = book.run("split quay-desk front --json").done().json();
    let split = routes["routes"].as_array().unwrap().iter().find(|r| {
        r["options"].as_array().unwrap().iter().any(|option| option["pieces"].as_array().unwrap().len() == 2)
    });
    let route = split.expect("a route that takes two halves")["route"].as_str().unwrap().to_owned();
    book.run(&format!("split quay-desk front --route {route}"))
        .done()
        .says(&["seam 1: from (", "2 pieces, 2 seams"]);
    book.run(&format!("split quay-desk front --route {route} {seams}"))
        .done()
        .says(&["2 pieces with 2 seams"]);
    book.sound();
}
