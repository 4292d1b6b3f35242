//! The signing room: SSH keys, and SSHSIG signatures over bytes.
//!
//! It answers two questions. *Did this key sign exactly these bytes for this purpose?* [`verify`] says so
//! from bytes alone. *Will this person sign them now?* [`Signer`] asks the person's own `ssh-keygen`
//! (agent, passphrase and hardware then work as they do elsewhere), and checks every new signature with
//! [`verify`] before handing it on.
//!
//! What it is not: it does not know people, roles, rosters or statements, and a key that verifies here may
//! still have no say in a book. It reads no environment; the command line hands in the home folder and the
//! agent's socket.
//!
//! # What is accepted, and why less than `ssh-keygen` accepts
//!
//! * Keys: Ed25519 and ECDSA P-256, in a file, in an agent, on a hardware key or as a passkey. RSA, DSA, the larger
//!   NIST curves and certificates are refused where a key is enrolled, with the reason ([`KeyError`]).
//! * Signatures: the one spelling that `ssh-keygen -Y sign` writes ([`Armour`]). `ssh-keygen -Y verify`
//!   also takes text after the signature, other line lengths and Windows line ends; so two files that
//!   differ could carry one signature, and notes could hide in one. Whatever is accepted here is accepted
//!   by `ssh-keygen -Y verify` too.
//! * Passkeys: stock tools print neither the page nor the flags; here both must be right.
//!
//! Source of the formats: OpenSSH's `PROTOCOL.sshsig`, `PROTOCOL.u2f`, `PROTOCOL.key` and ssh-keygen(1);
//! RFC 4251 §5 (wire types), RFC 5656 (ECDSA), RFC 8709 (Ed25519).
//!
//! | file | what it holds |
//! |---|---|
//! | `key` | [`PublicKey`]: which keys count |
//! | `namespace` | [`Namespace`]: what a signature is for |
//! | `armour` | [`Armour`]: a signature as text, in its one spelling |
//! | `verify` | [`verify`]: the question from bytes alone |
//! | `site`, `passkey` | inside: which pages a passkey is for, and whether one signed there |
//! | `allowed` | [`allowed_signers`]: the export that stock tools read |
//! | `toolbox` | [`Toolbox`]: the programs and prompts of this machine |
//! | `signer` | [`Signer`]: making a signature |
//! | `identities` | [`find_identities`]: which keys the person has |
//! | `new_key` | [`make_key`]: a first key |
//! | `key_error`, `failure`, `faults` | what can go wrong, and as what it reaches a person |
//! | `wire`, `in_process`, `key_file` | inside: the wire types, signing without `ssh-keygen`, reading key files |

mod allowed;
mod armour;
mod failure;
mod faults;
mod identities;
mod in_process;
mod key;
mod key_error;
mod key_file;
mod namespace;
mod new_key;
mod passkey;
mod signer;
mod site;
mod toolbox;
mod verify;
mod wire;

pub use allowed::{AllowedSigner, Principal, allowed_signers};
pub(crate) use allowed::{AllowedSignersError, PrincipalError};
pub(crate) use armour::ArmourError;
pub use armour::{Armour, HashName};
pub use failure::SigningError;
pub use identities::{Identities, Place, find_identities};
pub use key::{KeyKind, PublicKey};
pub(crate) use key_error::KeyError;
pub use namespace::Namespace;
pub(crate) use namespace::NamespaceError;
pub use new_key::{Protection, make_key};
pub use signer::Signer;
pub use toolbox::{Asking, Toolbox};
pub(crate) use verify::SignatureError;
pub use verify::{Hardware, Verified, verify, verify_text};
