//! Whose word is heard: refusals in any role, evidence beside a person's own signature, overrides by owners, words that
//! would count for nothing.

use crate::stages;
use crate::workshop::{Desk, Place, public_key};

const RENDERING: &str = "sign quay-desk rendering --panel front --yes";
const CHOICE: &str = "sign quay-desk choice --panel front --yes";

#[test]
fn evidence_never_answers_a_persons_own_no() {
    let place = Place::new();
    let scan = place.file("letter.pdf", b"%PDF-1.4 go ahead");
    let evidence = format!(
        r#"evidence quay-desk choice --panel front --of imke --how "letter of 3 September" --scan {scan} --yes"#
    );
    for no in [r#"--reject --comment "too cold""#, r#"--revise --comment "warmer""#, "--withdraw"] {
        let book = place.copy_as(stages::chosen(), no.split(' ').next().unwrap(), "mara");
        if no == "--withdraw" {
            book.run_as("imke", CHOICE).done();
        }
        book.run_as("imke", &format!("{CHOICE} {no}")).done();
        book.unchanged(|b| {
            b.run(&evidence).fails(2, "own-word-stands").says(&[
                "Imke Voss",
                "own signature",
                "sign quay-desk choice",
            ]);
        });
        book.run("advance quay-desk").code(1).says(&["[choice-signed]"]);
        // Her own signature answers it, and paper counts again beside it.
        book.run_as("imke", CHOICE).done();
        book.run(&evidence).done();
        book.run("advance quay-desk").done();
        book.sound();
    }
}

#[test]
fn evidence_that_came_from_another_clone_is_overruled() {
    let place = Place::new();
    let mara = place.copy_as(stages::chosen(), "mara", "mara");
    let hub = place.path("hub.git");
    mara.git(&format!("init --quiet --bare -b main {}", hub.display()));
    mara.git(&format!("remote add origin {}", hub.display()));
    mara.run_as("imke", CHOICE).done();
    mara.run("sync").done();
    let imke = place.copy_as(&mara.at, "imke", "imke");
    imke.run_as("imke", &format!("{CHOICE} --withdraw")).done();
    imke.run_as("imke", "sync").done();
    // Mara has not heard of it, takes a letter in and moves on: the move was made on what she saw.
    let scan = place.file("letter.pdf", b"%PDF-1.4 go ahead");
    mara.run(&format!(
        r#"evidence quay-desk choice --panel front --of imke --how "letter" --scan {scan} --yes"#
    ))
    .done();
    mara.run("sync").code(0);
    for desk in [&mara, &imke] {
        desk.run_as("imke", "sync").code(0);
        desk.run("advance quay-desk").code(1).says(&["withdrew it with their own signature"]);
        let status = desk.run("status quay-desk --json").done().json();
        let standings: Vec<&str> =
            status["signoffs"].as_array().unwrap().iter().map(|s| s["standing"].as_str().unwrap()).collect();
        assert_eq!(standings.iter().filter(|s| **s == "overruled").count(), 1, "{status:#}");
        desk.run("verify").code(0);
        desk.sound();
    }
    let overruled = mara.run("status quay-desk --json").done().json();
    let lines = overruled["signoffs"].as_array().unwrap();
    let digest = lines.iter().find(|s| s["standing"] == "overruled").unwrap()["sha256"].as_str().unwrap();
    mara.run(&format!("verify --explain {digest}")).code(1).says(&["own signature"]);
}

