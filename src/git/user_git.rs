//! Running the user's own `git` where a network is touched, and putting its words into cases with a remedy.
//!
//! Agents, credential helpers, proxies, `url.insteadOf` and the hooks of a local remote then work as they do for
//! the user by hand. What is not here: which remote and which branch; that is `remote`.

use std::io::{BufRead, BufReader, Read};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

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
}

/// Receives a line of git's progress while it works.
pub type OnProgress<'a> = &'a mut dyn FnMut(&str);

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

impl UserGit {
    /// The `git` found on the user's path.
    #[must_use]
    pub fn new(may_ask: bool) -> Self {
        UserGit { program: PathBuf::from("git"), may_ask, environment: Vec::new() }
    }

    /// Runs git in `at`, handing each line of its progress on.
    pub(crate) fn run(
        &self,
        at: &Path,
        args: &[&str],
        progress: Option<OnProgress<'_>>,
    ) -> Result<Finished, GitError> {
        let mut command = Command::new(&self.program);
        command.arg("-C").arg(at).args(args).env("LC_ALL", "C").env_remove("LANGUAGE");
        for name in POINTERS {
            command.env_remove(name);
        }
        if self.may_ask {
            command.stdin(Stdio::inherit());
        } else {
            command.env("GIT_TERMINAL_PROMPT", "0").stdin(Stdio::null());
        }
        for (name, value) in &self.environment {
            command.env(name, value);
        }
        let no_program = |e: std::io::Error| GitError::NoGitProgram { words: e.to_string() };
        let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().map_err(no_program)?;
        // Both pipes are drained at once, so that git never waits for us on one while we wait on the other.
        let out = child.stdout.take().map(|mut pipe| {
            std::thread::spawn(move || {
                let mut bytes = Vec::new();
                let read = pipe.read_to_end(&mut bytes);
                read.map(|_| bytes)
            })
        });
        let stderr = child.stderr.take().map(|pipe| follow(pipe, progress)).unwrap_or_default();
        let stdout = out.and_then(|thread| thread.join().ok()).and_then(Result::ok).unwrap_or_default();
        let status = child.wait().map_err(no_program)?;
        Ok(Finished { ok: status.success(), stdout: String::from_utf8_lossy(&stdout).into_owned(), stderr })
    }
}

/// Reads a pipe to its end, handing on each line, whether it ends in a line feed or a carriage return. Lines
/// that overwrite themselves on a terminal are progress and are not kept.
fn follow(pipe: impl Read, mut progress: Option<OnProgress<'_>>) -> String {
    let mut reader = BufReader::new(pipe);
    let mut kept = String::new();
    let mut line = Vec::new();
    loop {
        line.clear();
        match reader.read_until(b'\n', &mut line) {
            Ok(0) | Err(_) => return kept,
            Ok(_) => {}
        }
        let text = String::from_utf8_lossy(&line).into_owned();
        for part in text.split('\r').map(str::trim_end).filter(|part| !part.is_empty()) {
            if let Some(tell) = progress.as_deref_mut() {
                tell(part);
            }
        }
        kept.push_str(
            text.trim_end_matches('\n').rsplit('\r').find(|part| !part.is_empty()).unwrap_or_default(),
        );
        kept.push('\n');
    }
}

/// The lines of git that say something, without its general advice.
pub(crate) fn telling(stderr: &str) -> String {
    let lines: Vec<&str> = stderr
        .lines()
        .map(str::trim_end)
        .filter(|line| {
            !line.is_empty()
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
