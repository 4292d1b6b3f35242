//! Notes: added by anybody, shown where they belong, never changed, and never in anybody's way.

use crate::stages;
use crate::three_people::ThreeClones;
use crate::workshop::Place;

const FOLDER: &str = "projects/quay-desk/notes";

#[test]
fn a_note_is_shown_beside_what_it_is_on_and_bears_on_nothing() {
    let place = Place::new();
    let book = place.copy(stages::drawn(), "mara");
    let facts = |b: &crate::workshop::Desk| {
        let status = b.run("status quay-desk --json").done().json();
        (status["missing"].clone(), status["signoffs"].clone(), status["stage"].clone())
    };
    let before = facts(&book);
    book.run(r#"note quay-desk "the client is away until 4 January""#).done().says(&["noted on quay-desk"]);
    book.run_as("tom", r#"note quay-desk --on panel/front "3 mm more at the left""#).done();
    assert_eq!(facts(&book), before, "a note seals nothing and opens nothing");
    book.run("status quay-desk").done().says(&[
        "noted:",
        "Mara Quill: “the client is away until 4 January”",
        "on panel front: “3 mm more at the left”",
    ]);
    let shown = book.run("show quay-desk panel front --json").done().json();
    assert_eq!(shown["notes"].as_array().unwrap().len(), 1);
    assert_eq!(shown["notes"][0]["text"], "3 mm more at the left");
    book.run("show quay-desk project").done().says(&["away until"]).never_says(&["3 mm more"]);
    book.run("history quay-desk").done().says(&["notes on panel front: 3 mm more at the left"]);
    book.run("show quay-desk").done().says(&["note"]);
    let pages = place.path("pages");
    book.run(&format!("pages {}", pages.display())).done();
    let page = std::fs::read_to_string(pages.join("jobs/quay-desk.html")).unwrap();
    assert!(page.contains("noted on panel front: “3 mm more at the left”"), "{page}");
    book.sound();
}

#[test]
fn wrong_notes_are_refused_and_nothing_is_written() {
    let place = Place::new();
    let book = place.copy(stages::drawn(), "mara");
    book.unchanged(|b| {
        b.run(r#"note quay-desk --on panel/frnt "x""#).fails(2, "unknown-record").says(&["front"]);
        b.run(r#"note quay-desk --on lamp/front "x""#).fails(2, "unknown-record");
        b.run(r#"note nowhere "x""#).code(2);
        b.run(r#"note quay-desk " ""#).code(3);
        b.run(r#"note quay-desk "dry" --dry-run"#).done().says(&["dry run"]);
    });
}

#[test]
fn two_notes_made_at_once_are_both_kept_and_one_is_never_changed() {
    let clones = ThreeClones::at(stages::drawn());
    let (book, other) = (&clones.mara, &clones.tom);
    book.run(r#"note quay-desk --on panel/front "one""#).done();
    other.run(r#"note quay-desk --on panel/front "two""#).done();
    for desk in [book, other, book] {
        desk.run("sync").code(0);
    }
    for desk in [book, other] {
        desk.run("status quay-desk").says(&["“one”", "“two”"]);
        assert_eq!(desk.run("status quay-desk --json").json()["questions"].as_array().unwrap().len(), 0);
    }
    let name = &book.names(FOLDER, ".json")[0];
    let path = format!("{FOLDER}/{name}");
    let text = book.text(&path);
    book.write(&path, text.replace("\"text\": \"", "\"text\": \"not "));
    book.run("check").fails(5, "add-only").says(&["a note is never changed", name]);
    let said = book.run("sync");
    assert!(said.code != 0, "{said:?}");
    said.says(&["[add-only]", "a note is never changed", name]);
}

#[test]
fn a_check_that_remembers_holds_a_note_against_the_commit_that_the_branch_stands_at() {
    let place = Place::new();
    let book = place.copy(stages::drawn(), "mara");
    book.run(r#"note quay-desk "one""#).done();
    let path = format!("{FOLDER}/{}", book.names(FOLDER, ".json")[0]);
    book.write(&path, book.text(&path).replace("\"text\": \"", "\"text\": \"not "));
    book.git("commit --quiet --all --message changed");
    // Long enough for no clock to take a change for none: from now on the project is remembered as sound.
    std::thread::sleep(std::time::Duration::from_millis(130));
    for _ in 0..2 {
        book.run("check").done().says(&["nothing wrong"]);
    }
    book.git("reset --quiet --soft HEAD~1");
    for _ in 0..2 {
        book.run("check").fails(5, "add-only").says(&["a note is never changed", &path]);
    }
    book.git("reset --quiet --hard");
    book.run("check").done();
    std::fs::remove_dir_all(book.at.join("projects/quay-desk")).unwrap();
    book.run("check").fails(5, "add-only").says(&["a note is never taken out", &path]);
}
