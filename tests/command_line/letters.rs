//! A text etched into a panel: its letters are lines of the drawing, and whoever signed the panel without them is asked anew.

use serde_json::json;

use crate::stages;
use crate::workshop::Place;

#[test]
fn letters_are_lines_of_the_drawing() {
    let place = Place::new();
    let book = place.copy(stages::signed(), "mara");
    let etch = r#"panel etch quay-desk front --text "HOUSE 12" --height 60mm"#;
    for (wrong, says) in [
        ("--at 1100mm,300mm", "the letters touch the border or a cut-out"),
        ("--at 600mm,300mm --font-file {drawing}", "this is no font"),
    ] {
        let wrong = wrong.replace("{drawing}", &book.path("rules.json").display().to_string());
        book.unchanged(|book| book.run(&format!("{etch} {wrong}")).fails(2, "letters").says(&[says]));
    }
    book.unchanged(|book| {
        let kanji = r#"panel etch quay-desk front --text "12 月" --height 60mm --at 600mm,300mm"#;
        book.run(kanji).fails(2, "letters").says(&["the font has no letter for `月`"]);
        book.run(&format!("{etch} --at 600mm")).code(2).says(&["write it like 400mm,120mm"]);
        let flat = r#"panel etch quay-desk front --text "HOUSE 12" --height 0mm --at 600mm,300mm"#;
        book.run(flat).fails(2, "letters");
    });
    let commits = book.commits();
    book.run(&format!("{etch} --at 600mm,300mm --align middle --depth 1.5mm")).done().says(&[
        "etched “HOUSE 12” into panel front",
        "closed lines",
        "on the drawing",
    ]);
    assert_eq!(book.commits(), commits + 1, "one commit");
    let panel = book.run("show quay-desk panel front --json").done().json()["record"].clone();
    assert_eq!((&panel["etching"], &panel["etching_depth_mm"]), (&"HOUSE 12".into(), &1.5.into()));
    let drawing = || -> serde_json::Value {
        serde_json::from_str(&book.text("projects/quay-desk/panels/front.outline.json")).expect("JSON")
    };
    // H, U, S, E, 1 and 2 are one line each, O two.
    assert_eq!(drawing()["etchings"].as_array().map(Vec::len), Some(8));
    book.run("status quay-desk")
        .done()
        .says(&["approved the rendering for panel front, but it has changed since"]);
    book.run("draw quay-desk front").done();
    book.run("check").done();
    book.run("panel etch quay-desk front --text TWO --height 30mm --at 200mm,100mm").done();
    assert_eq!(drawing()["etchings"].as_array().map(Vec::len), Some(12));
    let panel = book.run("show quay-desk panel front --json").done().json()["record"].clone();
    assert_eq!(panel["etching"], "HOUSE 12; TWO");
    book.unchanged(|book| {
        let over = "panel etch quay-desk front --text HI --height 30mm --at 200mm,105mm --dry-run";
        book.run(over).done().says(&["cross lines that are etched already, near (2", "--replace"]);
        book.run(&format!("{over} --replace")).done().never_says(&["etched already"]);
    });
    let lines = r#"panel etch quay-desk front --text "QUAY\nDESK" --text 12 --height 30mm --at 1000mm,300mm"#;
    let to_the_right = format!("{lines} --align right");
    book.unchanged(|book| {
        book.run(&format!("{lines} --align centre")).code(2).says(&["one of left, middle, right"]);
        book.run(&format!("{to_the_right} --line-spacing 0mm"))
            .fails(2, "letters")
            .says(&["from line to line"]);
        book.run(&format!("{to_the_right} --line-spacing 12mm"))
            .fails(2, "letters")
            .says(&["cross each other"]);
    });
    book.run(&format!("{to_the_right} --line-spacing 50mm --replace"))
        .done()
        .says(&["etched “QUAY / DESK / 12”"]);
    let starts = |line: usize| drawing()["etchings"][line]["start_mm"].clone();
    // Q, U, A, Y take 2 + 1 + 2 + 1 lines, D, E, S, K 2 + 1 + 1 + 1.
    let [quay, desk, twelve] = [0, 6, 11].map(|line| starts(line)[1].as_f64().expect("a number"));
    assert!(
        quay > 290.0 && (240.0..290.0).contains(&desk) && (190.0..240.0).contains(&twelve),
        "{quay} {desk} {twelve}"
    );
    book.run("panel etch quay-desk front --text II --height 30mm --at 200mm,100mm --replace").done();
    assert_eq!(drawing()["etchings"].as_array().map(Vec::len), Some(2));
    book.sound();
}

