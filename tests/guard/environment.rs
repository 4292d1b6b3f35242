//! The hook as hosts run it: hardly any environment, another user; and that it fails closed.

use std::fs;
use std::os::unix::fs::{MetadataExt as _, PermissionsExt as _};
use std::process::Command;

use crate::scene::{Scene, commit_all, fed};
use crate::stages::{self, PROJECT};
use crate::workshop::{Desk, program};

/// Pushes as a host would run git: no home, no search path but git's own, no settings, no clock; as another user
/// where this one may become one.
fn push_bare(desk: &Desk, another_user: bool) -> (bool, String) {
    let found = program("sh", "mara").args(["-c", "command -v git"]).output().unwrap().stdout;
    let git = String::from_utf8(found).unwrap().trim().to_owned();
    let mut command = if another_user {
        let mut command = Command::new("/usr/bin/setpriv");
        command.args([&format!("--reuid={NOBODY}"), &format!("--regid={NOBODY}"), "--clear-groups", &git]);
        command
    } else {
        Command::new(git)
    };
    let output = command
        .env_clear()
        .current_dir(&desk.at)
        .args(["push", "origin", "HEAD:refs/heads/main"])
        .output()
        .unwrap();
    (output.status.success(), String::from_utf8_lossy(&output.stderr).into_owned())
}

/// A user who owns nothing on this machine.
const NOBODY: u32 = 65534;

/// A bad push and a good one, without anything in the environment; clone and repository are handed to whoever pushes
/// before each push, and back after it.
#[track_caller]
fn refused_and_taken(mara: &Desk, user: Option<u32>, give: impl Fn(u32)) {
    mara.write(&format!("{PROJECT}/stray.exe"), "MZ");
    commit_all(mara, "stray");
    let push = || {
        user.iter().for_each(|user| give(*user));
        let pushed = push_bare(mara, user.is_some());
        user.iter().for_each(|_| give(0));
        pushed
    };
    let (taken, said) = push();
    assert!(!taken && said.contains("[not-of-a-book]"), "{said}");
    mara.git("reset --quiet --hard HEAD~1");
    mara.run_as("tom", "sign quay-desk release --yes").code(0);
    mara.run("advance quay-desk --to released").done();
    let (taken, said) = push();
    assert!(taken, "{said}");
}

#[test]
fn a_stripped_environment() {
    let scene = Scene::of(stages::signed());
    refused_and_taken(&scene.mara, None, |_| {});
}

#[test]
fn a_stripped_environment_and_another_user() {
    let scene = Scene::unguarded(stages::signed());
    let Scene { place, hub, mara, .. } = &scene;
    let installed = place.path("underlit");
    fs::copy(env!("CARGO_BIN_EXE_underlit"), &installed).unwrap();
    let line = format!("guard install {} --program {}", hub.display(), installed.display());
    place.run("mara", &line).code(0);
    fs::set_permissions(place.path(""), fs::Permissions::from_mode(0o755)).unwrap();
    let give = |user: u32| {
        let owner = format!("{user}:{user}");
        let given = Command::new("chown").args(["-R", &owner]).arg(hub).arg(&mara.at).output().unwrap();
        assert!(given.status.success(), "{}", String::from_utf8_lossy(&given.stderr));
    };
    // Who may not become another user stays who they are, with a program that lies elsewhere.
    let root = fs::metadata(hub).unwrap().uid() == 0;
    refused_and_taken(mara, root.then_some(NOBODY), give);
}

#[test]
fn without_the_program_nothing_is_taken() {
    let scene = Scene::unguarded(stages::roster());
    let Scene { place, hub, mara, .. } = &scene;
    let installed = place.path("underlit");
    std::os::unix::fs::symlink(env!("CARGO_BIN_EXE_underlit"), &installed).unwrap();
    place.run("mara", &format!("guard install {} --program {}", hub.display(), installed.display())).done();
    fs::remove_file(&installed).unwrap();
    let before = scene.tip();
    commit_all(mara, "anything");
    let pushed = mara.git_tries("push origin main");
    let said = String::from_utf8_lossy(&pushed.stderr);
    assert!(!pushed.status.success() && said.contains("is missing, so nothing is taken"), "{said}");
    // One that is no program of ours, one that crashes, one that is stopped.
    for (text, words) in [
        ("exit 1", "declined"),
        ("exit 70", "declined"),
        ("kill -9 $$", "was stopped, so nothing is taken"),
        ("exit 0", "did not say that this push may be taken, so nothing is"),
        ("echo taken", "did not say that this push may be taken, so nothing is"),
    ] {
        fs::write(&installed, format!("#!/bin/sh\n{text}\n")).unwrap();
        fs::set_permissions(&installed, fs::Permissions::from_mode(0o755)).unwrap();
        let pushed = mara.git_tries("push origin main");
        let said = String::from_utf8_lossy(&pushed.stderr);
        assert!(!pushed.status.success() && said.contains(words), "{text}: {said}");
    }
    assert_eq!(scene.tip(), before);
}

#[test]
fn what_cannot_be_read_is_refused() {
    let scene = Scene::of(stages::roster());
    let Scene { hub, mara, .. } = &scene;
    let run = |input: &str| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_underlit"));
        command.env_clear().env("GIT_DIR", hub).args(["guard", "check"]).current_dir(hub);
        let output = fed(&mut command, input.as_bytes());
        (output.status.code().unwrap(), String::from_utf8_lossy(&output.stderr).into_owned())
    };
    let tip = scene.tip().trim().to_owned();
    let zero = "0".repeat(40);
    let (nobody, stranger) = ("1".repeat(40), "2".repeat(40));
    for (input, code, words) in [
        (String::new(), 2, "[nothing-received]"),
        ("three words only\n".to_owned(), 2, "[push-line]"),
        (format!("{tip} {nobody} refs/heads/main\n"), 5, "[history-rewritten]"),
        (format!("{tip} {zero} refs/heads/main\n"), 5, "[branch-removed]"),
        (format!("{zero} {stranger} refs/heads/main\n"), 6, "[git-no-such-commit]"),
        ("x".repeat(2 << 20), 6, "[push-unread]"),
    ] {
        let (ended, said) = run(&input);
        assert_eq!(ended, code, "{}: {said}", &input[..input.len().min(100)]);
        assert!(said.contains(words), "{words}: {said}");
    }
    assert_eq!(run(&format!("{tip} {tip} refs/heads/main\n")).0, 0);
    // Outside any hook.
    let nowhere = scene.place.path("nowhere");
    fs::create_dir_all(&nowhere).unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_underlit"));
    let output = fed(command.env_clear().args(["guard", "check"]).current_dir(&nowhere), b"");
    assert_eq!(output.status.code(), Some(6));
    // A repository whose own book is broken judges nothing.
    commit_all(mara, "anything");
    let objects: Vec<_> = walk(&hub.join("objects"));
    for object in objects {
        fs::remove_file(object).unwrap();
    }
    let pushed = mara.git_tries("push origin main");
    assert!(!pushed.status.success());
}

fn walk(folder: &std::path::Path) -> Vec<std::path::PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).unwrap().flatten() {
        if entry.file_type().unwrap().is_dir() {
            found.extend(walk(&entry.path()));
        } else {
            found.push(entry.path());
        }
    }
    found
}
