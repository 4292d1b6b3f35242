//! What a terminal gets that a file or a program does not: lines broken at its width, colours, and each note once.

use anstream::adapter::strip_str;

use crate::stages;
use crate::workshop::{Desk, Place};

/// At a narrow terminal lines for people are broken at blanks; what a program or a shell is to read stays as it is.
#[test]
fn only_lines_for_people_are_broken_at_a_terminals_width() {
    let place = Place::new();
    let book = place.copy(stages::signed(), "mara");
    let at_40 = |line: &str| {
        let ran = book.at_terminal(&format!("stty rows 30 cols 40; underlit {line}")).output().unwrap();
        String::from_utf8(ran.stdout).unwrap().replace('\r', "")
    };
    let lines = at_40("status quay-desk");
    let widest =
        |text: &str| text.lines().filter(|l| !l.contains("underlit ")).map(|l| l.chars().count()).max();
    assert!(widest(&lines) <= Some(40), "{lines}");
    let plain = book.run("status quay-desk").stdout;
    assert!(widest(&plain) > Some(40), "{plain}");
    assert_eq!(
        lines.split_whitespace().collect::<Vec<_>>(),
        plain.split_whitespace().collect::<Vec<_>>(),
        "nothing is lost"
    );
    for line in ["status quay-desk --json", "completions bash", "allowed-signers"] {
        assert_eq!(at_40(line), book.run(line).stdout, "{line}");
    }
}

/// What a terminal of a kind is sent, with a variable of the environment set.
fn sent(book: &Desk, kind: &str, set: &str, line: &str) -> String {
    let ran = book
        .at_terminal(&format!("export TERM={kind} {set}; stty cols 400; underlit {line}"))
        .output()
        .unwrap();
    String::from_utf8(ran.stdout).unwrap().replace('\r', "")
}

#[test]
fn colours_are_for_terminals_only_and_never_the_only_sign() {
    let place = Place::new();
    let ready = place.copy_as(stages::released(), "ready", "mara");
    let broken = place.copy_as(stages::intake(), "broken", "mara");
    for (book, line, ink) in [
        (&ready, "status quay-desk", "\x1b[32m"),
        (&ready, "board", "\x1b[32m"),
        (&broken, "status no-such-job", "\x1b[31m"),
    ] {
        let coloured = sent(book, "xterm", "", line);
        assert!(coloured.contains(ink), "{line}: {coloured:?}");
        let ran = book.run(line);
        let plain = ran.stdout + &ran.stderr;
        assert!(!plain.contains('\x1b'), "{line} into a pipe");
        assert_eq!(strip_str(&coloured).to_string(), plain, "{line} says the same without them");
        for (kind, set) in [("xterm", "NO_COLOR=1"), ("dumb", "")] {
            assert_eq!(sent(book, kind, set, line), plain, "{line} with TERM={kind} {set}");
        }
    }
    let ran = sent(&ready, "xterm", "", "status quay-desk --json");
    assert!(!ran.contains('\x1b'), "{ran:?}");
}

/// A name that anybody may give sets no colour.
#[test]
fn a_title_sets_no_colour() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let title = book.text("projects/quay-desk/project.json");
    let title = title.lines().find(|l| l.contains("\"title\"")).unwrap().trim().to_owned();
    book.edit("projects/quay-desk/project.json", &title, "\"title\": \"\\u001b[32mmay be built\",");
    let said = sent(&book, "xterm", "", "status quay-desk");
    assert!(!said.contains("\x1b[32m"), "{said:?}");
}

/// `choose` says only the notes that its choice brought; `status` says each.
#[test]
fn a_note_is_said_once() {
    let place = Place::new();
    let book = place.copy(stages::chosen(), "mara");
    let notes = |ran: &str| -> Vec<String> {
        ran.lines().filter_map(|l| Some(l.trim().strip_prefix("note: ")?.to_owned())).collect()
    };
    let standing = notes(&book.run("status quay-desk").done().stdout);
    assert!(!standing.is_empty(), "the job has notes");
    book.run("choose quay-desk front --mount tray").done();
    let again = notes(&book.run("choose quay-desk front --mount tray").done().stdout);
    assert_eq!(again, Vec::<String>::new(), "said again");
    let before = notes(&book.run("status quay-desk").done().stdout);
    let changed = notes(&book.run("choose quay-desk front --cct 6500").done().stdout);
    let after = notes(&book.run("status quay-desk").done().stdout);
    for said in &changed {
        assert!(!before.contains(said), "already known: {said}");
        assert!(after.contains(said), "status says it too: {said}");
    }
    assert_eq!(
        changed.len(),
        after.iter().filter(|note| !before.contains(note)).count(),
        "each new one is said"
    );
    let unique: std::collections::BTreeSet<&String> = after.iter().collect();
    assert_eq!(unique.len(), after.len(), "no note twice: {after:?}");
}

/// Whoever waits at a terminal is told after a second how far the work is, and the line is gone at the end. The program is
/// held again and again, so that the second passes long before its work is done.
#[test]
fn long_work_tells_how_far_it_is_at_a_terminal_only() {
    let place = Place::new();
    let book = place.copy(stages::signed(), "mara");
    let many = "for i in $(seq 60); do cp -r projects/quay-desk projects/desk-$i; done";
    assert!(book.at_terminal(many).status().unwrap().success());
    let held = |underlit: &str| {
        format!(
            "stty cols 100; rm -f .git/underlit/board; {underlit} & work=$!; for i in 1 2 3; do sleep 0.03; kill -STOP $work; sleep 1.2; \
             kill -CONT $work; done 2>/dev/null; wait $work"
        )
    };
    let told = |ran: std::process::Output| {
        let all = String::from_utf8(ran.stdout).unwrap();
        let steps: Vec<(usize, usize)> = all
            .split('\r')
            .filter_map(|line| line.trim().strip_suffix(" …")?.split_once(" of "))
            .filter_map(|(done, of)| Some((done.parse().ok()?, of.parse().ok()?)))
            .collect();
        (all, steps)
    };
    let (all, steps) = told(book.at_terminal(&held("underlit board")).output().unwrap());
    assert!(!steps.is_empty(), "nothing was told: {all}");
    assert!(steps.iter().all(|(done, of)| *of == 61 && (1..61).contains(done)), "{steps:?}");
    assert!(steps.is_sorted(), "{steps:?}");
    let after = all.rsplit_once(" of 61 …\r").unwrap().1;
    assert!(after.starts_with(&format!("{}\r", " ".repeat(40))), "the line is taken away: {after:?}");
    for quiet in ["underlit board 2>../errors", "TERM=dumb underlit board", "underlit board --json"] {
        let line = format!("{}; touch ../errors; cat ../errors", held(quiet));
        let (all, steps) = told(book.at_terminal(&line).output().unwrap());
        assert_eq!(steps, [], "{quiet}: {all}");
    }
}
