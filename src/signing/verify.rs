//! [`verify`]: did this key sign exactly these bytes for this purpose? From bytes alone.
//!
//! Whether the key's owner had any right to sign is not decided here.

use std::fmt;

use ssh_key::{Algorithm, EcdsaCurve, HashAlg, Signature, SshSig};

use super::armour::{Armour, ArmourError, HashName, KNEW_WHO, TOUCHED};
use super::key::{KeyKind, PublicKey, shown};
use super::namespace::Namespace;
use super::passkey::{self, Flaw};

/// A signature that holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Verified {
    /// What the hardware key said, where one signed.
    pub hardware: Option<Hardware>,
    /// The page on which a passkey signed: its scheme, host and port.
    pub page: Option<String>,
}

/// What a hardware key says of the moment of signing; sealed by the signature.
///
/// A key may be set up not to ask for a touch, and a signature without one still holds (stock
/// `ssh-keygen -Y verify` accepts it too): whoever asks decides what that is worth.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hardware {
    /// Someone touched the key.
    pub touched: bool,
    /// The key checked who that was, by PIN or finger.
    pub knew_who: bool,
    /// How often the key has signed, as far as it counts.
    pub counter: u32,
}

/// Says whether `key` signed exactly `bytes` for `namespace`.
///
/// The signature's own key and namespace must be those given; the hash and the rest come from it.
///
/// # Errors
/// [`SignatureError`] says in what it does not hold.
pub fn verify(
    key: &PublicKey,
    namespace: &Namespace,
    bytes: &[u8],
    armour: &Armour,
) -> Result<Verified, SignatureError> {
    verify_for(key, namespace.as_str(), bytes, armour)
}

/// [`verify`] from the bytes of the signature file.
///
/// # Errors
/// [`SignatureError`]; [`SignatureError::Armour`] where the file is no signature in its one spelling.
pub fn verify_text(
    key: &PublicKey,
    namespace: &Namespace,
    bytes: &[u8],
    signature_file: &[u8],
) -> Result<Verified, SignatureError> {
    verify(key, namespace, bytes, &Armour::parse(signature_file)?)
}

fn verify_for(
    key: &PublicKey,
    namespace: &str,
    bytes: &[u8],
    armour: &Armour,
) -> Result<Verified, SignatureError> {
    if armour.key() != key {
        return Err(SignatureError::OtherKey {
            expected: key.fingerprint(),
            found: armour.key().fingerprint(),
        });
    }
    if armour.namespace() != namespace {
        return Err(SignatureError::OtherNamespace {
            expected: namespace.into(),
            found: shown(armour.namespace()),
        });
    }
    let misfit = || SignatureError::DoesNotFit { key: key.fingerprint() };
    match (key.site(), &armour.value.page) {
        (Some(site), Some(page)) => {
            passkey::check(site, namespace, bytes, armour, page).map_err(|flaw| match flaw {
                Flaw::DoesNotFit => misfit(),
                Flaw::Sealed(reason) => SignatureError::Passkey { reason },
                Flaw::OtherSite => {
                    SignatureError::OtherSite { host: site.into(), origin: shown(&page.origin) }
                }
            })?;
        }
        _ => check(key, namespace, bytes, armour).map_err(|_| misfit())?,
    }
    Ok(Verified {
        hardware: armour.value.hardware.map(|(flags, counter)| Hardware {
            touched: flags & TOUCHED != 0,
            knew_who: flags & KNEW_WHO != 0,
            counter,
        }),
        page: armour.value.page.as_ref().map(|page| page.origin.clone()),
    })
}

/// The cryptography, by the crate `ssh-key`, from parts that were all read strictly.
///
/// The parts are handed over one by one because its own reader of hardware ECDSA signatures and its
/// writer disagree (0.6.7), so that it cannot be asked for the text again.
fn check(key: &PublicKey, namespace: &str, bytes: &[u8], armour: &Armour) -> Result<(), ssh_key::Error> {
    let algorithm = match key.kind() {
        KeyKind::Ed25519 => Algorithm::Ed25519,
        KeyKind::EcdsaP256 => Algorithm::Ecdsa { curve: EcdsaCurve::NistP256 },
        KeyKind::HardwareEd25519 => Algorithm::SkEd25519,
        KeyKind::HardwareEcdsaP256 | KeyKind::Passkey => Algorithm::SkEcdsaSha2NistP256,
    };
    let hash = match armour.hash() {
        HashName::Sha256 => HashAlg::Sha256,
        HashName::Sha512 => HashAlg::Sha512,
    };
    let mut value = armour.value.bytes.clone();
    if let Some((flags, counter)) = armour.value.hardware {
        value.push(flags);
        value.extend(counter.to_be_bytes());
    }
    let public = ssh_key::PublicKey::from_bytes(key.wire())?;
    let signature =
        SshSig::new(public.key_data().clone(), namespace, hash, Signature::new(algorithm, value)?)?;
    public.verify(namespace, bytes, &signature)
}

