//! The git room against the user's own `git`, in temporary folders. Every test ends with `git fsck --strict`.
#![allow(clippy::unwrap_used, clippy::expect_used)] // a test that cannot set its stage has to stop

#[path = "../dice/mod.rs"]
mod dice;

mod book;
mod clones;
mod commits;
mod crash;
mod exchange;
mod hub;
mod odd_states;
mod reach;
mod real_clones;
mod seen;
mod simulated_clones;
mod stock_merge;
mod sync;
