//! The signing room against stock OpenSSH: keys, signatures both ways, agents, tampering.
//!
//! Needs OpenSSH's client programs (`ssh-keygen`, `ssh-agent`, `ssh-add`), 8.9 or newer.
#![allow(clippy::unwrap_used)]

mod enrolment;
mod hardware;
mod identities;
mod making;
mod signers_file;
mod tampering;
mod terminal;
mod workshop;
