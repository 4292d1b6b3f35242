//! What a shop keeps in spreadsheets, taken in: everything that does not fit is said at once, and nothing is made of half of
//! a file.
//!
//! | file | what it is for |
//! |---|---|
//! | `table` | a CSV file as rows of text, and which column says what |
//! | `schedule` | the panels of a project |
//! | `jobs` | running jobs, each a project |

pub mod jobs;
pub mod schedule;
mod table;

use unicode_normalization::UnicodeNormalization as _;
use unicode_normalization::char::is_combining_mark;

use table::Table;

/// The code of every fault of a file that is taken in.
const CODE: &str = "schedule";

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
