//! Whether this machine and this clone are fit for the work: each thing looked at by the function that needs it, with that
//! function's own words and fix. Nothing is written, nothing is signed, and nobody is asked.

use std::path::Path;

use serde::Serialize;

use super::desk::Desk;
use super::reading::Reading;
use crate::fault::{Fault, Outcome};
use crate::git::{GitError, Hub, Remote, Repo, refuse_old_git};
use crate::trust::guard::install::is_guarded;
use crate::trust::surroundings::Surroundings;

/// Free room below which a disk is soon full, in bytes. Rule of thumb: some packs and photos. Common practice, no source.
const ROOM: u64 = 200 << 20;

/// How far a clock may lie behind the newest commit, in seconds: clocks of people differ by minutes. Common practice, no
/// source.
const BEHIND: i64 = 3600;

/// How one thing stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Health {
    /// As it should be.
    Fine,
    /// Nothing is wrong; something to know.
    Note,
    /// It will keep somebody from working.
    Wrong,
}

/// One thing that was looked at.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub(crate) struct Examined {
    /// What, in a word.
    pub about: &'static str,
    /// How it stands.
    pub health: Health,
    /// What was found.
    pub found: String,
    /// What to do about it, where there is something to do.
    pub fix: Option<String>,
}

impl Examined {
    fn fine(about: &'static str, found: impl Into<String>) -> Self {
        Self { about, health: Health::Fine, found: found.into(), fix: None }
    }

    fn note(about: &'static str, found: impl Into<String>, fix: impl Into<String>) -> Self {
        Self { about, health: Health::Note, found: found.into(), fix: Some(fix.into()) }
    }

    fn wrong(about: &'static str, fault: Fault) -> Self {
        Self { about, health: Health::Wrong, found: fault.to_string(), fix: fault.remedy }
    }

    fn of(about: &'static str, looked: Outcome<String>) -> Self {
        looked.map_or_else(|fault| Self::wrong(about, *fault), |found| Self::fine(about, found))
    }
}

/// Looks at everything, in the order in which one thing rests on another.
#[must_use]
pub(crate) fn examine(from: &Path, around: &Surroundings<'_>, editor: Option<&str>) -> Vec<Examined> {
    let mut all = vec![Examined::of("git", around.git.version().map_err(Into::into)), openssh(around)];
    match Reading::open(from) {
        Err(faults) => all.extend(faults.into_iter().map(|fault| Examined::wrong("book", fault))),
        Ok(reading) => {
            let (book, version) = (&reading.shop.book, reading.chain.newest().version);
            let found =
                format!("{}, book {}, form {}, roster version {version}", book.shop, book.id, book.format);
            all.push(Examined::fine("book", found));
            // As a writing verb opens it; what was edited by hand is judged and not taken in.
            match Desk::open(from, &Surroundings { dry_run: true, ..around.clone() }) {
                Err(faults) => all.extend(faults.into_iter().map(|fault| Examined::wrong("writing", fault))),
                Ok(desk) => person(&desk, &mut all),
            }
            if let Some(held) = reading.held {
                let fix = "take more into this clone: underlit part --project NAME";
                all.push(match refuse_old_git(&around.git) {
                    Ok(()) => Examined::note("part", held.in_words(), fix),
                    Err(error) => Examined::wrong("part", *Box::<Fault>::from(error)),
                });
            }
            if let Ok(repo) = Repo::open(reading.book.root()) {
                exchange(&repo, around, &mut all);
                all.push(clock(&repo, around));
            }
            all.extend(room(reading.book.root()));
        }
    }
    all.push(match editor {
        Some(editor) => Examined::fine(
            "editor",
            format!("{editor}; records name their schema, for editors that know JSON Schema"),
        ),
        None => Examined::note(
            "editor",
            "no editor is named in VISUAL or EDITOR; records can be written by the verbs alone",
            "name the one that you like, for records by hand and for git: export EDITOR=nano",
        ),
    });
    all
}

fn openssh(around: &Surroundings<'_>) -> Examined {
    if around.toolbox.has_ssh_keygen() {
        return Examined::fine("openssh", "ssh-keygen is there: agents, passphrases and hardware keys work");
    }
    Examined::note(
        "openssh",
        "ssh-keygen is missing: keys in files work, agents and hardware keys do not",
        "install OpenSSH's client programs (on Debian: openssh-client)",
    )
}

