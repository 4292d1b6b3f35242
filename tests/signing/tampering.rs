//! Nothing that was changed is accepted: not a bit of the statement, not a bit of the signature, not its
//! layout, not another key or purpose.

use proptest::prelude::*;
use underlit::signing::{Armour, Namespace, PublicKey, verify, verify_text};

use crate::hardware::Token;
use crate::passkey::Passkey;
use crate::workshop::{STATEMENT, Workshop, armoured, blob, engineer, public};

/// One signed statement of each type of key.
fn signed(workshop: &Workshop) -> Vec<(PublicKey, Armour)> {
    let mut signed = Vec::new();
    for path in [workshop.ed25519("ed"), workshop.p256("ec")] {
        let text = workshop.stock_signature(&path, &engineer(), STATEMENT);
        signed.push((public(&path), Armour::parse(&text).unwrap()));
    }
    for token in Token::both() {
        let text = token.signature(&engineer(), STATEMENT, 1, 9);
        signed.push((token.key(), Armour::parse(&text).unwrap()));
    }
    let passkey = Passkey::new(7, "lightworks.invalid", "https://lightworks.invalid");
    let text = passkey.sign(engineer().as_str(), STATEMENT);
    signed.push((passkey.line().parse().unwrap(), Armour::parse(text.as_bytes()).unwrap()));
    signed
}

#[test]
fn every_changed_byte_of_the_statement_is_refused_by_both() {
    let workshop = Workshop::new();
    for (key, armour) in signed(&workshop) {
        let text = armour.as_str().as_bytes();
        assert!(workshop.stock_accepts(&key, &engineer(), STATEMENT, text), "{key}");
        for at in 0..STATEMENT.len() {
            let mut other = STATEMENT.to_vec();
            for bit in 0..8 {
                other[at] = STATEMENT[at] ^ (1 << bit);
                let refused = verify(&key, &engineer(), &other, &armour).unwrap_err();
                assert_eq!(refused.code(), "signature-does-not-fit");
            }
            assert!(!workshop.stock_accepts(&key, &engineer(), &other, text), "byte {at} for {key}");
        }
        for other in [&STATEMENT[1..], &STATEMENT[..STATEMENT.len() - 1], &[STATEMENT, b"\n"].concat()] {
            assert!(verify(&key, &engineer(), other, &armour).is_err());
            assert!(!workshop.stock_accepts(&key, &engineer(), other, text));
        }
    }
}

/// Every bit of the signature's data, laid out again as `ssh-keygen` would: refused by both.
#[test]
fn every_changed_byte_of_the_signature_is_refused_by_both() {
    let workshop = Workshop::new();
    for (key, armour) in signed(&workshop) {
        let data = blob(&armour);
        assert_eq!(armoured(&data), armour.as_str().as_bytes());
        for at in 0..data.len() {
            let mut other = data.clone();
            for bit in 0..8 {
                other[at] = data[at] ^ (1 << bit);
                let text = armoured(&other);
                assert!(verify_text(&key, &engineer(), STATEMENT, &text).is_err(), "byte {at} bit {bit}");
            }
            let text = armoured(&other);
            assert!(!workshop.stock_accepts(&key, &engineer(), STATEMENT, &text), "byte {at} for {key}");
        }
    }
}

/// Every bit of the signature's file as it lies on the disk.
#[test]
fn every_changed_byte_of_the_signature_file_is_refused() {
    let workshop = Workshop::new();
    for (key, armour) in signed(&workshop) {
        let text = armour.as_str().as_bytes();
        for at in 0..text.len() {
            for bit in 0..8 {
                let mut other = text.to_vec();
                other[at] ^= 1 << bit;
                assert!(verify_text(&key, &engineer(), STATEMENT, &other).is_err(), "byte {at} bit {bit}");
            }
            let shorter = [&text[..at], &text[at + 1..]].concat();
            assert!(verify_text(&key, &engineer(), STATEMENT, &shorter).is_err(), "without byte {at}");
        }
    }
}

/// Layouts that stock `ssh-keygen -Y verify` takes and we do not: why reading is strict at all.
#[test]
fn a_signature_has_one_layout_though_stock_tools_take_more() {
    let workshop = Workshop::new();
    for (key, armour) in signed(&workshop) {
        let text = armour.as_str();
        for (layout, code, stock) in [
            (format!("{text}a note that nobody signed\n"), "signature-text-after", true),
            (text.replacen("\n", "\n\n", 1), "signature-wrapping", true),
            (text.replace('\n', "\r\n"), "signature-carriage-return", false),
            (format!("a note that nobody signed\n{text}"), "signature-first-line", false),
        ] {
            let refused = verify_text(&key, &engineer(), STATEMENT, layout.as_bytes()).unwrap_err();
            assert_eq!(refused.code(), code);
            let took = workshop.stock_accepts(&key, &engineer(), STATEMENT, layout.as_bytes());
            assert_eq!(took, stock, "{layout}");
        }
    }
}

