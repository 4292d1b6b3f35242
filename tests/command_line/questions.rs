//! Open questions as people meet them: one for one event, shown by what differs, answered in one command without a name
//! where it is the only one, several in one change; and those that were asked before, in the records of then.

use serde_json::{Value, json};

use crate::stages::{self, PROJECT};
use crate::three_people::ThreeClones;
use crate::workshop::{Desk, Ran};

fn stone(id: &str) -> String {
    format!(
        r#"swatch add quay-desk {id} --stone "Stone {id}" --material onyx --tone honey --texture banded --thickness 20mm --slab-thickness 20mm"#
    )
}

fn shown(desk: &Desk) -> Vec<Value> {
    desk.run("resolve quay-desk --json").done().json()["questions"].as_array().unwrap().clone()
}

/// A short name that names no other question.
fn name(question: &Value) -> &str {
    &question["id"].as_str().unwrap()[..12]
}

#[test]
fn a_photo_is_one_question_and_a_sole_answer_needs_no_name() {
    let clones = ThreeClones::at(stages::intake());
    let ThreeClones { mara, imke, place, .. } = &clones;
    let photo = |text: &str| place.file(&format!("{text}.jpg"), format!("\u{7f}{text}"));
    for (desk, text) in [(mara, "maras"), (imke, "imkes")] {
        desk.run(&format!("swatch change quay-desk alba --photo {}", photo(text))).code(0);
    }
    mara.run("sync").done();
    imke.run("sync").code(4).says(&[
        "question: Quay desk: swatch alba, photo: which of 2 files? It stays empty until somebody answers",
        "nothing is lost; 1 question is open: underlit resolve quay-desk",
    ]);
    imke.run("status quay-desk").done().says(&["answer    underlit resolve quay-desk"]);
    imke.run("board").done().says(&["1 open question"]);
    imke.run("check").done().says(&["open question: swatch alba, photo: "]);
    imke.run("resolve quay-desk").done().says(&[
        "swatch alba, photo",
        "another file: Mara Quill on Tuesday 2026-09-01",
        "another file: your edit, Imke Voss on Tuesday 2026-09-01",
        "  answer with one of:\n    underlit resolve quay-desk --take 1\n    underlit resolve quay-desk --take 2\n",
    ]);
    let [question] = shown(imke).try_into().unwrap();
    assert_eq!(question["files"].as_array().unwrap().len(), 2);
    assert_eq!(question["choices"][0]["changes"][0]["field"], "Photo");
    imke.unchanged(|i| {
        i.run("resolve quay-desk --take 1 --dry-run").done().says(&["dry run: "]);
        i.run("resolve quay-desk --take 7").fails(2, "no-such-side");
    });
    imke.run("resolve quay-desk --take theirs").done().says(&["settled swatch alba, photo"]);
    assert_eq!(imke.text(&format!("{PROJECT}/swatches/alba.jpg")), "\u{7f}maras");
    imke.run("resolve quay-desk --take theirs").done().says(&["no question is open"]);
    assert!(imke.names(&format!("{PROJECT}/conflicts"), "").is_empty());
    imke.run("sync").done();
    mara.run("sync").done();
    clones.tom.run("sync").done();
    clones.sound();
}

#[test]
fn several_answers_are_one_change_and_all_or_none_is_taken() {
    let clones = ThreeClones::at(stages::intake());
    let ThreeClones { mara, imke, .. } = &clones;
    for (desk, side) in [(mara, "harbour"), (imke, "street")] {
        desk.run(&format!("panel change quay-desk front --title {side}")).done();
        desk.run(&format!("swatch change quay-desk alba --lot {side}")).done();
        desk.run(&format!("project change quay-desk --note {side}")).done();
    }
    mara.run("sync").done();
    imke.run("sync").code(4).says(&["3 questions are open"]);
    let open = shown(imke);
    let of =
        |place: &str| name(open.iter().find(|q| q["place"].as_str().unwrap().starts_with(place)).unwrap());
    let (title, lot, note) = (of("panel front"), of("swatch alba"), of("the project"));
    imke.unchanged(|i| {
        i.run("resolve quay-desk --take 1").fails(2, "missing-argument").says(&["3 questions are open"]);
        i.run(&format!("resolve quay-desk {title}=1 {title}=2")).fails(2, "usage");
        i.run(&format!("resolve quay-desk {title} {lot}=2")).fails(2, "missing-argument");
        i.run(&format!("resolve quay-desk {title}:=[")).fails(2, "usage");
        i.run(&format!("resolve quay-desk {title} --all --take 1")).fails(2, "usage");
        // One of them is wrong, so none is taken.
        i.run(&format!("resolve quay-desk {title}=1 {lot}:=17 {note}=base")).code(3).says(&["/slab/lot"]);
    });
    let before = imke.commits();
    let mut command = imke.command();
    command.args(["resolve", "quay-desk"]);
    command.args([format!("{title}=ours"), format!("{lot}=theirs"), format!("{note}:=\"both\"")]);
    Ran::of("resolve", command.output().unwrap()).done().says(&[
        "settled panel front, title",
        "settled swatch alba, slab lot",
        "settled the project, note",
    ]);
    assert_eq!(imke.commits(), before + 1);
    assert!(imke.text(&format!("{PROJECT}/panels/front.json")).contains("street"));
    assert!(imke.text(&format!("{PROJECT}/swatches/alba.json")).contains("harbour"));
    assert!(imke.text(&format!("{PROJECT}/project.json")).contains("\"both\""));
    imke.run("sync").done();
    mara.run("sync").done();
    clones.tom.run("sync").done();
    clones.sound();
}

