//! Whatever people do to one another's records: a sync that ends well leaves a book in which `check` finds nothing wrong,
//! with a question wherever the two sides do not fit together.
//!
//! More: `UNDERLIT_TEST_BOOKS=40 UNDERLIT_TEST_STEPS=20 cargo test --test command_line whole_book`. A book is drawn from its number;
//! `UNDERLIT_TEST_SEED=7` begins elsewhere.

use std::fs;

use serde_json::{Value, json};

use crate::dice::{Dice, given};
use crate::stages::{self, PROJECT, curved};
use crate::three_people::ThreeClones;
use crate::workshop::{Desk, Place};

const SWATCHES: &[&str] = &["alba", "honey"];
const PANELS: &[&str] = &["front", "side"];

/// Something that a person does with the tool; it may be refused.
fn deed(desk: &Desk, place: &Place, dice: &mut Dice) -> String {
    let (swatch, panel) = (dice.one(SWATCHES), dice.one(PANELS));
    let photo = place.file(
        &format!("photo{}.jpg", dice.below(2)),
        [b"\xff\xd8\xff pixels ".as_slice(), &[b'0' + dice.below(3) as u8]].concat(),
    );
    let drawing = place.file("other.json", curved(600 + 10 * dice.below(3) as u32));
    match dice.below(14) {
        0 => format!(
            r#"swatch add quay-desk {swatch} --stone "Stone {}" --material onyx --tone honey --texture banded --thickness 20mm --slab-thickness 20mm --photo {photo}"#,
            dice.below(2)
        ),
        1 | 2 => format!("swatch remove quay-desk {swatch}"),
        3 => format!("swatch change quay-desk {swatch} --photo {photo}"),
        4 => format!(
            r#"panel add quay-desk {panel} --title "Panel" --swatch {swatch} --outline {drawing} --faces diffused"#
        ),
        5 => format!("panel remove quay-desk {panel}"),
        6 => format!("panel change quay-desk {panel} --swatch {swatch}"),
        7 => format!("panel change quay-desk {panel} --outline {drawing}"),
        8 => format!(
            r#"request ask quay-desk first --swatch {swatch} --cct 3000,4000 --face diffused --size 300mmx200mm --address "Quay 4""#
        ),
        9 => "request remove quay-desk first".to_owned(),
        10 => format!(
            r#"trial record quay-desk warm --swatch {swatch} --request first --cct 3000 --face diffused --seen "clouds" --rating 3 --photo {photo}"#
        ),
        11 => "trial remove quay-desk warm".to_owned(),
        12 => format!("draw quay-desk {panel}"),
        _ => {
            by_hand(desk, dice);
            "status quay-desk".to_owned()
        }
    }
}

/// Something that a person does in an editor or a file manager.
fn by_hand(desk: &Desk, dice: &mut Dice) {
    let file = match dice.below(5) {
        0 => "swatches/alba.json",
        1 => "swatches/honey.json",
        2 => "panels/front.json",
        3 => "requests/first.json",
        _ => "trials/warm.json",
    };
    let path = format!("{PROJECT}/{file}");
    let Ok(text) = fs::read_to_string(desk.path(&path)) else { return };
    if dice.below(3) == 0 {
        fs::remove_file(desk.path(&path)).unwrap();
        return;
    }
    let mut record: Value = serde_json::from_str(&text).unwrap();
    match file {
        "requests/first.json" => record["swatches"] = json!([dice.one(SWATCHES)]),
        "panels/front.json" | "trials/warm.json" => record["swatch"] = json!(dice.one(SWATCHES)),
        _ => drop(record.as_object_mut().unwrap().shift_remove("photo")),
    }
    desk.write(&path, format!("{record:#}\n"));
}

/// What a hand edit that is refused leaves behind is put back, as its remedy says.
fn put_back(desk: &Desk) {
    desk.git("checkout -q -- .");
    desk.git("clean -qfd");
}

#[test]
fn a_sync_that_ends_well_leaves_a_book_that_check_passes() {
    let (books, seed) = (given("UNDERLIT_TEST_BOOKS", 1), given("UNDERLIT_TEST_SEED", 3));
    let steps = given("UNDERLIT_TEST_STEPS", 6);
    let mut refused = Vec::new();
    for book in seed..seed + books {
        let mut dice = Dice(book.wrapping_mul(0x9E37_79B9_7F4A_7C15));
        let clones = ThreeClones::without_guard(stages::intake());
        let desks = [&clones.mara, &clones.imke, &clones.tom];
        let mut story = Vec::new();
        for _ in 0..steps {
            let desk = desks[dice.below(3)];
            for _ in 0..1 + dice.below(3) {
                let line = deed(desk, &clones.place, &mut dice);
                let ran = desk.run(&line);
                assert!(ran.code < 7, "book {book}: {line}: {ran:?}");
                story.push(format!(
                    "{}: {line} → {} {}",
                    desk.person,
                    ran.code,
                    ran.stderr.lines().next().unwrap_or_default()
                ));
            }
            if dice.below(5) == 0 {
                let ran =
                    desk.run(&format!("resolve quay-desk --all --take {}", dice.one(&["1", "2", "base"])));
                story.push(format!("{}: resolve → {} {}", desk.person, ran.code, ran.stderr));
            }
            let mut synced = desk.run("sync");
            if synced.code == 3 && !synced.stderr.contains("incoming-refused") {
                story.push(format!("{}: sync → {}", desk.person, synced.stderr));
                put_back(desk);
                synced = desk.run("sync");
            }
            story.push(format!("{}: sync → {} {}", desk.person, synced.code, synced.stderr));
            if [0, 4].contains(&synced.code) {
                let checked = desk.run("check");
                assert_eq!(checked.code, 0, "book {book}:\n{}\n{checked:?}", story.join("\n"));
            } else {
                refused.push(format!("book {book}:\n{}\n", story.join("\n")));
                break;
            }
        }
    }
    assert!(refused.is_empty(), "{} of {books} refused, the first:\n{}", refused.len(), refused[0]);
}

