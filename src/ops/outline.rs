//! Outlines on their way into a book: a user's drawing read and checked, and kept as the book's own JSON.

use std::path::Path;

use super::project::{read_outline, shape_fault};
use super::record::read_users_file;
use crate::fault::{Fault, Outcome};
use crate::shape::{self, Outline};

/// Reads and checks a drawing that the user names.
///
/// # Errors
/// `outline-format`, and the first flaw of the drawing with its place.
pub fn read_users_drawing(file: &Path) -> Outcome<Outline> {
    let (bytes, ending) = read_users_file(file)?;
    let name = file.display().to_string();
    let outline = match ending.as_str() {
        "json" => read_outline(&name, &bytes)?,
        other => {
            return Err(Box::new(
                Fault::usage("outline-format", format!("an outline is not read from a .{other} file"))
                    .in_file(name)
                    .mend("give it as .json"),
            ));
        }
    };
    match shape::check(&outline).first() {
        None => Ok(outline),
        Some(flaw) => Err(Box::new(shape_fault(&file.display().to_string(), flaw))),
    }
}

/// The bytes under which an outline lies in a book.
#[must_use]
pub fn bytes_for_book(outline: &Outline) -> Vec<u8> {
    shape::to_json(outline).into_bytes()
}
