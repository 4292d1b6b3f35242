//! Running the user's own `git`, and putting its words about a remote into cases with a remedy.
//!
//! Agents, credential helpers, proxies, `url.insteadOf` and the hooks of a local remote then work as they do for
//! the user by hand. Where a remote is asked, git runs on a leash: it and everything that it started ends when it has
//! said nothing for too long, and when this program ends, however that ends. What is not here: which remote and
//! which branch; that is `remote`.

use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, ExitStatus, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::{Duration, Instant};

use super::GitError;

/// How to start the user's `git`.
#[derive(Clone, Debug)]
pub struct UserGit {
    /// The program, `git` unless told otherwise.
    pub program: PathBuf,
    /// True where a person sits at a terminal, so that git may ask for a password there.
    pub may_ask: bool,
    /// Further environment for git, beyond what this process has.
    pub environment: Vec<(String, String)>,
    /// How long git may say nothing while it deals with a remote, before it is ended; `None` for as long as it likes.
    pub silence: Option<Duration>,
}

/// Receives a line of git's progress while it works.
pub(crate) type OnProgress<'a> = &'a mut dyn FnMut(&str);

/// What a run of git left.
#[derive(Debug)]
pub(crate) struct Finished {
    pub(crate) ok: bool,
    pub(crate) stdout: String,
    pub(crate) stderr: String,
}

/// What git hands to its hooks and aliases to point at one repository. Inherited, it would send our git to a
/// repository other than the book.
const POINTERS: [&str; 9] = [
    "GIT_DIR",
    "GIT_WORK_TREE",
    "GIT_INDEX_FILE",
    "GIT_OBJECT_DIRECTORY",
    "GIT_ALTERNATE_OBJECT_DIRECTORIES",
    "GIT_COMMON_DIR",
    "GIT_NAMESPACE",
    "GIT_PREFIX",
    "GIT_QUARANTINE_PATH",
];

/// How long a remote may be silent where nobody is asked for anything.
const USUAL_SILENCE: Duration = Duration::from_secs(60);

/// The same where a person may be typing a password, or looking for it.
const SILENCE_AT_A_TERMINAL: Duration = Duration::from_secs(600);

/// How long after git's end, or after it was told to end, its pipes may stay open: another program may have them.
const GRACE: Duration = Duration::from_secs(5);

/// How much of what git says is kept.
const MOST_KEPT: usize = 1 << 20;

/// The leash: runs the command, and beside it something that reads from this program until that lets go or ends, and
/// then ends the command with all that it started. A process group of its own tells what that is; within the group of
/// a terminal, which has to stay one for passwords and Ctrl-C, the kinship of processes does. It keeps standard error
/// open until it is done, so that whoever reads that to its end knows that nothing is left.
const LEASH: &str = r#"exec 3<&0 </dev/null
kin() {
    ps -A -o ppid= -o pid= | while read -r parent child; do
        if [ "$parent" = "$1" ] && [ "$child" != "$me" ]; then kin "$child"; echo "$child"; fi
    done
}
(
    trap '' HUP INT TERM
    read -r word <&3
    whom=0
    if [ "$UNDERLIT_LEASH" = kin ]; then
        me=$(exec sh -c 'echo $PPID')
        whom="$(kin $$) $$"
    fi
    kill -TERM $whom 2>/dev/null
    sleep 1
    kill -KILL $whom 2>/dev/null
) >/dev/null &
"$0" "$@" 3<&-
code=$?
kill -KILL $!
wait $! 2>/dev/null
exit $code
"#;

impl UserGit {
    /// The `git` found on the user's path.
    #[must_use]
    pub fn new(may_ask: bool) -> Self {
        let silence = Some(if may_ask { SILENCE_AT_A_TERMINAL } else { USUAL_SILENCE });
        UserGit { program: PathBuf::from("git"), may_ask, environment: Vec::new(), silence }
    }

    /// What git says of itself: `git version 2.39.5`.
    ///
    /// # Errors
    /// [`GitError::NoGitProgram`].
    pub(crate) fn version(&self) -> Result<String, GitError> {
        let said = self.run(Path::new("."), &["--version"])?;
        Ok(said.stdout.trim().to_owned())
    }

