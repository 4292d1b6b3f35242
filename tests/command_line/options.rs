//! Options as people write them: figures with their units, days and sizes in the usual forms, words and names that are nearly
//! right, what is required, and what a shell completes.

use crate::stages;
use crate::workshop::Place;

const PROJECT: &str = "quay-desk";

#[test]
fn figures_days_and_sizes_in_the_usual_forms() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    book.run(&format!("project change {PROJECT} --install-date 15.6.2027 --ambient-lx 150lx --mains 230V"))
        .done();
    let record = std::fs::read_to_string(book.path("projects/quay-desk/project.json")).unwrap();
    for written in ["\"install_date\": \"2027-06-15\"", "\"ambient_lx\": 150", "\"mains_v\": 230"] {
        assert!(record.contains(written), "{written}: {record}");
    }
    book.run(&format!("panel add {PROJECT} side --swatch alba --size 1200x300mm"))
        .done()
        .says(&["1200 × 300 mm"]);
    book.run(&format!("panel add {PROJECT} end --swatch alba --size 1,2mx0,3m"))
        .done()
        .says(&["1200 × 300 mm"]);
    book.run(&format!("choose {PROJECT} side --light static-white --cct 3000K --volts 24V")).done();
    let refused = |line: &str, says: &[&str]| {
        book.unchanged(|b| drop(b.run(line).code(2).says(says)));
    };
    refused(
        &format!("project change {PROJECT} --install-date 3/4/2027"),
        &["2027-02-15", "mistaken for each other"],
    );
    refused(&format!("project change {PROJECT} --install-date 31.6.2027"), &["no such day"]);
    refused(&format!("panel add {PROJECT} p --swatch alba --size 1200x300"), &["it has no unit"]);
    refused(&format!("panel add {PROJECT} p --swatch alba --diameter 1,200mm"), &["comma"]);
    refused(&format!("choose {PROJECT} side --cct warm"), &["in kelvin, like 3000"]);
}

#[cfg(unix)]
#[test]
fn what_is_no_text_is_refused_as_wrong_use() {
    use std::os::unix::ffi::OsStrExt as _;
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    for (before, says) in
        [(&[][..], "unrecognized"), (&["status"], "UTF-8"), (&["status", "--json"], "UTF-8")]
    {
        let bytes = std::ffi::OsStr::from_bytes(b"\xff");
        let ended = book.command().args(before).arg(bytes).output().unwrap();
        let said = String::from_utf8_lossy(&[ended.stdout, ended.stderr].concat()).into_owned();
        assert_eq!(ended.status.code(), Some(2), "{before:?}: {said}");
        assert!(said.contains(says), "{before:?}: {said}");
    }
}

#[test]
fn words_and_names_that_are_nearly_right() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    book.unchanged(|b| {
        b.run(&format!("swatch change {PROJECT} alba --material onix"))
            .code(2)
            .says(&["'onyx'", "travertine"]);
        b.run(&format!("panel change {PROJECT} front --swatch albo")).code(2).says(&["did you mean alba?"]);
        b.run(&format!("draw {PROJECT} fornt")).code(2).says(&["did you mean front?"]);
        b.run(&format!("project change {PROJECT} --client imka")).code(2).says(&["did you mean imke?"]);
        b.run(&format!("project change {PROJECT} --client zed")).code(2).says(&["there are: ", "imke"]);
    });
}

#[test]
fn what_a_new_record_needs_is_shown_and_required() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    book.unchanged(|b| {
        b.run("open x").code(2).says(&["--title <TEXT>", "--client <PERSON>", "--site <TEXT>"]);
        b.run(&format!("swatch add {PROJECT} x")).code(2).says(&["--stone", "--tone", "--slab-thickness"]);
        b.run(&format!("panel add {PROJECT} x --swatch alba"))
            .code(2)
            .says(&["--outline <FILE>|--size <SIZE>|--diameter"]);
    });
    let help = place.run("mara", "panel add --help").done();
    let (own, everywhere) = help.stdout.split_once("In every command:").expect("a heading of its own");
    assert!(own.contains("--swatch") && !own.contains("--json"), "{own}");
    assert!(everywhere.contains("--json") && !everywhere.contains("--swatch"), "{everywhere}");
}