/// Why a signature does not hold.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum SignatureError {
    /// It is no signature in its one spelling.
    Armour(ArmourError),
    /// It was made with another key.
    OtherKey {
        /// The fingerprint that was asked for.
        expected: String,
        /// The fingerprint in the signature.
        found: String,
    },
    /// It was made for another purpose.
    OtherNamespace {
        /// The namespace that was asked for.
        expected: String,
        /// The namespace in the signature.
        found: String,
    },
    /// It is not this key's signature over these bytes: one of them was changed.
    DoesNotFit {
        /// The key's fingerprint.
        key: String,
    },
    /// A passkey signed on a page of another site.
    OtherSite {
        /// The key's site.
        host: String,
        /// The page.
        origin: String,
    },
    /// What browser and device sealed with a passkey's signature is not enough.
    Passkey {
        /// In what.
        reason: &'static str,
    },
}

impl SignatureError {
    /// A stable word for programs.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::Armour(reason) => reason.code(),
            Self::OtherKey { .. } => "signature-other-key",
            Self::OtherNamespace { .. } => "signature-other-namespace",
            Self::DoesNotFit { .. } => "signature-does-not-fit",
            Self::OtherSite { .. } => "signature-other-site",
            Self::Passkey { .. } => "signature-passkey",
        }
    }

    /// How to fix it.
    #[must_use]
    pub fn remedy(&self) -> String {
        match self {
            Self::Armour(reason) => reason.remedy(),
            Self::OtherKey { .. } => "have it signed with the key that the roster names".into(),
            Self::OtherNamespace { .. } => "have it signed again for what it is meant to approve".into(),
            Self::DoesNotFit { .. } => {
                "find in the history who changed the file or its signature, and have it signed again".into()
            }
            Self::OtherSite { .. } => {
                "have it signed on a page of the site for which the passkey was made".into()
            }
            Self::Passkey { .. } => {
                "have it signed again in the packet's own page, with the passkey and its finger, face or PIN"
                    .into()
            }
        }
    }
}

impl fmt::Display for SignatureError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Armour(reason) => reason.fmt(f),
            Self::OtherKey { expected, found } => {
                write!(f, "the signature was made with the key {found}, not with {expected}")
            }
            Self::OtherNamespace { expected, found } => {
                write!(f, "the signature was made for `{found}`, not for `{expected}`")
            }
            Self::DoesNotFit { key } => {
                write!(f, "the signature does not fit: these are not the bytes that {key} signed")
            }
            Self::OtherSite { host, origin } => {
                write!(f, "the passkey is for {host}, and it signed on a page of {origin}")
            }
            Self::Passkey { reason } => write!(f, "the passkey's signature does not count: {reason}"),
        }
    }
}

impl std::error::Error for SignatureError {}

