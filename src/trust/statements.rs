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
    // Each step on names the sign-offs before it: each of these is judged once.
    let mut judged: BTreeMap<(ProjectId, Sha256Digest), Judged> = BTreeMap::new();
    let mut sign_off = |project: &ProjectId, digest: &Sha256Digest| {
        let of = || sign_off_of(book, chain, rules, project, digest);
        judged.entry((project.clone(), *digest)).or_insert_with(of).clone()
    };
    let faults = paths.flat_map(|path| faults_with(book, chain, rules, path, &mut sign_off));
    faults.filter(|f| f.means != Means::Overtaken).collect()
}

/// A sign-off, and why it does not count; none where it cannot be read.
type Judged = Option<(Statement, Option<Fault>)>;

/// Why one sign-off or move does not count; nothing for any other file.
#[must_use]
pub(crate) fn faults(book: &dyn BookFiles, chain: &Chain, rules: &Rules, path: &str) -> Vec<Fault> {
    let mut sign_off =
        |project: &ProjectId, digest: &Sha256Digest| sign_off_of(book, chain, rules, project, digest);
    faults_with(book, chain, rules, path, &mut sign_off)
}

/// The same, with whoever judges the sign-offs that a move names.
fn faults_with(
    book: &dyn BookFiles,
    chain: &Chain,
    rules: &Rules,
    path: &str,
    sign_off: &mut dyn FnMut(&ProjectId, &Sha256Digest) -> Judged,
) -> Vec<Fault> {
    let Some(kind @ (Kind::SignOff | Kind::Move)) = Kind::of_path(path) else { return Vec::new() };
    let Some(project) = ProjectId::of_path(path) else { return Vec::new() };
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
                let read = |digest: &Sha256Digest| sign_off(&project, digest);
                let backed = counting::backed(&step, rules, read);
                backed.err().map(|f| f.in_file(path)).into_iter().collect()
            }
        },
    }
}

/// A sign-off of a project by its digest, judged.
fn sign_off_of(
    book: &dyn BookFiles,
    chain: &Chain,
    rules: &Rules,
    project: &ProjectId,
    digest: &Sha256Digest,
) -> Judged {
    let path = format!("projects/{project}/signoffs/{digest}.json");
    let bytes = book.read(&path, strict_json::LARGEST).ok()?;
    let signature = book.signature_beside(&path).ok()?;
    let sealed = Sealed { path: &path, bytes: &bytes, signature: signature.as_deref() };
    counting::sign_off(chain, rules, project, sealed).ok()
}
