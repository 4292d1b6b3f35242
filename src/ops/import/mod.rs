//! What a shop keeps in spreadsheets, taken in: everything that does not fit is said at once, and nothing is made of half of
//! a file.
//!
//! | file | what it is for |
//! |---|---|
//! | `table` | a CSV file or a sheet of a workbook as rows of text, and which column says what |
//! | `workbook` | a sheet of a workbook (.xlsx) |
//! | `file_kind` | what a file is that is no table |
//! | `schedule` | the panels of a project |
//! | `jobs` | running jobs, each a project |

mod file_kind;
pub mod jobs;
pub mod schedule;
mod table;
mod workbook;

use unicode_normalization::UnicodeNormalization as _;
use unicode_normalization::char::is_combining_mark;

use table::Table;

/// The code of every fault of a file that is taken in.
const CODE: &str = "schedule";

/// A spreadsheet that is taken in.
#[derive(Clone, Debug)]
pub(crate) struct Spreadsheet {
    /// What it is called in faults.
    pub name: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
    /// The sheet of a workbook; none for the first.
    pub sheet: Option<String>,
}

/// The most characters of a note, as the schema has it.
const LONGEST_NOTE: usize = 1000;

/// What a cell names: by the short name, or by what it is called where only one is called so.
///
/// # Errors
/// Whether more than one is called so.
fn named<'a, I: std::fmt::Display + Clone + 'a>(
    text: &str,
    all: impl Iterator<Item = (&'a I, &'a str)> + Clone,
) -> Result<I, bool> {
    let wanted = text.to_lowercase();
    if let Some((id, _)) = all.clone().find(|(id, _)| id.to_string() == wanted) {
        return Ok(id.clone());
    }
    let mut called = all.filter(|(_, name)| name.to_lowercase() == wanted);
    match (called.next(), called.next()) {
        (Some((id, _)), None) => Ok(id.clone()),
        (first, _) => Err(first.is_some()),
    }
}

/// Words as a short name: `Type 3` becomes `type-3`.
fn short_name(text: &str) -> String {
    let plain: String = text.nfd().filter(|c| !is_combining_mark(*c)).collect();
    let words: Vec<String> = plain
        .split(|c: char| !c.is_ascii_alphanumeric())
        .filter(|part| !part.is_empty())
        .map(str::to_lowercase)
        .collect();
    words.join("-")
}
