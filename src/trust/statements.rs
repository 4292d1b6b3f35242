//! What people signed in a project, each file judged by its bytes, the signature beside it, the roster and the rules.

use std::collections::BTreeMap;

use super::chain::Chain;
use super::counting::{self, Sealed};
use crate::digest::Sha256Digest;
use crate::fault::{Fault, Means};
use crate::ids::ProjectId;
use crate::model::kind::Kind;
use crate::model::rules::Rules;
use crate::model::statement::Statement;
use crate::store::{BookFiles, strict_json};

/// Every sign-off and move whose signature does not hold.
pub(super) fn that_do_not_hold<'p>(
    book: &dyn BookFiles,
    chain: &Chain,
    rules: &Rules,
    paths: impl Iterator<Item = &'p String>,
) -> Vec<Fault> {
    let mut judged = SignOffs::new();
    let faults = paths.flat_map(|path| faults_with(book, chain, rules, path, &mut judged));
    faults.filter(|f| f.means != Means::Overtaken).collect()
}

/// A sign-off, and why it does not count; none where it cannot be read.
type Judged = Option<(Statement, Option<Fault>)>;

/// The sign-offs that were judged, by their files: each step on names those before it, and each is judged once.
type SignOffs = BTreeMap<String, Judged>;

/// Why one sign-off or move does not count; nothing for any other file.
#[must_use]
pub(crate) fn faults(book: &dyn BookFiles, chain: &Chain, rules: &Rules, path: &str) -> Vec<Fault> {
    faults_with(book, chain, rules, path, &mut SignOffs::new())
}

/// The same, with the sign-offs that were judged.
fn faults_with(
    book: &dyn BookFiles,
    chain: &Chain,
    rules: &Rules,
    path: &str,
    judged: &mut SignOffs,
) -> Vec<Fault> {
    let Some(kind @ (Kind::SignOff | Kind::Move)) = Kind::of_path(path) else { return Vec::new() };
    let Some(project) = ProjectId::of_path(path) else { return Vec::new() };
    if let Some(Some((_, void))) = judged.get(path) {
        return void.iter().cloned().collect();
    }
    let bytes = match book.read(path, strict_json::LARGEST) {
        Ok(bytes) => bytes,
        Err(fault) => return vec![*fault],
    };
    let signature = match book.signature_beside(path) {
        Ok(signature) => signature,
        Err(fault) => return vec![*fault],
    };
    let sealed = Sealed { path, bytes: &bytes, signature: signature.as_deref() };
    match kind {
        Kind::SignOff => match counting::sign_off(chain, rules, &project, sealed) {
            Ok((_, void)) => void.into_iter().collect(),
            Err(found) => found,
        },
        _ => match counting::project_move(chain, rules, &project, sealed) {
            Err(found) => found,
            Ok(step) => {
                let read = |digest: &Sha256Digest| {
                    let path = format!("projects/{project}/signoffs/{digest}.json");
                    let of = || sign_off_of(book, chain, rules, &project, &path);
                    judged.entry(path.clone()).or_insert_with(of).clone()
                };
                let backed = counting::backed(&step, rules, read);
                backed.err().map(|f| f.in_file(path)).into_iter().collect()
            }
        },
    }
}

/// A sign-off of a project by its file, judged.
fn sign_off_of(
    book: &dyn BookFiles,
    chain: &Chain,
    rules: &Rules,
    project: &ProjectId,
    path: &str,
) -> Judged {
    let bytes = book.read(path, strict_json::LARGEST).ok()?;
    let signature = book.signature_beside(path).ok()?;
    let sealed = Sealed { path, bytes: &bytes, signature: signature.as_deref() };
    counting::sign_off(chain, rules, project, sealed).ok()
}
