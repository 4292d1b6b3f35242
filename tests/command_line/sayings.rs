//! What people say of facts: approve, refuse, withdraw, approve as noted, answer on paper, set aside; and going back.

use crate::stages::{self, PROJECT};
use crate::workshop::{DAY, Place};

#[test]
fn a_refusal_shows_at_once_and_blocks() {
    let place = Place::new();
    let book = place.copy(stages::drawn(), "mara");
    let sign = "sign quay-desk rendering --panel front --yes";
    book.unchanged(|b| b.run_as("imke", &format!("{sign} --revise")).fails(2, "comment-missing"));
    book.run_as("imke", &format!(r#"{sign} --revise --comment "the arc is too flat""#))
        .done()
        .says(&["imke revise-and-resubmit as client"]);
    book.run("status quay-desk").done().says(&["refused ", "“the arc is too flat”", "revise-and-resubmit"]);
    book.run("board").done().says(&["1 refused"]);
    book.run("advance quay-desk").code(1).says(&["the arc is too flat", "[rendering-signed]"]);
    let status = book.run("status quay-desk --json").done().json();
    let refused: Vec<_> =
        status["missing"].as_array().unwrap().iter().filter(|f| f["state"] == "rejected").collect();
    assert_eq!(refused.len(), 1, "{status:#}");
    assert_eq!(refused[0]["requirement"], "rendering-signed");
    // What was refused is changed first; only then the client is asked again.
    assert_eq!(refused[0]["people"][0], "mara");
    assert!(
        refused[0]["command"].as_str().unwrap().contains("underlit panel change quay-desk front"),
        "{refused:#?}"
    );

    // Outright rejection by the engineer stands beside it; a later word of the same person takes its place.
    book.run_as("tom", &format!(r#"{sign} --as engineer --reject --comment "edge 3 has no room for tape""#))
        .done();
    book.run("board").done().says(&["2 refused"]);
    book.run_as("imke", sign).done();
    book.run_as("tom", &format!("{sign} --as engineer")).done();
    book.run("board").done().never_says(&["refused"]);
    let status = book.run("status quay-desk --json").done().json();
    let standing: Vec<_> =
        status["signoffs"].as_array().unwrap().iter().map(|s| s["standing"].as_str().unwrap()).collect();
    assert_eq!(standing.iter().filter(|s| **s == "replaced").count(), 2, "{standing:?}");
    book.sound();
}

#[test]
fn what_was_said_can_be_withdrawn_by_who_said_it() {
    let place = Place::new();
    let book = place.copy(stages::signed(), "mara");
    book.unchanged(|b| {
        b.run_as("tom", "sign quay-desk rendering --panel front --as client --withdraw --yes")
            .fails(2, "role");
        b.run_as("tom", "sign quay-desk release --withdraw --yes").fails(2, "nothing-to-withdraw");
    });
    book.run_as("imke", "sign quay-desk rendering --panel front --withdraw --yes")
        .done()
        .says(&["withdrawn"]);
    book.run("status quay-desk").done().says(&[
        "the rendering for panel front is not yet approved by the client",
        "withdrawn: the rendering for panel front",
    ]);
    book.run("advance quay-desk").code(1).says(&["[rendering-signed]"]);
    book.sound();
}

#[test]
fn approved_as_noted_counts_once_the_notes_are_signed_as_met() {
    let place = Place::new();
    let book = place.copy(stages::drawn(), "mara");
    book.run_as("tom", "sign quay-desk rendering --panel front --as engineer --yes").done();
    book.run_as("tom", "sign quay-desk acknowledgement --topic cautions --yes").done();
    let noted = book
        .run_as("imke", r#"sign quay-desk rendering --panel front --as-noted "round the corners" --as-noted "show the logo" --yes --json"#)
        .done()
        .json();
    assert_eq!(noted["decision"], "approved-as-noted");
    let digest = noted["sha256"].as_str().unwrap().to_owned();
    let how = format!("sign quay-desk acknowledgement --panel front --topic notes-met --notes-of {digest}");
    book.run("status quay-desk").done().says(&[
        "approved the rendering for panel front as noted, and the notes are not yet signed as met",
        "round the corners; show the logo",
        &how,
    ]);
    // The engineer cannot release around it.
    book.run_as("tom", "sign quay-desk release --yes").done();
    book.run("advance quay-desk").code(1).says(&["[rendering-signed]"]);
    book.run_as("tom", &format!("{how} --yes")).done().says(&["round the corners"]);
    book.run("status quay-desk").done().never_says(&["notes are not yet"]);
    // The release was over the build as it stood; what it sealed is unchanged, so the gate opens.
    book.run("advance quay-desk").done().says(&["from rendering to released"]);
    book.sound();
}

#[test]
fn a_written_answer_is_evidence_and_is_never_shown_as_a_signature() {
    let place = Place::new();
    let book = place.copy(stages::chosen(), "mara");
    let scan = place.file("letter.pdf", b"%PDF-1.4 the client's letter");
    let how = r#"--how "letter of 3 September" --yes"#;
    let line = format!("evidence quay-desk choice --panel front --of imke {how} --scan {scan}");

    // Not by somebody whom the rules do not name, not for the engineer, not without an openable scan.
    book.unchanged(|b| {
        b.run_as("tom", &line).fails(2, "role");
        let of_tom = format!("evidence quay-desk release --of tom {how} --scan {scan}");
        b.run(&of_tom).fails(2, "evidence-not-allowed");
        let other = place.file("letter.exe", b"MZ");
        b.run(&format!("evidence quay-desk choice --panel front --of imke {how} --scan {other}"))
            .fails(2, "evidence-kind");
    });

    book.run(&line).done();
    book.run("status quay-desk").done().says(&[
        "Imke Voss (client) approved: the choice for panel front — evidence (letter of 3 September) recorded by Mara Quill, fits",
    ]);
    let status = book.run("status quay-desk --json").done().json();
    let choice = &status["signoffs"][0];
    assert_eq!((&choice["evidence"], &choice["signer"]), (&"letter of 3 September".into(), &"mara".into()));
    let met = status["met"].as_array().unwrap();
    let choice = met.iter().find(|f| f["requirement"] == "choice-signed").expect("it counts");
    assert!(choice["what"].as_str().unwrap().contains("by written evidence"), "{choice}");
    let scans = book.names(&format!("{PROJECT}/signoffs"), ".pdf");
    assert_eq!(scans.len(), 1);
    assert_eq!(book.bytes(&format!("{PROJECT}/signoffs/{}", scans[0])), b"%PDF-1.4 the client's letter");
    book.run("history quay-desk")
        .done()
        .says(&["takes in as evidence (letter of 3 September) that Imke Voss (client) approves"]);
    book.sound();

    // Her own word takes the place of what was taken in for her.
    book.run_as(
        "imke",
        r#"sign quay-desk choice --panel front --reject --comment "I never wrote that" --yes"#,
    )
    .done();
    book.run("status quay-desk").done().says(&[
        "refused ",
        "I never wrote that",
        "recorded by Mara Quill, replaced",
    ]);

    // A scan that is not the one that was taken in: the evidence counts no more.
    let scan = format!("{PROJECT}/signoffs/{}", scans[0]);
    book.write(&scan, b"%PDF-1.4 another letter");
    book.run("status quay-desk").done().says(&["does not count"]);
}

#[test]
fn a_waiver_seals_the_very_sentence_and_only_where_one_is_due() {
    let place = Place::new();
    let book = place.copy(stages::chosen(), "mara");
    let waive = "sign quay-desk waiver --panel front --topic cct-not-tried";
    // 4000 K was tried, so there is nothing to waive.
    book.unchanged(|b| b.run_as("imke", &format!("{waive} --yes")).fails(2, "nothing-to-sign"));
    book.run("choose quay-desk front --cct 2700").done();
    book.run("advance quay-desk").code(1).says(&["2700 K was never tried on alba", waive]);
    // Nobody at a terminal and no --yes: nothing is signed unseen.
    book.unchanged(|b| {
        let asked = b.run_as("imke", waive).code(2).says(&["[not-confirmed]", "add --yes"]);
        assert!(asked.stdout.contains("at 2700 K"), "it is shown before it is asked: {}", asked.stdout);
    });
    let signed = book.run_as("imke", &format!("{waive} --yes --json")).done().json();
    let sentence = signed["sentence"].as_str().unwrap();
    assert!(sentence.contains("2700 K") && sentence.contains("White alabaster"), "{sentence}");
    let digest = signed["sha256"].as_str().unwrap();
    let stored = book.text(&format!("{PROJECT}/signoffs/{digest}.json"));
    let stored: serde_json::Value = serde_json::from_str(&stored).unwrap();
    assert!(stored["facts"].as_object().unwrap().values().any(|v| v == sentence), "{stored:#}");
    assert_eq!(stored["time"], format!("{DAY}T08:00:00Z"));
    book.run_as("imke", "sign quay-desk choice --panel front --yes").done();
    book.run("advance quay-desk").done();
    // Another temperature is another sentence: the waiver does not stretch.
    book.run("choose quay-desk front --cct 2200").done();
    book.run("status quay-desk").done().says(&[
        "ON HOLD",
        "2200 K was never tried",
        "2700 K was signed, now 2200 K",
    ]);
    book.sound();
}

#[test]
fn going_back_takes_a_reason_and_a_role_and_holds_the_build() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    book.unchanged(|b| {
        b.run("reopen quay-desk selection").code(2).says(&["--reason"]);
        b.run(r#"reopen quay-desk selection --reason "  ""#).fails(2, "reason-missing");
        b.run(r#"reopen quay-desk built --reason "x""#).fails(2, "not-back");
        b.run_as("imke", r#"reopen quay-desk selection --reason "x""#)
            .fails(2, "role")
            .says(&["imke may not move a project back"]);
        b.run("advance quay-desk --to selection")
            .fails(2, "one-stage-at-a-time")
            .says(&["underlit reopen quay-desk selection"]);
    });
    let moves = book.names(&format!("{PROJECT}/moves"), ".json").len();
    book.run(r#"reopen quay-desk selection --reason "the client wants to see 2700 K again""#)
        .done()
        .says(&["quay-desk goes back from released to selection"]);
    assert_eq!(book.names(&format!("{PROJECT}/moves"), ".json").len(), moves + 1);
    assert_eq!(book.names(&format!("{PROJECT}/moves"), ".sig").len(), moves + 1);
    book.run("board --released").done().says(&["nothing is released"]);
    book.run("history quay-desk --long")
        .done()
        .says(&["back from released to selection", "the client wants to see 2700 K again"]);
    // Nothing changed, so everything that was signed still fits and the way forward is open, stage by stage.
    book.run("advance quay-desk").done().says(&["from selection to rendering"]);
    book.run("advance quay-desk").done().says(&["from rendering to released"]);
    book.sound();
}

#[test]
fn what_is_stale_says_which_fact_changed_from_what_to_what() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    book.run("swatch change quay-desk alba --slab-thickness 30mm").done();
    book.run("status quay-desk").done().says(&["ON HOLD", "20 mm was signed, now 30 mm", "no longer holds"]);
    book.run("board").done().says(&["ON HOLD"]).never_says(&["may be built"]);
    book.run("board --released").done().says(&["nothing is released"]);
    let status = book.run("status quay-desk --json").done().json();
    assert_eq!(status["released"], false);
    assert_eq!(status["holds"], false);
    let changed = status["broken"]
        .as_array()
        .unwrap()
        .iter()
        .flat_map(|f| f["changes"].as_array().unwrap().clone())
        .find(|c| c["fact"] == "swatch.slab.thickness_um" || c["name"] == "swatch.slab.thickness_um");
    assert!(changed.is_some(), "{:#}", status["broken"]);
    // Put back, everything fits again: staleness is about facts and never about time.
    book.run("swatch change quay-desk alba --slab-thickness 20mm").done();
    book.run("board --released").done().says(&["may be built"]);
    book.sound();
}

#[test]
fn built_and_handed_over() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    book.run("advance quay-desk").code(1).says(&["[as-built-recorded]", "underlit built quay-desk front"]);
    book.unchanged(|b| {
        b.run("built quay-desk frunt --serial QD-1 --watts 30 --volts 24")
            .fails(2, "unknown-panel")
            .says(&["front"]);
        b.run("built quay-desk front --serial QD-1 --watts -3 --volts 24").code(2);
    });
    book.run("built quay-desk front --serial QD-001 --watts 31.4 --volts 24").done();
    book.run("advance quay-desk").done().says(&["from released to built"]);
    book.run("advance quay-desk").code(1).says(&["[installation-recorded]", "[service-card-left]"]);
    book.unchanged(|b| b.run("installed quay-desk").fails(2, "missing-argument").says(&["--electrician"]));
    book.run(r#"installed quay-desk --electrician "licence 4471" --code "local code, 2026 edition" --driver-access "cupboard" --card-kept-at "meter cupboard" --card-access "slide the tray out" --card-contact "the shop""#)
        .done();
    book.unchanged(|b| {
        b.run(r#"installed quay-desk --electrician "licence 5512""#)
            .fails(2, "already-there")
            .says(&[r#"recorded "licence 4471", now "licence 5512""#, "--correct"]);
        b.run("installed quay-desk --date 2099-01-01 --correct").fails(2, "date-future");
    });
    book.run(r#"installed quay-desk --electrician "licence 5512" --correct"#).done();
    assert!(book.run("dates quay-desk").done().stdout.contains("every step is done"));
    let status = book.run("status quay-desk --json").done().json();
    assert_eq!(status["dates"], serde_json::Value::Null, "nothing is to spare once it is installed");
    book.run("advance quay-desk").done().says(&["from built to handed-over"]);
    book.unchanged(|b| b.run("advance quay-desk").fails(2, "last-stage"));
    let status = book.run("status quay-desk --json").done().json();
    assert_eq!(status["stage"], "handed-over");
    assert_eq!(status["next"], serde_json::Value::Null);
    book.sound();
}
