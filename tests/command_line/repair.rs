//! What an interrupted git or editor can leave: `check --repair` offers, does what it was asked by name and nothing
//! else, and throws nothing away.

use std::fs;
use std::process::Command;

use serde_json::Value;

use crate::stages::{self, PROJECT};
use crate::workshop::{Desk, Place};

fn offered(desk: &Desk) -> Vec<String> {
    let answer = desk.run("check --repair --json").done().json();
    answer["offers"].as_array().unwrap().iter().map(|o| o["name"].as_str().unwrap().to_owned()).collect()
}

/// One leftover: what is offered for it, each of which is tried on a copy of its own and leaves a sound book.
#[track_caller]
fn fixes(leave: impl Fn(&Desk), names: &[&str], kept: bool) {
    for name in names {
        let place = Place::new();
        let book = place.copy(stages::intake(), "mara");
        leave(&book);
        assert_eq!(offered(&book), names, "{name}");
        book.unchanged(|b| {
            b.run("check --repair").done().says(&["offered: ", &format!("check --repair '{name}'")]);
            b.run(&format!("check --repair {name} --dry-run")).done().says(&["dry run: "]);
            b.run("check --repair nothing-such").fails(2, "no-such-repair").says(&[name]);
        });
        let said = book.run(&format!("check --repair {name}")).done().says(&["repaired: "]);
        assert_eq!(said.stdout.contains("set aside: "), kept, "{}", said.stdout);
        if let Some(aside) = said.stdout.lines().find_map(|l| l.trim().strip_prefix("set aside: ")) {
            let files = Command::new("find").args([aside, "-type", "f"]).output().unwrap();
            assert!(!files.stdout.is_empty(), "{name}: nothing lies in {aside}");
        }
        assert_eq!(offered(&book), Vec::<String>::new(), "{name}");
        book.run("check").done();
        book.run("project change quay-desk --title Afterwards").done();
        book.sound();
    }
}

#[test]
fn locks_of_a_git_that_died() {
    let lock = |book: &Desk| {
        book.write(".git/index.lock", "");
        book.write(".git/refs/heads/main.lock", "");
        let old = Command::new("touch")
            .args(["-d", "1 hour ago", ".git/index.lock", ".git/refs/heads/main.lock"])
            .current_dir(&book.at)
            .status();
        assert!(old.unwrap().success());
        book.run("project change quay-desk --title x").fails(6, "git-locked");
    };
    fixes(lock, &["locks"], false);
    // One that is fresh, or that a process holds open, may belong to a git at work.
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    book.write(".git/index.lock", "");
    assert_eq!(offered(&book), Vec::<String>::new());
    let held = fs::File::open(book.path(".git/index.lock")).unwrap();
    Command::new("touch").args(["-d", "1 hour ago"]).arg(book.path(".git/index.lock")).status().unwrap();
    assert_eq!(offered(&book), Vec::<String>::new());
    drop(held);
    assert_eq!(offered(&book), ["locks"]);
}

/// Two branches that disagree about the title, for a git of its own mind.
fn two_minds(book: &Desk) {
    let file = format!("{PROJECT}/project.json");
    book.git("switch -q -c other");
    book.edit(&file, "\"Quay desk\"", "\"Their desk\"");
    book.git("commit -q -a -m theirs");
    book.git("switch -q main");
    book.edit(&file, "\"Quay desk\"", "\"Our desk\"");
    book.git("commit -q -a -m ours");
}

#[test]
fn a_merge_a_rebase_and_a_pick_half_done() {
    let half_done = |line: &'static str, name: &'static str| {
        let leave = move |book: &Desk| {
            two_minds(book);
            assert!(!book.git_tries(line).status.success());
            book.run("project change quay-desk --title x")
                .fails(6, "git-busy")
                .says(&["underlit check --repair"]);
        };
        // The marks in the file are offered too; the whole operation is what is dropped here.
        let place = Place::new();
        let book = place.copy(stages::intake(), "mara");
        leave(&book);
        assert!(offered(&book).contains(&name.to_owned()), "{:?}", offered(&book));
        book.run(&format!("check --repair {name}")).done().says(&["repaired"]);
        assert_eq!(offered(&book), Vec::<String>::new());
        assert!(book.text(&format!("{PROJECT}/project.json")).contains("Our desk"));
        book.sound();
    };
    half_done("merge other", "merge");
    half_done("rebase other", "rebase");
    half_done("cherry-pick other", "cherry-pick");
    half_done("revert --no-edit HEAD~3", "revert");
}

