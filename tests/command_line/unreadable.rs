//! What cannot be read is never taken for what is not there. Every read of a verb fails once, and the verb either gives
//! the answer that it would have given, or says which file and ends with exit code 6.

use std::fs;
use std::os::unix::fs::{PermissionsExt as _, symlink};
use std::process::Command;

use crate::stages::{self, PROJECT};
use crate::workshop::{Desk, Place, Ran, copy_folder, home, words};

const READS: [&str; 9] = [
    "board",
    "board --released",
    "board --json",
    "status quay-desk",
    "history quay-desk",
    "check",
    "verify",
    "dates quay-desk",
    "changes quay-desk",
];

/// Runs a command line of which the nth of these calls fails.
fn with_fault(desk: &Desk, line: &str, calls: &str, error: &str, nth: usize) -> Ran {
    let mut command = Command::new("strace");
    command
        .args(["-f", "-qq", "-o", "/dev/null", "-e", &format!("inject={calls}:error={error}:when={nth}")])
        .arg(env!("CARGO_BIN_EXE_underlit"))
        .args(words(line))
        .current_dir(&desk.at)
        .env_clear();
    for (key, value) in desk.command().get_envs() {
        command.env(key, value.unwrap_or_default());
    }
    Ran::of(line, command.output().expect("strace runs"))
}

#[test]
fn one_read_that_fails_never_changes_an_answer_in_silence() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    book.run("verify").code(0);
    let mut refused = 0;
    for line in READS {
        let plain = book.run(line);
        for (calls, error, nths) in [
            ("getdents64", "EIO", (1..40).collect::<Vec<_>>()),
            ("openat", "EACCES", (20..160).step_by(7).collect()),
            ("openat2", "EIO", (1..60).step_by(6).collect()),
            ("statx", "EIO", (8..160).step_by(9).collect()),
        ] {
            for nth in nths {
                let ran = with_fault(&book, line, calls, error, nth);
                let what = format!("{line}: {error} at {calls} number {nth}: {ran:?}");
                if ran.code == plain.code && ran.stdout == plain.stdout {
                    continue;
                }
                assert_ne!(ran.code, 0, "{what}");
                assert!(!ran.stderr.contains("panicked"), "{what}");
                refused += 1;
                // A program that the system does not even load says nothing of ours.
                if ran.code == 6 && !line.contains("--json") {
                    assert!(ran.stderr.contains("Fix: "), "{what}");
                }
            }
        }
    }
    assert!(refused > 40, "{refused}");
    book.sound();
}

#[test]
fn no_verb_takes_a_folder_that_cannot_be_listed_for_an_empty_one() {
    let place = Place::new();
    let good = place.copy(stages::released(), "mara");
    let folders = [
        "projects",
        PROJECT,
        &format!("{PROJECT}/signoffs"),
        &format!("{PROJECT}/moves"),
        "roster",
        "conflicts",
    ];
    type Spoil = fn(&std::path::Path);
    let spoils: [(&str, Spoil); 3] = [
        ("a file", |at| fs::write(at, "no folder").unwrap()),
        ("a link to itself", |at| symlink(at, at).unwrap()),
        ("a link to an empty folder", |at| {
            let empty = at.parent().unwrap().parent().unwrap().join(".git/empty");
            let _ = fs::create_dir(&empty);
            symlink("/var/empty-that-is-not-there", at).unwrap();
        }),
    ];
    for folder in folders {
        for (what, spoil) in &spoils {
            let book = place.path("spoilt");
            let _ = fs::remove_dir_all(&book);
            copy_folder(&good.at, &book);
            let book = Desk::new(book, "mara");
            let _ = fs::remove_dir_all(book.path(folder));
            spoil(&book.path(folder));
            for line in [
                "board",
                "board --released",
                "board --released --json",
                "status quay-desk",
                "sync --offline",
                "verify",
            ] {
                let ran = book.run(line);
                // The folder's own name, or that of a file that is looked for in it.
                let told = format!("{}{}", ran.stdout, ran.stderr);
                assert!(ran.code >= 2, "{folder} is {what}: {line}: {ran:?}");
                assert!(!told.contains("no project is open"), "{folder} is {what}: {line}: {ran:?}");
                assert!(!told.contains("nothing is released"), "{folder} is {what}: {line}: {ran:?}");
                assert!(
                    told.contains(folder) || told.contains("unknown-project"),
                    "{folder} is {what}: {line}: {ran:?}"
                );
            }
            assert_eq!(book.commits(), good.commits(), "{folder} is {what}");
        }
    }
}

