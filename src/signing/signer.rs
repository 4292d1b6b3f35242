//! [`Signer`]: one person's key, ready to sign; through `ssh-keygen`, or in this process without it.

use std::fs;
use std::path::Path;
use std::process::Output;

use super::armour::Armour;
use super::failure::SigningError;
use super::in_process;
use super::key::PublicKey;
use super::key_file::{self, Found, KeyFile};
use super::namespace::Namespace;
use super::toolbox::{Toolbox, said};
use super::verify::{SignatureError, verify};

/// A key with which signatures can be made.
///
/// `ssh-keygen` does it where it is installed: it asks the agent first, then the file, and asks the person
/// for a passphrase or a touch. Where it is missing, a key in a file is used in this process.
pub struct Signer<'a> {
    toolbox: &'a Toolbox<'a>,
    key: PublicKey,
    comment: String,
    source: Source,
}

enum Source {
    File(Box<KeyFile>),
    Agent,
}

impl<'a> Signer<'a> {
    /// The key in that file: a private key, or the `.pub` file of a key beside it or in the agent.
    ///
    /// # Errors
    /// Where there is no such key, it is of a kind that is not accepted, others may read it, or its
    /// private half is nowhere to be found.
    pub fn from_file(path: &Path, toolbox: &'a Toolbox<'a>) -> Result<Self, SigningError> {
        match key_file::read(path)? {
            Found::Private(file) => Ok(Self {
                toolbox,
                key: file.key.clone(),
                comment: file.comment.clone(),
                source: Source::File(file),
            }),
            Found::Public(key, comment) => {
                let signer = Self::from_agent(&key, toolbox).map_err(|error| match error {
                    SigningError::AgentUnreachable { socket: None, .. } => {
                        SigningError::NotInAgent { fingerprint: key.fingerprint() }
                    }
                    other => other,
                })?;
                Ok(Self { comment, ..signer })
            }
        }
    }

    /// That key, held by the agent.
    ///
    /// # Errors
    /// Where no agent answers, or it does not hold the key.
    pub fn from_agent(key: &PublicKey, toolbox: &'a Toolbox<'a>) -> Result<Self, SigningError> {
        let held = toolbox.agent_keys()?;
        let comment = held
            .iter()
            .filter_map(|line| PublicKey::from_line(line).ok())
            .find_map(|(held, comment)| (held == *key).then_some(comment))
            .ok_or_else(|| SigningError::NotInAgent { fingerprint: key.fingerprint() })?;
        Ok(Self { toolbox, key: key.clone(), comment, source: Source::Agent })
    }

    /// The public key of every signature that it makes.
    #[must_use]
    pub fn key(&self) -> &PublicKey {
        &self.key
    }

    /// The key's comment; it may be empty.
    #[must_use]
    pub fn comment(&self) -> &str {
        &self.comment
    }

    /// Signs exactly these bytes for that purpose; returns only a signature that [`verify`] accepts.
    ///
    /// # Errors
    /// Where the person, the agent, the hardware or the program did not sign, or a signature came out
    /// that does not hold.
    pub fn sign(&self, namespace: &Namespace, bytes: &[u8]) -> Result<Armour, SigningError> {
        let armour = match (self.through_ssh_keygen(namespace, bytes), &self.source) {
            (Err(SigningError::ProgramMissing { .. }), Source::File(file))
                if !self.key.kind().is_hardware() =>
            {
                in_process::sign(file, self.toolbox, namespace, bytes)?
            }
            (made, _) => made?,
        };
        verify(&self.key, namespace, bytes, &armour).map_err(|reason| SigningError::Unsound { reason })?;
        Ok(armour)
    }

    fn through_ssh_keygen(&self, namespace: &Namespace, bytes: &[u8]) -> Result<Armour, SigningError> {
        // A file, not standard input: that must stay the terminal, or no passphrase is asked for.
        let scratch = &self.toolbox.scratch;
        let failed = |error: std::io::Error| SigningError::NotWritten {
            path: scratch.clone(),
            reason: error.to_string(),
        };
        let folder = tempfile::Builder::new().prefix("signing-").tempdir_in(scratch).map_err(failed)?;
        let statement = folder.path().join("statement");
        fs::write(&statement, bytes).map_err(failed)?;
        let public = folder.path().join("key.pub");
        let key = match &self.source {
            Source::File(file) => &file.path,
            Source::Agent => {
                fs::write(&public, format!("{}\n", self.key)).map_err(failed)?;
                &public
            }
        };
        let output = self.toolbox.run_ssh_keygen(
            |command| {
                command.args(["-q", "-Y", "sign", "-f"]).arg(key);
                command.args(["-n", namespace.as_str()]).arg(&statement);
            },
            self.key.kind().is_hardware(),
        )?;
        if !output.status.success() {
            return Err(self.reason(&output));
        }
        let made = fs::read(folder.path().join("statement.sig")).map_err(failed)?;
        Armour::parse(&made)
            .map_err(|reason| SigningError::Unsound { reason: SignatureError::Armour(reason) })
    }

    /// Tells the usual reasons apart by what `ssh-keygen` says; its messages are never translated.
    fn reason(&self, output: &Output) -> SigningError {
        let said = said(output);
        match &self.source {
            _ if said.contains("agent refused") => {
                SigningError::AgentRefused { fingerprint: self.key.fingerprint() }
            }
            Source::File(file) if said.contains("incorrect passphrase") => {
                let path = file.path.clone();
                match self.toolbox.asking {
                    super::Asking::Never => SigningError::PassphraseNeeded { path },
                    _ => SigningError::PassphraseWrong { path },
                }
            }
            Source::Agent if said.contains("No private key found") => {
                SigningError::NotInAgent { fingerprint: self.key.fingerprint() }
            }
            _ => SigningError::ProgramFailed {
                program: self.toolbox.ssh_keygen.clone(),
                status: output.status.to_string(),
                said,
            },
        }
    }
}
