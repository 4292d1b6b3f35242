//! What lies beside a statement: its signature under its own name, and the scan that it takes in, which is named by the
//! digest of its own bytes. Whoever judges a folder, a commit or a push asks here.

use std::collections::BTreeSet;

use crate::digest::Sha256Digest;
use crate::fault::Fault;
use crate::model::statement::Statement;
use crate::store::{BookFiles, safe_path, strict_json};

/// The statement that a signature has to lie beside.
#[must_use]
pub fn statement_of(signature: &str) -> String {
    let (folder, name) = signature.rsplit_once('/').unwrap_or(("", signature));
    format!("{folder}/{}.json", name.split('.').next().unwrap_or(name))
}

/// The scan that a statement takes in, by the statement's path and bytes; none where it takes in none.
#[must_use]
pub fn scan_of(path: &str, statement: &[u8]) -> Option<String> {
    let value = strict_json::parse(statement).ok()?;
    let name = value.pointer("/evidence/scan/file")?.as_str()?;
    Some(format!("{}/{name}", path.rsplit_once('/')?.0))
}

/// What is wrong with a scan: no statement beside it takes it in, or its bytes are not those that its name tells.
#[must_use]
pub fn scan_fault(path: &str, bytes: &[u8], taken_in: &BTreeSet<String>) -> Option<Fault> {
    if !taken_in.contains(path) {
        return Some(nothing_signed(path));
    }
    let name = path.rsplit('/').next().unwrap_or(path);
    let digest = Sha256Digest::of(bytes).hex();
    (name.split('.').next() != Some(digest.as_str())).then(|| {
        Fault::trust("scan-differs", "the scan's name is not the SHA-256 of its bytes")
            .in_file(path)
            .fix("take the scan from the history, or take the answer in again: underlit evidence")
    })
}

/// A signature or a scan that belongs to no statement.
#[must_use]
pub fn nothing_signed(path: &str) -> Fault {
    Fault::trust("nothing-signed", "this file has no matching sign-off, move or roster version")
        .in_file(path)
        .fix("add the statement it belongs to in the same commit, or remove the file: `underlit evidence` and `underlit sign` write both")
}

/// What is wrong with the scan that a statement takes in: it is not there, or not the same.
#[must_use]
pub fn missing_scan(book: &dyn BookFiles, path: &str, statement: &Statement) -> Option<Fault> {
    let scan = &statement.evidence.as_ref()?.scan;
    let folder = path.rsplit_once('/').map_or("", |(folder, _)| folder);
    let file = format!("{folder}/{}", scan.file);
    let there = book.read(&file, safe_path::LARGEST_ATTACHMENT);
    if there.is_ok_and(|bytes| Sha256Digest::of(&bytes) == scan.sha256) {
        return None;
    }
    Some(
        Fault::trust("evidence-missing", format!("its scan {} is missing or was changed", scan.file))
            .in_file(path)
            .fix("restore the scan from the history: git checkout COMMIT -- FILE"),
    )
}
