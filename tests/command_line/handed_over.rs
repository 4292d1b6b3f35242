//! From the bench to the client's signature under the finished work, by the rules of a shop that asks for all of it, and the
//! papers that stay with the owner.

use crate::stages;
use crate::workshop::{Desk, Place};

/// The owners set limits for the bench, ask for deliveries and for the taking over.
fn strict(book: &Desk) {
    let bench = r#""bench": { "watts_within_pct": 12, "cct_within_k": 100, "least_evenness": 0.6, "photo": true },
  "tried_within_k""#;
    book.edit("rules.json", "\"tried_within_k\"", bench);
    book.edit("rules.json", "\"asks\": [", "\"asks\": [\"delivery\", ");
    let topics = r#""approvals": [
    { "view": "waiver", "topic": "outside-limits", "role": "engineer", "people": 1 },
    { "view": "acknowledgement", "topic": "accepted", "role": "client", "people": 1 },"#;
    book.edit("rules.json", "\"approvals\": [", topics);
    book.run("roster seal").done();
}

#[test]
fn from_the_bench_to_the_clients_signature() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    strict(&book);
    let photo = place.file("lit.jpg", "a photo");
    book.run("built quay-desk front --serial QD-001").fails(2, "missing-argument");
    book.run("built quay-desk front --serial QD-001 --watts 31.4 --volts 24 --nine-points 1,2,3")
        .fails(2, "nine-points");
    book.run("built quay-desk front --serial QD-001 --watts 31.4 --volts 24")
        .done()
        .says(&["not read: the colour temperature"]);
    book.run("advance quay-desk").code(1).says(&[
        "panel front was not read on the bench",
        "--cct …",
        "--photo FILE",
    ]);
    let read = book
        .run(&format!("built quay-desk front --cct 4220 --nine-points 90,95,88,99,100,97,85,93,91 --photo {photo} --keep-photo-notes --json"))
        .done()
        .json();
    assert_eq!(read["bench"]["unread"], serde_json::json!([]), "what was recorded before is kept: {read}");
    assert_eq!(
        read["bench"]["outside"],
        serde_json::json!(["4220 K where 4000 K is chosen (limit 100 K off)"])
    );
    book.run("advance quay-desk").code(1).says(&["outside: panel front, 4220 K"]);
    let sign = "sign quay-desk waiver --panel front --topic outside-limits --yes";
    book.run_as("tom", &format!("{sign} --json")).done();
    // Read anew within the limits, nothing is left to waive.
    book.run("built quay-desk front --cct 4060").done().says(&["accept:", "darkest ÷ brightest 0.85"]);
    book.run("advance quay-desk").done();
    // What was read is held against the model of evenness.
    book.run("panel evenness quay-desk front").done().says(&["1 panel with nine points read on the bench"]);
    let told = book.run("predictions --json").done().json();
    let panel = &told["evenness"]["panels"][0];
    assert_eq!((&panel["serial"], &panel["uniformity_read"]), (&"QD-001".into(), &0.85.into()), "{told}");
    assert!(panel["graded_uniformity"].as_f64().is_some_and(|v| v > 0.0 && v <= 1.0), "{told}");
    // On its way.
    book.run("delivery sent quay-desk first --panel side").fails(2, "unknown-panel");
    book.run("delivery received quay-desk first").fails(2, "unknown-record");
    book.run(r#"delivery sent quay-desk first --panel front --by "pallet 4471""#).done();
    book.run("delivery sent quay-desk first --panel front").fails(2, "already-there");
    book.run("delivery received quay-desk first --date 2026-08-30").fails(2, "date-order");
    book.run(r#"delivery received quay-desk first --damage "the corner""#).fails(2, "damage");
    book.run(r#"delivery received quay-desk first --damage "side: a scratch""#).fails(2, "damage");
    book.run(&format!(r#"delivery received quay-desk first --damage "front: corner chipped" --photo {photo} --keep-photo-notes"#))
        .done()
        .says(&["1 damage"]);
    book.run(r#"installed quay-desk --electrician "licence 4471" --code "local code, 2026 edition" --driver-access cupboard --card-kept-at "meter cupboard" --card-access "slide the tray out" --card-contact "the shop" --card-warranty-months 24 --card-spares "2 m of tape of bin 4, in the meter cupboard""#)
        .done();
    book.run("status quay-desk").done().says(&["panel front arrived damaged with first: corner chipped"]);
    book.run(r#"delivery settled quay-desk first --panel side --how x"#).fails(2, "unknown-record");
    book.run(r#"delivery settled quay-desk first --panel front --how "polished, the client has seen it""#)
        .done();
    // Taken over.
    book.run("advance quay-desk")
        .code(1)
        .says(&["what was looked at when the work was taken over is not recorded"]);
    book.run("accepted quay-desk").fails(2, "missing-argument");
    book.run(&format!(r#"accepted quay-desk --photo {photo} --keep-photo-notes --lowest-dim 5 --flicker-looked-for "by eye and with a camera" --remaining "seal the joint""#))
        .done()
        .says(&["1 thing is still to be done"]);
    // The client is asked for it on the same page as for everything else.
    let asked = book.run("packet quay-desk --dry-run --json").done().json();
    let items = asked["items"].as_array().unwrap();
    assert!(items.iter().any(|i| i["subject"]["topic"] == "accepted" && i["open"] == true), "{asked}");
    let shown = book.run_as("imke", "sign quay-desk acknowledgement --topic accepted --yes").done();
    shown.says(&["dimmed down to 5 %", "none was seen", "seal the joint"]);
    book.run("advance quay-desk").done();
    book.run("accepted quay-desk --nothing-remains").done();
    book.run("status quay-desk")
        .done()
        .says(&["approved the acknowledgement `accepted`, but it has changed since"]);
    // Papers.
    let into = place.path("prints");
    book.run(&format!("label quay-desk --manual --into {}", into.display())).done();
    let sheet = std::fs::read_to_string(into.join("quay-desk-operation-and-maintenance.svg")).unwrap();
    for words in [
        "Operation and maintenance",
        "24 months from 2026-09-01, to 2028-09-01",
        "bin 4",
        "QD-001",
        "Taken over",
    ] {
        assert!(sheet.contains(words), "no {words} on the sheet");
    }
    book.sound();
}

/// What a shop's rules do not ask, and nobody recorded, is asked of nobody: jobs of before go on as they did.
#[test]
fn a_shop_that_asks_for_nothing_more_goes_on_as_before() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    book.run("built quay-desk front --serial QD-001 --watts 31.4 --volts 24")
        .done()
        .never_says(&["accept:", "not read"]);
    book.run("advance quay-desk").done();
    book.run(r#"installed quay-desk --electrician "licence 4471" --code "local code" --driver-access cupboard --card-kept-at "meter cupboard" --card-access "slide the tray out" --card-contact "the shop""#)
        .done();
    book.run("advance quay-desk").done();
    book.run("status quay-desk").done().says(&["stage     handed-over"]);
}

#[test]
fn the_opening_that_is_chosen_stands_on_the_service_card() {
    let place = Place::new();
    let book = place.copy(stages::drawn(), "mara");
    book.run("choose quay-desk front --opening tray --opening-edge 9").fails(2, "unknown-edge");
    book.run("choose quay-desk front --opening-edge 1").code(2);
    book.run("choose quay-desk front --opening tray --opening-edge 1")
        .done()
        .says(&["opened tray, over edge 1"]);
    let into = place.path("prints");
    book.run(&format!("label quay-desk --panel front --into {}", into.display())).done();
    let card = std::fs::read_to_string(into.join("quay-desk-front-service-card.svg")).unwrap();
    assert!(card.contains("over edge 1"), "{card}");
    book.run("label quay-desk --manual").fails(2, "not-installed");
}
