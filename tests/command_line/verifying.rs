//! `verify`: a book proved from its fingerprint, with its history, and every reason said.

use std::fs;

use serde_json::{Value, json};

use crate::forgery::{bytes, lay, signature};
use crate::stages::{self, PROJECT};
use crate::workshop::{Desk, Place, home, program, words};

const SIGNOFFS: &str = "projects/quay-desk/signoffs";

fn fingerprint(book: &Desk) -> String {
    book.run("roster show --json").done().json()["fingerprint"].as_str().unwrap().to_owned()
}

/// The digest of the sign-off of a view, as it lies in the book.
fn of_view(book: &Desk, view: &str, role: &str) -> String {
    let text = |n: &String| book.text(&format!("{SIGNOFFS}/{n}"));
    let wanted = |n: &String| {
        let value: Value = serde_json::from_str(&text(n)).unwrap();
        value["about"]["view"] == view && value["role"] == role
    };
    book.names(SIGNOFFS, ".json").into_iter().find(wanted).unwrap().replace(".json", "")
}

#[test]
fn a_released_job_with_every_reason() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    let told = fingerprint(&book);
    book.unchanged(|b| {
        b.run("verify").done().says(&[
            &format!("tern, fingerprint {told}"),
            "what this clone has seen before",
            "no signed record was changed or removed",
            "gates     4 moves, each re-checked against its own state: no gate was shut",
            "quay-desk — Quay desk: released, may be built, because",
            "the choice for panel front is approved by Imke Voss (client) [choice-signed]",
            "signed as client by Imke Voss, under roster version 3",
            "the release of the whole build is approved by Tom Reed (engineer) [release-signed]",
            "from rendering to released by Mara Quill (rep), under roster version 3",
        ]);
        b.run("verify quay-desk").done();
        b.run(&format!("verify --fingerprint {told}")).done().says(&["the fingerprint that you gave"]);
        b.run(&format!("verify --fingerprint {}", "0".repeat(64)))
            .code(5)
            .says(&["[fingerprint-differs]", "by telephone"]);
        b.run("verify other").fails(2, "unknown-project");
        b.run("verify --at nowhere").code(6);
        b.run("verify --fingerprint 12").code(2);
    });
    let answer = book.run("verify --json").done().json();
    let gates = &answer["history"]["asked_moves"];
    assert_eq!((&gates["asked"], &gates["shut"], &gates["by_signature"]), (&json!(4), &json!(0), &json!(0)));
    let job = &answer["projects"][0];
    assert_eq!((&job["released"], &answer["holds"]), (&json!(true), &json!(true)));
    assert_eq!(answer["held_to"], "pin");
    assert_eq!(answer["history"]["commit_count"], book.commits());
    // Not yet, and on hold.
    let early = place.copy_as(stages::signed(), "early", "mara");
    early.run("verify").done().says(&["rendering, may not be built yet"]);
    early.run("verify quay-desk").code(1);
    book.run("swatch change quay-desk alba --slab-thickness 25mm").done();
    book.run("verify").code(1).says(&["released, ON HOLD", "it has changed since [release-signed]"]);
    // A commit of before is judged as it was.
    book.run("verify --at HEAD~1").done().says(&["may be built", "commit "]);
    let at = book.run("verify quay-desk --at HEAD~1 --json").done().json();
    assert_eq!((&at["files_on_disk"], &at["projects"][0]["released"]), (&json!(false), &json!(true)));
}

