//! Packets and the answers that come back by a code in any reply.

use std::fs;

use serde_json::Value;
use underlit::faces::answer_file;
use underlit::model::answer_code::AnswerCode;
use underlit::model::roster::Role;
use underlit::model::statement::{Decision, Facts, Subject, View};
use underlit::ops::sign::Scan;

use crate::dice::Dice;
use crate::stages;
use crate::workshop::{Desk, Place, private_key, program};

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
    assert_eq!(fits[0]["evidence"], format!("telephone, 3 September, answer code {choice}"));
    assert_eq!(fits[0]["signer"], "mara");
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

/// An answer as the packet's page writes it.
fn written(code: &str, answer: &str, key: Option<&str>) -> String {
    let answer = serde_json::json!({
        "underlit_answer": 1, "book": "tern", "project": "quay-desk", "name": "Imke Voss", "role": "client",
        "date": "2026-09-03", "signed": "Imke Voss", "drawn": "", "key": key,
        "answers": [{
            "code": code, "question": "The light in your stone", "answer": answer, "note": "a little warmer",
            "marks": [{ "sheet": 1, "left_mm": 40, "top_mm": 60, "note": "here" }],
        }],
    });
    format!("{answer:#}\n")
}

#[test]
fn a_file_that_is_not_signed_stands_by_its_codes() {
    let place = Place::new();
    let book = place.copy(stages::chosen(), "mara");
    let code = code(&book, "choice");
    let refused = |text: &str, exit: i32, fault: &str| {
        let file = place.file("refused.txt", text);
        book.unchanged(|b| drop(b.run(&format!("intake {file} --yes")).fails(exit, fault)));
    };
    let good = written(&code, "revise-and-resubmit", None);
    refused(&good.replace("\"tern\"", "\"elsewhere\""), 3, "answer-of-other-book");
    refused(&good.replace("revise-and-resubmit", "yes"), 3, "no-answer-file");
    refused(&good.replace("underlit_answer\": 1", "underlit_answer\": 2"), 3, "no-answer-file");
    refused(&good.replace("\"key\": null", "\"key\": \"SHA256:x\""), 5, "answer-altered");
    refused(&good.replace(&code, "K7F2-9QXM-4T"), 2, "code-mistyped");
    for text in ["", "{}", "Approved", "{\"underlit_answer\": 1}"] {
        refused(text, 3, "no-answer-file");
    }
    let good = place.file("answer.txt", &good);
    book.run(&format!("intake {good} --yes"))
        .done()
        .says(&["not signed with a key", "Answered by Imke Voss (client), 2026-09-03"]);
    let comment = book.run("status quay-desk --json").done().json()["signoffs"][0]["comment"].clone();
    assert_eq!(
        comment,
        "a little warmer\nMark 1 on sheet 1, 40 mm from its left and 60 mm from its top edge: here"
    );
    book.unchanged(|b| drop(b.run(&format!("intake {good} --yes")).fails(2, "taken-already")));
    book.sound();
}

/// 10,000 files, each altered at one to three places: none is taken for an answer that was not given.
#[test]
fn no_mutation_of_a_signed_answer_is_taken_for_another() {
    let place = Place::new();
    let code = AnswerCode::of(
        &"tern".parse().unwrap(),
        &"quay-desk".parse().unwrap(),
        &Subject::panel(View::Choice, &"front".parse().unwrap()),
        Role::Client,
        &Facts::new(),
    );
    let key = private_key("imke");
    let shown = program("ssh-keygen", "imke").args(["-l", "-f", &key]).output().unwrap();
    let shown = String::from_utf8(shown.stdout).unwrap();
    let print = shown.split_whitespace().nth(1).expect("a fingerprint");
    let words = written(&code.to_string(), "approved", Some(print));
    let message = place.file("message", &words);
    let sign = ["-Y", "sign", "-n", "underlit-packet", "-f", &key, &message];
    assert!(program("ssh-keygen", "imke").args(sign).output().unwrap().status.success());
    let signed = words.clone() + &fs::read_to_string(format!("{message}.sig")).unwrap();
    let read = |bytes: &[u8]| answer_file::read(bytes, Scan::Note(String::new()));
    let given =
        |file: &answer_file::AnswerFile| (file.reply.answers.clone(), file.by.clone(), file.key.clone());
    let right = given(&read(signed.as_bytes()).unwrap());
    assert_eq!(right.0[0].decision, Decision::Approved);
    assert!(read(signed.replace('\n', "\r\n").as_bytes()).is_ok(), "line ends that a mail program changed");
    let mut dice = Dice(20_261_125);
    let mut refused = 0;
    for _ in 0..10_000 {
        let mut bytes = signed.clone().into_bytes();
        for _ in 0..=dice.below(3) {
            let at = dice.below(bytes.len());
            match dice.below(4) {
                0 => bytes[at] = dice.below(256) as u8,
                1 => bytes.insert(at, b' ' + dice.below(95) as u8),
                2 => drop(bytes.remove(at)),
                _ => {
                    let other = dice.below(bytes.len());
                    bytes.swap(at, other);
                }
            }
        }
        match read(&bytes) {
            Ok(file) => assert_eq!(given(&file), right, "{}", String::from_utf8_lossy(&bytes)),
            Err(_) => refused += 1,
        }
    }
    assert!(refused > 9_500, "{refused}");
}
