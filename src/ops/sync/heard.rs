//! What people signed in commits that are not taken: it is signed, so it counts wherever it lies. A refusal must reach
//! whoever is about to build, whatever else somebody pushed beside it.

use std::collections::{BTreeMap, BTreeSet};

use crate::digest::Sha256Digest;
use crate::fault::Fault;
use crate::git::{Bounds, CommitId, EntryKind, Heard, Repo, Snapshot};
use crate::ids::ProjectId;
use crate::model::kind::Kind;
use crate::model::statement::{Decision, Statement};
use crate::store::files::Listing;
use crate::trust::incoming::{States, largest};
use crate::trust::statements;

/// Which statements are taken over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Which {
    /// Those that hold something back: they are heard at once.
    Refusals,
    /// Every one, where the commits are left behind for good.
    All,
}

/// The statements that the commits between two points brought, that are not in the first of them, and that count there
/// as they are signed: whole files by path, with the message for their commit; none where there are none.
///
/// # Errors
/// What keeps the first state from being read.
pub(super) fn statements(
    repo: &Repo,
    states: &mut States,
    head: CommitId,
    theirs: CommitId,
    which: Which,
) -> Result<Option<Heard>, Vec<Fault>> {
    let here = repo.snapshot(head)?;
    let (chain, shop) = (states.chain(&here)?, states.shop(&here)?);
    let inspector = repo.inspector(Bounds::default());
    let mut files = BTreeMap::new();
    let mut said = Vec::new();
    let mut seen = BTreeSet::new();
    for id in inspector.between(&[head], theirs).unwrap_or_default() {
        // What cannot be looked at says nothing.
        let (Ok(commit), Ok(state)) = (inspector.inspect(id), repo.snapshot(id)) else { continue };
        let brought = commit.against.iter().flatten().filter(|change| change.after.is_some());
        for path in brought.map(|change| &change.path) {
            let Some(project) = ProjectId::of_path(path) else { continue };
            // The two files of a statement may come in two commits: each is looked at with what lies beside it then.
            let stem = path.split_once('.').map_or(path.as_str(), |(stem, _)| stem);
            let record = format!("{stem}.json");
            let of_a_word = Kind::of_path(&record) == Some(Kind::SignOff);
            if !of_a_word || seen.contains(&record) || here.entry(&record)?.is_some() {
                continue;
            }
            if here.entry(&format!("projects/{project}/project.json"))?.is_none() {
                continue;
            }
            let Some((statement, found)) = whole(&state, stem) else { continue };
            let holds_back = matches!(
                statement.decision,
                Decision::Rejected | Decision::ReviseAndResubmit | Decision::Withdrawn
            );
            if which == Which::Refusals && !holds_back {
                continue;
            }
            let found = Listing(found);
            if statements::faults(&found, &chain, &shop.rules, &record).is_empty() {
                seen.insert(record);
                said.push(format!("{} ({}): {}", statement.signer, statement.role, statement.decision));
                files.extend(found.0);
            }
        }
    }
    if files.is_empty() {
        return Ok(None);
    }
    let message = format!("Heard from commits that are not taken\n\n{}\n", said.join("\n"));
    Ok(Some(Heard { files, message }))
}

/// A statement with every file that belongs to it, where they all lie there and are plain files of a fitting size.
fn whole(state: &Snapshot<'_>, stem: &str) -> Option<(Statement, BTreeMap<String, Vec<u8>>)> {
    let read = |path: &str| -> Option<Vec<u8>> {
        let entry = state.entry(path).ok()??;
        let fits = state.size(entry).ok()? as u64 <= largest(path);
        (entry.kind == EntryKind::File && fits).then(|| state.bytes(entry).ok())?
    };
    let (record, signature) = (format!("{stem}.json"), format!("{stem}.sig"));
    let bytes = read(&record)?;
    let statement: Statement = serde_json::from_slice(&bytes).ok()?;
    let mut files = BTreeMap::from([(record, bytes)]);
    files.insert(signature.clone(), read(&signature)?);
    if let Some(evidence) = &statement.evidence {
        let folder = stem.rsplit_once('/').map_or("", |(folder, _)| folder);
        let path = format!("{folder}/{}", evidence.scan.file);
        let scan = read(&path).filter(|bytes| Sha256Digest::of(bytes) == evidence.scan.sha256)?;
        files.insert(path, scan);
    }
    Some((statement, files))
}
