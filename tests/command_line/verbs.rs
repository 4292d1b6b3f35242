//! Each verb in good use: what it says to people, what it answers programs, which files change and how the one commit
//! reads; and with `--dry-run`, that nothing changes at all.

use std::fs;

use serde_json::Value;

use crate::stages::{self, PROJECT, curved};
use crate::workshop::{Desk, Place, private_key, public_key};

/// Runs a command that changes the book: it must make exactly one commit, of this subject, touching these files.
#[track_caller]
fn one_commit(book: &Desk, line: &str, subject: &str, files: &[&str]) {
    let before = book.commits();
    book.run(line).done();
    assert_eq!(book.commits(), before + 1, "{line}");
    assert_eq!(book.git("log -1 --format=%s").trim(), subject, "{line}");
    assert_eq!(book.git("log -1 --format=%an").trim(), "Mara Quill", "{line}");
    assert_eq!(book.git("log -1 --format=%ct").trim(), "1788249600", "the fixed clock: {line}");
    let touched = book.git("show --format= --name-only HEAD");
    let touched: Vec<&str> =
        touched.lines().map(|f| f.strip_prefix("projects/quay-desk/").unwrap_or(f)).collect();
    assert_eq!(touched, files, "{line}");
    book.sound_for_git();
}

#[test]
fn records_are_added_changed_and_taken_out_in_one_commit_each() {
    let place = Place::new();
    let book = place.copy(stages::selection(), "mara");
    let photo = place.file("Lit Stone.JPEG", "photo");
    let shares: String = (380..=780).step_by(5).map(|nm| format!("{nm},0.12\n")).collect();
    let spectrum = place.file("through.csv", format!("nm,value\n{shares}"));
    let drawing = place.file("b.json", curved(601));
    for (line, subject, files) in [
        (
            "project change quay-desk --note hurry",
            "quay-desk: changes the project: Quay desk",
            &["project.json"][..],
        ),
        (
            r#"swatch add quay-desk moss --stone "Green onyx" --material onyx --tone green --texture veined --thickness 3/4in --slab-thickness 20mm"#,
            "quay-desk: describes swatch moss: Green onyx",
            &["swatches/moss.json"],
        ),
        (
            &format!(r#"swatch change quay-desk moss --photo "{photo}""#),
            "quay-desk: changes swatch moss",
            &["swatches/moss.jpeg", "swatches/moss.json"],
        ),
        (
            "swatch measure quay-desk moss first --bare-lx 1200 --through-lx 130 --panel-cct 3000",
            "quay-desk: measures the light through swatch moss",
            &["swatches/moss.json"],
        ),
        (
            &format!("swatch measure quay-desk moss second --spectrum {spectrum}"),
            "quay-desk: measures the light through swatch moss",
            &["swatches/moss-second.csv", "swatches/moss.json"],
        ),
        (
            "panel add quay-desk round --swatch moss --diameter 600mm",
            "quay-desk: lists panel round: round",
            &["panels/round.json", "panels/round.outline.json"],
        ),
        (
            "panel change quay-desk round --place wet",
            "quay-desk: changes panel round",
            &["panels/round.json"],
        ),
        (
            "panel remove quay-desk round",
            "quay-desk: removes panel round",
            &["panels/round.json", "panels/round.outline.json"],
        ),
        (
            &format!("panel change quay-desk front --outline {drawing}"),
            "quay-desk: changes the outline of panel front",
            &["panels/front.json", "panels/front.outline.json"],
        ),
        (
            r#"request ask quay-desk more --swatch moss --light rgbw --cct 3000,4000 --face clear --size 12inx8in --address "Quay 4" --quantity 2"#,
            "quay-desk: asks for test panel more: 3000 K, 4000 K",
            &["requests/more.json"],
        ),
        ("request sent quay-desk more", "quay-desk: test panel more was sent", &["requests/more.json"]),
        (
            "request received quay-desk more",
            "quay-desk: test panel more was received",
            &["requests/more.json"],
        ),
        (
            r#"trial record quay-desk blue --swatch moss --request more --colour blue --face clear --seen "veins vanish" --rating 1"#,
            "quay-desk: tries moss at blue, clear face: rated 1 of 5",
            &["trials/blue.json"],
        ),
        ("trial remove quay-desk blue", "quay-desk: removes trial blue", &["trials/blue.json"]),
        (
            "request remove quay-desk more",
            "quay-desk: removes test-panel request more",
            &["requests/more.json"],
        ),
        (
            "swatch remove quay-desk moss",
            "quay-desk: removes swatch moss",
            &["swatches/moss-second.csv", "swatches/moss.jpeg", "swatches/moss.json"],
        ),
        (
            "choose quay-desk front --light static-white --cct 4000 --face diffused --edges 3 --volts 24 --mount tray",
            "quay-desk: chooses for panel front: static-white 4000 K, diffused face, lit edges 3, 24 V, mount tray",
            &["panels/front.json"],
        ),
        (
            "draw quay-desk front",
            "quay-desk: draws panel front, revision 1",
            &[
                "renderings/front/manifest.json",
                "renderings/front/sheet-2.svg",
                "renderings/front/sheet.pdf",
                "renderings/front/sheet.svg",
            ],
        ),
    ] {
        one_commit(&book, line, subject, files);
    }
    // A command that changes nothing makes no commit.
    let before = book.commits();
    book.run("draw quay-desk front").done().says(&["is up to date, revision 1"]);
    book.run("project change quay-desk --note hurry").done();
    assert_eq!(book.commits(), before);
    book.sound();
    // The stored record has the type's order of keys, two spaces and a final newline.
    let text = book.text(&format!("{PROJECT}/swatches/alba.json"));
    assert!(
        text.starts_with("{\n  \"$schema\": \"../../../schema/swatch.schema.json\",\n  \"id\": \"alba\",\n"),
        "{text}"
    );
    assert!(text.ends_with("\n}\n"), "{text}");
}

#[test]
fn a_dry_run_of_every_writing_verb_writes_nothing() {
    let place = Place::new();
    let drawing = place.file("b.json", curved(601));
    let scan = place.file("letter.pdf", "%PDF-1.4");
    let key = public_key("spare");
    let toms = public_key("tom");
    let at_selection = [
        r#"open other --title Other --client imke --site Hall"#.to_owned(),
        "project change quay-desk --note x".into(),
        r#"swatch add quay-desk moss --stone "Green onyx" --material onyx --tone green --texture veined --thickness 20mm --slab-thickness 20mm"#.into(),
        "swatch change quay-desk alba --lot B-17".into(),
        "swatch measure quay-desk alba first --bare-lx 1200 --through-lx 130".into(),
        "panel add quay-desk side --swatch alba --size 500mmx400mm".into(),
        format!("panel change quay-desk front --outline {drawing}"),
        "panel remove quay-desk front".into(),
        r#"request ask quay-desk more --swatch alba --cct 3000 --face clear --size 300mmx200mm --address "Quay 4""#.into(),
        "request sent quay-desk first --date 2026-09-01".into(),
        "request received quay-desk first --date 2026-09-01".into(),
        "request remove quay-desk spare".into(),
        r#"trial record quay-desk more --swatch alba --request first --cct 3000 --face diffused --seen x --rating 2"#.into(),
        "trial remove quay-desk warm".into(),
        "choose quay-desk front --light static-white --cct 4000 --face diffused --edges 1,3 --volts 24 --mount tray".into(),
        "draw quay-desk front".into(),
        r#"reopen quay-desk intake --reason x"#.into(),
        format!(r#"roster add new --name New --role rep --public-key {key}"#),
        format!("roster add-key tom {key}"),
        format!("roster retire-key tom {toms}"),
        "roster roles tom engineer,designer".into(),
        "roster seal".into(),
        "me tom".into(),
        "schemas --into schema".into(),
        "sync --offline".into(),
    ];
    let at_release = [
        "plan quay-desk front --feed-length 9m --anew".to_owned(),
        "split quay-desk front --whole".into(),
        "sign quay-desk release --me tom".into(),
        format!("evidence quay-desk choice --panel front --of imke --how letter --scan {scan}"),
        "built quay-desk front --serial QD-1 --watts 30 --volts 24".into(),
        r#"installed quay-desk --electrician x --code y --driver-access z"#.into(),
    ];
    let local = |book: &Desk| -> Vec<(String, Vec<u8>)> {
        let names = book.names(".git/underlit", "");
        names
            .into_iter()
            .filter(|n| n != "lock")
            .map(|n| (n.clone(), fs::read(book.path(&format!(".git/underlit/{n}"))).unwrap()))
            .collect()
    };
    for (prepared, lines) in [(stages::chosen(), &at_selection[..]), (stages::released(), &at_release[..])] {
        let book = place.copy_as(prepared, prepared.file_name().unwrap().to_str().unwrap(), "mara");
        // One that nothing names, so that it may be taken out.
        if lines.iter().any(|line| line.contains(" spare")) {
            book.run(r#"request ask quay-desk spare --swatch alba --cct 3000 --face clear --size 300mmx200mm --address "Quay 4""#)
                .done();
        }
        for line in lines {
            let before = local(&book);
            let ran = book.unchanged(|b| b.run(&format!("{line} --dry-run")).done());
            assert!(ran.stdout.contains("dry run: "), "{line}: {}", ran.stdout);
            assert_eq!(before, local(&book), "{line}");
        }
        book.sound();
    }
    let book = place.copy_as(stages::intake(), "advance", "mara");
    book.unchanged(|b| b.run("advance quay-desk --dry-run").done().says(&["dry run: quay-desk moves"]));
    // A threshold that would have to wait for a second owner leaves no proposal either.
    book.run(&format!("roster add jonas --name Jonas --role owner --public-key {}", public_key("jonas")))
        .done();
    book.unchanged(|b| b.run("roster threshold 2 --dry-run").done());
    assert!(!book.path(".git/underlit/roster-0005-proposal.json").exists());
    // What makes a folder makes none.
    let page =
        r#"<svg xmlns="http://www.w3.org/2000/svg" width="900mm" height="300mm" viewBox="0 0 900 300">"#;
    for (name, shape) in [("bar", "M0 0H900V300H0Z"), ("open", "M0 0H900V300")] {
        fs::write(place.path(&format!("{name}.svg")), format!(r#"{page}<path d="{shape}"/></svg>"#)).unwrap();
    }
    let mara = private_key("mara");
    let hub = book.at.display().to_string();
    for line in [
        format!("init new --shop Tern --owner mara --owner-name Mara --key {mara} --dry-run"),
        "init new --shop Tern --owner mara --owner-name Mara --make-key new-key --no-passphrase --dry-run"
            .into(),
        format!("join {hub} new --me mara --dry-run"),
        "man --into new --dry-run".into(),
        "schemas --into new --dry-run".into(),
        // A question without a book draws nothing either.
        "calc outline bar.svg --lit 1 --light-picture new.svg --dry-run".into(),
        "calc outline open.svg --picture new.svg --dry-run".into(),
    ] {
        let ran = place.run("mara", &line);
        let ran = if line.contains("open.svg") { ran.code(3) } else { ran };
        assert!(format!("{}{}", ran.stdout, ran.stderr).contains("dry run: "), "{line}");
        assert!(["new", "new-key", "new.svg"].iter().all(|n| !place.path(n).exists()), "{line}");
    }
}

#[test]
fn a_book_is_made_and_joined_whole_or_not_at_all() {
    let place = Place::new();
    let owner = r#"--shop "Tern Point Lightworks" --owner mara --owner-name "Mara Quill""#;
    // With a key made on the way.
    place
        .run("mara", &format!("init new {owner} --make-key owner-key --no-passphrase --inches"))
        .code(0)
        .says(&["made the key owner-key", "made the book new", "fingerprint "]);
    let book = Desk::new(place.path("new"), "mara");
    assert_eq!(book.commits(), 1);
    assert!(book.text("book.json").contains(r#""units": "in""#), "{}", book.text("book.json"));
    book.run("board").done().says(&["no project is open"]);
    book.sound();
    place.run("mara", &format!("init new {owner}")).fails(2, "folder-not-empty");
    place.run("mara", &format!("init Not_A_Name {owner}")).fails(2, "book-name").says(&["--id NAME"]);
    place.run("mara", &format!("init other {owner} --key {}", place.path("none").display())).code(2);
    place.run("mara", "init other --owner mara --owner-name Mara").code(2).says(&["--shop"]);
    // No key at all: how to make one.
    let empty = place.path("empty-home");
    fs::create_dir(&empty).unwrap();
    let mut command = crate::workshop::underlit("mara");
    command
        .args(["init", "other", "--shop", "x", "--owner", "mara", "--owner-name", "x"])
        .env("HOME", &empty)
        .current_dir(place.path(""));
    let ran = crate::workshop::Ran::of("init", command.output().unwrap());
    ran.fails(6, "signing-no-key").says(&["ssh-keygen -t ed25519", "--make-key FILE"]);
    assert!(!place.path("other").exists());

    // Joining: an address that is none, a repository that is no book, a book that does not hold, a good one.
    place.run("imke", "join nowhere.git clone").code(6).says(&["Fix: "]);
    assert!(!place.path("clone").exists());
    let plain = Desk::new(place.path("plain"), "mara");
    fs::create_dir(&plain.at).unwrap();
    plain.git("init -q -b main");
    plain.write("README.md", "no book");
    plain.git("add .");
    plain.git("commit -q -m plain");
    place.run("imke", "join plain clone").fails(2, "not-a-book");
    assert!(!place.path("clone").exists());
    book.edit("rules.json", r#""tried_within_k": 150"#, r#""tried_within_k": 5000"#);
    book.git("commit -q -a -m loosen");
    // What no judge takes is left out, and said; the good beginning is there to work with.
    let joined = place.run("imke", "join new clone").code(0);
    assert!(
        joined.stderr.contains("shop-not-sealed") && joined.stderr.contains("is refused"),
        "{}",
        joined.stderr
    );
    assert!(!fs::read_to_string(place.path("clone/rules.json")).unwrap().contains("5000"));
    fs::remove_dir_all(place.path("clone")).unwrap();
    book.git("reset -q --hard HEAD~1");
    place.run("imke", "join new clone --me nobody").fails(2, "unknown-person");
    assert!(!place.path("clone").exists());
    place.run("imke", "join new clone --json").done();
    place.run("imke", "join new clone").fails(2, "folder-not-empty");
    let clone = Desk::new(place.path("clone"), "imke");
    clone.unchanged(|c| {
        c.run(r#"open x --title x --client mara --site x"#)
            .fails(2, "who-are-you")
            .says(&["underlit me PERSON", "mara"])
    });
    clone.run("me imke").fails(2, "unknown-person");
    clone.run("me mara").done().says(&["in this clone you are Mara Quill (mara)"]);
    clone.sound();
}

/// Every run holds its answer to its schema; here stands what the answers have to do with each other.
#[test]
fn the_answers_for_programs_say_what_happens() {
    let place = Place::new();
    let book = place.copy(stages::signed(), "mara");
    let json = |line: &str, code: i32| book.run(&format!("{line} --json")).code(code).json();
    let status = json("status quay-desk", 0);
    let blocked = json("advance quay-desk", 1);
    assert_eq!(blocked["moved"], false);
    assert_eq!(blocked["missing"], status["missing"], "advance and status say the same");
    json("sign quay-desk release --yes --me tom --dry-run", 0);
    book.run_as("tom", "sign quay-desk release --yes").done();
    let moved = json("advance quay-desk", 0);
    assert!(book.path(&format!("{PROJECT}/moves/{}.json", moved["sha256"].as_str().unwrap())).exists());
    let history = json("history quay-desk", 0);
    let subjects: Vec<&str> =
        history["chapters"].as_array().unwrap().iter().map(|c| c["what"].as_str().unwrap()).collect();
    assert_eq!(subjects.first(), Some(&"opens Quay desk"));
    assert_eq!(subjects.last(), Some(&"from rendering to released"));
    assert_eq!(json("check", 0)["errors"], serde_json::json!([]));
    assert_eq!(json("sync --offline", 0)["remote"], Value::Null);
    let roster = json("roster show", 0);
    assert_eq!(roster["roster"]["people"].as_array().unwrap().len(), 3);
    let plan = json("plan quay-desk front --show", 0);
    assert!(plan["panels"][0]["power"]["power_w"].as_f64().unwrap() > 0.0, "{plan}");
    // What stands on standard output is the JSON and nothing else, for failures as well.
    for line in [
        "status nowhere",
        "resolve quay-desk x --take 1",
        "choose quay-desk none --cct 3000",
        "stauts",
        "status",
    ] {
        let error = book.run(&format!("{line} --json")).code(2);
        assert_eq!(error.stderr, "", "{line}");
        assert_eq!(error.json()["error"], error.json()["errors"][0], "{line}");
    }
}

#[test]
fn the_board_counts_days_by_the_clock_and_the_verdict_does_not() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    for (day, days, late) in [("2026-09-01", 0, false), ("2026-09-11", 10, false), ("2027-03-14", 194, true)]
    {
        let row = book.on(day).run("board --json").done().json()["projects"][0].clone();
        assert_eq!(row["days_in_stage"], days, "{day}");
        assert_eq!(row["late"], late, "{day}");
        assert_eq!(row["released"], true, "a verdict depends on the files alone: {day}");
    }
    book.on("2027-03-14").run("board").done().says(&["LATE"]);
    book.on("2027-03-14").run("status quay-desk").done().says(&["CANNOT BE MET"]);
    // A clock that was set back stamps an earlier time and changes nothing else.
    book.on("2020-01-01").run("advance quay-desk").code(1).says(&["[as-built-recorded]"]);
    book.sound();
}

/// Each verb once more as a program asks it: those that other tests ask in words, and those that write.
#[test]
fn every_verb_answers_programs() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    let photo = place.file("photo.jpg", "a photo");
    let letter = place.file("letter.txt", "yes");
    let spare = public_key("spare");
    let into = place.path("out").display().to_string();
    let mut failed = Vec::new();
    for (line, code) in [
        ("me", 0),
        ("me mara", 0),
        ("guide", 0),
        ("guide codes", 0),
        ("explain", 0),
        ("explain rendering --project quay-desk", 0),
        ("doctor", 0),
        ("show quay-desk", 0),
        ("show quay-desk panel front", 0),
        ("show --shop routes", 0),
        ("dates quay-desk --routes", 0),
        ("changes quay-desk", 0),
        ("history", 0),
        ("verify", 0),
        ("resolve", 0),
        ("resolve quay-desk --ask-again", 0),
        ("resolve --all --take base quay-desk", 0),
        ("check --repair", 0),
        ("allowed-signers", 0),
        ("completions bash", 0),
        (&format!("man --into {into}"), 0),
        (&format!("schemas --into {into}"), 0),
        (&format!("schemas --answers --into {into}/answers"), 0),
        ("plan quay-desk --why", 0),
        ("plan quay-desk front --show --why", 0),
        ("split quay-desk front", 0),
        ("panel evenness quay-desk front", 0),
        (&format!("pack quay-desk --into {into}/pack"), 0),
        (&format!("pack quay-desk --prove --against {into}/pack"), 0),
        (&format!("cut quay-desk front --into {into}"), 0),
        ("draw quay-desk front", 0),
        (&format!("built quay-desk front --serial 1 --watts 20 --volts 24 --photo {photo}"), 0),
        ("reopen quay-desk selection --reason again", 0),
        ("changes quay-desk", 0),
        ("project change quay-desk --note again", 0),
        ("open side-desk --title Side --client imke --site Quay", 0),
        (
            "swatch add quay-desk beta --stone Beta --material onyx --tone honey --texture banded --thickness 20mm --slab-thickness 20mm",
            0,
        ),
        ("swatch change quay-desk beta --note B", 0),
        ("swatch measure quay-desk beta lux --thickness 20mm --bare-lx 1000 --through-lx 100", 0),
        ("panel add quay-desk bar --swatch beta --size 300mmx200mm --faces diffused", 0),
        ("panel change quay-desk bar --title Bar", 0),
        (
            "choose quay-desk bar --light static-white --cct 3000 --face diffused --edges 1,3 --volts 24 --mount tray",
            0,
        ),
        (
            "request ask quay-desk second --swatch beta --cct 2700,3000 --face diffused --size 300mmx200mm --address Quay",
            0,
        ),
        ("request sent quay-desk second", 0),
        ("request received quay-desk second", 0),
        (
            "trial record quay-desk again --swatch beta --request second --cct 3000 --face diffused --seen well --rating 4",
            0,
        ),
        ("look quay-desk beta", 0),
        ("trial remove quay-desk again", 0),
        ("request remove quay-desk second", 0),
        ("panel remove quay-desk bar", 0),
        ("swatch remove quay-desk beta", 0),
        (&format!("evidence quay-desk choice --panel front --of imke --how letter --scan {letter} --yes"), 0),
        (&format!("roster add-key tom {spare}"), 0),
        ("roster seal", 0),
        (&format!("stock-git setup --into {into}"), 0),
        (&format!("guard install {into}/hub.git"), 6),
        ("guard range HEAD~1 HEAD", 0),
        ("calc dates --from 2027-01-11 --business-days -15", 0),
        ("status quay-desk", 0),
        ("board", 0),
    ] {
        let ran = book.run(&format!("{line} --json"));
        if ran.code != code || !ran.stdout.starts_with('{') {
            failed.push(format!("{line}: {}: {}{}", ran.code, ran.stdout, ran.stderr));
        }
    }
    assert!(failed.is_empty(), "{failed:#?}");
}
