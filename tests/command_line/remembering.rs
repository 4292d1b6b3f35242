//! Verdicts of before against verdicts made anew: the same over many random edits.

use std::path::{Path, PathBuf};
use std::process::{Child, Stdio};
use std::time::Duration;

use jiff::tz::TimeZone;
use serde_json::Value;
use underlit::git::UserGit;
use underlit::ops::Reading;
use underlit::ops::board::{Row, board};
use underlit::signing::{Asking, Toolbox};
use underlit::store::BookFolder;
use underlit::trust::Surroundings;
use underlit::trust::before::Before;
use underlit::trust::check::{Checked, check};
use underlit::trust::verify::book::{self, Asked, Report};

use crate::forgery::bytes;
use crate::mutations::{Chance, change_value, read_all};
use crate::stages;
use crate::workshop::{Desk, Place, copy_folder, underlit, words};

fn around(home: &Path) -> Surroundings<'_> {
    Surroundings {
        now: "2026-09-01T08:00:00Z".parse().unwrap(),
        zone: TimeZone::UTC,
        toolbox: Toolbox::new(home, None, Asking::Never),
        git: UserGit::new(false),
        home: Some(home.to_owned()),
        person: None,
        key: None,
        dry_run: false,
        build: "test".into(),
    }
}

/// The board as a person sees it, who has a home folder to remember in, and made anew.
fn boards(book: &Desk, home: &Path) -> [Vec<Row>; 2] {
    let reading = Reading::open(&book.at).unwrap();
    let around = around(home);
    let anew = Surroundings { home: None, ..around.clone() };
    [board(&reading, &around).unwrap(), board(&reading, &anew).unwrap()]
}

/// What a check says to a person who has a home folder to remember in, and to one who has none.
fn checks(book: &Desk, home: &Path) -> [Checked; 2] {
    let folder = BookFolder::at(book.at.clone());
    let around = around(home);
    let mut before = Before::open(&folder, &around);
    let remembered = check(&folder, None, &mut before);
    before.keep(&around);
    [remembered, check(&folder, None, &mut Before::default())]
}

/// Keeps something under a name as this person's own key would have it.
fn sign(book: &Desk, home: &Path, name: &str, body: &str) {
    use hmac::Mac as _;
    let key = std::fs::read(home.join(".local/state/underlit/verdicts.key")).unwrap();
    let mut mac = hmac::Hmac::<sha2::Sha256>::new_from_slice(&key).unwrap();
    mac.update(format!("{name}\n{body}").as_bytes());
    let code: String = mac.finalize().into_bytes().iter().map(|b| format!("{b:02x}")).collect();
    std::fs::write(book.path(&format!(".git/underlit/{name}")), format!("{code}\n{body}")).unwrap();
}

/// The example book in a history of its own, and the home folder of who looks at it.
fn example(place: &Place) -> (Desk, PathBuf) {
    let at = place.path("book");
    copy_folder(&Path::new(env!("CARGO_MANIFEST_DIR")).join("example-repo"), &at);
    let home = place.path("home");
    std::fs::create_dir_all(&home).unwrap();
    let book = Desk::new(at, "mara");
    book.git("init -q -b main");
    book.git("add -A");
    book.git("commit -q -m book");
    (book, home)
}

fn verified(book: &Desk, home: &Path, cold: bool) -> Report {
    let around = around(home);
    let asked = Asked { cold, ..Asked::default() };
    book::verify(&book.at, &around, &asked).unwrap()
}

/// Everything that a report says, but for the clock of the last fetch and what was taken from before.
fn said(report: &Report) -> String {
    format!("{:?}\n{:?}\n{:?}\n{:?}", report.roster, report.history, report.projects, report.faults)
}

#[test]
fn verdicts_of_before_are_those_made_anew_over_many_random_edits() {
    let place = Place::new();
    let (book, home) = example(&place);
    book.run("board").code(0);
    let mut chance = Chance(20_260_901);
    let (mut taken, mut differed) = (0, 0);
    let good = read_all(&book.at);
    let mut last = String::new();
    for step in 0..40 {
        let files = read_all(&book.at);
        let paths: Vec<&String> = files.keys().filter(|p| p.starts_with("projects/")).collect();
        let path = (*chance.of(&paths)).clone();
        match chance.below(6) {
            0 => std::fs::remove_file(book.path(&path)).unwrap(),
            1 => {
                let mut bytes = files[&path].clone();
                let at = chance.below(bytes.len().max(1));
                if let Some(byte) = bytes.get_mut(at) {
                    *byte ^= 1;
                }
                book.write(&path, bytes);
            }
            2 | 3 => {
                if let Ok(mut value) = serde_json::from_slice::<Value>(&files[&path]) {
                    change_value(&mut value, &mut chance);
                    book.write(&path, bytes(&value));
                }
            }
            // Back to what it was, so that verdicts of before come to be asked for again.
            4 => good.iter().for_each(|(path, bytes)| book.write(path, bytes)),
            _ => {
                book.git("add -A");
                book.git("commit -q --allow-empty -m edit");
            }
        }
        let before = verified(&book, &home, false);
        let anew = verified(&book, &home, true);
        assert_eq!(said(&before), said(&anew), "step {step}, {path}");
        let [remembered, anew_board] = boards(&book, &home);
        assert_eq!(remembered, anew_board, "step {step}, {path}");
        let [remembered, anew_check] = checks(&book, &home);
        assert_eq!(format!("{remembered:?}"), format!("{anew_check:?}"), "step {step}, {path}");
        // What changed within the grain of the disk's clock is not remembered; half of the time it is.
        std::thread::sleep(Duration::from_millis(120 * (step % 2)));
        taken += before.remembered;
        differed += usize::from(said(&anew) != last);
        last = said(&anew);
    }
    assert!(taken > 40, "{taken} verdicts were taken from before");
    assert!(differed > 10, "{differed} edits changed what is said");
}

