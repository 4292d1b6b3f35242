//! [`find_identities`]: which keys the person at this machine can sign with.

use std::collections::BTreeSet;
use std::fmt;
use std::path::{Path, PathBuf};

use super::failure::SigningError;
use super::key::PublicKey;
use super::key_file::{self, Found};
use super::signer::Signer;
use super::toolbox::Toolbox;

/// The names that `ssh-keygen` gives to new keys (ssh-keygen(1), FILES), best first; the last two only to
/// be able to say why they are not taken.
const USUAL_NAMES: &[&str] = &["id_ed25519", "id_ecdsa", "id_ed25519_sk", "id_ecdsa_sk", "id_rsa", "id_dsa"];

/// A key that the person can sign with.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Identity {
    /// The public key.
    pub key: PublicKey,
    /// Its comment; it may be empty.
    pub comment: String,
    /// The private key's file, where there is one.
    pub file: Option<PathBuf>,
    /// The agent holds it.
    pub in_agent: bool,
    /// Its file has a passphrase.
    pub locked: bool,
}

impl Identity {
    /// The key, ready to sign.
    ///
    /// # Errors
    /// As [`Signer::from_file`] and [`Signer::from_agent`]: things may have changed since it was found.
    pub fn signer<'a>(&self, toolbox: &'a Toolbox<'a>) -> Result<Signer<'a>, SigningError> {
        match &self.file {
            Some(file) => Signer::from_file(file, toolbox),
            None => Signer::from_agent(&self.key, toolbox),
        }
    }
}

/// Where a key, or a reason to have none, was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Place {
    /// In a file.
    File(PathBuf),
    /// In the agent.
    Agent,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::File(path) => write!(f, "`{}`", path.display()),
            Self::Agent => f.write_str("the agent"),
        }
    }
}

/// Something that was found and cannot be used.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SetAside {
    /// Where.
    pub place: Place,
    /// Why not.
    pub reason: SigningError,
}

/// What [`find_identities`] found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Identities {
    /// The keys that can sign: files in OpenSSH's usual order, then what only the agent holds, in its order.
    pub usable: Vec<Identity>,
    /// What cannot be used, and why.
    pub set_aside: Vec<SetAside>,
    /// Where keys were looked for.
    pub looked: Vec<String>,
}

impl Identities {
    /// The key to take when nobody said which.
    ///
    /// # Errors
    /// [`SigningError::NoKey`], with what was set aside and why.
    pub fn first(&self) -> Result<&Identity, SigningError> {
        self.usable.first().ok_or_else(|| SigningError::NoKey {
            looked: self.looked.clone(),
            set_aside: self.set_aside.iter().map(|aside| aside.reason.to_string()).collect(),
        })
    }

    /// The first key that is one of these, such as those that a roster names for a person.
    #[must_use]
    pub fn among<'k>(&self, keys: impl IntoIterator<Item = &'k PublicKey>) -> Option<&Identity> {
        let keys: BTreeSet<&PublicKey> = keys.into_iter().collect();
        self.usable.iter().find(|identity| keys.contains(&identity.key))
    }
}

/// Finds the person's usual keys in `home` and in the toolbox's agent.
///
/// Nothing is asked of the person, and nothing that is found there is an error: a key that cannot be used
/// is set aside with the reason.
#[must_use]
pub fn find_identities(home: &Path, toolbox: &Toolbox<'_>) -> Identities {
    let folder = home.join(".ssh");
    let mut found =
        Identities { usable: Vec::new(), set_aside: Vec::new(), looked: vec![folder.display().to_string()] };
    let held = agent_identities(toolbox, &mut found);
    for name in USUAL_NAMES {
        let path = folder.join(name);
        match key_file::read(&path) {
            Ok(Found::Private(file)) => found.usable.push(Identity {
                in_agent: held.iter().any(|held| held.key == file.key),
                locked: file.private.is_encrypted(),
                key: file.key,
                comment: file.comment,
                file: Some(path),
            }),
            Ok(Found::Public(key, _)) if held.iter().any(|held| held.key == key) => {}
            Ok(Found::Public(key, _)) => found.set_aside.push(SetAside {
                place: Place::File(key_file::beside(&path)),
                reason: SigningError::NotInAgent { fingerprint: key.fingerprint() },
            }),
            Err(SigningError::KeyNotFound { .. }) => {}
            Err(reason) => found.set_aside.push(SetAside { place: Place::File(path), reason }),
        }
    }
    for identity in held {
        if !found.usable.iter().any(|usable| usable.key == identity.key) {
            found.usable.push(identity);
        }
    }
    found
}

fn agent_identities(toolbox: &Toolbox<'_>, found: &mut Identities) -> Vec<Identity> {
    let Some(socket) = &toolbox.agent_socket else { return Vec::new() };
    found.looked.push(format!("the agent at {}", socket.display()));
    let lines = toolbox.agent_keys().unwrap_or_else(|reason| {
        found.set_aside.push(SetAside { place: Place::Agent, reason });
        Vec::new()
    });
    let mut held = Vec::new();
    for line in lines {
        match PublicKey::from_line(&line) {
            Ok((key, comment)) => {
                held.push(Identity { key, comment, file: None, in_agent: true, locked: false });
            }
            Err(reason) => found.set_aside.push(SetAside {
                place: Place::Agent,
                reason: SigningError::KeyRefused { place: Place::Agent.to_string(), reason },
            }),
        }
    }
    held
}
