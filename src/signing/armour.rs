//! [`Armour`]: one SSHSIG signature as text, in the one spelling that `ssh-keygen -Y sign` writes.
//!
//! Reading it decides nothing about who signed what; [`super::verify`] does.

use std::fmt;

use base64ct::{Base64, Encoding as _};

use super::key::{KeyKind, PublicKey, shown};
use super::key_error::KeyError;
use super::site::Page;
use super::wire::{Wire, WireError};

const FIRST_LINE: &str = "-----BEGIN SSH SIGNATURE-----";
const LAST_LINE: &str = "-----END SSH SIGNATURE-----";
const LINE_LENGTH: usize = 70;
const PREAMBLE: &[u8] = b"SSHSIG";
const VERSION: u32 = 1;

/// Several times the longest that an accepted key makes.
const LONGEST: usize = 4096;

/// The bytes of one coordinate, and so of each half of a signature, on P-256.
const P256_BYTES: usize = 32;

/// The flag for "someone touched it" (`PROTOCOL.u2f`, SSH U2F Signatures; W3C WebAuthn §6.1, UP).
pub(super) const TOUCHED: u8 = 0x01;
/// The flag for "it knew who" (W3C WebAuthn §6.1, UV).
pub(super) const KNEW_WHO: u8 = 0x04;

/// The hash over the signed bytes. `PROTOCOL.sshsig` knows these two, and `ssh-keygen` writes SHA-512
/// unless told otherwise; both are sound, so both are accepted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HashName {
    /// `sha256`.
    Sha256,
    /// `sha512`.
    Sha512,
}

/// A signature in its one spelling, taken apart but not yet judged.
///
/// Invariants: the text is exactly what `ssh-keygen -Y sign` would write for these contents (first and
/// last line, 70 characters a line, LF, a final LF, nothing before or after); version 1; nothing in the
/// reserved field; every inner length used up; a key that is accepted; a signature of that key's type.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Armour {
    text: String,
    key: PublicKey,
    namespace: String,
    hash: HashName,
    pub(super) value: Value,
}

/// The signature proper.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Value {
    /// As on the wire: 64 bytes for Ed25519, two numbers for ECDSA.
    pub(super) bytes: Vec<u8>,
    /// Flags and counter of a hardware key (`PROTOCOL.u2f`).
    pub(super) hardware: Option<(u8, u32)>,
    /// What the browser put around the bytes, for a passkey.
    pub(super) page: Option<Page>,
}

impl Armour {
    /// Reads a signature file's bytes.
    ///
    /// # Errors
    /// [`ArmourError`] says what is not as `ssh-keygen -Y sign` writes it.
    pub fn parse(bytes: &[u8]) -> Result<Self, ArmourError> {
        if bytes.len() > LONGEST {
            return Err(ArmourError::TooLong { bytes: bytes.len() });
        }
        let text = std::str::from_utf8(bytes).map_err(|_| ArmourError::NotText)?;
        if text.contains('\r') {
            return Err(ArmourError::CarriageReturn);
        }
        let inner = text.strip_prefix(FIRST_LINE).and_then(|rest| rest.strip_prefix('\n'));
        let inner = inner.ok_or(ArmourError::FirstLine)?;
        let (inner, after) = inner.split_once(LAST_LINE).ok_or(ArmourError::LastLine)?;
        if after != "\n" {
            return Err(if after.is_empty() { ArmourError::LastLine } else { ArmourError::TextAfter });
        }
        let blob = Base64::decode_vec(&inner.replace('\n', "")).map_err(|_| ArmourError::NotBase64)?;
        if armoured(&blob) != text {
            return Err(ArmourError::Wrapping);
        }
        Self::take_apart(text, &blob)
    }

    fn take_apart(text: &str, blob: &[u8]) -> Result<Self, ArmourError> {
        let mut wire = Wire::new(blob);
        if wire.take(PREAMBLE.len())? != PREAMBLE {
            return Err(ArmourError::Damaged { reason: "it does not start with SSHSIG" });
        }
        match wire.uint32()? {
            VERSION => {}
            version => return Err(ArmourError::Version { version }),
        }
        let key = PublicKey::from_wire(wire.string()?).map_err(ArmourError::Key)?;
        let namespace = wire.text()?;
        if !wire.string()?.is_empty() {
            return Err(ArmourError::Reserved);
        }
        let hash = match wire.text()? {
            "sha256" => HashName::Sha256,
            "sha512" => HashName::Sha512,
            other => return Err(ArmourError::Hash { name: shown(other) }),
        };
        let value = Value::read(wire.string()?, key.kind())?;
        wire.finish()?;
        Ok(Self { text: text.into(), key, namespace: namespace.into(), hash, value })
    }

    /// The signature as text: what the file holds.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.text
    }

    /// The key that the signature says it was made with.
    #[must_use]
    pub fn key(&self) -> &PublicKey {
        &self.key
    }

    /// The namespace that the signature says it was made for; it may be any program's.
    #[must_use]
    pub fn namespace(&self) -> &str {
        &self.namespace
    }

    /// The hash over the signed bytes.
    #[must_use]
    pub fn hash(&self) -> HashName {
        self.hash
    }
}

