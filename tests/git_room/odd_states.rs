//! The states a clone or a remote can be in, each handled or named with a remedy.

use underlit::git::{GitError, Pushed, Repo};

use crate::book::{Stage, commit, read, write};
use crate::clones::{Hand, pair, user_git};
use crate::dice::given;

fn note(hand: &Hand, text: &str) {
    write(&hand.at, "projects/quay/note.txt", text);
}

#[test]
fn both_empty_and_then_either() {
    let stage = Stage::new();
    let hub = stage.bare("hub.git");
    let mut early = Hand::clone(&stage, &hub, "Early", 1_800_000_000);
    let nothing = early.sync();
    assert!(nothing.before.is_none() && nothing.after.is_none() && !nothing.pushed);
    let mut first = Hand::clone(&stage, &hub, "First", 1_800_000_100);
    note(&first, "first\n");
    assert!(first.sync().pushed);
    // An unborn branch takes what is there, and never over a file of its own.
    note(&early, "mine\n");
    write(&early.at, "projects/quay/mine.txt", "mine\n");
    assert_eq!(early.git_error(), GitError::EditedMeanwhile { paths: vec!["projects/quay/note.txt".into()] });
    assert_eq!(
        (early.repo.head().unwrap(), read(&early.at, "projects/quay/note.txt").as_str()),
        (None, "mine\n")
    );
    note(&early, "first\n");
    let met = early.sync();
    assert!(met.pushed && met.hand_edits.len() == 1 && met.commits.len() == 1);
    stage.clean(&early.at);
    let mut late = Hand::over(&stage, "Late", Repo::create(&stage.path("Late")).unwrap(), 1_800_000_200);
    stage.git(&late.at, &["remote", "add", "origin", hub.to_str().unwrap()]);
    std::fs::remove_file(late.at.join(".gitattributes")).unwrap();
    let came = late.sync();
    assert_eq!((came.commits.len(), read(&late.at, "projects/quay/note.txt").as_str()), (2, "first\n"));
    stage.clean(&late.at);
}

#[test]
fn an_ignored_file_is_not_overwritten() {
    let stage = Stage::new();
    let (_, mut rep, mut designer) = pair(&stage);
    write(&designer.at, ".git/info/exclude", "note.txt\n");
    note(&designer, "private\n");
    note(&rep, "shared\n");
    rep.sync();
    let said = designer.git_error();
    assert_eq!(said, GitError::EditedMeanwhile { paths: vec!["projects/quay/note.txt".into()] });
    assert_eq!(read(&designer.at, "projects/quay/note.txt"), "private\n");
    // The same bytes are no harm.
    note(&designer, "shared\n");
    designer.sync();
    stage.clean(&designer.at);
}

#[test]
fn remotes_that_are_not_there() {
    let stage = Stage::new();
    let mut hand = Hand::over(&stage, "Rep", Repo::create(&stage.path("Rep")).unwrap(), 1_800_000_000);
    note(&hand, "x\n");
    assert_eq!(hand.git_error(), GitError::NoRemote { name: None });
    hand.options.offline = true;
    assert_eq!(hand.sync().hand_edits.len(), 2);
    hand.options.offline = false;
    hand.options.remote = Some("host".into());
    assert_eq!(hand.git_error(), GitError::NoRemote { name: Some("host".into()) });
    hand.options.remote = None;
    stage.git(&hand.at, &["remote", "add", "one", "/nowhere/hub.git"]);
    let said = hand.git_error();
    assert!(
        matches!(&said, GitError::RemoteGone { remote, words } if remote == "one" && words.contains("/nowhere/hub.git")),
        "{said:?}"
    );
    assert!(said.remedy().contains("git remote set-url one"));
    stage.git(&hand.at, &["remote", "set-url", "one", "https://127.0.0.1:1/hub.git"]);
    assert!(matches!(hand.git_error(), GitError::Network { .. }));
    stage.git(&hand.at, &["remote", "add", "two", "--", "-oProxyCommand=touch /tmp/owned"]);
    assert!(matches!(hand.git_error(), GitError::WhichRemote { .. }));
    hand.options.remote = Some("two".into());
    assert!(hand.try_sync().is_err());
    assert!(!std::path::Path::new("/tmp/owned").exists());
    stage.clean(&hand.at);
}

