//! Commits, status, history, and the move of a branch, checked with stock git.

use underlit::git::{ChangeKind, GitError, Moment, NewCommit, Person, Repo};

use crate::book::{Stage, commit, person, read, write};

fn kinds(repo: &Repo, prefix: &str) -> Vec<(String, ChangeKind)> {
    repo.changed_paths(prefix).unwrap().into_iter().map(|e| (e.path, e.kind)).collect()
}

#[test]
fn a_new_book_commits_only_what_is_named() {
    let stage = Stage::new();
    let at = stage.path("book");
    let repo = Repo::create(&at).unwrap();
    assert_eq!(repo.head().unwrap(), None);
    assert_eq!(repo.branch().unwrap(), "main");
    write(&at, "book.json", "{}\n");
    write(&at, "projects/quay/project.json", "{\r\n}\r\n");
    assert_eq!(kinds(&repo, "projects"), [("projects/quay/project.json".to_owned(), ChangeKind::Added)]);
    let first = commit(&repo, &["book.json", ".gitattributes"], "Rep", 1_800_000_000).unwrap();
    assert_eq!(repo.head().unwrap(), Some(first));
    assert_eq!(stage.git(&at, &["status", "--porcelain"]).trim(), "?? projects/");
    let second = commit(&repo, &["projects"], "Rep", 1_800_000_100).unwrap();
    stage.clean(&at);
    // Line ends stay as they are, byte for byte.
    assert_eq!(
        repo.snapshot(second).unwrap().file("projects/quay/project.json").unwrap().unwrap(),
        b"{\r\n}\r\n"
    );
    assert_eq!(commit(&repo, &["projects", "book.json"], "Rep", 1_800_000_200), None);
    let told = stage.git(&at, &["log", "-1", "--format=%an|%ae|%ct|%cn|%s"]);
    assert_eq!(told.trim(), "Rep|rep@example.org|1800000100|Rep|Rep changed projects");
    let paths: Vec<String> =
        repo.snapshot(second).unwrap().files("").unwrap().into_iter().map(|f| f.path).collect();
    assert_eq!(paths, [".gitattributes", "book.json", "projects/quay/project.json"]);
}

#[test]
fn removals_folders_and_what_others_staged() {
    let stage = Stage::new();
    let at = stage.path("book");
    let repo = Repo::create(&at).unwrap();
    for path in ["a/1.json", "a/2.json", "b/1.json", "name"] {
        write(&at, path, "{}\n");
    }
    commit(&repo, &[""], "Rep", 1_800_000_000).unwrap();
    stage.clean(&at);
    // Staged by hand, not named: stays staged and uncommitted.
    write(&at, "b/1.json", "{\"staged\": 1}\n");
    stage.git(&at, &["add", "b/1.json"]);
    std::fs::remove_dir_all(at.join("a")).unwrap();
    std::fs::remove_file(at.join("name")).unwrap();
    write(&at, "name/inner.json", "{}\n");
    assert_eq!(kinds(&repo, "").len(), 5);
    let id = commit(&repo, &["a", "name", "name/inner.json"], "Rep", 1_800_000_001).unwrap();
    assert_eq!(stage.git(&at, &["status", "--porcelain"]), "M  b/1.json\n");
    let paths: Vec<String> =
        repo.snapshot(id).unwrap().files("").unwrap().into_iter().map(|f| f.path).collect();
    assert_eq!(paths, [".gitattributes", "b/1.json", "name/inner.json"]);
    assert_eq!(repo.snapshot(id).unwrap().file("b/1.json").unwrap().unwrap(), b"{}\n");
    stage.sound(&at);
}

