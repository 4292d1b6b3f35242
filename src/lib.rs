//! underlit: made-to-order light-panel jobs, kept as plain JSON in git and released only when signed.
//!
//! # The map
//!
//! Imports run downward only, and the rooms of floors 0 and 2 do not import each other; `tests/floors.rs`
//! reads the `use` lines and holds that.
//!
//! | floor | room | what it does |
//! |---|---|---|
//! | 6 | [`cli`] | one file per verb; the only room that prints, reads the clock, the environment and who is asking |
//! | 5 | [`faces`] | what people see and answer who run no command |
//! | 5 | [`sync`] | exchange with the other clones: fetch, merge, judge, place, push |
//! | 5 | [`stone`] | lights, stones and photos out of files; what a stone will look like |
//! | 4 | [`ops`] | read, decide, write: one screen per operation |
//! | 3 | [`trust`] | what in a book counts: roster chain, signatures, the judge of changes, guard, verify |
//! | 2 | [`store`] | the files of a book: load, check against schema, write safely |
//! | 2 | [`git`] | commits, whole-tree merge, exchange with a remote; the only user of git2 |
//! | 2 | [`signing`] | SSH keys, and SSHSIG signatures over bytes |
//! | 2 | [`sheets`] | drawing sheets: one source for SVG, PDF and PNG |
//! | 2 | [`packet`] | a page for a client to read and answer by |
//! | 2 | [`pages`] | the pages of a book: the board, each job, each person, dates and load |
//! | 1 | [`job`] | a snapshot worked out: plan, circuits, build-pack data, order list |
//! | 1 | [`gates`] | stages, evaluation, one requirement per file |
//! | 1 | [`merge`] | the typed three-way merge of records, field by field |
//! | 1 | [`model`] | records, the views that signatures seal, names |
//! | 0 | [`light`] | spectra, stone, look, photometry |
//! | 0 | [`shape`] | outlines, reading drawings, fit, split |
//! | 0 | [`power`] | tape, drivers, control, wire |
//! | 0 | [`making`] | routes, mounts, working days: how the shop builds and by when |
//! | ground | [`units`], [`words`], [`digest`], [`fault`], [`html`], [`ids`], [`lookalike`], [`markup`], [`parallel`], [`paths`], [`secrets`], [`size`], [`visible`] | quantities, trade words, digests, faults, text as HTML, names, titles that look alike, the signs of XML, work on every processor, safe paths, keys that stay out, sizes as people write them, and harmless text that every room may use |

pub mod cli;
pub mod digest;
pub mod faces;
pub mod fault;
pub mod gates;
pub mod git;
pub mod html;
pub mod ids;
pub mod job;
pub mod light;
pub mod lookalike;
pub mod making;
pub mod markup;
pub mod merge;
pub mod model;
pub mod ops;
pub mod packet;
pub mod pages;
pub mod parallel;
pub mod paths;
pub mod power;
pub mod secrets;
pub mod shape;
pub mod sheets;
pub mod signing;
mod size;
pub mod stone;
pub mod store;
pub mod sync;
pub mod trust;
pub mod units;
pub mod visible;
pub mod words;
