//! `book.json`: what a book is called and how it shows lengths.

use serde::{Deserialize, Serialize};

use crate::ids::BookId;
use crate::units::DisplayUnits;

/// The version of the file formats that this underlit writes; it reads every one up to it. Formats 2 and 3 have the same
/// files as format 1: they hold the moves of a book to what was asked for since (see `gates/editions.rs`).
pub const FORMAT: u32 = 3;

/// The record at the root of a book.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Book {
    /// Path of the schema, for editors.
    #[serde(rename = "$schema")]
    pub schema: String,
    /// The book's own name, carried by every statement made in it.
    pub id: BookId,
    /// The shop's name, as it stands on drawing sheets.
    pub shop: String,
    /// The units in which lengths are shown.
    pub units: DisplayUnits,
    /// The version of the file formats.
    pub format: u32,
    /// Where the pages of the book are to be seen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pages: Option<String>,
    /// What a reader should know first, such as that a book is invented.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}
