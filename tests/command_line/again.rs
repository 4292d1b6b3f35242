//! What was done, done again or taken back: copies of jobs and panels, one's own last change undone, a trial put right, and the
//! shop's lists edited entry by entry.

use std::io::Write as _;
use std::process::Stdio;

use crate::stages;
use crate::workshop::Place;

#[test]
fn a_copied_job_carries_what_was_described_and_nothing_that_was_said() {
    let place = Place::new();
    let book = place.copy(stages::signed(), "mara");
    let photo = place.file("stone.jpg", "a photo");
    book.run(&format!("swatch change quay-desk alba --lot B-17 --photo {photo} --keep-photo-notes")).done();
    let copied = book.run(r#"copy project quay-desk pier-desk --title "Pier desk" --json"#).done().json();
    let left: Vec<&str> =
        copied["not_carried"].as_array().unwrap().iter().filter_map(|l| l.as_str()).collect();
    for what in
        ["the install date", "1 test-panel request", "2 trials", "1 rendering", "steps from stage to stage"]
    {
        assert!(left.iter().any(|l| l.contains(what)), "{what}: {copied}");
    }
    assert!(left.iter().any(|l| l.ends_with("sign-offs")), "{copied}");
    book.run("copy project quay-desk pier-desk --title x").fails(2, "already-there");
    book.run("copy project quay-desk other --title x --client nobody").fails(2, "unknown-person");
    let status = book.run("status pier-desk --json").done().json();
    assert_eq!((&status["stage"], &status["signoffs"]), (&"intake".into(), &serde_json::json!([])));
    // The drawing and the photo are the same bytes; what was chosen is there.
    for file in ["panels/front.outline.json", "swatches/alba.jpg"] {
        let [old, new] = ["quay-desk", "pier-desk"].map(|job| book.bytes(&format!("projects/{job}/{file}")));
        assert_eq!(old, new, "{file}");
    }
    book.run("show pier-desk panel front").done().says(&["4000 K"]);
    // The old trial stands for one of the new job.
    book.run("trial cite pier-desk front quay-desk/neutral").done();
    book.sound();
}

#[test]
fn a_copied_panel_is_a_panel_of_its_own() {
    let place = Place::new();
    let book = place.copy(stages::signed(), "mara");
    book.run(r#"copy panel quay-desk front back --title "Desk back""#)
        .done()
        .says(&["not carried:", "its rendering"]);
    book.run("copy panel quay-desk front back").fails(2, "already-there");
    book.run("copy panel quay-desk side end").fails(2, "unknown-panel");
    book.run("show quay-desk panel back").done().says(&["Desk back", "back.outline.json"]);
    book.run(r#"open pier-bar --title "Pier bar" --client imke --engineer tom --site Pier"#).done();
    book.run("copy panel quay-desk front front --to pier-bar").done();
    book.run("show pier-bar swatch alba").done().says(&["White alabaster"]);
    // A stone of the same name that is another is not mistaken for it in silence.
    book.run(r#"open quay-bar --title "Quay bar" --client imke --engineer tom --site Quay"#).done();
    book.run(r#"swatch add quay-bar alba --stone "Smoke onyx" --material onyx --tone grey --texture cloudy --thickness 20mm --slab-thickness 20mm"#)
        .done();
    book.run("copy panel quay-desk front front --to quay-bar")
        .done()
        .says(&["swatch alba of quay-bar is another one"]);
    book.sound();
}

#[test]
fn ones_own_last_change_is_taken_back_until_it_is_sent() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let before = book.git("rev-parse HEAD");
    let title = |book: &crate::workshop::Desk| book.run("show quay-desk project").done().stdout;
    book.run("project change quay-desk --title One").done();
    book.run("project change quay-desk --title Two").done();
    let photo = place.file("stone.jpg", "a photo");
    book.run(&format!("swatch change quay-desk alba --photo {photo} --keep-photo-notes")).done();
    let dry = book.commits();
    book.run("undo --dry-run").code(0);
    assert_eq!(book.commits(), dry);
    book.run("undo").done().says(&["swatches/alba.jpg"]);
    assert!(!book.path("projects/quay-desk/swatches/alba.jpg").exists());
    // Again, and it is the one before, not the taking back.
    book.run("undo").done();
    assert!(title(&book).contains("One"), "{}", title(&book));
    book.run("undo").done();
    assert_eq!(book.git(&format!("diff --stat {} HEAD", before.trim())), "", "every file is as it was");
    // What somebody else made stays.
    book.run_as("tom", "project change quay-desk --title Three").done();
    book.run("undo").fails(2, "made-by-another");
    // What was signed stays, and the answer names the verb that answers it.
    book.run("note quay-desk late").done();
    book.run("undo").fails(2, "cannot-undo").says(&["underlit note"]);
    book.run("advance quay-desk").done();
    book.run("undo").fails(2, "cannot-undo").says(&["underlit reopen"]);
    book.run(r#"roster add jonas --name "Jonas Hale" --role rep"#).done();
    book.run("undo").fails(2, "cannot-undo").says(&["underlit roster"]);
    // What was sent stays.
    let hub = place.path("hub.git");
    book.git(&format!("init --quiet --bare -b main {}", hub.display()));
    book.git(&format!("remote add origin {}", hub.display()));
    book.run("project change quay-desk --title Four").done();
    book.run("sync").done();
    book.run("undo").fails(2, "nothing-to-undo");
    // A taking back is sent like any change, and a guard would take both.
    book.run("project change quay-desk --title Five").done();
    book.run("undo").done();
    book.run("sync").done();
    assert!(title(&book).contains("Four"));
    book.sound();
}

#[test]
fn a_trial_is_put_right() {
    let place = Place::new();
    let book = place.copy(stages::selection(), "mara");
    book.run(r#"trial change quay-desk warm --rating 4 --seen "the edges stay dull" --cct 2700"#).done();
    book.run("show quay-desk trial warm").done().says(&["2700 K", "the edges stay dull"]);
    book.run("trial change quay-desk warm --rating 4").fails(2, "no-change");
    book.run("trial change quay-desk cold --rating 4").fails(2, "unknown-record");
    book.run("trial change quay-desk warm --rating 6").code(3);
    book.run("trial change quay-desk warm --bare-lx 100 --through-lx 200").code(2);
    book.sound();
}

#[test]
fn the_shops_lists_are_edited_entry_by_entry() {
    let place = Place::new();
    let book = place.copy(stages::drawn(), "mara");
    let drivers: serde_json::Value = serde_json::from_slice(&book.bytes("shop/drivers.json")).unwrap();
    let first = drivers["drivers"][0].clone();
    let id = first["id"].as_str().unwrap();
    let commits = book.commits();
    let changed = book.run(&format!("shop driver change {id} length_mm=201.5 --json")).done().json();
    assert_eq!(book.commits(), commits + 1, "one commit");
    assert_eq!(changed["fields"].as_array().unwrap().len(), 1, "{changed}");
    assert_eq!(changed["fields"][0]["before"], first["length_mm"].to_string());
    assert_eq!(changed["fields"][0]["after"], "201.5");
    book.run(&format!("shop driver change {id} length_mm=201.5")).fails(2, "no-change");
    book.run(&format!("shop driver change {id} rating_w=-3")).code(3);
    book.run(&format!("shop driver change {id} watts=3")).code(3);
    book.run(&format!("shop driver change {id} 47")).fails(2, "field");
    book.run(&format!("shop driver add {id} rating_w=3")).fails(2, "already-there");
    book.run("shop driver change nothing rating_w=3").fails(2, "unknown-record");
    book.run("shop driver add new").fails(2, "missing-argument");
    // A whole entry, from standard input.
    let mut whole = first.clone();
    whole["name"] = "Another one".into();
    let mut command = book.command();
    command
        .args(["shop", "driver", "add", "another", "--from", "-"])
        .stdin(Stdio::piped())
        .stdout(Stdio::null());
    let mut child = command.spawn().unwrap();
    child.stdin.take().unwrap().write_all(whole.to_string().as_bytes()).unwrap();
    assert!(child.wait().unwrap().success());
    book.run("show --shop drivers").done().says(&["Another one"]);
    book.run("shop driver remove another").done();
    // What a panel uses stays in its list.
    let panel: serde_json::Value =
        serde_json::from_slice(&book.bytes("projects/quay-desk/panels/front.json")).unwrap();
    let tape = panel["tape"].as_str().unwrap();
    book.run(&format!("shop tape remove {tape}")).fails(2, "still-named").says(&["panel front of quay-desk"]);
    // Only an owner seals.
    book.run_as("tom", &format!("shop driver change {id} length_mm=50")).fails(2, "role");
    book.sound();
}