#[test]
fn what_one_takes_out_and_the_other_still_names_is_kept_and_asked_about() {
    let clones = ThreeClones::at(stages::selection());
    let ThreeClones { mara, imke, tom, .. } = &clones;
    mara.run(r#"swatch add quay-desk honey --stone Honey --material onyx --tone honey --texture banded --thickness 20mm --slab-thickness 20mm"#)
        .done();
    mara.run("sync").done();
    imke.run("sync").done();
    // A command does not take out what is named here, and an editor cannot.
    mara.run("swatch remove quay-desk alba")
        .fails(2, "still-named")
        .says(&["panels/front.json", "trials/warm.json"]);
    fs::remove_file(mara.path(&format!("{PROJECT}/swatches/alba.json"))).unwrap();
    mara.run("sync").fails(3, "unknown-reference").says(&["swatches/alba.json is missing"]);
    put_back(mara);
    // Nor does what git took in past the tool go out.
    mara.git(&format!("rm -q {PROJECT}/swatches/alba.json"));
    mara.git("commit -q -m gone");
    mara.run("sync").fails(3, "unknown-reference");
    assert_eq!(mara.git("rev-parse origin/main"), imke.git("rev-parse HEAD"), "nothing was sent");
    mara.git("reset -q --hard HEAD~1");
    // Each is good by itself, and the two together are not, whoever comes second.
    mara.run("swatch remove quay-desk honey").done();
    imke.run("panel change quay-desk front --swatch honey").done();
    mara.run("sync").done();
    imke.run("sync").code(4).says(&["1 question is open: underlit resolve quay-desk"]);
    imke.sound();
    // The stone is in question, and both edits stay as they are meanwhile.
    assert!(imke.text(&format!("{PROJECT}/panels/front.json")).contains("honey"));
    imke.run("resolve quay-desk").done().says(&[
        "swatch honey",
        "in use by panel front (Imke Voss on Tuesday 2026-09-01)",
        "removed: Mara Quill on Tuesday 2026-09-01",
        "also panel front: Swatch: “honey” → “alba”",
        "underlit resolve quay-desk --take 1",
    ]);
    imke.run("status quay-desk").done().says(&[
        "question  swatch honey: removed or kept as it was? It stays as it was until somebody answers",
        "answer    underlit resolve quay-desk",
    ]);
    mara.run("sync").code(4);
    tom.run("sync").code(4);
    // One answer removes both.
    let gone = mara.run("resolve quay-desk --take ours").done().says(&["settled swatch honey"]);
    gone.never_says(&["front"]);
    assert!(mara.text(&format!("{PROJECT}/panels/front.json")).contains("alba"));
    mara.run("sync").done();
    imke.run("sync").done();
    mara.run(r#"swatch add quay-desk honey --stone Honey --material onyx --tone honey --texture banded --thickness 20mm --slab-thickness 20mm"#)
        .done();
    mara.run("panel change quay-desk front --swatch honey").done();
    mara.run("sync").done();
    // What stays as it was may name what was taken out, too: that comes back, and is one question with it.
    imke.run("sync").done();
    tom.run("sync").done();
    mara.run("panel change quay-desk front --swatch alba").done();
    mara.run("swatch remove quay-desk honey").done();
    imke.run(r#"swatch add quay-desk moss --stone Moss --material onyx --tone green --texture veined --thickness 20mm --slab-thickness 20mm"#)
        .done();
    imke.run("panel change quay-desk front --swatch moss").done();
    mara.run("sync").done();
    imke.run("sync").code(4).says(&["1 question is open: underlit resolve quay-desk"]);
    imke.sound();
    assert!(imke.text(&format!("{PROJECT}/panels/front.json")).contains("honey"));
    imke.run("status quay-desk").done().says(&["panel front, swatch: ", "“moss”", "? It stays “honey”"]);
    mara.run("sync").code(4);
    tom.run("sync").code(4);
    for desk in [mara, imke, tom] {
        desk.run("sync").done();
    }
    clones.sound();
}
