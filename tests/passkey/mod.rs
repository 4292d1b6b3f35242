//! A passkey and the browser around it, without hardware: what W3C Web Authentication and OpenSSH's `PROTOCOL.u2f` and
//! `PROTOCOL.sshsig` say that the two write. Every part can be bent, one at a time.
#![allow(clippy::unwrap_used)]

use base64ct::{Base64, Base64UrlUnpadded, Encoding as _};
use p256::ecdsa::signature::Signer as _;
use p256::ecdsa::{Signature, SigningKey};
use sha2::{Digest as _, Sha256, Sha512};

/// A key on some device, for one site, and the page that asks it.
#[derive(Clone)]
pub(crate) struct Passkey {
    /// The secret number.
    pub(crate) secret: SigningKey,
    /// The site in the public key.
    pub(crate) site: String,
    /// The site that the device signs for.
    pub(crate) device_site: String,
    /// The page, as the signature names it.
    pub(crate) origin: String,
    /// The page, as the browser seals it.
    pub(crate) sealed_origin: String,
    /// The flags that are signed.
    pub(crate) flags: u8,
    /// The flags that the signature names.
    pub(crate) named_flags: Option<u8>,
    /// The counter that is signed.
    pub(crate) counter: u32,
    /// The counter that the signature names.
    pub(crate) named_counter: Option<u32>,
    /// What the device adds.
    pub(crate) extensions: Vec<u8>,
    /// What the browser was asked for.
    pub(crate) kind: String,
    /// What stands behind the page in what the browser seals.
    pub(crate) rest: String,
    /// The name of the signature's type.
    pub(crate) name: String,
}

impl Passkey {
    /// As a browser and a device write it when nothing is wrong.
    pub(crate) fn new(secret: u8, site: &str, origin: &str) -> Self {
        Self {
            secret: SigningKey::from_slice(&[secret; 32]).unwrap(),
            site: site.into(),
            device_site: site.into(),
            origin: origin.into(),
            sealed_origin: origin.into(),
            flags: 0x05,
            named_flags: None,
            counter: 0,
            named_counter: None,
            extensions: Vec::new(),
            kind: "webauthn.get".into(),
            rest: r#","crossOrigin":false}"#.into(),
            name: "webauthn-sk-ecdsa-sha2-nistp256@openssh.com".into(),
        }
    }

    pub(crate) fn wire_key(&self) -> Vec<u8> {
        let point = self.secret.verifying_key().to_encoded_point(false);
        wire(&[b"sk-ecdsa-sha2-nistp256@openssh.com", b"nistp256", point.as_bytes(), self.site.as_bytes()])
    }

    /// The public key's line.
    pub(crate) fn line(&self) -> String {
        format!("sk-ecdsa-sha2-nistp256@openssh.com {}", Base64::encode_string(&self.wire_key()))
    }

    /// A signature over bytes for a namespace, as text.
    pub(crate) fn sign(&self, namespace: &str, bytes: &[u8]) -> String {
        let mut asked = b"SSHSIG".to_vec();
        asked.extend(wire(&[namespace.as_bytes(), b"", b"sha512", &Sha512::digest(bytes)]));
        let challenge = Base64UrlUnpadded::encode_string(&asked);
        let client_data = format!(
            r#"{{"type":"{}","challenge":"{challenge}","origin":"{}"{}"#,
            self.kind, self.sealed_origin, self.rest
        );
        let mut signed = Sha256::digest(&self.device_site).to_vec();
        signed.push(self.flags);
        signed.extend(self.counter.to_be_bytes());
        signed.extend(&self.extensions);
        signed.extend(Sha256::digest(&client_data));
        let signature: Signature = self.secret.sign(&signed);
        let (r, s) = signature.split_bytes();
        let mut inner = wire(&[self.name.as_bytes(), &wire(&[&number(&r), &number(&s)])]);
        inner.push(self.named_flags.unwrap_or(self.flags));
        inner.extend(self.named_counter.unwrap_or(self.counter).to_be_bytes());
        if self.name.starts_with("webauthn-") {
            inner.extend(wire(&[self.origin.as_bytes(), client_data.as_bytes(), &self.extensions]));
        }
        let mut blob = b"SSHSIG\x00\x00\x00\x01".to_vec();
        blob.extend(wire(&[&self.wire_key(), namespace.as_bytes(), b"", b"sha512", &inner]));
        armoured(&blob)
    }
}

/// SSH's `string` for each part (RFC 4251, section 5).
fn wire(parts: &[&[u8]]) -> Vec<u8> {
    let mut blob = Vec::new();
    for part in parts {
        blob.extend(u32::try_from(part.len()).unwrap().to_be_bytes());
        blob.extend(*part);
    }
    blob
}

/// An `mpint` (RFC 4251, section 5).
fn number(bytes: &[u8]) -> Vec<u8> {
    let start = bytes.iter().position(|byte| *byte != 0).unwrap();
    let value = &bytes[start..];
    if value[0] >= 0x80 { [&[0], value].concat() } else { value.to_vec() }
}

fn armoured(blob: &[u8]) -> String {
    let data = Base64::encode_string(blob);
    let lines: Vec<&str> =
        data.as_bytes().chunks(70).map(|line| std::str::from_utf8(line).unwrap()).collect();
    format!("-----BEGIN SSH SIGNATURE-----\n{}\n-----END SSH SIGNATURE-----\n", lines.join("\n"))
}
