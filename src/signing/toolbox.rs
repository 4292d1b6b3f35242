//! [`Toolbox`]: the programs of this machine that hold keys, and how a person is asked for a passphrase.
//!
//! It reads no environment: whoever makes it says where the agent is and where temporary files may go.

use std::fmt;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use super::failure::SigningError;

/// How a person is asked for a passphrase, a PIN or a touch.
#[derive(Clone, Copy)]
pub enum Asking<'a> {
    /// Nobody can be asked: a script, a hook, a test. Whatever would ask fails instead.
    Never,
    /// A person is at the terminal. OpenSSH's programs ask there themselves; the function is called, with
    /// the key's file, only where those programs are missing. It gives `None` when the person gives up.
    Terminal(&'a (dyn Fn(&Path) -> Option<String> + Sync)),
    /// A program that asks in a window and prints the answer, as `SSH_ASKPASS` (ssh(1)).
    Program(&'a Path),
}

impl fmt::Debug for Asking<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Never => f.write_str("Never"),
            Self::Terminal(_) => f.write_str("Terminal"),
            Self::Program(program) => write!(f, "Program({})", program.display()),
        }
    }
}

/// The programs, the agent and the prompts with which signatures are made on this machine.
#[derive(Clone, Debug)]
pub struct Toolbox<'a> {
    /// `ssh-keygen`, by name or by path.
    pub ssh_keygen: PathBuf,
    /// `ssh-add`, by name or by path.
    pub ssh_add: PathBuf,
    /// The agent's socket: what `SSH_AUTH_SOCK` says. Without it no agent is asked.
    pub agent_socket: Option<PathBuf>,
    /// A folder for temporary files.
    pub scratch: PathBuf,
    /// How a person is asked.
    pub asking: Asking<'a>,
}

impl<'a> Toolbox<'a> {
    /// The programs as they are found on the path.
    #[must_use]
    pub fn new(scratch: &Path, agent_socket: Option<&Path>, asking: Asking<'a>) -> Self {
        Self {
            ssh_keygen: "ssh-keygen".into(),
            ssh_add: "ssh-add".into(),
            agent_socket: agent_socket.map(Into::into),
            scratch: scratch.into(),
            asking,
        }
    }

    /// True where a person may be asked before a signature is there.
    #[must_use]
    pub(crate) fn may_ask(&self) -> bool {
        self.agent_socket.is_some() || !matches!(self.asking, Asking::Never)
    }

    /// Runs `ssh-keygen`. What it says is kept, unless `aloud`: it asks for the touch of a hardware key on
    /// standard error, and only if that is the terminal.
    pub(super) fn run_ssh_keygen(
        &self,
        arguments: impl FnOnce(&mut Command),
        aloud: bool,
    ) -> Result<Output, SigningError> {
        let mut command = self.command(&self.ssh_keygen);
        arguments(&mut command);
        if aloud && matches!(self.asking, Asking::Terminal(_)) {
            command.stderr(Stdio::inherit());
        } else {
            command.stderr(Stdio::piped());
        }
        run(&mut command, &self.ssh_keygen)
    }

    /// True where OpenSSH's `ssh-keygen` can be run.
    #[must_use]
    pub(crate) fn has_ssh_keygen(&self) -> bool {
        // It knows no such option, and says how it is used.
        let asked = |command: &mut Command| {
            command.arg("-?");
        };
        self.run_ssh_keygen(asked, false).is_ok()
    }

    /// The public keys that the agent holds, one line each as in a `.pub` file, in the agent's order.
    pub(super) fn agent_keys(&self) -> Result<Vec<String>, SigningError> {
        let unreachable = |said| SigningError::AgentUnreachable { socket: self.agent_socket.clone(), said };
        if self.agent_socket.is_none() {
            return Err(unreachable(String::new()));
        }
        let mut command = self.command(&self.ssh_add);
        command.arg("-L").stderr(Stdio::piped());
        let output = run(&mut command, &self.ssh_add)?;
        match output.status.code() {
            Some(0) => Ok(String::from_utf8_lossy(&output.stdout).lines().map(Into::into).collect()),
            // ssh-add(1): 1 if the command fails (here: no identities), 2 if the agent cannot be reached.
            Some(1) => Ok(Vec::new()),
            _ => Err(unreachable(said(&output))),
        }
    }

    /// Asks for the passphrase of a key's file.
    pub(super) fn passphrase(&self, file: &Path) -> Option<String> {
        match self.asking {
            Asking::Never => None,
            Asking::Terminal(ask) => ask(file),
            Asking::Program(program) => {
                let output = Command::new(program)
                    .arg(format!("Passphrase for {}: ", file.display()))
                    .stderr(Stdio::inherit())
                    .output()
                    .ok()
                    .filter(|output| output.status.success())?;
                let answer = String::from_utf8(output.stdout).ok()?;
                Some(answer.lines().next().unwrap_or_default().into())
            }
        }
    }

    fn command(&self, program: &Path) -> Command {
        let mut command = Command::new(program);
        match &self.agent_socket {
            Some(socket) => command.env("SSH_AUTH_SOCK", socket),
            None => command.env_remove("SSH_AUTH_SOCK"),
        };
        match self.asking {
            Asking::Never => command
                .stdin(Stdio::null())
                // OpenSSH before 8.4 does not know the first of these; without the others it cannot ask.
                .env("SSH_ASKPASS_REQUIRE", "never")
                .env_remove("SSH_ASKPASS")
                .env_remove("DISPLAY"),
            Asking::Terminal(_) => command.stdin(terminal()),
            Asking::Program(askpass) => {
                command.stdin(Stdio::null()).env("SSH_ASKPASS", askpass).env("SSH_ASKPASS_REQUIRE", "force")
            }
        };
        command
    }
}

/// The terminal itself: standard input may carry something else, and OpenSSH's programs would then not ask.
fn terminal() -> Stdio {
    #[cfg(unix)]
    if let Ok(terminal) = std::fs::File::open("/dev/tty") {
        return terminal.into();
    }
    Stdio::inherit()
}

fn run(command: &mut Command, program: &Path) -> Result<Output, SigningError> {
    command.stdout(Stdio::piped());
    let child = command.spawn();
    child.and_then(std::process::Child::wait_with_output).map_err(|error| match error.kind() {
        ErrorKind::NotFound => SigningError::ProgramMissing { program: program.into() },
        _ => SigningError::ProgramFailed {
            program: program.into(),
            status: "it could not be run".into(),
            said: error.to_string(),
        },
    })
}

/// What a program said, for a message: its lines joined, without the frame that OpenSSH draws round
/// warnings, without control characters, and not too long.
pub(super) fn said(output: &Output) -> String {
    let text = String::from_utf8_lossy(&output.stderr);
    let lines = text.lines().map(str::trim).filter(|line| !line.is_empty() && !line.starts_with('@'));
    let joined = lines.collect::<Vec<_>>().join("; ");
    joined.chars().filter(|c| !crate::visible::is_hidden(*c)).take(500).collect()
}
