//! Questions that go away without an answer are told to everybody until they are asked again and answered; and what was
//! answered, in whatever way, is never told as lost.

use std::sync::atomic::{AtomicU32, Ordering};

use crate::stages::{self, PROJECT};
use crate::three_people::ThreeClones;
use crate::workshop::Desk;

const LOST: &str = "was removed without an answer";

/// Both change the same fields, and everybody has the questions.
fn asked(clones: &ThreeClones, fields: &[&str]) {
    static TIMES: AtomicU32 = AtomicU32::new(0);
    let ThreeClones { mara, imke, tom, .. } = clones;
    let time = TIMES.fetch_add(1, Ordering::Relaxed);
    for (desk, side) in [(mara, "harbour"), (imke, "street")] {
        for field in fields {
            desk.run(&format!("{field} {side}{time}")).done();
        }
    }
    mara.run("sync").done();
    imke.run("sync").code(4);
    mara.run("sync").code(4);
    tom.run("sync").code(4);
}

const TITLE: &str = "panel change quay-desk front --title";
const LOT: &str = "swatch change quay-desk alba --lot";
const NOTE: &str = "project change quay-desk --note";

/// Takes every open question out, past the tool.
fn take_out(desk: &Desk, folder: &str) {
    desk.git(&format!("rm -q -r {folder}"));
    desk.git("commit -q -m tidied");
}

/// Nobody is told of a loss.
#[track_caller]
fn nothing_lost(desk: &Desk) {
    for line in ["status quay-desk", "board", "resolve"] {
        desk.run(line).code(0).never_says(&["without an answer"]);
    }
    let verified = desk.run("verify --json").json();
    assert_eq!(verified["vanished"], serde_json::json!([]), "{verified:#}");
}

/// Each takes in what is new, and is told of no loss.
#[track_caller]
fn nothing_comes_missing(desks: &[&Desk]) {
    for desk in desks {
        desk.run("sync").done().never_says(&["missing"]);
        nothing_lost(desk);
    }
}

#[test]
fn what_was_taken_out_unanswered_is_told_until_it_is_asked_again_and_answered() {
    for guarded in [true, false] {
        let clones = if guarded {
            ThreeClones::at(stages::intake())
        } else {
            ThreeClones::without_guard(stages::intake())
        };
        let ThreeClones { mara, imke, tom, .. } = &clones;
        asked(&clones, &[TITLE]);
        nothing_lost(tom);
        take_out(mara, &format!("{PROJECT}/conflicts"));
        mara.run("status quay-desk").done().says(&["missing   the question about panel front, title", LOST]);
        mara.run("sync").done();
        // Told to each as it comes in, once; and wherever somebody looks at the job.
        for desk in [imke, tom] {
            desk.run("sync").done().says(&[
                "missing: the question about panel front, title was removed without an answer, by mara on",
                "`underlit resolve quay-desk --ask-again` brings it back",
            ]);
            desk.run("sync").done().never_says(&["missing"]);
            desk.run("status quay-desk")
                .done()
                .says(&["missing   the question about panel front, title", LOST]);
            desk.run("board").done().says(&["1 question removed without an answer"]);
            desk.run("verify").code(0).says(&["missing   the question about panel front, title", LOST]);
            desk.run("resolve quay-desk").done().says(&[LOST, "no question is open"]);
        }
        // What else is done does not cover it up.
        imke.run("project change quay-desk --note more").done();
        imke.run("status quay-desk").done().says(&[LOST]);
        imke.unchanged(|i| i.run("resolve quay-desk --ask-again --dry-run").done().says(&["dry run: "]));
        imke.run("resolve --ask-again").fails(2, "usage");
        imke.run("resolve quay-desk --ask-again").done().says(&["asked again about panel front, title"]);
        imke.run("resolve quay-desk --ask-again").done().says(&["no question was removed"]);
        imke.run("status quay-desk").done().says(&["question  panel front, title: "]).never_says(&[LOST]);
        imke.run("sync").done();
        mara.run("sync").code(4).says(&["panel front, title: "]);
        mara.run("resolve quay-desk --take base").done();
        mara.run("sync").done();
        nothing_comes_missing(&[imke, tom, mara]);
        clones.sound();
    }
}

