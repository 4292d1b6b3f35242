//! Attacks on a book that no other file of tests tries: replays, rosters made twice, clocks, line ends, numbers, names.

use serde_json::{Value, json};

use crate::forgery::{bytes, lay, signature};
use crate::stages::{self, PROJECT};
use crate::three_people::ThreeClones;
use crate::workshop::{Desk, Place, private_key, public_key};

const SIGNOFFS: &str = "projects/quay-desk/signoffs";

/// The first statement of a view, by a role, as it lies in a book.
fn statement(book: &Desk, view: &str, role: &str) -> Value {
    let all = book.names(SIGNOFFS, ".json").into_iter().map(|n| book.text(&format!("{SIGNOFFS}/{n}")));
    let mut all = all.map(|text| serde_json::from_str::<Value>(&text).unwrap());
    all.find(|v| v["about"]["view"] == view && v["role"] == role).expect("it is there")
}

/// Neither `board` nor `verify` says that anything may be built.
#[track_caller]
fn nothing_is_released(book: &Desk, code: i32) {
    book.run("board --released").done().says(&["nothing is released"]);
    book.run("verify").code(code).never_says(&["may be built, because"]);
}

#[test]
fn a_signature_says_one_thing_in_one_role_of_one_view() {
    let place = Place::new();
    let good = place.copy_as(stages::signed(), "good", "mara");
    // The client's approval of the rendering, made into what the engineer has to say, and into a release: by the
    // client's key, and under the client's true signature.
    let rendering = statement(&good, "rendering", "client");
    for (number, (key, value, code)) in [
        ("role", json!("engineer"), "signer-role"),
        ("about", json!({ "view": "release" }), ""),
        ("signer", json!("tom"), "signer-role"),
    ]
    .into_iter()
    .enumerate()
    {
        let mut other = rendering.clone();
        other[key] = value;
        let role = other["role"].as_str().unwrap().to_owned();
        let text = bytes(&other);
        let book = place.copy_as(stages::signed(), &format!("case-{number}"), "mara");
        let signed = signature("imke", &format!("underlit-{role}"), &text);
        let file = lay(&book, SIGNOFFS, &text, Some(&signed));
        if code.is_empty() {
            // Truly said by the client in her own role, of a view on which nobody asked for her word.
            book.run("check").done();
        } else {
            book.run("check").fails(5, code).says(&[&file]);
        }
        book.run("advance quay-desk").never_says(&["moves from"]);
        nothing_is_released(&book, if code.is_empty() { 0 } else { 5 });
    }
}

#[test]
fn an_approval_and_a_move_of_before_do_not_come_back() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    // Opened again and drawn lower: neither the move to released nor any signature on the old sheet counts for it.
    book.run(r#"reopen quay-desk rendering --reason "the wall is lower""#).done();
    let drawing = place.file("lower.json", stages::curved(590));
    book.run(&format!("panel change quay-desk front --outline {drawing}")).done();
    book.run("draw quay-desk front").done();
    book.run("status quay-desk")
        .done()
        .says(&["stage     rendering", "has changed since [rendering-signed]"]);
    book.run("verify quay-desk").code(1).says(&["stale, ", "rendering, may not be built yet"]);
    nothing_is_released(&book, 0);
    // The old move once more, after the step back: it is the same move, and its gate is asked again.
    let moves = format!("{PROJECT}/moves");
    let texts: Vec<Value> = book
        .names(&moves, ".json")
        .into_iter()
        .map(|n| serde_json::from_str(&book.text(&format!("{moves}/{n}"))).unwrap())
        .collect();
    let back = texts.iter().find(|m| m["to"] == "rendering" && m["from"] == "released").unwrap();
    let mut again = texts.iter().find(|m| m["to"] == "released").unwrap().clone();
    again["previous"] = underlit::digest::Sha256Digest::of(&bytes(back)).hex().into();
    again["signer"] = json!("mara");
    let text = bytes(&again);
    lay(&book, &moves, &text, Some(&signature("mara", "underlit-move", &text)));
    book.run("status quay-desk").done().says(&["stage     released", "ON HOLD"]);
    nothing_is_released(&book, 1);
}

