//! [`allowed_signers`]: who may sign for what, as stock tools read it (ssh-keygen(1), ALLOWED SIGNERS).
//!
//! An export only: nothing in a book is decided from such a file.

use std::collections::BTreeMap;
use std::fmt;
use std::str::FromStr;

use super::key::{PublicKey, shown};
use super::namespace::Namespace;

const LONGEST_PRINCIPAL: usize = 64;

/// A person's id as it stands in an allowed-signers file.
///
/// One to 64 of `a-z`, `0-9` and single hyphens between them. The file's own format would also take
/// patterns (`*`, `?`, `!`), lists with commas and quoted text, with which one line could speak for others.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Principal(String);

impl Principal {
    /// The id with characters that look alike in common typefaces made one: `0` and `o`, `1` and `l`, `rn`
    /// and `m`, `vv` and `w`. Common practice, no source; the pairs are among those that Unicode TR 39
    /// lists for ASCII.
    fn look(&self) -> String {
        self.0.replace('0', "o").replace('1', "l").replace("rn", "m").replace("vv", "w")
    }
}

impl fmt::Display for Principal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

impl FromStr for Principal {
    type Err = PrincipalError;

    fn from_str(text: &str) -> Result<Self, PrincipalError> {
        let refuse = |reason| PrincipalError { text: shown(text), reason };
        if text.is_empty() || text.len() > LONGEST_PRINCIPAL {
            return Err(refuse("it must have 1 to 64 characters"));
        }
        if !text.is_ascii() {
            return Err(refuse("it has letters from outside a-z, which can look like others"));
        }
        if !text.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-') {
            return Err(refuse("only a-z, 0-9 and hyphens may stand in it"));
        }
        if text.split('-').any(str::is_empty) {
            return Err(refuse("hyphens may only stand singly, between other characters"));
        }
        Ok(Self(text.into()))
    }
}

/// An id that cannot stand in an allowed-signers file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PrincipalError {
    /// The id, cut short.
    pub text: String,
    /// What is wrong with it.
    pub reason: &'static str,
}

impl PrincipalError {
    /// A stable word for programs.
    #[must_use]
    pub(crate) fn code(&self) -> &'static str {
        "principal-malformed"
    }

    /// How to fix it.
    #[must_use]
    pub(crate) fn remedy(&self) -> String {
        "write the id in plain lower case, like mara-dell".into()
    }
}

impl fmt::Display for PrincipalError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "`{}` cannot be a signer's id: {}", self.text, self.reason)
    }
}

impl std::error::Error for PrincipalError {}

/// One person's key and what it may sign.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AllowedSigner {
    /// Whose key it is.
    pub principal: Principal,
    /// The key.
    pub key: PublicKey,
    /// What it may sign: one namespace at least.
    pub namespaces: Vec<Namespace>,
}

/// The allowed-signers file of these people: one line a key, in the order of ids and then keys, with
/// `namespaces="…"`. The order and repetition of the entries do not change it.
///
/// # Errors
/// Where the file would say more than was meant: a key without a namespace (it could sign anything), one
/// key for two people, two ids that look alike.
pub fn allowed_signers(signers: &[AllowedSigner]) -> Result<String, AllowedSignersError> {
    let mut lines: BTreeMap<(&Principal, String), Vec<&Namespace>> = BTreeMap::new();
    let mut owners: BTreeMap<&PublicKey, &Principal> = BTreeMap::new();
    let mut looks: BTreeMap<String, &Principal> = BTreeMap::new();
    for AllowedSigner { principal, key, namespaces } in signers {
        if namespaces.is_empty() {
            return Err(AllowedSignersError::NoNamespace { principal: principal.clone() });
        }
        let other = *owners.entry(key).or_insert(principal);
        if other != principal {
            return Err(AllowedSignersError::OneKeyTwoPeople {
                fingerprint: key.fingerprint(),
                principals: [other.clone(), principal.clone()],
            });
        }
        let other = *looks.entry(principal.look()).or_insert(principal);
        if other != principal {
            return Err(AllowedSignersError::LookAlike { principals: [other.clone(), principal.clone()] });
        }
        lines.entry((principal, key.to_string())).or_default().extend(namespaces);
    }
    let mut text = String::new();
    for ((principal, key), mut namespaces) in lines {
        namespaces.sort();
        namespaces.dedup();
        let namespaces = namespaces.iter().map(|namespace| namespace.as_str()).collect::<Vec<_>>().join(",");
        text.push_str(&format!("{principal} namespaces=\"{namespaces}\" {key}\n"));
    }
    Ok(text)
}

/// Why no allowed-signers file was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum AllowedSignersError {
    /// A key without a namespace.
    NoNamespace {
        /// Whose.
        principal: Principal,
    },
    /// One key under two ids.
    OneKeyTwoPeople {
        /// The key's fingerprint.
        fingerprint: String,
        /// The ids.
        principals: [Principal; 2],
    },
    /// Two ids that look alike.
    LookAlike {
        /// The ids.
        principals: [Principal; 2],
    },
}

impl AllowedSignersError {
    /// A stable word for programs.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::NoNamespace { .. } => "allowed-no-namespace",
            Self::OneKeyTwoPeople { .. } => "allowed-one-key-two-people",
            Self::LookAlike { .. } => "allowed-look-alike",
        }
    }

    /// How to fix it.
    #[must_use]
    pub fn remedy(&self) -> String {
        match self {
            Self::NoNamespace { .. } => "give the person a role, or leave the key out",
            Self::OneKeyTwoPeople { .. } => "give each person a key of their own",
            Self::LookAlike { .. } => "give one of them an id that cannot be mistaken for the other",
        }
        .into()
    }
}

impl fmt::Display for AllowedSignersError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoNamespace { principal } => {
                write!(f, "`{principal}` has a key without a role: the file would let it sign anything")
            }
            Self::OneKeyTwoPeople { fingerprint, principals: [one, other] } => {
                write!(f, "the key {fingerprint} belongs to both `{one}` and `{other}`")
            }
            Self::LookAlike { principals: [one, other] } => {
                write!(f, "the ids `{one}` and `{other}` look alike")
            }
        }
    }
}

impl std::error::Error for AllowedSignersError {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_that_could_speak_for_others_are_refused() {
        for good in ["mara", "mara-dell", "m2"] {
            assert!(good.parse::<Principal>().is_ok(), "{good}");
        }
        for bad in [
            "",
            "*",
            "mara*",
            "m?ra",
            "!mara",
            "mara,joss",
            "mara joss",
            "\"mara\"",
            "Mara",
            "mаra",
            "mara\n",
            "mara@x",
            "-mara",
            "mara-",
            "mara--dell",
            "mara\t",
            "#mara",
        ] {
            let refused = bad.parse::<Principal>().expect_err(bad);
            assert_eq!(refused.code(), "principal-malformed");
        }
        assert!("a".repeat(65).parse::<Principal>().is_err());
    }
}