#[test]
fn each_statement_explained() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    let release = of_view(&book, "release", "engineer");
    let short = &release[..12];
    let explained = book.run(&format!("verify --explain {short}")).done().says(&[
        "counts",
        "Tom Reed (engineer) approved the release of the whole build, with a signature of their own",
        "release-signed rests on it",
        "ssh-keygen -Y verify -f signers -I tom -n underlit-engineer",
        "by Tom Reed brought it",
    ]);
    assert!(!explained.stdout.contains("NO "), "{}", explained.stdout);
    let json = book.run(&format!("verify --explain {short} --json")).done().json();
    assert_eq!((&json["counts"], &json["sha256"]), (&json!(true), &json!(release)));
    book.run("verify --explain 00ff00ff00ff").fails(2, "unknown-statement");
    // A beginning that names none, or more than one.
    let names: Vec<String> =
        ["signoffs", "moves"].iter().flat_map(|f| book.names(&format!("{PROJECT}/{f}"), ".json")).collect();
    let named = |digit: &char| names.iter().filter(|name| name.starts_with(*digit)).count();
    let unclear = "0123456789abcdef".chars().find(|digit| named(digit) != 1).unwrap();
    book.run(&format!("verify --explain {unclear} --json")).code(2);
    // Each command that it names is taken by the stock tools, as it stands.
    fs::write(book.path("signers"), book.run("allowed-signers").done().stdout).unwrap();
    for line in json["check_yourself"].as_array().unwrap().iter().map(|l| l.as_str().unwrap()) {
        if !line.starts_with("underlit") {
            let ran = program("sh", "mara").current_dir(&book.at).args(["-c", line]).output().unwrap();
            assert!(ran.status.success(), "{line}: {}", String::from_utf8_lossy(&ran.stderr));
        }
    }
    fs::remove_file(book.path("signers")).unwrap();
    // Every move and sign-off of the book counts.
    for folder in ["signoffs", "moves"] {
        for name in book.names(&format!("{PROJECT}/{folder}"), ".json") {
            book.run(&format!("verify --explain {}", &name[..16])).done();
        }
    }
    // Stale, replaced, and by a key that was put away.
    let stale = place.copy_as(&book.at, "stale", "mara");
    stale.run("swatch change quay-desk alba --slab-thickness 25mm").done();
    stale.run(&format!("verify --explain {short}")).code(1).says(&[
        "does not count",
        "NO   facts",
        "20 mm was signed, now 25 mm",
    ]);
    let later = place.copy_as(&book.at, "later", "mara");
    later.run_as("tom", "sign quay-desk release --withdraw --yes").done();
    later.run(&format!("verify --explain {short}")).code(1).says(&["a later statement of the same person"]);
    let gone = place.copy_as(&book.at, "gone", "mara");
    gone.run("roster roles tom designer --keep-none").done();
    gone.run(&format!("verify --explain {short}")).code(1).says(&["the person no longer has that role"]);
    // Forged: by another key.
    let mut forged: Value = serde_json::from_str(&book.text(&format!("{SIGNOFFS}/{release}.json"))).unwrap();
    forged["nonce"] = json!("e".repeat(32));
    let text = bytes(&forged);
    let file = lay(&book, SIGNOFFS, &text, Some(&signature("mallory", "underlit-engineer", &text)));
    let name = &file.rsplit('/').next().unwrap()[..20];
    book.run(&format!("verify --explain {name}")).code(5).says(&[
        "NO   trust",
        "tom had no such key",
        "[signer-role]",
    ]);
    book.run("verify").code(5).says(&["[signer-role]", &file]);
}