#[test]
fn a_hook_that_says_no_is_heard() {
    let stage = Stage::new();
    let (hub, mut rep, mut designer) = pair(&stage);
    let hook = hub.join("hooks/pre-receive");
    std::fs::write(
        &hook,
        "#!/bin/sh\necho 'no release without sign-off' >&2\necho 'ask the engineer'\nexit 1\n",
    )
    .unwrap();
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        std::fs::set_permissions(&hook, std::fs::Permissions::from_mode(0o755)).unwrap();
    }
    note(&rep, "x\n");
    let words = vec!["no release without sign-off".to_owned(), "ask the engineer".to_owned()];
    assert_eq!(rep.git_error(), GitError::HookRefused { remote: "origin".into(), words });
    assert!(designer.sync().commits.is_empty());
    std::fs::remove_file(&hook).unwrap();
    assert!(rep.sync().pushed);
    // A remote with files checked out refuses for a reason of its own.
    stage.git(&hub, &["config", "receive.denyDeletes", "true"]);
    stage.git(&hub, &["config", "core.bare", "false"]);
    stage.git(&hub, &["config", "core.worktree", stage.path("home").to_str().unwrap()]);
    note(&rep, "y\n");
    assert!(
        matches!(rep.git_error(), GitError::PushRefused { reason, .. } if reason.contains("checked out"))
    );
}

#[test]
fn a_renamed_branch_an_unrelated_book_and_a_shallow_clone() {
    let stage = Stage::new();
    let (hub, mut rep, _) = pair(&stage);
    // Renamed on the host.
    stage.git(&hub, &["branch", "-m", "main", "book"]);
    note(&rep, "x\n");
    let said = rep.git_error();
    assert_eq!(
        said,
        GitError::RemoteBranchMissing {
            remote: "origin".into(),
            branch: "main".into(),
            there: vec!["book".into()]
        }
    );
    assert_eq!(rep.git_error(), said, "and again, when nothing is remembered of it");
    assert!(said.remedy().contains("--set-upstream-to origin/book"));
    stage.git(&rep.at, &["branch", "--set-upstream-to", "origin/book"]);
    assert!(rep.sync().pushed);
    assert_eq!(stage.git(&hub, &["rev-parse", "book"]), stage.git(&rep.at, &["rev-parse", "main"]));
    stage.git(&hub, &["branch", "-m", "book", "main"]);
    stage.git(&rep.at, &["branch", "--unset-upstream"]);
    rep.sync();

    // Another book behind the address.
    let mut other = Hand::over(&stage, "Other", Repo::create(&stage.path("Other")).unwrap(), 1_800_000_000);
    stage.git(&other.at, &["remote", "add", "origin", hub.to_str().unwrap()]);
    note(&other, "other\n");
    commit(&other.repo, &["projects"], "Other", 1_800_000_001);
    assert!(matches!(other.git_error(), GitError::Unrelated { .. }));

    // Shallow, of one branch only.
    let shallow = stage.path("Shallow");
    let address = format!("file://{}", hub.display());
    stage.git(
        &stage.path("home"),
        &["clone", "-q", "--depth", "1", "--single-branch", &address, shallow.to_str().unwrap()],
    );
    let mut shallow = Hand::over(&stage, "Shallow", Repo::open(&shallow).unwrap(), 1_800_400_000);
    assert!(shallow.repo.is_shallow());
    assert!(shallow.repo.log("").unwrap().all(|entry| entry.is_ok()));
    note(&rep, "two\n");
    rep.sync();
    write(&shallow.at, "projects/quay/other.txt", "z\n");
    let met = shallow.sync();
    assert!(met.merged && met.pushed);
    stage.clean(&shallow.at);
}

#[test]
fn half_done_detached_and_in_use() {
    let stage = Stage::new();
    let (_, mut rep, mut designer) = pair(&stage);
    let bar = "projects/quay/panels/bar.json";
    write(&rep.at, bar, "{\"a\": 1}\n");
    rep.sync();
    write(&designer.at, bar, "{\"a\": 2}\n");
    commit(&designer.repo, &[bar], "Designer", 1_800_100_100);
    let (_, said) = stage.try_git(&designer.at, &["pull", "--no-rebase", "-q"]);
    assert!(said.contains("CONFLICT"), "{said}");
    let error = designer.git_error();
    assert_eq!(error, GitError::Busy { operation: "merge" });
    stage.git(&designer.at, &["merge", "--abort"]);
    assert_eq!(designer.sync().opened.len(), 1);
    stage.git(&rep.at, &["checkout", "-q", "--detach"]);
    assert_eq!(rep.git_error(), GitError::DetachedHead);
    stage.git(&rep.at, &["checkout", "-q", "main"]);
    let held = rep.repo.lock().unwrap();
    let second = Repo::open(&rep.at).unwrap();
    assert!(matches!(second.lock(), Err(GitError::InUse { .. })));
    drop(held);
    assert!(second.lock().is_ok());
}

