//! The published contract: every schema is valid and complete, fits the Rust type that reads its records, and
//! accepts and refuses its samples.
//!
//! `files` finds schemas and samples, `walk` follows a schema through itself and through a record, and each of
//! the others holds one promise. Not here: what records mean together, which is the gates' affair.

mod answers;
mod files;
mod kinds;
mod names;
mod samples;
mod shape_of_schemas;
mod types;
mod walk;
mod words;
