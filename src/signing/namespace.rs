//! [`Namespace`]: what a signature is for, so that one made for one purpose is worthless for another.

use std::fmt;

/// What every namespace of this program starts with.
const PREFIX: &str = "underlit-";

/// Words that are namespaces of their own and so cannot be roles.
const RESERVED: &[&str] = &["roster", "move"];

/// The longest role word.
const LONGEST_ROLE: usize = 32;

/// An SSHSIG namespace (`PROTOCOL.sshsig`): `underlit-` and a word.
///
/// One for each role in which people sign off, one for roster versions and one for stage moves. It is
/// bound into the signature, so that a rep's signature can never be shown as an engineer's.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Namespace(String);

impl Namespace {
    /// Of roster versions: `underlit-roster`.
    #[must_use]
    pub fn roster() -> Self {
        Self(format!("{PREFIX}roster"))
    }

    /// Of stage moves: `underlit-move`.
    #[must_use]
    pub fn stage_move() -> Self {
        Self(format!("{PREFIX}move"))
    }

    /// Of sign-offs in a role, from the role's word: `engineer` gives `underlit-engineer`.
    ///
    /// A role's word is 1 to 32 of `a-z`, `0-9` and single hyphens between them.
    ///
    /// # Errors
    /// [`NamespaceError`] where the word is something else, or is `roster` or `move`.
    pub fn of_role(role: &str) -> Result<Self, NamespaceError> {
        let refuse = |reason| NamespaceError { role: super::key::shown(role), reason };
        if role.is_empty() || role.len() > LONGEST_ROLE {
            return Err(refuse("it must have 1 to 32 characters"));
        }
        if !role.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-') {
            return Err(refuse("only a-z, 0-9 and hyphens may stand in it"));
        }
        if role.split('-').any(str::is_empty) {
            return Err(refuse("hyphens may only stand singly, between other characters"));
        }
        if RESERVED.contains(&role) {
            return Err(refuse("the word is kept for signatures of that kind"));
        }
        Ok(Self(format!("{PREFIX}{role}")))
    }

    /// The namespace as it stands in a signature.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Namespace {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

/// A word that cannot name a role.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NamespaceError {
    /// The word.
    pub role: String,
    /// What is wrong with it.
    pub reason: &'static str,
}

impl NamespaceError {
    /// A stable word for programs.
    #[must_use]
    pub(crate) fn code(&self) -> &'static str {
        "role-word"
    }

    /// How to fix it.
    #[must_use]
    pub(crate) fn remedy(&self) -> String {
        "write the role as a short lower-case word, like engineer or site-lead".into()
    }
}

impl fmt::Display for NamespaceError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "`{}` cannot name a role: {}", self.role, self.reason)
    }
}

impl std::error::Error for NamespaceError {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_role_has_one_plain_word() {
        assert_eq!(Namespace::of_role("engineer").map(|n| n.to_string()), Ok("underlit-engineer".into()));
        assert!(Namespace::of_role("site-lead2").is_ok());
        for wrong in [
            "",
            "Engineer",
            "site lead",
            "a,b",
            "a\"b",
            "*",
            "-a",
            "a-",
            "a--b",
            "engineеr",
            "roster",
            "move",
            "a\n",
        ] {
            assert!(Namespace::of_role(wrong).is_err(), "{wrong:?} was taken");
        }
        assert!(Namespace::of_role(&"a".repeat(33)).is_err());
    }
}
