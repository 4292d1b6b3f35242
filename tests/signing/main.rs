//! The signing room against stock OpenSSH: keys, signatures both ways, agents, tampering.
//!
//! Needs OpenSSH's client programs (`ssh-keygen`, `ssh-agent`, `ssh-add`), 8.9 or newer.
#![allow(clippy::unwrap_used)]

#[path = "../dice/mod.rs"]
mod dice;
mod enrolment;
mod hardware;
mod identities;
mod making;
#[path = "../passkey/mod.rs"]
mod passkey;
mod passkeys;
mod signers_file;
mod tampering;
mod terminal;
mod workshop;