#[test]
fn a_question_of_the_shop_is_missed_as_well() {
    let clones = ThreeClones::without_guard(stages::intake());
    let ThreeClones { mara, imke, tom, .. } = &clones;
    for (desk, line) in [(mara, "harbour"), (imke, "street")] {
        desk.write("README.md", format!("{line}\n"));
        desk.git("add -A");
        desk.git("commit -q -m page");
    }
    mara.run("sync").done();
    imke.run("sync").code(4);
    take_out(imke, "conflicts");
    imke.run("sync").done();
    tom.run("sync")
        .done()
        .says(&["missing: the question about README.md", "underlit resolve --shop --ask-again"]);
    tom.run("board").done().says(&["the shop: the question about README.md"]);
    // What the question keeps comes back with it.
    tom.run("resolve --shop --ask-again").done().says(&["asked again about README.md"]);
    tom.run("resolve --shop --take 2").done().says(&["settled README.md"]);
    tom.run("sync").done();
    for desk in [mara, imke] {
        desk.run("sync").done();
        nothing_lost(desk);
    }
    clones.sound();
}

#[test]
fn an_answer_is_never_told_as_a_loss() {
    for guarded in [true, false] {
        let clones = if guarded {
            ThreeClones::at(stages::intake())
        } else {
            ThreeClones::without_guard(stages::intake())
        };
        let ThreeClones { mara, imke, tom, .. } = &clones;
        let all_quiet = || {
            for desk in [mara, imke, tom, mara] {
                let ran = desk.run("sync");
                assert!([0, 4].contains(&ran.code), "{ran:?}");
                ran.never_says(&["missing"]);
            }
            for desk in [mara, imke, tom] {
                nothing_lost(desk);
            }
        };
        // Several at once, and as it was before: nothing but the questions' records changes.
        asked(&clones, &[TITLE, LOT, NOTE]);
        mara.run("resolve quay-desk --all --take base").done();
        let message = mara.git("log -1 --format=%B");
        for line in ["panels/front.json /title", "swatches/alba.json /slab/lot", "project.json /note"] {
            let line = format!("\nsettles {PROJECT}/{line}\n");
            assert!(message.contains(&line), "{line} {message}");
        }
        all_quiet();
        // In two clones at once, alike and otherwise; what the merge asks about again is answered in the end.
        for takes in [["base", "base"], ["1", "1"], ["1", "2"], ["base", "2"]] {
            asked(&clones, &[TITLE]);
            for (desk, take) in [(mara, takes[0]), (imke, takes[1])] {
                desk.run(&format!("resolve quay-desk --take {take}")).done();
            }
            all_quiet();
            imke.run("resolve quay-desk --all --take base").code(0);
            all_quiet();
        }
        // By a third edit, which makes the question another one.
        asked(&clones, &[TITLE]);
        tom.run(&format!("{TITLE} third")).done();
        mara.run("resolve quay-desk --take base").done();
        all_quiet();
        tom.run("resolve quay-desk --all --take base").code(0);
        all_quiet();
        // By hand: the place is set, and the record goes.
        asked(&clones, &[TITLE]);
        let front = format!("{PROJECT}/panels/front.json");
        let mut record: serde_json::Value = serde_json::from_str(&mara.text(&front)).unwrap();
        record["title"] = "by hand".into();
        mara.write(&front, format!("{record:#}\n"));
        std::fs::remove_dir_all(mara.path(&format!("{PROJECT}/conflicts"))).unwrap();
        mara.run("check").done();
        all_quiet();
        // As answers said it before there was a line for each.
        asked(&clones, &[TITLE]);
        mara.run("resolve quay-desk --take base").done();
        mara.git(r#"commit -q --amend -m "quay-desk: settles panel front, title""#);
        all_quiet();
        clones.sound();
    }
}

#[test]
fn what_stock_git_does_with_an_answer_leaves_it_an_answer() {
    for way in ["merge -q --no-edit side", "cherry-pick side", "merge -q --squash side", "rebase -q side"] {
        let clones = ThreeClones::at(stages::intake());
        let ThreeClones { mara, imke, tom, .. } = &clones;
        asked(&clones, &[TITLE]);
        mara.git("checkout -q -b side");
        mara.run("resolve quay-desk --take base").done();
        mara.git("checkout -q main");
        mara.run("project change quay-desk --note meanwhile").done();
        mara.git(way);
        if way.contains("squash") {
            mara.git("commit -q --no-edit");
        }
        nothing_lost(mara);
        mara.run("sync").done();
        nothing_comes_missing(&[imke, tom]);
        clones.sound();
    }
}

/// A merge that keeps one side whole drops the other's questions.
#[test]
fn a_question_that_a_merge_by_hand_drops_is_missed() {
    let clones = ThreeClones::without_guard(stages::intake());
    let ThreeClones { mara, tom, .. } = &clones;
    asked(&clones, &[TITLE]);
    mara.git("branch asked");
    mara.git("reset -q --hard HEAD^1");
    mara.git("merge -q -s ours --no-ff --no-edit asked");
    mara.run("status quay-desk").done().says(&["missing   the question about panel front, title"]);
    mara.run("sync").done();
    tom.run("sync").done().says(&["missing: the question about panel front, title"]);
}
