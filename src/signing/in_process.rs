//! Signing and making keys without `ssh-keygen`, where it is not installed: file keys only.

use std::path::Path;

use ssh_key::rand_core::OsRng;
use ssh_key::{Algorithm, HashAlg, LineEnding, PrivateKey};

use super::armour::Armour;
use super::failure::SigningError;
use super::key_file::KeyFile;
use super::namespace::Namespace;
use super::toolbox::Toolbox;
use super::verify::SignatureError;

/// Signs with a key from a file, asking for its passphrase where it has one.
pub(super) fn sign(
    file: &KeyFile,
    toolbox: &Toolbox<'_>,
    namespace: &Namespace,
    bytes: &[u8],
) -> Result<Armour, SigningError> {
    let unlocked = unlock(file, toolbox)?;
    let failed = |error: ssh_key::Error| SigningError::KeyUnreadable {
        path: file.path.clone(),
        reason: format!("signing with it failed ({error})"),
    };
    let signature = unlocked.sign(namespace.as_str(), HashAlg::Sha512, bytes).map_err(failed)?;
    let mut text = signature.to_pem(LineEnding::LF).map_err(failed)?;
    if !text.ends_with('\n') {
        text.push('\n');
    }
    Armour::parse(text.as_bytes())
        .map_err(|reason| SigningError::Unsound { reason: SignatureError::Armour(reason) })
}

fn unlock(file: &KeyFile, toolbox: &Toolbox<'_>) -> Result<PrivateKey, SigningError> {
    if !file.private.is_encrypted() {
        return Ok(file.private.clone());
    }
    let passphrase = toolbox
        .passphrase(&file.path)
        .ok_or_else(|| SigningError::PassphraseNeeded { path: file.path.clone() })?;
    file.private.decrypt(passphrase).map_err(|_| SigningError::PassphraseWrong { path: file.path.clone() })
}

/// A new Ed25519 key: the private key's text, locked where there is a passphrase, and the public line.
pub(super) fn new_key(
    path: &Path,
    comment: &str,
    passphrase: Option<&str>,
) -> Result<(impl AsRef<[u8]> + use<>, String), SigningError> {
    let failed = |error: ssh_key::Error| SigningError::NotWritten {
        path: path.into(),
        reason: format!("no key could be made ({error})"),
    };
    let mut key = PrivateKey::random(&mut OsRng, Algorithm::Ed25519).map_err(failed)?;
    key.set_comment(comment);
    let public = key.public_key().to_openssh().map_err(failed)?;
    if let Some(passphrase) = passphrase.filter(|passphrase| !passphrase.is_empty()) {
        key = key.encrypt(&mut OsRng, passphrase).map_err(failed)?;
    }
    let private = key.to_openssh(LineEnding::LF).map_err(failed)?;
    // Kept in the buffer that wipes itself when dropped.
    Ok((Wiped(private), public))
}

/// The text of a private key, wiped from memory when dropped.
struct Wiped<T>(T);

impl<T: std::ops::Deref<Target = String>> AsRef<[u8]> for Wiped<T> {
    fn as_ref(&self) -> &[u8] {
        self.0.as_bytes()
    }
}
