//! The printer: data to standard output, remarks to standard error. The only place that writes to either, and the one
//! where text from outside is made harmless: names, titles and messages come from anybody, and a terminal would obey
//! what stands in them.

use std::io::{self, ErrorKind, IsTerminal as _, Read as _, Write};
use std::os::fd::AsFd;
use std::sync::{Mutex, OnceLock, PoisonError};

use anstream::stream::RawStream;
use anstream::{AutoStream, ColorChoice};
use serde::Serialize;
use serde_json::Value;

use crate::fault::Fault;
use crate::visible::{escaped_json, visible};

/// How a line stands out at a terminal. What it says is always in its words too.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Ink {
    /// As any other line.
    Plain,
    /// What the rest is about.
    Head,
    /// May be built.
    Good,
    /// Late, on hold or wrong.
    Late,
}

impl Ink {
    /// What sets it at a terminal (ECMA-48, select graphic rendition).
    fn code(self) -> &'static str {
        match self {
            Ink::Plain => "",
            Ink::Head => "1",
            Ink::Good => "32",
            Ink::Late => "31",
        }
    }

    /// A text in it, where the stream shows colours: a terminal, and neither `NO_COLOR` nor a dumb one.
    fn on(self, text: &str, stream: &impl RawStream) -> String {
        if self == Ink::Plain || AutoStream::choice(stream) == ColorChoice::Never {
            return text.to_owned();
        }
        let lines: Vec<String> =
            text.lines().map(|line| format!("\x1b[{}m{line}\x1b[0m", self.code())).collect();
        lines.join("\n")
    }
}

/// Where a verb says what it has to say.
#[derive(Debug)]
pub(crate) struct Printer {
    json: bool,
    /// Why nothing more can be written to standard output.
    ended: OnceLock<io::Error>,
    /// An answer that is gathered to be shown by a pager.
    page: Mutex<Option<String>>,
}

impl Printer {
    /// A printer for people, or for programs.
    pub(crate) fn new(json: bool) -> Self {
        Printer { json, ended: OnceLock::new(), page: Mutex::new(None) }
    }

    /// True where nobody hears any more what is said.
    pub(crate) fn is_closed(&self) -> bool {
        self.ended.get().is_some()
    }

    /// What kept the answer from being written. Whoever closed a pipe has read enough, which is no fault.
    pub(crate) fn fault(&self) -> Option<Fault> {
        let error = self.ended.get().filter(|error| error.kind() != ErrorKind::BrokenPipe)?;
        Some(output_fault(error))
    }

    /// Gathers the answer from now on, to be shown a screen at a time where it is long: for verbs that only tell.
    pub(crate) fn gather(&self) {
        *self.page.lock().unwrap_or_else(PoisonError::into_inner) = Some(String::new());
    }

    /// Gives what was gathered, and gathers no more.
    pub(crate) fn gathered(&self) -> Option<String> {
        self.page.lock().unwrap_or_else(PoisonError::into_inner).take()
    }

    /// Writes what was gathered as any other answer.
    pub(crate) fn release(&self, text: &str) {
        if !text.is_empty() {
            self.write(text);
        }
    }

    /// Writes a line to standard output.
    fn write(&self, text: &str) {
        if self.is_closed() {
            return;
        }
        if let Some(page) = &mut *self.page.lock().unwrap_or_else(PoisonError::into_inner) {
            page.push_str(text);
            page.push_str(if text.ends_with('\n') { "" } else { "\n" });
            return;
        }
        super::progress::erase();
        let mut out = io::stdout().lock();
        let written = if text.ends_with('\n') { write!(out, "{text}") } else { writeln!(out, "{text}") };
        if let Err(error) = written.and_then(|()| out.flush()) {
            // The first one is the one to tell.
            let _ = self.ended.set(error);
        }
    }

    /// True where the answer goes to a program.
    pub(crate) fn is_json(&self) -> bool {
        self.json
    }

    /// A line of the answer, for people; silent for programs, who get their answer from [`Printer::json`].
    pub(crate) fn line(&self, text: impl AsRef<str>) {
        self.line_in(Ink::Plain, text);
    }

    /// The same, in an ink.
    pub(crate) fn line_in(&self, ink: Ink, text: impl AsRef<str>) {
        if !self.json {
            let stdout = io::stdout();
            self.write(&ink.on(&for_reader(&visible(text.as_ref()), &stdout), &stdout));
        }
    }

    /// A line of the answer whatever the reader: for what is a text by itself, such as an export.
    pub(crate) fn raw(&self, text: impl AsRef<str>) {
        self.write(&visible(text.as_ref()));
    }

    /// The answer, for programs; silent for people.
    pub(crate) fn json<T: Serialize>(&self, answer: &T) {
        if self.json {
            let value = serde_json::to_value(answer).unwrap_or(Value::Null);
            self.write(&escaped_json(&format!("{value:#}")));
        }
    }

    /// One of many answers, for programs: an object on a line of its own.
    pub(crate) fn json_line<T: Serialize>(&self, answer: &T) {
        if self.json {
            let value = serde_json::to_value(answer).unwrap_or(Value::Null);
            self.write(&escaped_json(&value.to_string()));
        }
    }

    /// A remark beside the answer, on standard error.
    pub(crate) fn remark(&self, text: impl AsRef<str>) {
        self.remark_in(Ink::Plain, text);
    }

    /// The same, in an ink.
    pub(crate) fn remark_in(&self, ink: Ink, text: impl AsRef<str>) {
        super::progress::erase();
        let stderr = io::stderr();
        let text = ink.on(&for_reader(&visible(text.as_ref()), &stderr), &stderr);
        // There is nowhere left to say that standard error is closed.
        let _ = writeln!(stderr.lock(), "{text}");
    }

