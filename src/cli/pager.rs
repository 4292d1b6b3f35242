//! Long answers at a terminal, a screen at a time: by the reader's own `$PAGER`, else by `less` where it is there. A pager
//! that is missing or ends early does no harm.

use std::env;
use std::io::{self, IsTerminal as _, Write as _};
use std::process::{Child, Command, Stdio};

use super::printer::rows;
use super::signals::heard;

/// The exit codes by which a shell says that a command could not be run (POSIX, 2.8.2).
const NOT_RUN: [i32; 2] = [126, 127];

/// True where somebody reads at a terminal that can show a page.
pub(super) fn may_page() -> bool {
    let dumb = env::var_os("TERM").is_some_and(|kind| kind == "dumb");
    rows().is_some() && io::stdin().is_terminal() && !dumb
}

/// True for an answer that is longer than the screen.
pub(super) fn is_long(text: &str) -> bool {
    rows().is_some_and(|rows| text.lines().count() >= rows)
}

/// Shows a text by a pager; false where there is none, and nothing was shown.
pub(super) fn shown(text: &str) -> bool {
    let own = env::var("PAGER").ok().map(|pager| pager.trim().to_owned());
    let child = match own.as_deref() {
        Some("" | "cat") => return false,
        // As git and man do: it may have options of its own.
        Some(pager) => Command::new("/bin/sh").arg("-c").arg(pager).stdin(Stdio::piped()).spawn(),
        // Colours as they are, no new screen, and an end of its own where all fits on one.
        None => Command::new("less").arg("-FRX").stdin(Stdio::piped()).spawn(),
    };
    child.is_ok_and(|child| read_through(child, text))
}

fn read_through(mut child: Child, text: &str) -> bool {
    // Ctrl-C is the pager's while it reads; it must not be left alone with the terminal.
    let _heard = heard();
    if let Some(mut page) = child.stdin.take() {
        // Whoever leaves the pager has read enough.
        let _ = page.write_all(text.as_bytes());
    }
    match child.wait() {
        Ok(status) => !status.code().is_some_and(|code| NOT_RUN.contains(&code)),
        Err(_) => true,
    }
}
