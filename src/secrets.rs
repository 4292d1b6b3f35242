//! Private keys, known by their text, so that none gets into a book, from which nothing is ever taken out again.
//! Verbs, `check`, `sync` and the guard ask here about every file that is as large as an attachment may be.

use memchr::memmem;

/// True where a text holds a private key: PEM of any kind, OpenSSH's own form, or PuTTY's; also within other text, and
/// as 16-bit text.
#[must_use]
pub(crate) fn holds_private_key(bytes: &[u8]) -> bool {
    let holds = |bytes: &[u8]| {
        let pem = memmem::find_iter(bytes, b"-----BEGIN ").any(|at| {
            let line: &[u8] = bytes.get(at..(at + 80).min(bytes.len())).unwrap_or_default();
            memmem::find(line, b"PRIVATE KEY").is_some()
        });
        pem || memmem::find(bytes, b"PuTTY-User-Key-File-").is_some()
    };
    // As 16-bit text, in pieces that overlap by more than the line that begins a key.
    let wide = bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]);
    let narrow = |at: usize| -> Vec<u8> {
        let piece = bytes.get(at..(at + PIECE + OVERLAP).min(bytes.len())).unwrap_or_default();
        piece.iter().copied().filter(|b| *b != 0).collect()
    };
    holds(bytes) || wide && (0..bytes.len()).step_by(PIECE).any(|at| holds(&narrow(at)))
}

/// How much of a 16-bit text is held at once beside it, in bytes.
const PIECE: usize = 1 << 20;

/// How much of the next piece belongs to one.
const OVERLAP: usize = 256;

/// The fault of a file that holds one.
#[must_use]
pub(crate) fn fault(path: &str) -> crate::fault::Fault {
    crate::fault::Fault::trust("private-key", "this file holds a private key, and a book shows everything to everybody")
        .in_file(path)
        .fix("take it out of the folder; where others have seen it, make another key and retire this one: underlit roster --help")
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
        // Wherever it begins: at the start, across the ends of pieces, and as the last thing of a long file.
        for before in [0, 1, PIECE - 100, PIECE - 1, PIECE, PIECE + OVERLAP - 1, 3 * PIECE + 17] {
            let long: Vec<u8> = std::iter::repeat_n(b'x', before).chain(pem("RSA ").bytes()).collect();
            assert!(holds_private_key(&long), "{before}");
            let wide: Vec<u8> = [0xfe, 0xff].into_iter().chain(long.iter().flat_map(|b| [0, *b])).collect();
            assert!(holds_private_key(&wide), "{before}, wide");
            let cut = &long[..long.len() - 30];
            assert!(!holds_private_key(cut), "{before}, cut");
        }
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