#[test]
fn two_rosters_made_at_once_are_not_both_taken() {
    let clones = ThreeClones::without_guard(stages::intake());
    let ThreeClones { place, mara, tom, .. } = &clones;
    let second = place.copy_as(&mara.at, "second", "mara");
    mara.run(&format!("roster add-key tom {}", public_key("spare"))).done();
    mara.run("sync").done();
    second.run("roster seal --reason again").done();
    let head = second.git("rev-parse HEAD");
    let ran = second.run("sync");
    assert!([3, 5].contains(&ran.code), "{ran:?}");
    ran.says(&["roster/0004"]);
    assert_eq!(head, second.git("rev-parse HEAD"), "what lies here stays as it was");
    // By hand, past the tool, the fork is the second's; nobody takes it who has seen the first.
    second.git("fetch -q");
    second.git("merge -q -s ours -m mine origin/main");
    second.git("push -q origin HEAD:main");
    let head = tom.git("rev-parse HEAD");
    mara.run("verify").done();
    mara.run("sync").code(5).says(&["roster"]);
    tom.run("sync").code(5).says(&["roster/0004"]);
    assert_eq!(head, tom.git("rev-parse HEAD"));
    second.run("verify").code(5).says(&["[add-only-history]", "roster/0004"]);
}

#[test]
fn no_clock_makes_a_word_stronger() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    let mut approval = statement(&book, "release", "engineer");
    book.run_as("tom", r#"sign quay-desk release --reject --comment "seams" --yes"#).done();
    nothing_is_released(&book, 1);
    // An approval dated long before, and one dated far ahead: neither names the refusal that it would outlive.
    for (time, nonce) in [("2001-01-01T00:00:00Z", "a"), ("2099-01-01T00:00:00Z", "b")] {
        approval["time"] = json!(time);
        approval["nonce"] = json!(nonce.repeat(32));
        let text = bytes(&approval);
        lay(&book, SIGNOFFS, &text, Some(&signature("tom", "underlit-engineer", &text)));
    }
    nothing_is_released(&book, 1);
    // Nor does a machine whose clock runs wild.
    let wild = Desk { day: "1999-12-31", ..book.clone() };
    nothing_is_released(&wild, 1);
    wild.run("verify --json").code(1);
}

#[test]
fn line_ends_and_marks_that_a_machine_slips_in() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    // A clone on a machine that turns line ends: the book's own attributes forbid it.
    let at = place.path("clone");
    book.git(&format!("-c core.autocrlf=true -c core.eol=crlf clone -q . {}", at.display()));
    let clone = Desk::new(at, "tom");
    clone.run("verify").done().says(&["may be built, because"]);
    assert!(!clone.text("rules.json").contains('\r'));
    // A tool that turned them all the same, or put a mark before the text.
    let crlf = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap().replace('\n', "\r\n").into_bytes();
    let marked = |bytes: &[u8]| [&[0xEF, 0xBB, 0xBF], bytes].concat();
    let name = book.names(SIGNOFFS, ".json").remove(0);
    let sig = name.replace(".json", ".sig");
    for (file, turned, code) in [
        (format!("{SIGNOFFS}/{name}"), crlf(&book.bytes(&format!("{SIGNOFFS}/{name}"))), 5),
        (format!("{SIGNOFFS}/{sig}"), crlf(&book.bytes(&format!("{SIGNOFFS}/{sig}"))), 5),
        (format!("{SIGNOFFS}/{sig}"), [&book.bytes(&format!("{SIGNOFFS}/{sig}"))[..], b"ok\n"].concat(), 5),
        ("rules.json".into(), crlf(&book.bytes("rules.json")), 5),
        ("roster/0002.json".into(), crlf(&book.bytes("roster/0002.json")), 5),
        (
            format!("{PROJECT}/panels/front.outline.json"),
            crlf(&book.bytes(&format!("{PROJECT}/panels/front.outline.json"))),
            1,
        ),
        (format!("{PROJECT}/project.json"), marked(&book.bytes(&format!("{PROJECT}/project.json"))), 3),
        (format!("{SIGNOFFS}/{name}"), marked(&book.bytes(&format!("{SIGNOFFS}/{name}"))), 5),
    ] {
        let good = book.bytes(&file);
        book.write(&file, &turned);
        book.run("verify").code(code).never_says(&["may be built, because"]);
        book.write(&file, good);
    }
    book.run("verify").done();
}