#[test]
fn what_was_taken_out_of_the_history_is_found_whoever_did_it() {
    let place = Place::new();
    // A refusal taken out by a commit past this program, whose files agree with each other.
    let book = place.copy(stages::released(), "mara");
    book.run_as("tom", r#"sign quay-desk release --reject --comment "seams" --yes"#).done();
    book.run("verify").code(1);
    book.git("rm -q -r --cached projects/quay-desk/signoffs");
    book.git("reset -q");
    let refusal = of_view_with(&book, "rejected");
    book.git(&format!("rm -q {SIGNOFFS}/{refusal}.json {SIGNOFFS}/{refusal}.sig"));
    let tom = Desk { person: "tom", ..book.clone() };
    tom.git("commit -q -m tidy");
    book.run("board --released").done().says(&["may be built"]);
    for line in ["verify", "verify quay-desk", "verify --cold", "verify --at HEAD"] {
        book.run(line).code(5).says(&["[add-only-history]", "by tom takes out", &refusal, "git checkout"]);
    }
    let json = book.run("verify --json").code(5).json();
    assert_eq!((&json["holds"], &json["history"]["breach_count"]), (&json!(false), &json!(2)));
    // An evil merge, which keeps one side's files.
    let book = place.copy_as(stages::signed(), "merged", "mara");
    book.git("checkout -q -b side");
    book.run_as(
        "tom",
        r#"sign quay-desk rendering --panel front --as engineer --reject --comment "no" --yes"#,
    )
    .done();
    book.git("checkout -q main");
    book.run("swatch change quay-desk alba --lot B-17").done();
    book.git("merge -q -s ours -m together side");
    book.run("check").done();
    book.run("verify").code(5).says(&["[add-only-history]"]);
    // A roster version edited away.
    let book = place.copy_as(stages::released(), "roster", "mara");
    book.git("rm -q roster/0003.json roster/0003.mara.sig");
    book.git("commit -q -m older");
    book.run("verify").code(5).says(&["[roster-rolled-back]"]);
    book.run(&format!(
        "verify --fingerprint {}",
        fingerprint(&place.copy_as(stages::released(), "as", "mara"))
    ))
    .code(5)
    .says(&["[add-only-history]", "roster/0003.json"]);
}

/// The digest of a sign-off that says this.
fn of_view_with(book: &Desk, decision: &str) -> String {
    let says =
        |n: &String| book.text(&format!("{SIGNOFFS}/{n}")).contains(&format!(r#""decision": "{decision}""#));
    book.names(SIGNOFFS, ".json").into_iter().find(says).unwrap().replace(".json", "")
}

#[test]
fn a_bare_repository_and_a_clone_say_the_same_and_how_old_they_are() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    let hub = place.path("hub.git");
    book.git(&format!("clone -q --bare . {}", hub.display()));
    let there = |line: &str| {
        let mut command = crate::workshop::underlit("tom");
        let output = command.args(words(line)).current_dir(&hub).output().unwrap();
        crate::workshop::Ran::of(line, output)
    };
    let told = fingerprint(&book);
    there(&format!("verify --fingerprint {told}"))
        .done()
        .says(&["may be built, because", "judged    commit"]);
    there("verify").done().says(&["nothing but itself"]);
    let projects = there("verify --json").done().json()["projects"].clone();
    assert_eq!(projects, book.run("verify --json").done().json()["projects"]);
    assert_eq!(there("verify --json").done().json()["last_fetch"], Value::Null);
    there(&format!("verify --explain {}", &of_view(&book, "release", "engineer")[..12])).done();
    // A clone that was long away says so: a server that shows an old state cannot be told from a quiet week.
    let at = place.path("clone");
    book.git(&format!("clone -q {} {}", hub.display(), at.display()));
    let clone = Desk::new(at, "tom");
    clone.git("fetch -q");
    let stamped = program("touch", "tom")
        .args(["-d", "2026-08-20T08:00:00Z"])
        .arg(clone.path(".git/FETCH_HEAD"))
        .output()
        .unwrap();
    assert!(stamped.status.success());
    let touched = program("touch", "tom")
        .args(["-d", "2026-08-19T08:00:00Z"])
        .arg(clone.path(".git/logs/refs/remotes/origin/HEAD"))
        .output()
        .unwrap();
    assert!(touched.status.success());
    clone.run("verify").done().says(&["fetched   12 days ago (2026-08-20T08:00:00Z)"]);
    assert_eq!(clone.run("verify --json").done().json()["last_fetch"]["hours_ago"], 288);
    // A part of the history is all that a shallow clone can vouch for.
    let at = place.path("shallow");
    book.git(&format!("clone -q --depth 2 file://{} {}", hub.display(), at.display()));
    Desk::new(at, "tom").run("verify").code(1).says(&["older commits are not here and unchecked"]);
}

#[test]
fn verdicts_of_before_are_taken_only_for_the_same_files_by_the_same_person() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    let file = ".git/underlit/verdicts.json";
    assert!(!book.path(file).exists());
    book.run("verify --dry-run").done();
    assert!(!book.path(file).exists(), "nothing is written in a dry run");
    let cold = book.run("verify --cold --json").done().json();
    assert!(!book.path(file).exists());
    let first = book.run("verify --json").done().json();
    let second = book.run("verify --json").done().json();
    assert_eq!((&first, &second), (&cold, &cold));
    // It holds a verdict, under a code that only this person's key makes.
    let kept = book.text(file);
    assert!(kept.contains("may be built") || kept.contains("released"), "{kept}");
    let key = home("mara").join(".local/state/underlit/verdicts.key");
    assert_eq!(fs::read(&key).unwrap().len(), 32);
    // On hold, and a cache that says otherwise: by an edit, and as another person made it.
    book.run("swatch change quay-desk alba --slab-thickness 25mm").done();
    let hold = book.run("verify --json").code(1).json();
    let kept = book.text(file);
    let (code, text) = kept.split_once('\n').unwrap();
    assert!(text.contains(r#""released":false"#), "{text}");
    let lie = text
        .replace(r#""released":false"#, r#""released":true"#)
        .replace(r#""holds":false"#, r#""holds":true"#);
    book.write(file, format!("{code}\n{lie}"));
    assert_eq!(book.run("verify --json").code(1).json(), hold);
    let theirs = Desk { person: "tom", ..book.clone() };
    theirs.run("verify --json").code(1);
    let by_tom = book.bytes(file);
    book.write(file, by_tom);
    assert_eq!(book.run("verify --json").code(1).json(), hold);
    for rubbish in ["", "{}", "null", "[[[["] {
        book.write(file, rubbish);
        assert_eq!(book.run("verify --json").code(1).json(), hold);
    }
    // The verdict of another state is not taken for this one, with the very times of the files put back.
    let swatch = format!("{PROJECT}/swatches/alba.json");
    let stamp = program("stat", "mara").args(["-c", "%y"]).arg(book.path(&swatch)).output().unwrap();
    let stamp = String::from_utf8(stamp.stdout).unwrap();
    book.edit(&swatch, "\"thickness_mm\": 25", "\"thickness_mm\": 20");
    program("touch", "mara").args(["-d", stamp.trim()]).arg(book.path(&swatch)).output().unwrap();
    assert_eq!(book.run("verify --json").done().json()["projects"], cold["projects"]);
}