    /// Runs git in `at`, where no remote is asked.
    pub(crate) fn run(&self, at: &Path, args: &[&str]) -> Result<Finished, GitError> {
        let mut command = Command::new(&self.program);
        self.equip(&mut command, at, args);
        command.stdin(if self.may_ask { Stdio::inherit() } else { Stdio::null() });
        let no_program = |e: io::Error| GitError::NoGitProgram { words: e.to_string() };
        let child = command.spawn().map_err(no_program)?;
        let mut run = Run { child, leash: None, silence: None };
        run.hear_out(None).map(|(_, finished)| finished).map_err(no_program)
    }

    /// Runs git in `at` on an errand to `remote`, handing each line of its progress on. It is ended when it is silent
    /// for too long, and when this program ends.
    ///
    /// Git has to be asked for its progress whether anybody looks at it or not: it is what tells a slow remote from a
    /// silent one.
    pub(crate) fn run_to(
        &self,
        remote: &str,
        at: &Path,
        args: &[&str],
        progress: Option<OnProgress<'_>>,
    ) -> Result<Finished, GitError> {
        let no_program = |e: io::Error| GitError::NoGitProgram { words: e.to_string() };
        let (mut child, leashed) = self.spawn_leashed(at, args).map_err(no_program)?;
        let leash = child.stdin.take();
        let mut run = Run { child, leash, silence: self.silence };
        let (status, finished) = run.hear_out(progress).map_err(no_program)?;
        match (status, self.silence) {
            (Ended::Silent, Some(silence)) => Err(GitError::RemoteSilent {
                remote: remote.to_owned(),
                seconds: silence.as_secs(),
                words: if finished.stderr.trim().is_empty() {
                    String::new()
                } else {
                    telling(&finished.stderr)
                },
            }),
            (Ended::Code(Some(127)), _) if leashed => {
                Err(GitError::NoGitProgram { words: telling(&finished.stderr) })
            }
            _ => Ok(finished),
        }
    }

    /// Starts git on its leash; without one where the system has no shell. The second value tells which.
    fn spawn_leashed(&self, at: &Path, args: &[&str]) -> io::Result<(Child, bool)> {
        if cfg!(unix) {
            let mut command = Command::new("/bin/sh");
            command.args(["-c", LEASH]).arg(&self.program);
            self.equip(&mut command, at, args);
            #[cfg(unix)]
            if std::fs::File::open("/dev/tty").is_ok() {
                command.env("UNDERLIT_LEASH", "kin");
            } else {
                use std::os::unix::process::CommandExt as _;
                command.env("UNDERLIT_LEASH", "group").process_group(0);
            }
            match command.stdin(Stdio::piped()).spawn() {
                Err(e) if e.kind() == io::ErrorKind::NotFound => {}
                spawned => return spawned.map(|child| (child, true)),
            }
        }
        let mut command = Command::new(&self.program);
        self.equip(&mut command, at, args);
        command.stdin(Stdio::null()).spawn().map(|child| (child, false))
    }

    fn equip(&self, command: &mut Command, at: &Path, args: &[&str]) {
        command.arg("-C").arg(at).args(args).env("LC_ALL", "C").env_remove("LANGUAGE");
        for name in POINTERS {
            command.env_remove(name);
        }
        if !self.may_ask {
            command.env("GIT_TERMINAL_PROMPT", "0");
        }
        for (name, value) in &self.environment {
            command.env(name, value);
        }
        command.stdout(Stdio::piped()).stderr(Stdio::piped());
    }
}

/// How a run ended.
enum Ended {
    /// By itself, with an exit code; `None` where a signal ended it.
    Code(Option<i32>),
    /// It was ended, because it had said nothing for too long.
    Silent,
}

/// A git that is running.
struct Run {
    child: Child,
    /// Dropping it ends git and all that it started.
    leash: Option<ChildStdin>,
    silence: Option<Duration>,
}

/// What comes out of one of two pipes.
enum Heard {
    Out(Vec<u8>),
    Err(Vec<u8>),
    End,
}