#[test]
fn numbers_and_names_that_two_readers_could_read_as_two() {
    let place = Place::new();
    let book = place.copy(stages::signed(), "mara");
    let release = {
        let made = place.copy_as(stages::released(), "made", "mara");
        String::from_utf8(bytes(&statement(&made, "release", "engineer"))).unwrap()
    };
    let deep = format!(r#""comment": {}1{},"#, "[".repeat(500), "]".repeat(500));
    for (old, new) in [
        (r#""decision": "approved","#, r#""decision": "approved", "decision": "rejected","#.to_owned()),
        (r#""decision": "approved","#, format!(r#""decision": "approved", {deep}"#)),
        (r#""facts": {"#, r#""facts": { "panels.front.height_um": 9007199254740993,"#.to_owned()),
        (r#""facts": {"#, r#""facts": { "panels.front.height_um": 1e400,"#.to_owned()),
        (r#""facts": {"#, r#""facts": { "panels.front.height_um": 0.5,"#.to_owned()),
        (r#""facts": {"#, r#""facts": { "panels.front.height_um": null,"#.to_owned()),
    ] {
        let text = release.replacen(old, &new, 1);
        assert_ne!(text, release, "{old}");
        let file = lay(
            &book,
            SIGNOFFS,
            text.as_bytes(),
            Some(&signature("tom", "underlit-engineer", text.as_bytes())),
        );
        book.run("verify").code(3).says(&[&file]).never_says(&["may be built, because"]);
        book.run("board --released").done().says(&["nothing is released"]);
        for ending in [".json", ".sig"] {
            std::fs::remove_file(book.path(&file.replace(".json", ending))).unwrap();
        }
    }
    // A stage written by hand, a person whose name looks like another's, a name that means everybody to stock tools.
    let project = format!("{PROJECT}/project.json");
    let good = book.text(&project);
    book.write(&project, good.replacen('{', r#"{ "stage": "released","#, 1));
    book.run("verify").code(3).says(&["project.json", "stage"]);
    book.write(&project, good);
    let key = public_key("mallory");
    book.unchanged(|b| {
        for name in ["mаra", "mara\u{200b}", "*", "ma*", "mara,tom", "MARA", "m.ara"] {
            let line = format!(r#"roster add "{name}" --name "Mara Quill" --role owner --public-key {key}"#);
            b.run(&line).code(2);
        }
        let mallory = private_key("mallory");
        b.run(&format!("sign quay-desk release --yes --me tom --key {mallory}")).code(5);
    });
}

#[test]
fn evidence_where_the_rules_want_the_persons_own_signature() {
    let place = Place::new();
    let book = place.copy(stages::signed(), "mara");
    let made = place.copy_as(stages::released(), "made", "mara");
    // The engineer's release as written evidence, truly signed by the rep who takes evidence in, with its scan.
    let mut release = statement(&made, "release", "engineer");
    let scan = b"%PDF-1.4 tom says yes";
    let digest = underlit::digest::Sha256Digest::of(scan).hex();
    release["signer"] = json!("mara");
    release["evidence"] = json!({
        "person": "tom", "how": "letter", "scan": { "file": format!("{digest}.pdf"), "sha256": digest },
    });
    book.write(&format!("{SIGNOFFS}/{digest}.pdf"), scan);
    let text = bytes(&release);
    let file = lay(&book, SIGNOFFS, &text, Some(&signature("mara", "underlit-evidence", &text)));
    book.run("status quay-desk").done().says(&["the shop's rules want the engineer's own signature"]);
    book.run("advance quay-desk").never_says(&["moves from"]);
    nothing_is_released(&book, 0);
    let name = &file.rsplit('/').next().unwrap()[..16];
    book.run(&format!("verify --explain {name}"))
        .code(1)
        .says(&["does not count", "the shop's rules want the engineer's own signature"]);
    // Evidence that rests on another scan, or on none.
    let client = place.copy_as(stages::chosen(), "client", "mara");
    let letter = place.file("letter.pdf", b"%PDF-1.4 the client's letter");
    client
        .run(&format!(
            r#"evidence quay-desk choice --panel front --of imke --how letter --yes --scan {letter}"#
        ))
        .done();
    client.run("verify").done();
    let kept = client.names(SIGNOFFS, ".pdf").remove(0);
    client.write(&format!("{SIGNOFFS}/{kept}"), b"%PDF-1.4 another letter");
    client.run("verify").code(5).says(&["[evidence-missing]"]);
}
