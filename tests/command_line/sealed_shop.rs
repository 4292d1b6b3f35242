//! The roster and what its owners seal: shop files changed by hand, rosters turned back, books exchanged, several
//! owners.

use std::fs;
use std::path::Path;

use crate::forgery::signature;
use crate::stages;
use crate::three_people::ThreeClones;
use crate::workshop::{Desk, Place, private_key, public_key, underlit, words};

#[test]
fn rules_changed_by_hand_count_for_nothing_until_an_owner_seals_them() {
    let clones = ThreeClones::without_guard(stages::drawn());
    let ThreeClones { mara, imke, tom, .. } = &clones;
    let loosened = |desk: &Desk| {
        desk.edit("rules.json", r#"{ "view": "rendering", "role": "client", "people": 1 },"#, "");
    };
    loosened(tom);
    tom.unchanged(|t| {
        for line in [
            "status quay-desk",
            "board",
            "advance quay-desk",
            "sync",
            "sign quay-desk release --yes",
            "allowed-signers",
        ] {
            t.run(line).fails(5, "shop-not-sealed").says(&[
                "rules.json",
                "underlit roster seal",
                "git checkout -- rules.json",
            ]);
        }
        t.run("check").fails(5, "shop-not-sealed");
        // Sealing takes an owner.
        t.run("roster seal").fails(2, "role").says(&["ask mara"]);
    });
    // Pushed past the tool, it stops at everybody else's next sync, with a name to it.
    tom.git("commit -q -a -m loosen");
    tom.run("sync").fails(5, "shop-not-sealed");
    assert_ne!(tom.git("rev-parse HEAD"), tom.git("rev-parse origin/main"), "nothing was sent");
    tom.git("push -q origin main");
    let before = (imke.git("rev-parse HEAD"), imke.text("rules.json"));
    imke.run("sync").fails(5, "incoming-refused").says(&[
        "tom",
        "[shop-not-sealed]",
        "stays at its last good state",
    ]);
    assert_eq!(before, (imke.git("rev-parse HEAD"), imke.text("rules.json")));
    imke.run("status quay-desk").done();
    // The owner looks at it and seals it, and only then it holds for everybody.
    loosened(mara);
    mara.run(r#"roster seal --reason "the client need not sign drawings""#)
        .done()
        .says(&["roster version 4 is in force"]);
    mara.run("status quay-desk").done().never_says(&["is not yet approved by the client"]);
    mara.run("sync").done();
    imke.run("sync").done();
    tom.run("sync").done();
    imke.run("history").done().says(&["Roster version 4: the client need not sign drawings"]);
    clones.sound();
}

#[test]
fn every_sealed_file_is_held_to_its_seal() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    for file in [
        "book.json",
        "rules.json",
        "shop/calendar.json",
        "shop/controls.json",
        "shop/drivers.json",
        "shop/lights.json",
        "shop/routes.json",
        "shop/wire.json",
    ] {
        let sealed = book.bytes(file);
        book.write(file, [&sealed[..], b"\n"].concat());
        book.run("status quay-desk").fails(5, "shop-not-sealed").says(&[file]);
        fs::remove_file(book.path(file)).unwrap();
        if file != "book.json" {
            book.run("status quay-desk").code(6).says(&[file]);
        }
        book.write(file, sealed);
    }
    // What is wrong in itself is not sealed either.
    let sealed = book.bytes("rules.json");
    book.edit("rules.json", r#""tried_within_k": 150"#, r#""tried_within_k": -1"#);
    book.unchanged(|b| b.run("roster seal").code(3).says(&["rules.json", "/tried_within_k"]));
    book.write("rules.json", sealed);
    book.sound();
}

/// Takes the newest roster version out, as somebody would who wants an older one back.
fn turn_back(book: &Desk, version: u32) {
    for name in book.names("roster", "") {
        if name.starts_with(&format!("{version:04}.")) {
            fs::remove_file(book.path(&format!("roster/{name}"))).unwrap();
        }
    }
}

#[test]
fn a_roster_turned_back_is_found_by_the_pin() {
    let clones = ThreeClones::without_guard(stages::intake());
    let ThreeClones { mara, imke, tom, .. } = &clones;
    turn_back(tom, 3);
    tom.unchanged(|t| {
        for line in ["status quay-desk", "board", "sync", "roster show"] {
            t.run(line).fails(5, "roster-rolled-back").says(&["version 2", "version 3"]);
        }
    });
    tom.git("commit -q -a -m back");
    tom.git("push -q origin main");
    let head = imke.git("rev-parse HEAD");
    imke.run("sync").code(5).says(&["[incoming-refused]", "tom"]);
    assert_eq!(head, imke.git("rev-parse HEAD"));
    imke.run("board").done();
    // A version that names another before it, one that skips a number, one that nobody signed.
    let place = Place::new();
    let text = mara.text("roster/0003.json");
    for (number, (bytes, person, code)) in [
        (text.replace("\"previous\": \"", "\"previous\": \"0"), "mara", "schema"),
        (text.replace("\"version\": 3", "\"version\": 4"), "mara", "roster-previous"),
        (text.replace("\"version\": 3", "\"version\": 5"), "mara", "roster-step"),
    ]
    .into_iter()
    .enumerate()
    {
        let book = place.copy_as(stages::intake(), &format!("case-{number}"), "mara");
        book.write("roster/0004.json", &bytes);
        book.write(
            &format!("roster/0004.{person}.sig"),
            signature(person, "underlit-roster", bytes.as_bytes()),
        );
        book.unchanged(|b| {
            let ran = b.run("status quay-desk");
            let expected = if code == "schema" { 3 } else { 5 };
            ran.fails(expected, code).says(&["roster/0004.json"]);
        });
    }
    // A well-formed next version: signed by nobody, by a stranger, by one who is no owner.
    let digest = underlit::digest::Sha256Digest::of(text.as_bytes());
    let mut next: serde_json::Value = serde_json::from_str(&text).unwrap();
    next["version"] = 4.into();
    next["previous"] = digest.hex().into();
    for person in next["people"].as_array_mut().unwrap() {
        if person["id"] == "imke" {
            person["roles"] = serde_json::json!(["client", "engineer", "owner"]);
        }
    }
    let next = crate::forgery::bytes(&next);
    for (number, (signer, claims, code)) in [
        (None, "", "roster-threshold"),
        (Some("mallory"), "mara", "roster-signature"),
        (Some("tom"), "tom", "roster-signature"),
        // Herself an owner only by the very version that she signs.
        (Some("imke"), "imke", "roster-threshold"),
    ]
    .into_iter()
    .enumerate()
    {
        let book = place.copy_as(stages::intake(), &format!("next-{number}"), "mara");
        book.write("roster/0004.json", &next);
        if let Some(signer) = signer {
            book.write(&format!("roster/0004.{claims}.sig"), signature(signer, "underlit-roster", &next));
        }
        book.unchanged(|b| {
            b.run("status quay-desk").fails(5, code).says(&["roster/0004.json"]);
            b.run("project change quay-desk --note x").fails(5, code);
        });
    }
}

#[test]
fn a_sync_that_only_looks_or_is_refused_leaves_the_pin() {
    let clones = ThreeClones::without_guard(stages::intake());
    let ThreeClones { mara, imke, tom, .. } = &clones;
    mara.run(&format!("roster add-key tom {}", public_key("spare"))).done();
    mara.run("sync").done();
    imke.run("sync --dry-run").done().says(&["dry run: "]);
    imke.run("board").done();
    // A roster that comes together with something that does not hold is not believed either.
    mara.write("projects/quay-desk/swatches/alba.json", "{}\n");
    mara.git("commit -q -a -m broken");
    mara.git("push -q origin main");
    imke.run("sync").code(5).says(&["[incoming-refused]", "alba.json"]);
    imke.run("board").done();
    mara.git("revert --no-edit HEAD");
    mara.run("sync").done();
    imke.run("sync").done();
    tom.run("sync").done();
    clones.sound();
}

#[test]
fn another_book_in_its_place() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let other = place.path("other");
    let made = underlit("mara")
        .args(words(&format!(
            r#"init {} --id tern --shop "Tern Point Lightworks" --owner mara --owner-name "Mara Quill" --roles rep --key {}"#,
            other.display(),
            private_key("mara")
        )))
        .env("UNDERLIT_CLOCK", "2026-09-02T08:00:00Z")
        .output()
        .unwrap();
    assert!(made.status.success());
    // Same name, same owner, same key; another first roster.
    fs::remove_dir_all(book.path("roster")).unwrap();
    crate::workshop::copy_folder(&other.join("roster"), &book.path("roster"));
    book.unchanged(|b| {
        for line in ["status quay-desk", "board", "sync --offline", "advance quay-desk"] {
            b.run(line).fails(5, "book-exchanged").says(&["its fingerprint is", "ask the shop's owner"]);
        }
    });
    book.git("checkout -q -- roster");
    fs::remove_dir_all(book.path("roster")).unwrap();
    book.run("status quay-desk").fails(5, "roster-missing");
    book.git("checkout -q -- roster");
    book.sound();
}

/// A book of two owners, mara and jonas, of whom both must sign.
fn two_owners(place: &Place) -> Desk {
    let book = place.copy(stages::roster(), "mara");
    book.run(&format!(
        r#"roster add jonas --name "Jonas Hale" --role owner --public-key {}"#,
        public_key("jonas")
    ))
    .done();
    book.run("roster threshold 2").done().says(&["waits: 1 of 2 owners signed"]);
    let proposal = book.path(".git/underlit/roster-0005-proposal.json").display().to_string();
    book.unchanged(|b| {
        // Once more by the same owner is still one owner.
        b.run(&format!("roster countersign {proposal}")).done().says(&["1 of 2"]);
        b.run_as("tom", &format!("roster countersign {proposal}")).fails(2, "role");
        b.run_as("jonas", "roster countersign /not/there").fails(2, "proposal-unreadable");
    });
    book.run_as("jonas", &format!("roster countersign {proposal}"))
        .done()
        .says(&["roster version 5 is in force"]);
    book
}

#[test]
fn two_owners_must_sign_on_two_machines() {
    let place = Place::new();
    let book = two_owners(&place);
    assert_eq!(book.names("roster", ".sig").iter().filter(|n| n.starts_with("0005.")).count(), 2);
    // The second owner's own clone; the proposal travels as a file, offline.
    let second = place.copy_as(&book.at, "second", "jonas");
    second.run(&format!("me jonas --key {}", private_key("jonas"))).done();
    let head = book.git("rev-parse HEAD");
    let waits = book.run("roster roles tom engineer,designer --json").done().json();
    assert_eq!(waits["in_force"], false);
    assert_eq!((&waits["signature_count"], &waits["needed_count"]), (&1.into(), &2.into()));
    assert_eq!(head, book.git("rev-parse HEAD"), "nothing is in force yet");
    book.run("roster show").done().says(&["roster version 5"]);
    let file = waits["proposal"].as_str().unwrap();
    second.run(&format!("roster countersign {file}")).done().says(&["roster version 6 is in force"]);
    second.run("roster show").done().says(&["roster version 6", "engineer and designer"]);
    second.sound();
    // A file that somebody changed on the way carries no signature any more.
    let waits = book.run("roster roles tom engineer --json").done().json();
    let text = fs::read_to_string(waits["proposal"].as_str().unwrap()).unwrap();
    let changed = place.file("changed.json", text.replace("engineer", "owner"));
    let jonas = place.copy_as(&book.at, "third", "jonas");
    jonas.unchanged(|j| {
        j.run(&format!("roster countersign {changed} --me jonas")).code(5).says(&["[roster-signature]"])
    });
}

#[test]
fn two_keys_of_one_owner_are_one_owner() {
    let place = Place::new();
    let book = two_owners(&place);
    let waits = book.run(&format!("roster add-key mara {} --json", public_key("spare"))).done().json();
    let file = waits["proposal"].as_str().unwrap().to_owned();
    book.run_as("jonas", &format!("roster countersign {file}")).done();
    // Mara signs with both of hers.
    let waits = book.run("roster roles tom owner --json").done().json();
    let file = waits["proposal"].as_str().unwrap().to_owned();
    book.unchanged(|b| {
        b.run(&format!("roster countersign {file} --key {}", private_key("spare")))
            .done()
            .says(&["waits: 1 of 2 owners signed"]);
    });
    // And by hand: her second signature under another owner's name, and under a name of its own.
    let proposal: serde_json::Value = serde_json::from_slice(&fs::read(Path::new(&file)).unwrap()).unwrap();
    let roster = proposal["roster"].as_str().unwrap();
    for (claims, code) in [("jonas", "roster-signature"), ("spare", "roster-signature")] {
        let forged = place.copy_as(&book.at, &format!("as-{claims}"), "mara");
        forged.write("roster/0007.json", roster);
        forged.write("roster/0007.mara.sig", signature("mara", "underlit-roster", roster.as_bytes()));
        forged.write(
            &format!("roster/0007.{claims}.sig"),
            signature("spare", "underlit-roster", roster.as_bytes()),
        );
        forged.unchanged(|f| f.run("roster show").fails(5, code).says(&["roster/0007.json"]));
    }
    // One key cannot stand for two people.
    book.unchanged(|b| {
        b.run(&format!(r#"roster add twin --name Twin --role owner --public-key {}"#, public_key("spare")))
            .fails(2, "key-of-another");
        b.run("roster threshold 3").fails(5, "roster-owners");
        b.run("roster threshold 0").code(3);
    });
    book.sound();
}
