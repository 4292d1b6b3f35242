//! The stage of these tests: a folder that is thrown away, stock git with no settings but its own, and people.

use std::path::{Path, PathBuf};
use std::process::Command;

use underlit::git::{CommitId, Moment, NewCommit, Person, Repo};

/// A temporary folder with a home of its own for stock git.
pub(crate) struct Stage {
    dir: PathBuf,
    _thrown_away: Option<tempfile::TempDir>,
}

impl Stage {
    pub(crate) fn new() -> Stage {
        let thrown_away = tempfile::tempdir().unwrap();
        let dir = thrown_away.path().to_owned();
        std::fs::create_dir(dir.join("home")).unwrap();
        Stage { dir, _thrown_away: Some(thrown_away) }
    }

    /// The stage of another process.
    pub(crate) fn at(dir: &Path) -> Stage {
        Stage { dir: dir.to_owned(), _thrown_away: None }
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        if name.is_empty() { self.dir.clone() } else { self.dir.join(name) }
    }

    /// Stock git in `at`, which has to succeed; what it printed.
    pub(crate) fn git(&self, at: &Path, args: &[&str]) -> String {
        let (ok, out) = self.try_git(at, args);
        assert!(ok, "git {args:?}: {out}");
        out
    }

    pub(crate) fn try_git(&self, at: &Path, args: &[&str]) -> (bool, String) {
        let out = Command::new("git")
            .arg("-C")
            .arg(at)
            .args(args)
            .env("HOME", self.path("home"))
            .env("GIT_CONFIG_NOSYSTEM", "1")
            .env("LC_ALL", "C")
            .env("GIT_AUTHOR_NAME", "Stock")
            .env("GIT_AUTHOR_EMAIL", "stock@example.org")
            .env("GIT_COMMITTER_NAME", "Stock")
            .env("GIT_COMMITTER_EMAIL", "stock@example.org")
            .output()
            .unwrap();
        let text = String::from_utf8_lossy(&out.stdout).into_owned() + &String::from_utf8_lossy(&out.stderr);
        (out.status.success(), text)
    }

    /// A bare repository that stands for the host.
    pub(crate) fn bare(&self, name: &str) -> PathBuf {
        let path = self.path(name);
        self.git(&self.dir, &["init", "-q", "--bare", "-b", "main", path.to_str().unwrap()]);
        path
    }

    /// `git fsck --strict` finds nothing, and stock git sees no difference between commit, index and folder.
    pub(crate) fn sound(&self, at: &Path) {
        let said = self.git(at, &["fsck", "--strict", "--no-dangling", "--no-progress"]);
        assert_eq!(said.trim(), "", "fsck of {}", at.display());
    }

    pub(crate) fn clean(&self, at: &Path) {
        self.sound(at);
        assert_eq!(self.git(at, &["status", "--porcelain"]).trim(), "", "status of {}", at.display());
    }
}

pub(crate) fn write(at: &Path, path: &str, text: &str) {
    let full = at.join(path);
    std::fs::create_dir_all(full.parent().unwrap()).unwrap();
    std::fs::write(full, text).unwrap();
}

pub(crate) fn read(at: &Path, path: &str) -> String {
    std::fs::read_to_string(at.join(path)).unwrap()
}

pub(crate) fn person(name: &str) -> Person {
    Person::new(name, &format!("{}@example.org", name.to_lowercase())).unwrap()
}

/// One commit of `paths` by `name` at `seconds`.
pub(crate) fn commit(repo: &Repo, paths: &[&str], name: &str, seconds: i64) -> Option<CommitId> {
    let lock = repo.lock().unwrap();
    let author = person(name);
    let message = format!("{name} changed {}", paths.join(", "));
    repo.commit_paths(
        &lock,
        paths,
        &NewCommit { message: &message, author: &author, at: Moment::utc(seconds) },
    )
    .unwrap()
}
