//! The example book: files alone, read by the real program, promising what the documents promise of it.
//!
//! `tests/make-example-repo` made it. Not here: the second validator's word on its records, which is
//! `tests/outside/schema`.
#![allow(clippy::unwrap_used)] // a test that cannot set its stage has to stop

#[path = "../answers/mod.rs"]
mod answers;
mod book;
mod making;
mod reading;
mod signatures;
