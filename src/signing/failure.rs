//! [`SigningError`]: why no signature or key was made, with what to do about it.

use std::fmt;
use std::path::PathBuf;

use super::key_error::KeyError;
use super::verify::SignatureError;

/// Why no signature or key was made, or no key was found.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum SigningError {
    /// The person has no key that can sign here.
    NoKey {
        /// Where keys were looked for.
        looked: Vec<String>,
        /// What was found there and set aside, one line each.
        set_aside: Vec<String>,
    },
    /// There is no file of that name.
    KeyNotFound {
        /// The file.
        path: PathBuf,
    },
    /// The file cannot be read, or is no key.
    KeyUnreadable {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        reason: String,
    },
    /// Others than its owner may read the private key.
    WrongPermissions {
        /// The file.
        path: PathBuf,
        /// Its permissions, as in chmod(1).
        mode: u32,
    },
    /// The private key is in a format from before OpenSSH's own.
    OldFormat {
        /// The file.
        path: PathBuf,
    },
    /// The key is of a kind that is not accepted.
    KeyRefused {
        /// Where it is: a file, or the agent.
        place: String,
        /// Why.
        reason: KeyError,
    },
    /// The passphrase does not open the key.
    PassphraseWrong {
        /// The file.
        path: PathBuf,
    },
    /// The key has a passphrase, or should have one, and there is nobody to ask for it.
    PassphraseNeeded {
        /// The file.
        path: PathBuf,
    },
    /// The agent does not answer.
    AgentUnreachable {
        /// Its socket, where there is one.
        socket: Option<PathBuf>,
        /// What it or the program that asked it said.
        said: String,
    },
    /// The agent holds the key and would not sign: not confirmed, locked, or its hardware is away.
    AgentRefused {
        /// The key's fingerprint.
        fingerprint: String,
    },
    /// The private half of the key is neither beside its public half nor in the agent.
    NotInAgent {
        /// The key's fingerprint.
        fingerprint: String,
    },
    /// A program that is needed is not installed.
    ProgramMissing {
        /// The program.
        program: PathBuf,
    },
    /// A program ended with an error.
    ProgramFailed {
        /// The program.
        program: PathBuf,
        /// How it ended, as the system says it.
        status: String,
        /// What it said; empty where it spoke to the terminal.
        said: String,
    },
    /// A signature was made but does not hold, so it was thrown away.
    Unsound {
        /// Why it does not hold.
        reason: SignatureError,
    },
    /// There is a key of that name already.
    KeyExists {
        /// The file.
        path: PathBuf,
    },
    /// The comment for a new key cannot be used.
    CommentRefused,
    /// A file that is needed on the way cannot be written.
    NotWritten {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        reason: String,
    },
}

