//! The shared repository from inside its own hook, with real pushes, and the tree tricks that fsck lets pass.

use std::io::Read;

use underlit::git::{Hub, tricks};

use crate::book::{Stage, commit, write};
use crate::crew::pair;

/// What git runs as the hook: it tells what it sees, and refuses what is not a plain step forward on the branch.
#[test]
#[ignore = "run by git in the test below"]
fn hook() {
    if std::env::var("GIT_DIR").is_err() {
        return;
    }
    let mut lines = String::new();
    std::io::stdin().read_to_string(&mut lines).unwrap();
    let hub = Hub::of_hook().unwrap();
    let told: Vec<String> = hub
        .received(&lines)
        .unwrap()
        .iter()
        .map(|push| {
            let brought = hub.brought(push).unwrap();
            let paths: Vec<String> =
                brought.iter().flat_map(|c| c.changes.iter().map(|p| p.path.clone())).collect();
            let bad = push.new.map(|new| tricks(&hub.snapshot(Some(new)).unwrap().files("").unwrap()).len());
            format!(
                "{} {:?} {} {} {}",
                push.name,
                push.movement,
                brought.len(),
                paths.join(","),
                bad.unwrap_or(0)
            )
        })
        .collect();
    std::fs::write("told", told.join("\n")).unwrap();
    assert!(told.iter().all(|line| line.contains("Advanced") && line.ends_with(" 0")), "no");
}

#[test]
fn a_hook_sees_the_push_before_it_is_done() {
    let stage = Stage::new();
    let (at, mut rep, _) = pair(&stage);
    let me = std::env::current_exe().unwrap();
    let script = format!("#!/bin/sh\nexec '{}' --exact hub::hook --ignored >&2\n", me.display());
    let hub = Hub::open(&at).unwrap();
    assert_eq!(hub.branch().unwrap(), "main");
    hub.install(&script).unwrap();
    hub.install(&script).unwrap();
    assert!(hub.install("#!/bin/sh\n").is_err(), "another hook is not overwritten");
    for key in ["receive.denyDeletes", "receive.denyNonFastForwards"] {
        stage.git(&at, &["config", key, "false"]); // here the hook itself has to see them
    }
    let told = || std::fs::read_to_string(at.join("told")).unwrap();
    write(&rep.at, "projects/quay/note.txt", "one\n");
    commit(&rep.repo, &["projects/quay/note.txt"], "Rep", 1_800_000_900);
    write(&rep.at, "projects/quay/note.txt", "two\n");
    assert!(rep.sync().pushed);
    assert_eq!(told(), "refs/heads/main Advanced 2 projects/quay/note.txt,projects/quay/note.txt 0");
    let tip = stage.git(&at, &["rev-parse", "main"]);
    let (ok, _) = stage.try_git(&rep.at, &["push", "-q", "origin", ":main"]);
    assert!(!ok && told().starts_with("refs/heads/main Removed 0"));
    let (ok, _) = stage.try_git(&rep.at, &["push", "-q", "--force", "origin", "HEAD~1:main"]);
    assert!(!ok && told().starts_with("refs/heads/main Rewritten 0"), "{}", told());
    let (ok, _) = stage.try_git(&rep.at, &["push", "-q", "origin", "HEAD~1:refs/heads/side"]);
    assert!(!ok && told().starts_with("refs/heads/side Begun 0"), "{}", told());
    write(&rep.at, "projects/Quay/twin.txt", "x\n");
    assert!(rep.try_sync().is_err());
    // Three files lie below the folder that a second `Quay` is taken for.
    assert_eq!(told(), "refs/heads/main Advanced 1 projects/Quay/twin.txt 3");
    assert_eq!(stage.git(&at, &["rev-parse", "main"]), tip);
    stage.sound(&at);
}

#[test]
fn tricks_that_fsck_lets_pass_are_named() {
    let stage = Stage::new();
    let (_, rep, _) = pair(&stage);
    let blob = stage.git(&rep.at, &["rev-parse", "HEAD:projects/quay/project.json"]);
    let blob = blob.trim();
    let head = stage.git(&rep.at, &["rev-parse", "HEAD"]);
    let mut bad = Vec::new();
    for (mode, path) in [
        ("100644", "A.json"),
        ("100644", "a.json"),
        ("100644", "caf\u{e9}.json"),
        ("100644", "cafe\u{301}.json"),
        ("100644", "con.json"),
        ("100644", "com1"),
        ("100644", "trailing."),
        ("100644", "trailing "),
        ("100644", "co\u{200b}n"),
        ("100644", "a:b"),
        ("120000", "link"),
        ("100755", "program"),
        ("160000", "module"),
    ] {
        let id = if mode == "160000" { head.trim() } else { blob };
        stage.git(&rep.at, &["update-index", "--add", "--cacheinfo", &format!("{mode},{id},{path}")]);
        bad.push(path);
    }
    let tree = stage.git(&rep.at, &["write-tree"]);
    let made = stage.git(&rep.at, &["commit-tree", "-p", "HEAD", "-m", "tricks", tree.trim()]);
    stage.sound(&rep.at);
    let files = rep.repo.snapshot(made.trim().parse().unwrap()).unwrap().files("").unwrap();
    let found = tricks(&files);
    let named: Vec<&str> = found.iter().map(|trick| trick.path.as_str()).collect();
    // Of two twins the second is named.
    let mut expected: Vec<&str> =
        bad.into_iter().filter(|p| *p != "A.json" && *p != "cafe\u{301}.json").collect();
    expected.sort_unstable();
    assert_eq!(named, expected, "{found:?}");
    let good = rep.repo.head_snapshot().unwrap().files("").unwrap();
    assert_eq!(tricks(&good), vec![]);
}
