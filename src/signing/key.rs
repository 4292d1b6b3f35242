//! [`PublicKey`]: the keys whose signatures count, in one spelling each.
//!
//! Which key belongs to whom is the roster's business, not this file's.

use std::fmt;
use std::str::FromStr;

use base64ct::{Base64, Base64Unpadded, Encoding as _};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::key_error::KeyError;
use super::site;
use super::wire::{Wire, WireError};
use crate::digest::Sha256Digest;
use crate::visible::{is_hidden, on_one_line};

/// Longer than any accepted key with a long comment.
const LONGEST_LINE: usize = 4096;

/// What OpenSSH asks of the application of a hardware key (ssh-keygen(1), FIDO AUTHENTICATOR).
const SSH_APPLICATION: &str = "ssh:";

/// The types of key that are accepted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum KeyKind {
    /// `ssh-ed25519`.
    Ed25519,
    /// `ecdsa-sha2-nistp256`.
    EcdsaP256,
    /// `sk-ssh-ed25519@openssh.com`: Ed25519 on a hardware key.
    HardwareEd25519,
    /// `sk-ecdsa-sha2-nistp256@openssh.com`: ECDSA P-256 on a hardware key.
    HardwareEcdsaP256,
    /// The same type with a site in place of SSH: a passkey, with which a browser signs on that site's pages.
    Passkey,
}

impl KeyKind {
    /// Every accepted type.
    pub(crate) const ALL: &'static [Self] =
        &[Self::Ed25519, Self::EcdsaP256, Self::HardwareEd25519, Self::HardwareEcdsaP256, Self::Passkey];

    /// The type's name on the wire and at the start of a public key line.
    #[must_use]
    pub(crate) fn ssh_name(self) -> &'static str {
        match self {
            Self::Ed25519 => "ssh-ed25519",
            Self::EcdsaP256 => "ecdsa-sha2-nistp256",
            Self::HardwareEd25519 => "sk-ssh-ed25519@openssh.com",
            Self::HardwareEcdsaP256 | Self::Passkey => "sk-ecdsa-sha2-nistp256@openssh.com",
        }
    }

    /// The name of its signatures on the wire.
    pub(super) fn signature_name(self) -> &'static str {
        if self == Self::Passkey { site::SIGNATURE_NAME } else { self.ssh_name() }
    }

    /// True where the secret lives on a hardware key that can ask for a touch.
    #[must_use]
    pub fn is_hardware(self) -> bool {
        matches!(self, Self::HardwareEd25519 | Self::HardwareEcdsaP256 | Self::Passkey)
    }

    /// The type of that name, or why it is not accepted.
    fn named(name: &str) -> Result<Self, KeyError> {
        if let Some(kind) = Self::ALL.iter().copied().find(|kind| kind.ssh_name() == name) {
            return Ok(kind);
        }
        Err(match name {
            "ssh-rsa" | "rsa-sha2-256" | "rsa-sha2-512" => KeyError::Rsa,
            "ssh-dss" => KeyError::Dsa,
            _ if name.contains("-cert-v") => KeyError::Certificate,
            _ if name.starts_with("ecdsa-sha2-") => KeyError::Curve { name: shown(name) },
            _ => KeyError::UnknownType { name: shown(name) },
        })
    }
}

impl fmt::Display for KeyKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Ed25519 => "Ed25519",
            Self::EcdsaP256 => "ECDSA P-256",
            Self::HardwareEd25519 => "hardware Ed25519",
            Self::HardwareEcdsaP256 => "hardware ECDSA P-256",
            Self::Passkey => "passkey",
        })
    }
}

