//! What lies beside a statement: its signature under its own name, and the scan that it takes in, which is named by the
//! digest of its own bytes. Whoever judges a folder, a commit or a push asks here.

use std::collections::{BTreeMap, BTreeSet};

use crate::digest::Sha256Digest;
use crate::fault::Fault;
use crate::model::kind::Kind;
use crate::model::statement::Statement;
use crate::store::{BookFiles, safe_path, strict_json};

/// What is wrong with the signatures and scans among some paths: they are add-only, so that one which lies there before its
/// statement would keep the true one out.
#[must_use]
pub(crate) fn faults<'p>(book: &dyn BookFiles, paths: impl Iterator<Item = &'p str>) -> Vec<Fault> {
    let mut taken_in: BTreeMap<&str, BTreeSet<String>> = BTreeMap::new();
    let fault = |path: &'p str| match Kind::of_path(path)? {
        Kind::Signature | Kind::RosterSignature => match book.lies_there(&statement_of(path)) {
            Ok(true) => None,
            Ok(false) => Some(nothing_signed(path)),
            Err(fault) => Some(*fault),
        },
        Kind::Scan => {
            let folder = path.rsplit_once('/').map_or("", |(folder, _)| folder);
            let scans = taken_in.entry(folder).or_insert_with(|| scans_taken_in(book, folder));
            if !scans.contains(path) {
                return Some(nothing_signed(path));
            }
            match book.read(path, safe_path::LARGEST_ATTACHMENT) {
                Ok(bytes) => scan_fault(path, &bytes),
                Err(fault) => Some(*fault),
            }
        }
        _ => None,
    };
    paths.filter_map(fault).collect()
}

/// The statement that a signature has to lie beside.
fn statement_of(signature: &str) -> String {
    let (folder, name) = signature.rsplit_once('/').unwrap_or(("", signature));
    format!("{folder}/{}.json", name.split('.').next().unwrap_or(name))
}

/// The scans that the statements of a folder take in.
fn scans_taken_in(book: &dyn BookFiles, folder: &str) -> BTreeSet<String> {
    let scan = |statement: &String| {
        let value = strict_json::parse(&book.read(statement, strict_json::LARGEST).ok()?).ok()?;
        Some(format!("{folder}/{}", value.pointer("/evidence/scan/file")?.as_str()?))
    };
    book.files_of(folder, Kind::SignOff).unwrap_or_default().iter().filter_map(scan).collect()
}

/// What is wrong with a scan whose bytes are not those that its name tells.
fn scan_fault(path: &str, bytes: &[u8]) -> Option<Fault> {
    let name = path.rsplit('/').next().unwrap_or(path);
    let digest = Sha256Digest::of(bytes).hex();
    (name.split('.').next() != Some(digest.as_str())).then(|| {
        Fault::trust("scan-differs", "the scan's name is not the SHA-256 of its bytes")
            .in_file(path)
            .fix("take the scan from the history, or take the answer in again: underlit evidence")
    })
}

/// A signature or a scan that belongs to no statement.
fn nothing_signed(path: &str) -> Fault {
    Fault::trust("nothing-signed", "this file has no matching sign-off, move or roster version")
        .in_file(path)
        .fix("add the statement it belongs to in the same commit, or remove the file: `underlit evidence` and `underlit sign` write both")
}

/// What is wrong with the scan that a statement takes in: it is not there, or not the same.
#[must_use]
pub(crate) fn missing_scan(book: &dyn BookFiles, path: &str, statement: &Statement) -> Option<Fault> {
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