impl Run {
    fn hear_out(&mut self, progress: Option<OnProgress<'_>>) -> io::Result<(Ended, Finished)> {
        // Both pipes are drained at once, so that git never waits for us on one while we wait on the other.
        let (tell, heard) = channel();
        if let Some(pipe) = self.child.stdout.take() {
            let tell = tell.clone();
            std::thread::spawn(move || drain(pipe, Heard::Out, |heard| tell.send(heard).is_ok()));
        }
        if let Some(pipe) = self.child.stderr.take() {
            std::thread::spawn(move || drain(pipe, Heard::Err, |heard| tell.send(heard).is_ok()));
        }
        let (mut stdout, mut lines) = (Vec::new(), Lines { progress, ..Lines::default() });
        let silent = self.listen(&heard, &mut stdout, &mut lines)?;
        let status: Option<ExitStatus> =
            if silent { self.child.try_wait()? } else { Some(self.child.wait()?) };
        let ok = !silent && status.is_some_and(|status| status.success());
        let ended = if silent { Ended::Silent } else { Ended::Code(status.and_then(|status| status.code())) };
        let stdout = String::from_utf8_lossy(&stdout).into_owned();
        Ok((ended, Finished { ok, stdout, stderr: lines.end() }))
    }

    /// Hears git out; true where it was ended for its silence.
    fn listen(
        &mut self,
        heard: &Receiver<Heard>,
        stdout: &mut Vec<u8>,
        lines: &mut Lines<'_>,
    ) -> io::Result<bool> {
        let (mut open, mut last) = (2, Instant::now());
        let (mut silent, mut over) = (false, None::<Instant>);
        while open > 0 {
            match heard.recv_timeout(Duration::from_millis(50)) {
                Ok(Heard::End) => open -= 1,
                Ok(Heard::Out(bytes)) => {
                    last = Instant::now();
                    stdout.extend(bytes);
                }
                Ok(Heard::Err(bytes)) => {
                    last = Instant::now();
                    lines.take(&bytes);
                }
                Err(RecvTimeoutError::Disconnected) => break,
                Err(RecvTimeoutError::Timeout) => {
                    if over.is_none() && self.child.try_wait()?.is_some() {
                        over = Some(Instant::now());
                    }
                    if over.is_some_and(|over| over.elapsed() > GRACE) {
                        break;
                    }
                    if over.is_none() && self.silence.is_some_and(|silence| last.elapsed() >= silence) {
                        silent = true;
                        over = Some(Instant::now());
                        if self.leash.take().is_none() {
                            self.child.kill()?;
                        }
                    }
                }
            }
        }
        Ok(silent)
    }
}

/// Reads a pipe to its end, or to where nobody listens any more.
fn drain(mut pipe: impl Read, what: fn(Vec<u8>) -> Heard, tell: impl Fn(Heard) -> bool) {
    let mut buffer = [0_u8; 1 << 14];
    loop {
        match pipe.read(&mut buffer) {
            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
            Ok(0) | Err(_) => break,
            Ok(length) => {
                if !tell(what(buffer[..length].to_vec())) {
                    return;
                }
            }
        }
    }
    tell(Heard::End);
}

/// What git says on standard error, by lines, whether they end in a line feed or a carriage return. Lines that
/// overwrite themselves on a terminal are progress and are not kept.
#[derive(Default)]
struct Lines<'p> {
    progress: Option<OnProgress<'p>>,
    kept: String,
    /// What the present line holds since its last carriage return, and what it held before that.
    line: Vec<u8>,
    before: String,
}

impl Lines<'_> {
    fn take(&mut self, bytes: &[u8]) {
        for byte in bytes {
            match byte {
                b'\n' | b'\r' => self.part(*byte == b'\n'),
                _ if self.line.len() < MOST_KEPT => self.line.push(*byte),
                _ => {}
            }
        }
    }

    fn part(&mut self, ends: bool) {
        let text = String::from_utf8_lossy(&std::mem::take(&mut self.line)).trim_end().to_owned();
        if !text.is_empty() {
            if let Some(tell) = self.progress.as_deref_mut() {
                tell(&text);
            }
            self.before = text;
        }
        if ends {
            let line = std::mem::take(&mut self.before);
            if self.kept.len() + line.len() < MOST_KEPT {
                self.kept.push_str(&line);
                self.kept.push('\n');
            }
        }
    }

    fn end(mut self) -> String {
        if !self.line.is_empty() || !self.before.is_empty() {
            self.part(true);
        }
        self.kept
    }
}