/// A public key whose signatures are accepted: Ed25519 or ECDSA P-256, in software or hardware-backed.
///
/// It is a sound point of its curve and, for hardware, was made for SSH or for a site. Two equal keys have one text:
/// the type, one blank and padded base64. A comment is no part of it.
///
/// # Example
/// ```
/// use underlit::signing::PublicKey;
///
/// let line = "ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAILM+rvN+ot98qgEN796jTiQfZfG1KaT0PtFDJ/XFSqti desk";
/// let (key, comment) = PublicKey::from_line(line)?;
/// assert_eq!(comment, "desk");
/// assert_eq!(format!("{key} desk"), line);
/// assert_eq!(key.fingerprint(), "SHA256:UCUiLr7Pjs9wFFJMDByLgc3NrtdU344OgUM45wZPcIQ");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct PublicKey {
    kind: KeyKind,
    /// The wire form, all of whose bytes were checked.
    blob: Vec<u8>,
}

impl PublicKey {
    /// Reads one line as a `.pub` file has it: type, base64 and, if there is one, a comment.
    ///
    /// Blanks around it and between its parts do not matter. The comment may be empty.
    ///
    /// # Errors
    /// [`KeyError`] says why the key is not accepted.
    pub fn from_line(line: &str) -> Result<(Self, String), KeyError> {
        let line = line.trim();
        if line.is_empty() {
            return Err(KeyError::Empty);
        }
        if line.starts_with("-----BEGIN") && line.contains("PRIVATE KEY") {
            return Err(KeyError::PrivateKey);
        }
        if line.contains(['\n', '\r']) {
            return Err(KeyError::ManyLines);
        }
        if line.len() > LONGEST_LINE {
            return Err(KeyError::TooLong);
        }
        let (name, rest) = line.split_once([' ', '\t']).unwrap_or((line, ""));
        let rest = rest.trim_start();
        let (data, comment) = rest.split_once([' ', '\t']).unwrap_or((rest, ""));
        let comment = comment.trim();
        let kind = KeyKind::named(name).map_err(|refused| match refused {
            // `from="…" ssh-ed25519 AAAA…`: the type is there, but something stands before it.
            KeyError::UnknownType { .. } if KeyKind::named(data).is_ok() => KeyError::Options,
            KeyError::UnknownType { .. } if name.contains(['=', ',', '"']) => KeyError::Options,
            other => other,
        })?;
        let blob = Base64::decode_vec(data).map_err(|_| KeyError::NotBase64)?;
        if Base64::encode_string(&blob) != data {
            return Err(KeyError::NotBase64);
        }
        let key = Self::from_wire(&blob)?;
        if key.kind.ssh_name() != kind.ssh_name() {
            return Err(KeyError::TypesDiffer { said: name.into(), found: key.kind.ssh_name().into() });
        }
        if comment.chars().any(is_hidden) {
            return Err(KeyError::Comment);
        }
        Ok((key, comment.into()))
    }

    /// Reads the wire form: what the base64 of a public key line holds.
    ///
    /// # Errors
    /// [`KeyError`] says why the key is not accepted.
    pub fn from_wire(blob: &[u8]) -> Result<Self, KeyError> {
        let mut wire = Wire::new(blob);
        let mut kind = KeyKind::named(wire.text()?)?;
        match kind {
            KeyKind::Ed25519 | KeyKind::HardwareEd25519 => check_ed25519(wire.string()?)?,
            KeyKind::EcdsaP256 | KeyKind::HardwareEcdsaP256 | KeyKind::Passkey => {
                if wire.string()? != b"nistp256" {
                    return Err(KeyError::Damaged { reason: "it names another curve than its type" });
                }
                check_p256(wire.string()?)?;
            }
        }
        if kind.is_hardware() {
            let application = wire.text()?;
            let is_for_ssh = application.starts_with(SSH_APPLICATION) && !application.chars().any(is_hidden);
            kind = match kind {
                _ if is_for_ssh => kind,
                KeyKind::HardwareEcdsaP256 if site::is_site(application) => KeyKind::Passkey,
                _ => return Err(KeyError::Application { application: shown(application) }),
            };
        }
        wire.finish()?;
        Ok(Self { kind, blob: blob.into() })
    }

