//! Reads what comes from outside: the clock, the home folder, the agent's socket, whether anybody can be asked.

use std::env;
use std::io::IsTerminal as _;
use std::path::{Path, PathBuf};

use jiff::Timestamp;
use jiff::tz::TimeZone;

use super::Cli;
use crate::fault::{Fault, Outcome};
use crate::git::UserGit;
use crate::ops::Surroundings;
use crate::signing::{Asking, Toolbox};

/// The variable that fixes the clock, as an RFC 3339 time: for tests and for books that are made again.
pub(crate) const CLOCK: &str = "UNDERLIT_CLOCK";

/// The time.
///
/// # Errors
/// `clock`, where the clock is fixed to something that is no time.
pub(crate) fn now() -> Outcome<Timestamp> {
    match env::var(CLOCK) {
        Ok(text) => text.parse::<Timestamp>().map_err(|e| {
            Box::new(
                Fault::usage("clock", format!("{CLOCK} is no time: {e}"))
                    .mend("write it like 2026-09-01T08:00:00Z"),
            )
        }),
        Err(_) => Ok(Timestamp::now()),
    }
}

/// What comes from outside.
///
/// # Errors
/// `clock`, where the clock is fixed to something that is no time.
pub(crate) fn surroundings(cli: &Cli) -> Outcome<Surroundings<'static>> {
    let (now, zone) = (now()?, TimeZone::UTC);
    let at_terminal = std::io::stdin().is_terminal() && std::io::stderr().is_terminal();
    let asking = if at_terminal { Asking::Terminal(&passphrase) } else { Asking::Never };
    let agent = env::var_os("SSH_AUTH_SOCK").map(PathBuf::from);
    Ok(Surroundings {
        now,
        zone,
        toolbox: Toolbox::new(&env::temp_dir(), agent.as_deref(), asking),
        git: UserGit::new(at_terminal),
        home: env::var_os("HOME").or_else(|| env::var_os("USERPROFILE")).map(PathBuf::from),
        person: cli.me.clone(),
        key: cli.key.as_ref().map(|k| std::path::absolute(k).unwrap_or_else(|_| k.clone())),
        dry_run: cli.dry_run,
    })
}

/// Only asked where OpenSSH's own programs, which ask without an echo, are missing.
fn passphrase(file: &Path) -> Option<String> {
    super::printer::ask(&format!("Passphrase for {} (it will show on the screen):", file.display()))
}

/// What tells this build of the program from any other: its version, and the size and time of its file.
pub(crate) fn program() -> String {
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
