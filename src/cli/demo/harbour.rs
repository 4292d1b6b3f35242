//! The people of the demo, their homes, and how their commands are run.
//!
//! ```text
//! DIR/remote.git        what stands for any git host: a bare repository
//! DIR/mara/book         each person's clone, in a home folder of their own
//! DIR/mara/.ssh         with a throwaway key that no passphrase locks
//! ```
//! A command runs with its person's home and without the settings of whoever watches: no git settings but the
//! book's own, no agent, no `UNDERLIT_…`. The clock is turned, so that a job of six weeks takes seconds.

use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::{env, fs};

use jiff::civil::Date;
use jiff::{SignedDuration, Timestamp, ToSpan as _};

use super::super::printer::Printer;
use super::super::setting::Setting;
use super::telling;
use crate::fault::{Fault, Outcome};
use crate::signing::{Protection, make_key};
use crate::store::safe_path::io_fault;
use crate::trust::Surroundings;

/// Somebody in the story, by the name of their home folder and on the roster.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Person(pub(super) &'static str);

/// Runs the lightworks and speaks with the clients.
pub(super) const MARA: Person = Person("mara");
/// The client.
pub(super) const IMKE: Person = Person("imke");
/// The engineer.
pub(super) const RUNA: Person = Person("runa");

/// Why a story stops before its end.
#[derive(Debug)]
pub(super) enum Stopped {
    /// Something could not be prepared.
    Fault(Box<Fault>),
    /// A command ended otherwise than the story says; what it said has been shown.
    Step {
        /// Its exit code; none where it was ended from outside.
        code: Option<i32>,
        /// The exit code that the story says.
        wanted: i32,
    },
}

impl From<Box<Fault>> for Stopped {
    fn from(fault: Box<Fault>) -> Self {
        Stopped::Fault(fault)
    }
}

/// The folder with everything in it.
pub(super) struct Harbour<'s> {
    folder: PathBuf,
    program: PathBuf,
    printer: &'s Printer,
    around: &'s Surroundings<'static>,
    clock: Timestamp,
}

/// A command of the story: who types what, and how it must end.
pub(super) struct Step {
    who: Person,
    line: String,
    in_book: bool,
    wanted: i32,
    most_lines: usize,
}

/// The lines of an output that are shown where nothing else is said.
const USUAL_LINES: usize = 8;

impl Step {
    /// Typed in the person's clone, and done at the end.
    pub(super) fn new(who: Person, line: impl Into<String>) -> Self {
        Step { who, line: line.into(), in_book: true, wanted: 0, most_lines: USUAL_LINES }
    }

    /// Typed in the person's home folder.
    pub(super) fn at_home(mut self) -> Self {
        self.in_book = false;
        self
    }

    /// A step that is done and leaves questions between edits open.
    pub(super) fn asks(mut self) -> Self {
        self.wanted = 4;
        self
    }

    /// Answered with "not yet".
    pub(super) fn refused(mut self) -> Self {
        self.wanted = 1;
        self.whole()
    }

    /// Its output is shown to the last line.
    pub(super) fn whole(mut self) -> Self {
        self.most_lines = usize::MAX - 1;
        self
    }
}

impl<'s> Harbour<'s> {
    /// Makes the homes. Everybody but the owner, who makes hers in the story, has a key already.
    pub(super) fn build(folder: PathBuf, setting: &'s Setting<'_>) -> Outcome<Self> {
        let program = env::current_exe().map_err(|e| io_fault("underlit itself", "find", &e))?;
        let around = &setting.around;
        let harbour = Harbour { folder, program, printer: setting.printer, around, clock: around.now };
        for person in [MARA, IMKE, RUNA] {
            let home = harbour.home(person);
            fs::create_dir(&home).map_err(|e| io_fault(&home.display().to_string(), "make", &e))?;
        }
        for person in [IMKE, RUNA] {
            let key = harbour.home(person).join(".ssh/id_ed25519");
            make_key(&key, person.0, Protection::None, &around.toolbox)?;
            // As if it came by mail.
            let (from, to) =
                (key.with_extension("pub"), harbour.home(MARA).join(format!("{}.pub", person.0)));
            fs::copy(&from, &to).map_err(|e| io_fault(&to.display().to_string(), "write", &e))?;
        }
        Ok(harbour)
    }

    /// The folder with everything in it.
    pub(super) fn folder(&self) -> &Path {
        &self.folder
    }

    fn home(&self, person: Person) -> PathBuf {
        self.folder.join(person.0)
    }

    /// A day so many days after the day on which the demo is watched.
    pub(super) fn day(&self, after: i64) -> Date {
        self.around.today().saturating_add(after.days())
    }

    /// Begins a scene, so many days before the demo is watched.
    pub(super) fn scene(&mut self, title: &str, days_ago: i64) {
        self.heading(title);
        self.turn_clock(days_ago);
    }

