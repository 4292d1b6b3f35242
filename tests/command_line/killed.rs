//! The real binary killed, or let down by its disk, at any call into the system, in a change and in a sync: right
//! afterwards `check` finds nothing wrong and git neither, the book is before or after, and the same command again
//! completes.
//!
//! The faults come from `strace -e inject`, so nothing in the product knows of them. A few are tried here; every one
//! of them, in minutes: `UNDERLIT_TEST_FAULTS=every cargo test --test command_line killed`.

use std::process::Command;

use crate::stages::{self, PROJECT};
use crate::three_people::ThreeClones;
use crate::workshop::{Desk, Place, Ran, copy_folder, words};

/// Which calls, and what becomes of them.
const FAULTS: [(&str, &str); 10] = [
    ("/^rename,link,linkat,/^unlink,mkdir", "signal=KILL"),
    ("fsync,fdatasync", "signal=KILL"),
    ("write,pwrite64,writev", "signal=KILL"),
    ("openat", "signal=KILL"),
    ("/^rename,link,linkat", "error=EIO"),
    ("fsync,fdatasync", "error=EIO"),
    ("write,pwrite64,writev", "error=EIO"),
    ("openat", "error=EIO"),
    ("write,pwrite64,mkdir,/^rename", "error=ENOSPC"),
    ("fsync,fdatasync", "error=ENOSPC"),
];

/// Which nth calls are tried: few for a look, every one by command. Opening is much of what any program does before
/// it begins, so every seventh does there.
fn nths(calls: &str) -> Vec<usize> {
    let every = std::env::var("UNDERLIT_TEST_FAULTS").is_ok_and(|all| all == "every");
    match (every, calls) {
        (true, "openat") => (1..2000).step_by(7).collect(),
        (true, _) => (1..2000).collect(),
        (false, "openat") => vec![90],
        (false, _) => vec![2, 11],
    }
}

fn let_down(desk: &Desk, line: &str, calls: &str, fault: &str, nth: usize) -> Ran {
    let plain = desk.command();
    let mut command = Command::new("strace");
    command
        .args(["-f", "-qq", "-o", "/dev/null", "-e", &format!("inject={calls}:{fault}:when={nth}")])
        .arg(plain.get_program())
        .args(words(line))
        .current_dir(&desk.at)
        .env_clear();
    for (key, value) in plain.get_envs() {
        command.env(key, value.unwrap_or_default());
    }
    Ran::of(line, command.output().unwrap())
}

/// A git whose own lock outlived it is fixed as `check --repair` offers, or by whoever keeps the hub.
fn again(desk: &Desk, hub: Option<&std::path::Path>, line: &str) -> Ran {
    for _ in 0..6 {
        let ran = desk.run(line);
        if ![6].contains(&ran.code) {
            return ran;
        }
        std::thread::sleep(std::time::Duration::from_millis(150));
        if let Some(hub) = hub {
            for lock in ["refs/heads/main.lock", "HEAD.lock", "packed-refs.lock"] {
                let _ = std::fs::remove_file(hub.join(lock));
            }
        }
        // Time goes by, and nobody holds the lock.
        let old = r"find .git -name '*.lock' -exec touch -d '1 hour ago' {} +";
        Command::new("sh").args(["-c", old]).current_dir(&desk.at).status().unwrap();
        desk.run("check --repair locks");
    }
    desk.run(line)
}

/// How far a command came, judged by what it was to do.
type Came = fn(&Desk) -> bool;

fn every_fault(clones: &ThreeClones, who: &Desk, line: &str, whole: Came, ended: &[i32]) {
    let (mut felt, mut went) = (0, 0);
    for (calls, fault) in FAULTS {
        for nth in nths(calls) {
            let place = Place::new();
            copy_folder(&who.at, &place.path("book"));
            copy_folder(&clones.place.path("hub.git"), &place.path("hub.git"));
            let desk = Desk::new(place.path("book"), who.person);
            desk.git(&format!("remote set-url origin {}", place.path("hub.git").display()));
            let what = format!("{line}: {fault} at {calls} number {nth}");
            let head = desk.git("rev-parse HEAD");
            let ran = let_down(&desk, line, calls, fault, nth);
            let done = ended.contains(&ran.code);
            felt += usize::from(!done);
            went += usize::from(done);
            // A git that lost its parent may still be at it for a moment.
            let still_at_it = if line == "sync" && !done { 250 } else { 0 };
            std::thread::sleep(std::time::Duration::from_millis(still_at_it));
            let checked = desk.run("check");
            assert_eq!(checked.code, 0, "{what}: {checked:?}\n{ran:?}");
            let fsck = desk.git_tries("fsck --strict --full --no-dangling --no-progress");
            assert!(fsck.status.success() && fsck.stdout.is_empty(), "{what}: {fsck:?}");
            // Before or after: each part of the command is a commit, so nothing of it lies about uncommitted.
            if line != "sync" {
                assert_eq!(desk.git("rev-parse HEAD") != head, whole(&desk), "{what}");
                let left = desk.git("status --porcelain=v1 --untracked-files=all");
                let left: Vec<&str> = left.lines().filter(|l| !l.contains("/.writing-")).collect();
                assert!(left.is_empty(), "{what}: {left:?}");
            }
            let ran = again(&desk, Some(&place.path("hub.git")), line);
            assert!(ended.contains(&ran.code), "{what}: {ran:?}");
            assert!(whole(&desk), "{what}");
            desk.sound_for_git();
            // A kill that nobody felt had no call left to strike; a disk's error may be one that does not matter.
            if done && (fault == "signal=KILL" || nth > 150) {
                break;
            }
        }
    }
    let told = format!("{line}: {felt} faults were felt, {went} not");
    assert!(felt > 5, "{told}");
    std::io::Write::write_all(&mut std::io::stderr(), format!("{told}\n").as_bytes()).unwrap();
}

