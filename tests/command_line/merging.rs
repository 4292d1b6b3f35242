//! Two clones that changed the same book, brought together by `sync`.

use crate::stages::{self, PROJECT};
use crate::three_people::ThreeClones;

#[test]
fn records_added_on_both_sides_are_both_there() {
    let clones = ThreeClones::at(stages::intake());
    let ThreeClones { mara, imke, .. } = &clones;
    let add = |id: &str| {
        format!(
            r#"swatch add quay-desk {id} --stone "Stone {id}" --material onyx --tone honey --texture banded --thickness 20mm --slab-thickness 20mm"#
        )
    };
    mara.run(&add("honey")).done();
    imke.run(&add("green")).done();
    mara.run("sync").done().says(&["sent"]);
    let synced = imke.run("sync --json").done().json();
    assert_eq!(synced["merged"], true);
    assert_eq!(synced["pushed"], true);
    assert_eq!(synced["questions"], serde_json::json!([]));
    assert_eq!(synced["came_in"][0]["who"], "Mara Quill");
    assert_eq!(synced["changed_files"], serde_json::json!([format!("{PROJECT}/swatches/honey.json")]));
    mara.run("sync").done();
    assert_eq!(
        mara.names(&format!("{PROJECT}/swatches"), ".json"),
        ["alba.json", "green.json", "honey.json"]
    );
    clones.tom.run("sync").done();
    clones.sound();
    // Nothing new: nothing is committed and nothing is sent.
    let head = mara.git("rev-parse HEAD");
    mara.run("sync").done().says(&["nothing new on either side"]);
    assert_eq!(mara.git("rev-parse HEAD"), head);
}

#[test]
fn different_fields_of_one_record_merge() {
    let clones = ThreeClones::at(stages::chosen());
    let ThreeClones { mara, imke, .. } = &clones;
    mara.run("choose quay-desk front --mount framed-front").done();
    imke.run("choose quay-desk front --cct 3000").done();
    mara.run("sync").done();
    imke.run("sync").done().says(&["merged and sent"]).never_says(&["question"]);
    let panel: serde_json::Value =
        serde_json::from_str(&imke.text(&format!("{PROJECT}/panels/front.json"))).unwrap();
    assert_eq!(panel["mount"], "framed-front");
    assert_eq!(panel["light"]["cct_k"], 3000);
    mara.run("sync").done();
    clones.tom.run("sync").done();
    clones.sound();
}

