//! Sign-offs and moves that somebody made up, copied or kept too long. None of them moves a project or releases
//! anything: reading shows each with its reason, `check` and every writing verb refuse it with exit code 5.

use serde_json::{Value, json};

use crate::forgery::{bytes, lay, signature};
use crate::stages::{self, PROJECT};
use crate::workshop::{Desk, Place, copy_folder, private_key, public_key};

/// A statement's bytes, the signature beside it, and the code that it is refused with.
type Forged<'a> = (&'a [u8], Option<Vec<u8>>, &'a str);

const SIGNOFFS: &str = "projects/quay-desk/signoffs";
const MOVES: &str = "projects/quay-desk/moves";

/// The statement of tom's release and its signature, made with the tool in a copy of the book.
fn release(place: &Place) -> (Value, Vec<u8>) {
    let book = place.copy_as(stages::signed(), "release", "mara");
    let made = book.run_as("tom", "sign quay-desk release --yes --json").done().json();
    let digest = made["sha256"].as_str().unwrap();
    let value = serde_json::from_str(&book.text(&format!("{SIGNOFFS}/{digest}.json"))).unwrap();
    (value, book.bytes(&format!("{SIGNOFFS}/{digest}.sig")))
}

/// The move from rendering to released, as the tool would make it.
fn the_move(place: &Place) -> Value {
    let book = place.copy_as(stages::released(), "moved", "mara");
    let last = book.names(MOVES, ".json").into_iter().map(|n| book.text(&format!("{MOVES}/{n}")));
    last.map(|t| serde_json::from_str::<Value>(&t).unwrap()).find(|m| m["to"] == "released").unwrap()
}

/// Nothing that lies in this book counts as a release, and the tool says why.
#[track_caller]
fn refused(book: &Desk, file: &str, code: &str) {
    book.unchanged(|b| {
        b.run("status quay-desk").code(0).says(&["rendering since", "[release-signed]", "does not count"]);
        b.run("board --released").done().says(&["nothing is released"]);
        b.run("advance quay-desk --dry-run").fails(5, code).says(&[file]);
        b.run("swatch change quay-desk alba --lot B-17").fails(5, code).says(&[file]);
        b.run("sync --offline").fails(5, code).says(&[file]);
        b.run("check").fails(5, code).says(&[file]);
    });
}

#[test]
fn a_made_up_release() {
    let place = Place::new();
    let (good, good_signature) = release(&place);
    let with = |key: &str, value: Value| {
        let mut other = good.clone();
        other[key] = value;
        bytes(&other)
    };
    let engineer = "underlit-engineer";
    // Bytes, signature, code.
    let imke = with("signer", json!("imke"));
    let other_bytes = with("comment", json!("and fifty more"));
    let other_project = with("project", json!("other"));
    let other_book = with("book", json!("gull"));
    let other_roster = with("roster", json!({ "version": 3, "sha256": "0".repeat(64) }));
    let unknown = with("signer", json!("mallory"));
    let good = bytes(&good);
    let cases: Vec<Forged> = vec![
        // By the client, who is no engineer.
        (&imke, Some(signature("imke", engineer, &imke)), "signer-role"),
        // By a key that is on no roster, in tom's name and in its own.
        (&good, Some(signature("mallory", engineer, &good)), "signer-role"),
        (&unknown, Some(signature("mallory", engineer, &unknown)), "signer-role"),
        // By the client's key in tom's name.
        (&good, Some(signature("imke", engineer, &good)), "signer-role"),
        // Tom's true signature over other bytes.
        (&other_bytes, Some(good_signature.clone()), "signature-wrong"),
        // Tom's true signature, of another purpose.
        (&good, Some(signature("tom", "underlit-client", &good)), "signature-purpose"),
        (&good, Some(signature("tom", "file", &good)), "signature-purpose"),
        // Of another project, another book, another roster: all truly signed by tom.
        (&other_project, Some(signature("tom", engineer, &other_project)), "other-project"),
        (&other_book, Some(signature("tom", engineer, &other_book)), "other-book"),
        (&other_roster, Some(signature("tom", engineer, &other_roster)), "signature-roster"),
        // No signature, and something that is none.
        (&good, None, "signature-missing"),
        (&good, Some(b"tom says yes\n".to_vec()), "signature-malformed"),
        (&good, Some([&good_signature[..], b"\n-- tom\n"].concat()), "signature-malformed"),
    ];
    for (number, (statement, signature, code)) in cases.into_iter().enumerate() {
        let book = place.copy_as(stages::signed(), &format!("case-{number}"), "mara");
        let file = lay(&book, SIGNOFFS, statement, signature.as_deref());
        refused(&book, &file, code);
    }
    // Under a name that is not its digest.
    let book = place.copy_as(stages::signed(), "name", "mara");
    let file = format!("{SIGNOFFS}/{}.json", "a".repeat(64));
    book.write(&file, &good);
    book.write(&file.replace(".json", ".sig"), &good_signature);
    refused(&book, &file, "name-not-digest");
    // And the true one, laid in by hand: it is tom's word wherever it travelled, so it counts.
    let book = place.copy_as(stages::signed(), "true", "mara");
    lay(&book, SIGNOFFS, &good, Some(&good_signature));
    book.run("advance quay-desk").done().says(&["to released"]);
    book.sound();
}

