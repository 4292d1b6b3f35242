//! A film ceiling in zones and a stone floor in a wet room, from the first call to the taking over, by the commands that
//! people type.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::path::Path;

use serde_json::{Value, json};

use crate::bent_column::{open, release, try_stone, words_of};
use crate::stages;
use crate::workshop::{Desk, Place, copy_folder};

/// The owners ask for the client's signature under the finished work.
fn asks_for_the_taking_over(book: &Desk) {
    let accepted = r#""approvals": [
    { "view": "acknowledgement", "topic": "accepted", "role": "client", "people": 1 },"#;
    book.edit("rules.json", "\"approvals\": [", accepted);
    book.run("roster seal").done();
}

/// What is written into the meter cupboard, what is looked at, and the client's signature.
fn taken_over(book: &Desk, place: &Place) {
    book.run("advance hall --to built").done();
    book.run(r#"installed hall --electrician "licence 4471" --code "local code, 2026 edition" --driver-access cupboard --card-kept-at "meter cupboard" --card-access "lift it off" --card-contact "the shop""#)
        .done();
    let photo = place.file("lit.jpg", "a photo");
    book.run(&format!(
        r#"accepted hall --photo {photo} --keep-photo-notes --lowest-dim 1 --flicker-looked-for "by eye and with a camera""#
    ))
    .done();
    book.run("advance hall --to handed-over").code(1).says(&["the client"]);
    book.run_as("imke", "sign hall acknowledgement --topic accepted --as client --yes").done();
    book.run("advance hall --to handed-over").done();
    book.sound();
}

/// The sealed data of a job's pack, which is kept for looking at where `UNDERLIT_KEEP_PACKS` names a folder.
fn packed(book: &Desk, place: &Place, name: &str) -> (Value, String) {
    let into = place.path("pack");
    book.run(&format!("pack hall --into {}", into.display())).done();
    let record = std::fs::read_to_string(into.join("pack.json")).expect("the pack has its record");
    let record: Value = serde_json::from_str(&record).expect("a pack's record is JSON");
    if let Some(kept) = std::env::var_os("UNDERLIT_KEEP_PACKS") {
        copy_folder(&into, &Path::new(&kept).join(name));
    }
    let pages = place.path("pages");
    book.run(&format!("pages {}", pages.display())).done();
    let page = std::fs::read_to_string(pages.join("jobs/hall.html")).expect("the pages have the job");
    (record["data"].clone(), page)
}

/// The zones of the ceiling with their panels.
const ZONES: [(&str, std::ops::RangeInclusive<usize>); 3] =
    [("entrance", 1..=5), ("middle", 6..=17), ("stage", 18..=24)];

fn zone_of(panel: usize) -> &'static str {
    ZONES.iter().find(|(_, panels)| panels.contains(&panel)).expect("every panel has a zone").0
}

