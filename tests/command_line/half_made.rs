//! What a kill, a full disk, a file manager or a wrong clock leave of a clone: `check`, `check --repair` and `sync` say the
//! same of each, whatever is offered fixes it, and no commit that was not sent is lost. A book that is made or fetched
//! is whole or not there.

use std::fs;
use std::process::Command;

use crate::stages::{self, PROJECT};
use crate::workshop::{Desk, Place, Ran, copy_folder, words};

const WRITES: &str = "swatch change quay-desk alba --lot B-17";

/// One damage: its name, what does it, the fault that everybody names (none where nothing is to be said), and the repair.
type Damage = (&'static str, fn(&Desk), Option<&'static str>, Option<&'static str>);

fn remove(desk: &Desk, path: &str) {
    let full = desk.path(path);
    if full.is_dir() { fs::remove_dir_all(full).unwrap() } else { fs::remove_file(full).unwrap() }
}

const DAMAGES: [Damage; 15] = [
    ("the index is lost", |d| remove(d, ".git/index"), None, None),
    (
        "the index is cut off",
        |d| fs::OpenOptions::new().write(true).open(d.path(".git/index")).unwrap().set_len(40).unwrap(),
        Some("git-index-unreadable"),
        Some("index"),
    ),
    ("the index is empty", |d| d.write(".git/index", ""), Some("git-index-unreadable"), Some("index")),
    (
        "the index is split",
        |d| {
            d.git("config core.splitIndex true");
            d.git("update-index --split-index");
        },
        Some("git-index-unreadable"),
        Some("index"),
    ),
    (
        "the branch is lost",
        |d| {
            let _ = fs::remove_file(d.path(".git/packed-refs"));
            remove(d, ".git/refs/heads/main")
        },
        Some("git-branch-lost"),
        Some("branch"),
    ),
    (
        "another branch is begun",
        |d| {
            d.git("symbolic-ref HEAD refs/heads/new");
        },
        Some("git-branch-lost"),
        Some("branch"),
    ),
    (
        "a project was renamed",
        |d| fs::rename(d.path(PROJECT), d.path("projects/quay-front")).unwrap(),
        Some("project-moved"),
        Some("moved:quay-front"),
    ),
    (
        "a project was renamed to another letter case",
        |d| fs::rename(d.path(PROJECT), d.path("projects/Quay-Desk")).unwrap(),
        Some("project-moved"),
        Some("moved:Quay-Desk"),
    ),
    (
        "a project was renamed to no name",
        |d| fs::rename(d.path(PROJECT), d.path("projects/quay desk (copy)")).unwrap(),
        Some("project-moved"),
        Some("moved:quay desk (copy)"),
    ),
    (
        "files of a move are left",
        |d| {
            d.write(".git/underlit/incoming/0", "half");
            d.write(".git/underlit/incoming/1", "");
        },
        None,
        None,
    ),
    ("the note of a move is torn", |d| d.write(".git/underlit/moving.json", "{\"bran"), None, None),
    ("the note of a change is torn", |d| d.write(".git/underlit/before/note.json", "[{"), None, None),
    ("old files of a change are left", |d| d.write(".git/underlit/before/3", "old"), None, None),
    ("the lock file says nonsense", |d| d.write(".git/underlit/lock", "\u{1b}[2J\0"), None, None),
    ("what was seen is torn", |d| d.write(".git/underlit/folder", "underlit folder"), None, None),
];

#[test]
fn every_damage_is_told_alike_and_fixed() {
    let place = Place::new();
    let good = place.copy_as(stages::released(), "good", "mara");
    let hub = place.path("hub.git");
    good.git(&format!("clone -q --bare . {}", hub.display()));
    good.git(&format!("remote add origin {}", hub.display()));
    good.run("sync").code(0);
    // A commit that was not sent.
    good.run("project change quay-desk --title \"The desk at the quay\"").done();
    let unsent = good.git("rev-parse HEAD");
    for (nth, (what, damage, fault, repair)) in DAMAGES.iter().enumerate() {
        let book = place.path(&format!("book-{nth}"));
        copy_folder(&good.at, &book);
        let own_hub = place.path(&format!("hub-{nth}.git"));
        copy_folder(&hub, &own_hub);
        let book = Desk::new(book, "mara");
        book.git(&format!("remote set-url origin {}", own_hub.display()));
        damage(&book);
        let files = || {
            let listed = Command::new("sh")
                .args(["-c", "find . -path ./.git -prune -o -type f -print | sort"])
                .current_dir(&book.at)
                .output();
            String::from_utf8(listed.unwrap().stdout).unwrap()
        };
        let before = files();
        if let (Some(fault), Some(repair)) = (fault, repair) {
            for line in ["check", "sync", "sync --offline", "sync --dry-run"] {
                let ran = book.run(line);
                assert!(
                    ran.code != 0 && ran.stderr.contains(&format!("[{fault}]")),
                    "{what}: {line}: {ran:?}"
                );
                assert!(
                    ran.stderr.contains(&format!("check --repair {repair}"))
                        || ran.stderr.contains(&format!("check --repair '{repair}'")),
                    "{what}: {line}: {ran:?}"
                );
                assert_eq!(
                    ran.stderr.matches("Fix: ").count(),
                    1,
                    "{what}: {line}: one thing is said: {ran:?}"
                );
            }
            assert_eq!(files(), before, "{what}: nothing was touched");
            let offered = book.run("check --repair").code(0);
            assert!(offered.stdout.starts_with(&format!("{repair}\n")), "{what}: {offered:?}");
            assert_eq!(offered.stdout.matches("to do it: ").count(), 1, "{what}: {offered:?}");
            let mut command = book.command();
            Ran::of("repair", command.args(["check", "--repair", repair]).output().unwrap()).code(0);
        } else {
            book.run("check").code(0);
            book.run("check --repair").code(0).says(&["nothing that underlit can repair"]);
        }
        book.run("check").code(0);
        assert_eq!(book.git("rev-parse HEAD"), unsent, "{what}: the commit that was not sent is there");
        book.run("sync").code(0);
        assert_eq!(book.git("rev-parse origin/main"), unsent, "{what}: and was sent");
        book.run(WRITES).code(0);
        book.sound();
        assert_eq!(book.commits(), good.commits() + 1, "{what}");
    }
}

#[test]
fn a_clock_that_was_wrong_once() {
    for wrong in ["1970-01-01", "2099-12-31"] {
        let place = Place::new();
        let book = place.copy(stages::chosen(), "mara");
        let hub = place.path("hub.git");
        book.git(&format!("clone -q --bare . {}", hub.display()));
        book.git(&format!("remote add origin {}", hub.display()));
        let then = book.on(if wrong == "1970-01-01" { "1970-01-01" } else { "2099-12-31" });
        if wrong == "1970-01-01" {
            let refused = then.run_as("imke", "sign quay-desk choice --panel front --yes");
            assert!(refused.code == 6 && refused.stderr.contains("[clock-wrong]"), "{refused:?}");
            book.run_as("imke", "sign quay-desk choice --panel front --yes").code(0);
            book.run("advance quay-desk --to rendering").code(0);
        } else {
            then.run_as("imke", "sign quay-desk choice --panel front --yes").code(0);
            then.run("advance quay-desk --to rendering").code(0);
        }
        then.run(WRITES).code(0);
        then.run("sync").code(0);
        // Today again. What was said counts, and nobody counts days by it.
        book.run("watch --once --all").code(0);
        let board = book.run("board --json").code(0).json();
        let days = board["projects"][0]["days_in_stage"].as_i64();
        assert!(days.is_none_or(|days| (0..=40_000).contains(&days)), "{days:?}");
        assert_eq!(board["projects"][0]["stage"], "rendering");
        for line in [
            "status quay-desk",
            "history quay-desk",
            "dates quay-desk",
            "changes quay-desk",
            "check",
            "verify",
            "sync",
        ] {
            let ran = book.run(line);
            assert!(ran.code <= 1, "{line}: {ran:?}");
            for mad in ["-26", "-27", "-10", " NaN", "overflow"] {
                assert!(
                    !ran.stdout.contains(&format!("{mad}0")) || !ran.stdout.contains("days ago"),
                    "{line}: {ran:?}"
                );
            }
        }
        // The next ones stand behind it, and another clone agrees.
        book.run(r#"project change quay-desk --title "Later""#).code(0);
        book.run("sync").code(0);
        place.run("imke", &format!("join {} other --me imke", hub.display())).code(0);
        let other = Desk::new(place.path("other"), "imke");
        other.run("verify").code(0);
        assert_eq!(other.git("rev-parse HEAD"), book.git("rev-parse HEAD"));
        // A file of the clone's own from another time.
        for file in ["lock", "pin.json", "watch.json", "folder"] {
            let full = book.path(&format!(".git/underlit/{file}"));
            assert!(Command::new("touch").args(["-d", wrong]).arg(&full).status().unwrap().success());
        }
        book.write(".git/underlit/lock", format!("7 sync {wrong}T00:00:00Z\n"));
        let lock = fs::OpenOptions::new().append(true).open(book.path(".git/underlit/lock")).unwrap();
        lock.lock().unwrap();
        let year = wrong.split('-').next().unwrap();
        book.run(WRITES.replace("B-17", "D-1").as_str())
            .fails(6, "book-in-use")
            .says(&[&format!("since {year}-")]);
        lock.unlock().unwrap();
        book.run(WRITES.replace("B-17", "D-1").as_str()).code(0);
        book.sound();
    }
}

fn under_strace(place: &Place, person: &str, line: &str, fault: &str) -> Ran {
    let plain = crate::workshop::underlit(person);
    let mut command = Command::new("strace");
    command.args(["-f", "-qq", "-o", "/dev/null", "-e", &format!("inject={fault}")]);
    command.arg(plain.get_program()).args(words(line)).current_dir(place.path("")).env_clear();
    for (key, value) in plain.get_envs() {
        command.env(key, value.unwrap_or_default());
    }
    Ran::of(line, command.output().unwrap())
}

/// Kills a command that makes a book, or lets its disk fail, at many of its calls; then the same command does it.
fn whole_or_not_there(line: &str, hub: bool) {
    let place = Place::new();
    let prepared = place.copy_as(stages::intake(), "prepared", "mara");
    if hub {
        prepared.git(&format!("clone -q --bare . {}", place.path("hub.git").display()));
    }
    let every = std::env::var("UNDERLIT_TEST_FAULTS").is_ok_and(|all| all == "every");
    let nths: Vec<usize> = if every { (1..400).collect() } else { vec![1, 3, 9, 20, 45] };
    let (mut killed, mut failed) = (0, 0);
    for calls in ["/^rename,/^link,/^unlink,/^mkdir", "write,pwrite64", "fsync,fdatasync", "openat"] {
        for end in ["signal=KILL", "error=ENOSPC", "error=EACCES"] {
            for nth in &nths {
                let nth = if calls == "openat" { nth * 5 + 10 } else { *nth };
                let ran = under_strace(&place, "mara", line, &format!("{calls}:{end}:when={nth}"));
                let what = format!("{line}: {end} at {calls} number {nth}: {ran:?}");
                let made = place.path("made");
                // A git that lost its parent is ended, which may take a moment.
                std::thread::sleep(std::time::Duration::from_millis(if ran.code == -1 && hub {
                    300
                } else {
                    0
                }));
                if end == "signal=KILL" {
                    killed += usize::from(ran.code != 0)
                } else {
                    failed += usize::from(ran.code != 0)
                }
                if end != "signal=KILL" && ran.code != 0 {
                    let left = || fs::read_dir(&made).into_iter().flatten().flatten().map(|e| e.file_name());
                    let ours =
                        |name: std::ffi::OsString| name.to_string_lossy().starts_with(".underlit-new-");
                    // A disk that fails to take something out leaves what says whose it is.
                    assert!(left().all(ours), "{what}: {:?}", left().collect::<Vec<_>>());
                    assert!(!ran.stderr.contains("panicked"), "{what}");
                }
                if made.join("book.json").exists() {
                    let book = Desk::new(made.clone(), "mara");
                    book.sound();
                    book.run("board").code(0);
                } else {
                    let again = place.run("mara", line);
                    if again.code == 2 && again.stderr.contains("complete now") {
                        assert!(made.join("book.json").exists(), "{what}");
                    } else {
                        assert_eq!(again.code, 0, "{what}: {again:?}");
                    }
                    let book = Desk::new(made.clone(), "mara");
                    book.sound();
                    let left: Vec<_> =
                        fs::read_dir(&made).unwrap().flatten().map(|e| e.file_name()).collect();
                    assert!(
                        left.iter().all(|name| !name.to_string_lossy().starts_with(".underlit-new-")),
                        "{what}: {left:?}"
                    );
                }
                fs::remove_dir_all(&made).unwrap();
                if ran.code == 0 {
                    break;
                }
            }
        }
    }
    assert!(killed > 10 && failed > 10, "{killed} {failed}");
}

#[test]
fn a_book_is_made_whole_or_not_at_all() {
    whole_or_not_there("init made --id tern --shop Tern --owner mara --owner-name Mara", false);
}

#[test]
fn a_book_is_fetched_whole_or_not_at_all() {
    whole_or_not_there("join hub.git made --me mara", true);
}

#[test]
fn an_unfinished_folder_is_known_and_nobodys_files_are_touched() {
    let place = Place::new();
    let line = "init made --id tern --shop Tern --owner mara --owner-name Mara";
    place.file("made/.underlit-new-a1b2c3/book.json", "{");
    // Somebody's own file beside it.
    let own = place.file("made/notes.txt", "mine");
    place.run("mara", line).fails(2, "folder-not-empty");
    assert_eq!(fs::read_to_string(&own).unwrap(), "mine");
    fs::remove_file(&own).unwrap();
    // One that is being made at this moment.
    let part = place.path("made/.underlit-new-x9y8z7");
    fs::create_dir_all(&part).unwrap();
    let held = fs::File::open(&part).unwrap();
    held.lock().unwrap();
    place.run("mara", line).fails(6, "folder-in-use");
    drop(held);
    place.run("mara", line).code(0);
    Desk::new(place.path("made"), "mara").sound();
    // Within a folder that may be entered and not written, and with a dry run, nothing is left.
    place
        .run("mara", "init other/deep/made --id tern --shop Tern --owner mara --owner-name Mara --dry-run")
        .code(0);
    assert!(!place.path("other").exists());
}