#[test]
fn history_tells_who_changed_what() {
    let stage = Stage::new();
    let at = stage.path("book");
    let repo = Repo::create(&at).unwrap();
    write(&at, "a.json", "1\n");
    let one = commit(&repo, &["a.json"], "Rep", 1_800_000_000).unwrap();
    write(&at, "b.json", "1\n");
    let two = commit(&repo, &["b.json"], "Designer", 1_800_000_001).unwrap();
    write(&at, "a.json", "2\n");
    let three = commit(&repo, &["a.json"], "Engineer", 1_800_000_002).unwrap();
    let ids = |prefix: &str| repo.log(prefix).unwrap().map(|e| e.unwrap().id).collect::<Vec<_>>();
    assert_eq!(ids(""), [three, two, one]);
    assert_eq!(ids("a.json"), [three, one]);
    let last = repo.log("a.json").unwrap().next().unwrap().unwrap();
    assert_eq!((last.author, last.at), (person("Engineer"), Moment::utc(1_800_000_002)));
    assert_eq!(last.changes[0].kind(), ChangeKind::Edited);
    // The same answer as stock git gives.
    let stock = stage.git(&at, &["log", "--format=%H", "--", "a.json"]);
    assert_eq!(stock.split_whitespace().collect::<Vec<_>>(), [three.to_string(), one.to_string()]);
}

#[test]
fn an_edit_as_fast_as_the_commit_is_still_seen() {
    let stage = Stage::new();
    let at = stage.path("book");
    let repo = Repo::create(&at).unwrap();
    for round in 0..60 {
        write(&at, "a.json", &format!("{:03}\n", round));
        commit(&repo, &["a.json"], "Rep", 1_800_000_000 + round).unwrap();
        write(&at, "b.json", &format!("{round}"));
        write(&at, "a.json", &format!("{:03}\n", round + 500)); // same size, maybe the same tick
        commit(&repo, &["b.json"], "Rep", 1_800_000_000 + round).unwrap();
        assert_eq!(kinds(&repo, "a.json"), [("a.json".to_owned(), ChangeKind::Edited)]);
        assert_eq!(stage.git(&at, &["status", "--porcelain", "a.json"]), " M a.json\n");
    }
}

#[test]
fn where_a_commit_would_do_harm_it_is_refused() {
    let stage = Stage::new();
    let at = stage.path("book");
    let repo = Repo::create(&at).unwrap();
    assert!(matches!(Repo::create(&at), Err(GitError::AlreadyRepository { .. })));
    write(&at, "sub/a.json", "1\n");
    commit(&repo, &["sub/a.json"], "Rep", 1_800_000_000).unwrap();
    assert!(matches!(Repo::open(&at.join("sub")), Err(GitError::NotTopFolder { .. })));
    assert_eq!(Repo::discover(&at.join("sub")).unwrap().root(), at.canonicalize().unwrap());
    assert!(matches!(Repo::open(&stage.path("home")), Err(GitError::NoRepository { .. })));
    assert!(matches!(Repo::open(&stage.bare("hub.git")), Err(GitError::Bare { .. })));

    let lock = repo.lock().unwrap();
    assert!(matches!(Repo::open(&at).unwrap().lock(), Err(GitError::InUse { .. })));
    let author = person("Rep");
    let new = NewCommit { message: "x", author: &author, at: Moment::utc(1_800_000_001) };
    for bad in ["../a", "/etc/passwd", ".git/config", "sub/../a", "sub//a", "."] {
        let said = repo.commit_paths(&lock, &[bad], &new);
        assert!(matches!(said, Err(GitError::BadPath { .. })), "{bad}: {said:?}");
    }
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink("/etc/hostname", at.join("link.json")).unwrap();
        assert!(matches!(repo.commit_paths(&lock, &["link.json"], &new), Err(GitError::NotAFile { .. })));
        std::fs::remove_file(at.join("link.json")).unwrap();
        std::os::unix::fs::symlink("sub", at.join("door")).unwrap();
        assert!(matches!(repo.commit_paths(&lock, &["door/a.json"], &new), Err(GitError::NotAFile { .. })));
        std::fs::remove_file(at.join("door")).unwrap();
    }
    write(&at, "sub/a.json", "2\n");
    std::fs::write(at.join(".git/index.lock"), "a running git").unwrap();
    assert!(matches!(repo.commit_paths(&lock, &["sub"], &new), Err(GitError::GitLocked { .. })));
    std::fs::remove_file(at.join(".git/index.lock")).unwrap();
    assert_eq!(stage.git(&at, &["log", "--oneline"]).lines().count(), 1);
    std::fs::write(at.join(".git/MERGE_HEAD"), repo.head().unwrap().unwrap().to_string()).unwrap();
    let said = repo.commit_paths(&lock, &["sub"], &new).unwrap_err();
    assert_eq!((said.code(), said), ("git-busy", GitError::Busy { operation: "merge" }));
    std::fs::remove_file(at.join(".git/MERGE_HEAD")).unwrap();
    stage.git(&at, &["checkout", "-q", "--detach"]);
    assert!(matches!(repo.commit_paths(&lock, &["sub"], &new), Err(GitError::DetachedHead)));
    stage.sound(&at);
    for bad in ["", " ", "a<b", "a\nb", "...,"] {
        assert!(matches!(Person::new(bad, "a@example.org"), Err(GitError::BadPerson { .. })), "{bad:?}");
    }
    assert_eq!(read(&at, "sub/a.json"), "2\n");
}

