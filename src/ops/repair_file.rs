//! What can be put right in one file of a book: line ends, a byte-order mark, a text merge's conflict markers, a signed
//! record that was changed, a record that is half written.

use super::repair::{Deed, Offer};
use crate::model::kind::Kind;
use crate::store::{read, strict_json};

/// The ways in which this file can be put right; none where nothing is the matter, or nothing can be offered.
pub(super) fn file_offers(path: &str, bytes: &[u8], committed: Option<&[u8]>) -> Vec<Offer> {
    let Some(kind) = Kind::of_path(path) else { return Vec::new() };
    let whole = committed.filter(|old| *old != bytes);
    if kind.is_add_only() {
        let why = "differs from what was committed, and signed records are never changed";
        return whole.map(|old| restore(path, why, old.to_vec())).into_iter().collect();
    }
    if !kind.has_schema() {
        return Vec::new();
    }
    let passes = |bytes: &[u8]| read::check_bytes(path, kind, bytes).is_ok();
    if let Some(sides) = without_markers(bytes) {
        let mut found: Vec<Offer> = Vec::new();
        for (side, text) in ["ours", "theirs"].iter().zip(sides) {
            if passes(&text) {
                found.push(Offer {
                    name: format!("{path}:{side}"),
                    what: format!("{path} has a text merge's conflict markers in it"),
                    how: format!(
                        "keep the side called {side} of every marked place; the file as it is is set aside"
                    ),
                    deed: Deed::Rewrite(path.to_owned(), text),
                });
            }
        }
        let old = whole.filter(|old| passes(old));
        found.extend(old.map(|old| restore(path, "has a text merge's conflict markers in it", old.to_vec())));
        return found;
    }
    if let Some(plain) = bytes.strip_prefix(b"\xEF\xBB\xBF") {
        let plain = with_plain_line_ends(plain).unwrap_or_else(|| plain.to_vec());
        if passes(&plain) {
            return vec![rewrite(path, "bom", "starts with a byte-order mark", plain)];
        }
    }
    if let Some(plain) = with_plain_line_ends(bytes)
        && passes(&plain)
        && whole.is_none_or(|old| !old.contains(&b'\r'))
        && whole.is_some()
    {
        return vec![rewrite(path, "line-ends", "ends its lines as another system does", plain)];
    }
    if strict_json::parse(bytes).is_err()
        && let Some(old) = whole.filter(|old| passes(old))
    {
        return vec![restore(path, "cannot be read, perhaps half written", old.to_vec())];
    }
    Vec::new()
}

/// An offer to put back what was last committed.
pub(super) fn restore(path: &str, what: &str, bytes: Vec<u8>) -> Offer {
    Offer {
        name: format!("{path}:committed"),
        what: format!("{path} {what}"),
        how: "put back what was last committed; the file as it is is set aside".into(),
        deed: Deed::Rewrite(path.to_owned(), bytes),
    }
}

fn rewrite(path: &str, name: &str, what: &str, bytes: Vec<u8>) -> Offer {
    Offer {
        name: format!("{path}:{name}"),
        what: format!("{path} {what}"),
        how: "write it without; every value stays, and the file as it is is set aside".into(),
        deed: Deed::Rewrite(path.to_owned(), bytes),
    }
}

/// The text with line feeds alone; none where it has no carriage return before one.
fn with_plain_line_ends(bytes: &[u8]) -> Option<Vec<u8>> {
    let text = std::str::from_utf8(bytes).ok()?;
    text.contains("\r\n").then(|| text.replace("\r\n", "\n").into_bytes())
}

/// Both sides of a text with a text merge's conflict markers; none where it has none, or they do not pair.
fn without_markers(bytes: &[u8]) -> Option<[Vec<u8>; 2]> {
    let text = std::str::from_utf8(bytes).ok()?;
    let (mut ours, mut theirs) = (String::new(), String::new());
    // Where the line stands: 0 outside, 1 ours, 2 base, 3 theirs.
    let (mut place, mut marked) = (0, false);
    for line in text.split_inclusive('\n') {
        let starts = |mark: &str| {
            line.strip_prefix(mark).is_some_and(|rest| rest.trim().is_empty() || rest.starts_with(' '))
        };
        let next = match place {
            0 if starts("<<<<<<<") => Some(1),
            1 if starts("|||||||") => Some(2),
            1 | 2 if starts("=======") => Some(3),
            3 if starts(">>>>>>>") => Some(0),
            _ => None,
        };
        if let Some(next) = next {
            place = next;
            marked = true;
            continue;
        }
        if place == 0 || place == 1 {
            ours.push_str(line);
        }
        if place == 0 || place == 3 {
            theirs.push_str(line);
        }
    }
    (marked && place == 0).then(|| [ours.into_bytes(), theirs.into_bytes()])
}