/// As a merge of before wrote it: the new panel of one is put aside, because the other removed its stone.
#[test]
fn questions_of_before_are_read_and_an_answer_that_does_not_fit_is_refused_with_what_does() {
    let clones = ThreeClones::at(stages::intake());
    let ThreeClones { mara, imke, tom, .. } = &clones;
    mara.run(&stone("beta")).code(0);
    let front: Value = serde_json::from_str(&mara.text(&format!("{PROJECT}/panels/front.json"))).unwrap();
    let mut changed = front.clone();
    changed["swatch"] = json!("beta");
    mara.run("panel change quay-desk front --swatch beta").done();
    mara.run("panel change quay-desk front --swatch alba").done();
    mara.run("swatch remove quay-desk beta").done();
    let side = |who: &str, value: &Value| json!({"value": value, "by": who, "email": "x@tern.invalid", "at": "2026-09-01T08:00:00Z", "commit": "1".repeat(40)});
    let record = json!({
        "$schema": "../../../schema/conflict.schema.json",
        "path": format!("{PROJECT}/panels/front.json"), "pointer": "", "base": front,
        "sides": [side("Tom Reed", &changed), {"value": front}],
    });
    let path = format!("{PROJECT}/conflicts/{}.json", "a1".repeat(16));
    mara.write(&path, format!("{record:#}\n"));
    mara.run("sync").done();
    imke.run("sync").code(4);
    // Who made it is what the history says, and not what the record claims.
    imke.run("resolve quay-desk")
        .done()
        .says(&[
            "changed: Mara Quill on Tuesday 2026-09-01",
            "does not fit now: ",
            "swatches/beta.json is missing",
            "underlit resolve quay-desk --take 2",
        ])
        .never_says(&["Tom Reed", "--take 1"]);
    imke.unchanged(|i| {
        i.run("resolve quay-desk --take 1")
            .fails(3, "answer-does-not-fit")
            .says(&["these answers fit: `underlit resolve quay-desk --take 2`", "unknown-reference"]);
        i.run("resolve quay-desk --all --take 1").fails(3, "answer-does-not-fit");
    });
    imke.run(&stone("beta")).code(0);
    imke.run("resolve quay-desk --take 1").done();
    assert!(imke.text(&format!("{PROJECT}/panels/front.json")).contains("beta"));
    imke.run("sync").done();
    mara.run("sync").done();
    tom.run("sync").done();
    clones.sound();
}