#[test]
fn a_row_is_remembered_until_something_that_it_rests_on_changes() {
    let place = Place::new();
    let (book, home) = example(&place);
    // The book's folder in `.git` is made by the first command that needs it.
    book.run("status quay-bar").code(0);
    let kept = book.path(".git/underlit/board");
    std::thread::sleep(Duration::from_millis(120));
    let [first, anew] = boards(&book, &home);
    assert_eq!(first, anew);

    // A row that is not what the files say shows whether it is taken from the memory.
    let text = std::fs::read_to_string(&kept).unwrap();
    let (_, body) = text.split_once('\n').unwrap();
    let title = first[0].title.clone().unwrap();
    let told = body.replace(&title, "told by the memory");
    assert_ne!(body, told);
    std::fs::write(&kept, format!("{}\n{told}", text.split_once('\n').unwrap().0)).unwrap();
    assert_eq!(boards(&book, &home)[0], anew, "a memory that somebody else wrote is not believed");

    let sign = |body: &str| sign(&book, &home, "board", body);
    let shows =
        || boards(&book, &home)[0].iter().any(|row| row.title.as_deref() == Some("told by the memory"));
    sign(&told);
    assert!(shows(), "what this person's own key says is believed: the row was not made anew");

    let file = book.path(&format!("projects/{}/project.json", first[0].id));
    let was = std::fs::read(&file).unwrap();
    std::fs::write(&file, [was.as_slice(), b"\n"].concat()).unwrap();
    sign(&told);
    assert!(!shows(), "a file of the project changed");
    std::fs::write(&file, &was).unwrap();
    sign(&told);
    assert!(!shows(), "a file of the project was written again");

    // All is as it was, but for the day: the rows of another are worth nothing.
    std::thread::sleep(Duration::from_millis(120));
    boards(&book, &home);
    let text = std::fs::read_to_string(&kept).unwrap();
    let told = text.split_once('\n').unwrap().1.replace(&title, "told by the memory");
    sign(&told);
    assert!(shows());
    sign(&told.replace("2026-09-01", "2026-08-31"));
    assert!(!shows(), "it is another day");
}

#[test]
fn a_project_that_was_sound_is_looked_at_again_once_something_changed() {
    let place = Place::new();
    let (book, home) = example(&place);
    book.run("status quay-bar").code(0);
    std::thread::sleep(Duration::from_millis(120));
    let [first, anew] = checks(&book, &home);
    assert_eq!((first.faults.len(), first.files), (0, anew.files), "{:?}", first.faults);

    // A number of files that is not so shows whether a project is taken from the memory.
    let text = std::fs::read_to_string(book.path(".git/underlit/checked")).unwrap();
    let mut kept: Value = serde_json::from_str(text.split_once('\n').unwrap().1).unwrap();
    let id = kept["sound"].as_object().unwrap().keys().next().unwrap().clone();
    let files = kept["sound"][&id]["files"].as_u64().unwrap();
    kept["sound"][&id]["files"] = (files + 1000).into();
    let told = kept.to_string();
    let shows = || checks(&book, &home)[0].files == anew.files + 1000;
    std::fs::write(book.path(".git/underlit/checked"), format!("{}\n{told}", "0".repeat(64))).unwrap();
    assert!(!shows(), "a memory that somebody else wrote is not believed");
    sign(&book, &home, "checked", &told);
    assert!(shows(), "what this person's own key says is believed: the project was not looked at again");
    // Another commit of plain files changes nothing of it; one with a link in it is told of.
    book.git("commit -q --allow-empty -m nothing");
    assert!(shows());

    sign(&book, &home, "checked", &told.replace(kept["under"].as_str().unwrap(), &"0".repeat(64)));
    assert!(!shows(), "it was found under another roster, shop or build");
    sign(&book, &home, "checked", &told);
    std::os::unix::fs::symlink("book.json", book.path("link.json")).unwrap();
    book.git("add link.json");
    book.git("commit -q -m link");
    let [remembered, anew] = checks(&book, &home);
    assert!(anew.faults.iter().any(|fault| fault.file.as_deref() == Some("link.json")));
    assert_eq!(remembered.faults, anew.faults);
    sign(&book, &home, "checked", &told);
    let file = book.path(&format!("projects/{id}/project.json"));
    let was = std::fs::read(&file).unwrap();
    std::fs::write(&file, [was.as_slice(), b"\n"].concat()).unwrap();
    assert_eq!(checks(&book, &home)[0].files, anew.files, "a file of the project changed");
}