impl From<ArmourError> for SignatureError {
    fn from(reason: ArmourError) -> Self {
        Self::Armour(reason)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Made with OpenSSH and with a real hardware key; from the tests of the crate `ssh-key` 0.6.7
    /// (`tests/examples/sshsig_*` and `id_*.pub`), message `testing`, namespace `example`.
    const SAMPLES: &[(&str, &str)] = &[
        (
            "ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAILM+rvN+ot98qgEN796jTiQfZfG1KaT0PtFDJ/XFSqti",
            "-----BEGIN SSH SIGNATURE-----
U1NIU0lHAAAAAQAAADMAAAALc3NoLWVkMjU1MTkAAAAgsz6u836i33yqAQ3v3qNOJB9l8b
UppPQ+0UMn9cVKq2IAAAAHZXhhbXBsZQAAAAAAAAAGc2hhNTEyAAAAUwAAAAtzc2gtZWQy
NTUxOQAAAEBPEav+tMGNnox4MuzM7rlHyVBajCn8B0kAyiOWwPKprNsG3i6X+voz/WCSik
/FowYwqhgCABUJSvRX3AERVBUP
-----END SSH SIGNATURE-----
",
        ),
        (
            "ecdsa-sha2-nistp256 AAAAE2VjZHNhLXNoYTItbmlzdHAyNTYAAAAIbmlzdHAyNTYAAABBBHwf2HMM5TRXvo2SQJjs\
             NkiDD5KqiiNjrGVv3UUh+mMT5RHxiRtOnlqvjhQtBq0VpmpCV/PwUdhOig4vkbqAcEc=",
            "-----BEGIN SSH SIGNATURE-----
U1NIU0lHAAAAAQAAAGgAAAATZWNkc2Etc2hhMi1uaXN0cDI1NgAAAAhuaXN0cDI1NgAAAE
EEfB/YcwzlNFe+jZJAmOw2SIMPkqqKI2OsZW/dRSH6YxPlEfGJG06eWq+OFC0GrRWmakJX
8/BR2E6KDi+RuoBwRwAAAAdleGFtcGxlAAAAAAAAAAZzaGE1MTIAAABjAAAAE2VjZHNhLX
NoYTItbmlzdHAyNTYAAABIAAAAID884rM9MmiHWlfwoX+JY6rrivMILmCEganDbXs6ShAB
AAAAIEYXgcOegKAJkfP1P7kw2AnlEIY0hRwtUm7moeouFySh
-----END SSH SIGNATURE-----
",
        ),
        (
            "sk-ssh-ed25519@openssh.com AAAAGnNrLXNzaC1lZDI1NTE5QG9wZW5zc2guY29tAAAAINSoElFleH+nN83FoLqqep\
             JjN+y7Gs5lrn7qXjBqQZyuAAAABHNzaDo=",
            "-----BEGIN SSH SIGNATURE-----
U1NIU0lHAAAAAQAAAEoAAAAac2stc3NoLWVkMjU1MTlAb3BlbnNzaC5jb20AAAAg1KgSUW
V4f6c3zcWguqp6kmM37LsazmWufupeMGpBnK4AAAAEc3NoOgAAAAdleGFtcGxlAAAAAAAA
AAZzaGE1MTIAAABnAAAAGnNrLXNzaC1lZDI1NTE5QG9wZW5zc2guY29tAAAAQC9WcLb5NG
XRdCOHinQIS/MxdnAx7SQMYnyOt5q4+huTWh/Zk/UvWhP+wXl/ikNPlDpgliRq6o3VyKqS
LLo9lQYBAAAACQ==
-----END SSH SIGNATURE-----
",
        ),
    ];

    #[test]
    fn samples_of_other_makers_hold() {
        for (key, text) in SAMPLES {
            let key: PublicKey = key.parse().expect("a sound key");
            let armour = Armour::parse(text.as_bytes()).expect("as ssh-keygen writes it");
            let verified = verify_for(&key, "example", b"testing", &armour).expect("it holds");
            let hardware =
                key.kind().is_hardware().then_some(Hardware { touched: true, knew_who: false, counter: 9 });
            assert_eq!(verified.hardware, hardware, "of {key}");
            for (namespace, message) in [("example", &b"Testing"[..]), ("exampl", b"testing")] {
                assert!(verify_for(&key, namespace, message, &armour).is_err(), "{namespace} of {key}");
            }
        }
    }

    #[test]
    fn another_key_is_told_from_another_message() {
        let key: PublicKey = SAMPLES[1].0.parse().expect("a sound key");
        let armour = Armour::parse(SAMPLES[0].1.as_bytes()).expect("as ssh-keygen writes it");
        let refused = verify_for(&key, "example", b"testing", &armour).expect_err("another key");
        assert_eq!(refused.code(), "signature-other-key");
        let namespace = Namespace::of_role("engineer").expect("a plain word");
        let key: PublicKey = SAMPLES[0].0.parse().expect("a sound key");
        let refused = verify(&key, &namespace, b"testing", &armour).expect_err("another purpose");
        assert_eq!(refused.code(), "signature-other-namespace");
        let refused = verify_for(&key, "example", b"", &armour).expect_err("another message");
        assert_eq!(refused.code(), "signature-does-not-fit");
    }

    #[test]
    fn the_samples_have_no_second_spelling() {
        for (_, text) in SAMPLES {
            let lines: Vec<&str> = text.lines().collect();
            let data = lines[1..lines.len() - 1].concat();
            let (first, last) = (lines[0], lines[lines.len() - 1]);
            for (other, code) in [
                (text.replace('\n', "\r\n"), "signature-carriage-return"),
                (format!("{text}\n"), "signature-text-after"),
                (format!("{text}and a note\n"), "signature-text-after"),
                (format!("{text}{text}"), "signature-text-after"),
                (format!("\n{text}"), "signature-first-line"),
                (format!("\u{feff}{text}"), "signature-first-line"),
                (text.trim_end().into(), "signature-last-line"),
                (format!("{first}\n{data}\n{last}\n"), "signature-wrapping"),
                (format!("{first}\n{}\n{}\n{last}\n", &data[..64], &data[64..]), "signature-wrapping"),
                (text.replacen('\n', "\n\n", 1), "signature-wrapping"),
                (text.replacen('\n', " \n", 1), "signature-first-line"),
                (text.replacen("AAAA", "AA AA", 1), "signature-not-base64"),
                (text.replace("END SSH", "END SSH2"), "signature-last-line"),
                (String::new(), "signature-first-line"),
                ("x".repeat(5000), "signature-too-long"),
            ] {
                let refused = Armour::parse(other.as_bytes()).expect_err("another spelling");
                assert_eq!(refused.code(), code, "{other}");
            }
            assert_eq!(Armour::parse(&[0xff, 0xfe]).expect_err("no text").code(), "signature-not-text");
        }
    }
}