#[test]
fn a_film_ceiling_of_24_panels_in_three_zones_from_the_first_call_to_the_taking_over() {
    let place = Place::new();
    let book = place.copy(stages::roster(), "mara");
    asks_for_the_taking_over(&book);
    book.run(r#"open hall --title "Hall" --client imke --engineer tom --site "Quay hall" --mains 230 --code-region iec --install-date 2027-06-14"#)
        .done();
    book.run(r#"swatch add hall sky --stone "Printed sky" --material film --tone blue --texture cloudy --thickness 0.3mm --slab-thickness 0.3mm"#)
        .done();
    let mut schedule = String::from("mark,control zone,size,position\n");
    for panel in 1..=24 {
        let _ = writeln!(schedule, "C{panel:02},{},600x600mm,overhead", zone_of(panel));
    }
    let wrong = place.file("wrong.csv", schedule.replace("middle", "§"));
    let file = place.file("ceiling.csv", schedule);
    book.unchanged(|book| {
        book.run(&format!("panel import hall {wrong} --swatch sky")).fails(3, "schedule").says(&["its zone"]);
    });
    book.run(&format!("panel import hall {file} --swatch sky")).done();
    book.run("advance hall --to sampling").done();
    // A film needs no test panel.
    book.run("advance hall --to selection").done();
    let choose = "--light rgbw --cct 4000 --control colour-desk --face diffused --edges 1,3 --volts 24 --mount framed-front";
    for panel in 1..=24 {
        book.run(&format!("choose hall c{panel:02} {choose}")).done();
    }
    book.run_as("imke", "sign-all hall --as client --yes").done();
    book.run("advance hall --to rendering").done();
    book.run("panel change hall c06 --without zone").done();
    assert!(!book.text("projects/hall/panels/c06.json").contains("zone"));
    book.run("panel change hall c06 --zone middle").done();
    for panel in 1..=24 {
        let feed = 3 + panel % 4;
        book.run(&format!(
            "plan hall c{panel:02} --feed-length {feed}m --driver-at remote --driver-place dry"
        ))
        .done();
    }
    release(&book);

    // Nothing that is led together hangs on a driver or a controller with another zone's, and every panel is fed.
    let (data, page) = packed(&book, &place, "ceiling");
    let mut zones_of_driver: BTreeMap<i64, BTreeSet<String>> = BTreeMap::new();
    let mut zones_of_control: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    let mut fed: BTreeSet<String> = BTreeSet::new();
    for circuit in data["circuits"].as_array().into_iter().flatten() {
        let zone = circuit["zone"].as_str().expect("a circuit of a zone names it").to_owned();
        zones_of_driver.entry(circuit["driver"].as_i64().unwrap()).or_default().insert(zone.clone());
        let control = circuit["control"]["label"].as_str().unwrap().to_owned();
        zones_of_control.entry(control).or_default().insert(zone.clone());
        for lead in circuit["leads"].as_array().into_iter().flatten() {
            let panel = lead["panel"].as_str().unwrap();
            assert_eq!(zone_of(panel.trim_start_matches('c').parse().unwrap()), zone, "{panel}");
            assert_eq!(lead["conductors"].as_array().map(Vec::len), Some(5), "a common and four colours");
            fed.insert(panel.to_owned());
        }
    }
    assert_eq!(fed.len(), 24);
    assert!(zones_of_driver.values().chain(zones_of_control.values()).all(|zones| zones.len() == 1));
    // A controller of four channels takes four addresses; those of one zone are set alike, the last ends the line.
    for text in [
        "zone entrance",
        "zone middle",
        "zone stage",
        "DMX512-A, ANSI E1.11",
        "start 1, to 4",
        "start 5, to 8",
        "start 9, to 12",
        "common, data −, data +",
    ] {
        assert!(page.contains(text), "`{text}` is not on the job's page");
    }
    assert!(!page.contains("Class 2") && page.contains("output of limited power, by its listing"));
    assert!(!page.contains("start 13"), "three zones take twelve addresses");
    // Panels that are alike share a sheet for information, with the names of all.
    let sheets = place.path("pack/sheets");
    let mut names: Vec<String> = std::fs::read_dir(&sheets)
        .expect("the pack has sheets")
        .map(|entry| entry.expect("a file").file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    assert_eq!(names, ["c01-2.svg", "c01.pdf", "c01.svg"]);
    let words =
        ["c01.svg", "c01-2.svg"].map(|name| words_of(&std::fs::read_to_string(sheets.join(name)).unwrap()));
    let words = words.concat();
    assert!(words.contains("C01 and 23 alike") && words.contains("One sheet for 24 panels alike"), "{words}");
    assert!((1..=24).all(|panel| words.contains(&format!("c{panel:02}"))), "{words}");
    // Two of 23 W go on a driver of 60 W; the odd ones of two zones share none.
    assert_eq!(data["drivers"].as_array().map(Vec::len), Some(3 + 6 + 4));
    book.run("panel change hall c07 --zone entrance").done().says(&["now stale"]);
    book.run("status hall").says(&["panels c07 zone: middle was signed, now entrance"]);
    book.run("panel change hall c07 --zone middle").done();

    for panel in 1..=24 {
        book.run(&format!("built hall c{panel:02} --serial SKY-{panel:02} --watts 22 --volts 24")).done();
    }
    taken_over(&book, &place);
}

#[test]
fn a_stone_floor_in_a_wet_room_from_the_first_call_to_the_taking_over() {
    let place = Place::new();
    let book = place.copy(stages::roster(), "mara");
    asks_for_the_taking_over(&book);
    open(
        &book,
        "onyx",
        r#"panel add hall step --title "Shower step" --swatch face --size 900mmx600mm --faces clear --position underfoot --place wet"#,
    );
    try_stone(&book);
    let choose =
        "choose hall step --light static-white --cct 3000 --face clear --edges 1,3 --volts 24 --mount";
    book.run(&format!("{choose} removable-stone")).done();
    book.run_as("imke", "sign-all hall --as client --yes").done();
    book.run("advance hall --to rendering").done();
    // What stands in a wet place is sealed for it, wherever its driver stands.
    let plan = "plan hall step --feed-length 5m --driver-at remote --driver-place";
    book.run(&format!("{plan} dry --tape white-24")).code(1).says(&["sealed for a damp place only"]);
    book.run(&format!("{plan} dry --tape white-24-wet")).done();
    book.run("advance hall").code(1).says(&["panel step is walked on"]);
    book.run(r#"panel change hall step --floor-load 3 --floor-carried-by "a stainless grid on the slab" --floor-slip "class B by DIN 51097, barefoot and wet" --floor-calculation "sheet 4, Oda Brandt, structural engineer" --lead-edge 2 --rib 300mm,0mm:300mm,600mm --rib 600mm,0mm:600mm,600mm"#)
        .done();
    book.run("draw hall step").done();
    let sheet = words_of(&book.text("projects/hall/renderings/step/sheet.svg"));
    for text in [
        "rib behind the panel",
        "x 300 mm",
        "x 600 mm",
        "Walked on",
        "3 kN/m² carried by a stainless grid on the slab",
        "class B by DIN 51097",
        "wet",
    ] {
        assert!(sheet.contains(text), "`{text}` is not on the sheet");
    }
    book.run_as("tom", "sign hall acknowledgement --topic cautions --dry-run --yes")
        .done()
        .says(&["Water: a panel of this job stands in a wet place", "the stone over panel step"]);
    release(&book);

    let (data, page) = packed(&book, &place, "floor");
    assert_eq!(data["panels"][0]["place"], "wet");
    let lead = &data["circuits"][0]["leads"][0];
    let wire: Value = serde_json::from_str(&book.text("shop/wire.json")).expect("the list is JSON");
    let connectors = wire["connectors"].as_array().cloned().unwrap_or_default();
    let at_panel = lead["joints"].as_array().into_iter().flatten().find(|joint| joint["at"] == "at-panel");
    let joint = &at_panel.expect("the lead is joined at the panel")["connector"]["id"];
    let rated = connectors.iter().find(|one| one["id"] == *joint).map(|one| &one["place"]);
    assert_eq!(rated, Some(&json!("wet")), "a joint at a wet panel is sealed");
    assert!(page.contains("DIN 51097"), "the floor's slip class is not on the job's page");

    book.run("built hall step --serial ST-1 --watts 25 --volts 24").done();
    taken_over(&book, &place);
}
