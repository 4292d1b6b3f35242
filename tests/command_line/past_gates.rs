//! `verify` asks the gate of every move again, in the state that has the move first.

use std::fs;

use serde_json::{Value, json};
use underlit::digest::Sha256Digest;

use crate::forgery::{bytes, lay, signature};
use crate::stages::{self, PROJECT};
use crate::workshop::{Desk, Place};

const MOVES: &str = "projects/quay-desk/moves";
const SIGNOFFS: &str = "projects/quay-desk/signoffs";

/// The true move of the released book into `released`, as its value.
fn the_move(place: &Place) -> Value {
    let book = place.copy_as(stages::released(), "donor", "mara");
    let all = book.names(MOVES, ".json").into_iter().map(|n| book.text(&format!("{MOVES}/{n}")));
    all.map(|t| serde_json::from_str::<Value>(&t).unwrap()).find(|m| m["to"] == "released").unwrap()
}

fn lay_move(book: &Desk, step: &Value) -> String {
    let bytes = bytes(step);
    lay(book, MOVES, &bytes, Some(&signature("mara", "underlit-move", &bytes)));
    Sha256Digest::of(&bytes).hex()
}

fn commit(book: &Desk, message: &str) {
    book.git("add --all");
    book.git(&format!(r#"commit --quiet -m "{message}""#));
}

/// A book in which a rep truly signed a move on a true release, of a slab that is thicker by now.
fn outdated(place: &Place) -> (Desk, String) {
    let book = place.copy(stages::signed(), "mara");
    book.run_as("tom", "sign quay-desk release --yes").done();
    book.run("swatch change quay-desk alba --slab-thickness 25mm").done();
    let mut step = the_move(place);
    let all = book.names(SIGNOFFS, ".json");
    step["signoffs"] = all.iter().map(|n| n.trim_end_matches(".json")).collect::<Vec<_>>().into();
    let digest = lay_move(&book, &step);
    commit(&book, "moved");
    (book, digest)
}

#[test]
fn a_move_on_an_outdated_release_is_found_until_it_is_taken_back() {
    let place = Place::new();
    let (book, digest) = outdated(&place);
    book.run("status quay-desk").done().says(&["released", "ON HOLD"]);
    let found = [
        "4 moves, each re-checked against its own state: 1 had no right to be made",
        "[move-past-gate]",
        "it moves quay-desk to released although Tom Reed (engineer) approved the release of the whole build, but it has changed since [release-signed]",
        "by mara)",
        "underlit reopen quay-desk",
    ];
    book.run("verify").code(5).says(&found);
    // Kept verdicts do not hide it.
    book.run("verify").code(5).says(&found);
    book.run(&format!("verify --explain {}", &digest[..12])).code(5).says(&["NO   gate then"]);
    // The fact is put back: everything fits today, and the move is as wrong as it was.
    book.run("swatch change quay-desk alba --slab-thickness 20mm").done();
    book.run("verify").code(5).says(&["released, may be built", "[move-past-gate]"]);
    let answer = book.run("verify --json").code(5).json();
    assert_eq!(answer["history"]["asked_moves"]["shut"], json!(1));
    // A commit of before it is sound.
    book.run("verify --at HEAD~2").done().says(&["3 moves", "no gate was shut"]);
    // A step back answers it, and the honest way is open again.
    book.run("reopen quay-desk rendering --reason again").done();
    book.run("verify").done().says(&["1 had no right to be made and was taken back since"]);
    let answer = book.run("verify --json").done().json();
    assert_eq!(answer["history"]["asked_moves"]["taken_back"], json!(1));
    book.run("advance quay-desk --to released").done();
    book.run("verify quay-desk").done().says(&["released, may be built"]);
    book.run(&format!("verify --explain {}", &digest[..12])).code(1).says(&["NO   gate then"]);
}

#[test]
fn a_move_that_came_before_what_it_rests_on() {
    let place = Place::new();
    let book = place.copy(stages::signed(), "mara");
    let step = the_move(&place);
    lay_move(&book, &step);
    commit(&book, "moved");
    // What is missing comes one commit later; the files of the end agree with one another.
    let donor = Desk::new(place.path("donor"), "mara");
    for name in donor.names(SIGNOFFS, "") {
        book.write(&format!("{SIGNOFFS}/{name}"), donor.bytes(&format!("{SIGNOFFS}/{name}")));
    }
    commit(&book, "released");
    book.run("check").done();
    book.run("verify").code(5).says(&["may be built", "[move-unbacked]", "(commit ", "by mara)"]);
}

#[test]
fn what_came_with_the_first_commit_has_its_signatures_only() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    let by_signature = |book: &Desk| {
        let shallow = i32::from(book.path(".git/shallow").exists());
        let moves = book.run("verify --json").code(shallow).json()["history"]["asked_moves"].clone();
        (moves["asked"].as_u64().unwrap(), moves["by_signature"].as_u64().unwrap())
    };
    assert_eq!(by_signature(&book), (4, 0));
    // Where a shallow clone ends.
    let shallow = place.path("shallow");
    book.git(&format!("clone --quiet --depth 1 file://{} {}", book.at.display(), shallow.display()));
    let shallow = Desk::new(shallow, "mara");
    assert_eq!(by_signature(&shallow), (0, 4));
    shallow
        .run("verify")
        .code(1)
        .says(&["older commits are not here and unchecked", "only the signature speaks"]);
    // A history that was written anew as one commit.
    let whole = place.copy_as(stages::released(), "whole", "mara");
    fs::remove_dir_all(whole.path(".git")).unwrap();
    whole.git("init --quiet -b main");
    commit(&whole, "the book");
    assert_eq!(by_signature(&whole), (0, 4));
    whole.run("verify").done().says(&["no move could be re-checked; 4 came with the oldest commit"]);
    let digest = whole.names(MOVES, ".json").remove(0);
    whole.run(&format!("verify --explain {}", &digest[..12])).done().says(&["only its signature speaks"]);
}

#[test]
fn a_second_beginning_is_no_way_past_a_gate() {
    let place = Place::new();
    let (bad, _) = outdated(&place);
    let tree = bad.git("rev-parse HEAD^{tree}").trim().to_owned();
    let good = bad.git("rev-parse HEAD~1").trim().to_owned();
    bad.git(&format!("reset --quiet --hard {good}"));
    // What is known of the history until here is kept.
    bad.run("board").code(0);
    bad.run("verify").done().says(&["3 moves", "no gate was shut"]);
    let other = bad.git(&format!("commit-tree {tree} -m beginning")).trim().to_owned();
    let merge = bad.git(&format!("commit-tree {tree} -p {good} -p {other} -m together")).trim().to_owned();
    bad.git(&format!("reset --quiet --hard {merge}"));
    for line in ["verify", "verify --cold"] {
        bad.run(line).code(5).says(&["[move-past-gate]", &format!("commit {}", &other[..10])]);
    }
}

#[test]
fn what_only_later_programs_ask_for_is_told_and_is_no_fault() {
    let place = Place::new();
    let book = place.copy(stages::signed(), "mara");
    let made = book.run_as("tom", "sign quay-desk release --yes --json").done().json();
    let path = format!("{SIGNOFFS}/{}.json", made["sha256"].as_str().unwrap());
    let head = book.git("rev-parse HEAD~1").trim().to_owned();
    let release: Value = serde_json::from_str(&book.text(&path)).unwrap();
    // The engineer's release as an earlier program sealed it: another form of the pack, and so other digests.
    let released = |edit: &dyn Fn(&mut Value)| {
        book.git(&format!("reset --quiet --hard {head}"));
        let mut earlier = release.clone();
        earlier["facts"]["pack.format"] = json!(1);
        earlier["facts"]["pack.sha256"] = json!("0".repeat(64));
        edit(&mut earlier);
        let text = bytes(&earlier);
        lay(&book, SIGNOFFS, &text, Some(&signature("tom", "underlit-engineer", &text)));
        commit(&book, "released");
        let mut step = the_move(&Place::new());
        let all = book.names(SIGNOFFS, ".json");
        step["signoffs"] = all.iter().map(|n| n.trim_end_matches(".json")).collect::<Vec<_>>().into();
        lay_move(&book, &step);
        commit(&book, "moved");
    };
    released(&|_| {});
    book.run("status quay-desk").done().says(&["ON HOLD"]);
    book.run("verify").code(1).says(&[
        "4 moves, each re-checked against its own state: no gate was shut",
        "  since     quay-desk, move ",
        "[release-signed]; later versions ask for it; the move remains valid",
    ]);
    // It is kept, and said again.
    let answer = book.run("verify --json").code(1).json();
    assert_eq!(answer["history"]["asked_moves"]["asked_since"][0]["project"], "quay-desk");
    // The guard takes it at a first push for the same reason, whatever underlit the host has.
    book.run(&format!("guard range {} HEAD", "0".repeat(40))).code(0);
    // Every other fact is compared.
    let slab =
        release["facts"].as_object().unwrap().keys().find(|k| k.contains("thickness")).unwrap().clone();
    released(&|release| release["facts"][&slab] = json!(99_000));
    book.run("verify").code(5).says(&["[move-past-gate]", "[release-signed]"]);
    book.run(&format!("guard range {} HEAD", "0".repeat(40))).code(5);
    book.sound_for_git();
    assert!(book.path(PROJECT).is_dir());
}