#[test]
fn a_shell_is_offered_what_there_is() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let offered = |words: &[&str]| -> Vec<String> {
        let mut command = book.command();
        command.env("COMPLETE", "bash").env("_CLAP_IFS", "\n");
        command.env("_CLAP_COMPLETE_INDEX", (words.len() - 1).to_string());
        let out = command.arg("--").args(words).output().unwrap();
        String::from_utf8(out.stdout).unwrap().lines().map(str::to_owned).collect()
    };
    let holds = |words: &[&str], some: &[&str]| {
        let found = offered(words);
        for word in some {
            assert!(found.iter().any(|f| f == word), "{words:?}: {word} is not among {found:?}");
        }
    };
    holds(&["underlit", "st"], &["status", "stock-git"]);
    holds(&["underlit", "status", ""], &[PROJECT]);
    holds(&["underlit", "draw", PROJECT, ""], &["front"]);
    holds(&["underlit", "swatch", "change", PROJECT, ""], &["alba"]);
    holds(&["underlit", "swatch", "change", PROJECT, "alba", "--material", ""], &["onyx", "travertine"]);
    holds(&["underlit", "project", "change", PROJECT, "--client", ""], &["imke", "mara"]);
    assert!(!offered(&["underlit", "draw", "no-such", ""]).contains(&"front".to_owned()));
}

#[test]
fn what_happened_happened_in_its_order_and_not_in_the_future() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara").on("2026-09-12");
    book.run("request ask quay-desk first --swatch alba --cct 3000,4000 --face diffused --size 300x200mm --address here --date 2026-09-01").done();
    book.unchanged(|b| {
        b.run("request received quay-desk first --date 2026-08-31")
            .fails(2, "date-order")
            .says(&["asked for"]);
        b.run("request received quay-desk first --date 2099-01-01")
            .fails(2, "date-future")
            .says(&["today is"]);
    });
    // A parcel that nobody recorded as sent is there all the same.
    book.run("request received quay-desk first --date 2026-09-03")
        .done()
        .says(&["was received on 2026-09-03", "underlit request sent quay-desk first"]);
    book.unchanged(|b| {
        b.run("request sent quay-desk first --date 2026-09-04")
            .fails(2, "date-order")
            .says(&["after 2026-09-03"]);
    });
    book.run("request sent quay-desk first --date 2026-09-02").done().says(&["was sent on 2026-09-02"]);
    book.sound();
}

#[test]
fn every_record_is_shown_in_words() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    let mut kinds = std::collections::BTreeSet::new();
    for (list, show) in [("show quay-desk", "show quay-desk"), ("show --shop", "show --shop")] {
        let records = book.run(&format!("{list} --json")).done().json();
        for record in records["records"].as_array().expect("a list") {
            let word = |key: &str| record[key].as_str().unwrap().to_owned();
            let shown = book.run(&format!("{show} {} {}", word("kind"), word("id"))).done();
            // Each field has a title; what is called by its key is shown without its underscores, and is a slip in a schema.
            for line in shown.stdout.lines().skip(1) {
                let title = line.trim_start().split("  ").next().unwrap_or_default();
                assert!(!title.contains('_'), "{}: {line}", word("file"));
            }
            kinds.insert(word("kind"));
        }
    }
    assert!(kinds.len() >= 17, "{kinds:?}");
    book.run("show quay-desk panel front").done().says(&["Colour temperature", " K"]);
    book.run("show quay-desk swatch").done().says(&["Thickness of the slab", " mm"]);
    book.run("show quay-desk panel").done().says(&["front"]);
    let json = book.run("show quay-desk panel front --json").done().json();
    assert_eq!(json["record"]["id"], "front");
    book.unchanged(|b| {
        b.run("show quay-desk pannel").fails(2, "unknown-record").says(&["did you mean panel?"]);
        b.run("show quay-desk panel fornt").fails(2, "unknown-record").says(&["did you mean front?"]);
        b.run("show").code(2);
    });
}
