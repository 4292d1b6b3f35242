//! Sync of one changed record in a large book against stock git doing the same by hand, in one run on one machine.
//!
//! `cargo bench --bench merge_sync` (projects by `UNDERLIT_BENCH_PROJECTS`, 10,000 unless told). Aim: at most 1.2 times
//! the time of `git add -A && git commit && git pull && git push`, and of `git fetch` where nothing is new: on the
//! same disk, and from a remote that takes a tenth of a second to answer, as a near one on the network does.
#![allow(clippy::unwrap_used)] // a bench that cannot set its stage has to stop

use std::io::Write;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use underlit::git::{Repo, UserGit};
use underlit::merge::{Layout, Rules};

#[path = "../tests/dice/mod.rs"]
#[allow(dead_code)] // tests throw more of them
mod dice;
#[path = "../tests/git_room/exchange.rs"]
#[allow(dead_code)] // tests ask for more
mod exchange;

use dice::Dice;
use exchange::{Done, Hand, Options};

fn git(at: &Path, args: &[&str]) {
    let me = ["-c", "user.name=Stock", "-c", "user.email=stock@example.org", "-c", "commit.gpgsign=false"];
    let out = Command::new("git").arg("-C").arg(at).args(me).args(args).output().unwrap();
    assert!(out.status.success(), "git {args:?}: {}", String::from_utf8_lossy(&out.stderr));
}

fn layout() -> Layout {
    Layout::new().record("projects/*/project.json", Rules::new()).unit("projects/*", "project.json")
}

fn sync(repo: Repo, clock: i64) -> Done {
    let options = Options { attempts: 8, ..Options::default() };
    let (at, git, dice) = (repo.root().to_owned(), UserGit::new(false), Dice(7));
    Hand { name: "Rep", at, repo, git, layout: layout(), options, clock, dice }.sync()
}

fn record(at: &Path, nth: usize, text: &str) {
    std::fs::write(
        at.join(format!("projects/p{nth:05}/project.json")),
        format!("{{\n  \"n\": \"{text}\"\n}}\n"),
    )
    .unwrap();
}

fn middle(mut times: Vec<Duration>) -> Duration {
    times.sort();
    times[times.len() / 2]
}

fn main() {
    let projects: usize =
        std::env::var("UNDERLIT_BENCH_PROJECTS").ok().and_then(|n| n.parse().ok()).unwrap_or(10_000);
    let dir = tempfile::tempdir().unwrap();
    let (hub, first) = (dir.path().join("hub.git"), dir.path().join("first"));
    git(dir.path(), &["init", "-q", "--bare", "-b", "main", hub.to_str().unwrap()]);
    let repo = Repo::create(&first).unwrap();
    for nth in 0..projects {
        std::fs::create_dir_all(first.join(format!("projects/p{nth:05}/panels"))).unwrap();
        record(&first, nth, "new");
        for panel in ["bar", "desk"] {
            let path = first.join(format!("projects/p{nth:05}/panels/{panel}.json"));
            std::fs::write(path, format!("{{\n  \"id\": \"{panel}\",\n  \"of\": {nth}\n}}\n")).unwrap();
        }
    }
    git(&first, &["add", "-A"]);
    git(&first, &["commit", "-q", "-m", "the book"]);
    git(&first, &["remote", "add", "origin", hub.to_str().unwrap()]);
    git(&first, &["push", "-q", "-u", "origin", "main"]);
    let clone = |name: &str| {
        let at = dir.path().join(name);
        git(
            dir.path(),
            &["clone", "-q", "-c", "core.fsync=all", hub.to_str().unwrap(), at.to_str().unwrap()],
        );
        git(&at, &["config", "pull.rebase", "false"]);
        at
    };
    let (mine, stock, other) = (clone("mine"), clone("stock"), clone("other"));
    // An index older than its second: what every clone has but in its first moment.
    std::thread::sleep(Duration::from_millis(1100));
    git(&mine, &["status"]);
    git(&stock, &["status"]);
    drop(repo);
    let slow = dir.path().join("slow");
    std::fs::write(&slow, "#!/bin/sh\nsleep 0.1\nexec git-upload-pack \"$@\"\n").unwrap();
    std::fs::set_permissions(&slow, std::fs::Permissions::from_mode(0o755)).unwrap();
    let mut times = [const { Vec::new() }; 8];
    for round in 0..7 {
        let base = round * 10;
        for (turn, at) in [&mine, &stock].into_iter().enumerate() {
            // Somebody else's change is on the hub, and one of one's own lies in the folder.
            git(&other, &["pull", "-q", "--ff-only"]);
            record(&other, base + turn, &format!("other {round}"));
            git(&other, &["commit", "-q", "-a", "-m", "other"]);
            git(&other, &["push", "-q"]);
            record(at, base + 5 + turn, &format!("mine {round}"));
            let start = Instant::now();
            if turn == 0 {
                let repo = Repo::open(at).unwrap();
                let done = sync(repo, 1_900_000_000 + round as i64 * 10);
                assert!(done.merged && done.pushed);
            } else {
                git(at, &["add", "-A"]);
                git(at, &["commit", "-q", "-m", "mine"]);
                git(at, &["pull", "-q", "--no-edit"]);
                git(at, &["push", "-q"]);
            }
            times[turn].push(start.elapsed());
        }
        for (turn, at) in [&mine, &stock].into_iter().enumerate() {
            if turn == 0 {
                sync(Repo::open(at).unwrap(), 1_950_000_000);
            }
            git(at, &["fetch", "-q"]);
            // What was placed a moment ago is looked at once more, by us and by git; not what is measured here.
            std::thread::sleep(Duration::from_millis(1100));
            if turn == 0 {
                sync(Repo::open(at).unwrap(), 1_950_000_000);
            }
            for far in [false, true] {
                if far {
                    git(at, &["config", "remote.origin.uploadpack", slow.to_str().unwrap()]);
                }
                let start = Instant::now();
                if turn == 0 {
                    let done = sync(Repo::open(at).unwrap(), 1_950_000_000);
                    assert!(!done.pushed && done.commits.is_empty());
                } else {
                    git(at, &["fetch", "-q"]);
                }
                times[2 + turn + 4 * usize::from(far)].push(start.elapsed());
            }
            git(at, &["config", "--unset", "remote.origin.uploadpack"]);
            let start = Instant::now();
            if turn == 0 {
                assert!(Repo::open(at).unwrap().is_clean("").unwrap());
            } else {
                git(at, &["status", "--porcelain"]);
            }
            times[4 + turn].push(start.elapsed());
        }
    }
    let [sync, stock, idle, fetch, status, stock_status, far, far_fetch] = times.map(middle);
    let mut out = std::io::stdout().lock();
    for (what, ours, theirs) in [
        ("one changed record, against add, commit, pull, push", sync, stock),
        ("nothing new, against fetch", idle, fetch),
        ("nothing new a tenth of a second away, against fetch", far, far_fetch),
        ("looking for edits, against status", status, stock_status),
    ] {
        let ratio = ours.as_secs_f64() / theirs.as_secs_f64();
        writeln!(out, "{what}: {} ms to {} ms, ratio {ratio:.2}", ours.as_millis(), theirs.as_millis())
            .unwrap();
    }
}