    /// A remark only where a person watches a terminal.
    pub(crate) fn progress(&self, text: impl AsRef<str>) {
        if !self.json && io::stderr().is_terminal() {
            self.remark(text);
        }
    }
}

/// A text as its reader gets it: broken at a terminal's width, and line by line as it is for a file or a program.
fn for_reader(text: &str, stream: &impl AsFd) -> String {
    match terminal_size::terminal_size_of(stream) {
        Some((terminal_size::Width(width), _)) => wrapped(text, usize::from(width)),
        None => text.to_owned(),
    }
}

/// How many lines the terminal shows that the answer goes to; none where it goes to a file or a program.
pub(crate) fn rows() -> Option<usize> {
    terminal_size::terminal_size_of(io::stdout()).map(|(_, rows)| usize::from(rows.0))
}

/// Breaks lines at blanks, so that none is wider; what follows stands under the text that it belongs to. A line with a
/// command to copy, and a word that is wider by itself, stay whole.
fn wrapped(text: &str, width: usize) -> String {
    let one = |line: &str| -> String {
        if line.chars().count() <= width || line.contains("underlit ") {
            return line.to_owned();
        }
        let indent = line.chars().take_while(|c| *c == ' ').count();
        // Beside a name or a mark that two blanks part from the text, under the text.
        let beside = line[indent..].find("  ").map(|gap| {
            let text = line[indent + gap..].chars().take_while(|c| *c == ' ').count();
            line[..indent + gap].chars().count() + text
        });
        let hang = beside.filter(|at| *at <= width / 3).unwrap_or((indent + 2).min(width / 3));
        let (mut out, mut used) = (String::new(), 0);
        for word in line.split_inclusive(' ') {
            let long = word.trim_end_matches(' ').chars().count();
            if used + long > width && used > hang && long > 0 {
                out.truncate(out.trim_end_matches(' ').len());
                out.push('\n');
                out.push_str(&" ".repeat(hang));
                used = hang;
            }
            out.push_str(word);
            used += word.chars().count();
        }
        out
    };
    let mut out: String = text.lines().map(one).collect::<Vec<_>>().join("\n");
    if text.ends_with('\n') {
        out.push('\n');
    }
    out
}

/// A word as a shell takes it.
pub(crate) fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "/._-~+,:@\\".contains(c);
    if word.chars().all(plain) { word.to_owned() } else { format!("'{}'", word.replace('\'', "'\\''")) }
}

/// What kept an answer from being written.
pub(crate) fn output_fault(error: &io::Error) -> Fault {
    Fault::io("output", format!("the answer could not be written to standard output: {error}")).fix(
        "send the answer where there is room for it, and ask again: `underlit status` and `underlit board` tell what was done",
    )
}

/// A remark that the next one takes the place of.
pub(crate) fn beat(text: &str) {
    let _ = write!(io::stderr(), "{}\r", visible(text));
}

/// Everything on standard input, up to so many bytes.
///
/// # Errors
/// What the system says; [`io::ErrorKind::InvalidData`] for more than that, or for what is no text.
pub(crate) fn lines_in(most: u64) -> io::Result<String> {
    let mut text = String::new();
    let read = io::stdin().lock().take(most + 1).read_to_string(&mut text)?;
    if read as u64 > most {
        return Err(io::Error::new(ErrorKind::InvalidData, format!("it is longer than {most} bytes")));
    }
    Ok(text)
}

/// True where somebody is at a terminal to be asked.
pub(crate) fn may_ask() -> bool {
    io::stdin().is_terminal() && io::stderr().is_terminal()
}

/// Asks a question at the terminal; none where nobody is there to answer.
pub(crate) fn ask(question: &str) -> Option<String> {
    if !may_ask() {
        return None;
    }
    write!(io::stderr(), "{} ", visible(question)).ok()?;
    let mut answer = String::new();
    // Whoever ends the input has left.
    let read = io::stdin().read_line(&mut answer).ok()?;
    (read > 0).then(|| answer.trim().to_owned())
}

#[cfg(test)]
mod tests {
    use super::{quoted, wrapped};

    #[test]
    fn paths_that_a_shell_would_split_are_quoted() {
        assert_eq!(quoted("/tmp/a-b_1"), "/tmp/a-b_1");
        assert_eq!(quoted("/tmp/o'clock book"), "'/tmp/o'\\''clock book'");
    }

    #[test]
    fn lines_are_broken_at_a_terminals_width_and_nothing_is_lost() {
        for (text, width, want) in [
            ("", 20, ""),
            ("\n", 20, "\n"),
            ("exactly twenty wide.", 20, "exactly twenty wide."),
            ("exactly twenty wide.\n", 20, "exactly twenty wide.\n"),
            ("this is one more than", 20, "this is one more\n  than"),
            ("  note  the veins stand out well here", 24, "  note  the veins stand\n        out well here"),
            ("a-word-that-is-wider-than-the-terminal", 20, "a-word-that-is-wider-than-the-terminal"),
            ("    underlit sign quay choice --as client", 20, "    underlit sign quay choice --as client"),
            ("größere Länge übrig", 20, "größere Länge übrig"),
        ] {
            assert_eq!(wrapped(text, width), want);
        }
        let words = "one two three four five six seven eight nine ten";
        for width in 7..60 {
            let broken = wrapped(words, width);
            assert!(broken.lines().all(|line| line.chars().count() <= width), "{width}: {broken}");
            assert_eq!(broken.split_whitespace().collect::<Vec<_>>(), words.split(' ').collect::<Vec<_>>());
        }
    }
}
