//! Records and names that are wrong. Each is refused with file, place, line and remedy by the verb that reads and by
//! the verb that would write, and neither changes anything.

use std::fs;

use crate::stages::{self, PROJECT};
use crate::workshop::{Desk, Place};

#[test]
fn a_folder_that_is_no_book() {
    let place = Place::new();
    for line in [
        "status quay-desk",
        "board",
        "history",
        "check",
        "sync",
        "advance quay-desk",
        "roster show",
        r#"open x --title x --client imke --site x"#,
    ] {
        place.run("mara", line).fails(2, "not-a-book").says(&["underlit init DIR", "underlit join URL DIR"]);
        let answer = place.run("mara", &format!("{line} --json")).code(2);
        assert_eq!(answer.json()["error"]["code"], "not-a-book", "{line}");
        assert_eq!(answer.stderr, "", "{line}");
    }
    place.run("mara", "board --book not-there").fails(2, "not-a-book").says(&["not-there cannot be opened"]);
    assert_eq!(fs::read_dir(place.path("")).unwrap().count(), 0, "nothing was made");
    // A book's files without their repository can be read and not written.
    let book = place.copy(stages::intake(), "mara");
    fs::remove_dir_all(book.path(".git")).unwrap();
    book.run("status quay-desk").done();
    book.run("swatch change quay-desk alba --lot B-17").fails(6, "git-no-repository");
}

