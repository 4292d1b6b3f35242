//! The SHA-256 digest that names what people said and pins what they signed.
//!
//! Ground, like the units: every room may stand on it. It hashes bytes that it is handed and knows no
//! file. What is deliberately absent: any other hash, and any upper-case or shortened form that could
//! be read back in as if it were the whole.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer};
use sha2::{Digest as _, Sha256};

/// How many characters [`Sha256Digest::short`] gives.
const SHORT: usize = 12;

/// A SHA-256 digest (FIPS 180-4), written as 64 lower-case hexadecimal digits.
///
/// One spelling only, so that two files can never name one content differently.
///
/// # Example
/// ```
/// use underlit::digest::Sha256Digest;
///
/// let digest = Sha256Digest::of(b"abc");
/// assert_eq!(digest.short(), "ba7816bf8f01");
/// assert_eq!(digest.to_string().parse::<Sha256Digest>(), Ok(digest));
/// ```
#[derive(Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Sha256Digest([u8; 32]);

impl Sha256Digest {
    /// The digest of these bytes.
    #[must_use]
    pub fn of(bytes: &[u8]) -> Self {
        Self(Sha256::digest(bytes).into())
    }

    /// The 32 bytes of the digest.
    #[must_use]
    pub const fn as_bytes(&self) -> &[u8; 32] {
        &self.0
    }

    /// All 64 digits, as in a file name.
    #[must_use]
    pub fn hex(&self) -> String {
        self.to_string()
    }

    /// The first twelve digits: enough to tell two apart on a screen, never enough to rely on.
    #[must_use]
    pub fn short(&self) -> String {
        let mut hex = self.hex();
        hex.truncate(SHORT);
        hex
    }
}

impl fmt::Display for Sha256Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl fmt::Debug for Sha256Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Sha256Digest({self})")
    }
}

/// A text that is not a SHA-256 digest in its one spelling.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DigestError {
    /// What was written, cut to 80 characters.
    pub text: String,
    /// What is wrong with it.
    pub reason: &'static str,
}

impl fmt::Display for DigestError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "`{}` is not a SHA-256 digest: {}", self.text, self.reason)
    }
}

impl std::error::Error for DigestError {}

impl FromStr for Sha256Digest {
    type Err = DigestError;

    fn from_str(text: &str) -> Result<Self, DigestError> {
        let refuse = |reason| DigestError { text: text.chars().take(80).collect(), reason };
        let digits = text.as_bytes();
        if digits.len() != 64 {
            return Err(refuse("it is not 64 characters long"));
        }
        let mut bytes = [0; 32];
        for (byte, pair) in bytes.iter_mut().zip(digits.chunks_exact(2)) {
            for digit in pair {
                let value = match digit {
                    b'0'..=b'9' => digit - b'0',
                    b'a'..=b'f' => digit - b'a' + 10,
                    b'A'..=b'F' => return Err(refuse("it has digits in upper case")),
                    _ => return Err(refuse("it has a character that is not 0-9 or a-f")),
                };
                *byte = *byte << 4 | value;
            }
        }
        Ok(Self(bytes))
    }
}

impl Serialize for Sha256Digest {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Sha256Digest {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The examples that NIST publishes with FIPS 180-4 (SHA256.pdf: "abc" and the two-block message),
    /// and the digest of nothing.
    #[test]
    fn published_examples() {
        for (message, hex) in [
            ("", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
            ("abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
            (
                "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
                "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
            ),
        ] {
            let digest = Sha256Digest::of(message.as_bytes());
            assert_eq!(digest.to_string(), hex, "of {message:?}");
            assert_eq!(hex.parse(), Ok(digest), "read back {hex}");
            let json = serde_json::to_string(&digest).expect("a digest is a string");
            assert_eq!(json, format!("\"{hex}\""));
            assert_eq!(serde_json::from_str::<Sha256Digest>(&json).expect("its own text"), digest);
        }
    }

    #[test]
    fn every_other_spelling_is_refused() {
        let right = Sha256Digest::of(b"stone").to_string();
        for wrong in [
            String::new(),
            right[..63].into(),
            format!("{right}0"),
            format!("{right}\n"),
            right.to_uppercase(),
            format!("g{}", &right[1..]),
            format!("é{}", &right[2..]),
            format!("sha256:{right}"),
        ] {
            let refused = wrong.parse::<Sha256Digest>().expect_err("another spelling");
            assert!(refused.to_string().contains("is not a SHA-256 digest"), "{refused}");
            assert!(serde_json::from_str::<Sha256Digest>(&format!("{wrong:?}")).is_err(), "{wrong}");
        }
    }
}
