//! What the trust targets share: an invented shop of one person, whose key signs whatever the fuzzer makes, so that
//! the judgement behind the signature is reached.

use std::collections::BTreeMap;

use ssh_key::private::{Ed25519Keypair, KeypairData};
use ssh_key::{HashAlg, LineEnding, PrivateKey};
use underlit::digest::Sha256Digest;
use underlit::trust::chain::{Chain, Step};

/// The shop.
pub struct Shop {
    key: PrivateKey,
    /// The first roster, as its bytes.
    pub first: Vec<u8>,
}

impl Shop {
    /// Makes it, always the same.
    pub fn new() -> Shop {
        let pair = Ed25519Keypair::from_seed(&[7; 32]);
        let key = PrivateKey::new(KeypairData::from(pair), "").expect("a key");
        let public = key.public_key().to_openssh().expect("a line");
        let sealed: Vec<String> = underlit::trust::shop::SEALED
            .iter()
            .map(|path| format!("\"{path}\": \"{}\"", Sha256Digest::of(path.as_bytes())))
            .collect();
        let first = format!(
            r#"{{"$schema": "../schema/roster.schema.json", "book": "tern", "version": 1, "previous": null,
"threshold": 1, "people": [{{"id": "mara", "name": "Mara Quill", "roles": ["owner", "rep", "engineer"],
"keys": [{{"public": "{public}", "state": "active"}}]}}], "sealed": {{{}}}, "reason": "fuzz", "time": "2026-09-01T08:00:00Z"}}"#,
            sealed.join(", ")
        );
        Shop { key, first: first.into_bytes() }
    }

    /// A signature of its one key.
    pub fn sign(&self, namespace: &str, bytes: &[u8]) -> Vec<u8> {
        let signature = self.key.sign(namespace, HashAlg::Sha512, bytes).expect("signed");
        signature.to_pem(LineEnding::LF).expect("armoured").into_bytes()
    }

    /// A roster version with its owner's signature.
    pub fn step(&self, number: u32, bytes: &[u8]) -> Step {
        let signature = self.sign("underlit-roster", bytes);
        let mara = "mara".parse().expect("a name");
        (format!("roster/{number:04}.json"), bytes.to_vec(), BTreeMap::from([(mara, signature)]))
    }

    /// Its roster, of one version.
    pub fn chain(&self) -> Chain {
        Chain::of(vec![self.step(1, &self.first)]).expect("the first roster holds")
    }
}
