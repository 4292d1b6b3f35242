//! Test panels on loan until they are back, and panels for which none is made: what an earlier job showed stands for it, or
//! the client's word.

use crate::stages;
use crate::workshop::{Desk, Place};

#[test]
fn a_loan_is_asked_after_until_it_is_back() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    book.run(r#"request ask quay-desk first --swatch alba --cct 3000,4000 --face diffused --size 300mmx200mm --address "Quay 4" --return-by 2026-09-11"#).done();
    let loans = |book: &Desk| book.run("status quay-desk --json").done().json()["loans"].clone();
    assert_eq!(loans(&book), serde_json::json!([]), "what was not sent is not out");
    book.run("request sent quay-desk first").done();
    assert_eq!(loans(&book)[0]["days_left"], 10);
    book.run("status quay-desk").done().says(&["test panel first is due back on 2026-09-11, in 10 days"]);
    book.run("board").done().never_says(&["due back"]);
    assert!(!book.run("next --all").done().stdout.contains("due back"), "ten days are time enough");
    let (week, late) = (book.on("2026-09-04"), book.on("2026-09-13"));
    week.run("board").done().says(&["quay-desk: test panel first is due back on 2026-09-11, in 7 days"]);
    late.run("next").done().says(&["OVERDUE by 2 days", "underlit request returned quay-desk first"]);
    assert_eq!(late.run("board --json").done().json()["projects"][0]["loans"][0]["days_left"], -2);
    let file = place.path("quay.ics");
    late.run(&format!("dates quay-desk --ics {}", file.display())).done();
    let calendar = std::fs::read_to_string(&file).unwrap().replace("\r\n ", "");
    assert!(calendar.contains("UID:quay-desk.return-first@"), "{calendar}");
    assert!(calendar.contains("DTSTART;VALUE=DATE:20260911"), "{calendar}");
    late.run("request returned quay-desk first --date 2026-08-31").fails(2, "date-order");
    late.run("request returned quay-desk first").done().says(&["test panel first came back on 2026-09-13"]);
    assert_eq!(loans(&late), serde_json::json!([]));
    late.run("request lost quay-desk first --date 2026-09-12").fails(2, "date-order");
    late.sound();
}

#[test]
fn a_test_panel_lost_on_its_way_is_asked_for_again() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    book.run("advance quay-desk").done();
    let ask = |name: &str| {
        format!(
            r#"request ask quay-desk {name} --swatch alba --cct 3000,4000 --face diffused --size 300mmx200mm --address "Quay 4""#
        )
    };
    book.run(&ask("first")).done();
    book.run("request sent quay-desk first").done();
    book.run("request lost quay-desk first").done();
    book.run("status quay-desk").done().says(&["no test panel was asked for to try alba over"]);
    book.run(&ask("second")).done();
    book.run("status quay-desk").done().says(&["second was asked for on"]).never_says(&["first was sent"]);
}

/// An earlier job that tried lot B-17 at 3000 and 4000 K, and a new one of the same lot.
fn two_jobs(place: &Place) -> Desk {
    let book = place.copy(stages::selection(), "mara");
    book.run("swatch change quay-desk alba --lot B-17").done();
    for line in [
        r#"open pier-bar --title "Pier bar" --client imke --engineer tom --site "Pier" --install-date 2027-05-10"#,
        r#"swatch add pier-bar white --stone "White alabaster" --material alabaster --tone white --texture cloudy --thickness 20mm --slab-thickness 20mm"#,
        "panel add pier-bar front --swatch white --size 900x300mm --faces diffused",
        "advance pier-bar",
    ] {
        book.run(line).done();
    }
    book
}