#[test]
fn names_that_are_unknown_or_no_names() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    book.unchanged(|b| {
        b.run("status quay-dsek").fails(2, "unknown-project").says(&["did you mean quay-desk?"]);
        b.run("advance quay").fails(2, "unknown-project").says(&["did you mean quay-desk?"]);
        b.run("status niche").fails(2, "unknown-project").says(&["there are: quay-desk"]);
        let json = b.run("status quay-dsek --json").code(2).json();
        assert_eq!(json["error"]["code"], "unknown-project");
        assert_eq!(json["error"]["remedy"], "did you mean quay-desk?");
        for name in
            ["../outside", "a/b", "..", ".", "/etc/passwd", "Quay-Desk", "con", "-x", "quay_desk", "kaí", ""]
        {
            for verb in ["status", "advance", "history", "check"] {
                let ran = b.command().args([verb, "--", name]).output().unwrap();
                let ran = crate::workshop::Ran::of(&format!("{verb} -- {name}"), ran).code(2);
                assert_eq!(ran.stdout, "");
                assert!(
                    ran.stderr.contains("invalid value") && ran.stderr.contains("PROJECT"),
                    "{}",
                    ran.stderr
                );
            }
        }
        b.run("status ../x --json").code(2).says(&[r#""code": "usage""#]);
        b.run("panel change quay-desk frnt --title x")
            .fails(2, "unknown-record")
            .says(&["did you mean front?"]);
        b.run("swatch change quay-desk alab --lot 1")
            .fails(2, "unknown-record")
            .says(&["did you mean alba?"]);
        b.run(r#"open quay-desk --title x --client imke --site x"#).fails(2, "already-there");
        b.run(r#"open other --title x --client nobody --site x"#).fails(2, "unknown-person");
        b.run("project change quay-desk --client nobody")
            .fails(2, "unknown-person")
            .says(&["underlit roster add"]);
        b.run("panel add quay-desk ../up --swatch alba --size 100mmx100mm").code(2);
    });
}

/// One flaw: the file, what to write there, the stable code of the fault, and what must be said of it.
struct Flaw {
    file: &'static str,
    bytes: Vec<u8>,
    code: &'static str,
    says: Vec<String>,
}

const SWATCH: &str = "projects/quay-desk/swatches/alba.json";

fn flaws(book: &Desk) -> Vec<Flaw> {
    let swatch = book.text(SWATCH);
    let changed = |old: &str, new: &str| {
        assert_eq!(swatch.matches(old).count(), 1, "{old} in {swatch}");
        swatch.replacen(old, new, 1).into_bytes()
    };
    let line = |word: &str| swatch.lines().position(|l| l.contains(word)).unwrap() + 1;
    let flaw =
        |bytes: Vec<u8>, code: &'static str, says: Vec<String>| Flaw { file: SWATCH, bytes, code, says };
    let thickness = line("\"thickness_mm\": 20,\n".trim_end());
    vec![
        flaw(
            changed("\"stone\": ", "\"stone\" "),
            "json-invalid",
            vec![format!("alba.json:{}", line("\"stone\"")), "a comma, a quote or a bracket".into()],
        ),
        flaw(
            changed("\"tone\": \"white\"", "\"tone\": \"white\",\n  \"tone\": \"honey\""),
            "json-invalid",
            vec![format!("alba.json:{}", line("\"tone\"") + 1), "the key `tone` is written twice".into()],
        ),
        flaw(
            changed("\"tone\": \"white\"", "\"tone\": \"white\",\n  \"colour\": \"white\""),
            "schema",
            vec![format!("alba.json:{} /colour", line("\"tone\"") + 1)],
        ),
        flaw(
            changed("  \"thickness_mm\": 20,\n", "  \"thickness\": 20,\n"),
            "schema",
            vec!["/thickness".into(), "thickness_mm".into()],
        ),
        flaw(
            changed("  \"thickness_mm\": 20,\n", "  \"thickness_mm\": NaN,\n"),
            "json-invalid",
            vec![format!("alba.json:{thickness}"), "NaN".into()],
        ),
        flaw(
            changed("  \"thickness_mm\": 20,\n", "  \"thickness_mm\": -20,\n"),
            "schema",
            vec![format!("alba.json:{thickness} /thickness_mm")],
        ),
        flaw(
            changed("  \"thickness_mm\": 20,\n", "  \"thickness_mm\": 1e400,\n"),
            "json-invalid",
            vec![format!("alba.json:{thickness}")],
        ),
        flaw(
            changed("  \"thickness_mm\": 20,\n", "  \"thickness_mm\": \"20 mm\",\n"),
            "schema",
            vec!["/thickness_mm".into()],
        ),
        flaw(
            changed(
                "\"tone\": \"white\"",
                &format!("\"note\": {}{},\n  \"tone\": \"white\"", "[".repeat(200), "]".repeat(200)),
            ),
            "json-invalid",
            vec!["nested deeper than 32 levels".into()],
        ),
        flaw([swatch.as_bytes(), &vec![b' '; 10 << 20]].concat(), "too-large", vec!["1048576".into()]),
        flaw([b"\xef\xbb\xbf", swatch.as_bytes()].concat(), "json-invalid", vec!["byte-order mark".into()]),
        flaw(
            changed("White alabaster", "White \u{fffd}")
                .iter()
                .flat_map(|b| if *b == 0xbf { vec![] } else { vec![*b] })
                .collect(),
            "json-invalid",
            vec!["UTF-8".into()],
        ),
        flaw(
            changed("\"id\": \"alba\"", "\"id\": \"other\""),
            "id-not-name",
            vec!["/id".into(), "\"id\": \"alba\"".into()],
        ),
        flaw(Vec::new(), "json-invalid", vec!["alba.json".into()]),
        flaw(b"[]\n".to_vec(), "schema", vec!["alba.json".into()]),
    ]
}

#[test]
fn records_that_are_wrong() {
    let place = Place::new();
    let good = place.copy(stages::intake(), "mara");
    for (number, flaw) in flaws(&good).into_iter().enumerate() {
        let book = place.copy_as(&good.at, &format!("flaw-{number}"), "mara");
        book.write(flaw.file, &flaw.bytes);
        let says: Vec<&str> = flaw.says.iter().map(String::as_str).chain([flaw.file]).collect();
        book.unchanged(|b| {
            b.run("check").fails(3, flaw.code).says(&says);
            b.run("status quay-desk").fails(3, flaw.code).says(&[flaw.file]);
            // A writing verb neither takes it in nor touches anything beside it.
            b.run("project change quay-desk --note x").fails(3, flaw.code).says(&says);
            b.run("sync --offline").fails(3, flaw.code).says(&says);
        });
        let json = book.run("check --json").code(3).json();
        let faults = json["errors"].as_array().unwrap();
        assert!(faults.iter().any(|f| f["code"] == flaw.code && f["file"] == flaw.file), "{json:#}");
        assert_eq!(json["error"], faults[0], "{json:#}");
        // One bad project does not hide the others, nor itself.
        book.run("board").done().says(&["quay-desk  cannot be read: "]);
        fs::remove_dir_all(&book.at).unwrap();
    }
    good.sound();
}

#[test]
fn everything_that_is_wrong_is_said_at_once() {
    let place = Place::new();
    let book = place.copy(stages::selection(), "mara");
    book.edit(SWATCH, "\"thickness_mm\": 20,\n  \"slab\"", "\"thickness_mm\": -1,\n  \"slab\"");
    book.edit(SWATCH, "\"tone\": \"white\"", "\"tone\": \"whitish\"");
    book.edit(&format!("{PROJECT}/trials/warm.json"), "\"rating\": 3", "\"rating\": 9");
    book.edit(&format!("{PROJECT}/trials/neutral.json"), "\"swatch\": \"alba\"", "\"swatch\": \"gone\"");
    book.edit(&format!("{PROJECT}/project.json"), "2027-03-15", "2027-02-30");
    book.write(&format!("{PROJECT}/notes.txt"), "call the client");
    let said = book.run("check").code(3).says(&[
        "/thickness_mm",
        "/tone",
        "warm.json",
        "/rating",
        "[unknown-reference]",
        "project.json:16 /install_date",
        "left alone: projects/quay-desk/notes.txt",
        "5 things are wrong.",
    ]);
    assert_eq!(said.stderr.matches("Fix: ").count(), 5, "{}", said.stderr);
    // Only one project, and only its own faults.
    book.run("check quay-desk").code(3);
    let json = book.run("check --json").code(3).json();
    assert_eq!(json["errors"].as_array().unwrap().len(), 5, "{json:#}");
    assert_eq!(json["left_alone"][0], format!("{PROJECT}/notes.txt"));
    for fault in json["errors"].as_array().unwrap() {
        for key in ["code", "message", "file", "pointer", "line", "remedy"] {
            assert!(fault.get(key).is_some(), "{key} in {fault}");
        }
    }
}

#[test]
fn a_symlink_in_place_of_a_record() {
    let place = Place::new();
    let outside = place.file("outside.json", "{}");
    let book = place.copy(stages::intake(), "mara");
    let record = book.bytes(SWATCH);
    fs::remove_file(book.path(SWATCH)).unwrap();
    std::os::unix::fs::symlink(&outside, book.path(SWATCH)).unwrap();
    book.unchanged(|b| {
        for line in ["check", "status quay-desk", "swatch change quay-desk alba --lot B-17", "sync --offline"]
        {
            b.run(line).fails(3, "not-a-file").says(&[SWATCH, "put the file itself there"]);
        }
    });
    assert_eq!(fs::read_to_string(&outside).unwrap(), "{}", "nothing was written through the link");
    // A folder that is a link is one as well; so is a photo.
    let book = place.copy_as(stages::intake(), "second", "mara");
    let elsewhere = place.path("elsewhere");
    fs::create_dir(&elsewhere).unwrap();
    fs::write(elsewhere.join("alba.json"), record).unwrap();
    fs::remove_dir_all(book.path(&format!("{PROJECT}/swatches"))).unwrap();
    std::os::unix::fs::symlink(&elsewhere, book.path(&format!("{PROJECT}/swatches"))).unwrap();
    book.unchanged(|b| {
        b.run("status quay-desk").fails(3, "not-a-file");
        b.run("swatch change quay-desk alba --lot B-17")
            .code(3)
            .says(&["projects/quay-desk/swatches", "Fix: "]);
    });
    let book = place.copy_as(stages::intake(), "third", "mara");
    std::os::unix::fs::symlink("/etc/hostname", book.path(&format!("{PROJECT}/swatches/alba.jpg"))).unwrap();
    book.unchanged(|b| {
        b.run("check").fails(3, "not-a-file");
        b.run("swatch change quay-desk alba --lot B-17").fails(3, "not-a-file");
    });
}

#[test]
fn files_that_people_hand_in() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let plain = place.file("photo", "x");
    let large = place.path("large.jpg");
    fs::File::create(&large).unwrap().set_len(65 << 20).unwrap();
    let open = place.file(
        "open.json",
        r#"{"outer": {"start_mm": [0,0], "segments": [{"kind": "line", "to_mm": [100,0]}]}}"#,
    );
    book.unchanged(|b| {
        let photo = |file: &str| format!("swatch change quay-desk alba --photo {file}");
        b.run(&photo("/not/there.jpg")).fails(2, "attachment").says(&["/not/there.jpg"]);
        b.run(&photo(&plain)).fails(2, "attachment").says(&["no extension"]);
        b.run(&photo(&place.path("").display().to_string())).fails(2, "attachment");
        b.run(&photo(&large.display().to_string())).fails(2, "attachment").says(&["67108864"]);
        b.run(&format!("panel change quay-desk front --outline {open}")).code(3).says(&["open.json", "Fix: "]);
        b.run("panel add quay-desk side --swatch alba --size 0mmx100mm").code(2).says(&["each side must be greater than 0"]);
        b.run("panel add quay-desk side --swatch alba --size 100x100").code(2).says(&["mm"]);
        b.run("panel add quay-desk side --swatch none --size 100mmx100mm").fails(2, "unknown-record");
        b.run("swatch change quay-desk alba --thickness -20mm").code(2);
        b.run("swatch change quay-desk alba --thickness 20").code(2).says(&["unit"]);
        b.run("swatch change quay-desk alba --thickness NaNmm").code(2);
        b.run(r#"request ask quay-desk r --swatch alba --cct 3000 --face diffused --size 300mmx200mm --address "" "#).code(3);
        b.run("request received quay-desk none").fails(2, "unknown-record");
        b.run("request ask quay-desk r --swatch alba --cct 3000,4000 --face diffused --size 300mmx200mm --address Quay --date 2026-02-30").code(2);
        b.run("calc wire --volts 24 --amps NaN --length-m 10").code(2);
    });
    book.sound();
}
