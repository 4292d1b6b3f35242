//! The printer: data to standard output, remarks to standard error. The only place that writes to either.

use std::io::{self, IsTerminal as _, Read as _, Write};
use std::process;

use serde::Serialize;
use serde_json::Value;

/// Where a verb says what it has to say.
#[derive(Debug)]
pub(crate) struct Printer {
    json: bool,
}

impl Printer {
    /// A printer for people, or for programs.
    pub(crate) fn new(json: bool) -> Self {
        Printer { json }
    }

    /// True where the answer goes to a program.
    pub(crate) fn is_json(&self) -> bool {
        self.json
    }

    /// A line of the answer, for people; silent for programs, who get their answer from [`Printer::json`].
    pub(crate) fn line(&self, text: impl AsRef<str>) {
        if !self.json {
            write_out(text.as_ref());
        }
    }

    /// A line of the answer whatever the reader: for what is a text by itself, such as an export.
    pub(crate) fn raw(&self, text: impl AsRef<str>) {
        write_out(text.as_ref());
    }

    /// The answer, for programs; silent for people.
    pub(crate) fn json<T: Serialize>(&self, answer: &T) {
        if self.json {
            let value = serde_json::to_value(answer).unwrap_or(Value::Null);
            write_out(&format!("{value:#}"));
        }
    }

    /// One of many answers, for programs: an object on a line of its own.
    pub(crate) fn json_line<T: Serialize>(&self, answer: &T) {
        if self.json {
            let value = serde_json::to_value(answer).unwrap_or(Value::Null);
            write_out(&value.to_string());
        }
    }

    /// A remark beside the answer, on standard error.
    pub(crate) fn remark(&self, text: impl AsRef<str>) {
        // There is nowhere left to say that standard error is closed.
        let _ = writeln!(io::stderr(), "{}", text.as_ref());
    }

    /// A remark only where a person watches a terminal.
    pub(crate) fn progress(&self, text: impl AsRef<str>) {
        if !self.json && io::stderr().is_terminal() {
            self.remark(text);
        }
    }
}

/// Writes a line to standard output. Whoever closed the pipe has read enough.
fn write_out(text: &str) {
    let mut out = io::stdout().lock();
    let written = if text.ends_with('\n') { write!(out, "{text}") } else { writeln!(out, "{text}") };
    if written.and_then(|()| out.flush()).is_err_and(|e| e.kind() == io::ErrorKind::BrokenPipe) {
        process::exit(0);
    }
}

/// Everything on standard input, up to so many bytes.
///
/// # Errors
/// What the system says; [`io::ErrorKind::InvalidData`] for more than that, or for what is no text.
pub(crate) fn lines_in(most: u64) -> io::Result<String> {
    let mut text = String::new();
    let read = io::stdin().lock().take(most + 1).read_to_string(&mut text)?;
    if read as u64 > most {
        return Err(io::Error::new(io::ErrorKind::InvalidData, format!("it is longer than {most} bytes")));
    }
    Ok(text)
}

/// Asks a question at the terminal; none where nobody is there to answer.
pub(crate) fn ask(question: &str) -> Option<String> {
    if !io::stdin().is_terminal() || !io::stderr().is_terminal() {
        return None;
    }
    write!(io::stderr(), "{question} ").ok()?;
    let mut answer = String::new();
    io::stdin().read_line(&mut answer).ok()?;
    Some(answer.trim().to_owned())
}
