//! Why a key is not taken: every reason, in words, with what to do instead.

use std::fmt;

/// Why a text is not a key that may sign here.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum KeyError {
    /// There is nothing there.
    Empty,
    /// There is more than one line, so more than one key or a key and something else.
    ManyLines,
    /// It is longer than any key that is accepted.
    TooLong,
    /// It is a private key, which must never be shown or stored here.
    PrivateKey,
    /// It starts with the options that an `authorized_keys` file may carry.
    Options,
    /// RSA.
    Rsa,
    /// DSA.
    Dsa,
    /// ECDSA on a curve other than P-256.
    Curve {
        /// The key's own name of its type.
        name: String,
    },
    /// A certificate rather than a key.
    Certificate,
    /// Some other type of key.
    UnknownType {
        /// The word that stands where the type should.
        name: String,
    },
    /// The part after the type is not base64, or not in its one spelling.
    NotBase64,
    /// The key's data do not hold together.
    Damaged {
        /// What does not.
        reason: &'static str,
    },
    /// The line names one type and the data another.
    TypesDiffer {
        /// What the line says.
        said: String,
        /// What the data say.
        found: String,
    },
    /// The key is one for which signatures can be made without any secret, or is no point of its curve.
    Weak,
    /// A hardware key made for something other than SSH.
    Application {
        /// The application that it was made for.
        application: String,
    },
    /// It is a good key, but not written in its one spelling: type, one blank, base64 and nothing else.
    NotCanonical,
    /// The comment has a character that cannot be shown safely on a screen.
    Comment,
}

impl KeyError {
    /// A stable word for programs.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::Empty => "key-empty",
            Self::ManyLines => "key-many-lines",
            Self::TooLong => "key-too-long",
            Self::PrivateKey => "key-is-private",
            Self::Options => "key-has-options",
            Self::Rsa => "key-rsa",
            Self::Dsa => "key-dsa",
            Self::Curve { .. } => "key-curve",
            Self::Certificate => "key-certificate",
            Self::UnknownType { .. } => "key-type-unknown",
            Self::NotBase64 => "key-not-base64",
            Self::Damaged { .. } => "key-damaged",
            Self::TypesDiffer { .. } => "key-types-differ",
            Self::Weak => "key-weak",
            Self::Application { .. } => "key-application",
            Self::NotCanonical => "key-not-canonical",
            Self::Comment => "key-comment",
        }
    }

    /// How to fix it.
    #[must_use]
    pub fn remedy(&self) -> String {
        match self {
            Self::PrivateKey => {
                "give the file that ends in .pub; if the private key was sent or stored anywhere, treat it as \
                 stolen and make a new one"
            }
            Self::Options => "give only the type, the base64 and a comment, as the .pub file has them",
            Self::Certificate => "give the plain .pub file, not the one that ends in -cert.pub",
            Self::Rsa | Self::Dsa | Self::Curve { .. } | Self::UnknownType { .. } | Self::Weak => {
                "make an Ed25519 key: ssh-keygen -t ed25519"
            }
            Self::Application { .. } => "make a hardware key for SSH: ssh-keygen -t ed25519-sk",
            Self::NotCanonical => {
                "write the type, one blank and the base64, without a comment or a line end; the comment has \
                 a field of its own"
            }
            Self::Comment => "take control characters and marks of writing direction out of the comment",
            Self::Empty
            | Self::ManyLines
            | Self::TooLong
            | Self::NotBase64
            | Self::Damaged { .. }
            | Self::TypesDiffer { .. } => "copy the one line of the .pub file again, whole and unchanged",
        }
        .into()
    }
}

impl fmt::Display for KeyError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Empty => f.write_str("there is no key: the text is empty"),
            Self::ManyLines => f.write_str("a public key is one line, and this is several"),
            Self::TooLong => f.write_str("this is longer than any public key that is accepted"),
            Self::PrivateKey => f.write_str("this is a private key, which only its owner may hold"),
            Self::Options => f.write_str("this line starts with options, as in an authorized_keys file"),
            Self::Rsa => f.write_str(
                "RSA keys are not accepted: their strength depends on a length and a hash that may be too \
                 weak, and the library that checks them has a known timing flaw",
            ),
            Self::Dsa => {
                f.write_str("DSA keys are not accepted: they are too short, and OpenSSH has dropped them")
            }
            Self::Curve { name } => write!(
                f,
                "`{name}` keys are not accepted: of the NIST curves only P-256 is, so that every machine \
                 checks every signature alike"
            ),
            Self::Certificate => f.write_str(
                "certificates are not accepted: they would let whoever holds the signing authority add \
                 people without the roster's owners",
            ),
            Self::UnknownType { name } => write!(f, "`{name}` is not a type of key that is accepted"),
            Self::NotBase64 => f.write_str("the part after the key's type is not base64 in its usual form"),
            Self::Damaged { reason } => write!(f, "the key is damaged: {reason}"),
            Self::TypesDiffer { said, found } => {
                write!(f, "the line says `{said}` but its data are a `{found}` key")
            }
            Self::Weak => f.write_str("this key is not a sound point of its curve: anyone could sign for it"),
            Self::Application { application } => {
                write!(
                    f,
                    "this hardware key was made for `{application}`, neither for SSH nor for a site by its name"
                )
            }
            Self::NotCanonical => f.write_str("this key is not in its canonical form"),
            Self::Comment => f.write_str("the key's comment has characters that cannot be shown safely"),
        }
    }
}

impl std::error::Error for KeyError {}
