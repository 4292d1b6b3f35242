//! Judges a book as a stranger would: from its fingerprint, by its files and its history, believing nobody.
//!
//! Nothing here repairs or writes. The same judgement serves `verify`, a server's hook and a clone that looks at
//! what came in.
//!
//! | file | what it judges |
//! |---|---|
//! | [`start`] | where trust starts: a fingerprint that somebody was told, a roster that was seen |
//! | [`state`] | the files of one moment: roster, seals, every statement |
//! | [`past`] | the way there: nothing that people said was ever edited or taken out |
//! | [`passage`] | a move, by the gate as it stood when the move was made |
//! | [`moves`] | every move of the history, by the state that has it first |
//! | [`verdict`] | a project: its stage, whether it may be built, and why |
//! | [`book`] | all of it together |
//! | [`explain`] | one statement, step by step |
//! | [`cache`] | verdicts of before, so that judging again costs what has changed |
//! | [`place`] | where the book lies: a folder, a commit, a bare repository |
//!
#![doc = include_str!("NOTES.md")]

pub mod book;
pub mod cache;
pub mod explain;
pub mod moves;
pub mod passage;
pub mod past;
pub mod place;
pub mod start;
pub mod state;
pub mod verdict;

pub use past::Past;
pub use start::Start;
pub use state::Judged;