    /// The key's type.
    #[must_use]
    pub fn kind(&self) -> KeyKind {
        self.kind
    }

    /// The wire form.
    #[must_use]
    pub fn wire(&self) -> &[u8] {
        &self.blob
    }

    /// The site of a passkey, on whose pages it signs; none for any other key.
    #[must_use]
    pub fn site(&self) -> Option<&str> {
        let mut wire = Wire::new(&self.blob);
        let parts = [wire.string(), wire.string(), wire.string(), wire.string()];
        parts[3]
            .ok()
            .filter(|_| self.kind == KeyKind::Passkey)
            .and_then(|site| std::str::from_utf8(site).ok())
    }

    /// The fingerprint in digits, to be read out and compared on the telephone: five times five, in any language.
    ///
    /// Each group is five bytes of the same SHA-256, as a number, to its last five digits. That is 83 bits: nobody finds
    /// another key with the same digits.
    #[must_use]
    pub fn digits(&self) -> String {
        let digest = Sha256Digest::of(&self.blob);
        let group = |five: &[u8]| five.iter().fold(0_u64, |n, byte| n << 8 | u64::from(*byte)) % 100_000;
        let groups = digest.as_bytes()[..25].chunks(5).map(|five| format!("{:05}", group(five)));
        groups.collect::<Vec<_>>().join(" ")
    }

    /// The fingerprint as `ssh-keygen -l` shows it: `SHA256:` and 43 characters.
    #[must_use]
    pub fn fingerprint(&self) -> String {
        format!("SHA256:{}", Base64Unpadded::encode_string(Sha256Digest::of(&self.blob).as_bytes()))
    }
}

impl fmt::Display for PublicKey {
    /// The one spelling, without a comment.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.kind.ssh_name(), Base64::encode_string(&self.blob))
    }
}

impl fmt::Debug for PublicKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "PublicKey({self})")
    }
}

impl FromStr for PublicKey {
    type Err = KeyError;

    /// Reads the one spelling only; [`PublicKey::from_line`] reads what people have.
    fn from_str(text: &str) -> Result<Self, KeyError> {
        let (key, _) = Self::from_line(text)?;
        if key.to_string() == text { Ok(key) } else { Err(KeyError::NotCanonical) }
    }
}

impl Serialize for PublicKey {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for PublicKey {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?.parse().map_err(serde::de::Error::custom)
    }
}

impl From<WireError> for KeyError {
    fn from(WireError(reason): WireError) -> Self {
        Self::Damaged { reason }
    }
}

/// A point of small order verifies signatures that nobody made (RFC 8032 §8.4 and its references), and a
/// coordinate of the field's size or more would give one key two texts.
fn check_ed25519(bytes: &[u8]) -> Result<(), KeyError> {
    let bytes = bytes.try_into().map_err(|_| KeyError::Damaged { reason: "an Ed25519 key has 32 bytes" })?;
    let point = ed25519_dalek::VerifyingKey::from_bytes(bytes).map_err(|_| KeyError::Weak)?;
    if point.is_weak() || point.to_edwards().compress().as_bytes() != bytes {
        return Err(KeyError::Weak);
    }
    Ok(())
}

/// OpenSSH writes and reads the uncompressed form only (RFC 5656 §3.1 leaves the other optional).
fn check_p256(bytes: &[u8]) -> Result<(), KeyError> {
    if bytes.len() != 65 || bytes[0] != 4 {
        return Err(KeyError::Damaged { reason: "a P-256 key is an uncompressed point of 65 bytes" });
    }
    p256::ecdsa::VerifyingKey::from_sec1_bytes(bytes).map_err(|_| KeyError::Weak)?;
    Ok(())
}

/// A word of someone else's for a message: short, and safe on a screen.
pub(super) fn shown(text: &str) -> String {
    on_one_line(&text.chars().take(60).collect::<String>())
}