/// Who is asking, with which key, under which name in git.
fn person(desk: &Desk<'_>, all: &mut Vec<Examined>) {
    all.push(Examined::fine("writing", "verbs can write here, and every hand edit passes"));
    let me = match desk.me() {
        Err(fault) => return all.push(Examined::wrong("you", *fault)),
        Ok(me) => me,
    };
    let roster = desk.reading.chain.newest();
    let roles: Vec<&str> = roster.person(&me).into_iter().flat_map(|p| &p.roles).map(|r| r.word()).collect();
    let roles = if roles.is_empty() { "no role any more".to_owned() } else { roles.join(", ") };
    all.push(Examined::fine("you", format!("{me} ({}): {roles}", roster.name_of(&me))));
    let key = desk
        .signer()
        .map(|signer| format!("{} is yours on the roster and can sign", signer.key().fingerprint()));
    all.push(Examined::of("key", key));
    all.push(match desk.repo.configured_person() {
        Some(_) => Examined::fine("name in git", "git knows your name and address"),
        None => Examined::note(
            "name in git",
            "git knows no name and address of yours; underlit commits without, your own git does not",
            "git config --global user.name \"…\" and user.email \"…\"",
        ),
    });
}

/// The remote, and the guard that stands there.
fn exchange(repo: &Repo, around: &Surroundings<'_>, all: &mut Vec<Examined>) {
    let remote = match repo.remote(None) {
        Err(error @ GitError::NoRemote { .. }) => {
            return all.push(Examined::note("remote", error.to_string(), error.remedy()));
        }
        Err(error) => return all.push(Examined::wrong("remote", *Box::<Fault>::from(error))),
        Ok(remote) => remote,
    };
    let answer = repo.ask(&around.git, &remote).map_err(Box::<Fault>::from);
    all.push(Examined::of("remote", answer.map(|branches| told(&remote, branches))));
    let hub =
        repo.address(&remote).map(|address| Hub::open(Path::new(address.trim_start_matches("file://"))));
    all.push(match hub {
        Some(Ok(hub)) if is_guarded(&hub) => {
            Examined::fine("guard", format!("it judges what is pushed to {}", hub.path().display()))
        }
        Some(Ok(hub)) => Examined::note(
            "guard",
            format!("none judges what is pushed to {}; each clone judges what it fetches", hub.path().display()),
            format!("underlit guard install {}", hub.path().display()),
        ),
        _ => Examined::note(
            "guard",
            "whether one judges what is pushed there cannot be seen from here; each clone judges what it fetches",
            "ask whoever keeps the remote; `underlit guide guard` says how it is set up",
        ),
    });
}

fn told(remote: &Remote, branches: usize) -> String {
    let what = if branches == 0 { "it is empty" } else { "it answers" };
    format!("{}/{}: {what}", remote.name, remote.branch)
}

fn clock(repo: &Repo, around: &Surroundings<'_>) -> Examined {
    let looked = around.stamp_to_sign().and_then(|now| {
        let newest = repo.newest_at()?.filter(|at| at.seconds > around.now.as_second() + BEHIND);
        match newest {
            None => Ok(format!("{now}, after the newest commit")),
            Some(at) => Err(Box::new(
                Fault::io("clock-behind", format!("this machine's clock says {now}, and the newest commit is of {at}"))
                    .fix("set the clock; where it is right, the commit's maker had it wrong, which decides nothing"),
            )),
        }
    });
    Examined::of("clock", looked)
}

/// The room on the disk, where the system tells it.
#[cfg(unix)]
fn room(folder: &Path) -> Option<Examined> {
    let disk = rustix::fs::statvfs(folder).ok()?;
    let free = disk.f_bavail.saturating_mul(disk.f_frsize);
    let found = format!("{} MB free", free >> 20);
    Some(match free < ROOM {
        false => Examined::fine("disk", found),
        true => {
            Examined::wrong("disk", Fault::io("disk-nearly-full", found).fix("make room before you go on"))
        }
    })
}

/// The room on the disk, where the system tells it.
#[cfg(not(unix))]
fn room(_: &Path) -> Option<Examined> {
    None
}