#[test]
fn a_signed_statement_is_never_edited_or_taken_out() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    let name = book.names(SIGNOFFS, ".json").remove(0);
    let file = format!("{SIGNOFFS}/{name}");
    let text = book.text(&file);
    book.write(&file, text.replace("approved", "rejected"));
    book.unchanged(|b| {
        b.run("check").code(5).says(&["[name-not-digest]", &file]);
        b.run("swatch change quay-desk alba --lot 1")
            .fails(5, "add-only")
            .says(&[&file, &format!("git checkout -- {file}")]);
        b.run("sync --offline").fails(5, "add-only");
        b.run("board --released").done().says(&["nothing is released"]);
    });
    std::fs::remove_file(book.path(&file)).unwrap();
    book.unchanged(|b| {
        b.run("swatch change quay-desk alba --lot 1").fails(5, "add-only").says(&[&file]);
        b.run("board --released").done().says(&["nothing is released"]);
    });
    book.git("checkout -- .");
    book.run("board --released").done().says(&["may be built"]);
    book.sound();
}

#[test]
fn statements_copied_to_another_project_or_panel() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    // The whole project under another name.
    let twin = "projects/quay-twin";
    copy_folder(&book.path(PROJECT), &book.path(twin));
    book.edit(&format!("{twin}/project.json"), r#""id": "quay-desk""#, r#""id": "quay-twin""#);
    book.unchanged(|b| {
        b.run("status quay-twin")
            .done()
            .says(&["stage     intake", "it was signed in another project, quay-desk"]);
        let board = b.run("board --released").done().says(&["quay-desk"]);
        assert!(!board.stdout.contains("quay-twin"), "{}", board.stdout);
        b.run("check").code(5).says(&["[other-project]"]);
        b.run("project change quay-desk --note x").code(5).says(&["[other-project]", twin]);
    });
    std::fs::remove_dir_all(book.path(twin)).unwrap();
    // A second panel, alike in everything: what was signed for the first says nothing of it.
    let drawing = place.file("twin.json", stages::curved(600));
    book.run(&format!(r#"panel add quay-desk twin --title "Desk front" --swatch alba --outline {drawing}"#))
        .done();
    book.run("choose quay-desk twin --light static-white --cct 4000 --face diffused --edges 1,3 --volts 24 --mount tray").done();
    book.run("status quay-desk")
        .done()
        .says(&["ON HOLD", "the choice for panel twin is not yet approved by the client"]);
    book.run("board --released").done().says(&["nothing is released"]);
    book.sound();
}

#[test]
fn a_hand_written_move() {
    let place = Place::new();
    let good = the_move(&place);
    let with = |changes: &[(&str, Value)]| {
        let mut other = good.clone();
        for (key, value) in changes {
            other[*key] = value.clone();
        }
        bytes(&other)
    };
    let by_mara = |b: &[u8]| Some(signature("mara", "underlit-move", b));
    let plain = with(&[("signer", json!("mara")), ("role", json!("rep"))]);
    let two = with(&[("signer", json!("mara")), ("role", json!("rep")), ("to", json!("built"))]);
    let silent = with(&[("signer", json!("mara")), ("role", json!("rep")), ("to", json!("selection"))]);
    let client = with(&[("signer", json!("imke")), ("role", json!("client"))]);
    let usurped = with(&[("signer", json!("imke")), ("role", json!("rep"))]);
    let cases: Vec<Forged> = vec![
        (&plain, None, "signature-missing"),
        (&plain, Some(signature("mallory", "underlit-move", &plain)), "signer-role"),
        (&plain, Some(signature("mara", "underlit-rep", &plain)), "signature-purpose"),
        (&two, by_mara(&two), "move-impossible"),
        (&silent, by_mara(&silent), "move-impossible"),
        (&client, Some(signature("imke", "underlit-move", &client)), "move-role"),
        (&usurped, Some(signature("imke", "underlit-move", &usurped)), "signer-role"),
    ];
    for (number, (statement, signature, code)) in cases.into_iter().enumerate() {
        let book = place.copy_as(stages::signed(), &format!("case-{number}"), "mara");
        let file = lay(&book, MOVES, statement, signature.as_deref());
        book.unchanged(|b| {
            b.run("status quay-desk").done().says(&["stage     rendering", "does not count"]);
            b.run("board --released").done().says(&["nothing is released"]);
            b.run("project change quay-desk --note x").fails(5, code).says(&[&file]);
        });
    }
    // A move that a rep truly signed, past a gate that is shut: it names no release, or one that is not there, or one of
    // another view, so the project stays where people's approvals took it.
    let named = |list: Value| with(&[("signer", json!("mara")), ("role", json!("rep")), ("signoffs", list)]);
    let choice = place.copy_as(stages::signed(), "choice", "mara");
    let texts = choice
        .names(SIGNOFFS, ".json")
        .into_iter()
        .map(|n| (n.replace(".json", ""), choice.text(&format!("{SIGNOFFS}/{n}"))));
    let others: Vec<String> =
        texts.filter(|(_, t)| !t.contains(r#""view": "release""#)).map(|(d, _)| d).collect();
    for (number, step) in [plain, named(json!([])), named(json!(others))].into_iter().enumerate() {
        let book = place.copy_as(stages::signed(), &format!("early-{number}"), "mara");
        let file = lay(&book, MOVES, &step, by_mara(&step).as_deref());
        refused(&book, &file, "move-unbacked");
    }
    // Two stages at once by command.
    let book = place.copy_as(stages::signed(), "two", "mara");
    book.unchanged(|b| {
        b.run("advance quay-desk --to built")
            .fails(2, "one-stage-at-a-time")
            .says(&["it can only move to released next"]);
        b.run("advance quay-desk --to handed-over").fails(2, "one-stage-at-a-time");
        b.run("advance quay-desk --to nowhere").code(2);
        b.run_as("imke", "advance quay-desk").code(1);
    });
    book.run_as("tom", "sign quay-desk release --yes").done();
    book.unchanged(|b| b.run_as("imke", "advance quay-desk").fails(2, "role"));
}

#[test]
fn signing_with_the_wrong_key_or_in_the_wrong_role() {
    let place = Place::new();
    let book = place.copy(stages::signed(), "mara");
    let imkes = private_key("imke");
    book.unchanged(|b| {
        b.run_as("tom", &format!("sign quay-desk release --yes --key {imkes}"))
            .code(5)
            .says(&["[key-not-on-roster]", "underlit roster add-key tom"]);
        b.run_as("imke", "sign quay-desk release --yes").fails(2, "role");
        b.run_as("imke", "sign quay-desk release --as engineer --yes").fails(2, "role");
        b.run("sign quay-desk release --yes --me nobody").fails(2, "unknown-person");
        b.run("sign quay-desk release --yes --me tom").code(5).says(&["[key-not-found]"]);
        b.run_as("tom", "sign quay-desk release --yes --key /not/there").code(2);
    });
    let stranger = Desk { person: "mallory", ..book.clone() };
    stranger.unchanged(|b| b.run("sign quay-desk release --yes --me tom").code(5).says(&["[key-not-found]"]));
    book.sound();
}

#[test]
fn a_key_that_was_put_away() {
    let place = Place::new();
    let (toms_key, new_key) = (public_key("tom"), public_key("spare"));

    // Without keeping: what it signed counts no more, and says so; the book itself is still sound.
    let book = place.copy(stages::released(), "mara");
    book.run(&format!("roster add-key tom {new_key}")).done();
    book.run(&format!("roster retire-key tom {toms_key}")).done();
    book.run("status quay-desk")
        .done()
        .says(&["ON HOLD", "tom signed it, and since then the key is retired"]);
    book.run("board --released").done().says(&["nothing is released"]);
    book.unchanged(|b| b.run_as("tom", "sign quay-desk release --yes").code(5).says(&["[key-not-found]"]));
    book.run("roster show").done().says(&["retired", "active"]);
    book.sound();
    // With the new key everything is signed again, and it is released as before.
    let spare = private_key("spare");
    for what in ["rendering --panel front --as engineer", "acknowledgement --topic cautions", "release"] {
        book.run(&format!("sign quay-desk {what} --yes --me tom --key {spare}")).done();
    }
    book.run("board --released").done().says(&["may be built"]);
    book.sound();

    // Keeping all: what it signed before counts, and nothing that it signs afterwards.
    let book = place.copy_as(stages::released(), "kept", "mara");
    let (mut late, under) = {
        let name = book
            .names(SIGNOFFS, ".json")
            .into_iter()
            .find(|n| book.text(&format!("{SIGNOFFS}/{n}")).contains(r#""view": "release""#))
            .unwrap();
        let value: Value = serde_json::from_str(&book.text(&format!("{SIGNOFFS}/{name}"))).unwrap();
        let under = value["roster"].clone();
        (value, under)
    };
    book.run(&format!("roster add-key tom {new_key}")).done();
    book.run(&format!("roster retire-key tom {toms_key} --keep-all --compromised")).done();
    book.run("board --released").done().says(&["may be built"]);
    book.sound();
    book.run("swatch change quay-desk alba --slab-thickness 25mm").done();
    book.run("board --released").done().says(&["nothing is released"]);
    // The thief signs the changed build with the old key, and dates it back to the roster on which it was good.
    late["nonce"] = json!("f".repeat(32));
    late["roster"] = under;
    let late = bytes(&late);
    let file = lay(&book, SIGNOFFS, &late, Some(&signature("tom", "underlit-engineer", &late)));
    book.unchanged(|b| {
        b.run("status quay-desk")
            .done()
            .says(&["tom signed it, and since then the key is marked compromised"]);
        b.run("board --released").done().says(&["nothing is released"]);
        b.run("project change quay-desk --note x").fails(5, "signer-removed").says(&[&file]);
    });
}

#[test]
fn a_role_that_ends_takes_no_word_with_it_unless_the_owners_say_so() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    book.unchanged(|b| {
        b.run("roster roles tom designer").fails(2, "would-lose-force").says(&[
            "tom signed 3 statements",
            "quay-desk: approved the release",
            "--keep-all",
            "--keep-none",
        ]);
    });
    // Nothing that he said is touched by a role that he is given besides.
    let more = place.copy_as(&book.at, "more", "mara");
    more.run("roster roles tom engineer,designer").done();
    more.run("board --released").done().says(&["may be built"]);
    // Kept: what he said counts, and he says nothing new.
    let kept = place.copy_as(&book.at, "kept", "mara");
    kept.run("roster roles tom designer --keep-all").done();
    kept.run("board --released").done().says(&["may be built"]);
    kept.unchanged(|b| b.run_as("tom", "sign quay-desk release --yes").fails(2, "role"));
    kept.sound();
    // Gone without any role, and kept still; until his key turns out to be in other hands.
    kept.run("roster roles tom").done();
    kept.run("board --released").done().says(&["may be built"]);
    let thief = place.copy_as(&kept.at, "thief", "mara");
    thief.run(&format!("roster retire-key tom {} --compromised", public_key("tom"))).done();
    thief.run("board --released").done().says(&["nothing is released"]);
    thief.sound();
    // Let lapse.
    let lapsed = place.copy_as(&book.at, "lapsed", "mara");
    lapsed.run("roster roles tom designer --keep-none").done();
    lapsed.run("board --released").done().says(&["nothing is released"]);
    lapsed.run("status quay-desk").done().says(&["ON HOLD", "the person no longer has that role"]);
    lapsed.sound();
}

#[test]
fn a_stolen_key_from_a_place_in_history_on() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    let good = book.git("rev-parse HEAD").trim().to_owned();
    // The thief signs something new with tom's key; the tool cannot know.
    book.run_as(
        "tom",
        r#"sign quay-desk rendering --panel front --as engineer --reject --comment "no" --yes"#,
    )
    .done();
    book.run("board --released").done().says(&["nothing is released"]);
    let key = public_key("tom");
    book.unchanged(|b| {
        b.run(&format!("roster retire-key tom {key} --compromised --keep-as-of nowhere")).code(6);
        b.run(&format!("roster retire-key tom {key} --keep-all --keep-none")).code(2);
    });
    book.run(&format!("roster retire-key tom {key} --compromised --keep-as-of {good}")).done();
    book.run("status quay-desk").done().says(&["does not count", "marked compromised"]);
    book.run("board --released").done().says(&["may be built"]);
    book.sound();
}