    /// Turns the clock on within a scene.
    pub(super) fn turn_clock(&mut self, days_ago: i64) {
        // The last scene begins two hours before now, so that nobody acts in the future.
        let back = SignedDuration::from_hours(24 * days_ago + 2);
        self.clock = self.around.now.saturating_sub(back).unwrap_or(self.around.now);
    }

    /// Puts a file into a person's home, as if it had been written there in an editor.
    pub(super) fn writes(&self, who: Person, name: &str, text: impl AsRef<[u8]>) -> Outcome<()> {
        let path = self.home(who).join(name);
        Ok(fs::write(&path, text).map_err(|e| io_fault(&path.display().to_string(), "write", &e))?)
    }

    /// Runs a command of the story and shows it with what it says, which is handed back.
    pub(super) fn play(&mut self, step: Step) -> Result<String, Stopped> {
        let words = telling::typed_words(&step.line);
        telling::command(step.who.0, &words).iter().for_each(|l| self.plain(l));
        let home = self.home(step.who);
        let mut arguments = words.iter().map(|w| bare(w, &home));
        let program = match arguments.next() {
            Some(name) if name == "underlit" => self.program.clone().into_os_string(),
            name => name.unwrap_or_default(),
        };
        let mut command = Command::new(&program);
        command.args(arguments).current_dir(if step.in_book { home.join("book") } else { home.clone() });
        self.surround(&mut command, &home);
        let done = command.output().map_err(|e| {
            let name = program.to_string_lossy();
            Box::new(
                Fault::io("no-program", format!("{name} cannot be started: {e}"))
                    .fix(format!("install {name}")),
            )
        })?;
        let said = String::from_utf8_lossy(&done.stdout).into_owned();
        // Remarks come while a command works, its answer at the end.
        let shown = format!("{}{said}", String::from_utf8_lossy(&done.stderr));
        let good = done.status.code() == Some(step.wanted);
        telling::output(&shown, if good { step.most_lines } else { usize::MAX - 1 })
            .iter()
            .for_each(|l| self.plain(l));
        if !good {
            return Err(Stopped::Step { code: done.status.code(), wanted: step.wanted });
        }
        if step.wanted != 0 {
            self.plain(&format!("    (exit code {})", step.wanted));
        }
        self.plain("");
        self.clock = self.clock.saturating_add(SignedDuration::from_mins(3)).unwrap_or(self.clock);
        Ok(said)
    }

    /// Plays one person's commands in turn, each of which must be done at the end.
    pub(super) fn play_all(&mut self, who: Person, lines: &[&str]) -> Result<(), Stopped> {
        lines.iter().try_for_each(|line| self.play(Step::new(who, *line)).map(drop))
    }

    /// The surroundings of a person of the story, and none of those of whoever watches.
    fn surround(&self, command: &mut Command, home: &Path) {
        for (name, _) in env::vars_os() {
            let text = name.to_string_lossy();
            if ["GIT_", "SSH_", "UNDERLIT_", "XDG_"].iter().any(|prefix| text.starts_with(prefix)) {
                command.env_remove(&name);
            }
        }
        command
            .env("HOME", home)
            .env("GIT_CONFIG_GLOBAL", "/dev/null")
            .env("GIT_CONFIG_NOSYSTEM", "1")
            .env(super::super::around::CLOCK, self.clock.to_string())
            .stdin(Stdio::null());
    }

    /// How to call this program, where its folder is none of those that a shell looks in.
    pub(super) fn program_when_not_on_the_path(&self) -> Option<String> {
        let folders = env::var_os("PATH").unwrap_or_default();
        let name = format!("underlit{}", env::consts::EXE_SUFFIX);
        let found = env::split_paths(&folders).any(|folder| folder.join(&name).is_file());
        (!found).then(|| crate::cli::printer::quoted(&self.program.display().to_string()))
    }

    /// A heading.
    pub(super) fn heading(&self, text: &str) {
        self.plain(&telling::heading(text));
        self.plain("");
    }

    /// A sentence or two of the story.
    pub(super) fn says(&self, text: &str) {
        telling::paragraph(text).iter().for_each(|l| self.plain(l));
        self.plain("");
    }

    /// A line as it stands.
    pub(super) fn plain(&self, line: &str) {
        self.printer.line(line);
    }

    /// A remark beside the story.
    pub(super) fn remark(&self, text: &str) {
        self.printer.remark(text);
    }
}

/// A typed word as a program receives it: without its quotes, and with the home folder for `~`.
fn bare(word: &str, home: &Path) -> OsString {
    match word.strip_prefix("~/") {
        Some(rest) => home.join(rest).into_os_string(),
        None => word.replace('"', "").into(),
    }
}
