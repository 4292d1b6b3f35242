//! The book's `.gitattributes`: what it may not say, because what was signed would no longer lie there byte for byte.

use crate::fault::Fault;

/// Where they stand.
pub const FILE: &str = ".gitattributes";

/// Attributes with which git writes other bytes into a folder than history holds: no digest would fit there.
const CHANGING: &[&str] =
    &["text", "crlf", "eol", "ident", "filter", "working-tree-encoding", "export-subst"];

/// The lines that tell git to change the bytes of files.
#[must_use]
pub fn faults(bytes: &[u8]) -> Vec<Fault> {
    let text = String::from_utf8_lossy(bytes);
    let mut faults = Vec::new();
    for (number, line) in text.lines().enumerate() {
        let line = line.trim();
        if line.is_empty() || line.starts_with('#') {
            continue;
        }
        let changing = line.starts_with("[attr]")
            || line.split_whitespace().skip(1).any(|word| {
                let name = word.split('=').next().unwrap_or(word);
                CHANGING.contains(&name)
            });
        if changing {
            faults.push(
                Fault::trust("bytes-changed", "with this line git writes other bytes than were signed")
                    .in_file(FILE)
                    .on_line(Some(number + 1))
                    .mend("keep `* -text`, and take this line out"),
            );
        }
    }
    faults
}