impl SigningError {
    /// A stable word for programs.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::NoKey { .. } => "signing-no-key",
            Self::KeyNotFound { .. } => "signing-key-not-found",
            Self::KeyUnreadable { .. } => "signing-key-unreadable",
            Self::WrongPermissions { .. } => "signing-key-permissions",
            Self::OldFormat { .. } => "signing-key-old-format",
            Self::KeyRefused { reason, .. } => reason.code(),
            Self::PassphraseWrong { .. } => "signing-passphrase-wrong",
            Self::PassphraseNeeded { .. } => "signing-passphrase-needed",
            Self::AgentUnreachable { .. } => "signing-agent-unreachable",
            Self::AgentRefused { .. } => "signing-agent-refused",
            Self::NotInAgent { .. } => "signing-key-not-in-agent",
            Self::ProgramMissing { .. } => "signing-program-missing",
            Self::ProgramFailed { .. } => "signing-program-failed",
            Self::Unsound { .. } => "signing-unsound",
            Self::KeyExists { .. } => "signing-key-exists",
            Self::CommentRefused => "signing-comment-refused",
            Self::NotWritten { .. } => "signing-not-written",
        }
    }

    /// How to fix it.
    #[must_use]
    pub fn remedy(&self) -> String {
        match self {
            Self::NoKey { .. } => {
                "make a key: ssh-keygen -t ed25519; or name the one that you have: --key FILE".into()
            }
            Self::KeyNotFound { path } => {
                format!("check the name, or make the key: ssh-keygen -t ed25519 -f {}", path.display())
            }
            Self::KeyUnreadable { .. } => {
                "name a private key in OpenSSH's format, or the .pub file of a key that the agent holds"
                    .into()
            }
            Self::WrongPermissions { path, .. } => format!("chmod 600 {}", path.display()),
            Self::OldFormat { path } => {
                format!("bring it into today's format, keeping the key: ssh-keygen -p -f {}", path.display())
            }
            Self::KeyRefused { reason, .. } => reason.remedy(),
            Self::PassphraseWrong { path } => {
                format!("try again, or let the agent hold the key: ssh-add {}", path.display())
            }
            Self::PassphraseNeeded { path } => {
                format!("sign at a terminal, or let the agent hold the key: ssh-add {}", path.display())
            }
            Self::AgentUnreachable { .. } => {
                "start the agent (eval \"$(ssh-agent)\") and add the key (ssh-add), or name a key file".into()
            }
            Self::AgentRefused { .. } => {
                "confirm or touch when asked; unlock the agent (ssh-add -X); see that the hardware key is \
                 plugged in"
                    .into()
            }
            Self::NotInAgent { .. } => {
                "add the key to the agent (ssh-add), plug in its hardware (ssh-add -K), or name the private \
                 key's file"
                    .into()
            }
            Self::ProgramMissing { .. } => "install OpenSSH's client programs, 8.2 or newer".into(),
            Self::ProgramFailed { .. } => {
                "fix what the program says; signing needs OpenSSH 8.2 or newer (ssh -V), and a hardware key \
                 must be plugged in and touched"
                    .into()
            }
            Self::Unsound { .. } => {
                "see that the .pub file beside the private key belongs to it: ssh-keygen -y -f KEY".into()
            }
            Self::KeyExists { .. } => "use that key, or give another name; a key is never overwritten".into(),
            Self::CommentRefused => "give a short comment on one line, like a name and a machine".into(),
            Self::NotWritten { .. } => "see that the folder exists, is yours and has room".into(),
        }
    }
}

impl fmt::Display for SigningError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoKey { looked, set_aside } => {
                write!(f, "there is no key to sign with (looked in: {})", looked.join(", "))?;
                set_aside.iter().try_for_each(|line| write!(f, "; {line}"))
            }
            Self::KeyNotFound { path } => write!(f, "there is no key file `{}`", path.display()),
            Self::KeyUnreadable { path, reason } => {
                write!(f, "`{}` cannot be used as a key: {reason}", path.display())
            }
            Self::WrongPermissions { path, mode } => write!(
                f,
                "the private key `{}` may be read by others (permissions {mode:03o})",
                path.display()
            ),
            Self::OldFormat { path } => {
                write!(f, "the private key `{}` is in a format from before OpenSSH's own", path.display())
            }
            Self::KeyRefused { place, reason } => write!(f, "the key in {place} cannot sign here: {reason}"),
            Self::PassphraseWrong { path } => {
                write!(f, "the passphrase does not open the key `{}`", path.display())
            }
            Self::PassphraseNeeded { path } => {
                write!(
                    f,
                    "the key `{}` needs a passphrase, and there is no terminal to ask at",
                    path.display()
                )
            }
            Self::AgentUnreachable { socket, said } => {
                match socket {
                    Some(socket) => write!(f, "the SSH agent at `{}` does not answer", socket.display())?,
                    None => f.write_str("no SSH agent is running")?,
                }
                if said.is_empty() { Ok(()) } else { write!(f, ": {said}") }
            }
            Self::AgentRefused { fingerprint } => {
                write!(f, "the SSH agent holds the key {fingerprint} but refused to sign with it")
            }
            Self::NotInAgent { fingerprint } => {
                write!(f, "the private half of {fingerprint} is neither in a file beside it nor in the agent")
            }
            Self::ProgramMissing { program } => {
                write!(f, "the program `{}` is needed and not installed", program.display())
            }
            Self::ProgramFailed { program, status, said } => {
                write!(f, "`{}` failed ({status})", program.display())?;
                if said.is_empty() { Ok(()) } else { write!(f, ": {said}") }
            }
            Self::Unsound { reason } => {
                write!(f, "a signature was made and discarded, because it is not valid: {reason}")
            }
            Self::KeyExists { path } => write!(f, "there is a key `{}` already", path.display()),
            Self::CommentRefused => f.write_str(
                "the comment for the new key is too long or has characters that cannot be shown safely",
            ),
            Self::NotWritten { path, reason } => {
                write!(f, "`{}` cannot be written: {reason}", path.display())
            }
        }
    }
}

impl std::error::Error for SigningError {}