#[test]
fn a_lock_left_by_a_kill_is_known_as_ours() {
    let stage = Stage::new();
    let at = stage.path("book");
    let repo = Repo::create(&at).unwrap();
    write(&at, "a.json", "1\n");
    std::fs::write(at.join(".git/index.lock"), "underlit holds this lock\n").unwrap();
    std::fs::write(at.join(".git/underlit/index.new"), "torn").unwrap();
    assert!(commit(&repo, &["a.json"], "Rep", 1_800_000_000).is_some());
    assert!(!at.join(".git/index.lock").exists());
}

#[test]
fn a_large_book_is_looked_through_as_a_small_one_is() {
    let stage = Stage::new();
    let mut listed = Vec::new();
    for more in [0, 2500] {
        let at = stage.path(&format!("book{more}"));
        let repo = Repo::create(&at).unwrap();
        for path in ["a/1.json", "a/2.json", "b/1.json", "name", "kept [x] {y}.json", "größe.json"] {
            write(&at, path, "{}\n");
        }
        for nth in 0..more {
            write(&at, &format!("many/{nth}.json"), "{}\n");
        }
        write(&at, ".gitignore", "*.log\n");
        commit(&repo, &[""], "Rep", 1_800_000_000).unwrap();
        assert!(repo.is_clean("").unwrap());
        // Staged and not, new, gone, a folder for a file, the same bytes at another time, ignored, odd names.
        write(&at, "b/1.json", "{\"staged\": 1}\n");
        stage.git(&at, &["add", "b/1.json"]);
        write(&at, "b/1.json", "{}\n");
        write(&at, "a/1.json", "{\"x\": 1}\n");
        std::fs::remove_file(at.join("a/2.json")).unwrap();
        std::fs::remove_file(at.join("name")).unwrap();
        write(&at, "name/inner.json", "{}\n");
        write(&at, "größe.json", "{}\n");
        write(&at, "kept [x] {y}.json", "{\"y\": 1}\n");
        write(&at, "a/new \"quoted\".json", "{}\n");
        write(&at, "a/x.log", "noise\n");
        write(&at, "a/.writing-zz", "{");
        stage.git(&stage.path(""), &["init", "-q", at.join("inner").to_str().unwrap()]);
        write(&at, "inner/x", "x");
        listed.push((kinds(&repo, ""), kinds(&repo, "a"), kinds(&repo, "kept [x] {y}.json")));
        // Both kinds of book know an unfinished merge.
        std::fs::remove_dir_all(at.join("inner")).unwrap();
        stage.git(&at, &["reset", "-q", "--hard"]);
        stage.git(&at, &["clean", "-qfd"]);
        stage.git(&at, &["switch", "-q", "-c", "side"]);
        write(&at, "a/1.json", "1\n");
        stage.git(&at, &["commit", "-qam", "side"]);
        stage.git(&at, &["switch", "-q", "main"]);
        write(&at, "a/1.json", "2\n");
        stage.git(&at, &["commit", "-qam", "main"]);
        assert!(!stage.try_git(&at, &["merge", "side"]).0);
        assert!(matches!(repo.changed_paths(""), Err(GitError::Unmerged { .. })));
    }
    assert_eq!(listed[0].0.len(), 7, "{:?}", listed[0].0);
    assert_eq!(listed[0], listed[1]);
}
