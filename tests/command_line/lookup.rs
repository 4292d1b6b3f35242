//! `doctor` and `explain`: what somebody asks when something does not work, or a word is new.

use std::fs;

use crate::stages;
use crate::three_people::ThreeClones;
use crate::workshop::{Desk, Place, private_key};

/// What `doctor` says of one thing: its health, what was found, what to do.
fn examined(book: &Desk, about: &str, code: i32) -> (String, String, String) {
    let told = book.run("doctor --json").code(code).json();
    assert_eq!(told["well"], code == 0, "{told:#}");
    let all = told["examined"].as_array().unwrap();
    let one = all.iter().find(|one| one["about"] == about).unwrap_or_else(|| panic!("{about}: {told:#}"));
    let text = |name: &str| one[name].as_str().unwrap_or_default().to_owned();
    (text("health"), text("found"), text("fix"))
}

#[test]
fn a_clone_that_is_fit_says_so_and_each_thing_that_is_wrong_has_its_fix() {
    let clones = ThreeClones::at(stages::chosen());
    let book = &clones.mara;
    book.unchanged(|b| {
        b.run("doctor").done().says(&[
            "fine",
            "git version",
            "ssh-keygen is there",
            "Tern Point Lightworks, book tern",
            "every hand edit passes",
            "mara (Mara Quill): owner, rep",
            "can sign",
            "origin/main: it answers",
            "it judges what is pushed to",
            "MB free",
        ]);
    });
    let wrong = |about: &str, fix: &str| {
        let (health, found, how) = examined(book, about, 1);
        assert_eq!(health, "wrong", "{about}: {found}");
        assert!(how.contains(fix), "{about}: {how}");
        found
    };
    // A key that is not on the roster.
    let told = book.run(&format!("doctor --json --key {}", private_key("tom"))).code(1).json();
    let key = told["examined"].as_array().unwrap().iter().find(|one| one["about"] == "key").unwrap();
    assert_eq!(key["health"], "wrong");
    assert!(key["fix"].as_str().unwrap().contains("--key FILE"), "{key}");
    // The clock, by a commit of this very day.
    let early = book.on("2020-01-01");
    let (health, found, how) = examined(&early, "clock", 1);
    assert_eq!(health, "wrong");
    assert!(found.contains("2020-01-01T08:00:00Z") && how.contains("set the clock"), "{found} {how}");
    // A record that does not pass, then a remote that is gone.
    let panel = format!("{}/panels/front.json", stages::PROJECT);
    let before = book.text(&panel);
    book.edit(&panel, "\"swatch\": \"alba\"", "\"swatch\": \"Al ba\"");
    assert!(wrong("writing", "").contains("panels/front.json"));
    book.write(&panel, before);
    let hub = clones.place.path("hub.git");
    let hook = hub.join("hooks/pre-receive");
    fs::remove_file(&hook).unwrap();
    let (health, _, how) = examined(book, "guard", 0);
    assert_eq!(health, "note");
    assert!(how.contains("underlit guard install"), "{how}");
    fs::rename(&hub, clones.place.path("elsewhere.git")).unwrap();
    wrong("remote", "");
    book.git("remote remove origin");
    assert_eq!(examined(book, "remote", 0).0, "note");
    // Outside any book.
    let place = Place::new();
    place.run("mara", "doctor").code(1).says(&["WRONG", "book", "Fix: "]);
}

#[test]
fn gates_requirements_and_words_are_explained_from_their_own_texts() {
    let place = Place::new();
    let book = place.copy(stages::chosen(), "mara");
    for requirement in underlit::gates::requirements::ALL {
        book.run(&format!("explain {}", requirement.name)).done().says(&[
            &format!("asked before {}", requirement.gate),
            requirement.reason,
            "add --project PROJECT",
        ]);
    }
    let gate = book.run("explain rendering --json").done().json();
    let names: Vec<&str> =
        gate["requirements"].as_array().unwrap().iter().map(|r| r["requirement"].as_str().unwrap()).collect();
    assert!(names.contains(&"choice-signed") && !names.contains(&"release-signed"), "{names:?}");
    assert_eq!(gate["words"][0]["word"], "rendering", "the word of that name as well");
    let here = book.run("explain choice-signed --project quay-desk").done();
    here.says(&["missing", "who: client: imke", "how: underlit sign quay-desk choice --panel front"]);
    book.run("explain seams-acknowledged --project quay-desk")
        .done()
        .says(&["nothing in quay-desk calls for it"]);
    place.run("mara", "explain answer code").code(0).says(&["answer code: ten letters"]);
    place.run("mara", "explain cct").code(0).says(&["kelvin"]);
    place.run("mara", "explain").code(0).says(&[
        "gates and requirements:",
        "choice-signed",
        "words:",
        "swatch",
    ]);
    book.run("explain choice-singed").fails(2, "unknown-word").says(&["choice-signed"]);
    book.run("explain choice-signed --project nothing").fails(2, "unknown-project");
}