#[test]
fn an_earlier_trial_of_the_same_lot_stands_for_a_test_panel() {
    let place = Place::new();
    let book = two_jobs(&place);
    book.run("trial cite pier-bar front").fails(2, "no-lot");
    book.run("swatch change pier-bar white --lot B-18").done();
    book.run("trial cite pier-bar front").done().says(&["no earlier job tried this lot"]);
    book.run("swatch change pier-bar white --lot b-17").done();
    let found = book.run("trial cite pier-bar front --json").done().json();
    assert_eq!(found["proposals"].as_array().unwrap().len(), 2, "{found}");
    book.run("trial cite pier-bar front quay-desk/cold").fails(2, "unknown-trial");
    book.run("trial cite pier-bar front quay-desk/warm")
        .done()
        .says(&["trial quay-desk/warm stands for panel front"]);
    let asked = book.run("status pier-bar").done();
    asked
        .says(&["the waiver `sampling` for panel front is not yet approved"])
        .never_says(&["test-panel-requested"]);
    let sign = "sign pier-bar waiver --panel front --topic sampling";
    // Another client's job is named by the record's digest alone.
    let shown = book.run_as("imke", &format!("{sign} --dry-run --yes")).code(0);
    assert!(
        shown.stdout.contains("over static-white light at 3000 K") && !shown.stdout.contains("quay-desk"),
        "{shown:?}"
    );
    book.run_as("imke", &format!("{sign} --yes")).done();
    book.run("advance pier-bar --to selection").done();
    book.run("choose pier-bar front --light static-white --cct 3000 --face diffused --edges 1,3 --volts 24 --mount tray")
        .done();
    book.run("status pier-bar --all")
        .done()
        .says(&["was tried on white in an earlier job (trial warm of quay-desk)"]);
    // Another light was not shown by it.
    book.run("choose pier-bar front --cct 2700").done();
    book.run("status pier-bar").done().says(&["2700 K was never tried on white for panel front"]);
    // What it stands on is looked at again.
    book.run("status pier-bar").done().never_says(&["no longer in the book"]);
    book.run("trial remove quay-desk warm").done();
    book.run("status pier-bar")
        .done()
        .says(&["trial warm of quay-desk is no longer in the book as it was cited"]);
    book.sound();
}

#[test]
fn the_clients_word_stands_for_a_test_panel_on_paper_too() {
    let place = Place::new();
    let book = two_jobs(&place);
    book.run("trial waive pier-bar front").code(2);
    book.run(r#"trial waive pier-bar front --because "imke has the same stone at the quay""#).done();
    let scan = place.file("letter.pdf", b"%PDF-1.4 no test panel, please");
    book.run(&format!(r#"evidence pier-bar waiver --panel front --topic sampling --of imke --how letter --scan {scan} --yes"#))
        .done();
    book.run("advance pier-bar --to selection").done();
    // Nothing was seen at any colour temperature, and that is signed already: it is not asked again.
    book.run("choose pier-bar front --light static-white --cct 3000 --face diffused --edges 1,3 --volts 24 --mount tray")
        .done();
    book.run("status pier-bar").done().never_says(&["never tried"]);
    // Other words are another waiver.
    book.run(r#"trial waive pier-bar front --because "in a hurry""#).done();
    book.run("status pier-bar")
        .done()
        .says(&["approved the waiver `sampling` for panel front, but it has changed since"]);
    book.run("trial waive pier-bar front --take-back").done();
    book.run("status pier-bar").done().says(&["no test panel was asked for to try white over"]);
    book.sound();
}

/// A shop whose sealed rules name nobody for the waiver makes its test panels.
#[test]
fn rules_that_name_nobody_leave_the_test_panel_asked_for() {
    let place = Place::new();
    let book = two_jobs(&place);
    let line =
        "    { \"view\": \"waiver\", \"topic\": \"sampling\", \"role\": \"client\", \"people\": 1 },\n";
    book.edit("rules.json", line, "");
    book.run("roster seal").done();
    book.run(r#"trial waive pier-bar front --because "in a hurry""#).fails(2, "rules-silent");
    book.run("status pier-bar").done().says(&["no test panel was asked for to try white over"]);
}
