//! Reads what comes from outside: the clock, the home folder, the agent's socket, whether anybody can be asked.

use std::env;
use std::io::IsTerminal as _;
use std::path::{Path, PathBuf};
use std::time::Duration;

use jiff::Timestamp;
use jiff::tz::TimeZone;

use super::Cli;
use crate::fault::{Fault, Outcome};
use crate::git::UserGit;
use crate::signing::{Asking, Toolbox};
use crate::trust::Surroundings;

/// The variable that fixes the clock, as an RFC 3339 time: for tests and for books that are made again.
pub(crate) const CLOCK: &str = "UNDERLIT_CLOCK";

/// The variable that says how many seconds a remote may be silent before it is given up; 0 for no end.
pub(crate) const SILENCE: &str = "UNDERLIT_SILENCE";

/// The user's git, with the patience that was asked for.
///
/// # Errors
/// `silence`, where that is no number of seconds.
fn user_git(at_terminal: bool) -> Outcome<UserGit> {
    let mut git = UserGit::new(at_terminal);
    if let Ok(text) = env::var(SILENCE) {
        let seconds: u64 = text.trim().parse().map_err(|_| {
            Box::new(
                Fault::usage("silence", format!("{SILENCE} is not a number of seconds: {text}"))
                    .fix("write it like 300; 0 waits for ever"),
            )
        })?;
        git.silence = (seconds > 0).then(|| Duration::from_secs(seconds));
    }
    Ok(git)
}

/// The time.
///
/// # Errors
/// `clock`, where the clock is fixed to an invalid time.
pub(crate) fn now() -> Outcome<Timestamp> {
    match env::var(CLOCK) {
        Ok(text) => text.parse::<Timestamp>().map_err(|e| {
            Box::new(
                Fault::usage("clock", format!("{CLOCK} is not a valid time: {e}"))
                    .fix("write it like 2026-09-01T08:00:00Z"),
            )
        }),
        Err(_) => Ok(Timestamp::now()),
    }
}

/// What comes from outside.
///
/// # Errors
/// `clock`, where the clock is fixed to an invalid time; `silence`.
pub(crate) fn surroundings(cli: &Cli) -> Outcome<Surroundings<'static>> {
    let (now, zone) = (now()?, TimeZone::UTC);
    let at_terminal = std::io::stdin().is_terminal() && std::io::stderr().is_terminal();
    let asking = if at_terminal { Asking::Terminal(&passphrase) } else { Asking::Never };
    let agent = env::var_os("SSH_AUTH_SOCK").map(PathBuf::from);
    Ok(Surroundings {
        now,
        zone,
        toolbox: Toolbox::new(&env::temp_dir(), agent.as_deref(), asking),
        git: user_git(at_terminal)?,
        home: env::var_os("HOME").or_else(|| env::var_os("USERPROFILE")).map(PathBuf::from),
        person: cli.me.clone(),
        key: cli.key.as_ref().map(|k| std::path::absolute(k).unwrap_or_else(|_| k.clone())),
        dry_run: cli.dry_run,
        build: build(),
    })
}

/// Only asked where OpenSSH's own programs, which ask without an echo, are missing.
fn passphrase(file: &Path) -> Option<String> {
    super::printer::ask(&format!("Passphrase for {} (it will show on the screen):", file.display()))
}

/// What tells this build of the program from any other: its version, and the size and time of its file.
fn build() -> String {
    let file = env::current_exe().and_then(std::fs::metadata);
    let build = file.and_then(|f| Ok((f.len(), f.modified()?)));
    match build {
        Ok((size, at)) => {
            let at = at.duration_since(std::time::UNIX_EPOCH).unwrap_or_default();
            format!("underlit {} {size} {}", env!("CARGO_PKG_VERSION"), at.as_nanos())
        }
        Err(_) => format!("underlit {}", env!("CARGO_PKG_VERSION")),
    }
}