#[test]
fn another_purpose_or_key_is_refused_by_both() {
    let workshop = Workshop::new();
    let signed = signed(&workshop);
    let purposes = [
        Namespace::of_role("rep").unwrap(),
        Namespace::of_role("enginee").unwrap(),
        Namespace::roster(),
        Namespace::stage_move(),
    ];
    for (key, armour) in &signed {
        for purpose in &purposes {
            let refused = verify(key, purpose, STATEMENT, armour).unwrap_err();
            assert_eq!(refused.code(), "signature-other-namespace");
            assert!(!workshop.stock_accepts(key, purpose, STATEMENT, armour.as_str().as_bytes()));
        }
        for (other, _) in signed.iter().filter(|(other, _)| other != key) {
            let refused = verify(other, &engineer(), STATEMENT, armour).unwrap_err();
            assert_eq!(refused.code(), "signature-other-key");
            assert!(!workshop.stock_accepts(other, &engineer(), STATEMENT, armour.as_str().as_bytes()));
        }
    }
}

/// An RSA signature is no signature here, though stock tools take it.
#[test]
fn an_rsa_signature_is_refused() {
    let workshop = Workshop::new();
    let path = workshop.stock_key("rsa", &["rsa", "-b", "2048"], "");
    let text = workshop.stock_signature(&path, &engineer(), STATEMENT);
    let refused = Armour::parse(&text).unwrap_err();
    assert_eq!(refused.code(), "signature-key");
    assert!(refused.to_string().contains("RSA keys are not accepted"), "{refused}");
}

/// Inner fields that must be as they are: version, reserved field, hash, numbers in shortest form.
#[test]
fn loose_inner_forms_are_refused() {
    let workshop = Workshop::new();
    for (key, armour) in signed(&workshop) {
        let data = blob(&armour);
        let mut version = data.clone();
        version[9] = 2;
        let at = data.windows(6).position(|part| part == b"sha512").unwrap();
        let mut hash = data.clone();
        hash[at..at + 6].copy_from_slice(b"sha384");
        let reserved = [&data[..at - 8], &[0, 0, 0, 1, b'x'], &data[at - 4..]].concat();
        let longer = [&data[..], &[0]].concat();
        // The same byte inside the signature's own length: ssh-keygen refuses it as well.
        let mut inner = longer.clone();
        let length = u32::try_from(data.len() - at - 10).unwrap();
        assert_eq!(data[at + 6..at + 10], length.to_be_bytes());
        inner[at + 6..at + 10].copy_from_slice(&(length + 1).to_be_bytes());
        assert!(!workshop.stock_accepts(&key, &engineer(), STATEMENT, &armoured(&inner)));
        for (other, code) in [
            (version, "signature-version"),
            (hash, "signature-hash"),
            (reserved, "signature-reserved"),
            (longer, "signature-damaged"),
            (inner, "signature-damaged"),
            (data[..data.len() - 1].to_vec(), "signature-damaged"),
        ] {
            let refused = verify_text(&key, &engineer(), STATEMENT, &armoured(&other)).unwrap_err();
            assert_eq!(refused.code(), code, "{refused}");
            assert!(!refused.remedy().is_empty());
        }
    }
}

/// One edit of a text: put in, take out, or change some bytes.
fn edit() -> impl Strategy<Value = (prop::sample::Index, usize, Vec<u8>)> {
    let piece = prop_oneof![
        prop::collection::vec(any::<u8>(), 0..4),
        prop::sample::select(vec![&b"\n"[..], b"\r", b"=", b"AAAA", b" ", b"-----", b"\xef\xbb\xbf"])
            .prop_map(<[u8]>::to_vec),
    ];
    (any::<prop::sample::Index>(), 0..4_usize, piece)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4000))]

    /// Reading never panics; what is read is exactly what was given; another reader then takes it too; and
    /// no edited signature verifies.
    #[test]
    fn edited_signatures_never_verify(edits in prop::collection::vec(edit(), 1..4), which in 0..2_usize) {
        let token = &Token::both()[which];
        let text = token.signature(&engineer(), STATEMENT, 1, 9);
        let mut other = text.clone();
        for (at, take, put) in edits {
            let at = at.index(other.len() + 1);
            let end = (at + take).min(other.len());
            other.splice(at..end, put);
        }
        if let Ok(armour) = Armour::parse(&other) {
            prop_assert_eq!(armour.as_str().as_bytes(), &other[..]);
            prop_assert!(ssh_key::SshSig::from_pem(&other).is_ok());
        }
        if other != text {
            prop_assert!(verify_text(&token.key(), &engineer(), STATEMENT, &other).is_err());
        }
    }

    /// The same for the data under the armour, where every edit gets past the layout.
    #[test]
    fn edited_data_never_verify(edits in prop::collection::vec(edit(), 1..4), which in 0..2_usize) {
        let token = &Token::both()[which];
        let text = token.signature(&engineer(), STATEMENT, 1, 9);
        let data = blob(&Armour::parse(&text).unwrap());
        let mut other = data.clone();
        for (at, take, put) in edits {
            let at = at.index(other.len() + 1);
            let end = (at + take).min(other.len());
            other.splice(at..end, put);
        }
        if other != data {
            prop_assert!(verify_text(&token.key(), &engineer(), STATEMENT, &armoured(&other)).is_err());
        }
    }

    /// Reading a key never panics, and a key that is read has one spelling.
    #[test]
    fn any_key_line_is_read_or_refused(line in "\\PC{0,80}", data in prop::collection::vec(any::<u8>(), 0..120)) {
        let read = [PublicKey::from_line(&line).map(|(key, _)| key), PublicKey::from_wire(&data)];
        for key in read.into_iter().flatten() {
            prop_assert_eq!(key.to_string().parse::<PublicKey>(), Ok(key));
        }
    }
}
