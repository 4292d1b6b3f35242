//! Passkeys: ECDSA P-256 signatures that a browser has a phone, a computer or a security key make for a page (W3C Web
//! Authentication, Level 2), carried as OpenSSH carries them (`PROTOCOL.u2f`, "webauthn signatures").
//!
//! The key is a hardware ECDSA key whose application is the page's site instead of `ssh:`. What the browser sealed names the
//! page and, as its challenge, the very bytes that any other SSHSIG signature is over. Everything that stock
//! `ssh-keygen -Y verify` asks is asked here, and besides, which stock tools leave to others: the page is one of the key's
//! site, it stood in no foreign frame, and the person was present and known to the device.

use base64ct::{Base64UrlUnpadded, Encoding as _};
use p256::ecdsa::signature::Verifier as _;
use serde::Deserialize;
use sha2::{Digest as _, Sha256, Sha512};

use super::armour::{Armour, HashName};
use super::key::shown;
use super::verify::{KNEW_WHO, SignatureError, TOUCHED};
use super::wire::{Wire, WireError};
use crate::digest::Sha256Digest;

/// The flag for "a new key is in it" (W3C WebAuthn §6.1, AT), which no signature has.
const NEW_KEY: u8 = 0x40;
/// The flag for "extensions follow" (W3C WebAuthn §6.1, ED).
const EXTENDED: u8 = 0x80;

/// The name of such a signature on the wire.
pub(super) const SIGNATURE_NAME: &str = "webauthn-sk-ecdsa-sha2-nistp256@openssh.com";

/// A host without its dot: the one on which a page may stand without encryption (W3C Secure Contexts §3.1).
const THIS_MACHINE: &str = "localhost";

/// What the browser put around the bytes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Page {
    /// The page's scheme, host and port.
    pub(super) origin: String,
    /// What the browser sealed, as JSON.
    client_data: Vec<u8>,
    /// What the authenticator added; no part of it is looked at.
    extensions: Vec<u8>,
}

impl Page {
    /// Reads what stands behind flags and counter.
    pub(super) fn read(wire: &mut Wire<'_>) -> Result<Self, WireError> {
        let origin = wire.text()?.to_owned();
        Ok(Self { origin, client_data: wire.string()?.into(), extensions: wire.string()?.into() })
    }
}

/// The parts of the browser's JSON that decide something (W3C WebAuthn §5.8.1); it may have others.
#[derive(Deserialize)]
struct ClientData {
    r#type: String,
    challenge: String,
    origin: String,
    #[serde(rename = "crossOrigin", default)]
    in_a_frame: bool,
    #[serde(rename = "topOrigin")]
    frame_of: Option<serde_json::Value>,
}

/// Says whether the passkey of `host` signed exactly `bytes` for `namespace`, on a page of its site.
pub(super) fn check(
    host: &str,
    namespace: &str,
    bytes: &[u8],
    armour: &Armour,
    page: &Page,
) -> Result<(), SignatureError> {
    let misfit = || SignatureError::DoesNotFit { key: armour.key().fingerprint() };
    let refuse = |reason| Err(SignatureError::Passkey { reason });
    let Some((flags, counter)) = armour.value.hardware else { return Err(misfit()) };
    if !is_page_of(&page.origin, host) {
        return Err(SignatureError::OtherSite { host: host.into(), origin: shown(&page.origin) });
    }
    let Ok(said) = serde_json::from_slice::<ClientData>(&page.client_data) else {
        return refuse("what the browser sealed is not JSON as a browser writes it");
    };
    if said.r#type != "webauthn.get" {
        return refuse("the browser was asked for something else than a signature");
    }
    if said.origin != page.origin {
        return refuse("the browser sealed another page than the signature names");
    }
    if said.in_a_frame || said.frame_of.is_some() {
        return refuse("the page stood in a frame of another site");
    }
    let challenge = Base64UrlUnpadded::encode_string(&challenge(namespace, bytes, armour.hash()));
    if said.challenge != challenge {
        return Err(misfit());
    }
    // The order and spelling of a browser, which stock tools ask for as well (W3C WebAuthn §5.8.1.1).
    let written =
        format!("{{\"type\":\"webauthn.get\",\"challenge\":\"{challenge}\",\"origin\":\"{}\"", page.origin);
    if !page.client_data.starts_with(written.as_bytes()) {
        return refuse("what the browser sealed is not laid out as a browser writes it");
    }
    if flags & NEW_KEY != 0 || (flags & EXTENDED != 0) == page.extensions.is_empty() {
        return refuse("its flags and what follows them do not agree");
    }
    if flags & TOUCHED == 0 {
        return refuse("nobody was present when it was made");
    }
    if flags & KNEW_WHO == 0 {
        return refuse("the device did not check who was there, by finger, face or PIN");
    }
    let mut signed = Sha256Digest::of(host.as_bytes()).as_bytes().to_vec();
    signed.push(flags);
    signed.extend(counter.to_be_bytes());
    signed.extend(&page.extensions);
    signed.extend(Sha256::digest(&page.client_data));
    holds(armour, &signed).ok_or_else(misfit)
}

