//! The faces room: what people see and answer who run no command.
//!
//! | file | what it does |
//! |---|---|
//! | [`packet`] | a page for somebody to read and answer by |
//! | [`pages`] | the pages of a book, made anew where something changed |
//! | [`intake`], [`answer_file`] | the answers that come back |
//!
#![doc = include_str!("NOTES.md")]

pub mod answer_file;
pub mod intake;
pub mod packet;
pub mod pages;
