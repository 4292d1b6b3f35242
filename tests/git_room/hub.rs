//! The shared repository from inside its own hook, with real pushes, and the unsafe files that fsck lets pass.

use std::io::Read;

use underlit::git::{Bounds, Hub, Setup, Uninspected, unsafe_files};

use crate::book::{Stage, commit, write};
use crate::clones::pair;

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
            let inspector = hub.inspector(Bounds::default());
            let old: Vec<_> = push.old.into_iter().collect();
            let brought = push.new.map(|new| inspector.between(&old, new).unwrap()).unwrap_or_default();
            let inspected: Vec<_> = brought.iter().map(|id| inspector.inspect(*id).unwrap()).collect();
            let paths: Vec<String> =
                inspected.iter().flat_map(|c| c.brings().map(|p| p.path.clone())).collect();
            let bad: usize = inspected.iter().map(|c| c.unsafe_paths.len()).sum();
            format!("{} {:?} {} {} {}", push.name, push.movement, brought.len(), paths.join(","), bad)
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
    let setup = Setup {
        script,
        mark: "# a mark that no other hook has".into(),
        branch: Some("main".into()),
        settings: vec![("receive.fsckObjects".into(), "true".into())],
        defaults: vec![("receive.maxInputSize".into(), "1000000".into())],
    };
    let deeds = hub.deeds(&setup).unwrap();
    assert_eq!(deeds.len(), 3, "the hook and two settings; HEAD names the branch already: {deeds:?}");
    hub.set_up(&setup, &deeds).unwrap();
    assert_eq!(hub.deeds(&setup).unwrap(), [], "nothing is left to do");
    let other = Setup { script: "#!/bin/sh\n".into(), ..setup };
    assert!(hub.deeds(&other).is_err(), "another hook is not overwritten");
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
    // A new name has a whole history behind it.
    assert!(!ok && told().starts_with("refs/heads/side Begun 2 "), "{}", told());
    write(&rep.at, "projects/Quay/twin.txt", "x\n");
    assert!(rep.try_sync().is_err());
    assert_eq!(told(), "refs/heads/main Advanced 1 projects/Quay/twin.txt 1");
    assert_eq!(stage.git(&at, &["rev-parse", "main"]), tip);
    stage.sound(&at);
}

#[test]
fn unsafe_files_that_fsck_lets_pass_are_named() {
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
    let found = unsafe_files(&files);
    let named: Vec<&str> = found.iter().map(|one| one.path.as_str()).collect();
    // Of two twins the second is named.
    let mut expected: Vec<&str> =
        bad.into_iter().filter(|p| *p != "A.json" && *p != "cafe\u{301}.json").collect();
    expected.sort_unstable();
    assert_eq!(named, expected, "{found:?}");
    // Read commit by commit, the same are named.
    let commit = made.trim().parse().unwrap();
    let inspected = rep.repo.inspector(Bounds::default()).inspect(commit).unwrap();
    let mut named: Vec<&str> = inspected.unsafe_paths.iter().map(|one| one.path.as_str()).collect();
    named.sort_unstable();
    assert_eq!(named, expected, "{:?}", inspected.unsafe_paths);
    assert_eq!(inspected.brings().count(), 13);
    let few = rep.repo.inspector(Bounds { commits: 1, files: 12 });
    assert!(matches!(few.inspect(commit), Err(Uninspected::TooMuch(_))));
    assert!(matches!(few.between(&[], commit), Err(Uninspected::TooMuch(_))));
    let good = rep.repo.head_snapshot().unwrap().files("").unwrap();
    assert_eq!(unsafe_files(&good), vec![]);
}