#[test]
fn conflict_markers_in_a_record() {
    let marked = |book: &Desk| {
        two_minds(book);
        assert!(!book.git_tries("merge other").status.success());
        let text = book.bytes(&format!("{PROJECT}/project.json"));
        book.git("merge --abort");
        book.write(&format!("{PROJECT}/project.json"), text);
        book.run("check").code(3);
    };
    let file = format!("{PROJECT}/project.json");
    let [ours, theirs, committed] = ["ours", "theirs", "committed"].map(|side| format!("{file}:{side}"));
    fixes(marked, &[&ours, &theirs, &committed], true);
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    marked(&book);
    book.run(&format!("check --repair {theirs}")).done();
    assert!(book.text(&file).contains("Their desk"));
}

#[test]
fn what_editors_leave() {
    let swatch = format!("{PROJECT}/swatches/alba.json");
    fixes(
        |book| {
            book.write(&format!("{swatch}~"), "{}");
            book.write(&format!("{PROJECT}/.project.json.swp"), "b0VIM");
            book.write("#rules.json#", "{}");
            book.run("check").done().never_says(&["#rules.json#"]);
        },
        &["editor-files"],
        true,
    );
    let line_ends = |book: &Desk| book.write(&swatch, book.text(&swatch).replace('\n', "\r\n"));
    fixes(line_ends, &[&format!("{swatch}:line-ends")], true);
    let mark = |book: &Desk| book.write(&swatch, [b"\xEF\xBB\xBF".to_vec(), book.bytes(&swatch)].concat());
    fixes(mark, &[&format!("{swatch}:bom")], true);
    let half = |book: &Desk| {
        let bytes = book.bytes(&swatch);
        book.write(&swatch, &bytes[..bytes.len() / 2]);
    };
    fixes(half, &[&format!("{swatch}:committed")], true);
    fixes(|book| book.write(&format!("{PROJECT}/panels/.writing-x1"), "{"), &["writing"], false);
}

#[test]
fn what_was_said_is_put_back() {
    let place = Place::new();
    let book = place.copy(stages::signed(), "mara");
    let said = book.names(&format!("{PROJECT}/signoffs"), ".json");
    let [gone, bent] = [0, 1].map(|n| format!("{PROJECT}/signoffs/{}", said[n]));
    fs::remove_file(book.path(&gone)).unwrap();
    book.write(&bent, book.text(&bent).replace('\n', "\r\n"));
    book.run("project change quay-desk --title x").code(5).says(&["[add-only]"]);
    assert_eq!(offered(&book), [format!("{bent}:committed"), format!("{gone}:committed")]);
    for name in offered(&book) {
        book.run(&format!("check --repair {name}")).done();
    }
    book.sound();
}

#[test]
fn at_a_terminal_it_asks_and_does_nothing_without_a_yes() {
    for (answer, fixed) in [("n", false), ("", false), ("y", true)] {
        let place = Place::new();
        let book = place.copy(stages::intake(), "mara");
        let swatch = format!("{PROJECT}/swatches/alba.json");
        book.write(&swatch, "{");
        let mut child = book.at_terminal("underlit check --repair").spawn().unwrap();
        std::io::Write::write_all(&mut child.stdin.take().unwrap(), format!("{answer}\n").as_bytes())
            .unwrap();
        let said = child.wait_with_output().unwrap();
        let said = String::from_utf8_lossy(&said.stdout);
        assert!(said.contains("do it? [y/N]"), "{said}");
        let whole = serde_json::from_str::<Value>(&book.text(&swatch)).is_ok();
        assert_eq!(whole, fixed, "`{answer}`: {said}");
    }
}
