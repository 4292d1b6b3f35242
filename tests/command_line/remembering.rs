//! Verdicts of before against verdicts made anew: the same over many random edits, and what they save on a large book.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use jiff::tz::TimeZone;
use serde_json::Value;
use underlit::digest::Sha256Digest;
use underlit::git::UserGit;
use underlit::ops::Reading;
use underlit::ops::board::{Row, board};
use underlit::signing::{Armour, Asking, Toolbox};
use underlit::trust::Surroundings;
use underlit::trust::verify::book::{self, Asked, Report};

use crate::forgery::{bytes, signature};
use crate::mutations::{Chance, change_value, read_all};
use crate::stages;
use crate::workshop::{Desk, Place, copy_folder};

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

    let sign = |body: &str| {
        let key = std::fs::read(home.join(".local/state/underlit/verdicts.key")).unwrap();
        use hmac::Mac as _;
        let mut mac = hmac::Hmac::<sha2::Sha256>::new_from_slice(&key).unwrap();
        mac.update(b"board\n");
        mac.update(body.as_bytes());
        let code: String = mac.finalize().into_bytes().iter().map(|b| format!("{b:02x}")).collect();
        std::fs::write(&kept, format!("{code}\n{body}")).unwrap();
    };
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

/// The one project of a book as another of that name: every statement says the new name and is signed anew.
fn again(book: &Desk, id: &str) {
    let (old, new) = ("projects/quay-desk", format!("projects/{id}"));
    copy_folder(&book.path(old), &book.path(&new));
    let mut renamed: BTreeMap<String, String> = BTreeMap::new();
    let mut waiting: Vec<(String, String)> = Vec::new();
    for folder in ["signoffs", "moves"] {
        let names = book.names(&format!("{new}/{folder}"), ".json");
        waiting.extend(names.into_iter().map(|n| (folder.to_owned(), n.replace(".json", ""))));
    }
    while !waiting.is_empty() {
        let names: Vec<String> = waiting.iter().map(|(_, digest)| digest.clone()).collect();
        let ready = waiting.iter().position(|(folder, digest)| {
            let text = book.text(&format!("{new}/{folder}/{digest}.json"));
            !names.iter().any(|other| text.contains(other.as_str()))
        });
        let (folder, digest) = waiting.remove(ready.expect("no statement names a later one"));
        let file = format!("{new}/{folder}/{digest}");
        let mut text = book.text(&format!("{file}.json")).replace("quay-desk", id);
        for (old, new) in &renamed {
            text = text.replace(old, new);
        }
        let value: Value = serde_json::from_str(&text).unwrap();
        let armour = Armour::parse(&book.bytes(&format!("{file}.sig"))).unwrap();
        let signed = signature(value["signer"].as_str().unwrap(), armour.namespace(), text.as_bytes());
        for ending in ["json", "sig"] {
            std::fs::remove_file(book.path(&format!("{file}.{ending}"))).unwrap();
        }
        let name = Sha256Digest::of(text.as_bytes()).hex();
        book.write(&format!("{new}/{folder}/{name}.json"), text);
        book.write(&format!("{new}/{folder}/{name}.sig"), signed);
        renamed.insert(digest, name);
    }
    for folder in ["panels", "renderings/front", "."] {
        for name in book.names(&format!("{new}/{folder}"), ".json") {
            let file = format!("{new}/{folder}/{name}");
            book.write(&file, book.text(&file).replace("quay-desk", id));
        }
    }
}

/// Run with: `cargo test --release --test command_line -- --ignored a_large_book --nocapture`; the number of projects
/// is `UNDERLIT_PROJECTS`, 200 unless told.
#[test]
#[ignore = "a measurement, which takes minutes"]
fn a_large_book_judged_again_costs_what_has_changed() {
    let count: usize = std::env::var("UNDERLIT_PROJECTS").map_or(200, |n| n.parse().unwrap());
    let place = Place::new();
    let book = place.copy(stages::signed(), "mara");
    let home = place.path("home");
    std::fs::create_dir_all(&home).unwrap();
    for nth in 1..count {
        again(&book, &format!("job-{nth:04}"));
    }
    book.git("add -A");
    book.git("commit -q -m projects");
    // A release seals the project's own name, so each is released by the engineer, and moved on.
    for id in book.names("projects", "") {
        book.run_as("tom", &format!("sign {id} release --yes")).done();
        book.run(&format!("advance {id} --to released")).done();
    }
    let timed = |cold: bool| {
        let begun = Instant::now();
        let report = verified(&book, &home, cold);
        assert_eq!(report.faults, []);
        // The last time one of them was edited.
        assert!(report.projects.iter().filter(|p| p.released).count() >= count - 1);
        let moves = report.history.as_ref().unwrap().moves.as_ref().unwrap();
        assert_eq!(moves.asked, 4 * count);
        (begun.elapsed().as_secs_f64(), report.remembered)
    };
    let (cold, _) = timed(true);
    let (first, _) = timed(false);
    let (again, remembered) = timed(false);
    assert_eq!(remembered, count);
    book.edit("projects/job-0001/project.json", "Quay hall", "Quay hall, north");
    let (one, remembered) = timed(false);
    assert_eq!(remembered, count - 1);
    let figures = format!(
        "{count} projects: cold {cold:.2} s, first {first:.2} s, again {again:.2} s ({:.1} times faster), after one edit {one:.2} s",
        cold / again
    );
    std::fs::write(Path::new(env!("CARGO_TARGET_TMPDIR")).join("verify-large-book.txt"), &figures).unwrap();
    assert!(again < cold, "{figures}");
}