/// A record that was found sound is held to its schema again once it changed; what somebody else wrote, or another build of
/// the program found, is not believed.
#[test]
fn a_record_that_was_sound_is_held_to_its_schema_again_once_it_changed() {
    use underlit::digest::Sha256Digest;
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let kept = || book.text(".git/underlit/sound");
    let status = || book.run("status quay-desk");
    status().done();
    let first = kept();
    status().done();
    assert_eq!(kept(), first, "nothing new, nothing written");
    // Too long a title is what the schema alone says.
    let file = "projects/quay-desk/project.json";
    let title = book.text(file).lines().find(|l| l.contains("\"title\"")).unwrap().trim().to_owned();
    book.edit(file, &title, &format!("\"title\": \"{}\",", "long ".repeat(200)));
    status().fails(3, "schema");
    assert_eq!(kept(), first, "what is wrong is not remembered");

    let digest = Sha256Digest::of(&[b"project\n", book.bytes(file).as_slice()].concat()).hex();
    let (code, body) = first.split_once('\n').unwrap();
    let told = body.replace("\"records\":[", &format!("\"records\":[\"{digest}\","));
    assert_ne!(told, body);
    book.write(".git/underlit/sound", format!("{code}\n{told}"));
    status().fails(3, "schema");
    let home = crate::workshop::home("mara");
    let signed = |body: &str| {
        sign(&book, &home, "sound", body);
        status()
    };
    signed(&told).done();
    let mut other: Value = serde_json::from_str(&told).unwrap();
    other["build"] = "another".into();
    signed(&other.to_string()).fails(3, "schema");
}

/// A watch, a maker of pages and a person look at one book at the same time: each says what it would say alone, and what
/// they leave behind is believed and the same.
#[test]
fn processes_that_remember_at_once_say_what_each_would_say_alone() {
    let place = Place::new();
    let (book, home) = example(&place);
    // The first look pins the book's fingerprint, which `verify` tells.
    book.run("status quay-bar").code(0);
    let verbs = ["board", "check", "verify", "status quay-bar", "next", "board", "check", "board"];
    let mut chance = Chance(7);
    let run = |at: &Path, home: &Path, line: &str| {
        let mut command = underlit("mara");
        command.current_dir(at).env("HOME", home).args(words(line)).arg("--json");
        command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
    };
    let said = |child: Child| {
        let output = child.wait_with_output().unwrap();
        (output.status.code(), String::from_utf8(output.stdout).unwrap())
    };
    for round in 0..6 {
        // From nothing, with nothing new, and with an edit; with a home folder that never had a key, and with one.
        if round % 3 == 0 {
            let _ = std::fs::remove_dir_all(&home);
            std::fs::create_dir_all(&home).unwrap();
        } else if round % 3 == 2 {
            let files = read_all(&book.at);
            let records = files.iter().filter(|(path, _)| path.ends_with("/project.json"));
            let (path, text) = *chance.of(&records.collect::<Vec<_>>());
            let mut value: Value = serde_json::from_slice(text).unwrap();
            change_value(&mut value, &mut chance);
            book.write(path, bytes(&value));
        }
        std::thread::sleep(Duration::from_millis(120));
        let alone = place.path(&format!("alone-{round}"));
        copy_folder(&book.at, &alone);
        let expected: Vec<_> = verbs
            .iter()
            .map(|line| {
                let fresh = place.path("fresh");
                let _ = std::fs::remove_dir_all(&fresh);
                std::fs::create_dir_all(&fresh).unwrap();
                said(run(&alone, &fresh, line))
            })
            .collect();
        let together: Vec<Child> = verbs.iter().map(|line| run(&book.at, &home, line)).collect();
        for ((line, child), expected) in verbs.iter().zip(together).zip(expected) {
            let said = said(child);
            let differs = said.1.lines().zip(expected.1.lines()).find(|(a, b)| a != b);
            assert!(said == expected, "{line}, round {round}: {differs:?}");
        }
        let [remembered, anew] = boards(&book, &home);
        assert_eq!(remembered, anew, "round {round}");
    }
}
