//! The store room: the files of a book. Reads them strictly, checks them against their schemas, writes
//! them so that no reader ever sees a half.
//!
//! | file | what it does |
//! |---|---|
//! | [`files`] | the files of a book, wherever they lie: the seam that every reader goes through |
//! | [`book_folder`] | finds a book on disk |
//! | [`strict_json`] | JSON without ambiguity; the line of a pointer |
//! | [`schemas`] | the embedded schemas |
//! | [`sound`] | records that need not be held to their schema again |
//! | [`safe_path`] | names, links and sizes, looked at without trust |
//! | [`read`] | a record from its file |
//! | [`mod@write`] | files written whole, all or nothing |
//! | [`journal`] | what a command that was killed half way leaves, taken back |
//! | [`starter`] | what a new book starts with |

pub mod book_folder;
pub mod files;
pub mod journal;
pub mod read;
pub mod safe_path;
pub mod schemas;
pub(crate) mod sound;
pub mod starter;
pub mod strict_json;
pub mod write;

pub use book_folder::BookFolder;
pub(crate) use files::{BookFiles, Edits, Memory, Overlay};
pub use write::Changes;
