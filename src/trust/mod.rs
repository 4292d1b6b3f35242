//! The trust room: what in a book counts, and who says so. Everything that judges a book, its history or a push.
//!
//! The roster chain says whose keys count since when; from it follow the shop's sealed files, each project as the
//! gates see it, and every change by one set of rules, wherever it comes from: a hand edit, an unsent commit, a sync,
//! a push, the whole history.
//!
//! | file | what it does |
//! |---|---|
//! | [`surroundings`] | what the command line hands in: clock, home folder, key |
//! | [`chain`] | the roster from its first version on, verified; the fingerprint pinned in this clone |
//! | [`counting`], [`statements`] | does this signature count? what people signed in a project, each file judged |
//! | [`sound`] | records that need not be held to their schema again |
//! | [`shop`], [`project`] | the shop's sealed files; one project read, measured and judged |
//! | [`tree_files`], [`incoming`] | a tree of the history, read like a folder; states that lie in git and not in a folder |
//! | [`content`] | what the files of a folder hold, as one text |
//! | [`changed`] | what changed in a state, judged by one set of rules for everybody |
//! | [`check`], [`referred`], [`housekeeping`], [`beside`], `readings` | everything that is wrong with a book, at once; what records name; what its files that are no records may not say; what lies beside statements |
//! | [`before`] | what a check found sound before |
//! | [`stray`], [`unnamed`] | files that belong to no book; files in a project's folder that no record names |
//! | [`alike`] | which titles and names are held against each other |
//! | [`redraw`], [`sheet_input`], `sheet_rows` | whether a sheet is what this program draws, and what a sheet is drawn from |
//! | [`about`], [`proof`], [`vanished`] | whose questions; whether the history shows who asked; questions that went away unanswered |
//! | [`keyed`] | what a clone keeps for itself is held to a key of this person's |
//! | [`noted`], [`refused`] | commits up to which a clone has looked at something; commits that were refused here |
//! | [`guard`] | the judge of a push |
//! | [`verify`] | a book judged from its fingerprint, with its history |
//!
#![doc = include_str!("NOTES.md")]

pub mod about;
pub mod alike;
pub mod before;
pub mod beside;
pub mod chain;
pub mod changed;
pub mod check;
pub mod content;
pub mod counting;
pub mod guard;
pub mod housekeeping;
pub mod incoming;
pub mod keyed;
pub mod noted;
pub mod project;
pub mod proof;
mod readings;
pub mod redraw;
pub mod referred;
pub mod refused;
pub mod sheet_input;
pub mod sheet_rows;
pub mod shop;
pub(crate) mod sound;
pub mod statements;
pub mod stray;
pub mod surroundings;
pub mod tree_files;
pub mod unnamed;
pub mod vanished;
pub mod verify;

pub use surroundings::Surroundings;
