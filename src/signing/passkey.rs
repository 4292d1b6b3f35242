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

use super::armour::{Armour, HashName, KNEW_WHO, TOUCHED};
use super::site::{Page, is_page_of};
use super::wire::Wire;
use crate::digest::Sha256Digest;

/// The flag for "a new key is in it" (W3C WebAuthn §6.1, AT), which no signature has.
const NEW_KEY: u8 = 0x40;
/// The flag for "extensions follow" (W3C WebAuthn §6.1, ED).
const EXTENDED: u8 = 0x80;

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

/// Why a passkey's signature does not count.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Flaw {
    /// The page is of another site.
    OtherSite,
    /// What browser and device sealed is not enough, in what.
    Sealed(&'static str),
    /// It is not over these bytes.
    DoesNotFit,
}

/// Says whether the passkey of `host` signed exactly `bytes` for `namespace`, on a page of its site.
pub(super) fn check(
    host: &str,
    namespace: &str,
    bytes: &[u8],
    armour: &Armour,
    page: &Page,
) -> Result<(), Flaw> {
    let refuse = |reason| Err(Flaw::Sealed(reason));
    let Some((flags, counter)) = armour.value.hardware else { return Err(Flaw::DoesNotFit) };
    if !is_page_of(&page.origin, host) {
        return Err(Flaw::OtherSite);
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
        return Err(Flaw::DoesNotFit);
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
    holds(armour, &signed).ok_or(Flaw::DoesNotFit)
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
