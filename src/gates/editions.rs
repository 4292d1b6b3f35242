//! Which of today's requirements a move of before is held to.
//!
//! Whether a project may be built is asked of today's facts by today's gates, always. Whether a move of the past went
//! through an open gate is another question: it was asked by the program of that day. A later program that asks for
//! more, or that works out a sealed figure otherwise, may not make an old honest move wrong. Two things that people
//! signed tell which program a move was made by, and neither is the mover's to choose:
//!
//! - The format of the book, in `book.json`, which the owners seal. A requirement that is new, or asks for more than
//!   it did, or judges what is worked out otherwise, belongs to a later format ([`super::requirement::Requirement::since`]);
//!   it binds the moves of a book from the day on which its owners put that format in force. One that is asked only where
//!   the sealed rules name it needs no format: each state is judged by its own rules.
//! - The form of the build pack, which the engineer seals with the release. Where a release was sealed in another form
//!   than this program makes, neither the digests of the pack nor what is worked out for it can be compared; every fact
//!   that somebody recorded still is.
//!
//! What is not here: a finding that was asked then and is not met. That is a move past a shut gate.

use super::facts::PACK_FORMAT;
use super::verdict::Finding;
use crate::model::view::Change;

/// True where a finding that is not met says only that programs since then ask for more: no word against a move that
/// was made in a book of that format.
#[must_use]
pub fn asked_since(finding: &Finding, format: u32) -> bool {
    finding.since > format || of_another_form(&finding.changes)
}

/// True where everything that changed under a signature is the pack's digests and what is worked out for it, because its
/// form is another.
fn of_another_form(changes: &[Change]) -> bool {
    changes.iter().any(|change| change.fact == PACK_FORMAT)
        && changes.iter().all(|change| change.fact == PACK_FORMAT || change.is_worked_out())
}