fn holds(armour: &Armour, signed: &[u8]) -> Option<()> {
    let mut wire = Wire::new(armour.key().wire());
    let point = (wire.string().ok()?, wire.string().ok()?, wire.string().ok()?).2;
    let key = p256::ecdsa::VerifyingKey::from_sec1_bytes(point).ok()?;
    let mut numbers = Wire::new(&armour.value.bytes);
    let mut half = || {
        let number = numbers.string().ok()?;
        let number = number.strip_prefix(&[0]).unwrap_or(number);
        let mut whole = [0_u8; 32];
        whole.get_mut(32_usize.checked_sub(number.len())?..)?.copy_from_slice(number);
        Some(whole)
    };
    let signature = p256::ecdsa::Signature::from_scalars(half()?, half()?).ok()?;
    key.verify(signed, &signature).ok()
}

/// What any SSHSIG signature is over (`PROTOCOL.sshsig`).
fn challenge(namespace: &str, bytes: &[u8], hash: HashName) -> Vec<u8> {
    let (name, digest) = match hash {
        HashName::Sha256 => ("sha256", Sha256::digest(bytes).to_vec()),
        HashName::Sha512 => ("sha512", Sha512::digest(bytes).to_vec()),
    };
    let mut blob = b"SSHSIG".to_vec();
    for part in [namespace.as_bytes(), b"", name.as_bytes(), &digest] {
        blob.extend(u32::try_from(part.len()).unwrap_or(u32::MAX).to_be_bytes());
        blob.extend(part);
    }
    blob
}

/// True for a site by which a passkey may be bound: a host's name in plain lower-case letters, as browsers write it.
pub(super) fn is_site(host: &str) -> bool {
    let is_label = |label: &str| {
        (1..=63).contains(&label.len())
            && label.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-')
            && !label.starts_with('-')
            && !label.ends_with('-')
    };
    let last = host.rsplit('.').next().unwrap_or_default();
    host.len() <= 253
        && host.split('.').all(is_label)
        && (host == THIS_MACHINE || (host.contains('.') && !last.bytes().all(|b| b.is_ascii_digit())))
}

/// True for a page of the site or of a part of it: encrypted, or on this very machine (W3C WebAuthn §5.1.4, RP ID).
fn is_page_of(origin: &str, site: &str) -> bool {
    let (plain, rest) = match (origin.strip_prefix("https://"), origin.strip_prefix("http://")) {
        (Some(rest), _) => (false, rest),
        (None, Some(rest)) => (true, rest),
        (None, None) => return false,
    };
    let (host, port) = rest.split_once(':').map_or((rest, None), |(host, port)| (host, Some(port)));
    let is_port = |port: &str| {
        (1..=5).contains(&port.len()) && port.bytes().all(|b| b.is_ascii_digit()) && !port.starts_with('0')
    };
    let within = host == site || host.strip_suffix(site).is_some_and(|part| part.ends_with('.'));
    within && is_site(host) && port.is_none_or(is_port) && (!plain || host == THIS_MACHINE)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_site_is_a_plain_host() {
        for good in [
            "localhost",
            "lightworks.invalid",
            "a-b.lightworks.invalid",
            "xn--bcher-kva.invalid",
            "7.invalid",
        ] {
            assert!(is_site(good), "{good}");
        }
        let long = format!("{}.invalid", "a".repeat(64));
        for bad in [
            "",
            "invalid",
            "Lightworks.invalid",
            "lightworks.invalid.",
            ".invalid",
            "a..invalid",
            "-a.invalid",
            "a-.invalid",
            "127.0.0.1",
            "[::1]",
            "lightworks.invalid:8080",
            "https://lightworks.invalid",
            "bücher.invalid",
            "a_b.invalid",
            "ssh:",
            &long,
        ] {
            assert!(!is_site(bad), "{bad}");
        }
    }

    #[test]
    fn a_page_belongs_to_its_site_and_to_those_above_it() {
        for (origin, site, belongs) in [
            ("https://lightworks.invalid", "lightworks.invalid", true),
            ("https://lightworks.invalid:8443", "lightworks.invalid", true),
            ("https://jobs.lightworks.invalid", "lightworks.invalid", true),
            ("http://localhost", "localhost", true),
            ("http://localhost:8080", "localhost", true),
            ("https://localhost", "localhost", true),
            ("http://lightworks.invalid", "lightworks.invalid", false),
            ("https://notlightworks.invalid", "lightworks.invalid", false),
            ("https://lightworks.invalid.example.invalid", "lightworks.invalid", false),
            ("https://invalid", "lightworks.invalid", false),
            ("https://lightworks.invalid/", "lightworks.invalid", false),
            ("https://lightworks.invalid:", "lightworks.invalid", false),
            ("https://lightworks.invalid:0443", "lightworks.invalid", false),
            ("https://lightworks.invalid:8080:1", "lightworks.invalid", false),
            ("https://a@lightworks.invalid", "lightworks.invalid", false),
            ("https://.lightworks.invalid", "lightworks.invalid", false),
            ("http://jobs.localhost", "localhost", false),
            ("HTTPS://lightworks.invalid", "lightworks.invalid", false),
            ("file://", "lightworks.invalid", false),
            ("null", "localhost", false),
            ("https://lightworks.invalid\"", "lightworks.invalid", false),
        ] {
            assert_eq!(is_page_of(origin, site), belongs, "{origin} of {site}");
        }
    }
}
