//! A person's name is corrected: the roster says the new one, what was signed stays true and says the one of then, and
//! a sheet that was signed keeps what was printed on it.

use crate::stages;
use crate::workshop::{Desk, Place};

fn sheet(book: &Desk) -> String {
    book.text("projects/quay-desk/renderings/front/sheet.svg")
}

#[test]
fn what_was_signed_under_another_name_stays_true() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    book.unchanged(|b| {
        b.run(r#"roster rename nobody --name "No Body""#).fails(2, "unknown-person");
        b.run(r#"roster rename imke --name "Imke Voss""#).fails(2, "same-name");
        b.run(r#"roster rename imke --name """#).code(3);
        b.run_as("tom", r#"roster rename imke --name "Imke Vale""#).fails(2, "role");
        b.run(r#"roster rename imke --name "Imke Vale" --dry-run"#).code(0);
    });
    book.run(r#"roster rename imke --name "Imke Vale""#).done().says(&["roster version 4 is in force"]);
    book.run("roster show").done().says(&["Imke Vale"]).never_says(&["Imke Voss"]);
    let roster: serde_json::Value = serde_json::from_str(&book.text("roster/0004.json")).unwrap();
    assert_eq!(roster["reason"], "Imke Voss is called Imke Vale");
    // Nothing is stale for it.
    book.run("board --released").done().says(&["may be built"]);
    book.run("verify quay-desk").done().says(&[
        "may be built",
        "approved by Imke Vale, then called Imke Voss (client)",
        "signed as client by Imke Vale, then called Imke Voss, under roster version 3",
    ]);
    let choice = book.names("projects/quay-desk/signoffs", ".json").into_iter().find(|n| {
        let text = book.text(&format!("projects/quay-desk/signoffs/{n}"));
        text.contains(r#""view": "choice""#)
    });
    book.run(&format!("verify --explain {}", &choice.unwrap()[..12]))
        .done()
        .says(&["Imke Vale, then called Imke Voss (client) approved"]);
    // What is signed from now on has one name.
    book.run_as("imke", r#"sign quay-desk rendering --panel front --reject --comment "too dark" --yes"#)
        .done();
    book.run("status quay-desk").done().says(&["Imke Vale (client) rejected"]);
    // The signed sheet stays as it was, and says so.
    assert!(sheet(&book).contains("Imke Voss"));
    book.sound();
}

#[test]
fn a_signed_sheet_keeps_its_name_and_an_unsigned_one_is_drawn_anew() {
    let place = Place::new();
    let book = place.copy(stages::signed(), "mara");
    book.run("draw quay-desk front").done().says(&["up to date, revision 1"]).never_says(&["note:"]);
    book.run(r#"roster rename imke --name "Imke Vale""#).done();
    let before = sheet(&book);
    let noted = [
        "up to date, revision 1",
        "the sheet shows Imke Voss, who is Imke Vale on the roster now",
        "--names",
    ];
    book.run("draw quay-desk front").done().says(&noted);
    assert_eq!(sheet(&book), before);
    // Asked for, it is drawn with today's names, and has to be signed again.
    book.run("draw quay-desk front --names").done().says(&["revision 2"]).never_says(&["note:"]);
    assert!(sheet(&book).contains("Imke Vale") && !sheet(&book).contains("Imke Voss"));
    book.run("status quay-desk")
        .done()
        .says(&["Imke Vale, then called Imke Voss (client) approved", "[rendering-signed]"]);
    book.run("draw quay-desk front --names").done().says(&["up to date, revision 2"]);
    // Nobody signed it: nothing is lost by drawing it anew at once.
    let early = place.copy_as(stages::drawn(), "early", "mara");
    early.run(r#"roster rename tom --name "Tom Rede" --reason "a slip of the pen""#).done();
    assert!(sheet(&early).contains("Tom Reed"));
    early.run("draw quay-desk front").done().says(&["drew panel front, revision 2"]);
    assert!(sheet(&early).contains("Tom Rede") && !sheet(&early).contains("Tom Reed"));
    // A name that stands on no sheet changes none.
    early.run(r#"roster rename mara --name "Mara Quille""#).done();
    early.run("draw quay-desk front").done().says(&["up to date, revision 2"]).never_says(&["note:"]);
    early.sound();
}
