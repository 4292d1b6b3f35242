//! A text etched into a panel: its letters are lines of the drawing, and whoever signed the panel without them is asked anew.

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
    book.run(&format!("{etch} --at 600mm,300mm --centred --depth 1.5mm")).done().says(&[
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
    book.run("panel etch quay-desk front --text II --height 30mm --at 200mm,100mm --replace").done();
    assert_eq!(drawing()["etchings"].as_array().map(Vec::len), Some(2));
    book.sound();
}
