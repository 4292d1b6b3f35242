//! Private keys, known by their text, so that none gets into a book, from which nothing is ever taken out again.

/// The longest file that is searched when others bring it, in bytes; keys are far shorter.
pub const LONGEST_SEARCHED: u64 = 1 << 20;

/// True where a text holds a private key: PEM of any kind, OpenSSH's own form, or PuTTY's; also within other text, and
/// as 16-bit text.
#[must_use]
pub fn holds_private_key(bytes: &[u8]) -> bool {
    let holds = |bytes: &[u8]| {
        let pem = places(bytes, b"-----BEGIN ").any(|at| {
            let line: &[u8] = bytes.get(at..(at + 80).min(bytes.len())).unwrap_or_default();
            places(line, b"PRIVATE KEY").next().is_some()
        });
        pem || places(bytes, b"PuTTY-User-Key-File-").next().is_some()
    };
    if holds(bytes) {
        return true;
    }
    let wide = bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]);
    wide && holds(&bytes.iter().copied().filter(|b| *b != 0).collect::<Vec<u8>>())
}

/// Where a word begins in a text.
fn places<'b>(bytes: &'b [u8], word: &'b [u8]) -> impl Iterator<Item = usize> + 'b {
    let first = word.first().copied().unwrap_or_default();
    bytes
        .iter()
        .enumerate()
        .filter(move |(_, b)| **b == first)
        .map(|(at, _)| at)
        .filter(move |at| bytes.get(*at..).is_some_and(|rest| rest.starts_with(word)))
}

/// The fault of a file that holds one.
#[must_use]
pub fn fault(path: &str) -> crate::fault::Fault {
    crate::fault::Fault::trust("private-key", "this file holds a private key, and a book shows everything to everybody")
        .in_file(path)
        .mend("take it out of the folder; where others have seen it, make another key and retire this one: underlit roster --help")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_are_known_and_other_text_is_not() {
        // Put together here, so that no file of the project looks like a key.
        let pem = |kind: &str| format!("-----BEGIN {kind}PRIVATE{}-----\nAAAA\n", " KEY");
        for kind in ["", "RSA ", "EC ", "OPENSSH ", "ENCRYPTED "] {
            assert!(holds_private_key(pem(kind).as_bytes()), "{kind}");
            assert!(holds_private_key(format!("{{\"note\": \"x {}\"}}", pem(kind)).as_bytes()), "{kind}");
        }
        assert!(holds_private_key(format!("PuTTY-User-{}: ssh-ed25519", "Key-File-3").as_bytes()));
        let wide: Vec<u8> = [0xff, 0xfe].into_iter().chain(pem("").bytes().flat_map(|b| [b, 0])).collect();
        assert!(holds_private_key(&wide));
        for text in [
            "",
            "-----BEGIN CERTIFICATE-----",
            "-----BEGIN SSH SIGNATURE-----",
            "a private key",
            "ssh-ed25519 AAAA",
        ] {
            assert!(!holds_private_key(text.as_bytes()), "{text}");
        }
    }
}