/// A photo's two questions, of which an earlier program let one be answered alone: only what fits is taken for the other.
#[test]
fn half_of_a_photo_that_was_answered_before_is_answered_by_what_fits() {
    let clones = ThreeClones::at(stages::intake());
    let ThreeClones { mara, imke, place, .. } = &clones;
    for (desk, text) in [(mara, "maras"), (imke, "imkes")] {
        let photo = place.file(&format!("{text}.jpg"), format!("\u{7f}{text}"));
        desk.run(&format!("swatch change quay-desk alba --photo {photo}")).code(0);
    }
    mara.run("sync").done();
    imke.run("sync").code(4);
    // The field's question is answered by hand, as its file happens to be.
    let swatch = format!("{PROJECT}/swatches/alba.json");
    let [question] = shown(imke).try_into().unwrap();
    let here = underlit::digest::Sha256Digest::of(&imke.bytes(&format!("{PROJECT}/swatches/alba.jpg"))).hex();
    let sides = question["question"]["sides"].as_array().unwrap();
    let taken = sides.iter().position(|side| side["value"]["sha256"] == here.as_str()).unwrap();
    let mut record: Value = serde_json::from_str(&imke.text(&swatch)).unwrap();
    record["photo"] = sides[taken]["value"].clone();
    imke.write(&swatch, format!("{record:#}\n"));
    std::fs::remove_file(
        imke.path(&format!("{PROJECT}/conflicts/{}.json", question["id"].as_str().unwrap())),
    )
    .unwrap();
    imke.run("check").done();
    let [file] = shown(imke).try_into().unwrap();
    let fits: Vec<&str> = file["choices"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|choice| choice["fits"] == true)
        .map(|choice| choice["take"].as_str().unwrap())
        .collect();
    assert_eq!(fits.len(), 2, "the one that stands, and leaving it: {file:#}");
    for take in ["1", "2"].into_iter().filter(|take| !fits.contains(take)) {
        imke.run(&format!("resolve quay-desk --take {take}")).fails(3, "answer-does-not-fit");
    }
    imke.run(&format!("resolve quay-desk --take {}", fits[0])).done();
    imke.run("check").done();
    imke.run("sync").done();
    mara.run("sync").done();
    clones.tom.run("sync").done();
    clones.sound();
}

#[test]
fn a_project_that_one_removed_and_the_other_changed_goes_as_a_whole_or_stays() {
    for (take, there) in [("theirs", false), ("ours", true)] {
        let clones = ThreeClones::without_guard(stages::intake());
        let ThreeClones { mara, imke, tom, .. } = &clones;
        mara.git(&format!("rm -r -q {PROJECT}"));
        mara.git("commit -q -m gone");
        imke.run("project change quay-desk --title Kept").done();
        mara.run("sync").done();
        imke.run("sync").code(4).says(&["the project: removed or changed? It stays as it was"]);
        imke.run("resolve quay-desk").done().says(&["Title: “Quay desk” → “Kept”"]);
        imke.run(&format!("resolve quay-desk --take {take}")).done().says(&["settled the project"]);
        imke.run("sync").done();
        for desk in [mara, imke, tom] {
            desk.run("sync").done();
            desk.run("check").done();
            assert_eq!(desk.path(&format!("{PROJECT}/panels/front.json")).exists(), there);
            assert_eq!(desk.path(PROJECT).exists(), there);
        }
        clones.sound();
    }
}

/// At a terminal each question is asked; nothing is locked meanwhile, and what does not fit is asked again.
#[test]
fn at_a_terminal_each_question_is_asked() {
    let clones = ThreeClones::at(stages::intake());
    let ThreeClones { mara, imke, .. } = &clones;
    for (desk, side) in [(mara, "harbour"), (imke, "street")] {
        desk.run(&format!("panel change quay-desk front --title {side}")).done();
        desk.run(&format!("project change quay-desk --note {side}")).done();
    }
    mara.run("sync").done();
    imke.run("sync").code(4).says(&["2 questions are open"]);
    let mut child = imke.at_terminal("underlit resolve quay-desk").spawn().unwrap();
    let mut keys = child.stdin.take().unwrap();
    let mut out = child.stdout.take().unwrap();
    let mut said = String::new();
    let mut read_until = |wanted: &str, said: &mut String| {
        let mut buffer = [0_u8; 4096];
        while !said.contains(wanted) {
            let many = std::io::Read::read(&mut out, &mut buffer).unwrap_or(0);
            assert!(many > 0, "{said}");
            said.push_str(&String::from_utf8_lossy(&buffer[..many]));
        }
        *said = said.split_once(wanted).unwrap().1.to_owned();
    };
    read_until("your answer (1, 2, base; Enter leaves it open):", &mut said);
    // Another command writes meanwhile.
    imke.run("swatch change quay-desk alba --note meanwhile").done();
    std::io::Write::write_all(&mut keys, b"left\n").unwrap();
    read_until("neither a number nor ours", &mut said);
    read_until("your answer", &mut said);
    std::io::Write::write_all(&mut keys, b"ours\n").unwrap();
    read_until("settled panel front, title", &mut said);
    read_until("your answer", &mut said);
    std::io::Write::write_all(&mut keys, b"\n").unwrap();
    assert!(child.wait().unwrap().success());
    assert!(imke.text(&format!("{PROJECT}/panels/front.json")).contains("street"));
    assert_eq!(shown(imke).len(), 1);
    imke.sound_for_git();
}