#[test]
fn a_refusal_that_no_rule_asks_for_holds_a_released_job_until_an_owner_overrides_it() {
    for (who, line) in [
        ("imke", r#"sign quay-desk release --yes --reject --comment "stop""#),
        ("mara", r#"sign quay-desk rendering --panel front --as rep --yes --reject --comment "stop""#),
        ("tom", r#"sign quay-desk choice --panel front --yes --revise --comment "stop""#),
    ] {
        let place = Place::new();
        let book = place.copy(stages::released(), "mara");
        let said = book.run_as(who, &format!("{line} --json")).done().json();
        let digest = said["sha256"].as_str().unwrap();
        book.run("status quay-desk").done().says(&["ON HOLD", "“stop”", "[nothing-refused]", "--withdraw"]);
        book.run("board --released").done().says(&["nothing is released"]);
        book.run("verify quay-desk").code(1).says(&["nothing-refused", "“stop”"]);
        book.run("advance quay-desk").code(1).says(&["[nothing-refused]"]);
        let over = format!("sign quay-desk override --refusal {digest} --yes");
        book.unchanged(|b| {
            b.run_as("tom", &format!(r#"{over} --comment "x""#)).fails(2, "role");
            b.run(&over).fails(2, "comment-missing");
            let nobody =
                format!(r#"sign quay-desk override --refusal {} --yes --comment "x""#, "a".repeat(64));
            b.run(&nobody).fails(2, "nothing-to-sign");
        });
        book.run(&format!(r#"{over} --comment "agreed by telephone""#)).done();
        book.run("board --released").done().says(&["may be built"]);
        book.run("status quay-desk").done().says(&["overridden", "agreed by telephone"]);
        book.run("verify quay-desk").code(0).says(&["overridden by Mara Quill", "agreed by telephone"]);
        let pack = place.path("pack");
        book.run(&format!("pack quay-desk --into {}", pack.display())).code(0);
        let told = std::fs::read_to_string(pack.join("README.txt")).unwrap();
        assert!(told.contains("overridden") && told.contains("agreed by telephone"), "{told}");
        // Taken back, the refusal holds again; withdrawn by whoever said it, nothing holds.
        book.run(&format!("{over} --withdraw")).code(2);
        book.run(&format!(r#"{over} --withdraw --comment "no""#)).done();
        book.run("board --released").done().says(&["nothing is released"]);
        let subject = line.split(" --yes").next().unwrap();
        book.run_as(who, &format!("{subject} --withdraw --yes")).done();
        book.run("board --released").done().says(&["may be built"]);
        book.sound();
    }
}

#[test]
fn a_word_that_counts_for_nothing_is_not_taken() {
    let place = Place::new();
    let book = place.copy(stages::signed(), "mara");
    book.unchanged(|b| {
        // An approval in a role that no rule asks.
        b.run_as("imke", "sign quay-desk release --yes --as client").fails(2, "role").says(&[
            "do not ask the client",
            "would not count",
            "--reject",
        ]);
        b.run_as("tom", "sign quay-desk choice --panel front --as engineer --yes").fails(2, "role");
        // In a role that the person does not have.
        b.run_as("imke", r#"sign quay-desk release --yes --as engineer --reject --comment "x""#)
            .fails(2, "role");
        b.run_as("tom", r#"sign quay-desk release --yes --as client --reject --comment "x""#)
            .fails(2, "role");
        b.run_as("mallory", r#"sign quay-desk release --yes --reject --comment "x""#).code(2);
    });
}

#[test]
fn what_was_said_on_two_clones_of_one_person_waits_for_their_own_answer() {
    let place = Place::new();
    let book = place.copy(stages::drawn(), "mara");
    book.run_as("imke", RENDERING).done();
    let first = place.copy_as(&book.at, "first", "imke");
    let second = place.copy_as(&book.at, "second", "imke");
    first.run_as("imke", &format!("{RENDERING} --withdraw")).done();
    second.run_as("imke", RENDERING).done();
    first.git(&format!("fetch --quiet {} main", second.at.display()));
    first.git("merge --quiet -m both FETCH_HEAD");
    let status = first.run("status quay-desk").done();
    status.says(&["overruled", "withdrew it"]);
    first.run_as("imke", RENDERING).done();
    first.run("status quay-desk").done().never_says(&["withdrew it"]);
    first.sound();
}

/// Two clones of a book with a remote; both have it.
fn two_clones(place: &Place, prepared: &std::path::Path) -> (Desk, Desk) {
    let mara = place.copy_as(prepared, "mara", "mara");
    let hub = place.path("hub.git");
    mara.git(&format!("init --quiet --bare -b main {}", hub.display()));
    mara.git(&format!("remote add origin {}", hub.display()));
    mara.run("sync").done();
    (mara.clone(), place.copy_as(&mara.at, "other", "mara"))
}

#[test]
fn nobody_signs_or_moves_on_over_a_question_about_what_is_signed() {
    let place = Place::new();
    let (mara, other) = two_clones(&place, stages::chosen());
    other.run("choose quay-desk front --cct 3000").done();
    other.run("sync").done();
    mara.run("choose quay-desk front --cct 3500").done();
    mara.run("sync").code(4);
    mara.unchanged(|b| {
        b.run_as("imke", CHOICE)
            .fails(4, "open-question")
            .says(&["panel front, light", "underlit resolve quay-desk"]);
    });
    mara.run("advance quay-desk").code(1).says(&["[no-open-conflict]", "[choice-signed]"]);
    // A refusal is never kept waiting.
    mara.run_as("imke", &format!(r#"{CHOICE} --reject --comment "neither""#)).done();
    mara.run_as("imke", &format!("{CHOICE} --withdraw")).done();
    let open = mara.names("projects/quay-desk/conflicts", ".json");
    mara.run(&format!("resolve quay-desk {} --take 1", open[0].trim_end_matches(".json"))).done();
    mara.run("choose quay-desk front --cct 4000").done();
    mara.run_as("imke", CHOICE).done();
    mara.run("advance quay-desk").done();
    mara.sound();
}

#[test]
fn a_question_about_nothing_that_is_signed_keeps_no_signature_waiting_and_shuts_the_gate() {
    let place = Place::new();
    let (mara, other) = two_clones(&place, stages::chosen());
    other.run("project change quay-desk --install-date 2027-04-01").done();
    other.run("sync").done();
    mara.run("project change quay-desk --install-date 2027-05-03").done();
    mara.run("sync").code(4);
    mara.run_as("imke", CHOICE).done();
    mara.run("advance quay-desk").code(1).says(&["[no-open-conflict]"]).never_says(&["[choice-signed]"]);
    let open = mara.names("projects/quay-desk/conflicts", ".json");
    mara.run(&format!("resolve quay-desk {} --take 1", open[0].trim_end_matches(".json"))).done();
    mara.run("advance quay-desk").done();
    mara.run("verify").code(0);
}

#[test]
fn one_hand_in_two_roles_is_told_and_the_owners_rules_may_forbid_it() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    // A key that another person has already is not enrolled, for a new person or an old one.
    book.unchanged(|b| {
        let imke = public_key("imke");
        b.run(&format!(r#"roster add jonas --name "Jonas Hale" --role engineer --public-key {imke}"#))
            .fails(2, "key-of-another")
            .says(&["imke", "jonas"]);
        b.run(&format!("roster add-key tom {imke}")).fails(2, "key-of-another");
    });
    book.run("status quay-desk").done().never_says(&["one hand"]);
    // The engineer becomes the client as well, and signs everything.
    book.run("roster roles tom engineer client").done();
    book.run("project change quay-desk --client tom").done();
    book.run("draw quay-desk front").code(0);
    for line in [
        "choice --panel front --as client",
        "rendering --panel front --as client",
        "rendering --panel front --as engineer",
        "release",
    ] {
        book.run_as("tom", &format!("sign quay-desk {line} --yes")).code(0);
    }
    let told =
        "Tom Reed signs both as client and as engineer on this job: the two approvals are not independent";
    book.run("status quay-desk").done().says(&[told]);
    book.run("verify").code(0).says(&[told]);
    assert_eq!(book.run("verify --json").code(0).json()["projects"][0]["one_hand"][0], told);
    book.run("board --released").done().says(&["may be built"]);
    let mut rules: serde_json::Value = serde_json::from_str(&book.text("rules.json")).unwrap();
    rules["apart"] = serde_json::json!(["client", "engineer"]);
    book.write("rules.json", serde_json::to_string_pretty(&rules).unwrap() + "\n");
    book.run("roster seal").done();
    book.run("board --released").done().says(&["nothing is released"]);
    book.run("status quay-desk").done().says(&["ON HOLD", "[roles-apart]"]);
}