impl Value {
    fn read(blob: &[u8], kind: KeyKind) -> Result<Self, ArmourError> {
        let mut wire = Wire::new(blob);
        let name = wire.text()?;
        if name != kind.signature_name() {
            return Err(ArmourError::KindsDiffer { key: kind, signature: shown(name) });
        }
        let bytes = wire.string()?;
        match kind {
            KeyKind::Ed25519 | KeyKind::HardwareEd25519 if bytes.len() != 64 => {
                return Err(ArmourError::Damaged { reason: "an Ed25519 signature has 64 bytes" });
            }
            KeyKind::Ed25519 | KeyKind::HardwareEd25519 => {}
            KeyKind::EcdsaP256 | KeyKind::HardwareEcdsaP256 | KeyKind::Passkey => {
                let mut numbers = Wire::new(bytes);
                numbers.positive(P256_BYTES)?;
                numbers.positive(P256_BYTES)?;
                numbers.finish()?;
            }
        }
        let hardware = if kind.is_hardware() { Some((wire.byte()?, wire.uint32()?)) } else { None };
        let page = if kind == KeyKind::Passkey { Some(Page::read(&mut wire)?) } else { None };
        wire.finish()?;
        Ok(Self { bytes: bytes.into(), hardware, page })
    }
}

/// The blob as `ssh-keygen` armours it.
fn armoured(blob: &[u8]) -> String {
    let base64 = Base64::encode_string(blob);
    let mut text = String::with_capacity(base64.len() + base64.len() / LINE_LENGTH + 64);
    text.push_str(FIRST_LINE);
    text.push('\n');
    let mut rest = base64.as_str();
    while !rest.is_empty() {
        let (line, after) = rest.split_at(rest.len().min(LINE_LENGTH));
        text.push_str(line);
        text.push('\n');
        rest = after;
    }
    text.push_str(LAST_LINE);
    text.push('\n');
    text
}

impl fmt::Display for Armour {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

/// Why bytes are not a signature in its one spelling.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum ArmourError {
    /// Far longer than any signature.
    TooLong {
        /// How long it is.
        bytes: usize,
    },
    /// Not UTF-8.
    NotText,
    /// It has carriage returns: something turned its line ends into Windows ones.
    CarriageReturn,
    /// Something stands before the first line, or it is not the first line of a signature.
    FirstLine,
    /// The last line is missing or does not end in a line end.
    LastLine,
    /// Something stands after the last line.
    TextAfter,
    /// The part between is not base64.
    NotBase64,
    /// It reads, but it is not the text that `ssh-keygen` writes for it.
    Wrapping,
    /// A version of the format that does not exist yet.
    Version {
        /// The version.
        version: u32,
    },
    /// Something stands in the field that is kept for later.
    Reserved,
    /// A hash that the format does not know.
    Hash {
        /// Its name.
        name: String,
    },
    /// The key in it is not accepted.
    Key(KeyError),
    /// The signature is of another type than the key.
    KindsDiffer {
        /// The type of the key.
        key: KeyKind,
        /// The name of the signature's type.
        signature: String,
    },
    /// The data do not hold together.
    Damaged {
        /// What does not.
        reason: &'static str,
    },
}

impl ArmourError {
    /// A stable word for programs.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::TooLong { .. } => "signature-too-long",
            Self::NotText => "signature-not-text",
            Self::CarriageReturn => "signature-carriage-return",
            Self::FirstLine => "signature-first-line",
            Self::LastLine => "signature-last-line",
            Self::TextAfter => "signature-text-after",
            Self::NotBase64 => "signature-not-base64",
            Self::Wrapping => "signature-wrapping",
            Self::Version { .. } => "signature-version",
            Self::Reserved => "signature-reserved",
            Self::Hash { .. } => "signature-hash",
            Self::Key(_) => "signature-key",
            Self::KindsDiffer { .. } => "signature-kinds-differ",
            Self::Damaged { .. } => "signature-damaged",
        }
    }

    /// How to fix it.
    #[must_use]
    pub(crate) fn remedy(&self) -> String {
        match self {
            Self::CarriageReturn => {
                "take the file from the history again with line ends left alone (git: core.autocrlf=false, \
                 or `-text` in .gitattributes)"
                    .into()
            }
            Self::Key(reason) => reason.remedy(),
            _ => "take the file from the history again as it was signed, or have it signed anew".into(),
        }
    }
}

impl fmt::Display for ArmourError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooLong { bytes } => {
                write!(
                    f,
                    "this is not a signature: it is {bytes} bytes long; a signature has at most {LONGEST}"
                )
            }
            Self::NotText => f.write_str("this is not a signature: it is not text"),
            Self::CarriageReturn => f.write_str("the signature has Windows line ends"),
            Self::FirstLine => write!(f, "the signature does not start with the line `{FIRST_LINE}`"),
            Self::LastLine => write!(f, "the signature does not end with the line `{LAST_LINE}`"),
            Self::TextAfter => f.write_str("there is text after the end of the signature"),
            Self::NotBase64 => f.write_str("the signature is not base64 between its first and last line"),
            Self::Wrapping => f.write_str("the signature is not laid out as ssh-keygen writes it"),
            Self::Version { version } => {
                write!(f, "the signature has version {version}; only {VERSION} exists")
            }
            Self::Reserved => f.write_str("the signature has something in the field that must be empty"),
            Self::Hash { name } => write!(f, "the signature uses the hash `{name}`, not sha512 or sha256"),
            Self::Key(reason) => write!(f, "the signature's key is not accepted: {reason}"),
            Self::KindsDiffer { key, signature } => {
                write!(f, "the signature is of type `{signature}`, and its key of type {key}")
            }
            Self::Damaged { reason } => write!(f, "the signature is damaged: {reason}"),
        }
    }
}

impl std::error::Error for ArmourError {}

impl From<WireError> for ArmourError {
    fn from(WireError(reason): WireError) -> Self {
        Self::Damaged { reason }
    }
}
