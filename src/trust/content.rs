//! What the files of a folder hold, as one text to take a digest of: equal where every file is.

use crate::digest::Sha256Digest;
use crate::fault::Fault;
use crate::store::{BookFiles, safe_path};

/// Every file in a folder with its digest, a line each, and the faults of those that cannot be read, which stand in the
/// text as well.
#[must_use]
pub(crate) fn lines_of(book: &dyn BookFiles, folder: &str) -> (String, Vec<Fault>) {
    let (paths, faults) = book.walk(folder);
    let mut lines: String = faults.iter().map(|fault| format!("{fault}\n")).collect();
    let mut unread = Vec::new();
    for path in paths {
        match book.read(&path, safe_path::LARGEST_ATTACHMENT) {
            Ok(bytes) => lines.push_str(&format!("{} {path}\n", Sha256Digest::of(&bytes))),
            Err(fault) => {
                lines.push_str(&format!("{fault} {path}\n"));
                unread.push(*fault);
            }
        }
    }
    (lines, unread)
}