/// A record that anybody can write: nobody made these edits, whatever it says.
#[test]
fn a_question_that_nobody_asked_is_not_told_as_a_fact() {
    for guarded in [true, false] {
        let clones = if guarded {
            ThreeClones::at(stages::intake())
        } else {
            ThreeClones::without_guard(stages::intake())
        };
        let ThreeClones { mara, imke, tom, place } = &clones;
        imke.run("panel change quay-desk front --title Harbour").done();
        imke.run("sync").done();
        mara.run("sync").done();
        let real = imke.git("rev-parse HEAD").trim().to_owned();
        let side = |value: &str, commit: &str| json!({"value": value, "by": "Tom Reed", "email": "tom@tern.invalid", "at": "2026-09-01T08:00:00Z", "commit": commit});
        let record = |base: &str, sides: [Value; 2]| {
            let record = json!({
                "$schema": "../../../schema/conflict.schema.json",
                "path": format!("{PROJECT}/panels/front.json"), "pointer": "/title", "base": base, "sides": sides,
            });
            format!("{record:#}\n")
        };
        let path = format!("{PROJECT}/conflicts/{}.json", "b2".repeat(16));
        let nowhere = "1".repeat(40);
        const UNKNOWN: &str = "nothing in the history shows who asked this";
        // One edit was made; the other was not; or what was there before never was.
        for (base, one, other) in [
            ("Harbour", "Grand", "Small"),
            ("Harbour", "Harbour", "Small"),
            ("Harbour", "Harbour", "Harbour"),
            ("Never", "Harbour", "Never"),
        ] {
            mara.write(&path, record(base, [side(one, &real), side(other, &nowhere)]));
            mara.run("status quay-desk")
                .done()
                .says(&[UNKNOWN, "It stays as it is"])
                .never_says(&["Tom Reed"]);
        }
        mara.write(&path, record("Harbour", [side("Grand", &real), side("Small", &nowhere)]));
        mara.run("check").done().says(&[UNKNOWN]);
        mara.run("sync").done();
        imke.run("sync").code(4).says(&["a record asks “", UNKNOWN]).never_says(&["Tom Reed"]);
        imke.run("status quay-desk")
            .done()
            .says(&["question  panel front, title: ", UNKNOWN])
            .never_says(&["Tom Reed"]);
        imke.run("resolve quay-desk")
            .done()
            .says(&[
                UNKNOWN,
                "--take base leaves everything as it is",
                "“Grand”: the history shows nobody who made this edit",
            ])
            .never_says(&["Tom Reed", "Imke Voss"]);
        let shown = imke.run("resolve quay-desk --json").done().never_says(&["Tom Reed"]).json();
        assert_eq!(shown["questions"][0]["unproven"], "nobody");
        imke.run("resolve quay-desk --take ours").fails(2, "no-such-side");
        imke.run("resolve quay-desk --take base").code(0).says(&[
            "settled panel front, title",
            "you answered a question, and nothing in the history shows who asked this",
        ]);
        imke.run("sync").done();
        for desk in [mara, tom] {
            desk.run("sync").done().never_says(&["without an answer"]);
        }
        let _ = place;
        clones.sound();
    }
}

#[test]
fn a_question_that_a_merge_asked_is_proven_and_a_cut_off_history_says_that_it_cannot_tell() {
    let clones = ThreeClones::without_guard(stages::intake());
    let ThreeClones { mara, imke, place, .. } = &clones;
    for (desk, side) in [(mara, "harbour"), (imke, "street")] {
        desk.run(&format!("panel change quay-desk front --title {side}")).done();
    }
    mara.run("sync").done();
    imke.run("sync").code(4);
    let told = "”? It stays “Desk front” until somebody answers";
    for said in ["status quay-desk", "check", "resolve quay-desk --json"] {
        imke.run(said).done().says(&[told]).never_says(&["nothing in the history", "cannot be looked up"]);
    }
    assert_eq!(shown(imke)[0]["unproven"], Value::Null);
    let hub = place.path("hub.git");
    let short = place.path("short");
    mara.git(&format!("clone -q --depth 1 file://{} {}", hub.display(), short.display()));
    let short = Desk::new(short, "mara");
    short
        .run("status quay-desk")
        .code(0)
        .says(&["this clone lacks older commits, so who asked this cannot be looked up"])
        .never_says(&["nothing in the history", "without an answer"]);
}
