//! One bad push to a remote that nobody guards: nobody takes it, nobody is stuck by it, nobody's work is lost, and one
//! owner puts it right for all. Everything harmful is done with stock git.

use std::fs;

use crate::stages::{self, PROJECT};
use crate::three_people::ThreeClones;
use crate::workshop::{Desk, private_key, program, public_key};

pub(crate) const ALBA: &str = "projects/quay-desk/swatches/alba.json";

pub(crate) fn commit(desk: &Desk, message: &str) {
    desk.git("add --all --force");
    desk.git(&format!(r#"commit --quiet -m "{message}""#));
}

/// Takes a signed file out of the history and puts it back: the last state looks like any book.
fn bad_commit(desk: &Desk) {
    desk.git("rm --quiet roster/0002.mara.sig");
    desk.git("commit --quiet -m bad");
    desk.git("checkout --quiet HEAD~1 -- roster");
    desk.git("commit --quiet -m back");
}

fn has_behind(desk: &Desk, commit: &str) -> bool {
    desk.git_tries(&format!("merge-base --is-ancestor {commit} HEAD")).status.success()
}

/// Everybody syncs until nothing is new, and all stand at one commit that `verify` proves and that has nothing bad behind.
pub(crate) fn all_sound(clones: &ThreeClones, bad: &str) {
    for _ in 0..2 {
        for desk in [&clones.mara, &clones.imke, &clones.tom] {
            desk.run("sync").code(0);
        }
    }
    clones.sound();
    for desk in [&clones.mara, &clones.imke, &clones.tom] {
        desk.run("verify").code(0);
        assert!(!has_behind(desk, bad));
        desk.run("board").code(0).never_says(&["sync is refused"]);
    }
}

#[test]
fn the_good_beginning_is_taken_and_one_owner_puts_the_remote_right() {
    let clones = ThreeClones::without_guard(stages::intake());
    let ThreeClones { mara, imke, tom, .. } = &clones;
    // Good, bad, good; all pushed at once by stock git. Everybody has work of their own that was never sent.
    tom.edit(ALBA, "cloudy", "banded");
    commit(tom, "good before");
    bad_commit(tom);
    let bad = tom.git("rev-parse HEAD~1").trim().to_owned();
    tom.edit(ALBA, "White alabaster", "Honey alabaster");
    commit(tom, "good after");
    tom.git("push --quiet origin HEAD:main");
    tom.run("swatch change quay-desk alba --note tom").code(0);
    imke.run("project change quay-desk --note imke").code(0);
    mara.run("swatch change quay-desk alba --lot B-17").done();
    for desk in [imke, mara] {
        desk.run("sync").fails(5, "incoming-refused").says(&[
            "by tom does not pass",
            "roster/0002.mara.sig",
            "sync --drop-refused",
        ]);
        assert!(desk.text(ALBA).contains("banded"), "the good beginning is here");
        assert!(!desk.text(ALBA).contains("Honey"), "and nothing that rests on the bad commit");
    }
    let shown = ["sync is refused since", "by tom", "[add-only]"];
    mara.run("board").done().says(&shown);
    mara.run("status quay-desk").done().says(&shown);
    let answer = mara.run("status quay-desk --json").json();
    assert_eq!(answer["sync_refused"]["commits"][0]["commit"], bad.as_str());
    assert_eq!(answer["sync_refused"]["commits"][0]["who"], "tom");
    let since = answer["sync_refused"]["since"].clone();
    mara.on("2026-09-03").run("sync").fails(5, "incoming-refused");
    assert_eq!(mara.run("board --json").json()["sync_refused"]["since"], since, "since when it first was");
    let into = clones.place.path("pack").display().to_string();
    mara.run(&format!("pack quay-desk --into {into}")).says(&shown);
    // Only an owner takes anything off the remote; whoever asks without being one loses nothing.
    imke.run("sync --drop-refused").fails(2, "role").says(&["Mara Quill"]);
    mara.run("sync --drop-refused").done().says(&["removed 1 commit", "made again: 1 commit"]);
    assert!(mara.text(ALBA).contains("Honey"), "what was good after it was made again");
    all_sound(&clones, &bad);
    let whole = [tom.text(ALBA), tom.text(&format!("{PROJECT}/project.json"))].concat();
    for word in ["banded", "Honey alabaster", "B-17", "tom", "imke"] {
        assert!(whole.contains(word), "{word} in {whole}");
    }
    // What was taken out stays where it was made.
    assert!(tom.git("for-each-ref refs/underlit/set-aside").contains("commit"));
}

#[test]
fn a_clone_that_pulled_it_with_stock_git_goes_on_by_itself_and_sends_nothing_back() {
    let clones = ThreeClones::without_guard(stages::intake());
    let ThreeClones { mara, imke, tom, .. } = &clones;
    bad_commit(tom);
    let bad = tom.git("rev-parse HEAD~1").trim().to_owned();
    tom.git("push --quiet origin HEAD:main");
    imke.git("pull --quiet --ff-only");
    // Whoever reads the book is told of the commit before any sync, and nothing is laid on the remote.
    let told = ["this clone's own branch has", &bad[..10], "by tom", "as with `git pull`"];
    imke.run("status quay-desk").done().says(&told).never_says(&["origin/main holds"]);
    imke.run("board").done().says(&told);
    imke.run("check").fails(5, "refused-here").says(&told[..3]);
    assert_eq!(imke.run("status quay-desk --json").json()["sync_refused"]["here"], true);
    imke.run("project change quay-desk --note mine").done();
    imke.run("sync").fails(5, "refused-here").says(&["by tom", "nothing was sent"]);
    imke.run("status quay-desk").done().says(&told).never_says(&["origin/main holds"]);
    assert!(!imke.git("rev-parse origin/main").contains(imke.git("rev-parse HEAD").trim()));
    // Put back by hand where the remote lies, as whoever keeps it may do.
    let good = mara.git("rev-parse HEAD").trim().to_owned();
    mara.git(&format!("-C {} update-ref refs/heads/main {good}", clones.place.path("hub.git").display()));
    mara.run("sync").done();
    tom.run("sync").done().says(&["removed 1 commit that does not pass", "set-aside"]);
    imke.run("sync").done().says(&["removed 1 commit", "made again: 1 commit"]);
    assert!(imke.text(&format!("{PROJECT}/project.json")).contains("mine"));
    all_sound(&clones, &bad);
}

#[test]
fn a_refusal_that_lies_on_a_bad_commit_reaches_everybody() {
    let clones = ThreeClones::without_guard(stages::drawn());
    let ThreeClones { mara, imke, tom, place } = &clones;
    bad_commit(mara);
    let bad = mara.git("rev-parse HEAD~1").trim().to_owned();
    mara.git("push --quiet origin HEAD:main");
    imke.git("pull --quiet --ff-only");
    imke.run(r#"sign quay-desk rendering --panel front --reject --comment "too high" --yes"#).done();
    imke.git("push --quiet origin HEAD:main");
    tom.run("sync").fails(5, "incoming-refused");
    tom.run("status quay-desk").done().says(&["too high", "rejected"]);
    assert!(!has_behind(tom, &bad));
    // Who joins now begins at the last good state, and hears it too.
    let hub = place.path("hub.git").display().to_string();
    let ran = place.run("jonas", &format!("join {hub} fresh"));
    ran.code(0).says(&["sync is refused since", "by mara", "last good state"]);
    let fresh = Desk::new(place.path("fresh"), "jonas");
    assert!(!has_behind(&fresh, &bad));
    fresh.run("status quay-desk").done().says(&["too high"]);
    fresh.run("verify").code(0);
    mara.run("sync --drop-refused").code(0);
    all_sound(&clones, &bad);
    tom.run("status quay-desk").done().says(&["too high"]);
}

#[test]
fn ones_own_commit_is_not_sent_and_is_taken_out_on_ones_own_word() {
    let clones = ThreeClones::without_guard(stages::intake());
    let ThreeClones { mara, tom, place, .. } = &clones;
    bad_commit(tom);
    let bad = tom.git("rev-parse HEAD~1").trim().to_owned();
    tom.run("swatch change quay-desk alba --lot C-3").code(0);
    let there = mara.git("ls-remote origin main");
    tom.run("sync")
        .fails(5, "unsent-refused")
        .says(&["a commit of this clone that was not sent yet", "by tom"]);
    assert_eq!(mara.git("ls-remote origin main"), there, "nothing left this clone");
    tom.run("sync --drop-refused").done().says(&["removed 1 commit", "made again: 1 commit"]);
    all_sound(&clones, &bad);
    assert!(mara.text(ALBA).contains("C-3"));
    // A first push is judged like any other.
    let first = place.copy_as(stages::intake(), "first", "mara");
    bad_commit(&first);
    let empty = place.path("empty.git");
    first.git(&format!("init --quiet --bare -b main {}", empty.display()));
    first.git(&format!("remote add origin {}", empty.display()));
    first.run("sync").fails(5, "unsent-refused");
    assert_eq!(first.git("ls-remote origin"), "");
    first.write(ALBA, "{}\n");
    first.git("reset --quiet --hard HEAD~2");
    first.write(ALBA, "{}\n");
    commit(&first, "broken");
    first.run("sync").code(3).says(&["alba.json", "[schema]"]);
    assert_eq!(first.git("ls-remote origin"), "");
}

#[test]
fn who_joins_judges_the_whole_history_and_a_shallow_clone_says_what_it_cannot() {
    let clones = ThreeClones::without_guard(stages::intake());
    let ThreeClones { mara, place, .. } = &clones;
    let hub = place.path("hub.git").display().to_string();
    mara.git("commit --quiet --allow-empty -m one");
    mara.run("sync").done();
    mara.git(&format!("clone --quiet --depth 1 file://{hub} {}", place.path("shallow").display()));
    let shallow = Desk::new(place.path("shallow"), "tom");
    let fingerprint = underlit::digest::Sha256Digest::of(&mara.bytes("roster/0001.json"));
    shallow
        .run(&format!("verify --fingerprint {fingerprint}"))
        .code(1)
        .says(&["older commits are not here and unchecked", "underlit part --past"]);
    shallow.run("part --past").code(0).says(&["came in and checked", "holds the whole book"]);
    shallow.run(&format!("verify --fingerprint {fingerprint}")).done();
    // Nothing there passes: nothing is left behind.
    let book = place.copy_as(stages::intake(), "forged", "mara");
    let text = book.text("roster/0001.json");
    book.git("checkout --quiet --orphan forged");
    book.write("roster/0001.json", text.replace("Mara", "Mora"));
    commit(&book, "forged from the start");
    book.git(&format!("init --quiet --bare -b main {}", place.path("forged.git").display()));
    book.git(&format!("push --quiet {} HEAD:main", place.path("forged.git").display()));
    let forged = place.path("forged.git").display().to_string();
    place.run("tom", &format!("join {forged} none")).fails(5, "no-good-state");
    assert!(!place.path("none").exists());
}

#[test]
fn a_book_that_another_release_made_is_joined_and_check_says_what_to_renew() {
    let clones = ThreeClones::without_guard(stages::intake());
    let ThreeClones { tom, place, .. } = &clones;
    let schema = "schema/panel.schema.json";
    tom.edit(schema, "A coordinate of a drawing;", "A coordinate of drawings;");
    commit(tom, "schemas of before");
    tom.git("push --quiet origin HEAD:main");
    let hub = place.path("hub.git").display().to_string();
    place.run("tom", &format!("join {hub} joined")).done();
    let joined = Desk::new(place.path("joined"), "tom");
    joined.run("check").fails(3, "schema-differs").says(&[schema, "underlit schemas --into schema"]);
    joined.run("me tom").done();
    joined.run("status quay-desk").done();
    joined.run("swatch change quay-desk alba --lot B-17").done();
    // Another clone is told at once, since here something changed.
    clones.mara.run("sync").fails(5, "incoming-refused").says(&["schema-differs"]);
}

/// What one push may bring is bounded; the years that a book has behind it are not.
#[test]
fn a_book_with_more_commits_than_a_push_may_bring_is_joined() {
    let clones = ThreeClones::without_guard(stages::intake());
    let ThreeClones { tom, place, .. } = &clones;
    let head = tom.git("rev-parse HEAD").trim().to_owned();
    let commit = "commit refs/heads/main\ncommitter Tom <tom@example.invalid> 1800000000 +0000\ndata 1\nx\n";
    let import = format!("{commit}from {head}\n{}", commit.repeat(100_000));
    fs::write(place.path("import"), import).unwrap();
    let mut git = program("git", "tom");
    git.current_dir(&tom.at).args(["fast-import", "--quiet"]);
    git.stdin(fs::File::open(place.path("import")).unwrap());
    assert!(git.status().unwrap().success());
    tom.git("push --quiet origin HEAD:main");
    let hub = place.path("hub.git").display().to_string();
    place.run("tom", &format!("join {hub} joined --me tom")).done();
    Desk::new(place.path("joined"), "tom").run("status quay-desk").done();
    clones.mara.run("sync").fails(5, "incoming-refused").says(&["too-much"]);
}

#[test]
fn the_book_is_found_whatever_git_calls_its_first_branch() {
    for default in ["master", "trunk"] {
        let place = crate::workshop::Place::new();
        let mara = place.copy_as(stages::intake(), "mara", "mara");
        let hub = place.path("hub.git").display().to_string();
        mara.git(&format!("init --quiet --bare -b {default} {hub}"));
        mara.git(&format!("remote add origin {hub}"));
        mara.run("sync").done();
        assert_eq!(mara.git(&format!("-C {hub} symbolic-ref HEAD")).trim(), "refs/heads/main");
        // Where its keeper's HEAD names another branch, or one that is not there.
        for head in ["refs/heads/main".to_owned(), format!("refs/heads/{default}")] {
            mara.git(&format!("-C {hub} symbolic-ref HEAD {head}"));
            let name = head.replace('/', "-");
            let key = private_key("tom");
            place.run("tom", &format!("join {hub} {name} --me tom --key {key}")).done();
            let tom = Desk::new(place.path(&name), "tom");
            assert_eq!(tom.git("symbolic-ref HEAD").trim(), "refs/heads/main");
            tom.run(&format!("swatch change quay-desk alba --lot {name}")).done();
            tom.run("sync").done();
            tom.sound_for_git();
        }
        mara.git(&format!("-C {hub} symbolic-ref HEAD refs/heads/{default}"));
        place.run("mara", &format!("guard install {hub}")).code(0);
        assert_eq!(mara.git(&format!("-C {hub} symbolic-ref HEAD")).trim(), "refs/heads/main");
        mara.run("sync").code(0);
    }
}

/// A second owner's clone, beside mara's and tom's.
fn two_owners() -> (ThreeClones, Desk) {
    let clones = ThreeClones::without_guard(stages::intake());
    let key = public_key("jonas");
    clones
        .mara
        .run(&format!(r#"roster add jonas --name "Jonas Hale" --role owner --public-key {key}"#))
        .done();
    clones.mara.run("sync").done();
    let hub = clones.place.path("hub.git").display().to_string();
    let key = private_key("jonas");
    clones.place.run("jonas", &format!("join {hub} jonas --me jonas --key {key}")).done();
    let jonas = Desk::new(clones.place.path("jonas"), "jonas");
    (clones, jonas)
}

#[test]
fn a_roster_made_at_the_same_time_is_taken_back_with_its_pin_and_made_again() {
    let (clones, jonas) = two_owners();
    let ThreeClones { mara, tom, .. } = &clones;
    mara.run(&format!("roster add-key tom {}", public_key("spare"))).done();
    mara.run("sync").done();
    jonas.run(r#"roster rename imke --name "Imke Vale""#).done();
    jonas.run("swatch change quay-desk alba --lot J-1").done();
    let head = jonas.git("rev-parse HEAD");
    jonas.run("sync").fails(5, "roster-made-twice").says(&["underlit roster redo", "nothing was changed"]);
    assert_eq!(jonas.git("rev-parse HEAD"), head);
    jonas.run("board").done().never_says(&["sync is refused"]);
    jonas
        .run("roster redo")
        .done()
        .says(&["took back your roster version 5", "roster version 6 is in force"]);
    jonas.run("sync").done();
    mara.run("sync").code(0);
    tom.run("sync").code(0);
    for desk in [mara, tom, &jonas] {
        desk.run("roster show").done().says(&["roster version 6", "Imke Vale"]);
        assert!(desk.text(ALBA).contains("J-1"), "work that has nothing to do with it came along");
        assert!(
            desk.text("roster/0006.json")
                .contains(fs::read_to_string(public_key("spare")).unwrap().trim().split(' ').nth(1).unwrap())
        );
        desk.run("verify").code(0);
    }
    // What cannot be made again is not taken back either: branch, pin and files are as before.
    mara.run(&format!("roster add-key imke {}", public_key("mallory"))).done();
    mara.run("sync").done();
    jonas.run(r#"roster rename tom --name "Tom Reeve""#).done();
    let (head, pin) = (jonas.git("rev-parse HEAD"), jonas.text(".git/underlit/pin.json"));
    let foreign = private_key("imke");
    jonas.run(&format!("roster redo --key {foreign}")).fails(5, "not-made-again").says(&[
        "key-not-on-roster",
        "not taken back either",
        "nothing was changed",
    ]);
    assert_eq!(jonas.git("rev-parse HEAD"), head);
    assert_eq!(jonas.text(".git/underlit/pin.json"), pin);
    assert_eq!(jonas.git("status --porcelain"), "");
    jonas
        .run("roster redo")
        .done()
        .says(&["took back your roster version 7", "roster version 8 is in force"]);
    jonas.run("sync").done();
    mara.run("sync").code(0);
    mara.run("roster show").done().says(&["Tom Reeve"]);
    // Both changed the same person: nobody can guess, and taking back alone frees.
    mara.run(r#"roster rename imke --name "Imke One""#).done();
    mara.run("sync").done();
    jonas.run(r#"roster rename imke --name "Imke Two""#).done();
    jonas.run("roster redo").fails(2, "roster-both-changed").says(&["imke", "--drop"]);
    jonas.run("roster redo --drop").done();
    jonas.run("sync").done();
    jonas.run("roster show").done().says(&["Imke One"]);
    jonas.run("roster redo").fails(2, "nothing-to-redo");
}

#[test]
fn a_reader_pins_only_what_is_committed_and_says_how_lost_files_come_back() {
    let clones = ThreeClones::without_guard(stages::intake());
    let ThreeClones { mara, tom, .. } = &clones;
    // As a kill between the files and their commit leaves it.
    mara.run(&format!("roster add-key tom {}", public_key("spare"))).done();
    for name in mara.names("roster", "") {
        tom.write(&format!("roster/{name}"), mara.bytes(&format!("roster/{name}")));
    }
    tom.run("board").done();
    for name in ["0004.json", "0004.mara.sig"] {
        fs::remove_file(tom.path(&format!("roster/{name}"))).unwrap();
    }
    tom.run("board").done();
    tom.run("sync").done();
    fs::remove_file(tom.path("roster/0003.json")).unwrap();
    fs::remove_file(tom.path("roster/0003.mara.sig")).unwrap();
    for line in ["board", "sync"] {
        tom.run(line).fails(5, "roster-rolled-back").says(&["git checkout HEAD -- roster"]);
    }
    tom.git("checkout HEAD -- roster");
    tom.run("swatch change quay-desk alba --lot unsent").done();
    let head = tom.git("rev-parse HEAD").trim().to_owned();
    fs::remove_file(tom.path(".git/refs/heads/main")).unwrap();
    tom.run("sync").code(6).says(&["branch-lost", &head[..10], "underlit check --repair branch"]);
    tom.run("check --repair branch").code(0);
    assert_eq!(tom.git("rev-parse HEAD").trim(), head);
    tom.run("sync").done();
    mara.run("sync").done();
    assert!(mara.text(ALBA).contains("unsent"));
}

#[test]
fn what_is_taken_is_judged_without_temporary_files() {
    let clones = ThreeClones::without_guard(stages::intake());
    let ThreeClones { mara, tom, place, .. } = &clones;
    mara.run("swatch change quay-desk alba --lot B-1").done();
    mara.run("sync").done();
    let nowhere = place.path("no/such/folder");
    let output = tom.command().arg("sync").env("TMPDIR", &nowhere).output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    assert_eq!(tom.git("rev-parse HEAD"), mara.git("rev-parse HEAD"));
    tom.run("board").done().never_says(&["sync is refused"]);
}

#[test]
fn a_commit_that_no_program_can_read_stops_nobody() {
    let clones = ThreeClones::without_guard(stages::intake());
    let ThreeClones { mara, imke, tom, place } = &clones;
    let (tree, parent) = (tom.git("rev-parse HEAD^{tree}"), tom.git("rev-parse HEAD"));
    let text = format!(
        "tree {tree}parent {parent}author Somebody else 1700000000 +0000\ncommitter X <x@y> 1700000000 +0000\n\nodd\n"
    );
    let file = place.file("commit", text);
    let odd = tom.git(&format!("hash-object -t commit -w --literally {file}")).trim().to_owned();
    tom.git(&format!("update-ref refs/heads/main {odd}"));
    tom.edit(ALBA, "cloudy", "banded");
    commit(tom, "good after");
    tom.git("push --quiet origin main");
    imke.run("project change quay-desk --note imke").done();
    imke.run("sync").fails(5, "incoming-refused").says(&["[commit-unreadable]", "Somebody else", &odd[..10]]);
    let hub = place.path("hub.git").display().to_string();
    place.run("jonas", &format!("join {hub} fresh")).code(0).says(&["sync is refused since"]);
    mara.run("sync --drop-refused").done().says(&["removed 1 commit", "made again: 1 commit"]);
    // What is kept of the odd commit is no sound object for git, so only the books are held against each other.
    for desk in [mara, imke, tom, mara, imke, tom] {
        desk.run("sync").code(0);
    }
    for desk in [mara, imke, tom] {
        desk.run("verify").code(0);
        assert!(!has_behind(desk, &odd));
        assert_eq!(desk.git("rev-parse HEAD"), mara.git("rev-parse HEAD"));
    }
    assert!(mara.text(ALBA).contains("banded"));
    assert!(tom.text(&format!("{PROJECT}/project.json")).contains("imke"));
}