#[test]
fn a_change_of_several_files() {
    let clones = ThreeClones::without_guard(stages::drawn());
    // A statement and its signature: two files that are nothing without each other.
    let line = "sign quay-desk rendering --panel front --yes";
    every_fault(
        &clones,
        &clones.imke,
        line,
        |desk| desk.names(&format!("{PROJECT}/signoffs"), ".sig").len() > 1,
        &[0],
    );
}

#[test]
fn a_sync_with_a_question() {
    let clones = ThreeClones::without_guard(stages::intake());
    let ThreeClones { mara, imke, .. } = &clones;
    mara.run(r#"panel change quay-desk front --title "Harbour side""#).done();
    mara.run("swatch change quay-desk alba --lot B-17").done();
    mara.run("sync").done();
    imke.run(r#"panel change quay-desk front --title "Street side""#).done();
    imke.edit(&format!("{PROJECT}/project.json"), "2027-03-15", "2027-04-19");
    let whole = |desk: &Desk| {
        let at_the_hub = desk.git("rev-parse origin/main") == desk.git("rev-parse HEAD");
        let text = |file: &str| desk.text(&format!("{PROJECT}/{file}"));
        at_the_hub
            && text("swatches/alba.json").contains("B-17")
            && text("project.json").contains("2027-04-19")
            && desk.names(&format!("{PROJECT}/conflicts"), ".json").len() == 1
    };
    // The second time there may be nothing left to do.
    every_fault(&clones, &clones.imke, "sync", whole, &[0, 4]);
}

#[test]
fn a_written_answer_with_its_scan() {
    let clones = ThreeClones::without_guard(stages::chosen());
    let scan = clones.place.file("letter.txt", "I take the warm one. Imke Voss");
    let line = format!("evidence quay-desk choice --panel front --of imke --how letter --yes --scan {scan}");
    let whole = |desk: &Desk| {
        let names = |ending: &str| !desk.names(&format!("{PROJECT}/signoffs"), ending).is_empty();
        names(".txt") && names(".json") && names(".sig")
    };
    every_fault(&clones, &clones.mara, &line, whole, &[0]);
}

#[test]
fn a_version_of_the_roster() {
    let clones = ThreeClones::without_guard(stages::intake());
    let key = crate::workshop::public_key("jonas");
    let line = format!("roster add jonas --name Jonas --role fabricator --public-key {key}");
    let whole =
        |desk: &Desk| desk.names("roster", ".json").len() == 4 && desk.names("roster", ".sig").len() == 4;
    // The second time the person is there.
    every_fault(&clones, &clones.mara, &line, whole, &[0, 2]);
}

#[test]
fn an_answer_to_a_question() {
    let clones = ThreeClones::without_guard(stages::intake());
    let ThreeClones { mara, imke, .. } = &clones;
    mara.run(r#"panel change quay-desk front --title "Harbour side""#).done();
    mara.run("sync").done();
    imke.run(r#"panel change quay-desk front --title "Street side""#).done();
    imke.run("sync").code(4);
    let whole = |desk: &Desk| desk.names(&format!("{PROJECT}/conflicts"), ".json").is_empty();
    every_fault(&clones, imke, "resolve quay-desk --all --take ours", whole, &[0, 2]);
}

#[test]
fn what_a_kill_left_half_written_is_nobodys() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let left = format!("{PROJECT}/panels/.writing-a1B2c3");
    book.write(&left, "{\"half");
    book.run("check").done().says(&["nothing wrong"]);
    book.run("status quay-desk").done();
    book.run("project change quay-desk --title x --dry-run").done();
    assert!(book.path(&left).exists(), "a dry run sweeps nothing");
    // One that somebody is still writing stays.
    let held = std::fs::File::create(book.path(&format!("{PROJECT}/.writing-held"))).unwrap();
    held.lock().unwrap();
    book.run(r#"project change quay-desk --title "The desk""#).done();
    assert!(!book.path(&left).exists());
    assert!(book.path(&format!("{PROJECT}/.writing-held")).exists());
    assert!(!book.git("log -1 --name-only --format=").contains(".writing-"));
    drop(held);
    book.run(r#"project change quay-desk --title "A desk""#).done();
    book.sound();
}