#[test]
fn a_file_on_one_side_and_a_folder_on_the_other() {
    let stage = Stage::new();
    let (_, mut rep, mut designer) = pair(&stage);
    write(&rep.at, "projects/quay/site", "a file\n");
    write(&designer.at, "projects/quay/site/plan.txt", "a folder\n");
    rep.sync();
    assert!(matches!(designer.git_error(), GitError::FileAgainstFolder { .. }));
    assert_eq!(read(&designer.at, "projects/quay/site/plan.txt"), "a folder\n");
    std::fs::rename(designer.at.join("projects/quay/site"), designer.at.join("projects/quay/place")).unwrap();
    designer.sync();
    rep.sync();
    assert_eq!(read(&rep.at, "projects/quay/place/plan.txt"), "a folder\n");
    // A folder that becomes a file, and back, comes in whole.
    std::fs::remove_dir_all(rep.at.join("projects/quay/place")).unwrap();
    write(&rep.at, "projects/quay/place", "now a file\n");
    rep.sync();
    designer.sync();
    assert_eq!(read(&designer.at, "projects/quay/place"), "now a file\n");
    std::fs::remove_file(rep.at.join("projects/quay/place")).unwrap();
    write(&rep.at, "projects/quay/place/again.txt", "a folder again\n");
    rep.sync();
    designer.sync();
    assert_eq!(read(&designer.at, "projects/quay/place/again.txt"), "a folder again\n");
    stage.clean(&designer.at);
}

#[test]
fn a_push_that_comes_second_is_a_race_and_nothing_is_lost() {
    let stage = Stage::new();
    let (hub, mut rep, designer) = pair(&stage);
    note(&rep, "x\n");
    rep.sync();
    write(&designer.at, "projects/quay/other.txt", "y\n");
    let id = commit(&designer.repo, &["projects/quay/other.txt"], "Designer", 1_800_100_100).unwrap();
    let remote = designer.repo.remote(None).unwrap();
    let git = user_git(&stage);
    assert_eq!(designer.repo.push(&git, &remote, id, None).unwrap(), Pushed::Race);
    assert_eq!(stage.git(&hub, &["rev-parse", "main"]).trim(), rep.repo.head().unwrap().unwrap().to_string());

    // Four people at once, again and again: every edit is in the end in every clone.
    let mut hands: Vec<Hand> =
        ["A", "B", "C", "D"].into_iter().map(|n| Hand::clone(&stage, &hub, n, 1_800_200_000)).collect();
    for round in 0..6 {
        let barrier = std::sync::Barrier::new(hands.len());
        std::thread::scope(|scope| {
            for hand in &mut hands {
                let barrier = &barrier;
                scope.spawn(move || {
                    write(&hand.at, &format!("projects/quay/{}-{round}.txt", hand.name), hand.name);
                    barrier.wait();
                    hand.options.attempts = 30;
                    assert!(hand.sync().pushed);
                });
            }
        });
    }
    for hand in &mut hands {
        hand.sync();
        for name in ["A", "B", "C", "D"] {
            for round in 0..6 {
                assert_eq!(read(&hand.at, &format!("projects/quay/{name}-{round}.txt")), name);
            }
        }
        stage.clean(&hand.at);
    }
    stage.sound(&hub);
}

/// More of them: `UNDERLIT_TEST_BARRIERS=200`.
#[test]
fn two_pushes_from_one_barrier_and_neither_is_lost() {
    let rounds = given("UNDERLIT_TEST_BARRIERS", 20);
    let stage = Stage::new();
    let (hub, mut rep, mut designer) = pair(&stage);
    let mut races = 0;
    for round in 0..rounds {
        let barrier = std::sync::Barrier::new(2);
        let push = |hand: &mut Hand| {
            write(&hand.at, &format!("projects/quay/{}-{round}.txt", hand.name), hand.name);
            // One record of both, in a field of each one's own.
            let bar = "projects/quay/panels/bar.json";
            let mut record: serde_json::Value = serde_json::from_str(&read(&hand.at, bar)).unwrap();
            record[hand.name] = round.into();
            write(&hand.at, bar, &format!("{record:#}\n"));
            barrier.wait();
            hand.options.attempts = 30;
            let done = hand.sync();
            assert!(done.pushed && done.opened.is_empty(), "round {round}: {done:?}");
            done.races
        };
        let (one, two) = std::thread::scope(|scope| {
            let one = scope.spawn(|| push(&mut rep));
            let two = scope.spawn(|| push(&mut designer));
            (one.join().unwrap(), two.join().unwrap())
        });
        races += one + two;
        // At the hub both edits of every round are there.
        for hand in [&rep, &designer] {
            let at_hub = |path: &str| stage.git(&hub, &["show", &format!("main:projects/quay/{path}")]);
            assert_eq!(at_hub(&format!("{}-{round}.txt", hand.name)), hand.name);
            let record: serde_json::Value = serde_json::from_str(&at_hub("panels/bar.json")).unwrap();
            assert_eq!(record[hand.name], round, "round {round}");
        }
    }
    assert!(races > 0, "nobody was ever faster than the other");
    for hand in [&mut rep, &mut designer] {
        hand.sync();
        stage.clean(&hand.at);
    }
    stage.sound(&hub);
}
