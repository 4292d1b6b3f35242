//! Packets and the answers that come back by a code in any reply.

use std::fs;

use serde_json::Value;
use underlit::model::answer_code::AnswerCode;
use underlit::model::roster::Role;
use underlit::model::statement::{Facts, Subject, View};

use crate::stages;
use crate::workshop::{Desk, Place};

/// The code of what a packet asks, by what it is about.
fn code(book: &Desk, view: &str) -> String {
    let made = book.run("packet quay-desk --dry-run --json").done().json();
    let asked = made["items"].as_array().unwrap().iter().find(|a| a["subject"]["view"] == view);
    asked.unwrap_or_else(|| panic!("{view} is not asked: {made:#}"))["code"].as_str().unwrap().to_owned()
}

fn take(code: &str, more: &str) -> String {
    format!(r#"intake --code {code} --how "telephone, 3 September" --yes {more}"#)
}

fn standing(book: &Desk) -> Vec<Value> {
    let status = book.run("status quay-desk --json").done().json();
    status["signoffs"].as_array().unwrap().iter().filter(|s| s["standing"] == "fits").cloned().collect()
}

#[test]
fn the_same_book_gives_the_same_bytes_in_a_file_and_as_a_folder() {
    let place = Place::new();
    let book = place.copy(stages::drawn(), "mara");
    book.unchanged(|b| {
        let page = |name: &str, more: &str| {
            let at = place.path(name);
            b.run(&format!("packet quay-desk --into {} {more}", at.display())).done().says(&["1 question"]);
            at
        };
        let one = fs::read_to_string(page("one.html", "")).unwrap();
        assert_eq!(one, fs::read_to_string(page("two.html", "")).unwrap());
        assert!(one.contains("Content-Security-Policy") && one.contains("default-src &#39;none&#39;"));
        assert!(!one.contains("http:") && !one.contains("https:"), "nothing is fetched");
        assert_eq!(one.matches("<script").count(), 2, "its data and its script");
        let folder = page("folder", "");
        let index = fs::read_to_string(folder.join("index.html")).unwrap();
        assert!(index.contains("Desk front") && index.contains("img-src &#39;self&#39;"));
        b.run(&format!("packet quay-desk --into {}", folder.display())).fails(2, "folder-not-empty");
        assert!(fs::read_to_string(page("de.html", "--language de")).unwrap().contains("Ihre Antwort"));
    });
    book.run("packet quay-desk --for nobody").code(2).says(&["nobody"]);
    // Somebody else is asked what is asked of their role.
    let engineer = book.run("packet quay-desk --for tom --dry-run --json").done().json();
    let asked = engineer["items"].as_array().unwrap();
    assert!(asked.iter().any(|a| a["role"] == "engineer") && asked.iter().all(|a| a["role"] != "client"));
}

#[test]
fn a_code_is_an_answer_to_that_very_version() {
    let place = Place::new();
    let book = place.copy(stages::chosen(), "mara");
    let choice = code(&book, "choice");
    book.run(&take(&choice.to_lowercase().replace('-', " ").replace(' ', ""), "")).done().says(&[
        &choice,
        "Imke Voss approved the choice for panel front",
        "panel light cct",
    ]);
    let fits = standing(&book);
    assert_eq!(fits.len(), 1);
    assert_eq!(
        fits[0]["kind"],
        format!("evidence (telephone, 3 September, answer code {choice}) recorded by Mara Quill")
    );
    let notes = book.names(&format!("{}/signoffs", stages::PROJECT), ".txt");
    let note = book.text(&format!("{}/signoffs/{}", stages::PROJECT, notes[0]));
    for line in
        ["Answer: approved", "the choice for panel front, project quay-desk", "Of: Imke Voss (client)"]
    {
        assert!(note.contains(line), "{line}: {note}");
    }
    let packet = book.run("packet quay-desk --dry-run").done();
    packet.says(&["0 questions", "answered"]);
    book.unchanged(|b| b.run(&take(&choice, "")).fails(2, "taken-already"));
    book.run("advance quay-desk --to rendering").done();

    // One fact changes, and the code that was sent is of an earlier version.
    book.run("choose quay-desk front --cct 3000").done();
    let now = code(&book, "choice");
    assert_ne!(now, choice);
    assert_eq!(now[..4], choice[..4], "the same item");
    book.unchanged(|b| {
        b.run(&take(&choice, "")).fails(3, "code-of-earlier-version").says(&["earlier version", &now]);
    });
    book.run(&take(&now, "")).done();
    book.sound();
}

#[test]
fn the_four_answers_and_a_withdrawal() {
    let place = Place::new();
    let book = place.copy(stages::drawn(), "mara");
    let drawing = code(&book, "rendering");
    book.unchanged(|b| {
        b.run(&take(&drawing, "--revise")).fails(2, "comment-missing");
        b.run(&take(&drawing, "--reject")).fails(2, "comment-missing");
    });
    book.run(&take(&drawing, r#"--revise --comment "the arc is too flat""#)).done();
    book.run("status quay-desk").done().says(&["refused ", "“the arc is too flat”"]);
    book.run(&take(&drawing, r#"--reject --comment "not this""#)).done();
    book.run("status quay-desk").done().says(&["rejected", "“not this”"]);
    book.run(&take(&drawing, r#"--as-noted "round the corners" --as-noted "show the logo""#)).done();
    book.run("status quay-desk").done().says(&["as noted", "round the corners; show the logo"]);
    book.run(&take(&drawing, "--withdraw")).done();
    book.run("status quay-desk")
        .done()
        .says(&["the rendering for panel front is not yet approved by the client"]);
    let mail = place.file("mail.eml", format!("Subject: yes\n\nApproved, {drawing}\n"));
    book.run(&take(&drawing, &format!("--scan {mail}"))).done();
    assert!(standing(&book).iter().any(|s| s["about"] == "the rendering for panel front"));
    book.sound();
}

#[test]
fn mistyped_foreign_and_unknown_codes_are_told_apart() {
    let place = Place::new();
    let book = place.copy(stages::chosen(), "mara");
    let choice = code(&book, "choice");
    let other = |book: &str, project: &str| {
        let subject = Subject::panel(View::Choice, &"front".parse().unwrap());
        let code = AnswerCode::of(
            &book.parse().unwrap(),
            &project.parse().unwrap(),
            &subject,
            Role::Client,
            &Facts::new(),
        );
        code.to_string()
    };
    let mut swapped = choice.clone().into_bytes();
    let at = (0..3).find(|at| swapped[*at] != swapped[at + 1]).unwrap();
    swapped.swap(at, at + 1);
    let swapped = String::from_utf8(swapped).unwrap();
    book.unchanged(|b| {
        b.run(&take(&swapped, "")).fails(2, "code-mistyped").says(&["mistyped", "letter by letter"]);
        b.run(&take("K7F2", "")).fails(2, "code-mistyped").says(&["4 letters"]);
        b.run(&take(&choice.replace(&choice[..1], "0"), ""))
            .fails(2, "code-mistyped")
            .says(&["no 0, 1, I or O"]);
        b.run(&take(&other("elsewhere", "quay-desk"), ""))
            .fails(3, "code-unknown")
            .says(&["another shop's book"]);
        b.run(&take(&other("tern", "quay-desk"), "")).fails(3, "code-of-earlier-version");
        b.run(&take(&choice, "--of tom")).fails(2, "role");
        b.run_as("imke", &take(&choice, "")).fails(2, "role");
    });
    book.run(r#"open side-job --title "Side" --client imke --engineer tom --site "Quay hall""#).done();
    book.unchanged(|b| {
        b.run(&take(&choice, "--project side-job"))
            .fails(3, "code-of-other-project")
            .says(&["the choice for panel front in quay-desk, and not of side-job"]);
    });
    // The shop's rules want the engineer's own signature.
    let book = place.copy_as(stages::drawn(), "drawn", "mara");
    let asked = book.run("packet quay-desk --for tom --dry-run --json").done().json();
    let engineers = asked["items"][0]["code"].as_str().unwrap().to_owned();
    book.unchanged(|b| b.run(&take(&engineers, "")).fails(2, "evidence-not-allowed"));
}

#[test]
fn hostile_titles_and_words_stand_inert_in_a_packet() {
    let place = Place::new();
    let book = place.copy(stages::drawn(), "mara");
    let hostile = "</title></bdi><script>alert(1)</script><img src=x onerror=alert(2)>";
    book.run(&format!(r#"project change quay-desk --title "{hostile}""#)).done();
    let drawing = code(&book, "choice");
    book.run(&take(&drawing, &format!(r#"--reject --comment "{hostile} --><svg onload=alert(3)>""#))).done();
    let at = place.path("hostile.html");
    book.run(&format!("packet quay-desk --into {}", at.display())).done();
    let page = fs::read_to_string(at).unwrap();
    assert_eq!(page.matches("<script").count(), 2, "the page's own");
    for markup in ["<img", "<svg onload", "</title></bdi>"] {
        assert!(!page.contains(markup), "{markup}");
    }
    assert!(page.contains("&lt;script&gt;alert(1)"), "it is shown as text");
}