/// True for a line in which git counts what it has done.
pub(crate) fn is_progress(line: &str) -> bool {
    let line = line.strip_prefix("remote:").unwrap_or(line).trim_start();
    let counts = ["Enumerating", "Counting", "Compressing", "Receiving", "Resolving", "Unpacking", "Writing"];
    let first = line.split(' ').next().unwrap_or_default();
    let counted = counts.contains(&first) && (line.contains(" objects: ") || line.contains(" deltas: "));
    counted
        || line.starts_with("Delta compression using")
        || line.starts_with("Total ") && line.contains("(delta ")
}

/// The lines of git that say something, without its general advice.
pub(crate) fn telling(stderr: &str) -> String {
    let lines: Vec<&str> = stderr
        .lines()
        .map(str::trim_end)
        .filter(|line| {
            !line.is_empty()
                && !is_progress(line)
                && !line.starts_with("hint:")
                && !line.starts_with("Please make sure you have the correct access rights")
                && !line.starts_with("and the repository exists.")
                && !line.starts_with("warning:")
        })
        .collect();
    let marked: Vec<&str> = lines
        .iter()
        .copied()
        .filter(|line| {
            ["fatal:", "error:", "remote:", "ssh:", "ERROR"].iter().any(|mark| line.starts_with(mark))
        })
        .collect();
    let chosen = if marked.is_empty() { lines } else { marked };
    let text = chosen.join("\n");
    if text.is_empty() { "git gave no reason".to_owned() } else { text }
}

/// The case that git's words about a remote stand for.
pub(crate) fn remote_failure(remote: &str, verb: &str, stderr: &str) -> GitError {
    let says = |marks: &[&str]| marks.iter().any(|mark| stderr.contains(mark));
    let words = telling(stderr);
    let remote = remote.to_owned();
    if says(&["No space left on device", "Disk quota exceeded"]) {
        return GitError::DiskFull { path: words };
    }
    if says(&[".lock': File exists"]) {
        return GitError::GitLocked { words };
    }
    if let Some(rest) = stderr.split("dubious ownership in repository at '").nth(1) {
        return GitError::OtherOwner { path: rest.split('\'').next().unwrap_or_default().into() };
    }
    if says(&["FETCH_HEAD': Permission denied", "FETCH_HEAD: Permission denied", "Read-only file system"]) {
        return GitError::NotWritable { path: words };
    }
    if says(&["Host key verification failed", "REMOTE HOST IDENTIFICATION HAS CHANGED"]) {
        let changed = says(&["REMOTE HOST IDENTIFICATION HAS CHANGED"]);
        let mark = if changed { " (the key has CHANGED)" } else { "" };
        return GitError::HostUnknown { remote, words: format!("Host key verification failed.{mark}") };
    }
    if says(&[
        "SSL certificate problem",
        "server certificate verification failed",
        "certificate verify failed",
    ]) {
        return GitError::NotTrusted { remote, words };
    }
    if says(&[
        "Permission denied (",
        "Authentication failed",
        "could not read Username",
        "could not read Password",
        "terminal prompts disabled",
        "returned error: 401",
        "returned error: 403",
        "Too many authentication failures",
        "access denied or repository not exported",
        "service not enabled",
        "insufficient permission",
    ]) {
        return GitError::NotAdmitted { remote, words };
    }
    if says(&[
        "does not appear to be a git repository",
        "Repository not found",
        "' not found",
        "returned error: 404",
        "not a git repository",
        "' does not exist",
        "no such repository",
    ]) {
        return GitError::RemoteGone { remote, words };
    }
    if says(&[
        "Could not resolve host",
        "Temporary failure in name resolution",
        "Name or service not known",
        "Connection refused",
        "Connection reset",
        "Connection closed",
        "Connection timed out",
        "Operation timed out",
        "Operation too slow",
        "Network is unreachable",
        "No route to host",
        "unable to access",
        "unable to connect",
        "early EOF",
        "hung up",
        "unexpected disconnect",
        "Could not read from remote repository",
    ]) {
        return GitError::Network { remote, words };
    }
    GitError::GitFailed { verb: verb.to_owned(), words }
}