/// A rectangle of 600 mm by 400 mm with these etched lines, each from end to end.
fn etched(lines: &[[[f64; 2]; 2]]) -> String {
    let way =
        |[from, to]: &[[f64; 2]; 2]| json!({"start_mm": from, "segments": [{"kind": "line", "to_mm": to}]});
    let corners = [[600, 0], [600, 400], [0, 400], [0, 0]].map(|to| json!({"kind": "line", "to_mm": to}));
    json!({
        "outer": {"start_mm": [0, 0], "segments": corners},
        "etchings": lines.iter().map(way).collect::<Vec<_>>(),
    })
    .to_string()
}

#[test]
fn what_lies_nowhere_on_the_panel_is_refused_and_what_reaches_beyond_is_told() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let add = "panel add quay-desk shelf --swatch alba";
    book.unchanged(|book| {
        for (rib, says) in [
            ("300mm:300mm,400mm", "`300mm:300mm,400mm` is not a rib: write it like 300mm,0mm:300mm,600mm"),
            ("300mm,0mm:300mm,0mm", "has no length: give its two ends"),
        ] {
            book.run(&format!("{add} --size 600mmx400mm --rib {rib}"))
                .code(2)
                .says(&[says])
                .never_says(&["seam"]);
        }
        book.run(&format!(
            "{add} --size 600mmx400mm --rib 300mm,0mm:300mm,400mm --rib 3000mm,0mm:3000mm,400mm"
        ))
        .fails(2, "rib-off-panel")
        .says(&[
            "projects/quay-desk/panels/shelf.json",
            "/ribs/1",
            "rib 2 lies nowhere behind the panel",
            "--rib",
        ]);
        let away =
            place.file("away.json", etched(&[[[10.0, 10.0], [90.0, 10.0]], [[700.0, 0.0], [700.0, 400.0]]]));
        book.run(&format!("{add} --outline {away}"))
            .fails(2, "etching-off-panel")
            .says(&["/etchings/1", "etched line 2 lies nowhere on the panel: it begins at (700, 0) mm"]);
    });
    // A bearer that carries on, and a line that runs out over the edge.
    let over = place.file("over.json", etched(&[[[500.0, 200.0], [700.0, 200.0]]]));
    book.run(&format!("{add} --outline {over} --rib 300mm,-200mm:300mm,200mm --rib 100mm,0mm:100mm,400mm"))
        .done()
        .says(&[
            "note: rib 1 reaches beyond the panel",
            "note: etched line 1 runs off the panel",
            "may chip there",
        ])
        .never_says(&["rib 2"]);
    book.run("status quay-desk")
        .says(&["panel shelf: rib 1 reaches beyond the panel", "etched line 1 runs off"]);
    book.run("check").code(0).says(&[
        "note: projects/quay-desk/panels/shelf.json, /ribs/0: rib 1 reaches beyond",
        "shelf.outline.json, /etchings/0: etched line 1 runs off",
    ]);
    let notes = book.run("check --json").code(0).json()["notes"].clone();
    let off = notes.as_array().into_iter().flatten().filter(|note| note["code"] == "off-panel");
    assert_eq!(off.count(), 2, "{notes}");
    // A smaller outline leaves a rib with nothing before it.
    book.unchanged(|book| {
        book.run("panel change quay-desk shelf --size 90mmx400mm")
            .fails(2, "rib-off-panel")
            .says(&["/ribs/0"]);
    });
    book.run("panel change quay-desk shelf --size 90mmx400mm --without ribs").done();
    // A book that has one from before can be worked on, and is told of it.
    book.edit(
        "projects/quay-desk/panels/shelf.json",
        "\"title\":",
        "\"ribs\": [{\"from_mm\": [900, 0], \"to_mm\": [900, 9]}],\n  \"title\":",
    );
    book.git("commit -qam rib");
    book.run("panel change quay-desk shelf --title Shelf").done();
    book.run("check").code(0).says(&["rib 1 lies nowhere behind the panel"]);
    book.run("panel change quay-desk shelf --without ribs").done();
    book.sound();
}
