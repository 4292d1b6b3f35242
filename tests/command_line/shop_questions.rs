//! Questions about files outside any project: the shop's lists, which only owners seal, and pages of the whole book.

use std::fs;

use serde_json::Value;

use crate::stages;
use crate::three_people::ThreeClones;
use crate::workshop::{Desk, private_key};

/// Commits by hand, past the tool.
fn commit(desk: &Desk, what: &str) {
    desk.git("add -A");
    desk.git(&format!("commit -q -m {what}"));
}

/// Changes the first figure of that name in a list.
fn set(desk: &Desk, file: &str, pointer: &str, value: Value) {
    let mut list: Value = serde_json::from_str(&desk.text(file)).unwrap();
    *list.pointer_mut(pointer).unwrap() = value;
    desk.write(file, format!("{list:#}\n"));
}

fn only_question(desk: &Desk) -> String {
    let open = desk.run("resolve --shop --json").done().json();
    assert_eq!(open["questions"].as_array().unwrap().len(), 1, "{open}");
    open["questions"][0]["id"].as_str().unwrap().to_owned()
}

const DEPTH: &str = "/routes/0/largest_depth_mm";

#[test]
fn a_list_that_was_sealed_there_and_changed_here_is_asked_about_and_sealed_anew() {
    let clones = ThreeClones::at(stages::signed());
    let ThreeClones { place, mara, imke, tom } = &clones;
    tom.run("sign quay-desk release --yes").done();
    tom.run("advance quay-desk").done().says(&["to released"]);
    tom.run("sync").done();
    mara.run("sync").done();
    // The owner at another machine, past the tool; meanwhile the same list is sealed here.
    let second = place.copy_as(&mara.at, "second", "mara");
    let list = "shop/calendar.json";
    let calendar: Value = serde_json::from_str(&mara.text(list)).unwrap();
    let mut there = calendar.clone();
    there["note"] = "closed in winter".into();
    let mut here = calendar;
    here["note"] = "closed in summer".into();
    second.write(list, format!("{there:#}\n"));
    commit(&second, "winter");
    mara.write(list, format!("{here:#}\n"));
    mara.run(r#"roster seal --reason "closed in summer""#).done().says(&["roster version 4"]);
    mara.run("sync").done();
    // What was sealed stands; the other change is kept, and asked about.
    second
        .run("sync")
        .code(4)
        .says(&["merged and sent", "nothing is lost; 1 question is open: underlit resolve --shop"]);
    assert_eq!(second.text(list), mara.text(list));
    second.sound();
    second
        .run("check")
        .done()
        .says(&["open question: the shop's list calendar: ", "underlit resolve --shop"]);
    for desk in [mara, imke, tom] {
        desk.run("sync")
            .code(4)
            .says(&["question: the shop: the shop's list calendar: ", "underlit resolve --shop"]);
    }
    // A list that the job is planned by holds it back, with the reason.
    tom.run("board").done().says(&["the shop: 1 open question: underlit resolve --shop", "ON HOLD"]);
    tom.run("board --released").done().says(&["nothing is released"]);
    tom.run("status quay-desk").done().says(&[
        "question  the shop's list calendar: ",
        "answer    underlit resolve --shop",
        "panels of this job are planned by it [no-open-conflict]",
        "who: owner: mara",
    ]);
    tom.run("verify").code(1);
    tom.run("sign quay-desk release --yes").fails(4, "open-question").says(&["underlit resolve --shop"]);
    // Shown without naming anything, with what differs.
    let id = only_question(imke);
    imke.run("resolve").done().says(&["underlit resolve --shop", &id[..8], "Note: ", "winter", "summer"]);
    imke.run("resolve quay-desk").done().says(&["no question is open"]);
    // What owners seal, an owner answers.
    imke.unchanged(|i| {
        i.run(&format!("resolve --shop {id} --take 2")).fails(2, "role").says(&["ask mara"]);
        i.run(&format!("resolve quay-desk {id} --take 2")).fails(2, "unknown-question");
        i.run(&format!("resolve --shop quay-desk {id} --take 2")).fails(2, "usage");
        i.run("resolve --all --take 2").fails(2, "missing-argument");
        i.run(&format!("resolve --shop {id} --take 9")).fails(2, "no-such-side");
    });
    mara.unchanged(|m| {
        m.run(&format!("resolve --shop {id} --value 17")).code(3).says(&[list]);
        m.run(&format!("resolve --shop {id} --take 2 --dry-run")).done().says(&["dry run: "]);
    });
    let sides = mara.run("resolve --shop --json").done().json();
    let kept = |number: usize| -> String {
        let side = &sides["questions"][0]["question"]["sides"][number - 1];
        mara.text(side["file"].as_str().unwrap())
    };
    let winter = if kept(1).contains("winter") { 1 } else { 2 };
    mara.run(&format!("resolve --shop {} --take {winter}", &id[..6]))
        .done()
        .says(&["settled the shop's list calendar, sealed anew by roster version 5"]);
    assert!(mara.text(list).contains("winter"));
    assert!(mara.names("conflicts", "").is_empty());
    mara.sound();
    mara.run("sync").done();
    for desk in [imke, tom] {
        desk.run("sync").done();
        desk.run("board").done().never_says(&["ON HOLD", "open question", "without an answer"]);
    }
    second.run("sync").done();
    clones.sound();
}

#[test]
fn what_stands_is_kept_by_anybody_and_two_owners_settle_together() {
    let clones = ThreeClones::at(stages::intake());
    let ThreeClones { place, mara, imke, tom } = &clones;
    mara.run("roster roles tom owner,engineer").done();
    mara.run("roster threshold 2").done().says(&["waits: 1 of 2"]);
    let proposal = mara.path(".git/underlit/roster-0005-proposal.json");
    mara.run_as("tom", &format!("roster countersign {} --key {}", proposal.display(), private_key("tom")))
        .done()
        .says(&["in force"]);
    mara.run("sync").done();
    tom.run("sync").done();
    imke.run("sync").done();
    // Imke changes two lists by hand; one of them is sealed otherwise meanwhile.
    for (file, pointer, value) in
        [("shop/routes.json", DEPTH, 13), ("shop/wire.json", "/largest_drop_pct", 2)]
    {
        set(imke, file, pointer, value.into());
    }
    commit(imke, "lists");
    set(mara, "shop/routes.json", DEPTH, 12.into());
    mara.run("roster seal --reason routes").done().says(&["1 of 2"]);
    let proposal = mara.path(".git/underlit/roster-0006-proposal.json");
    let handed = place.file("proposal.json", fs::read(proposal).unwrap());
    tom.run(&format!("roster countersign {handed}")).done().says(&["in force"]);
    tom.run("sync").done();
    mara.git("checkout -q -- shop");
    mara.run("sync").done();
    imke.run("sync").code(4).says(&["2 questions are open: underlit resolve --shop"]);
    imke.sound();
    mara.run("sync").code(4);
    tom.run("sync").code(4);
    let open = mara.run("resolve --shop --json").done().json();
    let id = |path: &str| -> String {
        let all = open["questions"].as_array().unwrap();
        let one = all.iter().find(|q| q["question"]["path"] == path).unwrap();
        one["id"].as_str().unwrap().to_owned()
    };
    // Leaving it as it is sealed changes nothing that is sealed, so anybody may say so.
    imke.run(&format!("resolve --shop {} --take base", id("shop/wire.json")))
        .done()
        .says(&["settled the shop's list wire"]);
    imke.run("sync").done();
    // The other one takes both owners, and stays open until both have signed.
    mara.run("sync").done();
    let routes = id("shop/routes.json");
    let hers = &open["questions"].as_array().unwrap().iter().find(|q| q["id"] == routes.as_str()).unwrap()["question"];
    let imkes = hers["sides"].as_array().unwrap().iter().position(|s| s["by"] == "imke").unwrap() + 1;
    mara.run(&format!("resolve --shop {routes} --take {imkes}")).done().says(&[
        "the shop's list routes stays open until roster version 7 is in force: 1 of 2 owners signed",
    ]);
    assert_eq!(only_question(mara), routes);
    mara.sound();
    let proposal = mara.path(".git/underlit/roster-0007-proposal.json");
    let handed = place.file("answer.json", fs::read(proposal).unwrap());
    tom.run("sync").done();
    tom.run(&format!("roster countersign {handed}")).done().says(&["in force"]);
    assert!(tom.text("shop/routes.json").contains(": 13,"));
    tom.run("resolve --shop").done().says(&["no question is open"]);
    tom.run("sync").done();
    mara.run("sync").done();
    imke.run("sync").done();
    clones.sound();
}

#[test]
fn a_page_of_the_book_is_asked_about_and_holds_nothing_back() {
    let clones = ThreeClones::at(stages::signed());
    let ThreeClones { mara, imke, tom, .. } = &clones;
    mara.write("README.md", "Ring the bell twice.\n");
    imke.write("README.md", "Ring the bell once.\n");
    let told = |desk: &Desk| -> usize {
        desk.run("watch --once --json").done().stdout.lines().filter(|l| l.contains("\"question\"")).count()
    };
    told(tom);
    mara.run("sync").done();
    imke.run("sync").code(4).says(&["1 question is open: underlit resolve --shop"]);
    assert_eq!((told(tom), told(tom)), (1, 0), "once");
    tom.run("sync").code(4).says(&["question: the shop: README.md: "]);
    mara.run("sync").code(4);
    tom.run("status quay-desk").done().never_says(&["README", "no-open-conflict"]);
    tom.run("sign quay-desk release --yes").done();
    tom.run("advance quay-desk").done().says(&["to released"]);
    // A third edit of it joins the question.
    mara.write("README.md", "Do not ring at all.\n");
    mara.run("sync").done();
    tom.run("sync").code(0);
    let id = only_question(tom);
    tom.run(&format!("resolve --shop {id} --take theirs"))
        .fails(2, "no-such-side")
        .says(&["underlit resolve --shop"]);
    imke.run("sync").done();
    imke.run(&format!("resolve --shop {id} --take ours")).done().says(&["settled README.md"]);
    assert_eq!(imke.text("README.md"), "Ring the bell once.\n");
    imke.run("sync").done();
    mara.run("sync").done();
    tom.run("sync").done();
    clones.sound();
    assert_eq!(told(tom), 0);
}

#[test]
fn several_answers_of_the_shop_are_one_version_and_one_commit() {
    let clones = ThreeClones::at(stages::intake());
    let ThreeClones { place, mara, tom, .. } = &clones;
    let second = place.copy_as(&mara.at, "second", "mara");
    for (file, pointer, here, there) in
        [("shop/routes.json", DEPTH, 12, 13), ("shop/wire.json", "/largest_drop_pct", 2, 4)]
    {
        set(mara, file, pointer, here.into());
        set(&second, file, pointer, there.into());
    }
    second.write("README.md", "Ring the bell once.\n");
    commit(&second, "lists");
    mara.write("README.md", "Ring the bell twice.\n");
    mara.run("roster seal --reason lists").code(0);
    mara.run("sync").done();
    second.run("sync").code(4).says(&["3 questions are open: underlit resolve --shop"]);
    let open = second.run("resolve --shop --json").done().json();
    let answers: Vec<String> = open["questions"]
        .as_array()
        .unwrap()
        .iter()
        .map(|question| {
            // Every file's edit that is not what is here.
            let other = question["choices"]
                .as_array()
                .unwrap()
                .iter()
                .find(|choice| choice["take"] != "base")
                .unwrap();
            format!("{}={}", question["id"].as_str().unwrap(), other["take"].as_str().unwrap())
        })
        .collect();
    let before = second.commits();
    second.run(&format!("resolve --shop {}", answers.join(" "))).done();
    assert_eq!(second.commits(), before + 1, "one change");
    second.run("resolve --shop").done().says(&["no question is open"]);
    assert!(second.names("conflicts", "").is_empty());
    second.sound();
    second.run("sync").done();
    mara.run("sync").done();
    tom.run("sync").done();
    assert_eq!(mara.git("rev-parse HEAD^{tree}"), second.git("rev-parse HEAD^{tree}"));
}