#[test]
fn one_field_changed_on_both_sides_is_asked_about_and_blocks_until_settled() {
    let clones = ThreeClones::at(stages::signed());
    let ThreeClones { mara, imke, tom, .. } = &clones;
    mara.run(r#"panel change quay-desk front --title "Desk, harbour side""#).done();
    imke.run(r#"panel change quay-desk front --title "Desk, street side""#).done();
    mara.run("sync").done();
    // Sync finishes and sends; the field keeps what it was; both edits are kept.
    imke.run("sync").code(4).says(&[
        "question: ",
        "panel front, title: ",
        "merged and sent",
        "nothing is lost; 1 question is open: underlit resolve quay-desk",
    ]);
    assert!(imke.text(&format!("{PROJECT}/panels/front.json")).contains(r#""title": "Desk front""#));
    // It is told once, to each who gets it; afterwards there is nothing to say of it.
    mara.run("sync").code(4).says(&[
        "* question: Quay desk: panel front, title: ",
        "“Desk, harbour side”",
        "? It stays “Desk front” until somebody answers",
    ]);
    mara.run("sync").done();
    imke.run("sync").done();
    mara.run("resolve quay-desk").done().says(&[
        "panel front, title",
        "underlit resolve quay-desk --take 1",
        "Desk, harbour side",
        "Desk, street side",
        "Mara Quill",
        "Imke Voss",
    ]);
    mara.run("status quay-desk").done().says(&["question ", "[no-open-conflict]"]);
    mara.run("board").done().says(&["1 open question;"]);

    tom.run("sync").code(4);
    tom.unchanged(|t| {
        t.run("sign quay-desk release --yes").fails(4, "open-question").says(&["underlit resolve quay-desk"]);
    });
    tom.run("advance quay-desk").code(1).says(&["[no-open-conflict]", "underlit resolve quay-desk"]);

    let open = mara.run("resolve quay-desk --json").done().json();
    let id = open["questions"][0]["id"].as_str().unwrap().to_owned();
    assert_eq!(open["questions"].as_array().unwrap().len(), 1);
    mara.unchanged(|m| {
        m.run(&format!("resolve quay-desk {id}")).fails(2, "missing-argument");
        m.run(&format!("resolve quay-desk {id} --take 3")).fails(2, "no-such-side");
        m.run(&format!("resolve quay-desk {id} --take left")).fails(2, "usage");
        m.run("resolve quay-desk zzz --take 1").fails(2, "unknown-question");
        m.run(&format!("resolve quay-desk {id} --value 17")).code(3).says(&["/title"]);
    });
    mara.run(&format!("resolve quay-desk {} --take 1", &id[..8])).done().says(&["settled"]);
    assert!(mara.names(&format!("{PROJECT}/conflicts"), ".json").is_empty());
    let title = mara.text(&format!("{PROJECT}/panels/front.json"));
    assert!(title.contains("harbour side") || title.contains("street side"), "{title}");
    mara.run("resolve quay-desk").done().says(&["no question is open"]);
    mara.run("history quay-desk --long").done().says(&["settles", "Taken: "]);
    tom.run("sync").done();
    mara.run("sync").done();
    tom.run("sync").done();
    imke.run("sync").done();
    clones.sound();
}

#[test]
fn a_reopen_beats_an_advance_over_a_merge() {
    let clones = ThreeClones::at(stages::signed());
    let ThreeClones { mara, tom, imke, .. } = &clones;
    tom.run("sign quay-desk release --yes").done();
    tom.run("advance quay-desk").done().says(&["to released"]);
    mara.run(r#"reopen quay-desk selection --reason "the client wants another stone""#).done();
    tom.run("sync").done();
    tom.run("board --released").done().says(&["may be built"]);
    mara.run("sync").done();
    tom.run("sync").done();
    imke.run("sync").done();
    for desk in [mara, tom, imke] {
        desk.run("board --released").done().says(&["nothing is released"]);
        assert_eq!(desk.run("status quay-desk --json").done().json()["stage"], "selection");
    }
    clones.sound();
}

#[test]
fn a_push_that_others_beat_is_tried_again() {
    let clones = ThreeClones::at(stages::intake());
    let ThreeClones { mara, imke, tom, .. } = &clones;
    // Three people at once, each with a record of their own.
    let syncs = [(mara, "one"), (imke, "two"), (tom, "three")].map(|(desk, id)| {
        desk.run(&format!(
            r#"swatch add quay-desk {id} --stone "{id}" --material onyx --tone honey --texture plain --thickness 20mm --slab-thickness 20mm"#
        ))
        .done();
        desk.command().arg("sync").stdout(std::process::Stdio::piped()).stderr(std::process::Stdio::piped()).spawn().unwrap()
    });
    for child in syncs {
        crate::workshop::Ran::of("sync", child.wait_with_output().unwrap()).done();
    }
    for desk in [mara, imke, tom] {
        desk.run("sync").done();
        assert_eq!(
            desk.names(&format!("{PROJECT}/swatches"), ".json"),
            ["alba.json", "one.json", "three.json", "two.json"]
        );
    }
    clones.sound();
}

#[test]
fn hand_edits_that_pass_are_taken_in_by_the_next_command() {
    let clones = ThreeClones::at(stages::intake());
    let ThreeClones { mara, imke, tom, .. } = &clones;
    let file = format!("{PROJECT}/project.json");
    mara.edit(&file, r#""title": "Quay desk""#, r#""title": "The quay desk""#);
    mara.run("sync").done().says(&["took in 1 edit made by hand", "sent"]);
    imke.run("sync").done().says(&["came in: Mara Quill — Edited by hand: projects/quay-desk/project.json"]);
    assert!(imke.text(&file).contains("The quay desk"));
    imke.edit(&file, "2027-03-15", "2027-04-19");
    imke.run("swatch change quay-desk alba --lot B-17").done();
    assert_eq!(
        imke.git("log -2 --format=%s"),
        "quay-desk: changes swatch alba\nEdited by hand: projects/quay-desk/project.json\n"
    );
    imke.run("sync").done();
    mara.run("sync").done();
    tom.run("sync").done();
    clones.sound();
}

/// Both orders: who syncs second is asked, and is never stuck.
#[test]
fn what_hangs_together_across_files_is_asked_about_together() {
    let clones = ThreeClones::at(stages::intake());
    let ThreeClones { mara, imke, place, .. } = &clones;
    let (panel, outline) =
        (format!("{PROJECT}/panels/bar.json"), format!("{PROJECT}/panels/bar.outline.json"));
    let drawing = |height| place.file(&format!("{height}.json"), stages::curved(height));
    let removed = "panel remove quay-desk bar";
    let edited = r#"panel change quay-desk bar --title "Long bar""#;
    let (stone_removed, stone_used) =
        ("swatch remove quay-desk beta", "panel change quay-desk bar --swatch beta");
    let drawn = [620, 640].map(|height| format!("panel change quay-desk bar --outline {}", drawing(height)));
    for (one, other) in [
        (removed, edited),
        (edited, removed),
        (stone_removed, stone_used),
        (stone_used, stone_removed),
        (&drawn[0], &drawn[1]),
        // The same drawing, and the stone: the record cannot stay as it was beside a drawing that both have changed.
        (&format!("{} --swatch beta", drawn[0]), &format!("{}; {stone_removed}", drawn[0])),
    ] {
        if !mara.path(&panel).exists() {
            let line =
                format!(r#"panel add quay-desk bar --title "Bar" --swatch alba --outline {}"#, drawing(600));
            mara.run(&line).code(0);
        }
        if !mara.path(&format!("{PROJECT}/swatches/beta.json")).exists() {
            mara.run(r#"swatch add quay-desk beta --stone "Honey onyx" --material onyx --tone honey --texture banded --thickness 20mm --slab-thickness 20mm"#)
                .code(0);
        }
        mara.run("panel change quay-desk bar --swatch alba").code(0);
        mara.run("sync").done();
        imke.run("sync").done();
        mara.run(one).code(0);
        for line in other.split("; ") {
            imke.run(line).code(0);
        }
        mara.run("sync").done();
        imke.run("sync").code(4);
        imke.run("check").done();
        mara.run("sync").code(4);
        let open = imke.run("resolve quay-desk --json").done().json();
        for question in open["questions"].as_array().unwrap() {
            let sides = question["question"]["sides"].as_array().unwrap();
            // Whoever took it out has their way: that side has neither value nor file. A drawing goes to the second,
            // and a panel keeps the stone that is there.
            let gone = sides.iter().position(|s| s["value"].is_null() && s["file"].is_null());
            let id = question["id"].as_str().unwrap();
            let stone = one == stone_removed || other.ends_with(stone_removed);
            let take = if stone { "base".into() } else { (gone.unwrap_or(1) + 1).to_string() };
            imke.run(&format!("resolve quay-desk {id} --take {take}")).done();
        }
        assert_eq!(open["questions"].as_array().unwrap().len(), 1, "{one} / {other}");
        imke.run("check").done();
        if one == removed || other == removed {
            assert!(!imke.path(&panel).exists() && !imke.path(&outline).exists());
        }
        imke.run("sync").done();
        mara.run("sync").done();
    }
    mara.sound();
}

/// What an open question keeps is named by its digest, so two questions may keep the same.
#[test]
fn an_answer_leaves_what_another_question_keeps() {
    let clones = ThreeClones::without_guard(stages::intake());
    let ThreeClones { mara, imke, .. } = &clones;
    mara.run("swatch add quay-desk moss --stone Moss --material onyx --tone green --texture plain --thickness 20mm --slab-thickness 20mm").done();
    mara.run("sync").done();
    imke.run("sync").done();
    for (desk, pixels) in [(mara, "maras"), (imke, "imkes")] {
        let photo = clones.place.file(&format!("{pixels}.jpg"), pixels);
        for swatch in ["alba", "moss"] {
            desk.run(&format!("swatch change quay-desk {swatch} --photo {photo} --keep-photo-notes")).done();
        }
        desk.run("sync").code(if pixels == "maras" { 0 } else { 4 });
    }
    let open = imke.run("resolve quay-desk --json").done().json();
    let ids: Vec<&str> =
        open["questions"].as_array().unwrap().iter().map(|q| q["id"].as_str().unwrap()).collect();
    assert_eq!((ids.len(), imke.names(&format!("{PROJECT}/conflicts"), ".jpg").len()), (2, 2));
    imke.run(&format!("resolve quay-desk {} --take 1", ids[0])).done();
    imke.run("check").done();
    assert_eq!(imke.names(&format!("{PROJECT}/conflicts"), ".jpg").len(), 2);
    // A file that a question keeps and that somebody lost is missed.
    let kept =
        imke.path(&format!("{PROJECT}/conflicts/{}", imke.names(&format!("{PROJECT}/conflicts"), ".jpg")[0]));
    let bytes = std::fs::read(&kept).unwrap();
    std::fs::remove_file(&kept).unwrap();
    imke.run("check").code(3).says(&["[attachment-missing]", "/sides/"]);
    std::fs::write(&kept, bytes).unwrap();
    imke.run(&format!("resolve quay-desk {} --take 2", ids[1])).done();
    assert!(imke.names(&format!("{PROJECT}/conflicts"), "").is_empty());
    imke.run("sync").done();
    imke.sound();
}
