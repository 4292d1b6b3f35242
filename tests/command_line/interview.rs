//! What a terminal gets besides: `init` and `open` ask for what the line leaves out, and long answers come a screen at a
//! time. Played through a terminal of `script`.

use std::io::Write as _;
use std::process::Command;

use crate::stages;
use crate::workshop::{Desk, Place};

/// Runs a line at a terminal, typing answers into it; what was shown, and the exit code.
fn typed(mut command: Command, answers: &str) -> (String, i32) {
    let mut child = command.spawn().unwrap();
    child.stdin.take().unwrap().write_all(answers.as_bytes()).unwrap();
    let output = child.wait_with_output().unwrap();
    (String::from_utf8_lossy(&output.stdout).replace('\r', ""), output.status.code().unwrap_or(-1))
}

#[test]
fn open_asks_what_it_needs_and_asks_again_with_the_reason() {
    let place = Place::new();
    let book = place.copy(stages::roster(), "mara");
    let before = book.state();
    // Wrong: a name that is none; nobody; nothing; a day that is none. Then right.
    let answers =
        "Quay Bar\nquay-bar\nQuay bar front\nnobody\nimke\n\nQuay hall\n2/5/2027\n2027-03-15\n\niec\n";
    let (said, code) = typed(book.at_terminal("underlit open"), answers);
    assert_eq!(code, 0, "{said}");
    for part in [
        "cannot be a name",
        "(--client):",
        "nobody on the roster is called so",
        "this one is needed",
        "write year-month-day",
        "(--mains) [leave it open]:",
        "the same in a line: underlit open quay-bar --title 'Quay bar front' --client imke --site 'Quay hall' --install-date 2027-03-15 --code-region iec",
        "opened quay-bar",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    let record = book.text("projects/quay-bar/project.json");
    assert!(record.contains("\"code_region\": \"iec\"") && record.contains("2027-03-15"), "{record}");
    assert_ne!(book.state(), before);
    book.sound();
}

#[test]
fn who_leaves_the_questions_has_written_nothing() {
    let place = Place::new();
    let book = place.copy(stages::roster(), "mara");
    book.unchanged(|b| {
        let (said, code) = typed(b.at_terminal("underlit open quay-bar"), "Quay bar front\n\u{4}");
        assert_eq!(code, 2, "{said}");
        assert!(said.contains("--client") && !said.contains("opened"), "{said}");
        // A name that is taken is told before all the rest is asked.
        // Nobody is asked where a program waits for the answer, or where no terminal is.
        let (said, code) = typed(b.at_terminal("underlit open quay-bar --json"), "");
        assert_eq!(code, 2, "{said}");
        assert!(!said.contains("needs to know more"), "{said}");
        b.run("open quay-bar").code(2).says(&["--title <TEXT>", "--client <PERSON>", "--site <TEXT>"]);
        b.run("init").code(2).says(&["<FOLDER>", "--shop <NAME>"]);
    });
}

#[test]
fn init_asks_and_proposes_and_makes_the_book_at_the_end() {
    let place = Place::new();
    let book = place.copy(stages::roster(), "mara");
    let answers = "..\nharbour-lights\n\nHarbour Lightworks\nMara Quill\n\nrep,cook\nrep\n";
    let key = crate::workshop::private_key("mara");
    let (said, code) = typed(book.at_terminal(&format!("underlit init --key {key} --inches")), answers);
    assert_eq!(code, 0, "{said}");
    for part in [
        "something lies in that folder already",
        "(--id) [harbour-lights]:",
        "(--owner) [mara]:",
        "cook",
        "the same in a line: underlit init",
        "made the book harbour-lights",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    let made = book.text("harbour-lights/book.json");
    assert!(made.contains("\"units\": \"in\"") && made.contains("Harbour Lightworks"), "{made}");
}

/// What a terminal of 12 lines is sent, by a pager that marks what goes through it.
fn paged(book: &Desk, set: &str, line: &str) -> String {
    let marks = book.at_terminal(&format!("stty rows 12 cols 200; export TERM=xterm {set}; underlit {line}"));
    typed(marks, "").0
}

#[test]
fn a_long_answer_goes_through_the_readers_pager_and_is_never_lost() {
    let place = Place::new();
    let book = place.copy(stages::drawn(), "mara");
    let plain = book.run("status quay-desk").stdout;
    assert!(plain.lines().count() > 12);
    let marked = |text: &str| text.lines().filter(|l| l.starts_with("# ")).count();
    let same = |text: &str| {
        let text = anstream::adapter::strip_str(text).to_string();
        // What the shell says of a pager that it cannot run is said, too.
        let text = text.lines().filter(|l| !l.starts_with("/bin/sh:")).collect::<Vec<_>>().join("\n");
        assert_eq!(text.split_whitespace().collect::<Vec<_>>(), plain.split_whitespace().collect::<Vec<_>>());
    };
    let shown = paged(&book, "PAGER=\"sed 's/^/# /'\"", "status quay-desk");
    assert_eq!(marked(&shown), plain.lines().count(), "{shown}");
    // Short, asked for whole, or for a program: not through it.
    for line in ["status quay-desk --no-pager", "status quay-desk --json", "board", "status quay-desk | cat"]
    {
        let shown = paged(&book, "PAGER=\"sed 's/^/# /'\"", line);
        assert_eq!(marked(&shown), 0, "{line}: {shown}");
    }
    // A pager that is not there, or that is no pager, does no harm.
    for set in ["PAGER=no-such-pager", "PAGER=/", "PAGER=''", "PAGER=cat TERM=dumb"] {
        same(&paged(&book, set, "status quay-desk"));
    }
    // One that ends before it read everything has shown what its reader wanted.
    let first = paged(&book, "PAGER='head -n 2'", "status quay-desk; echo ended $?");
    assert!(first.contains("quay-desk") && first.contains("ended 0"), "{first}");
}