#[test]
fn without_the_right_to_read() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    let at_home = place.path("home");
    copy_folder(&home("mara"), &at_home);
    let binary = place.path("underlit");
    fs::copy(env!("CARGO_BIN_EXE_underlit"), &binary).unwrap();
    fs::set_permissions(place.path(""), fs::Permissions::from_mode(0o755)).unwrap();
    let owned =
        Command::new("chown").args(["-R", "65534:65534"]).args([&book.at, &at_home]).status().unwrap();
    if !owned.success() {
        return; // who is not root tests as somebody whose rights count, below the other tests
    }
    let run = |line: &str| {
        let mut command = Command::new("setpriv");
        command
            .args(["--reuid=65534", "--regid=65534", "--clear-groups", "--"])
            .arg(&binary)
            .args(words(line))
            .env_clear()
            .env("PATH", std::env::var_os("PATH").unwrap())
            .env("HOME", &at_home)
            .env("GIT_CONFIG_GLOBAL", "/dev/null")
            .env("GIT_CONFIG_NOSYSTEM", "1")
            .env("UNDERLIT_CLOCK", "2026-09-01T08:00:00Z")
            .current_dir(&book.at);
        Ran::of(line, command.output().expect("setpriv runs"))
    };
    for line in READS {
        run(line).code(0);
    }
    let commits = fs::read_to_string(book.path(".git/logs/HEAD")).unwrap();
    let signature = book.names(&format!("{PROJECT}/signoffs"), ".sig")[0].clone();
    for path in [
        "projects".to_owned(),
        PROJECT.to_owned(),
        format!("{PROJECT}/signoffs"),
        format!("{PROJECT}/moves"),
        format!("{PROJECT}/panels/front.json"),
        format!("{PROJECT}/project.json"),
        format!("{PROJECT}/signoffs/{signature}"),
        "roster".into(),
        "rules.json".into(),
    ] {
        let full = book.path(&path);
        let mode = fs::metadata(&full).unwrap().permissions();
        fs::set_permissions(&full, fs::Permissions::from_mode(0o0)).unwrap();
        for line in READS.into_iter().chain(["sync --offline", "advance quay-desk", "check --repair"]) {
            let ran = run(line);
            if line.starts_with("history") && ran.code == 0 {
                continue; // which is told from the commits alone
            }
            assert_eq!(ran.code, 6, "{path}: {line}: {ran:?}");
            let told = format!("{}{}", ran.stdout, ran.stderr);
            assert!(told.contains(path.rsplit('/').next().unwrap()), "{path}: {line}: {ran:?}");
            assert!(told.contains("Permission denied"), "{path}: {line}: {ran:?}");
        }
        fs::set_permissions(&full, mode).unwrap();
    }
    assert_eq!(fs::read_to_string(book.path(".git/logs/HEAD")).unwrap(), commits, "nothing was committed");
    for line in READS {
        run(line).code(0);
    }
}

#[test]
fn a_name_that_is_no_text_and_a_pipe_in_place_of_a_file() {
    use std::os::unix::ffi::OsStrExt as _;
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    let odd = book.path(&format!("{PROJECT}/signoffs")).join(std::ffi::OsStr::from_bytes(b"odd-\xff.json"));
    fs::write(&odd, "{}").unwrap();
    for line in ["status quay-desk", "check", "sync --offline", "verify"] {
        let ran = book.run(line);
        assert!([3, 6].contains(&ran.code), "{line}: {ran:?}");
        assert!(format!("{}{}", ran.stdout, ran.stderr).contains("odd-"), "{line}: {ran:?}");
    }
    fs::remove_file(odd).unwrap();
    // Nobody waits at a pipe for somebody to write into it.
    let pipe = format!("{PROJECT}/panels/front.json");
    fs::remove_file(book.path(&pipe)).unwrap();
    assert!(Command::new("mkfifo").arg(book.path(&pipe)).status().unwrap().success());
    for line in ["board", "status quay-desk", "check", "sync --offline", "advance quay-desk"] {
        let mut command = Command::new("timeout");
        command
            .arg("20")
            .arg(env!("CARGO_BIN_EXE_underlit"))
            .args(words(line))
            .current_dir(&book.at)
            .env_clear();
        for (key, value) in book.command().get_envs() {
            command.env(key, value.unwrap_or_default());
        }
        let ran = Ran::of(line, command.output().unwrap());
        assert!(format!("{}{}", ran.stdout, ran.stderr).contains("front.json"), "{line}: {ran:?}");
        assert!(ran.code < 70, "{line}: {ran:?}");
    }
}
