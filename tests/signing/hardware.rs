//! Hardware-backed signatures, made here in software as `PROTOCOL.u2f` describes, judged by us and by stock
//! `ssh-keygen`. (A signature of a real hardware key is among the samples in the room's own tests.)

use ed25519_dalek::Signer as _;
use underlit::digest::Sha256Digest;
use underlit::signing::{Armour, Hardware, Namespace, PublicKey, verify};

use crate::enrolment::wire;
use crate::workshop::{STATEMENT, Workshop, armoured, engineer};

/// A hardware key without the hardware.
pub(crate) enum Token {
    Ed25519(Box<ed25519_dalek::SigningKey>),
    P256(Box<p256::ecdsa::SigningKey>),
}

impl Token {
    pub(crate) fn both() -> [Self; 2] {
        [
            Self::Ed25519(Box::new(ed25519_dalek::SigningKey::from_bytes(&[7; 32]))),
            Self::P256(Box::new(p256::ecdsa::SigningKey::from_slice(&[7; 32]).unwrap())),
        ]
    }

    fn name(&self) -> &'static str {
        match self {
            Self::Ed25519(_) => "sk-ssh-ed25519@openssh.com",
            Self::P256(_) => "sk-ecdsa-sha2-nistp256@openssh.com",
        }
    }

    fn wire_key(&self) -> Vec<u8> {
        let name = self.name().as_bytes();
        match self {
            Self::Ed25519(key) => wire(&[name, key.verifying_key().as_bytes(), b"ssh:"]),
            Self::P256(key) => {
                let point = key.verifying_key().to_encoded_point(false);
                wire(&[name, b"nistp256", point.as_bytes(), b"ssh:"])
            }
        }
    }

    pub(crate) fn key(&self) -> PublicKey {
        PublicKey::from_wire(&self.wire_key()).unwrap()
    }

    /// `PROTOCOL.u2f`, SSH U2F Signatures: the token signs the hash of the application, the flags, the
    /// counter and the hash of the message; the message is `PROTOCOL.sshsig`'s.
    pub(crate) fn signature(&self, namespace: &Namespace, bytes: &[u8], flags: u8, counter: u32) -> Vec<u8> {
        let hash = {
            use sha2::Digest as _;
            sha2::Sha512::digest(bytes)
        };
        let mut message = b"SSHSIG".to_vec();
        message.extend(wire(&[namespace.as_str().as_bytes(), b"", b"sha512", &hash]));
        let mut signed = Sha256Digest::of(b"ssh:").as_bytes().to_vec();
        signed.push(flags);
        signed.extend(counter.to_be_bytes());
        signed.extend(Sha256Digest::of(&message).as_bytes());
        let value = match self {
            Self::Ed25519(key) => key.sign(&signed).to_bytes().to_vec(),
            Self::P256(key) => {
                let signature: p256::ecdsa::Signature = key.sign(&signed);
                let (r, s) = signature.split_bytes();
                wire(&[&number(&r), &number(&s)])
            }
        };
        let mut inner = wire(&[self.name().as_bytes(), &value]);
        inner.push(flags);
        inner.extend(counter.to_be_bytes());
        let mut blob = b"SSHSIG\x00\x00\x00\x01".to_vec();
        blob.extend(wire(&[&self.wire_key(), namespace.as_str().as_bytes(), b"", b"sha512", &inner]));
        armoured(&blob)
    }
}

/// An `mpint` (RFC 4251 §5).
fn number(bytes: &[u8]) -> Vec<u8> {
    let start = bytes.iter().position(|byte| *byte != 0).unwrap();
    let value = &bytes[start..];
    if value[0] >= 0x80 { [&[0], value].concat() } else { value.to_vec() }
}

#[test]
fn touch_and_counter_are_reported_and_stock_tools_agree() {
    let workshop = Workshop::new();
    for token in Token::both() {
        for (flags, touched, knew_who) in [(0x01, true, false), (0x05, true, true), (0x00, false, false)] {
            let text = token.signature(&engineer(), STATEMENT, flags, 300);
            let armour = Armour::parse(&text).unwrap();
            let verified = verify(&token.key(), &engineer(), STATEMENT, &armour).unwrap();
            assert_eq!(verified.hardware, Some(Hardware { touched, knew_who, counter: 300 }));
            assert!(workshop.stock_accepts(&token.key(), &engineer(), STATEMENT, &text), "{}", token.name());
        }
    }
}

/// The flags are sealed: a signature made without a touch cannot be dressed up as one with.
#[test]
fn a_touch_cannot_be_added_afterwards() {
    let workshop = Workshop::new();
    for token in Token::both() {
        let text = token.signature(&engineer(), STATEMENT, 0, 300);
        let mut blob = crate::workshop::blob(&Armour::parse(&text).unwrap());
        let flags = blob.len() - 5;
        blob[flags] = 1;
        let text = armoured(&blob);
        let refused =
            verify(&token.key(), &engineer(), STATEMENT, &Armour::parse(&text).unwrap()).unwrap_err();
        assert_eq!(refused.code(), "signature-does-not-fit");
        assert!(!workshop.stock_accepts(&token.key(), &engineer(), STATEMENT, &text));
    }
}
