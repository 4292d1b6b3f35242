//! A sync that is killed, or whose disk fails, at any call into the system: afterwards the book is before or after,
//! git finds nothing wrong, and running it again completes it.
//!
//! The faults come from `strace -e inject`, so nothing in the product knows of them. These tests need strace and
//! take minutes: `cargo test --test git_room crash -- --ignored --test-threads 1`.

use std::path::Path;
use std::process::{Command, Output};

use serde_json::{Value, json};
use underlit::git::Repo;

use crate::book::{Stage, read, write};
use crate::clones::{Hand, pair};

const BAR: &str = "projects/quay/panels/bar.json";
const HERE: &str = "UNDERLIT_TEST_CRASH_STAGE";

/// The run that is to be killed: a sync that takes in hand edits, merges with a question, places and pushes.
#[test]
#[ignore = "run by the tests below in a process of its own"]
fn child() {
    let Ok(at) = std::env::var(HERE) else { return };
    let stage = Stage::at(Path::new(&at));
    let repo = Repo::open(&stage.path("Designer")).unwrap();
    let mut hand = Hand::over(&stage, "Designer", repo, 1_800_500_000);
    hand.sync();
}

fn run(stage: &Path, strace: &[&str]) -> Output {
    let me = std::env::current_exe().unwrap();
    let args = ["--exact", "crash::child", "--ignored", "--test-threads", "1"];
    let mut command = if strace.is_empty() {
        Command::new(&me)
    } else {
        let mut command = Command::new("strace");
        command.args(["-f", "-qq", "-o", "/dev/null"]).args(strace).arg(&me);
        command
    };
    command.args(args).env(HERE, stage).output().unwrap()
}

fn prepared(stage: &Stage) {
    let (_, mut rep, designer) = pair(stage);
    let set = |hand: &Hand, key: &str, value: Value| {
        let mut record: Value = serde_json::from_str(&read(&hand.at, BAR)).unwrap();
        record[key] = value;
        write(&hand.at, BAR, &format!("{record:#}\n"));
    };
    set(&rep, "cct_k", json!(3000));
    set(&rep, "depth_mm", json!(8));
    write(&rep.at, "projects/quay/new.txt", "from rep\n");
    std::fs::remove_file(rep.at.join("projects/quay/project.json")).unwrap();
    write(&rep.at, "projects/quay/project.json", "{\n  \"client\": \"Harbour Desk and Son\"\n}\n");
    rep.sync();
    set(&designer, "cct_k", json!(4000));
    set(&designer, "volts", json!(12));
    write(&designer.at, "projects/quay/mine.txt", "from designer\n");
}

fn copy(from: &Path, to: &Path) {
    assert!(Command::new("cp").arg("-a").arg(from).arg(to).status().unwrap().success());
    // The clones know their remote by its path.
    for name in ["Rep", "Designer"] {
        let config = to.join(name).join(".git/config");
        let text = std::fs::read_to_string(&config).unwrap();
        std::fs::write(&config, text.replace(from.to_str().unwrap(), to.to_str().unwrap())).unwrap();
    }
}

fn complete(stage: &Stage, what: &str) {
    let at = stage.path("Designer");
    let hub = stage.path("hub.git");
    assert_eq!(stage.git(&at, &["fsck", "--strict", "--no-dangling", "--no-progress"]).trim(), "", "{what}");
    stage.sound(&hub);
    let mut again = run(&stage.path(""), &[]);
    for _ in 0..20 {
        if again.status.success() {
            break;
        }
        // A git that the kill left running may still hold a lock.
        std::thread::sleep(std::time::Duration::from_millis(100));
        again = run(&stage.path(""), &[]);
    }
    assert!(again.status.success(), "{what}: {}", String::from_utf8_lossy(&again.stdout));
    stage.clean(&at);
    let bar: Value = serde_json::from_str(&read(&at, BAR)).unwrap();
    assert_eq!(
        (&bar["cct_k"], &bar["volts"], &bar["depth_mm"]),
        (&json!(2700), &json!(12), &json!(8)),
        "{what}"
    );
    assert_eq!(read(&at, "projects/quay/new.txt"), "from rep\n", "{what}");
    assert_eq!(read(&at, "projects/quay/mine.txt"), "from designer\n", "{what}");
    assert!(read(&at, "projects/quay/project.json").contains("and Son"), "{what}");
    assert_eq!(std::fs::read_dir(at.join("projects/quay/conflicts")).unwrap().count(), 1, "{what}");
    let heads = [stage.git(&at, &["rev-parse", "HEAD"]), stage.git(&hub, &["rev-parse", "main"])];
    assert_eq!(heads[0], heads[1], "{what}");
    // One commit for the hand edits, one for the merge: no run was counted twice.
    assert_eq!(stage.git(&at, &["rev-list", "--count", "HEAD"]).trim(), "4", "{what}");
    for left in ["moving.json", "incoming", "index.new", "../index.lock"] {
        assert!(!at.join(".git/underlit").join(left).exists(), "{what}: {left}");
    }
}

fn every(calls: &str, fault: &str, step: usize) {
    let first = Stage::new();
    prepared(&first);
    let mut nth = 1;
    let mut hit = 0;
    loop {
        let stage = Stage::new();
        std::fs::remove_dir_all(stage.path("")).unwrap();
        copy(&first.path(""), &stage.path(""));
        let what = format!("{fault} at {calls} number {nth}");
        let ended = run(&stage.path(""), &["-e", &format!("inject={calls}:{fault}:when={nth}")]);
        let done = ended.status.success();
        complete(&stage, &what);
        if done && fault.starts_with("signal") {
            break;
        }
        hit += usize::from(!done);
        nth += step;
        if nth > 3000 || (done && nth > 600) {
            break;
        }
    }
    assert!(hit > 0, "no fault of {calls} was ever felt");
    let told = format!("{fault} at {calls}: felt at {hit} of {nth} points\n");
    std::io::Write::write_all(&mut std::io::stderr(), told.as_bytes()).unwrap();
}

#[test]
#[ignore = "needs strace and minutes"]
fn killed_at_each_rename_and_unlink() {
    every("rename,renameat,renameat2,unlink,unlinkat,mkdir,link,linkat", "signal=KILL", 1);
}

#[test]
#[ignore = "needs strace and minutes"]
fn killed_at_each_flush() {
    every("fsync,fdatasync", "signal=KILL", 1);
}

#[test]
#[ignore = "needs strace and minutes"]
fn killed_at_each_write() {
    every("write,pwrite64,writev", "signal=KILL", 1);
}

#[test]
#[ignore = "needs strace and minutes"]
fn a_full_disk_at_each_write() {
    every("write,pwrite64,fsync,rename,mkdir", "error=ENOSPC", 1);
}

#[test]
#[ignore = "needs strace and minutes"]
fn a_failing_disk_at_each_open() {
    every("openat", "error=EIO", 11);
}
